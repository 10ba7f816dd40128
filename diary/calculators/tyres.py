"""Tyre size codes, and what a changed tyre does to odometer, speedometer, economy and engine speed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi

from diary.calculators.tables import table
from diary.errors import DiaryError

IN_PER_MI = 63360.0
MM_PER_IN = 25.4


@dataclass(frozen=True, slots=True)
class Tyre:
    """A tyre by its code: unloaded diameter in inches; width in mm and rim in inches where the code gives them."""

    code: str
    kind: str
    diameter_in: float
    width_mm: float | None = None
    rim_in: float | None = None

    @property
    def circumference_in(self) -> float:
        """Unloaded circumference, π · diameter."""
        return pi * self.diameter_in


def tyre(code: str) -> Tyre:
    """Read a size code: metric 265/70R17, flotation 35x12.50R17, motorcycle 120/70ZR17, old inch 3.00-21, or a bare 37.

    Metric: diameter = rim + 2·width·(aspect/100)/25.4; flotation and bare: the diameter as printed. Raises DiaryError
    on a text that is no code or a figure beyond belief.
    """
    facts = table("tyre_codes")
    text = re.sub(r"\s+", " ", code.strip().lower())
    for form in facts["codes"]:
        found = re.fullmatch(form["pattern"], text)
        if found:
            return _built(
                code.strip(), form["kind"], {k: float(v) for k, v in found.groupdict().items()}, facts["limits"]
            )
    raise DiaryError(
        f"'{code}' is not read as a tyre size: write it as on the sidewall, such as 265/70R17, 35x12.50R17 or 3.00-21, "
        "or give the diameter in inches."
    )


def _built(code: str, kind: str, given: dict[str, float], limits: dict[str, list[float]]) -> Tyre:
    rim = given.get("rim")
    width = given.get("width")
    if kind == "metric":
        assert width is not None and rim is not None
        _within(code, "width in mm", width, limits["width_mm"])
        _within(code, "aspect", given["aspect"], limits["aspect"])
        diameter = rim + 2 * width * given["aspect"] / 100 / MM_PER_IN
    elif kind == "inch":
        assert width is not None and rim is not None
        diameter, width = rim + 2 * width, width * MM_PER_IN
    else:
        diameter = given["diameter"]
        width = None if width is None else width * MM_PER_IN
    if rim is not None:
        _within(code, "rim in inches", rim, limits["rim_in"])
    _within(code, "diameter in inches", diameter, limits["diameter_in"])
    return Tyre(code, kind, diameter, width, rim)


def _within(code: str, what: str, value: float, limits: list[float]) -> None:
    if not limits[0] <= value <= limits[1]:
        raise DiaryError(
            f"Tyre size '{code}' has a {what} of {value:g}: it should lie from {limits[0]:g} to {limits[1]:g}."
        )


def revs_per_mile(size: Tyre, rolling_share: float | None = None) -> float:
    """Turns per mile = 63,360 ÷ (π · diameter · k). k = 1 is plain geometry; the default 0.97 a loaded, rolling radial.

    A maker's printed revolutions per mile beat both.
    """
    k = table("tyre_codes")["rolling_share"] if rolling_share is None else rolling_share
    if not 0.9 <= k <= 1:
        raise DiaryError(f"The rolling share of a tyre lies from 0.9 to 1, not {k:g}.")
    return IN_PER_MI / (size.circumference_in * k)


def correction(calibrated: Tyre, fitted: Tyre) -> float:
    """True ÷ indicated distance (and speed) with `fitted` on a meter calibrated for `calibrated`: ratio of diameters.

    The rolling share cancels when both tyres have the same. Also the factor on an indicated mpg.
    """
    return fitted.diameter_in / calibrated.diameter_in


def correction_from_course(true: float, indicated: float) -> float:
    """True ÷ indicated from a measured course: 10.00 mi of markers read as 9.70 mi gives 1.0309."""
    if not true > 0 or not indicated > 0 or not 0.5 <= true / indicated <= 2:
        raise DiaryError(
            f"A course of {true:g} read as {indicated:g} is not believable: both above zero and within a factor of two."
        )
    return true / indicated


def true_distance(start: float, changed_at: float, now: float, factor: float) -> float:
    """True odometer when the tyres were changed part way: the distance since the change is multiplied by `factor`.

    61,200 at the change, 64,000 now, factor 1.10737: 64,300.6. `start` is the true reading at the change.
    """
    if now < changed_at:
        raise DiaryError(f"The odometer now ({now:g}) is lower than at the tyre change ({changed_at:g}).")
    return start + (now - changed_at) * factor


def speed_from_stopwatch(seconds: float, miles: float = 1.0) -> float:
    """Mean speed in mph over a measured distance: 3600 ÷ seconds per mile."""
    if not seconds > 0 or not miles > 0:
        raise DiaryError(f"A timed distance needs more than zero seconds and miles, not {seconds:g} and {miles:g}.")
    return 3600 * miles / seconds


def engine_speed(mph: float, overall_ratio: float, diameter_in: float) -> float:
    """Engine speed in rev/min = mph · overall ratio · 63,360/(60π) ÷ diameter (inches), no slip, plain geometry.

    `overall_ratio` is axle ratio × gear ratio (× transfer case). 65 mph, 3.73 × 0.75, 35 in: 1746.3.
    """
    if mph < 0 or not overall_ratio > 0 or not diameter_in > 0:
        raise DiaryError("Engine speed needs a speed of zero or more, and a ratio and a tyre diameter above zero.")
    return mph * overall_ratio * IN_PER_MI / (60 * pi) / diameter_in


def road_speed(rpm: float, overall_ratio: float, diameter_in: float) -> float:
    """Road speed in mph at an engine speed; the inverse of `engine_speed`."""
    if rpm < 0 or not overall_ratio > 0 or not diameter_in > 0:
        raise DiaryError(
            "Road speed needs an engine speed of zero or more, and a ratio and a tyre diameter above zero."
        )
    return rpm * diameter_in * 60 * pi / IN_PER_MI / overall_ratio


def axle_ratio_to_restore(old_ratio: float, factor: float) -> float:
    """Axle ratio that gives the old engine speed with tyres larger by `factor`: old × factor."""
    if not old_ratio > 0 or not factor > 0:
        raise DiaryError(f"Ratio and tyre factor must be above zero, not {old_ratio:g} and {factor:g}.")
    return old_ratio * factor


def speedometer_band(true_kmh: float) -> tuple[float, float]:
    """Lowest and highest indication in km/h that type approval allows at a true speed.

    UN Regulation 39, 5.3: 0 ≤ V1 − V2 ≤ V2/10 + 4 km/h, V1 shown and V2 true. At 80 km/h: 80 to 92.
    """
    if true_kmh < 0:
        raise DiaryError(f"A speed is zero or more, not {true_kmh:g} km/h.")
    return true_kmh, true_kmh * 1.1 + 4
