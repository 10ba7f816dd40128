"""Whole turns: notes said back, questions asked once and settled by a word, corrections, undo and redo of anything.

Notes are read from drafts that the test gives, so that only the conversation is tested; a few turns at the end are
read for real.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from helpers import NOW, diary, draft, fill
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diary.assistant.conversation import Conversation, pick
from diary.records.diary import Diary
from diary.records.kinds import KINDS


def talk(
    folder: Path, notes: dict[str, list[Any]] | None = None, **machine: Any
) -> tuple[Conversation, Diary, dict[str, list[Any]]]:
    made, reader = diary(folder, **machine)
    reader.notes.update(notes or {})
    return Conversation(made), made, reader.notes


def standing(made: Diary) -> dict[str, Any]:
    """Every live record, for comparing."""
    return {r.id: repr(r) for kind in KINDS for r in made.records(kind)}


def test_a_note_is_said_back(tmp_path: Path) -> None:
    chat, _, _ = talk(tmp_path, {"filled it": fill(23.7, 105460.0)})
    turn = chat.turn("filled it")
    assert turn.kind == "note" and turn.asks is None
    assert turn.reply == "Fill of 23.7 gallons, full, odometer 105,460."


def test_a_missing_volume_is_asked_once_and_a_bare_number_settles_it(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"filled it to the brim": fill(None, 88410.0)})
    turn = chat.turn("filled it to the brim")
    assert turn.asks == {"for": "volume", "about": None} and turn.reply.endswith("How many gallons was it?")
    turn = chat.turn("sixteen point four")
    assert turn.asks is None and made.records("fills")[0].volume == 16.4
    assert made.gaps() == []


def test_one_thing_at_a_time(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"topped it off": fill(None)})
    assert chat.turn("topped it off").asks["for"] == "volume"  # type: ignore[index]
    assert chat.turn("five point one").asks["for"] == "odometer"  # type: ignore[index]
    turn = chat.turn("sixty one two ninety")
    assert turn.asks is None
    fill_now = made.records("fills")[0]
    assert (fill_now.volume, fill_now.odometer) == (5.1, 61290)
    assert [r.value for r in made.records("readings")] == [61290]


def test_not_known_is_an_answer(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"my wife filled it": fill(None, 52640.0)})
    chat.turn("my wife filled it")
    turn = chat.turn("no idea she did not keep the receipt")
    assert turn.kind == "deny" and turn.asks is None
    assert made.gaps() == [] and made.records("fills")[0].volume is None


def test_a_doubt_is_settled_by_a_number_by_yes_or_asked_again(tmp_path: Path) -> None:
    volts = draft("measures", quantity="voltage", value=142.0, unit="V", of="battery, engine running")
    chat, made, _ = talk(tmp_path, {"battery is at one forty two volts": [volts]})
    turn = chat.turn("battery is at one forty two volts")
    assert turn.asks == {"for": "voltage", "about": 142.0} and made.records("measures") == []
    turn = chat.turn("no")
    assert turn.kind == "deny" and turn.asks and turn.asks["for"] == "voltage"
    chat.turn("fourteen point two")
    assert [(m.value, m.of) for m in made.records("measures")] == [(14.2, "battery, engine running")]


def test_yes_means_it_was_right_as_said(tmp_path: Path) -> None:
    notes = {
        "a": [draft("readings", meter="odometer", value=71980.0, unit="mi", approx=False)],
        "b": [draft("readings", meter="odometer", value=112406.0, unit="mi", approx=False)],
    }
    chat, made, _ = talk(tmp_path, notes)
    chat.turn("a")
    turn = chat.turn("b")
    assert turn.asks == {"for": "confirm", "about": 112406.0}
    turn = chat.turn("yes")
    assert turn.kind == "confirm" and [r.value for r in made.records("readings")] == [71980, 112406]


def test_a_question_waits_while_other_things_are_said(tmp_path: Path) -> None:
    notes = {
        "tightened the pinion yoke bolts": [draft("work", action="tightened", component="pinion yoke bolts")],
        "there is a drip": [draft("faults", what="transfer case drips", component="transfer case", event="found")],
        "those yoke bolts were seventy five foot pounds": [
            draft("torques", fastener="yoke bolts", value=75.0, unit="ft_lb", role="applied")
        ],
    }
    chat, made, _ = talk(tmp_path, notes)
    assert chat.turn("tightened the pinion yoke bolts").asks["for"] == "torque"  # type: ignore[index]
    assert chat.turn("there is a drip").kind == "note"
    assert [g["wants"] for g in made.gaps()] == ["torque"]
    turn = chat.turn("those yoke bolts were seventy five foot pounds")
    assert turn.asks is None and made.gaps() == []
    assert made.records("torques")[0].fastener == "pinion yoke bolts"


def test_a_bare_number_answers_later_in_another_conversation(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"filled it to the brim": fill(None, 88410.0)})
    chat.turn("filled it to the brim")
    later = Conversation(made)
    later.turn("sixteen point four")
    assert made.records("fills")[0].volume == 16.4 and made.gaps() == []


def test_a_missing_volume_is_told_later_by_day(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"filled it to the brim": fill(None, 88410.0)})
    chat.turn("filled it to the brim", datetime(2026, 5, 22, 17))
    assert [g["wants"] for g in made.gaps()] == ["volume"]
    turn = Conversation(made).turn("the fill on friday was sixteen point four gallons")
    assert turn.kind == "correction" and made.records("fills")[0].volume == 16.4 and made.gaps() == []


def test_correction_undo_and_redo(tmp_path: Path) -> None:
    chat, made, _ = talk(
        tmp_path, {"wheel nuts": [draft("torques", fastener="wheel nuts", value=95.0, unit="ft_lb", role="applied")]}
    )
    chat.turn("wheel nuts")
    before = standing(made)
    turn = chat.turn("no one oh five")
    assert turn.kind == "correction" and made.records("torques")[0].value == 105
    assert "95" in turn.reply and "105" in turn.reply
    turn = chat.turn("no undo that i was right the first time")
    assert turn.kind == "undo" and turn.removed == "last correction" and standing(made) == before
    chat.turn("redo")
    assert made.records("torques")[0].value == 105
    turn = chat.turn("what did you change")
    assert turn.kind == "question" and turn.answer is not None


def test_scratch_that_takes_the_note_back_and_several_go_at_once(tmp_path: Path) -> None:
    notes = {
        "batt": [draft("measures", quantity="voltage", value=12.1, unit="V", of="battery")],
        "trip": [draft("readings", meter="trip", value=188.0, unit="mi", approx=False)],
    }
    chat, made, _ = talk(tmp_path, notes)
    chat.turn("batt")
    chat.turn("trip")
    turn = chat.turn("undo last 2")
    assert turn.removed == "last 2 notes" and standing(made) == {}
    assert chat.turn("undo").reply == "There is nothing to undo."


def test_delete_asks_first(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"a": fill(15.5, 70630.0), "b": fill(16.2, 70884.0)})
    chat.turn("a")
    chat.turn("b")
    turn = chat.turn("delete the last fill")
    assert turn.asks is not None and turn.asks["for"] == "confirm" and turn.asks["about"]["volume"] == 16.2
    assert len(made.records("fills")) == 2
    chat.turn("yes")
    assert [f.volume for f in made.records("fills")] == [15.5]
    chat.turn("undo")
    assert [f.volume for f in made.records("fills")] == [15.5, 16.2]


def test_no_to_a_delete_keeps_it(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"a": fill(15.5, 70630.0)})
    chat.turn("a")
    chat.turn("delete the last fill")
    assert chat.turn("no").kind == "deny" and len(made.records("fills")) == 1


def test_which_one_is_asked_and_answered(tmp_path: Path) -> None:
    notes = {
        "a": [draft("torques", fastener="water pump bolts", value=16.0, unit="ft_lb", role="applied")],
        "b": [draft("torques", fastener="alternator bracket bolts", value=33.0, unit="ft_lb", role="applied")],
    }
    chat, _, _ = talk(tmp_path, notes)
    chat.turn("a")
    chat.turn("b")
    turn = chat.turn("what did i torque the bolts to")
    assert turn.asks is not None and turn.asks["for"] == "which bolts"
    turn = chat.turn("the water pump")
    assert turn.kind == "confirm" and turn.answer is not None and turn.answer.values[0]["value"] == 16


def test_wake_pause_and_talk_that_is_not_for_the_diary(tmp_path: Path) -> None:
    chat, made, _ = talk(
        tmp_path, {"the oil drain plug is loose": [draft("faults", what="drain plug loose", event="found")]}
    )
    assert chat.turn("stop listening").listening is False
    turn = chat.turn("i paid twelve dollars for lunch")
    assert turn.kind == "chatter" and not turn.listening
    assert made.notes(turn=None) == []  # what is said while it does not listen is not even kept
    turn = chat.turn("hey diary the oil drain plug is loose")
    assert turn.listening and turn.kind == "note" and len(made.records("faults")) == 1
    assert chat.turn("okay be quiet").speaking is False


def test_chatter_is_kept_as_a_note_without_records(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path)
    turn = chat.turn("the kettle is on")
    assert turn.kind == "chatter" and turn.reply == "" and standing(made) == {}
    assert [n.text for n in made.notes()] == ["the kettle is on"]


def test_a_wording_not_understood_offers_two_readings(tmp_path: Path) -> None:
    chat, _, _ = talk(tmp_path)
    turn = chat.turn("what about the flibbertigibbets")
    if turn.asks and turn.asks["for"] == "which question":
        assert len(turn.asks["about"]) == 2


def test_read_back(tmp_path: Path) -> None:
    chat, _, _ = talk(
        tmp_path, {"a": [draft("torques", fastener="caliper pins", value=27.0, unit="ft_lb", role="applied")]}
    )
    chat.turn("a")
    assert chat.turn("read that back").reply == "Caliper pins 27 foot pounds."


def test_a_correction_survives_reading_again(tmp_path: Path) -> None:
    chat, made, _ = talk(tmp_path, {"filled it": fill(23.7, 105460.0)})
    chat.turn("filled it")
    chat.turn("no make that twenty three point one")
    made.reread()
    assert [f.volume for f in made.records("fills")] == [23.1]


def test_pick() -> None:
    options = ["water pump bolts", "alternator bracket bolts"]
    assert pick(["the", "second", "one"], options) == 1
    assert pick(["the", "water", "pump"], options) == 0
    assert pick(["the", "bolts"], options) is None


# -- any sequence of undo and redo returns to the same records
# ---------------------------------------------------------------------

SAYINGS = {
    "f1": fill(12.0, 61000.0),
    "f2": fill(13.1, 61200.0),
    "f3": fill(None, 61400.0),
    "t1": [draft("torques", fastener="wheel nuts", value=95.0, unit="ft_lb", role="applied")],
    "m1": [draft("measures", quantity="voltage", value=142.0, unit="V", of="battery")],
    "x1": [draft("faults", what="horn dead", component="horn", event="found")],
    "p1": [draft("parts", name="ball joints", state="needed", count=2.0)],
}
STEPS = [
    *SAYINGS,
    "no ninety six",
    "eleven point four",
    "make that twelve point six",
    "yes",
    "no",
    "sorry it was thirteen",
]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.sampled_from(STEPS), min_size=1, max_size=6), st.data())
def test_undo_and_redo_return_to_the_same_records(tmp_path_factory: Any, steps: list[str], data: Any) -> None:
    chat, made, _ = talk(tmp_path_factory.mktemp("d"), dict(SAYINGS))
    states = [standing(made)]
    for step in steps:
        count = len([e for e in made.history(10_000) if e.what not in made.NOT_UNDONE_ALONE])
        chat.turn(step)
        now = len([e for e in made.history(10_000) if e.what not in made.NOT_UNDONE_ALONE])
        if now > count:
            states.append(standing(made))
        else:
            states[-1] = standing(made)
    place = len(states) - 1
    for _ in range(data.draw(st.integers(1, 8))):
        if data.draw(st.booleans()):
            n = data.draw(st.integers(1, 3))
            chat.turn(f"undo last {n}")
            place = max(0, place - n)
        elif place < len(states) - 1:
            chat.turn("redo")
            place += 1
        assert standing(made) == states[place]


def test_real_notes_end_to_end(tmp_path: Path) -> None:
    """With the language room's own readers."""
    made = Diary.open(tmp_path / "d.db", now=lambda: datetime(2026, 5, 27, 18))
    chat = Conversation(made)
    turn = chat.turn("filled it to the brim fourteen point two gallons odometer eighty seven thousand four oh nine")
    assert "14.2 gallons" in turn.reply and "87,409" in turn.reply
    chat.turn("no make that thirteen point two")
    assert made.records("fills")[0].volume == 13.2
    assert NOW
