"""The trade's words, found as they are said."""

from pathlib import Path

import pytest

from diary.errors import DiaryError
from diary.language import lexicon
from diary.language.types import Hit


def found(said: str, kind: str) -> list[Hit]:
    return [hit for hit in lexicon.load().find(said) if hit.kind == kind]


def names(said: str, kind: str) -> list[str]:
    return [hit.name for hit in found(said, kind)]


def test_it_knows_the_trade() -> None:
    book = lexicon.load()
    assert len(book.names("component")) >= 700
    systems = {e.data["system"] for (kind, _), e in book.entries.items() if kind == "component"}
    for system in [
        "engine",
        "fuel",
        "cooling",
        "electrical",
        "axle",
        "steering",
        "brakes",
        "wheels",
        "body",
        "interior",
        "hydraulic",
        "trailer",
        "two_wheeler",
        "tractor",
    ]:
        assert system in systems


def test_every_system_has_a_place_in_the_tree() -> None:
    book = lexicon.load()
    for name, facts in book.systems.items():
        assert facts.get("parent", name) in book.systems
        assert book.path(name)[0] == name


@pytest.mark.parametrize(
    "part",
    [
        "wheel cylinder",
        "tie rod end",
        "lug nut",
        "seat belt",
        "fuel line",
        "hydraulic hose",
        "ball joint",
        "trailer coupler",
        "headlight",
    ],
)
def test_what_can_hurt_is_safety_critical(part: str) -> None:
    """Common practice, no source: brakes, steering, suspension, wheels, fuel, belts, lights, hydraulics, towing."""
    entry = lexicon.load().entry(part)
    assert entry is not None and entry.data["safety"] is True


@pytest.mark.parametrize("part", ["dome light bulb", "glove box", "alternator", "seat cover", "door handle"])
def test_what_cannot_is_not(part: str) -> None:
    hits = [h for h in lexicon.load().find(part) if h.kind == "component"]
    assert hits and (part.startswith("dome") or not hits[0].data["safety"])


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("the track rod end is loose", "tie rod end"),
        ("two tie-rod ends", "tie rod end"),
        ("brake callipers", "brake caliper"),
        ("the gearbox", "transmission"),
        ("hand brake cable", "parking brake cable"),
        ("handbrake cable", "parking brake cable"),
        ("U-joint", "u joint"),
        ("bonnet catch", "hood latch"),
        ("the windscreen", "windshield"),
        ("head light", "headlight"),
        ("the wheel's bearing", "wheel bearing"),
        ("the panhard rod", "track bar"),
        ("sump", "oil pan"),
        ("the silencer", "muffler"),
        ("front output seal", "transfer case front output seal"),
        ("top hose", "upper radiator hose"),
        ("swinging arm", "swingarm"),
        ("earth strap", "ground strap"),
        ("indicators", "turn signal"),
        ("spool valves", "spool valve"),
        ("pto shaft", "pto shaft"),
    ],
)
def test_spoken_variants(said: str, name: str) -> None:
    assert name in names(said, "component")


def test_the_longest_phrase_wins_and_places_stand_beside() -> None:
    assert names("left rear wheel cylinder", "component") == ["wheel cylinder"]
    assert names("left rear wheel cylinder", "place") == ["left rear"]
    assert names("nearside front tyre", "place") == ["left front"]
    assert names("o/s/f caliper", "place") == ["right front"]


def test_no_phrase_runs_across_a_comma() -> None:
    assert names("the brake, pads of paper", "component") != ["brake pad"]


@pytest.mark.parametrize(
    ("said", "action"),
    [
        ("took the whole left front drum off", "removed"),
        ("topped it up with a quart", "topped up"),
        ("put a new belt on", "replaced"),
        ("swapped out the starter", "replaced"),
        ("bled the brakes", "bled"),
        ("greased the kingpins", "lubricated"),
        ("snugged the drain plug", "tightened"),
        ("retorqued the head bolts", "tightened"),
        ("soldered it", "repaired"),
        ("gapped the plug", "adjusted"),
        ("the wheels are balanced", "balanced"),
        ("drained the sump", "drained"),
        ("rebuilt the carb", "rebuilt"),
        ("had a look at the pads", "checked"),
        ("aired it back up", "topped up"),
    ],
)
def test_actions_have_a_canonical_past(said: str, action: str) -> None:
    assert action in [hit.data["class"] for hit in found(said, "action")]


def test_a_particle_may_stand_apart() -> None:
    said = "took the whole left front drum off"
    (hit,) = found(said, "action")
    assert said[slice(*hit.data["particle"])] == "off" and hit.data["tense"] == "past"


@pytest.mark.parametrize(
    "said",
    [
        "the oil seal is fine",
        "a grease fitting",
        "the check valve",
        "an oil spot under it",
        "the plug fell",
        "an old drill",
    ],
)
def test_nouns_are_no_actions(said: str) -> None:
    assert found(said, "action") == []


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("it is weeping", "leak"),
        ("seeping a bit", "leak"),
        ("the wiper chatters", "noise"),
        ("it wanders on the highway", "handling"),
        ("a shimmy at fifty", "vibration"),
        ("there is a thud over bumps", "noise"),
        ("the starter is lazy", "performance"),
        ("a finicky switch", "performance"),
        ("runs hot", "heat"),
        ("dome light is dead", "dead"),
        ("there is play in it", "loose"),
        ("the hanger has snapped", "damage"),
        ("it bogs off idle", "performance"),
        ("losing air", "leak"),
    ],
)
def test_symptoms_have_a_class(said: str, kind: str) -> None:
    assert kind in [hit.data["class"] for hit in found(said, "symptom")]


@pytest.mark.parametrize(
    "said",
    [
        "the needle sat dead center",
        "the heat gun",
        "not a bad day at all",
        "on my lunch break",
        "long story short",
        "the drag link",
        "hang on",
    ],
)
def test_figures_of_speech_are_no_symptoms(said: str) -> None:
    assert found(said, "symptom") == []


def test_cues_carry_their_class_and_may_lie_inside_one_another() -> None:
    classes = {hit.data["class"] for hit in found("did not fix it", "cue")}
    assert {"negation", "back"} <= classes
    assert "ruled_out" in {h.data["class"] for h in found("false alarm on the water pump", "cue")}
    assert "lesson" in {h.data["class"] for h in found("lesson is look first", "cue")}


def test_owners_are_told_from_people() -> None:
    assert [h.data["owner"] for h in found("my buddys truck", "person")] == [True]
    assert [h.data["owner"] for h in found("my brother in law's rig", "person")] == [True]
    assert [h.data["owner"] for h in found("my brother filled it", "person")] == [False]


def test_a_persons_own_words(tmp_path: Path) -> None:
    mine = tmp_path / "words.toml"
    mine.write_text(
        '[[word]]\nname = "squawk box"\nsystem = "electrical"\nspoken = ["squawker", "squawk~box"]\n', encoding="utf-8"
    )
    hits = lexicon.load(mine).find("the squawkers quit and so did the squawkbox")
    assert [h.name for h in hits if h.kind == "component"] == ["squawk box", "squawk box"]
    assert names("the squawker quit", "component") == []  # the shipped words are untouched


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("[[word]]\n", "has no name"),
        ('[[word]]\nname = "x"\nsystem = "nowhere"\n', "unknown system"),
        ('[[word]]\nname = "x"\nkind = "cue"\n', "unknown kind"),
        ("[[word]", "not valid TOML"),
        ('[[word]]\nname = "x"\nspoken = "y"\n', "as a list"),
        ('word = "x"\n', "needs each word"),
    ],
)
def test_a_bad_words_file_is_told_in_a_sentence(tmp_path: Path, content: str, sentence: str) -> None:
    mine = tmp_path / "words.toml"
    mine.write_text(content, encoding="utf-8")
    with pytest.raises(DiaryError, match=sentence):
        lexicon.load(mine)


def test_a_missing_words_file(tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="no words file"):
        lexicon.load(tmp_path / "none.toml")


def test_the_patterns_of_the_data_files() -> None:
    assert set(lexicon.expand("head~light")) == {"head light", "headlight"}
    assert set(lexicon.expand("(brake) caliper")) == {"brake caliper", "caliper"}
    assert set(lexicon.expand("[left|right] hand")) == {"left hand", "right hand"}


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("a new sight glass on the axle", "sight glass"),
        ("both unis are in", "u joint"),
        ("the float chamber", "float bowl"),
        ("a trafficator", "turn signal"),
        ("the gladhand seals", "gladhand"),
        ("lifting the feeder house chain", "feeder house"),
        ("the precharge resistor", "precharge resistor"),
        ("the stern gland greaser", "stern gland"),
        ("the headlining", "headliner"),
        ("a girder fork spindle", "girder fork"),
        ("the package shelf", "parcel shelf"),
        ("the tipper's hoist pivot", "tipper bed"),
    ],
)
def test_the_neighbours_of_a_part_are_known_too(said: str, name: str) -> None:
    """Common practice, no source: what a practitioner of the trade would list beside the part."""
    assert name in names(said, "component")


def test_high_voltage_can_hurt() -> None:
    entry = lexicon.load().entry("traction battery")
    assert entry is not None and entry.data["safety"] is True


@pytest.mark.parametrize("said", ["it went without a hitch", "my cell phone died", "a bit of elbow grease", "put it on the back burner"])
def test_figures_of_speech_are_no_parts(said: str) -> None:
    assert names(said, "component") == []


def test_a_part_of_any_system_has_none() -> None:
    (hit,) = found("the elbow", "component")
    assert hit.data["system"] is None and hit.data["safety"] is False


def test_the_driver_s_side_is_not_somebody_else_s() -> None:
    assert found("the drivers heated seat", "person") == []
