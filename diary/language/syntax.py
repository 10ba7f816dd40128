"""Where clauses begin in talk that has no punctuation.

The cuts are found from the words: where a conjunction is followed by a statement of its own, where a noun phrase
stands before a verb of its own, where a verb starts without a subject ("pulled the fuse"), and at the phrases that
turn the talk. Punctuation, where there is any, cuts first. Nothing is cut inside a number, a quantity, a date or a
name. The closed classes of words that this needs are in `data/grammar.toml`.
"""

from __future__ import annotations

import itertools
import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from functools import cache

from diary.language import lexicon
from diary.language.text import verb_forms
from diary.language.types import Hit, Token, Utterance

HARD = re.compile(r"[.!?;\n](?:\s|$|[\"'”’)])|[;\n—–]|:\s|\s-\s|\.{2,}|…")  # ends a sentence
_COMMA = re.compile(r"[,()]")
_INNER = " '’/-"  # what may stand between the words of one phrase
_NOUN_PHRASE = 9  # words that a subject may be long
THINGS = ("component", "fastener", "consumable")
_NAMES = (*THINGS, "tool", "machine", "meter", "place_of", "person")
_TURNING = ("retraction", "lesson", "topic", "shot")
_FUNCTION_WORDS = (
    "preposition",
    "determiner",
    "coordinator",
    "subordinator",
    "opener",
    "subject_any",
    "contracted",
    "adverb",
    "possessive",
    "object",
)


@cache
def everyday_verbs() -> dict[str, str]:
    """Form to tense of the everyday verbs, beside those of the trade."""
    forms: dict[str, str] = {}
    for base in grammar("verbs"):
        for form, tense in verb_forms(base).items():
            if forms.get(form) != "past":
                forms[form] = tense
    return forms


@cache
def grammar(name: str) -> frozenset[str]:
    """A closed class of words."""
    return lexicon.load().grammar[name]


@cache
def _function_words() -> frozenset[str]:
    return frozenset().union(*(grammar(name) for name in _FUNCTION_WORDS))


@dataclass(slots=True)
class Line:
    """The tokens of a text with what the rules ask of each; all lists of flags are as long as `words`."""

    words: list[Token]
    low: list[str]  # the words in lower case
    starts: list[int]  # their first characters
    verb: list[str]  # "", "past", "base", "s", "ing", "be", "aux"
    noun: list[bool]  # inside the name of a thing, a person or a trouble
    head: list[int]  # index of the hit that the name belongs to, -1 for none
    number: list[bool]  # part of a number
    glued: list[bool]  # no cut before this token
    gap: list[str]  # the punctuation before the token
    deed: list[bool]  # an action in the past begins here
    place: list[bool]  # part of a place
    person: list[bool]  # part of a person
    trouble: list[bool]  # part of a symptom, or of a word that nothing is wrong: such verbs take no object
    guess: list[bool]  # a verb only by its ending
    measured: list[tuple[int, int]] = field(default_factory=list)  # where numbers and their units stand, in order

    def at(self, character: int) -> int:
        """The index of the first token that does not start before the character."""
        return bisect_left(self.starts, character)

    def apart(self, i: int) -> bool:
        """True where punctuation stands before token i."""
        return bool(self.gap[i].strip(_INNER))


def make_line(utterance: Utterance) -> Line:
    """The line of an utterance whose hits, numbers, quantities and dates are found."""
    words = utterance.tokens
    n = len(words)
    low = [word.lower for word in words]
    be, aux, everyday = grammar("be"), grammar("auxiliary"), everyday_verbs()
    line = Line(
        words,
        low,
        [word.start for word in words],
        ["be" if w in be else "aux" if w in aux else everyday.get(w) or _looks_past(w) for w in low],
        [False] * n,
        [-1] * n,
        [word[:1].isdigit() for word in low],
        [False] * n,
        ["", *(utterance.text[a.end : b.start] for a, b in itertools.pairwise(words))],
        [False] * n,
        [False] * n,
        [False] * n,
        [False] * n,
        [w not in everyday and bool(_looks_past(w)) for w in low],
        sorted([(x.start, x.end) for x in utterance.numbers] + [(x.start, x.end) for x in utterance.quantities]),
    )
    for k, hit in enumerate(utterance.hits):
        if not (hit.kind in THINGS and overlaps(hit, line.measured)):
            _mark(line, k, hit)
    for number in utterance.numbers:
        for i in range(line.at(number.start), line.at(number.end)):
            line.number[i] = True
    days = [(when.start, when.end) for when in utterance.dates]
    for start, end in (*line.measured, *days):
        for i in range(line.at(start) + 1, line.at(end)):
            line.glued[i] = True
    for when in utterance.dates:
        for i in range(line.at(when.start), line.at(when.end)):
            line.verb[i] = ""  # "sat" is a day here
    return line


def _looks_past(word: str) -> str:
    """ "past" for a word that no list knows and that ends like a past form ("bypassed", "indexed")."""
    past = len(word) > 4 and word.endswith("ed") and not word.endswith("eed") and word not in grammar("no_past")
    return "past" if past and word not in _function_words() and word not in grammar("adjective") else ""


def _mark(line: Line, k: int, hit: Hit) -> None:
    first, last = line.at(hit.start), line.at(hit.end)
    if first >= len(line.words):
        return
    kind, tense = hit.kind, str(hit.data.get("tense") or "")
    if kind in ("action", "symptom") and tense:
        line.guess[first] = False
    if kind == "action":
        line.verb[first] = line.verb[first] or tense
        line.deed[first] = tense == "past"
    elif kind == "symptom" and tense and not line.verb[first]:
        line.verb[first] = tense
    for i in range(first, last):
        if kind in _NAMES:
            line.noun[i], line.head[i] = True, k
        elif kind == "symptom" and hit.data.get("noun"):
            line.noun[i] = True
        line.person[i] = line.person[i] or kind == "person"
        line.place[i] = line.place[i] or kind == "place"
        line.trouble[i] = line.trouble[i] or kind in ("symptom", "healthy")
        if i > first and (kind in _NAMES or kind in ("place", "cue")):
            line.glued[i] = True


def overlaps(hit: Hit, spans: list[tuple[int, int]]) -> bool:
    """True where the hit shares a character with one of the spans, which are in order ("point" in "six point five")."""
    at = bisect_left(spans, (hit.end, 0))
    return any(a < hit.end and hit.start < b for a, b in spans[max(0, at - 3) : at])


def any_between(spans: list[tuple[int, int]], start: int, end: int) -> bool:
    """True where one of the spans, which are in order, lies between two characters."""
    at = bisect_left(spans, (start, 0))
    return any(b <= end for a, b in spans[at : bisect_right(spans, (end, end))])


# ---- what a word can be ---------------------------------------------------------------------------------------------


def finite(line: Line, i: int) -> bool:
    """True where token i can be the verb of a statement by itself ("is", "has", "pulled", "leaks")."""
    return line.verb[i] in ("be", "aux", "past", "s") and line.low[i][:3] != "bee" and not _is_noun_here(line, i)


def _is_noun_here(line: Line, i: int) -> bool:
    """True where a word that can be a verb is a noun or a quality: inside a name, or after a determiner ("the leak",
    "a used")."""
    if line.head[i] >= 0:
        return True
    if line.verb[i] in ("be", "aux") or i == 0:
        return False
    before = line.low[i - 1]
    predicate = i > 1 and line.verb[i - 2] == "be"  # "the light is dead | pulled the fuse"
    described = before in grammar("adjective") and not predicate
    return before in grammar("determiner") or described or (line.number[i - 1] and line.verb[i] != "past")


def nominal(line: Line, i: int) -> bool:
    """True where the word can be the head of a noun phrase: a name, or a word of no class that we know."""
    if line.noun[i]:
        return True
    if line.trouble[i]:
        return False
    word = line.low[i]
    if word in ("one", "ones") and i > 0 and (line.place[i - 1] or _quality(line, i - 1)):
        return True  # "the old one", "the right one"
    if line.verb[i] and not _is_noun_here(line, i):
        return False
    return not line.number[i] and word not in _function_words()


def _quality(line: Line, i: int) -> bool:
    return line.low[i] in grammar("adjective") and not line.number[i]


def subject_verb(line: Line, i: int) -> bool:
    """True where a subject pronoun at i has its verb close by ("i cleaned", "it never did", "that's", "there was")."""
    word, n = line.low[i], len(line.low)
    if word in grammar("contracted"):
        its = word == "its" and 0 < i < n - 1 and leans(line, i - 1) and not line.number[i + 1]
        return not (its and (line.noun[i + 1] or _quality(line, i + 1) or nominal(line, i + 1)))  # "on its face"
    if word not in grammar("subject_any"):
        return False
    j = i + 1
    while j < min(n, i + 4) and (
        line.low[j] in grammar("adverb") or line.low[j] in grammar("between_subject_and_verb")
    ):
        j += 1
    if j >= n or line.gap[j].strip(" '’"):
        return False
    if word in grammar("subject"):
        return bool(line.verb[j]) and line.verb[j] != "ing"
    return line.verb[j] in ("be", "aux", "past", "s") and not (line.number[j] or line.head[j] >= 0)


def leans(line: Line, i: int) -> bool:
    """True where the word at i needs what follows it: a preposition, a determiner, a conjunction, a verb with its
    object to come."""
    word = line.low[i]
    if line.verb[i] == "past" and i > 0 and (line.verb[i - 1] == "be" or line.low[i - 1] in grammar("contracted")):
        return False  # "the plug is gone | battery showed": a participle after "is" has its object already
    return (
        word in grammar("preposition")
        or word in grammar("determiner")
        or word in grammar("reporting")
        or word in grammar("leaning")
        or (bool(line.verb[i]) and not line.noun[i] and not line.trouble[i])
    )


def subject_before(line: Line, verb: int, floor: int) -> int | None:
    """Where the noun phrase begins that stands right before the verb; None if there is none. Never before `floor`."""
    i = verb - 1
    while i > floor and line.low[i] in grammar("adverb") and not line.noun[i]:
        i -= 1
    if i < floor or not nominal(line, i):
        return None
    end = i
    while i > floor and end - i < _NOUN_PHRASE and not line.apart(i):
        before = line.low[i - 1]
        if before in grammar("determiner"):
            i -= 1
            if i - 1 > floor and before == "the" and line.low[i - 1] in ("all", "both"):
                i -= 1
            if i - 2 >= floor and line.low[i - 1] == "of" and _counts(line, i - 2):
                i -= 2
                continue
            break
        if line.place[i] and not line.place[i - 1] and line.head[i - 1] >= 0 and line.head[i] < 0:
            break  # "the tires | front right": a place does not follow the noun it belongs to
        if line.number[i] and not line.number[i - 1] and line.noun[i - 1] and not line.person[i - 1]:
            break  # "the gasket | two of them": nor does a count
        if nominal(line, i - 1) or before in grammar("adjective") or line.number[i - 1]:
            i -= 1
        elif before == "of" and i - 2 >= floor and _counts(line, i - 2):
            i -= 2
        else:
            break
    return i


def _counts(line: Line, i: int) -> bool:
    return nominal(line, i) or line.number[i] or line.low[i] in grammar("quantifier")


# ---- cutting --------------------------------------------------------------------------------------------------------


def cut(utterance: Utterance, line: Line) -> list[int]:
    """The indices of the tokens that begin a clause, 0 first."""
    turns = _turns(utterance, line)
    cuts = [0]
    has_verb = False  # in the clause that is open
    for i in range(len(line.words)):
        begin = cuts[-1]
        if i > begin and not line.glued[i]:
            at = _cut_at(line, i, begin, has_verb, turns)
            if at is not None and at > begin:
                cuts.append(at)
                has_verb = any(_states(line, k) for k in range(at, i))
        has_verb = has_verb or _states(line, i)
    return _with_days(utterance, line, cuts)


def _states(line: Line, i: int) -> bool:
    return finite(line, i) or (line.low[i] in grammar("contracted") and subject_verb(line, i))


def _turns(utterance: Utterance, line: Line) -> set[int]:
    """Tokens at which a phrase begins that turns the talk: a retraction, a lesson, a change of subject."""
    found = set()
    for hit in utterance.hits:
        if hit.kind != "cue" or hit.data["class"] not in _TURNING:
            continue
        i = line.at(hit.start)
        before = line.low[i - 1] if i else ""
        if before in grammar("turn_with"):
            if i > 1 and line.low[i - 2] != "as":
                found.add(i - 1)
        elif before not in grammar("no_turn_after"):
            found.add(i)
    return found


def _cut_at(line: Line, i: int, begin: int, has_verb: bool, turns: set[int]) -> int | None:
    """The token at which a clause begins on account of token i (i itself or one before it), or None."""
    if HARD.search(line.gap[i]) and not (line.number[i] and line.low[i - 1] in grammar("abbreviation")):
        return i
    if _COMMA.search(line.gap[i]):
        return i if _comma_cuts(line, i) else None
    if i in turns:
        return i
    word, before = line.low[i], line.low[i - 1]
    if word in grammar("cutting"):
        return None if before in grammar("no_cut_after") else i
    if word in grammar("joining"):
        return i if _joins(line, i, begin, has_verb) else None
    lead = i - 1
    while lead > begin and line.low[lead] in grammar("filler") and line.low[lead] not in grammar("coordinating"):
        lead -= 1
    if line.low[lead] in grammar("coordinator") or before in grammar("subordinator"):
        return None  # the cut, if any, was before the conjunction
    if word == "it" and (before in grammar("object_preposition") or _object_of_deed(line, i)):
        return None
    if subject_verb(line, i):
        if word not in grammar("demonstrative") and word not in grammar("relative"):
            fronted = not has_verb and subject_before(line, i, begin) == begin  # "the carrier bolts i never touched"
            if not fronted and not _inside_subject(line, i, begin, has_verb):
                leant = (
                    before in grammar("reporting") or before in grammar("pronoun_after") or line.verb[i - 1] == "aux"
                )
                return i if not leant and (has_verb or i - begin >= 2) else None
        elif word in grammar("demonstrative") and has_verb and not leans(line, i - 1):
            described = word == "one" and (line.place[i - 1] or before in grammar("adjective"))
            return None if described else i
    if has_verb and _opens(line, i):
        return i
    return _verb_cut(line, i, begin, has_verb) if finite(line, i) else None


def _object_of_deed(line: Line, i: int) -> bool:
    """True for "it" in "wiped it pumped it": what was done to it comes before, and another deed follows."""
    follows = i + 1 < len(line.low) and line.verb[i + 1] == "past" and not line.trouble[i + 1]
    return follows and line.verb[i - 1] == "past" and line.low[i - 1] not in grammar("reporting")


def _comma_cuts(line: Line, i: int) -> bool:
    """True where a statement, a value or a conjunction follows the comma before i; a mere list is not cut."""
    word = line.low[i]
    if word in grammar("coordinator") or word in grammar("subordinator") or word in ("no", "not"):
        return True
    for k in range(i, min(len(line.low), i + 14)):
        if k > i and (HARD.search(line.gap[k]) or _COMMA.search(line.gap[k])):
            return False
        if finite(line, k) or line.number[k] or line.trouble[k] or line.low[k] in grammar("contracted"):
            return True
    return False


def _joins(line: Line, i: int, begin: int, has_verb: bool) -> bool:
    """True where the conjunction at i begins a clause: a statement follows, and what stands before is one or long
    enough."""
    word, before = line.low[i], line.low[i - 1]
    if word == "as" and (i + 1 >= len(line.low) or line.low[i + 1] not in grammar("subject")):
        return False
    if before in grammar("coordinating") or (word == "that" and before in grammar("preposition")):
        return False
    if word in ("that", "as") and before in grammar("reporting"):
        return False
    return (has_verb or i - begin >= 3) and _statement_at(line, i + 1, word)


def _statement_at(line: Line, i: int, conjunction: str) -> bool:
    """True where a statement begins at i: a subject with a verb, or a verb that goes on with the subject of before."""
    n = len(line.low)
    while i < n and line.low[i] in grammar("filler") and not subject_verb(line, i):
        i += 1
    if i >= n or HARD.search(line.gap[i]) or line.low[i] in grammar("coordinator"):
        return False
    if subject_verb(line, i):
        return True
    if conjunction in grammar("carrying") and line.verb[i] not in ("", "ing") and not line.noun[i]:
        bare = line.verb[i] in ("base", "s") and i + 1 < n and line.low[i + 1] not in grammar("determiner")
        return not (bare and nominal(line, i + 1))
    for k in range(i + 1, min(n, i + 8)):
        if line.apart(k) or line.low[k] in grammar("coordinator") or line.low[k] in grammar("statement_stops"):
            return False
        if finite(line, k):
            return subject_before(line, k, i) == i or line.noun[k - 1] or line.low[i] in grammar("determiner")
    return False


def _inside_subject(line: Line, i: int, begin: int, has_verb: bool) -> bool:
    """True for "i read" in "the spec i read online is sixteen": a clause inside the subject."""
    if line.low[i] in grammar("contracted") or not nominal(line, i - 1):
        return False
    seen = False
    for k in range(i + 1, min(len(line.low), i + 8)):
        if line.apart(k) or line.low[k] in grammar("subject_any") or line.low[k] in grammar("coordinator"):
            return False
        if finite(line, k):
            if seen and line.verb[k] != "past" and subject_before(line, k, i + 1) is None:
                return not has_verb or line.low[max(begin, i - 2)] in grammar("pointing")
            seen = True
    return False


def _opens(line: Line, i: int) -> bool:
    """True for words that open a clause after a complete one: "okay", "no drips", "not one of them", "need a"."""
    word, before = line.low[i], line.low[i - 1]
    if word in grammar("opener") and word not in grammar("weak_opener"):
        return before not in grammar("reporting") and before not in grammar("no_opener_after")
    if word in grammar("bare") and before in grammar("particle") and line.low[i + 1 : i + 2] != ["of"]:
        return True  # "torqued all round | need to check them"
    if leans(line, i - 1):
        return False
    if word == "no":
        return line.verb[i - 1] not in ("be", "aux")
    if word == "not":
        return i + 1 < len(line.low) and not line.verb[i + 1]
    return word in grammar("bare") and before not in grammar("subject_any") and before not in grammar("adverb")


def _verb_cut(line: Line, i: int, begin: int, has_verb: bool) -> int | None:
    """Where the clause begins whose verb stands at i: at its subject, at the verb itself, or None if it goes on with
    the open one."""
    before = line.low[i - 1]
    lead = i - 1
    while lead > begin and line.low[lead] in grammar("adverb") and not line.noun[lead]:
        lead -= 1
    helped = line.verb[lead] in ("be", "aux") or line.low[lead] in grammar("contracted")
    if helped or before in grammar("no_verb_after"):
        return None
    if line.low[i] in grammar("closing") and any(w in grammar("calling") for w in line.low[begin:i]):
        return None  # "calling the overheating fixed"
    alone = i if line.verb[i] == "past" and has_verb and not line.trouble[i] else None  # a verb without a subject
    is_object = i - 2 >= begin and (line.verb[i - 2] or line.low[i - 2] in grammar("preposition"))
    if before in grammar("object_pronoun") and is_object:
        return None if line.low[i - 2] in grammar("reporting") else alone
    if before in grammar("subject_any") and not nominal(line, i - 1):
        return None
    subject = subject_before(line, i, begin)
    if subject is None:
        return None if _describes(line, i) else alone
    if subject <= begin:
        return None
    if line.glued[subject]:
        return alone
    if not leans(line, subject - 1):
        return subject if has_verb or any(line.number[begin:subject]) or subject - begin >= 4 else None
    # The noun phrase belongs to what stands before it ("cleaned the posts | put it back"), or only its first half does
    # ("put in the cheap stuff | drain plug went back").
    if line.low[subject - 1] in grammar("causative"):
        return None  # "getting the wheels balanced"
    if (half := _last_thing(line, i, subject)) is not None:
        return half
    if line.low[i] in grammar("subjectless") and has_verb:
        return i
    if _describes(line, i) or line.guess[i] or (line.low[subject - 1] in grammar("reporting") and not line.deed[i]):
        return None
    return alone


def _describes(line: Line, i: int) -> bool:
    """True where a past form may describe the noun before it ("a screw found by the pump")."""
    return i + 1 < len(line.low) and line.low[i + 1] in grammar("agent") and line.noun[i - 1]


def _last_thing(line: Line, verb: int, floor: int) -> int | None:
    """Where the last known thing before the verb begins, with its places, if a noun of another kind stands before
    it."""
    i = verb - 1
    while i > floor and line.low[i] in grammar("adverb"):
        i -= 1
    if line.head[i] < 0:
        return None
    while i > floor and line.head[i - 1] == line.head[i]:
        i -= 1
    while i > floor and (line.place[i - 1] or line.low[i - 1] in grammar("adjective")):
        i -= 1
    other = i > floor + 1 and nominal(line, i - 1) and line.head[i - 1] < 0 and not line.person[i - 1]
    return i if other else None


def _with_days(utterance: Utterance, line: Line, cuts: list[int]) -> list[int]:
    """A day named right before a clause about the future opens that clause ("next saturday i am getting ..." is
    one)."""
    found = set(cuts)
    for when in utterance.dates:
        first, last = line.at(when.start), line.at(when.end)
        if last not in found or first in found or first == 0 or last >= len(line.low) or line.glued[first]:
            continue
        future = when.kind != "past" and any(w in grammar("future") for w in line.low[last : last + 4])
        if future and not HARD.search(line.gap[last]) and line.low[first - 1] not in grammar("preposition"):
            found = (found - {last}) | {first}
    return sorted(found)


def isolate_retracted(utterance: Utterance, line: Line, cuts: list[int]) -> list[int]:
    """Cuts added so that a value taken back stands alone: "... at | seventy six | no hang on that is the old one |
    ninety five", and so that what follows a denial does."""
    added = set(cuts)
    for hit in utterance.hits:
        at = line.at(hit.start)
        if hit.kind == "cue" and hit.data["class"] == "retraction" and hit.name in grammar("deny_back") and at in added:
            after = line.at(hit.end)
            if after < len(line.words) and line.low[after] in grammar("subject_any") | grammar("contracted") | grammar("determiner"):
                added.add(after)  # "no i didnt | i fitted the other belt"
            continue
        if hit.kind != "cue" or hit.data["class"] != "retraction" or at not in added:
            continue
        following = bisect_left(line.measured, (hit.end, 0))
        values = line.measured[max(0, following - 2) : following]
        before = [a for a, b in values if 0 <= hit.start - b <= 3]
        if not before or following >= len(line.measured):
            continue
        value, after = line.at(min(before)), line.at(line.measured[following][0])
        if value > 0:
            added.add(value)
        if at < after <= at + 10 and not line.glued[after] and not any(c in added for c in range(at + 1, after)):
            added.add(after)
    return sorted(added)
