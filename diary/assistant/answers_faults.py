"""Answers about what is wrong: what is open, whether a thing is fixed, what it turned out to be, when it came back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer, cannot, value
from diary.assistant.facts import Facts, acted, answers_table, digits_in, entity, fault_text, find_event, quote
from diary.assistant.questions import Query
from diary.assistant.words import content, is_stop, overlap, stem, table, words
from diary.records.derive import OPEN_STATES

SHOWN = 9  # faults named in one breath; `diary faults` lists them all


def is_open(fault: Any) -> bool:
    """Whether a fault still stands."""
    return fault.state in OPEN_STATES


def name(fault: Any) -> str:
    """A fault as it is spoken of: what is wrong, with the place where that is not in it already."""
    text: str = fault.what or fault.component or "a fault"
    if fault.component and not set(content(fault.component)) & set(content(text)):
        text = f"{fault.component}: {text}"
    if fault.where and not set(content(fault.where)) & set(content(text)):
        text = f"{fault.where} {text}"
    return text


def last_moment(fault: Any) -> str:
    """When something was last said about a fault."""
    return str(max([fault.at, *(e["at"] for e in fault.events), fault.closed_at or "", fault.came_back_at or ""]))


def thread_notes(facts: Facts, fault: Any) -> list[str]:
    """The notes of a fault's thread that still stand, in order."""
    ids = [e["note"] for e in fault.events] + [
        n for n in (fault.opened_in_note, fault.closed_in_note, fault.came_back_in_note) if n
    ]
    return sorted({i for i in ids if facts.note(i)}, key=facts.order)


def matching(facts: Facts, query: Query, rows: Sequence[Any] | None = None, least: float = 0.5) -> list[Any]:
    """The faults a question is about, best first; those equally near are all given."""
    rows = facts.records("faults") if rows is None else rows
    about = entity(query.stems)
    if not about:
        return list(rows)
    scored = []
    for fault in rows:
        share = overlap(about, fault_text(fault))
        cause = overlap(about, fault.cause) if fault.cause else 0.0
        told = max((overlap(about, facts.note_text(n)) for n in thread_notes(facts, fault)), default=0.0)
        score = max(share, 0.75 * cause) + 0.25 * told
        if max(share, cause) >= least or (share >= 0.3 and told >= 0.99):
            scored.append((score, fault))
        elif told >= 0.99 and len(about) >= 1:
            scored.append((0.2 + 0.25 * told, fault))
    if not scored:  # one fault alone that shares a word with it
        some = [f for f in rows if overlap(about, fault_text(f)) >= 0.3]
        return some if len(some) == 1 else []
    top = max(s for s, _ in scored)
    near = [f for s, f in scored if s >= top - 0.05]
    return sorted(near, key=last_moment, reverse=True)


def open_faults(facts: Facts, query: Query, now: datetime) -> Answer:
    """What is still open; with an entity, of that only; safety-critical first."""
    rows = [f for f in facts.records("faults") if is_open(f)]
    about = entity(query.stems)
    if about:
        mine = [f for f in rows if overlap(about, fault_text(f)) >= 0.5]
        rows = mine or rows
    if "safety" in query.aspects:
        rows = [f for f in rows if f.safety or watched(fault_text(f))]
    if "back" in query.aspects and {"came", "come", "returned"} & set(query.all_words):
        came = [f for f in facts.records("faults") if f.came_back_in_note]
        if query.window.kind == "days" and query.window.start and query.window.end:
            came = [
                f
                for f in came
                if f.came_back_at
                and query.window.start.isoformat() <= f.came_back_at[:10] <= query.window.end.isoformat()
            ]
        if not came:
            return Answer("Nothing has come back so far.", [], [])
        text = "; ".join(
            f"{name(f)}, {spoken.day(f.came_back_at or f.at, now.date())}{', fixed since' if not is_open(f) else ''}"
            for f in came
        )
        return Answer(spoken.sentence(f"Came back: {text}"), [], [f.id for f in came])
    if not rows:
        kind = "safety-critical " if "safety" in query.aspects else ""
        return Answer(f"No {kind}fault is open.", [], [])
    rows.sort(key=lambda f: (not f.safety, f.at))
    marks = {"suspected": ", only suspected", "waiting": ", waiting", "back": ", came back"}
    text = "; ".join(f"{name(f)}{marks.get(f.state, '')}" for f in rows[:SHOWN])
    if len(rows) > SHOWN:
        text += f"; and {len(rows) - SHOWN} more"
    lead = f"{len(rows)} open: " if len(rows) > 1 else "One open: "
    if "safety" in query.aspects:
        lead = f"{len(rows)} safety-critical: "
    answer = spoken.sentence(lead + text)
    ids = [f.id for f in rows]
    if "todo" in query.aspects:
        more, others = _also_to_do(facts, now)
        answer, ids = f"{answer} {more}".strip(), ids + others
    return Answer(
        answer,
        [],
        ids,
        caution=any(f.safety for f in rows),
    )


def _also_to_do(facts: Facts, now: datetime) -> tuple[str, list[str]]:
    """What else waits beside open faults: plans to come, parts to buy."""
    from diary.assistant.answers_parts import called, in_state

    today = now.date().isoformat()
    plans = [p for p in facts.records("plans") if p.state == "open" and (p.due is None or p.due >= today)]
    parts = [life[-1] for life in in_state(facts, "needed")]
    text = spoken.sentence(f"Planned: {'; '.join(p.what for p in plans[-4:])}") if plans else ""
    if parts:
        text += " " + spoken.sentence(f"To buy: {spoken.listed(called(p) for p in parts[-6:])}")
    return text.strip(), [r.id for r in (*plans[-4:], *parts[-6:])]


def watched(text: str) -> bool:
    """Whether words name something on brakes, steering, suspension or wheels (data/answers.toml)."""
    low = f" {text.lower()} "
    return any(f" {w}" in low for w in answers_table("safety")["words"])


def _asks_if_fixed(query: Query) -> bool:
    """Whether "yes" would mean that the thing is right again."""
    return (
        bool(set(query.all_words) & set(table("turns")["fixed_words"]))
        and "still" not in query.all_words
        and "not" not in query.all_words
    )


def _quoted(
    facts: Facts, note: str, query: Query, fault: Any | None, causes: bool, limit: int = 38
) -> tuple[str, tuple[int, int]]:
    """What a note said, near the question's words and the fault's; and the characters of it."""
    text = facts.note_text(note)
    stems = [*query.stems, *content(fault_text(fault) if fault is not None else "")]
    if causes and fault is not None and note == fault.closed_in_note:
        blamed = set(_suspects(query))  # what it was is told, not what it was thought to be
        stems = [s for s in stems if s not in blamed]
        stems += content(" ".join([*_remedies(facts, fault), fault.cause or ""]))
    said = quote(text, stems, limit, causes=causes)
    at = max(0, text.find(said))
    return said, (at, at + len(said))


def values_in(facts: Facts, note: str, span: tuple[int, int] | None = None) -> list[dict[str, Any]]:
    """The measures of a note that lie in a stretch of it (all, where records have no place)."""
    rows = []
    for kind in ("measures", "torques"):
        for r in facts.of_note(kind, note):
            if r.value is not None and (
                span is None or r.span == (0, 0) or (r.span[0] < span[1] and span[0] < max(r.span[1], 1))
            ):
                rows.append(value(r.value, r.unit))
    return rows


def status(facts: Facts, query: Query, now: datetime, focus: Any | None = None) -> Answer:
    """Whether a fault stands, with what was last said of it."""
    found = [focus] if focus is not None and not entity(query.stems) else matching(facts, query)
    suspects = _suspects(query)
    told = bool(found) and any(
        overlap(suspects, text) >= 0.99
        for text in (fault_text(found[0]), *(facts.note_text(n) for n in thread_notes(facts, found[0])))
    )
    blamed = _blamed(facts, query) if suspects and not told else None
    if blamed is not None:
        found = [blamed, *(f for f in found if f.id != blamed.id)]
    if not found:
        return _from_notes(facts, query, now)
    if not entity(query.stems) and focus is None:
        return open_faults(facts, query, now)
    fault = found[0]
    others = [f for f in found[1:] if f.id != fault.id]
    stands = is_open(fault)
    fixed = _asks_if_fixed(query)
    yes = stands != fixed
    if {"come", "came", "return", "returned"} & set(query.all_words) and "back" in query.all_words and not stands:
        yes = bool(fault.came_back_in_note)
    known = name(fault)
    notes = thread_notes(facts, fault)
    returned = stands and fault.came_back_at and (fault.closed_at or "") <= fault.came_back_at
    if returned:
        waits = ", waiting" if fault.state == "waiting" else ""
        happened = f"it came back on {spoken.day(fault.came_back_at, now.date())} and is still open{waits}"
        tell = fault.came_back_in_note
    elif fault.state == "back":
        happened = f"it came back on {spoken.day(fault.came_back_at or fault.at, now.date())} and is still open"
        tell = fault.came_back_in_note
    elif fault.state == "ruled_out":
        happened = f"that was ruled out on {spoken.day(fault.closed_at or fault.at, now.date())}"
        tell = fault.closed_in_note
    elif not stands:
        again = (
            f" after it came back on {spoken.day(fault.came_back_at, now.date())}"
            if fault.came_back_at and (fault.closed_at or "") >= fault.came_back_at
            else ""
        )
        happened = f"it was fixed on {spoken.day(fault.closed_at or fault.at, now.date())}{again}"
        tell = fault.closed_in_note
    else:
        state = {"suspected": "only suspected so far", "waiting": "waiting"}.get(fault.state, "still open")
        happened = f"{state}, since {spoken.day(fault.opened_at or fault.at, now.date())}"
        tell = notes[-1] if notes else None
    text = f"{'Yes' if yes else 'No'}, {known}: {happened}"
    if fault.cause:
        text += f"; it was {fault.cause}" if not stands else f"; likely {fault.cause}"
    elif not stands and fault.state != "ruled_out" and (deeds := _remedies(facts, fault)):
        text += f"; that day: {spoken.listed(deeds)}"
    values: list[dict[str, Any]] = []
    answer = spoken.sentence(text)
    if tell and facts.note(tell):
        said, span = _quoted(facts, tell, query, fault, True)
        values = values_in(facts, tell, span)
        answer += f" You said: {spoken.sentence(digits_in(said))}"
    aside = _about_suspect(facts, query, fault, tell)
    if aside:
        answer += f" {aside}"
    mixed = [f for f in others if is_open(f) != stands]
    if mixed:
        answer += " " + spoken.sentence(f"Also {name(mixed[0])}: {'still open' if is_open(mixed[0]) else 'fixed'}")
    return Answer(
        answer,
        values,
        [fault.id],
        True,
        anchor=facts.note_moment(tell) if facts.note(tell) else None,
        subject=tuple(content(fault_text(fault))),
    )


def _suspects(query: Query) -> list[str]:
    """The stems of what "was it the ..." asks to blame, without what it is blamed for ("making that noise"); else none."""
    rows = answers_table("blame")
    words_ = query.all_words
    lead = next(
        (i for i in range(min(3, len(words_))) if words_[i] in rows["verbs"] and words_[i + 1 : i + 2] == ("it",)), None
    )
    due = next((i for i in range(len(words_) - 1) if words_[i : i + 2] in (("due", "to"), ("because", "of"))), None)
    for phrase in rows["leads"]:
        told = tuple(phrase.split())
        at = next((i for i in range(len(words_)) if words_[i : i + len(told)] == told), None)
        lead = at + len(told) - 2 if at is not None else lead
    if lead is None and words_[:1] and words_[0] in rows["verbs"]:  # "was the exhaust the cause of the knock"
        for phrase in rows["after"]:
            told = tuple(phrase.split())
            at = next((i for i in range(2, len(words_)) if words_[i : i + len(told)] == told), None)
            if at is not None:
                named = set(content(words_[1:at]))
                return [s for s in entity(query.stems) if s in named]
    if lead is None and due is not None:
        named = set(content(words_[due + 2 :]))
        return [s for s in entity(query.stems) if s in named]
    if lead is None and words_[-2:] != ("it", "was"):
        return []
    start = 0 if lead is None else lead + 2
    end = next((i for i in range(start, len(words_)) if words_[i] in rows["of"]), len(words_))
    named = set(content(words_[start:end]))
    return [s for s in entity(query.stems) if s in named]


def _blamed(facts: Facts, query: Query) -> Any | None:
    """The fault that stood when all the words of a suspect were spoken, the one closest to that note's words where several did."""
    suspects = _suspects(query)
    if not suspects:
        return None
    notes = [n for n in facts.diary.search(" ".join(query.about), 12) if overlap(suspects, n.text) >= 0.99]
    if not notes:
        notes = [n for n in facts.diary.search(" ".join(suspects), 12) if overlap(suspects, n.text) >= 0.99]
    ranked: list[tuple[float, str, Any]] = []
    for fault in facts.records("faults"):
        first, last = (fault.opened_at or fault.at)[:10], (fault.closed_at or "9999")[:10]
        if is_open(fault):
            last = "9999"
        own = set(content(fault_text(fault)))
        threads = set(thread_notes(facts, fault))
        for note in notes:
            if first <= note.at[:10] <= last:
                shared = len(own & set(content(note.text))) / max(1, len(own)) + 0.5 * (note.id in threads)
                shared += 0.5 * (set(query.stems) - set(suspects) <= own and set(query.stems) != set(suspects))
                ranked.append((shared, note.at, fault))
    return max(ranked, key=lambda r: r[:2])[2] if ranked else None


def _about_suspect(facts: Facts, query: Query, fault: Any, told: str | None) -> str:
    """What was said, while the fault stood, of the thing that "was it the ..." names, where the closing words do not
    say it."""
    suspect = _suspects(query) or [s for s in entity(query.stems) if s not in content(fault_text(fault))]
    if not suspect or not set(query.all_words[:6]) & {"was", "is", "it", "were"}:
        return ""
    if told and all(s in content(facts.note_text(told)) for s in suspect):
        return ""
    first, last = (fault.opened_at or fault.at)[:10], (fault.closed_at or "9999")[:10]
    rows = [n for n in facts.diary.search(" ".join(query.about), 12) if first <= n.at[:10] <= last and n.id != told]
    rows = [n for n in rows if overlap(suspect, n.text) >= 0.99] or [
        n for n in rows if overlap(suspect[:1], n.text) >= 0.99
    ]
    if not rows:
        return ""
    note = max(rows, key=lambda n: n.at)  # the last word on it
    return f"On {spoken.day(note.at)}: {spoken.sentence(digits_in(quote(note.text, suspect, 24, causes=True)))}"


def _remedies(facts: Facts, fault: Any) -> list[str]:
    """What was done in the note that closed a fault, the last two deeds that change anything."""
    rows = [
        w for w in facts.of_note("work", fault.closed_in_note or "") if w.component and acted(w.action, ["fix", "fit"])
    ]
    return [f"{w.action} {w.component}" for w in rows[-2:]]


def _from_notes(facts: Facts, query: Query, now: datetime) -> Answer:
    """What notes say where no fault record answers."""
    about = entity(query.stems)
    if about:
        for note in facts.diary.search(" ".join(query.about), 8):
            if overlap(about, note.text) >= 0.66:
                said = quote(note.text, about, 30, causes=True)
                return Answer(
                    f"No fault is noted for {query.named}. On {spoken.day(note.at, now.date())} "
                    f"you said: {spoken.sentence(digits_in(said))}",
                    values_in(facts, note.id),
                    [],
                    False,
                )
    return cannot(spoken.sentence(f"No, nothing is noted about {query.named or 'that'}"))


def cause(facts: Facts, query: Query, now: datetime, focus: Any | None = None) -> Answer:
    """What a fault turned out to be: its cause where known, and the words that told it."""
    found = [focus] if focus is not None and not entity(query.stems) else matching(facts, query)
    about = entity(query.stems)
    if not found:
        return _from_notes(facts, query, now)
    fault = _over(facts, query, found[0])
    notes = thread_notes(facts, fault)
    best_note, best_score = notes[-1] if notes else None, -1.0
    cues = set(answers_table("cause_cues")["words"])
    candidates = set(notes)
    if about:
        last = fault.closed_at if fault.closed_at and not is_open(fault) else now.isoformat()
        during = [
            n
            for n in facts.diary.search(" ".join(query.about), 12)
            if (fault.opened_at or fault.at)[:10] <= n.at[:10] <= last[:10]
        ]
        candidates |= {n.id for n in during if overlap(about, n.text) >= 0.6}
    stems = [*query.stems, *content(fault_text(fault))]
    for note in sorted(candidates, key=facts.order):
        said = quote(facts.note_text(note), stems, 30, causes=True)
        tokens = said.lower().split()
        score = overlap(query.stems or stems, said) + 0.3 * min(4, sum(1 for t in set(tokens) if t in cues))
        score += 0.5 * (note == fault.closed_in_note) + 0.2 * (note in notes)
        score -= 1.2 * (len(candidates) > 1 and note == fault.opened_in_note)  # what it did, not why
        if score >= best_score:
            best_note, best_score = note, score
    parts = []
    if fault.cause:
        parts.append(f"{name(fault)}: it was {fault.cause}")
    answer = spoken.sentence("; ".join(parts)) if parts else ""
    values: list[dict[str, Any]] = []
    if best_note:
        said, span = _quoted(facts, best_note, query, fault, True)
        answer = (
            f"{answer} On {spoken.day((facts.note(best_note) or fault).at, now.date())} you "
            f"said: {spoken.sentence(digits_in(said))}".strip()
        )
        values = values_in(facts, best_note, span)
    if is_open(fault):
        answer += " It is still open."
    if query.all_words[:1] and query.all_words[0] in ("was", "is", "were", "did") and _suspects(query):
        named = overlap([s for s in entity(query.stems)][:1], f"{fault.cause or ''} {fault.component or ''}") >= 0.99
        aside = _about_suspect(facts, query, fault, best_note)
        answer = f"{'Yes' if named else 'No'}: {answer} {aside}".strip()
    return Answer(
        answer, values, [fault.id], bool(fault.cause) or not is_open(fault), subject=tuple(content(fault_text(fault)))
    )


def _over(facts: Facts, query: Query, fault: Any) -> Any:
    """The fault that "what was wrong with the charging" means: one that is over and of which that very word was said, before an
    open one that is only called by a word of the same stem ("low on charge")."""
    if not is_open(fault) or not set(query.all_words) & set(answers_table("lasting")["past"]):
        return fault
    asked = {w for w in query.about if content(w)}

    def said(one: Any) -> bool:
        return any(asked <= {w.text for w in words(facts.note_text(n))} for n in thread_notes(facts, one))

    if not asked or said(fault):
        return fault
    return max((f for f in facts.records("faults") if not is_open(f) and said(f)), key=last_moment, default=fault)


def when(facts: Facts, query: Query, now: datetime, focus: Any | None = None) -> Answer:
    """When a fault was found, fixed, or came back."""
    if not entity(query.stems) and focus is None and query.window.first and query.window.first.words:
        named = tuple(w for w in query.window.first.words if content(w))  # "since when the engine light"
        query = replace(query, about=named, stems=tuple(content(" ".join(named))))
    found = [focus] if focus is not None and not entity(query.stems) else matching(facts, query)
    if not found:
        moment = find_event(facts, query.about)
        if moment is None:
            return cannot(spoken.sentence(f"No, nothing is noted about {query.named or 'that'}"))
        return Answer(
            spoken.sentence(f"{moment.label or 'That'} was on {spoken.day(moment.at, now.date())}"),
            [],
            [moment.record] if moment.record else [],
            False,
            anchor=moment,
        )
    tokens = set(query.all_words)
    how_long = "long" in tokens or ("many" in tokens and tokens & set(answers_table("lasting")["units"]))
    lasted = _lasted(facts, found[0], query, now) if how_long else None
    if lasted is not None:
        return lasted
    back = (
        bool(tokens & {"again", "returned", "return"})
        or _came_back(query)
        or "second time" in " ".join(query.all_words)
    )
    fixed = bool(tokens & {*table("turns")["fixed_words"], *answers_table("lasting")["mend"]}) and not back
    if back:
        came = [f for f in found if f.came_back_in_note] or [
            f for f in matching(facts, query, [f for f in facts.records("faults") if f.came_back_in_note])
        ]
        if not came:
            return cannot(
                spoken.sentence(
                    f"No, {name(found[0])} has not come back since it was noted on "
                    f"{spoken.day(found[0].at, now.date())}"
                ),
                found[0].id,
            )
        fault, at, note, verb = came[0], came[0].came_back_at or came[0].at, came[0].came_back_in_note, "came back"
    elif fixed:
        fault = next((f for f in found if f.closed_in_note and not is_open(f)), found[0])
        if is_open(fault):
            return Answer(
                spoken.sentence(
                    f"{name(fault)} is not fixed: it is open since "
                    f"{spoken.day(fault.opened_at or fault.at, now.date())}"
                ),
                [],
                [fault.id],
            )
        at, note, verb = (
            fault.closed_at or fault.at,
            fault.closed_in_note,
            "was ruled out" if fault.state == "ruled_out" else "was fixed",
        )
    elif "since" in tokens and is_open(found[0]) and found[0].came_back_at:
        fault = found[0]
        at, note, verb = fault.came_back_at, fault.came_back_in_note, "came back"
    else:
        fault = min(found, key=lambda f: f.at) if len(found) > 1 else found[0]
        at, note, verb = fault.opened_at or fault.at, fault.opened_in_note, "was first noted"
    text = f"{name(fault)} {verb} on {spoken.day(at, now.date())}"
    if "long" in tokens:
        days = (now - datetime.fromisoformat(at)).days
        text += f", {days} {'day' if days == 1 else 'days'} ago"
    moment = facts.note_moment(note, fault.what) if facts.note(note) else None
    return Answer(spoken.sentence(text), [], [fault.id], anchor=moment, subject=tuple(content(fault_text(fault))))


def _came_back(query: Query) -> bool:
    """Whether "back" is said of a return, and not of a place ("the back joint")."""
    words_ = query.all_words
    return any(
        w == "back" and (i + 1 == len(words_) or is_stop(words_[i + 1]) or words_[i + 1] in ("since", "when"))
        for i, w in enumerate(words_)
    )


def _lasted(facts: Facts, fault: Any, query: Query, now: datetime) -> Answer | None:
    """How long a fault stood, how long it stayed away, or how long it has stood by now."""
    tokens = set(query.all_words)
    closed = [e["at"] for e in fault.events if e["event"] in ("fixed", "ruled_out")]
    backs = [e["at"] for e in fault.events if e["event"] == "back"]
    opened = fault.opened_at or fault.at
    over = bool(tokens & set(answers_table("lasting")["over"])) and "now" not in tokens
    if backs and closed and tokens & set(answers_table("lasting")["away"]):
        before = [c for c in closed if c <= backs[-1]]
        if not before:
            return cannot(
                spoken.sentence(
                    f"{name(fault)} came back on {spoken.day(backs[-1], now.date())}, but when it was put right before is not noted"
                ),
                fault.id,
            )
        start, end, verb = before[-1], backs[-1], "stayed away for"
    elif closed and over and not (is_open(fault) and tokens & set(answers_table("lasting")["standing"])):
        end = closed[0] if "first" in tokens or (backs and is_open(fault)) else closed[-1]
        start = max((b for b in backs if b <= end), default=opened)
        verb = "stood for"
    elif is_open(fault):
        start, end, verb = (backs[-1] if backs else opened), now.isoformat(), "has stood for"
    else:
        return None
    days = (datetime.fromisoformat(end[:10]) - datetime.fromisoformat(start[:10])).days
    length = f"{days} {'day' if days == 1 else 'days'}" if days else "less than a day"
    until = "" if is_open(fault) and verb == "has stood for" else f" to {spoken.day(end, now.date())}"
    return Answer(
        spoken.sentence(
            f"{name(fault)} {verb} {length}, {'from' if until else 'since'} {spoken.day(start, now.date())}{until}"
        ),
        [value(days, "d")],
        [fault.id],
        subject=tuple(content(fault_text(fault))),
    )


__all__ = ["cause", "is_open", "matching", "name", "open_faults", "status", "stem", "values_in", "watched", "when"]
