"""Which figure a bare number is: the topics of `numeric_measures.toml`, scored by the words around the number."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from diary.language.idioms import Idioms
from diary.language.readers.fastening import priced_in_hundredths
from diary.language.readers.fuelling import refuelling
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
THICK = 60.0  # millimeters that a pad or a shim may have at most
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
        celsius = locale.distance == "km" or locale.pressure in ("bar", "kPa") or locale.volume == "L"
        return "degC" if celsius or (locale.volume == "gal_imp" and value <= 130) else "degF"
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
    if first > 0 and m.first - first <= 4 and not any(first <= t.first and t.last < m.first and t.hit for t in note.talk.things):
        floor = max(note.sentence(first - 1)[0], m.first - LOOK_BACK)  # "Put the meter across it. 8.4, 8.3"
    score, series = 0.0, 0.0
    if note.has("scope", "windy", max(first, m.first - 4), m.first - 1) or note.weather_after(m):
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
    if topic.quantity == "voltage" and m.kind == "decimal" and not elsewhere and _electric(note, m, topic):
        score = max(score, 2.7)
    if topic.quantity == "voltage" and priced_in_hundredths(note, m) and note.has("scope", "purchase", m.first - 5, m.last + 2):
        return 0.0, {}
    if topic.quantity == "speed" and not score and _after_a_fastener(note, m):
        return 0.0, {}
    if topic.name == "tire" and _other_part_before(note, m):
        return 0.0, {}
    below_zero = topic.quantity == "temperature" and m.value < 0 and m.dimension is None
    if below_zero and _of_the_machine(note, m) and not word_list("measures", "reported") & set(note.words[max(0, m.first - 6) : m.last + 5]):
        score = 2.6
    score = max(score, _event(note, m, topic))
    if topic.quantity == "mass" and not any(b < m.first and m.first - b <= 8 for _, b in topic_cues(note, "mass names")):
        again = [x for x in note.mentions if x.dimension == "mass" and x.last < m.first <= x.last + 14 and x.value == m.value]
        before = next((x for x in reversed(note.mentions) if x.last < m.first and not x.dropped), None)
        corner = before is not None and before.role == "measure" and before.facts.get("quantity") == "mass" and m.first - before.last <= 6
        if not again and not (corner and _place_beside(note, m)):
            return 0.0, {}
    if topic.quantity == "speed" and m.kind != "range" and not float(m.value).is_integer():
        return 0.0, {}
    if topic.name == "gap" and m.value >= 1 and priced_in_hundredths(note, m) and not _named(note, m, topic):
        return 0.0, {}  # "o-ring 3.20"
    only_thing = True
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
                    of_tires = topic.places and note.words[a] == "in" and bool(topic_cues(note, "tire things"))
                    score = max(score, weight - 1.2 if active or plain or of_tires else 0.9)
            elif b < m.first and a >= floor:
                if note.mention_between(
                    b, m.first, lambda x: x.role == "" or x.facts.get("quantity") == topic.quantity
                ):
                    continue
                far = 0.0 if listed else STRANGE * min(2, note.strange(b, m.first)) + 0.06 * (m.first - b)
                score = max(score, weight - far)
                only_thing = only_thing and kind in ("things", "hints")
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
    if series and previous and topic.quantity != "mass" and _other_topic(note, topic, previous[-1].last, m.first):
        series = 0.0
    if _compared(note, m, topic, active):
        score, series = max(score, 2.3), max(series, 0.1)
    placed = _place_beside(note, m)
    if (
        topic.places
        and placed
        and (active or _hinted(note, m, topic) or (topic.name == "tire" and not elsewhere and _corners(note)))
    ):
        score += 2.0
    unnamed = not score and not table("measures")["topics"][topic.name]["names"]
    if (unnamed or topic.quantity == "speed") and not _next_speed(note, m, topic, previous):
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
    nxt = m.last + 1
    if topic.name == "gap" and only_thing and not series and not note.has("topics", "gap after", m.last, m.last + 2):
        priced = unit == "mm" and m.value >= 10 and note.gaps[m.first] == 1 and (nxt >= len(note.words) or note.gaps[nxt] > 0)
        if unit == "thou" or m.value > THICK or priced:
            return 0.0, {}  # "pads 88, boot kit 40" are prices
    if topic.name == "resistance" and float(m.value).is_integer() and m.value <= 12 and (series or m.value == 1):
        return 0.0, {}  # numbers of the plugs that were measured
    limits = topic.ranges.get(unit)
    if limits is None:
        return 0.0, {}
    if m.kind == "fraction" and m.value < 1:
        if topic.quantity != "length":
            return 0.0, {}
        if (m.value * 64).is_integer() and not (m.value * 4).is_integer() and unit == "in":
            total += 1.0  # sixteenths and thirty-seconds are inches
    value = m.value if below_zero else m.within(*limits)
    if value is None:
        return 0.0, {}
    if not placed and not linked(note, m):
        total -= 0.8
    return total, {"unit": unit, "value": value}


def _after_a_fastener(note: Note, m: Mention) -> bool:
    """True where a fastener was named last and no trouble since: "he did the lug nuts, i went over them at 80"."""
    held = [t.last for t in note.talk.things if t.kind == "fastener" and t.last < m.first]
    first = max(note.sentence(m.first)[0], m.first - 8)
    troubles = [b for kind in ("things", "verbs", "pronouns") for _, b in topic_cues(note, f"speed {kind}") if b < m.first]
    return bool(held) and held[-1] >= first and max(troubles, default=-1) < held[-1]


def _next_speed(note: Note, m: Mention, topic: Topic, previous: list[Mention]) -> bool:
    """True for the rest of a list of speeds ("smooth at 58, 65 and 70")."""
    if topic.quantity != "speed" or not previous or m.first - previous[-1].last > 4:
        return False
    p = previous[-1]
    between = set(note.words[p.last + 1 : m.first])
    return p.role == "measure" and p.facts.get("quantity") == "speed" and p.value != m.value and between <= word_list("scope", "frame")


def _other_topic(note: Note, topic: Topic, after: int, before: int) -> bool:
    """True where words of another kind of figure, and none of this one, stand between ("oil 41 pounds. Charging is 6.9")."""

    def named(one: Topic, kinds: tuple[str, ...]) -> bool:
        return any(after < a and b < before for kind in kinds for a, b in topic_cues(note, f"{one.name} {kind}"))

    if named(topic, ("names", "things", "verbs", "refs")):
        return False
    # an inlet or a pad is named for many a reason, a battery or a hub only for its own figure
    return any(
        named(one, ("names",) if one.name == "gap" else ("names", "things")) for one in topics() if one.quantity != topic.quantity
    )


def _electric(note: Note, m: Mention, topic: Topic) -> bool:
    """True for a bare decimal of a battery's size where the talk is electrical ("14.1 on the input stud", "charged it, 12.7 today")."""
    low, high = topic.typical or (0.0, 0.0)
    near = set(note.words[max(0, m.first - 40) : m.first]) | set(note.words[m.last + 1 : m.last + 9])
    near |= {w[:-1] for w in near if w.endswith("s")}
    return low <= m.value <= high and bool(near & word_list("measures", "electric")) and not refuelling(note)


def _of_the_machine(note: Note, m: Mention) -> bool:
    """True where a part of the machine is named near, so that a cold morning is told for its sake."""
    return any(t.hit is not None and t.kind in ("component", "consumable") and abs(t.first - m.first) <= 16 for t in note.talk.things)


def _other_part_before(note: Note, m: Mention) -> bool:
    """True for "fork seals 38": the part named right before the number carries no air."""
    thing = next(iter(note.things_before(m.first, m.first - 3)), None)
    if thing is None or thing.kind != "component" or thing.hit is None or m.first - thing.last > 1:
        return False
    if set(thing.words) & word_list("measures", "gages"):
        return False  # "I used the gage, twenty nine front left"
    return not set(thing.words) & word_list("measures", "inflated") and not (set(thing.name.split()) & word_list("measures", "inflated"))


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
    return told >= 2 or _both_ends(note)


def _both_ends(note: Note) -> bool:
    """True for "front 36 rear 40 cold": two like numbers, one for each end, hot or cold."""
    bare = [m for m in note.mentions if m.dimension is None and not m.dropped and m.value >= 3]
    for m, n in zip(bare, bare[1:], strict=False):
        said = note.words[max(0, m.first - 3) : n.last + 5]
        ends = {"front", "rear"} <= {str(note.place(i)) for i in range(max(0, m.first - 3), min(len(note.words), n.last + 3))}
        if n.first - m.last <= 4 and ends and 0.4 <= m.value / n.value <= 2.5 and word_list("measures", "hot_or_cold") & set(said):
            return True
    return False


def _place_beside(note: Note, m: Mention) -> bool:
    first, last = note.sentence(m.first)
    before = range(max(first, m.first - 6), m.first)
    after = range(m.last + 1, min(last, m.last + 3) + 1)
    for i in before:
        if note.place(i) is not None and not note.mention_between(i, m.first) and note.strange(i, m.first) <= 1:
            return True
    return any(note.place(i) is not None and note.strange(m.last, i) == 0 for i in after)
