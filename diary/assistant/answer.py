"""An answer: one or two sentences, the values in it, the records it rests on, and whether it is certain."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from diary.assistant.facts import Moment
from diary.assistant.questions import Query


@dataclass(slots=True)
class Answer:
    """`values` holds {"value", "unit", "plus_minus"} rows. `certain` is False where something is estimated or missing.

    `asks` is set where the question can be read in several ways: {"for", "about"}; `choices` then holds (words,
    query) pairs.
    `anchor` is the moment the answer speaks of (for "how many miles ago was that"), `subject` the stems it is about.
    """

    answer: str
    values: list[dict[str, Any]] = field(default_factory=list)
    records: list[str] = field(default_factory=list)
    certain: bool = True
    asks: dict[str, Any] | None = None
    choices: list[tuple[str, Any]] = field(default_factory=list)
    query: Query | None = None
    anchor: Moment | None = None
    subject: tuple[str, ...] = ()
    place: int | None = None  # the number of the tank spoken of, counted from the newest (-1)
    caution: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The answer as `diary ask --json` prints it."""
        return {"answer": self.answer, "values": self.values, "records": self.records, "certain": self.certain}


def value(number: float, unit: str | None, plus_minus: float | None = None, places: int = 6) -> dict[str, Any]:
    """One row of `Answer.values`."""
    row: dict[str, Any] = {"value": round(number, places), "unit": unit, "plus_minus": None}
    if plus_minus is not None:
        row["plus_minus"] = float(f"{plus_minus:.3g}")
    return row


def cannot(text: str, *records: str) -> Answer:
    """An honest "can't be worked out", saying what is missing."""
    return Answer(text, [], list(records), False)
