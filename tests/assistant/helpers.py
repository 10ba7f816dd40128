"""Diaries for tests of the assistant: records given as drafts, so that reading is not what is tested."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from diary.language.types import Context, Draft
from diary.records.diary import Diary
from diary.records.machine import Machine

NOW = datetime(2026, 5, 27, 18, 0)


class Written:
    """A reader that knows what is in each note because it was told: `written["text"] = [Draft, ...]`."""

    def __init__(self) -> None:
        self.notes: dict[str, list[Draft]] = {}

    def __call__(self, text: str, context: Context) -> list[Draft]:
        return self.notes.get(text, [])


def diary(folder: Path, now: datetime = NOW, **machine: Any) -> tuple[Diary, Written]:
    """An empty diary with its clock at `now`, and the reader to be told what notes hold."""
    reader = Written()
    made = Diary.open(folder / "d.db", now=lambda: now, read=reader)
    made.set_machine(Machine(**machine))
    return made, reader


def draft(
    kind: str, text: str = "", at: str = "", *, event: str | None = None, thread: str | None = None, **fields: Any
) -> Draft:
    """A draft whose span is where `at` stands in `text` (the whole text where it is not given)."""
    start = text.find(at) if at else 0
    return Draft(kind, fields, max(0, start), max(0, start) + (len(at) or len(text) or 1), thread=thread, event=event)


def tell(made: Diary, reader: Written, when: str, text: str, *drafts: Draft) -> Any:
    """One note with the records it holds."""
    reader.notes[text] = list(drafts)
    return made.add_note(text, when)


def fill(
    volume: float | None, odometer: float | None = None, *, brim: bool | None = True, unit: str = "gal_us", **more: Any
) -> list[Draft]:
    """A fill with its reading."""
    rows = [draft("fills", volume=volume, unit=unit, to_brim=brim, odometer=odometer, **more)]
    if odometer is not None:
        rows.append(
            draft(
                "readings",
                meter="odometer",
                value=odometer,
                unit="km" if unit == "L" and more.get("km") else "mi",
                approx=False,
            )
        )
    return rows
