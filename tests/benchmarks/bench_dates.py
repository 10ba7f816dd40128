"""Measures the date reader against other projects' test data, beside dateparser.

    python tests/benchmarks/bench_dates.py PEERS_FOLDER [--show NAME] [--without-dateparser]

Sets: Recognizers-Text DateParser, English (MIT; where it gives a past and a coming day, either is right, since our
tense decides between them), and the day-grained rows of duckling's Time corpus, English (BSD-3-Clause, reference time
2013-02-12; without its feast days). A row is right when the first day found is the day wanted.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path

from diary.language.dates import read_dates

Row = tuple[str, datetime, set[date]]


def recognizers(folder: Path) -> Iterator[Row]:
    path = folder / "recognizers_text" / "DateTime" / "English" / "DateParser.json"
    for row in json.loads(path.read_text(encoding="utf-8-sig")):
        now = datetime.fromisoformat(row["Context"]["ReferenceDateTime"])
        wanted: set[date] = set()
        for result in row["Results"]:
            for side in ("FutureResolution", "PastResolution"):
                day = (result.get("Value") or {}).get(side, {}).get("date")
                if day:
                    wanted.add(date.fromisoformat(day))
        if wanted:
            yield row["Input"], now, wanted


def duckling(folder: Path) -> Iterator[Row]:
    now = datetime(2013, 2, 12, 4, 30)
    for line in (folder / "duckling" / "time.jsonl").read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        found = re.match(r"\(datetime \((\d+), (\d+), (\d+), 0, 0, 0\) Day", row["value"] or "")
        if row["corpus"] in ("allExamples", "defaultCorpus") and found:
            yield row["text"], now, {date(*(int(g) for g in found.groups()))}


def ours(text: str, now: datetime) -> date | None:
    found = read_dates(text, now)
    return found[0].day if found else None


def dateparser_search(text: str, now: datetime) -> date | None:
    from dateparser.search import search_dates

    found = search_dates(text, languages=["en"], settings={"RELATIVE_BASE": now})
    return found[0][1].date() if found else None


def run(name: str, rows: list[Row], reader: Callable[[str, datetime], date | None], show: str) -> None:
    right = 0
    start = time.perf_counter()
    misses = []
    for text, now, wanted in rows:
        got = reader(text, now)
        if got in wanted:
            right += 1
        else:
            misses.append((text, sorted(map(str, wanted)), str(got)))
    each = (time.perf_counter() - start) / len(rows) * 1e6
    print(
        f"{name:38s} {right:4d} / {len(rows):4d}  {100 * right / len(rows):5.1f} %  {each:9.0f} us a text", flush=True
    )
    if show and show in name:
        for miss in misses:
            print("    ", *miss)


def main() -> None:
    arguments = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    arguments.add_argument("peers", type=Path)
    arguments.add_argument("--show", default="")
    arguments.add_argument("--without-dateparser", action="store_true")
    given = arguments.parse_args()
    if not given.peers.is_dir():
        sys.exit(f"There is no folder {given.peers}; give the one that holds duckling and recognizers_text.")
    readers = {"ours": ours} | ({} if given.without_dateparser else {"dateparser": dateparser_search})
    for name, rows in (
        ("recognizers DateParser", list(recognizers(given.peers))),
        ("duckling Time, days", list(duckling(given.peers))),
    ):
        for who, reader in readers.items():
            run(f"{name}: {who}", rows, reader, given.show)


if __name__ == "__main__":
    main()
