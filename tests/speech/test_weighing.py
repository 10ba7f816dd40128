"""Second thoughts about what was heard: sound and talk together choose, and only where there was doubt."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from diary.speech import weighing, words

Score = Callable[[Sequence[str]], list[list[tuple[int, float]]]]


def ear(sure: float = -0.01, **doubts: float) -> Score:
    """A recogniser that finds every word as likely as `sure`, and those in `doubts` as likely as they say."""

    def score(texts: Sequence[str]) -> list[list[tuple[int, float]]]:
        return [
            [(m.start() - 1, doubts.get(m.group().lower(), sure)) for m in words.WORD.finditer(text)] for text in texts
        ]

    return score


def test_a_teen_heard_as_a_ten_is_put_right_where_talk_and_sound_allow_it() -> None:
    heard = "filled it at the pump forty point two gallons"
    taken = weighing.weighed([heard], ear(forty=-0.7, fourteen=-1.0))
    assert taken.text == "filled it at the pump fourteen point two gallons"
    assert taken.shown() == '"forty" read as "fourteen"'


def test_a_word_that_was_heard_clearly_is_left() -> None:
    heard = "filled it at the pump forty point two gallons"
    assert weighing.weighed([heard], ear(forty=-0.02, fourteen=-6.0)).text == heard


def test_a_ten_that_sounds_like_one_is_left_even_in_doubt() -> None:
    heard = "filled it at the pump forty point two gallons"
    assert weighing.weighed([heard], ear(forty=-0.3, fourteen=-8.0)).text == heard


def test_a_ten_with_its_digit_is_one_number() -> None:
    heard = "the trip says four eighty one because i forgot"
    assert weighing.weighed([heard], ear(eighty=-0.7, eighteen=-0.7)).text == heard


def test_no_word_is_dropped() -> None:
    texts = ["one thirty nine shipped today", "one thirty nine today"]
    assert "shipped" in weighing.weighed(texts, ear(shipped=-3.0)).text


def test_a_second_choice_that_talk_prefers_is_taken() -> None:
    texts = ["the front left break line is weeping", "the front left brake line is weeping"]
    assert weighing.weighed(texts, ear(**{"break": -0.8, "brake": -1.2})).text == texts[1]


def test_a_word_of_the_trade_for_one_that_sounds_alike() -> None:
    taken = weighing.weighed(["the wheel barring is noisy"], ear(barring=-2.0, bearing=-3.0))
    assert taken.text == "the wheel bearing is noisy"
    assert [(change.heard, change.read) for change in taken.changes] == [("barring", "bearing")]


@pytest.mark.parametrize("text", ["yes", "", "four", "no hang on"])
def test_short_answers_pass(text: str) -> None:
    assert weighing.weighed([text], ear()).text == text


def test_capitals_stops_and_other_words_stay() -> None:
    heard = "Okay, so. Forty point two gallons at the pump, and home."
    taken = weighing.weighed([heard], ear(forty=-0.7, fourteen=-0.7))
    assert taken.text == "Okay, so. Fourteen point two gallons at the pump, and home."


def test_probabilities_sum_to_one() -> None:
    """Kneser-Ney's lower orders give away exactly what the discount takes (Chen and Goodman 1999, section 2.7)."""
    counts = {("a", "b", "c"): 2, ("a", "b", "d"): 1, ("b", "c", "a"): 1, ("b", "c", "d"): 3, ("c", "a", "b"): 2}
    model = words.WordModel(counts)
    known = {word for threes in counts for word in threes}
    for before in (("a", "b"), ("b", "c"), ("x", "b"), ("x", "y")):
        total = sum(model.probability(*before, word) for word in known)
        unknown = model.probability(*before, "zzz")
        assert total + (words.UNKNOWN - len(known)) * unknown == pytest.approx(1.0, abs=1e-6)


def test_talk_knows_its_trade() -> None:
    talk = words.talk()
    assert talk.score(["the", "wheel"], ["bearing"]) > talk.score(["the", "wheel"], ["barring"]) + 2
    assert talk.score(["i", "put"], ["fourteen"], ["point", "two"]) > talk.score(["i", "put"], ["forty"], ["point", "two"])


def test_sounds_find_words_and_pairs() -> None:
    near = words.talk_sounds().near("barring")
    assert ("bearing",) in near
    assert words.alike("barring", "bearing") > 0.9
