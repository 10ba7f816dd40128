"""A question in anyone's words to a `Query`: what family it belongs to, what it is about, and which window it looks at.

The grammar is data (data/questions.toml). A question is scored against every family by the phrases it holds; nothing is
matched as a whole sentence. What remains after the family's phrases, the window and empty words is what is asked about.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from math import exp

from diary.assistant import windows
from diary.assistant.windows import Window
from diary.assistant.words import is_stop, stem, table, words

SURE = 0.38  # the least share of a learned reading at which it is taken without asking
UNDERSTOOD = 2.0  # the least score at which a question counts as understood
HEARD = 0.5  # the least share of known words at which a learned reading is taken
CLEAR = 1.5  # a reading of the grammar that is ahead by so much is told to the learned reading as clear
RULED_OUT = 0.1  # what a family's likelihood is worth where a phrase speaks against it
TRUST = 0.2  # how much a point of the grammar's score adds to the learned log likelihood


@dataclass(frozen=True, slots=True)
class Query:
    """A question understood. `about` holds the content words asked about, `stems` their stems, `aspects` the extra
    facts asked
    for ("best", "target" ...). `score` is the family's; `others` the next likeliest families with theirs."""

    family: str
    text: str
    about: tuple[str, ...] = ()
    stems: tuple[str, ...] = ()
    window: Window = field(default_factory=Window)
    aspects: frozenset[str] = frozenset()
    score: float = 0.0
    others: tuple[tuple[str, float], ...] = ()
    follow: bool = False  # speaks of what was last talked of ("and the one before")
    all_words: tuple[str, ...] = ()

    @property
    def follow_words(self) -> bool:
        """Whether it begins like something that goes on from a question before ("what about", "and")."""
        text = " ".join(self.all_words[:4])
        return any(text.startswith(p) or text.startswith(f"so {p}") for p in table("turns")["follow_first"])

    @property
    def beside_window(self) -> tuple[str, ...]:
        """The question's words without those of its window."""
        return tuple(w for i, w in enumerate(self.all_words) if i not in self.window.used)

    @property
    def understood(self) -> bool:
        return self.score >= UNDERSTOOD

    @property
    def named(self) -> str:
        """What is asked about, in the asker's words."""
        return " ".join(self.about)


@dataclass(frozen=True, slots=True)
class _Slot:
    """One place of a phrase: the word sequences that fit it. `any` fits every word; an optional one may be left out."""

    choices: tuple[tuple[str, ...], ...]
    any: bool = False
    optional: bool = False


@dataclass(frozen=True, slots=True)
class _Phrase:
    slots: tuple[_Slot, ...]
    start: bool  # only at the start of the question
    end: bool = False  # only at its end


def _compile(phrase: str) -> _Phrase:
    """A phrase of the data file, ready to be matched."""
    classes: dict[str, list[str]] = table("questions")["classes"]
    slots: list[_Slot] = []
    for token in re.findall(r"\([^)]*\)\??|\S+", phrase.strip("^$")):
        optional = token.endswith("?")
        token = token.rstrip("?")
        if token == "_":
            slots.append(_Slot((), True, optional))
            continue
        choices = token[1:-1].split("|") if token[0] == "(" else classes[token[1:]] if token[0] == "@" else [token]
        slots.append(_Slot(tuple(tuple(c.split()) for c in choices), False, optional))
    return _Phrase(tuple(slots), phrase.startswith("^"), phrase.endswith("$"))


def _fit(tokens: Sequence[str], i: int, slots: tuple[_Slot, ...], k: int = 0) -> tuple[int, tuple[int, ...]] | None:
    """Where the phrase's slots from `k` on end when they begin at word `i`, and the places of their own words; None:
    no fit."""
    if k == len(slots):
        return i, ()
    slot = slots[k]
    if slot.any:
        for skip in (0, 1) if slot.optional else (1,):
            if i + skip <= len(tokens) and (rest := _fit(tokens, i + skip, slots, k + 1)) is not None:
                return rest
        return None
    for choice in slot.choices:
        n = len(choice)
        if tuple(tokens[i : i + n]) == choice and (rest := _fit(tokens, i + n, slots, k + 1)) is not None:
            return rest[0], (*range(i, i + n), *rest[1])
    return _fit(tokens, i, slots, k + 1) if slot.optional else None


@dataclass(slots=True)
class _Family:
    name: str
    gist: str
    weight: float
    groups: int
    forward: bool
    inside: bool  # its phrases may stand in the clause of a window ("before i run out")
    keep: frozenset[str]
    no_window: frozenset[str]


@cache
def _grammar() -> tuple[dict[str, _Family], dict[str, list[tuple[_Phrase, str, str]]]]:
    """The families, and their phrases by first word as (phrase, family, role); role is "0".."9" (a needed group),
    "helps", "not"
    or "aspect:NAME"."""
    families: dict[str, _Family] = {}
    index: dict[str, list[tuple[_Phrase, str, str]]] = defaultdict(list)
    always: list[str] = table("questions")["keep"]
    for row in table("questions")["family"]:
        name = row["name"]
        keep = frozenset([*always, *(w for p in row.get("keep", []) for w in p.split())])
        families[name] = _Family(
            name,
            row["gist"],
            float(row.get("weight", 1)),
            len(row["needs"]),
            bool(row.get("forward")),
            bool(row.get("inside")),
            keep,
            frozenset(row.get("no_window", [])),
        )
        roles: list[tuple[str, str]] = [(p, str(i)) for i, group in enumerate(row["needs"]) for p in group]
        roles += [(p, "helps") for p in row.get("helps", [])] + [(p, "not") for p in row.get("not", [])]
        roles += [(p, f"aspect:{a[0]}") for a in row.get("aspect", []) for p in a[1:]]
        for text, role in roles:
            phrase = _compile(text)
            for slot in phrase.slots:
                for first in {c[0] for c in slot.choices}:
                    index[first].append((phrase, name, role))
                if not slot.optional:
                    break
    return families, index


@cache
def vocabulary() -> frozenset[str]:
    """Every word that the grammar of questions knows: phrases, windows, examples, words without content."""
    from diary.assistant.turns import number_words

    known = {c for slots in _phrases() for slot in slots for choice in slot.choices for c in choice}
    for name in ("windows", "words", "answers", "turns"):
        known |= _strings(table(name))
    for unit in _units():
        known |= _strings(unit)
    for text in table("examples").values():
        known |= {w.text for w in words(text)}
    return frozenset(known | number_words())


def _units() -> list[dict[str, object]]:
    """The units as they are written and spoken (the language room's data)."""
    import tomllib

    from diary.language.text import DATA

    rows: list[dict[str, object]] = tomllib.loads((DATA / "units.toml").read_text(encoding="utf-8"))["unit"]
    return rows


def _phrases() -> list[tuple[_Slot, ...]]:
    return [phrase.slots for rows in _grammar()[1].values() for phrase, _, _ in rows]


def _strings(data: object) -> set[str]:
    """The words of a data table, keys and values, however deep."""
    if isinstance(data, str):
        return {w.text for w in words(data)}
    if isinstance(data, dict):
        return {w for k, v in data.items() for w in _strings(k) | _strings(v)}
    if isinstance(data, list):
        return {w for v in data for w in _strings(v)}
    return set()


def families() -> dict[str, str]:
    """Every family's name and its gist."""
    return {f.name: f.gist for f in _grammar()[0].values()}


@dataclass(slots=True)
class _Score:
    """What of a family's phrases a question holds: the longest of every needed group, the places they cover."""

    needed: dict[str, tuple[float, frozenset[int]]] = field(default_factory=dict)
    helped: dict[tuple[str, ...], float] = field(default_factory=dict)
    aspects: set[str] = field(default_factory=set)
    aspect_places: set[int] = field(default_factory=set)
    cover: set[int] = field(default_factory=set)
    ruled_out: bool = False


@cache
def _openers() -> frozenset[str]:
    return frozenset(table("turns")["openers"])


def _lead(tokens: Sequence[str]) -> int:
    """How many words of politeness stand before the question proper ("so", "hey", "and", "okay")."""
    i = 0
    while i < len(tokens) - 1 and tokens[i] in _openers():
        i += 1
    return i


def score(tokens: Sequence[str], hidden: frozenset[int] = frozenset()) -> dict[str, _Score]:
    """The families' scores for a question's words; phrases that lie wholly in `hidden` places (a window's clause) do
    not count."""
    known, index = _grammar()
    out: dict[str, _Score] = defaultdict(_Score)
    lead = _lead(tokens)
    for i, token in enumerate(tokens):
        for phrase, family, role in index.get(token, ()):
            if phrase.start and i > lead:
                continue
            fit = _fit(tokens, i, phrase.slots)
            if fit is None or not fit[1] or (phrase.end and fit[0] != len(tokens)):
                continue
            own = frozenset(fit[1])
            s = out[family]
            if role == "not":
                s.ruled_out = s.ruled_out or not own <= hidden
                continue
            if own <= hidden and role.isdigit() and not known[family].inside:
                continue  # what stands in the window's own clause does not tell what is asked
            size = float(len(own)) * (0.2 if own <= hidden else 1.0)
            if role.startswith("aspect:"):
                s.aspects.add(role[7:])
                s.aspect_places |= own
                continue
            s.cover |= own
            if role == "helps":
                s.helped[tuple(tokens[k] for k in fit[1])] = size / 2
            elif role not in s.needed or size > s.needed[role][0]:
                s.needed[role] = (size, own)
    return out


def understand(
    text: str, now: date, forward: bool | None = None, month_first: bool = False, family: str | None = None
) -> Query:
    """The likeliest reading of a question (that of `family` where it is given), with the runners-up. `month_first`: "9/11" is
    September 11 (US), not 9 November."""
    found = words(text)
    tokens = windows.dated([w.text for w in found], now, month_first)
    breaks = frozenset(
        k for k in range(1, len(found)) if re.search(r"[,;.?!]", text[found[k - 1].end : found[k].start])
    )
    rough = windows.find(tokens, now, False, breaks)
    scores = score(tokens, _hidden(rough))
    known, _ = _grammar()
    ranked = _ranked(scores, rough, _grammar_order(scores, rough), tokens)
    if family is not None:
        share = next((v for v, n in ranked if n == family), 0.0)
        ranked = [(UNDERSTOOD + share % UNDERSTOOD, family), *((v % UNDERSTOOD, n) for v, n in ranked if n != family)]
    if not ranked or ranked[0][0] < UNDERSTOOD:
        about = tuple(t for i, t in enumerate(tokens) if not is_stop(t) and i not in rough.used)
        return Query(
            "",
            text,
            about,
            tuple(stem(a) for a in about),
            rough,
            score=0.0,
            others=tuple((n, v) for v, n in ranked[:3]),
            follow=_follows(tokens),
            all_words=tuple(tokens),
        )
    best, name = ranked[0]
    kind, s = known[name], scores[name]
    ahead = kind.forward if forward is None else forward
    window = windows.find(tokens, now, True, breaks) if ahead else rough
    covered = {i for i in s.cover if tokens[i] not in kind.keep} | (
        s.aspect_places - {i for i in s.aspect_places if tokens[i] in kind.keep}
    )
    if name in ("check_before", "range") and window.kind == "before":
        window = Window() if not (window.first and window.first.day) else window
    lead = _lead(tokens)
    about = tuple(
        t
        for i, t in enumerate(tokens)
        if i not in window.used
        and i not in rough.used
        and i not in covered
        and (not is_stop(t) or t.isdigit())
        and i >= lead
    )
    return Query(
        name,
        text,
        about,
        tuple(stem(a) for a in about),
        window,
        frozenset(s.aspects),
        best,
        tuple((n, v) for v, n in ranked[1:4]),
        _follows(tokens),
        tuple(tokens),
    )


def _hidden(window: Window) -> frozenset[int]:
    """The words of a window's own clause, which do not tell what is asked."""
    whole = window.kind in ("since", "before", "at", "between", "around", "tank_with")
    return window.used if whole else frozenset()


def _grammar_order(scores: dict[str, _Score], window: Window) -> list[tuple[float, str]]:
    """The families that the grammar reads, by score, best first."""
    known, _ = _grammar()
    ranked: list[tuple[float, str]] = []
    for name, s in scores.items():
        family = known[name]
        if s.ruled_out or len(s.needed) < family.groups or window.kind in family.no_window:
            continue
        ranked.append((family.weight + sum(v for v, _ in s.needed.values()) + min(sum(s.helped.values()), 3.0), name))
    return sorted(ranked, key=lambda r: -r[0])


def tokens_of(text: str, now: date) -> list[str]:
    """The words of a question as the grammar sees them."""
    return windows.dated([w.text for w in words(text)], now, False)


def marks(tokens: Sequence[str], now: date) -> list[str]:
    """What the grammar makes of a question, as features of the learned reading (`guess.features`)."""
    rough = windows.find(tokens, now, False, frozenset())
    scores = score(tokens, _hidden(rough))
    return _marks(scores, rough, _grammar_order(scores, rough))


def _marks(scores: dict[str, _Score], window: Window, order: Sequence[tuple[float, str]]) -> list[str]:
    out = [f"window={window.kind}"]
    read = {name for _, name in order}
    for name, s in sorted(scores.items()):
        if s.ruled_out:
            out.append(f"not={name}")
        elif name in read:
            out.append(f"fits={name}")
        elif s.needed:
            out.append(f"half={name}")
    if order:
        out.append(f"first={order[0][1]}")
        if len(order) == 1 or order[0][0] >= order[1][0] + CLEAR:
            out.append(f"clear={order[0][1]}")
    return out


def _ranked(
    scores: dict[str, _Score], window: Window, order: list[tuple[float, str]], tokens: Sequence[str]
) -> list[tuple[float, str]]:
    """The likeliest families with `UNDERSTOOD` and their share added where they count as understood, else the bare share."""
    from diary.assistant.guess import guess, heard_of

    known, _ = _grammar()
    sure = SURE if heard_of(tokens) >= HEARD else 1.0
    read = dict((name, v) for v, name in order)
    shares: list[tuple[float, str]] = []
    for name, likely in guess(tokens, _marks(scores, window, order)):
        s = scores.get(name)
        if name not in known or window.kind in known[name].no_window:
            continue
        if s is not None and s.ruled_out:
            likely *= RULED_OUT
        if name in read:
            likely *= exp(TRUST * (min(read[name], 9.0) - UNDERSTOOD))
        shares.append((likely, name))
    total = sum(v for v, _ in shares) or 1.0
    shares = sorted(((v / total, n) for v, n in shares), reverse=True)[:5]
    return [(UNDERSTOOD + v if i == 0 and (v >= sure or n in read) else v, n) for i, (v, n) in enumerate(shares)]


def _follows(tokens: Sequence[str]) -> bool:
    """Whether the words lean on what was said before."""
    lead = _lead(tokens)
    return bool(tokens) and (
        tokens[0] in ("and", "then") or (lead < len(tokens) and any(t in table("turns")["pronouns"] for t in tokens))
    )


def closest(text: str, now: date, n: int = 2) -> list[tuple[str, str]]:
    """The `n` nearest families as (name, gist), for a question that was not understood."""
    query = understand(text, now)
    names = ([query.family] if query.family else []) + [f for f, _ in query.others]
    tokens = {w.text for w in words(text)}
    if len(names) < n:
        rows = sorted(
            table("questions")["family"],
            key=lambda r: -len(tokens & {w for p in r.get("helps", []) for w in p.split()}),
        )
        names += [r["name"] for r in rows if r["name"] not in names]
    gists = families()
    return [(name, gists[name]) for name in names[:n]]
