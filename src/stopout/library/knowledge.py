"""Gathers what the tables know about a job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from stopout.errors import PlanError, TableError
from stopout.etching import (
    Cell,
    Material,
    Pair,
    Refusal,
    Resist,
    bath_strength,
    hazard_ids,
    refusals,
)
from stopout.job.record import Job
from stopout.jobs import job_error
from stopout.planning import Knowledge
from stopout.tables import (
    ELECTROLYTIC,
    ShopTables,
    base_of,
    load_cell,
    load_etchant,
    load_finish,
    load_hazards,
    load_material,
    load_pair,
    load_refusals,
    load_resist,
    load_resists,
    load_sludge,
    open_shop_tables,
    overlaid,
    paint_threshold,
)
from stopout.values import Finding, Level

# Places that a note names before it counts the others.
_MOST_PLACES = 6
_T = TypeVar("_T")
_KeyPath = tuple[str | int, ...]


def knowledge_for(job: Job, path: Path | None = None) -> Knowledge:
    """Return the table entries for a job's material, paints and etchant.

    Parameters
    ----------
    job : Job
        The job.
    path : Path, optional
        Its file, for the lines of ids that no table has.

    Raises
    ------
    JobError
        Naming every id that no table knows, and what is wrong with the shop's own tables, with
        its line.
    TableError
        Without a file, the first of them.
    """
    if job.tables_file is None:
        return _gathered(job, path)
    folder = Path() if path is None else path.parent
    try:
        shop = open_shop_tables(folder / job.tables_file)
    except TableError as error:
        if path is None:
            raise
        raise job_error(path, [(("tables", "file"), str(error))]) from None
    with overlaid(shop.overlay):
        known = _gathered(job, path)
    return replace(known, findings=(whose_numbers(shop),))


def whose_numbers(shop: ShopTables) -> Finding:
    """Say whose numbers a plan uses, in a sentence of the plan itself."""
    parts = [
        f"{word} {', '.join(places[:_MOST_PLACES])}"
        + (f" and {len(places) - _MOST_PLACES} more" if len(places) > _MOST_PLACES else "")
        for word, places in (("replaces", shop.replaced), ("adds", shop.added))
        if places
    ]
    return Finding.note(
        "shop-tables",
        f"{shop.overlay.file} (sha256 {shop.sha256[:12]}) {' and '.join(parts) or 'is empty'}",
        "Each value that the plan takes from it names it as the source.",
    )


@dataclass(frozen=True, slots=True)
class _LookUp:
    """Looks entries up; what no table knows is kept with its key, where there is a file to name."""

    path: Path | None
    faults: list[tuple[_KeyPath, str]] = field(default_factory=list)

    def __call__(self, at: _KeyPath, look_up: Callable[[], _T]) -> _T | None:
        try:
            return look_up()
        except (TableError, PlanError) as error:
            if self.path is None:
                raise
            self.faults.append((at, str(error)))
            return None


def _gathered(job: Job, path: Path | None) -> Knowledge:
    """The entries, from the tables as they lie."""
    looked_up, rules = _LookUp(path), load_refusals()
    material = looked_up(("blank", "material"), lambda: load_material(job.blank.material))
    finish = None
    if material is not None:
        known_material = material
        looked_up(("blank", "worked_side"), lambda: _check_side(job, known_material))
        sort = material.sort
        finish = looked_up(("blank", "finish"), lambda: load_finish(job.blank.finish, sort))
    resists = [
        looked_up(_paint_at(job, k), lambda paint=coat.paint: load_resist(paint))  # type: ignore[misc]
        for k, coat in enumerate(job.coats)
        if not job.route.is_lit
    ]
    pair, cell = _bath(job, rules, looked_up, has_material=material is not None)
    if looked_up.faults and path is not None:
        raise job_error(path, looked_up.faults)
    assert material is not None
    known = tuple(resist for resist in resists if resist is not None)
    clears_paint = job.route.clears_paint
    return Knowledge(
        material=material,
        resists=known,
        pair=pair,
        cell=cell,
        sludge=None if job.etch is None else load_sludge(job.blank.material, job.etch.etchant),
        refusals=rules,
        hazards=load_hazards(_hazard_ids(job, pair, known)),
        finish=finish,
        other_resists=usable_resists(rules),
        thresholds=tuple(paint_threshold(c.colour) for c in job.coats) if clears_paint else (),
    )


def _bath(
    job: Job, rules: tuple[Refusal, ...], looked_up: _LookUp, *, has_material: bool
) -> tuple[Pair | None, Cell | None]:
    """The metal in its bath, whose strengths can be."""
    if job.etch is None:
        return None, None
    etchant_id, electrolyte = job.etch.etchant, job.etch.electrolyte or ""
    pair: Pair | None = None
    cell: Cell | None = None
    if etchant_id == ELECTROLYTIC:
        at = ("etch", "electrolyte")
        found = looked_up(at, lambda: load_cell(job.blank.material, electrolyte))
        pair, cell = found or (None, None)
    elif not _is_refused(job, rules):
        at = ("etch", "etchant")
        etchant = looked_up(at, lambda: load_etchant(etchant_id))
        if has_material and etchant is not None:
            pair = looked_up(at, lambda: load_pair(job.blank.material, etchant_id))
    if pair is not None:
        bath, strength, stock = pair.etchant, job.etch.strength, job.bath.stock
        looked_up(("etch", "strength"), lambda: bath_strength(bath, strength.value, strength.unit))
        if stock is not None:
            looked_up(("bath", "stock"), lambda: bath_strength(bath, stock.value, stock.unit))
    return pair, cell


def _hazard_ids(job: Job, pair: Pair | None, resists: tuple[Resist, ...]) -> tuple[str, ...]:
    # Nothing is sprayed for a window to light, so its paint can hurt nobody.
    sprayed = tuple(r for r, coat in zip(resists, job.coats, strict=False) if not coat.is_window)
    wavelength_nm = job.laser.wavelength_nm if job.route.has_beam else None
    ids = hazard_ids(pair, sprayed, wavelength_nm=wavelength_nm)
    return (*ids, *(("acrylic-fume",) if job.route.is_lit else ()))


def _is_refused(job: Job, rules: tuple[Refusal, ...]) -> bool:
    """Tell whether the bath is refused whatever its strength: then no table need know it."""
    assert job.etch is not None
    found = refusals(
        rules,
        material_id=job.blank.material,
        etchant_id=job.etch.etchant,
        strength_g_per_l=None,
        base_id=base_of(job.blank.material),
    )
    return any(finding.level is Level.STOP for finding in found)


def usable_resists(rules: tuple[Refusal, ...]) -> tuple[Resist, ...]:
    """The resists that no rule refuses under the beam."""
    refused = {
        ident
        for rule in rules
        if rule.level is Level.STOP and not rule.materials and not rule.etchants
        for ident in rule.resists
    }
    return tuple(resist for resist in load_resists() if resist.ident not in refused)


def _check_side(job: Job, material: Material) -> None:
    """Refuse a blank that cannot be read through its front, worked on the back."""
    if job.blank.is_back_worked and material.sort == "metal":
        raise TableError(
            f"{material.name} is not clear; work it on the front, or name a clear sheet"
        )


def _paint_at(job: Job, k: int) -> _KeyPath:
    """Return where the paint of coat k stands in the job file."""
    return ("resist", "paint") if job.coats[k].shows is None else ("coat", k, "paint")
