"""Economy on 205 real fills, and its speed on ten thousand. Run by hand:

    python tests/benchmarks/bench_economy.py PATH/TO/fills_1996_1999.csv

The file (columns Date, TotalMiles, NumGallons, MilesLastFill) comes from the R package gvlma 1.0.0.3 (CRAN,
data/CarMileageData.rda, GPL) and is not part of this project. Its check values: Σ MilesLastFill 76,974.7, Σ
NumGallons 2,628.622, ratio 29.2833; an odometer step of 760 mi against 406.7 by the trip at row 149, where a fill
seems to be missing.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

from diary.calculators.economy import Fill, Reset, overall, spans, spans_and_gaps
from diary.calculators.trend import more_than_noise, trend


def read(path: Path) -> list[Fill]:
    """The file's rows as fills to the brim, each with odometer and trip; the note is the row's number from 1."""
    with path.open(newline="") as file:
        return [
            Fill(
                datetime.fromisoformat(row["Date"]) + timedelta(minutes=n),
                str(n),
                float(row["NumGallons"]),
                "gal_us",
                True,
                float(row["TotalMiles"]),
                float(row["MilesLastFill"]),
            )
            for n, row in enumerate(csv.DictReader(file), 1)
        ]


def real(path: Path) -> bool:
    """Figures of the real fills against their check values; True if all agree."""
    fills = read(path)
    resets = [Reset(f.at, f.note) for f in fills]
    miles, gallons = sum(f.trip or 0 for f in fills), sum(f.volume or 0 for f in fills)
    print(f"{len(fills)} fills, {miles:,.1f} mi by trip, {gallons:,.3f} gal, {miles / gallons:.4f} mpg")
    got, gaps = spans_and_gaps(fills, resets)
    by_odometer = spans(fills)
    total, every = overall(got), overall(by_odometer)
    assert total is not None and every is not None
    print(
        f"spans: {len(got)}, {total.value:.4f} ± {total.plus_minus:.4f} mpg; "
        f"gaps: {[(g.to_note, g.reason) for g in gaps]}"
    )
    for gap in gaps:
        print("  ", gap.text)
    print(f"by odometer alone: {len(by_odometer)} spans, {every.value:.4f} ± {every.plus_minus:.4f} mpg")
    doubtful = [s for s in by_odometer if s.flags]
    print(f"flagged without the trip meter: {[(s.to_note, round(s.value, 1)) for s in doubtful]}")
    differing = [s for s in got if any("trip meter" in f for f in s.flags)]
    print(f"spans where odometer and trip disagree: {[s.to_note for s in differing]}")
    print("trend:", trend(got).text)
    summer = [s for s in got if s.to_at.month in (6, 7, 8)]
    winter = [s for s in got if s.to_at.month in (12, 1, 2)]
    print("summer to winter:", more_than_noise(summer, winter).text)
    wanted = [
        round(miles, 1) == 76974.7,
        round(gallons, 3) == 2628.622,
        round(miles / gallons, 4) == 29.2833,
        round(every.value, 4) == 29.4239,
        [g.to_note for g in gaps] == ["149"],
        any(s.to_note == "149" for s in doubtful),
    ]
    print("check values:", wanted)
    return all(wanted)


def speed(count: int = 10_000) -> float:
    """Best of seven runs over `count` fills, milliseconds of processor time."""
    start = datetime(2000, 1, 1)
    fills = [
        Fill(
            start + timedelta(days=3 * i),
            str(i),
            12.3 + i % 7 / 10,
            "gal_us",
            i % 4 != 1,
            10000 + 250.5 * i,
            250.5,
            40.0,
        )
        for i in range(count)
    ]
    resets = [Reset(f.at, f.note) for f in fills]
    best = {}
    for name, events in (("odometer", []), ("odometer, trip and resets", resets)):
        times = []
        for _ in range(7):
            began = time.process_time()
            spans(fills, events)
            times.append(1000 * (time.process_time() - began))
        best[name] = min(times)
        print(f"{count} fills, {name}: best {min(times):.1f} ms, worst {max(times):.1f} ms")
    return max(best.values())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("path", type=Path, nargs="?", help="the CSV file of real fills")
    options = parser.parse_args()
    well = real(options.path) if options.path else True
    return 0 if speed() < 50 and well else 1


if __name__ == "__main__":
    sys.exit(main())
