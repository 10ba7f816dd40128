"""Talk that makes no part, work, plan, lesson or shot: negations, conditions, other people's machines, prices
asked, chatter.
"""

from __future__ import annotations

from tests.language.readers.worded import drafts_of, lines


def test_no_trap_makes_a_record() -> None:
    traps = lines("worded_traps.jsonl")
    assert len(traps) >= 100
    false = {row["say"]: [(d.kind, d.fields) for d in found] for row in traps if (found := drafts_of(row["say"]))}
    assert not false
