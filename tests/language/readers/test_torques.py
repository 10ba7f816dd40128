"""Torques, target and applied, and what goes with them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.language.readers.numeric_support import cases, differences, rows


@pytest.mark.parametrize("case", cases("torques"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    found = rows(case["text"], "torques", case["locale"], case["meters"])
    assert not differences(found, case["expect"]["torques"])


def roles(text: str) -> list[tuple[str, float, str]]:
    return sorted((t["role"], t["value"], t["unit"]) for t in rows(text, "torques"))


def test_the_book_and_the_hand() -> None:
    assert roles("lug nuts the placard says seventy five foot pounds and they got seventy five") == [
        ("applied", 75, "ft_lb"),
        ("target", 75, "ft_lb"),
    ]


def test_applied_without_a_number_of_its_own() -> None:
    text = "i read the pivot bolt is thirty three and the adjuster is fourteen and that is what they both got"
    assert roles(text) == [
        ("applied", 14, "ft_lb"),
        ("applied", 33, "ft_lb"),
        ("target", 14, "ft_lb"),
        ("target", 33, "ft_lb"),
    ]


def test_target_without_a_number_of_its_own() -> None:
    text = "tightened the tensioner bolt to thirty three foot pounds which is the number on the sticker"
    assert roles(text) == [("applied", 33, "ft_lb"), ("target", 33, "ft_lb")]


def test_what_others_say_is_no_target() -> None:
    text = (
        "fan bolts spec i read online is sixteen foot pounds the forum had people saying twenty so i went with sixteen"
    )
    assert roles(text) == [("applied", 16, "ft_lb"), ("target", 16, "ft_lb")]


def test_the_unit_of_the_same_fastener_carries() -> None:
    assert roles("bleeder screw is eighty inch pounds i read that online and did eighty") == [
        ("applied", 80, "in_lb"),
        ("target", 80, "in_lb"),
    ]


def test_corrected_unit() -> None:
    assert roles("glow plugs torqued to eighteen inch pounds no wait foot pounds it is foot pounds eighteen") == [
        ("applied", 18, "ft_lb")
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("hub bolts at forty five foot pounds with blue thread locker", True),
        ("put red threadlocker on both bracket bolts and tightened them to two ten", True),
        ("exhaust nuts at twelve dry", False),
        ("flange bolts at thirty five foot pounds no threadlocker", False),
        ("wheel nuts at ninety five", None),
    ],
)
def test_threadlocker(text: str, expected: bool | None) -> None:
    assert [t["threadlocker"] for t in rows(text, "torques")] == [expected]


def test_angle_and_washers() -> None:
    (torque,) = rows("flywheel bolts forty four foot pounds plus sixty degrees with new lock washers", "torques")
    assert torque["angle"] == 60 and torque["lock_washers"] is True


@pytest.mark.parametrize(
    "text",
    [
        "two of the four fan bolts came out with my fingers",
        "drain plug went in a quarter turn past snug",
        "hub bolts nine ninety nine each at the counter",
        "the carrier bolts i never touched so the 170 in the manual doesn't matter",
        "this noise is driving me nuts at forty five",
    ],
)
def test_no_torque(text: str) -> None:
    assert rows(text, "torques") == []
