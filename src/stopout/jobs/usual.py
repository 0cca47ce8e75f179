"""Values that a job may have and hardly means: outside what is usual, or unlike each other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from stopout.jobs.checking.relations import strange
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
from stopout.jobs.keys.definition import GivenTable, KeyTable
from stopout.jobs.keys.model import JOB_FILE
from stopout.jobs.lines import Path, dotted
from stopout.jobs.syntax import Source
from stopout.units import shown
from stopout.values import Finding, Measured

_Leaf = Amount | Figure | Count


def unusual(tables: GivenTable, source: Source) -> tuple[Finding, ...]:
    """Find the values that lie outside what is usual for their keys.

    Parameters
    ----------
    tables : GivenTable
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
        for at, raw, leaf in _strange(JOB_FILE, tables, source.values, ())
    ]
    return tuple(
        Finding.caution("value-unusual", message, remedy)
        for message, remedy in [*told, *strange(tables)]
    )


def _strange(
    table: KeyTable, read: GivenTable, raw: Any, at: Path
) -> Iterator[tuple[Path, Any, _Leaf]]:
    """The keys of a table, and of those in it, whose value is unusual."""
    for key in table.keys:
        value = getattr(read, key.name, None)
        if key.name in raw and value is not None:
            for leaf, number in _numbers(key.form, value):
                if not leaf.is_usual(number):
                    yield (*at, key.name), raw[key.name], leaf
                    break
    for inner in table.tables:
        if inner.name not in raw:
            continue
        given, written = getattr(read, inner.name), raw[inner.name]
        if not inner.is_many:
            yield from _strange(inner, given, written, (*at, inner.name))
            continue
        for place, element in enumerate(given):
            yield from _strange(inner, element, written[place], (*at, inner.name, place))


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
