"""The hands-free loop, with a recogniser that plays a part, so that each rule is seen alone; sound is real speech."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from diary.speech import audio, listening, rolling
from diary.speech.listening import Echo, Listener, Settings
from diary.speech.recogniser import Segment, Word
from tests.speech.conftest import silence, tone


class Plays:
    """Hears the texts it was given, one an utterance, whatever the sound."""

    name, model = "plays", "a part"

    def __init__(self, *texts: str) -> None:
        self.texts = list(texts)
        self.known: dict[int, str] = {}

    def utterance(self, samples: np.ndarray, *, bias: Sequence[str] = ()) -> Segment | None:
        key = hash(samples[:4000].tobytes())
        if key not in self.known:
            self.known[key] = self.texts.pop(0) if self.texts else ""
        words = tuple(Word(w, i * 0.1, i * 0.1 + 0.1, 0.9) for i, w in enumerate(self.known[key].split()))
        return Segment(words, 0.0, 0.1 * len(words), self.known[key]) if words else None

    def transcribe(self, audio: Any, *, bias: Sequence[str] = (), progress: Any = None) -> Iterator[Segment]:
        yield from ()


class Desk:
    """Takes turns, remembers them, answers what it is told to."""

    def __init__(self, *replies: str | None) -> None:
        self.replies, self.said, self.at = list(replies), [], []  # type: ignore[var-annotated]
        self.spoken: list[listening.Spoken] = []

    def __call__(self, text: str, spoken: listening.Spoken) -> str | None:
        self.said.append(text)
        self.spoken.append(spoken)
        return self.replies.pop(0) if self.replies else None


class Box:
    """A loudspeaker that plays for as long as it is told to, and a voice that says nothing audible."""

    name, rate = "box", 16_000

    def __init__(self) -> None:
        self.playing, self.loudness, self.stopped = False, 0.0, 0
        self.log: list[str] = []

    def say(self, text: str) -> Iterator[np.ndarray]:
        self.log.append(text)
        return iter(())

    def play(self, sound: Iterable[np.ndarray], rate: int) -> None:
        if not isinstance(sound, list):
            self.playing = True

    def stop(self) -> None:
        self.playing = False
        self.stopped += 1

    def envelope(self) -> float:
        return self.loudness


@pytest.fixture(scope="module")
def talk(piper):
    """Distinct utterances of a second or two."""
    return [
        piper(t)
        for t in (
            "open the notebook",
            "the belt is fine",
            "the front tires are at thirty",
            "close the notebook",
            "odometer is ninety",
        )
    ]


def session(
    turn: Desk, plays: Plays, tmp_path: Path, sounds: Sequence[np.ndarray], *, gap: float = 2.2, **more: Any
) -> Listener:
    """Run `sounds` with silences between them through a listener; gives it back."""
    log = rolling.Roll(tmp_path)
    listener = Listener(turn, plays, log, live=more.pop("live", False), **more)
    parts = [silence(0.6)]
    for sound in sounds:
        parts += [sound, silence(gap)]
    whole = np.concatenate(parts)
    listener.run(whole[at : at + 1024] for at in range(0, whole.size, 1024))
    log.close()
    return listener


def test_nothing_is_written_before_the_wake_phrase_and_after_the_stop_phrase(talk, tmp_path: Path) -> None:
    desk = Desk()
    plays = Plays("his belt is fine", "Open the notebook.", "tires at 30", "close the notebook", "odometer is 90")
    listener = session(desk, plays, tmp_path, [talk[1], talk[0], talk[2], talk[3], talk[4]])
    assert desk.said == ["tires at 30"]
    assert listener.mode == "asleep"


def test_what_follows_the_wake_phrase_in_one_breath_counts(talk, tmp_path: Path) -> None:
    desk = Desk()
    session(desk, Plays("Open the note book, tires at 30."), tmp_path, [talk[0]])
    assert desk.said == ["tires at 30."]


def test_phrases_can_be_ones_own(talk, tmp_path: Path) -> None:
    desk = Desk()
    mine = Settings(phrases={"wake": ["good morning garage"]})
    session(desk, Plays("open the notebook", "good morning garage", "tires at 30"), tmp_path, talk[:3], settings=mine)
    assert desk.said == ["tires at 30"]


def test_always_needs_no_wake_phrase_and_repairs_are_told(talk, tmp_path: Path) -> None:
    desk, told = Desk(), []
    session(
        desk,
        Plays("oh dominator says 87406"),
        tmp_path,
        talk[1:2],
        settings=Settings(always=True),
        tell=lambda k, t: told.append((k, t)),
    )
    assert desk.said == ["odometer says 87406"]
    assert desk.spoken[0].text == "oh dominator says 87406" and desk.spoken[0].at is not None
    assert ("repaired", '"oh dominator" read as "odometer"') in told


def test_dictation_goes_on_through_pauses(talk, tmp_path: Path) -> None:
    desk, box = Desk("noted"), Box()
    plays = Plays("take it all down", "the belt is fine and the tires are at 30", "that is the whole note")
    listener = session(
        desk, plays, tmp_path, [talk[3], np.concatenate([talk[1], silence(1.7), talk[2]]), talk[0]], gap=2.6,
        settings=Settings(always=True), sink=box, voice=box, live=False,
    )  # fmt: skip
    assert desk.said == ["the belt is fine and the tires are at 30"]
    assert listener.mode == "awake" and "noted" not in box.log


def test_pause_and_resume_by_voice(talk, tmp_path: Path) -> None:
    desk = Desk()
    plays = Plays("close your ears", "a secret", "open your ears", "tires at 30")
    session(desk, plays, tmp_path, [talk[3], talk[1], talk[0], talk[2]], settings=Settings(always=True))
    assert desk.said == ["tires at 30"]


def test_a_reply_is_said_again_when_asked(talk, tmp_path: Path) -> None:
    desk, box = Desk("Thirty two point one miles to the gallon."), Box()
    box.stop_after = 0  # type: ignore[attr-defined]

    class Quick(Box):
        def play(self, sound: Iterable[np.ndarray], rate: int) -> None:
            return None

    box = Quick()
    session(
        desk,
        Plays("economy", "say that again"),
        tmp_path,
        talk[1:3],
        settings=Settings(always=True),
        sink=box,
        voice=box,
    )
    assert box.log == ["Thirty two point one miles to the gallon."] * 2


def test_somebody_who_speaks_stops_the_reply(talk, tmp_path: Path) -> None:
    desk, box = Desk("a long reply"), Box()
    told: list[str] = []
    session(
        desk, Plays("economy", "no, stop, tires at 30"), tmp_path, [talk[1], talk[2]], settings=Settings(always=True),
        sink=box, voice=box, live=True, tell=lambda k, _t: told.append(k),
    )  # fmt: skip
    assert "barge-in" in told and box.stopped == 1
    assert desk.said == ["economy", "no, stop, tires at 30"]


def test_it_does_not_hear_itself() -> None:
    """Echo at a steady fraction of what is played is no speech, however loud; a person on top of it is."""
    rng = np.random.default_rng(1)
    echo = Echo()
    own = [tone(0.032) * g for g in rng.uniform(0.5, 1.0, 200)]
    heard = [echo.louder(0.3 * step, float(np.mean(step * step))) for step in own]
    assert not any(heard)
    person = 0.5 * rng.standard_normal(512).astype(np.float32)
    assert echo.louder(0.3 * own[0] + person, float(np.mean(own[0] ** 2)))


def test_its_own_reply_through_the_microphone_is_no_turn(talk, tmp_path: Path) -> None:
    desk = Desk("The front tires want thirty psi.")

    class Quick(Box):
        def play(self, sound: Iterable[np.ndarray], rate: int) -> None:
            self.playing = False

    box = Quick()
    listener = session(
        desk, Plays("tire pressure", "front tires want thirty psi"), tmp_path, [talk[1], talk[2]], gap=1.6,
        settings=Settings(always=True), sink=box, voice=box,
    )  # fmt: skip
    assert listener._is_own("front tires want thirty psi", listener.reply_ended + 0.5)
    assert not listener._is_own("rear tires are at twenty", listener.reply_ended + 0.5)


class Streams(Plays):
    """A second recogniser that streams; it heard this."""

    def stream(self, phrases: Sequence[str] = ()) -> Streams:
        self.phrases = list(phrases)
        return self

    def accept(self, block: np.ndarray) -> str:
        return self.texts[0].split()[0]

    def finish(self) -> Segment:
        text = self.texts.pop(0)
        return Segment((Word(text, 0, 1, 0.8),), 0, 1, text)


def test_where_two_recognisers_hear_different_figures_it_asks(talk, tmp_path: Path) -> None:
    desk, box = Desk(), Box()
    box.play = lambda sound, rate: None  # type: ignore[method-assign]
    told: list[tuple[str, str]] = []
    session(
        desk, Plays("the trip is at 442.5", "it was four forty two point five"), tmp_path, [talk[1], talk[2]],
        streaming=Streams("the trip is at four fifty two point five", "four forty two point five"),
        settings=Settings(always=True), sink=box, voice=box, tell=lambda k, t: told.append((k, t)),
    )  # fmt: skip
    assert box.log == ["Was that 4525 or 4425?"]
    assert desk.said == ["the trip is at 442.5"]
    assert ("partial", "the") in told


def test_the_same_figures_in_words_and_digits_are_not_asked_about(talk, tmp_path: Path) -> None:
    desk = Desk()
    session(
        desk, Plays("odometer 87,409"), tmp_path, talk[1:2], streaming=Streams("odometer eighty seven four oh nine"),
        settings=Settings(always=True),
    )  # fmt: skip
    assert desk.said == ["odometer 87,409"]


def test_a_doubt_nobody_answers_is_kept_as_unsure(talk, tmp_path: Path) -> None:
    desk = Desk()
    session(
        desk, Plays("the trip is at 442.5"), tmp_path, talk[1:2], streaming=Streams("the trip is at four fifty"),
        settings=Settings(always=True),
    )  # fmt: skip
    assert desk.said == ["the trip is at 442.5"]
    assert min(word.confidence for word in desk.spoken[0].words) <= 0.3


def test_where_an_answer_is_expected_the_list_is_closed(talk, tmp_path: Path) -> None:
    desk, streams = Desk("How many gallons?"), Streams("filled it", "twelve")
    box = Box()
    box.play = lambda sound, rate: None  # type: ignore[method-assign]
    session(
        desk,
        Plays("filled it", "12"),
        tmp_path,
        talk[1:3],
        streaming=streams,
        settings=Settings(always=True),
        sink=box,
        voice=box,
    )
    assert "twelve" in streams.phrases and "yes" in streams.phrases


def test_too_much_noise_is_told_once(talk, tmp_path: Path) -> None:
    desk, told = Desk(), []
    rng = np.random.default_rng(2)
    loud = [t + 0.11 * rng.standard_normal(t.size).astype(np.float32) for t in talk]
    log = rolling.Roll(tmp_path)
    listener = Listener(
        desk, Plays("one", "two", "three"), log, settings=Settings(always=True), tell=lambda k, t: told.append((k, t))
    )
    parts = []
    for sound in loud[1:4]:
        parts += [0.11 * rng.standard_normal(24_000).astype(np.float32), sound]
    whole = np.concatenate([*parts, 0.11 * rng.standard_normal(40_000).astype(np.float32)])
    listener.run(whole[at : at + 1024] for at in range(0, whole.size, 1024))
    log.close()
    assert [t for k, t in told if k == "noise"] == ["It is too loud here; come closer, please."]


def test_after_a_crash_the_rest_is_heard_again(talk, tmp_path: Path) -> None:
    """The first note was written; the second was said, then the power went (the roll is never closed)."""
    log = rolling.Roll(tmp_path)
    log.note(mode="awake")
    first = np.concatenate([silence(0.5), talk[1], silence(2.0)])
    second = np.concatenate([talk[2], silence(0.7)])
    for sound in (first, second):
        for at in range(0, sound.size, 1024):
            log.write(sound[at : at + 1024])
        if sound is first:
            log.handled(log.seconds)
    del log
    desk = Desk()
    assert listening.recover(tmp_path, desk, Plays("tires at 30")) == 1
    assert desk.said == ["tires at 30"] and desk.spoken[0].recovered
    assert desk.spoken[0].start > first.size / audio.RATE - 0.5
    assert listening.recover(tmp_path, desk, Plays("again")) == 0


def test_a_recording_in_the_place_of_the_microphone(piper, tmp_path: Path) -> None:
    """The real recogniser, a sound file, no loudspeaker: wake, say, stop."""
    sound = np.concatenate(
        [
            silence(0.4),
            piper("open the notebook"),
            silence(1.8),
            piper("the front tires are at thirty one psi"),
            silence(2),
        ]
    )
    audio.write_wav(tmp_path / "m.wav", sound)
    desk = Desk()
    assert (
        listening.run(
            desk, sound=tmp_path / "m.wav", quiet=True, folder=tmp_path / "roll", speed=0.0, tell=lambda *_: None
        )
        == 0
    )
    assert len(desk.said) == 1 and "thirty one" in desk.said[0]
    assert rolling.unfinished(tmp_path / "roll") == []
