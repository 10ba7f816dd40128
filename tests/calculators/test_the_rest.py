"""Sizes as people write them, schedules, histories, limits: what tests/outside does not need a source for."""

from datetime import date

import pytest

from diary.calculators import electrics, fluids, intervals, pressure, refrigerant, torque, tyres
from diary.calculators.answer import figure
from diary.calculators.conversion import unit_code, units_named, written
from diary.calculators.tables import caution, table
from diary.errors import DiaryError


@pytest.mark.parametrize(
    ("code", "kind", "inches"),
    [
        ("LT265/70R17", "metric", 31.606),
        ("P205/55 R16 91V", "metric", 24.878),
        ("225/75R16C 121/120R", "metric", 29.287),
        ("265 70 17", "metric", 31.606),
        ("120/70-17", "metric", 23.614),
        ("80/100-21", "metric", 27.299),
        ("35x12.50R17LT", "flotation", 35.0),
        ("33 x 12.5", "flotation", 33.0),
        ("3.00-21", "inch", 27.0),
        ("37", "bare", 37.0),
        ("37 in", "bare", 37.0),
    ],
)
def test_tyre_codes_as_people_write_them(code: str, kind: str, inches: float) -> None:
    size = tyres.tyre(code)
    assert size.kind == kind and size.diameter_in == pytest.approx(inches, abs=0.001)


@pytest.mark.parametrize("code", ["", "big ones", "999/99R99", "265/700R17", "5", "99"])
def test_no_tyre(code: str) -> None:
    with pytest.raises(DiaryError, match=r"[tT]yre size"):
        tyres.tyre(code)


@pytest.mark.parametrize(
    ("text", "name"),
    [("AWG 10", "AWG 10"), ("10 awg", "AWG 10"), ("12 gauge", "AWG 12"), ("2/0", "AWG 2/0"), ("2.5 mm²", "2.5 mm²")],
)
def test_wire_sizes_as_people_write_them(text: str, name: str) -> None:
    assert electrics.wire(text).name == name


@pytest.mark.parametrize("text", ["thick", "7 mm2", "AWG 99"])
def test_no_wire(text: str) -> None:
    with pytest.raises(DiaryError):
        electrics.wire(text)


@pytest.mark.parametrize("text", ["M99", "banana", "3/8-99-1", "M10x9", "5/3-7"])
def test_no_thread(text: str) -> None:
    with pytest.raises(DiaryError):
        torque.thread(text)


def test_a_fuse_is_never_larger_than_its_wire() -> None:
    assert electrics.fuse_for(20, size=electrics.awg(16)).fits_wire is False
    assert electrics.fuse_for(8, size=electrics.awg(16)).fits_wire is True
    assert electrics.fuse_for(8).fits_wire is None


def test_the_chosen_wire_carries_the_fuse() -> None:
    """Over a short run the drop asks for little; what the fuse needs then decides."""
    size, needed = electrics.smallest_wire(30, 0.3)
    assert needed < 1 and size.largest_fuse is not None and size.largest_fuse >= 37.5
    size, _ = electrics.smallest_wire(15, 4, 10, metric=True)
    assert size.name.endswith("mm²")


def test_wheels_are_checked_until_one_check_finds_nothing_moved() -> None:
    assert torque.recheck_schedule(61200, []) == (61250, 61300)
    assert torque.recheck_schedule(61200, [(61210, False)]) == (61250, 61300), "too early to count"
    assert torque.recheck_schedule(61200, [(61260, True)]) == (61310, 61360)
    assert torque.recheck_schedule(61200, [(61260, True), (61320, False)]) is None
    assert torque.recheck_window(1000, "km") == (1080, 1160)


def test_interval_from_history() -> None:
    """Topped up at these miles, no interval given: about every 800, the one long gap does not spoil it."""
    habit = intervals.from_history([42000, 42790, 43600, 44410, 46900, 47700])
    assert habit.typical == 810 and habit.count == 5 and habit.next_at == 48510 and habit.spread < 50
    with pytest.raises(DiaryError, match="two times"):
        intervals.from_history([42000])


def test_due_says_both_and_which_comes_first() -> None:
    due = intervals.next_due(
        done_on=date(2026, 1, 1),
        done_distance=1000,
        every_distance=5000,
        every_months=12,
        now=date(2026, 2, 1),
        now_distance=1100,
    )
    assert due.first == "date" and due.text.endswith("the time comes first") and not due.overdue
    assert due.day == date(2027, 1, 1)


def test_pressure_edges() -> None:
    assert pressure.days_to(30, 0, 26) is None and pressure.days_to(25, 0.1, 26) == 0
    assert pressure.leak(35, 70, 34.5, 70, 30).normal
    for bad in (-1, 400):
        with pytest.raises(DiaryError, match="not believable"):
            pressure.at_temperature(bad, 70, 30)
    with pytest.raises(DiaryError, match="degF or degC"):
        pressure.kelvin(300, "K")


def test_fluid_edges() -> None:
    assert fluids.volume_to_swap(12, 0.5, 0.5) == 0 and fluids.freeze_point_celsius(0) == 0
    for bad in (0.05, 0.8, 1.5):
        with pytest.raises(DiaryError):
            fluids.freeze_point_celsius(bad)
    with pytest.raises(DiaryError, match="cannot bring"):
        fluids.volume_to_swap(12, 0.3, 0.9, refill=0.5)
    assert fluids.share_after_swap(10, 0.4, fluids.volume_to_swap(10, 0.4, 0.55)) == pytest.approx(0.55)
    assert fluids.fuel_for_oil(fluids.two_stroke_oil(5, 32), 32) == pytest.approx(5)
    assert fluids.balance_at_radius(60, 200, 190) == pytest.approx(63.16, abs=0.01)
    assert fluids.combined_balance([(50, 10), (50, 190)])[0] == pytest.approx(0, abs=1e-9)


def test_refrigerant_edges() -> None:
    with pytest.raises(DiaryError, match="Blends"):
        refrigerant.saturation_gauge(70, fluid="R404A")
    with pytest.raises(DiaryError, match="outside"):
        refrigerant.saturation_temperature(900)


def test_every_topic_of_caution_defers_or_warns() -> None:
    """Check values, section 9: what a shop would print. Each is a whole sentence, and the key words are in."""
    cautions = table("cautions")["cautions"]
    assert all(text.endswith(".") for text in cautions.values())
    for topic, word in [
        ("manual", "technician"),
        ("lifting", "stands"),
        ("torque", "manual"),
        ("wheels", "50 to 100 miles"),
        ("fuel", "vapour"),
        ("electrics", "negative first"),
        ("battery", "gas"),
        ("refrigerant", "certified"),
        ("coolant", "hot cap"),
        ("tyre_size", "law"),
        ("tyres", "placard"),
        ("safety_fasteners", "technician"),
    ]:
        assert word in cautions[topic]
    assert caution("torque", "manual").count(".") >= 2


def test_figures_in_sentences() -> None:
    assert [figure(x) for x in (0, 0.05123, 0.8285, 8.0, 24.311, 115.24, 64300.6, -37.14)] == [
        "0",
        "0.0512",
        "0.829",
        "8",
        "24.3",
        "115",
        "64,301",
        "-37.1",
    ]


def test_units_as_typed_and_as_written() -> None:
    assert unit_code("Nm") == unit_code("newton metres") == "N_m" and unit_code("°F") == "degF"
    assert [u for u, _ in units_named("what's that in foot pounds, not inch pounds")] == ["ft_lb", "in_lb"]
    assert written("85 ft_lb at 20 degC") == "85 ft lb at 20 °C"
    with pytest.raises(DiaryError, match="parsnip"):
        unit_code("parsnip")
