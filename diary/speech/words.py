"""How likely words are one after the other in workshop talk, and which words sound like which.

The counts in `data/talk.txt` are of three words in a row, from talk of our own (`models/words/train.py` makes the file).
Probabilities are interpolated Kneser-Ney's (Chen and Goodman, "An empirical study of smoothing techniques for language
modeling", 1999, section 2.7, with one discount).
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from typing import TypeVar

from diary.speech.bias import lexicon_terms

START = "<s>"
"""Stands twice before the first word of a note."""
NAME = "<n>"
"""Stands before a name that comes from the lexicon, not from talk."""
WORD = re.compile(r"[A-Za-z]+(?:'[A-Za-z]+)*|\d[\d,]*(?:\.\d+)?")
DISCOUNT = 0.75
UNKNOWN = 60_000
"""Words that there are besides those counted."""
NAMED = 0.5
"""How often a name of the lexicon counts as said."""
_LONGEST_CODE = 12
_Key = TypeVar("_Key")


class WordModel:
    """Three words in a row. `counts` are of (first, second, third)."""

    def __init__(self, counts: Mapping[tuple[str, str, str], float]) -> None:
        self._threes = dict(counts)
        self._after_two: dict[tuple[str, str], list[float]] = {}
        self._after_one: dict[str, list[float]] = {}
        self._twos: dict[tuple[str, str], float] = {}
        self._ones: dict[str, float] = {}
        self.said: dict[tuple[str, ...], float] = {}
        """How often a word, or two in a row, are in the talk."""
        for (first, second, third), count in self._threes.items():
            _add(self._after_two, (first, second), count)
            self._twos[second, third] = self._twos.get((second, third), 0) + 1
            self.said[(third,)] = self.said.get((third,), 0) + count
            self.said[second, third] = self.said.get((second, third), 0) + count
        for (second, third), kinds in self._twos.items():
            _add(self._after_one, second, kinds)
            self._ones[third] = self._ones.get(third, 0) + 1
        self._total = sum(self._ones.values()) or 1
        self._floor = DISCOUNT * len(self._ones) / self._total / UNKNOWN

    def probability(self, first: str, second: str, third: str) -> float:
        """Of `third` after the two others, between 0 and 1 (never 0)."""
        lowest = max(self._ones.get(third, 0) - DISCOUNT, 0) / self._total + self._floor
        lower = _interpolated(self._twos.get((second, third), 0), self._after_one.get(second), lowest)
        return _interpolated(self._threes.get((first, second, third), 0), self._after_two.get((first, second)), lower)

    def score(self, before: Sequence[str], words: Sequence[str], after: Sequence[str] = ()) -> float:
        """Natural logarithm of the probability of `words` and the two words `after`, given those `before`."""
        row = [*[START, START, *before[-2:]][-2:], *words, *after[:2]]
        return sum(math.log(self.probability(*row[i - 2 : i + 1])) for i in range(2, len(row)))


def _add(table: dict[_Key, list[float]], key: _Key, count: float) -> None:
    entry = table.setdefault(key, [0.0, 0.0])
    entry[0] += count
    entry[1] += 1


def _interpolated(count: float, after: Sequence[float] | None, lower: float) -> float:
    if not after:
        return lower
    total, kinds = after
    return max(count - DISCOUNT, 0) / total + min(DISCOUNT * kinds, total) / total * lower


def plain(text: str) -> list[str]:
    """The words of a text in lower case, without punctuation; figures stay as they are."""
    return [found.group().lower() for found in WORD.finditer(text)]


@lru_cache(maxsize=1)
def talk() -> WordModel:
    """The model of `data/talk.txt`, with the names of the lexicon."""
    counts: dict[tuple[str, str, str], float] = {}
    for line in (files("diary.speech") / "data" / "talk.txt").read_text("utf-8").splitlines():
        if line and line[0] != "#":
            count, first, second, third = line.split(" ")
            counts[first, second, third] = float(count)
    for name in lexicon_terms():
        row = [NAME, NAME, *plain(name)]
        for at in range(2, len(row)):
            key = (row[at - 2], row[at - 1], row[at])
            counts[key] = counts.get(key, 0) + NAMED
    return WordModel(counts)


# ---- words by their sound
# ----------------------------------------------------------------------------------------------


@lru_cache(maxsize=65536)
def sounds(letters: str) -> str:
    """The Metaphone code of letters; every vowel at the start is one, and "th" is "t"."""
    import jellyfish

    code = jellyfish.metaphone(letters).replace(" ", "").replace("0", "T")
    return "A" + code[1:] if code[:1] in tuple("AEIOU") else code


@lru_cache(maxsize=65536)
def alike(first: str, second: str) -> float:
    """How alike the letters of two words or stretches sound, 0 to 1."""
    import jellyfish

    a, b = sounds(first), sounds(second)
    by_sound = 1 - jellyfish.damerau_levenshtein_distance(a, b) / (max(len(a), len(b)) or 1)
    return float(by_sound + jellyfish.jaro_winkler_similarity(first, second)) / 2


def letters(words: Iterable[str]) -> str:
    """The letters of some words, joined."""
    return re.sub("[^a-z]", "", "".join(words))


def _shortened(code: str) -> set[str]:
    """A code, and what is left of it without one of its sounds."""
    return {code, *(code[:i] + code[i + 1 :] for i in range(len(code)) if len(code) >= 3)}


class Sounds:
    """Words, and pairs of words, of some talk by their sound; those said at least `often` times."""

    def __init__(self, model: WordModel, often: float = 2) -> None:
        self._by_code: dict[str, list[tuple[tuple[str, ...], str]]] = defaultdict(list)
        for words, count in model.said.items():
            if count >= often and not any(word[0] in "<0123456789" for word in words):
                joined = letters(words)
                code = sounds(joined)
                if code and len(code) <= _LONGEST_CODE:
                    for short in _shortened(code):
                        self._by_code[short].append((words, joined))

    def near(self, joined: str) -> dict[tuple[str, ...], str]:
        """Words and pairs whose code differs by at most one sound, with their letters."""
        code = sounds(joined)
        if not code or len(code) > _LONGEST_CODE:
            return {}
        return dict(pair for short in _shortened(code) for pair in self._by_code.get(short, ()))


@lru_cache(maxsize=1)
def talk_sounds() -> Sounds:
    """The words of `talk` by their sound."""
    return Sounds(talk())
