"""Sums paid for fuel, with and without the word for the money."""

from __future__ import annotations

import re
from typing import Any

from diary.language.readers.fuelling import refuelling
from diary.language.readers.numeric import Mention, Note, table

_CENTS = re.compile(r"\d{1,3}\.\d\d")


def per_unit(note: Note, m: Mention) -> bool:
    """True where the sum is a price of one gallon or liter."""
    return any(a - 1 == m.last for a, _ in note.cues("fills", "per_unit"))


def pounds_paid(note: Note, m: Mention) -> bool:
    """True for "ten gallon, sixty four pound" said of a fill: pounds that are money, and no pressure."""
    if not any(unit == "GBP" for _, unit, _ in m.readings):
        return False
    fuels = [x for x in note.mentions if x.role == "fuel" and x.unit and abs(x.first - m.first) <= 14]
    if not fuels or any(x is not fuels[0] and fuels[0].last < x.first and x.last < m.first for x in note.mentions):
        return False
    if any(fuels[0].last < t.last and t.first <= m.last + 4 and t.kind == "component" for t in note.talk.things):
        return False
    return 0.3 <= m.value / max(fuels[0].value, 0.01) <= 12


def bare_price(note: Note, m: Mention) -> tuple[float, str, dict[str, Any]]:
    if not refuelling(note):
        return 0.0, "", {}
    if (run_together := _sum_run_together(note, m)) is not None:
        return 3.6, "price", {"value": run_together}
    dear = table("fills")["dearest"].get(note.context.locale.currency)
    value = m.within(0.5, 999 if dear is None else 99999)
    if value is None or _is_next_by_trip(note, m):
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
    if (
        near
        and m.kind == "decimal"
        and score == 0
        and note.gaps[m.first]
        and m.first - fuels[-1].last <= (12 if off else 2)
    ):
        score = 2.3
    told = any(x.role in ("price", "unit_price") or (x.dimension == "money" and x is not m) for x in note.mentions)
    if near and m.kind == "decimal" and score == 0 and not told and _CENTS.fullmatch(note.utterance.text[m.start : m.end]):
        score = 2.2  # "8.4 gal to the top 32.10"
    if near and score == 0 and (m.first - fuels[-1].last <= 8 or m.last + 1 == len(note.words)):
        cents = [v for v in (m.value, *(r[0] for r in m.readings)) if not float(v).is_integer()]
        if (
            cents
            and "point" not in note.words[m.first : m.last + 1]
            and "." not in note.utterance.text[m.start : m.end]
        ):
            score, value = 2.2, cents[0]
    low, high = (0.8, 9.0) if dear is None else (dear / 20, dear)
    if near and score == 0 and m.first - fuels[-1].last <= 2 and volume and low <= value / volume <= high:
        score = 2.0  # "fourteen point nine gallons sixty one even"
    if score and volume:
        money = [v for v in (m.value, *(r[0] for r in m.readings)) if 0.25 <= v / volume <= max(12.0, dear or 0.0)]
        if not money:
            return 0.0, "", {}
        value = money[0]
    return score, "price", {"value": value}


def _is_next_by_trip(note: Note, m: Mention) -> bool:
    """True where the trip of the same note makes the number the next odometer: 4,271 after 4,190 with "trip eighty one"."""
    last = note.context.meters.get("odometer")
    if last is None or m.dimension is not None or m.value < 1000:
        return False
    trips = {b for _, b in note.cues("meters", "trip_before")}
    said = [x.value for x in note.mentions if x.first - 1 in trips or x.first - 2 in trips]
    return any(trip > 0 and abs(m.value - last[0] - trip) <= 1 for trip in said)


def _sum_run_together(note: Note, m: Mention) -> float | None:
    """ "Which came to two oh four twenty two": dollars and cents that read as one number, told by the volume they buy."""
    said = note.utterance.text[m.start : m.end]
    fuels = [x for x in note.mentions if x.role == "fuel" and 0 < m.first - x.last <= 25]
    if not fuels or m.dimension or not 1000 <= m.value < 100000 or not said.replace(" ", "").isalpha() or "thousand" in said:
        return None
    before = note.nearest_before("fills", "paid", m.first, 3)
    metered = any(a == m.last + 1 for a, _ in note.cues("meters", "odometer_after")) or note.nearest_before("meters", "odometer_before", m.first, 3)
    read = any(x.role == "odometer" or x.value >= 20000 for x in note.mentions if x is not m)
    value = m.value / 100
    if metered or not (before or (read and m.last + 1 == len(note.words))) or not 0.8 <= value / max(fuels[-1].value, 0.01) <= 9:
        return None
    return float(value)


def sounds_like_money(note: Note, m: Mention) -> bool:
    """True for dollars and cents said without the words: "nineteen ninety five" meaning 19.95, "17.90" in a shop."""
    said = note.utterance.text[m.start : m.end]
    return _has_cents(m.value) and m.value > 1 and "point" not in said and "." not in said


def _has_cents(value: float) -> bool:
    return abs(value * 100 - round(value * 100)) < 1e-6 and abs(value * 10 - round(value * 10)) > 1e-6
