"""Days that a speaker names, seen from the note's own time: "yesterday", "next saturday", "the nineteenth".

Our rules settle the common ways of saying a day; what they leave open (odd written forms) goes to the dateparser
library, which is loaded only then. Distances ("five hundred miles from now") and events without a day ("next oil
change") are no dates. Words are in `data/dates.toml`.

Which way a bare weekday points is told by the nearest verb ("was", "going to"); `certain` is false where it is a guess.
"Next saturday" is the saturday of the coming calendar week (weeks begin on Monday, ISO 8601); said when this week's
saturday is still ahead, people differ, and `certain` is false.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

from diary.language.types import When

_WORD = re.compile(
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/]\d{1,2}[-/]\d{2,4}(?!\d)|\d{1,2}/\d{1,2}(?!\d)|\d+(?:st|nd|rd|th)?(?![\d.]\d)"
    r"|[^\W\d_]+(?:['’][^\W\d_]+)*|(?!(?<=[a-zA-Z])-(?=[a-zA-Z]))[^\s]"
)
_ODD = re.compile(r"\b\d{1,2}[.]\d{1,2}[.]\d{2,4}\b|\b\d{1,2}[-/][A-Za-z]{3}[-/]\d{2,4}\b")


@dataclass(frozen=True, slots=True)
class _Words:
    """`data/dates.toml`, ready for looking up. Phrase tables are keyed by their first word, longest phrase first."""

    raw: Mapping[str, Any]
    days: Mapping[str, list[tuple[tuple[str, ...], int]]]
    ordinals: Mapping[str, list[tuple[tuple[str, ...], int]]]
    numbers: Mapping[str, list[tuple[tuple[str, ...], float]]]
    holidays: Mapping[str, list[tuple[tuple[str, ...], str]]]
    lists: Mapping[str, frozenset[str]]
    starts: frozenset[str]


def _phrases(table: Mapping[str, Any]) -> dict[str, list[tuple[tuple[str, ...], Any]]]:
    out: dict[str, list[tuple[tuple[str, ...], Any]]] = {}
    for phrase, value in table.items():
        if not isinstance(value, list):
            words = tuple(phrase.split())
            out.setdefault(words[0], []).append((words, value))
    for group in out.values():
        group.sort(key=lambda entry: -len(entry[0]))
    return out


@cache
def _words() -> _Words:
    from diary.language.numeral_words import load_toml

    raw = load_toml("dates.toml")
    lists = {key: frozenset(value) for key, value in raw.items() if isinstance(value, list)}
    lists |= {key: frozenset(value) for key, value in raw["cues"].items()}
    lists["vague_days"] = frozenset(raw["days"]["vague"])
    lists["short"] = frozenset(raw["weekdays"]["short"])
    lists["short_after"] = frozenset(raw["weekdays"]["short_after"])
    lists["vague_numbers"] = frozenset(raw["numbers"]["vague"])
    lists["season_before"] = frozenset(raw["seasons"]["season_before"])
    tables = [_phrases(raw[key]) for key in ("days", "ordinals", "numbers", "holidays")]
    starts: set[str] = set(tables[0]) | set(tables[3]) | set(raw["weekdays"]) | set(raw["months"]) | set(raw["seasons"])
    starts |= (
        lists["last"]
        | lists["this"]
        | lists["next"]
        | lists["inside"]
        | lists["weekend"]
        | lists["end_words"]
        | {"the", "in"}
    )
    starts |= {w.split()[0] for key in ("last", "this", "next") for w in raw[key]}
    return _Words(raw, tables[0], tables[1], tables[2], tables[3], lists, frozenset(starts))


def _add_months(day: date, months: int) -> date:
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _month_span(year: int, month: int) -> tuple[date, date]:
    return date(year, month, 1), date(year, month, calendar.monthrange(year, month)[1])


class _Reader:
    __slots__ = ("ends", "lower", "month_first", "n", "now", "starts", "text", "today", "tokens", "w")

    def __init__(self, text: str, now: datetime, month_first: bool = True) -> None:
        self.w = _words()
        self.text = text
        self.month_first = month_first
        self.now = now
        self.today = now.date()
        self.tokens: list[str] = []
        self.lower: list[str] = []
        self.starts: list[int] = []
        self.ends: list[int] = []
        for match in _WORD.finditer(text):
            token = match.group()
            lower = token.lower().replace("’", "'")
            self.tokens.append(token)
            self.lower.append(lower[:-2] if lower.endswith("'s") else lower)
            self.starts.append(match.start())
            self.ends.append(match.end())
        self.n = len(self.lower)

    def at(self, i: int) -> str:
        return self.lower[i] if 0 <= i < self.n else ""

    def has(self, key: str, i: int) -> bool:
        return self.at(i) in self.w.lists[key]

    def phrase(self, table: Mapping[str, list[tuple[tuple[str, ...], Any]]], i: int) -> tuple[Any, int, str] | None:
        """The longest phrase of a table at token i: (value, next token, phrase)."""
        for words, value in table.get(self.at(i), ()):
            if tuple(self.lower[i : i + len(words)]) == words:
                return value, i + len(words), " ".join(words)
        return None

    def tense(self, i: int, j: int) -> int:
        """-1 past, 1 to come, 0 unknown, by the nearest verb; words before count nearer than words after."""
        lists = self.w.lists
        for k in range(i - 1, max(-1, i - 13), -1):
            word = self.lower[k]
            if word in ".;!?":
                break
            if word in lists["strong_past"] and not self.has("before_infinitive", k - 1):
                return -1
            if word in lists["strong_future"]:
                return 1
            if word in lists["next"] and not self.has("after_next_told", k + 1):
                return 1  # "the next one at 60,000 or march 30th"
            if word in lists["bidding"] and self.at(k - 1) in ("i", "we") and word != "fit":
                return 1
            if self.doing(k) or (word in ("i'd", "we'd") and self.has("bidding", k + 1)):
                return 1
        for k in range(j, min(self.n, j + 8)):
            word = self.lower[k]
            if word in ".;!?" or word in lists["clause_words"]:
                break
            if word in lists["strong_past"] and not self.has("before_infinitive", k - 1):
                return -1
            if word in lists["strong_future"]:
                return 1
        return 0

    def doing(self, k: int) -> bool:
        """True for an -ing form that opens a part of a sentence, or follows "i'm": "adjusting it in the morning"."""
        word = self.at(k)
        if len(word) < 6 or not word.endswith("ing") or self.has("no_doing", k):
            return False
        return k == 0 or self.at(k - 1) in ".,;!?" or self.has("self_doing", k - 1)

    def when(
        self, i: int, j: int, day: date, until: date | None = None, kind: str = "day", certain: bool = True
    ) -> tuple[When, int]:
        until = until or day
        if kind == "day" and self.has("parts_of_day", j):
            j += 1
        return When(day, until, self.starts[i], self.ends[j - 1], kind, certain), j

    # -- the walk

    def run(self) -> list[When]:
        out: list[When] = []
        i = 0
        starts = self.w.starts
        numbers = self.w.numbers
        while i < self.n:
            word = self.lower[i]
            if word in starts or word in numbers or word[0].isdigit() or word in self.w.ordinals:
                got = self.read(i)
                if got:
                    out.append(got[0])
                    i = got[1]
                    continue
            i += 1
        return self.tidy(out)

    def tidy(self, found: list[When]) -> list[When]:
        """Two names of one day side by side ("labor day monday", "saturday most likely the twenty third") are one."""
        out: list[When] = []
        for item in found:
            if out and item.day == out[-1].day and item.until == out[-1].until and item.start - out[-1].end < 20:
                before = out[-1]
                out[-1] = When(before.day, before.until, before.start, item.end, before.kind, True)
            else:
                out.append(item)
        return out

    def read(self, i: int) -> tuple[When, int] | None:
        for rule in (
            self.written, self.morning, self.span_away, self.plain_day, self.holiday, self.month_day, self.day_month,
            self.nth_weekday, self.nth_of_month, self.turn, self.weekday, self.the_nth, self.bare_nth,
            self.end_of, self.weekend, self.month, self.season,
        ):  # fmt: skip
            got = rule(i)
            if got:
                return got
        return None

    def written(self, i: int) -> tuple[When, int] | None:
        """2026-05-04, 5/17, 5/17/2026; month or day first as the locale has it, unless that cannot be."""
        word = self.at(i)
        parts = [int(p) for p in re.split(r"[-/.]", word) if p.isdigit()]
        try:
            if re.fullmatch(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}", word):
                return self.when(i, i + 1, date(parts[0], parts[1], parts[2]))
            if re.fullmatch(r"\d{1,2}[-/]\d{1,2}[-/]\d{2,4}", word):
                a, b, year = parts
                if year < 100:
                    year += 2000 if year <= self.today.year % 100 + 20 else 1900
                month, day = self.in_order(a, b)
                return self.when(i, i + 1, date(year, month, day), certain=a > 12 or b > 12 or a == b)
            if re.fullmatch(r"\d{1,2}/\d{1,2}", word) and self.slashed_day(i):
                a, b = parts
                month, day = self.in_order(a, b)
                return self.when(i, i + 1, self.nearest(month, day, self.tense(i, i + 1)), certain=a > 12 or b > 12)
        except ValueError:
            return None
        return None

    def in_order(self, a: int, b: int) -> tuple[int, int]:
        """(month, day) of two written numbers, in the locale's order where both could be the month."""
        month_first = b > 12 or (a <= 12 and self.month_first)
        return (a, b) if month_first else (b, a)

    def slashed_day(self, i: int) -> bool:
        """True where "9/21" at token i is a day: by what stands before it, or between two days; not "3/8 bolt"."""
        if self.n == 1 or self.has("date_before_the", i - 1) or self.has("before_slashed", i - 1):
            return not self.has("after_fraction", i + 1)
        if isinstance(self.w.raw["weekdays"].get(self.at(i - 1)), int):
            return True
        other = self.at(i + 2) if self.has("between_slashed", i + 1) else ""
        return bool(re.fullmatch(r"\d{1,2}/\d{1,2}", other))

    def morning(self, i: int) -> tuple[When, int] | None:
        """ "I'll look again in the morning": the next one."""
        if self.at(i) != "in" or self.lower[i : i + 3] != ["in", "the", "morning"]:
            return None
        if self.tense(i, i + 3) < 1:
            return None
        day = self.today if self.now.hour < 5 else self.today + timedelta(1)
        return self.when(i, i + 3, day, certain=self.now.hour >= 12)

    def count(self, i: int) -> tuple[float, int, bool] | None:
        """A number before a span: (value, next token, vague)."""
        word = self.at(i)
        if word.isdigit():
            value, j = float(word), i + 1
        else:
            got = self.phrase(self.w.numbers, i)
            if not got:
                return None
            value, j = got[0], got[1]
            if value in (20, 30, 60, 90) and self.at(j) in self.w.numbers:
                unit = self.w.raw["numbers"].get(self.at(j), 0)
                if 0 < unit < 10:
                    value, j = value + unit, j + 1
            if got[2] in self.w.lists["vague_numbers"]:
                return value, j + (1 if self.at(j) == "of" else 0), True
        return value, j, False

    def moved(self, unit: str, many: float, sign: int, base: date | None = None) -> date:
        base = base or self.today
        if unit == "day":
            return base + timedelta(days=round(many) * sign)
        if unit == "week":
            return base + timedelta(days=round(many * 7) * sign)
        return _add_months(base, round(many * (12 if unit == "year" else 1)) * sign)

    def span_away(self, i: int) -> tuple[When, int] | None:
        """ "in two weeks", "three days ago", "a week from saturday", "two weeks from now"."""
        j = i
        inside = self.has("inside", j)
        if inside:
            j += 1
            if self.at(j) == "about":
                j += 1
        counted = self.count(j)
        if not counted:
            return None
        many, k, vague = counted
        weekday = self.w.raw["weekdays"].get(self.at(k))
        if isinstance(weekday, int) and many == int(many) and not inside:  # "three fridays from now"
            if self.at(k + 1) == "from" and self.at(k + 2) == "now":
                return self.when(i, k + 3, self.coming(weekday) + timedelta(7 * (int(many) - 1)))
            if self.has("ago", k + 1):
                back = (self.today.weekday() - weekday - 1) % 7 + 1
                return self.when(i, k + 2, self.today - timedelta(back + 7 * (int(many) - 1)))
        span = self.w.raw["spans"].get(self.at(k))
        if not span:
            return None
        unit, factor = span
        many *= factor
        k += 1
        if self.at(k) == "and" and self.at(k + 1) == "a" and self.at(k + 2) == "half":
            many, k = many + 0.5 * factor, k + 3
        if many > 4000:
            return None
        exact = not vague and unit in ("day", "week")
        if self.has("ago", k):
            if self.at(k) == "back" and self.has("back_home", k + 1):
                return None
            return self.when(i, k + 1, self.moved(unit, many, -1), kind="day" if exact else "vague", certain=exact)
        if self.at(k) == "hence":
            return self.when(i, k + 1, self.moved(unit, many, 1), certain=exact)
        if self.at(k) in ("before", "after") and self.at(k + 1) in ("yesterday", "tomorrow", "today"):
            base = self.today + timedelta(self.w.raw["days"][self.at(k + 1)])
            return self.when(i, k + 2, self.moved(unit, many, -1 if self.at(k) == "before" else 1, base))
        if self.at(k) == "from":
            if self.at(k + 1) in ("now", "today"):
                return self.when(i, k + 2, self.moved(unit, many, 1), certain=exact)
            if self.at(k + 1) == "tomorrow":
                return self.when(i, k + 2, self.moved(unit, many, 1, self.today + timedelta(1)), certain=exact)
            day = self.w.raw["weekdays"].get(self.at(k + 1))
            if isinstance(day, int):
                return self.when(i, k + 2, self.moved(unit, many, 1, self.coming(day)))
        if (
            self.at(k) == "on"
            and isinstance(self.w.raw["weekdays"].get(self.at(k + 1)), int)
            and many == 1
            and unit == "week"
        ):
            return self.when(i, k + 2, self.coming(self.w.raw["weekdays"][self.at(k + 1)]) + timedelta(7))
        if self.at(k) == "time" and inside:
            return self.when(i, k + 1, self.moved(unit, many, 1), certain=exact)
        if inside and self.at(i) in ("in", "within", "inside"):
            if self.at(i) == "in" and (self.tense(i, k) < 0 or self.has("distances_after", i - 1)):
                return None  # "2,392 miles in fifteen days", "it came in two days"
            return self.when(i, k, self.moved(unit, many, 1), kind="day" if exact else "vague", certain=exact)
        return None

    def plain_day(self, i: int) -> tuple[When, int] | None:
        got = self.phrase(self.w.days, i)
        if not got:
            return None
        offset, j, phrase = got
        if phrase in self.w.lists["vague_days"]:
            return self.when(i, j, self.today + timedelta(offset), kind="vague", certain=False)
        return self.when(i, j, self.today + timedelta(offset))

    def holiday(self, i: int) -> tuple[When, int] | None:
        got = self.phrase(self.w.holidays, i)
        if not got:
            return None
        rule, j, _ = got
        dates = [_holiday(rule, self.today.year + k, self.w.raw) for k in (-1, 0, 1)]
        year = self.year_after(j)
        if year:
            return self.when(i, year[1], _holiday(rule, year[0], self.w.raw))
        return self.when(i, j, _pick(dates, self.today, self.tense(i, j) or 1))

    def year_after(self, j: int) -> tuple[int, int] | None:
        if self.at(j) == ",":
            j += 1
        word = self.at(j)
        return (int(word), j + 1) if re.fullmatch(r"(?:19|20)\d{2}", word) else None

    def day_number(self, i: int) -> tuple[int, int] | None:
        """A day of the month at token i, as ordinal or number: (day, next token)."""
        word = self.at(i)
        got = re.fullmatch(r"(\d{1,2})(st|nd|rd|th)?", word)
        if got:
            value = int(got.group(1))
            return (value, i + 1) if 1 <= value <= 31 else None
        found = self.phrase(self.w.ordinals, i)
        return (found[0], found[1]) if found else None

    def month_at(self, i: int) -> int:
        value = self.w.raw["months"].get(self.at(i).rstrip("."), 0)
        return value if isinstance(value, int) else 0

    def dated(self, i: int, j: int, month: int, day: int) -> tuple[When, int] | None:
        year = self.year_after(j)
        try:
            if year:
                return self.when(i, year[1], date(year[0], month, day))
            return self.when(i, j, self.nearest(month, day, self.tense(i, j)))
        except ValueError:
            return None

    def month_day(self, i: int) -> tuple[When, int] | None:
        """ "june first", "may 4th", "june the first"."""
        month = self.month_at(i)
        if not month:
            return None
        j = i + 1
        if self.at(j) == ".":
            j += 1
        if self.at(j) == "the":
            j += 1
        day = self.day_number(j)
        if not day and self.at(j) in self.w.numbers and not self.has("ambiguous_months", i):
            counted = self.count(j)
            if counted and counted[0] <= 31 and counted[0] == int(counted[0]) and counted[0] > 1:
                day = int(counted[0]), counted[1]
        if not day or (
            self.has("ambiguous_months", i)
            and self.at(j).isdigit()
            and self.tokens[i].islower()
            and self.has("distances_after", day[1])
        ):
            return None
        return self.dated(i, day[1], month, day[0])

    def day_month(self, i: int) -> tuple[When, int] | None:
        """ "the first of june", "4 july", "fourth of july"."""
        j = i + 1 if self.at(i) == "the" else i
        day = self.day_number(j)
        if not day:
            return None
        k = day[1]
        of = self.at(k) == "of"
        month = self.month_at(k + 1 if of else k)
        if not month or (not of and self.has("ambiguous_months", k) and self.tokens[k].islower()):
            return None
        return self.dated(i, k + 2 if of else k + 1, month, day[0])

    def nearest(self, month: int, day: int, tense: int) -> date:
        options = []
        for year in (self.today.year - 1, self.today.year, self.today.year + 1):
            if day <= calendar.monthrange(year, month)[1]:
                options.append(date(year, month, day))
        if not options:
            raise ValueError("no such day")
        return _pick(options, self.today, tense)

    def month_named(self, k: int) -> tuple[int, int, int] | None:
        """ "july", "next month", "the month", "october 2014" at token k: (year, month, next token)."""
        if self.at(k) == "the":
            k += 1
        for shift, key in ((-1, "last"), (0, "this"), (1, "next")):
            if self.has(key, k) and self.at(k + 1) == "month":
                base = _add_months(self.today.replace(day=1), shift)
                return base.year, base.month, k + 2
        if self.at(k) == "month":
            return self.today.year, self.today.month, k + 1
        month = self.month_at(k)
        if not month:
            return None
        year = self.year_after(k + 1)
        if year:
            return year[0], month, year[1]
        ahead = self.today.year + (1 if month < self.today.month else 0)
        back = self.today.year - (1 if month > self.today.month else 0)
        return (back if self.tense(k, k + 1) < 0 else ahead), month, k + 1

    def nth_weekday(self, i: int) -> tuple[When, int] | None:
        """ "the first friday of july", "last monday of next month", "last day of october"."""
        j = i + 1 if self.at(i) == "the" else i
        nth = self.phrase(self.w.ordinals, j)
        if nth:
            which, k = nth[0], nth[1]
        elif self.at(j) == "last":
            which, k = -1, j + 1
        else:
            return None
        weekday = self.w.raw["weekdays"].get(self.at(k))
        any_day = self.at(k) == "day"
        if (not isinstance(weekday, int) and not any_day) or self.at(k + 1) not in ("of", "in") or which > 31:
            return None
        named = self.month_named(k + 2)
        if not named:
            return None
        first, last = _month_span(named[0], named[1])
        if any_day:
            day = last if which < 0 else first + timedelta(which - 1)
        elif which < 0:
            day = last - timedelta((last.weekday() - weekday) % 7)
        else:
            day = first + timedelta((weekday - first.weekday()) % 7 + 7 * (which - 1))
        return self.when(i, named[2], day) if first <= day <= last else None

    def nth_of_month(self, i: int) -> tuple[When, int] | None:
        """ "20th of next month"."""
        j = i + 1 if self.at(i) == "the" else i
        day = self.day_number(j)
        if not day or self.at(day[1]) != "of":
            return None
        k = day[1] + 1
        if self.month_at(k):
            return None
        named = self.month_named(k)
        try:
            return self.when(i, named[2], date(named[0], named[1], day[0])) if named else None
        except ValueError:
            return None

    def coming(self, weekday: int) -> date:
        """The next such weekday after today."""
        return self.today + timedelta((weekday - self.today.weekday() - 1) % 7 + 1)

    def turn(self, i: int) -> tuple[When, int] | None:
        """last / this / next: week, month, year, weekend, weekday, month's name."""
        which, j = 0, i
        for key, sign in (("last", -1), ("this", 0), ("next", 1)):
            for n in (2, 1):
                if " ".join(self.lower[i : i + n]) in self.w.lists[key]:
                    which, j = sign, i + n
                    break
            if j > i:
                break
        if j == i:
            return None
        monday = self.today - timedelta(self.today.weekday())
        word = self.at(j)
        if self.has("week_words", j):
            start = monday + timedelta(7 * which)
            k = j + 2 if self.at(j + 1) == "on" else j + 1
            weekday = self.w.raw["weekdays"].get(self.at(k))
            if isinstance(weekday, int) and (which or k == j + 1):  # "next week tuesday", "next week on friday"
                return self.when(i, k + 1, start + timedelta(weekday))
            return self.when(i, j + 1, start, start + timedelta(6), "week")
        if self.has("weekend", j):
            start = monday + timedelta(5 + 7 * which)
            if (which == -1 and self.today.weekday() == 6) or (
                which == 0 and self.today.weekday() == 0 and self.tense(i, j + 1) < 0
            ):
                start = monday - timedelta(2)
            return self.when(i, j + 1, start, start + timedelta(1), "weekend")
        if word == "month":
            first = _add_months(self.today.replace(day=1), which)
            return self.when(i, j + 1, *_month_span(first.year, first.month), "month")
        if word == "year":
            year = self.today.year + which
            return self.when(i, j + 1, date(year, 1, 1), date(year, 12, 31), "year")
        if word == "night" and which == -1:
            return self.when(i, j + 1, self.today - timedelta(1))
        weekday = self.w.raw["weekdays"].get(word)
        if isinstance(weekday, int):
            if which == -1:
                ago = (self.today.weekday() - weekday - 1) % 7 + 1
                return self.when(i, j + 1, self.today - timedelta(ago))
            if which == 1:
                day = monday + timedelta(7 + weekday)
                return self.when(i, j + 1, day, certain=weekday <= self.today.weekday())
            coming = self.today + timedelta((weekday - self.today.weekday()) % 7)
            back = self.today - timedelta((self.today.weekday() - weekday) % 7)
            past = self.at(i) == "this" and (self.at(i + 1) == "past" or self.tense(i, j + 1) < 0)
            return self.when(i, j + 1, back if past else coming)
        month = self.month_at(j)
        if month:
            years = (-1, 0, 1)
            options = [date(self.today.year + y, month, 1) for y in years]
            pick = _pick(options, self.today, -1 if which < 0 else 1)
            return self.when(i, j + 1, *_month_span(pick.year, pick.month), "month")
        counted = self.count(j)
        if counted and which == -1:
            span = self.w.raw["spans"].get(self.at(counted[1]))
            if span:
                start = self.moved(span[0], counted[0] * span[1], -1)
                return self.when(i, counted[1] + 1, start, self.today, "past")
        if counted and which == 1:
            span = self.w.raw["spans"].get(self.at(counted[1]))
            if span:
                return self.when(i, counted[1] + 1, self.today, self.moved(span[0], counted[0] * span[1], 1), "future")
        return None

    def weekday(self, i: int) -> tuple[When, int] | None:
        value = self.w.raw["weekdays"].get(self.at(i))
        if not isinstance(value, int):
            return None
        word = self.lower[i]
        if self.has("short", i) and not self.short_day(i):
            return None
        if self.has("every", i - 1) or (word.endswith("days") and self.at(i - 1) == "on"):
            return None
        j = i + 1
        # "saturday the twenty third", "friday june 5"
        for k in (j, j + 1):
            if k == j + 1 and self.at(j) not in (",", "the"):
                continue
            got = self.the_nth(k, anywhere=True) if self.at(k) == "the" else self.beside_weekday(k, value)
            if got:
                return When(got[0].day, got[0].until, self.starts[i], got[0].end, "day", True), got[1]
        if self.at(j) == "week":
            return self.when(i, j + 1, self.coming(value) + timedelta(7))
        if self.at(j) == "after" and self.at(j + 1) == "next":
            return self.when(i, j + 2, self.coming(value) + timedelta(7))
        k = j + 1 if self.at(j) in ("of", "in", "from") else j
        for shift, key in ((-1, "last"), (0, "this"), (1, "next")):
            if self.has(key, k) and self.has("week_words", k + 1):  # "wednesday of next week"
                monday = self.today - timedelta(self.today.weekday())
                return self.when(i, k + 2, monday + timedelta(7 * shift + value))
        if self.at(j) == "before" and self.at(j + 1) == "last":
            back = (self.today.weekday() - value - 1) % 7 + 8
            return self.when(i, j + 2, self.today - timedelta(back))
        tense = self.tense(i, j)
        back = (self.today.weekday() - value) % 7
        if back == 0:
            if (self.at(i - 1) == "on" or self.has("until_words", i - 1)) and tense > 0:
                return self.when(i, j, self.today + timedelta(7), certain=False)
            if self.at(i - 1) == "since" or (self.at(i - 1) == "on" and tense < 0):
                return self.when(i, j, self.today - timedelta(7), certain=False)
            return self.when(i, j, self.today)
        if self.has("since_words", i - 1) and tense <= 0:
            tense = -1
        if self.has("until_words", i - 1) or self.at(i - 1) == "to":
            tense = 1
        if tense == 0:
            tense = -1 if self.at(i - 1) == "on" and back <= 3 else 1
            sure = False
        else:
            sure = True
        day = self.today - timedelta(back) if tense < 0 else self.today + timedelta(7 - back)
        return self.when(i, j, day, certain=sure)

    def short_day(self, i: int) -> bool:
        """True where an abbreviation that is a word as well ("sat", "sun", "wed") names a day: by its capital, by what
        leads to it, or by a time or date behind it ("sat am", "thu 11h", "sun 9/27"), or typed at a sentence's end."""
        if self.tokens[i][0].isupper() or self.has("short_after", i - 1) or self.n <= 2:
            return True
        after = self.at(i + 1)
        if re.fullmatch(r"\d{1,2}(?:st|nd|rd|th)|\d{1,2}/\d{1,2}", after):
            return True
        if self.has("parts_of_day", i + 1):
            return True
        if self.at(i) in self.w.lists["sky_and_seat"] and self.at(i - 1) in self.w.lists["not_before_short"]:
            return False
        if self.has("short_before", i + 1) or re.match(r"[.:]?\d", self.text[self.ends[i] + 1 : self.ends[i] + 3]):
            return True
        closes = i + 1 == self.n or after in ".,;:!?+&()"
        return closes and (self.at(i) not in self.w.lists["short_verbs"] or self.bids(i))

    def bids(self, i: int) -> bool:
        """True where the sentence up to token i speaks of what is to come ("will fit pads sat", "do sat"), or where it
        is a typed line of two or three words with no article ("front pads sat")."""
        k = i - 1
        while k >= 0 and i - k < 10 and self.lower[k] not in ".,;!?":
            if (k and self.has("strong_future", k)) or self.has("bidding", k) or self.at(k).endswith("ing"):
                return True
            k -= 1
        return i - k <= 3 and not any(self.has("articles", x) for x in range(max(0, k + 1), i))

    def beside_weekday(self, k: int, weekday: int) -> tuple[When, int] | None:
        """The date that stands right behind a weekday: "june 5", "9/21", "12th" (of the month where it falls on it)."""
        got = self.month_day(k) or self.day_month(k)
        if got is None and re.fullmatch(r"\d{1,2}/\d{1,2}", self.at(k)) and k:
            got = self.written(k)
        if got is not None:
            return got
        if not re.fullmatch(r"\d{1,2}(?:st|nd|rd|th)", self.at(k)):
            return None
        day = self.day_number(k)
        if day is None:
            return None
        months = [_add_months(self.today.replace(day=1), n) for n in (0, 1, 2, -1, -2)]
        days = [m.replace(day=day[0]) for m in months if day[0] <= calendar.monthrange(m.year, m.month)[1]]
        fitting = [d for d in days if d.weekday() == weekday] or days
        return self.when(k, day[1], fitting[0]) if fitting else None

    def bare_nth(self, i: int) -> tuple[When, int] | None:
        """ "by 30th", "booked 12th": an ordinal in figures, without "the"."""
        if not re.fullmatch(r"\d{1,2}(?:st|nd|rd|th)", self.at(i)):
            return None
        if not (self.has("date_before_the", i - 1) or self.has("before_slashed", i - 1)):
            return None
        day, after = self.day_number(i), self.at(i + 1)
        if day is None or (after and after[0].isalnum() and after not in self.w.lists["after_the_nineteenth"]):
            return None
        tense = self.tense(i, i + 1)
        months = [_add_months(self.today.replace(day=1), n) for n in (-1, 0, 1, 2)]
        days = [m.replace(day=day[0]) for m in months if day[0] <= calendar.monthrange(m.year, m.month)[1]]
        return self.when(i, i + 1, _pick(days, self.today, tense), certain=tense != 0)

    def the_nth(self, i: int, anywhere: bool = False) -> tuple[When, int] | None:
        """ "the nineteenth": of this month or the one that the verb points to."""
        if self.at(i) != "the":
            return None
        word = self.at(i + 1)
        if word.isdigit():
            return None
        day = self.day_number(i + 1)
        if not day:
            return None
        j = day[1]
        after = self.at(j)
        if not anywhere:
            if i and self.at(i - 1) not in self.w.lists["date_before_the"] and self.at(i - 1) not in ".,;":
                return None
            if after and after[0].isalnum() and after not in self.w.lists["after_the_nineteenth"]:
                return None
            if after == "of" and self.at(j + 1) not in ("the", "this", "next", "last"):
                return None
        if after == "of" and self.at(j + 1) in ("the", "this", "next", "last") and self.at(j + 2) == "month":
            shift = {"next": 1, "last": -1}.get(self.at(j + 1), 0)
            base = _add_months(self.today.replace(day=1), shift)
            try:
                return self.when(i, j + 3, base.replace(day=day[0]))
            except ValueError:
                return None
        if after == "of" and not anywhere:
            return None
        tense = 1 if self.at(i - 1) in ("for", "by") else self.tense(i, j)
        options = []
        for shift in (-2, -1, 0, 1, 2):
            base = _add_months(self.today.replace(day=1), shift)
            if day[0] <= calendar.monthrange(base.year, base.month)[1]:
                options.append(base.replace(day=day[0]))
        picked = _pick(options, self.today, tense)
        if tense == 0 and (self.today - picked).days > 10:
            picked = _pick(options, self.today, 1)  # so far back one would have said how it was
        return self.when(i, j, picked, certain=tense != 0 or anywhere)

    def end_of(self, i: int) -> tuple[When, int] | None:
        """ "the end of the month", "end of the week"."""
        if not self.has("end_words", i) or self.at(i + 1) != "of":
            return None
        k = i + 2
        if self.at(k) in ("the", "this", "next"):
            shift = 1 if self.at(k) == "next" else 0
            k += 1
        else:
            shift = 0
        word = self.at(k)
        if word == "month":
            base = _add_months(self.today.replace(day=1), shift)
            return self.when(i, k + 1, _month_span(base.year, base.month)[1])
        if word == "week":
            return self.when(i, k + 1, self.today - timedelta(self.today.weekday()) + timedelta(6 + 7 * shift))
        if word == "year":
            return self.when(i, k + 1, date(self.today.year + shift, 12, 31))
        month = self.month_at(k)
        if month:
            options = [_month_span(self.today.year + y, month)[1] for y in (-1, 0, 1)]
            return self.when(i, k + 1, _pick(options, self.today, self.tense(i, k + 1)))
        return None

    def weekend(self, i: int) -> tuple[When, int] | None:
        if self.at(i - 1) != "this" and self.has("weekend", i) and self.lower[i + 1 : i + 3] == ["after", "next"]:
            saturday = self.today - timedelta(self.today.weekday()) + timedelta(5 + 7)
            return self.when(i, i + 3, saturday, saturday + timedelta(1), "weekend", False)
        if not self.has("weekend", i) or self.has("every", i - 1) or self.at(i - 1) == "whole":
            return None
        saturday = self.today - timedelta(self.today.weekday()) + timedelta(5)
        if self.today.weekday() < 5 and self.tense(i, i + 1) < 0 and self.at(i - 2) != "before":
            saturday -= timedelta(7)
        return self.when(i, i + 1, saturday, saturday + timedelta(1), "weekend", False)

    def month(self, i: int) -> tuple[When, int] | None:
        """A month alone: "back in july", "since may"."""
        month = self.month_at(i)
        if not month:
            return None
        if self.has("ambiguous_months", i) and not (self.has("month_needs", i - 1) and self.at(i - 1) != "to"):
            return None
        year = self.year_after(i + 1)
        if year:
            return self.when(i, year[1], *_month_span(year[0], month), "month")
        if self.at(i + 1).isdigit():
            return None  # "feb 30" is no day
        options = [date(self.today.year + y, month, 1) for y in (-1, 0, 1)]
        if month == self.today.month:
            pick = self.today.replace(day=1)
        else:
            tense = -1 if self.at(i - 2) == "back" or self.at(i - 1) == "since" else self.tense(i, i + 1)
            pick = _pick(options, self.today, tense)
        return self.when(i, i + 1, *_month_span(pick.year, pick.month), "month")

    def season(self, i: int) -> tuple[When, int] | None:
        span = self.w.raw["seasons"].get(self.at(i))
        if not span or not self.has("season_before", i - 1):
            return None
        if self.at(i - 1) == "the" and not self.has("before_the_season", i - 2):
            return None
        first, last = span
        options = []
        for year in (self.today.year - 1, self.today.year, self.today.year + 1):
            start = date(year, first, 1)
            options.append((start, _month_span(year + (1 if last < first else 0), last)[1]))
        tense = self.tense(i, i + 1)
        if self.has("until_words", i - 1) and tense == 0:
            tense = 1
        for start, end in options:
            if tense < 0 and end >= self.today and start > self.today:
                continue
            if tense >= 0 and end < self.today:
                continue
            if tense >= 0:
                return self.when(i, i + 1, start, end, "vague", False)
        started = [o for o in options if o[0] <= self.today]
        start, end = started[-1]
        return self.when(i, i + 1, start, end, "vague", False)


def _pick(options: Iterable[date], today: date, tense: int) -> date:
    """The option that the tense points to, nearest to today."""
    all_options = sorted(options)
    if tense < 0:
        past = [d for d in all_options if d <= today]
        return past[-1] if past else all_options[0]
    if tense > 0:
        ahead = [d for d in all_options if d >= today]
        return ahead[0] if ahead else all_options[-1]
    return min(all_options, key=lambda d: (abs((d - today).days), d > today))


def _holiday(rule: str, year: int, raw: Mapping[str, Any]) -> date:
    """ "07-04" or "first monday of september" in a year."""
    if re.fullmatch(r"\d\d-\d\d", rule):
        return date.fromisoformat(f"{year}-{rule}")
    which, weekday, _, month_name = rule.split()
    month, day = raw["months"][month_name], raw["weekdays"][weekday]
    if which == "last":
        last = _month_span(year, month)[1]
        return last - timedelta((last.weekday() - day) % 7)
    first = date(year, month, 1)
    nth = raw["ordinals"][which]
    return first + timedelta((day - first.weekday()) % 7 + 7 * (nth - 1))


def read_dates(text: str, now: datetime, month_first: bool = True) -> list[When]:
    """The days named in `text`, in order, for a note spoken at `now`.

    `month_first` says how a written "4/7" is meant: the fourth of July where it is false.
    """
    reader = _Reader(text, now, month_first)
    found = reader.run()
    odd = _ODD.search(text)
    if odd and not any(w.start <= odd.start() < w.end for w in found):
        found = sorted(found + _by_library(text, now, odd), key=lambda w: w.start)
    return found


def _by_library(text: str, now: datetime, odd: re.Match[str]) -> list[When]:
    """Written forms that our rules leave ("4.7.2026"), by dateparser."""
    import dateparser

    settings: Any = {"RELATIVE_BASE": now, "PREFER_DATES_FROM": "past", "STRICT_PARSING": True}
    if "." in odd.group():
        settings["DATE_ORDER"] = "DMY"
    got = dateparser.parse(odd.group(), languages=["en"], settings=settings)
    if got is None:
        return []
    return [When(got.date(), got.date(), odd.start(), odd.end(), "day", "." in odd.group())]
