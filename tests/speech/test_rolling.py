"""Sound on disk as it comes; killing the process loses no more than the last second."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from diary.speech import audio, rolling
from tests.speech.conftest import tone

WRITES = """
import sys, time, numpy as np
from pathlib import Path
from diary.speech.rolling import Roll
roll = Roll(Path(sys.argv[1]))
n = 0
while True:
    roll.write(np.full(1600, (n % 100) / 200, np.float32))  # a tenth of a second that tells its number
    n += 1
    print(n, flush=True)
    time.sleep(0.004)
"""


def test_what_was_written_can_be_played_by_anything(tmp_path: Path) -> None:
    roll = rolling.Roll(tmp_path)
    roll.write(tone(2.5))
    roll.close()
    assert audio.duration(roll.folder / "000.wav") == pytest.approx(2.5)
    assert np.allclose(audio.whole(roll.folder / "000.wav"), tone(2.5), atol=1e-3)
    assert rolling.unfinished(tmp_path) == []


def test_it_can_be_played_while_it_is_written_too(tmp_path: Path) -> None:
    roll = rolling.Roll(tmp_path)
    roll.write(tone(1.5))
    assert audio.whole(roll.folder / "000.wav").size >= audio.RATE


def test_long_sessions_are_in_parts_and_taken_up_across_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rolling, "PART", 2)
    roll = rolling.Roll(tmp_path)
    for n in range(50):
        roll.write(np.full(1600, n / 100, np.float32))
    roll.handled(3.0)
    roll._flush()
    left = rolling.unfinished(tmp_path)[0]
    assert len(left.parts) == 3 and left.seconds == pytest.approx(5.0)
    rest = np.concatenate(list(left.sound()))
    assert rest.size == 2 * audio.RATE and rest[0] == pytest.approx(0.30, abs=1e-3)


def test_a_broken_line_of_the_journal_is_passed_over(tmp_path: Path) -> None:
    roll = rolling.Roll(tmp_path)
    roll.write(tone(1.2))
    roll.handled(0.5)
    with open(roll.folder / "journal.jsonl", "a") as journal:
        journal.write('{"handled": 99')
    assert rolling.unfinished(tmp_path)[0].handled == 0.5


def test_two_sessions_in_one_second_do_not_meet(tmp_path: Path) -> None:
    a, b = rolling.Roll(tmp_path), rolling.Roll(tmp_path)
    assert a.folder != b.folder
    a.close()
    b.close()


def test_old_sessions_are_tidied_away_but_never_an_unfinished_one(tmp_path: Path) -> None:
    done, cut = rolling.Roll(tmp_path), rolling.Roll(tmp_path)
    done.close()
    for roll in (done, cut):
        os.utime(roll.folder / "journal.jsonl", (0, 0))
    assert rolling.tidy(tmp_path) == 1
    assert not done.folder.exists() and cut.folder.exists()


def killed(folder: Path, after: int) -> tuple[int, float]:
    """Kill -9 a writer after `after` tenths of a second; the tenths it had written, and the seconds on disk."""
    process = subprocess.Popen([sys.executable, "-c", WRITES, str(folder)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    written = 0
    for line in process.stdout:
        written = int(line)
        if written >= after:
            os.kill(process.pid, signal.SIGKILL)
            break
    written = max([written, *(int(line) for line in process.stdout if line.strip().isdigit())])
    process.wait()
    return written, rolling.unfinished(folder)[0].seconds


@pytest.mark.parametrize("after", [7, 25, 38])
def test_kill_9_loses_no_more_than_a_second(tmp_path: Path, after: int) -> None:
    began = time.monotonic()
    written, on_disk = killed(tmp_path, after)
    assert written / 10 - on_disk <= 1.0 + 0.1
    left = rolling.unfinished(tmp_path)[0]
    sound = np.concatenate(list(left.sound()))
    tenths = sound[: sound.size // 1600 * 1600].reshape(-1, 1600)[:, 0]
    assert np.allclose(tenths, [(n % 100) / 200 for n in range(len(tenths))], atol=1e-3), (
        "what is there is whole and in order"
    )
    assert time.monotonic() - began < 60
