"""Edits of a job file's text: one key at a time, every other line as it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from stopout.errors import StopoutError

Step = str | int


class EditError(StopoutError):
    """An edit that the file's shape does not allow."""


@dataclass(frozen=True, slots=True)
class Edit:
    """A key's new value, or None to leave it out; `table` leads to it from the top."""

    table: tuple[Step, ...]
    key: str
    value: Any


def applied(text: str, edit: Edit) -> str:
    """Return the text with one key changed; comments, order and other lines stay as they are.

    Parameters
    ----------
    text : str
        TOML.
    edit : Edit
        Tables on the way that are missing are made, arrays grow by one element at most.

    Raises
    ------
    EditError
        If the text is no TOML, or something else stands where a table is meant.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        table = _table(document, edit.table, makes=edit.value is not None)
        if table is None:
            return text
        if edit.value is None:
            if edit.key in table:
                table.remove(edit.key)
        else:
            _set(table, edit.key, edit.value)
        return tomlkit.dumps(document)
    except TOMLKitError as fault:
        raise EditError(f"the job file cannot be edited: {fault}") from None


def _table(document: Any, way: Sequence[Step], *, makes: bool) -> Any:
    import tomlkit

    here = document
    for place, step in enumerate(way):
        following = way[place + 1] if place + 1 < len(way) else None
        if isinstance(step, int):
            if step == len(here) and makes:
                here.append(tomlkit.table())
            if not 0 <= step < len(here):
                if makes:
                    raise EditError("there is no such element")
                return None
            here = here[step]
            continue
        if step not in here:
            if not makes:
                return None
            here[step] = tomlkit.aot() if isinstance(following, int) else tomlkit.table()
        here = here[step]
        if not hasattr(here, "append" if isinstance(following, int) else "keys"):
            raise EditError(f"'{step}' is not a table in this file")
    return here


def _set(table: Any, key: str, value: Any) -> None:
    """Set a value; a comment behind the old one stays there."""
    import tomlkit

    item = tomlkit.item(value)
    if key in table:
        old = table.value.item(key) if hasattr(table.value, "item") else None
        if old is not None and hasattr(old, "trivia"):
            item.trivia.comment_ws = old.trivia.comment_ws
            item.trivia.comment = old.trivia.comment
            item.trivia.trail = old.trivia.trail
    table[key] = item
