"""Tables, notes and progress on a terminal, by rich; plain text when the output is piped."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.table import Table as RichTable

from diary.reports.lists import Table


def console(stderr: bool = False) -> Console:
    """The terminal; piped output is not wrapped, coloured or boxed."""
    made = Console(stderr=stderr, highlight=False)
    return made if made.is_terminal else Console(stderr=stderr, highlight=False, width=10_000, no_color=True)


def show(table: Table, out: Console, as_json: bool = False) -> None:
    """One list: boxed on a terminal, tab-separated lines when piped, JSON when asked."""
    if as_json:
        print_json(table.data, out)
        return
    if not table.rows:
        out.print(table.empty, markup=False)
    elif out.is_terminal:
        made = RichTable(title=table.title, title_justify="left", title_style="bold", header_style="bold", expand=False)
        for name in table.columns:
            made.add_column(name, justify="right" if name in table.numeric else "left", overflow="fold")
        for row in table.rows:
            made.add_row(*[cell.replace("[", r"\[") for cell in row])
        out.print(made)
    else:
        lines = [table.title, *("\t".join(cell.replace("\n", " ") for cell in row).rstrip() for row in table.rows)]
        out.file.write("".join(f"{line}\n" for line in lines))  # rich would turn tabs into spaces
    if table.note:
        out.print(table.note, markup=False)


def print_json(value: Any, out: Console) -> None:
    """JSON, one document, never wrapped."""
    out.file.write(json.dumps(value, ensure_ascii=False, indent=1) + "\n")


@contextmanager
def progress(out: Console | None, what: str) -> Iterator[Callable[[str, float, float], None]]:
    """A progress bar for long work: call the step with (what, done, whole). Nothing is shown when piped or `out` is None."""
    if out is None or not out.is_terminal:
        yield lambda said, done, whole: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    with Progress(
        TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"), TimeRemainingColumn(),
        console=out, transient=True,
    ) as bar:  # fmt: skip
        task = bar.add_task(what, total=None)
        yield lambda said, done, whole: bar.update(task, description=said, completed=done, total=whole)
