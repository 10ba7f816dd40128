"""R134a saturation (project check values, section 6): CoolProp's figures, a printed workshop table, and a second
equation.

The printed table is of workshop manuals of 1998 and 2001. The second equation is an Antoine fit made here from three
published points of the fluid (boiling point, 25 °C, 60 °C), to catch a wrong fluid or unit rather than a wrong digit.
"""

import math

import pytest

from diary.calculators import refrigerant
from tests.outside.figures import agrees

TABLE = [
    (40, "35.05", "2.416", 35),
    (60, "57.41", "3.958", 57),
    (70, "71.11", "4.903", 71),
    (80, "86.69", "5.977", 87),
    (90, "104.32", "7.192", 104),
    (100, "124.16", "8.560", 124),
    (120, "171.17", "11.802", 171),
]


@pytest.mark.parametrize(("fahrenheit", "psi", "bar", "printed"), TABLE)
def test_saturation(fahrenheit: float, psi: str, bar: str, printed: int) -> None:
    got = refrigerant.saturation_gauge(fahrenheit)
    assert agrees(got, psi)
    assert agrees(refrigerant.saturation_gauge(fahrenheit, unit="bar"), bar)
    assert got == pytest.approx(printed, abs=0.5), "printed workshop table"
    assert refrigerant.saturation_temperature(got) == pytest.approx(fahrenheit, abs=0.01)


def test_boiling_point() -> None:
    assert agrees(refrigerant.saturation_temperature(0.0, degrees="degC"), "-26.07")


def test_a_second_equation() -> None:
    """ln p = A − B/(T + C) through 101.325 kPa at 247.08 K, 665.8 kPa at 298.15 K, 1681.8 kPa at 333.15 K (from
    memory).
    """
    (t1, p1), (t2, p2), (t3, p3) = (247.08, 101.325), (298.15, 665.8), (333.15, 1681.8)
    q = (math.log(p3 / p2) / (t3 - t2)) / (math.log(p2 / p1) / (t2 - t1))
    c = (q * t3 - t1) / (1 - q)
    b = math.log(p2 / p1) / (1 / (t1 + c) - 1 / (t2 + c))
    a = math.log(p1) + b / (t1 + c)
    for fahrenheit, *_ in TABLE:
        kelvin = (fahrenheit + 459.67) / 1.8
        kpa = math.exp(a - b / (kelvin + c))
        assert refrigerant.saturation_gauge(fahrenheit, unit="kPa") + 101.325 == pytest.approx(kpa, rel=0.01)


def test_what_a_static_reading_says() -> None:
    assert "liquid is present" in refrigerant.static_reading(71, 70).text
    assert "air" in refrigerant.static_reading(95, 70).text
    assert "no liquid" in refrigerant.static_reading(40, 70).text
