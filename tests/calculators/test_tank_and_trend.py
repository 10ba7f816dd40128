"""Range left, gauge, cost, and whether a change of economy is more than noise. The diaries here are invented."""

from datetime import datetime, timedelta

import pytest
from scipy import stats

from diary.calculators.economy import Fill, Reading, Span, spans
from diary.calculators.fuel_costs import cost_per_distance, price_per_volume, spent_by_month
from diary.calculators.tank import calibrate_gauge, range_from_records, range_left
from diary.calculators.trend import _two_sided, more_than_noise, trend
from diary.errors import DiaryError

START = datetime(2026, 5, 1, 17)
FILLS = [
    Fill(START, "0", 21, "gal_us", True, 80000, price=70.30),
    Fill(START + timedelta(days=7), "1", 20, "gal_us", True, 80300, price=72.00),
]


def test_range_left() -> None:
    """26 gallons, 120 miles since the brim at 15 mpg: 18 gallons, 270 miles, and a cautious figure well under it."""
    readings = [Reading(START + timedelta(days=11), "2", "odometer", 80420)]
    found = range_from_records(FILLS, readings, spans(FILLS), 26)
    assert not isinstance(found, str)
    assert (
        found.value == pytest.approx(270)
        and found.fuel_left == pytest.approx(18)
        and found.fuel_used == pytest.approx(8)
    )
    assert 0 < found.plus_minus < 30 and 200 < found.cautious < 255 and "estimate" in found.caution


def test_a_splash_since_adds_to_it() -> None:
    readings = [Reading(START + timedelta(days=11), "2", "odometer", 80420)]
    more = [*FILLS, Fill(START + timedelta(days=10), "3", 4, "gal_us", False)]
    found = range_from_records(more, readings, spans(FILLS), 26)
    assert not isinstance(found, str) and found.value == pytest.approx(330)


def test_what_is_missing_is_said() -> None:
    assert "economy is not known" in str(range_from_records(FILLS[:1], [], [], 26))
    unknown = [*FILLS, Fill(START + timedelta(days=9), "4", None, "gal_us", False)]
    assert "without its volume" in str(range_from_records(unknown, [], spans(FILLS), 26))


def test_by_its_own_figures_it_should_be_empty() -> None:
    found = range_left(10, 400, 1 / 15)
    assert found.value == 0 and "missing" in found.remark
    with pytest.raises(DiaryError, match="above zero"):
        range_left(0, 10, 0.1)


def test_gauge() -> None:
    curve = calibrate_gauge([(0.5, 12.1), (0.25, 17.6), (0.25, 18.4), (0.75, 6.2), (0.6, 12.5), (1.0, 0.5)])
    assert curve.to_brim(0.25) == pytest.approx(18.0)
    assert curve.to_brim(0.5) == curve.to_brim(0.6) == pytest.approx(12.3), "neighbours that contradict are pooled"
    assert 6.2 < curve.to_brim(0.7) < 12.3 and curve.scatter > 0
    with pytest.raises(DiaryError, match="from 0"):
        curve.to_brim(1.5)


def test_cost() -> None:
    """$138.60 over 570 miles; the first fill only starts."""
    fills = [*FILLS, Fill(START + timedelta(days=14), "2", 18, "gal_us", True, 80570, price=66.60)]
    cost = cost_per_distance(spans(fills))
    assert (
        cost is not None
        and cost.value == pytest.approx(0.2432, abs=5e-5)
        and cost.unit == "USD_per_mi"
        and not cost.left_out
    )
    unpriced = [*fills, Fill(START + timedelta(days=20), "3", 18, "gal_us", True, 80870)]
    cost = cost_per_distance(spans(unpriced))
    assert cost is not None and cost.value == pytest.approx(0.2432, abs=5e-5) and cost.left_out == 1
    assert cost_per_distance([]) is None
    assert price_per_volume(Fill(START, "x", 11, "gal_us", True, price=44)) == 4.0
    assert spent_by_month(fills) == {"2026-05": pytest.approx(208.90)}


def tanks(*values: float) -> list[Span]:
    odometer, fills = 1000.0, [Fill(START, "0", 10, "gal_us", True, 1000.0)]
    for i, mpg in enumerate(values, 1):
        odometer += 10 * mpg
        fills.append(Fill(START + timedelta(days=7 * i), str(i), 10.0, "gal_us", True, odometer))
    return spans(fills)


def test_trend_against_scipy() -> None:
    got = tanks(16.2, 15.9, 16.0, 15.4, 15.6, 15.1, 15.2)
    middles, run = [], 0.0
    for s in got:
        middles.append(run + s.distance / 2)
        run += s.distance
    line = stats.linregress(middles, [s.value for s in got])
    found = trend(got)
    assert found.slope == pytest.approx(1000 * line.slope) and found.plus_minus == pytest.approx(1000 * line.stderr)
    assert found.p == pytest.approx(line.pvalue) and found.clear


def test_no_trend_in_noise() -> None:
    assert not trend(tanks(15.1, 16.2, 15.0, 16.1, 15.3)).clear
    with pytest.raises(DiaryError, match="three tanks"):
        trend(tanks(15.0, 16.0))


def test_change_against_scipy() -> None:
    before, after = tanks(15.1, 15.4, 14.9, 15.2), tanks(16.3, 16.0, 16.4)
    found = more_than_noise(before, after)
    welch = stats.ttest_ind([s.value for s in after], [s.value for s in before], equal_var=False)
    assert found.p == pytest.approx(welch.pvalue) and found.degrees == pytest.approx(welch.df) and found.clear
    assert "more than noise" in found.text


def test_one_tank_each_is_judged_by_its_measurement() -> None:
    found = more_than_noise(tanks(15.1), tanks(15.3))
    assert not found.clear and "within the noise" in found.text
    assert more_than_noise(tanks(15.0), tanks(18.0)).clear
    assert not more_than_noise(tanks(15.0, 16.0, 15.5), tanks(15.9)).clear


@pytest.mark.parametrize("t", [0.0, 0.001, 0.5, 1.0, 2.2, 5.0, 12.0, 40.0])
@pytest.mark.parametrize("degrees", [1.0, 1.3, 2.0, 3.7, 10.0, 33.3, 1000.0])
def test_students_t(t: float, degrees: float) -> None:
    """Our own tail of Student's t against scipy's."""
    assert _two_sided(t, degrees) == pytest.approx(2 * stats.t.sf(t, degrees), rel=1e-8, abs=1e-12)
