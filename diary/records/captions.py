"""Caption files (WebVTT, SRT) to cues: who said what when, each word once.

Sources: WebVTT, W3C candidate recommendation (https://www.w3.org/TR/webvtt1/): blocks are parted by blank lines, a block with a
line of times is a cue, NOTE, STYLE and REGION blocks are not; SubRip has no standard, its blocks are a number, times, words.
"""

from __future__ import annotations

import html
import re
from pathlib import Path

from diary.errors import DiaryError
from diary.records import film_words

Cue = tuple[float, float, str]
"""Seconds of its start and end, and its words."""

TIMES = re.compile(r"^(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})[ \t]*-->[ \t]*(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})(?:[ \t].*)?$")
NO_CUE = re.compile(r"^(?:NOTE|STYLE|REGION|WEBVTT)(?:\s|$)")
TAG = re.compile(r"<[^>]*>|\{\\[^}]*\}")
SOUND = re.compile(r"\[[^\]]*\]|^\([^)]*\)$")
SPEAKER = re.compile(r"^(?:-\s+|>+\s*)?(?:[A-Z][A-Z .'-]{1,24}:\s+)?")
TOUCHING = 2.0  # seconds between two cues within which a repeated line is the same line, still shown


def captions(text: str, path: Path) -> list[Cue]:
    """The cues of a WebVTT or SRT text in order of time. What rolling captions show again is kept once; sounds and songs are not words."""
    shown: list[str] = []  # the lines of the cues before, as long as they touch
    ended = 0.0
    found: list[Cue] = []
    for start, end, lines in _cues(text.replace("\r\n", "\n").replace("\r", "\n"), path):
        lines = [said for line in lines if (said := _said(line))]
        if not lines:
            continue
        if start - ended > TOUCHING:
            shown = []
        new, shown = _not_yet_shown(lines, shown, start <= ended + 0.05)
        ended = end
        if new:
            found.append((start, end, " ".join(new)))
    return found


def seconds(hours: str | None, minutes: str, whole: str, fraction: str | None = None) -> float:
    """A time's parts as seconds."""
    return int(hours or 0) * 3600 + int(minutes) * 60 + int(whole) + (int(fraction.ljust(3, "0")) / 1000 if fraction else 0)


def _cues(text: str, path: Path) -> list[tuple[float, float, list[str]]]:
    found: list[tuple[float, float, list[str]]] = []
    open_cue = False
    blank = True
    for line in text.split("\n"):
        mark = TIMES.match(line.strip())
        if mark:
            if open_cue and not blank and found[-1][2] and found[-1][2][-1].strip().isdigit():
                found[-1][2].pop()  # blocks without a blank line between them: that was this cue's number
            g = mark.groups()
            start, end = seconds(*g[:4]), seconds(*g[4:])
            found.append((start, max(start, end), []))
            open_cue, blank = True, False
        elif line == "":
            blank, open_cue = True, False
        elif blank and NO_CUE.match(line):
            open_cue, blank = False, False
        else:
            if open_cue:
                found[-1][2].append(line)
            blank = False
    if not found:
        raise DiaryError(f"{path} has no caption times like 00:01:02.000 --> 00:01:05.000; is it a caption file?")
    return sorted(found, key=lambda cue: cue[0])


def _said(line: str) -> str:
    """The spoken words of a line: no tags, no speaker's name, no sounds in brackets, no song."""
    line = html.unescape(TAG.sub("", line)).strip()
    if any(mark in line for mark in film_words.facts()["sounds"]):
        return ""
    return SOUND.sub(" ", SPEAKER.sub("", line)).strip()


def _not_yet_shown(lines: list[str], shown: list[str], overlapping: bool) -> tuple[list[str], list[str]]:
    """What of `lines` was not shown before (lines roll up, a line grows, words are told twice at a seam), and all lines shown."""
    for n in range(min(len(lines), len(shown)), 0, -1):
        if shown[-n:] == lines[:n]:
            return lines[n:], [*shown, *lines[n:]]
    if shown:
        first, last = lines[0].split(), shown[-1].split()
        if first[: len(last)] == last:
            return [" ".join(first[len(last) :]), *lines[1:]], [*shown[:-1], *lines]
        for n in range(min(len(first), len(last)), 2, -1) if overlapping else ():
            if last[-n:] == first[:n]:
                rest = [" ".join(first[n:])] if first[n:] else []
                return [*rest, *lines[1:]], [*shown, *lines]
    return lines, [*shown, *lines]
