"""The parts that a clause speaks of, named in full as they were said, known to the lexicon or not."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

from diary.language import lexicon
from diary.language.syntax import THINGS, Line, grammar, make_line, nominal, overlaps
from diary.language.text import stem
from diary.language.types import Clause, Hit, Utterance

_NOT_PARTS = ("tool", "machine", "meter", "place_of", "person")
_WANTING = ("needed", "ordered", "bought")


def components(utterance: Utterance, clause: Clause) -> list[Hit]:
    """The parts of a clause, in order.

    `name` is the phrase without determiners, counts and leading places (a place inside the name stays: "transfer case
    front output seal"); `data` has `where` (the place words, "" if none), `head` (the last word's stem), `entry` (the
    lexicon's name of the part that the phrase ends in, or None), `known` (False where only the grammar says that it
    is a part), `system`, `safety`, `class`.
    """
    found = _Finder(_sight(utterance), clause).run()
    found.sort(key=lambda hit: hit.start)
    return found


@dataclass(slots=True)
class _Sight:
    """What finding names needs of an utterance, made once for all its clauses."""

    utterance: Utterance
    counts: tuple[int, int]
    line: Line
    hits: list[Hit]
    hit_starts: list[int]
    quiet: set[int]  # tokens of things that are no parts, and of numbers with their units


_LAST: list[_Sight] = []  # one is enough: readers ask for the clauses of one utterance after another


def _sight(utterance: Utterance) -> _Sight:
    counts = (len(utterance.hits), len(utterance.tokens))
    if _LAST and _LAST[0].utterance is utterance and _LAST[0].counts == counts:
        return _LAST[0]
    line = make_line(utterance)
    said = {i for h in utterance.hits if h.kind == "healthy" for i in range(line.at(h.start) + 1, line.at(h.end))}
    hits = [
        h
        for h in utterance.hits
        if h.kind not in THINGS or not (overlaps(h, line.measured) or line.at(h.start) in said)  # "like a *clock*"
    ]
    quiet = {i for h in hits if h.kind in _NOT_PARTS for i in range(line.at(h.start), line.at(h.end))}
    sayings = [h for h in hits if h.kind == "cue" and h.name.count(" ") >= 2]  # "off the hook", "on the list"
    quiet |= {i for h in sayings for i in range(line.at(h.start), line.at(h.end)) if line.head[i] < 0}
    quiet |= {i for a, b in line.measured for i in range(line.at(a), line.at(b))}
    _LAST[:] = [_Sight(utterance, counts, line, hits, [h.start for h in hits], quiet)]
    return _LAST[0]


class _Finder:
    """Finds the names in one clause."""

    def __init__(self, sight: _Sight, clause: Clause) -> None:
        self.line, self.quiet = sight.line, sight.quiet
        self.begin, self.end = self.line.at(clause.start), self.line.at(clause.end)
        inside = sight.hits[bisect_left(sight.hit_starts, clause.start) : bisect_left(sight.hit_starts, clause.end)]
        inside = [h for h in inside if h.end <= clause.end]
        self.things = [h for h in inside if h.kind in THINGS]
        self.marks = [
            h for h in inside if h.kind in ("action", "symptom") or (h.kind == "cue" and h.data["class"] in _WANTING)
        ]
        self.liquid = {self.line.at(h.start) for h in self.things if h.kind == "consumable"}
        self.used: set[int] = set()

    def run(self) -> list[Hit]:
        found = []
        for hit in self.things:
            first, last = self.line.at(hit.start), self.line.at(hit.end) - 1
            if first in self.used:
                continue
            last = self._right(last, wet=hit.kind == "consumable")
            first = self._left(first)
            self.used.update(range(first, last + 1))
            found.append(self._named(first, last))
        return found + self._unknown()

    # ---- how far a name reaches ----

    def _right(self, last: int, wet: bool) -> int:
        """The last word of the name: head nouns that follow belong to it ("fridge plug | fuse holder", "radiator |
        screen")."""
        line, heads = self.line, lexicon.load().heads
        while (
            last + 1 < self.end
            and last + 1 not in self.quiet
            and not line.apart(last + 1)
            and not line.number[last + 1]
        ):
            is_head = stem(line.low[last + 1]) in heads
            if line.head[last + 1] >= 0:
                if last + 1 in self.liquid or (wet and not is_head):
                    break  # "threadlocker | front pads": something else
            elif not is_head or line.verb[last + 1] not in ("", "base"):
                break
            last += 1
        return last

    def _left(self, first: int) -> int:
        """The first word of the name: nouns, places and qualities before it belong to it, back to a determiner, a
        verb or a preposition."""
        line = self.line
        while (
            first > self.begin and first - 1 not in self.used and first - 1 not in self.quiet and not line.apart(first)
        ):
            at, word = first - 1, line.low[first - 1]
            if line.trouble[at] and line.head[at] < 0:
                break  # "dead transfer pump": what is wrong is no part of the name
            if line.place[first] and line.head[first] < 0 and not line.place[at] and word not in grammar("adjective"):
                break  # "that was the heat | left wheel bearing"
            named = line.place[at] or line.head[at] >= 0
            described = word not in grammar("passing") and not line.number[at]
            if not named and not (described and (word in grammar("adjective") or self._noun(at))):
                break
            first -= 1
        return first

    def _noun(self, i: int) -> bool:
        """True for a noun that no entry names and that is no measure, day or manner."""
        word = self.line.low[i]
        manner = word in grammar("not_head") or word in grammar("quantifier") or word.endswith("ly")
        return nominal(self.line, i) and not self.line.verb[i] and not manner

    def _named(self, first: int, last: int) -> Hit:
        line = self.line
        where: list[str] = []
        at = first
        while at < last and line.head[at] < 0:
            word = line.low[at]
            if line.place[at]:
                if word not in grammar("place_filler"):
                    where.append(word)
            elif (
                word not in grammar("quantifier")
                and word not in grammar("determiner")
                and word not in grammar("renewed")
            ):
                break
            at += 1
        start, end = line.words[at].start, line.words[last].end
        inside = [h for h in self.things if h.start >= start and h.end <= end]
        longest = max(inside, key=lambda h: (h.end - h.start, h.end), default=None)
        final = next((h for h in reversed(inside) if h.end == end), longest)
        spoken = line.low[at : last + 1]
        if spoken[-1].endswith("'s"):
            spoken = [*spoken[:-1], spoken[-1][:-2]]  # "the motor's burnt"
        data = {
            "where": " ".join(where),
            "head": stem(line.low[last]),
            "entry": final.name if final else None,
            "system": next((h.data["system"] for h in (final, longest) if h and h.data.get("system")), None),
            "safety": any(bool(h.data.get("safety")) for h in inside),
            "known": bool(inside),
            "class": final.data.get("class") if final else None,
        }
        return Hit(final.kind if final else "component", " ".join(spoken), line.words[first].start, end, data)

    # ---- parts that no entry names ----

    def _unknown(self) -> list[Hit]:
        """Noun phrases that the grammar says are parts: they end in a head noun, or something is done to them, wrong
        with them or wanted of them ("the frobnicator is leaking", "replaced the doohickey", "need a widget")."""
        line, found = self.line, []
        busy = {i for h in self.marks for i in range(line.at(h.start), line.at(h.end))}
        taken = busy | self.used | {i for i in range(self.begin, self.end) if i in self.quiet}
        i = self.begin
        while i < self.end:
            if i in taken or len(line.low[i]) < 3 or not self._noun(i):
                i += 1
                continue
            last = i
            while last + 1 < self.end and last + 1 not in taken and self._noun(last + 1) and not line.apart(last + 1):
                last += 1
            first = self._left(i)
            i = last + 1
            if line.low[last] in grammar("adjective") or line.place[last] or line.trouble[last]:
                continue
            before = line.low[first - 1] if first > self.begin else ""
            determined = any(before in grammar(name) for name in ("determiner", "quantifier", "renewed"))
            if stem(line.low[last]) in lexicon.load().heads or (determined and self._spoken_of(first, last)):
                found.append(self._named(first, last))
        return found

    def _spoken_of(self, first: int, last: int) -> bool:
        """True where an action or a want stands right before the phrase, or a symptom right after it."""
        line = self.line
        small = ("determiner", "adjective", "quantifier")
        for hit in self.marks:
            if line.at(hit.start) > last:
                between = line.low[last + 1 : line.at(hit.start)]
                linked = any(w in grammar("be") or w in grammar("auxiliary") for w in between)
                follows = not between and hit.data.get("tense") in ("s", "past", "ing")
                if hit.kind == "symptom" and not hit.data.get("noun") and (follows or (linked and len(between) <= 3)):
                    return True
            elif line.at(hit.end) <= first and (hit.kind != "symptom" or hit.data.get("noun")):
                between = line.low[line.at(hit.end) : first]
                if len(between) <= 2 and all(any(w in grammar(name) for name in small) for w in between):
                    return True
        return False
