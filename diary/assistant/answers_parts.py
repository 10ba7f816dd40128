"""Answers about parts and money: what is needed, on order, spare or fitted, and what was spent on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer, cannot, value
from diary.assistant.answers_fuel import chosen, unknown_event
from diary.assistant.facts import Facts, answers_table, best, entity, fault_text, has_corner, is_corner
from diary.assistant.questions import Query
from diary.assistant.words import content, overlap, table

STAGES = ("needed", "ordered", "bought", "spare", "fitted", "removed")


def same_part(a: str, b: str) -> bool:
    """Whether two names are of one part: the same noun, and one name no more than the other with words left out."""
    one, two = content(a), content(b)
    return bool(one and two) and one[-1] == two[-1] and (set(one) <= set(two) or set(two) <= set(one))


def lives(facts: Facts) -> list[list[Any]]:
    """The parts' lives: the records of each part, oldest first. A step joins the life that its reader named, or the
    newest one
    of the same name that has not come as far."""
    found: list[list[Any]] = facts.kept("lives", lambda: _lives(facts.records("parts")))
    return found


def _lives(parts: Sequence[Any]) -> list[list[Any]]:
    out: list[list[Any]] = []
    by_life: dict[str, list[Any]] = {}
    going: dict[str, list[list[Any]]] = {}  # lives that may go on, by the last word of their name
    for part in parts:
        life = by_life.get(part.life) if part.life else None
        noun = (content(part.name) or [""])[-1]
        rows = going.setdefault(noun, [])
        if life is None:
            life = next((r for r in reversed(rows) if same_part(r[-1].name, part.name) and _goes_on(r[-1], part)), None)
        if life is None:
            life = []
            out.append(life)
            rows.append(life)
        life.append(part)
        if part.state in ("fitted", "removed"):
            rows[:] = [r for r in rows if r is not life]
        if part.life:
            by_life[part.life] = life
    return out


def _goes_on(last: Any, part: Any) -> bool:
    """Whether `part` may be the next step of a life that stands at `last`."""
    if part.state == "needed":
        return bool(last.state == "needed")
    return last.state not in ("fitted", "removed") and _stage(last) <= _stage(part)


def _stage(part: Any) -> int:
    return STAGES.index(part.state) if part.state in STAGES else 0


def called(part: Any) -> str:
    """A part as it is spoken of, with its count where it is more than one."""
    if part.count and part.count > 1:
        return f"{spoken.digits(part.count)} {part.name}"
    return str(part.name)


def in_state(facts: Facts, state: str) -> list[list[Any]]:
    """The lives that stand at a state now."""
    return [life for life in lives(facts) if life[-1].state == state]


def needed(facts: Facts, query: Query, now: datetime) -> Answer:
    """What is still to buy, and its cost where it was said."""
    rows = in_state(facts, "needed")
    about = entity(query.stems)
    if about:
        rows = best(rows, about, lambda r: r[-1].name, least=0.6) or rows
    buying = [
        p
        for p in facts.records("plans")
        if p.state == "open" and set(answers_table("money")["buying"]) & set((p.what or "").lower().split())
    ]
    planned = spoken.sentence(f"Planned: {'; '.join(p.what for p in buying[-3:])}") if buying else ""
    if not rows:
        return Answer(f"Nothing is on the list to buy. {planned}".strip(), [], [p.id for p in buying[-3:]])
    text = spoken.listed(called(life[-1]) for life in rows)
    priced = [life[-1].cost for life in rows if life[-1].cost is not None]
    values = []
    tail = ""
    if priced:
        total = sum(priced)
        values = [value(total, facts.currency)]
        tail = f", {spoken.money(total, facts.currency)} of it priced"
    return Answer(spoken.sentence(f"To buy: {text}{tail}"), values, [life[-1].id for life in rows])


def ordered(facts: Facts, query: Query, now: datetime) -> Answer:
    """What is on order and not here yet."""
    rows = in_state(facts, "ordered")
    about = entity(query.stems)
    if about:
        mine = best(rows, about, lambda r: r[-1].name, least=0.6)
        if not mine:
            came = best(lives(facts), about, lambda r: r[-1].name, least=0.6)
            if came:
                last = came[-1][-1]
                return Answer(
                    spoken.sentence(
                        f"No, {last.name} is not on order: it was noted as {last.state} "
                        f"on {spoken.day(last.at, now.date())}"
                    ),
                    [],
                    [last.id],
                )
            return cannot(spoken.sentence(f"No, nothing is noted about ordering {query.named}"))
        rows = mine
    if not rows:
        return Answer("Nothing is on order.", [], [])
    text = spoken.listed(f"{called(life[-1])} (since {spoken.day(life[-1].at, now.date())})" for life in rows)
    return Answer(spoken.sentence(f"On order: {text}"), [], [life[-1].id for life in rows])


def spare(facts: Facts, query: Query, now: datetime) -> Answer:
    """The spares, and parts bought but not fitted."""
    rows = in_state(facts, "spare")
    bought = in_state(facts, "bought")
    about = entity(query.stems)
    if about:
        rows = best(rows, about, lambda r: r[-1].name, least=0.6)
        bought = best(bought, about, lambda r: r[-1].name, least=0.6)
    if not rows and not bought:
        return Answer(spoken.sentence(f"No spare {query.named or 'part'} is noted"), [], [], certain=not about)
    parts = []
    if rows:
        yes = "yes, " if set(query.all_words[:1]) & set(table("turns")["polar"]) else ""
        parts.append(f"{yes}spare: {spoken.listed(called(r[-1]) for r in rows)}")
    if bought:
        parts.append(f"bought and not fitted: {spoken.listed(called(r[-1]) for r in bought)}")
    return Answer(spoken.sentence("; ".join(parts)), [], [r[-1].id for r in (*rows, *bought)])


def fitted(facts: Facts, query: Query, now: datetime) -> Answer:
    """Which parts were fitted (or bought) in a window."""
    if "bought" in query.aspects and (extreme := _dearest(facts, query, facts.records("parts"), now)) is not None:
        return extreme
    states = ("bought", "ordered", "fitted") if "bought" in query.aspects else ("fitted",)
    rows = [
        p
        for p in facts.records("parts")
        if p.state in states and (p.cost is not None or p.state != "fitted" or "bought" not in query.aspects)
    ]
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    rows, lead = picked
    about = entity(query.stems)
    if about:
        rows = best(rows, about, lambda p: p.name, least=0.5)
        if not rows:
            return cannot(spoken.sentence(f"No {query.named} is noted as {states[0]} {lead}"))
    if not rows:
        return Answer(spoken.sentence(f"No part is noted as {states[-1]} {lead}"), [], [], False)
    text = spoken.listed(f"{called(p)} ({spoken.day(p.at, now.date())})" for p in rows[-8:])
    more = f", and {len(rows) - 8} before" if len(rows) > 8 else ""
    return Answer(
        spoken.sentence(f"{states[0].capitalize()} {lead}: {text}{more}".replace(" :", ":")), [], [p.id for p in rows]
    )


def _costs(facts: Facts, rows: Sequence[Any]) -> list[Any]:
    """Parts with a price, one for each time money was paid: a price said again for the same part is not counted
    twice."""
    wanted = {r.id for r in rows}
    out = []
    for life in lives(facts):
        seen: set[float] = set()
        for part in life:
            if part.cost is None or part.state in ("needed", "removed") or part.cost in seen:
                continue
            seen.add(part.cost)
            if part.id in wanted:
                out.append(part)
    return out


def spend(facts: Facts, query: Query, now: datetime) -> Answer:
    """Money spent on parts over a window, or on one part."""
    rows = facts.records("parts")
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    inside, lead = picked
    about = entity(query.stems)
    coin = facts.currency
    tokens = set(query.all_words)
    if (
        about
        and set(about) <= set(content(" ".join(answers_table("money")["fuel"])))
        and not {"part", "parts"} & tokens
    ):
        from diary.assistant.answers_fuel import fuel_cost

        return fuel_cost(facts, replace(query, family="fuel_cost"), now)
    if (extreme := _dearest(facts, query, inside, now)) is not None:
        return extreme
    if about and len(named := _each_named(facts, query, inside, about)) > 1:
        return replace(_summed(named, lead, coin), subject=tuple(about))
    if about and (job := _job(facts, query, inside, about)):
        return replace(_summed(job, lead, coin), subject=tuple(about))
    if about:
        mine = best(inside, about, lambda p: p.name, least=0.6)
        if not mine and set(query.all_words) & set(answers_table("entity")["all_parts"]):
            about, mine = [], list(inside)
        if not mine:
            notes = [p for p in inside if overlap(about, facts.note_text(p.note)) >= 0.99 and p.cost is not None]
            if not notes:  # what mending a fault cost
                from diary.assistant.answers_faults import thread_notes

                faults = best(facts.records("faults"), about, fault_text, least=0.6)
                threads = {n for f in faults for n in thread_notes(facts, f)}
                told = {p.id for life in lives(facts) if any(p.note in threads for p in life) for p in life}
                notes = [p for p in inside if p.id in told and p.cost is not None]
            if not notes:
                return cannot(spoken.sentence(f"That can't be worked out: no price is noted for {query.named}"))
            mine = notes
        costs = _costs(facts, mine) if about else []
        if about and not costs:  # "a box of 8": paid for in the same note or under another name of the same life
            noun = about[-1]
            costs = _costs(
                facts, [p for p in inside if p.count and p.count > 1 and noun in content(facts.note_text(p.note))]
            )
            costs = costs if len(costs) == 1 else []
        if about and not costs:
            return cannot(spoken.sentence(f"No price was noted for {mine[-1].name}"), mine[-1].id)
        if about and len(costs) == 1:
            part = costs[0]
            if part.count and part.count > 1 and tokens & set(answers_table("money")["each"]):
                each = part.cost / part.count
                return Answer(
                    spoken.sentence(
                        f"{spoken.money(each, coin)} each: {spoken.money(part.cost, coin)} for {called(part)}"
                    ),
                    [value(each, coin), value(part.cost, coin)],
                    [part.id],
                    subject=tuple(about),
                )
            return Answer(
                spoken.sentence(f"{called(part)}: {spoken.money(part.cost, coin)}, {spoken.day(part.at, now.date())}"),
                [value(part.cost, coin)],
                [part.id],
            )
        if about:
            return _summed(costs, lead, coin)
    costs = _costs(facts, inside)
    named_parts = bool({"part", "parts", "bits", "spares"} & tokens)
    everything = (
        bool(tokens & set(answers_table("money")["fuel"]))
        if named_parts
        else bool(tokens & set(answers_table("money")["all"]))
    )
    if not costs:
        return cannot(spoken.sentence(f"No price of a part is noted {lead}"))
    total = sum(p.cost for p in costs)
    if len(costs) <= 8:
        text = spoken.listed(f"{p.name} {spoken.money(p.cost, coin)}" for p in costs)
        said = f"{spoken.money(total, coin)} on parts {lead}: {text}"
    else:
        top = sorted(costs, key=lambda p: -p.cost)[:3]
        said = (
            f"{spoken.money(total, coin)} on {len(costs)} parts {lead}, the dearest "
            f"{spoken.listed(f'{p.name} {spoken.money(p.cost, coin)}' for p in top)}"
        )
    values = [value(total, coin)]
    if everything:
        fuel = chosen(facts, query, [f for f in facts.records("fills") if f.price_total is not None], now)
        if fuel and fuel[0]:
            pumped = sum(f.price_total for f in fuel[0])
            said += f"; with {spoken.money(pumped, coin)} of fuel {spoken.money(total + pumped, coin)} in all"
            values += [value(pumped, coin), value(total + pumped, coin)]
    paid = {q.id for life in lives(facts) if any(r.cost is not None for r in life) for q in life}
    unpriced = [p for p in inside if p.cost is None and p.state in ("bought", "ordered") and p.id not in paid]
    if unpriced:
        said += f"; no price for {spoken.listed(p.name for p in unpriced[-3:])}"
    return Answer(spoken.sentence(said), values, [p.id for p in costs], not unpriced)


def _dearest(facts: Facts, query: Query, rows: Sequence[Any], now: datetime) -> Answer | None:
    """The part that cost most, or least, where that is asked."""
    told = answers_table("money")
    text = " ".join(query.all_words)
    most = any(w in text for w in told["dearest"])
    if not most and not any(w in text for w in told["cheapest"]):
        return None
    costs = _costs(facts, rows)
    if not costs:
        return cannot("That can't be worked out: no price of a part is noted.")
    part = (max if most else min)(costs, key=lambda p: p.cost)
    return Answer(
        spoken.sentence(
            f"The {'dearest' if most else 'cheapest'} was {called(part)}, {spoken.money(part.cost, facts.currency)} "
            f"on {spoken.day(part.at, now.date())}"
        ),
        [value(part.cost, facts.currency)],
        [part.id],
    )


def _each_named(facts: Facts, query: Query, rows: Sequence[Any], about: Sequence[str]) -> list[Any]:
    """The paid parts of a question that names several ("the belt and the hose"), where each of them is noted."""
    wanted: list[list[str]] = [[]]
    for word in query.all_words:
        if word in ("and", "plus", "with") or word == "&":
            wanted.append([])
        elif (stems := content(word)) and stems[0] in about:
            wanted[-1].append(stems[0])
    wanted = [w for w in wanted if w]
    found: list[Any] = []
    for stems in wanted if len(wanted) > 1 else []:
        costs = _costs(facts, best(rows, stems, lambda p: p.name, least=0.6))
        if not costs:
            return []
        found += [p for p in costs if all(p.id != q.id for q in found)]
    return found


def _summed(parts: Sequence[Any], lead: str, coin: str) -> Answer:
    """What several parts cost together, and the last of them each."""
    total = sum(p.cost for p in parts)
    text = spoken.listed(f"{p.name} {spoken.money(p.cost, coin)}" for p in parts[-7:])
    return Answer(
        spoken.sentence(f"{spoken.money(total, coin)} {lead}: {text}"),
        [value(total, coin), *(value(p.cost, coin) for p in parts[-7:])],
        [p.id for p in parts],
    )


def _job(facts: Facts, query: Query, rows: Sequence[Any], about: Sequence[str]) -> list[Any]:
    """The paid parts of a whole job or system ("the rear brake job", "the cooling and belt job"), where there are several."""
    tokens = set(query.all_words)
    tails = {(content(p.name) or [""])[-1] for p in rows}
    plain = [s for s in about if s in tails]
    if not tokens & set(answers_table("money")["job"]) and plain:
        return []
    from diary.assistant import systems

    whole = systems.named(query.named)
    if not whole:
        return []
    corners = {s for s in about if is_corner(s)}
    mine = [p for p in rows if (set(about) - corners) & set(content(p.name)) or systems.belongs(p.name, whole)]
    mine = [p for p in mine if not corners or corners & set(content(p.name)) or not has_corner(p.name)] or mine
    costs = _costs(facts, mine)
    return costs if len(costs) > 1 else []


def cost_ahead(facts: Facts, query: Query, now: datetime) -> Answer:
    """What the list to buy will cost, by prices said for it or paid for the same part before."""
    rows = in_state(facts, "needed")
    coin = facts.currency
    if not rows:
        return Answer("Nothing is on the list to buy.", [], [])
    known: list[tuple[Any, float]] = []
    unknown: list[Any] = []
    for life in rows:
        part = life[-1]
        price = next((p.cost for p in reversed(life) if p.cost is not None), None)
        if price is None:
            price = next(
                (
                    p.cost / (p.count or 1) * (part.count or 1)
                    for p in reversed(facts.records("parts"))
                    if p.cost is not None and same_part(p.name, part.name)
                ),
                None,
            )
        if price is None:
            unknown.append(part)
        else:
            known.append((part, price))
    if not known:
        return cannot(
            spoken.sentence(
                f"That can't be worked out: no price is noted for {spoken.listed(called(p) for p in unknown)}"
            ),
            *(p.id for p in unknown),
        )
    total = sum(c for _, c in known)
    text = f"{spoken.money(total, coin)} for {spoken.listed(called(p) for p, _ in known)}, by the last prices noted"
    if unknown:
        text += f"; no price for {spoken.listed(called(p) for p in unknown)}"
    return Answer(
        spoken.sentence(text), [value(total, coin)], [*(p.id for p, _ in known), *(p.id for p in unknown)], False
    )


def count(facts: Facts, query: Query, now: datetime) -> Answer:
    """How many of a part were bought, fitted or are there; open faults and fills are counted too."""
    about = entity(query.stems)
    words = set(query.all_words)
    if {"faults", "problems", "issues"} & words:
        from diary.assistant.answers_faults import is_open

        n = sum(1 for f in facts.records("faults") if is_open(f))
        return Answer(
            f"{n} {'fault is' if n == 1 else 'faults are'} open.",
            [value(n, None)],
            [f.id for f in facts.records("faults") if is_open(f)],
        )
    if {"fills", "fillups", "tanks", "tankfuls"} & words:
        picked = chosen(facts, query, facts.records("fills"), now)
        if picked is not None:
            n = len(picked[0])
            return Answer(
                spoken.sentence(f"{n} {'fill' if n == 1 else 'fills'} {picked[1]}"),
                [value(n, None)],
                [f.id for f in picked[0]],
            )
    if {"notes"} & words:
        n = len(facts.notes())
        return Answer(f"{n} notes.", [value(n, None)], [])
    rows = best(facts.records("parts"), about, lambda p: p.name, least=0.6) if about else []
    picked = chosen(facts, query, rows, now)
    if picked is None:
        return unknown_event(query)
    rows, lead = picked
    if not rows:
        return cannot(spoken.sentence(f"No count is noted of {query.named or 'that'} {lead}"))
    wanted = next(
        (
            s
            for s, forms in {
                "fitted": ("fitted", "installed", "replaced", "changed", "through"),
                "ordered": ("ordered",),
                "bought": ("bought", "buy"),
                "needed": ("need",),
                "spare": ("spare", "spares"),
            }.items()
            if words & set(forms)
        ),
        None,
    )
    chosen_rows = [p for p in rows if wanted is None or p.state == wanted] or rows
    last = chosen_rows[-1]
    if wanted in ("fitted", "bought") and len(chosen_rows) > 1:
        n = sum(p.count or 1 for p in chosen_rows)
        return Answer(
            spoken.sentence(f"{spoken.digits(n)} {last.name} {wanted} {lead}"),
            [value(n, None)],
            [p.id for p in chosen_rows],
            all(p.count for p in chosen_rows),
        )
    if last.count is None:
        return cannot(spoken.sentence(f"How many {last.name} was not said"), last.id)
    return Answer(
        spoken.sentence(f"{spoken.digits(last.count)} {last.name}, {last.state} on {spoken.day(last.at, now.date())}"),
        [value(last.count, None)],
        [last.id],
    )
