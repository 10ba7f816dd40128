"""Files of words into notes."""

from __future__ import annotations

from datetime import datetime

import pytest

from diary.errors import DiaryError
from diary.records import importing

BEGIN = datetime(2026, 5, 4, 9, 0)


def test_json_lines():
    text = '{"at": "2026-05-04T18:05", "text": "filled it"}\n\n{"at": "2026-05-05T07:00", "text": "odometer"}\n'
    found = list(importing.json_lines(text, "week.jsonl"))
    assert [(h.text, h.at, h.source) for h in found] == [
        ("filled it", datetime(2026, 5, 4, 18, 5), "week.jsonl:1"),
        ("odometer", datetime(2026, 5, 5, 7, 0), "week.jsonl:3"),
    ]


@pytest.mark.parametrize("line", ['{"at": "2026-05-04"}', '{"at": "soon", "text": "x"}', "[1]", "filled it", '{"at":"2026-05-04","text":3}'])
def test_a_bad_line_is_named_and_nothing_is_imported(line):
    with pytest.raises(DiaryError, match=r"week.jsonl, line 2: each line must be a JSON object .* nothing was imported"):
        list(importing.json_lines('{"at": "2026-05-04T18:05", "text": "ok"}\n' + line, "week.jsonl"))


VTT = """WEBVTT

00:00:01.000 --> 00:00:03.000
filled it to the brim

2
00:00:03.500 --> 00:00:05.000 align:start
<v Wren>fourteen gallons

00:00:20.000 --> 00:00:22.000
the seal weeps
"""

SRT = """1
00:00:01,000 --> 00:00:03,000
filled it to the brim

2
00:00:03,500 --> 00:00:05,000
fourteen gallons

3
00:00:20,000 --> 00:00:22,000
the seal weeps
"""


@pytest.mark.parametrize("text,name", [(VTT, "a.vtt"), (SRT, "a.srt")])
def test_captions_become_notes_at_pauses(tmp_path, text, name):
    path = tmp_path / name
    path.write_text(text)
    first, second = importing.notes_of_captions(importing.captions(text, path), BEGIN, name)
    assert first.text == "filled it to the brim fourteen gallons"
    assert first.words == [[0, 21, 1.0, 3.0], [22, 38, 3.5, 5.0]]
    assert (second.text, second.at, second.source) == ("the seal weeps", datetime(2026, 5, 4, 9, 0, 20), f"{name}@0:20")


def test_rolling_captions_say_each_line_once(tmp_path):
    text = "WEBVTT\n\n00:01.000 --> 00:02.000\nfilled it\n\n00:02.000 --> 00:03.000\nfilled it\nto the brim\n"
    assert [c[2] for c in importing.captions(text, tmp_path / "a.vtt")] == ["filled it", "to the brim"]


def test_stamped_text_inline_and_at_line_starts():
    inline = "[0:05] filled it [0:40] the seal weeps"
    lines = "0:05 filled it\n0:40 the seal weeps\n"
    for text in (inline, lines):
        assert [h.text for h in importing.stamped_text(text, BEGIN, "a.txt")] == ["filled it", "the seal weeps"]


def test_text_without_stamps_is_a_note_a_paragraph():
    found = list(importing.stamped_text("filled it\nto the brim\n\nthe seal weeps", BEGIN, "a.txt"))
    assert [h.text for h in found] == ["filled it to the brim", "the seal weeps"]


def test_several_days_in_one_file():
    text = "day one filled it\n\nthe seal weeps\n\nokay day three and it is dry\n\nthe next morning it is wet"
    days = [h.at.day for h in importing.stamped_text(text, BEGIN, "a.txt")]
    assert days == [4, 4, 6, 7]


@pytest.mark.parametrize(
    "content,sentence",
    [(b"", "is empty"), (b"  \n", "is empty"), (b"\xff\xfe\x00bad", "is not text in UTF-8"), (b"[0:01]\n[0:02]\n", "holds no words")],
)
def test_a_file_without_words(tmp_path, content, sentence):
    path = tmp_path / "a.txt"
    path.write_bytes(content)
    with pytest.raises(DiaryError, match=sentence):
        importing.read_file(path, BEGIN)
