"""The trained reader on talk it never saw, and whether its confidences are true.

    python -m tests.benchmarks.bench_reader [FILE...]      default: models/reader/talk/unseen_*.txt

Reads marked diaries with the whole program, with and without the trained reader, and prints for each kind of record hits, extras, misses
and F1; then, for records of all kinds by the confidence they carry, how many are right.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from pathlib import Path

from diary.language import reader
from diary.language.markup import read
from tests.narrations import marked, scoring

TALK = Path(__file__).parents[2] / "models" / "reader" / "talk"
EDGES = (0.0, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 1.01)


def score(paths: list[Path], bins: dict[float, list[bool]]) -> dict[str, tuple[int, int, int]]:
    """(hits, extra, missed) by kind; fills `bins` with right or wrong by confidence."""
    total: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for path in paths:
        for diary in read(path):
            whole = marked.labelled(diary)
            with tempfile.TemporaryDirectory() as folder:
                got = scoring.read(whole, Path(folder) / "d.db")
            for kind in (*scoring.NUMERIC, *scoring.WORDED):
                want, have = whole["gold"][kind], got[kind]
                hit, extra, missed = scoring.tally(kind, have, want)
                for i, n in enumerate((hit, len(extra), len(missed))):
                    total[kind][i] += n
                if kind == "fills":
                    wrong = {x[0][0] for x in extra if x[0][1] == "volume"}
                    for row in have:
                        bins[edge(row["confidence"])].append(row["note"] not in wrong)
                else:
                    false = [id(r) for r in extra]
                    for row in have:
                        bins[edge(row["confidence"])].append(id(row) not in false)
    return {k: (v[0], v[1], v[2]) for k, v in total.items()}


def edge(confidence: float) -> float:
    """The lower edge of the bin."""
    return max(e for e in EDGES if e <= confidence)


def main() -> None:
    """Both readings and the table of reliability."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("files", nargs="*", type=Path, default=sorted(TALK.glob("unseen_*.txt")))
    options = ask.parse_args()
    bins: dict[float, list[bool]] = defaultdict(list)
    learned = score(options.files, bins)
    held, reader.completed = reader.completed, lambda utterance, context, drafts: drafts
    rules = score(options.files, defaultdict(list))
    reader.completed = held
    print("kind       rules alone          with the trained reader")
    for kind in learned:
        print(f"{kind:10s} {scoring.f1(*rules[kind]):.3f} {rules[kind]!s:16s} {scoring.f1(*learned[kind]):.3f} {learned[kind]}")
    for name, kinds in (("numeric", scoring.NUMERIC), ("worded", scoring.WORDED)):
        print(f"{name:10s} {scoring.together(rules, kinds):.3f} {'':16s} {scoring.together(learned, kinds):.3f}")
    print("said to be sure     records   right")
    for low, high in zip(EDGES, EDGES[1:], strict=False):
        if rows := bins[low]:
            print(f"{low:.2f} to {min(high, 1.0):.2f}      {len(rows):6d}   {sum(rows) / len(rows):6.1%}")


if __name__ == "__main__":
    main()
