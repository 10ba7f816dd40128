"""Plans told without a verb of intention: by a day, a distance or a shop beside a job ("gasket tonight", "do sat").

Each finder knows one form of saying and gives the intents it finds; `readers/plans.py` adds them to its own. A form
counts only with a day still to come, a distance to go or a shop to do it, and only where a part or a job of the
machine stands in it or was last spoken of. Words are in `data/readers/plans.toml` under `[agenda]`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache, lru_cache

from diary.language.readers.deeds import PRONOUNS, antecedent
from diary.language.readers.intents import (
    Intent,
    component_before,
    condition_named,
    distance_named,
    phrase_end,
    refused,
    size_at,
    verb_at,
    when_named,
)
from diary.language.readers.phrases import PhraseList, Talk, Thing, folded, group, phrase_list, table, talk
from diary.language.types import Utterance, When


def told(u: Utterance) -> list[Intent]:
    """Every intent of the forms below, in no order."""
    t = talk(u)
    found: list[Intent] = []
    for first, last in _parts(t):
        found.extend(_verbless(t, u, first, last))
        found.extend(_to_a_shop(t, u, first, last))
        found.extend(_listed(t, u, first, last))
        found.extend(_typed_order(t, u, first, last))
    for k in range(len(t.words)):
        found.extend(_going_on(t, u, k))
        found.extend(_fronted(t, u, k))
        found.extend(_light_order(t, u, k))
        found.extend(_thing_does(t, u, k))
        found.extend(_wants_doing(t, u, k))
        found.extend(_again_after(t, u, k))
        found.extend(_calls(t, u, k))
        found.extend(_looks(t, u, k))
        found.extend(_job_on(t, u, k))
        found.extend(_booked(t, u, k))
        found.extend(_next_due(t, u, k))
        found.extend(_reminded(t, u, k))
        found.extend(_put_down(t, u, k))
        found.extend(_that_is_day(t, u, k))
        found.extend(_comes_to_do(t, u, k))
        found.extend(_a_look(t, u, k))
        found.extend(_left_for(t, u, k))
        found.extend(_is_next(t, u, k))
        found.extend(_reported(t, u, k))
    return found


# ---- words --------------------


@cache
def _words(name: str) -> frozenset[str]:
    return frozenset(folded(w) for w in table("plans")["agenda"][name])


def _list(name: str) -> PhraseList:
    return phrase_list("plans", "agenda", name)


def _is(t: Talk, k: int, name: str) -> bool:
    return t.fold(k) in _words(name)


def _size(t: Talk, k: int, name: str) -> int:
    return size_at(t, k, _list(name))


def _parts(t: Talk) -> Iterator[tuple[int, int]]:
    """First and last word of every stretch between stops or commas."""
    first = 0
    for k in range(1, len(t.words) + 1):
        if t.gap(k) >= 1:
            if first < len(t.words):
                yield first, k - 1
            first = k


def _ing(t: Talk, k: int) -> bool:
    """True for an -ing form that can be a verb here ("tearing into"), and no noun ("bearing", "morning")."""
    w = t.fold(k)
    if len(w) < 5 or not w.endswith("ing") or w in _words("ing_nouns") or w in _words("ing_idle"):
        return False
    thing = t.words[k].thing
    return thing is None or t.words[k].action is not None or _day_at(t, k + 1) is not None


# ---- days and things --------------------


def _day_at(t: Talk, k: int) -> When | None:
    """The day that is named with the words from k on."""
    if k >= len(t.words):
        return None
    while k < len(t.words) - 1 and _is(t, k, "before_day"):
        k += 1
    start = t.words[k].token.start
    return next((w for w in t.utterance.dates if w.start <= start < w.end or w.start == start), None)


def _to_come(t: Talk, u: Utterance, when: When | None) -> bool:
    """True for a day after the note's own, or the rest of it ("tonight", "this evening")."""
    if when is None or when.kind in ("past", "vague"):
        return False
    if when.until > u.at.date():
        return True
    said = u.text[when.start : when.end].lower()
    return when.day == u.at.date() and any(folded(w) in _words("still_today") for w in said.split())


def _future(t: Talk, u: Utterance, first: int, last: int) -> When | None:
    """The day to come named with the words first to last, or right beside them."""
    when = when_named(t, u, first, max(first, last)) if first < len(t.words) else None
    return when if _to_come(t, u, when) else None


def _within(t: Talk, u: Utterance, first: int, last: int) -> When | None:
    """The day to come named inside the words first to last."""
    if first >= len(t.words) or last < first:
        return None
    lo, hi = t.words[first].token.start, t.words[min(last, len(t.words) - 1)].token.end
    return next((w for w in u.dates if lo <= w.start < hi and _to_come(t, u, w)), None)


def _known(t: Talk, first: int, last: int) -> Thing | None:
    """The first part of one's own machine named with the words first to last."""
    things = t.between(first, last)
    if any(th.other for th in things):
        return None
    return next((th for th in things if th.known), None)


def _meant(t: Talk, k: int, plural: bool | None = None) -> Thing | None:
    """What a job without a name is about: the part last spoken of, within two breaths."""
    thing = antecedent(t, k, plural)
    return _whole_list(t, thing) if thing is not None and k - thing.last <= 45 else None


def _whole_list(t: Talk, thing: Thing) -> Thing:
    """A thing of a list of parts needed or bought stands for all of it: "need a hub and one pin. doing it monday"."""
    first, last = thing, thing
    while (before := _item_before(t, first)) is not None:
        first = before
    if first is thing or not _is(t, first.first - 1, "list_verbs"):
        return thing
    return replace(last, name=t.text(first.first, last.last).lower(), place="")


def _item_before(t: Talk, thing: Thing) -> Thing | None:
    """The thing that stands before this one in a list, joined by "and", "+" or a comma."""
    k = thing.first
    if t.gap(k) == 2:
        return None
    if t.gap(k) == 1 or (0 < k < len(t.words) and t.words[k].plus):
        return t.ending.get(k - 1)
    return t.ending.get(k - 2) if t.fold(k - 1) in ("and", "plus", "+") and t.gap(k - 1) < 2 else None


@lru_cache(maxsize=2048)
def _bare_verb(word: str) -> str:
    """The verb that a word is at the head of a typed line ("recheck bolts"), or an empty string."""
    from diary.language.lexicon import load

    for hit in load(None).find(f"{word} the bolts"):
        if hit.kind == "action" and hit.start == 0 and hit.end == len(word) and hit.data.get("tense") == "base":
            return word
    return ""


def _told_past(t: Talk, first: int, last: int) -> bool:
    """True where a verb of the past stands among the words."""
    for k in range(first, last + 1):
        word = t.words[k]
        if word.action is not None and word.tense == "past" and not _helped(t, k):
            if str(word.action.data.get("verb", "")).split()[0:1] == [word.fold]:
                continue  # "put", "cut": an order as well
            return True
        if _is(t, k, "told_past"):
            return True
    return False


def _helped(t: Talk, k: int) -> bool:
    """A participle under "be" or "need": "needs retorqued", "to be done"."""
    return _is(t, k - 1, "before_participle")


def _start(t: Talk, k: int) -> int:
    """The first word of the sentence, or of the last twelve words, before k."""
    first = k
    while first > 0 and t.gap(first) < 2 and k - first < 12:
        first -= 1
    return first


def _barred(t: Talk, k: int) -> bool:
    """True where scope makes the words at k no plan: asked, denied, imagined, another's machine."""
    if k >= len(t.words):
        return True
    clause = t.words[k].clause
    if clause is not None and clause.other_machine and _helper_later(t, k):
        return any(t.fold(j) in group("negation") for j in range(max(0, k - 6), k))
    if clause is not None and (clause.other_machine or clause.question or clause.retracted):
        return True
    return refused(t, k)


def _helper_later(t: Talk, k: int) -> bool:
    """True where somebody else is only a condition: "welding the step on sunday if my brother brings his set"."""
    last = phrase_end(t, k)
    for j in range(max(0, k - 4), min(last + 8, len(t.words))):
        if j > k and _is(t, j, "if_words"):
            return True
        if t.words[j].person is not None or t.fold(j) in group("others"):
            return False
    return False


def _unreal(t: Talk, first: int, k: int) -> bool:
    """The same where the subject is the thing itself: denial, "if" or "would" among the words up to k, or scope."""
    clause = t.words[k].clause
    if clause is not None and (clause.other_machine or clause.question or clause.retracted or clause.quoted):
        return True
    return any(t.fold(j) in group("negation") or _is(t, j, "imagining") for j in range(first, k + 1))


# ---- forms --------------------


def _going_on(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "i'm tearing into that pinion on thursday", "scuffing the pads tomorrow", "fitting thu", "doing it monday"."""
    if not _ing(t, k):
        return []
    before = t.fold(k - 1)
    helped = t.gap(k) >= 1 or before in _words("before_ing") or (k > 0 and _ends_day(t, u, k))
    by_shop = k > 0 and _shop_before(t, k)
    if not (helped or by_shop) or (_barred(t, k) and not by_shop):
        return []
    last = phrase_end(t, k)
    day = _within(t, u, k, last + 2)
    if day is None and _ends_day(t, u, k):
        day = _future(t, u, k, last)
    to_be = before == "be" and _is(t, k - 2, "will_be") and _known(t, k + 1, k + 1) is not None
    if day is None and not to_be:
        return []
    thing = _known(t, k + 1, last)
    if thing is None and verb_at(t, k, "ing") is not None:
        thing = next((th for th in t.between(k + 1, k + 2) if _part_by_head(th)), None)
    base = t.words[k].token.lower
    verb = verb_at(t, k, "ing")
    if thing is not None and verb is None and _is(t, k + 1, "attacking"):
        return [Intent(k, k, last, "do", thing, True, 0.76)]  # "tearing into the hub"
    if thing is not None and verb is None and not _is(t, k, "ing_travel"):
        return [Intent(k, k, last, _plain(base), thing, True, 0.78)]
    if thing is not None and thing.first - k <= 6 and not _is(t, k, "ing_travel"):
        return [Intent(k, k, last, verb[0] if verb else base, thing, False, 0.8)]
    if thing is not None:
        return []
    pronoun = t.fold(k + 1) if t.fold(k + 1) in PRONOUNS else t.fold(k + 2) if t.fold(k + 2) in PRONOUNS else ""
    one = next((x for x in range(k + 1, min(k + 6, last + 1)) if _is(t, x, "ones")), None)
    if one is not None and verb is not None and verb[0] in table("plans")["acquire"]:
        meant = _meant(t, k)  # "picking up a used one wednesday"
        return [Intent(k, k, last, verb[0], meant, True, 0.74)] if meant is not None else []
    if pronoun or _day_at(t, k + 1) is not None:
        meant = _meant(t, k, PRONOUNS.get(pronoun))
        if meant is not None and (verb is not None or _is(t, k, "ing_job")):
            return [Intent(k, k, last, verb[0] if verb else base, meant, True, 0.74)]
    return []


def _part_by_head(thing: Thing) -> bool:
    """True for a noun that heads parts' names, named with its article: "the step"."""
    return bool(thing.article) and not thing.other and not thing.kind and thing.words[-1] in group("heads")


def _plain(ing: str) -> str:
    """The verb of an -ing form: "scuffing" is "scuff", "shimming" is "shim"."""
    stem = ing[:-3]
    if re.fullmatch(r"[^aeiou]*[aeiou][^aeiouwxy]", stem) or re.fullmatch(r".*(?:[aeiou]{2}s|[cvz])", stem):
        return f"{stem}e"  # "greasing", "taping"; a short vowel would have doubled its consonant
    return stem[:-1] if len(stem) > 3 and stem[-1] == stem[-2] and stem[-1] not in "fls" else stem


def _ends_day(t: Talk, u: Utterance, k: int) -> bool:
    """True where a day to come ends right before word k."""
    end = t.words[k - 1].token.end if k else -1
    return any(w.end == end and _to_come(t, u, w) for w in u.dates)


def _shop_before(t: Talk, k: int) -> bool:
    """ "the garage is doing ...", "shop's fitting ..."."""
    j = k - 1
    while j > 0 and _is(t, j, "be"):
        j -= 1
    at = next((x for x in range(j, max(-1, j - 5), -1) if _is(t, x, "shops") or _trade_place(t, x)), None)
    if at is None or any(t.gap(x) for x in range(at + 1, k + 1)):
        return False
    return not any(t.fold(x) in group("others") or t.fold(x) in group("self") for x in range(max(0, at - 2), j + 1))


def _trade_place(t: Talk, k: int) -> bool:
    """ "the tire place", "the exhaust people"."""
    return _is(t, k, "places") and k > 0 and (t.words[k - 1].thing is not None or _is(t, k - 1, "job_nouns"))


def _fronted(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "the fuel filter i'll do tomorrow": the thing first, then intention, and a verb that lacks its object."""
    size = _size(t, k, "own_intention")
    thing = t.ending.get(k - 1)
    if not size or thing is None or not thing.known or thing.other or t.gap(k) == 2 or _barred(t, k):
        return []
    verb = verb_at(t, k + size, "base")
    if verb is None:
        return []
    after = k + size + verb[1]
    last = phrase_end(t, after - 1)
    opens = t.gap(thing.first) == 2 or t.fold(thing.first - 1) in _words("joining")
    day = _within(t, u, after - 1, min(after + 3, len(t.words) - 1))
    if _known(t, after, last) is not None or t.fold(after) in PRONOUNS:
        return []
    if day is None and not (opens and condition_named(t, after, last)):
        return []
    return [Intent(thing.first, k + size, last, verb[0], thing, True, 0.8)]


def _light_order(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "do sat", "fit tomorrow", "bleed them sun am": a verb at the head of a part of a sentence, then the day."""
    if t.gap(k) == 0 and not _is(t, k - 1, "joining"):
        return []
    verb = verb_at(t, k, "base")
    if verb is None or verb[0].split()[0] in _words("no_order") or _barred(t, k):
        return []
    j = k + verb[1]
    plural = PRONOUNS.get(t.fold(j)) if t.fold(j) in PRONOUNS else None
    if t.fold(j) in PRONOUNS:
        j += 1
    day = _day_at(t, j)
    if day is None or not _to_come(t, u, day):
        return []
    meant = _meant(t, k, plural)
    return [Intent(k, k, phrase_end(t, k), verb[0], meant, True, 0.76)] if meant is not None else []


def _verbless(t: Talk, u: Utterance, first: int, last: int) -> list[Intent]:
    """ "gasket tonite if no rain", "pan drop sun 9/27", "front pads next weekend": a part or job and a day, no verb."""
    last = next((k - 1 for k in range(first + 1, last + 1) if _is(t, k, "if_words") or _is(t, k, "asides")), last)
    while first < last and _is(t, first, "joining"):
        first += 1
    if last - first > 9:
        return []
    day = _within(t, u, first, last)
    if day is None and (after := _day_part(t, u, last + 1)) is not None:
        day, last = after  # "cv boot, thursday"
    if day is None:
        return []
    used: set[int] = {k for k in range(first, last + 1) if day.start <= t.words[k].token.start < day.end}
    thing = _known(t, first, last)
    for th in t.between(first, last):
        if not th.known and not th.other and th.last > th.first and _is(t, th.last, "job_nouns"):
            thing = thing or th  # "pan drop", "diff swap"
        if not th.known and not th.other and _named_before(t, th):
            thing = thing or th  # "bled the front circuit, back circuit tomorrow"
    if thing is not None:
        used |= set(range(thing.first, thing.last + 1))
    jobs = [k for k in range(first, last + 1) if _is(t, k, "job_nouns") and k not in used]
    if thing is None and not jobs:
        return []
    for k in range(first, last + 1):
        word = t.words[k]
        if k in used or k in jobs or _is(t, k, "verbless_small") or word.number is not None:
            continue
        if any(th.first <= k <= th.last and th.known and not th.other for th in t.between(first, last)):
            continue
        if word.place is not None or (word.action is not None and word.tense == "base"):
            continue
        return []
    bare = {w for w in used | set(jobs) if not day.start <= t.words[w].token.start < day.end}
    if not bare or _barred(t, min(bare)):
        return []
    a, b = min(bare), max(bare)
    return [Intent(first, a, last, "", thing, False, 0.72, what=t.text(a, b))]


def _day_part(t: Talk, u: Utterance, first: int) -> tuple[When, int] | None:
    """The day that alone makes up the part of a sentence from word `first` on, with the part's last word."""
    if first >= len(t.words) or t.gap(first) != 1:
        return None
    day = _day_at(t, first)
    if day is None or not _to_come(t, u, day):
        return None
    last = first
    while last + 1 < len(t.words) and t.gap(last + 1) == 0:
        last += 1
    alone = all(
        day.start <= t.words[x].token.start < day.end or (_is(t, x, "verbless_small") and t.fold(x) != "job")
        for x in range(first, last + 1)
    )
    return (day, last) if alone else None


def _named_before(t: Talk, thing: Thing) -> bool:
    """True where the same noun was the object of a deed just told, and this one is its fellow."""
    before = [th for th in t.before(thing.first, 16) if not th.other and th.words and th.words[-1] == thing.words[-1]]
    return len(thing.words) > 1 and bool(before) and _told_past(t, max(0, before[-1].first - 4), before[-1].first)


def _typed_order(t: Talk, u: Utterance, first: int, last: int) -> list[Intent]:
    """ "retorque lugs @ 50 mi", "recheck whl bolts after 50km": a verb heads a typed line, with a distance or day."""
    verb = t.words[first].fold.replace("-", "")
    if _barred(t, first) or not (_bare_verb(verb) or (t.words[first].action and t.words[first].tense == "base")):
        return []
    headed = t.ending.get(first - 1) if t.gap(first) == 1 else None
    if headed is not None and headed.known and t.gap(headed.first) >= 1 and _known(t, first, last) is None:
        end = phrase_end(t, first)  # "wheel nuts: recheck at 80 km"
        timed = _future(t, u, first, end) is not None or distance_named(t, u, first, end) is not None
        return [Intent(headed.first, first, end, verb, headed, True, 0.8)] if timed else []
    if t.words[first].action is not None:
        return []
    head = t.at.get(first)
    thing = head if head is not None and head.last > first else _known(t, first + 1, last)
    if thing is None or not thing.known or thing.other:
        return []
    end = phrase_end(t, first)
    if _future(t, u, first, end) is None and distance_named(t, u, first, end) is None:
        return []
    return [Intent(first, first, end, t.fold(first), thing, False, 0.82, what=t.text(first, thing.last))]


def _thing_does(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "goes in sat", "the ram's coming off on saturday", "they have to be on by the twenty first"."""
    size, turned = _size(t, k, "thing_goes"), 0
    if not size and (turned := _size(t, k, "turned_about")):
        size = turned  # "in it goes friday"
    if not size:
        return []
    last = phrase_end(t, k)
    day = _within(t, u, k, last + 2) or _future(t, u, k, last)
    if day is None and not _awaits(t, k):
        return []
    thing, sure, at = (_meant(t, k), 0.74, k) if turned else _subject(t, k)
    if thing is None or _barred(t, at):
        return []
    words = [t.fold(k + n) for n in range(size)]
    base = next((v for w, v in table("plans")["agenda"]["goes_as"].items() if w in words), "do")
    return [Intent(k, k, last, base, thing, True, sure)]


def _awaits(t: Talk, k: int) -> bool:
    """True where the sentence up to word k opens with what is waited for: "when the kit turns up the box comes out"."""
    first = _start(t, k)
    opener = next((j for j in range(first, k) if _is(t, j, "awaiting")), None)
    if opener is None or not (t.gap(opener) >= 1 or _is(t, opener - 1, "joining")):
        return False
    return not _told_past(t, opener, k) and any(_is(t, j, "turning_up") for j in range(opener, k))


def _subject(t: Talk, k: int) -> tuple[Thing | None, float, int]:
    """What "goes in" at word k is said of, how sure, and where its clause begins: the thing before it, or what "it",
    "they" or nothing stands for."""
    j = k - 1
    while j >= 0 and t.gap(j + 1) == 0 and _is(t, j, "between_subject"):
        j -= 1
    if j < 0 or t.gap(j + 1) > 0:
        return _meant(t, k), 0.7, j + 1
    thing = t.ending.get(j)
    if thing is not None:
        return (thing, 0.8, thing.first) if thing.known and not thing.other else (None, 0.0, k)
    if t.words[j].names == "machine":
        return None, 0.0, k
    if _is(t, j, "pronoun_subjects"):
        return _meant(t, j, True if _is(t, j, "plural_subjects") else None), 0.74, j
    if _is(t, j, "joining"):
        return _meant(t, j), 0.7, j + 1
    return None, 0.0, k


def _wants_doing(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "them bolts want going over again after a hundred miles", "the hubs need regreasing", "due a retorque at 50"."""
    size = _size(t, k, "needing")
    if not size:
        return []
    v = k + size
    while _is(t, v, "before_need"):
        v += 1
    if v >= len(t.words) or t.gap(v) == 2:
        return []
    word = t.words[v]
    thing = _known(t, v + 1, v + 3) if word.tense == "ing" else None
    if (
        thing is not None
        and word.action is not None
        and size > 2
        and str(word.action.data.get("class")) in _words("care")
    ):
        clause = word.clause  # "could do with cleaning the battery terminals"
        own = clause is None or not (clause.other_machine or clause.question)
        verb = verb_at(t, v, "ing")
        return [Intent(k, v, phrase_end(t, v), verb[0], thing, False, 0.7)] if own and verb is not None else []
    participle = word.action is not None and word.tense == "past"
    noun = _is(t, v, "need_nouns")
    if not (t.fold(v).endswith("ing") and len(t.fold(v)) > 4 and word.thing is None) and not participle and not noun:
        return []
    thing, sure, at = _subject(t, k)
    if thing is None or thing.kind_or_part not in ("component", "fastener", "consumable") or _barred(t, at):
        return []
    last = phrase_end(t, k)
    dated = _future(t, u, k, last) is not None or distance_named(t, u, k, last) is not None
    again = any(t.fold(x) == "again" for x in range(v, last + 1)) or t.fold(v).startswith("re")
    cared = word.action is not None and str(word.action.data.get("class")) in _words("care")
    dated = dated or condition_named(t, v, last) != ""
    if not (dated or again or cared or _is(t, v, "need_doing")):
        return []
    return [Intent(thing.first, v, last, t.words[v].token.lower, thing, True, sure)]


def _again_after(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "the wrench goes on it again after two hundred kilometres", "round them again in fifty"."""
    if not _is(t, k, "again"):
        return []
    last = min(phrase_end(t, k), k + 9)
    if distance_named(t, u, k, last) is None:
        return []
    if k and t.gap(k - 1) >= 1 and _bare_verb(t.fold(k - 1)) and not _barred(t, k):
        return [Intent(k - 1, k - 1, last, t.fold(k - 1), None, False, 0.74, what=t.text(k - 1, last))]
    first = max(_start(t, k), k - 8)
    if _told_past(t, first, k) or any(_ails(t, x) for x in range(first, last + 1)):
        return []
    thing = next((th for th in reversed(t.between(first, k)) if th.known and not th.other and th.kind != "tool"), None)
    meant = thing or _meant(t, k)
    if meant is None or _barred(t, k):
        return []
    return [Intent(first, k, last, "check again", meant, True, 0.7)]


def _ails(t: Talk, k: int) -> bool:
    """True for a word of trouble that is no part of a thing's name ("pinch bolt")."""
    return t.words[k].symptom is not None and t.words[k].thing is None and t.words[k].action is None


def _calls(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "i'll ring him friday" of a part: a call to the shop or to whoever sells it."""
    size = _size(t, k, "own_intention")
    if not size and not (t.gap(k) >= 1 and _is(t, k, "calling")):
        return []
    v = k + size
    while _is(t, v, "before_need"):
        v += 1
    if not _is(t, v, "calling") or _barred(t, k):
        return []
    last = phrase_end(t, v)
    called = [x for x in range(v + 1, min(v + 6, last + 1)) if _is(t, x, "called") or _is(t, x, "shops")]
    if not called:
        return []
    thing = _known(t, v + 1, last) or _meant(t, k)
    day = _future(t, u, k, last)
    asks = any(t.fold(x) in ("about", "for") for x in range(called[0], last + 1))
    if thing is None or thing.kind == "meter" or not (day or asks or condition_named(t, v, last)):
        return []
    said = f"{t.text(v, last)} about {thing.full}" if thing.first < v else t.text(v, last)
    return [Intent(k, v, last, t.fold(v), thing, True, 0.72, what=said)]


def _looks(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "i'll have a look underneath once the shed is clear", "tomorrow i'll look and see if there's a fresh spot"."""
    size = _size(t, k, "own_intention")
    look = _size(t, k + size, "looking") if size else 0
    if not look or _barred(t, k):
        return []
    v = k + size
    last = phrase_end(t, v)
    sees = next((x for x in range(v + look, min(v + look + 4, len(t.words))) if _is(t, x, "to_see")), None)
    if sees is not None:
        while last + 1 < len(t.words) and t.gap(last + 1) < 2 and last - v < 16 and not _is(t, last + 1, "joining"):
            last += 1
    if _known(t, v + look, last) is not None and sees is None:
        return []
    day, waits = _future(t, u, k, last), condition_named(t, v + look, last)
    again = any(t.fold(x) == "again" for x in range(v, last + 1))
    if sees is None and again:
        thing = _troubled(t, k) or component_before(t, k)
        dated = _future(t, u, k, last) is not None and _known(t, v + look, last) is None
        pronoun = any(t.fold(x) in PRONOUNS for x in range(v + look, min(v + look + 2, last + 1)))
        return [Intent(k, v, last, "check again", thing, True, 0.76)] if thing and dated and not pronoun else []
    if day is None and not waits and sees is None and not _is(t, v + look, "looked_where"):
        return []
    trouble = _trouble(t, k)
    thing = _known(t, v + look, last) or _meant(t, k)
    if not trouble and thing is None:
        return []
    about = trouble or (thing.full if thing is not None else "")
    text = t.text(v, last)
    return [Intent(k, v, last, "look", thing, True, 0.74, what=text if about in text else f"{text} ({about})")]


def _troubled(t: Talk, k: int) -> Thing | None:
    """The part last said to be in trouble before word k: "the gasket's weeping"."""
    for th in reversed(t.before(k, 60)):
        if th.known and not th.other:
            after = range(th.last + 1, min(th.last + 4, len(t.words)))
            if any(_ails(t, x) and t.gap(x) == 0 and (x == th.last + 1 or _is(t, x - 1, "be")) for x in after):
                return th
    return None


def _trouble(t: Talk, k: int) -> str:
    """The last symptom told of before word k, in a word."""
    for j in range(k - 1, max(-1, k - 60), -1):
        word = t.words[j]
        if word.symptom is not None:
            return word.token.lower
    return ""


def _job_on(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "the second of may for the job", "that's a job for saturday", "one for the weekend", "that's tomorrow's job"."""
    if not _is(t, k, "jobs") or _barred(t, k):
        return []
    first, last = max(_start(t, k), k - 7), min(k + 5, len(t.words) - 1)
    last = next((x - 1 for x in range(k + 1, last + 1) if t.gap(x) == 2), last)
    after = t.fold(k + 1) in _words("job_for") and _day_at(t, k + 2)
    before = t.fold(k - 1) in _words("articles") and t.fold(k - 2) == "for" and _within(t, u, first, k - 2)
    owned = k > 0 and t.fold(k) != "one" and any(
        w.start <= t.words[k - 1].token.start < w.end and _to_come(t, u, w) for w in u.dates
    )  # fmt: skip
    if not (owned or before or (after and _to_come(t, u, after))):
        return []
    if _told_past(t, first, last):
        return []
    thing = _known(t, k + 1, last) or _known(t, first, k - 1) or _meant(t, k)
    return [Intent(first, k, last, "do", thing, True, 0.72)] if thing is not None else []


def _to_a_shop(t: Talk, u: Utterance, first: int, last: int) -> list[Intent]:
    """ "that's for a licensed shop, tuesday", "it's off to the garage on monday", "one for the machine shop"."""
    at = next(
        (k for k in range(first + 1, last + 1) if _is(t, k, "shops") and t.fold(k + 1) not in _words("not_shops")), None
    )
    if at is None:
        return []
    lead = next((k for k in range(max(first, at - 9), at) if _size(t, k, "for_a_shop")), None)
    if lead is None or _unreal(t, first, lead) or _told_past(t, first, at):
        return []
    stop = last
    while stop + 1 < len(t.words) and t.gap(stop + 1) == 1 and stop - last < 6:
        stop += 1
    while stop + 1 < len(t.words) and t.gap(stop + 1) == 0 and stop - last < 6:
        stop += 1
    between = t.text(lead, at)
    day = _within(t, u, lead, stop) or _within(t, u, first, last)
    outright = _size(t, lead, "for_a_shop") and t.fold(lead) in _words("pronoun_subjects")
    if day is None and not outright:
        return []
    thing = _known(t, first, last) or _meant(t, lead)
    if thing is None:
        return []
    return [Intent(first, lead, stop, "take", thing, True, 0.74, what=f"{thing.full}: {between}")]


def _booked(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "booked garage tues 12th to replace o2 sensor", "got her booked in for the alignment friday"."""
    if not _size(t, k, "booking") or _unreal(t, max(_start(t, k), k - 4), k):
        return []
    last = min(k + 14, len(t.words) - 1)
    last = next((x - 1 for x in range(k + 1, last + 1) if t.gap(x) == 2), last)
    day = _within(t, u, k, last) or _future(t, u, max(_start(t, k), k - 5), last)
    if day is None:
        return []
    for x in range(k + 1, last):
        if t.fold(x) == "to":
            verb = verb_at(t, x + 1, "base")
            thing = _known(t, x + 2, last)
            if verb is not None and thing is not None:
                return [Intent(k, x + 1, last, verb[0], thing, False, 0.82)]
    first = max(_start(t, k), k - 6)
    if _is(t, k - 1, "ing_job") or (_is(t, k - 1, "job_nouns") and t.fold(k - 1) != "job"):
        meant = _meant(t, k - 1)
        said = t.words[k - 1].token.lower
        if meant is not None:  # "front tires have had it. fitting booked sat"
            return [Intent(k - 1, k - 1, last, "", meant, True, 0.74, what=f"{said} {meant.full}")]
    thing = _known(t, k + 1, last) or _known(t, first, k - 1)
    job = next((x for x in range(first, last + 1) if _is(t, x, "job_nouns")), None)
    if thing is None and job is not None:
        return [Intent(k, k, last, "", None, False, 0.74, what=t.text(k, last))]
    shop = any(_is(t, x, "shops") for x in range(first, last + 1))
    thing = thing or (_meant(t, k) if shop or t.fold(k) == "booked" else None)
    return [Intent(k, k, last, "have the shop do", thing, True, 0.74)] if thing is not None else []


def _next_due(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "next one at 66,902 or march 30th", "that comes due at ninety nine thousand", "good till 105,000"."""
    size = _size(t, k, "falls_due")
    clause = t.words[k].clause if size else None
    if not size or (clause is not None and (clause.other_machine or clause.question)):
        return []
    last = min(k + size + 8, phrase_end(t, k + size - 1))
    day = _within(t, u, k + size, last)
    number = next((x for x in range(k + size, min(k + size + 4, last + 1)) if t.words[x].number is not None), None)
    if (day is None and number is None) or _told_past(t, k, last):
        return []
    if day is None and number is not None and not _measured_ahead(t, u, number):
        return []
    thing = _known(t, k, k + size) or t.ending.get(k - 1)
    if thing is None or not thing.known:
        thing = _done_thing(t, k)
    if thing is None:
        return []
    job = "" if thing.words and thing.words[-1] in _words("job_nouns") else _job_of(t, thing)
    phrase = t.text(k, last)
    what = f"{thing.full} {phrase}" if not job or job in phrase else f"{thing.full} {job} {phrase}"
    return [Intent(k, k, last, "", thing, True, 0.76, what=what)]


def _done_thing(t: Talk, k: int) -> Thing | None:
    """The thing whose job has just been told ("oil change. 4.4 quarts, ... next one at"): a job's own name first."""
    for th in reversed(t.before(k, 60)):
        own = not th.other or t.fold(th.first) == "her"  # "i change her oil": the machine's
        if own and th.known and (k - th.last < 12) and th.other:
            return th
        if own and th.known and (_is(t, th.last + 1, "job_nouns") or _is(t, th.last, "job_nouns")):
            return th
    return _meant(t, k)


def _job_of(t: Talk, thing: Thing) -> str:
    return t.words[thing.last + 1].token.lower if _is(t, thing.last + 1, "job_nouns") else "due"


def _measured_ahead(t: Talk, u: Utterance, k: int) -> bool:
    """True where the number at word k can be a meter's reading or a distance: a unit of one, or a big number."""
    start = t.words[k].token.start
    if any(q.start <= start < q.end and q.unit in ("mi", "km", "h") for q in u.quantities):
        return True
    return any(n.start <= start < n.end and n.value >= 200 for n in u.numbers)


def _listed(t: Talk, u: Utterance, first: int, last: int) -> list[Intent]:
    """ "jobs for saturday: plugs, leads and the air filter", "todo: belt, wipers", "on the list for monday, brakes"."""
    size = 0
    for k in range(first, last + 1):
        if (size := _size(t, k, "list_heads")) and (t.gap(k) >= 1 or _colon_by(t, k + size)) and not _barred(t, k):
            break
    else:
        return []
    at = next((x for x in range(k + size, min(k + size + 6, len(t.words))) if t.words[x].colon), None)
    if at is None:
        at = next((x + 1 for x in range(k + size, min(k + size + 6, last)) if _is(t, x, "be")), None)
    if at is None or at >= len(t.words):
        return []
    found: list[Intent] = []
    x = at
    while x < len(t.words) and (x == at or t.gap(x) < 2) and x - at < 24:
        thing = t.at.get(x)
        if thing is None or not (thing.known or thing.article) or thing.other:
            idle = t.gap(x) > 0 or _is(t, x, "joining") or t.words[x].action is not None or x == at
            if not idle and _day_at(t, x) is None:
                break
            x += 1
            continue
        alone = x == at or t.gap(x) >= 1 or _is(t, x - 1, "joining")
        if alone and thing.known:
            found.append(Intent(thing.first, thing.first, thing.last, "do", thing, True, 0.74))
        x = thing.last + 1
    return found


def _colon_by(t: Talk, k: int) -> bool:
    """True where a colon opens a list within six words of word k."""
    return any(t.words[x].colon for x in range(k, min(k + 6, len(t.words))))


def _reminded(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "remind me about the wheel nuts", "don't let me forget the seal", "put the belt down for saturday"."""
    size = _size(t, k, "reminding")
    weak = 0 if size else _size(t, k, "remembering")
    if not (size or (weak and t.gap(k) >= 1)):
        return []
    size = size or weak
    last = phrase_end(t, k + size - 1)
    first = k + size
    while first <= last and _is(t, first, "before_reminded"):
        first += 1
    thing = t.at.get(first) or t.at.get(first - 1)
    clause = t.words[k].clause
    if thing is None or not thing.known or thing.other or (clause is not None and clause.other_machine):
        return []
    if weak and not (
        _future(t, u, k, max(last, thing.last))
        or distance_named(t, u, k, max(last, thing.last))
        or condition_named(t, thing.last + 1, last)
    ):
        return []
    if verb_at(t, thing.last + 1, "base") is not None and t.fold(thing.last + 1) not in _words("job_nouns"):
        return []
    return [Intent(k, thing.first, max(last, thing.last), "do", thing, True, 0.76)]


def _put_down(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "put the brake hoses down for the 25th", "stick wipers on the list", "pencil the belt in for may"."""
    if not _is(t, k, "putting_down") or _barred(t, k):
        return []
    thing = t.at.get(k + 1) or t.at.get(k + 2)
    if thing is None or not thing.known or thing.other:
        return []
    end = thing.last + 1
    listed = _size(t, end, "on_the_list")
    booked = _is(t, end, "down_for") and t.fold(end + 1) in ("for", "on") and _day_at(t, end + 2) is not None
    if not listed and not booked:
        return []
    return [Intent(k, k, min(end + 6, phrase_end(t, end)), "do", thing, True, 0.78)]


def _that_is_day(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "so that's tomorrow", "that's saturday sorted": the job spoken of gets its day."""
    if not _size(t, k, "that_is") or _barred(t, k + 1):
        return []
    at = k + _size(t, k, "that_is")
    while _is(t, at, "before_day"):
        at += 1
    day = _day_at(t, at)
    if day is None or not _to_come(t, u, day):
        return []
    end = next((x for x in range(at, len(t.words)) if t.words[x].token.start >= day.end), len(t.words))
    if end < len(t.words) and t.gap(end) == 0 and not _is(t, end, "after_that_day"):
        return []
    job = any(t.words[x].action is not None or _is(t, x, "job_nouns") for x in range(max(0, k - 14), k))
    meant = _meant(t, k)
    return [Intent(k, k, end - 1, "do", meant, True, 0.68)] if meant is not None and job else []


def _comes_to_do(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "the glass man is coming thursday to fit the windscreen": somebody comes on a day to do a job here."""
    if not _is(t, k, "coming_round") or _unreal(t, max(_start(t, k), k - 6), k):
        return []
    last = min(k + 12, len(t.words) - 1)
    to = next((x for x in range(k + 1, last) if t.fold(x) == "to" and verb_at(t, x + 1, "base") is not None), None)
    if (
        to is None
        or any(t.gap(x) == 2 for x in range(k + 1, to))
        or _within(t, u, max(_start(t, k), k - 6), to) is None
    ):
        return []
    verb = verb_at(t, to + 1, "base")
    thing = _known(t, to + 2, phrase_end(t, to + 1))
    if verb is None or thing is None:
        return []
    if verb[0] in ("get", "have") and not (
        thing.last + 1 < len(t.words) and t.words[thing.last + 1].tense == "past"
    ):  # "to get the pipe welded"; "to get a pipe" is bought
        return []
    return [Intent(k, to + 1, phrase_end(t, to + 1), verb[0], thing, False, 0.78)]


def _a_look(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "i want a proper look at that turbo hose this weekend", "let's give the drums a clean out next time"."""
    size = _size(t, k, "wanting")
    if not size or _barred(t, k):
        return []
    wanted = t.at.get(k + size)
    if wanted is not None and wanted.known and not wanted.other and wanted.article not in ("a", "an", "some", ""):
        particle = wanted.last + 1
        if _is(t, particle, "wanted_out") and t.gap(particle) == 0 and "give" not in t.fold(k + size - 1):
            said = "have " + t.text(wanted.first, particle)
            return [Intent(k, k, max(particle, phrase_end(t, k)), "have", wanted, False, 0.74, what=said)]
    noun = next((x for x in range(k + size, min(k + size + 8, len(t.words))) if _is(t, x, "need_nouns")), None)
    if noun is None or not any(t.fold(x) in ("a", "another") for x in range(k + size, noun)):
        return []
    last = phrase_end(t, k)
    given = "give" in (t.fold(x) for x in range(k, k + size))
    thing = _known(t, k + size, noun - 1) if given else _known(t, noun + 1, min(noun + 6, max(last, noun)))
    dated = _future(t, u, k, last) is not None or condition_named(t, noun, last) or distance_named(t, u, k, last)
    if thing is None or not (given or dated):
        return []
    said = t.fold(noun) + (f" {t.fold(noun + 1)}" if t.fold(noun + 1) in ("at", "out", "over") else "")
    return [Intent(k, noun, max(last, noun), said, thing, True, 0.76)]


def _left_for(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "leaving the lift pump for tomorrow", "i'll leave the rest till saturday"."""
    if not _is(t, k, "leaving") or _barred(t, k):
        return []
    to = next((x for x in range(k + 1, min(k + 9, len(t.words))) if _is(t, x, "left_till") and t.gap(x) < 2), None)
    if to is None or (day := _day_at(t, to + 1)) is None or not _to_come(t, u, day):
        return []
    thing = _known(t, k + 1, to - 1)
    if thing is None and t.fold(k + 1) in PRONOUNS:
        thing = _meant(t, k)
    return [Intent(k, k, min(to + 3, len(t.words) - 1), "do", thing, True, 0.74)] if thing is not None else []


def _is_next(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "the horn is next", "after that it's the turn of the heater valve"."""
    size, turn = _size(t, k, "is_next"), _size(t, k, "turn_of")
    if turn:
        thing = t.at.get(k + turn)
        if thing is not None and thing.known and not thing.other and not _unreal(t, max(0, k - 4), k):
            return [Intent(k, k, thing.last, "do", thing, True, 0.72)]
    if not size or (k + size < len(t.words) and t.gap(k + size) == 0 and not _is(t, k + size, "joining")):
        return []
    thing = t.ending.get(k - 1)
    if thing is None or t.gap(k) or not thing.known or thing.other or _unreal(t, thing.first, k):
        return []
    return [Intent(thing.first, k, k + size - 1, "do", thing, True, 0.72)]


def _reported(t: Talk, u: Utterance, k: int) -> list[Intent]:
    """ "told myself i'd look at the wiring saturday", "thought we'd do the brakes on sunday": said, with its day."""
    if not _is(t, k, "saying"):
        return []
    at = next((x for x in range(k + 1, min(k + 5, len(t.words))) if _size(t, x, "would_self")), None)
    if at is None:
        return []
    at += _size(t, at, "would_self")
    verb = verb_at(t, at, "base")
    clause = t.words[k].clause
    if verb is None or (clause is not None and (clause.other_machine or clause.question)):
        return []
    last = phrase_end(t, at)
    thing = _known(t, at + verb[1], last)
    if thing is None or _within(t, u, at, last + 3) is None or any(_is(t, x, "if_words") for x in range(at, last + 1)):
        return []
    return [Intent(k, at, last, verb[0], thing, False, 0.74)]
