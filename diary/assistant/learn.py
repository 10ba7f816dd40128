"""Learns what questions mean from data/examples.toml: `python -m diary.assistant.learn [--folds N]` writes data/guess.json.

To be run after examples.toml or questions.toml has changed (a test tells). With `--folds` nothing is written: the share of examples
is told whose family is guessed rightly when they are left out of the learning.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from base64 import b64encode
from collections import Counter
from datetime import date
from typing import Any

from diary.assistant.guess import features
from diary.assistant.questions import marks, tokens_of
from diary.assistant.words import DATA, stem, table

PENALTY = 2e-5  # of the squared weights, beside the mean log loss
LEAST = 2  # a feature seen less often is not learned
ROUNDS = 90
TODAY = date(2026, 5, 27)  # wordings with days are read as if asked then

Row = tuple[str, list[str], list[str]]  # family, tokens, marks of the grammar


def fingerprint() -> str:
    """What the model depends on, in a few letters."""
    told = b"".join((DATA / f"{name}.toml").read_bytes() for name in ("examples", "questions"))
    return hashlib.sha256(told).hexdigest()[:16]


def examples() -> list[Row]:
    """Every example with its family."""
    rows: list[Row] = []
    for family, text in table("examples").items():
        for line in text.strip().splitlines():
            tokens = tokens_of(line, TODAY)
            rows.append((family, tokens, marks(tokens, TODAY)))
    return rows


def fit(rows: list[Row]) -> tuple[list[str], list[str], list[str], Any]:
    """(families, features, known stems, weights): the weights a matrix of features by families, all of them dimensionless."""
    import numpy as np
    from scipy.optimize import minimize
    from scipy.sparse import csr_matrix

    stems = Counter(s for _, tokens, _ in rows for s in {stem(t) for t in tokens})
    known = frozenset(s for s, n in stems.items() if n >= LEAST)
    seen = [features(tokens, told, known) for _, tokens, told in rows]
    counts = Counter(f for row in seen for f in row)
    names = sorted(f for f, n in counts.items() if n >= LEAST)
    place = {f: i for i, f in enumerate(names)}
    families = sorted({family for family, _, _ in rows})
    y = np.array([families.index(family) for family, _, _ in rows])
    at = [(i, place[f], 1 / np.sqrt(len(row))) for i, row in enumerate(seen) for f in row if f in place]
    i, j, v = zip(*at, strict=True)
    x = csr_matrix((v, (i, j)), shape=(len(rows), len(names)))

    def loss(flat: Any) -> tuple[float, Any]:
        w = flat.reshape(len(names), len(families))
        z = x @ w
        z -= z.max(axis=1, keepdims=True)
        p = np.exp(z)
        p /= p.sum(axis=1, keepdims=True)
        picked = np.arange(len(rows))
        value = -np.log(p[picked, y] + 1e-300).mean() + PENALTY / 2 * float(flat @ flat)
        p[picked, y] -= 1
        return value, (x.T @ p / len(rows) + PENALTY * w).ravel()

    start = np.zeros(len(names) * len(families))
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": ROUNDS})
    return families, names, sorted(known), found.x.reshape(len(names), len(families))


def packed(rows: list[Row]) -> dict[str, Any]:
    """The model in the form that `guess` reads: weights rounded to a byte."""
    import numpy as np

    families, names, known, weights = fit(rows)
    scale = float(np.abs(weights).max()) / 127
    rounded = np.round(weights / scale).astype(np.int8)
    kept = np.abs(rounded).max(axis=1) > 0
    return {
        "made_of": fingerprint(),
        "families": families,
        "scale": scale,
        "known": " ".join(known),
        "features": "\n".join(n for n, k in zip(names, kept, strict=True) if k),
        "weights": b64encode(rounded[kept].tobytes()).decode(),
    }


def left_out(rows: list[Row], folds: int) -> tuple[float, float]:
    """The shares of examples whose family comes first, and among the first two, when they are left out of the learning."""
    import numpy as np

    first = second = 0
    for k in range(folds):
        families, names, known, weights = fit([r for i, r in enumerate(rows) if i % folds != k])
        place = {f: i for i, f in enumerate(names)}
        for family, tokens, told in rows[k::folds]:
            found = features(tokens, told, frozenset(known))
            z = sum((weights[place[f]] for f in found if f in place), np.zeros(len(families)))
            order = [families[i] for i in np.argsort(-z)[:2]]
            first += order[0] == family
            second += family in order
    return first / len(rows), second / len(rows)


def main() -> None:
    args = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    args.add_argument("--folds", type=int, default=0)
    given = args.parse_args()
    rows = examples()
    if given.folds:
        one, two = left_out(rows, given.folds)
        print(f"{one:.3f} of {len(rows)} left-out examples are guessed rightly, {two:.3f} within two guesses")
        return
    (DATA / "guess.json").write_text(json.dumps(packed(rows)) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
