"""Reader of faults: what is wrong, and what became of what was wrong before.

The clauses of a note (`fault_talk`) are told as a story: each either opens a fault, says more of one that is open,
names its cause, does work on it, closes it, rules it out, leaves it waiting or brings it back. Which one is meant is
found by `threads`; where two fit about equally nothing is guessed: the draft carries `candidates`, and the assistant
asks.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from diary.language import fault_talk, threads
from diary.language.fault_talk import Problem, Said
from diary.language.idioms import plain
from diary.language.readers.outcomes import told
from diary.language.readers.phrases import talk
from diary.language.text import tokens
from diary.language.types import Context, Draft, Hit, Utterance

CLOSING = ("fixed", "ruled_out")
SHUT_IN_REACH = 60  # faults
NEAR = 2  # clauses: so far apart a problem and its explanation may stand


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "faults". A draft that continues one opened in the same note has the thread "#n" (see
    types.Draft).

    Torques given and parts ordered, as drafted before (`so_far`), are work done and something waited for.
    """
    story = Story(utterance, context, len(so_far))
    story.ahead = fault_talk.said(utterance)
    for draft in so_far:
        if draft.kind == "torques" and draft.fields.get("role") == "applied":
            fault_talk.torqued(story.ahead, draft.start, draft.end)
    _count_deeds(story, utterance, context)
    for one in story.ahead:
        story.take(one)
    story.wait_for([d for d in so_far if d.kind == "parts" and d.fields.get("state") == "ordered"])
    return story.drafts()


def _count_deeds(story: Story, utterance: Utterance, context: Context) -> None:
    """Let every deed of the note, however it was told ("it's on there now"), count as work in its clause.

    A deed that is one only where the part was waited for counts where it was, or where the part is one at fault.
    """
    spread = talk(utterance)
    actions = fault_talk.facts()["cure"]["actions"]
    awaited = [threads.mention(str(p.get("name"))) for p in context.parts if p.get("state") in ("needed", "ordered", "bought")]
    awaited += [threads.of_record(f) for f in story.faults if threads.is_open(f)]
    for deed in told(spread):
        at = spread.words[deed.at].token.start
        one = next((s for s in story.ahead if s.clause.start <= at < s.clause.end), None)
        start, end = deed.thing.start, deed.thing.end
        things = tuple(h for h in utterance.hits if h.kind in fault_talk.PARTS and start <= h.start and h.end <= end)
        if one is None or not deed.mood.done or deed.action not in actions or not things:
            continue
        if one.clause.planned or one.clause.hypothetical or any(h == t for r in one.repairs for h in r.things for t in things):
            continue
        if any(p.start < at < p.end for p in one.problems):
            continue
        if deed.if_awaited and not any(threads.related(threads.of_hits(things, story.text), m) >= 0.5 for m in awaited):
            continue
        one.repairs.append(fault_talk.Repair(deed.action, things, at, at + 1, deed.back))


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
        self.faults: list[dict[str, Any]] = _within_reach(context.faults)
        self.steps: list[Step] = []
        self.focus: str | None = None
        self.focus_clause = -9
        self.before: str | None = None  # the fault spoken of before this clause
        self.deeds: list[tuple[threads.Mention, str]] = []  # parts worked on in this note
        self.mended: set[str] = set()  # older faults whose very part was renewed or repaired in this note
        self.tended: set[str] = set()  # faults that were worked on in this note
        self.said: list[Said] = []
        self.reasons: dict[str, str] = {}  # the finding told right after what was only felt, by the fault's id
        self.loosely: set[str] = set()  # faults whose part was only named near by, not said to be wrong
        self.ahead: list[Said] = []  # all the clauses, those to come too

    # ---- one clause -------------------------------------------------------------------------------------------------

    def take(self, one: Said) -> None:
        """Let a clause tell its part of the story."""
        self.said.append(one)
        if one.suspected and not one.clause.other_machine:
            self._suspect(one)
        if one.carried and one.groups & {"fixed", "gone", "no_longer"} and self._named(one, "open"):
            self._result(one)
        struck = one.clause.retracted and "ruled_out" in one.groups and any(t.lower == "off" for t in one.clause.tokens)
        if struck and not one.clause.other_machine:  # "scratch that off" takes a fault back, not what was said
            self._rules_out(one, [], None)
        if one.outside or one.lesson:
            return
        if one.missing and not [c for c in self._named(one, "open") if threads.is_open(c.record)]:
            one.problems.append(Problem("loose", "loose", one.things[-1].end, one.clause.end, True))
            one.groups.discard("gone")
        self.before = self.focus
        ended = {"fixed", "ruled_out", "gone"} | (set() if "malfunction" in one.groups else {"no_longer"})
        over = bool(one.groups & ended) and not one.groups & {"back", "still", "unfixed"}
        tended = bool(self.deeds or one.repairs)
        if (
            over
            and not tended
            and not one.groups & {"fixed", "ruled_out"}
            and not self.focus
            and not self._named(one, "open")
        ):
            over = False  # "it goes away when warm", of a fault that is told just now
        over = over or ("malfunction" in one.groups and bool(one.good) and self._restored(one))
        known = "unfixed" in one.groups and (self.focus is not None or bool(self._named(one, "open")))
        wrong = [] if over or known else [p for p in one.problems if not p.negated]
        if one.kinds and all(p.weak for p in wrong):
            wrong = []  # "the pedal is rock hard" is good news
        if "was_that" in one.groups and self.deeds:
            named = [
                c
                for c in self._named(one, "open")
                if threads.is_open(c.record) and c.id not in self._fresh() and self._tended(c.id)
            ]
            if named:
                self._step(named[0].id, "fixed", one, confidence=0.75)
                return
        if "unfixed" in one.groups:
            self._stands(one)
        if self._denies(one):
            return
        for problem in wrong:
            self._problem(one, problem)
        if not wrong:
            self._point(one)
            self._pins(one)
        self._work(one)
        put_right = bool(one.repairs) and bool(wrong) and one.good_at > max(p.start for p in wrong)
        if (not wrong or put_right) and ("still" not in one.groups or "fixed" in one.groups):
            self._result(one)
        if "waiting" in one.groups:
            self._wait(one)
        if "hedge" in one.groups:
            self._hedge(one)

    def _restored(self, one: Said) -> bool:
        """True where "the light stays on" is good news: it speaks of an open fault on that very part, or of a
        warning lamp.
        """
        opened = [c for c in self._named(one, "open") if threads.is_open(c.record)]
        return bool(opened or self._lamps()) and bool(self.deeds or one.repairs)

    def _lamps(self) -> list[dict[str, Any]]:
        """Open faults that are a warning lamp or a gauge reading."""
        signs = fault_talk.facts()["signs"]
        known = [(f, threads.of_record(f, head=True)) for f in self.faults if threads.is_open(f)]
        return [
            f
            for f, m in known
            if m.systems & set(signs["systems"])
            or m.components & set(signs["parts"])
            or any(t in f["what"].lower() for t in signs["told"])
        ]

    def _named(self, one: Said, prefer: str, hints: bool = False) -> list[threads.Candidate]:
        """Faults that the clause names; `hints` True takes any word in common as a name."""
        found = threads.candidates(one.mention, self.faults, self.now, prefer)
        sure = {"component", "symptom", "several words"}
        return [
            c
            for c in found
            if self._fits(one.mention, c.record)
            and (
                hints
                or sure & set(c.why)
                or ("head word" in c.why and (c.id == self.focus or (bool(self.deeds) and len(found) == 1)))
                or ("word" in c.why and not c.record.get("component"))
            )
        ]

    def _point(self, one: Said) -> None:
        """Turn to the fault that the clause names, if it names one."""
        found = self._named(one, "shut" if "back" in one.groups else "open", hints="cause" in one.groups)
        if not found and one.places and self.focus is None:
            self._at(one)
        if "announce" in one.groups and one.clause.negated and one.mention.parts <= set(threads.facts()["weak_heads"]):
            return  # "it is not the seal at all" names no fault
        if not found:
            return
        focus = self._fault(self.focus) if self.focus else None
        same_kind = focus and one.mention.classes & threads.of_record(focus).classes
        if focus and same_kind and threads.is_open(focus) and not one.mention.components and "back" not in one.groups:
            return  # "no bubbles" is said of the leak that is being spoken of
        best = found[0]
        if "back" in one.groups and any(not threads.is_open(c.record) for c in found[:1]):
            self._returns(one, found)
        elif threads.is_open(best.record):
            self._turn(best.id, one)
            if "cause" in one.groups and best.id not in self._fresh():
                self._was_that(best.id, one)
            elif "still" in one.groups:
                self._step(best.id, "found", one, once=True)

    def _there(self, one: Said) -> list[threads.Candidate]:
        """The one fault at the corner named ("right rear is down again")."""
        if len(one.mention.places) < 2 or one.things:
            return []
        spots = [f for f in self.faults if one.mention.places <= threads.of_record(f).places]
        return (
            [threads.Candidate(str(f["id"]), threads.least(), f, ("place",)) for f in spots] if len(spots) == 1 else []
        )

    def _at(self, one: Said) -> None:
        """Turn to the one open fault at a corner that is named ("removed the front right wheel")."""
        here = one.mention
        if any(set(pair) <= here.places for pair in threads.facts()["opposite"]):
            return  # "fronts at thirty, rears at thirty four" names no corner
        spot = []
        for fault in self.faults:
            known = threads.of_record(fault)
            if (
                threads.is_open(fault)
                and here.places & known.places
                and not threads.contrary(here.places, known.places)
            ) and (not here.systems or akin(here, known)):
                spot.append(fault)
        plain_axes = {w for pair in threads.facts()["opposite"] for w in pair}
        if len(spot) == 1 and (len(here.places) > 1 or here.places - plain_axes):
            self._turn(str(spot[0]["id"]), one)

    def _was_that(self, id: str, one: Said, told: list[Step] | None = None) -> None:
        """What was told just before was the cause of an older fault ("so that is your creeping needle")."""
        told = told or self._told_before(one)
        text = told[-1].fields["what"] if told else None
        if told:
            gone = told[-1].id
            self.steps = [s for s in self.steps if s.id != gone]
            self.faults = [f for f in self.faults if f["id"] != gone]
        self._step(id, "cause", one, fields={"cause": text} if text else {}, once=True)

    def _told_before(self, one: Said) -> list[Step]:
        """What was told as wrong in the few clauses before this one."""
        last = self.focus if one.index - self.focus_clause <= 2 * NEAR else None
        return [s for s in self.steps if s.opens and (one.index - s.clause <= 2 * NEAR or s.id == last)]

    def _pins(self, one: Said) -> None:
        """A part named for a fault that was just told without one ("a clunk, and that's the drag link")."""
        reach = 4 * NEAR if "cause" in one.groups else 1  # "so that is the map light staying on"
        if self.focus not in self._fresh() or not one.things or one.index - self.focus_clause > reach:
            return
        opened = next(s for s in self.steps if s.id == self.focus and s.opens)
        shape = fault_talk.facts()["shape"]
        first = next((w for t in one.clause.tokens if (w := plain(t.lower)) not in shape["under"]), "")
        leaning = first in shape["pronoun"]
        plain_talk = not (one.clause.negated or one.clause.question or one.clause.quoted)
        if plain_talk and leaning and (one.groups & {"announce", "cause"} or opened.fields["component"] is None):
            self._detail(str(self.focus), one, None)
            opened.fields["component"] = one.things[0].name

    def _turn(self, id: str, one: Said) -> None:
        self.focus, self.focus_clause = id, one.index

    # ---- something is wrong -----------------------------------------------------------------------------------------

    def _problem(self, one: Said, problem: Problem) -> None:
        if one.groups & {"back", "still"}:
            found = self._named(one, "shut" if "back" in one.groups else "open") or self._there(one)
            if found:
                self._returns(one, found)
                return
        known = self._same(one, problem)
        if known is None and self._taken_off(one, problem):
            if self.focus is not None and self.focus not in self._closed_here():
                self._detail(self.focus, one, problem)
            return
        if known is not None:
            self._more(one, problem, known)
            return
        near = self.focus is not None and one.index - self.focus_clause <= NEAR
        if problem.weak and problem.support in ("pronoun", "noun") and self._guessed_at(one):
            problem = replace(problem, weak=False)
        if problem.weak and (
            one.good
            or (
                problem.support != "thing"
                and not (near and self.focus in self._fresh() and problem.support in ("pronoun", "noun"))
            )
        ):
            return
        about = self._explains(one, problem)
        if about is not None:
            self._detail(about, one, problem)
            return
        if (
            (problem.weak and problem.support != "thing")
            or (one.clause.planned and not self._stated(one, problem))
            or (problem.cls == "general" and problem.support != "thing")
        ):
            return
        if one.suspected and problem.support == "pronoun" and self.focus is not None:
            return
        if self._no_matter(one, problem):
            return
        self._open(one, problem)

    def _no_matter(self, one: Said, problem: Problem) -> bool:
        """True for a thing that holds no fluid or air said to be empty ("boot empty this time"), and for damage named
        only by the work that put it right ("hammered the dent flat").
        """
        thing = self._thing(one, problem)
        if problem.cls == "level" and thing is not None:
            dry = fault_talk.facts()["belongs"]
            return thing.data.get("system") in dry["holds_nothing"] or thing.name in dry["room"]
        articles = fault_talk.facts()["shape"]["article"]
        for repair in one.repairs:
            between = [plain(t.lower) for t in one.clause.tokens if repair.end <= t.start < problem.start]
            if problem.support != "thing" and repair.end <= problem.start and set(between) <= set(articles):
                return True
        return False

    def _stated(self, one: Said, problem: Problem) -> bool:
        """True where a symptom is stated of a part as a fact ("the terminal was loose"), whatever else the clause
        plans.
        """
        before = [t.lower for t in one.clause.tokens if t.end <= problem.start][-2:]
        words = {t.lower for t in one.clause.tokens if t.start < problem.end}
        if {"there", "be"} <= words or {"must", "have"} <= words:
            return True  # "so there will be a bulb out somewhere", "it must have shaken out" tell of now
        before += [t.lower for t in one.clause.tokens if t.start == problem.start]
        return problem.support == "thing" and bool({"was", "were", "is", "are", "has", "have", "got"} & set(before))

    def _guessed_at(self, one: Said) -> bool:
        """True where the next clause guesses at a part ("it feels stiff, could be the head bearings")."""
        after = self.ahead[one.index + 1 : one.index + 2]
        return bool(after) and after[0].suspected and bool(after[0].things)

    def _more(self, one: Said, problem: Problem, known: dict[str, Any]) -> None:
        id = str(known["id"])
        told = self._told_before(one)
        self._turn(id, one)
        if not threads.is_open(known) and id not in self._closed_here():
            self._step(id, "back", one)
            return
        if "cause" in one.groups and id not in self._fresh() and told:
            self._was_that(id, one, told)
            return
        if id in self._fresh() or (("cause" in one.groups or self._recent("announce", one)) and one.things):
            self._detail(id, one, problem)
        if id not in self._fresh():
            self._step(id, "found", one, once=True)

    def _fits(self, spoken: threads.Mention, record: Any) -> bool:
        """Neither the places nor the parts of a mention speak against a record."""
        known = threads.of_record(record)
        if threads.contrary(spoken.places, known.places):
            return False
        whole = set(fault_talk.facts()["whole"]["classes"])
        shown = spoken.signs & known.signs or (
            spoken.symptoms & known.symptoms and spoken.classes & known.classes & whole
        )
        return not (self._own(spoken) and self._own(known)) or threads.related(spoken, known) > 0 or bool(shown)

    def _same(self, one: Said, problem: Problem) -> dict[str, Any] | None:
        """The fault, open or shut, that says the same as this problem does."""
        best, top = None, 0.0
        spoken = one.mention
        if self.focus and problem.support == "pronoun" and not one.things and one.index - self.focus_clause <= 3 * NEAR:
            spoken_of = self._fault(self.focus)
            if threads.is_open(spoken_of) and problem.cls in threads.of_record(spoken_of, head=True).classes:
                return spoken_of  # "it is wet up at the top"
        word = threads.mention(self.text[problem.start : problem.end]).words
        for fault in self.faults:
            known = threads.of_record(fault, head=True)
            if threads.contrary(spoken.places, known.places):
                continue
            signs = threads.of_record({**fault, "cause": None}).symptoms
            near = threads.related(spoken, known)
            alike = problem.name in known.symptoms or problem.cls in known.classes
            is_open = threads.is_open(fault)
            aside = problem.name in signs and not problem.weak and not self._own(spoken)
            whole = (problem.name in known.symptoms or aside) and problem.cls in fault_talk.facts()["whole"]["classes"]
            if (
                whole
                and is_open
                and not self._novel(one)
                and not (near < 0.5 and self._own(spoken) and self._own(known))
            ):
                fit = True
            elif spoken.components and known.components:
                fit = near >= 0.5 and (alike or not known.classes or near == 1.0) if is_open else near >= 0.9 and alike
            else:
                fit = (
                    problem.name in known.symptoms and (bool(word & known.words) or self._definite(problem)) and is_open
                )
            value = near + alike + 0.5 * is_open
            if fit and value > top:
                best, top = fault, value
        return best

    def _own(self, one: threads.Mention) -> bool:
        """True where a mention names a part that is not too general to tell two faults apart."""
        return bool(one.components - frozenset(threads.facts()["general"]))

    def _definite(self, problem: Problem) -> bool:
        """True for "the noise", "that leak": something known already."""
        before = tokens(self.text[max(0, problem.start - 12) : problem.start])
        return bool(before) and before[-1].lower in ("the", "that", "this")

    def _leads(self, one: Said) -> bool:
        """True where the clause gives a reason for what was told before, or the clause before announces one."""
        after = self.ahead[one.index + 1 : one.index + 2]
        if (
            after
            and "cause" in after[0].groups
            and not after[0].things
            and not after[0].problems
            and len(after[0].clause.tokens) <= 4
        ):
            return True  # "the bolt was loose, that's why"
        return self._recent("announce", one) or "cause" in one.groups or one.suspected or self._begins(one, "so")

    def _recent(self, group: str, one: Said) -> bool:
        """True where the clause, or one of the few before it that tell of nothing wrong, has a phrase of the group."""
        if group in one.groups:
            return True
        for before in reversed(self.said[:-1][-3:]):
            if before.problems:
                return False
            if group in before.groups:
                return True
        return False

    def _novel(self, one: Said) -> bool:
        """True where the clause, or one just before it, turns to something else."""
        return self._recent("novel", one)

    def _explains(self, one: Said, problem: Problem) -> str | None:
        """The fault that this problem only says more of: its cause, or another sign of it; None where it is one of
        its own.
        """
        if self._novel(one) and not one.groups & {"cause", "announce"}:
            return None
        leads = self._leads(one)
        tried = self._recent("tested", one)
        if self.focus is None:
            told = "cause" in one.groups or self._recent("announce", one)
            if told or self._taken_apart(one, problem):
                return self._answered(one, told)
            if tried and (shown := self._answered(one, False) or self._sole(one)):
                return shown
            was = [t.lower for t in one.clause.tokens if t.end <= problem.start][-2:]
            near = [
                f
                for f in self.faults
                if threads.is_open(f) and threads.related(one.mention, threads.of_record(f, head=True))
            ]
            near = [f for f in near if not threads.contrary(one.mention.places, threads.of_record(f).places)]
            if len(near) == 1 and {"was", "were", "had"} & set(was):
                return str(near[0]["id"])  # "the fan relay was stuck", of a fan that would not stop
            return self._behind(one, problem, [f for f in self.faults if threads.is_open(f)])
        fault = self._fault(self.focus)
        if not one.things and self.focus not in self._fresh() and self._fresh():
            return [s.id for s in self.steps if s.opens][-1]
        known = threads.of_record(fault)
        if threads.contrary(one.mention.places, known.places):
            return None
        gap = one.index - self.focus_clause
        shows = set(fault_talk.facts()["signs"]["systems"])
        kin = (
            akin(one.mention, known)
            or threads.related(one.mention, known) > 0
            or not one.mention.systems - shows
            or not known.systems - shows
        )
        if not threads.is_open(fault):
            return (
                self.focus
                if gap <= NEAR + 1 and (leads or (kin and (one.things or problem.support == "pronoun")))
                else None
            )
        if self.focus in self._fresh():
            if (
                one.suspected
                and one.things
                and known.classes & {"loose", "damage"}
                and problem.cls not in known.classes
            ):
                return None  # what may have come of it ("so there might be water in the axle") is another matter
            far = one.suspected or self._recent("announce", one)
            if leads and gap <= (6 * NEAR if far else NEAR + 1):
                self._gather(one)
                return self.focus
            if all(
                self._of(one, h) for h in one.things
            ):  # nothing named, or only where it shows ("drips on the subframe")
                bare = not one.things and problem.support in ("bare", "pronoun") and not self._novel(one)
                return self.focus if gap <= (3 * NEAR if bare else NEAR + 1) else None
            fresh = [f for f in self.faults if f["id"] in self._fresh()]
            return self.focus if kin and gap <= NEAR else self._behind(one, problem, fresh) if gap <= 3 * NEAR else None
        leant_on = threads.of_hits([h for h in one.inherited if h.kind != "place"], self.text)
        if (
            not one.things
            and self._own(leant_on)
            and self._own(known)
            and not threads.related(leant_on, known)
            and not akin(leant_on, known)
        ):
            return None  # "it is only the sender, that is duff"
        if leads or tried:
            return self.focus
        if any(s.id == self.focus and s.event in ("back", "found") for s in self.steps) and self._was(one, problem):
            return self.focus if gap <= NEAR + 1 else None  # "clonking again, the bolt had backed off"
        if any(h.kind == "fastener" for h in one.things) and problem.cls == "loose":
            # a loose fastener is a fault; that it was the cause shows when the other is closed (see `_causes`)
            return None
        return self.focus if (kin or not one.things) and gap <= 6 * NEAR else None

    def _sole(self, one: Said) -> str | None:
        """The only open fault, where nothing speaks against its being what the clause is about."""
        opened = [f for f in self.faults if threads.is_open(f)]
        if len(opened) != 1:
            return None
        known = threads.of_record(opened[0])
        strange = bool(one.mention.systems and known.systems) and not akin(one.mention, known)
        return None if strange else str(opened[0]["id"])

    def _was(self, one: Said, problem: Problem) -> bool:
        """True where a thing is told to have been so ("the bolt had backed off")."""
        lead = [plain(t.lower) for t in one.clause.tokens if t.start < problem.end]
        near = [t for t in lead[-5:] if t in fault_talk.facts()["shape"]["past"]]
        return bool(near)

    def _taken_off(self, one: Said, problem: Problem) -> bool:
        """True for the state of a part that was just changed ("the old races were blue")."""
        thing = self._thing(one, problem)
        if thing is None and self.focus is None and problem.cls in ("damage", "wear") and self._was(one, problem):
            lately = [r.action for s in self.said[:-1][-2 * NEAR :] for r in s.repairs]
            return bool({"replaced", "fitted", "swapped"} & set(lately))  # "new plugs in, number three had cracked"
        if thing is None or not self.deeds:
            return False
        lead = [t.lower for t in one.clause.tokens if t.end <= thing.start][-2:]
        return "old" in lead

    def _behind(self, one: Said, problem: Problem, faults: list[dict[str, Any]]) -> str | None:
        """The one fault, only seen, heard or felt so far, that a part found to be bad now may be behind."""
        concrete = fault_talk.facts()["concrete"]
        if problem.cls not in concrete["classes"] or not one.things:
            return None
        belongs = fault_talk.facts()["belongs"]
        felt = []
        for fault in faults:
            known = threads.of_record(fault, head=True)
            classes = known.classes & set(concrete["felt"])
            if classes and not self._own(known) and any(one.mention.systems & set(belongs.get(c, ())) for c in classes):
                felt.append(fault)
        return str(felt[0]["id"]) if len(felt) == 1 else None

    def _taken_apart(self, one: Said, problem: Problem) -> bool:
        """True for what is found in the course of work ("pulled the panel and the clip was broken")."""
        was = [t.lower for t in one.clause.tokens if t.end <= problem.start][-3:]
        worked = any(
            r.action in ("removed", "cleaned", "drained") and r.things for s in self.said[:-1] for r in s.repairs
        )
        return worked and bool({"was", "were", "had"} & set(was))

    def _answered(self, one: Said, told: bool = True) -> str | None:
        """The open fault that a cause told out of the blue ("found it, the wire was chafed") belongs to."""
        opened = [f for f in self.faults if threads.is_open(f)]
        named = [
            c for c in threads.candidates(one.mention, opened, self.now, "open") if self._fits(one.mention, c.record)
        ]
        if named:
            return named[0].id
        around = threads.Mention()
        for other in self.ahead[max(0, one.index - 2) : one.index + 4]:
            spared = not other.problems and (bool(other.good) or other.clause.negated)
            if other is one or not spared:  # "it is not the seal", "the seal kit was good"
                around = around | other.mention
        named = [
            c
            for c in threads.candidates(around, opened, self.now, "open")
            if {"component", "symptom", "several words"} & set(c.why)
        ]
        if named:
            return named[0].id
        if not told:
            lately = [
                f for f in opened if akin(one.mention, threads.of_record(f)) or akin(around, threads.of_record(f))
            ]
            return str(lately[0]["id"]) if len(lately) == 1 else None
        if not one.things and not told_own(one, opened):
            return None
        close = [f for f in opened if akin(around, threads.of_record(f))] or [
            f for f in opened if self._may_lie(one.mention | around, f)
        ]
        return str(close[-1]["id"]) if close else str(opened[0]["id"]) if len(opened) == 1 else None

    def _may_lie(self, part: threads.Mention, fault: dict[str, Any]) -> bool:
        """True where a fault that names no part of its own may lie in this part's system ("runs hot", the fan switch)."""
        known = threads.of_record(fault, head=True)
        belongs = fault_talk.facts()["belongs"]
        return not self._own(known) and any(part.systems & set(belongs.get(c, ())) for c in known.classes)

    def _gather(self, one: Said) -> None:
        """A conclusion ("so the wheel cylinder is weeping") takes the signs told just before together into one
        fault.
        """
        lately = [s for s in self.steps if s.opens and one.index - s.clause <= 2 * NEAR]
        places = [threads.of_record(self._fault(str(s.id))).places for s in lately]
        if len(lately) < 2 or any(threads.contrary(p, one.mention.places) for p in places):
            return
        first, rest = lately[0], lately[1:]
        if any("novel" in self.said[s.clause].groups for s in rest):
            return
        gone = {s.id for s in rest}
        first.fields["what"] += "".join(f", {s.fields['what']}" for s in rest)
        first.fields["where"] = first.fields["where"] or next(
            (s.fields["where"] for s in rest if s.fields["where"]), None
        )
        self.steps = [s for s in self.steps if s.id not in gone]
        self.faults = [f for f in self.faults if f["id"] not in gone]
        assert first.id is not None
        self._turn(first.id, one)

    def _begins(self, one: Said, word: str) -> bool:
        start = one.clause.start
        before = self.text[max(0, start - 4) : start].lower().strip().split()
        first = one.clause.tokens[0].lower if one.clause.tokens else ""
        return first == word or (bool(before) and before[-1] == word)

    def _open(self, one: Said, problem: Problem) -> None:
        id = f"new{len(self.steps)}"
        thing = self._thing(one, problem)
        topic = self._topic(one)
        if thing is None and topic is None:
            topic = next((h for h in one.inherited if h.kind != "place"), None)
        places = self._corner(one) or one.places or [h for h in one.inherited if h.kind == "place"]
        place = " ".join(dict.fromkeys(h.name for h in places)) or None
        what = clerk(self.text, one, problem) + self._when(one)
        fields = {
            "what": f"{topic.name}: {what}" if topic and topic.name not in what else what,
            "component": thing.name if thing else topic.name if topic else None,
            "where": place,
            "safety": any(bool(h.data.get("safety")) for h in one.things),
            "cause": None,
            "symptom": problem.cls,
        }
        step = Step(
            id, "suspected" if one.suspected else "found", one.clause.start, one.clause.end, one.index, True, fields
        )
        if problem.support != "thing" or thing is None or (thing and self._of(one, thing)):
            self.loosely.add(id)
        step.confidence = 0.7 if problem.weak or problem.support in ("bare", "unknown") else 0.9
        self.steps.append(step)
        self._replay(step)
        self._turn(id, one)
        self._mended_before(one, problem, thing)

    def _mended_before(self, one: Said, problem: Problem, thing: Hit | None) -> None:
        """Close at once what the clause before put right ("tightened the clamp, it had worked loose")."""
        before = self.said[-2] if len(self.said) > 1 else None
        if before is None or (thing is not None and thing in one.things and one.things != before.things):
            return
        for repair in before.repairs:
            cures = fault_talk.facts()["cured_by"].get("back" if repair.back else repair.action, ())
            if problem.cls in cures and repair.things:
                self._step(str(self.focus), "fixed", one, confidence=0.8)
                return

    def _when(self, one: Said) -> str:
        """The circumstance told in the next clause ("when it's cold")."""
        for after in self.ahead[one.index + 1 : one.index + 2]:
            words = after.clause.tokens
            if (
                words
                and words[0].lower in fault_talk.facts()["shape"]["when"]
                and not after.problems
                and len(words) <= 7
            ):
                return " " + self.text[after.clause.start : after.clause.end].strip(" ,.;")
        return ""

    def _corner(self, one: Said) -> list[Hit]:
        """The full place of "the right one" where a clause just before said "front right"."""
        if len({h.name for h in one.places}) != 1:
            return []
        side = threads.atoms(one.places[0].name)
        for before in reversed(self.said[:-1][-3:]):
            for place in before.places:
                if side < threads.atoms(place.name):
                    return [place]
        return []

    def _topic(self, one: Said) -> Hit | None:
        """The part that a clause just before named and said no more of ("Reversing light. The bulb was black")."""
        for before in reversed(self.said[:-1][-2 * NEAR :]):
            said = [
                t
                for t in before.clause.tokens
                if not any(h.start <= t.start < h.end for h in (*before.things, *before.places))
            ]
            if len(before.things) == 1 and not any(t.lower not in ("the", "my") for t in said):
                return before.things[0]
        return None

    def _thing(self, one: Said, problem: Problem) -> Hit | None:
        """The part that is wrong: the nearest one before the symptom, else the nearest after it."""
        before = [h for h in one.things if h.start < problem.start]
        after = [h for h in one.things if h.start >= problem.start]
        main = [h for h in before if not self._of(one, h)]
        return main[-1] if main else before[0] if before else after[0] if after else None

    def _of(self, one: Said, thing: Hit) -> bool:
        """True for a part that only says where another is ("the cylinder on the loader")."""
        shape = fault_talk.facts()["shape"]
        lead = [plain(t.lower) for t in one.clause.tokens if t.end <= thing.start]
        lead = [w for w in lead if not any(h.start < thing.start and w in h.name.split() for h in one.places)]
        while lead and lead[-1] in shape["article"]:
            lead.pop()
        return bool(lead) and lead[-1] in shape["preposition"]

    def _detail(self, id: str, one: Said, problem: Problem | None) -> None:
        """Add what a clause says to a fault opened in this note, or name the cause of an older one."""
        opened = next((s for s in self.steps if s.id == id and s.opens), None)
        if opened is None:
            if problem is not None and id not in self._closed_here():
                self._step(id, "cause", one, fields={"cause": clerk(self.text, one, problem)}, once=True)
                self._turn(id, one)
            return
        more = clerk(self.text, one, problem)
        thing = self._thing(one, problem) if problem else (one.things[0] if one.things else None)
        telling = one.things or (problem is not None and not problem.weak)
        concrete = fault_talk.facts()["concrete"]
        found = problem is not None and problem.support == "thing" and problem.cls in concrete["classes"]
        if (
            found
            and problem is not None
            and not (one.suspected or id in self.reasons or (problem.weak and opened.fields["symptom"] not in concrete["heard"]))
            and opened.fields["symptom"] in set(concrete["felt"]) - {problem.cls}
        ):
            if thing is not None and thing.kind != "fastener":  # a loose bolt may not be all of it
                opened.fields["component"] = thing.name
            self.reasons[id] = more  # what was felt has its reason: no second half of the fault
        told = opened.fields["what"].split(", ")
        if more.startswith(told[-1]):
            opened.fields["what"] = ", ".join([*told[:-1], more])
        elif (
            more
            and telling
            and more not in opened.fields["what"]
            and (len(opened.fields["what"]) < 80 or problem is None)
        ):
            opened.fields["what"] += f", {more}"
        firm = problem is not None and problem.support == "thing" and id in self.loosely and not (thing and self._of(one, thing))
        if thing and (
            opened.fields["component"] is None or firm or (problem is not None and self._begins(one, "so"))
        ):
            opened.fields["component"] = thing.name
            if firm:
                self.loosely.discard(id)
        if one.places and not opened.fields["where"] and problem is not None:
            opened.fields["where"] = " ".join(dict.fromkeys(h.name for h in one.places))
        opened.fields["safety"] = opened.fields["safety"] or any(bool(h.data.get("safety")) for h in one.things)
        if one.suspected and opened.event == "found" and problem is None and not opened.fields["cause"]:
            opened.fields["suspect"] = thing.name if thing else None
        self.faults = [
            {**f, **{k: opened.fields[k] for k in ("what", "component", "where")}} if f["id"] == id else f
            for f in self.faults
        ]
        self._turn(id, one)

    def _suspect(self, one: Said) -> None:
        """A part suspected right after a fault was told belongs to it ("might be the heater core")."""
        wrong = [p for p in one.problems if not p.negated]
        if (
            one.things
            and not one.clause.negated
            and not (wrong and not one.outside)
            and self.focus in self._fresh()
            and one.index - self.focus_clause <= NEAR
        ):
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
        elif "back" in one.groups and best.id not in self._closed_here():
            self._step(best.id, "back", one)

    # ---- something was done -----------------------------------------------------------------------------------------

    def _work(self, one: Said) -> None:
        for repair in one.repairs:
            things = repair.things or self._lately(one)
            deed = threads.of_hits(things, self.text)
            mention = threads.of_hits(repair.things, self.text)
            idle = fault_talk.facts()["cure"]["idle"]
            if repair.action not in ("removed", "drained") and (deed.parts or repair.action not in idle):
                self.deeds.append((deed, repair.action))
            target = self._worked(mention, one)
            if target is None:
                self._vague_work(mention, one)
                if (
                    self.focus is not None
                    and one.index - self.focus_clause <= 3 * NEAR
                    and akin(mention, threads.of_record(self._fault(self.focus)))
                ):
                    self._tend(self.focus, repair)
                continue
            self._tend(target, repair)
            fault = self._fault(target)
            known = threads.of_record(fault)
            ailing = threads.of_record(fault, head=True).classes
            cures = fault_talk.facts()["cured_by"].get("back" if repair.back else repair.action, ())
            own = not mention.parts or threads.related(mention, known) >= 0.5
            if own and ailing & set(cures) and threads.is_open(fault):
                self._step(target, "fixed", one, confidence=0.8)
            elif target not in self._fresh():
                self._step(target, "worked", one, once=True)
                part = bool(mention.parts) and threads.related(mention, threads.of_record(fault, head=True)) >= 0.5
                part = part or any(s.id == target and s.event == "cause" and s.fields and s.clause <= one.index for s in self.steps)
                behind = threads.mention(" ".join(str(fault.get(k) or "") for k in ("cause", "waiting_for")))
                part = part or (bool(mention.parts) and threads.related(mention, behind) >= 0.5)
                part = part or self._only_one_of(fault, mention)
                if part and repair.action in fault_talk.facts()["echo"]["full"] and not repair.back:
                    self.mended.add(target)
            self._turn(target, one)

    def _only_one_of(self, fault: dict[str, Any], part: threads.Mention) -> bool:
        """True where a part was renewed in a small system ("pads", of squealing brakes) that has no other open fault."""
        small = set(fault_talk.facts()["belongs"]["small"]) & part.systems
        opened = [f for f in self.faults if threads.is_open(f) and threads.of_record(f, head=True).systems & small]
        places = threads.of_record(fault).places
        return bool(part.parts) and len(opened) == 1 and opened[0]["id"] == fault["id"] and not threads.contrary(places, part.places)

    def _lately(self, one: Said) -> tuple[Hit, ...]:
        """The parts named just before, which "it" and "a new one" stand for."""
        for before in reversed(self.said[:-1][-NEAR:]):
            if before.things:
                return tuple(before.things)
        return ()

    def _vague_work(self, mention: threads.Mention, one: Said) -> None:
        """Work on a part of the system in which a fault without a part of its own would lie."""
        belongs = fault_talk.facts()["belongs"]
        likely = [
            f
            for f in self.faults
            if threads.is_open(f)
            and f["id"] not in self._fresh()
            and not self._own(threads.of_record(f, head=True))
            and any(mention.systems & set(belongs.get(c, ())) for c in threads.of_record(f, head=True).classes)
        ]
        if len(likely) == 1:
            self._step(str(likely[0]["id"]), "worked", one, once=True)

    def _worked(self, mention: threads.Mention, one: Said) -> str | None:
        """The open fault that work on these parts is about."""
        if mention.parts:
            spoken = mention | threads.Mention(places=one.mention.places)
            found = [
                c
                for c in threads.candidates(spoken, self.faults, self.now, "open")
                if threads.is_open(c.record) and ("component" in c.why or ("head word" in c.why and c.id == self.focus))
            ]
            if found:
                fresh = [c for c in found if c.id in self._fresh() or c.id == self.focus]
                return (fresh or found)[0].id
            bare = [f for f in self.faults if threads.is_open(f) and self._short_for(f, mention)]
            return str(bare[0]["id"]) if len(bare) == 1 else None
        reach = 3 * NEAR if self.focus in self._fresh() else NEAR
        if (
            self.focus is not None
            and one.index - self.focus_clause <= reach
            and threads.is_open(self._fault(self.focus))
        ):
            return self.focus
        return None

    def _short_for(self, fault: dict[str, Any], mention: threads.Mention) -> bool:
        """True where the fault's part is the short name of the part mentioned ("switch", of the fan switch)."""
        short = threads.mention(str(fault.get("component") or "")).parts
        places = threads.of_record(fault).places
        return bool(short) and short < mention.parts and not threads.contrary(places, mention.places)

    def _tend(self, id: str, repair: fault_talk.Repair) -> None:
        """Count a fault as worked on, unless the work only makes good what it cost (oil topped up)."""
        classes = threads.of_record(self._fault(id)).classes
        if not classes & set(fault_talk.facts()["cure"]["no_cure"].get(repair.action, ())):
            self.tended.add(id)

    def _tended(self, id: str) -> bool:
        """True where work was done on a fault, in this note or since it last opened."""
        if id in self.tended:
            return True
        known = threads.of_record(self._fault(id))
        no_cure = fault_talk.facts()["cure"]["no_cure"]
        deeds = [d for d, action in self.deeds if not known.classes & set(no_cure.get(action, ()))]
        if id not in self._fresh() and any(
            not d.systems or not known.systems or akin(d, known) or threads.related(d, known) for d in deeds
        ):
            return True
        done = False
        for event in self._fault(id).get("events", []):
            done = event.get("event") in ("worked", "cause") or (done and event.get("event") not in ("back",))
        return done

    # ---- what came of it --------------------------------------------------------------------------------------------

    def _result(self, one: Said) -> None:
        said_so = bool(one.groups & {"fixed", "gone", "no_longer"}) and not one.groups & {"unfixed", "hedge"}
        ruled = "ruled_out" in one.groups
        if not (said_so or ruled or one.good) and not self.deeds:
            return
        before = self.said[-2] if len(self.said) > 1 else None
        if (
            before
            and before.clause.planned
            and before.clause.tokens
            and before.clause.tokens[-1].lower in fault_talk.facts()["signs"]["unfinished"]
        ):
            return
        named = [c for c in self._named(one, "open") if threads.is_open(c.record)]
        focus = self._fault(self.focus) if self.focus else None
        if focus is not None and not threads.is_open(focus):
            focus = None
        if said_so:
            self._declared(one, named, focus)
        elif ruled and self._rules_out(one, named, focus):
            pass
        elif not one.suspected and "hedge" not in one.groups:
            self._observed(one, named, focus)

    def _denies(self, one: Said) -> bool:
        """Rule out a suspicion by its part: "so no head gasket"."""
        lead = [t.lower for t in one.clause.tokens if one.things and t.end <= one.things[0].start]
        if not lead or lead[-1] != "no" or not (len(lead) == 1 or lead[-2] in ("so", "and", "then")):
            return False
        for fault in self.faults:
            known = threads.of_record(fault)
            if threads.is_open(fault) and threads.related(one.mention, known) >= 0.9:
                self._step(str(fault["id"]), "ruled_out", one)
                return True
        return False

    def _declared(self, one: Said, named: list[threads.Candidate], focus: dict[str, Any] | None) -> None:
        """The speaker says that it is over. A fault told just now is not over because a sign of it goes ("gone by
        sixty").
        """
        if "fixed" not in one.groups:
            named = [c for c in named if c.id not in self._fresh() or c.id in self.tended]
            if focus is not None and focus["id"] in self._fresh() and focus["id"] not in self.tended:
                focus = None
        if named:
            here = [c for c in named if focus is not None and c.id == focus["id"] == self.before]
            near = threads.close(named)
            if len(near) > 1 and not (here and here[0] in near):
                self._ask("fixed", near, one)
                return
            target = here[0].id if here and here[0] in near else named[0].id
            self._step(target, "fixed", one)
            self._turn(target, one)
        elif self._shut(one.mention):
            return
        elif focus is not None:
            self._step(str(focus["id"]), "fixed", one)
        elif (kind := self._of_kind(one)) is not None:
            self._step(kind, "fixed", one, confidence=0.8)
            self._turn(kind, one)
        elif self._finishes(one) and not self._closed_here() and (meant := self._by_deeds()) is not None:
            self._step(str(meant["id"]), "fixed", one, confidence=0.8)
        elif (
            not self.steps
            and not one.things
            and (len(self.ahead) <= 2 or any(s.groups & {"announce", "cause"} for s in self.said))
        ):
            opened = [f for f in self.faults if threads.is_open(f)]
            kinds = one.mention.classes
            if len(opened) == 1 and (not kinds or kinds & threads.of_record(opened[0]).classes):
                self._step(str(opened[0]["id"]), "fixed", one, confidence=0.7)

    def _of_kind(self, one: Said) -> str | None:
        """The one open fault of the kind that a clause says is over ("the heat business is settled")."""
        words = {plain(t.lower) for t in one.clause.tokens}
        kinds = {c for c, names in fault_talk.facts()["tail"]["kinds"].items() if words & set(names)}
        kinds |= one.mention.classes
        systems = {c for c, names in fault_talk.facts()["tail"]["systems"].items() if words & set(names)}
        meant = [
            f
            for f in self.faults
            if threads.is_open(f)
            and (
                threads.of_record(f, head=True).classes & kinds if not systems else threads.of_record(f).systems & systems
            )
            and not threads.contrary(one.mention.places, threads.of_record(f).places)
            and self._fits(one.mention, f)
        ]
        return str(meant[0]["id"]) if len(meant) == 1 else None

    def _finishes(self, one: Said) -> bool:
        """True for "that's fixed", which names nothing, and for "pinion seal done", which is a deed."""
        if (
            one.things
            and one.clause.tokens
            and plain(one.clause.tokens[-1].lower) in fault_talk.facts()["signs"]["finished"]
        ):
            self.deeds.append((one.mention, "replaced"))
            return True
        if (
            not self.deeds and "fixed" in one.groups and (things := self._lately(one))
        ):  # "fuel filter next and that was it"
            self.deeds.append((threads.of_hits(things, self.text), "replaced"))
        return not one.things

    def _shut(self, spoken: threads.Mention) -> bool:
        found = threads.candidates(spoken, self.faults, self.now, "shut")
        return any(
            {"component", "symptom"} & set(c.why) and not threads.is_open(c.record) and self._alike(spoken, c.record)
            for c in found
        )

    def _alike(self, spoken: threads.Mention, record: Any) -> bool:
        """False where a mention names a part of quite another system than the record's."""
        known = threads.of_record(record)
        return not (spoken.systems and known.systems) or akin(spoken, known) or threads.related(spoken, known) > 0

    def _rules_out(self, one: Said, named: list[threads.Candidate], focus: dict[str, Any] | None) -> bool:
        target = self._fault(named[0].id) if named else focus
        if target is None and not one.things and not self._closed_here():
            target = self._by_deeds()
            opened = [f for f in self.faults if threads.is_open(f)]
            target = opened[0] if target is None and len(opened) == 1 else target
        if target is None:
            return False
        known = threads.of_record(target)
        denied = {p.name for p in one.problems if p.negated}
        before = self.said[-2] if len(self.said) > 1 else one
        about = one if one.things else before if before.good and before.things else None
        own = threads.of_record(target, head=True)
        if about is not None and threads.related(about.mention, own) == 0 and not denied & known.symptoms:
            explained = any(s.groups & {"announce", "cause"} for s in self.said[:-1])
            if not (explained and threads.related(about.mention, known)):
                return False
            self._step(str(target["id"]), "ruled_out", one)
            return True
        if (
            target["state"] == "suspected"
            or denied & known.symptoms
            or one.mention.signs & known.signs
            or not one.things
            or self._tended(str(target["id"]))
        ):
            self._step(str(target["id"]), "ruled_out", one)
            return True
        return False

    def _observed(self, one: Said, named: list[threads.Candidate], focus: dict[str, Any] | None) -> None:
        """A good result: it closes a fault of that kind that was worked on."""
        lamps = self._lamps() if "malfunction" in one.groups else []
        for fault in [self._fault(c.id) for c in named] + ([focus] if focus is not None else []) + lamps:
            classes = threads.of_record(fault).classes
            known = threads.of_record(fault)
            heals = "any" in one.good or bool(classes & one.good) or not classes
            heals = heals or self._echoes(one, fault) or self._betters(one)
            by_class = bool(classes & one.good) and akin(one.mention, known)
            if one.things and not threads.related(one.mention, known) and not by_class and fault not in lamps:
                continue
            plainly = (
                bool(classes & one.good)
                and str(fault["id"]) not in self._fresh()
                and not one.groups & {"hedge", "waiting"}
                and threads.related(one.mention, threads.of_record(fault, head=True)) >= 0.9
                and self._own(one.mention)
            )  # the very part, days later, is said to be well in just that respect
            sure = str(fault["id"]) not in self._fresh() and any(c.id == fault["id"] for c in named)
            if sure and not one.groups & {"hedge", "waiting"} and (self.deeds or self._no_longer(one, known)):
                plainly = plainly or heals  # work was done, and the thing named is well
            if heals and str(fault["id"]) in self._fresh() and not one.groups & {"hedge", "waiting"}:
                plainly = self._put_well(one, fault)
            if heals and (plainly or self._tended(str(fault["id"])) or (fault in lamps and self.deeds)):
                self._step(str(fault["id"]), "fixed", one, confidence=0.8)
                return
        older = focus is not None and str(focus["id"]) not in self._fresh()
        if named or older or (one.things and not one.repairs) or (self._closed_here() - self._fresh()):
            return
        of_kind = [f for f in self.faults if threads.is_open(f) and threads.of_record(f, head=True).classes & one.kinds]
        meant = of_kind[0] if len(of_kind) == 1 and self.deeds and self._tended(str(of_kind[0]["id"])) else None
        echoed = [
            f for f in self.faults if threads.is_open(f) and f["id"] not in self._fresh() and self._echoes(one, f)
        ]
        meant = meant or (echoed[0] if len(echoed) == 1 and self.deeds else None)
        meant = meant or (self._by_deeds() if "any" in one.good else None)
        if meant is not None:
            self._step(str(meant["id"]), "fixed", one, confidence=0.7)

    def _put_well(self, one: Said, fault: dict[str, Any]) -> bool:
        """True where a fault told just now is well again: something was done since, and the clause says how it is now."""
        since = next(s.clause for s in self.steps if s.opens and s.id == fault["id"])
        words = {plain(t.lower) for t in one.clause.tokens}
        done = any(
            r.action not in ("removed", "drained", "topped up") for s in self.said if s.index > since for r in s.repairs
        )
        now = bool(words & set(fault_talk.facts()["tail"]["since"]))
        same = bool(threads.of_record(fault).classes & one.good) or "any" in one.good
        return same and one.index > since + 1 and (done or (now and bool(one.kinds)))

    def _no_longer(self, one: Said, known: threads.Mention) -> bool:
        """True where the fault's own symptom is denied as something that was ("it is not jumping out any more")."""
        words = {plain(t.lower) for t in one.clause.tokens}
        denied = {p.name for p in one.problems if p.negated}
        return bool(denied & known.symptoms) and bool(words & set(fault_talk.facts()["tail"]["since"]))

    def _betters(self, one: Said) -> bool:
        """True for a plain statement of how a thing is now ("the wipers go at a proper pace now")."""
        words = {plain(t.lower) for t in one.clause.tokens}
        clear = not (
            one.clause.negated or one.clause.planned or one.problems or one.groups & {"hedge", "back", "waiting"}
        )
        return (
            clear and len(words) > 3 and bool(words & set(fault_talk.facts()["echo"]["betters"])) and bool(self.deeds)
        )

    def _echoes(self, one: Said, fault: dict[str, Any]) -> bool:
        """True where a thing is said to do what it would not do ("won't stay shut" ... "stays shut now")."""
        words = {t.lower for t in one.clause.tokens}
        if one.clause.negated or one.clause.planned or not words & set(fault_talk.facts()["echo"]["now"]):
            return False
        known = threads.of_record(fault, head=True)
        roots = {threads.root(w) for w in one.mention.words - one.mention.parts}
        return bool(roots & {threads.root(w) for w in known.words - known.parts - known.places})

    def _by_deeds(self) -> dict[str, Any] | None:
        """The one open fault that the work done in this note can have been for."""
        opened = [
            f for f in self.faults if threads.is_open(f) and (f["id"] not in self._fresh() or f["id"] in self.tended)
        ]
        belongs = fault_talk.facts()["belongs"]
        meant = []
        exact = [f for f in opened if any(threads.related(d, threads.of_record(f, head=True)) for d, _ in self.deeds)]
        for fault in exact or opened:
            known = threads.of_record(fault)
            likely = {s for c in known.classes for s in belongs.get(c, ())} if not known.systems else set()
            if any(threads.related(d, known) or akin(d, known) or d.systems & likely for d, _ in self.deeds):
                meant.append(fault)
        if len(meant) == 1:
            return meant[0]
        if len(opened) != 1 or not self.deeds:
            return None
        known = threads.of_record(opened[0])
        loose = not known.systems or any(not d.systems for d, _ in self.deeds)
        return opened[0] if loose else None  # work on quite another system cures nothing here

    def _stands(self, one: Said) -> None:
        """Not fixed after all: what was closed in this note is open again."""
        named = self._named(one, "shut")
        if self.focus is not None and (not named or named[0].id == self.focus):
            self.steps = [s for s in self.steps if not (s.id == self.focus and s.event in CLOSING)]
            self._rebuild()

    def _wait(self, one: Said) -> None:
        target = None
        found = [c for c in self._named(one, "open") if threads.is_open(c.record)]
        if found:
            target = found[0].id
        elif (
            not one.things
            and self.focus is not None
            and one.index - self.focus_clause <= NEAR
            and threads.is_open(self._fault(self.focus))
        ):
            target = self.focus
        if target is not None:
            self._step(target, "waiting", one, once=True)

    def wait_for(self, ordered: list[Draft]) -> None:
        """A part ordered for an open fault: the fault waits for it."""
        for part in ordered:
            name = str(part.fields.get("name") or "")
            found = [
                c
                for c in threads.candidates(threads.mention(name), self.faults, self.now, "open")
                if "component" in c.why
            ]
            if found and threads.is_open(found[0].record):
                at = next((s for s in self.said if s.clause.start <= part.start < s.clause.end), self.said[-1])
                self._step(found[0].id, "waiting", at, fields={"waiting_for": name}, once=True)

    def _hedge(self, one: Said) -> None:
        """The result is not trusted yet: a closing just before it is taken back."""
        for step in reversed(self.steps):
            if step.event == "fixed" and one.index - step.clause <= NEAR and step.confidence < 0.9:
                step.event = "worked"
                self._rebuild()
                return

    def _put_right(self) -> None:
        """Work of itself closes an older fault where it was on the very part, and nothing said after speaks
        against it.
        """
        for step in [s for s in self.steps if s.event == "worked" and s.id in self.mended]:
            after = [s for s in self.said if s.index >= step.clause]
            doubt = any(
                s.groups & {"hedge", "unfixed", "still"} for s in after if not s.things or s.index == step.clause
            )
            later = any(
                s.id == step.id and s.clause >= step.clause and s.event in (*CLOSING, "found", "back")
                for s in self.steps
            )
            if not doubt and not later and step.id and threads.is_open(self._fault(step.id)):
                self._step(step.id, "fixed", self.said[step.clause], confidence=0.65)

    def _causes(self) -> None:
        """A finding put right in this note, before an older fault was closed that had no cause yet, was that cause."""
        for step in [s for s in self.steps if s.opens and "novel" not in self.said[s.clause].groups]:
            closed = [
                s
                for s in self.steps
                if s.event == "fixed"
                and s.id
                and s.id not in self._fresh()
                and step.clause < s.clause <= step.clause + 8 * NEAR
                and not any(c.id == s.id and c.event == "cause" and c.clause <= step.clause for c in self.steps)
            ]
            mended = any(s.id == step.id and s.event == "fixed" for s in self.steps)
            at_once = (
                closed
                and closed[0].clause <= step.clause + NEAR + 1
                and len([s for s in self.steps if s.id == step.id]) == 1
            )
            if closed and (mended or at_once):
                cause = Step(
                    closed[0].id, "cause", step.start, step.end, step.clause, False, {"cause": step.fields["what"]}, 0.7
                )
                self.steps = [s for s in self.steps if s.id != step.id]
                self.steps.insert(0, cause)

    # ---- keeping the thread -----------------------------------------------------------------------------------------

    def _fresh(self) -> set[str]:
        return {s.id for s in self.steps if s.opens and s.id}

    def _closed_here(self) -> set[str]:
        return {s.id for s in self.steps if s.event in CLOSING and s.id}

    def _fault(self, id: str) -> dict[str, Any]:
        return next(f for f in self.faults if f["id"] == id)

    def _step(
        self,
        id: str,
        event: str,
        one: Said,
        fields: dict[str, Any] | None = None,
        once: bool = False,
        confidence: float = 0.9,
    ) -> None:
        told = next((s for s in self.steps if s.id == id and s.event == event), None)
        if once and told is not None:
            if fields and not told.fields:
                told.fields = fields
            return
        step = Step(id, event, one.clause.start, one.clause.end, one.index, False, fields or {}, confidence)
        self.steps.append(step)
        self._replay(step)

    def _ask(self, event: str, near: list[threads.Candidate], one: Said) -> None:
        step = Step(
            None, event, one.clause.start, one.clause.end, one.index, False, {"candidates": [c.id for c in near]}, 0.5
        )
        self.steps.append(step)

    def _replay(self, step: Step) -> None:
        draft = Draft(
            "faults", step.fields, step.start, step.end, step.confidence, None if step.opens else step.id, step.event
        )
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
                self.faults = [
                    {**f, "state": "found"} if f["id"] == id and f["state"] in CLOSING else f for f in self.faults
                ]

    def drafts(self) -> list[Draft]:
        """The steps as drafts; faults opened here are referred to by their place in the list."""
        self._put_right()
        self._causes()
        for step in self.steps:
            if step.opens:
                told = step.fields["what"]
                reason = self.reasons.get(str(step.id))
                plainly = told.removesuffix(f", {reason}") if reason else told
                if plainly != told and not step.fields["cause"]:
                    step.fields["cause"] = reason
                step.fields["what"] = brief(plainly)
                if step.fields["what"] != told:
                    step.fields["told"] = told  # all of it, by which later notes find the thread
        places = {s.id: f"#{i + self.offset}" for i, s in enumerate(self.steps) if s.opens}
        return [
            Draft(
                "faults",
                s.fields,
                s.start,
                s.end,
                s.confidence,
                None if s.opens or s.id is None else places.get(s.id, s.id),
                s.event,
            )
            for s in self.steps
        ]


def _within_reach(faults: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The faults a note can speak of: all that are open, and of those shut the latest (so that reading stays quick
    for years).
    """
    shut = [f for f in faults if not threads.is_open(f)][-SHUT_IN_REACH:]
    kept = {id(f) for f in shut}
    return [dict(f) for f in faults if threads.is_open(f) or id(f) in kept]


def akin(one: threads.Mention, other: threads.Mention) -> bool:
    """True where two mentions name systems whose signs mix (see `own` in faults.toml)."""
    if one.systems & other.systems:
        return True
    return any(one.systems & set(group) and other.systems & set(group) for group in fault_talk.facts()["own"]["groups"])


def told_own(one: Said, opened: list[dict[str, Any]]) -> bool:
    """True unless the part that a clause leans on belongs to quite another system than every open fault."""
    part = one.mention.systems or frozenset(s for h in one.inherited if (s := h.data.get("system")))
    leant = threads.Mention(systems=frozenset(map(str, part)))
    return not part or any(not (m := threads.of_record(f)).systems or akin(leant, m) for f in opened)


def brief(what: str) -> str:
    """What is wrong in one short clause, or two ("clunk in the steering when I turn left"), without guesses."""
    rules = fault_talk.facts()["clerk"]
    kept: list[str] = []
    for piece in what.split(", "):
        words = _trimmed(piece.split(), rules)
        room = rules["whole"] - len(" ".join(kept).split())
        if kept and 3 <= room < len(words):
            words = _trimmed(words, {**rules, "longest": room})
        guessed = bool(words) and plain(words[0].lower()) in rules["guess"]
        if kept and (len(words) < 2 or (guessed and (len(words) > rules["guessed"] or "or" in words))):
            continue
        if len(kept) > 1 or len(" ".join([*kept, *words]).split()) > rules["whole"]:
            if kept:
                continue
        kept.append(" ".join(words))
    return ", ".join(k for k in kept if k) or what


def _trimmed(words: list[str], rules: dict[str, Any]) -> list[str]:
    """The words of a clause up to where the talk turns to something else."""
    low = [plain(w.lower().strip(".,;:!?")) for w in words]
    border = set(fault_talk.facts()["shape"]["preposition"]) | set(fault_talk.facts()["shape"]["when"])
    end = next((i for i in range(3, len(words)) if low[i] in rules["stop"] and low[i - 1] not in rules["joined"]), len(words))
    if end > rules["longest"]:
        end = rules["longest"]
        end = next((i for i in range(end, end - 4, -1) if low[i] in border), end)
    whole = end == len(words)
    while end > 2 and low[end - 1] in rules["trail"] and not (low[end - 1] in rules["ends"] and (whole or low[end - 1] not in border)):
        end, whole = end - 1, False
    return words[:end]


def clerk(text: str, one: Said, problem: Problem | None) -> str:
    """The clause as a clerk would write it: without the words that only lead in."""
    words = one.clause.tokens
    lead = fault_talk.facts()["lead_in"]["words"]
    first = 0
    while first < len(words) - 1 and plain(words[first].lower) in lead:
        first += 1
    if problem is not None:
        there = [i for i, w in enumerate(words) if w.start < problem.start and plain(w.lower) in ("there", "theres")]
        while there and first < len(words) - 1 and (first <= there[-1] or plain(words[first].lower) in lead):
            first += 1  # "what I want on record is, there's oil on the floor"
    while first < len(words) - 2 and plain(words[first].lower) in ("of", "the") and "of" in [w.lower for w in words[:first + 1]]:
        first += 1  # "one of the bolts"
    start = words[first].start if words else one.clause.start
    end = one.clause.end
    if problem is not None:
        start = min(start, problem.start)
        inside = [w for w in words if w.end <= problem.end or w.start < problem.end]
        limit = len(inside) + 7
        end = words[min(limit, len(words)) - 1].end if words else end
        if len(words) - first > 16:
            start = max(start, words[max(0, len(inside) - 10)].start)
    return text[start:end].strip(" ,.;")
