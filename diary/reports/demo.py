"""`diary demo`: the main job on the recordings of demo_audio, in a diary of its own."""

from __future__ import annotations

import sys
import tempfile
import time
import tomllib
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from diary.errors import DiaryError


def recordings_folder() -> Path:
    """Where the demo recordings lie: in the checkout, or beside the installed package."""
    here = Path(__file__).resolve().parents[1]
    for folder in (here.parent / "demo_audio", Path(sys.prefix) / "share" / "build-diary" / "demo_audio"):
        if (folder / "script.toml").is_file():
            return folder
    raise DiaryError("The demo recordings are not here; run `diary demo` from a clone of the project.")


def run(folder: Path | None = None, out: Any = None, *, recordings: Path | None = None, recogniser: Any = None) -> dict[str, Any]:
    """Hear the demo, keep it, compute, ask, and write the episode into `folder`; told on `out` as it goes. Gives what it found."""
    from diary.assistant.answers import ask
    from diary.assistant.intake import bring_in, vocabulary
    from diary.records.diary import Diary
    from diary.records.exporting import document
    from diary.records.hearing import hear
    from diary.records.machine import machine_from
    from diary.reports import episode, lists
    from diary.reports.terminal import show
    from diary.speech import audio
    from diary.speech.choose import recogniser as choose

    began = time.monotonic()
    recordings = recordings or recordings_folder()
    script = tomllib.loads((recordings / "script.toml").read_text(encoding="utf-8"))
    folder = folder or Path(tempfile.mkdtemp(prefix="diary-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    recogniser = recogniser or choose()
    last = datetime.fromisoformat(script["recording"][-1]["at"])
    diary = Diary.open(folder / "demo.db", now=lambda: last + timedelta(hours=1))
    diary.set_machine(machine_from(script["machine"]))
    if out:
        out.print(f"Hearing {len(script['recording'])} recordings with {recogniser.name} ({recogniser.model}), offline.", markup=False)
    seconds = 0.0
    spent = 0.0
    for row in script["recording"]:
        path = recordings / row["file"]
        seconds += audio.duration(path)
        t = time.monotonic()

        def told(entry: Any) -> None:
            if out:
                out.print(f"\n{entry.note.at[:16].replace('T', ' ')}  {entry.note.text}", markup=False)
                for record in entry.written:
                    out.print(f"    {lists.summary(record)}", markup=False)

        result = bring_in(diary, [path], at=datetime.fromisoformat(row["at"]), recogniser=recogniser, told_note=told)
        spent += time.monotonic() - t
        for sentence in result["failed"]:
            raise DiaryError(sentence)
    answers = []
    for row in script["question"]:
        heard = hear(recordings / row["file"], recogniser, begin=diary.now(), bias=vocabulary(diary))
        question = " ".join(h.text for h in heard)
        answers.append({"heard": question, "answer": ask(diary, question, diary.now()).answer})
    written = episode.write(diary, folder / "episode", title=f"Two weeks with {script['machine']['name']}")
    if out:
        out.print()
        for answer in answers:
            out.print(f"Asked: {answer['heard']}\n  {answer['answer']}", markup=False)
        out.print()
        show(lists.fuel(diary), out)
        out.print()
        show(lists.faults(diary), out)
        out.print(f"\nThe episode: {written['html']}", markup=False)
        whole = time.monotonic() - began
        out.print(
            f"{seconds:.0f} s of sound heard and read in {spent:.1f} s; everything in {whole:.1f} s, {peak_memory():.0f} MB at most.",
            markup=False,
        )
    return {
        "folder": str(folder), "episode": {k: str(v) for k, v in written.items()}, "answers": answers,
        "seconds_of_sound": round(seconds, 1), "seconds_spent": round(time.monotonic() - began, 1),
        "peak_memory_mb": round(peak_memory()), "export": document(diary),
    }  # fmt: skip


def peak_memory() -> float:
    """The most memory this process has held, in MB."""
    try:
        import resource
    except ImportError:  # not on Windows
        return 0.0
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return used / (1 << 20) if sys.platform == "darwin" else used / 1024
