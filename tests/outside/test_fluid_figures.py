"""Coolant and oil mixes, and units (project check values, section 7)."""

import pint
import pytest

from diary.calculators import fluids
from tests.outside.figures import agrees

UNITS = pint.UnitRegistry()
FREEZE = [(0.30, "15.7", "13.1"), (0.40, "24.8", "21.5"), (0.50, "37.1", "33.7"), (0.60, "52.0", "51.1")]


@pytest.mark.parametrize(("share", "ethylene", "propylene"), FREEZE)
def test_freeze_point(share: float, ethylene: str, propylene: str) -> None:
    """CoolProp's ASHRAE solutions, by volume."""
    assert agrees(-fluids.freeze_point_celsius(share), ethylene)
    assert agrees(-fluids.freeze_point_celsius(share, "propylene"), propylene)


@pytest.mark.parametrize(("glycol", "printed"), [("ethylene", -37.0), ("ethylene", -35.0), ("propylene", -33.3)])
def test_freeze_point_as_printed(glycol: str, printed: float) -> None:
    """50/50 on two product pages and in Lange's Handbook of Chemistry, table 5.13; basis not always stated, ±2 °C."""
    assert fluids.freeze_point_celsius(0.5, glycol) == pytest.approx(printed, abs=2.2)


def test_drain_and_refill() -> None:
    assert agrees(fluids.volume_to_swap(12, 0.30, 0.50), "3.429")
    assert agrees(fluids.volume_to_swap(12, 0.65, 0.50), "2.769")
    assert agrees(100 * fluids.share_after_swap(10, 0.40, 2), "52.0")
    assert agrees(fluids.volume_to_swap(3.0, 0.0, 0.5), "1.500")
    assert agrees(fluids.volume_to_swap(3.0, 0.0, 0.5) * 3.785411784, "5.678")


@pytest.mark.parametrize(
    ("ratio", "oz", "ml", "per_litre", "per_five", "imperial"),
    [
        (25, "5.120", "151.42", "40.00", "200.00", "6.40"),
        (32, "4.000", "118.29", "31.25", "156.25", "5.00"),
        (40, "3.200", "94.64", "25.00", "125.00", "4.00"),
        (50, "2.560", "75.71", "20.00", "100.00", "3.20"),
    ],
)
def test_two_stroke(ratio: float, oz: str, ml: str, per_litre: str, per_five: str, imperial: str) -> None:
    """A printed gas and oil mix chart; volumes by pint."""
    gallon = UNITS.Quantity(fluids.two_stroke_oil(1, ratio), "gallon")
    assert agrees(gallon.to("fluid_ounce").magnitude, oz) and agrees(gallon.to("milliliter").magnitude, ml)
    assert agrees(fluids.two_stroke_oil(1000, ratio), per_litre) and agrees(
        fluids.two_stroke_oil(5000, ratio), per_five
    )
    imp = UNITS.Quantity(fluids.two_stroke_oil(1, ratio), "imperial_gallon").to("imperial_fluid_ounce").magnitude
    assert agrees(imp, imperial)


def test_two_stroke_worked() -> None:
    assert agrees(UNITS.Quantity(fluids.two_stroke_oil(2.5, 40), "gallon").to("fluid_ounce").magnitude, "8.00")
    assert agrees(fluids.two_stroke_oil(5000, 50, finished=True), "98.04")


def test_balance_masses_against_the_vector_sum() -> None:
    """Two equal weights a right angle apart act as √2 of one between them; independent: numpy's vector sum."""
    import numpy as np

    mass, angle = fluids.combined_balance([(60, 0), (60, 90)])
    assert mass == pytest.approx(60 * 2**0.5) and angle == pytest.approx(45)
    weights = [(35.0, 10.0), (20.0, 250.0), (50.0, 131.0)]
    vector = sum(m * np.array([np.cos(np.radians(a)), np.sin(np.radians(a))]) for m, a in weights)
    mass, angle = fluids.combined_balance(weights)
    assert mass == pytest.approx(float(np.hypot(*vector)))
    assert angle == pytest.approx(float(np.degrees(np.arctan2(vector[1], vector[0])) % 360))
