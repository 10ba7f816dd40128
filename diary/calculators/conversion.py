"""Units as a person types them, handed to `diary.units`."""

from __future__ import annotations

import re
from functools import lru_cache

from diary.calculators.tables import table
from diary.errors import DiaryError
from diary.units import convert as by_code
from diary.units import convertible, dimension


@lru_cache(maxsize=1)
def _names() -> dict[str, str]:
    names = {word: code for code, words in table("unit_words")["typed"].items() for word in words}
    return names | {code: code for code in convertible()}


def unit_code(name: str) -> str:
    """The code of a unit as typed or said ("Nm", "foot pounds", "psi"). Raises DiaryError if it is not known."""
    text = re.sub(r"\s+", " ", name.strip())
    found = _names().get(text) or _names().get(text.lower())
    if found is None:
        some = ", ".join(table("unit_words")["typed"])
        raise DiaryError(f"The unit '{name}' is not known here: use one such as {some}.")
    return found


def units_named(text: str) -> list[tuple[str, int]]:
    """(code, place) of the units whose names of two letters or more stand in a text, the longest name winning."""
    return [(_names()[m.group(0)], m.start()) for m in _pattern().finditer(text.lower())]


@lru_cache(maxsize=1)
def _pattern() -> re.Pattern[str]:
    words = {w for ws in table("unit_words")["typed"].values() for w in ws if len(w) > 1} - {"in", "to"}
    ordered = sorted(words, key=len, reverse=True)
    return re.compile(r"(?<!\w)(?:" + "|".join(re.escape(w) for w in ordered) + r")(?!\w)")


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """`value` of one unit in another; names or codes. Raises DiaryError where they measure different things."""
    return by_code(value, unit_code(from_unit), unit_code(to_unit))


def same_dimension(a: str, b: str) -> bool:
    """Do two units measure the same thing?"""
    return bool(dimension(a)) and dimension(a) == dimension(b)


def written(text: str) -> str:
    """A text with unit codes ("ft_lb", "degF") replaced by what people write ("ft lb", "°F"); see
    data/unit_words.toml.
    """
    names = table("unit_words")["written"]
    return _codes().sub(lambda m: str(names[m.group(0)]), text)


@lru_cache(maxsize=1)
def _codes() -> re.Pattern[str]:
    ordered = sorted(table("unit_words")["written"], key=len, reverse=True)
    return re.compile(r"(?<!\w)(?:" + "|".join(re.escape(c) for c in ordered) + r")(?!\w)")
