"""The lists a person asks for, as plain tables: a title, column names and rows. How they look is `terminal.py`'s business."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from diary.records.derive import OPEN_STATES
from diary.records.diary import Diary
from diary.records.exporting import economy_row

UNIT_SIGNS = {
    "gal_us": "gal", "gal_imp": "imp gal", "ft_lb": "ft·lb", "in_lb": "in·lb", "N_m": "N·m", "mpg_us": "mpg", "mpg_imp": "mpg (imp)",
    "L_per_100km": "L/100 km", "gal_us_per_h": "gal/h", "gal_imp_per_h": "imp gal/h", "L_per_h": "L/h", "degC": "°C", "degF": "°F",
    "ohm": "Ω", "qt_us": "qt", "pt_us": "pt", "pt_imp": "pt", "oz_fl": "fl oz", "kmh": "km/h",
}  # fmt: skip

FAULT_STATES = {
    "found": "open", "suspected": "suspected", "waiting": "waiting", "back": "back again", "fixed": "fixed",
    "proven": "fixed and proven", "ruled_out": "ruled out",
}  # fmt: skip


@dataclass(slots=True)
class Table:
    """A list ready to be shown. `rows` are strings; `data` the same as plain values for `--json`; `note` a line below it."""

    title: str
    columns: list[str]
    rows: list[list[str]]
    data: list[dict[str, Any]]
    empty: str = "Nothing here yet."
    note: str | None = None
    numeric: set[str] = field(default_factory=set)


def figure(value: float | None, unit: str | None = None, digits: int = 3) -> str:
    """A value with its unit as a person reads it; an empty string for None."""
    if value is None:
        return ""
    text = f"{value:,.{digits}f}".rstrip("0").rstrip(".") if value % 1 else f"{value:,.0f}"
    return f"{text} {UNIT_SIGNS.get(unit, unit)}" if unit else text


def day(at: str | None) -> str:
    """The day of an ISO time."""
    return (at or "")[:10]


def money(value: float | None, currency: str) -> str:
    """A sum as written in its currency."""
    signs = {"USD": "$", "GBP": "£", "EUR": "€"}
    return "" if value is None else f"{signs.get(currency, currency + ' ')}{value:,.2f}"


def faults(diary: Diary, everything: bool = False) -> Table:
    """Open faults, safety first (or all of them)."""
    from diary.records.kinds import as_row

    found = [f for f in diary.records("faults") if everything or f.state in OPEN_STATES]
    found.sort(key=lambda f: (f.state not in OPEN_STATES, not f.safety, f.opened_at or f.at))
    return Table(
        "Faults" if everything else "Open faults",
        ["since", "fault", "where", "state", "safety"],
        [
            [day(f.opened_at or f.at), f.what, f.where or "", FAULT_STATES[f.state], "before driving" if f.safety else ""]
            for f in found
        ],
        [as_row(f) for f in found],
        empty="No open faults.",
        note=SAFETY if any(f.safety and f.state in OPEN_STATES for f in found) else None,
    )


SAFETY = (
    "Brakes, steering, suspension and wheels: the maker's service manual decides, with local rules and a licensed technician."
)


def latest_parts(diary: Diary) -> list[Any]:
    """The last record of each part's life, oldest first, with the cost and count that were told earlier in it."""
    lives: dict[str, Any] = {}
    for part in diary.records("parts"):
        before = lives.get(part.life or part.id)
        if before is not None:
            part.cost = before.cost if part.cost is None else part.cost
            part.count = before.count if part.count is None else part.count
        lives[part.life or part.id] = part
    return list(lives.values())


def parts(diary: Diary, everything: bool = False) -> Table:
    """Parts to buy and parts on their way (or every part's last state)."""
    from diary.records.kinds import as_row

    wanted = ("needed", "ordered") if not everything else None
    found = [p for p in latest_parts(diary) if wanted is None or p.state in wanted]
    return Table(
        "Parts" if everything else "Parts to get",
        ["since", "part", "count", "state", "cost"],
        [
            [day(p.at), p.name, figure(p.count), p.state, money(p.cost, p.currency or diary.machine.currency)] for p in found
        ],
        [as_row(p) for p in found],
        empty="Nothing to buy, nothing on order.",
        numeric={"count", "cost"},
    )


def fuel(diary: Diary, spans: list[Any] | None = None) -> Table:
    """The brim-to-brim spans with their economy; `spans` are the diary's, where they are at hand."""
    spans = diary.economy_spans() if spans is None else spans
    rows = []
    for s in spans:
        spread = f" ± {figure(s.plus_minus, None, 2)}" if s.plus_minus else ""
        rows.append(
            [
                f"{day(s.from_at.isoformat())} to {day(s.to_at.isoformat())}",
                figure(s.distance, diary.machine.distance, 1),
                figure(s.fuel, s.fuel_unit, 2),
                figure(s.value, None, 2) + spread + " " + UNIT_SIGNS.get(s.unit, s.unit),
                "estimated" if s.estimated else "",
            ]
        )
    table = Table(
        "Fuel economy, brim to brim",
        ["days", "distance", "fuel", "economy", ""],
        rows,
        [economy_row(s) for s in spans],
        empty="No economy yet: it takes two fills to the brim with a meter reading at each.",
        numeric={"distance", "fuel", "economy"},
    )
    if spans:
        from diary.calculators import economy

        whole = economy.overall(spans)
        assert whole is not None
        table.note = f"Overall {figure(whole.value, None, 2)} {UNIT_SIGNS.get(whole.unit, whole.unit)}" + (
            f" ± {figure(whole.plus_minus, None, 2)}" if whole.plus_minus else ""
        )
    return table


def torques(diary: Diary) -> Table:
    """Every torque, the last first."""
    from diary.records.kinds import as_row

    found = list(reversed(diary.records("torques")))
    lock = {True: "threadlocker", False: "no threadlocker", None: ""}
    return Table(
        "Torques",
        ["day", "fastener", "torque", "", "with"],
        [
            [day(t.at), t.fastener or "(not said)", figure(t.value, t.unit),
             "should be" if t.role == "target" else "done", lock[t.threadlocker]]
            for t in found
        ],
        [as_row(t) for t in found],
        empty="No torques noted yet.",
        note="A torque said here is what was said; the maker's service manual decides." if found else None,
        numeric={"torque"},
    )  # fmt: skip


def plans(diary: Diary, everything: bool = False) -> Table:
    """Open plans by due day; overdue ones are marked."""
    from diary.records.kinds import as_row

    today = diary.now().date().isoformat()
    found = [p for p in diary.records("plans") if everything or p.state == "open"]
    found.sort(key=lambda p: (p.state != "open", p.due or "9999", p.at))
    rows = []
    for p in found:
        due = p.due or (f"after {figure(p.due_distance, p.due_unit)}" if p.due_distance else p.condition or "")
        late = p.state == "open" and p.due is not None and p.due < today
        rows.append([due, p.what, "overdue" if late else p.state])
    return Table("Plans", ["due", "what", "state"], rows, [as_row(p) for p in found], empty="No open plans.")


def watch(diary: Diary) -> Table:
    """What to look at before the next drive: open faults that matter, fasteners torqued and not rechecked, planned checks."""
    from diary.assistant.answers import facts_of
    from diary.assistant.answers_work import watch_list

    found = watch_list(facts_of(diary), diary.now())
    return Table(
        "Before the next drive",
        ["check", "why"],
        [[what, why] for what, why, _ in found],
        [{"check": what, "why": why, "record": record.id} for what, why, record in found],
        empty="Nothing is waiting for a check.",
        note=SAFETY,
    )


def notes(diary: Diary) -> Table:
    """The notes as they were said."""
    found = diary.notes()
    return Table(
        "Notes",
        ["id", "when", "said"],
        [[n.id, n.at[:16].replace("T", " "), n.text] for n in found],
        [{"id": n.id, "at": n.at, "text": n.text, "source": n.source} for n in found],
        empty="No notes yet.",
    )


def gaps(diary: Diary) -> Table:
    """The questions that wait for an answer."""
    found = diary.gaps()
    return Table(
        "Waiting for an answer",
        ["id", "note", "question"],
        [[g["id"], g["note"] or "", g["data"].get("question") or f"What is the {g['wants']}?"] for g in found],
        [{k: g[k] for k in ("id", "note", "record", "wants", "state", "at", "data")} for g in found],
        empty="Nothing is waiting for an answer.",
    )


def history(diary: Diary, limit: int = 20) -> Table:
    """What changed, the last first, before and after."""
    rows, data = [], []
    for entry in diary.history(limit):
        told = [f"+ {summary(r)}" for r in entry.written] + [f"- {summary(r)}" for r in entry.gone]
        rows.append([entry.at.replace("T", " "), entry.what + (" (taken back)" if entry.reversed_by else ""), "\n".join(told)])
        data.append(
            {
                "id": entry.id, "at": entry.at, "what": entry.what, "note": entry.note.id if entry.note else None,
                "reversed_by": entry.reversed_by,
                "changes": [
                    {"table": c.table, "row": c.row, "before": c.before, "after": c.after} for c in entry.changes
                ],
            }
        )  # fmt: skip
    return Table("History", ["when", "what", "records"], rows, data, empty="Nothing has been written yet.")


def summary(record: Any) -> str:
    """One record in a few words."""
    kind = record.KIND
    if kind == "fills":
        full = {True: ", to the brim", False: ", not full", None: ""}[record.to_brim]
        return f"fill {figure(record.volume, record.unit) or 'without a volume'}{full}"
    if kind == "readings":
        return f"{record.meter} {figure(record.value, record.unit)}"
    if kind == "resets":
        return f"{record.meter} meter to zero" + (f", {figure(record.before, record.unit)} before" if record.before else "")
    if kind == "torques":
        return f"{record.fastener or 'a fastener'} {figure(record.value, record.unit)}" + (
            " (should be)" if record.role == "target" else ""
        )
    if kind == "measures":
        return f"{record.of or record.quantity} {figure(record.value, record.unit)}"
    if kind == "parts":
        return f"{record.name} {record.state}"
    if kind == "faults":
        return f"{record.what}: {FAULT_STATES[record.state]}"
    if kind == "work":
        return f"{record.action} {record.component or ''}".strip()
    if kind == "drives":
        return f"drive {figure(record.distance, record.unit)}"
    return f"{kind.rstrip('s')}: {record.what}"
