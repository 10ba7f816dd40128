"""A note's text to drafts of records: one pass over the stages, then one reader per record kind.

Readers are asked in the order of `ORDER`; each sees what earlier ones drafted, so that a torque can say "tightened" once only.
"""

from __future__ import annotations

from importlib import import_module

from diary.language.types import Context, Draft, Utterance

ORDER = (
    "resets",
    "fills",
    "readings",
    "torques",
    "measures",
    "drives",
    "parts",
    "faults",
    "work",
    "plans",
    "lessons",
    "shots",
)


def read(text: str, context: Context) -> list[Draft]:
    """Drafts of every record in `text`, in the order of ORDER; `context.now` is the note's own time."""
    from diary.language.pipeline import parse

    return read_utterance(parse(text, context), context)


def read_utterance(utterance: Utterance, context: Context) -> list[Draft]:
    """The same, from an utterance whose stages have run."""
    drafts: list[Draft] = []
    for name in ORDER:
        reader = import_module(f"diary.language.readers.{name}")
        drafts.extend(reader.read(utterance, context, drafts))
    return drafts
