"""Marked talk: braces say what a stretch of a note is."""

from __future__ import annotations

import pytest

from diary.errors import DiaryError
from diary.language.markup import Stretch, read, unmark
from tests.narrations.marked import labelled

TALK = """\
=== a1 | old pickup, petrol V8 | asr-words | mi gal_us ft_lb psi
--- 2026-03-04T18:10
the {fault#seal {c rear main seal} is weeping} it can wait so i {work.replaced swapped the {part.fitted {c fan belt}}}
and {plan look at the tensioner on friday}
= measure pressure 32 psi left front tire
--- 2026-03-09T08:00
{closed#seal dry as a bone under there}
= fill 14.2 gal_us brim price=52.10 odometer=141203
"""


@pytest.fixture
def talk(tmp_path):
    path = tmp_path / "talk.txt"
    path.write_text(TALK, encoding="utf-8")
    return path


def test_braces_leave_the_text_and_become_stretches():
    text, stretches = unmark("i {work.replaced swapped the {c fan belt}} today")
    assert text == "i swapped the fan belt today"
    assert stretches == [Stretch("work", 2, 22, "replaced"), Stretch("c", 14, 22, parent=0)]


def test_lines_of_a_note_are_joined_and_their_stretches_moved(talk):
    (diary,) = read(talk)
    note = diary.notes[0]
    plan = next(s for s in note.stretches if s.kind == "plan")
    assert note.text[plan.start : plan.end] == "look at the tensioner on friday"
    assert [s.kind for s in note.inside(2)] == ["part", "c"]


def test_marked_talk_becomes_a_labelled_diary(talk):
    gold = labelled(read(talk)[0])
    assert gold["gold"]["faults"] == [
        {"what": "rear main seal is weeping", "component": "rear main seal", "where": None,
         "opened_in_note": 0, "closed_in_note": 1, "came_back_in_note": None, "ruled_out": False}
    ]  # fmt: skip
    assert gold["gold"]["work"] == [{"note": 0, "action": "replaced", "component": "fan belt"}]
    assert gold["gold"]["measures"][0] == {"note": 0, "quantity": "pressure", "value": 32.0, "unit": "psi", "of": "left front tire"}
    assert gold["gold"]["readings"] == [{"note": 1, "meter": "odometer", "value": 141203.0}]
    assert gold["final"]["open_faults"] == []


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{fault the seal}", "needs the thread"),
        ("{wrok.fitted a belt}", "is no kind"),
        ("{work.sung a belt}", "use one of"),
        ("a belt}", "without an opening"),
        ("{plan a belt", "is not closed"),
    ],
)
def test_a_wrong_mark_is_named_with_its_line(tmp_path, line, says):
    path = tmp_path / "bad.txt"
    path.write_text(f"=== a | b | typed | mi\n--- 2026-01-01T10:00\n{line}\n", encoding="utf-8")
    with pytest.raises(DiaryError, match=f"bad.txt line 3: .*{says}"):
        read(path)
