"""Values that a job may have and hardly means: outside what is usual, or unlike each other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, get_args

from pydantic.fields import FieldInfo

from stopout.jobs.forms import (
    Amount,
    AutoOr,
    AxesMeasured,
    Count,
    Figure,
    Form,
    MotorStep,
    Row,
    WithSpread,
)
from stopout.jobs.lines import Path, dotted
from stopout.jobs.model import JobFile
from stopout.jobs.relations import strange
from stopout.jobs.syntax import Source
from stopout.jobs.table import Table
from stopout.jobs.validate import table_in
from stopout.units import shown
from stopout.values import Finding, Level, Measured

__all__ = ["form_of", "unusual"]

_Leaf = Amount | Figure | Count


def unusual(tables: JobFile, source: Source) -> tuple[Finding, ...]:
    """Find the values that lie outside what is usual for their keys.

    Parameters
    ----------
    tables : JobFile
        Tables without a mistake.
    source : Source
        The values as they were written.

    Returns
    -------
    tuple of Finding
        A caution for each, with the usual range. Defaults are not judged.
    """
    told = [
        (
            f"{dotted(at)} is {_written(raw)}; usual is {leaf.usual_words()}",
            "Check the number and its unit; if it is meant so, go on.",
        )
        for at, raw, leaf in _strange(tables, source.values, ())
    ]
    return tuple(
        Finding(code="value-unusual", level=Level.CAUTION, message=message, remedy=remedy)
        for message, remedy in [*told, *strange(tables)]
    )


def form_of(info: FieldInfo) -> Form | None:
    """Return the form of a key; None for a word of a list or a yes or no."""
    # An optional key carries its form one level down, in the first member of the union.
    found = [*info.metadata]
    for part in get_args(info.annotation):
        found += [*getattr(part, "__metadata__", ())]
    return next((form for form in found if isinstance(form, Form)), None)


def _strange(table: Table, raw: Any, at: Path) -> Iterator[tuple[Path, Any, _Leaf]]:
    """The keys of a table, and of those in it, whose value is unusual."""
    for key, info in type(table).model_fields.items():
        if not isinstance(raw, dict) or key not in raw:
            continue
        value, written = getattr(table, key, None), raw[key]
        inner, many = table_in(info)
        if inner is not None and many:
            for place, element in enumerate(value or []):
                yield from _strange(element, written[place], (*at, key, place))
        elif inner is not None and value is not None:
            yield from _strange(value, written, (*at, key))
        elif (form := form_of(info)) is not None and value is not None:
            for leaf, number in _numbers(form, value):
                if not leaf.is_usual(number):
                    yield (*at, key), written, leaf
                    break


def _numbers(form: Form, value: Any) -> Iterator[tuple[_Leaf, Any]]:
    """Every number of a value that was read, with the form that bounds it."""
    if isinstance(form, Amount | Figure | Count):
        yield form, value
    elif isinstance(form, AutoOr):
        yield from _numbers(form.inner, value)
    elif isinstance(form, WithSpread | MotorStep):
        yield from _numbers(form.each, value.value if isinstance(value, Measured) else value)
    elif isinstance(form, Row | AxesMeasured):
        for one in value:
            yield from _numbers(form.each, one)


def _written(raw: Any) -> str:
    """The value as it stands in the file, a list in full where it is short."""
    if isinstance(raw, float) and not math.isfinite(raw):
        return shown(raw)
    if isinstance(raw, list) and len(raw) <= 4:
        return f"[{', '.join(map(_written, raw))}]"
    return shown(raw)
