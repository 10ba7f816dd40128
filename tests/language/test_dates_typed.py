"""Days as they are typed or said in haste: short weekdays, slashed dates in the locale's order, bare ordinals."""

from __future__ import annotations

from datetime import datetime

import pytest

from diary.language.dates import read_dates

TUESDAY = datetime(2026, 4, 14, 10, 0)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("will fit pads sat", "2026-04-18"),
        ("60cm + 40cm, do sat", "2026-04-18"),
        ("recheck sat am", "2026-04-18"),
        ("hub nut thu 11h", "2026-04-16"),
        ("gasket tonite if no rain", "2026-04-14"),
        ("bleed it tmrw", "2026-04-15"),
        ("tues latest", "2026-04-14"),
        ("pan drop sun 19/4", "2026-04-19"),
        ("back to it mon 4/5", "2026-05-04"),
        ("booked garage tues 21st to do it", "2026-04-21"),
        ("booked 25/4", "2026-04-25"),
        ("parts by 30th", "2026-04-30"),
        ("I fit it on the 30th", "2026-04-30"),
        ("sat: pads", "2026-04-18"),
        ("Next one at 66,902 or March 30th.", "2027-03-30"),
    ],
)
def test_typed_day(text: str, day: str) -> None:
    found = read_dates(text, TUESDAY, month_first=False)
    assert found and found[0].day.isoformat() == day, found


@pytest.mark.parametrize(
    "text",
    [
        "it just sat.",
        "the box sat there",
        "left it out in the sun",
        "3/8 bolt on a 1/2 drive",
        "if id known wed have gone",
        "9/10 for finish",
        "12th gear",
        "the car sat outside",
    ],
)
def test_no_day(text: str) -> None:
    assert read_dates(text, TUESDAY, month_first=False) == []


def test_slashed_days_follow_the_locale() -> None:
    """Common practice, no source: the month first where gallons are US ones, the day first elsewhere."""
    (there,) = read_dates("goes in sat 4/7", datetime(2026, 6, 27), month_first=False)
    (here,) = read_dates("goes in tue 4/7", datetime(2026, 3, 27), month_first=True)
    assert (there.day.isoformat(), here.day.isoformat()) == ("2026-07-04", "2026-04-07")
    (only,) = read_dates("since 25/4", datetime(2026, 6, 27), month_first=True)
    assert only.day.isoformat() == "2026-04-25"


def test_a_span_of_two_slashed_days() -> None:
    found = read_dates("mpg 9/11 to 9/15", datetime(2026, 9, 20))
    assert [w.day.isoformat() for w in found] == ["2026-09-11", "2026-09-15"]
