"""Score labelled conversations turn by turn: bench_dialogues.py FILE [--show] [ID...].

After each turn the whole store is held against the turn's `expect` (the rules are those of the narrations' README):
rows that must
stand, rows that must be gone, what was answered, asked, undone. A turn is right when everything named holds. The kind
given to
each turn is counted apart.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path
from typing import Any

from comparing import STOP, stem

from diary.assistant import checks
from diary.assistant.conversation import Conversation, Turn
from diary.assistant.spoken import day
from diary.records.derive import OPEN_STATES
from diary.records.diary import Diary
from diary.records.kinds import KINDS
from diary.records.machine import Machine

SAME = {
    "which part": {"which part", "which fault", "which one"},
    "which fault": {"which fault", "which part", "which one"},
}


def words(text: str) -> set[str]:
    return {stem(w) for w in re.findall(r"[a-z0-9.]+", (text or "").lower().replace("tyre", "tire")) if w not in STOP}


def alike(a: str | None, b: str | None, least: float = 0.5) -> bool:
    x, y = words(a or ""), words(b or "")
    return bool(x and y) and len(x & y) / min(len(x), len(y)) >= least


def same(a: Any, b: Any) -> bool:
    if a is None or b is None or isinstance(a, bool) or isinstance(b, bool):
        return a is b or a == b
    return abs(float(a) - float(b)) <= max(abs(float(b)) * 1e-6, 0.0051)


ACTIONS = {
    "greased": "greas",
    "replaced": "replac",
    "tightened": "tighten",
    "adjusted": "adjust",
    "set": "adjust",
    "changed": "replac",
    "fitted": "replac",
}


def fits(record: Any, want: dict[str, Any]) -> bool:
    for name, value in want.items():
        if name == "date":
            if record.at[:10] != value:
                return False
        elif name in ("opened", "closed", "came_back"):
            if (getattr(record, f"{name}_at") or "")[:10] != value:
                return False
        elif name in ("what", "component", "fastener", "of", "name", "where"):
            text = getattr(record, name)
            if record.KIND == "faults" and name in ("what", "component"):
                text = " ".join(x for x in (record.what, record.component, record.where) if x)
                if not (words(value) & words(text)) or not alike(text, value):
                    return False
                # a place said of the component ("top hose") must be there
                for a, b in (("top", "bottom"), ("left", "right"), ("upper", "lower"), ("front", "rear")):
                    for one, other in ((a, b), (b, a)):
                        if one in value.split() and other in text.split() and one not in text.split():
                            return False
                continue
            if value is None:
                if text is not None:
                    return False
            elif name == "where":
                if words(value) != words(text or "") & words(value):
                    return False
            elif not alike(text, value) or (
                record.KIND == "parts"
                and words(value) - words(text or "")
                and len(words(value)) > 1
                and "lower" in value
            ):
                return False
        elif name == "action":
            if ACTIONS.get(record.action, record.action)[:5] != ACTIONS.get(value, value)[:5]:
                return False
        elif name in ("state", "unit", "meter", "quantity", "role"):
            if getattr(record, name) != value:
                return False
        elif not same(getattr(record, name), value):
            return False
    return True


class Scorer:
    """Holds a diary against expectations."""

    def __init__(self, diary: Diary) -> None:
        self.diary = diary

    def rows(self, kind: str) -> list[Any]:
        return self.diary.records(kind)

    def ids(self) -> set[tuple[str, str]]:
        return {(r.id, repr(r)) for k in KINDS for r in self.rows(k)}

    def check(self, turn: Turn, expect: dict[str, Any], before: set[tuple[str, str]]) -> list[str]:
        """What does not hold, as words; empty when all does."""
        wrong: list[str] = []
        for name, want in expect.items():
            if name in KINDS:
                left = list(self.rows(name))
                for row in want:
                    found = next((r for r in left if fits(r, row)), None)
                    if found is None:
                        wrong.append(f"no {name} {row}")
                    else:
                        left.remove(found)
            elif name == "gone":
                wrong += [
                    f"still {k} {row}"
                    for k, rows in want.items()
                    for row in rows
                    if any(fits(r, row) for r in self.rows(k))
                ]
            elif name == "any_of":
                tries = [self.check(turn, one, before) for one in want]
                if all(tries):
                    wrong.append(f"none of any_of: {tries}")
            elif name in ("removed", "restored"):
                if getattr(turn, name) is None or re.findall(r"\d+", want) != re.findall(r"\d+", getattr(turn, name)):
                    wrong.append(f"{name} {getattr(turn, name)!r}")
            elif name == "answer_values":
                got = turn.answer.values if turn.answer else []
                unit = expect.get("unit")
                for value in want:
                    if not any(
                        abs(v["value"] - value) <= max(abs(value) * 0.006, 0.0051)
                        and (unit is None or v["unit"] == unit)
                        for v in got
                    ):
                        wrong.append(f"value {value} {unit} not in {got}")
            elif name == "answer_date":
                if day(want) not in turn.reply and want not in turn.reply:
                    wrong.append(f"date {want}")
            elif name == "answer_has":
                have = words(turn.reply)
                wrong += [f"lacks {w!r}" for w in want if not words(w) <= have and w.lower() not in turn.reply.lower()]
            elif name == "answer_lacks":
                text = turn.reply.lower()
                for thing in expect.get("answer_has", ()):  # "thermostat gasket" is the gasket, not a thermostat
                    text = re.sub(rf"\w+ (?={re.escape(thing)})", " ", text)
                wrong += [f"has {w!r}" for w in want if words(w) <= words(text)]
            elif name == "asks_for":
                got = turn.asks["for"] if turn.asks else None
                if got != want and got not in SAME.get(want, ()):
                    wrong.append(f"asks for {got!r}, not {want!r}")
            elif name == "about":
                about = turn.asks["about"] if turn.asks else None
                text = f"{json.dumps(about)} {turn.reply}"
                for value in want if isinstance(want, list) else want.values() if isinstance(want, dict) else [want]:
                    numbers = [float(x.replace(",", "")) for x in re.findall(r"\d[\d,]*\.?\d*", text)]
                    if not any(same(n, value) for n in numbers):
                        wrong.append(f"asks about {about}, not {value}")
            elif name == "faults_open":
                left = [f for f in self.rows("faults") if f.state in OPEN_STATES]
                for text in want:
                    found = next(
                        (f for f in left if alike(" ".join(x for x in (f.what, f.component, f.where) if x), text, 0.4)),
                        None,
                    )
                    if found is None:
                        wrong.append(f"not open: {text}")
                    else:
                        left.remove(found)
                wrong += [f"open besides: {f.what}" for f in left]
            elif name == "nothing":
                if self.ids() != before:
                    wrong.append("records changed")
            elif name in ("listening", "speaking"):
                if getattr(turn, name) is not want:
                    wrong.append(f"{name} {getattr(turn, name)}")
            elif name == "cannot_say":
                if turn.answer is None or turn.answer.certain or turn.answer.values:
                    wrong.append("says something")
            elif name == "certain":
                if turn.answer is None or turn.answer.certain is not want:
                    wrong.append("certain")
            elif name == "caution":
                if turn.answer is None or not turn.answer.caution:
                    wrong.append("no caution")
            elif name != "unit":
                wrong.append(f"unknown expectation {name}")
        return wrong


def start(data: dict[str, Any], scratch: str) -> Diary:
    """The diary of a conversation with its history read in."""
    now = datetime.fromisoformat(data["now"])
    diary = Diary.open(Path(scratch) / "d.db", now=lambda: now)
    diary.set_machine(Machine(**data["locale"]))
    for note in data["history"]:
        checks.check_entry(diary, diary.add_note(note["text"], note["at"]))
    return diary


def main() -> None:
    args = argparse.ArgumentParser()
    args.add_argument("file", type=Path)
    args.add_argument("ids", nargs="*")
    args.add_argument("--show", action="store_true", help="every turn, not only the wrong ones")
    given = args.parse_args()
    good = total = kinds = 0
    spent: list[float] = []
    for line in given.file.read_text().splitlines():
        data = json.loads(line)
        if given.ids and data["id"] not in given.ids:
            continue
        with tempfile.TemporaryDirectory() as scratch:
            diary = start(data, scratch)
            conversation, scorer = Conversation(diary), Scorer(diary)
            for turn in data["turns"]:
                before = scorer.ids()
                clock = time.perf_counter()
                try:
                    made = conversation.turn(turn["say"])
                except Exception as error:
                    if given.show:
                        raise
                    made = Turn(turn["say"], "error", repr(error))
                spent.append(time.perf_counter() - clock)
                wrong = scorer.check(made, turn["expect"], before)
                good, total, kinds = good + (not wrong), total + 1, kinds + (made.kind == turn["kind"])
                if wrong or given.show:
                    print(
                        f"{'WRONG' if wrong else '  ok '} {data['id']} {turn['say']!r} [{made.kind}/{turn['kind']}] "
                        f"-> {made.reply!r} {made.asks or ''}"
                    )
                    for w in wrong:
                        print(f"         {w}")
            diary.close()
    spent.sort()
    print(
        f"{good}/{total} = {good / total:.3f} of turns; kinds {kinds}/{total}; median "
        f"{spent[len(spent) // 2] * 1e3:.0f} ms, most {spent[-1] * 1e3:.0f} ms"
    )


if __name__ == "__main__":
    sys.exit(main())
