"""Checks told by what they showed: "bulb good", "the alternator's fine", "pads 2 mm with the wheel off".

A look that is told by its verb alone is read with the other deeds; here the result is the only sign of it.
"""

from __future__ import annotations

from diary.language.readers.deeds import Deed, Mood, _scoped, deeds
from diary.language.readers.outcomes import words
from diary.language.readers.phrases import Talk, Thing, group
from diary.language.text import stem


def looked(t: Talk) -> list[Deed]:
    """A deed of checking for each thing that is told to be right, or measured for wear."""
    if "looked" not in t.memo:
        t.memo["looked"] = [*_verdicts(t), *_worn(t), *_nothing_loose(t)]
    found: list[Deed] = t.memo["looked"]
    return found


def _verdicts(t: Talk) -> list[Deed]:
    """ "the fuse was fine", "bulb good", "stat is blameless", "the safety chains are fine"."""
    done = {stem(d.thing.words[-1]) for d in deeds(t) if d.mood.done and d.action not in ("removed", "checked")}
    found: list[Deed] = []
    for thing in t.things:
        if not thing.known or thing.other or thing.new or thing.article in ("a", "an", "no", "any"):
            continue
        if thing.kind_or_part not in ("component", "fastener") or stem(thing.words[-1]) in done:
            continue
        if thing.hit is not None and thing.hit.data.get("whole"):
            continue
        good = _told_good(t, thing)
        if good is None or _governed(t, thing):
            continue
        m = _scoped(t, good, Mood(start=thing.first, thing=thing))
        found.append(Deed("checked", "see", thing, thing.first, good, "light", m))
    return found


def _told_good(t: Talk, thing: Thing) -> int | None:
    """The word of the verdict that follows a thing; None where none does."""
    k = thing.last + 1
    contracted = t.words[thing.last].token.lower.endswith(("'s", "s"))
    helped = False
    while k < len(t.words) and t.gap(k) < 1 and t.fold(k) in words("verdict_between") and k - thing.last < 6:
        helped = helped or t.fold(k) in words("verdict_be")
        k += 1
    if k >= len(t.words) or t.gap(k) or t.fold(k) not in words("verdict"):
        return None
    cleared = t.fold(k) in words("cleared")
    ended = t.gap(k + 1) > 0
    opens = t.gap(thing.first) > 0 or thing.first == 0
    if not cleared and (t.fold(k - 1) == "still" or not (opens and ended)):
        return None  # in running talk "is fine" says as often that nobody looked
    return k if helped or contracted or (opens and ended) else None


def _governed(t: Talk, thing: Thing) -> bool:
    """True where the thing stands in a wish, a condition or a place: "until the belt is fine", "oil on the floor"."""
    k = thing.first - 1
    before = [t.fold(j) for j in range(k, max(-1, k - 3), -1) if not any(t.gap(x) for x in range(j + 1, thing.first + 1))]
    return bool(
        set(before[:2]) & (group("subordinate") | group("conditional") | {"hope", "make", "sure", "think", "reckon"})
        or (before and before[0] in group("beside"))
    )


def _worn(t: Talk) -> list[Deed]:
    """ "took the wheel off. pads 2 mm": what wears, measured while something was off for it."""
    off = [d for d in deeds(t) if d.mood.done and d.action == "removed"]
    looked_in = any(t.phrase(k, "for", "a", "look") for k in range(len(t.words)))
    if not off and not looked_in:
        return []
    for thing in t.things:
        if not thing.known or thing.other or thing.new or stem(thing.words[-1]) not in group("wears"):
            continue
        end = thing.last + 6
        near = any(
            q.dimension == "length" and thing.last < t.index(q.start) <= end and not _stopped(t, thing.last, t.index(q.start))
            for q in t.utterance.quantities
        )
        if near and not any(d.thing is thing for d in deeds(t)):
            m = _scoped(t, thing.last, Mood(start=thing.first, thing=thing))
            return [Deed("checked", "see", thing, thing.first, thing.last, "light", m)]
    return []


def _nothing_loose(t: Talk) -> list[Deed]:
    """ "no play in the bearing", "no cracks in the hoses"."""
    found: list[Deed] = []
    for k in range(len(t.words)):
        if t.fold(k) not in group("no_longer_loose") or not {t.fold(k - 1), t.fold(k - 2)} & {"no", "zero", "any"}:
            continue
        if "any" in (t.fold(k - 1), t.fold(k - 2)) and not {t.fold(x) for x in range(k - 6, k)} & group("negation"):
            continue
        j = k + 1
        while t.fold(j) in ("in", "on", "at", "or", "of", "any", "either", "to", "whatsoever") and not t.gap(j):
            j += 1
        thing = t.at.get(j)
        if j == k + 1 or thing is None or not thing.known or thing.other:
            continue
        m = _scoped(t, k, Mood(start=k, thing=thing))
        found.append(Deed("checked", "see", thing, k, thing.last, "light", m))
    return found


def _stopped(t: Talk, a: int, b: int) -> bool:
    return any(t.gap(x) == 2 for x in range(a + 1, b + 1))
