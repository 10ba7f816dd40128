"""Plans in many voices, typed and spoken, and talk that sounds like a plan and is none. All sayings are invented."""

from __future__ import annotations

import random
from datetime import datetime
from typing import Any

from diary.language.pipeline import parse_light
from diary.language.readers import lessons, plans
from diary.language.types import Context, Draft, Locale
from tests.language.readers.worded import alike, f1, lines

ROWS = lines("plan_voices.jsonl")


def _context(row: dict[str, Any]) -> Context:
    return Context(now=datetime.fromisoformat(row["at"]), locale=Locale(volume="L", distance="km"))


def _plans(say: str, context: Context) -> list[Draft]:
    return plans.read(parse_light(say, context), context, [])


def test_plans_and_their_days_are_read() -> None:
    counts, days = [0, 0, 0], 0
    for row in ROWS:
        left = [d.fields for d in _plans(row["say"], _context(row))]
        for wanted in row["plans"]:
            match = next((g for g in left if alike(str(g["what"]), wanted["what"], 0.4)), None)
            if match is None:
                counts[2] += 1
                continue
            left.remove(match)
            counts[0] += 1
            days += match["due"] == wanted["due"]
        counts[1] += len(left)
    assert f1(counts) >= 0.92, counts
    assert days >= 0.97 * counts[0], (days, counts)


def test_talk_that_is_no_plan() -> None:
    found = {
        row["say"]: [d.fields["what"] for d in _plans(row["say"], _context(row))] for row in ROWS if not row["plans"]
    }
    assert len(found) >= 60
    assert not [(say, made) for say, made in found.items() if made]


def test_talk_broken_off_anywhere_is_read() -> None:
    """Every saying cut short or shuffled, as a recogniser may hand it over, is read without an error."""
    chance = random.Random(3)
    for row in ROWS:
        words = row["say"].split()
        shuffled = chance.sample(words, len(words))
        for said in (words[: chance.randint(1, len(words))], shuffled[:12]):
            context = _context(row)
            utterance = parse_light(" ".join(said), context)
            plans.read(utterance, context, [])
            lessons.read(utterance, context, [])


def test_a_distance_ahead_stands_beside_its_day() -> None:
    (draft,) = _plans("retorque lugs @ 50 mi, mon 9/21", Context(now=datetime(2026, 9, 19, 10)))
    assert (draft.fields["due"], draft.fields["due_distance"], draft.fields["due_unit"]) == ("2026-09-21", 50, "mi")


def test_a_plan_does_not_end_on_the_word_before_its_day() -> None:
    (draft,) = _plans("i need to check the tyre pressures before friday", Context(now=datetime(2026, 5, 12, 10)))
    assert (draft.fields["what"], draft.fields["due"]) == ("check the tyre pressures", "2026-05-15")
