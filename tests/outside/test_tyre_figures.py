"""Tyre sizes, odometer and speedometer (project check values, section 2).

Sources: diameter from the size code, a tyre safety page; ISO 4000-1 and the ETRTO manual from memory. UN Regulation
39, 5.3.
"""

from math import pi

import pytest

from diary.calculators import tyres
from diary.calculators.tyres import tyre
from tests.outside.figures import agrees

SIZES = [
    ("205/55R16", "24.878", "631.9", "78.16", "810.7", "835.8"),
    ("265/70R17", "31.606", "802.8", "99.29", "638.1", "657.8"),
    ("285/70R17", "32.709", "830.8", "102.76", "616.6", "635.7"),
    ("33×12.50R15", "33.000", "838.2", "103.67", "611.2", "630.1"),
    ("35×12.50R17", "35.000", "889.0", "109.96", "576.2", "594.1"),
    ("120/70ZR17", "23.614", "599.8", "74.19", "854.1", "880.5"),
    ("225/75R16", "29.287", "743.9", "92.01", "688.6", "709.9"),
]


@pytest.mark.parametrize(("code", "inches", "mm", "round_it", "plain", "rolling"), SIZES)
def test_diameter_and_turns_per_mile(code: str, inches: str, mm: str, round_it: str, plain: str, rolling: str) -> None:
    size = tyre(code)
    assert agrees(size.diameter_in, inches) and agrees(size.diameter_in * 25.4, mm)
    assert agrees(size.circumference_in, round_it)
    assert agrees(tyres.revs_per_mile(size, 1.0), plain)
    assert agrees(tyres.revs_per_mile(size), rolling)


def test_rolling_share_agrees_with_the_etrto_rule() -> None:
    """Rolling circumference = 3.05 × diameter for radials (ETRTO, from memory): k = 0.9708."""
    assert agrees(3.05 / pi, "0.9708")
    assert tyres.revs_per_mile(tyre("265/70R17")) == pytest.approx(
        63360 / (3.05 * tyre("265/70R17").diameter_in), rel=0.001
    )


@pytest.mark.parametrize(
    ("calibrated", "fitted", "factor", "hundred", "sixty", "economy"),
    [
        ("265/70R17", "285/70R17", "1.03488", "103.49", "62.09", "18.628"),
        ("265/70R17", "35×12.50R17", "1.10737", "110.74", "66.44", "19.933"),
        ("225/75R16", "205/55R16", "0.84944", "84.94", "50.97", "15.290"),
    ],
)
def test_correction(calibrated: str, fitted: str, factor: str, hundred: str, sixty: str, economy: str) -> None:
    cf = tyres.correction(tyre(calibrated), tyre(fitted))
    assert agrees(cf, factor) and agrees(100 * cf, hundred) and agrees(60 * cf, sixty) and agrees(18 * cf, economy)


def test_measured_course_and_stopwatch() -> None:
    assert agrees(tyres.correction_from_course(10.00, 9.70), "1.03093")
    assert agrees(tyres.speed_from_stopwatch(58.0), "62.069")


def test_tyre_change_part_way() -> None:
    cf = tyres.correction(tyre("265/70R17"), tyre("35x12.50R17"))
    assert agrees(tyres.true_distance(61200, 61200, 64000, cf), "64,300.6")


def test_engine_speed_and_axle_ratio() -> None:
    assert agrees(63360 / (60 * pi), "336.135")
    rpm = tyres.engine_speed(65, 3.73 * 0.75, 35)
    assert agrees(rpm, "1746.3")
    assert tyres.road_speed(rpm, 3.73 * 0.75, 35) == pytest.approx(65)
    factor = tyres.correction(tyre("265/70R17"), tyre("35x12.50R17"))
    assert agrees(tyres.axle_ratio_to_restore(3.73, factor), "4.131")


@pytest.mark.parametrize(("true", "highest"), [(80, 92), (120, 136)])
def test_speedometer_rule(true: float, highest: float) -> None:
    """UN Regulation 39, 5.3: 0 ≤ V1 − V2 ≤ V2/10 + 4 km/h."""
    assert tyres.speedometer_band(true) == pytest.approx((true, highest))
