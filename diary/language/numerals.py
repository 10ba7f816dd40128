"""Numbers as people say them while working: "one twenty five", "eighty seven four oh nine", "twenty two and a half".

`read_numbers` gives every number of a text with its value, spread, place and kind. Words and digits read alike, so that
it does not matter how a recogniser wrote them ("four forty two point five", "442.5", "4 42.5").

Kinds
-----
cardinal    a plain count or measure ("twenty five", "one twenty five" = 125, "a dozen")
decimal     with a decimal point, said or meant ("fourteen point two", "thirteen five" = 13.5)
fraction    halves, quarters, sixteenths ("three sixteenths", "two and a half")
digits      said digit by digit ("two one one seven seven four")
ordinal     "third", "the twenty first"
range       two bounds ("ten to twelve"): `low` and `high`; `value` is the middle, or what the speaker settled on
ratio       "fifty to one" is 50, "four eighty eights" 4.88
money       a sum or a price stands beside it ("twenty bucks", "three eighty nine a gallon", "$47.40")
percent     "fifty percent" is 50
time        a time of day, in hours ("half past six" is 6.5)
age         "my kid is six"
label       a street, route, exit, page, bay or cylinder number
day         "day three"
share       "two of the four bolts"
size        a size in a name: "thirty sevens", "ten millimetre socket", "three eighths drive"
rating      what a thing is made for: "30 amp fuse", "12 volt battery"
name        part of a name: "two ninety two axle", "R134a", "5w30"
denied      what it was not ("twenty five not thirty": the thirty)
homophone   a word that is only a number because a meter stands before it ("trip says for 42.5")

Everything from time to name is no measurement; readers leave those kinds alone unless they look for them.

As a program, `python -m diary.language.numerals` reads lines from standard input and prints one JSON object a line.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from diary.language.numeral_words import scan
from diary.language.types import Number


def read_numbers(text: str, *, meters: Mapping[str, tuple[float, datetime]] | None = None) -> list[Number]:
    """Every number of `text`, in order.

    `meters` holds the last reading of each meter by name; where a number beside a meter's name is ambiguous, the
    reading that the meter can show is chosen.
    """
    from diary.language.numeral_kinds import settle

    return settle(scan(text), meters)


def main() -> None:
    """Read lines, print {"text", "numbers": [{"value", "low", "high", "start", "end", "kind"}]} for each."""
    import json
    import sys

    for line in sys.stdin:
        text = line.rstrip("\n")
        numbers = [
            {"value": n.value, "low": n.low, "high": n.high, "start": n.start, "end": n.end, "kind": n.kind}
            for n in read_numbers(text)
        ]
        print(json.dumps({"text": text, "numbers": numbers}, ensure_ascii=False), flush=True)


if __name__ == "__main__":
    main()
