"""What the fuel calculators are given and what they give back: plain values, as indicated and as worked out."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from uncertainties import UFloat


@dataclass(slots=True)
class Fill:
    """One fuelling. `odometer` and `trip` are as indicated; `price` is the total paid. `hours` is the hour meter,
    where there is one.

    `low`/`high` bound a guessed volume; `volume_sd` gives its standard deviation directly. `tank` names
    the tank where a machine has several. `missed_before`: it is known that a fill before this one was not written
    down.
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
    low: float | None = None
    high: float | None = None
    hours: float | None = None


@dataclass(slots=True)
class Reset:
    """The trip meter set to zero. `before` is the distance driven since the last fill that it wiped, if said;
    `low`/`high` bound a guess.

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
    """True ÷ indicated distance from the moment `since` on (None: from the beginning), with its standard uncertainty
    `sd`.

    `odometer` is the indicated reading at the change, where known; it lets a span that crosses the change be split
    exactly.
    """

    since: datetime | None
    factor: float
    sd: float = 0.0
    odometer: float | None = None


@dataclass(slots=True)
class Span:
    """From one fill to the brim to the next.

    `distance` is true distance (indicated × meter factor) in `distance_unit` (mi, km, or h for a machine with an hour
    meter), `fuel` in `fuel_unit`, `value` in `unit`. `plus_minus` is one standard deviation of `value`. `estimated`
    is true when a guess or an assumption is in it; `flags` says which. `cost` is what its fuel cost, None where a
    price is missing.
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
    """Why no economy ends at this fill to the brim. `reason` is a code, `text` a clause fit to follow "can't be
    worked out:".
    """

    from_note: str | None
    to_note: str
    from_at: datetime | None
    to_at: datetime
    reason: str  # volume, distance, missed_fill, backwards
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
