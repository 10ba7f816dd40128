"""The command line as a person meets it: wrong input gets one sentence, and nothing is lost."""

from __future__ import annotations

import json
import re
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from diary.cli import build_parser, main
from diary.records.schema import check

ROOT = Path(__file__).parents[1]
NOW = ["--now", "2026-05-20T18:00"]


@pytest.fixture
def run(tmp_path, capsys):
    """Run a command on a diary of its own; gives (exit code, output, errors)."""

    def command(*args: str, db: str = "d.db") -> tuple[int, str, str]:
        code = main(["--db", str(tmp_path / db), *NOW, *args])
        told = capsys.readouterr()
        return code, told.out, told.err

    return command


def notes_file(folder: Path) -> Path:
    path = folder / "notes.jsonl"
    rows = [
        {"at": "2026-05-01T18:00", "text": "filled it to the brim fourteen gallons odometer sixty one thousand even"},
        {"at": "2026-05-08T18:00", "text": "filled it to the brim fifteen gallons odometer sixty one thousand two forty"},
        {"at": "2026-05-09T10:00", "text": "the rear output seal on the transfer case is weeping it can wait"},
    ]
    path.write_text("".join(json.dumps(r) + "\n" for r in rows))
    return path


def test_notes_to_export_that_validates(run, tmp_path):
    assert run("machine", "add", "Bramble", "--distance", "mi", "--volume", "gal_us")[0] == 0
    code, out, _ = run("import", str(notes_file(tmp_path)))
    assert code == 0 and out.startswith("3 notes added, 0 were here already")
    code, out, _ = run("import", str(notes_file(tmp_path)))
    assert code == 0 and out.startswith("0 notes added, 3 were here already, 0 records written")
    code, out, _ = run("export", "--json")
    whole = json.loads(out)
    check(whole)
    assert whole["economy"][0]["value"] == pytest.approx(16.0)  # 240 mi on 15 gal
    assert [f["state"] for f in whole["faults"]] == ["waiting"]


def test_csv_export(run, tmp_path):
    run("import", str(notes_file(tmp_path)))
    code, out, _ = run("export", "--csv", str(tmp_path / "csv"))
    assert code == 0 and len(out.splitlines()) == 14
    assert (tmp_path / "csv" / "economy.csv").read_text().splitlines()[0].startswith("from_note,to_note")


def test_lists_print_json_that_loads(run, tmp_path):
    run("import", str(notes_file(tmp_path)))
    for name in ("faults", "parts", "fuel", "torques", "watch", "plans", "gaps", "notes", "history"):
        code, out, _ = run(name, "--json")
        assert code == 0 and isinstance(json.loads(out), list), name


def test_undo_and_redo(run, tmp_path):
    run("import", str(notes_file(tmp_path)))
    assert run("undo")[1].startswith("Took back the note: the rear output seal")
    assert run("faults")[1].strip() == "No open faults."
    assert run("redo")[1].startswith("Put back the note")
    assert "seal" in run("faults")[1]


def picture(path: Path) -> None:
    """A PNG of one pixel (PNG specification, minimal file), under a wrong name."""
    path.write_bytes(
        bytes.fromhex(
            "89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000d49444154789c6360000002000001e221bc33"
            "0000000049454e44ae426082"
        )
    )


@pytest.mark.parametrize(
    "make,args,sentence",
    [
        (None, ["import", "{}/none.wav"], "There is no file"),
        (picture, ["import", "{}/x.wav"], "x.wav"),
        (lambda p: p.write_bytes(b""), ["import", "{}/x.wav"], "empty"),
        (lambda p: p.write_text("{}\n"), ["import", "{}/x.jsonl"], "line 1: each line must be a JSON object"),
        (lambda p: p.mkdir(), ["import", "{}/x"], "holds no sound"),
        (None, ["restore", "{}/none.db"], "There is no backup"),
        (None, ["machine", "add"], "needs the machine's name"),
        (None, ["machine", "add", "a", "--volume", "buckets"], "use one of gal_us, gal_imp, L"),
        (None, ["machine", "change", "b"], "no machine named 'b'"),
        (None, ["machine", "add", "a", "--tank", "-3"], "cannot be right"),
        (None, ["episode"], "no note in those days"),
        (None, ["calc", "no-such-calculator"], "no-such-calculator"),
        (None, ["models", "install"], "Name the model to install"),
        (lambda p: p.mkdir(), ["doctor", "--models-folder", "{}/x"], None),
    ],
)
def test_wrong_input_gets_one_sentence_and_no_traceback(run, tmp_path, make, args, sentence):
    named = next((a for a in args if a.startswith("{}/x")), None)
    if make and named:
        make(Path(named.format(tmp_path)))
    code, out, err = run(*[a.format(tmp_path) for a in args])
    assert code == 1
    assert "Traceback" not in out + err
    if sentence:
        assert sentence in err and len(err.strip().splitlines()) == 1, err


def test_a_model_folder_without_a_model(run, tmp_path):
    (tmp_path / "empty").mkdir()
    run("import", str(notes_file(tmp_path)))
    code, _, err = run("import", str(ROOT / "demo_audio" / "05.ogg"), "--engine", str(tmp_path / "empty"))
    assert code == 1 and "no speech model in it" in err and len(err.strip().splitlines()) == 1
    assert len(json.loads(run("notes", "--json")[1])) == 3


def test_a_store_from_a_newer_version(run, tmp_path):
    run("import", str(notes_file(tmp_path)))
    with sqlite3.connect(tmp_path / "d.db") as conn:
        conn.execute("PRAGMA user_version=99")
    code, _, err = run("faults")
    assert code == 1 and "newer version" in err and len(err.strip().splitlines()) == 1
    with sqlite3.connect(tmp_path / "d.db") as conn:
        assert conn.execute("SELECT count(*) FROM notes").fetchone()[0] == 3


def test_options_stand_before_or_after_the_command(tmp_path, capsys):
    db = str(tmp_path / "d.db")
    assert main(["--db", db, "--json", "notes"]) == 0
    assert main(["notes", "--db", db, "--json"]) == 0
    first, second = capsys.readouterr().out.split("\n", 1)
    assert first == "[]" and second.strip() == "[]"


def test_a_question_does_not_load_what_it_does_not_need(tmp_path):
    """Law 7, cheap to start: none of the heavy libraries is imported to answer from records."""
    main(["--db", str(tmp_path / "d.db"), *NOW, "import", str(notes_file(tmp_path))])
    heavy = ["spacy", "faster_whisper", "vosk", "ctranslate2", "dateparser", "matplotlib", "av", "CoolProp", "scipy"]
    code = (
        "import sys; from diary.cli import main; "
        f"main(['--db', {str(tmp_path / 'd.db')!r}, '--now', '2026-05-20T18:00', 'ask', 'what economy do I get']); "
        f"print([m for m in {heavy!r} if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT).stdout
    assert out.splitlines()[-1] == "[]"
    assert "16" in out


def test_every_command_of_the_readme_exists_and_every_command_is_in_it():
    """The documentation may not lag."""
    readme = (ROOT / "README.md").read_text()
    actions = [a for a in build_parser()._actions if hasattr(a, "choices") and a.choices]
    commands = set(next(a for a in actions if isinstance(a.choices, dict)).choices)
    table = readme[readme.index("| command | does |") : readme.index("Every command takes")]
    told = set(re.findall(r"`(?:diary )?([a-z]+)", table))
    assert commands <= told
    assert set(re.findall(r"^diary ([a-z]+)", readme, re.MULTILINE)) <= commands


def test_the_readme_has_exactly_two_set_up_commands_and_ci_runs_the_second():
    readme = (ROOT / "README.md").read_text()
    setup = [block for block in re.findall(r"```sh\n(.*?)```", readme, re.DOTALL) if "pip install" in block]
    assert len(setup) == 2 and all(len(block.strip().splitlines()) == 1 for block in setup)
    assert setup[0].strip().endswith("diary demo") and setup[1].strip().endswith("-m pytest")
    assert "<!-- tests -->" in (ROOT / ".ci" / "run").read_text()


def test_each_dependency_has_its_reason_in_the_contributors_guide():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    named = [*project["dependencies"], *(d for extra in project["optional-dependencies"].values() for d in extra)]
    guide = (ROOT / "DEVELOPERS.md").read_text()
    missing = [d for d in named if re.split(r"[<>=\[ ]", d)[0] not in guide]
    assert missing == []


def test_a_persons_own_words_stand_beside_the_diary(run, tmp_path):
    from diary.language import lexicon

    (tmp_path / "words.toml").write_text('[[word]]\nname = "fridge slide"\nspoken = ["the drawer"]\n')
    try:
        assert run("notes")[0] == 0
        assert [h.name for h in lexicon.load().find("greased the drawer") if h.kind == "component"] == ["fridge slide"]
        (tmp_path / "other").mkdir()
        (tmp_path / "other" / "words.toml").write_text("[[word]]\nspoken = 3\n")
        code, _, err = run("notes", db="other/d.db")
        assert code == 1 and "words.toml" in err and len(err.strip().splitlines()) == 1
    finally:
        lexicon.use_words(None)
