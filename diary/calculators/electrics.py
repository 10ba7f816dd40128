"""Twelve-volt electrics: wire, voltage drop, fuses, loads together, the battery."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, pi

from diary.calculators.tables import table
from diary.errors import DiaryError


@dataclass(frozen=True, slots=True)
class Wire:
    """A wire: `name` as sold, copper area in mm², resistance in ohm per metre at 20 °C, largest fuse in A if known."""

    name: str
    area_mm2: float
    ohm_per_m: float
    largest_fuse: float | None


def awg_diameter_in(gauge: int) -> float:
    """Solid diameter in inches: 0.005 · 92^((36 − n)/39); 1/0, 2/0, 3/0, 4/0 are n = 0, −1, −2, −3 (ASTM B258)."""
    if not -3 <= gauge <= 40:
        raise DiaryError(f"AWG {gauge} is not a gauge here: from 4/0 (-3) to 40.")
    return float(0.005 * 92 ** ((36 - gauge) / 39))


def awg_area_mm2(gauge: int) -> float:
    """Copper area in mm². Three steps double it (exactly 92^(6/39) = 2.0050)."""
    return pi / 4 * (awg_diameter_in(gauge) * 25.4) ** 2


def _awg_name(gauge: int) -> str:
    return f"AWG {gauge}" if gauge > 0 else f"AWG {1 - gauge}/0"


def awg(gauge: int) -> Wire:
    """Wire by American gauge; resistance ρ/A of solid copper. Stranded wire is 2 to 8 % higher."""
    facts = table("electrics")
    area = awg_area_mm2(gauge)
    ohm = facts["copper"]["resistivity_ohm_m"] / (area * 1e-6)
    return Wire(_awg_name(gauge), area, ohm, facts["awg"]["fuse"].get(str(gauge)))


def metric_wire(area_mm2: float) -> Wire:
    """Wire by metric cross-section; highest resistance that IEC 60228 class 5 allows. Raises if not a stock size."""
    facts = table("electrics")["metric"]
    key = f"{area_mm2:g}"
    if key not in facts["milliohm_per_m"]:
        raise DiaryError(f"{area_mm2:g} mm² is no stock size here: use {', '.join(facts['milliohm_per_m'])}.")
    return Wire(f"{key} mm²", area_mm2, facts["milliohm_per_m"][key] / 1000, facts["fuse"].get(key))


def wire(size: str) -> Wire:
    """Read a wire size: "AWG 10", "10 AWG", "10 gauge", "2/0", "2.5 mm2"."""
    text = size.lower().replace("mm²", "mm2").replace("#", " ").strip()
    if "mm2" in text or "mm" in text:
        number = text.replace("mm2", "").replace("mm", "").strip()
        try:
            return metric_wire(float(number))
        except ValueError:
            raise DiaryError(f"'{size}' is not read as a wire size: write it as AWG 10 or 2.5 mm2.") from None
    number = text.replace("awg", "").replace("gauge", "").replace("ga", "").strip()
    if number.endswith("/0") and number[:-2].isdigit():
        return awg(1 - int(number[:-2]))
    if not number.lstrip("-").isdigit():
        raise DiaryError(f"'{size}' is not read as a wire size: write it as AWG 10, 2/0 or 2.5 mm2.")
    return awg(int(number))


def at_celsius(ohm_at_20: float, celsius: float) -> float:
    """Resistance of copper at a temperature: R20·(1 + 0.00393·(T − 20)); 1.2358 times at 80 °C."""
    return float(ohm_at_20 * (1 + table("electrics")["copper"]["per_degree"] * (celsius - 20)))


@dataclass(frozen=True, slots=True)
class Drop:
    """Voltage drop in V, its share of the supply in percent, and the power lost in the wire in W."""

    volts: float
    percent: float
    watts: float


def voltage_drop(
    size: Wire,
    amps: float,
    metres_one_way: float,
    supply: float = 12.6,
    *,
    celsius: float = 20.0,
    grounded: bool = False,
) -> Drop:
    """ΔV = I · R′ · 2L out and back, L one way in metres; `grounded` at the load counts the wire once (add the body
    path).
    """
    if amps < 0 or metres_one_way < 0 or not supply > 0:
        raise DiaryError("Voltage drop needs a current and a length of zero or more and a supply voltage above zero.")
    volts = amps * at_celsius(size.ohm_per_m, celsius) * metres_one_way * (1 if grounded else 2)
    return Drop(volts, 100 * volts / supply, volts * amps)


def smallest_wire(
    amps: float, metres_one_way: float, percent: float = 3.0, supply: float = 12.6, *, metric: bool = False
) -> tuple[Wire, float]:
    """(smallest stock wire, copper area needed in mm²) that keeps the drop within `percent`, and carries its fuse.

    Area ≥ ρ·I·2L/ΔV: 30 A over 15 ft one way within 3 % of 12.6 V needs 12.512 mm², AWG 6. The wire must also carry the
    fuse for the load (common practice table), which can ask for more.
    """
    if not amps > 0 or not metres_one_way > 0 or not 0 < percent < 50:
        raise DiaryError("Wire size needs a current and a length above zero and a drop between 0 and 50 percent.")
    facts = table("electrics")
    allowed = supply * percent / 100
    needed = facts["copper"]["resistivity_ohm_m"] * amps * 2 * metres_one_way / allowed * 1e6
    if metric:
        stock = [metric_wire(float(a)) for a in facts["metric"]["milliohm_per_m"]]
    else:
        stock = [awg(n) for n in facts["awg"]["sizes"]]
    for size in stock:
        if voltage_drop(size, amps, metres_one_way, supply).volts <= allowed and (
            size.largest_fuse is None or size.largest_fuse >= amps * facts["fuses"]["load_factor"]
        ):
            return size, needed
    raise DiaryError(
        f"No stock wire keeps {amps:g} A over {metres_one_way:g} m within {percent:g} %: make the run shorter."
    )


def combined_current(amps: Sequence[float] = (), watts: Sequence[float] = (), volts: float = 13.5) -> float:
    """Loads in parallel add: amperes, and watts ÷ volts. 150 W + 120 W at 13.5 V is 20.00 A."""
    if any(a < 0 for a in (*amps, *watts)) or not volts > 0:
        raise DiaryError("Loads must be zero or more, and the voltage above zero.")
    return sum(amps) + sum(w / volts for w in watts)


def parallel_resistance(ohms: Sequence[float]) -> float:
    """Resistance of loads in parallel: 1 ÷ Σ(1/R). 1.0 Ω and 0.8 Ω: 0.4444 Ω."""
    if not ohms or any(not r > 0 for r in ohms):
        raise DiaryError("Parallel resistance needs resistances above zero.")
    return 1 / sum(1 / r for r in ohms)


@dataclass(frozen=True, slots=True)
class Fuse:
    """`rating` in A of the next stock fuse up, the figure it was rounded from, and whether it is a regular blade."""

    rating: float
    wanted: float
    regular: bool
    fits_wire: bool | None


def fuse_for(amps: float, *, motor: bool = False, size: Wire | None = None) -> Fuse:
    """Fuse for a continuous current: × 1.25 (× 1.35 for a motor with a start surge), up to a stock rating.

    `fits_wire` says whether `size` may carry it (None: not known). ISO 8820-3's 135 % is a test current at which a fuse
    must open, another thing than the sizing factor 1.35.
    """
    facts = table("electrics")["fuses"]
    if not amps > 0:
        raise DiaryError(f"A fuse needs a current above zero, not {amps:g} A.")
    wanted = amps * (facts["motor_factor"] if motor else facts["load_factor"])
    for rating in (*facts["blade"], *facts["large"]):
        if rating >= wanted - 1e-9:
            fits = None if size is None or size.largest_fuse is None else rating <= size.largest_fuse
            return Fuse(float(rating), wanted, rating in facts["blade"], fits)
    raise DiaryError(
        f"{wanted:.1f} A is beyond the largest stock fuse, {facts['large'][-1]} A: split it into circuits."
    )


@dataclass(frozen=True, slots=True)
class FuseCheck:
    """Whether loads may run on a fuse: `total` A continuous, `allowed` A (80 % of it), `surge` A if all start at
    once.
    """

    total: float | None
    allowed: float
    each: float
    surge: float | None
    fits: bool | None


def loads_on_fuse(fuse: float, count: int = 1, each: float | None = None) -> FuseCheck:
    """May `count` equal loads of `each` amperes run on a fuse? Continuous load up to 80 % of the rating (common
    practice).

    Without `each` it says how much each may draw: four fans on 30 A: 24 A in all, 6 A each. Motors take two to three
    times their running current to start; `surge` is all at once at the middle of that.
    """
    facts = table("electrics")["fuses"]
    if not fuse > 0 or count < 1 or (each is not None and not each > 0):
        raise DiaryError("Loads on a fuse need a rating above zero, one load or more, and a current above zero.")
    allowed = fuse / facts["load_factor"]
    if each is None:
        return FuseCheck(None, allowed, allowed / count, None, None)
    total = each * count
    return FuseCheck(total, allowed, allowed / count, total * sum(facts["surge"]) / 2, total <= allowed + 1e-9)


@dataclass(frozen=True, slots=True)
class BatteryState:
    """State of charge in percent by resting voltage, and in words."""

    percent: float
    text: str


def battery_state(volts: float) -> BatteryState:
    """Charge of a 12 V lead-acid battery that rested for hours with nothing on, about 25 °C; linear between the bands.

    12.65 V 100 %, 12.45 V 75 %, 12.24 V 50 %, 12.06 V 25 %, 11.89 V 0 %. AGM and others differ.
    """
    if not 0 <= volts <= 16:
        raise DiaryError(f"{volts:g} V is no resting voltage of a 12 V battery: read it again.")
    bands = table("electrics")["battery"]["rest"]
    if volts >= bands[0][0]:
        text = "full" if volts < 12.9 else "full, or not rested yet: surface charge reads high"
        return BatteryState(100.0, text)
    if volts <= bands[-1][0]:
        return BatteryState(0.0, "flat" if volts > 10.5 else "flat, perhaps with a dead cell")
    for (v1, p1), (v2, p2) in pairwise(bands):
        if v2 <= volts <= v1:
            percent = p2 + (p1 - p2) * (volts - v2) / (v1 - v2)
            break
    text = "good" if percent >= 75 else "charge it soon" if percent >= 50 else "charge it now, it is aging like this"
    return BatteryState(percent, text)


def charging(volts: float) -> tuple[bool, str]:
    """(healthy?, in words) of the voltage at the battery with the engine running.

    About 13.5 to 14.7 V is healthy; under 13.2 or over 15.0 V: check. Smart alternators leave these bands on purpose.
    """
    if not 0 <= volts <= 20:
        raise DiaryError(f"{volts:g} V with the engine running is not believable on a 12 V machine: read it again.")
    facts = table("electrics")["charging"]
    low, high = facts["healthy"]
    if volts < facts["check_below"]:
        return (
            False,
            f"{volts:g} V is not charging: under {facts['check_below']:g} V, check belt, connections and alternator",
        )
    if volts > facts["check_above"]:
        return (
            False,
            f"{volts:g} V is too high: over {facts['check_above']:g} V, check the regulator, it boils the battery",
        )
    if low <= volts <= high:
        return True, f"{volts:g} V is in the usual charging band of {low:g} to {high:g} V"
    side = "a little low" if volts < low else "a little high"
    return (
        True,
        f"{volts:g} V is {side} against the usual {low:g} to {high:g} V: read again with a few revs and the lights on",
    )


def hours_to_flat(amp_hours: float, amps: float, from_percent: float = 100.0, to_percent: float = 0.0) -> float:
    """Hours until a steady draw takes a battery from one state of charge to another: capacity share ÷ current.

    60 Ah from full to half at 0.050 A: 600 h. Small draws only: a starter takes far less out than this says. Infinite
    at no draw. 50 mA or less is the usual limit for a parked vehicle (common practice).
    """
    if not amp_hours > 0 or amps < 0 or not 0 <= to_percent <= from_percent <= 100:
        raise DiaryError(
            "Time to flat needs a capacity above zero, a draw of zero or more, and percents from 100 down to 0."
        )
    return amp_hours * (from_percent - to_percent) / 100 / amps if amps else inf
