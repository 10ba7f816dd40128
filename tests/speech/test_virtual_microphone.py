"""The real path of sound: a file played into a PulseAudio null sink, its monitor heard through PortAudio by the
hands-free loop.

Needs the programs pulseaudio, pactl and paplay, the PortAudio library, and ALSA's PulseAudio plugin (Debian: pulseaudio
pulseaudio-utils libportaudio2 libasound2-plugins) and the [mic] extra.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from diary.speech import audio, rolling
from tests.speech.conftest import silence

LISTENS = """
import json, sys, threading
from pathlib import Path
from diary.speech import listening

def turn(text, spoken):
    print(json.dumps({"turn": text}), flush=True)
    return "Written down."

listening.run(turn, device="pulse", quiet=True, folder=Path(sys.argv[1]), always=True,
              tell=lambda kind, text: print(json.dumps({kind: text}), flush=True))
"""


@pytest.fixture
def sound_server(tmp_path: Path) -> Iterator[dict[str, str]]:
    """A PulseAudio of our own with nothing but a null sink; the environment that reaches it."""
    for program in ("pulseaudio", "pactl", "paplay"):
        if not shutil.which(program):
            pytest.skip(f"{program} is not installed, so no virtual microphone can be made")
    if find_spec("sounddevice") is None:
        pytest.skip("the [mic] extra is not installed")
    try:
        import sounddevice  # noqa: F401
    except OSError:
        pytest.skip("the PortAudio library is not installed")
    home = tmp_path / "pulse"
    (home / "run").mkdir(parents=True)
    (home / "asoundrc").write_text("pcm.pulse { type pulse }\nctl.pulse { type pulse }\n")
    env = {
        **os.environ, "HOME": str(home), "XDG_RUNTIME_DIR": str(home / "run"), "PULSE_RUNTIME_PATH": str(home / "run"),
        "PULSE_STATE_PATH": str(home), "PULSE_SERVER": f"unix:{home / 'run' / 'native'}",
        "ALSA_CONFIG_PATH": f"/usr/share/alsa/alsa.conf:{home / 'asoundrc'}", "PULSE_SOURCE": "bench.monitor",
    }  # fmt: skip
    server = subprocess.Popen(
        ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--log-level=error",
         "--load=module-native-protocol-unix auth-anonymous=1", "--load=module-null-sink sink_name=bench rate=48000"],
        env=env, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    for _ in range(100):
        if server.poll() is not None:
            assert server.stderr is not None
            pytest.skip(f"PulseAudio cannot run here: {server.stderr.read().strip()[:200]}")
        if (
            "bench"
            in subprocess.run(["pactl", "list", "short", "sinks"], env=env, capture_output=True, text=True).stdout
        ):
            break
        time.sleep(0.1)
    else:
        server.terminate()
        pytest.skip("PulseAudio does not answer")
    yield env
    server.terminate()
    server.wait(timeout=10)


def test_said_into_a_virtual_microphone_and_written_down(sound_server: dict[str, str], piper, tmp_path: Path) -> None:
    sound = np.concatenate([silence(0.5), piper("the front tires are at thirty one psi"), silence(1.0)])
    audio.write_wav(tmp_path / "said.wav", sound)
    roll = tmp_path / "roll"
    process = subprocess.Popen(
        [sys.executable, "-c", LISTENS, str(roll)],
        env=sound_server,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None and process.stderr is not None
    lines: list[str] = []
    try:
        for line in process.stdout:
            lines.append(line)
            if '"mode"' in line:
                time.sleep(1.0)
                subprocess.run(["paplay", "--device=bench", str(tmp_path / "said.wav")], env=sound_server, check=True)
            if '"turn"' in line:
                break
    finally:
        process.kill()  # as a crash would
        process.wait()
    turns = [line for line in lines if '"turn"' in line]
    assert turns, f"nothing was heard: {lines} {process.stderr.read()[-500:]}"
    assert "thirty one" in turns[0]
    left = rolling.unfinished(roll)[0]
    recorded = np.concatenate([audio.whole(part) for part in left.parts])
    assert float(np.abs(recorded).max()) > 0.05, "the microphone's sound is on the disk"
