"""Any sound or film file, decoded as a stream.

Everything downstream hears 16 kHz mono float32 between -1 and 1. A block is a tenth of a second unless told otherwise,
and a file is never held whole. PyAV (FFmpeg's libraries) does the decoding and the resampling.
"""

from __future__ import annotations

import wave
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError

if TYPE_CHECKING:
    import numpy as np

RATE = 16_000
"""Samples a second of everything that a recogniser hears."""

SUFFIXES = frozenset(
    [".wav", ".ogg", ".oga", ".opus", ".mp3", ".m4a", ".aac", ".flac", ".wma", ".aiff", ".aif", ".caf", ".amr", ".mp4", ".m4v", ".mov", ".mkv", ".webm", ".avi", ".mts", ".m2ts", ".3gp", ".mpg", ".mpeg"]
)  # fmt: skip
"""File name endings of recordings and films; a file with another ending is taken for words."""

_MICROSECONDS = 1_000_000  # PyAV gives a container's duration in these


@contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    """The container and its first sound stream; every way this can fail is one sentence."""
    import av

    path = Path(path)
    if not path.exists():
        raise DiaryError(f"There is no file {path}; check the name and the folder.")
    if path.is_dir():
        raise DiaryError(f"{path} is a folder, not a sound file; name one file, or import the folder.")
    try:
        size = path.stat().st_size
    except OSError as error:
        raise DiaryError(f"{path} cannot be read ({error.strerror}); check its permissions.") from error
    if size == 0:
        raise DiaryError(f"{path} is empty (0 bytes); record it again or copy it again from the recorder.")
    try:
        container = av.open(str(path))
    except PermissionError as error:
        raise DiaryError(f"{path} cannot be read (no permission); change its permissions and try again.") from error
    except (av.FFmpegError, ValueError) as error:
        raise DiaryError(
            f"{path} is not a sound or film file that can be read; "
            "give a recording (wav, mp3, m4a, ogg, mp4, mov, ...)."
        ) from error
    with container:
        if not container.streams.audio:
            what = "a picture or a silent film" if container.streams.video else "something else"
            raise DiaryError(f"{path} has no sound in it ({what}); give a recording with sound.")
        yield container, container.streams.audio[0]


def blocks(path: Path, seconds: float = 0.1) -> Iterator[np.ndarray]:
    """Blocks of `seconds` of 16 kHz mono float32 (shape (n,)); the last may be shorter.

    Raises DiaryError, at the first block, where there is no such file, it is empty, a picture, or holds no sound.
    A file that breaks off in the middle gives what can be decoded.
    """
    import av
    import numpy as np

    size = max(1, round(seconds * RATE))
    with _opened(path) as (container, stream):
        # To 16 bits, since for floats FFmpeg mixes channels so that the sum may exceed 1.
        resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
        waiting: list[np.ndarray] = []
        held = given = 0
        for frame in _decoded(container, stream):
            for out in resampler.resample(frame):
                waiting.append(out.to_ndarray().reshape(-1))
                held += waiting[-1].size
            while held >= size:
                joined = np.concatenate(waiting)
                yield as_float(joined[:size])
                given += size
                waiting, held = [joined[size:]], held - size
        if given == 0 and held == 0:
            raise DiaryError(f"{path} holds a sound track with nothing in it; record it again.")
        if held:
            yield as_float(np.concatenate(waiting))


def _decoded(container: Any, stream: Any) -> Iterator[Any]:
    """Decoded frames, then None (which makes a resampler give what it still holds); broken packets are passed over."""
    import av

    try:
        for packet in container.demux(stream):
            try:
                yield from packet.decode()
            except av.FFmpegError:
                continue
    except av.FFmpegError:
        pass  # cut off in the middle: what was decoded stands
    yield None


def duration(path: Path) -> float:
    """Seconds of sound in a file, from its header where it says, else by decoding it. Raises DiaryError as `blocks`
    does.
    """
    with _opened(path) as (container, stream):
        if stream.duration and stream.time_base:
            return float(stream.duration * stream.time_base)
        if container.duration:
            return float(container.duration / _MICROSECONDS)
    return sum(block.size for block in blocks(path, 1.0)) / RATE


def created(path: Path) -> datetime:
    """When a clip was shot: the creation time inside the file where the camera wrote one, else the file's own time
    (UTC).
    """
    with _opened(path) as (container, _):
        for tags in (container.metadata, *(s.metadata for s in container.streams)):
            for key in ("creation_time", "com.apple.quicktime.creationdate", "date"):
                when = _parsed(tags.get(key))
                if when:
                    return when
    return datetime.fromtimestamp(Path(path).stat().st_mtime, UTC)


def _parsed(text: str | None) -> datetime | None:
    """An ISO time as UTC; None where it is missing, not a full time, or the camera's unset clock (1904, 1970)."""
    if not text or len(text) < 16:
        return None
    try:
        when = datetime.fromisoformat(text.strip().replace("Z", "+00:00"))
    except ValueError:
        return None
    when = when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)
    return when if when.year > 1980 else None


def whole(path: Path) -> np.ndarray:
    """A short file at once (prefer `blocks` for anything that may be long)."""
    import numpy as np

    return np.concatenate(list(blocks(path, 1.0)))


def write_wav(path: Path, samples: np.ndarray, rate: int = RATE) -> None:
    """Float samples between -1 and 1 as a 16-bit mono WAV file."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(as_int16(samples).tobytes())


def as_int16(samples: np.ndarray) -> np.ndarray:
    """Float samples as 16-bit integers, clipped, not wrapped."""
    import numpy as np

    return np.asarray(np.clip(samples, -1.0, 1.0) * 32767.0, np.int16)


def as_float(samples: np.ndarray) -> np.ndarray:
    """16-bit integers as float32 between -1 and 1."""
    import numpy as np

    return np.asarray(samples, np.float32) / np.float32(32768.0)


def resampled(samples: np.ndarray, rate: int, to: int = RATE) -> np.ndarray:
    """Mono float samples at another rate, by FFmpeg's resampler."""
    import av
    import numpy as np

    if rate == to:
        return samples.astype(np.float32, copy=False)
    frame = av.AudioFrame.from_ndarray(samples.astype(np.float32).reshape(1, -1), format="flt", layout="mono")
    frame.sample_rate = rate
    resampler = av.AudioResampler(format="flt", layout="mono", rate=to)
    out = [piece.to_ndarray().reshape(-1) for f in (frame, None) for piece in resampler.resample(f)]
    return np.concatenate([np.zeros(0, np.float32), *out])
