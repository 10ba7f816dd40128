"""Pressures, voltages, temperatures, lengths and the rest, with and without their units."""

from __future__ import annotations

from typing import Any

import pytest

from tests.language.readers.numeric_support import cases, differences, rows

METRIC = {"distance": "km", "volume": "L", "torque": "N_m", "pressure": "bar"}


@pytest.mark.parametrize("case", cases("measures"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    found = rows(case["text"], "measures", case["locale"], case["meters"])
    assert not differences(found, case["expect"]["measures"])


def values(text: str, quantity: str, locale: dict[str, str] | None = None) -> list[float]:
    return [m["value"] for m in rows(text, "measures", locale) if m["quantity"] == quantity]


def test_bare_pressures_take_the_machines_unit() -> None:
    found = rows("front tyres at 2.2, rears at 2.5", "measures", METRIC)
    assert [(m["value"], m["unit"]) for m in found] == [(2.2, "bar"), (2.5, "bar")]


def test_places_alone_continue_the_pressures() -> None:
    text = "tire pressures front left thirty one right thirty three both rears thirty five so i set them to thirty two"
    assert values(text, "pressure") == [31, 33, 35, 32]


def test_a_series_stays_with_its_quantity() -> None:
    assert values("3 mm on the left pad and 4 on the right", "length", METRIC) == [3, 4]


def test_a_fuse_rating_is_a_current() -> None:
    assert values("dome light fuse is a blown ten amp put a new ten in", "current") == [10]


def test_speeds_at_which_a_trouble_comes() -> None:
    assert values("shimmy comes in at fifty five and it is gone by sixty five", "speed") == [55, 65]
    assert values("the limit is fifty five and everybody was going eighty", "speed") == []


def test_oil_topped_up_is_a_volume() -> None:
    (measure,) = rows("topped it up with half a quart of gear oil", "measures")
    assert (measure["quantity"], measure["value"], measure["unit"]) == ("volume", 0.5, "qt_us")


def test_what_it_should_be_was_not_measured() -> None:
    assert values("fuel pressure went down to six psi on the hill and it should sit around fifteen", "pressure") == [6]


def test_lowest_that_a_gauge_went_counts_though_never_is_said() -> None:
    assert values("fuel pressure was fifteen psi and the gauge never went under fourteen", "pressure") == [15, 14]


@pytest.mark.parametrize(
    "text",
    [
        "found the ten millimeter socket",
        "ordered a twenty two inch wiper blade",
        "it rained an inch and a quarter",
        "waited 25 minutes at the counter",
    ],
)
def test_no_measure(text: str) -> None:
    assert rows(text, "measures") == []
