"""A part's life: needed, ordered, bought or arrived, fitted, kept as a spare. Invented sayings."""

from __future__ import annotations

import pytest

from diary.language.types import Context
from tests.language.readers.worded import NOW, drafts_of, f1, rows, score


@pytest.mark.parametrize(
    ("say", "name", "state"),
    [
        ("i need a set of points", "points", "needed"),
        ("put a steering damper on the shopping list", "steering damper", "needed"),
        ("we're out of brake cleaner", "brake cleaner", "needed"),
        ("have to order a lower hose", "lower hose", "needed"),
        ("ordered a reman alternator one thirty nine shipped", "alternator", "ordered"),
        ("the master cylinder is on back order", "master cylinder", "ordered"),
        ("picked up a fan belt at the farm store", "fan belt", "bought"),
        ("the clutch kit turned up today", "clutch kit", "bought"),
        ("a carb kit came in the mail", "carb kit", "bought"),
        ("paid sixty bucks for a used alternator", "alternator", "bought"),
        ("the new shocks are on", "shocks", "fitted"),
        ("replaced the timing belt", "timing belt", "fitted"),
        ("swapped in a new relay", "relay", "fitted"),
        ("i kept the old starter as a spare", "starter", "spare"),
    ],
)
def test_state(say: str, name: str, state: str) -> None:
    found = rows(say, "parts", "name", "state")
    assert any(s == state and set(name.split()) & set(n.split()) for n, s in found), found


def test_counts_and_costs() -> None:
    assert rows(
        "ordered two ball joints sixty four dollars for the lot", "parts", "name", "state", "count", "cost"
    ) == [("ball joints", "ordered", 2, 64.0)]
    assert rows("forty eight fifty for a fan clutch at the parts counter", "parts", "name", "cost") == [
        ("fan clutch", 48.5)
    ]
    assert rows("a pair of wiper blades came to eleven dollars", "parts", "name", "count", "cost") == [
        ("wiper blades", 2, 11.0)
    ]


def test_prices_inside_a_list_belong_to_their_parts() -> None:
    found = rows(
        "ordered a relay for nine dollars and two float needle kits for twenty two dollars",
        "parts",
        "name",
        "count",
        "cost",
    )
    assert found == [("relay", 1, 9.0), ("float needle kits", 2, 22.0)]


def test_one_entry_a_note_at_the_furthest_state() -> None:
    found = rows("the fuel pump came today and it is in already", "parts", "name", "state")
    assert found == [("fuel pump", "fitted")]


def test_an_entry_goes_on_from_the_earlier_one_of_the_same_part() -> None:
    context = Context(now=NOW, parts=[{"id": "p1", "name": "thermostat gasket", "state": "needed", "count": 1}])
    (draft,) = [d for d in drafts_of("i got the gasket", context) if d.kind == "parts"]
    assert (draft.thread, draft.event, draft.fields["name"]) == ("p1", "bought", "thermostat gasket")


def test_another_part_with_a_word_in_common_is_another_life() -> None:
    context = Context(now=NOW, parts=[{"id": "p1", "name": "thermostat gasket", "state": "needed", "count": 1}])
    (draft,) = [d for d in drafts_of("ordered a thermostat", context) if d.kind == "parts"]
    assert draft.thread is None


@pytest.mark.parametrize(
    "say",
    [
        "the parts counter wanted fifty for a hose so i walked",
        "a reman alternator is three hundred and forty dollars",
        "i do not need a new radiator after all",
        "they tried to sell me wheel seals and i said no",
        "i need a coffee",
        "drained the oil and filled it with five quarts",
        "put the wheel back on",
    ],
)
def test_no_part(say: str) -> None:
    assert rows(say, "parts", "name", "state") == []


def test_seller_is_kept_where_said() -> None:
    assert rows("picked up a fan belt at the salvage yard", "parts", "supplier") == [("salvage yard",)]


def test_examples_are_read() -> None:
    counts = score("worded_examples.jsonl")["parts"]
    assert f1(counts) >= 0.9, counts


def test_so_many_quarts_of_a_fluid_are_a_part_to_get() -> None:
    """ "two quarts of gear oil" was taken for a measure alone, and was missing from the shopping list."""
    from diary.language.reader import read
    from diary.language.types import Context

    def parts(text: str) -> list[tuple[str, str, int | None]]:
        return [(d.fields["name"], d.fields["state"], d.fields["count"]) for d in read(text, Context()) if d.kind == "parts"]

    assert parts("I need two quarts of gear oil") == [("gear oil", "needed", 2)]
    assert parts("ordered five litres of coolant") == [("coolant", "ordered", 5)]
    assert parts("topped it up with half a quart of gear oil") == []
