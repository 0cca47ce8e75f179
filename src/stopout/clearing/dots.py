"""Round dots cleared by a dwell at their middle, where strokes would only draw a tiny ring.

A beam at rest clears an ellipse of the full axes w sqrt(2 ln(E / E_th)): for a Gaussian spot of
radii wx, wy and a threshold fluence F the energy of threshold is E_th = pi wx wy F / 2 (J. M. Liu,
Opt. Lett. 7 (1982) 196, from memory, for pulses; a dwell as short as a stroke's passing is taken as
one).

A dwell is written as one slow move of one motor step, never as a dwell word: its unit differs
between controls by a factor of a thousand, and a move ends by itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Polygon

from stopout.clearing.filling.edges import order_outlines
from stopout.clearing.filling.order import HOME_MM
from stopout.clearing.filling.strokes import BeamStroke
from stopout.clearing.motion import plan_speeds
from stopout.clearing.moving.lead import offset_for_play
from stopout.clearing.moving.program_times import measure_program
from stopout.clearing.plan import ClearingRun
from stopout.values import COORDINATE_DECIMALS, MOST_DWELL_S, FloatArray, Machine, Moves

# How deep a hollow the area of a dot's beam centres may have: the dwell fills it.
_HOLLOW_MM = 0.002
# A dot this many marks wide takes nearly five times the energy of threshold of a mark's own width.
_MOST_MARKS = 1.5
# The step of a dwell smears it: no more than this share of the spot's radius.
_STEP_SHARE = 0.25
# How much longer a dwell may last where the control comes from rest (v / a against d / v).
_REST_SHARE = 0.05
_ROUNDING_MM = 1e-4
_ANGLES = np.linspace(0, 2 * np.pi, 180, endpoint=False)
_WAYS = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])


@dataclass(frozen=True, slots=True, kw_only=True)
class DwellBeam:
    """What a beam at rest clears.

    Attributes
    ----------
    radius_mm : (float, float)
        1/e^2 radii of the spot along x and y.
    threshold_s : float
        Seconds of full power at rest that just reach the threshold.
    """

    radius_mm: tuple[float, float]
    threshold_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DwellRun:
    """The dots of a program: how many, each one's time and power, and what strokes would take."""

    count: int
    dwell_s: tuple[float, float]
    power: tuple[float, float]
    time_strokes_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dot:
    at_mm: tuple[float, float]
    energy_s: float


def may_dwell(machine: Machine, beam: DwellBeam) -> bool:
    """Tell whether a machine may clear dots by a dwell.

    It must be known to keep S as it stands at rest, and its motor step must be fine enough.
    """
    unit_mm = 25.4 if machine.units_word in ("G20", "G70") else 1.0
    finest = 0.0 if machine.decimals is None else unit_mm * 10.0**-machine.decimals
    return (
        machine.beam_at_rest
        and machine.power_follows_speed in (True, False)
        and machine.step_mm <= _STEP_SHARE * min(beam.radius_mm)
        and finest <= _STEP_SHARE * machine.step_mm
    )


def with_dots(
    centres: MultiPolygon,
    lines: MultiLineString,
    lay: Callable[[MultiPolygon, MultiLineString], ClearingRun],
    *,
    machine: Machine,
    mark_mm: tuple[float, float],
    beam: DwellBeam,
    tolerance_mm: float,
    power: float,
    speed_mm_s: float,
    passes: int,
) -> tuple[ClearingRun, DwellRun | None]:
    """Plan a clearing with a dwell for each dot, where that is quicker than strokes alone.

    Parameters
    ----------
    centres, lines : shapely geometries
        Where the beam's centre goes, in mm.
    lay : callable
        Plans the strokes of such an area, all passes.
    machine, mark_mm, power, speed_mm_s, passes
        As for `clear`.
    beam : DwellBeam
        What the beam clears at rest.
    tolerance_mm : float
        How far a dwell's edge may stay inside the dot's.

    Returns
    -------
    run : ClearingRun
    dots : DwellRun or None
        None where nothing is cleared by a dwell.
    """
    plain = lay(centres, lines)
    if not may_dwell(machine, beam):
        return plain, None
    found = [_dot(part, mark_mm, beam, tolerance_mm) for part in centres.geoms]
    dots = [dot for dot in found if dot is not None]
    if not dots:
        return plain, None
    rest = MultiPolygon([a for a, dot in zip(centres.geoms, found, strict=True) if dot is None])
    run = lay(rest, lines)
    moves, block, time_s = _laid(run.moves, dots, machine, power=power, passes=passes)

    def takes(moves: Moves) -> float:
        made = measure_program(moves, machine=machine, power=power, speed_mm_s=speed_mm_s)
        return made.time_s

    strokes_s, dots_s = takes(plain.moves), takes(moves)
    if dots_s >= strokes_s:
        return plain, None
    lit = block.power > 0
    other = None
    if run.other_time_s is not None:
        other = run.other_time_s + dots_s - takes(run.moves)
    made = replace(
        run, moves=moves, time_one_direction_s=plain.time_one_direction_s, other_time_s=other
    )
    return made, DwellRun(
        count=len(dots),
        dwell_s=(float(time_s[lit].min()), float(time_s[lit].max())),
        power=(float(block.power[lit].min()), float(block.power[lit].max())),
        time_strokes_s=strokes_s,
    )


def _dot(
    part: Polygon, mark_mm: tuple[float, float], beam: DwellBeam, tolerance_mm: float
) -> _Dot | None:
    """Return the dwell that clears an area of beam centres, None where none does well enough.

    The opening is that area widened by the mark; the largest ellipse of the spot's shape that
    stays inside it must reach its edge within the tolerance on all sides. Both are convex but for a
    hollow of nothing, so the difference of their support functions is what lies between them.
    """
    x0, y0, x1, y1 = part.bounds
    grown = _MOST_MARKS - 1
    if x1 - x0 > grown * mark_mm[0] or y1 - y0 > grown * mark_mm[1] or part.interiors:
        return None
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    points = shapely.get_coordinates(part.exterior) - middle
    if shapely.hausdorff_distance(part, part.convex_hull) > _HOLLOW_MM:
        return None
    edge = (points @ _WAYS.T).max(axis=0) + _support(mark_mm) - _ROUNDING_MM
    spot = _support(beam.radius_mm)
    size = float((edge / spot).min())
    energy_s = beam.threshold_s * math.exp(size**2 / 2)
    if float((edge - size * spot).max()) > tolerance_mm or energy_s > MOST_DWELL_S:
        return None
    return _Dot(at_mm=(float(middle[0]), float(middle[1])), energy_s=energy_s)


def _support(axes_mm: tuple[float, float]) -> FloatArray:
    """Return how far an ellipse of these full axes reaches from its middle in each direction."""
    return np.asarray(np.hypot(*(_WAYS * np.asarray(axes_mm) / 2).T))


def _laid(
    strokes: Moves, dots: list[_Dot], machine: Machine, *, power: float, passes: int
) -> tuple[Moves, Moves, FloatArray]:
    """Return all moves; those of the dots alone, as long; and what each of these takes."""
    ordered = _ordered(dots, machine)
    block = _block(ordered * passes, machine, power)
    time_s = plan_speeds(
        block, acceleration_mm_s2=machine.acceleration_mm_s2, cornering_mm=machine.cornering_mm
    ).time_s
    lit = block.power > 0
    energy = np.zeros(len(block))
    energy[lit] = [dot.energy_s for dot in ordered * passes]
    block = replace(block, power=np.where(lit, energy / np.maximum(time_s, 1e-9), 0.0))
    if not len(strokes):
        return block, block, time_s
    # The strokes end at home, from where the dots begin.
    both = Moves(
        x_mm=np.concatenate([strokes.x_mm, block.x_mm]),
        y_mm=np.concatenate([strokes.y_mm, block.y_mm]),
        rapid=np.concatenate([strokes.rapid, block.rapid]),
        speed_mm_s=np.concatenate([strokes.speed_mm_s, block.speed_mm_s]),
        power=np.concatenate([strokes.power, block.power]),
    )
    return both, block, time_s


def _ordered(dots: list[_Dot], machine: Machine) -> list[_Dot]:
    half = np.array([machine.step_mm / 2, 0.0])
    strokes = [
        BeamStroke(
            points_mm=np.array([dot.at_mm - half, dot.at_mm + half]),
            is_on=np.array([True]),
            is_fill=False,
        )
        for dot in dots
    ]
    by_start = {
        tuple(sorted(map(tuple, stroke.points_mm.tolist()))): dot
        for stroke, dot in zip(strokes, dots, strict=True)
    }
    return [
        by_start[tuple(sorted(map(tuple, stroke.points_mm.tolist())))]
        for stroke in order_outlines(strokes, start_mm=HOME_MM)
    ]


def _block(dots: list[_Dot], machine: Machine, power: float) -> Moves:
    """Return a travel to each dot and one slow step across its middle, and the way home.

    The step goes on the way that the travel came by its longer axis, so that play is taken up.
    """
    step, least_s = machine.step_mm, math.sqrt(machine.step_mm / machine.acceleration_mm_s2)
    least_s /= math.sqrt(_REST_SHARE)
    rows: list[tuple[float, float, bool, float, float]] = []
    here = np.zeros(2)
    top = machine.top_speed_mm_s
    for dot in dots:
        at = np.asarray(dot.at_mm)
        way = at - here
        axis = int(abs(way[1]) > abs(way[0]))
        half = np.zeros(2)
        half[axis] = math.copysign(step / 2, way[axis])
        start, end = (np.round(at + side, COORDINATE_DECIMALS) for side in (-half, half))
        dwell_s = max(dot.energy_s / power, least_s, step / top)
        speed = float(np.hypot(*(end - start))) / dwell_s
        rows += [(*start, True, top, 0.0), (*end, False, min(speed, top), power)]
        here = end
    rows.append((0.0, 0.0, True, top, 0.0))
    x, y, rapid, speed_mm_s, powers = (np.array(column) for column in zip(*rows, strict=True))
    moves = Moves(
        x_mm=x.astype(float),
        y_mm=y.astype(float),
        rapid=rapid.astype(bool),
        speed_mm_s=speed_mm_s.astype(float),
        power=powers.astype(float),
    )
    return offset_for_play(moves, machine)[0]
