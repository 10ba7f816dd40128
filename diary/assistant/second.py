"""What a question may mean where its first reading found nothing: slips of typing mended, and the records as witnesses.

A question that names no family in so many words ("strap bolt", "split how long") is often plain from what the diary holds: the
only thing of that name is a torque. The words that lean one way or the other are in data/answers.toml under [witness].
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from functools import cache

from diary.assistant.answer import Answer
from diary.assistant.facts import Facts, answers_table, entity, fault_text
from diary.assistant.questions import Query, understand, vocabulary
from diary.assistant.words import content, overlap, words

CLEAR = 0.6  # the least share of the asked-about words that a record must have to be a witness
SURE = 0.99
SLIP = 4  # words shorter than this are not taken for slips of longer ones


def found_nothing(answer: Answer) -> bool:
    """Whether an answer tells nothing from the records, so that another reading may do better."""
    if answer.asks is not None and answer.asks["for"] != "which question":
        return False
    return not answer.certain and not answer.values and not answer.records


def readings(facts: Facts, query: Query, now: datetime, month_first: bool) -> Iterator[Query]:
    """Other readings of a question, likeliest first."""
    text = mended(facts, query.text)
    if text is not None:
        query = understand(text, now.date(), month_first=month_first)
        if query.understood:
            yield query
    yield from by_records(facts, query)


# -- slips --


def mended(facts: Facts, text: str) -> str | None:
    """The question with slips and short forms of typing mended; None where there is none.

    A word is a slip where neither the grammar of questions nor any note has it, and one word of the grammar or of the trade is
    one letter away (two in a long word).
    """
    out: list[str] = []
    changed = False
    for word in words(text):
        meant = word.text
        if word.text.isalpha() and word.text not in vocabulary():
            meant = _meant(facts, word.text)
        changed = changed or meant != word.text
        out.append(meant)
    return " ".join(out) if changed else None


@cache
def _short_forms() -> dict[str, str]:
    import tomllib

    from diary.language.text import DATA

    forms: dict[str, str] = tomllib.loads((DATA / "typed.toml").read_text(encoding="utf-8"))["words"]
    return forms


def _meant(facts: Facts, word: str) -> str:
    if word in _short_forms():
        return _short_forms()[word]
    if len(word) < SLIP or facts.diary.search(word, 1):
        return word
    near = _nearest(word, vocabulary())
    if near is None:
        from diary.language.heard import spelled_out
        from diary.language.lexicon import load

        near = spelled_out(word)
        if near == word:
            near = _nearest(word, load(None).vocabulary()) or word
    return near


def _nearest(word: str, known: frozenset[str]) -> str | None:
    """The known word that `word` is a slip of: by letters dropped, doubled, swapped or mistaken, the first letter kept."""
    from jellyfish import damerau_levenshtein_distance

    most = 2 if len(word) >= 8 else 1
    close = [
        (d, abs(len(k) - len(word)), k)
        for k in known
        if k[:1] == word[:1]
        and abs(len(k) - len(word)) <= most
        and len(k) >= SLIP
        and (d := damerau_levenshtein_distance(word, k)) <= most
    ]
    return min(close)[2] if close else None


# -- witnesses --


def by_records(facts: Facts, query: Query) -> Iterator[Query]:
    """Readings by what records of that name the diary holds; those that the question's own words lean to come first."""
    stems = [s for s in entity(query.stems) if s not in _cue_stems()]
    if not stems:
        return
    least = (
        SURE if query.understood else CLEAR
    )  # what was plainly asked is not turned into something else by half a name
    tokens = set(query.all_words)
    lean = [
        kind
        for kind, cues in answers_table("witness").items()
        if tokens & set(cues) or any(len(c) == 1 and c in query.text for c in cues)
    ]
    shares = {
        "torque": max((overlap(stems, t.fastener) for t in facts.records("torques")), default=0.0),
        "measure": max((overlap(stems, m.of) for m in facts.records("measures")), default=0.0),
        "fault": max((overlap(stems, fault_text(f)) for f in facts.records("faults")), default=0.0),
        "plan": max((overlap(stems, p.what) for p in facts.records("plans") if p.state == "open"), default=0.0),
        "part": max((overlap(stems, p.name) for p in facts.records("parts")), default=0.0),
        "work": max((overlap(stems, w.component) for w in facts.records("work")), default=0.0),
    }
    families = []
    if "money" in lean:
        families += [(shares["part"] + 1.0, "spend")]
    if "when" in lean:
        families += [
            (shares["plan"] + 0.4, "when_next"),
            (max(shares["work"], shares["part"]) + 0.2, "when_last"),
            (shares["fault"] + 0.3, "fault_when"),
        ]
    if "long" in lean:
        families += [(shares["fault"] + 0.3, "fault_when"), (shares["measure"] + 0.2, "measure")]
    if "done" in lean:
        families += [(max(shares["work"], shares["part"]) + 0.4, "work_done"), (shares["fault"], "fault_status")]
    if "ended" in lean:
        families += [(shares["fault"] + 0.4, "fault_status")]
    if "why" in lean:
        families += [(shares["fault"] + 0.4, "fault_cause")]
    if "level" in lean:
        families += [(shares["measure"] + 0.6, "measure")]
    families += [
        (shares["torque"] + 0.1, "torque"),
        (shares["measure"] + 0.05, "measure"),
        (shares["fault"], "fault_status"),
        (shares["work"] - 0.1, "work_done"),
        (shares["part"] - 0.15, "parts_fitted"),
    ]
    seen: set[str] = set()
    for share, family in sorted(families, key=lambda f: -f[0]):
        if share >= least and family not in seen:
            seen.add(family)
            about = tuple(w for w in query.about if set(content(w)) & set(stems)) or query.about
            yield replace(query, family=family, about=about, stems=tuple(stems), score=2.0)


@cache
def _cue_stems() -> frozenset[str]:
    return frozenset(s for cues in answers_table("witness").values() for w in cues for s in content(w))
