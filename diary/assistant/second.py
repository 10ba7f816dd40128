"""What a question may mean where its first reading found nothing: slips of typing mended, and the records as witnesses.

A question that names no family in so many words ("strap bolt", "split how long") is often plain from what the diary holds: the
only thing of that name is a torque. The words that lean one way or the other are in data/answers.toml under [witness].
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from math import log

from diary.assistant.answer import Answer
from diary.assistant.answers_faults import thread_notes
from diary.assistant.facts import Facts, answers_table, entity, fault_text, is_corner
from diary.assistant.questions import UNDERSTOOD, Query, understand, vocabulary
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


@dataclass(frozen=True, slots=True)
class Names:
    """What a question asks about, split by what the records know: `met` stems are in some record, `things` are parts of a machine
    that no record names. Other words ("whatever", "thrown") tell nothing and are in neither."""

    met: tuple[str, ...]
    things: tuple[str, ...]

    @property
    def all(self) -> tuple[str, ...]:
        return (*self.things, *self.met)


def names_in(facts: Facts, query: Query) -> Names:
    """The names in what a question asks about."""
    plain = _cue_stems() | _number_stems()
    stems = [s for s in entity(query.stems) if s not in plain]
    known: frozenset[str] = facts.kept("record words", lambda: _record_words(facts))
    strange = [w for w in query.about if (c := content(w)) and c[0] in stems and c[0] not in known]
    if strange:
        from diary.assistant.systems import things_in

        named = things_in(query.text)
        things = tuple(content(w)[0] for w in strange if content(w)[0] in named)
    else:
        things = ()
    return Names(tuple(s for s in stems if s in known), things)


def _record_words(facts: Facts) -> frozenset[str]:
    texts = {t for kind in ("torques", "measures", "parts", "work", "plans") for t in facts.names(kind)}
    texts |= {fault_text(f) for f in facts.records("faults")}
    return frozenset(s for t in texts for s in content(t))


# which kinds of records answer a family that asks of a thing
_ANSWERED_BY = {
    "torque": ("torque",),
    "measure": ("measure",),
    "fault_status": ("fault",),
    "fault_cause": ("fault",),
    "fault_when": ("fault",),
    "spend": ("paid",),
    "count": ("part",),
    "parts_fitted": ("part",),
    "parts_ordered": ("part",),
    "parts_spare": ("part",),
    "when_last": ("work", "part"),
    "how_often": ("work", "fault"),
    "work_done": ("work", "part", "torque"),
    "when_next": ("plan",),
}
WITNESS = 2.5  # what a record of all the asked-about words adds to the log likelihood of a family
UNASKED = 0.6  # the share at which a family that asks of no thing stands
PLAIN = 0.9  # the learned share from which the records are not asked
FAINT = 0.02  # the share under which a reading is left out


def weighed(facts: Facts, query: Query, now: datetime, month_first: bool) -> Query:
    """The question in the reading that its wording and the records together make likeliest.

    "How much do you put on a glow plug" is a torque or a price by its words; where a torque of that name is noted and no price, it
    is the torque.
    """
    first = query.score - UNDERSTOOD if query.understood else query.score
    shares = [(query.family, first), *query.others]
    if not query.all_words or first >= PLAIN or not any(f in _ANSWERED_BY for f, _ in shares):
        return query
    names = names_in(facts, query)
    if not names.all or all(is_corner(s) for s in names.all):
        return query
    met = _shares(facts, names.all)

    def sure(family: str, likely: float) -> float:
        kinds = _ANSWERED_BY.get(family)
        return log(max(likely, 1e-6)) + WITNESS * (UNASKED if kinds is None else max(met[k] for k in kinds))

    best = max((f for f in shares if f[0] and f[1] >= FAINT), key=lambda f: sure(*f), default=None)
    if best is None or (best[0] == query.family and query.understood):
        return query
    if not query.understood and max((met[k] for k in _ANSWERED_BY.get(best[0], ())), default=0.0) < CLEAR:
        return query
    return understand(query.text, now.date(), month_first=month_first, family=best[0])


def _shares(facts: Facts, stems: tuple[str, ...]) -> dict[str, float]:
    """How much of the stems the best record of each kind has."""

    def share(names: Iterable[str]) -> float:
        return max((overlap(stems, n) for n in names), default=0.0)

    return {
        "torque": share(facts.names("torques")),
        "measure": share(facts.names("measures")),
        "fault": share(fault_text(f) for f in facts.records("faults")),
        "work": share(facts.names("work")),
        "part": share(facts.names("parts")),
        "paid": share(facts.names("parts", having="cost")),
        "plan": max((overlap(stems, p.what) for p in facts.records("plans") if p.state == "open"), default=0.0),
    }


# families that have an answer without a thing
_WHOLE = frozenset({"spend", "economy", "fuel_cost", "fuel_volume", "open_faults", "when_next", "lessons", "work_done"})


@cache
def _fastener_stems() -> frozenset[str]:
    return frozenset(s for w in answers_table("entity")["generic_fasteners"] for s in content(w)) - set(
        content("plugs wheel")
    )


@cache
def _number_stems() -> frozenset[str]:
    from diary.assistant.turns import number_words

    return frozenset(content(" ".join(number_words())))


def by_records(facts: Facts, query: Query) -> Iterator[Query]:
    """Readings by what records of that name the diary holds; those that the question's own words lean to come first."""
    names = names_in(facts, query)
    stems = names.all
    asked = tuple(w for w in query.about if set(content(w)) & set(stems))
    if (
        query.understood and stems != tuple(entity(query.stems)) and (names.met or query.family in _WHOLE)
    ):  # the same question without the words that tell nothing
        yield replace(query, about=asked, stems=stems)
    if not names.met or all(is_corner(s) for s in names.met):
        yield from _last_resort(facts, query)
        return
    least = (
        SURE if query.understood else CLEAR
    )  # what was plainly asked does not turn into something else by half a name
    tokens = set(query.all_words)
    lean = {
        kind
        for kind, cues in answers_table("witness").items()
        if tokens & set(cues) or any(len(c) == 1 and c in query.text for c in cues)
    } | _units_named(query)

    def share(names: Iterable[str]) -> float:
        return max((overlap(stems, n) for n in names), default=0.0)

    torque, measure = share(facts.names("torques")), share(facts.names("measures"))
    fault = share(fault_text(f) for f in facts.records("faults"))
    work, part = share(facts.names("work")), share(facts.names("parts"))
    paid = share(facts.names("parts", having="cost"))
    if fault < CLEAR and "ended" in lean:
        told = {n.id for n in facts.diary.search(" ".join(stems), 12) if overlap(stems, n.text) >= SURE}
        fault = 0.9 * any(told & set(thread_notes(facts, f)) for f in facts.records("faults"))
    plan = max((overlap(stems, p.what) for p in facts.records("plans") if p.state == "open"), default=0.0)
    wanted: dict[str, list[tuple[float, str]]] = {
        "money": [(paid + 1.0, "spend")],
        "much": [(paid + 0.2, "spend"), (measure + 0.1, "measure")],
        "when": [(plan + 0.4, "when_next"), (max(work, part) + 0.2, "when_last"), (fault + 0.3, "fault_when")],
        "since": [(fault + 0.5, "fault_when"), (max(work, part) + 0.2, "when_last")],
        "long": [(fault + 0.3, "fault_when"), (measure + 0.2, "measure")],
        "done": [(max(work, part) + 0.4, "work_done"), (fault, "fault_status")],
        "ended": [(fault + 0.4, "fault_status")],
        "why": [(fault + 0.4, "fault_cause")],
        "level": [(measure + 0.6, "measure")],
        "torque": [(torque + 0.6, "torque")],
        "many": [(part + 0.2, "count")],
    }
    if set(stems) & _fastener_stems():
        lean = lean | {"torque"}
    families = [row for kind in lean for row in wanted.get(kind, ())]
    leaned = {name for sure, name in families if sure >= CLEAR}
    families += [
        (torque + 0.1, "torque"),
        (measure + 0.05, "measure"),
        (fault, "fault_status"),
        (paid - 0.02, "spend"),
        (work - 0.1, "work_done"),
        (part - 0.15, "parts_fitted"),
    ]
    seen: set[str] = set()
    for sure, family in sorted(families, key=lambda f: -f[0]):
        if sure >= (CLEAR if family in leaned else least) and family not in seen:
            seen.add(family)
            yield replace(query, family=family, about=asked, stems=stems, score=2.0)
    yield from _last_resort(facts, query)


def _last_resort(facts: Facts, query: Query) -> Iterator[Query]:
    """The thing by the lexicon's own name for it; what was said of it."""
    kin = _called_otherwise(facts, query)
    if kin is not None:
        yield kin
    if not query.understood:
        told = tuple(w for w in query.about if facts.diary.search(w, 1))
        if told and len(told) >= len(query.about) / 2:
            yield replace(query, family="said", about=told, stems=tuple(content(" ".join(told))), score=2.0)


def _called_otherwise(facts: Facts, query: Query) -> Query | None:
    """The question with a thing called as the records call it ("oil drain bolt": "drain plug"), by the lexicon's own names."""
    from diary.assistant.systems import canonical, things_in

    wanted = canonical(query.named)
    covered = things_in(query.named)
    if not wanted or wanted <= set(answers_table("entity")["generic_fasteners"]):
        return None
    if any(s not in covered and s not in _number_stems() for s in entity(query.stems)):
        return None
    kinds = {"torque": ("torques",), "measure": ("measures",), "spend": ("parts",), "count": ("parts",)}.get(
        query.family, ("torques", "measures", "parts", "work")
    )
    for kind in kinds:
        for text in reversed(facts.names(kind)):
            if wanted <= canonical(text) and set(content(text)) != set(query.stems):
                return replace(query, about=tuple(text.split()), stems=tuple(content(text)))
    return None


def _units_named(query: Query) -> set[str]:
    """Which way the units that a question names lean: "mm" to a measure, "ftlb" to a torque."""
    from diary.assistant.answers_work import quantities_of
    from diary.calculators.conversion import units_named
    from diary.units import dimension

    kinds = {dimension(code) for code, _ in units_named(query.text)} - {"volume", "money", ""}
    if "torque" in kinds:
        return {"torque"}
    return {"level"} if kinds or quantities_of(query.all_words) else set()


@cache
def _cue_stems() -> frozenset[str]:
    return frozenset(s for cues in answers_table("witness").values() for w in cues for s in content(w))
