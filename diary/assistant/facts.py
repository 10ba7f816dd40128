"""The diary seen by a question: records by kind, kept while nothing changes, and the ways to match words to them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from diary.assistant.words import content, is_stop, overlap, stem, table, words
from diary.errors import DiaryError
from diary.records.diary import Diary, Note


@cache
def answers_table(name: str) -> Any:
    """A table of data/answers.toml."""
    return table("answers")[name]


@cache
def empty_words() -> frozenset[str]:
    """Stems that narrow nothing: the whole machine, and the words of asking."""
    return frozenset(stem(w) for w in (*table("words")["machines"], *answers_table("entity")["empty"]))


@dataclass(frozen=True, slots=True)
class Moment:
    """A point in the diary: its note, its time, and the character in the note. Two moments compare by time, then
    place."""

    at: datetime
    order: int
    char: int
    note: str
    record: str | None = None
    label: str = ""

    @property
    def key(self) -> tuple[datetime, int, int]:
        return self.at, self.order, self.char


# the field that says what a record is about
NAMED_BY = {
    "torques": "fastener",
    "measures": "of",
    "parts": "name",
    "work": "component",
    "plans": "what",
    "faults": "what",
}


class Facts:
    """Records of one diary for answering; every kind is read from the store once and kept until the history moves
    on."""

    def __init__(self, diary: Diary) -> None:
        self.diary = diary
        self.machine = diary.machine
        self._stamp: object = None
        self._kept: dict[str, Any] = {}

    def refresh(self) -> None:
        """Forget what was read if anything has been written since."""
        stamp = self.diary.stamp()
        if stamp != self._stamp:
            self._stamp, self._kept = stamp, {}
            self.machine = self.diary.machine

    def kept(self, key: str, make: Any) -> Any:
        """What `make` gives, made once until something is written."""
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]

    def records(self, kind: str) -> list[Any]:
        """Live records of a kind, by time."""
        found: list[Any] = self.kept(kind, lambda: self.diary.records(kind))
        return found

    def names(self, kind: str, having: str | None = None) -> list[str]:
        """What the records of a kind are called, each name once; cheaper than the records."""
        field = NAMED_BY[kind]
        found: list[str] = self.kept(f"names {kind} {having}", lambda: self.diary.names(kind, field, having))
        return found

    def notes(self) -> dict[str, Note]:
        """All live notes by id, in order."""
        found: dict[str, Note] = self.kept("notes", lambda: {n.id: n for n in self.diary.notes()})
        return found

    def note(self, note_id: str | None) -> Note | None:
        """The live note of that id; None where it is withdrawn or unknown."""
        if not note_id:
            return None
        loaded: dict[str, Note | None] = self.kept("note by id", dict)
        if note_id not in loaded:
            try:
                found = self.diary.note(note_id)
            except DiaryError:
                found = None
            loaded[note_id] = found if found is not None and found.state == "live" else None
        return loaded[note_id]

    def note_text(self, note_id: str) -> str:
        """What the note says; empty where it is withdrawn."""
        note = self.note(note_id)
        return note.text if note else ""

    @staticmethod
    def order(note_id: str) -> int:
        """A number that grows with the notes, to settle which of two said at the same time came first."""
        return int("".join(c for c in note_id if c.isdigit()) or -1)

    def of_note(self, kind: str, note_id: str) -> list[Any]:
        """The records of a kind that one note wrote, without reading the others."""
        if kind in self._kept:
            return [r for r in self._kept[kind] if r.note == note_id]
        return self.diary.records(kind, note=note_id)

    def moment(self, record: Any, label: str = "") -> Moment:
        """When and where a record was said."""
        return Moment(
            datetime.fromisoformat(record.at), self.order(record.note), record.span[0], record.note, record.id, label
        )

    def note_moment(self, note_id: str, label: str = "") -> Moment:
        note = self.note(note_id)
        assert note is not None
        return Moment(datetime.fromisoformat(note.at), self.order(note_id), 0, note_id, None, label)

    def economy(self) -> tuple[list[Any], list[Any]]:
        """(spans, gaps) from brim to brim."""
        return self.kept("economy", self._economy)  # type: ignore[no-any-return]

    def _economy(self) -> tuple[list[Any], list[Any]]:
        from diary.calculators import economy
        from diary.records.figures import economy_inputs

        fills, resets, readings = economy_inputs(self.diary)
        machine = self.machine
        return economy.spans_and_gaps(
            fills,
            resets,
            readings,
            distance_unit=machine.distance,
            volume_unit=machine.volume,
            meter_factor=machine.meter_factor,
        )

    @property
    def currency(self) -> str:
        """The money of this diary: what prices were said in most, else the machine's own."""

        def found() -> str:
            said = [r.currency for kind in ("fills", "parts") for r in self.records(kind) if r.currency]
            return max(set(said), key=said.count) if said else self.machine.currency

        return str(self.kept("currency", found))

    @property
    def meter(self) -> str:
        """The name of the machine's main meter."""
        return "hours" if self.machine.distance == "h" else "odometer"

    def meters(self, meter: str | None = None, exact: bool = False) -> list[Any]:
        """Readings of a meter (default: the main one), by time; those of fills are among them."""
        name = meter or self.meter
        return [
            r for r in self.records("readings") if r.meter == name and r.value is not None and not (exact and r.approx)
        ]


# -- words to records --


def entity(stems: Sequence[str]) -> list[str]:
    """What of the asked-about stems narrows anything."""
    empty = empty_words()
    return [s for s in stems if s not in empty and not s.isdigit()]


def best(rows: Iterable[Any], stems: Sequence[str], text: Any, also: Any = None, least: float = 0.5) -> list[Any]:
    """The rows whose text shares most with `stems` (all of equal share), none under `least`; `text(row)` and
    `also(row)` give it."""
    if not stems:
        return list(rows)
    scored = [(overlap(stems, text(r), also(r) if also else None), r) for r in rows]
    top = max((s for s, _ in scored), default=0.0)
    return [r for s, r in scored if s >= top - 1e-9] if top >= least else []


def verbs_of(tokens: Sequence[str]) -> list[str]:
    """The kinds of action that the words name, most telling first (a plain "put" or "did" last)."""
    found = []
    for verb, forms in answers_table("verb_words").items():
        if any(t in forms and not (t == "top" and not {"up", "off"} & set(tokens)) for t in tokens):
            found.append(verb)
    return sorted(found, key=lambda v: v == "fit")


def acted(action: str, verbs: Sequence[str]) -> bool:
    """Whether a work record's action is one of the verbs'."""
    rows = answers_table("verbs")
    return any(action.lower().startswith(tuple(rows[v])) for v in verbs)


def fault_text(fault: Any) -> str:
    """Everything a fault is called by."""
    return " ".join(x for x in (fault.where, fault.component, fault.what) if x)


def find_event(facts: Facts, tokens: Sequence[str], about: Sequence[str] = (), last: bool = True) -> Moment | None:
    """The moment that the words of a window speak of ("i put the alternator in", "the bearing", "my grandson filled
    it").

    Looks among work done and parts fitted first, then fills, faults, parts and notes by what the verb says. `about`
    stands
    in where the words only say "it". The newest that fits best is taken (`last`), else the oldest.
    """
    verbs = verbs_of(tokens)
    kinds = {k for k, forms in answers_table("verb_kinds").items() if any(t in forms for t in tokens)}
    verb_forms = {f for v in verbs for f in answers_table("verb_words")[v]} | {
        f for forms in answers_table("verb_kinds").values() for f in forms
    }
    noun_stems = [stem(t) for t in tokens if not is_stop(t) and t not in verb_forms]
    nouns = entity(noun_stems) or entity(about) or entity([stem(t) for t in tokens if not is_stop(t)])
    found: list[tuple[float, Moment]] = []
    fluids = {stem(w) for w in answers_table("entity")["fluids"]}
    if len(nouns) > 1 and not any(overlap(nouns, w.component) >= 0.6 for w in facts.records("work")):
        nouns = [n for n in nouns if n not in fluids] or nouns

    def add(record: Any, score: float, label: str) -> None:
        found.append((score, facts.moment(record, label)))

    if "fills" in kinds:
        fills = facts.records("fills")
        scored = [(overlap(nouns, facts.note_text(f.note)), f) for f in fills] if nouns else [(1.0, f) for f in fills]
        for score, fill in scored:
            if score >= 0.99 or not nouns:
                add(fill, 2 + score, "the fill")
    if not nouns and not found:
        return None
    for work in facts.records("work"):
        score = overlap(nouns, work.component)
        if score >= 0.6:
            fit = acted(work.action, verbs or ["fit"])
            add(work, score + (0.6 if fit else 0.0), f"{work.action} {work.component}")
    for part in facts.records("parts"):
        score = overlap(nouns, part.name)
        if score >= 0.6:
            wanted = {"ordered"} if "ordered" in kinds else {"bought"} if "bought" in kinds else {"fitted"}
            if part.state in wanted:
                add(part, score + 0.55, f"{part.state} {part.name}")
            elif part.state == "bought" and wanted == {"fitted"}:
                add(part, score - 0.3, f"{part.state} {part.name}")
    for torque in facts.records("torques"):
        score = overlap(nouns, torque.fastener)
        if score >= 0.8 and torque.role == "applied":
            add(torque, score + (0.5 if "tighten" in verbs else 0.0), f"torqued {torque.fastener}")
    for fault in facts.records("faults"):
        score = overlap(nouns, fault_text(fault))
        if score < 0.6:
            continue
        if "fix" in verbs or "closed" in kinds:
            if facts.note(fault.closed_in_note):
                found.append((score + 0.5, facts.note_moment(fault.closed_in_note, f"{fault.what} fixed")))
        elif "back" in kinds and facts.note(fault.came_back_in_note):
            found.append((score + 0.5, facts.note_moment(fault.came_back_in_note, f"{fault.what} came back")))
        else:
            add(fault, score + (0.3 if "found" in kinds else -0.2), f"{fault.what}")
    if not found:
        for note in facts.diary.search(" ".join(t for t in tokens if not is_stop(t)), 5):
            share = overlap(nouns, note.text)
            if share >= 0.99:
                found.append((0.4 + share / 10, facts.note_moment(note.id, "the note")))
    if not found:
        return None
    top = max(s for s, _ in found)
    near = [m for s, m in found if s >= top - 0.11]
    return (max if last else min)(near, key=lambda m: m.key)


@cache
def _corners() -> frozenset[str]:
    return frozenset(stem(f) for forms in answers_table("places").values() for f in forms)


def is_corner(stem_: str) -> bool:
    """Whether a stem only says which side or end."""
    return stem_ in _corners()


def has_corner(text: str | None) -> bool:
    """Whether words say a side or end among others."""
    return any(s in _corners() for s in content(text or ""))


# -- quotes --


def quote(
    text: str, stems: Sequence[str], limit: int = 30, span: tuple[int, int] | None = None, causes: bool = False
) -> str:
    """The stretch of a note, at most `limit` words, that speaks of `stems` most closely (and, with `causes`, says
    why)."""
    ws = words(text)
    if not ws:
        return text.strip()
    sentences = [m for m in re.finditer(r"[^.?!]+[.?!]*", text)]
    if len({w.start for w in ws}) <= limit:
        return text.strip()
    wanted = set(stems)
    corners = {stem(f) for forms in answers_table("places").values() for f in forms}
    cue = set(answers_table("cause_cues")["words"])
    strong = set(answers_table("cause_cues")["strong"])
    weight = []
    for w in ws:
        value = (0.3 if stem(w.text) in corners else 1.0) if stem(w.text) in wanted else 0.0
        if causes and w.text in cue:
            value += 1.1 if w.text in strong else 0.45
        if span and span[0] <= w.start < span[1]:
            value += 0.25
        weight.append(value)
    best_start, best_value = 0, -1.0
    for i in range(max(1, len(ws) - limit + 1)):
        window = ws[i : i + limit]
        seen: set[str] = set()
        value = 0.0
        for k, w in enumerate(window):
            first = w.text not in seen
            seen.add(w.text)
            value += weight[i + k] * (1.0 if first else 0.3)
        value -= 0.001 * i if not causes else -0.0005 * i
        # a stretch that begins with what is wanted reads better
        value += 0.2 * bool(weight[i] >= 0.9)
        if value > best_value + 1e-9:
            best_start, best_value = i, value
    start, end = ws[best_start].start, ws[min(best_start + limit, len(ws)) - 1].end
    if len(sentences) > 2:  # punctuated: whole sentences around the stretch, as far as they fit
        inside = [m for m in sentences if m.start() < end and m.end() > start and m.group().strip()]
        while len(inside) > 1 and sum(len(words(m.group())) for m in inside) > limit * 1.3:
            lightest = min(
                (0, -1),
                key=lambda k: sum(
                    1 for w in words(inside[k].group()) if stem(w.text) in wanted or (causes and w.text in cue)
                ),
            )
            inside.pop(lightest)
        return "".join(m.group() for m in inside).strip()
    return text[start:end].strip()


def digits_in(text: str) -> str:
    """The text with its spoken quantities written as figures ("sixty two miles an hour" as "62 mph")."""
    from diary.assistant.spoken import figure
    from diary.language.quantities import read_quantities
    from diary.language.types import Locale

    out: list[str] = []
    last = 0
    for q in sorted(read_quantities(text, locale=Locale()), key=lambda q: q.start):
        if q.start < last or any(c.isdigit() for c in text[q.start : q.end]):
            continue
        out.append(text[last : q.start] + figure(q.value, q.unit))
        last = q.end
    return "".join(out) + text[last:]


__all__ = [
    "Facts",
    "Moment",
    "acted",
    "answers_table",
    "best",
    "content",
    "digits_in",
    "entity",
    "fault_text",
    "find_event",
    "quote",
    "verbs_of",
]
