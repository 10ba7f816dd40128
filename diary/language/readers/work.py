"""Reader of work: what was done to the machine, one record for each thing an action touched.

`action` is the canonical past form ("replaced", "topped up"), `component` the thing with its place. An applied
torque already says
"tightened" and is not said twice; tyre pressures that were set are "adjusted", a measured check is "checked".
"""

from __future__ import annotations

from diary.language.readers.deeds import Deed, antecedent, deeds, finished, scoped_mood
from diary.language.readers.looks import looked
from diary.language.readers.outcomes import told
from diary.language.readers.phrases import Talk, Thing, group, table, talk
from diary.language.text import fold, key, stem
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "work"."""
    t = talk(utterance)
    torqued = [
        str(d.fields.get("fastener") or "") for d in so_far if d.kind == "torques" and d.fields.get("role") == "applied"
    ]
    filled = any(d.kind == "fills" for d in so_far)
    drafts: list[Draft] = []
    done = [
        (deed, action)
        for deed in [*told(t), *looked(t)]
        if (action := work_action(t, deed)) is not None
        and counts(t, deed, action)
        and (not deed.if_awaited or waited_for(t, deed, context))
        and not (deed.verb == "pour" and _fuelled(t, deed, so_far))
    ]
    done += [
        (deed, action) for deed, action in _finished(t, context) if not any(d.thing is deed.thing for d, _ in done)
    ]
    done += [(deed, action) for deed, action in _understood(t) if not any(d.at == deed.at for d, _ in done)]
    for deed, action in sorted(done, key=lambda pair: pair[0].at):
        component = component_name(t, deed, action)
        if (
            action == "fitted"
            and not deed.back
            and deed.thing.kind == "component"
            and deed.thing.words[-1] not in table("work")["sundries"]
        ):
            awaited = came(t, deed.thing, deed.at) or any(
                d.kind == "parts"
                and d.fields.get("state") == "fitted"
                and d.thread is not None
                and same_thing(str(d.fields["name"]), component)
                for d in so_far
            )
            put = deed.verb.split()[0] in group("put_verbs") or deed.pronoun or deed.said == "passive"
            action = "replaced" if awaited and put else action
        if action == "tightened" and any(same_thing(component, fastener) for fastener in torqued):
            continue
        if (
            action == "topped up"
            and filled
            and " " not in component.replace("it", "")
            and (deed.pronoun or deed.thing.kind == "machine" or "tank" in deed.thing.words)
        ):
            continue
        if any(d.fields["action"] == action and same_thing(str(d.fields["component"]), component) for d in drafts):
            continue
        start = t.words[deed.at if deed.pronoun else min(deed.at, deed.thing.first)].token.start
        end = max(t.words[min(deed.last, len(t.words) - 1)].token.end, start)
        drafts.append(Draft("work", {"action": action, "component": component}, start, end, confidence(deed, action)))
    return drafts


def waited_for(t: Talk, deed: Deed, context: Context) -> bool:
    """True where the diary, or the note itself, says that the thing was needed, ordered or bought before."""
    if came(t, deed.thing, deed.at):
        return True
    name = set(key(deed.thing.name))
    followed = {p.get("thread") for p in context.parts}
    return any(
        p.get("state") in ("needed", "ordered", "bought")
        and p.get("id") not in followed
        and _same_names(name, set(key(str(p.get("name") or ""))))
        for p in context.parts
    )


def _same_names(a: set[str], b: set[str]) -> bool:
    return bool(a and b) and (a <= b or b <= a)


def _fuelled(t: Talk, deed: Deed, so_far: list[Draft]) -> bool:
    """True where what was poured is the fuel of a fill."""
    at = t.words[deed.at].token.start
    return any(d.kind == "fills" and d.start <= at < d.end for d in so_far)


def _understood(t: Talk) -> list[tuple[Deed, str]]:
    """Deeds whose object goes without saying: "aired up to thirty", "bled the left rear first" (the brakes)."""
    raw = table("work")
    found: list[tuple[Deed, str]] = []
    for v, word in enumerate(t.words):
        hit = word.action
        if word.fold == "added" and v + 1 < len(t.words) and t.words[v + 1].number is not None:
            poured = any(q.dimension == "volume" and v < t.index(q.start) <= v + 2 for q in t.utterance.quantities)
            fluids = [th for th in t.before(v) if th.kind == "consumable" and is_fluid(th)]
            after = next((th for th in t.between(v + 1, v + 7) if th.kind == "consumable" and is_fluid(th)), None)
            m = scoped_mood(t, v)
            if poured and m.done and (fluids or after is not None):
                found.append(
                    (Deed("topped up", "add", after or fluids[-1], v, v, "active", m, pronoun=True), "topped up")
                )
            continue
        if hit is None or hit.data.get("tense") != "past":
            continue
        verb = str(hit.data.get("verb", ""))
        name = ""
        corner = next(
            (x for x in range(v + 1, min(v + 4, len(t.words))) if t.words[x].axis == "corner"),
            None,
        )
        if verb in raw["airs"] and not _names_object(t, v):
            name = (
                "tires"
                if any(w.fold in group("tire_talk") or w.fold in group("aired") for w in t.words) or "air" in verb
                else ""
            )
        elif hit.data.get("class") in ("balanced", "rotated") and not _names_object(t, v):
            name = "wheels" if {t.fold(x) for x in range(v + 1, v + 3)} & {"four", "4", "all", "both", "them"} else ""
        elif hit.data.get("class") == "topped up" and not any(d.at == v for d in deeds(t)):
            fluids = [th for th in t.things if th.kind == "consumable" and is_fluid(th)]
            name = fluids[-1].name if fluids and not any(w.fold in group("fuel_talk") for w in t.words) else ""
        elif hit.data.get("class") == "bled" and "bleed" in verb and not _names_object(t, v):
            systems = [
                w.thing.data.get("path") or ()
                for w in t.words
                if w.thing is not None and w.thing.kind in ("component", "consumable", "fastener")
            ]
            name = next((n for system, n in raw["bleeds"].items() if any(system in path for path in systems)), "")
            corners = {t.fold(x) for x in range(v + 1, v + 4)} & {"corners", "round", "wheels", "calipers"}
            name = "brakes" if corner is not None or corners else name  # only brakes are bled by the wheel
        if not name:
            continue
        m = scoped_mood(t, v)
        if not m.done:
            continue
        place = next(
            (
                t.words[k].place
                for k in range(v, min(v + 8, len(t.words)))
                if t.words[k].place and not any(t.gap(x) == 2 for x in range(v + 1, k + 1))
            ),
            None,
        )
        spoken = antecedent(t, v, None, group("aired")) if name == "tires" else None
        where = (
            ""
            if name != "tires" or (place and place.data.get("folded", place.name).startswith("all"))
            else place.data.get("folded", place.name)
            if place
            else (spoken.full if spoken is not None else "")
        )
        if spoken is not None and not place:
            where = spoken.place or " ".join(w for w in spoken.full.split()[:-1])
            place_known = bool(where)
            words = (
                f"{where} tire{'s' if spoken.plural else ''}" if place_known else "tires" if spoken.plural else "tire"
            )
            thing = Thing(v, v, word.token.start, word.token.end, words, True, spoken.hit, words=tuple(words.split()))
        else:
            words = f"{where} {name}".strip() if place else name
            thing = Thing(v, v, word.token.start, word.token.end, words, True, None, words=tuple(words.split()))
        action = raw["named"].get(str(hit.data.get("class")), str(hit.data.get("class")))
        found.append((Deed(action, verb, thing, v, v, "active", m, pronoun=True), action))
    return found


def _finished(t: Talk, context: Context) -> list[tuple[Deed, str]]:
    """ "the clutch is done": the job that an open plan or a part waiting to go in speaks of."""
    found: list[tuple[Deed, str]] = []
    for deed in finished(t):
        head = key(deed.thing.name)[-1:]
        waiting = any(
            p.get("state") in ("needed", "ordered", "bought") and key(str(p.get("name") or ""))[-1:] == head
            for p in context.parts
        )
        planned = any(
            p.get("state") not in ("done", "dropped") and set(head) <= set(key(str(p.get("what") or "")))
            for p in context.plans
        )
        if waiting or planned:
            found.append((deed, "replaced"))
    return found


def _names_object(t: Talk, v: int) -> bool:
    """True where a deed of the verb at v has an outright known object already."""
    return any(d.at == v and d.thing.known and not d.pronoun for d in deeds(t))


def work_action(t: Talk, deed: Deed) -> str | None:
    """The canonical action of a deed, or None where it is no work on a machine (driving, filling up, loosening to
    get at it).
    """
    raw = table("work")
    action = deed.action
    if action == "loosened" and any(t.fold(j) in group("by_steps") for j in range(deed.last + 1, deed.last + 4)):
        return "adjusted"  # "backed the shoes off two clicks"
    if (
        action in raw["no_work"]
        or deed.verb in raw["no_work_verbs"]
        or (
            deed.pronoun
            and deed.verb in raw["no_pronoun"]
            and not (deed.action == "fitted" and came(t, deed.thing, deed.at))
        )
    ):
        return None
    if action == "removed" and stem(deed.thing.words[-1]) in ("gage", "meter", "multimeter", "probe") and deed.said == "state":
        return None  # "had the tire gauge out"
    if (
        deed.action == "fitted"
        and deed.thing.words[-1] in group("instruments")
        and deed.verb.split()[0] in group("putting")
    ):
        return None  # "stuck a gauge on the fuel rail": a check
    if deed.verb == "spray with" and any(
        t.fold(j) in ("soap", "soapy", "water") for j in range(deed.at, min(deed.at + 8, len(t.words)))
    ):
        return None  # looking for bubbles
    if deed.verb.endswith(" with") and any(
        th.hit is not None and th.hit.data.get("class") == "cleaner" for th in t.between(deed.at + 1, deed.at + 9)
    ):
        return "cleaned"  # "sprayed it with contact cleaner"
    if deed.said == "passive" and deed.verb.split()[0] in raw["stative"]:
        return None
    for word, said in raw["by_verb"].items():
        if fold(word) in [fold(w) for w in deed.verb.split()]:
            action = said
            break
    action = raw["named"].get(action, action)
    words = deed.thing.words
    if deed.said == "state" and deed.thing.words[-1] == "kit" and not deed.back:
        return "replaced"
    if (
        deed.said in ("state", "bare")
        and action in ("replaced", "fitted")
        and not deed.back
        and deed.action != "checked"
    ):
        once = deed.thing.words[-1] in raw["sundries"] and not set(words) & set(raw["renewed_each_time"])
        action = "fitted" if once else "replaced"
    if action in ("fitted", "replaced", "topped up") and is_fluid(deed.thing):
        if deed.said == "state":
            return "topped up" if deed.thing.vessel and deed.verb == "is in" else None
        if action == "fitted":
            action = "replaced" if deed.thing.new else "topped up"
    if (
        action == "replaced"
        and not set(words) & set(raw["renewed_each_time"])
        and (words[-1] in raw["sundries"] or "inline" in words)
        and deed.verb.split()[0] not in raw["outright_replacing"]
    ):
        action = "fitted"
    if (
        action == "fitted"
        and not deed.back
        and deed.said in ("active", "fragment", "passive")
        and (deed.thing.new or deed.thing.spare)
        and words[-1] not in raw["sundries"]
    ):
        action = "replaced"
    if (
        deed.said == "state"
        and action == "replaced"
        and not deed.thing.new
        and not deed.pronoun
        and refitted(deed.thing)
    ):
        return "fitted"
    if action == "fitted" and deed.back and words[-1] in raw["fasteners"] and not deed.pronoun:
        action = "tightened"
    return action


def refitted(thing: Thing) -> bool:
    """True for what comes off and goes on again in the course of other work: covers, wheels, the exhaust."""
    names = table("work")["refitted"]
    return thing.words[-1] in names or " ".join(thing.words[-2:]) in names


def is_fluid(thing: Thing) -> bool:
    """True for what is poured: oil, coolant, air."""
    return thing.words[-1] in table("work")["fluids"]


def counts(t: Talk, deed: Deed, action: str) -> bool:
    """True where the deed was done, on this machine, to something that belongs to one."""
    raw = table("work")
    thing = deed.thing
    if not deed.mood.done or thing.other or thing.article in ("any", "no") or set(thing.words) & group("no_part_words"):
        return False
    if (
        action == "fitted"
        and thing.kind == "consumable"
        and thing.hit is not None
        and thing.hit.data.get("class") in raw["not_parts"]
    ):
        return False
    if thing.kind in ("tool", "place_of") or (
        len(thing.words) == 1
        and (
            thing.words[-1] in group("never_parts")
            or (thing.words[-1] in group("personal") and thing.article in ("my", "our"))
        )
    ):
        return False
    if action in ("lubricated", "greased") and is_fluid(thing):
        return False
    if action == "topped up" and thing.words[-1] in group("fuels"):
        return False  # a fill
    if thing.kind == "meter" and action not in ("replaced", "fitted", "repaired", "removed"):
        return False
    if thing.kind == "machine" and action not in ("balanced", "greased", "painted"):
        return False
    if set(thing.words) <= group("old"):
        return False  # "taped up the old one"
    if not thing.known:
        if (
            deed.pronoun
            or thing.words[-1] in group("not_parts")
            or action in raw["only_known"]
            or deed.verb in raw["only_known_verbs"]
        ):
            return False
        if action == "checked" and not (thing.article in ("the", "my", "all", "both") and _of_a_machine(t)):
            return False
        if deed.said not in ("active", "preposed") or (thing.bare and action not in ("replaced", "cleaned", "greased")):
            return False
    if deed.pronoun and deed.back and action == "fitted" and not came(t, deed.thing, deed.at):
        return False  # "put it back": the end of another deed
    if (deed.pronoun and deed.verb in raw["airs"]) or (action == "bled" and deed.pronoun):
        return False  # read with what goes without saying
    named = " ".join(thing.words[-2:]) if thing.words[-1] in ("cap", "caps") and len(thing.words) > 1 else thing.words[-1]
    return not (action == "removed" and (named in raw["not_removed"] or is_fluid(thing)))


def came(t: Talk, thing: Thing, at: int) -> bool:
    """True where words between the thing and word `at` say that it came or was bought: "the arm showed up so i put
    it in".
    """
    if t.fold(thing.first - 1) in group("had_it_for") - {"had", "have"}:
        return True  # "got the rubbers and put them on"
    told = {t.fold(k) for k in range(thing.last + 1, min(thing.last + 9, at))}
    return thing.new or bool(
        told & (group("arriving") - group("arriving_weak") | ({"here"} if "is" in told or "are" in told else set()))
    )


def _of_a_machine(t: Talk) -> bool:
    """True where the note names some part that the lexicon knows."""
    return any(w.thing is not None and w.thing.kind in ("component", "fastener") for w in t.words)


def component_name(t: Talk, deed: Deed, action: str) -> str:
    """The thing's name as kept: with its place, and "pressures" where tyres were set."""
    thing = deed.thing
    name = thing.full
    name = fuller(t, thing)
    tires = {"tire", "tires"} & set(thing.words)
    if action == "topped up" and deed.pronoun:
        fluid = next(
            (
                th
                for th in t.between(deed.at + 1, deed.at + 12)
                if th.kind == "consumable" and is_fluid(th) and t.fold(th.first - 1) in group("fluid_after")
            ),
            None,
        )
        if fluid is not None and fluid.name not in name:
            return f"{name} {fluid.name}"
    if (
        action == "checked"
        and tires
        and ("gage" in fold_all(deed.verb) or deed.said == "light")
        and len(thing.words) <= 2
    ):
        return name.rstrip("s") + " pressures"
    if action == "adjusted" and tires and not {"pressure", "pressures"} & set(thing.words):
        name = (name[:-1] if name.endswith("s") and name.split()[-1] in ("tires", "tyres") else name) + " pressures"
    return name


def fold_all(text: str) -> list[str]:
    """The folded words of a phrase."""
    return [fold(w) for w in text.split()]


def fuller(t: Talk, thing: Thing) -> str:
    """The thing's name, filled up from a longer name said before: "the ring" after "the bead clamp ring"."""
    name = thing.full
    if (thing.article not in group("definite") and not thing.bare) or len(thing.words) > 1:
        return name
    for before in reversed(t.before(thing.first)):
        if (
            before.known
            and len(before.words) > 1
            and stem(before.words[-1]) == stem(thing.words[-1])
            and not before.other
        ):
            extra = [w for w in before.full.split()[:-1] if w not in name.split()]
            return " ".join([*extra, name])
    return name


def same_thing(a: str, b: str) -> bool:
    """True where two names speak of one thing: the same head, and the shorter one's words all in the longer
    ("seal", "hub seal").
    """
    left, right = key(a), key(b)
    if not left or not right or left[-1] != right[-1]:
        return False
    return set(left) <= set(right) or set(right) <= set(left)


def confidence(deed: Deed, action: str) -> float:
    """How sure: an outright verb with a known thing most, an unknown thing or a bare "is in" less."""
    sure = {
        "active": 0.93,
        "passive": 0.92,
        "preposed": 0.9,
        "light": 0.85,
        "state": 0.85,
        "fragment": 0.82,
        "bare": 0.8,
    }[deed.said]
    if not deed.thing.known:
        sure -= 0.15
    elif deed.thing.loose:
        sure -= 0.07
    if deed.pronoun:
        sure -= 0.08
    if action == "checked":
        sure -= 0.05
    return round(sure, 2)


__all__ = ["antecedent", "component_name", "read", "same_thing", "stem", "work_action"]
