"""The lists, as tables and as they look at a fixed width."""

from __future__ import annotations

import io
import json

from rich.console import Console

from diary.reports import lists
from diary.reports.terminal import show


def test_open_faults_only(told):
    assert [row[1] for row in lists.faults(told).rows] == ["transfer case seal weeps"]
    assert [(row[1], row[3]) for row in lists.faults(told, everything=True).rows] == [
        ("transfer case seal weeps", "open"),
        ("steering box bolts loose", "fixed and proven"),
    ]


def test_an_open_fault_on_steering_comes_first_with_the_caution(told):
    told.undo(2)  # the last fill, the seal
    told.retract("n2")
    told.add_note("x", "2026-04-12T10:00", drafts=[])
    told.add_record("faults", {"what": "drag link has play", "safety": True}, note="n1")
    table = lists.faults(told)
    assert table.rows[0][1] == "drag link has play" and "service manual" in (table.note or "")


def test_fuel_by_hand(told):
    """250 mi on 20.0 gal is 12.5 mpg (arithmetic)."""
    table = lists.fuel(told)
    assert table.rows[0][1:3] == ["250 mi", "20 gal"] and table.rows[0][3].startswith("12.5") and table.data[0]["value"] == 12.5


def test_an_overdue_plan_says_so(told):
    assert lists.plans(told).rows == [["2026-04-11", "fit the seal", "overdue"]]


def test_parts_to_get_leave_out_what_is_fitted(told):
    assert [row[1] for row in lists.parts(told).rows] == ["transfer case seal"]
    told.add_note("fitted", "2026-04-15T08:00", drafts=[])
    part = told.records("parts")[0]
    told.add_record("parts", {"name": part.name, "state": "fitted", "life": part.life}, note="n5")
    assert lists.parts(told).rows == []
    assert [row[2:] for row in lists.parts(told, everything=True).rows] == [["1", "fitted", "$14.50"]]


def test_on_a_terminal_of_80_columns(told):
    out = Console(file=io.StringIO(), width=80, force_terminal=True, color_system=None)
    show(lists.torques(told), out)
    assert out.file.getvalue().splitlines() == [
        "Torques                                                             ",
        "┏━━━━━━━━━━━━┳━━━━━━━━━━━━━━━━━━━━┳━━━━━━━━━━┳━━━━━━┳━━━━━━━━━━━━━━┓",
        "┃ day        ┃ fastener           ┃   torque ┃      ┃ with         ┃",
        "┡━━━━━━━━━━━━╇━━━━━━━━━━━━━━━━━━━━╇━━━━━━━━━━╇━━━━━━╇━━━━━━━━━━━━━━┩",
        "│ 2026-04-08 │ steering box bolts │ 65 ft·lb │ done │ threadlocker │",
        "└────────────┴────────────────────┴──────────┴──────┴──────────────┘",
        "A torque said here is what was said; the maker's service manual decides.",
    ]


def test_piped_it_is_tab_separated_and_never_wrapped(told):
    out = Console(file=io.StringIO(), width=10_000, no_color=True)
    show(lists.torques(told), out)
    assert out.file.getvalue().splitlines()[1] == "2026-04-08\tsteering box bolts\t65 ft·lb\tdone\tthreadlocker"


def test_json_is_the_records(told):
    out = Console(file=io.StringIO())
    show(lists.plans(told), out, as_json=True)
    assert json.loads(out.file.getvalue())[0]["due"] == "2026-04-11"


def test_history_shows_before_and_after(told):
    told.correct("n1.fills.1", {"volume": 18.1})
    table = lists.history(told, 1)
    assert table.rows[0][1] == "correction" and table.rows[0][2] == "+ fill 18.1 gal, to the brim"
    change = table.data[0]["changes"][0]
    assert (change["before"]["data"]["volume"], change["after"]["data"]["volume"]) == (18.4, 18.1)
