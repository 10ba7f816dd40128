"""Which record a phrase speaks of, and what becomes of a fault. The records are invented."""

from __future__ import annotations

import copy
from datetime import datetime
from typing import Any

import pytest

from diary.language import threads
from diary.language.types import Draft

NOW = datetime(2026, 6, 1, 18)


def fault(id: str, what: str, component: str | None = None, where: str | None = None, **more: Any) -> dict[str, Any]:
    return {
        "id": id,
        "what": what,
        "component": component,
        "where": where,
        "state": "found",
        "opened_at": "2026-05-20T18:00",
        **more,
    }


FAULTS = [
    fault("shimmy", "shimmy in the steering wheel at fifty five", "steering wheel", "left front"),
    fault("radiator", "radiator is leaking at the bottom tank", "radiator"),
    fault("cover", "valve cover is leaking oil on the left", "valve cover", "left"),
    fault("horn", "horn does not work", "horn", state="fixed", closed_at="2026-05-21T18:00"),
    fault("left shock", "left rear shock is leaking", "shock", "left rear"),
    fault("right shock", "right rear shock is leaking", "shock", "right rear", state="fixed"),
]


def ids(phrase: str, prefer: str | None = None) -> list[str]:
    return [c.id for c in threads.candidates(threads.mention(phrase), FAULTS, NOW, prefer)]


@pytest.mark.parametrize(
    ("phrase", "expected"),
    [
        ("the shimmy", "shimmy"),
        ("that wobble in the steering wheel", "shimmy"),
        ("the radiator", "radiator"),
        ("the valve cover", "cover"),
        ("the oil leak", "cover"),
        ("the horn", "horn"),
        ("right rear shock", "right shock"),
        ("the left shock", "left shock"),
    ],
)
def test_the_best_candidate_is_the_one_meant(phrase: str, expected: str) -> None:
    assert ids(phrase)[0] == expected


def test_nothing_shared_means_no_candidate() -> None:
    assert ids("the trailer jack") == []


def test_two_leaks_are_close_and_one_named_is_not() -> None:
    opened = FAULTS[:3]
    leak = threads.close(threads.candidates(threads.mention("the leak"), opened, NOW, "open"))
    assert {c.id for c in leak} == {"radiator", "cover"}
    named = threads.close(threads.candidates(threads.mention("the radiator leak"), opened, NOW, "open"))
    assert [c.id for c in named] == ["radiator"]


def test_places_that_contradict_rule_a_record_out() -> None:
    assert "left shock" not in ids("right rear shock")
    assert threads.contrary({"left"}, {"right"})
    assert threads.contrary({"left", "front"}, {"left", "rear"})
    assert not threads.contrary({"left"}, {"left", "rear"})
    assert not threads.contrary({"left", "right"}, {"left"})


def test_the_fresher_of_two_alike_comes_first() -> None:
    old = fault("old", "drip at the sump", "sump", opened_at="2026-01-01T08:00")
    new = fault("new", "drip at the sump", "sump", opened_at="2026-05-30T08:00")
    assert [c.id for c in threads.candidates(threads.mention("the sump drip"), [old, new], NOW)] == ["new", "old"]


def test_parts_and_plans_are_found_too() -> None:
    parts = [{"id": "p1", "name": "hub seal"}, {"id": "p2", "name": "fuel filter"}]
    plans = [{"id": "q1", "what": "recheck the fan bolts"}, {"id": "q2", "what": "get the wheels balanced"}]
    assert threads.candidates(threads.mention("the fuel filter came"), parts, NOW)[0].id == "p2"
    assert threads.candidates(threads.mention("rechecked the fan bolts cold"), plans, NOW)[0].id == "q1"


# ---- the fold -------------------------------------------------------------------------------------------------------


def draft(event: str, thread: str | None = None, **fields: Any) -> Draft:
    return Draft("faults", fields, 0, 10, 0.9, thread, event)


def life(*events: str) -> dict[str, Any]:
    faults = threads.apply([], draft("found", what="drip at the sump", component="sump"), "n0", "2026-05-01T08:00")
    for i, event in enumerate(events, start=1):
        faults = threads.apply(faults, draft(event, "f1"), f"n{i}", f"2026-05-0{i + 1}T08:00")
    return faults[0]


def test_a_new_fault_is_open() -> None:
    fault = life()
    assert threads.is_open(fault)
    assert (fault["opened_in_note"], fault["closed_in_note"], fault["state"]) == ("n0", None, "found")


def test_a_suspicion_opens_as_suspected() -> None:
    (fault,) = threads.apply([], draft("suspected", what="water in the axle"), "n0", "2026-05-01T08:00")
    assert fault["state"] == "suspected"


@pytest.mark.parametrize(
    ("events", "state", "is_open", "closed", "back"),
    [
        (["worked"], "found", True, None, None),
        (["cause"], "found", True, None, None),
        (["waiting"], "waiting", True, None, None),
        (["fixed"], "fixed", False, "n1", None),
        (["ruled_out"], "ruled_out", False, "n1", None),
        (["fixed", "back"], "back", True, "n1", "n2"),
        (["fixed", "back", "fixed"], "fixed", False, "n3", "n2"),
        (["fixed", "fixed"], "fixed", False, "n1", None),  # "still dry" does not close it anew
        (["fixed", "found"], "back", True, "n1", "n2"),
        (["fixed", "waiting"], "fixed", False, "n1", None),
    ],
)
def test_what_becomes_of_a_fault(
    events: list[str], state: str, is_open: bool, closed: str | None, back: str | None
) -> None:
    fault = life(*events)
    assert (fault["state"], threads.is_open(fault), fault["closed_in_note"], fault["came_back_in_note"]) == (
        state,
        is_open,
        closed,
        back,
    )
    assert len(fault["events"]) == 1 + len(events)


def test_apply_changes_nothing_that_it_was_given() -> None:
    faults = threads.apply([], draft("found", what="drip"), "n0", "2026-05-01T08:00")
    before = copy.deepcopy(faults)
    threads.apply(faults, draft("fixed", "f1"), "n1", "2026-05-02T08:00")
    assert faults == before


def test_a_question_between_two_changes_nothing() -> None:
    assert threads.apply(FAULTS, draft("fixed", candidates=["radiator", "cover"]), "n9", "2026-06-01T08:00") == FAULTS


def test_cause_and_what_is_waited_for_are_kept() -> None:
    faults = threads.apply([], draft("found", what="drip"), "n0", "2026-05-01T08:00")
    faults = threads.apply(faults, draft("cause", "f1", cause="cracked hose"), "n1", "2026-05-02T08:00")
    faults = threads.apply(faults, draft("waiting", "f1", waiting_for="hose"), "n2", "2026-05-03T08:00")
    assert (faults[0]["cause"], faults[0]["waiting_for"], faults[0]["state"]) == ("cracked hose", "hose", "waiting")
