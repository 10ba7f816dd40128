"""Maintenance intervals (project check values, section 8); months as dateutil's relativedelta adds them."""

from datetime import date, timedelta

import pytest

from diary.calculators import intervals
from diary.calculators.intervals import next_due
from tests.outside.figures import agrees


def test_oil_by_distance_or_time() -> None:
    due = next_due(
        done_on=date(2026, 1, 10),
        done_distance=42150,
        every_distance=5000,
        every_months=6,
        now=date(2026, 4, 15),
        now_distance=45900,
    )
    assert due.distance == 47150 and due.on == date(2026, 7, 10)
    assert due.distance_left == 1250 and due.first == "distance"
    rate = (45900 - 42150) / 95
    assert agrees(rate, "39.474") and agrees(intervals.days_until(1250, rate), "31.67")
    assert due.day in (date(2026, 5, 16), date(2026, 5, 17))
    assert not due.overdue and "whichever comes first" in due.text


def test_brake_fluid_overdue_by_time() -> None:
    due = next_due(
        done_on=date(2024, 3, 31),
        done_distance=20000,
        every_distance=30000,
        every_months=24,
        now=date(2026, 4, 15),
        now_distance=31000,
    )
    assert due.on == date(2026, 3, 31) and due.distance == 50000
    assert due.days_left == -15 and due.distance_left == 19000 and due.first == "date" and due.overdue


def test_engine_hours() -> None:
    due = next_due(done_hours=310.0, every_hours=250, now=date(2026, 5, 1), now_hours=548.5, hours_per_day=3.0)
    assert due.hours == 560.0 and due.hours_left == 11.5
    assert agrees(intervals.days_until(11.5, 3.0), "3.83")
    assert due.day in (date(2026, 5, 4), date(2026, 5, 5))


def test_never_done() -> None:
    due = next_due(every_distance=5000, now=date(2026, 5, 1), now_distance=45000)
    assert due.distance is None and due.first is None and "not on record" in due.text


def test_chain_overdue() -> None:
    due = next_due(done_distance=18240, every_distance=500, now=date(2026, 5, 1), now_distance=18795, unit="km")
    assert due.distance == 18740 and due.distance_left == -55 and due.overdue and "overdue by 55 km" in due.text


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        ("2026-01-31", 1, "2026-02-28"),
        ("2024-01-31", 1, "2024-02-29"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2025-11-30", 3, "2026-02-28"),
        ("2026-08-31", 6, "2027-02-28"),
    ],
)
def test_months(start: str, months: int, end: str) -> None:
    assert intervals.add_months(date.fromisoformat(start), months) == date.fromisoformat(end)


def test_months_are_not_thirty_days() -> None:
    assert date(2026, 1, 10) + timedelta(days=180) == date(2026, 7, 9) != intervals.add_months(date(2026, 1, 10), 6)


def test_on_a_wrong_odometer() -> None:
    assert agrees(intervals.indicated_interval(5000, 35 / 31.6063), "4515.2")
