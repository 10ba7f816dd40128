"""When a repair counts as proven: driven a distance, set per system, since it was fixed, without complaint."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import Any

from diary.records.derive import refold
from diary.records.kinds import Fault, Reading, Record

KM_PER_MILE = 1.609344  # exact, by definition of the international mile


@cache
def _facts() -> dict[str, Any]:
    return tomllib.loads(files("diary.records").joinpath("data/proof.toml").read_text(encoding="utf-8"))


def proof_distance(component: str | None, unit: str) -> float:
    """How far, in `unit` (mi, km or h), a repair of `component` must be driven to count as proven."""
    from diary.language.lexicon import load

    facts = _facts()
    systems = [h.data.get("system") for h in load().find(component or "")]
    miles = next((float(facts["distance"][s]) for s in systems if s in facts["distance"]), float(facts["otherwise"]))
    if unit == "h":
        return miles / float(facts["miles_an_hour"])
    return miles * KM_PER_MILE if unit == "km" else miles


def proven(records: Iterable[Record], reading: Reading) -> list[tuple[Fault, Fault]]:
    """The faults that `reading` proves fixed, (before, after): the meter has gone far enough since they were closed."""
    if reading.value is None or reading.meter == "trip":
        return []
    faults: list[Fault] = []
    meters: list[Reading] = []
    for r in records:
        if isinstance(r, Fault) and r.state == "fixed" and r.closed_at and r.closed_at <= reading.at:
            faults.append(r)
        elif isinstance(r, Reading) and r.meter == reading.meter and r.value is not None and r.id != reading.id:
            meters.append(r)
    made = []
    for fault in faults:
        before = [m.value for m in meters if m.at <= (fault.closed_at or "") and m.value is not None]
        after = [m.value for m in meters if m.at > (fault.closed_at or "") and m.value is not None]
        start = before[-1] if before else after[0] if after else None
        if start is None or reading.value - start < proof_distance(fault.component or fault.what, reading.unit or "mi"):
            continue
        event = {"note": reading.note, "at": reading.at, "event": "proven", "span": list(reading.span), "fields": {}}
        after_it = refold("faults", fault.id, [*fault.events, event])
        if isinstance(after_it, Fault):
            made.append((fault, after_it))
    return made
