"""From records to the plain values that calculators take, and back."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from diary.records.diary import Diary


def economy_inputs(diary: Diary) -> tuple[list[Any], list[Any], list[Any]]:
    """The diary's fills, trip resets and meter readings as `calculators.economy` takes them."""
    from diary.calculators import economy

    fills = [
        economy.Fill(
            at=datetime.fromisoformat(f.at), note=f.note, volume=f.volume, unit=f.unit or diary.machine.volume,
            to_brim=f.to_brim, odometer=f.odometer, trip=f.trip, price=f.price_total, tank=f.tank,
            **({"low": f.low, "high": f.high} if "low" in economy.Fill.__dataclass_fields__ else {}),
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


def economy_spans(diary: Diary) -> list[Any]:
    """The brim-to-brim spans of the diary's machine, in its own units."""
    from diary.calculators import economy

    fills, resets, readings = economy_inputs(diary)
    return economy.spans(
        fills, resets, readings, distance_unit=diary.machine.distance, volume_unit=diary.machine.volume,
        meter_factor=diary.machine.meter_factor,
    )  # fmt: skip
