"""Answers about fuel: economy over any window, distance, volumes, money, range. Figures come from `calculators`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer, cannot, value
from diary.assistant.facts import Facts, Moment, entity, find_event
from diary.assistant.questions import Query
from diary.assistant.windows import Point, Window
from diary.assistant.words import overlap, table
from diary.errors import DiaryError


def windows_table(name: str) -> Any:
    """A table of data/windows.toml."""
    return table("windows")[name]


def _start(day: date) -> datetime:
    return datetime.combine(day, time())


def _end(day: date) -> datetime:
    return datetime.combine(day, time(23, 59, 59))


def _say_span(span: Any) -> str:
    return f"{spoken.figure(span.distance, span.distance_unit)} on {spoken.figure(span.fuel, span.fuel_unit)}"


def _summary(
    found: Any, lead: str, *, records: Sequence[str] = (), certain: bool | None = None, place: int | None = None
) -> Answer:
    """An answer from a calculators Summary or Span."""
    spread = found.plus_minus
    text = f"{lead}{spoken.figure(found.value, found.unit)}: {_say_span(found)}"
    remark = getattr(found, "remark", "") or "; ".join(getattr(found, "flags", ()) or ())
    if remark:
        text += f"; {remark}"
    return Answer(
        spoken.sentence(text),
        [
            value(found.value, found.unit, spread),
            value(found.distance, found.distance_unit),
            value(found.fuel, found.fuel_unit),
        ],
        list(records),
        (not found.estimated) if certain is None else certain,
        place=place,
    )


def _fill_ids(facts: Facts, spans: Sequence[Any]) -> list[str]:
    """The fills that spans rest on: their brims and everything put in between."""
    ids = []
    for fill in facts.records("fills"):
        at = datetime.fromisoformat(fill.at)
        if any(s.from_at <= at <= s.to_at for s in spans):
            ids.append(fill.id)
    return ids


def _gap(gap: Any) -> Answer:
    return cannot(spoken.sentence(f"That can't be worked out: {gap.text}"))


def when(facts: Facts, point: Point, query: Query, first: bool = False) -> Moment | None:
    """The moment of a window's point: the day's own fill or note for days, the event for events."""
    if point.kind == "event" and point.words:
        moment = find_event(facts, point.words, query.stems)
        if moment is not None or point.day is None:
            return moment
    if point.day is not None:
        at = _start(point.day)
        return Moment(at, -1, 0, "", None, spoken.day(point.day))
    if point.kind == "fill":
        fills = facts.records("fills")
        return facts.moment(fills[0 if first else -1], "the fill") if fills else None
    return None


def _nearest_brim(facts: Facts, point: Point, query: Query) -> Any | None:
    """The fill to the brim that a window's end means: that day's, or the nearest one before it."""
    fills = [f for f in facts.records("fills") if f.to_brim]
    if point.day is not None:
        days = [(abs((date.fromisoformat(f.at[:10]) - point.day).days), f) for f in fills]
        on = [f for d, f in days if d == 0]
        if on:
            return on[-1]
        near = sorted(((d, f.at, f) for d, f in days if d <= 3), key=lambda r: (r[0], r[1]))
        return near[0][2] if near else None
    moment = when(facts, point, query)
    if moment is None:
        return None
    return min(fills, key=lambda f: abs(datetime.fromisoformat(f.at) - moment.at), default=None)


def economy(facts: Facts, query: Query, now: datetime, previous: Answer | None = None) -> Answer:
    """Economy over the question's window, or why it can't be worked out."""
    from diary.calculators import economy as calc

    spans, gaps = facts.economy()
    window = query.window
    if not spans:
        if gaps:
            return _gap(gaps[-1])
        fills = facts.records("fills")
        brims = [f for f in fills if f.to_brim]
        if not fills:
            return cannot("No fill has been noted yet, so there is no economy to work out.")
        if len(brims) < 2:
            return cannot(
                "That can't be worked out yet: it takes two fills to the brim, and the distance between them."
            )
        return cannot("That can't be worked out: the distance between the fills was not noted.")
    better = (lambda s: s.value) if not _inverse(spans[0].unit) else (lambda s: -s.value)
    if "best" in query.aspects or "worst" in query.aspects:
        inside = _in(spans, window, facts, query) or spans
        word = "best" if "best" in query.aspects else "worst"
        chosen = max(inside, key=better) if word == "best" else min(inside, key=better)
        lead = f"The {word} tank was the one filled on {spoken.day(chosen.to_at, now.date())}: "
        return _summary(chosen, lead, records=_fill_ids(facts, [chosen]), place=spans.index(chosen) - len(spans))
    if "trend" in query.aspects and window.kind not in ("around",) and len(spans) >= 3:
        from diary.calculators.trend import trend

        line = trend(_in(spans, window, facts, query) if len(_in(spans, window, facts, query)) >= 3 else spans)
        per = spoken.figure(abs(line.slope), spans[0].unit)
        way = "up" if line.slope > 0 else "down"
        clear = getattr(line, "clear", False)
        text = (
            f"It goes {way} by {per} every 1000 {spoken.unit_name(spans[0].distance_unit)}"
            if clear
            else "There is no clear trend, the tanks differ by no more than chance"
        )
        rest = calc.overall(spans)
        assert rest is not None
        return Answer(
            spoken.sentence(f"{text}; overall it is {spoken.figure(rest.value, rest.unit)}"),
            [value(rest.value, rest.unit, rest.plus_minus), value(line.slope, f"{spans[0].unit} per 1000")],
            _fill_ids(facts, spans),
            bool(clear),
        )
    if "compare" in query.aspects and _named_tanks(facts, query, spans, now) is not None:
        return _compare(facts, query, spans, now)
    if window.kind == "tank":
        return _tank(facts, query, spans, gaps, now, previous)
    if window.kind == "tanks":
        found = calc.overall(spans[-window.n :])
        assert found is not None
        return _summary(
            found, f"Over the last {min(window.n, len(spans))} tanks: ", records=_fill_ids(facts, spans[-window.n :])
        )
    if window.kind == "tank_with":
        return _tank_with(facts, window, spans, gaps)
    if window.kind == "between" and window.first and window.second:
        return _between(facts, query, spans, gaps, now)
    if window.kind == "around" or (window.second and window.kind == "days") or "compare" in query.aspects:
        return _compare(facts, query, spans, now)
    if window.kind == "since" and window.first:
        moment = when(facts, window.first, query)
        if moment is None and _only_tank(window.first):
            return _summary(calc.overall(spans), "Overall ", records=_fill_ids(facts, spans))
        if moment is None:
            return cannot(spoken.sentence(f"I have no note of {_unmarked(window.first)}, so I can't tell since when"))
        found = calc.since(spans, moment.at)
        if found is None:
            late = [g for g in gaps if g.to_at >= moment.at]
            return (
                _gap(late[-1])
                if late
                else cannot("That can't be worked out yet: no tank has been filled to the brim twice since then.")
            )
        return _summary(found, f"Since {_label(moment, now)}: ", records=_fill_ids(facts, found.spans))
    if window.kind in ("before", "at") and window.first:
        moment = when(facts, window.first, query)
        if moment is None:
            return cannot(spoken.sentence(f"I have no note of {_unmarked(window.first)}, so I can't tell before when"))
        if window.kind == "before":
            chosen = [
                s for s in spans if s.to_at <= moment.at or (window.first.day and s.to_at.date() <= window.first.day)
            ]
        else:
            chosen = [s for s in spans if s.from_at <= moment.at <= s.to_at]
        found = calc.overall(chosen)
        return (
            _summary(
                found,
                f"{'Before' if window.kind == 'before' else 'On the tank of'} {_label(moment, now)}: ",
                records=_fill_ids(facts, chosen),
            )
            if found
            else cannot("That can't be worked out: no tank before then was measured from brim to brim.")
        )
    if window.kind in ("days", "first_weekend"):
        start, end = _days(facts, window)
        inside = [s for s in spans if start <= s.from_at and s.to_at <= end]
        if window.kind == "first_weekend" and inside:
            found = calc.overall(inside)
        elif window.start and window.end and (window.end - window.start).days >= 20:
            found = calc.overall([s for s in spans if start <= s.to_at <= end])
        elif window.start == window.end:
            found = calc.overall([s for s in spans if s.to_at.date() == window.start]) or calc.in_window(
                spans, start, end
            )
        else:
            found = calc.in_window(spans, start, min(end, now) if now >= start else end)
        if found is None:
            late = [g for g in gaps if start <= g.to_at <= end]
            if late:
                return _gap(late[-1])
            return cannot(
                spoken.sentence(
                    f"That can't be worked out: no tank was measured from brim to brim {window.label or 'then'}"
                )
            )
        return _summary(found, f"{window.label[:1].upper()}{window.label[1:]}: ", records=_fill_ids(facts, found.spans))
    total = calc.overall(spans)
    assert total is not None
    last = spans[-1]
    if window.said or "average" in query.aspects:
        return _summary(total, "Overall ", records=_fill_ids(facts, spans))
    if query.follow and {"that", "it"} & set(query.all_words):
        broken = [g for g in gaps if g.to_at > last.to_at]
        if broken:
            return _gap(broken[-1])
        return _summary(last, "", records=_fill_ids(facts, [last]), place=-1)
    if len(spans) == 1:
        return _summary(last, "On the last tank ", records=_fill_ids(facts, [last]), place=-1)
    answer = _summary(last, "On the last tank ", records=_fill_ids(facts, spans), place=-1)
    answer.answer = f"{answer.answer} {spoken.sentence(f'Overall {spoken.figure(total.value, total.unit)}')}"
    answer.values.append(value(total.value, total.unit, total.plus_minus))
    return answer


def _inverse(unit: str) -> bool:
    """Whether less is better."""
    return unit.startswith("L_per") or unit.endswith("_per_h")


def _unmarked(point: Point) -> str:
    return " ".join(w for w in point.words if w not in ("i", "we")) or "that"


def _label(moment: Moment, now: datetime) -> str:
    day = spoken.day(moment.at, now.date())
    return day if not moment.label or moment.label == day else f"{moment.label}, {day}"


def _in(spans: Sequence[Any], window: Window, facts: Facts, query: Query) -> list[Any]:
    if window.kind == "days" and window.start and window.end:
        return [s for s in spans if _start(window.start) <= s.to_at <= _end(window.end)]
    if window.kind == "since" and window.first and (m := when(facts, window.first, query)):
        return [s for s in spans if s.to_at >= m.at]
    return list(spans)


def _days(facts: Facts, window: Window) -> tuple[datetime, datetime]:
    """The first and last moment of a window of days."""
    if window.kind == "first_weekend":
        notes = facts.notes()
        first = date.fromisoformat(next(iter(notes.values())).at[:10]) if notes else date.today()
        saturday = first + timedelta(days=(5 - first.weekday()) % 7)
        if first.weekday() == 6:
            saturday = first - timedelta(days=1)
        return _start(saturday), _end(saturday + timedelta(days=1))
    assert window.start and window.end
    return _start(window.start), _end(window.end)


def _tank(
    facts: Facts, query: Query, spans: list[Any], gaps: list[Any], now: datetime, previous: Answer | None
) -> Answer:
    """The n-th tank, the one before or after what was last spoken of, or the one filled on a day."""
    window = query.window
    if window.second and window.second.day:
        day = window.second.day
        chosen = [s for s in spans if s.to_at.date() == day] or [s for s in spans if s.from_at.date() == day]
        if chosen:
            return _summary(
                chosen[0],
                f"Up to {spoken.day(chosen[0].to_at, now.date())}: ",
                records=_fill_ids(facts, chosen[:1]),
                place=spans.index(chosen[0]) - len(spans),
            )
        broken = [g for g in gaps if g.to_at.date() == day]
        if broken:
            return _gap(broken[0])
        return cannot(
            spoken.sentence(
                f"That can't be worked out: no tank was filled to the brim on {spoken.day(day, now.date())}"
            )
        )
    place = window.n
    if "relative" in window.words:
        base = previous.place if previous and previous.place is not None else -1
        place = base + (1 if "after" in window.words else -1)
        if place >= 0:
            return cannot("There is no tank after that one yet.")
    elif place > 0:
        place = place - 1 - len(spans)
    if not -len(spans) <= place < 0:
        return cannot(
            f"That can't be worked out: only {len(spans)} {'tank was' if len(spans) == 1 else 'tanks were'} "
            "measured from brim to brim."
        )
    span = spans[place]
    if window.n == -2 and "relative" not in window.words:  # what lies between the two is the tank before last
        between = [g for g in gaps if span.to_at < g.to_at <= spans[-1].from_at]
        if between:
            return _gap(between[-1])
    if place == -1:
        broken = [g for g in gaps if g.to_at > span.to_at]
        if broken:
            return _gap(broken[-1])
    lead = {-1: "On the last tank ", -2: "On the tank before "}.get(
        place, f"On the tank of {spoken.day(span.to_at, now.date())} "
    )
    return _summary(span, lead, records=_fill_ids(facts, [span]), place=place)


def _tank_with(facts: Facts, window: Window, spans: list[Any], gaps: list[Any]) -> Answer:
    """The tank during which most was said of the window's words."""
    from diary.assistant.words import stem

    stems = [stem(w) for w in window.words]
    stems = entity(stems) or stems
    counts: dict[int, float] = {}
    for note in facts.notes().values():
        share = overlap(stems, note.text)
        if share < 0.6:
            continue
        at = datetime.fromisoformat(note.at)
        for i, s in enumerate(spans):
            if s.from_at < at <= s.to_at:
                counts[i] = counts.get(i, 0.0) + share
    if not counts:
        return cannot(spoken.sentence(f"I have no measured tank with {' '.join(window.words)} in it"))
    place = max(counts, key=lambda i: (counts[i], i))
    return _summary(
        spans[place],
        f"The tank up to {spoken.day(spans[place].to_at)}: ",
        records=_fill_ids(facts, [spans[place]]),
        place=place - len(spans),
    )


def _between(facts: Facts, query: Query, spans: list[Any], gaps: list[Any], now: datetime) -> Answer:
    from diary.calculators import economy as calc

    first, second = query.window.first, query.window.second
    assert first and second
    one, two = _nearest_brim(facts, first, query), _nearest_brim(facts, second, query)
    if one is None or two is None:
        which = first if one is None else second
        return cannot(
            spoken.sentence(
                "That can't be worked out: there is no fill to the brim "
                f"{'on ' + spoken.day(which.day) if which.day else 'there'}"
            )
        )
    if one.at > two.at:
        one, two = two, one
    start, end = datetime.fromisoformat(one.at), datetime.fromisoformat(two.at)
    chosen = [s for s in spans if s.from_at >= start and s.to_at <= end]
    broken = [g for g in gaps if start < g.to_at <= end]
    joined = bool(chosen) and chosen[0].from_note == one.note and chosen[-1].to_note == two.note
    if broken or not joined:
        if broken:
            return _gap(broken[-1])
        return cannot("That can't be worked out: a fill in between was not measured from brim to brim.")
    found = calc.overall(chosen)
    assert found is not None
    lead = f"From {spoken.day(one.at, now.date())} to {spoken.day(two.at, now.date())}: "
    return _summary(found, lead, records=_fill_ids(facts, chosen), place=spans.index(chosen[-1]) - len(spans))


def _compare(facts: Facts, query: Query, spans: list[Any], now: datetime) -> Answer:
    """Two groups of tanks against each other, and whether the difference is more than chance."""
    from diary.calculators import economy as calc

    window = query.window
    tanks = _named_tanks(facts, query, spans, now)
    if tanks is not None:
        a, b, names = tanks
    elif window.first and window.kind in ("around", "since", "before", "at"):
        moment = when(facts, window.first, query)
        if moment is None:
            return cannot(
                spoken.sentence(f"I have no note of {_unmarked(window.first)}, so there is nothing to compare")
            )
        a, b = _sides(spans, moment.at)
        names = (f"before {_label(moment, now)}", "after")
    elif window.kind == "days" and window.second and window.second.day and window.start and window.end:
        first = (window.start, window.end)
        second = (window.second.day, window.second.last or window.second.day)
        (a0, a1), (b0, b1) = sorted((first, second))
        a = [s for s in spans if _start(a0) <= s.to_at <= _end(a1)]
        b = [s for s in spans if _start(b0) <= s.to_at <= _end(b1)]
        names = (_stretch(a0, a1, now), _stretch(b0, b1, now))
    elif window.kind == "days" and window.start and window.end:
        length = window.end - window.start + timedelta(days=1)
        a0, a1 = window.start - length, window.start - timedelta(days=1)
        if length.days >= 28:
            a0 = (window.start - timedelta(days=1)).replace(day=1)
        a = [s for s in spans if _start(a0) <= s.to_at <= _end(a1)]
        b = [s for s in spans if _start(window.start) <= s.to_at <= _end(window.end)]
        whole_month = window.label in {m.lower() for m in spoken.MONTHS}
        names = (_stretch(a0, a1, now), f"in {window.label.capitalize()}" if whole_month else window.label)
    else:
        about = entity(query.stems)
        moment = find_event(facts, [w for w in query.about], ()) if about else None
        if moment is not None:
            a, b = _sides(spans, moment.at)
            names = (f"before {_label(moment, now)}", "after")
        else:
            a, b, names = spans[:-1], spans[-1:], ("before", "on the last tank")
    if not a and len(b) > 1 and window.kind == "days" and not window.second:
        a, b, names = (
            b[:1],
            b[-1:],
            ("on the first tank of it", "on the last"),
        )  # nothing before: those of it among themselves
    x, y = calc.overall(a), calc.overall(b)
    if x is None or y is None:
        missing = names[0] if x is None else names[1]
        have = y if x is None else x
        text = f"I can't compare: no tank was measured from brim to brim {missing}"
        if have is not None:
            text += f"; {names[1] if x is None else names[0]} it was {spoken.figure(have.value, have.unit)}"
        answer = cannot(spoken.sentence(text))
        if have is not None:
            answer.values = [value(have.value, have.unit, have.plus_minus)]
        return answer
    text = f"{spoken.figure(y.value, y.unit)} {names[1]} against {spoken.figure(x.value, x.unit)} {names[0]}"
    try:
        from diary.calculators.trend import more_than_noise

        clear = more_than_noise(a, b).clear
        text += "; that is more than chance" if clear else "; that could be chance"
    except DiaryError:
        pass  # too few tanks to judge by
    return Answer(
        spoken.sentence(text),
        [value(y.value, y.unit, y.plus_minus), value(x.value, x.unit, x.plus_minus)],
        _fill_ids(facts, [*a, *b]),
        not (x.estimated or y.estimated),
    )


def _sides(spans: Sequence[Any], at: datetime) -> tuple[list[Any], list[Any]]:
    """The tanks before and after a moment; one that it falls within counts where nine tenths of its time lie on that side."""
    before, after = [], []
    for s in spans:
        share = (at - s.from_at) / (s.to_at - s.from_at) if s.to_at > s.from_at else 0.0
        if share >= 0.9:
            before.append(s)
        elif share <= 0.1:
            after.append(s)
    return before, after


def _named_tanks(
    facts: Facts, query: Query, spans: list[Any], now: datetime
) -> tuple[list[Any], list[Any], tuple[str, str]] | None:
    """Two tanks set against each other ("the first or the last", "than when i started"), the earlier first."""
    from diary.assistant.words import table

    rows = table("windows")
    tokens = query.all_words
    window = query.window
    ordinals = {*rows["tank_on"], "last"} & set(tokens)
    if window.kind == "before" and window.first and window.first.day and "last" in tokens:
        day = window.first.day
        mine = [s for s in spans if s.to_at.date() == day] or [s for s in spans if s.to_at.date() <= day][-1:]
        return (mine, spans[-1:], (window.label, "on the last tank")) if mine and mine[0] is not spans[-1] else None
    if window.kind == "since" and window.first and _only_tank(window.first) and len(spans) > 1:
        return [spans[0]], [spans[-1]], ("on the first tank", "on the last")
    if window.kind in ("around", "since", "before") or (window.kind == "days" and len(ordinals) < 2):
        return None
    places: dict[int, str] = {}
    for i, word in enumerate(tokens):
        if query.window.kind == "between" and i in query.window.used and any(p.day for p in query.window.points):
            continue
        if word in rows["tank_on"] and not (i + 1 < len(tokens) and tokens[i + 1] in ("of", *rows["months"])):
            places[rows["tank_on"][word] - 1] = word
        elif word in ("last", "latest", "newest", "now", "lately"):
            places[len(spans) - 1] = "last"
        elif word in rows["whole_needs"]:
            places[0] = "first"
    days = [p for p in query.window.points if p.day is not None]
    if query.window.kind == "between" and query.window.first and query.window.second and days:
        one, two = _nearest_brim(facts, query.window.first, query), _nearest_brim(facts, query.window.second, query)
        inside = [
            s
            for s in spans
            if one and two and one.at <= s.from_at.isoformat() and s.to_at.isoformat()[:16] <= two.at[:16]
        ]
        if not inside or not places or max(places) >= len(spans):
            return None
        return inside, [spans[max(places)]], (query.window.label, "on the last tank")
    if len(places) == 1 and 0 in places:
        places[len(spans) - 1] = "last"
    elif (
        len(places) == 1
        and "compare" in query.aspects
        and (only := next(iter(places))) < len(spans)
        and tokens[-1] in _BETTER
    ):
        places[only - 1] = "one before"
    picked = sorted(p for p in places if 0 <= p < len(spans))
    if len(picked) != 2:
        return None
    x, y = picked
    return [spans[x]], [spans[y]], (f"on the {places[x]} tank", f"on the {places[y]}")


_BETTER = ("better", "worse")


def _only_tank(point: Point) -> bool:
    """Whether a point names no event but a tank of fuel ("since the first tank")."""
    from diary.assistant.words import is_stop, table

    rows = table("windows")
    meat = [w for w in point.words if not is_stop(w)]
    return point.day is None and bool(meat) and set(meat) <= {*rows["tank_words"], *rows["tank_on"]}


def _stretch(a: date, b: date, now: datetime) -> str:
    if (b - a).days >= 27 and a.day == 1 and (b + timedelta(days=1)).day == 1:
        return f"in {spoken.MONTHS[a.month - 1]}"
    return (
        f"from {spoken.day(a, now.date())} to {spoken.day(b, now.date())}"
        if a != b
        else f"on {spoken.day(a, now.date())}"
    )


# -- fills, money, range --


def chosen(facts: Facts, query: Query, rows: Sequence[Any], now: datetime) -> tuple[list[Any], str] | None:
    """The rows inside the question's window and what the window is called; None where its event is not known."""
    w = query.window
    if w.kind == "days" and w.start and w.end:
        days = spoken.day(w.start, now.date()) if w.start == w.end else w.label
        months = {m.lower() for m in spoken.MONTHS}
        lead = f"on {days}" if w.start == w.end else f"in {days.capitalize()}" if days in months else days
        return [r for r in rows if w.start.isoformat() <= r.at[:10] <= w.end.isoformat()], lead
    if w.kind == "first_weekend":
        a, b = _days(facts, w)
        return [r for r in rows if a.isoformat() <= r.at <= b.isoformat()], "on the first weekend"
    if w.kind in ("since", "before", "at") and w.first:
        moment = when(facts, w.first, query)
        if moment is None:
            return None
        keys = [(facts.moment(r).key, r) for r in rows]
        day_only = moment.order < 0
        if w.kind == "since":
            return [
                r for k, r in keys if (k[0] >= moment.at if day_only else k > moment.key)
            ], f"since {_label(moment, now)}"
        if w.kind == "before":
            last = _end(w.first.last or w.first.day) if day_only and w.first.day and "up" in w.label else moment.at
            return [
                r for k, r in keys if (k[0] <= last if day_only else k < moment.key)
            ], f"before {_label(moment, now)}"
        return [
            r for r in rows if (r.at[:10] == moment.at.date().isoformat() if day_only else r.note == moment.note)
        ], f"at {_label(moment, now)}"
    if w.kind == "between" and w.first and w.second:
        one, two = when(facts, w.first, query, True), when(facts, w.second, query)
        if one is None or two is None:
            return None
        last = _end(w.second.last or w.second.day) if w.second.day else two.at
        return [
            r for r in rows if one.at <= datetime.fromisoformat(r.at) <= last
        ], f"between {_label(one, now)} and {_label(two, now)}"
    if w.kind == "tank" and rows and w.n < 0 and len(rows) >= -w.n:
        return [rows[w.n]], "at the last fill" if w.n == -1 else "at the fill before"
    if w.kind == "tank" and rows and 0 < w.n <= len(rows):
        return [rows[w.n - 1]], "at the " + w.label.split()[-2] + " fill"
    if w.kind == "tanks" and rows:
        return list(rows[-w.n :]), f"at the last {w.n} fills"
    return list(rows), ""


def unknown_event(query: Query) -> Answer:
    """The answer where the window's event was never noted."""
    point = query.window.first
    return cannot(spoken.sentence(f"I have no note of {_unmarked(point) if point else 'that'}"))


def _whose(facts: Facts, query: Query, fills: list[Any]) -> tuple[list[Any], str]:
    """Fills that the asked-about words speak of ("my brother"), by the words of their notes."""
    about = entity(query.stems)
    if not about:
        return fills, ""
    named = [f for f in fills if overlap(about, facts.note_text(f.note)) >= 0.6]
    return named, query.named


def fuel_volume(facts: Facts, query: Query, now: datetime) -> Answer:
    """How much fuel went in, over a window or at one fill."""
    picked = chosen(facts, query, facts.records("fills"), now)
    if picked is None:
        return unknown_event(query)
    fills, lead = picked
    fills, who = _whose(facts, query, fills)
    if who:
        lead = f"{lead} by {who}".strip() if not lead else f"{lead} ({who})"
    if not fills:
        return cannot(spoken.sentence(f"No fill {lead} is noted" if lead else "No fill has been noted yet"))
    if (
        not query.window.said
        and not who
        and any(t in query.all_words for t in ("last", "fill", "take"))
        and "all" not in query.all_words
    ):
        fills, lead = fills[-1:], f"on {spoken.day(fills[-1].at, now.date())}"
    known = [f for f in fills if f.volume is not None]
    missing = [f for f in fills if f.volume is None]
    unit = facts.machine.volume
    ids = [f.id for f in fills]
    if not known:
        days = spoken.listed(spoken.day(f.at, now.date()) for f in missing)
        return Answer(
            spoken.sentence(
                f"That can't be worked out: the {_volume_word(unit)} of the fill on {days} "
                f"{'was' if len(missing) == 1 else 'were'} not noted, the volume is missing"
            ),
            [],
            ids,
            False,
        )
    total = sum(_in_unit(f.volume, f.unit or unit, unit) for f in known)
    text = f"{spoken.figure(total, unit)} {lead}"
    if len(known) > 1:
        text += (
            f", in {len(known)} fills"
            if len(known) > 4
            else f": {spoken.listed(spoken.digits(_in_unit(f.volume, f.unit or unit, unit)) for f in known)}"
        )
    if missing:
        text += f"; the volume on {spoken.listed(spoken.day(f.at, now.date()) for f in missing)} was not noted"
    return Answer(
        spoken.sentence(text),
        [value(total, unit), *(value(f.volume, f.unit or unit) for f in known[:6] if len(known) > 1)],
        ids,
        not missing,
    )


def _volume_word(unit: str) -> str:
    return spoken.unit_name(unit, 2)


def _in_unit(amount: float, unit: str, to: str) -> float:
    from diary.calculators.economy_units import LITRES

    return amount if unit == to else amount * LITRES[unit] / LITRES[to]


def fuel_cost(facts: Facts, query: Query, now: datetime) -> Answer:
    """Money paid for fuel in the window."""
    picked = chosen(facts, query, facts.records("fills"), now)
    if picked is None:
        return unknown_event(query)
    fills, lead = picked
    if not fills:
        return cannot(spoken.sentence(f"No fill {lead} is noted" if lead else "No fill has been noted yet"))
    priced = [f for f in fills if f.price_total is not None]
    ids = [f.id for f in fills]
    if not priced:
        return Answer(spoken.sentence(f"That can't be worked out: no price was noted {lead}"), [], ids, False)
    total = sum(f.price_total for f in priced)
    coin = facts.currency
    text = f"{spoken.money(total, coin)} on fuel {lead}, {len(priced)} {'fill' if len(priced) == 1 else 'fills'}"
    missing = len(fills) - len(priced)
    if missing:
        text += f"; {missing} {'has' if missing == 1 else 'have'} no price"
    return Answer(spoken.sentence(text), [value(total, coin)], ids, not missing)


def price(facts: Facts, query: Query, now: datetime) -> Answer:
    """What a gallon or litre cost."""
    picked = chosen(facts, query, facts.records("fills"), now)
    if picked is None:
        return unknown_event(query)
    fills, lead = picked
    own, who = _whose(facts, query, fills)
    if who and own:
        fills, lead = own, f"at {who}"
    priced = [f for f in fills if f.price_per_unit is not None or (f.price_total is not None and f.volume)]
    if not priced:
        return cannot(spoken.sentence(f"That can't be worked out: no fill {lead} has both a price and a volume"))
    coin = facts.currency

    def each(fill: Any) -> float:
        return float(fill.price_per_unit) if fill.price_per_unit is not None else float(fill.price_total / fill.volume)

    words = set(query.all_words)
    if words & {"average", "overall"} or (query.window.said and query.window.kind != "tank" and len(priced) > 1):
        whole = [f for f in priced if f.volume]
        total = (
            sum(each(f) * f.volume for f in whole) / sum(f.volume for f in whole)
            if whole
            else sum(map(each, priced)) / len(priced)
        )
        unit = f"{coin}_per_{priced[-1].unit or facts.machine.volume}"
        return Answer(
            spoken.sentence(f"{spoken.figure(total, unit)} on average {lead}"),
            [value(total, unit)],
            [f.id for f in priced],
        )
    fill = min(priced, key=each) if "cheapest" in words else max(priced, key=each) if "dearest" in words else priced[-1]
    if fill is priced[-1] and fills[-1] is not fill and not query.window.said:
        return Answer(
            spoken.sentence(
                f"The last fill has no price; the one of {spoken.day(fill.at, now.date())} was "
                f"{spoken.figure(each(fill), f'{coin}_per_{fill.unit or facts.machine.volume}')}"
            ),
            [value(each(fill), f"{coin}_per_{fill.unit or facts.machine.volume}")],
            [fill.id],
            False,
        )
    unit = f"{coin}_per_{fill.unit or facts.machine.volume}"
    return Answer(
        spoken.sentence(f"{spoken.figure(each(fill), unit)} on {spoken.day(fill.at, now.date())}"),
        [value(each(fill), unit)],
        [fill.id],
    )


def cost_per_distance(facts: Facts, query: Query, now: datetime) -> Answer:
    """Money per mile, kilometre or hour."""
    from diary.calculators.fuel_costs import cost_per_distance as calc

    spans, gaps = facts.economy()
    inside = _in(spans, query.window, facts, query)
    coin = next((f.currency for f in facts.records("fills") if f.currency), None) or facts.machine.currency
    cost = calc(inside, coin)
    if cost is None:
        return (
            _gap(gaps[-1])
            if gaps and not spans
            else cannot("That can't be worked out: no tank has both its distance and every price.")
        )
    per = cost.value
    unit = f"{coin}_per_{spans[0].distance_unit}"
    priced = [s for s in inside if s.cost is not None]
    distance = sum(s.distance for s in priced)
    values = [value(per, unit)]
    text = f"{spoken.figure(per, unit)} over {spoken.figure(distance, spans[0].distance_unit)}"
    if {"100", "hundred"} & set(query.all_words):
        values.append(value(per * 100, f"{coin}_per_100{spans[0].distance_unit}"))
        text = (
            f"{spoken.money(per * 100, coin)} per 100 {spoken.unit_name(spans[0].distance_unit)} "
            f"over {spoken.figure(distance, spans[0].distance_unit)}"
        )
    return Answer(spoken.sentence(text), values, _fill_ids(facts, priced), len(priced) == len(inside))


def range_left(facts: Facts, query: Query, now: datetime) -> Answer:
    """How far the fuel in the tank will take it, with a cautious figure."""
    from diary.assistant.machine_facts import tank_size
    from diary.calculators.tank import range_from_records
    from diary.records.figures import economy_inputs

    tank = tank_size(facts)
    if tank is None:
        return cannot("I don't know how big the tank is. Tell me, for instance: the tank holds twenty gallons.")
    fills, _, readings = economy_inputs(facts.diary)
    spans, _ = facts.economy()
    found = range_from_records(fills, readings, spans, tank)
    if isinstance(found, str):
        return cannot(spoken.sentence(f"That can't be worked out: {found}"))
    text = (
        f"About {spoken.figure(round(found.value), found.unit)}, with "
        f"{spoken.figure(found.fuel_left, found.fuel_unit, 1)} left; "
        f"count on {spoken.figure(max(0, round(found.cautious)), found.unit)} to be safe"
    )
    if found.remark:
        text += f"; {found.remark}"
    return Answer(
        spoken.sentence(text),
        [
            value(found.value, found.unit, found.plus_minus),
            value(found.cautious, found.unit),
            value(found.fuel_left, found.fuel_unit),
        ],
        _fill_ids(facts, spans[-5:]),
        False,
    )


def tank_answer(facts: Facts) -> Answer:
    """The size of the tank."""
    from diary.assistant.machine_facts import tank_size

    tank = tank_size(facts)
    if tank is None:
        return cannot("The size of the tank is not noted.")
    return Answer(
        spoken.sentence(f"The tank holds {spoken.figure(tank, facts.machine.volume)}"),
        [value(tank, facts.machine.volume)],
    )


# -- distance --


def meter_at(facts: Facts, moment: Moment, meter: str | None = None, after: bool = False) -> tuple[Any, bool] | None:
    """The reading that stands for a moment: the note's own, that day's, else the nearest within two weeks (then not
    certain)."""
    rows = facts.meters(meter)
    if not rows:
        return None
    same = [r for r in rows if moment.note and r.note == moment.note]
    if same:
        exact = [r for r in same if not r.approx]
        return (exact or same)[-1], bool(exact)
    day = moment.at.date().isoformat()
    rows = [r for r in rows if not r.approx] or rows
    today = [r for r in rows if r.at[:10] == day]
    if today:
        if moment.order < 0:
            return today[-1 if after else 0], len({r.value for r in today}) == 1
        near = min(today, key=lambda r: abs(datetime.fromisoformat(r.at) - moment.at))
        return near, True
    near = min(rows, key=lambda r: abs(datetime.fromisoformat(r.at) - moment.at))
    if abs(datetime.fromisoformat(near.at) - moment.at) > timedelta(days=14):
        return None
    return near, False


def distance(facts: Facts, query: Query, now: datetime, previous: Answer | None = None) -> Answer:
    """How far it went over the window, by the meter."""
    meter = "hours" if "hours" in query.all_words else facts.meter
    rows = facts.meters(meter)
    unit = "h" if meter == "hours" else facts.machine.distance if facts.machine.distance != "h" else "mi"
    what = "hour meter" if meter == "hours" else "odometer"
    if len(rows) < 1:
        return cannot(f"That can't be worked out: no reading of the {what} is noted.")
    w = query.window
    exact = [r for r in rows if not r.approx] or rows
    last = exact[-1]
    start: tuple[Any, bool] | None
    end: tuple[Any, bool] | None = (last, True)
    lead = ""
    if "ago" in query.aspects or (
        query.follow and not w.said and not entity(query.stems) and previous and previous.anchor
    ):
        anchor = previous.anchor if previous else None
        if entity(query.stems):
            anchor = find_event(facts, query.about) or anchor
        if anchor is None:
            return cannot("I don't know which one you mean: say what it is that you want the distance since.")
        start, lead = meter_at(facts, anchor, meter), f"since {_label(anchor, now)}"
    elif w.kind in ("tank", "tank_with", "tanks"):
        answer = economy(facts, query, now, previous)
        if len(answer.values) > 1:
            one = answer.values[1]
            return Answer(
                spoken.sentence(f"{spoken.figure(one['value'], one['unit'])} on {w.label}"),
                [one],
                answer.records,
                answer.certain,
            )
        return answer
    elif w.kind == "between" and w.first and w.second:
        a, b = _end_of(facts, w.first, query, True), _end_of(facts, w.second, query, False)
        if a is None or b is None:
            return unknown_event(query)
        start, end = meter_at(facts, a, meter), meter_at(facts, b, meter, True)
        lead = f"between {_label(a, now)} and {_label(b, now)}"
    elif w.kind in ("since", "before", "at") and w.first:
        moment = _end_of(facts, w.first, query, True)
        if moment is None:
            return unknown_event(query)
        found = meter_at(facts, moment, meter, w.kind == "before")
        start, end = (found, (last, True)) if w.kind == "since" else ((exact[0], True), found)
        lead = f"{'since' if w.kind == 'since' else 'up to'} {_label(moment, now)}"
    elif w.kind in ("days", "first_weekend"):
        a0, b0 = _days(facts, w)
        inside = [r for r in exact if a0.isoformat() <= r.at <= b0.isoformat()]
        before = [r for r in exact if r.at < a0.isoformat()]
        opening = before[-1] if before else (inside[0] if inside else None)
        if not inside or opening is None or opening is inside[-1]:
            return _by_drives(facts, query, now) or cannot(
                spoken.sentence(f"That can't be worked out: the {what} was not noted {w.label or 'then'} and before")
            )
        near = bool(before) and a0 - datetime.fromisoformat(opening.at) < timedelta(days=4)
        lead = w.label or "on the first weekend"
        if before and not near:
            return _between_readings(rows, a0, inside[-1], unit, lead)
        start, end = (opening, near or not before), (inside[-1], True)
    else:
        about = [] if w.said else entity(query.stems)
        moment = find_event(facts, query.about) if about else None
        if about and moment is None:
            return cannot(spoken.sentence(f"I have no note of {query.named}"))
        if moment:
            start, lead = meter_at(facts, moment, meter), f"since {_label(moment, now)}"
        else:
            start, lead = (
                (exact[0], True),
                f"from {spoken.day(exact[0].at, now.date())} to {spoken.day(last.at, now.date())}",
            )
    if start is None or end is None:
        return cannot(
            spoken.sentence(
                f"That can't be worked out: no {what} reading was noted near {lead.removeprefix('since ') or 'then'}"
            )
        )
    a_row, b_row = start[0], end[0]
    span = b_row.value - a_row.value
    if span < 0:
        return cannot(
            spoken.sentence(
                f"That can't be worked out: the {what} readings, {spoken.digits(a_row.value, 1)} "
                f"then {spoken.digits(b_row.value, 1)}, run backwards"
            )
        )
    certain = start[1] and end[1] and not a_row.approx and not b_row.approx
    text = (
        f"{'About ' if not certain else ''}{spoken.figure(span, unit)} {lead}: "
        f"{spoken.digits(b_row.value, 1)} less {spoken.digits(a_row.value, 1)}"
    )
    return Answer(spoken.sentence(text), [value(span, unit)], [a_row.id, b_row.id], certain)


def _between_readings(rows: Sequence[Any], start: datetime, last: Any, unit: str, lead: str) -> Answer:
    """Distance from a moment that has no reading of its own, by the straight line between those on either side of it."""
    one = next(r for r in reversed(rows) if datetime.fromisoformat(r.at) < start)
    two = next(r for r in rows if datetime.fromisoformat(r.at) >= start)
    a, b = datetime.fromisoformat(one.at), datetime.fromisoformat(two.at)
    at = one.value + (two.value - one.value) * ((start - a) / (b - a))
    span = last.value - at
    return Answer(
        spoken.sentence(
            f"About {spoken.figure(round(span), unit)} {lead}: to {spoken.digits(last.value, 1)}, from about "
            f"{spoken.digits(round(at))} by the readings {spoken.digits(one.value, 1)} on {spoken.day(one.at)} and "
            f"{spoken.digits(two.value, 1)} on {spoken.day(two.at)}"
        ),
        [value(span, unit)],
        [one.id, two.id, last.id],
        False,
    )


def _end_of(facts: Facts, point: Point, query: Query, first: bool) -> Moment | None:
    """The moment of a window's end for a distance: a fill's own where the day has one."""
    if point.day and point.kind in ("fill", "day"):
        fills = [f for f in facts.records("fills") if f.at[:10] == point.day.isoformat()]
        if fills:
            return facts.moment(fills[0 if first else -1], spoken.day(point.day))
    return when(facts, point, query, first)


def _by_drives(facts: Facts, query: Query, now: datetime) -> Answer | None:
    """Distance from drives that were told, where the meter was not read."""
    picked = chosen(facts, query, facts.records("drives"), now)
    if not picked:
        return None
    rows = [d for d in picked[0] if d.distance is not None]
    if not rows:
        return None
    total = sum(d.distance for d in rows)
    return Answer(
        spoken.sentence(f"About {spoken.figure(total, rows[0].unit)} {picked[1]}, by the drives you told me"),
        [value(total, rows[0].unit)],
        [d.id for d in rows],
        False,
    )


def meter_now(facts: Facts, query: Query, now: datetime) -> Answer:
    """What a meter stood at, last or at the window's time."""
    words = set(query.all_words)
    meter = "trip" if "trip" in words else "hours" if words & {"hours", "hour"} else facts.meter
    rows = facts.meters(meter)
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    rows, lead = picked
    if not rows:
        return cannot(
            spoken.sentence(f"No reading of the {meter if meter != 'hours' else 'hour meter'} is noted {lead}")
        )
    began = bool(words & set(windows_table("whole_needs"))) and query.window.kind == "all"
    row = rows[0 if began else -1]
    unit = row.unit or ("h" if meter == "hours" else facts.machine.distance)
    name = {"hours": "hour meter", "trip": "trip meter"}.get(meter, meter)
    return Answer(
        spoken.sentence(f"The {name} was at {spoken.figure(row.value, unit)} on {spoken.day(row.at, now.date())}"),
        [value(row.value, unit)],
        [row.id],
        not row.approx,
    )
