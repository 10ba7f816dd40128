"""A question to an `Answer`, computed from the records of a diary. `ask` is the door of this module.

What a question means is found by `questions`; each family has one function. Nothing here invents a figure: what is not
noted is said to be missing, and `certain` is False.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import chain
from typing import Any

from diary.assistant import answers_faults, answers_fuel, answers_parts, answers_work, spoken
from diary.assistant.answer import Answer, cannot
from diary.assistant.facts import Facts, entity
from diary.assistant.questions import UNDERSTOOD, Query, closest, understand
from diary.assistant.second import found_nothing, readings, weighed
from diary.assistant.words import table
from diary.records.diary import Diary

Answerer = Callable[[Facts, Query, datetime], Answer]

_BY_FAMILY: dict[str, Answerer] = {
    "range": answers_fuel.range_left,
    "fuel_volume": answers_fuel.fuel_volume,
    "fuel_cost": answers_fuel.fuel_cost,
    "price": answers_fuel.price,
    "cost_per_distance": answers_fuel.cost_per_distance,
    "meter": answers_fuel.meter_now,
    "spend": answers_parts.spend,
    "cost_ahead": answers_parts.cost_ahead,
    "parts_needed": answers_parts.needed,
    "parts_ordered": answers_parts.ordered,
    "parts_spare": answers_parts.spare,
    "parts_fitted": answers_parts.fitted,
    "count": answers_parts.count,
    "torque": answers_work.torque,
    "open_faults": answers_faults.open_faults,
    "when_last": answers_work.when_last,
    "how_often": answers_work.how_often,
    "when_next": answers_work.plans,
    "check_before": answers_work.check_before,
    "work_done": answers_work.work_done,
    "said": answers_work.said,
    "shots": answers_work.shots,
    "lessons": answers_work.lessons,
    "changes": answers_work.changes,
    "missing": answers_work.missing,
    "summary": answers_work.summary,
}
_WITH_PREVIOUS: dict[str, Callable[[Facts, Query, datetime, Answer | None], Answer]] = {
    "economy": answers_fuel.economy,
    "distance": answers_fuel.distance,
    "measure": answers_work.measure,
}
_WITH_FOCUS: dict[str, Callable[[Facts, Query, datetime, Any], Answer]] = {
    "fault_status": answers_faults.status,
    "fault_cause": answers_faults.cause,
    "fault_when": answers_faults.when,
}

# families whose questions, with figures in them, may be sums for a calculator ("what size fuse for 12 amps")
_MAY_BE_SUMS = frozenset({"measure", "range", "count", "economy", "distance", "torque", "fuel_volume"})
# families that ask for words, never for a sum
_OF_WORDS = frozenset(
    {"said", "lessons", "shots", "changes", "missing", "summary", "fault_status", "fault_cause", "fault_when"}
)

# families that ask one figure or fact of a thing, so that "what about the rear ones" asks the same of another thing
_OF_THINGS = frozenset(
    {"torque", "measure", "spend", "count", "when_last", "when_next", "how_often", "work_done", "parts_fitted", "said"}
)

# families about fuel and meters, which no name of a part turns into another question
_OF_TANKS = frozenset({"economy", "range", "distance", "price", "cost_per_distance", "meter"})
PLAIN = UNDERSTOOD + 0.6  # the score from which a question is plain

REMEMBERED = timedelta(minutes=10)  # how long `diary ask` leans on what was asked before
LEANT_ON = 4  # how many questions back
MONTHS_BACK = 3  # "the eighteenth" is looked for in so many months
_ORDINAL = re.compile(r"\d{1,2}(st|nd|rd|th)$")
_AHEAD = frozenset({"when_next", "check_before"})

_facts: dict[int, Facts] = {}


def facts_of(diary: Diary) -> Facts:
    """The kept view of a diary, brought up to date."""
    found = _facts.get(id(diary))
    if found is None or found.diary is not diary:
        _facts.clear()
        found = _facts[id(diary)] = Facts(diary)
    found.refresh()
    return found


def ask(
    diary: Diary, question: str, now: datetime | None = None, previous: Answer | None = None, focus: Any | None = None
) -> Answer:
    """The answer to a question asked in anyone's words.

    `now` is the clock for "this week" (default: the diary's own). `previous` is the answer before, which "and the one
    before"
    leans on; `focus` is the record last spoken of, which "it" means.
    """
    now = now or diary.now()
    facts = facts_of(diary)
    us = diary.machine.distance == "mi" and diary.machine.volume == "gal_us"
    both = compound(facts, question, now, previous, focus, us)
    return both or _ask(facts, question, now, previous, focus, us)


def _ask(facts: Facts, question: str, now: datetime, previous: Answer | None, focus: Any | None, us: bool) -> Answer:
    """The answer to one question, by its first reading that finds anything."""
    plain = _settled(facts, understand(question, now.date(), month_first=us))
    query = lean(plain, previous)
    if query is plain:
        query = plain = _settled(facts, weighed(facts, plain, now, us))
    answer = answer_query(facts, query, now, previous, focus)
    answer.query = answer.query or query
    if not found_nothing(answer) or (query.understood and not entity(query.stems)):
        return answer
    others = [plain] if plain.understood and plain != query else []
    if not plain.family and previous is not None and previous.query is not None and previous.query.family:
        others.append(_same_of(plain, previous.query))
    for other in chain(others, readings(facts, query, now, us)):  # one at a time: later readings cost more
        if other.family != query.family and query.score >= PLAIN and query.family in _OF_TANKS:
            continue  # what was asked is plain: it can't be worked out
        better = answer_query(facts, other, now, previous, focus)
        better.query = better.query or other
        if not found_nothing(better):
            better.certain = better.certain and not (other.family == "said" and not query.understood)
            return better
        if not query.understood and other.understood and other.family != "said":
            answer, query = better, other  # nothing is found, but what was asked is plain
    return answer


def _settled(facts: Facts, query: Query) -> Query:
    """With days that were only numbered ("the eighteenth") taken for those of the month in which something was noted."""
    window = query.window
    if not window.said or query.family in _AHEAD:
        return query
    tokens = [query.all_words[i] for i in sorted(window.used)]
    if set(tokens) & {*table("windows")["months"], *table("windows")["short"], *table("windows")["days"]}:
        return query
    if not any(_ORDINAL.match(t) or t in table("windows")["ordinals"] for t in tokens):
        return query

    def moved(day: date | None) -> date | None:
        return day if day is None else _noted_before(facts, day)

    first, second = (p and replace(p, day=moved(p.day), last=moved(p.last)) for p in (window.first, window.second))
    if window.kind == "days" and window.start == window.end:
        start = moved(window.start)
        if start != window.start and start is not None:
            window = replace(window, start=start, end=start, label=spoken.day(start))
    return replace(query, window=replace(window, first=first, second=second))


def _noted_before(facts: Facts, day: date) -> date:
    """The day itself where anything was noted on it, else the same day of the last months on which anything was."""
    year, month = day.year, day.month
    for _ in range(MONTHS_BACK):
        try:
            found = date(year, month, day.day)
        except ValueError:
            found = None
        if found is not None and facts.diary.notes(found.isoformat(), found.isoformat()):
            return found
        year, month = (year, month - 1) if month > 1 else (year - 1, 12)
    return day


def compound(
    facts: Facts, question: str, now: datetime, previous: Answer | None, focus: Any | None, us: bool
) -> Answer | None:
    """Two questions in one breath, answered one after the other; None where it is one."""
    halves = halved(question)
    if halves is None:
        return None
    from diary.assistant import sums

    if sums.answer(facts, understand(question, now.date(), month_first=us), now) is not None:
        return None
    first, second = halves
    one, two = (understand(t, now.date(), month_first=us) for t in (first, second))
    from diary.assistant.answers_work import generic

    if second.split()[0].lower() in table("turns")["asking"]:
        if not (two.family and (one.family or entity(one.stems))) or two.family == one.family:
            return None
    elif one.family not in ("torque", "measure", "") or not entity(two.stems) or two.family not in ("", one.family):
        return None
    a = _ask(facts, first, now, previous, focus, us)
    if found_nothing(a) or a.query is None or not a.query.family:
        return None
    about = entity(two.stems)
    if not two.family:
        if a.query.family not in ("torque", "measure"):
            return None
        two = replace(two, family=a.query.family, aspects=a.query.aspects, window=a.query.window, score=2.0)
    elif not about:
        two = replace(two, about=a.query.about, stems=a.subject or a.query.stems)
    elif two.family == "torque" and generic(about):
        two = replace(two, about=(*a.query.about, *two.about), stems=(*a.query.stems, *about))
    b = answer_query(facts, two, now, a, focus)
    b.query = b.query or two
    if found_nothing(b) and two.family == a.query.family:
        return None
    if set(b.records) == set(a.records) and b.records and two.family == a.query.family:
        return None
    seen: list[str] = [*a.records, *(r for r in b.records if r not in a.records)]
    return replace(
        b, answer=f"{a.answer} {b.answer}", values=[*a.values, *b.values], records=seen, certain=a.certain and b.certain,
        caution=a.caution or b.caution,
    )  # fmt: skip


def halved(question: str) -> tuple[str, str] | None:
    """A question cut at an "and" that begins another question, or that joins two short names at its end."""
    asking = "|".join(table("turns")["asking"])
    cut = re.search(rf"(?:,| and| &| n|,? and)\s+(?=(?:{asking})\b)", question, re.I)
    if cut is None:
        cut = re.search(r"\s(?:and|&)\s+(?=(?:the |those |them )?\w+(?: \w+){0,2}\W*$)", question, re.I)
    if cut is None or len(question[: cut.start()].split()) < 2:
        return None
    return question[: cut.start()], question[cut.end() :]


def ask_on(diary: Diary, question: str, now: datetime) -> Answer:
    """The answer to a question asked by itself, which may go on from those asked within the last ten minutes."""
    since = now - REMEMBERED
    previous: Answer | None = None
    first = understand(question, now.date())
    if first.follow or first.follow_words or first.family in ("", "convert"):
        for earlier in diary.questions(since)[-LEANT_ON:]:
            previous = ask(diary, earlier, now, previous)
    answer = ask(diary, question, now, previous)
    diary.keep_question(question, now, since)
    return answer


def lean(query: Query, previous: Answer | None) -> Query:
    """A follow-up completed from the question before: its family where it names none, its subject where it says
    "it"."""
    before = previous.query if previous else None
    if before is None:
        # "what about between the fifteenth and the twenty eighth", asked by itself: stretches are asked of economy most
        if (
            not entity(query.stems)
            and query.window.kind in ("between", "tank", "tanks")
            and query.follow_words
            and (query.family in ("", "fault_status") or query.score < UNDERSTOOD + 1)
        ):
            return replace(query, family="economy", score=2.0)
        return query
    if query.follow_words and not entity(query.stems) and query.window.said and before.family:
        return replace(
            query,
            family=before.family,
            about=before.about,
            stems=before.stems,
            aspects=query.aspects or before.aspects,
            score=2.0,
        )
    if (
        query.follow_words
        and entity(query.stems)
        and before.family in _OF_THINGS
        and query.family in ("", "fault_status")
        and not query.window.said
    ):
        return replace(query, family=before.family, aspects=query.aspects or before.aspects, score=2.0)
    if not query.family and before.family:
        bare = not entity(query.stems) or query.window.said
        if query.follow and (query.window.said or bare):
            about, stems = (query.about, query.stems) if entity(query.stems) else (before.about, before.stems)
            window = query.window if query.window.said else before.window
            return replace(
                query,
                family=before.family,
                about=about,
                stems=stems,
                window=window,
                aspects=query.aspects or before.aspects,
                score=2.0,
            )
        if query.follow and entity(query.stems):
            return replace(query, family=before.family, window=before.window, aspects=before.aspects, score=2.0)
        return query
    if query.follow and not entity(query.stems) and query.family == before.family and not query.window.said:
        return replace(query, about=before.about, stems=before.stems)
    if (
        query.follow
        and not entity(query.stems)
        and previous is not None
        and previous.subject
        and query.family in ("torque", "measure", "fault_status", "fault_when", "fault_cause", "when_last", "spend")
    ):
        return replace(query, about=previous.subject, stems=previous.subject)
    return query


def _same_of(query: Query, before: Query) -> Query:
    """A few words that name no question of their own ("last month", "the rear ones") asked as the question before was."""
    named = bool(entity(query.stems))
    return replace(
        query,
        family=before.family,
        about=query.about if named else before.about,
        stems=query.stems if named else before.stems,
        window=query.window if query.window.said else before.window,
        aspects=query.aspects or before.aspects,
        score=2.0,
    )


def answer_query(
    facts: Facts, query: Query, now: datetime, previous: Answer | None = None, focus: Any | None = None
) -> Answer:
    """The answer to an understood query."""
    if query.family not in _OF_WORDS or (query.family.startswith("fault") and "every" in query.all_words):
        from diary.assistant import sums

        if (summed := sums.answer(facts, query, now)) is not None:
            return summed
    if query.family in _MAY_BE_SUMS or not query.understood:
        from diary.assistant.answers_calc import catalogue, figures_in

        if figures_in(query.text):
            found = catalogue(facts, query.text)
            if found is not None and found.certain:
                return found
    if not query.understood:
        return not_understood(facts, query, now)
    if query.family in _WITH_PREVIOUS:
        return _WITH_PREVIOUS[query.family](facts, query, now, previous)
    if query.family in _WITH_FOCUS:
        return _WITH_FOCUS[query.family](facts, query, now, focus)
    if query.family == "tank_size":
        return answers_fuel.tank_answer(facts)
    if query.family in ("convert", "calculator"):
        from diary.assistant.answers_calc import calculate

        return calculate(facts, query, now, previous, focus)
    return _BY_FAMILY[query.family](facts, query, now)


def not_understood(facts: Facts, query: Query, now: datetime) -> Answer:
    """The two closest readings, as a choice."""
    near = closest(query.text, now.date())
    choices = [(gist, replace(query, family=name, score=9.0)) for name, gist in near]
    answer = cannot(f"I did not get that. Do you mean {near[0][1]}, or {near[1][1]}?")
    answer.asks = {"for": "which question", "about": [gist for _, gist in near]}
    answer.choices = choices
    return answer
