"""Number words and digits: the words of `data/numerals.toml`, and a text cut into tokens that carry them.

Every token gets one letter, so that runs of number words can be found and parsed over a string of letters.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

# One letter a token, so that runs of number words are found by regular expressions over a string of letters:
#   d one..nine   t ten..nineteen   y twenty..ninety   z zero   o "oh"   h hundred   k thousand and up
#   p point   & and   a a/an   f half/quarter/plural denominators   r ordinal first..nineteenth   R twentieth..
#   B hundredth, thousandth   x dozen, couple   S plural of a number word   2 second   s seconds
#   n integer in digits   D decimal in digits   F fraction in digits   O ordinal in digits   C clock in digits
#   m minus   + plus   u filler   - hyphen   , comma   . any other mark   w any other word
_TOKEN = re.compile(
    r"(?P<clock>\d{1,2}:\d{2}(?![\d:]))"
    r"|(?P<frac>(?<![/\d])\d{1,3}/\d+(?![/\d]))"
    r"|(?P<quad>\d+(?:\.\d+){2,})"
    r"|(?P<ord>\d+(?:st|nd|rd|th)\b)"
    r"|(?P<num>\d{1,3}(?: \d{3})+(?:[.,]\d)?(?= ?(?:km|kms|ks|mi|miles|h|hr|hrs|hours)\b)|(?:\d{1,3}(?:[,\u202f]\d{3})+(?!\d)|\d{1,2}(?:,\d{2})+,\d{3}(?!\d)|\d+)?\.\d+|\d{1,3}(?:[,\u202f]\d{3})+(?!\d)|\d{1,2}(?:,\d{2})+,\d{3}(?!\d)"
    r"|(?<![\d,])\d+,\d{1,2}(?![\d,])|\d+)(?P<exp>e[+-]?\d+(?![a-z\d])|x10\^-?\d+|\^[+-]*\d+)?"
    r"|(?P<vulgar>[½¼¾⅓⅔⅛⅜⅝⅞⅙⅚⅕⅖⅗⅘])"
    r"|(?P<word>[a-z]+(?:['’][a-z]+)*)"
    r"|(?P<mark>[^\s])"
)
_VULGAR = {
    "½": (1, 2), "¼": (1, 4), "¾": (3, 4), "⅓": (1, 3), "⅔": (2, 3), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8), "⅞": (7, 8),
    "⅙": (1, 6), "⅚": (5, 6), "⅕": (1, 5), "⅖": (2, 5), "⅗": (3, 5), "⅘": (4, 5),
}  # fmt: skip
SUFFIX = {"k": 10**3, "m": 10**6, "mm": 10**6, "mil": 10**6, "b": 10**9, "bn": 10**9, "g": 10**9}


@dataclass(slots=True)
class Lexicon:
    """The number words of `data/numerals.toml`, each with its letter and value."""

    words: dict[str, tuple[str, Any]] = field(default_factory=dict)
    misheard: dict[str, list[tuple[tuple[str, ...], str]]] = field(default_factory=dict)
    homophones: dict[str, int] = field(default_factory=dict)
    vague: frozenset[str] = frozenset()
    no_point_after: frozenset[str] = frozenset()
    pronoun_before: frozenset[str] = frozenset()
    pronoun_after: frozenset[str] = frozenset()
    determiners: frozenset[str] = frozenset()
    second_not_before: frozenset[str] = frozenset()
    dropped_point_after: frozenset[str] = frozenset()


def load_toml(name: str) -> dict[str, Any]:
    """A language data file of the package as a dictionary."""
    return tomllib.loads((files("diary.language") / "data" / name).read_text(encoding="utf-8"))


def _plural(word: str) -> str:
    if word.endswith("y"):
        return word[:-1] + "ies"
    return word + ("es" if word.endswith("x") else "s")


@cache
def lexicon() -> Lexicon:
    """The number words, read once."""
    raw = load_toml("numerals.toml")
    lex = Lexicon()
    words = lex.words
    for letter, table in (("d", "digits"), ("t", "teens"), ("y", "tens")):
        for word, value in raw[table].items():
            words[word] = (letter, value)
            words[_plural(word)] = ("S", (letter, value))
    for word, value in raw["scales"].items():
        words[word] = ("k", value)
    for letter, table in (("r", "ordinals"), ("R", "tens_ordinals"), ("B", "big_ordinals")):
        for word, value in raw[table].items():
            words[word] = (letter, value)
            words[_plural(word)] = ("f", value)
    for word, value in raw["denominators"].items():
        words[word] = ("f", value)
    words.pop("firsts", None)
    for word, value in raw["groups"].items():
        if isinstance(value, int):
            words[word] = ("x", value)
    for letter, key in (("z", "zero"), ("o", "oh"), ("h", "hundred"), ("p", "point"), ("&", "and"), ("a", "article"),
                        ("m", "minus"), ("+", "plus"), ("u", "fillers")):  # fmt: skip
        for word in raw[key]:
            words[word] = (letter, 100 if letter == "h" else 0)
    words["second"] = ("2", 2)
    words["seconds"] = ("s", 2)
    for slip, meant in raw["spellings"].items():
        if meant in words:
            words[slip] = words[meant]
    for entry in raw["misheard"]:
        heard = tuple(entry["heard"].split())
        lex.misheard.setdefault(heard[0], []).append((heard, entry["means"]))
    lex.homophones = dict(raw["homophones"])
    lex.vague = frozenset(raw["groups"]["vague"])
    lex.no_point_after = frozenset(raw["no_point_after"])
    lex.pronoun_before = frozenset(raw["pronoun_before"])
    lex.pronoun_after = frozenset(raw["pronoun_after"])
    lex.determiners = frozenset(raw["kinds"]["determiners"])
    lex.second_not_before = frozenset(raw["kinds"]["second_not_before"])
    lex.dropped_point_after = frozenset(raw["kinds"]["dropped_point_after"])
    return lex


@dataclass(slots=True)
class Scan:
    """A text cut into tokens: `words` lower case, `codes` one letter a token, `vals` the values, and their places."""

    text: str
    words: list[str]
    starts: list[int]
    ends: list[int]
    codes: str
    vals: list[Any]

    def glued(self, i: int) -> bool:
        """Whether token i touches the one before it."""
        return i > 0 and self.starts[i] == self.ends[i - 1]


def scan(text: str) -> Scan:
    """Cut `text` into tokens and give each its letter."""
    lex = lexicon()
    known = lex.words
    misheard = lex.misheard
    words: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    codes: list[str] = []
    vals: list[Any] = []
    lower = text.lower()
    if len(lower) != len(text):  # a few letters grow when lowered; places must stay those of the text
        lower = "".join(c.lower() if len(c.lower()) == 1 else c for c in text)
    heard_any = False
    for match in _TOKEN.finditer(lower):
        group = match.lastgroup
        token = match.group()
        if group == "word":
            code, val = known.get(token, ("w", None))
            if token in misheard:
                heard_any = True
        elif group == "mark":
            code, val = {"-": "-", "–": "-", "—": "-", ",": ",", "+": "+"}.get(token, "."), None
            if code == "-" and token != "-":
                code = "." if token == "—" else "-"
        else:
            for start, end, code, val in _literal(group or "", match):
                words.append(lower[start:end])
                starts.append(start)
                ends.append(end)
                codes.append(code)
                vals.append(val)
            continue
        words.append(token)
        starts.append(match.start())
        ends.append(match.end())
        codes.append(code)
        vals.append(val)
    if heard_any:
        _mend(lex, words, starts, ends, codes, vals)
    return Scan(text, words, starts, ends, "".join(codes), vals)


def _literal(group: str, match: re.Match[str]) -> list[tuple[int, int, str, Any]]:
    """Tokens of a number in digits."""
    start, end = match.span()
    token = match.group()
    if group == "clock":
        hours, minutes = token.split(":")
        return [(start, end, "C", int(hours) + int(minutes) / 60)]
    if group == "frac":
        top, bottom = (int(part) for part in token.split("/"))
        return [(start, end, "F" if bottom else "w", top / bottom if bottom else None)]
    if group == "vulgar":
        top, bottom = _VULGAR[token]
        return [(start, end, "F", top / bottom)]
    if group == "ord":
        return [(start, end, "O", int(token[:-2]))]
    if group == "quad":
        out = []
        for part in re.finditer(r"\d+", token):
            out.append((start + part.start(), start + part.end(), "n", part.group()))
        return out
    body, exponent = match.group("num").replace("\u202f", "").replace(" ", ""), match.group("exp")
    if "." in body:
        plain = body.replace(",", "")
    elif re.fullmatch(r"\d+,\d{1,2}", body):  # a decimal comma
        plain = body.replace(",", ".")
    else:
        plain = body.replace(",", "")
    if exponent:
        return [(start, end, "D", _power(float(plain), exponent))]
    return [(start, end, "D" if "." in plain else "n", plain)]


def _power(base: float, exponent: str) -> str:
    try:
        if exponent[0] == "e":
            return repr(base * 10.0 ** int(exponent[1:]))
        if exponent[0] == "x":
            return repr(base * 10.0 ** int(exponent[4:]))
        sign = -1 if exponent.count("-") % 2 else 1
        return repr(base ** (sign * int(re.sub(r"\D", "", exponent))))
    except (OverflowError, ZeroDivisionError):
        return repr(base)


def _mend(
    lex: Lexicon, words: list[str], starts: list[int], ends: list[int], codes: list[str], vals: list[Any]
) -> None:
    """Join words that a recogniser tore apart ("for teen" is fourteen), in place."""
    i = 0
    while i < len(words):
        for heard, means in lex.misheard.get(words[i], ()):
            n = len(heard)
            if tuple(words[i : i + n]) == heard:
                words[i : i + n] = [means]
                starts[i : i + n] = [starts[i]]
                ends[i : i + n] = [ends[i + n - 1]]
                code, val = lex.words[means]
                codes[i : i + n] = [code]
                vals[i : i + n] = [val]
                break
        i += 1
