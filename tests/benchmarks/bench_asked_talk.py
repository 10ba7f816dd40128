"""How many questions asked of marked talk are answered (tests/assistant/talk.py): bench_asked_talk.py [--held] [--show] [DIARY...].

Without --held only those that may be looked at. Of the held ones only the count is printed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.assistant.talk import answered, asked


def main() -> None:
    args = argparse.ArgumentParser()
    args.add_argument("diaries", nargs="*")
    args.add_argument("--held", action="store_true")
    args.add_argument("--show", action="store_true", help="every answer, not only the wrong ones")
    given = args.parse_args()
    rows = [r for r in asked() if r["held"] is given.held and (not given.diaries or r["diary"] in given.diaries)]
    good = 0
    with tempfile.TemporaryDirectory() as folder:
        for row, answer, ok in answered(rows, Path(folder)):
            good += ok
            if not given.held and (given.show or not ok):
                print(
                    f"{'  ok ' if ok else 'WRONG'} {row['diary']} {row['ask']}\n      want {row['answer']} {row['key_values']}"
                )
                family = answer.query.family if answer.query else "?"
                print(f"      got  [{family}]{'' if answer.certain else ' (uncertain)'} {answer.answer}")
    print(f"{good}/{len(rows)} = {good / max(1, len(rows)):.3f}")


if __name__ == "__main__":
    main()
