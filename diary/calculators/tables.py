"""The calculators' figures that are facts, not code: TOML files in the data folder, each with its source at the top."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from diary.errors import DiaryError


@cache
def table(name: str) -> dict[str, Any]:
    """The data file `name` (without ".toml"), read once. Do not change what it returns."""
    source = files("diary.calculators").joinpath("data", f"{name}.toml")
    try:
        return tomllib.loads(source.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise DiaryError(
            f"The data file {name}.toml is missing from the program's calculators folder: install again."
        ) from None


def caution(*topics: str) -> str:
    """The usual cautions for `topics` (keys of cautions.toml), joined in one paragraph."""
    known = table("cautions")["cautions"]
    return " ".join(known[t] for t in topics)
