"""Pressures, voltages, temperatures, lengths and the rest, with and without their units."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from diary.language.pipeline import parse_light
from diary.language.readers import measures
from tests.language.readers.numeric_support import cases, context, differences, rows

METRIC = {"distance": "km", "volume": "L", "torque": "N_m", "pressure": "bar"}


@pytest.mark.parametrize("case", cases("measures"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    found = rows(case["text"], "measures", case["locale"], case["meters"])
    assert not differences(found, case["expect"]["measures"])


def values(text: str, quantity: str, locale: dict[str, str] | None = None) -> list[float]:
    return [m["value"] for m in rows(text, "measures", locale) if m["quantity"] == quantity]


def test_bare_pressures_take_the_machines_unit() -> None:
    found = rows("front tyres at 2.2, rears at 2.5", "measures", METRIC)
    assert [(m["value"], m["unit"]) for m in found] == [(2.2, "bar"), (2.5, "bar")]


def test_places_alone_continue_the_pressures() -> None:
    text = "tire pressures front left thirty one right thirty three both rears thirty five so i set them to thirty two"
    assert values(text, "pressure") == [31, 33, 35, 32]


def test_a_series_stays_with_its_quantity() -> None:
    assert values("3 mm on the left pad and 4 on the right", "length", METRIC) == [3, 4]


def test_a_fuse_rating_is_a_current() -> None:
    assert values("dome light fuse is a blown ten amp put a new ten in", "current") == [10]


def test_speeds_at_which_a_trouble_comes() -> None:
    assert values("shimmy comes in at fifty five and it is gone by sixty five", "speed") == [55, 65]
    assert values("the limit is fifty five and everybody was going eighty", "speed") == []


def test_oil_topped_up_is_a_volume() -> None:
    (measure,) = rows("topped it up with half a quart of gear oil", "measures")
    assert (measure["quantity"], measure["value"], measure["unit"]) == ("volume", 0.5, "qt_us")


def test_what_it_should_be_was_not_measured() -> None:
    assert values("fuel pressure went down to six psi on the hill and it should sit around fifteen", "pressure") == [6]


def test_lowest_that_a_gauge_went_counts_though_never_is_said() -> None:
    assert values("fuel pressure was fifteen psi and the gauge never went under fourteen", "pressure") == [15, 14]


@pytest.mark.parametrize(
    "text",
    [
        "found the ten millimeter socket",
        "ordered a twenty two inch wiper blade",
        "it rained an inch and a quarter",
        "waited 25 minutes at the counter",
    ],
)
def test_no_measure(text: str) -> None:
    assert rows(text, "measures") == []


# ---- classes of talk: each is a way of saying, in several voices ----------------------------------------------------

BRITISH = {"distance": "mi", "volume": "gal_imp", "torque": "ft_lb", "pressure": "psi"}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("there were twenty six in each of the fronts", [26]),
        ("got thirty two in each of the backs now and thirty up front", [32, 30]),
        ("aired up the trailer tires one was at thirty one and now the both of them carry fifty", [31, 50]),
        ("nearside rear had eighteen in it, blew it up to thirty", [18, 30]),
        ("it is holding one ninety so the spare is no worry", [190]),
        ("the rad needs a cap, so i put a fifteen pound cap on the radiator", [15]),
    ],
)
def test_pressures_told_by_what_holds_them(text: str, expected: list[float]) -> None:
    assert values(text, "pressure", BRITISH) == expected


def test_in_after_a_tire_is_no_inch() -> None:
    found = rows("back tyres had 1.9 in, pumped em to 2.3", "measures", METRIC)
    assert [(m["value"], m["unit"]) for m in found] == [(1.9, "bar"), (2.3, "bar")]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("the fan came in at ninety four and off again at eighty nine", [94, 89]),
        ("fan cuts in at 97", [97]),
        ("thermostat in a pot on the stove opens at eighty eight the way it should", [88]),
        ("needle sat at one oh two going up the pass", [102]),
        ("it held ninety five the whole way so running hot is behind us", [95]),
        ("the radio came on at ninety one and the fan was loud", []),
    ],
)
def test_temperatures_at_which_something_happens(text: str, expected: list[float]) -> None:
    assert values(text, "temperature", METRIC) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("at about fifty two miles an hour theres a howl out of the rear end", [52]),
        ("limp mode again, 70 mph up the hill", [70]),
    ],
)
def test_speeds_of_a_trouble_named_before_or_after(text: str, expected: list[float]) -> None:
    assert values(text, "speed") == expected


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("put in eight hundred and fifty mils of ten forty", 850, "mL"),
        ("poured in four hundred mils of fork oil", 400, "mL"),
        ("coolant below min. +0.6 l of mix", 0.6, "L"),
        ("new filter on, pan bolts tight. 5.5qts in.", 5.5, "qt_us"),
    ],
)
def test_volumes_put_in(text: str, value: float, unit: str) -> None:
    found = [(m["quantity"], m["value"], m["unit"]) for m in rows(text, "measures", METRIC)]
    assert found == [("volume", value, unit)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("measured frt rotors: L .955in R .948in, min is .906", [(0.955, "in"), (0.948, "in"), (0.906, "in")]),
        ("its three thousandths out of flat", [(3, "thou")]),
        ("end play came to six thousandths on the dial", [(6, "thou")]),
        ("rock chip in windshield, 1in crack starting", [(1, "in")]),
        ("split in the boost hose itself 3 cm long underneath", [(3, "cm")]),
    ],
)
def test_lengths_as_they_are_written_and_said(text: str, expected: list[tuple[float, str]]) -> None:
    assert [(m["value"], m["unit"]) for m in rows(text, "measures")] == expected


def test_a_least_thickness_continues_the_series() -> None:
    assert values("pads 2mm, disc 21.4mm, min 20.", "length", METRIC) == [2, 21.4, 20]


def test_toe_and_what_it_was_wound_back_to() -> None:
    text = (
        "front had four millimetres of toe out so on went the track rod ends and i wound it back to one millimetre "
        "lock nuts got forty five newton metres"
    )
    assert values(text, "length", METRIC) == [4, 1]


def test_a_voltage_beside_what_failed() -> None:
    assert values("car would not crank eleven point two volts after the weekend", "voltage") == [11.2]
    assert values("12.3v key on eng off; 12.9V running", "voltage") == [12.3, 12.9]
    assert values("battery twelve six this morning", "voltage") == [12.6]


def test_refrigerant_is_weighed() -> None:
    assert values("garage chkd AC, 310g gas left in it, regassed", "mass", METRIC) == [310]
    assert values("the shop put 22 ounces of refrigerant back in the ac", "mass") == [22]


def test_times_while_it_ran() -> None:
    assert values("after forty minutes running that corner is bone dry", "time") == [40]


@pytest.mark.parametrize(
    "text",
    [
        "o-ring 3.20, can of coolant 18.90",
        "sealing ring 1.90, filter 12.40",
        "ordered filter kit 32.50, ATF 6 qts 38.68",
    ],
)
def test_prices_and_what_was_bought_are_not_measured(text: str) -> None:
    assert rows(text, "measures", METRIC) == []


def test_a_length_of_no_damage_of_the_machine() -> None:
    assert rows("the shed is 6 m long and the crack in the wall is not my problem", "measures", METRIC) == []


def again(text: str, last: dict[str, Any], locale: dict[str, str] | None = None) -> list[tuple[str, float]]:
    """What is measured where the diary's last measure is `last`."""
    ctx = replace(context(locale), measures=[{"at": "2026-05-03T18:00", "of": "rear tire", **last}])
    return [(d.fields["quantity"], d.fields["value"]) for d in measures.read(parse_light(text, ctx), ctx, [])]


def test_a_bare_number_that_opens_a_note_is_the_last_figure_once_more() -> None:
    shocks = {"quantity": "pressure", "value": 80.0, "unit": "psi"}
    assert again("71. It's better, it isn't holding.", shocks) == [("pressure", 71.0)]
    assert again("still seventy eight on it so that one is done", shocks) == [("pressure", 78.0)]
    assert again("only had a seventy on me", shocks) == []
    assert again("71 miles to the lake", shocks) == []
    assert again("9. That was all.", shocks) == []
    assert again("71. It's better", {**shocks, "at": "2026-03-01T18:00"}) == []


def test_what_is_always_done_leaves_the_volume_of_the_clause_before() -> None:
    assert values("put in half a litre of oil i always do it on a monday", "volume", METRIC) == [0.5]


def test_a_load_is_weighed() -> None:
    assert values("it sat with four hundred pounds on it and never moved a hair", "mass") == [400]
    assert values("belt chirped pulling away with 400 kilos of peaches on", "mass", METRIC) == [400]


def test_the_air_outside_is_no_pressure() -> None:
    assert values("The AC quit, it's just warm air, and it's 84 out at 1 in the morning.", "pressure") == []


def test_speeds_that_proved_it() -> None:
    assert values("Clean at 45, clean at 50, clean at 60.", "speed") == [45, 50, 60]
    assert values("not so much as a flap at sixty", "speed") == [60]
    assert values("Smooth at 62, 65, 70. He did the lug nuts, I went over them after at 80.", "speed") == [62, 65, 70]


def test_pressures_listed_in_one_breath() -> None:
    text = "pressures thirty thirty and thirty two thirty one set the fronts to thirty three"
    assert values(text, "pressure") == [30, 32, 31, 33]  # the same value of the same thing stands once
    assert values("pressures f 28/28 r 35/33. fronts 32 rears 36.", "pressure") == [28, 35, 33, 32, 36]
    assert values("bolts 3/8 in the rear hatch", "pressure") == []


def test_speeds_listed_in_one_breath() -> None:
    assert values("smooth at fifty eight sixty five and seventy", "speed") == [58, 65, 70]


def test_a_habit_between_two_figures_is_none_of_them() -> None:
    text = "tires left front twenty two both backs thirty two i carry thirty all around as a rule aired the left front up to thirty"
    assert values(text, "pressure") == [22, 32, 30]


def test_what_a_figure_is_held_against() -> None:
    assert values("motor is back draws four amps now instead of eleven", "current") == [4, 11]
    assert values("wire five is 48,000 ohms against 9,000 for the rest", "resistance") == [48000, 9000]


def test_a_figure_with_two_question_marks_is_a_figure() -> None:
    assert values("gauged the tires. fr L 48, fr R 47, rears 62 & 44??", "pressure") == [48, 47, 62, 44]


def test_a_price_after_a_lining_is_no_thickness() -> None:
    assert values("Handbrake shoes, 36. Saturday, before the apples.", "length", METRIC) == []


def test_what_it_lost_meanwhile() -> None:
    assert values("pumped the system up to 15 psi and in 10 minutes it lost 3", "time") == [10]
    assert values("lost an hour, i lost ten minutes to a nut under the bench", "time") == []


def test_the_very_same_figure_is_meant_before_a_nearer_one_in_time() -> None:
    rows_before = [
        {"at": "2026-05-02T18:00", "quantity": "pressure", "value": 62.0, "unit": "psi", "of": "rear tire"},
        {"at": "2026-05-03T18:00", "quantity": "temperature", "value": 70.0, "unit": "degF", "of": "fridge"},
    ]
    ctx = replace(context(), measures=rows_before)
    text = "62 still. recheck lugs at 50 mi"
    assert [d.fields["quantity"] for d in measures.read(parse_light(text, ctx), ctx, [])] == ["pressure"]
