"""Numbers that are no records: streets, ages, lunches, other people's machines, plans, denials, limits, sizes, hearsay.

Every line of `numeric_traps.jsonl` must leave the numeric readers silent.
"""

from __future__ import annotations

import json

import pytest

from tests.language.readers.numeric_support import HERE, drafts

TRAPS = [json.loads(line) for line in (HERE / "numeric_traps.jsonl").read_text().splitlines()]


def test_there_are_enough_traps() -> None:
    assert len(TRAPS) >= 150


@pytest.mark.parametrize("trap", TRAPS, ids=lambda t: t["text"][:50])
def test_trap(trap: dict[str, str]) -> None:
    assert [(d.kind, d.fields) for d in drafts(trap["text"])] == []
