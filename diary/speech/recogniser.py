"""What every recogniser gives, whichever engine is behind it.

Times are seconds from the start of the sound that was given; confidences lie between 0 and 1.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    import numpy as np

Progress = Callable[[float], None]
"""Called with the seconds of sound finished so far."""


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard, without the space before it; punctuation may hang on it."""

    text: str
    start: float
    end: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of talk. `text` is the words joined as the engine wrote them.

    `weighed` shows what was taken in the place of the engine's first choice (`"forty" read as "fourteen"`), if anything;
    `first` is then that choice, whole.
    """

    words: tuple[Word, ...]
    start: float
    end: float
    text: str
    weighed: str = ""
    first: str = ""

    @property
    def confidence(self) -> float:
        """The mean of the words' confidences (0 where there are none)."""
        return sum(word.confidence for word in self.words) / len(self.words) if self.words else 0.0


@runtime_checkable
class Recogniser(Protocol):
    """Sound to words. `name` is the engine, `model` what it runs on; both are shown to the person."""

    name: str
    model: str

    def transcribe(
        self,
        audio: Iterable[np.ndarray] | Path,
        *,
        bias: Sequence[str] = (),
        progress: Progress | None = None,
    ) -> Iterator[Segment]:
        """Hear `audio` (a sound or film file, or blocks of 16 kHz mono float32) and yield segments as they are ready.

        `bias` are words and phrases that are likely here, the likeliest first. Raises DiaryError for a file that is no
        sound.
        """
        ...


@runtime_checkable
class Stream(Protocol):
    """A recogniser that is listening now."""

    def accept(self, block: np.ndarray) -> str:
        """Hear one more block; the words so far, which may still change."""
        ...

    def finish(self) -> Segment | None:
        """The final words of what was accepted since the last `finish`, or None if nothing was said."""
        ...


@runtime_checkable
class StreamingRecogniser(Recogniser, Protocol):
    """A recogniser that also gives words while the person still speaks."""

    def stream(self, phrases: Sequence[str] = ()) -> Stream:
        """Start listening; with `phrases`, only those can be heard (yes, no, a number)."""
        ...


def joined(segments: Iterable[Segment]) -> str:
    """The text of all segments, one space between them."""
    return " ".join(segment.text for segment in segments if segment.text)


def merged(segments: Sequence[Segment]) -> Segment | None:
    """One segment of all; None where there is none."""
    if not segments:
        return None
    words = tuple(word for segment in segments for word in segment.words)
    shown = "; ".join(segment.weighed for segment in segments if segment.weighed)
    first = as_first_heard(segments)
    return Segment(words, segments[0].start, segments[-1].end, joined(segments), shown, first)


def as_first_heard(segments: Sequence[Segment]) -> str:
    """The text of all segments as the engine chose it first; empty where nothing else was taken."""
    return " ".join(s.first or s.text for s in segments) if any(s.first for s in segments) else ""


def shifted(segment: Segment, seconds: float) -> Segment:
    """The same segment, `seconds` later."""
    words = tuple(Word(w.text, w.start + seconds, w.end + seconds, w.confidence) for w in segment.words)
    return replace(segment, words=words, start=segment.start + seconds, end=segment.end + seconds)
