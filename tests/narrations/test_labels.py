"""The labels of these diaries hold together: indices, arithmetic, and every number stands in its note.

They check the clerk, not the reader; `score.py` measures the reader (see README.md beside this file).
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parent
FILES = sorted(FOLDER.glob("v*.json"))
KINDS = ("fills", "readings", "torques", "measures", "parts", "faults", "work", "plans", "lessons")

ONES = """oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen
seventeen eighteen nineteen""".split()  # noqa: SIM905
TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
COINS = ("dollars", "pound", "quid", "bucks")
# spoken otherwise than by its digits: a note may hold any of these for the value
OTHERWISE: dict[float, tuple[str, ...]] = {
    0.7: ("point seven",),
    0.75: ("three quarters",),
    1.5: ("one and a half", "quart and a half"),
    10: ("tenner", "tenners"),
    19.5: ("nineteen and a half",),
    68.25: ("sixty eight and a quarter",),
    104901: ("hundred and four nine oh one",),
    105523: ("hundred and five thousand five twenty three",),
    17.0: ("seventeen point oh",),
    9.95: ("nine bucks ninety five",),
    14.8: ("fourteen bucks eighty",),
    75.1: ("seventy five pound ten",),
    59.75: ("fifty nine quid seventy five",),
}


def diary(path: Path) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return loaded


def below_100(n: int) -> str:
    if n < 20:
        return ONES[n]
    return TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")


def whole(n: int) -> set[str]:
    """Ways to say a whole number: in full, by twos, digit by digit."""
    if n < 100:
        return {below_100(n)}
    out = {" ".join(ONES[int(c)] for c in str(n))}
    if n < 1000:
        h, rest = divmod(n, 100)
        tails = {below_100(rest), f"and {below_100(rest)}"} if rest else set()
        if rest and rest < 10:
            tails = {f"oh {ONES[rest]}", f"and {ONES[rest]}"}
        heads = {f"{ONES[h]} hundred"} | ({"a hundred"} if h == 1 else set())
        out |= {f"{a} {b}".strip() for a in heads for b in (tails or {""})}
        out |= {f"{ONES[h]} {b}" for b in tails if not b.startswith("and")}
        return out
    k, rest = divmod(n, 1000)
    ends = whole(rest) if rest else {""}
    ends |= {f"and {e}" for e in ends}
    if rest and rest < 100:
        ends.add(f"oh {below_100(rest)}")
    out |= {f"{a} thousand {e}".strip() for a in whole(k) for e in ends}
    return out | {f"{a} {e}".strip() for a in whole(k) for e in ends if e}


def spoken(value: float) -> set[str]:
    """Ways to say a value in words, with decimals after "point" or as pounds and pence."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    left, _, right = text.partition(".")
    out = set(whole(int(left))) if not right else set()
    if right:
        digits = " ".join(ONES[int(c)] for c in right)
        cents = below_100(int(f"{value:.2f}".split(".")[1]))
        for a in whole(int(left)):
            out |= {f"{a} point {digits}", f"{a} {cents}"}
            out |= {f"{a} {coin} {extra}{cents}" for coin in COINS for extra in ("", "and ")}
    return out | set(OTHERWISE.get(round(value, 4), ()))


def stands(value: float, text: str) -> bool:
    """Whether the number is in the text, as digits (gaps, commas and elisions allowed) or as words."""
    flat = re.sub(r"(?<=\d)[ ,](?=\d)", "", text.lower()).replace(" oh ", "0")
    numbers = {float(x) for x in re.findall(r"\d+(?:\.\d+)?", text.replace(",", ""))}
    numbers |= {float(x) for x in re.findall(r"\d+(?:\.\d+)?", flat)}
    if any(abs(value - n) < 1e-9 for n in numbers):
        return True
    return any(re.search(rf"\b{re.escape(way)}\b", text) for way in spoken(value))


def rows(d: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    return [(kind, row) for kind in KINDS for row in d["gold"][kind]]


@pytest.fixture(params=FILES, ids=lambda p: p.stem)
def one(request: pytest.FixtureRequest) -> dict[str, Any]:
    return diary(request.param)


def test_there_are_six() -> None:
    assert len(FILES) == 6


def test_every_row_points_at_a_note(one: dict[str, Any]) -> None:
    last = len(one["notes"]) - 1
    for kind, row in rows(one):
        if kind == "faults":
            places = [row["opened_in_note"], row["closed_in_note"], row["came_back_in_note"]]
        else:
            places = [row["note"]]
        assert places[0] is not None
        assert all(p is None or 0 <= p <= last for p in places), row
    times = [n["at"] for n in one["notes"]]
    assert times == sorted(times)


def test_words_have_no_digits_or_marks(one: dict[str, Any]) -> None:
    if one["style"] == "asr-words":
        assert all(re.fullmatch(r"[a-z ]+", n["text"]) for n in one["notes"])


def test_every_number_stands_in_its_note(one: dict[str, Any]) -> None:
    for kind, row in rows(one):
        for field in ("volume", "price_total", "odometer", "trip", "value", "cost"):
            value = row.get(field)
            if isinstance(value, (int, float)):
                assert stands(value, one["notes"][row["note"]]["text"]), (kind, field, row)


def test_readings_repeat_what_fills_say(one: dict[str, Any]) -> None:
    said = {(r["note"], r["meter"], r["value"]) for r in one["gold"]["readings"]}
    for fill in one["gold"]["fills"]:
        for meter in ("odometer", "trip"):
            if fill[meter] is not None:
                assert (fill["note"], meter, fill[meter]) in said


def test_main_meter_only_climbs(one: dict[str, Any]) -> None:
    for meter in ("odometer", "hours"):
        values = [r["value"] for r in sorted(one["gold"]["readings"], key=lambda r: r["note"]) if r["meter"] == meter]
        assert values == sorted(values)


def spans(d: dict[str, Any]) -> list[tuple[int, int, float, float]]:
    """Brim to brim, partial fills between added; dropped where a volume or both meters are missing."""
    main = "hours" if d["locale"]["distance"] == "h" else "odometer"
    at = {(r["note"], r["meter"]): r["value"] for r in d["gold"]["readings"]}
    out: list[tuple[int, int, float, float]] = []
    start: int | None = None
    fuel: float | None = 0.0
    for fill in d["gold"]["fills"]:
        fuel = None if fuel is None or fill["volume"] is None else fuel + fill["volume"]
        if not fill["to_brim"]:
            continue
        end = fill["note"]
        if start is not None and fuel is not None:
            if (start, main) in at and (end, main) in at:
                out.append((start, end, at[end, main] - at[start, main], fuel))
            elif (end, "trip") in at and re.search(r"zeroe?d|nought|reset", d["notes"][start]["text"]):
                out.append((start, end, at[end, "trip"], fuel))
        start, fuel = end, 0.0
    return out


def test_economy_follows_from_the_fills(one: dict[str, Any]) -> None:
    want = one["final"]["economy"]

    # sums below are by hand: miles per gallon, litres per 100 km, litres per hour
    def value(distance: float, fuel: float) -> float:
        return {"mi": distance / fuel, "km": 100 * fuel / distance, "h": fuel / distance}[one["locale"]["distance"]]

    got = spans(one)
    assert [(e["from_note"], e["to_note"]) for e in want] == [(a, b) for a, b, _, _ in got]
    for e, (_, _, distance, fuel) in zip(want, got, strict=True):
        assert e["distance"] == pytest.approx(distance)
        assert e["fuel"] == pytest.approx(fuel)
        assert e["value"] == pytest.approx(value(distance, fuel), abs=0.00501)


def test_open_faults_follow_from_the_threads(one: dict[str, Any]) -> None:
    still = [
        f["what"]
        for f in one["gold"]["faults"]
        if f["closed_in_note"] is None
        or (f["came_back_in_note"] is not None and f["came_back_in_note"] > f["closed_in_note"])
    ]
    assert still == one["final"]["open_faults"]


def test_answers_follow_from_the_records(one: dict[str, Any]) -> None:
    """Each key value is a recorded number, an economy, the spending, or a difference of two readings."""
    gold = one["gold"]
    known = [r["value"] for k in ("torques", "measures") for r in gold[k]]
    known += [e["value"] for e in one["final"]["economy"]]
    known.append(sum(p["cost"] for p in gold["parts"] if p["cost"] is not None))
    meters = [r["value"] for r in gold["readings"] if r["meter"] != "trip"]
    known += [b - a for a in meters for b in meters if b > a]
    assert 6 <= len(one["final"]["questions"]) <= 8
    for q in one["final"]["questions"]:
        for key in q["key_values"]:
            assert any(abs(key - k) < 0.0051 for k in known), q
            said = [float(x) for x in re.findall(r"\d+(?:\.\d+)?", q["answer"].replace(",", ""))]
            assert any(abs(key - x) < 0.051 for x in said), q
