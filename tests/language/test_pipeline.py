"""The stages run together, with and without spaCy."""

import subprocess
import sys
from datetime import datetime

import pytest

from diary.language import heard, pipeline, text
from diary.language.types import Context

NOTE = (
    "okay brake day left rear drum came off after some persuasion left rear wheel cylinder is swapped the book says "
    "eight foot pounds and i gave them eight no threadlocker then bled the left rear first lug nuts back to ninety "
    "five next saturday i want to check them"
)


def test_both_ways_read_alike() -> None:
    context = Context(now=datetime(2026, 5, 23, 16, 40))
    assert pipeline.parse(NOTE, context) == pipeline.parse_light(NOTE, context)


def test_the_light_way_needs_no_spacy() -> None:
    code = (
        "import sys; from diary.language.pipeline import parse_light; parse_light('bled the brakes'); "
        "sys.exit('spacy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_spacy_hosts_the_stages() -> None:
    assert pipeline.nlp().pipe_names == [name for name, _ in pipeline.STAGES]
    doc = pipeline.nlp()("the left fork seal is weeping")
    assert [c.text for c in doc._.utterance.clauses] == ["the left fork seal is weeping"]


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("oh dominator says one oh four", "odometer"),
        ("the raid eater is leaking", "radiator"),
        ("call a per is sticking", "caliper"),
        ("torqued the log nuts", "lug"),
        ("ninety foot pans", "pounds"),
        ("thread walker on all of them", "locker"),
        ("the will seal is weeping at the hub", "wheel"),
        ("front tires at thirty five sides", "psi"),
        ("the drip meter", "trip"),
        ("break pads are thin", "brake"),
    ],
)
def test_mishearings_are_mended(said: str, meant: str) -> None:
    assert meant in [token.lower for token in heard.mend(text.tokens(said))]


@pytest.mark.parametrize(
    "said",
    [
        "both sides are dry",
        "the chimney sweep came",
        "i will seal the lid tomorrow",
        "my feet and my pans",
        "the caliber of people",
        "two sides of it",
    ],
)
def test_sense_is_left_alone(said: str) -> None:
    assert [t.lower for t in heard.mend(text.tokens(said))] == [t.lower for t in text.tokens(said)]


def test_mended_words_keep_their_place() -> None:
    said = "so the oh dominator says"
    token = next(t for t in heard.mend(text.tokens(said)) if t.lower == "odometer")
    assert said[token.start : token.end] == "oh dominator"
