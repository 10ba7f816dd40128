"""The stretch of time (or of tanks, or between events) that a question is about.

A window is read without knowing the diary: events stay words ("the alternator went in") until `answers` looks them up.
Dates look backwards from `now`, as questions do; `forward=True` looks ahead, for plans. The words are in
data/windows.toml.
This reads only the closed set of windows that questions use; dates inside notes are read by the language room.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache
from typing import Any

from diary.assistant.words import is_stop, table

_ORDINAL_DIGITS = re.compile(r"(\d{1,2})(st|nd|rd|th)$")


@dataclass(frozen=True, slots=True)
class Point:
    """One end of a window: a day, a fill of a day, or an event in words that the records must know."""

    kind: str  # "day", "fill", "event"
    day: date | None = None
    last: date | None = None  # the last day, where the point is a stretch such as a month
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Window:
    """`kind`: all, days (start to end, both within), since, before, around (before and after), between, at (the time
    of an event),
    tank (n-th: -1 the newest, 1 the first), tank_with (words), tanks (the last n), distance (the last so many
    miles)."""

    kind: str = "all"
    label: str = ""
    start: date | None = None
    end: date | None = None
    first: Point | None = None
    second: Point | None = None
    n: int = 0
    words: tuple[str, ...] = ()
    said: bool = False
    used: frozenset[int] = field(default_factory=frozenset)

    @property
    def points(self) -> tuple[Point, ...]:
        return tuple(p for p in (self.first, self.second) if p)


@cache
def _t(name: str) -> Any:
    return table("windows")[name]


@cache
def _phrases(name: str) -> tuple[tuple[str, ...], ...]:
    rows = [tuple(p.split()) for p in _t(name)]
    return tuple(sorted(rows, key=len, reverse=True))


def _starts(words: Sequence[str], i: int, name: str) -> int:
    """How many words of `words` at `i` are a phrase of the list `name` (0: none)."""
    for phrase in _phrases(name):
        if tuple(words[i : i + len(phrase)]) == phrase:
            return len(phrase)
    return 0


def _lookup(words: Sequence[str], i: int, name: str) -> tuple[int, int]:
    """(words used, value) of the longest key of the table `name` at `i`."""
    rows: Mapping[str, int] = _t(name)
    for size in (4, 3, 2, 1):
        key = " ".join(words[i : i + size])
        if len(words) >= i + size and key in rows:
            return size, rows[key]
    return 0, 0


def _month_span(year: int, month: int) -> tuple[date, date]:
    return date(year, month, 1), date(year, month, calendar.monthrange(year, month)[1])


def _day_of_month(day: int, now: date, forward: bool) -> date | None:
    """The nearest day of that number, today included, behind or ahead."""
    year, month = now.year, now.month
    for _ in range(14):
        if day <= calendar.monthrange(year, month)[1]:
            found = date(year, month, day)
            if (found >= now) if forward else (found <= now):
                return found
        month += 1 if forward else -1
        year, month = (year + 1, 1) if month > 12 else (year - 1, 12) if month < 1 else (year, month)
    return None


def _number(words: Sequence[str], i: int, name: str = "ordinals") -> tuple[int, int]:
    """(words used, value) of an ordinal at `i`, in words or as 9th."""
    if i < len(words) and (m := _ORDINAL_DIGITS.match(words[i])):
        return 1, int(m.group(1))
    return _lookup(words, i, name)


def dated(words: Sequence[str], now: date, month_first: bool) -> list[str]:
    """Dates typed as "12/4" or "12/4/26" as ISO dates; fractions ("3/8 drive") are left."""
    out = list(words)
    for i, w in enumerate(out):
        m = re.fullmatch(r"(\d{1,2})/(\d{1,2})(?:/(\d{2}|\d{4}))?", w)
        if not m or (i + 1 < len(out) and out[i + 1] in _t("fraction_of")):
            continue
        a, b = int(m.group(1)), int(m.group(2))
        day, month = (b, a) if (month_first and a <= 12) or b > 12 else (a, b)
        year = int(m.group(3)) if m.group(3) else None
        try:
            if year is not None:
                out[i] = date(year if year > 99 else 2000 + year, month, day).isoformat()
            elif found := _year_for(month, day, now, False):
                out[i] = found.isoformat()
        except ValueError:
            continue
    return out


def _long(words: Sequence[str]) -> list[str]:
    """Short names of months beside a number, and of weekdays after "on" or "last", written out."""
    out = list(words)
    short: Mapping[str, str] = _t("short")
    for i, w in enumerate(out):
        if w in short:
            number = any(
                0 <= k < len(out) and (out[k].isdigit() or _ORDINAL_DIGITS.match(out[k]) or out[k] in _t("ordinals"))
                for k in (i - 1, i + 1)
            )
            led = i > 0 and out[i - 1] in ("on", "last", "this", "next", "for", "in", "since", "of")
            tank = i + 1 < len(out) and out[i + 1] in _t("tank_words")
            if number or led or tank or w in _t("plainly_short"):
                out[i] = short[w]
    return out


def day_at(words: Sequence[str], i: int, now: date, forward: bool = False) -> tuple[int, date, date, str] | None:
    """A calendar expression at word `i`: (words used, first day, last day, label), or None."""
    j = i
    n = len(words)
    words = _long(words) if any(w in _t("short") for w in words[max(0, i - 1) : i + 3]) else list(words)
    size, shift = _lookup(words, i, "days")
    if size:
        day = now + timedelta(days=shift)
        return size, day, day, " ".join(words[i : i + size])
    if "-" not in "".join(words[i : i + 1]) and re.fullmatch(r"\d{4}-\d\d-\d\d", "-".join(words[i : i + 3])):
        day = date.fromisoformat("-".join(words[i : i + 3]))
        return 3, day, day, _say(day)
    if i < n and re.fullmatch(r"\d{4}-\d\d-\d\d", words[i]):
        day = date.fromisoformat(words[i])
        return 1, day, day, _say(day)
    loose = _loosely(words, i, now, forward)
    if loose is not None:
        return loose
    lead, shift = _lookup(words, i, "shift")
    j = i + lead
    # "last three weeks", "past 10 days"
    if lead and shift <= 0 and j < n:
        size, count = (1, int(words[j])) if words[j].isdigit() else _lookup(words, j, "counts")
        unit = words[j + size].rstrip("s") if j + size < n else ""
        if size and count and unit in ("day", "week", "month", "year"):
            days = {"day": 1, "week": 7, "month": 30, "year": 365}[unit] * count
            return j + size + 1 - i, now - timedelta(days=days), now, " ".join(words[i : j + size + 1])
    if lead and j < n and words[j] in _t("spans"):
        start, end = _span(words[j], shift, now)
        return j + 1 - i, start, end, " ".join(words[i : j + 1])
    if j < n and words[j] in _t("weekdays"):
        wanted = _t("weekdays").index(words[j])
        back = (now.weekday() - wanted) % 7
        if forward and not (lead and shift < 0):
            ahead = (wanted - now.weekday()) % 7
            day = now + timedelta(days=ahead or (7 if shift > 0 else 0))
        else:
            day = now - timedelta(days=back or (7 if lead and shift < 0 else 0))
        return j + 1 - i, day, day, " ".join(words[i : j + 1])
    # "may ninth", "may 9", "9 may", "the ninth of may", "in april", "april 2025"
    j = i + (words[i : i + 1] == ["the"] if isinstance(words, list) else words[i] == "the")
    size, number = _number(words, j)
    digits = not size and j < n and words[j].isdigit() and 1 <= int(words[j]) <= 31
    if digits:
        size, number = 1, int(words[j])
    if size:
        k = j + size
        of = k < n and words[k] == "of"
        if k + of < n and words[k + of] in _t("months"):
            month = _t("months").index(words[k + of]) + 1
            named = _year_for(month, number, now, forward)
            return (k + of + 1 - i, named, named, _say(named)) if named else None
        if not digits and not (k < n and words[k] in (*_t("tank_words"), "time", "weekend", "week", "month", "gear")):
            found = _day_of_month(number, now, forward)
            return (k - i, found, found, _say(found)) if found else None
        if k < n and words[k] == "weekend" and number == 1:
            return None
    if i < n and words[i] in _t("months"):
        month = _t("months").index(words[i]) + 1
        k = i + 1 + (i + 1 < n and words[i + 1] == "the")
        size, number = _number(words, k)
        if not size and k < n and words[k].isdigit() and 1 <= int(words[k]) <= 31:
            size, number = 1, int(words[k])
        if size:
            named = _year_for(month, number, now, forward)
            return (k + size - i, named, named, _say(named)) if named else None
        if words[i] != "may" or (
            (i and i == n - 1)
            or (
                i
                and words[i - 1]
                in (
                    "in",
                    "of",
                    "since",
                    "during",
                    "for",
                    "last",
                    "this",
                    "and",
                    "with",
                    "against",
                    "to",
                    "versus",
                    "vs",
                    "or",
                    "than",
                )
            )
        ):
            year = int(words[i + 1]) if i + 1 < n and re.fullmatch(r"(19|20)\d\d", words[i + 1]) else 0
            size = 2 if year else 1
            year = year or (now.year if month <= now.month else now.year - 1)
            start, end = _month_span(year, month)
            return size, start, end, words[i]
    if i < n and re.fullmatch(r"20\d\d", words[i]) and i and words[i - 1] in ("in", "of", "during", "for", "since"):
        year = int(words[i])
        return 1, date(year, 1, 1), date(year, 12, 31), words[i]
    return None


def _loosely(words: Sequence[str], i: int, now: date, forward: bool) -> tuple[int, date, date, str] | None:
    """Days said loosely at word `i`: "two weeks ago", "early june", "the middle of february", "the weekend before last",
    "valentines day"."""
    n = len(words)
    if i >= n:
        return None
    for name, slack in _t("vague").items():
        size = len(name.split())
        if tuple(words[i : i + size]) == tuple(name.split()):
            return size, now - timedelta(days=slack[0]), now - timedelta(days=slack[1]), name
    if tuple(words[i : i + 3]) == ("weekend", "before", "last"):
        start, end = _span("weekend", -2, now)
        return 3, start, end, "the weekend before last"
    size, count = (1, int(words[i])) if words[i].isdigit() else _lookup(words, i, "counts")
    j = i + size
    if size and j + 1 < n and words[j].rstrip("s") in _t("ago_slack") and words[j + 1] == "ago":
        length, slack = _t("ago_slack")[words[j].rstrip("s")]
        day = now - timedelta(days=length * count)
        return j + 2 - i, day - timedelta(days=slack), min(now, day + timedelta(days=slack)), " ".join(words[i : j + 2])
    size, part = _lookup(words, i, "third_of_month")
    j = i + size
    if size and j < n:
        if words[j] in _t("months"):
            month = _t("months").index(words[j]) + 1
            year = now.year if month <= now.month or forward else now.year - 1
            used = j + 1 - i
        elif tuple(words[j : j + 2]) in (("the", "month"), ("this", "month")):
            year, month, used = now.year, now.month, j + 2 - i
        else:
            return None
        first, last = _month_span(year, month)
        edges = (first, first + timedelta(days=10), first + timedelta(days=20), last + timedelta(days=1))
        return used, edges[part], edges[part + 1] - timedelta(days=1), " ".join(words[i : i + used])
    for name, rule in _t("named_days").items():
        size = len(name.split())
        if tuple(words[i : i + size]) == tuple(name.split()):
            for year in (now.year, now.year + (1 if forward else -1)):
                day = _ruled(rule, year)
                if (day >= now) if forward else (day <= now):
                    return size, day, day, _say(day)
    return None


def _ruled(rule: Sequence[int], year: int) -> date:
    """A day by rule: [month, day], or [month, weekday, nth] with −1 for the last of the month."""
    if len(rule) == 2:
        return date(year, rule[0], rule[1])
    month, weekday, nth = rule
    first, last = _month_span(year, month)
    if nth < 0:
        return last - timedelta(days=(last.weekday() - weekday) % 7)
    return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (nth - 1))


def _say(day: date) -> str:
    return f"{_t('months')[day.month - 1].capitalize()} {day.day}"


def _year_for(month: int, day: int, now: date, forward: bool) -> date | None:
    for year in (now.year, now.year + (1 if forward else -1), now.year - 2):
        try:
            found = date(year, month, day)
        except ValueError:
            continue
        if (found >= now) if forward else (found <= now):
            return found
    return None


def _span(word: str, shift: int, now: date) -> tuple[date, date]:
    """The calendar week (Monday first, ISO 8601), month, year or weekend that is `shift` from the present one."""
    if word == "week":
        start = now - timedelta(days=now.weekday()) + timedelta(weeks=shift)
        return start, start + timedelta(days=6)
    if word == "weekend":
        start = now - timedelta(days=now.weekday()) + timedelta(days=5, weeks=shift)
        if shift == -1 and now.weekday() < 5:
            return start, start + timedelta(days=1)
        return start, start + timedelta(days=1)
    if word == "month":
        index = now.year * 12 + now.month - 1 + shift
        return _month_span(index // 12, index % 12 + 1)
    year = now.year + shift
    return date(year, 1, 1), date(year, 12, 31)


def _clause_end(words: Sequence[str], i: int, breaks: frozenset[int]) -> int:
    """Where the clause that starts at `i` ends: a comma, or a new question after at least two words."""
    for j in range(i + 1, len(words)):
        if j in breaks or (j >= i + 2 and words[j] in _t("question_words") and words[j - 1] not in ("i", "we", "it")):
            return j
    return len(words)


def _point(words: Sequence[str], i: int, end: int, now: date, forward: bool) -> Point | None:
    """The words i to end as a point: day, fill of a day, or event."""
    day: tuple[int, date, date, str] | None = None
    rest: list[str] = []
    j = i
    while j < end:
        got = day_at(words, j, now, forward) if day is None else None
        if got and j + got[0] <= end:
            day, j = got, j + got[0]
            continue
        rest.append(words[j])
        j += 1
    while rest and rest[-1] in _t("tail") and len(rest) > 1:
        rest.pop()
    meat = [w for w in rest if not is_stop(w) or w in _t("fill_words") or w in _t("whole_needs")]
    fillish = bool(meat) and all(w in _t("fill_words") for w in meat)
    if day:
        if fillish or not meat:
            return Point("fill" if fillish else "day", day[1], day[2])
        return Point("event", day[1], day[2], tuple(rest))
    if not meat:
        return None
    return Point("fill" if fillish else "event", words=tuple(rest))


def find(words: Sequence[str], now: date, forward: bool = False, breaks: frozenset[int] = frozenset()) -> Window:
    """The window of a question. `words` are folded; `breaks` are the word indexes that follow a comma."""
    words = list(words)
    n = len(words)
    whole = Window()
    # between A and B, from A to B
    for i, w in enumerate(words):
        if w == "between" or (w == "from" and i + 1 < n):
            glue = ("and",) if w == "between" else ("to", "until", "till", "through", "up")
            cut = next((j for j in range(i + 2, n) if words[j] in glue), None)
            if cut is not None:
                end = _clause_end(words, cut, breaks)
                stop = cut + (words[cut : cut + 2] == ["up", "to"]) + 1
                one, two = _point(words, i + 1, cut, now, forward), _point(words, stop, end, now, forward)
                if one and two and (w == "between" or one.day or two.day):
                    if two.kind == "day" and one.kind == "fill":
                        two = replace(two, kind="fill")
                    used = frozenset(range(i, end))
                    one, two = _in_order(one, two)
                    return Window("between", " ".join(words[i:end]), first=one, second=two, said=True, used=used)
    for i in range(n):  # "between the two fills": the last tank
        if words[i] == "between":
            j = i + 1
            while j < n and words[j] in ("the", "those", "these", "two", "last", "my", "both", "our"):
                j += 1
            size = _starts(words, j, "fills")
            if size:
                return Window("tank", "between the fills", n=-1, said=True, used=frozenset(range(i, j + size)))
    # two days with "to" between them
    for i in range(n):
        lead = day_at(words, i, now, forward)
        if lead and i + lead[0] < n and words[i + lead[0]] in ("to", "until", "till", "through"):
            j = i + lead[0] + 1
            other = day_at(words, j, now, forward)
            if other:
                a, b = _in_order(Point("day", lead[1], lead[2]), Point("day", other[1], other[2]))
                used = frozenset(range(i - (i > 0 and words[i - 1] == "the"), j + other[0]))
                return Window("between", " ".join(words[i : j + other[0]]), first=a, second=b, said=True, used=used)
    # whole diary
    for i in range(n):
        size = _starts(words, i, "all")
        if size:
            whole = Window("all", " ".join(words[i : i + size]), said=True, used=frozenset(range(i, i + size)))
    # before and after an event
    for i in range(n):
        size = _starts(words, i, "both")
        if size:
            end = _clause_end(words, i + size, breaks)
            point = _point(words, i + size, end, now, forward)
            if point:
                return Window("around", " ".join(words[i:end]), first=point, said=True, used=frozenset(range(i, end)))
    # tanks
    tank = _tank(words, now, forward)
    if tank and "relative" in tank.words:
        for i in range(n):
            got = day_at(words, i, now, forward)
            if got and not set(range(i, i + got[0])) & tank.used:
                return replace(
                    tank, second=Point("fill", got[1], got[2]), used=tank.used | frozenset(range(i, i + got[0]))
                )
        return tank
    # since, before, at the time of
    for i in range(n):
        for name in ("since", "before", "when"):
            size = _starts(words, i, name)
            if not size or (name == "when" and i == 0) or i + size >= n:
                continue
            if words[i] == "once" and i + 1 < n and words[i + 1] == "a":
                continue
            if words[i + size] in ("and", "or", "but"):
                continue  # "what did i do it up to and ..."
            end = _clause_end(words, i + size, breaks)
            start = i + size
            got = day_at(words, start, now, forward) or (
                day_at(words, start + 1, now, forward) if words[start] in ("the", "on") else None
            )
            if name == "when" and words[i] in ("the", "during") and not got:
                continue
            if words[i] == "from" and not got:
                continue
            point = _point(words, start, end, now, forward)
            if not point:
                continue
            meat = [w for w in point.words if not is_stop(w) or w in _t("whole_needs")]
            if name == "since" and meat and set(meat) <= set(_t("whole_words")) and set(meat) & set(_t("whole_needs")):
                return Window("all", "since the start", said=True, used=frozenset(range(i, end)))
            if whole.said and set(range(i, end)) & whole.used:
                return whole
            kind = {"since": "since", "before": "before", "when": "at"}[name]
            if tank and kind == "before" and point.day and tank.n in (1, 2):
                return replace(tank, second=point, used=tank.used | frozenset(range(i, end)))
            return Window(kind, " ".join(words[i:end]), first=point, said=True, used=frozenset(range(i, end)))
    if tank:
        # "the tank filled on the ninth" names its day
        for i in range(n):
            got = day_at(words, i, now, forward)
            if got and not set(range(i, i + got[0])) & tank.used:
                return replace(
                    tank, second=Point("fill", got[1], got[2]), used=tank.used | frozenset(range(i, i + got[0]))
                )
        return tank
    # two calendar windows make a comparison; one is a stretch of days
    found: list[tuple[int, tuple[int, date, date, str]]] = []
    i = 0
    while i < n:
        got = day_at(words, i, now, forward)
        if got:
            found.append((i, got))
            i += got[0]
        else:
            i += 1
    if found:
        used = frozenset(
            k
            for at, got in found
            for k in range(at - (at > 0 and words[at - 1] in ("on", "in", "for", "during", "over", "the")), at + got[0])
        )
        _, first_day, last_day, label = found[0][1]
        second = None
        if len(found) > 1:
            other = found[1][1]
            second = Point("day", other[1], other[2])
        return Window("days", label, first_day, last_day, second=second, said=True, used=used)
    first_weekend = _sequence(words, ("first", "weekend"))
    if first_weekend is not None:
        return Window(
            "first_weekend", "the first weekend", said=True, used=frozenset(range(first_weekend, first_weekend + 2))
        )
    return whole


def _in_order(one: Point, two: Point) -> tuple[Point, Point]:
    """Two days of a stretch in their order: "from the second to the ninth" said on the fourth is last month's
    second."""
    if one.day and two.day and one.day > two.day:
        earlier = _day_of_month(one.day.day, two.day, False)
        if earlier:
            one = replace(one, day=earlier, last=earlier)
    return one, two


def _sequence(words: Sequence[str], phrase: tuple[str, ...]) -> int | None:
    return next((i for i in range(len(words)) if tuple(words[i : i + len(phrase)]) == phrase), None)


def _tank(words: Sequence[str], now: date, forward: bool) -> Window | None:
    """A window of tanks: "the last full tank", "the one before", "the first leg", "the tank with the quarry day in
    it"."""
    n = len(words)
    for i in range(n):
        if tuple(words[i : i + 3]) in (
            ("tank", "before", "last"),
            ("fill", "before", "last"),
            ("one", "before", "last"),
        ):
            return Window("tank", "the tank before last", n=-2, said=True, used=frozenset(range(i, i + 3)))
    for i in range(n):
        if size := _starts(words, i, "tank_before"):
            return Window(
                "tank", "the tank before", n=-2, said=True, used=frozenset(range(i, i + size)), words=("relative",)
            )
        if size := _starts(words, i, "tank_after"):
            return Window(
                "tank",
                "the tank after",
                n=2,
                said=True,
                used=frozenset(range(i, i + size)),
                words=("relative", "after"),
            )
    for i in range(n):
        for name in ("tank_back", "tank_on"):
            size, number = _lookup(words, i, name)
            if not size:
                continue
            j = i + size
            count, how_many = _lookup(words, j, "counts")
            if (
                count
                and words[j] != "one"
                and j + count < n
                and words[j + count].rstrip("s") in ("tank", "fill", "tankful")
            ):
                return Window(
                    "tanks",
                    " ".join(words[i : j + count + 1]),
                    n=how_many,
                    said=True,
                    used=frozenset(range(i, j + count + 1)),
                )
            j += j < n and words[j] == "full"
            j += j < n and words[j] == "fuel"
            if j < n and words[j].rstrip("s") in _t("tank_words") and not (words[j] == "one" and name == "tank_on"):
                if words[j] == "one" and words[i] in ("this", "that"):
                    continue
                end = j + 1 + (j + 1 < n and words[j + 1] == "up")
                label = "the " + " ".join(words[i:end])
                return Window("tank", label, n=number, said=True, used=frozenset(range(i, end)))
    for i, w in enumerate(words):
        if w in ("tank", "leg", "fill") and i + 1 < n and words[i + 1] in ("with", "that", "where", "when"):
            days = [got for k in range(i + 2, n) if (got := day_at(words, k, now, forward))]
            if days:  # "the tank that ended on the first of may"
                point = Point("fill", days[0][1], days[0][2])
                return Window("tank", "the tank", n=-1, second=point, said=True, used=frozenset(range(i, n)))
            meat = [x for x in words[i + 2 :] if not is_stop(x)]
            if meat:
                return Window(
                    "tank_with", " ".join(words[i:]), words=tuple(meat), said=True, used=frozenset(range(i, n))
                )
    return None
