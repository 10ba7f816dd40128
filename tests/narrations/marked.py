"""How well the numeric records of marked talk are read (the format is that of `diary/language/markup.py`).

    python -m tests.narrations.marked FILE... [--show KIND]

Lines that start with `=` are what a clerk would write down of the note above them; they are matched as `scoring.py` matches labelled
diaries.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.language.markup import MarkedDiary
from diary.language.markup import read as read_marked
from tests.narrations.scoring import NUMERIC, equal, f1, read, tally, together

TRUTH = {"true": True, "false": False}


def row(line: str) -> tuple[str, dict[str, Any]]:
    """The kind and fields of one `=` line; DiaryError where it is not written as it should be."""
    words = line.split()
    options = dict(w.split("=", 1) for w in words if "=" in w)
    words = [w for w in words if "=" not in w]
    try:
        if words[0] == "fill":
            volume = None if words[1] == "none" else float(words[1])
            brim = True if "brim" in words else False if "partial" in words else None
            fields: dict[str, Any] = {"volume": volume, "unit": words[2] if len(words) > 2 else None, "to_brim": brim}
            named = {"price_total": "price", "odometer": "odometer", "trip": "trip"}
            fields |= {name: float(options[key]) if key in options else None for name, key in named.items()}
            return "fills", fields
        if words[0] == "reading":
            return "readings", {"meter": words[1], "value": float(words[2])}
        if words[0] == "torque":
            locker = TRUTH.get(options.get("threadlocker", ""))
            return "torques", {
                "role": words[1], "value": float(words[2]), "unit": words[3], "fastener": " ".join(words[4:]), "threadlocker": locker,
            }  # fmt: skip
        if words[0] == "measure":
            return "measures", {"quantity": words[1], "value": float(words[2]), "unit": words[3], "of": " ".join(words[4:])}
    except (IndexError, ValueError) as error:
        raise DiaryError(f"'{line}' is no numeric record: {error}.") from error
    return "resets", {}


def gold(diary: MarkedDiary) -> dict[str, list[dict[str, Any]]]:
    """The numeric records of a marked diary; the odometer and trip of a fill stand among the readings too."""
    found: dict[str, list[dict[str, Any]]] = {k: [] for k in (*NUMERIC, "resets")}
    for place, note in enumerate(diary.notes):
        for line in note.numeric:
            kind, fields = row(line)
            found[kind].append({"note": place, **fields})
    for fill in found["fills"]:
        for meter in ("odometer", "trip"):
            here = [r for r in found["readings"] if r["note"] == fill["note"] and r["meter"] == meter]
            if fill[meter] is not None and not any(equal(r["value"], fill[meter]) for r in here):
                found["readings"].append({"note": fill["note"], "meter": meter, "value": fill[meter]})
    return found


def labelled(diary: MarkedDiary) -> dict[str, Any]:
    """The diary as `scoring.read` takes it."""
    locale = dict(zip(("distance", "volume", "torque", "pressure"), diary.units, strict=False))
    notes = sorted(diary.notes, key=lambda n: n.at)
    return {"notes": [{"at": n.at, "text": n.text} for n in notes], "locale": locale}


def score(paths: Iterable[Path], show: Iterable[str] = ()) -> dict[str, tuple[int, int, int]]:
    """(hits, extra, missed) of each numeric kind over the files."""
    total = {k: [0, 0, 0] for k in NUMERIC}
    for path in paths:
        for diary in read_marked(path):
            diary.notes.sort(key=lambda n: n.at)
            want = gold(diary)
            with tempfile.TemporaryDirectory() as folder:
                got = read(labelled(diary), Path(folder) / "d.db")
            for kind in NUMERIC:
                hits, extra, missed = tally(kind, got[kind], want[kind])
                for place, n in enumerate((hits, len(extra), len(missed))):
                    total[kind][place] += n
                if kind in show:
                    _tell(diary, kind, extra, missed)
    return {k: (v[0], v[1], v[2]) for k, v in total.items()}


def _tell(diary: MarkedDiary, kind: str, extra: list[Any], missed: list[Any]) -> None:
    for what, rows in (("extra", extra), ("missed", missed)):
        for one in rows:
            place = one["note"] if isinstance(one, dict) else one[0][0]
            fields = {k: v for k, v in one.items() if k in ("meter", "quantity", "value", "unit", "of", "role", "fastener", "approx")} if isinstance(one, dict) else one
            print(f"{diary.name} {kind} {what} {fields}\n      {diary.notes[place].text}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--show", action="append", default=[])
    options = parser.parse_args()
    scores = score(options.files, options.show)
    for kind, counts in scores.items():
        print(f"{kind:12} {f1(*counts):.3f}  hit {counts[0]}, extra {counts[1]}, missed {counts[2]}")
    print(f"numeric {together(scores, NUMERIC):.3f}")


if __name__ == "__main__":
    main()
