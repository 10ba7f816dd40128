"""Plans: what is still to be done, when it falls due, and what closes it. Invented sayings; the note is of thursday
2026-05-14.
"""

from __future__ import annotations

import pytest

from diary.language.types import Context
from tests.language.readers.worded import NOW, alike, drafts_of, f1, rows, score


@pytest.mark.parametrize(
    ("say", "what", "due"),
    [
        ("tomorrow i am going to pull the carburetor", "pull the carburetor", "2026-05-15"),
        ("remind me to grease the pto shaft on friday", "grease the pto shaft", "2026-05-15"),
        ("on saturday we are fitting the roof rack", "fit the roof rack", "2026-05-16"),
        ("the radiator goes back in on sunday", "fit the radiator", "2026-05-17"),
        ("i'd like to do the valve clearances tomorrow", "do the valve clearances", "2026-05-15"),
        ("i should look at the steering box", "look at the steering box", None),
        ("need to swap the front springs before winter", "swap the front springs", None),
        ("planning on rebuilding the front hubs", "rebuild the front hubs", None),
    ],
)
def test_plan(say: str, what: str, due: str | None) -> None:
    found = rows(say, "plans", "what", "due")
    assert len(found) == 1 and alike(found[0][0], what) and found[0][1] == due, found


def test_distance_and_condition() -> None:
    (found,) = rows(
        "i have to recheck the head bolts after five hundred miles", "plans", "due_distance", "due_unit", "due"
    )
    assert found == (500.0, "mi", None)
    (found,) = rows("i'll do the shocks when i get paid", "plans", "what", "condition")
    assert found[1] == "when i get paid"


def test_two_verbs_make_two_plans_for_the_same_day() -> None:
    found = rows("going to change the gearbox oil tomorrow and look at the chain", "plans", "what", "due")
    assert len(found) == 2 and alike(found[0][0], "change the gearbox oil") and alike(found[1][0], "look at the chain")


def _plans() -> Context:
    return Context(
        now=NOW,
        plans=[
            {"id": "n1", "what": "recheck the fan bolts", "due": "2026-05-12"},
            {"id": "n2", "what": "get the wheels balanced", "due": None},
        ],
    )


def test_the_note_that_did_it_closes_the_plan() -> None:
    drafts = [
        d for d in drafts_of("rechecked the fan bolts cold and not one of them moved", _plans()) if d.kind == "plans"
    ]
    assert [(d.thread, d.event) for d in drafts] == [("n1", "done")]


def test_another_deed_on_another_thing_closes_nothing() -> None:
    assert not [d for d in drafts_of("checked the oil level in the gearbox", _plans()) if d.kind == "plans"]


def test_said_again_for_another_day_it_moves() -> None:
    (draft,) = [d for d in drafts_of("i will recheck the fan bolts on saturday", _plans()) if d.kind == "plans"]
    assert (draft.thread, draft.event, draft.fields["due"]) == ("n1", "moved", "2026-05-16")


def test_given_up_it_is_dropped() -> None:
    drafts = [
        d for d in drafts_of("forget about balancing the wheels they are smooth again", _plans()) if d.kind == "plans"
    ]
    assert ("n2", "dropped") in [(d.thread, d.event) for d in drafts]


@pytest.mark.parametrize(
    "say",
    [
        "i want to see how far i get",
        "we will see in the morning",
        "i would have to take the whole dash out",
        "if it leaks again i will have to do the seal",
        "he has to replace his timing belt on saturday",
        "at some point i have to redo the intro music",
        "i was going to change the oil but it rained",
        "i will believe it when i see it",
    ],
)
def test_no_plan(say: str) -> None:
    assert rows(say, "plans", "what", "due") == []


def test_examples_are_read() -> None:
    counts = score("worded_examples.jsonl")["plans"]
    assert f1(counts) >= 0.9, counts
