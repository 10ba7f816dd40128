"""Questions that lean on the one before, also where each is asked by a program of its own (`diary ask`)."""

from __future__ import annotations

import sqlite3
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from diary.assistant.answers import REMEMBERED, ask_on
from diary.records.diary import Diary
from tests.assistant.helpers import diary, draft, fill, tell

NOW = datetime(2026, 5, 27, 18, 0)


@pytest.fixture
def asked(tmp_path: Path):
    """Ask a question so many minutes after NOW, each time with the diary opened anew."""
    made, reader = diary(tmp_path)
    tell(made, reader, "2026-04-10T09:00", "april fill", *fill(10, 60_000, price_total=40.0))
    tell(made, reader, "2026-05-10T09:00", "may fill", *fill(11, 60_200, price_total=44.0))
    tell(
        made, reader, "2026-05-11T09:00", "front tires 32 rear tires 36",
        draft("measures", "front tires 32", quantity="pressure", value=32.0, unit="psi", of="front tires"),
        draft("measures", "rear tires 36", quantity="pressure", value=36.0, unit="psi", of="rear tires"),
    )  # fmt: skip
    tell(
        made, reader, "2026-05-12T09:00", "lug nuts ninety five",
        draft("torques", "lug nuts", fastener="lug nuts", value=95.0, unit="ft_lb", role="applied"),
        draft("torques", "pan bolts", fastener="pan bolts", value=12.0, unit="ft_lb", role="applied"),
    )  # fmt: skip
    made.close()

    def put(question: str, minutes: float = 0.0) -> str:
        now = NOW + timedelta(minutes=minutes)
        again = Diary.open(tmp_path / "d.db", now=lambda: now)
        told = ask_on(again, question, now).answer
        again.close()
        return told

    return put


def test_a_month_before(asked) -> None:
    assert "$44" in asked("what did i spend on gas this month")
    assert "$40" in asked("and last month?", 1)


def test_the_rear_ones(asked) -> None:
    assert "32 psi" in asked("what are the front tires at")
    assert "36 psi" in asked("what about the rear ones?", 2)


def test_another_thing_of_the_same_kind(asked) -> None:
    assert "95 foot pounds" in asked("what did i torque the lug nuts to")
    assert "12 foot pounds" in asked("and the pan bolts", 3)
    assert "16.3 newton metres" in asked(
        "what is that in newton metres", 4
    )  # 12 × 1.3558 (NIST SP 811, foot pound-force)


def test_a_chain_of_three(asked) -> None:
    asked("what did i spend on gas this month")
    asked("and last month?", 4)
    assert "$44" in asked("and in may?", 8)


def test_after_ten_minutes_it_is_forgotten(asked) -> None:
    asked("what did i spend on gas this month")
    late = REMEMBERED.total_seconds() / 60 + 1
    assert "$40" not in asked("and last month?", late)


def test_a_question_of_its_own_does_not_lean(asked) -> None:
    asked("what are the front tires at")
    assert "95 foot pounds" in asked("what did i torque the lug nuts to", 1)


def test_questions_are_no_part_of_the_history(tmp_path: Path, asked) -> None:
    asked("what did i spend on gas this month")
    made = Diary.open(tmp_path / "d.db", now=lambda: NOW)
    assert not any(e.what == "question" for e in made.history(20))
    assert len(made.notes()) == 4
    made.close()


def test_a_file_that_cannot_be_written_still_answers(tmp_path: Path, asked, monkeypatch: pytest.MonkeyPatch) -> None:
    made = Diary.open(tmp_path / "d.db", now=lambda: NOW)
    made._conn.execute("PRAGMA query_only=ON")
    assert "$44" in ask_on(made, "what did i spend on gas this month", NOW).answer
    made.close()
    assert sqlite3.connect(tmp_path / "d.db").execute("PRAGMA integrity_check").fetchone() == ("ok",)
