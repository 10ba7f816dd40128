"""The trip meter set to zero."""

from __future__ import annotations

import pytest

from tests.language.readers.numeric_support import cases, rows


@pytest.mark.parametrize("text", [c["text"] for c in cases("resets")], ids=lambda t: t[:50])
def test_sentences(text: str) -> None:
    assert len(rows(text, "resets")) == 1


@pytest.mark.parametrize(
    "text",
    [
        "i zeroed the trip this time",
        "put the trip back to zero",
        "trip says four eighty one because i forgot to reset it last time resetting it now",
        "and i did not forget to reset the trip this time",
        "Trip reads 1,220 and now it's back to 0.",
        "trip button held down till it went to zero",
    ],
)
def test_reset(text: str) -> None:
    assert len(rows(text, "resets")) == 1


@pytest.mark.parametrize(
    "text",
    [
        "i did not reset the trip",
        "I meant to zero the trip and forgot.",
        "i will reset the trip tomorrow",
        "reset the clock on the radio",
    ],
)
def test_no_reset(text: str) -> None:
    assert rows(text, "resets") == []


def test_a_guess_of_what_was_on_it() -> None:
    (reset,) = rows(
        "forgot to reset the trip at the pump so i reset it now, it had twenty, twenty five, call it twenty on it",
        "resets",
    )
    assert reset["before"] == 20 and reset["unit"] == "mi" and reset["approx"] is True


def test_a_trip_that_was_read_needs_no_guess() -> None:
    (reset,) = rows("brimmed it twelve gallons trip two twenty one and i reset it", "resets")
    assert reset["before"] is None
