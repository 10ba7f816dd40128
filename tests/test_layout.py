"""The shape of the project: which room may import which (see DEVELOPERS.md)."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ["speech", "language", "records", "assistant", "reports"]
ANYWHERE = {"errors", "units", "calculators"}  # calculators import nothing of ours but these, so every room may use them
FILES = sorted((ROOT / "diary").rglob("*.py"))


def imported(path: Path) -> set[str]:
    """The rooms (first part below `diary`) that a file imports, wherever the import stands in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module] + ([f"diary.{a.name}" for a in node.names] if node.module == "diary" else [])
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        found |= {n.split(".")[1] for n in names if n.startswith("diary.")}
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_room_imports_only_from_rooms_to_its_left(path):
    room = path.relative_to(ROOT / "diary").parts[0].removesuffix(".py")
    if room in ROOMS:
        allowed = set(ROOMS[: ROOMS.index(room) + 1]) | ANYWHERE
    elif room == "calculators":
        allowed = ANYWHERE
    elif room in ("errors", "units"):
        allowed = {"errors", "units"}
    else:
        return  # cli.py: a door
    assert imported(path) <= allowed


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_module_says_what_it_is(path):
    text = path.read_text(encoding="utf-8")
    assert path.name == "__init__.py" or ast.get_docstring(ast.parse(text))


def test_nothing_names_a_path_of_one_machine():
    """No absolute home or workplace path in what is committed."""
    bad = re.compile(r"/(?:home|Users|work|root)/[a-z]")
    texts = [*FILES, *(ROOT / "tests").rglob("*.py"), *(ROOT / "diary").rglob("*.toml"), *ROOT.glob("*.md"), *ROOT.glob("*.toml")]
    assert [str(p) for p in texts if bad.search(p.read_text(encoding="utf-8")) and p.name != "test_layout.py"] == []
