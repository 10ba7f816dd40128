"""The words that part a film's talk into days and matters. They stand in data/film.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

MOST_DAYS = 400  # a film of more days would not count them
COUNTS = ("cardinal",)  # kinds of number that count days; digits said one by one are the next number's
APOSTROPHES = str.maketrans({"’": "'"})


@dataclass(frozen=True, slots=True)
class NewDay:
    """Another day begins at character `start`: the day of that `number` ("day three"), or `on` days after the one before."""

    start: int
    number: int | None = None
    on: int = 0


@cache
def facts() -> dict[str, Any]:
    """The data file."""
    return tomllib.loads(files("diary.records").joinpath("data/film.toml").read_text(encoding="utf-8"))


def begins_matter(said: str) -> bool:
    """Whether these words open a new matter ("okay, ...")."""
    return bool(_pattern(r"\W*", "openers", r"\b").match(said.translate(APOSTROPHES)))


def unfinished(said: str) -> bool:
    """Whether a speaker who stops here has not finished ("the odometer says the")."""
    last = re.findall(r"[\w']+[^\w\s]*$", said.translate(APOSTROPHES).rstrip())
    return bool(last) and last[0].lower().rstrip(",-") in facts()["unfinished"]


def new_days(said: str, begins: Iterable[int] = ()) -> list[NewDay]:
    """Where in a running talk other days begin. `begins` are characters where captions begin."""
    said = said.translate(APOSTROPHES)
    starts = {0, *begins, *(m.end() for m in re.finditer(r"[.?!]+[\"')]*\s+|\n+", said))}
    found: list[NewDay] = []
    for mark in _day().finditer(said):
        day = _named(said, mark)
        if day is None or _pattern(r"[\s,]+", "not_then", r"\b").match(said, mark.end()):
            continue
        lead = _lead().search(said, max(0, day.start - 80), day.start)
        first = lead.start() if lead else day.start
        # a caption that begins within the words that lead up to the day is where the day begins
        start = max((s for s in starts if first <= s <= day.start), default=first)
        if start in starts or _pattern(r"\b", "strong_leads", r"\b").search(said, first, day.start) or _pattern(r"\b", "closers", r"\W*$").search(said, 0, first):
            found.append(NewDay(start, day.number, day.on))
    return found


def _named(said: str, mark: re.Match[str]) -> NewDay | None:
    """What the words of a day mean, at the place where they begin (without what leads up to them)."""
    if mark["numbered"]:
        number = _day_number(mark["numbered"])
        return NewDay(mark.start(), number=number) if number else None
    if mark["next"]:
        return NewDay(mark.start(), on=1)
    before = said[max(0, mark.start() - 40) : mark.start()].rstrip()
    base = max(0, mark.start() - 40)
    vague = _pattern(r"\b", "vague", "$").search(before)
    if vague:
        many = facts()["vague"][" ".join(vague[0].lower().split())], vague.start()
    else:
        spoken = _number_at_end(before)
        if spoken is None or not 1 <= spoken[0] <= 60:
            return None
        many = spoken
    return NewDay(base + many[1], on=many[0] * facts()["units"][mark["unit"].lower()])


def _day_number(said: str) -> int | None:
    """The count that `said` begins with: of the longest run of its words that is one ("sixty two", not "sixty two eleven")."""
    from diary.language.numerals import read_numbers

    words = list(re.finditer(r"[^\s-]+", said))
    for last in reversed(words):
        run = said[: last.end()]
        numbers = read_numbers(run)
        if len(numbers) == 1 and numbers[0].start == 0 and numbers[0].end == len(run) and numbers[0].kind in COUNTS:
            if 1 <= numbers[0].value <= MOST_DAYS and numbers[0].value == int(numbers[0].value):
                return int(numbers[0].value)
    return None


def _number_at_end(said: str) -> tuple[int, int] | None:
    """The whole number that `said` ends with, and where it begins."""
    from diary.language.numerals import read_numbers

    number = next((n for n in read_numbers(said) if n.end == len(said)), None)
    return (int(number.value), number.start) if number and number.value == int(number.value) else None


def _any(words: Iterable[str]) -> str:
    return "|".join(re.escape(w).replace(r"\ ", r"\s+") for w in sorted(words, key=len, reverse=True))


@cache
def _pattern(before: str, words: str, after: str) -> re.Pattern[str]:
    """Any of the words of a list of `film.toml`, between two expressions."""
    return re.compile(rf"{before}(?:{_any(facts()[words])}){after}", re.IGNORECASE)


@cache
def _lead() -> re.Pattern[str]:
    return re.compile(rf"\b(?:(?:{_any([*facts()['leads'], *facts()['strong_leads']])})\b[\s,.!]+)+(?:the\s+)?$", re.IGNORECASE)


@cache
def _day() -> re.Pattern[str]:
    f = facts()
    return re.compile(
        rf"\b(?:(?:{_any(f['numbered'])})\s+(?=(?P<numbered>[a-z]+(?:[ \t-][a-z]+){{0,4}}|\d{{1,3}})\b(?![-/.:']\w))"
        rf"|(?:the\s+)?(?P<next>{_any(f['next'])})\b|(?P<unit>{_any(f['units'])})\s+(?:{_any(f['later'])})\b)",
        re.IGNORECASE,
    )
