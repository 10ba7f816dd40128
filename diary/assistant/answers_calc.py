"""Conversions and calculator questions, handed to `units` and `calculators`; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer, cannot, value
from diary.assistant.facts import Facts
from diary.assistant.questions import Query
from diary.errors import DiaryError


def calculate(
    facts: Facts, query: Query, now: datetime, previous: Answer | None = None, focus: Any | None = None
) -> Answer:
    """The answer to a "convert" or "calculator" question; bad input gives its one sentence."""
    try:
        if query.family == "convert":
            return (
                convert(facts, query, previous, focus)
                or catalogue(facts, query.text)
                or cannot("I don't know which figure to convert: say it with its unit.")
            )
        before = [_Spoken(v["value"], v["unit"]) for v in (previous.values if previous else []) if v["unit"]]
        return (
            catalogue(facts, query.text, before)
            or _mix(facts, query)
            or cannot(
                "That needs a figure that I was not given; `diary calc` lists the calculators and what they take."
            )
        )
    except DiaryError as error:
        return cannot(str(error))


def _quantities(facts: Facts, text: str) -> list[Any]:
    from diary.language.quantities import read_quantities

    return read_quantities(text, locale=facts.machine.locale)


def _wanted_units(facts: Facts, query: Query) -> list[str]:
    """Unit codes named in the question without a number of their own ("in foot pounds", "how many litres")."""
    tokens = list(query.all_words)
    found = []
    for i in range(len(tokens)):
        if tokens[i] in ("in", "to", "into", "many") and i + 1 < len(tokens):
            tail = "one " + " ".join(tokens[i + 1 : i + 3])
            rows = _quantities(facts, tail)
            if rows and rows[0].start == 0:
                found.append(rows[0].unit)
    return found


def convert(facts: Facts, query: Query, previous: Answer | None, focus: Any | None) -> Answer | None:
    """A figure in another unit: the one in the question, else the one just answered, else the one of the record
    spoken of."""
    from diary.units import convert as by_pint
    from diary.units import dimension

    wanted = _wanted_units(facts, query)
    if not wanted:
        return None
    target = wanted[0]
    given: list[tuple[float, str, list[str]]] = [
        (q.value, q.unit, []) for q in _quantities(facts, query.text) if q.unit != target or len(wanted) > 1
    ]
    if previous is not None:
        given += [(v["value"], v["unit"], previous.records[:1]) for v in previous.values if v["unit"]]
    for record in focus if isinstance(focus, list) else [focus] if focus is not None else []:
        for field, unit in (("value", "unit"), ("volume", "unit"), ("distance", "unit")):
            if getattr(record, field, None) is not None and getattr(record, unit, None):
                given.append((getattr(record, field), getattr(record, unit), [record.id]))
    for number, unit, ids in given:
        kind = dimension(unit)
        code = target
        if kind == "torque" and dimension(target) != "torque":
            continue
        if kind and kind == dimension(code) and unit != code:
            result = by_pint(number, unit, code)
            return Answer(
                spoken.sentence(f"{spoken.figure(number, unit)} is {spoken.figure(result, code, _places(result))}"),
                [value(result, code)],
                ids,
            )
    return None


def _places(x: float) -> int:
    return 1 if abs(x) >= 10 else 2


def _mix(facts: Facts, query: Query) -> Answer | None:
    """Oil for a two-stroke mix: fuel ÷ ratio."""
    from diary.language.numerals import read_numbers
    from diary.units import convert as by_pint

    ratio = next((n for n in read_numbers(query.text) if n.kind == "ratio"), None)
    if ratio is None or "oil" not in query.all_words:
        return None
    fuel = next((q for q in _quantities(facts, query.text) if q.dimension == "volume"), None)
    if fuel is None:
        return cannot("How much fuel is it for? Say the gallons or litres.")
    from diary.calculators.fluids import two_stroke_oil

    oil = two_stroke_oil(fuel.value, ratio.value)
    unit = "mL" if fuel.unit == "L" else "oz_fl"
    amount = oil * 1000 if fuel.unit == "L" else by_pint(oil, fuel.unit, unit)
    return Answer(
        spoken.sentence(
            f"{spoken.figure(amount, unit)} of oil for {spoken.figure(fuel.value, fuel.unit)} "
            f"at {spoken.digits(ratio.value)} to 1"
        ),
        [value(amount, unit)],
    )


def catalogue(facts: Facts, text: str, spoken_of: Sequence[Any] = ()) -> Answer | None:
    """The calculator that a question asks for, run; None where it asks for none. `spoken_of` are quantities of the
    talk before."""
    from diary.calculators.catalogue import Match, answer_to
    from diary.language.numerals import read_numbers

    machine = facts.machine
    known = {
        k: v
        for k, v in (("tank", machine.tank), ("fitted", machine.tyres), ("calibrated", machine.tyres_calibrated))
        if v
    }
    found = answer_to(text, [*_quantities(facts, text), *spoken_of], read_numbers(text), known)
    if found is None:
        return None
    if isinstance(found, Match):
        return cannot(
            spoken.sentence(f"For that I need {spoken.listed(name.replace('_', ' ') for name in found.missing)}")
        )
    answer = f"{found.text} {found.caution}".strip()
    return Answer(answer, [dict(v) for v in found.values], [], found.certain, caution=bool(found.caution))


def figures_in(text: str) -> bool:
    """Whether a question brings figures of its own, as a calculation does."""
    from diary.assistant.turns import number_words

    return any(c.isdigit() for c in text) or bool(number_words() & set(text.lower().split()))


@dataclass(frozen=True, slots=True)
class _Spoken:
    """A quantity of the talk before ("that")."""

    value: float
    unit: str
    start: int = -1
    end: int = -1
