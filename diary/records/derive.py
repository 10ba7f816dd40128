"""From drafts to records: ids, threads and lives. Pure functions; nothing here reads or writes the store.

A fault or plan is a fold over its events, so that taking one note's events away (or adding a person's correction) and folding
again gives what the thread would have been without it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diary.language.types import Draft
from diary.records.kinds import KINDS, Fault, Part, Plan, Record, record_from

OPEN_STATES = frozenset({"found", "suspected", "waiting", "back"})
SHUT_STATES = frozenset({"fixed", "proven", "ruled_out"})
CLOSING = frozenset({"fixed", "ruled_out"})

Event = dict[str, Any]


def fold_fault(record_id: str, events: list[Event]) -> Fault | None:
    """The fault that `events` tell, oldest first; None when nothing is left of it."""
    told = [e for e in events if e["event"] != "corrected"]
    if not told:
        return None
    first = told[0]
    fault = Fault(
        id=record_id, note=first["note"], at=first["at"], span=tuple(first["span"]), seconds=first.get("seconds"),
        confidence=first.get("confidence", 0.9), opened_in_note=first["note"], opened_at=first["at"], events=events,
    )  # fmt: skip
    for event in events:
        kind, said = event["event"], event.get("fields", {})
        if kind == "corrected":
            fault.origin = "person"
        for name in ("what", "component", "where", "safety", "cause", "waiting_for"):
            value = said.get(name)
            if value is None:
                continue
            if kind == "corrected" or event is first or name in ("cause", "waiting_for") or not getattr(fault, name):
                setattr(fault, name, value)
        if kind in ("found", "suspected", "back") and event is first:
            fault.state = "suspected" if kind == "suspected" else "found"
        elif kind in CLOSING:
            if fault.state not in SHUT_STATES:  # said again of a shut fault ("still dry") it changes nothing
                fault.state, fault.closed_in_note, fault.closed_at = kind, event["note"], event["at"]
        elif kind == "proven":
            if fault.state == "fixed":
                fault.state = "proven"
        elif kind == "back" or (kind == "found" and fault.state in SHUT_STATES):
            fault.state, fault.came_back_in_note, fault.came_back_at = "back", event["note"], event["at"]
        elif kind == "waiting" and fault.state not in SHUT_STATES:
            fault.state = "waiting"
        elif kind in ("found", "cause") and fault.state == "suspected":
            fault.state = "found"
        elif kind == "corrected":
            for name in ("state", "opened_at", "closed_at", "came_back_at", "closed_in_note", "came_back_in_note"):
                if name in said:
                    setattr(fault, name, said[name])
    return fault


def fold_plan(record_id: str, events: list[Event]) -> Plan | None:
    """The plan that `events` tell; None when nothing is left of it."""
    made = [e for e in events if e["event"] in ("made", "moved")]
    if not made:
        return None
    first = made[0]
    plan = Plan(
        id=record_id, note=first["note"], at=first["at"], span=tuple(first["span"]), seconds=first.get("seconds"),
        confidence=first.get("confidence", 0.9), events=events,
    )  # fmt: skip
    for event in events:
        kind, said = event["event"], event.get("fields", {})
        if kind == "corrected":
            plan.origin = "person"
        for name in ("what", "due", "due_distance", "due_unit", "condition", "state"):
            if name in said and (kind in ("corrected", "moved") or event is first) and said[name] is not None:
                setattr(plan, name, said[name])
        if kind == "done":
            plan.state, plan.done_in_note = "done", event["note"]
        elif kind == "dropped":
            plan.state = "dropped"
        elif kind == "moved" and event is not first:
            plan.state = "open"
    return plan


FOLDS = {"faults": fold_fault, "plans": fold_plan}


def refold(kind: str, record_id: str, events: list[Event]) -> Record | None:
    """`fold_fault` or `fold_plan` by the name of the kind."""
    return FOLDS[kind](record_id, events)


def without_note(record: Fault | Plan, note: str) -> Record | None:
    """The thread as it would be had `note` never been written."""
    return refold(record.KIND, record.id, [e for e in record.events if e["note"] != note])


def derive(
    drafts: list[Draft], note: str, at: str, known: Mapping[str, Record], seconds: Any = None
) -> list[tuple[Record | None, Record]]:
    """What `drafts` of one note make of the records: (before, after) pairs, before None for a new record.

    `known` holds the records as they stand, by id; `seconds(start, end)` gives the seconds of sound for characters.
    """
    counts: dict[str, int] = {}
    names: dict[str, str] = {}  # "#n" of a draft to the id of the record it became
    state: dict[str, Record] = {}
    before: dict[str, Record | None] = {}

    for place, draft in enumerate(drafts):
        if "candidates" in draft.fields:
            continue  # two threads fit: the assistant asks which
        thread = names.get(draft.thread, draft.thread) if draft.thread else None
        target = state.get(thread) or known.get(thread) if thread else None
        span = (draft.start, draft.end)
        when = str(draft.fields.get("at") or at)
        heard = seconds(*span) if seconds else None
        if draft.kind in FOLDS:
            default = "found" if draft.kind == "faults" else "made"
            event: Event = {
                "note": note, "at": when, "event": draft.event or default, "span": list(span),
                "confidence": round(draft.confidence, 3), "fields": {k: v for k, v in draft.fields.items() if k != "at"},
            }  # fmt: skip
            if heard:
                event["seconds"] = list(heard)
            events = list(target.events) if isinstance(target, Fault | Plan) else []
            record_id = target.id if target is not None else _new_id(note, draft.kind, counts)
            made = refold(draft.kind, record_id, [*events, event])
            if made is None:
                continue
        else:
            record_id = _new_id(note, draft.kind, counts)
            made = record_from(draft.kind, draft.fields)
            made.id, made.note, made.at, made.span = record_id, note, when, span
            made.confidence, made.seconds = round(draft.confidence, 3), heard
            if isinstance(made, Part):
                made.life = (target.life or target.id) if isinstance(target, Part) else record_id
        if record_id not in before:
            before[record_id] = known.get(record_id)
        state[record_id] = made
        names[f"#{place}"] = record_id
    return [(before[i], made) for i, made in state.items()]


def _new_id(note: str, kind: str, counts: dict[str, int]) -> str:
    counts[kind] = counts.get(kind, 0) + 1
    assert kind in KINDS, kind
    return f"{note}.{kind}.{counts[kind]}"


def overlaps(a: tuple[int, int], b: tuple[int, int]) -> bool:
    """Whether two character spans share a character (an empty span touches what it lies in)."""
    return (a[0] < b[1] and b[0] < a[1]) or a == b
