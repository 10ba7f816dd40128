"""Questions asked of marked talk (models/reader/talk), answered from its marks so that answering is measured apart from reading.

`data/talk/asked.jsonl` has one question a line in the form of the narrations' README (`ask`, `answer`, `key_values`), with the
diary's name and `held`: those are counted only, their failures are not looked at. `data/talk/diaries.toml` tells what the marks do
not (prices, days of plans).
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from diary.assistant.answer import Answer
from diary.assistant.answers import ask
from diary.language.markup import read as read_marked
from diary.records.diary import Diary
from tests.assistant.gold import open_labelled
from tests.benchmarks.comparing import right
from tests.narrations.marked import labelled

DATA = Path(__file__).parent / "data" / "talk"
TALK = Path(__file__).parents[2] / "models" / "reader" / "talk"


def asked() -> list[dict[str, Any]]:
    """Every question of the file."""
    return [json.loads(line) for line in (DATA / "asked.jsonl").read_text(encoding="utf-8").splitlines()]


def diary_of(name: str, db: Path) -> Diary:
    """The diary of marked talk by its name, from its marks."""
    told = tomllib.loads((DATA / "diaries.toml").read_text(encoding="utf-8"))[name]
    marked = next(d for d in read_marked(TALK / told["file"]) if d.name == name)
    data = labelled(marked)
    for note, part, cost, count in told["paid"]:
        row = next(r for r in data["gold"]["parts"] if r["note"] == note and r["name"] == part)
        row["cost"], row["count"] = cost or None, count or None
    for note, due in told["due"]:
        for row in data["gold"]["plans"]:
            if row["note"] == note:
                row["due"] = due
    return open_labelled(data, db)


def answered(rows: list[dict[str, Any]], folder: Path) -> Iterator[tuple[dict[str, Any], Answer, bool]]:
    """Each question with its answer and whether that is right; "and ..." leans on the question before."""
    opened: dict[str, Diary] = {}
    previous: Answer | None = None
    for row in rows:
        name = row["diary"]
        if name not in opened:
            opened[name] = diary_of(name, folder / f"{name}.db")
        answer = ask(opened[name], row["ask"], previous=previous if row["ask"].lower().startswith("and ") else None)
        previous = answer
        yield row, answer, right(json.loads(json.dumps(answer.as_dict())), row)
    for diary in opened.values():
        diary.close()
