"""Talk that looks like records and is none, through the whole reader: every stage, every reader, as a note is read.

`data/whole_traps.jsonl` has a row a trap: `text`; `why` it is one; `records`, where some stand in it: exactly those may be written (fields
named are compared); `locale`. `known` says that the rules do not yet withstand it, and what they write: the test is then expected to
fail, and fails when it no longer does. `trained` says the same of the trained reader where the rules do withstand it.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from diary.language.pipeline import parse
from diary.language.reader import by_rules, completed, trained_reader
from diary.language.types import Context, Draft, Locale

TRAPS = [json.loads(line) for line in (Path(__file__).parent / "data" / "whole_traps.jsonl").read_text(encoding="utf-8").splitlines()]
NOW = datetime(2026, 5, 6, 18, 0)


def fits(draft: Draft, want: dict[str, Any]) -> bool:
    """Whether the draft is of the kind and has the fields named; a name must have the words named."""
    if draft.kind != want["kind"]:
        return False
    for field, value in want.items():
        got = draft.fields.get(field)
        if field == "kind":
            continue
        if isinstance(value, str) and field in ("component", "name", "fastener", "what"):
            if not set(value.split()) <= set(str(got).lower().split()):
                return False
        elif got != value:
            return False
    return True


def false_records(trap: dict[str, Any], trained: bool = False) -> tuple[list[tuple[str, dict[str, Any]]], list[dict[str, Any]]]:
    """Records that must not be there, and those that are missing, as the rules read it or the trained reader beside them."""
    context = Context(locale=Locale(**trap.get("locale", {})), now=NOW)
    missing, extra = list(trap.get("records", [])), []
    utterance = parse(trap["text"], context)
    drafts = by_rules(utterance, context)
    for draft in completed(utterance, context, drafts) if trained else drafts:
        want = next((w for w in missing if fits(draft, w)), None)
        if want is not None:
            missing.remove(want)
        else:
            extra.append((draft.kind, draft.fields))
    return extra, missing


def marked(trap: dict[str, Any]) -> Any:
    marks = [pytest.mark.xfail(strict=True, reason=trap["known"])] if "known" in trap else []
    return pytest.param(trap, id=trap["text"][:50], marks=marks)


def test_there_are_enough_traps() -> None:
    assert len({t["text"] for t in TRAPS}) >= 180
    assert len({t["why"] for t in TRAPS}) >= 12


@pytest.mark.parametrize("trap", [marked(t) for t in TRAPS])
def test_trap(trap: dict[str, Any]) -> None:
    assert false_records(trap) == ([], [])


@pytest.mark.skipif(trained_reader() is None, reason="no trained reader is here")
def test_the_trained_reader_writes_no_other_false_record() -> None:
    known = [t["text"] for t in TRAPS if "known" in t or "trained" in t]
    fallen = [t["text"] for t in TRAPS if false_records(t, trained=True) != ([], [])]
    assert [text for text in fallen if text not in known] == []


def test_no_figure_is_read_where_none_is() -> None:
    """No trap, known or not, makes a numeric record."""
    kinds = ("fills", "readings", "torques", "measures", "resets", "drives")
    figures = {t["text"]: [k for k, _ in false_records(t)[0] if k in kinds] for t in TRAPS}
    assert {text: found for text, found in figures.items() if found} == {}
