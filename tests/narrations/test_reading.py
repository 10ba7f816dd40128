"""How well the labelled diaries are read must not fall. The floors stand a little below what was measured; raise them as it rises."""

from __future__ import annotations

import pytest

from tests.narrations.scoring import HERE, NUMERIC, WORDED, f1, score, together


@pytest.fixture(scope="module")
def scores() -> dict[str, tuple[int, int, int]]:
    return score(sorted(HERE.glob("[a-z]*.json")))


def test_numbers(scores: dict[str, tuple[int, int, int]]) -> None:
    assert together(scores, NUMERIC) >= 0.93


def test_words(scores: dict[str, tuple[int, int, int]]) -> None:
    assert together(scores, WORDED) >= 0.80


def test_economy(scores: dict[str, tuple[int, int, int]]) -> None:
    assert f1(*scores["economy"]) >= 0.95


def test_the_scorer_tells_a_wrong_reading_from_a_right_one() -> None:
    """A check of the check: arithmetic of F1, and a figure that is off is an extra and a miss."""
    from tests.narrations.scoring import tally

    want = [{"note": 0, "meter": "odometer", "value": 87406.0}]
    assert tally("readings", [dict(want[0])], want)[0] == 1
    hits, extra, missed = tally("readings", [{**want[0], "value": 88406.0}], want)
    assert (hits, len(extra), len(missed)) == (0, 1, 1) and f1(hits, 1, 1) == 0
    assert f1(3, 1, 1) == 0.75
