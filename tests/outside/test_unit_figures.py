"""Units (project check values, sections 1, 3 and 7): exact definitions, as pint and scipy have them."""

import pint
import pytest
import scipy.constants as si

from diary.units import convert
from tests.outside.figures import agrees

UNITS = pint.UnitRegistry()

TORQUE = [
    (1, "ft_lb", "1.355818", "1.000000", "12.000000", "0.138255"),
    (1, "in_lb", "0.112985", "0.083333", "1.000000", "0.011521"),
    (1, "kg_m", "9.806650", "7.233014", "86.796166", "1.000000"),
    (1, "N_m", "1.000000", "0.737562", "8.850746", "0.101972"),
    (85, "ft_lb", "115.24", "85.00", "1020.0", "11.752"),
    (120, "N_m", "120.00", "88.51", "1062.1", "12.237"),
    (110, "in_lb", "12.43", "9.17", "110.0", "1.267"),
    (12, "kg_m", "117.68", "86.80", "1041.6", "12.000"),
    (25, "N_m", "25.00", "18.44", "221.3", "2.549"),
]


@pytest.mark.parametrize(("value", "unit", "nm", "ft", "inch", "kg"), TORQUE)
def test_torque(value: float, unit: str, nm: str, ft: str, inch: str, kg: str) -> None:
    for code, printed in (("N_m", nm), ("ft_lb", ft), ("in_lb", inch), ("kg_m", kg)):
        assert agrees(convert(value, unit, code), printed)


@pytest.mark.parametrize(
    ("value", "unit", "to", "printed"),
    [
        (24, "oz", "g", "680.39"),
        (24, "oz", "lb", "1.500"),
        (550, "g", "oz", "19.401"),
        (550, "g", "lb", "1.2125"),
        (5.0, "qt_us", "L", "4.7318"),
        (4.5, "L", "qt_us", "4.7551"),
        (-40, "degF", "degC", "-40"),
        (212, "degF", "degC", "100"),
        (90, "degC", "degF", "194"),
        (1, "psi", "kPa", "6.894757293"),
        (1, "bar", "psi", "14.50377377"),
        (1, "oz_fl", "mL", "29.5735296"),
        (1, "qt_us", "L", "0.946352946"),
        (1, "lb", "g", "453.59237"),
        (1, "oz", "g", "28.349523125"),
    ],
)
def test_other_units(value: float, unit: str, to: str, printed: str) -> None:
    got = convert(value, unit, to)
    assert agrees(abs(got), printed.lstrip("-")) and (got < 0) == (printed[0] == "-")


@pytest.mark.parametrize(
    ("code", "to", "factor"),
    [
        ("mi", "km", si.mile / 1000),
        ("psi", "kPa", si.psi / 1000),
        ("lb", "kg", si.pound),
        ("gal_us", "L", si.gallon * 1000),
        ("gal_imp", "L", si.gallon_imp * 1000),
        ("bar", "kPa", si.bar / 1000),
        ("in", "mm", si.inch * 1000),
        ("mph", "kmh", si.mph / si.kmh),
        ("oz", "g", si.oz * 1000),
        ("oz_fl", "mL", si.fluid_ounce * 1e6),
        ("ft_lb", "N_m", si.foot * si.pound_force),
    ],
)
def test_against_scipy(code: str, to: str, factor: float) -> None:
    """Independent library: scipy.constants (CODATA and exact definitions)."""
    assert convert(1, code, to) == pytest.approx(factor, rel=1e-9)
