"""The table of calculators: what each is for, what it takes, and how it is reached by hand or by a question.

`run("fuse", ["amps=12", "motor=yes"])` and `run("fuse", {"amps": 12})` give an `Answer`; `match(question,
quantities)` finds the calculator that a question asks for and the arguments in it, by the words of data/routes.toml.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any, Protocol

from diary.calculators import bench
from diary.calculators.answer import Answer, Measure
from diary.calculators.conversion import convert, same_dimension, unit_code, units_named, written
from diary.calculators.tables import caution, table
from diary.errors import DiaryError

__all__ = [
    "CALCULATORS",
    "Answer",
    "Calculator",
    "Match",
    "Parameter",
    "answer_to",
    "match",
    "overview",
    "run",
    "usage",
]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One argument. `kind`: number (of `unit`), measure (number kept with the unit given), text, choice, flag, date,
    list.

    A `default` of None with `needed` false means "left out". `unit` is what a bare number is taken to be in.
    """

    name: str
    help: str
    kind: str = "number"
    unit: str | None = None
    default: Any = None
    needed: bool = True
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Calculator:
    """A calculator by name: one line of help, its parameters in order, its function, and the topics of its caution."""

    name: str
    help: str
    parameters: tuple[Parameter, ...]
    function: Callable[..., Answer]
    cautions: tuple[str, ...] = ()


def _read(entry: Mapping[str, Any]) -> Calculator:
    parameters = tuple(
        Parameter(
            p["name"],
            p["help"],
            p.get("kind", "number"),
            p.get("unit"),
            p.get("default"),
            "default" not in p and not p.get("optional", False),
            tuple(p.get("choices", ())),
        )
        for p in entry["parameters"]
    )
    function: Callable[..., Answer] = getattr(bench, entry["function"])
    return Calculator(entry["name"], entry["help"], parameters, function, tuple(entry.get("cautions", ())))


CALCULATORS: dict[str, Calculator] = {c["name"]: _read(c) for c in table("catalogue")["calculator"]}
"""Every calculator by its name, as data/catalogue.toml lists them."""


def overview() -> str:
    """One line for each calculator: how it is written and what it is for."""
    return "\n".join(f"{c.name:17} {c.help}" for c in CALCULATORS.values())


def usage(name: str) -> str:
    """How a calculator is called, one line for each parameter with its unit and default."""
    calculator = _named(name)
    lines = [f"{name}: {calculator.help}"]
    for p in calculator.parameters:
        unit = f" [{p.unit}]" if p.unit else ""
        rest = "" if p.needed else " (may be left out)" if p.default in (None, "", ()) else f" (default {p.default})"
        choices = f" one of {', '.join(p.choices)}" if p.choices else ""
        lines.append(f"  {p.name}{unit}  {p.help}{choices}{rest}")
    return "\n".join(lines)


def _named(name: str) -> Calculator:
    try:
        return CALCULATORS[name]
    except KeyError:
        raise DiaryError(f"There is no calculator '{name}'; there are: {', '.join(CALCULATORS)}.") from None


def run(name: str, arguments: Sequence[str] | Mapping[str, Any]) -> Answer:
    """Run a calculator. As a list: `name=value` or `--name value` in any order, or bare values in the order of `usage`.

    A number may carry its unit ("85N_m", "20 degC"), else it is in the parameter's own. Raises DiaryError naming the
    argument that is missing, unknown or not believable.
    """
    calculator = _named(name)
    given = dict(arguments) if isinstance(arguments, Mapping) else _from_list(calculator, arguments)
    known = {p.name: p for p in calculator.parameters}
    for extra in given:
        if extra not in known:
            raise DiaryError(f"{name} takes no '{extra}'; it takes {', '.join(known)}.")
    values: dict[str, Any] = {}
    for p in calculator.parameters:
        raw = given.get(p.name)
        if raw is None or raw == "":
            if p.needed:
                unit = f" in {p.unit}" if p.unit else ""
                raise DiaryError(f"{name} needs '{p.name}'{unit}: {p.help}.")
            raw = p.default
        values[p.name] = None if raw is None else _value(name, p, raw)
    answer = calculator.function(**values)
    if calculator.cautions:
        answer.caution = caution(*calculator.cautions)
    answer.name = name
    answer.text = written(answer.text)
    return answer


def _from_list(calculator: Calculator, arguments: Sequence[str]) -> dict[str, Any]:
    order = [p.name for p in calculator.parameters]
    flags = {p.name for p in calculator.parameters if p.kind == "flag"}
    given: dict[str, Any] = {}
    bare: list[str] = []
    words = list(arguments)
    while words:
        word = words.pop(0)
        named = re.fullmatch(r"--([a-z][\w-]*)(?:=(.*))?", word)
        pair = re.fullmatch(r"([a-z]\w*)=(.*)", word)
        if named:
            key = named[1].replace("-", "_")
            if named[2] is not None:
                given[key] = named[2]
            elif key in flags and (not words or words[0].startswith("--") or "=" in words[0]):
                given[key] = "yes"
            elif words:
                given[key] = words.pop(0)
            else:
                raise DiaryError(f"{calculator.name}: --{named[1]} needs a value.")
        elif pair:
            given[pair[1]] = pair[2]
        else:
            bare.append(word)
    free = [n for n in order if n not in given]
    if len(bare) > len(free):
        raise DiaryError(
            f"{calculator.name} takes {len(order)} values ({', '.join(order)}); '{bare[len(free)]}' is one too many."
        )
    given.update(zip(free, bare, strict=False))
    return given


_NUMBER = re.compile(r"\s*([+-]?(?:\d[\d,]*\.?\d*|\.\d+))\s*(.*)", re.DOTALL)


def _value(name: str, p: Parameter, raw: Any) -> Any:
    if p.kind == "text":
        return str(raw)
    if p.kind == "choice":
        text = str(raw).strip().replace("-", "_")
        found = next((c for c in p.choices if c.lower() == text.lower()), None)
        if found is None:
            raise DiaryError(f"{name}: '{p.name}' is one of {', '.join(p.choices)}, not '{raw}'.")
        return found
    if p.kind == "flag":
        text = str(raw).lower()
        if text not in ("yes", "no", "true", "false", "1", "0"):
            raise DiaryError(f"{name}: '{p.name}' is yes or no, not '{raw}'.")
        return text in ("yes", "true", "1")
    if p.kind == "date":
        if isinstance(raw, date):
            return raw
        try:
            return date.fromisoformat(str(raw))
        except ValueError:
            raise DiaryError(f"{name}: '{p.name}' is a date such as 2026-05-09, not '{raw}'.") from None
    if p.kind == "list":
        return _list(name, p, raw)
    if isinstance(raw, Measure):
        measure = raw
    elif isinstance(raw, tuple):
        measure = Measure(float(raw[0]), unit_code(raw[1]))
    elif isinstance(raw, int | float):
        measure = Measure(float(raw), p.unit or "")
    else:
        found_number = _NUMBER.fullmatch(str(raw))
        if not found_number:
            raise DiaryError(f"{name}: '{p.name}' is a number{' in ' + p.unit if p.unit else ''}, not '{raw}'.")
        unit = found_number[2].strip().rstrip("%").strip()
        measure = Measure(float(found_number[1].replace(",", "")), unit_code(unit) if unit else p.unit or "")
    if p.unit and measure.unit != p.unit and not _fits(p.unit, measure.unit):
        raise DiaryError(f"{name}: '{p.name}' is in {p.unit} or the like, and {measure.unit} measures something else.")
    if p.kind == "measure":
        return measure
    return convert(measure.value, measure.unit, p.unit) if p.unit and measure.unit != p.unit else measure.value


def _fits(wanted: str, given: str) -> bool:
    """Does a unit measure what is wanted? A machine's meter may count hours where distance is the rule."""
    return same_dimension(wanted, given) or (wanted == "mi" and given == "h")


def _list(name: str, p: Parameter, raw: Any) -> Any:
    """A list of numbers, or of pairs of numbers "a:b"."""
    if not isinstance(raw, str):
        return list(raw)
    items: list[Any] = []
    for part in filter(None, re.split(r"[,;\s]+", raw)):
        try:
            numbers = [float(n) for n in part.split(":")]
        except ValueError:
            raise DiaryError(f"{name}: '{p.name}' is a list of numbers, such as {p.help}; '{part}' is none.") from None
        items.append(numbers[0] if len(numbers) == 1 else tuple(numbers))
    return items


# -- from a question
# ------------------------------------------------------------------------------------------------------------


class Said(Protocol):
    """A number found in the question: its value and where it stands."""

    @property
    def value(self) -> float: ...
    @property
    def start(self) -> int: ...
    @property
    def end(self) -> int: ...


@dataclass(slots=True)
class Match:
    """The calculator that a question asks for, the arguments found, the names still missing, and how strongly it
    matches.
    """

    name: str
    arguments: dict[str, Any]
    missing: list[str] = field(default_factory=list)
    score: float = 0.0


@lru_cache(maxsize=1)
def _routes() -> list[dict[str, Any]]:
    return list(table("routes")["route"])


def _has(text: str, phrase: str) -> bool:
    return re.search(rf"(?<!\w){phrase}(?!\w)", text) is not None


def match(
    question: str, quantities: Sequence[Any] = (), numbers: Sequence[Said] = (), known: Mapping[str, Any] | None = None
) -> Match | None:
    """The calculator asked for in a question, or None if it is no question for a calculator.

    `quantities` are the measured values in the question (`value`, `unit` code, `start`, `end`), then any that the
    talk before it supplies ("that"), with start −1; `numbers` the bare numbers; `known` facts of the machine by name
    (calibrated, fitted, tank, ratio, ...). Routes and their cue words are in data/routes.toml. `missing` lists what
    must still be asked for.
    """
    text = re.sub(r"\s+", " ", question.lower().replace("’", "'"))
    best: Match | None = None
    for route in _routes():
        groups = route["needs"]
        if not all(any(_has(text, phrase) for phrase in group) for group in groups):
            continue
        if any(_has(text, phrase) for phrase in route.get("unless", ())):
            continue
        arguments = _slots(route, text, quantities, numbers, dict(known or {}))
        if any(s not in arguments for s in route.get("must", ())):
            continue
        calculator = CALCULATORS[route["name"]]
        missing = [p.name for p in calculator.parameters if p.needed and p.name not in arguments]
        score = len(groups) + 0.5 * len(arguments) - 0.75 * len(missing)
        if best is None or score > best.score:
            best = Match(route["name"], arguments, missing, score)
    return best


def answer_to(
    question: str, quantities: Sequence[Any] = (), numbers: Sequence[Said] = (), known: Mapping[str, Any] | None = None
) -> Answer | Match | None:
    """The answer to a calculator's question; the `Match` if something is missing in it; None if it is for no
    calculator.
    """
    found = match(question, quantities, numbers, known)
    return found if found is None or found.missing else run(found.name, found.arguments)


def _slots(
    route: dict[str, Any], text: str, quantities: Sequence[Any], numbers: Sequence[Said], known: dict[str, Any]
) -> dict[str, Any]:
    """Fill a route's slots: those with cue words first, the rest in order, then what is known of the machine."""
    filled: dict[str, Any] = {}
    used: set[int] = set()
    slots: dict[str, dict[str, Any]] = route.get("slots", {})
    for wants_cue in (True, False):
        for name, slot in slots.items():
            if name in filled or bool(slot.get("after") or slot.get("before")) is not wants_cue:
                continue
            wanted = filled.get(slot["like"]) if "like" in slot else slot.get("unit")
            if "like" in slot and wanted is None:
                continue
            found = _fill({**slot, "unit": wanted}, text, quantities, numbers, used)
            if found is not None:
                filled[name] = found
    for name in slots:
        if name not in filled and name in known:
            filled[name] = known[name]
    for name in (p.name for p in CALCULATORS[route["name"]].parameters):
        if name not in filled and name in known and known[name] is not None:
            filled[name] = known[name]
    return filled


def _fill(slot: dict[str, Any], text: str, quantities: Sequence[Any], numbers: Sequence[Said], used: set[int]) -> Any:
    kind = slot["kind"]
    if kind == "word":
        return next((value for phrase, value in slot["words"].items() if _has(text, phrase)), None)
    if kind == "quantities":
        several = [convert(q.value, q.unit, slot["unit"]) for q in quantities if _fits(slot["unit"], q.unit)]
        return several if len(several) > 1 else None
    if kind == "target_unit":
        taken = [(q.start, q.end) for q in quantities if q.start >= 0]
        free = [code for code, at in units_named(text) if not any(a <= at < b for a, b in taken)]
        return free[-1] if free else None
    if kind == "tyre":
        return _tyre_in(text)
    if kind == "pattern":
        found = re.search(slot["pattern"], text)
        return found[1] if found else None
    pool: list[Any] = list(quantities) if kind == "quantity" else _bare(numbers, quantities, slot)
    for said in pool:
        if id(said) in used:
            continue
        if kind == "quantity" and slot.get("unit") and not _fits(slot["unit"], said.unit):
            continue
        if slot.get("numeral") and getattr(said, "kind", None) != slot["numeral"]:
            continue
        if said.start >= 0 and not _cued(slot, text, said):
            continue
        used.add(id(said))
        return (said.value, said.unit) if kind == "quantity" else said.value
    return None


def _bare(numbers: Sequence[Said], quantities: Sequence[Any], slot: dict[str, Any]) -> list[Any]:
    """The numbers that are no part of a quantity; also quantities whose unit says no more than the slot's own words."""
    loose = [q for q in quantities if q.unit == slot.get("unit")] if slot.get("unit") else []
    taken = [(q.start, q.end) for q in quantities if q.start >= 0]
    return loose + [n for n in numbers if not any(a <= n.start < b for a, b in taken)]


def _cued(slot: dict[str, Any], text: str, said: Said) -> bool:
    """Do the slot's cue words stand close (three words) after or before the number?"""
    after, before = slot.get("after"), slot.get("before")
    if after:
        following = " ".join(text[said.end :].split()[:3])
        return any(_has(following, w) for w in after)
    if before:
        leading = " ".join(text[: said.start].split()[-3:])
        return any(_has(leading, w) for w in before)
    return True


def _tyre_in(text: str) -> str | None:
    """A tyre size said or written in a text: a sidewall code, "37s", "thirty sevens"."""
    words = table("routes")["tyre_words"]
    code = re.search(words["code"], text)
    if code:
        return code[0]
    digits = re.search(words["digits"], text)
    if digits:
        return digits[1]
    for tens, ten in words["tens"].items():
        for ones, one in words["ones"].items():
            if _has(text, rf"{tens}[ -]{ones}"):
                return str(ten + one)
    return None
