"""Many clips at once: in the order they were shot, heard by several processes, and taken up again after an
interruption.

What was heard of a clip is kept in a folder of its own, one file a clip, named by the clip's SHA-256, so that nothing
is heard twice.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import queue
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError
from diary.speech import audio
from diary.speech.checksum import sha256
from diary.speech.recogniser import Progress, Segment, Word

if TYPE_CHECKING:
    import numpy as np

_KEPT = 1  # raise it when hearing changes, so that clips are heard again


@dataclass(frozen=True, slots=True)
class Clip:
    """One clip: when it was shot (its own creation time, UTC) and its seconds."""

    path: Path
    shot: datetime
    seconds: float


def clips(folder: Path) -> tuple[list[Clip], list[str]]:
    """The clips in `folder` and below in shooting order, and a sentence for each that cannot be used.

    Clips of the same second are ordered by name, as cameras number them.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise DiaryError(f"There is no folder {folder}; name the folder that holds the clips.")
    files = [
        p for p in folder.rglob("*") if p.suffix.lower() in audio.SUFFIXES and p.is_file() and not p.name.startswith(".")
    ]
    if not files:
        raise DiaryError(f"{folder} holds no clips; name the folder that holds them.")
    return in_order(files)


def in_order(files: Iterable[Path]) -> tuple[list[Clip], list[str]]:
    """As `clips`, of files that are named."""
    found, failed = [], []
    for path in files:
        try:
            found.append(Clip(path, audio.created(path), audio.duration(path)))
        except DiaryError as error:
            failed.append(str(error))
    return sorted(found, key=lambda clip: (clip.shot, clip.path.name)), failed


class Crew:
    """A recogniser that hears many clips at once, each in one process, ahead of being asked for them.

    Use it as a context; `transcribe(path)` gives a clip's segments when they are ready, kept ones at once. `progress`
    is called with the seconds heard of all clips together and the seconds there are.
    """

    def __init__(
        self, files: Sequence[Clip], *, keep: Path, engine: str | None = None, workers: int | None = None,
        bias: Sequence[str] = (), progress: Callable[[float, float], None] | None = None,
    ) -> None:  # fmt: skip
        from diary.speech import choose

        chosen = choose.recogniser(engine)
        self.name, self.model = chosen.name, chosen.model
        self.files, self.keep, self.engine, self.bias = list(files), Path(keep), engine, tuple(bias)
        self.workers = workers or max(1, min(4, (os.cpu_count() or 2) // 2 + 1, len(self.files)))
        self.progress = progress
        self.whole = sum(clip.seconds for clip in self.files)
        self._done: dict[str, float] = {}
        self._futures: dict[Path, Future[str]] = {}
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Crew:
        self.keep.mkdir(parents=True, exist_ok=True)
        waiting = []
        for clip in self.files:
            if self._kept(clip.path).is_file():
                self._done[str(clip.path)] = clip.seconds
            else:
                waiting.append(clip)
        self._tell()
        if waiting:
            context = multiprocessing.get_context("spawn")
            self._queue: Any = context.Queue()
            threads = max(1, (os.cpu_count() or 2) // self.workers)
            self._pool = ProcessPoolExecutor(
                self.workers, context, initializer=_begin, initargs=(self._queue, self.engine, self.bias, threads)
            )
            for clip in waiting:
                self._futures[clip.path] = self._pool.submit(_hear, str(clip.path), str(self._kept(clip.path)))
        return self

    def __exit__(self, *_: object) -> None:
        if self._pool:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def _kept(self, path: Path) -> Path:
        return self.keep / f"{sha256(path)}-{self.model}-{_KEPT}.json"

    def transcribe(
        self, audio: Iterable[np.ndarray] | Path, *, bias: Sequence[str] = (), progress: Progress | None = None
    ) -> Iterator[Segment]:
        """As `Recogniser.transcribe`, for one of the clips; `bias` was given to all of them already."""
        if not isinstance(audio, str | Path):
            raise DiaryError("A folder of clips is heard clip by clip; give a file.")
        path = Path(audio)
        future = self._futures.get(path)
        if future:
            while not future.done():
                self._news(0.2)
            self._news(0.0)
            try:
                problem = future.result()
            except BrokenProcessPool as error:
                raise DiaryError(
                    f"Hearing {path} broke off (out of memory?); import it again with fewer workers."
                ) from error
            if problem:
                raise DiaryError(problem)
        segments = read_kept(self._kept(path))
        if progress and segments:
            progress(segments[-1].end)
        yield from segments

    def _news(self, seconds: float) -> None:
        try:
            path, done = self._queue.get(timeout=seconds) if seconds else self._queue.get_nowait()
        except queue.Empty:
            return
        self._done[path] = done
        self._tell()

    def _tell(self) -> None:
        if self.progress:
            self.progress(min(self.whole, sum(self._done.values())), self.whole)


_worker: dict[str, Any] = {}


def _begin(news: Any, engine: str | None, bias: tuple[str, ...], threads: int) -> None:
    """In a worker process: a recogniser of its own."""
    from diary.speech import choose, whisper

    whisper.THREADS = threads
    _worker.update(news=news, recogniser=choose.recogniser(engine), bias=bias)


def _hear(path: str, kept: str) -> str:
    """In a worker process: hear a clip and keep what was heard. Gives "", or the sentence that says what is wrong with
    it.
    """
    try:
        segments = list(
            _worker["recogniser"].transcribe(
                Path(path), bias=_worker["bias"], progress=lambda done: _worker["news"].put((path, done))
            )
        )
    except DiaryError as error:
        return str(error)
    write_kept(Path(kept), segments)
    return ""


def write_kept(path: Path, segments: Sequence[Segment]) -> None:
    """Keep what was heard of a clip, whole or not at all."""
    rows = [
        {
            "text": s.text,
            "start": s.start,
            "end": s.end,
            "weighed": s.weighed,
            "first": s.first,
            "words": [[w.text, w.start, w.end, w.confidence] for w in s.words],
        }
        for s in segments
    ]
    scratch = path.with_suffix(f".{os.getpid()}.part")
    with open(scratch, "w", encoding="utf-8") as out:
        json.dump({"form": _KEPT, "segments": rows}, out)
        out.flush()
        os.fsync(out.fileno())
    scratch.replace(path)


def read_kept(path: Path) -> list[Segment]:
    """What was heard of a clip, as kept."""
    rows = json.loads(path.read_text("utf-8"))["segments"]
    return [
        Segment(
            tuple(Word(*word) for word in row["words"]),
            row["start"],
            row["end"],
            row["text"],
            row.get("weighed", ""),
            row.get("first", ""),
        )
        for row in rows
    ]
