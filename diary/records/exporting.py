"""The diary as one JSON document, or as one CSV table a kind."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

from diary.records.diary import Diary
from diary.records.kinds import KINDS, as_row
from diary.records.machine import as_row as machine_row
from diary.records.schema import FORMAT


def document(diary: Diary) -> dict[str, Any]:
    """The whole diary of its machine, as the published schema has it."""
    notes = [
        {"id": n.id, "at": n.at, "text": n.text, "source": n.source, "heard": n.heard, "audio": n.audio, "turn": n.turn}
        for n in diary.notes()
    ]
    lists = {kind: [as_row(r) for r in diary.records(kind)] for kind in KINDS}
    return {
        "format": FORMAT,
        "machine": machine_row(diary.machine),
        "notes": notes,
        **lists,
        "economy": [economy_row(s) for s in diary.economy_spans()],
    }


def economy_row(span: Any) -> dict[str, Any]:
    """One brim-to-brim span as the export has it; figures to a sensible number of digits."""
    return {
        "from_note": span.from_note, "to_note": span.to_note,
        "from_at": span.from_at.isoformat(), "to_at": span.to_at.isoformat(),
        "distance": round(span.distance, 3), "fuel": round(span.fuel, 4), "fuel_unit": span.fuel_unit,
        "value": round(span.value, 4), "unit": span.unit,
        "plus_minus": None if span.plus_minus is None else round(span.plus_minus, 4),
        "estimated": span.estimated, "flags": list(span.flags),
    }  # fmt: skip


def to_json(diary: Diary) -> str:
    """`document` as indented JSON text."""
    return json.dumps(document(diary), ensure_ascii=False, indent=1)


def to_csv(diary: Diary, folder: Path) -> list[Path]:
    """One CSV file a kind (and notes and economy) in `folder`; lists and mappings inside a cell are JSON."""
    folder.mkdir(parents=True, exist_ok=True)
    whole = document(diary)
    written = []
    for kind in ("notes", *KINDS, "economy"):
        rows = whole[kind]
        names = list(dict.fromkeys(k for r in rows for k in r))
        buffer = io.StringIO()
        writer = csv.DictWriter(buffer, names)
        writer.writeheader()
        for row in rows:
            writer.writerow({k: json.dumps(v, ensure_ascii=False) if isinstance(v, list | dict) else v for k, v in row.items()})
        path = folder / f"{kind}.csv"
        path.write_text(buffer.getvalue(), encoding="utf-8")
        written.append(path)
    return written
