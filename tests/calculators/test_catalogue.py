"""The catalogue: every calculator by hand, what it says to bad input, and the way from a question to a calculator."""

import inspect
from types import SimpleNamespace
from typing import Any

import pytest

from diary.calculators import bench, catalogue
from diary.calculators.catalogue import CALCULATORS, answer_to, match, run
from diary.calculators.tables import table
from diary.errors import DiaryError

# One call of each calculator as it is typed, and the first value that comes out (worked by hand or in tests/outside).
CALLS = {
    "convert": (["85ft_lb", "N_m"], 115.245),
    "economy": (["312.4", "12.85"], 24.3113),
    "cost": (["52.70", "312.4"], 0.16869),
    "co2": (["12.85"], 114.198),
    "range": (["26gal_us", "120", "15"], 270.0),
    "gauge": (["0.25:18,0.5:12,0.75:6", "0.5"], 12.0),
    "rollover": (["950.3", "112.8"], 162.5),
    "tyre": (["265/70R17"], 31.606),
    "speedo": (["37", "265/70R17"], 70.239),
    "course": (["10", "9.7"], 1.03093),
    "stopwatch": (["58"], 62.069),
    "odometer": (["61200", "64000", "35x12.50R17", "265/70R17"], 64300.6),
    "rpm": (["65", "2.7975", "35"], 1746.3),
    "axle": (["3.73", "35", "265/70R17"], 4.131),
    "speedo-rule": (["80"], 80.0),
    "torque": (["3/8-16", "5"], 30.88),
    "adapter": (["100", "18", "2"], 90.0),
    "friction": (["100N_m", "dry", "oiled"], 75.0),
    "recheck": (["61200"], 61250.0),
    "tyre-temperature": (["35", "70", "30"], 31.25),
    "leak": (["36", "33.5", "10", "68", "50"], 0.0771),
    "floor": (["35"], 26.25),
    "wire": (["30", "15"], 13.302),
    "drop": (["AWG 10", "30", "15ft"], 0.899),
    "fuse": (["30.5"], 40.0),
    "loads": (["30", "4"], 24.0),
    "together": (["12.5,18"], 30.5),
    "battery": (["12.45"], 75.0),
    "charging": (["14.2"], 14.2),
    "flat": (["50"], 600.0),
    "refrigerant": (["70"], 71.11),
    "freeze": (["50"], -37.1),
    "coolant": (["12", "30", "50"], 3.429),
    "two-stroke": (["2.5", "40"], 8.0),
    "balance": (["60:0,60:90"], 84.853),
    "ballast": (["100", "2", "4"], 50.0),
    "due": (["every=5000", "done=42150", "now=45900"], 47150.0),
    "interval": (["5000", "35", "265/70R17"], 4515.2),
}


def test_every_calculator_is_tried_here() -> None:
    assert set(CALLS) == set(CALCULATORS)


@pytest.mark.parametrize("name", CALLS)
def test_by_hand(name: str) -> None:
    arguments, first = CALLS[name]
    answer = run(name, arguments)
    assert answer.values[0]["value"] == pytest.approx(first, rel=1e-3)
    assert answer.text.endswith(".") and "_" not in answer.text
    assert set(answer.values[0]) == {"value", "unit", "plus_minus"}


@pytest.mark.parametrize("name", CALCULATORS)
def test_the_table_fits_the_functions(name: str) -> None:
    calculator = CALCULATORS[name]
    taken = list(inspect.signature(calculator.function).parameters)
    assert sorted(taken) == sorted(p.name for p in calculator.parameters)
    assert calculator.function.__doc__ and getattr(bench, calculator.function.__name__)
    assert name in catalogue.overview() and calculator.help in catalogue.usage(name)


def test_three_ways_to_give_the_same() -> None:
    bare = run("adapter", ["100", "18", "2", "45"])
    named = run("adapter", ["angle=45", "arm=2", "torque=100", "wrench=18"])
    dashed = run("adapter", ["--arm", "2", "--torque=100ft_lb", "--wrench", "18", "--angle", "45"])
    mapped = run("adapter", {"torque": (100, "ft_lb"), "wrench": 18, "arm": 2, "angle": 45})
    assert bare.values == named.values == dashed.values == mapped.values


def test_a_number_may_carry_its_unit() -> None:
    metres, feet = run("wire", ["30", "4.572m"]), run("wire", ["30A", "15 ft"])
    assert metres.values[1]["value"] == pytest.approx(feet.values[1]["value"])
    assert run("tyre-temperature", ["240kPa", "20degC", "-5 C"]).values[0]["value"] == pytest.approx(210.9, abs=0.05)


TOUCHY = [
    "range",
    "speedo",
    "torque",
    "adapter",
    "friction",
    "recheck",
    "tyre-temperature",
    "leak",
    "wire",
    "fuse",
    "loads",
    "battery",
    "charging",
    "refrigerant",
    "coolant",
    "freeze",
    "two-stroke",
    "ballast",
    "balance",
]


@pytest.mark.parametrize("name", TOUCHY)
def test_cautions_go_with_what_can_hurt(name: str) -> None:
    assert len(run(name, CALLS[name][0]).caution) > 40


def test_the_manual_overrides_an_estimate() -> None:
    answer = run("torque", ["M10", "8.8"])
    assert (
        not answer.certain and "manual" in answer.text and "manual" in answer.caution and "technician" in answer.caution
    )


BAD = [
    ("nothing", [], "no calculator"),
    ("fuse", [], "needs 'amps' in A"),
    ("fuse", ["-3"], "above zero, not -3"),
    ("fuse", ["12ft_lb"], "measures something else"),
    ("fuse", ["lots"], "is a number in A, not 'lots'"),
    ("fuse", ["12", "maybe"], "yes or no"),
    ("fuse", ["12", "yes", "AWG 10", "more"], "one too many"),
    ("fuse", ["500"], "largest stock fuse"),
    ("fuse", ["colour=red"], "takes no 'colour'"),
    ("convert", ["85ft_lb", "psi"], "ft_lb"),
    ("convert", ["85", "psi"], "unit"),
    ("convert", ["85 parsnips", "psi"], "parsnips"),
    ("tyre", ["banana"], "not read as a tyre size"),
    ("tyre", ["265/70R99"], "rim in inches of 99"),
    ("torque", ["M10", "5"], "inch"),
    ("torque", ["M10", "99"], "Grade '99'"),
    ("torque", ["M10", "8.8", "sticky"], "one of dry, oiled"),
    ("torque", ["M12", "10.9", "dry", "lug nuts"], "manual"),
    ("adapter", ["100", "2", "18"], "too long"),
    ("battery", ["142"], "no resting voltage"),
    ("charging", ["142"], "not believable"),
    ("tyre-temperature", ["350", "70", "30"], "not believable"),
    ("tyre-temperature", ["35", "70", "3000"], "not believable"),
    ("leak", ["36", "33", "0"], "more than zero days"),
    ("freeze", ["80"], "over 60%"),
    ("coolant", ["0", "30", "50"], "above zero"),
    ("two-stroke", ["2", "3"], "from 8 to 200"),
    ("refrigerant", ["400"], "outside"),
    ("due", [], "interval"),
    ("due", ["every=-5"], "above zero"),
    ("due", ["months=6", "done_on=yesterday"], "a date such as"),
    ("economy", ["0", "12"], "above zero"),
    ("rollover", ["1200", "3"], "just under"),
    ("gauge", ["0.5:12", "0.5"], "two different"),
    ("co2", ["10", "steam"], "gasoline, diesel"),
    ("range", ["-1", "10", "15"], "above zero"),
    ("wire", ["4000", "5000"], "shorter"),
]


@pytest.mark.parametrize(("name", "arguments", "says"), BAD)
def test_bad_input_is_one_clear_sentence(name: str, arguments: list[str], says: str) -> None:
    with pytest.raises(DiaryError) as error:
        run(name, arguments)
    assert says in str(error.value)
    assert str(error.value).endswith(".")


# -- questions
# ------------------------------------------------------------------------------------------------------------------


def said(question: str, *found: tuple[str, float, str | None]) -> tuple[list[Any], list[Any]]:
    """(quantities, numbers) as a reader of the language would hand them over; a words of "" is carried over from
    before.
    """
    quantities, numbers = [], []
    for words, value, unit in found:
        start = question.index(words) if words else -1
        thing = SimpleNamespace(value=value, unit=unit, start=start, end=start + len(words), kind="number")
        (numbers if unit is None else quantities).append(thing)
    return quantities, numbers


def test_whats_that_in_newton_metres() -> None:
    question = "what's that in newton metres"
    answer = answer_to(question, *said(question, ("", 62.0, "ft_lb")))
    assert isinstance(answer, catalogue.Answer) and answer.values[0]["value"] == pytest.approx(84.06, abs=0.01)


def test_how_much_will_the_speedo_be_out() -> None:
    question = "how much will the speedo be out on thirty sevens"
    found = match(question)
    assert found is not None and found.name == "speedo" and found.missing == ["calibrated"]
    answer = answer_to(question, known={"calibrated": "265/70R17"})
    assert isinstance(answer, catalogue.Answer) and answer.values[1]["value"] == pytest.approx(17.07, abs=0.01)


def test_can_i_run_four_fans() -> None:
    question = "can i run four fans on a thirty amp fuse"
    answer = answer_to(question, *said(question, ("four", 4, None), ("thirty amp", 30, "A")))
    assert (
        isinstance(answer, catalogue.Answer)
        and [v["value"] for v in answer.values] == [24.0, 6.0]
        and not answer.certain
    )
    question = "can i run four fans at seven amps each on a thirty amp fuse"
    answer = answer_to(question, *said(question, ("four", 4, None), ("seven amps", 7, "A"), ("thirty", 30, "A")))
    assert isinstance(answer, catalogue.Answer) and answer.text.startswith("No") and answer.values[0]["value"] == 28.0


@pytest.mark.parametrize(
    "question",
    [
        "what did i torque the lug nuts to",
        "how big a fuse goes in the horn slot",
        "what was it charging at after i put the alternator on",
        "what mileage did we get on the last tank",
        "when did i last change the oil",
        "how many miles since the brake pads",
    ],
)
def test_questions_about_the_diary_are_left_alone(question: str) -> None:
    assert match(question) is None


def test_with_the_languages_own_reading() -> None:
    """The same through the language room, across the wall: routes must fit what it hands over."""
    numerals = pytest.importorskip("diary.language.numerals")
    reader = pytest.importorskip("diary.language.quantities")
    from diary.language.types import Locale

    for question, name in [
        ("can i run four fans on a thirty amp fuse", "loads"),
        ("what's eighty five foot pounds in newton metres", "convert"),
        ("how many litres is five quarts", "convert"),
        ("how much oil for two gallons at thirty two to one", "two-stroke"),
        ("what size fuse for a twelve amp fan", "fuse"),
        ("what wire do i need for thirty amps over fifteen feet", "wire"),
        ("what will thirty five psi at seventy degrees be when it drops to thirty degrees", "tyre-temperature"),
        ("how many amps is a hundred fifty watts and a hundred twenty watts together", "together"),
        ("how much coolant do i drain from a 12 litre system at thirty percent to get to fifty percent", "coolant"),
        ("ten miles of markers by gps and the odometer says nine point seven miles how far off is it", "course"),
        ("the tire went from 36 psi to 33.5 psi in ten days how fast is it leaking", "leak"),
        ("what do i set the wrench to for 80 foot pounds with a 2 inch crowfoot on an 18 inch wrench", "adapter"),
        ("what torque is 100 newton metres dry if i put anti seize on it", "friction"),
        ("how tight for an m10 bolt grade 10.9", "torque"),
        ("how cold is fifty percent coolant good down to before it freezes", "freeze"),
    ]:
        found = match(question, reader.read_quantities(question, locale=Locale()), numerals.read_numbers(question))
        assert found is not None and found.name == name and not found.missing, (question, found)


def test_routes_name_calculators_and_their_parameters() -> None:
    for route in table("routes")["route"]:
        names = {p.name for p in CALCULATORS[route["name"]].parameters}
        assert set(route["slots"]) <= names and set(route["must"]) <= names
