"""Whether a figure was measured at all: what it counts, describes, should be, or is bought by."""

from __future__ import annotations

from functools import cache

from diary.language.readers.fastening import priced_in_hundredths
from diary.language.readers.numeric import Mention, Note, clause_opens, is_verb, table, word_list
from diary.language.readers.topics import ENOUGH, topic_cues, topic_score, topics
from diary.language.text import stem


def pounds(note: Note, m: Mention) -> bool:
    """Read "pounds" as pressure where the talk is of that; True where nothing weighed is near either."""
    if near(note, m, "mass", 6, 6):
        return False
    meant = {unit for _, unit, likely in m.readings if likely >= 0.1}
    said = {unit for _, unit, _ in m.readings}
    inside = " ".join(note.words[m.last + 1 : m.last + 3]) in word_list("measures", "in_it")
    before = set(note.words[max(0, m.first - 9) : m.first])
    if "psi" in said and note.context.locale.pressure == "psi" and 1 <= m.value <= 250 and before & word_list("measures", "holds_pressure"):
        if inside or note.words[m.first - 1] in ("at", "to", "oil") or (note.words[m.first - 1] == "and" and "oil" in before):
            m.unit, m.dimension = "psi", "pressure"
            m.facts.update(quantity="pressure")
            return False
    if "psi" in meant and note.context.locale.pressure == "psi":
        for topic in topics():
            score, _ = topic_score(note, m, topic) if topic.quantity == "pressure" else (0.0, {})
            if score >= ENOUGH:
                m.unit, m.dimension = "psi", "pressure"
                m.facts.update(quantity="pressure", topic=topic.name)
                return False
    return not near(note, m, "mass", 25, 8)


def angle(note: Note, m: Mention) -> bool:
    """True for degrees or turns that follow a torque: "forty four foot pounds plus sixty degrees"."""
    torque = next((x for x in reversed(note.mentions) if x.last < m.first), None)
    if torque is None or torque.role != "torque" or m.first - torque.last > 6:
        return False
    return note.has("torques", "plus", torque.last + 1, m.last) or note.words[m.first] == "plus"


def near(note: Note, m: Mention, group: str, back: int, ahead: int) -> bool:
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


def fluid_near(note: Note, m: Mention) -> bool:
    """True where a fluid, a can that is filled or fuel moved about is named beside the volume."""
    first, last = max(note.sentence(m.first)[0], m.first - 10), m.last + 8
    if any(note.has("fills", group, first, last) for group in ("fluid", "vessel", "shifted", "holds_fluid", "bleeding")):
        return True
    mixed = set(note.words[m.last + 1 : m.last + 4]) & word_list("measures", "mixtures")
    return bool(mixed) and note.has("fills", "fluid", max(0, m.first - 12), m.first)  # "coolant low. 0.6 l of mix"


def needed(note: Note, m: Mention) -> bool:
    """True where the amount is one that is wanted and not yet there, in the same clause."""
    start = note.span(m.clause)[0] if m.clause is not None else max(0, m.first - 10)
    return note.has("scope", "needing", start, m.first)


def shopping(note: Note, m: Mention) -> bool:
    """True where the amount is one bought: a shop word before it, or a price right after it."""
    following = next((x for x in note.mentions if x.first > m.last), None)
    if following and following.first == m.last + 1 and priced_in_hundredths(note, following):
        start = note.sentence(m.first)[0]
        if note.has("scope", "purchase", start, m.first) and not note.has("fills", "put", start, m.first):
            return True  # "ordered filter kit 32.50, ATF 6 qts 38.68"
    if (
        following
        and following.dimension == "money"
        and following.first - m.last <= 7
        and not note.has("fills", "put", m.first - 6, m.first)
    ):
        return True
    if following and following.dimension is None and following.value >= 20 and following.first - m.last <= 4:
        between = range(m.last + 1, following.first)
        fluid_only = all(_of_fluid_word(note, i) for i in between) and any(note.words[i] != "of" for i in between)
        if fluid_only and not note.has("fills", "put", m.first - 6, m.first):
            return True  # "5 litres of gear oil 4,200"
    return note.has("scope", "purchase", max(0, m.first - 5), m.last + 1)


def _of_fluid_word(note: Note, i: int) -> bool:
    return note.words[i] in ("of", "oil") or note.has("fills", "fluid", i - 1, i)


def weighed(note: Note, m: Mention) -> bool:
    """True where something of the machine was weighed, hung on it, or a paste was measured out."""
    if near(note, m, "mass", 25, 8) or (m.unit in ("g", "oz") and near(note, m, "mass_small", 10, 5)):
        return True
    after = note.words[m.last + 1 : m.last + 5]
    laden = after[:1] == ["on"] or (after[:1] == ["of"] and "on" in after)  # "400 kilos of peaches on"
    return m.unit in ("kg", "lb", "t") and m.value >= 20 and laden


def adjective(note: Note, m: Mention) -> bool:
    """True where the number with its unit describes the thing named next: "ten millimeter socket"."""
    nxt = m.last + 1
    if nxt >= len(note.words) or note.gaps[nxt] or note.words[m.last] not in word_list("measures", "singular_units"):
        return False
    thing = note.talk.words[nxt].thing
    if clause_opens(note, nxt) or note.words[nxt] in word_list("measures", "damage") | word_list("measures", "extents"):
        return False  # "back to one millimeter, lock nuts got ...", "1in crack starting"
    if (
        note.words[m.last] in word_list("measures", "attributive")
        and m.value != 1
        and note.words[nxt] not in word_list("scope", "after")
    ):
        return note.owner[nxt] < 0 and not clause_opens(note, nxt) and not is_verb(note, nxt)
    return (thing is not None and thing.kind != "place_of") or note.words[nxt] in _near_words("not_measured_nouns")


def speed_counts(note: Note, m: Mention) -> bool:
    if note.has("scope", "traffic", m.first - 8, m.last + 4):
        return False
    if m.first and note.words[m.first - 1] in word_list("measures", "at_speed"):
        return True
    speed = next(t for t in topics() if t.name == "speed")
    if topic_score(note, m, speed)[0] >= 1:
        return True
    _, last = note.sentence(m.first)
    beside = range(m.last + 1, min(last, m.last + 6) + 1)
    if any(a in beside for a, _ in topic_cues(note, "speed things")):
        return True  # "at about fifty two miles an hour there's a howl"
    return any(
        (symptom := note.talk.words[i].symptom) is not None
        and symptom.data.get("class") in table("measures")["speed_symptoms"]
        for i in beside
    )


def of_fluid(note: Note, m: Mention) -> bool:
    """True for "eight hundred and fifty mils of ten forty": a fluid or its grade, no length."""
    if note.words[m.last] not in word_list("measures", "mils"):
        return False
    if note.words[m.last + 1 : m.last + 2] and note.words[m.last + 1] in word_list("measures", "mil_of_length"):
        return False
    if m.last - m.first >= 1 and note.words[m.first : m.first + 2] == ["a", "few"]:
        return False
    grade_next = m.last + 2 < len(note.words) and note.words[m.last + 1] == "of" and note.owner[m.last + 2] >= 0
    return grade_next or note.has("fills", "fluid", m.last + 1, m.last + 5)


def damaged(note: Note, m: Mention) -> bool:
    """True where a damage is named in the clause of a short length: "1in crack starting", "a split 3 cm long"."""
    first, last = note.span(m.clause) if m.clause is not None else (m.first - 8, m.last + 4)
    said = set(note.words[max(0, first, m.first - 10) : min(last, m.last + 4) + 1])
    return m.unit in word_list("measures", "damage_units") and bool(said & word_list("measures", "damage"))


def stuff_of(note: Note, m: Mention) -> bool:
    """True for a length of stuff or of vacuum: "six foot of hose", "seventeen inches on the vacuum gage"."""
    after = note.words[m.last + 1 : m.last + 3]
    if m.unit in ("ft", "m", "in", "yd") and after[:1] == ["of"] and after[-1] in word_list("measures", "stuff"):
        return True
    return m.unit == "in" and bool(set(note.words[max(0, m.first - 8) : m.first]) & word_list("measures", "vacuum"))


def no_fluid(note: Note, m: Mention) -> bool:
    """True for a cup of tea or of sand."""
    after = note.words[m.last + 1 : m.last + 5]
    return after[:1] == ["of"] and bool(set(after) & word_list("measures", "no_fluid")) and not near(note, m, "fluid_words", 3, 6)


def inch_fraction(m: Mention) -> bool:
    """True for halves and quarters of an inch, which nobody says of anything but what was measured."""
    return m.unit == "in" and m.kind == "fraction" and m.value < 3


def length_again(note: Note, m: Mention) -> bool:
    """True for what a length just measured was brought to: "four millimeters of toe out ... back to one millimeter"."""
    before = next((x for x in reversed(note.mentions) if x.last < m.first), None)
    same = before is not None and before.role == "measure" and before.facts.get("quantity") == "length"
    return same and before is not None and m.first - before.last <= 22 and note.words[m.first - 1] == "to"


def held(note: Note, m: Mention) -> bool:
    """Read as a pressure what was taken for a sum, where no currency is said: "it is holding one ninety"."""
    said = note.utterance.text[m.start : m.end]
    holds = any(b == m.first - 1 for _, b in topic_cues(note, "tire verbs"))
    if (
        m.kind != "money"
        or not holds
        or not said.replace(" ", "").isalpha()
        or m.unit not in (r[1] for r in m.readings)
    ):
        return False
    unit = note.context.locale.pressure
    limits = next(t for t in topics() if t.name == "tire").ranges.get(unit)
    fits = [v for v in (m.value, *(r[0] for r in m.readings)) if limits and limits[0] <= v <= limits[1]]
    if not fits:
        return False
    m.value = m.low = m.high = fits[0]
    m.unit, m.dimension, m.kind = unit, "pressure", "cardinal"
    m.facts.update(quantity="pressure", topic="tire")
    return True


def cap_rating(note: Note, m: Mention) -> bool:
    """True for pounds that a radiator cap is rated by: "a radiator cap, a sixteen pound one"."""
    near = set(note.words[max(0, m.first - 8) : m.last + 6])
    named = any(set(cap.split()) <= near for cap in word_list("measures", "pressure_rated"))
    return named and 2 <= m.value <= 40 and float(m.value).is_integer()


def while_running(note: Note, m: Mention) -> bool:
    """True for "after forty minutes running", "after 15 min down to 0.9"."""
    words = word_list("measures", "running")
    return note.words[m.last + 1 : m.last + 2] != [] and any(
        " ".join(note.words[m.last + 1 : m.last + 1 + n]) in words for n in (1, 2)
    )


def put_in(note: Note, m: Mention) -> bool:
    """True where the volume is all that a clause says to have gone in or out: "5.5qts in." """
    end = min(note.sentence(m.first)[1], m.last + 3)
    after = note.words[m.last + 1 : end + 1]
    said = {" ".join(after[:n]) for n in (2, 3)} | ({after[0]} if len(after) == 1 else set())
    return bool(said & word_list("measures", "moved")) or bool(
        after and after[0] in ("in", "out") and m.last + 2 < len(note.words) and note.gaps[m.last + 2]
    )


def fused(note: Note, m: Mention) -> bool:
    """True where a fuse or breaker is named near the rating."""
    near = note.words[max(0, m.first - 12) : m.last + 9]
    return any(stem(w) in word_list("measures", "fusible") for w in near)


def is_weather(note: Note, m: Mention) -> bool:
    angle = frozenset(table("measures")["near_temperature"]["angle"])
    beside = (*note.words[max(0, m.first - 4) : m.first], *note.words[m.last + 1 : m.last + 4])
    if m.unit == "deg" or angle & {stem(w) for w in beside}:
        return True
    words = frozenset(table("measures")["near_temperature"]["weather"])
    first, last = note.sentence(m.first)
    near = note.words[max(first, m.first - 4) : m.first] + note.words[m.last + 1 : min(last, m.last + 3) + 1]
    return any(w in words for w in near) and not any(
        note.talk.words[i].thing for i in range(max(first, m.first - 6), m.first)
    )


def grade(note: Note, m: Mention) -> bool:
    """True for the grade of an oil: "six quarts of fifteen forty"."""
    return (
        m.first >= 2
        and note.words[m.first - 1] == "of"
        and note.owner[m.first - 2] >= 0
        and (note.mentions[note.owner[m.first - 2]].dimension == "volume")
    )


def measured(note: Note, m: Mention) -> bool:
    """False where the figure is what it should be or usually is, what others say, or was not measured."""
    clause = m.clause
    if clause is not None and (
        clause.planned or (clause.negated and not note.has("scope", "negation_only", m.first - 8, m.last + 3))
    ):
        start = note.index(clause.start)
        planned = clause.planned and any(
            note.has("scope", group, start, m.first) for group in ("future", "modal", "to_do")
        )
        denied = [b for _, b in note.cues("scope", "negation") if start <= b < m.first]
        if denied and set(note.words[denied[-1] + 1 : m.first]) & word_list("measures", "fails_to"):
            denied, planned = [], False  # "would not crank eleven point two volts"
        if planned or (
            denied and m.first - denied[-1] <= 5 and not note.has("scope", "negation_only", m.first - 8, m.last)
        ):
            return False
    says = note.nearest_before("scope", "written", m.first, 3)
    if says and not note.mention_between(says[1], m.first) and m.facts.get("quantity") != "length":
        m.facts["written"] = True
        return False
    before = next((x for x in reversed(note.mentions) if x.last < m.first), None)
    if (
        before is not None
        and "written" in before.facts
        and m.first - before.last <= 4
        and "and" in note.words[before.last : m.first]
    ):
        m.facts["written"] = True  # "the sticker says fifty five front and sixty rear"
        return False
    if any(a == m.last + 1 for a, _ in note.cues("scope", "reference_after")):
        return False
    if note.has("scope", "sold", max(0, m.first - 12), m.last + 8) or _habitual(note, m):
        return False
    if note.nearest_before("scope", "posted", m.first, 8):
        return False  # "sign on the bridge says max height 3.2 m"
    near = note.nearest_before("scope", "usual", m.first, 6)
    if near and not note.mention_between(near[1], m.first):
        m.facts["written"] = True
        return False
    if any(0 < a - m.last <= 3 for a, _ in note.cues("scope", "hearsay_after")) or note.of_a_person(m):
        return False
    rated = note.nearest_before("scope", "rated", m.first, 3)
    if (
        m.facts.get("quantity") not in ("length", "current")
        and "event" not in m.facts
        and (
            (rated and note.strange(rated[1], m.first) == 0)
            or any(a == m.last + 1 for a, _ in note.cues("scope", "rated_after"))
        )
    ):
        return False
    hearsay = note.nearest_before("scope", "hearsay", m.first, 8)
    return not (hearsay and not note.mention_between(hearsay[1], m.first))


def _habitual(note: Note, m: Mention) -> bool:
    """True for what is always so; "put in half a litre, i always do it on a monday" put it in, and so did "both backs thirty
    two, i carry thirty as a rule"."""
    ends = min(m.last + 8, note.span(m.clause)[1]) if m.clause is not None else m.last + 8
    for a, b in note.cues("scope", "habit"):
        before = m.first - 12 <= a and b < m.first and not note.mention_between(b, m.first) and note.strange(b, m.first) <= 2
        after = m.last < a and b <= ends and not note.mention_between(m.last, a)
        if before or after:
            return True
    return False


def counts_next(note: Note, m: Mention) -> bool:
    """True where the number counts what is named next ("two bolts", "thirty of us") or said before ("all four")."""
    whole = float(m.value).is_integer()
    if whole and m.value <= 12 and any(b == m.first - 1 for _, b in note.cues("scope", "quantifiers")):
        return True
    if whole and m.first and note.words[m.first - 1] in word_list("scope", "count_words"):
        return True
    if whole and " ".join(note.words[max(0, m.first - 2) : m.first]) == "number is":
        return True
    nxt = m.last + 1
    if (
        whole
        and note.utterance.text[m.end : m.end + 2].replace(":", "", 1).isdigit()
        and note.utterance.text[m.end] == ":"
    ):
        return True  # "3:95" in a list of cylinders
    if nxt >= len(note.words) or note.gaps[nxt] or note.owner[nxt] >= 0 or not whole:
        return False
    if any(a == nxt for a, _ in note.cues("meters", "odometer_before")):
        return False  # "thirteen ninety clock's on ...": a sum, and then the meter
    word = note.words[nxt]
    if word in word_list("scope", "rest"):
        return False
    if word in word_list("scope", "kinds_of"):
        return True
    if (
        m.value <= 12
        and word in word_list("scope", "copulas")
        and (m.first == 0 or note.words[m.first - 1] in word_list("scope", "before_subject"))
    ):
        return True  # "so three is dead": a number that stands for a thing
    if word in word_list("scope", "after"):
        return word == "of" and m.value < 100
    if note.talk.words[nxt].place is not None:
        return False
    if whole and note.words[nxt : nxt + 2][1:] == ["ones"] and m.value <= 24:
        return True  # "the four small ones"
    thing = next((t for t in note.talk.things if t.first <= nxt <= t.last), None)
    if thing is not None and m.first and note.words[m.first - 1] == note.words[nxt]:
        return False  # "and the lugs seventy six lugs again after fifty miles"
    if thing is not None:
        return m.value == 1 or note.words[thing.last].endswith("s")
    return word in word_list("scope", "plurals") or (
        word.endswith("s") and not clause_opens(note, nxt) and not is_verb(note, nxt)
    )
