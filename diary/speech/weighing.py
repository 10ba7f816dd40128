"""The recogniser's first choice weighed against what else it may have heard.

A recogniser knows general talk; in a workshop "forty point two gallons" is seldom what was said. Where it was in doubt,
other readings of the same sound are made: its own second choices, words that sound alike, teens for tens. The
recogniser then says how well each fits the sound, the talk model (`words`) how well it fits the talk around, and one
is taken for another only where both together speak for it. Weights are in `data/hearing.toml`, [weighing].
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from diary.speech.bias import data
from diary.speech.repair import Change
from diary.speech.words import WORD, Sounds, alike, letters, talk, talk_sounds

Scored = Sequence[tuple[int, float]]
"""A text's pieces in order: the place of the first character, and the natural logarithm of its probability."""
Score = Callable[[Sequence[str]], Sequence[Scored]]
"""How well texts fit the sound that was heard."""
_FAR = 10**9


@dataclass(frozen=True, slots=True)
class Weighed:
    """The text that was taken, and where it differs from the first choice (places are the first choice's)."""

    text: str
    changes: tuple[Change, ...] = ()

    def shown(self) -> str:
        """The changes for a person: `"forty" read as "fourteen"; ...`."""
        return "; ".join(f'"{change.heard}" read as "{change.read}"' for change in self.changes)


@dataclass(frozen=True, slots=True)
class Other:
    """Words `start` to `end` read as `words`. `talk` is by how much likelier that is in talk (natural logarithm), `alike` how
    alike they sound (0 to 1), `sound` by how much likelier the sound is then.

    `kind`: "teen" for a ten, "ten" for a teen, another "number", the recogniser's "second" choice, or alike in "sound".
    """

    start: int
    end: int
    words: tuple[str, ...]
    kind: str
    talk: float
    alike: float
    sound: float = 0.0


@dataclass(frozen=True, slots=True)
class _Heard:
    text: str
    words: tuple[str, ...]  # lower case
    places: tuple[tuple[int, int], ...]

    @staticmethod
    def of(text: str) -> _Heard:
        found = list(WORD.finditer(text))
        return _Heard(text, tuple(m.group().lower() for m in found), tuple(m.span() for m in found))

    def place(self, start: int, end: int) -> tuple[int, int]:
        """Characters of the words; where there are none, the place before word `start`."""
        first = self.places[start][0] if start < len(self.places) else len(self.text)
        return (first, self.places[end - 1][1]) if end > start else (first, first)


def weighed(texts: Sequence[str], score: Score) -> Weighed:
    """The best reading of `texts`, the recogniser's choices with the first first."""
    heard = _Heard.of(texts[0])
    if len(heard.words) < 2:
        return Weighed(texts[0])
    others = scored(heard, texts, score)
    taken = _taken(others)
    return Weighed(_replaced(heard, taken)[0], tuple(_change(heard, other) for other in taken))


def scored(heard: _Heard, texts: Sequence[str], score: Score) -> list[Other]:
    """What else may have been said in doubtful places, with how well it fits the sound."""
    first = score([heard.text])[0]
    others = _promising(_others(heard, texts[1:], _doubtful(heard, first)))
    rows: list[list[Other]] = []
    apart, most = data()["weighing"]["apart"], data()["weighing"]["rows"]
    for other in others:
        row = next((r for r in rows if all(_apart(other, o, apart) for o in r)), None)
        if row is None and len(rows) < most:
            rows.append(row := [])
        if row is not None:
            row.append(other)
    if not rows:
        return []
    found = []
    made = [_replaced(heard, sorted(row, key=lambda o: o.start)) for row in rows]
    for (_, places), row, pieces in zip(made, rows, score([text for text, _ in made]), strict=True):
        for other, (begin, end) in zip(sorted(row, key=lambda o: o.start), places, strict=True):
            gain = _sum(pieces, begin, end + _following(heard, other)) - _sum(first, *_window(heard, other))
            found.append(Other(other.start, other.end, other.words, other.kind, other.talk, other.alike, gain))
    return found


def _apart(a: Other, b: Other, words: int) -> bool:
    return a.start >= b.end + words or b.start >= a.end + words


def _following(heard: _Heard, other: Other) -> int:
    """How many characters after what is replaced belong to the comparison: those of the next words."""
    return _window(heard, other)[1] - heard.place(other.start, other.end)[1]


def _window(heard: _Heard, other: Other) -> tuple[int, int]:
    after = other.end + data()["weighing"]["apart"] - 1
    end = heard.places[after][0] - 1 if after < len(heard.places) else _FAR
    return heard.place(other.start, other.end)[0], end


def _sum(pieces: Scored, begin: int, end: int) -> float:
    return sum(value for at, value in pieces if begin - 1 <= at < end)


def _doubtful(heard: _Heard, pieces: Scored) -> list[bool]:
    """Whether each word is in doubt, by the probability of its pieces."""
    sure = data()["weighing"]["sure"]
    row = []
    for n, (begin, _) in enumerate(heard.places):
        end = heard.places[n + 1][0] - 1 if n + 1 < len(heard.places) else _FAR
        row.append(_sum(pieces, begin, end) < sure)
    return row


# ---- what else may have been said
# --------------------------------------------------------------------------------------


def _others(heard: _Heard, texts: Sequence[str], doubtful: Sequence[bool]) -> list[Other]:
    """Other readings of doubtful words, each once."""
    found: dict[tuple[int, int, tuple[str, ...]], Other] = {}
    first: dict[tuple[int, int], float] = {}  # how likely the first choice's words are in talk
    model = talk()

    def put(start: int, end: int, words: tuple[str, ...], kind: str, close: float) -> None:
        while start < end and words and words[0] == heard.words[start]:
            start, words = start + 1, words[1:]
        while start < end and words and words[-1] == heard.words[end - 1]:
            end, words = end - 1, words[:-1]
        key = (start, end, words)
        if not words or _splits(heard.words, end, words):
            return  # fewer words are always likelier in talk
        if words != heard.words[start:end] and (key not in found or found[key].alike < close):
            before, after = heard.words[:start], heard.words[end:]
            if (start, end) not in first:
                first[start, end] = model.score(before, heard.words[start:end], after)
            gain = model.score(before, words, after) - first[start, end]
            found[key] = Other(start, end, words, _kind(heard.words[start:end], words, kind), gain, close)

    for text in texts:
        second = _Heard.of(text).words
        for what, a, b, c, d in difflib.SequenceMatcher(None, heard.words, second, autojunk=False).get_opcodes():
            if what != "equal" and b - a <= 4 and d - c <= 4:
                put(a, b, second[c:d], "second", 1.0)
    for at in range(len(heard.words)):
        if doubtful[at]:
            for read in _as_number(heard.words, at):
                put(at, at + 1, (read,), "sound", 0.9)
        pair = heard.words[at : at + 2]
        if any(doubtful[at : at + 2]) and " ".join(pair) in data()["weighing"]["teens"]:
            put(at, at + 2, (data()["weighing"]["teens"][" ".join(pair)],), "teen", 0.9)
        for length in (1, 2, 3):
            stretch = heard.words[at : at + length]
            if at + length > len(heard.words) or any(w[0].isdigit() for w in stretch):
                break
            if any(doubtful[at : at + length]):
                for words, close in _sounding(talk_sounds(), stretch):
                    put(at, at + length, words, "sound", close)
    return list(found.values())


def _splits(heard: Sequence[str], end: int, words: Sequence[str]) -> bool:
    """Whether a teen would stand before one of the digits that its ten goes with ("eighty one")."""
    units = data()["figures"]["units"]
    following = heard[end] if end < len(heard) else ""
    return (
        words[-1].endswith("teen") and heard[end - 1] in data()["figures"]["tens"] and 0 < units.get(following, 0) < 10
    )


def _kind(heard: Sequence[str], words: Sequence[str], kind: str) -> str:
    if data()["weighing"]["teens"].get(" ".join(heard)) == " ".join(words):
        return "teen"
    if len(heard) == len(words) == 1 and words[0] in _teens().get(heard[0], ()):
        return "teen" if words[0].endswith("teen") else "ten"
    numbers = _numbers()
    return kind if [w for w in heard if w in numbers] == [w for w in words if w in numbers] else "number"


@lru_cache(maxsize=1)
def _numbers() -> frozenset[str]:
    facts = data()["figures"]
    return frozenset([*facts["units"], *facts["tens"], *facts["powers"]])


def _teens() -> dict[str, tuple[str, ...]]:
    teens = data()["repair"]["numbers"]["teens"]
    return {**{word: (read,) for word, read in teens.items()}, "eight": ("eighteen", "eighty")}


def _as_number(words: Sequence[str], at: int) -> list[str]:
    """The numbers that a word may have been: the teen for its ten, and beside numbers those that sound a little like it."""
    numbers, word = _numbers(), words[at]
    if word in numbers:
        return list(_teens().get(word, ()))
    beside = [w in numbers or w in ("point", "oh") for w in (words[at - 1] if at else "", *words[at + 1 : at + 2])]
    if word[0].isdigit() or not any(beside):
        return []
    found = [number for number in numbers if alike(letters([word]), number) >= data()["weighing"]["number"]]
    return [*found, "point", "oh"] if all(beside) and len(beside) == 2 else found


def _sounding(sounds: Sounds, stretch: Sequence[str]) -> list[tuple[tuple[str, ...], float]]:
    joined = letters(stretch)
    if not 2 <= len(joined) <= 22:
        return []
    least = data()["weighing"]["least"]
    near = ((words, alike(joined, spelled)) for words, spelled in sounds.near(joined).items())
    return [(words, close) for words, close in near if close >= least]


def _promising(others: list[Other]) -> list[Other]:
    """Those worth asking the recogniser about, by what they would be worth if it found them as unlikely as such mostly are;
    the most promising first.
    """
    facts = data()["weighing"]
    value: list[tuple[float, Other]] = []
    for other in others:
        guess = facts["guess"][other.kind] - facts["guess_unlike"] * (1 - other.alike)
        value.append((worth(other, guess), other))
    kept = sorted((pair for pair in value if pair[0] > facts["promising"]), key=lambda pair: -pair[0])
    return [other for _, other in kept[: facts["asked"]]]


# ---- the choice
# --------------------------------------------------------------------------------------------------------


def worth(other: Other, sound: float | None = None) -> float:
    """Above 0 where another reading is to be taken: the sum of what speaks for it and against it. `sound` in the place of the
    reading's own.
    """
    w: dict[str, Any] = data()["weighing"]
    return float(
        w["weight"][other.kind]
        + w["sound"] * max(other.sound if sound is None else sound, -15.0)
        + w["talk"] * min(other.talk, 20.0)
        - w["unlike"] * (1 - other.alike)
        + w["longer"] * (len(other.words) - (other.end - other.start))
    )


def _taken(others: Sequence[Other]) -> list[Other]:
    """Those worth taking, the worthiest first, none beside another; in order."""
    taken: list[Other] = []
    for other in sorted((o for o in others if worth(o) > 0), key=lambda o: -worth(o)):
        if all(_apart(other, o, 1) for o in taken):
            taken.append(other)
    return sorted(taken, key=lambda o: o.start)


def _replaced(heard: _Heard, others: Sequence[Other]) -> tuple[str, list[tuple[int, int]]]:
    """The text with others in place, and where in it each stands."""
    out, at, places = "", 0, []
    for other in others:
        begin, end = heard.place(other.start, other.end)
        read = _written(heard.text[begin:end], other.words)
        out += heard.text[at:begin]
        places.append((len(out), len(out) + len(read)))
        out += read + (" " if end == begin else "")
        at = end
    return out + heard.text[at:], places


def _written(heard: str, words: Sequence[str]) -> str:
    read = " ".join("I" + word[1:] if word.split("'")[0] == "i" else word for word in words)
    return read[:1].upper() + read[1:] if heard[:1].isupper() and heard != "I" else read


def _change(heard: _Heard, other: Other) -> Change:
    begin, end = heard.place(other.start, other.end)
    return Change(
        begin, end, heard.text[begin:end], _written(heard.text[begin:end], other.words), round(other.alike, 3)
    )
