"""A note laid out for the numeric readers: its words, its numbers with what unit they have, and the cues around them.

The readers of fills, readings, resets, torques, measures and drives all ask the same questions of a number: what word
does it belong to, what stands between, does the talk around it count at all. The answers are here; the words are in
`data/readers/numeric_*.toml`.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any

from diary.language.idioms import Idioms, Line, line, plain
from diary.language.readers.phrases import Talk, Thing, talk
from diary.language.types import Clause, Context, Number, Quantity, Utterance

DATA = Path(__file__).parents[1] / "data" / "readers"
REACH = 9  # words that may stand between a word and the number it governs

# Kinds of numbers that measure nothing (see numerals.py).
_STOP = re.compile(r"[.?!;](?:\s|$)|\n|\s[-–—]\s")
_ONE_DECIMAL = re.compile(r"\d+\.\d")
_REAR = re.compile(r"[\s,/+&]*\d+(?:\.\d)?\s?r(?:\b|ear)", re.IGNORECASE)
_GLUED_REAR = re.compile(r"[rR]\b")
_PAUSE = re.compile(r"[,:()\"“”]")
NO_MEASURE = frozenset(
    {"time", "age", "label", "day", "share", "size", "name", "denied", "ordinal", "ratio", "percent"}
)


@cache
def table(name: str) -> dict[str, Any]:
    """The data file `data/readers/numeric_NAME.toml`."""
    return tomllib.loads((DATA / f"numeric_{name}.toml").read_text(encoding="utf-8"))


@cache
def idioms(name: str) -> Idioms:
    """The phrases of that file, ready to be found."""
    raw = table(name)
    return Idioms(raw["groups"], raw.get("classes", {}))


@cache
def word_list(name: str, key: str) -> frozenset[str]:
    """A plain list of words of that file."""
    return frozenset(plain(word) for word in table(name)[key])


@dataclass(slots=True)
class Mention:
    """A number in the note: words `first` to `last` inclusive. `unit` and `dimension` are None where none is said."""

    value: float
    low: float
    high: float
    approx: bool
    start: int
    end: int
    first: int
    last: int
    unit: str | None = None
    dimension: str | None = None
    kind: str = ""
    readings: tuple[tuple[float, str | None, float], ...] = ()  # other readings: value, unit, likelihood
    clause: Clause | None = None
    dropped: bool = False  # the speaker took it back
    role: str = ""  # what it was taken for
    facts: dict[str, Any] = field(default_factory=dict)

    def within(self, low: float, high: float) -> float | None:
        """The likeliest of its readings that lies between low and high."""
        if low <= self.value <= high:
            return self.value
        for value, unit, _ in self.readings:
            if low <= value <= high and (unit is None or unit == self.unit):
                return value
        return None


@dataclass(slots=True)
class Note:
    """The note's words (`words[i]`, folded, without apostrophes), numbers and cues.

    `gaps[i]` is the break before word i: 0 none, 1 comma, 2 end of a sentence.
    """

    utterance: Utterance
    context: Context
    talk: Talk
    line: Line
    words: list[str]
    gaps: list[int]
    starts: list[int]
    mentions: list[Mention] = field(default_factory=list)
    owner: list[int] = field(default_factory=list)  # the mention that word i belongs to, or -1
    found: dict[tuple[str, str], list[tuple[int, int]]] = field(default_factory=dict)
    memo: dict[str, Any] = field(default_factory=dict)
    bounds: list[tuple[int, int]] = field(default_factory=list)

    # ---- words -------------------------------------------------------------------------------------------------

    def index(self, char: int) -> int:
        """The word that a character lies in or before."""
        return max(0, bisect_right(self.starts, char) - 1)

    def opens(self, char: int) -> int:
        """The word that a number beginning at a character opens with (".035" begins before its word)."""
        i = self.index(char)
        return i + 1 if self.utterance.tokens[i].end <= char and i + 1 < len(self.words) else i

    def cues(self, file: str, group: str) -> list[tuple[int, int]]:
        """Where phrases of a group stand: (first word, last word)."""
        known = self.found.get((file, group))
        if known is None:
            found = idioms(file).find(self.line, group)
            known = self.found[(file, group)] = [(self.index(f.start), self.index(f.end - 1)) for f in found]
        return known

    def sentence(self, i: int) -> tuple[int, int]:
        """First and last word of the sentence that word i stands in; the whole note where nothing is punctuated."""
        if not self.bounds:
            first = 0
            for k in range(1, len(self.words) + 1):
                if k == len(self.words) or self.gaps[k] == 2:
                    self.bounds.extend([(first, k - 1)] * (k - first))
                    first = k
        return self.bounds[max(0, min(i, len(self.bounds) - 1))]

    def has(self, file: str, group: str, first: int, last: int) -> bool:
        """True where a phrase of the group lies within words first to last."""
        return any(first <= a and b <= last for a, b in self.cues(file, group))

    def nearest_before(self, file: str, group: str, i: int, reach: int = REACH) -> tuple[int, int] | None:
        """The last phrase of the group that ends before word i, within reach and within the sentence."""
        floor = max(self.sentence(i)[0], i - reach)
        for a, b in reversed(self.cues(file, group)):
            if b < i and b >= floor:
                return a, b
        return None

    def between(self, a: int, b: int) -> list[str]:
        """The words after word a and before word b."""
        return self.words[a + 1 : b]

    def strange(self, a: int, b: int) -> int:
        """How many words between a and b are no frame words: 0 where the number plainly belongs to the word."""
        frame = word_list("scope", "frame")
        found, aside = 0, 0
        for i in range(a + 1, b):
            if self.words[i] in word_list("scope", "where") and self.words[i + 1] in word_list("scope", "determiners"):
                aside = 3  # up to so many words of "at the test port" are passed over
            elif self.words[i] not in frame and self.owner[i] < 0:
                found += aside <= 0
                aside -= 1
        return found

    def place(self, i: int) -> str | None:
        """The place that begins or stands at word i, plain ("left front"); typed short forms too."""
        hit = self.talk.words[i].place
        if hit is not None:
            return str(hit.name)
        short = table("measures")["short_places"].get(self.words[i])
        beside = (self.owner[i + 1] if i + 1 < len(self.words) else -1) >= 0 or (i > 0 and self.owner[i - 1] >= 0)
        return short if short and beside else None

    def at_sign(self, m: Mention) -> bool:
        """True where "@" stands right before the number."""
        return self.utterance.text[: m.start].rstrip().endswith("@")

    def weather_after(self, m: Mention) -> bool:
        """True where the air is told of: "it's 84 out at one in the morning"."""
        ends = m.last + 2 >= len(self.words) or self.gaps[m.last + 2] > 0
        out = self.words[m.last + 1 : m.last + 2] == ["out"] and ends
        return out or any(a == m.last + 1 for a, _ in self.cues("scope", "weather_after"))

    def mention_between(self, a: int, b: int, but: Callable[[Mention], bool] = lambda m: False) -> bool:
        """True where another number stands between words a and b."""
        return any(a < m.first and m.last < b and not m.dropped and not but(m) for m in self.mentions)

    # ---- scope -------------------------------------------------------------------------------------------------

    def clause(self, i: int) -> Clause | None:
        """The clause that word i stands in."""
        return self.talk.words[i].clause if 0 <= i < len(self.words) else None

    def counts(self, m: Mention) -> bool:
        """False where the number stands in talk that makes no record: taken back, supposed, asked, another's."""
        if m.dropped or m.kind in NO_MEASURE:
            return False
        c = m.clause
        if c is not None and (c.retracted or (c.hypothetical and self.supposed(c, m))):
            return False
        if self.for_argument(m) or (m.first and self.words[m.first - 1] == "number" and m.dimension not in (None, "money")):
            return False
        doubted = c is not None and self.utterance.text[c.start : c.end + 2].rstrip().endswith("??")  # "44??" is a figure
        if c is not None and c.question and not doubted and not self.has("scope", "told", *self.span(c)):
            return False
        if (
            c is not None
            and c.anothers
            and not self.corrected(m)
            and not any(m.last < a <= self.span(c)[1] for a, _ in self.cues("scope", "over_to_another"))
            and not self.has("scope", "own", max(0, m.first - 5), m.first)
        ):
            return False
        return not self.others(m)

    def supposed(self, clause: Clause, m: Mention) -> bool:
        """True where a word of supposing stands before the number ("if", "would") and not only a purpose.

        "Filled up first so i would have clean fuel" supposes nothing.
        """
        first, _ = self.span(clause)
        return self.has("scope", "unreal", max(0, first - 12), m.first) and not self.has(
            "scope", "purpose", *self.span(clause)
        )

    def for_argument(self, m: Mention) -> bool:
        """True for "say it took fifteen gallons and did three hundred miles"."""
        first = max(self.sentence(m.first)[0], m.first - 14)
        said = [a for a, _ in self.cues("scope", "supposing") if first <= a < m.first]
        return any(a == 0 or self.words[a - 1] not in word_list("scope", "sayers") for a in said)

    def foreign(self, m: Mention) -> bool:
        """True where the number is of somebody else's machine."""
        return self.others(m) or bool(m.clause and m.clause.anothers and not self.corrected(m))

    def span(self, clause: Clause) -> tuple[int, int]:
        """First and last word of a clause."""
        return self.index(clause.start), self.index(max(clause.start, clause.end - 1))

    def corrected(self, m: Mention) -> bool:
        """True where the number itself holds its correction ("seventy six no that is the old coupe ninety five")."""
        return self.has("scope", "correction", m.first, m.last)

    def others(self, m: Mention) -> bool:
        """True where the words just before name somebody else's machine ("his battery", "dave's odometer")."""
        start = self.index(m.clause.start) if m.clause is not None else max(0, m.first - 10)
        clause_start = start
        own_words = word_list("scope", "first_person")
        while start > max(0, m.first - 10) and not self.gaps[start] and self.words[start - 1] not in own_words:
            start -= 1
        end = self.index(m.clause.end - 1) if m.clause is not None else m.last
        own = [a for a, _ in self.cues("scope", "own")]
        for a, b in self.cues("scope", "others"):
            if self.words[a] == "old" and self.words[b + 1 : b + 2] and self.words[b + 1] in word_list("scope", "is_here"):
                continue  # "the old tractor has four thousand hours on it"
            if a < clause_start and self.words[a] == "he":
                continue  # "he is fourteen so what do you expect": a person, not a machine
            inside = start <= a and (b < m.first or (a > m.last and b <= end and a - m.last <= 4))
            if inside and not any(b < x < m.first for x in own) and not (m.first <= a <= m.last):
                return True
        return any(
            self.words[i].endswith("s") and "'" in self.utterance.tokens[i].text and self._person_owns(i)
            for i in range(max(start, m.first - 8), m.first)
        )

    def of_a_person(self, m: Mention) -> bool:
        """True where a person, or their own machine, is said to have the figure ("the kid weighs ninety pounds")."""
        floor = max(self.sentence(m.first)[0], m.first - 14)
        states, own = word_list("scope", "states"), word_list("scope", "first_person")
        for i in range(m.first - 1, floor - 1, -1):
            if self.words[i] in own or (self.owner[i] >= 0 and self.mentions[self.owner[i]].dimension is not None):
                return False
            word = self.talk.words[i]
            if word.thing is not None and word.thing.kind in ("component", "meter", "fastener"):
                return False
            if word.person is not None and not word.person.data.get("owner") and word.person.name != "somebody":
                return any(self.words[k] in states for k in range(max(i + 1, m.first - 5), m.first))
        return False

    def _person_owns(self, i: int) -> bool:
        """True for a name with "'s" before an instrument or a machine; "the odometer's at" is none."""
        following = self.talk.words[i + 1].thing if i + 1 < len(self.words) else None
        return following is not None and following.kind in ("meter", "machine") and self.talk.words[i].thing is None

    def things_before(self, i: int, floor: int = 0) -> Iterable[Thing]:
        """Things named before word i, the nearest first."""
        for thing in reversed(self.talk.things):
            if thing.last < i and thing.first >= floor:
                yield thing


_last: Note | None = None


def lay_out(utterance: Utterance, context: Context) -> Note:
    """The note laid out; the last one is kept, for six readers ask in turn."""
    global _last
    if _last is None or _last.utterance is not utterance or _last.context is not context:
        _last = _lay_out(utterance, context)
    return _last


def _lay_out(utterance: Utterance, context: Context) -> Note:
    laid = talk(utterance)
    tokens = [replace(t, lower=_mended(plain(t.lower))) for t in utterance.tokens]
    words = [plain(t.lower) for t in tokens]
    note = Note(
        utterance,
        context,
        laid,
        line(utterance.text, tokens),
        words,
        _gaps(utterance),
        [t.start for t in utterance.tokens],
        owner=[-1] * len(words),
    )
    taken = [(q.start, q.end) for q in utterance.quantities]
    made = [_of_quantity(note, q) for q in utterance.quantities]
    numbers = [_before_plus(utterance.text, n, taken) for n in utterance.numbers]
    made += [_of_number(note, n) for n in numbers if not any(a < n.end and n.start < b for a, b in taken)]
    made = [_first_pass(note, _in_thousandths(note, _every_one(note, _unwatted(note, _uninched(note, _front_and_rear(note, m)))))) for m in made]
    note.mentions = _unhour(note, sorted(made, key=lambda m: m.start))
    import_module("diary.language.readers.runs").mend(note)
    for place, m in enumerate(note.mentions):
        _counted_range(note, m)
        for i in range(m.first, m.last + 1):
            note.owner[i] = place
        m.clause = note.clause(m.first)
    _take_back(note)
    return note


def _before_plus(text: str, n: Number, taken: list[tuple[int, int]]) -> Number:
    """ "Forty plus ninety degrees" is a number, then a quantity from "plus" on: the number ends before it."""
    start = next((a for a, _ in taken if n.start < a < n.end and text[a : a + 4].lower() == "plus"), None)
    return n if start is None else replace(n, end=n.start + len(text[n.start : start].rstrip()))


@lru_cache(maxsize=4096)
def _mended(word: str) -> str:
    """The word without a typing slip, where it is one letter away from a word that matters here."""
    often = word_list("scope", "often_mistyped")
    if len(word) < 5 or word in often or word in word_list("scope", "not_mistyped") or not word.isalpha() or word.rstrip("s") in often or word + "s" in often:
        return word
    near = get_close_matches(word, sorted(often), n=1, cutoff=0.87)
    return near[0] if near and near[0][0] == word[0] else word


def _gaps(utterance: Utterance) -> list[int]:
    gaps, before = [2], 0
    for token in utterance.tokens:
        if before:
            between = utterance.text[before : token.start + 1]
            gaps.append(2 if _STOP.search(between) else 1 if _PAUSE.search(between) else 0)
        before = token.end
    return gaps[: len(utterance.tokens)]


def _of_quantity(note: Note, q: Quantity) -> Mention:
    number = q.number
    return Mention(
        q.value,
        q.low,
        q.high,
        q.approx,
        q.start,
        q.end,
        note.opens(q.start),
        note.index(q.end - 1),
        q.unit,
        q.dimension,
        number.kind if number else "",
        tuple(q.alternatives),
    )


def _counted_range(note: Note, m: Mention) -> Mention:
    """ "Did all twelve to twenty newton meters" is no range: twelve of them, twenty each."""
    if m.kind == "range" and m.first and note.words[m.first - 1] == "all" and m.low < m.high:
        m.value = m.low = m.high
        m.kind, m.approx = "cardinal", False
    return m


def _of_number(note: Note, n: Number) -> Mention:
    kind = n.kind
    if kind == "time" and _ONE_DECIMAL.fullmatch(note.utterance.text[n.start : n.end]):
        kind = "decimal"  # "battery 12.3 in the morning" is no time of day
    if kind == "name" and _GLUED_REAR.match(note.utterance.text, n.end) and note.utterance.text[n.start : n.end].isdigit():
        kind = "cardinal"  # "26f 24r"
    others = tuple((value, None, likely) for value, likely in n.alternatives)
    first, last = note.opens(n.start), note.index(n.end - 1)
    return Mention(n.value, n.low, n.high, n.approx, n.start, n.end, first, last, kind=kind, readings=others)


def _uninched(note: Note, m: Mention) -> Mention:
    """ "Battery 12.3 in the morning", "so I put a 10 in": the preposition is no inch."""
    if m.unit != "in" or note.words[m.last] != "in" or m.first == m.last:
        return m
    following = note.words[m.last + 1] if m.last + 1 < len(note.words) and not note.gaps[m.last + 1] else ""
    put = note.words[m.first - 1] in word_list("scope", "indefinite") if m.first else False
    ends = m.last + 1 == len(note.words) or note.gaps[m.last + 1]
    poured = note.gaps[m.first] == 2 and any(
        a - m.last in (1, 2) for group in ("just_full", "full", "partial") for a, _ in note.cues("fills", group)
    )  # "15.1 in, not full"
    if (
        poured
        or following in word_list("scope", "determiners")
        or following in word_list("scope", "indefinite")
        or (put and ends)
        or (ends and _filled_in(note, m))
    ):
        m.last -= 1
        m.unit = m.dimension = None
        m.kind = "cardinal" if float(m.value).is_integer() else "decimal"
        m.end = note.utterance.tokens[m.last].end
    return m


def _filled_in(note: Note, m: Mention) -> bool:
    """True for "the back tires had 1.9 in": what was in them."""
    had = note.words[m.first - 1 : m.first] and note.words[m.first - 1] in word_list("measures", "had")
    return bool(had) and bool(set(note.words[max(0, m.first - 5) : m.first]) & word_list("measures", "filled"))


def _unwatted(note: Note, m: Mention) -> Mention:
    """ "Done 55 w/ threadlocker", "did 159 w the breaker bar": the letter is short for "with"."""
    text = note.utterance.text
    slashed = text[m.end : m.end + 1] == "/"
    apart = text[m.end - 2 : m.end - 1] == " " and m.last + 1 < len(note.words) and not note.gaps[m.last + 1]
    if m.unit == "W" and (slashed or (apart and text[m.end - 1] == "w" and note.words[m.last + 1].isalpha())) and m.first < m.last:
        m.last -= 1
        m.end = note.utterance.tokens[m.last].end
        m.unit = m.dimension = None
        m.kind = "cardinal" if float(m.value).is_integer() else "decimal"
    return m


def _front_and_rear(note: Note, m: Mention) -> Mention:
    """ "Tyres 38 f 44 r", "36 F / 32 R hot": the letter is the front."""
    if m.unit != "degF" or note.utterance.text[m.end - 1 : m.end] not in ("f", "F"):
        return m
    rest = note.utterance.text[m.end : m.end + 14]
    before = set(note.words[max(0, m.first - 5) : m.first])
    if _REAR.match(rest) or before & word_list("measures", "inflated"):
        glued = note.words[m.last] not in ("f",)
        m.unit = m.dimension = None
        m.kind = "cardinal" if float(m.value).is_integer() else "decimal"
        m.facts["place"] = "front"
        if not glued:
            m.last -= 1
        m.end -= 1
    return m


def _every_one(note: Note, m: Mention) -> Mention:
    """ "Bolted down, every one fifteen foot pounds": each of them, and fifteen; likewise "all three eighteen inch pounds"."""
    if m.dimension != "torque" or not m.first or m.last <= m.first + 1:
        return m
    before, opens, then = note.words[m.first - 1 : m.first + 2]
    every = opens == "one" and before in ("every", "each")
    counted = before == "all" and opens in word_list("torques", "each_of") and then not in word_list("torques", "same_number")
    if not every and not counted:
        return m
    rest = note.utterance.tokens[m.first + 1].start if m.first < m.last else m.end
    numbers = [n for n in note.utterance.numbers if n.start == m.start]
    from diary.language.numerals import read_numbers

    inner = read_numbers(note.utterance.text[rest : numbers[0].end]) if numbers else []
    if len(inner) == 1:
        m.value = m.low = m.high = inner[0].value
        m.first, m.start, m.readings = m.first + 1, rest, ()
    return m


def _in_thousandths(note: Note, m: Mention) -> Mention:
    """ "It's three thousandths out of flat": thousandths of what is not said are those of an inch."""
    if m.dimension in (None, "length") and note.words[m.last] in ("thousandths", "thousandth") and m.value < 1:
        m.value, m.low, m.high = (round(x * 1000, 6) for x in (m.value, m.low, m.high))
        m.unit, m.dimension, m.kind = "thou", "length", "cardinal"
    return m


def _first_pass(note: Note, m: Mention) -> Mention:
    """ "At thirty first and then sixty": a number and what came first, no ordinal."""
    rest = " ".join(note.words[m.last + 1 : m.last + 3])
    if (
        m.kind == "ordinal"
        and m.first < m.last
        and note.words[m.last] == "first"
        and m.value > 20
        and note.words[m.first - 1] in word_list("scope", "reading_at") | {"to"}
        and (rest.startswith("then ") or rest == "and then")
    ):
        m.last -= 1
        m.end = note.utterance.tokens[m.last].end
        m.value = m.low = m.high = m.value - 1
        m.kind = "cardinal"
    return m


def _unhour(note: Note, mentions: list[Mention]) -> list[Mention]:
    """ "trip sixty two point five hours seventy two": the hours belong to the number that follows them."""
    trips = {b for _, b in (*note.cues("meters", "trip_before"), *note.cues("meters", "odometer_before"))}
    for m, following in itertools.pairwise(mentions):
        if m.unit == "h" and m.first - 1 in trips and following.first == m.last + 1 and following.unit is None:
            m.unit = m.dimension = None
            m.last -= 1
            m.end = note.utterance.tokens[m.last].end
        if m.unit == "h" and note.words[m.first - 1 : m.first] == ["km"] and following.first == m.last + 1 and following.unit is None:
            m.unit, m.dimension = "km", "length"  # "km 3,118 hrs 287.4"
            m.last -= 1
            m.end = note.utterance.tokens[m.last].end
    return mentions


def _take_back(note: Note) -> None:
    """Mark numbers that the speaker corrects at once: "fourteen point eight no sorry fourteen point six gallons"."""
    between = word_list("scope", "correction_between")
    for a, b in note.cues("scope", "settle"):
        vague = [m for m in note.mentions if m.last < a and a - m.last <= 3 and m.low < m.high]
        exact = [m for m in note.mentions if m.first - 1 == b]
        if (
            vague
            and exact
            and vague[-1].low <= exact[0].value <= vague[-1].high
            and exact[0].unit in (None, vague[-1].unit)
        ):
            vague[-1].value, vague[-1].approx = exact[0].value, True
            exact[0].dropped = True
    for a, b in note.cues("scope", "retract"):
        if note.words[b] == "mind" and note.words[b + 1 : b + 2] and note.words[b + 1] in word_list("scope", "determiners"):
            continue  # "never mind the price" takes nothing back
        if not any(m.first > b and m.first - b <= 9 for m in note.mentions):
            for m in [m for m in note.mentions if m.last < a and (a - m.last <= 4 or _doubted(note, m, a))][-1:]:
                m.dropped = True
    for a, b in note.cues("scope", "correction"):
        before = [m for m in note.mentions if m.last < a and a - m.last <= 4]
        after = [m for m in note.mentions if m.first > b and m.first - b <= 12]
        if not before or not after:
            continue
        old, new = before[-1], after[0]
        if old.unit and new.unit and old.dimension != new.dimension:
            continue
        named = set(note.words[max(0, old.first - 3) : old.first])  # "drain plug thirty no wrong ... drain plug is"
        if any(w not in between and w not in named for w in note.between(b, new.first)):
            continue
        old.dropped = True
        if old.unit is None and new.unit is None and {"thats", "that"} & set(note.between(a - 1, new.first)):
            new.facts["instead"] = old  # "the wheel nuts 105, no, that's the tractor, 95"
        if b == new.first - 1 and new.kind != "range":
            new.approx, new.low, new.high = False, new.value, new.value  # "no hang about" is not vague
        if new.unit is None and old.unit is not None:
            new.unit, new.dimension = old.unit, old.dimension


def _doubted(note: Note, m: Mention, a: int) -> bool:
    """True where a correction opens right after the number, though the words that take it back come only at word a."""
    return a - m.last <= 14 and any(0 < x - m.last <= 5 for x, _ in note.cues("scope", "correction"))


def linked(note: Note, m: Mention) -> bool:
    """True where the word before ties the number to something: "at", "was", "to", a thing, a place, a number."""
    if (
        m.first == 0
        or note.gaps[m.first]
        or note.at_sign(m)
        or note.place(m.first - 1) is not None
        or note.talk.words[m.first - 1].action is not None
    ):
        return True
    i = m.first - 1
    word = note.talk.words[i]
    return (
        note.words[i] in word_list("scope", "frame")
        or word.thing is not None
        or word.place is not None
        or word.symptom is not None
        or note.owner[i] >= 0
    )


def clause_opens(note: Note, i: int) -> bool:
    clause = note.clause(i)
    return clause is not None and note.utterance.tokens[i].start <= clause.start


def is_verb(note: Note, i: int) -> bool:
    word = note.talk.words[i]
    return (
        word.action is not None
        or (word.symptom is not None and not word.symptom.data.get("noun"))
        or word.fold in _everyday_verbs()
    )


@cache
def _everyday_verbs() -> frozenset[str]:
    from diary.language.syntax import everyday_verbs

    return frozenset(everyday_verbs())
