"""Sound and film into notes: the speech room hears, this module cuts what was heard into notes with times.

A recording is one note unless somebody talks for long: then it is cut where the speaker pauses. Each word keeps its seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from diary.records.importing import LONGEST, PAUSE, Heard, move_days
from diary.speech.checksum import sha256
from diary.speech.recogniser import as_first_heard


def hear(
    path: Path, recogniser: Any, *, begin: datetime, bias: Sequence[str] = (), file_digest: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Heard]:  # fmt: skip
    """Transcribe one file and cut it into notes; `begin` is the time of its first second, `progress` gets seconds done."""
    file_digest = file_digest or sha256(path)
    groups: list[list[Any]] = []
    for segment in recogniser.transcribe(path, bias=bias, progress=progress):
        if not segment.text.strip():
            continue
        last = groups[-1] if groups else None
        if last is None or (
            segment.start - last[-1].end >= PAUSE * 2
            or (segment.end - last[0].start >= LONGEST and segment.start - last[-1].end >= 1)
        ):
            groups.append([segment])
        else:
            last.append(segment)
    notes = []
    for number, segments in enumerate(groups):
        text, words = join_words(segments)
        at = begin + timedelta(seconds=int(segments[0].start) if number else 0)
        stamp = f"@{int(segments[0].start) // 60}:{int(segments[0].start) % 60:02}" if len(groups) > 1 else ""
        first = as_first_heard(segments) or None
        notes.append(Heard(text, at, path.name + stamp, words, f"{file_digest}:{number}", first=first))
    return move_days(notes)


def join_words(segments: Sequence[Any]) -> tuple[str, list[list[Any]]]:
    """The text of some segments and, for each word, [first character, last character, start second, end second, confidence]."""
    text, words = "", []
    for segment in segments:
        for word in segment.words:
            said = word.text.strip()
            if not said:
                continue
            text += (" " if text else "") + said
            words.append([len(text) - len(said), len(text), round(word.start, 2), round(word.end, 2), round(word.confidence, 3)])
    return text, words
