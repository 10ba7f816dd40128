"""How likely a candidate is to be a record: logistic weights over named features, one set for each kind of question.

`models/reader/train.py` writes them (`models/reader/judge.json`); they are plain numbers that can be read:
{question: {"bias": b, "cut": c, "weights": {feature: w}}}.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diary.errors import DiaryError

Features = dict[str, float]


@dataclass(frozen=True, slots=True)
class Judge:
    """Weights by question ("work rule", "work net", "ends", ...)."""

    tables: dict[str, Any]

    def likely(self, question: str, features: Features) -> float:
        """Between 0 and 1; a question without weights is answered by the feature "sure"."""
        held = self.tables.get(question)
        if held is None:
            return features.get("sure", 0.0)
        total = held["bias"] + sum(w * features.get(name, 0.0) for name, w in held["weights"].items())
        return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))

    def cut(self, question: str) -> float:
        """From where on a candidate is a record."""
        return float(self.tables.get(question, {}).get("cut", 0.5))


def open_judge(path: Path) -> Judge:
    """The judge that training wrote; DiaryError where the file is none."""
    try:
        return Judge(json.loads(path.read_text(encoding="utf-8")))
    except ValueError as error:
        raise DiaryError(f"{path} is no judge of readings ({error}); train it again: python -m models.reader.train.") from error
