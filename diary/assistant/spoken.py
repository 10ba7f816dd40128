"""Figures, days and lists as they are written in an answer, and a whole answer as a mechanic would say it aloud.

Answers are written with digits ("125 foot pounds"); `aloud` turns them into speech ("one twenty five foot pounds").
Names are in data/spoken.toml. Elided hundreds and "oh" are how the trade reads figures (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from diary.assistant.words import table

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def _t(name: str) -> Any:
    return table("spoken")[name]


def digits(value: float, places: int = 2) -> str:
    """A number as written: thousands apart above 9999, no empty decimals. Values below 1 keep three figures."""
    if value and abs(value) < 1:
        places = max(places, 4 if abs(value) < 0.1 else 3)
    text = f"{value:,.{places}f}" if abs(value) >= 10_000 else f"{value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def money(value: float, currency: str) -> str:
    """ "$58.40", "£16.60", "12.00 CHF"."""
    row = _t("money").get(currency)
    if row is None:
        return f"{value:,.2f} {currency}"
    whole = abs(value - round(value)) < 0.005
    return f"{row[0]}{value:,.0f}" if whole else f"{row[0]}{value:,.2f}"


def unit_name(unit: str, value: float = 2) -> str:
    """The name of a unit code, singular where the value is one."""
    names = _t("units").get(unit)
    if names is None:
        return unit.replace("_per_", " per ").replace("_", " ")
    return str(names[0] if abs(value) == 1 else names[1])


def figure(
    value: float, unit: str | None, places: int | None = None, low: float | None = None, high: float | None = None
) -> str:
    """A value with its unit, money included; with `low` and `high` as a range where they differ."""
    if unit is None:
        return digits(value)
    if unit in _t("money"):
        return money(value, unit)
    if "_per_" in unit and unit.split("_per_")[0] in _t("money"):
        coin, _, per = unit.partition("_per_")
        sign, _, _, one, many = _t("money")[coin]
        if abs(value) < 1:
            return f"{digits(value * 100, 1)} {many if value != 0.01 else one} a {unit_name(per, 1)}"
        return f"{sign}{value:.2f} a {unit_name(per, 1)}"
    places = places if places is not None else _t("places").get(unit, 2)
    text = digits(value, places)
    if low is not None and high is not None and high - low > abs(value) * 0.002:
        text = f"{text} ({digits(low, places)} to {digits(high, places)})"
    return f"{text} {unit_name(unit, value)}"


def day(when: str | date | datetime, now: date | None = None, weekday: bool = False) -> str:
    """ "May 25", "Sunday May 31", with the year where it is not this one; "today" and "yesterday" when near."""
    if isinstance(when, str):
        when = date.fromisoformat(when[:10])
    elif isinstance(when, datetime):
        when = when.date()
    text = f"{MONTHS[when.month - 1]} {when.day}"
    if weekday:
        text = f"{WEEKDAYS[when.weekday()]} {text}"
    if now is not None and when.year != now.year:
        text += f", {when.year}"
    return text


def listed(items: Iterable[str], glue: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    rows = list(items)
    if len(rows) < 2:
        return "".join(rows)
    return f"{', '.join(rows[:-1])} {glue} {rows[-1]}"


def sentence(text: str) -> str:
    """A capital at the start and a stop at the end."""
    text = text.strip()
    if not text:
        return text
    return text[0].upper() + text[1:] + ("" if text[-1] in ".?!" else ".")


# -- aloud --


def _below_hundred(n: int) -> str:
    ones, tens = _t("numbers")["ones"], _t("numbers")["tens"]
    if n < 20:
        return str(ones[n])
    return str(tens[n // 10]) + (f" {ones[n % 10]}" if n % 10 else "")


def _pair(n: int) -> str:
    """Two digits after others: 5 is "oh five"."""
    return f"oh {_below_hundred(n)}" if n < 10 else _below_hundred(n)


def whole_aloud(n: int) -> str:
    """A whole number the short way: 125 one twenty five, 105 one oh five, 1250 twelve fifty, 2400 twenty four hundred,
    87406 eighty seven thousand four oh six."""
    names = _t("numbers")
    if n < 0:
        return f"{names['minus']} {whole_aloud(-n)}"
    if n == 0:
        return str(names["zero"])
    if n < 100:
        return _below_hundred(n)
    if n < 1000:
        rest = n % 100
        return f"{names['ones'][n // 100]} {_pair(rest) if rest else names['hundred']}"
    if n < 10_000 and n % 1000:
        head, rest = divmod(n, 100)
        if not rest:
            return f"{_below_hundred(head)} {names['hundred']}"
        if head < 20 and head % 10 and not head < rest <= 2 * head:
            return f"{_below_hundred(head)} {_pair(rest)}"
        # else two pairs sound like a range ("fifteen, twenty", "forty five, fifty five")
    if n < 1_000_000:
        head, rest = divmod(n, 1000)
        text = f"{whole_aloud(head)} {names['thousand']}"
        return text if not rest else f"{text} {whole_aloud(rest)}"
    head, rest = divmod(n, 1_000_000)
    return f"{whole_aloud(head)} {names['million']}" + (f" {whole_aloud(rest)}" if rest else "")


def number_aloud(text: str) -> str:
    """A written number aloud: "442.5" four forty two and a half, "0.378" point three seven eight, "14.2" fourteen
    point two."""
    names = _t("numbers")
    text = text.replace(",", "")
    minus = text.startswith("-")
    head, _, tail = text.lstrip("-").partition(".")
    whole = int(head or 0)
    if not tail:
        said = whole_aloud(whole)
    elif tail == "5" and whole:
        said = f"{whole_aloud(whole)} {names['half']}"
    elif tail == "25" and whole:
        said = f"{whole_aloud(whole)} {names['quarter']}"
    else:
        figures = " ".join(names["zero"] if d == "0" and len(tail) == 1 else names["ones"][int(d)] for d in tail)
        said = f"{whole_aloud(whole)} {names['point']} {figures}" if whole else f"{names['point']} {figures}"
    return f"{names['minus']} {said}" if minus else said


_MONEY = re.compile(r"([$£€])(\d+(?:,\d{3})*)(?:\.(\d\d))?")
_DAY = re.compile(r"\b(" + "|".join(MONTHS) + r") (\d{1,2})\b")
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:,\d{3})*(?:\.\d+)?(?![\w])")


def _money_aloud(m: re.Match[str]) -> str:
    row = next(r for r in _t("money").values() if r[0] == m.group(1))
    whole, cents = int(m.group(2).replace(",", "")), int(m.group(3) or 0)
    parts = []
    if whole or not cents:
        parts.append(f"{whole_aloud(whole)} {row[1] if whole == 1 else row[2]}")
    if cents:
        parts.append(f"{_below_hundred(cents)} {row[3] if cents == 1 else row[4]}")
    return f" {_t('numbers')['and']} ".join(parts)


def aloud(text: str) -> str:
    """An answer as it is spoken: figures in words, unit signs spelled, days as ordinals, no markup."""
    text = re.sub(r"[*_`#|<>\[\]]", " ", text)
    text = _MONEY.sub(_money_aloud, text)
    text = _DAY.sub(
        lambda m: f"{m.group(1)} {_t('numbers')['ordinals'][int(m.group(2))]}" if int(m.group(2)) <= 31 else m.group(),
        text,
    )
    text = _NUMBER.sub(lambda m: number_aloud(m.group()), text)
    for sign, said in _t("aloud").items():
        text = re.sub(rf"(?<!\w){re.escape(sign)}(?!\w)", said, text)
    return re.sub(r"\s+", " ", text).strip()
