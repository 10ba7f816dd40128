"""The scope a clause stands in: denied, imagined, suspected, planned, past, asked, quoted, taken back, or about
another machine.

Most of it is said by cues (`data/cues.toml`); what a cue means depends on the words around it, and some scopes go on
over the clauses that follow. Closed classes of words are in `data/grammar.toml`.
"""

from __future__ import annotations

import itertools
import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from diary.language import elsewhere
from diary.language.syntax import HARD, Line, any_between, grammar
from diary.language.text import stem
from diary.language.types import Clause, Hit, Utterance

_KINDS = ("cue", "person", "machine", "component", "fastener")
_THINGS = ("machine", "component", "fastener")

LONG = 16  # words of a clause that is a run-on


class Scope:
    """Marks the clauses of one utterance; `cuts` are the tokens at which they begin.

    `others` are names of machines that are not this one, `machine` is this one's own name or description.
    """

    def __init__(
        self,
        utterance: Utterance,
        line: Line,
        clauses: list[Clause],
        cuts: list[int],
        others: Sequence[str] = (),
        machine: str = "",
    ) -> None:
        self.text = utterance.text
        self.numbers = [(line.at(n.start), n) for n in utterance.numbers]
        self.measures = {q.start for q in utterance.quantities}
        self.places = [i for i, _ in self.numbers]
        self.year = utterance.at.year
        self.hits = utterance.hits
        self.line, self.clauses, self.cuts = line, clauses, cuts
        self.others = [re.compile(rf"\b{re.escape(name.lower())}\b") for name in others if name]
        self.own = frozenset(stem(word) for word in machine.lower().split())
        retractions = [h.start for h in utterance.hits if h.kind == "cue" and h.data["class"] == "retraction"]
        # A value that corrects itself is one span ("seventy six no hang on that is the old one ninety five"); nothing
        # in it is scope.
        corrected = [s for s in line.measured if bisect_left(retractions, s[0]) < bisect_left(retractions, s[1])]
        hits = [h for h in utterance.hits if h.kind in _KINDS and not _inside(h, corrected)]
        starts = [h.start for h in hits]
        self.inside = [
            [h for h in hits[bisect_left(starts, c.start) : bisect_left(starts, c.end)] if h.end <= c.end]
            for c in clauses
        ]
        bounds = [*cuts, len(line.words)]
        self.low = [line.low[a:b] for a, b in itertools.pairwise(bounds)]
        self.verb = [line.verb[a:b] for a, b in itertools.pairwise(bounds)]

    def mark(self) -> None:
        """Set every flag of every clause."""
        for k, clause in enumerate(self.clauses):
            self._by_cues(k, clause)
        self._carry_plan()
        self._carry_hypothesis()
        self._retract()
        self._machines()
        self._long_ago()

    # ---- what the cues of a clause say ----

    def _by_cues(self, k: int, clause: Clause) -> None:
        classes = {h.data["class"] for h in self.inside[k] if h.kind == "cue"}
        clause.negated = "negation" in classes
        clause.suspected = "suspicion" in classes
        clause.hypothetical = any(self._imagines(k, h) for h in self._cues(k, "hypothesis"))
        clause.planned = bool({"plan", "obligation"} & classes)
        past = "past" in self.verb[k] or any(w in grammar("past_auxiliary") for w in self.low[k])
        clause.past = past and not clause.planned
        clause.quoted = bool({"document", "hearsay"} & classes)
        clause.question = self._asks(k, clause)

    def _cues(self, k: int, *classes: str) -> list[Hit]:
        return [h for h in self.inside[k] if h.kind == "cue" and h.data["class"] in classes]

    def _around(self, hit: Hit) -> tuple[list[str], list[str]]:
        """The three words before and after a hit, whatever clause they are in."""
        first, last = self.line.at(hit.start), self.line.at(hit.end)
        return self.line.low[max(0, first - 3) : first], self.line.low[last : last + 3]

    def _imagines(self, k: int, cue: Hit) -> bool:
        """True where a word of hypothesis makes its clause imagined; not for a failure ("it would not start"), a
        purpose ("so i would have light"), a report ("like i said i would") or a "whether" ("see if it drips")."""
        before, after = self._around(cue)
        last = before[-1] if before else ""
        if any(h.start <= cue.start < h.end for h in self._cues(k, "suspicion")):
            return False  # "if i had to guess"
        if cue.name == "if":
            return last not in grammar("whether")
        if "would" not in cue.name and "'d" not in cue.name:
            return True
        if any(w in grammar("said") for w in before) or "so" in before[-2:]:
            return False
        if after[:1] and after[0] in grammar("would_mean"):
            return False
        failing = after[:1] == ["not"] and "i" not in (last, *cue.name.split())
        return not failing or any("if" in low for low in self.low[max(0, k - 1) : k + 2])

    def _asks(self, k: int, clause: Clause) -> bool:
        """True for a question: by its mark, or by its word order where it opens the talk or a sentence."""
        if self.text[clause.end : clause.end + 2].strip().startswith("?"):
            return True
        cue = next(iter(self._cues(k, "question")), None)
        if cue is None or (k > 0 and not self._new_sentence(k)):
            return False
        lead = self.line.low[self.cuts[k] : self.line.at(cue.start)]
        return len(lead) <= 3 and all(w in grammar("opener") or w in grammar("question_lead") for w in lead)

    # ---- what goes on over clauses ----

    def _new_sentence(self, k: int) -> bool:
        return k > 0 and bool(HARD.search(self.text[self.clauses[k - 1].end : self.clauses[k].start]))

    def _turned(self, k: int) -> bool:
        clause = self.clauses[k]
        return any(h.start - clause.start <= 8 for h in self._cues(k, "topic"))

    def _carry_plan(self) -> None:
        """A plan goes on over a bare verb ("going to pull the cover | and look at the gears")."""
        for k in range(1, len(self.clauses)):
            goes_on = self.low[k][0] in grammar("or_and") and self.verb[k][1:2] == ["base"]
            if goes_on and self.clauses[k - 1].planned and not self._new_sentence(k):
                self.clauses[k].planned, self.clauses[k].past = True, False

    def _carry_hypothesis(self) -> None:
        """What hangs on an "if" is imagined too, and so is what a "would" goes on to ("i would pull the wheel | and
        look at it")."""
        saying = False
        for k in range(1, len(self.clauses)):
            clause, before = self.clauses[k], self.clauses[k - 1]
            cues = [w for h in self._cues(k - 1, "hypothesis") for w in h.name.split()]
            saying = before.hypothetical and (saying or bool(set(cues) & grammar("sayings")))
            if clause.hypothetical or clause.past or not before.hypothetical or self._breaks(k):
                continue
            if "if" in self.low[k - 1][:3]:
                main = self.clauses[k - 2] if k >= 2 and not self._breaks(k - 1) else None
                settled = main is not None and (
                    main.planned or main.hypothetical
                )  # "i will do it | if it is dry | ..."
                clause.hypothetical = not settled or self.low[k][0] == "then"
            elif saying and self.low[k][0] in grammar("subordinator"):
                clause.hypothetical = True
            elif not any(self.verb[k - 1]) and len(self.low[k - 1]) <= 3:
                clause.hypothetical = True  # "in theory | you pull six bolts"
            else:
                clause.hypothetical = self.low[k][0] in grammar("or_and") and self.verb[k][1:2] == ["base"]

    def _breaks(self, k: int) -> bool:
        return self._new_sentence(k) or any(
            h.data["class"] in ("topic", "lesson") for h in self.inside[k][:2] if h.kind == "cue"
        )

    def _retract(self) -> None:
        """Values and statements taken back: what stands right before the words that take it back, and those words."""
        for k in range(1, len(self.clauses)):
            clause, before = self.clauses[k], self.clauses[k - 1]
            cue = next((h for h in self._cues(k, "retraction") if h.start - clause.start <= 4), None)
            if cue is None:
                continue
            words_before, words_after = self._around(cue)
            if cue.name not in grammar("deny_back") and any(w in grammar("retraction_goes_on") for w in words_after[:1]):
                continue
            if any(w in grammar("retraction_after") for w in words_before[-1:]):
                continue
            if cue.name in grammar("take_back"):
                before.retracted = clause.retracted = True
                continue
            if cue.name in grammar("deny_back"):
                self._deny(k, cue)
                continue
            values = [s for s in self._measured(before.start, before.end)]
            new_here = any_between(self.line.measured, cue.end, clause.end)
            following = self.clauses[k + 1].start if k + 1 < len(self.clauses) else None
            new_next = (
                following is not None
                and bool(self._measured(following, following + 40))
                and (self._measured(following, following + 40)[0][0] - following <= 12)
            )
            last = max((b for _, b in values), default=0)
            if (new_here or new_next) and last >= before.end - 3 and len(before.tokens) <= 4 + 2 * len(values):
                before.retracted = True
                clause.retracted = not new_here

    def _deny(self, k: int, cue: Hit) -> None:
        """Take back the clause before one that denies it; not where the denial goes on to say what it denies ("no i
        didnt do the belt")."""
        clause, before = self.clauses[k], self.clauses[k - 1]
        after = self.line.at(cue.end)
        goes_on = after < len(self.line.words) and self.line.verb[after] in ("base", "ing", "aux") and not self.line.apart(after)
        claimed = "wrong" not in cue.name or bool(set(self.low[k - 1]) & grammar("said"))
        if "wrong" in cue.name and self.line.low[after : after + 1] and self.line.low[after] in grammar("retraction_goes_on"):
            return  # "i was wrong about the bearing"
        if cue.name.endswith(" no") and after < self.line.at(clause.end) and not self.line.apart(after):
            opens = grammar("subject_any") | grammar("contracted") | grammar("determiner")
            goes_on = self.line.low[after] not in opens  # "actually no leaks at all"
        if goes_on or before.negated or not claimed:
            return
        before.retracted = True
        clause.retracted = after >= self.line.at(clause.end)

    def _measured(self, start: int, end: int) -> list[tuple[int, int]]:
        spans = self.line.measured
        return [s for s in spans[bisect_left(spans, (start, 0)) : bisect_left(spans, (end, 0))]]

    # ---- whose machine ----

    def _machines(self) -> None:
        """Whose machine each clause is about. A machine that only comes up is left with the next "i", "my" or
        sentence; one that the speaker works on stays until the own machine is named or the talk turns."""
        away = strong = False
        women = False  # one has been spoken of: until then "she" and "her" may well be the machine
        home = elsewhere.Clauses(self.line, self.cuts, self.hits, self.own)
        for k, clause in enumerate(self.clauses):
            no_machine = home.about(k, self._new_sentence(k), clause.suspected)
            women = women or self._woman_named(k)
            words = set(self.low[k]) if women else set(self.low[k]) - grammar("feminine")
            theirs, third = bool(words & grammar("third_possessive")), bool(words & grammar("third_person"))
            first = bool(words & grammar("first_person"))
            says = self._other_named(k)
            if self._own_named(k):
                away = strong = False
            elif (says and clause.retracted) or says == "passing":
                clause.other_machine = True
                continue
            elif says:
                away = True
                strong = strong or (says == "worked on" and not clause.hypothetical)
            elif away and self._turned(k):
                away = strong = False
            elif away and not strong:
                away = not ((self._new_sentence(k) and not third) or (first and not theirs) or self._deed_of_mine(k))
            elif not away and not first and third:
                away = self._their_thing(k, words) or self._their_habit(k)
            clause.other_machine, clause.no_machine = away or no_machine, no_machine and not away

    def _long_ago(self) -> None:
        """A clause about a time long gone tells nothing of the machine as it is ("in the army we changed a gearbox"),
        and so does what hangs on a "when" of then ("when i bought it | it had a seized pump")."""
        since_when = False
        for k, clause in enumerate(self.clauses):
            low = self.low[k]
            cues = self._cues(k, "history")
            old = (bool(cues) and not set(low) & grammar("at_present")) or self._of_a_year(k)
            goes_on = clause.past and not self._breaks(k) and not set(low) & grammar("at_present")
            old = old or (since_when and goes_on and not self.line.deed[self.cuts[k]])
            clause.other_machine = clause.other_machine or old
            opens = k == 0 or self._new_sentence(k) or self._turned(k)
            leads = low[0] in grammar("subordinator") or not any(self.verb[k])  # "in the army | we changed a gearbox"
            since_when = old and (since_when or (opens and leads))

    def _of_a_year(self, k: int) -> bool:
        """ "back in eighty six", "that dent is from nineteen ninety four": a year well past."""
        low, first = self.low[k], self.cuts[k]
        for i, number in self.numbers[bisect_right(self.places, first) : bisect_left(self.places, first + len(low))]:
            if number.start in self.measures or self.line.low[i - 1] not in grammar("in_year"):
                continue
            before, value = self.line.low[i - 2 : i - 1], number.value
            whole = 1900 <= value <= self.year - 3
            short = before == ["back"] and 30 <= value <= 99 and not self._part_before(i - 2)
            says_age = self.line.low[i - 1] == "from" and before and self.line.verb[i - 2] == "be"
            told = self.clauses[k].past or not any(self.verb[k])
            if (whole or short) and (says_age or (told and not set(low) & grammar("at_present"))):
                return self.line.low[i - 1] == "in" or bool(says_age)
        return False

    def _part_before(self, i: int) -> bool:
        """ "strut back in | fifty five on the nuts", "went back in | thirty": what is back in is a part."""
        if i and self.line.verb[i - 1] in ("past", "ing", "base"):
            return True
        return any(h.kind in elsewhere.PARTS and self.line.at(h.end) == i for h in self.hits)

    def _deed_of_mine(self, k: int) -> bool:
        """A clause that starts with a past action and no subject is the speaker's own doing ("... his does that |
        cleaned the jets")."""
        return k > 0 and self.line.deed[self.cuts[k]]

    def _their_habit(self, k: int) -> bool:
        """ "he runs forty to one", "he had done a hundred and sixty on a tank": what a third person's machine does,
        in numbers."""
        low, clause = self.low[k], self.clauses[k]
        at = next((i for i, w in enumerate(low[:4]) if w in grammar("third_subject")), None)
        if at is None or set(low) & grammar("own_words"):
            return False
        return bool(set(low[at : at + 4]) & grammar("owning")) and any_between(
            self.line.measured, clause.start, clause.end
        )

    def _their_thing(self, k: int, words: set[str]) -> bool:
        """ "his rear main seal": a possessive of a third person right before a thing or a machine."""
        owners = words & grammar("third_possessive")
        for hit in self.inside[k]:
            first = self.line.at(hit.start)
            before = self.line.low[max(self.cuts[k], first - 3) : first]
            if hit.kind in _THINGS and owners.intersection(before):
                return True
        return False

    def _woman_named(self, k: int) -> bool:
        says = any(h.name.startswith("she ") for h in self._cues(k, "hearsay"))
        return says or any(stem(word) in grammar("women") for word in self.low[k])

    def _own_named(self, k: int) -> bool:
        """The own machine is named: "mine", "my truck", "my alternator", the machine's own kind ("the van"); not
        where it is compared with or denied ("not mine", "same as mine")."""
        for h in self.inside[k]:
            before = self._around(h)[0]
            if h.kind == "cue" and h.data["class"] == "own_machine":
                if not before or before[-1] not in grammar("not_mine"):
                    return True
            elif h.kind == "machine" and before[-1:] == ["the"] and h.name in self.own:
                return True
            elif h.kind in _THINGS and set(before) & grammar("my") and not set(before) & grammar("not_my"):
                at = max(i for i, w in enumerate(before) if w in grammar("my")) - len(
                    before
                )  # negative: words before h
                first = self.line.at(h.start)
                person = any(self.line.person[first + at : first])
                if not person and (h.kind != "machine" or at == -1):
                    return True
        return False

    def _other_named(self, k: int) -> str:
        """ "" or how another machine is named: "worked on" where the speaker's hands are on it, "named" where it only
        comes up, "passing" where it goes by."""
        clause, low = self.clauses[k], self.low[k]
        text = clause.text.lower()
        if any(name.search(text) for name in self.others):
            return "worked on"
        people = [h for h in self.inside[k] if h.kind == "person"]
        if any(self._helped(p, k) for p in people):
            return "worked on"
        machines = [h for h in self.inside[k] if h.kind == "machine"]
        named = (
            bool(self._cues(k, "other_machine"))
            or any(self._owns(p, k) for p in people)
            or any(" ".join(self._around(m)[1]).startswith(tuple(grammar("beside"))) for m in machines)
            or any(self._possessed(m, k) for m in machines)
        )
        if not named and any(self._goes_by(m) for m in machines):
            return "passing"
        if not named:
            return "named" if self._passing(k, machines, people) else ""
        mine = (
            bool(set(low) & grammar("first_subject")) or low[0] in grammar("my_doing") or self.line.deed[self.cuts[k]]
        )
        return "worked on" if mine and ("past" in self.verb[k] or "ing" in self.verb[k]) else "named"

    def _goes_by(self, machine: Hit) -> bool:
        first = self.line.at(machine.end)
        for many in (2, 3):
            if " ".join(self.line.low[first : first + many]) in grammar("passing_by"):
                return first + many not in self.places
        return False

    def _passing(self, k: int, machines: list[Hit], people: list[Hit]) -> bool:
        """ "borrowed the farm quad", "her scooter", "on any truck", "fitted a winch to his", "my dads garage was ...": another
        machine, or another's place, that only comes up."""
        for m in machines:
            first = self.line.at(m.start)
            before = self.line.low[max(self.cuts[k], first - 4) : first]
            if set(before[-2:]) & grammar("third_possessive") or set(before[-1:]) & grammar("generic"):
                return True
            borrowed = max((i for i, w in enumerate(before) if w in grammar("borrowing")), default=None)
            if borrowed is not None and not set(before[borrowed + 1 :]) & grammar("borrowed_from"):
                tools = [h for h in self.inside[k] if h.kind in _THINGS and h.end <= m.start]
                if not any(self.line.at(h.end) > first - len(before) + borrowed for h in tools):
                    return True  # the machine itself was borrowed
        end = self.cuts[k] + len(self.low[k])
        for i in range(self.cuts[k] + 1, end if len(self.low[k]) <= LONG else 0):  # a run-on says more than whose that is
            if self.line.low[i] == "his" and self.line.low[i - 1] in grammar("to_theirs") and i + 1 == end:
                return True
        return any(
            p.data.get("owner")
            and self.low[k][0] in grammar("my")
            and self.line.at(p.start) - self.cuts[k] <= 1
            and set(self.line.low[self.line.at(p.end) : self.line.at(p.end) + 1]) & grammar("premises")
            for p in people
        )

    def _helped(self, person: Hit, k: int) -> bool:
        first = self.line.at(person.start)
        return any(w in grammar("helping") for w in self.line.low[max(self.cuts[k], first - 3) : first])

    def _owns(self, person: Hit, k: int) -> bool:
        """ "my buddys truck", "a guy has a crawler", "buddy of mine runs thirty fives"; not "the guys drove": that
        plural is a subject."""
        clause = self.clauses[k]
        things = [h for h in self.inside[k] if h.kind in _THINGS and h.start >= person.end]
        last = self.line.at(person.end)
        if person.data.get("owner"):
            verb = last < len(self.line.words) and self.line.verb[last] in ("be", "aux", "past", "base")
            return any(h.start - person.end <= 30 for h in things) and not (verb and self.line.head[last] < 0)
        after = self.line.low[last : last + 5]
        if " ".join(after[:2]) in grammar("of_the_speaker"):
            after = after[2:]
        if not after:
            return False
        if after[0] in grammar("having") and any_between(
            self.line.measured, person.end, min(clause.end, person.end + 60)
        ):
            return True
        a_machine = any(h.kind == "machine" and h.start - person.end <= 40 for h in things)
        return after[0] in grammar("having_a") and bool(set(after[1:2]) & grammar("article")) and a_machine

    def _possessed(self, machine: Hit, k: int) -> bool:
        """ "dave's truck": a possessive of a name that we do not know."""
        at = self.line.at(machine.start) - 1
        if at < self.cuts[k]:
            return False
        word = self.line.words[at].text
        return (
            word.endswith(("'s", "’s"))
            and not self.line.noun[at]
            and not self.line.verb[at]
            and word[:-2].lower() not in grammar("not_head")
        )


def _inside(hit: Hit, spans: list[tuple[int, int]]) -> bool:
    at = bisect_left(spans, (hit.start, 0))
    return any(a < hit.start and hit.end < b for a, b in spans[max(0, at - 2) : at])
