"""Files of words into notes: JSON lines, captions (WebVTT, SRT), text with or without [m:ss] stamps.

Each function yields `Heard`: a piece of talk, when it was said, and where in its source it stands. Sound and film go
through the speech room first (see `diary/hearing.py`). A long transcript is cut where the speaker pauses or a day begins.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from diary.errors import DiaryError

WORD_SUFFIXES = frozenset({".jsonl", ".ndjson", ".json", ".vtt", ".srt", ".txt", ".md", ".text", ""})

PAUSE = 6.0  # seconds of silence between captions that end a note
LONGEST = 90.0  # seconds of captions after which the next pause of a second or more ends a note


@dataclass(slots=True)
class Heard:
    """A note to be: its text, its time, its place in the source, and the seconds of each word where captions give them."""

    text: str
    at: datetime
    source: str
    words: list[list[Any]] | None = None
    digest: str | None = None


def read_file(path: Path, now: datetime) -> list[Heard]:
    """The notes in one file of words. `now` dates a text that carries no time of its own: the file's own time of change."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise DiaryError(f"{path} cannot be read ({error.strerror}); check the name.") from error
    if not raw.strip():
        raise DiaryError(f"{path} is empty; there is nothing to import.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DiaryError(f"{path} is not text in UTF-8 (byte {error.start}); save it as UTF-8 and import it again.") from error
    suffix = path.suffix.lower()
    changed = min(datetime.fromtimestamp(path.stat().st_mtime).replace(microsecond=0), now)
    if suffix in (".jsonl", ".ndjson", ".json") or (suffix == "" and text.lstrip().startswith("{")):
        found = list(json_lines(text, path.name))
    elif suffix == ".vtt" or text.lstrip().startswith("WEBVTT") or suffix == ".srt":
        found = notes_of_captions(captions(text, path), changed, path.name)
    else:
        found = list(stamped_text(text, changed, path.name))
    if not found:
        raise DiaryError(f"{path} holds no words that could be a note; nothing was imported.")
    return found


def json_lines(text: str, name: str) -> Iterator[Heard]:
    """One JSON object a line, with "at" (ISO time) and "text"; "source" and "heard" may stand beside them."""
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        try:
            row = json.loads(line)
            said, at = row["text"], datetime.fromisoformat(row["at"])
            if not isinstance(said, str):
                raise TypeError("text is not a string")
        except (ValueError, KeyError, TypeError) as error:
            raise DiaryError(
                f'{name}, line {number}: each line must be a JSON object like {{"at": "2026-05-04T18:05", "text": "..."}} '
                f"({error}); nothing was imported from this file."
            ) from error
        if said.strip():
            yield Heard(said, at.replace(tzinfo=None), str(row.get("source") or f"{name}:{number}"))


CUE = re.compile(
    r"^(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})[ \t]+-->[ \t]+(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})[^\n]*$", re.MULTILINE
)
STAMP = re.compile(r"(?m)^\s*[\[(]?(?:(\d{1,2}):)?(\d{1,2}):(\d{2})(?:[.,]\d+)?[\])]?[ \t]*[-:]?[ \t]*")
INLINE_STAMP = re.compile(r"\[(?:(\d{1,2}):)?(\d{1,2}):(\d{2})(?:[.,]\d+)?\]")


def _seconds(hours: str | None, minutes: str, seconds: str, fraction: str | None = None) -> float:
    return int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds) + (int(fraction.ljust(3, "0")) / 1000 if fraction else 0)


def captions(text: str, path: Path) -> list[tuple[float, float, str]]:
    """(start, end, words) of each cue of a WebVTT or SRT text. Repeated lines of rolling captions are kept once."""
    text = text.replace("\r\n", "\n")
    marks = list(CUE.finditer(text))
    if not marks:
        raise DiaryError(f"{path} has no caption times like 00:01:02.000 --> 00:01:05.000; is it a caption file?")
    found: list[tuple[float, float, str]] = []
    previous_line = ""
    for number, mark in enumerate(marks):
        g = mark.groups()
        body = text[mark.end() : marks[number + 1].start() if number + 1 < len(marks) else len(text)]
        kept = []
        for line in body.strip("\n").split("\n\n")[0].split("\n"):
            line = re.sub(r"<[^>]*>", "", line).strip()
            if line and line != previous_line and not (line.isdigit() and number + 1 < len(marks)):
                kept.append(line)
                previous_line = line
        if kept:
            found.append((_seconds(*g[:4]), _seconds(*g[4:]), " ".join(kept)))
    return found


def notes_of_captions(cues: Iterable[tuple[float, float, str]], begin: datetime, name: str) -> list[Heard]:
    """Captions joined to notes at pauses; `begin` is the time of second 0."""
    notes: list[Heard] = []
    group: list[tuple[float, float, str]] = []

    def finish() -> None:
        if not group:
            return
        text, words = "", []
        for start, end, said in group:
            text += (" " if text else "") + said
            words.append([len(text) - len(said), len(text), start, end])
        stamp = _stamp(group[0][0])
        notes.append(Heard(text, begin + timedelta(seconds=int(group[0][0])), f"{name}@{stamp}", words))
        group.clear()

    for cue in cues:
        if group and (
            cue[0] - group[-1][1] >= PAUSE
            or (cue[0] - group[0][0] >= LONGEST and cue[0] - group[-1][1] >= 1)
            or new_day(cue[2]) is not None
        ):
            finish()
        group.append(cue)
    finish()
    return move_days(notes)


def stamped_text(text: str, begin: datetime, name: str) -> Iterator[Heard]:
    """Text with [m:ss] stamps (at line starts or inline) to one note a stamp; without stamps, one note a paragraph."""
    pattern = INLINE_STAMP if len(INLINE_STAMP.findall(text)) >= 2 else STAMP
    marks = [m for m in pattern.finditer(text)]
    if len(marks) >= 2:
        cues = []
        for number, mark in enumerate(marks):
            body = text[mark.end() : marks[number + 1].start() if number + 1 < len(marks) else len(text)]
            said = " ".join(body.split())
            if said:
                start = _seconds(*mark.groups()[:3])
                cues.append((start, start + max(1.0, len(said.split()) / 2.5), said))
        yield from notes_of_captions(cues, begin, name)
        return
    paragraphs = [" ".join(p.split()) for p in re.split(r"\n\s*\n", text)]
    found = [Heard(p, begin + timedelta(seconds=n), f"{name}#{n + 1}") for n, p in enumerate(p for p in paragraphs if p)]
    yield from move_days(found)


def _stamp(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}" if whole >= 3600 else f"{whole // 60}:{whole % 60:02}"


DAY_NUMBER = re.compile(r"^\W*(?:okay |ok |so |alright |right |well |and |it's |its |this is )*day ([a-z]+|\d+)\b", re.IGNORECASE)
NEXT_DAY = re.compile(
    r"^\W*(?:okay |ok |so |alright |right |well |and |it's |its )*(?:the )?(?:next|following) (morning|day|afternoon|evening)\b",
    re.IGNORECASE,
)


def new_day(said: str) -> int | str | None:
    """Whether the talk begins another day: a number ("day three"), "next" ("next morning"), or None."""
    from diary.language.numerals import read_numbers

    mark = DAY_NUMBER.match(said)
    if mark:
        numbers = read_numbers(mark.group(1))
        if len(numbers) == 1 and 1 <= numbers[0].value <= 99:
            return int(numbers[0].value)
    return "next" if NEXT_DAY.match(said) else None


def move_days(notes: list[Heard]) -> list[Heard]:
    """Move the dates of a film of several days: "day three" is two days after "day one", "next morning" one day on."""
    shift, first_day = 0, 1
    begin: date | None = notes[0].at.date() if notes else None
    for note in notes:
        day = new_day(note.text)
        if isinstance(day, int):
            if note is notes[0]:
                first_day = day
            shift = max(shift, day - first_day)
        elif day == "next" and note is not notes[0]:
            shift += 1
        if shift and begin is not None:
            note.at += timedelta(days=shift)
    return notes
