"""How well the labelled diaries are read must not fall. The floors stand a little below what was measured; raise them as it rises."""

from __future__ import annotations

import pytest

from diary.language import reader
from diary.language.markup import read
from diary.language.reader import trained_reader
from tests.narrations.marked import labelled
from tests.narrations.scoring import HERE, NUMERIC, WORDED, f1, score, score_all, together

TALK = HERE.parents[1] / "models" / "reader" / "talk"


@pytest.fixture(scope="module")
def scores() -> dict[str, tuple[int, int, int]]:
    return score(sorted(HERE.glob("[a-z]*.json")))


def test_numbers(scores: dict[str, tuple[int, int, int]]) -> None:
    assert together(scores, NUMERIC) >= 0.93


def test_words(scores: dict[str, tuple[int, int, int]]) -> None:
    assert together(scores, WORDED) >= 0.80


def test_economy(scores: dict[str, tuple[int, int, int]]) -> None:
    assert f1(*scores["economy"]) >= 0.95


@pytest.mark.skipif(trained_reader() is None, reason="no trained reader is here")
def test_talk_that_nothing_was_trained_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """The trained reader must be worth its weight where it counts: clearly better than the rules alone on talk neither has seen."""
    unseen = [labelled(d) for path in sorted(TALK.glob("unseen_*.txt"))[:4] for d in read(path)]
    both = together(score_all(unseen), WORDED)
    monkeypatch.setattr(reader, "completed", lambda utterance, context, drafts: drafts)
    rules = together(score_all(unseen), WORDED)
    assert both >= 0.71 and both >= rules + 0.12


def test_the_scorer_tells_a_wrong_reading_from_a_right_one() -> None:
    """A check of the check: arithmetic of F1, and a figure that is off is an extra and a miss."""
    from tests.narrations.scoring import tally

    want = [{"note": 0, "meter": "odometer", "value": 87406.0}]
    assert tally("readings", [dict(want[0])], want)[0] == 1
    hits, extra, missed = tally("readings", [{**want[0], "value": 88406.0}], want)
    assert (hits, len(extra), len(missed)) == (0, 1, 1) and f1(hits, 1, 1) == 0
    assert f1(3, 1, 1) == 0.75
