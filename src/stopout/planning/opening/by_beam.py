"""The opening made by a beam: a coat's mask, its program, and what that program clears."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import (
    ALONE,
    ClearingRun,
    DwellRun,
    ProgramTimes,
    SideBySide,
    as_run,
    clear,
    heads_mm,
    mark_in_bands,
    measure_program,
    plan_speeds,
    with_dots,
)
from stopout.job.record import Coat, EdgeLight, Job
from stopout.mask import Mask, as_multipolygon, reach_mm
from stopout.outcome import closed_gaps, dwelt, sweep
from stopout.planning.measures.beam import Beam, beam_for
from stopout.planning.measures.focus_steps import passes_at_once, stopping
from stopout.planning.measures.placing import place_of_blank
from stopout.planning.opening.edge_light import light_bands, line_bands, lines_along
from stopout.planning.opening.masks import Planned
from stopout.planning.opening.opened import Opened
from stopout.planning.plan import ClearingNumbers
from stopout.program import as_written, read_program, round_keep_outs, write_program
from stopout.values import Measured, Moves

# A dwell may leave a dot's edge short by this share of the tolerance, and by no more than this.
_DOT_SHARE, _DOT_MM = 0.25, 0.0125
# How a machine's record ends the names of the figures that its motion hangs on.
_UNITS = {"acceleration": "mm_s2", "cornering": "mm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamOpener:
    """The beam: it clears a coat, or marks a lit sheet; `mark_mm` is what one place of it clears.

    A draft has no program: its opening is what the mask's beam centres clear. Nor have pieces that
    lie side by side: theirs is written once they lie on their panel.
    """

    number: int
    job: Job
    beam: Beam
    pieces: SideBySide = ALONE

    @classmethod
    def of(cls, number: int, coat: Coat, job: Job, pieces: SideBySide) -> BeamOpener:
        """Return what opens a coat."""
        return cls(number=number, job=job, beam=beam_for(coat, job), pieces=pieces)

    @property
    def growth_mm(self) -> float:
        """By how much an edge is opened farther than the mask says: not at all."""
        return 0.0

    @property
    def step_mm(self) -> float:
        """Corner work shorter than two of these is left out."""
        return self.job.laser.step_mm

    @property
    def mark_mm(self) -> tuple[Measured, Measured]:
        """The mark's full axes along x and y."""
        return self.beam.mark_mm

    def open(
        self,
        planned: Planned,
        target: MultiPolygon,
        face: BaseGeometry,
        undercut_mm: float,
        tell: Callable[[str], None],
    ) -> Opened:
        """Write the program of a mask, and predict what that opens."""
        job, beam, mask = self.job, self.beam, planned.mask
        mark = (beam.mark_mm[0].value, beam.mark_mm[1].value)
        tell(f"coat {self.number}: clearing paths")
        program = self._program(mask, target)
        tell(f"coat {self.number}: predicting the piece")
        opening = _cleared(program.moves, beam, job)
        reach = reach_mm(undercut_mm, mark)
        clearing = _numbers(program, target, opening.area, reach, beam, job)
        if job.light is not None:
            # The lines leave gaps on purpose; what is judged is the area that they make.
            opening = closed_gaps(opening, max(_spacings(target, job, job.light, mark)))
        return Opened(
            mask=mask, opening=opening, moves=program.moves, clearing=clearing, program=program.text
        )

    def _program(self, mask: Mask, target: MultiPolygon) -> _Program:
        """Lay the program that clears a mask, write it, and read it back."""
        job, beam = self.job, self.beam
        run, dots = _run(mask, target, passes_at_once(beam, job.settings), job, self.pieces)
        if not self.pieces.is_one:
            moves = as_written(run.moves, job.laser)
            return _Program(text=None, moves=moves, run=run, dots=dots, n_stops=0)
        text, moves, n_stops = written(self.number, run.moves, beam.passes, job)
        return _Program(text=text, moves=moves, run=run, dots=dots, n_stops=n_stops)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Program:
    """A program: its text if it is written, what is read back of it, and how it came about."""

    text: str | None
    moves: Moves
    run: ClearingRun
    dots: DwellRun | None
    n_stops: int


def written(number: int, run: Moves, passes: int, job: Job) -> tuple[str, Moves, int]:
    """Write the moves of a coat as a program, and read it back.

    Parameters
    ----------
    number : int
        The coat's.
    run : Moves
        From the blank's corner, on a free bed.
    passes : int
        How often lines are run.
    job : Job
        For its machine, its name and where the blank lies.

    Returns
    -------
    (str, Moves, int)
        The program, what is read back of it, and how often it stops for the head to be lowered.
    """
    title = [
        f"{job.name}, revision {job.revision}",
        f"{'marks the sheet' if job.route.is_lit else f'clears coat {number}'}; "
        f"worked side {job.blank.worked_side}",
        f"blank {job.blank.width_mm:g} x {job.blank.height_mm:g} mm",
        "origin: the blank's lower left corner as worked",
        "attend the machine at all times",
    ]
    led = round_keep_outs(run, machine=job.laser, blank_at_mm=place_of_blank(job))
    led, stops = stopping(led, job.settings, passes)
    text = write_program(led, machine=job.laser, title=title, stops=stops)
    return text, read_program(text, machine=job.laser), len(stops)


def _numbers(
    program: _Program, target: MultiPolygon, swept_mm2: float, reach: float, beam: Beam, job: Job
) -> ClearingNumbers:
    """Return how a coat is cleared and what that takes, all passes and ways home counted."""
    run, dots = program.run, program.dots
    mark = (beam.mark_mm[0].value, beam.mark_mm[1].value)
    times = _times(program.moves, beam, job)
    lap_s = _times(run.moves, beam, job).time_s if program.n_stops else 0.0

    def in_all(one_s: float) -> float:
        """Of all passes, with the ways home between them, from what those at one height take."""
        repeats = program.n_stops + 1
        return times.time_s + repeats * (one_s - lap_s) if program.n_stops else one_s

    if dots is not None:
        dots = replace(dots, time_strokes_s=in_all(dots.time_strokes_s))
    spacing = beam.spacing_mm["y" if run.line_direction == "y" else "x"]
    if job.light is not None:
        spacing = min(_spacings(target, job, job.light, mark))
    across = mark[0] if run.line_direction == "y" else mark[1]
    return ClearingNumbers(
        mark_mm=beam.mark_mm,
        reach_mm=reach,
        spacing_mm=spacing,
        line_direction=run.line_direction,
        power_fraction=beam.power,
        speed_mm_s=beam.speed_mm_s,
        passes=beam.passes,
        outline_speed_mm_s=run.outline_speed_mm_s,
        times=times,
        time_one_direction_s=in_all(run.time_one_direction_s),
        time_other_direction_s=None if run.other_time_s is None else in_all(run.other_time_s),
        area_floor_s=beam.passes * swept_mm2 / (across * beam.speed_mm_s),
        time_range_s=time_range_s(program.moves, beam.power, beam.speed_mm_s, job),
        dots=dots,
        focus_step_mm=job.settings.focus_step_mm if program.n_stops else None,
    )


def _spacings(
    target: MultiPolygon, job: Job, light: EdgeLight, mark: tuple[float, float]
) -> list[float]:
    """Return how far apart the lines of each band lie."""
    return [band.spacing_mm for band in light_bands(target, job, light, mark)]


def time_range_s(
    moves: Moves, power: float, speed_mm_s: float, job: Job
) -> tuple[float, float] | None:
    """Return the shortest and the longest time that what is not known of the machine allows."""
    spans = [job.laser.span(name) for name in ("acceleration", "cornering")]
    if not any(spans):
        return None

    def at(end: Literal["low", "high"]) -> float:
        found = {f"{s.name}_{_UNITS[s.name]}": getattr(s, end) for s in spans if s is not None}
        machine = replace(job.laser, **found)
        return measure_program(moves, machine=machine, power=power, speed_mm_s=speed_mm_s).time_s

    return at("high"), at("low")


def _times(moves: Moves, beam: Beam, job: Job) -> ProgramTimes:
    """Return what moves take by the motion model."""
    return measure_program(moves, machine=job.laser, power=beam.power, speed_mm_s=beam.speed_mm_s)


def _cleared(moves: Moves, beam: Beam, job: Job) -> MultiPolygon:
    """Return what a program clears: its strokes by the mark, its dwells by their energy."""
    mark, machine = (beam.mark_mm[0].value, beam.mark_mm[1].value), job.laser
    which = moves.is_dwell(step_mm=machine.step_mm, line_dose=beam.power / beam.speed_mm_s)
    if not which.any():
        return sweep(as_run(moves, machine), mark)
    strokes = replace(moves, power=np.where(which, 0.0, moves.power))
    profile = plan_speeds(
        moves, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    )
    heads = heads_mm(moves, machine)
    middles = (np.vstack([np.zeros((1, 2)), heads[:-1]]) + heads) / 2
    at_rest = beam.at_rest
    opening = dwelt(
        middles[which],
        (moves.power * profile.time_s)[which],
        radius_mm=at_rest.radius_mm,
        threshold_s=at_rest.threshold_s,
    )
    if not (strokes.power > 0).any():
        return opening
    return as_multipolygon(shapely.union_all([sweep(as_run(strokes, machine), mark), opening]))


def _run(
    mask: Mask, target: MultiPolygon, beam: Beam, job: Job, pieces: SideBySide
) -> tuple[ClearingRun, DwellRun | None]:
    """Return the moves: lines that clear all, or for light lines whose spacing goes by bands."""
    mark = (beam.mark_mm[0].value, beam.mark_mm[1].value)
    if job.light is not None:
        bands = light_bands(target, job, job.light, mark)
        banded = mark_in_bands(
            mask.centres,
            mask.lines,
            machine=job.laser,
            mark_mm=mark,
            bands=line_bands(bands, job, job.light),
            along=lines_along(job.light),
            power=beam.power,
            speed_mm_s=beam.speed_mm_s,
            passes=beam.passes,
        )
        return banded, None

    def lay(centres: MultiPolygon, lines: MultiLineString) -> ClearingRun:
        return clear(
            centres,
            lines,
            machine=job.laser,
            mark_mm=mark,
            spacing_mm=beam.spacing_mm,
            power=beam.power,
            speed_mm_s=beam.speed_mm_s,
            passes=beam.passes,
            line_direction=_direction(mask, job) if pieces.is_one else job.settings.line_direction,
            pieces=pieces,
        )

    if job.settings.dots == "strokes":
        return lay(mask.centres, mask.lines), None
    return with_dots(
        mask.centres,
        mask.lines,
        lay,
        machine=job.laser,
        mark_mm=mark,
        beam=beam.at_rest,
        tolerance_mm=min(job.limits.edge_tolerance_mm * _DOT_SHARE, _DOT_MM),
        power=beam.power,
        speed_mm_s=beam.speed_mm_s,
        passes=beam.passes,
    )


def _direction(mask: Mask, job: Job) -> Literal["auto", "x", "y", "crossed"]:
    """Return how lines run: where the beam would leave the bed, no way is worth a search.

    The proof of the program then says what is wrong and where.
    """
    at, bed = place_of_blank(job), job.laser.bed_mm
    bounds = [area.bounds for area in (mask.centres, mask.lines) if not area.is_empty]
    corners = [(0.0, 0.0), *(box[:2] for box in bounds), *(box[2:] for box in bounds)]
    fits = all(0 <= x + at[0] <= bed[0] and 0 <= y + at[1] <= bed[1] for x, y in corners)
    if fits or job.settings.line_direction != "auto":
        return job.settings.line_direction
    return "x"
