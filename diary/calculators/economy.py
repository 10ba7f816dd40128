"""Fuel economy from fills to the brim.

Method (common practice): the fuel put in at a fill to the brim is what was burned since the fill to the brim before it, partial
fills in between added. A span runs from one brim to the next; its economy is distance ÷ fuel (or fuel ÷ distance, fuel ÷ hours).
A span is given only where a careful person would work it out: a fill in it without a volume, or a fill said to be missing, breaks
it, and `gaps` says why. `to_brim=None` (not said) is treated as not known to be full: its fuel is counted, the span goes on.

Spread: every figure carries its standard uncertainty (one standard deviation; JCGM 100:2008, GUM 5.1.2 equation 10 for a quotient,
4.3.7 for a rectangular spread: half-width ÷ √3). Its parts are the last digit of meter and pump, the spread of a guess, and how
evenly "the brim" is met: by default 1 % of the largest fill on record at each end (common practice, no source), which is what
makes a short tank a poor measurement.

The arithmetic is closed-form so that ten thousand fills take milliseconds; tests compare it with the `uncertainties` package, and
`Span.with_spread()` hands a value of that package to further arithmetic.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import sqrt
from typing import TYPE_CHECKING

from diary.errors import DiaryError

if TYPE_CHECKING:
    from uncertainties import UFloat

LITRES = {"gal_us": 3.785411784, "gal_imp": 4.54609, "L": 1.0, "qt_us": 0.946352946, "mL": 0.001, "cc": 0.001}
"""Exact litres per unit: US gallon 231 in³, imperial gallon 4.54609 L (NIST SP 811, appendix B)."""
KM_PER_MI = 1.609344
SAME_STOP = timedelta(minutes=15)
BRIM_SHARE = 0.01
_DISTANCE_UNITS = ("mi", "km", "h")


@dataclass(slots=True)
class Fill:
    """One fuelling. `odometer` and `trip` are as indicated; `price` is the total paid. `hours` is the hour meter, where there is one.

    `volume_low`/`volume_high` bound a guessed volume; `volume_sd` gives its standard deviation directly. `tank` names the tank where
    a machine has several. `missed_before`: it is known that a fill before this one was not written down.
    """

    at: datetime
    note: str
    volume: float | None = None
    unit: str = "gal_us"
    to_brim: bool | None = None
    odometer: float | None = None
    trip: float | None = None
    price: float | None = None
    tank: str | None = None
    missed_before: bool = False
    volume_sd: float | None = None
    volume_low: float | None = None
    volume_high: float | None = None
    hours: float | None = None


@dataclass(slots=True)
class Reset:
    """The trip meter set to zero. `before` is the distance driven since the last fill that it wiped, if said; `low`/`high` bound a guess.

    A reset told in the same note as a fill happens after the trip meter was read there.
    """

    at: datetime
    note: str
    before: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(slots=True)
class Reading:
    """A meter read: `meter` is odometer, trip or hours; `approx` when the speaker was vague."""

    at: datetime
    note: str
    meter: str
    value: float
    approx: bool = False


@dataclass(slots=True)
class MeterFactor:
    """True ÷ indicated distance from the moment `since` on (None: from the beginning), with its standard uncertainty `sd`.

    `odometer` is the indicated reading at the change, where known; it lets a span that crosses the change be split exactly.
    """

    since: datetime | None
    factor: float
    sd: float = 0.0
    odometer: float | None = None


@dataclass(slots=True)
class Span:
    """From one fill to the brim to the next.

    `distance` is true distance (indicated × meter factor) in `distance_unit` (mi, km, or h for a machine with an hour meter),
    `fuel` in `fuel_unit`, `value` in `unit`. `plus_minus` is one standard deviation of `value`. `estimated` is true when a guess or an
    assumption is in it; `flags` says which. `cost` is what its fuel cost, None where a price is missing.
    """

    from_note: str
    to_note: str
    from_at: datetime
    to_at: datetime
    distance: float
    fuel: float
    fuel_unit: str
    value: float
    unit: str
    plus_minus: float
    estimated: bool = False
    flags: tuple[str, ...] = ()
    distance_unit: str = "mi"
    distance_sd: float = 0.0
    fuel_sd: float = 0.0
    cost: float | None = None
    measured_by: str = "odometer"
    indicated: float = 0.0
    pump_sd: float = 0.0
    brim_sd: float = 0.0

    def with_spread(self) -> UFloat:
        """The economy as a value of the `uncertainties` package, for arithmetic that goes on from it."""
        from uncertainties import ufloat

        return ufloat(self.value, self.plus_minus)


@dataclass(slots=True)
class Gap:
    """Why no economy ends at this fill to the brim. `reason` is a code, `text` a clause fit to follow "can't be worked out:"."""

    from_note: str | None
    to_note: str
    from_at: datetime | None
    to_at: datetime
    reason: str  # volume, distance, missed_fill, backwards, first
    text: str
    at_note: str | None = None


@dataclass(slots=True)
class Summary:
    """Several spans taken together: total distance over total fuel, never the mean of the figures."""

    value: float
    unit: str
    plus_minus: float
    distance: float
    distance_unit: str
    fuel: float
    fuel_unit: str
    spans: list[Span] = field(default_factory=list)
    estimated: bool = False
    remark: str = ""
    cost: float | None = None


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
    meter_name: str = "odometer"


def economy_unit(distance_unit: str, volume_unit: str) -> str:
    """The unit in which people with these meters and pumps speak of economy.

    mi with US gallons: mpg_us; mi with imperial gallons, or with litres (Britain sells litres and speaks of gallons): mpg_imp;
    km: L_per_100km; hours: fuel per hour in the pump's own unit.
    """
    table = {
        ("mi", "gal_us"): "mpg_us",
        ("mi", "gal_imp"): "mpg_imp",
        ("mi", "L"): "mpg_imp",
        ("km", "L"): "L_per_100km",
        ("km", "gal_us"): "L_per_100km",
        ("km", "gal_imp"): "L_per_100km",
        ("h", "gal_us"): "gal_us_per_h",
        ("h", "gal_imp"): "gal_imp_per_h",
        ("h", "L"): "L_per_h",
    }
    try:
        return table[distance_unit, volume_unit]
    except KeyError:
        raise DiaryError(
            f"Economy of {distance_unit} with {volume_unit} is not known: distance is one of mi, km, h; fuel one of gal_us, gal_imp, L."
        ) from None


def economy_value(distance: float, fuel: float, distance_unit: str, fuel_unit: str, unit: str) -> float:
    """Economy in `unit` from `distance` (mi, km or h) and `fuel` (gal_us, gal_imp, L); both must be positive.

    mpg = miles ÷ gallons, km/L = km ÷ litres, L/100 km = 100 × litres ÷ km, per hour = fuel ÷ hours.
    235.214583 ÷ mpg(US) = 282.480936 ÷ mpg(imp) = 100 ÷ (km/L) = L/100 km (NIST SP 811, B.5 rounds the first to 235.215).
    """
    if not distance > 0 or not fuel > 0:
        raise DiaryError(f"Economy needs a distance and a fuel volume above zero, not {distance:g} and {fuel:g}.")
    scale, inverse = _scale(distance_unit, fuel_unit, unit)
    return scale * fuel / distance if inverse else scale * distance / fuel


def _scale(distance_unit: str, fuel_unit: str, unit: str) -> tuple[float, bool]:
    """(factor, fuel over distance?) such that economy in `unit` = factor × distance ÷ fuel, or factor × fuel ÷ distance."""
    litres = LITRES.get(fuel_unit)
    if litres is None:
        raise DiaryError(f"Fuel in {fuel_unit} is not known: use gal_us, gal_imp or L.")
    if unit.endswith("_per_h"):
        out = LITRES.get(unit.removesuffix("_per_h"))
        if out is None or distance_unit != "h":
            raise DiaryError(f"{unit} cannot be worked out from {distance_unit}: it needs hours.")
        return litres / out, True
    if distance_unit not in ("mi", "km"):
        raise DiaryError(f"{unit} cannot be worked out from {distance_unit}: it needs miles or kilometres.")
    km = KM_PER_MI if distance_unit == "mi" else 1.0
    if unit == "L_per_100km":
        return 100.0 * litres / km, True
    if unit == "km_per_L":
        return km / litres, False
    if unit in ("mpg_us", "mpg_imp"):
        return (km / KM_PER_MI) / (litres / LITRES["gal_us" if unit == "mpg_us" else "gal_imp"]), False
    raise DiaryError(f"{unit} is no unit of economy here: use mpg_us, mpg_imp, L_per_100km, km_per_L, or fuel per hour.")


def quotient_spread(value: float, distance: float, distance_sd: float, fuel: float, fuel_sd: float) -> float:
    """Standard uncertainty of a quotient (or its inverse): |E|·√((u(D)/D)² + (u(V)/V)²), D and V independent (GUM 5.1.2, eq. 10)."""
    return abs(value) * sqrt((distance_sd / distance) ** 2 + (fuel_sd / fuel) ** 2)


def rollover_distance(before: float, now: float, wraps_at: float) -> float:
    """Distance between two readings of a meter that wraps at `wraps_at` (1000 for a 999.9 trip meter, 100000 for five digits).

    (now − before) mod N, for at most one turn over. On a six-digit meter a lower reading is far more often a misheard number: ask.
    """
    if not wraps_at > 0 or before < 0 or now < 0 or before >= wraps_at or now >= wraps_at:
        raise DiaryError(f"Readings {before:g} and {now:g} must lie from 0 to just under {wraps_at:g}, where the meter wraps.")
    return (now - before) % wraps_at


def _resolution_sd(value: float) -> float:
    """Standard deviation of the last digit said: rectangular, half a step each way (GUM 4.3.7)."""
    if value == int(value):
        return 0.28867513
    return 0.028867513 if abs(value * 10 - round(value * 10)) < 1e-6 else 0.0028867513


def _rounded_sd(value: float) -> float:
    """Standard deviation of a reading given only roughly: half a step of its last non-zero digit ("around 88,600" is to the 100)."""
    step = 1.0
    whole = round(value)
    while whole and whole % (step * 10) == 0:
        step *= 10
    return step * 0.28867513


def _volume_var(fill: Fill, litres: float, out: float) -> float:
    volume = fill.volume
    if volume is None:
        return 0.0
    if fill.volume_sd is not None:
        sd = fill.volume_sd
    elif fill.volume_low is not None or fill.volume_high is not None:
        low = volume if fill.volume_low is None else fill.volume_low
        high = volume if fill.volume_high is None else fill.volume_high
        sd = max(volume - low, high - volume, 0.0) / sqrt(3)
    elif volume == int(volume):
        sd = 0.028867513  # "nineteen even" is said of a pump that shows tenths
    else:
        sd = 0.0028867513 if abs(volume * 10 - round(volume * 10)) > 1e-6 else 0.028867513
    sd *= litres / out
    return sd * sd


def _grouped(fills: Iterable[Fill]) -> list[list[Fill]]:
    """Fills in order of time; those of different named tanks in one note are one stop."""
    ordered = list(fills)
    if any(b.at < a.at for a, b in zip(ordered, ordered[1:], strict=False)):
        ordered.sort(key=lambda f: f.at)
    groups: list[list[Fill]] = []
    for fill in ordered:
        if fill.tank and groups:
            last = groups[-1]
            if last[-1].note == fill.note and last[-1].tank and all(f.tank != fill.tank for f in last):
                last.append(fill)
                continue
        groups.append([fill])
    return groups


def _check(fill: Fill) -> None:
    for name, value in (("volume", fill.volume), ("odometer", fill.odometer), ("trip", fill.trip), ("price", fill.price)):
        if value is not None and not 0 <= value < 1e8:
            raise DiaryError(f"The fill of {fill.at:%Y-%m-%d %H:%M} has a {name} of {value:g}: it must be zero or more. Correct it.")


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
    stops: list[_Stop] = []
    for group in _grouped(fills):
        fill = group[0]
        volume: float | None = 0.0
        var = 0.0
        price: float | None = 0.0
        meter = trip = None
        missed = False
        for f in group:
            _check(f)
            litres = LITRES.get(f.unit)
            if litres is None:
                raise DiaryError(f"The fill of {f.at:%Y-%m-%d %H:%M} is in {f.unit}: use gal_us, gal_imp or L.")
            if f.volume is None or f.volume == 0:
                volume = None
            elif volume is not None:
                volume += f.volume if f.unit == volume_unit else f.volume * litres / out
                var += _volume_var(f, litres, out)
            price = None if price is None or f.price is None else price + f.price
            own = f.hours if hours else f.odometer
            meter = own if own is not None else meter
            trip = f.trip if f.trip is not None else trip
            missed = missed or f.missed_before
        brim = all(f.to_brim is True for f in group)
        if brim and len(named) > 1 and fill.tank is not None:
            brim = {f.tank for f in group} >= named
        sd, vague = 0.0, False
        if meter is not None:
            sd = _resolution_sd(meter)
        elif meters:
            near = by_note.get(fill.note) or _nearest(meters, times, fill.at)
            if near is not None:
                meter, vague = near.value, near.approx
                sd = _rounded_sd(meter) if vague else _resolution_sd(meter)
        if hours and not vague and meter is not None:
            sd = min(sd, 0.028867513)  # hour meters show tenths; "fourteen eighty eight even" is exact to the tenth
        if trip is None and not hours:
            trip = trips.get(fill.note)
        stops.append(
            _Stop(fill.at, fill.note, volume, var, brim, meter, sd, vague, trip, price, missed, fill.note in reset_notes, wanted)
        )
    return stops


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
        self.odometers = {r.note: r.value for r in readings if r.meter == "odometer" and not r.approx}
        for s in stops:
            if s.meter is not None:
                self.odometers.setdefault(s.note, s.meter)
        # Has this person ever zeroed it without saying so? Then a trip said at a fill is taken to count from the last one.
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
        inside: list[Reset] = []
        if self.resets:
            inside = [
                r
                for r in self.resets[bisect_left(self.times, a.at) : bisect_right(self.times, b.at)]
                if r.note != a.note and r.note != b.note
            ]
        start: float | None = None
        if a.reset:
            start = 0.0
        elif a.trip is not None:
            start = a.trip
        else:
            earlier = self.resets[: bisect_left(self.times, a.at)]
            if earlier and a.meter is not None:
                at_reset = self.odometers.get(earlier[-1].note)
                if at_reset is not None and a.meter >= at_reset:
                    start = a.meter - at_reset
        total, var, flag = 0.0, sd * sd, ""
        for r in inside:
            if r.before is not None:
                wiped = r.before - start if start and r.before >= start else r.before
                total += wiped
                var += _spread_of(r, r.before) ** 2
                flag = "distance before a trip reset is a guess"
            elif r.note in self.odometers and a.meter is not None and not total:
                total += self.odometers[r.note] - a.meter
            elif r.at - a.at <= SAME_STOP:
                pass
            else:
                return None
            start = 0.0
        if start is None:
            if self.resets:
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


def _walk(
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
    if distance_unit not in _DISTANCE_UNITS:
        raise DiaryError(f"A machine counts mi, km or h, not {distance_unit}.")
    hours = distance_unit == "h"
    stops = _stops(fills, resets, readings, hours, volume_unit, tanks)
    unit = unit or economy_unit(distance_unit, volume_unit)
    scale, inverse = _scale(distance_unit, volume_unit, unit)
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
    run: _Open | None = None
    broken: tuple[str, str, str] | None = None  # reason, text, note
    last_brim: _Stop | None = None
    for s in stops:
        day = s.at
        if s.missed:
            run, broken = None, ("missed_fill", f"a fill before that of {day:%B} {day.day} was not written down", s.note)
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
        sd, by, disagrees, backwards = 0.0, s.meter_name, 0.0, False
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
                elif not found[2].startswith("trip meter taken"):
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
    """Where the odometer went much further than the trip meter and the economy by it is far from this machine's usual, a fill was missed.

    The span is then withdrawn (its fuel is not all there) and a gap says so; otherwise the odometer stands, flagged.
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
            raise DiaryError(f"A meter factor of {f.factor:g} is not believable: true ÷ indicated distance lies from 0.5 to 2.")
    return factors


def _corrected(distance: float, a: _Stop, b: _Stop, factors: list[MeterFactor]) -> tuple[float, float, str]:
    """(true distance, standard deviation from the factors, flag) of an indicated distance that may cross changes of factor."""

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

    `readings` supply a meter that was read in the fill's own note, or within a quarter of an hour of it; machines counted in hours
    take theirs from the meter "hours". `rollover` is where the odometer wraps, if it is known to (None: a lower reading is an error,
    never a turn over). `meter_changes` are the times a different odometer was fitted. `tanks` names the tanks that must all be full.
    `brim_sd` is the standard deviation of one fill to the brim in `volume_unit` (None: 1 % of the largest).
    Raises DiaryError on an unknown unit or a negative value.
    """
    return _walk(
        fills, resets, readings, distance_unit=distance_unit, volume_unit=volume_unit, meter_factor=meter_factor, rollover=rollover,
        meter_changes=meter_changes, tanks=tanks, brim_sd=brim_sd, unit=unit,
    )[0]  # fmt: skip


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
    return _walk(
        fills, resets, readings, distance_unit=distance_unit, volume_unit=volume_unit, meter_factor=meter_factor, rollover=rollover,
        meter_changes=meter_changes, tanks=tanks,
    )[1]  # fmt: skip


def overall(several: Sequence[Span]) -> Summary | None:
    """All of `several` together: total distance ÷ total fuel (for mpg the mean weighted by distance, harmonically). None if there is none.

    Where one span ends at the brim at which the next begins, the unevenness of that brim cancels and is counted once for the chain.
    """
    return _combined(several, [1.0] * len(several))


def _combined(several: Sequence[Span], shares: Sequence[float]) -> Summary | None:
    chosen = [(s, w) for s, w in zip(several, shares, strict=True) if w > 0]
    if not chosen:
        return None
    first = chosen[0][0]
    distance = sum(s.distance * w for s, w in chosen)
    fuel = sum(s.fuel * w for s, w in chosen)
    distance_var = fuel_var = 0.0
    last: Span | None = None
    for s, w in chosen:
        joined = last is not None and last.to_note == s.from_note and w == 1.0
        fuel_var += (s.pump_sd * w) ** 2 + (0.0 if joined else 2 * s.brim_sd**2)
        distance_var += 0.0 if joined and s.measured_by != "trip" else (s.distance_sd * w) ** 2
        last = s
    value = economy_value(distance, fuel, first.distance_unit, first.fuel_unit, first.unit)
    costs = [s.cost for s, _ in chosen]
    cost = sum(c * w for c, (_, w) in zip(costs, chosen, strict=True) if c is not None) if all(c is not None for c in costs) else None
    return Summary(
        value, first.unit, quotient_spread(value, distance, sqrt(distance_var), fuel, sqrt(fuel_var)), distance, first.distance_unit,
        fuel, first.fuel_unit, [s for s, _ in chosen], any(s.estimated for s, _ in chosen), "", cost,
    )  # fmt: skip


def in_window(several: Sequence[Span], start: datetime, end: datetime) -> Summary | None:
    """Economy between two moments: the spans that touch them, weighted by the distance driven inside.

    What a span that reaches outside contributes is split by time, so it is an estimate; `remark` says which part.
    """
    shares = []
    outside: list[Span] = []
    for s in several:
        length = (s.to_at - s.from_at) / timedelta(seconds=1)
        overlap = (min(s.to_at, end) - max(s.from_at, start)) / timedelta(seconds=1)
        share = max(0.0, min(1.0, overlap / length)) if length > 0 else float(start <= s.to_at <= end)
        shares.append(share)
        if 0 < share < 1:
            outside.append(s)
    summary = _combined(several, shares)
    if summary is None or not outside:
        return summary
    parts = []
    for s in outside:
        ends = f"{s.from_at:%B} {s.from_at.day} to {s.to_at:%B} {s.to_at.day}"
        parts.append(f"the tank of {ends} reaches outside, its part is estimated by days")
    summary.estimated = True
    summary.remark = "; ".join(parts)
    if len(summary.spans) == 1:
        # One tank touches it: say that tank whole, rather than a made-up part of it.
        only = overall(summary.spans)
        assert only is not None
        only.estimated, only.remark = True, summary.remark
        return only
    return summary


def this_week(several: Sequence[Span], now: datetime) -> Summary | None:
    """Economy since Monday 00:00 (ISO 8601 weeks) up to `now`, by the spans that touch it."""
    monday = (now - timedelta(days=now.weekday())).replace(hour=0, minute=0, second=0, microsecond=0)
    return in_window(several, monday, now)


def since(several: Sequence[Span], when: datetime) -> Summary | None:
    """Economy since an event: the spans that begin after it; if there is none yet, the one that was under way, marked estimated."""
    after = [s for s in several if s.from_at >= when]
    if after:
        return overall(after)
    under_way = [s for s in several if s.from_at < when < s.to_at]
    summary = overall(under_way)
    if summary is not None:
        summary.estimated = True
        summary.remark = "no tank lies wholly after it yet; this one was begun before"
    return summary


def by_month(several: Sequence[Span]) -> dict[str, Summary]:
    """Economy by calendar month ("2026-05"), oldest first. A span counts in the month of the fill that closed it, so months add up."""
    groups: dict[str, list[Span]] = {}
    for s in several:
        groups.setdefault(f"{s.to_at:%Y-%m}", []).append(s)
    return {month: found for month, group in sorted(groups.items()) if (found := overall(group)) is not None}
