"""Tyre pressure and temperature (project check values, section 4). Gay-Lussac's law from any textbook; floor by 49
CFR 571.138.
"""

import pytest

from diary.calculators import pressure
from tests.outside.figures import agrees


@pytest.mark.parametrize(
    ("psi", "at", "then", "result", "change"),
    [
        (35, 70, 60, "34.06", "0.94"),
        (35, 70, 30, "31.25", "3.75"),
        (35, 70, -10, "27.49", "7.51"),
        (32, 50, 90, "35.66", "3.66"),
        (80, 70, 30, "72.85", "7.15"),
        (15, 70, 120, "17.80", "2.80"),
    ],
)
def test_hot_and_cold(psi: float, at: float, then: float, result: str, change: str) -> None:
    got = pressure.at_temperature(psi, at, then)
    assert agrees(got, result) and agrees(abs(got - psi), change)


@pytest.mark.parametrize(("psi", "at", "then"), [(35, 70, -10), (80, 70, 30), (15, 70, 120)])
def test_against_air_as_a_real_gas(psi: float, at: float, then: float) -> None:
    """Independent library: CoolProp's equation of state of air at constant density; ideal gas is within 0.15 psi
    here.
    """
    from CoolProp.CoolProp import PropsSI

    pascal, kelvin = (psi + 14.6959488) * 6894.757293168, (at + 459.67) / 1.8
    density = PropsSI("D", "P", pascal, "T", kelvin, "Air")
    other = PropsSI("P", "D", density, "T", (then + 459.67) / 1.8, "Air") / 6894.757293168 - 14.6959488
    assert pressure.at_temperature(psi, at, then) == pytest.approx(other, abs=0.15)


def test_metric() -> None:
    assert agrees(pressure.at_temperature(240, 20, -5, "kPa", "degC"), "210.9")
    assert pressure.at_temperature(2.40, 20, -5, "bar", "degC") == pytest.approx(2.109, abs=0.0005)


def test_the_shop_rule() -> None:
    """About 1 psi per 10 °F (trade pages): right for a car tyre, low for a truck."""
    assert agrees(10 * pressure.slope_per_degree(35, 70), "0.938")
    assert agrees(10 * pressure.slope_per_degree(80, 70), "1.79")


def test_altitude() -> None:
    """Standard atmosphere (from memory): 12.23 psi at 5,000 ft, so a gauge reads 2.47 psi higher than at sea level."""
    at_5000_ft = pressure.atmosphere_at(5000 * 0.3048) * pressure.PSI_PER_KPA
    assert agrees(at_5000_ft, "12.23") and agrees(pressure.ATMOSPHERE["psi"] - at_5000_ft, "2.47")


def test_slow_leak() -> None:
    got = pressure.leak(36.0, 68, 33.5, 50, 10)
    assert agrees(got.expected, "34.27") and agrees(got.lost, "0.77")
    assert agrees(got.per_day, "0.0771") and agrees(got.per_month, "2.31") and not got.normal
    days = pressure.days_to(33.5, 0.12, 26.25)
    assert days is not None and agrees(days, "60.4")


def test_warning_floor() -> None:
    """49 CFR 571.138 S4.2: 25 % below the placard."""
    assert pressure.warning_floor(35) == 26.25 and pressure.warning_floor(80) == 60.0
