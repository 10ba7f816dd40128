"""What a question means, learned from example wordings (data/examples.toml): the probability of each family.

Multinomial logistic regression (Hastie, Tibshirani and Friedman, The Elements of Statistical Learning, section 4.4) over the words
of a question, their pairs, the kinds of things they name, and what the phrases of the grammar make of it. So a phrase that fits
counts as much as it has proved to be worth over the examples, and words around it may speak against it. The weights are in
data/guess.json, made by `python -m diary.assistant.learn`; here they are only read.
"""

from __future__ import annotations

import json
from array import array
from base64 import b64decode
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import exp, sqrt

from diary.assistant.words import DATA, stem, table


@cache
def _days() -> frozenset[str]:
    rows = table("windows")
    return frozenset(
        [*rows["weekdays"], *rows["months"], *rows["ordinals"], *rows["spans"], "today", "yesterday", "tomorrow"]
    )


@cache
def _kinds() -> dict[str, str]:
    """Stems of words that say what kind of thing is asked about: a measured quantity, a unit of torque, a fastener."""
    rows = table("answers")
    found = {stem(f): f"<{quantity}>" for quantity, forms in rows["quantities"].items() for f in forms}
    found |= {stem(f): "<fastener>" for phrase in rows["entity"]["generic_fasteners"] for f in phrase.split()}
    return found


def features(tokens: Sequence[str], marks: Iterable[str], known: frozenset[str]) -> list[str]:
    """What the regression sees of a question: words and neighbouring pairs, days and numbers by their kind, words that it has not
    learned as a thing of the trade or as anything; and the marks that the grammar gave (`questions.marks`)."""
    from diary.assistant.systems import nouns

    plain: list[str] = []
    kinds: set[str] = set()
    for token in tokens:
        root = stem(token)
        if token in _days():
            plain.append("<day>")
        elif token[0].isdigit():
            plain.append("<number>")
        elif root in known:
            plain.append(root)
        else:
            plain.append("<part>" if root in nouns() else "<thing>")
        if root in nouns():
            kinds.add("<a part>")
        if root in _kinds():
            kinds.add(_kinds()[root])
    marked = ["<start>", *plain, "<end>"]
    return [*dict.fromkeys(plain), *(f"{a} {b}" for a, b in dict.fromkeys(pairwise(marked))), *sorted(kinds), *marks]


@dataclass(frozen=True, slots=True)
class Model:
    """The learned weights: `rows` gives a feature's place, `weights` holds a row of one byte a family for each; `scale` undoes the
    rounding to bytes. `known` are the stems learned, `made_of` tells the data it was learned from (`learn.fingerprint`)."""

    families: tuple[str, ...]
    rows: dict[str, int]
    known: frozenset[str]
    weights: array[int]
    scale: float
    made_of: str


@cache
def model() -> Model:
    """The model of data/guess.json."""
    told = json.loads((DATA / "guess.json").read_text(encoding="utf-8"))
    weights = array("b")
    weights.frombytes(b64decode(told["weights"]))
    names = told["features"].split("\n")
    return Model(
        tuple(told["families"]),
        {name: i for i, name in enumerate(names)},
        frozenset(told["known"].split()),
        weights,
        told["scale"],
        told["made_of"],
    )


def heard_of(tokens: Sequence[str]) -> float:
    """The share, 0 to 1, of the words that the examples or the lexicon have: of the others the regression knows nothing."""
    from diary.assistant.systems import nouns

    known = model().known
    met = sum(1 for t in tokens if stem(t) in known or t in _days() or t[0].isdigit() or stem(t) in nouns())
    return met / max(1, len(tokens))


def guess(tokens: Sequence[str], marks: Iterable[str]) -> list[tuple[str, float]]:
    """The families by how likely the wording is theirs, likeliest first, with probabilities (sum 1)."""
    learned = model()
    found = features(tokens, marks, learned.known)
    n = len(learned.families)
    sums = [0.0] * n
    for feature in found:
        at = learned.rows.get(feature)
        if at is not None:
            for k, w in enumerate(learned.weights[at * n : at * n + n]):
                sums[k] += w
    norm = learned.scale / sqrt(max(1, len(found)))
    top = max(sums)
    likely = [exp((s - top) * norm) for s in sums]
    total = sum(likely)
    return sorted(((f, p / total) for f, p in zip(learned.families, likely, strict=True)), key=lambda r: -r[1])
