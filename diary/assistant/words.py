"""Words of talk made comparable: folded, contractions opened, stems, and how much two phrases share.

The word tables are in `data/words.toml`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"
_WORD = re.compile(
    r"(?:(?<=/\d)|(?<=/\d\d)) ?[-–] ?(?=\d{1,2}/\d)|(?<=[a-z] )v(?= [a-z\d])|l ?/ ?100 ?(?:km)?\b|(?:l|gal) ?/ "
    r"?h(?:r|our)?\b|\d+(?:st|nd|rd|th)\b|\d+(?:[.,:/]\d+)*|[a-z]+(?:'[a-z]+)?|\d*[a-z\d]+",
    re.I,
)


@cache
def table(name: str) -> dict[str, Any]:
    """A data file of this folder, read once: `table("words")` is data/words.toml."""
    with (DATA / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)


@dataclass(frozen=True, slots=True)
class Word:
    """A folded word and the characters of the original text that it came from."""

    text: str
    start: int
    end: int


@cache
def _contractions() -> dict[str, tuple[str, ...]]:
    return {k: tuple(v.split()) for k, v in table("words")["contractions"].items()}


@cache
def _same() -> dict[str, str]:
    return {word: row[0] for row in table("words")["same"] for word in row}


@cache
def _stop() -> frozenset[str]:
    return frozenset(table("words")["stop"])


def words(text: str) -> list[Word]:
    """The words of `text`, lower case, contractions opened ("what's" and "whats" become "what is"); numbers keep
    their digits."""
    out: list[Word] = []
    opened = _contractions()
    for m in _WORD.finditer(text.replace("’", "'")):
        low = m.group().lower()
        if low.strip() in ("-", "–"):  # "9/2-9/11"
            low = "to"
        elif low == "v":  # "first tank v second tank"
            low = "vs"
        elif "/" in low and low[0] in "lg":
            low = "l/100" if "100" in low else "l/h" if low[0] == "l" else "gal/h"
        if low[0].isdigit():
            low = low.replace(",", "")
        for part in opened.get(low, (low.removesuffix("'s"),)):
            out.append(Word(part, m.start(), m.end()))
    return out


def plain(text: str) -> str:
    """The folded words of `text` joined by single spaces."""
    return " ".join(w.text for w in words(text))


@cache
def stem(word: str) -> str:
    """A word without its ending, and with its twin word taken for it ("tyres" and "tire" meet)."""
    same = _same()
    if word in same:
        word = same[word]
    if len(word) > 4:
        for end, put in (("ies", "y"), ("sses", "ss"), ("ches", "ch"), ("shes", "sh"), ("xes", "x")):
            if word.endswith(end):
                word = word[: -len(end)] + put
                break
        else:
            if word.endswith("s") and not word.endswith(("ss", "us", "is")):
                word = word[:-1]
    elif len(word) == 4 and word.endswith("s") and not word.endswith(("ss", "us")):
        word = word[:-1]
    word = same.get(word, word)
    for end in ("ing", "ed"):
        if word.endswith(end) and len(word) - len(end) >= 3:
            word = word[: -len(end)]
            if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "ls":
                word = word[:-1]
            break
    if word.endswith("e") and len(word) > 3:
        word = word[:-1]
    if word.endswith("y") and len(word) > 4:
        word = word[:-1]
    return same.get(word, word)


def is_stop(word: str) -> bool:
    """Whether a word carries no content of its own."""
    return word in _stop()


@lru_cache(maxsize=65536)
def _content_of(text: str) -> tuple[str, ...]:
    return tuple(stem(w.text) for w in words(text) if w.text not in _stop())


def content(text: str | Iterable[str]) -> list[str]:
    """Stems of the words that carry meaning, in order."""
    if isinstance(text, str):
        return list(_content_of(text))
    return [stem(w) for w in text if w not in _stop()]


def overlap(wanted: Sequence[str], text: str | None, also: str | None = None) -> float:
    """The share, 0 to 1, of the stems `wanted` that `text` (with `also`) has. The last word, the noun, counts double.

    A noun alone is worth a half: "wheel cylinder" and "master cylinder" are two things.
    """
    if not wanted or not (text or also):
        return 0.0
    have = _content_of(text or "") + _content_of(also or "")
    hits = sum(1 for s in wanted if s in have)
    noun = wanted[-1] in have
    if noun and hits == 1 and len(wanted) == 2 and len(have) > 1:
        return 0.5
    return (hits + noun) / (len(wanted) + 1)
