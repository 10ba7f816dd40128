"""How the hands-free loop behaves in time. Run by hand.

    python tests/benchmarks/bench_listening.py latency [--rounds 12]   end of speech to the first sound of the reply
    python tests/benchmarks/bench_listening.py kill [--rounds 20]      kill -9 in the middle of dictation

`latency`: questions said by Piper are played at real speed in the place of the microphone; the reply is spoken by Piper
into a loudspeaker that only notes the time. The end of speech is the last step of 32 ms that the voice detector takes
for speech. `kill`: a listener that dictates is killed at a random moment; the sound on disk is compared with what had
been played by then, and heard again.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from diary.speech import audio, listening, rolling, voice
from diary.speech.microphone import Recording, Silent
from diary.speech.whisper import Whisper

QUESTIONS = [
    "what was the last odometer reading",
    "the odometer is ninety one thousand four hundred and six",
    "how many miles this week",
    "front left is at thirty one psi",
    "what is still broken",
    "what torque did the drain plug get",
    "the belt is fine",
    "what parts do I need",
    "I put twelve point seven gallons in it to the brim",
    "when did I last change the oil",
    "the left rear axle seal is weeping again",
    "what should I check before the next drive",
]
REPLY = "Written down. The last tank gave fifteen point two miles to the gallon."


def piper() -> tuple[voice.Piper, object]:
    made = voice.Piper()
    made.load()
    return made, lambda text: audio.resampled(np.concatenate(list(made.say(text))), made.rate)


def latency(rounds: int) -> None:
    made, say = piper()
    parts = [np.zeros(8000, np.float32)]
    for text in (QUESTIONS * rounds)[:rounds]:
        parts += [say(text), np.zeros(7 * audio.RATE, np.float32)]  # type: ignore[operator]
    sounded: list[float] = []
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "said.wav"
        audio.write_wav(path, np.concatenate(parts))
        recogniser = Whisper()
        recogniser.load()
        log = rolling.Roll(Path(scratch) / "roll")
        listener = listening.Listener(
            lambda _text, _spoken: REPLY,
            recogniser,
            log,
            sink=Voiced(sounded),
            voice=made,
            settings=listening.Settings(always=True),
        )
        listener.run(Recording(path, tail=4.0))
        log.close()
    waits = sorted(min((s - end for s in sounded if s > end), default=float("nan")) for end in listener.ended_at)
    print(f"{len(waits)} of {rounds} utterances; seconds from the end of speech to the first sound of the reply:")
    print(f"median {waits[len(waits) // 2]:.2f}, least {waits[0]:.2f}, most {waits[-1]:.2f}")
    print(" ".join(f"{wait:.2f}" for wait in waits))


class Voiced(Silent):
    """Notes when replies begin to sound, not cues."""

    def __init__(self, sounded: list[float]) -> None:
        super().__init__()
        self.sounded = sounded

    def play(self, sound, rate):  # type: ignore[no-untyped-def]
        self._began = None if isinstance(sound, list) else self.sounded.append
        super().play(sound, rate)


DICTATES = """
import sys, time
from pathlib import Path
from diary.speech import listening, rolling
from diary.speech.microphone import Recording
from diary.speech.whisper import Whisper

class Counted(Recording):
    def __iter__(self):
        done = 0
        for block in super().__iter__():
            yield block
            done += block.size
            print(done / 16000, flush=True)

log = rolling.Roll(Path(sys.argv[2]))
log.note(mode="dictating")
listener = listening.Listener(lambda text, spoken: None, Whisper(), log, settings=listening.Settings(always=True))
listener.mode = "dictating"
listener.run(Counted(Path(sys.argv[1]), speed=4.0))
"""


def kill(rounds: int) -> None:
    _, say = piper()
    sound = np.concatenate([say(f"number {n}, and then,") for n in range(11, 31)])  # type: ignore[operator]
    worst, whole = 0.0, True
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "said.wav"
        audio.write_wav(path, sound)
        played = audio.whole(path)
        for n in range(rounds):
            folder = Path(scratch) / f"roll-{n}"
            process = subprocess.Popen(
                [sys.executable, "-c", DICTATES, str(path), str(folder)], stdout=subprocess.PIPE, text=True
            )
            assert process.stdout is not None
            at, given = random.uniform(1.0, sound.size / audio.RATE - 1), 0.0
            for line in process.stdout:
                given = float(line)
                if given >= at:
                    process.send_signal(signal.SIGKILL)
                    break
            given = max([given, *(float(line) for line in process.stdout if line.endswith("\n"))])
            process.wait()
            left = rolling.unfinished(folder)[0]
            kept = np.concatenate([audio.whole(part) for part in left.parts])
            worst = max(worst, given - left.seconds)
            whole &= bool(np.allclose(kept, played[: kept.size], atol=2e-4))
            if n < 3:
                heard: list[str] = []
                began = time.monotonic()
                listening.recover(folder, lambda text, _spoken, heard=heard: heard.append(text), Whisper())
                took = time.monotonic() - began
                print(f"  killed at {given:.1f} s, heard again in {took:.1f} s: {' '.join(heard)[-90:]}")
    print(f"{rounds} kills: at most {worst:.2f} s of sound lost; what is on disk is {'whole' if whole else 'DAMAGED'}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=["latency", "kill"])
    parser.add_argument("--rounds", type=int, default=0)
    given = parser.parse_args()
    if given.what == "latency":
        latency(given.rounds or 12)
    else:
        kill(given.rounds or 20)


if __name__ == "__main__":
    main()
