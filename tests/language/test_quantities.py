"""Numbers with their units."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diary.language.numerals import read_numbers
from diary.language.quantities import read_quantities
from diary.language.types import Locale, Quantity
from diary.language.unit_names import unit_table
from diary.units import convertible

US = Locale()
UK = Locale(distance="mi", volume="L", torque="N_m", pressure="psi")
EU = Locale(distance="km", volume="L", torque="N_m", pressure="bar", currency="EUR")


def only(text: str, locale: Locale = US) -> Quantity:
    found = read_quantities(text, locale=locale)
    assert len(found) == 1, (text, found)
    return found[0]


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("one twenty five foot pounds", 125, "ft_lb"),
        ("Lug nuts went to 1 25 foot-pounds", 125, "ft_lb"),
        ("thirty five inch pounds", 35, "in_lb"),
        ("80 in-lbs", 80, "in_lb"),
        ("ninety ft. lbs.", 90, "ft_lb"),
        ("thirty newton metres", 30, "N_m"),
        ("160 Nm", 160, "N_m"),
        ("fourteen point two gallons", 14.2, "gal_us"),
        ("58.2 litres", 58.2, "L"),
        ("half a quart of gear oil", 0.5, "qt_us"),
        ("a quart of gear oil", 1, "qt_us"),
        ("about a pint of fluid", 1, "pt_us"),
        ("seven hundred and fifty cc", 750, "cc"),
        ("twelve point four volts", 12.4, "V"),
        ("batt 12.1v", 12.1, "V"),
        ("point eight ohms", 0.8, "ohm"),
        ("28 amps going in", 28, "A"),
        ("fifteen thou", 15, "thou"),
        ("an inch and a quarter", 1.25, "in"),
        ("two and a quarter inches", 2.25, "in"),
        ("quarter of an inch", 0.25, "in"),
        ("five feet two inches", 5 + 2 / 12, "ft"),
        ("three point eight bar", 3.8, "bar"),
        ("thirty two p s i", 32, "psi"),
        ("forty eight miles an hour", 48, "mph"),
        ("twenty four hundred rpm", 2400, "rpm"),
        ("a third of a tank", 1 / 3, "tank"),
        ("two cans of brake cleaner", 2, "can"),
        ("fourteen to the gallon", 14, "mpg_us"),
        ("12 litres per 100", 12, "L_per_100km"),
        ("one and a half gallons an hour", 1.5, "gal_us_per_h"),
        ("a hundred and sixty k on it", 160_000, "mi"),
        ("two hours and a half", 2.5, "h"),
    ],
)
def test_units(text: str, value: float, unit: str) -> None:
    quantity = only(text)
    assert (quantity.value, quantity.unit) == (pytest.approx(value), unit)


@pytest.mark.parametrize(
    ("text", "locale", "unit"),
    [
        ("front right tire had nine pounds in it", US, "psi"),
        ("his bike weighs forty pounds more", US, "lb"),
        ("torqued the bolts to ninety pounds", US, "ft_lb"),
        ("paid twelve pounds for it", UK, "GBP"),
        ("ten gallons", US, "gal_us"),
        ("ten gallons", UK, "gal_imp"),
        ("thirty to the gallon", UK, "mpg_imp"),
        ("two pints", UK, "pt_imp"),
        ("hub was at ninety degrees", US, "degF"),
        ("hub was at ninety degrees", EU, "degC"),
        ("timing is at ten degrees", US, "deg"),
        ("two and a half ounces of lead on the wheel", US, "oz"),
        ("eight ounces of two stroke oil in the mix", US, "oz_fl"),
        ("thirteen mil of float height", UK, "mm"),
        ("seven clicks on the lever", US, "click"),
        ("drove forty clicks down the road", EU, "km"),
    ],
)
def test_the_words_around_settle_an_ambiguous_unit(text: str, locale: Locale, unit: str) -> None:
    assert only(text, locale).unit == unit


def test_what_was_not_chosen_stays_as_an_alternative() -> None:
    quantity = only("nine pounds in it")
    codes = {code for _, code, _ in quantity.alternatives}
    assert {quantity.unit} | codes >= {"psi", "lb"}
    assert 0 < sum(p for _, _, p in quantity.alternatives) < 1


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("$47.40", 47.40, "USD"),
        ("eighty one dollars and fifteen cents", 81.15, "USD"),
        ("twelve dollars fifteen", 12.15, "USD"),
        ("sixteen pound sixty", 16.60, "GBP"),
        ("four hundred quid", 400, "GBP"),
        ("cost me forty cents", 0.40, "USD"),
        ("a dollar eighty on that clamp", 1.80, "USD"),
        ("nine grand", 9000, "USD"),
        ("94.87 euros", 94.87, "EUR"),
        ("sixty one eighty on the pump", 61.80, "USD"),
        ("three eighty nine a gallon", 3.89, "USD/gal_us"),
        ("three dollars and ninety two cents a gallon", 3.92, "USD/gal_us"),
        ("a buck fifty a gallon", 1.50, "USD/gal_us"),
        ("four nineteen nine a gallon", 4.199, "USD/gal_us"),
        ("$4 a gallon", 4, "USD/gal_us"),
        ("1.64 a litre", 1.64, "USD/L"),
    ],
)
def test_money(text: str, value: float, unit: str) -> None:
    quantity = only(text)
    assert (quantity.value, quantity.unit) == (pytest.approx(value), unit)
    assert quantity.dimension == ("unit_price" if "/" in unit else "money")


def test_a_decimal_after_a_volume_and_at_is_its_price() -> None:
    volume, price = read_quantities("Brimmed it, 40.1 litres at 1.64", locale=EU)
    assert (volume.value, volume.unit) == (40.1, "L")
    assert (price.value, price.unit) == (1.64, "EUR/L")


def test_a_count_may_hide_in_a_sum() -> None:
    """ "ordered three seventy three dollars": 373 dollars, or three for 73; both are given."""
    quantity = only("so i ordered three seventy three dollars and fifty cents all in")
    assert quantity.value == 373.5
    assert quantity.alternatives[0][0] == 73.5


def test_a_corrected_value_keeps_the_unit_said_before_it() -> None:
    quantity = only("set the float height at fourteen mil no thirteen")
    assert (quantity.value, quantity.unit) == (13, "mm")


def test_a_corrected_unit() -> None:
    quantity = only("torqued to eighteen inch pounds no wait let me read that again foot pounds")
    assert (quantity.value, quantity.unit) == (18, "ft_lb")


def test_another_and_a_whole_one() -> None:
    texts = ("mixed another gallon", "put a whole quart in", "poured another gallon and a half in")
    assert [[(q.value, q.unit) for q in read_quantities(t)] for t in texts] == [
        [(1, "gal_us")],
        [(1, "qt_us")],
        [(1.5, "gal_us")],
    ]


def test_tolerance() -> None:
    quantity = only("thirty two psi plus or minus two")
    assert (quantity.low, quantity.high) == (30, 34)


def test_mishearings_are_less_sure() -> None:
    quantity = only("log nuts at ninety five foot pans")
    assert (quantity.value, quantity.unit) == (95, "ft_lb")
    assert quantity.alternatives[-1][1] == ""
    assert only("fifteen point one gal ins").unit == "gal_us"


@pytest.mark.parametrize(
    "text",
    ["at six in the morning", "exit forty", "day three", "i am sixty three", "a few revs on it", "a second later"],
)
def test_no_quantity(text: str) -> None:
    assert read_quantities(text) == []


def test_sizes_and_ratings_can_be_told_from_measurements() -> None:
    kinds = [
        q.number.kind for q in read_quantities("a ten millimetre socket and a 30 amp fuse at 12.4 volts") if q.number
    ]
    assert kinds == ["size", "rating", "decimal"]


def test_numbers_read_before_may_be_given() -> None:
    text = "fourteen point two gallons at three eighty nine a gallon"
    assert read_quantities(text, numbers=read_numbers(text)) == read_quantities(text)


def test_every_code_of_the_data_file_has_a_dimension_and_a_name() -> None:
    table = unit_table()
    said = {m.code for names in table.by_first.values() for name in names for m in name.meanings}
    assert all(table.dimension.get(code) for code in said)
    wanted = [
        "mi",
        "km",
        "gal_us",
        "gal_imp",
        "L",
        "ft_lb",
        "in_lb",
        "N_m",
        "psi",
        "bar",
        "kPa",
        "V",
        "A",
        "mA",
        "ohm",
        "degC",
        "degF",
        "kg",
        "g",
        "lb",
        "oz",
        "in",
        "thou",
        "mm",
        "cm",
        "qt_us",
        "pt_us",
        "pt_imp",
        "oz_fl",
        "mL",
        "cc",
        "cup",
        "s",
        "min",
        "h",
        "mph",
        "kmh",
        "mpg_us",
        "mpg_imp",
        "L_per_100km",
        "gal_us_per_h",
        "gal_imp_per_h",
        "L_per_h",
    ]
    assert set(wanted) <= set(convertible())


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [
                "a",
                "an",
                "half",
                "quarter",
                "of",
                "and",
                "one",
                "ten",
                "pounds",
                "gallons",
                "dollars",
                "cents",
                "buck",
                "fifty",
                "at",
                "psi",
                "foot",
                "inch",
                "in",
                "mil",
                "k",
                "no",
                "sorry",
                ".",
                ",",
                "$",
                "3",
                "1.5",
                "per",
            ]
        ),
        max_size=12,
    )
)
def test_any_pile_of_unit_words_is_read_without_an_error(words: list[str]) -> None:
    text = " ".join(words)
    for quantity in read_quantities(text, locale=UK):
        assert 0 <= quantity.start < quantity.end <= len(text)


def test_as_a_program() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "diary.language.quantities"],
        input="one twenty five foot pounds\n",
        capture_output=True,
        text=True,
        check=True,
    )
    row = json.loads(done.stdout)
    assert row["quantities"][0] | {"value": 125, "unit": "ft_lb", "dimension": "torque"} == row["quantities"][0]


def test_a_hundred_that_goes_on_is_no_part_of_the_unit() -> None:
    """ "Litres a hundred and thirty euros" tells a volume and a sum; "litres a hundred" alone stays economy."""
    text = "seventy eight point four litres a hundred and thirty euros"
    found = read_quantities(text, locale=EU, numbers=read_numbers(text))
    assert [(q.value, q.unit) for q in found] == [(78.4, "L"), (130, "EUR")]
    assert only("nine point two litres a hundred", EU).unit == "L_per_100km"
