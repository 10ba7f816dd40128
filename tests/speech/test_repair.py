"""Sound-alike repair: what was heard is kept, what is read is a second text, the difference can be shown."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diary.speech.repair import repaired

NARRATIONS = Path(__file__).parents[1] / "narrations"


@pytest.mark.parametrize(
    ("heard", "read"),
    [
        ("oh dominator says 87406", "odometer says 87406"),
        ("Abominator is 87,406", "Odometer is 87,406"),
        ("the drip meter is 186.4", "the trip meter is 186.4"),
        ("blue thread walker on both", "blue threadlocker on both"),
        ("the front tires are at fifteen sides", "the front tires are at fifteen psi"),
        ("the left will seal is weeping", "the left wheel seal is weeping"),
        ("the trip was for 42.5", "the trip was four 42.5"),
        ("clamp screw three neat meters", "clamp screw three newton meters"),
        ("idles at forting point two", "idles at fourteen point two"),
        ("our meter says 64.9", "hour meter says 64.9"),
        ("burned at one point one gallons", "brimmed it one point one gallons"),
        (
            "odometer says two hundred eleven thousand four hundred. And six",
            "odometer says two hundred eleven thousand four hundred and six",
        ),
        ("bleeder screws, any inch pounds", "bleeder screws, eighty inch pounds"),
        ("cleaned it with break cleaner", "cleaned it with brake cleaner"),
        ("order to flasher relay", "ordered a flasher relay"),
        ("fifteen oh two point five one the odometer trip sixty", "fifteen oh two point five on the odometer trip sixty"),
        ("put in nine point one the odometer", "put in nine point one the odometer"),
        ("nine point four one the odometer says eighty", "nine point four one the odometer says eighty"),
    ],
)
def test_what_sounds_alike_is_read_as_what_was_meant(heard: str, read: str) -> None:
    assert repaired(heard).text == read
    assert repaired(heard).heard == heard


@pytest.mark.parametrize(
    "plain",
    [
        "I cleaned the old cylinder and put the seal back in",
        "it leaks on both sides of the rear axle",
        "checked two sides, all four sides are dry",
        "this is our meter and I will not sell it",
        "went for 20 miles",
        "we will seal it tomorrow",
        "the trip took a day, for 2 hours it rained",
        "thread lock on the tyre pressure gauge bolt, ten newton metres",
        "I drained it, two gallons came out",
        "in order to get there I let nuts and bolts be",
        "there were a hundred. And then it rained",
        "it took an hour, two bolts broke",
        "call it three sixteenths psi or so",
        "",
    ],
)
def test_plain_talk_is_left_alone(plain: str) -> None:
    assert repaired(plain).text == plain
    assert repaired(plain).changes == ()


def test_words_of_this_diary_are_known_too() -> None:
    assert repaired("the hollow bobbin stay is bent").text == "the hollow bobbin stay is bent"
    assert repaired("the hollow bobbin stay is bent", own=["halo bobbin stay"]).text == "the halo bobbin stay is bent"


@pytest.mark.parametrize(
    ("heard", "last", "read"),
    [
        ("odometer is forty forty", 1351, "odometer is fourteen forty"),
        ("thirty fifty one on the odometer", 1284, "thirteen fifty one on the odometer"),
        ("odometer says eighty seven four fourteen", 87_409, "odometer says eighty seven four fourteen"),
        ("odometer is forty forty", 4_000, "odometer is forty forty"),
        ("odometer is ninety ninety", 100, "odometer is ninety ninety"),
        ("the odometer broke and forty people laughed", 10, "the odometer broke and forty people laughed"),
        ("eighty seven four all nine on the clock", 87_406, "eighty seven four oh nine on the clock"),
        ("eighty seven four nine on the clock", 87_406, "eighty seven four oh nine on the clock"),
        ("odometer says well eighty four", 1_204, "odometer says twelve eighty four"),
        ("odometer to twenty three thousand and eighteen, zero the trip", 22_990,
         "odometer to twenty three thousand and eighteen, zero the trip"),
        ("odometer is at eighty eight five thirty one", 88_310, "odometer is at eighty eight five thirty one"),
        ("thirteen fifty one on the odometer trip sixty seven and zero", 1_284,
         "thirteen fifty one on the odometer trip sixty seven and zero"),
        ("it was for all nine of us, the odometer broke", 400, "it was for all nine of us, the odometer broke"),
    ],
)
def test_a_reading_is_heard_so_that_it_follows_the_last_one(heard: str, last: float, read: str) -> None:
    assert repaired(heard, meters={"odometer": last}).text == read


def test_the_change_is_shown_and_places_move_with_it() -> None:
    reading = repaired("the oh dominator says 87406 now")
    assert reading.shown() == '"oh dominator" read as "odometer"'
    places = [
        [0, 3, 0.0, 0.1, 0.9],
        [4, 6, 0.1, 0.2, 0.5],
        [7, 16, 0.2, 0.7, 0.4],
        [22, 27, 0.9, 2.0, 0.8],
        [28, 31, 2.0, 2.2, 0.9],
    ]
    moved = reading.move(places)
    assert [reading.text[a:b] for a, b, *_ in moved] == ["the", "odometer", "odometer", "87406", "now"]
    assert moved[1][2:] == [0.1, 0.2, 0.5]


@pytest.mark.skipif(not NARRATIONS.is_dir(), reason="the labelled narrations are not copied into the tests")
def test_correct_narrations_are_not_touched() -> None:
    """False repairs on text without mishearings: at most one change in a hundred notes.

    A typed short form ("whl nuts", without a vowel) is never heard, and is not counted.
    """
    notes = [n["text"] for f in sorted(NARRATIONS.glob("*.json")) for n in json.loads(f.read_text("utf-8"))["notes"]]
    changes = [change for text in notes for change in repaired(text).changes]
    false = [c for c in changes if all(set(word.lower()) & set("aeiouy") for word in c.heard.split())]
    assert notes
    assert len(false) <= len(notes) / 100


@pytest.mark.parametrize(
    ("heard", "read"),
    [
        ("I put the trip to zero", "I put the trip to zero"),
        ("reset the trip meter to 0 and drove off", "reset the trip meter to 0 and drove off"),
        ("trip to forty three", "trip two forty three"),
        ("there was a brake, pat said so", "there was a brake, pat said so"),
    ],
)
def test_a_meter_put_to_zero_and_words_parted_by_a_comma_are_left(heard: str, read: str) -> None:
    assert repaired(heard).text == read
