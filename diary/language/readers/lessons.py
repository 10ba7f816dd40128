"""Reader of lessons: what the speaker will know next time ("lesson: glue the ring first").

An opening phrase of `data/readers/lessons.toml` starts one; it runs to the end of the sentence, or, where talk has
no full stops,
to a word that leaves the subject.
"""

from __future__ import annotations

from functools import lru_cache

from diary.language.readers.phrases import Talk, group, phrase_list, table, talk
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "lessons"."""
    t = talk(utterance)
    drafts: list[Draft] = []
    k = 0
    while k < len(t.words):
        opening = _opening(t, k)
        if opening is None:
            k += 1
            continue
        first, sure = opening
        last = _end(t, first)
        if last - first < 1:
            k = first
            continue
        start, end = t.words[first].token.start, t.words[last].token.end
        drafts.append(Draft("lessons", {"what": utterance.text[start:end]}, t.words[k].token.start, end, sure))
        k = last + 1
    return drafts


def _opening(t: Talk, k: int) -> tuple[int, float] | None:
    """The lesson's first word, and how sure, where an opening phrase stands at word k."""
    raw = table("lessons")
    if (learnt := _learnt(t, k)) is not None:
        return learnt, 0.88
    phrase = phrase_list("lessons", "opens").at(t, k)
    if phrase:
        weak = " ".join(phrase) in raw["instructing"]
        first = k + len(phrase)
        marked = t.gap(first) > 0
        before = t.fold(k - 1) if t.gap(k) == 0 else ""
        if before in raw["not_after"] or (before in group("others") or (t.gap(k) == 0 and k and t.words[k - 1].person)):
            return None
        while t.fold(first) in group("before_lesson") and first < k + len(phrase) + 3:
            if t.fold(first) == "that" and t.gap(first):
                break
            first += 1
        if phrase[-1] in group("lesson_heads") and t.fold(first) in group("about_words"):
            verb = next(
                (
                    j
                    for j in range(first, min(first + 7, len(t.words)))
                    if t.fold(j) in ("is", "was")
                    or t.gap(j + 1) == 2
                    or (j + 1 < len(t.words) and t.words[j + 1].colon)
                ),
                None,
            )
            if verb is not None and verb + 1 < len(t.words) and t.words[verb + 1].colon:
                return verb + 1, 0.92
            if verb is None or t.fold(verb) not in ("is", "was"):
                verb = next(
                    (j - 1 for j in range(first + 1, min(first + 5, len(t.words))) if t.fold(j) in raw["ruling"]), None
                )
            if verb is None:
                return None
            first, marked = verb + 1, True
            while t.fold(first) in ("that", "to") and first + 1 < len(t.words):
                first += 1
        if first >= len(t.words):
            return None
        word = t.fold(first)
        heads = t.gap(k) == 2 and phrase[-1] in raw["stating"] and word not in raw["after_head"]
        ruled = (
            word in raw["commands"]
            or heads
            or _orders(word)
            or (phrase[-1] in raw["stating"] and word in raw["statements"])
        )
        if " ".join(phrase) in raw["self_notes"] and (not ruled or word in raw["errands"]):
            return None  # "mental note, the mirror needs tightening": to be done, not learnt
        if weak and not marked and (not ruled or word in raw["not_before"]):
            return None
        if word in raw["not_before"] and weak:
            return None
        clause = t.words[k].clause
        if clause is not None and (clause.other_machine or clause.retracted):
            return None
        return first, 0.92 if not weak or marked else 0.82
    return None


@lru_cache(maxsize=2048)
def _orders(word: str) -> bool:
    """True for a verb of the trade in its plain form, which after "lesson" is an instruction."""
    from diary.language.lexicon import load

    return any(
        h.kind == "action" and h.start == 0 and h.data.get("tense") == "base"
        for h in load(None).find(f"{word} the bolts")
    )


def _learnt(t: Talk, k: int) -> int | None:
    """The lesson's first word where "if i've learnt owt it's ..." or "what did we learn? ..." stands at word k."""
    raw = table("lessons")["learnt"]
    if t.fold(k) not in raw["verbs"] or t.fold(k - 1) in raw["not_after"]:
        return None
    if not any(t.fold(j) in raw["self"] for j in range(max(0, k - 5), k)):
        return None
    asked = any(t.fold(j) in ("what", "whatve") for j in range(max(0, k - 5), k))
    for j in range(k + 1, min(k + 10, len(t.words) - 1)):
        if t.gap(j) == 2:
            return j if asked else None
        if t.fold(j) in raw["is"] or t.words[j].colon:
            first = j if t.words[j].colon and t.fold(j) not in raw["is"] else j + 1
            while t.fold(first) in ("that", "to", "this") and first + 1 < len(t.words):
                first += 1
            return first
        if asked and t.fold(j) in table("lessons")["commands"]:
            return j
    return None


def _end(t: Talk, first: int) -> int:
    raw = table("lessons")
    ends = phrase_list("lessons", "ends")
    k = first
    while k + 1 < len(t.words) and k - first < raw["most"]:
        if t.gap(k + 1) == 2 or ends.at(t, k + 1):
            break
        k += 1
    return k
