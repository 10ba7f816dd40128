"""The diary: notes first, records read out of them, and a history from which every change can be taken back."""

from __future__ import annotations

import hashlib
import json
import logging
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.language.types import Context, Draft
from diary.records import store
from diary.records.derive import FOLDS, OPEN_STATES, derive, overlaps, refold, without_note
from diary.records.kinds import KINDS, Fault, Part, Plan, Reading, Record, as_row, record_from
from diary.records.machine import Machine, machine_from
from diary.records.machine import as_row as machine_row
from diary.records.proving import proven

log = logging.getLogger(__name__)

Reader = Callable[[str, Context], list[Draft]]

REMEMBERED = 120  # of each kind, what a reader is shown besides the open threads; older ones are in the store


@dataclass(slots=True)
class Note:
    """One note: what was said (`text`), as the recogniser heard it (`heard`), when, and from where."""

    id: str
    at: str
    text: str
    source: str | None = None
    heard: str | None = None
    audio: str | None = None
    words: list[list[Any]] | None = None  # [character start, character end, second start, second end] of each word
    turn: str = "note"
    state: str = "live"


@dataclass(slots=True)
class Change:
    """One row before and after; None where it was not, or is no more."""

    table: str
    row: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None


@dataclass(slots=True)
class Entry:
    """One entry of the history, with what it wrote."""

    id: int
    what: str
    at: str
    note: Note | None = None
    written: list[Record] = field(default_factory=list)
    gone: list[Record] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    unresolved: list[Draft] = field(default_factory=list)  # drafts whose thread must be asked about
    reverses: int | None = None
    reversed_by: int | None = None
    new: bool = True  # False: the note was there already
    failed: str | None = None  # a sentence, where the note is kept but could not be read


def _default_now() -> datetime:
    return datetime.now().replace(microsecond=0)


class Diary:
    """A diary file, seen for one machine. Open it with `Diary.open`."""

    def __init__(self, path: Path | str, machine: str | None, now: Callable[[], datetime], read: Reader | None) -> None:
        self.path = Path(path)
        self.now = now
        self._conn = store.connect(path)
        self._read = read
        self._changes: list[Change] | None = None
        self._records: dict[str, Record] | None = None
        self.machine = self._choose(machine)

    @classmethod
    def open(
        cls, path: Path | str, *, now: Callable[[], datetime] | None = None, machine: str | None = None,
        read: Reader | None = None,
    ) -> Diary:  # fmt: skip
        """Open (or begin) the diary at `path`. `now` is the clock, `read` the reader of notes (default: the language room's)."""
        return cls(path, machine, now or _default_now, read)

    def close(self) -> None:
        """Write what is left and let go of the file."""
        self._conn.close()

    def stamp(self) -> tuple[int, str]:
        """Changes whenever anything is written; what was computed under the same stamp still holds."""
        row = self._conn.execute("SELECT coalesce(max(id), 0) FROM entries").fetchone()
        return int(row[0]), self.machine.name

    # -- questions --------------------------------------------------------------------------------------------------

    def questions(self, since: datetime) -> list[str]:
        """The questions asked of this machine since then, oldest first, as `keep_question` kept them."""
        try:
            found = self._conn.execute(
                "SELECT question FROM asked WHERE machine=? AND at>=? ORDER BY rowid", (self.machine.name, since.isoformat())
            )
            return [str(row[0]) for row in found]
        except sqlite3.OperationalError:  # nothing was ever asked
            return []

    def keep_question(self, question: str, at: datetime, since: datetime) -> None:
        """Keep a question for those that lean on it, and forget what was asked before `since`. It is no part of the diary's history;
        a file that cannot be written is left as it is."""
        try:
            with self._conn:
                self._conn.execute("CREATE TABLE IF NOT EXISTS asked (machine TEXT NOT NULL, at TEXT NOT NULL, question TEXT NOT NULL)")
                self._conn.execute("DELETE FROM asked WHERE at<? OR at>?", (since.isoformat(), at.isoformat()))
                self._conn.execute("INSERT INTO asked VALUES (?,?,?)", (self.machine.name, at.isoformat(), question))
        except sqlite3.OperationalError:
            return

    # -- machines ---------------------------------------------------------------------------------------------------

    def machines(self) -> list[Machine]:
        """Every machine in the file, in the order they were added."""
        return [machine_from(json.loads(r["data"])) for r in store.rows(self._conn, "SELECT data FROM machines ORDER BY rowid")]

    def _choose(self, name: str | None) -> Machine:
        known = self.machines()
        if name is not None:
            for machine in known:
                if name.casefold() in (machine.name.casefold(), *(n.casefold() for n in machine.nicknames)):
                    return machine
            if known:
                names = ", ".join(m.name for m in known)
                raise DiaryError(f"There is no machine named {name!r} here; there are: {names}. Add it with `diary machine add`.")
            return Machine(name=name)
        if len(known) > 1:
            last = next(store.rows(self._conn, "SELECT machine FROM notes ORDER BY seq DESC LIMIT 1"), None)
            if last is not None:
                return next((m for m in known if m.name == last["machine"]), known[0])
        return known[0] if known else Machine()

    def set_machine(self, machine: Machine) -> Entry:
        """Add `machine`, or change the one of that name, and look at the diary for it from here on."""
        old = next((machine_row(m) for m in self.machines() if m.name == machine.name), None)
        with self._entry("machine") as entry:
            self._change("machines", machine.name, old, machine_row(machine))
        self.machine = machine
        self._records = None
        return entry

    # -- notes ------------------------------------------------------------------------------------------------------

    def add_note(
        self, text: str, at: datetime | str | None = None, *, source: str | None = None, heard: str | None = None,
        audio: str | None = None, words: list[list[Any]] | None = None, digest: str | None = None, turn: str = "note",
        read: bool = True, drafts: list[Draft] | None = None,
    ) -> Entry:  # fmt: skip
        """Keep a note, then read it. The note is on disk before reading starts; a reader that fails leaves it there unread.

        `digest` tells whether the same thing has been added before (default: of the time and the text); then nothing changes
        and the entry has `new` False. `turn` other than "note" (correction, question ...) is kept and not read.
        """
        when = at if isinstance(at, str) else (at or self.now()).isoformat(timespec="seconds")
        digest = digest or hashlib.sha256(f"{when}\n{source or ''}\n{text}".encode()).hexdigest()
        old = next(
            store.rows(self._conn, "SELECT * FROM notes WHERE machine=? AND digest=?", (self.machine.name, digest)), None
        )
        if old is not None:
            note = _note(old)
            if old["read"] or old["state"] != "live" or not read:
                return Entry(0, "note", when, note, new=False)
            return self._read_note(note, drafts)  # an earlier run was stopped between keeping and reading
        if not self.machines():
            self.set_machine(self.machine)
        seq = self._conn.execute("SELECT coalesce(max(seq), 0) + 1 FROM notes").fetchone()[0]
        note = Note(f"n{seq}", when, text, source, heard, audio, words, turn)
        with store.transaction(self._conn):
            self._conn.execute(
                "INSERT INTO notes (seq,id,machine,at,text,heard,source,audio,words,digest,state,turn,read) "
                "VALUES (?,?,?,?,?,?,?,?,?,?,'live',?,0)",
                (seq, note.id, self.machine.name, when, text, heard, source, audio,
                 store.pack(words) if words is not None else None, digest, turn),
            )  # fmt: skip
        return self._read_note(note, drafts, read and turn == "note")

    def _read_note(self, note: Note, drafts: list[Draft] | None = None, read: bool = True) -> Entry:
        with self._entry("note" if note.turn == "note" else note.turn, note) as entry:
            self._changes_add(Change("notes", note.id, {"state": "absent"}, {"state": "live"}))
            if read or drafts is not None:
                if drafts is None:
                    drafts, entry.failed = self._drafts(note)
                entry.unresolved = [d for d in drafts if "candidates" in d.fields]
                made = derive(_as_sure_as_heard(drafts, note), note.id, note.at, self._all(), _seconds(note))
                for before, after in made:
                    self._put(before, after)
                for _, after in made:
                    if isinstance(after, Reading):
                        for fault, proof in proven(list(self._all().values()), after):
                            self._put(fault, proof)
            self._conn.execute("UPDATE notes SET read=? WHERE id=?", (int(entry.failed is None), note.id))
        return entry

    def _drafts(self, note: Note) -> tuple[list[Draft], str | None]:
        """What the reader makes of a note; a reader that breaks costs the reading, never the note."""
        reader, context = self.reader(), self.context(datetime.fromisoformat(note.at))
        try:
            return reader(note.text, context), None
        except Exception as error:
            log.warning("note %s could not be read", note.id, exc_info=True)
            return [], f"Note {note.id} is kept but could not be read ({type(error).__name__}: {error}); try `diary reread` later."

    def reader(self) -> Reader:
        """The function that reads a note; the language room is loaded when it is first needed."""
        if self._read is None:
            from diary.language.reader import read

            self._read = read
        return self._read

    def read_kept(self) -> list[Entry]:
        """Read the notes that were kept but not read, because an earlier run was stopped in between."""
        waiting = list(store.rows(self._conn, "SELECT * FROM notes WHERE machine=? AND read=0 AND state='live' ORDER BY seq",
                                  (self.machine.name,)))  # fmt: skip
        return [self._read_note(_note(r), None, r["turn"] == "note") for r in waiting]

    def note(self, note_id: str) -> Note:
        """The note of that id, withdrawn ones too."""
        row = next(store.rows(self._conn, "SELECT * FROM notes WHERE id=?", (note_id,)), None)
        if row is None:
            raise DiaryError(f"There is no note {note_id!r} in this diary; `diary notes` lists them.")
        return _note(row)

    def notes(self, since: str | None = None, until: str | None = None, *, turn: str | None = "note") -> list[Note]:
        """Live notes in the order they were said; `since` and `until` are ISO times or days (inclusive); turn None for all turns."""
        return [
            _note(r)
            for r in store.rows(
                self._conn,
                "SELECT * FROM notes WHERE machine=? AND state='live' AND (? IS NULL OR turn=?) AND at>=? AND at<=? "
                "ORDER BY at, seq",
                (self.machine.name, turn, turn, since or "", _end(until)),
            )
        ]

    def search(self, words: str, limit: int = 20) -> list[Note]:
        """Live notes that hold all of `words` (any, where none holds all), best first."""
        terms = [f'"{w}"' for w in "".join(c if c.isalnum() else " " for c in words).split()]
        if not terms:
            return []
        for join in (" AND ", " OR "):
            found = [
                _note(r)
                for r in store.rows(
                    self._conn,
                    "SELECT notes.* FROM notes_fts JOIN notes ON notes.seq=notes_fts.rowid WHERE notes_fts MATCH ? "
                    "AND machine=? AND state='live' AND turn='note' ORDER BY bm25(notes_fts) LIMIT ?",
                    (join.join(terms), self.machine.name, limit),
                )
            ]
            if found:
                return found
        return []

    def notes_of_file(self, digest: str) -> int | None:
        """How many notes a sound file of that SHA-256 gave; None where it has not been heard to its end."""
        sql = "SELECT notes FROM files WHERE digest=? AND machine=?"
        row = self._conn.execute(sql, (digest, self.machine.name)).fetchone()
        return None if row is None else int(row[0])

    def mark_file(self, digest: str, notes: int) -> None:
        """Remember that a sound file has been heard to its end and gave that many notes."""
        with store.transaction(self._conn):
            self._conn.execute("INSERT OR REPLACE INTO files (digest,machine,notes) VALUES (?,?,?)", (digest, self.machine.name, notes))

    # -- records ----------------------------------------------------------------------------------------------------

    def _all(self) -> dict[str, Record]:
        """Every live record of the machine by id, in the order of time; kept in memory once read."""
        if self._records is None:
            self._records = {
                r["id"]: record_from(r["kind"], json.loads(r["data"]))
                for r in store.rows(
                    self._conn, "SELECT id,kind,data FROM records WHERE machine=? AND live=1 ORDER BY at, ord, id",
                    (self.machine.name,),
                )  # fmt: skip
            }
        return self._records

    def records(
        self, kind: str, *, since: str | None = None, until: str | None = None, note: str | None = None, live: bool = True
    ) -> list[Any]:
        """Records of `kind` (an export name such as "fills") by time; `live` False gives the ones a person struck out."""
        if kind not in KINDS:
            raise DiaryError(f"There are no records of kind {kind!r}; the kinds are {', '.join(KINDS)}.")
        found = [
            record_from(kind, json.loads(r["data"]))
            for r in store.rows(
                self._conn,
                # a plus keeps the planner from the index of kinds: those of one note are few
                f"SELECT data FROM records WHERE machine=? AND {'' if note is None else '+'}kind=? AND live=? AND at>=? AND at<=? "
                f"AND {'? IS NULL' if note is None else 'note=?'} ORDER BY at, ord, id",
                (self.machine.name, kind, int(live), since or "", _end(until), note),
            )
        ]
        return found

    def names(self, kind: str, field: str, having: str | None = None) -> list[str]:
        """The different values of a text field over all live records of a kind, without reading the records; with `having`, of
        those whose field of that name is said."""
        if kind not in KINDS:
            raise DiaryError(f"There are no records of kind {kind!r}; the kinds are {', '.join(KINDS)}.")
        rows = self._conn.execute(
            "SELECT DISTINCT json_extract(data, ?) FROM records WHERE machine=? AND kind=? AND live=1"
            + ("" if having is None else " AND json_extract(data, ?) IS NOT NULL"),
            (f"$.{field}", self.machine.name, kind, *([] if having is None else [f"$.{having}"])),
        )
        return [str(row[0]) for row in rows if row[0]]

    def get(self, record_id: str) -> Any:
        """The record of that id, struck out or not."""
        row = next(store.rows(self._conn, "SELECT kind,data FROM records WHERE id=?", (record_id,)), None)
        if row is None:
            raise DiaryError(f"There is no record {record_id!r} in this diary.")
        return record_from(row["kind"], json.loads(row["data"]))

    def context(self, now: datetime | None = None) -> Context:
        """What a reader of the next note is told of the diary so far."""
        by_kind: dict[str, list[Any]] = {k: [] for k in ("faults", "parts", "plans", "torques", "fills", "measures")}
        last: dict[str, Reading] = {}
        for record in self._all().values():
            if record.KIND in by_kind:
                by_kind[record.KIND].append(record)
            elif isinstance(record, Reading) and record.value is not None:
                last[record.meter] = record
        lists = {}
        for name, found in by_kind.items():
            early = found[:-REMEMBERED] if name in FOLDS else []
            still = [r for r in early if r.state in OPEN_STATES or r.state == "open"]
            lists[name] = [as_row(r) for r in still + found[-REMEMBERED:]]
        meters = {m: (r.value, datetime.fromisoformat(r.at)) for m, r in last.items() if r.value is not None}
        return Context(
            locale=self.machine.locale, now=now or self.now(), machine=self.machine.name, tank=self.machine.tank,
            others=list(self.machine.others), meters=meters, **lists,
        )  # fmt: skip

    def economy_spans(self) -> list[Any]:
        """The brim-to-brim spans of this diary (see `calculators.economy.spans`)."""
        from diary.records.figures import economy_spans

        return economy_spans(self)

    # -- changes by a person ------------------------------------------------------------------------------------------

    def correct(self, record_id: str, changes: dict[str, Any], *, note: str | None = None, what: str = "correction") -> Entry:
        """Change fields of a record as a person said; the change survives `reread`. `note` is the note that said so.

        A meter reading that a fill also carries is changed with it, and the other way round.
        """
        record = self.get(record_id)
        known = set(as_row(record))
        for name in changes:
            if name not in known or name in ("id", "events", "origin"):
                raise DiaryError(f"A record of kind {record.KIND} has no field {name!r} that can be changed.")
        with self._entry(what, self.note(note) if note else None) as entry:
            self._correct(record, changes, note)
            for twin, twin_changes in self._twins(record, changes):
                self._correct(twin, twin_changes, note)
        return entry

    def _correct(self, record: Record, changes: dict[str, Any], note: str | None) -> None:
        if isinstance(record, Fault | Plan):
            event = {
                "note": note or record.note, "at": self.now().isoformat(timespec="seconds"), "event": "corrected",
                "span": [0, 0], "fields": dict(changes), "origin": "person",
            }  # fmt: skip
            made = refold(record.KIND, record.id, [*record.events, event])
            if made is not None:
                self._put(record, made)
        else:
            self._put(record, replace(record, **changes, origin="person"))

    def _twins(self, record: Record, changes: dict[str, Any]) -> Iterator[tuple[Record, dict[str, Any]]]:
        same_note = [r for r in self._all().values() if r.note == record.note and r.id != record.id]
        if record.KIND == "fills":
            for meter in ("odometer", "trip"):
                if meter in changes:
                    twins = [r for r in same_note if isinstance(r, Reading) and r.meter == meter]
                    twin = next((t for t in twins if t.value == getattr(record, meter)), None)
                    if twin is not None and changes[meter] is not None:
                        yield twin, {"value": changes[meter]}
                    elif twin is None and changes[meter] is not None:
                        unit = self.machine.distance if self.machine.distance != "h" else "mi"
                        fresh = Reading(
                            id=self._fresh_id(record.note, "readings"), note=record.note, at=record.at, meter=meter,
                            value=changes[meter], unit=unit, span=record.span, origin="person",
                        )  # fmt: skip
                        self._put(None, fresh)
            if "at" in changes:
                for other in same_note:
                    if isinstance(other, Reading):
                        yield other, {"at": changes["at"]}
        elif isinstance(record, Reading) and record.meter in ("odometer", "trip") and "value" in changes:
            for other in same_note:
                if other.KIND == "fills" and getattr(other, record.meter) == record.value:
                    yield other, {record.meter: changes["value"]}

    def _fresh_id(self, note: str, kind: str) -> str:
        taken = self._conn.execute("SELECT count(*) FROM records WHERE note=? AND kind=?", (note, kind)).fetchone()[0]
        number = taken + 1
        while self._conn.execute("SELECT 1 FROM records WHERE id=?", (f"{note}.{kind}.p{number}",)).fetchone():
            number += 1
        return f"{note}.{kind}.p{number}"

    def add_record(self, kind: str, fields: dict[str, Any], *, note: str, at: str | None = None, what: str = "correction") -> Entry:
        """A record given by a person (an answer to a question), hung on `note`."""
        kept = self.note(note)
        with self._entry(what, kept) as entry:
            if kind in FOLDS:
                event = {"note": note, "at": at or kept.at, "event": {"faults": "found", "plans": "made"}[kind],
                         "span": [0, len(kept.text)], "fields": fields, "origin": "person"}  # fmt: skip
                made = refold(kind, self._fresh_id(note, kind), [event])
                assert made is not None
            else:
                made = record_from(kind, fields)
                made.id, made.note, made.at, made.span = self._fresh_id(note, kind), note, at or kept.at, (0, len(kept.text))
                if isinstance(made, Part):
                    made.life = made.life or made.id
            made.origin = "person"
            self._put(None, made)
        return entry

    def add_event(self, record_id: str, event: str, *, note: str, fields: dict[str, Any] | None = None) -> Entry:
        """One more event on a fault or plan, as a person answered: "fixed", "back", "done" ..."""
        record, kept = self.get(record_id), self.note(note)
        if not isinstance(record, Fault | Plan):
            raise DiaryError(f"{record_id} is a record of kind {record.KIND}; only faults and plans have events.")
        with self._entry("correction", kept) as entry:
            made = refold(
                record.KIND, record.id,
                [*record.events, {"note": note, "at": kept.at, "event": event, "span": [0, len(kept.text)],
                                  "fields": fields or {}, "origin": "person"}],
            )  # fmt: skip
            if made is not None:
                self._put(record, made)
        return entry

    def retract(self, what_id: str, *, note: str | None = None) -> Entry:
        """Strike out a record, or a whole note with everything read from it. Both stay in the file and can be put back."""
        with self._entry("retraction", self.note(note) if note else None) as entry:
            if "." in what_id:
                record = self.get(what_id)
                self._put(record, None)
                for twin in self._mirrors(record):
                    self._put(twin, None)
            else:
                kept = self.note(what_id)
                for record in list(self._all().values()):
                    if record.note == kept.id and not isinstance(record, Fault | Plan):
                        self._put(record, None)
                    elif isinstance(record, Fault | Plan) and any(e["note"] == kept.id for e in record.events):
                        self._put(record, without_note(record, kept.id))
                for gap in self.gaps(note=kept.id):
                    self._gap_state(gap, "dropped")
                self._change("notes", kept.id, {"state": kept.state}, {"state": "withdrawn"})
        return entry

    def _mirrors(self, record: Record) -> list[Record]:
        """The readings that a fill's odometer and trip also stand in."""
        if record.KIND != "fills":
            return []
        return [
            r for r in self._all().values()
            if isinstance(r, Reading) and r.note == record.note and r.value is not None
            and r.value == getattr(record, r.meter, None)
        ]  # fmt: skip

    # -- gaps: what is to be asked ------------------------------------------------------------------------------------

    def open_gap(self, wants: str, *, note: str | None = None, record: str | None = None, **data: Any) -> dict[str, Any]:
        """Something missing or doubtful that waits for an answer; `data` is kept as given (about, question, said ...)."""
        number = self._conn.execute("SELECT count(*) + 1 FROM gaps").fetchone()[0]
        gap = {
            "id": f"g{number}", "machine": self.machine.name, "note": note, "record": record, "wants": wants,
            "state": "open", "at": self.now().isoformat(timespec="seconds"), "data": data,
        }  # fmt: skip
        with self._entry("gap"):
            self._change("gaps", f"g{number}", None, gap)
        return gap

    def gaps(self, state: str | None = "open", note: str | None = None) -> list[dict[str, Any]]:
        """The questions that wait, oldest first (state None: all that ever were)."""
        return [
            {**r, "data": json.loads(r["data"])}
            for r in store.rows(
                self._conn,
                "SELECT * FROM gaps WHERE machine=? AND (? IS NULL OR state=?) AND (? IS NULL OR note=?) ORDER BY rowid",
                (self.machine.name, state, state, note, note),
            )
        ]

    def settle_gap(self, gap_id: str, state: str = "settled") -> None:
        """The gap has been answered ("settled") or will never be ("dropped")."""
        gap = next((g for g in self.gaps(None) if g["id"] == gap_id), None)
        if gap is None:
            raise DiaryError(f"There is no question {gap_id!r} waiting; `diary gaps` lists them.")
        with self._entry("gap"):
            self._gap_state(gap, state)

    def _gap_state(self, gap: dict[str, Any], state: str) -> None:
        self._change("gaps", gap["id"], gap, {**gap, "state": state})

    # -- history ------------------------------------------------------------------------------------------------------

    NOT_UNDONE_ALONE = ("undo", "redo", "reread", "gap", "machine", "question", "command", "chatter", "confirm", "deny")

    @contextmanager
    def _entry(self, what: str, note: Note | None = None) -> Iterator[Entry]:
        """All changes inside are one entry and one transaction; an entry inside an entry joins the outer one."""
        if self._changes is not None:
            inner = Entry(0, what, "", note)
            first = len(self._changes)
            yield inner
            _tell(inner, self._changes[first:])
            return
        entry = Entry(0, what, self.now().isoformat(timespec="seconds"), note)
        self._changes = []
        try:
            with store.transaction(self._conn):
                yield entry
                if self._changes or note is not None:
                    cursor = self._conn.execute(
                        "INSERT INTO entries (machine,at,what,note) VALUES (?,?,?,?)",
                        (self.machine.name, entry.at, what, note.id if note else None),
                    )
                    entry.id = int(cursor.lastrowid or 0)
                    for c in self._changes:
                        self._conn.execute(
                            "INSERT INTO changes (entry,tbl,row,before,after) VALUES (?,?,?,?,?)",
                            (entry.id, c.table, c.row, _packed(c.before), _packed(c.after)),
                        )
            _tell(entry, self._changes)
        except BaseException:
            self._records = None
            raise
        finally:
            self._changes = None

    @contextmanager
    def together(self, what: str, note: str | None = None) -> Iterator[Entry]:
        """Make several changes one entry, undone together."""
        with self._entry(what, self.note(note) if note else None) as entry:
            yield entry

    @contextmanager
    def batch(self) -> Iterator[None]:
        """Many notes in one transaction, which is one wait for the disk: for what can be brought in again from its file.

        Inside it a note is safe only when the batch ends; a note that a person says is never kept in one.
        """
        try:
            with store.transaction(self._conn):
                yield
        except BaseException:
            self._records = None
            raise

    def _changes_add(self, change: Change) -> None:
        assert self._changes is not None
        self._changes.append(change)

    def _put(self, before: Record | None, after: Record | None) -> None:
        """Write one record and remember what it was; `after` None strikes it out."""
        kept = after or before
        assert kept is not None
        old = self._row(before) if before is not None else None
        if after is None:
            assert before is not None
            new = {**self._row(replace(before, origin="person")), "live": 0}
        else:
            new = self._row(after)
        self._change("records", kept.id, old, new)

    def _row(self, record: Record) -> dict[str, Any]:
        return {"kind": record.KIND, "live": 1, "data": as_row(record)}

    def _change(self, table: str, row: str, before: dict[str, Any] | None, after: dict[str, Any] | None) -> None:
        self._write(table, row, after)
        self._changes_add(Change(table, row, before, after))

    def _write(self, table: str, row: str, image: dict[str, Any] | None) -> None:
        """Make one row what `image` says."""
        run = self._conn.execute
        if table == "records":
            memory = self._all()
            if image is None:
                run("DELETE FROM records WHERE id=?", (row,))
                memory.pop(row, None)
                return
            data = image["data"]
            number = int("".join(c for c in data["note"] if c.isdigit()) or 0) * 1000 + int(
                "".join(c for c in row.rsplit(".", 1)[-1] if c.isdigit()) or 0
            )
            run(
                "INSERT INTO records (id,machine,kind,note,at,ord,live,origin,data) VALUES (?,?,?,?,?,?,?,?,?) "
                "ON CONFLICT(id) DO UPDATE SET note=excluded.note, at=excluded.at, live=excluded.live, origin=excluded.origin, "
                "data=excluded.data",
                (row, self.machine.name, image["kind"], data["note"], data["at"], number, image["live"], data["origin"],
                 store.pack(data)),
            )  # fmt: skip
            if image["live"]:
                memory[row] = record_from(image["kind"], data)
            else:
                memory.pop(row, None)
        elif table == "notes":
            state = image["state"] if image else "withdrawn"
            run("UPDATE notes SET state=? WHERE id=?", ("withdrawn" if state == "absent" else state, row))
        elif table == "gaps":
            if image is None:
                run("UPDATE gaps SET state='dropped' WHERE id=?", (row,))
                return
            run(
                "INSERT INTO gaps (id,machine,note,record,wants,state,at,data) VALUES (?,?,?,?,?,?,?,?) "
                "ON CONFLICT(id) DO UPDATE SET state=excluded.state, data=excluded.data, record=excluded.record",
                (row, image["machine"], image["note"], image["record"], image["wants"], image["state"], image["at"],
                 store.pack(image["data"])),
            )  # fmt: skip
        elif table == "machines":
            if image is None:
                run("DELETE FROM machines WHERE name=?", (row,))
            else:
                run("INSERT INTO machines (name,data) VALUES (?,?) ON CONFLICT(name) DO UPDATE SET data=excluded.data",
                    (row, store.pack(image)))  # fmt: skip

    def _current(self, change: Change) -> dict[str, Any] | None:
        """The row that `change` touched, as it stands now, in the form of its images."""
        if change.table == "records":
            found = next(store.rows(self._conn, "SELECT kind,live,data FROM records WHERE id=?", (change.row,)), None)
            return None if found is None else {**found, "data": json.loads(found["data"])}
        if change.table == "notes":
            return {"state": self.note(change.row).state}
        return change.after

    def _reverse(self, change: Change, to: dict[str, Any] | None, since: dict[str, Any] | None) -> None:
        """Bring one row back to `to`. A thread that has changed since loses only what this entry's notes added."""
        now = self._current(change)
        image = to
        if change.table == "records" and now is not None and now != since:
            kind = now["kind"]
            if kind in FOLDS:
                mine = _events(since), _events(to)
                added = [e for e in mine[0] if e not in mine[1]]
                missing = [e for e in mine[1] if e not in mine[0]]
                events = [e for e in now["data"]["events"] if e not in added] + missing
                made = refold(kind, change.row, sorted(events, key=lambda e: e["at"]))
                image = self._row(made) if made is not None else None
        self._changes_add(Change(change.table, change.row, now, image))
        self._write(change.table, change.row, image)

    def _entry_row(self, sql: str, *params: Any) -> Entry | None:
        row = next(store.rows(self._conn, f"SELECT * FROM entries WHERE machine=? AND {sql}", (self.machine.name, *params)), None)
        return None if row is None else self._entry_from(row)

    def _entry_from(self, row: dict[str, Any]) -> Entry:
        changes = [
            Change(c["tbl"], c["row"], _unpacked(c["before"]), _unpacked(c["after"]))
            for c in store.rows(self._conn, "SELECT * FROM changes WHERE entry=? ORDER BY id", (row["id"],))
        ]
        entry = Entry(row["id"], row["what"], row["at"], self.note(row["note"]) if row["note"] else None, changes=changes,
                      reverses=row["reverses"], reversed_by=row["reversed_by"])  # fmt: skip
        _tell(entry, changes)
        return entry

    def _marks(self) -> str:
        return "what NOT IN (" + ",".join(f"'{w}'" for w in self.NOT_UNDONE_ALONE) + ")"

    def undo(self, n: int = 1) -> list[Entry]:
        """Take back the last `n` entries that can be; returns the entries taken back, newest first (fewer when there are no more).

        Gaps that an entry opened after itself go with it.
        """
        taken: list[Entry] = []
        for _ in range(n):
            last = self._entry_row(f"reversed_by IS NULL AND {self._marks()} ORDER BY id DESC LIMIT 1")
            if last is None:
                break
            with self._entry("undo", last.note) as entry:
                followers = [
                    self._entry_from(r)
                    for r in store.rows(
                        self._conn,
                        "SELECT * FROM entries WHERE machine=? AND what='gap' AND id>? AND reversed_by IS NULL ORDER BY id DESC",
                        (self.machine.name, last.id),
                    )
                ]
                for undone in [*followers, last]:
                    for change in reversed(undone.changes):
                        self._reverse(change, change.before, change.after)
            self._link(entry, last, followers)
            taken.append(last)
        return taken

    def _link(self, entry: Entry, last: Entry, followers: Iterable[Entry] = ()) -> None:
        with store.transaction(self._conn):
            self._conn.execute("UPDATE entries SET reverses=? WHERE id=?", (last.id, entry.id))
            for undone in [last, *followers]:
                self._conn.execute("UPDATE entries SET reversed_by=? WHERE id=?", (entry.id, undone.id))

    def redo(self, n: int = 1) -> list[Entry]:
        """Put back the last `n` entries that were taken back, as long as nothing new was written since."""
        back: list[Entry] = []
        for _ in range(n):
            undo = self._entry_row("what='undo' AND reversed_by IS NULL ORDER BY id DESC LIMIT 1")
            if undo is None or self._entry_row(f"id>? AND reversed_by IS NULL AND {self._marks()} AND id NOT IN "
                                               "(SELECT reverses FROM entries WHERE what='redo')", undo.id):  # fmt: skip
                break
            with self._entry("redo", undo.note) as entry:
                for change in reversed(undo.changes):
                    self._reverse(change, change.before, change.after)
            with store.transaction(self._conn):
                self._conn.execute("UPDATE entries SET reverses=? WHERE id=?", (undo.id, entry.id))
                self._conn.execute("UPDATE entries SET reversed_by=? WHERE id=?", (entry.id, undo.id))
                self._conn.execute("UPDATE entries SET reversed_by=NULL WHERE reversed_by=?", (undo.id,))
            original = self._entry_row("id=?", undo.reverses)
            if original is not None:
                back.append(original)
        return back

    def history(self, limit: int = 20, record: str | None = None) -> list[Entry]:
        """The last entries, newest first; with `record`, those that touched it."""
        sql = "SELECT * FROM entries WHERE machine=? ORDER BY id DESC LIMIT ?"
        params: tuple[Any, ...] = (self.machine.name, limit)
        if record is not None:
            sql = ("SELECT * FROM entries WHERE machine=? AND id IN (SELECT entry FROM changes WHERE tbl='records' AND row=?) "
                   "ORDER BY id DESC LIMIT ?")  # fmt: skip
            params = (self.machine.name, record, limit)
        return [self._entry_from(r) for r in store.rows(self._conn, sql, params)]

    # -- reading again --------------------------------------------------------------------------------------------------

    def reread(self, progress: Callable[[int, int], None] | None = None) -> Entry:
        """Derive every record again from the notes with today's readers; what a person corrected, gave or struck out stays."""
        mine = [
            (r["live"], record_from(r["kind"], json.loads(r["data"])))
            for r in store.rows(self._conn, "SELECT kind,live,data FROM records WHERE machine=? AND origin='person'",
                                (self.machine.name,))
        ]  # fmt: skip
        kept = {r.id: r for live, r in mine if live and not isinstance(r, Fault | Plan)}
        struck = [r for live, r in mine if not live]
        by_hand = {
            r.id: (r, [e for e in r.events if e.get("origin") == "person"])
            for r in self._all().values()
            if isinstance(r, Fault | Plan) and any(e.get("origin") == "person" for e in r.events)
        }
        old = dict(self._all())
        notes = self.notes()
        with self._entry("reread") as entry:
            self._records = dict(kept)
            for number, note in enumerate(notes):
                found, entry.failed = self._drafts(note)
                if entry.failed:  # what an earlier reading found is better than nothing
                    self._records.update({i: r for i, r in old.items() if r.note == note.id and i not in self._records})
                drafts = _as_sure_as_heard(found, note)
                for _, after in derive(drafts, note.id, note.at, self._records, _seconds(note)):
                    if _same_place(after, struck) or (_same_place(after, list(kept.values())) and after.KIND not in FOLDS):
                        continue
                    self._records[after.id] = after
                for fresh in [r for r in self._records.values() if isinstance(r, Reading) and r.note == note.id]:
                    self._records.update({after.id: after for _, after in proven(list(self._records.values()), fresh)})
                for record_id, (record, events) in by_hand.items():
                    if events[0]["note"] != note.id and record.note != note.id:
                        continue
                    now = self._records.get(record_id)
                    base = now.events if isinstance(now, Fault | Plan) else [e for e in record.events if e.get("origin") != "person"]
                    made = refold(record.KIND, record_id, [*[e for e in base if e not in events], *events])
                    if made is not None:
                        self._records[record_id] = made
                if progress:
                    progress(number + 1, len(notes))
            new = self._records
            self._records = dict(old)
            for record_id in {**old, **new}:
                was, now = old.get(record_id), new.get(record_id)
                if was == now:
                    continue
                self._change("records", record_id, None if was is None else self._row(was), None if now is None else self._row(now))
        self._records = None
        return entry


def _same_place(record: Record, others: list[Record]) -> bool:
    return any(
        o.KIND == record.KIND and o.note == record.note and (o.id == record.id or overlaps(o.span, record.span)) for o in others
    )


def _note(row: dict[str, Any]) -> Note:
    words = json.loads(row["words"]) if row["words"] else None
    return Note(row["id"], row["at"], row["text"], row["source"], row["heard"], row["audio"], words, row["turn"], row["state"])


def _seconds(note: Note) -> Callable[[int, int], tuple[float, float] | None] | None:
    if not note.words:
        return None
    words = note.words

    def seconds(start: int, end: int) -> tuple[float, float] | None:
        inside = [w for w in words if w[0] < end and start < w[1]]
        return (inside[0][2], inside[-1][3]) if inside else None

    return seconds


def _as_sure_as_heard(drafts: list[Draft], note: Note) -> list[Draft]:
    """Drafts are no surer than the recogniser was of the words they rest on."""
    if not note.words or len(note.words[0]) < 5:
        return drafts
    for draft in drafts:
        sure = [w[4] for w in note.words if w[0] < draft.end and draft.start < w[1]]
        if sure:
            draft.confidence *= sum(sure) / len(sure)
    return drafts


def _end(until: str | None) -> str:
    """The last moment of a day, or the time itself."""
    return "9999" if until is None else until if "T" in until else f"{until}T23:59:59.999"


def _events(image: dict[str, Any] | None) -> list[dict[str, Any]]:
    return list(image["data"].get("events", [])) if image else []


def _packed(image: dict[str, Any] | None) -> str | None:
    return None if image is None else store.pack(image)


def _unpacked(text: str | None) -> dict[str, Any] | None:
    return None if text is None else json.loads(text)


def _tell(entry: Entry, changes: list[Change]) -> None:
    """Fill in an entry's `written` and `gone` from its changes."""
    entry.changes = list(changes)
    last: dict[str, Change] = {}
    first: dict[str, Change] = {}
    for change in changes:
        if change.table == "records":
            first.setdefault(change.row, change)
            last[change.row] = change
    for row, change in last.items():
        before, after = first[row].before, change.after
        if after is not None and after["live"]:
            if before is None or not before["live"] or before["data"] != after["data"]:
                entry.written.append(record_from(after["kind"], after["data"]))
        elif before is not None:
            entry.gone.append(record_from(before["kind"], before["data"]))
