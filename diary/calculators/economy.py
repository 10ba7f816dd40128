"""Fuel economy from fills to the brim.

Method (common practice): the fuel put in at a fill to the brim is what was burned since the fill to the brim before
it, partial fills in between added. A span runs from one brim to the next; its economy is distance ÷ fuel (or fuel ÷
distance, fuel ÷ hours). A span is given only where a careful person would work it out: a fill in it without a volume,
or a fill said to be missing, breaks it, and `gaps` says why. `to_brim=None` (not said) is treated as not known to be
full: its fuel is counted, the span goes on.

Spread: every figure carries its standard uncertainty (one standard deviation; JCGM 100:2008, GUM 5.1.2 equation 10
for a quotient, 4.3.7 for a rectangular spread: half-width ÷ √3). Its parts are the last digit of meter and pump, the
spread of a guess, and how evenly "the brim" is met: by default 1 % of the largest fill on record at each end (common
practice, no source), which is what makes a short tank a poor measurement.

The arithmetic is closed-form so that ten thousand fills take milliseconds; tests compare it with the `uncertainties`
package, and `Span.with_spread()` hands a value of that package to further arithmetic.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from math import sqrt

from diary.calculators.economy_summary import by_month, in_window, overall, since, this_week
from diary.calculators.economy_units import LITRES, economy_unit, economy_value, quotient_spread
from diary.calculators.economy_units import scale as scale_of
from diary.calculators.fuel_records import Fill, Gap, MeterFactor, Reading, Reset, Span, Summary
from diary.errors import DiaryError

__all__ = [
    "Fill",
    "Gap",
    "MeterFactor",
    "Reading",
    "Reset",
    "Span",
    "Summary",
    "by_month",
    "economy_unit",
    "economy_value",
    "gaps",
    "in_window",
    "overall",
    "rollover_distance",
    "since",
    "spans",
    "spans_and_gaps",
    "this_week",
]

SAME_STOP = timedelta(minutes=15)
BRIM_SHARE = 0.01
_DISTANCE_UNITS = ("mi", "km", "h")


@dataclass(slots=True)
class _Stop:
    at: datetime
    note: str
    volume: float | None
    volume_var: float
    brim: bool
    meter: float | None
    meter_sd: float
    vague: bool
    trip: float | None
    price: float | None
    missed: bool
    reset: bool


def rollover_distance(before: float, now: float, wraps_at: float) -> float:
    """Distance between two readings of a meter that wraps at `wraps_at` (1000 for a 999.9 trip meter, 100000 for five
    digits).

    (now − before) mod N, for at most one turn over. On a six-digit meter a lower reading is far more often a misheard
    number: ask.
    """
    if not wraps_at > 0 or before < 0 or now < 0 or before >= wraps_at or now >= wraps_at:
        raise DiaryError(
            f"Readings {before:g} and {now:g} must lie from 0 to just under {wraps_at:g}, where the meter wraps."
        )
    return (now - before) % wraps_at


def _resolution_sd(value: float) -> float:
    """Standard deviation of the last digit said: rectangular, half a step each way (GUM 4.3.7)."""
    if value % 1.0 == 0.0:
        return 0.28867513
    return 0.028867513 if (value * 10 + 1e-6) % 1.0 < 2e-6 else 0.0028867513


def _rounded_sd(value: float) -> float:
    """Standard deviation of a reading given only roughly: half a step of its last non-zero digit ("around 88,600" is
    to the 100).
    """
    step = 1.0
    whole = round(value)
    while whole and whole % (step * 10) == 0:
        step *= 10
    return step * 0.28867513


def _volume_sd(fill: Fill, volume: float) -> float:
    """Standard deviation of a volume in the fill's own unit: given, from the bounds of a guess, or from the last
    digit said.
    """
    if fill.volume_sd is not None:
        return fill.volume_sd
    # "nineteen even" is said of a pump that shows tenths, so a whole number counts as read to the tenth
    digit = 0.028867513 if (volume * 10 + 1e-6) % 1.0 < 2e-6 else 0.0028867513
    if fill.low is None and fill.high is None:
        return digit
    low = volume if fill.low is None else fill.low
    high = volume if fill.high is None else fill.high
    return max((volume - low) / sqrt(3), (high - volume) / sqrt(3), digit)


def _grouped(fills: Iterable[Fill]) -> Iterable[Fill | list[Fill]]:
    """Fills in order of time; those of different named tanks in one note are one stop (a list)."""
    ordered = list(fills)
    if any(b.at < a.at for a, b in pairwise(ordered)):
        ordered.sort(key=lambda f: f.at)
    if not any(f.tank for f in ordered):
        return ordered
    groups: list[Fill | list[Fill]] = []
    for fill in ordered:
        last = groups[-1] if groups else None
        together = last if isinstance(last, list) else [last] if last is not None else []
        if fill.tank and together and all(f.note == fill.note and f.tank and f.tank != fill.tank for f in together):
            groups[-1] = [*together, fill]
        else:
            groups.append(fill)
    return groups


def _stops(
    fills: Sequence[Fill],
    resets: Sequence[Reset],
    readings: Sequence[Reading],
    hours: bool,
    volume_unit: str,
    tanks: Sequence[str],
) -> list[_Stop]:
    out = LITRES.get(volume_unit)
    if out is None:
        raise DiaryError(f"Fuel in {volume_unit} is not known: use gal_us, gal_imp or L.")
    named = {f.tank for f in fills if f.tank} | set(tanks)
    wanted = "hours" if hours else "odometer"
    by_note: dict[str, Reading] = {}
    meters: list[Reading] = []
    trips: dict[str, float] = {}
    for r in readings:
        if r.meter == wanted:
            meters.append(r)
            if r.note not in by_note or by_note[r.note].approx:
                by_note[r.note] = r
        elif r.meter == "trip" and not r.approx:
            trips[r.note] = r.value
    meters.sort(key=lambda r: r.at)
    times = [r.at for r in meters]
    reset_notes = {r.note for r in resets}
    several = len(named) > 1
    stops: list[_Stop] = []
    for group in _grouped(fills):
        fill = group if isinstance(group, Fill) else group[0]
        if group is fill:
            volume, var, price, meter, trip, missed = _amounts(fill, hours, volume_unit, out)
            brim = fill.to_brim is True and not (several and fill.tank is not None)
        else:
            assert isinstance(group, list)
            volume, var, price, meter, trip, missed = _together([_amounts(f, hours, volume_unit, out) for f in group])
            brim = all(f.to_brim is True for f in group) and {f.tank for f in group} >= named
        sd, vague = 0.0, False
        if meter is not None:
            sd = _resolution_sd(meter)
        elif meters:
            near = by_note.get(fill.note) or _nearest(meters, times, fill.at)
            if near is not None:
                meter, vague = near.value, near.approx
                sd = _rounded_sd(meter) if vague else _resolution_sd(meter)
        if hours:
            trip = None
            if not vague:
                sd = min(sd, 0.028867513)  # hour meters show tenths; "fourteen eighty eight even" is exact to the tenth
        elif trip is None and trips:
            trip = trips.get(fill.note)
        reset = fill.note in reset_notes
        stops.append(_Stop(fill.at, fill.note, volume, var, brim, meter, sd, vague, trip, price, missed, reset))
    return stops


_Amounts = tuple[float | None, float, float | None, float | None, float | None, bool]


def _amounts(fill: Fill, hours: bool, volume_unit: str, out: float) -> _Amounts:
    """(volume in `volume_unit`, its variance, price, meter, trip, missed before) of one fill."""
    volume, price, trip = fill.volume, fill.price, fill.trip
    meter = fill.hours if hours and fill.hours is not None else fill.odometer
    if (
        (volume is not None and not 0 <= volume < 1e6)
        or (price is not None and not 0 <= price < 1e8)
        or (trip is not None and not 0 <= trip < 1e8)
        or (meter is not None and not 0 <= meter < 1e8)
    ):
        raise DiaryError(
            f"The fill of {fill.at:%Y-%m-%d %H:%M} has volume {volume}, price {price}, trip {trip} and meter {meter}: "
            "each must be zero or more, and believable. Correct it."
        )
    litres = LITRES.get(fill.unit)
    if litres is None:
        raise DiaryError(f"The fill of {fill.at:%Y-%m-%d %H:%M} is in {fill.unit}: use gal_us, gal_imp or L.")
    if not volume:
        return None, 0.0, price, meter, trip, fill.missed_before
    if fill.unit == volume_unit:
        return volume, _volume_sd(fill, volume) ** 2, price, meter, trip, fill.missed_before
    ratio = litres / out
    return volume * ratio, (_volume_sd(fill, volume) * ratio) ** 2, price, meter, trip, fill.missed_before


def _together(parts: list[_Amounts]) -> _Amounts:
    """The fills of several tanks at one stop as one."""
    volumes, prices = [p[0] for p in parts], [p[2] for p in parts]
    return (
        None if None in volumes else sum(v for v in volumes if v is not None),
        sum(p[1] for p in parts),
        None if None in prices else sum(p for p in prices if p is not None),
        next((p[3] for p in parts if p[3] is not None), None),
        next((p[4] for p in parts if p[4] is not None), None),
        any(p[5] for p in parts),
    )


def _nearest(meters: list[Reading], times: list[datetime], at: datetime) -> Reading | None:
    """The reading taken at the same stop (within `SAME_STOP`), nearest in time."""
    low, high = bisect_left(times, at - SAME_STOP), bisect_right(times, at + SAME_STOP)
    return min(meters[low:high], key=lambda r: abs(r.at - at), default=None)


def _spread_of(reset: Reset, before: float) -> float:
    low = before if reset.low is None else reset.low
    high = before if reset.high is None else reset.high
    return max(before - low, high - before, 0.0) / sqrt(3)


class _Trips:
    """What the trip meter says of the distance between two stops, given when it was set to zero."""

    def __init__(self, stops: list[_Stop], resets: Sequence[Reset], readings: Sequence[Reading]) -> None:
        self.resets = sorted(resets, key=lambda r: r.at)
        self.times = [r.at for r in self.resets]
        # Resets told elsewhere than at a fill to the brim; without any, a zeroing at the start is all there is to know.
        brims = {s.note for s in stops if s.brim}
        self.stray = any(r.note not in brims for r in self.resets)
        self.odometers = {r.note: r.value for r in readings if r.meter == "odometer" and not r.approx}
        self.trips = {r.note: r.value for r in readings if r.meter == "trip" and not r.approx}
        for s in stops:
            if s.meter is not None:
                self.odometers.setdefault(s.note, s.meter)
            if s.trip is not None:
                self.trips.setdefault(s.note, s.trip)
        # Has this person ever zeroed it without saying so? Then a trip said at a fill is taken to count from the last
        # one.
        last: float | None = None
        self.habit = False
        for s in stops:
            if s.trip is not None:
                if last is not None and s.trip < last and not resets:
                    self.habit = True
                last = s.trip

    def between(self, a: _Stop, b: _Stop) -> tuple[float, float, str] | None:
        """(distance, standard deviation, flag) or None. Flag "" is firm; otherwise it names the guess or assumption."""
        if b.trip is None:
            return None
        sd = _resolution_sd(b.trip)
        if a.reset and not self.stray:
            return (b.trip, sd, "") if b.trip > 0 else None
        first = i = bisect_left(self.times, a.at)
        inside: list[Reset] = []
        while i < len(self.times) and self.times[i] <= b.at:
            if (r := self.resets[i]).note != a.note and r.note != b.note:
                inside.append(r)
            i += 1
        start: float | None = None
        if a.reset:
            start = 0.0
        elif a.trip is not None:
            start = a.trip
        elif first and a.meter is not None:
            at_reset = self.odometers.get(self.resets[first - 1].note)
            if at_reset is not None and a.meter >= at_reset:
                start = a.meter - at_reset
        total, var, flag = 0.0, sd * sd, ""
        for r in inside:
            if r.before is not None:
                wiped = r.before - start if start and r.before >= start else r.before
                total += wiped
                var += _spread_of(r, r.before) ** 2
                flag = "distance before a trip reset is a guess"
            elif start is not None and self.trips.get(r.note, -1.0) >= start:
                total += self.trips[r.note] - start
            elif r.note in self.odometers and a.meter is not None and not total:
                total += self.odometers[r.note] - a.meter
            elif r.at - a.at <= SAME_STOP:
                pass
            else:
                return None
            start = 0.0
        if start is None:
            if self.resets or not self.habit:
                return None
            start, flag = 0.0, "trip meter taken to have been zeroed at the last fill"
        elif start > 0 and (b.trip < start or (self.habit and not self.resets)):
            start, flag = 0.0, "trip meter taken to have been zeroed at the last fill"
        distance = total + b.trip - start
        return (distance, sqrt(var), flag) if distance > 0 else None


@dataclass(slots=True)
class _Open:
    """A span being gathered."""

    start: _Stop
    fuel: float = 0.0
    var: float = 0.0
    cost: float | None = 0.0
    carried: bool = False


def spans_and_gaps(
    fills: Sequence[Fill],
    resets: Sequence[Reset] = (),
    readings: Sequence[Reading] = (),
    *,
    distance_unit: str = "mi",
    volume_unit: str = "gal_us",
    meter_factor: float | Sequence[MeterFactor] = 1.0,
    rollover: float | None = None,
    meter_changes: Sequence[datetime] = (),
    tanks: Sequence[str] = (),
    brim_sd: float | None = None,
    unit: str | None = None,
) -> tuple[list[Span], list[Gap]]:
    """Both `spans` and `gaps` in one walk through the fills; arguments as for `spans`."""
    if distance_unit not in _DISTANCE_UNITS:
        raise DiaryError(f"A machine counts mi, km or h, not {distance_unit}.")
    hours = distance_unit == "h"
    stops = _stops(fills, resets, readings, hours, volume_unit, tanks)
    unit = unit or economy_unit(distance_unit, volume_unit)
    scale, inverse = scale_of(distance_unit, volume_unit, unit)
    factors = _factors(meter_factor)
    single = factors[0] if len(factors) == 1 and factors[0].since is None else None
    changes = sorted(meter_changes)
    biggest = max((s.volume for s in stops if s.volume is not None and s.brim), default=0.0)
    brim = BRIM_SHARE * biggest if brim_sd is None else brim_sd
    two_brims = 2 * brim * brim
    trips = _Trips(stops, () if hours else resets, readings)
    spans: list[Span] = []
    gaps: list[Gap] = []
    doubtful: list[tuple[int, float]] = []  # (place in spans, distance by trip) where odometer and trip disagree
    meter_name = "hours" if hours else "odometer"
    run: _Open | None = None
    broken: tuple[str, str, str] | None = None  # reason, text, note
    last_brim: _Stop | None = None
    for s in stops:
        day = s.at
        if s.missed:
            run, broken = (
                None,
                ("missed_fill", f"a fill before that of {day:%B} {day.day} was not written down", s.note),
            )
        if s.volume is None:
            if run is not None or broken is None:
                broken = ("volume", f"the fill of {day:%B} {day.day} has no volume", s.note)
            run = None
        elif run is not None:
            run.fuel += s.volume
            run.var += s.volume_var
            run.cost = None if run.cost is None or s.price is None else run.cost + s.price
        if not s.brim:
            continue
        before, last_brim = last_brim, s
        if run is None:
            if before is not None and broken is not None:
                gaps.append(Gap(before.note, s.note, before.at, s.at, broken[0], broken[1], broken[2]))
            run, broken = _Open(s), None
            continue
        a = run.start
        # distance: odometer difference, or a trustworthy trip where it is finer or the odometer is missing
        flags: tuple[str, ...] = ()
        guessed = False
        distance: float | None = None
        sd, by, disagrees, backwards = 0.0, meter_name, 0.0, False
        if a.meter is not None and s.meter is not None and not _changed(changes, a.at, s.at):
            step = s.meter - a.meter
            if step < 0 and rollover and step < -rollover / 2:
                step %= rollover
                flags += ("meter rolled over",)
                guessed = True
            if step >= 0:
                distance, sd = step, sqrt(a.meter_sd * a.meter_sd + s.meter_sd * s.meter_sd)
            else:
                backwards = True
        vague = distance is not None and (a.vague or s.vague)
        if s.trip is not None and not hours:
            found = trips.between(a, s)
            if found is not None:
                if distance is None or (vague and not found[2]):
                    distance, sd, by, vague = found[0], found[1], "trip", False
                    if found[2]:
                        flags += (found[2],)
                        guessed = True
                    if s.meter is None and a.meter is not None:
                        # Nobody looked at the odometer here, but it follows from the trip meter.
                        s.meter, s.meter_sd, s.vague = a.meter + distance, sqrt(a.meter_sd**2 + sd * sd), guessed
                elif s.meter is not None and not found[2].startswith("trip meter taken"):
                    # Last digits, and a mile or two rolled before the zeroing, are no disagreement.
                    if abs(found[0] - distance) > 1.5 + 0.01 * distance:
                        disagrees = found[0]
                    elif found[1] < sd and not found[2] and abs(found[0] - distance) <= 1.0:
                        distance, sd, by = found[0], found[1], "trip"
        if vague:
            flags += ("an odometer reading was approximate",)
            guessed = True
        if distance is None or (distance == 0 and not spans):
            known = s.meter is not None or s.trip is not None or s.reset
            if distance is None and not known:
                run.carried = True  # full, but nothing tells how far: its fuel belongs to the span that goes on
                continue
            if backwards:
                text = f"the odometer of {day:%B} {day.day} is lower than the one before it"
                gaps.append(Gap(a.note, s.note, a.at, s.at, "backwards", text, s.note))
            else:
                text = f"the distance between {a.at:%B} {a.at.day} and {day:%B} {day.day} was not noted"
                gaps.append(Gap(a.note, s.note, a.at, s.at, "distance", text, s.note))
            run = _Open(s)
            continue
        if distance == 0:
            # topped up again on the spot: the fuel belongs to the span that ended here
            old = spans[-1]
            if old.to_note == a.note:
                run = _Open(a, old.fuel, old.pump_sd**2, old.cost)
                spans[-1] = _again(old, s, run.fuel + (s.volume or 0.0), scale, inverse)
            run = _Open(s)
            continue
        if run.carried:
            flags += ("a fill to the brim without a reading lies inside",)
        true, factor_sd = distance, 0.0
        if single is not None:
            true, factor_sd = distance * single.factor, distance * single.sd
            sd *= single.factor
        else:
            true, factor_sd, split = _corrected(distance, a, s, factors)
            if split:
                flags += (split,)
                guessed = True
        if factor_sd:
            sd = sqrt(sd * sd + factor_sd * factor_sd)
        fuel, fuel_sd = run.fuel, sqrt(run.var + two_brims)
        value = scale * fuel / true if inverse else scale * true / fuel
        spread = value * sqrt((sd / true) ** 2 + (fuel_sd / fuel) ** 2)
        if disagrees:
            doubtful.append((len(spans), disagrees))
            flags += (f"odometer says {distance:g} {distance_unit}, trip meter {disagrees:g}",)
        spans.append(
            Span(
                a.note, s.note, a.at, s.at, true, fuel, volume_unit, value, unit, spread, guessed, flags, distance_unit,
                sd, fuel_sd, run.cost, by, distance, sqrt(run.var), brim,
            )
        )  # fmt: skip
        run = _Open(s)
    if doubtful:
        _settle(spans, gaps, doubtful)
    _mark_unlikely(spans)
    return spans, gaps


def _again(old: Span, s: _Stop, fuel: float, scale: float, inverse: bool) -> Span:
    """The span `old` with the fuel of a second top-up at the same reading added."""
    value = scale * fuel / old.distance if inverse else scale * old.distance / fuel
    cost = None if old.cost is None or s.price is None else old.cost + s.price
    spread = quotient_spread(value, old.distance, old.distance_sd, fuel, old.fuel_sd)
    return replace(old, to_note=s.note, to_at=s.at, fuel=fuel, value=value, plus_minus=spread, cost=cost)


def _settle(spans: list[Span], gaps: list[Gap], doubtful: list[tuple[int, float]]) -> None:
    """Where odometer and trip meter disagree and only the trip gives an economy near this machine's usual.

    If the odometer went much further, a fill was missed: the span is withdrawn (its fuel is not all there) and a gap
    says so. If it went less far, one of its readings was misheard: the trip takes its place, marked estimated.
    Otherwise the odometer stands, flagged.
    """
    places = {i for i, _ in doubtful}
    sound = sorted(s.fuel / s.distance for i, s in enumerate(spans) if i not in places)
    if len(sound) < 3:
        return
    usual = sound[len(sound) // 2]
    for i, trip in reversed(doubtful):
        span = spans[i]
        rate = span.fuel / span.distance
        by_trip = rate * span.indicated / trip
        if trip < 0.75 * span.indicated and rate < 0.75 * usual and 0.7 < by_trip / usual < 1.4:
            text = (
                f"the odometer went {span.indicated:g} but the trip meter only {trip:g} {span.distance_unit} "
                f"up to {span.to_at:%B} {span.to_at.day}: a fill in between seems to be missing"
            )
            gaps.append(Gap(span.from_note, span.to_note, span.from_at, span.to_at, "missed_fill", text, span.to_note))
            del spans[i]
        elif trip > 1.25 * span.indicated and rate > 1.4 * usual and 0.7 < by_trip / usual < 1.4:
            true = span.distance * trip / span.indicated
            value = economy_value(true, span.fuel, span.distance_unit, span.fuel_unit, span.unit)
            spread = quotient_spread(value, true, span.distance_sd, span.fuel, span.fuel_sd)
            flags = (*span.flags, "the trip meter is taken, the odometer seems misread")
            spans[i] = replace(
                span, distance=true, indicated=trip, value=value, plus_minus=spread, estimated=True, flags=flags
            )
    gaps.sort(key=lambda g: g.to_at)


def _mark_unlikely(spans: list[Span]) -> None:
    """Flag a span that is far from the usual of this machine: a fill may be missing, or a number misheard."""
    if len(spans) < 5:
        return
    rates = sorted(s.fuel / s.distance for s in spans)
    usual = rates[len(rates) // 2]
    low, high = usual / 1.6, usual * 1.6
    for s in spans:
        if not low < s.fuel / s.distance < high:
            s.flags += ("far from the usual: a fill may be missing, or a number misheard",)
            s.estimated = True


def _changed(changes: list[datetime], a: datetime, b: datetime) -> bool:
    return bool(changes) and bisect_right(changes, b) > bisect_right(changes, a)


def _factors(meter_factor: float | Sequence[MeterFactor]) -> list[MeterFactor]:
    if isinstance(meter_factor, int | float):
        factors = [MeterFactor(None, float(meter_factor))]
    else:
        factors = sorted(meter_factor, key=lambda f: f.since or datetime.min) or [MeterFactor(None, 1.0)]
    for f in factors:
        if not 0.5 <= f.factor <= 2.0:
            raise DiaryError(
                f"A meter factor of {f.factor:g} is not believable: true ÷ indicated distance lies from 0.5 to 2."
            )
    return factors


def _corrected(distance: float, a: _Stop, b: _Stop, factors: list[MeterFactor]) -> tuple[float, float, str]:
    """(true distance, standard deviation from the factors, flag) of an indicated distance that may cross changes of
    factor.
    """

    def factor_at(at: datetime) -> MeterFactor:
        found = MeterFactor(None, 1.0)
        for f in factors:
            if f.since is None or f.since <= at:
                found = f
        return found

    inside = [f for f in factors if f.since is not None and a.at < f.since <= b.at]
    current, done, true, sd, flag = factor_at(a.at), 0.0, 0.0, 0.0, ""
    for f in inside:
        if f.odometer is not None and a.meter is not None and 0 <= f.odometer - a.meter <= distance:
            upto = f.odometer - a.meter
        else:
            assert f.since is not None
            upto = distance * ((f.since - a.at) / (b.at - a.at))
            flag = "the meter factor changed inside; the distance was split by time"
        true += (upto - done) * current.factor
        sd += (upto - done) * current.sd
        current, done = f, upto
    return true + (distance - done) * current.factor, sd + (distance - done) * current.sd, flag


def spans(
    fills: Sequence[Fill],
    resets: Sequence[Reset] = (),
    readings: Sequence[Reading] = (),
    *,
    distance_unit: str = "mi",
    volume_unit: str = "gal_us",
    meter_factor: float | Sequence[MeterFactor] = 1.0,
    rollover: float | None = None,
    meter_changes: Sequence[datetime] = (),
    tanks: Sequence[str] = (),
    brim_sd: float | None = None,
    unit: str | None = None,
) -> list[Span]:
    """The brim-to-brim spans of one machine's fills, oldest first.

    `readings` supply a meter that was read in the fill's own note, or within a quarter of an hour of it; machines
    counted in hours take theirs from the meter "hours". `rollover` is where the odometer wraps, if it is known to
    (None: a lower reading is an error, never a turn over). `meter_changes` are the times a different odometer was
    fitted. `tanks` names the tanks that must all be full. `brim_sd` is the standard deviation of one fill to the brim
    in `volume_unit` (None: 1 % of the largest). Raises DiaryError on an unknown unit or a negative value.
    """
    return spans_and_gaps(
        fills,
        resets,
        readings,
        distance_unit=distance_unit,
        volume_unit=volume_unit,
        meter_factor=meter_factor,
        rollover=rollover,
        meter_changes=meter_changes,
        tanks=tanks,
        brim_sd=brim_sd,
        unit=unit,
    )[0]


def gaps(
    fills: Sequence[Fill],
    resets: Sequence[Reset] = (),
    readings: Sequence[Reading] = (),
    *,
    distance_unit: str = "mi",
    volume_unit: str = "gal_us",
    meter_factor: float | Sequence[MeterFactor] = 1.0,
    rollover: float | None = None,
    meter_changes: Sequence[datetime] = (),
    tanks: Sequence[str] = (),
) -> list[Gap]:
    """Why there is no economy at a fill to the brim, for an honest "can't be worked out". Arguments as for `spans`."""
    return spans_and_gaps(
        fills,
        resets,
        readings,
        distance_unit=distance_unit,
        volume_unit=volume_unit,
        meter_factor=meter_factor,
        rollover=rollover,
        meter_changes=meter_changes,
        tanks=tanks,
    )[1]
