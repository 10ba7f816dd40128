"""The words of the trade, found in a text.

The words are data (`data/lexicon/*.toml`, `data/cues.toml`; the syntax is explained at the top of each file). A
person adds words of their own in a file that is given to `load`. Look-up is a walk over a trie of folded stems, so that
plural, possessive, hyphen, UK and US spelling all find the same entry, in time linear in the text.

Kinds of hits, by layer. Inside a layer the longest phrase wins and hits do not overlap; layers do overlap: in "front
output seal" lies both a component and the place "front".

====== =========== =====================================================================================================
layer  kind        `data` (besides `entry`, the canonical name, always equal to `name`)
====== =========== =====================================================================================================
thing  component   `system` ("brakes"), `path` (the system and those above it), `safety` (bool)
thing  fastener    `system` (may be None), `safety`: "lug nut", "pinch bolt"
thing  consumable  `system`, `class`: fluid, fuel, gas, grease, threadlocker, sealant, cleaner, hardware ...
thing  tool        `class` tool: "torque wrench"; never a part of the machine
thing  machine     `class` vehicle: "truck", "bike": a whole machine
thing  meter       `class` odometer, trip, hours, gauge: the instrument that is read
thing  place_of    `class` business, road, home: shops, pumps, forums; somewhere that is no part of the machine
place  place       `axis` corner, side, end, height, depth, order, row, number: "left front", "rear bank", "number two
                   cylinder"; `folded` is the plain form ("near side" is "nearside")
action action      `class`, the canonical past (see data/lexicon/actions.toml), `verb`, `tense` base, s, past, ing;
                   `particle`: (start, end) of a particle that stands apart ("took the drum *off*") or None
sympt. symptom     `class` leak, noise, vibration, handling, heat, smell, electrical, wear, loose, damage, stuck,
                   performance, level, dead, visible, general; `tense` of a verb; `noun` True where it is a thing
state  healthy     nothing wrong: "dry", "fine", "tight", "holds"; `strong` True where said outright ("dry as a bone")
person person      `class` kin, friend, stranger, trade: "brother in law"; `owner` True for a possessive ("my buddys")
else-  elsewhere   `class` house, room, body, creature, food, pastime ...: no part of any machine (elsewhere.py tells when a clause
where              is about it)
cue    cue         `class`, one of the cue classes of data/cues.toml; `name` is the phrase as listed there
====== =========== =====================================================================================================

Cues alone may lie inside one another, one for each class at each word. A base form counts as an action only where a
verb can stand.

Cue classes (data/cues.toml says what each means): negation, hypothesis, suspicion, plan, obligation, question,
retraction, document (a book, sticker or sheet says), hearsay (people say), should (a target), fixed, back, ruled_out,
waiting, cause, lesson, needed, ordered, bought, arrived, fitted, spare, price, fill, brim, partial, reset, approx,
topic, own_machine, other_machine, shot, discourse.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.language.text import DATA, key, stem, tokens, verb_forms
from diary.language.types import Hit, Token

FOLDER = DATA / "lexicon"
LAYERS = ("thing", "place", "action", "symptom", "state", "person", "elsewhere", "cue")
_LAYER_OF = {
    "component": "thing",
    "fastener": "thing",
    "consumable": "thing",
    "tool": "thing",
    "machine": "thing",
    "meter": "thing",
    "place_of": "thing",
    "place": "place",
    "action": "action",
    "symptom": "symptom",
    "healthy": "state",
    "person": "person",
    "elsewhere": "elsewhere",
    "cue": "cue",
}
_END = ""  # the key of a trie node under which the forms that end there stand
_BREAK = re.compile(r"[,;:!?&+()\[\]\"“”\n]|\.(?:\s|$)")  # punctuation that no phrase runs across
_REACH = 9  # how many words may stand between a verb and its particle ("took the whole left front corner off")


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing, place, action, symptom or cue that the lexicon knows, whatever it is called."""

    name: str
    kind: str
    data: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Form:
    """One spoken form of an entry. `entry` is None for a figure of speech that hides its words from the layer."""

    entry: Entry | None
    data: Mapping[str, Any]
    gap: tuple[str, ...] = ()  # stems of a particle that may stand further on


class Lexicon:
    """Every entry, and a trie a layer to find them with. Make one with `load`."""

    def __init__(self) -> None:
        self.entries: dict[tuple[str, str], Entry] = {}
        self.systems: dict[str, dict[str, Any]] = {}
        self.heads: frozenset[str] = frozenset()
        self.grammar: dict[str, frozenset[str]] = {}
        self._tries: dict[str, dict[str, Any]] = {layer: {} for layer in LAYERS}

    # ---- looking up -------------------------------------------------------------------------------------------------

    def entry(self, name: str) -> Entry | None:
        """The entry of that canonical or spoken name, whatever its kind; None if there is none."""
        for kind in _LAYER_OF:
            if found := self.entries.get((kind, name)):
                return found
        wanted = key(name)
        for layer in LAYERS:
            node = self._tries[layer]
            for word in wanted:
                node = node.get(word, {})
            for form in node.get(_END, ()):
                entry: Entry | None = form.entry
                if entry is not None and not form.gap:
                    return entry
        return None

    def names(self, kind: str) -> list[str]:
        """Canonical names of all entries of a kind, in file order."""
        return [name for (k, name) in self.entries if k == kind]

    def vocabulary(self) -> frozenset[str]:
        """Every single word, as its stem, that an entry of any kind is spoken with."""
        found: set[str] = set()
        nodes = list(self._tries.values())
        while nodes:
            node = nodes.pop()
            for word, following in node.items():
                if word != _END:
                    found.add(word)
                    nodes.append(following)
        return frozenset(found.union(*self.grammar.values()))

    def path(self, system: str | None) -> tuple[str, ...]:
        """The system and those above it: ("fuel", "engine")."""
        found: list[str] = []
        while system and system not in found:
            found.append(system)
            system = self.systems.get(system, {}).get("parent")
        return tuple(found)

    def safety(self, system: str | None) -> bool:
        """True where the system, or one above it, is one whose failure can hurt somebody."""
        return any(self.systems.get(s, {}).get("safety", False) for s in self.path(system))

    def find(self, text: str, words: list[Token] | None = None) -> list[Hit]:
        """Every hit in `text`, ordered by start, the longer first. `words` are its tokens if they are known already."""
        words = tokens(text) if words is None else words
        stems = [stem(word.lower) for word in words]
        breaks = [bool(_BREAK.search(text[a.end : b.start])) for a, b in itertools.pairwise(words)] + [True]
        hits: list[Hit] = []
        for layer in LAYERS[:-1]:
            found = self._walk(self._tries[layer], words, stems, breaks)
            hits.extend(found if layer != "action" else self._deeds(found, words))
        hits.extend(self._cues(words, stems, breaks))
        hits.sort(key=lambda hit: (hit.start, -hit.end))
        return hits

    def _deeds(self, found: Iterable[Hit], words: list[Token]) -> Iterator[Hit]:
        """Actions, without the nouns that look like one: "seal" is a deed in "seal the lid", "to seal it", not in
        "the seal"."""
        starts = [word.start for word in words]
        for hit in found:
            if hit.data.get("tense") in ("base", "s"):
                at = bisect_left(starts, hit.start)
                after = bisect_left(starts, hit.end)
                before = words[at - 1].lower if at else ""
                following = words[after].lower if after < len(words) else ""
                if before not in self.grammar["before_base"] and following not in self.grammar["after_base"]:
                    continue
            yield hit

    def _cues(self, words: list[Token], stems: list[str], breaks: list[bool]) -> Iterator[Hit]:
        """The longest phrase of each class at each word; cues may lie inside one another ("did not fix it" holds
        "not")."""
        for at in range(len(words)):
            node, i = self._tries["cue"], at
            best: dict[str, tuple[_Form, int]] = {}
            while (following := node.get(stems[i])) is not None:
                node = following
                best.update({form.data["class"]: (form, i) for form in node.get(_END, ())})
                if breaks[i]:
                    break
                i += 1
            for form, end in best.values():
                yield _hit(form, words, at, end, None)

    def _walk(self, trie: dict[str, Any], words: list[Token], stems: list[str], breaks: list[bool]) -> Iterator[Hit]:
        at = 0
        while at < len(words):
            node, end, i = trie, at, at
            best: tuple[_Form, tuple[int, int] | None] | None = None
            while (following := node.get(stems[i])) is not None:
                node = following
                if _END in node and (fitting := self._fits(node[_END], words, stems, breaks, at, i)):
                    best, end = fitting, i
                if breaks[i]:
                    break
                i += 1
            if best is None:
                at += 1
                continue
            form, particle = best
            if form.entry is not None:
                yield _hit(form, words, at, end, particle)
            at = end + 1

    def _fits(
        self, forms: Iterable[_Form], words: list[Token], stems: list[str], breaks: list[bool], at: int, end: int
    ) -> tuple[_Form, tuple[int, int] | None] | None:
        """The first of the forms that holds here; a form whose particle stands apart comes before a plain one."""
        plain = None
        for form in forms:
            if form.gap:
                if where := self._particle(form.gap, words, stems, breaks, end):
                    return form, where
            elif plain is None:
                plain = form
        return (plain, None) if plain else None

    def _particle(
        self, gap: tuple[str, ...], words: list[Token], stems: list[str], breaks: list[bool], end: int
    ) -> tuple[int, int] | None:
        stops = self.grammar.get("gap_stops", frozenset())
        for i in range(end + 1, min(len(words), end + 1 + _REACH)):
            if breaks[i - 1] or (words[i].lower in stops and stems[i] != gap[0]):
                return None
            if tuple(stems[i : i + len(gap)]) == gap:
                return words[i].start, words[i + len(gap) - 1].end
        return None

    # ---- filling ----------------------------------------------------------------------------------------------------

    def add(self, kind: str, name: str, spoken: Iterable[str], data: Mapping[str, Any] | None = None) -> Entry:
        """Add an entry with its spoken forms (see `expand`); the name is one of them. An entry known already gains
        forms."""
        facts = dict(data or {})
        if "system" in facts:
            facts.setdefault("safety", self.safety(facts["system"]))
            facts.setdefault("path", self.path(facts["system"]))
        facts["entry"] = name
        entry = self.entries.setdefault((kind, name), Entry(name, kind, facts))
        for pattern in [name, *spoken]:
            for form in expand(pattern):
                self._put(_LAYER_OF[kind], form, _Form(entry, {}))
        return entry

    def add_verb(self, kind: str, name: str, pattern: str, data: Mapping[str, Any]) -> None:
        """Add every form of a verb; "take ... off" is a verb whose particle may stand apart (and may not: "took off
        the drum")."""
        entry = self.entries.setdefault((kind, name), Entry(name, kind, {**data, "entry": name}))
        base, _, particle = (part.strip() for part in pattern.partition("..."))
        for form, tense in verb_forms(base).items():
            if tense == "s" and key(form) == key(base):
                continue  # the stem is one; `_hit` tells them apart
            facts = {"verb": pattern.replace("... ", ""), "tense": tense, "particle": None}
            gap = key(particle)
            self._put(_LAYER_OF[kind], form, _Form(entry, facts, gap))
            if gap:
                self._put(_LAYER_OF[kind], f"{form} {particle}", _Form(entry, facts))

    def hide(self, layer: str, phrase: str) -> None:
        """Make a figure of speech ("dead center") hide its words from a layer."""
        for form in expand(phrase):
            self._put(layer, form, _Form(None, {}))

    def _put(self, layer: str, spoken: str, form: _Form) -> None:
        node = self._tries[layer]
        for word in key(spoken):
            node = node.setdefault(word, {})
        known: list[_Form] = node.setdefault(_END, [])
        if not any(
            k.entry is form.entry and k.gap == form.gap and k.data.get("class") == form.data.get("class") for k in known
        ):
            known.append(form)


def _hit(form: _Form, words: list[Token], at: int, end: int, particle: tuple[int, int] | None) -> Hit:
    entry = form.entry
    assert entry is not None
    data = {**entry.data, **form.data}
    if particle:
        data["particle"] = particle
    if data.get("tense") == "base" and words[at].lower.endswith("s") and not str(data["verb"]).split()[0].endswith("s"):
        data["tense"] = "s"
    if entry.kind == "person":
        data["owner"] = words[end].text.rstrip("'’").lower() != stem(words[end].lower) or words[end].text.endswith(
            ("'", "’")
        )
    return Hit(entry.kind, entry.name, words[at].start, words[end].end, data)


def expand(pattern: str) -> list[str]:
    """Every phrase that a pattern of the data files stands for.

    `head~light` joined or apart; `(brake) caliper` a word that may be missing; `[left|right] hand` one of several.
    """
    if found := re.search(r"\[([^\]]*)\]", pattern):
        before, after = pattern[: found.start()], pattern[found.end() :]
        return [p for option in found.group(1).split("|") for p in expand(before + option + after)]
    if found := re.search(r"\(([^)]*)\)", pattern):
        before, after = pattern[: found.start()], pattern[found.end() :]
        return expand(before + found.group(1) + after) + expand(" ".join((before + after).split()))
    if "~" in pattern:
        before, _, after = pattern.partition("~")
        return expand(before + " " + after) + expand(before + after)
    return [pattern]


# ---- reading the data files -----------------------------------------------------------------------------------------


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise DiaryError(f"There is no words file at {path}; check the path or leave the option out.") from None
    except UnicodeDecodeError:
        raise DiaryError(f"The words file {path} is not UTF-8 text; save it as UTF-8.") from None
    except tomllib.TOMLDecodeError as error:
        raise DiaryError(f"The words file {path} is not valid TOML: {error}. Correct that line.") from None


def _things(lexicon: Lexicon, raw: dict[str, Any]) -> None:
    kind = raw.pop("kind")
    for group, entries in raw.items():
        for name, spoken in entries.items():
            facts: dict[str, Any] = {}
            if isinstance(spoken, dict):
                facts, spoken = {k: v for k, v in spoken.items() if k != "spoken"}, spoken.get("spoken", [])
            if kind == "component":
                facts["system"] = None if group == "any" else group
            else:
                facts.setdefault("class", group)
                facts.setdefault("system", None)
            if kind == "place":
                facts = {"axis": group, "folded": name}
            lexicon.add(kind, name, spoken, facts)


def _verbs(lexicon: Lexicon, raw: dict[str, Any]) -> None:
    kind = raw.pop("kind")
    for name, facts in raw.items():
        data = {k: v for k, v in facts.items() if k not in ("verbs", "words", "nouns", "past")}
        data.setdefault("class", name)
        for verb in facts.get("verbs", []):
            lexicon.add_verb(kind, name, verb, data)
        entry = lexicon.entries.setdefault((kind, name), Entry(name, kind, {**data, "entry": name}))
        for words, extra in (("words", {}), ("nouns", {"noun": True}), ("past", {"tense": "past", "particle": None})):
            for pattern in facts.get(words, []):
                for form in expand(pattern):
                    more = {"verb": form, **extra} if words == "past" else extra
                    lexicon._put(_LAYER_OF[kind], form, _Form(entry, more))


def _cues(lexicon: Lexicon, raw: dict[str, Any]) -> None:
    for name, words in raw.pop("hide").items():
        for phrase in words:
            lexicon.hide(name, phrase)
    for name, facts in raw["cue"].items():
        for pattern in facts["phrases"]:
            for form in expand(pattern):
                entry = lexicon.entries.setdefault(("cue", form), Entry(form, "cue", {"class": name, "entry": form}))
                lexicon._put("cue", form, _Form(entry, {"class": name}))


def _extra(lexicon: Lexicon, path: Path) -> None:
    words = _read(path).get("word", [])
    if not isinstance(words, list):
        raise DiaryError(f"The words file {path} needs each word under a line [[word]].")
    for number, word in enumerate(words, start=1):
        name, kind = word.get("name"), word.get("kind", "component")
        if not isinstance(name, str) or not name.strip():
            raise DiaryError(f'Word number {number} in {path} has no name; add a line like name = "winch rope".')
        if kind not in _LAYER_OF or kind in ("action", "cue", "person"):
            raise DiaryError(
                f'"{name}" in {path} has the unknown kind "{kind}"; '
                "use component, fastener, consumable, tool, place or symptom."
            )
        spoken = word.get("spoken", [])
        if not isinstance(spoken, list) or not all(isinstance(form, str) for form in spoken):
            raise DiaryError(f'"{name}" in {path} needs its spoken forms as a list: spoken = ["one form", "another"].')
        system = word.get("system")
        if system is not None and system not in lexicon.systems:
            known = ", ".join(sorted(lexicon.systems))
            raise DiaryError(f'"{name}" in {path} names the unknown system "{system}"; use one of: {known}.')
        facts = {k: v for k, v in word.items() if k not in ("name", "kind", "spoken")} | {"system": system}
        lexicon.add(kind, name, spoken, facts)


_own_words: Path | None = None


def use_words(path: Path | None) -> None:
    """From now on `load()` gives the lexicon with a person's own words file (None: without)."""
    global _own_words
    _own_words = path
    load()  # a mistake in the file is told now


def load(extra: Path | None = None) -> Lexicon:
    """The lexicon of the project, with the words of a person's own file if one is given here or by `use_words` (`[[word]]`
    tables with `name`, and optionally `kind`, `system`, `spoken`). Read once a process.

    Raises DiaryError with what is wrong in that file.
    """
    return _load(extra or _own_words)


@cache
def _load(extra: Path | None) -> Lexicon:
    lexicon = Lexicon()
    raw_systems = _read(FOLDER / "systems.toml")
    lexicon.systems = raw_systems
    if extra is not None:
        _extra(lexicon, extra)  # first, so that a person's own meaning of a word goes before ours
    for path in sorted(FOLDER.glob("*.toml")):
        if path.stem in ("systems", "mishearings", "heads"):
            continue
        raw = _read(path)
        (_verbs if raw["kind"] in ("action", "symptom", "healthy") else _things)(lexicon, raw)
    for name, facts in raw_systems.items():
        lexicon.add("component", facts.get("name", name), facts.get("spoken", []), {"system": name, "whole": True})
    lexicon.heads = frozenset(stem(w) for w in _read(FOLDER / "heads.toml")["heads"])
    lexicon.grammar = {name: frozenset(words) for name, words in _read(DATA / "grammar.toml").items()}
    _cues(lexicon, _read(DATA / "cues.toml"))
    return lexicon
