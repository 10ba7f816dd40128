"""Drives: distance, road, weather."""

from __future__ import annotations

from typing import Any

import pytest

from tests.language.readers.numeric_support import cases, differences, rows


@pytest.mark.parametrize("case", cases("drives"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    assert not differences(rows(case["text"], "drives", case["locale"], case["meters"]), case["expect"]["drives"])


def test_road_and_weather_only_where_said() -> None:
    (drive,) = rows("hauled the bike forty miles", "drives")
    assert drive == {"distance": 40, "unit": "mi", "road": None, "weather": None}
    (drive,) = rows("drove sixty miles on the highway in the rain", "drives")
    assert (drive["road"], drive["weather"]) == ("highway", "rain")


@pytest.mark.parametrize(
    "text",
    [
        "recheck the nuts after fifty miles",
        "we are two hundred miles from home",
        "tomorrow i will drive four hundred miles",
    ],
)
def test_no_drive(text: str) -> None:
    assert rows(text, "drives") == []
