"""`diary doctor` and `diary models`: what is here, what works, how to get what does not."""

from __future__ import annotations

import platform
import sqlite3
import sys
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.reports.lists import Table
from diary.reports.terminal import console, print_json, show


def doctor(models_folder: Path | None = None, as_json: bool = False) -> int:
    """Show what works; 0 when a recording can be heard and kept here, else 1."""
    from diary.speech import choose

    rows: list[dict[str, Any]] = [
        {"what": "Python", "works": sys.version_info >= (3, 11), "detail": platform.python_version(), "get": "Python 3.11 or later"},
        {"what": "full text search", "works": _fts5(), "detail": f"SQLite {sqlite3.sqlite_version}", "get": "an SQLite with FTS5"},
        _reader(),
        *choose.report(models_folder),
    ]
    try:
        chosen = choose.recogniser(models_folder=models_folder)
        rows.append({"what": "recogniser used", "works": True, "detail": f"{chosen.name} ({chosen.model})", "get": ""})
        hears = True
    except DiaryError as error:
        rows.append({"what": "recogniser used", "works": False, "detail": "none", "get": str(error)})
        hears = False
    table = Table(
        "What works here",
        ["what", "works", "with", "how to get it"],
        [[r["what"], "yes" if r["works"] else "no", str(r["detail"]), "" if r["works"] else str(r["get"])] for r in rows],
        rows,
    )
    show(table, console(), as_json)
    return 0 if hears else 1


def _reader() -> dict[str, Any]:
    """Whether free talk is read by the trained reader too, or by the rules alone."""
    from diary.language.reader import reader_folder

    folder = reader_folder()
    size = (folder / "reader.zip").stat().st_size / 1e6 if folder else 0
    return {
        "what": "trained reader of talk", "works": folder is not None, "detail": f"{size:.0f} MB in {folder}" if folder else "rules alone",
        "get": "it comes with the program; train it with python -m models.reader.train, or name its folder by DIARY_READER",
    }  # fmt: skip


def _fts5() -> bool:
    conn = sqlite3.connect(":memory:")
    try:
        conn.execute("CREATE VIRTUAL TABLE t USING fts5 (a)")
    except sqlite3.OperationalError:
        return False
    finally:
        conn.close()
    return True


def models(action: str, name: str | None, sha256: str | None, folder: Path | None, as_json: bool = False) -> int:
    """List the models that exist and which are here, or install one."""
    from diary.reports.terminal import progress
    from diary.speech import models as known

    if action == "install":
        if not name:
            raise DiaryError("Name the model to install: a name of `diary models`, a URL, or a local archive.")
        with progress(None if as_json else console(stderr=True), "installing") as step:
            place = known.install(name, sha256=sha256, folder=folder, progress=lambda done, whole: step("installing", done, whole))
        if as_json:
            print_json({"installed": str(place)}, console())
        else:
            print(f"Installed in {place}.")
        return 0
    rows = known.listing(folder)
    table = Table(
        "Speech models",
        ["name", "engine", "language", "size", "licence", "here"],
        [
            [r["name"], r["engine"], r["language"], f"{r['size_mb']:g} MB" if r.get("size_mb") else "", r["licence"],
             "yes" if r["here"] else ""]
            for r in rows
        ],
        rows,
    )  # fmt: skip
    show(table, console(), as_json)
    return 0
