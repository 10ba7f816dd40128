"""Tokens, folded spellings, stems and verb forms."""

import inflect
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diary.language import lexicon, text

_REFERENCE = inflect.engine()  # independent English inflection, https://pypi.org/project/inflect/


def lows(said: str) -> list[str]:
    return [token.lower for token in text.tokens(said)]


def test_units_written_onto_a_number_are_words_of_their_own() -> None:
    assert lows("Filled 41.2L, odo 120,455") == ["filled", "41.2", "l", "odo", "120,455"]
    assert lows("10mm socket, M8 bolt, 4x4, 3/16") == ["10", "mm", "socket", "m8", "bolt", "4x4", "3/16"]


def test_hyphens_part_and_apostrophes_stay() -> None:
    assert lows("U-joint on the driver's side don’t") == ["u", "joint", "on", "the", "driver's", "side", "don't"]


@given(st.text(max_size=80))
def test_tokens_lie_in_order_where_they_say(said: str) -> None:
    end = 0
    for token in text.tokens(said):
        assert token.start >= end and said[token.start : token.end] == token.text
        end = token.end


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("tyres", "tire"),
        ("Calliper", "calipers"),
        ("drivers", "driver's"),
        ("litre", "liters"),
        ("leaves", "leaf"),
        ("batteries", "battery"),
        ("carburettor", "carburetor"),
        ("lenses", "lens"),
        ("bushes", "bush"),
        ("gauge", "gages"),
        ("dont", "don't"),
        ("thats", "that's"),
    ],
)
def test_one_stem_for_one_word(one: str, other: str) -> None:
    assert text.stem(one) == text.stem(other)


@pytest.mark.parametrize("word", ["gas", "chassis", "brass", "abs", "this", "was", "bus", "it's", "glass"])
def test_words_that_end_in_s_are_no_plurals(word: str) -> None:
    assert text.stem(word) == word


def test_plurals_of_all_components_fold_back() -> None:
    """Plurals made by `inflect` have the key of the singular, for every component and fastener we know."""
    book = lexicon.load()
    wrong = []
    for name in [*book.names("component"), *book.names("fastener")]:
        last = name.split()[-1]
        if last.endswith(("s", ")", "o")) or not last.isalpha() or len(last) < 3:
            continue
        plural = _REFERENCE.plural_noun(last)
        if plural and text.stem(plural) != text.stem(last):
            wrong.append((last, plural))
    assert not wrong


def test_ing_forms_agree_with_the_reference() -> None:
    """-ing forms of one-syllable and common verbs against `inflect` (it, too, works from the third person)."""
    for base in [
        "leak",
        "weep",
        "fit",
        "replace",
        "put",
        "bleed",
        "stop",
        "spray",
        "drip",
        "grind",
        "swap",
        "clean",
        "squeal",
        "use",
    ]:
        ours = next(form for form, tense in text.verb_forms(base).items() if tense == "ing")
        third = next((f for f, t in text.verb_forms(base).items() if t == "s"), base)
        assert ours == _REFERENCE.present_participle(third), base


def test_irregular_verbs_know_their_past() -> None:
    assert text.verb_forms("bleed")["bled"] == "past"
    assert text.verb_forms("put")["put"] == "past"
    assert text.verb_forms("take off")["took off"] == "past"
    assert text.verb_forms("fit")["fitted"] == "past" and "fitting" in text.verb_forms("fit")
    assert text.verb_forms("dry")["dried"] == "past"
