"""The JSON Schema of a case: complete, closed, and true of the cases that ship."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from copy import deepcopy
from importlib.resources import files
from typing import Any

import pytest

from appraise import services

SCHEMA = services.case_schema()
PLAIN: dict[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "null": (type(None),),
    "integer": (int,),
    "number": (int, float),
}
BOUNDS = {
    "minimum": lambda value, bound: value >= bound,
    "maximum": lambda value, bound: value <= bound,
    "exclusiveMinimum": lambda value, bound: value > bound,
    "exclusiveMaximum": lambda value, bound: value < bound,
    "minLength": lambda value, bound: len(value) >= bound,
    "maxLength": lambda value, bound: len(value) <= bound,
    "minItems": lambda value, bound: len(value) >= bound,
    "maxItems": lambda value, bound: len(value) <= bound,
    "pattern": lambda value, bound: re.search(bound, value) is not None,
    "enum": lambda value, bound: value in bound,
    "const": lambda value, bound: value == bound,
}
"""The words of JSON Schema 2020-12 (Validation, section 6; from memory) that are used here."""
NUMBERS = ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")
TEXTS = ("minLength", "maxLength", "pattern")
LISTS = ("minItems", "maxItems")
SPEECH = {"title", "description", "default", "type", "$defs", "format"}
SHAPE = {"$ref", "anyOf", "properties", "required", "additionalProperties", "items"}


def is_type(value: Any, name: str) -> bool:
    """Whether a value is of a type; a boolean is no number, though Python counts it as one."""
    if isinstance(value, bool):
        return name == "boolean"
    return isinstance(value, PLAIN[name])


def applies(word: str, value: Any) -> bool:
    """Whether a word speaks of values like this one; those of other types it lets through."""
    if word in NUMBERS:
        return is_type(value, "number")
    return isinstance(value, {**dict.fromkeys(TEXTS, str), **dict.fromkeys(LISTS, list)}[word])


def faults(value: Any, rule: dict[str, Any], path: str = "") -> Iterator[str]:
    """Yield where a value breaks a schema."""
    if "$ref" in rule:
        yield from faults(value, SCHEMA["$defs"][rule["$ref"].rsplit("/", 1)[1]], path)
    if "anyOf" in rule and all(list(faults(value, one, path)) for one in rule["anyOf"]):
        yield f"{path}: none of the choices"
    if "type" in rule and not is_type(value, rule["type"]):
        yield f"{path}: no {rule['type']}"
        return
    for word in rule.keys() & BOUNDS.keys():
        counts = word in ("enum", "const") or applies(word, value)
        if counts and not BOUNDS[word](value, rule[word]):
            yield f"{path}: {word}"
    if isinstance(value, list) and "items" in rule:
        for at, one in enumerate(value):
            yield from faults(one, rule["items"], f"{path}[{at}]")
    if isinstance(value, dict):
        yield from faults_of_fields(value, rule, path)


def faults_of_fields(value: dict[str, Any], rule: dict[str, Any], path: str) -> Iterator[str]:
    known = rule.get("properties", {})
    yield from (f"{path}.{name}: missing" for name in rule.get("required", ()) if name not in value)
    for name, one in value.items():
        if name in known:
            yield from faults(one, known[name], f"{path}.{name}")
        elif rule.get("additionalProperties") is False:
            yield f"{path}.{name}: unknown"


def nodes(rule: Any) -> Iterator[dict[str, Any]]:
    """Yield every schema within a schema."""
    if isinstance(rule, dict):
        yield rule
        for word in ("$defs", "properties"):
            for one in rule.get(word, {}).values():
                yield from nodes(one)
        for one in rule.get("anyOf", ()):
            yield from nodes(one)
        if "items" in rule:
            yield from nodes(rule["items"])


def shipped() -> list[dict[str, Any]]:
    folder = files("demo_cases")
    found = [one for one in folder.iterdir() if one.name.endswith(".json")]
    return [json.loads(one.read_text(encoding="utf-8")) for one in found]


def test_the_schema_uses_no_word_that_is_not_checked_here() -> None:
    used = {word for node in nodes(SCHEMA) for word in node}

    assert used <= SPEECH | SHAPE | set(BOUNDS)


def test_every_object_of_the_schema_is_closed() -> None:
    objects = [node for node in nodes(SCHEMA) if node.get("type") == "object"]

    assert len(objects) > 10
    assert all(node["additionalProperties"] is False for node in objects)


def test_every_reference_of_the_schema_leads_somewhere() -> None:
    aims = {node["$ref"] for node in nodes(SCHEMA) if "$ref" in node}

    assert {aim.rsplit("/", 1)[1] for aim in aims} == set(SCHEMA["$defs"])


def test_the_cases_that_ship_are_valid_as_written_and_as_exported() -> None:
    for raw in shipped():
        assert list(faults(raw, SCHEMA)) == [], raw["id"]
    for case in services.example_cases():
        assert list(faults(json.loads(services.case_text(case)), SCHEMA)) == [], case.id


@pytest.mark.parametrize(
    ("way", "value"),
    [
        (("color",), "red"),
        (("title",), 5),
        (("draws",), 10),
        (("draws",), True),
        (("currency",), "usd"),
        (("vehicle", "color"), "red"),
        (("vehicle", "model_year"), 1800),
        (("vehicle", "odometer", "unit"), "miles"),
        (("vehicle", "odometer", "value"), -1),
        (("findings", 0, "state"), "broken"),
        (("deal", "confidence"), 1),
        (("schema_version",), 6),
    ],
)
def test_the_schema_refuses_what_the_program_refuses(way: tuple[Any, ...], value: Any) -> None:
    """So an editor that knows the schema marks the same places."""
    raw = deepcopy(shipped()[0])
    place: Any = raw
    for part in way[:-1]:
        place = place[part]
    place[way[-1]] = value

    assert list(faults(raw, SCHEMA)) != []
