"""Is a value plausible? Doubtful values are kept as said, taken out of the record and asked about.

Each machine is held against its own history first, then against wide bounds (data/checks.toml). A check gives `Doubt`s;
`check_entry` acts on them for one note: the value leaves the record, a gap waits with the value as said, and one word
or number
settles it (see `gaps`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from diary.assistant import spoken
from diary.assistant.words import table
from diary.calculators.economy_units import LITRES
from diary.records.diary import Diary, Entry


@dataclass(frozen=True, slots=True)
class Doubt:
    """A value that does not fit. `wants` is what is asked for, `why` a sentence, `maybe` likelier values (a decimal
    point lost,
    digits swapped)."""

    record: Any
    field: str
    value: float
    wants: str
    why: str
    maybe: tuple[float, ...] = ()
    against: Any = None  # the earlier record that it does not fit


@dataclass(slots=True)
class Past:
    """What the checks know of the machine: earlier records, oldest first."""

    diary: Diary
    note: str
    fills: list[Any] = field(default_factory=list)
    readings: list[Any] = field(default_factory=list)
    torques: list[Any] = field(default_factory=list)
    tank: float | None = None


@cache
def _t(name: str) -> Any:
    return table("checks")[name]


def past_of(diary: Diary, note: str) -> Past:
    """The machine's records of the last two years but for those of `note`; older ones tell little of what is usual
    now."""
    from diary.assistant.answers import facts_of
    from diary.assistant.machine_facts import tank_size

    facts = facts_of(diary)
    since = _since(diary, note)

    def others(kind: str) -> list[Any]:
        return [r for r in diary.records(kind, since=since) if r.note != note]

    fills = others("fills")
    return Past(
        diary,
        note,
        fills,
        others("readings"),
        others("torques"),
        tank_size(facts) if fills or facts.machine.tank else facts.machine.tank,
    )


def _since(diary: Diary, note: str) -> str:
    """The day two years before a note."""
    return (datetime.fromisoformat(diary.note(note).at) - timedelta(days=730)).date().isoformat()


def lost_point(value: float, low: float, high: float) -> tuple[float, ...]:
    """Values that `value` may have been before a decimal point was lost: those of a tenth, a hundredth that lie
    between."""
    return tuple(round(value / d, 4) for d in (10, 100, 1000) if low <= value / d <= high)


def swapped_digits(value: float, low: float, high: float) -> tuple[float, ...]:
    """Whole values made by swapping two neighbouring digits that lie between `low` and `high`."""
    text = str(int(value))
    out = []
    for i in range(len(text) - 1):
        if text[i] != text[i + 1]:
            other = float(text[:i] + text[i + 1] + text[i] + text[i + 2 :])
            if low <= other <= high and len(str(int(other))) == len(text):
                out.append(other)
    return tuple(out)


def check_fill(fill: Any, past: Past) -> list[Doubt]:
    """Volume against the tank, or against earlier fills; price against the usual price."""
    found: list[Doubt] = []
    machine = past.diary.machine
    unit = fill.unit or machine.volume
    volume = fill.volume
    if volume is not None:
        rules = _t("fill")
        earlier = [f.volume * LITRES[f.unit or machine.volume] / LITRES[unit] for f in past.fills if f.volume]
        name = spoken.figure(volume, unit)
        if past.tank:
            most = past.tank * LITRES[machine.volume] / LITRES[unit] * rules["over_tank"]
            why = f"{name} does not fit a {spoken.digits(past.tank)} {spoken.unit_name(machine.volume, 1)} tank."
        elif len(earlier) >= 2:
            most = max(max(earlier) * rules["over_largest"], sorted(earlier)[len(earlier) // 2] * 4)
            why = f"{name} is far more than ever before."
        else:
            most = rules.get(unit, 450.0)
            if earlier:
                most = min(most, max(earlier) * 6)
            why = f"{name} is a lot of fuel."
        if volume > most or volume <= 0:
            found.append(Doubt(fill, "volume", volume, "volume", why, lost_point(volume, 0.05 * most, most)))
            volume = None
    if fill.price_total is not None and volume:
        each = fill.price_total / volume
        coin = fill.currency or machine.currency
        low, high = _t("price").get(coin, {}).get(unit, (0.0, 1e9))
        usual = sorted(
            f.price_total / f.volume * LITRES[unit] / LITRES[f.unit or machine.volume]
            for f in past.fills
            if f.price_total and f.volume
        )
        if len(usual) >= 2:
            middle, ratio = usual[len(usual) // 2], _t("price")["ratio"]
            low, high = middle / ratio, middle * ratio
        if not low <= each <= high:
            why = (
                f"{spoken.money(fill.price_total, coin)} would be {spoken.money(each, coin)} "
                f"a {spoken.unit_name(unit, 1)}."
            )
            found.append(
                Doubt(
                    fill,
                    "price_total",
                    fill.price_total,
                    "price_total",
                    why,
                    lost_point(fill.price_total, low * volume, high * volume),
                )
            )
    return found


def check_reading(reading: Any, past: Past) -> list[Doubt]:
    """A meter's order and speed of change, against the readings before and after it in time."""
    value, rules = reading.value, _t("meter")
    if value is None or reading.approx:
        return []
    if reading.meter == "trip":
        if value > rules["trip_most"]:
            return [
                Doubt(
                    reading,
                    "value",
                    value,
                    "trip",
                    f"{spoken.digits(value)} is a lot for a trip meter.",
                    lost_point(value, 1, 2000),
                )
            ]
        return []
    unit = reading.unit or ("h" if reading.meter == "hours" else past.diary.machine.distance)
    at = datetime.fromisoformat(reading.at)
    same = [r for r in past.readings if r.meter == reading.meter and r.value is not None and not r.approx]
    before = [r for r in same if r.at <= reading.at]
    after = [r for r in same if r.at > reading.at]
    name = "hour meter" if reading.meter == "hours" else reading.meter
    wants = "hours" if reading.meter == "hours" else "odometer"
    if before:
        last = before[-1]
        days = max(0.0, (at - datetime.fromisoformat(last.at)) / timedelta(days=1))
        most = last.value + rules.get(f"slack_{unit}", 300.0) + rules.get(f"{unit}_per_day", 1100.0) * days
        if value < last.value - 0.05:
            why = (
                f"{spoken.digits(value, 1)} is less than the {spoken.digits(last.value, 1)} "
                f"of {spoken.day(last.at, at.date())}."
            )
            return [Doubt(reading, "value", value, wants, why, swapped_digits(value, last.value, most), last)]
        if value > most:
            why = (
                f"That puts the {name} {spoken.figure(value - last.value, unit)} past {spoken.day(last.at, at.date())}."
            )
            maybe = (*lost_point(value, last.value, most), *swapped_digits(value, last.value, most))
            return [Doubt(reading, "value", value, "confirm", why, maybe, last)]
    if after and value > after[0].value + 0.05:
        why = (
            f"{spoken.digits(value, 1)} is more than the {spoken.digits(after[0].value, 1)} "
            f"of {spoken.day(after[0].at, at.date())} after it."
        )
        return [
            Doubt(
                reading,
                "value",
                value,
                wants,
                why,
                swapped_digits(value, before[-1].value if before else 0, after[0].value),
            )
        ]
    return []


_NM = {"N_m": 1.0, "ft_lb": 1.3558179483, "in_lb": 0.112984829}


def _says(name: str, word: str) -> bool:
    """Whether a word of `name` begins with `word`: "lug" is in "lug nuts" and not in "spark plugs"."""
    return f" {word}" in f" {name}"


def heavy(past: Past) -> bool:
    """Whether the machine is a lorry, bus or tractor: its name, its notes or the fasteners that it has had say so."""
    rules = _t("torque")
    if any(_says(past.diary.machine.name.lower(), w) for w in rules["heavy_names"]):
        return True
    wheels = [
        t.value * _NM[t.unit]
        for t in past.torques
        if t.value and t.unit in _NM and any(_says((t.fastener or "").lower(), w) for w in rules["wheel_words"])
    ]
    if max(wheels, default=0.0) > rules["wheel_most"]:
        return True
    words = [f" {w}" for w in rules["heavy_words"]]
    return any(word in f" {note.text.lower()}" for note in past.diary.notes() for word in words)


def check_torque(torque: Any, past: Past) -> list[Doubt]:
    """A torque against the kind of fastener, and against what the same one got before (a mixed-up unit shows as 12 to
    1)."""
    if torque.value is None or torque.unit not in _NM:
        return []
    rules = _t("torque")
    name = (torque.fastener or "").lower().replace("tyre", "tire")
    nm = torque.value * _NM[torque.unit]
    low, high = next(
        (row["nm"] for row in rules["rows"] if any(_says(name, w) for w in row["words"])), rules["default"]
    )
    wheel = any(_says(name, w) for w in rules["wheel_words"])
    if wheel:
        high = rules["wheel_most_heavy" if heavy(past) else "wheel_most"]
    earlier = [
        t
        for t in past.torques
        if t.value and t.unit in _NM and (t.fastener or "").lower() == (torque.fastener or "").lower()
    ]
    said = spoken.figure(torque.value, torque.unit)
    if earlier:
        last = earlier[-1]
        usual = last.value * _NM[last.unit]
        ratio = rules["ratio"] if len(earlier) > 1 else rules["ratio_once"]
        if nm > usual * ratio or nm < usual / ratio:
            why = f"{said} for the {torque.fastener}; last time it was {spoken.figure(last.value, last.unit)}."
            return [
                Doubt(
                    torque,
                    "value",
                    torque.value,
                    "torque",
                    why,
                    lost_point(torque.value, usual / 2 / _NM[torque.unit], usual * 2 / _NM[torque.unit]),
                )
            ]
        return []
    if not low <= nm <= high:
        why = f"{said} is {'a lot' if nm > high else 'very little'} for {torque.fastener or 'that'}."
        return [
            Doubt(
                torque,
                "value",
                torque.value,
                "torque",
                why,
                lost_point(torque.value, low / _NM[torque.unit], high / _NM[torque.unit]),
            )
        ]
    return []


_PSI = {"psi": 1.0, "bar": 14.50377377, "kPa": 0.1450377377}


def check_measure(measure: Any, past: Past) -> list[Doubt]:
    """A measured value against what such things can be."""
    rows = _t("measure").get(measure.quantity)
    if measure.value is None or rows is None:
        return []
    of = (measure.of or "").lower()
    scale = (
        _PSI.get(measure.unit, 1.0)
        if measure.quantity == "pressure"
        else 0.001
        if measure.unit in ("mV", "mA")
        else 1.0
    )
    value = measure.value * scale
    if measure.quantity == "temperature" and measure.unit == "degC":
        value = measure.value * 9 / 5 + 32
    if measure.quantity == "speed" and measure.unit == "kmh":
        value = measure.value / 1.609344
    row = next((r for r in rows if any(w in of for w in r["words"])), None)
    if row is None:
        return []
    low, high = row["range"]
    if measure.quantity == "voltage":
        twelve = _t("measure")["twelve_volt"]
        if any(w in of for w in twelve["words"]):
            seen = [
                m.value
                for m in past.diary.records("measures", since=_since(past.diary, past.note))
                if m.quantity == "voltage" and m.note != past.note and m.value
            ]
            if not any(v > twelve["seen"][1] for v in seen):
                high = twelve["most"]
    if low <= value <= high:
        return []
    thing = f" for {measure.of}" if measure.of else ""
    why = f"{spoken.figure(measure.value, measure.unit)}{thing} does not sound right."
    return [
        Doubt(
            measure,
            "value",
            measure.value,
            measure.quantity,
            why,
            lost_point(measure.value, (low + 1e-9) / scale, high / scale),
        )
    ]


def check_part(part: Any, past: Past) -> list[Doubt]:
    """A price against what small parts cost: "eight twenty five" for a gasket is eight and a quarter, not eight
    hundred."""
    if part.cost is None:
        return []
    rules = _t("part")
    name = (part.name or "").lower()
    each = part.cost / (part.count or 1)
    small = any(name.endswith((w, f"{w}s")) for w in rules["small"])
    most = rules["small_most"] if small else rules["most"]
    if 0 <= each <= most:
        return []
    coin = part.currency or past.diary.machine.currency
    why = f"{spoken.money(part.cost, coin)} is a lot for {part.name or 'that'}."
    return [Doubt(part, "cost", part.cost, "cost", why, lost_point(part.cost, 0.2, most))]


_CHECKS = {
    "fills": check_fill,
    "readings": check_reading,
    "torques": check_torque,
    "measures": check_measure,
    "parts": check_part,
}


def doubts(diary: Diary, records: list[Any], note: str) -> list[Doubt]:
    """What does not fit among the records of one note. A fill's own odometer is judged by its reading."""
    past = past_of(diary, note)
    found: list[Doubt] = []
    for record in records:
        check = _CHECKS.get(record.KIND)
        if check is None or record.origin == "person":
            continue
        found += check(record, past)
    return found


def unlikely_tank(diary: Diary, note: str) -> str | None:
    """A sentence where the tank that the note closes is far from this machine's usual; None where it is not."""
    from diary.assistant.answers import facts_of

    spans, _ = facts_of(diary).economy()
    rules = _t("economy")
    mine = [s for s in spans if s.to_note == note]
    others = sorted(s.fuel / s.distance for s in spans if s.to_note != note)
    if not mine or len(others) < rules["tanks"]:
        return None
    span, usual = mine[0], others[len(others) // 2]
    rate = span.fuel / span.distance
    if usual / rules["ratio"] <= rate <= usual * rules["ratio"]:
        return None
    normal = sorted(s.value for s in spans if s.to_note != note)[len(others) // 2]
    return f"That makes {spoken.figure(span.value, span.unit)}, and it is usually {spoken.figure(normal, span.unit)}."


def ask_for(wants: str, **words: Any) -> str:
    """The question for a gap, short enough to be spoken."""
    return (
        str(_t("ask")[wants]).format_map({k: "" if v is None else v for k, v in {"why": "", **words}.items()}).strip()
    )


def check_entry(diary: Diary, entry: Entry) -> list[dict[str, Any]]:
    """Check what one note wrote, take out what does not fit, and open the questions. Returns the gaps, most pressing
    first.

    What is taken out and asked belongs to the note: undoing the note undoes it.
    """
    from diary.assistant import gaps, machine_facts

    if entry.note is None or not entry.new:
        return []
    note = entry.note.id
    machine_facts.learn(diary, entry.note.text)
    opened: list[dict[str, Any]] = []
    removed: set[str] = set()
    for doubt in doubts(diary, entry.written, note):
        record = doubt.record
        if doubt.against is not None and (gap := corroborated(diary, record)) is not None:
            opened += _overrule(diary, gap, doubt.against, note)
            continue
        opened.append(_take_out(diary, doubt, note))
        if record.KIND not in ("fills", "parts"):
            removed.add(record.id)
    left = [r for r in entry.written if r.id not in removed]
    opened += gaps.open_missing(
        diary, entry, left, {g["data"]["field"] for g in opened if g["data"]["kind"] == "fills"}, opened
    )
    if not opened and any(r.KIND == "fills" for r in left):
        strange = unlikely_tank(diary, note)
        if strange:
            opened.append(
                diary.open_gap(
                    "confirm",
                    note=note,
                    reason="economy",
                    question=ask_for("confirm", why=strange),
                    about=None,
                    kind="economy",
                    field=None,
                )
            )
    return opened


def _take_out(diary: Diary, doubt: Doubt, note: str) -> dict[str, Any]:
    """Take a doubted value out of its record (the record itself, where the value is all of it), and open the
    question."""
    from diary.records.kinds import as_row

    record = doubt.record
    unit = getattr(record, "unit", None)
    whole = record.KIND not in ("fills", "parts")
    left_out = ("id", "note", "at", "span", "seconds", "confidence", "origin", "events")
    fields = {k: v for k, v in as_row(record).items() if k not in left_out}
    fill = _fill_of(diary, record) if record.KIND == "readings" else None
    with diary.together("gap", None):
        if whole:
            if record.KIND == "readings":
                _clear_fill(diary, record)
            diary.retract(record.id)
        else:
            diary.correct(record.id, {doubt.field: None}, what="gap")
    named = spoken.unit_name(unit or diary.machine.volume)
    return diary.open_gap(
        doubt.wants,
        note=note,
        record=None if whole else record.id,
        reason="doubt",
        about=doubt.value,
        kind=record.KIND,
        field=doubt.field,
        fields=fields,
        unit=unit,
        question=ask_for(doubt.wants, why=doubt.why, unit=named, value=doubt.value),
        why=doubt.why,
        maybe=list(doubt.maybe),
        at=record.at,
        fill=fill,
    )


def corroborated(diary: Diary, reading: Any) -> dict[str, Any] | None:
    """A doubted reading that still waits and that this one follows on: two that agree outweigh the one they both
    contradict."""
    rules = _t("meter")
    unit = reading.unit or diary.machine.distance
    at = datetime.fromisoformat(reading.at)
    for gap in reversed(diary.gaps()):
        data = gap["data"]
        if (
            data.get("reason") != "doubt"
            or data.get("kind") != "readings"
            or data["fields"].get("meter") != reading.meter
        ):
            continue
        days = (at - datetime.fromisoformat(data["at"])) / timedelta(days=1)
        most = rules.get(f"slack_{unit}", 300.0) + rules.get(f"{unit}_per_day", 1100.0) * max(0.0, days)
        if days > 0 and gap["note"] != reading.note and 0 <= reading.value - data["about"] <= most:
            return dict(gap)
    return None


def _overrule(diary: Diary, gap: dict[str, Any], against: Any, note: str) -> list[dict[str, Any]]:
    """Put back the doubted reading of `gap`, and doubt the one that both it and a later reading contradict."""
    data = gap["data"]
    with diary.together("gap", None):
        if data.get("fill") and data["fields"]["meter"] in ("odometer", "trip"):
            # the fill's reading comes with it
            diary.correct(data["fill"], {data["fields"]["meter"]: data["about"]}, what="gap")
        else:
            fields = {**data["fields"], "value": data["about"]}
            diary.add_record("readings", fields, note=gap["note"], at=data["at"], what="gap")
        diary.settle_gap(gap["id"])
    if against.origin == "person":
        return []
    return [
        _take_out(
            diary,
            Doubt(
                against,
                "value",
                against.value,
                "confirm",
                f"{spoken.digits(against.value, 1)} does not fit the readings after it.",
            ),
            against.note,
        )
    ]


def _fill_of(diary: Diary, reading: Any) -> str | None:
    """The fill of the same note that carries the reading's figure (or did, before it was cleared)."""
    for fill in diary.records("fills", note=reading.note):
        held = getattr(fill, reading.meter, None) if reading.meter in ("odometer", "trip") else None
        if held is None or held == reading.value:
            return str(fill.id)
    return None


def _clear_fill(diary: Diary, reading: Any) -> None:
    if reading.meter not in ("odometer", "trip"):
        return
    for fill in diary.records("fills", note=reading.note):
        if getattr(fill, reading.meter) == reading.value:
            diary.correct(fill.id, {reading.meter: None}, what="gap")
