"""The network's labels: how stretches are told from likelihoods, and that a note's words carry their marks."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from diary.language.pipeline import parse_light
from diary.language.trained import (
    columns,
    doc_of,
    inside,
    labels,
    marks,
    open_reader,
    softmax,
    stretches,
    told,
    touching,
    words_of,
)
from diary.language.types import Context, Draft

NOW = datetime(2026, 5, 6, 18, 0)


def likely(layer, *row):
    """Likelihoods of words that are almost surely the labels named."""
    table = np.full((len(row), len(labels(layer))), 0.01)
    for k, name in enumerate(row):
        table[k, labels(layer).index(name)] = 0.9
    return table


def test_words_and_punctuation_have_their_places():
    text = "Put 1.5 litres in, it's on."
    assert [text[a:b] for a, b in words_of(text)] == ["Put", "1.5", "litres", "in", ",", "it's", "on", "."]


def test_a_stretch_goes_from_its_beginning_over_what_continues_it():
    row = likely("trouble", "O", "B-fault", "I-fault", "B-closed", "O")
    assert [(k, a, b) for k, a, b, _ in stretches(labels("trouble"), row)] == [("fault", 1, 2), ("closed", 3, 3)]


def test_a_continuation_without_a_beginning_becomes_one_with_it():
    row = likely("deed", "O", "I-work", "I-work", "O")
    row[1, labels("deed").index("B-work")] = 0.3
    assert [(k, a, b) for k, a, b, _ in stretches(labels("deed"), row)] == [("work", 1, 2)]


def test_details_are_told_by_the_words_inside():
    spans = [(0, 3), (4, 7)]
    layers = {layer: likely(layer, *(["O", "O"] if "O" in labels(layer) else [labels(layer)[0]] * 2)) for layer in columns()}
    layers["thing"] = likely("thing", "B-thing", "I-thing")
    layers["state"] = likely("state", "ordered", "ordered")
    (part,) = told(spans, layers)
    assert (part.kind, part.detail, part.start, part.end) == ("thing", "ordered", 0, 7)
    assert part.sure == pytest.approx(0.91, abs=0.01)


def test_likelihoods_of_a_word_add_up_to_one():
    assert softmax(np.array([[1.0, 2.0, 700.0], [0.0, 0.0, 0.0]])).sum(axis=1) == pytest.approx([1, 1])


def test_words_carry_what_the_stages_and_the_rules_say_of_them():
    utterance = parse_light("replaced the fan belt on friday", Context(now=NOW))
    draft = Draft("parts", {"name": "fan belt", "state": "fitted"}, 12, 20)
    doc = doc_of(utterance, [draft])
    assert [t.tag_ for t in doc][2:4] == ["b-component", "i-component"]
    assert doc[0].tag_.startswith("b-action:replaced")
    assert [t.ent_type_ for t in doc] == ["", "", "b-parts.fitted ", "i-parts.fitted ", "", ""]
    assert "when" in doc[5].dep_


def test_the_longest_mark_of_a_word_counts():
    utterance = parse_light("the rear main seal", Context(now=NOW))
    things, _, _ = marks(utterance, words_of(utterance.text))
    assert things == ["-", "b-component", "i-component", "i-component"]


def test_a_file_that_is_no_reader_is_named(tmp_path):
    from diary.errors import DiaryError

    bad = tmp_path / "reader.bin"
    bad.write_bytes(b"not a network")
    with pytest.raises(DiaryError, match="reader.bin"):
        open_reader(bad)


def test_words_between_two_characters_are_found_as_by_looking_at_each():
    spans = words_of("put the new belt on, it's tight")
    for start in range(32):
        for end in range(start, 32):
            assert list(inside(spans, start, end)) == [k for k, (a, b) in enumerate(spans) if start <= a and b <= end]
            assert list(touching(spans, start, end)) == [k for k, (a, b) in enumerate(spans) if a < end and b > start]
