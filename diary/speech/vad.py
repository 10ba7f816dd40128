"""Where somebody speaks: the Silero voice detector, fed as sound comes, and cutting long sound at silences.

The detector is the ONNX file that faster-whisper carries (Silero VAD 6, MIT); it looks at 32 ms at a time and remembers.
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
    """Sound with speech in it: `start` is the second of its first sample."""

    start: float
    samples: np.ndarray

    @property
    def end(self) -> float:
        """The second just after its last sample."""
        return self.start + self.samples.size / RATE


def stretches(
    sound: Iterable[np.ndarray], *, longest: float = 28.0, silence: float = 3.0, margin: float = 0.3
) -> Iterator[Stretch]:
    """Cut sound into stretches of at most `longest` seconds, at its longest late silence; more than `silence` seconds without speech
    is left out, but for `margin` seconds beside the speech. Holds no more than one stretch in memory.
    """
    import numpy as np

    detector = Detector()
    held: list[np.ndarray] = []  # steps of 32 ms, from `first` on
    flags: list[bool] = []
    pending = np.zeros(0, np.float32)
    first = 0
    step = WINDOW / RATE
    most, quiet, edge = int(longest / step), int(silence / step), int(margin / step)
    speaking = False

    def stretch(count: int) -> Stretch | None:
        voiced = [i for i in range(count) if flags[i]]
        if not voiced:
            return None
        low, high = max(0, voiced[0] - edge), min(count, voiced[-1] + 1 + edge)
        return Stretch((first + low) * step, np.concatenate(held[low:high]))

    def drop(count: int) -> None:
        nonlocal first
        del held[:count], flags[:count]
        first += count

    for block in sound:
        probabilities = detector.feed(block)
        pending = np.concatenate([pending, block])
        for probability in probabilities:
            speaking = probability >= (STILL_SPEECH if speaking else SPEECH)
            held.append(pending[:WINDOW])
            flags.append(speaking)
            pending = pending[WINDOW:]
            if not any(flags):
                if len(flags) > edge:
                    drop(len(flags) - edge)
            elif len(flags) >= quiet and not any(flags[-quiet:]):
                done = stretch(len(flags) - edge)
                if done:
                    yield done
                drop(len(flags) - edge)
            elif len(flags) >= most:
                cut = _best_cut(flags)
                done = stretch(cut)
                if done:
                    yield done
                drop(cut)
    if pending.size:
        held.append(pending)
        flags.append(speaking)
    done = stretch(len(flags))
    if done:
        yield done


def _best_cut(flags: list[bool]) -> int:
    """The middle of the longest silence in the last two thirds (a later one wins a tie); the end where there is none."""
    best, length, run = len(flags), 0, 0
    for i in range(len(flags) // 3, len(flags)):
        run = 0 if flags[i] else run + 1
        if run >= length and run:
            best, length = i - run // 2, run
    return best
