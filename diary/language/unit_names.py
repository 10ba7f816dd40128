"""The spoken names of units (`data/units.toml`), looked up at a place in a text.

A name is matched word by word; hyphens and dots between its words are ignored ("foot-pounds", "ft. lbs."). One-letter
abbreviations are believed only right after digits ("12.1v").
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diary.language.numeral_words import Scan


@dataclass(frozen=True, slots=True)
class Meaning:
    """One thing a unit word can stand for."""

    code: str
    prior: float
    cues: frozenset[str] = frozenset()
    locale: str = ""


@dataclass(frozen=True, slots=True)
class UnitName:
    """A spoken unit: its words and what they can mean, likeliest first; `sure` is below 1 for mishearings."""

    words: tuple[str, ...]
    meanings: tuple[Meaning, ...]
    sure: float = 1.0
    letter: bool = False


@dataclass(slots=True)
class UnitTable:
    """All unit names by their first word, longest first, and the facts of `data/units.toml` that reading needs."""

    by_first: dict[str, list[UnitName]]
    dimension: dict[str, str]
    cue_weight: float
    locale_weight: float
    cue_window: int
    per: frozenset[str]
    least: dict[str, float]


@cache
def unit_table() -> UnitTable:
    """The spoken units, read once."""
    from diary.language.numeral_words import load_toml

    raw = load_toml("units.toml")
    dimension: dict[str, str] = {}
    least = {u["code"]: float(u["least"]) for u in raw["unit"] if "least" in u}
    names: dict[tuple[str, ...], UnitName] = {}

    def add(spoken: str, meanings: tuple[Meaning, ...], sure: float = 1.0, letter: bool = False) -> None:
        words = tuple(spoken.replace("/", " / ").replace("·", " · ").split())
        names.setdefault(words, UnitName(words, meanings, sure, letter))

    for entry in raw["ambiguous"]:
        meanings = tuple(
            Meaning(m["code"], m["prior"], frozenset(m.get("cues", ())), m.get("locale", "")) for m in entry["means"]
        )
        for spoken in entry["spoken"]:
            add(spoken, meanings)
    for unit in raw["unit"]:
        dimension[unit["code"]] = unit["dimension"]
        only = (Meaning(unit["code"], 1.0),)
        for spoken in unit["spoken"]:
            add(spoken.lower(), only)
        for spoken in unit.get("letters", ()):
            add(spoken, only, 1.0, True)
        for spoken in unit.get("misheard", ()):
            add(spoken, only, raw["misheard_likelihood"])
    for unit in raw["unit"]:
        if unit.get("si"):
            for prefix, fact in raw["prefixes"].items():
                code = fact["symbol"] + unit["code"]
                dimension.setdefault(code, unit["dimension"])
                only = (Meaning(code, 1.0),)
                for spoken in unit["spoken"]:
                    if spoken.isalpha() and len(spoken) > 2:
                        add(prefix + spoken, only)
                        add(f"{prefix} {spoken}", only)
                if fact["symbol"] in "kMmu" and len(unit["code"]) <= 2:
                    add((fact["symbol"] + unit["code"]).lower(), only)
    dimension["x1000"] = "count"
    by_first: dict[str, list[UnitName]] = {}
    for name in names.values():
        by_first.setdefault(name.words[0], []).append(name)
    for group in by_first.values():
        group.sort(key=lambda n: -len(n.words))
    return UnitTable(
        by_first, dimension, raw["cue_weight"], raw["locale_weight"], raw["cue_window"], frozenset(raw["per"]), least
    )


def unit_at(s: Scan, i: int, table: UnitTable | None = None, below: int = 99) -> tuple[UnitName, int] | None:
    """The longest unit name of fewer than `below` words that begins at token i of the scan, and the token after it."""
    words = s.words
    n = len(words)
    if i >= n:
        return None
    if words[i] == "-" and i + 1 < n and s.ends[i] == s.starts[i + 1]:
        i += 1
    group = (table or unit_table()).by_first.get(words[i])
    if not group:
        return None
    for name in group:
        end = _match(words, i, name.words, n) if len(name.words) < below else 0
        if end and (not name.letter or _letter_fits(s, i)):
            return name, end
    return None


def _match(words: list[str], i: int, wanted: tuple[str, ...], n: int) -> int:
    j = i
    for k, word in enumerate(wanted):
        if k:
            while j < n and words[j] in "-.":
                j += 1
        if j >= n or words[j] != word:
            return 0
        j += 1
    return j


def _letter_fits(s: Scan, i: int) -> bool:
    if i == 0 or s.codes[i - 1] not in "nDF":
        return False
    letter = s.words[i]
    return s.starts[i] == s.ends[i - 1] or letter not in "as"
