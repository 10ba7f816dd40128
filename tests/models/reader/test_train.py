"""What the reader is taught of a marked note: labels of words, turns of faults, and the same talk about other components."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from diary.language.markup import read
from diary.language.sight import words_of
from diary.language.trained import TURNS, labels
from models.reader import train

TALK = """\
=== a1 | old pickup | asr-digits | mi gal_us ft_lb psi
--- 2026-03-04T18:10
The {fault#seal {c rear main seal} weeps}, so I {work.replaced swapped the {part.fitted fan belt}}. {fault#horn {c Horn} was dead}, {closed#horn works now}.
--- 2026-03-06T18:10
{wait#seal Seal can wait.} {not.other My brother's truck leaks worse.}
--- 2026-03-09T18:10
{closed#seal Not a drip since} and {back#horn the {c horn} is quiet again}.
"""


@pytest.fixture
def diary(tmp_path: Path):
    path = tmp_path / "a.txt"
    path.write_text(TALK, encoding="utf-8")
    return read(path)[0]


def named(note, layer: str) -> dict[str, str]:
    """The words of a layer that are not O, with their labels."""
    names = labels(layer)
    found = zip(words_of(note.text), train.labels_of(note)[layer], strict=True)
    return {note.text[a:b]: names[k] for (a, b), k in found if k > 0}


def test_every_layer_names_its_stretches(diary):
    first = diary.notes[0]
    assert named(first, "trouble") == {
        "rear": "B-fault", "main": "I-fault", "seal": "I-fault", "weeps": "I-fault", "Horn": "B-fault", "was": "I-fault", "dead": "I-fault",
        "works": "B-closed", "now": "I-closed",
    }  # fmt: skip
    assert named(first, "deed") == {"swapped": "B-work", "the": "I-work", "fan": "I-work", "belt": "I-work"}
    assert list(named(diary.notes[1], "outside").values()) == ["B-not", *["I-not"] * 5]


def test_a_fault_ended_in_the_note_that_tells_of_it_is_told_apart(diary):
    fate = train.labels_of(diary.notes[0])["fate"]
    words = [diary.notes[0].text[a:b] for a, b in words_of(diary.notes[0].text)]
    told = {w: labels("fate")[k] for w, k in zip(words, fate, strict=True) if k >= 0}
    assert told["weeps"] == "stays" and told["dead"] == "ended" and "works" not in told


def test_every_known_fault_takes_its_turn(diary):
    versions = train.lessons(diary)
    said = [[TURNS[t] for t in one.turns] for (one,) in versions]
    assert said == [[], ["wait", "none"], ["closed", "back"]]
    assert [f.state for f in versions[2][0].shown.faults] == ["waiting latest", "shut latest"]


def test_the_same_talk_about_other_components_keeps_its_marks(diary):
    first = diary.notes[0]
    other, renamed = train.dressed(first, random.Random(1), ["gear lever"], share=1.0)
    assert other.text == "The gear lever weeps, so I swapped the gear lever. gear lever was dead, works now."
    assert [other.text[s.start : s.end] for s in other.stretches if s.kind in ("c", "closed")] == ["gear lever", "gear lever", "works now"]
    assert renamed["rear main seal"] == "gear lever"


def test_a_note_without_punctuation_says_the_same(diary):
    plain = train.bare(diary.notes[0])
    assert plain is not None and "," not in plain.text and plain.text == plain.text.lower()
    assert [plain.text[s.start : s.end] for s in plain.stretches if s.kind == "closed"] == ["works now"]


def test_the_talk_to_learn_from_is_not_what_is_measured_on():
    assert not set(train.talk()) & {*train.talk("judge"), *train.talk("unseen")}
    assert all(path.exists() for path in train.talk())
