"""Questions in many people's words against labelled diaries, and whether an answer to one is right.

`data/asked.jsonl` has one question a line: `diary` (a narration of tests/narrations, or d1 here), `family`, `ask`, and where needed
`follows` (the question asked just before it) and `machine` (facts of the machine that the diary does not tell). `held` marks the half
that is measured and never tuned on. `want` says what must hold, worked out by hand from the diary's labels:

    values    every one of these figures is in the answer (0.6 %)
    between   a figure between these two is in it
    date      this day is named          has / lacks   words in it / not in it ("a|b": either)
    no        the answer is a no         approx        a figure, said to be about
    cannot    an honest "can't be worked out": understood, not certain, and no figure given but beside a "can't"
    any       one of several of the above
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer
from diary.assistant.answers import ask
from diary.records.diary import Diary
from tests.assistant.gold import open_gold

HERE = Path(__file__).parent
NARRATIONS = HERE.parent / "narrations"


def asked() -> list[dict[str, Any]]:
    """Every question of the file."""
    return [json.loads(line) for line in (HERE / "data" / "asked.jsonl").read_text().splitlines()]


def narration(name: str) -> Path:
    """The file of a diary by name."""
    own = HERE / "data" / f"{name}.json"
    return own if own.exists() else NARRATIONS / f"{name}.json"


def answered(rows: list[dict[str, Any]], folder: Path) -> Iterator[tuple[dict[str, Any], Answer]]:
    """Each question with its answer, from the labelled records of its diary."""
    opened: dict[str, Diary] = {}
    for row in rows:
        key = row["diary"]
        if key not in opened:
            opened[key], _ = open_gold(narration(key), folder / f"{key}.db")
        diary = opened[key]
        plain = diary.machine
        if row.get("machine"):
            diary.set_machine(replace(plain, **row["machine"]))
        before = ask(diary, row["follows"]) if "follows" in row else None
        yield row, ask(diary, row["ask"], previous=before)
        if row.get("machine"):
            diary.set_machine(plain)
    for diary in opened.values():
        diary.close()


def figures(answer: Answer) -> list[float]:
    """Every figure of an answer: its values, and the digits in its words."""
    told = [float(v["value"]) for v in answer.values if isinstance(v["value"], int | float)]
    return told + [float(x.replace(",", "")) for x in re.findall(r"\d[\d,]*\.?\d*", answer.answer) if x.strip(",.")]


def right(answer: Answer, want: dict[str, Any]) -> bool:
    """Whether an answer holds what is wanted of it."""
    if "any" in want and not any(right(answer, one) for one in want["any"]):
        return False
    text = answer.answer.lower()
    numbers = figures(answer)
    if any(not any(abs(n - v) <= max(abs(v) * 0.006, 0.0051) for n in numbers) for v in want.get("values", ())):
        return False
    if "between" in want and not any(want["between"][0] <= n <= want["between"][1] for n in numbers):
        return False
    if "date" in want and spoken.day(date.fromisoformat(want["date"])).lower() not in text:
        return False
    if any(not re.search(words, text) for words in want.get("has", ())):
        return False
    if any(re.search(rf"\b(?:{words})", text) for words in want.get("lacks", ())):
        return False
    if want.get("no") and not re.search(r"\b(no|not|isn't|wasn't|still open|came back|is back)\b", text):
        return False
    if want.get("approx") and (not numbers or (answer.certain and "about" not in text)):
        return False
    if want.get("cannot"):
        return understood(answer) and not answer.certain and (not answer.values or "can't" in text)
    return True


def understood(answer: Answer) -> bool:
    """Whether the question was read, rather than answered by a choice of readings."""
    return not (answer.asks and answer.asks["for"] == "which question")
