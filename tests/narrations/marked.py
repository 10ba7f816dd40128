"""How well the records of marked talk are read (the format is that of `diary/language/markup.py`).

    python -m tests.narrations.marked FILE... [--show KIND]

Lines that start with `=` are what a clerk would write down of the note above them; they are matched as `scoring.py` matches labelled
diaries. Words are matched by braces likewise: `labelled` makes a labelled diary of a marked one.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.language.markup import MarkedDiary, MarkedNote
from diary.language.markup import read as read_marked
from tests.narrations.scoring import NUMERIC, WORDED, equal, f1, read, tally, together

TOLD = ("meter", "quantity", "value", "unit", "of", "role", "fastener", "approx")
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
            return "measures", {
                "quantity": words[1],
                "value": float(words[2]),
                "unit": words[3],
                "of": " ".join(words[4:]),
            }
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
    """The diary in the form of README.md. Economy is not marked: `final.economy` is empty and says nothing."""
    locale = dict(zip(("distance", "volume", "torque", "pressure"), diary.units, strict=False))
    diary.notes.sort(key=lambda n: n.at)
    told, still = worded(diary)
    return {
        "id": diary.name, "machine": diary.machine, "style": diary.style, "locale": locale,
        "notes": [{"at": n.at, "text": n.text} for n in diary.notes], "gold": {**gold(diary), **told},
        "final": {"open_faults": still, "economy": [], "questions": []},
    }  # fmt: skip


def worded(diary: MarkedDiary) -> tuple[dict[str, list[dict[str, Any]]], list[str]]:
    """The records that the braces mark, and what faults are open after the last note."""
    found: dict[str, list[dict[str, Any]]] = {k: [] for k in WORDED}
    faults: dict[str, dict[str, Any]] = {}
    for place, note in enumerate(diary.notes):
        for i, s in enumerate(note.stretches):
            text = note.text[s.start : s.end]
            if s.kind == "fault" and s.thread not in faults:
                faults[s.thread] = {
                    "what": text, "component": named(note, i), "where": None,
                    "opened_in_note": place, "closed_in_note": None, "came_back_in_note": None,
                }  # fmt: skip
            elif s.kind in ("closed", "ruled") and s.thread in faults:
                faults[s.thread]["closed_in_note"] = place
                faults[s.thread]["ruled_out"] = s.kind == "ruled"
            elif s.kind == "back" and s.thread in faults:
                faults[s.thread]["came_back_in_note"] = place
            elif s.kind == "work":
                found["work"].append({"note": place, "action": s.detail.replace("_", " "), "component": named(note, i)})
            elif s.kind == "part":
                found["parts"].append({"note": place, "name": text, "state": s.detail, "count": None, "cost": None})
            elif s.kind == "plan":
                found["plans"].append({"note": place, "what": text, "due": None})
            elif s.kind == "lesson":
                found["lessons"].append({"note": place, "what": text})
    found["faults"] = list(faults.values())
    return found, [f["what"] for f in faults.values() if _stands(f)]


def _stands(fault: dict[str, Any]) -> bool:
    """Whether a fault is open after the last note: never closed, or back since."""
    closed, back = fault["closed_in_note"], fault["came_back_in_note"]
    return closed is None or (back is not None and back > closed)


def named(note: MarkedNote, place: int) -> str:
    """The components named inside a stretch, else its whole text."""
    inner = [s for s in note.inside(place) if s.kind in ("c", "part")]
    outermost = [s for k, s in enumerate(inner) if not any(o.start <= s.start and s.end <= o.end for o in inner[:k])]
    whole = note.stretches[place]
    return " ".join(note.text[s.start : s.end] for s in outermost) or note.text[whole.start : whole.end]


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
            fields = {k: v for k, v in one.items() if k in TOLD} if isinstance(one, dict) else one
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
