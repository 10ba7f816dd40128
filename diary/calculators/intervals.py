"""When something is due next: by distance, hours or date, whichever comes first, or from how often it was done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from diary.errors import DiaryError


@dataclass(slots=True)
class Due:
    """Next due points, what is left to each (negative: overdue), and which comes first.

    `first` is "distance", "hours", "date" or None when nothing can be said; `day` is the expected day of the first due
    point, where the rate of use is known.
    """

    distance: float | None = None
    hours: float | None = None
    on: date | None = None
    distance_left: float | None = None
    hours_left: float | None = None
    days_left: int | None = None
    first: str | None = None
    day: date | None = None
    overdue: bool = False
    text: str = ""


def add_months(start: date, months: int) -> date:
    """The same day `months` later, clipped to the last day of a shorter month: 2026-01-31 + 1 is 2026-02-28."""
    from dateutil.relativedelta import relativedelta

    later: date = start + relativedelta(months=months)
    return later


def next_due(
    *,
    done_on: date | None = None,
    done_distance: float | None = None,
    done_hours: float | None = None,
    every_distance: float | None = None,
    every_hours: float | None = None,
    every_months: int | None = None,
    now: date,
    now_distance: float | None = None,
    now_hours: float | None = None,
    distance_per_day: float | None = None,
    hours_per_day: float | None = None,
    unit: str = "mi",
) -> Due:
    """Due point = done + interval on each count; the item is due at whichever comes first.

    Where a rate of use is not given, distance per day is taken from done to now. Without a done point there is no due
    point: it says so and does not start from zero. Raises DiaryError for an interval of zero or less.
    """
    for name, value in (("distance", every_distance), ("hours", every_hours), ("months", every_months)):
        if value is not None and not value > 0:
            raise DiaryError(f"An interval in {name} must be above zero, not {value:g}.")
    due = Due()
    days = (now - done_on).days if done_on else None
    whens: list[tuple[float, str]] = []
    if every_distance is not None and done_distance is not None:
        due.distance = done_distance + every_distance
        if now_distance is not None:
            due.distance_left = due.distance - now_distance
            rate = distance_per_day
            if rate is None and days and days > 0 and now_distance > done_distance:
                rate = (now_distance - done_distance) / days
            whens.append(_when(due.distance_left, rate, "distance"))
    if every_hours is not None and done_hours is not None:
        due.hours = done_hours + every_hours
        if now_hours is not None:
            due.hours_left = due.hours - now_hours
            rate = hours_per_day
            if rate is None and days and days > 0 and now_hours > done_hours:
                rate = (now_hours - done_hours) / days
            whens.append(_when(due.hours_left, rate, "hours"))
    if every_months is not None and done_on is not None:
        due.on = add_months(done_on, every_months)
        due.days_left = (due.on - now).days
        whens.append((float(due.days_left), "date"))
    due.overdue = any(left is not None and left < 0 for left in (due.distance_left, due.hours_left, due.days_left))
    if whens:
        in_days, due.first = min(whens)
        if abs(in_days) < 36500:
            due.day = now + timedelta(days=int(in_days) if in_days >= 0 else -int(-in_days))
    due.text = _worded(due, unit)
    return due


def _when(left: float, rate: float | None, name: str) -> tuple[float, str]:
    """(days until then, name); already past counts as before anything not yet past, unknown rate as after all."""
    if rate:
        return left / rate, name
    return (0.0 if left <= 0 else 1e9), name


def _worded(due: Due, unit: str) -> str:
    parts = []
    if due.distance is not None:
        parts.append(f"at {due.distance:,.0f} {unit}" + _left(due.distance_left, unit))
    if due.hours is not None:
        parts.append(f"at {due.hours:,.1f} h" + _left(due.hours_left, "h"))
    if due.on is not None:
        parts.append(f"on {due.on.isoformat()}" + _left(due.days_left, "days"))
    if not parts:
        return "it is not on record when this was last done, so there is no due point"
    text = "due " + " or ".join(parts)
    if len(parts) > 1:
        text += ", whichever comes first"
        if due.first:
            text += f"; the {'time' if due.first == 'date' else due.first} comes first"
    return text


def _left(left: float | None, unit: str) -> str:
    if left is None:
        return ""
    amount = f"{abs(left):,.1f}".removesuffix(".0")
    return f" ({amount} {unit} left)" if left >= 0 else f" (overdue by {amount} {unit})"


def days_until(left: float, per_day: float) -> float:
    """Days until a remaining distance or running time is used up at a steady rate."""
    if not per_day > 0:
        raise DiaryError(f"A rate of use must be above zero, not {per_day:g} a day.")
    return left / per_day


@dataclass(slots=True)
class Habit:
    """How often something was done: the middle gap between times, its spread, and how many gaps it rests on."""

    typical: float
    spread: float
    count: int
    unit: str
    next_at: float


def from_history(points: Sequence[float], unit: str = "mi") -> Habit:
    """Interval from history where none is given: the median gap between the points (odometer, hours or day numbers).

    `spread` is the scaled median absolute deviation (× 1.4826, a robust standard deviation); `next_at` the last point
    plus the median. Needs two points at least.
    """
    ordered = sorted(set(points))
    if len(ordered) < 2:
        raise DiaryError("How often it was done needs at least two times on record.")
    gaps = [b - a for a, b in pairwise(ordered)]
    typical = _median(gaps)
    spread = 1.4826 * _median([abs(g - typical) for g in gaps])
    return Habit(typical, spread, len(gaps), unit, ordered[-1] + typical)


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2


def indicated_interval(true_interval: float, factor: float) -> float:
    """Interval to count on a wrong odometer: true ÷ (true ÷ indicated). 5,000 mi with factor 1.10737: 4515.2."""
    if not true_interval > 0 or not 0.5 <= factor <= 2:
        raise DiaryError("An interval must be above zero and a meter factor from 0.5 to 2.")
    return true_interval / factor


def idle_as_distance(hours: float, per_hour: float) -> float:
    """Idle hours as distance for oil wear. 25 to 33 miles per hour is quoted; doubtful, so only on request."""
    if hours < 0 or not 0 < per_hour <= 60:
        raise DiaryError("Idle hours are zero or more, and an hour stands for up to 60 miles.")
    return hours * per_hour
