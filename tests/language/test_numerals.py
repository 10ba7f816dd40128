"""Numbers as people say them."""

from __future__ import annotations

import json
import random
import subprocess
import sys
from datetime import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from diary.language.numeral_kinds import granularity
from diary.language.numerals import read_numbers


def values(text: str) -> list[float]:
    return [n.value for n in read_numbers(text)]


def only(text: str):
    numbers = read_numbers(text)
    assert len(numbers) == 1, (text, numbers)
    return numbers[0]


# ---- plain and elided numbers: the phrases are ours, in the manner of people at a vehicle


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("one twenty five", 125),
        ("four forty two", 442),
        ("four forty two point five", 442.5),
        ("eighty seven thousand four oh six", 87406),
        ("eighty seven four oh nine on the clock", 87409),
        ("eighty eight five thirty one", 88531),
        ("one oh five four sixty", 105460),
        ("two one one seven seven four", 211774),
        ("two eleven three ninety", 211390),
        ("one oh four six eighteen", 104618),
        ("eighty eight six hundred", 88600),
        ("twenty two fifty", 2250),
        ("nineteen oh seven", 1907),
        ("fifteen oh two point five", 1502.5),
        ("nine twelve point six", 912.6),
        ("two one eight four point six", 2184.6),
        ("one five one two point four", 1512.4),
        ("trip was two forty three on the nose", 243),
        ("twelve hundred and fifty", 1250),
        ("two thousand five hundred", 2500),
        ("fifteen hundred and sixteen point six", 1516.6),
        ("a hundred and forty", 140),
        ("half a dozen", 6),
        ("two dozen", 24),
        ("five point two million", 5_200_000),
        ("point three seven eight", 0.378),
        ("point three seventy five", 0.375),
        ("nought point one oh", 0.10),
        ("fourteen point oh five", 14.05),
        ("minus forty", -40),
        ("eight oh thou", 80),
    ],
)
def test_spoken_numbers(text: str, value: float) -> None:
    assert values(text) == [pytest.approx(value)]


@pytest.mark.parametrize(
    ("words", "digits"),
    [
        ("four forty two point five", "4 42.5"),
        ("one twenty five foot pounds", "1-25-foot pounds"),
        ("one twenty five foot pounds", "1 25 foot-pounds"),
        ("eighty seven thousand four hundred six", "87,406."),
        ("twenty two and a half", "22 and a half"),
        ("twenty two and a half", "22 1/2"),
        ("three quarters", "¾"),
        ("eighty seven thousand", "87 thousand"),
        ("fourteen point two", "14.2"),
        ("fourteen point two gallons", "for teen point two gallons"),
        ("eight thousand dollars", "$8,000"),
    ],
)
def test_words_and_digits_read_alike(words: str, digits: str) -> None:
    assert values(words) == values(digits)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("twenty two and a half", 22.5),
        ("five sixteenths", 5 / 16),
        ("three quarter inch", 0.75),
        ("seventeen and a quarter gallons", 17.25),
        ("eleven thirty seconds", 11 / 32),
        ("fourteen ninety seven and two tenths", 1497.2),
        ("a third of a tank", 1 / 3),
        ("half", 0.5),
        ("three sixty fourths", 3 / 64),
        ("one and three eighths", 1.375),
        ("fifteen thousandths", 0.015),
    ],
)
def test_fractions(text: str, value: float) -> None:
    assert only(text).value == pytest.approx(value)
    assert only(text).kind == "fraction"


def test_thirty_seconds_alone_is_a_time_and_no_fraction() -> None:
    assert only("it takes thirty seconds").value == 30


# ---- kinds


@pytest.mark.parametrize(
    ("text", "value", "kind"),
    [
        ("day three of the trip", 3, "day"),
        ("the third groove", 3, "ordinal"),
        ("the twenty first", 21, "ordinal"),
        ("fifty to one", 50, "ratio"),
        ("four eighty eights", 4.88, "ratio"),
        ("three seventy three gears", 3.73, "ratio"),
        ("four tens", 4.10, "ratio"),
        ("thirty sevens", 37, "size"),
        ("thirty five twelve fifty fifteens", 35, "size"),
        ("two sixty five seventy five sixteen", 265, "size"),
        ("oh three five", 35, "digits"),
        ("ten millimetre socket", 10, "size"),
        ("three eighths drive", 0.375, "size"),
        ("a quarter inch ratchet", 0.25, "size"),
        ("two ninety two axle", 292, "name"),
        ("R134a", 134, "name"),
        ("five w thirty", 5, "name"),
        ("75w-90", 75, "name"),
        ("two stroke oil", 2, "name"),
        ("a 30 amp fuse", 30, "rating"),
        ("exit forty two", 42, "label"),
        ("past mile marker 212", 212, "label"),
        ("my kid is six and", 6, "age"),
        ("he is fourteen so what do you expect", 14, "age"),
        ("its twenty to ten", 9 + 40 / 60, "time"),
        ("at 6:30", 6.5, "time"),
        ("five thirty pm", 17.5, "time"),
        ("fifty percent", 50, "percent"),
        ("twenty bucks", 20, "money"),
        ("three eighty nine a gallon", 3.89, "money"),
        ("sixty one eighty on the pump", 61.80, "money"),
        ("forty eight fifty for a fan clutch", 48.50, "money"),
        ("seven ninety nine for a tube", 7.99, "money"),
        ("twenty six fifty for the pair", 26.50, "money"),
        ("two one one seven seven four", 211774, "digits"),
        ("thirteen five at idle", 13.5, "decimal"),
        ("trip says for 42.5", 442.5, "homophone"),
    ],
)
def test_kinds(text: str, value: float, kind: str) -> None:
    number = only(text)
    assert (number.value, number.kind) == (pytest.approx(value), kind)


def test_two_of_the_four_is_a_share() -> None:
    assert [(n.value, n.kind) for n in read_numbers("two of the four fan bolts came out")] == [
        (2, "share"),
        (4, "share"),
    ]


def test_a_counted_size_is_two_numbers() -> None:
    assert values("need four ten amp fuses") == [4, 10]


@pytest.mark.parametrize(
    "text",
    [
        "the right one is fine", "one of them moved", "no one was there", "this one i did film", "the one i wanted",
        "a new one", "at some point i have to redo it", "oh and i need to look at it", "for the tank", "to the neck",
    ],
)  # fmt: skip
def test_words_that_are_no_numbers(text: str) -> None:
    assert values(text) == []


@pytest.mark.parametrize(
    "text", ["fifteen one ten one", "fifty sixty thirty and eleven", "thirty one, thirty three, thirty five"]
)
def test_lists_stay_lists(text: str) -> None:
    assert len(values(text)) >= 3


def test_a_count_after_an_hour_meter_is_its_own_number() -> None:
    """ "sixteen thirteen one battery terminal": the one is no tenth of an hour."""
    assert values("is due at sixteen thirteen one battery terminal was loose")[0] == 1613


# ---- vague, settled and bounded values


@pytest.mark.parametrize(
    ("text", "value", "low", "high"),
    [
        ("ten to twelve psi", 11, 10, 12),
        ("twenty, twenty five minutes", 22.5, 20, 25),
        ("twenty twenty five minutes", 22.5, 20, 25),
        ("20, 25, call it 20 inch-pounds", 20, 20, 25),
        ("between ten and twelve", 11, 10, 12),
        ("about 143,900", 143900, 143850, 143950),
        ("fourteen and change", 14, 14, 15),
        ("almost twenty", 20, 10, 20),
        ("thirty two psi plus or minus two", 32, 30, 34),
        ("a couple", 2, 2, 3),
    ],
)
def test_spread(text: str, value: float, low: float, high: float) -> None:
    number = only(text)
    assert (number.value, number.low, number.high) == (value, low, high)
    assert number.approx


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("fourteen point eight no sorry fourteen point six gallons", 14.6),
        ("twenty three no sorry twenty two point three", 22.3),
        ("twenty four thou no sorry twenty eight thou", 28),
        ("4.0 bar. No wait, 3.8 bar.", 3.8),
        ("seventy six no hang on that is the old coupe ninety five foot pounds", 95),
        ("seven clicks on the lever no call it eight", 8),
    ],
)
def test_a_correction_is_one_settled_number(text: str, value: float) -> None:
    number = only(text)
    assert number.value == value
    assert number.start == 0


def test_what_it_was_not_is_denied() -> None:
    assert [(n.value, n.kind) for n in read_numbers("sorry twenty five not thirty")] == [
        (25, "cardinal"),
        (30, "denied"),
    ]


def test_no_before_a_number_does_not_eat_its_one() -> None:
    assert values("no one oh five") == [105]


def test_fillers_inside_a_number() -> None:
    assert values("twenty uh three point um five") == [23.5]
    assert values("then three uh six") == [3, 6]


def test_both_readings_of_a_price_are_given() -> None:
    number = only("sixty one eighty")
    assert number.value == 6180
    assert number.alternatives[0][0] == 61.80


def test_a_meter_chooses_among_readings() -> None:
    """With the odometer near 88,000, "eighty eight four" on it is 88,400 and not 88.4."""
    now = datetime(2026, 5, 1)
    got = read_numbers("odometer eighty eight four", meters={"odometer": (88310.0, now)})
    assert got[0].value == 88400
    assert read_numbers("odometer eighty eight four")[0].value == 88.4


def test_places_are_those_of_the_text() -> None:
    text = "brimmed it Fourteen point two gallons"
    number = only(text)
    assert text[number.start : number.end] == "Fourteen point two"


def test_granularity() -> None:
    assert [granularity(v) for v in (143900, 25, 12, 14.6, 20)] == [100, 5, 1, 0.1, 10]


# ---- round trips: num2words (LGPL, an independent writer of numbers) and our own spoken styles

ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = [".", ".", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def under_hundred(n: int) -> str:
    if n < 20:
        return ONES[n]
    return TENS[n // 10] + ("" if n % 10 == 0 else " " + ONES[n % 10])


def under_thousand_elided(n: int, oh: str) -> str | None:
    """ "four oh six", "five thirty one"; None where nobody elides."""
    hundreds, rest = divmod(n, 100)
    if hundreds == 0 or rest == 0:
        return None
    return ONES[hundreds] + " " + (f"{oh} {ONES[rest]}" if rest < 10 else under_hundred(rest))


def styles(n: int) -> list[str]:
    """Ways in which a whole number is said."""
    plain = num2words(n)
    said = {
        plain,
        plain.replace("-", " "),
        plain.replace(" and ", " "),
        plain.replace(",", ""),
        plain.replace(",", "").replace("-", " ").replace(" and ", " "),
    }
    text = str(n)
    if n >= 100:
        for oh in ("oh", "zero"):
            digits = " ".join(ONES[int(d)] if d != "0" else oh for d in text)
            if not (oh == "oh" and text.endswith("0")):
                said.add(digits)
    if 100 <= n < 1000:
        for oh in ("oh", "zero"):
            said.add(under_thousand_elided(n, oh) or plain)
    if 1000 <= n < 10000 and n % 1000 >= 10:
        left, right = divmod(n, 100)
        if left % 10 or left >= 20:
            said.add(f"{under_hundred(left)} hundred" + (f" {under_hundred(right)}" if right else ""))
        if left >= 10 and right:
            # "twenty" before one digit would be heard as twenty-something
            for oh in ("oh", "zero"):
                said.add(under_hundred(left) + " " + (under_hundred(right) if right >= 10 else f"{oh} {ONES[right]}"))
    if 10_000 <= n < 1_000_000:
        left, right = divmod(n, 1000)
        tail = under_thousand_elided(right, "oh")
        lead = under_hundred(left) if left < 100 else under_thousand_elided(left, "oh")
        said.add(
            num2words(left).replace(" and ", " ")
            + " thousand"
            + (
                f" {tail}"
                if tail
                else f" {under_hundred(right)}"
                if 0 < right < 100
                else " " + num2words(right)
                if right
                else ""
            )
        )
        # "twenty" before "four oh six" would be heard as twenty-four
        if tail and lead and not (left % 100 >= 20 and left % 10 == 0):
            said.add(f"{lead} {tail}")
    return sorted(said)


def check_whole(n: int) -> None:
    assert values(str(n)) == [n]
    assert values(f"{n:,}") == [n]
    for text in styles(n):
        assert values(text) == [n], (n, text, read_numbers(text))


def test_every_whole_number_style_on_ten_thousand_random_ones() -> None:
    chooser = random.Random(20260501)
    for _ in range(5000):
        check_whole(chooser.randrange(1_000_000))
    for _ in range(5000):
        check_whole(chooser.randrange(20_000))


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 999_999))
def test_whole_numbers_round_trip(n: int) -> None:
    check_whole(n)


def decimal_styles(whole: int, places: str) -> list[str]:
    digits = " ".join(ONES[int(d)] for d in places)
    out = [
        num2words(whole).replace("-", " ").replace(",", "") + " point " + digits,
        f"{whole}.{places}",
        f"{whole} point {places}",
    ]
    out.append(num2words(whole) + " point " + digits.replace("zero", "oh"))
    if 100 <= whole < 1000 and (elided := under_thousand_elided(whole, "oh")):
        out.append(f"{elided} point {digits}")
    if whole == 0:
        out += [f"point {digits}", f".{places}", f"nought point {digits}"]
        if len(places) == 3 and places[0] != "0" and int(places[1:]) >= 10:
            out.append(f"point {ONES[int(places[0])]} {under_hundred(int(places[1:]))}")
    return out


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 9999), st.integers(0, 999), st.integers(1, 3))
def test_decimals_round_trip(whole: int, thousandths: int, width: int) -> None:
    places = f"{thousandths:03d}"[:width]
    for text in decimal_styles(whole, places):
        assert values(text) == [pytest.approx(float(f"{whole}.{places}"), abs=1e-9)], text


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_text_is_read_without_an_error(text: str) -> None:
    for number in read_numbers(text):
        assert 0 <= number.start < number.end <= len(text)
        assert number.low <= number.high


WORDS = [
    "one",
    "two",
    "five",
    "ten",
    "thirteen",
    "twenty",
    "thirty",
    "hundred",
    "thousand",
    "million",
    "point",
    "oh",
    "and",
    "a",
    "half",
    "quarters",
    "eighths",
    "second",
    "seconds",
    "no",
    "sorry",
    "to",
    "or",
    ",",
    "-",
    ".",
    "4",
    "42.5",
    "$",
    "amp",
    "fuse",
    "uh",
    "minus",
    "plus",
    "dozen",
    "eights",
]


@settings(max_examples=500, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=14))
def test_any_pile_of_number_words_is_read_without_an_error(words: list[str]) -> None:
    text = " ".join(words)
    for number in read_numbers(text):
        assert 0 <= number.start < number.end <= len(text)


def test_as_a_program() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "diary.language.numerals"],
        input="trip four forty two point five\n\n",
        capture_output=True,
        text=True,
        check=True,
    )
    first, second = (json.loads(line) for line in done.stdout.splitlines())
    assert first["text"] == "trip four forty two point five"
    assert first["numbers"] == [{"value": 442.5, "low": 442.5, "high": 442.5, "start": 5, "end": 30, "kind": "decimal"}]
    assert second["numbers"] == []
