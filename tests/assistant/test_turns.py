"""Kinds of turns by their words: commands, yes and no, questions, and talk that is none of these."""

from __future__ import annotations

import pytest

from diary.assistant import turns
from diary.assistant.words import words


@pytest.mark.parametrize(
    ("said", "name", "n"),
    [
        ("scratch that", "undo", 1),
        ("undo", "undo", 1),
        ("undo last 2", "undo", 2),
        ("undo the last three", "undo", 3),
        ("forget i said that it is my neighbors car i was hearing", "undo", 1),
        ("no wait redo it", "redo", 1),
        ("no undo that i was right the first time", "undo", 1),
        ("take that back please", "undo", 1),
        ("put that back", "redo", 1),
        ("stop listening", "pause", 1),
        ("hold on a minute", "pause", 1),
        ("Hang on.", "pause", 1),
        ("okay be quiet", "quiet", 1),
        ("read that back", "read_back", 1),
        ("what did you write down", "read_back", 1),
        ("right carry on", "resume", 1),
    ],
)
def test_commands(said: str, name: str, n: int) -> None:
    command = turns.command(said)
    assert command is not None and (command.name, command.n) == (name, n)


@pytest.mark.parametrize(
    "said",
    [
        "hang on the dog is in the garage",
        "hold on to the wrench and pull",
        "undone two of the bolts",
        "the pump quit and i put it back in",
        "stop light is out",
        "i carried on with the brakes",
        "wait for the paint to dry before i fit it",
        "read the gauge at forty psi",
        "dropped the last bolt into the frame",
    ],
)
def test_talk_that_only_begins_like_a_command(said: str) -> None:
    assert turns.command(said) is None


def test_delete_names_what() -> None:
    command = turns.command("delete the last fill")
    assert command is not None and (command.name, command.kind) == ("delete", "fills")
    command = turns.command("remove that torque")
    assert command is not None and command.kind == "torques"


def test_wake_and_pause_phrases_can_be_a_persons_own() -> None:
    assert turns.wake("hey diary the oil drain plug is loose") == (True, "the oil drain plug is loose")
    assert turns.wake("hey diary") == (True, "")
    assert turns.wake("the diary is on the bench") == (False, "the diary is on the bench")
    assert turns.wake("computer odometer 400", ["computer"]) == (True, "odometer 400")
    command = turns.command("enough for today", True, ["enough for today"])
    assert command is not None and command.name == "pause"


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ("yes", "yes"),
        ("yeah that is right", "yes"),
        ("yep", "yes"),
        ("Correct.", "yes"),
        ("no", "no"),
        ("nope", "no"),
        ("no that's wrong", "no"),
    ],
)
def test_yes_and_no(said: str, word: str) -> None:
    found = turns.yes_no([w.text for w in words(said)])
    assert found is not None and found[0] == word


@pytest.mark.parametrize(
    "said",
    [
        "what did we get on the last tank",
        "whats still open",
        "How tight are the guide pins?",
        "did i ever fix the horn",
        "is the clutch slipping",
        "when did it come back",
        "so what is that in foot pounds",
        "can you tell me what i torqued the pump bolts to",
        "any faults open",
        "have i ordered the belt",
        "show me the torques",
        "has the leak been fixed",
        "tell me about the shimmy",
    ],
)
def test_questions(said: str) -> None:
    assert turns.is_question(said)


@pytest.mark.parametrize(
    "said",
    [
        "did the sump plug up to thirty newton metres",
        "when i got home the brakes were hot",
        "which explains the noise",
        "what happened is the jug tipped over",
        "filled it up at the corner pump",
        "how about that it started",
        "is hard to start when cold",
        "and thirteen point nine with the lights on",
        "the horn works again it was a loose plug",
        "should have filmed that",
    ],
)
def test_statements_are_no_questions(said: str) -> None:
    assert not turns.is_question(said)


def test_a_short_follow_up_asks_only_after_a_question() -> None:
    assert turns.is_question("and the one before", after_question=True)
    assert not turns.is_question("and the one before", after_question=False)
    assert not turns.is_question("and twelve gallons", after_question=True)


@pytest.mark.parametrize(
    "text",
    [
        "that pump thing is it done with",
        "the exhaust did i ever get round to it",
        "them trailer lights what was it",
        "the rear pads how thin are they",
        "since when has it been coughing again",
        "tot up the bits for me",
        "ball joint how much was that",
    ],
)
def test_the_thing_named_before_it_is_asked_of(text: str) -> None:
    assert turns.is_question(text)


@pytest.mark.parametrize(
    "text",
    [
        "the first gear was stiff and so did i leave it",
        "dunno what it is it leaks",
        "i put the pump back and did it up tight",
        "said the seal was bad and was it ever",
        "new plugs in and it runs so is it the coil no",
        "oil changed today brakes done",
    ],
)
def test_notes_that_turn_a_verb_stay_notes(text: str) -> None:
    assert not turns.is_question(text)
