"""Reader of measures: pressures, voltages, temperatures, lengths and whatever else was measured or set."""

from __future__ import annotations

from diary.language.readers.measuring import fused
from diary.language.readers.numeric import Mention, Note, lay_out, word_list
from diary.language.readers.phrases import Thing
from diary.language.readers.readings import approximate, brought_to, tidy
from diary.language.readers.roles import of_role
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Each figure once; the same value of the same thing said twice stands once."""
    note = lay_out(utterance, context)
    drafts: list[Draft] = []
    known: set[tuple[str, float, str | None, str]] = set()
    last: Mention | None = None
    for m in [*of_role(note, "measure"), *_ratings(note)]:
        quantity = str(m.facts["quantity"])
        of = _of(note, m, quantity)
        once = "" if quantity in ("current", "time", "volume") else of
        key = (quantity, m.value, m.unit, once)
        if "still" in note.words[max(0, m.first - 3) : m.first] and any(k[:3] == key[:3] for k in known):
            continue
        if key in known or (last is not None and _repeated(note, last, m)):
            continue
        last = m
        known.add(key)
        fields: dict[str, object] = {
            "quantity": quantity,
            "value": tidy(m.value),
            "unit": m.unit,
            "of": of or None,
            "approx": approximate(note, m) and not brought_to(note, m),
        }
        if not brought_to(note, m) and m.low < m.high and m.low <= m.value <= m.high:
            fields.update(low=tidy(m.low), high=tidy(m.high))
        drafts.append(Draft("measures", fields, m.start, m.end, 0.92 if m.dimension else 0.82))
    return sorted(drafts, key=lambda d: d.start)


def _repeated(note: Note, last: Mention, m: Mention) -> bool:
    """True where the speaker says the figure once more ("thirteen it is thirteen")."""
    if last.value != m.value or last.facts["quantity"] != m.facts["quantity"] or m.first - last.last > 4:
        return False
    return not any(note.place(i) for i in range(last.last + 1, m.first))


def _ratings(note: Note) -> list[Mention]:
    """Fuses by their rating: "a blown ten amp", "40 amp fuse"."""
    found = []
    for m in note.mentions:
        if m.role == "" and m.unit == "A" and m.kind == "rating" and not m.dropped and fused(note, m):
            clause = m.clause
            if clause is None or not (
                clause.hypothetical or clause.anothers or clause.retracted or clause.question
            ):
                m.role, m.facts["quantity"] = "measure", "current"
                found.append(m)
    return found


def _of(note: Note, m: Mention, quantity: str) -> str:
    """What the figure belongs to, in the speaker's words: place, thing, condition."""
    if m.facts.get("again") and m.facts.get("of"):
        return str(m.facts["of"])
    place = _place(note, m)
    if "other" in note.words[max(0, m.first - 5) : m.first]:
        place = "other"
    thing = _thing(note, m)
    name = thing.name if thing else ""
    words = [w for w in place.split() if w not in name.split()] + ([name] if name else [])
    if quantity == "pressure" and not name and place:
        words.append("tire")
    return " ".join(words)


def _place(note: Note, m: Mention) -> str:
    first, last = note.sentence(m.first)
    if word_list("scope", "everything") & set(note.words[max(first, m.first - 4) : m.first]):
        return "all"
    for i in range(m.first - 1, max(first, m.first - 7) - 1, -1):
        if note.owner[i] >= 0 and not note.mentions[note.owner[i]].dropped:
            break
        if (place := note.place(i)) is not None:
            return place
    for i in range(m.last + 1, min(last, m.last + 4) + 1):
        if note.owner[i] >= 0:
            break
        if (place := note.place(i)) is not None:
            return place
    return ""


def _thing(note: Note, m: Mention) -> Thing | None:
    """The part that the figure belongs to: the nearest named before it, or right after it in the same sentence."""
    near: list[tuple[int, Thing]] = []
    last = note.sentence(m.first)[1]
    tire = m.facts.get("topic") == "tire"
    for thing in note.talk.things:
        if tire and thing.words and not word_list("measures", "inflated") & set(thing.words):
            continue  # "with the water tank full ... the rears up to fifty five"
        if not thing.hit or thing.kind not in ("component", "consumable", "fastener"):
            continue
        if any(note.owner[i] >= 0 for i in range(thing.first, thing.last + 1)):
            continue
        if thing.last < m.first and m.first - thing.last <= 24:
            near.append((m.first - thing.last, thing))
        elif m.last < thing.first <= min(last, m.last + 5):
            near.append((thing.first - m.last + 1, thing))
    return min(near, key=lambda x: x[0])[1] if near else None
