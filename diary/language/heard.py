"""Sound-alike mishearings of speech recognisers, mended on the tokens ("oh dominator" is read as "odometer").

The text stays as it was given: a mended token keeps the place of the words it was heard as, only its `lower` changes.
What is mended, and in whose company, is data: `data/lexicon/mishearings.toml`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache

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
    found: dict[str, list[Mishearing]] = {}
    for entry in raw["mishearing"]:
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


def mend(words: list[Token]) -> list[Token]:
    """The tokens with known mishearings replaced by what was meant; the list itself where there is none."""
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
    """`meant` laid over the places of `heard`: one to one as far as both go, what is left shares the last place."""
    found = []
    for i, word in enumerate(meant):
        first = heard[min(i, len(heard) - 1)]
        last = heard[-1] if i == len(meant) - 1 else first
        found.append(Token(first.text, word, first.start, last.end))
    return found
