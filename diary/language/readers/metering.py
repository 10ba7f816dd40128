"""Numbers read off the odometer, the trip meter and the hour meter."""

from __future__ import annotations

import re
from typing import Any

from diary.language.readers.numeric import Mention, Note, linked, word_list

DISTANCE = ("mi", "km")
_DOTTED = re.compile(r"\d{2,3}\.\d{3}")
NEAR = 1500.0  # ... and this far at most, where nothing else says that it is one
BIG = 3000.0  # what an odometer shows that is not named
ODOMETER_STEP = 6000.0  # an unnamed number this far above the last odometer reading may be the next one


def meter_of(note: Note, m: Mention) -> tuple[str, float, dict[str, Any]]:
    """(meter, score, value and cue): the meter that the number was read from."""
    best: tuple[str, float, dict[str, Any]] = ("", 0.0, {})
    floor = note.sentence(m.first)[0]
    for meter, ranges in (("odometer", (100, 5e6)), ("trip", (0.1, 5000)), ("hours", (0.1, 2e5))):
        value = m.within(*ranges)
        if meter == "odometer" and (fitting := _next_by_meter(note, m)) is not None:
            value = fitting
        if meter == "odometer" and _DOTTED.fullmatch(note.utterance.text[m.start : m.end].split(" ")[0]) and note.context.locale.volume == "L":
            value = round(m.value * 1000)  # "odo 88.214" where a dot parts the thousands
        if value is None:
            continue
        groups = [f"{meter}_before"]
        if meter == "hours" and (note.context.locale.distance == "h" or m.unit == "h"):
            groups.append("plain_meter")
        for group in groups:
            for a, b in note.cues("meters", group):
                if (
                    not (floor <= b < m.first and m.first - b <= 9)
                    or note.owner[b] >= 0
                    or note.mention_between(b, m.first)
                ):
                    continue
                if (meter == "trip" and note.has("meters", "no_trip", a - 2, b + 2)) or (
                    note.has("meters", "no_meter", a - 2, b + 2) and not (meter == "hours" and group == "hours_before" and b > a)
                ):
                    continue
                if meter == "odometer" and note.has("meters", "no_odometer", a - 1, b):
                    continue
                if meter == "trip" and m.unit is None and note.words[b + 1] in word_list("meters", "set_back") and m.first == b + 2:
                    continue  # "trip zeroed two guys asked"
                score = 4.0 - 2.2 * _strange(note, b, m.first) - 0.05 * (m.first - b)
                if score > best[1]:
                    best = (meter, score, {"value": value, "cue": a})
        named = [b for a, b in note.cues("meters", f"{meter}_before") if b < m.first and m.first - b <= 16]
        if named and not any(
            named[-1] < b < m.first
            for other in ("odometer", "trip", "hours")
            if other != meter
            for _, b in note.cues("meters", f"{other}_before")
        ):
            for a, b in note.cues("meters", "meter_pronoun"):
                if any(t.kind == "component" and named[-1] < t.first < a for t in note.talk.things) or value < (
                    100 if meter == "odometer" else 0
                ):
                    continue
                if named[-1] < a and b < m.first and note.strange(b, m.first) == 0 and m.first - b <= 3 and best[1] < 3:
                    best = (meter, 3.0, {"value": value, "cue": a})
        for a, b in note.cues("meters", f"{meter}_after"):
            if (
                m.last <= a <= m.last + 2
                and b > m.last
                and not note.mention_between(m.last, a)
                and not (value < 1000 and note.words[b] in word_list("meters", "any_dial"))
                and 4.6 - 0.3 * (a - m.last) > best[1]
            ):
                best = (meter, 4.6 - 0.3 * (a - m.last), {"value": value, "cue": m.first})
    # "a twelve thousand mile service interval" is no reading
    big = m.within(BIG, 5e6) if m.unit in (None, *DISTANCE) and note.words[m.last] != "mile" else None
    if best[1] < 3 and big is not None and _goes_on(note, big):
        for group, reach in (("machine_shows", 3), ("unit_first", 1)):
            for a, b in note.cues("meters", group):
                if (
                    floor <= a
                    and b < m.first <= b + reach
                    and (a == 0 or note.owner[a - 1] < 0 or note.gaps[a])
                    and _strange(note, b, m.first) == 0
                    and not note.mention_between(b, m.first)
                ):
                    if note.words[a] not in word_list("scope", "first_person") or m.unit is not None:
                        best = ("odometer", 3.0, {"value": big, "cue": a})
    if best[0] and (meant := told_as(note, m, best[0], best[2])) != best[0]:
        best = (meant, best[1], best[2]) if meant else ("", 0.0, {})
    return best


def told_as(note: Note, m: Mention, meter: str, facts: dict[str, Any]) -> str:
    """The meter meant: a machine that counts hours has no other clock, one that counts miles no hour meter without the word "hours"."""
    cue = int(facts.get("cue", m.first))
    beside = set(note.words[max(0, cue - 16) : m.last + 6])
    if note.context.locale.distance == "h":
        named = beside & word_list("meters", "odometer_names")
        return "hours" if meter == "odometer" and m.unit not in DISTANCE and not named else meter
    if meter == "hours" and m.unit != "h" and not beside & word_list("meters", "hours_names"):
        return "odometer" if m.value >= 1000 else ""
    return meter


def main_meter(note: Note, m: Mention) -> str:
    """The machine's own meter, where a number can only be its reading: by its size, its place and the last one read; "" otherwise."""
    hours = note.context.locale.distance == "h"
    if m.dropped or m.kind not in ("cardinal", "decimal", "homophone", "range", "") or m.role or m.low != m.high:
        return ""
    if m.unit is not None and m.unit not in (("h",) if hours else DISTANCE):
        return ""
    if _to_come(note, m) or (m.clause is not None and (m.clause.planned or m.clause.hypothetical)):
        return ""
    meter = "hours" if hours else "odometer"
    last = note.context.meters.get(meter)
    if m.value < (50 if hours else 1000):
        return ""
    if last is not None and last[0] >= (50 if hours else 3000):
        step = m.value - last[0]
        if 0 < step <= (200 if hours else 2 * NEAR) and (hours or m.value >= 10 * step or m.unit is None):
            return meter if hours or m.value % 500 or alone(note, m) else ""
        return ""
    if last is not None or any(x.role == meter for x in note.mentions):
        return ""
    opens, closes = m.first == 0, m.last + 1 == len(note.words)
    whole = m.value % 1000 != 0
    if m.unit is not None:  # nobody drives so far in a day: it is what the machine has done
        return meter if whole and m.value >= (100 if hours else 3000) and _own(note, m) else ""
    if _carried(note, m) and m.value >= 5000 and _own(note, m) and not hours:
        return meter
    if _apart(note, m) or ((opens or closes) and m.value >= 20000 and _own(note, m)):
        return meter if whole and m.value >= 5000 else ""
    return ""


def _apart(note: Note, m: Mention) -> bool:
    """True where the number makes a sentence or a listed item of its own, or follows only a word like "home"."""
    before = m.first == 0 or note.gaps[m.first] or (
        note.words[m.first - 1] in word_list("meters", "stands_at") and (m.first == 1 or note.gaps[m.first - 1])
    )  # fmt: skip
    after = m.last + 1 == len(note.words) or note.gaps[m.last + 1] or note.words[m.last + 1] in word_list("scope", "joins")
    return bool(before) and bool(after or m.value >= 20000)


def _own(note: Note, m: Mention) -> bool:
    """True where nothing right before the number says that it belongs to something other than the machine."""
    first = max(0, m.first - 3)
    first = max([i for i in range(first, m.first + 1) if note.gaps[i]], default=first)
    before = set(note.words[first : m.first])
    if m.unit is None or m.value < 20000:
        before -= set() if not _carried(note, m) else word_list("scope", "copulas")
        return not before & (word_list("scope", "copulas") | word_list("meters", "spans_of"))
    return not before & word_list("meters", "spans_of")


def _carried(note: Note, m: Mention) -> bool:
    """True for "ninety eight thousand four hundred forty on it"."""
    after = note.words[m.last + 1 : m.last + 3]
    return len(after) == 2 and after[0] == "on" and after[1] in word_list("meters", "carried")


def _to_come(note: Note, m: Mention) -> bool:
    first = max(note.sentence(m.first)[0], m.first - 7)
    return any(note.has("meters", group, first, m.first) for group in ("due", "to_come"))


def _goes_on(note: Note, value: float) -> bool:
    last = note.context.meters.get("odometer")
    return last is None or 0 <= value - last[0] <= 10 * ODOMETER_STEP


def _next_by_meter(note: Note, m: Mention) -> float | None:
    """The reading of an ambiguous number that the odometer can show next ("eighty nine oh seven four" after 88,796)."""
    last = note.context.meters.get("odometer")
    if last is None or m.unit not in (None, *DISTANCE) or 0 <= m.value - last[0] <= ODOMETER_STEP:
        return None
    return next((v for v, *_ in m.readings if 0 < v - last[0] <= NEAR), None)


def _strange(note: Note, a: int, b: int) -> int:
    """Words between that do not belong there, but for vague ones ("getting on for") and those of catching sight."""
    vague = {i for x, y in note.cues("meters", "approx") for i in range(x, y + 1) if a < x and y < b}
    vague |= {i for i in range(a + 1, b) if note.words[i] in word_list("meters", "caught_words")}
    for x in note.mentions:
        if x.dropped and a < x.first and x.last < b:
            vague |= set(range(x.last + 1, b))  # taken back: what follows corrects it
    if not vague:
        return note.strange(a, b)
    frame = word_list("scope", "frame")
    return sum(1 for i in range(a + 1, b) if i not in vague and note.words[i] not in frame and note.owner[i] < 0)


def next_odometer(note: Note, m: Mention) -> bool:
    """True where an unnamed number fits as the next odometer reading."""
    earlier = [x for x in note.mentions if x.role == "odometer" and x.last < m.first]
    if earlier and m.unit is None:
        return not m.approx and 0 < m.value - earlier[-1].value <= ODOMETER_STEP / 2 and earlier[-1].value >= 1000
    last = note.context.meters.get("odometer")
    if m.unit is None and (meant := _next_by_meter(note, m)) is not None:
        m.value = meant
    if last is not None and m.value >= 3000 and 0 < m.value - last[0] <= NEAR and (m.value % 500 or m.approx):
        if linked(note, m) or alone(note, m) or m.approx:
            m.facts["near_last"] = True
            return True
    if m.approx or m.value < 1000:
        return False
    if alone(note, m) and m.unit in DISTANCE and m.value >= 20000 and m.value % 1000:
        m.facts["near_last"] = True
    if last is None:
        return m.value >= 5000 and (m.unit in DISTANCE or (m.value >= 20000 and m.value % 1000 != 0))
    return 0 <= m.value - last[0] <= ODOMETER_STEP


def alone(note: Note, m: Mention) -> bool:
    """True where the number is a sentence of its own ("~204,330 mi", "Home. 208,611")."""
    return (note.gaps[m.first] == 2) and (m.last + 1 == len(note.words) or note.gaps[m.last + 1] > 0)


def next_hours(note: Note, m: Mention) -> bool:
    """True where an unnamed number fits as the next reading of the hour meter of a machine that counts hours."""
    last = note.context.meters.get("hours")
    if last is None or note.context.locale.distance != "h" or m.approx or last[0] < 50:
        return False
    return 0 <= m.value - last[0] <= 100 and linked(note, m)
