"""From complete, checked tables to the frozen records of a `Job`."""

from __future__ import annotations

from typing import Literal, cast

from stopout.job.record import (
    ArtworkRequest,
    Bath,
    Blank,
    Budget,
    Clearing,
    Coat,
    EdgeLight,
    Etch,
    Film,
    Hole,
    Job,
    Limits,
    Registration,
    Stencil,
)
from stopout.job.setting import Arc, Fit, SetCode, SetFrame, SetLine, SetText, Setting
from stopout.jobs.model import (
    ArtworkTable,
    BathTable,
    BlankTable,
    ClearingTable,
    CoatTable,
    EtchTable,
    FilmTable,
    JobFile,
    LightTable,
    LimitsTable,
    MachineTable,
    RegistrationTable,
    ResistTable,
)
from stopout.jobs.setting_tables import TextTable
from stopout.tables import emitter_of, emitter_spans
from stopout.typefaces import missing_letters
from stopout.values import Finding, Level, Machine, Measured, PowerWay, Span

__all__ = ["job_of"]


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
    machine = None if tables.machine is None else _machine(tables.machine)
    return Job(
        name=tables.job.name,
        revision=tables.job.revision,
        quantity=tables.job.quantity,
        spares=tables.job.spares,
        artwork=ArtworkRequest(file="") if tables.artwork is None else _artwork(tables.artwork),
        setting=_setting(tables),
        blank=_blank(tables.blank),
        coats=_coats(tables),
        machine=machine,
        clearing=None if machine is None else _clearing(tables.clearing, machine),
        method=_method(tables),
        film=None if tables.film is None else _film(tables.film),
        stencil=_stencil(tables),
        etch=None if tables.etch is None else _etch(tables.etch),
        bath=Bath() if tables.bath is None else _bath(tables.bath),
        limits=Limits() if tables.limits is None else _limits(tables.limits),
        registration=_registration(tables.registration),
        light=None if tables.light is None else _light(tables.light),
        second_name=tables.sheet is not None and tables.sheet.second_name,
        tables_file=None if tables.tables is None else tables.tables.file,
        sha256=sha256,
        budget=None
        if tables.budget is None
        else Budget(time_s=tables.budget.time, memory_gib=tables.budget.memory),
        findings=_findings(tables),
    )


def _artwork(table: ArtworkTable) -> ArtworkRequest:
    return ArtworkRequest(
        file=table.file or "",
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
        may_be_cut=table.may_be_cut,
        page=table.page,
        fonts=table.fonts,
        leave_out=table.leave_out,
    )


def _setting(tables: JobFile) -> Setting:
    return Setting(
        texts=tuple(_text(table) for table in tables.text),
        lines=tuple(
            SetLine(
                from_mm=getattr(table, "from"),
                to_mm=table.to,
                width_mm=table.width,
                becomes=getattr(table, "as"),
            )
            for table in tables.line
        ),
        frames=tuple(
            SetFrame(
                width_mm=table.width,
                margin_mm=table.margin,
                at_mm=table.at,
                size_mm=table.size,
                corner=table.corner,
                corner_mm=table.corner_size,
                becomes=getattr(table, "as"),
            )
            for table in tables.frame
        ),
        codes=tuple(
            SetCode(
                content=table.content,
                kind=table.kind,
                module_mm=table.module,
                height_mm=table.height,
                at_mm=table.at,
                anchor=table.anchor,
                becomes=getattr(table, "as"),
            )
            for table in tables.code
        ),
    )


def _text(table: TextTable) -> SetText:
    arc, fit = table.arc, table.fit
    return SetText(
        words=table.words,
        cap_height_mm=table.cap_height,
        font=table.font,
        at_mm=table.at,
        anchor=table.anchor,
        align=table.align,
        letter_space_mm=table.letter_space,
        line_space_mm=table.line_space,
        turn_deg=table.rotate,
        arc=None if arc is None else Arc(radius_mm=arc.radius, side=arc.side, line=arc.line),
        fit=None if fit is None else Fit(width_mm=fit.width, way=fit.way, least_mm=fit.least),
        becomes=getattr(table, "as"),
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
    if tables.light is not None:
        # The beam marks the sheet itself: a stand-in carries what a coat else would.
        return (Coat(paint="", colour="frosted"),)
    coats: list[Coat] = []
    for table in tables.coat:
        # Nothing is sprayed for a window to light; its paint only has to be one that is known.
        paint = table.paint or (coats[-1].paint if coats else "")
        coats.append(_coat(table, paint))
    return tuple(coats)


def _light(table: LightTable) -> EdgeLight:
    return EdgeLight(edge=table.edge, far=table.far)


def _resist(table: ResistTable) -> Coat:
    return Coat(paint=table.paint, colour=table.colour, thickness_um=_um(table.thickness))


def _coat(table: CoatTable, paint: str) -> Coat:
    return Coat(
        paint=paint,
        colour=table.colour,
        thickness_um=_um(table.thickness),
        shows=table.shows,
        recolour=table.recolour,
        power=table.power,
        speed_mm_s=table.speed,
        passes=table.passes,
        mark_mm=table.mark,
    )


def _um(thickness_mm: float | None) -> float | None:
    # To the picometre, so that "25 um" is 25.0 and not 25.000000000000004.
    return None if thickness_mm is None else round(thickness_mm * 1000, 6)


def _machine(table: MachineTable) -> Machine:
    emitter = table.emitter or emitter_of(table.wavelength or 0.0)
    known = emitter_spans(emitter)
    spans: list[Span] = []

    def figure(name: str, given: float | None) -> float:
        """The figure as given, else the middle of its range, which is kept."""
        if given is None:
            spans.append(known[name])
        return known[name].value if given is None else given

    spot = table.spot or (figure("spot", None),) * 2
    return Machine(
        spot_mm=spot,
        spot_means="1/e2" if table.spot_means is None else table.spot_means,
        # One kind of laser's wavelengths do the same to paint: this is no range that matters.
        wavelength_nm=table.wavelength or known["wavelength"].value,
        power_w=figure("power", table.power),
        top_speed_mm_s=table.top_speed,
        acceleration_mm_s2=figure("acceleration", table.acceleration),
        cornering_mm=figure("cornering", table.cornering),
        step_mm=figure("step", table.step),
        bed_mm=table.bed,
        blank_at_mm=table.blank_at,
        power_word=table.power_word,
        beam_on=table.beam_on,
        # The form takes no other word.
        power_follows_speed=cast(PowerWay, table.power_follows_speed),
        beam_at_rest=table.beam_at_rest,
        beam_lag_s=_lag(table.beam_lag),
        play_mm=None if table.play is None else (table.play[0].value, table.play[1].value),
        units_word=table.units_word,
        feed_word=table.feed_word or "",
        work_offset=table.work_offset or "",
        air_on=table.air_on or "",
        air_off=table.air_off or "",
        beam_off=table.beam_off or "",
        end_word=table.end_word or "",
        line_ending=table.line_ending,
        longest_line=table.longest_line,
        decimals=table.decimals,
        most_lines_per_s=table.most_lines_per_second,
        pointer_fraction=table.pointer,
        keep_outs_mm=tuple(keep_out.box for keep_out in table.keep_out),
        spans=tuple(spans),
    )


def _lag(given: tuple[Measured, Measured] | None) -> tuple[float, float] | None:
    """Seconds from the job file's milliseconds."""
    return None if given is None else (given[0].value / 1000, given[1].value / 1000)


def _clearing(table: ClearingTable | None, machine: Machine) -> Clearing:
    middling = machine.top_speed_mm_s / 2
    if table is None:
        # All of it is left to the plan.
        return Clearing(power=1.0, speed_mm_s=middling, choose_power=True, choose_speed=True)
    return Clearing(
        power=1.0 if table.power is None else table.power,
        speed_mm_s=middling if table.speed is None else table.speed,
        choose_power=table.power is None,
        choose_speed=table.speed is None,
        passes=table.passes,
        mark_mm=table.mark,
        dose_ratio=table.dose_ratio,
        spacing_mm=table.spacing,
        line_direction=table.line_direction,
        dots=table.dots,
        focus_step_mm=table.focus_step,
    )


def _film(table: FilmTable) -> Film:
    return Film(
        resist_acts=table.resist_acts,
        growth_mm=table.growth,
        smallest_opening_mm=table.smallest_opening,
        printed_side=table.printed_side,
        page_mm=table.page,
    )


def _method(tables: JobFile) -> Literal["laser", "printed-film", "cut-film"]:
    """How openings are made: a sign's masks are cut where a stencil is given."""
    if tables.resist is not None:
        return tables.resist.method
    return "cut-film" if tables.stencil is not None and tables.coat else "laser"


def _stencil(tables: JobFile) -> Stencil | None:
    table = tables.stencil
    if table is None:
        cut = tables.resist is not None and tables.resist.method == "cut-film"
        return Stencil() if cut else None
    return Stencil(
        overrun_mm=table.overrun,
        is_loose=table.loose,
        bridge_mm=table.bridge,
        margin_mm=table.margin,
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
        is_filled=table.filled,
        electrolyte=table.electrolyte,
        current_a=table.current,
        current_density_a_per_cm2=table.current_density,
        voltage_v=table.voltage,
        efficiency=table.efficiency,
        is_chromate_acknowledged=table.chromate_acknowledged,
    )


def _bath(table: BathTable) -> Bath:
    return Bath(
        ident=table.id or "",
        dissolved_g_per_l=table.dissolved,
        volume_l=table.volume,
        tray_mm=table.tray,
        plates_at_once=table.plates_at_once,
        stock=table.stock,
        coupon_area_mm2=table.coupon_area,
        is_cooled=table.cooled,
    )


def _limits(table: LimitsTable) -> Limits:
    return Limits(
        edge_tolerance_mm=table.edge_tolerance,
        narrowest_land_mm=table.narrowest_land,
        too_thin=table.too_thin,
        viewing_distance_mm=table.viewing_distance,
    )


def _registration(table: RegistrationTable | None) -> Registration:
    if table is None:
        return Registration()
    return Registration(
        placing_mm=table.placing,
        error_mm=table.error,
        method=table.method,
        marks_mm=tuple(mark.at for mark in table.mark),
    )


def _findings(tables: JobFile) -> tuple[Finding, ...]:
    findings: list[Finding] = []
    artwork = tables.artwork
    if artwork is not None and artwork.field is not None and artwork.dark != "raised":
        findings.append(
            Finding(
                code="no-effect",
                level=Level.NOTE,
                message='[artwork] field has no effect: it is for dark = "raised"',
                remedy='Leave field out, or write dark = "raised".',
            )
        )
    lost = missing_letters(tables.job.name + tables.job.revision)
    if lost:
        findings.append(
            Finding(
                code="letters-missing",
                level=Level.CAUTION,
                message=f"no typeface here has these letters of the job's name: {' '.join(lost)}; "
                "sheet and preview show boxes in their place",
                remedy="Write the name in letters of another script as well.",
            )
        )
    return tuple(findings)
