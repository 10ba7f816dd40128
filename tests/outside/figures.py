"""Compare a computed number with a printed figure: they agree within half a unit of the last printed digit."""

from __future__ import annotations

import re


def value(printed: str) -> float:
    """The number in a printed figure, thousands commas removed."""
    return float(printed.replace(",", "").replace("−", "-"))


def agrees(got: float, printed: str) -> bool:
    """Does `got` round to the printed figure ("24.311" allows 0.0005 either way)?"""
    digits = re.sub(r"[^0-9.]", "", printed)
    decimals = len(digits.split(".")[1]) if "." in digits else 0
    return abs(got - value(printed)) <= 0.5 * 10.0**-decimals * (1 + 1e-7) + 1e-12
