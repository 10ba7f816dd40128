"""Reader of fills: fuel that went into the machine's own tank."""

from __future__ import annotations

import itertools
from typing import Any

from diary.language.readers.fuelling import SCENE, fuelled, tank_named
from diary.language.readers.numeric import Mention, Note, lay_out, table, word_list
from diary.language.readers.readings import stands, tidy
from diary.language.readers.roles import of_role
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """One fill a note, or one for each of several told of with their own volumes."""
    note = lay_out(utterance, context)
    volumes = _volumes(note)
    spots = list(fuelled(note))
    paid = [m for m in of_role(note, "price") if _buys_fuel(note, m) and not _of_a_part(note, m)]
    if not volumes and not spots and not paid:
        return []
    told: list[Mention | None] = [*volumes] or [None]
    scopes = _scopes(note, volumes, spots)
    return [_fill(note, volume, *scope, spots, paid) for volume, scope in zip(told, scopes, strict=True)]


def _scopes(note: Note, volumes: list[Mention], spots: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """First and last word of the talk that belongs to each volume; a new fill begins with its own verb."""
    starts = [0]
    for earlier, later in itertools.pairwise(volumes):
        cues = [a for a, _ in (*spots, *note.cues("fills", "put")) if earlier.last < a < later.first]
        cues = [a for a in cues if note.words[a] not in word_list("fills", "complements")]
        starts.append(min(cues, default=earlier.last + 1))
    return list(zip(starts, [*(x - 1 for x in starts[1:]), len(note.words) - 1], strict=True))


def _volumes(note: Note) -> list[Mention]:
    """The volumes that are fills: parts of a total give way to the total."""
    fuels = of_role(note, "fuel")
    if len(fuels) < 2:
        return fuels
    for m in fuels[1:]:
        parts = [
            x for x in note.mentions if x.first < m.first and x.role in ("fuel", "") and x.dimension in ("volume", None)
        ]
        if any(abs(x.value * n.value - m.value) < 0.051 for x in parts for n in parts if x is not n and x.role == "fuel"):
            return [m]
        for k in range(2, len(parts) + 1):
            if abs(sum(p.value for p in parts[-k:]) - m.value) < 0.051:
                return [m]
    distinct: list[Mention] = []
    for m in fuels:
        if all(x.value != m.value for x in distinct) and (not distinct or _a_fill_more(note, distinct[-1], m)):
            distinct.append(m)
    return distinct


def _a_fill_more(note: Note, earlier: Mention, m: Mention) -> bool:
    """True where a second volume has a telling of its own; "his two litre", "half a litre in the engine" has none."""
    if m.unit is None:
        return True
    told = [x.last for x in note.mentions if earlier.last < x.first < m.first and x.role in ("odometer", "hours", "trip", "price")]
    first, last = max([earlier.last, *told]) + 1, m.last + SCENE // 3
    if not told or any(first <= a <= last for a, _ in fuelled(note)):
        return True
    if any(m.last < x.first <= last and x.role in ("price", "unit_price") for x in note.mentions):
        return True
    return any(note.has("fills", group, first, last) for group in ("fuel_word", "from_vessel", "in_the_tank", "total", "partial", "full"))


def _buys_fuel(note: Note, m: Mention) -> bool:
    """True where a sum alone tells of a fill: "put in forty euros", "thirty euros of diesel"."""
    if any(0 < a - m.last <= 3 for a, b in note.cues("fills", "sum_of_fuel")):
        return True
    told = any(note.has("fills", group, m.first - SCENE, m.last + SCENE) for group in ("full", "partial"))
    if told and note.has("fills", "sold_by", m.first - 12, m.last + 14) and _shopless(note, m):
        return True  # "20 eur again, pump screen dead so no litres. not full"
    put = note.nearest_before("fills", "sum_put", m.first, 3)
    return put is not None and note.has("fills", "fuel_word", m.first - 12, m.last + 14)


def _shopless(note: Note, m: Mention) -> bool:
    """True where no part is named and no word of shopping is said right before or after a sum."""
    first, last = note.sentence(m.first)
    things = [t for t in note.talk.things if first <= t.first and t.last <= min(last, m.last + 3) and t.hit is not None]
    parts = [t for t in things if t.kind in ("component", "fastener", "consumable") and "pump" not in t.name]
    return not parts and not note.has("scope", "purchase", first, last)


def _fill(
    note: Note, volume: Mention | None, first: int, last: int, spots: list[tuple[int, int]], paid: list[Mention]
) -> Draft:
    """The fill told between words `first` and `last`."""
    spots = [(a, b) for a, b in spots if first <= a <= last]
    anchor = volume.first if volume else spots[0][0] if spots else paid[0].first

    def inside(role: str) -> list[Mention]:
        return [m for m in of_role(note, role) if first <= m.first <= last]

    fields: dict[str, Any] = {
        "volume": tidy(volume.value) if volume else None,
        "unit": volume.unit if volume and volume.unit else note.context.locale.volume,
        "to_brim": _to_brim(note, anchor, spots, first, last),
    }
    if volume and volume.low < volume.high and volume.low <= volume.value <= volume.high:
        fields.update(low=tidy(volume.low), high=tidy(volume.high))
    price = _nearest(note, inside("price"), anchor, volume)
    unit_price = _nearest(note, inside("unit_price"), anchor, volume)
    fields["price_total"] = tidy(price.value) if price else None
    if unit_price:
        fields["price_per_unit"] = tidy(unit_price.value)
    for sum_said in (price, unit_price):
        currency = (sum_said.unit or "").split("/")[0] if sum_said else ""
        if currency:
            fields["currency"] = currency
    for meter in ("odometer", "trip"):
        near = min((m for m in inside(meter) if stands(note, m)), key=lambda m: abs(m.first - anchor), default=None)
        fields[meter] = tidy(near.value) if near else None
    tokens = note.utterance.tokens
    ends = [x for x in (volume, price) if x] or ([] if spots else paid[:1])
    start = min([x.start for x in ends] + [tokens[a].start for a, _ in spots[:1]])
    end = max([x.end for x in ends] + [tokens[b].end for _, b in spots[:1]])
    around = max(first, note.index(start) - 6), min(last, note.index(max(start, end - 1)) + 8)
    if tank := tank_named(note, *around):
        fields["tank"] = tank
    return Draft("fills", fields, start, end, 0.95 if volume and spots else 0.85 if volume or spots else 0.7)


def _nearest(note: Note, found: list[Mention], anchor: int, volume: Mention | None) -> Mention | None:
    near = [m for m in found if abs(m.first - anchor) <= SCENE and not m.dropped and not _of_a_part(note, m)]
    if volume:
        near = [m for m in near if m.unit is not None or m.role == "unit_price" or not _elsewhere(note, m, volume)]
        near = [m for m in near if m.role == "unit_price" or 0.2 <= m.value / max(volume.value, 0.01) <= _dearest(m, volume)]
    end = volume.last if volume else anchor
    return min(near, key=lambda m: m.first - end if m.first > end else anchor - m.last, default=None)


def _elsewhere(note: Note, m: Mention, volume: Mention) -> bool:
    """True for a bare sum in another sentence than the volume, together with a part: "pin and bush, 185 the lot"."""
    first, last = note.sentence(m.first)
    if first <= volume.first <= last or note.has("fills", "paid", max(first, m.first - 4), m.first):
        return False
    return any(first <= t.first and t.last <= last and t.kind in ("component", "fastener", "consumable") and t.hit for t in note.talk.things)


def _dearest(m: Mention, volume: Mention) -> float:
    """The most a unit of fuel may cost: a sum with its currency said right by the volume is kept, for the checks to doubt."""
    if m.unit in table("fills")["dearest"]:
        return float(table("fills")["dearest"][m.unit])
    close = m.unit is not None and abs(m.first - volume.last) <= 8
    return 60.0 if close else 15.0


def _of_a_part(note: Note, m: Mention) -> bool:
    """True where the sum was paid for something else: a part or a can named right before or after it."""
    for thing in note.talk.things:
        if note.has("fills", "pump_said", thing.first - 1, thing.last + 1):
            continue  # "the pump said 83.04"
        if set(note.words[max(0, thing.first - 2) : thing.first + 1]) & word_list("fills", "prepositions"):
            continue
        if (
            thing.kind in ("component", "fastener", "consumable")
            and thing.hit is not None
            and thing.hit.data.get("class") != "fuel"
        ):
            if (
                thing.last < m.first <= thing.last + 4
                and not note.mention_between(thing.last, m.first)
                and note.strange(thing.last, m.first) == 0
            ):
                return "tank" not in thing.name
            if m.last < thing.first <= m.last + 3 and note.words[m.last + 1] == "for":
                return True
    return False


def _to_brim(note: Note, anchor: int, spots: list[tuple[int, int]], first: int, last: int) -> bool | None:
    """True where it was filled to the brim, False where it was not, None where nobody said."""
    anchors = [anchor, *(i for spot in spots for i in spot)]

    def near(a: int) -> bool:
        return first <= a <= last and min(abs(a - x) for x in anchors) <= SCENE

    if any(near(a) and not note.has("fills", "not_partial", a - 2, b + 3) for a, b in note.cues("fills", "partial")):
        return False
    other = note.cues("fills", "not_fuel")
    full = any(
        near(a) and not any(x <= b and a <= y for x, y in other)
        and (note.words[a] in word_list("fills", "took_all") or not _unreal(note, a))
        for a, b in note.cues("fills", "full")
    )
    if full or (anchor > first and note.words[anchor - 1] in word_list("fills", "filled") and note.owner[anchor] >= 0):
        return True
    return False if any(near(a) and a > anchor for a, _ in note.cues("fills", "level")) else None


def _unreal(note: Note, i: int) -> bool:
    clause = note.clause(i)
    return clause is not None and (clause.hypothetical or clause.planned or clause.anothers)
