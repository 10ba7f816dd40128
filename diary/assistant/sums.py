"""Spoken questions for calculators that need figures in an order of their own, or figures that the diary holds.

Each sum finds its figures in the question first and in the records second, runs the calculator of that name, and where a figure is
missing says which. The words that tell a sum are in data/sums.toml. Nothing is computed here but by `calculators`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from diary.assistant import spoken
from diary.assistant.answer import Answer, cannot, value
from diary.assistant.facts import Facts, answers_table, best, entity
from diary.assistant.questions import Query
from diary.assistant.words import content, overlap, table
from diary.errors import DiaryError

WRAPS = (1_000, 10_000, 100_000, 1_000_000)  # where meters turn over
NEAR_WRAP = 0.9  # a meter that turned over was at least so far along


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of the question: its value, its unit code ("" for a bare number) and its place."""

    value: float
    unit: str
    start: int
    end: int
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """A sum asked for: the question, its figures in order, and what is said when one is missing."""

    facts: Facts
    query: Query
    text: str
    figures: tuple[Figure, ...]
    lacking: str
    now: datetime

    def of(self, dimension: str) -> list[Figure]:
        """The figures that measure `dimension`."""
        from diary.units import dimension as measures

        return [f for f in self.figures if f.unit and measures(f.unit) == dimension]

    @property
    def bare(self) -> list[Figure]:
        """Numbers without a unit, tyre sizes left out."""
        return [f for f in self.figures if not f.unit and f.kind not in ("fraction", "size", "ratio")]

    def marked(self, figure: Figure, mark: str, reach: int = 26) -> bool:
        """Whether one of the words of a mark stands just before a figure."""
        before = self.text[max(0, figure.start - reach) : figure.start]
        return any(re.search(rf"(?<!\w)(?:{w})\W*(?:\w+\W+)?$", before) for w in table("sums")["marks"][mark])

    def lacks(self, *records: str, **known: str) -> Answer:
        """The honest answer where a figure is missing."""
        return cannot(self.lacking.format(**known), *records)


@cache
def _rows() -> list[tuple[str, list[re.Pattern[str]], re.Pattern[str] | None, str]]:
    out = []
    for row in table("sums")["sum"]:
        needs = [re.compile(rf"(?<!\w)(?:{'|'.join(group)})(?!\w)") for group in row["needs"]]
        unless = re.compile(rf"(?<!\w)(?:{'|'.join(row['unless'])})(?!\w)") if row.get("unless") else None
        out.append((row["name"], needs, unless, row["lacking"]))
    return out


def answer(facts: Facts, query: Query, now: datetime) -> Answer | None:
    """The answer to a question for one of these sums; None where it is none of them."""
    text = re.sub(r"\s+", " ", query.text.lower().replace("’", "'"))
    for name, needs, unless, lacking in _rows():
        if not all(group.search(text) for group in needs) or (unless and unless.search(text)):
            continue
        asked = Asked(facts, query, text, figures(facts, text), lacking, now)
        try:
            found = _SUMS[name](asked)
        except DiaryError as error:
            return cannot(str(error))
        if found is not None:
            return found
    return None


def figures(facts: Facts, text: str) -> tuple[Figure, ...]:
    """The figures of a text in order: quantities with their units, and the numbers that are part of none."""
    from diary.language.numerals import read_numbers
    from diary.language.quantities import read_quantities

    out = [Figure(q.value, q.unit, q.start, q.end) for q in read_quantities(text, locale=facts.machine.locale)]
    taken = [(f.start, f.end) for f in out]
    out += [
        Figure(n.value, "", n.start, n.end, n.kind)
        for n in read_numbers(text)
        if not any(a <= n.start < b for a, b in taken)
    ]
    return tuple(sorted(out, key=lambda f: f.start))


def _run(name: str, arguments: dict[str, Any], records: Sequence[str] = (), lead: str = "") -> Answer:
    from diary.calculators.catalogue import run

    found = run(name, arguments)
    return Answer(
        f"{lead}{found.text} {found.caution}".strip(),
        [dict(v) for v in found.values],
        list(records),
        found.certain,
        caution=bool(found.caution),
    )


def _meter(facts: Facts) -> Any | None:
    """The newest exact reading of the main meter, else the newest."""
    rows = facts.meters(exact=True) or facts.meters()
    return rows[-1] if rows else None


# -- meters --


def rollover(asked: Asked) -> Answer | None:
    """How far it is between two readings with the zeros in between, or until the zeros come."""
    facts = asked.facts
    unit = facts.machine.distance if facts.machine.distance != "h" else "mi"
    numbers = [f.value for f in asked.figures if f.unit in ("", "mi", "km") and f.kind not in ("fraction", "size")]
    digits = re.search(r"(\w+) digits", asked.text)
    said = [n for n in numbers if n in WRAPS]
    wraps = facts.machine.rollover or (said[0] if said else None)
    if digits and (n := next((f.value for f in asked.figures if f.end == digits.end(1)), None)) and 3 <= n <= 7:
        wraps = 10.0**n
        numbers.remove(n)
    if wraps in numbers and len(numbers) > 2:
        numbers.remove(wraps)
    pairs = [(a, b) for a, b in zip(numbers, numbers[1:], strict=False) if a > b]
    if pairs:
        before, after = pairs[0]
        assumed = wraps is None
        if wraps is None:
            wraps = next((float(w) for w in WRAPS if NEAR_WRAP * w <= before < w), None)
        if wraps is None:
            return asked.lacks(meter=facts.meter)
        found = _run("rollover", {"before": before, "now": after, "wraps": wraps})
        told = f"From {spoken.digits(before)} over {spoken.digits(wraps)} to {spoken.digits(after)} is "
        far = found.values[0]["value"]
        tail = ", if it turned over once" + (f", taking it to turn over at {spoken.digits(wraps)}" if assumed else "")
        return Answer(
            spoken.sentence(f"{told}{spoken.figure(far, unit)}{tail}"), [value(far, unit)], [], certain=not assumed
        )
    if re.search(r"\b(has|have|did|ever)\b", asked.text) and not numbers:
        return _has_rolled(asked, wraps)
    reading = _meter(facts)
    if reading is None:
        return cannot(f"That can't be worked out: no reading of the {facts.meter} is noted.")
    if wraps is None:
        return asked.lacks(reading.id, meter=facts.meter)
    left = wraps - reading.value % wraps
    return Answer(
        spoken.sentence(
            f"{spoken.figure(left, unit)} until it turns over at {spoken.digits(wraps)}: "
            f"it was at {spoken.digits(reading.value)} on {spoken.day(reading.at, asked.now.date())}"
        ),
        [value(left, unit), value(wraps, unit)],
        [reading.id],
        not reading.approx,
    )


def _has_rolled(asked: Asked, wraps: float | None) -> Answer:
    for phrase in table("sums")["marks"]["round"]:
        for note in asked.facts.diary.search(phrase, 10):
            if phrase in note.text.lower():
                at = note.text.lower().index(phrase)
                said = note.text[max(0, at - 60) : at + len(phrase) + 40].strip()
                return Answer(
                    f"On {spoken.day(note.at, asked.now.date())} you said: {spoken.sentence(said)}", [], [], False
                )
    if wraps is not None:
        return Answer(
            f"It turns over at {spoken.digits(wraps)}; no note says how often it has.", [value(wraps, None)], [], False
        )
    return cannot("No note says that it has turned over, nor where it does.")


def tyres(asked: Asked) -> tuple[str | None, str | None]:
    """(fitted, calibrated): sizes said in the question by the words before them, else those of the machine."""
    machine = asked.facts.machine
    said = tyre_sizes(asked.text)
    if len(said) >= 2:
        marks = table("sums")["marks"]
        lead = [asked.text[max(0, at - 24) : at] for _, at in said[:2]]
        old = [any(re.search(rf"\b{w}\W+(?:the )?$", text) for w in marks["calibrated"]) for text in lead]
        if old[1] and not old[0]:
            return said[0][0], said[1][0]
        if old[0] and not old[1]:
            return said[1][0], said[0][0]
        return said[1][0], said[0][0]  # "31 inch tires to 33 inch"
    if len(said) == 1:
        return said[0][0], machine.tyres_calibrated
    return machine.tyres, machine.tyres_calibrated


def tyre_sizes(text: str) -> list[tuple[str, int]]:
    """The tyre sizes of a text with their places, each once, in order."""
    from diary.calculators.tables import table as of_calculators

    words = of_calculators("routes")["tyre_words"]
    found: dict[int, str] = {}
    for pattern, group in ((words["code"], 0), (words["digits"], 1), (table("sums")["tyres"]["inches"], 1)):
        for m in re.finditer(pattern, text):
            if not any(abs(m.start() - at) < 4 for at in found):
                found[m.start()] = m.group(group)
    for tens, ten in words["tens"].items():
        for ones, one in words["ones"].items():
            for m in re.finditer(rf"(?<!\w){tens}[ -]{ones}(?!\w)", text):
                found[m.start()] = str(ten + one)
    return [(size, at) for at, size in sorted(found.items())]


def _missing_tyres(fitted: str | None, calibrated: str | None) -> list[str]:
    out = [] if fitted else ["the tyre size fitted"]
    return out if calibrated else [*out, "the size the odometer was made for"]


def interval(asked: Asked) -> Answer | None:
    """What to count on an odometer that the tyres make wrong."""
    fitted, calibrated = tyres(asked)
    wanted = [f for f in asked.figures if f.unit in ("mi", "km") and f.value >= 100]
    wanted += [f for f in asked.bare if f.value >= 500]
    distance = (wanted[0].value, wanted[0].unit or asked.facts.machine.distance) if wanted else None
    if distance is None and re.search(r"\b(a )?(true|real) thousand\b", asked.text):
        distance = (1000.0, asked.facts.machine.distance)
    missing = _missing_tyres(fitted, calibrated)
    if len(wanted) > 1:
        return None
    if distance is None:
        if not re.search(r"interval|count", asked.text):
            return None
        missing = ["the true interval", *missing]
    if missing:
        return asked.lacks(missing=spoken.listed(missing))
    return _run("interval", {"interval": distance, "fitted": fitted, "calibrated": calibrated})


def odometer(asked: Asked) -> Answer | None:
    """The true reading of an odometer that other tyres have made wrong since a reading."""
    about_tyres = re.search(
        r"tyres?|tires?|\d\ds\b|thirt\w+|correct|wheels|how far (?:out|off)|true (?:mileage|reading|odometer)|"
        r"(?:dial|clock|odometer|odo) is (?:off|out|wrong)|really got|real (?:mileage|reading)",
        asked.text,
    )
    if not about_tyres:
        return None
    fitted, calibrated = tyres(asked)
    numbers = [f.value for f in asked.figures if f.unit in ("", "mi", "km") and f.value >= 500 and f.kind != "size"]
    missing = _missing_tyres(fitted, calibrated)
    if re.search(r"how (?:far|much) (?:out|off)|factor", asked.text) and not numbers and not missing:
        from diary.calculators.tyres import correction, tyre

        factor = correction(tyre(str(calibrated)), tyre(str(fitted)))
        percent = (factor - 1) * 100
        return Answer(
            spoken.sentence(
                f"It counts {spoken.digits(abs(percent), 1)} percent too {'little' if percent > 0 else 'much'}: "
                f"multiply it by {factor:.4f}"
            ),
            [value(percent, "percent"), value(factor, None)],
            [],
        )
    reading = _meter(asked.facts)
    now = max(numbers) if len(numbers) > 1 else reading.value if reading is not None else None
    changed = min(numbers) if numbers else None
    if changed is None:
        missing = ["the odometer's reading when the tyres went on", *missing]
    if now is None:
        missing = [*missing, "the reading now"]
    if missing:
        return asked.lacks(missing=spoken.listed(missing))
    used = [reading.id] if len(numbers) < 2 and reading is not None else []
    return _run("odometer", {"changed": changed, "now": now, "fitted": fitted, "calibrated": calibrated}, used)


# -- fuel --


def gauge(asked: Asked) -> Answer | None:
    """What goes in at a mark of the gauge, by fills to the brim at other marks: those said, else those noted."""
    pairs, open_marks = _pairs(asked)
    unit = asked.facts.machine.volume
    records: list[str] = []
    if len(pairs) < 2:
        for fill in asked.facts.records("fills"):
            note = asked.facts.note_text(fill.note).lower() if fill.to_brim and fill.volume else ""
            spot = re.search(r"(?:gauge|needle)[^.]{0,25}", note)
            marks = [n for n in figures(asked.facts, spot.group()) if n.kind == "fraction"] if spot else []
            if marks:
                pairs.append((marks[0].value, fill.volume))
                records.append(fill.id)
    if len({m for m, _ in pairs}) < 2:
        return asked.lacks(*records, got=f"{len(pairs)}" if pairs else "none")
    if not open_marks:
        return cannot("At which mark of the gauge? Say, for instance: at three eighths.", *records)
    known = sorted(m for m, _ in pairs)
    if not known[0] <= open_marks[-1] <= known[-1]:
        return cannot(
            spoken.sentence(
                f"That can't be worked out: the mark lies outside those known, {known[0]:g} to {known[-1]:g} of the gauge"
            ),
            *records,
        )
    said = ",".join(f"{m:g}:{v:g}" for m, v in pairs)
    return _run("gauge", {"pairs": said, "reading": open_marks[-1], "unit": unit}, records)


def _pairs(asked: Asked) -> tuple[list[tuple[float, float]], list[float]]:
    """(mark, volume) pairs of the question in the order they are said, and the marks that go with no volume."""
    marks: list[tuple[int, float]] = [(f.start, f.value) for f in asked.figures if f.kind == "fraction"]
    for name, mark in (("empty", 0.0), ("full", 1.0), ("half", 0.5)):
        for word in table("sums")["marks"][name]:
            for m in re.finditer(rf"(?<!\w){word}(?!\w)", asked.text):
                if not any(abs(m.start() - at) < 3 for at, _ in marks):
                    marks.append((m.start(), mark))
    if re.search(r"(?<!\w)fill (?:her|it|him|the tank) up|to the brim|full tank", asked.text):
        marks = [(at, m) for at, m in marks if m != 1.0]
    volumes = [(f.start, f.value) for f in asked.of("volume")] + [(f.start, f.value) for f in asked.bare if f.value > 1]
    volumes.sort()
    marks.sort()
    pairs: list[tuple[float, float]] = []
    left = list(marks)
    for at, amount in volumes:
        before = [m for m in left if m[0] < at]
        after = [m for m in left if m[0] > at]
        if not before and not after:
            continue
        nearest = before[-1] if before else after[0]
        left.remove(nearest)
        pairs.append((nearest[1], amount))
    return pairs, [m for _, m in left]


def reach(asked: Asked) -> Answer | None:
    """How far fuel goes: by figures of the question, or whether what is in the tank makes a distance that is named."""
    from diary.assistant.answers_fuel import range_left
    from diary.assistant.machine_facts import tank_size

    facts = asked.facts
    economy = [f for f in asked.figures if f.unit in ("mpg_us", "mpg_imp", "L_per_100km")]
    tank = asked.of("volume")
    distances = [f for f in asked.figures if f.unit in ("mi", "km") and f.value > 1]
    if economy and tank:
        driven = distances or [f for f in asked.bare if f.value > 1]
        unit = driven[0].unit if driven and driven[0].unit else facts.machine.distance
        gone = (driven[0].value if driven else 0.0, unit)
        return _run(
            "range",
            {"tank": (tank[0].value, tank[0].unit), "driven": gone, "economy": (economy[0].value, economy[0].unit)},
        )
    if "full tank" in asked.text and not distances:
        size = tank_size(facts)
        spans, _ = facts.economy()
        if size is None:
            return asked.lacks()
        if not spans:
            return cannot("That can't be worked out: no tank was measured from brim to brim.")
        from diary.calculators.economy_summary import overall

        rest = overall(spans)
        assert rest is not None
        per = rest.distance / rest.fuel
        return Answer(
            spoken.sentence(
                f"About {spoken.figure(round(per * size), rest.distance_unit)} on {spoken.figure(size, rest.fuel_unit)}, "
                f"by {spoken.figure(rest.value, rest.unit)} overall"
            ),
            [value(per * size, rest.distance_unit)],
            [],
            False,
        )
    bare = [f for f in asked.bare if f.value >= 5]
    if not (distances or bare) or asked.query.window.kind in ("since", "between"):
        return None
    wanted = (distances or bare)[0]
    found = range_left(facts, asked.query, asked.now)
    if not found.values:
        return found
    left, safe = found.values[0]["value"], found.values[1]["value"]
    verdict = "Yes" if wanted.value <= safe else "No" if wanted.value > left else "Only just, maybe"
    found.answer = f"{verdict}: {found.answer[0].lower()}{found.answer[1:]}"
    return found


def trip_cost(asked: Asked) -> Answer | None:
    """Money by distance: from figures in the question, for a trip of a length, on a tank, or with the parts counted in."""
    from diary.assistant.answers_fuel import cost_per_distance

    facts = asked.facts
    money = asked.of("money")
    distances = [f for f in asked.figures if f.unit in ("mi", "km") and f.value > 1]
    if money and distances:
        found = _run("cost", {"paid": money[0].value, "distance": (distances[0].value, distances[0].unit)})
        each = money[0].value / distances[0].value
        unit = f"{money[0].unit}_per_{distances[0].unit}"
        found.answer = spoken.sentence(f"{spoken.figure(each, unit)}")
        found.values = [value(each, unit)]
        return found
    spans, _ = facts.economy()
    priced = [s for s in spans if s.cost is not None]
    if not priced:
        return None
    unit = priced[0].distance_unit
    if distances and re.search(r"trip|will (?:it|that)|to go|to drive|drive of", asked.text):
        per = cost_per_distance(facts, asked.query, asked.now)
        if not per.values:
            return per
        each = per.values[0]["value"]
        sum_ = each * distances[0].value
        coin = str(per.values[0]["unit"]).split("_per_")[0]
        return Answer(
            spoken.sentence(
                f"About {spoken.money(sum_, coin)} of fuel for {spoken.figure(distances[0].value, distances[0].unit)}, "
                f"at {spoken.figure(each, str(per.values[0]['unit']))} so far"
            ),
            [value(sum_, coin), value(each, str(per.values[0]["unit"]))],
            per.records,
            False,
        )
    by_mile = re.search(r"(?:a|per|each) (?:mile|km|k|kilomet(?:re|er))\b", asked.text)
    if by_mile and asked.query.window.kind == "tank" and asked.query.window.n == -1:
        last = spans[-1]
        if last.cost is None:
            return cannot("That can't be worked out: the last tank has no price.")
        each = last.cost / last.distance
        return Answer(
            spoken.sentence(
                f"{spoken.figure(each, f'{facts.currency}_per_{unit}')} on the last tank: "
                f"{spoken.money(last.cost, facts.currency)} over {spoken.figure(last.distance, unit)}"
            ),
            [value(each, f"{facts.currency}_per_{unit}")],
            [],
        )
    if by_mile and any(w in asked.text for w in table("sums")["marks"]["all_in"]):
        from diary.assistant.answers_parts import spend

        parts = spend(facts, Query("spend", "", window=asked.query.window), asked.now)
        far = sum(s.distance for s in priced)
        fuel = sum(s.cost for s in priced)
        if not parts.values:
            return None
        each = (fuel + parts.values[0]["value"]) / far
        coin = facts.currency
        return Answer(
            spoken.sentence(
                f"{spoken.figure(each, f'{coin}_per_{unit}')} with the parts: {spoken.money(fuel, coin)} of fuel and "
                f"{spoken.money(parts.values[0]['value'], coin)} of parts over {spoken.figure(far, unit)}"
            ),
            [value(each, f"{coin}_per_{unit}")],
            parts.records,
            parts.certain,
        )
    return None


# -- masses --


def balance(asked: Asked) -> Answer | None:
    """One balance weight for several: each mass with the angle said after it."""
    masses = asked.of("mass")
    if masses:  # "sixty grams at zero and thirty five at ninety degrees"
        more = [
            f
            for f in asked.bare
            if re.match(r"\W*at\W", asked.text[f.end :]) and f.value > 0 and asked.text[f.start : f.end] != "one"
        ]
        masses = sorted([*masses, *more], key=lambda f: f.start)
    pairs = []
    for i, mass in enumerate(masses):
        last = masses[i + 1].start if i + 1 < len(masses) else len(asked.text)
        angle = next(
            (f for f in asked.figures if mass.end <= f.start < last
             and re.search(r"\bat\W*$", asked.text[: f.start])),
            None,
        )  # fmt: skip
        if angle is not None:
            pairs.append((mass.value, angle.value))
    if len(pairs) < 2:
        got = f"{len(masses)} of the masses and {len(pairs)} of the angles" if masses else "neither"
        return asked.lacks(got=got)
    unit = masses[0].unit
    return _run("balance", {"weights": ",".join(f"{m:g}:{a:g}" for m, a in pairs), "unit": unit})


def ballast(asked: Asked) -> Answer | None:
    """The mass on the other side of a pivot that holds one hung out: its arm is said just after it."""
    masses, arms = asked.of("mass"), asked.of("length")
    if len(masses) != 1 or len(arms) < 2:
        got = [spoken.figure(f.value, f.unit) for f in (*masses[:1], *arms[:1])]
        return asked.lacks(got=spoken.listed(got) or "none of them")
    after = [f for f in arms if f.start > masses[0].start]
    arm = after[0] if after else arms[0]
    other = next(f for f in arms if f is not arm)
    from diary.units import convert

    far = convert(other.value, other.unit, arm.unit)
    return _run("ballast", {"mass": (masses[0].value, masses[0].unit), "arm": arm.value, "ballast_arm": far})


# -- intervals --


def due(asked: Asked) -> Answer | None:
    """When something is due: by an interval that is said, or planned; from when it was last done, said or noted."""
    facts, now = asked.facts, asked.now
    every, months = _every(asked)
    numbers = [f for f in (*asked.bare, *(f for f in asked.figures if f.unit in ("mi", "km"))) if f.value >= 500]
    numbers = sorted((f for f in numbers if every is None or f.value != every[0]), key=lambda f: f.value)
    stems = [s for s in entity(asked.query.stems) if s not in _due_stems()]
    if not stems:
        stems = [s for s in content(asked.text) if any(s in content(w.component or "") for w in facts.records("work"))]
    reading = _meter(facts)
    at = reading.value if reading is not None else None
    done: float | None = None
    done_on: date | None = None
    records: list[str] = []
    if numbers:
        done = numbers[0].value
        at = numbers[-1].value if len(numbers) > 1 else at
    elif stems:
        done, done_on, records = _last_done(facts, stems, {"changed", "replac", "refill", "drain", "fitted", "servic"})
    thing = " ".join(w for w in asked.query.about if set(content(w)) & set(stems)) or "that"
    if every is None and months is None:
        return _planned(asked, stems, at) or (
            asked.lacks(
                *records,
                thing=thing,
                got=f" It was last done on {spoken.day(done_on, now.date())}"
                + (f" at {spoken.digits(done)}." if done else ".")
                if done_on
                else "",
            )
            if re.search(r"(?<!\w)(due|next|till|until)(?!\w)", asked.text)
            and not asked.query.window.said
            and (stems and asked.figures == () and _spoken_of(asked))
            else None
        )
    if done is None and done_on is None:
        return cannot(
            spoken.sentence(
                f"That can't be worked out: it is not noted when the {thing} was last done, nor at what reading"
            )
        )
    if every is not None and done is None:
        return cannot(
            spoken.sentence(f"That can't be worked out: no reading is noted for when the {thing} was last done"),
            *records,
        )
    arguments: dict[str, Any] = {"today": now.date(), "done": done, "now": at, "done_on": done_on, "months": months}
    if every is not None:
        arguments["every"] = every
    found = _run("due", {k: v for k, v in arguments.items() if v is not None}, records)
    unit = every[1] if every is not None else None
    if every is not None and done is not None:
        target = done + every[0]
        left = None if at is None else target - at
        text = f"due at {spoken.figure(target, unit)}"
        found.values = [value(target, unit), *found.values]
        if left is not None:
            text += f", {spoken.figure(abs(left), unit)} {'from now' if left >= 0 else 'ago'}"
            found.values.insert(1, value(left, unit))
        text += f": last done at {spoken.digits(done)}"
        if done_on is not None:
            text += f" on {spoken.day(done_on, now.date())}"
        found.answer = spoken.sentence(_verdict(asked, left) + text)
        found.certain = True
    return found


def _verdict(asked: Asked, left: float | None) -> str:
    if left is None or not re.match(r"(?:so |and )?(?:am|is|are)\b", asked.text):
        return ""
    return "no, " if left > 0 else "yes, "


def _every(asked: Asked) -> tuple[tuple[float, str] | None, int | None]:
    """(distance or hours, months) of an interval said after "every" (or as the only figure with a unit of time)."""
    spot = re.search(r"(?<!\w)(?:every|each|interval(?: is| of)?)(?!\w)", asked.text)
    if spot is None:
        return None, None
    following = [f for f in asked.figures if f.start >= spot.end() and f.start - spot.end() < 16]
    if not following:
        return None, None
    f = following[0]
    if f.unit in ("yr", "mo", "month", "year"):
        return None, int(f.value * (12 if f.unit in ("yr", "year") else 1))
    if f.unit in ("mi", "km", "h"):
        return (f.value, f.unit), None
    unit = asked.facts.machine.distance
    return ((f.value, unit), None) if not f.unit and f.value >= 20 else (None, None)


@cache
def _due_stems() -> frozenset[str]:
    from diary.assistant.turns import number_words

    return (
        frozenset(content(" ".join(number_words())))
        | frozenset(content("due interval every next change service when left done till until miles come last reading"))
        | {
            s
            for verb in ("fit", "fix", "check", "drain")
            for f in answers_table("verb_words")[verb]
            for s in content(f)
        }
    )


def _spoken_of(asked: Asked) -> bool:
    return bool(re.search(r"(?<!\w)due(?!\w)", asked.text))


def _last_done(facts: Facts, stems: Sequence[str], actions: set[str]) -> tuple[float | None, date | None, list[str]]:
    """The reading and day when a thing was last renewed, with the records they are from."""
    from diary.assistant.answers_fuel import meter_at

    rows = [w for w in facts.records("work") if w.component and w.action.lower().startswith(tuple(actions))]
    rows = [w for w in rows if overlap(stems, w.component) >= 0.6 and "filter" not in content(w.component)] or [
        w for w in rows if overlap(stems, w.component) >= 0.99
    ]
    if not rows:
        rows = [p for p in facts.records("parts") if p.state == "fitted" and overlap(stems, p.name) >= 0.6]
    if not rows:
        return None, None, []
    record = rows[-1]
    found = meter_at(facts, facts.moment(record))
    reading = found[0] if found else None
    ids = [record.id, *([reading.id] if reading is not None else [])]
    return (reading.value if reading is not None else None), date.fromisoformat(record.at[:10]), ids


def _planned(asked: Asked, stems: Sequence[str], at: float | None) -> Answer | None:
    """A plan that names the reading at which a thing is due ("oil change at 66,902 miles")."""
    rows = [p for p in asked.facts.records("plans") if p.state == "open" and p.what]
    rows = best(rows, stems, lambda p: p.what, least=0.5) if stems else []
    for plan in reversed(rows):
        due_at = [
            f.value for f in figures(asked.facts, plan.what.lower()) if f.value >= 1000 and f.unit in ("", "mi", "km")
        ]
        if plan.due_distance:
            due_at = [plan.due_distance]
        if not due_at:
            continue
        unit = asked.facts.machine.distance
        target = due_at[0]
        text = f"{plan.what}: due at {spoken.figure(target, unit)}"
        values = [value(target, unit)]
        left = None
        if at is not None and target > at * 0.5:
            left = target - at
            text += f", {spoken.figure(abs(left), unit)} {'from now' if left >= 0 else 'ago'}"
            values.append(value(left, unit))
        if plan.due:
            text += f", or {spoken.day(plan.due, asked.now.date(), weekday=True)}"
        return Answer(spoken.sentence(_verdict(asked, left) + text), values, [plan.id])
    return None


_SUMS: dict[str, Callable[[Asked], Answer | None]] = {
    "rollover": rollover,
    "gauge": gauge,
    "balance": balance,
    "ballast": ballast,
    "interval": interval,
    "odometer": odometer,
    "due": due,
    "trip_cost": trip_cost,
    "reach": reach,
}
