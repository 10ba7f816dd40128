"""The command line: a thin door. Each command parses its options, calls the rooms, and shows what they give."""

from __future__ import annotations

import argparse
import json
import logging
import os
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diary.errors import DiaryError

if TYPE_CHECKING:
    from diary.records.diary import Diary


def main(argv: list[str] | None = None) -> int:
    """Run one command; the exit code is 0, 1 for an error that a sentence explains, 2 for wrong usage, 130 when interrupted."""
    parser = build_parser()
    options = parser.parse_args(argv)
    if not hasattr(options, "run"):
        parser.print_help()
        return 2


    logging.basicConfig(level=logging.ERROR if "BUILD_DIARY_DEBUG" not in os.environ else logging.DEBUG)
    try:
        return options.run(options) or 0
    except DiaryError as error:
        print(f"diary: {error}", file=sys.stderr)
        return 1
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("diary: stopped; what was written is kept.", file=sys.stderr)
        return 130


# -- options ------------------------------------------------------------------------------------------------------------


def iso_time(text: str) -> datetime:
    """An ISO time as an option's value."""
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not an ISO time such as 2026-05-04T18:05") from None


def common(parser: argparse.ArgumentParser, default: Any) -> None:
    """The options every command takes, before or after its name."""
    group = parser.add_argument_group("which diary")
    group.add_argument("--db", metavar="FILE", type=Path, default=default, help="the diary file (default: in your data folder)")
    group.add_argument("--machine", metavar="NAME", dest="machine_name", default=default, help="which machine it is about")
    group.add_argument("--now", metavar="ISO-TIME", type=iso_time, default=default, help="the clock (default: the real one)")
    group.add_argument("--json", action="store_true", default=default or False, help="print JSON")


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = argparse.ArgumentParser(
        prog="diary", description="A build diary that listens: say what you do to the machine, ask it weeks later."
    )
    common(parser, None)
    commands = parser.add_subparsers(metavar="COMMAND", title="commands")

    def command(name: str, run: Callable[[argparse.Namespace], int | None], help: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=help, description=help)
        common(sub, argparse.SUPPRESS)
        sub.set_defaults(run=run)
        return sub

    p = command("demo", demo, "hear the demo recordings, keep records, compute, answer and write an episode")
    p.add_argument("--folder", type=Path, help="where to put the diary and the episode (default: a new scratch folder)")
    p.add_argument("--recordings", type=Path, help=argparse.SUPPRESS)

    p = command("machine", machine, "add or change a machine, or list them")
    p.add_argument("action", nargs="?", choices=["add", "change", "list"], default="list")
    p.add_argument("name", nargs="?", help="its name")
    p.add_argument("--distance", help="mi, km or h (engine hours)")
    p.add_argument("--volume", help="gal_us, gal_imp or L")
    p.add_argument("--torque", help="ft_lb, in_lb or N_m")
    p.add_argument("--pressure", help="psi, bar or kPa")
    p.add_argument("--currency", help="USD, GBP, EUR ...")
    p.add_argument("--fuel", help="gasoline, diesel, two_stroke_mix or other")
    p.add_argument("--tank", type=float, help="tank size in the machine's volume unit")
    p.add_argument("--tank-name", action="append", help="the name of each tank, where there are several")
    p.add_argument("--rollover", type=float, help="where the odometer wraps, such as 100000, if it does")
    p.add_argument("--meter-factor", type=float, help="true distance over the odometer's distance")
    p.add_argument("--tyres", help="tyre size fitted, such as 285/70R17")
    p.add_argument("--tyres-calibrated", help="tyre size the odometer was made for")
    p.add_argument("--nickname", action="append", help="another name you call it")
    p.add_argument("--other", action="append", help="a machine you talk about that is not this one")

    p = command("chat", chat, "a typed conversation, or turns from standard input")
    p.add_argument("--voice", action="store_true", help="speak the replies")

    p = command("listen", listen, "the same by voice, hands-free, with spoken replies")
    p.add_argument("--from", dest="sound", type=Path, metavar="FILE", help="a sound file played at real speed as the microphone")
    p.add_argument("--engine", help="vosk or whisper (default: what fits this computer)")
    p.add_argument("--device", help="which microphone")
    p.add_argument("--quiet", action="store_true", help="no spoken replies")
    p.add_argument("--always", action="store_true", help="write everything down without waiting for the wake phrase")

    p = command("import", import_, "bring in sound, film, captions, text or JSON lines; twice changes nothing")
    p.add_argument("paths", nargs="+", metavar="PATH", help="files or folders")
    p.add_argument("--engine", help="vosk or whisper (default: what fits this computer)")
    p.add_argument("--at", type=iso_time, help="when the first second was recorded (default: what the file says)")

    p = command("ask", ask, "answer one question from the records; for ten minutes the next one may go on from it")
    p.add_argument("question", nargs="+")

    for name, everything, help in (
        ("faults", True, "what is wrong and still open"),
        ("parts", True, "parts to buy and parts on order"),
        ("fuel", False, "fuel economy from brim to brim"),
        ("torques", False, "what was torqued to what"),
        ("watch", False, "what to check before the next drive"),
        ("plans", True, "what is to be done, and when"),
        ("gaps", False, "questions that wait for an answer"),
        ("notes", False, "the notes as they were said"),
    ):
        p = command(name, list_, help)
        p.set_defaults(which=name)
        if everything:
            p.add_argument("--all", action="store_true", dest="everything", help="closed ones too")
    p = command("history", list_, "what changed, before and after")
    p.set_defaults(which="history")
    p.add_argument("--limit", type=int, default=20)

    p = command("undo", undo, "take back the last change, or the last N")
    p.add_argument("n", type=int, nargs="?", default=1)
    p = command("redo", redo, "put back what was taken back")
    p.add_argument("n", type=int, nargs="?", default=1)

    p = command("episode", episode, "write the story: Markdown, HTML, chapters, captions")
    p.add_argument("--since", help="first day, such as 2026-05-04")
    p.add_argument("--until", help="last day")
    p.add_argument("--title")
    p.add_argument("--to", type=Path, default=Path("episode"), metavar="FOLDER", help="where to write (default: episode)")

    p = command("calc", calc, "a calculator by hand; without a name, the list of them")
    p.add_argument("name", nargs="?")
    p.add_argument("arguments", nargs=argparse.REMAINDER)

    p = command("export", export, "the whole diary as JSON, or as CSV tables")
    p.add_argument("--csv", metavar="FOLDER", type=Path, help="write one CSV file a kind into FOLDER")

    p = command("backup", backup, "a whole copy of the diary file")
    p.add_argument("file", type=Path)
    p = command("restore", restore, "put a backup in the diary's place; the old file is kept beside it")
    p.add_argument("file", type=Path)
    command("reread", reread, "derive every record again from the notes with today's readers")

    p = command("models", models, "recogniser models: list them, or install one")
    p.add_argument("action", nargs="?", choices=["list", "install"], default="list")
    p.add_argument("model", nargs="?", help="a name from the list, a URL, or a local archive")
    p.add_argument("--sha256", help="the checksum that the archive must have")
    p.add_argument("--models-folder", type=Path, help="where models are kept")
    p = command("doctor", doctor, "what works on this computer, and how to get what does not")
    p.add_argument("--models-folder", type=Path, help="where models are kept")
    return parser


# -- helpers ------------------------------------------------------------------------------------------------------------


def default_db() -> Path:
    """The diary file in the user's data folder, or where BUILD_DIARY_DB says."""
    if named := os.environ.get("BUILD_DIARY_DB"):
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("build-diary") / "diary.db"


def open_diary(options: argparse.Namespace, machine_name: str | None = None) -> Diary:
    """The diary that the options name, with its clock."""
    from diary.records.diary import Diary

    now, file = options.now, options.db or default_db()
    clock = (lambda: now) if now is not None else None
    words = Path(os.environ.get("BUILD_DIARY_WORDS") or file.parent / "words.toml")
    if words.is_file() or "BUILD_DIARY_WORDS" in os.environ:
        from diary.language.lexicon import use_words

        use_words(words)
    return Diary.open(file, now=clock, machine=machine_name or options.machine_name)


def out() -> Any:
    """The terminal for results."""
    from diary.reports.terminal import console

    return console()


def print_json(value: Any) -> None:
    """One JSON document on standard output."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=1) + "\n")


# -- commands -----------------------------------------------------------------------------------------------------------


def demo(options: argparse.Namespace) -> int:
    """`diary demo`."""
    from diary.reports.demo import run

    result = run(options.folder, out() if not options.json else None, recordings=options.recordings)
    if options.json:
        print_json(result)
    return 0


def machine(options: argparse.Namespace) -> int:
    """`diary machine`."""
    from diary.records.diary import Diary
    from diary.records.machine import as_row, machine_from

    now = options.now
    diary = Diary.open(options.db or default_db(), now=(lambda: now) if now else None)
    known = {m.name: m for m in diary.machines()}
    if options.action == "list":
        if options.json:
            print_json([as_row(m) for m in known.values()])
            return 0
        for m in known.values():
            print(f"{m.name}: {m.distance}, {m.volume}, {m.torque}, {m.pressure}" + (f", tank {m.tank:g}" if m.tank else ""))
        if not known:
            print("No machine yet; add one: diary machine add NAME --distance mi --volume gal_us")
        return 0
    if not options.name:
        raise DiaryError(f"`diary machine {options.action}` needs the machine's name.")
    if options.action == "change" and options.name not in known:
        raise DiaryError(f"There is no machine named {options.name!r} to change; `diary machine` lists them.")
    row = as_row(known[options.name]) if options.name in known else {"name": options.name}
    for field in ("distance", "volume", "torque", "pressure", "currency", "fuel", "tank", "tyres", "rollover"):
        if getattr(options, field) is not None:
            row[field] = getattr(options, field)
    if options.meter_factor is not None:
        row["meter_factor"] = options.meter_factor
    if options.tyres_calibrated is not None:
        row["tyres_calibrated"] = options.tyres_calibrated
    row["tanks"] = options.tank_name or row.get("tanks", [])
    row["nicknames"] = [*row.get("nicknames", []), *(options.nickname or [])]
    row["others"] = [*row.get("others", []), *(options.other or [])]
    made = machine_from(row)
    diary.set_machine(made)
    if options.json:
        print_json(as_row(made))
    else:
        print(f"{made.name}: {made.distance}, {made.volume}, {made.torque}, {made.pressure}.")
    return 0


def chat(options: argparse.Namespace) -> int:
    """`diary chat`."""
    from diary.reports.door import typed

    return typed(open_diary(options), as_json=options.json, voice=options.voice)


def listen(options: argparse.Namespace) -> int:
    """`diary listen`."""
    from diary.reports.door import by_voice

    return by_voice(
        open_diary(options), sound=options.sound, engine=options.engine, device=options.device, quiet=options.quiet,
        always=options.always, as_json=options.json,
    )  # fmt: skip


def import_(options: argparse.Namespace) -> int:
    """`diary import`."""
    from diary.assistant.intake import bring_in
    from diary.reports.terminal import console, progress

    with progress(None if options.json else console(stderr=True), "importing") as told:
        result = bring_in(
            open_diary(options), [Path(p) for p in options.paths], engine=options.engine, at=options.at, told=told
        )
    if options.json:
        print_json(result)
    else:
        print(
            f"{result['new']} notes added, {result['known']} were here already, {result['records']} records written"
            + (f", {result['asks']} questions waiting (diary gaps)" if result["asks"] else "") + "."
        )  # fmt: skip
        for sentence in result["failed"]:
            print(f"diary: {sentence}", file=sys.stderr)
    return 1 if result["failed"] else 0


def ask(options: argparse.Namespace) -> int:
    """`diary ask`."""
    from diary.assistant.answers import ask_on

    diary = open_diary(options)
    answer = ask_on(diary, " ".join(options.question), diary.now())
    if options.json:
        print_json({"answer": answer.answer, "values": answer.values, "records": answer.records, "certain": answer.certain})
    else:
        print(answer.answer)
    return 0


def list_(options: argparse.Namespace) -> int:
    """`diary faults`, `parts`, `fuel`, `torques`, `watch`, `plans`, `gaps`, `notes`, `history`."""
    from diary.reports import lists
    from diary.reports.terminal import show

    diary = open_diary(options)
    extra: dict[str, Any] = {}
    if hasattr(options, "everything"):
        extra["everything"] = options.everything
    if options.which == "history":
        extra["limit"] = options.limit
    show(getattr(lists, options.which)(diary, **extra), out(), options.json)
    return 0


def _told(entries: list[Any], options: argparse.Namespace, did: str, nothing: str) -> int:
    from diary.reports.lists import summary

    if options.json:
        print_json([{"id": e.id, "what": e.what, "at": e.at} for e in entries])
    elif not entries:
        print(nothing)
    for entry in entries if not options.json else []:
        about = f": {entry.note.text[:60]}" if entry.note else "".join(f": {summary(r)}" for r in entry.written[:1])
        print(f"{did} {entry.what}{about}")
    return 0


def undo(options: argparse.Namespace) -> int:
    """`diary undo`."""
    return _told(open_diary(options).undo(options.n), options, "Took back the", "There is nothing to take back.")


def redo(options: argparse.Namespace) -> int:
    """`diary redo`."""
    return _told(open_diary(options).redo(options.n), options, "Put back the", "There is nothing to put back.")


def episode(options: argparse.Namespace) -> int:
    """`diary episode`."""
    from diary.reports.episode import write

    written = write(open_diary(options), options.to, since=options.since, until=options.until, title=options.title)
    if options.json:
        print_json({k: str(v) for k, v in written.items()})
    else:
        for what, path in written.items():
            print(f"{what}: {path}")
    return 0


def calc(options: argparse.Namespace) -> int:
    """`diary calc`."""
    from diary.calculators import catalogue

    arguments = [a for a in options.arguments if a != "--json"]
    as_json = options.json or "--json" in options.arguments
    if not options.name:
        print(catalogue.overview())
        return 0
    answer = catalogue.run(options.name, arguments)
    if as_json:
        print_json({"answer": answer.text, "values": answer.values, "caution": answer.caution})
    else:
        print(answer.text)
        if answer.caution:
            print(answer.caution)
    return 0


def export(options: argparse.Namespace) -> int:
    """`diary export`."""
    from diary.records import exporting

    diary = open_diary(options)
    if options.csv:
        for path in exporting.to_csv(diary, options.csv):
            print(path)
    else:
        sys.stdout.write(exporting.to_json(diary) + "\n")
    return 0


def backup(options: argparse.Namespace) -> int:
    """`diary backup`."""
    from diary.records import store

    source = options.db or default_db()
    if not source.is_file():
        raise DiaryError(f"There is no diary at {source} to back up.")
    store.backup(store.connect(source), options.file)
    print(f"Backed up to {options.file}.")
    return 0


def restore(options: argparse.Namespace) -> int:
    """`diary restore`."""
    from diary.records import store

    target = options.db or default_db()
    kept = store.restore(options.file, target)
    print(f"Restored {target}" + (f"; what was there is kept as {kept}." if kept else "."))
    return 0


def reread(options: argparse.Namespace) -> int:
    """`diary reread`."""
    from diary.reports.terminal import console, progress

    diary = open_diary(options)
    with progress(None if options.json else console(stderr=True), "reading notes again") as step:
        entry = diary.reread(lambda done, whole: step("reading notes again", done, whole))
    if options.json:
        print_json({"written": len(entry.written), "gone": len(entry.gone)})
    else:
        print(f"Read {len(diary.notes())} notes again: {len(entry.written)} records changed or new, {len(entry.gone)} gone.")
    return 0


def models(options: argparse.Namespace) -> int:
    """`diary models`."""
    from diary.reports import setup

    return setup.models(options.action, options.model, options.sha256, options.models_folder, options.json)


def doctor(options: argparse.Namespace) -> int:
    """`diary doctor`."""
    from diary.reports import setup

    return setup.doctor(options.models_folder, options.json)


if __name__ == "__main__":
    sys.exit(main())
