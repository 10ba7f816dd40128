"""Reader of readings: odometer, trip meter and hour meter, read off."""

from __future__ import annotations

from diary.language.readers.numeric import Mention, Note, lay_out, word_list
from diary.language.readers.roles import of_role
from diary.language.types import Context, Draft, Utterance

METERS = ("odometer", "trip", "hours")


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Each meter value said as read; a value said twice in a note stands once."""
    note = lay_out(utterance, context)
    drafts: list[Draft] = []
    known: set[tuple[str, float]] = set()
    for m in of_role(note, *METERS):
        if not stands(note, m) or (m.role, m.value) in known:
            continue
        known.add((m.role, m.value))
        vague = approximate(note, m)
        fields = {"meter": m.role, "value": tidy(m.value), "unit": meter_unit(note, m), "approx": vague}
        if m.low != m.high and m.low <= m.value <= m.high:
            fields.update(low=tidy(m.low), high=tidy(m.high))
        drafts.append(
            Draft(
                "readings", fields, m.start, m.end, 0.8 if vague else 0.95 if m.unit or m.kind != "homophone" else 0.85
            )
        )
    return drafts


def stands(note: Note, m: Mention) -> bool:
    """False where the meter was not read: a zero after a reset, a reading to come, a denial, hearsay."""
    if m.value <= 0:
        return False
    cue = int(m.facts.get("cue", m.first))
    start = max(note.sentence(m.first)[0], cue - 1)
    clause = m.clause
    if clause is not None and clause.negated and _denied(note, start, m):
        return False
    first, days = max(note.sentence(m.first)[0], cue - 4), {note.index(d.start) - 1 for d in note.utterance.dates}
    for group in ("due", "to_come"):
        if any(first <= a and b <= m.first and b not in days for a, b in note.cues("meters", group)):
            return False  # but "careful till friday" says nothing of the meter
    if note.has("scope", "sold", max(0, m.first - 10), m.last + 8):
        return False
    hearsay = note.nearest_before("scope", "hearsay", m.first, 8)
    return not (hearsay and not note.mention_between(hearsay[1], m.first))


def _denied(note: Note, start: int, m: Mention) -> bool:
    """True where a negation stands before the number with no break between, other than "not full"."""
    for a, b in note.cues("scope", "negation"):
        if start <= a and b < m.first and not any(note.gaps[i] for i in range(b + 1, m.first + 1)):
            return "full" not in note.words[b : m.first]
    return False


def approximate(note: Note, m: Mention) -> bool:
    """True where the speaker was vague about the value."""
    if m.approx:
        return True
    before = any(
        b < m.first and m.first - b <= 2 and note.strange(b, m.first) == 0 for _, b in note.cues("meters", "approx")
    )
    after = any(
        0 < a - m.last <= 1 and note.words[a] in word_list("meters", "vague_after")
        for a, _ in note.cues("meters", "approx")
    )
    return before or after


def brought_to(note: Note, m: Mention) -> bool:
    """True for "pumped it up to thirty four": where it was brought to, not a bound."""
    phrases = word_list("meters", "brought")
    before = " ".join(note.words[max(0, m.first - 2) : m.first])
    return before in phrases or " ".join(note.words[m.first : m.first + 2]) in phrases


def meter_unit(note: Note, m: Mention) -> str:
    """The unit of the reading: the one said, else the machine's own."""
    if m.role == "hours":
        return "h"
    if m.unit in ("mi", "km"):
        return m.unit
    return note.context.locale.distance if note.context.locale.distance != "h" else "mi"


def tidy(value: float) -> float:
    """The value without the dust of floating point."""
    return round(float(value), 6)
