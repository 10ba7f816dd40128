"""Figures read back as the trade says them, and read again by the language room as the same figure."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diary.assistant import spoken
from diary.language.numerals import read_numbers


@pytest.mark.parametrize(
    ("written", "said"),
    [
        # the first two are the issue's own examples; the others are common practice of the trade, no source
        ("125 foot pounds", "one twenty five foot pounds"),
        ("442.5", "four forty two and a half"),
        ("105", "one oh five"),
        ("100", "one hundred"),
        ("1250", "twelve fifty"),
        ("2400 psi", "twenty four hundred p s i"),
        ("1003", "one thousand three"),
        ("87,406 miles", "eighty seven thousand four oh six miles"),
        ("104,618", "one oh four thousand six eighteen"),
        ("14.2 volts", "fourteen point two volts"),
        ("0.378 inches", "point three seven eight inches"),
        ("12.05", "twelve point oh five"),
        ("$58.40", "fifty eight dollars and forty cents"),
        ("£16", "sixteen pounds"),
        ("May 31", "May thirty first"),
        ("0", "zero"),
        ("-5", "minus five"),
    ],
)
def test_said_aloud(written: str, said: str) -> None:
    assert spoken.aloud(written) == said


def test_no_markup_is_spoken() -> None:
    assert spoken.aloud("**Fill** of `12` [gallons]") == "Fill of twelve gallons"


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 999_999))
def test_whole_numbers_read_back(n: int) -> None:
    found = read_numbers(spoken.whole_aloud(n) + " miles")
    assert [f.value for f in found] == [n], spoken.whole_aloud(n)


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 9_999), st.integers(1, 999))
def test_decimals_read_back(whole: int, thousandths: int) -> None:
    text = f"{whole}.{thousandths:03d}".rstrip("0")
    said = spoken.number_aloud(text)
    found = read_numbers(said + " miles")
    assert [f.value for f in found] == [float(text)], said


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (15.138, "mpg_us", "15.1 miles per gallon"),
        (9.2529, "L_per_100km", "9.25 litres per 100 kilometres"),
        (1, "gal_us", "1 gallon"),
        (0.2432, "USD_per_mi", "24.3 cents a mile"),
        (4, "USD_per_gal_us", "$4.00 a gallon"),
        (87406, "mi", "87,406 miles"),
        (0.015, "in", "0.015 inches"),
        (58.4, "USD", "$58.40"),
    ],
)
def test_figures(value: float, unit: str, text: str) -> None:
    assert spoken.figure(value, unit) == text


def test_days_and_lists() -> None:
    now = date(2026, 5, 27)
    assert spoken.day("2026-05-31", now, weekday=True) == "Sunday May 31"
    assert spoken.day("2025-12-24T18:00", now) == "December 24, 2025"
    assert spoken.listed(["a", "b", "c"]) == "a, b and c"
    assert spoken.listed(["a", "b"], "or") == "a or b"
