"""Where a note tells that fuel went into the machine's own tank, and which volume is fuel."""

from __future__ import annotations

from typing import Any

from diary.language.readers.numeric import Mention, Note, table, word_list

FUEL_UNITS = ("gal_us", "gal_imp", "L")
SCENE = 30  # words around a fill within which a bare volume, sum or "full" belongs to it


def fuelled(note: Note) -> list[tuple[int, int]]:
    """Words first to last of each phrase that says it was fuelled ("brimmed it", "full tank"), in order.

    Denied, planned, supposed and other people's fillings are left out.
    """
    if "fuelled" not in note.memo:
        opening = [
            (i, i) for i, word in enumerate(note.words) if word in word_list("fills", "opening") and _opens(note, i)
        ]
        weak = [cue for cue in note.cues("fills", "event_weak") if _of_filling(note, *cue)]
        cues = {*note.cues("fills", "event"), *note.cues("fills", "delegated"), *opening, *weak}
        note.memo["fuelled"] = sorted(cue for cue in cues if _stands(note, *cue))
    found: list[tuple[int, int]] = note.memo["fuelled"]
    return found


def _of_filling(note: Note, a: int, b: int) -> bool:
    """True where "to the top" is said of a tank: a verb of filling before it, fuel or a volume beside it."""
    first, last = max(note.sentence(a)[0], a - 8), min(note.sentence(a)[1], b + 6)
    if note.has("fills", "any_fluid_named", first, last):
        return False
    return (
        note.has("fills", "put", first, a)
        or any(note.words[i] in word_list("fills", "any_fluid") for i in range(first, a))
        or note.has("fills", "fuel_named", first, last)
        or any(m.unit in FUEL_UNITS and first <= m.first <= last for m in note.mentions)
    )


def _opens(note: Note, i: int) -> bool:
    """True where word i opens a sentence and a number follows."""
    return note.gaps[i] == 2 and i + 1 < len(note.words) and note.owner[i + 1] >= 0


def _stands(note: Note, a: int, b: int) -> bool:
    if any(x <= b and a <= y for x, y in note.cues("fills", "habit")) or _with_a_fluid(note, b):
        return False
    if any(
        x <= b
        and a - 6 <= y
        and not any(note.gaps[i] == 2 for i in range(min(y, a) + 1, max(y, a) + 1))
        and (a <= y or note.words[x].startswith("fill"))
        for x, y in note.cues("fills", "not_fuel")
    ) or any(x <= b + 4 and a <= y for x, y in note.cues("fills", "vessel")):
        return False
    after = next((m for m in note.mentions if m.first > b), None)
    if (
        after is not None
        and after.unit is None
        and " ".join(note.words[a + 2 : after.first]) in word_list("fills", "air")
    ):
        return False  # "filled it to thirty" is air
    clause = note.clause(a)
    delegated = (a, b) in note.cues("fills", "delegated")
    if clause is not None and (
        clause.hypothetical
        or (clause.anothers and not delegated)
        or clause.retracted
        or clause.question
        or clause.planned
    ):
        return False
    floor = max(note.index(clause.start) if clause else 0, a - 7)
    if (
        note.has("scope", "future", floor, a + 1)
        or note.has("scope", "modal", a - 3, a)
        or note.has("scope", "not_now", max(0, a - 6), a)
        or (
            note.has("scope", "others", floor, b + 3)
            and not note.has("scope", "own", a, b + 5)
            and not delegated
        )
    ):
        return False
    denied = [y for _, y in note.cues("scope", "negation") if y < a and a - y <= 3 and note.strange(y, a) <= 1]
    if denied and not any(note.gaps[i] for i in range(denied[-1] + 1, a + 1)):
        return False
    fluid = note.nearest_before("fills", "fluid", a, 6)
    return not (
        fluid
        and note.words[a] in word_list("fills", "any_fluid")
        and note.strange(fluid[1], a) <= 2
        and note.words[b] != "brim"
    )


def fuel_score(note: Note, m: Mention) -> float:
    """How surely a volume is fuel that went into the tank; 2 and more count."""
    if (
        m.unit == "g"
        and fuelled(note)
        and m.kind in ("decimal", "fraction")
        and not note.has("fills", "fluid", 0, len(note.words))
    ):
        m.unit, m.dimension = note.context.locale.volume, "volume"  # typed "14.1g"
    if m.unit is not None and m.unit not in FUEL_UNITS:
        return 0.0
    first, last = note.sentence(m.first)
    clause = m.clause
    if clause is not None and clause.planned and note.has("scope", "future", note.index(clause.start), m.first):
        return 0.0
    if m.kind == "article" and not note.nearest_before("fills", "put", m.first, 4):
        return 0.0  # "a buck more a gallon"
    if clause is not None and clause.negated:
        denied = [b for _, b in note.cues("scope", "negation") if b < m.first and m.first - b <= 6]
        if denied and not note.has("scope", "negation_only", m.first - 8, m.first):
            return 0.0
    if any(a - 1 == m.last for a, _ in note.cues("fills", "per_unit")) and m.unit is None:
        return 0.0
    start = max(note.index(clause.start) if clause else 0, m.first - 7)
    if note.has("scope", "modal", max(start, m.first - 3), m.first - 1) or note.has("scope", "future", start, m.first):
        return 0.0
    if _of_a_fluid(note, m):
        return 0.0
    score = 0.0
    put = note.nearest_before("fills", "put", m.first, 7)
    if (
        put
        and note.strange(put[1], m.first) <= 2
        and not note.mention_between(put[1], m.first, lambda x: x.dimension == "money")
    ):
        score += 1.3
        if m.unit is not None and m.first - put[1] <= 2:
            score += 0.8
    if any(0 < a - m.last <= 3 and b <= last for a, b in note.cues("fills", "into")):
        score += 1.2
    elif any(0 < a - m.last <= 5 for a, b in note.cues("fills", "fuel_word")) or note.nearest_before(
        "fills", "fuel_word", m.first, 4
    ):
        score += 0.8
    if note.nearest_before("fills", "put", m.first, 11) and any(a < m.first and 0 < m.first - b <= 7 for a, b in note.cues("fills", "in_the_tank")):
        score += 1.2
    if m.unit is not None and any(x.dimension == "money" and abs(x.first - m.first) <= 16 for x in note.mentions):
        score += 1.2
    if m.unit is not None and (note.has("fills", "fuel_named", max(first, m.first - 14), min(last, m.last + 8))):
        score += 1.9
    if m.unit is not None and any(-3 <= a - m.last <= 3 and a != m.first for a, b in note.cues("fills", "just_full")):
        score += 2.0
    if m.unit is not None and any(
        0 < a - m.last <= 8 or 0 < m.first - b <= 2
        for group in ("full", "partial")
        for a, b in note.cues("fills", group)
        if first <= a <= last and b - a >= 1
    ):
        score += 1.4 if note.has("fills", "any_fluid_named", m.first - 8, m.last + 8) else 2.0  # "twenty gallons in at the ramp plumb full", "full to the cap 41,3 L"
    if m.unit is not None:
        told = any(abs(a - m.first) <= SCENE for a, _ in fuelled(note))
        if told or (first == m.first and not note.has("fills", "any_fluid_named", m.first - 12, m.first)):
            score += 2.0
        score += 0.2
    else:
        before = [
            b for _, b in fuelled(note) if b < m.first and m.first - b <= 8 and not note.mention_between(b, m.first)
        ]
        after = [a for a, _ in fuelled(note) if 0 < a - m.last <= 3]
        if before:
            score += 2.4 - 0.4 * note.strange(before[-1], m.first) - 0.05 * (m.first - before[-1])
        if after:
            score += 2.0
        score += 0.7 if m.kind in ("decimal", "fraction") else 0.0 if m.value <= 60 else -1.0
    metered = (*note.cues("meters", "odometer_before"), *note.cues("meters", "odometer_after"))
    if m.unit is not None and any(abs(a - m.first) <= SCENE for a, _ in metered):
        # a volume beside an odometer is a fill, unless a fluid or a shop is named; the verb may have been misheard
        score += 2.0 if m.kind in ("decimal", "fraction") and m.value > 1 else 1.2
    fluid_after = [a for a, _ in note.cues("fills", "fluid") if 0 < a - m.last <= 4 and note.strange(m.last, a) <= 1]
    into_fluid = [
        a for a, _ in note.cues("fills", "holds_fluid") if 0 < a - m.last <= 4 and not note.gaps[a]
    ]  # "0.4 L into the expansion tank"
    fluid_after += [] if note.has("fills", "fuel_named", m.last, m.last + 2) else into_fluid
    fluid_before = note.nearest_before("fills", "fluid", m.first, 9) or note.nearest_before(
        "fills", "holds_fluid", m.first, 6
    )
    if any(0 < a - m.last <= 2 for a, _ in note.cues("fills", "fuel_named")):
        fluid_before = None
    if fluid_after or (fluid_before and not any(fluid_before[1] < a < m.first for a, _ in fuelled(note))):
        score -= 3.0
    if note.has("fills", "vessel", m.first - 5, m.last + 5):
        score -= 3.0
    moved = note.nearest_before("fills", "moved", m.first, 5) or next(
        ((a, b) for a, b in note.cues("fills", "moved") if 0 < a - m.last <= 1), None
    )
    if moved:
        score -= 3.0
    if note.has("scope", "purchase", max(first, m.first - 4), m.first - 1):
        score -= 2.0
    return score


def _of_a_fluid(note: Note, m: Mention) -> bool:
    """True for "a quarter of a litre of diff oil", "1 gal to the surge tank": it says itself what it is, or where it went."""
    following = note.words[m.last + 1 : m.last + 2]
    if following == ["of"]:
        return any(m.last < a <= m.last + 3 for a, _ in note.cues("fills", "fluid")) and not note.has("fills", "fuel_named", m.last, m.last + 3)
    where = following and following[0] in word_list("fills", "prepositions")
    return bool(where) and any(m.last < a <= m.last + 3 for a, _ in note.cues("fills", "holds_fluid"))


def _with_a_fluid(note: Note, b: int) -> bool:
    """True where "with" and a fluid that is no fuel follow the verb ("filled it with a quarter of a litre of diff oil")."""
    with_at = b + 1 if note.words[b + 1 : b + 2] == ["with"] else 0
    return bool(with_at) and any(with_at < x <= with_at + 8 for x, _ in note.cues("fills", "fluid")) and not note.has(
        "fills", "fuel_named", with_at, with_at + 8
    )


def tank_named(note: Note, first: int, last: int) -> str | None:
    """The tank named between two words: "main", "auxiliary", "left" ...; None for the only one, "both" for all."""
    for name, spoken in table("fills")["tanks"].items():
        for phrase in spoken:
            size = len(phrase.split())
            if any(" ".join(note.words[i : i + size]) == phrase for i in range(first, last + 2 - size)):
                return None if name == "both" else str(name)
    return None


def _put_in(note: Note, m: Mention) -> bool:
    """True for "put nine in it ... not full", though nothing else says fuel."""
    put = note.nearest_before("fills", "put", m.first, 2)
    into = any(a == m.last + 1 for a, _ in note.cues("fills", "into"))
    return (
        put is not None
        and into
        and note.has("fills", "partial", m.last, m.last + SCENE)
        and not note.has("fills", "fluid", 0, len(note.words))
    )


def terse_fill(note: Note, m: Mention) -> bool:
    """True for a volume that only "in" or how full it came out tells: "15.1 in not full", "32.2g full.", "30.4g in 159,020"."""
    measured = m.kind in ("decimal", "fraction", "article") or m.unit is not None or note.gaps[m.first] == 2
    if m.unit not in (None, "g", *FUEL_UNITS) or not measured:
        return False
    if not 0.3 <= m.value <= 400 or note.has("fills", "any_fluid_named", m.first - 8, m.last + 6):
        return False
    clause = m.clause
    if clause is not None and (clause.hypothetical or clause.planned or clause.question):
        return False
    said = [m.last + 1, m.last + 2]
    how_full = any(a in said for group in ("just_full", "full", "partial") for a, _ in note.cues("fills", group))
    went_in = note.words[m.last + 1 : m.last + 2] == ["in"] and (note.gaps[m.first] == 2 or m.first == 0)
    beside = [x for x in note.mentions if x is not m and 0 < x.first - m.last <= 14]
    told = any(x.dimension == "money" or x.value >= 1000 or x.role in ("odometer", "trip", "hours") for x in beside)
    return (how_full or went_in) and told


def put_by_a_meter(note: Note, m: Mention) -> bool:
    """True for "put in eighteen even" or "i put sixteen point one in" where the odometer or trip is read in the same breath."""
    put = note.nearest_before("fills", "put", m.first, 3)
    if put is None or note.mention_between(put[1], m.first) or not 0.5 <= m.value <= 250:
        return False
    went_in = "in" in (*note.words[put[0] : m.first], *note.words[m.last + 1 : m.last + 3])
    metered = any(
        abs(a - m.first) <= 10 for g in ("odometer_before", "odometer_after", "trip_before") for a, _ in note.cues("meters", g)
    )
    return went_in and metered and not note.has("fills", "any_fluid_named", m.first - 10, m.last + 10)


def refuelling(note: Note) -> bool:
    """True where the note tells of a fill, by its words or by a volume of fuel."""
    if "refuelling" not in note.memo:
        terse = (m for m in note.mentions if m.unit != "g" or m.kind == "decimal")
        note.memo["refuelling"] = bool(fuelled(note)) or any(terse_fill(note, m) for m in terse)
    return bool(note.memo["refuelling"]) or any(x.role == "fuel" for x in note.mentions)


def _product(note: Note, m: Mention) -> bool:
    """True for the total of cans alike: "two cans, twenty litres each, so forty"."""
    before = [x for x in note.mentions if x.last < m.first and m.first - x.last <= 20]
    each = [x for x in before if x.role == "fuel" and x.unit]
    counts = [x for x in before if x.dimension is None and 2 <= x.value <= 12]
    return any(abs(x.value * n.value - m.value) < 0.051 for x in each for n in counts)


def bare_fuel(note: Note, m: Mention) -> tuple[float, str, dict[str, Any]]:
    value = m.within(0.2, 400)
    if any(x.role == "fuel" and x.unit and 0 < m.first - x.last <= 2 for x in note.mentions):
        return 0.0, "", {}  # "30 L, 48.50, not full": the sum
    if value is not None and (terse_fill(note, m) or (put_by_a_meter(note, m) and not any(x.role == "fuel" for x in note.mentions))):
        return 3.0, "fuel", {"value": value}
    if value is not None and not refuelling(note) and _put_in(note, m):
        return 2.5, "fuel", {"value": value}
    if value is None or not refuelling(note):
        return 0.0, "", {}
    known = any(x.role == "fuel" and x.unit for x in note.mentions)
    if known and _product(note, m):
        return 3.0, "fuel", {"value": value}
    if any(0 < a - m.last <= 1 for a, _ in note.cues("fills", "total")) and any(
        x.role == "fuel" for x in note.mentions
    ):
        return 3.0, "fuel", {"value": value}
    if known:
        part = any(0 < a - m.last <= 1 for a, _ in note.cues("fills", "from_vessel"))
        last = [x.last for x in note.mentions if x.role == "fuel" and x.last < m.first]
        again = [
            a
            for a, b in fuelled(note)
            if last
            and last[-1] < a
            and b < m.first
            and m.first - b <= 4
            and note.words[a] not in word_list("fills", "complements")
        ]
        return (2.5 if part or (again and fuel_score(note, m) >= 2) else 0.0), "fuel", {"value": value}
    bare = [x for x in note.mentions if x.role == "fuel" and x.last < m.first]
    if bare and not any(
        bare[-1].last < a < m.first and note.words[a] not in word_list("fills", "complements") for a, _ in fuelled(note)
    ):
        return 0.0, "", {}
    score = fuel_score(note, m)
    return (score if score >= 2 else 0.0), "fuel", {"value": value}
