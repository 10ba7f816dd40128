"""Which of some things in the order of the text stand in a stretch of it; by bisection, so that a long note is read in linear time."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from operator import attrgetter
from typing import Protocol, TypeVar


class Placed(Protocol):
    """A thing at `text[start:end]`."""

    @property
    def start(self) -> int: ...
    @property
    def end(self) -> int: ...


T = TypeVar("T", bound=Placed)
START, END = attrgetter("start"), attrgetter("end")


def begun(things: Sequence[T], start: int, end: int) -> Sequence[T]:
    """Those that begin between two characters; `things` are in the order of their starts."""
    return things[bisect_left(things, start, key=START) : bisect_left(things, end, key=START)]


def met(things: Sequence[T], start: int, end: int) -> Sequence[T]:
    """Those that share a character with the stretch; `things` are in order and do not overlap (as clauses are)."""
    return things[bisect_right(things, start, key=END) : bisect_left(things, end, key=START)]
