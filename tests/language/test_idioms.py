"""Turns of phrase: the little syntax, and where they are found."""

from __future__ import annotations

import pytest

from diary.language.idioms import Idioms, line
from diary.language.text import tokens


def found(phrase: str, text: str, **classes: list[str]) -> list[str]:
    idioms = Idioms({"group": [phrase]}, classes)
    return [text[f.start : f.end] for f in idioms.find(line(text, tokens(text)), "group")]


@pytest.mark.parametrize(
    ("phrase", "text", "expected"),
    [
        ("false alarm", "Well, false alarm on the tick", ["false alarm"]),
        ("that was [it|all]", "so that was it", ["that was it"]),
        ("that was [it|all]", "so that was close", []),
        ("is (all|well) fixed", "it is fixed and that is all fixed", ["is fixed", "is all fixed"]),
        ("call it _", "call it done now", ["call it done"]),
        ("call __ fixed", "call that hub seal fixed", ["call that hub seal fixed"]),
        ("call __ fixed", "call that old leaky hub seal fixed", []),
        ("_ing again", "it is dripping again", ["dripping again"]),
        ("wont start", "It won't start", ["won't start"]),
        ("smooth at", "tyre is smooth. At sixty it sings", []),
    ],
)
def test_syntax(phrase: str, text: str, expected: list[str]) -> None:
    assert found(phrase, text) == expected


def test_classes_stand_for_their_words() -> None:
    assert found("<not> charging", "it does not charging isnt charging", **{"not": ["isnt", "is not"]}) == [
        "isnt charging"
    ]
