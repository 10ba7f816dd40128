"""The trained reader: for every word of a note, how likely it belongs to a fault, a deed, a plan, a part...

A small transformer, started from a general English one and taught on marked talk (`models/reader/`), is shown the note and the faults
known before it (`sight.py`). It tells, word by word in B-/I-/O form, the layers of `BOUNDED` (trouble, deeds, what is to come, the
things named, what is no record) and what each is (`CHOSEN`), and for every fault shown what becomes of it in this note (`TURNS`).
`models/reader/train.py` trains it; `models/reader/reader.zip` is what it wrote: the network as ONNX with 8-bit weights, its word
pieces and the marks it knows.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError
from diary.language.sight import MARKS, Sight

if TYPE_CHECKING:
    import numpy as np

WINDOW, MARGIN = 160, 15  # words that the network is shown at once, and how many of them lie before the part that it tells
LONGEST = 500  # pieces that the network can be shown at once
PIECES, FEW = 6, 2  # of a word at most, and where there are many long words

BOUNDED = {  # layer -> what its stretches can be; each word is B-, I- or O
    "trouble": ("fault", "same", "back", "closed", "wait"),
    "deed": ("work",),
    "other": ("plan", "lesson", "drive", "shot"),
    "thing": ("thing",),
    "outside": ("not",),
}
CHOSEN = {  # layer -> the choices, told word by word inside the stretches of the layer named first
    "class": ("deed", ("replaced", "fitted", "removed", "cleaned", "tightened", "adjusted", "checked", "drained", "topped_up", "repaired", "filled",
                       "lubricated", "charged", "painted", "bled", "cut", "made", "other")),
    "state": ("thing", ("none", "needed", "ordered", "bought", "fitted", "removed", "spare")),
    "ruling": ("trouble", ("none", "ruled")),
    "fate": ("trouble", ("stays", "ended")),  # of a fault first told of in this note
}  # fmt: skip
CHOSEN_OF = {"ruling": "closed", "fate": "fault"}  # the one kind of stretch that a choice speaks of
TURNS = ("none", "same", "wait", "back", "closed", "ruled")  # what becomes of a fault known before


def labels(layer: str) -> tuple[str, ...]:
    """The labels of a layer, in the order of the network's columns."""
    if layer in CHOSEN:
        return CHOSEN[layer][1]
    return ("O", *(f"{b}-{kind}" for kind in BOUNDED[layer] for b in "BI"))


def columns() -> dict[str, slice]:
    """Where each layer's scores stand in the network's output."""
    found, at = {}, 0
    for layer in (*BOUNDED, *CHOSEN):
        found[layer] = slice(at, at + len(labels(layer)))
        at += len(labels(layer))
    return found


@dataclass(frozen=True, slots=True)
class Told:
    """`text[start:end]` of the note says this. `detail` is the class of a deed, the state of a part, "ruled" of a fault ruled out;
    `sure` the network's mean likelihood of the kind over the stretch, `detail_sure` that of the detail."""

    kind: str
    detail: str
    start: int
    end: int
    sure: float
    detail_sure: float = 1.0


@dataclass(frozen=True, slots=True)
class Coded:
    """A note in the network's numbers: `pieces` (n,), `parts` (n,) 0 note 1 faults, `marks` (n, len(MARKS)), and where in them each
    word of the note and each fault begins."""

    pieces: np.ndarray
    parts: np.ndarray
    marks: np.ndarray
    words: np.ndarray
    faults: np.ndarray


@dataclass(frozen=True, slots=True)
class Code:
    """Word pieces and marks as numbers; marks that training did not see are 0."""

    tokenizer: Any
    marks: dict[str, dict[str, int]]

    def of(self, shown: Sight, start: int = 0, end: int | None = None) -> Coded:
        """The words from `start` to `end` of a note, and behind them its faults as far as there is room."""
        import numpy as np

        first, last = self.tokenizer.token_to_id("[CLS]"), self.tokenizer.token_to_id("[SEP]")
        none = [0] * len(MARKS)
        pieces, marks, words, faults = [first], [none], [], []
        spelt = self._pieces(shown.words[start:end])
        most = FEW if sum(map(len, spelt)) > LONGEST - 2 else PIECES
        for k, ids in enumerate((ids[:most] for ids in spelt), start):
            words.append(len(pieces))
            pieces += ids
            marks += [[self.marks[name].get(mark, 0) for name, mark in zip(MARKS, shown.marks[k], strict=True)]] * len(ids)
        parts = [0] * len(pieces)
        for fault in shown.faults:
            ids = [i for word in self._pieces(fault.words) for i in word]
            if len(pieces) + len(ids) + 2 > LONGEST:
                break
            faults.append(len(pieces))
            pieces += [last, *ids]
            marks += [[self.marks["known"].get(fault.state, 0) if name == "known" else 0 for name in MARKS]] + [none] * len(ids)
        pieces.append(last)
        marks.append(none)
        parts += [1] * (len(pieces) - len(parts))
        return Coded(*(np.array(x, dtype=np.int64) for x in (pieces, parts, marks, words, faults)))

    def _pieces(self, words: Iterable[str]) -> list[list[int]]:
        words = list(words)
        coded = self.tokenizer.encode(words, is_pretokenized=True, add_special_tokens=False)
        found: list[list[int]] = [[] for _ in words]
        for word, piece in zip(coded.word_ids, coded.ids, strict=True):
            found[word].append(piece)
        unknown = self.tokenizer.token_to_id("[UNK]")
        return [ids or [unknown] for ids in found]


@dataclass(frozen=True, slots=True)
class Reader:
    """A trained network."""

    code: Code
    network: Any

    def likelihoods(self, shown: Sight) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
        """By layer the likelihood of each label for each word: arrays (words, labels); and by fault of each of TURNS."""
        import numpy as np

        at = columns()
        scores = np.zeros((len(shown.words), max(where.stop for where in at.values())), dtype=np.float32)
        turns: dict[str, np.ndarray] = {}
        for start in range(0, len(shown.words), WINDOW - 2 * MARGIN):
            end = min(len(shown.words), start + WINDOW)
            coded = self.code.of(shown, start, end)
            of_words, of_faults = self.network.run(None, {"pieces": coded.pieces[None], "parts": coded.parts[None], "marks": coded.marks[None]})
            mine = start + MARGIN if start else 0  # the words before it were told with more behind them
            scores[mine:end] = of_words[0, coded.words[mine - start :]]
            for fault, row in zip(shown.faults, softmax(of_faults[0, coded.faults]), strict=False):
                if fault.id not in turns or row[0] < turns[fault.id][0]:
                    turns[fault.id] = row
            if end == len(shown.words):
                break
        return {layer: softmax(scores[:, where]) for layer, where in at.items()}, turns


def told(spans: list[tuple[int, int]], likely: dict[str, np.ndarray]) -> list[Told]:
    """The stretches of all bounded layers with their details."""
    found = []
    for layer in BOUNDED:
        for label, first, last, sure in stretches(labels(layer), likely[layer]):
            detail, certain = "", 1.0
            for choice, (of, choices) in CHOSEN.items():
                if of == layer and CHOSEN_OF.get(choice, label) == label:
                    mean = likely[choice][first : last + 1].mean(axis=0)
                    detail, certain = choices[int(mean.argmax())], float(mean.max())
            found.append(Told(label, "" if detail in ("none", "stays") else detail, spans[first][0], spans[last][1], sure, certain))
    return sorted(found, key=lambda s: (s.start, -s.end))


def softmax(scores: np.ndarray) -> np.ndarray:
    """Rows as likelihoods."""
    import numpy as np

    e = np.exp(scores - scores.max(axis=1, keepdims=True))
    likely: np.ndarray = e / e.sum(axis=1, keepdims=True)
    return likely


def stretches(names: tuple[str, ...], likely: np.ndarray) -> list[tuple[str, int, int, float]]:
    """(kind, first word, last word, mean likelihood) along the best path through the labels: an I- follows its own B- or I-."""
    import numpy as np

    if not len(likely):
        return []
    allowed = _allowed(names)
    score = np.log(likely + 1e-9)
    best = score[0] + np.where([x.startswith("I-") for x in names], -50.0, 0.0)
    back = []
    for row in score[1:]:
        step = best[:, None] + allowed
        back.append(step.argmax(axis=0))
        best = step.max(axis=0) + row
    path = [int(best.argmax())]
    for pointers in reversed(back):
        path.append(int(pointers[path[-1]]))
    path.reverse()
    found = []
    k = 0
    while k < len(path):
        label = names[path[k]]
        if label == "O":
            k += 1
            continue
        j = k + 1
        while j < len(path) and names[path[j]] == f"I-{label[2:]}":
            j += 1
        same = [i for i, x in enumerate(names) if x[2:] == label[2:] and x != "O"]
        found.append((label[2:], k, j - 1, float(likely[k:j, same].sum(axis=1).mean())))
        k = j
    return found


@cache
def _allowed(labels: tuple[str, ...]) -> Any:
    import numpy as np

    table = np.zeros((len(labels), len(labels)))
    for j, label in enumerate(labels):
        if label.startswith("I-"):
            table[:, j] = [0.0 if x[2:] == label[2:] and x != "O" else -50.0 for x in labels]
    return table


def save(path: Path, network: bytes, tokenizer: str, marks: dict[str, dict[str, int]]) -> None:
    """Write a reader to one file: the network as ONNX, the tokenizer and the marks as JSON."""
    layers = {"columns": {k: [v.start, v.stop] for k, v in columns().items()}, "turns": list(TURNS)}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as held:
        held.writestr("network.onnx", network)
        held.writestr("tokenizer.json", tokenizer)
        held.writestr("marks.json", json.dumps({**layers, "marks": marks}, indent=0))


def open_reader(path: Path) -> Reader:
    """The reader that `save` wrote; DiaryError where the file is none or tells other layers."""
    from onnxruntime import InferenceSession, SessionOptions
    from tokenizers import Tokenizer

    try:
        with zipfile.ZipFile(path) as held:
            kept = json.loads(held.read("marks.json"))
            if kept["columns"] != {k: [v.start, v.stop] for k, v in columns().items()} or kept["turns"] != list(TURNS):
                raise ValueError("it tells other layers")
            tokenizer = Tokenizer.from_str(held.read("tokenizer.json").decode())
            options = SessionOptions()
            options.intra_op_num_threads = 2
            network = InferenceSession(held.read("network.onnx"), options, providers=["CPUExecutionProvider"])
    except (zipfile.BadZipFile, ValueError, KeyError) as error:
        raise DiaryError(f"{path} is no trained reader ({error}); train it again: python -m models.reader.train.") from error
    return Reader(Code(tokenizer, kept["marks"]), network)
