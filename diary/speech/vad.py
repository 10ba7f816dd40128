"""Where somebody speaks: the Silero voice detector, fed as sound comes, and cutting long sound at silences.

The detector is the ONNX file that faster-whisper carries (Silero VAD 6, MIT); it looks at 32 ms at a time and
remembers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.speech.audio import RATE

if TYPE_CHECKING:
    import numpy as np

WINDOW = 512
"""Samples that the detector looks at in one step (32 ms)."""
_CONTEXT = 64  # samples of the step before that it sees again
_STATE = (1, 1, 128)

SPEECH = 0.5
"""Probability from which a step counts as speech, as Silero publishes it."""
STILL_SPEECH = 0.35
"""Once speech has begun, it goes on down to this probability (Silero's own hysteresis of 0.15)."""


@lru_cache(maxsize=1)
def _session() -> Any:
    import onnxruntime
    from faster_whisper.utils import get_assets_path

    options = onnxruntime.SessionOptions()
    options.inter_op_num_threads = options.intra_op_num_threads = 1
    options.log_severity_level = 4
    path = Path(get_assets_path()) / "silero_vad_v6.onnx"
    return onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"], sess_options=options)


class Detector:
    """Speech probabilities of sound that comes in pieces of any size."""

    def __init__(self) -> None:
        import numpy as np

        self._h = np.zeros(_STATE, np.float32)
        self._c = np.zeros(_STATE, np.float32)
        self._context = np.zeros(_CONTEXT, np.float32)
        self._rest = np.zeros(0, np.float32)

    def feed(self, block: np.ndarray) -> list[float]:
        """One probability for each whole 32 ms step that is complete with this block."""
        import numpy as np

        sound = np.concatenate([self._rest, block])
        steps = sound.size // WINDOW
        self._rest = sound[steps * WINDOW :]
        if not steps:
            return []
        frames = sound[: steps * WINDOW].reshape(steps, WINDOW)
        contexts = np.vstack([self._context, frames[:-1, -_CONTEXT:]])
        self._context = frames[-1, -_CONTEXT:].copy()
        given = np.concatenate([contexts, frames], axis=1).astype(np.float32)
        out, self._h, self._c = _session().run(None, {"input": given, "h": self._h, "c": self._c})
        return [float(p) for p in np.asarray(out).reshape(-1)]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Sound with speech in it: `start` is the second of its first sample.

    `clean` says whether it ends in a silence; else the talk goes on in the next stretch without a gap.
    """

    start: float
    samples: np.ndarray
    clean: bool = True

    @property
    def end(self) -> float:
        """The second just after its last sample."""
        return self.start + self.samples.size / RATE


def stretches(
    sound: Iterable[np.ndarray], *, longest: float = 24.5, silence: float = 3.0, margin: float = 0.3
) -> Iterator[Stretch]:
    """Cut sound into stretches of at most `longest` seconds, where they can at a silence.

    More than `silence` seconds without speech is left out but for `margin` seconds beside the speech. No more than one
    stretch is in memory.
    """
    cutter = _Cutter(round(longest / STEP), round(silence / STEP), round(margin / STEP))
    for block in gathered(sound):
        yield from cutter.feed(block)
    yield from cutter.finish()


STEP = WINDOW / RATE
"""Seconds of one step."""
_PAUSE = round(0.2 / STEP)  # steps of silence that surely lie between words


class _Cutter:
    """The state of `stretches`, counted in steps of the detector."""

    def __init__(self, longest: int, silence: int, margin: int) -> None:
        import numpy as np

        self.longest, self.silence, self.margin = longest, silence, margin
        self.detector = Detector()
        self.speaking = False
        self.pending = np.zeros(0, np.float32)  # less than one step
        self.held: list[np.ndarray] = []  # the steps from number `first` on
        self.flags: list[bool] = []  # whether each is speech
        self.first = 0
        self.quiet = 0  # steps without speech at the end of `flags`

    def feed(self, block: np.ndarray) -> Iterator[Stretch]:
        import numpy as np

        self.pending = np.concatenate([self.pending, block])
        for probability in self.detector.feed(block):
            step, self.pending = self.pending[:WINDOW], self.pending[WINDOW:]
            self.speaking = probability >= (STILL_SPEECH if self.speaking else SPEECH)
            self.held.append(step)
            self.flags.append(self.speaking)
            self.quiet = 0 if self.speaking else self.quiet + 1
            yield from self._cut()

    def _cut(self) -> Iterator[Stretch]:
        count = len(self.flags)
        if self.quiet >= count:  # nothing but silence
            self._drop(max(0, count - self.margin))
        elif self.quiet >= self.silence:
            yield self._stretch(count - self.margin, True)
        elif count >= self.longest:
            cut, pause = best_cut(self.flags)
            yield self._stretch(cut, pause >= _PAUSE)

    def finish(self) -> Iterator[Stretch]:
        if self.pending.size:
            self.held.append(self.pending)
            self.flags.append(self.speaking)
        if any(self.flags):
            yield self._stretch(len(self.flags), True)

    def _stretch(self, count: int, clean: bool) -> Stretch:
        import numpy as np

        voiced = [i for i in range(count) if self.flags[i]]
        low = max(0, voiced[0] - self.margin)
        high = min(count, voiced[-1] + 1 + self.margin) if clean else count
        made = Stretch((self.first + low) * STEP, np.concatenate(self.held[low:high]), clean)
        self._drop(count)
        return made

    def _drop(self, count: int) -> None:
        del self.held[:count], self.flags[:count]
        self.first += count


def best_cut(flags: list[bool]) -> tuple[int, int]:
    """Where to cut, and how many steps of silence are there.

    The middle of the last silence in the second half that surely lies between words, since long stretches are cheaper
    to hear than many; else of the longest in the last third, the later of equals; where there is none, the end (and 0).
    """
    runs: list[tuple[int, int]] = []  # end (exclusive) and length of each silence in the second half
    run = 0
    for i, speech in enumerate([*flags, True]):
        if speech and run and i > len(flags) // 2:
            runs.append((i, run))
        run = 0 if speech else run + 1
    sure = [(end, length) for end, length in runs if length >= _PAUSE]
    if sure:
        end, length = sure[-1]
    else:
        late = [(length, end) for end, length in runs if end > len(flags) * 2 // 3]
        if not late:
            return len(flags), 0
        length, end = max(late)
    return end - (length + 1) // 2, length


def gathered(sound: Iterable[np.ndarray], size: int = RATE) -> Iterator[np.ndarray]:
    """The same sound in blocks of at least `size` samples (but for the last): the detector costs less so."""
    import numpy as np

    waiting: list[np.ndarray] = []
    held = 0
    for block in sound:
        waiting.append(block)
        held += block.size
        if held >= size:
            yield np.concatenate(waiting)
            waiting, held = [], 0
    if held:
        yield np.concatenate(waiting)
