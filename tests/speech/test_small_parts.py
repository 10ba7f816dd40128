"""Figures, phrases, noise, cues, voices: the small parts of listening."""

from __future__ import annotations

import math
import shutil

import numpy as np
import pytest

from diary.errors import DiaryError
from diary.speech import listening, microphone, noise, voice
from diary.speech.audio import RATE
from diary.speech.figures import differing, figures
from diary.speech.phrases import Phrases
from tests.speech.conftest import silence, tone


@pytest.mark.parametrize(
    ("text", "digits"),
    [
        ("eighty seven thousand four oh six", ["87406"]),
        ("eighty seven four oh nine", ["87409"]),
        ("87,409", ["87409"]),
        ("three eighty nine and 3.89", ["389", "389"]),
        ("a hundred and forty", ["140"]),
        ("one twenty five foot pounds", ["125"]),
        ("two hundred twelve thousand six hundred and four", ["212604"]),
        ("twelve oh four", ["1204"]),
        ("no figures here", []),
    ],
)
def test_figures_are_the_same_in_words_and_digits(text: str, digits: list[str]) -> None:
    assert figures(text) == digits


def test_only_the_figures_that_differ_are_named() -> None:
    assert differing("trip 44.5 and 95", "trip forty two point five and ninety five") == [("445", "425")]
    assert differing("at fifteen", "at fifty") == [("15", "50")]
    assert differing("ninety five", "95") == []


def test_a_phrase_is_known_by_its_sound() -> None:
    known = Phrases()
    for heard in (
        "Open the notebook.",
        "open the note book",
        "Open the notebookes",
        "well open the notebook, tires at 30",
    ):
        told = known.find(heard, ["wake"], anywhere=True)
        assert told is not None and told.meaning == "wake", heard
    assert known.find("the notebook is dirty", ["wake"], anywhere=True) is None
    told = known.find("the seal is wet. Close the notebook.", ["stop"])
    assert told is not None and told.before == "the seal is wet"
    assert known.find("close the door and open the window", ["stop", "pause"]) is None


def test_levels_are_decibels_below_full_scale() -> None:
    assert noise.level(np.ones(100, np.float32)) == pytest.approx(0.0)
    assert noise.level(tone(1.0) / 0.3) == pytest.approx(
        20 * math.log10(1 / math.sqrt(2)), abs=0.01
    )  # a full sine: -3.01 dB
    assert noise.level(silence(1.0)) == noise.SILENT


def test_rumble_is_taken_off_and_nothing_is_lost() -> None:
    def through(sound: np.ndarray) -> np.ndarray:
        return np.concatenate(list(noise.cleaned(sound[at : at + 1000] for at in range(0, sound.size, 1000))))

    rumble, voice_band = tone(2.0, 30.0), tone(2.0, 300.0)
    assert through(rumble).size == rumble.size
    assert noise.level(through(rumble)[8000:]) < noise.level(rumble) - 15
    assert noise.level(through(voice_band)[8000:]) == pytest.approx(noise.level(voice_band), abs=0.5)


def test_how_far_speech_stands_above_the_noise() -> None:
    rng = np.random.default_rng(3)
    measured = noise.Loudness()
    for n in range(200):
        hiss = 0.01 * rng.standard_normal(512).astype(np.float32)
        measured.add(hiss + (0.1 * rng.standard_normal(512).astype(np.float32) if n % 2 else 0), bool(n % 2))
    assert measured.noise == pytest.approx(-40, abs=0.5)
    assert measured.above == pytest.approx(20, abs=0.7)
    assert not measured.too_loud


@pytest.mark.parametrize("kind", ["awake", "heard", "written"])
def test_cues_are_short_and_soft(kind: str) -> None:
    sound = listening.cue(kind)
    assert 0.04 < sound.size / RATE < 0.25
    assert abs(float(sound[0])) < 0.01 and float(np.abs(sound).max()) <= 0.201


@pytest.mark.skipif(not (shutil.which("espeak-ng") or shutil.which("espeak")), reason="espeak-ng is not installed")
def test_espeak_says_it_where_only_that_is_here() -> None:
    made = voice.voice("espeak-ng")
    sound = np.concatenate(list(made.say("the drain plug got thirty foot pounds")))
    assert made.rate == 22_050 and 1.0 < sound.size / made.rate < 5.0 and float(np.abs(sound).max()) > 0.1
    assert list(made.say("  ")) == []


def test_piper_says_a_sentence_at_a_time() -> None:
    if voice.piper_file() is None:
        pytest.skip("the [voice] extra is not installed")
    made = voice.voice()
    assert made.name == "Piper"
    assert len(list(made.say("One is done. Two is next."))) == 2


def test_without_a_voice_nothing_sounds() -> None:
    assert list(voice.voice("text").say("anything")) == []


def test_a_voice_that_was_named_must_be_here() -> None:
    with pytest.raises(DiaryError, match="No Piper voice"):
        voice.voice("nowhere.onnx")


def test_a_silent_loudspeaker_takes_its_time_and_stops_at_once() -> None:
    out = microphone.Silent()
    out.play(iter([tone(5.0)]), RATE)
    assert out.playing
    for _ in range(100):
        if out.envelope() > 0:
            break
        out._stop.wait(0.01)
    assert out.envelope() > 0
    out.stop()
    assert not out.playing
