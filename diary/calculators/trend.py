"""Is the economy changing, and is a change more than noise?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from diary.calculators.conversion import written
from diary.calculators.fuel_records import Span
from diary.errors import DiaryError

LEVEL = 0.05


@dataclass(slots=True)
class Trend:
    """`slope` of the economy per 1000 distance units (or hours), its standard uncertainty, and whether it is clear."""

    slope: float
    plus_minus: float
    unit: str
    count: int
    p: float
    clear: bool
    text: str


@dataclass(slots=True)
class Comparison:
    """`difference` = mean after − mean before, with its standard uncertainty and two-sided p."""

    difference: float
    plus_minus: float
    unit: str
    degrees: float
    p: float
    clear: bool
    text: str


def _two_sided(t: float, degrees: float) -> float:
    from scipy.special import stdtr

    return float(2 * stdtr(degrees, -abs(t)))


def trend(spans: Sequence[Span]) -> Trend:
    """Straight line through the economy against distance driven, by least squares; slope per 1000 mi, km or h.

    Its standard uncertainty comes from the scatter about the line (n − 2 degrees of freedom); "clear" means a two-sided
    p under 0.05 in Student's t test. Needs at least three spans.
    """
    if len(spans) < 3:
        raise DiaryError(f"A trend needs at least three tanks, there are {len(spans)}.")
    x, run = [], 0.0
    for s in spans:
        x.append(run + s.distance / 2)
        run += s.distance
    y = [s.value for s in spans]
    n = len(y)
    mx, my = sum(x) / n, sum(y) / n
    sxx = sum((a - mx) ** 2 for a in x)
    slope = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sxx
    residual = sum((b - my - slope * (a - mx)) ** 2 for a, b in zip(x, y, strict=True))
    sd = sqrt(residual / (n - 2) / sxx)
    p = _two_sided(slope / sd, n - 2) if sd > 0 else float(slope == 0)
    unit = f"{spans[0].unit} per 1000 {spans[0].distance_unit}"
    clear = p < LEVEL
    word = "a clear trend" if clear else "no trend that stands out from the scatter"
    text = f"{word}: {slope * 1000:+.2g} ± {sd * 1000:.2g} {unit} over {n} tanks (p {p:.2g})"
    return Trend(slope * 1000, sd * 1000, unit, n, p, clear, written(text))


def more_than_noise(before: Sequence[Span], after: Sequence[Span]) -> Comparison:
    """Compare two groups of tanks: Welch's t test where each has two or more, else by the measurement's own spread.

    Welch: difference ÷ √(s1²/n1 + s2²/n2), degrees of freedom by Welch and Satterthwaite; "clear" is a two-sided p
    under 0.05. With a single tank on one side its scatter is taken from the other side's; with one on each side only
    the measurement uncertainty is known, and "clear" means more than two of its standard deviations.
    """
    if not before or not after:
        raise DiaryError("Comparing needs at least one tank on each side.")
    a, b = [s.value for s in before], [s.value for s in after]
    ma, mb = sum(a) / len(a), sum(b) / len(b)
    difference, unit = mb - ma, before[0].unit
    if len(a) > 1 and len(b) > 1:
        qa, qb = _variance(a) / len(a), _variance(b) / len(b)
        sd = sqrt(qa + qb)
        degrees = (qa + qb) ** 2 / (qa**2 / (len(a) - 1) + qb**2 / (len(b) - 1)) if sd else len(a) + len(b) - 2.0
    elif len(a) > 1 or len(b) > 1:
        many = a if len(a) > 1 else b
        sd, degrees = sqrt(_variance(many) * (1 / len(a) + 1 / len(b))), len(many) - 1.0
    else:
        sd, degrees = sqrt(before[0].plus_minus ** 2 + after[0].plus_minus ** 2), float("inf")
    if degrees == float("inf"):
        from math import erfc

        p = erfc(abs(difference) / sd / sqrt(2)) if sd else float(difference == 0)
    else:
        p = _two_sided(difference / sd, degrees) if sd else float(difference == 0)
    clear = p < LEVEL
    word = "more than noise" if clear else "within the noise, so nothing can be said yet"
    text = f"{difference:+.2f} ± {sd:.2f} {unit}, {len(a)} tanks before and {len(b)} after: {word} (p {p:.2g})"
    return Comparison(difference, sd, unit, degrees, p, clear, written(text))


def _variance(values: Sequence[float]) -> float:
    mean = sum(values) / len(values)
    return sum((v - mean) ** 2 for v in values) / (len(values) - 1)
