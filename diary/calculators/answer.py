"""What a calculator answers with."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its unit code."""

    value: float
    unit: str


@dataclass(slots=True)
class Answer:
    """`text` is a sentence; `values` are rows of {"value", "unit", "plus_minus"}; `table` rows of cells, the first a
    heading.
    """

    text: str
    values: list[dict[str, Any]] = field(default_factory=list)
    caution: str = ""
    table: list[list[str]] | None = None
    name: str = ""
    certain: bool = True


def row(value: float, unit: str, plus_minus: float | None = None) -> dict[str, Any]:
    """One row of `Answer.values`."""
    return {"value": value, "unit": unit, "plus_minus": plus_minus}


def figure(value: float, digits: int = 3) -> str:
    """A number for a sentence: `digits` significant digits at least, no digit of the whole part lost, no trailing
    zeros.
    """
    if value == 0:
        return "0"
    whole = len(f"{abs(value):.0f}") if abs(value) >= 1 else 0
    text = f"{value:,.{max(0, digits - whole)}f}" if abs(value) >= 0.1 else f"{value:.{digits}g}"
    return text.rstrip("0").rstrip(".") if "." in text else text
