"""Clauses that are about no machine: the house, the body, animals (diary/language/elsewhere.py), and about one long gone."""

from __future__ import annotations

from datetime import datetime

import pytest

from diary.language.pipeline import parse_light
from diary.language.types import Context


def away(text: str, machine: str = "machine") -> list[bool]:
    """Of each clause, whether it is about another machine or none."""
    return [c.other_machine for c in parse_light(text, Context(now=datetime(2026, 5, 6), machine=machine)).clauses]


@pytest.mark.parametrize(
    "text",
    [
        "the tumble dryer squeals",
        "the bathroom tap washer is worn",
        "put a new hinge on the pantry door",
        "the toaster has blown a fuse",
        "my back is seized solid",
        "the dog is worn out",
        "heard a screech from the owl",
        "the magazine put a new gearbox in it",
    ],
)
def test_no_machine(text: str) -> None:
    assert away(text) == [True]


@pytest.mark.parametrize(
    "text",
    [
        "mice chewed the wiper motor wire",
        "the back brakes are seized",
        "warmed the bearing in the oven",
        "left the starter in the kitchen",
        "the bull bar is loose",
        "it squeals like a pig",
        "drove forty miles to the gym",
        "sitting here with a sandwich hours four thousand one hundred",
        "the dog hates the squeal",
    ],
)
def test_the_machine_all_the_same(text: str) -> None:
    assert not any(away(text))


def test_the_house_goes_on_as_it() -> None:
    assert away("the gate hinge squeaks, oiled it") == [True, True]
    assert away("lawn mower wont start, must be the plug")[-1]
    assert away("the dog is worn out, changed the oil") == [True, False]


def test_who_lives_in_the_machine_has_a_kitchen_there() -> None:
    assert away("the fridge in the kitchen rattles") == [True]
    assert away("the fridge in the kitchen rattles", machine="old camper") == [False]


def test_long_ago() -> None:
    assert away("in the army we changed a gearbox") == [True, True]
    assert away("when i bought it the floor was rotten")[-1]
    assert away("years ago the gearbox seized") == [True]
    assert away("that dent is from nineteen ninety four") == [True]
    assert not away("rebuilt the pump years ago and now it leaks")[-1]
    assert not any(away("in the dark we changed a gearbox"))


def test_a_denial_takes_back_what_was_just_said() -> None:
    def back(text: str) -> list[bool]:
        return [c.retracted for c in parse_light(text).clauses]

    assert back("fitted the alternator belt no i didnt i fitted the fan belt") == [True, True, False]
    assert back("the horn is dead no it isnt") == [True, True]
    assert not any(back("did the plugs no i didnt do the belt"))
    assert not any(back("looked under it actually no leaks at all"))
    assert not any(back("the alternator is dead i was wrong about the battery"))


def test_what_is_about_no_machine_is_not_about_anothers() -> None:
    (clause,) = parse_light("the dog is worn out").clauses
    assert clause.other_machine and clause.no_machine and not clause.anothers


def test_a_machine_that_passes_leaves_what_follows_alone() -> None:
    assert away("two trucks went by at sixty and the clutch slipped") == [True, False]
    assert away("the estate went past two hundred thousand miles") == [False]


def test_a_strut_back_in_is_no_year() -> None:
    assert away("strut back in fifty five on the three nuts") == [False]
    assert away("the level plugs went back in thirty foot pounds every one") == [False]
    assert away("all the plugs went back in forty each") == [False]
    assert all(away("back in fifty five we changed a gearbox"))


def test_a_tool_borrowed_is_no_machine_borrowed() -> None:
    assert away("borrowed the farm quad") == [True]
    assert away("borrowed a wrench for the truck and torqued the nuts") == [False, False]
