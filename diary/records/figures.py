"""From records to the plain values that calculators take, and back."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from diary.records.diary import Diary
    from diary.records.machine import Machine


def economy_inputs(diary: Diary) -> tuple[list[Any], list[Any], list[Any]]:
    """The diary's fills, trip resets and meter readings as `calculators.economy` takes them."""
    from diary.calculators import economy

    fills = [
        economy.Fill(
            at=datetime.fromisoformat(f.at), note=f.note, volume=f.volume, unit=f.unit or diary.machine.volume,
            to_brim=f.to_brim, odometer=f.odometer, trip=f.trip, price=f.price_total, tank=f.tank, low=f.low, high=f.high,
        )
        for f in diary.records("fills")
    ]  # fmt: skip
    resets = [
        economy.Reset(at=datetime.fromisoformat(r.at), note=r.note, before=r.before, low=r.low, high=r.high)
        for r in diary.records("resets")
        if r.meter == "trip"
    ]
    readings = [
        economy.Reading(at=datetime.fromisoformat(r.at), note=r.note, meter=r.meter, value=r.value, approx=r.approx)
        for r in diary.records("readings")
        if r.value is not None
    ]
    return fills, resets, readings


def economy_settings(machine: Machine) -> dict[str, Any]:
    """What the machine says of its meter and tanks, as the keyword arguments of `calculators.economy.spans`."""
    from diary.calculators.economy import MeterFactor

    factors = [
        MeterFactor(since=datetime.fromisoformat(f["since"]) if f.get("since") else None, factor=f["factor"], odometer=f.get("odometer"))
        for f in machine.factors
    ]
    return {
        "distance_unit": machine.distance, "volume_unit": machine.volume, "rollover": machine.rollover,
        "meter_factor": factors or machine.meter_factor, "tanks": machine.tanks,
        "meter_changes": [datetime.fromisoformat(at) for at in machine.meter_changes],
    }  # fmt: skip


def economy_spans(diary: Diary) -> list[Any]:
    """The brim-to-brim spans of the diary's machine, in its own units."""
    from diary.calculators import economy

    return economy.spans(*economy_inputs(diary), **economy_settings(diary.machine))
