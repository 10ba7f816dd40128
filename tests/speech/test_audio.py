"""Decoding: any file that holds sound, as a stream; bad files are one sentence."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import av
import numpy as np
import pytest

from diary.errors import DiaryError
from diary.speech import audio
from tests.speech.conftest import encode, tone


@pytest.mark.parametrize(
    ("name", "codec"), [("a.ogg", "libopus"), ("a.mp3", "libmp3lame"), ("a.m4a", "aac"), ("a.flac", "flac")]
)
def test_any_sound_comes_out_at_16_khz_mono(tmp_path: Path, name: str, codec: str) -> None:
    path = encode(tmp_path / name, tone(2.0), codec)
    pieces = list(audio.blocks(path))
    sound = np.concatenate(pieces)
    assert all(p.size == 1600 and p.dtype == np.float32 for p in pieces[:-1])
    assert sound.size / audio.RATE == pytest.approx(2.0, abs=0.1)
    assert audio.duration(path) == pytest.approx(2.0, abs=0.1)
    spectrum = np.abs(np.fft.rfft(sound[4000:20000]))
    assert np.argmax(spectrum) == 440  # one hertz a bin: the tone is where it was


def test_stereo_at_another_rate_becomes_mono(tmp_path: Path) -> None:
    both = np.stack([np.full(44_100, 0.5, np.float32), np.full(44_100, -0.1, np.float32)])
    with av.open(str(tmp_path / "s.wav"), "w") as out:
        stream = out.add_stream("pcm_f32le", rate=44_100, layout="stereo")
        for at in range(0, 44_100, 1024):
            packed = np.ascontiguousarray(both[:, at : at + 1024].T).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(packed, format="flt", layout="stereo")
            frame.sample_rate = 44_100
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    sound = audio.whole(tmp_path / "s.wav")
    assert sound.size == pytest.approx(16_000, abs=40)
    assert float(np.median(sound)) == pytest.approx(0.2, abs=0.01)


def test_a_wav_that_was_written_comes_back(tmp_path: Path) -> None:
    audio.write_wav(tmp_path / "a.wav", tone(0.5))
    assert np.allclose(audio.whole(tmp_path / "a.wav"), tone(0.5), atol=1e-3)


def test_what_is_too_loud_is_clipped_not_wrapped() -> None:
    assert audio.as_int16(np.array([2.0, -2.0, 0.0], np.float32)).tolist() == [32767, -32767, 0]


def picture(path: Path) -> Path:
    with av.open(str(path), "w", format="image2") as out:
        stream = out.add_stream("png", rate=1)
        stream.width = stream.height = 16
        stream.pix_fmt = "rgb24"
        out.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((16, 16, 3), np.uint8), format="rgb24")))
        out.mux(stream.encode(None))
    return path


def silent_film(path: Path, seconds: int = 1, sound: np.ndarray | None = None, **tags: str) -> Path:
    with av.open(str(path), "w") as out:
        out.metadata.update(tags)
        stream = out.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 32
        for _ in range(10 * seconds):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")))
        out.mux(stream.encode(None))
    return path


def test_bad_files_are_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "empty.wav").write_bytes(b"")
    (tmp_path / "text.wav").write_text("not a sound, however it is named")
    picture(tmp_path / "picture.png").rename(tmp_path / "picture.wav")
    silent_film(tmp_path / "silent.mp4")
    for name, says in [
        ("missing.wav", "There is no file"),
        ("empty.wav", "is empty"),
        ("text.wav", "not a sound or film"),
        ("picture.wav", "(no sound|not a sound)"),
        ("silent.mp4", "no sound in it"),
        (".", "is a folder"),
    ]:
        for use in (audio.duration, lambda p: next(audio.blocks(p)), audio.created):
            with pytest.raises(DiaryError, match=says) as caught:
                use(tmp_path / name)
            assert "\n" not in str(caught.value) and str(caught.value).endswith(".")


def test_a_file_that_breaks_off_gives_what_it_holds(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.ogg", tone(4.0), "libopus")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert 0.5 < np.concatenate(list(audio.blocks(path))).size / audio.RATE < 3.5


def test_when_a_clip_was_shot(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.m4a", tone(0.5), "aac", creation_time="2026-05-04T18:05:00Z")
    assert audio.created(path) == datetime(2026, 5, 4, 18, 5, tzinfo=UTC)


def test_a_camera_whose_clock_was_never_set_counts_by_the_file(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.m4a", tone(0.5), "aac", creation_time="1904-01-01T00:00:00Z")
    assert abs((audio.created(path) - datetime.now(UTC)).total_seconds()) < 3600
