"""Answers about work: torques, measures, what was done and when, what is planned, what to check, what was said."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from functools import cache
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer, cannot, value
from diary.assistant.answers_faults import is_open, name, thread_notes, values_in, watched
from diary.assistant.answers_fuel import chosen, meter_at, unknown_event
from diary.assistant.answers_fuel import when as when_point
from diary.assistant.facts import (
    Facts,
    acted,
    answers_table,
    best,
    digits_in,
    entity,
    fault_text,
    quote,
    verbs_of,
)
from diary.assistant.questions import Query
from diary.assistant.words import content, is_stop, overlap, stem, words

BREATH = 160  # characters on either side of a plan that may say what it is for
NEAR = 70  # characters within which a figure belongs to a word beside it


def generic(stems: Sequence[str]) -> bool:
    """Whether stems only say "bolts" or "nuts", whichever those are."""
    plain = {stem(w) for phrase in answers_table("entity")["generic_fasteners"] for w in phrase.split()} - {
        stem("wheel")
    }
    return bool(stems) and all(s in plain for s in stems)


def torque(facts: Facts, query: Query, now: datetime) -> Answer:
    """What a fastener was torqued to, or should be; asks which where the words fit several."""
    rows = [t for t in facts.records("torques") if t.value is not None]
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    inside, lead = picked
    about = entity(query.stems)
    target = "target" in query.aspects
    if not about or generic(about):
        mine = [t for t in inside if not about or set(about) & set(content(t.fastener or ""))]
        names = _names(mine)
        if len(names) > 1 and not query.window.said:
            return _which(facts, names, about, query, now)
        if not names:
            return cannot(spoken.sentence(f"No torque is noted {lead}"))
    else:
        mine = best(inside, about, lambda t: t.fastener, least=0.6)
        if not mine:
            mine = best(inside, about, lambda t: t.fastener, lambda t: facts.note_text(t.note), least=0.8)
            mine = [t for t in mine if set(about) & set(content(t.fastener or ""))]
    if not mine and (own := [s for s in about if s not in _fasteners()]) and len(own) < len(about):
        mine = best(inside, own, lambda t: t.fastener, least=0.6)  # "the gland nut", noted as "ram gland"
        mine = [t for t in mine if not set(content(t.fastener or "")) & _fasteners()]
    if not mine and len(about) > 2:
        known = {s for t in inside for s in content(t.fastener or "")}
        left = [s for s in about if s in known]
        if len(left) > 1 and set(left) & _fasteners() and set(left) - _fasteners():
            mine = [t for t in inside if set(left) <= set(content(t.fastener or ""))]
    if not mine and about and not set(about) & _fasteners():
        told = [t for t in inside if overlap(about, facts.note_text(t.note)) >= 0.99]
        mine = told if len({" ".join(content(t.fastener or "")) for t in told}) == 1 else []
    if not mine:
        return cannot(spoken.sentence(f"No torque is noted for {query.named or 'that'}{' ' + lead if lead else ''}"))
    role = "target" if target else "applied"
    chosen_rows = [t for t in mine if t.role == role]
    certain = True
    note = ""
    if not chosen_rows:
        chosen_rows, certain = mine, not target
        if target:
            note = "What it should be is not noted; it was given "
        else:
            note = "It was not said what it got; it should be "
            certain = False
    if "history" in query.aspects or (query.window.said and len({t.note for t in chosen_rows}) > 1):
        steps = spoken.listed(
            f"{spoken.figure(t.value, t.unit)} on {spoken.day(t.at, now.date())}" for t in chosen_rows[-6:]
        )
        return Answer(
            spoken.sentence(f"{chosen_rows[-1].fastener}: {steps}"),
            [value(t.value, t.unit) for t in chosen_rows[-6:]],
            [t.id for t in chosen_rows],
            certain,
        )
    newest: dict[str, Any] = {}
    for t in chosen_rows:
        newest[(t.fastener or "").lower()] = t
    rows = sorted(newest.values(), key=lambda t: t.at, reverse=True)
    if len(rows) > 1 and all(_same(rows[0], t) for t in rows):
        rows = rows[:1]
    parts = []
    for t in rows[:4]:
        text = f"{t.fastener} {spoken.figure(t.value, t.unit)}"
        if t.role == "applied":
            text += {
                True: " with threadlocker",
                False: ", no threadlocker",
                None: ", threadlocker not noted" if "locker" in query.aspects else "",
            }[t.threadlocker]
        parts.append(text)
    when = f", {spoken.day(rows[0].at, now.date())}" if len(rows) == 1 else ""
    text = f"{note}{'; '.join(parts)}{when}"
    answer = Answer(
        spoken.sentence(text),
        [value(t.value, t.unit) for t in rows[:4]],
        [t.id for t in rows[:4]],
        certain,
        anchor=facts.moment(rows[0], rows[0].fastener or ""),
        subject=tuple(content(rows[0].fastener or "")),
    )
    if watched(" ".join(t.fastener or "" for t in rows[:4])):
        answer.answer += f" {answers_table('cautions')['torque']}"
        answer.caution = True
    return answer


@cache
def _fasteners() -> frozenset[str]:
    return frozenset(stem(w) for phrase in answers_table("entity")["generic_fasteners"] for w in phrase.split())


def _same(a: Any, b: Any) -> bool:
    one, two = content(a.fastener or ""), content(b.fastener or "")
    return bool(a.value == b.value and a.unit == b.unit and (set(one) <= set(two) or set(two) <= set(one)))


def _names(rows: Sequence[Any]) -> list[str]:
    seen: dict[str, str] = {}
    for t in rows:
        seen.setdefault(" ".join(content(t.fastener or "")), t.fastener or "")
    return list(seen.values())


def _which(facts: Facts, names: list[str], about: Sequence[str], query: Query, now: datetime) -> Answer:
    from dataclasses import replace

    word = query.named or "bolts"
    options = names[-4:]
    choices = [(n, replace(query, about=tuple(n.split()), stems=tuple(content(n)))) for n in options]
    return Answer(
        f"Which {word}: {spoken.listed(options, 'or')}?",
        [],
        [],
        False,
        asks={"for": f"which {word}", "about": options},
        choices=choices,
    )


# -- measures --


def quantities_of(tokens: Sequence[str]) -> list[str]:
    """The measured quantities that a question's words name, units first."""
    rows = answers_table("quantities")
    return [q for q, forms in rows.items() if any(t in forms for t in tokens)]


def _place_words(stems: Sequence[str]) -> set[str]:
    return {key for key, forms in answers_table("places").items() if any(stem(f) in stems for f in forms)}


def _has_places(text: str, wanted: set[str]) -> bool:
    stems = set(content(text)) | set(text.lower().split())
    return all(any(f in stems or stem(f) in stems for f in answers_table("places")[w]) for w in wanted)


def _with_corners(rows: Sequence[Any], matched: list[Any]) -> list[Any]:
    """With measures that only name a corner ("the right rear was one ninety one"), of the same kind within three
    days."""
    if not matched or len(matched) == len(rows):
        return matched
    known = {m.id for m in matched}
    out = list(matched)
    for m in rows:
        if m.id in known or not m.of or not _corner_only(m.of):
            continue
        near = any(
            m.quantity == o.quantity
            and m.unit == o.unit
            and abs((datetime.fromisoformat(m.at) - datetime.fromisoformat(o.at)).days) <= 3
            for o in matched
        )
        if near:
            out.append(m)
    return sorted(out, key=lambda m: (m.at, m.span))


def _beside(facts: Facts, measure: Any, stems: Sequence[str]) -> bool:
    """Whether a measure is said in one breath with one of the words: near, and in the same sentence."""
    text = facts.note_text(measure.note)
    for w in words(text):
        if stem(w.text) in stems and abs(w.start - measure.span[0]) <= NEAR:
            between = text[min(w.end, measure.span[0]) : max(w.start, measure.span[0])]
            if not re.search(r"[.?!]\s", between):
                return True
    return False


def _corner_only(text: str) -> bool:
    """Whether words only say which side or end."""
    forms = {stem(f) for rows in answers_table("places").values() for f in rows}
    stems = content(text)
    return bool(stems) and all(s in forms for s in stems)


def measure(facts: Facts, query: Query, now: datetime, previous: Answer | None = None) -> Answer:
    """Readings of a quantity on a thing, over the window."""
    kinds = quantities_of(query.beside_window)
    about = entity(query.stems)
    if not about and previous and previous.subject and query.follow:
        about = list(previous.subject)
    rows = [m for m in facts.records("measures") if m.value is not None]
    if not kinds and not about and not query.window.said:
        return cannot("Which reading? Say what was measured, or on what.")
    if kinds:
        of_kind = [m for m in rows if m.quantity in kinds]
        first = [m for m in rows if m.quantity == kinds[0]]
        rows = of_kind or first
    names = {w for k in kinds for w in map(stem, answers_table("quantities")[k])}
    places = _place_words(about)
    place_stems = {stem(f) for p in places for f in answers_table("places")[p]}
    things = [s for s in about if s not in place_stems]
    core = [s for s in things if s not in names] or things
    matched = best(rows, things, lambda m: m.of, least=0.6) if things else list(rows)
    if core and core != things:
        matched = best(rows, core, lambda m: m.of, least=0.6) or matched
    matched = _with_corners(rows, matched)
    if places:
        placed = [m for m in matched if _has_places(m.of or "", places)]
        matched = placed or matched
    if things and matched:
        shared = [s for s in core if any(s in content(m.of or "") for m in matched)]
        unmatched = [s for s in core if s not in shared]
        if unmatched and shared:
            for fault in reversed(facts.records("faults")):
                text = fault_text(fault)
                if overlap([*unmatched, *shared], text) >= 0.99 and fault.where:
                    there = _place_words(content(fault.where))
                    narrowed = [m for m in matched if _has_places(m.of or "", there)] if there else []
                    matched = narrowed or matched
                    break
    if things and not matched:
        near = [m for m in rows if overlap(core, facts.note_text(m.note)) >= 0.99 and _beside(facts, m, core)]
        matched = near
    if not matched:
        return _measure_in_words(facts, query, about, now, kinds)
    if "limit" in query.aspects:
        limits = [
            m for m in matched if overlap(["minimum"], m.of) or overlap(["maximum"], m.of) or overlap(["limit"], m.of)
        ]
        others = [
            m
            for m in rows
            if m not in limits
            and overlap(core, m.of) >= 0.5
            and m.quantity == (limits[-1].quantity if limits else m.quantity)
        ]
        matched = [*others[-2:], *limits[-2:]] if limits else matched
        if limits:
            return _list(facts, matched, query, now, "")
    loose = [m for m in rows if not core or set(core) & set(content(m.of or ""))]
    window = _measures_in(facts, query, matched, loose)
    if window is None and query.window.first and _says_no_thing(query.window.first.words):
        near = [m for m in matched if m.note == matched[-1].note]  # "before i pumped it": then, and after
        window = (near if len(near) > 1 else matched[-2:]), ""
    if window is None:
        return unknown_event(query)
    inside, lead = window
    if not inside:
        return _measure_in_words(facts, query, about, now, kinds, lead)
    w = query.window
    if w.kind == "around":
        return _list(facts, inside, query, now, lead)
    if (
        "history" in query.aspects
        or w.kind in ("before", "between", "at", "tanks")
        or (w.kind == "days" and w.start != w.end)
    ):
        return _list(facts, inside[-6:], query, now, lead)
    if w.kind == "since":
        first_note = inside[0].note
        return _list(facts, [m for m in inside if m.note == first_note], query, now, lead)
    last_note = inside[-1].note
    latest = [m for m in inside if m.note == last_note]
    if set(query.all_words) & set(answers_table("entity")["right_one"]):
        # what should be there is told after what was found there
        beside = [m for m in rows if m.note == last_note and overlap(things, m.of) >= 0.45]
        return _list(facts, sorted(beside or latest, key=lambda m: m.span)[-1:], query, now, lead)
    if not places and len({m.of for m in inside}) > len({m.of for m in latest}) and len(latest) < 4 and not things:
        latest = inside[-4:]
    return _list(facts, latest, query, now, lead)


def _says_no_thing(tokens: Sequence[str]) -> bool:
    """Whether the words of an event name no thing but "it" or "them"."""
    return bool(set(tokens) & set(answers_table("entity")["it"]))


def _measures_in(facts: Facts, query: Query, rows: list[Any], loose: list[Any]) -> tuple[list[Any], str] | None:
    w = query.window
    if w.kind == "around" and w.first:
        moment = when_point(facts, w.first, query)
        if moment is None:
            return None
        before = [m for m in rows if facts.moment(m).key < moment.key]
        after = [m for m in rows if facts.moment(m).key > moment.key]
        return [*before[-1:], *after[:1]], f"before and after {moment.label or 'then'}"
    if w.kind == "at" and w.first and w.first.kind == "event":
        faults = [f for f in facts.records("faults")]
        tokens = [t for t in w.first.words if t not in ("it", "the", "was", "would", "did", "is")]
        stems = [stem(t) for t in tokens if not is_stop(t)]
        about = entity(query.stems)
        near = best(
            faults, [*about, *stems], lambda f: fault_text(f) + (" not" if "not" in (f.what or "") else ""), least=0.5
        )
        notes: set[str] = set()
        for fault in near:
            notes |= {n for n in (fault.opened_in_note, fault.came_back_in_note) if n}
            notes |= {e["note"] for e in fault.events if e["event"] == "back"}
        inside = [m for m in loose if m.note in notes]  # what the fault read each time, by whatever part of its name
        if inside:
            return inside, ""
    return chosen(facts, query, rows, datetime.now())


def _list(facts: Facts, rows: Sequence[Any], query: Query, now: datetime, lead: str) -> Answer:
    days = {m.at[:10] for m in rows}
    parts = []
    for m in rows:
        text = spoken.figure(m.value, m.unit, low=m.low, high=m.high)
        if m.of:
            text = f"{m.of} {text}"
        if len(days) > 1:
            text += f" on {spoken.day(m.at, now.date())}"
        parts.append(text)
    tail = f", {spoken.day(rows[-1].at, now.date())}" if len(days) == 1 else ""
    return Answer(
        spoken.sentence(f"{spoken.listed(parts)}{tail}"),
        [value(m.value, m.unit) for m in rows],
        [m.id for m in rows],
        not any(m.approx for m in rows),
        anchor=facts.moment(rows[-1], rows[-1].of or ""),
        subject=tuple(content(rows[-1].of or "")),
    )


def _measure_in_words(
    facts: Facts, query: Query, about: Sequence[str], now: datetime, kinds: Sequence[str], lead: str = ""
) -> Answer:
    what = " ".join(kinds[:1]) or "reading"
    thing = query.named
    whose = f" for {thing}" if thing else ""
    text = spoken.sentence(f"No {what} is noted{whose} {lead}")
    stems = [
        s for s in about if s not in {f for k in kinds for f in map(stem, answers_table("quantities")[k])}
    ] or about
    for note in facts.diary.search(thing, 6) if thing and not lead else []:
        if overlap(stems, note.text) >= 0.99:
            said = digits_in(quote(note.text, about, 30))
            return cannot(f"{text} On {spoken.day(note.at, now.date())} you said: {spoken.sentence(said)}")
    return cannot(text)


# -- work --


def _deeds(facts: Facts) -> list[tuple[str, Any]]:
    """Everything done, as words and record, by time: work, parts fitted, torques given. One deed told twice in a note
    is one."""
    found: list[tuple[str, Any]] = facts.kept("deeds", lambda: _all_deeds(facts))
    return found


def _all_deeds(facts: Facts) -> list[tuple[str, Any]]:
    rows: list[tuple[str, Any]] = [(f"{w.action} {w.component or ''}".strip(), w) for w in facts.records("work")]
    told: dict[str, set[str]] = {}
    for w in facts.records("work"):
        told.setdefault(w.note, set()).update(content(w.component or ""))
    for part in facts.records("parts"):
        if part.state == "fitted" and not told.get(part.note, set()) & set(content(part.name)):
            rows.append((f"fitted {part.name}", part))
    for t in facts.records("torques"):
        if t.role == "applied" and t.value is not None:
            rows.append((f"{t.fastener} at {spoken.figure(t.value, t.unit)}", t))
    given = {
        (t.note, s)
        for t in facts.records("torques")
        if t.role == "applied" and t.value is not None
        for s in content(t.fastener or "")
    }
    rows = [
        (text, r)
        for text, r in rows
        if not (
            r.KIND == "work"
            and acted(r.action, ["tighten"])
            and (nouns := content(r.component or ""))
            and all((r.note, s) in given for s in nouns)
        )
    ]
    rows.sort(key=lambda r: (r[1].at, facts.order(r[1].note), r[1].span[0]))
    return rows


def work_done(facts: Facts, query: Query, now: datetime) -> Answer:
    """What was done over a window, or to a component."""
    deeds = _deeds(facts)
    picked = chosen(facts, query, [r for _, r in deeds], now)
    if picked is None:
        return unknown_event(query)
    inside, lead = picked
    ids = {r.id for r in inside}
    about = entity(query.stems)
    rows = [(t, r) for t, r in deeds if r.id in ids]
    verbs = [v for v in verbs_of(query.all_words) if v not in ("fit",)]
    if about:
        mine = [(t, r) for t, r in rows if overlap(about, t) >= 0.5]
        if not all(any(s in content(t) for t, _ in mine) for s in about) or len(mine) < 2:
            mine = _with_system(facts, query, about, rows, mine)
        if not mine:
            related = set(about)
            mine = [(t, r) for t, r in rows if related & set(content(t))]
        if not mine and not query.window.said:  # "the day of the string lines"
            days = {n.at[:10] for n in facts.diary.search(" ".join(query.about), 4) if overlap(about, n.text) >= 0.99}
            mine = [(t, r) for t, r in rows if r.at[:10] in days] if len(days) == 1 else []
        if not mine:  # what was done about a fault
            faults = best(facts.records("faults"), about, fault_text, least=0.6)
            threads = {n for f in faults for n in thread_notes(facts, f)}
            mine = [(t, r) for t, r in rows if r.note in threads]
        if not mine:
            return cannot(spoken.sentence(f"No work is noted on {query.named} {lead}"))
        rows = mine
    elif verbs and not query.window.said:
        rows = [(t, r) for t, r in rows if getattr(r, "action", None) and acted(r.action, verbs)] or rows
    if not rows:
        return Answer(spoken.sentence(f"Nothing is noted as done {lead}"), [], [], False)
    several = len({r.at[:10] for _, r in rows}) > 1
    shown = rows[-10:]
    text = "; ".join(f"{t}{f' ({spoken.day(r.at, now.date())})' if several else ''}" for t, r in shown)
    more = f"; and {len(rows) - len(shown)} before that" if len(rows) > len(shown) else ""
    day = f"{spoken.day(rows[0][1].at, now.date())}: " if not several else ""
    values = [value(r.value, r.unit) for _, r in shown if r.KIND == "torques"]
    return Answer(
        spoken.sentence(f"{day}{text}{more}"),
        values,
        [r.id for _, r in rows],
        anchor=facts.moment(rows[-1][1]),
        subject=tuple(about),
    )


def _with_system(
    facts: Facts, query: Query, about: Sequence[str], rows: Sequence[tuple[str, Any]], mine: list[tuple[str, Any]]
) -> list[tuple[str, Any]]:
    """With what was done to the system that is named ("the suspension"), or beside the named thing in one story of it."""
    from diary.assistant import systems

    whole = systems.named(query.named)
    kin = systems.of(query.named)
    known = {r.id for _, r in mine}
    out = list(mine)
    for text, record in rows:
        if record.id in known:
            continue
        called = _called(record)
        story = bool(kin) and overlap(about, facts.note_text(record.note)) >= 0.99 and systems.belongs(called, kin)
        if story or systems.belongs(called, whole):
            out.append((text, record))
    return sorted(out, key=lambda r: (r[1].at, facts.order(r[1].note), r[1].span[0]))


def when_last(facts: Facts, query: Query, now: datetime) -> Answer:
    """When something was last done, and how long ago in days and by the meter."""
    tokens = set(query.all_words)
    rows = answers_table("verb_kinds")
    about = entity(query.stems)
    if not about and query.window.kind in ("since", "at") and query.window.first and query.window.first.words:
        about = entity(
            [stem(w) for w in query.window.first.words if not is_stop(w)]
        )  # "how long since the tyres were done"
    verbs = verbs_of(query.all_words)
    forms = {f for v in verbs for f in answers_table("verb_words")[v]} | set(rows["fills"])
    verb_stems = {stem(t) for t in query.all_words if t in forms and (t != "top" or "top" in verbs)}
    things = [s for s in about if s not in verb_stems] or [
        s for s in about if s not in {stem(f) for f in rows["fills"]} and not verbs
    ]
    fuel = bool(tokens & set(rows["fills"])) and not things
    found: list[tuple[Any, str]] = []
    if fuel:
        fills = facts.records("fills")
        if {"brim", "full"} & tokens:
            fills = [f for f in fills if f.to_brim]
        found = [(f, f"filled {spoken.figure(f.volume, f.unit) if f.volume else ''}".strip()) for f in fills]
    else:
        strict = [
            v
            for v in verbs
            if v != "fit"
            or tokens
            & {
                "change",
                "changed",
                "replace",
                "replaced",
                "fit",
                "fitted",
                "install",
                "installed",
                "new",
                "swap",
                "swapped",
                "renew",
                "renewed",
            }
        ]
        for text, record in _deeds(facts):
            share = overlap(things, text) if things else 1.0
            if share < 0.6:
                continue
            action = getattr(record, "action", None)
            if strict and action is not None and not acted(action, strict):
                continue
            if strict and action is None and record.KIND == "parts" and "fit" not in strict:
                continue
            if strict and record.KIND == "torques" and "tighten" not in strict:
                continue
            if not strict and record.KIND == "torques":
                continue
            found.append((record, text))
        if not found and tokens & set(rows["ordered"]) | tokens & set(rows["bought"]):
            states = ("ordered",) if tokens & set(rows["ordered"]) else ("bought", "ordered")
            found = [
                (p, f"{p.state} {p.name}")
                for p in facts.records("parts")
                if p.state in states and overlap(things, p.name) >= 0.6
            ]
        if found and things:
            top = max(overlap(things, t) for _, t in found)
            found = [(r, t) for r, t in found if overlap(things, t) >= top - 1e-9]
        if not found and things and not strict:
            found = [(r, t) for t, r in _deeds(facts) if overlap(things, t) >= 0.6]
    if not found and (kinds := quantities_of(query.all_words)):
        taken = [m for m in facts.records("measures") if m.quantity in kinds]
        rest = [s for s in things if s not in {stem(f) for k in kinds for f in answers_table("quantities")[k]}]
        found = [
            (m, f"{m.of or ''} {spoken.figure(m.value, m.unit)}")
            for m in best(taken, rest, lambda m: m.of, least=0.6)
            if m.value is not None
        ]
    if not found:
        for note in facts.diary.search(" ".join(query.about), 3):
            if things and overlap(things, note.text) >= 0.99:
                return Answer(
                    f"It is not noted that this was done. It was spoken of on {spoken.day(note.at, now.date())}: "
                    f"{spoken.sentence(quote(note.text, things, 25))}",
                    [],
                    [],
                    False,
                    subject=tuple(things),
                )
        return cannot(
            spoken.sentence(f"No, it is not noted when that was last done{': ' + query.named if query.named else ''}")
        )
    record, text = found[-1]
    moment = facts.moment(record, text)
    days = (now.date() - date.fromisoformat(record.at[:10])).days
    ago = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    said = f"{spoken.day(record.at, now.date(), weekday=days < 14)}, {ago}"
    values = [value(days, "d")]
    reading = meter_at(facts, moment)
    newest = facts.meters(exact=True)
    if reading and reading[1] and newest and newest[-1].value > reading[0].value:
        done = newest[-1].value - reading[0].value
        unit = facts.machine.distance
        said += f" and {spoken.figure(done, unit)} ago"
        values.append(value(done, unit))
    return Answer(
        spoken.sentence(f"{said}: {text}"), values, [record.id], anchor=moment, subject=tuple(things or about)
    )


def how_often(facts: Facts, query: Query, now: datetime) -> Answer:
    """How many times, and how far apart by days and by the meter."""
    about = entity(query.stems)
    verbs = verbs_of(query.all_words)
    tokens = set(query.all_words)
    forms = {f for v in verbs for f in answers_table("verb_words")[v]} | set(answers_table("verb_kinds")["fills"])
    verb_stems = {stem(t) for t in query.all_words if t in forms}
    things = [s for s in about if s not in verb_stems]
    rows: list[Any]
    if tokens & set(answers_table("verb_kinds")["back"]) and "back" in tokens:
        faults = [f for f in best(facts.records("faults"), [s for s in things if s != "back"], fault_text, least=0.5)]
        if faults:
            again = sum(1 for e in faults[-1].events if e["event"] == "back")
            returns = spoken.listed(spoken.day(e["at"], now.date()) for e in faults[-1].events if e["event"] == "back")
            text = f"{name(faults[-1])} came back {again} {'time' if again == 1 else 'times'}{': ' + returns if returns else ''}"
            return Answer(spoken.sentence(text), [value(again, "times")], [faults[-1].id])
    if "tighten" in verbs:
        given = [t for t in facts.records("torques") if t.role == "applied"]
        given = (
            best(given, [s for s in things if s not in verb_stems], lambda t: t.fastener, least=0.6) if things else []
        )
        if given:
            n = len({t.note for t in given})
            steps = spoken.listed(
                f"{spoken.figure(t.value, t.unit)} on {spoken.day(t.at, now.date())}" for t in given[-4:]
            )
            return Answer(
                spoken.sentence(f"{given[-1].fastener}: {n} {'time' if n == 1 else 'times'}, {steps}"),
                [value(n, "times")],
                [t.id for t in given],
            )
    if tokens & set(answers_table("verb_kinds")["fills"]) and not things:
        rows, what = list(facts.records("fills")), "filled"
    else:
        deeds = [(t, r) for t, r in _deeds(facts) if (overlap(things, t) >= 0.6 if things else True)]
        strict = [v for v in verbs if v != "fit" or tokens & {"change", "changed", "replace", "replaced"}]
        if strict:
            deeds = [(t, r) for t, r in deeds if getattr(r, "action", None) and acted(r.action, strict)] or deeds
        if not deeds:
            faults = best(facts.records("faults"), things, fault_text, least=0.6)
            if faults:
                times = [1 + sum(1 for e in f.events if e["event"] == "back") for f in faults]
                return Answer(
                    spoken.sentence(f"{name(faults[0])}: noted {sum(times)} {'time' if sum(times) == 1 else 'times'}"),
                    [value(sum(times), "times")],
                    [f.id for f in faults],
                )
            return cannot(
                spoken.sentence(
                    f"Nothing of that is noted: {query.named}" if query.named else "Nothing of that is noted"
                )
            )
        what = deeds[-1][0]
        by_note: dict[str, Any] = {}
        for _, r in deeds:
            by_note.setdefault(r.note, r)
        rows = list(by_note.values())
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    rows, lead = picked
    n = len(rows)
    if not n:
        return cannot(spoken.sentence(f"Nothing of that is noted {lead}"))
    text = f"{n} {'time' if n == 1 else 'times'} {lead}".strip()
    values = [value(n, "times")]
    if n > 1:
        days = (datetime.fromisoformat(rows[-1].at) - datetime.fromisoformat(rows[0].at)).days / (n - 1)
        text += f", about every {spoken.digits(days, 0 if days > 10 else 1)} days"
        values.append(value(days, "d"))
        a, b = meter_at(facts, facts.moment(rows[0])), meter_at(facts, facts.moment(rows[-1]))
        if a and b and b[0].value > a[0].value:
            each = (b[0].value - a[0].value) / (n - 1)
            text += f" and {spoken.figure(round(each), facts.machine.distance)}"
            values.append(value(each, facts.machine.distance))
    if n:
        text += f"; last on {spoken.day(rows[-1].at, now.date())} ({what})"
    return Answer(spoken.sentence(text), values, [r.id for r in rows])


# -- plans, checks --


def plans(facts: Facts, query: Query, now: datetime) -> Answer:
    """What is planned: for a day, for a component, or all that is open."""
    rows = [p for p in facts.records("plans") if p.state == "open"]
    about = [s for s in entity(query.stems) if s not in {stem(w) for w in ("plan", "planned", "due", "next")}]
    w = query.window
    lead = "Planned"
    if "overdue" in query.aspects:
        rows = [p for p in rows if p.due and p.due < now.date().isoformat()]
        if not rows:
            return Answer("Nothing is overdue.", [], [])
        lead = "Overdue"
    if w.kind == "days" and w.start and w.end:
        on = [p for p in rows if p.due and w.start.isoformat() <= p.due <= w.end.isoformat()]
        label = spoken.day(w.start, now.date(), weekday=True) if w.start == w.end else w.label
        if not on and not about:
            return Answer(spoken.sentence(f"Nothing is planned for {label}"), [], [])
        rows = on or rows
        lead = f"For {label}" if on else lead
    if about:
        mine = best(rows, about, lambda p: p.what, least=0.5)
        mine = mine or best(rows, about, lambda p: _around(facts, p), least=0.6)
        if not mine:
            done = best([p for p in facts.records("plans") if p.state != "open"], about, lambda p: p.what, least=0.6)
            if done:
                return Answer(spoken.sentence(f"{done[-1].what} is {done[-1].state}"), [], [done[-1].id])
            due = _interval(facts, query, about, now)
            return due or cannot(spoken.sentence(f"No, nothing is planned for {query.named}"))
        rows = mine
    if not rows:
        return Answer("Nothing is planned.", [], [])
    rows.sort(key=lambda p: (p.due or "9999", p.at))
    if {"next"} & set(query.all_words) and not about and not w.said:
        ahead = [p for p in rows if p.due and p.due >= now.date().isoformat()]
        rows = (ahead or rows)[:1]
    parts = []
    for p in rows[:8]:
        text = p.what
        if p.due and not (w.kind == "days" and w.start == w.end and len(rows) > 1):
            text += f", {spoken.day(p.due, now.date(), weekday=True)}"
            if p.due < now.date().isoformat():
                text += " (overdue)"
        elif p.due_distance:
            text += f", after {spoken.figure(p.due_distance, p.due_unit or facts.machine.distance)}"
        elif p.condition:
            text += f", {p.condition}"
        parts.append(text)
    text, ids = spoken.sentence(f"{lead}: {'; '.join(parts)}"), [p.id for p in rows]
    if "todo" in query.aspects and not about and not w.said:
        faults = [f for f in facts.records("faults") if is_open(f)]
        if faults:
            text += " " + spoken.sentence(f"Open faults: {'; '.join(name(f) for f in faults[-5:])}")
            ids += [f.id for f in faults[-5:]]
    return Answer(
        text,
        [],
        ids,
        anchor=facts.moment(rows[0]),
        subject=tuple(content(rows[0].what)),
    )


def _around(facts: Facts, record: Any) -> str:
    """The words of a note near a record, within `BREATH` characters."""
    text = facts.note_text(record.note)
    return text[max(0, record.span[0] - BREATH) : record.span[1] + BREATH]


def _interval(facts: Facts, query: Query, about: Sequence[str], now: datetime) -> Answer | None:
    """When something is next due by its own history, where it was done at least twice."""
    answer = how_often(facts, query, now)
    steps = [v for v in answer.values if v["unit"] == facts.machine.distance]
    if not answer.values or answer.values[0]["unit"] != "times" or answer.values[0]["value"] < 2 or not steps:
        return None
    answer.certain = False
    answer.answer = spoken.sentence(
        f"No interval was told for {query.named}; so far {answer.answer[0].lower()}{answer.answer[1:].rstrip('.')}"
    )
    return answer


def watch_list(facts: Facts, now: datetime) -> list[tuple[str, str, Any]]:
    """What to look at before driving: (what, why, record). Open faults on brakes, steering, suspension and wheels;
    watched
    fasteners torqued and not rechecked since; checks that are planned."""
    rows: list[tuple[str, str, Any]] = []
    for fault in facts.records("faults"):
        if is_open(fault) and (fault.safety or watched(fault_text(fault))):
            rows.append((name(fault), "open fault", fault))
    checks = [w for w in facts.records("work") if acted(w.action, ["check", "tighten"])]
    latest: dict[str, Any] = {}
    for t in facts.records("torques"):
        if t.role == "applied" and watched(t.fastener or ""):
            latest[" ".join(content(t.fastener or ""))] = t
    newest = facts.meters(exact=True)
    for t in latest.values():
        key = facts.moment(t).key
        again = [
            c
            for c in checks
            if facts.moment(c).key > key and c.note != t.note and overlap(content(t.fastener or ""), c.component) >= 0.6
        ]
        if again:
            continue
        days = (now - datetime.fromisoformat(t.at)).days
        at = meter_at(facts, facts.moment(t))
        gone = newest[-1].value - at[0].value if at and newest and facts.machine.distance != "h" else None
        limit = 100 if facts.machine.distance == "mi" else 160
        if days > 45 or (gone is not None and gone > 3 * limit):
            continue
        rows.append(
            (
                str(t.fastener),
                f"torqued to {spoken.figure(t.value, t.unit)} on {spoken.day(t.at, now.date())}, not rechecked"
                if t.value
                else "tightened, not rechecked",
                t,
            )
        )
    for p in facts.records("plans"):
        if p.state == "open" and (
            verbs_of((p.what or "").lower().split()[:2]) == ["check"] or "check" in (p.what or "").lower().split()[:3]
        ):
            if any(overlap(content(what), p.what) >= 0.6 for what, _, _ in rows):
                continue
            rows.append(
                (p.what, "planned" + (f" for {spoken.day(p.due, now.date(), weekday=True)}" if p.due else ""), p)
            )
    return rows


def check_before(facts: Facts, query: Query, now: datetime) -> Answer:
    """What to check before the next drive, with the usual caution."""
    rows = watch_list(facts, now)
    about = entity(query.stems)
    if about:
        rows = [r for r in rows if overlap(about, r[0]) >= 0.99] or rows
    caution = answers_table("cautions")["drive"]
    told = {r.id for _, _, r in rows}
    rest = [f for f in facts.records("faults") if is_open(f) and f.id not in told]
    also = spoken.sentence(f"Also open: {'; '.join(name(f) for f in rest[-5:])}") + " " if rest else ""
    ids = [*told, *(f.id for f in rest)]
    if not rows:
        return Answer(f"Nothing is waiting for a check. {also}{caution}", [], ids, caution=True)
    text = "; ".join(f"{what} ({why})" for what, why, _ in rows[:8])
    return Answer(f"{spoken.sentence('Check ' + text)} {also}{caution}", [], ids, caution=True)


# -- words, shots, lessons --


def said(facts: Facts, query: Query, now: datetime) -> Answer:
    """What was said about something, newest last, each with its day and its figures."""
    about = entity(query.stems) or list(query.stems)
    if not about:
        return cannot("What shall I look for?")
    notes = facts.diary.search(" ".join(query.about), 40)
    share = {n.id: overlap(about, n.text) for n in notes}
    notes = [n for n in notes if share[n.id] >= 0.6]
    if query.window.said:
        picked = chosen(facts, query, notes_as_rows(notes), now)
        if picked is None:
            return unknown_event(query)
        keep = {r.note for r in picked[0]}
        notes = [n for n in notes if n.id in keep]
    if not notes:
        return cannot(spoken.sentence(f"Nothing is noted about {query.named}"))
    top = max(share[n.id] for n in notes)
    notes = sorted([n for n in notes if share[n.id] >= top - 0.2], key=lambda n: n.at)
    shown = notes[-4:]
    parts, values, ids = [], [], []
    for note in shown:
        text = quote(note.text, about, 26 if len(shown) > 1 else 40)
        at = note.text.find(text)
        span = (at, at + len(text)) if at >= 0 else None
        figures = values_in(facts, note.id, span)
        values += figures
        parts.append(f"{spoken.day(note.at, now.date())}: {digits_in(text)}")
        where = _sound(note, at)
        if where:
            parts[-1] += f" ({where})"
    for kind in ("faults", "work", "parts", "measures", "torques"):
        ids += [r.id for n in shown for r in facts.of_note(kind, n.id) if overlap(about, _called(r)) >= 0.5]
    more = f"{len(notes) - len(shown)} earlier; " if len(notes) > len(shown) else ""
    return Answer(
        spoken.sentence(more + "; ".join(parts)),
        values,
        ids,
        anchor=facts.note_moment(shown[-1].id),
        subject=tuple(about),
    )


def _called(record: Any) -> str | None:
    """What a record speaks of, whatever its kind calls it."""
    return next(
        (getattr(record, f) for f in ("what", "component", "of", "fastener", "name") if getattr(record, f, None)), None
    )


def notes_as_rows(notes: Sequence[Any]) -> list[Any]:
    """Notes in the shape of records, so that a window can choose among them."""
    from diary.records.kinds import Record

    return [Record(id=n.id, note=n.id, at=n.at) for n in notes]


def _sound(note: Any, char: int) -> str:
    if not note.words:
        return ""
    word = next((w for w in note.words if w[1] > char), note.words[-1])
    seconds = int(word[2])
    return f"{note.source or note.audio or 'sound'} at {seconds // 60}:{seconds % 60:02d}"


def shots(facts: Facts, query: Query, now: datetime) -> Answer:
    """What is filmed, what was missed and what is still wanted."""
    rows = facts.records("shots")
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    rows, lead = picked
    if "missed" in query.aspects:
        done = [s.what for s in rows if s.state == "filmed"]
        rows = [s for s in rows if s.state != "filmed" and not any(overlap(content(s.what), d) >= 0.99 for d in done)]
        if not rows:
            return Answer(spoken.sentence(f"No shot is noted as missing {lead}"), [], [])
        text = "; ".join(f"{s.what}{' (missed)' if s.state == 'missed' else ''}" for s in rows[-8:])
        return Answer(spoken.sentence(f"Still to film: {text}"), [], [s.id for s in rows])
    filmed = [s for s in rows if s.state == "filmed"]
    if not filmed:
        return Answer(spoken.sentence(f"Nothing is noted as filmed {lead}"), [], [], False)
    return Answer(spoken.sentence(f"Filmed: {'; '.join(s.what for s in filmed[-8:])}"), [], [s.id for s in filmed])


def lessons(facts: Facts, query: Query, now: datetime) -> Answer:
    """The lessons, newest last."""
    picked = chosen(facts, query, facts.records("lessons"), now)
    if picked is None:
        return unknown_event(query)
    rows, lead = picked
    about = entity(query.stems)
    if about:
        rows = best(rows, about, lambda r: r.what, least=0.5)
    if not rows:
        return Answer(spoken.sentence(f"No lesson is noted {lead}"), [], [], False)
    return Answer(spoken.sentence("; ".join(r.what for r in rows[-5:])), [], [r.id for r in rows])


def changes(facts: Facts, query: Query, now: datetime) -> Answer:
    """What was changed last, before and after."""
    for entry in facts.diary.history(20):
        steps = [c for c in entry.changes if c.table == "records"]
        if entry.what in ("correction", "retraction", "undo", "redo") and steps:
            return Answer(
                spoken.sentence(
                    f"{entry.what.capitalize()}: {'; '.join(filter(None, map(_step, steps))) or 'nothing'}"
                ),
                [],
                [c.row for c in steps],
            )
    return Answer("Nothing was changed.", [], [])


def _step(change: Any) -> str:
    before: dict[str, Any] | None = change.before["data"] if change.before and change.before.get("live") else None
    after: dict[str, Any] | None = change.after["data"] if change.after and change.after.get("live") else None
    if before is None and after is None:
        return ""
    if before is None and after is not None:
        return f"{label(after, change.after['kind'])} put in"
    if after is None or before is None:
        return f"{label(before or {}, change.before['kind'])} taken out"
    keys = [k for k in after if after[k] != before.get(k) and k not in ("origin", "events", "confidence", "span")]
    return "; ".join(f"{k.replace('_', ' ')} {_plain(before.get(k))} is now {_plain(after[k])}" for k in keys)


def _plain(x: Any) -> str:
    return "not said" if x is None else spoken.digits(x) if isinstance(x, float) else str(x)


def label(row: dict[str, Any], kind: str) -> str:
    """A record in a few words."""
    for key in ("fastener", "of", "name", "what", "component"):
        if row.get(key):
            figure = f" {spoken.figure(row['value'], row.get('unit'))}" if row.get("value") is not None else ""
            return f"{row.get('action', '')} {row[key]}{figure}".strip()
    if kind == "fills":
        return f"fill of {spoken.figure(row['volume'], row.get('unit'))}" if row.get("volume") is not None else "fill"
    if kind == "readings" and row.get("value") is not None:
        return f"{row.get('meter')} {spoken.digits(row['value'])}"
    return kind.rstrip("s")


def missing(facts: Facts, query: Query, now: datetime) -> Answer:
    """The questions that wait for an answer."""
    rows = facts.diary.gaps()
    if not rows:
        bare = [f for f in facts.records("fills") if f.volume is None]
        if bare:
            days = spoken.listed(spoken.day(f.at, now.date()) for f in bare[-6:])
            unit = spoken.unit_name(facts.machine.volume)
            return Answer(
                spoken.sentence(
                    f"How much went in: the {unit} of the fill on {days} {'is' if len(bare) == 1 else 'are'} not noted"
                ),
                [],
                [f.id for f in bare[-6:]],
            )
        return Answer("Nothing is missing.", [], [])
    text = "; ".join(str(g["data"].get("question") or g["wants"]) for g in rows[-5:])
    return Answer(
        spoken.sentence(f"{len(rows)} open: {text}"),
        [value(len(rows), None)],
        [g["record"] for g in rows if g["record"]],
    )


def summary(facts: Facts, query: Query, now: datetime) -> Answer:
    """A few sentences on how things stand."""
    notes = facts.notes()
    if not notes:
        return cannot("Nothing is noted yet.")
    open_rows = [f for f in facts.records("faults") if is_open(f)]
    spans, _ = facts.economy()
    parts = [f"{len(notes)} notes, {len(facts.records('work'))} jobs done"]
    if spans:
        parts.append(f"last tank {spoken.figure(spans[-1].value, spans[-1].unit)}")
    parts.append(
        f"{len(open_rows)} open: {spoken.listed(name(f) for f in open_rows[:4])}" if open_rows else "no fault is open"
    )
    return Answer(
        spoken.sentence("; ".join(parts)),
        [value(spans[-1].value, spans[-1].unit, spans[-1].plus_minus)] if spans else [],
        [f.id for f in open_rows],
    )
