"""Count three words in a row in workshop talk: what `diary/speech/data/talk.txt` holds.

    python models/words/train.py [FILES] [--out FILE]

FILES are marked talk (.txt; the braces and the `=` lines are dropped) and labelled diaries (.json). Without them: the
talk in models/reader/talk and the diaries of tests/narrations that may be learnt from. Terse typed notes are left out,
since nobody speaks so. Figures are spelled out ("14.2" as "fourteen point two"). The same talk gives the same file.
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path

from num2words import num2words

from diary.speech.words import START, plain

ROOT = Path(__file__).parents[2]
UNSEEN = ("v5", "v6", "t4", "s5")
"""Diaries of tests/narrations that are only measured on; so is talk in files named unseen (and known
holds the labelled diaries again)."""
TYPED = ("typed", "t")
HEAD = """\
# How often three words stand in a row in workshop talk of our own: count, first, second, third; <s> is the start of a note.
# Made by models/words/train.py, which says from what.
"""
_MARK = re.compile(r"\{[a-z]+(?:\.[a-z_]+)?(?:#[\w-]+)?\s+|\}")
_FIGURE = re.compile(r"\d+(?:\.\d+)?")


def notes(path: Path) -> Iterator[str]:
    """The notes of a file that were spoken."""
    if path.suffix == ".json":
        diary = json.loads(path.read_text("utf-8"))
        if not path.stem.startswith(TYPED[1]):
            yield from (note["text"] for note in diary["notes"])
        return
    spoken, lines = True, []
    for line in [*path.read_text("utf-8").splitlines(), "---"]:
        if line.startswith(("===", "---", "=")):
            if lines and spoken:
                yield _MARK.sub("", " ".join(lines))
            lines = []
            if line.startswith("==="):
                spoken = TYPED[0] not in line.split("|")[2] if line.count("|") >= 2 else True
        else:
            lines.append(line.strip())


def spelled(text: str) -> str:
    """Figures as words."""
    text = re.sub(r"(?<=\d),(?=\d{3})", "", text)
    return _FIGURE.sub(lambda m: f" {num2words(float(m[0]) if '.' in m[0] else int(m[0]))} ", text).replace("-", " ")


def counted(texts: Iterable[str]) -> Counter[tuple[str, str, str]]:
    """Three words in a row."""
    counts: Counter[tuple[str, str, str]] = Counter()
    for text in texts:
        row = [START, START, *plain(spelled(text.replace("\u2019", "'")))]
        counts.update(zip(row, row[1:], row[2:], strict=False))
    return counts


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--out", type=Path, default=ROOT / "diary" / "speech" / "data" / "talk.txt")
    given = parser.parse_args()
    own = [
        *(p for p in (ROOT / "models" / "reader" / "talk").glob("*.txt") if not p.stem.startswith(("unseen", "known"))),
        *(path for path in (ROOT / "tests" / "narrations").glob("*.json") if path.stem not in UNSEEN),
    ]
    counts = counted(note for path in sorted(given.files or own) for note in notes(path))
    rows = "\n".join(f"{count} {' '.join(words)}" for words, count in sorted(counts.items()))
    given.out.write_text(HEAD + rows + "\n", "utf-8")
    print(f"{sum(counts.values())} words, {len(counts)} different threes in {given.out}")


if __name__ == "__main__":
    main()
