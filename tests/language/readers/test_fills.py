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


def told(text: str, locale: dict[str, str] | None = None, meters: dict[str, float] | None = None) -> list[tuple[Any, ...]]:
    """Volume, brim, sum, odometer and trip of each fill."""
    keys = ("volume", "to_brim", "price_total", "odometer", "trip")
    return [tuple(r[k] for k in keys) for r in rows(text, "fills", locale, meters)]


def test_a_sum_over_a_hundred_after_litres_is_no_economy() -> None:
    """ "Litres a hundred" was read as litres per hundred kilometers, and the volume was lost with the sum."""
    euro = METRIC | {"currency": "EUR"}
    text = "brimmed it fifty two point six litres a hundred and four euros odometer two one one four oh two"
    assert told(text, euro) == [(52.6, True, 104, 211402, None)]
    text = "filled up ninety point one litres a hundred and nineteen thirty five all the way trip four oh two"
    assert told(text, euro) == [(90.1, True, 119.35, None, 402)]


@pytest.mark.parametrize(
    ("text", "price", "odometer"),
    [
        ("seven point four gallons to the brim twenty four eighty nine one six oh two trip two ninety", 24.80, 91602),
        ("fifty one gallons to the brim one sixty six forty nine one six oh two trip two ninety", 166.40, 91602),
        ("filled up seven gallons twenty six ten ninety one six oh two", 26.10, 91602),
        ("brimmed it sixty gallons two eleven fifteen odometer nine one six oh two", 211.15, 91602),
    ],
)
def test_sum_and_odometer_in_one_breath_are_parted_by_what_the_meter_can_show(text: str, price: float, odometer: float) -> None:
    ((_, full, paid, meter, _),) = told(text, {}, {"odometer": 91310})
    assert (full, paid, meter) == (True, pytest.approx(price), odometer)


def test_the_trip_tells_that_a_number_is_the_odometer_and_no_sum() -> None:
    found = told("seven point two gallons to the brim fifty three sixty one trip seventy one and zeroed", {}, {"odometer": 5290})
    assert found == [(7.2, True, None, 5361, 71)]


@pytest.mark.parametrize(
    "aside",
    ["the lady in front took two hundred litres", "the compressor took half a litre", "the lad behind me filled his two litre"],
)
def test_a_volume_in_an_aside_is_no_second_fill(aside: str) -> None:
    text = f"forty one litres to the brim sixty one euros twenty odometer nine one five five oh {aside}"
    assert told(text, METRIC | {"currency": "EUR"}, {"odometer": 91310}) == [(41, True, 61.2, 91550, None)]


def test_the_sum_right_after_the_volume_is_its_price() -> None:
    text = "got the mirror glass for nine quid and thirty one point two litres forty four pounds ten brim"
    assert told(text, {"volume": "L", "currency": "GBP"}) == [(31.2, True, 44.1, None, None)]
    assert told("28 L, 43.20, not full, 156,790", METRIC, {"odometer": 156600}) == [(28, False, 43.2, 156790, None)]


def test_a_closer_value_replaces_the_round_one() -> None:
    found = told("filled it thirty litres near enough it was thirty point four forty pounds", {"volume": "L", "currency": "GBP"})
    assert found[0][:3] == (30.4, True, 40)


def test_a_volume_opening_the_note_to_the_top_is_a_fill_whose_sum_may_end_in_a_coin() -> None:
    text = "thirty eight point two to the top a hundred fifty one and a dime odometer two oh six four ten trip three oh two"
    assert told(text) == [(38.2, True, 151.10, 206410, 302)]


def test_filled_and_a_volume_is_full() -> None:
    assert told("Filled, 12.3 gallons, odometer 141,811") == [(12.3, True, None, 141811, None)]


@pytest.mark.parametrize(
    "text",
    [
        "Washer pump fitted, and filled 4 litres of screenwash.",
        "put 30 litres in the fresh tank",
        "poured 2 litres over the roof and nothing came through",
        "filled the pit in the ball with resin",
        "it runs out about as fast as i fill it",
    ],
)
def test_other_things_are_filled_too(text: str) -> None:
    assert rows(text, "fills", METRIC) == []


def test_trip_and_sum_in_one_breath() -> None:
    text = "twelve point six gallons brimmed odometer one oh nine three eighty four trip one eighty seven forty three ten"
    assert told(text) == [(12.6, True, 43.1, 109384, 187)]


def test_a_number_behind_the_zeroed_trip_is_anothers() -> None:
    text = "ten point four gallons to the very top forty four twenty thirty one thirty one on the odo trip zeroed two guys asked"
    assert told(text, {}, {"odometer": 3000}) == [(10.4, True, 44.2, 3131, None)]


def test_sums_are_large_where_the_currency_is_small() -> None:
    text = "petrol thirty four litres full tank three thousand four hundred and sixty rupees odometer one four two six five oh"
    assert told(text, METRIC) == [(34, True, 3460, 142650, None)]


def test_pounds_and_pence_are_money() -> None:
    text = "brimmed again forty four litres sixty four pounds and seven pence"
    assert told(text, METRIC)[0][2] == pytest.approx(64.07)


@pytest.mark.parametrize(
    "text",
    ["put the new seal in filled it with a quarter of a litre of diff oil", "added 1 gal to the surge tank at the fuel island"],
)
def test_a_volume_that_says_what_it_is_or_where_it_went(text: str) -> None:
    assert rows(text, "fills", METRIC) == []


def test_what_the_pump_said_and_what_went_on_the_card_is_the_sum() -> None:
    assert told("Filled, 12.4 gallons, pump said $39.10, odometer 141,811")[0][2] == 39.1
    assert told("topped 96.2 gal, 613,380, on the card 362.67", {}, {"odometer": 612900})[0][2] == 362.67
    assert told("Chockers, 71.4 litres, $139.20", METRIC)[0][:3] == (71.4, True, 139.2)


def test_dollars_and_cents_that_stand_last_are_the_sum() -> None:
    assert told("58.0 L brim 119,160 trip 415 91.30.", METRIC, {"odometer": 118745}) == [(58, True, 91.3, 119160, 415)]
    assert told("topped it off sixty one litres right up", METRIC)[0][:2] == (61, True)
