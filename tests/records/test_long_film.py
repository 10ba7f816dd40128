"""An hour of captions over many days: each word once, the dates moved by the talk, notes cut where talk pauses, seconds that point
to the cue, and nothing new when imported again.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from diary import cli
from diary.records import film_words, importing
from tests.narrations.scoring import f1, tally
from tests.records.film import WRITERS, Film, film

BEGIN = datetime(2026, 5, 4, 9, 0)
FIRST_DAY = date(2026, 5, 4)


@pytest.fixture(scope="module")
def made() -> Film:
    return film()


def bring(tmp_path: Path, name: str, text: str, *args: str, db: str = "d.db", capsys: Any = None) -> dict[str, Any]:
    path = tmp_path / name
    path.write_text(text, newline="", encoding="utf-8")
    return run(tmp_path, "import", *args, str(path), db=db, capsys=capsys)


def run(tmp_path: Path, *args: str, db: str = "d.db", capsys: Any) -> dict[str, Any]:
    assert cli.main([args[0], "--db", str(tmp_path / db), "--now", "2027-06-01T12:00", "--json", *args[1:]]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_film_is_an_hour_of_many_days(made: Film) -> None:
    assert made.length > 3600 and len(made.cues) > 550 and made.said[-1][2] > 60
    assert all(end - start < 7 for start, end, _ in made.cues)


@pytest.mark.parametrize("way", WRITERS)
def test_each_word_once_with_its_day_and_second(tmp_path: Path, made: Film, way: str) -> None:
    name, write = WRITERS[way]
    (tmp_path / name).write_text(write(made), newline="", encoding="utf-8")
    notes = importing.read_file(tmp_path / name, datetime(2027, 6, 1), BEGIN)
    assert " ".join(n.text for n in notes).split() == [word for _, word, _, _ in made.said]
    at = 0
    for note in notes:
        words = note.text.split()
        truth = made.said[at : at + len(words)]
        at += len(words)
        assert {day for _, _, day, _ in truth} == {(note.at.date() - FIRST_DAY).days}, note.text
        assert note.words is not None
        place = 0
        for second, word, _, _ in truth:  # the cue that holds the word's characters holds the word's second
            place = note.text.index(word, place)
            cue = next(w for w in note.words if w[0] <= place < w[1])
            assert cue[2] - 0.05 <= second <= cue[3] + 0.05, (word, note.source)
            place += len(word)


def test_notes_are_cut_where_the_talk_pauses(tmp_path: Path, made: Film) -> None:
    name, write = WRITERS["webvtt"]
    (tmp_path / name).write_text(write(made), encoding="utf-8")
    notes = importing.read_file(tmp_path / name, datetime(2027, 6, 1), BEGIN)
    starts = {round(n.words[0][2], 1) for n in notes if n.words}
    real = {round(b, 1) for b in made.breaks}
    assert real <= starts  # no two notes of the film in one
    assert len(starts - real) <= len(real) / 6  # few of them cut in two, and those only because they are long
    for note in notes:
        if note.words and round(note.words[0][2], 1) not in real:
            assert len(note.text.split()) > 20, note.text
    assert max(n.words[-1][3] - n.words[0][2] for n in notes if n.words) <= importing.LONGEST + importing.SHORTEST


def test_talk_without_pauses_is_cut_by_days_and_length(tmp_path: Path) -> None:
    made = film(pauses=False)
    name, write = WRITERS["rolling"]
    (tmp_path / name).write_text(write(made), encoding="utf-8")
    notes = importing.read_file(tmp_path / name, datetime(2027, 6, 1), BEGIN)
    assert " ".join(n.text for n in notes).split() == [word for _, word, _, _ in made.said]
    assert max(n.words[-1][3] - n.words[0][2] for n in notes if n.words) <= importing.LONGEST + importing.SHORTEST
    at = wrong = 0
    for note in notes:
        many = len(note.text.split())
        wrong += sum(day != (note.at.date() - FIRST_DAY).days for _, _, day, _ in made.said[at : at + many])
        at += many
    # "three days later" in the middle of talk without a full stop or a pause is not believed until a numbered day sets it right
    assert wrong / len(made.said) < 0.25


@pytest.mark.parametrize("way", ["webvtt", "srt"])
def test_import_reads_the_records_at_their_seconds(tmp_path: Path, made: Film, way: str, capsys: Any) -> None:
    name, write = WRITERS[way]
    first = bring(tmp_path, name, write(made), "--at", BEGIN.isoformat(), capsys=capsys)
    assert first["failed"] == [] and first["known"] == 0
    out = run(tmp_path, "export", capsys=capsys)
    text = {n["id"]: n["text"] for n in out["notes"]}
    second = {}  # note id: the seconds of its words
    at = 0
    for note in sorted(out["notes"], key=lambda n: n["at"]):
        second[note["id"]] = at
        at += len(note["text"].split())
    checked = 0
    for kind in ("fills", "readings", "torques", "measures", "parts"):
        for row in out[kind]:
            start, end = row["span"]
            said = text[row["note"]][start:end]
            begin = second[row["note"]] + len(text[row["note"]][:start].split())
            truth = made.said[begin : begin + len(said.split())]
            assert [w for _, w, _, _ in truth] == said.split()
            if ".p" in row["id"]:
                continue  # written by a check beside what was read: it rests on the whole note
            assert row["seconds"][0] - 0.05 <= truth[0][0] and truth[-1][0] <= row["seconds"][1] + 0.05
            assert row["seconds"][1] - row["seconds"][0] <= (truth[-1][0] - truth[0][0]) + 13  # its own cues, no more
            assert row["at"][:10] == (FIRST_DAY + timedelta(days=truth[0][2])).isoformat()
            row["note"] = truth[0][3]  # the note of the narration that it was made from
            checked += 1
    assert checked > 100
    numeric = [tally(kind, out[kind], made.gold[kind]) for kind in made.gold]
    hits, extra, missed = (sum(n[0] for n in numeric), sum(len(n[1]) for n in numeric), sum(len(n[2]) for n in numeric))
    assert f1(hits, extra, missed) > 0.93, [n[1:] for n in numeric]


def test_importing_again_changes_nothing(tmp_path: Path, made: Film, capsys: Any) -> None:
    first = bring(tmp_path, "barn.vtt", WRITERS["webvtt"][1](made), capsys=capsys)
    assert first["new"] > 80
    before = run(tmp_path, "export", capsys=capsys)
    again = run(tmp_path, "import", str(tmp_path / "barn.vtt"), capsys=capsys)
    os.utime(tmp_path / "barn.vtt", (1_700_000_000, 1_700_000_000))
    touched = run(tmp_path, "import", str(tmp_path / "barn.vtt"), capsys=capsys)
    (tmp_path / "copy").mkdir()
    shutil.copy(tmp_path / "barn.vtt", tmp_path / "copy" / "barn.vtt")
    copied = run(tmp_path, "import", str(tmp_path / "copy"), capsys=capsys)
    other = bring(tmp_path, "barn.srt", WRITERS["srt"][1](made), capsys=capsys)  # the same film in the other format
    for result in (again, touched, copied, other):
        assert (result["new"], result["records"], result["failed"]) == (0, 0, [])
        assert result["known"] == first["new"]
    assert run(tmp_path, "export", capsys=capsys) == before


def test_a_film_ends_no_later_than_its_file(tmp_path: Path, made: Film) -> None:
    path = tmp_path / "barn.vtt"
    path.write_text(WRITERS["webvtt"][1](made), encoding="utf-8")
    written = datetime(2026, 11, 2, 0, 20)
    os.utime(path, (written.timestamp(), written.timestamp()))
    notes = importing.read_file(path, datetime(2027, 6, 1))
    assert written - timedelta(days=1) < notes[-1].at <= written
    assert (notes[-1].at.date() - notes[0].at.date()).days == made.said[-1][2]  # midnight within the hour is no day more


@pytest.mark.parametrize(
    "said, days",
    [
        ("day three and the paint is dry", [("number", 3)]),
        ("Okay. Day 3, and it's raining.", [("number", 3)]),
        ("alright so welcome back to day twenty one of this", [("number", 21)]),
        ("that is it for tonight next morning and the floor is wet", [("on", 1)]),
        ("It held. Two days later it dripped again.", [("on", 2)]),
        ("a couple of days later we have the part", [("on", 2)]),
        ("a fortnight later and i am back on it", [("on", 14)]),
        ("the morning after, dry as a bone", [("on", 1)]),
        # no new day
        ("i will fit it the next morning", []),
        ("Next day delivery cost me nine pounds.", []),
        ("the next day i'll put the wheel back on", []),
        ("he came two days later than he said", []),
        ("it took me till day three to find the leak", []),
        ("by the next morning all of it had run out", []),
        ("one of these days it will strand me", []),
        ("day light is going so i stop", []),
        ("a few days later on the forum he said it was the pump", [("on", 3)]),
    ],
)
def test_the_words_of_another_day(said: str, days: list[tuple[str, int]]) -> None:
    assert [("number", d.number) if d.number else ("on", d.on) for d in film_words.new_days(said)] == days


def test_captions_keep_figures_that_stand_alone(tmp_path: Path) -> None:
    from diary.records.captions import captions

    path = tmp_path / "a.vtt"
    vtt = "WEBVTT\n\n1\n00:01.000 --> 00:02.000\nthe clock says\n87406\n\n2\n00:02.000 --> 00:03.000\n\n3\n00:03.000 --> 00:04.000\n&lt;dry&gt; R&amp;R\n"
    assert [c[2] for c in captions(vtt, path)] == ["the clock says 87406", "<dry> R&R"]
    tight = "1\n00:00:01,000 --> 00:00:02,000\nthe clock says\n2\n00:00:02,000 --> 00:00:03,000\neighty seven\n"
    assert [c[2] for c in captions(tight, path)] == ["the clock says", "eighty seven"]


def test_songs_sounds_and_speakers_are_not_words(tmp_path: Path) -> None:
    from diary.records.captions import captions

    vtt = (
        "WEBVTT\n\n00:01.000 --> 00:02.000\n[engine knocks] so\n\n00:02.000 --> 00:03.000\n♪ ninety nine bottles on the wall ♪\n\n"
        "00:03.000 --> 00:04.000\n>> WREN: it weeps\n\n00:04.000 --> 00:05.000\n(distant ratchet)\n\n00:05.000 --> 00:06.000\nWREN: a bit\n"
    )
    assert [c[2] for c in captions(vtt, tmp_path / "a.vtt")] == ["so", "it weeps", "a bit"]


def test_growing_lines_are_said_once(tmp_path: Path) -> None:
    from diary.records.captions import captions

    vtt = "WEBVTT\n\n00:01.000 --> 00:02.000\nso the\n\n00:02.000 --> 00:03.000\nso the pump is\n\n00:03.000 --> 00:04.000\nso the pump is dead\n\n00:09.000 --> 00:10.000\ndead\n"
    assert [c[2] for c in captions(vtt, tmp_path / "a.vtt")] == ["so the", "pump is", "dead", "dead"]
    assert not re.search(r"\d", " ".join(c[2] for c in captions(vtt, tmp_path / "a.vtt")))
