"""What a number is, told by its neighbours: an age, a price, a socket size, a range, the value a speaker settled on.

`numerals.py` reads the values; this module joins numbers that belong together (ranges, corrections, tolerances), gives
each its kind and its spread, and chooses among readings where a word beside it decides. All words are in
`data/numerals.toml`, table `[kinds]`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache

from diary.language.numeral_grammar import Raw, parse
from diary.language.numeral_words import Scan, lexicon, load_toml
from diary.language.types import Number
from diary.language.unit_names import UnitName, unit_at, unit_table

Phrases = dict[str, list[tuple[str, ...]]]

MEASURES = frozenset({"cardinal", "decimal", "fraction", "digits"})
_DIGIT = frozenset("nDF")


def _ending(phrases: Iterable[str]) -> Phrases:
    """Phrases by their last word, longest first."""
    out: Phrases = {}
    for phrase in phrases:
        words = tuple(phrase.split())
        out.setdefault(words[-1], []).append(words)
    for group in out.values():
        group.sort(key=len, reverse=True)
    return out


def _starting(phrases: Iterable[str]) -> Phrases:
    """Phrases by their first word, longest first."""
    out: Phrases = {}
    for phrase in phrases:
        words = tuple(phrase.split())
        out.setdefault(words[0], []).append(words)
    for group in out.values():
        group.sort(key=len, reverse=True)
    return out


@dataclass(slots=True)
class Cues:
    """The phrases of `[kinds]`, ready for looking up."""

    before: dict[str, Phrases]
    after: dict[str, Phrases]
    words: dict[str, frozenset[str]]
    corrections: frozenset[tuple[str, ...]]
    strong: frozenset[tuple[str, ...]]
    settled: frozenset[tuple[str, ...]]
    denied: frozenset[tuple[str, ...]]
    ranges: frozenset[tuple[str, ...]]
    tolerance: frozenset[tuple[str, ...]]
    cents: frozenset[int]
    tire_low: int
    tire_high: int
    name_smallest: int
    meter_reach: int
    money_near: int


@cache
def cues() -> Cues:
    """The cue phrases, read once."""
    raw = load_toml("numerals.toml")["kinds"]
    before = {
        key: _ending(raw[key])
        for key in (
            "about_before", "under_before", "over_before", "time_before", "age_before", "gear_before", "money_before",
            "money_weak_before", "label_now",
        )
    }  # fmt: skip
    after = {
        key: _starting(raw[key])
        for key in (
            "about_after", "over_after", "time_after", "time_pm", "age_after", "gear_after", "name_after",
            "name_small_after", "mix_after", "money_after", "per_volume", "label_now", "viscosity",
        )
    }  # fmt: skip
    words = {
        key: frozenset(raw[key])
        for key in (
            "label_before", "label_after", "label_many", "clock_sure", "no_age_after", "size_between",
            "day_before", "size_tools", "size_units", "rating_units",
            "rating_of", "rating_counted", "money_signs", "meter_cues", "meter_says", "share_of", "time_past",
            "time_to", "clock_said", "change_before", "ratio_before",
        )
    }  # fmt: skip

    def phrases(key: str) -> frozenset[tuple[str, ...]]:
        return frozenset(tuple(p.split()) for p in raw[key])

    return Cues(
        before=before,
        after=after,
        words=words,
        corrections=phrases("corrections"),
        strong=phrases("strong_corrections"),
        settled=phrases("settled"),
        denied=phrases("denied"),
        ranges=phrases("range_words"),
        tolerance=phrases("tolerance"),
        cents=frozenset(raw["cents_usual"]),
        tire_low=raw["tire_sizes"][0],
        tire_high=raw["tire_sizes"][1],
        name_smallest=raw["name_smallest"],
        meter_reach=raw["meter_reach"],
        money_near=raw["money_near"],
    )


class _Settler:
    """Holds a scan and its numbers while they are joined and named."""

    __slots__ = ("c", "raws", "s", "table", "units", "words")

    def __init__(self, s: Scan) -> None:
        self.s = s
        self.words = s.words
        self.c = cues()
        self.table = unit_table()
        self.units: dict[int, tuple[UnitName, int] | None] = {}
        self.raws: list[Raw] = []

    def unit(self, i: int) -> tuple[UnitName, int] | None:
        """The unit name at token i, remembered."""
        units = self.units
        if i in units:
            return units[i]
        found = unit_at(self.s, i, self.table)
        units[i] = found
        return found

    def code(self, i: int) -> str:
        """Code of the likeliest unit at token i, or ""."""
        found = self.unit(i)
        return found[0].meanings[0].code if found else ""

    def ends_with(self, key: str, i: int) -> int:
        """Length of the phrase of `before[key]` that ends right before token i, 0 if none."""
        if i == 0:
            return 0
        words = self.words
        for phrase in self.c.before[key].get(words[i - 1], ()):
            n = len(phrase)
            if n <= i and tuple(words[i - n : i]) == phrase:
                return n
        return 0

    def begins_with(self, key: str, i: int) -> int:
        """Length of the phrase of `after[key]` that begins at token i, 0 if none."""
        words = self.words
        if i >= len(words):
            return 0
        for phrase in self.c.after[key].get(words[i], ()):
            if tuple(words[i : i + len(phrase)]) == phrase:
                return len(phrase)
        return 0

    # -- the passes

    def run(self, meters: Mapping[str, tuple[float, datetime]] | None) -> list[Number]:
        s = self.s
        self.raws = [r for r in parse(s, self.unit) if not self.pronoun(r)]
        if not self.raws:
            return []
        self.homophones()
        self.split_counted()
        self.join()
        for index, raw in enumerate(self.raws):
            self.name(raw, index)
            if meters:
                self.by_meter(raw, meters)
            self.spread(raw)
        return [self.finish(raw) for raw in self.raws]

    def finish(self, raw: Raw) -> Number:
        value = raw.value
        low = value if raw.low is None else raw.low
        high = value if raw.high is None else raw.high
        return Number(
            value,
            low,
            high,
            self.s.starts[raw.first],
            self.s.ends[raw.last - 1],
            raw.kind,
            raw.approx,
            raw.alternatives,
        )

    def pronoun(self, raw: Raw) -> bool:
        """A lone "one" that stands for a thing."""
        if raw.value != 1 or raw.last - raw.first != 1 or self.words[raw.first] != "one":
            return False
        lex = lexicon()
        i = raw.first
        if self.unit(i + 1) and self.words[i + 1] != "day":
            return False
        if i and self.words[i - 1] in lex.pronoun_before:
            return True
        if i > 1 and self.words[i - 2] in lex.determiners and self.s.codes[i - 1] == "w":
            return True
        nxt = self.words[i + 1] if i + 1 < len(self.words) else ""
        if nxt in lex.pronoun_after:
            return not (i and self.words[i - 1] in self.c.words["label_before"] | self.c.words["day_before"])
        return bool(nxt == "second" and self.words[i + 2 : i + 3] == ["please"])

    def homophones(self) -> None:
        """ "trip says for 42.5": the word before is a digit when a meter speaks."""
        lex = lexicon()
        says = self.c.words["meter_says"]
        meter = self.c.words["meter_cues"]
        for raw in self.raws:
            i = raw.first - 1
            if i < 1 or self.words[i] not in lex.homophones or not raw.digits or not 10 <= raw.value < 100:
                continue
            before = self.words[i - 1]
            if before in says or (before in meter and self.words[i] == "for"):
                raw.value += 100 * lex.homophones[self.words[i]]
                raw.first, raw.kind = i, "homophone"
                raw.alternatives = ((raw.value % 100, 0.3),)

    def split_counted(self) -> None:
        """ "four ten amp fuses" are four of ten amps, not 410."""
        out: list[Raw] = []
        for raw in self.raws:
            if raw.shape in ("dw", "12") and raw.kind == "cardinal":
                unit = self.unit(raw.last)
                if unit and unit[1] < len(self.words) and self.words[unit[1]] in self.c.words["rating_counted"]:
                    one = Raw(int(raw.groups[0]), raw.first, raw.first + 1, "cardinal", raw.shape[0], raw.groups[:1])
                    two = Raw(int(raw.groups[1]), raw.first + 1, raw.last, "cardinal", raw.shape[1], raw.groups[1:])
                    two.alternatives = ((raw.value, 0.2),)
                    out += [one, two]
                    continue
            out.append(raw)
        self.raws = out

    def gap(self, start: int, end: int) -> tuple[str, ...]:
        """The words from token start to end, without commas, stops and fillers."""
        codes = self.s.codes
        words = self.words
        return tuple(words[k] for k in range(start, end) if codes[k] not in ",u" and words[k] != ".")

    def join(self) -> None:
        """Ranges, corrections, tolerances, ratios and times that are made of two numbers."""
        raws = self.raws
        out: list[Raw] = []
        for raw in raws:
            self.doubled(raw)
            if out and raw.first - out[-1].last <= 14 and raw.first >= out[-1].last:
                a = out[-1]
                done = self.pair(a, raw, out)
                if done:
                    continue
            out.append(raw)
        self.raws = out

    def doubled(self, raw: Raw) -> None:
        """ "twenty twenty five minutes" is a range although its groups could make 2025."""
        if raw.shape != "ww" or raw.kind != "cardinal":
            return
        a, b = (int(g) for g in raw.groups)
        if not (0 < b - a <= 10 and a % 5 == 0 and b % 5 == 0):
            return
        settled = tuple(self.words[raw.last : raw.last + 2]) in self.c.settled
        if settled or (self.unit(raw.last) and self.code(raw.last) not in ("USD", "GBP", "EUR")):
            raw.alternatives = ((raw.value, 0.2),)
            raw.kind, raw.low, raw.high, raw.value, raw.approx = "range", a, b, (a + b) / 2, True

    def pair(self, a: Raw, b: Raw, out: list[Raw]) -> bool:
        """Try to join b with a, the number before it; True when b is used up."""
        c = self.c
        unit = self.unit(a.last)
        after_unit = unit[1] if unit and unit[1] <= b.first else a.last
        gap = self.gap(a.last, b.first)
        short = self.gap(after_unit, b.first) if after_unit != a.last else gap
        if a.kind in ("ordinal",) or b.kind == "ordinal":
            return False
        if a.kind in MEASURES and self.viscosity(a, b):
            return True
        if not gap:
            return self.listed(a, b)
        if gap == ("by",) and a.value == b.value and a.kind == "cardinal" and not self.unit(b.last):
            a.last, a.kind = b.last, "name"  # "four by four"
            return True
        if gap == ("(",) and a.value == b.value and self.words[b.last : b.last + 1] == [")"]:
            a.last = b.last + 1  # "forty-five (45)"
            return True
        if short in c.corrections or gap in c.corrections:
            return self.correct(a, b, out)
        if short in c.settled and (a.kind == "range" or a.low is not None):
            a.low, a.high = min(a.low or a.value, b.value), max(a.high or a.value, b.value)
            a.value, a.last, a.kind, a.approx = b.value, b.last, "range", True
            return True
        if (
            gap == ("over",)
            and b.value
            and a.kind in MEASURES
            and a.last + 1 == b.first
            and b.kind in MEASURES
            and not self.unit(b.last)
        ):
            a.value, a.kind, a.last, a.alternatives = a.value / b.value, "fraction", b.last, ()
            return True
        if short in c.denied:
            b.kind = "denied"
            return False
        if short in c.tolerance or (b.value < 0 and short in (("plus", "or"), ("+", "/"), ("plus",))):
            width = abs(b.value)
            if width < abs(a.value) or a.value == 0:
                a.low, a.high, a.approx = a.value - width, a.value + width, True
                a.last = b.last if after_unit == a.last else a.last
                return True
        if (
            gap in c.ranges
            or short in c.ranges
            or (gap == ("and",) and a.first and self.words[a.first - 1] == "between")
            or (short == ("and", "about") and a.first and self.words[a.first - 1] == "between")
        ):
            return self.ranged(a, b, gap if gap in c.ranges else short)
        if 2 < len(short) <= 9:
            if short[-3:] in c.strong or short[-2:] in c.strong:
                return self.correct(a, b, out)  # "seven clicks on the lever no call it eight"
            following = self.unit(b.last)
            same = unit is None or (following is not None and following[0].meanings[0].code == unit[0].meanings[0].code)
            if same and self.strongly(short):
                return self.correct(a, b, out)
        return False

    def strongly(self, gap: tuple[str, ...]) -> bool:
        return any(gap[k : k + n] in self.c.strong for n in (2, 3) for k in range(min(4, len(gap) - n + 1)))

    def correct(self, a: Raw, b: Raw, out: list[Raw]) -> bool:
        if a.kind in ("time", "label") or (b.value == 1 and b.last - b.first == 1 and not b.digits):
            return False
        b.first = a.first
        out[-1] = b
        return True

    def listed(self, a: Raw, b: Raw) -> bool:
        """ "20, 25 minutes": two near values side by side, with a comma."""
        comma = any(self.s.codes[k] == "," for k in range(a.last, b.first))
        if not comma or a.kind not in MEASURES | {"range"} or b.kind not in MEASURES:
            return False
        if a.kind == "range" or a.plural or b.plural:
            return False
        if a.first > 1 and self.s.codes[a.first - 1] == "," and self.s.codes[a.first - 2] in "dtyn":
            return False  # a list of three
        settle = tuple(w for w in self.words[b.last : b.last + 3] if w != ",")[:2] in self.c.settled
        codes = self.s.codes
        more = (
            codes[b.last : b.last + 1] == "," and codes[b.last + 1 : b.last + 2] in "dtyn"
            if b.last + 1 < len(codes)
            else False
        )
        if not a.value < b.value <= 2 * a.value or (more and not settle):
            return False
        if a.value != int(a.value) or b.value != int(b.value) or not (self.unit(b.last) or settle):
            return False
        a.low, a.high, a.kind, a.approx = a.value, b.value, "range", True
        a.value, a.last = (a.value + b.value) / 2, b.last
        return True

    def ranged(self, a: Raw, b: Raw, how: tuple[str, ...]) -> bool:
        words = self.words
        if a.kind == "time" or b.kind == "time":
            return False
        if a.kind == "percent" or a.plural or b.plural:
            return False
        to = how in (("to",), ("till",))
        no_unit = not self.unit(b.last)
        if to and b.value == 1 and a.value > 1 and no_unit:
            a.kind, a.last, a.alternatives = "ratio", b.last, ()
            return True
        clock = a.first and words[a.first - 1] in self.c.words["clock_said"]
        if (
            to
            and no_unit
            and b.value in range(1, 13)
            and a.value in (5, 10, 15, 20, 25, 0.25)
            and (
                a.value > b.value
                or a.value == 0.25
                or (clock and a.value < b.value and words[a.first - 1] in self.c.words["clock_sure"])
            )
        ):
            minutes = 15 if a.value == 0.25 else a.value
            a.value, a.kind, a.last, a.alternatives = b.value - minutes / 60, "time", b.last, ()
            return True
        if not a.value < b.value or a.kind not in MEASURES or b.kind not in MEASURES:
            return False
        if how == ("-",) and (self.s.codes[a.last] != "-" or b.value > 100 * max(a.value, 1)):
            return False  # "52.60 - 61209": a dash between two things said
        if how[0] == "or" and b.value > 3 * a.value + 1:
            return False
        if to and a.first > 1 and words[a.first - 1] == "from" and words[a.first - 2] in self.c.words["change_before"]:
            return False
        if to and self.unit(a.last) and a.last < b.first and self.unit(a.last)[1] <= b.first and no_unit:  # type: ignore[index]
            return False
        if to and b.value > 50 * max(a.value, 1) and not self.unit(b.last):
            return False
        unit_a = self.unit(a.last)
        if unit_a and unit_a[1] <= b.first and self.unit(b.last) and self.code(a.last) != self.code(b.last):
            return False
        if b.shape in ("dw", "ww") and b.value > 10 * a.value and int(b.groups[-1]) > a.value:
            return False
        code = self.s.codes[b.last - 1]
        if code in "hk" and not any(x in "hk" for x in self.s.codes[a.first : a.last]):
            scale = self.s.vals[b.last - 1]
            if 1 <= a.value < b.value / scale:
                a.value *= scale  # "twelve to fourteen hundred"
        a.low, a.high, a.approx = a.value, b.value, True
        a.value, a.kind, a.last, a.alternatives = (a.value + b.value) / 2, "range", b.last, ()
        return True

    def viscosity(self, a: Raw, b: Raw) -> bool:
        """ "five w thirty", "75w-90": one name."""
        n = self.begins_with("viscosity", a.last)
        if not n or not 0 <= a.value <= 85 or b.value % 5:
            return False
        if any(w != "-" for w in self.words[a.last + n : b.first]):
            return False
        a.last, a.kind = b.last, "name"
        return True

    # -- kinds

    def name(self, raw: Raw, index: int) -> None:
        """Give a number its kind, and the value its kind asks for."""
        if raw.kind not in MEASURES and raw.kind != "range":
            return
        if raw.kind == "fraction" and raw.digits and raw.value >= 1 and raw.last - raw.first == 1:
            raw.kind = "ratio"  # "50/50"
            return
        s, words, c = self.s, self.words, self.c
        first, last = raw.first, raw.last
        prev = words[first - 1] if first else ""
        nxt = words[last] if last < len(words) else ""
        glued_before = first > 0 and s.starts[first] == s.ends[first - 1]
        nxt_apart = last + 1 >= len(words) or s.starts[last + 1] > s.ends[last] or s.codes[last + 1] not in "wao"
        if prev in c.words["money_signs"]:
            raw.kind = "money"
            raw.alternatives = ()
            return
        unit = self.unit(last)
        if glued_before and s.codes[first - 1] not in "-,+m.":
            raw.kind = "name"
            return
        if (
            glued_before
            and prev == "-"
            and first > 1
            and s.codes[first - 2] in "woa"
            and s.starts[first - 1] == s.ends[first - 2]
            and len(words[first - 2]) < 4
        ):
            raw.kind = "name"
            return
        if (
            raw.digits
            and not unit
            and last < len(words)
            and s.starts[last] == s.ends[last - 1]
            and s.codes[last] in "wao"
            and not (words[last] == "in" and nxt_apart)  # "1in crack", ".955in"
        ):
            raw.kind = "name"
            return
        if raw.kind == "range":
            if prev in c.words["label_before"] and not unit:
                raw.kind = "label"
            return
        if self.timed(raw, index):
            return
        if prev in c.words["day_before"] and raw.value == int(raw.value) and not unit:
            raw.kind = "day"
            return
        if self.labelled(raw, index, prev, nxt, bool(unit)):
            return
        if self.aged(raw, index, bool(unit)):
            return
        if (
            nxt == "of"
            and last + 1 < len(words)
            and words[last + 1] in c.words["share_of"]
            and raw.kind == "cardinal"
            and raw.value < 100
        ):
            raw.kind = "share"
            if index + 1 < len(self.raws):
                following = self.raws[index + 1]
                if following.first == last + 2 and following.kind == "cardinal" and following.value >= raw.value:
                    unit_next = self.unit(following.last)
                    if not unit_next:
                        following.kind = "share"
            return
        if self.sized(raw, unit, nxt):
            return
        self.priced(raw, index, unit)

    def timed(self, raw: Raw, index: int) -> bool:
        words = self.words
        n = self.begins_with("time_after", raw.last)
        if n and 0 < raw.value < 25:
            hour = raw.value
            if raw.shape in ("dw", "ww", "dzd"):
                return False
            if self.begins_with("time_pm", raw.last) and hour < 12:
                hour += 12
            raw.value, raw.kind = hour, "time"
            return True
        if (
            n
            and raw.shape in ("dw", "ww", "dzd", "wzd", "12")
            and int(raw.groups[-1]) < 60
            and int(raw.groups[0]) <= 12
        ):
            hour = int(raw.groups[0]) + int(raw.groups[-1]) / 60
            if self.begins_with("time_pm", raw.last) and hour < 12:
                hour += 12
            raw.value, raw.kind, raw.alternatives = hour, "time", ()
            return True
        if raw.last < len(words) and words[raw.last] in self.c.words["time_past"] and index + 1 < len(self.raws):
            clock = self.raws[index + 1]
            if (
                clock.first == raw.last + 1
                and clock.value in range(1, 13)
                and not self.unit(clock.last)
                and raw.value in (0.5, 0.25, 5, 10, 15, 20, 25)
            ):
                minutes = raw.value * 60 if raw.value < 1 else raw.value
                raw.value, raw.kind = clock.value + minutes / 60, "time"
                clock.kind = "time"
                return True
        if self.ends_with("time_before", raw.first) and not self.unit(raw.last):
            if raw.value in range(1, 25):
                raw.kind = "time"
                return True
            if raw.shape in ("dw", "ww", "dzd", "wzd") and int(raw.groups[-1]) < 60 and int(raw.groups[0]) <= 12:
                raw.value, raw.kind, raw.alternatives = int(raw.groups[0]) + int(raw.groups[-1]) / 60, "time", ()
                return True
        return False

    def labelled(self, raw: Raw, index: int, prev: str, nxt: str, unit: bool) -> bool:
        c = self.c
        if raw.kind != "cardinal" and raw.kind != "digits":
            return False
        if prev in c.words["label_before"] and not unit:
            raw.kind = "label"
            return True
        if (
            prev == "marker"
            or nxt in c.words["label_after"]
            or self.ends_with("label_now", raw.first)
            or self.begins_with("label_now", raw.last)
        ) and raw.value == int(raw.value):
            raw.kind = "label"
            return True
        if index and not unit and self.raws[index - 1].kind == "label":
            before = self.raws[index - 1]
            between = self.words[before.last : raw.first]
            many = self.words[before.first - 1 : before.first][:1]
            comma = bool(many) and many[0] in self.c.words["label_many"]
            if between in (["and"], ["or"]) or (between in ([","], [",", "and"]) and comma):
                raw.kind = "label"
                return True
        return False

    def aged(self, raw: Raw, index: int, unit: bool) -> bool:
        if raw.kind != "cardinal" or not 0 < raw.value <= 110 or raw.value != int(raw.value):
            return False
        if self.begins_with("age_after", raw.last):
            raw.kind = "age"
            return True
        if not unit and self.ends_with("age_before", raw.first):
            nxt = self.words[raw.last] if raw.last < len(self.words) else ""
            if nxt in self.c.words["no_age_after"]:
                return False
            raw.kind = "age"
            if index + 1 < len(self.raws):
                other = self.raws[index + 1]
                if self.words[raw.last : other.first] == ["and"] and not self.unit(other.last):
                    other.kind = "age"
            return True
        return False

    def sized(self, raw: Raw, unit: tuple[UnitName, int] | None, nxt: str) -> bool:
        """Sizes, ratings, ratios and names."""
        c, words = self.c, self.words
        if raw.plural:
            if len(raw.groups) == 2 and raw.shape == "dw" and 200 <= raw.value < 800:
                raw.alternatives = ((raw.value, 0.1),)
                raw.value, raw.kind = raw.value / 100, "ratio"
                return True
            if raw.shape in ("www", "wwww") and c.tire_low <= int(raw.groups[0]) <= c.tire_high:
                raw.value, raw.kind = int(raw.groups[0]), "size"  # "thirty five twelve fifties"
                return True
            if len(raw.groups) == 1 and raw.shape == "w" and c.tire_low <= raw.value <= c.tire_high:
                raw.kind = "size"
                return True
            raw.kind = "name" if raw.value >= c.name_smallest else "size"
            return True
        if self.begins_with("gear_after", raw.last) or self.ends_with("gear_before", raw.first):
            if raw.shape in ("dw", "dzd") and 200 <= raw.value < 800:
                raw.alternatives = ((raw.value, 0.1),)
                raw.value, raw.kind = raw.value / 100, "ratio"
                return True
            if raw.kind == "decimal" and 1 < raw.value < 10:
                raw.kind = "ratio"
                return True
        if self.begins_with("name_after", raw.last) and raw.value >= c.name_smallest and raw.value == int(raw.value):
            raw.kind = "name"
            return True
        if raw.shape == "ww" and sum(int(g) for g in raw.groups) == 100 and self.begins_with("mix_after", raw.last):
            raw.alternatives = ((raw.value, 0.1),)
            raw.value, raw.kind = int(raw.groups[0]) / int(raw.groups[1]), "ratio"
            return True
        if self.begins_with("name_small_after", raw.last) and raw.value < 20 and raw.kind == "cardinal":
            raw.kind = "name"
            return True
        after = unit[1] if unit else raw.last
        thing = words[after] if after < len(words) else ""
        if unit is None:
            if raw.kind == "fraction" and raw.value < 4 and thing in c.words["size_tools"]:
                raw.kind = "size"
                return True
            return False
        code = unit[0].meanings[0].code
        if code == "percent":
            raw.kind = "percent"
            return True
        if thing == "-" and after + 1 < len(words):
            thing = words[after + 1]
        if code in c.words["rating_units"] and thing in c.words["rating_of"]:
            raw.kind = "rating"
            return True
        if code in c.words["size_units"] and thing in c.words["size_tools"]:
            raw.kind = "size"
            return True
        if (
            code in c.words["size_units"]
            and after + 1 < len(words)
            and words[after + 1] in c.words["size_tools"]
            and thing in self.c.words["size_between"]
        ):
            raw.kind = "size"
            return True
        return False

    def priced(self, raw: Raw, index: int, unit: tuple[UnitName, int] | None) -> None:
        """Sums of money, and which reading of "sixty one eighty" a price means."""
        if unit is not None:
            code = unit[0].meanings[0].code
            if self.table.dimension.get(code) == "money":
                raw.kind = "money"
            if code == "tank" or self.table.dimension.get(code) != "volume":
                return
            return
        per = self.begins_with("per_volume", raw.last)
        if per and tuple(self.words[raw.last + 2 : raw.last + 4]) == ("and", "a"):
            per = 0  # "off again at eighty nine, a liter and a half of coolant went in"
        if per and raw.shape == "dwd" and raw.groups[-1] == "9":  # pumps price in tenths of a cent
            raw.value, raw.kind, raw.alternatives = int(raw.groups[0] + raw.groups[1]) / 100 + 0.009, "money", ()
            return
        if per and raw.kind == "fraction" and 100 < raw.value < 1000:
            raw.value, raw.kind, raw.alternatives = raw.value / 100, "money", ()
            return
        if per and raw.kind in ("cardinal", "decimal", "digits") and raw.shape:
            raw.kind = "money"
            if raw.shape in ("dw", "dzd", "12") and raw.value < 1000:
                raw.alternatives = ((raw.value, 0.05),)
                raw.value = raw.value / 100
            return
        if raw.shape not in ("dw", "ww", "wzd", "dzd") or raw.kind not in ("cardinal", "digits"):
            return
        if self.near_meter(raw.first):
            return
        after = bool(self.begins_with("money_after", raw.last))
        n = self.ends_with("money_before", raw.first)
        weak = bool(n and self.ends_with("money_weak_before", raw.first))
        cents = int(raw.groups[-1])
        near = self.near_money(raw, index)
        alone = raw.last - raw.first == len(self.words)
        if not alone and raw.shape == "ww" and cents in self.c.cents and int(raw.groups[0]) not in (18, 19, 20):
            n = n or 1
        if not after and not n and not near:
            return
        if near and raw.shape == "dw" and cents % 5 == 0:
            raw.alternatives = ((raw.value, 0.35),)
            raw.value, raw.kind = round(raw.value / 100, 2), "money"
            return
        small = round(raw.value / 100, 2)
        if raw.shape in ("ww", "wzd"):
            if not weak or after or cents in self.c.cents or cents % 5 == 0:
                raw.alternatives = ((raw.value, 0.2),)
                raw.value, raw.kind = small, "money"
            return
        usual = cents in self.c.cents
        if after or usual:
            raw.kind = "money"
        if usual:
            raw.alternatives = ((raw.value, 0.15),)
            raw.value = small
        elif cents % 50 == 0 and raw.shape == "dw":
            raw.alternatives = ((small, 0.45),)

    def near_money(self, raw: Raw, index: int) -> bool:
        """Whether another sum of money was just said."""
        if not index:
            return False
        before = self.raws[index - 1]
        return before.kind == "money" and raw.first - before.last <= self.c.money_near

    def near_meter(self, i: int) -> bool:
        """Whether a meter is named shortly before token i."""
        cues_ = self.c.words["meter_cues"]
        return any(w in cues_ for w in self.words[max(0, i - self.c.meter_reach) : i])

    # -- meters and spread

    def by_meter(self, raw: Raw, meters: Mapping[str, tuple[float, datetime]]) -> None:
        """Beside a meter's name, the reading that the meter can show comes first."""
        if not raw.alternatives or not self.near_meter(raw.first):
            return
        around = self.words[max(0, raw.first - self.c.meter_reach) : raw.first]
        for name, (last, _) in meters.items():
            if name not in around or last <= 0:
                continue
            if last <= raw.value <= last + 5000:
                return
            for value, likely in raw.alternatives:
                if last <= value <= last + 5000:
                    raw.alternatives = ((raw.value, 1 - likely), *(a for a in raw.alternatives if a[0] != value))
                    raw.value = value
                    return

    def spread(self, raw: Raw) -> None:
        """Bounds of a value that the speaker left vague."""
        if raw.low is not None or raw.kind not in MEASURES | {"money", "homophone", "percent", "age", "share"}:
            return
        first, last = raw.first, raw.last
        if not first and last >= len(self.words):
            return
        unit = self.unit(last)
        after = unit[1] if unit else last
        step = granularity(raw.value)
        value = raw.value
        n = self.begins_with("over_after", last) or (unit and self.begins_with("over_after", after))
        if n:
            raw.approx, raw.low, raw.high = True, value, value + max(step, 1.0 if value == int(value) else step)
            if self.begins_with("over_after", last):
                raw.last = last + (self.begins_with("over_after", last))
        elif self.ends_with("over_before", first):
            raw.approx, raw.low, raw.high = True, value, value + step
        elif self.ends_with("under_before", first):
            raw.approx, raw.low, raw.high = True, value - step, value
        elif (
            self.ends_with("about_before", first)
            or self.begins_with("about_after", last)
            or (unit and self.begins_with("about_after", after))
        ):
            half = step / 2 if step > 1 else step
            if raw.kind == "fraction":
                half = value / 4 if value < 1 else 0.25  # "about a quarter"
            raw.approx, raw.low, raw.high = True, value - half, value + half


def granularity(value: float) -> float:
    """The step that a round value was rounded to: 143,900 to hundreds, 25 to fives, 14.6 to tenths.

    Common practice in reading rough figures, no source.
    """
    value = abs(value)
    if value == 0:
        return 1.0
    if value != int(value):
        text = f"{value:.6f}".rstrip("0")
        return float(10.0 ** -(len(text.split(".")[1])))
    step = 1
    while value % (step * 10) == 0:
        step *= 10
    if step == 1 and value % 5 == 0 and value > 5:
        return 5.0
    return float(step)


def settle(s: Scan, meters: Mapping[str, tuple[float, datetime]] | None = None) -> list[Number]:
    """The numbers of a scan with their kinds."""
    return _Settler(s).run(meters)
