"""The embedded recogniser, on the demo's recordings and on made speech."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diary.errors import DiaryError
from diary.speech import audio, bias, checksum, choose, whisper
from diary.speech.figures import figures
from diary.speech.recogniser import Recogniser, Segment, Word, as_first_heard, joined
from tests.speech.conftest import silence


def test_the_default_is_the_embedded_whisper() -> None:
    made = choose.recogniser()
    assert (made.name, made.model) == ("whisper", "tiny.en")
    assert isinstance(made, Recogniser)


def test_the_weights_are_the_pinned_ones() -> None:
    folder = whisper.embedded_folder()
    assert folder is not None
    assert checksum.sha256(folder / "model.bin") == whisper.WEIGHTS_SHA256


def test_other_weights_are_refused(tmp_path: Path) -> None:
    (tmp_path / "model.bin").write_bytes(b"other weights")
    made = whisper.Whisper(tmp_path, whisper.WEIGHTS_SHA256)
    with pytest.raises(DiaryError, match="SHA-256"):
        made.load()


def test_a_folder_without_a_model_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="no speech model"):
        choose.recogniser(models_folder=tmp_path)
    with pytest.raises(DiaryError, match="no speech model"):
        choose.recogniser(str(tmp_path))
    with pytest.raises(DiaryError, match="There is no folder"):
        choose.recogniser(str(tmp_path / "nowhere"))


def test_words_with_times_and_confidence(piper, tmp_path: Path) -> None:
    sound = np.concatenate(
        [silence(2.0), piper("The odometer says ninety one thousand four hundred and six."), silence(1.0)]
    )
    audio.write_wav(tmp_path / "a.wav", sound)
    seen: list[float] = []
    segments = list(choose.recogniser().transcribe(tmp_path / "a.wav", bias=["odometer"], progress=seen.append))
    assert figures(joined(segments)) == ["91406"]
    assert "odometer" in joined(segments).lower()
    words = [word for segment in segments for word in segment.words]
    assert 1.7 < words[0].start < 2.6
    assert all(a.end <= b.start + 0.05 and 0 <= a.confidence <= 1 for a, b in itertools.pairwise(words))
    assert seen and seen[-1] <= sound.size / audio.RATE + 0.1


def test_silence_has_no_words() -> None:
    assert list(choose.recogniser().transcribe([silence(5.0)])) == []


def test_talk_longer_than_a_window_is_heard_once(piper) -> None:
    """Counting up without a pause: every number once, in order, though the sound is cut in the middle of it.

    Was "twenty twenty twenty ..." for twenty seconds: a loop that the hint had led into.
    """
    said = " and then ".join(
        f"number {n}" for n in ("eleven", "twelve", "thirteen", "seventeen", "nineteen", "twenty two") * 5
    )
    sound = piper(said)
    assert sound.size > 32 * audio.RATE
    heard = joined(choose.recogniser().transcribe(sound[i : i + 16_000] for i in range(0, sound.size, 16_000)))
    found = figures(heard)
    wanted = ["11", "12", "13", "17", "19", "22"] * 5
    assert len(found) == pytest.approx(len(wanted), abs=2)
    assert sum(a == b for a, b in zip(found, wanted, strict=False)) >= 20


def segment(text: str) -> Segment:
    words = tuple(Word(w, i * 0.3, i * 0.3 + 0.2, 0.9) for i, w in enumerate(text.split()))
    return Segment(words, 0.0, words[-1].end, text)


@pytest.mark.parametrize(
    ("heard", "kept"),
    [
        ("the seal is weeping. Thank you.", "the seal is weeping."),
        ("the seal is weeping, see you next time, see you next time.", "the seal is weeping,"),
        ("the seal is weeping. Okay. Thank you very much.", "the seal is weeping."),
        ("so the seal is okay.", "so the seal is okay."),
        ("the seal is weeping, okay.", "the seal is weeping, okay."),
        ("Thank you.", ""),
    ],
)
def test_what_whisper_writes_over_silence_is_dropped(heard: str, kept: str) -> None:
    assert joined(whisper.without_phantoms([segment(heard)])) == kept


@pytest.mark.parametrize(
    ("heard", "kept"),
    [
        ("front left is at thirty. Front left is at thirty.", "front left is at thirty."),
        ("make it sixteen ounces. Make it sixteen ounces. Make it sixteen", "make it sixteen ounces."),
        ("yes yes yes", "yes yes yes"),
        (
            "front left is at thirty. Front right is at thirty one.",
            "front left is at thirty. Front right is at thirty one.",
        ),
    ],
)
def test_what_whisper_says_twice_is_kept_once(heard: str, kept: str) -> None:
    assert whisper.without_repeats(segment(heard)).text == kept


def test_the_first_choice_goes_with_the_words_that_are_kept() -> None:
    taken = replace(
        segment("put eighteen foot pounds on it. Thank you."), first="put eighty foot pounds on it. Thank you."
    )
    (kept,) = whisper.without_phantoms([taken])
    assert (kept.text, kept.first) == ("put eighteen foot pounds on it.", "put eighty foot pounds on it.")
    split = replace(segment("fourteen gallons, okay. Thank you."), first="four in gallons, okay. Thank you.")
    assert whisper.without_phantoms([split])[0].first == "four in gallons, okay."


def test_segments_together_tell_what_was_first_heard() -> None:
    taken = replace(segment("fourteen gallons"), first="forty gallons")
    assert as_first_heard([segment("brimmed it"), taken]) == "brimmed it forty gallons"
    assert as_first_heard([segment("brimmed it")]) == ""


def test_a_short_utterance_is_heard_in_a_short_window(piper) -> None:
    heard = whisper.Whisper().utterance(
        np.concatenate([silence(0.3), piper("the front tires are at thirty one psi"), silence(0.3)])
    )
    assert heard is not None and figures(heard.text) == ["31"]
    assert 0.0 <= heard.words[0].start < 0.8 and heard.end < 4.0


def test_the_hint_has_room_for_its_words() -> None:
    """Whisper's tokenizer counts: the hint stays under the 223 word pieces that the model takes."""
    tokenizer = whisper._loaded(whisper.embedded_folder(), whisper.WEIGHTS_SHA256).hf_tokenizer
    many = [f"left rear parking brake cable bracket number {n}" for n in range(100)]
    for words in ([], bias.vocabulary(), bias.vocabulary(many)):
        assert len(tokenizer.encode(bias.prompt(words)).ids) <= 223
    assert "halo bobbin stay" in bias.prompt(bias.vocabulary(["halo bobbin stay"]))
