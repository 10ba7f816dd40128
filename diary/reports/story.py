"""What happened in a stretch of the diary, gathered for telling: figures, chapters, faults, parts, torques, lessons.

Plain values only; `episode.py` writes them out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.records.derive import OPEN_STATES, SHUT_STATES
from diary.records.diary import Diary, Note
from diary.records.kinds import Record
from diary.reports import lists

TITLE_ORDER = ("faults", "work", "parts", "torques", "fills", "plans", "lessons", "measures", "drives", "readings", "resets", "shots")
"""Which record of a note names its chapter: the first kind of these that the note has."""


@dataclass(slots=True)
class Chapter:
    """One note of the story. `start` and `end` are seconds in the joined sound, None where there is none."""

    title: str
    at: str
    note: Note
    records: list[Record]
    start: float | None = None
    end: float | None = None
    lines: list[tuple[float, float, str]] = field(default_factory=list)


@dataclass(slots=True)
class Story:
    """An episode before it is written."""

    title: str
    machine: str
    since: str
    until: str
    figures: list[tuple[str, str]]
    chapters: list[Chapter]
    faults: list[dict[str, str]]
    parts: lists.Table
    torques: lists.Table
    measures: lists.Table
    economy: lists.Table
    spans: list[Any]
    lessons: list[str]
    plans: lists.Table
    shots: list[tuple[str, str]]
    cautions: list[str]
    charts: dict[str, str] = field(default_factory=dict)


def gather(diary: Diary, since: str | None = None, until: str | None = None, title: str | None = None) -> Story:
    """The story of the days `since` to `until` (ISO days, inclusive; default the whole diary)."""
    for name, value in (("--since", since), ("--until", until)):
        if value is not None:
            _check_day(name, value)
    notes = diary.notes(since, until)
    if not notes:
        raise DiaryError("There is no note in those days, so there is no episode to write; `diary notes` shows what there is.")
    ids = {n.id for n in notes}
    first, last = lists.day(notes[0].at), lists.day(notes[-1].at)
    written: dict[str, list[Record]] = {}
    for kind in TITLE_ORDER:
        for record in diary.records(kind):
            if kind in ("faults", "plans"):
                for event in record.events:
                    if event["event"] in ("proven", "corrected"):
                        continue  # nobody spoke of it in that note
                    written.setdefault(event["note"], [])
                    if record not in written[event["note"]]:
                        written[event["note"]].append(record)
            else:
                written.setdefault(record.note, []).append(record)
    chapters = [Chapter(chapter_title(n, written.get(n.id, [])), n.at, n, written.get(n.id, [])) for n in notes]
    place_in_sound(chapters)
    faults = [f for f in diary.records("faults") if any(e["note"] in ids for e in f.events)]
    parts = _within(lists.parts(diary, everything=True), ids)
    torques = _within(lists.torques(diary), ids)
    spans = [s for s in diary.economy_spans() if s.to_note in ids]
    economy = lists.fuel(diary, spans)
    plans = lists.plans(diary, everything=False)
    safety = any(f.safety for f in faults) or bool(torques.rows)
    return Story(
        title=title or f"{diary.machine.name}: {first} to {last}",
        machine=diary.machine.name,
        since=first,
        until=last,
        figures=figures(diary, notes, faults, spans),
        chapters=chapters,
        faults=[fault_row(f) for f in faults],
        parts=parts,
        torques=torques,
        measures=_measures(diary, ids),
        economy=economy,
        spans=spans,
        lessons=[r.what for r in diary.records("lessons") if r.note in ids],
        plans=plans,
        shots=[(r.state, r.what) for r in diary.records("shots") if r.note in ids],
        cautions=[lists.SAFETY] if safety else [],
    )


def _check_day(name: str, value: str) -> None:
    from datetime import date

    try:
        date.fromisoformat(value)
    except ValueError:
        raise DiaryError(f"{name} {value!r} is not a day; write it like 2026-05-04.") from None


def chapter_title(note: Note, records: list[Record]) -> str:
    """A few words for the chapter list: what the note's weightiest record says, else its first words."""
    for kind in TITLE_ORDER:
        of_kind = [r for r in records if kind == r.KIND]
        if not of_kind:
            continue
        if kind == "faults":
            fault: Any = of_kind[0]
            event = next((e["event"] for e in reversed(fault.events) if e["note"] == note.id), "found")
            ends = {"fixed": ", fixed", "ruled_out": ", ruled out", "back": ", back again", "worked": ", worked on"}
            return _sentence(f"{fault.what}{ends.get(event, '')}")
        return _sentence(lists.summary(of_kind[0]))
    words = note.text.split()
    return _sentence(" ".join(words[:8]) + (" ..." if len(words) > 8 else ""))


TITLE_LENGTH = 70


def _sentence(text: str) -> str:
    """A title: a capital first, and no longer than a line; a title too long is cut at a word."""
    end = ""
    if len(text) > TITLE_LENGTH:
        for tail in (", fixed", ", ruled out", ", back again", ", worked on"):
            if text.endswith(tail):
                text, end = text.removesuffix(tail), tail
        text = text[: TITLE_LENGTH - len(end)].rsplit(" ", 1)[0].rstrip(",;") + " ..." + end
    return text[:1].upper() + text[1:]


def place_in_sound(chapters: list[Chapter]) -> None:
    """Give each chapter its seconds in the recordings played one after the other, and its caption lines."""
    offset, current, longest = 0.0, None, 0.0
    for chapter in chapters:
        if not chapter.note.audio or not chapter.note.words:
            continue
        if chapter.note.audio != current:
            offset, current, longest = offset + longest, chapter.note.audio, sound_length(chapter.note.audio)
        words = chapter.note.words
        chapter.start, chapter.end = offset + words[0][2], offset + words[-1][3]
        longest = max(longest, words[-1][3])
        chapter.lines = [(offset + a, offset + b, text) for a, b, text in caption_lines(chapter.note)]


def sound_length(path: str) -> float:
    """Seconds of a recording, 0 where it is no longer there."""
    from diary.speech import audio

    try:
        return audio.duration(Path(path))
    except DiaryError:
        return 0.0


def caption_lines(note: Note, most: int = 42) -> list[tuple[float, float, str]]:
    """The note as caption lines of at most `most` characters (the usual limit of broadcast captions; common practice)."""
    lines: list[tuple[float, float, str]] = []
    group: list[list[Any]] = []
    words = note.words or []

    def finish() -> None:
        if group:
            lines.append((group[0][2], max(group[-1][3], group[0][2] + 0.5), note.text[group[0][0] : group[-1][1]]))
            group.clear()

    for word in words:
        if group and (word[1] - group[0][0] > most or note.text[group[-1][1] - 1] in ".?!" or word[2] - group[-1][3] > 1.0):
            finish()
        group.append(word)
    finish()
    return lines


def fault_row(fault: Any) -> dict[str, str]:
    """A fault's thread in one row."""
    days = [f"{e['event'].replace('_', ' ')} {lists.day(e['at'])}" for e in fault.events if e["event"] != "corrected"]
    return {
        "what": fault.what, "where": fault.where or "", "state": lists.FAULT_STATES[fault.state], "thread": ", ".join(days),
        "cause": fault.cause or "",
    }  # fmt: skip


def _within(table: lists.Table, ids: set[str]) -> lists.Table:
    keep = [i for i, row in enumerate(table.data) if row["note"] in ids]
    table.rows, table.data = [table.rows[i] for i in keep], [table.data[i] for i in keep]
    return table


def _measures(diary: Diary, ids: set[str]) -> lists.Table:
    found = [m for m in diary.records("measures") if m.note in ids]
    return lists.Table(
        "Measured", ["day", "what", "value"],
        [[lists.day(m.at), m.of or m.quantity, lists.figure(m.value, m.unit)] for m in found], [], numeric={"value"},
    )  # fmt: skip


def figures(diary: Diary, notes: list[Note], faults: list[Any], spans: list[Any]) -> list[tuple[str, str]]:
    """The numbers at the top of the episode; only those that the records hold."""
    ids = {n.id for n in notes}
    made: list[tuple[str, str]] = []
    meter = "hours" if diary.machine.distance == "h" else "odometer"
    meters = [r.value for r in diary.records("readings") if r.note in ids and r.meter == meter and r.value is not None]
    if len(meters) >= 2 and meters[-1] >= meters[0]:
        made.append(("run" if meter == "hours" else "driven", lists.figure(meters[-1] - meters[0], diary.machine.distance, 1)))
    fills = [f for f in diary.records("fills") if f.note in ids]
    if fills:
        unit = fills[0].unit or diary.machine.volume
        known = [f.volume for f in fills if f.volume is not None and (f.unit or unit) == unit]
        made.append(("fuel put in", lists.figure(sum(known), unit, 2) + (f" in {len(fills)} fills" if len(fills) > 1 else "")))
    paid = [f.price_total for f in fills if f.price_total is not None]
    if paid:
        made.append(("paid for fuel", lists.money(sum(paid), diary.machine.currency)))
    if spans:
        from diary.calculators import economy as calculator

        whole = calculator.overall(spans)
        assert whole is not None
        made.append(("economy", f"{whole.value:.2f} {lists.UNIT_SIGNS.get(whole.unit, whole.unit)}"))
    costs = [p.cost for p in diary.records("parts") if p.note in ids and p.cost is not None]
    if costs:
        made.append(("spent on parts", lists.money(sum(costs), diary.machine.currency)))
    made.append(("faults found", str(sum(f.opened_in_note in ids for f in faults))))
    made.append(("faults put right", str(sum(f.state in SHUT_STATES for f in faults))))
    made.append(("still open", str(sum(f.state in OPEN_STATES for f in faults))))
    return made
