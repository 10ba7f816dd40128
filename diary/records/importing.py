"""Files of words into notes: JSON lines, captions (WebVTT, SRT), text with or without [m:ss] stamps.

Each function yields `Heard`: a piece of talk, when it was said, and where in its source it stands. Sound and film go
through the speech room first (see `diary/hearing.py`). A long transcript is cut where the speaker pauses or a day begins.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.records import film_words
from diary.records.captions import Cue, captions, seconds
from diary.records.film_words import NewDay

WORD_SUFFIXES = frozenset({".jsonl", ".ndjson", ".json", ".vtt", ".srt", ".txt", ".md", ".text", ""})

PAUSE = 6.0  # seconds of silence between captions that end a note
LONGEST = 90.0  # seconds after which talk without a pause is cut at its best seam
SHORTEST = 30.0  # seconds that such a piece has at least


@dataclass(slots=True)
class Heard:
    """A note to be: its text, its time, its place in the source, and the seconds of each word where captions give them."""

    text: str
    at: datetime
    source: str
    words: list[list[Any]] | None = None
    digest: str | None = None
    at_said: bool = False  # the file itself tells the time
    first: str | None = None  # what a recogniser chose first, where it was weighed and something else was taken


def read_file(path: Path, now: datetime, begin: datetime | None = None) -> list[Heard]:
    """The notes in one file of words.

    A text that carries no time of its own begins at `begin`; without it, it ends no later than the file's own time of change (or `now`).
    """
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
        found = notes_of_captions(captions(text, path), begin or changed, path.name)
    else:
        found = list(stamped_text(text, begin or changed, path.name))
    if not found:
        raise DiaryError(f"{path} holds no words that could be a note; nothing was imported.")
    if not found[0].at_said and begin is None:
        _end_by(found, changed)
    _mark(found, path.stem, raw)
    return found


def _end_by(notes: list[Heard], end: datetime) -> None:
    """Nothing in a file was said after it was written: move the whole back, by whole days where it speaks of several."""
    over = notes[-1].at - end
    if over > timedelta(0):
        several = notes[0].at.date() != notes[-1].at.date()
        back = timedelta(days=over.days + (over.seconds > 0)) if several else over
        for note in notes:
            note.at -= back


def _mark(notes: list[Heard], stem: str, raw: bytes) -> None:
    """A sign by which a note is known again, though the file was copied since and so has another time."""
    whole = hashlib.sha256(raw).hexdigest()
    for note in notes:
        if not note.at_said:
            place = note.source.rpartition("@")[2] if note.words else f"{whole} {note.source}"
            note.digest = hashlib.sha256(f"{stem}\n{place}\n{note.text}".encode()).hexdigest()


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
            yield Heard(said, at.replace(tzinfo=None), str(row.get("source") or f"{name}:{number}"), at_said=True)


STAMP = re.compile(r"(?m)^\s*[\[(]?(?:(\d{1,2}):)?(\d{1,2}):(\d{2})(?:[.,]\d+)?[\])]?[ \t]*[-:]?[ \t]*")
INLINE_STAMP = re.compile(r"\[(?:(\d{1,2}):)?(\d{1,2}):(\d{2})(?:[.,]\d+)?\]")


def notes_of_captions(cues: Iterable[Cue], begin: datetime, name: str) -> list[Heard]:
    """Captions joined to notes: one ends at a pause, where another day begins, and at the best seam where talk has no pauses.

    `begin` is the time of second 0.
    """
    notes: list[Heard] = []
    begun: list[tuple[int, NewDay]] = []
    for group, day in _by_day(list(cues)):
        for place, part in enumerate(p for talk in _at_pauses(group) for p in _shortened(talk)):
            if day and not place:
                begun.append((len(notes), day))
            notes.append(_note(part, begin, name))
    return _moved(notes, begun)


def _note(cues: list[Cue], begin: datetime, name: str) -> Heard:
    text, words = "", []
    for start, end, said in cues:
        text += (" " if text else "") + said
        words.append([len(text) - len(said), len(text), start, end])
    return Heard(text, begin + timedelta(seconds=int(cues[0][0])), f"{name}@{_stamp(cues[0][0])}", words)


def _by_day(cues: list[Cue]) -> list[tuple[list[Cue], NewDay | None]]:
    """The cues of each day, cut where its words are said, be it within a cue."""
    places, whole = [], ""
    for _, _, said in cues:
        whole += " " if whole else ""
        places.append(len(whole))
        whole += said
    marks = film_words.new_days(whole, places)
    days: list[tuple[list[Cue], NewDay | None]] = [([], None)]
    waiting = list(marks)
    for place, cue in zip(places, cues, strict=True):
        start, end, said = cue
        while waiting and waiting[0].start < place + len(said):
            at = max(0, waiting[0].start - place)
            split = start + (end - start) * at / max(1, len(said))
            if before := said[:at].strip():
                days[-1][0].append((start, split, before))
            place, start, said = place + at, split, said[at:]
            days.append(([], waiting.pop(0)))
        days[-1][0].append((start, end, said.strip()))
    return [(group, day) for group, day in days if group]


def _at_pauses(cues: list[Cue]) -> list[list[Cue]]:
    parts: list[list[Cue]] = []
    for cue in cues:
        pause = cue[0] - parts[-1][-1][1] if parts else LONGEST
        if pause >= PAUSE * 2 or (pause >= PAUSE and not film_words.unfinished(parts[-1][-1][2])):
            parts.append([cue])
        else:
            parts[-1].append(cue)
    return parts


def _shortened(cues: list[Cue]) -> list[list[Cue]]:
    """Talk that goes on without a pause, cut where it seems to turn to something else."""
    parts: list[list[Cue]] = []
    while cues[-1][1] - cues[0][0] > LONGEST + SHORTEST:
        seams = [
            n for n in range(1, len(cues))
            if SHORTEST <= cues[n][0] - cues[0][0] <= LONGEST and cues[-1][1] - cues[n][0] >= SHORTEST
        ]  # fmt: skip
        if not seams:
            break
        best = max(seams, key=lambda n: (_seam(cues[n - 1], cues[n]), n))
        parts.append(cues[:best])
        cues = cues[best:]
    return [*parts, cues]


def _seam(before: Cue, after: Cue) -> float:
    """How likely talk turns between two cues: by a pause, the end of a sentence, words that open a matter."""
    pause = min(after[0] - before[1], PAUSE)
    ended = before[2].rstrip("\"' ")[-1:] in ".?!"
    return pause + 3 * ended + 2 * film_words.begins_matter(after[2]) - 6 * film_words.unfinished(before[2])


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
                start = seconds(*mark.groups()[:3])
                cues.append((start, start + max(1.0, len(said.split()) / 2.5), said))
        yield from notes_of_captions(cues, begin, name)
        return
    paragraphs = [" ".join(p.split()) for p in re.split(r"\n\s*\n", text)]
    found = [Heard(p, begin + timedelta(seconds=n), f"{name}#{n + 1}") for n, p in enumerate(p for p in paragraphs if p)]
    yield from move_days(found)


def _stamp(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}" if whole >= 3600 else f"{whole // 60}:{whole % 60:02}"


def move_days(notes: list[Heard]) -> list[Heard]:
    """Move the dates from each note that begins with the words of another day."""
    begun = [(n, d[0]) for n, p in enumerate(notes) if (d := film_words.new_days(p.text)) and d[0].start == 0]
    return _moved(notes, begun)


def _moved(notes: list[Heard], begun: list[tuple[int, NewDay]]) -> list[Heard]:
    """Move the dates from each note where a day begins: "day three" is two days after "day one", "next morning" one day on."""
    shift, first_day = 0, 1
    days = dict(begun)
    length = notes[-1].at - notes[0].at if notes else timedelta(0)
    if days and notes[0].at.date() != notes[-1].at.date() and length < timedelta(hours=12):
        early = notes[-1].at - datetime.combine(notes[-1].at.date(), time()) + timedelta(seconds=1)
        for note in notes:  # the clock of a film of several days says nothing: midnight within it is no day more
            note.at -= early
    for place, note in enumerate(notes):
        day = days.get(place)
        if day is not None and day.number is not None:
            first_day = day.number if place == 0 else first_day
            shift = max(shift, day.number - first_day)
        elif day is not None and place:
            shift += day.on
        note.at += timedelta(days=shift)
    return notes
