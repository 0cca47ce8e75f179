"""What the tables have to say against a job: names that none of them has, and pairs that misfit.

Told with the file's other mistakes. Where a job names the shop's own tables, which may add some,
all of it is looked up once they are read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from stopout.errors import StopoutError
from stopout.jobs.keys.definition import GivenTable, found
from stopout.jobs.lines import Path

_Fault = tuple[Path, str]
_LookUp = tuple[Path, Callable[[], object]]
_ETCHANT = ("etch", "etchant")
_SALT = ("etch", "electrolyte")


def table_faults(tables: GivenTable, raw: dict[str, Any]) -> list[_Fault]:
    """Find what no table knows.

    Parameters
    ----------
    tables : GivenTable
        The tables of the job as far as they could be read.
    raw : dict
        The job as written.

    Returns
    -------
    list of (path, what is wrong)
    """
    if "tables" in raw:
        return []
    faults = [*_told(_of_names(tables))]
    unknown = {at for at, _ in faults}
    if ("blank", "material") in unknown:
        return faults
    faults += _told(_of_blank(tables))
    # Of a bath that no table has there is no more to say.
    return faults if unknown & {_ETCHANT, _SALT} else [*faults, *_told(_of_bath(tables))]


def _told(look_ups: Iterator[_LookUp]) -> Iterator[_Fault]:
    for at, look_up in look_ups:
        try:
            look_up()
        except StopoutError as error:
            yield at, str(error)


def _of_names(tables: GivenTable) -> Iterator[_LookUp]:
    # The tables are only read for a job, not for a help text.
    from stopout.tables import load_etchant, load_material, load_refusals, load_resist
    from stopout.tables.cells import load_electrolyte

    etchant = found(tables, "etch", "etchant")
    # One that a rule refuses needs no entry: the plan says why not.
    known = {"electrolytic", *(ident for rule in load_refusals() for ident in rule.etchants)}
    coats = enumerate(found(tables, "coat") or [])
    named: list[tuple[Path, Any, Callable[[str], object]]] = [
        (("blank", "material"), found(tables, "blank", "material"), load_material),
        (("resist", "paint"), found(tables, "resist", "paint"), load_resist),
        *((("coat", k, "paint"), found(coat, "paint"), load_resist) for k, coat in coats),
        (_ETCHANT, None if etchant in known else etchant, load_etchant),
        (_SALT, found(tables, "etch", "electrolyte"), load_electrolyte),
    ]
    for at, ident, load in named:
        if ident is not None:
            yield at, lambda load=load, ident=ident: load(ident)  # type: ignore[misc]


def _of_blank(tables: GivenTable) -> Iterator[_LookUp]:
    """What covers the material as bought."""
    from stopout.tables import load_finish, load_material

    material, finish = found(tables, "blank", "material"), found(tables, "blank", "finish")
    if material is not None and finish is not None:
        yield ("blank", "finish"), lambda: load_finish(finish, load_material(material).sort)


def _of_bath(tables: GivenTable) -> Iterator[_LookUp]:
    """The metal in its bath, and how strong that may be."""
    from stopout.etching import bath_strength
    from stopout.tables import load_cell, load_etchant, load_pair
    from stopout.tables.cells import load_electrolyte

    material, etchant = found(tables, "blank", "material"), found(tables, *_ETCHANT)
    by_current = etchant == "electrolytic"
    ident = found(tables, *_SALT) if by_current else etchant
    if material is None or ident is None or (not by_current and _is_refused(material, ident)):
        return
    pair = load_cell if by_current else load_pair
    yield _SALT if by_current else _ETCHANT, lambda: pair(material, ident)
    load = load_electrolyte if by_current else load_etchant
    for at in (("etch", "strength"), ("bath", "stock")):
        given = found(tables, *at)
        if given is not None:
            yield at, lambda given=given: bath_strength(load(ident), given.value, given.unit)  # type: ignore[misc]


def _is_refused(material: str, etchant: str) -> bool:
    """Tell whether a rule refuses the bath whatever its strength: the plan says why."""
    from stopout.etching import refusals
    from stopout.tables import base_of, load_refusals
    from stopout.values import Level

    refused = refusals(
        load_refusals(),
        material_id=material,
        etchant_id=etchant,
        strength_g_per_l=None,
        base_id=base_of(material),
    )
    return any(finding.level is Level.STOP for finding in refused)
