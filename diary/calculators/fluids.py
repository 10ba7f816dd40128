"""Coolant and oil mixes, and masses for balance and ballast."""

from __future__ import annotations

from cmath import phase, rect
from collections.abc import Sequence
from math import degrees, radians

from diary.errors import DiaryError

_BRINE = {"ethylene": "AEG", "propylene": "APG"}
"""CoolProp's ASHRAE solutions by share of volume."""
HIGHEST_SHARE = 0.60
"""Above 60 to 70 % glycol the freeze point rises again, and heat is carried worse."""


def _share(value: float, name: str) -> float:
    if not 0 <= value <= 1:
        raise DiaryError(f"The {name} is a share from 0 to 1 (50 % is 0.5), not {value:g}.")
    return value


def freeze_point_celsius(share: float, glycol: str = "ethylene") -> float:
    """Freeze point in °C of water with a `share` (0 to 0.6) of glycol by volume, by CoolProp (ASHRAE solutions).

    50 % ethylene glycol: −37.1 °C; printed tables agree within about 2 °C. Raises above 60 %, where it rises again.
    """
    if glycol not in _BRINE:
        raise DiaryError(f"Glycol is {' or '.join(_BRINE)}, not {glycol}.")
    if _share(share, "glycol") == 0:
        return 0.0
    if share > HIGHEST_SHARE:
        raise DiaryError(
            f"{share:.0%} glycol is over {HIGHEST_SHARE:.0%}: above that it protects less. Thin it with water."
        )
    if share < 0.1:
        raise DiaryError(
            f"{share:.0%} glycol is too thin to give a freeze point, and to keep rust away: 30 % is the least."
        )
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI("T_freeze", "T", 300, "P", 101325, f"INCOMP::{_BRINE[glycol]}[{share}]")) - 273.15


def volume_to_swap(total: float, now: float, wanted: float, *, refill: float | None = None) -> float:
    """Volume to drain and replace so that a system of `total` goes from share `now` to `wanted`: V·(c2 − c1)/(ca − c1).

    `refill` is the share of what goes in (None: concentrate 1.0 to go up, water 0.0 to go down). 12 L from 30 % to 50 %
    with concentrate: 3.429 L. Drain first, then fill.
    """
    if not total > 0:
        raise DiaryError(f"The system's volume must be above zero, not {total:g}.")
    _share(now, "present share")
    _share(wanted, "wanted share")
    if wanted == now:
        return 0.0
    added = (1.0 if wanted > now else 0.0) if refill is None else _share(refill, "refill")
    if added == now:
        raise DiaryError(f"A refill of {added:.0%} is what is in it already: it changes nothing.")
    swap = total * (wanted - now) / (added - now)
    if not 0 <= swap <= total:
        raise DiaryError(f"A refill of {added:.0%} cannot bring {now:.0%} to {wanted:.0%}.")
    return swap


def share_after_swap(total: float, now: float, swapped: float, refill: float = 1.0) -> float:
    """Share of glycol after draining `swapped` and filling with `refill`: ((V − x)·c1 + x·ca)/V. 10 L at 40 %, 2 L:
    0.52.
    """
    if not total > 0 or not 0 <= swapped <= total:
        raise DiaryError("The swapped volume lies from zero to the system's volume, which is above zero.")
    return ((total - swapped) * _share(now, "present share") + swapped * _share(refill, "refill")) / total


def two_stroke_oil(fuel: float, ratio: float, *, finished: bool = False) -> float:
    """Oil for `fuel` at ratio:1 by volume, in the unit of `fuel`: fuel ÷ n; of a `finished` volume: volume ÷ (n + 1).

    2 US gal at 32:1: 0.0625 gal = 8 fl oz. Follow the engine maker's ratio.
    """
    if not fuel > 0 or not 8 <= ratio <= 200:
        raise DiaryError(f"A mix needs fuel above zero and a ratio from 8 to 200 to 1, not {fuel:g} and {ratio:g}.")
    return fuel / (ratio + 1) if finished else fuel / ratio


def fuel_for_oil(oil: float, ratio: float) -> float:
    """Fuel that a measured amount of oil makes at ratio:1: oil × n."""
    if not oil > 0 or not 8 <= ratio <= 200:
        raise DiaryError(f"A mix needs oil above zero and a ratio from 8 to 200 to 1, not {oil:g} and {ratio:g}.")
    return oil * ratio


def balance_at_radius(mass: float, radius: float, new_radius: float) -> float:
    """Mass that balances the same at another radius: m·r1/r2 (the product counts). Radii in one unit."""
    if mass < 0 or not radius > 0 or not new_radius > 0:
        raise DiaryError("Balance needs a mass of zero or more and radii above zero.")
    return mass * radius / new_radius


def combined_balance(weights: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """(mass, angle in degrees 0 to 360) of one weight that does what several (mass, angle) do together."""
    if any(m < 0 for m, _ in weights):
        raise DiaryError("Balance weights are zero or more; give a weight on the other side by its angle.")
    total = sum((rect(m, radians(a)) for m, a in weights), 0j)
    return abs(total), degrees(phase(total)) % 360 if abs(total) > 1e-12 else 0.0


def ballast(mass: float, arm: float, ballast_arm: float) -> float:
    """Mass at `ballast_arm` beyond the pivot (axle) that holds `mass` at `arm` on the other side: m·a1/a2."""
    if mass < 0 or not arm > 0 or not ballast_arm > 0:
        raise DiaryError("Ballast needs a mass of zero or more and arms above zero.")
    return mass * arm / ballast_arm
