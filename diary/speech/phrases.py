"""The few phrases that the hands-free loop itself understands ("open the notebook"), found by how they sound."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diary.speech.bias import data
from diary.speech.repair import likeness

CLOSE = 0.84
"""How alike what was heard and a phrase must sound."""
CLOSER = 0.9
"""The same where it was heard as one word more or less."""
_WORD = re.compile(r"[A-Za-z0-9']+")


@dataclass(frozen=True, slots=True)
class Told:
    """A phrase that was heard: its meaning, and what was said before and after it."""

    meaning: str
    before: str
    after: str


class Phrases:
    """The phrases by meaning (`wake`, `stop`, `dictate`, `end_dictation`, `pause`, `resume`, `again`); `own` replaces
    some.
    """

    def __init__(self, own: Mapping[str, Iterable[str]] | None = None) -> None:
        self.known: dict[str, list[str]] = {meaning: list(said) for meaning, said in data()["phrases"].items()}
        for meaning, said in (own or {}).items():
            self.known[meaning] = list(said)

    def every(self) -> list[str]:
        """All phrases, for a recogniser that can be given a list."""
        return [phrase for phrases in self.known.values() for phrase in phrases]

    def find(self, text: str, meanings: Iterable[str], *, anywhere: bool = False) -> Told | None:
        """The phrase of one of `meanings` that `text` begins or ends with (or, `anywhere`, holds); None where there is
        none.
        """
        words = list(_WORD.finditer(text))
        best: tuple[float, Told] | None = None
        for meaning in meanings:
            for phrase in self.known.get(meaning, ()):
                for start, end in _places(len(words), len(phrase.split()), anywhere):
                    heard = text[words[start].start() : words[end - 1].end()]
                    close = likeness(heard, phrase)
                    needed = CLOSE if end - start == len(phrase.split()) else CLOSER
                    if close >= needed and (best is None or close > best[0]):
                        before = text[: words[start].start()].strip(" ,.!?")
                        after = text[words[end - 1].end() :].lstrip(" ,.!?")
                        best = (close, Told(meaning, before, after))
        return best[1] if best else None


def _places(count: int, length: int, anywhere: bool) -> Iterable[tuple[int, int]]:
    """Stretches of about `length` words: at the start, at the end, or all."""
    for size in (length, length - 1, length + 1):
        if size < 1 or size > count:
            continue
        starts = range(count - size + 1) if anywhere else {0, count - size}
        for start in starts:
            yield start, start + size
