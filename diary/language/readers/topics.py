"""Which figure a bare number is: the topics of `numeric_measures.toml`, scored by the words around the number."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from diary.language.idioms import Idioms
from diary.language.readers.fastening import priced_in_hundredths
from diary.language.readers.numeric import Mention, Note, linked, table, word_list
from diary.language.text import stem

ENOUGH = 1.6  # a bare number with less evidence is left alone
WEIGHTS = {
    "names": 3.0,
    "things": 2.0,
    "refs": 2.0,
    "pronouns": 2.0,
    "verbs": 2.0,
    "hints": 1.0,
    "after": 3.0,
    "within": 3.0,
}
EVENT = ("carriers", "events")
LOOK_BACK = 16  # words before a number in which a topic may be named
STRANGE = 0.7  # what each word costs that does not belong between a word and its number


@dataclass(frozen=True, slots=True)
class Topic:
    """A kind of figure that a bare number can be (see `numeric_measures.toml`)."""

    name: str
    quantity: str
    unit: str
    places: bool
    ranges: dict[str, tuple[float, float]]
    typical: tuple[float, ...] = ()


@cache
def topics() -> tuple[Topic, ...]:
    """All topics of the data file."""
    return tuple(
        Topic(
            name,
            raw["quantity"],
            raw["unit"],
            raw.get("places", False),
            {u: (lo, hi) for u, (lo, hi) in raw["range"].items()},
            tuple(raw.get("typical", ())),
        )
        for name, raw in table("measures")["topics"].items()
    )


@cache
def topic_words() -> Idioms:
    """The phrases of all topics, as groups "topic weight"."""
    raw = table("measures")
    groups = {
        f"{name} {kind}": t[kind] for name, t in raw["topics"].items() for kind in (*WEIGHTS, *EVENT) if t.get(kind)
    }
    return Idioms(groups, raw["classes"])


def unit_of(note: Note, topic_unit: str, value: float, ranges: dict[str, tuple[float, float]]) -> str:
    """The unit that a bare number of a topic has on this machine."""
    locale = note.context.locale
    metric = locale.torque == "N_m" or locale.distance == "km"
    if topic_unit == "pressure":
        return locale.pressure
    if topic_unit == "temperature":
        return "degC" if locale.distance == "km" or locale.pressure in ("bar", "kPa") else "degF"
    if topic_unit == "speed":
        return "kmh" if locale.distance == "km" else "mph"
    if topic_unit == "mass":
        return "kg" if metric else "lb"
    if topic_unit == "length":
        if metric:
            return "mm"
        return "thou" if value >= 5 and float(value).is_integer() else "in"
    return topic_unit


def topic_score(note: Note, m: Mention, topic: Topic) -> tuple[float, dict[str, Any]]:
    """How well a number fits a topic, and the unit and value it then has."""
    first, last = note.sentence(m.first)
    floor = max(first, m.first - LOOK_BACK)
    score, series = 0.0, 0.0
    if note.has("scope", "windy", max(first, m.first - 4), m.first - 1):
        return 0.0, {}
    in_traffic = note.has("scope", "traffic", max(first, m.first - 5), m.first - 1)
    if in_traffic and topic.quantity == "speed":
        return 0.0, {}
    active = _active(note, m, topic)
    elsewhere = _elsewhere(note, m, topic)
    listed = note.utterance.text[: m.start].rstrip().endswith(":")
    if topic.quantity == "speed":
        score = _trouble_at(note, m)
    if topic.quantity == "temperature" and not elsewhere and not in_traffic and _heat_before(note, m):
        score = 2.4
    if (
        topic.quantity == "current"
        and active
        and m.first
        and note.words[m.first - 1] in table("measures")["fuses"]["before"]
    ):
        score = 2.4 if m.value in table("measures")["fuses"]["ratings"] else 0.0
    if (
        topic.quantity == "current"
        and m.value not in table("measures")["fuses"]["ratings"]
        and not _named(note, m, topic)
    ):
        return 0.0, {}
    score = max(score, _event(note, m, topic))
    if topic.name == "gap" and m.value >= 1 and priced_in_hundredths(note, m) and not _named(note, m, topic):
        return 0.0, {}  # "o-ring 3.20"
    for kind, weight in WEIGHTS.items():
        group = f"{topic.name} {kind}"
        if (kind == "refs" and elsewhere) or (kind == "pronouns" and not active):
            continue
        for a, b in topic_cues(note, group):
            if kind == "within":
                if a == m.last + 1 and b <= last:
                    score = max(score, weight)
            elif kind == "after":
                if 0 < a - m.last <= 1 and b <= last:
                    plain = topic.typical and topic.typical[0] <= m.value <= topic.typical[1] and m.kind == "decimal"
                    score = max(score, weight - 1.2 if active or plain else 0.9)
            elif b < m.first and a >= floor:
                if note.mention_between(
                    b, m.first, lambda x: x.role == "" or x.facts.get("quantity") == topic.quantity
                ):
                    continue
                far = 0.0 if listed else STRANGE * min(2, note.strange(b, m.first)) + 0.06 * (m.first - b)
                score = max(score, weight - far)
    if active and any(0 < a - m.last <= 1 for a, _ in topic_cues(note, f"{topic.name} after")):
        score += 1.0
    for a, b in topic_cues(note, f"{topic.name} names"):
        if m.last < a <= m.last + 4 and b <= last and set(note.words[m.last + 1 : a]) <= word_list("scope", "joining"):
            score = max(score, 2.8)
    previous = [
        x for x in note.mentions if x.last < m.first and (x.role or "quantity" in x.facts) and "foreign" not in x.facts
    ]
    if previous:
        p = previous[-1]
        if p.facts.get("quantity") == topic.quantity and (p.facts.get("topic", topic.name) == topic.name):
            gap = m.first - p.last
            if gap <= 22 and not (topic.quantity == "current" and _rating(note, p)):
                series = 2.6 - 0.06 * gap - 0.35 * min(3, note.strange(p.last, m.first))
    if _compared(note, m, topic, active):
        score, series = max(score, 2.3), max(series, 0.1)
    placed = _place_beside(note, m)
    if (
        topic.places
        and placed
        and (active or _hinted(note, m, topic) or (topic.name == "tire" and not elsewhere and _corners(note)))
    ):
        score += 2.0
    if not score and not table("measures")["topics"][topic.name]["names"]:
        series = 0.0  # a topic without names is never meant by the series alone
    total = max(score, series) + 0.4 * min(score, series)
    if total <= 0:
        return 0.0, {}
    if active and topic.typical and topic.typical[0] <= m.value <= topic.typical[1] and m.kind == "decimal":
        total += 0.9
    unit = unit_of(note, topic.unit, m.value, topic.ranges)
    p_unit = next(
        (x.unit for x in reversed(previous) if x.facts.get("quantity") == topic.quantity and x.unit in topic.ranges),
        None,
    )
    if series > 0 and p_unit:
        unit = p_unit
    limits = topic.ranges.get(unit)
    if limits is None:
        return 0.0, {}
    if m.kind == "fraction" and m.value < 1:
        if topic.quantity != "length":
            return 0.0, {}
        if (m.value * 64).is_integer() and not (m.value * 4).is_integer() and unit == "in":
            total += 1.0  # sixteenths and thirty-seconds are inches
    value = m.within(*limits)
    if value is None:
        return 0.0, {}
    if not placed and not linked(note, m):
        total -= 0.8
    return total, {"unit": unit, "value": value}


def _event(note: Note, m: Mention, topic: Topic) -> float:
    """How surely the number is that at which something happens: "the fan came in at ninety four", "opens at 88"."""
    ends = [
        b for _, b in topic_cues(note, f"{topic.name} events") if 0 < m.first - b <= 2 and note.strange(b, m.first) == 0
    ]
    if not ends or m.dimension is not None:
        return 0.0
    near = any(0 < m.first - a <= 24 for a, _ in topic_cues(note, f"{topic.name} carriers")) or any(
        abs(a - m.first) <= 20 for a, _ in topic_cues(note, f"{topic.name} hints")
    )
    if near:
        m.facts["event"] = True
    return 3.0 if near else 0.0


def _heat_before(note: Note, m: Mention) -> bool:
    """True where it was said to run hot shortly before."""
    first = max(note.sentence(m.first)[0], m.first - 14)
    return any(
        (symptom := note.talk.words[i].symptom) is not None and symptom.data.get("class") == "heat"
        for i in range(first, m.first)
    )


def _trouble_at(note: Note, m: Mention) -> float:
    """How surely the number is the speed at which a trouble comes: "starts to hunt at about seventy"."""
    if m.first == 0 or note.words[m.first - 1] not in word_list("measures", "speed_links"):
        return 0.0
    strange = 0
    for i in range(m.first - 2, max(note.sentence(m.first)[0], m.first - 11) - 1, -1):
        word = note.talk.words[i]
        symptom = word.symptom
        if note.owner[i] >= 0:
            return 0.0
        if symptom is not None:
            return 2.9 if strange <= 1 and symptom.data.get("class") in table("measures")["speed_symptoms"] else 0.0
        known = word.thing is not None or word.place is not None or note.words[i] in word_list("scope", "frame")
        strange += not known
    return 0.0


def _active(note: Note, m: Mention, topic: Topic) -> bool:
    """True where the talk is of this topic: its words or figures came last, not those of another figure."""
    said = [
        b for kind in ("names", "things", "verbs") for a, b in topic_cues(note, f"{topic.name} {kind}") if b < m.first
    ]
    same = [x.last for x in note.mentions if x.last < m.first and x.facts.get("quantity") == topic.quantity]
    other = [x.last for x in note.mentions if x.last < m.first and _of_other(x, topic)]
    latest = max([*said, *same], default=-1)
    return latest >= 0 and m.first - latest <= 70 and latest > max(other, default=-1)


def _named(note: Note, m: Mention, topic: Topic) -> bool:
    return any(b < m.first and m.first - b <= LOOK_BACK for _, b in topic_cues(note, f"{topic.name} names"))


def _rating(note: Note, m: Mention) -> bool:
    """True for a fuse's rating, which starts no series of currents."""
    near = note.words[max(0, m.first - 6) : m.last + 4]
    return any(stem(w) in word_list("measures", "fusible") for w in near)


def _of_other(x: Mention, topic: Topic) -> bool:
    if x.role == "torque":
        return topic.places
    return x.role == "measure" and x.facts.get("quantity") != topic.quantity


def _compared(note: Note, m: Mention, topic: Topic, active: bool) -> bool:
    """True where the number is now what an earlier figure of the topic was before ("now it's one fifty nine")."""
    earlier = next(
        (x for x in reversed(note.mentions) if x.last < m.first and x.role == "measure" and _same(x, topic)), None
    )
    if (
        earlier is None
        or earlier.unit not in topic.ranges
        or not note.has("scope", "now_again", m.first - 3, m.last + 2)
    ):
        return False
    ratio = (m.value + 0.01) / (earlier.value + 0.01)
    return 0.2 <= ratio <= 5 if active else 0.6 <= ratio <= 1.6


def _same(x: Mention, topic: Topic) -> bool:
    return x.facts.get("quantity") == topic.quantity and x.facts.get("topic", topic.name) == topic.name


def _elsewhere(note: Note, m: Mention, topic: Topic) -> bool:
    """True where the last figure before was of something else, and nothing since has named the topic."""
    last = next((x for x in reversed(note.mentions) if x.last < m.first and x.role in ("measure", "torque")), None)
    if last is None or last.facts.get("quantity") == topic.quantity or m.first - last.last > 30:
        return False
    named = (b for kind in ("names", "things", "verbs") for a, b in topic_cues(note, f"{topic.name} {kind}"))
    return not any(last.last < b < m.first for b in named)


def _hinted(note: Note, m: Mention, topic: Topic) -> bool:
    soon = any(
        0 < a - m.last <= 6 for a, _ in topic_cues(note, f"{topic.name} verbs")
    )  # "had eighteen in it, blew it up"
    return soon or any(abs(b - m.first) <= 30 for _, b in topic_cues(note, f"{topic.name} hints"))


def topic_cues(note: Note, group: str) -> list[tuple[int, int]]:
    known = note.found.get(("topics", group))
    if known is None:
        words = topic_words()
        found = words.find(note.line, group) if group in words._patterns else []
        spans = [(note.index(f.start), note.index(f.end - 1)) for f in found]
        known = note.found[("topics", group)] = [(a, b) for a, b in spans if not _within_quantity(note, a)]
    return known


def _within_quantity(note: Note, i: int) -> bool:
    """True where a word belongs to a number's unit ("a hundred amp hour one" names no current)."""
    return note.owner[i] >= 0 and note.mentions[note.owner[i]].dimension not in (None, "pressure")


def _corners(note: Note) -> bool:
    """True where the numbers of two corners are told: tire pressures, if nothing else is named."""
    corners = set(table("measures")["corners"])
    told = 0
    for m in note.mentions:
        near = [
            note.place(i) for i in range(max(0, m.first - 4), min(len(note.words), m.last + 4)) if note.owner[i] < 0
        ]
        told += m.dimension is None and bool(corners & set(near))
    return told >= 2


def _place_beside(note: Note, m: Mention) -> bool:
    first, last = note.sentence(m.first)
    before = range(max(first, m.first - 6), m.first)
    after = range(m.last + 1, min(last, m.last + 3) + 1)
    for i in before:
        if note.place(i) is not None and not note.mention_between(i, m.first) and note.strange(i, m.first) <= 1:
            return True
    return any(note.place(i) is not None and note.strange(m.last, i) == 0 for i in after)
