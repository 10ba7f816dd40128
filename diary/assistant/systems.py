"""Whole systems in a question ("the brakes", "the cooling job"), and which records belong to them, by the lexicon's tree.

The lexicon is loaded only where a question names something that no record is called by.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import lru_cache

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
