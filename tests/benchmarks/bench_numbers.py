"""Measures the number and quantity readers against other projects' test data, and their speed against other libraries.

    python tests/benchmarks/bench_numbers.py PEERS_FOLDER [--show NAME] [--speed]

PEERS_FOLDER holds the test data of NeMo text processing (nemo_itn, Apache-2.0), text2num (MIT), duckling (BSD-3-Clause)
and Recognizers-Text (MIT), one folder each; get them from those projects. `--show NAME` prints the misses of one set.
`--speed` times us against text2num, quantulum3 and number-parser, as far as they are installed.

A case that contradicts another peer, or a decision of ours, is listed in `DECIDED` with its reason; it is counted apart
and never as right.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from diary.language.numerals import read_numbers
from diary.language.quantities import read_quantities


@dataclass
class Case:
    """One spoken text and the values that should be read from it."""

    text: str
    want: list[float]
    why: str = ""  # set when we decided otherwise


def close(a: float, b: float) -> bool:
    return abs(a - b) <= 1e-9 * max(1.0, abs(a), abs(b)) * 1e3


def same(got: list[float], want: list[float]) -> bool:
    return len(got) == len(want) and all(close(a, b) for a, b in zip(got, want, strict=True))


# Where peers disagree with each other or with what a person at a vehicle means. (set, text): reason
DIGITS = "said digit by digit it is one number here (an odometer, a part number); this peer keeps the digits apart"
GLUED = "their NumberModel leaves out a number that touches its unit; here it is read, as duckling reads '2oz'"
DECIDED: dict[tuple[str, str], str] = {
    ("text2num", "one two three four twenty fifteen"): DIGITS,
    ("text2num", "one two three four twenty five."): DIGITS,
    ("text2num", "one two three four twenty, five."): DIGITS,
    ("text2num", "one two three four twenty five"): DIGITS,
    ("text2num", "one two three four twenty, five"): DIGITS,
    ("text2num", "One may count: one two three"): DIGITS,
    (
        "text2num",
        "This is the one I'm looking for. One moment please! Twenty one cats. One two three four!",
    ): DIGITS,
    (
        "text2num",
        "Please call me at one two three four five six seven eight nine zero in reference to ticket C F zero three two "
        "zero seven eight two",
    ): DIGITS + "; NeMo's telephone cases join them as we do",
    ("text2num", "zero nine sixty zero six twelve twenty-one"): DIGITS,
    ("text2num", "o nine sixty o six twelve twenty-one"): DIGITS,
    ("text2num", "plus thirty-three nine sixty zero six twelve twenty-one"): DIGITS,
    ("text2num", "plus thirty-three nine sixty o six twelve twenty-one"): DIGITS,
    ("text2num", "thirteen thousand zero ninety"): "an odometer said so is 13,090",
    ("text2num", "thirteen thousand o ninety"): "an odometer said so is 13,090",
    ("text2num", "five zero zero"): DIGITS,
    ("text2num", "sixty fifteen"): "must be refused there; elided hundreds here (6015)",
    ("text2num", "five zero"): "must be refused there; digit by digit here (50)",
    ("text2num", "five o"): "must be refused there; digit by digit here (50)",
    ("text2num", "fifty zero three"): "must be refused there; elided hundreds here (5003)",
    ("text2num", "fifty three zero"): "must be refused there; digit by digit here",
    ("text2num", "ten five"): "must be refused there; a dropped point here (10.5)",
    (
        "text2num",
        "This is the one I was waiting for",
    ): "its replace_all_numbers makes every 'one' a number, its other mode none; a pronoun here",
    ("text2num", "fourty-oneths"): "no English word",
    ("text2num", "ten oneths"): "no English word",
    ("recognizers", "the 180.25ml liquid"): GLUED,
    ("recognizers", "the 180ml liquid"): GLUED,
    ("recognizers", " 29km Road "): GLUED,
    ("recognizers", "the .25ml liquid"): GLUED,
    ("recognizers", "1m isn't a number."): GLUED,
    ("duckling", "30 l"): "30 litres here, 30 lakh there; recognizers_text reads '75ml' and the like as volumes too",
}


def numbers(text: str) -> list[float]:
    return [n.value for n in read_numbers(text)]


# ---- the sets


def _written(text: str) -> float | None:
    scale = 1.0
    for word, value in (("thousand", 1e3), ("million", 1e6), ("billion", 1e9), ("trillion", 1e12)):
        if text.endswith(word):
            text, scale = text[: -len(word)].strip(), value
    if text == "zero":
        return 0.0
    found = re.match(r"-?[\d.,]+", text)
    return float(found.group().replace(",", "")) * scale if found else None


def nemo(folder: Path, name: str) -> Iterator[Case]:
    for line in (folder / "nemo_itn" / f"test_cases_{name}.txt").read_text(encoding="utf-8").splitlines():
        if "~" in line:
            spoken, written = line.split("~", 1)
            value = _written(written)
            if value is not None:
                yield Case(spoken, [value])


def text2num(folder: Path) -> Iterator[tuple[Case, str]]:
    for name in ("en_rs", "en_py_v2"):
        for line in (folder / "text2num" / f"{name}.jsonl").read_text(encoding="utf-8").splitlines():
            row = json.loads(line)
            yield Case(row["spoken"], [], json.dumps(row["written"])), row["kind"]


def text2num_right(spoken: str, written: object, kind: str) -> bool:
    """A phrase is right when it is one number of that value; a text when the digits it should hold are what we find.

    Their replacing leaves small numbers as words (threshold), so numbers of ours below ten that their text still spells
    out are no error.
    """
    got = read_numbers(spoken)
    if kind.endswith("invalid"):
        return len(got) != 1
    if isinstance(written, int | float):
        return len(got) == 1 and got[0].value == written
    text = str(written)
    plain = re.sub(r"(?<=\d)(?:st|nd|rd|th)s?\b", "", text)
    want = [float(x) for x in re.findall(r"(?<![\w.])[+-]?\d+(?:\.\d+)?", plain)]
    spelled = set(re.findall(r"[a-z]+", text.lower()))
    have = []
    for n in got:
        words = set(re.findall(r"[a-z]+", spoken[n.start : n.end].lower()))
        if abs(n.value) < 10 and words <= spelled and n.value not in want:
            continue
        have.append(n.value)
    if want and "ths" in text and len(got) == 1:  # "25ths"
        return close(1 / got[0].value, want[0]) or got[0].value == want[0]
    return same(have, want)


def duckling(folder: Path) -> Iterator[Case]:
    for line in (folder / "duckling" / "numeral.jsonl").read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        found = re.search(r"-?\d+(?:\.\d+)?(?:e\d+)?", row["value"])
        if found:
            yield Case(row["text"], [float(found.group())])


def recognizers(folder: Path, name: str) -> Iterator[Case]:
    path = folder / "recognizers_text" / f"{name}.json"
    for row in json.loads(path.read_text(encoding="utf-8-sig")):
        want = []
        for r in row["Results"]:
            value = r["Resolution"].get("value")
            if value is not None:
                want.append(float(value))
        yield Case(row["Input"], want)


def run(name: str, cases: list[Case], reader: Callable[[str], list[float]], show: str, loose: bool = False) -> None:
    right, misses, decided = 0, [], 0
    total = 0
    for case in cases:
        if (name.split()[0], case.text) in DECIDED:
            decided += 1
            continue
        total += 1
        got = reader(case.text)
        ok = same(got, case.want)
        if loose and not ok:
            ok = len(case.want) == 1 and len(got) >= 1 and any(close(g, case.want[0]) for g in got) and len(got) == 1
        right += ok
        if not ok:
            misses.append((case.text, case.want, got))
    line = f"{name:34s} {right:4d} / {total:4d}  {100 * right / max(total, 1):6.1f} %"
    print(line + (f"   ({decided} decided otherwise, listed in DECIDED)" if decided else ""))
    if show and show in name:
        for text, want, got in misses:
            print("    ", repr(text), "want", want, "got", got)


def run_text2num(folder: Path, show: str) -> None:
    right = total = decided = 0
    for case, kind in text2num(folder):
        if ("text2num", case.text) in DECIDED:
            decided += 1
            continue
        total += 1
        ok = text2num_right(case.text, json.loads(case.why), kind)
        right += ok
        if not ok and show and show in "text2num":
            print("    ", kind, repr(case.text), "want", case.why, "got", numbers(case.text))
    print(
        f"{'text2num':34s} {right:4d} / {total:4d}  {100 * right / total:6.1f} %"
        f"   ({decided} decided otherwise, listed in DECIDED)"
    )


# ---- speed

PHRASES = [
    "one twenty five foot pounds", "four forty two point five", "eighty seven thousand four oh six on the clock",
    "fourteen point two gallons at three eighty nine a gallon", "twenty two and a half", "front left thirty one psi",
    "quarter inch drive ratchet", "fifteen sixteenths", "odometer says one oh four six eighteen",
    "trip was two forty three on the nose", "about twenty two hundred miles", "12.4 volts at the battery",
]  # fmt: skip


def timed(call: Callable[[str], object], texts: list[str], repeat: int) -> float:
    best = float("inf")
    for _ in range(repeat):
        start = time.perf_counter()
        for text in texts:
            call(text)
        best = min(best, time.perf_counter() - start)
    return best


def speed() -> None:
    readers: dict[str, Callable[[str], object]] = {"ours: numerals": read_numbers, "ours: quantities": read_quantities}
    try:
        from text_to_num import alpha2digit

        readers["text2num"] = lambda t: alpha2digit(t, "en")
    except ImportError:
        print("text2num is not installed")
    try:
        from quantulum3 import parser

        readers["quantulum3"] = parser.parse
    except ImportError:
        print("quantulum3 is not installed")
    try:
        from number_parser import parse as number_parser

        readers["number-parser"] = lambda t: number_parser(t, language="en")
    except ImportError:
        print("number-parser is not installed")
    story = " and then we drove on down the road for a while because it was fine ".join(PHRASES)
    words = story.split()
    long = {n: " ".join((words * (n // len(words) + 1))[:n]) for n in (1250, 2500, 5000)}
    print(f"{'':20s} {'us a phrase':>12s} {'ms for 1,250':>13s} {'2,500':>8s} {'5,000 words':>12s}")
    for name, call in readers.items():
        try:
            for text in PHRASES:
                call(text)
            phrase = timed(call, PHRASES, 7) / len(PHRASES) * 1e6
            slow = phrase > 2000
            times = [timed(call, [text], 1 if slow else 3) * 1e3 for text in long.values()]
            print(f"{name:20s} {phrase:12.1f} {times[0]:13.1f} {times[1]:8.1f} {times[2]:12.1f}", flush=True)
        except Exception as problem:  # another library's failure is a result too
            print(f"{name:20s} failed: {type(problem).__name__}: {problem}")


def main() -> None:
    arguments = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    arguments.add_argument("peers", type=Path)
    arguments.add_argument("--show", default="")
    arguments.add_argument("--speed", action="store_true")
    given = arguments.parse_args()
    if not given.peers.is_dir():
        sys.exit(f"There is no folder {given.peers}; give the one that holds nemo_itn, text2num, duckling, ...")
    for name in ("cardinal", "decimal", "measure"):
        run(f"nemo {name}", list(nemo(given.peers, name)), numbers, given.show)
    run_text2num(given.peers, given.show)
    run("duckling numeral", list(duckling(given.peers)), numbers, given.show)

    def cardinals(text: str) -> list[float]:  # their ordinals are another model
        return [n.value for n in read_numbers(text) if n.kind != "ordinal"]

    run("recognizers NumberModel", list(recognizers(given.peers, "Number/English/NumberModel")), cardinals, given.show)
    dims = list(recognizers(given.peers, "NumberWithUnit/English/DimensionModel"))

    def measured(text: str) -> list[float]:
        return [
            q.value
            for q in read_quantities(text)
            if q.dimension not in ("money", "unit_price", "time", "count", "temperature", "ratio")
            and q.number is not None
            and q.number.kind != "article"
        ]

    run("recognizers DimensionModel", dims, measured, given.show)
    if given.speed:
        speed()


if __name__ == "__main__":
    main()
