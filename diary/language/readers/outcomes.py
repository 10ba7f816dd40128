"""Deeds told by how they came out, with no verb of doing: "in it goes", "pads done both sides", "half a pint added".

Each gives `Deed`s like those of `deeds`. One that only says that a known thing is in ("blades on already") is
marked `if_awaited`: it was a deed where the part was needed, ordered or bought before, which the readers look up.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from diary.language.readers.deeds import PRONOUNS, Deed, Mood, _is_subject, _objects, _scoped, antecedent, deeds, mood
from diary.language.readers.phrases import Talk, Thing, folded, group, table
from diary.language.types import Quantity


@cache
def words(name: str) -> frozenset[str]:
    """A word list of `outcomes.toml`, folded."""
    return frozenset(folded(w) for w in table("outcomes")["words"][name])


def told(t: Talk) -> list[Deed]:
    """Every deed of the utterance, said by a verb or by its outcome, in order; worked out once."""
    if "told" not in t.memo:
        found = list(deeds(t))
        for reading in (_inverted, _elided, _on_it, _poured, _made_new, _set_to, _smeared, _alone, _any_verb, _then_too, _back_on, _did_too):
            taken = {(d.thing.first, _kind(d.action)) for d in found if d.mood.done or not d.mood.planned}
            found.extend(d for d in reading(t) if (d.thing.first, _kind(d.action)) not in taken)
        found = _not_taken_back(t, found)
        found.sort(key=lambda d: (d.at, d.thing.first))
        t.memo["told"] = found
    result: list[Deed] = t.memo["told"]
    return result


def _not_taken_back(t: Talk, found: list[Deed]) -> list[Deed]:
    """The deeds but those that are put right at once: "put new points in, no, i tell a lie, i only looked at them"."""
    for k in range(2, len(t.words)):
        if t.fold(k) != "only" or not {t.fold(x) for x in range(max(0, k - 6), k)} & words("puts_right"):
            continue
        after = min((d for d in found if k < d.at <= k + 4), key=lambda d: d.at, default=None)
        if after is not None:
            head = after.thing.words[-1:]
            found = [d for d in found if not (k - 18 <= d.at < k and d.thing.words[-1:] == head)]
    return found


def _kind(action: str) -> str:
    """The action, all that put a thing in being one: "pressed in" says it already."""
    return "in" if action in ("fitted", "replaced", "installed") else action


def _inverted(t: Talk) -> list[Deed]:
    """ "in it goes", "so on went the track rod ends", "off came the cover"."""
    states: dict[str, str] = table("work")["states"]
    found: list[Deed] = []
    for k in range(len(t.words)):
        p = t.fold(k)
        if p not in states or not (t.gap(k) or k == 0 or t.fold(k - 1) in words("before_inverted")):
            continue
        back = t.fold(k - 1) == "back" and not t.gap(k)
        if t.fold(k + 1) in words("going_in") and not t.gap(k + 1):
            things, pronoun, last = _objects(t, k + 2)
            things = [th for th in things if th.known and not th.other] if not pronoun else []
            poured = _volume_at(t, k + 2)
            if poured is not None:
                continue  # a pouring
        elif (t.fold(k + 1) in PRONOUNS or t.fold(k + 1) == "they") and t.fold(k + 2) in words("going_in"):
            if t.gap(k + 1) or t.gap(k + 2):
                continue
            thing = antecedent(t, k, True if t.fold(k + 1) == "they" else None)
            things, pronoun, last = ([thing] if thing else []), True, k + 2
        else:
            continue
        for thing in things:
            m = _scoped(t, k + 1, Mood(start=k, thing=thing))
            action = states[p]
            if action == "replaced" and back:
                action = "fitted"
            found.append(Deed(action, f"is {p}", thing, k, max(last, k + 1), "state", m, pronoun, back))
    return found


def _past_price(t: Talk, k: int) -> int:
    """The word after an amount of money that begins at word k; k itself where there is none."""
    if k >= len(t.words) or t.gap(k) == 2:
        return k
    at = t.words[k].token
    for q in t.utterance.quantities:
        if q.start <= at.start < q.end and q.dimension in ("money", "currency", "price"):
            return t.index(q.end)
    return k


def _elided(t: Talk) -> list[Deed]:
    """ "blades on already", "gasket and both washers on", "2 stainless bolts, $3.60, in with threadlocker"."""
    found: list[Deed] = []
    for thing in t.things:
        if not thing.known or thing.other or thing.old or thing.kind not in ("component", "fastener", ""):
            continue
        if thing.place_only or thing.words[-1] in group("any_tire"):
            continue
        k = _past_price(t, thing.last + 1)
        priced = k > thing.last + 1
        had = False
        while t.fold(k) in words("between") | words("had") and t.gap(k) < 2 and k - thing.last < 12:
            if t.fold(k) in ("for", "got") or (t.fold(k) == "come" and t.fold(k + 1) in group("particles")):
                break
            had = had or t.fold(k) in words("had")
            k += 1
        p = t.fold(k)
        if p not in words("done") or t.gap(k) == 2 or (t.gap(k) == 1 and not priced):
            continue
        nxt = t.fold(k + 1) if not t.gap(k + 1) else ""
        if _goes_on(t, k, nxt):
            continue
        lit = thing.words[-1] in group("switchable") and not (nxt == "" and t.gap(thing.first))
        if p in ("on", "in") and (nxt == "for" or lit) and not (thing.new or priced):
            continue
        if t.fold(thing.first - 1) in ("had", "have", "got", "of", "with", "to", "on", "from", "for", "under", "off"):
            continue
        if t.words[max(0, thing.first - 1)].action is not None and not t.gap(thing.first):
            continue
        m = _scoped(t, k, Mood(start=thing.first, thing=thing))
        sure = thing.new or had or (priced and thing.count is not None)
        for each in _listed_before(t, thing):
            found.append(Deed("replaced", "is in", each, k, k, "state", m, if_awaited=not sure))
    return found


def _goes_on(t: Talk, k: int, following: str) -> bool:
    """True where the word behind "in" or "on" makes it a place or a figure of speech: "on sale", "in the shed"."""
    if following == "this":
        return t.fold(k + 2) not in group("daytimes")
    if following == "each":
        return t.fold(k + 2) == "other"
    if following in words("not_behind") or (following in group("daytimes") and following not in ("today", "tonight")):
        return True
    thing = t.at.get(k + 1)
    return thing is not None and not t.gap(k + 1) and thing.words[-1] in group("stores")


def _listed_before(t: Talk, thing: Thing) -> list[Thing]:
    """The thing and those listed before it: "water pump belt and tensioner all on"."""
    found = [thing]
    k = thing.first - 1
    while k > 0:
        joined = t.fold(k) in ("and", "plus") or t.words[k + 1].plus
        at = k - 1 if t.fold(k) in ("and", "plus") else k
        before = t.ending.get(at)
        if before is None or not before.known or before.other or t.gap(at + 1) == 2:
            break
        if not (joined or before.last + 1 == found[0].first):
            break
        if t.words[max(0, before.first - 1)].action is not None and not t.gap(before.first):
            break
        found.insert(0, before)
        k = before.first - 1
    return found


def _on_it(t: Talk) -> list[Deed]:
    """ "a silicone elbow fourteen quid and it was on before tea", "they're both on": the thing spoken of is in."""
    found: list[Deed] = []
    for k in range(len(t.words)):
        w = t.fold(k)
        if w not in ("it", "they", "both", "it's", "its", "they're", "theyre"):
            continue
        j = k + 1
        helped = w in group("its")
        while t.fold(j) in words("between") and not t.gap(j) and j - k < 5:
            helped = helped or t.fold(j) in group("be_now")
            j += 1
        if not helped or t.fold(j) not in ("in", "on") or t.gap(j):
            continue
        nxt = t.fold(j + 1) if not t.gap(j + 1) else ""
        if _goes_on(t, j, nxt):
            continue
        many = w.startswith("they") or w == "both"
        thing = antecedent(t, k, None)
        if thing is None or not thing.known:
            continue
        between = {t.fold(x) for x in range(thing.last + 1, k)}
        priced = _past_price(t, thing.last + 1) > thing.last + 1 or any(
            q.dimension in ("money", "currency", "price") and thing.last < t.index(q.start) < k
            for q in t.utterance.quantities
        )
        m = _scoped(t, j, Mood(start=k, thing=thing))
        things = _listed_before(t, thing) if many else [thing]
        had = bool(between & words("had")) or priced or thing.new
        found.extend(Deed("replaced", f"is {t.fold(j)}", th, k, j, "state", m, True, if_awaited=not had) for th in things)
    return found


def _made_new(t: Talk) -> list[Deed]:
    """ "all four spark plugs are new now"."""
    found: list[Deed] = []
    for thing in t.things:
        k = thing.last + 1
        if not thing.known or thing.other or thing.kind_or_part != "component" or t.fold(k) not in ("are", "is"):
            continue
        k += 1
        while t.fold(k) in ("all", "both", "now") and not t.gap(k):
            k += 1
        if t.fold(k) not in ("new", "fresh") or t.gap(k) or not (t.gap(k + 1) or t.fold(k + 1) == "now"):
            continue
        m = _scoped(t, k, Mood(start=thing.first, thing=thing))
        found.append(Deed("replaced", "replace", thing, k, k, "active", m))
    return found


# ---- pouring --------------------

_CHANGES = ("replaced", "topped up", "flushed")


def _volume_at(t: Talk, k: int) -> Quantity | None:
    """The volume that begins at word k, or one word on ("about a pint")."""
    if k >= len(t.words):
        return None
    for q in t.utterance.quantities:
        if q.dimension == "volume" and k <= t.index(q.start) <= k + 1:
            return q
    return None


def _fluid_of(t: Talk, i: int, j: int) -> Thing | str | None:
    """What was poured, by the words about the volume in words i to j-1: the fluid named, its grade, or what holds it."""
    fluids = table("work")["fluids"]

    def fluid(thing: Thing) -> bool:
        return thing.words[-1] in fluids and thing.words[-1] not in group("fuels") and thing.words[-1] != "air"

    for thing in t.between(i + 1, j + 4):
        if not any(t.gap(x) == 2 for x in range(j, thing.first + 1)) and fluid(thing):
            return thing
    grades: dict[str, str] = table("outcomes")["fluids"]["grades"]
    for k in range(j, min(j + 4, len(t.words))):
        if t.fold(k) in grades and t.gap(k) < 2:
            return grades[t.fold(k)]
        if t.gap(k) == 2:
            break
    before = [th for th in t.before(i, 34) if not th.other and (fluid(th) or th.words[-1] == "level")]
    if before:
        return before[-1]
    systems: dict[str, str] = table("outcomes")["fluids"]["systems"]
    parts = [th for th in t.things if th.kind == "component" and not th.other and th.hit is not None]
    for thing in [*reversed([th for th in parts if th.last < i]), *parts]:  # the part spoken of, else any
        path = thing.hit.data.get("path") or () if thing.hit is not None else ()
        name = next((name for system, name in systems.items() if system in path), None)
        if name is not None:
            holder = thing.full if thing.words[-1] in group("holding") else ""
            return f"{holder} {name}".strip()
    return None


def _poured(t: Talk) -> list[Deed]:
    """ "half a pint of oil added", "in went five pints of coolant", "3L back in", "+0.6 l of mix"."""
    found: list[Deed] = []
    for q in t.utterance.quantities:
        if q.dimension != "volume":
            continue
        i, j = t.index(q.start), t.index(q.end)
        action = _pour_action(t, i, j, q)
        if not action:
            continue
        what = _fluid_of(t, i, j)
        if what is None:
            continue
        beside = isinstance(what, Thing) and what.first > i
        if not beside and any(d.action == action for d in found):
            continue  # the same pouring, its amount put right
        thing = what if isinstance(what, Thing) else _named(t, i, what)
        if any(d.thing.words[-1:] == thing.words[-1:] and d.mood.done and d.action in _CHANGES for d in deeds(t)):
            continue  # "changed the oil, it took four quarts"
        m = _scoped(t, i, Mood(start=i, thing=thing))
        found.append(Deed(action, "pour", thing, i, max(i, j - 1), "light", m, pronoun=thing.last < i))
    return found


def _pour_action(t: Talk, i: int, j: int, q: Quantity) -> str:
    before = []
    for k in range(i - 1, max(-1, i - 6), -1):
        if t.gap(k + 1) == 2:
            break
        before.append(t.fold(k))
    if set(before) & (group("negation") | {"need", "needs", "buy", "bought", "takes", "if", "wants", "ordered", "holds"}):
        return ""
    if "+" in t.utterance.text[max(0, q.start - 1) : q.start + 1] and (i == 0 or t.gap(i) or t.gap(i - 1)):
        return "topped up"
    near = before[:4]
    if set(near) & words("draining"):
        return "drained"
    if len(before) >= 2 and before[0] == "went" and before[1] == "in":
        return "topped up"
    if set(near) & words("pour_before") or set(near) & words("refilling"):
        return "topped up"
    k = j
    if t.fold(k) == "of" and not t.gap(k):
        k += 1
        while k < len(t.words) and not t.gap(k) and k - j < 5 and t.fold(k) not in words("pour_behind"):
            k += 1
    ahead = [t.fold(x) for x in range(k, min(k + 5, len(t.words))) if not any(t.gap(y) == 2 for y in range(k, x + 1))]
    if ahead[:1] == ["added"] or ahead[:2] == ["poured", "in"] or ahead[:1] == ["later"]:
        return "topped up"
    if ahead[:1] == ["went"] and {"in", "into"} & set(ahead[1:4]):
        return "topped up"
    if ahead[:1] in (["is"], ["was"]) and "what" in ahead[1:3] and set(ahead) & words("pour_result"):
        return "topped up"
    ended = t.gap(k + 1) > 0 or t.fold(k + 1) in ("and", "to", "with", "it", "the")
    if ahead[:1] == ["in"] and ended:
        return "topped up"
    if ahead[:2] == ["back", "in"]:
        return "topped up"
    if set(near) & words("pour_with_in") and ("in" in near or "in" in ahead[:2]):
        return "topped up"
    return ""


def _named(t: Talk, k: int, name: str) -> Thing:
    token = t.words[k].token
    return Thing(k, k, token.start, token.end, name, True, None, words=tuple(name.split()))


# ---- tyres --------------------


def _set_to(t: Talk) -> list[Deed]:
    """ "left all four at one ninety", "set all 4 to 34", "fronts up to 26": tyres told by the number they were set to."""
    if not any(w.fold in group("tire_talk") for w in t.words):
        return []
    found: list[Deed] = [*_brought_to(t), *_some_more(t)]
    for v, word in enumerate(t.words):
        w = word.fold
        verb = "set" if w in words("set_to") else "pump" if w in words("pumped_to") else ""
        k = v + 1
        if not verb:
            continue
        while k < len(t.words) and (t.fold(k) in words("all_of_them") or t.words[k].place or t.fold(k) in ("the", "of", "up", "four", "4", "back", "two", "front")):
            k += 1
        if k == v + 1 or t.fold(k) not in ("to", "at") or t.gap(k) or k + 1 >= len(t.words):
            continue
        between = {t.fold(x) for x in range(v + 1, k)}
        if not between & words("all_of_them") or t.fold(v - 1) in group("articles") | {"front", "rear", "back"}:
            continue  # "aired the left one up to fifty" is read by its corner
        if t.words[k + 1].number is None and t.fold(k + 1) not in ("about", "around"):
            continue
        action, name = ("adjusted", "tire pressures") if verb == "set" else ("topped up", "tires")
        thing = _named(t, v, name)
        m = _scoped(t, v, Mood(start=v, thing=thing))
        if t.fold(v - 1) in group("negation"):
            m.negated = True
        found.append(Deed(action, verb, thing, v, k, "light", m))
    return found


def _some_more(t: Talk) -> list[Deed]:
    """ "put a couple more in the front": air, where tyres are spoken of."""
    found: list[Deed] = []
    for v in range(len(t.words)):
        if t.fold(v) not in ("put", "gave", "added", "stuck") or t.gap(v + 1):
            continue
        k = v + 1
        while k < len(t.words) and (t.words[k].number is not None or t.fold(k) in words("some_more") or t.words[k].unit):
            k += 1
        if k == v + 1 or t.fold(k) != "in" or not {t.fold(x) for x in range(v + 1, k)} & {"more", "air", "psi", "pound", "pounds"}:
            continue
        k += 1 + (t.fold(k + 1) in ("the", "all", "both", "each"))
        if k < len(t.words) and t.words[k].place is not None and not t.gap(k):
            name = f"{t.words[k].token.lower} tires"
        elif t.fold(k) in ("them", "four", "it", "all", "tires", "each") or t.fold(k - 1) == "all":
            name = "tires"
        else:
            continue
        thing = _named(t, v, name)
        found.append(Deed("topped up", "pump", thing, v, k, "light", _scoped(t, v, mood(t, v))))
    return found


def _brought_to(t: Talk) -> list[Deed]:
    """ "back tyres pumped to 38", "fronts up to 26"."""
    found: list[Deed] = []
    for thing in t.things:
        if thing.other or not (thing.place_only or set(thing.words) & group("any_tire")):
            continue
        k = thing.last + 1
        while t.fold(k) in ("are", "all", "now", "got", "were", "both", "back") and not t.gap(k):
            k += 1
        verb = t.fold(k)
        if t.gap(k) or verb not in words("pumped_to") | words("set_to") | {"up"} or verb == "left":
            continue
        k += 1 + (t.fold(k + 1) == "up")
        if t.fold(k) != "to" or k + 1 >= len(t.words) or t.words[k + 1].number is None:
            continue
        m = _scoped(t, k, Mood(start=thing.first, thing=thing))
        if verb in words("set_to"):
            name = _named(t, thing.first, f"{thing.full} pressures")
            found.append(Deed("adjusted", "set", name, thing.first, k, "light", m))
        else:
            found.append(Deed("topped up", "pump", thing, thing.first, k, "light", m))
    return found


def _any_verb(t: Talk) -> list[Deed]:
    """ "whacked a fresh set of pads in": a new thing that any verb at all puts in or on."""
    found: list[Deed] = []
    for v, word in enumerate(t.words):
        thing = t.at.get(v + 1)
        if thing is None or word.action is not None or word.thing is not None or t.gap(v + 1) or not thing.known:
            continue
        if not (len(word.fold) > 4 and word.fold.endswith("ed")) and word.fold not in words("rough_verbs"):
            continue
        if thing.kind_or_part not in ("component", "fastener") or not thing.new:
            continue
        p = t.fold(thing.last + 1)
        if p not in ("in", "on") or t.gap(thing.last + 1):
            continue
        m = _scoped(t, v, mood(t, v))
        found.append(Deed("replaced", "put in", thing, v, thing.last + 1, "light", m))
    return found


def _then_too(t: Talk) -> list[Deed]:
    """ "pulled the starter out and then the flywheel cover": the verb goes on over what follows "then"."""
    found: list[Deed] = []
    for deed in deeds(t):
        if deed.said != "active" or not deed.mood.done or deed.pronoun:
            continue
        k = max(deed.last, deed.thing.last) + 1
        while t.fold(k) in group("particles") and not t.gap(k):
            k += 1
        k += t.fold(k) == "and"
        if t.fold(k) != "then" or (thing := t.at.get(k + 1)) is None or not thing.known or thing.article != "the":
            continue
        after = thing.last + 1
        if _is_subject(t, thing) or (not t.gap(after) and after < len(t.words) and t.words[after].action is not None):
            continue
        found.append(Deed(deed.action, deed.verb, thing, deed.at, thing.last, "active", deed.mood))
    return found


def _back_on(t: Talk) -> list[Deed]:
    """ "carb off, jets blown out, back on": what came off last goes on again."""
    found: list[Deed] = []
    for k in range(1, len(t.words)):
        if t.fold(k) != "back" or t.fold(k + 1) not in ("on", "in") or t.gap(k + 1):
            continue
        opens = t.gap(k) > 0 or t.fold(k - 1) in ("and", "then")
        ended = t.gap(k + 2) > 0 or t.fold(k + 2) in ("and", "with", "again")
        off = [d for d in deeds(t) if d.at < k and d.mood.done and d.action == "removed"]
        off += [d for d in _inverted(t) if d.at < k and d.action == "removed"]
        if not opens or not ended or not off:
            continue
        thing = max(off, key=lambda d: d.at).thing
        if any(t.at.get(x) is not None for x in range(k - 1, k)):
            continue
        again = _renewed(thing, k)
        found.append(Deed("fitted", "put back on", again, k, k + 1, "state", _scoped(t, k, Mood(start=k)), back=True))
    return found


def _renewed(thing: Thing, k: int) -> Thing:
    """The same thing, spoken of again at word k."""
    return replace(thing, first=k, last=k, new=False)


def _did_too(t: Talk) -> list[Deed]:
    """ "welded the box and did the hanger as well": the deed before, done to one thing more."""
    found: list[Deed] = []
    for v in range(1, len(t.words)):
        thing = t.at.get(v + 1)
        if t.fold(v) != "did" or thing is None or t.gap(v + 1) or not thing.known or thing.other:
            continue
        after = thing.last + 1
        if not (t.phrase(after, "as", "well") or t.fold(after) in ("too", "also") or t.fold(v - 1) == "also"):
            continue
        before = [d for d in deeds(t) if v - 25 < d.at < v and d.mood.done]
        if not before or set(thing.words) & set(table("work")["do"]):
            continue
        last = max(before, key=lambda d: d.at)
        found.append(Deed(last.action, last.verb, thing, v, after, "light", last.mood))
    return found


# ---- smearing, and verbs left without an object --------------------


def _smeared(t: Talk) -> list[Deed]:
    """ "put a smear of copper grease on it", "a dab of grease on the pins": what it was put on was greased."""
    found: list[Deed] = []
    for thing in t.things:
        greasy = thing.hit is not None and thing.hit.data.get("class") == "grease"
        if not (greasy or thing.words[-1] in ("grease", "oil", "lube", "silicone")) or thing.last + 2 >= len(t.words):
            continue
        if not (thing.vessel or thing.article in ("some", "a")) or t.fold(thing.last + 1) not in words("smeared_where"):
            continue
        things, pronoun, last = _objects(t, thing.last + 2)
        verb = next((k for k in range(thing.first - 1, max(-1, thing.first - 4), -1) if t.fold(k) in words("smears")), None)
        opens = t.gap(thing.first) > 0 or thing.first == 0 or t.fold(thing.first - 1) in ("and", "then")
        if (verb is None and not opens) or not things:
            continue
        verb = thing.first if verb is None else verb
        m = _scoped(t, verb, mood(t, verb))
        action = "greased" if greasy or thing.words[-1] == "grease" else "lubricated"
        found.extend(Deed(action, "smear", th, verb, last, "light", m, pronoun) for th in things)
    return found


def _alone(t: Talk) -> list[Deed]:
    """Verbs of terse notes with no object: "drained 2.5 qt", "gapped 25 thou", "regassed", what they were done to
    being what the line speaks of.
    """
    raw: dict[str, list[str]] = table("outcomes")["alone"]
    taken = {d.at for d in deeds(t)}
    found: list[Deed] = []
    for v, word in enumerate(t.words):
        hit = word.action
        if hit is None or v in taken or hit.data.get("tense") != "past":
            continue
        verb = str(hit.data.get("verb", "")).split()[0]
        meant = raw.get(verb)
        opens = t.gap(v) > 0 or v == 0 or t.fold(v - 1) in ("and", "then")
        nxt = v + 1 < len(t.words) and t.words[v + 1].number is None and t.fold(v + 1) not in ("to", "at", "up", "in")
        if meant is None or not opens or (nxt and not t.gap(v + 1)):
            continue
        spoken = [th for th in t.things if not th.other and th.known and set(th.words) & {folded(w) for w in meant}]
        before = [th for th in spoken if th.last < v]
        thing = before[-1] if before else spoken[0] if spoken else None
        if thing is None:
            continue
        m = _scoped(t, v, mood(t, v))
        action = str(hit.data.get("class", hit.name))
        found.append(Deed(action, verb, thing, v, v, "light", m, True))
    return found
