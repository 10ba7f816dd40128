"""What each number of a note is: an odometer, a fuel volume, a torque, a pressure, or nothing that is kept.

Every number with a unit is judged by its unit and the talk around it; a bare number goes to the role whose words stand nearest and
best, if a reading of it is a value that role can have. Readers turn the roles into records.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from diary.language.idioms import Idioms
from diary.language.readers.fuelling import FUEL_UNITS, SCENE, fuel_score, fuelled
from diary.language.readers.numeric import Mention, Note, table, word_list
from diary.language.readers.phrases import Thing
from diary.language.text import stem

WEIGHTS = {"names": 3.0, "things": 2.0, "refs": 2.0, "pronouns": 2.0, "verbs": 2.0, "hints": 1.0, "after": 3.0}
ENOUGH = 1.6  # a bare number with less evidence is left alone
LOOK_BACK = 16  # words before a number in which a topic may be named
STRANGE = 0.7  # what each word costs that does not belong between a word and its number
ODOMETER_STEP = 6000.0  # an unnamed number this far above the last odometer reading may be the next one
DISTANCE = ("mi", "km")
MEASURED = {
    "pressure": "pressure",
    "voltage": "voltage",
    "current": "current",
    "resistance": "resistance",
    "temperature": "temperature",
    "speed": "speed",
    "mass": "mass",
    "time": "time",
}  # unit dimension to quantity; lengths and volumes are told apart below
TORQUE_RANGE = {"ft_lb": (1.0, 900.0), "in_lb": (3.0, 600.0), "N_m": (1.0, 1200.0)}


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
        Topic(name, raw["quantity"], raw["unit"], raw.get("places", False), {u: (lo, hi) for u, (lo, hi) in raw["range"].items()},
              tuple(raw.get("typical", ())))
        for name, raw in table("measures")["topics"].items()
    )


@cache
def topic_words() -> Idioms:
    """The phrases of all topics, as groups "topic weight"."""
    raw = table("measures")
    groups = {f"{name} {kind}": t[kind] for name, t in raw["topics"].items() for kind in WEIGHTS if t.get(kind)}
    return Idioms(groups, raw["classes"])


def assigned(note: Note) -> Note:
    """The note with a role on every number that has one; done once."""
    if "assigned" not in note.memo:
        note.memo["assigned"] = True
        before: Mention | None = None
        for m in note.mentions:
            foreign = before is not None and "foreign" in before.facts and _of_the_same(note, before, m)
            before = m
            if not note.counts(m) or foreign:
                if foreign or note.foreign(m):
                    m.facts["foreign"] = True
                continue
            if m.dimension:
                _by_unit(note, m)
            else:
                _by_words(note, m)
    return note


def _of_the_same(note: Note, before: Mention, m: Mention) -> bool:
    """True where a pronoun ties the number to what the one before belongs to ("her car was at eighteen so i pumped it to thirty")."""
    if m.dimension is not None or m.first - before.last > 12 or note.sentence(before.last) != note.sentence(m.first):
        return False
    return bool(set(note.words[m.first - 3 : m.first]) & {"it", "them", "those"}) and not note.has("scope", "own", before.last, m.first)


def of_role(note: Note, *roles: str) -> list[Mention]:
    """The numbers that have one of the roles, in order."""
    return [m for m in assigned(note).mentions if m.role in roles]


# ---- numbers with a unit --------------------------------------------------------------------------------------------


def _by_unit(note: Note, m: Mention) -> None:
    unit, dimension = m.unit or "", m.dimension
    if unit == "g" and fuel_score(note, m) >= 2:
        m.role = "fuel"
    elif "/" in unit and unit.split("/")[1] in FUEL_UNITS:
        m.role = "unit_price"
    elif dimension == "money":
        m.role = "unit_price" if per_unit(note, m) else "price"
    elif dimension == "torque":
        m.role = "" if note.has("torques", "turning", max(0, m.first - 5), m.last + 4) else "torque"
    elif unit in ("deg", "degF", "degC", "turn") and _angle(note, m):
        m.role = "angle"
    elif unit in DISTANCE:
        meter, score, facts = _meter(note, m)
        if score >= 2.5:
            m.role = meter
            m.facts.update(facts)
        elif _next_odometer(note, m) and refuelling(note):
            m.role = "odometer"
        else:
            m.role = "distance"
    elif unit == "h":
        meter, score, facts = _meter(note, m)
        last = note.context.meters.get("hours")
        if meter == "hours" and score >= 2.5:
            m.role = "hours"
            m.facts.update(facts)
        elif note.context.locale.distance == "h" and last and 0 <= m.value - last[0] <= 200 and m.value > 50:
            m.role = "hours"
        elif note.context.locale.distance == "h" and not last and m.value >= 100 and m.first and note.words[m.first - 1] in ("at", "on"):
            m.role = "hours"
    elif dimension == "volume":
        if fuel_score(note, m) >= 2:
            m.role = "fuel"
        elif (_near(note, m, "volume", 14, 5) or note.has("fills", "fluid", m.first - 3, m.last + 4)) and not _shopping(note, m) and (unit not in FUEL_UNITS or _fluid_near(note, m)):
            m.role, m.facts["quantity"] = "measure", "volume"
    elif dimension == "length":
        if (
            _near(note, m, "length", 12, 6)
            and not _adjective(note, m)
            and not _shopping(note, m)
            and not note.has("scope", "made_with", max(0, m.first - 8), m.first - 1)
            and not note.has("scope", "weather", max(0, m.first - 6), m.last + 4)
        ):
            m.role, m.facts["quantity"] = "measure", "length"
    elif dimension == "time":
        if unit in ("s", "min", "ms") and _near(note, m, "time", 14, 8) and not _near(note, m, "not_time", 10, 5):
            m.role, m.facts["quantity"] = "measure", "time"
    elif dimension in MEASURED:
        m.role, m.facts["quantity"] = "measure", MEASURED[dimension]
        if (
            (dimension == "speed" and not _speed_counts(note, m))
            or (dimension == "temperature" and _is_weather(note, m))
            or (dimension == "mass" and unit == "lb" and _pounds(note, m))
            or (dimension == "mass" and m.dimension == "mass" and (_shopping(note, m) or not _near(note, m, "mass", 25, 8)))
            or (dimension in ("voltage", "pressure") and _adjective(note, m))
            or (unit == "A" and (m.kind == "rating" or _adjective(note, m)) and not _fused(note, m))
            or (unit == "V" and note.words[m.last] == "volt" and m.value in table("measures")["system_volts"])
        ):
            m.role = ""
            m.facts.pop("quantity", None)
    if m.role == "measure" and (not _measured(note, m) or any(b == m.first - 1 for _, b in note.cues("scope", "to_do"))):
        m.role = ""


def _pounds(note: Note, m: Mention) -> bool:
    """Read "pounds" that stand near nothing weighed as pressure or torque, where the talk is of that; True where it is neither."""
    if _near(note, m, "mass", 6, 6):
        return False
    meant = {unit for _, unit, likely in m.readings if likely >= 0.1}
    if "psi" in meant and note.context.locale.pressure == "psi":
        for topic in topics():
            score, _ = _topic_score(note, m, topic) if topic.quantity == "pressure" else (0.0, {})
            if score >= ENOUGH:
                m.unit, m.dimension = "psi", "pressure"
                m.facts.update(quantity="pressure", topic=topic.name)
                return False
    return not _near(note, m, "mass", 25, 8)


def _angle(note: Note, m: Mention) -> bool:
    """True for degrees or turns that follow a torque: "forty four foot pounds plus sixty degrees"."""
    torque = next((x for x in reversed(note.mentions) if x.last < m.first), None)
    if torque is None or torque.role != "torque" or m.first - torque.last > 6:
        return False
    return note.has("torques", "plus", torque.last + 1, m.last) or note.words[m.first] == "plus"


def per_unit(note: Note, m: Mention) -> bool:
    """True where the sum is a price of one gallon or liter."""
    return any(a - 1 == m.last for a, _ in note.cues("fills", "per_unit"))


def _near(note: Note, m: Mention, group: str, back: int, ahead: int) -> bool:
    """True where a word of the list `near.group` stands within so many words, in the same sentence."""
    words = _near_words(group)
    first, last = note.sentence(m.first)
    first = note.sentence(first - 1)[0] if first > 0 else first
    before = range(max(first, m.first - back), m.first)
    after = range(m.last + 1, min(last, m.last + ahead) + 1)
    return any(note.words[i] in words or stem(note.words[i]) in words for i in (*before, *after)) or any(
        " ".join(note.words[i : i + 2]) in words for i in (*before, *after)
    )


@cache
def _near_words(group: str) -> frozenset[str]:
    return frozenset(w.replace("'", "") for w in table("measures")["near"][group])


def _fluid_near(note: Note, m: Mention) -> bool:
    """True where a fluid, a can that is filled or fuel moved about is named beside the volume."""
    first, last = max(note.sentence(m.first)[0], m.first - 10), m.last + 8
    return any(note.has("fills", group, first, last) for group in ("fluid", "vessel", "shifted", "holds_fluid"))


def _shopping(note: Note, m: Mention) -> bool:
    """True where the amount is one bought: a shop word before it, or a price right after it."""
    following = next((x for x in note.mentions if x.first > m.last), None)
    if following and following.dimension == "money" and following.first - m.last <= 7 and not note.has("fills", "put", m.first - 6, m.first):
        return True
    return note.has("scope", "purchase", max(0, m.first - 5), m.last + 1)


def _adjective(note: Note, m: Mention) -> bool:
    """True where the number with its unit only describes the thing named next: "ten millimeter socket", "twelve volt fridge"."""
    nxt = m.last + 1
    if nxt >= len(note.words) or note.gaps[nxt] or note.words[m.last] not in word_list("measures", "singular_units"):
        return False
    thing = note.talk.words[nxt].thing
    if note.words[m.last] in word_list("measures", "attributive") and m.value != 1 and note.words[nxt] not in word_list("scope", "after"):
        return note.owner[nxt] < 0 and not _clause_opens(note, nxt) and not _verb(note, nxt)
    return (thing is not None and thing.kind != "place_of") or note.words[nxt] in _near_words("not_measured_nouns")


def _speed_counts(note: Note, m: Mention) -> bool:
    if note.has("scope", "traffic", m.first - 8, m.last + 4):
        return False
    return _topic_score(note, m, next(t for t in topics() if t.name == "speed"))[0] >= 1


def _fused(note: Note, m: Mention) -> bool:
    """True where a fuse or breaker is named near the rating."""
    near = note.words[max(0, m.first - 12) : m.last + 9]
    return any(stem(w) in ("fuse", "breaker") for w in near)


def _is_weather(note: Note, m: Mention) -> bool:
    angle = frozenset(table("measures")["near_temperature"]["angle"])
    near = (*note.words[max(0, m.first - 4) : m.first], *note.words[m.last + 1 : m.last + 4])
    if m.unit == "deg" or angle & {stem(w) for w in near}:
        return True
    words = frozenset(table("measures")["near_temperature"]["weather"])
    first, last = note.sentence(m.first)
    near = note.words[max(first, m.first - 4) : m.first] + note.words[m.last + 1 : min(last, m.last + 3) + 1]
    return any(w in words for w in near) and not any(note.talk.words[i].thing for i in range(max(first, m.first - 6), m.first))


# ---- bare numbers ---------------------------------------------------------------------------------------------------


def _by_words(note: Note, m: Mention) -> None:
    if m.kind == "money":
        m.role = "unit_price" if per_unit(note, m) else "price"
        return
    if m.kind == "rating" or (m.value == 1 and note.words[m.first] == "one" and m.first == m.last and note.gaps[m.first] == 0) or _grade(note, m) or any(0 < a - m.last <= 1 for a, _ in note.cues("scope", "priced")):
        return
    priced = note.nearest_before("scope", "price_before", m.first, 6)
    if priced and not note.mention_between(priced[1], m.first) and not refuelling(note):
        return
    best: tuple[float, str, dict[str, Any]] = (ENOUGH, "", {})
    meter, score, facts = _meter(note, m)
    if score > best[0]:
        best = (score, meter, facts)
    if not _counts_next(note, m):
        sum_said = _sounds_like_money(note, m)
        for score, role, facts in (_fuel(note, m), _price(note, m)) if sum_said else (_torque(note, m), _fuel(note, m), _price(note, m)):
            if score > best[0]:
                best = (score, role, facts)
        for topic in () if sum_said else topics():
            score, facts = _topic_score(note, m, topic)
            if score > best[0]:
                best = (score, "measure", {"quantity": topic.quantity, "topic": topic.name, **facts})
        if best[1] == "" and _next_hours(note, m):
            best = (2.0, "hours", {})
        if best[1] == "" and _next_odometer(note, m) and ("near_last" in m.facts or refuelling(note) or any(x.role == "odometer" for x in note.mentions) or len(note.words) <= m.last - m.first + 3):
            best = (2.0, "odometer", {})
    _, role, facts = best
    m.role = role
    m.facts.update(facts)
    if facts.get("value") is not None:
        m.value = facts["value"]
    if role == "measure" and not _measured(note, m):
        m.role = ""
    elif role == "torque":
        m.unit = facts["unit"]
    elif role == "measure":
        m.unit = facts["unit"]


def _grade(note: Note, m: Mention) -> bool:
    """True for the grade of an oil: "six quarts of fifteen forty"."""
    return m.first >= 2 and note.words[m.first - 1] == "of" and note.owner[m.first - 2] >= 0 and (
        note.mentions[note.owner[m.first - 2]].dimension == "volume"
    )


def _counts_next(note: Note, m: Mention) -> bool:
    """True where the number counts what is named next ("two bolts", "thirty of us") or said before ("all four")."""
    whole = float(m.value).is_integer()
    if whole and m.value <= 12 and any(b == m.first - 1 for _, b in note.cues("scope", "quantifiers")):
        return True
    nxt = m.last + 1
    if nxt >= len(note.words) or note.gaps[nxt] or note.owner[nxt] >= 0 or not whole:
        return False
    word = note.words[nxt]
    if m.value <= 12 and word in ("is", "are", "was", "were") and (m.first == 0 or note.words[m.first - 1] in ("so", "and", "but", "number", "the")):
        return True  # "so three is dead": a number that stands for a thing
    if word in word_list("scope", "after"):
        return word == "of" and m.value < 100
    if note.talk.words[nxt].place is not None:
        return False
    thing = next((t for t in note.talk.things if t.first <= nxt <= t.last), None)
    if thing is not None:
        return m.value == 1 or note.words[thing.last].endswith("s")
    return word in word_list("scope", "plurals") or word.endswith("s") and not _clause_opens(note, nxt) and not _verb(note, nxt)


def _verb(note: Note, i: int) -> bool:
    word = note.talk.words[i]
    return word.action is not None or (word.symptom is not None and not word.symptom.data.get("noun")) or word.fold in _everyday_verbs()


@cache
def _everyday_verbs() -> frozenset[str]:
    from diary.language.syntax import everyday_verbs

    return frozenset(everyday_verbs())


def _sounds_like_money(note: Note, m: Mention) -> bool:
    """True for dollars and cents said without the words: "nineteen ninety five" meaning 19.95, "17.90" in a shop."""
    said = note.utterance.text[m.start : m.end]
    return _has_cents(m.value) and m.value > 1 and "point" not in said and "." not in said


def _has_cents(value: float) -> bool:
    return abs(value * 100 - round(value * 100)) < 1e-6 and abs(value * 10 - round(value * 10)) > 1e-6


def _clause_opens(note: Note, i: int) -> bool:
    clause = note.clause(i)
    return clause is not None and note.utterance.tokens[i].start <= clause.start


def _meter(note: Note, m: Mention) -> tuple[str, float, dict[str, Any]]:
    """(meter, score, value and cue): the meter that the number was read from."""
    best: tuple[str, float, dict[str, Any]] = ("", 0.0, {})
    floor = note.sentence(m.first)[0]
    for meter, ranges in (("odometer", (10, 5e6)), ("trip", (0.1, 5000)), ("hours", (0.1, 2e5))):
        value = m.within(*ranges)
        if value is None:
            continue
        groups = [f"{meter}_before"]
        if meter == "hours" and note.context.locale.distance == "h":
            groups.append("plain_meter")
        for group in groups:
            for a, b in note.cues("meters", group):
                if not (floor <= b < m.first and m.first - b <= 9) or note.owner[b] >= 0 or note.mention_between(b, m.first):
                    continue
                if (meter == "trip" and note.has("meters", "no_trip", a - 1, b + 2)) or note.has("meters", "no_meter", a - 2, b + 2):
                    continue
                score = 4.0 - note.strange(b, m.first) - 0.05 * (m.first - b)
                if score > best[1]:
                    best = (meter, score, {"value": value, "cue": a})
        named = [b for a, b in note.cues("meters", f"{meter}_before") if b < m.first and m.first - b <= 16]
        if named and not any(
            named[-1] < b < m.first for other in ("odometer", "trip", "hours") if other != meter for _, b in note.cues("meters", f"{other}_before")
        ):
            for a, b in note.cues("meters", "meter_pronoun"):
                if any(t.kind == "component" and named[-1] < t.first < a for t in note.talk.things) or value < (100 if meter == "odometer" else 0):
                    continue
                if named[-1] < a and b < m.first and note.strange(b, m.first) == 0 and m.first - b <= 3 and best[1] < 3:
                    best = (meter, 3.0, {"value": value, "cue": a})
        for a, b in note.cues("meters", f"{meter}_after"):
            if m.last <= a <= m.last + 2 and b > m.last and not note.mention_between(m.last, a) and 4.6 - 0.3 * (a - m.last) > best[1]:
                best = (meter, 4.6 - 0.3 * (a - m.last), {"value": value, "cue": m.first})
    return best


def _next_odometer(note: Note, m: Mention) -> bool:
    """True where an unnamed number fits as the next odometer reading."""
    earlier = [x for x in note.mentions if x.role == "odometer" and x.last < m.first]
    if earlier and m.unit is None:
        return not m.approx and 0 < m.value - earlier[-1].value <= ODOMETER_STEP / 2 and earlier[-1].value >= 1000
    last = note.context.meters.get("odometer")
    if m.approx or m.value < 1000:
        return False
    if last is not None and m.value >= 10000 and 0 < m.value - last[0] <= 1500 and m.value % 100 and _linked(note, m):
        m.facts["near_last"] = True
    if last is None:
        return m.value >= 5000 and (m.unit in DISTANCE or (m.value >= 20000 and m.value % 1000 != 0))
    return 0 <= m.value - last[0] <= ODOMETER_STEP


def _next_hours(note: Note, m: Mention) -> bool:
    """True where an unnamed number fits as the next reading of the hour meter of a machine that counts hours."""
    last = note.context.meters.get("hours")
    if last is None or note.context.locale.distance != "h" or m.approx or last[0] < 50:
        return False
    return 0 <= m.value - last[0] <= 100 and _linked(note, m)


def is_fastener(thing: Thing, sure: bool = False) -> bool:
    """True where the thing is something that is tightened to a torque."""
    if thing.hit is not None and thing.hit.kind == "fastener":
        return True
    last = stem(thing.words[-1]) if thing.words else ""
    return last in table("torques")["sure_heads" if sure else "heads"]


def beside(note: Note, thing: Thing) -> bool:
    """True for a thing that only says where another is: "the sticker on the swingarm", "lug nuts on that wheel"."""
    i = thing.first - 1
    if i >= 1 and note.words[thing.first] in ("that", "those", "these") and note.words[i] in ("for", "on"):
        return True
    while i > 0 and note.words[i] in ("the", "that", "this", "my", "each"):
        i -= 1
    if i < 1 or note.words[i] not in ("on", "of", "off", "from", "under", "in", "inside", "behind", "for", "at", "onto"):
        return False
    if note.owner[i - 1] >= 0 and i >= 2 and note.words[i - 2] in ("all", "the", "both"):
        return True  # "all eight on that wheel"
    return any(note.talk.words[k].thing is not None and note.owner[k] < 0 for k in range(max(0, i - 2), i))


def figure_of_speech(note: Note, thing: Thing) -> bool:
    """True for "driving me nuts" and "one of the good screw kind"."""
    before = note.words[thing.first - 1] if thing.first else ""
    after = note.words[thing.last + 1] if thing.last + 1 < len(note.words) else ""
    return before in word_list("torques", "no_fastener_after") or after in word_list("torques", "no_fastener_before")


def _torque(note: Note, m: Mention) -> tuple[float, str, dict[str, Any]]:
    nothing: tuple[float, str, dict[str, Any]] = (0.0, "", {})
    unit = note.context.locale.torque
    value = m.within(*TORQUE_RANGE.get(unit, (1.0, 900.0)))
    if value is None:
        return nothing
    score, how = 0.0, {}
    first, _ = note.sentence(m.first)
    for thing in note.things_before(m.first, max(first, m.first - 12)):
        if thing.kind in ("tool", "consumable", "place_of") or beside(note, thing):
            continue
        if is_fastener(thing) and not figure_of_speech(note, thing):
            if not note.mention_between(thing.last, m.first, lambda x: x.value <= 12 and x.dimension is None and not x.role):
                strange = note.strange(thing.last, m.first) - sum(
                    1 for w in note.between(thing.last, m.first) if stem(w) in ("torqued", "tightened", "snugged", "spec")
                )
                series = any(x.role == "torque" and 0 <= thing.first - x.last <= 6 for x in note.mentions)
                sure = is_fastener(thing, True) or series or note.has("torques", "tightened", max(first, thing.first - 4), m.first)
                score = (3.4 if sure else 1.0) - strange - 0.05 * (m.first - thing.last)
            break
        if thing.kind == "component" or m.first - thing.last > 6:
            break
    if any(thing for thing in note.talk.things if m.last + 1 < thing.first <= m.last + 4 and note.words[m.last + 1] in ("on", "for") and note.words[m.last + 2] not in ("a", "an", "another", "some") and is_fastener(thing, True) and note.strange(m.last, thing.first) == 0):
        score = max(score, 2.6)
    if note.words[m.last + 1 : m.last + 2] == ["on"] and note.words[m.last + 2 : m.last + 3] in (["them"], ["it"], ["those"], ["each"], ["both"], ["all"], ["that"]):
        if any(x.role == "torque" for x in note.mentions if x.last < m.first) or any(
            is_fastener(t, True) for t in note.things_before(m.first, m.first - 15)
        ):
            score = max(score, 2.4)
    says = note.nearest_before("scope", "document_says", m.first, 3)
    if says and note.strange(says[1], m.first) == 0 and any(is_fastener(t, True) for t in note.things_before(m.first, m.first - 15)):
        score = max(score, 2.2)
    for a, b in note.cues("torques", "pronoun"):
        if b < m.first <= b + 3 and note.strange(b, m.first) == 0:
            plainly = note.words[a] in word_list("torques", "plain")
            earlier = any(is_fastener(t, not plainly) for t in note.things_before(a, max(0, a - 60)))
            torqued = any(x.role == "torque" for x in note.mentions if x.last < m.first)
            strong = b - a >= 1
            if (earlier and strong) or torqued:
                score = max(score, 3.2 if strong else 1.9)
    previous = [x for x in note.mentions if x.last < m.first and x.role == "torque"]
    if previous and m.first - previous[-1].last <= 14 and not note.mention_between(previous[-1].last, m.first):
        if note.has("scope", "document", previous[-1].last + 1, m.first) or note.has("scope", "document_says", previous[-1].last + 1, m.first) or note.has("scope", "should", previous[-1].last + 1, m.first):
            score = max(score, 2.6 - 0.2 * note.strange(previous[-1].last, m.first))
        elif note.has("torques", "applied", previous[-1].last + 1, m.first - 1):
            parts = [t for t in note.talk.things if previous[-1].last < t.first and t.last < m.first]
            troubled = any(note.talk.words[i].symptom is not None for i in range(previous[-1].last + 1, m.first))
            if troubled or any(t.kind == "component" and not is_fastener(t) and not beside(note, t) for t in parts):
                return (score if score > 2.6 else 0.0), "torque", {"unit": unit, "value": value}
            inside = sum(t.last - t.first + 1 for t in parts)
            score = max(score, 2.4 - 0.5 * max(0, note.strange(previous[-1].last, m.first) - inside))
        how["after"] = previous[-1]
    if score <= 0:
        return nothing
    return score, "torque", {"unit": unit, "value": value, **how}


def _put_in(note: Note, m: Mention) -> bool:
    """True for "put nine in it ... not full", though nothing else says fuel."""
    put = note.nearest_before("fills", "put", m.first, 2)
    into = any(a == m.last + 1 for a, _ in note.cues("fills", "into"))
    return put is not None and into and note.has("fills", "partial", m.last, m.last + SCENE) and not note.has("fills", "fluid", 0, len(note.words))


def refuelling(note: Note) -> bool:
    """True where the note tells of a fill, by its words or by a volume of fuel."""
    return bool(fuelled(note)) or any(x.role == "fuel" for x in note.mentions)


def _fuel(note: Note, m: Mention) -> tuple[float, str, dict[str, Any]]:
    value = m.within(0.2, 400)
    if value is not None and not refuelling(note) and _put_in(note, m):
        return 2.5, "fuel", {"value": value}
    if value is None or not refuelling(note):
        return 0.0, "", {}
    known = any(x.role == "fuel" and x.unit for x in note.mentions)
    if any(0 < a - m.last <= 1 for a, _ in note.cues("fills", "total")) and any(x.role == "fuel" for x in note.mentions):
        return 3.0, "fuel", {"value": value}
    if known:
        part = any(0 < a - m.last <= 1 for a, _ in note.cues("fills", "from_vessel"))
        last = [x.last for x in note.mentions if x.role == "fuel" and x.last < m.first]
        again = [a for a, b in fuelled(note) if last and last[-1] < a and b < m.first and m.first - b <= 4 and note.words[a] not in word_list("fills", "complements")]
        return (2.5 if part or (again and fuel_score(note, m) >= 2) else 0.0), "fuel", {"value": value}
    bare = [x for x in note.mentions if x.role == "fuel" and x.last < m.first]
    if bare and not any(bare[-1].last < a < m.first and note.words[a] not in word_list("fills", "complements") for a, _ in fuelled(note)):
        return 0.0, "", {}
    score = fuel_score(note, m)
    return (score if score >= 2 else 0.0), "fuel", {"value": value}


def _price(note: Note, m: Mention) -> tuple[float, str, dict[str, Any]]:
    if not refuelling(note):
        return 0.0, "", {}
    value = m.within(0.5, 999)
    if value is None:
        return 0.0, "", {}
    if per_unit(note, m):
        return 5.0, "unit_price", {"value": m.within(0.3, 15) or value}
    score = 0.0
    fuels = [x for x in note.mentions if x.role == "fuel" and x.first < m.first]
    volume = fuels[-1].value if fuels else None
    near = bool(fuels) and m.first - fuels[-1].last <= 25
    if any(0 < a - m.last <= 1 for a, _ in note.cues("fills", "paid_after")):
        score = 2.8
    before = note.nearest_before("fills", "paid", m.first, 3)
    if before and note.strange(before[1], m.first) == 0 and near:
        score = max(score, 2.5)
    if near and (note.words[m.first - 1] == "at" or note.at_sign(m)) and m.first - fuels[-1].last <= 4:
        each = [v for v in (m.value, *(r[0] for r in m.readings)) if 0.4 <= v <= 12 and not float(v).is_integer()]
        if each:
            return 2.9, "unit_price", {"value": each[0]}
    off = note.gaps[m.first] and (m.last + 1 == len(note.words) or note.gaps[m.last + 1])  # set off by commas
    if near and m.kind == "decimal" and score == 0 and note.gaps[m.first] and m.first - fuels[-1].last <= (12 if off else 2):
        score = 2.3
    if near and score == 0 and m.first - fuels[-1].last <= 8:
        cents = [v for v in (m.value, *(r[0] for r in m.readings)) if not float(v).is_integer()]
        if cents and "point" not in note.words[m.first : m.last + 1] and "." not in note.utterance.text[m.start : m.end]:
            score, value = 2.2, cents[0]
    if near and score == 0 and m.first - fuels[-1].last <= 2 and volume and 0.8 <= value / volume <= 9:
        score = 2.0  # "fourteen point nine gallons sixty one even"
    if score and volume:
        money = [v for v in (m.value, *(r[0] for r in m.readings)) if 0.25 <= v / volume <= 12]
        if not money:
            return 0.0, "", {}
        value = money[0]
    return score, "price", {"value": value}


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


def _topic_score(note: Note, m: Mention, topic: Topic) -> tuple[float, dict[str, Any]]:
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
    if topic.quantity == "current" and active and m.first and note.words[m.first - 1] in table("measures")["fuses"]["before"]:
        score = 2.4 if m.value in table("measures")["fuses"]["ratings"] else 0.0
    for kind, weight in WEIGHTS.items():
        group = f"{topic.name} {kind}"
        if (kind == "refs" and elsewhere) or (kind == "pronouns" and not active):
            continue
        for a, b in _topic_cues(note, group):
            if kind == "after":
                if 0 < a - m.last <= 1 and b <= last:
                    score = max(score, weight - 1.2 if active else 0.9)
            elif b < m.first and a >= floor:
                if note.mention_between(b, m.first, lambda x: x.role == "" or x.facts.get("quantity") == topic.quantity):
                    continue
                far = 0.0 if listed else STRANGE * min(2, note.strange(b, m.first)) + 0.06 * (m.first - b)
                score = max(score, weight - far)
    if active and any(0 < a - m.last <= 1 for a, _ in _topic_cues(note, f"{topic.name} after")):
        score += 1.0
    for a, b in _topic_cues(note, f"{topic.name} names"):
        if m.last < a <= m.last + 4 and b <= last and note.strange(m.last, a) == 0 and not note.mention_between(m.last, a):
            score = max(score, 2.8)
    previous = [x for x in note.mentions if x.last < m.first and (x.role or "quantity" in x.facts) and "foreign" not in x.facts]
    if previous:
        p = previous[-1]
        if p.facts.get("quantity") == topic.quantity and (p.facts.get("topic", topic.name) == topic.name):
            gap = m.first - p.last
            if gap <= 22:
                series = 2.6 - 0.06 * gap - 0.35 * min(3, note.strange(p.last, m.first))
    again = [
        x for x in note.mentions
        if x.last < m.first and x.role == "measure" and x.facts.get("quantity") == topic.quantity and x.facts.get("topic", topic.name) == topic.name
    ]  # fmt: skip
    if again and 0.4 <= (m.value + 0.01) / (again[-1].value + 0.01) <= 2.5 and note.has("scope", "now_again", m.first - 3, m.last + 2):
        if again[-1].unit in topic.ranges and (active or 0.6 <= (m.value + 0.01) / (again[-1].value + 0.01) <= 1.6):
            score = max(score, 2.3)
            series = max(series, 0.1)
    placed = _place_beside(note, m)
    if active and topic.typical and topic.typical[0] <= m.value <= topic.typical[1] and m.kind == "decimal":
        score += 0.9
    if topic.places and placed and (active or _hinted(note, m, topic)):
        score += 2.0
    total = max(score, series) + 0.4 * min(score, series)
    if total <= 0:
        return 0.0, {}
    unit = unit_of(note, topic.unit, m.value, topic.ranges)
    p_unit = next((x.unit for x in reversed(previous) if x.facts.get("quantity") == topic.quantity and x.unit in topic.ranges), None)
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
    if not placed and not _linked(note, m):
        total -= 0.8
    return total, {"unit": unit, "value": value}


def _heat_before(note: Note, m: Mention) -> bool:
    """True where it was said to run hot shortly before."""
    first = max(note.sentence(m.first)[0], m.first - 14)
    return any(
        (symptom := note.talk.words[i].symptom) is not None and symptom.data.get("class") == "heat" for i in range(first, m.first)
    )


def _trouble_at(note: Note, m: Mention) -> float:
    """How surely the number is the speed at which a trouble comes: "starts to hunt at about seventy"."""
    if m.first == 0 or note.words[m.first - 1] not in word_list("measures", "speed_links"):
        return 0.0
    for i in range(m.first - 1, max(note.sentence(m.first)[0], m.first - 8) - 1, -1):
        symptom = note.talk.words[i].symptom
        if note.owner[i] >= 0:
            return 0.0
        if symptom is not None:
            return 2.2 if symptom.data.get("class") in table("measures")["speed_symptoms"] and note.strange(i, m.first) <= 1 else 0.0
    return 0.0


def _active(note: Note, m: Mention, topic: Topic) -> bool:
    """True where the talk is of this topic: its words or figures came last, not those of another figure."""
    said = [b for kind in ("names", "things", "verbs") for a, b in _topic_cues(note, f"{topic.name} {kind}") if b < m.first]
    same = [x.last for x in note.mentions if x.last < m.first and x.facts.get("quantity") == topic.quantity]
    other = [
        x.last for x in note.mentions
        if x.last < m.first and ((x.role == "torque" and topic.places) or (x.role == "measure" and x.facts.get("quantity") != topic.quantity))
    ]  # fmt: skip
    latest = max([*said, *same], default=-1)
    return latest >= 0 and m.first - latest <= 70 and latest > max(other, default=-1)


def _elsewhere(note: Note, m: Mention, topic: Topic) -> bool:
    """True where the last figure before was of something else, and nothing since has named the topic."""
    last = next((x for x in reversed(note.mentions) if x.last < m.first and x.role in ("measure", "torque")), None)
    if last is None or last.facts.get("quantity") == topic.quantity or m.first - last.last > 30:
        return False
    named = (b for kind in ("names", "things", "verbs") for a, b in _topic_cues(note, f"{topic.name} {kind}"))
    return not any(last.last < b < m.first for b in named)


def _hinted(note: Note, m: Mention, topic: Topic) -> bool:
    return any(abs(b - m.first) <= 30 for _, b in _topic_cues(note, f"{topic.name} hints"))


def _topic_cues(note: Note, group: str) -> list[tuple[int, int]]:
    known = note.found.get(("topics", group))
    if known is None:
        words = topic_words()
        found = words.find(note.line, group) if group in words._patterns else []
        known = note.found[("topics", group)] = [(note.index(f.start), note.index(f.end - 1)) for f in found]
    return known


def _linked(note: Note, m: Mention) -> bool:
    """True where a word before the number ties it to something ("at", "was", "to"), or a thing, place or number stands there."""
    if m.first == 0 or note.gaps[m.first] or note.at_sign(m) or note.place(m.first - 1) is not None or note.talk.words[m.first - 1].action is not None:
        return True
    i = m.first - 1
    word = note.talk.words[i]
    return note.words[i] in word_list("scope", "frame") or word.thing is not None or word.place is not None or word.symptom is not None or note.owner[i] >= 0


def _place_beside(note: Note, m: Mention) -> bool:
    first, last = note.sentence(m.first)
    before = range(max(first, m.first - 6), m.first)
    after = range(m.last + 1, min(last, m.last + 3) + 1)
    for i in before:
        if note.place(i) is not None and not note.mention_between(i, m.first) and note.strange(i, m.first) <= 1:
            return True
    return any(note.place(i) is not None and note.strange(m.last, i) == 0 for i in after)


def _measured(note: Note, m: Mention) -> bool:
    """False where the figure is what it should be or usually is, what others say, or was not measured."""
    clause = m.clause
    if clause is not None and (clause.planned or (clause.negated and not note.has("scope", "negation_only", m.first - 8, m.last + 3))):
        start = note.index(clause.start)
        planned = clause.planned and any(note.has("scope", group, start, m.first) for group in ("future", "modal", "to_do"))
        denied = [b for _, b in note.cues("scope", "negation") if start <= b < m.first]
        if planned or (denied and m.first - denied[-1] <= 5 and not note.has("scope", "negation_only", m.first - 8, m.last)):
            return False
    says = note.nearest_before("scope", "written", m.first, 3)
    if says and not note.mention_between(says[1], m.first) and m.facts.get("quantity") != "length":
        return False
    near = note.nearest_before("scope", "usual", m.first, 6)
    if near and not note.mention_between(near[1], m.first):
        return False
    if any(0 < a - m.last <= 3 for a, _ in note.cues("scope", "hearsay_after")) or note.of_a_person(m):
        return False
    rated = note.nearest_before("scope", "rated", m.first, 3)
    if m.facts.get("quantity") not in ("length", "current") and (
        (rated and note.strange(rated[1], m.first) == 0) or any(a == m.last + 1 for a, _ in note.cues("scope", "rated_after"))
    ):
        return False
    hearsay = note.nearest_before("scope", "hearsay", m.first, 8)
    return not (hearsay and not note.mention_between(hearsay[1], m.first))
