"""Things in a stretch of text, found as by looking at each."""

from __future__ import annotations

from diary.language.spans import begun, met
from diary.language.types import Hit

CLAUSES = [Hit("part", "x", a, b, {}) for a, b in ((0, 5), (5, 9), (12, 20))]
HITS = [Hit("part", "x", a, b, {}) for a, b in ((0, 9), (0, 3), (4, 6), (11, 12))]


def test_those_that_begin_in_a_stretch():
    for start in range(22):
        for end in range(start, 22):
            assert list(begun(HITS, start, end)) == [h for h in HITS if start <= h.start < end]


def test_those_that_share_a_character_with_a_stretch():
    for start in range(22):
        for end in range(start + 1, 22):
            assert list(met(CLAUSES, start, end)) == [c for c in CLAUSES if c.start < end and c.end > start]
