"""Questions in many people's words: floors under how many are answered rightly, and no figure where none can be worked out.

What each is answered from are the labels of tests/narrations; see `asking.py`. The held half is measured by hand
(tests/benchmarks/bench_asked.py --held) and has only a low floor here, so that nobody tunes on it by accident.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.assistant.asking import answered, asked, figures, right, understood

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
