"""The grammar of spoken numbers: from tokens to values, before their neighbours say what they are.

A number is a run of groups ("twenty five", "oh", "six hundred and four"). Which runs make one number is written down
once, as a regular expression over pattern letters; other runs are cut into the fewest numbers that do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from diary.language.numeral_words import SUFFIX, Scan, lexicon

Block = tuple[str, str, int, int]  # pattern letter, digits, first token, next token


@dataclass(slots=True)
class Raw:
    """A number as parsed, before its neighbours give it a kind; `first` and `last` (exclusive) are token positions."""

    value: float
    first: int
    last: int
    kind: str
    shape: str = ""  # the pattern letters of its groups: "dw" for "one twenty five"
    groups: tuple[str, ...] = ()  # the digits of each group: ("1", "25")
    approx: bool = False
    low: float | None = None
    high: float | None = None
    plural: bool = False
    digits: bool = False  # written with digits
    alternatives: tuple[tuple[float, float], ...] = ()


# ---------------------------------------------------------------------------------------------------------------------
# Groups: what a speaker says in one breath, "twenty five", "oh", "six hundred and four"; each has a pattern letter
#   d one digit   w two digits   z zero   H hundreds   G thousands said in hundreds
#   1 2 3 L digits written, by their count   D decimal   E decimal with two whole digits
# Which patterns make one number is written down once, here.

_T3 = r"(?:dw|dzd|dzz|ddd|ddz|zdd|zdz|zzd|zw)"
_ONE = re.compile(
    "|".join(
        (
            r"[dwzHG123LDE]",
            r"[dz]{3,}|z+[dw]",  # digit by digit
            r"[dw](?:w|zd|zz)",  # 125, 2250, 105, 1900
            r"[dwH]" + _T3,  # 88|531, 2|406 is left to digits
            r"[dz]{2,4}w",  # two three nine eleven
            r"w[dz]{2,3}",
            r"(?:dw|dzd|ddd|dzz)(?:" + _T3 + ")",  # 211|390, 105|460
            r"w(?:w|zd)(?:w|zd)|wzz[dz]*",  # 12|34|56
            r"(?:dw|dzd|ddd|w|wz|H)H",  # 88|600
            r"H(?:dw|dzd|ddd)",
            r"12|1E|1z1|2z1|23|33|[123]3{2,}|w3|H3|2w|1w",
        )
    )
)
_DECIMAL_MEANT = re.compile(r"(?:w|dw|ww|wzd)d")
_ALL_TENS = re.compile(r"w{3,}")


@lru_cache(maxsize=4096)
def _cut(pattern: str, open_end: bool) -> tuple[int, ...]:
    """Lengths of the numbers that a run of groups falls into; the fewest win, whole-number patterns before others.

    `open_end`: a point or a unit follows, so that the last group may well stand alone.
    """
    if _ONE.fullmatch(pattern):
        return (len(pattern),)
    if _DECIMAL_MEANT.fullmatch(pattern) and not open_end:
        return (len(pattern),)
    n = len(pattern)
    best: list[tuple[float, tuple[int, ...]]] = [(0.0, ())]
    for end in range(1, n + 1):
        options = []
        for start in range(max(0, end - 9), end):
            piece = pattern[start:end]
            if _ONE.fullmatch(piece):
                cost = 1.0 + (0.2 if piece == "dd" else 0.0)
            elif _DECIMAL_MEANT.fullmatch(piece) and not (open_end and end == n):
                cost = 1.3
            else:
                continue
            so_far, cuts = best[start]
            options.append((so_far + cost, (*cuts, end - start)))
        best.append(min(options))
    cuts = best[n][1]
    if not open_end and n <= 5 and len(cuts) > 1 and 1 in (cuts[0], cuts[-1]) and max(cuts) > 1:
        return (1,) * n  # "fifteen one ten one" is a list
    return cuts


class _Parser:
    """Walks over the tokens of a scan and collects numbers."""

    __slots__ = ("codes", "last_word", "n", "out", "s", "unit_at", "vals", "words")

    def __init__(self, s: Scan, unit_at: Any) -> None:
        self.s = s
        self.codes = s.codes + "$$$$"
        self.vals = s.vals
        self.words = s.words
        self.n = len(s.words)
        self.out: list[Raw] = []
        self.unit_at = unit_at

    # -- small helpers

    def skip(self, i: int) -> int:
        """Past a hyphen or a filler that stands inside a number."""
        while self.codes[i] in "-u" and i < self.n:
            if self.codes[i] == "-" and self.s.starts[i] - self.s.ends[i - 1] > 1:
                return i
            i += 1
        return i

    def group(self, i: int) -> tuple[str, str, int] | None:
        """The plain group that begins at token i: (pattern letter, digits, next token)."""
        c = self.codes[i]
        if c == "d":
            return "d", str(self.vals[i]), i + 1
        if c == "y":
            j = self.skip(i + 1)
            if self.codes[j] == "d":
                # "twenty three eighths" keeps its numerator only when the fraction asks for it: see tail()
                return "w", str(self.vals[i] + self.vals[j]), j + 1
            return "w", str(self.vals[i]), i + 1
        if c == "t":
            return "w", str(self.vals[i]), i + 1
        if c in "zo":
            return "z", "0", i + 1
        if c == "n":
            text = self.vals[i]
            return (str(len(text)) if len(text) <= 3 else "L"), text, i + 1
        if c == "D":
            text = self.vals[i]
            whole = text.split(".")[0]
            return ("E" if len(whole) == 2 and "e" not in text else "D"), text, i + 1
        return None

    # -- the walk

    def run(self) -> list[Raw]:
        starters = re.compile(r"[dtyzohkpafxnDFOCrRBS2m+]")
        i = 0
        codes = self.s.codes
        while True:
            found = starters.search(codes, i)
            if not found:
                return self.out
            i = found.start()
            j = self.one(i)
            i = j if j > i else i + 1

    def one(self, i: int) -> int:
        """Read what begins at token i; returns the token after it, or i when there is no number."""
        c = self.codes[i]
        sign = 1
        first = i
        if c in "m+":
            j = i + 1
            if self.codes[j] not in "dtyzhkpnDFa" or (c == "+" and self.words[i] == "+" and not self._free(i)):
                return i
            sign = -1 if c == "m" else 1
            if self.codes[j] == "a" and self.codes[j + 1] not in "hk":
                return i
            i = j
            c = self.codes[i]
        elif i and self.codes[i - 1] == "-" and c in "nDF" and self._minus_sign(i - 1):
            sign, first = -1, i - 1
        before = len(self.out)
        j = self._unsigned(i)
        if j > i and len(self.out) > before and sign == -1:
            raw = self.out[before]
            raw.value, raw.first = -raw.value, first
            raw.low, raw.high = (None if raw.high is None else -raw.high), (None if raw.low is None else -raw.low)
        elif j > i and len(self.out) > before and c != self.codes[first]:
            self.out[before].first = first
        return j if j > i else first

    def _free(self, i: int) -> bool:
        return i == 0 or self.s.starts[i] > self.s.ends[i - 1]

    def _minus_sign(self, i: int) -> bool:
        """Whether the hyphen token i is a minus: nothing that could be joined stands right before it."""
        if i == 0:
            return True
        return self.s.starts[i] > self.s.ends[i - 1] and self.codes[i - 1] not in "nDdtyzFkh"

    def _unsigned(self, i: int) -> int:
        c = self.codes[i]
        if c == "C":
            self.out.append(Raw(self.vals[i], i, i + 1, "time", digits=True))
            return i + 1
        if c == "O":
            self.out.append(Raw(self.vals[i], i, i + 1, "ordinal", digits=True))
            return i + 1
        if c == "F":
            return self._scaled(Raw(self.vals[i], i, i + 1, "fraction", digits=True))
        if c == "a":
            return self._article(i)
        if c == "f":
            return self._bare_fraction(i, i)
        if c == "x":
            if self.words[i] == "dozen" and self.codes[i + 1] == "w":
                self.out.append(Raw(12, i, i + 1, "cardinal"))
                return i + 1
            if self.words[i] == "few":
                self.out.append(self._vague(i, i, i + 1))
                return i + 1
            return i
        if c in "rRB2":
            return self._ordinal(i)
        if c == "S":
            return self._plural_start(i)
        if c == "p":
            return self._point_start(i)
        if (
            c in "hk"
            and (
                self.words[i].endswith("s") or self.codes[i + 1] not in "dtyhk&n" or (c == "k" and self.vals[i] > 10**6)
            )
            and (self.words[i].endswith("s") or not (i + 1 < self.n and self.unit_at(i + 1)))
        ):
            return i
        if c == "o":
            if self.codes[i + 1] == "p" and self.codes[i + 2] in "dtyzon":
                return self._integer(i)
            if self.codes[i + 1] in "dz" and self.codes[i + 2] in "dzo":
                return self._integer(i)  # "oh three five"
            return i  # a leading "oh" adds nothing to a value
        return self._integer(i)

    # -- articles, groups, ordinals, points

    def _article(self, i: int) -> int:
        j = i + 1
        nxt = self.codes[j]
        if nxt in "hk":
            before = len(self.out)
            end = self._integer(j)
            if end > j:
                self.out[before].first = i  # the first of those found: "a hundred forty eight eighty" may be two
            return end if end > j else i
        if nxt == "x":
            self.out.append(
                self._vague(i, j, j + 1)
                if self.words[j] in lexicon().vague or self.vals[j] == 12
                else Raw(self.vals[j], i, j + 1, "cardinal")
            )
            return j + 1
        if nxt == "f":
            return self._bare_fraction(i, j)
        if nxt in "rRBy":
            den = self.denominator(j, False)
            if den and self.codes[den[1]] not in "dtyn" and (nxt != "y" or self.codes[j + 1] in "-r"):
                return self._fraction_of(1, i, den, maybe_ordinal=True)
        return i

    def _vague(self, i: int, j: int, end: int) -> Raw:
        value = self.vals[j]
        if self.words[j] in lexicon().vague:
            return Raw(value, i, end, "cardinal", approx=True, low=value, high=value + (1 if value == 2 else 2))
        return Raw(value, i, end, "cardinal")

    def _bare_fraction(self, i: int, j: int) -> int:
        """ "half", "a quarter", "half a dozen", "quarter inch"; token j is the fraction word."""
        if self.words[j].endswith("s") and self.words[j] != "halfs":
            return i
        value = 1 / self.vals[j]
        k = j + 1
        if self.codes[k] == "a" and self.codes[k + 1] in "xhk":
            scale = self.vals[k + 1]
            self.out.append(Raw(value * scale, i, k + 2, "cardinal"))
            return k + 2
        if self.codes[k] == "k":
            self.out.append(Raw(value * self.vals[k], i, k + 1, "cardinal"))
            return k + 1
        self.out.append(Raw(value, i, k, "fraction"))
        return k

    def denominator(self, i: int, many: bool) -> tuple[int, int] | None:
        """The fraction's lower half at token i: (denominator, next token)."""
        i = self.skip(i)
        c = self.codes[i]
        if c == "f":
            return self.vals[i], i + 1
        if c in "rR" and self.words[i] != "first":
            if not many or self._singular_ok(i):
                return self.vals[i], i + 1
            return None
        if c == "B" and not many:
            return self.vals[i], i + 1
        if c == "y":
            j = self.skip(i + 1)
            if (
                self.codes[j] == "s"
                or (self.codes[j] == "f" and self.vals[j] < 10)
                or self.words[j : j + 1] == ["firsts"]
            ):
                return self.vals[i] + (1 if self.words[j] == "firsts" else self.vals[j]), j + 1
            if self.codes[j] in "2r" and self.vals[j] < 10 and not many:
                return self.vals[i] + self.vals[j], j + 1
        if c == "t" and self.vals[i] == 10 and self.codes[self.skip(i + 1)] in "fB":
            j = self.skip(i + 1)
            if self.vals[j] == 1000:
                return 10_000, j + 1
        if c == "S" and self.vals[i][1] == 8 and self._singular_ok(i):
            return 8, i + 1  # "three eights drive"
        return None

    def _singular_ok(self, i: int) -> bool:
        """ "three sixteenth inch": the plural is dropped before a unit or a tool."""
        return self.vals[i] in (4, 8, 16, 32, 64, ("d", 8)) and i + 1 < self.n and self.unit_at(i + 1)

    def _fraction_of(self, top: float, first: int, den: tuple[int, int], maybe_ordinal: bool = False) -> int:
        bottom, end = den
        raw = Raw(top / bottom, first, end, "fraction")
        if (
            maybe_ordinal
            and end < self.n
            and self.words[end] != "of"
            and not self.unit_at(end)
            and self.codes[end] == "w"
        ):
            raw = Raw(bottom, first, end, "ordinal", alternatives=((top / bottom, 0.3),))
        if self.codes[end] in "k" or (self.words[end : end + 2] == ["of", "a"] and self.codes[end + 2] == "k"):
            at = end if self.codes[end] == "k" else end + 2
            raw.value *= self.vals[at]
            raw.last = at + 1
        self.out.append(raw)
        return raw.last

    def _ordinal(self, i: int) -> int:
        c = self.codes[i]
        j = i + 1
        value = self.vals[i]
        if c == "2" and not self._second_in_order(i):
            return i
        if c == "B":
            return i if self.codes[i - 1 if i else 0] in "hk" else self._emit_ordinal(value, i, j)
        return self._emit_ordinal(value, i, j)

    def _second_in_order(self, i: int) -> bool:
        """Whether "second" is the ordinal: "the second", or in a row with other ordinals."""
        codes = self.codes
        if i and self.words[i - 1] in ("the", "my", "its", "every"):
            return self.words[i + 1 : i + 2] == [] or self.words[i + 1] not in lexicon().second_not_before
        before = codes[i - 1] if i else "."
        if before == "," and i > 1:
            before = codes[i - 2]
        after = codes[i + 1] if codes[i + 1] != "," else codes[i + 2]
        return before in "rRO" or after in "rR"

    def _emit_ordinal(self, value: int, i: int, j: int) -> int:
        self.out.append(Raw(value, i, j, "ordinal"))
        return j

    def _plural_start(self, i: int) -> int:
        letter, value = self.vals[i]
        if letter == "d" and value < 4:
            return i
        self.out.append(
            Raw(
                value,
                i,
                i + 1,
                "cardinal",
                shape=letter.replace("t", "w").replace("y", "w"),
                groups=(str(value),),
                plural=True,
            )
        )
        return i + 1

    def _point_start(self, i: int) -> int:
        if i and self.words[i - 1] in lexicon().no_point_after:
            return i
        got = self.decimals(i, True)
        if not got:
            return i
        digits, end = got
        raw = Raw(float("0." + digits), i, end, "decimal")
        return self._scaled(raw)

    def decimals(self, p: int, small: bool) -> tuple[str, int] | None:
        """Digits after the point token p; `small`: nothing or zero stands before it ("point three seventy five")."""
        i = self.skip(p + 1)
        digits = ""
        first = True
        only_zero = True
        while True:
            c = self.codes[i]
            if c in "dzo":
                if c == "o" and not first and self.codes[i - 1] == "p":
                    break
                if c == "d" and not first and self.codes[i + 1] == "h":
                    break
                if c == "d" and self.codes[i + 1] == "h" and first:
                    block = self._hundreds(i)
                    if block:
                        return block[1], block[2]
                digits += str(self.vals[i])
                only_zero = only_zero and c != "d"
                i += 1
            elif c == "n" and first:
                digits += self.vals[i]
                i += 1
                return digits, i
            elif c in "ty":
                got = self.group(i)
                assert got
                # "fourteen point two eighty seven four oh nine": the measured value keeps one digit
                alone = not small or len(digits) != 1 or self._more_follows(got[2])
                if not first and not only_zero and alone:
                    break
                if self.codes[got[2]] == "p":
                    break
                digits += got[1]
                i = got[2]
                break
            else:
                break
            first = False
            nxt = self.skip(i)
            if nxt != i and self.codes[nxt] not in "dzoty":
                break
            if self.codes[nxt] == "d" and self.codes[nxt + 1] == "p":
                break
            if nxt != i and "u" in self.codes[i:nxt]:
                break
            i = nxt
        # a digit that begins the next number ("point five fourteen point two") was left alone above
        return (digits, i) if digits else None

    def _more_follows(self, i: int) -> bool:
        return self.codes[i] in "dtyzohkp"

    # -- whole numbers

    def _hundreds(self, i: int) -> tuple[str, str, int] | None:
        """ "six hundred", "twenty four hundred and ten": ("H", digits, next) when hundred follows the group at i."""
        got = self.group(i)
        if self.codes[i] == "h":
            got = ("d", "1", i) if self.codes[i + 1] != "h" else None
        if not got:
            return None
        whole = got[0] in "dw12L3" and int(got[1]) > 0
        decimal = got[0] in "DE" and self.codes[got[2]] == "h"
        if not (whole or decimal):
            return None
        h = self.skip(got[2])
        if self.codes[h] != "h":
            return None
        if got[0] in "DE":
            value = float(got[1]) * 100
            return ("D", repr(value), h + 1)
        value = int(got[1]) * 100
        i = h + 1
        j = self.skip(i)
        if self.codes[j] == "&":
            k = self.skip(j + 1)
            tail = self.group(k)
            if (
                tail
                and tail[0] in "dw12"
                and int(tail[1])
                and self.codes[tail[2]] not in "h"
                and not self._is_fraction(k, tail)
            ):
                return "H", str(value + int(tail[1])), tail[2]
            return "H", str(value), i
        if self.codes[j] in "zo" and self.codes[j + 1] == "d":
            return "H", str(value + self.vals[j + 1]), j + 2
        tail = self.group(j)
        if self.codes[j] == "y" and self._is_denominator(j, ("d", "1", j, j)):
            return "H", str(value), i  # "one hundred thirty fifths"
        if tail and tail[0] in "dw12" and self.codes[tail[2]] != "h":
            return "H", str(value + int(tail[1])), tail[2]
        return "H", str(value), i

    def _is_fraction(self, i: int, tail: tuple[str, str, int]) -> bool:
        """Whether the group `tail` at token i is the upper half of a fraction ("one hundred and three quarters")."""
        if self.codes[i] == "y" and tail[2] - i > 1:
            return False  # "fifty four hundredths" after "and" is read by tail()
        den = self.denominator(tail[2], int(tail[1]) > 1)
        if den is None:
            return False
        return int(tail[1]) < den[0]

    def _integer(self, i: int) -> int:
        """Read whole numbers (with their decimals and fractions) from token i on; returns the token after them."""
        codes = self.codes
        first = i
        total = 0
        total_first = i
        last_scale = 0
        have_total = False
        blocks: list[Block] = []  # letter, digits, first token, next token
        end = i
        while True:
            j = self.skip(i) if blocks or have_total else i
            if j != i and codes[j] not in "dtyzohkpnDS":
                j = i
            c = codes[j]
            if c == "," and have_total and not blocks and self._comma_within(j):
                i = j + 1
                continue
            if c == "&":
                k = self.skip(j + 1)
                tail = self.group(k)
                after_scale = have_total and not blocks
                if after_scale and (
                    (tail and tail[0] != "z" and tail[0] != "D" and not self._is_fraction(k, tail))
                    or (codes[k] == "a" and codes[k + 1] == "h")
                ):
                    if codes[k] == "a":
                        k += 1
                    i = k
                    continue
                break
            if c == "k":
                scale = self.vals[j]
                if not blocks:
                    if have_total and codes[j - 1] == "k" and scale > 1000:
                        total *= scale
                        last_scale = scale
                        i = end = j + 1
                        continue
                    if have_total:
                        break
                    blocks = [("d", "1", j, j)]
                # only the last number of the groups belongs to the scale word
                pattern = "".join(b[0] for b in blocks)
                cuts = _cut(pattern, True)
                keep = cuts[-1]
                if len(cuts) > 1:
                    if have_total:
                        self._flush(total, total_first, blocks[0][2], "cardinal")
                        have_total = False
                    self._emit(blocks[:-keep], False)
                    blocks = blocks[-keep:]
                    total_first = blocks[0][2]
                flat = "".join(_flat(blocks))
                value = float(flat) if "." in flat or "e" in flat else int(flat)
                if have_total and scale >= last_scale:
                    self._flush(total, total_first, blocks[0][2], "cardinal")
                    have_total, total = False, 0
                    total_first = blocks[0][2]
                if not have_total:
                    total_first = min(total_first, blocks[0][2])
                total = total + value * scale if have_total else value * scale
                if isinstance(total, float) and abs(total - round(total)) < 1e-6:
                    total = round(total)
                have_total = True
                last_scale = scale
                blocks = []
                i = end = j + 1
                continue
            if c == "h" and (not blocks or all(b[0] == "z" for b in blocks)):
                block = self._hundreds(j)
            elif c in "yt" and blocks and self._is_denominator(j, blocks[-1]):
                break
            elif c in "dtyn" or c == "D":
                block = self._hundreds(j) or self.group(j)
            elif c == "z":
                block = self.group(j)
            elif c == "o":
                if not self._oh_belongs(j, blocks):
                    break
                block = self.group(j)
            else:
                break
            if block is None:
                break
            if block[0] == "H" and codes[j] == "h" and blocks and all(b[0] == "z" for b in blocks):
                blocks = []  # "zero zero hundred twenty five"
            if block[0] == "H" and len(block[1]) > 3:
                block = ("G", block[1], block[2])
            if j != i and "u" in codes[i:j] and blocks and blocks[-1][0] in "dzw" and block[0] == blocks[-1][0]:
                break  # "three uh six", "twelve er thirteen": two numbers
            if (
                blocks
                and block[0] in "123LDE"
                and blocks[-1][0] in "123LDE"
                and not self._literals_join(blocks[-1], block, j)
            ):
                break
            if have_total and not blocks and block[0] in "LDE3" and codes[i - 1] not in "k&":
                break
            letter, digits, nxt = block
            blocks.append((letter, digits, j, nxt))
            i = end = nxt
            if letter in "DE" and codes[self.skip(i)] != "k":
                break
        if not blocks and not have_total:
            return first
        # a point makes the last number a decimal
        p = self.skip(end)
        decimals = None
        if codes[p] == "p" and (not blocks or blocks[-1][0] not in "DE"):
            decimals = self.decimals(p, bool(blocks) and all(b[0] == "z" for b in blocks[-1:]) and len(blocks) == 1)
        plural = codes[end] == "S" and bool(blocks) and decimals is None
        if plural:
            letter, value = self.vals[end]
            if letter == "d" and codes[end - 1] == "y" and blocks[-1][0] == "w":
                last = blocks[-1]
                blocks[-1] = ("w", str(int(last[1]) + value), last[2], end + 1)
            else:
                blocks.append(("d" if letter == "d" else "w", str(value), end, end + 1))
            end += 1
        if have_total:
            end = self._finish_total(total, total_first, last_scale, blocks, decimals, end)
        else:
            end = self._emit(blocks, True, decimals, plural)
        return end

    def _comma_within(self, j: int) -> bool:
        """Whether the comma token j stands inside a number: "three thousand, eight hundred"."""
        if self.codes[j - 1] != "k":
            return False
        got = self.group(j + 1)
        return got is not None and got[0] in "dw" and self.codes[self.skip(got[2])] in "hk"

    def _is_denominator(self, j: int, top: Block) -> bool:
        """Whether the tens word at token j is the lower half of a fraction ("eleven | thirty seconds")."""
        k = self.skip(j + 1)
        if self.codes[j] == "t":
            return self.vals[j] == 10 and self.codes[k] in "fB" and self.vals[k] == 1000  # "five ten thousandths"
        if self.codes[k] == "s" or (self.codes[k] == "f" and self.vals[k] < 10) or self.words[k : k + 1] == ["firsts"]:
            lower = self.vals[j] + (self.vals[k] or 1)
            if top[0] == "H" and self.codes[k] == "f":
                return True
            return top[1].isdigit() and 0 < int(top[1]) < lower and top[0] in "dw"
        if self.codes[k] == "r" and self.codes[k - 1] == "-" and self.vals[k] < 10:
            return top[1] == "1"  # "one twenty-fifth"
        return False

    def _oh_belongs(self, j: int, blocks: list[Block]) -> bool:
        """Whether the word "oh" at token j is a zero: it stands between digits, or ends a string of them."""
        nxt = self.codes[self.skip(j + 1)]
        if nxt in "dtynzop":
            return bool(blocks) or nxt in "dzp"
        if not blocks:
            return False
        if blocks[-1][0] not in "dz":
            return False
        said = sum(1 for b in blocks if b[0] in "dz")
        return said >= 2 or j + 1 >= self.n or self.unit_at(j + 1)

    def _literals_join(self, a: Block, b: tuple[str, str, int], j: int) -> bool:
        """Whether two numbers in digits are one that a recogniser tore apart ("4 42.5", "87 406", "1-25")."""
        gap = self.s.text[self.s.ends[a[3] - 1] : self.s.starts[j]]
        hyphen = gap == "-"
        if not hyphen and gap.strip(" \u202f\u00a0"):
            return False
        left, right = a[0], b[0]
        if left == "1" and right in "2E":
            if hyphen:
                return float(b[1]) / max(int(a[1]), 1) > 9.99 and int(a[1]) > 0 and float(b[1]) != 10
            return float(b[1]) >= 10 and int(a[1]) > 0
        if right == "3" and left in "23" and not hyphen:
            return True
        if right == "3" and left == "1" and not hyphen and b[1] == "000":
            return True
        if right == "3" and left == "1" and not hyphen:
            after = b[2]
            return self.codes[after] == "n" and len(self.vals[after]) == 3
        return False

    def _flush(self, value: float, first: int, before: int, kind: str) -> None:
        last = before
        while last > first and self.codes[last - 1] in "-u&,":
            last -= 1
        self.out.append(Raw(value, first, last, kind))

    def _finish_total(
        self, total: float, first: int, last_scale: int, blocks: list[Block],
        decimals: tuple[str, int] | None, end: int,
    ) -> int:  # fmt: skip
        """Add what follows the last scale word ("eighty seven thousand | four oh six")."""
        taken = 0
        for size in range(len(blocks), 0, -1):
            head = blocks[:size]
            pattern = "".join(b[0] for b in head)
            if pattern[0] in "123LDE" and last_scale == 1000 and len(pattern) > 1:
                continue
            flat = "".join(_flat(head))
            if not _ONE.fullmatch(pattern) or not flat.replace(".", "").isdigit():
                continue
            if float(flat) < min(last_scale, 10_000) and (pattern[0] not in "DE" or size == 1):
                if pattern[0] == "H" and last_scale == 1000 and float(flat) >= 1000:
                    continue
                taken = size
                total = total + (float(flat) if "." in flat else int(flat))
                break
        rest = blocks[taken:]
        stop = blocks[taken - 1][3] if taken else (rest[0][2] if rest else end)
        if rest:
            while stop > first and self.codes[stop - 1] in "-u&":
                stop -= 1
            self.out.append(Raw(total, first, stop, "cardinal"))
            return self._emit(rest, True, decimals)
        raw = Raw(total, first, stop, "cardinal", digits=any(c in "nD" for c in self.codes[first:stop]))
        if decimals:
            raw.value = float(f"{int(total)}.{decimals[0]}")
            raw.last, raw.kind = decimals[1], "decimal"
        return self.tail(raw)

    def _emit(
        self,
        blocks: list[Block],
        final: bool,
        decimals: tuple[str, int] | None = None,
        plural: bool = False,
    ) -> int:
        """Put out the numbers that a run of groups falls into; decimals, fractions and plurals belong to the last."""
        pattern = "".join(b[0] for b in blocks)
        end = blocks[-1][3]
        follows = decimals is not None or plural or (end < self.n and (self.unit_at(end) or self.codes[end] == "f"))
        follows = follows or (self.codes[end] == "&" and self._and_fraction(end + 1) is not None)
        if len(blocks) == 1:
            cuts: tuple[int, ...] = (1,)
        else:
            cuts = _cut(pattern, follows)
            if (
                cuts == (len(blocks),)
                and blocks[-1][1] == "1"
                and _DECIMAL_MEANT.fullmatch(pattern)
                and end < self.n
                and self.codes[end] == "w"
                and self.words[end] not in lexicon().dropped_point_after
            ):
                cuts = (len(blocks) - 1, 1)  # "sixteen thirteen | one battery terminal"
            if pattern == "wd" and cuts == (1, 1) and 10 <= int(blocks[0][1]) <= 15 and self._volts_at(end):
                cuts = (2,)  # "twelve six volts" is a battery's, and no twelve of six
            if _ALL_TENS.fullmatch(pattern) and all(b[1][-1] == "0" for b in blocks):
                cuts = (1,) * len(blocks)
            elif plural and pattern == "wwww":
                cuts = (4,)  # "thirty five twelve fifty fifteens": kinds make it a tyre size
            elif pattern == "dwww" and self._tire(blocks):
                self.out.append(Raw(int(blocks[0][1] + blocks[1][1]), blocks[0][2], end, "size", "dw"))
                return end
            elif pattern == "dd" or pattern == "dz":
                whole = self.n == blocks[-1][3] - blocks[0][2]
                cuts = (2,) if (follows or whole or pattern == "dz") else (1, 1)
        at = 0
        stop = end
        for index, size in enumerate(cuts):
            part = blocks[at : at + size]
            at += size
            last = index == len(cuts) - 1
            raw = self._number(part, decimals if last else None, plural and last)
            if last and final:
                stop = self.tail(raw)
            else:
                self.out.append(raw)
        return stop

    @staticmethod
    def _tire(blocks: list[Block]) -> bool:
        """ "two sixty five seventy five sixteen": width in mm, height in percent, rim in inches."""
        width, height, rim = int(blocks[0][1] + blocks[1][1]), int(blocks[2][1]), int(blocks[3][1])
        return 125 <= width <= 405 and width % 5 == 0 and 25 <= height <= 95 and height % 5 == 0 and 10 <= rim <= 26

    def _number(self, part: list[Block], decimals: tuple[str, int] | None, plural: bool) -> Raw:
        shape = "".join(b[0] for b in part)
        groups = tuple(b[1] for b in part)
        written = any(b[0] in "123LDE" for b in part)
        if decimals:
            flat = "".join(_flat(part))
            return Raw(
                float(f"{flat}.{decimals[0]}"), part[0][2], decimals[1], "decimal", shape + "p", groups, digits=written
            )
        raw = Raw(0, part[0][2], part[-1][3], "cardinal", shape, groups, plural=plural, digits=written)
        if len(part) == 1:
            text = part[0][1]
            raw.value = float(text) if part[0][0] in "DE" else int(text)
            if part[0][0] in "DE":
                raw.kind = "decimal"
            return raw
        flat = "".join(_flat(part))
        raw.value = float(flat) if "." in flat else int(flat)
        if "." in flat:
            raw.kind = "decimal"
        elif _DECIMAL_MEANT.fullmatch(shape):
            head = "".join(_flat(part[:-1]))
            raw.value = float(f"{head}.{groups[-1]}")
            raw.kind = "decimal"
            raw.alternatives = ((float(flat), 0.15), (float(int(head) * 1000 + int(groups[-1]) * 100), 0.1))
        elif set(shape) <= set("dz"):
            raw.kind = "cardinal" if shape in ("dzd", "dzz") else "digits"
            if shape == "dd":
                raw.alternatives = ((float(f"{groups[0]}.{groups[1]}"), 0.4),)
            elif shape == "dzd":
                raw.alternatives = ((float(flat) / 100, 0.2),)
        elif shape in ("dw", "12"):
            raw.alternatives = ((round(float(flat) / 100, 2), 0.25),)
        elif shape in ("ww", "wzd"):
            raw.alternatives = ((round(float(flat) / 100, 2), 0.35),)
        return raw

    # -- what may follow a number

    def tail(self, raw: Raw) -> int:
        """Fractions, scales and dozens after a number; puts the number out and returns the token after it."""
        codes = self.codes
        j = self.skip(raw.last)
        if j != raw.last and codes[j] not in "fFrRBkx&yta2":
            j = raw.last
        c = codes[j]
        if c == "&" and raw.kind != "ordinal":
            k = j + 1
            got = self._and_fraction(k)
            if got:
                value, k = got
                scale = 1
                if codes[raw.last - 1] == "k" and raw.kind != "decimal":
                    scale = self.vals[raw.last - 1] if self.vals[raw.last - 1] >= 10**6 else 1  # "a million and a half"
                if codes[k] == "k":
                    here = self.vals[k]
                    if scale > 1 and here < scale:
                        raw.value = raw.value + value * here
                    else:
                        raw.value = (raw.value + value) * here
                    k += 1
                else:
                    raw.value = raw.value + value * scale
                raw.last, raw.kind = k, "fraction"
                self.out.append(raw)
                return k
        elif (
            c == "F"
            and not raw.plural
            and raw.kind == "cardinal"
            and raw.digits
            and len(raw.groups) <= 1
            and self.vals[j] < 1
        ):
            raw.value += self.vals[j]
            raw.last, raw.kind = j + 1, "fraction"
            self.out.append(raw)
            return j + 1
        elif c == "x" and self.vals[j] == 12:
            raw.value *= 12
            raw.last = j + 1
            self.out.append(raw)
            return j + 1
        elif raw.kind in ("cardinal", "digits") and not raw.plural:
            got_end = self._numerator(raw, j)
            if got_end:
                return got_end
        return self._scaled(raw)

    def _and_fraction(self, k: int) -> tuple[float, int] | None:
        """ "and | a half", "and | three quarters", "and | two tenths", "and | 1/2"."""
        codes = self.codes
        if codes[k] == "F":
            return self.vals[k], k + 1
        if codes[k] == "f" and not self.words[k].endswith("s"):
            return 1 / self.vals[k], k + 1
        if codes[k] == "a":
            if codes[k + 1] == "f" and not self.words[k + 1].endswith("s"):
                return 1 / self.vals[k + 1], k + 2
            den = self.denominator(k + 1, False)
            if den and den[0] > 2:
                return 1 / den[0], den[1]
            return None
        got = self.group(k)
        if got and got[0] in "dw12" and int(got[1]):
            den = self.denominator(got[2], int(got[1]) > 1)
            if den and int(got[1]) < den[0]:
                return int(got[1]) / den[0], den[1]
            # "twenty and three and three fifths"
            if codes[got[2]] == "&":
                more = self._and_fraction(got[2] + 1)
                if more and more[0] < 1:
                    return int(got[1]) + more[0], more[1]
        return None

    def _numerator(self, raw: Raw, j: int) -> int:
        """When a fraction word follows, the last group is its upper half: "five sixteenths", "two five eighths"."""
        codes = self.codes
        c = codes[j]
        if c not in "frRByt2hdzo" and c != "S":
            return 0
        value = raw.value
        if codes[j] == "h" or c in "dzo":
            return 0
        if c == "2" and codes[j - 1] in "y-" and value >= 20 and value % 10 == 0:
            if codes[j - 1] == "-" and raw.first and codes[raw.first - 1] == "a":
                return 0  # "a thirty-second wait"
            raw.value, raw.kind, raw.last = value + 2, "ordinal", j + 1
            self.out.append(raw)
            return j + 1
        if c == "f" and codes[j - 1] == "-" and codes[j - 2] == "y" and self.vals[j] < 10 and value >= 20:
            raw.value, raw.kind, raw.last = value + self.vals[j], "ordinal", j + 1  # "twenty-fifths"
            self.out.append(raw)
            return j + 1
        den = self.denominator(j, value != 1)
        if den is None:
            if (c in "rRB" and raw.last == j - (1 if codes[j - 1] == "-" else 0)) or c in "rR":
                return self._ordinal_end(raw, j)
            return 0
        bottom, end = den
        singular = c in "rR" and value != 1
        if c in "rR" and value >= 20 and value % (10 if c == "r" and bottom < 10 else 100) == 0:
            return self._ordinal_end(raw, j)
        if singular and not self._singular_ok(j):
            return self._ordinal_end(raw, j)
        if c == "y" and codes[end - 1] == "s" and not (value < bottom and value == int(value)):
            return 0
        # an int followed by a fraction: "two five eighths" is 2 5/8, "one twenty fifth" 1/25
        if (
            len(raw.groups) == 2
            and raw.shape in ("dd", "wd")
            and int(raw.groups[1]) < bottom
            and bottom in (8, 16, 32, 64)
        ):
            raw.value = int(raw.groups[0]) + int(raw.groups[1]) / bottom
        else:
            raw.value = value / bottom
            if codes[end - 1] == "s":
                raw.alternatives = ()
        raw.kind, raw.last = "fraction", end
        if codes[end] == "k" or (self.words[end : end + 2] == ["of", "a"] and codes[end + 2] == "k"):
            at = end if codes[end] == "k" else end + 2
            raw.value *= self.vals[at]
            raw.last = at + 1
        self.out.append(raw)
        return raw.last

    def _volts_at(self, i: int) -> bool:
        unit = self.unit_at(i)
        return bool(unit) and unit[0].meanings[0].code == "V" and self.words[i] != "volt"

    def _ordinal_end(self, raw: Raw, j: int) -> int:
        """ "twenty first", "five hundred first": the number becomes an ordinal."""
        value, step = raw.value, self.vals[j]
        fits = value >= 20 and value % (10 if step < 10 else 100) == 0 and self.codes[j] in "rR"
        if not fits:
            return 0
        raw.value, raw.kind, raw.last = value + step, "ordinal", j + 1
        self.out.append(raw)
        return j + 1

    def _scaled(self, raw: Raw) -> int:
        """ "five point two million", "10k", "1.2M"."""
        j = raw.last
        c = self.codes[j]
        if c == "k" and raw.kind in ("decimal", "fraction"):
            raw.value = _tidy(raw.value * self.vals[j])
            raw.last = j + 1
        elif raw.digits and c == "w" and j < self.n and self.words[j] in SUFFIX and raw.kind != "fraction":
            suffix = self.s.text[self.s.starts[j] : self.s.ends[j]]
            touching = self.s.glued(j)
            if (
                (suffix in ("k", "K", "b", "MM", "bn") and touching)
                or (suffix in ("M", "G") and (touching or raw.value >= 1000))
                or (suffix == "mil" and touching and self.words[j + 1 : j + 2] == ["sek"])
            ):
                raw.value = _tidy(raw.value * SUFFIX[self.words[j]])
                raw.last = j + 1
        self.out.append(raw)
        return raw.last


def _tidy(value: float) -> float:
    near = round(value)
    return near if abs(value - near) < 1e-6 * max(1.0, abs(value)) * 1e-3 else round(value, 9)


def _flat(blocks: list[Block]) -> list[str]:
    """The digits of groups put one after the other; a hundred after a prefix keeps its three places."""
    return [b[1] for b in blocks]


def parse(s: Scan, unit_at: Any) -> list[Raw]:
    """The numbers of a scan as they stand, before their neighbours are looked at."""
    return _Parser(s, unit_at).run()
