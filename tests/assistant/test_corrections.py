"""What a correction changes: the figure, unit, side, state or day that is meant, in the record that is meant."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from helpers import diary, draft, fill, tell

from diary.assistant import corrections
from diary.assistant.answers import facts_of

NOW = datetime(2026, 5, 22, 19, 0)


def proposed(made: Any, text: str, recent: list[Any]) -> list[tuple[str, dict[str, Any]]]:
    proposal = corrections.propose(facts_of(made), text, recent, NOW)
    return [(r.KIND, c) for r, c in proposal.changes]


FILL = [*fill(23.7, 105460.0)]
TORQUE = draft("torques", fastener="caliper bracket bolts", value=85.0, unit="ft_lb", role="applied", threadlocker=True)
PART = draft("parts", name="ball joints", state="ordered", count=2.0, cost=64.0)
FAULT = draft(
    "faults", what="hum from the right rear wheel bearing", component="wheel bearing", where="right rear", event="found"
)
PRESSURE = draft("measures", quantity="pressure", value=35.0, unit="psi", of="left front tire")


@pytest.mark.parametrize(
    ("drafts", "said", "kind", "changes"),
    [
        (FILL, "no make that twenty three point one", "fills", {"volume": 23.1}),
        (FILL, "oops 23.2", "fills", {"volume": 23.2}),
        (FILL, "105,406, i read it backwards", "fills", {"odometer": 105406.0}),
        (FILL, "sorry it was twenty two gallons", "fills", {"volume": 22.0}),
        (FILL, "no it was not full", "fills", {"to_brim": False}),
        (FILL, "oh and that was right up to the top", "fills", {"to_brim": True}),
        ([TORQUE], "no ninety", "torques", {"value": 90.0}),
        ([TORQUE], "sorry ninety five not eighty five", "torques", {"value": 95.0}),
        ([TORQUE], "newton metres i mean", "torques", {"unit": "N_m"}),
        ([TORQUE], "and there was no thread lock on it", "torques", {"threadlocker": False}),
        ([PART], "three actually", "parts", {"count": 3.0}),
        ([PART], "make that bought not ordered", "parts", {"state": "bought"}),
        ([PART], "and it was the lower ones", "parts", {"name": "lower ball joints"}),
        ([PART], "no it was seventy four dollars", "parts", {"cost": 74.0}),
        (
            [FAULT],
            "it was the left side",
            "faults",
            {"where": "left rear", "what": "hum from the left rear wheel bearing"},
        ),
        ([FAULT], "other side", "faults", {"where": "left rear", "what": "hum from the left rear wheel bearing"}),
        ([PRESSURE], "no thirty two", "measures", {"value": 32.0}),
        ([PRESSURE], "sorry the right one", "measures", {"of": "right front tire"}),
        ([PRESSURE], "actually that was bar", "measures", {"unit": "bar"}),
    ],
)
def test_right_after(tmp_path: Path, drafts: list[Any], said: str, kind: str, changes: dict[str, Any]) -> None:
    made, reader = diary(tmp_path, NOW)
    entry = tell(made, reader, "2026-05-22T18:00", "the note", *drafts)
    assert corrections.looks(said, True)
    found = dict(proposed(made, said, entry.written))
    assert {k: found[kind].get(k) for k in changes} == changes


def test_older_records_by_day_and_name(tmp_path: Path) -> None:
    made, reader = diary(tmp_path, NOW)
    tell(made, reader, "2026-05-12T17:45", "a", *fill(14.4, 105200.0))
    tell(
        made,
        reader,
        "2026-05-13T08:00",
        "b",
        draft("readings", meter="odometer", value=105260.0, unit="mi", approx=False),
    )
    tell(
        made,
        reader,
        "2026-05-17T16:00",
        "c",
        draft("torques", fastener="pinion nut", value=14.0, unit="ft_lb", role="applied"),
        draft("torques", fastener="diff cover bolts", value=30.0, unit="ft_lb", role="applied"),
    )
    tell(made, reader, "2026-05-14T21:00", "d", draft("work", action="replaced", component="engine oil"))
    assert proposed(
        made, "the odometer on tuesday the twelfth was one oh five two twenty two not one oh five two hundred", []
    ) == [("fills", {"odometer": 105222.0})]
    assert proposed(made, "the pinion nut i did on sunday was a hundred and forty foot pounds not fourteen", []) == [
        ("torques", {"value": 140.0})
    ]
    assert proposed(made, "the oil change was on friday not thursday", []) == [
        ("work", {"at": "2026-05-22T21:00"})
    ] or proposed(made, "the oil change was on the fifteenth not the fourteenth", []) == [
        ("work", {"at": "2026-05-15T21:00"})
    ]


def test_two_readings_of_a_day_are_asked_about(tmp_path: Path) -> None:
    made, reader = diary(tmp_path, NOW)
    for when, value in (("2026-05-16T08:10", 61300.0), ("2026-05-16T19:20", 61340.0)):
        tell(made, reader, when, when, draft("readings", meter="odometer", value=value, unit="mi", approx=False))
    proposal = corrections.propose(
        facts_of(made), "change the odometer on saturday to sixty one three forty five", [], NOW
    )
    assert proposal.wants == "which reading" and proposal.about == [61300.0, 61340.0]


@pytest.mark.parametrize(
    "said",
    [
        "it was raining all day",
        "no idea what that noise is",
        "that was a long drive home",
        "not much to report tonight",
        "actually i love this truck",
    ],
)
def test_talk_that_changes_nothing(tmp_path: Path, said: str) -> None:
    made, reader = diary(tmp_path, NOW)
    entry = tell(made, reader, "2026-05-22T18:00", "the note", *FILL, TORQUE)
    assert proposed(made, said, entry.written) == []
