"""Economy: what spans a careful person would give, and why there is none elsewhere. The diaries here are invented."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from diary.calculators.economy import (
    Fill,
    MeterFactor,
    Reading,
    Reset,
    by_month,
    gaps,
    in_window,
    overall,
    since,
    spans,
    this_week,
)
from diary.calculators.economy_summary import best_and_worst
from diary.errors import DiaryError


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def brim(
    day: int, volume: float | None, odometer: float | None = None, trip: float | None = None, **more: object
) -> Fill:
    fields: dict[str, object] = {"to_brim": True, "unit": "gal_us", **more}
    return Fill(datetime(2026, 5, day, 17), f"n{day}", volume, odometer=odometer, trip=trip, **fields)  # type: ignore[arg-type]


def reset(day: int, before: float | None = None, low: float | None = None, high: float | None = None) -> Reset:
    return Reset(datetime(2026, 5, day, 17), f"n{day}", before, low, high)


# -- what makes a span, and what breaks it


def test_a_fill_not_said_to_be_full_is_counted_but_breaks_nothing() -> None:
    (span,) = spans([brim(1, 10, 1000), brim(3, 5, 1100, to_brim=None), brim(5, 7, 1200)])
    assert span.fuel == 12 and span.distance == 200


@pytest.mark.parametrize("to_brim", [True, False, None])
def test_a_fill_without_a_volume_breaks_the_span_and_a_full_one_starts_the_next(to_brim: bool | None) -> None:
    fills = [brim(1, 10, 1000), brim(3, None, 1100, to_brim=to_brim), brim(5, 7, 1200), brim(7, 8, 1360)]
    got = [(s.from_note, s.to_note) for s in spans(fills)]
    assert got == ([("n3", "n5"), ("n5", "n7")] if to_brim else [("n5", "n7")])
    (gap,) = gaps(fills)
    assert gap.reason == "volume" and gap.at_note == "n3" and "no volume" in gap.text and "May 3" in gap.text


def test_a_fill_known_to_be_missing() -> None:
    fills = [brim(1, 10, 1000), brim(3, 9, 1400, missed_before=True), brim(5, 8, 1560)]
    assert [(s.from_note, s.to_note) for s in spans(fills)] == [("n3", "n5")]
    assert gaps(fills)[0].reason == "missed_fill"


def test_full_but_nobody_looked_at_any_meter_is_carried_to_the_next() -> None:
    (span,) = spans([brim(1, 10, 1000), brim(3, 9), brim(5, 8, 1255)])
    assert span.fuel == 17 and span.distance == 255 and "inside" in span.flags[0]


def test_an_odometer_that_runs_backwards_is_no_distance() -> None:
    fills = [brim(1, 10, 61240), brim(3, 9, 61190), brim(5, 9, 61330)]
    assert [(s.from_note, s.distance) for s in spans(fills)] == [("n3", 140)]
    assert gaps(fills)[0].reason == "backwards"


def test_rollover_only_where_the_meter_is_known_to_wrap() -> None:
    fills = [brim(1, 10, 99870), brim(3, 11, 145)]
    assert spans(fills) == []
    (span,) = spans(fills, rollover=100_000)
    assert span.distance == 275 and span.estimated and "rolled over" in span.flags[0]
    assert spans([brim(1, 10, 61240), brim(3, 9, 61190)], rollover=100_000) == [], "a misheard number, no turn over"


def test_a_different_odometer_voids_the_difference_but_not_the_trip() -> None:
    fills = [brim(1, 10, 71980), brim(5, 11, 112406, trip=180)]
    change = [datetime(2026, 5, 3)]
    assert spans(fills, meter_changes=change) == []
    (span,) = spans(fills, [reset(1)], meter_changes=change)
    assert span.distance == 180 and span.measured_by == "trip"


def test_filled_again_on_the_spot_belongs_to_the_tank_before() -> None:
    got = spans([brim(1, 10, 1000), brim(3, 9.5, 1150), brim(4, 0.5, 1150), brim(6, 8, 1280)])
    assert [(s.distance, s.fuel) for s in got] == [(150, 10), (130, 8)]


# -- the trip meter


def test_trip_after_a_reset_stands_in_for_the_odometer() -> None:
    (span,) = spans([brim(1, 14), brim(8, 15.1, trip=241.6)], [reset(1)])
    assert span.value == pytest.approx(16.0) and span.measured_by == "trip" and not span.estimated


def test_trip_left_running_counts_by_its_difference() -> None:
    got = spans([brim(1, 14), brim(4, 10, trip=150), brim(8, 12, trip=330)], [reset(1)])
    assert [s.distance for s in got] == [150, 180]


def test_trip_said_at_every_fill_is_taken_to_be_zeroed_there_but_marked() -> None:
    got = spans([brim(1, 14, trip=251), brim(4, 10, trip=160), brim(8, 12, trip=195)])
    assert [s.distance for s in got] == [160, 195] and all(s.estimated for s in got)


def test_forgot_to_zero_it_and_guesses_what_was_on_it() -> None:
    """Zeroed on the 3rd with "twenty, twenty five, call it twenty" on it since the fill; 220 at the next fill."""
    (span,) = spans([brim(1, 14), brim(8, 15, trip=220)], [reset(3, 20, 20, 25)])
    assert span.distance == 240 and span.estimated and "guess" in span.flags[0]
    guess = ufloat(20, 5 / 3**0.5) + ufloat(220, 0.28867513)
    assert span.distance_sd == pytest.approx(guess.std_dev, rel=1e-6)
    exact = spans([brim(1, 14, 1000), brim(8, 15, 1240)])[0]
    assert span.plus_minus > exact.plus_minus


def test_zeroed_at_a_splash_whose_trip_was_read() -> None:
    fills = [brim(1, 14), brim(3, 5, trip=90, to_brim=False), brim(8, 11, trip=150)]
    (span,) = spans(fills, [reset(1), reset(3)])
    assert span.distance == 240 and span.fuel == 16


def test_zeroed_in_between_with_nothing_said_gives_no_distance() -> None:
    fills = [brim(1, 14), brim(8, 15, trip=150)]
    assert spans(fills, [reset(1), reset(4)]) == []
    assert gaps(fills, [reset(1), reset(4)])[0].reason == "distance"


def test_an_odometer_nobody_read_follows_from_the_trip() -> None:
    got = spans([brim(1, 14, 1000), brim(4, 10, trip=150), brim(8, 12, 1330)], [reset(1)])
    assert [s.distance for s in got] == [150, 180]


def test_the_finer_of_two_meters_that_agree() -> None:
    (span,) = spans([brim(1, 10, 23418), brim(5, 2.5, 23534, trip=116.4)], [reset(1)])
    assert span.distance == 116.4 and span.measured_by == "trip"


def test_two_meters_that_disagree_are_said_so() -> None:
    (span,) = spans([brim(1, 10, 1000), brim(5, 10, 1160, trip=140)], [reset(1)])
    assert span.distance == 160 and "odometer says 160 mi, trip meter 140" in span.flags[0]


def test_a_fill_missing_from_the_record_shows_between_two_meters() -> None:
    """Trip says 150, odometer 410, and 410 miles on 10 gallons is nothing like this machine: one fill was not written
    down.
    """
    fills = [brim(d, 10.0, 1000 + 150 * i, trip=150) for i, d in enumerate((1, 4, 7, 10, 13))]
    fills += [brim(16, 10.0, 2010, trip=150), brim(19, 10.0, 2160, trip=150)]
    resets = [reset(d) for d in (1, 4, 7, 10, 13, 16, 19)]
    assert "n16" not in {s.to_note for s in spans(fills, resets)} and len(spans(fills, resets)) == 5
    (gap,) = gaps(fills, resets)
    assert gap.reason == "missed_fill" and gap.to_note == "n16" and "missing" in gap.text


def test_a_misread_odometer_gives_way_to_the_trip() -> None:
    """1,450 heard as 1,350 at the fourth fill: 50 miles on ten gallons, where the trip says 150."""
    fills = [brim(d, 10.0, 1000 + 150 * i, trip=150) for i, d in enumerate((1, 4, 7, 10, 13, 16, 19))]
    fills[3].odometer = 1350
    got = spans(fills, [reset(d) for d in (1, 4, 7, 10, 13, 16, 19)])
    (mended,) = [s for s in got if s.to_note == "n10"]
    assert (
        mended.distance == 150
        and mended.value == pytest.approx(15)
        and mended.estimated
        and "misread" in mended.flags[-1]
    )


def test_a_tank_far_from_the_usual_is_flagged() -> None:
    fills = [brim(d, 10.0, 1000 + 150 * i) for i, d in enumerate((1, 4, 7, 10, 13, 16))] + [brim(19, 10.0, 2100)]
    got = spans(fills)
    assert [bool(s.flags) for s in got] == [False] * 5 + [True]


# -- readings, hours, tanks, factors, units


def test_hours_come_from_the_meter_read_with_the_fill_or_minutes_after() -> None:
    fills = [brim(10, 4.0), brim(16, 5.1)]
    readings = [
        Reading(fills[0].at, "n10", "hours", 906.1),
        Reading(fills[1].at + timedelta(minutes=2), "later", "hours", 912.6),
        Reading(fills[1].at + timedelta(hours=3), "evening", "hours", 914.0),
    ]
    (span,) = spans(fills, (), readings, distance_unit="h")
    assert span.value == pytest.approx(0.7846, abs=1e-4) and span.unit == "gal_us_per_h"


def test_a_rough_odometer_makes_a_rough_figure() -> None:
    fills = [brim(1, 10, 88310), brim(5, 19, None)]
    (span,) = spans(fills, (), [Reading(fills[1].at, "n5", "odometer", 88600, approx=True)])
    assert span.estimated and "approximate" in span.flags[0] and span.distance_sd > 28


def test_two_tanks_are_full_only_together() -> None:
    fills = [
        brim(1, 16, 1000, tank="main"),
        brim(1, 15, 1000, tank="aux"),
        brim(4, 21.4, 1280, tank="main"),
        brim(7, 12.0, 1550, tank="main"),
        brim(7, 8.8, 1550, tank="aux"),
    ]
    (span,) = spans(fills)
    assert span.distance == 550 and span.fuel == pytest.approx(42.2)


def test_litres_on_a_machine_of_gallons() -> None:
    (span,) = spans([brim(1, 10, 1000), brim(3, 37.85411784, 1150, unit="L")])
    assert span.fuel == pytest.approx(10) and span.unit == "mpg_us"


def test_meter_factor_that_changes_inside_a_tank() -> None:
    factors = [MeterFactor(None, 1.0), MeterFactor(datetime(2026, 5, 4), 1.1, odometer=1100)]
    before, across, after = spans(
        [brim(1, 9, 900), brim(2, 10, 1000), brim(6, 14, 1210), brim(9, 14, 1420)], meter_factor=factors
    )
    assert before.distance == 100
    assert across.distance == pytest.approx(100 + 110 * 1.1) and not across.estimated
    assert after.distance == pytest.approx(231)
    unknown = [MeterFactor(None, 1.0), MeterFactor(datetime(2026, 5, 4, 17), 1.1)]
    (_, split, _) = spans(
        [brim(1, 9, 900), brim(2, 10, 1000), brim(6, 14, 1210), brim(9, 14, 1420)], meter_factor=unknown
    )
    assert split.distance == pytest.approx(105 + 105 * 1.1) and split.estimated and "by time" in split.flags[0]


def test_spread_of_a_vague_volume() -> None:
    exact = spans([brim(1, 10, 1000), brim(5, 12.0, 1180)])[0]
    vague = spans([brim(1, 10, 1000), brim(5, 12.0, 1180, low=11, high=14)])[0]
    assert vague.value == exact.value and vague.plus_minus > 1.3 * exact.plus_minus
    expected = ufloat(180, 2**0.5 * 0.28867513) / (ufloat(12, 2 / 3**0.5) + ufloat(0, 0.12) - ufloat(0, 0.12))
    assert vague.plus_minus == pytest.approx(expected.std_dev, rel=0.02)
    assert vague.with_spread().std_dev == vague.plus_minus


@pytest.mark.parametrize("bad", [{"volume": -3.0}, {"odometer": -1.0}, {"price": -9.0}, {"unit": "buckets"}])
def test_bad_fills_are_named(bad: dict[str, object]) -> None:
    fields: dict[str, object] = {"volume": 9.0, "unit": "gal_us", "to_brim": True, "odometer": 1100.0, **bad}
    with pytest.raises(DiaryError, match="2026-05-03"):
        spans([brim(1, 10, 1000), Fill(datetime(2026, 5, 3), "x", **fields)])  # type: ignore[arg-type]


def test_bad_settings_are_named() -> None:
    with pytest.raises(DiaryError, match="furlong"):
        spans([], distance_unit="furlong")
    with pytest.raises(DiaryError, match="not believable"):
        spans([brim(1, 10, 1000)], meter_factor=7.0)


# -- several tanks together


WEEK = [
    Fill(at("2026-04-30T17:00"), "a", 14, "gal_us", True, 60760),
    Fill(at("2026-05-07T17:00"), "b", 15.2, "gal_us", True, 61000),
    Fill(at("2026-05-12T17:00"), "c", 4, "gal_us", False),
    Fill(at("2026-05-15T17:40"), "d", 8.6, "gal_us", True, 61201),
]


def test_this_week_is_the_tank_that_touches_it() -> None:
    found = this_week(spans(WEEK), at("2026-05-15T18:30"))
    assert found is not None and found.value == pytest.approx(15.95, abs=0.005)
    assert found.estimated and "estimated" in found.remark and "May 7" in found.remark


def test_this_week_weights_tanks_by_the_distance_inside() -> None:
    fills = [*WEEK, Fill(at("2026-05-17T12:00"), "e", 10, "gal_us", True, 61401)]
    found = this_week(spans(fills), at("2026-05-17T20:00"))
    assert found is not None
    share = (at("2026-05-15T17:40") - at("2026-05-11T00:00")) / (at("2026-05-15T17:40") - at("2026-05-07T17:00"))
    assert found.value == pytest.approx((201 * share + 200) / (12.6 * share + 10))
    assert 15.95 < found.value < 20.0


def test_a_week_without_a_tank() -> None:
    assert this_week(spans(WEEK), at("2026-06-15T18:30")) is None
    assert in_window(spans(WEEK), at("2026-01-01"), at("2026-02-01")) is None


def test_since_a_repair() -> None:
    fills = [
        Fill(at("2026-04-20T17:00"), "0", 13, "gal_us", True, 70000),
        Fill(at("2026-04-27T12:00"), "2", 14, "gal_us", True, 70210),
        Fill(at("2026-05-04T17:00"), "3", 13.1, "gal_us", True, 70420),
        Fill(at("2026-05-12T17:00"), "4", 13.3, "gal_us", True, 70646),
    ]
    found = since(spans(fills), at("2026-04-27T10:00"))
    assert found is not None and found.value == pytest.approx(16.52, abs=0.005) and not found.estimated
    late = since(spans(fills), at("2026-05-06T10:00"))
    assert late is not None and late.estimated and late.value == pytest.approx(226 / 13.3)
    assert since(spans(fills), at("2026-06-01")) is None


def test_by_month() -> None:
    fills = [
        Fill(at(f"{day}T17:00"), day, volume, "gal_us", True, odometer)
        for day, volume, odometer in [
            ("2026-04-01", 14, 50000),
            ("2026-04-14", 15, 50240),
            ("2026-04-30", 14.5, 50463),
            ("2026-05-10", 15.5, 50718),
            ("2026-05-20", 14, 50944),
        ]
    ]
    months = by_month(spans(fills))
    assert months["2026-05"].value == pytest.approx(16.31, abs=0.005)
    assert months["2026-04"].value == pytest.approx(15.69, abs=0.005)


def test_best_and_worst_whatever_way_the_unit_counts() -> None:
    fills = [
        brim(1, 40, 1000, unit="L"),
        brim(5, 30, 1300, unit="L"),
        brim(9, 40, 1700, unit="L"),
        brim(13, 27, 2000, unit="L"),
    ]
    found = best_and_worst(spans(fills, distance_unit="km", volume_unit="L"))
    assert found is not None and (found[0].to_note, found[0].value) == ("n13", 9.0) and found[1].value == 10.0
    assert best_and_worst([]) is None


def test_a_chain_of_tanks_counts_its_inner_brims_once() -> None:
    """Against `uncertainties`, with the brims as the shared variables that they are."""
    got = spans([brim(1, 10, 1000), brim(4, 10.1, 1150), brim(7, 10.2, 1310), brim(10, 9.9, 1460)], brim_sd=0.1)
    total = overall(got)
    assert total is not None
    brims = [ufloat(0, 0.1) for _ in range(4)]
    pumps = [ufloat(v, 0.028867513) for v in (10.1, 10.2, 9.9)]
    meters = [ufloat(m, 0.28867513) for m in (1000, 1150, 1310, 1460)]
    fuel = sum(p + brims[i] - brims[i + 1] for i, p in enumerate(pumps))
    expected = (meters[-1] - meters[0]) / fuel
    assert total.value == pytest.approx(expected.nominal_value)
    assert total.plus_minus == pytest.approx(expected.std_dev, rel=1e-6)


@given(st.lists(st.tuples(st.floats(0.1, 40), st.floats(1, 900), st.booleans()), min_size=2, max_size=30))
def test_fuel_and_distance_are_never_lost_or_made(steps: list[tuple[float, float, bool]]) -> None:
    odometer, fills = 1000.0, [Fill(datetime(2026, 1, 1), "0", 10.0, "gal_us", True, 1000.0)]
    for i, (volume, miles, full) in enumerate(steps, 1):
        odometer += miles
        fills.append(Fill(datetime(2026, 1, 1) + timedelta(days=i), str(i), volume, "gal_us", full, odometer))
    got = spans(fills)
    last = max(i for i, f in enumerate(fills) if f.to_brim)
    assert sum(s.fuel for s in got) == pytest.approx(sum(f.volume or 0 for f in fills[1 : last + 1]))
    assert sum(s.distance for s in got) == pytest.approx((fills[last].odometer or 0) - 1000)
    total = overall(got)
    if total is not None:
        assert min(s.value for s in got) - 1e-9 <= total.value <= max(s.value for s in got) + 1e-9
