"""Questions asked of marked talk (talk.py): a floor under those that may be looked at, and what was mended by them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from diary.assistant.answers import ask
from diary.assistant.questions import understand
from diary.records.diary import Diary
from tests.assistant.helpers import diary, draft, tell
from tests.assistant.talk import answered, asked, diary_of

FLOOR = 0.83


def test_questions_of_marked_talk(tmp_path: Path) -> None:
    rows = [r for r in asked() if not r["held"]]
    good = sum(ok for _, _, ok in answered(rows, tmp_path))
    assert good >= FLOOR * len(rows), f"{good} of {len(rows)}"


@pytest.fixture(scope="module")
def truck(tmp_path_factory: pytest.TempPathFactory) -> Diary:
    return diary_of("w1-04", tmp_path_factory.mktemp("talk") / "d.db")


@pytest.fixture(scope="module")
def van(tmp_path_factory: pytest.TempPathFactory) -> Diary:
    return diary_of("p6-03", tmp_path_factory.mktemp("talk") / "d.db")


def test_records_tell_which_of_two_readings_is_meant(truck: Diary) -> None:
    """`How much do you put on` is a price or a torque; only a torque of glow plugs is noted beside the count of the box."""
    answer = ask(truck, "how much do you put on a glow plug")
    assert answer.query is not None and answer.query.family == "torque"
    assert [v["value"] for v in answer.values] == [12]


def test_a_numbered_day_is_of_the_month_that_has_a_note_of_it(van: Diary) -> None:
    """Asked on March 24, "the twenty seventh" is February's: nothing is noted on March 27, and March 24 was a fill."""
    answer = ask(van, "how much diesel went in on the twenty seventh")
    assert [v["value"] for v in answer.values][:1] == [6.1]


def test_two_parts_named_are_summed(van: Diary) -> None:
    assert 47 in [v["value"] for v in ask(van, "what did the pads and the slider kit come to").values]


def test_what_can_not_be_worked_out_does_not_become_another_question(van: Diary) -> None:
    answer = ask(van, "what mpg did we get since the head gasket")
    assert not answer.certain and not answer.values and answer.query is not None and answer.query.family == "economy"


def test_up_to_before_and_is_no_window() -> None:
    query = understand("what did i do the keeper bolts up to and was there anything on the threads", date(2026, 3, 10))
    assert query.family == "torque" and not query.window.said


def test_what_was_wrong_is_a_fault_that_is_over(tmp_path: Path) -> None:
    """Found was the open "low on charge", called by a word of the same stem."""
    made, reader = diary(tmp_path)
    squeal = draft("faults", what="belt squeals", component="belt", event="found")
    tell(made, reader, "2026-05-01T18:00", "something is not charging and the belt squeals", squeal)
    thread = made.records("faults")[0].id
    fixed = draft("faults", what="belt squeals", component="belt", event="fixed", thread=thread)
    tell(made, reader, "2026-05-02T18:00", "the belt was slipping so a new belt and it is charging again", fixed)
    low = draft("faults", what="low on charge", event="found")
    tell(made, reader, "2026-05-09T18:00", "ac gauges say it is low on charge", low)
    assert "slipping" in ask(made, "what was wrong with the charging").answer
