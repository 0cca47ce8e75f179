"""What a coupon's program is predicted to make: its one coat, held against the design."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import mark_width_mm, measure_program
from stopout.coupons.design import CouponDesign, Settings
from stopout.coupons.design_clearing import expected_width_mm, threshold_j_per_mm
from stopout.coupons.layout import CouponLayout, DoseLine
from stopout.job.record import Job
from stopout.mask import as_multipolygon, reach_mm
from stopout.mask.regions import scale_y
from stopout.outcome import advance, judge, sweep
from stopout.planning.measures.beam import Beam
from stopout.planning.measures.margins import Relief, advise, land_margin, stroke_margin
from stopout.planning.measures.measuring import drawn_widths, land_left, measure_opening
from stopout.planning.plan import ClearingNumbers, CoatPlan
from stopout.values import Measured, Moves


def coupon_coat(
    design: CouponDesign,
    settings: Settings,
    job: Job,
    face: BaseGeometry,
    beam: Beam,
    moves: Moves,
    text: str,
    undercut: Measured,
) -> CoatPlan:
    """The coupon's one coat, predicted from its program.

    Parameters
    ----------
    design : CouponDesign
        The coupon, its layout as programmed.
    settings : Settings
        The beam.
    job : Job
        The coupon's job.
    face : BaseGeometry
        The blank's face as worked.
    beam : Beam
        The job's settings of the beam.
    moves : Moves
        The program as read back.
    text : str
        The program.
    undercut : Measured
        What the etch takes on each edge.
    """
    mark = settings.mark_mm
    reach = reach_mm(undercut.value, mark)
    opening = _cleared(design.layout, settings, moves)
    finished = advance(opening, undercut.value)
    target = as_multipolygon(
        shapely.intersection(advance(_drawn(design.layout, design, settings), undercut.value), face)
    )
    measured = measure_opening(opening, face, min(mark))
    outcome = judge(
        target=target,
        finished=finished,
        reach_mm=reach,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
    )
    land = land_left(face, finished, 2 * min(mark))
    widths, narrowest_stroke = drawn_widths(target, face, reach)
    return CoatPlan(
        number=1,
        coat=job.coats[0],
        target=target,
        opening=opening,
        finished=finished,
        thin_places=(),
        narrow_lands=(),
        mark_mm=beam.mark_mm,
        reach_mm=reach,
        bridges=(),
        counters=(),
        widths=widths,
        stroke=stroke_margin(measured.narrowest_opening_mm, undercut=undercut, mark=beam.mark_mm),
        land=land_margin(land.width_mm, undercut=undercut, mark=beam.mark_mm),
        advice=_advice(job, narrowest_stroke, land.width_mm, max(mark)),
        moves=moves,
        mask=measured,
        clearing=_numbers(beam, job, moves, reach, measured.area_mm2),
        outcome=outcome,
        finished_land_mm=land.width_mm,
        narrowest_land_at=land.at_mm,
        stroke_mm=narrowest_stroke,
        program=text,
    )


def _advice(job: Job, stroke_mm: float, land_mm: float, mark_mm: float) -> Relief:
    return advise(
        stroke_mm=stroke_mm,
        land_mm=land_mm,
        mark_mm=mark_mm,
        depth_mm=0.0 if job.etch is None else job.etch.depth_mm,
        factor=None,
        edge_tolerance_mm=job.limits.edge_tolerance_mm,
        narrowest_land_mm=job.limits.narrowest_land_mm,
    )


def _numbers(
    beam: Beam, job: Job, moves: Moves, reach: float, opening_mm2: float
) -> ClearingNumbers:
    times = measure_program(moves, machine=job.laser, power=beam.power, speed_mm_s=beam.speed_mm_s)
    return ClearingNumbers(
        mark_mm=beam.mark_mm,
        reach_mm=reach,
        spacing_mm=beam.spacing_mm["x"],
        line_direction="x",
        power_fraction=beam.power,
        speed_mm_s=beam.speed_mm_s,
        passes=beam.passes,
        outline_speed_mm_s=beam.speed_mm_s,
        times=times,
        time_one_direction_s=times.time_s,
        time_other_direction_s=None,
        area_floor_s=beam.passes * opening_mm2 / (beam.mark_mm[1].value * beam.speed_mm_s),
    )


def _cleared(layout: CouponLayout, settings: Settings, moves: Moves) -> MultiPolygon:
    """Sweep the program: each dose line with the mark it is expected to make, all else alike."""
    line_at = {(*line.from_mm, *line.to_mm): line for line in layout.lines}
    ends = (np.round(np.hstack([moves.start_mm, moves.end_mm]), 4) + 0.0).tolist()
    groups: dict[float, list[int]] = {}
    rest = moves.power.copy()
    for k in np.flatnonzero(moves.power > 0):
        line = line_at.get(tuple(ends[k]))
        if line is not None:
            rest[k] = 0.0
            groups.setdefault(round(_dose_ratio(line, settings), 3), []).append(int(k))
    cleared = [sweep(replace(moves, power=rest), settings.mark_mm)]
    for ratio, which in groups.items():
        mark = tuple(mark_width_mm(radius, ratio) for radius in settings.radius_mm)
        if min(mark) > 0:
            power = np.zeros(len(moves))
            power[which] = moves.power[which]
            cleared.append(sweep(replace(moves, power=power), (mark[0], mark[1])))
    return as_multipolygon(shapely.union_all(cleared))


def _dose_ratio(line: DoseLine, settings: Settings) -> float:
    """One pass's line dose over the threshold across the line."""
    axis: Literal["x", "y"] = "x" if line.from_mm[1] == line.to_mm[1] else "y"
    return line.line_dose_j_per_mm / line.passes / threshold_j_per_mm(axis, settings)


def _drawn(layout: CouponLayout, design: CouponDesign, settings: Settings) -> MultiPolygon:
    """What the design means to clear: its openings, and its lines at their expected widths."""
    boxes = [shapely.box(*patch.box_mm) for patch in layout.patches]
    lines = [
        LineString([line.from_mm, line.to_mm]).buffer(expected_width_mm(line, settings) / 2)
        for line in layout.lines
        if expected_width_mm(line, settings) > 0
    ]
    teeth = [
        LineString([tooth.from_mm, tooth.to_mm]) for comb in layout.combs for tooth in comb.teeth
    ]
    single = [_swept(line, settings.mark_mm) for line in (*teeth, *design.strokes.geoms)]
    return as_multipolygon(shapely.union_all([design.areas, *boxes, *lines, *single]))


def _swept(line: LineString, mark_mm: tuple[float, float]) -> BaseGeometry:
    """A line swept by the mark's ellipse."""
    factor = mark_mm[0] / mark_mm[1]
    return scale_y(scale_y(line, factor).buffer(mark_mm[0] / 2, quad_segs=16), 1 / factor)
