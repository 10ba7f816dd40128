"""The typed records, their export fields, and nothing else.

Every record knows the note it was read from (`note`), the characters (`span`) and, where there is sound, the seconds
(`seconds`) that say it, when it happened (`at`), and how sure the reading is (`confidence`, 0 to 1).
Field names are those of the published schema; units are the codes of `diary/language/data/units.toml`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, ClassVar


@dataclass(kw_only=True, slots=True)
class Record:
    """What all kinds share. `id` is stable across `reread`; `origin` is "read" or "person" (corrected or given by hand)."""

    KIND: ClassVar[str] = ""

    id: str = ""
    note: str = ""
    at: str = ""
    span: tuple[int, int] = (0, 0)
    seconds: tuple[float, float] | None = None
    confidence: float = 0.9
    origin: str = "read"


@dataclass(kw_only=True, slots=True)
class Fill(Record):
    """Fuel put into this machine. `volume` is None where nobody said it."""

    KIND: ClassVar[str] = "fills"
    volume: float | None = None
    unit: str | None = None
    to_brim: bool | None = None
    price_total: float | None = None
    price_per_unit: float | None = None
    currency: str | None = None
    odometer: float | None = None
    trip: float | None = None
    tank: str | None = None
    low: float | None = None
    high: float | None = None


@dataclass(kw_only=True, slots=True)
class Reading(Record):
    """A meter read off: odometer, trip or hours."""

    KIND: ClassVar[str] = "readings"
    meter: str = "odometer"
    value: float | None = None
    unit: str | None = None
    approx: bool = False
    low: float | None = None
    high: float | None = None


@dataclass(kw_only=True, slots=True)
class Reset(Record):
    """A meter set to zero; `before` is what was on it, as read or as guessed (with `low` and `high`)."""

    KIND: ClassVar[str] = "resets"
    meter: str = "trip"
    before: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    approx: bool = False


@dataclass(kw_only=True, slots=True)
class Torque(Record):
    """A torque that should be (`role` target) or was given (applied)."""

    KIND: ClassVar[str] = "torques"
    fastener: str | None = None
    value: float | None = None
    unit: str | None = None
    role: str = "applied"
    threadlocker: bool | None = None
    lock_washers: bool | None = None
    reused: bool | None = None
    angle: float | None = None


@dataclass(kw_only=True, slots=True)
class Measure(Record):
    """A measured or set quantity: pressure, voltage, temperature ..."""

    KIND: ClassVar[str] = "measures"
    quantity: str = ""
    value: float | None = None
    unit: str | None = None
    of: str | None = None
    approx: bool = False
    low: float | None = None
    high: float | None = None


@dataclass(kw_only=True, slots=True)
class Part(Record):
    """One step of a part's life. `life` is the id of the part's first record; `state` how far it has come."""

    KIND: ClassVar[str] = "parts"
    name: str = ""
    state: str = "needed"
    count: float | None = None
    cost: float | None = None
    currency: str | None = None
    supplier: str | None = None
    life: str | None = None


@dataclass(kw_only=True, slots=True)
class Fault(Record):
    """A thread: everything said about one thing that is wrong. `events` is the thread, the other fields follow from it."""

    KIND: ClassVar[str] = "faults"
    what: str = ""
    component: str | None = None
    where: str | None = None
    state: str = "found"
    safety: bool = False
    cause: str | None = None
    waiting_for: str | None = None
    opened_in_note: str | None = None
    closed_in_note: str | None = None
    came_back_in_note: str | None = None
    opened_at: str | None = None
    closed_at: str | None = None
    came_back_at: str | None = None
    events: list[dict[str, Any]] = field(default_factory=list)


@dataclass(kw_only=True, slots=True)
class Work(Record):
    """A job done: `action` in its past form, on a component."""

    KIND: ClassVar[str] = "work"
    action: str = ""
    component: str | None = None
    fault: str | None = None


@dataclass(kw_only=True, slots=True)
class Plan(Record):
    """Something to be done, by a day, after a distance or on a condition. `state` is open, done or dropped."""

    KIND: ClassVar[str] = "plans"
    what: str = ""
    due: str | None = None
    due_distance: float | None = None
    due_unit: str | None = None
    condition: str | None = None
    state: str = "open"
    done_in_note: str | None = None
    events: list[dict[str, Any]] = field(default_factory=list)


@dataclass(kw_only=True, slots=True)
class Lesson(Record):
    """Something learned, to be told in the episode."""

    KIND: ClassVar[str] = "lessons"
    what: str = ""


@dataclass(kw_only=True, slots=True)
class Drive(Record):
    """A drive: how far, on what road, in what weather, as far as said."""

    KIND: ClassVar[str] = "drives"
    distance: float | None = None
    unit: str | None = None
    road: str | None = None
    weather: str | None = None
    approx: bool = False


@dataclass(kw_only=True, slots=True)
class Shot(Record):
    """Footage wanted, missed or filmed."""

    KIND: ClassVar[str] = "shots"
    what: str = ""
    state: str = "wanted"


KINDS: dict[str, type[Record]] = {
    k.KIND: k for k in (Fill, Reading, Reset, Torque, Measure, Part, Fault, Work, Plan, Lesson, Drive, Shot)
}

_FIELDS = {name: frozenset(f.name for f in fields(cls)) for name, cls in KINDS.items()}

COMMON = tuple(f.name for f in fields(Record))


def record_from(kind: str, row: dict[str, Any]) -> Record:
    """A record of `kind` from a dictionary; keys that the kind does not have are left out."""
    cls, names = KINDS[kind], _FIELDS[kind]
    made = cls(**{k: v for k, v in row.items() if k in names})
    made.span = (int(made.span[0]), int(made.span[1]))
    if made.seconds is not None:
        made.seconds = (float(made.seconds[0]), float(made.seconds[1]))
    return made


def as_row(record: Record) -> dict[str, Any]:
    """The record as a plain dictionary in field order, `span` and `seconds` as lists."""
    row = {f.name: getattr(record, f.name) for f in fields(record)}
    row["span"] = list(record.span)
    row["seconds"] = None if record.seconds is None else list(record.seconds)
    return row
