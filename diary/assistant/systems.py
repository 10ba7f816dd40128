"""Whole systems in a question ("the brakes", "the cooling job"), and which records belong to them, by the lexicon's tree.

The lexicon is loaded only where a question names something that no record is called by.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import cache, lru_cache

from diary.assistant.facts import answers_table


def named(text: str) -> frozenset[str]:
    """The systems that words name as a whole; a component ("brake pad") names none."""
    from diary.language.lexicon import load

    lexicon = load(None)
    low = f" {text.lower()} "
    found = {s for phrase, systems in answers_table("systems").items() if f" {phrase} " in low for s in systems}
    for hit in lexicon.find(text):
        system = hit.data.get("system")
        if hit.kind == "component" and system and hit.name in (system, lexicon.systems.get(system, {}).get("name")):
            found.add(system)
    return frozenset(found)


@lru_cache(maxsize=4096)
def of(name: str) -> frozenset[str]:
    """The systems that a named thing belongs to, with those above them."""
    from diary.language.lexicon import load

    lexicon = load(None)
    entry = lexicon.entry(name)
    systems = [hit.data.get("system") for hit in lexicon.find(name)]
    systems += [entry.data.get("system")] if entry is not None else []
    return frozenset(s for system in systems if system for s in lexicon.path(system))


def belongs(name: str | None, systems: Collection[str]) -> bool:
    """Whether a thing is of one of the systems."""
    return bool(name and systems and of(name) & set(systems))


def things_in(text: str) -> frozenset[str]:
    """The stems of the words in a text that parts of a machine, fasteners or fluids are called by."""
    from diary.assistant.words import content

    return frozenset(content(text)) & nouns()


@cache
def nouns() -> frozenset[str]:
    """The last word of every name in the lexicon's files of things, read without making the lexicon, which takes far longer."""
    import re

    from diary.assistant.words import stem
    from diary.language.text import DATA

    files = [
        p for p in (DATA / "lexicon").glob("*.toml") if p.stem.startswith(("components", "consumables", "fasteners"))
    ]
    found = {w for p in files for w in re.findall(r"([a-z]+)\"", p.read_text(encoding="utf-8"))}
    return frozenset(stem(w) for w in found)


@lru_cache(maxsize=4096)
def canonical(text: str) -> frozenset[str]:
    """The lexicon's own names of the parts, fasteners and fluids in a text."""
    from diary.language.lexicon import load

    return frozenset(h.name for h in load(None).find(text) if h.kind in ("component", "consumable", "fastener"))
