"""Words that only sound like what was said, put right after recognition.

What was heard is kept, what is read from it is a second text, and every difference between them can be shown. A stretch
of up to four words is compared by sound (Metaphone codes and their edit distance) with the trade's words and this
diary's own; numbers are put right only where a number must stand. All words are data: `data/hearing.toml`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from diary.speech.bias import data, lexicon_terms
from diary.speech.figures import figures

_WORD = re.compile(r"[A-Za-z]+(?:'[a-z]+)?|\d[\d,]*(?:\.\d+)?")
_LONGEST = 4  # words that one word of the trade may have been heard as
_SHORTEST_CODE = 4  # sounds; shorter ones are alike by accident
_SHORTEST = 6  # letters of what was heard
_SHORTEST_TERM = 8  # letters of a word that something may be put right to
_ENDS = re.compile(r"[.,;:!?]")  # no word runs across these


@dataclass(frozen=True, slots=True)
class Change:
    """`heard` at characters `start` to `end` of what was heard is read as `read`; `likeness` is between 0 and 1."""

    start: int
    end: int
    heard: str
    read: str
    likeness: float


@dataclass(frozen=True, slots=True)
class Reading:
    """`heard` as the recogniser wrote it, `text` as it is read, and the changes between them in order."""

    heard: str
    text: str
    changes: tuple[Change, ...] = ()

    def move(self, places: Sequence[Sequence[Any]]) -> list[list[Any]]:
        """Places in `heard`, [first character, last character, ...], as places in `text`; words read as one share its
        place.
        """
        return [[self._at(p[0], False), self._at(p[1], True), *p[2:]] for p in places]

    def _at(self, place: int, end: bool) -> int:
        shift = 0
        for change in self.changes:
            new = change.start + shift
            if place < change.start or (not end and place >= change.end) or (end and place > change.end):
                if place < change.start:
                    break
            elif end:
                return place + shift if place == change.start else new + len(change.read)
            else:
                return new
            shift += len(change.read) - (change.end - change.start)
        return place + shift

    def shown(self) -> str:
        """The changes for a person: `"oh dominator" read as "odometer"; ...`, empty where there are none."""
        return "; ".join(f'"{c.heard}" read as "{c.read}"' for c in self.changes)


@dataclass(frozen=True, slots=True)
class _Word:
    lower: str
    start: int
    end: int

    @property
    def digits(self) -> bool:
        return self.lower[0].isdigit()


def repaired(text: str, own: Iterable[str] = (), meters: Mapping[str, float] | None = None) -> Reading:
    """`text` with what only sounds alike put right. `own` are names of this diary's own (parts, nicknames).

    `meters` are the last readings known by meter ("odometer"): "forty forty" after 1351 is read as "fourteen forty".
    """
    words = [_Word(m.group().lower(), m.start(), m.end()) for m in _WORD.finditer(text)]
    vocabulary = _vocabulary(tuple(own))
    found: list[Change] = []
    at = 0
    while at < len(words):
        change = (
            _reading(text, words, at, meters or {})
            or _known(text, words, at)
            or _number(text, words, at, meters or {})
            or _slot(text, words, at)
            or _alike(text, words, at, vocabulary)
        )
        if change:
            found.append(change)
            while at < len(words) and words[at].start < change.end:
                at += 1
        else:
            at += 1
    return Reading(text, _applied(text, found), tuple(found))


def _applied(text: str, changes: Sequence[Change]) -> str:
    out, at = [], 0
    for change in changes:
        out += [text[at : change.start], change.read]
        at = change.end
    return "".join([*out, text[at:]])


def _change(text: str, first: _Word, last: _Word, read: str, likeness: float) -> Change | None:
    heard = text[first.start : last.end]
    if heard.lower() == read:
        return None
    read = read[0].upper() + read[1:] if heard[0].isupper() else read
    return Change(first.start, last.end, heard, read, round(likeness, 3))


# ---- what is known to be misheard
# --------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _table() -> dict[tuple[str, ...], dict[str, Any]]:
    return {tuple(heard.split()): entry for entry in data()["repair"]["known"] for heard in entry["heard"]}


def _known(text: str, words: Sequence[_Word], at: int) -> Change | None:
    for length in range(min(_LONGEST, len(words) - at), 0, -1):
        entry = _table().get(tuple(word.lower for word in words[at : at + length]))
        if not entry:
            continue
        before = words[at - 1].lower if at else ""
        if entry.get("before_number") and not any(_is_number(word) for word in words[at + length : at + length + 2]):
            continue
        if entry.get("after_number") and not (at and _is_number(words[at - 1])):
            continue
        if entry.get("after_tenth") and not (at > 1 and words[at - 2].lower == "point" and _is_number(words[at - 1])):
            continue
        if before in entry.get("unless", ()):
            continue
        after = words[at + length] if at + length < len(words) else None
        if after and "unless_after" in entry and (_is_number(after) or after.lower in entry["unless_after"]):
            continue
        near = {word.lower for word in words[max(0, at - 6) : at + length + 6]}
        if "near" in entry and not near & set(entry["near"]):
            continue
        return _change(text, words[at], words[at + length - 1], entry["read"], 1.0)
    return None


# ---- numbers
# -------------------------------------------------------------------------------------------------------------


def _is_number(word: _Word) -> bool:
    return word.digits or word.lower in _number_words()


@lru_cache(maxsize=1)
def _number_words() -> frozenset[str]:
    return frozenset(data()["repair"]["numbers"]["words"])


def _number(text: str, words: Sequence[_Word], at: int, meters: Mapping[str, float]) -> Change | None:
    """A word in a place where only a number can stand, put right to the number that it sounds like."""
    facts, word = data()["repair"]["numbers"], words[at]
    for length in (2, 1):
        heard = " ".join(w.lower for w in words[at : at + length])
        after = " ".join(w.lower for w in words[at + length : at + length + 2])
        if heard in facts["before_unit"] and (after in facts["units"] or after.split(" ")[0] in facts["units"]):
            return _change(text, word, words[at + length - 1], facts["before_unit"][heard], 1.0)
    if _is_number(word):
        return _one_number(text, words, at)
    following = words[at + 1] if at + 1 < len(words) else None
    if following is None:
        return None
    put_to_zero = following.lower in facts["zeros"] and not (at + 2 < len(words) and _is_number(words[at + 2]))
    if (
        word.lower in facts["homophones"]
        and _is_number(following)
        and not put_to_zero
        and _after_meter(words, at)
        and not _fits_already(words, at + 1, meters)
    ):
        return _change(text, word, word, facts["homophones"][word.lower], 1.0)
    pair = " ".join(w.lower for w in words[at + 1 : at + 3])
    before_point = following.lower == "point" and at + 2 < len(words) and _is_number(words[at + 2])
    before_unit = pair in facts["units"] or following.lower in facts["units"]
    if not (before_point or before_unit) or word.lower in _common():
        return None
    best = max(facts["spelled"], key=lambda number: likeness(word.lower, number))
    close = likeness(word.lower, best)
    if word.lower.startswith(best):  # "three sixteenths" is a figure as it is
        return None
    return _change(text, word, word, best, close) if close >= facts["close"] else None


def _one_number(text: str, words: Sequence[_Word], at: int) -> Change | None:
    """A stop or comma between "hundred" or "thousand" and "and" with a small number: it is one number."""
    if words[at].lower not in ("hundred", "thousand") or at + 2 >= len(words) or words[at + 1].lower != "and":
        return None
    between = text[words[at].end : words[at + 1].start]
    if between.strip() in (".", ",") and _is_number(words[at + 2]) and not words[at + 2].digits:
        return _change(text, words[at], words[at + 1], f"{words[at].lower} and", 1.0)
    return None


def _reading(text: str, words: Sequence[_Word], at: int, meters: Mapping[str, float]) -> Change | None:
    """A meter's reading that fits the last one only with one word read otherwise.

    A teen for the ten that it sounds like, "all" for "oh", an "oh" that was not heard. Where several figures would fit, nothing is
    changed.
    """
    if not meters or not _in_reading(words, at) or (at and _in_reading(words, at - 1)):
        return None
    end = at
    while (
        end < len(words)
        and _in_reading(words, end)
        and (end == at or not _ENDS.search(text[words[end - 1].end : words[end].start]))
    ):
        end += 1
    end = _without_end(words, at, end)
    last = meters.get(_meter_beside(words, at, end) or "")
    run = tuple(word.lower for word in words[at:end])
    if last is None or sum(_is_number(word) for word in words[at:end]) < 2 or "point" in run:
        return None

    if _fits(run, last):
        return None
    good = {value: read for read in sorted(_read_otherwise(run)) if (value := _fits(read, last))}
    if len(good) != 1:
        return None
    (read,) = good.values()
    first = next(i for i, (a, b) in enumerate(zip(run, read, strict=False)) if a != b)
    tail = next(i for i, (a, b) in enumerate(zip(run[::-1], read[::-1], strict=False)) if a != b)
    tail = min(tail, len(run) - first - 1, len(read) - first)
    meant = " ".join(read[first : len(read) - tail])
    return _change(text, words[at + first], words[at + len(run) - tail - 1], meant, 0.9)


def _fits(read: Sequence[str], last: float) -> str | None:
    """The figure that words are, where it can follow the last reading."""
    found = figures(" ".join(read))
    farthest = data()["repair"]["numbers"]["farthest"]
    return found[0] if len(found) == 1 and last <= float(found[0]) <= last + farthest else None


def _fits_already(words: Sequence[_Word], at: int, meters: Mapping[str, float]) -> bool:
    """Whether the number from `at` on is a reading of the meter beside it."""
    end = at
    while end < len(words) and (_is_number(words[end]) or words[end].lower == "and"):
        end += 1
    end = _without_end(words, at, end)
    last = meters.get(_meter_beside(words, at, end) or "")
    return last is not None and _fits([word.lower for word in words[at:end]], last) is not None


def _without_end(words: Sequence[_Word], at: int, end: int) -> int:
    """The end of a number that stops before words that are none, and before "zero" ("... eighteen zero the trip")."""
    zeros = data()["repair"]["numbers"]["zeros"]
    while end > at and (not _is_number(words[end - 1]) or (end - at > 1 and words[end - 1].lower in zeros)):
        end -= 1
    return end


def _in_reading(words: Sequence[_Word], at: int) -> bool:
    if words[at].lower == "and":
        return bool(at) and words[at - 1].lower in data()["figures"]["powers"]
    return _is_number(words[at]) or words[at].lower in data()["repair"]["numbers"]["in_reading"]


def _read_otherwise(run: tuple[str, ...]) -> set[tuple[str, ...]]:
    """The words of a reading with one of them read otherwise, an "oh" put in, or the first left out."""
    facts = data()["repair"]["numbers"]
    found = {run[1:]} if run[0] in facts["in_reading"] or run[0] == "two" else set()
    for i, word in enumerate(run):
        for read in (facts["teens"].get(word), facts["in_reading"].get(word)):
            if read:
                found.add((*run[:i], read, *run[i + 1 :]))
        if i and word in data()["figures"]["units"]:
            found.add((*run[:i], "oh", *run[i:]))
    return found


def _meter_beside(words: Sequence[_Word], start: int, end: int) -> str | None:
    """The meter whose name stands nearest to a number, within four words; None where it is one that is put to zero."""
    before = [word.lower for word in words[max(0, start - 4) : start]]
    after = [word.lower for word in words[end : end + 4]]
    found: list[tuple[int, str]] = []
    for meter, names in data()["repair"]["names"].items():
        for name in (tuple(name.split()) for name in names):
            for side in (before[::-1], after):
                said = name[::-1] if side is not after else name
                found += [(at, meter) for at in range(len(side)) if tuple(side[at : at + len(said)]) == said]
    nearest = min(found, default=(0, ""))[1]
    return nearest if nearest in data()["repair"]["only_up"] else None


def _after_meter(words: Sequence[_Word], at: int) -> bool:
    """Whether a meter's name stands just before ("trip for 42.5", "odometer is for 42.5")."""
    before = " ".join(word.lower for word in words[max(0, at - 3) : at])
    names = [name for meter in data()["repair"]["meters"] for name in (meter, meter.split()[0])]
    return any(re.search(rf"\b{name}(?: is| says| was| at| reads)?$", before) for name in names)


def _slot(text: str, words: Sequence[_Word], at: int) -> Change | None:
    """A verb before "<number> gallons" that sounds like one that belongs there ("burned at one point one gallons")."""
    for entry in data()["repair"]["slot"]:
        end = at + len(entry["read"].split())
        if end >= len(words) or not _is_number(words[end]) or any(_is_number(word) for word in words[at:end]):
            continue
        if not any(word.lower in entry["units"] for word in words[end : end + 7]):
            continue
        close = likeness(_joined(words, at, end), entry["read"])
        if close >= entry["close"]:
            return _change(text, words[at], words[end - 1], entry["read"], close)
    return None


# ---- words of the trade ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Vocabulary:
    """`known` are joined letters that are right as they are; `by_sound` are terms by the first sound of their code.

    `lexicon` are names of the whole lexicon by their code: for them the sounds must be equal.
    """

    known: frozenset[str]
    by_sound: dict[str, tuple[tuple[str, str], ...]]
    lexicon: dict[str, tuple[tuple[str, str], ...]]


@lru_cache(maxsize=8)
def _vocabulary(own: tuple[str, ...]) -> _Vocabulary:
    sure = {_letters(word): word.lower() for word in (*data()["vocabulary"]["words"], *own) if _letters(word)}
    others = {_letters(word): word.lower() for word in lexicon_terms() if _letters(word) and _letters(word) not in sure}
    right = {_letters(word) for word in data()["repair"]["right"]}
    known = {form for word in (*sure, *others, *right) for form in (word, word + "s", word.removesuffix("s"))}
    return _Vocabulary(frozenset(known), _indexed(sure, lambda code: code[0]), _indexed(others, lambda code: code))


def _indexed(terms: dict[str, str], index: Callable[[str], str]) -> dict[str, tuple[tuple[str, str], ...]]:
    found: dict[str, list[tuple[str, str]]] = {}
    for letters, phrase in terms.items():
        if len(letters) >= _SHORTEST_TERM and len(_code(letters)) >= _SHORTEST_CODE:
            found.setdefault(index(_code(letters)), []).append((letters, phrase))
    return {key: tuple(pairs) for key, pairs in found.items()}


@lru_cache(maxsize=65536)
def _letters(phrase: str) -> str:
    return re.sub(r"[^a-z]", "", phrase.lower())


@lru_cache(maxsize=65536)
def _code(letters: str) -> str:
    import jellyfish

    return jellyfish.metaphone(letters).replace(" ", "")


def likeness(heard: str, meant: str) -> float:
    """How alike two words sound, 0 to 1: half by edit distance of Metaphone codes, half by Jaro-Winkler on letters."""
    import jellyfish

    a, b = _letters(heard), _letters(meant)
    if not a or not b:
        return 0.0
    codes = _code(a), _code(b)
    longest = max(len(codes[0]), len(codes[1])) or 1
    by_sound = 1 - jellyfish.damerau_levenshtein_distance(*codes) / longest
    return float(by_sound + jellyfish.jaro_winkler_similarity(a, b)) / 2


def _alike(text: str, words: Sequence[_Word], at: int, vocabulary: _Vocabulary) -> Change | None:
    """The stretch from `at` on that sounds most like a word of the vocabulary, if any sounds enough like it."""
    best: tuple[float, int, str] | None = None
    for length in range(1, min(_LONGEST, len(words) - at) + 1):
        stretch = words[at : at + length]
        joined = "".join(_letters(word.lower) for word in stretch)
        if _is_number(stretch[-1]) or (length > 1 and _ENDS.search(text[stretch[-2].end : stretch[-1].start])):
            break
        if any(_joined(words, i, at + length) in vocabulary.known for i in range(at, at + length)):
            return None if best is None else _best(text, words, at, best)
        if at + length < len(words) and _joined(words, at + length - 1, at + length + 1) in vocabulary.known:
            break  # the last word belongs to what comes next
        if len(joined) < _SHORTEST or not _code(joined):
            continue
        code = _code(joined)
        for letters, phrase in vocabulary.by_sound.get(code[0], ()):
            if not 0.6 < len(joined) / len(letters) < 1.6:
                continue
            score = likeness(joined, letters)
            if score >= _needed(phrase, words, at, length, letters) and (best is None or score > best[0]):
                best = (score, length, phrase)
        if stretch[0].lower in _common() or stretch[-1].lower in _common():
            continue
        for letters, phrase in vocabulary.lexicon.get(code, ()):
            score = likeness(joined, letters)
            if score >= data()["repair"]["lexicon"] and (best is None or score > best[0]):
                best = (score, length, phrase)
    return None if best is None else _best(text, words, at, best)


def _best(text: str, words: Sequence[_Word], at: int, best: tuple[float, int, str]) -> Change | None:
    score, length, phrase = best
    return _change(text, words[at], words[at + length - 1], phrase, score)


def _joined(words: Sequence[_Word], start: int, end: int) -> str:
    return "".join(_letters(word.lower) for word in words[start:end])


def _needed(phrase: str, words: Sequence[_Word], at: int, length: int, letters: str) -> float:
    """How alike is enough: less beside a number where the phrase is a meter or a unit, more where plain talk is at an
    end.
    """
    facts = data()["repair"]
    if phrase in facts["meters"] and any(_is_number(word) for word in words[at + length : at + length + 2]):
        return float(facts["near_number"])
    if phrase in facts["numbers"]["units"] and at and _is_number(words[at - 1]):
        return float(facts["near_number"])
    plain = _common()
    if at and words[at].lower in plain and words[at - 1].lower in facts["subjects"]:
        return 1.01  # "we will seal it": a verb after its subject, whatever it sounds like
    if all(word.lower in plain for word in words[at : at + length]):
        return 1.0
    if _code(_joined(words, at, at + length)) == _code(letters):
        return float(facts["close"])
    if length == 1 or words[at].lower in plain or words[at + length - 1].lower in plain:
        return float(facts["same"])
    return float(facts["close"])


@lru_cache(maxsize=1)
def _common() -> frozenset[str]:
    return frozenset(data()["repair"]["common"])
