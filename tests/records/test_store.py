"""The file: versions, damage, backup and restore. Nothing is lost by a wrong word."""

from __future__ import annotations

import sqlite3
from datetime import datetime

import pytest

from diary.errors import DiaryError
from diary.records import store
from diary.records.diary import Diary

NOW = datetime(2026, 5, 4, 18, 0)


def begun(path, text="the seal weeps"):
    diary = Diary.open(path, now=lambda: NOW, read=lambda t, c: [])
    diary.add_note(text)
    diary.close()


def test_the_file_is_in_wal_mode_and_says_its_version(tmp_path):
    begun(tmp_path / "d.db")
    with sqlite3.connect(tmp_path / "d.db") as conn:
        assert conn.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert conn.execute("PRAGMA user_version").fetchone()[0] == store.VERSION


def test_a_store_of_a_newer_version_is_refused_and_left_alone(tmp_path):
    begun(tmp_path / "d.db")
    with sqlite3.connect(tmp_path / "d.db") as conn:
        conn.execute(f"PRAGMA user_version={store.VERSION + 1}")
    with pytest.raises(DiaryError, match="newer version of this program .* was left as it was"):
        store.connect(tmp_path / "d.db")
    with sqlite3.connect(tmp_path / "d.db") as conn:
        assert conn.execute("SELECT text FROM notes").fetchall() == [("the seal weeps",)]


def test_a_file_that_is_no_diary_is_refused(tmp_path):
    (tmp_path / "notes.txt").write_text("this is not a database, it is a shopping list " * 40)
    with pytest.raises(DiaryError, match="is not a diary file"):
        store.connect(tmp_path / "notes.txt")
    with sqlite3.connect(tmp_path / "other.db") as conn:
        conn.execute("CREATE TABLE t (a)")
    with pytest.raises(DiaryError, match="is a database but not a diary"):
        store.connect(tmp_path / "other.db")


def test_backup_and_restore_keep_what_was_there(tmp_path):
    path = tmp_path / "d.db"
    begun(path)
    store.backup(store.connect(path), tmp_path / "copy.db")
    begun(path, "a later note")
    kept = store.restore(tmp_path / "copy.db", path)
    assert [n.text for n in Diary.open(path).notes()] == ["the seal weeps"]
    assert kept is not None and [n.text for n in Diary.open(kept).notes()] == ["the seal weeps", "a later note"]


@pytest.mark.parametrize("content", [b"", b"no database at all, only words" * 50])
def test_restoring_something_else_changes_nothing(tmp_path, content):
    path = tmp_path / "d.db"
    begun(path)
    (tmp_path / "copy.db").write_bytes(content)
    with pytest.raises(DiaryError, match="not a diary file"):
        store.restore(tmp_path / "copy.db", path)
    assert [n.text for n in Diary.open(path).notes()] == ["the seal weeps"]


def test_restoring_a_backup_that_is_not_there(tmp_path):
    with pytest.raises(DiaryError, match="There is no backup"):
        store.restore(tmp_path / "none.db", tmp_path / "d.db")
