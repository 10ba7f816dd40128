"""Reader of torques: what a fastener should get (target) and what it was given (applied)."""

from __future__ import annotations

from dataclasses import dataclass

from diary.language.idioms import plain
from diary.language.readers.fastening import (
    beside,
    fasteners_misread,
    figure_of_speech,
    got_after,
    got_by_name,
    is_fastener,
    said_again,
    written_on,
)
from diary.language.readers.numeric import Mention, Note, lay_out, word_list
from diary.language.readers.phrases import Thing
from diary.language.readers.readings import tidy
from diary.language.readers.roles import of_role
from diary.language.text import stem
from diary.language.types import Context, Draft, Utterance


@dataclass(slots=True)
class Torque:
    """One torque of the note while it is being worked out. `thing` is where its fastener was named."""

    mention: Mention
    fastener: str
    thing: Thing | None
    role: str
    locker: bool | None = None
    washers: bool | None = None
    reused: bool | None = None
    angle: float | None = None
    copied: bool = False


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Every torque said, target or applied; "that is what they got" makes the applied one that no number says."""
    note = lay_out(utterance, context)
    found: list[Torque] = []
    for m in of_role(note, "torque"):
        if not _stands(note, m):
            continue
        thing, name = _named_later(note, m) or _fastener(note, m, found)
        if thing is None and "passes_to" in m.facts:
            thing, name = _fastener(note, m.facts["passes_to"], found)  # "thirty then sixty on the main cap bolts"
        rated = note.nearest_before("scope", "rated", m.first, 3)
        if thing is None and (rated or not note.has("torques", "tightened", m.first - 8, m.first)):
            continue  # a torque of nothing in particular: "the new wrench goes to two fifty"
        role = _role(note, m, thing, found[-1] if found else None)
        if role == "target" and m.kind == "range":
            continue  # "twenty five to twenty eight" is no one figure
        unit = _unit(note, m, name, found)
        if unit is not None:
            m.unit = unit
        found.append(Torque(m, name, thing, role))
    found += _copies(note, found)
    for m in of_role(note, "angle"):
        for t in [t for t in found if t.mention.last < m.first][-1:]:
            t.angle = tidy(m.value * 360 if m.unit == "turn" else m.value)
    for attribute in ("locker", "washers", "reused"):
        _attach(note, found, attribute)
    drafts: list[Draft] = []
    known: set[tuple[str, float, str | None, str]] = set()
    for t in found:
        key = (t.fastener, t.mention.value, t.mention.unit, t.role)
        if key in known:
            continue
        known.add(key)
        fields: dict[str, object] = {
            "fastener": t.fastener or None,
            "value": tidy(t.mention.value),
            "unit": t.mention.unit,
            "role": t.role,
            "threadlocker": t.locker,
        }
        for extra in ("angle",):
            if getattr(t, extra) is not None:
                fields[extra] = getattr(t, extra)
        if t.washers is not None:
            fields["lock_washers"] = t.washers
        if t.reused is not None:
            fields["reused"] = t.reused
        start = (
            min(t.mention.start, t.thing.start)
            if t.thing and t.mention.start - t.thing.start < 120
            else t.mention.start
        )
        sure = 0.95 if t.mention.dimension and t.thing else 0.85 if t.thing else 0.65
        drafts.append(
            Draft(
                "torques",
                fields,
                start,
                max(t.mention.end, t.thing.end if t.thing else 0),
                sure - (0.1 if t.copied else 0),
            )
        )
    return drafts


# ---- what counts ----------------------------------------------------------------------------------------------------


def _stands(note: Note, m: Mention) -> bool:
    clause = m.clause
    hearsay = note.nearest_before("scope", "hearsay", m.first, 7)
    if hearsay and not note.mention_between(hearsay[1], m.first):
        return False
    left = [b for a, b in note.cues("torques", "untouched") if a >= m.first - 9 and b < m.first]
    if left and not any(left[-1] < a and b < m.first for a, b in note.cues("torques", "applied")):
        return False
    if clause is None:
        return True
    if any(0 < a - m.last <= 3 for a, _ in note.cues("scope", "hearsay_after")):
        return False
    if note.has("torques", "doubtful", m.first - 6, m.last + 8):
        return False
    if clause.negated and _denied(note, m):
        return False
    return not (clause.planned and not _document(note, m, None))


def _denied(note: Note, m: Mention) -> bool:
    if note.has("scope", "negation_only", m.first - 8, m.last + 1):
        return False
    denials = [b for _, b in note.cues("scope", "negation") if b < m.first and m.first - b <= 6 and not note.mention_between(b, m.first)]
    verbs = [a for a, _ in note.cues("torques", "tightened") if a < m.first]
    # "neither cotter nuts pulled up to eighty five" is not what was denied
    return any(not any(b + 2 < a for a in verbs) for b in denials)


# ---- which fastener -------------------------------------------------------------------------------------------------


def _fastener(note: Note, m: Mention, earlier: list[Torque]) -> tuple[Thing | None, str]:
    """The fastener that the torque belongs to: named right after ("on the drain plug"), right before, or earlier."""
    after = _got_it(note, m) or _right_after(note, m) or _named_after(note, m)
    if after is not None:
        return after, _pointed(note, after) or _name(note, after)
    previous = earlier[-1] if earlier else None
    floor = max(note.sentence(m.first)[0], (previous.mention.last + 1) if previous else 0)
    before = sorted([*note.things_before(m.first), *_misread_before(note, m)], key=lambda t: -t.first)
    candidates = [t for t in before if t.last >= floor and _can_be_tightened(note, t)]
    close = [
        t for t in candidates if note.strange(t.last, m.first) == 0 and m.first - t.last <= 5 and not _aside(note, t) and not _tended(note, t)
    ]
    if previous is not None and (sized := _sized(note, m, previous)):
        return previous.thing, sized
    if close and (is_fastener(close[0]) or (close[0].hit is not None and close[0].hit.kind == "component")):
        return close[0], _name(note, close[0])
    sure = [t for t in candidates if is_fastener(t, True) and not _aside(note, t)]
    if sure:
        return sure[0], _name(note, sure[0])
    if previous is not None and (one := _the_one(note, m, previous)):
        return previous.thing, one
    if previous is not None and m.first - previous.mention.last <= 30 and not [t for t in candidates if is_fastener(t)]:
        return previous.thing, previous.fastener
    back = [t for t in before if _can_be_tightened(note, t) and not _aside(note, t)]
    back.sort(key=lambda t: _tended(note, t))
    for choose in (
        lambda t: is_fastener(t, True),
        is_fastener,
        lambda t: t.hit is not None and t.hit.kind == "component",
    ):
        if picked := next((t for t in back if choose(t)), None):
            return picked, _name(note, picked)
    if m.dimension is not None:
        opens = note.sentence(m.first)[0]
        loose = [t for t in note.things_before(m.first, opens) if not t.kind and not t.other]
        if loose and note.has("torques", "tightened", loose[0].last, m.first):
            return loose[0], _name(note, loose[0])  # "the oak planks are down, bolted at 35 newton metres"
    return None, ""


def _tended(note: Note, thing: Thing) -> bool:
    """True for what was only greased or cleaned: "both shackles are new greased the bushings fifty foot pounds"."""
    return any(w in word_list("torques", "tended") for w in note.words[max(0, thing.first - 1) : thing.first + 1])


def _misread_before(note: Note, m: Mention) -> list[Thing]:
    return [t for t in fasteners_misread(note) if t.last < m.first]


def _can_be_tightened(note: Note, thing: Thing) -> bool:
    kind = thing.kind
    return (
        kind not in ("tool", "consumable", "machine", "meter", "place_of")
        and (not thing.other or note.words[thing.first] == "her")  # "oil in her drain plug at twenty five": the machine's
        and stem(thing.words[-1] if thing.words else "") not in word_list("torques", "not_tightened")
        and (bool(kind) or is_fastener(thing))
    )


def _aside(note: Note, thing: Thing) -> bool:
    return beside(note, thing) or figure_of_speech(note, thing) or written_on(note, thing)


def _named_after(note: Note, m: Mention) -> Thing | None:
    i = m.last + 1
    if i < len(note.words) and note.words[i] in word_list("scope", "belonging") and not note.gaps[i]:
        for thing in note.talk.things:
            if (
                i < thing.first <= i + 3
                and note.strange(i, thing.first) <= 0
                and is_fastener(thing)
                and not thing.other
            ):
                if "that" in note.words[i : thing.first + 1] and any(
                    is_fastener(t, True) for t in note.things_before(m.first, m.first - 20)
                ):
                    return None
                following = next((x for x in note.mentions if x.first > m.last), None)
                if (
                    following
                    and following.role == "torque"
                    and 0 <= following.first - thing.last <= 3
                    and _has_before(note, m)
                ):
                    return None
                return thing
    return None


def _right_after(note: Note, m: Mention) -> Thing | None:
    """The fastener of "10 Nm reed screws", where none was named in the same breath before."""
    if m.last + 1 >= len(note.words) or note.gaps[m.last + 1] or m.dimension is None:
        return None
    thing = next((t for t in note.talk.things if t.first == m.last + 1 and is_fastener(t, True) and not t.other), None)
    if thing is None:
        return None
    opens = next((i for i in range(m.first, 0, -1) if note.gaps[i]), 0)
    return thing if not any(t.first >= opens and is_fastener(t) for t in note.things_before(m.first, opens)) else None


def _got_it(note: Note, m: Mention) -> Thing | None:
    """The fastener of "two hundred and fifty is what that nut got"."""
    said = got_after(note, m)
    if said is None:
        return None
    inside = [t for t in note.talk.things if said[0] <= t.first and t.last <= said[1] and is_fastener(t, True)]
    return inside[0] if inside else None


def _pointed(note: Note, thing: Thing) -> str:
    """The full name of "that nut": the one so called before, or the nut of the part named before."""
    if thing.last - thing.first > 1 or note.words[thing.first] not in word_list("scope", "pointing"):
        return ""
    head = note.words[thing.last].rstrip("s")
    earlier = [t for t in note.things_before(thing.first, thing.first - 60) if not t.other and not written_on(note, t)]
    for t in earlier:
        if note.words[t.last].rstrip("s") == head:
            return _name(note, t)
    part = next((t for t in earlier if t.kind == "component"), None)
    return f"{part.name} {note.words[thing.last]}" if part else ""


def _named_later(note: Note, m: Mention) -> tuple[Thing, str] | None:
    """The fastener of a target that is only named with what was done: "the shank says two fifty foot pounds so two
    hundred and fifty is what that nut got".
    """
    following = next((x for x in note.mentions if x.first > m.last and not x.dropped), None)
    if following is None or following.value != m.value or following.first - m.last > 8:
        return None
    named = got_by_name(note, m)
    if named is not None and note.nearest_before("scope", "document_says", m.first, 3):
        return named, _name(note, named)
    written = next((t for t in note.things_before(m.first, m.first - 6) if written_on(note, t)), None)
    thing = _got_it(note, following) if written is not None else None
    return (thing, _pointed(note, thing) or _name(note, thing)) if thing is not None else None


def _sized(note: Note, m: Mention, previous: Torque) -> str:
    """ "the little ones fifteen": the last fastener in another size."""
    i = m.first - 1
    while i > previous.mention.last and note.words[i] in word_list("scope", "present") | word_list("torques", "sizes_to"):
        i -= 1
    if i > previous.mention.last and note.words[i] in word_list("torques", "size_names"):
        kept = [w for w in previous.fastener.split() if plain(w) not in word_list("torques", "sizes")]
        return " ".join([note.words[i].removesuffix("s"), *kept])
    if i - 1 <= previous.mention.last or note.words[i] not in word_list("scope", "ones"):
        return ""
    size, sizes = note.words[i - 1], word_list("torques", "sizes")
    if size not in sizes:
        return ""
    return " ".join([size, *(w for w in previous.fastener.split() if plain(w) not in sizes)])


def _has_before(note: Note, m: Mention) -> bool:
    return any(
        m.first - t.last <= 5 and is_fastener(t) and not note.mention_between(t.last, m.first)
        for t in note.things_before(m.first, m.first - 8)
    )


def _the_one(note: Note, m: Mention, previous: Torque) -> str:
    """ "the upper one": the last fastener in another place."""
    for i in range(m.first - 1, max(0, m.first - 14), -1):
        if (
            note.words[i] in word_list("scope", "ones")
            and note.talk.words[i - 1].place is not None
            and i > previous.mention.last
        ):
            place = note.words[i - 1]
            named = range(max(0, previous.thing.first - 1), previous.thing.last + 1) if previous.thing else ()
            opposite = {note.words[k] for k in named if note.talk.words[k].place is not None}
            kept = [w for w in previous.fastener.split() if w not in opposite]
            return " ".join([place, *kept])
        if note.owner[i] >= 0:
            break
    return ""


def _name(note: Note, thing: Thing) -> str:
    name = thing.full
    if thing.kind == "component" and stem(thing.words[-1]) == "wheel" and len(thing.words) == 1:
        name = f"{note.words[thing.last].removesuffix('s')} nuts"  # "wheels on at eighty": their nuts
    if len(thing.words) == 1 and is_fastener(thing, True) and (of := _bolted(note, thing)):
        name = f"{of} {note.words[thing.last]}"
    i = thing.first - 1
    if i >= 0 and note.talk.words[i].place is not None and not note.gaps[thing.first]:
        place = note.talk.words[i].token.lower
        if place not in name.split():
            name = f"{place} {name}"
    return name


def _bolted(note: Note, thing: Thing) -> str:
    """The part that plain "bolts" hold: the one said to be on in the sentence before ("gearbox mount in. bolts 60 nm")."""
    opens = note.sentence(thing.first)[0]
    if not opens or opens != thing.first:
        return ""
    for t in note.things_before(opens, note.sentence(opens - 1)[0]):
        if t.kind == "component" and not t.other and note.words[t.last + 1] in word_list("torques", "put_on") and t.last + 1 < opens:
            return t.full
    return ""


def _unit(note: Note, m: Mention, name: str, earlier: list[Torque]) -> str | None:
    """The unit of a torque said without one: that of the same fastener before, else the machine's own."""
    if m.dimension is not None:
        return None
    same = [t for t in earlier if t.fastener == name and t.mention.unit]
    if same:
        return same[-1].mention.unit
    for row in reversed(note.context.torques):
        if row.get("fastener") == name and row.get("unit"):
            return str(row["unit"])
    return note.context.locale.torque


# ---- target or applied ----------------------------------------------------------------------------------------------


def _document(note: Note, m: Mention, thing: Thing | None) -> bool:
    floor = max(note.sentence(m.first)[0], m.first - 14)
    before = [
        b
        for group in ("document", "document_says", "should")
        for a, b in note.cues("scope", group)
        if a >= floor and b < m.first
    ]
    if before and not note.mention_between(before[-1], m.first, lambda x: x.role != "torque"):
        return True
    return any(
        0 < a - m.last <= 5 and not note.mention_between(m.last, a) for a, b in note.cues("scope", "document_after")
    )


def _role(note: Note, m: Mention, thing: Thing | None, previous: Torque | None) -> str:
    if got_after(note, m):
        return "applied"
    on = next((t for t in note.things_before(m.first, m.first - 6) if written_on(note, t)), None)
    if on is not None and not note.mention_between(on.last, m.first) and not _given(note, on, m):
        return "target"
    if previous is not None and previous.role == "target" and said_again(note, previous.mention, m):
        return "applied"
    if m.first and note.words[m.first - 1] in word_list("torques", "books") | word_list("torques", "wanting") | word_list("torques", "says"):
        return "target"
    floor = max(note.sentence(m.first)[0], m.first - 16)
    if thing is not None and thing.last < m.first and m.first - thing.last <= 3:
        floor = max(floor, thing.first - 6)
    marks: list[tuple[int, str]] = []
    for group in ("document", "document_says", "should"):
        marks += [(b, "target") for a, b in note.cues("scope", group) if a >= floor and b < m.first and not _of_the_last(note, a, b, m)]
    marks += [(b, "applied") for a, b in note.cues("torques", "applied") if a >= floor and b < m.first]
    after = [a for a, b in note.cues("scope", "document_after") if 0 < a - m.last <= 4 and not note.mention_between(m.last, a)]
    marks = [(b, role) for b, role in marks if not note.mention_between(b, m.first)]
    so_it_is = m.last + 1 < len(note.words) and " ".join(note.words[m.last + 1 : m.last + 3]) in word_list(
        "torques", "so_it_is"
    )
    if so_it_is and not any(0 < a - m.last <= 2 for a in after):
        return "applied"
    applied = max((b for b, role in marks if role == "applied"), default=-1)
    target = max((b for b, role in marks if role == "target"), default=-1)
    if target >= 0 and target >= applied:
        return "target"
    if applied >= 0 and target >= 0:
        return "target" if note.words[applied] == "at" and target > applied - 3 else "applied"
    if applied >= 0:
        return "applied"
    if after:
        as_told = any(m.last < a <= m.last + 2 for a, _ in note.cues("torques", "same_target"))
        stated = note.words[m.first - 1] in word_list("scope", "present")
        return "applied" if as_told and not stated and thing is not None else "target"  # "nuts 4 lbft as the book says"
    verb = note.words[m.first - 1] if m.first else ""
    if (
        verb in word_list("scope", "present")
        and previous is not None
        and previous.role == "target"
        and m.first - previous.mention.last <= 8
    ):
        return "target"
    if (
        verb in word_list("scope", "present")
        and thing is not None
        and m.first - thing.last <= 3
        and not _gone_on(note, m)
    ):
        return "target"
    return "applied"


def _given(note: Note, on: Thing, m: Mention) -> bool:
    """True where a fastener named since was given it: "polarized it like the book says pivot bolt got thirty"."""
    named = [t for t in note.talk.things if on.last < t.first and t.last < m.first and is_fastener(t, True)]
    return bool(named) and note.has("torques", "applied", named[-1].last + 1, m.first - 1)


def _of_the_last(note: Note, a: int, b: int, m: Mention) -> bool:
    """True where the words of a book follow another figure and a new fastener is named since: "sixty five as it says in
    the book caliper bolts eighty two"."""
    told = any(x.role == "torque" and 0 < a - x.last <= 4 for x in note.mentions if x.last < a)
    return told and any(b < t.first and t.last < m.first and is_fastener(t, True) for t in note.talk.things)


def _gone_on(note: Note, m: Mention) -> bool:
    """True where threadlocker or "that's what I did" follows "the hub bolts are forty five foot pounds"."""
    end = min(len(note.words) - 1, m.last + 9)
    return any(note.has("torques", g, m.last + 1, end) for g in ("locker", "no_locker", "same_applied"))


def _copies(note: Note, found: list[Torque]) -> list[Torque]:
    """Torques that no number says: "and that is what they both got", "which is the number on the sticker"."""
    made: list[Torque] = []
    for group, want in (("same_applied", "applied"), ("same_target", "target")):
        for a, _ in note.cues("torques", group):
            before = [t for t in found if t.mention.last < a]
            if not before or a - before[-1].mention.last > 14:
                continue
            run = [before[-1]]
            for t in reversed(before[:-1]):
                if t.role == before[-1].role and run[-1].mention.first - t.mention.last <= 10:
                    run.append(t)
                else:
                    break
            both = bool(word_list("scope", "several") & set(note.words[a : a + 8]))
            both = both or ("they" in note.words[a : a + 8] and len({(t.fastener, t.mention.value) for t in run}) > 1)
            if want == "applied" and word_list("torques", "so") & set(note.words[max(0, a - 1) : a + 1]):
                _told_first(note, run[0])
            for t in run if both else run[:1]:
                if any(
                    x.fastener == t.fastener and x.mention.value == t.mention.value and x.role == want
                    for x in (*found, *made)
                ):
                    continue
                made.append(Torque(t.mention, t.fastener, t.thing, want, copied=True))
    for a, _ in note.cues("torques", "the_same"):
        before = [t for t in (*found, *made) if t.mention.last < a]
        thing = next((t for t in note.things_before(a, a - 5) if is_fastener(t, True) and a - t.last <= 2), None)
        if thing is not None and before and 0 <= thing.first - before[-1].mention.last <= 8:
            made.append(Torque(before[-1].mention, _name(note, thing), thing, before[-1].role, copied=True))
    return made


def _told_first(note: Note, t: Torque) -> None:
    """Make a figure that was only stated a target: "the drain plug's twenty so that's what it got"."""
    floor = t.thing.last if t.thing is not None and t.thing.last < t.mention.first else t.mention.first - 6
    if t.role == "applied" and not note.has("torques", "applied", floor, t.mention.first - 1):
        t.role = "target"


# ---- threadlocker and the like --------------------------------------------------------------------------------------


def _attach(note: Note, found: list[Torque], attribute: str) -> None:
    """Give each word of threadlocker, washers or re-use to the applied torque that it is said of."""
    applied = [t for t in found if t.role == "applied"]
    if not applied:
        return
    groups = {
        "locker": (("no_locker", False), ("locker", True)),
        "washers": (("washers", True),),
        "reused": (("reused", True),),
    }[attribute]
    taken: list[tuple[int, int]] = []
    for group, value in groups:
        for a, b in note.cues("torques", group):
            if any(x <= b and a <= y for x, y in taken):
                continue
            taken.append((a, b))
            if group == "no_locker" and a == b and note.words[a] == "dry" and not _dry_torque(note, a, applied):
                continue
            clause = note.clause(a)
            if clause is not None and (
                clause.hypothetical
                or clause.anothers
                or clause.planned
                or (clause.negated and value and attribute == "locker")
            ):
                if not (clause.negated and value and attribute == "locker"):
                    continue
                denied = any(y < a and a - y <= 4 for _, y in note.cues("scope", "negation"))
                value_now = False if denied else value
            else:
                value_now = value
            for t in _said_of(note, a, b, applied):
                if getattr(t, attribute) is None:
                    setattr(t, attribute, value_now)


def _dry_torque(note: Note, i: int, applied: list[Torque]) -> bool:
    return any(0 < i - t.mention.last <= 2 for t in applied)


def _said_of(note: Note, a: int, b: int, applied: list[Torque]) -> list[Torque]:
    before = [t for t in applied if t.mention.last < a]
    after = [t for t in applied if t.mention.first > b]
    if after:
        nxt = after[0]
        same_thing = nxt.thing is None or nxt.thing.last < a or b - a > 20
        close = nxt.mention.first - b <= 9
        fresh = not before or (
            nxt.thing is not None and nxt.thing.last < a and before[-1].mention.last < nxt.thing.first
        )
        if same_thing and close and fresh:
            return [nxt]
        if not before and nxt.mention.first - b <= 14 and note.sentence(a) == note.sentence(nxt.mention.first):
            return [nxt]  # "put threadlocker on the box bolts and torqued the box bolts to sixty five"
    if not before:
        return []
    last = before[-1]
    if a - last.mention.last > 32:
        return []
    words = note.words[max(0, a - 2) : b + 4]
    if word_list("scope", "several") & set(words):
        run = [last]
        for t in reversed(before[:-1]):
            if run[-1].mention.first - t.mention.last <= 10:
                run.append(t)
            else:
                break
        return run
    return [t for t in before if t.fastener == last.fastener and last.mention.last - t.mention.last <= 25]
