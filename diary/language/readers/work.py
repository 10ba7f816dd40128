"""Reader of work: what was done to the machine, one record for each thing an action touched.

`action` is the canonical past form ("replaced", "topped up"), `component` the thing with its place. An applied torque already says
"tightened" and is not said twice; tyre pressures that were set are "adjusted", a measured check is "checked".
"""

from __future__ import annotations

from diary.language.readers.deeds import Deed, antecedent, deeds
from diary.language.readers.phrases import Talk, Thing, group, table, talk
from diary.language.text import fold, key, stem
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "work"."""
    t = talk(utterance)
    torqued = [str(d.fields.get("fastener") or "") for d in so_far if d.kind == "torques" and d.fields.get("role") == "applied"]
    drafts: list[Draft] = []
    for deed in deeds(t):
        action = work_action(t, deed)
        if action is None or not counts(t, deed, action):
            continue
        component = component_name(t, deed, action)
        if action == "tightened" and any(same_thing(component, fastener) for fastener in torqued):
            continue
        if any(d.fields["action"] == action and same_thing(str(d.fields["component"]), component) for d in drafts):
            continue
        start = t.words[min(deed.at, deed.thing.first) if not deed.pronoun else deed.at].token.start
        end = max(t.words[min(deed.last, len(t.words) - 1)].token.end, start)
        drafts.append(Draft("work", {"action": action, "component": component}, start, end, confidence(deed, action)))
    return drafts


def work_action(t: Talk, deed: Deed) -> str | None:
    """The canonical action of a deed, or None where it is no work on a machine (driving, filling up, loosening to get at it)."""
    raw = table("work")
    action = deed.action
    if action in raw["no_work"]:
        return None
    for word, said in raw["by_verb"].items():
        if fold(word) in [fold(w) for w in deed.verb.split()]:
            action = said
            break
    action = raw["named"].get(action, action)
    words = deed.thing.words
    if deed.said in ("state", "bare") and action in ("replaced", "fitted") and not deed.back and deed.action != "checked":
        action = "fitted" if deed.thing.words[-1] in raw["sundries"] else "replaced"
    if action in ("fitted", "replaced", "topped up") and is_fluid(deed.thing):
        if deed.said == "state":
            return None
        if action == "fitted":
            action = "topped up"
    if action == "replaced" and deed.verb.startswith(("put", "stick", "throw", "slap", "pop")) and words[-1] in raw["sundries"]:
        action = "fitted"
    if action == "fitted" and not deed.back and deed.said == "active" and deed.thing.new and words[-1] not in raw["sundries"]:
        action = "replaced"
    if action == "fitted" and deed.back and words[-1] in raw["fasteners"]:
        action = "tightened"
    return action


def is_fluid(thing: Thing) -> bool:
    """True for what is poured: oil, coolant, air."""
    return thing.words[-1] in table("work")["fluids"]


def counts(t: Talk, deed: Deed, action: str) -> bool:
    """True where the deed was done, on this machine, to something that belongs to one."""
    raw = table("work")
    thing = deed.thing
    if not deed.mood.done or thing.other:
        return False
    if thing.kind in ("tool", "place_of") or (len(thing.words) == 1 and thing.words[-1] in group("never_parts")):
        return False
    if thing.kind == "meter" and action not in ("replaced", "fitted", "repaired", "removed"):
        return False
    if thing.kind == "machine" and action not in ("balanced", "greased", "painted"):
        return False
    if not thing.known:
        if deed.pronoun or thing.words[-1] in group("not_parts") or action in raw["only_known"] or deed.verb in raw["only_known_verbs"]:
            return False
        if deed.said not in ("active", "preposed") or (thing.bare and action not in ("replaced", "cleaned", "greased")):
            return False
    if deed.pronoun and deed.back and action == "fitted":
        return False  # "put it back": the end of another deed
    return not (action == "removed" and thing.words[-1] in raw["not_removed"])


def component_name(t: Talk, deed: Deed, action: str) -> str:
    """The thing's name as kept: with its place, and "pressures" where tyres were set."""
    thing = deed.thing
    name = thing.full
    if thing.hit is not None and thing.known and len(thing.words) == 1 and set(key(name)) < set(key(thing.hit.name)):
        name = " ".join([thing.place, thing.hit.name]).strip() if thing.place else thing.hit.name
    tires = {"tire", "tires"} & set(thing.words)
    if action == "adjusted" and tires and not {"pressure", "pressures"} & set(thing.words):
        name = name + " pressures"
    return name


def same_thing(a: str, b: str) -> bool:
    """True where two names speak of one thing: the shorter one's words all stand in the longer."""
    left, right = set(key(a)), set(key(b))
    return bool(left and right) and (left <= right or right <= left)


def confidence(deed: Deed, action: str) -> float:
    """How sure: an outright verb with a known thing most, an unknown thing or a bare "is in" less."""
    sure = {"active": 0.93, "passive": 0.92, "preposed": 0.9, "light": 0.85, "state": 0.85, "fragment": 0.82, "bare": 0.8}[deed.said]
    if not deed.thing.known:
        sure -= 0.15
    if deed.pronoun:
        sure -= 0.08
    if action == "checked":
        sure -= 0.05
    return round(sure, 2)


__all__ = ["antecedent", "component_name", "read", "same_thing", "stem", "work_action"]
