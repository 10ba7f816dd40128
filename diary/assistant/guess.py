"""A second opinion on what a question means, learned from example wordings (data/examples.toml).

Multinomial naive Bayes over words and neighbouring pairs (Manning, Raghavan and Schütze, Introduction to Information
Retrieval,
chapter 13), with words that no example has standing for "some thing". It is asked only where the phrases of the
grammar give no
reading; training takes a few milliseconds and happens then.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from math import exp, log

from diary.assistant.words import stem, table, words

SMOOTH = 0.35
PAIR = 0.7  # how much a pair of words counts beside a word


@cache
def _days() -> frozenset[str]:
    rows = table("windows")
    return frozenset(
        [*rows["weekdays"], *rows["months"], *rows["ordinals"], *rows["spans"], "today", "yesterday", "tomorrow"]
    )


def _features(tokens: Sequence[str], known: frozenset[str] | None) -> list[tuple[str, float]]:
    """Words and pairs; days and numbers by their kind, unknown words as "some thing"."""
    plain = []
    for t in tokens:
        if t in _days():
            plain.append("<day>")
        elif t[0].isdigit():
            plain.append("<number>")
        else:
            s = stem(t)
            plain.append(s if known is None or s in known else "<thing>")
    marked = ["<start>", *plain, "<end>"]
    return [(w, 1.0) for w in plain] + [(f"{a} {b}", PAIR) for a, b in pairwise(marked)]


@cache
def _model() -> tuple[dict[str, dict[str, float]], dict[str, float], frozenset[str], dict[str, float]]:
    """Log likelihoods by family, the log likelihood of an unseen feature by family, the known words, priors."""
    examples: dict[str, str] = table("examples")
    seen: Counter[str] = Counter()
    for text in examples.values():
        for line in text.strip().splitlines():
            seen.update({stem(w.text) for w in words(line)})
    known = frozenset(w for w, n in seen.items() if n > 1)
    counts: dict[str, Counter[str]] = {}
    sizes: dict[str, int] = {}
    for family, text in examples.items():
        lines = text.strip().splitlines()
        sizes[family] = len(lines)
        row: Counter[str] = Counter()
        for line in lines:
            for feature, weight in _features([w.text for w in words(line)], known):
                row[feature] += weight  # type: ignore[assignment]
        counts[family] = row
    vocabulary = len({f for row in counts.values() for f in row})
    likely, unseen = {}, {}
    for family, row in counts.items():
        total = sum(row.values()) + SMOOTH * vocabulary
        likely[family] = {f: log((n + SMOOTH) / total) for f, n in row.items()}
        unseen[family] = log(SMOOTH / total)
    whole = sum(sizes.values())
    return likely, unseen, known, {f: log(n / whole) for f, n in sizes.items()}


def guess(text: str) -> list[tuple[str, float]]:
    """The families by how likely the wording is theirs, likeliest first, with probabilities (sum 1)."""
    likely, unseen, known, prior = _model()
    tokens = [w.text for w in words(text)]
    features = _features(tokens, known)
    heard_of = sum(1 for t in tokens if stem(t) in known or t in _days()) / max(1, len(tokens))
    scores = {}
    for family, row in likely.items():
        scores[family] = prior[family] * 0.3 + sum(weight * row.get(f, unseen[family]) for f, weight in features)
    top = max(scores.values())
    # long questions make naive Bayes too sure of itself, a root of the odds is a fairer figure; and of words that it
    # has never
    # heard it knows little
    softer = {f: exp((s - top) * max(heard_of, 0.05) / 2.0) for f, s in scores.items()}
    total = sum(softer.values())
    return sorted(((f, p / total) for f, p in softer.items()), key=lambda r: -r[1])
