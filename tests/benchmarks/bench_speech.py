"""How well speech is heard. Run by hand; needs Piper, flite (voice slt) and espeak-ng, and folders that are not in the
repository.

    python tests/benchmarks/bench_speech.py narrations FOLDER [--scratch DIR] [--notes 66] [--only piper,clean] [--bare]
    python tests/benchmarks/bench_speech.py recordings FOLDER      (transcripts.tsv and picovoice_slots.jsonl)
        Where single digits were said one by one, "90210" counts as "nine oh two one oh", and "oh" as "zero".
    python tests/benchmarks/bench_speech.py cost FILE              (our processor time over the bare engine's)
    python tests/benchmarks/bench_speech.py hour FILE              (an hour made of FILE: seconds and peak memory)

`narrations`: notes of d1, d3, d9 and d10 are spoken as they stand (no punctuation, so without pauses) by each voice at
its default speed, with made workshop noise at 20 and 10 dB; what is heard is read into records, and every figure of a
record (kind, field, value) is compared with the reading of the written note: F1. Weights of `data/hearing.toml` were fitted on
every other note, beginning with the first ("fitted"); the rest are "others". Piper varies its voice: another scratch folder
gives figures that differ by one or two hundredths. `--bare`: faster-whisper with its own defaults on the whole file, no
hint, no repair.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import resource
import subprocess
import time
import wave
from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from diary.speech import audio, bias, noise, voice, whisper
from diary.speech.recogniser import joined
from diary.speech.repair import repaired

VOICES = ("piper", "flite", "espeak")
CONDITIONS = ("clean", "20", "10")
DIARIES = (("d1", 99), ("d3", 99), ("d9", 6), ("d10", 3))  # d9 and d10 are long: the first notes only
NUMERIC = ("fills", "readings", "torques", "measures", "drives", "resets", "parts")


# ---- sound
# -----------------------------------------------------------------------------------------------------------------


def spoken(text: str, by: str, path: Path) -> np.ndarray:
    """`text` said by a voice, kept in `path`: 16 kHz mono."""
    if not path.exists():
        if by == "piper":
            made = voice.Piper()
            audio.write_wav(path, audio.resampled(np.concatenate(list(made.say(text))), made.rate))
        elif by == "flite":
            subprocess.run(["flite", "-voice", "slt", "-t", text, "-o", str(path)], check=True)
        else:
            subprocess.run(["espeak-ng", "-w", str(path), text], check=True)
    return audio.whole(path)


def workshop(size: int, rng: np.random.Generator, talk: np.ndarray) -> np.ndarray:
    """Made workshop noise: compressor hum, pink noise, bursts of ratchet clicks, somebody talking in the next bay."""
    t = np.arange(size) / audio.RATE
    hum = sum(
        a * np.sin(2 * np.pi * f * t + p)
        for f, a, p in ((49, 1.0, 0.3), (98, 0.6, 1.1), (147, 0.4, 2.0), (294, 0.2, 0.5))
    )
    hum = hum * (1 + 0.3 * np.sin(2 * np.pi * 3.1 * t))
    spectrum = np.fft.rfft(rng.standard_normal(size))
    pink = np.fft.irfft(spectrum / np.sqrt(np.maximum(1, np.arange(spectrum.size))), size)
    clicks = np.zeros(size)
    at = int(rng.integers(0, audio.RATE))
    while at < size:
        for k in range(int(rng.integers(4, 12))):
            where = at + k * int(0.055 * audio.RATE)
            burst = rng.standard_normal(80) * np.exp(-np.arange(80) / 18)
            end = min(size, where + 80)
            if where < size:
                clicks[where:end] += burst[: end - where]
        at += int(rng.integers(audio.RATE, 4 * audio.RATE))
    far = np.resize(talk, size).astype(np.float64)
    far = np.convolve(far, np.ones(6) / 6, "same") + 0.5 * np.roll(far, 1300) + 0.3 * np.roll(far, 2900)
    parts = [(hum, 1.0), (pink, 1.0), (clicks, 0.5), (far, 0.35)]
    return sum(g * p / (np.sqrt(np.mean(p * p)) + 1e-9) for p, g in parts)


def with_noise(speech: np.ndarray, decibels: float, rng: np.random.Generator, talk: np.ndarray) -> np.ndarray:
    """`speech` with noise so that speech (where it sounds) stands `decibels` above it."""
    loud = np.abs(speech) > 0.02 * np.abs(speech).max()
    made = workshop(speech.size, rng, talk)
    wanted = np.sqrt(np.mean(speech[loud] ** 2)) / 10 ** (decibels / 20)
    mixed = speech + made * wanted / np.sqrt(np.mean(made * made))
    return (0.9 * mixed / np.abs(mixed).max()).astype(np.float32)


# ---- hearing
# ---------------------------------------------------------------------------------------------------------------


def bare(sound: np.ndarray) -> str:
    """faster-whisper as it comes."""
    model = whisper._loaded(whisper.embedded_folder(), whisper.WEIGHTS_SHA256)
    return " ".join(segment.text.strip() for segment in model.transcribe(sound, language="en")[0])


def ours(sound: np.ndarray, words: tuple[str, ...] = ()) -> str:
    """As the program hears it: rumble off, hinted (repair follows when it is read)."""
    pieces = (sound[at : at + 1600] for at in range(0, sound.size, 1600))
    return joined(whisper.Whisper().transcribe(noise.cleaned(pieces), bias=words))


class Reader:
    """Figures of the records read from a note, in the light of the notes before it (as written)."""

    def __init__(self, folder: Path, most: int) -> None:
        from diary.language.reader import read
        from diary.language.types import Context, Locale

        self._read, self._context = read, Context
        self.notes: list[tuple[str, str]] = []
        self._facts: dict[str, Any] = {}
        self._wanted: dict[str, Counter[Any]] = {}
        for name, count in DIARIES:
            diary = json.loads((folder / f"{name}.json").read_text("utf-8"))
            meters: dict[str, tuple[float, datetime]] = {}
            for number, note in enumerate(diary["notes"][:count]):
                at = datetime.fromisoformat(note["at"])
                key = f"{name}-{number:02d}"
                self.notes.append((key, note["text"]))
                self._facts[key] = {"locale": Locale(**diary["locale"]), "now": at, "meters": dict(meters)}
                drafts = read(note["text"], Context(**self._facts[key]))
                self._wanted[key] = self._figures(drafts)
                for draft in drafts:
                    if draft.kind == "readings" and draft.fields.get("value") is not None:
                        meters[draft.fields["meter"]] = (float(draft.fields["value"]), at)
        self.notes = self.notes[:most]

    @staticmethod
    def _figures(drafts: Iterable[Any]) -> Counter[Any]:
        return Counter(
            (draft.kind, field, round(float(value), 3))
            for draft in drafts
            if draft.kind in NUMERIC
            for field, value in draft.fields.items()
            if isinstance(value, int | float)
            and not isinstance(value, bool)
            and (draft.kind != "parts" or field == "cost")
        )

    def compare(self, key: str, heard: str, mend: bool = True) -> tuple[int, int, int]:
        """Figures right, wrongly there, missed; repaired first with the last readings that the diary knows."""
        if mend:
            meters = {meter: value for meter, (value, _) in self._facts[key]["meters"].items()}
            heard = repaired(heard, meters=meters).text
        got = self._figures(self._read(heard, self._context(**self._facts[key])))
        wanted = self._wanted[key]
        right = sum((got & wanted).values())
        return right, sum(got.values()) - right, sum(wanted.values()) - right


def f1(right: int, extra: int, missed: int) -> float:
    return 2 * right / max(1, 2 * right + extra + missed)


def narrations(folder: Path, scratch: Path, most: int, only: set[str], without: bool) -> None:
    scratch.mkdir(parents=True, exist_ok=True)
    reader = Reader(folder, most)
    how = bare if without else ours
    print(f"{len(reader.notes)} notes, {'bare faster-whisper' if without else 'with hint, repair and high-pass'}")
    for by in VOICES:
        for condition in CONDITIONS:
            if only and not {by, condition} <= only:
                continue
            halves: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
            seconds, began = 0.0, time.process_time()
            talk = spoken(reader.notes[5][1], "espeak", scratch / "talk.wav")
            for number, (key, text) in enumerate(reader.notes):
                sound = spoken(text, by, scratch / f"{key}-{by}.wav")
                seconds += sound.size / audio.RATE
                if condition != "clean":
                    sound = with_noise(sound, float(condition), np.random.default_rng(len(text)), talk)
                heard = how(sound)
                with open(scratch / f"heard-{by}-{condition}{'-bare' if without else ''}.jsonl", "a") as log:
                    log.write(json.dumps({"key": key, "text": text, "heard": heard}) + "\n")
                halves[number % 2].update(
                    dict(zip(("right", "extra", "missed"), reader.compare(key, heard, not without), strict=True))
                )
            total = halves[0] + halves[1]
            score, fitted, others = (f1(c["right"], c["extra"], c["missed"]) for c in (total, *halves))
            cpu = (time.process_time() - began) / seconds
            print(
                f"{by:7} {condition:5} F1 {score:.3f} (fitted {fitted:.3f}, others {others:.3f})  {dict(total)}  {seconds:.0f} s, {cpu:.3f} s of CPU a second",
                flush=True,
            )


# ---- real recordings
# ---------------------------------------------------------------------------------------------------------


def plain(text: str) -> list[str]:
    """Lower-case words, digits as words, so that spelling does not count."""
    from num2words import num2words

    text = re.sub(r"(?<=\d),(?=\d{3})", "", text.lower())
    text = re.sub(r"\d+", lambda m: " " + num2words(int(m.group())) + " ", text)
    return re.sub(r"[^a-z' ]", " ", text.replace("-", " ")).replace("'", "").split()


DIGITS = dict(zip("0123456789", ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"], strict=True))


def one_by_one(wanted: str, heard: str) -> tuple[list[str], list[str]]:
    """Plain words of both; where only digits were said, figures are taken digit by digit and "oh" is zero."""
    if not set(wanted.split()) <= {*DIGITS.values(), "oh"}:
        return plain(wanted), plain(heard)
    heard = re.sub(r"\d", lambda m: f" {DIGITS[m.group()]} ", heard)
    a, b = (["zero" if word == "oh" else word for word in plain(text)] for text in (wanted, heard))
    return a, b


def errors(wanted: list[str], heard: list[str]) -> int:
    """Word errors (edit distance)."""
    row = list(range(len(heard) + 1))
    for i, a in enumerate(wanted, 1):
        before, row[0] = row[0], i
        for j, b in enumerate(heard, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (a != b))
    return row[-1]


COUNTS = re.compile(
    r"\b(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve|sixteen|twenty|single|double|triple|quadruple)\b"
)


def recordings(folder: Path) -> None:
    for name, how in (("ours", ours), ("bare", bare)):
        right, rows = (
            0,
            [json.loads(line) for line in (folder / "picovoice_slots.jsonl").read_text("utf-8").splitlines()],
        )
        for row in rows:
            heard = plain(how(audio.whole(folder / row["file"])))
            numbers = [word for value in row["slots"].values() for word in COUNTS.findall(value)]
            good = all(word in heard for word in numbers)
            right += good
            if not good:
                print("  ", row["slots"], " ".join(heard))
        print(f"{name}: spoken numbers of picovoice right in {right} of {len(rows)}", flush=True)
        by_folder: dict[str, list[int]] = {}
        for line in (folder / "transcripts.tsv").read_text("utf-8").splitlines()[1:]:
            file, *_, said = line.split("\t")
            wanted, heard = one_by_one(said, how(audio.whole(folder / file)))
            counts = by_folder.setdefault(file.split("/")[0], [0, 0])
            counts[0] += errors(wanted, heard)
            counts[1] += len(wanted)
        print(name, {key: f"{a}/{b}" for key, (a, b) in by_folder.items()}, flush=True)


# ---- cost
# ------------------------------------------------------------------------------------------------------------------


def cost(path: Path, rounds: int = 5) -> None:
    """Processor seconds of our recogniser and of the bare engine on the same sound, with the same options and with its
    defaults.
    """
    sound = audio.whole(path)
    model = whisper._loaded(whisper.embedded_folder(), whisper.WEIGHTS_SHA256)
    same = {
        "language": "en", "beam_size": 5, "temperature": whisper.TEMPERATURES, "condition_on_previous_text": False,
        "initial_prompt": bias.prompt(), "word_timestamps": True, "without_timestamps": True,
    }  # fmt: skip
    ways = {
        "ours": lambda: ours(sound),
        "bare, same options": lambda: list(model.transcribe(sound, **same)[0]),
        "bare, defaults": lambda: list(model.transcribe(sound, language="en")[0]),
    }
    spent: dict[str, list[float]] = {name: [] for name in ways}
    for n in range(rounds + 1):
        for name, way in random.sample(sorted(ways.items()), len(ways)):
            began = time.process_time()
            way()
            if n:
                spent[name].append(time.process_time() - began)
    for name, times in spent.items():
        print(
            f"{name:20} median {sorted(times)[rounds // 2]:.2f} s of CPU for {sound.size / audio.RATE:.0f} s of sound"
        )


def hour(path: Path) -> None:
    """An hour of sound from a file on disk: wall time, processor time, peak memory."""
    made = path.with_name("hour.wav")
    if not made.exists():
        with wave.open(str(made), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(audio.RATE)
            while out.tell() < 3600 * audio.RATE:
                for block in audio.blocks(path, 1.0):
                    out.writeframes(audio.as_int16(block).tobytes())
    began, words = time.monotonic(), 0
    for segment in whisper.Whisper().transcribe(made):
        words += len(segment.words)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"an hour: {time.monotonic() - began:.0f} s, {time.process_time():.0f} s CPU, peak {peak:.0f} MB, {words} words"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=["narrations", "recordings", "cost", "hour"])
    parser.add_argument("path", type=Path)
    parser.add_argument("--scratch", type=Path, default=Path("bench-speech"))
    parser.add_argument("--notes", type=int, default=66)
    parser.add_argument("--only", default="")
    parser.add_argument("--bare", action="store_true")
    given = parser.parse_args()
    if given.what == "narrations":
        narrations(given.path, given.scratch, given.notes, set(filter(None, given.only.split(","))), given.bare)
    else:
        {"recordings": recordings, "cost": cost, "hour": hour}[given.what](given.path)


if __name__ == "__main__":
    main()
