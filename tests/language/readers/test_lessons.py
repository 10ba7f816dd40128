"""Lessons: what the speaker will know next time. Invented sayings."""

from __future__ import annotations

import pytest

from tests.language.readers.worded import f1, rows, score


@pytest.mark.parametrize(
    ("say", "what"),
    [
        ("lesson: glue the ring first", "glue the ring first"),
        ("so the lesson is never reuse a crush washer", "never reuse a crush washer"),
        ("the lesson from this weekend is bleed it before you bolt the box up", "bleed it before you bolt the box up"),
        ("note to self label the wires before you cut them", "label the wires before you cut them"),
        ("Next time, mark the driveshaft before pulling it.", "mark the driveshaft before pulling it"),
        ("lesson of the month a hot hub is a tight bearing goodnight", "a hot hub is a tight bearing"),
    ],
)
def test_lesson(say: str, what: str) -> None:
    assert rows(say, "lessons", "what") == [(what,)]


@pytest.mark.parametrize(
    "say",
    [
        "dropped the kid at a driving lesson",
        "she has a piano lesson on tuesday",
        "note to self the key is in the coffee can",
        "next time is saturday",
        "he took swimming lessons at the lake",
    ],
)
def test_no_lesson(say: str) -> None:
    assert rows(say, "lessons", "what") == []


def test_examples_are_read() -> None:
    counts = score("worded_examples.jsonl")["lessons"]
    assert f1(counts) >= 0.9, counts
