"""Reader of plans: what is still to be done, with its day, distance or condition; and plans done, dropped or moved.

A plan is a verb for the machine under a phrase of intention or need ("going to", "have to", "remind me to"), an
-ing form with a day
to come ("doing the seal next saturday"), a thing said to go in or be seen to, or a bare order ("recheck nuts after
50 mi").
Wishes under an "if" that comes first, refusals, other people's plans and remarks ("I'll see") are none.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from diary.language.readers import lessons as lessons_reader
from diary.language.readers.deeds import PRONOUNS, antecedent, deeds, listed_jobs, mood
from diary.language.readers.phrases import PhraseList, Talk, Thing, folded, group, phrase_list, table, talk
from diary.language.readers.work import counts, fuller, same_thing, work_action
from diary.language.text import fold, key, stem, verb_forms
from diary.language.types import Context, Draft, Quantity, Utterance, When


@dataclass(slots=True)
class Intent:
    """A plan as found: words `verb` to `last`, the thing it is about, and how sure."""

    first: int
    verb: int
    last: int
    base: str
    thing: Thing | None
    pronoun: bool
    sure: float
    what: str = ""


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "plans": made or moved, then those of the context that this note closes."""
    t = talk(utterance)
    drafts: list[Draft] = []
    lessons = [(d.start, d.end) for d in lessons_reader.read(utterance, context, so_far)]
    for intent in sorted(_intents(t, utterance, so_far), key=lambda i: i.first):
        draft = _draft(t, intent, utterance)
        if any(_alike(str(d.fields["what"]), str(draft.fields["what"])) for d in drafts):
            continue
        spoken_at = t.words[intent.verb].token.start
        if _done_since(t, intent) or any(start <= spoken_at < end for start, end in lessons):
            continue
        earlier = _open_plan(str(draft.fields["what"]), context)
        if earlier is not None:
            draft.thread, draft.event = str(earlier["id"]), "moved"
        drafts.append(draft)
    drafts.extend(_closed(t, context, so_far, {d.thread for d in drafts}))
    return drafts


# ---- finding --------------------


def _list(name: str) -> PhraseList:
    return phrase_list("plans", name)


@cache
def _plan_verbs() -> dict[tuple[str, ...], tuple[str, str]]:
    """Forms of the plan verbs: words → (base, tense)."""
    found: dict[tuple[str, ...], tuple[str, str]] = {}
    for verb in table("plans")["verbs"]:
        for form, tense in verb_forms(verb).items():
            if tense in ("base", "ing"):
                found[tuple(folded(w) for w in form.split())] = (verb, tense)
        found[tuple(folded(w) for w in verb.split())] = (verb, "base")
    return found


def _at(t: Talk, k: int, phrases: PhraseList) -> int:
    """How many words the longest of the phrases that stands at word k has; 0 for none."""
    return len(phrases.at(t, k, gaps=0))


def _verb_at(t: Talk, j: int, tense: str) -> tuple[str, int, bool] | None:
    """The verb that begins at word j in the tense asked: base form, words it takes, whether the lexicon calls it an
    action.
    """
    if j >= len(t.words):
        return None
    hit = t.words[j].action
    if hit is None and tense == "base" and t.fold(j) in table("work")["typed"] and not t.fold(j).endswith("d"):
        return t.fold(j), 1, True
    if hit is not None and _tense(t, j) == tense:
        end = j
        while end + 1 < len(t.words) and t.words[end + 1].token.start < hit.end:
            end += 1
        for inner in t.between(j + 1, end)[:1]:
            end = inner.first - 1
        if str(hit.data.get("class")) not in ("driven", "ran"):
            return str(hit.data.get("verb", hit.name)), end - j + 1, True
    for size in (3, 2, 1):
        form = tuple(t.fold(j + n) for n in range(size))
        if form in _plan_verbs() and (
            _plan_verbs()[form][1] == tense or (tense == "base" and _plan_verbs()[form][0].split()[0] == form[0])
        ):
            return _plan_verbs()[form][0], size, False
    return None


def _tense(t: Talk, j: int) -> str:
    """The tense of the action at word j; a form both base and past ("put", "cut") counts as base under a word of
    intention.
    """
    hit = t.words[j].action
    if hit is None:
        return ""
    tense = str(hit.data.get("tense") or "")
    if tense == "past" and fold(str(hit.data.get("verb", "")).split()[0]) == t.fold(j):
        return "base"
    return tense


def _intents(t: Talk, u: Utterance, so_far: list[Draft]) -> list[Intent]:
    found: list[Intent] = []
    for k in range(len(t.words)):
        if (size := _at(t, k, _list("before_base"))) and t.gap(k + size) < 2:
            found.extend(_under(t, k, k + size, u))
        if (
            t.fold(k - 1) in ("i", "we")
            and k
            and t.gap(k) == 0
            and t.words[k].action is not None
            and _tense(t, k) == "base"
        ):
            verb = _verb_at(t, k, "base")
            if verb is not None and t.words[k].action is not None and str(t.words[k].tense) == "base":
                future = _when(t, u, k, _phrase_end(t, k))
                if future is not None and future.day > u.at.date() and not _refused(t, k - 1):
                    found.extend(_with_and(t, k - 1, k, verb, u))
        ing = _verb_at(t, k, "ing")
        if ing is not None:
            found.extend(_progressive(t, k, ing, u))
        found.extend(_named_job(t, k, u))
        if t.gap(k) == 2 or (t.gap(k) == 1 and listed_jobs(t, k)) or t.fold(k - 1) in group("order_after"):
            found.extend(_order(t, k, u))
    found.extend(_thing_says(t, u))
    found.extend(_due(t, u))
    return _distinct(found)


def _distinct(found: list[Intent]) -> list[Intent]:
    kept: list[Intent] = []
    for intent in sorted(found, key=lambda i: (i.verb, -i.sure)):
        if not any(
            k.verb <= intent.verb <= k.last and (k.thing is intent.thing or k.verb == intent.verb) for k in kept
        ):
            kept.append(intent)
    return kept


def _refused(t: Talk, k: int, first_if: bool = True) -> bool:
    """True where the words from k back make it no plan: denial, "would", another's, or an "if" that comes first."""
    m = mood(t, k, False)
    if m.negated or m.unreal or m.subject in ("other", "hands") or m.background:
        return True
    clause = t.words[k].clause
    if clause is not None and (clause.other_machine or clause.question or clause.retracted or clause.quoted):
        return True
    if t.fold(k - 1) in group("refusing_before") and t.gap(k) == 0:
        return not t.phrase(k, "forget", "to")
    if not first_if:
        return False
    j, steps = k - 1, 0
    while j >= 0 and steps < 14 and t.gap(j + 1) < 2:
        w = t.fold(j)
        if w in ("if", "unless") and t.fold(j - 1) not in ("as",):
            # a later conjunction may have closed the condition: "if it leaks i'd ... and i need to ..."
            after = range(j + 1, k)
            own = any(t.fold(x) in group("self") and t.fold(x + 1) in group("modal") for x in after if x < k - 2)
            return not (own or any(t.fold(x) in ("and", "but", "anyway") for x in after))
        j -= 1
        steps += 1
    return False


def _under(t: Talk, k: int, j: int, u: Utterance) -> list[Intent]:
    """Plans under a phrase of intention at word k; the verb should stand at word j."""
    while t.fold(j) in group("before_plan_verb") and t.gap(j) == 0:
        if (t.fold(j) == "have" and t.fold(j + 1) not in ("to",)) or (
            t.fold(j) == "try" and t.fold(j + 1) not in ("to", "and")
        ):
            break
        if t.fold(j) == "go" and _verb_at(t, j + 1, "base") is None and t.fold(j + 1) not in ("and", "ahead"):
            break
        j += 1
    if t.fold(j) == "have" and j + 1 < len(t.words) and (t.words[j + 1].action is not None or j + 1 not in t.at):
        return []  # "should have replaced"
    verb = _verb_at(t, j, "base")
    if verb is None or t.gap(j) == 2 or _refused(t, k) or t.fold(j) in group("negation"):
        return []
    return _with_and(t, k, j, verb, u)


def _with_and(t: Talk, k: int, j: int, verb: tuple[str, int, bool], u: Utterance) -> list[Intent]:
    """The plan whose verb is at word j, and those joined to it by "and"."""
    found: list[Intent] = []
    while True:
        last = _phrase_end(t, j)
        intent = _intent(t, k, j, verb, last, u)
        nxt = last + 1
        if intent is not None:
            found.append(intent)
        if t.fold(nxt) not in ("and", "then") or t.gap(nxt) == 2:
            return found
        nxt += 1
        while t.fold(nxt) in ("then", "also", "maybe", "just"):
            nxt += 1
        following = _verb_at(t, nxt, "base")
        if following is None or (t.words[nxt].action is not None and t.words[nxt].tense == "past" and not intent):
            return found
        k, j, verb = nxt, nxt, following


def _phrase_end(t: Talk, j: int) -> int:
    """The last word of the plan that begins at word j."""
    raw = table("plans")["ends"]
    ends = phrase_list("plans", "ends", "words")
    k = j
    while k + 1 < len(t.words) and k - j < raw["most"]:
        nxt = k + 1
        if t.gap(nxt) == 2:
            break
        if nxt > j + 1 and ends.at(t, nxt):
            if (
                t.fold(nxt) == "and"
                and t.at.get(nxt + 1) is not None
                and t.ending.get(k) is not None
                and not _opens_sentence(t, nxt + 1)
            ):
                k += 1
                continue
            if t.fold(nxt) in ("i", "the", "it") and t.fold(k) in group("hold_on_condition"):
                k += 1
                continue
            if t.fold(nxt) in group("condition_subjects") and t.fold(k) in group("when_words"):
                k += 1
                continue
            if t.fold(nxt) == "so":
                break
            break
        k += 1
    return k


def _opens_sentence(t: Talk, k: int) -> bool:
    thing = t.at[k]
    return t.fold(thing.last + 1) in group("be") | group("have") | group("modal") - {"to"}


def _intent(t: Talk, k: int, j: int, verb: tuple[str, int, bool], last: int, u: Utterance) -> Intent | None:
    """The plan of the verb at word j, if it is one for the machine."""
    base, size, is_action = verb
    raw = table("plans")
    object_at = j + size
    things = [th for th in t.between(object_at, last) if not th.other]
    parts = [th for th in things if th.known]
    pronoun = next(
        (
            x
            for x in range(object_at, min(object_at + 4, last + 1))
            if t.fold(x) in PRONOUNS and x not in t.at and not any(th.first <= x <= th.last for th in things)
        ),
        None,
    )
    thing = parts[0] if parts else None
    if any(th.other for th in t.between(object_at, last)):
        return None
    when = _when(t, u, k, last)
    strict = when is not None and t.words[j].token.start <= when.start <= t.words[last].token.end
    dated = when is not None or _distance(t, u, j, last) is not None or _condition(t, object_at, last) != ""
    first_word = base.split()[0]
    if thing is None and pronoun is not None:
        spoken_of = antecedent(t, pronoun, PRONOUNS[t.fold(pronoun)])
        if spoken_of is not None and (is_action or dated) and first_word not in group("no_job_with_it"):
            if first_word in raw["never"] and first_word not in raw["maybe"]:
                return None
            if base in ("reset", "set") or first_word == "set":
                return None
            return Intent(k, j, last, base, spoken_of, True, 0.78)
        if is_action and dated and first_word not in raw["never"]:
            return Intent(k, j, last, base, None, False, 0.65)
        return None
    if (
        thing is None
        and first_word in group("looking_verbs")
        and "again" in [t.fold(x) for x in range(j, last + 1)]
        and when is not None
    ):
        spoken_of = _component_before(t, j)
        if spoken_of is not None:
            return Intent(k, j, last, "check again" if first_word == "look" else base + " again", spoken_of, True, 0.7)
    if (
        thing is None
        and pronoun is None
        and is_action
        and not things
        and (
            t.fold(j + 1) == "after"
            or _distance(t, u, j, last) is not None
            or (when is not None and when.day > u.at.date())
        )
    ):
        spoken_of = antecedent(t, j)
        if spoken_of is not None and first_word not in raw["never"]:
            return Intent(k, j, last, base, spoken_of, True, 0.72)
    if thing is None and pronoun is None and base in raw["acquire"] and strict:
        from diary.language.readers.parts import _counted

        counted, _, _last = _counted(t, object_at)
        if counted:
            return Intent(k, j, last, base, counted[0], True, 0.72)
    if thing is None and pronoun is None and not things and first_word in group("do_verbs") and strict:
        spoken_of = antecedent(t, j)
        if spoken_of is not None:
            return Intent(k, j, last, base, spoken_of, True, 0.75)
    if first_word == "have" and things and things[0].kind == "place_of" and pronoun is None:
        pronoun = next((x for x in range(object_at, last + 1) if t.fold(x) in PRONOUNS and x not in t.at), None)
        spoken_of = _component_before(t, pronoun) if pronoun is not None else None
        if spoken_of is not None:
            return Intent(k, j, last, "have the shop do", spoken_of, True, 0.72)
    if first_word in ("reset", "zero") or (thing is not None and thing.kind == "meter"):
        return None
    if thing is None:
        unknown = next(
            (
                th
                for th in things
                if not th.bare
                and th.words[-1] not in group("not_parts")
                and th.kind not in ("machine", "tool", "place_of", "meter")
            ),
            None,
        )
        if unknown is not None and is_action and first_word not in raw["never"]:
            return Intent(k, j, last, base, unknown, False, 0.72)
        if first_word in ("brim", "fill", "refuel") and dated:
            return Intent(k, j, last, base, None, False, 0.75)
        machine = next((th for th in things if th.kind == "machine"), None)
        if machine is not None and is_action and dated and first_word not in raw["never"]:
            return Intent(k, j, last, base, machine, False, 0.6)
        return None
    if base in raw["acquire"] or first_word in group("get_verbs"):
        following = t.fold(thing.last + 1)
        causative = (
            thing.last + 1 < len(t.words) and t.words[thing.last + 1].action is not None
        ) or following in group("gets_done")
        if first_word in ("get", "have") and causative:
            return Intent(k, j, last, base, thing, False, 0.86)
        if strict or _condition(t, thing.last + 1, last) or _elsewhere(t, thing.last + 1, last):
            return Intent(k, j, last, base, thing, False, 0.8)
        return None
    if first_word in raw["never"] and not is_action and first_word not in raw["maybe"]:
        return None
    if first_word in raw["maybe"] and not is_action and first_word not in group("plan_by_common_verb"):
        return None
    if base in group("common_keeping"):
        causative = thing.last + 1 < len(t.words) and t.words[thing.last + 1].action is not None
        if not causative and not dated:
            return None
    gap = thing.first - object_at
    if gap > 6 and not is_action:
        return None
    return Intent(k, j, last, base, thing, False, 0.88 if is_action or dated else 0.8)


def _elsewhere(t: Talk, k: int, last: int) -> bool:
    """ "in the next town", "at the parts store": a purchase with a place is a plan as well as a need."""
    return any((t.fold(x) == "next" and x + 1 <= last) or t.words[x].names == "place_of" for x in range(k, last + 1))


def _progressive(t: Talk, v: int, verb: tuple[str, int, bool], u: Utterance) -> list[Intent]:
    """ "next saturday i am getting the wheels balanced", "doing the seal at home next saturday"."""
    before = t.fold(v - 1) if t.gap(v) < 2 else ""
    helped = any(_at(t, v - n, _list("before_ing")) == n for n in (1, 2, 3) if v >= n) or (
        before in group("before_progressive") or t.gap(v) == 2
    )
    if not helped or before in group("past_ing"):
        return []
    if _refused(t, v, first_if=True):
        return []
    last = _phrase_end(t, v)
    base, size, is_action = verb
    when = _when(t, u, v, last)
    things = [th for th in t.between(v + size, last) if th.known and not th.other]
    elsewhere = bool(things) and base in table("plans")["acquire"] and _elsewhere(t, things[0].last + 1, last)
    meant = before == "on" and t.fold(v - 2) in ("plan", "planning", "plans")
    if when is None and not elsewhere and not meant:
        return []
    if not things and base not in table("plans")["acquire"]:
        pronoun = t.fold(v + size) in PRONOUNS
        thing = antecedent(t, v, PRONOUNS.get(t.fold(v + size))) if pronoun else None
        return (
            [Intent(v, v, last, base, thing, True, 0.72)]
            if thing is not None and (is_action or base in ("do", "fit", "redo"))
            else []
        )
    if not things and base in table("plans")["acquire"]:
        from diary.language.readers.parts import _counted

        counted, _, _last = _counted(t, v + size)
        if counted:
            return [Intent(v, v, last, base, counted[0], True, 0.74)]
    if not things:
        things = [th for th in t.between(v + size, last) if not th.bare and th.words[-1] not in group("not_parts")]
        if not things:
            return []
    return [Intent(v, v, last, base, things[0], False, 0.85)]


def _named_job(t: Talk, k: int, u: Utterance) -> list[Intent]:
    """ "the plan for saturday is to do the points", "next job is the handbrake cable"."""
    if t.fold(k) not in group("jobs") or t.fold(k - 1) in group("not_before_job"):
        return []
    j = next(
        (
            x
            for x in range(k + 1, min(k + 7, len(t.words)))
            if t.fold(x) == "is" and not any(t.gap(y) == 2 for y in range(k + 1, x + 1))
        ),
        None,
    )
    if j is None or _refused(t, k):
        return []
    if t.fold(j + 1) == "to":
        verb = _verb_at(t, j + 2, "base")
        return _with_and(t, k, j + 2, verb, u) if verb is not None else []
    thing = t.at.get(j + 1)
    if thing is None or not thing.known or t.fold(k - 1) not in group("whose_job") or t.gap(j + 1):
        return []
    return [Intent(k, j, thing.last, "do", thing, True, 0.74)]


def _order(t: Talk, k: int, u: Utterance) -> list[Intent]:
    """A bare order at the head of a sentence, with a time or distance: "recheck nuts after 50 mi"."""
    verb = _verb_at(t, k, "base")
    if verb is None or not (verb[2] or verb[0] in table("plans")["acquire"]):
        return []
    hit = t.words[k].action
    if verb[2] and hit is not None and hit.data.get("tense") == "past":
        return []
    last = _phrase_end(t, k)
    intent = _intent(t, k, k, verb, last, u)
    if intent is None or intent.thing is None:
        return []
    timed = (
        _when(t, u, k, last) is not None
        or _distance(t, u, k, last) is not None
        or (_condition(t, k + 1, last) != "" and (not verb[2] or t.gap(k) == 2))
    )
    told = (t.gap(k) == 1 and listed_jobs(t, k)) or t.fold(k - 1) in ("todo", "reminder", "plan")
    if not (timed or told):
        return []
    intent.sure = 0.8
    return [intent]


def _thing_says(t: Talk, u: Utterance) -> list[Intent]:
    """ "seal goes in on sunday", "the wheels have to be balanced", "it gets done saturday"."""
    raw = table("plans")
    found: list[Intent] = []
    for k in range(len(t.words)):
        does = _at(t, k, _list("thing_does"))
        needs = 0 if does else _at(t, k, _list("thing_needs"))
        if not (does or needs):
            continue
        subject = t.ending.get(k - 1) if t.gap(k) == 0 else None
        pronoun = t.fold(k - 1) in ("it", "they", "that", "those") and t.gap(k) == 0
        if (subject is None and not pronoun) or (subject is not None and (subject.other or not subject.known)):
            continue
        if _refused(t, k if subject is None else subject.first) or (
            (clause := t.words[k].clause) is not None and clause.other_machine
        ):
            continue
        thing = subject or _component_before(t, k)
        if thing is None:
            continue
        last = _phrase_end(t, k)
        when = _when(t, u, thing.first if subject else k, last)
        if does:
            if when is None:
                continue
            words = " ".join(t.fold(k + n) for n in range(does))
            if words.endswith(("until", "till")) and when.kind not in ("day", "weekend"):
                continue
            base = (
                "fit"
                if words.endswith((" in", " on"))
                else "do"
                if words.endswith(("until", "till"))
                else "remove"
                if words.endswith((" off", " out"))
                else "replace"
            )
            found.append(Intent(thing.first if subject else k, k, last, base, thing, True, 0.8))
        else:
            v = k + needs
            hit = t.words[v].action if v < len(t.words) else None
            if hit is None or hit.data.get("tense") != "past":
                continue
            base = str(hit.data.get("verb", hit.name))
            found.append(Intent(thing.first if subject else k, v, last, base, thing, True, 0.76))
    del raw
    return found


def _component_before(t: Talk, k: int) -> Thing | None:
    before = [th for th in t.before(k) if not th.other and th.kind == "component"]
    return before[-1] if before else None


def _due(t: Talk, u: Utterance) -> list[Intent]:
    """ "the next oil change is due at sixteen thirteen", "service due in 200 km"."""
    found = []
    for k in range(len(t.words)):
        if t.fold(k) != "due" or (t.fold(k + 1) in ("to", "for") and t.fold(k + 2) in ("the",)):
            continue
        near = [th for th in t.before(k, 10) if k - th.last <= 4 and not th.other]
        if not near:
            continue
        thing = near[-1]
        noun = " ".join(thing.words)
        if not (
            thing.known
            or any(
                noun.endswith(n) for n in (*table("work")["nouns"], "service", "change", "inspection", "check", "test")
            )
        ):
            continue
        if thing.last + 1 < len(t.words) and t.words[thing.last + 1].action is not None:
            continue
        m = mood(t, k)
        last = _phrase_end(t, k)
        dated = _when(t, u, thing.first, last) is not None or any(
            t.words[x].number is not None for x in range(k + 1, min(k + 4, len(t.words)))
        )
        if m.negated or not dated:
            continue
        first = thing.first
        while (
            first > 0
            and t.gap(first) < 1
            and t.ending.get(first - 1) is not None
            and t.words[first - 1].thing is not None
            and first - 1 > k - 8
        ):
            first = t.ending[first - 1].first  # "oil" + "change"
        found.append(Intent(first, first, min(last, k + 6), "", thing, False, 0.78))
    return found


# ---- when --------------------


def _when(t: Talk, u: Utterance, first: int, last: int) -> When | None:
    """The day to come that is named with the words first to last, or just before or after them."""
    if first >= len(t.words):
        return None
    today = u.at.date()
    lo = first
    while lo > 0 and first - lo < 6 and t.gap(lo) < 2:
        lo -= 1
    hi = min(last + 2, len(t.words) - 1)
    start, end = t.words[lo].token.start, t.words[hi].token.end
    own = [w for w in u.dates if w.until >= today and w.kind not in ("past",) and start <= w.start < end]
    inside = [w for w in own if w.start >= t.words[first].token.start and w.start <= t.words[last].token.end]
    near = [
        w
        for w in own
        if w not in inside and w.start < t.words[first].token.start and w.end >= t.words[max(lo, first - 5)].token.start
    ]
    after = [w for w in own if w not in inside and w not in near]
    future = [w for w in inside if w.until > today or w.kind == "day"]
    if future:
        days = [w for w in future if w.kind == "day"]
        return (days or future)[-1 if len(days) > 1 else 0]
    before = [w for w in near if w.day > today]
    if before:
        return before[-1]
    return after[0] if after and after[0].day > today else None


def _distance(t: Talk, u: Utterance, first: int, last: int) -> Quantity | None:
    """A distance or engine hours after which the plan falls due."""
    start, end = t.words[first].token.start, t.words[min(last + 1, len(t.words) - 1)].token.end
    for q in u.quantities:
        if q.unit in ("mi", "km", "h") and start <= q.start < end:
            i = t.index(q.start)
            if any(t.fold(x) in group("before_distance") for x in range(max(0, i - 3), i)):
                return q
    return None


def _condition(t: Talk, first: int, last: int) -> str:
    """The words that say what the plan waits for."""
    phrases = _list("conditions")
    for k in range(first, last + 1):
        size = _at(t, k, phrases)
        if not size or k == last:
            continue
        if t.fold(k) == "in" and not any(t.words[x].number is not None for x in range(k, min(k + 3, last + 1))):
            continue
        if t.fold(k) in ("by", "come") and k + 1 not in t.at and t.fold(k + 1) != "the":
            continue
        return t.text(k, last)
    return ""


# ---- drafts --------------------


def _draft(t: Talk, intent: Intent, u: Utterance) -> Draft:
    when = _when(t, u, intent.first, intent.last)
    distance = _distance(t, u, intent.verb, intent.last)
    what = _what(t, intent, when)
    due = when.day.isoformat() if when is not None and when.kind not in ("vague", "month", "past", "future") else None
    if when is not None and when.kind in ("weekend", "week") and due is not None:
        due = when.day.isoformat() if when.kind == "weekend" else when.until.isoformat()
    fields: dict[str, object] = {"what": what, "due": due}
    if distance is not None:
        fields["due_distance"], fields["due_unit"] = distance.value, distance.unit
    condition = _condition(t, intent.verb + 1, intent.last)
    if condition:
        fields["condition"] = condition
    start = t.words[min(intent.first, intent.verb)].token.start
    end = t.words[intent.last].token.end
    return Draft("plans", fields, start, end, intent.sure, None, "made")


def _what(t: Talk, intent: Intent, when: When | None) -> str:
    """The plan in a line: the speaker's words from the verb on, or verb and thing where a pronoun stood."""
    base = intent.base
    if intent.pronoun and intent.thing is not None:
        if base.split()[0] == "do":
            base = "do"
        return f"{base} {intent.thing.full}".strip()
    if (
        intent.thing is not None
        and base
        and intent.thing.known
        and len(intent.thing.words) == 1
        and intent.thing.first > intent.verb
    ):
        longer = fuller(t, intent.thing)
        if longer != intent.thing.full:
            return f"{base} {longer}"
    last = intent.last
    if when is not None:
        i = t.index(when.start)
        if intent.verb < i <= last:
            stop = i - 1
            while stop > intent.verb and t.fold(stop) in group("before_day"):
                stop -= 1
            if intent.thing is None or stop >= intent.thing.last:
                last = stop
    text = t.text(intent.verb, last)
    return text if intent.base else t.text(intent.first, intent.last)


def _alike(a: str, b: str) -> bool:
    left, right = set(key(a)), set(key(b))
    return bool(left and right) and len(left & right) / min(len(left), len(right)) >= 0.75


def _done_since(t: Talk, intent: Intent) -> bool:
    """True where the same note tells later that the job was done: "meant to swap the filter and today i did it"."""
    wanted = _actions_of(intent.base) if intent.base else frozenset()
    return any(
        d.mood.done and d.at > intent.last and d.thing is intent.thing and (d.action in wanted or d.said == "light")
        for d in deeds(t)
    )


# ---- closing --------------------


def _is_open(plan: dict[str, object]) -> bool:
    return plan.get("state") not in ("done", "dropped", "moved") and plan.get("event") not in ("done", "dropped")


def _open_plan(what: str, context: Context) -> dict[str, Any] | None:
    """The open plan of the context that says the same."""
    for plan in reversed(context.plans):
        if _is_open(plan) and _alike(str(plan.get("what") or ""), what):
            found: dict[str, Any] = plan
            return found
    return None


@cache
def _actions_of(what: str) -> frozenset[str]:
    """The classes of action that a plan's text names."""
    from diary.language.lexicon import load

    found = {str(h.data.get("class", h.name)) for h in load(None).find(what) if h.kind == "action"}
    first = stem(fold(what.split()[0])) if what.split() else ""
    if not found:
        found = {
            "do": {"replaced"},
            "change": {"replaced"},
            "buy": {"bought"},
            "order": {"bought"},
            "find": {"bought"},
            "pick": {"bought"},
            "try": {"replaced"},
            "look": {"checked"},
        }.get(first, set())
    return frozenset(found)


def _dropped(t: Talk, context: Context) -> list[Draft]:
    """Plans of the context that the speaker gives up: "forget about the intake gasket", "decided against the lift"."""
    drafts: list[Draft] = []
    phrases = phrase_list("plans", "dropped", "phrases")
    for k in range(len(t.words)):
        size = _at(t, k, phrases)
        thing = next(iter(t.between(k + size, k + size + 5)), None) if size else None
        if thing is None or thing.other or any(t.gap(x) == 2 for x in range(k + 1, thing.first + 1)):
            continue
        if t.fold(k - 1) in group("negation"):
            continue  # "don't let me forget the seal"
        for plan in context.plans:
            what = set(key(str(plan.get("what") or "")))
            named = set(key(thing.name))
            if _is_open(plan) and named and key(thing.name)[-1] in what and len(named & what) / len(named) >= 0.5:
                end = t.words[thing.last].token.end
                fields = {"what": plan.get("what"), "due": plan.get("due")}
                drafts.append(Draft("plans", fields, t.words[k].token.start, end, 0.8, str(plan.get("id")), "dropped"))
                break
    return drafts


def _closed(t: Talk, context: Context, so_far: list[Draft], touched: set[str | None]) -> list[Draft]:
    """Plans of the context that the note's deeds, torques and parts carry out."""
    closes = table("plans")["close"]
    done: list[tuple[str, str, int, int]] = []
    for deed in deeds(t):
        action = work_action(t, deed)
        if action is not None and counts(t, deed, action):
            done.append(
                (
                    action,
                    deed.thing.full,
                    t.words[deed.at].token.start,
                    t.words[min(deed.last, len(t.words) - 1)].token.end,
                )
            )
    for d in so_far:
        if d.kind == "parts" and d.fields.get("state") in ("bought", "ordered", "fitted"):
            done.append((str(d.fields["state"]), str(d.fields["name"]), d.start, d.end))
        elif d.kind == "torques" and d.fields.get("role") == "applied":
            done.append(("tightened", str(d.fields.get("fastener") or ""), d.start, d.end))
        elif d.kind == "work":
            done.append((str(d.fields["action"]), str(d.fields["component"]), d.start, d.end))
    drafts = _dropped(t, context)
    touched = touched | {d.thread for d in drafts}
    for plan in context.plans:
        if not _is_open(plan) or plan.get("id") in touched:
            continue
        what = str(plan.get("what") or "")
        wanted = _actions_of(what)
        words = set(key(what))
        for action, name, start, end in done:
            named = set(key(name))
            if not named or len(named & words) / len(named) < 0.5 or not (named & words):
                continue
            fitting = any(
                action == w or action in closes.get(w, []) or (w == "replaced" and action in ("replaced", "fitted"))
                for w in wanted
            )
            if fitting:
                fields = {"what": what, "due": plan.get("due")}
                drafts.append(Draft("plans", fields, start, end, 0.85, str(plan.get("id")), "done"))
                break
    return drafts


__all__ = ["read", "same_thing"]
