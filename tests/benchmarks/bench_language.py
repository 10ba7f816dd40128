"""Time of each stage of reading, a note at a time and with growing length: bench_language.py FOLDER d1 d2 ...

FOLDER holds labelled diaries (`d1.json` ...). Prints milliseconds a note by stage, then seconds for one, two and four
times all notes as one text: the figures should double, not quadruple.
"""

from __future__ import annotations

import argparse
import json
import time
from datetime import datetime
from pathlib import Path

from diary.language import clauses, pipeline
from diary.language.types import Context, Utterance


def timed(text: str, context: Context) -> dict[str, float]:
    """Seconds by stage."""
    utterance = Utterance(text, context.now)
    spent: dict[str, float] = {}
    for name, stage in pipeline.STAGES:
        begun = time.perf_counter()
        stage(utterance, context)
        spent[name] = time.perf_counter() - begun
    begun = time.perf_counter()
    for clause in utterance.clauses:
        clauses.components(utterance, clause)
    return {**spent, "components": time.perf_counter() - begun}


def main() -> None:
    """Print the tables."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("folder", type=Path)
    ask.add_argument("diaries", nargs="+")
    options = ask.parse_args()
    notes = [
        str(note["text"])
        for name in options.diaries
        for note in json.loads((options.folder / f"{name}.json").read_text(encoding="utf-8"))["notes"]
    ]
    context = Context(now=datetime(2026, 5, 1))
    timed(notes[0], context)  # the data files are read once
    totals: dict[str, float] = {}
    for note in notes:
        for stage, seconds in timed(note, context).items():
            totals[stage] = totals.get(stage, 0.0) + seconds
    words = sum(len(note.split()) for note in notes)
    print(f"{len(notes)} notes, {words / len(notes):.0f} words each")
    for stage, seconds in [*totals.items(), ("together", sum(totals.values()))]:
        print(f"{stage:18} {seconds / len(notes) * 1000:6.2f} ms a note")
    for times in (1, 2, 4):
        text = " ".join(notes * times)
        print(f"{len(text.split()):6} words at once {sum(timed(text, context).values()):6.2f} s")


if __name__ == "__main__":
    main()
