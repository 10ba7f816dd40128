"""What the trained reader adds to the rules, and what it takes back.

The readers of rules draft first; the network (`diary.language.trained`) then tells, word by word, where a fault, a deed, a plan, a
lesson or a part is spoken of. What the rules drafted and what only the network sees are candidates; a judge (`diary.language.judge`,
trained with the network) tells from both how likely each is to be a record, and that likelihood is the record's confidence. Faults
are closed likewise: for every open fault the judge tells how likely it is that this note puts an end to it ("not a drip since").
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from diary.language import threads
from diary.language.fault_talk import no_trouble
from diary.language.judge import Features, Judge
from diary.language.readers.phrases import table
from diary.language.sight import AWAITED, FLAGS, sight, touching
from diary.language.spans import begun, met
from diary.language.text import stem
from diary.language.trained import BOUNDED, CHOSEN, TURNS, Reader, Told, labels, told
from diary.language.types import Context, Draft, Utterance

if TYPE_CHECKING:
    import numpy as np

ENDS = ("fixed", "ruled_out")
NUMERIC = ("fills", "readings", "torques", "measures")  # what the rules read of these stands; the judge tells how surely
MINE = {"faults": "fault", "work": "work", "plans": "plan", "lessons": "lesson", "parts": "thing"}  # kind of record -> of stretch
HINT = 0.15  # likelihood of a word to tell of an end, from which it is a hint of one
UNLIKE = 0.35  # below this a stretch does not name a fault (see `Threads._fit`)
AFTERTHOUGHT = 20  # characters behind a shot that still speak of it
REACH = 12  # closed faults that a note can bring back
NAMED = ("component", "fastener", "consumable")


@dataclass(slots=True)
class Seen:
    """A note as the network sees it."""

    utterance: Utterance
    spans: list[tuple[int, int]]
    likely: dict[str, np.ndarray]
    told: list[Told]
    turns: dict[str, np.ndarray] = field(default_factory=dict)  # by fault known before, the likelihood of each of TURNS
    nothing: list[tuple[int, int]] | None = None  # see `no_trouble`

    def is_nothing(self, one: Told) -> bool:
        """True for what the rules know to be no trouble: it is as it should be, or only summed up."""
        if self.nothing is None:
            self.nothing = no_trouble(self.utterance)
        return any(start <= one.start < end for start, end in self.nothing)

    def rows(self, start: int, end: int) -> list[int]:
        """The words between two characters."""
        return list(touching(self.spans, start, end))

    def shares(self, start: int, end: int) -> Features:
        """The mean likelihood of everything that the network tells, over the words between two characters."""
        rows = self.rows(start, end)
        found: Features = {}
        for layer, kinds in BOUNDED.items():
            names = labels(layer)
            mean = self.likely[layer][rows].mean(axis=0) if rows else None
            for kind in kinds:
                found[kind] = 0.0 if mean is None else float(sum(mean[i] for i, n in enumerate(names) if n[2:] == kind and n != "O"))
        return found

    def of_choice(self, layer: str, choice: str, start: int, end: int) -> float:
        """The mean likelihood of a choice ("fitted" of a part's states) over the words between two characters."""
        rows = self.rows(start, end)
        choices = CHOSEN[layer][1]
        return float(self.likely[layer][rows, choices.index(choice)].mean()) if rows and choice in choices else 0.0

    def turn(self, fault: str, *turns: str) -> float:
        """How likely a fault known before takes one of these turns in the note."""
        row = self.turns.get(fault)
        return 0.0 if row is None else float(sum(row[TURNS.index(t)] for t in turns))


@dataclass(slots=True)
class Candidate:
    """A draft that may be a record, with what speaks for and against it."""

    draft: Draft
    features: Features
    place: int | None = None  # of the rules' draft in their list
    sure: float = 0.0


def look(utterance: Utterance, reader: Reader, drafts: list[Draft], context: Context) -> Seen:
    """The network's view of the note and of what the rules drafted from it."""
    shown = sight(utterance, drafts, context)
    likely, turns = reader.likelihoods(shown)
    return Seen(utterance, shown.spans, likely, told(shown.spans, likely), turns)


def merge(utterance: Utterance, context: Context, drafts: list[Draft], reader: Reader, judge: Judge) -> list[Draft]:
    """The drafts of the rules, weighed and completed."""
    seen = look(utterance, reader, drafts, context)
    chosen = _one_of_each([c for c in candidates(seen, context, drafts) if _stands(c, judge)])
    kept = _in_order(drafts, chosen)
    kept = Threads(seen, context, kept, drafts).returned(judge)
    kept = Threads(seen, context, kept, drafts).closed(judge)
    return Threads(seen, context, kept, drafts).put_off()


def _stands(one: Candidate, judge: Judge) -> bool:
    source = "rule" if one.place is not None else "net"
    one.sure = judge.likely(f"{one.draft.kind} {source}", one.features)
    settled = one.draft.kind in NUMERIC or (one.draft.kind == "faults" and one.draft.thread is not None)
    return settled or one.sure >= judge.cut(f"{one.draft.kind} {source}")


def _one_of_each(chosen: list[Candidate]) -> list[Candidate]:
    """The candidates, of several readings of one deed or part only one: the rules' where the network's is not clearly likelier."""
    margin = table("learned")["margin"]
    best: dict[tuple[str, str, int, int], tuple[float, int]] = {}
    for k, one in enumerate(chosen):
        if one.draft.kind in ("work", "parts"):
            worth = one.sure + (margin if one.place is not None else 0.0)
            key = (one.draft.kind, str(one.draft.fields.get("component") or one.draft.fields.get("name")), one.draft.start, one.draft.end)
            best[key] = max(best.get(key, (0.0, k)), (worth, k))
    left = {k for _, k in best.values()}
    return [c for k, c in enumerate(chosen) if c.draft.kind not in ("work", "parts") or k in left]


def _in_order(drafts: list[Draft], chosen: list[Candidate]) -> list[Draft]:
    """The drafts that nobody judges, those of the rules that stand, then those of the network."""
    judged = {c.place: c.sure for c in chosen if c.place is not None}
    weighed = [replace(d, confidence=judged[i]) if i in judged else d for i, d in enumerate(drafts)]
    stand = keep(weighed, [i for i, d in enumerate(drafts) if i in judged or not _judged(d)])
    return [*stand, *(replace(c.draft, confidence=c.sure) for c in chosen if c.place is None)]


def keep(drafts: list[Draft], places: list[int]) -> list[Draft]:
    """The drafts at these places, in order. Threads that point to a draft of the note ("#n") follow it; a step of a fault that is not
    kept goes with it."""
    pointed = {i: int(d.thread[1:]) for i, d in enumerate(drafts) if d.thread and d.thread.startswith("#")}
    left = [i for i in places if i not in pointed or pointed[i] in places]
    moved = {i: k for k, i in enumerate(left)}
    return [replace(drafts[i], thread=f"#{moved[pointed[i]]}") if i in pointed else drafts[i] for i in left]


def _judged(draft: Draft) -> bool:
    """True for what the judge weighs: figures, all that is worded, and of faults the telling of a new one."""
    if draft.kind == "faults":
        return draft.thread is None and not draft.fields.get("candidates") and draft.event in ("found", "suspected", "waiting")
    if draft.kind == "plans":
        return draft.event in (None, "made")
    return draft.kind in ("work", "parts", "lessons", *NUMERIC)


# ---- candidates -----------------------------------------------------------------------------------------------------


def candidates(seen: Seen, context: Context, drafts: list[Draft]) -> list[Candidate]:
    """The rules' drafts that are judged, and what only the network sees."""
    found = [Candidate(d, {}, i) for i, d in enumerate(drafts) if _judged(d)]
    if drafts or any(h.kind in NAMED for h in seen.utterance.hits):  # a note that names nothing of the trade is about something else
        found += [Candidate(d, {}) for d in _of_network(seen, context, drafts) if not _outside(seen, d)]
    for one in found:
        one.features = features(seen, context, one.draft, drafts)
    return found


def _outside(seen: Seen, draft: Draft) -> bool:
    """True for words in a scope where nothing is a record, whatever the network sees there."""
    return draft.kind != "lessons" and any(_flag(seen.utterance, draft, f) >= 0.5 for f in table("learned")["outside"])


def features(seen: Seen, context: Context, draft: Draft, drafts: list[Draft]) -> Features:
    """What the network, the clause and the rules say of a draft's words."""
    shares = seen.shares(draft.start, draft.end)
    found: Features = {f"share {k}": v for k, v in shares.items()}
    found |= {"sure": draft.confidence, "words": math.log1p(len(seen.rows(draft.start, draft.end)))}
    if mine := MINE.get(draft.kind):
        found["told"] = max((t.sure for t in seen.told if t.kind == mine and _overlap(t, draft) > 0.3), default=0.0)
        found["odds"] = _odds(shares[mine])
    found |= {f: _flag(seen.utterance, draft, f) for f in FLAGS}
    inside = [h for h in begun(seen.utterance.hits, draft.start, draft.end) if h.end <= draft.end]
    found["named"] = float(any(h.kind in NAMED for h in inside))
    found["ill"] = float(any(h.kind == "symptom" for h in inside))
    if draft.kind == "work":
        action = _class(str(draft.fields["action"]))
        found["class"] = seen.of_choice("class", action, draft.start, draft.end)
        found["checked"] = float(action == "checked")
        found["told class"] = max((t.detail_sure for t in seen.told if t.kind == "work" and t.detail == action and _overlap(t, draft) > 0.3), default=0.0)
        found["other reading"] = _read_by_rule(draft, drafts)
        found["beside a rule's"] = float(any(d.kind == "work" and d.start < draft.end and draft.start < d.end and d.start != draft.start for d in drafts))
    elif draft.kind == "parts":
        found |= {f"state {s}": seen.of_choice("state", s, draft.start, draft.end) for s in CHOSEN["state"][1]}
        found["agrees"] = seen.of_choice("state", str(draft.fields["state"]), draft.start, draft.end)
        found["best"] = max((t.sure * t.detail_sure for t in seen.told if t.kind == "thing" and t.detail == draft.fields["state"] and _overlap(t, draft) > 0), default=0.0)
        found |= {f"is {s}": float(draft.fields["state"] == s) for s in CHOSEN["state"][1][1:]}
        found["followed"] = float(draft.thread is not None)
        found["other reading"] = _read_by_rule(draft, drafts)
    elif draft.kind in NUMERIC:
        found["approx"] = float(bool(draft.fields.get("approx")))
        found |= {f"is {draft.fields[k]}": 1.0 for k in ("quantity", "meter", "role") if draft.fields.get(k)}
        found["nameless"] = float(not (draft.fields.get("of") or draft.fields.get("fastener")))
    elif draft.kind == "faults":
        spoken = threads.mention(seen.utterance.text[draft.start : draft.end])
        alike = [f for f in context.faults if _may_be(spoken, f)]
        found["known"] = max((threads.score(spoken, f, context.now)[0] for f in alike if threads.is_open(f)), default=0.0)
        found["shut"] = max((threads.score(spoken, f, context.now)[0] for f in alike if not threads.is_open(f)), default=0.0)
        found["goes on"] = max((1 - seen.turn(str(f["id"]), "none") for f in alike if str(f["id"]) in seen.turns), default=0.0)
        found["suspicion"] = float(draft.event == "suspected")
        found["waits"] = float(draft.event == "waiting")
    return found


def _read_by_rule(draft: Draft, drafts: list[Draft]) -> float:
    """1 where a rule reads the same words otherwise."""
    return float(any(d is not draft and (d.kind, d.start, d.end) == (draft.kind, draft.start, draft.end) for d in drafts))


def _class(action: str) -> str:
    """The network's class of a deed."""
    return str(table("learned")["classes"].get(action, action.replace(" ", "_")))


def _may_be(spoken: threads.Mention, fault: dict[str, Any]) -> bool:
    """False where both name a part and not the same: "left carb is leaking" is not the left shock that leaks."""
    known = threads.of_record(fault)
    return not (spoken.components and known.components) or threads.related(spoken, known) > 0


def _odds(p: float) -> float:
    return math.log((p + 0.01) / (1.01 - p))


def _overlap(one: Told, draft: Draft) -> float:
    shared = min(one.end, draft.end) - max(one.start, draft.start)
    return shared / max(1, min(one.end - one.start, draft.end - draft.start))


def _flag(utterance: Utterance, draft: Draft, flag: str) -> float:
    near = met(utterance.clauses, draft.start, draft.end)
    return sum(getattr(c, flag) for c in near) / len(near) if near else 0.0


# ---- what only the network sees --------------------------------------------------------------------------------------


def _of_network(seen: Seen, context: Context, drafts: list[Draft]) -> Iterator[Draft]:
    for one in (t for t in seen.told if _words(seen, t.start, t.end)):
        match one.kind:
            case "work" if not (one.detail == "tightened" and _torqued(seen, one, drafts)):
                yield from _deeds(seen, one, drafts)
            case "thing" if one.detail and (known := _drafted(one, drafts, "parts")):
                if known[0].fields["state"] != one.detail and len(known) == 1:
                    yield replace(known[0], fields={**known[0].fields, "state": one.detail}, event=one.detail)
            case "thing" if one.detail and (name := _meant(seen, one)):
                if not any(d.kind == "parts" and _same_head(name, str(d.fields["name"])) for d in drafts):
                    count, cost = _count(seen, one), _cost(seen, one, drafts)
                    fields: dict[str, Any] = {"name": name, "state": one.detail, "count": count, "cost": cost}
                    yield Draft("parts", fields, one.start, one.end, one.sure * one.detail_sure, None, one.detail)
            case "plan" if not _drafted(one, drafts, "plans") and not _of_a_shot(one, drafts):
                yield Draft("plans", {"what": _words(seen, one.start, one.end), "due": _due(seen, one)}, one.start, one.end, one.sure, None, "made")
            case "lesson" if not _drafted(one, drafts, "lessons"):
                yield Draft("lessons", {"what": _words(seen, one.start, one.end)}, one.start, one.end, one.sure)
            case "fault" if one.sure >= table("learned")["faults"] and not _drafted(one, drafts, "faults") and not seen.is_nothing(one):
                yield _fault(seen, one)


def _torqued(seen: Seen, one: Told, drafts: list[Draft]) -> bool:
    """True where a torque that was put on the thing says already that it was tightened."""
    if _drafted(one, drafts, "torques"):
        return True
    names = [_name(seen, t) for t in _things(seen, one)]
    put_on = [str(d.fields["fastener"]) for d in drafts if d.kind == "torques" and d.fields["role"] == "applied" and d.fields["fastener"]]
    return any(_same_head(name, fastener) for name in names for fastener in put_on)


def _drafted(one: Told, drafts: list[Draft], kind: str) -> list[Draft]:
    """What the rules drafted of the kind from the same words, be it in part."""
    return [d for d in drafts if d.kind == kind and one.start < d.end and d.start < one.end]


def _of_a_shot(one: Told, drafts: list[Draft]) -> bool:
    """True for the rest of "should have filmed the bolts before I touched them"."""
    return any(d.kind == "shots" and d.start < one.end and one.start - d.end < AFTERTHOUGHT for d in drafts)


def _same_head(one: str, other: str) -> bool:
    return stem(one.split()[-1].lower()) in map(stem, other.lower().split())


def _words(seen: Seen, start: int, end: int) -> str:
    return seen.utterance.text[start:end].strip(" ,.;:!?()-")


def _things(seen: Seen, outer: Told) -> list[Told]:
    """The things named in a stretch, by the network, else by the lexicon."""
    found = [t for t in seen.told if t.kind == "thing" and t.start < outer.end and t.end > outer.start and _words(seen, t.start, t.end)]
    return found or [
        Told("thing", "", h.start, h.end, 0.5) for h in seen.utterance.hits if h.kind in NAMED and outer.start <= h.start and h.end <= outer.end
    ]


def _name(seen: Seen, thing: Told) -> str:
    """The thing's words without the article and what only points or counts."""
    words = _words(seen, thing.start, thing.end).split()
    idle = set(table("learned")["idle"])
    while len(words) > 1 and words[0].lower() in idle:
        words.pop(0)
    return " ".join(words)


def _count(seen: Seen, part: Told) -> int | None:
    """How many: a plain number in the part's words or right before them; one, where its article says so."""
    text = seen.utterance.text
    for n in seen.utterance.numbers:
        between = text[n.end : part.start].split()
        if n.kind == "cardinal" and n.start < part.end and (n.start >= part.start or len(between) <= 1) and n.end <= part.end:
            if part.start - n.end <= 8 and n.value == int(n.value) and 0 < n.value < 200:
                return int(n.value)
    words = text[max(0, part.start - 4) : part.end].lower().split()
    return 1 if words and words[0] in ("a", "an") else None


def _cost(seen: Seen, part: Told, drafts: list[Draft]) -> float | None:
    """The one sum of money told with the part: in its clause or the next words, where no other part stands with it."""
    clause = next((c for c in seen.utterance.clauses if c.start <= part.start < c.end), None)
    if clause is None:
        return None
    start, end = clause.start, clause.end
    later = [c for c in seen.utterance.clauses if c.start >= clause.end]
    if later and len(later[0].tokens) <= 3:  # "..., thirty bucks"
        end = later[0].end
    sums = [q for q in seen.utterance.quantities if q.dimension == "money" and start <= q.start and q.end <= end]
    others = [t for t in seen.told if t.kind == "thing" and t.detail and t is not part and start <= t.start and t.end <= end]
    taken = any(d.kind in ("parts", "fills") and d.start < end and start < d.end for d in drafts)
    return sums[0].value if len(sums) == 1 and not others and not taken else None


def _deeds(seen: Seen, one: Told, drafts: list[Draft]) -> Iterator[Draft]:
    """A deed told in words that no rule knew; or another name for one that a rule read ("the pump's in" is replaced, not fitted)."""
    action = table("learned")["deeds"].get(one.detail, one.detail)
    known = _drafted(one, drafts, "work")
    for draft in known:
        if _class(str(draft.fields["action"])) != one.detail and len(known) == 1:
            yield replace(draft, fields={**draft.fields, "action": action})
    things = _things(seen, one)
    if things and (name := _meant(seen, max(things, key=lambda t: t.sure))):
        if not any(_same_head(name, str(d.fields["component"])) or _same_head(str(d.fields["component"]), name) for d in known):
            yield Draft("work", {"action": action, "component": name}, one.start, one.end, one.sure)


def _meant(seen: Seen, thing: Told) -> str | None:
    """The thing's name; of a pronoun that of the thing named last before it, None where there is none."""
    name = _name(seen, thing)
    if name.lower() not in table("learned")["pronouns"]:
        return name
    before = [t for t in seen.told if t.kind == "thing" and t.end <= thing.start]
    before += [Told("thing", "", h.start, h.end, 0.5) for h in seen.utterance.hits if h.kind in NAMED and h.end <= thing.start]
    named = [(t.start, n) for t in before if (n := _name(seen, t)) and n.lower() not in table("learned")["pronouns"]]
    return max(named)[1] if named else None


def _due(seen: Seen, plan: Told) -> str | None:
    for when in seen.utterance.dates:
        if plan.start <= when.start and when.end <= plan.end and when.kind in ("day", "weekend") and when.day >= seen.utterance.at.date():
            return when.day.isoformat()
    return None


def _fault(seen: Seen, one: Told) -> Draft:
    hits = [h for h in seen.utterance.hits if one.start <= h.start and h.end <= one.end]
    known = [h for h in hits if h.kind == "component"]
    things = _things(seen, one)
    fields: dict[str, Any] = {
        "what": _words(seen, one.start, one.end),
        "component": known[0].name if known else _name(seen, things[0]) if things else None,
        "where": None, "safety": any(h.data.get("safety") for h in known), "cause": None,
        "symptom": next((h.data.get("class") for h in hits if h.kind == "symptom"), None),
    }  # fmt: skip
    return Draft("faults", fields, one.start, one.end, one.sure, None, "found")


# ---- the end of faults, and their return ----------------------------------------------------------------------------------------------


def _grounds(features: Features) -> bool:
    """True where the note names the fault, works on its part, or speaks of it just before it tells of an end."""
    least = table("learned")["grounds"]
    return any(features.get(name, 0.0) >= least[name] for name in least)


@dataclass(slots=True)
class Threads:
    """The faults of a note as drafted, and what in it may put an end to each."""

    seen: Seen
    context: Context
    drafts: list[Draft]
    of_rules: list[Draft] = field(default_factory=list)
    hints: list[Told] | None = None
    still_open: list[dict[str, Any]] | None = None

    def standing(self) -> list[dict[str, Any]]:
        """The faults open before or within the note, without the ends that the rules drafted; ids of the note are "#n"."""
        if self.still_open is None:
            self.still_open = self._standing()
        return self.still_open

    def _standing(self) -> list[dict[str, Any]]:
        found = [dict(f) for f in self.context.faults if threads.is_open(f)]
        for i, d in enumerate(self.drafts):
            if d.kind == "faults" and d.event not in ENDS:
                if d.thread and not any(f["id"] == d.thread for f in found):
                    found += [dict(f) for f in self.context.faults if f["id"] == d.thread]
                found = threads.apply(found, d, "here", self.context.now.isoformat(), f"#{i}")
        return [f for f in found if threads.is_open(f)]

    def closed(self, judge: Judge) -> list[Draft]:
        """The drafts, the ends of faults judged anew; where the rules leave it to the speaker which is meant, they stay as they are."""
        if any(d.kind == "faults" and d.fields.get("candidates") for d in self.drafts):
            return self.drafts
        places = [i for i, d in enumerate(self.drafts) if not (d.kind == "faults" and d.event in ENDS and d.thread)]
        place = {i: k for k, i in enumerate(places)}
        found = keep(self.drafts, places)
        for sure, fault in self._over(judge):
            rule = next((d for d in self.drafts if d.kind == "faults" and d.event in ENDS and d.thread == fault["id"]), None)
            span = max((t for t in self.seen.told if t.kind == "closed"), key=lambda t: self._fit(t, fault) + t.sure, default=None)
            start, end = (rule.start, rule.end) if rule else (span.start, span.end) if span else (0, len(self.seen.utterance.text))
            id = str(fault["id"])
            ruled = self.seen.turn(id, "ruled") > self.seen.turn(id, "closed") if id in self.seen.turns else bool(span and span.detail == "ruled")
            event = rule.event if rule else "ruled_out" if ruled else "fixed"
            found.append(Draft("faults", {}, start, end, sure, f"#{place[int(id[1:])]}" if id.startswith("#") else id, event))
        return found

    def shut(self) -> list[dict[str, Any]]:
        """The latest faults that were closed before this note, and that nothing in it is drafted to bring back."""
        told = {d.thread for d in self.drafts if d.kind == "faults" and d.event not in ENDS}
        closed = sorted((f for f in self.context.faults if not threads.is_open(f)), key=lambda f: str(f.get("closed_at") or ""))
        return [f for f in closed[-REACH:] if f["id"] not in told]

    def returned(self, judge: Judge) -> list[Draft]:
        """The drafts, with those closed faults that the note brings back though no rule said so."""
        spans = [t for t in self.seen.told if t.kind in ("back", "fault", "same")]
        asked = any(d.kind == "faults" and d.fields.get("candidates") for d in self.drafts)  # the rules leave it to the speaker
        if asked or not self.may_return() or not spans:
            return self.drafts
        likely = [(judge.likely("returns", self.of_return(f)), str(f["id"]), f) for f in self.shut()]
        likely = [x for x in likely if x[0] >= judge.cut("returns")]
        if not likely:
            return self.drafts
        sure, id, fault = max(likely, key=lambda x: x[:2])
        span = max(spans, key=lambda t: (t.kind == "back") + self._fit(t, fault))
        kept = [d for d in self.drafts if not (d.kind == "faults" and d.thread == id)]
        if len(kept) != len(self.drafts):
            return self.drafts
        return [*kept, Draft("faults", {}, span.start, span.end, sure, id, "back")]

    def put_off(self) -> list[Draft]:
        """The drafts, with the open faults that the note lets wait though no rule said so."""
        told = {d.thread for d in self.drafts if d.kind == "faults"}
        found = []
        for fault in self.context.faults:
            sure = self.seen.turn(str(fault["id"]), "wait")
            if threads.is_open(fault) and fault["id"] not in told and fault.get("state") != "waiting" and sure >= table("learned")["waits"]:
                span = max((t for t in self.seen.told if t.kind == "wait"), key=lambda t: self._fit(t, fault) + t.sure, default=None)
                start, end = (span.start, span.end) if span else (0, len(self.seen.utterance.text))
                found.append(Draft("faults", {}, start, end, sure, str(fault["id"]), "waiting"))
        return [*self.drafts, *found]

    def may_return(self) -> bool:
        """Whether the network sees anything come back at all."""
        return any(t.kind == "back" for t in self.seen.told) or any(self.seen.turn(str(f["id"]), "back") >= HINT for f in self.shut())

    def of_return(self, fault: dict[str, Any]) -> Features:
        """What speaks for and against the return of a closed fault in this note."""
        found: Features = {}
        for kind in ("back", "fault", "same", "closed"):
            mine = [t for t in self.seen.told if t.kind == kind]
            found[kind] = max((t.sure for t in mine), default=0.0)
            found[f"{kind} of it"] = max((t.sure * self._fit(t, fault) for t in mine), default=0.0)
        shut = [str(f.get("closed_at") or "") for f in self.context.faults if not threads.is_open(f)]
        found["turn back"] = self.seen.turn(str(fault["id"]), "back")
        found["odds back"] = _odds(found["turn back"])
        found["latest"] = float(str(fault.get("closed_at") or "") == max(shut))
        found["alone"] = float(len(shut) == 1)
        found["back * latest"] = found["back"] * found["latest"]
        found["rule back"] = float(any(d.kind == "faults" and d.thread == fault["id"] and d.event == "back" for d in self.of_rules))
        found["rule other"] = float(any(d.kind == "faults" and d.event == "back" and d.thread != fault["id"] for d in self.of_rules))
        return found

    def _over(self, judge: Judge) -> list[tuple[float, dict[str, Any]]]:
        """The faults that the note puts an end to, with how surely: those with grounds of their own; where there is none such,
        the likeliest alone, for one "fixed" does not end all that is wrong."""
        judged = [(judge.likely("ends", f), fault, f) for fault in self.standing() for f in [self.features(fault)]]
        plain = table("learned")["plain"]
        likely = [
            (sure, fault, f) for sure, fault, f in judged
            if sure >= judge.cut("ends") or (f.get("rule sure", 0.0) >= plain["sure"] and sure >= plain["likely"])
        ]  # fmt: skip
        grounded = [x for x in likely if _grounds(x[2])]
        spoken_of = any(f.get("hint next", 0.0) > 0 for _, _, f in judged)  # what sounds like an end follows talk of another fault
        alone = [] if grounded or spoken_of or not likely else [max(likely, key=lambda x: x[0])]
        return [(sure, fault) for sure, fault, _ in grounded or alone]

    def _hints(self) -> list[Told]:
        """Stretches where an end is at least hinted at: every run of words with some likelihood of it; `detail_sure` is its peak."""
        if self.hints is None:
            names = labels("trouble")
            mass = self.seen.likely["trouble"][:, [names.index("B-closed"), names.index("I-closed")]].sum(axis=1)
            self.hints, k = [], 0
            while k < len(mass):
                j = k
                while j < len(mass) and mass[j] >= HINT:
                    j += 1
                if j > k:
                    self.hints.append(Told("closed", "", self.seen.spans[k][0], self.seen.spans[j - 1][1], float(mass[k:j].mean()), float(mass[k:j].max())))
                k = j + 1
        return self.hints

    def _fit(self, one: Told, fault: dict[str, Any]) -> float:
        spoken = threads.mention(self.seen.utterance.text[one.start : one.end])
        return min(1.0, threads.score(spoken, fault, self.context.now)[0] / 2.5)

    def _last_before(self, at: int) -> str | None:
        steps = [(d.start, d.thread or f"#{i}") for i, d in enumerate(self.drafts) if d.kind == "faults" and d.start < at and d.event not in ENDS]
        return max(steps)[1] if steps else None

    def features(self, fault: dict[str, Any]) -> Features:
        """What speaks for and against the end of a fault in this note."""
        here = str(fault["id"]).startswith("#")
        opened_at = self.drafts[int(str(fault["id"])[1:])].end if here else 0
        closing = [t for t in self.seen.told if t.kind == "closed" and t.start >= opened_at - 1]
        standing = self.standing()
        hints = [h for h in self._hints() if h.start >= opened_at - 1]
        others = [f for f in standing if f["id"] != fault["id"]]
        best = max(hints, key=lambda t: t.sure * (0.2 + self._fit(t, fault)), default=None)
        rival = max((self._fit(best, f) for f in others), default=0.0) if best else 0.0
        found: Features = {
            "said": max((t.sure for t in closing), default=0.0),
            "said of it": max((t.sure * self._fit(t, fault) for t in closing), default=0.0),
            "said next": max((t.sure for t in closing if self._last_before(t.start) == fault["id"]), default=0.0),
            "share": max((t.detail_sure for t in hints), default=0.0),
            "hint": best.sure if best else 0.0,
            "hint of it": best.sure * self._fit(best, fault) if best else 0.0,
            "hint of another": best.sure * rival if best else 0.0,
            "hint fits best": best.sure if best and self._fit(best, fault) > max(rival, UNLIKE) else 0.0,
            "hint next": max((t.sure for t in hints if self._last_before(t.start) == fault["id"]), default=0.0),
            "several": float(len(closing) > 1),
            "open": math.log1p(len(standing)), "alone": float(len(standing) == 1), "here": float(here),
        }  # fmt: skip
        for turn, which in (("ended", ("closed", "ruled")), ("same", ("same",)), ("wait", ("wait",)), ("none", ("none",))):
            found[f"turn {turn}"] = self.seen.turn(str(fault["id"]), *which)
        if here:
            opening = self.drafts[int(str(fault["id"])[1:])]
            found["fate ended"] = self.seen.of_choice("fate", "ended", opening.start, opening.end)
        found["odds ended"] = _odds(found.get("fate ended", found["turn ended"]))
        found["turn of another"] = max((self.seen.turn(str(f["id"]), "closed", "ruled") for f in others), default=0.0)
        troubled = [t for t in self.seen.told if t.kind in ("same", "fault", "back") and t.start >= opened_at and self._fit(t, fault) > 0.3]
        if best and troubled:
            found["trouble after"] = best.sure * float(max(t.start for t in troubled) > best.start)
        for kind in ("same", "wait", "back", "fault"):
            found[f"{kind} of it"] = max((t.sure * self._fit(t, fault) for t in self.seen.told if t.kind == kind and t.start >= opened_at), default=0.0)
        mine = threads.of_record(fault)
        cures = set(table("learned")["cures"])
        for d in self.drafts:
            if d.kind in ("work", "parts", "torques") and d.start >= opened_at - 1:
                name = str(d.fields.get("component") or d.fields.get("name") or d.fields.get("fastener"))
                near = threads.related(threads.mention(name), mine)
                done = d.fields.get("action") in cures or d.fields.get("state") == "fitted" or d.fields.get("role") == "applied"
                key = "cured" if done else "touched" if d.kind == "work" else "supplied"
                found[key] = max(found.get(key, 0.0), near)
                if done and near >= 0.5:
                    found["cured alone"] = float(not any(threads.related(threads.mention(name), threads.of_record(f)) >= near for f in others))
        awaited = [p for p in self.context.parts if p.get("state") in AWAITED]
        names = [threads.mention(str(p["name"])) for p in awaited if threads.related(threads.mention(str(p["name"])), mine) >= 0.5]
        fitted = [threads.mention(str(d.fields["name"])) for d in self.drafts if d.kind == "parts" and d.fields["state"] == "fitted"]
        found["awaited"] = float(any(threads.related(a, b) >= 0.5 for a in names for b in fitted))
        steps = [d for d in self.of_rules if d.kind == "faults" and d.thread == fault["id"]]
        if here:
            opening = self.drafts[int(str(fault["id"])[1:])]
            places = [i for i, d in enumerate(self.of_rules) if d.kind == "faults" and d.thread is None and d.start == opening.start and d.end == opening.end]
            steps = [d for d in self.of_rules if d.kind == "faults" and places and d.thread == f"#{places[0]}"]
        for d in steps:
            found[f"rule {d.event}"] = max(found.get(f"rule {d.event}", 0.0), 1.0)
            if d.event in ENDS:
                found["rule sure"] = d.confidence
        found["rule other"] = float(any(d.kind == "faults" and d.event in ENDS and d not in steps for d in self.of_rules))
        last = max((str(f.get("opened_at") or "") for f in standing), default="")
        found["latest"] = float(str(fault.get("opened_at") or "") == last)
        found["waiting"] = float(fault.get("state") == "waiting")
        found["suspected"] = float(fault.get("state") == "suspected")
        found["hint * cured"] = found["hint"] * found.get("cured", 0.0)
        found["hint * alone"] = found["hint"] * found["alone"]
        found["hint * awaited"] = found["hint"] * found["awaited"]
        found["nothing"] = float(not hints and not steps and not found.get("cured"))
        found["said * latest"] = found["said"] * found["latest"]
        found["said * alone"] = found["said"] * found["alone"]
        found["said * cured"] = found["said"] * found.get("cured", 0.0)
        found["share * cured"] = found["share"] * found.get("cured", 0.0)
        return found
