"""Charts: what is drawn, what is said for those who cannot see it, and a line of blocks. Figures are invented."""

from datetime import datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest

from diary.calculators.economy import Fill, Reading, spans
from diary.errors import DiaryError
from diary.reports.charts import (
    cost_chart,
    cost_svg,
    economy_chart,
    economy_svg,
    labelled_sparkline,
    pressure_chart,
    pressure_svg,
    sparkline,
)

START = datetime(2026, 5, 1, 17)
FILLS = [
    Fill(START + timedelta(days=7 * i), str(i), v, "gal_us", True, odometer)
    for i, (v, odometer) in enumerate([(14, 1000.0), (15, 1240.0), (14.5, 1463.0), (15.5, None), (14, 1944.0)])
]
TANKS = spans(FILLS, (), [Reading(FILLS[3].at, "3", "odometer", 1710, approx=True)])


def svg_texts(data: bytes) -> str:
    return " ".join(
        "".join(e.itertext()) for e in ElementTree.fromstring(data).iter("{http://www.w3.org/2000/svg}text")
    )


def test_sparkline() -> None:
    assert sparkline([1, 2, 3, 4, 5, 6, 7, 8]) == "▁▂▃▄▅▆▇█"
    assert sparkline([5, None, 5, float("nan")]) == "▄ ▄ "
    assert sparkline([0, 5, 10], low=0, high=20) == "▁▃▅"
    assert sparkline([]) == "" and sparkline([None]) == " "
    assert labelled_sparkline([14.8, 15.9, 15.0], "mpg") == "14.8 ▁█▂ 15.9 mpg"
    assert labelled_sparkline([None]) == ""


def test_economy_as_svg() -> None:
    chart = economy_chart(TANKS)
    words = svg_texts(chart.data)
    assert "miles per US gallon" in words and "Fuel economy" in words and "with a guess in it" in words
    assert "4 tanks over 944 mi" in chart.alt and "overall 16.0" in chart.alt
    assert economy_chart(TANKS).data == chart.data, "the same figures give the same bytes"


def test_economy_as_png(tmp_path: Path) -> None:
    chart = economy_chart(TANKS, "png")
    path = chart.save(tmp_path / "economy")
    assert path.suffix == ".png" and path.read_bytes().startswith(b"\x89PNG")


def test_cost_by_month_shows_the_empty_month() -> None:
    chart = cost_chart({"2025-12": 120.5, "2026-02": 80})
    words = svg_texts(chart.data)
    assert "2026-01" in words and "200.50 USD" in chart.alt and "most in 2025-12" in chart.alt


def test_pressure_under_its_floor() -> None:
    points = [(START + timedelta(days=d), p) for d, p in ((0, 35.0), (6, 31.0), (3, 33.2), (9, 25.5))]
    chart = pressure_chart(points, "right rear", floor=26.25)
    assert "floor 26.25" in svg_texts(chart.data) and "under the floor" in chart.alt and "last 25.5" in chart.alt


@pytest.mark.parametrize(
    "make", [lambda: economy_chart([]), lambda: cost_chart({}), lambda: pressure_chart([], "spare")]
)
def test_nothing_to_draw_is_said(make) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DiaryError, match="There is no"):
        make()


def test_only_two_kinds() -> None:
    with pytest.raises(DiaryError, match="svg or png"):
        economy_chart(TANKS, "gif")


def test_set_into_a_page() -> None:
    points = [(START, 35.0), (START + timedelta(days=3), 31.0)]
    for text in (economy_svg(TANKS), cost_svg({"2026-05": 10}), pressure_svg(points, 'left "rear" & spare')):
        assert text.startswith("<svg") and 'role="img"' in text
        root = ElementTree.fromstring(text)
        assert root.get("aria-label") == root.findtext("{http://www.w3.org/2000/svg}title")
