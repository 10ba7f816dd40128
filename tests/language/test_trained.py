"""The network's labels: how stretches are told from likelihoods, and how a note is put into the network's numbers."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from diary.language.sight import sight
from diary.language.trained import TURNS, WINDOW, Code, Reader, columns, labels, open_reader, softmax, stretches, told
from diary.language.types import Context, Utterance

NOW = datetime(2026, 5, 6, 18, 0)


def likely(layer, *row):
    """Likelihoods of words that are almost surely the labels named."""
    table = np.full((len(row), len(labels(layer))), 0.01)
    for k, name in enumerate(row):
        table[k, labels(layer).index(name)] = 0.9
    return table


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


def test_a_file_that_is_no_reader_is_named(tmp_path):
    from diary.errors import DiaryError

    bad = tmp_path / "reader.zip"
    bad.write_bytes(b"not a network")
    with pytest.raises(DiaryError, match="reader.zip"):
        open_reader(bad)


class Tokenizer:
    """A piece for every letter."""

    def token_to_id(self, token):
        return {"[UNK]": 1, "[CLS]": 2, "[SEP]": 3}[token]

    def encode(self, words, is_pretokenized, add_special_tokens):
        class Coded:
            ids = [ord(c) for w in words for c in w]
            word_ids = [k for k, w in enumerate(words) for _ in w]

        return Coded()


CODE = Code(Tokenizer(), {"thing": {"b-component": 7}, "cue": {}, "clause": {}, "draft": {}, "known": {"found latest": 9}})
LEAK = {"id": "f1", "what": "leaks", "component": "hose", "state": "found", "opened_at": "2026-04-01T10:00"}


def test_a_note_is_followed_by_the_faults_known_before_it():
    shown = sight(Utterance("ab c", NOW), (), Context(now=NOW, faults=[LEAK]))
    coded = CODE.of(shown)
    assert list(coded.pieces[:5]) == [2, ord("a"), ord("b"), ord("c"), 3]
    assert (list(coded.words), list(coded.faults)) == ([1, 3], [4])
    assert list(coded.parts[:6]) == [0, 0, 0, 0, 1, 1]
    assert list(coded.marks[4]) == [0, 0, 0, 0, 9]


def test_words_of_many_pieces_are_cut_so_that_the_network_can_take_them():
    shown = sight(Utterance(" ".join(["abcdefghij"] * WINDOW), NOW))
    assert len(CODE.of(shown).pieces) < 512


class Session:
    """Scores the first column of words by the letter that they begin with; says of every fault that it is closed."""

    asked = 0

    def run(self, _, inputs):
        self.asked += 1
        pieces = inputs["pieces"]
        words = np.zeros((*pieces.shape, max(w.stop for w in columns().values())), dtype=np.float32)
        words[..., 0] = pieces
        turns = np.zeros((*pieces.shape, len(TURNS)), dtype=np.float32)
        turns[..., TURNS.index("closed")] = 9
        return words, turns


def test_a_long_note_is_told_window_by_window_every_word_once():
    text = " ".join("abcdefgh"[k % 8] for k in range(3 * WINDOW))
    shown = sight(Utterance(text, NOW), (), Context(now=NOW, faults=[LEAK]))
    network = Session()
    likely, turns = Reader(CODE, network).likelihoods(shown)
    assert network.asked == 4
    assert likely["trouble"].shape == (3 * WINDOW, len(labels("trouble")))
    first = softmax(np.array([[ord(c), *[0.0] * (len(labels("trouble")) - 1)] for c in text.split()]))
    assert np.allclose(likely["trouble"], first, atol=1e-5)
    assert TURNS[int(turns["f1"].argmax())] == "closed"
