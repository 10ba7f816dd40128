"""The published JSON Schema of the export, made from the record classes.

`build-diary-1.schema.json` beside this file is what is published; a test holds it against `schema()`.
Written for JSON Schema draft 2020-12.
"""

from __future__ import annotations

import types
from dataclasses import fields
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from diary.records.kinds import KINDS, Record
from diary.records.machine import CHOICES, Machine

FORMAT = "build-diary/1"

FIXED: dict[tuple[str, str], list[str]] = {
    ("readings", "meter"): ["odometer", "trip", "hours"],
    ("resets", "meter"): ["odometer", "trip", "hours"],
    ("torques", "role"): ["target", "applied"],
    ("torques", "unit"): ["ft_lb", "in_lb", "N_m"],
    ("fills", "unit"): ["gal_us", "gal_imp", "L"],
    ("readings", "unit"): ["mi", "km", "h"],
    ("parts", "state"): ["needed", "ordered", "bought", "fitted", "removed", "spare"],
    ("faults", "state"): ["found", "suspected", "waiting", "back", "fixed", "proven", "ruled_out"],
    ("plans", "state"): ["open", "done", "dropped"],
    ("shots", "state"): ["wanted", "missed", "filmed"],
}


def _type(hint: Any) -> dict[str, Any]:
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        parts = [_type(a) for a in get_args(hint) if a is not type(None)]
        made = dict(parts[0])
        if type(None) in get_args(hint):
            made["type"] = [made["type"], "null"]
        return made
    if origin is tuple:
        items = get_args(hint)
        return {"type": "array", "items": _type(items[0]), "minItems": len(items), "maxItems": len(items)}
    if origin is list:
        return {"type": "array", "items": _type(get_args(hint)[0])}
    if origin is dict:
        return {"type": "object"}
    if hint is Any:
        return {}
    names = {str: "string", float: "number", int: "integer", bool: "boolean"}
    return {"type": names[hint]}


def _record(cls: type[Record]) -> dict[str, Any]:
    hints = get_type_hints(cls)
    properties: dict[str, Any] = {}
    for f in fields(cls):
        made = _type(hints[f.name])
        allowed = FIXED.get((cls.KIND, f.name))
        if allowed:
            made["enum"] = [*allowed, None] if isinstance(made["type"], list) else allowed
        properties[f.name] = made
    properties["confidence"] |= {"minimum": 0, "maximum": 1}
    return {
        "description": (cls.__doc__ or "").strip(), "type": "object", "properties": properties,
        "required": list(properties), "additionalProperties": False,
    }  # fmt: skip


@cache
def schema() -> dict[str, Any]:
    """The schema of `diary export --json`."""
    note = {
        "type": "object",
        "properties": {
            "id": {"type": "string"}, "at": {"type": "string"}, "text": {"type": "string"},
            "source": {"type": ["string", "null"]}, "heard": {"type": ["string", "null"]},
            "audio": {"type": ["string", "null"]}, "turn": {"type": "string"},
        },
        "required": ["id", "at", "text", "source"],
        "additionalProperties": False,
    }  # fmt: skip
    machine_hints = get_type_hints(Machine)
    machine = {f.name: _type(machine_hints[f.name]) for f in fields(Machine)}
    for name, allowed in CHOICES.items():
        machine[name]["enum"] = list(allowed)
    span = {
        "type": "object",
        "properties": {
            "from_note": {"type": "string"}, "to_note": {"type": "string"}, "from_at": {"type": "string"},
            "to_at": {"type": "string"}, "distance": {"type": "number"}, "distance_unit": {"type": "string"},
            "fuel": {"type": "number"}, "fuel_unit": {"type": "string"}, "value": {"type": "number"},
            "unit": {"type": "string"}, "plus_minus": {"type": ["number", "null"]}, "estimated": {"type": "boolean"},
            "flags": {"type": "array", "items": {"type": "string"}},
        },
        "required": ["from_note", "to_note", "distance", "fuel", "value", "unit", "plus_minus"],
        "additionalProperties": False,
    }  # fmt: skip
    properties: dict[str, Any] = {
        "format": {"const": FORMAT},
        "machine": {"type": "object", "properties": machine, "required": ["name"], "additionalProperties": False},
        "notes": {"type": "array", "items": note},
    }
    properties |= {kind: {"type": "array", "items": _record(cls)} for kind, cls in KINDS.items()}
    properties["economy"] = {"type": "array", "items": span}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Build diary export",
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def check(document: Any) -> None:
    """Raise `DiaryError` naming the first place where `document` is not a valid export."""
    from jsonschema import Draft202012Validator

    from diary.errors import DiaryError

    error = next(iter(sorted(Draft202012Validator(schema()).iter_errors(document), key=lambda e: list(map(str, e.path)))), None)
    if error is not None:
        where = "/".join(str(p) for p in error.path) or "the top"
        raise DiaryError(f"The export is not valid at {where}: {error.message}.")


if __name__ == "__main__":
    import json
    from pathlib import Path

    target = Path(__file__).with_name("build-diary-1.schema.json")
    target.write_text(json.dumps(schema(), indent=1) + "\n", encoding="utf-8")
