"""Reader of shots: footage wanted, missed or filmed, and what it shows.

The phrases are in `data/readers/shots.toml`. What the shot shows is what follows the phrase ("want to film the
first start"), or,
where that is only "that" or "it", the talk just before.
"""

from __future__ import annotations

from diary.language.readers.phrases import Talk, phrase_list, table, talk
from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    """Drafts of kind "shots": `what` it shows and its `state` (wanted, missed, filmed)."""
    t = talk(utterance)
    drafts: list[Draft] = []
    k = 0
    while k < len(t.words):
        found = _phrase(t, k)
        if found is None:
            k += 1
            continue
        state, size = found
        first, last, behind = _shows(t, k, size)
        start, end = t.words[first].token.start, t.words[last].token.end
        what = utterance.text[start:end]
        spans = (t.words[k].token.start, end) if behind else (start, t.words[k + size - 1].token.end)
        drafts.append(Draft("shots", {"what": what, "state": state}, *spans, confidence=0.88))
        k = max(k + size, last + 1 if behind else k + size)
    return drafts


def _phrase(t: Talk, k: int) -> tuple[str, int] | None:
    """The state and length of the phrase about filming that stands at word k."""
    found = [(len(phrase_list("shots", state).at(t, k)), state) for state in ("missed", "wanted", "filmed")]
    size, state = max(found, key=lambda pair: pair[0])
    if not size:
        return None
    before = {t.fold(j) for j in range(max(0, k - 2), k) if t.gap(j + 1) < 2}
    if before & set(table("shots")["unless_before"]):
        return None
    clause = t.words[k].clause
    if clause is not None and clause.other_machine:
        return None
    return state, size


def _shows(t: Talk, k: int, size: int) -> tuple[int, int, bool]:
    """The words that tell what the shot shows: first, last, and whether they stand behind the phrase."""
    ahead = k + size
    closing = t.fold(ahead - 1)
    starts = ahead - 1 if closing == "the" else ahead
    if (
        starts < len(t.words)
        and t.gap(ahead) < 2
        and (closing == "the" or t.fold(ahead) not in table("shots")["empty"])
    ):
        last = ahead if ahead < len(t.words) else ahead - 1
        while (
            last + 1 < len(t.words)
            and t.gap(last + 1) == 0
            and last - starts < 9
            and t.fold(last + 1) not in table("shots")["ends"]
        ):
            last += 1
        return starts, last, True
    first = k - 1
    while first > 0 and k - first < 12 and t.gap(first) < 2:
        first -= 1
    first = max(first, 0)
    if t.gap(k) == 2 or k == 0:  # the shot is the sentence before
        first = max(0, k - 1)
        while first > 0 and t.gap(first) < 2 and k - first < 14:
            first -= 1
    return first, max(first, k - 1), False
