"""A figure told without its name because the diary has it already: "seventy one, so it is not holding", "still 215".

The last measures of the diary say what was being watched; a bare number that opens the note, stands alone or comes with
"still" is the same figure once more, if it is near what was measured then.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from diary.language.readers.fuelling import refuelling
from diary.language.readers.numeric import Mention, Note, table, word_list
from diary.language.readers.spending import per_unit

WATCHED = timedelta(days=21)  # how long a figure goes without saying
RECENT = 8  # measures before the note that may be meant
OPENING = 4  # words that may stand before the number that opens a note


def measured_again(note: Note, m: Mention) -> dict[str, Any] | None:
    """Quantity, unit and what it belongs to, of the earlier measure that a bare number repeats; None if there is none."""
    if m.dimension is not None or m.kind not in ("cardinal", "decimal", "digits") or not _unnamed(note, m):
        return None
    near: dict[str, list[float]] = table("measures")["again"]["near"]
    rows = sorted(reversed(note.context.measures[-RECENT:]), key=lambda r: r.get("value") != m.value)  # the very same first
    for row in rows:
        limits, value = near.get(str(row.get("quantity"))), row.get("value")
        if limits is None or not value or value < 0 or _age(note, row) > WATCHED:
            continue
        if limits[0] <= m.value / value <= limits[1] and not _finer(note, m, value):
            return {"quantity": row["quantity"], "unit": row["unit"], "of": row.get("of"), "value": m.value, "again": True}
    return None


def _unnamed(note: Note, m: Mention) -> bool:
    """True where nothing else is said of the number: it opens the note, is a sentence, or "still" is beside it."""
    nxt = m.last + 1
    ends = nxt >= len(note.words) or note.gaps[nxt] > 0
    if per_unit(note, m) or (m.first and note.words[m.first - 1] in word_list("scope", "indefinite")):
        return False  # "only had a twenty on me"
    if not ends and note.words[nxt] not in word_list("scope", "after") | word_list("measures", "told_again"):
        return False
    beside = {note.words[i] for i in (m.first - 1, m.first - 2, nxt) if 0 <= i < len(note.words)}
    if "still" in beside and note.strange(max(-1, m.first - 3), m.first) == 0:
        return True
    opens = m.first < OPENING and note.strange(-1, m.first) == 0 and not any(note.gaps[i] for i in range(1, m.first))
    alone = note.gaps[m.first] == 2 and ends
    return (opens or alone) and not refuelling(note)


def _age(note: Note, row: dict[str, Any]) -> timedelta:
    at = row.get("at")
    return abs(note.utterance.at.replace(tzinfo=None) - datetime.fromisoformat(at).replace(tzinfo=None)) if at else timedelta(0)


def _finer(note: Note, m: Mention, value: float) -> bool:
    """True where the number is told in hundredths and the figure never was: a price."""
    said = note.utterance.text[m.start : m.end]
    return "." in said and len(said.rsplit(".", 1)[1]) > 1 and round(value, 1) == value
