"""Fuel economy against published factors and independent libraries (project check values, section 1)."""

from datetime import datetime, timedelta
from math import sqrt

import pint
import pytest
from uncertainties import ufloat

from diary.calculators.economy import Fill, MeterFactor, overall, rollover_distance, spans
from diary.calculators.economy_units import LITRES, convert_economy, quotient_spread
from diary.calculators.fuel_costs import co2_grams, cost_per_distance
from tests.outside.figures import agrees

UNITS = pint.UnitRegistry()

# Exact unit definitions; 235.214583 is NIST SP 811's 235.215 unrounded.
TABLE = [
    ("10", "12.009", "23.521", "4.251"),
    ("24", "28.823", "9.801", "10.203"),
    ("25", "30.024", "9.409", "10.629"),
    ("30", "36.028", "7.840", "12.754"),
    ("50", "60.047", "4.704", "21.257"),
]


@pytest.mark.parametrize(("us", "imperial", "litres", "km"), TABLE)
def test_the_four_units_of_economy(us: str, imperial: str, litres: str, km: str) -> None:
    mpg = float(us)
    assert agrees(convert_economy(mpg, "mpg_us", "mpg_imp"), imperial)
    assert agrees(convert_economy(mpg, "mpg_us", "L_per_100km"), litres)
    assert agrees(convert_economy(mpg, "mpg_us", "km_per_L"), km)
    back = convert_economy(convert_economy(mpg, "mpg_us", "L_per_100km"), "L_per_100km", "mpg_us")
    assert back == pytest.approx(mpg, rel=1e-12)


def test_nist_worked_value() -> None:
    """NIST SP 811, section B.5: 24 miles per gallon is 9.8 L/100 km."""
    assert agrees(convert_economy(24, "mpg_us", "L_per_100km"), "9.8")
    assert agrees(convert_economy(24, "mpg_us", "L_per_100km"), "9.8006")


def test_eight_litres() -> None:
    assert agrees(convert_economy(8.0, "L_per_100km", "mpg_us"), "29.402")
    assert agrees(convert_economy(8.0, "L_per_100km", "mpg_imp"), "35.310")


@pytest.mark.parametrize(("code", "name"), [("gal_us", "gallon"), ("gal_imp", "imperial_gallon"), ("qt_us", "quart")])
def test_volumes_as_pint_has_them(code: str, name: str) -> None:
    """Independent library: pint's definitions."""
    assert LITRES[code] == pytest.approx(UNITS(name).to("liter").magnitude, rel=1e-12)


@pytest.mark.parametrize(("unit", "name"), [("mpg_us", "mile/gallon"), ("mpg_imp", "mile/imperial_gallon")])
def test_economy_as_pint_converts_it(unit: str, name: str) -> None:
    """Independent library: pint, by the reciprocal."""
    for mpg in (7.3, 15.9, 61.0):
        litres = (1 / UNITS.Quantity(mpg, name)).to("liter/kilometer").magnitude * 100
        assert convert_economy(mpg, unit, "L_per_100km") == pytest.approx(litres, rel=1e-12)


DAY = datetime(2026, 5, 1)


def fill(n: int, odometer: float, volume: float | None, brim: bool = True, **more: object) -> Fill:
    return Fill(DAY + timedelta(days=n), "ABCDEF"[n], volume, "gal_us", brim, odometer, **more)


def test_brim_to_brim_with_a_partial_and_a_missed_fill() -> None:
    """The worked table of the check values: the first fill only starts, a partial is carried, a missed fill breaks."""
    fills = [
        fill(0, 41000.0, 14.200),
        fill(1, 41312.4, 12.850),
        fill(2, 41450.0, 5.000, False),
        fill(3, 41640.4, 8.400),
        fill(4, 41900.4, 9.0, missed_before=True),
        fill(5, 42160.4, 10.000),
    ]
    got = spans(fills)
    assert [(s.from_note, s.to_note) for s in got] == [("A", "B"), ("B", "D"), ("E", "F")]
    assert agrees(got[0].value, "24.311")
    assert agrees(got[1].value, "24.478") and agrees(got[1].distance, "328.0") and agrees(got[1].fuel, "13.400")
    assert agrees(got[2].value, "26.000")
    total = overall(got)
    assert total is not None
    assert agrees(total.distance, "900.4") and agrees(total.fuel, "36.250") and agrees(total.value, "24.839")
    assert agrees(sum(s.value for s in got) / 3, "24.930"), "the plain mean, which is the wrong answer"


@pytest.mark.parametrize(
    ("tanks", "right", "wrong"),
    [
        ([(300, 300 / 20), (300, 300 / 30)], "24.000", "25.000"),
        ([(400, 400 / 18), (100, 100 / 12)], "16.364", "15.000"),
        (
            [(55, 55 / 20), (45, 45 / 28)],
            "22.9508",
            "23.6000",
        ),  # 40 CFR 600.206-86(a)(3), city and highway 0.55 and 0.45
    ],
)
def test_averaging_across_tanks(tanks: list[tuple[float, float]], right: str, wrong: str) -> None:
    odometer, fills = 1000.0, [Fill(DAY, "0", 10.0, "gal_us", True, 1000.0)]
    for n, (miles, gallons) in enumerate(tanks, 1):
        odometer += miles
        fills.append(Fill(DAY + timedelta(days=n), str(n), gallons, "gal_us", True, odometer))
    got = spans(fills)
    total = overall(got)
    assert total is not None and agrees(total.value, right)
    weights = [0.55, 0.45] if wrong == "23.6000" else [0.5, 0.5]
    assert agrees(sum(w * s.value for w, s in zip(weights, got, strict=True)), wrong)


def test_averaging_litres_per_100_km() -> None:
    fills = [
        Fill(DAY, "0", 30, "L", True, 1000.0),
        Fill(DAY + timedelta(1), "1", 40.0, "L", True, 1500.0),
        Fill(DAY + timedelta(2), "2", 27.5, "L", True, 1750.0),
    ]
    total = overall(spans(fills, distance_unit="km", volume_unit="L"))
    assert total is not None and agrees(total.value, "9.000")


def test_carbon_dioxide() -> None:
    """EPA-420-F-11-041: 8,887 g per US gallon of gasoline, 10,180 g of diesel."""
    assert agrees(co2_grams(1, "L"), "2347.7")
    assert agrees(co2_grams(1, "L", "diesel"), "2689.3")
    assert agrees(co2_grams(12.85) / 1000, "114.198")
    assert agrees(co2_grams(1 / 25), "355.48")
    assert agrees(co2_grams(1 / 25) / 1.609344, "220.89")
    assert agrees(co2_grams(0.08, "L"), "187.82")
    assert agrees(co2_grams(1 / 18, "gal_us", "diesel"), "565.56")
    assert agrees(co2_grams(1 / 18, "gal_us", "diesel") / 1.609344, "351.42")


def test_cost_per_distance() -> None:
    fills = [fill(0, 41000.0, 14.2, price=60.0), fill(1, 41312.4, 12.85, price=52.70)]
    cost = cost_per_distance(spans(fills))
    assert cost is not None and cost.unit == "USD_per_mi"
    assert agrees(cost.value * 100, "16.869") and agrees(cost.value * 100 / 1.609344, "10.482")


def test_cost_from_price_and_economy() -> None:
    assert agrees(4.10 / 24.311 * 100, "16.865")
    pounds_per_mile = 1.45 * LITRES["gal_imp"] / 40
    assert agrees(pounds_per_mile * 100, "16.480")
    fills = [Fill(DAY, "0", 40, "L", True, 0.0), Fill(DAY + timedelta(1), "1", 7.2, "L", True, 100.0, price=7.2 * 1.80)]
    cost = cost_per_distance(spans(fills, distance_unit="km", volume_unit="L"), "EUR")
    assert cost is not None and agrees(cost.value * 100, "12.96") and cost.unit == "EUR_per_km"


# GUM (JCGM 100:2008) 5.1.2, equation 10, and the uncertainties package.
SPREADS = [
    (312.4, 1, 12.85, 0.1, "24.3113", "0.2046"),
    (312.4, 1, 12.85, 0.25, "24.3113", "0.4793"),
    (87, 1, 3.1, 0.25, "28.0645", "2.2861"),
    (1250, 2, 50, 0.2, "25.0000", "0.1077"),
]


@pytest.mark.parametrize(("d", "ud", "v", "uv", "mpg", "spread"), SPREADS)
def test_spread_of_a_quotient(d: float, ud: float, v: float, uv: float, mpg: str, spread: str) -> None:
    assert agrees(d / v, mpg)
    got = quotient_spread(d / v, d, ud, v, uv)
    assert agrees(got, spread)
    assert got == pytest.approx((ufloat(d, ud) / ufloat(v, uv)).std_dev, rel=1e-9)


def test_spread_with_a_meter_factor() -> None:
    """1250 ± 2 mi on 50 ± 0.2 gal with an odometer factor of 1.0312 ± 0.005: 25.7800 ± 0.1672."""
    fills = [
        Fill(DAY, "0", 50.0, "gal_us", True, 1000.0),
        Fill(DAY + timedelta(1), "1", 50.0, "gal_us", True, 2250.0, volume_sd=0.2),
    ]
    (span,) = spans(fills, meter_factor=[MeterFactor(None, 1.0312, 0.005)], brim_sd=0.0)
    assert agrees(span.value, "25.7800")
    # the odometer's own last digit is 0.41 mi here, not the example's 2 mi
    distance = ufloat(1250, sqrt(2) * 0.28867513) * ufloat(1.0312, 0.005)
    expected = distance / ufloat(50, 0.2)
    assert span.plus_minus == pytest.approx(expected.std_dev, rel=1e-6)
    with_two_miles = ufloat(1250, 2) * ufloat(1.0312, 0.005) / ufloat(50, 0.2)
    assert agrees(quotient_spread(25.78, 1.0, sqrt((2 / 1250) ** 2 + (0.005 / 1.0312) ** 2), 50, 0.2), "0.1672")
    assert agrees(with_two_miles.std_dev, "0.1672")


@pytest.mark.parametrize(
    ("before", "now", "wraps", "distance"),
    [(950.3, 112.8, 1000, 162.5), (99870, 145, 100000, 275), (99870, 99870, 100000, 0), (0, 312.4, 1000, 312.4)],
)
def test_meters_that_roll_over(before: float, now: float, wraps: float, distance: float) -> None:
    """Section 2 of the check values, common practice: (now − before) mod N, for at most one turn over."""
    assert rollover_distance(before, now, wraps) == pytest.approx(distance)
