"""Noise: rumble taken off before recognition, and loudness measured so that a person can be told.

Levels are dB below full scale (0 is the loudest that 16 bits hold).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from diary.speech.audio import RATE

if TYPE_CHECKING:
    import numpy as np

RUMBLE = 90
"""Hz below which nothing of a voice is needed and a compressor is loudest (telephone sound begins at 300 Hz)."""
SILENT = -90.0
"""The level that digital silence is given, in dB."""
TOO_LOUD = 8.0
"""Speech less than these many dB above the noise is poorly recognised (measured in tests/benchmarks/bench_speech.py).
"""


def level(samples: np.ndarray) -> float:
    """The mean level of some sound in dB below full scale."""
    import numpy as np

    power = float(np.mean(np.square(samples, dtype=np.float64))) if samples.size else 0.0
    return max(SILENT, 10 * float(np.log10(power))) if power > 0 else SILENT


def cleaned(sound: Iterable[np.ndarray], filters: str = f"highpass=f={RUMBLE}") -> Iterator[np.ndarray]:
    """Blocks of 16 kHz mono float32 through FFmpeg's filters; as many samples come out as went in."""
    import av
    from av.filter import Graph

    graph = Graph()
    source = graph.add_abuffer(sample_rate=RATE, format="flt", layout="mono")
    last = source
    for text in filters.split(","):
        name, _, options = text.partition("=")
        node = graph.add(name, options)
        last.link_to(node)
        last = node
    shape = graph.add("aformat", f"sample_fmts=flt:sample_rates={RATE}:channel_layouts=mono")
    sink = graph.add("abuffersink")
    last.link_to(shape)
    shape.link_to(sink)
    graph.configure()
    for block in sound:
        frame = av.AudioFrame.from_ndarray(block.reshape(1, -1), format="flt", layout="mono")
        frame.sample_rate = RATE
        source.push(frame)
        yield from _pulled(sink)
    source.push(None)
    yield from _pulled(sink)


def _pulled(sink: object) -> Iterator[np.ndarray]:
    import av

    while True:
        try:
            yield sink.pull().to_ndarray().reshape(-1)  # type: ignore[attr-defined]
        except (av.BlockingIOError, av.EOFError):
            return


class Loudness:
    """How far speech stands above the noise, from steps that are speech and steps that are not."""

    def __init__(self, steps: int = 300) -> None:
        self._noise: deque[float] = deque(maxlen=steps)
        self._speech: deque[float] = deque(maxlen=steps)

    def add(self, step: np.ndarray, speech: bool) -> None:
        """One step of the voice detector."""
        (self._speech if speech else self._noise).append(level(step))

    @property
    def noise(self) -> float | None:
        """The level of the noise in dB (the median), None before there is enough to tell."""
        return _middle(self._noise)

    @property
    def above(self) -> float | None:
        """By how many dB speech stands above the noise; None before there is enough of both to tell.

        The noise also sounds while somebody speaks; it is taken off in power.
        """
        noise, speech = _middle(self._noise), _middle(self._speech)
        if noise is None or speech is None:
            return None
        import math

        rest = 10 ** (speech / 10) - 10 ** (noise / 10)
        return 10 * math.log10(rest) - noise if rest > 0 else 0.0

    @property
    def too_loud(self) -> bool:
        """Whether a person should be told to come closer."""
        above = self.above
        return above is not None and above < TOO_LOUD


def _middle(levels: deque[float]) -> float | None:
    return sorted(levels)[len(levels) // 2] if len(levels) >= 15 else None
