"""What is missing from a note, asked for once; and answers to what waits.

A gap is a row of the store: {"id", "wants", "note", "record", "state", "data"}. `data` says what was doubted or missing
("kind", "field", "fields", "about") and holds the question as it is spoken.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from diary.assistant import spoken
from diary.assistant.words import content, overlap, plain, table
from diary.records.diary import Diary, Entry


@cache
def _unknown() -> tuple[str, ...]:
    return tuple(table("checks")["unknown"]["words"])


def says_unknown(text: str) -> bool:
    """Whether the words say that the value is not known ("no idea", "did not keep the receipt")."""
    low = f" {plain(text)} "
    return any(f" {w} " in low for w in _unknown())


def open_missing(
    diary: Diary, entry: Entry, records: list[Any], doubted: set[str | None], opened: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Open gaps for what the note's records lack. `doubted` are fields of fills already asked about."""
    from diary.assistant.checks import ask_for

    assert entry.note is not None
    text, note = entry.note.text, entry.note.id
    machine = diary.machine
    out: list[dict[str, Any]] = []
    unknown = says_unknown(text)
    meters = {r.meter for r in records if r.KIND == "readings"} | {g["wants"] for g in opened}
    confirming = any(g["wants"] == "confirm" and g["data"].get("kind") == "readings" for g in opened)
    for fill in (r for r in records if r.KIND == "fills"):
        if fill.volume is None and "volume" not in doubted and not unknown:
            out.append(
                diary.open_gap(
                    "volume",
                    note=note,
                    record=fill.id,
                    reason="missing",
                    kind="fills",
                    field="volume",
                    unit=fill.unit or machine.volume,
                    about=None,
                    question=ask_for("volume_missing", unit=spoken.unit_name(fill.unit or machine.volume)),
                )
            )
        meter = "hours" if machine.distance == "h" else "odometer"
        known = fill.odometer is not None or fill.trip is not None or meter in meters or "trip" in meters or confirming
        if fill.to_brim and not known and not unknown:
            out.append(
                diary.open_gap(
                    meter,
                    note=note,
                    record=fill.id,
                    reason="missing",
                    kind="readings",
                    field="value",
                    about=None,
                    fill=fill.id,
                    unit=machine.distance,
                    question=ask_for(f"{meter}_missing"),
                    at=fill.at,
                    fields={"meter": meter, "unit": machine.distance, "approx": False},
                )
            )
    torqued = [r for r in records if r.KIND == "torques"]
    doubted_torques = [g for g in opened if g["data"].get("kind") == "torques"]
    for work in (r for r in records if r.KIND == "work"):
        tight = work.action.lower().startswith(("tighten", "torqu", "retorqu", "snug"))
        if not tight or not _fastener(work.component) or unknown or doubted_torques:
            continue
        if any(
            overlap(content(work.component or ""), t.fastener) >= 0.5
            or overlap(content(t.fastener or ""), work.component) >= 0.5
            for t in torqued
        ):
            continue
        if any(w in plain(text).split() for w in table("turns")["by_feel"]):
            continue
        out.append(
            diary.open_gap(
                "torque",
                note=note,
                record=None,
                reason="missing",
                kind="torques",
                field="value",
                about=None,
                unit=machine.torque,
                at=work.at,
                fields={"fastener": work.component, "unit": machine.torque, "role": "applied", "threadlocker": None},
                question=ask_for("torque_missing", thing=work.component, unit=spoken.unit_name(machine.torque)),
            )
        )
    for torque in torqued:
        if not torque.fastener and torque.value is not None:
            out.append(
                diary.open_gap(
                    "fastener",
                    note=note,
                    record=torque.id,
                    reason="missing",
                    kind="torques",
                    field="fastener",
                    about=torque.value,
                    question=ask_for("fastener_missing", value=spoken.figure(torque.value, torque.unit)),
                )
            )
    for draft in entry.unresolved:
        ids = [i if isinstance(i, str) else i.get("id", "") for i in draft.fields["candidates"]]
        rows = [r for i in ids if (r := _known(diary, i)) is not None]
        if len(rows) < 2:
            continue
        kind = draft.kind
        names = [spoken_name(r) for r in rows[:4]]
        part = (
            "which fault"
            if draft.event in ("fixed", "ruled_out", "worked", "cause")
            else "which part"
            if draft.event in ("back", "found")
            else f"which {kind.rstrip('s')}"
        )
        out.append(
            diary.open_gap(
                part,
                note=note,
                record=None,
                reason="which",
                kind=kind,
                field=None,
                about=names,
                choices=ids[:4],
                event=draft.event,
                fields={k: v for k, v in draft.fields.items() if k != "candidates"},
                question=f"Which one: {spoken.listed(names, 'or')}?",
            )
        )
    return out


def _known(diary: Diary, record_id: str) -> Any | None:
    from diary.errors import DiaryError

    try:
        return diary.get(record_id)
    except DiaryError:
        return None


def spoken_name(record: Any) -> str:
    """A record in the few words by which a person would tell it from another."""
    if record.KIND == "faults":
        from diary.assistant.answers_faults import name

        return name(record)
    for key in ("fastener", "name", "of", "component", "what"):
        if getattr(record, key, None):
            return str(getattr(record, key))
    if record.KIND == "readings":
        return f"{record.meter} {spoken.digits(record.value or 0, 1)}"
    return str(record.KIND.rstrip("s"))


def _fastener(text: str | None) -> bool:
    tokens = set((text or "").lower().split())
    return bool(tokens & set(table("turns")["fasteners"]))


def pressing(rows: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The gap to ask first: a doubt before something missing, in the order they came."""
    order = {"doubt": 0, "which": 1, "missing": 2, "economy": 3}
    return min(rows, key=lambda g: order.get(g["data"].get("reason", "missing"), 2), default=None)
