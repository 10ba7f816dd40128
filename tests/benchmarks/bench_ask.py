"""How many questions of labelled narrations are answered, and how fast: bench_ask.py FOLDER [--read] [NAME...].

Without --read the records are the narrations' own labels, so that answering is measured apart from reading; with it
they are
read from the text. A question counts as right by the rule of the narrations' score: every key value among the numbers
of the
answer (0.6 %), or, where there is none, half of the expected words, or an honest "not certain" where the honest
answer is a no.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "assistant"))

from comparing import right
from gold import open_gold

from diary.assistant.answers import ask
from diary.records.diary import Diary
from diary.records.machine import Machine


def read_diary(path: Path, db: Path) -> tuple[Diary, dict[str, Any]]:
    data = json.loads(path.read_text())
    now = datetime.fromisoformat(data["notes"][-1]["at"])
    diary = Diary.open(db, now=lambda: now)
    diary.set_machine(Machine(**{k: data["locale"][k] for k in ("distance", "volume", "torque", "pressure")}))
    for note in data["notes"]:
        diary.add_note(note["text"], note["at"])
    return diary, data


def main() -> None:
    args = argparse.ArgumentParser()
    args.add_argument("folder", type=Path)
    args.add_argument("names", nargs="*")
    args.add_argument("--read", action="store_true")
    args.add_argument("--show", action="store_true", help="every answer, not only the wrong ones")
    given = args.parse_args()
    good = total = 0
    spent: list[float] = []
    for path in sorted(given.folder.glob("*.json")):
        if given.names and path.stem not in given.names:
            continue
        with tempfile.TemporaryDirectory() as scratch:
            diary, data = (read_diary if given.read else open_gold)(path, Path(scratch) / "d.db")
            previous = None
            for question in data["final"]["questions"]:
                start = time.perf_counter()
                answer = ask(
                    diary, question["ask"], previous=previous if question["ask"].lower().startswith("and ") else None
                )
                spent.append(time.perf_counter() - start)
                previous = answer
                ok = right(json.loads(json.dumps(answer.as_dict())), question)
                good, total = good + ok, total + 1
                if not ok or given.show:
                    family = answer.query.family if answer.query else "?"
                    print(
                        f"{'  ok ' if ok else 'WRONG'} {path.stem} {question['ask']}\n      want "
                        f"{question['answer']} {question['key_values']}"
                    )
                    print(f"      got  [{family}] {answer.answer}")
            diary.close()
    spent.sort()
    print(
        f"{good}/{total} = {good / max(1, total):.3f}; median {spent[len(spent) // 2] * 1e3:.1f} "
        f"ms, most {spent[-1] * 1e3:.1f} ms"
    )


if __name__ == "__main__":
    main()
