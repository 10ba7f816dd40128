"""Sound in and sound out: the microphone and the loudspeaker by PortAudio (sounddevice, the [mic] extra), or stand-ins.

A source of sound is an iterator of blocks of 16 kHz mono float32; a sink plays what it is given and can be stopped at
once.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from diary.errors import DiaryError
from diary.speech.audio import RATE, blocks

if TYPE_CHECKING:
    import numpy as np

    from diary.speech.voice import Voice

BLOCK = 1024
"""Samples in a block (64 ms)."""
_HEARS = "No microphone can be reached ({}); plug one in, or play a recording with --from FILE."


def portaudio() -> Any:
    """The sounddevice module, or one sentence on how to get it."""
    try:
        import sounddevice
    except ImportError as error:
        raise DiaryError("The microphone needs the [mic] extra: pip install 'build-diary[mic]'.") from error
    except OSError as error:
        raise DiaryError("The PortAudio library is missing; install it (Debian: apt install libportaudio2).") from error
    return sounddevice


class Microphone:
    """The microphone. `device` is PortAudio's number or (part of its) name; None is the system's default."""

    def __init__(self, device: str | None = None) -> None:
        self.device: int | str | None = int(device) if device and device.isdigit() else device
        self.lost = 0
        """Blocks that came too late to be whole, as PortAudio tells."""

    def __iter__(self) -> Iterator[np.ndarray]:
        import numpy as np

        sounddevice = portaudio()
        waiting: queue.Queue[np.ndarray] = queue.Queue()

        def take(data: np.ndarray, _frames: int, _time: Any, status: Any) -> None:
            if status:
                self.lost += 1
            waiting.put(np.array(data[:, 0], np.float32))

        try:
            stream = sounddevice.InputStream(
                samplerate=RATE, blocksize=BLOCK, channels=1, dtype="float32", device=self.device, callback=take
            )
        except (sounddevice.PortAudioError, ValueError) as error:
            raise DiaryError(_HEARS.format(str(error).split("\n")[0])) from error
        with stream:
            while stream.active:
                try:
                    yield waiting.get(timeout=1.0)
                except queue.Empty:
                    continue


class Recording:
    """A sound file played as if it were the microphone, at real speed (`speed` 0: as fast as it is taken)."""

    def __init__(self, path: Path, speed: float = 1.0, tail: float = 3.0) -> None:
        self.path, self.speed, self.tail = Path(path), speed, tail

    def __iter__(self) -> Iterator[np.ndarray]:
        began, done = time.monotonic(), 0
        for block in self._sound():
            done += block.size
            if self.speed:
                ahead = began + done / RATE / self.speed - time.monotonic()
                if ahead > 0:
                    time.sleep(ahead)
            yield block

    def _sound(self) -> Iterator[np.ndarray]:
        import numpy as np

        yield from blocks(self.path, BLOCK / RATE)
        for _ in range(round(self.tail * RATE / BLOCK)):  # silence, so that the last words are seen to be finished
            yield np.zeros(BLOCK, np.float32)


class Sink(Protocol):
    """Plays sound. `playing` is true until the last of it has sounded."""

    def play(self, sound: Iterable[np.ndarray], rate: int) -> None:
        """Start playing blocks of mono float32 and return at once; what played before is stopped."""
        ...

    def stop(self) -> None:
        """Be silent now."""
        ...

    @property
    def playing(self) -> bool: ...

    def envelope(self) -> float:
        """The loudest mean square of what has sounded in the last third of a second (0 if nothing)."""
        ...


_ECHO = 0.35  # seconds for which a room and a sound card may give back what was played


class Silent:
    """Plays nothing but takes as long as the sound would; `began` is told when each begins to sound."""

    def __init__(self, began: Callable[[float], None] | None = None) -> None:
        self._began = began
        self._thread: threading.Thread | None = None
        self._stop = threading.Event()
        self._heard: list[tuple[float, float]] = []
        self._lock = threading.Lock()

    def play(self, sound: Iterable[np.ndarray], rate: int) -> None:
        """As `Sink.play`."""
        self.stop()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(sound, rate, self._stop), daemon=True)
        self._thread.start()

    def _run(self, sound: Iterable[np.ndarray], rate: int, stop: threading.Event) -> None:
        with self._device(rate) as write:
            first = True
            for block in sound:
                piece = max(1, rate // 20)
                for at in range(0, block.size, piece):
                    if stop.is_set():
                        return
                    if first and self._began:
                        self._began(time.monotonic())
                    first = False
                    part = block[at : at + piece]
                    self._note(part)
                    write(part, stop)

    def _note(self, part: np.ndarray) -> None:
        import numpy as np

        now = time.monotonic()
        with self._lock:
            self._heard = [(t, p) for t, p in self._heard if t > now - _ECHO]
            self._heard.append((now, float(np.mean(part * part))))

    def _device(self, rate: int) -> _Device:
        return _Device(rate)

    def stop(self) -> None:
        """As `Sink.stop`."""
        self._stop.set()
        if self._thread and self._thread is not threading.current_thread():
            self._thread.join(timeout=2.0)
        self._thread = None

    @property
    def playing(self) -> bool:
        """Whether something is being played."""
        return self._thread is not None and self._thread.is_alive()

    def wait(self) -> None:
        """Return when what is being played has ended."""
        if self._thread:
            self._thread.join()

    def envelope(self) -> float:
        """As `Sink.envelope`."""
        now = time.monotonic()
        with self._lock:
            return max((p for t, p in self._heard if t > now - _ECHO), default=0.0)


class _Device:
    """Lets time pass instead of making sound."""

    def __init__(self, rate: int) -> None:
        self.rate = rate

    def __enter__(self) -> Callable[[Any, threading.Event], None]:
        return lambda part, stop: _passed(stop, part.size / self.rate)

    def __exit__(self, *_: object) -> None:
        return None


def _passed(stop: threading.Event, seconds: float) -> None:
    stop.wait(seconds)


class Speaker(Silent):
    """The loudspeaker, by PortAudio."""

    def __init__(self, device: str | None = None, began: Callable[[float], None] | None = None) -> None:
        super().__init__(began)
        self.device: int | str | None = int(device) if device and device.isdigit() else device
        self._portaudio = portaudio()

    def _device(self, rate: int) -> Any:
        return _Loudspeaker(self._portaudio, rate, self.device)


class _Loudspeaker(_Device):
    def __init__(self, portaudio: Any, rate: int, device: int | str | None) -> None:
        super().__init__(rate)
        self.stream = portaudio.OutputStream(samplerate=rate, channels=1, dtype="float32", device=device)

    def __enter__(self) -> Callable[[Any, threading.Event], None]:
        self.stream.start()
        return lambda part, _stop: self.stream.write(part.reshape(-1, 1))

    def __exit__(self, *how: object) -> None:
        if not how or how[0] is None:
            self.stream.stop()
        else:
            self.stream.abort()
        self.stream.close()


def speaker(quiet: bool = False, began: Callable[[float], None] | None = None) -> Silent:
    """The loudspeaker where there is one, else a silent stand-in."""
    if quiet or find_spec("sounddevice") is None:
        return Silent(began)
    try:
        made = Speaker(began=began)
        made._portaudio.check_output_settings(channels=1, samplerate=22_050)
        return made
    except Exception:  # PortAudio raises its own kinds for a missing sound card
        return Silent(began)


def play(voice: Voice, text: str) -> None:
    """Say `text` and return when it has been said; nothing where there is no loudspeaker."""
    out = speaker()
    if isinstance(out, Speaker):
        out.play(voice.say(text), voice.rate)
        out.wait()


def devices() -> list[dict[str, Any]]:
    """Microphones that PortAudio sees: rows of {"number", "name"}; empty where it is missing."""
    try:
        found = portaudio().query_devices()
    except Exception:
        return []
    return [{"number": n, "name": d["name"]} for n, d in enumerate(found) if d["max_input_channels"] > 0]
