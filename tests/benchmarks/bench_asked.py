"""How many questions of tests/assistant/data/asked.jsonl are answered: bench_asked.py [--held] [--show] [FAMILY...].

Without --held only those that may be looked at. Of the held ones only counts are printed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.assistant.asking import answered, asked, right, understood


def main() -> None:
    args = argparse.ArgumentParser()
    args.add_argument("families", nargs="*")
    args.add_argument("--held", action="store_true")
    args.add_argument("--show", action="store_true", help="every answer, not only the wrong ones")
    given = args.parse_args()
    rows = [r for r in asked() if r["held"] is given.held and (not given.families or r["family"] in given.families)]
    good: Counter[str] = Counter()
    total: Counter[str] = Counter()
    puzzled = 0
    with tempfile.TemporaryDirectory() as folder:
        for row, answer in answered(rows, Path(folder)):
            ok = right(answer, row["want"])
            good[row["family"]] += ok
            total[row["family"]] += 1
            puzzled += not understood(answer)
            if not given.held and (given.show or not ok):
                after = f" (after: {row['follows']})" if "follows" in row else ""
                print(f"{'  ok ' if ok else 'WRONG'} {row['diary']} {row['family']}: {row['ask']}{after}")
                print(f"      want {row['want']}")
                family = answer.query.family if answer.query else "?"
                print(f"      got  [{family}]{'' if answer.certain else ' (uncertain)'} {answer.answer}")
    for family in total:
        print(f"{good[family]:3}/{total[family]:<3} {family}")
    every = sum(total.values())
    print(f"{sum(good.values())}/{every} = {sum(good.values()) / max(1, every):.3f}; {puzzled} not understood")


if __name__ == "__main__":
    main()
