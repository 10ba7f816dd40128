"""A labelled narration as a diary, read from its labels: answers are then measured apart from reading.

The labels are those of the narrations' README. Positions in a note are not labelled, so spans are guessed from the
words.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from diary.language.numerals import read_numbers
from diary.language.types import Context, Draft
from diary.records.diary import Diary
from diary.records.machine import Machine

KINDS = ("fills", "readings", "torques", "measures", "parts", "work", "plans", "lessons")


def _drafts(gold: dict[str, list[dict[str, Any]]], index: int, text: str, context: Context) -> list[Draft]:
    out: list[Draft] = []
    for kind in KINDS:
        for place, row in enumerate(gold[kind]):
            if row["note"] == index:
                fields = {k: v for k, v in row.items() if k != "note"}
                start = _place(text, row)
                out.append(Draft(kind, fields, start, start + 1 + place))
    for row in gold["faults"]:
        fields = {k: row.get(k) for k in ("what", "component", "where")}
        known = next((f["id"] for f in context.faults if f["what"] == row["what"]), None)
        back, closed = row.get("came_back_in_note"), row.get("closed_in_note")
        first_close = closed if back is None or closed is None or closed < back else None
        steps = [
            (row["opened_in_note"], "found"),
            (first_close, "ruled_out" if row.get("ruled_out") else "fixed"),
            (back, "back"),
        ]
        if back is not None and closed is not None and closed > back:
            steps.append((closed, "fixed"))
        new: str | None = None
        for note, event in steps:
            if note == index:
                out.append(Draft("faults", fields, 0, 1, thread=known or new, event=event))
                new = new or f"#{len(out) - 1}"
    return out


def _place(text: str, row: dict[str, Any]) -> int:
    """Where in the note a row is said: its figure, else the last word of its name."""
    if row.get("value") is not None:
        found = [n.start for n in read_numbers(text) if abs(n.value - row["value"]) < 1e-6]
        if found:
            return found[-1]
    name = str(row.get("component") or row.get("name") or row.get("what") or "").lower()
    for word in reversed(name.split()):
        if (at := text.lower().rfind(word.rstrip("s"))) >= 0:
            return at
    return 0


def _resets(text: str, context: Context) -> list[Draft]:
    """Trip meters set to zero are no labels of the narrations: they are read."""
    from diary.language.pipeline import parse
    from diary.language.readers import resets

    return resets.read(parse(text, context), context, [])


def open_gold(path: Path, db: Path) -> tuple[Diary, dict[str, Any]]:
    """The diary of a labelled narration, its clock at the last note; and the file's own contents."""
    data = json.loads(path.read_text())
    return open_labelled(data, db), data


def open_labelled(data: dict[str, Any], db: Path) -> Diary:
    """The diary of labels that are read already (`open_gold`)."""
    now = datetime.fromisoformat(data["notes"][-1]["at"])
    places = {n["text"]: i for i, n in enumerate(data["notes"])}
    diary = Diary.open(
        db,
        now=lambda: now,
        read=lambda text, context: [*_resets(text, context), *_drafts(data["gold"], places[text], text, context)],
    )
    locale = data["locale"]
    diary.set_machine(
        Machine(**{k: locale[k] for k in ("distance", "volume", "torque", "pressure")}, currency=_coin(data))
    )
    for note in data["notes"]:
        diary.add_note(note["text"], note["at"])
    return diary


def _coin(data: dict[str, Any]) -> str:
    text = " ".join(n["text"] for n in data["notes"])
    return "EUR" if "euros" in text else "GBP" if " quid" in text else "USD"
