"""Sound written to disk as it comes, so that a crash costs at most the last second of it.

A session is a folder: parts of ten minutes (`000.wav`, `001.wav`, ...; 16 kHz, 16 bit, mono) and `journal.jsonl`, one
line for each thing that must be known to take up again: `{"handled": seconds}` (all speech before is written as notes
or was none of them), `{"mode": ...}`, `{"closed": true}`. Both are flushed to the disk itself (fsync): the sound each
second, the journal at each line.
"""

from __future__ import annotations

import json
import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from diary.speech.audio import RATE, as_float, as_int16

if TYPE_CHECKING:
    import numpy as np

PART = 600
"""Seconds of sound in a part."""
EVERY = 1.0
"""Seconds of sound after which it is flushed to the disk."""
_HEADER = 44  # bytes of a plain WAV header
_UNKNOWN = 0xFFFFFFFF - _HEADER  # length of a sound that is still being written


def _header(length: int) -> bytes:
    """A WAV header for `length` bytes of 16 kHz mono 16-bit sound."""
    return struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        *(
            b"RIFF",
            min(length + _HEADER - 8, 0xFFFFFFFF),
            b"WAVE",
            b"fmt ",
            16,
            1,
            1,
            RATE,
            RATE * 2,
            2,
            16,
            b"data",
            length,
        ),
    )


class Roll:
    """A session being written."""

    def __init__(self, folder: Path, now: datetime | None = None) -> None:
        stamp = (now or datetime.now(UTC)).strftime("%Y%m%dT%H%M%S")
        self.folder = _new_folder(Path(folder), stamp)
        self._journal = open(self.folder / "journal.jsonl", "a", encoding="utf-8")  # noqa: SIM115
        self._part: IO[bytes] | None = None
        self._number = 0
        self._in_part = 0
        self._unflushed = 0
        self.samples = 0
        """Samples written so far."""
        self.note(began=(now or datetime.now(UTC)).isoformat())

    @property
    def seconds(self) -> float:
        """Seconds written so far."""
        return self.samples / RATE

    def write(self, block: np.ndarray) -> None:
        """Append a block of mono float32."""
        if self._part is None or self._in_part >= PART * RATE:
            self._begin_part()
        assert self._part is not None
        self._part.write(as_int16(block).tobytes())
        self.samples += block.size
        self._in_part += block.size
        self._unflushed += block.size
        if self._unflushed >= EVERY * RATE:
            self._flush()

    def _begin_part(self) -> None:
        self._end_part()
        self._part = open(self.folder / f"{self._number:03d}.wav", "wb")  # noqa: SIM115
        self._part.write(_header(_UNKNOWN))
        self._number += 1
        self._in_part = 0
        self._flush()
        _flush_folder(self.folder)

    def _end_part(self) -> None:
        if self._part is None:
            return
        self._part.seek(0)
        self._part.write(_header(self._in_part * 2))
        self._flush()
        self._part.close()
        self._part = None

    def _flush(self) -> None:
        assert self._part is not None
        self._part.flush()
        os.fsync(self._part.fileno())
        self._unflushed = 0

    def note(self, **what: Any) -> None:
        """One line in the journal, on the disk when this returns."""
        self._journal.write(json.dumps(what) + "\n")
        self._journal.flush()
        os.fsync(self._journal.fileno())

    def handled(self, seconds: float) -> None:
        """Everything said before `seconds` of this session is written, or was nothing to write."""
        self.note(handled=round(seconds, 3))

    def close(self) -> None:
        """End the session properly."""
        self._end_part()
        self.note(closed=True)
        self._journal.close()


def _new_folder(folder: Path, stamp: str) -> Path:
    for suffix in ("", *(f"-{n}" for n in range(1, 1000))):
        made = folder / f"{stamp}{suffix}"
        try:
            made.mkdir(parents=True)
        except FileExistsError:
            continue
        _flush_folder(folder)
        return made
    raise FileExistsError(folder / stamp)


def _flush_folder(folder: Path) -> None:
    """Make the names in a folder durable (not every system can)."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


@dataclass(slots=True)
class Left:
    """A session that ended without being closed: what is still to be heard of it."""

    folder: Path
    began: datetime
    handled: float = 0.0
    mode: str = "asleep"
    parts: list[Path] = field(default_factory=list)

    def sound(self, block: int = 1024) -> Iterator[np.ndarray]:
        """The sound from `handled` on."""
        skip = round(self.handled * RATE)
        for part in self.parts:
            size = max(0, part.stat().st_size - _HEADER) // 2
            if skip >= size:
                skip -= size
                continue
            yield from _samples(part, skip, block)
            skip = 0

    @property
    def seconds(self) -> float:
        """Seconds of sound that are on the disk, all in all."""
        return sum(max(0, part.stat().st_size - _HEADER) // 2 for part in self.parts) / RATE

    def close(self) -> None:
        """Mark it as heard to its end."""
        with open(self.folder / "journal.jsonl", "a", encoding="utf-8") as journal:
            journal.write(
                "\n" + json.dumps({"handled": round(self.seconds, 3)}) + "\n" + json.dumps({"closed": True}) + "\n"
            )
            journal.flush()
            os.fsync(journal.fileno())

    def mark(self, seconds: float) -> None:
        """As `Roll.handled`, while it is heard again."""
        with open(self.folder / "journal.jsonl", "a", encoding="utf-8") as journal:
            journal.write("\n" + json.dumps({"handled": round(seconds, 3)}) + "\n")
            journal.flush()
            os.fsync(journal.fileno())


def _samples(part: Path, skip: int, block: int) -> Iterator[np.ndarray]:
    import numpy as np

    with open(part, "rb") as file:
        file.seek(_HEADER + skip * 2)
        while data := file.read(block * 2):
            yield as_float(np.frombuffer(data[: len(data) // 2 * 2], "<i2"))


def unfinished(folder: Path) -> list[Left]:
    """The sessions in `folder` that a crash cut off, the oldest first. A broken line of a journal is passed over."""
    found = []
    for journal in sorted(Path(folder).glob("*/journal.jsonl")):
        left = _left(journal)
        if left:
            found.append(left)
    return found


def _left(journal: Path) -> Left | None:
    left = Left(journal.parent, datetime.fromtimestamp(journal.stat().st_mtime, UTC))
    for line in journal.read_text("utf-8", errors="replace").splitlines():
        try:
            row = json.loads(line)
        except ValueError:
            continue
        if row.get("closed"):
            return None
        left.handled = float(row.get("handled", left.handled))
        left.mode = str(row.get("mode", left.mode))
        if "began" in row:
            left.began = datetime.fromisoformat(row["began"])
    left.parts = sorted(journal.parent.glob("[0-9][0-9][0-9].wav"))
    return left


def tidy(folder: Path, keep_days: float = 14.0) -> int:
    """Delete closed sessions older than `keep_days`; how many were deleted. Unfinished ones are never touched."""
    import shutil
    import time

    deleted = 0
    for journal in sorted(Path(folder).glob("*/journal.jsonl")):
        if time.time() - journal.stat().st_mtime > keep_days * 86_400 and _left(journal) is None:
            shutil.rmtree(journal.parent)
            deleted += 1
    return deleted
