"""Figures in what was heard, as strings of digits, for comparing two recognisers. (Reading values is the language
room's.)
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from diary.speech.bias import data

_TOKEN = re.compile(r"\d[\d,]*(?:\.\d+)?|[a-z]+")


def figures(text: str) -> list[str]:
    """The digits of each figure in order: "eighty seven four oh nine", "87,409" and "874 09" are all "87409".

    The decimal point is left out, since one recogniser writes "3.89" where another writes "three eighty nine".
    """
    facts = data()["figures"]
    words = _TOKEN.findall(text.lower().replace("-", " "))
    found: list[str] = []
    run: list[str] = []
    for word in [*words, ""]:
        number = word[:1].isdigit() or any(word in facts[kind] for kind in ("units", "tens", "powers"))
        joins = run and (word == "point" or (word == "and" and run[-1] in facts["powers"]))
        if number or joins:
            run.append(word)
        elif run:
            found.append(_digits([w for w in run if w != "and"]))
            run = []
    return [figure for figure in found if figure]


def _digits(run: Sequence[str]) -> str:
    facts = data()["figures"]
    if "thousand" in run[:-1]:
        at = run.index("thousand")
        return _digits(run[:at]) + _digits(run[at + 1 :]).zfill(3)
    out, value, room = "", None, 0  # `room`: what the next word must be smaller than to be added to `value`
    for word in run:
        if word in facts["powers"]:
            value = (1 if value is None else value) * facts["powers"][word]
            room = facts["powers"][word]
            continue
        if word == "point" or word[0].isdigit():
            out += "" if value is None else str(value)
            out += re.sub(r"[^\d]", "", word)
            value, room = None, 0
            continue
        number = facts["units"].get(word, facts["tens"].get(word))
        if value is not None and 0 < number < room:
            value, room = value + number, 10 if number in facts["tens"].values() else 0
        else:
            out += "" if value is None else str(value)
            value, room = number, 10 if word in facts["tens"] else 0
    return (out + ("" if value is None else str(value))).lstrip("0") or "0"


def differing(first: str, second: str) -> list[tuple[str, str]]:
    """Figures that two texts disagree on, paired in order; "" where one has none to set against it."""
    a, b = figures(first), figures(second)
    only_a, only_b = list((Counter(a) - Counter(b)).elements()), list((Counter(b) - Counter(a)).elements())
    longest = max(len(only_a), len(only_b))
    return list(zip(only_a + [""] * (longest - len(only_a)), only_b + [""] * (longest - len(only_b)), strict=True))
