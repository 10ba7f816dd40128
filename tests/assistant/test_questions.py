"""What a question is understood as, over many wordings: the family, the window, and what it is about.

The wordings are in data/wordings.toml; each is filled in with several parts, faults, fasteners, days and events.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from datetime import date
from pathlib import Path

import pytest

from diary.assistant.guess import guess, model
from diary.assistant.learn import fingerprint
from diary.assistant.questions import closest, families, marks, tokens_of, understand
from diary.assistant.turns import is_question
from diary.assistant.words import content

NOW = date(2026, 5, 27)
DATA = tomllib.loads((Path(__file__).parent / "data" / "wordings.toml").read_text())
FILL = DATA.pop("fill")


def filled(wording: str) -> list[tuple[str, str | None]]:
    """The wording with its slots filled, each with the thing it must be about."""
    slots = re.findall(r"\{(\w+)\}", wording)
    if not slots:
        return [(wording, None)]
    out = []
    for values in itertools.islice(zip(*(FILL[s] for s in slots), strict=True), 5):
        text = wording.format(**dict(zip(slots, values, strict=True)))
        thing = next((v for s, v in zip(slots, values, strict=True) if s in ("part", "fault", "fastener")), None)
        out.append((text, thing))
    return out


CASES = [(family, text, thing) for family, row in DATA.items() for w in row["wordings"] for text, thing in filled(w)]


def test_there_are_families_and_wordings_enough() -> None:
    assert len(DATA) >= 25
    assert all(len(row["wordings"]) >= 12 for row in DATA.values())
    assert set(DATA) <= set(families())


@pytest.mark.parametrize("family", DATA)
def test_every_wording_is_understood(family: str) -> None:
    wrong = []
    for name, text, thing in CASES:
        if name != family:
            continue
        query = understand(text, NOW)
        if query.family != family:
            wrong.append(f"{text!r} taken for {query.family or 'nothing'}")
        elif thing and not set(content(thing)) & {
            *query.stems,
            *content(" ".join(p for w in query.window.points for p in w.words)),
        }:
            wrong.append(f"{text!r} is not about {thing}: {query.about}")
    assert not wrong, "\n".join(wrong)


def test_questions_are_known_as_questions() -> None:
    short = {"mpg?"}
    starts = ("what", "how", "when", "which", "is ", "did ", "has ", "was ", "does ", "have i", "do i", "am i", "can i")
    wrong = [
        t
        for _, t, _ in CASES
        if t.lower().startswith(starts) and t not in short and not t.startswith("when i ") and not is_question(t)
    ]
    assert not wrong, wrong


@pytest.mark.parametrize(
    ("text", "kind", "first", "last"),
    [
        ("what did i spend this month", "days", "2026-05-01", "2026-05-31"),
        ("what did i spend last month", "days", "2026-04-01", "2026-04-30"),
        ("what got done on saturday", "days", "2026-05-23", "2026-05-23"),
        ("what got done last week", "days", "2026-05-18", "2026-05-24"),
        ("what did i do yesterday", "days", "2026-05-26", "2026-05-26"),
        ("what did i do on the ninth", "days", "2026-05-09", "2026-05-09"),
        ("what did i do on the 28th", "days", "2026-04-28", "2026-04-28"),
        ("what was done in april", "days", "2026-04-01", "2026-04-30"),
        ("what was done in december", "days", "2025-12-01", "2025-12-31"),
        ("what did i do on may third", "days", "2026-05-03", "2026-05-03"),
        ("what did i do on 3 may", "days", "2026-05-03", "2026-05-03"),
        ("what is on for saturday", "days", "2026-05-30", "2026-05-30"),
        ("whats planned for the fourth", "days", "2026-06-04", "2026-06-04"),
        ("how much fuel in the last three weeks", "days", "2026-05-06", "2026-05-27"),
        ("what did i spend this year", "days", "2026-01-01", "2026-12-31"),
        ("what did i do over the weekend of last weekend", "days", "2026-05-23", "2026-05-24"),
    ],
)
def test_windows_of_days(text: str, kind: str, first: str, last: str) -> None:
    window = understand(text, NOW).window
    assert (window.kind, str(window.start), str(window.end)) == (kind, first, last)


def test_windows_of_tanks_and_events() -> None:
    assert understand("what did i get on the last tank", NOW).window.n == -1
    assert understand("what did i get on the tank before that one", NOW).window.kind in ("tank", "before")
    assert understand("mileage over the last three tanks", NOW).window.n == 3
    since = understand("how many miles since i changed the fuel filter", NOW).window
    assert since.kind == "since" and since.first and "filter" in since.first.words
    both = understand("how hot was the hub before and after the new bearing", NOW).window
    assert both.kind == "around" and both.first and "bearing" in both.first.words
    between = understand("mileage between the fill on the second and the one on the eighth", NOW).window
    assert (
        between.first
        and between.second
        and (between.first.day, between.second.day) == (date(2026, 5, 2), date(2026, 5, 8))
    )


def test_a_wording_not_understood_gets_two_choices() -> None:
    query = understand("purple monkey dishwasher", NOW)
    assert not query.understood
    near = closest("purple monkey dishwasher", NOW)
    assert len(near) == 2 and near[0] != near[1]


def test_what_is_learned_is_of_these_examples() -> None:
    """`python -m diary.assistant.learn` is to be run after data/examples.toml or data/questions.toml has changed."""
    assert model().made_of == fingerprint()
    assert set(model().families) <= set(families())


def test_free_wordings_are_weighed_by_examples() -> None:
    """No phrase of the grammar fits these; the examples decide, or two readings are offered."""
    tokens = tokens_of("what has it been drinking since the rebuild", NOW)
    likely = guess(tokens, marks(tokens, NOW))
    assert sum(p for _, p in likely) == pytest.approx(1.0) and "economy" in [f for f, _ in likely[:2]]
    for text in (
        "what was my words on the gearbox",
        "what do i owe you in the way of figures",
        "which bolts want going round again",
    ):
        query = understand(text, NOW)
        assert query.understood or len(closest(text, NOW)) == 2
