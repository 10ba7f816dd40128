"""Reader of drives: how far was driven, on what road, in what weather."""

from __future__ import annotations

from diary.language.readers.numeric import Mention, Note, lay_out, table
from diary.language.readers.readings import tidy
from diary.language.readers.roles import of_role
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """A drive for each distance driven; road and weather only where they are said close by."""
    note = lay_out(utterance, context)
    drafts = []
    for m in of_role(note, "distance"):
        if not _driven(note, m):
            continue
        fields: dict[str, object] = {"distance": tidy(m.value), "unit": m.unit}
        for what in ("road", "weather"):
            fields[what] = _said(note, m, what)
        drafts.append(Draft("drives", fields, m.start, m.end, 0.8))
    return drafts


def _driven(note: Note, m: Mention) -> bool:
    clause = m.clause
    if clause is not None and (clause.planned or clause.negated or clause.suspected):
        return False
    if note.has("drives", "not_driven", max(0, m.first - 7), m.last + 5):
        return False
    first, last = note.sentence(m.first)
    if note.has("scope", "future", max(first, m.first - 12), m.first):
        return False
    return note.has("drives", "drove", max(first, m.first - 10), min(last, m.last + 6))


def _said(note: Note, m: Mention, what: str) -> str | None:
    first, last = note.sentence(m.first)
    for name, spoken in table("drives")[what].items():
        for phrase in spoken:
            size = len(phrase.split())
            for i in range(max(first, m.first - 14), min(last, m.last + 16) + 2 - size):
                if " ".join(note.words[i : i + size]) == phrase:
                    return str(name)
    return None
