"""Clauses and the scope they stand in."""

import pytest

from diary.language.clauses import components
from diary.language.pipeline import parse_light
from diary.language.types import Clause, Context, Utterance


def parsed(said: str, **context: object) -> Utterance:
    return parse_light(said, Context(**context))  # type: ignore[arg-type]


def clauses(said: str, **context: object) -> list[Clause]:
    return parsed(said, **context).clauses


def holding(said: str, words: str, **context: object) -> Clause:
    """The clause in which `words` lie."""
    at = said.index(words)
    return next(c for c in clauses(said, **context) if c.start <= at < c.end)


# ---- cutting --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "marked",
    [
        "the belt is fine | the hoses are fine | lost about forty minutes",
        "i cleaned the ground strap and the battery posts | and it made no difference | ordered a reman alternator",
        "took the left front drum off | adjusted the shoes | put it back on | and torqued the wheel nuts to one ten",
        "dome light is dead | pulled the fuse | and it is a blown ten amp",
        "i smelled it | so the left rear wheel cylinder is weeping | i need a cylinder and two cans of cleaner",
        "anyway bleeder screw is eighty inch pounds | i read that online | and did eighty",
        "found it | the dome light wire was chafed through | where it goes over the bracket | i soldered it",
        "Swapped the pads. | Discs are fine, | top hose ok, | bottom hose perished.",
        "might be the water pump | might be the hose clamp | i cannot tell",
        "it pulls to the left | and the tie rod end has play | need a tie rod end",
        "replaced the seal and the bearing | then filled it with gear oil",
        "the carrier bolts i never touched | so the number does not matter",
        "wiped it | pumped the front end thirty times | and it stayed dry",
        "the float switch packed in again | i bypassed it for now",
        "No. 3 injector is split | replaced the hose",
        "it is your buzz right there | the bars are fine",
        "the ac on my wifes car works great | but mine is low",
        "the left one was easy | the right one had a seized guide pin",
        "LH track rod end shot, | ordered 1 @ 18.40",
        "sunday planning with coffee | next saturday i am getting the wheels balanced",
    ],
)
def test_where_a_clause_begins(marked: str) -> None:
    said = marked.replace(" | ", " ")
    expected = [part.strip(" .,") for part in marked.split(" | ")]
    assert [c.text.strip(" .,") for c in clauses(said)] == expected


@pytest.mark.parametrize(
    "whole",
    [
        "a hundred and ten foot pounds",
        "two and a half quarts of gear oil",
        "transfer case front output seal",
        "eighty seven thousand four oh six",
        "nuts and bolts and washers",
        "brother in law",
    ],
)
def test_numbers_quantities_and_names_stay_whole(whole: str) -> None:
    for said in (f"i put in {whole} and the job was done", f"it wants {whole} so i said fine"):
        assert any(whole in c.text for c in clauses(said)), [c.text for c in clauses(said)]


def test_clauses_cover_every_word_once_and_in_order() -> None:
    said = (
        "okay so the noise is back i pulled the wheel and the pads are down to nothing, ordered a set. goes in saturday"
    )
    utterance = parsed(said)
    assert [t for c in utterance.clauses for t in c.tokens] == utterance.tokens
    assert all(said[c.start : c.end] == c.text for c in utterance.clauses)


def test_nothing_said_nothing_cut() -> None:
    assert clauses("") == [] and clauses(" ... ") == []


# ---- scope ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("i thought about doing the water pump while i was in there", "water pump"),
        ("if it leaks again i would do both seals", "both seals"),
        ("if the clutch slips again i am selling the bike", "selling"),
        ("if it is the heater core i would have to take the dash out", "dash out"),
        ("i would have replaced the seal but the store was closed", "seal"),
        ("if the filter does not do it i would look at the lift pump", "lift pump"),
        ("i would pull the wheel and look at the brake", "look at the brake"),
        ("nearly bought a new radiator today", "radiator"),
    ],
)
def test_imagined(said: str, words: str) -> None:
    assert holding(said, words).hypothetical


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("the pto would not kick in", "pto"),
        ("it wouldn't start this morning", "start"),
        ("checked the bolts like i said i would", "bolts"),
        ("filled up first so i would have clean fuel", "clean fuel"),
        ("i would like to do the valve clearances tomorrow", "clearances"),
        ("i had to see if it drips and it drips", "and it drips"),
        ("i'd put money on the rear u joint", "u joint"),
        ("if it leaks again i would do both anyway seal goes in on sunday", "seal goes in"),
        ("i did the pads and if it rains tomorrow who cares. new rotor fitted.", "rotor"),
    ],
)
def test_not_imagined(said: str, words: str) -> None:
    assert not holding(said, words).hypothetical


@pytest.mark.parametrize(
    "said",
    [
        "did not touch the water pump",
        "never got to the belt",
        "i didnt do the pads",
        "we ain't replaced the seal",
        "left without checking the oil",
    ],
)
def test_negated(said: str) -> None:
    assert clauses(said)[0].negated


def test_negation_ends_with_its_clause() -> None:
    assert not holding("i did not touch the water pump and the belt is fine", "belt").negated
    assert not holding("never got to the belt but i replaced the hose", "hose").negated


@pytest.mark.parametrize(
    "said",
    [
        "it might be the water pump",
        "could be the head bearings",
        "i bet it's the glow plugs",
        "my guess is the fuel filter",
        "i think the clutch is slipping",
        "looks like the axle seal",
    ],
)
def test_suspected(said: str) -> None:
    assert any(c.suspected for c in clauses(said))


@pytest.mark.parametrize(
    "said",
    [
        "next saturday i am going to balance the wheels",
        "i need to recheck the lug nuts",
        "i'll do the front pads on friday",
        "going to change the gearbox oil tomorrow",
        "remind me to look at the belt",
    ],
)
def test_planned(said: str) -> None:
    assert any(c.planned for c in clauses(said))


@pytest.mark.parametrize(
    "said",
    [
        "what did i torque the lug nuts to",
        "how many miles since the last oil change",
        "is the shimmy fixed?",
        "did i order the seal",
    ],
)
def test_questions(said: str) -> None:
    assert clauses(said)[0].question


@pytest.mark.parametrize(
    "said",
    [
        "what happened is the jug tipped over",
        "it is the front output seal that is leaking",
        "guess what the fork seal is wet again",
        "what i read online is fifteen newton metres",
        "so that is the alternator fixed",
        "did the valve clearances while it was cold",
    ],
)
def test_statements_that_sound_like_questions(said: str) -> None:
    assert not any(c.question for c in clauses(said))


@pytest.mark.parametrize(
    "said",
    [
        "the sticker says one hundred",
        "the book calls for eight foot pounds",
        "one fella said thirty",
        "the forum had people saying twenty",
    ],
)
def test_quoted(said: str) -> None:
    assert clauses(said)[0].quoted


def test_an_instrument_is_not_quoted() -> None:
    assert not clauses("odometer says eighty seven thousand four oh six")[0].quoted


# ---- whose machine --------------------------------------------------------------------------------------------------

OTHERS = [
    ("spent the evening on my buddys truck his rear main seal is puking oil and he was three quarts low", "rear main"),
    ("spent the evening on my buddys truck not mine i torqued his to a hundred and forty", "torqued his"),
    ("pulled the carb off my neighbors lawn mower cleaned the jets and gave it back", "jets"),
    ("my cousin's van uses twelve litres per hundred", "twelve"),
    ("my dads old tractor has twelve hundred hours on it", "twelve hundred"),
    ("the ac on my wifes car works great", "works great"),
    ("helped the fellow down the road with his baler chain he needs a master link", "master link"),
    ("we swapped the engine in dave's truck and torqued the head bolts to seventy", "head bolts"),
    ("buddy of mine runs thirty fives at eighteen psi", "eighteen"),
    ("my brother in laws alternator died", "alternator"),
    ("the truck next to me at the trailhead was puking oil", "puking"),
    ("somebody's camper van was on fire at the top", "fire"),
    ("his rig has a bent tie rod", "tie rod"),
    ("drove over to see my sister her car has two hundred thousand on it", "two hundred"),
    ("sold the old wagon last year it had a rod knock", "rod knock"),
]


@pytest.mark.parametrize(("said", "words"), OTHERS)
def test_another_machine(said: str, words: str) -> None:
    assert holding(said, words).other_machine


OWN = [
    ("my brother took the wagon to the lake and brought it back full", "full"),
    ("my grandson filled up the tractor full to the neck but he did not count", "filled"),
    ("The tyre guy fitted a new valve for 8 euros", "valve"),
    ("deb took it to the pump she says she filled the main", "filled the main"),
    ("my buddys four stroke does not do that. cleaned the pilot jet", "pilot jet"),
    ("helped my brother in law with his alternator then i greased my kingpins", "kingpins"),
    ("his rig has a bent tie rod and mine has a leaking diff", "diff"),
    ("his runs at two hundred all day but i checked the oil anyway", "checked the oil"),
    ("My cousin's van uses 12 litres. Van was fine, nothing to report.", "Van was fine"),
    ("my mate reckons the flasher relay", "flasher relay"),
    ("the last owner put the wrong fuse in and he had a thirty in there", "a thirty"),
    ("the pads are thin and the one before was worse", "one before"),
    ("her steering is vague so the drag link gets checked", "steering"),
    ("she runs thirteen pounds of boost", "thirteen"),
    ("the guy with the blue quad poured some in my tank", "tank"),
    ("they had a fan clutch on the shelf for forty eight fifty", "fan clutch"),
    ("spent the day on my buddys truck but mine needs a wheel bearing", "wheel bearing"),
]


@pytest.mark.parametrize(("said", "words"), OWN)
def test_the_own_machine(said: str, words: str) -> None:
    assert not holding(said, words).other_machine


def test_other_machines_by_name() -> None:
    assert holding("changed the oil in Biscuit five quarts", "five", others=["Biscuit"]).other_machine
    assert not holding("changed the oil in Biscuit five quarts", "five").other_machine


# ---- taken back -----------------------------------------------------------------------------------------------------


def test_what_is_scratched_is_retracted() -> None:
    said = "replaced the water pump scratch that it was the thermostat"
    assert holding(said, "water pump").retracted


@pytest.mark.parametrize(
    "said",
    [
        "i meant to zero the trip and forgot",
        "i cannot wait to drive it",
        "had to wait for the glue to set",
        "i actually did film that",
    ],
)
def test_words_that_only_sound_like_a_retraction(said: str) -> None:
    assert not any(c.retracted for c in clauses(said))


def test_a_mistaken_machine_does_not_take_the_rest_along() -> None:
    said = "lug nuts at seventy six no hang on that is the old coupe ninety five foot pounds and the shimmy is gone"
    assert not holding(said, "shimmy").other_machine


# ---- names of components --------------------------------------------------------------------------------------------


def named(said: str) -> list[tuple[str, str]]:
    utterance = parsed(said)
    return [(h.name, str(h.data["where"])) for c in utterance.clauses for h in components(utterance, c)]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("the left rear wheel cylinder is weeping", [("wheel cylinder", "left rear")]),
        ("the transfer case front output seal leaks", [("transfer case front output seal", "")]),
        ("need a bead clamp ring", [("bead clamp ring", "")]),
        ("the fridge plug fuse holder is melted", [("fridge plug fuse holder", "")]),
        ("replaced the old dome light wire", [("dome light wire", "")]),
        ("the motor's burnt", [("motor", "")]),
        ("put a new ten amp fuse in", [("fuse", "")]),
        ("the frobnicator is leaking", [("frobnicator", "")]),
        ("replaced the gizmo", [("gizmo", "")]),
        ("i need a new doohickey", [("doohickey", "")]),
        ("the zorp bracket", [("zorp bracket", "")]),
    ],
)
def test_a_part_has_its_full_name(said: str, expected: list[tuple[str, str]]) -> None:
    assert named(said) == expected


@pytest.mark.parametrize(
    "said",
    [
        "needle sat at six point five",
        "two bar in each",
        "the torque wrench is in the shed",
        "my neighbor is eighty one",
        "it idles like a clock",
        "i need a coffee",
        "replaced the whole thing on monday",
    ],
)
def test_what_is_no_part(said: str) -> None:
    assert [name for name, _ in named(said) if name != "needle"] == []


def test_unknown_parts_say_so() -> None:
    utterance = parsed("the frobnicator is leaking onto the exhaust manifold")
    known = {h.name: h.data["known"] for c in utterance.clauses for h in components(utterance, c)}
    assert known == {"frobnicator": False, "exhaust manifold": True}
