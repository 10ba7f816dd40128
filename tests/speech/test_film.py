"""A folder of clips: shooting order, several processes, taken up again, nothing heard twice."""

from __future__ import annotations

import itertools
import os
import shutil
from pathlib import Path

import av
import numpy as np
import pytest

from diary.errors import DiaryError
from diary.speech import audio, checksum, film
from diary.speech.recogniser import Segment, Word, joined
from tests.speech.conftest import silence


def clip(path: Path, sound: np.ndarray, shot: str) -> Path:
    """A film of a grey picture with sound, as a camera writes it."""
    with av.open(str(path), "w") as out:
        out.metadata["creation_time"] = shot
        picture = out.add_stream("mpeg4", rate=5)
        picture.width = picture.height = 64
        voice = out.add_stream("aac", rate=48_000, layout="mono")
        for _ in range(round(5 * sound.size / audio.RATE)):
            out.mux(picture.encode(av.VideoFrame.from_ndarray(np.full((64, 64, 3), 128, np.uint8), format="rgb24")))
        frame = av.AudioFrame.from_ndarray(sound.reshape(1, -1), format="flt", layout="mono")
        frame.sample_rate = audio.RATE
        resampler = av.AudioResampler(format=voice.format.name, layout="mono", rate=48_000)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(voice.encode(part))
        out.mux(picture.encode(None))
        out.mux(voice.encode(None))
    return path


@pytest.fixture
def folder(piper, tmp_path: Path) -> Path:
    """Three clips whose names are not in the order they were shot, and one file that is no clip."""
    made = tmp_path / "clips"
    (made / "second card").mkdir(parents=True)
    pad = silence(0.5)
    for name, text, shot in [
        ("A003.mp4", "the belt is fine", "2026-06-01T10:00:00Z"),
        ("A001.mp4", "front tires are at thirty one", "2026-06-01T12:00:00Z"),
        ("second card/A002.mp4", "the axle seal is weeping", "2026-06-01T11:00:00Z"),
    ]:
        clip(made / name, np.concatenate([pad, piper(text), pad]), shot)
    (made / "broken.mp4").write_bytes(b"nothing")
    return made


def test_clips_are_in_the_order_they_were_shot(folder: Path) -> None:
    found, failed = film.clips(folder)
    assert [c.path.name for c in found] == ["A003.mp4", "A002.mp4", "A001.mp4"]
    assert found[0].seconds == pytest.approx(audio.duration(folder / "A003.mp4"))
    assert len(failed) == 1 and "broken.mp4" in failed[0]


def test_they_are_heard_by_several_processes_with_one_progress(folder: Path, tmp_path: Path) -> None:
    found, _ = film.clips(folder)
    told: list[tuple[float, float]] = []
    with film.Crew(found, keep=tmp_path / "heard", workers=2, progress=lambda a, b: told.append((a, b))) as crew:
        texts = [joined(crew.transcribe(c.path)) for c in found]
    assert "belt" in texts[0] and "seal" in texts[1] and "thirty one" in texts[2]
    assert told[0][0] == 0 and all(a[0] <= b[0] for a, b in itertools.pairwise(told))
    assert told[-1][1] == pytest.approx(sum(c.seconds for c in found))


def test_what_was_heard_already_is_not_heard_again(folder: Path, tmp_path: Path) -> None:
    """After an interruption only the rest is heard; a clip that was renamed is known by what it holds."""
    found, _ = film.clips(folder)
    keep = tmp_path / "heard"
    keep.mkdir()
    word = Word("kept", 0.5, 1.0, 0.9)
    for c in found[:2]:
        film.write_kept(keep / f"{checksum.sha256(c.path)}-tiny.en-1.json", [Segment((word,), 0.5, 1.0, "kept")])
    shutil.move(folder / "A003.mp4", folder / "renamed.mp4")
    os.utime(folder / "renamed.mp4", (0, 0))
    found, _ = film.clips(folder)
    with film.Crew(found, keep=keep, workers=1) as crew:
        assert len(crew._futures) == 1
        texts = [joined(crew.transcribe(c.path)) for c in found]
    assert texts[:2] == ["kept", "kept"] and "thirty one" in texts[2]


def test_a_folder_without_clips_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="holds no clips"):
        film.clips(tmp_path)
    with pytest.raises(DiaryError, match="There is no folder"):
        film.clips(tmp_path / "nowhere")


def test_a_folder_is_imported_in_the_order_it_was_shot_once(folder: Path, tmp_path: Path) -> None:
    """The whole way, clips to notes: each tied to its clip, timed by the camera; a second import changes nothing."""
    from diary.assistant.intake import bring_in
    from diary.records.diary import Diary

    (folder / "broken.mp4").unlink()
    diary = Diary.open(tmp_path / "diary.db")
    result = bring_in(diary, [folder])
    assert result["failed"] == [] and result["new"] == 3
    notes = list(diary.notes())
    assert [note.source for note in notes] == ["A003.mp4", "A002.mp4", "A001.mp4"]
    assert [note.at[:13] for note in notes] == ["2026-06-01T10", "2026-06-01T11", "2026-06-01T12"]
    assert all(note.words for note in notes)
    again = bring_in(diary, [folder])
    assert again["new"] == 0 and again["known"] == 3


def test_a_note_keeps_what_was_first_heard(tmp_path: Path) -> None:
    """The recogniser took "fourteen" for its first choice "forty", and repair mends a unit: the note is read with both, and
    keeps what was heard before either; what is kept of a clip tells it too.
    """
    from diary.assistant.intake import bring_in
    from diary.records.diary import Diary

    text, first = "The drain plug got fourteen foot pounce.", "The drain plug got forty foot pounce."
    words = tuple(Word(word, n * 0.4, n * 0.4 + 0.3, 0.9) for n, word in enumerate(text.split()))
    heard = Segment(words, 0.0, 3.0, text, '"forty" read as "fourteen"', first)
    film.write_kept(tmp_path / "kept.json", [heard])
    assert film.read_kept(tmp_path / "kept.json") == [heard]

    class Ear:
        name, model = "ear", "made"

        def transcribe(self, *_: object, **__: object) -> list[Segment]:
            return [heard]

    audio.write_wav(tmp_path / "a.wav", silence(1.0))
    diary = Diary.open(tmp_path / "diary.db")
    assert bring_in(diary, [tmp_path / "a.wav"], recogniser=Ear())["new"] == 1
    (note,) = diary.notes()
    assert note.text == "The drain plug got fourteen foot pounds."
    assert note.heard == first
