"""Numbers with their units: "one twenty five foot pounds", "half a quart", "three eighty nine a gallon".

A unit word with several meanings ("pounds") is settled by the words around it and by the machine's own units; the
other meanings stay in `alternatives`. Prices per volume have units such as "USD/gal_us" and the dimension
"unit_price"; sums of money carry a currency code. All unit words are in `data/units.toml`.

As a program, `python -m diary.language.quantities` reads lines from standard input and prints one JSON object a line.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from typing import Any

from diary.language.numeral_kinds import cues, settle
from diary.language.numeral_words import Scan, load_toml, scan
from diary.language.types import Locale, Number, Quantity
from diary.language.unit_names import Meaning, UnitName, unit_at, unit_table

NOT_MEASURED = frozenset({"time", "label", "age", "name", "ordinal", "denied", "day", "share"})


@dataclass(frozen=True, slots=True)
class _Facts:
    article: frozenset[str]
    another: frozenset[str]
    hundred: frozenset[str]
    whole: frozenset[str]
    compounds: Mapping[str, tuple[str, float]]
    signs: Mapping[str, str]
    parts: Mapping[str, tuple[str, float]]
    a_buck: frozenset[str]
    distance_after: tuple[tuple[str, ...], ...]
    buying: frozenset[str]


@cache
def _facts() -> _Facts:
    raw = load_toml("units.toml")
    return _Facts(
        frozenset(raw["article_units"]),
        frozenset(raw["another"]),
        frozenset(raw["hundred"]),
        frozenset(raw["whole"]),
        {big: (small, float(many)) for big, small, many in raw["compounds"]},
        raw["currency_signs"],
        {code: (currency, factor) for code, (currency, factor) in raw["money_parts"].items()},
        frozenset(raw["a_buck"]),
        tuple(tuple(p.split()) for p in raw["distance_after"]),
        frozenset(load_toml("numerals.toml")["kinds"]["buying"]),
    )


def _holds(condition: str, locale: Locale) -> bool:
    """Whether a locale condition of the data file is true of these units."""
    if condition == "imperial":
        return locale.volume == "gal_imp" or _holds("uk", locale)
    if condition == "uk":
        return locale.currency == "GBP" or (locale.distance == "mi" and locale.volume in ("L", "gal_imp"))
    if condition == "celsius":
        return locale.volume in ("L", "gal_imp") or locale.distance == "km"
    key, _, wanted = condition.partition("=")
    return bool(getattr(locale, key, None) == wanted)


class _Reader:
    """Reads the quantities of one text."""

    __slots__ = ("facts", "locale", "n", "number_starts", "numbers", "out", "s", "table", "words")

    def __init__(self, s: Scan, numbers: list[Number], locale: Locale) -> None:
        self.s = s
        self.words = s.words
        self.n = len(s.words)
        self.numbers = numbers
        self.locale = locale
        self.table = unit_table()
        self.facts = _facts()
        self.out: list[Quantity] = []
        self.number_starts: list[int] = []

    def token(self, place: int) -> int:
        """The first token that begins at or after a character."""
        return bisect_left(self.s.starts, place)

    # -- units

    def choose(self, name: UnitName, at: int, end: int) -> list[tuple[str, float]]:
        """The meanings of a unit word at token `at`, likeliest first, as (code, likelihood)."""
        if len(name.meanings) == 1:
            return [(name.meanings[0].code, 1.0)]
        window = self.table.cue_window
        low, high = max(0, at - window), min(self.n, end + window)
        around: dict[str, int] = {}
        for k in range(low, high):
            if not at <= k < end:
                distance = at - k if k < at else k - end + 1
                word = self.words[k]
                if word not in around or around[word] > distance:
                    around[word] = distance
        weights = [(m.code, self.weight(m, around)) for m in name.meanings]
        total = sum(w for _, w in weights) or 1.0
        return sorted(((code, w / total) for code, w in weights), key=lambda cw: -cw[1])

    def weight(self, meaning: Meaning, around: Mapping[str, int]) -> float:
        weight = meaning.prior
        if meaning.locale and _holds(meaning.locale, self.locale):
            weight *= self.table.locale_weight
        near = sum(1.0 / (1.0 + around[w] / 4.0) for w in meaning.cues if w in around)
        return weight * (1.0 + self.table.cue_weight * min(near, 1.5))

    def unit(self, i: int) -> tuple[list[tuple[str, float]], int, float] | None:
        """The unit at token i: its meanings, the token after it, and how sure the word itself is."""
        found = unit_at(self.s, i, self.table)
        if found is None:
            return None
        name, end = found
        if self.counts_on(i, end) and (shorter := unit_at(self.s, i, self.table, len(name.words))) is not None:
            name, end = shorter
        return self.choose(name, i, end), end, name.sure

    def counts_on(self, i: int, end: int) -> bool:
        """ "Seventy litres a hundred and thirty euros": the hundred opens a number and is no part of the unit."""
        if self.words[end - 1] not in self.facts.hundred or end - i < 3 or self.words[end - 2] not in self.table.per:
            return False
        after = end + 1 if end + 1 < self.n and self.words[end] == "and" else end
        if after >= self.n:
            return False
        money = unit_at(self.s, after, self.table)
        paid = money is not None and self.table.dimension.get(money[0].meanings[0].code) == "money"
        return self.s.codes[after] in "dtyz" or (paid and after == end)

    # -- the walk

    def run(self) -> list[Quantity]:
        at = 0
        numbers = self.numbers
        taken = -1
        while at < len(numbers):
            number = numbers[at]
            if number.start < taken:
                at += 1
                continue
            quantity, used = self.read(at) if not self.price_after(at) else (self.price(at), 1)
            if quantity is not None:
                self.out.append(quantity)
                taken = quantity.end
            at += used
        self.articles()
        self.out.sort(key=lambda q: q.start)
        return self.out

    def price_after(self, at: int) -> bool:
        """ "40.1 litres at 1.64": a bare decimal after a volume and "at" is its price."""
        if not self.out or self.out[-1].dimension != "volume":
            return False
        number = self.numbers[at]
        first = self.token(number.start)
        if self.words[first - 1 : first] != ["at"] or self.s.starts[first - 1] - self.out[-1].end > 2:
            return False
        after = self.token(number.end)
        return (
            number.kind in ("decimal", "cardinal")
            and not unit_at(self.s, after, self.table)
            and (
                (number.kind == "decimal" and number.value < 20)
                or (bool(number.alternatives) and 100 <= number.value < 1000)
            )
        )

    def price(self, at: int) -> Quantity:
        number = self.numbers[at]
        value = number.value if number.value < 20 else number.value / 100
        unit = f"{self.currency()}/{self.out[-1].unit}"
        return Quantity(value, unit, "unit_price", number.start, number.end, value, value, number.approx, number)

    def read(self, at: int) -> tuple[Quantity | None, int]:
        """The quantity of number `at`, and how many numbers it used."""
        number = self.numbers[at]
        if number.kind in NOT_MEASURED:
            return None, 1
        first = self.token(number.start)
        last = self.token(number.end)
        sign = self.words[first - 1] if first else ""
        if sign in self.facts.signs:
            return self.money(at, number, last, self.facts.signs[sign], self.s.starts[first - 1])
        i = last
        words = self.words
        if i < self.n and words[i] in "([{<" and i + 1 < self.n:
            i += 1
        if number.value < 1 and i + 1 < self.n:
            if words[i] in ("a", "an"):
                i += 1
            elif words[i] == "of" and words[i + 1] in ("a", "an"):
                i += 2
            elif words[i] == "of" and unit_at(self.s, i + 1, self.table):
                i += 1
        found = self.unit(i) or self.short_inch(i)
        if found is None:
            inside = self.inside(first, last)
            if inside is None:
                if number.kind == "money":
                    return self.money(at, number, last, "", number.start)
                if number.kind == "percent":
                    return None, 1
                return None, 1
            found = inside
        meanings, end, sure = found
        code = meanings[0][0]
        end_char = self.s.ends[end - 1] if end > last else number.end
        if code == "x1000":
            return self.thousands(number, end)
        if code in self.table.least and number.value < self.table.least[code]:
            return None, 1
        dimension = self.table.dimension.get(code, "")
        if dimension == "money" or (code in ("psi", "lb", "ft_lb") and self.pound_and_pence(at, end)):
            return self.money(at, number, end, "GBP" if dimension != "money" else code, number.start)
        if (
            words[i : i + 1] != []
            and number.kind == "money"
            and dimension == "volume"
            and words[last] in self.table.per
        ):
            return self.money(at, number, last, "", number.start)
        return self.grow(at, number, meanings, end, max(end_char, number.end), sure)

    def short_inch(self, i: int) -> tuple[list[tuple[str, float]], int, float] | None:
        """The word "in" as inches: it touches the digits, or ends the sentence after feet."""
        if i >= self.n or self.words[i] != "in" or not i or self.s.codes[i - 1] not in "nDF":
            return None
        if self.s.starts[i] == self.s.ends[i - 1]:
            return [("in", 1.0)], i + 1, 1.0
        after = self.words[i + 1] if i + 1 < self.n else "."
        feet = any(w in ("ft", "feet", "foot", "'") for w in self.words[max(0, i - 3) : i - 1])
        if feet or not after[0].isalnum():
            return [("in", 1.0)], i + 1, 0.9
        return None

    def inside(self, first: int, last: int) -> tuple[list[tuple[str, float]], int, float] | None:
        """The unit said within a corrected number ("fourteen mil no thirteen")."""
        for k in range(first + 1, last - 1):
            if self.s.codes[k] in "w.":
                found = self.unit(k)
                if found and self.words[k] not in ("a", "in"):
                    return found[0], last, found[2]
        return None

    def thousands(self, number: Number, end: int) -> tuple[Quantity | None, int]:
        """ "a hundred and sixty k on it"."""
        scaled = replace(number, value=number.value * 1000, low=number.low * 1000, high=number.high * 1000)
        found = self.unit(end)
        if found:
            code, stop = found[0][0][0], found[1]
            return self.make(scaled, [(code, 1.0)], self.s.ends[stop - 1]), 1
        after = tuple(self.words[end : end + 3])
        if any(after[: len(p)] == p for p in self.facts.distance_after):
            return self.make(scaled, [(self.locale.distance, 1.0)], self.s.ends[end - 1]), 1
        return None, 1

    def grow(
        self, at: int, number: Number, meanings: list[tuple[str, float]], end: int, end_char: int, sure: float
    ) -> tuple[Quantity | None, int]:
        """Add what follows a unit: a smaller unit, "and a half", a rate, a corrected unit."""
        code = meanings[0][0]
        words = self.words
        used = 1
        following = self.numbers[at + 1] if at + 1 < len(self.numbers) else None
        if following is not None and following.start >= end_char:
            first = self.token(following.start)
            between = words[end:first]
            if following.kind == "fraction" and following.value < 1 and between in (["and"], ["&"]):
                stop = self.token(following.end)
                if not unit_at(self.s, stop, self.table):
                    number = _plus(number, following.value)
                    return self.make(number, meanings, following.end, sure), 2
            small = self.facts.compounds.get(code)
            if small and between in ([], ["and"], ["-"], [","]) and following.kind not in NOT_MEASURED:
                got = self.unit(self.token(following.end)) or self.short_inch(self.token(following.end))
                if got and any(c == small[0] for c, _ in got[0]) and following.value < small[1]:
                    number = _plus(number, following.value / small[1])
                    return self.make(number, meanings, self.s.ends[got[1] - 1], sure), 2
        if end < self.n and words[end] in self.table.per and words[end] != "the":
            rate = self.unit(end + 1)
            if rate:
                other = rate[0][0][0]
                dimension = f"{self.table.dimension.get(code, '')}/{self.table.dimension.get(other, '')}"
                quantity = self.make(number, [(f"{code}/{other}", 1.0)], self.s.ends[rate[1] - 1], sure)
                return replace(quantity, dimension=dimension), used
        fixed = self.corrected_unit(end, code)
        if fixed:
            other, stop = fixed
            quantity = self.make(number, [(other, 0.9), (code, 0.1)], self.s.ends[stop - 1], sure)
            return quantity, used
        return self.make(number, meanings, end_char, sure), used

    def corrected_unit(self, end: int, code: str) -> tuple[str, int] | None:
        """ "eighteen inch pounds no wait let me read that again foot pounds": the unit alone is taken back."""
        c = cues()
        for size in (3, 2, 1):
            phrase = tuple(w for w in self.words[end : end + size + 1] if w not in ",.")[:size]
            if phrase in c.corrections:
                break
        else:
            return None
        reach = end + 12 if phrase in c.strong else end + size + 2
        dimension = self.table.dimension.get(code)
        for k in range(end + 1, min(reach, self.n)):
            if self.s.codes[k] in "dtyzhknDF":
                return None
            found = self.unit(k)
            if found and self.table.dimension.get(found[0][0][0]) == dimension and found[0][0][0] != code:
                return found[0][0][0], found[1]
        return None

    def pound_and_pence(self, at: int, end: int) -> bool:
        """ "sixteen pound sixty": a bare number below a hundred follows "pound"."""
        if at + 1 >= len(self.numbers) or self.words[end - 1] not in ("pound", "pounds"):
            return False
        if end - self.token(self.numbers[at].end) > 1:
            return False  # "thirty foot pounds fourteen flat at idle": a longer name of a unit is no sum
        following = self.numbers[at + 1]
        first = self.token(following.start)
        if self.words[end:first] == ["and"]:
            small = self.unit(self.token(following.end))
            return small is not None and small[0][0][0] == "pence"
        if first != end or following.kind not in ("cardinal", "money") or not 1 <= following.value < 100:
            return False
        return (
            following.value == int(following.value) and unit_at(self.s, self.token(following.end), self.table) is None
        )

    # -- money

    def money(self, at: int, number: Number, end: int, code: str, start: int) -> tuple[Quantity | None, int]:
        """A sum or a price per volume; `end` is the token after the number and its currency."""
        currency, factor = self.facts.parts.get(code, (code, 1.0)) if code else ("", 1.0)
        currency = currency or self.currency()
        value = number.value * factor
        used = 1
        stop = self.s.ends[end - 1] if end else number.end
        if at + 1 < len(self.numbers) and code not in ("cent", "pence", "grand"):
            following = self.numbers[at + 1]
            first = self.token(following.start)
            between = self.words[end:first]
            after = self.token(following.end)
            got = self.unit(after)
            small = got is not None and got[0][0][0] in ("cent", "pence")
            bare = got is None and between == [] and 10 <= following.value < 100 and number.end < self.s.ends[end - 1]
            plain = following.value == int(following.value) and 0 < following.value < 100
            if plain and following.kind in ("cardinal", "money") and ((small and between in ([], ["and"])) or bare):
                value = value + following.value / 100
                used = 2
                end = got[1] if small and got else after
                stop = self.s.ends[end - 1]
        value = round(value, 4)
        low = value + (number.low - number.value) * factor
        high = value + (number.high - number.value) * factor
        alternatives = tuple((v, currency, p) for v, p in number.alternatives) if used == 1 else ()
        if used == 2 or factor == 1.0:
            alternatives += self.counted(at, value, currency)
        quantity = Quantity(
            value, currency, "money", start, stop, low, high, number.approx, number, alternatives
        )  # fmt: skip
        if end < self.n and self.words[end] in self.table.per:
            rate = self.unit(end + 1)
            if rate and tuple(self.words[rate[1] : rate[1] + 2]) == ("and", "a"):
                return replace(quantity, end=stop), used  # "... at eighty nine, a liter and a half of coolant went in"
            if rate and self.table.dimension.get(rate[0][0][0]) == "volume":
                price = f"{currency}/{rate[0][0][0]}"
                return replace(quantity, unit=price, dimension="unit_price", end=self.s.ends[rate[1] - 1]), used
        return quantity, used

    def counted(self, at: int, value: float, currency: str) -> tuple[tuple[float, str, float], ...]:
        """ "ordered three seventy three dollars": the first group may be a count ("ordered three, for 73 dollars")."""
        number = self.numbers[at]
        first = self.token(number.start)
        codes = self.s.codes
        if codes[first] != "d" or codes[first + 1 : first + 2] not in ("t", "y") or first == 0:
            return ()
        head = self.s.vals[first] * 100
        if not 100 <= number.value < 1000 or int(number.value) - head < 10:
            return ()
        buying = self.words[first - 1] in self.facts.buying
        return ((round(value - head, 4), currency, 0.45 if buying else 0.2),)

    def currency(self) -> str:
        if self.locale.currency == "USD" and _holds("uk", self.locale):
            return "GBP"
        return self.locale.currency

    # -- "a quart"

    def articles(self) -> None:
        """One of a unit: "a quart of gear oil", "an inch and a quarter", "a dollar eighty"; no "dollars a gallon"."""
        codes = self.s.codes
        taken: set[int] = set()
        places = [(q.start, q.end) for q in self.out] + [(n.start, n.end) for n in self.numbers]
        for start, end in places:
            taken.update(range(self.token(start), self.token(end)))
        self.number_starts = [n.start for n in self.numbers]
        i = codes.find("a")
        while i >= 0:
            if i + 1 < self.n and i not in taken:
                self.article(i)
            i = codes.find("a", i + 1)
        for i, word in enumerate(self.words):
            if word in self.facts.another and i + 1 < self.n and i not in taken:
                self.article(i)

    def article(self, i: int) -> None:
        if i and (codes_before := self.s.codes[i - 1]) in "dtyzhknDFfxS" and codes_before:
            return
        before = self.words[i - 1] if i else ""
        if any(len(name.words) == 1 and not name.letter for name in self.table.by_first.get(before, ())):
            return  # "bucks a gallon"
        said = i + 2 if self.words[i + 1] in self.facts.whole and i + 2 < self.n else i + 1
        found = self.unit(said)
        if not found:
            return
        meanings, end, sure = found
        code = meanings[0][0]
        bucks = self.words[i + 1] in self.facts.a_buck
        if code not in self.facts.article and not bucks:
            return
        one = Number(1, 1, 1, self.s.starts[i], self.s.ends[i], "article")
        at = bisect_left(self.number_starts, self.s.ends[end - 1])
        following = self.numbers[at] if at < len(self.numbers) else None
        if bucks:
            if following is None or self.token(following.start) != end or not 1 <= following.value < 100:
                return
            if unit_at(self.s, self.token(following.end), self.table) or following.kind not in ("cardinal", "money"):
                return
            currency = "GBP" if self.words[i + 1] in ("pound", "quid") else self.currency()
            value = 1 + following.value / 100
            quantity = Quantity(value, currency, "money", one.start, following.end, value, value, False, one)
            stop = self.token(following.end)
            if stop < self.n and self.words[stop] in self.table.per:
                rate = self.unit(stop + 1)
                if rate and self.table.dimension.get(rate[0][0][0]) == "volume":
                    quantity = replace(
                        quantity,
                        unit=f"{currency}/{rate[0][0][0]}",
                        dimension="unit_price",
                        end=self.s.ends[rate[1] - 1],
                    )
            self.out = [q for q in self.out if q.start != following.start]
            self.out.append(quantity)
            return
        part = following is not None and following.kind == "fraction" and following.value < 1
        if part and following and self.words[end : self.token(following.start)] == ["and"]:
            grown = replace(_plus(one, following.value), kind="fraction")
            self.out.append(self.make(grown, meanings, following.end, sure))
            return
        self.out.append(self.make(one, meanings, self.s.ends[end - 1], sure))

    def make(self, number: Number, meanings: list[tuple[str, float]], end: int, sure: float = 1.0) -> Quantity:
        code, likely = meanings[0]
        alternatives = tuple((number.value, other, round(p, 3)) for other, p in meanings[1:] if p > 0.02)
        alternatives += tuple((v, code, round(p * likely, 3)) for v, p in number.alternatives)
        if sure < 1.0:
            alternatives += ((number.value, "", round(1 - sure, 3)),)
        return Quantity(
            number.value, code, self.table.dimension.get(code, ""), number.start, end, number.low, number.high,
            number.approx, number, alternatives,
        )  # fmt: skip


def _plus(number: Number, more: float) -> Number:
    return replace(number, value=number.value + more, low=number.low + more, high=number.high + more, alternatives=())


def read_quantities(
    text: str,
    *,
    locale: Locale | None = None,
    numbers: list[Number] | None = None,
    meters: Mapping[str, tuple[float, datetime]] | None = None,
) -> list[Quantity]:
    """Every number of `text` that has a unit, in order.

    `locale` holds the machine's own units (which gallon, which pound); `numbers` the result of `read_numbers` on the
    same text, when the caller has it already. `Quantity.number.kind` tells sizes and ratings from measurements;
    "article" is the one of "a quart". An alternative with the unit "" says that the word may be a mishearing.
    """
    s = scan(text)
    if numbers is None:
        numbers = settle(s, meters)
    return _Reader(s, numbers, locale or Locale()).run()


def main() -> None:
    """Read lines, print one JSON object a line: {"text", "quantities": [{"value", "unit", "dimension", ...}]}."""
    import json
    import sys

    for line in sys.stdin:
        text = line.rstrip("\n")
        found: list[dict[str, Any]] = [
            {
                "value": q.value, "low": q.low, "high": q.high, "unit": q.unit, "dimension": q.dimension,
                "start": q.start, "end": q.end, "kind": q.number.kind if q.number else "",
            }
            for q in read_quantities(text)
        ]  # fmt: skip
        print(json.dumps({"text": text, "quantities": found}, ensure_ascii=False), flush=True)


if __name__ == "__main__":
    main()
