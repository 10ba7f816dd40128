"""Sounds made for the tests: by FFmpeg's libraries, by Piper where the [voice] extra is here."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest

from diary.speech import audio

DEMO = Path(__file__).parents[2] / "demo_audio"


def encode(path: Path, samples: np.ndarray, codec: str, rate: int = 48_000, **tags: str) -> Path:
    """Mono float samples at 16 kHz as a file of any kind that FFmpeg writes; `tags` go into its metadata."""
    with av.open(str(path), "w") as out:
        out.metadata.update(tags)
        stream = out.add_stream(codec, rate=rate, layout="mono")
        frame = av.AudioFrame.from_ndarray(samples.astype(np.float32).reshape(1, -1), format="flt", layout="mono")
        frame.sample_rate = audio.RATE
        resampler = av.AudioResampler(format=stream.format.name, layout="mono", rate=rate)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    return path


@pytest.fixture(scope="session")
def piper() -> Callable[[str], np.ndarray]:
    """Says a text: 16 kHz mono float32. Skips where the voice is not installed."""
    from diary.speech import voice

    if voice.piper_file() is None:
        pytest.skip("the [voice] extra is not installed")
    from piper.config import SynthesisConfig

    made = voice.Piper()
    made.load()
    same_each_time = SynthesisConfig(noise_scale=0.0, noise_w_scale=0.0)  # Piper varies its voice otherwise

    def say(text: str) -> np.ndarray:
        chunks = voice._piper(made.path, made.threads).synthesize(text, same_each_time)
        return audio.resampled(np.concatenate([chunk.audio_float_array for chunk in chunks]), made.rate)

    return say


def silence(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * audio.RATE), np.float32)


def tone(seconds: float, hertz: float = 440.0) -> np.ndarray:
    return (0.3 * np.sin(2 * np.pi * hertz * np.arange(round(seconds * audio.RATE)) / audio.RATE)).astype(np.float32)
