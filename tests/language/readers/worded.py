"""What the tests of the worded readers share: read a saying with the worded readers only, compare rows as a clerk
would.

The sayings are invented, in other voices and on other machines than the demo's.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any

from diary.language.pipeline import parse_light
from diary.language.text import key
from diary.language.types import Context, Draft

HERE = Path(__file__).parent
KINDS = ("parts", "work", "plans", "lessons")
NOW = datetime(2026, 5, 14, 18, 0)  # a thursday


def drafts_of(say: str, context: Context | None = None, kinds: Iterable[str] = (*KINDS, "shots")) -> list[Draft]:
    """Drafts of the worded kinds in `say`."""
    context = context or Context(now=NOW)
    utterance = parse_light(say, context)
    drafts: list[Draft] = []
    for kind in kinds:
        drafts.extend(import_module(f"diary.language.readers.{kind}").read(utterance, context, drafts))
    return drafts


def rows(say: str, kind: str, *names: str, context: Context | None = None) -> list[tuple[Any, ...]]:
    """The fields `names` of each draft of `kind`, as plain tuples."""
    return [tuple(d.fields.get(n) for n in names) for d in drafts_of(say, context) if d.kind == kind]


def lines(name: str) -> list[dict[str, Any]]:
    """The rows of a JSON-lines file beside the tests."""
    return [json.loads(line) for line in (HERE / name).read_text(encoding="utf-8").splitlines()]


def alike(a: str, b: str, least: float = 0.5) -> bool:
    """True where half of the shorter name's words stand in the other."""
    left, right = set(key(a)), set(key(b))
    return bool(left and right) and len(left & right) / min(len(left), len(right)) >= least


def score(name: str) -> dict[str, tuple[int, int, int]]:
    """Hits, extra and missed rows of each kind over a file of labelled sayings."""
    totals = {kind: [0, 0, 0] for kind in KINDS}
    for row in lines(name):
        found = [d for d in drafts_of(row["say"]) if d.event not in ("done", "dropped")]
        for kind in KINDS:
            left = [d.fields for d in found if d.kind == kind]
            for wanted in row.get(kind, []):
                match = next((g for g in left if _fits(kind, g, wanted)), None)
                if match is None:
                    totals[kind][2] += 1
                else:
                    left.remove(match)
                    totals[kind][0] += 1
            totals[kind][1] += len(left)
    return {kind: (hit, extra, missed) for kind, (hit, extra, missed) in totals.items()}


def _fits(kind: str, got: dict[str, Any], want: dict[str, Any]) -> bool:
    if kind == "parts":
        return bool(got["state"] == want["state"]) and alike(got["name"], want["name"])
    if kind == "work":
        return bool(got["action"] == want["action"]) and alike(got["component"], want["component"])
    return alike(got["what"], want["what"], 0.4 if kind == "plans" else 0.3)


def f1(counts: Iterable[int]) -> float:
    """F1 of hits, extra, missed."""
    hit, extra, missed = counts
    return 2 * hit / max(1, 2 * hit + extra + missed)
