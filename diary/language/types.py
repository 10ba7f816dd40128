"""Plain values that pass between the stages of reading.

All positions are character offsets into the note's text exactly as it was given (`text[start:end]`).
Units are the codes of the export (see `diary/language/data/units.toml`), never spoken names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class Token:
    """One word or number as written; `lower` is folded for comparing."""

    text: str
    lower: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Number:
    """A spoken or written number.

    `low`/`high` bound the value where the speaker was vague ("twenty, twenty five, call it twenty").
    `kind` is one of the kinds listed in `numerals.py`; kinds such as "time" or "label" are numbers that are no measurement.
    `alternatives` are other readings, likeliest first, as (value, likelihood) pairs.
    """

    value: float
    low: float
    high: float
    start: int
    end: int
    kind: str
    approx: bool = False
    alternatives: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit. `unit` is an export code (or "USD", "GBP", ...); `dimension` is "length", "torque", ...

    Where the unit word is ambiguous ("pounds"), `unit` is the likeliest and `alternatives` holds (value, unit, likelihood).
    """

    value: float
    unit: str
    dimension: str
    start: int
    end: int
    low: float
    high: float
    approx: bool = False
    number: Number | None = None
    alternatives: tuple[tuple[float, str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class When:
    """A day (or span of days) that the speaker names, seen from the note's own time. `until` is the last day, inclusive."""

    day: date
    until: date
    start: int
    end: int
    kind: str = "day"  # day, weekend, week, month, past, future, vague
    certain: bool = True


@dataclass(frozen=True, slots=True)
class Hit:
    """A lexicon entry found in the text.

    `kind` is "component", "fastener", "consumable", "place", "action", "symptom", "system", "cue", ...; `name` is the entry's
    canonical name; `data` its other facts (system, safety, action class, cue class...).
    """

    kind: str
    name: str
    start: int
    end: int
    data: Mapping[str, Any] = field(default_factory=dict)


@dataclass(slots=True)
class Clause:
    """A stretch of talk that says one thing, and the scope it stands in."""

    start: int
    end: int
    text: str
    tokens: list[Token] = field(default_factory=list)
    negated: bool = False  # "did not touch the water pump"
    hypothetical: bool = False  # "if it leaks again I'd swap it"
    suspected: bool = False  # "might be the heater core"
    planned: bool = False  # "next saturday I am getting the wheels balanced"
    past: bool = False
    question: bool = False
    other_machine: bool = False  # "my brother in law's rig", and what is no machine ("the kettle")
    no_machine: bool = False  # only the latter
    quoted: bool = False  # "the book says eight"
    retracted: bool = False  # taken back in the same note ("no that is the old coupe")

    @property
    def anothers(self) -> bool:
        """Whether it is about another's machine, not only about none: figures of this one stand in asides about the house
        ("everybody is asleep so i whisper the bus is at two oh nine four fifty")."""
        return self.other_machine and not self.no_machine


@dataclass(slots=True)
class Utterance:
    """A note's text with everything the stages found in it."""

    text: str
    at: datetime
    tokens: list[Token] = field(default_factory=list)
    numbers: list[Number] = field(default_factory=list)
    quantities: list[Quantity] = field(default_factory=list)
    dates: list[When] = field(default_factory=list)
    hits: list[Hit] = field(default_factory=list)
    clauses: list[Clause] = field(default_factory=list)

    def within(self, items: list[Any], start: int, end: int) -> list[Any]:
        """Those of `items` that lie inside the characters start to end."""
        return [i for i in items if i.start >= start and i.end <= end]


@dataclass(frozen=True, slots=True)
class Locale:
    """The units a machine's owner means when none is said."""

    distance: str = "mi"  # mi, km, h
    volume: str = "gal_us"  # gal_us, gal_imp, L
    torque: str = "ft_lb"  # ft_lb, in_lb, N_m
    pressure: str = "psi"  # psi, bar, kPa
    currency: str = "USD"


@dataclass(slots=True)
class Context:
    """What the diary already knows when a note is read; plain values, so that reading needs no store.

    `faults`, `parts`, `plans`, `torques` and `measures` are the current records as dictionaries (export field names, plus "id"), oldest first.
    `meters` holds the last reading by meter: {"odometer": (87406.0, datetime), ...}.
    """

    locale: Locale = field(default_factory=Locale)
    now: datetime = field(default_factory=lambda: datetime(2026, 1, 1))
    machine: str = "machine"
    faults: list[dict[str, Any]] = field(default_factory=list)
    parts: list[dict[str, Any]] = field(default_factory=list)
    plans: list[dict[str, Any]] = field(default_factory=list)
    torques: list[dict[str, Any]] = field(default_factory=list)
    fills: list[dict[str, Any]] = field(default_factory=list)
    measures: list[dict[str, Any]] = field(default_factory=list)
    meters: dict[str, tuple[float, datetime]] = field(default_factory=dict)
    tank: float | None = None
    others: list[str] = field(default_factory=list)  # names of machines that are not this one


@dataclass(slots=True)
class Draft:
    """A record as read from a note, before it is kept.

    `kind` is the export's list name ("fills", "readings", "torques", "measures", "parts", "faults", "work", "plans", "lessons",
    "drives", "resets", "shots"); `fields` has that kind's export fields. `confidence` is between 0 and 1.

    Threads: `thread` is the id of an earlier record of the context that this draft speaks of (None: a new one). `event` says what
    happened to it. Faults: found, suspected, worked, cause, waiting, fixed, ruled_out, back. Plans: made, done, dropped, moved.
    Parts: their `state`. A draft of the same note can be referred to by `"#n"`, n its place in the list returned.
    """

    kind: str
    fields: dict[str, Any]
    start: int
    end: int
    confidence: float = 0.9
    thread: str | None = None
    event: str | None = None
