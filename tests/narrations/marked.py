"""Marked talk (`diary.language.markup`) as labelled diaries, so that the one scorer measures both.

    python -m tests.narrations.marked FILE... OUT_FOLDER    writes one labelled diary (README.md) for every marked one

Economy is not marked: `final.economy` is empty and says nothing.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

from diary.language.markup import MarkedDiary, MarkedNote, Stretch, read

UNITS = ("distance", "volume", "torque", "pressure")
METER_UNITS = {"odometer": None, "trip": None, "hours": "h"}


def labelled(diary: MarkedDiary) -> dict[str, Any]:
    """The diary in the form of README.md."""
    gold: dict[str, list[dict[str, Any]]] = {
        k: [] for k in ("fills", "readings", "torques", "measures", "parts", "faults", "work", "plans", "lessons")
    }
    faults: dict[str, dict[str, Any]] = {}
    locale = {k: v for k, v in zip(UNITS, diary.units, strict=False)}
    for place, note in enumerate(diary.notes):
        for i, s in enumerate(note.stretches):
            _worded(gold, faults, note, i, s, place)
        for line in note.numeric:
            _numeric(gold, line, place, locale)
    gold["faults"] = list(faults.values())
    still = [f for f in faults.values() if f["closed_in_note"] is None or (f["came_back_in_note"] or -1) > f["closed_in_note"]]
    return {
        "id": diary.name, "machine": diary.machine, "style": diary.style, "locale": locale,
        "notes": [{"at": n.at, "text": n.text} for n in diary.notes], "gold": gold,
        "final": {"open_faults": [f["what"] for f in still], "economy": [], "questions": []},
    }  # fmt: skip


def named(note: MarkedNote, place: int) -> str:
    """The components named inside a stretch, else its whole text."""
    inner = [s for s in note.inside(place) if s.kind in ("c", "part")]
    outermost = [s for k, s in enumerate(inner) if not any(o.start <= s.start and s.end <= o.end for o in inner[:k])]
    whole = note.stretches[place]
    return " ".join(note.text[s.start : s.end] for s in outermost) or note.text[whole.start : whole.end]


def _worded(gold: dict[str, Any], faults: dict[str, Any], note: MarkedNote, i: int, s: Stretch, place: int) -> None:
    text = note.text[s.start : s.end]
    if s.kind == "fault" and s.thread not in faults:
        faults[s.thread] = {
            "what": text, "component": named(note, i), "where": None,
            "opened_in_note": place, "closed_in_note": None, "came_back_in_note": None,
        }  # fmt: skip
    elif s.kind in ("closed", "ruled") and s.thread in faults:
        faults[s.thread]["closed_in_note"] = place
    elif s.kind == "back" and s.thread in faults:
        faults[s.thread]["came_back_in_note"] = place
    elif s.kind == "work":
        gold["work"].append({"note": place, "action": s.detail.replace("_", " "), "component": named(note, i)})
    elif s.kind == "part":
        gold["parts"].append({"note": place, "name": text, "state": s.detail, "count": None, "cost": None})
    elif s.kind == "plan":
        gold["plans"].append({"note": place, "what": text, "due": None})
    elif s.kind == "lesson":
        gold["lessons"].append({"note": place, "what": text})


def _number(word: str) -> float | None:
    try:
        return float(word.replace(",", ""))
    except ValueError:
        return None


def _numeric(gold: dict[str, Any], line: str, place: int, locale: dict[str, str]) -> None:
    kind, *rest = line.split()
    named_values = dict(w.split("=", 1) for w in rest if re.match(r"\w+=", w))
    plain = [w for w in rest if not re.match(r"\w+=", w)]
    if kind == "fill":
        brim = True if "brim" in plain else False if "partial" in plain else None
        row = {
            "note": place, "volume": _number(plain[0]), "unit": plain[1] if len(plain) > 1 else None, "to_brim": brim,
            "price_total": _number(named_values.get("price", "")),
            "odometer": _number(named_values.get("odometer", "")), "trip": _number(named_values.get("trip", "")),
        }  # fmt: skip
        gold["fills"].append(row)
        for meter in ("odometer", "trip"):
            if row[meter] is not None and not any(r["note"] == place and r["meter"] == meter for r in gold["readings"]):
                gold["readings"].append({"note": place, "meter": meter, "value": row[meter], "unit": locale.get("distance"), "approx": False})
    elif kind == "reading":
        row = {"note": place, "meter": plain[0], "value": _number(plain[1]), "unit": plain[2], "approx": "approx" in plain}
        if not any(r["note"] == place and r["meter"] == plain[0] and r["value"] == row["value"] for r in gold["readings"]):
            gold["readings"].append(row)
    elif kind == "torque":
        locker = {"true": True, "false": False}.get(named_values.get("threadlocker", ""))
        gold["torques"].append({
            "note": place, "fastener": " ".join(plain[3:]), "value": _number(plain[1]), "unit": plain[2], "role": plain[0], "threadlocker": locker,
        })  # fmt: skip
    elif kind == "measure":
        gold["measures"].append({"note": place, "quantity": plain[0], "value": _number(plain[1]), "unit": plain[2], "of": " ".join(plain[3:])})


def main(arguments: list[str]) -> None:
    """Write each marked diary of the files into the folder named last."""
    *files, folder = arguments
    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    for path in files:
        for diary in read(Path(path)):
            (out / f"{diary.name}.json").write_text(json.dumps(labelled(diary), indent=1), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
