"""Reader of plans: what is still to be done, with its day, distance or condition; and plans done, dropped or moved.

A plan is a verb for the machine under a phrase of intention or need ("going to", "have to", "remind me to"), an
-ing form with a day
to come ("doing the seal next saturday"), a thing said to go in or be seen to, or a bare order ("recheck nuts after
50 mi").
Wishes under an "if" that comes first, refusals, other people's plans and remarks ("I'll see") are none.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from diary.language.readers import agenda
from diary.language.readers import lessons as lessons_reader
from diary.language.readers.deeds import PRONOUNS, antecedent, deeds, listed_jobs, mood
from diary.language.readers.intents import (
    Intent,
    component_before,
    condition_named,
    distance_named,
    phrase_end,
    phrases_of,
    refused,
    size_at,
    tense_at,
    verb_at,
    when_named,
)
from diary.language.readers.phrases import Talk, group, phrase_list, table, talk
from diary.language.readers.work import counts, fuller, same_thing, work_action
from diary.language.text import fold, key, stem
from diary.language.types import Context, Draft, Utterance, When


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "plans": made or moved, then those of the context that this note closes."""
    t = talk(utterance)
    drafts: list[Draft] = []
    made: list[tuple[Intent, Draft]] = []
    lessons = [(d.start, d.end) for d in lessons_reader.read(utterance, context, so_far)]
    for intent in sorted(_intents(t, utterance, so_far), key=lambda i: i.first):
        draft = _draft(t, intent, utterance)
        twin = next((d for i, d in made if _one_job(i, d, intent, draft)), None)
        if twin is not None:
            for name in ("due", "due_distance", "due_unit", "condition"):  # "needs greasing, so that's tomorrow"
                if twin.fields.get(name) is None and draft.fields.get(name) is not None:
                    twin.fields[name] = draft.fields[name]
            continue
        spoken_at = t.words[intent.verb].token.start
        taught = any(start <= spoken_at < end for start, end in lessons)
        if _done_since(t, intent) or (taught and not _beside_lesson(t, utterance, intent)):
            continue
        made.append((intent, draft))
        earlier = _open_plan(str(draft.fields["what"]), context)
        if earlier is not None:
            draft.thread, draft.event = str(earlier["id"]), "moved"
        drafts.append(draft)
    drafts.extend(_closed(t, context, so_far, {d.thread for d in drafts}))
    return drafts


# ---- finding --------------------


def _intents(t: Talk, u: Utterance, so_far: list[Draft]) -> list[Intent]:
    found: list[Intent] = []
    for k in range(len(t.words)):
        if (size := size_at(t, k, phrases_of("before_base"))) and t.gap(k + size) < 2:
            found.extend(_under(t, k, k + size, u))
        if (
            t.fold(k - 1) in ("i", "we")
            and k
            and t.gap(k) == 0
            and t.words[k].action is not None
            and tense_at(t, k) == "base"
        ):
            verb = verb_at(t, k, "base")
            if verb is not None and t.words[k].action is not None and str(t.words[k].tense) == "base":
                future = when_named(t, u, k, phrase_end(t, k))
                if future is not None and future.day > u.at.date() and not refused(t, k - 1):
                    found.extend(_with_and(t, k - 1, k, verb, u))
        ing = verb_at(t, k, "ing")
        if ing is not None:
            found.extend(_progressive(t, k, ing, u))
        found.extend(_named_job(t, k, u))
        if t.gap(k) == 2 or (t.gap(k) == 1 and listed_jobs(t, k)) or t.fold(k - 1) in group("order_after"):
            found.extend(_order(t, k, u))
    found.extend(_thing_says(t, u))
    found.extend(_due(t, u))
    found.extend(agenda.told(u))
    return _distinct(found)


def _distinct(found: list[Intent]) -> list[Intent]:
    kept: list[Intent] = []
    for intent in sorted(found, key=lambda i: (i.verb, -i.sure)):
        if not any(
            k.verb <= intent.verb <= k.last and (k.thing is intent.thing or k.verb == intent.verb) for k in kept
        ):
            kept.append(intent)
    return kept


def _under(t: Talk, k: int, j: int, u: Utterance) -> list[Intent]:
    """Plans under a phrase of intention at word k; the verb should stand at word j."""
    while t.fold(j) in group("before_plan_verb") and t.gap(j) == 0:
        if (t.fold(j) == "have" and t.fold(j + 1) not in ("to",)) or (
            t.fold(j) == "try" and t.fold(j + 1) not in ("to", "and")
        ):
            break
        if t.fold(j) == "go" and verb_at(t, j + 1, "base") is None and t.fold(j + 1) not in ("and", "ahead"):
            break
        j += 1
    if t.fold(j) == "have" and j + 1 < len(t.words) and (t.words[j + 1].action is not None or j + 1 not in t.at):
        return []  # "should have replaced"
    verb = verb_at(t, j, "base") or _unheard_verb(t, u, j)
    if verb is None and not _refused_or_cut(t, k, j):
        return _second_verb(t, u, k, j)
    if verb is None or t.gap(j) == 2 or refused(t, k) or t.fold(j) in group("negation"):
        return []
    return _with_and(t, k, j, verb, u)


def _refused_or_cut(t: Talk, k: int, j: int) -> bool:
    return t.gap(j) == 2 or t.fold(j) in group("negation") or refused(t, k)


def _second_verb(t: Talk, u: Utterance, k: int, j: int) -> list[Intent]:
    """ "going to let it cool and drain the radiator tonight": the job after "and", where its day is told."""
    for x in range(j + 1, min(j + 7, len(t.words) - 1)):
        if t.gap(x) == 2:
            break
        verb = verb_at(t, x + 1, "base") if t.fold(x) == "and" else None
        if verb is not None:
            dated = when_named(t, u, x + 1, phrase_end(t, x + 1))
            return _with_and(t, k, x + 1, verb, u) if dated is not None else []
    return []


def _unheard_verb(t: Talk, u: Utterance, j: int) -> tuple[str, int, bool] | None:
    """A word that must be a verb under an intention though nobody knows it: "i'll whip the sump off sunday"."""
    word = t.fold(j)
    if not word.isalpha() or word in group("stop") or word in table("plans")["never"] or t.words[j].number is not None:
        return None
    if t.words[j].thing is not None and j in t.at and t.at[j].last == j:
        return None
    if t.fold(j + 1) in PRONOUNS and word not in table("plans")["agenda"]["idle_verbs"]:
        when = when_named(t, u, j, phrase_end(t, j))
        inside = when is not None and t.words[j].token.start < when.start
        return (word, 1, True) if inside else None  # "i'll press it friday"
    thing = t.at.get(j + 1)
    if thing is None or not thing.article or thing.other or t.gap(j + 1) > 0:
        return None
    if not thing.known and thing.kind != "tool":
        return None
    apart = t.fold(thing.last + 1) in table("plans")["particles"]
    dated = when_named(t, u, j, phrase_end(t, j)) is not None
    return (word, 1, True) if apart or dated else None


def _with_and(t: Talk, k: int, j: int, verb: tuple[str, int, bool], u: Utterance) -> list[Intent]:
    """The plan whose verb is at word j, and those joined to it by "and"."""
    found: list[Intent] = []
    while True:
        last = phrase_end(t, j)
        intent = _intent(t, k, j, verb, last, u)
        nxt = last + 1
        if intent is not None:
            found.append(intent)
        if t.fold(nxt) not in ("and", "then") or t.gap(nxt) == 2:
            return found
        nxt += 1
        while t.fold(nxt) in ("then", "also", "maybe", "just"):
            nxt += 1
        following = verb_at(t, nxt, "base")
        if following is None or (t.words[nxt].action is not None and t.words[nxt].tense == "past" and not intent):
            return found
        k, j, verb = nxt, nxt, following


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
    when = when_named(t, u, k, last)
    strict = when is not None and t.words[j].token.start <= when.start <= t.words[last].token.end
    dated = when is not None or distance_named(t, u, j, last) is not None or condition_named(t, object_at, last) != ""
    first_word = base.split()[0]
    on_it = any(t.fold(x) in ("it", "them") for x in range(object_at, last + 1))
    if thing is None and on_it and things and things[0].kind == "tool" and strict:
        return Intent(k, j, last, base, things[0], False, 0.7, what=t.text(j, last))  # "throw a gauge on it thursday"
    if thing is None and pronoun is not None:
        spoken_of = antecedent(t, pronoun, PRONOUNS[t.fold(pronoun)])
        if (
            spoken_of is not None
            and (is_action or dated)
            and (first_word not in group("no_job_with_it") or base in table("plans")["attending"])
        ):
            if first_word in raw["never"] and first_word not in raw["maybe"] and base not in raw["attending"]:
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
        spoken_of = component_before(t, j)
        if spoken_of is not None:
            return Intent(k, j, last, "check again" if first_word == "look" else base + " again", spoken_of, True, 0.7)
    if (
        thing is None
        and pronoun is None
        and is_action
        and not things
        and (
            t.fold(j + 1) == "after"
            or distance_named(t, u, j, last) is not None
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
        spoken_of = component_before(t, pronoun) if pronoun is not None else None
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
        if strict or condition_named(t, thing.last + 1, last) or _elsewhere(t, thing.last + 1, last):
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
    helped = any(size_at(t, v - n, phrases_of("before_ing")) == n for n in (1, 2, 3) if v >= n) or (
        before in group("before_progressive") or t.gap(v) == 2
    )
    if not helped or before in group("past_ing"):
        return []
    if refused(t, v, first_if=True):
        return []
    last = phrase_end(t, v)
    base, size, is_action = verb
    when = when_named(t, u, v, last)
    things = [th for th in t.between(v + size, last) if th.known and not th.other]
    elsewhere = bool(things) and base in table("plans")["acquire"] and _elsewhere(t, things[0].last + 1, last)
    meant = before == "on" and t.fold(v - 2) in ("plan", "planning", "plans")
    to_be = t.fold(v - 1) == "be" and is_action and bool(things)  # "i'll be respraying that wing"
    if when is None and not elsewhere and not meant and not to_be:
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
    if j is None or refused(t, k):
        return []
    if t.fold(j + 1) == "to":
        verb = verb_at(t, j + 2, "base")
        return _with_and(t, k, j + 2, verb, u) if verb is not None else []
    thing = t.at.get(j + 1)
    if thing is None or not thing.known or t.fold(k - 1) not in group("whose_job") or t.gap(j + 1):
        return []
    return [Intent(k, j, thing.last, "do", thing, True, 0.74)]


def _order(t: Talk, k: int, u: Utterance) -> list[Intent]:
    """A bare order at the head of a sentence, with a time or distance: "recheck nuts after 50 mi"."""
    verb = verb_at(t, k, "base")
    if verb is None or not (verb[2] or verb[0] in table("plans")["acquire"]):
        return []
    hit = t.words[k].action
    if verb[2] and hit is not None and hit.data.get("tense") == "past":
        return []
    last = phrase_end(t, k)
    intent = _intent(t, k, k, verb, last, u)
    if intent is None or intent.thing is None:
        return []
    timed = (
        when_named(t, u, k, last) is not None
        or distance_named(t, u, k, last) is not None
        or (condition_named(t, k + 1, last) != "" and (not verb[2] or t.gap(k) == 2))
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
        does = size_at(t, k, phrases_of("thing_does"))
        needs = 0 if does else size_at(t, k, phrases_of("thing_needs"))
        if not (does or needs):
            continue
        subject = t.ending.get(k - 1) if t.gap(k) == 0 else None
        pronoun = t.fold(k - 1) in ("it", "they", "that", "those") and t.gap(k) == 0
        if (subject is None and not pronoun) or (subject is not None and (subject.other or not subject.known)):
            continue
        if refused(t, k if subject is None else subject.first) or (
            (clause := t.words[k].clause) is not None and clause.other_machine
        ):
            continue
        thing = subject or component_before(t, k)
        if thing is None:
            continue
        last = phrase_end(t, k)
        when = when_named(t, u, thing.first if subject else k, last)
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
        last = phrase_end(t, k)
        dated = when_named(t, u, thing.first, last) is not None or any(
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


# ---- drafts --------------------


def _draft(t: Talk, intent: Intent, u: Utterance) -> Draft:
    when = when_named(t, u, intent.first, intent.last)
    distance = distance_named(t, u, intent.verb, intent.last)
    what = _what(t, intent, when)
    due = when.day.isoformat() if when is not None and when.kind not in ("vague", "month", "past", "future") else None
    if when is not None and _words_before(u, when).endswith(("after", "after the", "after this")):
        due = None  # "after the weekend" names no day
    if when is not None and when.kind in ("weekend", "week") and due is not None:
        due = when.day.isoformat() if when.kind == "weekend" else when.until.isoformat()
    fields: dict[str, object] = {"what": what, "due": due}
    if distance is not None:
        fields["due_distance"], fields["due_unit"] = distance.value, distance.unit
    condition = condition_named(t, intent.verb + 1, intent.last)
    if condition:
        fields["condition"] = condition
    start = t.words[min(intent.first, intent.verb)].token.start
    end = t.words[intent.last].token.end
    return Draft("plans", fields, start, end, intent.sure, None, "made")


def _words_before(u: Utterance, when: When) -> str:
    """The few words before a day, in lower case."""
    return u.text[max(0, when.start - 16) : when.start].lower().rstrip()


def _what(t: Talk, intent: Intent, when: When | None) -> str:
    """The plan in a line: the speaker's words from the verb on, or verb and thing where a pronoun stood."""
    base = intent.base
    if intent.what:
        return intent.what
    if intent.pronoun and intent.thing is not None:
        if base.split()[0] == "do":
            base = "do"
        if base.endswith(" again"):
            return f"{base.removesuffix(' again')} {intent.thing.full} again"
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
            while stop > intent.verb and (t.fold(stop) in group("before_day") or t.fold(stop) in ("before", "after")):
                stop -= 1
            if intent.thing is None or stop >= intent.thing.last:
                last = stop
    text = t.text(intent.verb, last)
    return text if intent.base else t.text(intent.first, intent.last)


def _beside_lesson(t: Talk, u: Utterance, intent: Intent) -> bool:
    """True for a plan that run-on talk hangs on a lesson: "... and the wrench goes on it again after fifty miles"."""
    first = max(0, intent.first - 3)
    joined = any(t.fold(k) in ("and", "so") for k in range(first, intent.verb + 1))
    return joined and (
        distance_named(t, u, intent.verb, intent.last) is not None
        or when_named(t, u, intent.first, intent.last) is not None
    )


def _one_job(earlier: Intent, first: Draft, later: Intent, second: Draft) -> bool:
    """True where two sayings of one note are one plan: the same words, or "do" it said again of the same thing."""
    if _alike(str(first.fields["what"]), str(second.fields["what"])):
        return True
    same = earlier.thing is not None and later.thing is not None and earlier.thing.first == later.thing.first
    return same and "do" in (earlier.base, later.base) and None in (first.fields["due"], second.fields["due"])


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
        size = size_at(t, k, phrases)
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
