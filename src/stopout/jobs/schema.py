"""The JSON Schema (draft 2020-12) of the job file, made from the models.

The schema judges what TOML gives (tables as objects). It knows forms, units, defaults and which
tables and keys exclude or require each other; bounds between quantities it cannot express, and
`parse_job` has the last word.
"""

from __future__ import annotations

from typing import Any

__all__ = ["job_schema"]


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
    from stopout.jobs.model import JobFile

    made = JobFile.model_json_schema()
    tables: dict[str, Any] = made.pop("$defs")
    schema: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stopout job file",
    }
    plain = _plain(made, tables)
    plain.pop("title", None)
    schema.update(plain)
    for name, rules in _RULES.items():
        schema["properties"][name].update(rules)
    schema.update(_ROUTES)
    return schema


def _plain(node: Any, tables: dict[str, Any]) -> Any:
    """The schema without references, without null (TOML has none) and without made-up titles."""
    if isinstance(node, list):
        return [_plain(part, tables) for part in node]
    if not isinstance(node, dict):
        return node
    if "$ref" in node:
        table = tables[node["$ref"].rsplit("/", 1)[1]]
        rest = {key: value for key, value in node.items() if key != "$ref"}
        return _plain({**table, **rest}, tables)
    node = dict(node)
    if "anyOf" in node:
        kinds = [kind for kind in node["anyOf"] if kind != {"type": "null"}]
        if len(kinds) == 1:
            del node["anyOf"]
            node = {**kinds[0], **node}
            if "$ref" in node:
                return _plain(node, tables)
        else:
            node["anyOf"] = kinds
    if node.get("default", ...) is None:
        del node["default"]
    if isinstance(node.get("title"), str):
        del node["title"]
    return {
        # Keys of a job file may be called like keywords ("title", "default"): taken as they are.
        key: {name: _plain(part, tables) for name, part in value.items()}
        if key == "properties"
        else value
        if key in ("default", "examples", "enum", "const", "required")
        else _plain(value, tables)
        for key, value in node.items()
    }


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
            "blank": {
                "properties": {"worked_side": {"const": "back"}},
                "required": ["worked_side"],
            }
        },
        "required": ["blank"],
    },
    "then": {
        "required": ["coat"],
        "properties": {"resist": False, "etch": False, "coat": {"minItems": 2}},
    },
    "else": {"required": ["resist", "etch"], "properties": {"coat": False}},
    "anyOf": [
        {
            "required": ["artwork"],
            "properties": {"artwork": {"required": ["file"]}},
        },
        *({"required": [table]} for table in ("text", "line", "frame", "code")),
    ],
    "allOf": [
        {
            "if": {
                "required": ["resist"],
                "properties": {"resist": {"required": ["method"], "properties": {"method": made}}},
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
                        "required": ["method"],
                        "properties": {"method": {"enum": ["printed-film", "cut-film"]}},
                    }
                },
            },
            "else": {
                "required": ["machine", "clearing"],
                "properties": {"film": False, "stencil": False},
            },
        }
    ],
}
