"""What the network tells is merged with what the rules drafted. The network here is a stand-in that tells what each test says."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from diary.language import trained
from diary.language.judge import Judge
from diary.language.pipeline import parse_light
from diary.language.reader import by_rules
from diary.language.readers.learned import Threads, candidates, look, merge
from diary.language.sight import words_of
from diary.language.types import Context, Draft

NOW = datetime(2026, 5, 6, 18, 0)
SEAL = {"id": "f1", "what": "rear main seal is weeping", "component": "rear main seal", "state": "found", "opened_at": "2026-04-01T10:00"}
HORN = {"id": "f2", "what": "horn is dead", "component": "horn", "state": "fixed", "opened_at": "2026-03-01T10:00", "closed_at": "2026-03-09T10:00"}


class Network:
    """Tells exactly the stretches named, (kind, words, detail), and the turns of faults given by their ids."""

    def __init__(self, *said: tuple[str, str, str], turns: dict[str, str] | None = None) -> None:
        self.said = said
        self.turns = turns or {}

    def likelihoods(self, shown):
        spans, text = shown.spans, " ".join(shown.words)
        likely = {}
        for layer in trained.columns():
            names = trained.labels(layer)
            likely[layer] = np.full((len(spans), len(names)), 0.001)
            likely[layer][:, 0] = 0.99
        for kind, words, detail in self.said:
            first = len(text[: text.index(" ".join(words_only(words)))].split())
            rows = range(first, first + len(words_only(words)))
            layer = next(x for x, kinds in trained.BOUNDED.items() if kind in kinds)
            for place, k in enumerate(rows):
                likely[layer][k] = 0.001
                likely[layer][k, trained.labels(layer).index(f"{'I' if place else 'B'}-{kind}")] = 0.95
                for choice, (of, choices) in trained.CHOSEN.items():
                    if of == layer and detail in choices:
                        likely[choice][k] = 0.001
                        likely[choice][k, choices.index(detail)] = 0.95
        turns = {f.id: np.full(len(trained.TURNS), 0.01) for f in shown.faults}
        for fault, row in turns.items():
            row[trained.TURNS.index(self.turns.get(fault, "none"))] = 0.95
        return likely, turns


def words_only(text: str) -> list[str]:
    """The words as the network is shown them."""
    return [text[a:b] for a, b in words_of(text)]


BELIEVES = Judge(
    {
        **{f"{k} rule": {"bias": 2.0, "cut": 0.5, "weights": {}} for k in ("work", "parts", "faults", "plans", "lessons")},
        **{f"{k} net": {"bias": -2.0, "cut": 0.5, "weights": {"told": 5.0}} for k in ("work", "parts", "faults", "plans", "lessons")},
        "ends": {"bias": -2.0, "cut": 0.5, "weights": {"said of it": 9.0, "said next": 3.0}},
        "returns": {"bias": -2.0, "cut": 0.5, "weights": {"back of it": 9.0}},
    }
)
DOUBTS = Judge({**BELIEVES.tables, "work rule": {"bias": -2.0, "cut": 0.5, "weights": {}}})


def read(text, *said, judge=BELIEVES, faults=(), rules=None, turns=None):
    context = Context(now=NOW, faults=[dict(f) for f in faults])
    utterance = parse_light(text, context)
    drafts = by_rules(utterance, context) if rules is None else rules
    return merge(utterance, context, drafts, Network(*said, turns=turns), judge)


def of(kind, drafts):
    return [d for d in drafts if d.kind == kind]


def test_a_deed_that_no_rule_knew_is_written_with_its_thing():
    (deed,) = of("work", read("gave the float bowl a good seeing to", ("work", "gave the float bowl a good seeing to", "cleaned"), ("thing", "the float bowl", "none")))
    assert deed.fields == {"action": "cleaned", "component": "float bowl"}


def test_a_part_that_no_rule_knew_has_its_count_and_price():
    text = "two float bowls on their way, thirty bucks"
    (part,) = of("parts", read(text, ("thing", "float bowls", "ordered"), rules=[]))
    assert part.fields == {"name": "float bowls", "state": "ordered", "count": 2, "cost": 30.0}


def test_a_pronoun_is_the_thing_named_before_it():
    deed = [("work", "greased them", "lubricated"), ("thing", "them", "none")]
    drafts = read("threaded the float bowls through and greased them", ("thing", "the float bowls", "none"), *deed, rules=[])
    assert [d.fields for d in of("work", drafts)] == [{"action": "greased", "component": "float bowls"}]
    assert of("work", read("greased them", *deed, rules=[])) == []


def test_nothing_is_written_from_a_hypothesis_on_the_networks_word_alone():
    text = "if it ever leaks i would gasket the float bowl"
    assert of("work", read(text, ("work", "gasket the float bowl", "replaced"), ("thing", "the float bowl", "none"), rules=[])) == []


def test_one_end_told_does_not_end_faults_that_it_does_not_name():
    horn = {**HORN, "state": "found"}
    judge = Judge({**BELIEVES.tables, "ends": {"bias": 1.0, "cut": 0.5, "weights": {}}})
    drafts = read("rear main seal dry as a bone", ("closed", "rear main seal dry as a bone", "none"), judge=judge, faults=[SEAL, horn], rules=[])
    assert [d.thread for d in of("faults", drafts)] == ["f1"]


def test_what_the_judge_does_not_believe_is_no_record():
    assert of("work", read("replaced the fan belt")) != []
    assert of("work", read("replaced the fan belt", judge=DOUBTS)) == []


def test_a_plan_keeps_the_speakers_words_and_its_day():
    (plan,) = of("plans", read("saturday is brake day", ("plan", "saturday is brake day", "")))
    assert (plan.fields["what"], plan.fields["due"]) == ("saturday is brake day", "2026-05-09")


def test_a_fault_said_to_be_over_is_closed_by_what_it_names():
    (end,) = of("faults", read("rear main seal dry as a bone", ("closed", "rear main seal dry as a bone", "none"), faults=[SEAL], rules=[]))
    assert (end.thread, end.event) == ("f1", "fixed")


def test_a_false_alarm_is_ruled_out():
    said = ("closed", "the rear main seal was never it", "ruled")
    (end,) = of("faults", read("the rear main seal was never it", said, faults=[SEAL], rules=[], turns={"f1": "ruled"}))
    assert end.event == "ruled_out"


def test_a_fault_whose_turn_the_network_sees_is_closed_though_the_note_does_not_name_it():
    turns = Judge({**BELIEVES.tables, "ends": {"bias": -2.0, "cut": 0.5, "weights": {"turn ended": 5.0}}})
    drafts = read("went back in first time this morning", judge=turns, faults=[SEAL, HORN], rules=[], turns={"f1": "closed"})
    assert [(d.thread, d.event) for d in of("faults", drafts)] == [("f1", "fixed")]


def test_a_fault_that_the_note_lets_wait_is_waiting():
    (step,) = of("faults", read("not this month, money is tight", faults=[SEAL, HORN], rules=[], turns={"f1": "wait"}))
    assert (step.thread, step.event) == ("f1", "waiting")


def test_a_closed_fault_comes_back():
    drafts = read("the horn has gone quiet on me again", ("back", "the horn has gone quiet on me again", ""), faults=[SEAL, HORN], rules=[])
    assert [(d.thread, d.event) for d in of("faults", drafts)] == [("f2", "back")]


def test_a_fault_found_and_mended_in_one_note_keeps_its_thread_when_others_go():
    rules = [
        Draft("work", {"action": "replaced", "component": "belt"}, 0, 4),
        Draft("faults", {"what": "hose was loose", "component": "hose"}, 10, 24, event="found"),
        Draft("faults", {}, 26, 40, thread="#1", event="fixed"),
    ]
    text = "belt and a hose was loose, no leaks now at all"
    drafts = read(text, ("closed", "no leaks now at all", "none"), judge=DOUBTS, rules=rules)
    assert [(d.kind, d.thread, d.event) for d in drafts] == [("faults", None, "found"), ("faults", "#0", "fixed")]


def test_what_is_as_it_should_be_is_no_fault_whatever_the_network_sees():
    trouble = ("fault", "the exhaust rumbles", "stays")
    assert [d.event for d in of("faults", read("the exhaust rumbles", trouble, rules=[]))] == ["found"]
    assert of("faults", read("the exhaust rumbles and i love it", trouble, rules=[])) == []
    assert of("faults", read("That is the end of this episode, and the exhaust rumbles", trouble, rules=[])) == []


def test_a_torque_says_already_that_the_bolts_were_tightened():
    torque = Draft("torques", {"fastener": "steering box bolts", "value": 65, "unit": "ft_lb", "role": "applied"}, 40, 60)
    text = "nipped up the box bolts good and proper, sixty five foot pounds"
    said = [("work", "nipped up the box bolts", "tightened"), ("thing", "box bolts", "none")]
    assert of("work", read(text, *said, rules=[torque])) == []
    assert len(of("work", read(text, *said, rules=[]))) == 1


def test_one_deed_of_two_readings_is_written_once():
    text = "the driveshaft is in"
    rules = [Draft("work", {"action": "fitted", "component": "driveshaft"}, 4, 20)]
    said = ("work", text, "replaced")
    sure = {**BELIEVES.tables, "work rule": {"bias": 0.5, "cut": 0.5, "weights": {}}, "work net": {"bias": 3.0, "cut": 0.5, "weights": {}}}
    assert [d.fields["action"] for d in of("work", read(text, said, judge=Judge(sure), rules=rules))] == ["replaced"]
    assert [d.fields["action"] for d in of("work", read(text, said, rules=rules))] == ["fitted"]  # not clearly likelier


def test_a_deed_and_the_part_it_was_done_with_are_both_written():
    rules = [
        Draft("parts", {"name": "float bowl", "state": "fitted", "count": 1, "cost": None}, 4, 14, event="fitted"),
        Draft("work", {"action": "replaced", "component": "float bowl"}, 4, 14),
    ]
    assert [d.kind for d in read("new float bowl on", rules=rules)] == ["parts", "work"]


def test_a_part_is_written_in_one_state():
    rules = [Draft("parts", {"name": "float bowl", "state": "bought", "count": 1, "cost": None}, 4, 14, event="bought")]
    said = ("thing", "float bowl", "fitted")
    sure = {**BELIEVES.tables, "parts rule": {"bias": 0.5, "cut": 0.5, "weights": {}}, "parts net": {"bias": 3.0, "cut": 0.5, "weights": {}}}
    (part,) = of("parts", read("the float bowl is on", said, judge=Judge(sure), rules=rules))
    assert (part.fields["state"], part.event) == ("fitted", "fitted")
    assert [d.fields["state"] for d in of("parts", read("the float bowl is on", said, rules=rules))] == ["bought"]  # not clearly likelier


def test_numeric_records_are_not_judged():
    drafts = read("odometer says 87406", judge=DOUBTS)
    assert [d.kind for d in drafts] == ["readings"]


def test_candidates_tell_what_speaks_for_them():
    context = Context(now=NOW)
    utterance = parse_light("replaced the fan belt", context)
    drafts = by_rules(utterance, context)
    seen = look(utterance, Network(("work", "replaced the fan belt", "replaced")), drafts, context)
    one = next(c for c in candidates(seen, context, drafts) if c.draft.kind == "work")
    assert one.features["told"] > 0.9 and one.features["class"] > 0.9 and one.features["negated"] == 0.0


def test_faults_that_stand_are_those_open_before_and_those_opened_here():
    context = Context(now=NOW, faults=[dict(SEAL), dict(HORN)])
    utterance = parse_light("horn is dead", context)
    opened = Draft("faults", {"what": "wiper is slow", "component": "wiper"}, 0, 4, event="found")
    talk = Threads(look(utterance, Network(), [], context), context, [opened], [])
    assert [f["id"] for f in talk.standing()] == ["f1", "#0"]
