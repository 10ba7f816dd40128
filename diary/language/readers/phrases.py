"""Things named in an utterance: noun phrases with their count, newness, owner and place.

A thing is found by the lexicon where it knows the word, and by its surroundings where it does not ("replaced the
flux widget"):
an article or number opens it, small words and verbs close it (`data/readers/phrases.toml`). Unpunctuated speech has
no commas, so
two known names side by side are two things unless the second is a plain head word ("glow plug" + "relay").
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from diary.language.text import fold, stem, verb_forms
from diary.language.types import Clause, Hit, Token, Utterance

DATA = Path(__file__).parents[1] / "data" / "readers"
PARTS_OF_MACHINE = ("component", "fastener", "consumable")
NAMED = (*PARTS_OF_MACHINE, "tool", "machine", "meter", "place_of")
_STOP_MARK = re.compile(r"[.!?;\n](?:\s|$)|\s[-–—]\s|—")
_COMMA = re.compile(r"[,:()\"“”+&]")


@cache
def table(name: str) -> dict[str, Any]:
    """The data file `data/readers/NAME.toml`."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def group(name: str) -> frozenset[str]:
    """A word list of `phrases.toml`, folded."""
    raw = table("phrases")
    words = raw["words"][name] if name in raw["words"] else raw[name]
    return frozenset(fold(w) for w in words)


def folded(word: str) -> str:
    """The word as the readers compare it: `text.fold`, and its plural likewise ("tyres" is "tires")."""
    single = fold(word)
    if single == word.lower() and word.endswith("s") and fold(word[:-1]) != word[:-1].lower():
        return fold(word[:-1]) + "s"
    return single


@dataclass(slots=True)
class Word:
    """A token with what the readers ask of it: folded form, break before it (0 none, 1 comma, 2 full stop), thing
    and action on it.
    """

    token: Token
    fold: str
    gap: int
    number: float | None = None
    thing: Hit | None = None  # covers this word
    place: Hit | None = None
    action: Hit | None = None  # starts at this word
    symptom: Hit | None = None
    person: Hit | None = None
    clause: Clause | None = None
    colon: bool = False  # a colon before it: what follows is what was announced
    plus: bool = False  # "+" or "&" before it
    unit: bool = False  # the unit of a quantity: it opens no name

    @property
    def tense(self) -> str:
        """The tense of the action that begins here, or an empty string."""
        return str(self.action.data.get("tense") or "") if self.action is not None else ""

    @property
    def axis(self) -> str:
        """What sort of place the word names ("corner", "side"), or an empty string."""
        return str(self.place.data.get("axis") or "") if self.place is not None else ""

    @property
    def names(self) -> str:
        """The lexicon's kind of the thing that the word is of, or an empty string."""
        return self.thing.kind if self.thing is not None else ""


@dataclass(slots=True)
class Thing:
    """A noun phrase: words `first` to `last` (inclusive), the name without articles and numbers."""

    first: int
    last: int
    start: int
    end: int
    name: str
    known: bool  # the lexicon holds it as a part, fastener or consumable
    hit: Hit | None
    count: int | None = None
    article: str = ""
    new: bool = False
    old: bool = False
    spare: bool = False
    other: bool = False  # somebody else's
    vessel: str = ""
    place: str = ""
    plural: bool = False
    bare: bool = False  # neither article nor number before it
    words: tuple[str, ...] = ()
    place_only: bool = False  # a corner that stands for its tire
    loose: bool = False  # known by its head word only ("the feeder strap")

    @property
    def full(self) -> str:
        """The name with the place that follows it: "left rear wheel cylinder"."""
        extra = [w for w in self.place.split() if w not in self.name.split()]
        return " ".join([*extra, self.name])

    @property
    def kind_or_part(self) -> str:
        """The lexicon's kind; a name known by its head word counts as a component."""
        return "component" if self.loose else self.kind

    @property
    def kind(self) -> str:
        """The lexicon's kind of it, or an empty string."""
        return self.hit.kind if self.hit else ""


class PhraseList:
    """Phrases to look for at a word, the longest first; found by their first word, so that a long list costs no
    more than a short one.
    """

    def __init__(self, phrases: Iterable[str]) -> None:
        self.by_first: dict[str, list[tuple[str, ...]]] = {}
        for phrase in sorted({tuple(folded(w) for w in p.split()) for p in phrases}, key=lambda p: (-len(p), p)):
            self.by_first.setdefault(phrase[0], []).append(phrase)

    def at(self, t: Talk, k: int, gaps: int = 1) -> tuple[str, ...]:
        """The longest phrase that stands at word k, with no break stronger than `gaps` inside; () if none."""
        for phrase in self.by_first.get(t.words[k].fold, ()) if 0 <= k < len(t.words) else ():
            if all(t.fold(k + n) == w and t.gap(k + n) <= gaps for n, w in enumerate(phrase[1:], start=1)):
                return phrase
        return ()


@cache
def phrase_list(name: str, *path: str) -> PhraseList:
    """The phrases that stand in the data file NAME under the keys of `path`."""
    raw: Any = table(name)
    for key in path:
        raw = raw[key]
    return PhraseList(raw)


@dataclass(slots=True)
class Talk:
    """An utterance's words and things, laid out for the readers."""

    utterance: Utterance
    words: list[Word]
    things: list[Thing] = field(default_factory=list)
    at: dict[int, Thing] = field(default_factory=dict)  # by first word
    ending: dict[int, Thing] = field(default_factory=dict)  # by last word
    ends: list[int] = field(default_factory=list)  # last character of each word, for `index`
    firsts: list[int] = field(default_factory=list)  # first word of each thing
    memo: dict[str, Any] = field(default_factory=dict)  # what a reader worked out once for the whole utterance

    def fold(self, i: int) -> str:
        """The folded word at i, or "" outside."""
        return self.words[i].fold if 0 <= i < len(self.words) else ""

    def gap(self, i: int) -> int:
        """The break before word i; 2 outside."""
        return self.words[i].gap if 0 < i < len(self.words) else 2

    def index(self, char: int) -> int:
        """The word that holds a character, or begins after it."""
        return bisect_right(self.ends, char)

    def between(self, first: int, last: int) -> list[Thing]:
        """The things that open at words first to last."""
        return self.things[bisect_left(self.firsts, first) : bisect_right(self.firsts, last)]

    def before(self, k: int, reach: int | None = None) -> list[Thing]:
        """The things that end before word k, in order; with `reach`, only those that open within that many words of
        it.
        """
        found = self.between(0 if reach is None else k - reach, k - 1)
        return found[:-1] if found and found[-1].last >= k else found

    def text(self, first: int, last: int) -> str:
        """The note's own text from word first to word last, inclusive."""
        return self.utterance.text[self.words[first].token.start : self.words[last].token.end]

    def phrase(self, i: int, *phrase: str) -> bool:
        """True where the folded words from i on are `phrase`."""
        return all(self.fold(i + n) == w for n, w in enumerate(phrase))


_last: tuple[str, int, Talk] | None = None


def talk(utterance: Utterance) -> Talk:
    """The utterance laid out; the last one is kept, for several readers ask in turn."""
    global _last
    if _last is None or _last[1] != id(utterance) or _last[0] != utterance.text or _last[2].utterance is not utterance:
        _last = (utterance.text, id(utterance), _lay_out(utterance))
    return _last[2]


def _lay_out(utterance: Utterance) -> Talk:
    words: list[Word] = []
    before = 0
    for token in utterance.tokens:
        between = utterance.text[before : token.start]
        stopped = "\n" in between or (_STOP_MARK.search(between + " ") and between.strip())
        gap = 2 if stopped else 1 if _COMMA.search(between) else 0
        words.append(
            Word(
                token,
                folded(token.lower),
                gap if words else 2,
                colon=":" in between,
                plus="+" in between or "&" in between,
            )
        )
        before = token.end
    starts = {w.token.start: i for i, w in enumerate(words)}
    for hit in utterance.hits:
        i = starts.get(hit.start)
        if i is None:
            continue
        if hit.kind == "action":
            words[i].action = words[i].action or hit
        span = range(i, len(words))
        for j in span:
            if words[j].token.start >= hit.end:
                break
            word = words[j]
            if hit.kind in NAMED and (word.thing is None or word.thing.end - word.thing.start < hit.end - hit.start):
                word.thing = hit
            elif hit.kind == "place":
                word.place = word.place or hit
            elif hit.kind == "symptom":
                word.symptom = word.symptom or hit
            elif hit.kind == "person":
                word.person = word.person or hit
    where = [word.token.start for word in words]
    for number in utterance.numbers:
        for i in range(bisect_left(where, number.start), bisect_left(where, number.end)):
            word = words[i]
            word.number = number.value
            if word.thing is not None and word.thing.kind in PARTS_OF_MACHINE and word.thing.end <= number.end:
                words[i].thing = None  # "fifteen point nine" names no point
    for quantity in utterance.quantities:
        if quantity.dimension in ("money", "currency", "price", "count"):
            continue
        for i in range(bisect_right(where, quantity.start), bisect_left(where, quantity.end)):
            unit = words[i]
            if unit.thing is not None and unit.thing.end <= quantity.end:
                unit.thing = None  # "1.2 bar" names no bar
            unit.unit = unit.thing is None
    small = table("phrases")["small_numbers"]
    for word in words:
        if word.number is None and word.fold not in group("not_numbers"):
            value = small.get(word.fold)
            if value is None and re.fullmatch(r"\d{1,3}", word.fold):
                value = float(word.fold)
            word.number = value
    for word in words:
        if word.action is None and word.thing is None and word.fold.startswith("re") and len(word.fold) > 6:
            word.action = _again(word.token)
        elif (
            word.action is None
            and word.thing is None
            and word.fold != word.token.lower
            and (short := _action_of(word.fold))
        ):
            word.action = Hit("action", short.name, word.token.start, word.token.end, short.data)  # "chk", "chg"
        action = word.action
        if action is not None and len(str(action.data.get("verb")).split()) > 3:  # "put a bar on"
            for other in words:
                if action.start < other.token.start and other.token.end < action.end:
                    other.thing = None
        if action is None or word.thing is None or action.start > word.thing.start or action.end <= word.thing.end:
            continue
        for other in words:  # "wire wheeled the cover"
            if action.start <= other.token.start < action.end:
                other.thing = None
    for i, word in enumerate(words):
        if (
            word.action is not None
            and word.thing is not None
            and word.thing.kind == "tool"
            and i
            and words[i - 1].fold in ("to", "i", "we")
        ):
            word.thing = None  # "had to drill out the studs"
        elif word.tense == "past" and word.action is not None and _noun_in_s(word):
            word.action = None  # "six shots in each nipple"
        elif word.tense == "base" and i and words[i - 1].fold == "of":
            word.action = None  # "a smear of copper grease"
    _compounds(words)
    at = [word.token.start for word in words]
    for clause in utterance.clauses:
        for word in words[bisect_left(at, clause.start) : bisect_left(at, clause.end)]:
            word.clause = word.clause or clause
    result = Talk(utterance, words, ends=[word.token.end for word in words])
    _chunk(result)
    return result


@lru_cache(maxsize=4096)
def _action_of(word: str) -> Hit | None:
    from diary.language.lexicon import load

    return next((h for h in load(None).find(word) if h.kind == "action" and h.start == 0 and h.end == len(word)), None)


def _again(token: Token) -> Hit | None:
    """An action done once more: "resoldered" is "soldered"."""
    plain = _action_of(token.lower[2:])
    return Hit("action", plain.name, token.start, token.end, plain.data) if plain else None


@cache
def _compound_forms() -> dict[tuple[str, str], tuple[str, str, str]]:
    """Verbs of two words whose second takes the endings: ("wire", "brushed") → verb, tense, class."""
    found: dict[tuple[str, str], tuple[str, str, str]] = {}
    for verb, action in table("work")["compound"].items():
        first, second = verb.split()
        for form, tense in verb_forms(second).items():
            found[(folded(first), folded(form))] = (verb, tense, action)
    return found


def _compounds(words: list[Word]) -> None:
    """Mark verbs of two words ("pressure washed") as actions."""
    forms = _compound_forms()
    for word, following in pairwise(words):
        known = forms.get((word.fold, following.fold))
        if known is None or following.gap:
            continue
        verb, tense, action = known
        data = {"class": action, "verb": verb, "tense": tense, "particle": None}
        word.action = Hit("action", action, word.token.start, following.token.end, data)
        following.action = word.thing = following.thing = None


def _chunk(t: Talk) -> None:
    i = 0
    while i < len(t.words):
        found = _thing_at(t, i)
        if found is None:
            i += 1
            continue
        _corner(t, found)
        if t.things and _recounts(t.things[-1], found):
            t.things[-1].count, i = found.count, found.last + 1  # "two seals no three seals"
            continue
        t.things.append(found)
        t.firsts.append(found.first)
        t.at[found.first] = found
        t.ending[found.last] = found
        i = found.last + 1


def _recounts(said: Thing, again: Thing) -> bool:
    """True where a thing names the one right before it again, with a "no" and another count."""
    same = said.words and again.words and stem(said.words[-1]) == stem(again.words[-1])
    return bool(same) and again.article == "no" and again.first == said.last + 1 and None not in (said.count, again.count)


def _corner(t: Talk, thing: Thing) -> None:
    """A corner named alone, where tires are spoken of, is the tire there: "the right rear", "both fronts"."""
    if (
        thing.known
        or thing.hit is not None
        or not all(t.words[k].place for k in range(thing.first, thing.last + 1) if t.fold(k) in thing.words)
    ):
        return
    place = t.words[thing.last].place
    if (
        place is None
        or place.data.get("axis") not in ("corner", "end")
        or not (any(w.fold in group("tire_talk") for w in t.words) or (t.fold(thing.first - 1) in group("tire_verbs")))
    ):
        return
    if place.data.get("axis") == "end" and t.fold(thing.last) not in ("fronts", "rears"):
        return
    thing.plural = t.fold(thing.last).endswith("s")
    spelled = next((w.token.lower.rstrip("s") for w in t.words if w.fold in ("tire", "tires")), "tire")
    where = " ".join(w[:-1] if w in ("fronts", "rears") else w for w in thing.words)
    thing.name = f"{where} {spelled}{'s' if thing.plural else ''}"
    thing.words = (*where.split(), "tires" if thing.plural else "tire")
    thing.known = thing.place_only = True


def _is_stop(t: Talk, i: int) -> bool:
    word = t.words[i]
    return word.fold in group("stop") or word.fold.endswith(("n't", "'ll", "'re", "'ve", "'d"))


def _thing_at(t: Talk, i: int) -> Thing | None:
    """The thing that opens at word i, if one does."""
    words, n = t.words, len(t.words)
    if words[i].unit and words[i].number is None and stem(words[i].fold) not in table("phrases")["vessels"]:
        return None
    first, count, article, vessel = i, None, "", ""
    other = fresh = False
    k = i
    while k < n and (k == i or t.gap(k) == 0):
        word = words[k]
        vessel_here = stem(word.fold) in table("phrases")["vessels"] and t.fold(k + 1) == "of" and not t.gap(k + 1)
        if word.thing and word.thing.kind in NAMED and word.thing.start >= word.token.start and not vessel_here:
            break
        if word.fold in group("others") or (word.person and word.person.data.get("owner")):
            other, article = True, "his"
            if word.person:
                while k + 1 < n and words[k + 1].token.start < word.person.end:
                    k += 1
        elif word.fold in group("articles"):
            article = word.fold
            if word.fold in ("a", "an", "another", "one"):
                count = 1 if count is None else count
        elif (
            word.fold in ("number", "cylinder", "no")
            and k + 2 < n
            and words[k + 1].number is not None
            and not t.gap(k + 1)
            and not t.gap(k + 2)
        ):
            if not (words[k + 2].thing or _heads(t.fold(k + 2))):
                break
            k += 1  # "number three injector": which, not how many
        elif word.fold == "them" and k == i and k + 1 < n and not t.gap(k + 1) and words[k + 1].names in PARTS_OF_MACHINE:
            article = "the"  # "went over them bolts"
        elif word.fold in group("before_articles"):
            count = 2 if word.fold == "both" else count
        elif word.number is not None and t.fold(k + 1) == "of" and t.fold(k + 2) in group("articles") | group("others"):
            count = int(word.number) if float(word.number).is_integer() else None
            k += 1  # "four of its terminals"
        elif word.number is not None and (skip := _measured_of(t, k)):
            whole = word.number if float(word.number).is_integer() else None
            k += skip
            vessel = stem(t.fold(k - 1))
            count = int(whole) if whole and table("phrases")["vessels"][vessel] else count
        elif word.number is not None and (skip := _rating(t, k)):
            k += skip  # "a ten amp fuse", "40 amp fuse holders": a size, not a count
        elif word.number is not None and t.fold(k + 1) == "x" and float(word.number).is_integer() and not t.gap(k + 1):
            count, k = int(word.number), k + 1  # "2x wiper blades"
        elif word.number is not None and _plain_count(t, k):
            count = int(word.number)
        elif (
            word.fold in group("new")
            and k + 1 < n
            and t.words[k + 1].number is not None
            and (skip := _rating(t, k + 1))
        ):
            fresh, k = True, k + 1 + skip
        elif (
            stem(word.fold) in table("phrases")["vessels"]
            and (article or count is not None or k == i)
            and (t.fold(k + 1) == "of" or stem(word.fold) in ("dozen", "couple") or _pair_before(t, k))
        ):
            vessel = stem(word.fold)
            held = table("phrases")["small_numbers"].get(vessel)
            count = held if held else count if table("phrases")["vessels"][vessel] else None
            k += 1 if t.fold(k + 1) == "of" else 0
        elif (
            k > i
            and (word.fold in group("new") | group("describing") or word.symptom is not None)
            and (t.fold(k + 2) == "of" and stem(t.fold(k + 1)) in table("phrases")["vessels"])
        ):
            fresh = word.fold in group("new")
        elif word.number is not None and t.fold(k + 1) == "of" and not t.gap(k + 1):
            count = int(word.number) if float(word.number).is_integer() else None
            k += 1
        else:
            break
        k += 1
    opened = k > i
    body: list[int] = []
    known_hit: Hit | None = None
    last, unknown = -1, 0
    new, old, spare = fresh, False, False
    while k < n and (k == first or t.gap(k) == 0 or (not body and not opened)):
        word = words[k]
        hit = word.thing if word.thing and word.thing.kind in NAMED else None
        if hit and hit.start >= word.token.start:
            end = k
            while end + 1 < n and words[end + 1].token.start < hit.end:
                end += 1
            if known_hit is None and body and any(t.fold(b) in group("not_parts") and not words[b].place for b in body):
                break  # "the cheap stuff | drain plug went in"
            if (
                article in ("a", "an")
                and not vessel
                and end > k
                and word.fold in group("spare")
                and _plural_word(t, end)
            ):
                # "as a spare | tires were ...": the run-on made one name of two
                for j in range(k + 1, end + 1):
                    words[j].thing = Hit(hit.kind, hit.name, words[k + 1].token.start, hit.end, hit.data)
                body.append(k)
                last = k
                break
            if known_hit is not None and (
                not (end == k and _heads(word.fold)) or stem(word.fold) == stem(t.fold(last))
            ):
                break
            if body and known_hit is None and article in ("a", "an") and _plural_word(t, end) and not vessel:
                break  # "as a spare" runs on into "tires were"
            known_hit = hit if known_hit is None or hit.kind in PARTS_OF_MACHINE else known_hit
            body.extend(range(k, end + 1))
            last, k = end, end + 1
            continue
        if word.fold in ("one", "ones") and body and t.fold(k - 1) in group("old") | group("describing"):
            body.append(k)  # "the old one"
            last = k
            break
        if (word.number is not None and not word.place) or (word.unit and body):
            break
        if (
            word.action
            and not word.place
            and not _noun_verb(t, k)
            and not _describes(t, k, bool(body) or opened)
            and not _names(t, k, known_hit)
        ):
            break
        if word.symptom and not word.symptom.data.get("noun") and (body or not opened):
            break
        if (word.fold in group("articles") and word.fold not in group("inside")) or word.fold in table("work")["typed"]:
            break
        if _is_stop(t, k):
            if known_hit is not None or word.fold not in group("inside"):
                break
        elif known_hit is not None and not (_heads(word.fold) or (word.fold == "set" and _names(t, k, known_hit))):
            break
        if word.fold in group("new"):
            new = True
        if word.fold in group("old"):
            old = True
        if word.fold in group("spare"):
            spare = True
        if word.person and not word.person.data.get("owner"):
            break
        if not body and not opened and hit is None and len(word.fold) > 4 and word.fold.endswith("ed"):
            break  # an unknown verb: "smeared grease on it"
        body.append(k)
        last = k
        if known_hit is None:
            unknown += 1
            if unknown > 5:
                break
        k += 1
    while body and known_hit is None and t.fold(body[-1]) in group("inside") and not words[body[-1]].place:
        body.pop()
    if not body:
        return None
    last = body[-1]
    kept = [b for b in body if t.fold(b) not in group("describing") | group("new") | group("articles")]
    if known_hit is not None or len(kept) > 1:
        kept = [b for b in kept if t.fold(b) not in group("old") or t.fold(b) == "dead"] or kept
    if not kept:
        return None
    names = [words[b].token.lower for b in kept]
    if names[-1].endswith("'s"):
        names[-1] = names[-1][:-2]
    name = " ".join(names)
    hit_for = known_hit
    known = hit_for is not None and hit_for.kind in PARTS_OF_MACHINE
    if not known and names[-1] in group("attributes") and (opened or len(names) > 1):
        known = True  # what one checks or sets on a part: "the level", "chain tension"
    clause = words[first].clause
    leads = (
        clause is not None and clause.start == words[first].token.start and t.fold(last + 1) not in group("stop_heads")
    )
    loose = not known and hit_for is None and (opened or new or leads) and _lexicon_head(names[-1])
    if (
        loose
        and (len(names) > 1 or names[-1] not in group("common_heads"))
        and not {folded(n) for n in names} & group("not_parts")
    ):
        known = True
    else:
        loose = False
    if len(names) == 1 and names[0] in ("spring", "fall") and t.fold(first - 1) in group("before_season"):
        known, hit_for = False, None
    if all(fold(w) in group("old") | group("standing_for") for w in names):
        known = False
    plural = fold(names[-1]) != stem(names[-1]) and not words[last].token.lower.endswith("'s")
    if (
        plural
        and hit_for is not None
        and not hit_for.name.endswith("s")
        and t.fold(last + 1) in ("in", "on", "out", "at")
        and not opened
    ):
        plural = True
    thing = Thing(
        first,
        last,
        words[first].token.start,
        words[last].token.end,
        name,
        known,
        hit_for,
        count,
        article,
        new,
        old,
        spare,
        other,
        vessel,
        "",
        plural,
        not opened,
        tuple(folded(w) for w in names),
    )
    if (times := _times(t, last + 1)) is not None:
        thing.count, thing.last, thing.end = times[0], times[1], words[times[1]].token.end
    thing.place = _place_after(t, thing.last + 1)
    thing.loose = loose
    return thing


def _measured_of(t: Talk, k: int) -> int:
    """How many further words "eight inches of" or "one point one quarts of" takes from the number at word k; 0
    where it is not one.
    """
    j = k
    while j < len(t.words) and t.words[j].number is not None and j - k < 5 and (j == k or not t.gap(j)):
        j += 1
    holds = table("phrases")["vessels"].get(stem(t.fold(j)))
    measured = holds is False or (holds is True and j < len(t.words) and t.words[j].unit)  # "eight inches", "two quarts"
    if measured and t.fold(j + 1) == "of" and not t.gap(j) and not t.gap(j + 1):
        return j + 1 - k
    return 0


def _rating(t: Talk, k: int) -> int:
    """How many further words a size takes that begins at word k and has a noun behind it ("ten amp" fuse); 0 where
    there is none.
    """
    j = k
    while j < len(t.words) and t.words[j].number is not None and j - k < 4 and (j == k or not t.gap(j)):
        j += 1
    if t.fold(j) not in group("sizes") or t.gap(j) or j + 1 >= len(t.words) or t.gap(j + 1):
        return 0
    after = t.words[j + 1]
    return j - k if after.thing is not None or _heads(after.fold) else 0


def _plural_word(t: Talk, k: int) -> bool:
    return fold(t.words[k].token.lower) != stem(t.words[k].token.lower) and not t.words[k].token.lower.endswith("'s")


def _plain_count(t: Talk, k: int) -> bool:
    """A number that counts what follows: a small whole one, not part of a longer number or a measurement."""
    word = t.words[k]
    if word.number is None or not float(word.number).is_integer() or not 0 < word.number <= 60:
        return False
    if k + 1 >= len(t.words) or t.gap(k + 1) or (t.words[k + 1].number is not None and t.words[k + 1].fold != "one"):
        return False
    if k and t.words[k - 1].number is not None and not t.gap(k):
        return False
    start, end = word.token.start, word.token.end
    named = t.words[k + 1].thing  # "2 cup washers", "three pin plugs": the unit is part of the name
    return not any(
        q.start <= start and q.end > end and q.dimension not in ("count",)
        for q in t.utterance.quantities
        if named is None or named.start < end or named.end <= q.end
    )


def _noun_in_s(word: Word) -> bool:
    """A plural that only looks like a verb's past: "shots"."""
    assert word.action is not None
    single = word.action.end == word.token.end
    return single and word.fold.endswith("s") and not word.fold.endswith("ss") and word.fold[:-1] == stem(word.fold)


def _pair_before(t: Talk, k: int) -> bool:
    """ "pair wiper blades": a pair with no "of", right before a known plural."""
    if stem(t.fold(k)) != "pair" or t.gap(k + 1) or k + 1 >= len(t.words):
        return False
    return t.words[k + 1].thing is not None or t.words[k + 1].place is not None


def _times(t: Talk, k: int) -> tuple[int, int] | None:
    """The count that stands behind a thing, and its last word: "plugs x4", "washers qty 2", "bolts 8 off"."""
    if k >= len(t.words) or t.gap(k) == 2:
        return None
    if found := re.fullmatch(r"x(\d{1,2})", t.fold(k)):
        return int(found[1]), k
    number = t.words[k + 1].number if k + 1 < len(t.words) and not t.gap(k + 1) else None
    if t.fold(k) in ("qty", "quantity", "x") and number is not None and float(number).is_integer():
        return int(number), k + 1
    counted = t.words[k].number
    if counted is not None and t.fold(k + 1) == "off" and t.gap(k + 1) == 0 and t.gap(k + 2) and float(counted).is_integer():
        return int(counted), k + 1
    return None


def _heads(word: str) -> bool:
    """True for words that head a part's name whatever stands before ("bracket", "bolts")."""
    return word in group("heads")


def _lexicon_head(word: str) -> bool:
    """True where the lexicon, or our own list, gives the word as the head of parts' names."""
    from diary.language.lexicon import load

    return stem(word) in load(None).heads or folded(word) in group("heads")


def _describes(t: Talk, k: int, opened: bool) -> bool:
    """A participle used as an adjective: "the welded bracket", "a rebuilt carb"; also actions named by a noun
    ("clamp").
    """
    word = t.words[k]
    if word.action is None:
        return True
    tense = word.action.data.get("tense")
    follows: Word | None = t.words[k + 1] if k + 1 < len(t.words) and not t.gap(k + 1) else None
    if tense == "past":
        before = t.fold(k - 1)
        return before in group("articles") and bool(follows and (follows.thing or _heads(follows.fold)))
    return opened and bool(
        follows and (follows.thing or _heads(follows.fold)) and follows.fold not in group("articles")
    )


def _noun_verb(t: Talk, k: int) -> bool:
    """A verb's plain form that opens a name: "rebuild kit", "seal kit", "repair panel"."""
    word = t.words[k]
    tense = word.action.data.get("tense") if word.action else None
    return tense == "base" and word.fold in group("noun_verbs") and not t.gap(k + 1) and _heads(t.fold(k + 1))


def _names(t: Talk, k: int, known: Hit | None) -> bool:
    """A word that is a verb elsewhere but here heads a name ("fan clamp", "door seal")."""
    if t.fold(k) == "set" and known is not None:  # "a race set and a seal"; but "the pads set to ..."
        return t.fold(k + 1) not in group("articles") | group("after_set")
    return _heads(t.fold(k)) and (known is not None or (k > 0 and t.fold(k - 1) in group("articles")))


def _place_after(t: Talk, k: int) -> str:
    """The place that stands behind a thing: "on the left rear", "up front"."""
    if t.fold(k) not in group("before_place") or t.gap(k):
        return ""
    k += 1
    while t.fold(k) in ("the", "my", "in", "at") and not t.gap(k):
        k += 1
    if k < len(t.words) and t.words[k].place is not None and not t.gap(k):
        j = k
        parts = []
        while j < len(t.words) and t.words[j].place and not t.gap(j):
            parts.append(t.words[j].token.lower)
            j += 1
        if j < len(t.words) and t.words[j].names == "component" and not t.gap(j):
            return ""
        return " ".join(p for p in parts if p not in ("side", "sides", "hand", "both"))
    return ""
