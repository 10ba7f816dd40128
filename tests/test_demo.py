"""The main job on real sound: the demo recordings heard by the embedded recogniser, down to the exact records and figures.

The scenario and every figure are the demo's own (demo_audio/script.toml); 254.4 mi on 20.8 gal is 12.23 mpg by arithmetic.
"""

from __future__ import annotations

from typing import Any

import pytest

from diary.records.schema import check
from diary.reports.demo import run


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return run(tmp_path_factory.mktemp("demo"))


def rows(demo: dict[str, Any], kind: str, *fields: str) -> list[tuple[Any, ...]]:
    return [tuple(r[f] for f in fields) for r in demo["export"][kind]]


def test_eleven_recordings_are_eleven_notes_with_seconds(demo):
    notes = demo["export"]["notes"]
    assert len(notes) == 11 and all(n["audio"] for n in notes)
    assert all(r["seconds"] for r in demo["export"]["fills"])
    check(demo["export"])


def test_fills_readings_and_resets(demo):
    assert rows(demo, "fills", "volume", "to_brim", "price_total", "odometer", "trip") == [
        (16.4, True, 68.4, 64218, None),
        (6.2, False, 23, 64396, None),
        (14.6, True, 54.02, None, 243.4),
    ]
    assert rows(demo, "readings", "meter", "value") == [("odometer", 64218), ("odometer", 64396), ("trip", 243.4)]
    assert rows(demo, "resets", "before", "approx") == [(11, True), (None, False)]


def test_torques_and_pressures(demo):
    assert rows(demo, "torques", "fastener", "value", "role", "threadlocker") == [
        ("steering box bolts", 65, "target", None),
        ("steering box bolts", 65, "applied", True),
        ("castle nut", 50, "applied", None),
    ]
    pressures = [(r["of"], r["value"]) for r in demo["export"]["measures"] if r["quantity"] == "pressure"]
    assert pressures == [("front tires", 32), ("left rear tire", 34), ("right rear tire", 26), ("right rear tire", 34)]


def test_every_part_from_needed_to_fitted(demo):
    assert rows(demo, "parts", "name", "state", "count", "cost") == [
        ("tie rod end", "needed", 1, None),
        ("tie rod end", "ordered", 1, 38.5),
        ("tie rod end", "fitted", 1, None),
        ("cotter pin", "fitted", 1, None),
        ("rear axle seal", "needed", 1, None),
        ("gear oil", "needed", 2, None),
    ]


def test_work(demo):
    assert rows(demo, "work", "action", "component") == [
        ("topped up", "right rear tire"),
        ("checked", "steering box bolts"),
        ("replaced", "tie rod end"),
        ("fitted", "cotter pin"),
    ]


def test_a_fault_came_back_and_was_put_right_and_the_seal_waits(demo):
    faults = {f["component"]: f for f in demo["export"]["faults"]}
    steering = faults["steering"]
    assert (steering["came_back_in_note"], steering["closed_in_note"], steering["state"]) == ("n7", "n10", "fixed")
    assert [f["state"] for f in demo["export"]["faults"] if "seal" in f["what"]] == ["waiting"]
    still = [f["what"] for f in demo["export"]["faults"] if f["state"] not in ("fixed", "proven", "ruled_out")]
    assert len(still) == 2 and any("heater fan" in what for what in still)


def test_plans_lesson_shot_and_drive(demo):
    assert rows(demo, "plans", "what", "due")[0] == ("replace the rear axle seal", "2026-04-25")
    assert any(p["due_distance"] == 50 for p in demo["export"]["plans"])
    assert rows(demo, "lessons", "what") == [("check the joints before you tighten the bolts",)]
    assert rows(demo, "shots", "state") == [("missed",)]
    assert rows(demo, "drives", "distance") == [(12,)]


def test_another_persons_car_leaves_no_record(demo):
    kinds = ("fills", "readings", "torques", "measures", "parts", "faults", "work", "plans", "lessons")
    assert [r for kind in kinds for r in demo["export"][kind] if r["note"] == "n6"] == []


def test_the_figures_and_the_answers(demo):
    (span,) = demo["export"]["economy"]
    assert (span["distance"], span["fuel"]) == (254.4, 20.8) and span["value"] == pytest.approx(12.2308)
    economy, still, torque = (a["answer"] for a in demo["answers"])
    assert "12.2" in economy and "seal" in still and "65 foot pounds" in torque


def test_the_episode_is_written_with_captions(demo):
    from pathlib import Path

    written = {k: Path(v).read_text(encoding="utf-8") for k, v in demo["episode"].items()}
    assert written["captions"].startswith("WEBVTT") and written["chapters"].startswith("0:00 ")
    assert "12.23" in written["html"] and "12.23" in written["markdown"]
