"""Torques, target and applied, and what goes with them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.language.readers.numeric_support import cases, differences, rows


@pytest.mark.parametrize("case", cases("torques"), ids=lambda c: c["text"][:50])
def test_sentences(case: dict[str, Any]) -> None:
    found = rows(case["text"], "torques", case["locale"], case["meters"])
    assert not differences(found, case["expect"]["torques"])


def roles(text: str) -> list[tuple[str, float, str]]:
    return sorted((t["role"], t["value"], t["unit"]) for t in rows(text, "torques"))


def test_the_book_and_the_hand() -> None:
    assert roles("lug nuts the placard says seventy five foot pounds and they got seventy five") == [
        ("applied", 75, "ft_lb"),
        ("target", 75, "ft_lb"),
    ]


def test_applied_without_a_number_of_its_own() -> None:
    text = "i read the pivot bolt is thirty three and the adjuster is fourteen and that is what they both got"
    assert roles(text) == [
        ("applied", 14, "ft_lb"),
        ("applied", 33, "ft_lb"),
        ("target", 14, "ft_lb"),
        ("target", 33, "ft_lb"),
    ]


def test_target_without_a_number_of_its_own() -> None:
    text = "tightened the tensioner bolt to thirty three foot pounds which is the number on the sticker"
    assert roles(text) == [("applied", 33, "ft_lb"), ("target", 33, "ft_lb")]


def test_what_others_say_is_no_target() -> None:
    text = (
        "fan bolts spec i read online is sixteen foot pounds the forum had people saying twenty so i went with sixteen"
    )
    assert roles(text) == [("applied", 16, "ft_lb"), ("target", 16, "ft_lb")]


def test_the_unit_of_the_same_fastener_carries() -> None:
    assert roles("bleeder screw is eighty inch pounds i read that online and did eighty") == [
        ("applied", 80, "in_lb"),
        ("target", 80, "in_lb"),
    ]


def test_corrected_unit() -> None:
    assert roles("glow plugs torqued to eighteen inch pounds no wait foot pounds it is foot pounds eighteen") == [
        ("applied", 18, "ft_lb")
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("hub bolts at forty five foot pounds with blue thread locker", True),
        ("put red threadlocker on both bracket bolts and tightened them to two ten", True),
        ("exhaust nuts at twelve dry", False),
        ("flange bolts at thirty five foot pounds no threadlocker", False),
        ("wheel nuts at ninety five", None),
    ],
)
def test_threadlocker(text: str, expected: bool | None) -> None:
    assert [t["threadlocker"] for t in rows(text, "torques")] == [expected]


def test_angle_and_washers() -> None:
    (torque,) = rows("flywheel bolts forty four foot pounds plus sixty degrees with new lock washers", "torques")
    assert torque["angle"] == 60 and torque["lock_washers"] is True


@pytest.mark.parametrize(
    "text",
    [
        "two of the four fan bolts came out with my fingers",
        "drain plug went in a quarter turn past snug",
        "hub bolts nine ninety nine each at the counter",
        "the carrier bolts i never touched so the 170 in the manual doesn't matter",
        "this noise is driving me nuts at forty five",
    ],
)
def test_no_torque(text: str) -> None:
    assert rows(text, "torques") == []


# ---- classes of talk: each is a way of saying, in several voices ----------------------------------------------------

METRIC = {"distance": "km", "volume": "L", "torque": "N_m", "pressure": "bar"}


def fastened(text: str, locale: dict[str, str] | None = None) -> list[tuple[str, float, str]]:
    return sorted((t["fastener"], t["value"], t["role"]) for t in rows(text, "torques", locale))


@pytest.mark.parametrize(
    ("text", "fastener", "value"),
    [
        ("hub nut spec 140 - done 140, split pin in", "hub nut", 140),
        ("caliper bolts spec 55 lb ft - done 55 w/ threadlock", "caliper bolts", 55),
        ("drop link nuts book 44, mine 44", "drop link nuts", 44),
        ("carrier bolts 60, as on the sheet, 60", "carrier bolts", 60),
        ("the manual calls for thirty foot pounds on the strap bolts and thirty is what they got", "strap bolts", 30),
        ("tensioner nut the sheet says forty one and forty one it got", "tensioner nut", 41),
        ("the bleed screw is nine so that's what it got", "bleed screw", 9),
        ("cover nuts 4 lbft which is what the book says", "cover nuts", 4),
        ("the decal says seventy so the u bolts got seventy", "u bolts", 70),
    ],
)
def test_the_same_figure_as_spec_and_as_done(text: str, fastener: str, value: float) -> None:
    assert fastened(text) == [(fastener, value, "applied"), (fastener, value, "target")]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (
            "hitch ball come loose but the shank says two fifty foot pounds so two fifty is what that nut got",
            "hitch ball nut",
        ),
        ("stamped on the pivot it says ninety foot pounds so ninety is what that bolt got", "pivot bolt"),
    ],
)
def test_where_a_torque_is_written_is_not_what_it_is_of(text: str, name: str) -> None:
    found = fastened(text)
    assert [role for _, _, role in found] == ["applied", "target"]
    assert {n.split()[-1] for n, _, _ in found} == {name.split()[-1]}


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("the cover bolts i went around at thirty first and then sixty", [30, 60]),
        ("first pass thirty then sixty then ninety on the main cap bolts", [30, 60, 90]),
        ("cylinder head nuts went round at twenty first then forty then fifty eight pound foot", [20, 40, 58]),
    ],
)
def test_each_pass_of_one_tightening(text: str, values: list[float]) -> None:
    found = rows(text, "torques")
    assert sorted(t["value"] for t in found) == values
    assert {t["role"] for t in found} == {"applied"}
    assert len({t["fastener"] for t in found}) == 1


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("new oring, 2 screws on the float bowl 3 Nm", [("screws", 3, "applied")]),
        ("thermostat hsg off, new oring in\nhsg bolts 10 Nm", [("housing bolts", 10, "applied")]),
        ("belt and tensioner all on pump bolts eight newton metres", [("pump bolts", 8, "applied")]),
        ("centre nuts fifty newton metres and the little ones twenty",
         [("centre nuts", 50, "applied"), ("little nuts", 20, "applied")]),
    ],
)  # fmt: skip
def test_the_fastener_is_the_one_that_fits(text: str, expected: list[tuple[str, float, str]]) -> None:
    assert fastened(text, METRIC) == expected


def test_torque_written_with_a_slash() -> None:
    assert roles("strap bolt 10 ft/lb") == [("applied", 10, "ft_lb")]


def test_an_angle_after_a_bare_torque() -> None:
    (torque,) = rows("engine mount bolts 55 plus ninety degrees", "torques", METRIC)
    assert (torque["value"], torque["angle"]) == (55, 90)


@pytest.mark.parametrize(
    "text",
    [
        "spark plugs in, qty 8",
        "glow plugs fitted, quantity 6",
        "hose clamp 2.40, gasket 11.75, tube of grease 6.10",
        "radiator cap is a sixteen pounder",
    ],
)
def test_counts_prices_and_ratings_are_no_torques(text: str) -> None:
    assert rows(text, "torques") == []


def test_weak_fasteners_brought_to_a_figure() -> None:
    assert fastened("both u joint straps to seventeen") == [("u joint straps", 17, "applied")]


def test_what_they_have_had_was_applied() -> None:
    text = "the rear bolt on each wants eighty nine foot pounds by the book and both of them have had eighty nine dry"
    assert roles(text) == [("applied", 89, "ft_lb"), ("target", 89, "ft_lb")]


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        # "foot pounds fourteen" is no sum of money
        ("pivot bolt got thirty foot pounds fourteen flat at a fast idle", "ft_lb", [("pivot bolt", 30, "applied")]),
        ("starter back in twenty eight foot pounds ten starts ten catches", "ft_lb", [("starter", 28, "applied")]),
        # so many of them, and what each got
        ("cranked the terminal screws down all three eighteen inch pounds", "in_lb", [("terminal screws", 18, "applied")]),
        ("lug nuts all three hundred foot pounds", "ft_lb", [("lug nuts", 300, "applied")]),
        # the book was of the fastener before
        ("swivel pin bolts sixty five newton metres as it says in the book caliper bolts eighty two", "N_m",
         [("swivel pin bolts", 65, "applied"), ("swivel pin bolts", 65, "target"), ("caliper bolts", 82, "applied")]),
        ("polarized the regulator like the book says pivot bolt got thirty foot pounds", "ft_lb", [("pivot bolt", 30, "applied")]),
        ("housing bolts twenty foot pounds says the manual so twenty", "ft_lb",
         [("housing bolts", 20, "applied"), ("housing bolts", 20, "target")]),
        ("flange bolts seventy five newton metres the workshop book says seventy eight so i did them again at seventy eight carrier bolts fifty",
         "N_m", [("carrier bolts", 50, "applied"), ("flange bolts", 75, "applied"), ("flange bolts", 78, "applied"), ("flange bolts", 78, "target")]),
        ("All 4 tires at 33. Wheels on at 80.", "ft_lb", [("wheel nuts", 80, "applied")]),
        ("swivel pin bolts sixty five newton metres as it says in the book", "N_m", [("swivel pin bolts", 65, "applied"), ("swivel pin bolts", 65, "target")]),
        ("wheel nuts. book says 310 if dry and 270 oiled, mine are dry. did ns rear only, 310, for it was off", "N_m",
         [("wheel nuts", 310, "applied"), ("wheel nuts", 310, "target")]),
        ("caliper bolts 25 foot-pounds, says 26 in the book", "ft_lb", [("caliper bolts", 25, "applied"), ("caliper bolts", 26, "target")]),
        ("Wheel nuts 140, no, 130, 130 it is on the sticker.", "N_m", [("wheel nuts", 130, "applied"), ("wheel nuts", 130, "target")]),
        ("pad pins meant to be eighteen newton metres and i did it eighteen caliper bolts are twenty two and i gave em twenty two", "N_m",
         [("pad pins", 18, "applied"), ("pad pins", 18, "target"), ("caliper bolts", 22, "applied"), ("caliper bolts", 22, "target")]),
        ("terminal screws eighteen inch pounds thats what is printed next to them", "in_lb",
         [("terminal screws", 18, "applied"), ("terminal screws", 18, "target")]),
        # which fastener
        ("shoes all around the back bolts on the cylinder ten foot pounds", "ft_lb", [("bolts", 10, "applied")]),
        ("both shackles are new greased the bushings fifty foot pounds", "ft_lb", [("shackles", 50, "applied")]),
        ("back in flange bolts seventy five newton metres", "N_m", [("flange bolts", 75, "applied")]),
        ("lug nuts a hundred and forty pedals high and hard", "ft_lb", [("lug nuts", 140, "applied")]),
        ("put five quarts of fresh oil in her drain plug at twenty five foot pounds", "ft_lb", [("drain plug", 25, "applied")]),
        ("gearbox mount in. bolts 60 nm", "N_m", [("gearbox mount bolts", 60, "applied")]),
        ("wheel on, 75 foot-pounds", "ft_lb", [("wheel nuts", 75, "applied")]),
        ("the oak planks are down, bolted at 35 newton metres", "N_m", [("oak planks", 35, "applied")]),
        ("Pinion nut 320 newton metres, he set the preload with a scale", "N_m", [("pinion nut", 320, "applied")]),
        ("left rear wheel back on lugs at eighty five ray did the same job on his flatbed", "ft_lb", [("lugs", 85, "applied")]),
    ],
)  # fmt: skip
def test_torques_of_plain_talk(text: str, unit: str, expected: list[tuple[str, float, str]]) -> None:
    found = [(t["fastener"], t["value"], t["role"]) for t in rows(text, "torques", {"torque": unit})]
    assert sorted(found) == sorted(expected)


@pytest.mark.parametrize(
    "text",
    [
        "the resistor pack is in two screws one two three and four all blow",
        "key took nine jiggles this morning lock cylinder with two keys forty six",
        "Measured at the heater plug: 12.4 resting and 10.1 when it glows",
        "Expansion cap new, it said 1.1 on the top",
        "snugged the back nuts and now it sits at fourteen like a dog on a porch",
        "one of the skid plate bolts missing and 2 loose",
        "metered the glow plugs three read fine",
    ],
)
def test_numbers_beside_fasteners_that_are_no_torque(text: str) -> None:
    assert rows(text, "torques") == []


def test_a_new_sentence_that_tightens_nothing() -> None:
    assert roles("tensioner bolt 42 Nm. silent at 3 cold starts") == [("applied", 42, "N_m")]
