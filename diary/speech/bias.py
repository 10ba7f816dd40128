"""The vocabulary that a recogniser is told to expect.

Whisper is biased by text that it takes for what was just said: an example of the manner of talk (`data/hearing.toml`)
and the words that are likely here. Vosk can only be given a closed list of phrases, where one of them is expected.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

LETTERS_A_TOKEN = 3.6
"""Whisper's word pieces are about this long in workshop talk (measured on the narrations; a space counts)."""


@lru_cache(maxsize=1)
def data() -> dict[str, Any]:
    """`data/hearing.toml`."""
    return tomllib.loads((files("diary.speech") / "data" / "hearing.toml").read_text("utf-8"))


def prompt(words: Sequence[str] = ()) -> str:
    """The hint for Whisper: as many of `words` as fit, the likeliest last (nearest to the speech), then the example."""
    example, room = data()["whisper"]["example"], int(data()["whisper"]["tokens"] * LETTERS_A_TOKEN)
    kept: list[str] = []
    room -= len(example)
    for word in words:
        room -= len(word) + 2
        if room < 0:
            break
        kept.insert(0, word)
    return f"{', '.join(kept)}. {example}" if kept else example


def chosen(lexicon: Iterable[str], own: Iterable[str] = (), most: int = 60) -> list[str]:
    """The words worth telling, this diary's own first, then the lexicon's; each once, at most `most`."""
    seen: dict[str, str] = {}
    for word in (*own, *lexicon):
        seen.setdefault(word.casefold(), word)
    return list(seen.values())[:most]


def vocabulary(own: Iterable[str] = (), most: int = 20) -> list[str]:
    """The words to tell a recogniser: `own` names of this diary (parts, fasteners, nicknames) first, then the trade's.

    Twenty, since more make Whisper hear words better but figures worse (measured).
    """
    return chosen(data()["vocabulary"]["words"], own, most)


@lru_cache(maxsize=1)
def lexicon_terms() -> tuple[str, ...]:
    """Names of things of two words or more that the lexicon's data files hold (components, fasteners, consumables).

    The files are read as data: this room imports nothing of the language room.
    """
    folder = files("diary") / "language" / "data" / "lexicon"
    found: dict[str, None] = {}
    for file in sorted(folder.iterdir(), key=lambda f: f.name):
        if file.name.startswith(("components", "fasteners", "consumables")) and file.name.endswith(".toml"):
            for table in tomllib.loads(file.read_text("utf-8")).values():
                if isinstance(table, dict):
                    found.update(dict.fromkeys(name for name in table if " " in name))
    return tuple(found)
