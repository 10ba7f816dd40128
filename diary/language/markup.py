"""Talk with its records marked in the text: what the trained reader learns from and is measured on.

A file holds diaries, a diary holds notes. Braces mark a stretch of talk and say what it is; they may stand in one another:

    === a1 | old pickup, petrol V8 | asr-words | mi gal_us ft_lb psi
    --- 2026-03-04T18:10
    the {fault#seal {c rear main seal} is weeping} it can wait so i {work.replaced swapped the {part.fitted {c fan belt}}}
    = measure pressure 32 psi left front tire

The words in front of a stretch are its kind, `.` a detail of the kind (the state of a part, the class of a deed), `#` the thread.
Lines that start with `=` are the numeric records of the note above, in the order of fields of `NUMERIC`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from diary.errors import DiaryError

FAULT_KINDS = ("fault", "same", "back", "closed", "ruled", "wait")
KINDS = (*FAULT_KINDS, "work", "part", "plan", "lesson", "drive", "shot", "c", "not")
DETAILS = {
    "work": (
        "replaced", "fitted", "removed", "cleaned", "tightened", "adjusted", "checked", "drained", "topped_up", "repaired", "painted", "greased",
        "lubricated", "filled", "charged", "bled", "cut", "made", "other",
    ),
    "part": ("needed", "ordered", "bought", "fitted", "removed", "spare"),
    "not": ("other", "if", "negated", "habit", "quoted", "corrected", "number", "story"),
}  # fmt: skip
NUMERIC = ("fill", "reading", "reset", "torque", "measure")
_OPEN = re.compile(r"\{([a-z]+)(?:\.([a-z_]+))?(?:#([\w-]+))?\s+")


@dataclass(frozen=True, slots=True)
class Stretch:
    """`text[start:end]` of a note is of this kind; `parent` is the place of the enclosing stretch in the note's list."""

    kind: str
    start: int
    end: int
    detail: str = ""
    thread: str = ""
    parent: int | None = None


@dataclass(slots=True)
class MarkedNote:
    """A note without its braces, and what they said."""

    at: str
    text: str
    stretches: list[Stretch] = field(default_factory=list)
    numeric: list[str] = field(default_factory=list)

    def inside(self, place: int) -> list[Stretch]:
        """The stretches that stand, however deep, in the one at `place`."""
        outer = self.stretches[place]
        return [s for i, s in enumerate(self.stretches) if i != place and outer.start <= s.start and s.end <= outer.end]


@dataclass(slots=True)
class MarkedDiary:
    """One machine's notes in order."""

    name: str
    machine: str
    style: str
    units: tuple[str, ...]
    notes: list[MarkedNote] = field(default_factory=list)


def read(path: Path) -> list[MarkedDiary]:
    """The diaries of a file; DiaryError names the file and line of a mark that is not closed or not known."""
    diaries: list[MarkedDiary] = []
    for place, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        where = f"{path.name} line {place}"
        line = line.strip()
        if not line or line.startswith("//"):
            continue
        if line.startswith("==="):
            parts = [p.strip() for p in line.strip("= ").split("|")]
            if len(parts) != 4:
                raise DiaryError(f"{where}: a diary's head needs name | machine | style | units, four parts.")
            diaries.append(MarkedDiary(parts[0], parts[1], parts[2], tuple(parts[3].split())))
        elif not diaries:
            raise DiaryError(f"{where}: a file starts with a diary's head (=== name | machine | style | units).")
        elif line.startswith("---"):
            diaries[-1].notes.append(MarkedNote(line.strip("- "), ""))
        elif not diaries[-1].notes:
            raise DiaryError(f"{where}: a note's date (--- 2026-03-04T18:10) is missing before this line.")
        elif line.startswith("="):
            _numeric(line[1:].strip(), where)
            diaries[-1].notes[-1].numeric.append(line[1:].strip())
        else:
            note = diaries[-1].notes[-1]
            text, stretches = unmark(line, where)
            shift, base = (len(note.text) + 1, len(note.stretches)) if note.text else (0, 0)
            note.text = f"{note.text} {text}" if note.text else text
            note.stretches += [
                Stretch(s.kind, s.start + shift, s.end + shift, s.detail, s.thread, None if s.parent is None else s.parent + base)
                for s in stretches
            ]  # fmt: skip
    return diaries


def unmark(line: str, where: str = "the line") -> tuple[str, list[Stretch]]:
    """The line without braces, and its stretches in order of their starts."""
    text: list[str] = []
    length = 0
    waiting: list[int] = []
    found: list[Stretch] = []
    starts: list[tuple[int, str, str, str, int | None]] = []
    i = 0
    ends: dict[int, int] = {}
    while i < len(line):
        if line[i] == "{":
            match = _OPEN.match(line, i)
            if not match:
                raise DiaryError(f"{where}: '{line[i:i + 20]}' is no mark; write it as {{kind.detail#thread words}}.")
            kind, detail, thread = match[1], match[2] or "", match[3] or ""
            _known(kind, detail, thread, where)
            starts.append((length, kind, detail, thread, waiting[-1] if waiting else None))
            waiting.append(len(starts) - 1)
            i = match.end()
        elif line[i] == "}":
            if not waiting:
                raise DiaryError(f"{where}: a closing brace without an opening one.")
            ends[waiting.pop()] = length
            i += 1
        else:
            text.append(line[i])
            length += 1
            i += 1
    if waiting:
        raise DiaryError(f"{where}: the mark '{starts[waiting[-1]][1]}' is not closed.")
    whole = "".join(text)
    for place, (start, kind, detail, thread, parent) in enumerate(starts):
        end = ends[place]
        while end > start and whole[end - 1].isspace():
            end -= 1
        found.append(Stretch(kind, start, end, detail, thread, parent))
    return whole, found


def _known(kind: str, detail: str, thread: str, where: str) -> None:
    if kind not in KINDS:
        raise DiaryError(f"{where}: '{kind}' is no kind; use one of {', '.join(KINDS)}.")
    if kind in DETAILS and detail not in DETAILS[kind]:
        raise DiaryError(f"{where}: '{kind}.{detail}': use one of {', '.join(DETAILS[kind])}.")
    if kind in FAULT_KINDS and not thread:
        raise DiaryError(f"{where}: '{kind}' needs the thread it speaks of, as {kind}#name.")


def _numeric(line: str, where: str) -> None:
    if line.split(" ")[0] not in NUMERIC:
        raise DiaryError(f"{where}: a numeric record starts with one of {', '.join(NUMERIC)}.")
