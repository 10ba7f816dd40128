"""Numbers read off the odometer, the trip meter and the hour meter."""

from __future__ import annotations

from typing import Any

from diary.language.readers.numeric import Mention, Note, linked, word_list

DISTANCE = ("mi", "km")
ODOMETER_STEP = 6000.0  # an unnamed number this far above the last odometer reading may be the next one


def meter_of(note: Note, m: Mention) -> tuple[str, float, dict[str, Any]]:
    """(meter, score, value and cue): the meter that the number was read from."""
    best: tuple[str, float, dict[str, Any]] = ("", 0.0, {})
    floor = note.sentence(m.first)[0]
    for meter, ranges in (("odometer", (100, 5e6)), ("trip", (0.1, 5000)), ("hours", (0.1, 2e5))):
        value = m.within(*ranges)
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
                if (meter == "trip" and note.has("meters", "no_trip", a - 2, b + 2)) or note.has(
                    "meters", "no_meter", a - 2, b + 2
                ):
                    continue
                score = 4.0 - 2.2 * note.strange(b, m.first) - 0.05 * (m.first - b)
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
    return best


def next_odometer(note: Note, m: Mention) -> bool:
    """True where an unnamed number fits as the next odometer reading."""
    earlier = [x for x in note.mentions if x.role == "odometer" and x.last < m.first]
    if earlier and m.unit is None:
        return not m.approx and 0 < m.value - earlier[-1].value <= ODOMETER_STEP / 2 and earlier[-1].value >= 1000
    last = note.context.meters.get("odometer")
    if m.approx or m.value < 1000:
        return False
    if last is not None and m.value >= 10000 and 0 < m.value - last[0] <= 1500 and m.value % 100 and linked(note, m):
        m.facts["near_last"] = True
    if last is None:
        return m.value >= 5000 and (m.unit in DISTANCE or (m.value >= 20000 and m.value % 1000 != 0))
    return 0 <= m.value - last[0] <= ODOMETER_STEP


def next_hours(note: Note, m: Mention) -> bool:
    """True where an unnamed number fits as the next reading of the hour meter of a machine that counts hours."""
    last = note.context.meters.get("hours")
    if last is None or note.context.locale.distance != "h" or m.approx or last[0] < 50:
        return False
    return 0 <= m.value - last[0] <= 100 and linked(note, m)
