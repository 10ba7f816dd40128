"""Talk cut into clauses, and the scope each stands in; and the names of components as they were said.

Speech comes without punctuation, so the cuts are found from the words themselves: where a conjunction is followed by a new subject
and verb, where a noun phrase stands before a verb of its own, where a verb starts without a subject ("pulled the fuse"), and at
the phrases that turn the talk. Punctuation, where there is any, cuts first. Nothing is cut inside a number, a quantity or the name
of a thing. The words this needs are data (`data/cues.toml`).
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache

from diary.language import lexicon
from diary.language.text import stem, verb_forms
from diary.language.types import Clause, Hit, Token, Utterance

_HARD = re.compile(r"[.!?;\n](?:\s|$|[\"'”’)])|[;\n—–]|:\s|\s-\s|\.{2,}|…")
_COMMA = re.compile(r"[,()]")


# ---- words and their classes ----------------------------------------------------------------------------------------


@cache
def _verbs() -> dict[str, str]:
    """Form to tense of the everyday verbs."""
    forms: dict[str, str] = {}
    for base in lexicon.load().grammar["verbs"]:
        for form, tense in verb_forms(base).items():
            if forms.get(form) != "past":
                forms[form] = tense
    return forms


@dataclass(slots=True)
class _Line:
    """The tokens of a text with what the cutting rules ask of them; all lists are as long as `words`."""

    words: list[Token]
    low: list[str]
    verb: list[str]  # "", "past", "base", "s", "ing", "be", "aux"
    noun: list[bool]  # inside the name of a thing or a person
    head: list[int]  # index of the thing hit that the token lies in, -1 for none
    number: list[bool]  # part of a number
    glued: list[bool]  # no cut before this token: inside a number, a quantity or a name
    gap: list[str]  # the punctuation before the token
    deed: list[bool]  # an action in the past begins here
    place: list[bool]  # part of the name of a place
    person: list[bool]  # part of the name of a person
    trouble: list[bool]  # part of a symptom, or of a word that nothing is wrong: such verbs take no object


def _line(utterance: Utterance) -> _Line:
    words = utterance.tokens
    n = len(words)
    low = [w.lower for w in words]
    starts = [w.start for w in words]
    grammar = lexicon.load().grammar
    be, aux = grammar["be"], grammar["auxiliary"]
    everyday = _verbs()
    verb = ["be" if w in be else "aux" if w in aux else everyday.get(w, "") for w in low]
    noun, head, number, glued, deed, place = [False] * n, [-1] * n, [False] * n, [False] * n, [False] * n, [False] * n
    person, trouble = [False] * n, [False] * n
    measured = _measured(utterance)
    for k, hit in enumerate(utterance.hits):
        first, last = bisect_left(starts, hit.start), bisect_left(starts, hit.end)
        if hit.kind in _THINGS and _overlaps(hit, measured):
            continue
        for i in range(first, last):
            person[i] = person[i] or hit.kind == "person"
            trouble[i] = trouble[i] or hit.kind in ("symptom", "healthy")
        if hit.kind == "action" and first < n:
            verb[first] = verb[first] or str(hit.data.get("tense", ""))
            deed[first] = hit.data.get("tense") == "past"
        elif hit.kind == "symptom" and hit.data.get("tense") and first < n and not verb[first]:
            verb[first] = str(hit.data["tense"])
        if hit.kind in ("component", "fastener", "consumable", "tool", "machine", "meter", "place_of", "person"):
            for i in range(first, last):
                noun[i], head[i] = True, k
                glued[i] = glued[i] or i > first
        elif hit.kind == "symptom" and hit.data.get("noun"):
            for i in range(first, last):
                noun[i] = True
        elif hit.kind in ("place", "cue"):
            for i in range(first, last):
                glued[i] = glued[i] or i > first
                place[i] = place[i] or hit.kind == "place"
    for numeral in utterance.numbers:
        first, last = bisect_left(starts, numeral.start), bisect_left(starts, numeral.end)
        for i in range(first, last):
            number[i] = True
            glued[i] = glued[i] or i > first
    for quantity in utterance.quantities:
        for i in range(bisect_right(starts, quantity.start), bisect_left(starts, quantity.end)):
            glued[i] = True
    for when in utterance.dates:
        first, last = bisect_left(starts, when.start), bisect_left(starts, when.end)
        for i in range(first, min(last, n)):
            verb[i], glued[i] = "", glued[i] or i > first
    for i, word in enumerate(low):
        if word[:1].isdigit():
            number[i] = True
    gap = [""] + [utterance.text[a.end : b.start] for a, b in zip(words, words[1:], strict=False)]
    return _Line(words, low, verb, noun, head, number, glued, gap, deed, place, person, trouble)


_THINGS = ("component", "fastener", "consumable")


def _measured(utterance: Utterance) -> list[tuple[int, int]]:
    """Where the numbers and their units stand, in order; words in them are no things ("six point five", "two bar")."""
    return sorted((x.start, x.end) for x in (*utterance.numbers, *utterance.quantities))


def _overlaps(hit: Hit, spans: list[tuple[int, int]]) -> bool:
    at = bisect_left(spans, (hit.end, 0))
    return any(a < hit.end and hit.start < b for a, b in spans[max(0, at - 3) : at])


# ---- where a clause begins ------------------------------------------------------------------------------------------


def _grammar() -> dict[str, frozenset[str]]:
    return lexicon.load().grammar


def _finite(line: _Line, i: int) -> bool:
    """True where token i can be the verb of a statement by itself ("is", "has", "pulled", "leaks")."""
    return (
        line.verb[i] in ("be", "aux", "past", "s")
        and line.low[i] not in ("be", "been", "being")
        and not _is_noun_here(line, i)
    )


def _is_noun_here(line: _Line, i: int) -> bool:
    """True where a word that can be a verb is a noun or an adjective: inside a name, or after a determiner ("the leak", "a used")."""
    if line.head[i] >= 0:
        return True
    if line.verb[i] in ("be", "aux") or i == 0:
        return False
    before = line.low[i - 1]
    predicate = i > 1 and line.verb[i - 2] == "be"  # "the light is dead | pulled the fuse"
    described = before in _grammar()["adjective"] and not predicate
    return before in _grammar()["determiner"] or described or (line.number[i - 1] and line.verb[i] != "past")


def _subject_verb(line: _Line, i: int) -> bool:
    """True where a subject pronoun at i has its verb close by ("i cleaned", "it never did", "that is", "there was")."""
    grammar, n = _grammar(), len(line.low)
    word = line.low[i]
    if word in grammar["contracted"]:
        return not (
            word == "its"
            and 0 < i < n - 1
            and _needs_object(line, i - 1)
            and (_starts_name(line, i + 1) or _nominal(line, i + 1))
            and not line.number[i + 1]
        )
    if word not in grammar["subject_any"]:
        return False
    j = i + 1
    while (
        j < n
        and j < i + 4
        and (line.low[j] in grammar["adverb"] or line.low[j] in ("all", "both", "two", "one", "of", "them"))
    ):
        j += 1
    if j >= n or line.gap[j].strip(" '’"):
        return False
    if word in grammar["subject"]:
        return bool(line.verb[j]) and line.verb[j] != "ing"
    return line.verb[j] in ("be", "aux", "past", "s") and not (line.number[j] or line.head[j] >= 0)


def _starts_name(line: _Line, i: int) -> bool:
    return line.noun[i] or line.low[i] in _grammar()["adjective"] or line.number[i]


def _needs_object(line: _Line, i: int) -> bool:
    """True where the word at i leans on what follows it: a preposition, a determiner, a coordinator or a verb with its object to come."""
    word, grammar = line.low[i], _grammar()
    if line.verb[i] == "past" and i > 0 and (line.verb[i - 1] == "be" or line.low[i - 1] in grammar["contracted"]):
        return False  # "the plug is gone | battery showed": a participle after "is" has its object already
    return (
        word in grammar["preposition"]
        or word in grammar["determiner"]
        or word in grammar["reporting"]
        or word in ("and", "or", "but", "not", "also")
        or (bool(line.verb[i]) and not line.noun[i] and not line.trouble[i])
    )


_NOUN_PHRASE = 9  # words that a subject may be long


def _subject_before(line: _Line, verb: int, floor: int) -> int | None:
    """Where the noun phrase begins that stands right before the verb at `verb`; None if there is none. Never before `floor`."""
    grammar = _grammar()
    i = verb - 1
    while i > floor and line.low[i] in grammar["adverb"] and not line.noun[i]:
        i -= 1
    if i < floor or not _nominal(line, i):
        return None
    end = i
    while i > floor and end - i < _NOUN_PHRASE and not line.gap[i].strip(" '’/-"):
        word = line.low[i - 1]
        if word in grammar["determiner"]:
            i -= 1
            if i - 1 > floor and word == "the" and line.low[i - 1] in ("all", "both"):
                i -= 1
            if (
                i - 2 >= floor
                and line.low[i - 1] == "of"
                and (_nominal(line, i - 2) or line.number[i - 2] or line.low[i - 2] in grammar["quantifier"])
            ):
                i -= 2
                continue
            break
        if line.place[i] and not line.place[i - 1] and line.head[i - 1] >= 0 and line.head[i] < 0:
            break  # "the tires | front right": a place does not follow the noun it belongs to
        if line.number[i] and not line.number[i - 1] and line.noun[i - 1] and not line.person[i - 1]:
            break  # "the gasket | two of them": nor does a count
        if _nominal(line, i - 1) or word in grammar["adjective"] or line.number[i - 1]:
            i -= 1
            continue
        if word == "of" and i - 2 >= floor and (_nominal(line, i - 2) or line.number[i - 2]):
            i -= 2
            continue
        break
    return i


def _nominal(line: _Line, i: int) -> bool:
    """True where the word can be the head of a noun phrase: a name, or a word of no class that we know."""
    if line.noun[i]:
        return True
    grammar, word = _grammar(), line.low[i]
    if line.trouble[i]:
        return False
    if (
        word in ("one", "ones")
        and i > 0
        and (line.place[i - 1] or (line.low[i - 1] in grammar["adjective"] and not line.number[i - 1]))
    ):
        return True  # "the old one", "the right one"
    if line.verb[i] and not _is_noun_here(line, i):
        return False
    known = (
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
    return not line.number[i] and not any(word in grammar[name] for name in known)


def _cuts(utterance: Utterance, line: _Line) -> list[int]:
    """The indices of the tokens that begin a clause, 0 first."""
    grammar, n = _grammar(), len(line.words)
    turns = _turns(utterance, line)
    cuts = [0]
    has_verb = False  # in the clause that is open
    i = 0
    while i < n:
        begin = cuts[-1]
        if i > begin and not line.glued[i]:
            at = _cut_here(line, i, begin, has_verb, turns)
            if at is not None and at > begin:
                cuts.append(at)
                has_verb = any(_finite(line, k) or _contracted(line, k) for k in range(at, i))
        if _finite(line, i) or _contracted(line, i):
            has_verb = True
        i += 1
    _move_dates(utterance, line, cuts, grammar)
    return cuts


def _contracted(line: _Line, i: int) -> bool:
    return line.low[i] in _grammar()["contracted"] and _subject_verb(line, i)


def _turns(utterance: Utterance, line: _Line) -> set[int]:
    """Tokens at which a phrase begins that turns the talk: a retraction, a lesson, a change of subject."""
    starts = {word.start: i for i, word in enumerate(line.words)}
    found = set()
    for hit in utterance.hits:
        if hit.kind == "cue" and hit.data["class"] in ("retraction", "lesson", "topic", "shot") and hit.start in starts:
            i = starts[hit.start]
            before = line.low[i - 1] if i else ""
            if before not in (
                "the",
                "a",
                "and",
                "but",
                "so",
                "to",
                "my",
                "no",
                "well",
                "oh",
                "went",
                "put",
                "not",
                "is",
                "was",
                "it",
                "i",
                "they",
                "we",
                "he",
                "she",
                "you",
            ):
                found.add(i)
            elif before in ("and", "but", "so", "no", "well", "oh") and i > 1 and line.low[i - 2] != "as":
                found.add(i - 1)
    return found


def _cut_here(line: _Line, i: int, begin: int, has_verb: bool, turns: set[int]) -> int | None:
    """The token at which a clause begins on account of token i (i or one before it), or None."""
    grammar = _grammar()
    word, gap = line.low[i], line.gap[i]
    if _HARD.search(gap):
        return i
    if _COMMA.search(gap):
        return i if _comma_cuts(line, i) else None
    if i in turns:
        return i
    before = line.low[i - 1]
    # A conjunction: cut before it where a statement of its own follows.
    if word in ("because", "cuz", "cos", "if", "unless", "although", "though", "whereas", "but"):
        return i if i - begin >= 1 and before not in ("and", "but", "as", "even", "so", "or", "see", "like") else None
    if word in (
        "and",
        "so",
        "then",
        "or",
        "plus",
        "which",
        "when",
        "while",
        "until",
        "till",
        "since",
        "where",
        "who",
        "that",
        "as",
        "before",
        "after",
    ):
        if word == "as" and (i + 1 >= len(line.low) or line.low[i + 1] not in grammar["subject"]):
            return None
        if before in ("and", "but", "so", "or", "then") or (word == "that" and before in grammar["preposition"]):
            return None
        if _statement_follows(line, i + 1, word) and (has_verb or i - begin >= 3):
            return None if word in ("that", "as") and before in grammar["reporting"] else i
        return None
    lead = i - 1
    while lead > begin and line.low[lead] in (
        "now",
        "then",
        "also",
        "maybe",
        "just",
        "today",
        "tonight",
        "again",
        "yes",
    ):
        lead -= 1
    if line.low[lead] in grammar["coordinator"] or before in grammar["subordinator"]:
        return None  # the cut, if any, was before the conjunction
    if word == "it" and before in (
        "of",
        "for",
        "with",
        "to",
        "from",
        "at",
        "into",
        "behind",
        "under",
        "on",
        "about",
        "near",
        "like",
    ):
        return None
    # A subject pronoun with its verb.
    if (
        _subject_verb(line, i)
        and word not in ("that", "this", "which", "who", "what", "one", "these", "those")
        and not _relative(line, i, begin, has_verb)
    ):
        if before in grammar["reporting"] or before in ("to", "for", "with", "of"):
            return None
        return i if has_verb or i - begin >= 2 else None
    if (
        word in ("that", "this", "one", "these", "those", "what")
        and _subject_verb(line, i)
        and has_verb
        and not _needs_object(line, i - 1)
    ):
        return None if word == "one" and (line.place[i - 1] or before in grammar["adjective"]) else i
    if (
        word in grammar["opener"]
        and has_verb
        and before not in grammar["reporting"]
        and before not in ("not", "to", "do", "can't", "as", "just")
        and word not in ("instead", "besides", "turned", "turns", "finally", "well", "also", "sorry")
    ):
        return i
    if word == "no" and has_verb and not _needs_object(line, i - 1) and line.verb[i - 1] not in ("be", "aux"):
        return i
    if word == "not" and has_verb and i + 1 < len(line.low) and not line.verb[i + 1] and not _needs_object(line, i - 1):
        return i
    if (
        word in grammar["bare"]
        and has_verb
        and not _needs_object(line, i - 1)
        and before not in grammar["subject_any"]
        and before not in grammar["adverb"]
    ):
        return i
    # A verb of its own: with a noun phrase before it, or without any subject.
    if _finite(line, i):
        return _verb_cut(line, i, begin, has_verb)
    return None


def _comma_cuts(line: _Line, i: int) -> bool:
    """True where a statement, a value or a conjunction follows the comma before i; a mere list is not cut."""
    grammar = _grammar()
    if line.low[i] in grammar["coordinator"] or line.low[i] in grammar["subordinator"] or line.low[i] in ("no", "not"):
        return True
    for k in range(i, min(len(line.low), i + 14)):
        if k > i and (_HARD.search(line.gap[k]) or _COMMA.search(line.gap[k])):
            break
        if _finite(line, k) or line.number[k] or line.trouble[k] or line.low[k] in grammar["contracted"]:
            return True
    return False


def _statement_follows(line: _Line, i: int, conjunction: str) -> bool:
    """True where a statement begins at i: a subject with a verb, or a verb that goes on with the subject of before."""
    grammar, n = _grammar(), len(line.low)
    while i < n and (
        line.low[i] in ("also", "then", "now", "so", "maybe", "just", "even", "of", "course", "not", "still", "i")
        and not _subject_verb(line, i)
    ):
        i += 1
    if i >= n or _HARD.search(line.gap[i]) or line.low[i] in grammar["coordinator"]:
        return False
    if _subject_verb(line, i):
        return True
    if (
        conjunction in ("and", "or", "but", "so", "then", "plus", "which", "who", "that", "yet")
        and line.verb[i]
        and line.verb[i] != "ing"
        and not line.noun[i]
    ):
        return not (
            line.verb[i] in ("base", "s")
            and i + 1 < n
            and _nominal(line, i + 1)
            and line.low[i + 1] not in grammar["determiner"]
        )
    for k in range(i, min(n, i + 8)):
        if k > i and (
            line.gap[k].strip(" '’/-")
            or line.low[k] in grammar["coordinator"]
            or line.low[k] in ("because", "to", "i", "with", "when", "while", "if")
        ):
            return False
        if k > i and _finite(line, k):
            return _subject_before(line, k, i) == i or line.noun[k - 1] or line.low[i] in grammar["determiner"]
    return False


def _relative(line: _Line, i: int, begin: int, has_verb: bool) -> bool:
    """True for "i read" in "the spec i read online is sixteen": a clause inside the subject."""
    if line.low[i] in _grammar()["contracted"] or not _nominal(line, i - 1):
        return False
    seen = False
    for k in range(i + 1, min(len(line.low), i + 8)):
        if line.gap[k].strip(" '’/-"):
            return False
        if line.low[k] in _grammar()["subject_any"] or line.low[k] in _grammar()["coordinator"]:
            return False
        if _finite(line, k):
            if seen and line.verb[k] in ("be", "s", "aux") and _subject_before(line, k, i + 1) is None:
                return not has_verb or line.low[max(begin, i - 2)] in ("the", "a", "that")
            seen = True
    return False


def _verb_cut(line: _Line, i: int, begin: int, has_verb: bool) -> int | None:
    """Where the clause begins whose verb stands at i: at its subject, at the verb itself, or None if it goes on with the open one."""
    grammar = _grammar()
    before = line.low[i - 1]
    lead = i - 1
    while lead > begin and line.low[lead] in grammar["adverb"] and not line.noun[lead]:
        lead -= 1
    if (
        line.verb[lead] in ("be", "aux")
        or line.low[lead] in grammar["contracted"]
        or before in ("to", "not", "never", "got", "get")
    ):
        return None
    if (
        line.trouble[i] is False
        and line.low[i] in ("fixed", "done", "sorted", "cured")
        and any(line.low[k].startswith("call") for k in range(begin, i))
    ):
        return None  # "calling the overheating fixed"
    if (
        before in ("it", "them", "that", "this", "those")
        and i - 2 >= begin
        and (line.verb[i - 2] or line.low[i - 2] in grammar["preposition"])
    ):
        return (
            i
            if line.verb[i] == "past"
            and has_verb
            and not line.trouble[i]
            and line.low[i - 2] not in grammar["reporting"]
            else None
        )
    if before in grammar["subject_any"] and not _nominal(line, i - 1):
        return None
    subject = _subject_before(line, i, begin)
    if subject is None:
        return i if line.verb[i] == "past" and has_verb and not _participle(line, i) and not line.trouble[i] else None
    if subject <= begin:
        return None
    if line.glued[subject]:
        return i if line.verb[i] == "past" and has_verb and not line.trouble[i] else None
    if _needs_object(line, subject - 1):
        # The noun phrase belongs to what stands before it ("cleaned the posts | put it back"), or only its first half does
        # ("put in the cheap stuff | drain plug went back").
        if line.low[subject - 1] in grammar["causative"]:
            return None  # "getting the wheels balanced"
        if (half := _last_thing(line, i, subject)) is not None:
            return half
        if line.low[i] in grammar["subjectless"] and has_verb:
            return i
        if line.verb[i] != "past" or not has_verb or _participle(line, i) or line.trouble[i]:
            return None
        return i if line.deed[i] or line.low[subject - 1] not in grammar["reporting"] else None
    if has_verb or any(line.number[begin:subject]) or subject - begin >= 4:
        return subject
    return None


def _last_thing(line: _Line, verb: int, floor: int) -> int | None:
    """Where the last known thing before the verb begins, with its places, if a noun of another kind stands before it."""
    i = verb - 1
    while i > floor and line.low[i] in _grammar()["adverb"]:
        i -= 1
    if line.head[i] < 0:
        return None
    while i > floor and line.head[i - 1] == line.head[i]:
        i -= 1
    while i > floor and (line.place[i - 1] or line.low[i - 1] in _grammar()["adjective"]):
        i -= 1
    return i if i > floor + 1 and _nominal(line, i - 1) and line.head[i - 1] < 0 and not line.person[i - 1] else None


def _participle(line: _Line, i: int) -> bool:
    """True where a past form may be a participle that describes the noun before it ("a screw found in the tread")."""
    return i + 1 < len(line.low) and line.low[i + 1] in ("by", "from") and line.noun[i - 1]


def _move_dates(utterance: Utterance, line: _Line, cuts: list[int], grammar: dict[str, frozenset[str]]) -> None:
    """A day named right before a clause about the future opens that clause ("next saturday | i am getting" is one)."""
    starts = [word.start for word in line.words]
    for when in utterance.dates:
        first, last = bisect_left(starts, when.start), bisect_left(starts, when.end)
        if (
            last not in cuts
            or first in cuts
            or first == 0
            or last >= len(line.low)
            or _HARD.search(line.gap[last])
            or line.glued[first]
        ):
            continue
        ahead = line.low[last : last + 4]
        future = any(
            w
            in ("will", "going", "gonna", "want", "need", "have", "getting", "doing", "plan", "i'll", "we'll", "should")
            for w in ahead
        )
        if future and when.kind != "past" and line.low[first - 1] not in grammar["preposition"]:
            cuts[cuts.index(last)] = first
    cuts.sort()


# ---- scope ----------------------------------------------------------------------------------------------------------


def split(utterance: Utterance, others: Sequence[str] = (), machine: str = "") -> list[Clause]:
    """The clauses of an utterance whose hits are found, with the scope of each.

    `others` are names of machines that are not this one; `machine` is this one's own name or description ("old van").
    """
    if not utterance.tokens:
        return []
    line = _line(utterance)
    cuts = _isolate_retracted(utterance, line, _cuts(utterance, line))
    clauses = []
    for begin, end in zip(cuts, [*cuts[1:], len(line.words)], strict=True):
        words = line.words[begin:end]
        clauses.append(Clause(words[0].start, words[-1].end, utterance.text[words[0].start : words[-1].end], words))
    _Scope(utterance, line, clauses, cuts, others, frozenset(stem(w) for w in machine.lower().split())).mark()
    return clauses


def _isolate_retracted(utterance: Utterance, line: _Line, cuts: list[int]) -> list[int]:
    """Cuts added so that a value taken back stands alone: "... at | seventy six | no hang on that is the old coupe | ninety five"."""
    starts = [word.start for word in line.words]
    added = set(cuts)
    values = [(q.start, q.end) for q in utterance.quantities] + [(x.start, x.end) for x in utterance.numbers]
    for hit in utterance.hits:
        if hit.kind != "cue" or hit.data["class"] != "retraction":
            continue
        at = bisect_left(starts, hit.start)
        if at not in added:
            continue
        before = [v for v in values if v[1] <= hit.start and hit.start - v[1] <= 3]
        after = [v for v in values if v[0] >= hit.end]
        if before and after:
            value = min(before)
            if bisect_left(starts, value[0]) > 0:
                added.add(bisect_left(starts, value[0]))
            following = bisect_left(starts, min(after)[0])
            after_cut = next((c for c in sorted(added) if c > at), len(starts))
            if following < after_cut and not line.glued[following] and following - at <= 10:
                added.add(following)
    return sorted(added)


@dataclass
class _Scope:
    """Marks the clauses of one utterance."""

    utterance: Utterance
    line: _Line
    clauses: list[Clause]
    cuts: list[int]
    others: Sequence[str]
    own: frozenset[str] = frozenset()
    _inside: list[list[Hit]] = field(default_factory=list)
    _low: list[list[str]] = field(default_factory=list)
    _verb: list[list[str]] = field(default_factory=list)

    def mark(self) -> None:
        hits = sorted(
            (h for h in self.utterance.hits if h.kind in ("cue", "person", "machine", "component", "fastener")),
            key=lambda h: h.start,
        )
        corrected = [
            (x.start, x.end) for x in (*self.utterance.numbers, *self.utterance.quantities) if x.end - x.start > 12
        ]
        hits = [h for h in hits if not any(a < h.start and h.end < b for a, b in corrected)]
        starts = [h.start for h in hits]
        bounds = [*self.cuts, len(self.line.words)]
        self._inside = [
            [h for h in hits[bisect_left(starts, c.start) : bisect_left(starts, c.end)] if h.end <= c.end]
            for c in self.clauses
        ]
        self._low = [self.line.low[bounds[k] : bounds[k + 1]] for k in range(len(self.clauses))]
        self._verb = [self.line.verb[bounds[k] : bounds[k + 1]] for k in range(len(self.clauses))]
        for k, clause in enumerate(self.clauses):
            classes = {h.data["class"] for h in self._inside[k] if h.kind == "cue"}
            self._simple(k, clause, classes)
        self._carry_hypothesis()
        self._retract()
        self._machines()

    def _simple(self, k: int, clause: Clause, classes: set[str]) -> None:
        low, verbs = self._low[k], self._verb[k]
        clause.negated = "negation" in classes
        clause.suspected = "suspicion" in classes
        clause.hypothetical = any(
            self._imagined(k, h) for h in self._inside[k] if h.kind == "cue" and h.data["class"] == "hypothesis"
        )
        clause.planned = bool({"plan", "obligation"} & classes)
        past = [
            i for i, v in enumerate(verbs) if v == "past" or low[i] in ("was", "were", "had", "did", "didn't", "didnt")
        ]
        clause.past = bool(past) and not clause.planned
        clause.quoted = bool({"document", "hearsay"} & classes)
        clause.question = self._asks(k, clause, classes)

    def _around(self, hit: Hit) -> tuple[list[str], list[str]]:
        """The three words before and after a hit, whatever clause they are in."""
        starts = [word.start for word in self.line.words]
        first, last = bisect_left(starts, hit.start), bisect_left(starts, hit.end)
        return self.line.low[max(0, first - 3) : first], self.line.low[last : last + 3]

    def _imagined(self, k: int, cue: Hit) -> bool:
        """True where a word of hypothesis makes its clause imagined, and is not a failure ("it would not start"), a purpose ("so i would
        have light"), a report ("like i said i would") or a "whether" ("see if it drips")."""
        before, after = self._around(cue)
        last = before[-1] if before else ""
        said = bool({"said", "says", "promised", "figured", "told"} & set(before[-3:]))
        if cue.name == "if":
            return (
                last
                not in (
                    "see",
                    "as",
                    "wonder",
                    "wondering",
                    "know",
                    "check",
                    "checked",
                    "checking",
                    "sure",
                    "tell",
                    "and",
                    "even",
                )
                or last == "and"
            )
        if "would" in cue.name or "'d" in cue.name:
            if said or (last == "so" and cue.name.startswith(("i would", "i'd"))) or "so" in before[-2:]:
                return False
            if (
                after[:1] == ["like"]
                or after[:1] in (["say"], ["bet"], ["guess"], ["put"])
                or after[:2] == ["put", "money"]
            ):
                return False
            if after[:1] == ["not"] and "i" not in (*before[-1:], *cue.name.split()) and not self._if_near(k):
                return False
        return True

    def _if_near(self, k: int) -> bool:
        return any("if" in self._low[j] for j in range(max(0, k - 1), min(len(self._low), k + 2)))

    def _asks(self, k: int, clause: Clause, classes: set[str]) -> bool:
        """True for a question: by its mark, or by its word order where it opens the talk or a sentence."""
        after = self.utterance.text[clause.end : clause.end + 2].strip()
        if after.startswith("?"):
            return True
        if k > 0 and not self._new_sentence(k):
            return False
        first = next((h for h in self._inside[k] if h.kind == "cue" and h.data["class"] == "question"), None)
        lead = (
            self._low[k][: self._low[k].index(first.name.split()[0])]
            if first and first.name.split()[0] in self._low[k]
            else []
        )
        return (
            first is not None
            and len(lead) <= 3
            and all(w in _grammar()["opener"] or w in ("so", "and", "hey", "now") for w in lead)
        )

    def _carry_hypothesis(self) -> None:
        """What hangs on an "if" is imagined too, and so is what a "would" goes on to ("i would pull the wheel | and look at it")."""
        for k in range(1, len(self.clauses)):
            clause, before, low = self.clauses[k], self.clauses[k - 1], self._low[k]
            if clause.hypothetical or not before.hypothetical or self._broken(k):
                continue
            if "if" in self._low[k - 1][:3]:
                settled = (
                    k >= 2
                    and not self._broken(k - 1)
                    and (self.clauses[k - 2].planned or self.clauses[k - 2].hypothetical)
                )
                clause.hypothetical = not clause.past and (not settled or low[0] == "then")
            elif low[0] in ("and", "or") and not clause.past and (self._verb[k][1:2] or [""])[0] == "base":
                clause.hypothetical = True

    def _broken(self, k: int) -> bool:
        gap = self.utterance.text[self.clauses[k - 1].end : self.clauses[k].start]
        return bool(_HARD.search(gap)) or any(
            h.kind == "cue" and h.data["class"] in ("topic", "lesson") for h in self._inside[k][:2]
        )

    def _retract(self) -> None:
        """Values and statements taken back: what stands right before the words that take it back, and those words."""
        for k in range(1, len(self.clauses)):
            clause, before = self.clauses[k], self.clauses[k - 1]
            cue = next(
                (
                    h
                    for h in self._inside[k]
                    if h.kind == "cue" and h.data["class"] == "retraction" and h.start - clause.start <= 4
                ),
                None,
            )
            if cue is None:
                continue
            around = self._around(cue)
            if around[1][:1] in (["to"], ["for"], ["until"], ["till"], ["on"], ["about"], ["i"]) or around[0][-1:] in (
                ["can't"],
                ["cant"],
                ["to"],
                ["will"],
                ["i"],
                ["would"],
            ):
                continue
            if cue.name in _grammar()["take_back"]:
                before.retracted = clause.retracted = True
                continue
            values = [
                v
                for v in (*self.utterance.quantities, *self.utterance.numbers)
                if before.start <= v.start and v.end <= before.end
            ]
            new_here = [v for v in self.utterance.numbers if v.start >= cue.end and v.end <= clause.end]
            new_next = k + 1 < len(self.clauses) and any(
                self.clauses[k + 1].start <= v.start <= self.clauses[k + 1].start + 12 for v in self.utterance.numbers
            )
            if (
                values
                and (new_here or new_next)
                and max(v.end for v in values) >= before.end - 3
                and len(before.tokens) <= 4 + 2 * len(values)
            ):
                before.retracted = True
                clause.retracted = not new_here

    # ---- whose machine ----

    def _machines(self) -> None:
        """Whose machine each clause is about. A machine that only comes up is left with the next "i", "my" or sentence; one that the
        speaker works on stays until the own machine is named or the talk turns."""
        away = strong = False
        for k, clause in enumerate(self.clauses):
            low = self._low[k]
            words = set(low)
            third_own = bool(words & _grammar()["third_possessive"])
            third = bool(words & _grammar()["third_person"])
            first = bool(words & _grammar()["first_person"])
            says = self._other_named(k)
            if self._own_named(k):
                away = strong = False
            elif says and clause.retracted:
                clause.other_machine = True
                continue
            elif says:
                away = True
                strong = strong or (says == "worked on" and not clause.hypothetical)
            elif away and self._topic(k):
                away = strong = False
            elif away and not strong:
                if (self._new_sentence(k) and not third) or (first and not third_own) or self._deed_of_mine(k):
                    away = False
            elif not away and not first and (self._their_thing(k) or self._their_habit(k)):
                away = True
            clause.other_machine = away

    def _deed_of_mine(self, k: int) -> bool:
        """A clause that starts with a past action and no subject is the speaker's own doing ("... his does that | cleaned the jets")."""
        start = self.cuts[k]
        return self.line.deed[start] and k > 0 and not {"and", "but"} & set(self._low[k][:1])

    def _their_habit(self, k: int) -> bool:
        """ "he runs forty to one", "he had done a hundred and sixty on a tank": what a third person's machine does, in numbers."""
        low = self._low[k]
        at = next((i for i, w in enumerate(low[:4]) if w in ("he", "she", "he's", "hes", "she's", "shes")), None)
        if at is None or {"it", "my", "our", "me", "us"} & set(low):
            return False
        clause = self.clauses[k]
        number = any(clause.start <= v.start and v.end <= clause.end for v in self.utterance.numbers)
        return number and bool(set(low[at : at + 4]) & _grammar()["owning"])

    def _new_sentence(self, k: int) -> bool:
        return k > 0 and bool(_HARD.search(self.utterance.text[self.clauses[k - 1].end : self.clauses[k].start]))

    def _topic(self, k: int) -> bool:
        clause = self.clauses[k]
        return any(
            h.kind == "cue" and h.data["class"] == "topic" and h.start - clause.start <= 8 for h in self._inside[k]
        )

    def _own_named(self, k: int) -> bool:
        """Own machine, in the person's words: "mine", "my truck"; not where it is compared with or denied ("not mine", "same as mine")."""
        for h in self._inside[k]:
            if h.kind == "cue" and h.data["class"] == "own_machine":
                before = self.utterance.text[max(0, h.start - 14) : h.start].lower().split()
                if not before or before[-1] not in (
                    "not",
                    "as",
                    "like",
                    "than",
                    "to",
                    "if",
                    "of",
                    "isn't",
                    "ain't",
                    "with",
                    "unlike",
                    "of",
                ):
                    return True
            if h.kind in ("machine", "component", "fastener"):
                before = self._around(h)[0]
                if h.kind == "machine" and before[-1:] == ["the"] and h.name in self.own:
                    return True
                if {"my", "our"} & set(before) and not {
                    "his",
                    "her",
                    "their",
                    "not",
                    "than",
                    "as",
                    "like",
                    "and",
                } & set(before):
                    at = max(i for i, w in enumerate(before) if w in ("my", "our"))
                    between = self.utterance.text[max(0, h.start - 60) : h.start].lower().rsplit(before[at], 1)[-1]
                    if not any(
                        p.kind == "person" and p.end <= h.start and h.start - p.end <= len(between)
                        for p in self._inside[k]
                    ) and (h.kind != "machine" or len(before) - at == 1):
                        return True
        return False

    def _other_named(self, k: int) -> str:
        """ "" or how another machine is named here: "worked on" where the speaker's hands are on it, "named" where it only comes up."""
        clause, low = self.clauses[k], self._low[k]
        text = clause.text.lower()
        if any(name and re.search(rf"\b{re.escape(name.lower())}\b", text) for name in self.others):
            return "worked on"
        hits = self._inside[k]
        named = any(h.kind == "cue" and h.data["class"] == "other_machine" for h in hits)
        for person in (h for h in hits if h.kind == "person" and h.data.get("owner")):
            following = [
                h
                for h in hits
                if h.start >= person.end
                and h.start - person.end <= 30
                and h.kind in ("machine", "component", "fastener")
            ]
            if following and not self._is_plural_subject(person):
                named = True
        for machine in (h for h in hits if h.kind == "machine"):
            if " ".join(self._around(machine)[1]).startswith(
                ("next to", "in front", "behind", "ahead of", "beside", "parked next", "over from", "that was parked")
            ):
                named = True
        for person in (h for h in hits if h.kind == "person" and not h.data.get("owner")):
            tail = self.utterance.text[person.end : person.end + 50].lower().split()
            tail = tail[2:] if tail[:2] in (["of", "mine"], ["of", "ours"], ["at", "work"]) else tail
            if (
                tail[:1]
                and tail[0] in ("runs", "gets", "drives", "uses", "has")
                and any(0 <= v.start - person.end <= 45 and v.end <= clause.end for v in self.utterance.numbers)
            ):
                named = True
            if tail[:2] in (
                ["has", "a"],
                ["has", "an"],
                ["runs", "a"],
                ["drives", "a"],
                ["got", "a"],
                ["had", "a"],
                ["owns", "a"],
            ) and any(h.kind == "machine" and 0 <= h.start - person.end <= 40 for h in hits):
                named = True
            if re.search(
                r"\bhelp(?:ed|ing)?\b[^.]{0,12}$",
                self.utterance.text[max(clause.start, person.start - 20) : person.start].lower(),
            ):
                return "worked on"
        for at in range(self.cuts[k], self.cuts[k] + len(low) - 1):
            word = self.line.words[at].text
            if (
                word.endswith(("'s", "’s"))
                and word[:-2].lower() not in _grammar()["not_head"]
                and not self.line.noun[at]
                and not self.line.verb[at]
            ):
                following = self.line.head[at + 1]
                if following >= 0 and self.utterance.hits[following].kind == "machine":
                    named = True  # "dave's truck"
        if not named:
            return ""
        mine = (
            any(w in ("i", "we", "i've", "ive") for w in low)
            or low[0] in ("spent", "helped", "worked", "went", "was")
            or self.line.deed[self.cuts[k]]
        )
        deed = any(v in ("past", "ing") for v in self._verb[k])
        return "worked on" if mine and deed else "named"

    def _is_plural_subject(self, person: Hit) -> bool:
        """ "the guys truck" owns; "my kids drive" does not: a verb right after says that the plural is the subject."""
        after = bisect_left([w.start for w in self.line.words], person.end)
        return (
            after < len(self.line.words)
            and self.line.verb[after] in ("be", "aux", "past", "base")
            and self.line.head[after] < 0
        )

    def _their_thing(self, k: int) -> bool:
        """ "his rear main seal": a possessive of a third person right before a thing or a machine."""
        for h in self._inside[k]:
            if h.kind in ("machine", "component", "fastener"):
                before = self.utterance.text[max(0, h.start - 30) : h.start].lower().split()
                if any(w in _grammar()["third_possessive"] for w in before[-3:]):
                    return True
        return False


def _own_subject(low: list[str]) -> bool:
    return any(w in ("i", "it", "that", "there", "the") for w in low[1:3])


# ---- names of components as they were said --------------------------------------------------------------------------


def components(utterance: Utterance, clause: Clause) -> list[Hit]:
    """The parts that a clause speaks of, named in full as they were said.

    `name` is the phrase without determiners, counts and places ("transfer case front output seal" keeps a place that stands inside
    it); `data` has `where` (the place words, "" if none), `head` (the last word's stem), `entry` (the lexicon's name of the
    longest known part of it, or None), `known` (False where only the grammar says that it is a part), and `system`, `safety`.
    """
    line = _line_of(utterance)
    starts = [word.start for word in line.words]
    begin, end = bisect_left(starts, clause.start), bisect_left(starts, clause.end)
    places = {
        i
        for h in utterance.hits
        if h.kind == "place"
        for i in range(bisect_left(starts, h.start), bisect_left(starts, h.end))
    }
    measured = _measured(utterance)
    things = [
        h
        for h in utterance.hits
        if h.kind in _THINGS and clause.start <= h.start and h.end <= clause.end and not _overlaps(h, measured)
    ]
    sayings = [(h.start, h.end) for h in utterance.hits if h.kind == "healthy"]
    things = [h for h in things if not any(a < h.start and h.end <= b for a, b in sayings)]
    blocked = _tokens_of(starts, measured, begin, end) | {
        i
        for h in utterance.hits
        if h.kind in ("tool", "machine", "meter", "place_of", "person")
        and clause.start <= h.start
        and h.end <= clause.end
        for i in range(bisect_left(starts, h.start), bisect_left(starts, h.end))
    }
    liquid = {bisect_left(starts, h.start) for h in things if h.kind == "consumable"}
    used: set[int] = set()
    found: list[Hit] = []
    for hit in things:
        first, last = bisect_left(starts, hit.start), bisect_left(starts, hit.end) - 1
        if first in used:
            continue
        last = _grow_right(line, last, end, blocked, liquid, hit.kind == "consumable")
        first = _grow_left(line, first, begin, places, blocked, used)
        used.update(range(first, last + 1))
        found.append(_named(utterance, line, first, last, places, things))
    found.extend(_unknown(utterance, line, begin, end, places, blocked, used, things))
    found.sort(key=lambda h: h.start)
    return found


def _tokens_of(starts: list[int], spans: list[tuple[int, int]], begin: int, end: int) -> set[int]:
    """The tokens between begin and end that lie in the spans."""
    first = bisect_left(spans, (starts[begin] - 60, 0)) if begin < len(starts) else 0
    found: set[int] = set()
    for a, b in spans[first:]:
        if end - 1 < len(starts) and a > starts[end - 1]:
            break
        found.update(range(max(begin, bisect_left(starts, a)), min(end, bisect_left(starts, b))))
    return found


def _line_of(utterance: Utterance) -> _Line:
    known = _LINES.get(id(utterance))
    if known is not None and known[0] is utterance and known[1] == (len(utterance.hits), len(utterance.tokens)):
        return known[2]
    line = _line(utterance)
    _LINES.clear()  # one is enough: readers ask for the clauses of one utterance after another
    _LINES[id(utterance)] = (utterance, (len(utterance.hits), len(utterance.tokens)), line)
    return line


_LINES: dict[int, tuple[Utterance, tuple[int, int], _Line]] = {}


def _grow_right(line: _Line, last: int, end: int, blocked: set[int], liquid: set[int], wet: bool) -> int:
    """The last word of the name: head nouns that follow belong to it ("fridge plug | fuse holder", "radiator | screen")."""
    heads = lexicon.load().heads
    while (
        last + 1 < end
        and last + 1 not in blocked
        and not line.gap[last + 1].strip(" '’/-")
        and not line.number[last + 1]
    ):
        following = line.low[last + 1]
        if (line.head[last + 1] >= 0 and last + 1 not in liquid and (not wet or stem(following) in heads)) or (stem(following) in heads and line.verb[last + 1] in ("", "base")):
            last += 1
        else:
            break
    return last


def _grow_left(line: _Line, first: int, begin: int, places: set[int], blocked: set[int], used: set[int]) -> int:
    """The first word of the name: nouns, places and qualities before it belong to it, back to a determiner, a verb or a preposition."""
    grammar = _grammar()
    kept = (
        "new",
        "old",
        "fresh",
        "used",
        "other",
        "same",
        "whole",
        "last",
        "next",
        "first",
        "second",
        "third",
        "good",
        "bad",
        "real",
        "extra",
        "another",
    )
    while first > begin and first - 1 not in used and first - 1 not in blocked and not line.gap[first].strip(" '’/-"):
        word = line.low[first - 1]
        if line.trouble[first - 1] and line.head[first - 1] < 0:
            break  # "dead transfer pump": what is wrong is no part of the name
        if first in places and line.head[first] < 0 and first - 1 not in places and word not in grammar["adjective"]:
            break  # "that was the heat | left wheel bearing"
        if first - 1 in places or line.head[first - 1] >= 0 or (word in grammar["adjective"] and word not in kept and not line.number[first - 1]) or (
            _nominal(line, first - 1)
            and not line.verb[first - 1]
            and word not in kept
            and not _adjunct(word)
            and not line.number[first - 1]
        ):
            first -= 1
        else:
            break
    return first


def _adjunct(word: str) -> bool:
    """True for words of no class that are no part of a name either (days, measures, qualities)."""
    grammar = _grammar()
    return (
        word in grammar["not_head"] or word in grammar["quantifier"] or word in grammar["adverb"] or word.endswith("ly")
    )


def _named(utterance: Utterance, line: _Line, first: int, last: int, places: set[int], things: Iterable[Hit]) -> Hit:
    where: list[str] = []
    at = first
    while at < last and (
        at in places
        or line.low[at] in ("new", "fresh")
        or line.low[at] in _grammar()["quantifier"]
        or line.low[at] in _grammar()["determiner"]
    ):
        if at in places and line.head[at] < 0 and line.low[at] not in ("the", "of", "at", "in", "on"):
            where.append(line.low[at])
        elif at in places and line.head[at] >= 0:
            break
        at += 1
    start, end = line.words[at].start, line.words[last].end
    inside = [h for h in things if h.start >= start and h.end <= end]
    best = max(inside, key=lambda h: (h.end - h.start, h.end), default=None)
    final = next((h for h in reversed(inside) if h.end == end), best)
    spoken = line.low[at : last + 1]
    if spoken[-1].endswith("'s"):
        spoken = [*spoken[:-1], spoken[-1][:-2]]  # "the motor's burnt"
    name = " ".join(spoken)
    data = {
        "where": " ".join(where),
        "head": stem(line.low[last]),
        "entry": final.name if final else None,
        "system": next((h.data.get("system") for h in (final, best) if h and h.data.get("system")), None),
        "safety": any(bool(h.data.get("safety")) for h in inside),
        "known": bool(inside),
        "class": final.data.get("class") if final else None,
    }
    return Hit(final.kind if final else "component", name, line.words[first].start, end, data)


def _unknown(
    utterance: Utterance,
    line: _Line,
    begin: int,
    end: int,
    places: set[int],
    blocked: set[int],
    used: set[int],
    things: list[Hit],
) -> list[Hit]:
    """Noun phrases that no entry names, where the grammar says they are parts: they end in a head noun, or something is done to them,
    wrong with them or needed of them ("the frobnicator is leaking", "replaced the doohickey", "need a widget")."""
    grammar, heads = _grammar(), lexicon.load().heads
    marked = [h for h in utterance.hits if clause_has(h, line, begin, end)]
    starts = [word.start for word in line.words]
    busy = {i for h in marked for i in range(bisect_left(starts, h.start), bisect_left(starts, h.end))}
    found = []
    i = begin
    while i < end:
        if (
            i in used
            or i in blocked
            or not _nominal(line, i)
            or line.verb[i]
            or _adjunct(line.low[i])
            or len(line.low[i]) < 3
            or i in busy
        ):
            i += 1
            continue
        first = last = i
        while (
            last + 1 < end
            and last + 1 not in used
            and last + 1 not in blocked
            and last + 1 not in busy
            and _nominal(line, last + 1)
            and not line.verb[last + 1]
            and not _adjunct(line.low[last + 1])
            and not line.gap[last + 1].strip(" '’/-")
        ):
            last += 1
        first = _grow_left(line, first, begin, places, blocked, used)
        i = last + 1
        before = line.low[first - 1] if first > begin else ""
        determined = (
            before in grammar["determiner"] or before in grammar["quantifier"] or before in ("new", "old", "fresh")
        )
        head = stem(line.low[last])
        if (
            head in grammar["not_head"]
            or line.low[last] in grammar["not_head"]
            or line.low[last] in grammar["adjective"]
            or last in places
            or line.trouble[last]
        ):
            continue
        if head in heads or (determined and _spoken_of(line, first, last, begin, end, marked)):
            found.append(_named(utterance, line, first, last, places, things))
    return found


def clause_has(hit: Hit, line: _Line, begin: int, end: int) -> bool:
    """True where an action, a symptom or a cue of need lies between the tokens begin and end."""
    if not (line.words[begin].start <= hit.start and hit.end <= line.words[end - 1].end):
        return False
    return hit.kind in ("action", "symptom") or (
        hit.kind == "cue" and hit.data["class"] in ("needed", "ordered", "bought")
    )


def _spoken_of(line: _Line, first: int, last: int, begin: int, end: int, marked: list[Hit]) -> bool:
    """True where an action or a need stands right before the phrase, or a symptom right after it."""
    for hit in marked:
        if hit.kind == "symptom" and not hit.data.get("noun"):
            between = [w for w in line.words[last + 1 : end] if w.end <= hit.start]
            if (
                hit.start > line.words[last].end
                and len(between) <= 3
                and any(w.lower in _grammar()["be"] or w.lower in _grammar()["auxiliary"] for w in between)
            ):
                return True
            if hit.start > line.words[last].end and not between and hit.data.get("tense") in ("s", "past", "ing"):
                return True
        elif hit.end <= line.words[first].start:
            between = [w for w in line.words[begin:first] if w.start >= hit.end]
            if len(between) <= 2 and all(
                w.lower in _grammar()["determiner"]
                or w.lower in _grammar()["adjective"]
                or w.lower in _grammar()["quantifier"]
                for w in between
            ):
                return True
    return False
