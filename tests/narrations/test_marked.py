"""The scorer of marked talk: what its lines mean, and that a wrong figure costs."""

from __future__ import annotations

from pathlib import Path

import pytest

from diary.errors import DiaryError
from diary.language.markup import read
from tests.narrations.marked import gold, row, score

TALK = """=== x1 | small tractor, diesel | asr-digits | mi gal_us ft_lb psi
--- 2026-03-04T18:10
Filled it to the brim, 14.2 gallons, $52.10, odometer 141,203.
= fill 14.2 gal_us brim price=52.10 odometer=141203
--- 2026-03-05T18:10
Lug nuts to 92 ft-lb. Left front tire was at 32 psi.
= torque applied 92 ft_lb lug nuts threadlocker=false
= measure pressure {pressure} psi left front tire
"""


def test_rows() -> None:
    assert row("fill none L partial price=20") == (
        "fills", {"volume": None, "unit": "L", "to_brim": False, "price_total": 20.0, "odometer": None, "trip": None},
    )  # fmt: skip
    assert row("reading odometer 141203 mi approx") == ("readings", {"meter": "odometer", "value": 141203.0})
    assert row("torque target 92 ft_lb lug nuts threadlocker=true")[1]["fastener"] == "lug nuts"
    assert row("measure length 0.5 mm valve clearance")[1] == {"quantity": "length", "value": 0.5, "unit": "mm", "of": "valve clearance"}
    assert row("reset trip")[0] == "resets"
    with pytest.raises(DiaryError, match="is no numeric record"):
        row("torque target many ft_lb")


@pytest.mark.parametrize("pressure, measures", [("32", (1, 0, 0)), ("33", (0, 1, 1))])
def test_score(tmp_path: Path, pressure: str, measures: tuple[int, int, int]) -> None:
    path = tmp_path / "x.txt"
    path.write_text(TALK.replace("{pressure}", pressure))
    assert gold(read(path)[0])["readings"] == [{"note": 0, "meter": "odometer", "value": 141203.0}]
    scores = score([path])
    assert scores["measures"] == measures
    assert scores["fills"] == (5, 0, 0) and scores["readings"] == (1, 0, 0) and scores["torques"] == (1, 0, 0)
