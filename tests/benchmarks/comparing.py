"""Words compared by their stems, as the rules of the labelled narrations compare them."""

from __future__ import annotations

import re
from typing import Any

STOP = frozenset(
    ["a", "an", "the", "of", "on", "in", "at", "to", "for", "and", "or", "with", "my", "is", "it", "its", "was", "that", "this", "from", "by", "up", "off", "out", "new", "one", "some", "i", "then", "than", "so", "still", "all"]
)  # fmt: skip


def stem(word: str) -> str:
    """A word without its commonest endings."""
    for end in ("ing", "ies", "es", "ed", "s", "y"):
        if word.endswith(end) and len(word) - len(end) >= 3:
            return word[: -len(end)]
    return word


def words(text: str) -> set[str]:
    return {stem(w) for w in re.findall(r"[a-z0-9]+", text.lower().replace("tyre", "tire")) if w not in STOP}


def right(answer: dict[str, Any], wanted: dict[str, Any]) -> bool:
    """Whether an answer is right by the rule above."""
    text = answer["answer"]
    numbers = [v["value"] for v in answer["values"] if isinstance(v["value"], int | float)]
    numbers += [float(x.replace(",", "")) for x in re.findall(r"\d[\d,]*\.?\d*", text) if x.strip(",")]
    keys = wanted.get("key_values") or []
    if keys:
        return all(any(abs(n - k) <= max(abs(k) * 0.006, 0.0051) for n in numbers) for k in keys)
    expected = words(wanted["answer"])
    share = len(expected & words(text)) / max(1, len(expected))
    return share >= 0.5 or (not answer["certain"] and re.search(r"can't|cannot|not|no ", wanted["answer"]) is not None)
