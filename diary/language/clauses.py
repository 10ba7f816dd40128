"""Talk cut into clauses, each with the scope it stands in.

`split` is the stage of the pipeline; `components` (from names.py) gives the parts that a clause speaks of. How
clauses are cut is in syntax.py, how their scope is told in scope.py.
"""

from __future__ import annotations

from collections.abc import Sequence

from diary.language.names import components
from diary.language.scope import Scope
from diary.language.syntax import cut, isolate_retracted, make_line
from diary.language.types import Clause, Utterance

__all__ = ["components", "split"]


def split(utterance: Utterance, others: Sequence[str] = (), machine: str = "") -> list[Clause]:
    """The clauses of an utterance whose hits, numbers, quantities and dates are found, with the scope of each.

    `others` are names of machines that are not this one; `machine` is this one's own name or description ("old van").
    """
    if not utterance.tokens:
        return []
    line = make_line(utterance)
    cuts = isolate_retracted(utterance, line, cut(utterance, line))
    clauses = []
    for begin, end in zip(cuts, [*cuts[1:], len(line.words)], strict=True):
        words = line.words[begin:end]
        start, stop = words[0].start, words[-1].end
        clauses.append(Clause(start, stop, utterance.text[start:stop], words))
    Scope(utterance, line, clauses, cuts, others, machine).mark()
    return clauses
