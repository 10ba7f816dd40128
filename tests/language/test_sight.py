"""What the trained reader is shown of a note: words, their marks, and the faults whose turn is asked."""

from __future__ import annotations

from datetime import datetime

from diary.language.pipeline import parse_light
from diary.language.sight import asked, inside, marks, said_of, sight, touching, words_of
from diary.language.types import Context, Draft

NOW = datetime(2026, 5, 6, 18, 0)


def test_words_and_punctuation_have_their_places():
    text = "Put 1.5 litres in, it's on."
    assert [text[a:b] for a, b in words_of(text)] == ["Put", "1.5", "litres", "in", ",", "it's", "on", "."]


def test_words_carry_what_the_stages_and_the_rules_say_of_them():
    utterance = parse_light("replaced the fan belt on friday", Context(now=NOW))
    shown = sight(utterance, [Draft("parts", {"name": "fan belt", "state": "fitted"}, 12, 20)])
    things, _, clause, drafts, _ = zip(*shown.marks, strict=True)
    assert things[2:4] == ("b-component", "i-component")
    assert things[0].startswith("b-action:replaced")
    assert drafts == ("", "", "b-parts.fitted ", "i-parts.fitted ", "", "")
    assert "when" in clause[5]


def test_the_longest_mark_of_a_word_counts():
    utterance = parse_light("the rear main seal", Context(now=NOW))
    things, _, _ = marks(utterance, words_of(utterance.text))
    assert things == ["-", "b-component", "i-component", "i-component"]


def test_words_between_two_characters_are_found_as_by_looking_at_each():
    spans = words_of("put the new belt on, it's tight")
    for start in range(32):
        for end in range(start, 32):
            assert list(inside(spans, start, end)) == [k for k, (a, b) in enumerate(spans) if start <= a and b <= end]
            assert list(touching(spans, start, end)) == [k for k, (a, b) in enumerate(spans) if a < end and b > start]


def test_words_are_marked_with_what_the_diary_knows_of_the_thing():
    seal = {"id": "f1", "what": "rear main seal weeps", "component": "rear main seal", "state": "found", "opened_at": "2026-04-01T10:00"}
    belt = {"name": "fan belt", "state": "ordered"}
    context = Context(now=NOW, faults=[seal], parts=[belt])
    shown = sight(parse_light("fan belt came, rear main seal can wait", context), (), context)
    known = [row[-1] for row in shown.marks]
    assert known[:2] == ["awaited", "awaited"] and known[4:7] == ["open", "open", "open"]


def test_the_latest_open_faults_are_asked_before_those_that_are_closed():
    faults = [
        {"id": "old", "what": "horn is dead", "component": "horn", "state": "fixed", "opened_at": "2026-01-01", "closed_at": "2026-01-02"},
        {"id": "seal", "what": "weeps", "component": "rear main seal", "state": "waiting", "opened_at": "2026-02-01"},
        {"id": "belt", "what": "fan belt squeals", "component": "fan belt", "state": "found", "opened_at": "2026-03-01"},
    ]
    assert [(f.id, f.state) for f in asked(Context(now=NOW, faults=faults))] == [("belt", "found latest"), ("seal", "waiting"), ("old", "shut latest")]


def test_a_fault_is_shown_by_its_component_and_what_is_wrong():
    assert said_of({"component": "fan belt", "what": "Fan belt squeals"}) == ("fan", "belt", "squeals")
    assert said_of({"component": "fuel pump", "what": "starves uphill"}) == ("fuel", "pump:", "starves", "uphill")
