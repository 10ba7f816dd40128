"""Tyre pressure: hot and cold, slow leaks, altitude, the warning floor."""

from __future__ import annotations

from dataclasses import dataclass

from diary.errors import DiaryError

PSI_PER_KPA = 1 / 6.894757293168361
ATMOSPHERE = {"psi": 101.325 * PSI_PER_KPA, "kPa": 101.325, "bar": 1.01325}
"""One standard atmosphere in each unit of gauge pressure."""
NORMAL_LOSS_PSI_PER_MONTH = 1.0
"""What a sound tyre loses (trade pages). Far more points to a puncture, a valve or the rim."""


def kelvin(temperature: float, unit: str) -> float:
    """Absolute temperature of degF or degC in kelvin. Raises DiaryError below absolute zero or beyond belief."""
    if unit not in ("degF", "degC"):
        raise DiaryError(f"Temperature is in degF or degC, not {unit}.")
    k = (temperature + 459.67) / 1.8 if unit == "degF" else temperature + 273.15
    if not 200 <= k <= 500:
        raise DiaryError(f"A tyre at {temperature:g} {unit} is not believable: check the temperature.")
    return k


def _gauge(pressure: float, unit: str) -> float:
    """The atmosphere in `unit`, after checking that `pressure` is a believable gauge pressure."""
    if unit not in ATMOSPHERE:
        raise DiaryError(f"Pressure is in psi, bar or kPa, not {unit}.")
    if not 0 <= pressure <= 12 * ATMOSPHERE[unit]:
        raise DiaryError(f"A tyre at {pressure:g} {unit} is not believable: gauge pressure from 0 to about 12 bar.")
    return ATMOSPHERE[unit]


def at_temperature(
    pressure: float,
    temperature: float,
    other: float,
    unit: str = "psi",
    degrees: str = "degF",
    atmosphere: float | None = None,
) -> float:
    """Gauge pressure of the same air at another temperature: p2 = (p1 + pa)·T2/T1 − pa, absolute temperatures.

    Gay-Lussac's law, volume and mass fixed. 35 psi at 70 °F is 31.25 psi at 30 °F. `atmosphere` in `unit` (None:
    standard). A tyre's volume grows slightly when hot, so the true change is a little smaller.
    """
    pa = _gauge(pressure, unit) if atmosphere is None else atmosphere
    return (pressure + pa) * kelvin(other, degrees) / kelvin(temperature, degrees) - pa


def slope_per_degree(pressure: float, temperature: float, unit: str = "psi", degrees: str = "degF") -> float:
    """Pressure change per degree, (p + pa)/T: 0.0938 psi per °F at 35 psi and 70 °F.

    The shop rule of 1 psi per 10 °F suits a car tyre and is low for van and truck pressures.
    """
    scale = 1.8 if degrees == "degF" else 1.0
    return (pressure + _gauge(pressure, unit)) / (kelvin(temperature, degrees) * scale)


def atmosphere_at(altitude_m: float) -> float:
    """Standard atmosphere in kPa at an altitude in metres (ISO 2533): 101.325·(1 − 2.25577e−5·h)^5.25588."""
    if not -500 <= altitude_m <= 11000:
        raise DiaryError(f"An altitude of {altitude_m:g} m is outside the standard troposphere, -500 to 11000 m.")
    return float(101.325 * (1 - 2.25577e-5 * altitude_m) ** 5.25588)


@dataclass(frozen=True, slots=True)
class Leak:
    """Loss that temperature does not explain: `lost` in all, `per_day`, `per_month` (30 days), and `expected`."""

    lost: float
    per_day: float
    per_month: float
    expected: float
    unit: str
    normal: bool


def leak(
    first: float,
    first_temperature: float,
    second: float,
    second_temperature: float,
    days: float,
    unit: str = "psi",
    degrees: str = "degF",
) -> Leak:
    """Leak rate between two readings, corrected for temperature first.

    36.0 psi at 68 °F and ten days later 33.5 psi at 50 °F: 34.27 expected, so 0.77 psi lost, 0.0771 psi a day. `normal`
    says it is no more than about 1.5 psi a month (1 is usual).
    """
    if not days > 0:
        raise DiaryError(f"A leak rate needs more than zero days between the readings, not {days:g}.")
    _gauge(second, unit)
    expected = at_temperature(first, first_temperature, second_temperature, unit, degrees)
    lost = expected - second
    limit = 1.5 * NORMAL_LOSS_PSI_PER_MONTH * ATMOSPHERE[unit] / ATMOSPHERE["psi"]
    return Leak(lost, lost / days, 30 * lost / days, expected, unit, 30 * lost / days <= limit)


def days_to(pressure: float, per_day: float, floor: float) -> float | None:
    """Days until `floor` at a steady loss; None if it is not falling; 0 if already there.

    33.5 psi losing 0.12 a day reaches 26.25 in 60.4 days. A real leak slows as pressure falls; a worsening one does
    not.
    """
    if pressure <= floor:
        return 0.0
    return (pressure - floor) / per_day if per_day > 0 else None


def warning_floor(placard: float) -> float:
    """25 % under the cold placard pressure, where US tyre pressure monitors must warn (49 CFR 571.138 S4.2).

    The rule covers vehicles up to 10,000 lb gross; a table minimum may be higher.
    """
    if not placard > 0:
        raise DiaryError(f"The placard pressure must be above zero, not {placard:g}.")
    return 0.75 * placard
