"""What the fuel costs, and the carbon dioxide it makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diary.calculators.economy_units import LITRES
from diary.calculators.fuel_records import Fill, Span
from diary.errors import DiaryError

CO2_PER_GALLON = {"gasoline": 8887.0, "diesel": 10180.0}
"""Grams of CO2 per US gallon burned (EPA-420-F-11-041 and later edition). Blends with ethanol make less per gallon."""


@dataclass(slots=True)
class Cost:
    """`value` in `unit` (currency per distance unit), from `total` over `distance`; `left_out` spans had no price."""

    value: float
    unit: str
    total: float
    distance: float
    left_out: int = 0


def cost_per_distance(spans: Sequence[Span], currency: str = "USD") -> Cost | None:
    """Money per mile, kilometre or hour: total paid ÷ distance, over the spans whose every fill has a price.

    The first fill to the brim only sets the start: its price is no part of it. None where no span has prices.
    """
    priced = [s for s in spans if s.cost is not None]
    distance = sum(s.distance for s in priced)
    if not distance:
        return None
    total = sum(s.cost for s in priced if s.cost is not None)
    unit = f"{currency}_per_{priced[0].distance_unit}"
    return Cost(total / distance, unit, total, distance, len(spans) - len(priced))


def price_per_volume(fill: Fill) -> float | None:
    """Price of one unit of volume at a fill; None where price or volume is missing."""
    return fill.price / fill.volume if fill.price is not None and fill.volume else None


def spent_by_month(fills: Sequence[Fill]) -> dict[str, float]:
    """Money paid for fuel by calendar month ("2026-05"), of the fills whose price is known, oldest first."""
    months: dict[str, float] = {}
    for fill in sorted(fills, key=lambda f: f.at):
        if fill.price is not None:
            month = f"{fill.at:%Y-%m}"
            months[month] = months.get(month, 0.0) + fill.price
    return months


def co2_grams(volume: float, unit: str = "gal_us", fuel: str = "gasoline") -> float:
    """Grams of CO2 from burning `volume` of gasoline or diesel (EPA: 8,887 and 10,180 g per US gallon).

    Carbon in the exhaust only; blends with ethanol or biodiesel are not covered.
    """
    if fuel not in CO2_PER_GALLON:
        raise DiaryError(f"CO2 is known for {' and '.join(CO2_PER_GALLON)}, not for {fuel}.")
    if unit not in LITRES or volume < 0:
        raise DiaryError(f"CO2 needs a volume of zero or more in gal_us, gal_imp or L, not {volume:g} {unit}.")
    return volume * LITRES[unit] / LITRES["gal_us"] * CO2_PER_GALLON[fuel]
