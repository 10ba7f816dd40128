"""A conversation about one machine: each turn is a note, a correction, a question, an undo, a yes or no, a command or
chatter.

`Conversation(diary).turn(text)` is one step. Notes are kept first, then read and checked; the reply says back what
was written
down, and asks at most one thing. Everything that changes a record is one entry of the history, so one "undo" takes it
back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from diary.assistant import checks, corrections, gaps, spoken, turns
from diary.assistant.answer import Answer
from diary.assistant.answers import answer_query, ask, facts_of
from diary.assistant.answers_work import label
from diary.assistant.corrections import Proposal
from diary.assistant.words import content, overlap, table, words
from diary.errors import DiaryError
from diary.records.diary import Diary, Entry
from diary.records.kinds import as_row


@dataclass(slots=True)
class Turn:
    """One turn: what was said, what it was taken for, what is said back, what is asked, what was written and what is
    gone.

    `restored` and `removed` say what an undo or redo touched. `listening` and `speaking` are the states after the turn.
    """

    say: str
    kind: str
    reply: str = ""
    asks: dict[str, Any] | None = None
    written: list[Any] = field(default_factory=list)
    gone: list[Any] = field(default_factory=list)
    answer: Answer | None = None
    removed: str | None = None
    restored: str | None = None
    listening: bool = True
    speaking: bool = True


@dataclass(slots=True)
class _Choice:
    """A question with a fixed set of answers: what each is called, and what it does."""

    wants: str
    about: list[Any]
    options: list[tuple[str, Any]]  # words, and a value for `act`
    act: str  # "query", "correct", "fault", "delete"
    gap: str | None = None
    extra: dict[str, Any] = field(default_factory=dict)


class Conversation:
    """The state between turns. `wake` and `pause` are phrases that a person has set besides the built-in ones."""

    def __init__(self, diary: Diary, *, wake: Sequence[str] = (), pause: Sequence[str] = ()) -> None:
        self.diary = diary
        self.listening = True
        self.speaking = True
        self._wake, self._pause = tuple(wake), tuple(pause)
        self._recent: list[str] = []  # ids of the records last written or changed
        self._gap: str | None = None  # the gap that was asked last
        self._choice: _Choice | None = None
        self._answer: Answer | None = None
        self._last_kind = ""
        self._last_reply = ""

    # -- one turn --

    def turn(self, text: str, at: datetime | None = None) -> Turn:
        """Take one turn of talk and say what came of it."""
        at = at or self.diary.now()
        try:
            made = self._turn(text.strip(), at)
        except DiaryError as error:
            made = Turn(text, "note", str(error))
        made.listening, made.speaking = self.listening, self.speaking
        if made.kind not in ("chatter", "command"):
            self._last_kind = made.kind
        if made.reply and made.kind != "command":
            self._last_reply = made.reply
        return made

    def _turn(self, text: str, at: datetime) -> Turn:
        woke, rest = turns.wake(text, self._wake)
        if woke:
            self.listening = True
            if not rest:
                return Turn(text, "command", "Listening.")
            made = self._turn(rest, at)
            made.say = text
            return made
        if not text:
            return Turn(text, "chatter")
        command = turns.command(text, self.listening, self._pause)
        if not self.listening and command is None:
            return Turn(text, "chatter")
        if command is not None:
            return self._command(text, command, at)
        waiting = self._waiting()
        if self._choice is not None:
            chosen = self._chosen(text, at)
            if chosen is not None:
                return chosen
        if waiting is not None:
            settled = self._settle(text, waiting, at)
            if settled is not None:
                return settled
        asks = turns.is_question(
            text, self._last_kind == "question" or (self._answer is not None and len(words(text)) <= 3)
        )
        if not asks and corrections.looks(text, bool(self._recent)):
            corrected = self._correct(text, at)
            if corrected is not None:
                return corrected
        if asks:
            return self._ask(text, at)
        answer = turns.yes_no([w.text for w in words(text)])
        if answer is not None and answer[1] >= len(words(text)):
            return self._turn_kept(text, at, Turn(text, "confirm" if answer[0] == "yes" else "deny", ""))
        if answer is not None and answer[0] == "yes" and self._repeats(text):
            return self._turn_kept(text, at, Turn(text, "confirm", "Yes."))
        if waiting is None and not self._recent and corrections.bare(text):
            late = self._late(text, at)
            if late is not None:
                return late
        return self._note(text, at)

    def _repeats(self, text: str) -> bool:
        """Whether the words only say again what was just written."""
        said = set(content(text)) - set(content("yes yeah right correct"))
        have = {s for r in self._live(self._recent) for s in content(label(as_row(r), r.KIND))}
        return bool(said) and said <= have

    def _turn_kept(self, text: str, at: datetime, made: Turn) -> Turn:
        """Keep the words of a turn that writes nothing, so that nothing said is lost."""
        self.diary.add_note(text, at, turn=made.kind, read=False, digest=self._digest(text, at, made.kind))
        return made

    def _digest(self, text: str, at: datetime, kind: str) -> str:
        import hashlib

        number, _ = self.diary.stamp()
        return hashlib.sha256(f"{at.isoformat()}\n{kind}\n{number}\n{text}".encode()).hexdigest()

    # -- commands --

    def _command(self, text: str, command: turns.Command, at: datetime) -> Turn:
        if command.name == "pause":
            self.listening = False
            return Turn(text, "command", "Waiting.")
        if command.name == "resume":
            self.listening = True
            return Turn(text, "command", "Go on.")
        if command.name == "quiet":
            self.speaking = False
            return Turn(text, "command", "")
        if command.name == "speak":
            self.speaking = True
            return Turn(text, "command", "I'm talking.")
        if command.name == "read_back":
            return self._read_back(text)
        if command.name == "undo":
            return self._undo(text, command.n)
        if command.name == "redo":
            return self._redo(text, command.n)
        return self._delete(text, command.kind or "note")

    def _read_back(self, text: str) -> Turn:
        rows = self._live(self._recent)
        if not rows:
            notes = self.diary.notes()
            if notes:
                rows = self._of_note(notes[-1].id)
        said = self._told(rows) if rows else (self._last_reply or "Nothing is written yet.")
        return Turn(
            text,
            "command",
            spoken.sentence(said),
            answer=Answer(spoken.sentence(said), self._values(rows), [r.id for r in rows]),
        )

    def _of_note(self, note: str) -> list[Any]:
        facts = facts_of(self.diary)
        return [
            r
            for kind in ("fills", "readings", "torques", "measures", "parts", "faults", "work", "plans", "lessons")
            for r in facts.of_note(kind, note)
        ]

    @staticmethod
    def _values(rows: Sequence[Any]) -> list[dict[str, Any]]:
        return [
            {"value": r.value, "unit": getattr(r, "unit", None), "plus_minus": None}
            for r in rows
            if getattr(r, "value", None) is not None
        ]

    def _undo(self, text: str, n: int) -> Turn:
        taken = self.diary.undo(n)
        self._gap = self._choice = None
        if not taken:
            return Turn(text, "undo", "There is nothing to undo.")
        written = [r for e in taken for r in e.written]
        gone = [r for e in taken for r in e.gone]
        notes = [e for e in taken if e.what == "note"]
        what = "correction" if taken[0].what == "correction" else "note" if notes else "change"
        removed = f"last {len(taken)} {what}s" if len(taken) > 1 else f"last {what}"
        back = [r for r in (self._again(r) for r in (*written, *gone)) if r is not None]
        self._recent = [r.id for r in back]
        lost = [r for r in written if self._again(r) is None]
        told = self._told(lost) if lost else self._told(back)
        reply = f"Taken back: {told}" if lost else f"Taken back; it is again {told}" if back else "Taken back"
        return Turn(text, "undo", spoken.sentence(reply), None, back, lost, removed=removed)

    def _again(self, record: Any) -> Any | None:
        """The record as it stands now, if it stands."""
        return next((r for r in facts_of(self.diary).records(record.KIND) if r.id == record.id), None)

    def _redo(self, text: str, n: int) -> Turn:
        back = self.diary.redo(n)
        if not back:
            return Turn(text, "command", "There is nothing to put back.")
        rows = [r for r in (self._again(r) for e in back for r in e.written) if r is not None]
        gone = [r for e in back for r in e.gone]
        self._recent = [r.id for r in rows]
        what = "correction" if back[0].what == "correction" else "note"
        restored = f"last {len(back)} {what}s" if len(back) > 1 else f"last {what}"
        return Turn(
            text,
            "command",
            spoken.sentence(f"Put back: {self._told(rows) or 'done'}"),
            None,
            rows,
            gone,
            restored=restored,
        )

    def _delete(self, text: str, kind: str) -> Turn:
        rows = facts_of(self.diary).records(kind)
        if not rows:
            return Turn(text, "command", f"There is no {kind.rstrip('s')} to delete.")
        last = rows[-1]
        about = {
            k: v
            for k, v in as_row(last).items()
            if v is not None and k in ("volume", "odometer", "trip", "value", "fastener", "name", "what", "component")
        }
        self._choice = _Choice("confirm", [about], [("yes", last.id)], "delete")
        asks = {"for": "confirm", "about": about}
        return Turn(
            text, "command", f"Delete the {self._told([last])}, {spoken.day(last.at, self.diary.now().date())}?", asks
        )

    # -- notes --

    def _note(self, text: str, at: datetime) -> Turn:
        entry = self.diary.add_note(text, at, digest=self._digest(text, at, "note"))
        opened = checks.check_entry(self.diary, entry)
        if entry.note is not None:
            self._auto_settle(entry)
        written = self._written(entry)
        still = [g for g in opened if any(x["id"] == g["id"] for x in self.diary.gaps())]
        if not written and not opened and entry.note is not None:
            written = self._continued(text, entry.note.id)
        if not written and not opened:
            self._recent = []
            return Turn(text, "chatter", "")
        self._recent = [r.id for r in written]
        made = Turn(
            text, "note", spoken.sentence(self._told(written)) if written else "", None, written, list(entry.gone)
        )
        return self._with_gap(made, still)

    def _continued(self, text: str, note: str) -> list[Any]:
        """A bare figure that goes on from the measure before ("and thirteen point nine with the lights on")."""
        from diary.language.numerals import read_numbers

        rows = self._live(self._recent)
        last = rows[-1] if rows else None
        first = words(text)[0].text if words(text) else ""
        numbers = [n for n in read_numbers(text) if n.kind in ("cardinal", "decimal", "digits")]
        if last is None or last.KIND != "measures" or first not in ("and", "then") or len(numbers) != 1:
            return []
        tail = text[numbers[0].end :].strip()
        fields = {
            "quantity": last.quantity,
            "value": numbers[0].value,
            "unit": last.unit,
            "of": f"{(last.of or last.quantity).split(',')[0]}, {tail}" if tail else last.of,
        }
        entry = self.diary.add_record("measures", fields, note=note, what="gap")
        return self._live([r.id for r in entry.written])

    def _written(self, entry: Entry) -> list[Any]:
        """The note's records as they stand after checks, corrected ones and threads included."""
        ids = [r.id for r in entry.written]
        if entry.note is not None:
            ids += [r.id for r in self._of_note(entry.note.id) if r.id not in ids]
        return self._live(ids)

    def _live(self, ids: Sequence[str]) -> list[Any]:
        if not ids:
            return []
        facts = facts_of(self.diary)
        wanted = {i: i.split(".")[1] for i in ids if "." in i}
        rows = {r.id: r for kind in set(wanted.values()) for r in facts.records(kind)}
        return [rows[i] for i in ids if i in rows]

    def _auto_settle(self, entry: Entry) -> None:
        """Settle what waited for a thing that this note now tells ("those yoke bolts were seventy five")."""
        torques: list[Any] = [t for t in entry.written if t.KIND == "torques"]
        for gap in self.diary.gaps():
            data = gap["data"]
            own = gap["note"] == (entry.note.id if entry.note else None)
            if own or gap["wants"] != "torque" or data.get("reason") != "missing":
                continue
            asked = str(data["fields"]["fastener"])
            told_now = next(
                (
                    t
                    for t in torques
                    if t.fastener
                    and max(overlap(content(t.fastener), asked), overlap(content(asked), t.fastener)) >= 0.99
                ),
                None,
            )
            if told_now is None:
                continue
            if len(content(told_now.fastener)) < len(content(asked)):
                self.diary.correct(told_now.id, {"fastener": asked}, what="gap")
            self.diary.settle_gap(gap["id"])
            if self._gap == gap["id"]:
                self._gap = None

    def _with_gap(self, made: Turn, opened: list[dict[str, Any]]) -> Turn:
        """Ask the most pressing of the open questions of this turn, one only."""
        gap = gaps.pressing(opened)
        self._gap = gap["id"] if gap else None
        self._choice = None
        if gap is None:
            return made
        data = gap["data"]
        if data.get("reason") == "which":
            names = data["about"]
            self._choice = _Choice(
                gap["wants"],
                names,
                list(zip(names, data["choices"], strict=True)),
                "fault",
                gap["id"],
                {"event": data["event"], "fields": data["fields"], "kind": data["kind"]},
            )
            self._gap = None
        made.asks = {"for": gap["wants"], "about": data.get("about")}
        made.reply = f"{made.reply} {data['question']}".strip()
        return made

    # -- answers to what was asked --

    def _waiting(self) -> dict[str, Any] | None:
        rows = self.diary.gaps()
        return next((g for g in rows if g["id"] == self._gap), None)

    def _late(self, text: str, at: datetime) -> Turn | None:
        """A bare figure out of the blue answers the newest question that still waits and that it fits."""
        for gap in reversed(self.diary.gaps()):
            value = self._number(text, gap) if gap["data"].get("field") else None
            if value is None or self._still_doubtful(gap, value) is not None:
                continue
            return self._fill_gap(text, gap, value, at, "note")
        return None

    def _settle(self, text: str, gap: dict[str, Any], at: datetime) -> Turn | None:
        """Take the turn as the answer to `gap` if it can be one."""
        tokens = [w.text for w in words(text)]
        data = gap["data"]
        answer = turns.yes_no(tokens)
        if gaps.says_unknown(text) or (answer and answer[0] == "no" and gaps.says_unknown(text)):
            self._turn_kept(text, at, Turn(text, "deny"))
            self.diary.settle_gap(gap["id"], "dropped")
            return self._next(Turn(text, "deny", "All right, left open."), gap)
        number = self._number(text, gap)
        if (
            answer
            and answer[0] == "yes"
            and data.get("about") is not None
            and number is None
            and isinstance(data["about"], int | float)
        ):
            rest = text[words(text)[answer[1] - 1].end :].strip() if answer[1] else ""
            rest = _after_yes(rest)
            made = self._fill_gap(text, gap, float(data["about"]), at, "confirm")
            if rest:
                more = self._note(rest, at)
                made.written += more.written
                made.reply = f"{made.reply} {more.reply}".strip()
                made.asks = made.asks or more.asks
            return made
        if data.get("reason") == "economy" and answer is not None and answer[1] >= len(tokens):
            if answer[0] == "yes":
                self.diary.settle_gap(gap["id"])
                self._gap = None
                return Turn(text, "confirm", "Good.")
            return Turn(text, "deny", "Which figure is wrong? Say it again.", {"for": "confirm", "about": None})
        if gap["wants"] == "fastener" and number is None and len(tokens) <= 6 and not turns.is_question(text):
            name = " ".join(t for t in tokens if t not in ("the", "on", "it", "was", "for"))
            with self.diary.together("correction"):
                kept = self.diary.add_note(
                    text, at, turn="correction", read=False, digest=self._digest(text, at, "correction")
                ).note
                self.diary.correct(gap["record"], {"fastener": name}, note=kept.id if kept else None)
                self.diary.settle_gap(gap["id"])
            self._gap = None
            rows = self._live([gap["record"]])
            return self._next(Turn(text, "note", spoken.sentence(self._told(rows)), None, rows), gap)
        if number is not None and gap["wants"] != "fastener":
            return self._fill_gap(text, gap, number, at, "note")
        if answer and answer[0] == "no" and answer[1] >= len(tokens) - 1:
            question = "What was it, then?"
            return self._turn_kept(
                text,
                at,
                Turn(
                    text,
                    "deny",
                    question,
                    {"for": gap["wants"] if gap["wants"] != "confirm" else _meter(gap), "about": data.get("about")},
                ),
            )
        return None

    def _number(self, text: str, gap: dict[str, Any]) -> float | None:
        """The figure of an answer, where the turn is little else than that figure."""
        from diary.language.numerals import read_numbers
        from diary.language.quantities import read_quantities

        if gap["data"].get("field") is None and gap["wants"] != "confirm":
            return None
        if turns.is_question(text):
            return None
        meters = self.diary.context().meters
        frame = table("turns")["frames"].get(_meter(gap) if gap["wants"] == "confirm" else gap["wants"], ["", ""])
        clean = corrections._without_no(text)
        shown = read_numbers(clean, meters=meters)
        numbers = [n for n in shown if n.kind not in ("ordinal", "time", "date", "label")]
        if not numbers:
            return None
        last = numbers[-1]
        left = [w.text for w in words(text) if not any(n.start <= w.start < n.end for n in shown)]
        quantities = read_quantities(clean, locale=self.diary.machine.locale, meters=meters)
        units = [
            w.text
            for w in words(text)
            for q in quantities
            if q.start <= w.start < q.end and not any(n.start <= w.start < n.end for n in shown)
        ]
        data = gap["data"]
        known = (
            set(table("turns")["correct_fillers"])
            | set(table("turns")["openers"])
            | set(table("turns")["answer_words"])
            | set(units)
        )
        thing = {
            w
            for w in " ".join(str(v) for v in (data.get("fields") or {}).values() if isinstance(v, str)).lower().split()
        }
        other = [t for t in left if t not in known and t not in thing]
        if len(other) > 1:
            return None
        framed = read_numbers(f"{frame[0]} {clean[last.start : last.end]} {frame[1]}".strip(), meters=meters)
        value = framed[0].value if len(framed) == 1 else last.value
        if (
            quantities
            and data.get("unit")
            and quantities[-1].unit != data["unit"]
            and quantities[-1].dimension != "money"
        ):
            from diary.units import convert, dimension

            if dimension(data["unit"]) == quantities[-1].dimension:
                return convert(quantities[-1].value, quantities[-1].unit, data["unit"])
            if gap["wants"] not in ("odometer", "hours", "confirm"):
                return None
        return float(value)

    def _fill_gap(self, text: str, gap: dict[str, Any], value: float, at: datetime, kind: str) -> Turn:
        """Write the answered value where it belongs; a value that does not fit either is asked again, unless it is
        said again."""
        data = gap["data"]
        if kind == "note" and data.get("about") != value:
            again = self._still_doubtful(gap, value)
            if again is not None:
                # the figure does not fit what was asked: it may correct another one ("no, make that twenty three
                # point one")
                if corrections.looks(text, True) and (corrected := self._correct(text, at, gap)) is not None:
                    return corrected
                self._turn_kept(text, at, Turn(text, "deny"))
                return Turn(text, "note", again, {"for": gap["wants"], "about": value})
        ids: list[str] = []
        with self.diary.together("correction") as entry:
            kept = self.diary.add_note(
                text, at, turn="correction", read=False, digest=self._digest(text, at, "correction")
            ).note
            note = kept.id if kept else None
            if gap["record"] and data["kind"] in ("fills", "parts"):
                self.diary.correct(gap["record"], {data["field"]: value}, note=note)
                ids.append(gap["record"])
            elif (
                data["kind"] == "readings" and data.get("fill") and data["fields"].get("meter") in ("odometer", "trip")
            ):
                self.diary.correct(data["fill"], {data["fields"]["meter"]: value}, note=note)
                ids.append(data["fill"])
            else:
                fields = {**data["fields"], data["field"]: value, "low": None, "high": None}
                made = self.diary.add_record(data["kind"], fields, note=gap["note"], at=data.get("at"))
                ids += [r.id for r in made.written]
            self.diary.settle_gap(gap["id"])
        for record in entry.written:
            if record.id not in ids:
                ids.append(record.id)
        rows = self._live(ids)
        self._recent = ids
        return self._next(Turn(text, kind, spoken.sentence(self._told(rows)), None, rows), gap)

    def _still_doubtful(self, gap: dict[str, Any], value: float) -> str | None:
        from diary.records.kinds import record_from

        data = gap["data"]
        if data.get("reason") == "economy":
            return None
        if data["kind"] in ("fills", "parts"):
            record = self.diary.get(gap["record"])
            setattr(record, data["field"], value)
        else:
            record = record_from(data["kind"], {**data["fields"], data["field"]: value})
            record.at, record.note = data.get("at") or self.diary.now().isoformat(timespec="seconds"), gap["note"] or ""
        record.origin = "read"
        found = [d for d in checks.doubts(self.diary, [record], gap["note"] or "") if d.field == data["field"]]
        return (
            checks.ask_for(found[0].wants, why=found[0].why, unit=spoken.unit_name(data.get("unit") or ""), value=value)
            if found
            else None
        )

    def _next(self, made: Turn, gap: dict[str, Any]) -> Turn:
        """After an answer: the next thing the same note lacks, if any."""
        rest = (
            [g for g in self.diary.gaps() if g["note"] == gap["note"] and g["id"] != gap["id"]] if gap["note"] else []
        )
        return self._with_gap(made, rest)

    def _chosen(self, text: str, at: datetime) -> Turn | None:
        """Take the turn as the answer to a choice."""
        choice = self._choice
        assert choice is not None
        tokens = [w.text for w in words(text)]
        answer = turns.yes_no(tokens)
        if choice.act == "delete":
            if answer is None:
                self._choice = None
                return None
            self._choice = None
            if answer[0] == "no":
                return self._turn_kept(text, at, Turn(text, "deny", "Kept."))
            rows = self._live([choice.options[0][1]])
            entry = self.diary.retract(choice.options[0][1])
            return Turn(text, "confirm", spoken.sentence(f"Deleted: {self._told(rows)}"), None, [], list(entry.gone))
        picked = pick(tokens, [name for name, _ in choice.options])
        if picked is None:
            if answer is not None and answer[0] == "no" and len(tokens) <= 3:
                self._choice = None
                return Turn(text, "deny", "All right.")
            return None
        _, target = choice.options[picked]
        self._choice = None
        if choice.act == "query":
            facts = facts_of(self.diary)
            made = answer_query(facts, target, at, self._answer)
            made.query = made.query or target
            self._answer = made
            return self._turn_kept(text, at, Turn(text, "confirm", made.answer, made.asks, answer=made))
        if choice.act == "correct":
            record, changes = target
            return self._apply(text, Proposal([(record, changes)]), at, "confirm")
        with self.diary.together("correction"):
            kept = self.diary.add_note(
                text, at, turn="correction", read=False, digest=self._digest(text, at, "correction")
            ).note
            assert kept is not None
            self.diary.add_event(
                target, choice.extra["event"] or "worked", note=choice.extra.get("note") or kept.id, fields={}
            )
            if choice.gap:
                self.diary.settle_gap(choice.gap)
        rows = self._live([target])
        self._recent = [target]
        return Turn(text, "confirm", spoken.sentence(self._told(rows)), None, rows)

    # -- corrections --

    def _correct(self, text: str, at: datetime, asked: dict[str, Any] | None = None) -> Turn | None:
        """Take the turn as a correction; `asked` is a question that goes on waiting."""
        facts = facts_of(self.diary)
        proposal = corrections.propose(facts, text, self._live(self._recent), at)
        if not proposal:
            return None
        if asked is not None and not proposal.choices:
            return self._with_gap(self._apply(text, proposal, at, "correction"), [asked])
        if proposal.choices:
            options = [(f"{gaps.spoken_name(r)} {spoken.day(r.at)}", (r, c)) for r, c in proposal.choices]
            self._choice = _Choice(proposal.wants, proposal.about, options, "correct")
            self._gap = None
            told = spoken.listed(
                [
                    f"{spoken.digits(a, 1)} at {r.at[11:16]}" if isinstance(a, float) else str(a)
                    for a, (r, _) in zip(proposal.about, proposal.choices, strict=True)
                ],
                "or",
            )
            return self._turn_kept(
                text,
                at,
                Turn(text, "correction", f"Which one: {told}?", {"for": proposal.wants, "about": proposal.about}),
            )
        return self._apply(text, proposal, at, "correction")

    def _apply(self, text: str, proposal: Proposal, at: datetime, kind: str) -> Turn:
        """Make the changes of a correction, as one entry."""
        before = {r.id: r for r, _ in proposal.changes}
        with self.diary.together("correction") as entry:
            kept = self.diary.add_note(
                text, at, turn="correction", read=False, digest=self._digest(text, at, "correction")
            ).note
            for record, changes in proposal.changes:
                self.diary.correct(record.id, changes, note=kept.id if kept else None)
                for gap in self.diary.gaps():
                    if gap["record"] == record.id and gap["data"].get("field") in changes:
                        self.diary.settle_gap(gap["id"])
        ids = list(before)
        for record in entry.written:
            if record.id not in ids:
                ids.append(record.id)
        rows = self._live(ids)
        keep = [i for i in self._recent if i not in ids]
        self._recent = ids + keep
        self._gap = None
        said = []
        for record, changes in proposal.changes:
            for name, value in changes.items():
                if name in ("low", "high", "approx", "what") and len(changes) > 1:
                    continue
                said.append(_changed(record, name, value))
        gone = [r for i, r in before.items()]
        return Turn(text, kind, spoken.sentence("; ".join(dict.fromkeys(said))), None, rows, gone)

    # -- questions --

    def _ask(self, text: str, at: datetime) -> Turn:
        rows = self._live(self._recent)
        focus = next((r for r in rows if r.KIND == "faults"), None)
        from diary.assistant.questions import understand

        if understand(text, at.date()).family == "convert":
            focus = rows
        answer = ask(self.diary, text, at, self._answer, focus)
        self._answer = answer
        made = self._turn_kept(text, at, Turn(text, "question", answer.answer, answer.asks, answer=answer))
        if answer.asks and answer.choices:
            self._choice = _Choice(answer.asks["for"], answer.asks["about"], answer.choices, "query")
            self._gap = None
        return made

    # -- words --

    def _told(self, rows: Sequence[Any]) -> str:
        """What was written down, said back in one breath."""
        said: list[str] = []
        fills = [r for r in rows if r.KIND == "fills"]
        for fill in fills:
            said.append(_fill_told(fill, self.diary.machine.currency))
        held = {(r.note, m, getattr(r, m)) for r in fills for m in ("odometer", "trip")}
        torqued = [content(r.fastener or "") for r in rows if r.KIND == "torques"]
        for record in rows:
            if record.KIND == "fills" or (
                record.KIND == "readings" and (record.note, record.meter, record.value) in held
            ):
                continue
            if record.KIND == "work" and any(set(c) & set(content(record.component or "")) for c in torqued):
                continue
            said.append(told(record))
        said = list(dict.fromkeys(s for s in said if s))
        if len(said) > 5:
            return f"{'; '.join(said[:5])}; and {len(said) - 5} more"
        return "; ".join(said)


def _meter(gap: dict[str, Any]) -> str:
    """The name of what a "confirm" gap is about."""
    fields = gap["data"].get("fields") or {}
    return str(fields.get("meter") or gap["data"].get("kind") or "confirm")


def _after_yes(text: str) -> str:
    """What follows a yes, without the words that only repeat it."""
    found = words(text)
    i = 0
    while i < len(found) and found[i].text in ("that", "is", "right", "correct", "it", "yes", "and", "so", "because"):
        i += 1
    return text[found[i].start :] if i < len(found) and len(found) - i >= 3 else ""


def _fill_told(fill: Any, currency: str) -> str:
    parts = ["fill"]
    if fill.volume is not None:
        parts[0] = f"fill of {spoken.figure(fill.volume, fill.unit)}"
    if fill.to_brim is not None:
        parts.append("full" if fill.to_brim else "not full")
    if fill.price_total is not None:
        parts.append(spoken.money(fill.price_total, fill.currency or currency))
    if fill.odometer is not None:
        parts.append(f"odometer {spoken.digits(fill.odometer, 1)}")
    if fill.trip is not None:
        parts.append(f"trip {spoken.digits(fill.trip, 1)}")
    return ", ".join(parts)


def told(record: Any) -> str:
    """One record said back."""
    if record.KIND == "readings":
        name = {"hours": "hour meter"}.get(record.meter, record.meter)
        return (
            f"{name} {'about ' if record.approx else ''}{spoken.digits(record.value, 1)}"
            if record.value is not None
            else ""
        )
    if record.KIND == "torques":
        lock = {True: ", threadlocker", False: ", no threadlocker", None: ""}[record.threadlocker]
        should = " should be" if record.role == "target" else ""
        return (
            f"{record.fastener or 'fastener'}{should} {spoken.figure(record.value, record.unit)}{lock}"
            if record.value is not None
            else ""
        )
    if record.KIND == "measures":
        return (
            f"{record.of or record.quantity} {spoken.figure(record.value, record.unit)}"
            if record.value is not None
            else ""
        )
    if record.KIND == "parts":
        count = f"{spoken.digits(record.count)} " if record.count and record.count != 1 else ""
        cost = f", {spoken.money(record.cost, record.currency or 'USD')}" if record.cost is not None else ""
        return f"{count}{record.name} {record.state}{cost}"
    if record.KIND == "faults":
        from diary.assistant.answers_faults import name

        state = {
            "found": "fault",
            "suspected": "suspected",
            "waiting": "waiting",
            "fixed": "fixed",
            "proven": "proven",
            "ruled_out": "ruled out",
            "back": "back",
        }
        return f"{state.get(record.state, record.state)}: {name(record)}"
    if record.KIND == "work":
        return f"{record.action} {record.component or ''}".strip()
    if record.KIND == "plans":
        due = f", {spoken.day(record.due, weekday=True)}" if record.due else ""
        return f"plan: {record.what}{due}"
    if record.KIND == "lessons":
        return f"lesson: {record.what}"
    if record.KIND == "resets":
        return "trip meter zeroed" if record.meter == "trip" else f"{record.meter} zeroed"
    if record.KIND == "drives":
        return f"drive of {spoken.figure(record.distance, record.unit)}" if record.distance else "drive"
    if record.KIND == "shots":
        return f"shot {record.state}: {record.what}"
    return ""


def _changed(record: Any, name: str, value: Any) -> str:
    """ "volume 23.7 gallons is now 23.1 gallons"."""
    old = getattr(record, name, None)
    unit = getattr(record, "unit", None)
    if name in ("value", "volume") and isinstance(value, int | float):
        before = f"{spoken.figure(old, unit)} is now " if old is not None else ""
        what = (
            getattr(record, "fastener", None) or getattr(record, "of", None) or getattr(record, "meter", None) or name
        )
        return f"{what} {before}{spoken.figure(value, unit)}"
    if name == "unit":
        return f"{spoken.figure(record.value, value)}, not {spoken.unit_name(old or '')}"
    if name == "at":
        return f"moved to {spoken.day(value, weekday=True)}"
    if name == "to_brim":
        return "to the brim" if value else "not to the brim"
    if name == "threadlocker":
        return "with threadlocker" if value else "no threadlocker"
    shown = spoken.digits(value, 2) if isinstance(value, int | float) else str(value)
    before = f"{spoken.digits(old, 2) if isinstance(old, int | float) else old} is now " if old is not None else ""
    return f"{name.replace('_', ' ')} {before}{shown}"


def pick(tokens: Sequence[str], options: Sequence[str]) -> int | None:
    """Which of the options is meant: by its number ("the second one", "the last"), else by the words they do not
    share."""
    ordinals = {
        "first": 0,
        "second": 1,
        "third": 2,
        "fourth": 3,
        "former": 0,
        "earlier": 0,
        "latter": len(options) - 1,
        "last": len(options) - 1,
        "later": len(options) - 1,
    }
    if set(tokens) & {"one", "ones", "the"} or len(tokens) <= 2:
        for t in tokens:
            if t in ordinals and ordinals[t] < len(options):
                return ordinals[t]
    said = set(content(list(tokens)))
    stems = [set(content(o)) for o in options]
    shared = set.intersection(*stems) if len(stems) > 1 else set()
    scores = [len(said & (s - shared)) for s in stems]
    if not scores or max(scores) == 0 or scores.count(max(scores)) > 1:
        return None
    return scores.index(max(scores))
