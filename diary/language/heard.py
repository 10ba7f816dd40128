"""Sound-alike mishearings of speech recognisers ("oh dominator" is read as "odometer") and abbreviations of hurried
typing ("frnt brk hsng"), mended on the tokens.

The text stays as it was given: a mended token keeps the place of the words it was heard as, only its `lower` changes.
What is mended, and in whose company, is data: `data/lexicon/mishearings.toml` and `data/typed.toml`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from diary.language.text import DATA, stem, tokens
from diary.language.types import Token

_NEAR = 6  # words to either side in which the company of a doubtful mishearing is looked for


@dataclass(frozen=True, slots=True)
class Mishearing:
    """`heard` words that stand for `meant`; `near`: stems of which one must be close, "#" a number just before;
    `unless`: words just before that keep it from being mended."""

    heard: tuple[str, ...]
    meant: tuple[str, ...]
    near: frozenset[str]
    unless: frozenset[str]


@cache
def mishearings() -> dict[str, list[Mishearing]]:
    """Every known mishearing by its first word, the longest first."""
    raw = tomllib.loads((DATA / "lexicon" / "mishearings.toml").read_text(encoding="utf-8"))
    return _by_first([*raw["mishearing"], *_typed()["phrase"]])


def _by_first(entries: Iterable[dict[str, Any]]) -> dict[str, list[Mishearing]]:
    found: dict[str, list[Mishearing]] = {}
    for entry in entries:
        near = frozenset(stem(word) for word in entry.get("near", []))
        for phrase in entry["heard"]:
            heard = tuple(token.lower for token in tokens(phrase))
            meant = tuple(word if word != "*" else heard[-1] for word in entry["meant"].split())
            if heard != meant:
                found.setdefault(heard[0], []).append(
                    Mishearing(heard, meant, near, frozenset(entry.get("unless", [])))
                )
    for known in found.values():
        known.sort(key=lambda m: -len(m.heard))
    return found


@cache
def _number_words() -> frozenset[str]:
    raw = tomllib.loads((DATA / "lexicon" / "mishearings.toml").read_text(encoding="utf-8"))
    return frozenset(raw["numbers"])


@cache
def _typed() -> dict[str, Any]:
    """The tables of `data/typed.toml`."""
    return tomllib.loads((DATA / "typed.toml").read_text(encoding="utf-8"))


_DROPPED = re.compile(r"[aeiou]")


# Consonants that meet in hardly any English word but where a vowel was left out: "wipr", "arrivd", "housng", "chrgr".
_BARE = re.compile(
    r"[bcdfghjklmnpqrstvwxz]{4}|[bcdfgkmpstvz]r[ds]?$|[bcfgkmpqstvxz]d$|[a-z]{3}erd$|[bdfgjkmpsvz]ng"
    r"|^(?!chr|phr|sch|scr|shr|spl|spr|str|squ|thr)[bcdfghjklmnpqrstvwxz]{3}|[bdfgkpmv]n[dt]|[bcdfgkmpstv]re?$"
)


def _skeleton(word: str) -> str:
    """What is left of a word typed without its vowels, doubled letters single: "bearing" and "berng" are "brng"."""
    bare = word[0] + _DROPPED.sub("", word[1:])
    return re.sub(r"(.)\1", r"\1", bare)


@cache
def _skeletons() -> dict[str, tuple[str, ...]]:
    """The longer words of the trade by their skeletons, in the forms in which they are typed."""
    from diary.language.lexicon import load

    known = {word for word in load(None).vocabulary() if word.isalpha() and len(word) >= 5}
    known |= {word + "s" for word in known if not word.endswith(("s", "ed", "ing"))}
    found: dict[str, list[str]] = {}
    for word in sorted(known):
        found.setdefault(_skeleton(word), []).append(word)
    return {skeleton: tuple(words) for skeleton, words in found.items()}


@cache
def _words_known() -> frozenset[str]:
    from diary.language.lexicon import load

    return load(None).vocabulary() | frozenset(_typed()["keep"])


@lru_cache(maxsize=16384)
def spelled_out(word: str) -> str:
    """The word or words that a typed abbreviation stands for, or the word itself: "chkd" is "checked", "housng" is
    "housing"."""
    table: dict[str, str] = _typed()["words"]
    if word in table:
        return table[word]
    if len(word) < 4 or not word.isalpha() or not word.isascii() or not _BARE.search(word):
        return word
    meant = [
        full
        for full in _skeletons().get(_skeleton(word), ())
        if len(full) > len(word) and full[0] == word[0] and full[-1] == word[-1] and _left_out(word, full)
    ]
    if len(meant) != 1 or word in _words_known() or stem(word) in _words_known():
        return word
    return meant[0]


def _left_out(short: str, full: str) -> bool:
    """True where `short` is `full` with letters left out, and not so many that it could be another word."""
    rest = iter(full)
    return all(letter in rest for letter in short) and len(full) - len(short) <= 1 + len(full) // 5


def _spell_out(words: list[Token]) -> list[Token]:
    """The tokens with the abbreviations of hurried typing read as what they stand for; the list itself if none."""
    if all(spelled_out(word.lower) == word.lower for word in words):
        return words
    found: list[Token] = []
    for word in words:
        meant = spelled_out(word.lower)
        found.extend([word] if meant == word.lower else _respelled([word], tuple(meant.split())))
    return found


def mend(words: list[Token]) -> list[Token]:
    """The tokens with known mishearings and abbreviations replaced by what was meant; the list itself where there is
    none."""
    words = _spell_out(words)
    table = mishearings()
    if not any(word.lower in table for word in words):
        return words
    mended: list[Token] = []
    at = 0
    while at < len(words):
        for known in table.get(words[at].lower, ()):
            end = at + len(known.heard)
            if tuple(word.lower for word in words[at:end]) == known.heard and _in_company(known, words, at, end):
                mended.extend(_respelled(words[at:end], known.meant))
                at = end
                break
        else:
            mended.append(words[at])
            at += 1
    return mended


def _in_company(known: Mishearing, words: list[Token], at: int, end: int) -> bool:
    before = words[at - 1].lower if at else ""
    if before in known.unless:
        return False
    if not known.near:
        return True
    if "#" in known.near and (before[:1].isdigit() or before in _number_words()):
        return True
    around = words[max(0, at - _NEAR) : at] + words[end : end + _NEAR]
    return any(stem(word.lower) in known.near for word in around)


def _respelled(heard: list[Token], meant: tuple[str, ...]) -> list[Token]:
    """`meant` laid over the places of `heard`: one to one as far as both go; what is left shares the last place, letter
    by letter where it has enough ("fl": "front", "left")."""
    found = []
    spare = len(meant) - len(heard)
    for i, word in enumerate(meant):
        first = heard[min(i, len(heard) - 1)]
        last = heard[-1] if i == len(meant) - 1 else first
        start, end = first.start, last.end
        if spare > 0 and i >= len(heard) - 1 and heard[-1].end - heard[-1].start > spare:
            start = heard[-1].start + i - len(heard) + 1
            end = heard[-1].end if i == len(meant) - 1 else start + 1
        found.append(Token(first.text, word, start, end))
    return found
