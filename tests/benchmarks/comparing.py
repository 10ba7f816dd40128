"""Words compared by their stems, as the rules of the labelled narrations compare them."""

from __future__ import annotations

STOP = frozenset(
    ["a", "an", "the", "of", "on", "in", "at", "to", "for", "and", "or", "with", "my", "is", "it", "its", "was", "that", "this", "from", "by", "up", "off", "out", "new", "one", "some", "i", "then", "than", "so", "still", "all"]
)  # fmt: skip


def stem(word: str) -> str:
    """A word without its commonest endings."""
    for end in ("ing", "ies", "es", "ed", "s", "y"):
        if word.endswith(end) and len(word) - len(end) >= 3:
            return word[: -len(end)]
    return word
