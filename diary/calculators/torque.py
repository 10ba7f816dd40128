"""Torque: an estimate from bolt size and grade, correction for an adapter or a lubricant, and when to check again."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from math import cos, pi, radians
from typing import Any

from diary.calculators.tables import table
from diary.errors import DiaryError

NM_PER_FT_LB = 1.3558179483314004
"""Exact: 4.4482216152605 N × 0.3048 m."""
N_PER_LBF = 4.4482216152605


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread: `diameter` and `pitch` in mm, `system` metric or inch, `name` as it is written on a drawing."""

    name: str
    system: str
    diameter: float
    pitch: float

    @property
    def stress_area(self) -> float:
        """Tensile stress area in mm²: (π/4)(d − 0.938194·P)² metric, (π/4)(d − 0.974279/n)² inch (n = 1/pitch).

        The coefficients differ: metric takes the root diameter d3, inch an older one (ISO 898-1; ASME B1.1).
        """
        share = 0.938194 if self.system == "metric" else 0.974279
        return pi / 4 * (self.diameter - share * self.pitch) ** 2

    @property
    def printed_area(self) -> float:
        """Stress area in mm² as the standard prints it, rounded, where the data file has it; else by formula."""
        facts = table("fasteners")
        if self.system == "metric":
            return float(facts["metric_area"].get(f"{self.diameter:g}x{self.pitch:g}", self.stress_area))
        inches = facts["inch_area"].get(self.name)
        return self.stress_area if inches is None else float(inches) * 25.4**2


def thread(size: str) -> Thread:
    """Read a thread size: M10, M10x1.25, 3/8-16, 1/2-20, 3/8 (coarse), 7/16 fine. Raises DiaryError on others."""
    facts = table("fasteners")
    text = re.sub(r"\s+", " ", size.strip().lower().replace("×", "x").replace('"', ""))
    metric = re.fullmatch(r"m ?(\d{1,2}(?:\.\d)?)(?: ?[x*-] ?(\d(?:\.\d+)?))?", text)
    if metric:
        diameter = float(metric[1])
        pitch = float(metric[2]) if metric[2] else facts["metric_coarse"].get(f"{diameter:g}")
        if pitch is None:
            raise DiaryError(
                f"The coarse pitch of {size} is not known here: write the pitch too, such as M{diameter:g}x1.5."
            )
        if not 1.6 <= diameter <= 72 or not 0.1 <= pitch <= diameter / 3:
            raise DiaryError(f"Thread {size} is not believable: diameter from 1.6 to 72 mm, pitch up to a third of it.")
        return Thread(f"M{diameter:g}x{pitch:g}", "metric", diameter, float(pitch))
    inch = re.fullmatch(r"(\d{1,2}/\d{1,2}|\d)(?: ?- ?(\d{1,2})| (unc|unf|coarse|fine))?(?: (?:unc|unf))?", text)
    if inch:
        fraction = Fraction(inch[1])
        fine = inch[3] in ("unf", "fine")
        per_inch = int(inch[2]) if inch[2] else facts["inch_fine" if fine else "inch_coarse"].get(str(fraction))
        if not per_inch or not Fraction(1, 8) <= fraction <= Fraction(3, 2):
            raise DiaryError(f"Thread {size} is not known here: write diameter and threads per inch, such as 3/8-16.")
        return Thread(f"{fraction}-{per_inch}", "inch", float(fraction) * 25.4, 25.4 / per_inch)
    raise DiaryError(f"'{size}' is not read as a thread: write it as M10x1.25, M8, 3/8-16 or 7/16 fine.")


def proof_strength(grade: str, size: Thread) -> float:
    """Proof strength in MPa of a property class (8.8, 10.9, 12.9) or SAE grade (2, 5, 8) at this diameter."""
    grades = table("fasteners")["grades"]
    text = grade.strip().lower().removeprefix("grade").removeprefix("class").strip()
    found: dict[str, Any] | None = grades.get(text)
    if found is None:
        raise DiaryError(f"Grade '{grade}' is not known: use {', '.join(grades)}.")
    if found["system"] != size.system:
        raise DiaryError(
            f"Grade {text} is for {found['system']} threads and {size.name} is {size.system}: check the head's marking."
        )
    inch = size.system == "inch"
    diameter = size.diameter / 25.4 if inch else size.diameter
    for largest, strength in found["limits"]:
        if diameter <= largest + 1e-9:
            return float(strength) * (6.894757293168361 if inch else 1.0)
    raise DiaryError(f"Grade {text} is not defined for {size.name}: it ends at {found['limits'][-1][0]:g}.")


def refuse_if_critical(fastener: str) -> None:
    """Raise DiaryError for a fastener that must never be tightened to an estimate (data file fasteners.toml, never)."""
    text = fastener.lower()
    for group in table("fasteners")["never"].values():
        for word in group:
            if re.search(rf"\b{re.escape(word)}(?:s|es)?\b", text):
                raise DiaryError(
                    f"No estimate for '{fastener}': wheel, brake, steering, suspension, cylinder head and "
                    "torque-to-yield fasteners go by the service manual's figure only."
                )


@dataclass(frozen=True, slots=True)
class Estimate:
    """Torque in N·m with the range that friction alone allows, and the clamp load in N at the usual friction."""

    torque: float
    low: float
    high: float
    preload: float
    k: float
    thread: Thread
    grade: str

    @property
    def ft_lb(self) -> float:
        """The torque in lbf·ft."""
        return self.torque / NM_PER_FT_LB


def estimate(
    size: Thread,
    grade: str,
    condition: str = "dry",
    *,
    k: float | None = None,
    fastener: str = "",
    printed: bool = True,
) -> Estimate:
    """Torque for a joint that is taken apart again: F = 0.75·Sp·As, T = K·d·F.

    `condition` picks K from fasteners.toml (dry 0.20, oiled 0.15, ...); `k` overrides it. `printed` takes the stress
    area as the standard rounds it. `low` and `high` are the torques for the lowest and highest K of that condition at
    the same clamp load. Refuses fasteners that must go by the manual. Torque control scatters clamp load by about ±30
    %.
    """
    refuse_if_critical(fastener)
    facts = table("fasteners")
    usual, low, high = _friction(condition)
    if k is not None:
        if not 0.05 <= k <= 0.5:
            raise DiaryError(f"A nut factor K of {k:g} is not believable: it lies from 0.05 to 0.5.")
        usual = low = high = k
    area = size.printed_area if printed else size.stress_area
    preload = facts["practice"]["proof_share"] * proof_strength(grade, size) * area
    arm = size.diameter / 1000
    return Estimate(usual * arm * preload, low * arm * preload, high * arm * preload, preload, usual, size, grade)


def _friction(condition: str) -> tuple[float, float, float]:
    known = table("fasteners")["friction"]
    name = condition.strip().lower().replace(" ", "_").replace("-", "_")
    if name not in known:
        raise DiaryError(f"Thread condition '{condition}' is not known: use {', '.join(known)}.")
    usual, low, high = known[name]["k"]
    return float(usual), float(low), float(high)


def preload_from_torque(torque: float, diameter_mm: float, k: float) -> float:
    """Clamp load in N from torque in N·m: F = T ÷ (K·d)."""
    if not torque > 0 or not diameter_mm > 0 or not k > 0:
        raise DiaryError("Clamp load needs a torque, a diameter and a nut factor above zero.")
    return torque / (k * diameter_mm / 1000)


def adapter_setting(wanted: float, wrench_length: float, adapter_length: float, angle: float = 0.0) -> float:
    """Wrench setting for a crowfoot or other side arm: M1 = M2·L1 ÷ (L1 + L2·cos θ), in the unit of `wanted`.

    L1 from grip centre to drive and L2 from drive to fastener in the same unit; θ in degrees, 0 straight ahead, 90
    across (no correction), 180 back along the handle. For a pull square to the wrench; between 0 and 90 it is itself
    an approximation. A plain socket extension needs none.
    """
    if not wanted > 0 or not wrench_length > 0 or adapter_length < 0:
        raise DiaryError(
            "An adapter needs a torque and a wrench length above zero, and an adapter length of zero or more."
        )
    if adapter_length >= wrench_length:
        raise DiaryError(
            f"An adapter of {adapter_length:g} on a wrench of {wrench_length:g} is too long: use a longer wrench."
        )
    if not -180 <= angle <= 180:
        raise DiaryError(f"The adapter's angle lies from -180 to 180 degrees, not {angle:g}.")
    return wanted * wrench_length / (wrench_length + adapter_length * cos(radians(angle)))


def torque_for_friction(torque: float, k_given: float, k_now: float) -> float:
    """Torque for equal clamp load on a slicker or rougher thread: T2 = T1·K2/K1. 100 N·m dry (0.20) is 75 oiled (0.15).

    Where the manual states a torque with a named compound, that figure stands unchanged.
    """
    if not torque > 0 or not 0.05 <= k_given <= 0.5 or not 0.05 <= k_now <= 0.5:
        raise DiaryError("Friction correction needs a torque above zero and nut factors from 0.05 to 0.5.")
    return torque * k_now / k_given


def nut_factor(condition: str) -> float:
    """The usual nut factor K of a thread condition named in fasteners.toml."""
    return _friction(condition)[0]


def recheck_window(fitted_at: float, unit: str = "mi") -> tuple[float, float]:
    """Odometer window in which to check wheel fasteners again: 50 to 100 miles (80 to 160 km) on (common practice)."""
    low, high = table("fasteners")["practice"]["recheck_mi"]
    if unit == "mi":
        return fitted_at + low, fitted_at + high
    if unit == "km":
        return fitted_at + low * 1.6, fitted_at + high * 1.6
    raise DiaryError(f"Wheels are checked again by mi or km, not by {unit}.")


def recheck_schedule(
    fitted_at: float, checks: list[tuple[float, bool]], unit: str = "mi"
) -> tuple[float, float] | None:
    """The next window after `checks` of (odometer, did one move?), oldest first; None when nothing more is due.

    A check at or beyond the near end of the window that found nothing moved ends it; one that moved starts a new
    window.
    """
    window: tuple[float, float] | None = recheck_window(fitted_at, unit)
    for odometer, moved in checks:
        if moved:
            window = recheck_window(odometer, unit)
        elif window is not None and odometer >= window[0]:
            window = None
    return window
