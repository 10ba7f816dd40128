"""What a correction changes: which records, which fields, to what. Nothing is written here; `conversation` applies it.

"no, twenty three point one", "other side", "make that ordered, not fitted", "the odometer on tuesday was ...": the
new value, the
old one where it is said, a day, a kind of figure and a thing's name each narrow down the record that is meant. Where
several
are left, `Proposal.choices` says so and the person is asked.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from math import log
from typing import Any

from diary.assistant import turns, windows
from diary.assistant.facts import Facts
from diary.assistant.words import Word, content, overlap, stem, table, words

FIGURES: dict[str, tuple[str, ...]] = {
    "fills": ("volume", "price_total", "odometer", "trip"),
    "readings": ("value",),
    "torques": ("value",),
    "measures": ("value",),
    "parts": ("count", "cost"),
    "drives": ("distance",),
    "resets": ("before",),
}
TEXTS: dict[str, tuple[str, ...]] = {
    "faults": ("where", "component", "what"),
    "torques": ("fastener",),
    "measures": ("of",),
    "parts": ("name",),
    "work": ("component",),
    "plans": ("what",),
    "lessons": ("what",),
}
DIMENSIONS = {
    "volume": (("fills", "volume"), ("measures", "value")),
    "torque": (("torques", "value"),),
    "money": (("parts", "cost"), ("fills", "price_total")),
    "length": (("readings", "value"), ("fills", "odometer"), ("measures", "value"), ("drives", "distance")),
    "distance": (("readings", "value"), ("fills", "odometer"), ("drives", "distance")),
    "time": (("readings", "value"), ("measures", "value")),
    "pressure": (("measures", "value"),),
    "voltage": (("measures", "value"),),
    "current": (("measures", "value"),),
    "temperature": (("measures", "value"),),
    "speed": (("measures", "value"),),
}


@dataclass(slots=True)
class Proposal:
    """`changes`: record and the fields to change. `choices`: (record, fields) pairs of which the person must say which;
    `about` then holds their present values, `wants` what is asked."""

    changes: list[tuple[Any, dict[str, Any]]] = field(default_factory=list)
    choices: list[tuple[Any, dict[str, Any]]] = field(default_factory=list)
    about: list[Any] = field(default_factory=list)
    wants: str = "which one"
    at_note: bool = False

    def __bool__(self) -> bool:
        return bool(self.changes or self.choices)


@cache
def _t(name: str) -> Any:
    return table("turns")[name]


def looks(text: str, recent: bool) -> bool:
    """Whether a turn may be a correction: it begins like one, names an old value, or (right after a note) is a bare
    figure."""
    tokens = [w.text for w in words(text)]
    if not tokens:
        return False
    i = turns.lead(tokens)
    for start in range(i + 1):
        if turns.starts(tokens, "correct_start", start):
            return True
    if turns.holds(tokens, "correct_any") or _names_a_record(tokens[i:]):
        return True
    return recent and bare(text)


def _names_a_record(tokens: Sequence[str]) -> bool:
    """ "the fill on friday was twelve gallons": a figure's name, a day, and "was"."""
    head = tokens[:9]
    day = any(t in table("windows")["weekdays"] or t in table("windows")["months"] or t == "yesterday" for t in head)
    return tokens[:1] == ["the"] and day and "was" in head and any(t in _t("figures") for t in head[:4])


def bare(text: str) -> bool:
    """Only a figure, and words that carry nothing."""
    from diary.language.numerals import read_numbers

    found = read_numbers(_without_no(text))
    if not found or len(found) > 2:
        return False
    left = [w for w in words(text) if not any(n.start <= w.start < n.end for n in found)]
    return all(w.text in _t("correct_fillers") or w.text in _t("openers") for w in left)


def _without_no(text: str) -> str:
    """The text with opening words of correction blanked, so that "no one oh five" is read as one oh five."""
    for w in words(text):
        if w.text in (
            "no",
            "sorry",
            "oops",
            "whoops",
            "actually",
            "wait",
            "make",
            "that",
            "nope",
            "not",
            "correction",
            "i",
            "mean",
            "meant",
            "it",
            "was",
        ):
            text = text[: w.start] + " " * (w.end - w.start) + text[w.end :]
        else:
            break
    return text


@dataclass(slots=True)
class _Said:
    """A correction's parts: new values, old values, the day of the record, a new day, places."""

    tokens: list[str]
    found: list[Word]
    new: list[tuple[float, str | None, str | None]] = field(default_factory=list)  # value, unit, dimension
    old: list[float] = field(default_factory=list)
    day: tuple[date, date] | None = None
    new_day: date | None = None
    unit: str | None = None
    unit_dimension: str | None = None


def _parse(text: str, facts: Facts, now: datetime) -> _Said:
    from diary.language.numerals import read_numbers
    from diary.language.quantities import read_quantities

    found = words(text)
    tokens = [w.text for w in found]
    said = _Said(tokens, found)
    days: list[tuple[int, int, date, date]] = []
    i = 0
    while i < len(tokens):
        got = windows.day_at(tokens, i, now.date())
        if got:
            days.append((i, i + got[0], got[1], got[2]))
            i += got[0]
        else:
            i += 1
    blank = _without_no(text)
    for start, end, _, _ in days:
        a, b = found[start].start, found[end - 1].end
        blank = blank[:a] + " " * (b - a) + blank[b:]
    # "twenty five not thirty": cut at the word that gives up a value, so that each figure is read alone
    pieces: list[tuple[int, str, bool]] = []
    cuts = [m for m in re.finditer(r"\b(?:not|instead of|rather than|i said|i told you|i wrote)\b", blank, re.I)]
    last, is_old = 0, False
    for m in cuts:
        pieces.append((last, blank[last : m.start()], is_old))
        last, is_old = m.end(), True
    pieces.append((last, blank[last:], is_old))
    for at, piece, old in pieces:
        # after an old value "it was" begins the new one
        parts = (
            re.split(r"\b(?:it was|it is|it should be|should be|make it|make that)\b", piece, flags=re.I)
            if old
            else [piece]
        )
        offset = at
        for k, part in enumerate(parts):
            meters = facts.diary.context(now).meters
            quantities = read_quantities(part, locale=facts.machine.locale, meters=meters)
            numbers = read_numbers(part, meters=meters)
            values: list[tuple[int, float, str | None, str | None]] = [
                (q.start, q.value, q.unit, q.dimension) for q in quantities
            ]
            values += [
                (n.start, n.value, None, None)
                for n in numbers
                if n.kind not in ("ordinal", "time", "date", "label", "size")
                and not any(q.start <= n.start < q.end for q in quantities)
            ]
            values.sort()
            dropped = old and k == 0
            for place, value, unit, dimension in values:
                before = part[:place].lower().split()[-2:]
                if dropped or "from" in before:
                    said.old.append(value)
                else:
                    said.new.append((value, unit, dimension))
            offset += len(part)
    _days(said, days)
    if not said.new:
        _unit_only(said, text, facts)
    return said


def _days(said: _Said, days: list[tuple[int, int, date, date]]) -> None:
    """ "on friday not thursday" moves a record; a single day says which one is meant."""
    if not days:
        return
    if len(days) == 2:
        between = said.tokens[days[0][1] : days[1][0]]
        if "not" in between or "instead" in between:
            said.new_day, said.day = days[0][2], days[1][2:4]
            return
    said.day = days[0][2:4]


def _unit_only(said: _Said, text: str, facts: Facts) -> None:
    """A unit named without a figure."""
    from diary.language.quantities import read_quantities

    for i, w in enumerate(said.found):
        tail = "5 " + text[w.start : w.start + 24]
        rows = read_quantities(tail, locale=facts.machine.locale)
        if rows and rows[0].start == 0 and rows[0].dimension in ("torque", "pressure", "volume", "temperature"):
            said.unit, said.unit_dimension = rows[0].unit, rows[0].dimension
            return
        if i > 12:
            return


def propose(facts: Facts, text: str, recent: Sequence[Any], now: datetime) -> Proposal:
    """What the correction changes. `recent` are the records of the turn before, which it means unless it says
    otherwise."""
    said = _parse(text, facts, now)
    hints = {tuple(_t("figures")[t]) for t in said.tokens if t in _t("figures")}
    older = said.day is not None or (bool(said.old) and not recent)
    pool = _on(facts, said) if older else list(recent)
    if said.new_day is not None:
        return _move(facts, said, pool or _everything(facts))
    if said.new and (said.day is not None or _named(said, pool)):
        named = _figures(facts, said, pool or _everything(facts), hints, ask=True)
        if named:
            return named
    if said.new:
        got = _figures(facts, said, pool, hints, ask=False)
        if not got and pool and said.day is None and (hints or said.old):
            got = _figures(facts, said, _everything(facts), hints, ask=True)
        if got:
            return got
    return _words(facts, said, pool, text)


def _everything(facts: Facts) -> list[Any]:
    return [r for kind in (*FIGURES, "faults", "work") for r in facts.records(kind)]


def _on(facts: Facts, said: _Said) -> list[Any]:
    rows = _everything(facts)
    if said.day is None:
        return rows
    first, last = said.day[0].isoformat(), said.day[1].isoformat()
    return [r for r in rows if first <= r.at[:10] <= last]


def _things(said: _Said) -> list[str]:
    """Stems of what a correction names, without its empty words, figures and days."""
    skip = set(_t("correct_fillers")) | set(_t("openers")) | set(table("windows")["weekdays"]) | set(_t("figures"))
    numbers = turns.number_words()
    return [s for t in said.tokens if t not in skip and t not in numbers and not t[0].isdigit() for s in content([t])]


def _named(said: _Said, pool: Sequence[Any]) -> bool:
    things = _things(said)
    return bool(things) and any(overlap(things, _text(r)) >= 0.6 for r in pool)


def _text(record: Any) -> str:
    return " ".join(str(getattr(record, f) or "") for f in TEXTS.get(record.KIND, ()))


def _current(record: Any, name: str) -> float | None:
    value = getattr(record, name, None)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _figures(facts: Facts, said: _Said, pool: Sequence[Any], hints: set[tuple[str, ...]], ask: bool) -> Proposal:
    """The figure of a record that the new value replaces."""
    new, unit, dimension = said.new[-1]
    options: list[tuple[float, Any, str]] = []
    things = _things(said)
    wanted = {t for t in said.tokens if t in ("trip", "odometer", "hours", "odo", "mileage", "clock")}
    for record in pool:
        for name in FIGURES.get(record.KIND, ()):
            value = _current(record, name)
            if value is None and not (dimension or hints):
                continue
            score = 0.0
            if said.old:
                if value is None or not any(abs(value - o) <= max(1e-6, abs(o) * 1e-6) for o in said.old):
                    continue
                score += 5
            if dimension:
                if (record.KIND, name) not in DIMENSIONS.get(dimension, ()):
                    continue
                score += 3 - DIMENSIONS[dimension].index((record.KIND, name)) * 0.2
            if hints:
                if (record.KIND, name) in hints or (
                    (record.KIND, name) == ("fills", "odometer") and ("readings", "value") in hints
                ):
                    score += 3
                elif not dimension and not said.old:
                    continue
            if record.KIND == "readings" and wanted:
                meter = "trip" if "trip" in wanted else "hours" if "hours" in wanted else "odometer"
                if record.meter != meter:
                    continue
            if things:
                score += 3 * overlap(things, _text(record))
            if value:
                ratio = abs(log(max(new, 1e-9) / value)) if new > 0 and value > 0 else 9.0
                if not said.old and not dimension and not hints and ratio > 0.95:
                    continue
                score -= min(2.5, ratio)
                if value == new:
                    continue
            else:
                score -= 3.0 if not dimension else 1.5
            if name == "count" and (new != int(new) or new > 60):
                continue
            options.append((score, record, name))
    if not options:
        return Proposal()
    options.sort(key=lambda o: -o[0])
    best = options[0][0]
    near = [(r, n) for s, r, n in options if s >= best - 0.35] if ask else [(options[0][1], options[0][2])]
    near = _without_twins(near)
    if len(near) > 1 and len({r.note for r, _ in near}) > 1 and not said.old:
        kinds = {r.KIND for r, _ in near}
        same = [(r, n) for r, n in near if next(iter(kinds)) == r.KIND] if len(kinds) == 1 else near
        if len(same) > 1:
            same.sort(key=lambda c: (c[0].at, facts.order(c[0].note)))
            word = {
                "readings": "reading",
                "fills": "fill",
                "torques": "torque",
                "measures": "reading",
                "parts": "part",
            }.get(same[0][0].KIND, "one")
            return Proposal(
                choices=[(r, _changes(r, n, new, unit)) for r, n in same],
                about=[_current(r, n) for r, n in same],
                wants=f"which {word}",
            )
    record, name = near[0]
    return Proposal([(record, _changes(record, name, new, unit))])


def _without_twins(rows: list[tuple[Any, str]]) -> list[tuple[Any, str]]:
    """A fill's odometer and its reading are one figure: the reading goes where the fill is."""
    fills = {(r.note, getattr(r, n)) for r, n in rows if r.KIND == "fills"}
    return [(r, n) for r, n in rows if r.KIND != "readings" or (r.note, r.value) not in fills]


def _changes(record: Any, name: str, value: float, unit: str | None) -> dict[str, Any]:
    out: dict[str, Any] = {name: value}
    if (
        unit
        and hasattr(record, "unit")
        and name in ("value", "volume")
        and record.KIND in ("torques", "measures", "fills")
        and unit != record.unit
    ):
        out["unit"] = unit
    if record.KIND in ("measures", "readings", "fills"):
        if getattr(record, "low", None) is not None:
            out["low"] = None
        if getattr(record, "high", None) is not None:
            out["high"] = None
    if getattr(record, "approx", False):
        out["approx"] = False
    return out


def _move(facts: Facts, said: _Said, pool: Sequence[Any]) -> Proposal:
    """A record put on another day, at the same time of day."""
    things = [s for s in _things(said) if s not in {stem(w) for w in ("change", "changed")}]
    rows = [r for r in pool if overlap(things, _text(r)) >= 0.5] if things else list(pool)
    work = [r for r in rows if r.KIND == "work"] or rows
    if not work or said.new_day is None:
        return Proposal()
    best = max(overlap(things, _text(r)) for r in work) if things else 0
    moved = [r for r in work if not things or overlap(things, _text(r)) >= best - 1e-9]
    day = said.new_day.isoformat()
    return Proposal([(r, {"at": day + r.at[10:]}) for r in moved if r.KIND not in ("faults", "plans")])


def _words(facts: Facts, said: _Said, pool: Sequence[Any], text: str) -> Proposal:
    """A correction without a figure: brim, threadlocker, unit, state, side, name."""
    tokens = said.tokens
    fills = [r for r in pool if r.KIND == "fills"]
    if fills:
        if turns.holds(tokens, "brim_no"):
            return Proposal([(fills[-1], {"to_brim": False})])
        if turns.holds(tokens, "brim_yes"):
            return Proposal([(fills[-1], {"to_brim": True})])
    torques = [r for r in pool if r.KIND == "torques"]
    if torques:
        if turns.holds(tokens, "locker_no"):
            return Proposal([(r, {"threadlocker": False}) for r in torques])
        if turns.holds(tokens, "locker_yes"):
            return Proposal([(r, {"threadlocker": True}) for r in torques])
    if said.unit:
        same = [
            r for r in pool if getattr(r, "unit", None) and _dimension(r) == said.unit_dimension and r.unit != said.unit
        ]
        if same:
            return Proposal([(r, {"unit": said.unit}) for r in same])
    parts = [r for r in pool if r.KIND == "parts"]
    if parts:
        state = _state(tokens)
        if state and state != parts[-1].state:
            return Proposal([(parts[-1], {"state": state})])
    return _renamed(facts, said, pool, text)


def _dimension(record: Any) -> str:
    return {"torques": "torque", "fills": "volume"}.get(record.KIND) or getattr(record, "quantity", "") or ""


def _state(tokens: Sequence[str]) -> str | None:
    """The state that is meant: the one not after "not"."""
    for i, t in enumerate(tokens):
        for state, forms in _t("states").items():
            if (
                t in forms
                and not (i and tokens[i - 1] == "not")
                and (set(tokens) & {"not", "make", "actually", "meant", "mean", "only", "just"})
            ):
                return str(state)
    return None


def _renamed(facts: Facts, said: _Said, pool: Sequence[Any], text: str) -> Proposal:
    """Left for right, top hose for bottom hose, "the lower ones", "it was the water pump not the thermostat"."""
    tokens = said.tokens
    if turns.holds(tokens, "other_side"):
        for a, b in (("left", "right"), ("nearside", "offside"), ("driver", "passenger")):
            for one, two in ((a, b), (b, a)):
                changed = _replace(pool, one, two)
                if changed:
                    return Proposal(changed)
    cut = tokens.index("not") if "not" in tokens else len(tokens)
    new_words, old_words = tokens[:cut], tokens[cut + 1 :]
    if not old_words and cut < len(tokens):
        return Proposal()
    places = {w for pair in _t("opposites") for w in pair}
    stated = [t for t in new_words if t in places]
    rows = _about(said, pool)
    for word in stated:
        for a, b in _t("opposites"):
            other = b if word == a else a if word == b else None
            if other is None:
                continue
            changed = _replace(rows, other, word)
            if changed:
                return Proposal(changed)
    dropped = [t for t in old_words if t not in _t("correct_fillers") and len(t) > 2]
    meant = [t for t in new_words if t not in _t("correct_fillers") and t not in _t("openers") and len(t) > 2]
    if dropped and meant and len(dropped) <= 4:
        for size in range(len(dropped), 0, -1):
            phrase = " ".join(dropped[:size])
            named = [r for r in rows if phrase in _text(r).lower()]
            if named:
                target = " ".join(meant[-min(len(meant), max(size, 1) + 1) :]) if len(meant) > size else " ".join(meant)
                if phrase.split()[-1] == target.split()[-1] or len(meant) <= 4:
                    return Proposal(_replace(named, phrase, target))
    if stated and rows:  # "it was the lower ones": a place added to the name
        out = []
        for r in rows[-1:]:
            for name in TEXTS.get(r.KIND, ()):
                old = getattr(r, name)
                if r.KIND == "faults" and name == "where" and not old:
                    out.append((r, {"where": " ".join(stated)}))
                    break
                if old and name != "where" and not (set(stated) & set(str(old).lower().split())):
                    out.append((r, {name: f"{' '.join(stated)} {old}"}))
                    break
        return Proposal(out)
    return Proposal()


def _about(said: _Said, pool: Sequence[Any]) -> list[Any]:
    """The records of the pool that share words with the correction; all where none does."""
    things = _things(said)
    scored = [(overlap(things, _text(r)), r) for r in pool if r.KIND in TEXTS]
    top = max((s for s, _ in scored), default=0.0)
    rows = [r for s, r in scored if s >= max(0.34, top - 0.3)] if top >= 0.34 else [r for _, r in scored]
    if (
        said.day is not None
        and any(r.KIND == "faults" for r in rows)
        and any(t in said.tokens for t in ("leak", "noise", "fault", "problem", "hum"))
    ):
        rows = [r for r in rows if r.KIND == "faults"]
    return rows


def _replace(pool: Sequence[Any], old: str, new: str) -> list[tuple[Any, dict[str, Any]]]:
    """Every text field that has the word `old` with `new` in its place."""
    out = []
    for record in pool:
        fields: dict[str, Any] = {}
        for name in TEXTS.get(record.KIND, ()):
            value = getattr(record, name)
            if value and re.search(rf"\b{re.escape(old)}\b", value, re.I):
                fields[name] = re.sub(rf"\b{re.escape(old)}\b", new, value, flags=re.I)
        if fields:
            out.append((record, fields))
    return out
