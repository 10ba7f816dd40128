"""Deeds: who did what to which thing, said in any of the ways of the workshop.

"replaced the left hose", "the left hose has been replaced", "left hose is in", "had the hose off", "gave the rail a
clean", "the pump,
i rebuilt it": each gives one `Deed` for every thing it touches, with its mood: done, or only wanted, denied,
imagined, another's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from diary.language.readers.phrases import PARTS_OF_MACHINE, Talk, Thing, group, table
from diary.language.text import fold, stem
from diary.language.types import Clause, Hit


@dataclass(slots=True)
class Mood:
    """How the words before a verb colour it."""

    subject: str = ""  # self, hands, other, thing, or "" (none said)
    passive: bool = False
    negated: bool = False
    unreal: bool = False
    planned: bool = False
    background: bool = False  # "somebody had stuffed ...": another time
    base: bool = False  # a plain form under "had to", "managed to": done all the same
    linked: bool = False  # follows "and"/"then" with no subject of its own
    start: int = 0  # first word of the verb group
    thing: Thing | None = None  # the subject, where it is a thing

    @property
    def done(self) -> bool:
        """True where the words say that it was done, by the speaker or for them."""
        return not (self.negated or self.unreal or self.planned or self.background or self.subject == "other")


@dataclass(slots=True)
class Deed:
    """An action on a thing. `said` is how: active, passive, state, fragment, light."""

    action: str
    verb: str
    thing: Thing
    at: int  # word of the verb
    last: int  # last word of the phrase
    said: str
    mood: Mood
    pronoun: bool = False
    back: bool = False  # put back, refitted: not a new part
    if_awaited: bool = False  # a deed only where the part was waited for: "blades on already"

    @property
    def start(self) -> int:
        """First character's word index, for spans."""
        return min(self.thing.first if not self.pronoun else self.at, self.mood.start, self.at)


def mood(t: Talk, v: int, base: bool = False) -> Mood:
    """The mood of the verb at word v, from the words before it in its own clause.

    `base` says that the verb stands in its plain form, which by itself is no past deed ("had to drill" is one).
    """
    m = Mood(start=v)
    k, steps = v - 1, 0
    had = to = False
    while k >= 0 and steps < 9 and t.gap(k + 1) < 2:
        w = t.fold(k)
        if t.gap(k + 1) == 1 and w not in group("adverbs"):
            break
        steps += 1
        if w in group("negation"):
            m.negated = True
            if w in group("nothing") and not m.passive:
                m.negated = w != "no" or t.fold(k + 1) != "no"
            k -= 1
            continue
        if w in group("modal"):
            if w == "to":
                to = True
            elif w in group("unreal") or w.endswith("'d"):
                m.unreal = True
            else:
                m.planned = True
            k -= 1
            continue
        if w in group("be"):
            m.passive = True
            if w in group("be_contracted"):
                m.start = k
                break
            k -= 1
            continue
        if w in group("have"):
            if had and (w.endswith("'d") or w == "id"):
                m.subject, m.unreal, m.start = "self", True, k  # "i'd have fitted"
                break
            had = True
            m.background = w in ("had", "i'd", "we'd")
            if w in group("self"):
                m.subject = "self"
                m.start = k
                break
            k -= 1
            continue
        if w in group("get") and k + 1 == v:
            if t.fold(k - 1) in ("it", "they") and t.fold(k - 2) == "what":
                break  # "that's what it got | cleaned the filter too"
            m.passive = True
            k -= 1
            continue
        if w in group("doing") and w not in ("done", "doing"):
            base = False
            k -= 1
            continue
        if w in group("self"):
            m.subject = "self"
            m.background = False
            m.start = k
            if w in ("i'd", "we'd") and not had:
                m.unreal = base
            k -= 1
            # "if i replaced", "before i replaced": look one further for what governs it
            while k >= 0 and t.gap(k + 1) < 2 and t.fold(k) in group("before_self"):
                k -= 1
            if k >= 0 and t.gap(k + 1) < 2 and t.fold(k) in group("governs_unreal"):
                m.unreal = True
            m.background = k >= 0 and t.gap(k + 1) < 2 and t.fold(k) == "since"  # "since i put the alternator in"
            break
        if w in group("pointing") and (m.linked or not m.passive):
            break  # the object of what went before: "cleaned it (and) put grease on"
        if w in group("other"):
            if m.linked:
                break
            m.subject = "other"
            m.start = k
            if w in ("they", "he", "she") and any(
                t.fold(j) in group("shops") and not t.words[j - 1].person for j in range(max(1, k - 40), k)
            ):
                m.subject = "hands"
                own = any(t.fold(j) in group("others") for j in range(max(0, k - 12), v))
                m.subject = "other" if own else "hands"
            if w in group("relatives") and k and t.ending.get(k - 1):
                m.subject = "thing"
                m.thing = t.ending[k - 1]
                m.background = not m.thing.known  # "the shop that did my gasket"
            break
        if (person := t.words[k].person) is not None:
            m.subject = "hands" if w in group("hands") or person.data.get("class") == "trade" else "other"
            if any(t.fold(j) in group("strangers") for j in range(max(0, k - 3), k + 1)):
                m.subject = "other"
            m.start = k
            break
        if w in group("people") or w in group("hands"):
            stranger = any(t.fold(j) in group("strangers") for j in range(max(0, k - 3), k + 1))
            m.subject = "other" if stranger or w not in group("hands") else "hands"
            m.start = k
            break
        if w in group("unreal_openers"):
            m.unreal = True
            break
        if w in group("unreal") and w not in group("unreal_only_later"):
            m.unreal = True
            k -= 1
            continue
        if w in ("and", "then", "but", "or") and k == v - 1 - (steps - 1):
            m.linked = True
        if t.words[k].action is not None and k < v and t.fold(k + 1) in ("and", "then", "but", "or"):
            m.linked = True
            break
        if w in group("adverbs"):
            if w in ("and", "then", "but", "so"):
                m.linked = True
            k -= 1
            continue
        if k in t.ending and not m.linked:
            m.subject = "thing"
            m.thing = t.ending[k]
            m.start = t.ending[k].first
        break
    if m.passive and m.thing is None and k in t.ending:
        m.subject, m.thing, m.start = "thing", t.ending[k], t.ending[k].first
    if to:
        governor = t.fold(k) if k >= 0 else ""
        before = [t.fold(j) for j in range(max(0, v - 5), v)]
        if (
            had
            and "had" in before
            and "to" in before
            and before[before.index("had") + 1 : before.index("had") + 2] == ["to"]
        ):
            m.background = False
        elif "managed" in before or governor == "managed":
            pass
        else:
            m.planned = True
    elif base:
        m.planned = True
    if m.background and m.subject in ("self", "hands", "") and not m.passive:
        m.background = m.background and (m.subject != "self" or "since" in (t.fold(k), t.fold(m.start - 1))) and not to
    return m


def _scoped(t: Talk, v: int, m: Mood) -> Mood:
    """Fold the clause's own scope into the mood: another's machine, a question, a condition, words taken back."""
    clause = t.words[v].clause
    if clause is not None:
        if clause.other_machine or clause.retracted:
            m.subject = "other"
        if _not_mine(t, v):
            m.subject = "other"
        if clause.question or (clause.hypothetical and not _condition_later(t, v, clause)):
            m.unreal = True
    return m


def listed_jobs(t: Talk, k: int) -> bool:
    """True where word k opens an item of a list of things to do: "todo: grease the joints, check the diff oil"."""
    j = k
    while j > 0 and t.gap(j) < 2 and k - j < 40:
        j -= 1
        if t.fold(j) in group("todo") or t.phrase(j, "to", "do"):
            return True
    return False


def _not_mine(t: Talk, v: int) -> bool:
    """True where the sentence says outright whose it is not: "neighbor's saw, not mine: carb cleaned"."""
    k = v
    while k > 0 and t.gap(k) < 2 and v - k < 14:
        k -= 1
        if t.phrase(k, "not", "mine") or t.phrase(k, "not", "ours"):
            return True
    return False


def _condition_later(t: Talk, v: int, clause: Clause) -> bool:
    """True where the condition of a hypothetical clause begins only after word v: "ordered a seal and if that does
    not stop it ...".
    """
    at = [
        j
        for j, w in enumerate(t.words)
        if clause.start <= w.token.start < clause.end and w.fold in group("conditional")
    ]
    return bool(at) and at[0] > v


def scoped_mood(t: Talk, v: int) -> Mood:
    """The mood of a past verb at word v with the scope of its clause."""
    return _scoped(t, v, mood(t, v))


def antecedent(
    t: Talk, v: int, plural: bool | None = None, among: frozenset[str] | None = None, nearest: bool = False
) -> Thing | None:
    """The thing that "it", "them" or "both" at word v speaks of: the last one named that can be meant.

    What was used on the work ("with brake cleaner", "some grease") is passed over while a part is in reach. With
    `among`, a thing
    named by one of those words comes first ("topped it up": the oil, not the seal).
    """
    if among is not None:
        fitting = [
            th for th in t.before(v)
            if not th.other and th.known and th.words[-1] in among and (th.hit is not None or th.place_only or th.loose)
        ]  # fmt: skip
        if fitting:
            return fitting[-1]
    best: Thing | None = None
    lowest = 9
    for thing in reversed(t.before(v, 90)):
        headed = (
            not thing.known
            and thing.hit is None
            and thing.article in ("the", "my")
            and thing.words[-1] in group("heads")
        )
        if (
            thing.other
            or not (thing.known or headed)
            or (thing.hit is None and not (thing.place_only or headed or thing.loose))
        ):
            continue
        beside = t.fold(thing.first - 1) in group("beside") and not nearest and not _looked_at(t, thing)
        rank = (4 if thing.kind == "consumable" else 0) + (2 if beside else 0)
        agrees = plural is None or thing.plural == plural or bool(plural and thing.count and thing.count > 1)
        rank += 0 if agrees else 1 if not plural else 3
        rank += 2 if thing.old else 0
        rank += (v - thing.last) // 22  # what was said long before is less likely meant
        if rank < lowest:
            best, lowest = thing, rank
    return best


PRONOUNS = {
    "it": False,
    "them": True,
    "that": False,
    "those": True,
    "these": True,
    "both": None,
    "this": False,
    "everything": None,
    "all": True,
}


def _looked_at(t: Talk, thing: Thing) -> bool:
    """True where the preposition before the thing belongs to its verb: "looked at the pads"."""
    verb = t.words[thing.first - 2].action if thing.first >= 2 else None
    return verb is not None and verb.end >= t.words[thing.first - 1].token.end


def _objects(t: Talk, k: int, among: frozenset[str] | None = None) -> tuple[list[Thing], bool, int]:
    """The things that begin at word k, with those coordinated; whether a pronoun stood for them; the last word."""
    while k < len(t.words) and t.fold(k) in group("before_object") and not t.at.get(k):
        if t.gap(k) or (t.fold(k) in ("in", "on") and not ((ahead := t.at.get(k + 1)) is not None and ahead.known)):
            break
        k += 1
    first = t.at.get(k)
    if first is not None and not first.known and first.words[-1] in group("standing_for") and t.gap(k) == 0:
        spoken = antecedent(t, k, None)
        if spoken is None:
            return [], False, k - 1
        return [_stands_for(first, spoken)], False, first.last
    if first is not None and (t.gap(k) == 0 or t.words[k].colon):
        found = [first]
        j = first.last + 1
        while j < len(t.words):
            step = j = _past_purpose(t, j)
            joined = j < len(t.words) and t.words[j].plus
            while (
                t.fold(step) in group("joining")
                or (joined and t.fold(step) in ("probably", "maybe", "about", "then"))
                or t.phrase(step, "as", "well", "as")
            ):
                step += 3 if t.fold(step) == "as" else 1
                joined = True
            following = t.at.get(step)
            comma = j < len(t.words) and t.gap(j) == 1
            listed = following is not None and following.article in group("list_articles") and len(found) > 0
            if following is None or t.gap(j) == 2 or not (joined or comma or listed):
                break
            if comma and not joined and not found[0].known:
                break
            if (
                following.article in ("no", "any")
                or following.words[-1] in group("standing_for")
                or (not following.known and following.old)
            ):
                break
            if _is_subject(t, following) or not (following.known or joined):
                break
            if (
                listed
                and not joined
                and not comma
                and not (following.known and following.article in ("a", "an", "some"))
            ):
                after = t.at.get(following.last + 2) if t.fold(following.last + 1) == "and" else None
                if not (following.known and after is not None and after.known and not _is_subject(t, after)):
                    break
            spoken_next = following.last + 1
            if (
                comma
                and not joined
                and spoken_next < len(t.words)
                and t.words[spoken_next].action is not None
                and not t.gap(spoken_next)
            ) and (
                t.words[spoken_next].tense == "past" and spoken_next not in t.at
            ):  # "removed the cable, fairlead swapped"
                break
            if comma and not joined and following.new and not found[0].new:
                break  # "repacked the hubs, new seals": a sentence of its own
            found.append(following)
            j = following.last + 1
        return found, False, found[-1].last
    if t.fold(k) in PRONOUNS and t.gap(k) == 0:
        w = t.fold(k)
        if w in ("that", "this") and t.fold(k + 1) in group("other") | group("self"):
            return [], False, k
        if (
            w in ("everything", "all")
            and (named := t.at.get(k + 1) or (t.at.get(k + 2) if t.fold(k + 1) == "all" else None)) is not None
            and not t.gap(k + 1)
        ):
            return [named], False, named.last
        thing = antecedent(t, k, PRONOUNS[w], among, nearest=w in ("that", "this"))
        return ([thing] if thing else []), True, k
    if t.fold(k) in group("new") and t.fold(k + 1) in ("one", "ones") and not t.gap(k) and not t.gap(k + 1):
        spoken = antecedent(t, k, None)  # "pressed in new ones"
        one = Thing(
            k,
            k + 1,
            t.words[k].token.start,
            t.words[k + 1].token.end,
            "ones",
            False,
            None,
            None,
            "",
            True,
            words=("ones",),
        )
        return ([_stands_for(one, spoken)] if spoken else []), False, k + 1
    if t.fold(k) in group("articles") and t.gap(k) == 0:  # "put a new ten in", "swapped in a fifteen"
        j = k + 1
        while t.fold(j) in group("new"):
            j += 1
        if t.fold(j) in ("one", "ones") and j > k + 1 and not t.gap(j):  # "fitted a new one"
            spoken = antecedent(t, k, None)
            if spoken is not None:
                return [_stands_for(_new_one(t, k, j), spoken)], False, j
        if j < len(t.words) and t.words[j].number is not None and not t.gap(j):
            rated = [th for th in t.before(k) if set(th.words) & group("rated") and not th.other]
            if rated:
                return [_stands_for(_new_one(t, k, j), rated[-1])], False, j
    if k < len(t.words) and t.words[k].number is not None and t.fold(k + 1) in ("that", "which") and not t.gap(k):
        thing = antecedent(t, k, True)  # "replaced two that were bent"
        return ([thing] if thing else []), True, k
    return [], False, k - 1


def _past_purpose(t: Talk, j: int) -> int:
    """The "and" behind a purpose in the middle of a list: "pads for the front | and a brake hose"; else j."""
    if t.fold(j) != "for" or t.gap(j):
        return j
    for k in range(j + 2, min(j + 6, len(t.words))):
        if t.gap(k) == 2 or t.words[k].number is not None:
            return j
        if t.fold(k) in ("and", "plus") or t.words[k].plus:
            at = k if t.words[k].plus else k + 1
            following = t.at.get(at)
            more = following is not None and following.known and following.article in ("a", "an", "some")
            return k if more and not t.words[k - 1].action else j
    return j


def _target(t: Talk, defect: Thing) -> Thing | None:
    """The part that a hole, a crack or dirt is in: "the crack in the manifold", "the rust off the rim"; else the
    one spoken of.
    """
    k = defect.last + 1
    while k < len(t.words) and t.fold(k) in group("toward_target") and not t.gap(k):
        k += 1
        if (thing := t.at.get(k)) is not None:
            return thing if thing.known or thing.article in ("the", "my") else None
    return antecedent(t, defect.first)


def _new_one(t: Talk, first: int, last: int) -> Thing:
    """"a new one", "a new ten": a single new thing that words first to last speak of without naming it."""
    start, end = t.words[first].token.start, t.words[last].token.end
    return Thing(first, last, start, end, "one", False, None, 1, "a", True, words=("one",))


def _stands_for(said: Thing, meant: Thing) -> Thing:
    """The thing that "the right one" or "the fronts" means, under the name of what was spoken of."""
    place = " ".join(w[:-1] if w in ("fronts", "rears") else w for w in said.words if w not in group("stand_in_heads"))
    return replace(
        meant,
        first=said.first,
        last=said.last,
        start=said.start,
        end=said.end,
        name=meant.name.split()[-1] if place else meant.name,
        count=said.count,
        article=said.article,
        new=said.new,
        old=False,
        bare=False,
        place=place,
    )


def _is_subject(t: Talk, thing: Thing) -> bool:
    """True where a verb of being or doing follows, so that the thing opens a sentence of its own."""
    k = thing.last + 1
    if t.gap(k) == 2 or k >= len(t.words):
        return False
    w = t.fold(k)
    if t.words[thing.last].token.lower.endswith("'s"):
        return True
    if w in ("on", "in", "of", "inside") and t.fold(k + 1) in ("it", "them", "that") and not t.gap(k + 1):
        w = t.fold(k + 2)  # "the rubber on it is cracked"
    if w in group("be") | group("have") | group("doing") | group("modal") - {"to", "can", "let"}:
        return True
    return w in group("predicates")


def deeds(t: Talk) -> list[Deed]:
    """Every deed of the utterance, in order, done or not; worked out once, for several readers ask in turn."""
    if "deeds" not in t.memo:
        t.memo["deeds"] = _deeds(t)
    found: list[Deed] = t.memo["deeds"]
    return found


def _deeds(t: Talk) -> list[Deed]:
    found: list[Deed] = []
    within = {k for th in t.things for k in range(th.first + 1, th.last + 1)}
    for v, word in enumerate(t.words):
        if word.action is not None and word.thing is None and v not in within and not _left_to_states(t, v):
            found.extend(_verb(t, v, word.action, found))
    found.extend(_states(t))
    found.extend(_pronoun_states(t))
    found.extend(_light(t))
    found.extend(_typed(t))
    found.extend(_seen(t))
    found.extend(_nominal(t))
    found.extend(_bare(t, found))
    found.extend(_did_it(t, found))
    found.sort(key=lambda d: (d.at, d.thing.first))
    return found


def _did_it(t: Talk, sofar: list[Deed]) -> list[Deed]:
    """ "i keep meaning to replace the filter so today i finally did it": the plan just spoken of, done."""
    found: list[Deed] = []
    for v in range(len(t.words)):
        if t.fold(v) != "did" or t.fold(v + 1) not in ("it", "that", "them", "those") or t.gap(v + 1):
            continue
        meant = [
            d
            for d in sofar
            if d.mood.planned and not d.mood.negated and d.mood.subject != "other" and 0 < v - d.at < 20
        ]
        m = _scoped(t, v, mood(t, v))
        if meant and m.done and m.subject == "self":
            found.append(Deed(meant[-1].action, meant[-1].verb, meant[-1].thing, v, v + 1, "light", m, pronoun=True))
    return found


def _verb(t: Talk, v: int, hit: Hit, sofar: list[Deed]) -> list[Deed]:
    tense = hit.data.get("tense")
    end = v
    while end + 1 < len(t.words) and t.words[end + 1].token.start < hit.end:
        end += 1
    for inner in t.between(v + 1, end):
        if inner.first <= end < inner.last:
            end = inner.first - 1
    while end > v and (t.fold(end) in group("articles") or t.fold(end) in group("new")):
        end -= 1
    particle = hit.data.get("particle")
    action = str(hit.data.get("class", hit.name))
    verb = str(hit.data.get("verb", hit.name))
    base = tense in ("base", "s")
    m = mood(t, v, base)
    if tense == "ing":
        before = [t.fold(j) for j in range(max(0, v - 4), v) if t.gap(j + 1) == 0]
        if not any(b in table("work")["doing_before_ing"] for b in before) or any(
            b in group("going") for b in before[-2:]
        ):
            m.planned = True
        if any(b in ("was", "were") for b in before) and m.subject != "self":
            m.subject = "other"
        m.passive = False
    elif tense == "s":
        m.planned = True
    previous = next((d for d in reversed(sofar) if d.at < v), None)
    if m.linked and not m.subject and previous is not None and not _between_full_stop(t, previous.at, v):
        # "i'd pull the wheel and look at the brake": the second verb stands under the first one's subject and helper
        same = tense == "past" and not base
        if same and previous.mood.subject == "other":
            m.subject = "other"
        elif not same and not previous.mood.done:
            m.unreal, m.planned, m.negated = previous.mood.unreal, True, previous.mood.negated
    m.base = base and m.done
    if base and m.linked and not m.subject and previous is not None and previous.mood.base and previous.mood.done:
        m.planned, m.base = False, True  # "had to drill out a stud and retap the hole"
    if base and m.planned and _made_to(t, v):
        m.planned, m.background, m.subject, m.base = False, False, "hands", True
    if m.planned and action == "checked" and tense == "base" and _on_purpose(t, v):
        m.planned, m.subject, m.background = False, "", False
    m = _scoped(t, v, m)
    back = (
        "back" in (t.fold(end), t.fold(end + 1)) or action in ("refitted", "reassembled") or verb.startswith("put back")
    )
    if m.passive and m.thing is not None:
        if any(t.fold(j) == "still" for j in range(m.thing.last + 1, v)):
            return []  # "the wheels are still balanced"
        return [Deed(action, verb, thing, v, end, "passive", m, back=back) for thing in _with_before(t, m.thing)]
    if m.passive and t.fold(m.start) in group("pronoun_subjects"):
        thing = antecedent(t, m.start)
        return [Deed(action, verb, thing, v, end, "passive", m, pronoun=True, back=back)] if thing else []
    if end > v and t.fold(v) in group("be") | group("get") and tense == "past":
        m.passive = True
        subject = m.thing or t.ending.get(v - 1)
        if subject is None and t.fold(v - 1) in PRONOUNS:
            subject = antecedent(t, v - 1, PRONOUNS[t.fold(v - 1)])
        if subject is not None:
            m.subject = "" if m.subject == "other" and subject not in t.ending.values() else m.subject
            return [Deed(action, verb, th, v, end, "passive", m, back=back) for th in _with_before(t, subject)]
        return []
    inside = t.ending.get(end) if end > v else None
    if inside is not None and inside.first > v and inside.known and not t.at.get(end + 1):
        return [Deed(action, verb, inside, v, end, "active", m, back=back)]
    among = group("holding") if action in ("topped up", "drained", "deflated") else None
    if verb in ("set", "adjust", "reset") and t.fold(end + 1) in PRONOUNS:
        valued = t.fold(end + 2) in ("to", "at") and end + 3 < len(t.words) and t.words[end + 3].number is not None
        if verb != "adjust" and not valued:
            return []
        if valued and any(th.words[-1] in group("aired") for th in t.before(v)):
            among = group("aired")
        elif valued and (set_on := [th for th in t.before(v, 40) if th.known and th.words[-1] in group("attributes")]):
            return [Deed(action, verb, set_on[-1], v, end + 1, "active", m, True)]  # "a go at the idle ... set it to 900"
    to = 2 if t.phrase(end + 1, "over", "to") else 1 if t.fold(end + 1) == "to" else 0
    if (
        to
        and not (m.subject == "thing" and m.thing is not None and m.thing.known)
        and verb in ("swap", "switch", "change")
        and t.at.get(end + 1 + to) is not None
    ):
        end, action = end + to, "replaced"
    if verb == "drop" and m.subject in ("other", "hands") and t.fold(end + 1) == "off":
        return []  # "my mate dropped off the mount"
    things, pronoun, last = _objects(t, end + 1, among)
    if things and _elsewhere(t, (things[-1].last if not pronoun else last) + 1):
        m.subject = "other"
    if (
        things
        and t.phrase((things[-1].last if not pronoun else last) + 1, "on", "the")
        and "list"
        in (
            t.fold(things[-1].last + 3),
            t.fold(things[-1].last + 4),
        )
    ):
        return []
    if not things and action in ("drained", "removed"):
        for j in range(end + 1, min(end + 7, len(t.words))):
            if (
                t.fold(j) in ("of", "from")
                and (source := t.at.get(j + 1)) is not None
                and (source.known or source.words[-1] in group("heads"))
                and not t.gap(j)
            ):
                things, pronoun, last = [source], False, source.last
                break
        if action == "removed" and things:
            things = []
    if (
        things
        and not pronoun
        and set(things[-1].words) & (group("defects") | (group("portions") if things[-1].hit is None else set()))
    ):
        tires = antecedent(t, v, None, group("aired")) if things[-1].words[-1] in ("hole", "puncture") else None
        target = tires or _target(t, things[-1])
        if target is None:
            return []
        things = [target]
        if action == "removed":
            action = "cleaned"
        pronoun = target is not None and target.last < v
    if particle and things and not pronoun:
        things = [th for th in things if th.start < particle[0]] or things[:1]
    if things:
        if m.subject == "thing" and not m.passive:
            m.subject = "other" if m.thing is not None and set(m.thing.words) & group("strangers") else ""
        between = [
            t.fold(j)
            for j in range(
                things[-1].last + 1 if not pronoun else last + 1,
                min(len(t.words), (things[-1].last if not pronoun else last) + 3),
            )
        ]
        back = back or "back" in between
        return [Deed(action, verb, th, v, max(last, end), "active", m, pronoun, back) for th in things]
    # "chain slack i checked", "the ones that i replaced"
    if m.subject == "self" and tense == "past":
        k = m.start - 1
        if t.fold(k) in ("that", "which"):
            k -= 1
        if k in t.ending and t.gap(m.start) < 2:
            meant = t.ending[k]
            if not meant.known and meant.words[-1] in group("standing_for"):
                spoken = antecedent(t, meant.first)
                meant = _stands_for(meant, spoken) if spoken else meant
            return [Deed(action, verb, meant, v, end, "preposed", m)]
    # "front pads replaced", with no helping verb
    if m.thing is not None and m.subject == "thing" and tense == "past":
        causative = t.fold(m.thing.first - 1)
        if causative in group("causative"):
            m.planned = True
        elif causative in ("got", "had") and m.thing.first:
            outer = mood(t, m.thing.first - 1)
            m.negated, m.unreal, m.subject = outer.negated, outer.unreal, outer.subject or "thing"
        if particle and t.words[end].token.end + 1 < particle[0]:
            return []  # "the handle snapped off in my hand": its own doing
        valued = end + 1 < len(t.words) and t.words[end + 1].number is not None and verb == "set"
        emptied = verb == "drain" and t.gap(m.thing.first) > 0 and t.gap(end + 1) > 0 and "battery" not in m.thing.words
        free = verb.split()[0] not in table("work")["no_fragment"]
        if (m.thing.known or m.thing.article) and (valued or emptied or free):
            return [Deed(action, verb, th, v, end, "fragment", m, back=back) for th in _with_before(t, m.thing)]
        return []
    # "wiper blades $19. fitted."
    free = verb.split()[0] not in table("work")["no_fragment"]  # not "they wanted eighteen for a bulb, walked out"
    if tense == "past" and free and not m.subject and t.gap(v) > 0 and t.gap(end + 1) > 0 and v > 0:
        spoken = antecedent(t, v, None, among)
        return [Deed(action, verb, spoken, v, end, "fragment", m, pronoun=True)] if spoken is not None else []
    # "removed and cleaned the bowl", "cleaned and greased the rail"
    if t.fold(end + 1) in ("and", "then") and end + 2 < len(t.words):
        nxt = end + 2
        while nxt < len(t.words) and t.fold(nxt) in ("then", "also", "just"):
            nxt += 1
        other = t.words[nxt].action if nxt < len(t.words) else None
        if other is not None and other.data.get("tense") == tense:
            stop = nxt
            while stop + 1 < len(t.words) and t.words[stop + 1].token.start < other.end:
                stop += 1
            things, pronoun, last = _objects(t, stop + 1)
            return [Deed(action, verb, th, v, last, "active", m, pronoun, back) for th in things]
    return []


def _on_purpose(t: Talk, v: int) -> bool:
    """ "had the wheels off to look at the pads": a look that was the reason for something done."""
    if t.fold(v - 1) != "to" or t.fold(v - 2) in group("purposes_not") or t.gap(v) or t.gap(v - 1) == 2:
        return False
    k, steps = v - 2, 0
    while k >= 0 and steps < 11 and t.gap(k + 1) < 2:
        w = t.fold(k)
        if (
            w in group("modal")
            or w in group("negation")
            or w in ("if", "tomorrow", "next")
            or w in ("he", "she", "they")
        ):
            return False
        if w in group("purposeful") or (t.words[k].action is not None and t.words[k].tense == "past"):
            return True
        k -= 1
        steps += 1
    return False


def _made_to(t: Talk, v: int) -> bool:
    """ "helped me bleed the clutch", "had the shop rebuild the head": a plain form that was done."""
    before = [t.fold(j) for j in range(max(0, v - 5), v) if not any(t.gap(x) == 2 for x in range(j + 1, v + 1))]
    if "to" in before[-1:] or set(before) & (group("modal") - {"to"}):
        return False
    if "helped" in before[-3:]:
        return True
    had = next((n for n in range(len(before) - 1, -1, -1) if before[n] in group("made_to")), None)
    return had is not None and bool(set(before[had + 1 :]) & ({"them", "him", "her"} | group("hands")))


def _left_to_states(t: Talk, v: int) -> bool:
    """True for action phrases that `_states` reads with more care: "is out", "went in", "came off", "got a new",
    "had ... off".
    """
    hit = t.words[v].action
    if hit is None or t.fold(v) not in group("be") | group("get") | group("have") | group("moving"):
        return False
    verb = str(hit.data.get("verb", "")).split()
    if not verb or "look" in verb:
        return False
    if len(verb) > 3:
        return False  # "had a bar on the drop link"
    literal = fold(verb[0]) == t.fold(v) or verb[0] in ("have", "get")
    return literal and (verb[-1] in group("particles") or verb[-1] in group("new") or t.fold(v) in group("have"))


def _elsewhere(t: Talk, k: int) -> bool:
    """True where what follows word k puts it on another's machine or in no machine at all: "in his van", "in the tv
    remote".
    """
    for j in range(k, min(k + 7, len(t.words))):
        if t.gap(j) == 2 or t.fold(j) in group("new_sentence") or t.words[j].action is not None:
            return False
        if t.fold(j) in group("ties"):
            thing = t.at.get(j + 1)
            if thing is not None and (thing.other or thing.words[-1] in group("no_machine")):
                return True
        elif t.fold(j) in group("no_machine"):
            return True
    return False


def _between_full_stop(t: Talk, a: int, b: int) -> bool:
    return any(t.gap(j) == 2 for j in range(a + 1, b + 1))


def _with_before(t: Talk, thing: Thing) -> list[Thing]:
    """The thing and those coordinated before it: "the pads and the rotors are in"."""
    found = [thing]
    k = thing.first - 1
    if (
        t.gap(thing.first) == 1
        and not t.words[thing.first].colon
        and (before := t.ending.get(k)) is not None
        and before.known
        and before.bare
        and thing.bare
    ):
        return [*_with_before(t, before), thing]
    while t.fold(k) == "and" and t.gap(k + 1) < 2 and (before := t.ending.get(k - 1)) is not None:
        if not (before.known and thing.known) or t.words[max(0, before.first - 1)].action is not None:
            break
        found.insert(0, before)
        k = before.first - 1
    return found


def _states(t: Talk) -> list[Deed]:
    """Things said to be in, on, out or off: "new plug is in", "carbs off", "had the wheels off"."""
    found: list[Deed] = []
    raw = table("work")
    for thing in t.things:
        k = thing.last + 1
        contracted = t.words[thing.last].token.lower.endswith("'s")
        if t.gap(k) or k >= len(t.words):
            continue
        w = t.fold(k)
        back = False
        helper = ""
        m = mood(t, k)
        m.thing, m.subject, m.start = thing, "thing", thing.first
        if w in group("be_now") or contracted or w in ("went", "came", "goes"):
            helper = "is" if contracted and w not in group("be_now") else w
            k += 0 if contracted and w not in group("be_now") else 1
        elif t.fold(thing.first - 1) in ("had", "got", "have") or (
            t.fold(thing.first - 1) in ("the", "my") and t.fold(thing.first - 2) in ("had", "got")
        ):
            helper = "had"
        elif not (thing.bare or thing.article in ("the", "both", "")) or not thing.known:
            continue
        negated = False
        while t.fold(k) in group("between_thing_and_state") and not t.gap(k):
            if t.fold(k) == "in" and t.fold(k + 1) not in ("place",):
                break
            back = back or t.fold(k) == "back"
            negated = negated or t.fold(k) == "not"
            k += 1
        p = t.fold(k)
        p = "on" if p == "up" and back else p  # "the tank is back up"
        if helper == "went" and (thing.kind == "fastener" or thing.words[-1] in raw["fasteners"]):
            tight = next((j for j in range(k, min(k + 8, len(t.words))) if t.fold(j) in group("tightness")), None)
            if tight is not None and not any(t.gap(j) == 2 for j in range(k, tight + 1)):
                found.append(
                    Deed(
                        "tightened",
                        "go tight",
                        thing,
                        k,
                        tight,
                        "state",
                        _scoped(t, k, Mood(start=thing.first, thing=thing)),
                    )
                )
                continue
        if t.gap(k) or p not in raw["states"] or negated:
            continue
        m = mood(t, thing.first)
        if helper == "had":
            m = mood(t, thing.first - 1 if t.fold(thing.first - 1) in ("had", "got", "have") else thing.first - 2)
            if t.fold(thing.first - 1) == "have":
                m.unreal = m.unreal or m.subject != "self"
            got = t.fold(thing.first - 1) == "got" or t.fold(thing.first - 2) == "got"
            if p in ("in", "on") and (not got or t.fold(k + 1) == "there"):
                continue
            m.background = False
        else:
            m.subject = "" if m.subject in ("thing", "other") else m.subject
            if m.subject == "self" or (t.words[thing.first - 1].action is not None and thing.first):
                # the thing is somebody's object and the particle belongs to their verb
                continue
        action = raw["states"][p]
        if not _state_holds(t, thing, helper, p, k, back):
            continue
        opener = next(
            (
                t.fold(j)
                for j in range(thing.first - 1, max(-1, thing.first - 5), -1)
                if t.fold(j) not in group("before_had_thing")
            ),
            "",
        )
        if opener in group("subordinate"):
            continue
        m = _scoped(t, k, m)
        m.start = thing.first
        m.thing = thing
        if back and action == "replaced":
            action = "fitted"
        for each in _with_before(t, thing) if helper != "had" else [thing]:
            found.append(Deed(action, f"is {p}", each, k, k, "state", m, back=back))
    return found


def _state_holds(t: Talk, thing: Thing, helper: str, p: str, k: int, back: bool) -> bool:
    """True where the particle at word k says that the thing was fitted or taken off, and not that it is lit, sold
    or broken.
    """
    if (not thing.known and not (thing.new and thing.article)) or (thing.hit is None and not thing.loose):
        return False
    if thing.other or (thing.old and p in ("in", "on")):
        return False
    head = thing.words[-1]
    name = " ".join(thing.words)
    lit = stem(head).endswith(("light", "lamp", "blinker"))
    if lit and p in ("on", "off", "out") and not thing.new and helper != "had":
        return False  # "the taillight is out", "engine light back on"
    if (head in group("switchable") or name in group("switchable")) and not (thing.new or back or helper == "had"):
        if p in ("on", "off") or stem(head) in ("light", "lamp", "headlight"):
            return False
        if not helper:
            return False
    if thing.hit and thing.hit.kind == "consumable" and not thing.new:
        return False
    nxt = t.fold(k + 1) if t.gap(k + 1) == 0 else ""
    target = t.at.get(k + 1) if t.gap(k + 1) == 0 else None
    if p == "in" and not (
        target is not None
        and target.words[-1] not in group("stores")
        and (
            _is_subject(t, target)
            or target.old
            or target.words[-1] in group("standing_for")
            or (target.new and target.bare and not thing.new)
        )
    ):
        if target is not None and target.bare and target.words[-1] not in group("stores") and helper == "went":
            return thing.kind != "consumable"
        if target is not None and (
            target.words[-1] in group("stores")
            or not ((thing.new and target.known) or target.name.startswith(("cylinder", "number")))
        ):
            return False
        if target is None and nxt in group("not_after_in") and nxt != "there":
            return False
    elif p in ("on", "off", "out"):
        if nxt == "back" and t.fold(k + 2) == "order":
            return False
        if helper == "had" and nxt == "to":
            return True
        if nxt in group("not_after_on"):
            if nxt in ("this", "that") and t.fold(k + 2) in group("daytimes"):
                return True
            return p == "out" and nxt == "of" and t.fold(k + 2) in ("the",) and helper in ("is", "was", "had")
        if target is not None and not t.at[k + 1].bare:
            return False
    if helper in ("came", "went", "goes"):
        if helper == "came" and p in ("off", "out"):
            return nxt in table("work")["deliberately"] and not any(
                t.fold(j) in ("my", "fingers", "hand") for j in range(k + 1, k + 4)
            )
        if helper == "goes" or (helper == "went" and p in ("off", "out")) or helper == "came":
            return False
        return thing.new or thing.kind_or_part == "component"
    if not helper:
        if nxt in ("i", "we", "it", "he", "she"):
            return False
        alone = t.gap(thing.first) > 0 and t.gap(k + 1) > 0
        if (back or alone) and p in ("in", "on") and thing.kind_or_part == "component":
            return True
        return (p in ("off", "out") and thing.kind_or_part == "component") or (thing.new and p in ("in", "on"))
    return True


def _pronoun_states(t: Talk) -> list[Deed]:
    """ "the seals came and all three are in", "new one in": the thing named before, said to be in by a word that
    stands for it.
    """
    found: list[Deed] = []
    for k in range(len(t.words)):
        w = t.fold(k)
        ones = w in ("one", "ones") and t.fold(k - 1) in group("new")
        contracted = w in group("its")
        if (
            w in ("it", "they", "both", "those")
            and t.fold(k + 1) == "went"
            and t.fold(k + 2) in ("in", "on")
            and not ones
        ):
            continue
        counted = t.fold(k - 1) == "all" and t.words[k].number is not None
        if not (w in PRONOUNS or contracted or ones or counted or w == "they"):
            continue
        j = k + 1
        if ones and t.fold(j) == "of" and t.fold(j + 1) in ("those", "them", "these"):
            j += 2  # "a new one of those went on"
        helped = contracted
        while t.fold(j) in group("be_now") | group("between_state") and not t.gap(j):
            helped = helped or t.fold(j) in group("be_now") or t.fold(j) == "went"
            if t.fold(j) in group("negation"):
                break
            j += 1
        p = t.fold(j)
        if p not in ("in", "on") or t.gap(j) or not (helped or ones):
            continue
        nxt = t.fold(j + 1) if t.gap(j + 1) == 0 else ""
        target = t.at.get(j + 1) if t.gap(j + 1) == 0 else None
        apart = (
            target is not None and target.words[-1] not in group("stores") and (_is_subject(t, target) or target.old)
        )
        if nxt in group("not_after_in_pronoun") and not apart and not (p == "in" and nxt == "the" and ones):
            continue
        if target is not None and not apart and (not t.at[j + 1].bare or t.at[j + 1].words[-1] in group("stores")):
            continue
        verb = t.words[k - 3] if ones and k >= 3 and t.fold(k - 2) in group("articles") else None
        if verb is not None and verb.action is not None:
            continue  # "i'll put a new one in": the verb's own
        thing = antecedent(t, k, None if ones or contracted else PRONOUNS.get(w, True))
        if thing is None:
            continue
        told = [t.fold(x) for x in range(thing.last + 1, k)]
        awaited = thing.new or ones or any(x in group("arriving") for x in told)
        if not awaited or "back" in [t.fold(x) for x in range(k, j)]:
            continue
        m = _scoped(t, j, Mood(start=k, thing=thing))
        found.append(Deed("replaced", f"is {p}", thing, k, j, "state", m, pronoun=True))
    return found


def _typed(t: Talk) -> list[Deed]:
    """Terse notes: "adj handbrake 4 clicks", "plugs done"."""
    raw = table("work")
    found: list[Deed] = []
    for v in range(len(t.words)):
        w = t.fold(v)
        if w in raw["typed"] and t.words[v].thing is None and t.words[v].action is None:
            things, _, last = _objects(t, v + 1)
            found.extend(
                Deed(raw["typed"][w], w, th, v, last, "active", _scoped(t, v, Mood(start=v)))
                for th in things
                if th.known
            )
        elif (
            w == "done"
            and (thing := t.ending.get(v - 1)) is not None
            and t.gap(v) == 0
            and (thing.kind_or_part == "component" or thing.words[-1] in group("attributes"))
        ):
            placed = v + 1 < len(t.words) and (
                t.words[v + 1].place is not None
                or t.words[v + 1].number is not None
                or t.fold(v + 1) in ("both", "all", "$")
            )
            if t.gap(v + 1) == 0 and t.fold(v + 1) not in group("after_done") and not placed:
                continue
            before = t.fold(thing.first - 1)
            if before in group("not_before_done"):
                continue
            action = next((a for word, a in raw["do"].items() if word in thing.words), raw["do"]["usual"])
            if action:
                m = _scoped(t, v, mood(t, thing.first))
                m.subject = "" if m.subject == "thing" else m.subject
                found.extend(Deed(action, "do", th, v, v, "bare", m) for th in _with_before(t, thing))
    return found


def _seen(t: Talk) -> list[Deed]:
    """Checks that are told by what was seen: "the lug nuts had not moved", "the fuse was fine"."""
    found: list[Deed] = []
    for thing in t.things:
        if not thing.known or thing.other:
            continue
        following = [
            t.fold(j)
            for j in range(thing.last + 1, min(thing.last + 8, len(t.words)))
            if not any(t.gap(x) == 2 for x in range(thing.last + 1, j + 1))
        ]
        m = _scoped(t, thing.last, Mood(start=thing.first, thing=thing))
        if thing.kind == "fastener" and following and following[0] in group("have") | group("doing") | {"not", "none"}:
            at = next((n for n, w in enumerate(following[:5]) if w in group("kept_still")), None)
            if at is not None and set(following[:at]) & group("negation"):
                found.append(Deed("checked", "see", thing, thing.first, thing.last + 1 + at, "state", m))
        elif thing.words[-1] in group("seen_by_looking") and following and following[0] in group("be_now"):
            good = next((n for n, w in enumerate(following[:7]) if w in group("sound")), None)
            if good is not None and not set(following[:good]) & {"not", "never", "no", "but"}:
                found.append(Deed("checked", "see", thing, thing.first, thing.last + 1 + good, "state", m))
    return found


def finished(t: Talk) -> list[Deed]:
    """Things said to be done: "the clutch is done". Whether that was a job or a failure, what was waiting tells."""
    found: list[Deed] = []
    for thing in t.things:
        k = thing.last + 1
        if not thing.known or thing.other or thing.kind != "component" or t.gap(k) or t.fold(k) not in group("be_now"):
            continue
        k += 1
        while t.fold(k) in group("still_words"):
            k += 1
        if t.fold(k) == "done" and t.fold(k + 1) not in ("for", "in"):
            m = _scoped(t, k, Mood(start=thing.first, thing=thing))
            if m.done:
                found.append(Deed("replaced", "do", thing, k, k, "state", m))
    return found


def _bare(t: Talk, sofar: list[Deed]) -> list[Deed]:
    """New things named with no verb among deeds: "new gasket too", "plus two hose clamps", "fresh washers under the
    heads".
    """
    worked = any(d.mood.done for d in sofar)
    claimed = {id(d.thing) for d in sofar}
    poured = {t.index(q.end) for q in t.utterance.quantities if q.dimension == "volume"}
    found: list[Deed] = []
    for thing in t.things:
        before_word = t.fold(thing.first - 1)
        wrapped = thing.hit is not None and thing.hit.data.get("class") == "electrical"
        along = before_word == "with" and (
            wrapped or ((thing.article in ("a", "an") or thing.new) and thing.words[-1] in group("goes_with"))
        )
        along = along or (
            before_word == "and"
            and (thing.new or thing.article in ("a", "an"))
            and thing.words[-1] in group("goes_with")
            and any(t.fold(x) == "with" and not t.gap(x + 1) for x in range(max(0, thing.first - 6), thing.first - 1))
        )  # "torqued it with red locker and a new lock washer"
        measured = (
            before_word == "and" and thing.first - 1 in poured and thing.article in ("a", "an")
        )  # "5 qt and a filter"
        if (
            id(thing) in claimed
            or not thing.known
            or thing.other
            or not (along or measured or thing.new or "plus" in (t.fold(thing.first), t.fold(thing.first - 1)))
        ):
            continue
        k, before = thing.last + 1, t.fold(thing.first - 1)
        behind = t.gap(thing.first) > 0 or before not in group("not_before_bare")
        ended = t.gap(thing.last + 1) > 0 or t.fold(thing.last + 1) == "and"
        ended = ended or (t.gap(thing.first) == 2 and t.fold(thing.last + 1) in group("bare_opening"))
        if not (
            worked
            or before in group("placing")
            or (before == "with" and t.fold(thing.first - 2) == "back")
            or (t.gap(thing.first) > 0 and ended)
        ):
            continue
        if (
            not behind
            or _is_subject(t, thing)
            or (t.words[thing.first - 1].action is not None and t.gap(thing.first) == 0)
        ):
            continue
        if (
            t.gap(k) == 0
            and k < len(t.words)
            and (
                t.fold(k) in group("after_no_bare")
                or t.words[k].action is not None
                or (
                    t.fold(k) == "on"
                    and t.gap(thing.first) == 0
                    and t.fold(k + 1) not in group("on_it")
                    and not (worked and thing.new and thing.words[-1] in group("goes_with") and k + 1 in t.at)
                )
            )
        ):
            continue
        window = [
            t.fold(x)
            for x in range(max(0, thing.first - 9), thing.first)
            if not any(t.gap(y) == 2 for y in range(x + 1, thing.first + 1))
        ]
        window = [x for n, x in enumerate(window) if x != "like" or n >= len(window) - 2]
        if any(
            x in group("acquiring")
            or x in group("times_to_come")
            or x in group("negation")
            or x in group("unreal_near")
            for x in window
        ):
            continue
        m = _scoped(t, thing.first, Mood(start=thing.first, thing=thing))
        pair = t.at.get(thing.last + 2) if t.fold(thing.last + 1) == "and" else None
        if thing.last + 1 < len(t.words) and t.words[thing.last + 1].plus:
            pair = t.at.get(thing.last + 1)
        for each in (thing, pair):
            if each is thing or (
                each is not None and each.bare and each.known and not _is_subject(t, each) and id(each) not in claimed
            ):
                found.append(Deed("fitted", "new", each, each.first, each.last, "bare", m))
    return found


def _nominal(t: Talk) -> list[Deed]:
    """ "fork oil change today": a deed said as a noun at the head of a sentence."""
    raw = table("work")
    found: list[Deed] = []
    for v in range(1, len(t.words)):
        action = raw["said_as_noun"].get(t.fold(v))
        thing = t.ending.get(v - 1) or next((th for th in t.between(v - 6, v - 1) if v <= th.last), None)
        if action is None or thing is None or not thing.bare:
            continue
        if thing.first > 3 and t.gap(thing.first) < 2:
            continue
        nxt = t.fold(v + 1)
        if not (
            t.gap(v + 1) > 0
            or nxt in group("daytimes")
            or nxt in ("done", "and", "this")
            or t.words[v + 1].number is not None
        ):
            continue
        m = _scoped(t, v, Mood(start=thing.first, thing=thing))
        found.append(Deed(action, "do", thing, v, v, "bare", m))
        also = t.at.get(v + 2 if t.fold(v + 1) == "and" else v + 1)
        joined = v + 1 < len(t.words) and (t.words[v + 1].plus or t.fold(v + 1) == "and")
        if joined and also is not None and also.known and also.bare and not _is_subject(t, also):  # "oil chg + filter"
            found.append(Deed(action, "do", also, v, also.last, "bare", m))
    return found


def _light(t: Talk) -> list[Deed]:
    """ "did the clearances", "gave the rail a clean", "did an oil change"."""
    raw = table("work")
    found: list[Deed] = []
    for v in range(len(t.words)):
        w = t.fold(v)
        if (
            w == "fixed"
            and t.words[v].action is None
            and (mended := t.at.get(v + 1)) is not None
            and mended.known
            and not t.gap(v + 1)
        ):
            m = _scoped(t, v, mood(t, v))
            if not m.passive and m.subject in ("", "self", "hands") and t.fold(v - 1) not in PRONOUNS:
                found.append(Deed("repaired", "fix", mended, v, mended.last, "light", m))
        if (
            w in ("had", "got")
            and (done_for := t.at.get(v + 1)) is not None
            and t.fold(done_for.last + 1) == "done"
            and not t.gap(v + 1)
        ):
            action = next((a for word, a in raw["do"].items() if word in done_for.words), raw["do"]["usual"])
            if action and done_for.known and not done_for.other:
                found.append(Deed(action, "do", done_for, v, done_for.last + 1, "light", _scoped(t, v, mood(t, v))))
        if w == "did" and t.fold(v + 1) in PRONOUNS and t.words[v].action is None:
            j = v + 2 + (t.fold(v + 2) in ("all", "both"))
            done_to = antecedent(t, v, PRONOUNS[t.fold(v + 1)])
            j += t.fold(j) in ("back", "all", "both")
            if t.fold(j) in ("to", "at", "up") and done_to is not None and done_to.kind == "fastener":
                found.append(Deed("tightened", "do", done_to, v, j, "light", _scoped(t, v, mood(t, v)), True))
        if w == "got" and t.gap(v + 1) == 0 and t.gap(v) == 0:
            j = v + 1 + (t.fold(v + 1) in ("a", "some"))
            got_one = t.fold(j) in group("new") and t.fold(j + 1) in ("one", "ones")
            subject = t.ending.get(v - 1) or (
                antecedent(t, v - 1, None, nearest=True) if t.fold(v - 1) in PRONOUNS else None
            )
            if got_one and subject is not None and subject.known and not subject.other:  # "so that got a new one"
                m = _scoped(t, v, Mood(start=v, thing=subject))
                found.append(Deed("replaced", "get", replace(subject, new=True), v, j + 1, "light", m, True))
        if w == "did" and t.words[v].action is None and t.fold(v + 1) not in group("negation"):
            m = _scoped(t, v, mood(t, v))
            k = v + 1
            while t.fold(k) in group("before_done_thing"):
                k += 1
            thing = t.at.get(k)
            if thing is None or t.gap(k):
                continue
            noun = next((n for n in raw["nouns"] if " ".join(thing.words).endswith(n)), None)
            if noun:
                action, what = raw["nouns"][noun]
                named = _renamed(thing, what)
                found.append(Deed(action, "do", named, v, thing.last, "light", m))
                continue
            if not (thing.known or thing.words[-1] in group("heads")) or thing.other:
                continue
            action = next((a for word, a in raw["do"].items() if word in thing.words), raw["do"]["usual"])
            if not action:
                continue
            for each in _objects(t, k)[0]:
                found.append(Deed(action, "do", each, v, each.last, "light", m))
        elif (
            w in group("putting")
            and (tool := t.at.get(v + 1)) is not None
            and (tool.kind in ("tool", "meter") or tool.words[-1] in group("instruments"))
        ):
            if t.fold(tool.last + 1) in group("instrument_to") and t.words[v].token.end < tool.start:
                things, pronoun, last = _objects(t, tool.last + 2)
                m = _scoped(t, v, mood(t, v))
                found.extend(Deed("checked", "measure", th, v, last, "light", m, pronoun) for th in things)
        elif (
            w in ("put", "slid", "slipped")
            and t.words[v].action is None
            and (laid := t.at.get(v + 1)) is not None
            and laid.known
        ):
            over = t.fold(laid.last + 1) in group("laid_where") and not t.gap(laid.last + 1)
            if over and (laid.article in ("a", "an", "some", "") or laid.new):
                found.append(Deed("fitted", "put", laid, v, laid.last + 1, "light", _scoped(t, v, mood(t, v))))
        elif w == "look" and t.fold(v + 1) in group("look_where"):
            k = v - 1
            while t.fold(k) in group("kinds_of_look"):
                k -= 1
            if t.fold(k) in group("gave_a") and k < v - 1:
                things, pronoun, last = _objects(t, v + 2)
                m = _scoped(t, k, mood(t, k))
                found.extend(Deed("checked", "look at", th, v, last, "light", m, pronoun) for th in things)
        elif w in group("airing") and t.words[v].action is None:
            things, pronoun, last = _objects(t, v + 1, group("aired"))
            if things and t.fold(last + 1) in ("to", "up", "back") and things[0].words[-1] in group("aired"):
                m = _scoped(t, v, mood(t, v))
                found.extend(Deed("topped up", "pump up to", th, v, last, "light", m, pronoun) for th in things)
        elif w == "gave" and t.gap(v + 1) == 0:
            things, pronoun, last = _objects(t, v + 1)
            if not things:
                continue
            k = last + 1
            if t.fold(k) not in ("a", "another", "some"):
                continue
            k += 1
            for j in range(k, min(k + 5, len(t.words))):
                if t.gap(j) and j > k:
                    break
                action = raw["give"].get(t.fold(j))
                if action:
                    m = _scoped(t, v, mood(t, v))
                    found.extend(Deed(action, "give", th, v, j, "light", m, pronoun) for th in things)
    return found


def _renamed(thing: Thing, name: str) -> Thing:
    return Thing(
        thing.first,
        thing.last,
        thing.start,
        thing.end,
        name,
        True,
        thing.hit if thing.hit and thing.hit.kind in PARTS_OF_MACHINE else None,
        words=tuple(name.split()),
    )
