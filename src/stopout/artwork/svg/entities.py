"""Entities that a DOCTYPE declares: names for plain text are written out, all others refused.

Drawing programs declare the namespaces of SVG so. A value may hold no entity and no markup in its
turn, so that nothing multiplies, and none names another file.
"""

from __future__ import annotations

import re

from stopout.errors import ArtworkError

_DOCTYPE = re.compile(rb"<!DOCTYPE\s[^\[>]*\[(.*?)\]\s*>", re.DOTALL)
_ENTITY = re.compile(rb"<!ENTITY\s+([\w.:-]+)\s+(?:\"([^\"]*)\"|'([^']*)')\s*>")
_MOST_BYTES = 1_000_000


def write_out_entities(data: bytes, *, name: str) -> bytes:
    """Put the text of declared entities where they are named, and drop their declarations.

    Raises
    ------
    ArtworkError
        If an entity is anything but a name for plain text, or they add up to more than a megabyte.
    """
    if b"<!ENTITY" not in data.replace(b"\0", b""):
        return data
    refusal = ArtworkError(
        f"{name}: its DOCTYPE declares entities that are more than names for plain text, which are "
        "not read; save it again as plain SVG"
    )
    found = _DOCTYPE.search(data)
    if found is None:
        raise refusal
    values: dict[bytes, bytes] = {}
    for entity, double, single in _ENTITY.findall(found[1]):
        value = double or single
        if any(sign in value for sign in (b"&", b"<", b"%")):
            raise refusal
        values.setdefault(entity, value)
    rest = _ENTITY.sub(b"", found[1])
    if b"<!ENTITY" in rest:
        raise refusal
    room = _MOST_BYTES

    def put(match: re.Match[bytes]) -> bytes:
        nonlocal room
        value = values.get(match[1])
        if value is None:
            return match[0]
        room -= len(value)
        if room < 0:
            raise refusal
        return value

    head = data[: found.start(1)] + rest
    return head + re.sub(rb"&([\w.:-]+);", put, data[found.end(1) :])
