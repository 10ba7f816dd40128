"""Conversions against published factors.

NIST SP 811 (2008), appendix B: exact and rounded conversion factors. National fuel labels use 235.215 for mpg (US)
and 282.481 for mpg (imperial) to L/100 km, which follow from the exact gallon and mile.
"""

from __future__ import annotations

import subprocess
import sys

import pytest

from diary.errors import DiaryError
from diary.units import convert, convertible, dimension


@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        (1, "in", "mm", 25.4),  # NIST SP 811: exact
        (1, "mi", "km", 1.609344),  # exact
        (1, "lb", "kg", 0.45359237),  # exact
        (1, "oz", "g", 28.349523125),  # exact
        (1, "gal_us", "L", 3.785411784),  # exact
        (1, "gal_imp", "L", 4.54609),  # exact
        (1, "qt_us", "L", 0.946352946),  # exact
        (1, "pt_imp", "mL", 568.26125),  # exact
        (1, "pt_us", "mL", 473.176473),  # exact
        (1, "oz_fl", "mL", 29.5735295625),  # exact
        (1, "psi", "kPa", 6.894757),  # NIST SP 811, rounded
        (1, "bar", "kPa", 100),
        (1, "ft_lb", "N_m", 1.355818),  # NIST SP 811, rounded
        (1, "in_lb", "N_m", 0.1129848),  # NIST SP 811, rounded
        (12, "in_lb", "ft_lb", 1),
        (1, "mph", "kmh", 1.609344),
        (1, "thou", "mm", 0.0254),
        (5, "in_32", "in", 5 / 32),
        (1, "mA", "A", 0.001),
        (750, "cc", "mL", 750),
        (212, "degF", "degC", 100),
        (-40, "degC", "degF", -40),
        (1, "mpg_us", "L_per_100km", 235.214583),
        (1, "mpg_imp", "L_per_100km", 282.480936),
        (20, "L_per_100km", "mpg_us", 11.760729),
        (10, "mpg_us", "mpg_imp", 12.0095),
        (1, "gal_us_per_h", "L_per_h", 3.785411784),
    ],
)
def test_conversion(value: float, source: str, target: str, expected: float) -> None:
    assert convert(value, source, target) == pytest.approx(expected, rel=1e-6)


def test_there_and_back() -> None:
    for a, b in (("psi", "bar"), ("ft_lb", "N_m"), ("mpg_imp", "L_per_100km"), ("degF", "degC"), ("gal_imp", "L")):
        assert convert(convert(37.5, a, b), b, a) == pytest.approx(37.5)


def test_dimension() -> None:
    assert [dimension(c) for c in ("ft_lb", "psi", "USD", "USD/gal_us", "nonsense")] == [
        "torque",
        "pressure",
        "money",
        "unit_price",
        "",
    ]


@pytest.mark.parametrize(
    ("source", "target"), [("psi", "ft_lb"), ("nonsense", "psi"), ("psi", "nonsense"), ("USD", "EUR")]
)
def test_what_cannot_be_converted_is_said_plainly(source: str, target: str) -> None:
    with pytest.raises(DiaryError, match=r"no unit|cannot be converted|same kind"):
        convert(1, source, target)


def test_zero_has_no_reciprocal() -> None:
    with pytest.raises(DiaryError, match="above zero"):
        convert(0, "mpg_us", "L_per_100km")


def test_pint_is_not_loaded_before_it_is_needed() -> None:
    code = (
        "import sys, diary.units, diary.language.quantities as q; q.read_quantities('ten psi'); "
        "assert 'pint' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("code", convertible())
def test_every_unit_converts_to_a_unit_of_its_kind_and_back(code: str) -> None:
    other = next((c for c in convertible() if c != code and dimension(c) == dimension(code)), code)
    assert convert(convert(12.5, code, other), other, code) == pytest.approx(12.5)


def test_the_quick_factors_are_those_of_pint() -> None:
    """Every factor of data/factors.toml against the pint library, pair by pair within its dimension."""
    from diary import units

    factors = units._factors()
    for code, factor in factors.items():
        quantity = units._registry().parse_expression(units._codes()[code][1]) * 1
        assert factor == pytest.approx(float(quantity.to_base_units().magnitude), rel=1e-12), code
    assert {"ft_lb", "N_m", "gal_us", "L", "psi", "bar", "mi", "km"} <= set(factors)
    assert not {"degC", "degF", "mpg_us"} & set(factors)
