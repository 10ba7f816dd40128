"""An hour-long film's transcript made from our labelled narrations: what is said at which second of which day, and the caption files of it.

The words are those of `tests/narrations` (two diaries one after the other); the seconds, the seams of the cues, the repeated lines and
the marks of the formats are made here. The truth that the import is held against is `Film.said`.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

NARRATIONS = Path(__file__).parents[1] / "narrations"
DIARIES = ("s3", "v3", "s2", "v1")
RATE = 2.3  # words a second
SMALL = "zero one two three four five six seven eight nine ten eleven twelve".split()  # noqa: SIM905


@dataclass(slots=True)
class Film:
    """What is said: (second, word, day, note), the cues (start, end, words) and the narrations' records."""

    said: list[tuple[float, str, int, int]] = field(default_factory=list)
    cues: list[tuple[float, float, str]] = field(default_factory=list)
    gold: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    breaks: list[float] = field(default_factory=list)  # seconds at which a note begins behind a pause
    length: float = 0.0


def film(seed: int = 7, pauses: bool = True) -> Film:
    """The film; without `pauses` the talk runs on from note to note."""
    rng = random.Random(seed)
    made = Film(gold={k: [] for k in ("fills", "readings", "torques", "measures")})
    clock, day, number = 1.0, 0, 0
    for name in DIARIES:
        whole = json.loads((NARRATIONS / f"{name}.json").read_text(encoding="utf-8"))
        before = None
        for place, note in enumerate(whole["notes"]):
            date = datetime.fromisoformat(note["at"]).date()
            on = (date - before).days if before else (2 if number else 0)
            before, day = date, day + on
            words = [*_says(rng, on, day), *note["text"].split()]
            for kind, rows in made.gold.items():
                rows += [{**row, "note": number} for row in whole["gold"][kind] if row["note"] == place]
            made.breaks.append(clock)
            clock = _speak(rng, made, words, clock, day, number)
            clock += rng.uniform(9.0, 26.0) if pauses else rng.choice([0.0, 0.0, 0.4])
            number += 1
    made.length = clock
    return made


def _says(rng: random.Random, on: int, day: int) -> list[str]:
    if on == 0:
        return []
    ways = [f"okay day {_number(day + 1)}", f"day {_number(day + 1)}", f"so this is day {_number(day + 1)}"]
    if on == 1:
        ways += ["next morning", "the next day", "right the following morning", "okay so the next evening"]
    elif on < 10:
        ways += [f"{_number(on)} days later", f"okay {_number(on)} days later", f"and {_number(on)} days on"]
    if on == 7:
        ways += ["a week later"]
    return rng.choice(ways).split()


def _number(n: int) -> str:
    if n <= 12:
        return SMALL[n]
    from num2words import num2words

    return str(num2words(n)).replace("-", " ").replace(" and ", " ")


def _speak(rng: random.Random, made: Film, words: list[str], clock: float, day: int, note: int) -> float:
    """Cues of 2 to 6 seconds that cut wherever they will; now and then a tool is at work behind an unfinished phrase."""
    at = 0
    while at < len(words):
        many = max(1, min(len(words) - at, round(rng.uniform(2.0, 6.0) * RATE)))
        start = clock
        for word in words[at : at + many]:
            made.said.append((clock, word, day, note))
            clock += 1 / RATE
        made.cues.append((round(start, 3), round(clock, 3), " ".join(words[at : at + many])))
        at += many
        if at < len(words):
            tool_at_work = words[at - 1] in ("the", "of", "and", "at") and rng.random() < 0.3
            clock += rng.uniform(6.5, 9.0) if tool_at_work else rng.choice([0.0, 0.0, 0.0, 0.3, 0.8])
    return clock


def _time(seconds: float, comma: str) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3600000:02}:{ms // 60000 % 60:02}:{ms // 1000 % 60:02}{comma}{ms % 1000:03}"


def webvtt(made: Film) -> str:
    """WebVTT with a style block, comments, numbers, names of cues, settings, tags, voices and sounds."""
    out = ["WEBVTT - a week in the barn\nKind: captions\nLanguage: en\n", "STYLE\n::cue {\n  color: white;\n}\n", "NOTE\nday nine was lost\n"]
    for n, (start, end, said) in enumerate(made.cues, 1):
        head = ["", f"{n}\n", f"part-{n}\n"][n % 3]
        settings = ["", " align:start position:0%", " line:84% size:60%"][n % 3]
        if n % 5 == 0:
            said = f"<v Wren>{said}</v>"
        elif n % 5 == 1:
            first, _, rest = said.partition(" ")
            said = f"<i>{first}</i> <c.yellow>{rest}</c>" if rest else said
        elif n % 5 == 2 and " " in said:
            first, _, rest = said.partition(" ")
            said = f"{first}\n- {rest}"
        elif n % 5 == 3 and " " in said:
            first, _, rest = said.partition(" ")
            said = f"{first}<{_time(start + 0.2, '.')}><c> {rest}</c>"
        out.append(f"{head}{_time(start, '.')} --> {_time(end, '.')}{settings}\n{said}\n")
        if n % 40 == 0:
            out.append(f"NOTE checked up to here, {n} cues\nfilled 99 gallons\n")
        if n % 55 == 0:
            out.append(f"{_time(end, '.')} --> {_time(end, '.')}\n[ratchet clicks]\n")
    return "\n".join(out)


def srt(made: Film) -> str:
    """SubRip with carriage returns, font tags and places on the screen; some blocks have no blank line between."""
    out = []
    for n, (start, end, said) in enumerate(made.cues, 1):
        said = [said, f"<i>{said}</i>", f"{{\\an8}}{said}", f'<font color="#ffff00">{said}</font>'][n % 4]
        out.append(f"{n}\n{_time(start, ',')} --> {_time(end, ',')}\n{said}\n" + ("" if n % 17 == 0 else "\n"))
    return "".join(out).replace("\n", "\r\n")


def rolling(made: Film, lines: int = 2) -> str:
    """WebVTT in which each line rolls up: every cue shows the last `lines` lines, and again for a moment without the new one."""
    out = ["WEBVTT\n"]
    shown: list[str] = []
    for n, (start, end, said) in enumerate(made.cues):
        later = made.cues[n + 1][0] if n + 1 < len(made.cues) else end + 9
        if n and start - made.cues[n - 1][1] > 4:
            shown = []
        shown = [*shown, said][-lines:]
        text = "\n".join(shown)
        out.append(f"{_time(start, '.')} --> {_time(end, '.')} align:start position:0%\n{text}\n \n")
        if later - end < 1:
            out.append(f"{_time(end, '.')} --> {_time(end + 0.01, '.')} align:start\n{said}\n")
    return "\n".join(out)


WRITERS: dict[str, tuple[str, Callable[[Film], str]]] = {
    "webvtt": ("barn.vtt", webvtt),
    "srt": ("barn.srt", srt),
    "rolling": ("barn.vtt", rolling),
    "three lines rolling": ("barn.vtt", lambda made: rolling(made, 3)),
}
