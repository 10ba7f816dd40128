"""Answers computed from records: right where they can be worked out, honest where they cannot, and never an invented
figure.

Outside checks: the brim-to-brim table, the weighting of tanks and the cost per mile are those of the project's check
values,
section 1 (common practice; JCGM 100 for the spread). The labelled narrations are in tests/narrations.
"""

from __future__ import annotations

import json
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from gold import open_gold
from helpers import diary, draft, fill, tell
from test_questions import CASES

from diary.assistant.answers import ask
from diary.records.diary import Diary

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from bench_ask import right

NARRATIONS = sorted(p for p in (Path(__file__).parents[1] / "narrations").glob("*.json"))


def numbers(made: Diary, question: str, unit: str) -> list[float]:
    return [round(v["value"], 3) for v in ask(made, question).values if v["unit"] == unit]


@pytest.fixture()
def chain(tmp_path: Path) -> Diary:
    """Fills A to F of the check values: C is partial, E has no volume (the fill before it was missed)."""
    made, reader = diary(tmp_path, datetime(2026, 6, 30, 18))
    rows = [
        ("2026-05-01", 14.200, 41000.0, True),
        ("2026-05-08", 12.850, 41312.4, True),
        ("2026-05-12", 5.000, 41450.0, False),
        ("2026-05-17", 8.400, 41640.4, True),
        ("2026-05-25", None, 41900.4, True),
        ("2026-06-02", 10.000, 42160.4, True),
    ]
    for when, volume, meter, brim in rows:
        tell(made, reader, f"{when}T10:00", f"fill {when}", *fill(volume, meter, brim=brim))
    return made


def test_brim_to_brim_against_the_check_values(chain: Diary) -> None:
    assert numbers(chain, "mileage between the eighth and the seventeenth of may", "mpg_us") == [
        pytest.approx(24.478, abs=5e-4)
    ]
    assert numbers(chain, "what did i get on the tank i filled on may eighth", "mpg_us")[0] == pytest.approx(
        24.311, abs=5e-4
    )
    assert numbers(chain, "what did we get on the last tank", "mpg_us") == [pytest.approx(26.0, abs=5e-4)]
    # 900.4 mi on 36.250 gal, not the mean of the three figures
    assert numbers(chain, "whats my economy overall", "mpg_us") == [pytest.approx(24.839, abs=5e-4)]
    assert numbers(chain, "which was the best tank", "mpg_us") == [pytest.approx(26.0, abs=5e-4)]
    assert numbers(chain, "what was the worst tank", "mpg_us") == [pytest.approx(24.311, abs=5e-4)]


def test_a_span_with_a_missing_volume_is_not_guessed(chain: Diary) -> None:
    answer = ask(chain, "what mileage did i get between may seventeenth and june second")
    assert not answer.certain and answer.values == [] and "volume" in answer.answer


@pytest.mark.parametrize(
    ("tanks", "mpg"),
    [([(300, 20), (300, 30)], 24.000), ([(400, 18), (100, 12)], 16.364)],  # check values, "averaging across tanks"
)
def test_tanks_are_weighted_by_distance(tmp_path: Path, tanks: list[tuple[int, int]], mpg: float) -> None:
    made, reader = diary(tmp_path, datetime(2026, 6, 30, 18))
    meter = 50_000.0
    tell(made, reader, "2026-06-01T10:00", "start", *fill(10.0, meter))
    for n, (miles, each) in enumerate(tanks):
        meter += miles
        tell(made, reader, f"2026-06-{10 + n}T10:00", f"f{n}", *fill(miles / each, meter))
    assert numbers(made, "average economy", "mpg_us") == [pytest.approx(mpg, abs=5e-4)]


def test_cost_per_mile_against_the_check_values(tmp_path: Path) -> None:
    made, reader = diary(tmp_path)
    tell(made, reader, "2026-05-01T10:00", "a", *fill(14.0, 41000.0))
    tell(made, reader, "2026-05-08T10:00", "b", *fill(12.85, 41312.4, price_total=52.70))
    assert numbers(made, "what is fuel costing me per mile", "USD_per_mi") == [
        pytest.approx(0.16869, abs=5e-4)
    ]  # 16.869 cents
    assert numbers(made, "what did i pay a gallon", "USD_per_gal_us") == [pytest.approx(52.70 / 12.85, abs=5e-4)]


@pytest.mark.parametrize("path", NARRATIONS, ids=lambda p: p.stem)
def test_questions_of_labelled_diaries(tmp_path: Path, path: Path) -> None:
    """Answering alone: records are the diaries' labels. One question of a diary may be beyond it, not two."""
    made, data = open_gold(path, tmp_path / "d.db")
    wrong, previous = [], None
    for question in data["final"]["questions"]:
        answer = ask(made, question["ask"], previous=previous if question["ask"].lower().startswith("and ") else None)
        previous = answer
        if not right(json.loads(json.dumps(answer.as_dict())), question):
            wrong.append(f"{question['ask']} | {question['answer']} | {answer.answer}")
    made.close()
    assert len(wrong) <= 1, wrong


def test_nothing_is_invented_of_an_empty_diary(tmp_path: Path) -> None:
    """Every wording of the tests, asked of a diary without notes, gives no figure but a conversion's own and a count
    of nothing."""
    made, _ = diary(tmp_path)
    told = []
    for family, text, _ in CASES:
        answer = ask(made, text)
        assert answer.answer
        if answer.values and family not in ("convert",):
            told.append((text, answer.values))
    assert not told, told[:5]


@pytest.mark.parametrize(
    "question",
    [
        "what did i torque the u joint straps to",
        "what was the gearbox temperature",
        "how much did the turbo cost",
        "when did i last change the plugs",
        "how many miles since the clutch",
        "what pressure did i put in the spare",
        "how many glow plugs did i buy",
        "how often do i bleed the clutch",
    ],
)
def test_nothing_is_invented_of_things_never_noted(tmp_path: Path, question: str) -> None:
    made, reader = diary(tmp_path)
    tell(
        made,
        reader,
        "2026-05-01T10:00",
        "a",
        *fill(14.0, 41000.0, price_total=50.0),
        draft("torques", fastener="u joint flange bolts", value=35.0, unit="ft_lb", role="applied"),
        draft("measures", quantity="temperature", value=190.0, unit="degF", of="left front hub"),
        draft("measures", quantity="pressure", value=32.0, unit="psi", of="front tires"),
        draft("parts", name="oil filter", state="bought", cost=9.0, count=1.0),
        draft("work", action="replaced", component="oil filter"),
    )
    tell(made, reader, "2026-05-10T10:00", "b", *fill(12.0, 41250.0))
    answer = ask(made, question)
    assert answer.values == [] and not answer.certain, answer.answer


def test_every_value_has_its_record(chain: Diary) -> None:
    answer = ask(chain, "what did we get on the last tank")
    assert {r.split(".")[1] for r in answer.records} == {"fills"} and len(answer.records) == 2


def test_the_caution_stands_where_a_mistake_can_hurt(tmp_path: Path) -> None:
    made, reader = diary(tmp_path)
    tell(
        made,
        reader,
        "2026-05-26T10:00",
        "a",
        draft("torques", fastener="lug nuts", value=95.0, unit="ft_lb", role="applied"),
        draft("faults", what="left outer tie rod end has play", component="tie rod end", event="found", safety=True),
        draft("torques", fastener="valve cover bolts", value=80.0, unit="in_lb", role="applied"),
    )
    answer = ask(made, "what should i check before i drive")
    assert (
        answer.caution
        and "lug nuts" in answer.answer
        and "tie rod" in answer.answer
        and "valve cover" not in answer.answer
    )
    assert "service manual" in answer.answer
    assert ask(made, "what did i torque the lug nuts to").caution


def test_follow_ups_lean_on_the_question_before(chain: Diary) -> None:
    last = ask(chain, "what did we get on the last tank")
    before = ask(chain, "and the one before", previous=last)
    assert before.values[0]["value"] == pytest.approx(24.478, abs=5e-4)
    again = ask(chain, "and the one before that", previous=before)
    assert again.values[0]["value"] == pytest.approx(24.311, abs=5e-4)


def test_threads_are_told_with_their_days(tmp_path: Path) -> None:
    made, reader = diary(tmp_path)
    first = tell(
        made,
        reader,
        "2026-05-10T10:00",
        "shimmy in the wheel at fifty five",
        draft("faults", what="steering wheel shimmy", component="steering wheel", event="found"),
    )
    thread = first.written[0].id
    tell(
        made,
        reader,
        "2026-05-16T10:00",
        "balanced the wheels and the shimmy is gone",
        draft("faults", thread=thread, event="fixed"),
    )
    assert ask(made, "is the shimmy fixed").answer.startswith("Yes, steering wheel shimmy: it was fixed on May 16")
    tell(made, reader, "2026-05-24T10:00", "well the shimmy is back", draft("faults", thread=thread, event="back"))
    assert ask(made, "is the shimmy fixed").answer.startswith("No, steering wheel shimmy: it came back on May 24")
    assert "May 24" in ask(made, "when did the shimmy come back").answer
    assert ask(made, "whats still open").answer == "One open: steering wheel shimmy, came back."


def test_parts_have_one_life(tmp_path: Path) -> None:
    made, reader = diary(tmp_path)

    def part(when: str, name: str, state: str, **more: Any) -> None:
        tell(made, reader, when, f"{name} {state} {when}", draft("parts", name=name, state=state, **more))

    for name in ("thermostat", "thermostat gasket", "belt", "upper radiator hose"):
        part("2026-05-20T10:00", name, "needed", count=1.0)
    part("2026-05-21T10:00", "belt", "ordered", cost=24.0)
    part("2026-05-23T10:00", "thermostat", "bought", cost=18.5)
    assert ask(made, "what do i have to buy").answer == "To buy: thermostat gasket and upper radiator hose."
    part("2026-05-24T10:00", "gasket", "bought")
    assert ask(made, "what is left on the list").answer == "To buy: upper radiator hose."
    assert ask(made, "whats on order").answer.startswith("On order: belt")
    part("2026-05-26T10:00", "belt", "fitted", cost=24.0)
    assert ask(made, "what have i spent on parts").values[0] == {
        "value": 42.5,
        "unit": "USD",
        "plus_minus": None,
    }  # the belt once
