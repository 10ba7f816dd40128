"""Numbers that were run together or torn apart on the way from the mouth to the page, told by what the meter must show.

"fifty eight euro eighty eighty nine thousand four hundred and two" is a sum and an odometer; "62,1 09" is one odometer.
Where nothing tells the border, the number is left as it was read.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator

from diary.language.numerals import read_numbers
from diary.language.quantities import read_quantities
from diary.language.readers.numeric import Mention, Note, table, word_list
from diary.language.types import Quantity

STEP = 2000.0  # an odometer that has moved on by no more than this is taken for the same machine's
_TORN = re.compile(r"(?<![\d.$£€#])\d{1,3}(?:(?:, ?| )(?:\d{1,3}|oh?\b)){1,3}(?![\d%]|[.,:/]\d)", re.IGNORECASE)
_PIECE = re.compile(r"\d+|oh?", re.IGNORECASE)
_DIGIT = re.compile(r"\d")
_MONEY_MOST, _VOLUME_MOST = 500.0, 250.0
_A_TRIP_PER_UNIT = 15.0  # miles a gallon or kilometers a liter: which border between trip and volume is likelier


def mend(note: Note) -> None:
    """Join and split the numbers of `note.mentions`, and add sums that are said without a number ("a tenner")."""
    note.mentions = _listed(note, _pairs(note, [*_and_a_half(note), *_one_of(note)]))
    note.mentions = _sum_after_fuel(note, sorted(note.mentions, key=lambda m: m.start))
    note.mentions = sorted(_joined(note, _split(note, [*note.mentions, *_notes_of_money(note)])), key=lambda m: m.start)
    _small_coins(note)
    _cents_after(note)
    _cents_unsaid(note)
    _said_closer(note)


# ---- several of a kind -----------------------------------------------------------------------------------------------

_PAIR = re.compile(r"(\d+(?:\.\d)?)/(\d+(?:\.\d)?)")
_PAIRED_MOST = 2.0  # the two tires of an axle differ by no more than this factor


def _pairs(note: Note, mentions: list[Mention]) -> list[Mention]:
    """ "Pressures f 28/28 r 35/33": the tires of an axle, no fraction."""
    made: list[Mention] = []
    paired = False
    for m in sorted(mentions, key=lambda x: x.start):
        found = _PAIR.fullmatch(note.utterance.text[m.start : m.end])
        before = {w for i in range(max(0, m.first - 4), m.first) for w in (note.words[i], note.place(i) or "")}
        told = before & word_list("measures", "inflated") or (before & word_list("measures", "ends") and (paired or _tires_before(note, m.first)))
        paired = False
        if found is None or m.dimension is not None or not told:
            made.append(m)
            continue
        left, right = float(found[1]), float(found[2])
        if min(left, right) < 1 or max(left, right) > _PAIRED_MOST * min(left, right):
            made.append(m)
            continue
        paired = True
        for value, group in ((left, 1), (right, 2)):
            start, end = m.start + found.start(group), m.start + found.end(group)
            kind = "decimal" if "." in found[group] else "cardinal"
            made.append(Mention(value, value, value, False, start, end, m.first if group == 1 else m.last, m.last, kind=kind))
    return made


def _tires_before(note: Note, i: int) -> bool:
    return bool(set(note.words[max(0, i - 8) : i]) & (word_list("measures", "inflated") | word_list("measures", "pressures_of")))


def _listed(note: Note, mentions: list[Mention]) -> list[Mention]:
    """ "Pressures thirty thirty and thirty two thirty one", "smooth at fifty eight sixty five and seventy": each for itself."""
    made: list[Mention] = []
    again = False
    for m in sorted(mentions, key=lambda x: x.start):
        said = note.words[max(0, m.first - 3) : m.first]
        joined = again and said[-1:] == ["and"]
        told = joined or bool(set(said) & word_list("measures", "pressures_of")) or (said[-1:] == ["at"] and _proving(note, m.first))
        parts = _tens(note, m) if m.dimension is None and told else []
        again = len(parts) > 1
        made.extend(parts if again else [m])
    return made


def _proving(note: Note, i: int) -> bool:
    return bool(set(note.words[max(0, i - 4) : i]) & word_list("measures", "proving"))


def _tens(note: Note, m: Mention) -> list[Mention]:
    """The numbers of two digits that the words of a number are, if each of them is one."""
    tens = word_list("measures", "spoken_tens")
    opens = [i for i in range(m.first, m.last + 1) if note.words[i] in tens]
    if len(opens) < 2 or opens[0] != m.first:
        return []
    parts = [_read(note, a, b - 1) for a, b in itertools.pairwise([*opens, m.last + 1])]
    return [p for p in parts if p is not None] if all(p is not None and 10 <= p.value <= 99 for p in parts) else []


# ---- a unit without its number --------------------------------------------------------------------------------------


def _and_a_half(note: Note) -> list[Mention]:
    """ "A litre and a half", "an inch and a quarter", "pint and a half": one and the fraction, of that unit."""
    made = []
    for m in note.mentions:
        unit_at = m.first - 2
        fraction = m.dimension is None and m.kind == "fraction" and 0 < m.value < 1 and unit_at >= 0
        if not fraction or note.words[m.first - 1] != "and" or any(x.first <= unit_at <= x.last and x.kind != "article" for x in note.mentions):
            made.append(m)
            continue
        whole = _measured_in(note, 1 + m.value, note.words[unit_at])
        if whole is None:
            made.append(m)
            continue
        made = [x for x in made if not x.first <= unit_at <= x.last]
        first = unit_at - 1 if unit_at and note.words[unit_at - 1] in word_list("scope", "indefinite") else unit_at
        start = note.utterance.tokens[first].start
        made.append(Mention(whole.value, whole.value, whole.value, m.approx, start, m.end, first, m.last, whole.unit, whole.dimension, "fraction"))
    return made


def _one_of(note: Note) -> list[Mention]:
    """ "Quart of fluid in the reservoir": one, where nothing counts the unit."""
    made = []
    for i, word in enumerate(note.words[:-2]):
        if word not in word_list("measures", "bare_units") or note.words[i + 1] != "of" or any(m.first <= i <= m.last for m in note.mentions):
            continue
        if i and (note.words[i - 1] in word_list("scope", "determiners") | word_list("scope", "counted") or any(m.last == i - 1 for m in note.mentions)):
            continue
        whole = _measured_in(note, 1.0, word)
        token = note.utterance.tokens[i]
        if whole is not None:
            made.append(Mention(1.0, 1.0, 1.0, False, token.start, token.end, i, i, whole.unit, whole.dimension, "cardinal"))
    return made


def _measured_in(note: Note, value: float, unit: str) -> Quantity | None:
    text = f"{value:g} {unit}"
    found = read_quantities(text, locale=note.context.locale, numbers=read_numbers(text))
    kept = [q for q in found if (q.start, q.end) == (0, len(text)) and q.dimension in ("volume", "length", "time", "mass")]
    return kept[0] if len(kept) == 1 else None


# ---- torn apart -----------------------------------------------------------------------------------------------------


def _joined(note: Note, mentions: list[Mention]) -> list[Mention]:
    """ "61, 840" after 61,500, "204 6 31 on the dash": one number where the meter fits and none of the pieces has a
    unit of its own.
    """
    text = note.utterance.text
    for found in _TORN.finditer(text):
        inside = [m for m in mentions if m.start < found.end() and found.start() < m.end]
        pieces = [(p.start() + found.start(), p.end() + found.start()) for p in _PIECE.finditer(found.group())]
        for first in range(len(pieces) - 1):
            last = next((k for k in range(len(pieces) - 1, first, -1) if _torn(note, pieces[first : k + 1])), None)
            if last is None:
                continue
            start, end = pieces[first][0], pieces[last][1]
            taken = [m for m in inside if m.start < end and start < m.end]
            unit = taken[-1].unit if taken and taken[-1].end > end else None
            if any(m.unit for m in taken if m.unit != unit) or (unit and unit not in ("mi", "km")):
                continue
            value = float(_digits(text, pieces[first : last + 1]))
            stop = max(end, taken[-1].end if taken and unit else end)
            whole = Mention(value, value, value, False, start, stop, note.opens(start), note.index(stop - 1), unit)
            whole.kind, whole.dimension = "digits", "length" if unit else None
            mentions = [m for m in mentions if m not in taken] + [whole]
            break
    return mentions


def _digits(text: str, pieces: list[tuple[int, int]]) -> str:
    return "".join(text[a:b] if text[a].isdigit() else "0" for a, b in pieces)


def _torn(note: Note, pieces: list[tuple[int, int]]) -> bool:
    """True where the digits of the pieces, put together, are what the meter can show."""
    text = note.utterance.text
    digits = _digits(text, pieces)
    if not 5 <= len(digits) <= 6 or digits[0] == "0":
        return False
    if all(b - a == 3 for a, b in pieces[1:]) and text[pieces[0][1] : pieces[1][0]] == ",":
        return False  # "61,840" is read as it stands
    last = note.context.meters.get("odometer")
    if last is not None and 0 <= float(digits) - last[0] <= STEP:
        return True
    if last is not None and not 0 <= float(digits) - last[0] <= 10 * STEP:
        return False
    return _metered(note, note.opens(pieces[0][0]), note.index(pieces[-1][1] - 1))


def _metered(note: Note, first: int, last: int) -> bool:
    """True where an odometer is named right before or right after words first to last."""
    before = any(b < first and note.strange(b, first) == 0 and first - b <= 4 for _, b in note.cues("meters", "odometer_before"))
    return before or any(a == last + 1 for a, _ in note.cues("meters", "odometer_after"))


# ---- run together ---------------------------------------------------------------------------------------------------


def _split(note: Note, mentions: list[Mention]) -> list[Mention]:
    """A sum or a volume and a meter said in one breath, each for itself."""
    for run in list(_runs(note, sorted(mentions, key=lambda m: m.start))):
        for part in _parts(run):
            made = (_apart(note, part) or _volume_at_end(note, part)) if _doubtful(note, part) else None
            if made:
                mentions = [m for m in mentions if m not in part] + list(made)
                break
    return mentions


def _parts(run: list[Mention]) -> Iterator[list[Mention]]:
    """One or two neighbours of a run of numbers, pairs first."""
    for size in (2, 1):
        for k in range(len(run) - size + 1):
            yield run[k : k + size]


def _runs(note: Note, mentions: list[Mention]) -> Iterator[list[Mention]]:
    """Spoken numbers side by side, in which no reading is one that the meter can show."""
    run: list[Mention] = []
    for m in [*mentions, None]:
        if m is not None and run and m.first == run[-1].last + 1 and not note.gaps[m.first]:
            run.append(m)
            continue
        if run and _doubtful(note, run):
            yield run
        run = [m] if m is not None else []


def _doubtful(note: Note, run: list[Mention]) -> bool:
    if run[-1].last - run[0].first < 3 or _DIGIT.search(note.utterance.text[run[0].start : run[-1].end]):
        return False
    last = note.context.meters.get("odometer")
    if last is not None and any(0 <= m.value - last[0] <= STEP for m in run):
        return False
    return any(
        (m.value > _money_most(m.unit) and m.dimension == "money")
        or (m.value > _VOLUME_MOST and m.dimension == "volume")
        or m.value >= 1e6
        or (last is not None and m.value > last[0] + STEP)
        for m in run
    )


def _money_most(currency: str | None) -> float:
    """The largest sum that fuel costs: more in a currency whose unit is small."""
    dear = table("fills")["dearest"].get(currency)
    return float(dear) * _VOLUME_MOST if dear else _MONEY_MOST


def _apart(note: Note, run: list[Mention]) -> tuple[Mention, Mention] | None:
    last = note.context.meters.get("odometer")
    best: tuple[float, tuple[Mention, Mention]] | None = None
    first, stop = run[0].first, run[-1].last
    trip = any(first - 2 <= b < first for _, b in note.cues("meters", "trip_before"))
    named = _metered(note, first, stop) or any(a == stop + 1 for a, _ in note.cues("meters", "odometer_after"))
    for k in range(first, stop):
        left, right = _read(note, first, k), _read(note, k + 1, stop)
        if left is None or right is None:
            continue
        for meter, other in ((left, right), (right, left)):
            if not _sum_or_volume(other, last is not None) or meter.unit not in (None, "mi", "km"):
                continue
            said = note.words[meter.first : meter.last + 1]
            if last is not None and 0 <= meter.value - last[0] <= STEP:
                far = meter.value - last[0]
            elif last is None and 1000 <= meter.value < 1e6 and (named or "thousand" in said):
                far = 1e6
            elif trip and meter is left and other.dimension and 1 <= meter.value <= 1500:
                far = 2e6 + abs(math.log(meter.value / max(other.value, 0.01) / _A_TRIP_PER_UNIT))
            else:
                continue
            if best is None or far < best[0]:
                best = (far, (left, right))
    return best[1] if best else None


def _volume_at_end(note: Note, run: list[Mention]) -> tuple[Mention, Mention] | None:
    """ "Still thirty seven forty four point nine litres": no tank holds the whole; the last number is the volume."""
    if len(run) != 1 or run[0].dimension != "volume" or run[0].value <= 1500:
        return None
    for k in range(run[0].first, run[0].last - 1):
        left, right = _read(note, run[0].first, k), _read(note, k + 1, run[0].last)
        if left is not None and right is not None and right.dimension == "volume" and 1 <= right.value <= _VOLUME_MOST:
            return left, right
    return None


def _sum_or_volume(m: Mention, known: bool) -> bool:
    if m.dimension == "money" or m.kind == "money":
        return m.value <= _MONEY_MOST
    if m.dimension == "volume":
        return m.value <= _VOLUME_MOST
    return known and m.dimension is None and any(not float(v).is_integer() and v <= _MONEY_MOST for v, *_ in m.readings)


def _read(note: Note, first: int, last: int) -> Mention | None:
    """Words first to last as one number with its unit, or None where they are not just one."""
    tokens = note.utterance.tokens
    start, end = tokens[first].start, tokens[last].end
    text = note.utterance.text[start:end]
    numbers = read_numbers(text)
    quantities = read_quantities(text, locale=note.context.locale, numbers=numbers)
    if len(quantities) == 1 and (quantities[0].start, quantities[0].end) == (0, len(text)):
        q = quantities[0]
        made = Mention(q.value, q.low, q.high, q.approx, start, end, first, last, q.unit, q.dimension)
        made.kind, made.readings = q.number.kind if q.number else "", tuple(q.alternatives)
        coin = next((u for _, u, _ in q.alternatives if u == "GBP"), None)
        if coin and q.dimension != "money":
            made.unit, made.dimension = coin, "money"
        return made
    if len(numbers) == 1 and (numbers[0].start, numbers[0].end) == (0, len(text)):
        n = numbers[0]
        others = tuple((value, None, likely) for value, likely in n.alternatives)
        return Mention(n.value, n.low, n.high, n.approx, start, end, first, last, kind=n.kind, readings=others)
    return None


# ---- what was paid, right after the volume --------------------------------------------------------------------------


def _sum_after_fuel(note: Note, mentions: list[Mention]) -> list[Mention]:
    """The sum said after a volume, and the meter said in one breath with it: "eight gallons twenty six fifty nine one
    seven one nine" is 26.50 and 91,719; "sixty gallons two thirty nine twenty five" costs 239.25.
    """
    for place, volume in enumerate(mentions[:-1]):
        run = _run_after(note, mentions, place)
        if run and _poured(note, volume) and (made := _sum_and_meter(note, volume, run)):
            return sorted([*(m for m in mentions if m not in run), *made], key=lambda m: m.start)
    return _sum_after_trip(note, mentions)


def _sum_after_trip(note: Note, mentions: list[Mention]) -> list[Mention]:
    """ "Trip one eighty seven forty two ten": the trip and what was paid, where the note tells no other sum."""
    volume = next((m for m in mentions if m.dimension == "volume" and _poured(note, m)), None)
    if volume is None or any(m.dimension == "money" or m.kind == "money" for m in mentions):
        return mentions
    trips = {b for _, b in note.cues("meters", "trip_before")}
    for place, m in enumerate(mentions):
        if m.first <= volume.last or not {m.first - 1, m.first - 2} & trips or m.dimension:
            continue
        run = _run_after(note, mentions, place - 1, 99) if place else []
        best: tuple[float, list[Mention]] | None = None
        for k in range(m.first + 1, run[-1].last if run else 0):
            left, paid = _read(note, m.first, k), _paid(note, volume, k + 1, run[-1].last)
            if left is None or left.dimension or paid is None or not 20 <= left.value <= 1500 or left.value % 1:
                continue
            far = abs(math.log(left.value / volume.value / _A_TRIP_PER_UNIT)) + abs(math.log(paid.value / volume.value / 3))
            if best is None or far < best[0]:
                best = far, [left, paid]
        if best and (len(run) > 1 or m.value > 1500):
            return sorted([*(x for x in mentions if x not in run), *best[1]], key=lambda x: x.start)
    return mentions


def _poured(note: Note, m: Mention) -> bool:
    """True for a volume in a unit that fuel is sold in, or a bare number that opens the note and filled the tank."""
    if m.dimension == "volume":
        return m.unit in ("gal_us", "gal_imp", "L")
    return m.dimension is None and m.first == 0 and any(0 < a - m.last <= 2 for a, _ in note.cues("fills", "full"))


def _run_after(note: Note, mentions: list[Mention], place: int, reach: int = 8) -> list[Mention]:
    """The spoken numbers side by side that begin within so many words after mention `place`; within eight no meter is
    named before them.
    """
    volume, run = mentions[place], [mentions[place + 1]]
    if run[0].first - volume.last > reach or any(note.gaps[i] == 2 for i in range(volume.last + 1, run[0].first)):
        return []
    for group in ("odometer_before", "trip_before", "hours_before"):
        if reach <= 8 and note.has("meters", group, volume.last, run[0].first):
            return []
    for m in mentions[place + 2 :]:
        if note.words[run[-1].last + 1 : m.first] not in ([], ["and"]) or note.gaps[m.first]:
            break
        run.append(m)
    return [] if _DIGIT.search(note.utterance.text[run[0].start : run[-1].end]) else run


def _sum_and_meter(note: Note, volume: Mention, run: list[Mention]) -> list[Mention]:
    """The sum, or the sum and the reading, that the words of the run are; none where nothing tells the border."""
    first, stop = run[0].first, run[-1].last
    if first - 1 > volume.last and not note.gaps[first] and _read(note, first - 1, first - 1) is not None:
        first -= 1  # "one" stands by itself: "one forty six twenty five"
    hours = note.context.locale.distance == "h"
    last = note.context.meters.get("hours" if hours else "odometer")
    if last is not None:
        best: tuple[float, list[Mention]] | None = None
        for k in range(first + 1, stop):
            meter = _read(note, k + 1, stop)
            far = meter.value - last[0] if meter is not None and meter.dimension is None else 0.0
            if meter is None or not 0 < far <= (STEP / 10 if hours else STEP) or (best and best[0] <= far):
                continue
            paid = _paid(note, volume, first, k)
            if paid is not None:
                best = far, [paid, meter]
        if best:
            return best[1]
    if (len(run) < 2 and first == run[0].first) or any(m.dimension for m in run):
        return []
    paid = _paid(note, volume, first, stop)
    return [paid] if paid is not None and paid.value >= 100 else []


def _paid(note: Note, volume: Mention, first: int, last: int) -> Mention | None:
    """Words first to last as the sum paid for a volume: "fifty two pounds sixty", "two thirty nine twenty five"."""
    tokens = note.utterance.tokens
    whole = _read(note, first, last)
    if whole is not None and whole.dimension == "money":
        return whole if _affordable(note, whole.value, volume) else None
    values = [] if whole is None or whole.dimension else [v for v, *_ in whole.readings if not float(v).is_integer()]
    unit = None
    for k in range(last - 1, first - 1, -1):
        big, cents = _read(note, first, k), _read(note, k + 1, last)
        if big is None or cents is None or big.dimension not in (None, "money") or cents.dimension or cents.value % 1 or big.value % 1:
            continue
        if 1 <= big.value <= 999 and (10 <= cents.value <= 99 or (cents.value < 10 and cents.last > cents.first)):
            values.append(round(big.value + cents.value / 100, 2))
            unit = big.unit
    value = next((v for v in values if _affordable(note, v, volume)), None)
    if value is None and whole is not None and whole.dimension is None and "thousand" in note.words[first : last + 1]:
        value = whole.value if note.context.locale.currency in table("fills")["dearest"] and _affordable(note, whole.value, volume) else None
    if value is None:
        return None
    return Mention(
        value, value, value, False, tokens[first].start, tokens[last].end, first, last,
        unit or note.context.locale.currency, "money", "money",
    )  # fmt: skip


def _affordable(note: Note, value: float, volume: Mention) -> bool:
    dear = table("fills")["dearest"].get(note.context.locale.currency)
    low, high = (dear / 20, dear) if dear else (0.7, 12.0)
    return bool(low <= value / max(volume.value, 0.01) <= high)


def _said_closer(note: Note) -> None:
    """ "Forty litres as near as makes no odds, it was forty point two": the decimal is the volume."""
    closer = {b for _, b in note.cues("fills", "closer")}
    for m, exact in itertools.pairwise(note.mentions):
        plain = exact.dimension is None and exact.kind == "decimal" and exact.first - 1 in closer
        if plain and m.dimension == "volume" and float(m.value).is_integer() and exact.first - m.last <= 11 and abs(exact.value - m.value) < 1:
            m.value, exact.dropped = exact.value, True
            m.low, m.high = min(m.low, m.value), max(m.high, m.value)


# ---- sums without a number ------------------------------------------------------------------------------------------


def _notes_of_money(note: Note) -> list[Mention]:
    """ "A tenner's worth", "two fivers"."""
    worth: dict[str, float] = table("fills")["notes_of_money"]
    found = []
    for i, word in enumerate(note.words):
        each = worth.get(word)
        token = note.utterance.tokens[i]
        if each is None or any(m.first <= i <= m.last for m in note.mentions):
            continue
        count = next((m for m in note.mentions if m.last == i - 1 and m.unit is None and m.value <= 20), None)
        first = count.first if count else i
        value = each * (count.value if count else 1)
        start = count.start if count else token.start
        if count:
            note.mentions.remove(count)
        found.append(
            Mention(value, value, value, False, start, token.end, first, i, note.context.locale.currency, "money", "money")
        )
    return found


def _cents_after(note: Note) -> None:
    """ "Seventy five and sixty cents" is 75.60, "fifty dollars and ten" stays as it is."""
    for m, cents in list(itertools.pairwise(note.mentions)):
        joined = note.words[m.last + 1 : cents.first] in (["and"], [])
        if joined and cents.dimension == "money" and 0 < cents.value < 1 and m.dimension in (None, "money") and float(m.value).is_integer() and 1 <= m.value <= 900:
            m.value = m.low = m.high = round(m.value + cents.value, 2)
            m.unit, m.dimension, m.kind, m.last, m.end = cents.unit, "money", "money", cents.last, cents.end
            note.mentions.remove(cents)


def _cents_unsaid(note: Note) -> None:
    """ "A hundred forty eight eighty on the card": two numbers side by side where a sum was paid."""
    paid_after = {a for a, _ in note.cues("fills", "paid_after")}
    for m, cents in list(itertools.pairwise(note.mentions)):
        plain = m.dimension is None and cents.dimension is None and cents.first == m.last + 1 and not note.gaps[cents.first]
        if not plain or not (100 <= m.value <= 999 and 10 <= cents.value <= 99) or m.value % 1 or cents.value % 1:
            continue
        before = note.nearest_before("fills", "paid", m.first, 3)
        if cents.last + 1 in paid_after or (before and note.strange(before[1], m.first) == 0):
            m.value = m.low = m.high = round(m.value + cents.value / 100, 2)
            m.last, m.end = cents.last, cents.end
            note.mentions.remove(cents)


def _small_coins(note: Note) -> None:
    """ "Forty five dollars and a nickel" is 45.05."""
    coins: dict[str, float] = table("fills")["small_coins"]
    for m in note.mentions:
        following = note.words[m.last + 1 : m.last + 4]
        if m.dimension in ("money", None) and following[:2] == ["and", "a"] and following[-1] in coins and len(following) == 3:
            if m.dimension is None:
                m.unit, m.dimension, m.kind = note.context.locale.currency, "money", "money"
            m.value = m.low = m.high = round(m.value + coins[following[-1]], 2)
            m.last += 3
            m.end = note.utterance.tokens[m.last].end

