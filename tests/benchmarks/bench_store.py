"""How the store holds up with ten years of diary: python tests/benchmarks/bench_store.py [NOTES]

Notes with given drafts (no reading), so that the time is the store's own.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path

from diary.language.types import Draft
from diary.records.diary import Diary


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    with tempfile.TemporaryDirectory() as folder:
        begin = datetime(2016, 1, 1, 8)
        diary = Diary.open(Path(folder) / "d.db", now=lambda: begin, read=lambda t, c: [])
        t = time.perf_counter()
        marks = []
        for n in range(count):
            at = begin + timedelta(hours=4.38 * n)
            drafts = [Draft("measures", {"quantity": "voltage", "value": 12.0 + n % 9 / 10, "unit": "V"}, 0, 4)]
            if n % 20 == 0:
                meter = 60_000.0 + n
                drafts += [
                    Draft("fills", {"volume": 12.0, "unit": "gal_us", "to_brim": True, "odometer": meter}, 0, 4),
                    Draft("readings", {"meter": "odometer", "value": meter, "unit": "mi"}, 0, 4),
                ]
            if n % 15 == 0:
                drafts.append(Draft("faults", {"what": f"seal {n} weeps", "component": f"seal {n}"}, 0, 4, event="found"))
                if n % 30:
                    drafts.append(Draft("faults", {"component": "seal"}, 0, 4, event="fixed", thread=f"#{len(drafts) - 1}"))
            diary.add_note(f"note {n} about the seal", at, drafts=drafts)
            if n in (count // 10, count - 1):
                marks.append((n, time.perf_counter() - t))
        for n, spent in marks:
            print(f"{n + 1:6} notes kept in {spent:6.1f} s, {spent / (n + 1) * 1000:.2f} ms a note")
        diary.close()
        t = time.perf_counter()
        again = Diary.open(Path(folder) / "d.db", now=lambda: begin + timedelta(days=3650))
        print(f"opened in {(time.perf_counter() - t) * 1000:.1f} ms")
        for what, do in (
            ("all fills", lambda: again.records("fills")),
            ("economy", again.economy_spans),
            ("context, first", again.context),
            ("context, again", again.context),
            ("search", lambda: again.search("seal 4000")),
        ):
            t = time.perf_counter()
            do()
            print(f"{what}: {(time.perf_counter() - t) * 1000:.1f} ms")


if __name__ == "__main__":
    main()
