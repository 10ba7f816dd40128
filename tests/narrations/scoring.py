"""How well a labelled diary is read: each kind's hits, extras and misses, by the rules of README.md.

    python -m tests.narrations.scoring [FOLDER] [--show KIND]

Words are compared by their stems: half of the shorter name's words must be in the other. Numbers must be equal.
"""

from __future__ import annotations

import argparse
import json
import re
import tempfile
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from diary.assistant.checks import check_entry
from diary.records.diary import Diary
from diary.records.exporting import document
from diary.records.machine import machine_from
from diary.units import convert, dimension

HERE = Path(__file__).parent
NUMERIC = ("fills", "readings", "torques", "measures")
WORDED = ("parts", "faults", "work", "plans", "lessons")
SMALL = frozenset(["a", "an", "the", "of", "on", "in", "at", "to", "for", "and", "or", "with", "my", "is", "it", "its", "was", "that", "this", "from", "by", "up", "off", "out", "new"])
SAME_DEED = [
    {"replaced", "renewed", "changed"}, {"fitted", "installed", "added", "mounted"}, {"removed", "pulled"},
    {"cleaned", "washed", "flushed"}, {"tightened", "torqued", "snugged"}, {"adjusted", "set", "aligned"},
    {"checked", "inspected", "tested", "measured"}, {"drained", "emptied"}, {"topped up", "refilled", "filled"},
    {"repaired", "fixed", "patched", "welded", "soldered"},
]  # fmt: skip


def read(labelled: dict[str, Any], path: Path) -> dict[str, Any]:
    """The export of a labelled diary's notes, with each note's id replaced by its place."""
    last = datetime.fromisoformat(labelled["notes"][-1]["at"])
    diary = Diary.open(path, now=lambda: last)
    diary.set_machine(machine_from({"name": "machine", **{k: v for k, v in labelled["locale"].items() if v}}))
    for note in labelled["notes"]:
        check_entry(diary, diary.add_note(note["text"], note["at"]))
    whole = document(diary)
    diary.close()
    place = {n["id"]: i for i, n in enumerate(whole["notes"])}

    def placed(row: dict[str, Any]) -> dict[str, Any]:
        return {k: place.get(v, v) if isinstance(v, str) and (k.endswith("note")) else v for k, v in row.items()}

    return {k: [placed(r) for r in v] if isinstance(v, list) else v for k, v in whole.items()}


def _stem(word: str) -> str:
    for end in ("ing", "ies", "es", "ed", "s", "y"):
        if word.endswith(end) and len(word) - len(end) >= 3:
            return word[: -len(end)]
    return word


def stems(text: str | None) -> set[str]:
    """The stems of the words that carry meaning."""
    found = re.findall(r"[a-z0-9]+", (text or "").lower().replace("tyre", "tire"))
    return {_stem(w) for w in found if w not in SMALL}


def alike(a: str | None, b: str | None, least: float = 0.5) -> bool:
    """Whether enough of the shorter text's words are in the other."""
    x, y = stems(a), stems(b)
    return bool(x and y) and len(x & y) / min(len(x), len(y)) >= least


def equal(a: float | None, b: float | None) -> bool:
    """Whether two figures are the same to a thousandth."""
    return a is b if a is None or b is None else abs(a - b) <= max(abs(b) * 0.001, 0.0051)


def _deed(word: str) -> frozenset[str]:
    word = (word or "").lower()
    return next((frozenset(s) for s in SAME_DEED if word in s or word.split(" ")[0] in s), frozenset([word]))


def _whole(fault: dict[str, Any]) -> str:
    return " ".join(str(fault.get(k) or "") for k in ("what", "component", "where"))


def _measured(got: dict[str, Any], want: dict[str, Any]) -> bool:
    if got["value"] is None or dimension(got["unit"]) != dimension(want["unit"]):
        return False
    value = got["value"] if got["unit"] == want["unit"] else convert(got["value"], got["unit"], want["unit"])
    return abs(value - want["value"]) <= abs(want["value"]) * 0.002


FITS: dict[str, Callable[[dict[str, Any], dict[str, Any]], bool]] = {
    "readings": lambda g, w: g["meter"] == w["meter"] and equal(g["value"], w["value"]),
    "torques": lambda g, w: equal(g["value"], w["value"]) and (g["unit"], g["role"]) == (w["unit"], w["role"])
    and alike(g["fastener"], w["fastener"]),
    "measures": lambda g, w: g["quantity"] == w["quantity"] and _measured(g, w),
    "parts": lambda g, w: g["state"] == w["state"] and alike(g["name"], w["name"]),
    "work": lambda g, w: _deed(g["action"]) == _deed(w["action"]) and alike(g["component"], w["component"]),
    "plans": lambda g, w: alike(g["what"], w["what"], 0.4),
    "lessons": lambda g, w: alike(g["what"], w["what"], 0.3),
    "faults": lambda g, w: alike(_whole(g), w["what"]) or alike(_whole(g), w["component"]),
}  # fmt: skip


def tally(kind: str, got: list[dict[str, Any]], want: list[dict[str, Any]]) -> tuple[int, list[Any], list[Any]]:
    """(hits, extra, missed) of one kind in one diary."""
    if kind == "fills":
        flat = [
            {(r["note"], f): r.get(f) for r in rows for f in ("volume", "to_brim", "price_total", "odometer", "trip")
             if r.get(f) is not None} | {(r["note"], "fill"): True for r in rows}
            for rows in (got, want)
        ]  # fmt: skip
        hit = {k for k, v in flat[1].items() if k in flat[0] and (flat[0][k] is v if isinstance(v, bool) else equal(flat[0][k], v))}
        return len(hit), [x for x in flat[0].items() if x[0] not in hit], [x for x in flat[1].items() if x[0] not in hit]
    note = "opened_in_note" if kind == "faults" else "note"
    left, missed = list(got), []
    for w in want:
        found = next((g for g in left if g[note] == w[note] and FITS[kind](g, w)), None)
        if found is None:
            missed.append(w)
        else:
            left.remove(found)
    return len(want) - len(missed), left, missed


def f1(hits: int, extra: int, missed: int) -> float:
    """The harmonic mean of precision and recall."""
    return 2 * hits / max(1, 2 * hits + extra + missed)


def score(paths: Iterable[Path], show: Iterable[str] = ()) -> dict[str, tuple[int, int, int]]:
    """(hits, extra, missed) by kind, with "open faults" and "economy", over some files of labelled diaries."""
    return score_all((json.loads(path.read_text(encoding="utf-8")) for path in paths), show)


def score_all(diaries: Iterable[dict[str, Any]], show: Iterable[str] = ()) -> dict[str, tuple[int, int, int]]:
    """The same, of labelled diaries."""
    total: dict[str, list[int]] = {k: [0, 0, 0] for k in (*NUMERIC, *WORDED, "open faults", "economy")}

    def add(kind: str, counts: tuple[int, list[Any], list[Any]], name: str) -> None:
        for place, n in enumerate((counts[0], len(counts[1]), len(counts[2]))):
            total[kind][place] += n
        if kind in show:
            for what, rows in (("extra", counts[1]), ("missed", counts[2])):
                for row in rows:
                    print(name, kind, what, {k: v for k, v in row.items() if k != "events"} if isinstance(row, dict) else row)

    for labelled in diaries:
        with tempfile.TemporaryDirectory() as folder:
            got = read(labelled, Path(folder) / "d.db")
        for kind in (*NUMERIC, *WORDED):
            want, have = labelled["gold"].get(kind, []), got[kind]
            if kind == "work":  # an applied torque already says "tightened": stating it as work too is free
                torqued = {t["note"] for t in labelled["gold"]["torques"] if t["role"] == "applied"}
                want, have = ([r for r in rows if not ("tightened" in _deed(r["action"]) and r["note"] in torqued)] for rows in (want, have))
            add(kind, tally(kind, have, want), labelled["id"])
        opened = [_whole(f) for f in got["faults"] if f["state"] not in ("fixed", "proven", "ruled_out")]
        missed = []
        for want_open in labelled["final"]["open_faults"]:
            found = next((g for g in opened if alike(g, want_open, 0.4)), None)
            if found is None:
                missed.append(want_open)
            else:
                opened.remove(found)
        add("open faults", (len(labelled["final"]["open_faults"]) - len(missed), opened, missed), labelled["id"])
        spans, lost = [s["value"] for s in got["economy"]], []
        for span in labelled["final"]["economy"]:
            near = next((v for v in spans if abs(v - span["value"]) <= max(0.0051, 0.006 * span["value"])), None)
            if near is None:
                lost.append(span)
            else:
                spans.remove(near)
        add("economy", (len(labelled["final"]["economy"]) - len(lost), spans, lost), labelled["id"])
    return {k: (v[0], v[1], v[2]) for k, v in total.items()}


def together(scores: dict[str, tuple[int, int, int]], kinds: Iterable[str]) -> float:
    """F1 of some kinds taken together."""
    rows = [scores[k] for k in kinds]
    return f1(*(sum(r[i] for r in rows) for i in range(3)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("folder", nargs="?", type=Path, default=HERE)
    parser.add_argument("--show", action="append", default=[])
    options = parser.parse_args()
    scores = score(sorted(options.folder.glob("[a-z]*.json")), options.show)
    for kind, row in scores.items():
        print(f"{kind:12} {f1(*row):.3f}  hit {row[0]}, extra {row[1]}, missed {row[2]}")
    print(f"numeric {together(scores, NUMERIC):.3f}, worded {together(scores, WORDED):.3f}")


if __name__ == "__main__":
    main()
