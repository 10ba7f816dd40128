"""What each clause of a note says of faults: what is wrong, what was done, what came of it. No memory, no earlier notes.

The readers of faults put the clauses together; here one clause is looked at, with its scope. The turns of phrase are in
`data/readers/faults.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from diary.language import threads
from diary.language.idioms import Idioms, Line, line, plain
from diary.language.text import DATA, tokens
from diary.language.types import Clause, Hit, Utterance

PARTS = ("component", "fastener")


@dataclass(frozen=True, slots=True)
class Problem:
    """Something said to be wrong. `name` and `cls` are the symptom's, `weak` where it needs a part to be about."""

    name: str
    cls: str
    start: int
    end: int
    weak: bool = False
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Repair:
    """Something done to a part. `action` is the canonical past form ("replaced")."""

    action: str
    things: tuple[Hit, ...]
    start: int
    end: int


@dataclass(slots=True)
class Said:
    """One clause: where it is, what it mentions, and what it says of faults."""

    clause: Clause
    index: int
    mention: threads.Mention = field(default_factory=threads.Mention)
    things: list[Hit] = field(default_factory=list)
    places: list[Hit] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    good: set[str] = field(default_factory=set)  # classes of symptoms that the clause says are gone
    groups: set[str] = field(default_factory=set)  # groups of turns of phrase found
    foreign: bool = False  # about something that is no part of the machine

    @property
    def outside(self) -> bool:
        """True where the clause tells nothing of this machine as it is."""
        c = self.clause
        return c.other_machine or c.hypothetical or c.question or c.retracted


@cache
def facts() -> dict[str, Any]:
    """The tables of `data/readers/faults.toml`."""
    return tomllib.loads((DATA / "readers" / "faults.toml").read_text(encoding="utf-8"))


@cache
def _idioms() -> tuple[Idioms, Idioms]:
    return Idioms(facts()["group"], facts()["class"]), Idioms(facts()["good"], facts()["class"])


@cache
def _weak() -> frozenset[str]:
    return frozenset(" ".join(plain(t.lower) for t in tokens(w)) for w in facts()["weak"]["words"])


@cache
def _list(table: str) -> frozenset[str]:
    return frozenset(facts()[table]["words"])


def said(utterance: Utterance) -> list[Said]:
    """What each clause says, in order."""
    whole = line(utterance.text, utterance.tokens)
    groups, goods = _idioms()
    found = {name: groups.find(whole, name) for name in facts()["group"]}
    better = {name: goods.find(whole, name) for name in facts()["good"]}
    made = []
    for index, clause in enumerate(utterance.clauses):
        one = Said(clause, index)
        hits = [h for h in utterance.hits if h.start >= clause.start and h.end <= clause.end]
        one.things = [h for h in hits if h.kind in PARTS]
        one.places = [h for h in hits if h.kind == "place"]
        one.mention = threads.of_hits([_moved(h, clause.start) for h in hits], utterance.text[clause.start : clause.end])
        one.groups = {name for name, fs in found.items() if any(clause.start <= f.start < clause.end for f in fs)}
        one.good = {name for name, fs in better.items() if any(clause.start <= f.start < clause.end for f in fs)}
        one.foreign = _foreign(hits, clause)
        _wrong(one, hits, [f for f in found["malfunction"] if clause.start <= f.start < clause.end], found["deliberate"], utterance.text)
        _healthy(one, hits)
        one.repairs = _repairs(hits, clause)
        made.append(one)
    return made


def _moved(hit: Hit, by: int) -> Hit:
    return Hit(hit.kind, hit.name, hit.start - by, hit.end - by, hit.data)


def _foreign(hits: Iterable[Hit], clause: Clause) -> bool:
    """True where the clause speaks of a tool, a place or a person's things and of no part of the machine."""
    hits = list(hits)
    if any(h.kind in PARTS for h in hits):
        return False
    words = {plain(t.lower) for t in clause.tokens}
    return bool(words & _list("not_machine")) or any(h.kind in ("tool", "place_of") for h in hits)


def _wrong(one: Said, hits: list[Hit], malfunctions: list[Any], deliberate: list[Any], text: str) -> None:
    for f in malfunctions:
        one.problems.append(Problem("malfunction", "dead", f.start, f.end))
    for hit in hits:
        if hit.kind != "symptom" or any(d.start <= hit.start < d.end for d in deliberate):
            continue
        if any(p.start < hit.end and hit.start < p.end for p in one.problems):
            same = next(p for p in one.problems if p.start < hit.end and hit.start < p.end)
            one.problems[one.problems.index(same)] = Problem(
                hit.name, str(hit.data.get("class")), min(same.start, hit.start), max(same.end, hit.end), False, same.negated
            )
            continue
        spoken = " ".join(plain(t.lower) for t in tokens(text[hit.start : hit.end]))
        one.problems.append(
            Problem(hit.name, str(hit.data.get("class")), hit.start, hit.end, spoken in _weak(), _denied(one.clause, hit))
        )
    one.problems.sort(key=lambda p: p.start)


def _denied(clause: Clause, hit: Hit) -> bool:
    """True where a word of denial stands close before the symptom ("no bubbles", "not dripping", "never leaked")."""
    before = [plain(t.lower) for t in clause.tokens if t.end <= hit.start][-_REACH:]
    return any(w in _denials() for w in before)


_REACH = 4  # how many words a denial reaches ahead


@cache
def _denials() -> frozenset[str]:
    return frozenset(facts()["denial"]["words"])


def _healthy(one: Said, hits: list[Hit]) -> None:
    heals = facts()["heals"]
    good = {c for g in one.good for c in heals[g]}
    for hit in hits:
        if hit.kind == "healthy" and not _denied(one.clause, hit):
            good.update(heals.get(str(hit.data.get("class")), ()))
            if hit.data.get("strong"):
                one.groups.add("fixed_by_look")
    good.update(p.cls for p in one.problems if p.negated)
    one.good = good


def _repairs(hits: list[Hit], clause: Clause) -> list[Repair]:
    if clause.planned or clause.hypothetical or clause.negated:
        return []
    made = []
    cures = facts()["cure"]["actions"]
    for hit in hits:
        if hit.kind != "action" or hit.data.get("class", hit.name) not in cures:
            continue
        if hit.data.get("tense") in ("base", "ing", "s"):
            continue
        made.append(Repair(str(hit.data.get("class", hit.name)), tuple(h for h in hits if h.kind in PARTS), hit.start, hit.end))
    return made


def lines(utterance: Utterance) -> Line:
    """The note as the turns of phrase see it (for tests and for looking into a reading)."""
    return line(utterance.text, utterance.tokens)
