"""Wire, drop, fuses, loads and batteries (project check values, section 5).

Sources: ASTM B258 by a gauge formula page; IACS copper from memory, agreeing with a printed wire table; IEC 60228
class 5 from a conductor table; blade ratings and resting voltages from one page each; the rest common practice.
"""

import pytest
from scipy.constants import foot

from diary.calculators import electrics
from diary.calculators.electrics import awg, metric_wire
from tests.outside.figures import agrees

GAUGES = [
    (20, "0.0320", "0.812", "0.518", "33.308", "10.1524"),
    (18, "0.0403", "1.024", "0.823", "20.948", "6.3849"),
    (16, "0.0508", "1.291", "1.309", "13.174", "4.0155"),
    (14, "0.0641", "1.628", "2.081", "8.285", "2.5254"),
    (12, "0.0808", "2.053", "3.309", "5.211", "1.5882"),
    (10, "0.1019", "2.588", "5.261", "3.277", "0.9988"),
    (8, "0.1285", "3.264", "8.366", "2.061", "0.6282"),
    (6, "0.1620", "4.115", "13.302", "1.296", "0.3951"),
    (4, "0.2043", "5.189", "21.151", "0.815", "0.2485"),
    (2, "0.2576", "6.544", "33.631", "0.513", "0.1563"),
    (0, "0.3249", "8.251", "53.475", "0.322", "0.0983"),
]


@pytest.mark.parametrize(("gauge", "inches", "mm", "area", "milliohm", "per_1000_ft"), GAUGES)
def test_american_gauges(gauge: int, inches: str, mm: str, area: str, milliohm: str, per_1000_ft: str) -> None:
    assert agrees(electrics.awg_diameter_in(gauge), inches) and agrees(electrics.awg_diameter_in(gauge) * 25.4, mm)
    size = awg(gauge)
    assert agrees(size.area_mm2, area)
    assert agrees(size.ohm_per_m * 1000, milliohm) and agrees(size.ohm_per_m * 1000 * foot, per_1000_ft)


def test_three_steps_double_the_area() -> None:
    assert agrees(electrics.awg_area_mm2(10) / electrics.awg_area_mm2(13), "2.0050")


@pytest.mark.parametrize(
    ("area", "milliohm", "ideal"),
    [(0.5, 39.0, "34.482"), (0.75, 26.0, "22.988"), (1.0, 19.5, "17.241"), (1.5, 13.3, "11.494"), (2.5, 7.98, "6.896"),
     (4, 4.95, "4.310"), (6, 3.30, "2.873"), (10, 1.91, "1.724"), (16, 1.21, "1.078")],
)  # fmt: skip
def test_metric_cable(area: float, milliohm: float, ideal: str) -> None:
    """IEC 60228 class 5: never better than copper of the same area, and within 15 % of it."""
    got = metric_wire(area).ohm_per_m * 1000
    assert got == pytest.approx(milliohm) and agrees(17.241 / area, ideal)
    assert float(ideal) < got < 1.16 * float(ideal)


@pytest.mark.parametrize(
    ("size", "amps", "metres", "supply", "volts", "share"),
    [
        ("AWG 14", 10, 5, 12.6, "0.8285", "6.58"),
        ("AWG 10", 30, 4.572, 12.6, "0.8990", "7.13"),
        ("AWG 16", 5, 3, 13.8, "0.3952", "2.86"),
        ("AWG 4", 100, 3.048, 12.6, "0.4969", "3.94"),
        ("2.5 mm2", 15, 4, 12.6, "0.9576", "7.60"),
    ],
)
def test_voltage_drop(size: str, amps: float, metres: float, supply: float, volts: str, share: str) -> None:
    got = electrics.voltage_drop(electrics.wire(size), amps, metres, supply)
    assert agrees(got.volts, volts) and agrees(got.percent, share)


def test_smallest_wire() -> None:
    """30 A, 15 ft one way, 3 % of 12.6 V."""
    size, needed = electrics.smallest_wire(30, 15 * foot)
    assert agrees(needed, "12.512") and size.name == "AWG 6" and agrees(size.area_mm2, "13.302")


def test_hot_copper() -> None:
    assert agrees(electrics.at_celsius(1.0, 80), "1.2358")


@pytest.mark.parametrize(
    ("amps", "plain", "plain_fuse", "motor", "motor_fuse"),
    [
        (4, "5.000", 5, "5.400", 7.5),
        (8, "10.000", 10, "10.800", 15),
        (11.5, "14.375", 15, "15.525", 20),
        (20, "25.000", 25, "27.000", 30),
        (30.5, "38.125", 40, "41.175", 50),
    ],
)
def test_fuse(amps: float, plain: str, plain_fuse: float, motor: str, motor_fuse: float) -> None:
    a, b = electrics.fuse_for(amps), electrics.fuse_for(amps, motor=True)
    assert agrees(a.wanted, plain) and a.rating == plain_fuse
    assert agrees(b.wanted, motor) and b.rating == motor_fuse
    assert b.regular == (motor_fuse <= 40)


def test_loads_in_parallel() -> None:
    assert electrics.combined_current([12.5, 18.0]) == 30.5
    assert agrees(electrics.combined_current(watts=[150, 120]), "20.00")
    assert agrees(electrics.combined_current(watts=[150]), "11.111") and agrees(
        electrics.combined_current(watts=[120]), "8.889"
    )
    ohms = electrics.parallel_resistance([1.0, 0.8])
    assert agrees(ohms, "0.4444") and agrees(13.5 / ohms, "30.375")


@pytest.mark.parametrize(("volts", "percent"), [(12.65, 100), (12.45, 75), (12.24, 50), (12.06, 25), (11.89, 0)])
def test_resting_battery(volts: float, percent: float) -> None:
    assert electrics.battery_state(volts).percent == pytest.approx(percent)


@pytest.mark.parametrize(
    ("volts", "well"), [(13.5, True), (14.2, True), (14.7, True), (13.1, False), (12.4, False), (15.2, False)]
)
def test_charging(volts: float, well: bool) -> None:
    assert electrics.charging(volts)[0] is well


def test_parasitic_draw() -> None:
    hours = electrics.hours_to_flat(60, 0.050, 100, 50)
    assert agrees(hours, "600") and agrees(hours / 24, "25.0")
    hours = electrics.hours_to_flat(60, 0.350, 100, 50)
    assert agrees(hours, "85.7") and agrees(hours / 24, "3.57")
