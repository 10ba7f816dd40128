"""The vocabulary that a recogniser is told to expect."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def prompt(words: Sequence[str]) -> str | None:
    """`words` as the text that Whisper is made to believe it has just written; None where there are none."""
    return ", ".join(words) + "." if words else None


def chosen(lexicon: Iterable[str], own: Iterable[str] = (), most: int = 60) -> list[str]:
    """The words worth telling, this diary's own first, then the lexicon's; each once, at most `most`."""
    seen: dict[str, str] = {}
    for word in (*own, *lexicon):
        seen.setdefault(word.casefold(), word)
    return list(seen.values())[:most]
