"""Footage: wanted, missed, filmed. Invented sayings."""

from __future__ import annotations

import pytest

from tests.language.readers.worded import rows


@pytest.mark.parametrize(
    ("say", "state", "shows"),
    [
        ("want to film the first start tomorrow", "wanted", "first start"),
        ("the spring shot across the shop i should have filmed that", "missed", "spring"),
        ("forgot to hit record when the mast came up", "missed", "mast"),
        ("the hub came off in one pull and i got that on camera", "filmed", "hub"),
        ("need a close up of the worn teeth", "wanted", "worn teeth"),
    ],
)
def test_shot(say: str, state: str, shows: str) -> None:
    found = rows(say, "shots", "state", "what")
    assert len(found) == 1 and found[0][0] == state and shows in found[0][1], found


@pytest.mark.parametrize(
    "say", ["he wants to film his wedding", "the film of oil on the water was thin", "people filmed the parade"]
)
def test_no_shot(say: str) -> None:
    assert rows(say, "shots", "state", "what") == []
