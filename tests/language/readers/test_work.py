"""What was done to the machine, in the ways a workshop says it. Invented sayings."""

from __future__ import annotations

import pytest

from diary.language.readers.work import same_thing
from tests.language.readers.worded import drafts_of, f1, lines, rows, score


@pytest.mark.parametrize(
    ("say", "action", "component"),
    [
        ("replaced the left hand fork seal", "replaced", "left hand fork seal"),
        ("the wheel bearings have been repacked", "greased", "wheel bearings"),
        ("took the rear bumper off", "removed", "rear bumper"),
        ("had the fuel tank off to look for rust", "removed", "fuel tank"),
        ("the radiator is out", "removed", "radiator"),
        ("the new starter went in without a fight", "replaced", "starter"),
        ("the slack in the chain i adjusted", "adjusted", "chain"),
        ("ended up replacing the whole caliper", "replaced", "caliper"),
        ("had to drill out two broken exhaust studs", "removed", "exhaust studs"),
        ("gave the chain a good clean", "cleaned", "chain"),
        ("the mechanic balanced the driveshaft for me", "balanced", "driveshaft"),
        ("welded up the crack in the exhaust manifold", "repaired", "exhaust manifold"),
        ("put a multimeter on the alternator and got fourteen one", "checked", "alternator"),
        ("did the valve clearances while it was cold", "adjusted", "valve clearances"),
        ("adj handbrake 4 clicks", "adjusted", "handbrake"),
    ],
)
def test_one_deed(say: str, action: str, component: str) -> None:
    found = rows(say, "work", "action", "component")
    assert any(a == action and set(component.split()) & set(c.split()) for a, c in found), found


def test_two_things_under_one_verb_and_two_verbs_over_one_thing() -> None:
    assert rows("cleaned the ground strap and the battery posts", "work", "action", "component") == [
        ("cleaned", "ground strap"),
        ("cleaned", "battery posts"),
    ]
    assert rows("removed and cleaned the float bowl", "work", "action", "component") == [
        ("removed", "float bowl"),
        ("cleaned", "float bowl"),
    ]


def test_it_is_the_thing_spoken_of_and_not_what_was_used_on_it() -> None:
    assert ("greased", "caliper") in rows(
        "cleaned the caliper with brake cleaner and greased it", "work", "action", "component"
    )


def test_put_back_is_no_second_deed() -> None:
    assert rows("cleaned the float bowl and put it back", "work", "action", "component") == [("cleaned", "float bowl")]


@pytest.mark.parametrize(
    "say",
    [
        "i would have to take the dash out",
        "if it leaks again i would swap the hub seal",
        "my brother replaced the clutch in his van",
        "the previous owner had welded the exhaust",
        "never got to the fan belt",
        "when did i last change the oil",
        "the lights are on and the heater is on",
        "tomorrow i am going to pull the carburetor",
    ],
)
def test_not_done_is_not_work(say: str) -> None:
    assert rows(say, "work", "action", "component") == []


def test_the_same_thing_has_the_same_head() -> None:
    assert same_thing("hub seal", "left front hub seal")
    assert not same_thing("thermostat", "thermostat gasket")


def test_spans_lie_in_the_note_and_confidence_in_bounds() -> None:
    for row in lines("worded_examples.jsonl"):
        for draft in drafts_of(row["say"]):
            assert 0 <= draft.start < draft.end <= len(row["say"])
            assert 0 < draft.confidence < 1


def test_examples_are_read() -> None:
    counts = score("worded_examples.jsonl")["work"]
    assert f1(counts) >= 0.9, counts


def test_longer_notes_in_other_voices_are_read() -> None:
    totals = score("worded_voices.jsonl")
    together = [sum(counts[i] for counts in totals.values()) for i in range(3)]
    assert f1(together) >= 0.8, totals
