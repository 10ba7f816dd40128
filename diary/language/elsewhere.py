"""Whether a clause is about no machine at all: the house, somebody's body, an animal, a meal, a pastime.

The words are in `data/lexicon/elsewhere.toml`. A word of them somewhere in a clause says little ("the dog chewed the
sensor wire"): what counts is whether the clause is about it, that is whether it is the subject, owns the part that is named
("the gate hinge", "a hook on the pantry door") or is what something is done to.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from diary.language import lexicon
from diary.language.syntax import Line, any_between, grammar, overlaps
from diary.language.text import stem
from diary.language.types import Hit

PARTS = ("component", "fastener", "consumable")
OWNING = ("house", "container", "room")  # what has parts of its own
PERSONAL = ("body", "creature", "mind", "clothing", "food", "pastime")
LASTING = ("house", "container", "room", "public", "media")  # what goes on as "it" in the next clause


class Clauses:
    """The clauses of one utterance, asked in order; `cuts` are the tokens at which they begin, `own` the stems of the words
    that this machine is called by."""

    def __init__(self, line: Line, cuts: Sequence[int], hits: list[Hit], own: frozenset[str]) -> None:
        self.line, self.cuts = line, [*cuts, len(line.words)]
        self.hits = [h for h in hits if h.kind in ("elsewhere", *PARTS, "symptom", "machine")]
        self.at = [line.at(h.start) for h in self.hits]
        self.things = [h for h in hits if h.kind in (*PARTS, "tool", "machine", "meter")]
        self.lived_in = bool(own & _stems("dwelling")) or any(
            h.kind == "machine" and stem(h.name) in _stems("dwelling") for h in self.hits
        )
        self.own = own
        self.last: list[Hit] = []  # what the clause before was about, empty where it was about a machine
        self.fixtures: set[str] = set()  # parts of the house named so far

    def about(self, k: int, new_sentence: bool, suspected: bool) -> bool:
        """True where clause k is about no machine, or about one that only passes by; ask of each clause in turn.

        `suspected` says that the clause only guesses ("must be the plug"), which goes on with what was spoken of.
        """
        first, end = self.cuts[k], self.cuts[k + 1]
        inside = self.hits[bisect_left(self.at, first) : bisect_left(self.at, end)]
        mine = any(h.kind == "machine" and self._before(h, 1) & grammar("my") for h in inside)
        named = [h for h in inside if h.kind == "elsewhere" and not mine and self._counts(h, inside)]
        parts = [h for h in inside if h.kind in PARTS and not overlaps(h, self.line.measured)]
        parts = [p for p in parts if not any(_overlap(p, n) for n in named) and "like" not in self._before(p, 2)]
        found = [n for n in named if self._is_about(n, parts, inside, first, end, suspected)]
        if not found and self.last and not named:
            goes_on = self._goes_on(parts, inside, first, end, new_sentence, suspected)
            self.last = self.last if goes_on else []
            return goes_on
        self.last = found
        if found:
            self.fixtures |= {p.name for p in parts}
        return bool(found)

    def _before(self, hit: Hit, many: int) -> set[str]:
        """So many words right before a hit."""
        at = self.line.at(hit.start)
        return set(self.line.low[max(0, at - many) : at])

    def _counts(self, hit: Hit, inside: list[Hit]) -> bool:
        """False for a word that may be a part and for a machine that the diary is about."""
        kind, first = hit.data["class"], self.line.at(hit.start)
        last = self.line.at(hit.end)
        if any(h.start <= hit.start and hit.end <= h.end and h.end - h.start > hit.end - hit.start for h in self.things):
            return False  # "bull bar"
        if self.own & {stem(w) for w in self.line.low[first:last]} or (kind == "room" and self.lived_in):
            return False
        if not kind.startswith("ambiguous"):
            return True
        if last < len(self.line.words) and not self.line.apart(last):
            if not (self.line.verb[last] or self.line.trouble[last] or self.line.low[last] in _after_noun()):
                return False  # "nose weight", "my back left"
        others = [h for h in inside if h.kind == "elsewhere"]
        owned = first > 0 and self.line.low[first - 1] in grammar("bodily_owner")
        return owned or any(h.data["class"] in PERSONAL for h in (*others, *self.last))

    def _is_about(self, it: Hit, parts: list[Hit], inside: list[Hit], first: int, end: int, suspected: bool) -> bool:
        kind = it.data["class"].removeprefix("ambiguous_")
        at, last = self.line.at(it.start), self.line.at(it.end)
        if "like" in self._before(it, 2):
            return False  # "squeals like a pig"
        own = [p for p in parts if not self._belongs(p, it, kind)]
        if kind == "room":
            return not own and (bool(parts) or any(stem(w) in _stems("fixture") for w in self.line.low[first:at]))
        lead = self.line.low[first:at]
        subject = not any(self.line.verb[i] and self.line.head[i] < 0 for i in range(first, at)) and not (
            set(lead) & grammar("preposition")
        )
        if own:
            if not subject or kind == "media":
                return subject  # "the magazine put twenty grand into that engine"
            after = set(self.line.low[last:end])
            machine = kind in ("house", "container", "public")
            if machine and suspected and not after & grammar("my"):
                return True  # "the hedge trimmer is dead, probably the plug"
            owning = machine and bool(after & grammar("coming_by"))
            return all(self._indefinite(p) for p in own) and (owning or kind == "pastime")
        troubles = [h for h in inside if h.kind == "symptom" and not _overlap(h, it)]
        if troubles and not parts and kind != "pastime":
            return any(self._said_of(h, it, subject) for h in troubles)
        before = [w for w in self.line.low[max(first, at - 3) : at] if w not in grammar("determiner")][-1:]
        passing = before and before[0] in grammar("on_the_way")
        counted = any_between(self.line.measured, self.line.starts[first], it.start - 2) or any_between(
            self.line.measured, it.end, self.line.words[end - 1].end
        )  # "sitting here with a sandwich, hours four thousand and three"; not "it has two hundred horses"
        return subject or not (kind in ("media", "body") or passing or counted)

    def _belongs(self, part: Hit, it: Hit, kind: str) -> bool:
        """True where the part is of the thing: "gate hinge", "coffee filter", "the hinge on the gate"."""
        at, last = self.line.at(it.start), self.line.at(it.end)
        begins, ends = self.line.at(part.start), self.line.at(part.end)
        if part.name in self.fixtures or (kind == "room" and self._fixture(part)):
            return True
        if ends <= at:
            between = self.line.low[ends:at]
            if all(self._unknown(i) for i in range(ends, at)) and not self.line.apart(at):
                return True  # "filter coffee"
            if kind not in ("house", "room", "container"):
                return False
            loose = kind == "room" or (kind == "container" and "in" in between)
            if loose and not self._fixture(part):
                return False  # "left the starter in the kitchen", "warmed the bearing in the oven"
            tied = [w for w in between if w not in grammar("determiner")]
            return bool(tied) and (tied[0] in grammar("part_of") if not loose else bool(set(tied) & grammar("part_of")))
        between = self.line.low[last:begins]
        if kind not in OWNING:
            return False
        joined = not self.line.apart(begins)
        return joined and all(self._heads(i) or self._unknown(i) for i in range(last, begins))  # "the bathroom tap washer"

    def _fixture(self, part: Hit) -> bool:
        """True for a part that a house has too, by its name or the word it was called."""
        return part.name in grammar("fixture") or stem(self.line.low[self.line.at(part.end) - 1]) in _stems("fixture")

    def _heads(self, i: int) -> bool:
        return self.line.noun[i] or stem(self.line.low[i]) in lexicon.load().heads

    def _unknown(self, i: int) -> bool:
        word = self.line.low[i]
        return not self.line.verb[i] and not any(
            word in grammar(c) for c in ("preposition", "coordinator", "determiner", "subject_any", "adverb")
        )

    def _indefinite(self, part: Hit) -> bool:
        return not self._before(part, 2) & (grammar("determiner") - {"a", "an", "some", "another", "no", "any"})

    def _said_of(self, trouble: Hit, it: Hit, subject: bool) -> bool:
        """True where the trouble is the animal's own: "the dog is worn out", "hoots from the owl"; not "the dog hates
        the squeal"."""
        begins, ends = self.line.at(trouble.start), self.line.at(trouble.end)
        at, last = self.line.at(it.start), self.line.at(it.end)
        if ends <= at:
            between = self.line.low[ends:at]
            return bool(between) and between[0] in grammar("comes_from") and len(between) <= 3
        between = self.line.low[last:begins]
        if not between and it.data["class"].endswith("body"):
            return True  # "this cold has my nose leaking"
        if set(between) & (grammar("sounding") if it.data["class"] == "creature" else grammar("coming_by")):
            return subject  # "the ambulance had a slow puncture"
        return subject and not set(between) & grammar("determiner")

    def _goes_on(self, parts: list[Hit], inside: list[Hit], first: int, end: int, new_sentence: bool, suspected: bool) -> bool:
        """True where a clause that names nothing else still speaks of it ("the gate hinge squeaks | oiled it")."""
        low = self.line.low[first:end]
        kinds = {h.data["class"] for h in self.last}
        deed = next((i for i in range(first, end - 1) if self.line.deed[i]), None)
        if deed is not None and deed <= first + 2 and self.line.low[deed + 1] in grammar("object_pronoun"):
            return bool(kinds & set(LASTING)) or bool(set(low) & grammar("them"))  # "so i topped it up"
        if parts:
            guess = suspected and not new_sentence and bool(kinds & set(LASTING)) and not set(low) & grammar("my")
            return guess or all(p.name in self.fixtures for p in parts)
        if any(h.kind == "machine" for h in inside) or set(low) & grammar("my"):
            return False
        if new_sentence and not self.line.deed[first]:
            return False
        several = bool(set(low) & grammar("them"))
        return several or (bool(kinds & set(LASTING)) and bool(set(low) & grammar("object_pronoun")))


def _after_noun() -> frozenset[str]:
    return grammar("adverb") | grammar("preposition") | grammar("coordinator") | grammar("subordinator")


def _overlap(a: Hit, b: Hit) -> bool:
    return a.start < b.end and b.start < a.end


def _stems(name: str) -> frozenset[str]:
    return frozenset(stem(w) for w in grammar(name))
