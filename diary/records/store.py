"""The file on disk: tables, their versions, and plain reads and writes. What the rows mean is in `diary.py`.

SQLite in WAL mode with synchronous=FULL: when a write returns, it is on the disk.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from diary.errors import DiaryError

VERSION = 1

SCHEMA = """
CREATE TABLE machines (name TEXT PRIMARY KEY, data TEXT NOT NULL);
CREATE TABLE notes (
  seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, machine TEXT NOT NULL, at TEXT NOT NULL, text TEXT NOT NULL,
  heard TEXT, source TEXT, audio TEXT, words TEXT, digest TEXT NOT NULL, state TEXT NOT NULL, turn TEXT NOT NULL,
  read INTEGER NOT NULL
);
CREATE UNIQUE INDEX notes_digest ON notes (machine, digest);
CREATE INDEX notes_at ON notes (machine, at);
CREATE TABLE files (
  digest TEXT NOT NULL, machine TEXT NOT NULL, notes INTEGER NOT NULL, PRIMARY KEY (digest, machine)
);
CREATE TABLE records (
  id TEXT PRIMARY KEY, machine TEXT NOT NULL, kind TEXT NOT NULL, note TEXT NOT NULL, at TEXT NOT NULL, ord INTEGER NOT NULL,
  live INTEGER NOT NULL, origin TEXT NOT NULL, data TEXT NOT NULL
);
CREATE INDEX records_kind ON records (machine, kind, live, at);
CREATE INDEX records_note ON records (note);
CREATE TABLE gaps (
  id TEXT PRIMARY KEY, machine TEXT NOT NULL, note TEXT, record TEXT, wants TEXT NOT NULL, state TEXT NOT NULL, at TEXT NOT NULL,
  data TEXT NOT NULL
);
CREATE TABLE entries (
  id INTEGER PRIMARY KEY, machine TEXT NOT NULL, at TEXT NOT NULL, what TEXT NOT NULL, note TEXT, reverses INTEGER,
  reversed_by INTEGER
);
CREATE TABLE changes (
  id INTEGER PRIMARY KEY, entry INTEGER NOT NULL, tbl TEXT NOT NULL, row TEXT NOT NULL, before TEXT, after TEXT
);
CREATE INDEX changes_entry ON changes (entry);
CREATE INDEX changes_row ON changes (tbl, row);
CREATE VIRTUAL TABLE notes_fts USING fts5 (text, content=notes, content_rowid=seq, tokenize='porter unicode61');
CREATE TRIGGER notes_fts_in AFTER INSERT ON notes BEGIN
  INSERT INTO notes_fts (rowid, text) VALUES (new.seq, new.text);
END;
CREATE TRIGGER notes_fts_change AFTER UPDATE OF text ON notes BEGIN
  INSERT INTO notes_fts (notes_fts, rowid, text) VALUES ('delete', old.seq, old.text);
  INSERT INTO notes_fts (rowid, text) VALUES (new.seq, new.text);
END;
"""


def connect(path: Path | str) -> sqlite3.Connection:
    """The diary file, made if it is not there. Errors: not a diary, a newer version, an unwritable folder."""
    where = Path(path)
    try:
        where.parent.mkdir(parents=True, exist_ok=True)
        conn = sqlite3.connect(where, timeout=30, check_same_thread=False)
        version = conn.execute("PRAGMA user_version").fetchone()[0]
        tables = conn.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    except (OSError, sqlite3.OperationalError) as error:
        raise DiaryError(f"The diary {where} cannot be opened ({error}); check the path and its permissions.") from error
    except sqlite3.DatabaseError as error:
        raise DiaryError(f"{where} is not a diary file ({error}); name another with --db, it was left as it was.") from error
    if version > VERSION:
        raise DiaryError(
            f"{where} was written by a newer version of this program (store version {version}, this one knows {VERSION}); "
            "update the program; the file was left as it was."
        )
    if version == 0 and tables:
        raise DiaryError(f"{where} is a database but not a diary; name another with --db, it was left as it was.")
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=FULL")
    if version == 0:
        conn.executescript(f"BEGIN;{SCHEMA}PRAGMA user_version={VERSION};COMMIT;")
    return conn


@contextmanager
def transaction(conn: sqlite3.Connection) -> Iterator[None]:
    """All writes inside happen, or none does; a transaction inside a transaction is a savepoint (by sqlite-utils).

    The library is loaded here, at the first write, because a question only reads and should answer at once.
    """
    with _kit(conn).atomic():
        yield


@lru_cache(maxsize=4)
def _kit(conn: sqlite3.Connection) -> Any:
    from sqlite_utils import Database

    return Database(conn)


def pack(value: Any) -> str:
    """JSON as it is stored: compact, keys in their order."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def rows(conn: sqlite3.Connection, sql: str, params: tuple[Any, ...] | dict[str, Any] = ()) -> Iterator[dict[str, Any]]:
    """The rows of a query as dictionaries."""
    cursor = conn.execute(sql, params)
    names = [c[0] for c in cursor.description]
    for row in cursor:
        yield dict(zip(names, row, strict=True))


def backup(conn: sqlite3.Connection, target: Path) -> None:
    """A whole, consistent copy of the diary while it is in use, written beside and then moved into place."""
    if target.is_dir():
        raise DiaryError(f"{target} is a folder; name the file that the backup shall be.")
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        copy = sqlite3.connect(part)
        with copy:
            conn.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
        copy.close()
        part.replace(target)
    except (OSError, sqlite3.Error) as error:
        raise DiaryError(f"The backup {target} cannot be written ({error}); check the path and the free space.") from error


def restore(source: Path, target: Path) -> Path | None:
    """Put the backup `source` in the place of `target`; what was there is kept beside it and its new name returned."""
    if not source.is_file():
        raise DiaryError(f"There is no backup {source}; name the file that `diary backup` wrote.")
    check = connect_readonly(source)
    check.close()
    kept: Path | None = None
    if target.exists():
        if target.resolve() == source.resolve():
            raise DiaryError(f"{source} is the diary itself, not a backup; name the backup file.")
        old = connect(target)
        number = 1
        while (kept := target.with_name(f"{target.name}.before-restore-{number}")).exists():
            number += 1
        assert kept is not None
        backup(old, kept)
        old.close()
        for tail in ("-wal", "-shm"):
            target.with_name(target.name + tail).unlink(missing_ok=True)
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".part")
    part.write_bytes(source.read_bytes())
    part.replace(target)
    return kept


def connect_readonly(path: Path) -> sqlite3.Connection:
    """A diary opened for looking only; errors as in `connect`."""
    try:
        conn = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        version = conn.execute("PRAGMA user_version").fetchone()[0]
        names = {r[0] for r in conn.execute("SELECT name FROM sqlite_master")}
    except sqlite3.DatabaseError as error:
        raise DiaryError(f"{path} is not a diary file ({error}); nothing was changed.") from error
    if version == 0 or "notes" not in names:
        conn.close()
        raise DiaryError(f"{path} is not a diary file; nothing was changed.")
    if version > VERSION:
        conn.close()
        raise DiaryError(f"{path} was written by a newer version of this program; update the program first.")
    return conn
