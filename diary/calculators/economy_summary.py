"""Several spans taken together: overall, by window of time, by month, since an event, best and worst."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import sqrt

from diary.calculators.economy_units import economy_value, quotient_spread
from diary.calculators.fuel_records import Span, Summary


def overall(several: Sequence[Span]) -> Summary | None:
    """All of `several` together: total distance ÷ total fuel (for mpg the mean weighted by distance, harmonically).
    None if there is none.

    Where one span ends at the brim at which the next begins, the unevenness of that brim cancels and is counted once
    for the chain.
    """
    return _combined(several, [1.0] * len(several))


def _combined(several: Sequence[Span], shares: Sequence[float]) -> Summary | None:
    chosen = [(s, w) for s, w in zip(several, shares, strict=True) if w > 0]
    if not chosen:
        return None
    first = chosen[0][0]
    distance = sum(s.distance * w for s, w in chosen)
    fuel = sum(s.fuel * w for s, w in chosen)
    distance_var = fuel_var = 0.0
    last: Span | None = None
    for s, w in chosen:
        joined = last is not None and last.to_note == s.from_note and w == 1.0
        fuel_var += (s.pump_sd * w) ** 2 + (0.0 if joined else 2 * s.brim_sd**2)
        distance_var += 0.0 if joined and s.measured_by != "trip" else (s.distance_sd * w) ** 2
        last = s
    value = economy_value(distance, fuel, first.distance_unit, first.fuel_unit, first.unit)
    costs = [s.cost for s, _ in chosen]
    cost = (
        sum(c * w for c, (_, w) in zip(costs, chosen, strict=True) if c is not None)
        if all(c is not None for c in costs)
        else None
    )
    return Summary(
        value=value,
        unit=first.unit,
        plus_minus=quotient_spread(value, distance, sqrt(distance_var), fuel, sqrt(fuel_var)),
        distance=distance,
        distance_unit=first.distance_unit,
        fuel=fuel,
        fuel_unit=first.fuel_unit,
        spans=[s for s, _ in chosen],
        estimated=any(s.estimated for s, _ in chosen),
        cost=cost,
    )


def in_window(several: Sequence[Span], start: datetime, end: datetime) -> Summary | None:
    """Economy between two moments: the spans that touch them, weighted by the distance driven inside.

    What a span that reaches outside contributes is split by time, so it is an estimate; `remark` says which part.
    """
    shares = []
    outside: list[Span] = []
    for s in several:
        length = (s.to_at - s.from_at) / timedelta(seconds=1)
        overlap = (min(s.to_at, end) - max(s.from_at, start)) / timedelta(seconds=1)
        share = max(0.0, min(1.0, overlap / length)) if length > 0 else float(start <= s.to_at <= end)
        shares.append(share)
        if 0 < share < 1:
            outside.append(s)
    summary = _combined(several, shares)
    if summary is None or not outside:
        return summary
    parts = []
    for s in outside:
        ends = f"{s.from_at:%B} {s.from_at.day} to {s.to_at:%B} {s.to_at.day}"
        parts.append(f"the tank of {ends} reaches outside, its part is estimated by days")
    summary.estimated = True
    summary.remark = "; ".join(parts)
    if len(summary.spans) == 1:
        # One tank touches it: say that tank whole, rather than a made-up part of it.
        only = overall(summary.spans)
        assert only is not None
        only.estimated, only.remark = True, summary.remark
        return only
    return summary


def this_week(several: Sequence[Span], now: datetime) -> Summary | None:
    """Economy since Monday 00:00 (ISO 8601 weeks) up to `now`, by the spans that touch it."""
    monday = (now - timedelta(days=now.weekday())).replace(hour=0, minute=0, second=0, microsecond=0)
    return in_window(several, monday, now)


def since(several: Sequence[Span], when: datetime) -> Summary | None:
    """Economy since an event: the spans that begin after it; if there is none yet, the one that was under way, marked
    estimated.
    """
    after = [s for s in several if s.from_at >= when]
    if after:
        return overall(after)
    under_way = [s for s in several if s.from_at < when < s.to_at]
    summary = overall(under_way)
    if summary is not None:
        summary.estimated = True
        summary.remark = "no tank lies wholly after it yet; this one was begun before"
    return summary


def by_month(several: Sequence[Span]) -> dict[str, Summary]:
    """Economy by calendar month ("2026-05"), oldest first. A span counts in the month of the fill that closed it, so
    months add up.
    """
    groups: dict[str, list[Span]] = {}
    for s in several:
        groups.setdefault(f"{s.to_at:%Y-%m}", []).append(s)
    return {month: found for month, group in sorted(groups.items()) if (found := overall(group)) is not None}


def best_and_worst(several: Sequence[Span]) -> tuple[Span, Span] | None:
    """(best, worst) span by fuel burned per distance or hour, whatever way its unit counts. None if there is none."""
    if not several:
        return None
    ordered = sorted(several, key=lambda s: s.fuel / s.distance)
    return ordered[0], ordered[-1]
