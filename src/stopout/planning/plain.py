"""Records as plain data, as plan.json tells them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from stopout.units import six_digits


def fields_of(
    record: object, keys: str, *, length: Callable[[float], float] = six_digits
) -> dict[str, Any]:
    """Return fields of a record, by their names or by other ones.

    Parameters
    ----------
    record : object
        Its floats are told to six digits; what is no number and no tuple stays as it is.
    keys : str
        The names, parted by blanks, in the order in which they are told; `key=field` where the
        key is not the field's name.
    length : callable
        Rounds what is in mm or mm^2, as the key's end says.
    """
    found = {}
    for told in keys.split():
        key, _, name = told.partition("=")
        rounded = length if key.endswith(("_mm", "_mm2")) else six_digits
        found[key] = _plain(getattr(record, name or key), rounded)
    return found


def _plain(value: Any, rounded: Callable[[float], float]) -> Any:
    if isinstance(value, tuple):
        return [_plain(one, rounded) for one in value]
    return rounded(value) if isinstance(value, float) else value
