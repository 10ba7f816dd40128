"""The judge: logistic weights over named features."""

from __future__ import annotations

import json
import math

import pytest

from diary.errors import DiaryError
from diary.language.judge import Judge, open_judge

TABLES = {"work net": {"bias": -1.0, "cut": 0.4, "weights": {"told": 2.0, "negated": -3.0}}}


def test_features_are_weighed_and_unknown_ones_left_out():
    judge = Judge(TABLES)
    assert judge.likely("work net", {"told": 1.0, "colour": 5.0}) == pytest.approx(1 / (1 + math.exp(-1.0)))
    assert judge.likely("work net", {"told": 1.0, "negated": 1.0}) < judge.cut("work net")


def test_a_question_without_weights_is_answered_by_the_drafts_own_confidence():
    assert Judge({}).likely("plans rule", {"sure": 0.7}) == 0.7
    assert Judge({}).cut("plans rule") == 0.5


def test_a_judge_is_read_from_its_file(tmp_path):
    path = tmp_path / "judge.json"
    path.write_text(json.dumps(TABLES), encoding="utf-8")
    assert open_judge(path).tables == TABLES
    path.write_text("{", encoding="utf-8")
    with pytest.raises(DiaryError, match="judge.json"):
        open_judge(path)
