"""Text to words: tokens with character positions, spellings folded for comparing, stems and verb forms.

Nothing here changes what a person said; folding serves comparison only. The spelling facts are in `data/spelling.toml`.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache, lru_cache
from pathlib import Path

from diary.language.types import Token

DATA = Path(__file__).parent / "data"

# An ordinal, "4x4" and "4wd", a number with its inner marks, a word with inner apostrophes, or a sign that carries
# meaning.
_TOKEN = re.compile(
    r"\d+(?:st|nd|rd|th)\b"
    r"|\d+x\d+\b|\d+wd\b"
    r"|\d+(?:[.,:/]\d+)*"
    r"|[^\W\d_](?:[^\W_])*(?:['’][^\W\d_]+)*['’]?"
    r"|[$€£¥%°#½¼¾⅓⅔⅛⅜⅝⅞]",
    re.IGNORECASE,
)


@cache
def spelling() -> dict[str, dict[str, str]]:
    """The tables of `data/spelling.toml`; `keep` comes as a table of words mapped to themselves."""
    raw = tomllib.loads((DATA / "spelling.toml").read_text(encoding="utf-8"))
    return {
        "fold": raw["fold"],
        "irregular": raw["irregular"],
        "verbs": raw["verbs"],
        "keep": {word: word for word in raw["keep"]},
    }


def tokens(text: str) -> list[Token]:
    """The words, numbers and meaningful signs of `text`, in order.

    Hyphens and other punctuation separate and are not tokens ("U-joint" is "U", "joint"); a unit written onto its
    number is a token of its own ("41.2L" is "41.2", "L"). `lower` is the lower-case word with straight apostrophes.
    """
    found = []
    for match in _TOKEN.finditer(text):
        word = match.group()
        found.append(Token(word, word.lower().replace("’", "'").rstrip("'"), match.start(), match.end()))
    return found


@lru_cache(maxsize=65536)
def fold(word: str) -> str:
    """One spelling for each word: lower case, straight apostrophes, UK and US the same ("Tyre" and "tire")."""
    word = word.lower().replace("’", "'")
    table = spelling()["fold"]
    if word not in table and word.endswith("s") and "'" not in table.get(word[:-1], "'"):
        return table[word[:-1]] + "s"
    return table.get(word, word)


@lru_cache(maxsize=65536)
def stem(word: str) -> str:
    """The folded word without plural or possessive ending: "drivers", "driver's" and "drivers'" all give "driver"."""
    table = spelling()
    word = word.lower().replace("’", "'").rstrip("'")
    if word.endswith("'s") and word not in table["keep"]:
        word = word[:-2]
    word = table["fold"].get(word, word)
    if word in table["keep"]:
        return word
    if word in table["irregular"]:
        return table["irregular"][word]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        if word.endswith("ies") and len(word) > 4:
            word = word[:-3] + "y"
        elif word.endswith(("sses", "shes", "ches", "xes", "zes")):
            word = word[:-2]
        else:
            word = word[:-1]
    return table["fold"].get(word, word)


def key(text: str) -> tuple[str, ...]:
    """The stems of a phrase's words: two phrases with one key are the same phrase ("Brake pads", "brake-pad")."""
    plain = text.replace("-", " ")
    if plain.replace(" ", "").isalpha():  # most phrases of the data files: no need to look for numbers and signs
        return tuple(stem(word) for word in plain.split())
    return tuple(stem(token.lower) for token in tokens(text))


_VOWELS = "aeiou"


def verb_forms(base: str) -> dict[str, str]:
    """Every form of a verb mapped to "base", "s", "past" or "ing"; `base` may carry a particle ("top up").

    Regular endings are made by rule (consonant doubled after one short vowel: "fit", "fitting"), others come from the
    data. A form that is both base and the only past ("put", "cut", "set") is given as "past", for that is how notes
    use it.
    """
    first, _, rest = base.partition(" ")
    tail = f" {rest}" if rest else ""
    irregular = spelling()["verbs"].get(first)
    double = _doubles(first)
    stem_e = first[:-1] if first.endswith("e") and not first.endswith(("ee", "oe", "ye")) else first
    y_verb = first.endswith("y") and first[-2:-1] not in _VOWELS
    ending_s = (
        first[:-1] + "ies" if y_verb else first + ("es" if first.endswith(("s", "sh", "ch", "x", "z", "o")) else "s")
    )
    ing = (first + first[-1] if double else stem_e) + "ing"
    if irregular:
        past = irregular.split(",")
    elif y_verb:
        past = [first[:-1] + "ied"]
    else:
        past = [(first + first[-1] if double else stem_e) + ("ed" if not first.endswith("ee") else "d")]
    forms = {form: "past" for form in past} | {ending_s: "s", ing: "ing"}
    if past != [first]:
        forms[first] = "base"
    return {form + tail: tense for form, tense in forms.items()}


def _doubles(verb: str) -> bool:
    """True where the last consonant doubles before -ed and -ing: one syllable ending consonant, vowel, consonant."""
    if len(verb) < 3 or verb[-1] in "aeiouwxy" or verb[-2] not in _VOWELS or verb[-3] in _VOWELS:
        return False
    syllables = len(re.findall(r"[aeiouy]+", verb))
    return syllables == 1 or verb in ("refit", "rewet", "unplug", "unclip", "unzip")
