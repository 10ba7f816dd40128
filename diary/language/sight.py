"""What the trained reader is shown of a note: its words, marks on every word, and the faults whose turn is asked.

The marks say, word by word, what the lexicon, the clause splitter, the readers of numbers and the readers of rules make of it, and
what the diary knows of the thing named.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, replace

from diary.language import threads
from diary.language.types import Clause, Context, Draft, Hit, Utterance

WORD = re.compile(r"\w+(?:[.,:/'’\-]\w+)*|[^\w\s]")
REACH = 40  # records before a note that its words are held against
NEAR = 0.6  # of `threads.related`
AWAITED = ("needed", "ordered", "bought")
FLAGS = ("negated", "hypothetical", "suspected", "planned", "past", "question", "other_machine", "quoted", "retracted")  # of a Clause
MARKS = ("thing", "cue", "clause", "draft", "known")
OPEN_ASKED, SHUT_ASKED = 10, 4  # the latest faults whose turn is asked
SAID = 12  # words of a fault that are shown


@dataclass(frozen=True, slots=True)
class Asked:
    """A fault that was known before the note: what becomes of it here?"""

    id: str
    state: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sight:
    """A note as the network is shown it. `marks` holds for every word one of each of MARKS."""

    spans: list[tuple[int, int]]
    words: list[str]
    marks: list[tuple[str, ...]]
    faults: list[Asked]


def sight(utterance: Utterance, drafts: Iterable[Draft] = (), context: Context | None = None) -> Sight:
    """The utterance with its marks, what the rules drafted of it and what the diary knows of the things named."""
    spans = words_of(utterance.text)
    things, cues, clause = marks(utterance, spans)
    every: list[tuple[str, ...]] = list(zip(things, cues, clause, drafted(spans, drafts), known(utterance, spans, context), strict=True))
    return Sight(spans, [utterance.text[a:b] for a, b in spans], every, asked(context) if context else [])


def asked(context: Context) -> list[Asked]:
    """The faults whose turn is asked, the latest first, the open ones before those that are closed."""
    latest = sorted(context.faults, key=lambda f: str(f.get("opened_at") or ""), reverse=True)
    shut = sorted((f for f in latest if not threads.is_open(f)), key=lambda f: str(f.get("closed_at") or ""), reverse=True)
    found = []
    for place, fault in enumerate([f for f in latest if threads.is_open(f)][:OPEN_ASKED]):
        found.append(Asked(str(fault["id"]), f"{fault.get('state')}{' latest' if place == 0 else ''}", said_of(fault)))
    for place, fault in enumerate(shut[:SHUT_ASKED]):
        found.append(Asked(str(fault["id"]), f"shut{' latest' if place == 0 else ''}", said_of(fault)))
    return found


def said_of(fault: dict[str, object]) -> tuple[str, ...]:
    """A fault's words: its component, and what is wrong."""
    component, what = str(fault.get("component") or ""), str(fault.get("what") or "")
    whole = what if component.lower() in what.lower() else f"{component}: {what}"
    return tuple(whole.lower().split()[:SAID])


def words_of(text: str) -> list[tuple[int, int]]:
    """Start and end of every word and punctuation mark."""
    return [m.span() for m in WORD.finditer(text)]


def inside(spans: list[tuple[int, int]], start: int, end: int) -> range:
    """The words that lie wholly between two characters."""
    first = bisect_left(spans, (start, 0))
    last = bisect_left(spans, (end, 0))
    return range(first, last - 1 if last > first and spans[last - 1][1] > end else last)


def touching(spans: list[tuple[int, int]], start: int, end: int) -> range:
    """The words that lie between two characters, be it in part."""
    first = bisect_left(spans, (start, 0))
    return range(first - 1 if first and spans[first - 1][1] > start else first, bisect_left(spans, (end, 0)))


def marks(utterance: Utterance, spans: list[tuple[int, int]]) -> tuple[list[str], list[str], list[str]]:
    """For every word: what thing or action it names, what cue it is part of, and in what kind of clause it stands."""
    things = _paint(spans, [(h.start, h.end, _thing(h)) for h in utterance.hits if h.kind not in ("cue", "person")])
    cues = _paint(spans, [(h.start, h.end, f"{h.kind}:{h.data.get('class', '')}") for h in utterance.hits if h.kind in ("cue", "person")])
    figures = _paint(
        spans,
        [(n.start, n.end, f"n:{n.kind}") for n in utterance.numbers]
        + [(q.start, q.end, f"q:{q.dimension}") for q in utterance.quantities]
        + [(d.start, d.end, "when") for d in utterance.dates],
    )
    clause = [""] * len(spans)
    for c in utterance.clauses:
        flags = _flags(c)
        for place, k in enumerate(inside(spans, c.start, c.end)):
            clause[k] = f"{'' if place else '^'}{flags}"
    return things, cues, [f"{a}|{b}" if a else b for a, b in zip(figures, clause, strict=True)]


def _thing(hit: Hit) -> str:
    if hit.kind == "action":
        return f"action:{hit.data.get('class')}:{hit.data.get('tense')}"
    if hit.kind == "symptom":
        return f"symptom:{hit.data.get('class')}:{hit.data.get('tense')}"
    if hit.kind == "component":
        return "component"
    return hit.kind


def _flags(c: Clause) -> str:
    return "".join(n[0] if n != "past" else "t" for n in FLAGS if getattr(c, n))


def _paint(spans: list[tuple[int, int]], marks: list[tuple[int, int, str]]) -> list[str]:
    """The mark of each word: of those that cover it, the longest, its first word told apart."""
    found = ["-"] * len(spans)
    length = [0] * len(spans)
    for start, end, mark in sorted(marks):
        for place, k in enumerate(inside(spans, start, end)):
            if end - start > length[k]:
                found[k], length[k] = f"{'b' if place == 0 else 'i'}-{mark}", end - start
    return found


def drafted(spans: list[tuple[int, int]], drafts: Iterable[Draft]) -> list[str]:
    """For every word: the kinds of record that the rules drafted from it."""
    found = [""] * len(spans)
    for draft in drafts:
        detail = draft.fields.get("action") or draft.fields.get("state") or draft.fields.get("role") or draft.event or ""
        for place, k in enumerate(touching(spans, draft.start, draft.end)):
            mark = f"{draft.kind}.{detail}" if draft.kind in ("parts", "faults") else draft.kind
            if mark not in found[k]:
                found[k] += f"{'b' if place == 0 else 'i'}-{mark} "
    return found


def known(utterance: Utterance, spans: list[tuple[int, int]], context: Context | None) -> list[str]:
    """For every word: whether the thing it names has an open fault, one that was closed, or is a part waited for."""
    if context is None:
        return [""] * len(spans)
    records = [("open" if threads.is_open(f) else "shut", threads.of_record(f, head=True)) for f in context.faults[-REACH:]]
    records += [("awaited", threads.mention(str(p.get("name")))) for p in context.parts[-REACH:] if p.get("state") in AWAITED]
    found = [""] * len(spans)
    for hit in utterance.hits:
        if hit.kind not in ("component", "fastener", "consumable", "symptom"):
            continue
        said_here = utterance.text[hit.start : hit.end]
        spoken = threads.of_hits([replace(hit, start=0, end=len(said_here))], said_here)
        if hit.kind == "symptom":
            said = sorted({f"{state}-sign" for state, m in records if spoken.symptoms & m.symptoms or spoken.signs & m.signs})
        else:
            said = sorted({state for state, m in records if threads.related(spoken, m) >= NEAR})
        for k in inside(spans, hit.start, hit.end) if said else ():
            found[k] = found[k] or " ".join(said)
    return found
