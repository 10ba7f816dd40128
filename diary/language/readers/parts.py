"""Reader of parts: needed, ordered, bought or arrived, fitted, kept as a spare, with count, cost and supplier where
said.

One entry a note for each part, at the furthest state told in that note; `thread` is the entry of an earlier note
that is the same
part's life. A part is fitted when a deed puts a new thing in (not when a thing is put back), or when it is said to
be in.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from diary.language.readers.deeds import (
    Deed,
    _condition_later,
    _is_subject,
    _objects,
    antecedent,
    listed_jobs,
    mood,
)
from diary.language.readers.outcomes import told
from diary.language.readers.phrases import (
    PARTS_OF_MACHINE,
    PhraseList,
    Talk,
    Thing,
    folded,
    group,
    phrase_list,
    table,
    talk,
)
from diary.language.readers.work import came, is_fluid, refitted, same_thing, waited_for, work_action
from diary.language.text import fold, key, stem, verb_forms
from diary.language.types import Context, Draft, Quantity, Utterance

OPEN_STATES = ("needed", "ordered", "bought")


@dataclass(slots=True)
class Mention:
    """A thing said to be in a state at one place of the note."""

    thing: Thing
    state: str
    start: int
    end: int
    confidence: float
    cost: float | None = None
    supplier: str | None = None
    name: str = ""
    by_price: bool = False  # only a price says that it was bought
    also: list[Thing] = field(default_factory=list)


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "parts"."""
    t = talk(utterance)
    mentions = [m for m in _mentions(t, context) if _may_be_part(t, m)]
    _price(t, mentions)
    _suppliers(t, mentions)
    return _drafts(t, _merged(mentions), context)


# ---- finding --------------------


@cache
def _verbs() -> dict[tuple[str, ...], tuple[str, str, bool]]:
    """Every form of the verbs of getting: words → (state, tense, weak)."""
    found: dict[tuple[str, ...], tuple[str, str, bool]] = {}
    for state, kinds in table("parts")["verbs"].items():
        for strength in ("weak", "active"):
            for verb in kinds[strength]:
                for form, tense in verb_forms(verb).items():
                    found[tuple(folded(w) for w in form.split())] = (state, tense, strength == "weak")
    return found


@cache
def _verb_phrases() -> PhraseList:
    return PhraseList(" ".join(form) for form in _verbs())


def _at(t: Talk, k: int, phrases: PhraseList) -> int:
    """How many words the longest of the phrases that stands at word k has; 0 for none."""
    return len(phrases.at(t, k))


def _said(state: str) -> PhraseList:
    return phrase_list("parts", "said", state, "phrases")


def _opens_list(state: str) -> PhraseList:
    return phrase_list("parts", "lists", state)


def _paid() -> PhraseList:
    return phrase_list("parts", "price", "paid")


def _mentions(t: Talk, context: Context) -> list[Mention]:
    found = _fitted(t, context)
    found += _by_verb(t)
    found += _needed_to_get(t)
    found += _said_after(t)
    found += _out_of(t)
    found += _for_so_much(t)
    found += _spares(t)
    found += _listed(t, found)
    found += _by_word(t)
    found += _needed_said(t)
    found += _brought(t)
    found += _chained(t, found)
    found += _till_slip(t, found)
    return found


def _scope_ok(t: Talk, k: int) -> bool:
    clause = t.words[k].clause
    if clause is None:
        return True
    unreal = clause.question or (clause.hypothetical and not _condition_later(t, k, clause))
    return not (clause.other_machine or clause.retracted or unreal)


def _fitted(t: Talk, context: Context) -> list[Mention]:
    """Parts that deeds put in."""
    raw = table("work")
    found: list[Mention] = []
    for deed in told(t):
        action = work_action(t, deed)
        if (
            action is None
            or not deed.mood.done
            or deed.thing.other
            or (deed.back and deed.thing.article not in ("a", "an") and not deed.thing.new)
        ):
            continue
        replaces = (
            action in raw["replaces"]
            or deed.action == "replaced"
            or (action == "swapped" and not _moved_about(t, deed))
        )
        puts_in = action in ("fitted", *raw["fits"]) or deed.action == "fitted"
        if not (replaces or puts_in) or is_fluid(deed.thing) or deed.thing.article in ("any", "no"):
            continue
        if deed.if_awaited and not (waited_for(t, deed, context) or _arrived_here(t, deed)):
            continue
        fresh = (
            deed.thing.new
            or deed.thing.spare
            or deed.thing.article in ("a", "an", "some", "another")
            or deed.thing.count is not None
        )
        fresh = fresh or (deed.thing.bare and deed.thing.plural and deed.said == "active" and not deed.pronoun)
        awaited = (
            _open_part(deed.thing.name, context) is not None
            or _arrived_here(t, deed)
            or (deed.pronoun and came(t, deed.thing, deed.at))
        )
        outright = (
            deed.verb.split()[0] in ("fit", "install", "mount")
            and deed.said in ("active", "fragment")
            and deed.thing.kind == "component"
            and not refitted(deed.thing)
        )
        bundled = deed.said == "bare"
        if (
            puts_in
            and not replaces
            and not (fresh or awaited or bundled or outright or deed.thing.kind == "consumable")
        ):
            continue
        if (
            deed.thing.kind == "consumable"
            and deed.thing.hit is not None
            and deed.thing.hit.data.get("class") in raw["not_parts"]
        ):
            continue
        if (
            deed.thing.count is not None
            and deed.thing.article == "the"
            and not replaces
            and not awaited
            and not deed.thing.new
        ):
            continue
        if not _knowable(deed):
            continue
        if deed.said == "state" and not fresh and not awaited and not deed.pronoun and refitted(deed.thing):
            continue
        found.append(
            _mention(t, deed.thing, "fitted", deed.at, deed.last, 0.9 if deed.said in ("active", "passive") else 0.84)
        )
    return found


def _arrived_here(t: Talk, deed: Deed) -> bool:
    """True where the same note says before the deed that the thing came: "batteries came so i put them in"."""
    for thing in t.things:
        if thing.first < deed.at and same_thing(thing.name, deed.thing.name):
            size = _at(t, thing.last + 1, _said("bought"))
            if size and t.fold(thing.last + 1 + size) not in table("parts")["said"]["bought"]["not_before"]:
                return True
    return False


def _moved_about(t: Talk, deed: Deed) -> bool:
    """ "swapped the wheels left to right": the same things in other places."""
    after = max(deed.last, deed.thing.last) + 1
    if t.fold(after) == "with" and t.fold(after + 1) in ("the", "my", "its", "number", "no", "cylinder"):
        return True  # "swapped it with the horn relay to test"
    return (t.gap(after) == 0 and t.fold(after) in table("work")["moved_about"]) or deed.thing.words[-1] in group(
        "any_tire"
    )


def _knowable(deed: Deed) -> bool:
    """A deed on a thing that can be a part: known, or named outright by a strong verb."""
    if deed.thing.known:
        return True
    if deed.thing.words[-1] in group("not_parts") or deed.thing.kind in ("tool", "machine", "place_of", "meter"):
        return False
    return (
        deed.said == "active"
        and not deed.pronoun
        and (not deed.thing.bare or deed.thing.new)
        and deed.verb not in table("work")["only_known_verbs"]
    )


def _mention(t: Talk, thing: Thing, state: str, first: int, last: int, sure: float) -> Mention:
    start = min(t.words[first].token.start, thing.start)
    end = max(t.words[min(last, len(t.words) - 1)].token.end, thing.end)
    if not thing.known:
        sure -= 0.12
    elif thing.loose:
        sure -= 0.06
    return Mention(thing, state, start, end, round(sure, 2))


def _by_verb(t: Talk) -> list[Mention]:
    """ "ordered a belt", "i need two cans of cleaner", "picked up the thermostat"."""
    found: list[Mention] = []
    forms = _verb_phrases()
    for v in range(len(t.words)):
        form = forms.at(t, v, gaps=0)
        size = len(form)
        if not form:
            continue
        state, tense, weak = _verbs()[form]
        m = mood(t, v, tense in ("base", "s"))
        if not _scope_ok(t, v) or m.negated or m.unreal or _after_not(t, v):
            continue
        things, pronoun, last = _objects(t, v + size)
        stands = bool(things) and not things[0].known and bool(set(things[0].words[:1]) & group("bare_counts"))
        if (not things or stands) and not weak:
            things, pronoun, last = _counted(t, v + size)
        if things and not pronoun and not weak:
            things, last = _past_prices(t, things, last)
        if state == "needed":
            if (tense == "ing" and t.fold(v - 1) not in group("still_wanting")) or (
                m.subject in ("other", "hands") and t.fold(m.start) not in ("it", "that", "this", "it's")
            ):
                continue
            if m.subject == "other" and m.passive:
                continue
        else:
            if tense != "past" or m.planned or m.subject == "other" or (m.background and m.subject != "self"):
                continue
            if m.passive and m.thing is not None and m.thing.known:
                found.append(_mention(t, m.thing, state, v, v, 0.88))
                continue
            if not things and state == "ordered" and t.fold(v + size) in group("order_without_object"):
                recent = [th for th in t.before(v, 14) if th.new and th.known]
                if recent and m.subject in ("", "self"):
                    found.append(_mention(t, recent[-1], state, v, v, 0.8))
                    continue
            if (
                not things
                and m.subject == "self"
                and (before := t.ending.get(m.start - 1))
                and state != "needed"
                and not weak
                and before.known
                and not (before.article == "the" and t.gap(m.start) == 0)  # "the gaskets i ordered": told before
            ):
                found.append(_mention(t, before, state, m.start, v, 0.82))
                continue
        for n, thing in enumerate(things):
            one_of = state == "needed" and t.fold(last - 1) == "of"
            if pronoun and not one_of and (weak or (state == "needed" and t.fold(last) in group("pointing"))):
                continue
            if weak and not _weak_ok(t, thing, state, v, form):
                continue
            if (
                n == 0
                and not pronoun
                and _is_subject(t, thing)
                and state != "needed"
                and t.fold(thing.last + 1) not in ("was", "were", "came")
            ):
                continue
            if not (thing.known or _headed(thing)) and not pronoun and not _unknown_part(t, thing, weak):
                continue
            sure = 0.78 if weak else 0.92
            found.append(_mention(t, thing, state, v, last if pronoun else thing.last, sure))
    return found


def _counted(t: Talk, k: int) -> tuple[list[Thing], bool, int]:
    """The thing spoken of behind a bare number: "ordered three", "need one of those", "ordered the both of them"."""
    j = k
    while t.fold(j) in group("before_counted") or (t.fold(j) in group("new") and t.fold(j + 1) in ("one", "ones")):
        j += 1
    if j > k and t.at.get(j) is not None and t.at[j].known:
        return [], False, k - 1
    if t.gap(j) or j >= len(t.words):
        return [], False, k - 1
    if t.fold(j) == "both" and t.fold(j + 1) == "of":
        spoken = [th for th in t.before(k) if th.known and not th.other][-2:]
        return spoken, True, j + 2
    if t.words[j].number is None and t.fold(j) not in group("bare_counts"):
        return [], False, k - 1
    if t.fold(j + 1) == "of" and t.fold(j + 2) in ("them", "those", "these"):
        thing = antecedent(t, j, None)
        return ([thing] if thing else []), True, j + 2
    if t.words[j].number is not None and any(
        q.start <= t.words[j].token.start < q.end and q not in _money(t) for q in t.utterance.quantities
    ):
        return [], False, k - 1
    some = t.fold(j) == "some" and t.fold(j + 1) not in group("order_from") | {"off", "in"}
    thing = antecedent(t, j, None) if not some else None
    return ([thing] if thing else []), True, j


def _past_prices(t: Talk, things: list[Thing], last: int) -> tuple[list[Thing], int]:
    """Go on with a list whose parts have their prices between: "a relay eight pounds and two kits for twenty"."""
    found = list(things)
    while True:
        money = next((q for q in _money(t) if last < t.index(q.start) <= last + 11), None)
        if money is None:
            number = _number_at(t, last + 1)
            j = number[1] if number else len(t.words)
        else:
            j = t.index(money.end)
        if any(t.gap(x) == 2 for x in range(last + 1, min(j + 1, len(t.words)))):
            return found, last
        while t.fold(j) in group("after_price"):
            if j in t.at and t.at[j].known:
                break
            j += 1
        if t.fold(j) not in ("and", "plus") and t.gap(j) != 1:
            return found, last
        j += 1 if t.fold(j) in ("and", "plus") else 0
        following = t.at.get(j)
        if (
            following is None
            or not (following.known or _headed(following))
            or (following.bare and following.count is None)
        ):
            return found, last
        priced = _number_at(t, following.last + 1) is not None or t.fold(following.last + 1) in (
            "for",
            "at",
            "was",
            "were",
        )
        if not priced or (_is_subject(t, following) and t.fold(following.last + 1) not in ("was", "were")):
            return found, last
        found.append(following)
        last = following.last


def _unknown_part(t: Talk, thing: Thing, weak: bool) -> bool:
    """A name that no list knows, in a note about the machine: "i need a lanyard"."""
    if (
        weak
        or thing.bare
        or thing.hit is not None
        or thing.article not in ("a", "an", "another")
        or len(thing.words) > 2
    ):
        return False
    if set(thing.words) & (group("not_parts") | set(table("parts")["not_needed"]["words"])):
        return False
    return any(w.thing is not None and w.thing.kind in PARTS_OF_MACHINE for w in t.words)


def _headed(thing: Thing) -> bool:
    """An unknown name whose last word heads names of parts: "bar end weight", "flux bracket"."""
    from diary.language.lexicon import load

    return thing.words[-1] in group("heads") or stem(thing.words[-1]) in load(None).heads


def _after_not(t: Talk, v: int) -> bool:
    """ "tried to sell me", "no need": words just before that undo the verb."""
    return t.fold(v - 1) in group("no_before") and t.gap(v) == 0


def _weak_ok(t: Talk, thing: Thing, state: str, v: int, form: tuple[str, ...]) -> bool:
    """A common verb ("got", "took", "want") speaks of buying only with an outright part behind it."""
    if not thing.known or thing.other:
        return False
    if t.words[thing.first].colon:
        return True  # "got: split pins"
    number = _number_at(t, thing.last + 1)
    priced = _money_near(t, thing.last + 1, 6) is not None or (number is not None and not float(number[0]).is_integer())
    if state == "needed":
        wanting = t.fold(v - 1) in group("machine_wants") or form[0] == "wanting"  # "it wants a rotor arm"
        return thing.count is not None and thing.article != "the" and (thing.count > 1 or thing.new or wanting)
    if form[0] in ("went", "go", "gone"):
        return priced
    if form[0] == "grabbed" and thing.article == "the":
        return priced  # "grabbed the wheel top and bottom"
    if form[0] in ("took", "had", "found"):
        return (priced and thing.kind != "component") or (priced and thing.article in ("a", "an", "the"))
    if form[0] in ("got", "gotten"):
        if t.fold(v - 1) in group("having") or t.fold(v - 1) in group("other"):
            return priced
        k = thing.last + 1
        if t.fold(k) in group("not_after_got") or (
            k < len(t.words) and t.words[k].action is not None and t.gap(k) == 0
        ):
            return False
        return thing.article in group("any_article") or thing.count is not None
    return thing.article in group("any_article") or thing.count is not None


def _needed_to_get(t: Talk) -> list[Mention]:
    """ "have to get a gasket", "need to order that ring", "hunting for a fuse holder": needed, not yet had."""
    raw = table("parts")["getting"]
    needy = phrase_list("parts", "getting", "needy")
    verbs = sorted((tuple(fold(w) for w in v.split()) for v in raw["verbs"]), key=len, reverse=True)
    found: list[Mention] = []
    for k in range(len(t.words)):
        size = _at(t, k, needy)
        ordered = "" if size else _told_to_get(t, k, verbs)
        if ordered and _scope_ok(t, k):
            things, _, _last = _objects(t, k + len(ordered))
            things = things or _counted(t, k + len(ordered))[0]
            found.extend(
                _mention(t, th, "needed", k, max(k, th.last), 0.78) for th in things if th.known or _headed(th)
            )
        if not size or not _scope_ok(t, k):
            continue
        m = mood(t, k, False)
        past = t.fold(k) in ("had",) or t.fold(k - 1) in ("had",)
        if (m.negated and t.fold(k) != "forget") or m.unreal or m.subject in ("other", "hands") or past:
            continue
        j = k + size
        while t.fold(j) in group("before_getting"):
            j += 1
        if t.fold(j - 1) == "for" or t.fold(k + size - 1) in ("after", "for"):
            things, _, _last = _objects(t, j)
        else:
            got = next((v for v in verbs if all(t.fold(j + n) == w for n, w in enumerate(v))), None)
            if got is None or got == ("replace",):
                continue
            things, pronoun, _last = _objects(t, j + len(got))
            if pronoun:
                continue
            things = things or _counted(t, j + len(got))[0]  # "i want to order a set"
        if things and (after := things[-1].last + 1) < len(t.words) and t.gap(after) == 0:
            near = [after, after + 1] if t.gap(after + 1) == 0 else [after]
            if any(
                (x < len(t.words) and t.words[x].action is not None) or t.fold(x) in group("done_behind") for x in near
            ):
                continue  # "get the wheels aligned" is a plan
        for thing in things:
            if thing.known or (_headed(thing) and not thing.bare):
                found.append(_mention(t, thing, "needed", k, thing.last, 0.85))
    return found


def _for_so_much(t: Talk) -> list[Mention]:
    """ "the other counter had it for 17.90", "got them for thirty": the part spoken of, bought."""
    found = []
    for k in range(1, len(t.words)):
        said = t.fold(k) in group("bought_pronouns") and t.fold(k + 1) == "for" and t.fold(k - 1) in group("had_it_for")
        number = _number_at(t, k + 2) if said and not t.gap(k) and not t.gap(k + 1) else None
        if number is None or not _scope_ok(t, k):
            continue
        thing = antecedent(t, k, t.fold(k) in ("them", "those", "both"))
        m = mood(t, k - 1)
        if thing is not None and not m.negated and not m.unreal:
            mention = _mention(t, thing, "bought", k, k + 2, 0.82)
            mention.cost = number[0]
            found.append(mention)
    return found


def _told_to_get(t: Talk, k: int, verbs: list[tuple[str, ...]]) -> tuple[str, ...] | str:
    """The verb of getting that opens a sentence or an item of a list of things to do: "get new belt + hose", "todo:
    order shocks".
    """
    if t.gap(k) < 2 and not (t.gap(k) == 1 and listed_jobs(t, k)):
        return ""
    return next((v for v in verbs if v != ("replace",) and all(t.fold(k + n) == w for n, w in enumerate(v))), "")


def _out_of(t: Talk) -> list[Mention]:
    """ "we're out of brake cleaner", "used the last of the grease"."""
    found = []
    for k in range(len(t.words)):
        ran_out = t.phrase(k, "out", "of") and t.fold(k - 1) in group("self_be")
        used_up = t.phrase(k, "used", "the", "last", "of") or t.phrase(k, "used", "up", "the", "last")
        if not (ran_out or used_up):
            continue
        thing = next((t.at[j] for j in range(k + 2, k + 6) if j in t.at), None)
        if thing is not None and thing.kind == "consumable" and _scope_ok(t, k) and not mood(t, k).unreal:
            found.append(_mention(t, thing, "needed", k, thing.last, 0.75))
    return found


def _said_after(t: Talk) -> list[Mention]:
    """ "the seals came", "tie rod end is ordered", "relay and the kits both turned up"."""
    found: list[Mention] = []
    blocked = set(table("parts")["said"]["bought"]["not_before"])
    for thing in t.things:
        if thing.other or not _scope_ok(t, thing.last):
            continue
        if (t.fold(thing.first - 1) in group("beside") | {"on", "to"} and t.gap(thing.first) == 0) and _head_of(
            t, thing
        ) is thing:
            continue  # "blew on the left bank on the way home"
        k = thing.last + 1
        if t.gap(k) == 2:
            continue
        helper = False
        contracted = t.words[thing.last].token.lower.endswith("'s")
        while t.fold(k) in group("be") or t.fold(k) in group("between_thing_and_news"):
            helper = True
            if t.fold(k) in ("will", "should") or t.fold(k) in group("be_not"):
                helper = False
                k = len(t.words)
                break
            k += 1
        for state in ("ordered", "bought", "needed"):
            size = _at(t, k, _said(state))
            if not size:
                continue
            words = [t.fold(k + n) for n in range(size)]
            told = t.gap(k + size) > 0 or t.fold(k + size) in group("order_from") or _money_near(t, k + size, 0)
            if words[0] == "ordered" and told and not t.words[max(0, thing.first - 1)].action:
                helper = True
            listed = t.gap(thing.first) > 0 and (t.gap(k + size) > 0 or re.fullmatch(r"x\d+", t.fold(k + size)))
            if words[0] in group("news_participles") and not (helper or contracted or listed):
                continue
            if (
                state == "needed"
                and words[0] in ("on", "to")
                and t.fold(thing.first - 1) not in group("listing_verbs")
                and not (helper or contracted)
            ):
                continue
            following = t.fold(k + size)
            if (
                state == "bought"
                and words[-1] in group("came_words")
                and following in blocked
                and t.gap(k + size) == 0
                and not (False)
            ) and not (
                following == "in" and (t.fold(k + size + 1) == "today" or t.fold(k + size + 2) in ("mail", "post"))
            ):
                continue
            if state == "ordered" and following in group("goes_on_way"):
                continue
            if state == "bought" and words[-1] == "in" and t.gap(k + size) == 0:
                mailed = following == "the" and t.fold(k + size + 1) in ("mail", "post")
                if not (mailed or following in group("after_came_in")):
                    continue
            if not thing.known and (
                thing.bare or thing.words[-1] in group("not_parts") or words[0] not in group("sure_news")
            ):
                continue
            if thing.kind in ("machine", "tool", "place_of"):
                continue
            m = mood(t, k)
            if m.negated or m.unreal:
                continue
            named = _coordinated_before(t, _head_of(t, thing))
            j = k + size
            while t.fold(j) in group("mail_words"):
                j += 1
            if t.phrase(j, "along", "with") and (beside := t.at.get(j + 2)) is not None and beside.known:
                named.append(beside)
            for each in named:
                found.append(_mention(t, each, state, each.first, k + size - 1, 0.86))
            break
    return found


def _head_of(t: Talk, thing: Thing) -> Thing:
    """The thing that a phrase is about: of "the seal for the front hub", the seal."""
    if (
        t.fold(thing.first - 1) in ("for", "of")
        and (head := t.ending.get(thing.first - 2)) is not None
        and head.known
        and not t.gap(thing.first)
    ):
        return head
    return thing


def _coordinated_before(t: Talk, thing: Thing) -> list[Thing]:
    found = [thing]
    k = thing.first - 1
    while True:
        at = k - 1 if t.fold(k) in ("and", "plus") else k if t.words[found[0].first].plus else -1
        before = t.ending.get(at)
        if before is None or not (before.known or (_headed(before) and not before.bare)):
            break
        own = found[0].count is not None or found[0].article in ("a", "an")
        if own and t.fold(before.first - 1) in group("beside") and not t.gap(before.first):
            break  # "look at the cable and two tires are wanted"
        found.insert(0, before)
        k = before.first - 1
    return found


def _spares(t: Talk) -> list[Mention]:
    """ "kept the old belt as a spare", "the new relay goes in the drawer as a spare"."""
    found: list[Mention] = []
    for thing in t.things:
        kept = t.fold(thing.last + 1) in group("lives") or (
            t.fold(thing.last + 1) in group("be_now") and t.fold(thing.last + 2) in ("in", "under", "behind")
        )
        if thing.spare and thing.known and kept and not t.gap(thing.last + 1) and thing.words[-1] not in group("any_tire"):
            mention = _mention(t, thing, "spare", thing.first, thing.last + 1, 0.8)
            found.append(mention)
    phrases = _said("spare")
    keeping = {fold(w) for w in table("parts")["said"]["spare"]["keeping"]}
    for k in range(len(t.words)):
        size = _at(t, k, phrases)
        if not size or not _scope_ok(t, k):
            continue
        window = range(max(0, k - 14), k)
        keepers = [j for j in window if t.fold(j) in keeping]
        if not keepers:
            continue
        candidates = [th for th in t.before(k, 14) if th.known and not th.other and th.words[-1] not in group("stores") and th.kind != "consumable"]
        if not candidates:
            continue
        thing = next((th for th in candidates if th.old), None) or candidates[-1]
        m = mood(t, keepers[-1])
        if m.negated or m.unreal or m.planned:
            continue
        mention = _mention(t, thing, "spare", thing.first, k + size - 1, 0.86)
        mention.name = ("old " if thing.old else "") + thing.full
        found.append(mention)
    return found


def _listed(t: Talk, already: list[Mention]) -> list[Mention]:
    """Parts in a list with no verb of their own: after "shopping list", or named with a price at a counter."""
    found: list[Mention] = []
    taken = {m.thing.first for m in already}
    for state in ("needed", "bought", "ordered"):
        for k in range(len(t.words)):
            size = _at(t, k, _opens_list(state))
            if not size or not _scope_ok(t, k):
                continue
            if state == "needed" and size and t.phrase(k, "on", "the", "list"):
                continue
            things, _, _last = _objects(t, k + size)
            if state == "needed":
                j = k + size + (1 if t.fold(k + size) in ("is", "has", "now") else 0)
                if t.gap(j) == 0 and j not in t.at:
                    continue
                things = _run_of(t, j)
                found.extend(_mention(t, th, state, k, th.last, 0.8) for th in things if th.first not in taken)
    colon = phrase_list("parts", "lists", "after_colon")
    for k in range(len(t.words)):
        size = _at(t, k, colon)
        if size and t.gap(k) == 2 and k + size < len(t.words) and t.words[k + size].colon and _scope_ok(t, k):
            things = _run_of(t, k + size)
            found.extend(_mention(t, th, "needed", k, th.last, 0.8) for th in things if th.first not in taken)
    # every thing with its own price
    for thing in t.things:
        if thing.first in taken or thing.other or not _scope_ok(t, thing.first):
            continue
        if not (thing.known or (_headed(thing) and (not thing.bare or _counter(t)))):
            continue
        if thing.kind in ("tool", "machine", "place_of"):
            continue
        how = _priced(t, thing)
        if how:
            mention = _mention(t, thing, "bought", thing.first, thing.last, 0.82 if thing.known else 0.7)
            mention.by_price = True
            found.append(mention)
    return found


def _needed_said(t: Talk) -> list[Mention]:
    """ "could do with a radiator cap", "a track rod end is what it needs"."""
    found: list[Mention] = []
    before = phrase_list("parts", "said", "needed_before", "phrases")
    behind = phrase_list("parts", "said", "needed_before", "behind")
    for k in range(len(t.words)):
        size = _at(t, k, before)
        if not size or not _scope_ok(t, k) or t.fold(k - 1) in group("negation"):
            continue
        things, pronoun, _last = _objects(t, k + size)
        found.extend(
            _mention(t, th, "needed", k, th.last, 0.8)
            for th in things
            if not pronoun and th.known and th.article != "the"
        )
    for thing in t.things:
        size = _at(t, thing.last + 1, behind)
        if size and thing.known and _scope_ok(t, thing.last):
            found.append(_mention(t, thing, "needed", thing.first, thing.last + size, 0.8))
    return found


def _brought(t: Talk) -> list[Mention]:
    """ "the postman brought the brake shoes": come by post."""
    from diary.language.readers.outcomes import words

    found: list[Mention] = []
    for k in range(1, len(t.words)):
        if t.fold(k) not in words("brought") or t.gap(k) or not _scope_ok(t, k):
            continue
        if not {t.fold(k - 1), t.fold(k - 2), t.fold(k - 3)} & words("bringers"):
            continue
        things, _, _last = _objects(t, k + 1 + (t.fold(k + 1) == "off"))
        found.extend(_mention(t, th, "bought", k, th.last, 0.82) for th in things if th.known and not th.other)
    return found


def _by_word(t: Talk) -> list[Mention]:
    """Ordered by word of mouth: "go on then send us the pair of them", "i said i'd take both"."""
    found: list[Mention] = []
    for k in range(len(t.words)):
        size = _at(t, k, phrase_list("parts", "said", "ordered", "asked"))
        if not size or not _scope_ok(t, k):
            continue
        j = k + size
        if t.fold(k) == "to" and not {t.fold(x) for x in range(max(0, k - 8), k)} & group("told_words"):
            continue
        things, pronoun, _last = _objects(t, j)
        words = {t.fold(x) for x in range(j, min(j + 5, len(t.words)))}
        if not pronoun and any(th.known for th in things):
            named = [th for th in things if th.known]
        elif words & {"pair", "both", "them", "one", "it", "that", "those"}:
            spoken = [th for th in t.before(k, 40) if th.known and not th.other and _price_behind(t, th) is not None]
            spoken = spoken or [th for th in t.before(k, 40) if th.known and not th.other]
            named = spoken[-2:] if words & {"pair", "both", "them", "those"} else spoken[-1:]
        else:
            continue
        if mood(t, k).negated:
            continue
        found.extend(_mention(t, th, "ordered", th.first, k + size - 1, 0.8) for th in named)
    return found


def _price_behind(t: Talk, thing: Thing) -> tuple[float, int] | None:
    """The price that stands right behind a thing ("gear lube x3 41.97", "a kit at six forty nine"), and the word
    after it.
    """
    k = thing.last + 1
    for q in t.utterance.quantities:  # "ATF 6 qts 38.68"
        if q.dimension == "volume" and t.index(q.start) == k:
            k = t.index(q.end)
    steps = 0
    while t.fold(k) in group("to_price") and t.gap(k) < 2 and steps < 3:
        k, steps = k + 1, steps + 1
    number = _number_at(t, k)
    if number is None or t.gap(k) == 2 or not 0.2 <= number[0] < 10000:
        return None
    start = t.words[k].token.start
    if any(q.start <= start < q.end and not _is_money(q) and not _pounds(t, q) for q in t.utterance.quantities):
        return None
    if t.words[min(number[1], len(t.words) - 1)].unit and number[1] < len(t.words) and not t.gap(number[1]):
        return None
    if number[1] < len(t.words) and t.fold(number[1]) in group("after_no_price") and not t.gap(number[1]):
        return None
    return _hundredths(t, k, number)


def _pounds(t: Talk, q: Quantity) -> bool:
    """ "six pound even", where other prices of the note are in pounds."""
    return q.unit == "lb" and any(m.unit == "GBP" for m in _money(t))


def _hundredths(t: Talk, k: int, number: tuple[float, int]) -> tuple[float, int]:
    """A price said in two halves: "six forty nine", "eighteen fifty"."""
    value = number[0]
    said = t.text(k, max(k, number[1] - 1)).lower()
    if 100 <= value < 10000 and said[:1].isalpha() and not {"hundred", "thousand"} & set(said.split()):
        value /= 100
    return value, number[1]


def _sold_here(t: Talk, thing: Thing, reach: int = 9) -> bool:
    if thing.other or thing.kind in ("tool", "machine", "place_of") or not _scope_ok(t, thing.first):
        return False
    return (thing.known or (_headed(thing) and not thing.bare)) and not _refused(t, thing, reach)


def _chained(t: Talk, found: list[Mention]) -> list[Mention]:
    """What goes on a list of things got, each with its price: "ordered a filter kit 32.50, ATF 38.68. also blades
    14.50".
    """
    got = sorted((m for m in found if m.state in ("ordered", "bought")), key=lambda m: m.thing.first)
    if not got:
        return []
    taken = {m.thing.first for m in found}
    more: list[Mention] = []
    for thing in t.things:
        before = [m for m in (*got, *more) if m.thing.last < thing.first]
        if thing.first in taken or not before or not _sold_here(t, thing, 3) or _head_of(t, thing) is not thing:
            continue
        last = max(before, key=lambda m: m.thing.last)
        price = _price_behind(t, thing)
        if price is None or thing.first - last.thing.last > 26:
            continue
        money = any(t.index(q.start) <= price[1] - 1 and q.end > thing.end for q in _money(t) if q.start >= thing.end)
        behind = _price_behind(t, last.thing)
        close = behind is not None and thing.first - behind[1] <= 3
        if not (money or close or not float(price[0]).is_integer()):
            continue
        between = [t.words[x] for x in range(last.thing.last + 1, thing.first)]
        if any(w.fold in group("turns_away") for w in between):
            continue
        mention = _mention(t, thing, last.state, thing.first, price[1] - 1, 0.8)
        mention.cost = price[0]
        more.append(mention)
    return more


def _till_slip(t: Talk, found: list[Mention]) -> list[Mention]:
    """Nothing but things and prices: "o-ring 3.20, can of coolant 18.90", where no verb says that they were bought."""
    taken = {m.thing.first for m in found}
    slip: list[Mention] = []
    for thing in t.things:
        k = thing.last + 1
        if not (t.gap(thing.first) > 0 or t.words[thing.first].plus or thing.first == 0) or not thing.known:
            continue
        if thing.article not in ("", "a", "an", "some") or not _sold_here(t, thing):
            continue
        price = _price_behind(t, thing)
        written = re.search(r"\d[.,]\d\d\b|[$€£]", t.text(k, price[1] - 1)) if price is not None and price[1] > k else None
        if price is None or written is None or not (t.gap(price[1]) > 0 or t.words[price[1]].plus):
            continue
        mention = _mention(t, thing, "bought", thing.first, price[1] - 1, 0.78)
        mention.cost, mention.by_price = price[0], True
        slip.append(mention)
    return [m for m in slip if m.thing.first not in taken] if len(slip) > 1 else []


def _run_of(t: Talk, k: int) -> list[Thing]:
    """The things listed from word k to the end of the sentence."""
    found = []
    for thing in t.things:
        if thing.first < k:
            continue
        if any(t.gap(j) == 2 for j in range(k + 1, thing.first + 1)) or thing.first - k > 40:
            break
        if thing.known:
            found.append(thing)
    return found


def _money(t: Talk) -> list[Quantity]:
    if "money" not in t.memo:
        t.memo["money"] = [q for q in t.utterance.quantities if _is_money(q)]
    found: list[Quantity] = t.memo["money"]
    return found


def _is_money(q: Quantity) -> bool:
    return q.dimension in ("money", "currency", "price") or q.unit in ("USD", "GBP", "EUR")


def _money_near(t: Talk, k: int, reach: int) -> Quantity | None:
    """The amount of money within `reach` words from word k on, in the same sentence."""
    if k >= len(t.words):
        return None
    for q in _money(t):
        i = t.index(q.start)
        if k <= i <= k + reach and not any(t.gap(j) == 2 for j in range(k + 1, i + 1)):
            return q
    return None


def _number_at(t: Talk, k: int) -> tuple[float, int] | None:
    """A plain number that begins at word k: its value, and the word after it."""
    if k >= len(t.words):
        return None
    for q in _money(t):
        if q.start <= t.words[k].token.start < q.end:
            return q.value, t.index(q.end)
    for number in t.utterance.numbers:
        if number.start <= t.words[k].token.start < number.end and number.kind not in (
            "time",
            "date",
            "label",
            "ordinal",
        ):
            return number.value, t.index(number.end)
    return None


def _refused(t: Talk, thing: Thing, reach: int = 9) -> bool:
    """A price only asked or quoted: "wanted 24 for a glow plug", "a reman is three forty"."""
    refusing = {fold(w) for w in table("parts")["price"]["refusing"]}
    first = thing.first
    k = first - 1
    steps = 0
    while k >= 0 and steps < reach and t.gap(k + 1) < 2:
        if t.fold(k) in refusing or t.fold(k) in group("negation"):
            return True
        k -= 1
        steps += 1
    return False


def _priced(t: Talk, thing: Thing) -> bool:
    """True where the thing is named with the price that was paid for it."""
    if _refused(t, thing) or _head_of(t, thing) is not thing:
        return False
    paid = _paid()
    # "forty eight fifty for a fan clutch"
    if t.fold(thing.first - 1) == "for" and t.gap(thing.first) == 0:
        k = thing.first - 2
        if k >= 0 and _money_ends(t, k):
            return True
    k = thing.last + 1
    if t.fold(k) in ("for", "of") and (tail := t.at.get(k + 1)) is not None and tail.known and not t.gap(k):
        k = tail.last + 1  # "bearing kit for the trailer hub was eighteen even"
    if (
        t.fold(k) in ("from", "at", "off")
        and (seller := next((t.at[j] for j in (k + 1, k + 2) if j in t.at), None)) is not None
    ) and (seller.kind == "place_of" or seller.words[-1] in group("shops")):
        k = seller.last + 1
        if (_money_near(t, k, 0) or _number_at(t, k)) is not None and not t.gap(k):
            return True
    if t.gap(k) == 2 or k >= len(t.words):
        return False
    size = _at(t, k, paid)
    if size:
        # "was nineteen ninety five": a price where money is said, or a bare number behind "came to", "cost"
        number = _number_at(t, k + size)
        if number is None:
            return False
        money = _money_near(t, k + size, 1)
        return (
            money is not None
            or t.fold(k) == "cost"
            or t.phrase(k, "came", "to")
            or (_counter(t) and thing.known and t.fold(k) != "came")
        )
    if (
        thing.known
        and thing.bare
        and not t.gap(k)
        and (money := _money_near(t, k, 0)) is not None
        and not t.utterance.text[money.start].isalpha()
    ):
        return t.gap(thing.first) > 0 or thing.first == 0  # "kit $31, new float"
    if not _counter(t) or t.gap(k) == 2:
        return False
    if _money_near(t, k, 1) is not None:
        return True
    number = _number_at(t, k)
    return number is not None and not float(number[0]).is_integer() and thing.known


def _money_ends(t: Talk, k: int) -> bool:
    """An amount ends at word k: said as money, or a bare number in a note about buying."""
    word = t.words[k].token
    if any(q.start <= word.start and word.end <= q.end for q in _money(t)):
        return True
    return (_counter(t) or bool(_money(t))) and any(
        n.start <= word.start and word.end <= n.end for n in t.utterance.numbers
    )


def _counter(t: Talk) -> bool:
    """True where the note speaks of a counter, a run for parts or a bill."""
    if "counter" in t.memo:
        return bool(t.memo["counter"])
    opened = any(_at(t, k, _opens_list("bought")) for k in range(len(t.words)))
    business = any(
        w.thing is not None
        and w.thing.kind == "place_of"
        and w.thing.data.get("class") == "business"
        and w.thing.name != "gas station"
        for w in t.words
    )
    t.memo["counter"] = opened or business
    return opened or business


# ---- money and sellers --------------------


def _price(t: Talk, mentions: list[Mention]) -> None:
    """Give each amount of money to the part it was paid for."""
    spans = {m.thing.first: m.thing for m in mentions}
    for q in _money(t):
        i, j = t.index(q.start), t.index(q.end)
        owner: Thing | None = None
        if (
            t.fold(j) == "for"
            and (ahead := next((t.at.get(k) for k in (j + 1, j + 2) if t.at.get(k)), None)) is not None
            and ahead.first in spans
        ):
            owner = ahead
        if owner is None:
            before = [
                th
                for th in spans.values()
                if th.last < i and i - th.last <= 14 and not any(t.gap(x) == 2 for x in range(th.last + 1, i + 1))
            ]
            owner = max(before, key=lambda th: th.last, default=None)
            if owner is not None and any(
                t.words[x].token.start >= p.start and t.words[x].token.end <= p.end
                for p in _money(t)
                if p is not q
                for x in range(owner.last + 1, i)
            ):
                owner = None
        if owner is None:
            continue
        for m in mentions:
            if m.thing.first == owner.first and m.cost is None:
                m.cost = q.value
    for m in mentions:
        if m.cost is None and m.state in ("bought", "ordered") and (price := _bare_price(t, m)) is not None:
            m.cost = price


def _bare_price(t: Talk, m: Mention) -> float | None:
    """A price said without its unit right behind a part that was bought or ordered: "the cylinder was nineteen
    ninety five".
    """
    k = m.thing.last + 1
    paid = _paid()
    k += _at(t, k, paid)
    while t.fold(k) in group("before_price") and t.gap(k) < 2:
        k += 1
    number = _number_at(t, k)
    if number is None or t.gap(k) == 2:
        return None
    start = t.words[k].token.start
    if any(q.start <= start < q.end and not _is_money(q) for q in t.utterance.quantities):
        return None
    said = t.text(k, max(k, number[1] - 1)).lower()
    if 1000 <= number[0] < 10000 and said[:1].isalpha() and not {"hundred", "thousand"} & set(said.split()):
        return number[0] / 100  # "eighteen fifty"
    return number[0] if number[0] >= 2 else None


def _suppliers(t: Talk, mentions: list[Mention]) -> None:
    sellers = [
        w.thing for w in t.words if w.thing and w.thing.kind == "place_of" and w.thing.data.get("class") == "business"
    ]
    if not sellers:
        return
    for m in mentions:
        if m.state in ("bought", "ordered", "fitted") and (m.cost is not None or m.state != "fitted"):
            near = min(sellers, key=lambda s: abs(s.start - m.start))
            if abs(near.start - m.start) <= 160:
                m.supplier = t.utterance.text[near.start : near.end].lower()


# ---- merging --------------------


def _may_be_part(t: Talk, m: Mention) -> bool:
    thing = m.thing
    if (
        thing.other
        or thing.kind in ("tool", "machine", "place_of")
        or (len(thing.words) == 1 and thing.words[0] in group("never_parts"))
    ):
        return False
    last = thing.words[-1]
    if set(thing.words) & group("no_part_words"):
        return False
    if thing.hit is not None and thing.hit.data.get("whole") and m.state != "fitted" and not thing.new:
        return False
    if len(thing.words) == 1 and stem(last) in table("phrases")["vessels"] and stem(last) not in ("kit", "tube"):
        return False
    if last in group("not_parts") or " ".join(thing.words) in group("not_parts"):
        return thing.kind in PARTS_OF_MACHINE and last not in group("fuels")
    if m.state == "needed":
        if last in table("parts")["not_needed"]["words"] and not thing.new:
            return False
        if thing.hit is not None and thing.hit.data.get("class") == "fuel":
            return False
    return not (thing.hit is not None and thing.hit.data.get("class") == "fuel")


def _merged(mentions: list[Mention]) -> list[Mention]:
    """One mention a part: the furthest state, with the costs and counts of the others."""
    rank = table("parts")["order"]
    kept: list[Mention] = []
    for m in sorted(mentions, key=lambda m: m.start):
        m.name = m.name or m.thing.full
        twin = next((k for k in kept if _one_part(k.name, m.name) and (k.state in rank) == (m.state in rank)), None)
        if twin is None:
            kept.append(m)
            continue
        further = m if rank.get(m.state, 0) > rank.get(twin.state, 0) else twin
        if "ordered" in (m.state, twin.state) and further.by_price:  # the price of what was ordered
            further = twin if further is m else m
        twin.state, twin.confidence = further.state, max(further.confidence, twin.confidence)
        if twin.cost is None:
            twin.cost = m.cost
        twin.supplier = twin.supplier or m.supplier
        if len(m.name) > len(twin.name):
            twin.name = m.name
        if twin.thing.count is None or (twin.thing.article == "the" and m.thing.count):
            twin.also.append(m.thing)
        twin.start, twin.end = min(twin.start, m.start), max(twin.end, m.end)
    return kept


def _one_part(a: str, b: str) -> bool:
    """The same part, or the kit it comes in: "float needles", "float needle kits"."""
    if same_thing(a, b):
        return True
    left, right = [w for w in key(a) if w not in ("kit", "set")], [w for w in key(b) if w not in ("kit", "set")]
    return bool(left) and left == right


def _open_part(name: str, context: Context) -> dict[str, Any] | None:
    """The latest earlier entry of the same part that is not fitted yet."""
    followed = {p.get("thread") for p in context.parts}
    for part in reversed(context.parts):
        if (
            part.get("state") in OPEN_STATES
            and part.get("id") not in followed
            and _one_part(str(part.get("name") or ""), name)
        ):
            found: dict[str, Any] = part
            return found
    return None


def _drafts(t: Talk, mentions: list[Mention], context: Context) -> list[Draft]:
    drafts: list[Draft] = []
    for m in mentions:
        earlier = _open_part(m.name, context)
        rank = table("parts")["order"]
        if earlier is not None and rank.get(str(earlier["state"]), 0) > rank.get(m.state, 0):
            earlier = None
        name = m.name
        if earlier is not None and m.thing.article == "the" and set(key(name)) < set(key(str(earlier["name"]))):
            name = str(earlier["name"])
        counts = [c for c in (m.thing.count, *(th.count for th in m.also)) if c is not None]
        count: int | None = max(counts) if counts else (None if m.thing.plural or m.thing.vessel else 1)
        if count is None and earlier is not None and isinstance(earlier.get("count"), int):
            count = int(str(earlier["count"]))
        fields: dict[str, object] = {"name": name, "state": m.state, "count": count, "cost": m.cost}
        if m.supplier:
            fields["supplier"] = m.supplier
        drafts.append(
            Draft(
                "parts",
                fields,
                m.start,
                m.end,
                m.confidence,
                str(earlier["id"]) if earlier is not None else None,
                m.state,
            )
        )
    return drafts
