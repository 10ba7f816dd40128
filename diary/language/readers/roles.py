"""What each number of a note is: an odometer, a fuel volume, a torque, a pressure, or nothing that is kept.

Every number with a unit is judged by its unit and the talk around it; a bare number goes to the role whose words stand
nearest and best, if a reading of it is a value that role can have. Readers turn the roles into records.
"""

from __future__ import annotations

import itertools
from typing import Any

from diary.language.readers.again import measured_again
from diary.language.readers.fastening import bare_torque, follows_fastener, said_again
from diary.language.readers.fuelling import FUEL_UNITS, bare_fuel, fuel_score, refuelling, terse_fill
from diary.language.readers.measuring import (
    adjective,
    angle,
    cap_rating,
    counts_next,
    damaged,
    fluid_near,
    fused,
    grade,
    held,
    inch_fraction,
    is_weather,
    length_again,
    measured,
    near,
    needed,
    no_fluid,
    of_fluid,
    pounds,
    put_in,
    shopping,
    speed_counts,
    stuff_of,
    weighed,
    while_running,
)
from diary.language.readers.metering import main_meter, meter_of, next_hours, next_odometer
from diary.language.readers.numeric import Mention, Note, table, word_list
from diary.language.readers.spending import bare_price, per_unit, pounds_paid, sounds_like_money
from diary.language.readers.topics import ENOUGH, topic_score, topics

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


def assigned(note: Note) -> Note:
    """The note with a role on every number that has one; done once."""
    if "assigned" not in note.memo:
        note.memo["assigned"] = True
        before: Mention | None = None
        for m in note.mentions:
            foreign = before is not None and "foreign" in before.facts and _of_the_same(note, before, m)
            before = m
            if (old := m.facts.pop("instead", None)) is not None and _instead(note, m, old):
                continue
            if not note.counts(m) or foreign:
                if foreign or note.foreign(m):
                    m.facts["foreign"] = True
                continue
            if m.dimension:
                _by_unit(note, m)
            else:
                _by_words(note, m)
        _passes(note)
    return note


def _instead(note: Note, m: Mention, old: Mention) -> bool:
    """Give a number the role that the one it corrects would have had: "lug bolts 105, no, that's the tractor, 95"."""
    old.dropped = False
    if note.counts(old):
        _by_words(note, old)
    old.dropped = True
    role, unit, facts = old.role, old.unit, dict(old.facts)
    old.role = ""
    if not role:
        return False
    m.role, m.unit = role, unit
    m.facts.update({k: v for k, v in facts.items() if k != "value"})
    return True


def _passes(note: Note) -> None:
    """Give the passes of one tightening their role: "thirty then sixty then ninety on the main cap bolts"."""
    for m, following in reversed(list(itertools.pairwise(note.mentions))):
        between = note.words[m.last + 1 : following.first]
        joined = "then" in between and set(between) <= word_list("torques", "passes")
        if following.role == "torque" and joined and not m.role and m.dimension is None and m.value < following.value:
            if note.counts(m):
                m.role, m.unit = "torque", following.unit
                m.facts["passes_to"] = following.facts.get("passes_to", following)


def _no_sum(note: Note, m: Mention) -> bool:
    """True for a meter's number that was written as a sum of money ("$8,000 on the odometer")."""
    meter, score, facts = meter_of(note, m)
    whole = float(facts.get("value", m.value)).is_integer() and "." not in note.utterance.text[m.start : m.end]
    return score >= 4 and whole and (meter != "hours" or note.context.locale.distance == "h")


def _beside_a_meter(note: Note, m: Mention) -> bool:
    """True for miles told in one breath with the hours ("three hundred hours and twenty nine hundred miles")."""
    before = next((x for x in reversed(note.mentions) if x.last < m.first), None)
    joined = before is not None and before.role == "hours" and m.first - before.last <= 2
    return joined and m.value >= 500


def _hours_beside_miles(note: Note, m: Mention) -> bool:
    """True for hours told in one breath with the odometer ("at 3,118 miles and 402.6 hours")."""
    before = next((x for x in reversed(note.mentions) if x.last < m.first), None)
    return before is not None and before.role == "odometer" and note.words[before.last + 1 : m.first] in (["and"], []) and m.value >= 50


def _unit_ahead(note: Note, m: Mention) -> Mention | None:
    """The number with a unit that closes a list of bare ones ("0.7, 0.7, 0.8 and the last one 12 ohms")."""
    previous = m
    for x in note.mentions:
        if x.first <= m.last or x.dropped:
            continue
        gap = note.words[previous.last + 1 : x.first]
        if len(gap) > 4 or not set(gap) <= word_list("scope", "listing") or (not gap and not note.gaps[x.first]):
            return None
        if x.dimension is not None:
            return x if 0.02 <= (m.value + 0.001) / (x.value + 0.001) <= 50 else None
        previous = x
    return None


def _held_against(note: Note, m: Mention) -> dict[str, Any] | None:
    """Quantity and unit of what the number is compared with: "four amps now instead of eleven", "48,000 ohms against 9,000"."""
    before = next((x for x in reversed(note.mentions) if x.last < m.first and not x.dropped), None)
    if before is None or before.role != "measure" or m.first - before.last > 5 or before.facts.get("quantity") == "time":
        return None
    if not note.has("scope", "against", before.last + 1, m.first - 1):
        return None
    return {k: v for k, v in before.facts.items() if k in ("quantity", "topic")} | {"unit": before.unit, "value": m.value}


def _of_the_same(note: Note, before: Mention, m: Mention) -> bool:
    """True where a pronoun ties the number to the one before ("her car was at eighteen so i pumped it to thirty")."""
    if m.dimension is not None or m.first - before.last > 12 or note.sentence(before.last) != note.sentence(m.first):
        return False
    return bool(set(note.words[m.first - 3 : m.first]) & word_list("scope", "pronouns")) and not note.has(
        "scope", "own", before.last, m.first
    )


def of_role(note: Note, *roles: str) -> list[Mention]:
    """The numbers that have one of the roles, in order."""
    return [m for m in assigned(note).mentions if m.role in roles]


def _by_unit(note: Note, m: Mention) -> None:
    unit, dimension = m.unit or "", m.dimension
    if unit == "g" and terse_fill(note, m):
        m.role, m.unit, m.dimension = "fuel", note.context.locale.volume, "volume"  # "32.2g full"
    elif unit == "g" and fuel_score(note, m) >= 2:
        m.role = "fuel"
    elif "/" in unit and unit.split("/")[1] in FUEL_UNITS:
        m.role = "unit_price"
    elif (
        note.words[m.last] in word_list("measures", "pounds")
        and dimension in ("money", "pressure", "mass", "torque")
        and cap_rating(note, m)
    ):
        m.unit, m.dimension, m.role, m.facts["quantity"] = "psi", "pressure", "measure", "pressure"
        return
    elif dimension == "money" and held(note, m):
        m.role = "measure"
    elif dimension == "money" and _no_sum(note, m):
        m.role, _, facts = meter_of(note, m)
        m.facts.update(facts)
        m.value, m.unit, m.dimension = facts["value"], None, None
    elif dimension == "money":
        m.role = "unit_price" if per_unit(note, m) else "price"
    elif dimension == "pressure" and pounds_paid(note, m):
        m.unit, m.dimension, m.role = "GBP", "money", "price"
    elif dimension == "torque":
        until = next((i - 1 for i in range(m.last + 1, m.last + 5) if i < len(note.words) and note.gaps[i]), m.last + 4)
        turned = note.has("torques", "turning", max(0, m.first - 5), until)
        m.role = "" if turned or (m.readings and adjective(note, m)) else "torque"
    elif unit in ("deg", "degF", "degC", "turn") and angle(note, m):
        m.role = "angle"
    elif unit in DISTANCE:
        meter, score, facts = meter_of(note, m)
        if score >= 2.5:
            m.role = meter
            m.facts.update(facts)
        elif (meter := main_meter(note, m)) != "":
            m.role = meter
        elif _beside_a_meter(note, m) or (next_odometer(note, m) and ("near_last" in m.facts or refuelling(note))):
            m.role = "odometer"
        else:
            m.role = "distance"
    elif unit == "h":
        meter, score, facts = meter_of(note, m)
        last = note.context.meters.get("hours")
        if meter == "hours" and score >= 2.5:
            m.role = "hours"
            m.facts.update(facts)
        elif _hours_beside_miles(note, m) or (note.context.locale.distance == "h" and last and 0 <= m.value - last[0] <= 200 and m.value > 50) or (
            note.context.locale.distance == "h"
            and not last
            and m.value >= 100
            and m.first
            and note.words[m.first - 1] in word_list("scope", "reading_at")
        ):
            m.role = "hours"
        elif (meter := main_meter(note, m)) != "":
            m.role = meter
    elif (
        unit == "oz"
        and any(u == "oz_fl" for _, u, _ in m.readings)
        and fluid_near(note, m)
        and not near(note, m, "weighed", 8, 6)
    ):
        m.unit, m.dimension, m.role, m.facts["quantity"] = "oz_fl", "volume", "measure", "volume"
    elif dimension == "length" and of_fluid(note, m):
        m.unit, m.dimension, m.role, m.facts["quantity"] = "mL", "volume", "measure", "volume"
    elif dimension == "volume":
        if fuel_score(note, m) >= 2 or (unit in FUEL_UNITS and terse_fill(note, m)):
            m.role = "fuel"
        elif (
            (
                near(note, m, "volume", 14, 5)
                or put_in(note, m)
                or note.has("fills", "fluid", m.first - 3, m.last + 4)
                or note.has("fills", "holds_fluid", m.last + 1, m.last + 8)
                or note.has("fills", "bleeding", m.first - 10, m.last + 3)
                or (unit not in FUEL_UNITS and note.has("fills", "holds_fluid", m.first - 25, m.first))
            )
            and not shopping(note, m)
            and not no_fluid(note, m)
            and (unit not in FUEL_UNITS or fluid_near(note, m))
            and not near(note, m, "carried", 3, 0)
            and not needed(note, m)
        ):
            m.role, m.facts["quantity"] = "measure", "volume"
    elif dimension == "length":
        if (
            (near(note, m, "length", 12, 6) or length_again(note, m) or damaged(note, m) or inch_fraction(m))
            and not adjective(note, m)
            and not stuff_of(note, m)
            and not shopping(note, m)
            and not note.has("scope", "made_with", max(0, m.first - 8), m.first - 1)
            and (
                " ".join(note.words[m.last + 1 : m.last + 2]) == "of"
                or not note.has("scope", "weather", max(0, m.first - 6), m.last + 4)
            )
        ):
            m.role, m.facts["quantity"] = "measure", "length"
    elif dimension == "time":
        watched = near(note, m, "time", 14, 8) or while_running(note, m)
        if unit in ("s", "min", "ms") and watched and not near(note, m, "not_time", 10, 5):
            m.role, m.facts["quantity"] = "measure", "time"
    elif dimension in MEASURED:
        m.role, m.facts["quantity"] = "measure", MEASURED[dimension]
        if (
            (dimension == "speed" and not speed_counts(note, m))
            or (dimension == "temperature" and is_weather(note, m))
            or (dimension == "mass" and unit == "lb" and pounds(note, m) and not weighed(note, m))
            or (
                dimension == "mass"
                and m.dimension == "mass"
                and ((shopping(note, m) and unit not in ("g", "oz")) or not weighed(note, m))
            )
            or (dimension in ("voltage", "pressure") and m.kind != "decimal" and adjective(note, m))
            or (unit == "A" and float(m.value).is_integer() and (m.kind == "rating" or adjective(note, m)) and not fused(note, m))
            or (unit == "V" and note.words[m.last] == "volt" and m.value in table("measures")["system_volts"])
        ):
            m.role = ""
            m.facts.pop("quantity", None)
    if m.role == "measure" and (not measured(note, m) or any(b == m.first - 1 for _, b in note.cues("scope", "to_do"))):
        m.role = ""


def _by_words(note: Note, m: Mention) -> None:
    if m.kind == "money":
        if _no_sum(note, m):
            m.role, _, facts = meter_of(note, m)
            m.facts.update(facts)
            m.value = facts["value"]
            return
        m.role = "unit_price" if per_unit(note, m) else "price"
        return
    if (
        m.kind == "rating"
        or (m.value == 1 and note.words[m.first] == "one" and m.first == m.last)
        or grade(note, m)
        or " ".join(note.words[max(0, m.first - 2) : m.first]) in word_list("scope", "out_of")
        or any(0 < a - m.last <= 1 for a, _ in note.cues("scope", "priced"))
    ):
        return
    meter, score, facts = meter_of(note, m)
    volts = next(t for t in topics() if t.name == "voltage")
    plainly_metered = score >= 3 or (m.kind == "decimal" and topic_score(note, m, volts)[0] >= 2.6)
    priced = note.nearest_before("scope", "price_before", m.first, 6)
    if priced and not plainly_metered and not note.mention_between(priced[1], m.first) and not refuelling(note):
        return
    if not plainly_metered and not refuelling(note) and any(
        note.has("scope", g, max(0, m.first - 3), m.first - 1) for g in ("purchase", "needing")
    ):
        return
    best: tuple[float, str, dict[str, Any]] = (ENOUGH, "", {})
    ahead = _unit_ahead(note, m)
    if ahead is not None and ahead.dimension == "torque":
        best = (2.4, "torque", {"unit": ahead.unit, "value": m.value})
    elif ahead is not None and ahead.dimension in MEASURED:
        best = (2.4, "measure", {"quantity": MEASURED[ahead.dimension], "unit": ahead.unit, "value": m.value})
    against = _held_against(note, m)
    if against is not None:
        best = (2.4, "measure", against)
    if score > best[0]:
        best = (score, meter, facts)
    previous = next((x for x in reversed(note.mentions) if x.last < m.first and x.role), None)
    again = previous is not None and previous.role == "torque" and said_again(note, previous, m)
    if again or follows_fastener(note, m) or not counts_next(note, m):
        sum_said = sounds_like_money(note, m)
        asked = (bare_fuel, bare_price) if sum_said else (bare_torque, bare_fuel, bare_price)
        for ask in asked:
            score, role, facts = ask(note, m)
            if score > best[0]:
                best = (score, role, facts)
        for topic in () if sum_said else topics():
            score, facts = topic_score(note, m, topic)
            if score > best[0]:
                best = (score, "measure", {"quantity": topic.quantity, "topic": topic.name, **facts})
        if best[1] == "" and next_hours(note, m):
            best = (2.0, "hours", {})
        if (
            best[1] == ""
            and next_odometer(note, m)
            and (
                "near_last" in m.facts
                or refuelling(note)
                or any(x.role == "odometer" for x in note.mentions)
                or len(note.words) <= m.last - m.first + 3
            )
        ):
            best = (2.0, "odometer", {})
        if best[1] == "" and (meter := main_meter(note, m)) != "":
            best = (2.0, meter, {})
        if best[1] == "" and not sum_said and (known := measured_again(note, m)) is not None:
            best = (2.0, "measure", known)
    _, role, facts = best
    m.role = role
    m.facts.update(facts)
    if facts.get("value") is not None:
        m.value = facts["value"]
    if role == "measure" and not measured(note, m):
        m.role = ""
    elif role == "torque" or role == "measure":
        m.unit = facts["unit"]
