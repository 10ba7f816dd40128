"""A small diary whose records are given, so that what is shown does not depend on how notes are read."""

from __future__ import annotations

from datetime import datetime

import pytest

from diary.language.types import Draft
from diary.records.diary import Diary
from diary.records.machine import Machine

NOTES = [
    (
        "2026-04-06T18:10",
        "filled it to the brim eighteen point four gallons",
        [
            Draft("fills", {"volume": 18.4, "unit": "gal_us", "to_brim": True, "odometer": 64218.0, "price_total": 68.4}, 0, 48),
            Draft("readings", {"meter": "odometer", "value": 64218.0, "unit": "mi"}, 0, 48),
        ],
    ),
    (
        "2026-04-08T19:20",
        "steering box bolts were loose <b>torqued</b> them | to sixty five",
        [
            Draft("torques", {"fastener": "steering box bolts", "value": 65.0, "unit": "ft_lb", "role": "applied",
                              "threadlocker": True}, 0, 18),
            Draft("faults", {"what": "steering box bolts loose", "component": "steering box bolts", "safety": True}, 0, 29,
                  event="found"),
            Draft("faults", {"component": "steering box bolts"}, 30, 60, event="fixed", thread="#1"),
            Draft("shots", {"what": "the loose bolts", "state": "missed"}, 0, 10),
        ],
    ),
    (
        "2026-04-09T12:35",
        "transfer case seal weeps it can wait ordered one fourteen fifty",
        [
            Draft("faults", {"what": "transfer case seal weeps", "component": "transfer case seal"}, 0, 24, event="found"),
            Draft("parts", {"name": "transfer case seal", "state": "ordered", "count": 1, "cost": 14.5}, 36, 62),
            Draft("plans", {"what": "fit the seal", "due": "2026-04-11"}, 0, 10),
            Draft("lessons", {"what": "warm the oil before draining it"}, 0, 10),
        ],
    ),
    (
        "2026-04-14T18:05",
        "filled it again twenty gallons sixty four four sixty eight",
        [
            Draft("fills", {"volume": 20.0, "unit": "gal_us", "to_brim": True, "odometer": 64468.0}, 0, 30),
            Draft("readings", {"meter": "odometer", "value": 64468.0, "unit": "mi"}, 31, 58),
        ],
    ),
]  # fmt: skip


@pytest.fixture
def told(tmp_path):
    """A diary of four notes about one truck."""
    diary = Diary.open(tmp_path / "d.db", now=lambda: datetime(2026, 4, 15, 9, 0))
    diary.set_machine(Machine(name="Bramble", tank=22))
    for at, text, drafts in NOTES:
        diary.add_note(text, at, drafts=drafts)
    yield diary
    diary.close()
