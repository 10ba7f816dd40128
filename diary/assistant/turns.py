"""Kinds of turns told apart by their words alone: commands, yes and no, questions. The phrases are in data/turns.toml.

Speech has no punctuation, so a question is known by how it begins; what looks like a note or a correction is left to
`conversation`, which knows what was said before.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from diary.assistant.words import Word, table, words


@cache
def _t(name: str) -> Any:
    return table("turns")[name]


@cache
def _phrases(name: str) -> tuple[tuple[str, ...], ...]:
    return tuple(sorted((tuple(p.split()) for p in _t(name)), key=len, reverse=True))


@dataclass(frozen=True, slots=True)
class Command:
    """A command: `name` is listen, pause, resume, quiet, speak, read_back, undo, redo or delete; `n` how many, `kind`
    of what."""

    name: str
    n: int = 1
    kind: str | None = None


def starts(tokens: Sequence[str], name: str, at: int = 0) -> int:
    """How many words at `at` are a phrase of the list `name`."""
    for phrase in _phrases(name):
        if tuple(tokens[at : at + len(phrase)]) == phrase:
            return len(phrase)
    return 0


def holds(tokens: Sequence[str], name: str) -> bool:
    """Whether a phrase of the list stands anywhere."""
    return any(starts(tokens, name, i) for i in range(len(tokens)))


def lead(tokens: Sequence[str], also: str = "openers") -> int:
    """How many opening words stand before the turn proper; at least one word is left."""
    i, openers = 0, _t(also)
    while i < len(tokens) - 1 and tokens[i] in openers:
        i += 1
    return i


def wake(text: str, own: Sequence[str] = ()) -> tuple[bool, str]:
    """Whether the turn begins with a wake phrase, and what is said after it. `own` are phrases a person has set."""
    found = words(text)
    tokens = [w.text for w in found]
    for phrase in [*(tuple(p.lower().split()) for p in own), *_phrases("wake")]:
        if tuple(tokens[: len(phrase)]) == phrase:
            rest = text[found[len(phrase)].start :] if len(found) > len(phrase) else ""
            return True, rest
    return False, text


def _only(tokens: Sequence[str], name: str) -> bool:
    """Whether the whole turn is a phrase of the list among fillers."""
    fillers = _t("fillers")
    for i in range(len(tokens)):
        size = starts(tokens, name, i)
        if size and all(t in fillers for t in (*tokens[:i], *tokens[i + size :])):
            return True
    return False


def _count(tokens: Sequence[str]) -> int:
    """The number of steps in "undo last 2", "undo the last three"."""
    counts = table("windows")["counts"]
    for t in tokens:
        if t.isdigit() and 0 < int(t) < 1000:
            return int(t)
        if t in counts and t not in ("a", "one"):
            return int(counts[t])
        if t in ("twice", "both"):
            return 2
        if t in ("everything", "all"):
            return 1
    return 1


def command(text: str, listening: bool = True, own_pause: Sequence[str] = ()) -> Command | None:
    """The command that a turn is, or None."""
    tokens = [w.text for w in words(text)]
    if not tokens:
        return None
    if not listening:
        return Command("resume") if _only(tokens, "resume") else None
    if _only(tokens, "pause") or any(plain_is(tokens, p) for p in own_pause):
        return Command("pause")
    for name in ("quiet", "speak", "read_back", "resume"):
        if _only(tokens, name):
            return Command(name)
    i = lead([*tokens, ""])
    rest = tokens[i:]
    skip = 0
    while skip < min(2, len(rest)) and rest[skip] in ("no", "wait", "sorry", "hang", "actually"):
        skip += 1
    # "delete the last fill": a kind of record is named
    size = starts(rest, "delete", skip)
    if size:
        tail = rest[skip + size :]
        kind = next((_t("kinds")[t] for t in tail[:5] if t in _t("kinds")), None)
        if kind and kind != "note" and any(t in _t("newest") for t in tail[:3]) and len(tail) <= 6:
            return Command("delete", 1, kind)
    for name in ("redo", "undo"):
        size = starts(rest, name, skip)
        if size:
            return Command(name, _count(rest[skip + size : skip + size + 4]))
    return None


def plain_is(tokens: Sequence[str], phrase: str) -> bool:
    """Whether the turn is just that phrase."""
    return list(tokens) == phrase.lower().split()


def yes_no(tokens: Sequence[str]) -> tuple[str, int] | None:
    """("yes" or "no", words used) where a turn begins so; several such phrases in a row are taken together."""
    i = 0
    openers = ("oh", "well", "um", "uh", "so", "and")
    while i < len(tokens) and tokens[i] in openers:
        i += 1
    found: str | None = None
    while i < len(tokens):
        both = [(size, word) for word in ("yes", "no") if (size := starts(tokens, word, i))]
        if not both:
            break
        size, word = max(both)
        if found is None:
            found = word
        elif found != word:
            break
        i += size
    return (found, i) if found else None


def is_question(text: str, after_question: bool = False) -> bool:
    """Whether a turn asks. `after_question`: the turn before was a question, so a short "and the one before" asks
    too."""
    found: list[Word] = words(text)
    tokens = [w.text for w in found]
    if not tokens:
        return False
    i = lead(tokens)
    for start in range(i + 1):
        if start < i and tokens[start] not in ("can", "could", "would", "tell", "remind", "all", "just"):
            continue
        if starts(tokens, "no_question", start):
            return False
    first = tokens[i]
    if starts(tokens, "no_question", i):
        return False
    if re.search(r"\?\s*$", text):
        return True
    if first in _t("question_first"):
        return True
    if first == "when":
        return i + 1 < len(tokens) and tokens[i + 1] in _t("when_then")
    if first in _t("question_aux") and i + 1 < len(tokens) and (tokens[i + 1] in _t("subjects") or first == "any"):
        numbers = any(t[0].isdigit() for t in tokens) or bool(number_words() & set(tokens))
        plain_subject = tokens[i + 1] in ("i", "we", "you", "it", "there", "that")
        return plain_subject or not numbers or first not in ("did", "do")
    for start in range(i + 1):
        if starts(tokens, "show_me", start):
            return True
    if "can" in tokens[:i] or "could" in tokens[:i] or "tell" in tokens[:i] or "remind" in tokens[:i]:
        return first in ("i", "we", "what", "how", "when", "which", "you")
    if any(starts(tokens, "question_pairs", start) for start in range(i + 1)):
        return True
    if _asks_after_its_topic(tokens, i):
        return True
    if after_question and len(tokens) <= 7 and starts(tokens, "follow_first"):
        return not any(t[0].isdigit() for t in tokens) and not (number_words() & (set(tokens) - {"one", "second"}))
    return False


def _asks_after_its_topic(tokens: Sequence[str], first: int) -> bool:
    """Whether a short turn names its thing and then asks of it ("the rear pads how thin are they", "that pump is it done with"):
    a verb before its subject, somewhere after the start."""
    rows = table("turns")
    if len(tokens) - first > rows["topic_longest"] or tokens[first] in rows["tellers"]:
        return False
    for k in range(first + 1, len(tokens) - 1):
        if starts(tokens, "asked_late", k) and not set(tokens[first:k]) & set(rows["tellers"]):
            return True
        turned = tokens[k] in _t("question_aux") and tokens[k + 1] in rows["asked_of"]
        if turned and tokens[k - 1] not in rows["not_turned"] and not set(tokens[first:k]) & set(rows["tellers"]):
            return True
    return False


@cache
def number_words() -> frozenset[str]:
    """The words that numbers are made of."""
    numbers = table("spoken")["numbers"]
    return frozenset([*numbers["ones"][1:], *(t for t in numbers["tens"] if t), "hundred", "thousand", "point"])
