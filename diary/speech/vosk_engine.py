"""Vosk (Kaldi): words while the person still speaks, and a closed list of phrases where one is expected."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError
from diary.speech.audio import RATE, as_int16, blocks
from diary.speech.recogniser import Progress, Segment, Word

if TYPE_CHECKING:
    import numpy as np

_PARTS = (("am/final.mdl", "final.mdl"), ("conf/mfcc.conf", "mfcc.conf"))
"""Files that every Vosk model has, each in its new and its old place."""


def is_model(folder: Path) -> bool:
    """Whether `folder` holds a Vosk model."""
    return all(any((Path(folder) / place).is_file() for place in places) for places in _PARTS)


@lru_cache(maxsize=2)
def _loaded(folder: Path) -> Any:
    if not folder.is_dir():
        raise DiaryError(f"There is no folder {folder}; name the folder of a Vosk model.")
    if not is_model(folder):
        raise DiaryError(
            f"{folder} has no Vosk model in it (no am/final.mdl, conf/mfcc.conf); name the folder that holds one."
        )
    import vosk

    vosk.SetLogLevel(-1)
    try:
        return vosk.Model(str(folder))
    except Exception as error:  # the library raises a bare Exception
        raise DiaryError(f"The Vosk model in {folder} cannot be loaded; install it again.") from error


class Vosk:
    """Any Vosk model folder. Bias works only as a closed list (`stream(phrases)`); free speech ignores it."""

    name = "vosk"

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder)
        self.model = self.folder.name
        if not is_model(self.folder):
            _loaded(self.folder)  # says what is wrong

    def load(self) -> None:
        """Load the model now, else at the first sound."""
        _loaded(self.folder)

    def transcribe(
        self,
        audio: Iterable[np.ndarray] | Path,
        *,
        bias: Sequence[str] = (),
        progress: Progress | None = None,
    ) -> Iterator[Segment]:
        """As `Recogniser.transcribe`; a segment ends where Vosk finds a pause."""
        listening = self.stream()
        done = 0
        for block in blocks(audio) if isinstance(audio, (str, Path)) else audio:
            ended = listening.feed(block)
            done += block.size
            if ended:
                yield ended
            if progress:
                progress(done / RATE)
        last = listening.finish()
        if last:
            yield last

    def stream(self, phrases: Sequence[str] = ()) -> VoskStream:
        """As `StreamingRecogniser.stream`. With `phrases`, other words come out as "[unk]"."""
        return VoskStream(_loaded(self.folder), phrases)


class VoskStream:
    """One running recognition."""

    def __init__(self, model: Any, phrases: Sequence[str] = ()) -> None:
        import vosk

        grammar = (json.dumps([*phrases, "[unk]"], ensure_ascii=False),) if phrases else ()
        self._recogniser = vosk.KaldiRecognizer(model, RATE, *grammar)
        self._recogniser.SetWords(True)
        self._ended: list[Segment] = []

    def feed(self, block: np.ndarray) -> Segment | None:
        """Hear one block; a segment where Vosk itself finds that the speech has paused."""
        if self._recogniser.AcceptWaveform(as_int16(block).tobytes()):
            return _segment(self._recogniser.Result())
        return None

    def accept(self, block: np.ndarray) -> str:
        """As `Stream.accept`."""
        ended = self.feed(block)
        if ended:
            self._ended.append(ended)
        partial = json.loads(self._recogniser.PartialResult()).get("partial", "")
        return " ".join(filter(None, [*(s.text for s in self._ended), partial]))

    def finish(self) -> Segment | None:
        """As `Stream.finish`."""
        last = _segment(self._recogniser.FinalResult())
        parts = [*self._ended, *([last] if last else [])]
        self._ended = []
        if not parts:
            return None
        words = tuple(word for part in parts for word in part.words)
        return Segment(words, parts[0].start, parts[-1].end, " ".join(part.text for part in parts))


def _segment(result: str) -> Segment | None:
    """A segment of Vosk's JSON; None where nothing was heard."""
    words = tuple(
        Word(w["word"], float(w["start"]), float(w["end"]), float(w.get("conf", 1.0)))
        for w in json.loads(result).get("result", ())
        if w["word"] != "[unk]"
    )
    return Segment(words, words[0].start, words[-1].end, " ".join(w.text for w in words)) if words else None
