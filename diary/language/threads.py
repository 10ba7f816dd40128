"""Which earlier record does a phrase speak of, and what becomes of it.

"The shimmy's back", "that leak", "the left one": a phrase is compared with the records the diary holds by component,
place, symptom, other shared words, state and age. The best are returned with their scores, so that a caller can ask
where two are close. Works for faults, parts and plans alike, for all are dictionaries with some describing text.

Weights and small words are in `data/threads.toml`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache, lru_cache
from typing import Any

from diary.language.text import DATA, stem, tokens
from diary.language.types import Draft, Hit

OPEN_STATES = frozenset({"found", "suspected", "waiting", "back"})
TEXT_FIELDS = ("component", "where", "name", "cause")  # besides "what"
THINGS = ("component", "fastener", "meter")


@dataclass(frozen=True, slots=True)
class Mention:
    """What a phrase says of a thing: canonical component names, the words in them, places, symptom names and
    classes, other words.
    """

    components: frozenset[str] = frozenset()
    systems: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()  # stems of the components' words
    places: frozenset[str] = frozenset()
    symptoms: frozenset[str] = frozenset()
    classes: frozenset[str] = frozenset()
    words: frozenset[str] = frozenset()
    signs: frozenset[str] = frozenset()  # stems of the symptoms' own words ("rattle")

    def __or__(self, other: Mention) -> Mention:
        return Mention(*(getattr(self, f) | getattr(other, f) for f in self.__slots__))

    def __bool__(self) -> bool:
        return any(getattr(self, f) for f in self.__slots__)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A record that may be meant. `score` has no unit; below `least()` it is no match. `why` names what they share."""

    id: str
    score: float
    record: Mapping[str, Any] = field(compare=False)
    why: tuple[str, ...] = ()


@cache
def facts() -> dict[str, Any]:
    """The tables of `data/threads.toml`."""
    return tomllib.loads((DATA / "threads.toml").read_text(encoding="utf-8"))


@cache
def _small() -> frozenset[str]:
    return frozenset(facts()["small"])


def least() -> float:
    """The score from which a record counts as meant."""
    return float(facts()["weights"]["least"])


@lru_cache(maxsize=4096)
def mention(text: str) -> Mention:
    """The mention in a phrase, by the lexicon."""
    from diary.language import lexicon

    return of_hits(lexicon.load().find(text), text)


def of_hits(hits: Iterable[Hit], text: str) -> Mention:
    """The mention in hits already found in `text` (their offsets are into it)."""
    things, places, symptoms = [], [], []
    taken: set[int] = set()
    for hit in hits:
        if hit.kind in THINGS:
            things.append(hit)
        elif hit.kind == "place":
            places.append(hit)
        elif (
            hit.kind == "symptom"
            and " ".join(t.lower for t in tokens(text[hit.start : hit.end])) not in facts()["vague"]
        ):
            symptoms.append(hit)
        if hit.kind in (*THINGS, "place", "symptom"):
            taken.update(range(hit.start, hit.end))
    named = [h for h in things if h.kind == "component" and not h.data.get("whole")]
    places = [p for p in places if not any(h.start <= p.start and p.end <= h.end for h in named)]
    parts = {stem(t.lower) for h in things for t in (*tokens(h.name), *tokens(text[h.start : h.end]))}
    return Mention(
        components=frozenset(h.name for h in things),
        systems=frozenset(s for h in things if (s := h.data.get("system"))),
        parts=frozenset(parts - _small()),
        places=frozenset(a for h in places for a in atoms(h.name)),
        symptoms=frozenset(h.name for h in symptoms),
        classes=frozenset(str(h.data.get("class")) for h in symptoms),
        words=_words(text),
        signs=frozenset(root(t.lower) for h in symptoms for t in tokens(text[h.start : h.end])) - _small(),
    )


@lru_cache(maxsize=1024)
def _words(text: str) -> frozenset[str]:
    """The stems of a text's words but the small ones; kept, for a long note is asked of once a deed."""
    return frozenset(stem(t.lower) for t in tokens(text)) - _small()


@lru_cache(maxsize=4096)
def root(word: str) -> str:
    """The base of a verb form or noun: "rattles", "rattling", "rattle" give one root (a rough cut, for comparing
    only).
    """
    word = stem(word)
    for end in ("ing", "ed", "e", "y"):
        if word.endswith(end) and len(word) - len(end) >= 3:
            word = word[: -len(end)]
            break
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] else word


def of_record(record: Mapping[str, Any], head: bool = False) -> Mention:
    """What a record says of itself; `head` True leaves out the signs and guesses told after the first."""
    what = _head(record) if head else _what(record)
    told = tuple(str(record.get(name) or "") for name in TEXT_FIELDS if not (head and name == "cause"))
    return _of_text(what, told, record.get("symptom"))


@lru_cache(maxsize=8192)
def _of_text(what: str, told: tuple[str, ...], symptom: str | None) -> Mention:
    made = Mention(classes=frozenset({symptom}) if symptom else frozenset())
    for text in (what, *told):
        if text:
            made = made | mention(text)
    return made


def _what(record: Mapping[str, Any]) -> str:
    """What a record tells in the speaker's own words: more than the short `what` of a fault, if they were kept."""
    told = record.get("told")
    for event in (record.get("events") or ())[:1]:
        told = told or (event.get("fields") or {}).get("told")
    if told and record.get("origin") != "person":
        return str(told)
    return str(record.get("what") or record.get("name") or "")


def _head(record: Mapping[str, Any]) -> str:
    """What a record is about, without the signs and guesses told after it (they follow a comma)."""
    return _what(record).split(", ")[0]


@lru_cache(maxsize=1024)
def atoms(place: str) -> frozenset[str]:
    """The plain places in a place: "driver's side front" gives side words and "front" by the tables of threads.toml."""
    same: dict[str, str] = facts()["same_place"]
    return frozenset(same.get(stem(t.lower), stem(t.lower)) for t in tokens(place)) - frozenset(facts()["no_place"])


def contrary(one: Iterable[str], other: Iterable[str]) -> bool:
    """True where two sets of places cannot be the same spot: left and right, front and rear."""
    one, other = set(one), set(other)
    for a, b in facts()["opposite"]:
        if (a in one and b in other and not {a, b} <= one and a not in other) or (
            b in one and a in other and b not in other and not {a, b} <= one
        ):
            return True
    return False


def related(one: Mention, other: Mention) -> float:
    """How far two mentions share a component: 1 the same, less for words in common ("cylinder", "lift cylinder")."""
    if one.components & other.components:
        general = frozenset(facts()["general"])
        return 1.0 if (one.components & other.components) - general else 0.5
    if not one.parts or not other.parts:  # a part without an entry is known by its word
        bare, named = (one, other) if not one.parts else (other, one)
        return 0.6 if bare.words & named.parts - frozenset(facts()["weak_heads"]) else 0.0
    shared = one.parts & other.parts - frozenset(facts()["weak_heads"])
    weak = one.parts & other.parts & frozenset(facts()["weak_heads"])
    if not shared and not weak:
        return 0.0
    if one.systems and other.systems and not one.systems & other.systems:
        return 0.4  # "brakes" and "brake light" share a word, not a part
    size = min(len(one.parts), len(other.parts))
    return min(0.9, (len(shared) + 0.34 * len(weak)) / size) if size else 0.0


def score(
    spoken: Mention, record: Mapping[str, Any], now: datetime | None = None, prefer: str | None = None
) -> tuple[float, tuple[str, ...]]:
    """How well a record fits what is spoken of, and why. `prefer` "open" or "shut" adds to records in that state."""
    w = facts()["weights"]
    known = of_record(record)
    first = of_record(record, head=True)
    total, why = 0.0, []
    if near := max(related(spoken, first), w["aside"] * related(spoken, known)):
        total += w["component"] * near
        why.append("component" if near >= w["near"] else "head word")
    if spoken.symptoms & first.symptoms or spoken.signs & first.signs:
        total += w["symptom"] + (w["sign"] if spoken.signs & first.signs else 0.0)
        why.append("symptom")
    elif shared := spoken.classes & first.classes:
        total += w["symptom_class"]
        why.append(" ".join(sorted(shared)))
    if spoken.places & known.places:
        total += w["place"] * min(2, len(spoken.places & known.places))
        why.append("place")
    if contrary(spoken.places, known.places):
        total -= w["contrary"]
    other = (spoken.words & known.words) - spoken.parts - spoken.places
    if other:
        total += w["word"] * min(3, len(other))
        why.append("several words" if len(other) > 1 else "word")
    if not why:
        return 0.0, ()
    if spoken.components and known.components and not near:
        total -= w["other_component"]
        if spoken.systems & known.systems:
            total += w["system"]
    if prefer:
        total += w["state"] * (is_open(record) == (prefer == "open"))
    total += w["recent"] * _freshness(record, now)
    return total, tuple(why)


def _freshness(record: Mapping[str, Any], now: datetime | None) -> float:
    last = max(
        (str(record[k]) for k in ("opened_at", "closed_at", "came_back_at", "at") if record.get(k)), default=None
    )
    if now is None or last is None:
        return 0.0
    days = max(0.0, (now - datetime.fromisoformat(last)).total_seconds() / 86400)
    return math.exp(-days / float(facts()["weights"]["fade_days"]))


def candidates(
    spoken: Mention, records: Sequence[Mapping[str, Any]], now: datetime | None = None, prefer: str | None = None
) -> list[Candidate]:
    """Records that `spoken` may mean, likeliest first; those that share nothing with it are left out."""
    found = []
    for record in records:
        value, why = score(spoken, record, now, prefer)
        if value >= least():
            found.append(Candidate(str(record["id"]), value, record, why))
    return sorted(found, key=lambda c: -c.score)


def close(found: Sequence[Candidate], margin: float | None = None) -> list[Candidate]:
    """The best and those so near to it that only the speaker can tell; one alone where the best stands out."""
    if not found:
        return []
    margin = float(facts()["weights"]["margin"]) if margin is None else margin
    return [c for c in found if found[0].score - c.score < margin]


# ---- what becomes of a fault ----------------------------------------------------------------------------------------


def is_open(fault: Mapping[str, Any]) -> bool:
    """True for a fault that still wants attention."""
    return fault.get("state", "found") in OPEN_STATES


def apply(
    faults: list[dict[str, Any]], draft: Draft, note: str | int, at: str, id: str | None = None
) -> list[dict[str, Any]]:
    """The faults after a draft of kind "faults": a new list, the old one and its dictionaries untouched.

    `note` is the note's id, `at` its time (ISO 8601), `id` the new record's id where the draft opens one (default
    "f<count>").
    A draft whose thread is None and whose fields carry `candidates` waits for an answer and changes nothing.
    """
    if draft.kind != "faults" or (draft.thread is None and draft.fields.get("candidates")):
        return list(faults)
    event = {"event": draft.event or "found", "note": note, "at": at, "span": (draft.start, draft.end)}
    if draft.thread is None:
        made = {
            **{k: draft.fields.get(k) for k in ("what", "told", "component", "where", "cause", "waiting_for", "symptom")},
            "id": id or f"f{len(faults) + 1}",
            "safety": bool(draft.fields.get("safety")),
            "state": "suspected" if draft.event == "suspected" else "found",
            "opened_in_note": note,
            "opened_at": at,
            "closed_in_note": None,
            "closed_at": None,
            "came_back_in_note": None,
            "came_back_at": None,
            "events": [event],
        }
        return [*faults, made]
    return [_step(f, draft, event) if f.get("id") == draft.thread else f for f in faults]


def _step(fault: dict[str, Any], draft: Draft, event: dict[str, Any]) -> dict[str, Any]:
    after = {**fault, "events": [*fault.get("events", []), event]}
    match draft.event:
        case "fixed" | "ruled_out":
            if is_open(fault):  # said again of a fault that is shut ("still dry") it changes nothing
                after |= {"state": draft.event, "closed_in_note": event["note"], "closed_at": event["at"]}
        case "back":
            after |= {"state": "back", "came_back_in_note": event["note"], "came_back_at": event["at"]}
        case "waiting":
            if is_open(fault):
                after |= {"state": "waiting"}
        case "found" if not is_open(fault):
            after |= {"state": "back", "came_back_in_note": event["note"], "came_back_at": event["at"]}
    for name in ("cause", "waiting_for"):
        if draft.fields.get(name):
            after[name] = draft.fields[name]
    return after
