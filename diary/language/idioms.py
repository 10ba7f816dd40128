"""Turns of phrase, written down in data files and found in a note.

A phrase is words with a little syntax, matched against the note's words in lower case without apostrophes ("that's" is
"thats", "isn't" is "isnt"), UK and US spelling alike:

====================  =====================================================================
`[one|two words]`     one of several
`(word)`              may be missing; `(one|other)` one of several, or none
`<name>`              one of the words of class `name` of the same file
`_`, `_ing`, `p0_`    any one word, any word that ends so, any that begins so
`__`                  up to three words of any kind
====================  =====================================================================

Nothing matches across the end of a sentence, where the note is punctuated. Commas are passed over.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diary.language.text import fold
from diary.language.types import Token

_STOP = re.compile(r"[.?!;:\n](?:\s|$)")
_PIECE = re.compile(r"\[([^\]]*)\]|\(([^)]*)\)|<(\w+)>|(\S+)")
_ANY = r"[^ .]+"


@dataclass(frozen=True, slots=True)
class Line:
    """A note's words as one string to match in; `starts[i]` is where word i begins in it, `words[i]` the token."""

    text: str
    starts: tuple[int, ...]
    words: tuple[Token, ...]

    def span(self, start: int, end: int) -> tuple[int, int]:
        """From offsets in the line to offsets in the note."""
        first, after = bisect_left(self.starts, start), bisect_left(self.starts, end)
        return self.words[first].start, self.words[after - 1].end


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase found: the `group` it stands in, and where, in characters of the note."""

    group: str
    start: int
    end: int


def plain(word: str) -> str:
    """The word as phrases are compared: folded, without apostrophes."""
    return fold(word.lower()).replace("'", "").replace("’", "")


def line(text: str, tokens: Iterable[Token]) -> Line:
    """The note's words for matching; a full stop stands where a sentence ends."""
    parts, starts, words, at, last = [" "], [], [], 1, None
    for token in tokens:
        if last is not None and _STOP.search(text[last : token.start + 1]):
            parts.append(". ")
            at += 2
        word = plain(token.lower) + " "
        starts.append(at)
        words.append(token)
        parts.append(word)
        at += len(word)
        last = token.end
    return Line("".join(parts), tuple(starts), tuple(words))


class Idioms:
    """Groups of phrases, ready to be found. `groups` maps a group's name to its phrases, `classes` a class to its
    words.
    """

    def __init__(self, groups: Mapping[str, Iterable[str]], classes: Mapping[str, Iterable[str]]) -> None:
        self._classes = {name: "(?:" + _options(words, {}) + ") " for name, words in classes.items()}
        self._patterns = {
            name: re.compile(
                "(?<= )(?:" + "|".join(_regex(p, self._classes) for p in sorted(phrases, key=len, reverse=True)) + ")"
            )
            for name, phrases in groups.items()
        }

    def find(self, within: Line, group: str) -> list[Found]:
        """Where phrases of the group stand, first to last, not overlapping."""
        return [
            Found(group, *within.span(m.start(), m.end()))
            for m in self._patterns[group].finditer(within.text)
            if m.end() > m.start()
        ]


def _options(options: Iterable[str], classes: Mapping[str, str]) -> str:
    options = list(options)
    if any(o.split()[-1:] == ["__"] for o in options):
        raise ValueError("A gap (__) cannot end an option of a phrase; write it outside the brackets.")
    made = sorted((_regex(o, classes).removesuffix(" ") for o in options), key=len, reverse=True)
    return "|".join(made)


def _regex(phrase: str, classes: Mapping[str, str]) -> str:
    """The phrase as a regular expression over a line; every word takes the blank after it with it."""
    made = []
    for several, maybe, name, word in _PIECE.findall(phrase):
        if several:
            made.append("(?:" + _options(several.split("|"), classes) + ") ")
        elif maybe:
            made.append("(?:(?:" + _options(maybe.split("|"), classes) + ") )?")
        elif name:
            made.append(classes[name])
        elif word == "_":
            made.append(_ANY + " ")
        elif word == "__":
            made.append(f"(?:{_ANY} ){{0,3}}?")
        elif word.startswith("_"):
            made.append(r"[^ .]*" + re.escape(word[1:]) + " ")
        elif word.endswith("_"):
            made.append(re.escape(word[:-1]) + r"[^ .]* ")
        else:
            made.append(re.escape(plain(word)) + " ")
    return "".join(made)
