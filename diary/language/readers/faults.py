"""Reader of faults: what is wrong, and what became of what was wrong before.

The clauses of a note (`fault_talk`) are told as a story: each either opens a fault, says more of one that is open, names its
cause, does work on it, closes it, rules it out, leaves it waiting or brings it back. Which one is meant is found by
`threads`; where two fit about equally nothing is guessed: the draft carries `candidates` and the assistant asks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from diary.language import fault_talk, threads
from diary.language.fault_talk import Problem, Said
from diary.language.types import Context, Draft, Hit, Utterance

CLOSING = ("fixed", "ruled_out")
NEAR = 2  # clauses: so far apart a problem and its explanation may stand


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "faults". A draft that continues one opened in the same note has the thread "#n" (see types.Draft)."""
    story = Story(utterance, context, len(so_far))
    for one in fault_talk.said(utterance):
        story.take(one)
    return story.drafts()


@dataclass(slots=True)
class Step:
    """One thing that happens to a fault in this note; `id` is the fault's, `opens` True where the fault begins here."""

    id: str | None
    event: str
    start: int
    end: int
    clause: int
    opens: bool = False
    fields: dict[str, Any] = field(default_factory=dict)
    confidence: float = 0.9


class Story:
    """A note as it unfolds: the faults as they stand, the one spoken of last, and the steps so far."""

    def __init__(self, utterance: Utterance, context: Context, offset: int) -> None:
        self.text = utterance.text
        self.now = context.now
        self.offset = offset
        self.faults: list[dict[str, Any]] = [dict(f) for f in context.faults]
        self.steps: list[Step] = []
        self.focus: str | None = None
        self.focus_clause = -9
        self.repaired: dict[str, int] = {}  # fault -> clause of the work done on it in this note
        self.worked_on: list[tuple[threads.Mention, int]] = []  # parts worked on in this note
        self.said: list[Said] = []

    # ---- one clause ---------------------------------------------------------------------------------------------------

    def take(self, one: Said) -> None:
        """Let a clause tell its part of the story."""
        self.said.append(one)
        if one.outside or one.foreign:
            return
        wrong = [p for p in one.problems if not p.negated]
        if "unfixed" in one.groups:
            self._stands(one)
        for problem in wrong:
            self._problem(one, problem)
        if not wrong:
            self._point(one)
            self._suspect(one)
        self._work(one)
        if not wrong or "fixed" in one.groups:
            self._result(one)
        if "waiting" in one.groups:
            self._wait(one)
        if "hedge" in one.groups:
            self._hedge(one)

    def _point(self, one: Said) -> None:
        """Turn to the fault that the clause names, if it names one."""
        if not (one.mention.components or one.mention.symptoms):
            return
        found = [c for c in threads.candidates(one.mention, self.faults, self.now, "open") if {"component", "symptom"} & set(c.why)]
        if not found:
            return
        best = found[0]
        if one.groups & {"back"} and one.mention.symptoms | one.mention.components and not threads.is_open(best.record):
            self._returns(one, found)
        elif threads.is_open(best.record):
            self._turn(best.id, one)
            if "still" in one.groups:
                self._step(best.id, "found", one, once=True)
        elif "back" in one.groups:
            self._returns(one, found)

    def _turn(self, id: str, one: Said) -> None:
        self.focus, self.focus_clause = id, one.index

    # ---- something is wrong -------------------------------------------------------------------------------------------

    def _problem(self, one: Said, problem: Problem) -> None:
        spoken = one.mention
        known = self._same(spoken, problem)
        if one.groups & {"back", "still"}:
            found = threads.candidates(spoken, self.faults, self.now, "shut" if "back" in one.groups else "open")
            found = [c for c in found if {"component", "symptom"} & set(c.why) and self._fits(spoken, c.record)]
            if found:
                self._returns(one, found)
                return
        if known is not None:
            if threads.is_open(known) or known["id"] in self._fresh():
                self._turn(known["id"], one)
                self._detail(known["id"], one, problem)
                if known["id"] not in self._fresh():
                    self._step(known["id"], "found", one, once=True)
            else:
                self._step(known["id"], "back", one)
                self._turn(known["id"], one)
            return
        if problem.weak and not one.things:
            return
        if one.clause.planned and problem.weak:
            return
        about = self._explains(one, problem)
        if about is not None:
            self._detail(about, one, problem)
            return
        self._open(one, problem)

    def _fits(self, spoken: threads.Mention, record: Any) -> bool:
        """Neither the places nor the parts of a mention speak against a record."""
        known = threads.of_record(record)
        if threads.contrary(spoken.places, known.places):
            return False
        return not (spoken.components and known.components) or threads.related(spoken, known) > 0 or bool(spoken.symptoms & known.symptoms)

    def _same(self, spoken: threads.Mention, problem: Problem) -> dict[str, Any] | None:
        """The fault, open or shut, that says the same as this problem does."""
        best, top = None, 0.0
        for fault in self.faults:
            known = threads.of_record(fault)
            if threads.contrary(spoken.places, known.places):
                continue
            near = threads.related(spoken, known)
            alike = problem.name in known.symptoms or problem.cls in known.classes
            is_open = threads.is_open(fault)
            if spoken.components and known.components:
                fit = near >= 0.5 and (alike or not known.classes) if is_open else near >= 0.9 and alike
            else:
                fit = problem.name in known.symptoms and is_open
            value = near + alike + 0.5 * is_open
            if fit and value > top:
                best, top = fault, value
        return best

    def _explains(self, one: Said, problem: Problem) -> str | None:
        """The fault that this problem only says more of: its cause, or another sign of it; None where it is one of its own."""
        if "novel" in one.groups or self.focus is None:
            return None
        fault = self._fault(self.focus)
        known = threads.of_record(fault)
        if threads.contrary(one.mention.places, known.places):
            return None
        gap = one.index - self.focus_clause
        fresh = self.focus in self._fresh()
        shares = bool(one.mention.systems & known.systems) or threads.related(one.mention, known) > 0
        leads = bool(one.groups & {"cause"}) or one.clause.suspected or self._begins(one, "so")
        if not threads.is_open(fault):
            return self.focus if leads or (shares and gap <= NEAR) else None
        if fresh:
            if leads and gap <= NEAR + 1:
                return self.focus
            if not one.things:
                return self.focus if gap <= NEAR + 1 else None
            return self.focus if shares and gap <= NEAR else None
        if leads:
            return self.focus
        return self.focus if shares and gap <= NEAR + 2 else None

    def _begins(self, one: Said, word: str) -> bool:
        start = one.clause.start
        before = self.text[max(0, start - 4) : start].lower().strip().split()
        first = one.clause.tokens[0].lower if one.clause.tokens else ""
        return first == word or (bool(before) and before[-1] == word)

    def _open(self, one: Said, problem: Problem) -> None:
        id = f"new{len(self.steps)}"
        thing = self._thing(one, problem)
        what = clerk(self.text, one, problem)
        place = " ".join(dict.fromkeys(h.name for h in one.places)) or None
        fields = {
            "what": what,
            "component": thing.name if thing else None,
            "where": place,
            "safety": any(bool(h.data.get("safety")) for h in one.things),
            "cause": None,
        }
        step = Step(id, "suspected" if one.clause.suspected else "found", one.clause.start, one.clause.end, one.index, True, fields)
        step.confidence = 0.7 if problem.weak else 0.9
        self.steps.append(step)
        self._replay(step)
        self._turn(id, one)

    def _thing(self, one: Said, problem: Problem) -> Hit | None:
        """The part that is wrong: the nearest one before the symptom, else the nearest after it."""
        before = [h for h in one.things if h.end <= problem.start]
        after = [h for h in one.things if h.start >= problem.start]
        return before[-1] if before else after[0] if after else None

    def _detail(self, id: str, one: Said, problem: Problem | None) -> None:
        """Add what a clause says to a fault opened in this note, or name the cause of an older one."""
        opened = next((s for s in self.steps if s.id == id and s.opens), None)
        if opened is None:
            if one.groups & {"cause"} or problem is not None:
                text = clerk(self.text, one, problem)
                self._step(id, "cause", one, fields={"cause": text}, once=True)
            return
        more = clerk(self.text, one, problem)
        thing = self._thing(one, problem) if problem else (one.things[0] if one.things else None)
        if more and more not in opened.fields["what"] and len(opened.fields["what"]) < 80:
            opened.fields["what"] += f", {more}"
        if thing and (opened.fields["component"] is None or self._begins(one, "so")):
            opened.fields["component"] = thing.name
        if one.places and not opened.fields["where"]:
            opened.fields["where"] = " ".join(dict.fromkeys(h.name for h in one.places))
        opened.fields["safety"] = opened.fields["safety"] or any(bool(h.data.get("safety")) for h in one.things)
        self.faults = [{**f, **{k: opened.fields[k] for k in ("what", "component", "where")}} if f["id"] == id else f for f in self.faults]

    def _suspect(self, one: Said) -> None:
        """A part suspected right after a fault was told belongs to it ("might be the heater core")."""
        if one.clause.suspected and one.things and self.focus in self._fresh() and one.index - self.focus_clause <= NEAR:
            assert self.focus is not None
            self._detail(self.focus, one, None)

    def _returns(self, one: Said, found: list[threads.Candidate]) -> None:
        near = threads.close(found)
        if len(near) > 1 and "back" in one.groups and not any(threads.is_open(c.record) for c in near):
            self._ask("back", near, one)
            return
        best = found[0]
        self._turn(best.id, one)
        if threads.is_open(best.record):
            if best.id not in self._fresh():
                self._step(best.id, "found", one, once=True)
        elif "back" in one.groups:
            self._step(best.id, "back", one)

    # ---- something was done -------------------------------------------------------------------------------------------

    def _work(self, one: Said) -> None:
        for repair in one.repairs:
            mention = threads.of_hits([h for h in repair.things], self.text)
            self.worked_on.append((mention, one.index))
            target = self._worked(mention, one)
            if target is None:
                continue
            self.repaired[target] = one.index
            fault = self._fault(target)
            classes = threads.of_record(fault).classes
            fresh = target in self._fresh()
            cures = fault_talk.facts()["cure"]
            own = not repair.things or threads.related(mention, threads.of_record(fault)) >= 0.5
            if repair.action in cures["full"] and own and classes & set(cures["by_work"]) and threads.is_open(fault):
                self._step(target, "fixed", one, confidence=0.8)
            elif not fresh:
                self._step(target, "worked", one, once=True)
            self._turn(target, one)

    def _worked(self, mention: threads.Mention, one: Said) -> str | None:
        """The open fault that work on these parts is about."""
        if mention.parts:
            spoken = mention | threads.Mention(places=one.mention.places)
            found = [c for c in threads.candidates(spoken, self.faults, self.now, "open") if "component" in c.why and threads.is_open(c.record)]
            if found:
                fresh = [c for c in found if c.id in self._fresh() or c.id == self.focus]
                return (fresh or found)[0].id
            return None
        if self.focus is not None and one.index - self.focus_clause <= NEAR and threads.is_open(self._fault(self.focus)):
            return self.focus
        return None

    # ---- what came of it ----------------------------------------------------------------------------------------------

    def _result(self, one: Said) -> None:
        said_so = "fixed" in one.groups and "unfixed" not in one.groups
        ruled = "ruled_out" in one.groups
        if not (said_so or ruled or one.good):
            return
        opened = [f for f in self.faults if threads.is_open(f)]
        named = [
            c
            for c in threads.candidates(one.mention, opened, self.now, "open")
            if {"component", "symptom"} & set(c.why) or any(w in c.why for w in one.mention.classes)
        ]
        focus = self._fault(self.focus) if self.focus else None
        if focus is not None and not threads.is_open(focus):
            focus = None
        if said_so:
            self._declared(one, named, focus)
        elif ruled and self._rules_out(one, named, focus):
            pass
        elif one.good:
            self._observed(one, named, focus)

    def _declared(self, one: Said, named: list[threads.Candidate], focus: dict[str, Any] | None) -> None:
        """The speaker says that it is over."""
        if named:
            here = [c for c in named if focus is not None and c.id == focus["id"]]
            near = threads.close(named)
            if len(near) > 1 and not here:
                self._ask("fixed", near, one)
                return
            target = here[0].id if here and (here[0] in near) else named[0].id
            self._step(target, "fixed", one)
            self._turn(target, one)
        elif one.mention.components and self._shut(one.mention):
            return
        elif focus is not None:
            self._step(focus["id"], "fixed", one)
        elif not self.steps and not one.things:
            opened = [f for f in self.faults if threads.is_open(f)]
            if len(opened) == 1:
                self._step(str(opened[0]["id"]), "fixed", one, confidence=0.7)

    def _shut(self, spoken: threads.Mention) -> bool:
        return any("component" in c.why and not threads.is_open(c.record) for c in threads.candidates(spoken, self.faults, self.now, "shut"))

    def _rules_out(self, one: Said, named: list[threads.Candidate], focus: dict[str, Any] | None) -> bool:
        target = self._fault(named[0].id) if named else focus
        if target is None:
            return False
        known = threads.of_record(target)
        denied = {p.name for p in one.problems if p.negated}
        if one.things and threads.related(one.mention, known) == 0:
            return False
        if target["state"] == "suspected" or denied & known.symptoms or not one.things:
            self._step(str(target["id"]), "ruled_out", one)
            return True
        return False

    def _observed(self, one: Said, named: list[threads.Candidate], focus: dict[str, Any] | None) -> None:
        """A good result: it closes a fault of that kind that was worked on."""
        for fault in [self._fault(c.id) for c in named] + ([focus] if focus is not None else []):
            classes = threads.of_record(fault).classes
            heals = "any" in one.good or bool(classes & one.good) or not classes
            id = str(fault["id"])
            worked = id in self.repaired or any(e.get("event") in ("worked", "cause") for e in fault.get("events", []))
            if not worked and self.worked_on and id not in self._fresh():
                worked = True
            if heals and worked:
                self._step(id, "fixed", one, confidence=0.8)
                return

    def _stands(self, one: Said) -> None:
        """Not fixed after all: what was closed in this note is open again."""
        if self.focus is not None:
            self.steps = [s for s in self.steps if not (s.id == self.focus and s.event in CLOSING)]
            self._rebuild()

    def _wait(self, one: Said) -> None:
        target = None
        if one.mention.components or one.mention.symptoms:
            found = [c for c in threads.candidates(one.mention, self.faults, self.now, "open") if threads.is_open(c.record)]
            target = found[0].id if found else None
        elif self.focus is not None and one.index - self.focus_clause <= NEAR and threads.is_open(self._fault(self.focus)):
            target = self.focus
        if target is not None:
            self._step(target, "waiting", one, once=True)

    def _hedge(self, one: Said) -> None:
        """The result is not trusted yet: a closing just before it is taken back."""
        for step in reversed(self.steps):
            if step.event == "fixed" and one.index - step.clause <= NEAR and step.confidence < 0.9:
                self.steps.remove(step)
                self._rebuild()
                return

    # ---- keeping the thread --------------------------------------------------------------------------------------------

    def _fresh(self) -> set[str]:
        return {s.id for s in self.steps if s.opens and s.id}

    def _fault(self, id: str) -> dict[str, Any]:
        return next(f for f in self.faults if f["id"] == id)

    def _step(
        self, id: str, event: str, one: Said, fields: dict[str, Any] | None = None, once: bool = False, confidence: float = 0.9
    ) -> None:
        if once and any(s.id == id and s.event == event for s in self.steps):
            return
        step = Step(id, event, one.clause.start, one.clause.end, one.index, False, fields or {}, confidence)
        self.steps.append(step)
        self._replay(step)

    def _ask(self, event: str, near: list[threads.Candidate], one: Said) -> None:
        step = Step(None, event, one.clause.start, one.clause.end, one.index, False, {"candidates": [c.id for c in near]}, 0.5)
        self.steps.append(step)

    def _replay(self, step: Step) -> None:
        draft = Draft("faults", step.fields, step.start, step.end, step.confidence, None if step.opens else step.id, step.event)
        if step.id is not None:
            self.faults = threads.apply(self.faults, draft, "now", self.now.isoformat(), step.id)

    def _rebuild(self) -> None:
        fresh = self._fresh()
        before = {s.id for s in self.steps if s.id and s.id not in fresh}
        for id in before | ({self.focus} if self.focus else set()):
            assert id is not None
            state = None
            for step in (s for s in self.steps if s.id == id):
                state = step.event if step.event in (*CLOSING, "back") else state
            if state is None:
                self.faults = [{**f, "state": "found"} if f["id"] == id and f["state"] in CLOSING else f for f in self.faults]

    def drafts(self) -> list[Draft]:
        """The steps as drafts; faults opened here are referred to by their place in the list."""
        places = {s.id: f"#{i + self.offset}" for i, s in enumerate(self.steps) if s.opens}
        return [
            Draft("faults", s.fields, s.start, s.end, s.confidence, None if s.opens or s.id is None else places.get(s.id, s.id), s.event)
            for s in self.steps
        ]


def clerk(text: str, one: Said, problem: Problem | None) -> str:
    """The clause as a clerk would write it: without the words that only lead in."""
    words = one.clause.tokens
    lead = fault_talk.facts()["lead_in"]["words"]
    first = 0
    while first < len(words) - 1 and fault_talk.plain(words[first].lower) in lead:
        first += 1
    start = words[first].start if words else one.clause.start
    end = one.clause.end
    if problem is not None:
        start = min(start, problem.start)
        inside = [w for w in words if w.end <= problem.end or w.start < problem.end]
        limit = len(inside) + 5
        end = words[min(limit, len(words)) - 1].end if words else end
        if len(words) - first > 16:
            start = max(start, words[max(0, len(inside) - 10)].start)
    return text[start:end].strip(" ,.;")
