"""How fast questions are answered on ten years of diary (20,000 notes): bench_ask_speed.py [NOTES] [--keep FILE].

Cold: a new Python process each, started here, that opens the diary and asks once (start of Python included). Warm:
the second time
the question is asked in one process. Bars: cold under 0.6 s, warm under 50 ms.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path

from diary.assistant.answers import ask
from diary.language.types import Draft
from diary.records.diary import Diary

QUESTIONS = (
    "whats my economy this week",
    "what did i get on the last tank",
    "how does this month compare with last month on mileage",
    "whats still open",
    "is the shimmy fixed",
    "what did i torque the lug nuts to",
    "what was the battery at",
    "when did i last change the oil",
    "what do i need to buy",
    "what have i spent on parts this year",
    "how many miles since i changed the oil",
    "how far can i go on whats in the tank",
    "what should i check before i drive",
    "what did i say about the radiator",
    "what got done yesterday",
    "how often do i change the oil",
    "what is fuel costing me per mile",
    "whats planned for saturday",
    "when did the radiator start to weep",
    "what caused the radiator weep",
    "what should i have filmed",
    "any lessons",
    "what did you change last",
    "what do you still need to know",
    "whats on the odometer",
    "how many gallons did i put in this month",
    "what did i spend on gas last month",
    "what was i paying a gallon last time",
    "whats on order",
    "what spares have i got",
    "what will the list cost me",
    "which parts did i fit this month",
    "how many wipers did i fit",
    "how big is the tank",
    "sum up",
    "what is thirty five foot pounds in newton metres",
    "what size fuse for twelve amps",
    "how much oil for two gallons at forty to one",
    "was it the water pump or the radiator",
    "has the mileage got worse over time",
    "consumtion lst tnk",
    "what about that pump thing",
)
THINGS = (
    "radiator",
    "alternator",
    "front brake pads",
    "shimmy",
    "water pump",
    "u joint",
    "heater",
    "horn",
    "wiper",
    "hub seal",
)


def build(path: Path, count: int) -> datetime:
    """A diary of `count` notes over ten years with records of every kind; returns the time of its last note."""
    begin = datetime(2016, 1, 1, 8)
    step = timedelta(days=3650) / count
    diary = Diary.open(path, now=lambda: begin, read=lambda t, c: [])
    meter = 60_000.0
    at = begin
    for n in range(count):
        at = begin + step * n
        thing = THINGS[n % len(THINGS)]
        drafts = [
            Draft("measures", {"quantity": "voltage", "value": 12.0 + n % 9 / 10, "unit": "V", "of": "battery"}, 0, 4)
        ]
        if n % 14 == 0:
            meter += 220 + n % 60
            drafts += [
                Draft(
                    "fills",
                    {
                        "volume": 14.0 + n % 5,
                        "unit": "gal_us",
                        "to_brim": n % 42 != 0,
                        "odometer": meter,
                        "price_total": 52.0,
                    },
                    0,
                    4,
                ),
                Draft("readings", {"meter": "odometer", "value": meter, "unit": "mi"}, 0, 4),
            ]
        if n % 9 == 0:
            drafts.append(
                Draft("work", {"action": "replaced", "component": "engine oil" if n % 27 == 0 else thing}, 5, 9)
            )
        if n % 11 == 0:
            drafts.append(
                Draft("torques", {"fastener": "lug nuts", "value": 95.0, "unit": "ft_lb", "role": "applied"}, 5, 9)
            )
            drafts.append(
                Draft(
                    "parts",
                    {"name": thing, "state": ("needed", "ordered", "fitted")[n % 3], "cost": 20.0 + n % 30},
                    5,
                    9,
                )
            )
        if n % 40 == 0:
            drafts.append(
                Draft("faults", {"what": f"{thing} weeps", "component": thing, "where": "left"}, 0, 4, event="found")
            )
            if n % 400:
                drafts.append(Draft("faults", {"component": thing}, 0, 4, event="fixed", thread=f"#{len(drafts) - 1}"))
        if n % 100 == 0:
            drafts.append(
                Draft("plans", {"what": f"check the {thing}", "due": at.date().isoformat()}, 0, 4, event="made")
            )
        diary.add_note(f"note {n} looked at the {thing} again today and it is much as it was before", at, drafts=drafts)
    diary.close()
    return at


ONCE = """
import sys, time
from datetime import datetime
from diary.records.diary import Diary
from diary.assistant.answers import ask
now = datetime.fromisoformat(sys.argv[2])
diary = Diary.open(sys.argv[1], now=lambda: now)
ask(diary, sys.argv[3])
"""


def main() -> None:
    args = argparse.ArgumentParser()
    args.add_argument("count", type=int, nargs="?", default=20_000)
    args.add_argument("--keep", type=Path)
    given = args.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        path = given.keep or Path(scratch) / "d.db"
        start = time.perf_counter()
        if not path.exists():
            build(path, given.count)
        now = datetime(2025, 12, 29, 8)
        print(f"{given.count} notes, built in {time.perf_counter() - start:.0f} s")
        worst_cold = worst_cpu = worst_warm = 0.0
        diary = Diary.open(path, now=lambda: now)
        for question in QUESTIONS:
            used = resource.getrusage(resource.RUSAGE_CHILDREN)
            t = time.perf_counter()
            subprocess.run([sys.executable, "-c", ONCE, str(path), now.isoformat(), question], check=True)
            cold = time.perf_counter() - t
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            cpu = after.ru_utime + after.ru_stime - used.ru_utime - used.ru_stime  # what it takes on an idle machine
            ask(diary, question)
            t = time.perf_counter()
            answer = ask(diary, question)
            warm = time.perf_counter() - t
            worst_cold, worst_cpu, worst_warm = max(worst_cold, cold), max(worst_cpu, cpu), max(worst_warm, warm)
            print(
                f"cold {cold * 1e3:6.0f} ms ({cpu * 1e3:4.0f} ms of processor)  warm "
                f"{warm * 1e3:6.1f} ms  {question}: {answer.answer[:70]}"
            )
        print(
            f"most: cold {worst_cold * 1e3:.0f} ms ({worst_cpu * 1e3:.0f} ms of "
            f"processor), warm {worst_warm * 1e3:.1f} ms"
        )


if __name__ == "__main__":
    main()
