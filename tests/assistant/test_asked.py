"""Questions in many people's words: floors under how many are answered rightly, and no figure where none can be worked out.

What each is answered from are the labels of tests/narrations; see `asking.py`. The held half is measured by hand
(tests/benchmarks/bench_asked.py --held) and has only a low floor here, so that nobody tunes on it by accident.
"""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diary.assistant.answers import ask
from diary.records.diary import Diary
from tests.assistant.asking import answered, asked, figures, narration, right, understood
from tests.assistant.gold import open_gold

FLOORS = {False: 0.92, True: 0.6}
CALCULATORS = ("rollover", "gauge", "balance", "ballast", "due", "interval", "cost", "range", "odometer")


def test_every_calculator_has_a_spoken_family() -> None:
    counts = Counter(row["family"] for row in asked())
    assert all(counts[name] >= 12 for name in CALCULATORS), counts


@pytest.mark.parametrize("held", [False, True])
def test_questions_in_other_peoples_words(held: bool, tmp_path: Path) -> None:
    rows = [r for r in asked() if r["held"] is held]
    good = 0
    invented = []
    for row, answer in answered(rows, tmp_path):
        good += right(answer, row["want"])
        if row["want"] == {"cannot": True} and answer.certain and answer.values and understood(answer):
            invented.append((row["ask"], answer.answer, figures(answer)))
    assert good >= FLOORS[held] * len(rows), f"{good} of {len(rows)}"
    if not held:
        assert not invented, invented


WORDS = sorted({w for row in asked() for w in row["ask"].split()} | {"9/2-9/11", "30/2", "99/99", "1/2", "$", "?", "-"})


@pytest.fixture(scope="module")
def diaries(tmp_path_factory: pytest.TempPathFactory) -> list[Diary]:
    folder = tmp_path_factory.mktemp("any")
    empty = Diary.open(folder / "empty.db", now=lambda: datetime(2026, 5, 1))
    return [empty, open_gold(narration("v2"), folder / "v2.db")[0]]


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=st.lists(st.sampled_from(WORDS), min_size=1, max_size=12), lean=st.booleans())
def test_any_words_get_a_sentence(diaries: list[Diary], words: list[str], lean: bool) -> None:
    """Nothing that is said ends in an error: found was "since the", whose window ran past its words."""
    for diary in diaries:
        before = ask(diary, "what did i spend on gas") if lean else None
        answer = ask(diary, " ".join(words), previous=before)
        assert answer.answer.strip()
        assert set(answer.as_dict()) == {"answer", "values", "records", "certain"}


@pytest.mark.parametrize("text", ["since the", "from the", "and", "what about", "9/2-9/11", "between and", "?", ""])
def test_broken_off_questions(diaries: list[Diary], text: str) -> None:
    for diary in diaries:
        assert ask(diary, text).answer.strip()
