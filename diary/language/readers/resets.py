"""Reader of resets: the trip meter set to zero, and what was on it before."""

from __future__ import annotations

from diary.language.readers.numeric import Note, lay_out, word_list
from diary.language.readers.roles import of_role
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """At most one reset a note.

    `before` is the guess of what was on the trip meter, with `low` and `high` where the speaker was vague; it is None
    where the trip was read in the same note, for that reading says it.
    """
    note = lay_out(utterance, context)
    spot = _reset(note)
    if spot is None:
        return []
    first, last = spot
    fields: dict[str, object] = {"meter": "trip", "before": None, "unit": _unit(context)}
    guess = _guess(note, first, last)
    if guess is not None:
        fields.update(guess)
    tokens = utterance.tokens
    return [Draft("resets", fields, tokens[first].start, tokens[last].end, 0.9)]


def _unit(context: Context) -> str:
    return context.locale.distance if context.locale.distance in ("mi", "km") else "mi"


def _reset(note: Note) -> tuple[int, int] | None:
    named = [a for a, b in note.cues("meters", "trip_before") if not note.has("meters", "no_trip", a - 1, b + 2)]
    pronouns = set(note.cues("meters", "reset_pronoun"))
    anyway = note.cues("meters", "reset_done_anyway")
    for a, b in note.cues("meters", "reset"):
        clause = note.clause(a)
        if clause is not None and (clause.hypothetical or clause.anothers or clause.retracted or clause.question):
            continue
        if (a, b) in pronouns and not any(a - 60 <= n <= b + 3 for n in named):
            continue
        done = any(x <= a and a - y <= 3 for x, y in anyway)
        if not done:
            said = max((y for _, y in note.cues("meters", "reset") if y < a), default=-1)
            denials = [y for _, y in note.cues("meters", "reset_denied") if said < y < a]
            if any(a - y <= 4 and note.strange(y, a) <= 1 for y in denials):
                continue
            if any(
                0 < x - b <= 3 and note.words[x] in word_list("meters", "forgotten") and note.strange(b, x) == 0
                for x, _ in note.cues("meters", "reset_denied")
            ):
                continue
            planned = note.nearest_before("meters", "reset_planned", a, 4)
            if planned and note.strange(planned[1], a) <= 1:
                continue
        return a, b
    return None


def _guess(note: Note, first: int, last: int) -> dict[str, object] | None:
    if any(m.role == "trip" and not m.approx for m in of_role(note, "trip")):
        return None
    around = [
        m for m in note.mentions if not m.dropped and m.role in ("", "distance", "trip") and -14 <= m.first - last <= 45
    ]
    for m in sorted(around, key=lambda m: abs(m.first - last)):
        cue = any(abs(a - m.first) <= 8 or 0 < a - m.last <= 2 for a, _ in note.cues("meters", "reset_guess"))
        if cue and (
            m.unit in ("mi", "km") or (m.unit is None and m.kind in ("cardinal", "range", "decimal", "fraction"))
        ):
            if not 0 < m.value <= 600:
                continue
            unit = m.unit or _unit(note.context)
            vague = m.approx or m.low != m.high
            spread = {"low": m.low, "high": m.high} if vague and m.low != m.high else {}
            m.role = "before"
            return {"before": m.value, "unit": unit, "approx": True, **spread}
    return None
