"""The keys of the job file as a program reads them: for a page's controls, or an editor."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from stopout.jobs.forms import (
    Amount,
    AutoOr,
    AxesMeasured,
    Count,
    Figure,
    Form,
    Listed,
    Named,
    OneOf,
    PlaceForm,
    Row,
    StrengthForm,
    Switch,
    TextForm,
    YesNo,
    leaf_of,
)
from stopout.jobs.keys.definition import Key, KeyTable
from stopout.jobs.keys.model import JOB_FILE
from stopout.units import QUANTITIES

_KINDS: dict[type[Form], str] = {
    Amount: "quantity",
    StrengthForm: "quantity",
    Figure: "number",
    Count: "count",
    OneOf: "choice",
    YesNo: "yes-or-no",
    Switch: "choice",
    Named: "entry",
    TextForm: "text",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobKey:
    """A key of the job file, and what a control for it shows.

    Attributes
    ----------
    table, name : str
        Such as `blank.hole` and `diameter`; `is_listed` where the table is an array of tables.
    kind : str
        What its single values are: `quantity` with a unit, `number`, `count`, `choice`,
        `yes-or-no`, `entry` of the data table that `choices` names, `text` or `other`.
    meaning, takes, find : str
        What it says; what it takes, in words; how a person finds the figure out, if that is told.
    units : tuple of str
        Every unit that is read, the base unit of plans first.
    least, most, usual : str, str, (str, str) or None
        The possible range and the usual one, as a job file would write them; "" for no end.
    places : int
        How many values a row has, 1 for one value.
    choices : tuple of str
        The words that it takes, such as `auto` beside a quantity.
    default, example : object
        As a job file would write them; None where there is no default.
    is_required : bool
        Whether it has to be given.
    """

    table: str
    name: str
    kind: str
    meaning: str
    takes: str
    find: str
    units: tuple[str, ...]
    least: str
    most: str
    usual: tuple[str, str] | None
    places: int
    choices: tuple[str, ...]
    default: Any
    example: Any
    is_required: bool
    is_listed: bool


def job_keys() -> tuple[JobKey, ...]:
    """List every key of the job file, in its order.

    Examples
    --------
    >>> speed = next(k for k in job_keys() if (k.table, k.name) == ("clearing", "speed"))
    >>> speed.units[0], speed.usual
    ('mm/s', ('0.5 mm/s', '1000 mm/s'))
    """
    return tuple(_listed(name, table, key) for name, table in JOB_FILE.walk() for key in table.keys)


def _listed(name: str, table: KeyTable, key: Key) -> JobKey:
    leaf = leaf_of(key.form)
    least, most, usual = _ranges(leaf)
    return JobKey(
        table=name,
        name=key.name,
        kind="other"
        if isinstance(key.form, Listed | PlaceForm)
        else _KINDS.get(type(leaf), "other"),
        meaning=key.meaning,
        takes=key.form.words(),
        find=key.find,
        units=_units(leaf),
        least=least,
        most=most,
        usual=usual,
        places=key.form.length
        if isinstance(key.form, Row)
        else 1 + isinstance(key.form, AxesMeasured),
        choices=_choices(key.form, leaf),
        default=None if key.is_required else key.default,
        example=key.sample,
        is_required=key.is_required,
        is_listed=table.is_many,
    )


def _units(leaf: Form) -> tuple[str, ...]:
    if isinstance(leaf, StrengthForm):
        return tuple(QUANTITIES["strength"].units)
    if not isinstance(leaf, Amount):
        return ()
    quantity = QUANTITIES[leaf.quantity]
    return (quantity.unit, *(unit for unit in quantity.units if unit != quantity.unit))


def _ranges(leaf: Form) -> tuple[str, str, tuple[str, str] | None]:
    if isinstance(leaf, Amount):
        return leaf.above or leaf.at_least, leaf.below or leaf.at_most, leaf.usual
    if not isinstance(leaf, Figure | Count):
        return "", "", None
    least = leaf.above if isinstance(leaf, Figure) else leaf.at_least
    most = "" if leaf.at_most == math.inf else str(leaf.at_most)
    return str(least), most, leaf.usual and (str(leaf.usual[0]), str(leaf.usual[1]))


def _choices(form: Form, leaf: Form) -> tuple[str, ...]:
    if isinstance(form, AutoOr):
        return (form.word,)
    if isinstance(leaf, Named):
        return (leaf.table,)
    if isinstance(leaf, Switch):
        return ("true", "false", leaf.word)
    return leaf.choices if isinstance(leaf, OneOf) else ()
