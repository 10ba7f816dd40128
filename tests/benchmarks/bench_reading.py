"""Reading of labelled diaries, held against their gold records without a store.

    bench_reading.py FOLDER d1 d2 ... [--show KIND] [--kinds ...]

FOLDER holds labelled diaries (`d1.json` ...) and the `score.py` that belongs to them, whose rules of likeness are used.
Prints hits, extras and misses by record kind, the F1, and the time a note takes.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import time
from collections import defaultdict
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Any

from diary.language import reader
from diary.language.types import Context, Locale

NUMERIC = ("fills", "readings", "torques", "measures")


def rules(folder: Path) -> ModuleType:
    """The functions of `score.py`, without running its main()."""
    source = (folder / "score.py").read_text().rsplit("\nmain()", 1)[0]
    spec = importlib.util.spec_from_loader("score", loader=None)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    exec(compile(source, "score.py", "exec"), module.__dict__)
    return module


def read_diary(diary: dict[str, Any]) -> tuple[dict[str, list[dict[str, Any]]], float]:
    """Rows by kind, each with its note's index, and the seconds that reading took."""
    locale = Locale(**{k: v for k, v in diary["locale"].items() if k in ("distance", "volume", "torque", "pressure")})
    context = Context(locale=locale, machine=diary["machine"])
    rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
    spent = 0.0
    for index, note in enumerate(diary["notes"]):
        context.now = datetime.fromisoformat(note["at"])
        begun = time.perf_counter()
        drafts = reader.read(note["text"], context)
        spent += time.perf_counter() - begun
        for draft in drafts:
            row = {**draft.fields, "note": index}
            rows[draft.kind].append(row)
            if draft.kind == "readings" and row.get("value") is not None:
                context.meters[row["meter"]] = (row["value"], context.now)
            elif draft.kind in ("torques", "fills"):
                getattr(context, draft.kind).append(row)
    return rows, spent


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("folder", type=Path)
    ask.add_argument("diaries", nargs="+")
    ask.add_argument("--show", action="append", default=[])
    ask.add_argument("--kinds", nargs="*", default=list(NUMERIC))
    options = ask.parse_args()
    score = rules(options.folder)
    if set(options.kinds) <= set(NUMERIC):
        reader.ORDER = ("resets", "fills", "readings", "torques", "measures", "drives")
    total: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    spent, notes = 0.0, 0
    for name in options.diaries:
        diary = json.loads((options.folder / f"{name}.json").read_text())
        rows, seconds = read_diary(diary)
        spent, notes = spent + seconds, notes + len(diary["notes"])
        torqued = {r["note"] for r in diary["gold"]["torques"] if r["role"] == "applied"}
        for kind in options.kinds:
            hit, extra, missed = score.tally(kind, rows[kind], diary["gold"].get(kind, []), torqued)
            for place, number in enumerate((hit, len(extra), len(missed))):
                total[kind][place] += number
            if kind in options.show or "all" in options.show:
                for row in extra:
                    print("extra ", name, kind, row)
                for row in missed:
                    print("missed", name, kind, row)
    everything = [sum(total[k][i] for k in options.kinds) for i in range(3)]
    for kind, (hit, extra, missed) in [*((k, total[k]) for k in options.kinds), ("together", everything)]:
        print(
            f"{kind:10s} F1 {2 * hit / max(1, 2 * hit + extra + missed):.3f}  hit {hit} extra {extra} missed {missed}"
        )
    print(f"{notes} notes, {1000 * spent / max(1, notes):.1f} ms a note")


if __name__ == "__main__":
    main()
