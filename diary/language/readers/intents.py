"""What the finders of plans share: an intention as found, its verb and end, when it falls due, what makes it none."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from diary.language.readers.deeds import mood
from diary.language.readers.phrases import PhraseList, Talk, Thing, folded, group, phrase_list, table
from diary.language.text import fold, verb_forms
from diary.language.types import Quantity, Utterance, When


@dataclass(slots=True)
class Intent:
    """A plan as found: words `verb` to `last`, the thing it is about, and how sure."""

    first: int
    verb: int
    last: int
    base: str
    thing: Thing | None
    pronoun: bool
    sure: float
    what: str = ""


def phrases_of(name: str) -> PhraseList:
    return phrase_list("plans", name)


@cache
def _plan_verbs() -> dict[tuple[str, ...], tuple[str, str]]:
    """Forms of the plan verbs: words → (base, tense)."""
    found: dict[tuple[str, ...], tuple[str, str]] = {}
    for verb in table("plans")["verbs"]:
        for form, tense in verb_forms(verb).items():
            if tense in ("base", "ing"):
                found[tuple(folded(w) for w in form.split())] = (verb, tense)
        found[tuple(folded(w) for w in verb.split())] = (verb, "base")
    return found


def size_at(t: Talk, k: int, phrases: PhraseList) -> int:
    """How many words the longest of the phrases that stands at word k has; 0 for none."""
    return len(phrases.at(t, k, gaps=0))


def verb_at(t: Talk, j: int, tense: str) -> tuple[str, int, bool] | None:
    """The verb that begins at word j in the tense asked: base form, words it takes, whether the lexicon calls it an
    action.
    """
    if j >= len(t.words):
        return None
    hit = t.words[j].action
    if hit is None and tense == "base" and t.fold(j) in table("work")["typed"] and not t.fold(j).endswith("d"):
        return t.fold(j), 1, True
    if hit is not None and tense_at(t, j) == tense:
        end = j
        while end + 1 < len(t.words) and t.words[end + 1].token.start < hit.end:
            end += 1
        for inner in t.between(j + 1, end)[:1]:
            end = inner.first - 1
        if str(hit.data.get("class")) not in ("driven", "ran"):
            return str(hit.data.get("verb", hit.name)), end - j + 1, True
    for size in (3, 2, 1):
        form = tuple(t.fold(j + n) for n in range(size))
        if form in _plan_verbs() and (
            _plan_verbs()[form][1] == tense or (tense == "base" and _plan_verbs()[form][0].split()[0] == form[0])
        ):
            return _plan_verbs()[form][0], size, False
    return None


def tense_at(t: Talk, j: int) -> str:
    """The tense of the action at word j; a form both base and past ("put", "cut") counts as base under a word of
    intention.
    """
    hit = t.words[j].action
    if hit is None:
        return ""
    tense = str(hit.data.get("tense") or "")
    if tense == "past" and fold(str(hit.data.get("verb", "")).split()[0]) == t.fold(j):
        return "base"
    return tense


def refused(t: Talk, k: int, first_if: bool = True) -> bool:
    """True where the words from k back make it no plan: denial, "would", another's, or an "if" that comes first."""
    m = mood(t, k, False)
    if (m.negated and not _not_to_forget(t, k)) or m.unreal or m.subject in ("other", "hands") or m.background:
        return True
    clause = t.words[k].clause
    if clause is not None and (clause.other_machine or clause.question or clause.retracted):
        return True
    if clause is not None and clause.quoted and not (t.fold(k - 1) == "reckon" and t.fold(k)[:1] in "iw"):
        return True
    if t.fold(k - 1) in group("refusing_before") and t.gap(k) == 0:
        return not t.phrase(k, "forget", "to")
    if not first_if:
        return False
    j, steps = k - 1, 0
    while j >= 0 and steps < 14 and t.gap(j + 1) < 2:
        w = t.fold(j)
        if w in ("if", "unless") and t.fold(j - 1) not in ("as",):
            # a later conjunction may have closed the condition: "if it leaks i'd ... and i need to ..."
            after = range(j + 1, k)
            own = any(t.fold(x) in group("self") and t.fold(x + 1) in group("modal") for x in after if x < k - 2)
            return not (own or any(t.fold(x) in ("and", "but", "anyway") for x in after))
        j -= 1
        steps += 1
    return False


def _not_to_forget(t: Talk, k: int) -> bool:
    """True where all that denies the words at k is a "don't let me forget" behind them."""
    if any(t.fold(j) in group("negation") for j in range(max(0, k - 9), k)):
        return False
    after = range(k, min(k + 16, len(t.words)))
    return any(t.fold(j) in ("don't", "dont") and "forget" in (t.fold(j + 1), t.fold(j + 3)) for j in after)


def phrase_end(t: Talk, j: int) -> int:
    """The last word of the plan that begins at word j."""
    raw = table("plans")["ends"]
    ends = phrase_list("plans", "ends", "words")
    k = j
    while k + 1 < len(t.words) and k - j < raw["most"]:
        nxt = k + 1
        if t.gap(nxt) == 2:
            break
        if nxt > j + 1 and ends.at(t, nxt):
            if (
                t.fold(nxt) == "and"
                and t.at.get(nxt + 1) is not None
                and t.ending.get(k) is not None
                and not _opens_sentence(t, nxt + 1)
            ):
                k += 1
                continue
            if t.fold(nxt) in ("i", "the", "it") and t.fold(k) in group("hold_on_condition"):
                k += 1
                continue
            if t.fold(nxt) in group("condition_subjects") and t.fold(k) in group("when_words"):
                k += 1
                continue
            if t.fold(nxt) == "so":
                break
            break
        k += 1
    return k


def _opens_sentence(t: Talk, k: int) -> bool:
    thing = t.at[k]
    return t.fold(thing.last + 1) in group("be") | group("have") | group("modal") - {"to"}


def component_before(t: Talk, k: int) -> Thing | None:
    before = [th for th in t.before(k) if not th.other and th.kind == "component"]
    return before[-1] if before else None


def when_named(t: Talk, u: Utterance, first: int, last: int) -> When | None:
    """The day to come that is named with the words first to last, or just before or after them."""
    if first >= len(t.words):
        return None
    today = u.at.date()
    lo = first
    while lo > 0 and first - lo < 6 and t.gap(lo) < 2:
        lo -= 1
    hi = min(last + 2, len(t.words) - 1)
    start, end = t.words[lo].token.start, t.words[hi].token.end
    own = [w for w in u.dates if w.until >= today and w.kind not in ("past",) and start <= w.start < end]
    inside = [w for w in own if w.start >= t.words[first].token.start and w.start <= t.words[last].token.end]
    near = [
        w
        for w in own
        if w not in inside and w.start < t.words[first].token.start and w.end >= t.words[max(lo, first - 5)].token.start
    ]
    after = [w for w in own if w not in inside and w not in near]
    future = [w for w in inside if w.until > today or w.kind == "day"]
    if future:
        days = [w for w in future if w.kind == "day"]
        return (days or future)[-1 if len(days) > 1 else 0]
    before = [w for w in near if w.day > today]
    if before:
        return before[-1]
    return after[0] if after and after[0].day > today else None


def distance_named(t: Talk, u: Utterance, first: int, last: int) -> Quantity | None:
    """A distance or engine hours after which the plan falls due."""
    start, end = t.words[first].token.start, t.words[min(last + 1, len(t.words) - 1)].token.end
    for q in u.quantities:
        if q.unit in ("mi", "km", "h") and start <= q.start < end:
            i = t.index(q.start)
            signed = "@" in u.text[max(0, q.start - 2) : q.start]
            if signed or any(t.fold(x) in group("before_distance") for x in range(max(0, i - 3), i)):
                return q
    return None


def condition_named(t: Talk, first: int, last: int) -> str:
    """The words that say what the plan waits for."""
    phrases = phrases_of("conditions")
    for k in range(first, last + 1):
        size = size_at(t, k, phrases)
        if not size or k == last:
            continue
        if t.fold(k) == "in" and not any(t.words[x].number is not None for x in range(k, min(k + 3, last + 1))):
            continue
        if t.fold(k) in ("by", "come") and k + 1 not in t.at and t.fold(k + 1) != "the":
            continue
        return t.text(k, last)
    return ""
