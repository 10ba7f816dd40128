"""Meters read off: odometer, trip, hours."""

from __future__ import annotations

from typing import Any

import pytest

from tests.language.readers.numeric_support import cases, differences, rows


@pytest.mark.parametrize("case", cases("readings"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    found = rows(case["text"], "readings", case["locale"], case["meters"])
    assert not differences(found, case["expect"]["readings"])


def test_words_and_digits_read_alike() -> None:
    spoken = rows("odometer is eighty seven four oh six", "readings")
    assert spoken == rows("Odometer is 87,406.", "readings")
    assert spoken[0]["value"] == 87406 and spoken[0]["unit"] == "mi" and spoken[0]["approx"] is False


def test_a_vague_reading_says_so() -> None:
    (reading,) = rows("odometer is somewhere around eighty eight six hundred", "readings")
    assert reading["value"] == 88600 and reading["approx"] is True


def test_the_meter_of_a_machine_that_counts_hours() -> None:
    (reading,) = rows("meter says fifteen oh three point nine", "readings", {"distance": "h"})
    assert reading["meter"] == "hours" and reading["value"] == pytest.approx(1503.9) and reading["unit"] == "h"


def test_a_corrected_reading_stands_once() -> None:
    assert [r["value"] for r in rows("odometer was 88,210, no sorry, 88,120", "readings")] == [88120]


def test_misheard_meters() -> None:
    assert [r["meter"] for r in rows("oh dominator is sixty five one oh two", "readings")] == ["odometer"]
    assert [r["meter"] for r in rows("drip meter says two forty one point six", "readings")] == ["trip"]


def test_a_number_alone_is_the_next_odometer_only_where_it_fits() -> None:
    assert rows("ninety one four twenty one", "readings", meters={"odometer": 91400.0})[0]["value"] == 91421
    assert rows("ninety one four twenty one", "readings", meters={"odometer": 20000.0}) == []


@pytest.mark.parametrize(
    "text",
    [
        "next oil change is due at ninety two thousand",
        "the trip to town took two hours",
        "dave's odometer says ninety thousand four hundred",
    ],
)
def test_no_reading(text: str) -> None:
    assert rows(text, "readings") == []


def test_a_day_after_till_does_not_put_the_reading_off() -> None:
    (found,) = rows("have to be careful till friday odometer one thirty eight four ten", "readings")
    assert found["value"] == 138410
    assert rows("the oil is good till odometer one thirty eight four ten", "readings") == []


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("Rolled the bus out of storage today, 61,482 miles. Charger on the house batteries.", 61482),
        ("First outing after the winter, 84,215 miles. It started at once.", 84215),
        ("Mileage is 287,115. Now what is wrong with her.", 287115),
        ("time to get the tow rig ready ninety eight thousand four hundred forty on it i walked around it with a coffee", 98440),
        ("she is silver and she has one four two six oh seven miles and the list is long", 142607),
    ],
)
def test_the_first_reading_of_a_diary(text: str, value: float) -> None:
    assert [r["value"] for r in rows(text, "readings") if r["meter"] == "odometer"] == [value]


def test_hours_in_one_breath_with_the_miles() -> None:
    found = rows("New season. Quad's at 3,118 miles and 402.6 hours. The winch pays out.", "readings")
    assert [(r["meter"], r["value"]) for r in found] == [("odometer", 3118), ("hours", 402.6)]


def test_the_hour_meter_on_an_engine_is_no_instrument_on_a_part() -> None:
    found = rows("the hour meter on the outboard reads six hundred and eighteen point four", "readings", {"distance": "h"})
    assert [(r["meter"], r["value"]) for r in found] == [("hours", 618.4)]
