"""The published schema: it is the one in the file, and exports keep to it."""

from __future__ import annotations

import json
from importlib.resources import files

import pytest

from diary.errors import DiaryError
from diary.records.exporting import document
from diary.records.schema import check, schema
from tests.records.test_diary import diary  # noqa: F401


def test_the_published_file_is_the_schema_of_the_classes():
    published = json.loads(files("diary.records").joinpath("build-diary-1.schema.json").read_text())
    assert published == schema(), "write it again: python -m diary.records.schema"


def test_the_schema_is_itself_valid():
    """JSON Schema draft 2020-12's own meta-schema (json-schema.org), by the jsonschema library."""
    from jsonschema import Draft202012Validator

    Draft202012Validator.check_schema(schema())


def test_an_export_is_valid(diary):  # noqa: F811
    for day, text in enumerate(["fill 12 at 40310", "fill 10 at 40510", "wet seal", "seal dry", "need seal"], 1):
        diary.add_note(text, f"2026-05-0{day}T10:00")
    whole = document(diary)
    check(whole)
    assert whole["economy"][0]["value"] == pytest.approx(20.0)
    assert whole["faults"][0]["closed_in_note"] == "n4"


def test_what_is_not_valid_is_named(diary):  # noqa: F811
    diary.add_note("fill 12 at 40310", "2026-05-01T10:00")
    whole = document(diary)
    whole["fills"][0]["unit"] = "bucket"
    with pytest.raises(DiaryError, match="not valid at fills/0/unit"):
        check(whole)
