"""What is left in the tank: range, and the calibration of a fuel gauge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diary.calculators.economy_units import economy_value
from diary.calculators.fuel_records import Fill, Reading, Span, Summary
from diary.errors import DiaryError

CAUTION = (
    "Only an estimate: hills, load, cold and headwind eat into it, the last of a tank may not be reachable, and a "
    "tank's stated size may be wrong. Plan the next stop by the cautious figure."
)
TANK_SHARE = 0.02
"""Standard deviation of a stated tank size, as a share of it (common practice, no source)."""
RESERVE_SHARE = 0.05
"""Share of the tank that the cautious figure leaves untouched (common practice, no source)."""


@dataclass(slots=True)
class Range:
    """`value` left in `unit` with its standard uncertainty, the cautious lower figure, and the fuel left."""

    value: float
    unit: str
    plus_minus: float
    cautious: float
    fuel_left: float
    fuel_used: float
    fuel_unit: str
    remark: str = ""
    caution: str = CAUTION


def range_left(
    tank: float,
    since_brim: float,
    fuel_per_distance: float,
    *,
    spread: float = 0.0,
    added: float = 0.0,
    distance_unit: str = "mi",
    fuel_unit: str = "gal_us",
) -> Range:
    """Distance (or hours) left: fuel left ÷ consumption; fuel left = tank − since_brim × consumption + added.

    `tank`, `added` and consumption (`fuel_per_distance`, with its standard deviation `spread`) are in `fuel_unit` per
    `distance_unit`. The cautious figure takes off two standard deviations and a reserve of 5 % of the tank. The spread
    is worked by the `uncertainties` package, the tank's size taken as known to 2 %. Example: 26 gal, 120 mi since the
    brim at 15 mpg: 8 used, 18 left, 270 mi.
    """
    if not tank > 0 or not fuel_per_distance > 0 or since_brim < 0 or added < 0:
        raise DiaryError(
            f"Range needs a tank size and a consumption above zero and a distance of zero or more, not {tank:g}, "
            f"{fuel_per_distance:g} and {since_brim:g}."
        )
    from uncertainties import ufloat

    size, rate = ufloat(tank, TANK_SHARE * tank), ufloat(fuel_per_distance, max(spread, 1e-12))
    used = rate * since_brim
    left = size - used + added
    remark = ""
    if left.nominal_value > tank:
        left, remark = size, "more was added than the tank holds; taken as full"
    if left.nominal_value <= 0:
        remark = "by these figures the tank should be empty: a fill is missing, or the tank is larger than said"
        return Range(0.0, distance_unit, 0.0, 0.0, 0.0, used.nominal_value, fuel_unit, remark)
    reach = left / rate
    cautious = reach.nominal_value - 2 * reach.std_dev - RESERVE_SHARE * tank / fuel_per_distance
    return Range(
        value=reach.nominal_value,
        unit=distance_unit,
        plus_minus=reach.std_dev,
        cautious=max(0.0, cautious),
        fuel_left=left.nominal_value,
        fuel_used=used.nominal_value,
        fuel_unit=fuel_unit,
        remark=remark,
    )


def range_from_records(
    fills: Sequence[Fill], readings: Sequence[Reading], spans: Sequence[Span], tank: float, *, recent: int = 5
) -> Range | str:
    """Range left from the diary, or a clause that says what is missing.

    Counts from the last fill to the brim to the newest odometer (or hour meter) reading, adds partial fills since, and
    uses the total distance ÷ total fuel of the last `recent` spans. Its spread is that of those tanks about their mean
    (at least their measurement). `tank` is in the spans' fuel unit; meters are taken as true.
    """
    if not spans:
        return "no tank has been measured yet, so the economy is not known"
    last = spans[-recent:]
    unit, fuel_unit = last[0].distance_unit, last[0].fuel_unit
    meter = "hours" if unit == "h" else "odometer"
    ordered = sorted(fills, key=lambda f: f.at)
    brim = next((f for f in reversed(ordered) if f.to_brim), None)
    if brim is None:
        return "no fill to the brim is on record"
    at_brim = brim.hours if unit == "h" and brim.hours is not None else brim.odometer
    if at_brim is None:
        at_brim = next((r.value for r in readings if r.note == brim.note and r.meter == meter), None)
    if at_brim is None:
        return f"the {meter} was not noted at the last fill to the brim"
    known = [r.value for r in readings if r.meter == meter and r.at >= brim.at]
    known += [v for f in ordered if f.at >= brim.at and (v := f.hours if unit == "h" else f.odometer) is not None]
    since = max(known, default=at_brim) - at_brim
    later = [f for f in ordered if f.at > brim.at]
    if any(f.volume is None for f in later):
        return "fuel was put in since the last fill to the brim without its volume being noted"
    added = sum(economy_value(1.0, f.volume, "h", f.unit, f"{fuel_unit}_per_h") for f in later if f.volume)
    distance, fuel = sum(s.distance for s in last), sum(s.fuel for s in last)
    rate = fuel / distance
    rates = [s.fuel / s.distance for s in last]
    scatter = (sum((r - rate) ** 2 for r in rates) / (len(rates) - 1)) ** 0.5 if len(rates) > 1 else 0.0
    measured = max(s.plus_minus / s.value for s in last) * rate
    return range_left(
        tank, since, rate, spread=max(scatter, measured), added=added, distance_unit=unit, fuel_unit=fuel_unit
    )


def economy_as_rate(summary: Summary) -> float:
    """Fuel per distance of a summary, whatever way its unit counts."""
    return summary.fuel / summary.distance


@dataclass(slots=True)
class GaugeCurve:
    """Fuel missing to the brim against the gauge's pointer, as points from full (1.0) to empty (0.0)."""

    points: list[tuple[float, float]]
    scatter: float
    unit: str

    def to_brim(self, reading: float) -> float:
        """Fuel that would fill the tank at this `reading` (0 empty to 1 full), between the points by straight lines."""
        if not 0 <= reading <= 1:
            raise DiaryError(f"A gauge reading lies from 0 (empty) to 1 (full), not {reading:g}.")
        import numpy as np

        return float(np.interp(reading, [p for p, _ in self.points], [v for _, v in self.points]))


def calibrate_gauge(pairs: Sequence[tuple[float, float]], unit: str = "gal_us") -> GaugeCurve:
    """Calibrate a gauge from (reading before the fill from 0 to 1, fuel that then filled it to the brim) pairs.

    Fuel to the brim can only grow as the pointer falls, so the points are made monotone by pooling neighbours that
    contradict each other (pool-adjacent-violators, the least-squares monotone fit). Needs two different readings.
    `scatter` is the root mean square distance of the pairs from the curve. Beyond the readings seen, the end stands.
    """
    if any(not 0 <= g <= 1 or v < 0 for g, v in pairs):
        raise DiaryError("Gauge pairs need a reading from 0 (empty) to 1 (full) and a volume of zero or more.")
    grouped: dict[float, list[float]] = {}
    for g, v in pairs:
        grouped.setdefault(g, []).append(v)
    if len(grouped) < 2:
        raise DiaryError("Calibrating a gauge needs fills to the brim from at least two different gauge readings.")
    blocks: list[tuple[float, int, list[float]]] = []  # mean volume, weight, readings; readings falling
    for g in sorted(grouped, reverse=True):
        values = grouped[g]
        blocks.append((sum(values) / len(values), len(values), [g]))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (m2, w2, g2), (m1, w1, g1) = blocks.pop(), blocks.pop()
            blocks.append(((m1 * w1 + m2 * w2) / (w1 + w2), w1 + w2, g1 + g2))
    points = sorted((g, mean) for mean, _, readings in blocks for g in readings)
    curve = GaugeCurve(points, 0.0, unit)
    curve.scatter = (sum((curve.to_brim(g) - v) ** 2 for g, v in pairs) / len(pairs)) ** 0.5
    return curve
