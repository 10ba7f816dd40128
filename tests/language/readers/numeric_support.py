"""What the tests of the numeric readers share: reading a sentence, and holding drafts against what is expected."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from diary.language.pipeline import parse_light
from diary.language.readers import drives, fills, measures, readings, resets, torques
from diary.language.types import Context, Draft, Locale

HERE = Path(__file__).parent
NOW = datetime(2026, 5, 4, 18, 0)
READERS = (resets, fills, readings, torques, measures, drives)


def context(locale: dict[str, str] | None = None, meters: dict[str, float] | None = None) -> Context:
    """A context with the units and the last meter readings given."""
    return Context(locale=Locale(**(locale or {})), now=NOW, meters={k: (v, NOW) for k, v in (meters or {}).items()})


def drafts(text: str, locale: dict[str, str] | None = None, meters: dict[str, float] | None = None) -> list[Draft]:
    """The numeric readers' drafts of `text`, in the order of the readers."""
    ctx = context(locale, meters)
    utterance = parse_light(text, ctx)
    found: list[Draft] = []
    for reader in READERS:
        found.extend(reader.read(utterance, ctx, found))
    return found


def rows(
    text: str, kind: str, locale: dict[str, str] | None = None, meters: dict[str, float] | None = None
) -> list[dict[str, Any]]:
    """The fields of the drafts of one kind."""
    return [d.fields for d in drafts(text, locale, meters) if d.kind == kind]


def cases(kind: str) -> list[dict[str, Any]]:
    """The sentences of `numeric_cases.jsonl` that expect something of the kind."""
    lines = (HERE / "numeric_cases.jsonl").read_text().splitlines()
    return [case for case in map(json.loads, lines) if kind in case["expect"]]


def differences(found: list[dict[str, Any]], wanted: list[dict[str, Any]]) -> str:
    """Empty where each wanted row is there once with the fields it names and nothing else is; else what differs."""
    left = list(found)
    missed = []
    for want in wanted:
        match = next((row for row in left if _same(row, want)), None)
        if match is None:
            missed.append(want)
        else:
            left.remove(match)
    return f"missed {missed}, extra {left}" if missed or left else ""


def _same(row: dict[str, Any], want: dict[str, Any]) -> bool:
    return all(_equal(key, row.get(key), value) for key, value in want.items())


def _equal(key: str, got: Any, want: Any) -> bool:
    if isinstance(want, bool) or want is None or got is None:
        return got is want
    if isinstance(want, (int, float)):
        return isinstance(got, (int, float)) and abs(got - want) < 1e-6 * max(1.0, abs(want))
    if key == "fastener":
        return set(want.split()) <= set(str(got).split())
    return bool(got == want)
