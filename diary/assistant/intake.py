"""Files into the diary: what each file is, its notes in the order of time, each kept, read and checked once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.records import hearing, importing
from diary.records.diary import Diary, Entry
from diary.records.importing import Heard
from diary.speech.audio import SUFFIXES
from diary.speech.checksum import sha256

Told = Callable[[str, float, float], None]
"""Called with what is being done, how much of it is done, and the whole."""


BATCH = 50  # notes of a file of words that are written to the disk together


def files_in(paths: Iterable[Path]) -> list[Path]:
    """The files named, and those in folders named that can be imported; a missing one is an error."""
    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = sorted(p for p in path.rglob("*") if p.is_file() and not p.name.startswith("."))
            usable = [
                p for p in inside if p.suffix.lower() in SUFFIXES | (importing.WORD_SUFFIXES - {"", ".json", ".md"})
            ]
            if not usable:
                raise DiaryError(f"The folder {path} holds no sound, film, captions, text or JSON lines.")
            found += usable
        elif path.exists():
            found.append(path)
        else:
            raise DiaryError(f"There is no file {path}; nothing was imported.")
    return found


def vocabulary(diary: Diary) -> list[str]:
    """The words a recogniser is told to expect: this diary's own parts, components and fasteners, then the trade's."""
    from diary.speech import bias

    own: list[str] = [diary.machine.name, *diary.machine.nicknames]
    for kind, field in (("faults", "component"), ("parts", "name"), ("torques", "fastener")):
        own += [value for r in diary.records(kind)[-40:] if (value := getattr(r, field))]
    return bias.vocabulary(own)


def bring_in(
    diary: Diary, paths: Sequence[Path], *, engine: str | None = None, at: datetime | None = None, told: Told | None = None,
    recogniser: Any = None, told_note: Callable[[Entry], None] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Import files. A file that cannot be read is told of in `failed` and the others go on; importing again changes nothing.

    Gives {"new", "known", "records", "asks", "failed", "notes"}. `told_note` is called with each entry as it is written.
    """
    from diary.assistant.checks import check_entry

    result: dict[str, Any] = {"new": 0, "known": 0, "records": 0, "asks": 0, "failed": [], "notes": []}
    files = files_in(paths)
    sounds = [f for f in files if f.suffix.lower() in SUFFIXES]
    words = [f for f in files if f not in sounds]
    heard: list[tuple[Heard, str | None]] = []
    for path in words:
        try:
            heard += [(h, None) for h in importing.read_file(path, diary.now(), at)]
        except DiaryError as error:
            result["failed"].append(str(error))
    heard.sort(key=lambda h: h[0].at)

    def keep(piece: Heard, audio: str | None) -> None:
        said, as_heard, places = piece.text, piece.first, piece.words
        if audio is not None:
            from diary.speech.repair import repaired

            fixed = repaired(said, meters={meter: value for meter, (value, _) in diary.context().meters.items()})
            if fixed.text != said:
                as_heard, said = as_heard or said, fixed.text
                places = fixed.move(places) if places else None
        entry = diary.add_note(
            said, piece.at, source=piece.source, heard=as_heard, audio=audio, words=places, digest=piece.digest
        )
        if not entry.new:
            result["known"] += 1
            return
        result["new"] += 1
        if entry.failed:
            result["failed"].append(entry.failed)
        result["records"] += len(entry.written)
        result["asks"] += len(check_entry(diary, entry))
        result["notes"].append(entry.note.id if entry.note else None)
        if told_note:
            told_note(entry)

    for first in range(0, len(heard), BATCH):
        with diary.batch():
            for number, (piece, audio) in enumerate(heard[first : first + BATCH], first + 1):
                keep(piece, audio)
                if told:
                    told("reading notes", number, len(heard))
    if sounds:
        _bring_in_sound(diary, sounds, engine, at, told, recogniser, keep, result)
    return result


def _bring_in_sound(
    diary: Diary, sounds: list[Path], engine: str | None, at: datetime | None, told: Told | None, recogniser: Any,
    keep: Callable[[Heard, str | None], None], result: dict[str, Any],
) -> None:  # fmt: skip
    from diary.speech import film

    found, failed = film.in_order(sounds)
    result["failed"] += failed
    begin = {clip.path: at or clip.shot.replace(tzinfo=None) for clip in found}
    length = {clip.path: clip.seconds for clip in found}
    ready = sorted(begin, key=lambda p: (begin[p], p.name))
    new = [path for path in ready if diary.notes_of_file(sha256(path)) is None]
    if recogniser is None and len(new) > 1:  # several at once; what was heard is kept, so that it can be taken up again

        def together(seconds: float, of: float) -> None:
            if told:
                told(f"hearing {len(new)} recordings", seconds, of)

        clips = [film.Clip(path, begin[path], length[path]) for path in new]
        keep_in = diary.path.parent / "heard"
        with film.Crew(clips, keep=keep_in, engine=engine, bias=vocabulary(diary), progress=together) as crew:
            _one_by_one(diary, ready, begin, length, None, crew, engine, keep, result)
    else:
        _one_by_one(diary, ready, begin, length, told, recogniser, engine, keep, result)


def _one_by_one(
    diary: Diary, ready: list[Path], begin: dict[Path, datetime], length: dict[Path, float], told: Told | None,
    recogniser: Any, engine: str | None, keep: Callable[[Heard, str | None], None], result: dict[str, Any],
) -> None:  # fmt: skip
    from diary.speech.choose import recogniser as choose

    whole, done = sum(length.values()), 0.0
    for path in ready:
        mark = sha256(path)
        if (known := diary.notes_of_file(mark)) is not None:
            result["known"] += known
            done += length[path]
            continue
        recogniser = recogniser or choose(engine)

        def step(seconds: float, base: float = done, name: str = path.name) -> None:
            if told:
                told(f"hearing {name}", base + seconds, whole)

        try:
            pieces = hearing.hear(
                path, recogniser, begin=begin[path], bias=vocabulary(diary), file_digest=mark, progress=step
            )
        except DiaryError as error:
            result["failed"].append(str(error))
            continue
        if not pieces:
            result["failed"].append(f"{path} was heard, but nobody says a word in it.")
        for piece in pieces:
            keep(piece, str(path.resolve()))
        diary.mark_file(mark, len(pieces))
        done += length[path]
