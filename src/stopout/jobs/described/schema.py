"""The JSON Schema (draft 2020-12) of the job file, made from its definition.

The schema judges what TOML gives (tables as objects). It knows forms, units, defaults and which
tables and keys exclude or require each other; bounds between quantities it cannot express, and
`parse_job` has the last word.
"""

from __future__ import annotations

from typing import Any

from stopout.jobs.keys.definition import Key, KeyTable
from stopout.jobs.keys.model import JOB_FILE


def job_schema() -> dict[str, Any]:
    """Make the JSON Schema of the job file.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12: descriptions, the units in patterns, defaults and examples.
        Anew at each call, so the caller may change it.

    Examples
    --------
    >>> job_schema()["properties"]["clearing"]["properties"]["power"]["examples"]
    ['30 %']
    """
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stopout job file",
        **_table(JOB_FILE),
    }
    for name, rules in _RULES.items():
        schema["properties"][name].update(rules)
    schema.update(_ROUTES)
    return schema


def _table(table: KeyTable) -> dict[str, Any]:
    required = [name for name, part in table.parts.items() if part.is_required]
    return {
        "type": "object",
        "description": table.meaning,
        "properties": {
            name: _key(part) if isinstance(part, Key) else _inner(part)
            for name, part in table.parts.items()
        },
        "required": required,
        "additionalProperties": False,
    }


def _inner(table: KeyTable) -> dict[str, Any]:
    made = _table(table)
    if table.is_many:
        return {"type": "array", "items": made, "default": []}
    if not table.short:
        return made
    if "name" in table.parts and (required := made.pop("required")):
        # What the shop keeps by a name has the rest.
        made["anyOf"] = [{"required": required}, {"required": ["name"]}]
    return {"anyOf": [{"type": "string", "minLength": 1}, made]}


def _key(key: Key) -> dict[str, Any]:
    default = {} if key.is_required or key.default is None else {"default": key.default}
    return {**key.form.schema(), "description": key.meaning, **default, "examples": [key.sample]}


def _excludes(*keys: str) -> dict[str, Any]:
    """At most one of the keys."""
    pairs = [[one, other] for n, one in enumerate(keys) for other in keys[n + 1 :]]
    return {"not": {"anyOf": [{"required": pair} for pair in pairs]}}


_RULES: dict[str, dict[str, Any]] = {
    "artwork": {
        **_excludes("width", "height", "scale", "resolution"),
        "if": {"properties": {"dark": {"const": "raised"}}, "required": ["dark"]},
        "then": {"required": ["field"]},
    },
    "blank": _excludes("corner_radius", "outline"),
    "clearing": _excludes("mark", "dose_ratio"),
}

_ROUTES: dict[str, Any] = {
    "if": {
        "properties": {
            "blank": {"properties": {"worked_side": {"const": "back"}}, "required": ["worked_side"]}
        },
        "required": ["blank"],
    },
    "then": {
        "required": ["coat"],
        "properties": {"resist": False, "etch": False, "coat": {"minItems": 2}},
    },
    "else": {"required": ["resist", "etch"], "properties": {"coat": False}},
    "anyOf": [
        {"required": ["artwork"], "properties": {"artwork": {"required": ["file"]}}},
        *({"required": [table]} for table in ("text", "line", "frame", "code")),
    ],
    "allOf": [
        {
            "if": {
                "required": ["resist"],
                "properties": {
                    "resist": {
                        "type": "object",
                        "required": ["method"],
                        "properties": {"method": made},
                    }
                },
            },
            "then": {"properties": banned, "required": needed},
        }
        for made, banned, needed in (
            ({"const": "printed-film"}, {"stencil": False}, ["film"]),
            ({"const": "cut-film"}, {"film": False}, []),
        )
    ]
    + [
        {
            "if": {
                "required": ["resist"],
                "properties": {
                    "resist": {
                        "type": "object",
                        "required": ["method"],
                        "properties": {"method": {"enum": ["printed-film", "cut-film"]}},
                    }
                },
            },
            "else": {"required": ["machine"], "properties": {"film": False, "stencil": False}},
        }
    ],
}
