"""From complete, checked tables to the frozen records of a `Job`."""

from __future__ import annotations

from stopout.jobs.model import (
    ArtworkTable,
    BlankTable,
    ClearingTable,
    CoatTable,
    EtchTable,
    JobFile,
    LimitsTable,
    MachineTable,
    ResistTable,
)
from stopout.planning.job import ArtworkRequest, Blank, Clearing, Coat, Etch, Hole, Job, Limits
from stopout.values import Finding, Level, Machine

__all__ = ["NOT_USED_YET", "job_of"]

# The keys that are read and whose work is still to come: (table, key, what the plan does
# meanwhile, what to do). This is the one place; take a row out with its work.
NOT_USED_YET: tuple[tuple[str, str, str, str], ...] = (
    (
        "registration",
        "error",
        "the sheet prints it, but masks and prediction reckon with clearings that meet exactly",
        "Draw neighbouring colours so that they overlap or keep apart by more than this error.",
    ),
)
# What must be known of a coat that the blank comes with before it goes under the beam.
_FOREIGN_COAT = (
    "Take the {name} off {where}first, or know that it is neither PVC nor lead or chromate paint: "
    "those never go under the beam."
)
_OXIDE = (
    "The oxide must come off before the etch bites: take it off first, or try time and depth on a "
    "coupon of the same anodised sheet."
)


def job_of(tables: JobFile, *, sha256: str) -> Job:
    """Make the job.

    Parameters
    ----------
    tables : JobFile
        Tables without a mistake.
    sha256 : str
        Of the job file's bytes, in hexadecimal.

    Returns
    -------
    Job
        With a note for each key that is not used yet or has no effect.
    """
    registration = tables.registration
    return Job(
        name=tables.job.name,
        revision=tables.job.revision,
        quantity=tables.job.quantity,
        artwork=_artwork(tables.artwork),
        blank=_blank(tables.blank),
        coats=_coats(tables),
        machine=_machine(tables.machine),
        clearing=_clearing(tables.clearing),
        etch=None if tables.etch is None else _etch(tables.etch),
        limits=Limits() if tables.limits is None else _limits(tables.limits),
        registration_error_mm=None if registration is None else registration.error,
        sha256=sha256,
        findings=_findings(tables),
    )


def _artwork(table: ArtworkTable) -> ArtworkRequest:
    return ArtworkRequest(
        file=table.file,
        width_mm=table.width,
        height_mm=table.height,
        scale=table.scale,
        resolution_dpi=table.resolution,
        box=table.box,
        dark=table.dark,
        field_mm=table.field,
        position_mm=table.position,
        threshold=table.threshold,
        specks_mm=table.specks,
        page=table.page,
        fonts=table.fonts,
    )


def _blank(table: BlankTable) -> Blank:
    return Blank(
        material=table.material,
        width_mm=table.width,
        height_mm=table.height,
        thickness_mm=table.thickness,
        worked_side=table.worked_side,
        corner_radius_mm=table.corner_radius,
        outline=table.outline,
        finish=table.finish,
        holes=tuple(Hole(at_mm=hole.at, diameter_mm=hole.diameter) for hole in table.hole),
    )


def _coats(tables: JobFile) -> tuple[Coat, ...]:
    if tables.resist is not None:
        return (_resist(tables.resist),)
    coats: list[Coat] = []
    for table in tables.coat:
        # Nothing is sprayed for a window to light; its paint only has to be one that is known.
        paint = table.paint or (coats[-1].paint if coats else "")
        coats.append(_coat(table, paint))
    return tuple(coats)


def _resist(table: ResistTable) -> Coat:
    return Coat(paint=table.paint, colour=table.colour, thickness_um=_um(table.thickness))


def _coat(table: CoatTable, paint: str) -> Coat:
    return Coat(
        paint=paint,
        colour=table.colour,
        thickness_um=_um(table.thickness),
        shows=table.shows,
        power=table.power,
        speed_mm_s=table.speed,
        passes=table.passes,
        mark_mm=table.mark,
    )


def _um(thickness_mm: float | None) -> float | None:
    # To the picometre, so that "25 um" is 25.0 and not 25.000000000000004.
    return None if thickness_mm is None else round(thickness_mm * 1000, 6)


def _machine(table: MachineTable) -> Machine:
    return Machine(
        spot_mm=table.spot,
        spot_means=table.spot_means,
        wavelength_nm=table.wavelength,
        power_w=table.power,
        top_speed_mm_s=table.top_speed,
        acceleration_mm_s2=table.acceleration,
        cornering_mm=table.cornering,
        step_mm=table.step,
        bed_mm=table.bed,
        blank_at_mm=table.blank_at,
        power_word=table.power_word,
        beam_on=table.beam_on,
        power_follows_speed=table.power_follows_speed,
        pointer_fraction=table.pointer,
        keep_outs_mm=tuple(keep_out.box for keep_out in table.keep_out),
    )


def _clearing(table: ClearingTable) -> Clearing:
    return Clearing(
        power=table.power,
        speed_mm_s=table.speed,
        passes=table.passes,
        mark_mm=table.mark,
        dose_ratio=table.dose_ratio,
        spacing_mm=table.spacing,
        line_direction=table.line_direction,
    )


def _etch(table: EtchTable) -> Etch:
    return Etch(
        etchant=table.etchant,
        strength=table.strength,
        temperature_degc=table.temperature,
        depth_mm=table.depth,
        etch_factor=table.etch_factor,
        rate_um_per_min=table.rate,
        rise_k=table.rise,
        agitation=table.agitation,
    )


def _limits(table: LimitsTable) -> Limits:
    return Limits(
        edge_tolerance_mm=table.edge_tolerance,
        narrowest_land_mm=table.narrowest_land,
        too_thin=table.too_thin,
    )


def _findings(tables: JobFile) -> tuple[Finding, ...]:
    findings = []
    for table, key, meanwhile, remedy in NOT_USED_YET:
        if getattr(getattr(tables, table), key, None) is not None:
            message = f"[{table}] {key} is not used in planning yet; {meanwhile}"
            findings.append(
                Finding(code="not-used-yet", level=Level.NOTE, message=message, remedy=remedy)
            )
    findings += _finish_findings(tables.blank)
    if tables.artwork.field is not None and tables.artwork.dark != "raised":
        findings.append(
            Finding(
                code="no-effect",
                level=Level.NOTE,
                message='[artwork] field has no effect: it is for dark = "raised"',
                remedy='Leave field out, or write dark = "raised".',
            )
        )
    return tuple(findings)


def _finish_findings(blank: BlankTable) -> tuple[Finding, ...]:
    """A caution where something lies on the blank that the plan knows nothing of."""
    if blank.finish == "bare":
        return ()
    # The film on the front of a clear sheet stays on until the end; it is not under the beam.
    where = "the back " if blank.worked_side == "back" else ""
    names = {"filmed": "film", "lacquered": "lacquer"}
    if blank.finish in names:
        remedy = _FOREIGN_COAT.format(name=names[blank.finish], where=where)
    else:
        remedy = _OXIDE
    message = f"the blank is {blank.finish}, and the plan reckons with a bare one"
    return (Finding(code="not-used-yet", level=Level.CAUTION, message=message, remedy=remedy),)
