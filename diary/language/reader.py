"""A note's text to drafts of records: one pass over the stages, then one reader per record kind.

Readers are asked in the order of `ORDER`; each sees what earlier ones drafted, so that a torque can say "tightened" once only.
"""

from __future__ import annotations

import os
import sys
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from diary.language.types import Context, Draft, Utterance

if TYPE_CHECKING:
    from diary.language.judge import Judge
    from diary.language.trained import Reader

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
    from diary.language.pipeline import parse_light

    return read_utterance(parse_light(text, context), context)


def read_utterance(utterance: Utterance, context: Context) -> list[Draft]:
    """The same, from an utterance whose stages have run."""
    return completed(utterance, context, by_rules(utterance, context))


def by_rules(utterance: Utterance, context: Context) -> list[Draft]:
    """What the readers of rules draft, kind by kind."""
    drafts: list[Draft] = []
    for name in ORDER:
        reader = import_module(f"diary.language.readers.{name}")
        drafts.extend(reader.read(utterance, context, drafts))
    return drafts


def completed(utterance: Utterance, context: Context, drafts: list[Draft]) -> list[Draft]:
    """The drafts of the rules as the trained reader weighs and completes them; as they are where no trained reader is here."""
    if (held := trained_reader()) is None:
        return drafts
    from diary.language.readers.learned import merge

    return merge(utterance, context, drafts, *held)


@cache
def trained_reader() -> tuple[Reader, Judge] | None:
    """The network and its judge of `models/reader`, None where they are not here."""
    from diary.language.judge import open_judge
    from diary.language.trained import open_reader

    folder = reader_folder()
    return None if folder is None else (open_reader(folder / "reader.zip"), open_judge(folder / "judge.json"))


def reader_folder() -> Path | None:
    """Where the trained reader lies: the folder named by $DIARY_READER and no other; else the checkout's or the installation's."""
    if named := os.environ.get("DIARY_READER"):
        places = [Path(named)]
    else:
        places = [Path(__file__).parents[2] / "models" / "reader", Path(sys.prefix) / "share" / "build-diary" / "models" / "reader"]
    return next((f for f in places if (f / "reader.zip").is_file() and (f / "judge.json").is_file()), None)
