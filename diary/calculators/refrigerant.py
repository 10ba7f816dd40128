"""Refrigerant R134a: saturation pressure and temperature, by CoolProp (Tillner-Roth and Baehr equation, 1994)."""

from __future__ import annotations

from dataclasses import dataclass

from diary.errors import DiaryError

ATMOSPHERE_KPA = 101.325
_TO_KPA = {"psi": 6.894757293168361, "kPa": 1.0, "bar": 100.0}
PURE = {"R134a": "R134a", "R1234yf": "R1234yf"}


@dataclass(frozen=True, slots=True)
class Reading:
    """What a gauge with the system off says of its contents."""

    difference: float
    unit: str
    text: str


def _fluid(name: str) -> str:
    for known, coolprop in PURE.items():
        if name.lower().replace("-", "") == known.lower():
            return coolprop
    raise DiaryError(f"Refrigerant {name} is not known here: use {' or '.join(PURE)}. Blends have no single line.")


def saturation_gauge(temperature: float, degrees: str = "degF", unit: str = "psi", fluid: str = "R134a") -> float:
    """Saturation pressure of the pure fluid above one atmosphere (101.325 kPa), at a temperature in degF or degC.

    70 °F: 71.11 psi. Limits: −40 to 95 °C (under the critical point). Negative below the boiling point, −26.07 °C.
    """
    kelvin = _kelvin(temperature, degrees)
    if unit not in _TO_KPA:
        raise DiaryError(f"Pressure is in psi, bar or kPa, not {unit}.")
    from CoolProp.CoolProp import PropsSI

    pascal = float(PropsSI("P", "T", kelvin, "Q", 0, _fluid(fluid)))
    return (pascal / 1000 - ATMOSPHERE_KPA) / _TO_KPA[unit]


def saturation_temperature(gauge: float, unit: str = "psi", degrees: str = "degF", fluid: str = "R134a") -> float:
    """Temperature at which the fluid boils under a gauge pressure; the inverse of `saturation_gauge`."""
    if unit not in _TO_KPA:
        raise DiaryError(f"Pressure is in psi, bar or kPa, not {unit}.")
    kpa = gauge * _TO_KPA[unit] + ATMOSPHERE_KPA
    if not 50 <= kpa <= 3300:
        raise DiaryError(f"{gauge:g} {unit} is outside what is worked out here, about -7 to 460 psi.")
    from CoolProp.CoolProp import PropsSI

    kelvin = float(PropsSI("T", "P", kpa * 1000, "Q", 0, _fluid(fluid)))
    return kelvin * 1.8 - 459.67 if degrees == "degF" else kelvin - 273.15


def _kelvin(temperature: float, degrees: str) -> float:
    if degrees not in ("degF", "degC"):
        raise DiaryError(f"Temperature is in degF or degC, not {degrees}.")
    kelvin = (temperature + 459.67) / 1.8 if degrees == "degF" else temperature + 273.15
    if not 233 <= kelvin <= 368.2:
        raise DiaryError(f"{temperature:g} {degrees} is outside what is worked out here: -40 to 95 °C (-40 to 203 °F).")
    return kelvin


def static_reading(
    gauge: float, temperature: float, unit: str = "psi", degrees: str = "degF", fluid: str = "R134a"
) -> Reading:
    """What a gauge says with the system off and all of it at one temperature.

    Near the saturation line liquid is present, though not how much; well above it there is air or another gas; well
    below, no liquid is left. "Near" is 4 % of the absolute pressure (about 1.5 °C; common practice, no source).
    """
    line = saturation_gauge(temperature, degrees, unit, fluid)
    tolerance = 0.04 * (line + ATMOSPHERE_KPA / _TO_KPA[unit])
    difference = gauge - line
    if abs(difference) <= tolerance:
        text = f"on the line ({line:.0f} {unit}): liquid is present; it does not say how much"
    elif difference > 0:
        text = f"{difference:.0f} {unit} above the line ({line:.0f}): air or another gas in it, or parts are warmer"
    else:
        text = f"{-difference:.0f} {unit} below the line ({line:.0f}): no liquid left, the charge is far too low"
    return Reading(difference, unit, text)
