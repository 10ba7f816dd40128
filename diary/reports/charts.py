"""Pictures of figures: economy over distance, fuel cost by month, pressure of a wheel; and one line of blocks for a
terminal.

Each chart function returns a `Chart`: the picture's bytes (SVG with text kept as text, or PNG) and a sentence that
says the same for those who cannot see it. matplotlib is loaded only here, without a window or global state.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from diary.errors import DiaryError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from diary.calculators.fuel_records import Span

BLOCKS = "▁▂▃▄▅▆▇█"
INK, FILL, FAINT, WARN = "#1b4965", "#62b6cb", "#9aa5ab", "#b3452c"
UNIT_NAMES = {
    "mpg_us": "miles per US gallon",
    "mpg_imp": "miles per imperial gallon",
    "L_per_100km": "litres per 100 km",
    "km_per_L": "km per litre",
    "gal_us_per_h": "US gallons per hour",
    "gal_imp_per_h": "imperial gallons per hour",
    "L_per_h": "litres per hour",
    "h": "hours",
    "mi": "miles",
}


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture and the sentence that stands in for it. `kind` is svg or png."""

    data: bytes
    alt: str
    kind: str

    def save(self, path: Path) -> Path:
        """Write the picture; the ending follows `kind`."""
        target = path.with_suffix(f".{self.kind}")
        target.write_bytes(self.data)
        return target

    def inline(self) -> str:
        """The SVG as an element to be set into a page: no prolog, its sentence as title and label."""
        if self.kind != "svg":
            raise DiaryError("Only an svg chart can be set into a page; save a png beside it.")
        text = self.data.decode("utf-8")
        text = text[text.index("<svg") :]
        head, rest = text.split(">", 1)
        alt = escape(self.alt, {'"': "&quot;"})
        return f'{head} role="img" aria-label="{alt}">\n <title>{alt}</title>{rest}'


def sparkline(values: Sequence[float | None], low: float | None = None, high: float | None = None) -> str:
    """One line of eight block heights, lowest to highest; a missing value (None, not a number) is a space.

    `low` and `high` fix the ends of the scale. All equal: a line at mid height. Empty for no values.
    """
    known = [v for v in values if v is not None and isfinite(v)]
    if not known:
        return " " * len(values)
    bottom = min(known) if low is None else low
    top = max(known) if high is None else high
    if top <= bottom:
        return "".join(" " if v is None or not isfinite(v) else BLOCKS[3] for v in values)
    last = len(BLOCKS) - 1
    return "".join(
        " " if v is None or not isfinite(v) else BLOCKS[max(0, min(last, round((v - bottom) / (top - bottom) * last)))]
        for v in values
    )


def labelled_sparkline(values: Sequence[float | None], unit: str = "", digits: int = 1) -> str:
    """A sparkline between its lowest and highest value: "14.8 ▁▃█▅ 15.9 mpg"."""
    known = [v for v in values if v is not None and isfinite(v)]
    if not known:
        return ""
    return f"{min(known):.{digits}f} {sparkline(values)} {max(known):.{digits}f} {unit}".rstrip()


def _figure(title: str, x: str, y: str) -> tuple[Figure, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 3.6), layout="constrained")
    axes = figure.add_subplot()
    axes.set_title(title, loc="left", fontsize=11)
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    axes.grid(axis="y", color=FAINT, alpha=0.35, linewidth=0.6)
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _render(figure: Figure, alt: str, kind: str) -> Chart:
    if kind not in ("svg", "png"):
        raise DiaryError(f"A chart is made as svg or png, not {kind}.")
    import matplotlib

    buffer = BytesIO()
    # text stays text (searchable, read aloud), and the same figures always give the same bytes
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "chart"}):
        figure.savefig(buffer, format=kind, dpi=150, metadata={"Date": None} if kind == "svg" else {"Software": None})
    return Chart(buffer.getvalue(), alt, kind)


def economy_chart(spans: Sequence[Span], kind: str = "svg", title: str = "Fuel economy") -> Chart:
    """Economy of each tank against distance driven, with its spread (one standard deviation) and the overall line.

    Tanks with a guess in them are hollow. Raises DiaryError if there is no tank.
    """
    if not spans:
        raise DiaryError("There is no tank to draw yet: economy needs two fills to the brim.")
    from diary.calculators.economy import overall

    unit, distance = spans[0].unit, spans[0].distance_unit
    middles: list[float] = []
    run = 0.0
    for s in spans:
        middles.append(run + s.distance / 2)
        run += s.distance
    total = overall(spans)
    assert total is not None
    name = UNIT_NAMES.get(unit, unit)
    figure, axes = _figure(title, f"{UNIT_NAMES.get(distance, distance)} since the first fill", name)
    values = [s.value for s in spans]
    axes.errorbar(
        middles, values, yerr=[s.plus_minus for s in spans], fmt="none", ecolor=FILL, elinewidth=1.4, capsize=2.5
    )
    axes.plot(middles, values, color=INK, linewidth=0.8, alpha=0.6)
    for estimated, face in ((False, INK), (True, "white")):
        some = [(x, s.value) for x, s in zip(middles, spans, strict=True) if s.estimated is estimated]
        if some:
            label = "with a guess in it" if estimated else "measured"
            axes.plot(*zip(*some, strict=True), "o", color=INK, markerfacecolor=face, markersize=4.5, label=label)
    axes.axhline(total.value, color=FAINT, linewidth=1, linestyle="--", label=f"overall {total.value:.1f}")
    if any(s.estimated for s in spans):
        axes.legend(frameon=False, fontsize=8)
    alt = (
        f"{title}: {len(spans)} tanks over {run:,.0f} {distance}, from {min(values):.1f} to {max(values):.1f} {name}, "
        f"overall {total.value:.1f} ± {total.plus_minus:.1f}, the last {values[-1]:.1f}."
    )
    return _render(figure, alt, kind)


def cost_chart(
    months: Mapping[str, float], currency: str = "USD", kind: str = "svg", title: str = "Cost by month"
) -> Chart:
    """Bars of money by month ("2026-05": 231.4), months without any shown as empty. Raises DiaryError if there is
    none.
    """
    if not months:
        raise DiaryError("There is no cost to draw yet: no price was noted.")
    names = _every_month(min(months), max(months))
    values = [months.get(m, 0.0) for m in names]
    figure, axes = _figure(title, "", currency)
    axes.bar(names, values, color=FILL, edgecolor=INK, linewidth=0.6)
    if len(names) > 8:
        axes.tick_params(axis="x", rotation=60)
    top = max(months, key=lambda m: months[m])
    alt = f"{title}: {sum(values):,.2f} {currency} from {names[0]} to {names[-1]}, most in {top} ({months[top]:,.2f})."
    return _render(figure, alt, kind)


def _every_month(first: str, last: str) -> list[str]:
    try:
        (year, month), (end_year, end_month) = (tuple(int(n) for n in m.split("-")) for m in (first, last))
    except ValueError:
        raise DiaryError(f"Months are written as 2026-05, not '{first}' or '{last}'.") from None
    count = (end_year - year) * 12 + end_month - month + 1
    return [f"{year + (month - 1 + i) // 12}-{(month - 1 + i) % 12 + 1:02d}" for i in range(count)]


def pressure_chart(
    points: Sequence[tuple[datetime, float]],
    wheel: str,
    unit: str = "psi",
    floor: float | None = None,
    kind: str = "svg",
) -> Chart:
    """Pressure readings of one wheel over time, with the floor it should not fall below if given."""
    if not points:
        raise DiaryError(f"There is no pressure reading of the {wheel} to draw.")
    ordered = sorted(points)
    times, values = [p[0] for p in ordered], [p[1] for p in ordered]
    figure, axes = _figure(f"Pressure, {wheel}", "", unit)
    axes.plot(times, values, "o-", color=INK, linewidth=1, markersize=4)
    if floor is not None:
        axes.axhline(floor, color=WARN, linewidth=1, linestyle="--")
        axes.annotate(f"floor {floor:g}", (times[0], floor), color=WARN, fontsize=8, va="bottom")
    figure.autofmt_xdate()
    alt = (
        f"Pressure of the {wheel}: {len(values)} readings from {times[0]:%Y-%m-%d} to {times[-1]:%Y-%m-%d}, lowest "
        f"{min(values):g}, highest {max(values):g}, last {values[-1]:g} {unit}."
    )
    if floor is not None and values[-1] < floor:
        alt += f" The last is under the floor of {floor:g}."
    return _render(figure, alt, kind)


def economy_svg(spans: Sequence[Span], title: str = "Fuel economy") -> str:
    """`economy_chart` as an SVG element for a page."""
    return economy_chart(spans, title=title).inline()


def cost_svg(months: Mapping[str, float], currency: str = "USD", title: str = "Cost by month") -> str:
    """`cost_chart` as an SVG element for a page."""
    return cost_chart(months, currency, title=title).inline()


def pressure_svg(
    points: Sequence[tuple[datetime, float]], wheel: str, unit: str = "psi", floor: float | None = None
) -> str:
    """`pressure_chart` as an SVG element for a page."""
    return pressure_chart(points, wheel, unit, floor).inline()
