"""What each clause of a note says of faults: what is wrong, what was done, what came of it. No memory, no earlier
notes.

The readers of faults put the clauses together; here one clause is looked at, with its scope. The turns of phrase are in
`data/readers/faults.toml`.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise
from typing import Any

from diary.language import threads
from diary.language.idioms import Found, Idioms, Line, line, plain
from diary.language.spans import begun
from diary.language.text import DATA, tokens
from diary.language.types import Clause, Hit, Quantity, Token, Utterance

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
    support: str = "thing"  # what it is said of: see `_support`


@dataclass(frozen=True, slots=True)
class Repair:
    """Something done to a part. `action` is the canonical past form ("replaced")."""

    action: str
    things: tuple[Hit, ...]
    start: int
    end: int
    back: bool = False  # something was only put back


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
    kinds: set[str] = field(default_factory=set)  # the same, only where said in so many words ("no rattle")
    good_at: int = -1  # where the last good word stands
    good: set[str] = field(default_factory=set)  # classes of symptoms that the clause says are gone
    groups: set[str] = field(default_factory=set)  # groups of turns of phrase found
    lesson: bool = False
    suspected: bool = False
    missing: bool = False  # a part is said to be gone
    imagined: bool = False  # the clause before ended in "if", "in case"
    seat: bool = False  # another person's, but only in name ("my son's seat")
    stranger: bool = False  # about a machine met somewhere
    carried: bool = False  # taken to be another's machine only because the talk before was of one
    inherited: list[Hit] = field(
        default_factory=list
    )  # parts and places of the clause before, where this one leans on it

    @property
    def outside(self) -> bool:
        """True where the clause tells nothing of this machine as it is."""
        c = self.clause
        imagined = c.hypothetical and not ("malfunction" in self.groups and not self._imagines())
        return (
            (c.other_machine and not self.seat)
            or self.imagined
            or self.stranger
            or imagined
            or c.retracted
            or (c.question and self._asks())
            or self._inverted()
        )

    def _inverted(self) -> bool:
        """True for "is the steering supposed to ...": a verb before its subject."""
        words = [plain(t.lower) for t in self.clause.tokens[:2]]
        shape = facts()["shape"]
        return len(words) == 2 and words[0] in shape["inverted"] and words[1] in shape["inverted_subject"]

    def _imagines(self) -> bool:
        """True where the clause imagines by more than "it would not ..." (which is plain fact)."""
        return any(plain(t.lower) in facts()["shape"]["imagining"] for t in self.clause.tokens)

    def _asks(self) -> bool:
        words = [
            w
            for t in self.clause.tokens
            if (w := plain(t.lower)) not in facts()["lead_in"]["words"] or w in facts()["shape"]["asking"]
        ]
        return bool(words) and words[0] in facts()["shape"]["asking"]


@cache
def facts() -> dict[str, Any]:
    """The tables of `data/readers/faults.toml`."""
    return tomllib.loads((DATA / "readers" / "faults.toml").read_text(encoding="utf-8"))


@cache
def _idioms() -> tuple[Idioms, Idioms, Idioms]:
    return tuple(Idioms(facts()[table], facts()["class"]) for table in ("group", "good", "wrong"))  # type: ignore[return-value]


@cache
def _weak() -> frozenset[str]:
    return frozenset(" ".join(plain(t.lower) for t in tokens(w)) for w in facts()["weak"]["words"])


@cache
def _list(table: str) -> frozenset[str]:
    return frozenset(facts()[table]["words"])


def no_trouble(utterance: Utterance) -> list[tuple[int, int]]:
    """Where nothing that is told is a new trouble: it is as it should be ("it rumbles, and i love it"), or only summed up."""
    whole, groups = line(utterance.text, utterance.tokens), _idioms()[0]
    found = []
    for liked in groups.find(whole, "liked"):
        before = [c.start for c in utterance.clauses if c.start < liked.end][-2:]  # its own clause and the one before
        found.append((min(before, default=0), liked.end))
    return found + [(recap.end, len(utterance.text)) for recap in groups.find(whole, "recap")[:1]]


def said(utterance: Utterance) -> list[Said]:
    """What each clause says, in order."""
    whole = line(utterance.text, utterance.tokens)
    groups, goods, wrongs = _idioms()
    found = {name: groups.find(whole, name) for name in facts()["group"]}
    worse = sorted((f for name in facts()["wrong"] for f in wrongs.find(whole, name)), key=lambda f: (f.start, -f.end))
    better = {name: goods.find(whole, name) for name in facts()["good"]}
    made: list[Said] = []
    buys = any(h.kind == "cue" and h.data.get("class") in ("fill", "brim", "partial") for h in utterance.hits)
    for index, clause in enumerate(_cut(utterance, found)):
        one = Said(clause, index)
        hits = [
            h
            for h in begun(utterance.hits, clause.start, clause.end)
            if (h.end <= clause.end or h.kind == "action") and not _counted(h, utterance)
        ]
        if buys and any(h.name in facts()["station"]["names"] for h in hits):
            hits = [h for h in hits if h.name not in facts()["station"]["names"]]
            one.groups.add("station")
        likened = [f for g in ("simile", "ruled_out") for f in found[g]]
        hits = [
            h
            for h in hits
            if h.kind not in (*PARTS, "symptom") or not any(f.start <= h.start and h.end <= f.end for f in likened)
        ]
        returned = [f for f in found["back"] if clause.start <= f.start < clause.end]
        hits = [h for h in hits if h.kind != "place" or not any(f.start <= h.start < f.end for f in returned)]
        spots = [h for h in hits if h.kind == "place"]
        hits = [h for h in hits if h.kind not in (*PARTS, "place", "symptom") or not _likened(h, clause)]
        one.things = [
            h for h in hits if h.kind in PARTS and not any(p.start < h.start and h.end <= p.end for p in spots)
        ]
        one.places = [h for h in hits if h.kind == "place"]
        one.mention = threads.of_hits(
            [_moved(h, clause.start) for h in hits], utterance.text[clause.start : clause.end]
        )
        one.groups |= {
            name
            for name, fs in found.items()
            if name != "verdict" and any(
                clause.start <= f.start < clause.end and not (name == "back" and _never(utterance.text, clause, f))
                for f in fs
            )
        }
        if any(
            h.kind in ("place_of", "cue") and (h.kind == "place_of" or h.data.get("class") == "document") for h in hits
        ):
            one.groups.discard("announce")
        if any(clause.start <= f.start < clause.end and _never(utterance.text, clause, f) for f in found["back"]):
            one.groups.add("never_back")
        one.good = {name for name, fs in better.items() if any(clause.start <= f.start < clause.end for f in fs)}
        one.good_at = max(
            (f.start for fs in better.values() for f in fs if clause.start <= f.start < clause.end), default=-1
        )
        one.lesson = any(h.kind == "cue" and h.data.get("class") == "lesson" for h in hits)
        malfunctions = [f for f in worse if clause.start <= f.start < clause.end and _within(f, clause, utterance)]
        if malfunctions:
            one.groups.add("malfunction")
        went = [h for h in hits if h.kind == "symptom"]
        ended = [
            f
            for f in malfunctions
            if any(f.start <= h.start and h.end <= g.start and g.start < f.end for h in went for g in found["gone"])
        ]  # "the buzz has gone": what is gone is the trouble itself
        malfunctions = [f for f in malfunctions if f not in ended]
        if any(g.start < f.end and f.start < g.end for f in malfunctions for g in found["gone"]):
            one.groups.discard("gone")  # "the elbow has gone soft"
        if "station" not in one.groups or one.things:
            _wrong(one, hits, malfunctions, found["deliberate"], utterance)
        _healthy(one, hits)
        _finish(one)
        one.mention = _telling(one, utterance.text)
        one.repairs = _apart(
            one, _repairs(hits, clause, [q for q in utterance.quantities if clause.start <= q.start < clause.end])
        )
        if "put_back" in one.groups and not clause.planned and not clause.negated:
            one.repairs.append(Repair("fitted", tuple(one.things), clause.start, clause.end, True))
        if "done_up" in one.groups and not clause.planned and not clause.negated:
            one.repairs.append(Repair("tightened", tuple(one.things), clause.start, clause.end))
        one.suspected = clause.suspected or (bool(made) and _hesitates(made[-1]))
        if (
            made
            and len(made[-1].clause.tokens) <= 2
            and made[-1].clause.tokens
            and plain(made[-1].clause.tokens[-1].lower) in _denials()
        ):
            one.problems = [replace(p, negated=True) for p in one.problems]
        one.carried = (
            clause.other_machine
            and not any(
                h.kind == "person" or (h.kind == "cue" and h.data.get("class") in ("other_machine", "hearsay"))
                for h in hits
            )
            and not {plain(t.lower) for t in clause.tokens} & set(facts()["shape"]["other"])
        )
        one.seat = any(
            p.kind == "person" and 0 <= h.start - p.end <= 3 and h.name in facts()["own"]["seats"]
            for p in hits
            for h in one.things
        )
        one.seat = one.seat or any(  # "dad's wrench" tells of no other machine
            p.kind == "person" and 0 <= h.start - p.end <= 12 for p in hits for h in hits if h.kind == "tool"
        )
        if "never_back" in one.groups:
            one.problems = []
        if not one.good and _again(one):
            one.groups.add("back")
        if any(clause.start <= f.start < clause.end and _final(one, f) for f in found["verdict"]):
            one.groups.add("fixed")
        if clause.tokens and plain(clause.tokens[0].lower) in facts()["tail"]["when"]:
            one.groups -= {"fixed", "gone"}  # "until that is done"
        _lean(one, made)
        made.append(one)
    summed_up = min((f.end for f in found["recap"]), default=None)
    for one in made:
        if summed_up is not None and one.clause.end > summed_up:
            one.problems = []
            one.groups -= {"cause", "malfunction"}
    for one in made:
        if "liked" in one.groups and not one.clause.negated:
            one.problems = []
    for one, after in pairwise(made):
        later = [plain(t.lower) for t in after.clause.tokens]
        thought = (
            any(plain(t.lower) == "thought" for t in one.clause.tokens) and later[:1] == ["but"] and not after.things
        )
        led = next((i for i, w in enumerate(later) if w not in facts()["shape"]["hesitant"]), 0)
        other = (
            after.clause.other_machine
            and later[led:]
            and later[led] in ("no", "that", "thats", "its", "it")
            and len(later) - led <= 8
        )
        if "not_mine" in after.groups or thought or other or "liked" in after.groups:
            one.problems = []
        if "unfixed" in one.groups and "fixed" in after.groups and len(later) <= 3 and not after.things:
            after.groups.discard("fixed")  # "I am not calling | it cured"
        if one.clause.tokens and plain(one.clause.tokens[-1].lower) in facts()["shape"]["carries"]:
            after.imagined = True
        if one._inverted() and len(one.clause.tokens) <= 4 and not after.things:
            after.imagined = True
        if "general" in one.groups and len(one.clause.tokens) <= 5:
            for told in made[one.index : one.index + 4]:
                told.problems = []
        if (
            len(later) <= 3
            and after.index + 1 < len(made)
            and "not_mine" in made[after.index + 1].groups
            and not after.problems
        ):
            one.problems = []
        if one.lesson and later and later[0] in facts()["shape"]["under"]:
            after.lesson = True
        words = [t for t in one.clause.tokens]
        if any(
            h.kind == "machine" and _strange(h, words)
            for h in begun(utterance.hits, one.clause.start, one.clause.end)
        ):
            one.stranger = True
            after.stranger = True
    return made


def _again(one: Said) -> bool:
    """True where a problem is told with "again" after it ("limp mode again", "seat wet again after rain")."""
    for problem in one.problems:
        after = [plain(t.lower) for t in one.clause.tokens if t.end > problem.start]
        then = [plain(t.lower) for t in one.clause.tokens if t.start >= problem.end]
        if "back" in then[:3] and not problem.negated:
            place = then.index("back")
            if set(then[:place]) <= set(facts()["own"]["come"]) and not set(then[place + 1 : place + 2]) & set(
                facts()["own"]["back_where"]
            ):
                return True  # "the clonk is back"
        rest = len([t for t in one.clause.tokens if t.start >= problem.end])
        if "again" in after and after.index("again") - (len(after) - rest) <= 2 and not problem.negated:
            between = after[len(after) - rest : after.index("again")]
            return not set(between) & {"it", "them", "that"}
    return False


def _final(one: Said, found: Found) -> bool:
    """True where a word of finishing ends its clause ("the squeal's history", "licked for good this time")."""
    tail = facts()["tail"]
    after = [plain(t.lower) for t in one.clause.tokens if t.start >= found.end]
    before = [plain(t.lower) for t in one.clause.tokens if t.end <= found.start]
    said_as = " ".join(plain(t.lower) for t in one.clause.tokens if found.start <= t.start < found.end)
    if any(w not in tail["words"] for w in after) or one.clause.planned or one.clause.suspected:
        return False
    if set(before[-4:]) & _denials() or set(before) & set(facts()["signs"]["unfinished"]) - {"to"}:
        return False
    if any(said_as.endswith(w) for w in tail["bare"]):
        return any(p.end <= found.start for p in one.problems)
    return True


def _likened(hit: Hit, clause: Clause) -> bool:
    """True for a thing that only says what something is like ("like somebody hitting a bucket"), and for "right" in
    "went right up".
    """
    words = [plain(t.lower) for t in clause.tokens if t.end <= hit.start]
    if hit.kind == "place":
        after = next((plain(t.lower) for t in clause.tokens if t.start >= hit.end), "")
        return hit.name == "right" and after in facts()["own"]["right_on"] and words[-1:] != ["the"]
    if set(words[-3:]) & {"than"}:
        return True  # "I'd no sooner do that than live with a chipped tooth"
    if hit.kind == "symptom":
        return False
    lead = words[-6:]
    return any(a == "like" and b in facts()["own"]["like"] for a, b in pairwise(lead))


def _strange(machine: Hit, words: list[Token]) -> bool:
    """True for "a coupe", "another truck": a machine that nobody has spoken of."""
    before = [plain(t.lower) for t in words if t.end <= machine.start][-1:]
    lead = [plain(t.lower) for t in words if t.end <= machine.start][-4:]
    if any(a in ("our", "my") and len(b) > 3 and b.endswith("s") for a, b in pairwise(lead)):
        return True  # "our Margaret's little runabout"
    return bool(before) and before[0] in (*facts()["shape"]["strange"], *facts()["on_purpose"]["theirs"], "her")


def _hesitates(before: Said) -> bool:
    """True for a clause that only says that what follows is a guess ("I don't know, maybe")."""
    return before.clause.suspected and not before.things and not before.problems and len(before.clause.tokens) <= 5


def _lean(one: Said, earlier: list[Said]) -> None:
    """Give a clause without a part or place of its own those of what it leans on ("which is hotter than the rest
    of them").
    """
    shape = facts()["shape"]
    words = [plain(t.lower) for t in one.clause.tokens]
    before = earlier[-1] if earlier else None
    if (
        words
        and before
        and before.things
        and words[0] in shape["verbal"]
        and before.things[-1].end >= before.clause.end
    ):
        one.things = [before.things[-1], *one.things]
        one.places = one.places or before.places
        one.mention = one.mention | replace(before.mention, symptoms=frozenset(), classes=frozenset())
        one.problems = [replace(p, support="thing") for p in one.problems]
        return
    if not words or one.things or not (one.problems or one.good):
        return
    reach = (
        6
        if set(words) & set(shape["several"])
        else 2
        if words[0] in shape["leaning"] or any(p.support == "unknown" for p in one.problems)
        else 0
    )
    for before in list(reversed(earlier))[:reach]:
        if not one.places and before.places and not any(h.kind == "place" for h in one.inherited):
            one.inherited += before.places
            one.mention = one.mention | threads.Mention(places=before.mention.places)
        if before.things:
            one.inherited += before.things[-1:]
            return


def _within(found: Found, clause: Clause, utterance: Utterance) -> bool:
    """True where a phrase ends in its clause, or runs on into a relative one ("had one that moved")."""
    first = next((plain(t.lower) for t in utterance.tokens if t.start >= clause.end), "")
    return found.end <= clause.end or first in ("that", "which")


def _never(text: str, clause: Clause, found: Found) -> bool:
    """True for "never came back": not for "isn't charging again"."""
    return "again" not in text[found.start : found.end].lower() and _denied(clause, found.start, 2)


def _cut(utterance: Utterance, found: dict[str, list[Found]]) -> list[Clause]:
    """The clauses, cut where something was just called over and the talk goes on ("calling it fixed the drift is
    better").
    """
    made: list[Clause] = []
    fixed = found["fixed"]
    for clause in _whole(utterance, [*fixed, *found["verdict"]]):
        ends = [f.end for f in fixed if clause.start <= f.start and f.end < clause.end and _ends(utterance, f)]
        ends += [
            b.end
            for a, b in pairwise(clause.tokens)
            if plain(b.lower) in facts()["signs"]["finished"]
            and b.end < clause.end
            and any(h.end == a.end and h.kind in PARTS for h in utterance.hits)
        ]
        ends.sort()
        if ends:
            first = [t for t in clause.tokens if t.end <= ends[0]]
            rest = [t for t in clause.tokens if t.start >= ends[0]]
            if len(rest) > 2 and first:
                made.append(
                    replace(clause, end=first[-1].end, text=utterance.text[clause.start : first[-1].end], tokens=first)
                )
                clause = replace(
                    clause, start=rest[0].start, text=utterance.text[rest[0].start : clause.end], tokens=rest
                )
        made.append(clause)
    return made


def _whole(utterance: Utterance, over: list[Found]) -> list[Clause]:
    """The clauses, with those put together again that were cut after a word of refusing ("won't | hold on the hill")
    or before the end of a verdict ("that's the coughing | and spluttering done with").
    """
    made: list[Clause] = []
    for clause in utterance.clauses:
        before = made[-1] if made else None
        if (
            before is not None
            and before.tokens
            and (
                plain(before.tokens[-1].lower) in facts()["shape"]["refusing"]
                or [plain(t.lower) for t in clause.tokens] in [[w] for w in facts()["signs"]["finished"]]
                or (
                    1 < len(clause.tokens) <= 5
                    and plain(clause.tokens[0].lower) == "and"
                    and any(clause.start < f.start and f.end == clause.end for f in over)
                    and plain(clause.tokens[1].lower) not in facts()["shape"]["pronoun"]
                    and not any(h.kind in PARTS and clause.start <= h.start < clause.end for h in utterance.hits)
                )
            )
            and not utterance.text[before.end : clause.start].strip()
        ):
            made[-1] = replace(
                before,
                end=clause.end,
                text=utterance.text[before.start : clause.end],
                tokens=[*before.tokens, *clause.tokens],
                negated=before.negated or clause.negated,
            )
        else:
            made.append(clause)
    return made


def _ends(utterance: Utterance, found: Found) -> bool:
    """True where what follows a word of finishing is said of something else ("that's fixed the drift ...")."""
    said_of = any(
        plain(t.lower) in facts()["shape"]["pronoun"] for t in tokens(utterance.text[found.start : found.end])
    )
    after = next((plain(t.lower) for t in utterance.tokens if t.start >= found.end), "")
    return said_of or after in facts()["on_purpose"]["cut_at"]


def _counted(hit: Hit, utterance: Utterance) -> bool:
    """True for a "part" that is a word of a number or of its unit ("fourteen point two", "1.2 bar")."""
    counts = [(n.start, n.end) for n in utterance.numbers]
    counts += [(q.start, q.end) for q in utterance.quantities if q.number is not None]
    return hit.kind in PARTS and any(start <= hit.start and hit.end <= end for start, end in counts)


def _moved(hit: Hit, by: int) -> Hit:
    return Hit(hit.kind, hit.name, hit.start - by, hit.end - by, hit.data)


def _foreign(hits: list[Hit], clause: Clause, start: int, words: list[Token]) -> bool:
    """True where what is wrong is no part of the machine: a tool, a place, a thing of the house ("the gate is
    stuck").
    """
    before = [t for t in clause.tokens if t.end <= start]
    things = [h for h in hits if h.kind in PARTS and h.end <= start]
    if things:
        lead = [plain(t.lower) for t in words if t.end <= things[-1].start][-1:]
        if any(
            plain(t.lower) in _list("not_machine")
            for t in words
            if t.start == things[-1].start and t.end < things[-1].end
        ):
            return True
        return bool(lead) and lead[0] in _list("not_machine")
    others = [h for h in hits if h.kind in ("tool", "place_of") and h.end <= start]
    return any(plain(t.lower) in _list("not_machine") for t in before) or bool(others)


def _wrong(one: Said, hits: list[Hit], malfunctions: list[Any], deliberate: list[Any], utterance: Utterance) -> None:
    text, words, counted = utterance.text, utterance.tokens, {n.end for n in utterance.numbers}
    subjects = one.things + [h for h in hits if h.kind == "machine"]
    for a, b in pairwise(one.clause.tokens):
        if plain(a.lower) in facts()["echo"]["refuses"] and any(
            h.kind == "component" and 0 <= a.start - h.end <= 1 for h in one.things
        ):
            malfunctions = [*malfunctions, Found("dead", a.start, b.end)]
    for f in malfunctions:
        support = _support(one.clause, f.start, f.end, subjects, "s")
        gist = [plain(t.lower) for t in words if f.start <= t.start < f.end]
        told_off = f.group in facts()["denial"]["classes"] and not set(gist) & _denials()
        if (
            support
            and not _foreign(hits, one.clause, f.start, words)
            and not any(d.start < f.end and f.start < d.end for d in deliberate)
        ) and not any(p.start < f.end and f.start < p.end for p in one.problems):
            one.problems.append(
                Problem(
                    "malfunction",
                    f.group,
                    f.start,
                    f.end,
                    False,
                    _broadly_denied(one.clause) or (told_off and _denied(one.clause, f.start, 3)),
                    support,
                )
            )
    for hit in hits:
        if hit.kind == "symptom" and any(
            h.kind in (*PARTS, "tool") and h.start <= hit.start and hit.end <= h.end for h in hits
        ):
            continue
        if hit.kind == "symptom" and any(
            h.kind == "action" and h.start == hit.start and (h.end > hit.end or h.data.get("particle")) for h in hits
        ):
            continue  # "bent back into shape"
        if hit.kind != "symptom" or any(d.start <= hit.start < d.end for d in deliberate):
            continue
        if any(p.start < hit.end and hit.start < p.end for p in one.problems):
            same = next(p for p in one.problems if p.start < hit.end and hit.start < p.end)
            name = hit.name if hit.data.get("class") == same.cls or same.cls == "dead" else same.name
            cls = str(hit.data.get("class")) if same.name == "malfunction" and same.cls == "dead" else same.cls
            one.problems[one.problems.index(same)] = Problem(
                name, cls, min(same.start, hit.start), max(same.end, hit.end), False, same.negated, same.support
            )
            continue
        support = _support(one.clause, hit.start, hit.end, subjects, hit.data.get("tense"))
        if (
            support is None
            and plain(text[hit.start : hit.end]) in facts()["on_purpose"]["seeing"]
            and hit.end < one.clause.end
        ):
            support = "noun"  # "I could smell coolant"
        if _somebodys_doing(one, hit, hits, utterance):
            continue
        denied = _denied(one.clause, hit.start)
        if (support is None or (support != "noun" and _foreign(hits, one.clause, hit.start, words))) and not denied:
            continue
        spoken = " ".join(plain(t.lower) for t in tokens(text[hit.start : hit.end]))
        weak = spoken in _weak()
        if weak and support == "after" and hit.data.get("class") == "leak" and _heads(one, hit):
            weak = False  # "damp under the passenger mat"
        if spoken in _list("never") or (spoken in _weak() and hit.start - 1 in counted):
            continue
        before = [plain(t.lower) for t in one.clause.tokens if t.end <= hit.start][-2:]
        if (
            any(w in facts()["shape"]["would"] for w in before)
            and "not" not in before
            and spoken not in facts()["on_purpose"]["seeing"]
        ):
            continue
        if _on_purpose(one, hit, spoken):
            continue
        then = next((plain(t.lower) for t in one.clause.tokens if t.start >= hit.end), "")
        if hit.data.get("tense") == "s" and hit.data.get("class") == "damage" and then in ("it", "them"):
            continue  # "the button breaks it": what a thing is there to do
        if spoken in facts()["own"]["by_itself"] and not {plain(t.lower) for t in one.clause.tokens} & set(
            facts()["own"]["itself"]
        ):
            continue
        one.problems.append(
            Problem(
                hit.name, str(hit.data.get("class")), hit.start, hit.end, weak, denied, support or "bare"
            )
        )
    goes = facts()["own"]["goes"]
    one.problems = [p for p in one.problems if p.support != "bare" or plain(text[p.start : p.end]) not in goes]
    if one.groups & {"left_alone", "general"} or any(
        plain(a.lower) in facts()["on_purpose"]["theirs"] and any(h.start == b.start for h in one.things)
        for a, b in pairwise(one.clause.tokens)
    ):
        one.problems = []
    one.things = [
        h
        for h in one.things
        if not any(
            p.name == "malfunction" and p.cls == "dead" and p.start < h.start and h.end <= p.end for p in one.problems
        )
    ]
    one.problems.sort(key=lambda p: p.start)


def _somebodys_doing(one: Said, hit: Hit, hits: list[Hit], utterance: Utterance) -> bool:
    """True for what a person does or what only likens: "she stalled it", "taught my niece to whistle", "went down like a
    lead balloon with a puncture", "stall 18".
    """
    driven = facts()["driven"]
    before = [plain(t.lower) for t in one.clause.tokens if t.end <= hit.start]
    then = next((plain(t.lower) for t in one.clause.tokens if t.start >= hit.end), "")
    person = any(h.kind == "person" and plain(utterance.text[h.end : hit.start]).strip() == "to" for h in hits)
    if person or (
        hit.data.get("class") in driven["classes"] and then in driven["objects"] and set(before[-3:]) & set(driven["who"])
    ):
        return True
    numbered = any(n.start - hit.end == 1 for n in utterance.numbers)
    if numbered and hit.data.get("tense") == "base" and not one.things and not set(before) & set(facts()["shape"]["pronoun"]):
        return True
    likens = any(a == "like" and b in facts()["own"]["like"] for a, b in pairwise(before))
    return likens and "with" in before[-4:]


def _heads(one: Said, hit: Hit) -> bool:
    """True where the symptom begins the clause and says where it is ("damp under the mat")."""
    before = [plain(t.lower) for t in one.clause.tokens if t.end <= hit.start]
    after = next((plain(t.lower) for t in one.clause.tokens if t.start >= hit.end), "")
    return all(w in facts()["lead_in"]["words"] for w in before) and after in facts()["shape"]["preposition"]


def _support(clause: Clause, start: int, end: int, things: list[Hit], tense: str | None) -> str | None:
    """What a symptom is said of: "thing" a part of the machine, "pronoun" something named before, "noun" it is a thing
    heard or seen itself, "unknown" a word the lexicon does not have, "bare" nothing; None where it is said of a person.
    """
    shape = facts()["shape"]
    if any(t.start < end and start < t.end for t in things):
        return "thing"  # the phrase names the part itself ("the brakes are grinding")
    before = [plain(t.lower) for t in clause.tokens if t.end <= start]
    if any(w == "theres" or (w == "there" and before[-1] in shape["be"]) for w in before[-3:]):
        return "noun" if not any(t.start >= end for t in things) else "after"  # who says so does not matter
    noun = bool(before) and before[-1] in shape["article"] and tense in (None, "base", "ing")
    if any(t.end <= start for t in things) or any(t.start - end in (0, 1) for t in things):
        last = max((t.end for t in things if t.end <= start), default=clause.start)
        between = [plain(t.lower) for t in clause.tokens if last <= t.start and t.end <= start]
        person = next((w for w in reversed(between) if w in shape["human"]), None)
        if (
            person is None
            or (set(between) & set(shape["have"]) and person not in shape["other"])
            or any(t.start - end in (0, 1) for t in things)
        ):
            return "thing"
    if noun and any(t.start >= end for t in things):
        return "thing"
    if noun:
        return (
            "noun"
            if set(before) & set(shape["there"]) or before[-1] in ("the", "that", "this") or len(before) < 4
            else "bare"
        )
    who = next((w for w in reversed(before) if w in shape["human"] or w in shape["pronoun"]), None)
    if who in shape["human"]:
        return "noun" if set(before) & set(shape["have"]) and who not in shape["other"] else None
    if any(t.start >= end for t in things):
        return "after"
    if who is not None:
        return "pronoun"
    if set(before) & set(shape["there"]):
        return "noun"
    lead = facts()["lead_in"]["words"]
    if all(w in lead for w in before):
        return "bare"
    return "unknown" if before[-1] in shape["be"] or tense in ("s", "past", "ing") else "bare"


def _on_purpose(one: Said, hit: Hit, spoken: str) -> bool:
    """True where the clause begins with a verb that somebody does ("loosened the pinch bolt")."""
    before = [plain(t.lower) for t in one.clause.tokens if t.end <= hit.start]
    after = [plain(t.lower) for t in one.clause.tokens if t.start >= hit.end]
    begins = all(w in facts()["lead_in"]["words"] and w not in facts()["shape"]["pronoun"] for w in before)
    thing = any(0 <= h.start - hit.end <= 1 for h in (*one.things, *one.places))
    return (
        begins
        and spoken in _list("on_purpose")
        and bool(after)
        and (thing or after[0] in facts()["on_purpose"]["objects"])
    )


def _broadly_denied(clause: Clause) -> bool:
    """True for a clause that begins with a denial of all it says ("neither of the shocks is leaking")."""
    words = [plain(t.lower) for t in clause.tokens[:2]]
    return (
        any(w in ("neither", "none", "nothing", "nobody") for w in words)
        or words[:2] == ["not", "one"]
        or words[:2] == ["not", "a"]
    )


def _denied(clause: Clause, start: int, reach: int = 4) -> bool:
    """True where a word of denial stands close before a symptom ("no bubbles", "not dripping", "never leaked")."""
    before = [plain(t.lower) for t in clause.tokens if t.end <= start][-reach:]
    return any(w in _denials() for w in before) or _broadly_denied(clause)


@cache
def _denials() -> frozenset[str]:
    return frozenset(facts()["denial"]["words"])


def _healthy(one: Said, hits: list[Hit]) -> None:
    heals = facts()["heals"]
    good = {c for g in one.good for c in heals[g]}
    for hit in hits:
        if hit.kind == "healthy" and not _denied(one.clause, hit.start) and _predicative(one, hit):
            good.update(heals.get(str(hit.data.get("class")), ()))
            if hit.data.get("strong"):
                one.groups.add("fixed_by_look")
    good.update(p.cls for p in one.problems if p.negated and p.cls not in facts()["whole"]["nothing"])
    one.kinds = (one.good - {"any"}) | {
        p.cls for p in one.problems if p.negated and p.cls not in facts()["whole"]["nothing"]
    }
    one.good = good


def _telling(one: Said, text: str) -> threads.Mention:
    """The mention, with only those symptoms that the clause really says ("went out on the bypass" tells of no
    light).
    """
    anew = bool(one.groups & {"back", "still"})
    told = [p for p in one.problems if anew or not p.weak or p.negated or p.support in ("thing", "noun")]
    seen = threads.Mention()
    for problem in told:
        seen = seen | threads.mention(text[problem.start : problem.end])
    return replace(one.mention, symptoms=seen.symptoms, classes=seen.classes | {p.cls for p in told}, signs=seen.signs)


def _finish(one: Said) -> None:
    """See "left wheel bearing done" as something called over, and "the bolts are gone" as something missing."""
    words = [plain(t.lower) for t in one.clause.tokens]
    signs = facts()["signs"]
    outright = words[-1:] and words[-1] in facts()["echo"]["outright"]
    if (
        words
        and words[-1] in signs["finished"]
        and (outright or one.things or one.problems or len(words) <= 2)
        and not set(words) & set(signs["unfinished"])
    ):
        one.groups.add("fixed")
    if words[-2:] == ["calling", "it"]:
        one.groups.add("fixed")
    after = words[words.index("gone") + 1 :] if "gone" in words else ["-"]
    if (
        "gone" in one.groups
        and one.things
        and not one.problems
        and not one.clause.negated
        and not set(after[:1]) - set(facts()["own"]["gone"])
    ):
        one.missing = True


def _predicative(one: Said, hit: Hit) -> bool:
    """True where a healthy word is said of something ("the belt is fine"), not in passing ("fine paper", "okay so")."""
    words = [plain(t.lower) for t in one.clause.tokens if hit.start <= t.start < hit.end]
    if len(words) > 1 and hit.data.get("class") != "fine":
        return True
    before = [plain(t.lower) for t in one.clause.tokens if t.end <= hit.start]
    said_of = bool(before) and before[-1] in facts()["shape"]["be"] + facts()["shape"]["pronoun"]
    after_part = any(0 <= hit.start - h.end <= 1 for h in one.things)
    return said_of or after_part or (len(words) > 1 and words[0] not in _list("not_good"))


def _repairs(hits: list[Hit], clause: Clause, quantities: list[Quantity]) -> list[Repair]:
    """What the clause says was done to a part; a torque that no book speaks of was given."""
    if clause.planned or clause.hypothetical:
        return []
    cures = facts()["cure"]
    things = tuple(h for h in hits if h.kind in PARTS)
    made = [
        Repair(str(h.data.get("class", h.name)), things, h.start, h.end, "back" in str(h.data.get("verb")).split())
        for h in hits
        if h.kind == "action"
        and h.data.get("class", h.name) in cures["actions"]
        and h.data.get("tense") not in ("base", "ing", "s")
        and h.data.get("verb") not in cures["not"]
        and not _denied(clause, h.start, 3)
    ]
    if any(h.kind in ("tool", "meter") for h in hits) or any(plain(t.lower) in cures["probes"] for t in clause.tokens):
        made = [r for r in made if r.action != "fitted"]  # "put the meter on it" mends nothing
    told = any(h.kind == "cue" and h.data.get("class") in ("document", "hearsay", "should") for h in hits)
    made += [
        Repair("tightened", things, q.start, q.end)
        for q in quantities
        if q.dimension == "torque" and not told and not clause.quoted
    ]
    if any(
        h.kind == "consumable" and h.data.get("class") == "threadlocker" and not _denied(clause, h.start) for h in hits
    ):
        made.append(Repair("tightened", (), clause.start, clause.end))
    words = [plain(t.lower) for t in clause.tokens]
    if (
        words
        and re.fullmatch(r"re\w+(?:ed|ung|built|made|laid|did)", words[0])
        and words[0] not in cures["again"]
        and not made
    ):
        made.append(Repair("repaired", things, clause.start, clause.end))  # "rehung the blind"
    ins = [
        t
        for t, after in zip(clause.tokens, [*words[1:], "and"], strict=True)
        if t.lower in ("in", "on") and after == "and"
    ]
    shown = ("climate", "lighting", "electrical", "instruments")
    if not made and any(
        h.end == t.start - 1 and (t.lower == "in" or h.data.get("system") not in shown) for h in things for t in ins
    ):
        made.append(Repair("fitted", things, clause.start, clause.end))  # "cable in"
    bought = any(h.kind == "cue" and h.data.get("class") in ("needed", "ordered", "bought", "plan") for h in hits)
    for a, b in pairwise(clause.tokens):
        thing = next((h for h in things if h.start == b.start), None)
        if thing and plain(a.lower) in ("new", "fresh") and not bought and all(r.action == "removed" for r in made):
            made.append(Repair("replaced", (thing,), a.start, thing.end))
    return made


def _apart(one: Said, repairs: list[Repair]) -> list[Repair]:
    """Repairs whose words are not those of a problem ("the light is stuck on" fits nothing on)."""
    wrong = [p for p in one.problems if not p.negated]
    return [
        r
        for r in repairs
        if r.action == "tightened" or not any(r.start <= p.end + 1 and p.start <= r.end + 1 for p in wrong)
    ]


def torqued(clauses: list[Said], start: int, end: int) -> None:
    """Note a torque given, read elsewhere, in the clause where it stands."""
    for one in clauses:
        if one.clause.start <= start < one.clause.end and not any(r.action == "tightened" for r in one.repairs):
            one.repairs.append(Repair("tightened", tuple(one.things), start, end))


def lines(utterance: Utterance) -> Line:
    """The note as the turns of phrase see it (for tests and for looking into a reading)."""
    return line(utterance.text, utterance.tokens)
