"""Facts of the machine itself that people mention in passing: so far, the size of its tank."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from diary.assistant.words import table

if TYPE_CHECKING:
    from diary.assistant.facts import Facts
    from diary.records.diary import Diary


@cache
def _patterns() -> list[re.Pattern[str]]:
    return [re.compile(p, re.I) for p in table("turns")["tank_said"]]


def tank_said(text: str, unit: str) -> float | None:
    """The tank's size in `unit` where `text` tells it ("the tank holds twenty six gallons"), else None."""
    match = next((m for p in _patterns() if (m := p.search(text))), None)
    if match is None:
        return None
    from diary.language.numerals import read_numbers

    found = [n for n in read_numbers(text) if n.start >= match.end()]
    if not found or found[0].start - match.end() > 12 or not 0.3 <= found[0].value <= 2000:
        return None
    value = found[0].value
    from diary.calculators.economy_units import LITRES

    tail = text[found[0].end : found[0].end + 20].lower()
    said = next((code for code, words in table("turns")["volume_words"].items() if any(w in tail for w in words)), None)
    if said and said != unit and (said == "L") != (unit == "L"):
        litres = value * LITRES["gal_us" if said == "gal" else said]
        return litres / LITRES[unit]
    return value


def tank_size(facts: Facts) -> float | None:
    """The tank's size in the machine's volume unit: as set, or as the newest note that tells it says."""
    if facts.machine.tank:
        return facts.machine.tank
    for note in facts.diary.search("tank holds", 10):
        size = tank_said(note.text, facts.machine.volume)
        if size is not None:
            return size
    return None


def learn(diary: Diary, text: str) -> bool:
    """Set the machine's tank where a note tells its size and none is set. Returns whether anything was learned."""
    if "tank" not in text.lower():
        return False
    size = tank_said(text, diary.machine.volume)
    if size is None or diary.machine.tank == size:
        return False
    from dataclasses import replace

    diary.set_machine(replace(diary.machine, tank=size))
    return True
