"""A small judge of JSON Schema 2020-12, for the keywords that the job file's schema uses.

It refuses a keyword it does not know, so that the schema cannot quietly grow past it. Where the
general validator is installed, the tests ask that one too.
"""

from __future__ import annotations

import re
from typing import Any

_NOTES = {"$schema", "title", "description", "default", "examples"}
_TYPES: dict[str, Any] = {
    "object": dict,
    "array": list,
    "string": str,
    "boolean": bool,
    "integer": int,
    "number": (int, float),
}


def judged(schema: Any, value: Any) -> bool:
    """Whether a value is valid under a schema."""
    if isinstance(schema, bool):
        return schema
    unknown = set(schema) - _NOTES - set(_JUDGES)
    assert not unknown, unknown
    return all(_JUDGES[key](rule, value, schema) for key, rule in schema.items() if key in _JUDGES)


def _type(rule: str, value: Any, _: Any) -> bool:
    if rule in ("integer", "number") and isinstance(value, bool):
        return False
    return isinstance(value, _TYPES[rule])


def _properties(rule: dict[str, Any], value: Any, _: Any) -> bool:
    return not isinstance(value, dict) or all(
        judged(part, value[key]) for key, part in rule.items() if key in value
    )


def _additional(rule: Any, value: Any, schema: Any) -> bool:
    return not isinstance(value, dict) or all(
        judged(rule, part) for key, part in value.items() if key not in schema["properties"]
    )


def _items(rule: Any, value: Any, schema: Any) -> bool:
    rest = value[len(schema.get("prefixItems", [])) :] if isinstance(value, list) else []
    return all(judged(rule, item) for item in rest)


def _prefix(rule: list[Any], value: Any, _: Any) -> bool:
    return not isinstance(value, list) or all(map(judged, rule, value))


def _if(rule: Any, value: Any, schema: Any) -> bool:
    return judged(schema.get("then" if judged(rule, value) else "else", True), value)


def _number(holds: Any) -> Any:
    return lambda rule, value, _: not isinstance(value, (int, float)) or holds(value, rule)


def _length(kind: type, holds: Any) -> Any:
    return lambda rule, value, _: not isinstance(value, kind) or holds(len(value), rule)


_JUDGES: dict[str, Any] = {
    "type": _type,
    "properties": _properties,
    "additionalProperties": _additional,
    "required": lambda rule, value, _: not isinstance(value, dict) or set(rule) <= set(value),
    "items": _items,
    "prefixItems": _prefix,
    "minItems": _length(list, lambda count, rule: count >= rule),
    "maxItems": _length(list, lambda count, rule: count <= rule),
    "minLength": _length(str, lambda count, rule: count >= rule),
    "maxLength": _length(str, lambda count, rule: count <= rule),
    "pattern": lambda rule, value, _: not isinstance(value, str) or bool(re.search(rule, value)),
    "enum": lambda rule, value, _: value in rule,
    "const": lambda rule, value, _: value == rule,
    "minimum": _number(lambda value, rule: value >= rule),
    "maximum": _number(lambda value, rule: value <= rule),
    "exclusiveMinimum": _number(lambda value, rule: value > rule),
    "anyOf": lambda rule, value, _: any(judged(part, value) for part in rule),
    "allOf": lambda rule, value, _: all(judged(part, value) for part in rule),
    "not": lambda rule, value, _: not judged(rule, value),
    "if": _if,
    "then": lambda *_: True,
    "else": lambda *_: True,
}
