"""Reader of plans."""

from __future__ import annotations

from diary.language.types import Context, Draft, Utterance


def read(utterance: Utterance, context: Context, so_far: list[Draft]) -> list[Draft]:
    return []
