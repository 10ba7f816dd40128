"""The episode: figures from the records, valid captions, chapters in order, text that cannot break the page."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from diary.errors import DiaryError
from diary.records.diary import Note
from diary.reports import episode, story


def test_figures_are_what_the_records_say(told):
    """Arithmetic: 64,468 - 64,218 = 250 mi; 18.4 + 20.0 = 38.4 gal; 250 / 20.0 = 12.50 mpg."""
    figures = dict(story.gather(told).figures)
    assert figures["driven"] == "250 mi"
    assert figures["fuel put in"] == "38.4 gal in 2 fills"
    assert figures["paid for fuel"] == "$68.40"
    assert figures["economy"] == "12.50 mpg"
    assert figures["spent on parts"] == "$14.50"
    assert (figures["faults found"], figures["faults put right"], figures["still open"]) == ("2", "1", "1")


def test_markdown(told, tmp_path):
    written = episode.write(told, tmp_path / "e", title="Steering")
    text = written["markdown"].read_text()
    assert text.startswith("# Steering\n\n- **driven**: 250 mi\n")
    assert "- **steering box bolts loose**: fixed and proven. Found 2026-04-08, fixed 2026-04-08, proven 2026-04-14." in text
    assert "- missed: the loose bolts" in text
    assert "follow" not in text and "service manual decides" in text


def test_the_page_is_well_formed_and_escapes_what_was_said(told, tmp_path):
    page = episode.write(told, tmp_path / "e")["html"].read_text()
    assert "<b>torqued</b>" not in page and "&lt;b&gt;torqued&lt;/b&gt;" in page

    class Balance(HTMLParser):
        open: list[str] = []

        def handle_starttag(self, tag, attrs):
            if tag not in ("meta", "br", "img", "link", "path", "use", "rect", "circle", "line", "defs", "stop"):
                self.open.append(tag)

        def handle_endtag(self, tag):
            assert self.open.pop() == tag

    parser = Balance()
    parser.feed(re.sub(r"<svg.*?</svg>", "", page, flags=re.DOTALL))
    assert parser.open == []


def test_days_choose_the_notes(told):
    chosen = story.gather(told, since="2026-04-08", until="2026-04-09")
    assert [c.at[:10] for c in chosen.chapters] == ["2026-04-08", "2026-04-09"]
    assert "economy" not in dict(chosen.figures)
    with pytest.raises(DiaryError, match="no note in those days"):
        story.gather(told, since="2027-01-01")
    with pytest.raises(DiaryError, match="'spring' is not a day"):
        story.gather(told, since="spring")


def test_without_sound_the_chapter_list_has_days_and_there_are_no_captions(told, tmp_path):
    written = episode.write(told, tmp_path / "e")
    assert written["chapters"].read_text().splitlines()[1] == "2026-04-08 Steering box bolts loose, fixed"
    assert "captions" not in written


def sounded(text: str, seconds: float = 0.5) -> Note:
    words, at = [], 0
    for number, word in enumerate(text.split()):
        words.append([at, at + len(word), number * seconds, number * seconds + 0.4, 0.9])
        at += len(word) + 1
    return Note("n1", "2026-04-06T18:10", text, audio="gone.ogg", words=words)


def test_captions_are_webvtt(tmp_path):
    """W3C WebVTT: header line, times hh:mm:ss.ttt, start before end, cues in order, & and < escaped."""
    chapter = story.Chapter("One", "2026-04-06T18:10", sounded("Filled it & zeroed <the> trip. " * 12), [])
    story.place_in_sound([chapter])
    text = episode.captions([chapter])
    lines = text.splitlines()
    assert lines[0] == "WEBVTT" and lines[1] == ""
    times = re.findall(r"^(\d\d):(\d\d):(\d\d\.\d{3}) --> (\d\d):(\d\d):(\d\d\.\d{3})$", text, re.MULTILINE)
    spans = [(int(a) * 3600 + int(b) * 60 + float(c), int(d) * 3600 + int(e) * 60 + float(f)) for a, b, c, d, e, f in times]
    assert len(spans) >= 12 and all(a < b for a, b in spans) and all(x[1] <= y[0] for x, y in zip(spans, spans[1:], strict=False))
    assert "&amp;" in text and "&lt;the&gt;" in text
    assert all(len(line) <= 60 for line in lines)


def test_the_first_chapter_begins_at_zero():
    chapter = story.Chapter("One", "2026-04-06T18:10", sounded("Filled it."), [], start=1.2, end=3.0)
    later = story.Chapter("Two", "2026-04-06T18:10", sounded("Filled it."), [], start=3723.0, end=3730.0)
    assert episode.chapter_list([chapter, later]) == "0:00 One\n1:02:03 Two\n"
