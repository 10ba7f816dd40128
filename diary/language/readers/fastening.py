"""Fasteners, and bare numbers that are torques."""

from __future__ import annotations

import re
from typing import Any

from diary.language.readers.numeric import Mention, Note, table, word_list
from diary.language.readers.phrases import Thing
from diary.language.text import stem

_HUNDREDTHS = re.compile(r"[1-9]\d*\.\d\d")
TORQUE_RANGE = {"ft_lb": (1.0, 900.0), "in_lb": (3.0, 600.0), "N_m": (1.0, 1200.0)}


def is_fastener(thing: Thing, sure: bool = False) -> bool:
    """True where the thing is something that is tightened to a torque."""
    last = stem(thing.words[-1]) if thing.words else ""
    if last in word_list("torques", "never_torqued"):
        return False
    if last in word_list("torques", "lids"):
        return thing.plural or any(stem(w) in word_list("torques", "lids_of") for w in thing.words[:-1])
    if thing.hit is not None and thing.hit.kind == "fastener":
        return True
    return last in table("torques")["sure_heads" if sure else "heads"]


def beside(note: Note, thing: Thing) -> bool:
    """True for a thing that only says where another is: "the sticker on the swingarm", "lug nuts on that wheel"."""
    if thing.first and note.gaps[thing.first]:
        return False
    if note.words[thing.first] == "her" and is_fastener(thing, True):
        return False  # "put five quarts in her drain plug at twenty five": no punctuation, the plug is her own
    held = next((t for t in note.talk.things if t.last == thing.first - 2), None)
    if held is not None and note.words[thing.first - 1] == "to" and is_fastener(held, True) and thing.kind == "component":
        return True  # "nuts to booster 18"
    i = thing.first - 1
    if i >= 1 and note.words[i] in ("on", "in") and note.words[i - 1] in word_list("torques", "fitted_on"):
        return False  # "belt and tensioner all on pump bolts eight foot pounds"
    if (
        i >= 1
        and note.words[thing.first] in word_list("scope", "pointing")
        and note.words[i] in word_list("scope", "belonging")
    ):
        return True
    while i > 0 and note.words[i] in word_list("scope", "determiners"):
        i -= 1
    if i >= 1 and note.words[i - 1] in word_list("scope", "copulas"):
        return False  # "the coil is in the bracket screws are tiny"
    if i < 1 or note.words[i] not in word_list("scope", "where"):
        return False
    if note.owner[i - 1] >= 0 and i >= 2 and note.words[i - 2] in word_list("torques", "all_of"):
        return True  # "all eight on that wheel"
    return any(
        note.owner[k] < 0
        and (note.talk.words[k].thing is not None or stem(note.words[k]) in table("torques")["sure_heads"])
        for k in range(max(0, i - 2), i)
    )


def fasteners_misread(note: Note) -> list[Thing]:
    """Fasteners that grammar takes for a verb: "2 screws on the float bowl 3 Nm", "bolts on the cover ten newton meters"."""
    owned = {i for t in note.talk.things for i in range(t.first, t.last + 1)}
    found = []
    for i, word in enumerate(note.words[:-1]):
        if i in owned or stem(word) not in table("torques")["sure_heads"]:
            continue
        opens = word.endswith("s") and (i == 0 or note.gaps[i] > 0 or note.owner[i - 1] >= 0)
        kind = i > 1 and note.owner[i - 1] < 0 and note.words[i - 2] in word_list("scope", "determiners")
        placed = (kind and word.endswith("s")) or (i > 0 and (note.words[i - 1] in word_list("scope", "determiners") or note.place(i - 1) is not None))
        if (opens or placed) and note.words[i + 1] in word_list("scope", "where"):
            token = note.utterance.tokens[i]
            found.append(
                Thing(
                    i, i, token.start, token.end, word, True, None, plural=word.endswith("s"), bare=True, words=(word,)
                )
            )
    return found


def written_on(note: Note, thing: Thing) -> bool:
    """True for a thing on which a torque is written: "the shank says two fifty", "stamped on the pivot it says"."""
    after = note.words[thing.last + 1 : thing.last + 3]
    said = after[1:] if after[:1] == ["it"] else after[:1]
    return bool(word_list("torques", "written_verbs") & set(said[:1])) and not is_fastener(thing, True)


def got_after(note: Note, m: Mention) -> tuple[int, int] | None:
    """Where the words stand that say that a number was put on: "thirty is what they got"."""
    return next(((a, b) for a, b in note.cues("torques", "got_after") if a == m.last + 1), None)


def figure_of_speech(note: Note, thing: Thing) -> bool:
    """True for "driving me nuts" and "one of the good screw kind"."""
    before = note.words[thing.first - 1] if thing.first else ""
    after = note.words[thing.last + 1] if thing.last + 1 < len(note.words) else ""
    return before in word_list("torques", "no_fastener_after") or after in word_list("torques", "no_fastener_before")


def bare_torque(note: Note, m: Mention) -> tuple[float, str, dict[str, Any]]:
    nothing: tuple[float, str, dict[str, Any]] = (0.0, "", {})
    unit = note.context.locale.torque
    value = m.within(*TORQUE_RANGE.get(unit, (1.0, 900.0)))
    if value is None:
        return nothing
    if _no_torque(note, m) or _numbered(note, m):
        return nothing
    score, how = 0.0, {}
    first, _ = note.sentence(m.first)
    for thing in note.things_before(m.first, max(first, m.first - 12)):
        if thing.kind in ("tool", "consumable", "place_of") or beside(note, thing):
            continue
        if is_fastener(thing) and not figure_of_speech(note, thing):
            if not note.mention_between(
                thing.last, m.first, lambda x: x.value <= 12 and x.dimension is None and not x.role
            ):
                strange = note.strange(thing.last, m.first) - sum(
                    1 for w in note.between(thing.last, m.first) if w in word_list("torques", "torque_words")
                )
                series = any(x.role == "torque" and 0 <= thing.first - x.last <= 6 for x in note.mentions)
                sure = (
                    is_fastener(thing, True)
                    or (note.words[m.first - 1] == "to" and m.first - thing.last == 2)  # "both straps to seventeen"
                    or series
                    or note.has("torques", "tightened", max(first, thing.first - 4), m.first)
                )
                score = (3.4 if sure else 1.0) - strange - 0.05 * (m.first - thing.last)
            break
        if thing.kind == "component" or m.first - thing.last > 6:
            break
    said = [" ".join(note.words[max(first, m.first - n) : m.first]) for n in (2, 3)]
    if any(words in word_list("torques", "brought_to") for words in said) and value >= 3:
        part = next(iter(note.things_before(m.first, max(first, m.first - 8))), None)
        plainly = any(words.split(" ")[0] not in ("up", "to") and words in word_list("torques", "brought_to") for words in said)
        if part is not None and part.kind in ("component", "fastener") and plainly and not beside(note, part):
            score = max(score, 4.2 if stem(part.words[-1]) == "wheel" else 2.6)  # "cartridge done up to 68", "wheels on at 80"
        elif part is None and plainly:
            score = max(score, 2.0)
    named = any(is_fastener(t, True) for t in note.things_before(m.first, m.first - 15))
    graded = m.first and note.words[m.first - 1] in word_list("torques", "grades")
    colored = note.words[m.last + 1 : m.last + 2] and note.words[m.last + 1] in word_list("torques", "colors")
    locked = any(0 < a - m.last <= 2 for g in ("locker", "no_locker") for a, _ in note.cues("torques", g))
    if named and not graded and (locked or (colored and note.gaps[m.last + 1])):
        score = max(score, 2.6)  # "Sprocket and new nut, both on. 85, red"
    if named and any(0 < a - m.last <= 1 and "book" in note.words[a : b + 1] for a, b in note.cues("scope", "document_after")):
        score = max(score, 2.4)  # "Prop shaft bolts. Says 75 in the book"
    if any(
        thing
        for thing in note.talk.things
        if m.last + 1 < thing.first <= m.last + 4
        and note.words[m.last + 1 + (note.words[m.last + 1] == "each")] in word_list("scope", "belonging")
        and note.words[m.last + 2] not in word_list("scope", "indefinite")
        and is_fastener(thing, True)
        and note.strange(m.last, thing.first) == 0
    ):
        score = max(score, 2.6)
    if any(a == m.last + 1 for a, _ in note.cues("torques", "on_pronoun")) and (
        any(x.role == "torque" for x in note.mentions if x.last < m.first)
        or any(is_fastener(t, True) for t in note.things_before(m.first, m.first - 15))
    ):
        score = max(score, 2.4)
    says = note.nearest_before("scope", "document_says", m.first, 3)
    if (
        says
        and note.strange(says[1], m.first) == 0
        and any(is_fastener(t, True) for t in note.things_before(m.first, m.first - 15))
    ):
        score = max(score, 2.2)
    for a, b in (*note.cues("torques", "pronoun"), *note.cues("torques", "pronoun_weak")):
        if b < m.first <= b + 3 and note.strange(b, m.first) == 0:
            plainly = note.words[a] in word_list("torques", "plain")
            earlier = any(is_fastener(t, not plainly) for t in note.things_before(a, max(0, a - 60)))
            torqued = any(x.role == "torque" for x in note.mentions if x.last < m.first)
            strong = b - a >= 1
            if (earlier and strong) or torqued:
                score = max(score, 3.2 if strong else 1.9)
    previous = [x for x in note.mentions if x.last < m.first and x.role == "torque"]
    if got_after(note, m) and (
        previous or any(is_fastener(t, True) for t in note.things_before(m.first, m.first - 60))
    ):
        score = max(score, 3.2)  # "calls for thirty foot pounds and thirty is what they got"
    if says and got_by_name(note, m):
        score = max(score, 3.0)  # "the decal says seventy so the u bolts got seventy"
    if previous and said_again(note, previous[-1], m):
        score = max(score, 3.0)
    settled = any(0 < a - m.last <= 2 for a, _ in note.cues("scope", "document_after"))
    if previous and settled and previous[-1].value == m.value and m.first - previous[-1].last <= 12:
        score = max(score, 2.6)  # "wheel nuts 140, no, 130, 130 it is on the sticker"
    if m.first and _other_size(note, m) and (
        (previous and m.first - previous[-1].last <= 12) or (named and note.words[m.first - 1] in word_list("torques", "sizes_to"))
    ):
        score = max(score, 2.4)  # "nuts thirty seven foot pounds and the little ones fifteen"
    if (
        previous
        and m.first - previous[-1].last <= 3
        and note.has("torques", "stages", previous[-1].last + 1, m.first - 1)
    ):
        score = max(score, 2.6)  # "at thirty first and then sixty"
    if previous and m.first - previous[-1].last <= 14 and not note.mention_between(previous[-1].last, m.first):
        if (
            note.has("scope", "document", previous[-1].last + 1, m.first)
            or note.has("scope", "document_says", previous[-1].last + 1, m.first)
            or note.has("scope", "should", previous[-1].last + 1, m.first)
        ):
            score = max(score, 2.6 - 0.2 * note.strange(previous[-1].last, m.first))
        elif note.has("torques", "applied", previous[-1].last + 1, m.first - 1) and _goes_on(note, previous[-1], m):
            parts = [t for t in note.talk.things if previous[-1].last < t.first and t.last < m.first]
            troubled = any(note.talk.words[i].symptom is not None for i in range(previous[-1].last + 1, m.first))
            if troubled or any(t.kind == "component" and not is_fastener(t) and not beside(note, t) for t in parts):
                return (score if score > 2.6 else 0.0), "torque", {"unit": unit, "value": value}
            inside = sum(t.last - t.first + 1 for t in parts)
            score = max(score, 2.4 - 0.5 * max(0, note.strange(previous[-1].last, m.first) - inside))
        how["after"] = previous[-1]
    if score <= 0:
        return nothing
    return score, "torque", {"unit": unit, "value": value, **how}


def counted_off(note: Note, m: Mention) -> bool:
    """True for positions counted one after the other: "one two three and four all blow now"."""
    order = table("torques")["counted_off"]
    said = note.words[m.first : m.last + 1]
    if len(said) >= 2 and said == order[: len(said)]:
        return True
    before = next((x for x in reversed(note.mentions) if x.last == m.first - 2), None)
    joined = before is not None and note.words[m.first - 1] == "and" and counted_off(note, before)
    return joined and len(said) == 1 and said[0] in order


def _goes_on(note: Note, before: Mention, m: Mention) -> bool:
    """False where a new sentence speaks of no tightening: "tensioner bolt 42 Nm. silent at 3 cold starts"."""
    first, last = note.sentence(m.first)
    if first <= before.last:
        return True
    named = any(is_fastener(t) for t in note.talk.things if first <= t.first <= last)
    return named or any(note.has("torques", g, first, last) for g in ("tightened", "pronoun", "pronoun_weak", "got_after", "mine"))


def _numbered(note: Note, m: Mention) -> bool:
    """True for a thing's own number: "glow plug 3 is out"."""
    whole = float(m.value).is_integer() and m.value <= 12 and m.unit is None
    if not whole or not m.first or note.gaps[m.first] or note.words[m.first - 1] not in word_list("torques", "numbered"):
        return False
    nxt = note.words[m.last + 1] if m.last + 1 < len(note.words) else ""
    return nxt in word_list("scope", "copulas") or nxt in word_list("torques", "numbered") or (note.context.locale.torque != "in_lb" and m.value <= 8)


def _no_torque(note: Note, m: Mention) -> bool:
    """True for a price ("hose clamp 2.40": nobody writes a torque in hundredths) and for a rating ("sixteen pounder")."""
    after = note.words[m.last + 1] if m.last + 1 < len(note.words) and note.gaps[m.last + 1] < 2 else ""
    before = " ".join(note.words[max(0, m.first - 2) : m.first])
    following = next((x for x in note.mentions if x.first > m.last), None)
    counted = after == "of" or (following is not None and following.first - m.last <= 3 and following.dimension in (None, "torque"))
    if before in word_list("torques", "counting") or (before.split(" ")[-1] == "all" and float(m.value).is_integer() and counted):
        return True  # "all 190 of them", "went round all 16 at 75"
    if counted_off(note, m):
        return True
    if before in word_list("torques", "gauge_before"):
        return True
    if m.kind == "decimal" and word_list("torques", "metered") & set(note.words[max(0, m.first - 12) : m.last + 4]):
        return True  # "measured at the heater plug: 12.4 resting"
    if m.kind == "fraction" and m.value < 2:
        return True  # "came away in two halves"
    if after in word_list("torques", "counted_before") and float(m.value).is_integer() and m.kind != "range" and m.value < 60:
        return True
    if any(b == m.first - 1 and a < b for a, b in note.cues("fills", "paid")) and note.words[m.first - 1] == "to":
        return True  # "eight spark plugs came to thirty one"
    return priced_in_hundredths(note, m) or after in word_list("torques", "no_torque_before")


def priced_in_hundredths(note: Note, m: Mention) -> bool:
    """True for a number written as shops write sums: "2.40", "11.75"."""
    return m.dimension is None and _HUNDREDTHS.fullmatch(note.utterance.text[m.start : m.end]) is not None


def got_by_name(note: Note, m: Mention) -> Thing | None:
    """The fastener that is said next to have got the same figure."""
    following = next((x for x in note.mentions if x.first > m.last and not x.dropped), None)
    if following is None or following.value != m.value or following.first - m.last > 8:
        return None
    if not note.has("torques", "applied", m.last + 1, following.first - 1):
        return None
    inside = [t for t in note.talk.things if m.last < t.first and t.last < following.first and is_fastener(t, True)]
    return inside[-1] if inside else None


def said_again(note: Note, before: Mention, m: Mention) -> bool:
    """True where the figure just given is said once more: "spec 55 - done 55", "60, as on the sheet, 60"."""
    if before.value != m.value or m.first - before.last > 14 or note.mention_between(before.last, m.first, lambda x: not x.role):
        return False
    between = range(before.last + 1, m.first)
    named = any(note.has("scope", g, before.last + 1, m.first - 1) for g in ("document", "document_says"))
    return named or any(a in between and m.first - 4 <= b < m.first for g in ("mine", "pronoun") for a, b in note.cues("torques", g))


def follows_fastener(note: Note, m: Mention) -> bool:
    """True for a figure right behind a fastener, too great to count what follows: "lug nuts a hundred and forty pedals high"."""
    return m.value >= 30 and any(t.last == m.first - 1 and is_fastener(t, True) for t in note.things_before(m.first, m.first - 4))


def _other_size(note: Note, m: Mention) -> bool:
    i = m.first - 1
    while i > 0 and note.words[i] in word_list("scope", "present") | word_list("torques", "sizes_to"):
        i -= 1
    if note.words[i] in word_list("torques", "size_names") and m.value >= 2:
        return True
    return i > 0 and note.words[i] in word_list("scope", "ones") and note.words[i - 1] in word_list("torques", "sizes")
