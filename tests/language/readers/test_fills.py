"""Fills as people tell of them: whole, partial, by others, from cans, two in a note. The sentences are invented."""

from __future__ import annotations

from typing import Any

import pytest

from tests.language.readers.numeric_support import cases, differences, rows

METRIC = {"distance": "km", "volume": "L", "torque": "N_m", "pressure": "bar"}


@pytest.mark.parametrize("case", cases("fills"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    found = rows(case["text"], "fills", case["locale"], case["meters"])
    assert not differences(found, case["expect"]["fills"])


def test_a_fill_without_volume_is_a_fill_with_none() -> None:
    (fill,) = rows("my wife filled it up and lost the receipt", "fills")
    assert fill["volume"] is None and fill["to_brim"] is True


def test_nobody_said_whether_it_was_full() -> None:
    (fill,) = rows("put in nine gallons", "fills")
    assert fill["volume"] == 9 and fill["to_brim"] is None


def test_denied_fullness_wins_over_the_word_full() -> None:
    (fill,) = rows("put 12.5 litres in, not full", "fills", METRIC)
    assert fill["to_brim"] is False


def test_a_price_a_gallon_is_no_total() -> None:
    (fill,) = rows("filled it 10.5 gallons at three eighty nine a gallon", "fills")
    assert fill["price_total"] is None and fill["price_per_unit"] == pytest.approx(3.89)


def test_parts_give_way_to_their_total() -> None:
    (fill,) = rows(
        "22.9 in the main and 15.2 in the aux, so 38.1 gallons all together, both tanks to the brim", "fills"
    )
    assert fill["volume"] == pytest.approx(38.1) and fill["to_brim"] is True


def test_the_price_of_a_part_is_not_the_price_of_the_fuel() -> None:
    (fill,) = rows(
        "filled to the neck 13.7 gallons then a counter run wheel cylinder was nineteen ninety five", "fills"
    )
    assert fill["price_total"] is None


@pytest.mark.parametrize(
    "text",
    [
        "topped the radiator up with a gallon of coolant",
        "i will brim it when i get paid",
        "did not fill it",
        "my buddy filled his truck with twenty two gallons",
        "mixed two gallons in the red can at thirty two to one",
        "the tank holds twenty six gallons",
        "aired the tire up and filled it to thirty",
    ],
)
def test_no_fill(text: str) -> None:
    assert rows(text, "fills") == []


def test_fuel_moved_between_tanks_is_a_volume_and_no_fill() -> None:
    text = "10 gallons moved across from the aux to the main, that isn't a fill"
    assert rows(text, "fills") == []
    assert [m["value"] for m in rows(text, "measures")] == [10]


def test_a_parts_price_whose_word_can_mean_fuel_is_no_fill() -> None:
    text = (
        "it looked super manky so i got a spark plug nine bucks ninety five and gapped it to one mil "
        "and did it up to twelve newton metres"
    )
    assert rows(text, "fills", METRIC) == []


def test_a_dear_fill_is_drafted_as_said_so_that_it_can_be_asked_about() -> None:
    """$440 for 11 gallons was dropped silently; the checks of the conversation must see it."""
    found = rows("11 gallons even, filled to the top, $440, odometer 62,015.", "fills", {}, {})
    assert [(r["volume"], r["price_total"]) for r in found] == [(11, 440)]


def test_full_and_a_bare_number_is_a_fill() -> None:
    found = rows("full fourteen and a half odometer fifty thousand four sixty three", "fills", {}, {})
    assert [(r["volume"], r["to_brim"], r["odometer"]) for r in found] == [(14.5, True, 50463)]
    assert rows("full marks to the guy at counter three", "fills", {}, {}) == []


def test_a_volume_beside_an_odometer_is_a_fill_though_the_verb_was_misheard() -> None:
    """A recogniser heard "rounded" for "brimmed"; whether it was full is then not known."""
    text = "rounded eleven point three gallons eighty seven six fifty two on the odometer"
    assert [(r["volume"], r["to_brim"], r["odometer"]) for r in rows(text, "fills", {}, {})] == [(11.3, None, 87652)]
    other = "odometer sixty one two forty put in one point five gallons of coolant"
    assert rows(other, "fills", {}, {}) == []
