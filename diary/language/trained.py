"""The trained reader: for every word of a note, how likely it belongs to a fault, a deed, a plan, a part...

A spaCy token-to-vector network (its weights start from spaCy's small English ones) sees the words, a second embedding sees what
the lexicon, the clause splitter, the readers of numbers and the readers of rules say of them (`marks`); softmax layers tell, word by word in
B-/I-/O form, the layers of `BOUNDED` (trouble, deeds, what is to come, the things named) and what each is (`CHOSEN`).
`models/reader/train.py` trains it; `models/reader/reader.bin` is what it wrote.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError
from diary.language import threads
from diary.language.types import Clause, Context, Draft, Hit, Utterance

if TYPE_CHECKING:
    import numpy as np
    from spacy.tokens import Doc

WORD = re.compile(r"\w+(?:[.,:/'’\-]\w+)*|[^\w\s]")
REACH = 40  # records before a note that its words are held against
NEAR = 0.6  # of `threads.related`
AWAITED = ("needed", "ordered", "bought")
FLAGS = ("negated", "hypothetical", "suspected", "planned", "past", "question", "other_machine", "quoted", "retracted")  # of a Clause
WIDTH = 96  # of spaCy's small English token vectors
MARKS = ("TAG", "LEMMA", "DEP", "ENT_TYPE", "ENT_ID")  # where a Doc carries the marks: things, cues, clause, drafts, known


BOUNDED = {  # layer -> what its stretches can be; each word is B-, I- or O
    "trouble": ("fault", "same", "back", "closed", "wait"),
    "deed": ("work",),
    "other": ("plan", "lesson", "drive", "shot"),
    "thing": ("thing",),
}
CHOSEN = {  # layer -> the choices, told word by word inside the stretches of the layer named first
    "class": ("deed", ("replaced", "fitted", "removed", "cleaned", "tightened", "adjusted", "checked", "drained", "topped_up", "repaired", "filled",
                       "lubricated", "charged", "painted", "bled", "cut", "made", "other")),
    "state": ("thing", ("none", "needed", "ordered", "bought", "fitted", "removed", "spare")),
    "ruling": ("trouble", ("none", "ruled")),
}  # fmt: skip


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
class Shape:
    """The sizes of the network."""

    marks_width: int = 64
    hidden: int = 128
    depth: int = 2


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


def words_of(text: str) -> list[tuple[int, int]]:
    """Start and end of every word and punctuation mark."""
    return [m.span() for m in WORD.finditer(text)]


def inside(spans: list[tuple[int, int]], start: int, end: int) -> range:
    """The words that lie wholly between two characters."""
    first = bisect_left(spans, (start, 0))
    last = bisect_left(spans, (end, 0))
    return range(first, last - 1 if last > first and spans[last - 1][1] > end else last)


def touching(spans: list[tuple[int, int]], start: int, end: int) -> range:
    """The words that lie between two characters, be it in part."""
    first = bisect_left(spans, (start, 0))
    return range(first - 1 if first and spans[first - 1][1] > start else first, bisect_left(spans, (end, 0)))


def marks(utterance: Utterance, spans: list[tuple[int, int]]) -> tuple[list[str], list[str], list[str]]:
    """For every word: what thing or action it names, what cue it is part of, and in what kind of clause it stands."""
    things = _paint(spans, [(h.start, h.end, _thing(h)) for h in utterance.hits if h.kind not in ("cue", "person")])
    cues = _paint(spans, [(h.start, h.end, f"{h.kind}:{h.data.get('class', '')}") for h in utterance.hits if h.kind in ("cue", "person")])
    figures = _paint(
        spans,
        [(n.start, n.end, f"n:{n.kind}") for n in utterance.numbers]
        + [(q.start, q.end, f"q:{q.dimension}") for q in utterance.quantities]
        + [(d.start, d.end, "when") for d in utterance.dates],
    )
    clause = [""] * len(spans)
    for c in utterance.clauses:
        flags = _flags(c)
        for place, k in enumerate(inside(spans, c.start, c.end)):
            clause[k] = f"{'' if place else '^'}{flags}"
    return things, cues, [f"{a}|{b}" if a else b for a, b in zip(figures, clause, strict=True)]


def _thing(hit: Hit) -> str:
    if hit.kind == "action":
        return f"action:{hit.data.get('class')}:{hit.data.get('tense')}"
    if hit.kind == "symptom":
        return f"symptom:{hit.data.get('class')}:{hit.data.get('tense')}"
    if hit.kind == "component":
        return "component"
    return hit.kind


def _flags(c: Clause) -> str:
    return "".join(n[0] if n != "past" else "t" for n in FLAGS if getattr(c, n))


def _paint(spans: list[tuple[int, int]], marks: list[tuple[int, int, str]]) -> list[str]:
    """The mark of each word: of those that cover it, the longest, its first word told apart."""
    found = ["-"] * len(spans)
    length = [0] * len(spans)
    for start, end, mark in sorted(marks):
        for place, k in enumerate(inside(spans, start, end)):
            if end - start > length[k]:
                found[k], length[k] = f"{'b' if place == 0 else 'i'}-{mark}", end - start
    return found


@cache
def _vocab() -> Any:
    from spacy.lang.en import English

    return English().vocab


def drafted(spans: list[tuple[int, int]], drafts: Iterable[Draft]) -> list[str]:
    """For every word: the kinds of record that the rules drafted from it."""
    found = [""] * len(spans)
    for draft in drafts:
        detail = draft.fields.get("action") or draft.fields.get("state") or draft.fields.get("role") or draft.event or ""
        for place, k in enumerate(touching(spans, draft.start, draft.end)):
            mark = f"{draft.kind}.{detail}" if draft.kind in ("parts", "faults") else draft.kind
            if mark not in found[k]:
                found[k] += f"{'b' if place == 0 else 'i'}-{mark} "
    return found


def known(utterance: Utterance, spans: list[tuple[int, int]], context: Context | None) -> list[str]:
    """For every word: whether the thing it names has an open fault, one that was closed, or is a part waited for."""
    if context is None:
        return [""] * len(spans)
    records = [("open" if threads.is_open(f) else "shut", threads.of_record(f, head=True)) for f in context.faults[-REACH:]]
    records += [("awaited", threads.mention(str(p.get("name")))) for p in context.parts[-REACH:] if p.get("state") in AWAITED]
    found = [""] * len(spans)
    for hit in utterance.hits:
        if hit.kind not in ("component", "fastener", "consumable", "symptom"):
            continue
        said_here = utterance.text[hit.start : hit.end]
        spoken = threads.of_hits([replace(hit, start=0, end=len(said_here))], said_here)
        if hit.kind == "symptom":
            said = sorted({f"{state}-sign" for state, m in records if spoken.symptoms & m.symptoms or spoken.signs & m.signs})
        else:
            said = sorted({state for state, m in records if threads.related(spoken, m) >= NEAR})
        for k in inside(spans, hit.start, hit.end) if said else ():
            found[k] = found[k] or " ".join(said)
    return found


def doc_of(utterance: Utterance, drafts: Iterable[Draft] = (), context: Context | None = None) -> Doc:
    """The utterance as a spaCy Doc that carries its marks, what the rules drafted and what the diary knows of the things named; one
    token a word of `words_of`."""
    from spacy.tokens import Doc

    text = utterance.text
    spans = words_of(text)
    things, cues, clause = marks(utterance, spans)
    spaces = [k + 1 < len(spans) and spans[k + 1][0] > end for k, (_, end) in enumerate(spans)]
    doc = Doc(_vocab(), words=[text[a:b] for a, b in spans], spaces=spaces, tags=things, lemmas=cues)
    for token, mark, draft, before in zip(doc, clause, drafted(spans, drafts), known(utterance, spans, context), strict=True):
        token.dep_ = mark
        token.ent_type_ = draft
        token.ent_id_ = before
    return doc


def network(shape: Shape) -> Any:
    """The network, its weights not yet set: list[Doc] -> list of arrays (words, `columns`) of raw scores."""
    from spacy.ml.models import MaxoutWindowEncoder, MultiHashEmbed, build_Tok2Vec_model
    from thinc.api import Dropout, Linear, Maxout, chain, concatenate, with_array

    english = build_Tok2Vec_model(
        embed=MultiHashEmbed(
            width=WIDTH, attrs=["NORM", "PREFIX", "SUFFIX", "SHAPE", "SPACY", "IS_SPACE"],
            rows=[5000, 1000, 2500, 2500, 50, 50], include_static_vectors=False,
        ),
        encode=MaxoutWindowEncoder(width=WIDTH, window_size=1, maxout_pieces=3, depth=4),
    )  # fmt: skip
    trade = MultiHashEmbed(width=shape.marks_width, attrs=list(MARKS), rows=[400, 400, 1000, 600, 60], include_static_vectors=False)
    both: Any = concatenate(english, trade)
    encode = MaxoutWindowEncoder(width=shape.hidden, window_size=2, maxout_pieces=3, depth=shape.depth)
    mix: Any = with_array(Maxout(nO=shape.hidden, nI=WIDTH + shape.marks_width, nP=3, normalize=True, dropout=0.0))
    drop: Any = Dropout(0.2)
    tell: Any = with_array(chain(drop, Linear(nO=max(w.stop for w in columns().values()), nI=shape.hidden)))
    model: Any = chain(both, mix, encode, tell)
    model.set_ref("english", english)
    return model


@dataclass(frozen=True, slots=True)
class Reader:
    """A trained network."""

    shape: Shape
    model: Any

    def likelihoods(self, utterance: Utterance, drafts: Iterable[Draft] = (), context: Context | None = None) -> tuple[list[tuple[int, int]], dict[str, np.ndarray]]:
        """The words' spans, and by layer the likelihood of each label for each word: arrays (words, labels)."""
        import numpy as np

        spans = words_of(utterance.text)
        at = columns()
        if not spans:
            return spans, {layer: np.zeros((0, len(labels(layer)))) for layer in at}
        scores = self.model.predict([doc_of(utterance, drafts, context)])[0]
        return spans, {layer: softmax(scores[:, where]) for layer, where in at.items()}

    def read(self, utterance: Utterance, drafts: Iterable[Draft] = (), context: Context | None = None) -> list[Told]:
        """The stretches told, in order of their starts; `drafts` are what the rules made of the note, `context` what was known."""
        return told(*self.likelihoods(utterance, drafts, context))


def told(spans: list[tuple[int, int]], likely: dict[str, np.ndarray]) -> list[Told]:
    """The stretches of all bounded layers with their details."""
    found = []
    for layer in BOUNDED:
        for label, first, last, sure in stretches(labels(layer), likely[layer]):
            detail, certain = "", 1.0
            for choice, (of, choices) in CHOSEN.items():
                if of == layer:
                    mean = likely[choice][first : last + 1].mean(axis=0)
                    detail, certain = choices[int(mean.argmax())], float(mean.max())
            found.append(Told(label, "" if detail == "none" else detail, spans[first][0], spans[last][1], sure, certain))
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


def save(reader: Reader, path: Path) -> None:
    """Write the reader to one file."""
    import srsly

    path.write_bytes(srsly.msgpack_dumps({"shape": asdict(reader.shape), "model": reader.model.to_bytes()}))


def open_reader(path: Path) -> Reader:
    """The reader that `save` wrote; DiaryError where the file is none or of another shape."""
    import srsly

    try:
        held = srsly.msgpack_loads(path.read_bytes())
        shape = Shape(**held["shape"])
        model = network(shape)
        model.initialize(X=[doc_of(Utterance("a", datetime.min))])
        model.from_bytes(held["model"])
    except (ValueError, TypeError, KeyError) as error:
        raise DiaryError(f"{path} is no trained reader ({error}); train it again: python -m models.reader.train.") from error
    return Reader(shape, model)
