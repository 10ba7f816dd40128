"""Conversion between the units of the export, by the pint library.

Codes are those of `diary/language/data/units.toml`, where each names its pint unit. The registry is made on first use,
because loading pint takes longer than answering most questions.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from diary.errors import DiaryError


@cache
def _codes() -> dict[str, tuple[str, str]]:
    """Code to (dimension, pint expression or "")."""
    text = files("diary").joinpath("language/data/units.toml").read_text(encoding="utf-8")
    return {u["code"]: (u["dimension"], u.get("pint", "")) for u in tomllib.loads(text)["unit"]}


@cache
def _factors() -> dict[str, float]:
    """What one of each everyday unit is in the SI unit of its dimension (data/factors.toml), so that a plain conversion need not
    load pint, which takes longer than all else in answering a question. The tests hold every one of them to pint."""
    text = files("diary").joinpath("language/data/factors.toml").read_text(encoding="utf-8")
    found: dict[str, float] = tomllib.loads(text)["factors"]
    return found


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(cache_folder=":auto:")
    registry.define("thousandth_inch = inch / 1000")
    return registry


@cache
def _unit(code: str) -> Any:
    entry = _codes().get(code)
    if entry is None or not entry[1]:
        raise DiaryError(f"The unit {code!r} cannot be converted; use one of {', '.join(sorted(convertible()))}.")
    registry = _registry()
    # an expression with a factor ("inch / 32") has a magnitude besides its unit
    return registry.Quantity(1, "degC").units if code == "degC" else registry.parse_expression(entry[1])


def convertible() -> list[str]:
    """The codes that `convert` knows."""
    return [code for code, (_, expression) in _codes().items() if expression]


def dimension(code: str) -> str:
    """What a unit measures ("length", "torque", "money", ...); "" for an unknown code."""
    if "/" in code and code not in _codes():
        over, under = code.split("/", 1)
        return "unit_price" if dimension(over) == "money" else f"{dimension(over)}/{dimension(under)}"
    return _codes().get(code, ("", ""))[0]


def convert(value: float, from_code: str, to_code: str) -> float:
    """`value` in `from_code` as `to_code`.

    Temperatures are scales with an offset. Economy converts between distance per volume and volume per distance
    (mpg_us to L_per_100km), which are reciprocals. Raises `DiaryError` for an unknown unit or unlike dimensions.
    """
    if from_code == to_code:
        return value
    for code in (from_code, to_code):
        if code not in _codes():
            raise DiaryError(f"There is no unit {code!r}; use one of {', '.join(sorted(convertible()))}.")
    if dimension(from_code) != dimension(to_code):
        raise DiaryError(
            f"{from_code} is a {dimension(from_code)} and {to_code} a {dimension(to_code)}; give two of the same kind."
        )
    factors = _factors()
    if from_code in factors and to_code in factors:
        return value * (factors[from_code] / factors[to_code])
    registry = _registry()
    if dimension(from_code) == "temperature":
        names = {code: _codes()[code][1] for code in (from_code, to_code)}
        return float(registry.Quantity(value, names[from_code]).to(names[to_code]).magnitude)
    source, target = _unit(from_code), _unit(to_code)
    ours = source * value
    if source.dimensionality == target.dimensionality:
        return float((ours / target).to_base_units().magnitude)
    if value == 0:
        raise DiaryError(f"0 {from_code} has no value in {to_code}; give a figure above zero.")
    return float((1 / ours / target).to_base_units().magnitude)
