"""How much of marked talk the lexicon knows: bench_lexicon.py FOLDER [FOLDER ...] [--files 'b[1-4].txt'] [--missing KIND].

FOLDER holds files of marked talk (format: diary/language/markup.py), at any depth. For every kind of mark it prints how many stretches
there are, how many the lexicon knows wholly, in part, or not at all:

- names (`c` and `part.X`): wholly, where every word that carries meaning belongs to a thing, a place or the adjectives of the grammar.
- deeds (`work.CLASS`): wholly, where an action of that class stands in the stretch; in part, where only actions of other classes do.
- the other kinds: wholly, where a symptom, a word of health or a cue of the class that `LOOKED_FOR` names stands in the stretch.
- `got.X`: wholly, where a cue of that class stands within a few words of the part's name.

`--missing KIND` lists the stretches of that kind that are not known wholly, the most frequent first.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from diary.errors import DiaryError
from diary.language import lexicon, markup
from diary.language.text import stem, tokens
from diary.language.types import Hit, Token

# What says in the talk that a stretch is of a kind: kinds of hits, or classes of cues.
LOOKED_FOR = {
    "fault": ("symptom",),
    "closed": ("healthy", "fixed", "negation"),
    "back": ("back", "symptom"),
    "ruled": ("ruled_out", "healthy", "cause"),
    "wait": ("waiting", "ordered", "needed", "plan"),
    "plan": ("plan", "obligation", "needed"),
    "lesson": ("lesson", "obligation", "negation"),
    "shot": ("shot",),
    "not.if": ("hypothesis", "suspicion"),
    "not.negated": ("negation",),
    "not.quoted": ("document", "hearsay", "should", "person", "place_of"),
    "not.other": ("person", "other_machine", "machine"),
    "got.needed": ("needed", "obligation"),
    "got.ordered": ("ordered", "waiting"),
    "got.bought": ("bought", "arrived", "price", "place_of"),
    "got.spare": ("spare",),
}
# The class of an action (data/lexicon/actions.toml) for a mark's; a mark not named here has one of its own name.
CLASSES = {
    "topped_up": {"topped up", "filled"},
    "filled": {"filled", "topped up"},
    "charged": {"topped up"},
    "greased": {"lubricated"},
    "cleaned": {"cleaned", "flushed"},
    "adjusted": {"adjusted", "aligned", "balanced", "rotated", "deflated", "loosened"},
    "repaired": {"repaired", "rebuilt"},
    "cut": {"fabricated", "removed"},
    "made": {"fabricated", "repaired"},
    "drained": {"drained", "flushed"},
    "replaced": {"replaced", "swapped"},
    "removed": {"removed", "loosened"},
}
_NEAR = 10  # words before or after a part's name within which its cue may stand
_SMALL = ("adjective", "passing", "place_filler", "article", "my", "object_pronoun", "coordinating")


def _named(words: list[Token], hits: list[Hit], small: frozenset[str]) -> str:
    known = [h for h in hits if h.kind in ("component", "fastener", "consumable", "tool", "machine", "meter")]
    if not known:
        return "none"
    spans = [(h.start, h.end) for h in hits if h.kind in ("component", "fastener", "consumable", "tool", "place", "machine", "person", "meter")]  # fmt: skip
    open_words = [w for w in words if not any(a <= w.start < b for a, b in spans)]
    return "part" if any(w.lower not in small and not w.text[0].isdigit() for w in open_words) else "whole"


def judged(note: markup.MarkedNote, book: lexicon.Lexicon) -> Iterator[tuple[str, str, str]]:
    """(kind, whole | part | none, the words) for each stretch of a note."""
    words = tokens(note.text)
    hits = book.find(note.text, words)
    small = frozenset(w for name in _SMALL for w in book.grammar.get(name, ())) | {"the", "a", "an", "its", "set", "pair", "kit"}
    for stretch in note.stretches:
        inside = [h for h in hits if stretch.start <= h.start < stretch.end]
        said = note.text[stretch.start : stretch.end]
        if stretch.kind in ("c", "part"):
            own = [w for w in words if stretch.start <= w.start < stretch.end]
            within = [h for h in inside if h.end <= stretch.end]
            yield "names", _named(own, within, small), " ".join(stem(w.lower) for w in own)
        if stretch.kind == "work":
            classes = {h.data["class"] for h in inside if h.kind == "action"}
            wanted = CLASSES.get(stretch.detail, {stretch.detail})
            same = bool(classes & wanted) or (stretch.detail == "other" and bool(classes))
            yield f"work.{stretch.detail}", "whole" if same else "part" if classes else "none", said
        kind = f"{stretch.kind}.{stretch.detail}" if stretch.kind == "not" else stretch.kind
        near = inside
        if stretch.kind == "part":
            kind = f"got.{stretch.detail}"
            first = sum(w.start < stretch.start for w in words)
            last = sum(w.start < stretch.end for w in words)
            around = words[max(0, first - _NEAR) : last + _NEAR]
            near = [h for h in hits if around[0].start <= h.start < around[-1].end]
            said = note.text[around[0].start : around[-1].end]
        if wanted := set(LOOKED_FOR.get(kind, ())):
            found = any(h.kind in wanted or (h.kind == "cue" and h.data["class"] in wanted) for h in near)
            yield kind, "whole" if found else "none", said


def main() -> None:
    """Print the table, or what is missing."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("folders", type=Path, nargs="+")
    ask.add_argument("--files", default="*.txt", help="which files of the folders")
    ask.add_argument("--without", default="", help="leave out files of this name")
    ask.add_argument("--missing", default="", help="list what is not known of a kind, by its beginning")
    options = ask.parse_args()
    paths = sorted(p for f in options.folders for p in f.rglob(options.files) if p.name != options.without)
    if not paths:
        raise SystemExit("There are no files of marked talk there; give the folder that holds them.")
    book = lexicon.load()
    counts: dict[str, Counter[str]] = {}
    missing: Counter[tuple[str, str, str]] = Counter()
    for path in paths:
        try:
            notes = list(markup.notes([path]))
        except DiaryError as error:
            print(f"left out: {error}")
            continue
        for _, note in notes:
            for kind, how, said in judged(note, book):
                counts.setdefault(kind, Counter())[how] += 1
                if how != "whole":
                    missing[kind, how, said] += 1
    if options.missing:
        for (kind, how, said), times in missing.most_common():
            if kind.startswith(options.missing):
                print(f"{times:3} {how:5} {kind:16} {said}")
        return
    print(f"{len(paths)} files\n{'kind':16} {'marked':>6} {'whole':>6} {'part':>6} {'none':>6}   known")
    for kind, count in sorted(counts.items()):
        total = sum(count.values())
        print(f"{kind:16} {total:6} {count['whole']:6} {count['part']:6} {count['none']:6}   {count['whole'] / total:.3f}")


if __name__ == "__main__":
    main()
