"""Days that a speaker names, seen from the note's own time."""

from __future__ import annotations

import subprocess
import sys
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diary.language.dates import read_dates

WEDNESDAY = datetime(2026, 5, 13, 18, 0)  # 13 May 2026 is a Wednesday


def first(text: str, now: datetime = WEDNESDAY) -> date | None:
    found = read_dates(text, now)
    return found[0].day if found else None


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("today", "2026-05-13"),
        ("went out tonight", "2026-05-13"),
        ("yesterday", "2026-05-12"),
        ("last night", "2026-05-12"),
        ("day before yesterday", "2026-05-11"),
        ("day after tomorrow i want to recheck the fan bolts", "2026-05-15"),
        ("i did it last saturday", "2026-05-09"),
        ("the lug nuts on tuesday were loose", "2026-05-12"),
        ("i will do it on tuesday", "2026-05-19"),
        ("i want to put some air in that on saturday", "2026-05-16"),
        ("going to check it on saturday when i got somebody", "2026-05-16"),
        ("wednesday filled up first", "2026-05-13"),
        ("next saturday", "2026-05-23"),
        ("saturday week", "2026-05-23"),
        ("a week from saturday", "2026-05-23"),
        ("in two weeks", "2026-05-27"),
        ("in a fortnight", "2026-05-27"),
        ("three days ago", "2026-05-10"),
        ("two weeks from now", "2026-05-27"),
        ("done by the nineteenth", "2026-05-19"),
        ("it was on the third i replaced it", "2026-05-03"),
        ("That coolant leak on the 9th was the top hose", "2026-05-09"),
        ("saturday most likely the sixteenth", "2026-05-16"),
        ("before the trip on friday i need to check", "2026-05-15"),
        ("the fourth of july", "2026-07-04"),
        ("by the first of june", "2026-06-01"),
        ("june fifth", "2026-06-05"),
        ("march 3 2025", "2025-03-03"),
        ("on 2026-04-01", "2026-04-01"),
        ("5/17/2018", "2018-05-17"),
        ("end of the month", "2026-05-31"),
        ("monday at the latest", "2026-05-18"),
        ("labor day", "2026-09-07"),  # first Monday of September, 5 U.S.C. 6103
        ("memorial day", "2026-05-25"),  # last Monday of May, 5 U.S.C. 6103
        ("4.7.2026", "2026-07-04"),  # left to dateparser
    ],
)
def test_days(text: str, day: str) -> None:
    assert first(text) == date.fromisoformat(day)


@pytest.mark.parametrize(
    ("text", "day", "until", "kind"),
    [
        ("this weekend i will", "2026-05-16", "2026-05-17", "weekend"),
        ("over the weekend i drove", "2026-05-09", "2026-05-10", "weekend"),
        ("whats my economy this week", "2026-05-11", "2026-05-17", "week"),
        ("last week", "2026-05-04", "2026-05-10", "week"),
        ("next month", "2026-06-01", "2026-06-30", "month"),
        ("back in april", "2026-04-01", "2026-04-30", "month"),
        ("it can wait till fall", "2026-09-01", "2026-11-30", "vague"),
        ("the last two weeks", "2026-04-29", "2026-05-13", "past"),
    ],
)
def test_spans(text: str, day: str, until: str, kind: str) -> None:
    when = read_dates(text, WEDNESDAY)[0]
    assert (when.day.isoformat(), when.until.isoformat(), when.kind) == (day, until, kind)


@pytest.mark.parametrize(
    "text",
    [
        "five hundred miles from now", "the next oil change", "the third groove", "in third gear",
        "it may be the pump", "in ten hours", "march it down the road", "2,392 miles in 15 days",
        "the second the door opened", "every saturday", "the fourth bolt", "check it again in ten hours",
    ],
)  # fmt: skip
def test_no_date(text: str) -> None:
    assert read_dates(text, WEDNESDAY) == []


def test_next_saturday_is_sure_only_at_the_weeks_end() -> None:
    """Said on a Sunday or Saturday it has one meaning; in mid-week people differ."""
    sunday = read_dates("next saturday", datetime(2026, 5, 10, 9))[0]
    assert (sunday.day, sunday.certain) == (date(2026, 5, 16), True)
    saturday = read_dates("i will do the pads next saturday", datetime(2026, 3, 14, 9))[0]
    assert (saturday.day, saturday.certain) == (date(2026, 3, 21), True)
    assert not read_dates("next saturday", WEDNESDAY)[0].certain


def test_in_the_morning_is_the_next_one() -> None:
    assert first("wiped it dry and i will look again in the morning", datetime(2026, 10, 11, 8)) == date(2026, 10, 12)
    assert first("it is stiff in the morning") is None


def test_two_names_of_one_day_are_one() -> None:
    found = read_dates("alright its labor day monday", datetime(2026, 9, 7, 17))
    assert [w.day for w in found] == [date(2026, 9, 7)]


def test_places_are_those_of_the_text() -> None:
    text = "I'll do them on Saturday."
    when = read_dates(text, WEDNESDAY)[0]
    assert text[when.start : when.end] == "Saturday"


def test_dateparser_is_not_loaded_for_common_talk() -> None:
    code = (
        "import sys; from datetime import datetime; from diary.language.dates import read_dates; "
        "read_dates('yesterday i did it and next saturday the rest by the nineteenth', datetime(2026, 5, 13)); "
        "assert 'dateparser' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@settings(max_examples=300, deadline=None)
@given(st.dates(date(2020, 1, 1), date(2035, 12, 31)), st.dates(date(2020, 1, 1), date(2035, 12, 31)))
def test_a_written_date_reads_back(day: date, now: date) -> None:
    when = datetime(now.year, now.month, now.day, 12)
    spoken = f"{day:%B} {day.day}, {day.year}"
    for text in (day.isoformat(), spoken, spoken.lower(), f"{day.day} {day:%B} {day.year}"):
        assert first(text, when) == day


WORDS = [
    "the",
    "first",
    "of",
    "june",
    "in",
    "two",
    "weeks",
    "last",
    "next",
    "this",
    "saturday",
    "on",
    "by",
    "monday",
    "week",
    "month",
    "ago",
    "from",
    "now",
    "third",
    "may",
    "31",
    "2026",
    "weekend",
    "end",
    "february",
    "30",
]


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=10), st.dates(date(2020, 1, 1), date(2035, 12, 31)))
def test_any_pile_of_date_words_is_read_without_an_error(words: list[str], now: date) -> None:
    for when in read_dates(" ".join(words), datetime(now.year, now.month, now.day)):
        assert when.day <= when.until
