"""From a coupon's design to the moves of its program."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
from shapely.geometry import MultiPolygon

from stopout.clearing import clear
from stopout.clearing.filling.strokes import BeamStroke
from stopout.clearing.moving.paths import assemble
from stopout.coupons.design import CouponDesign, Settings
from stopout.coupons.layout import CouponLayout, DoseLine, Point, SpacingPatch
from stopout.errors import CouponError
from stopout.mask import erode_by_mark
from stopout.values import Machine, Moves

# Ends are matched to the 0.1 um that programs are written to.
_DECIMALS = 4


def coupon_moves(
    design: CouponDesign, settings: Settings, *, machine: Machine, passes: int = 1
) -> Moves:
    """The moves of a coupon: dose lines, patches, combs, then openings and labels.

    Parameters
    ----------
    design : CouponDesign
        The coupon, laid out.
    settings : Settings
        The beam at the job's settings.
    machine : Machine
        Limits of the machine.
    passes : int
        How often openings and labels are run, as the job has it.

    Returns
    -------
    Moves
        From rest at (0, 0). Each single line has its run-up and run-out with the beam off.
    """
    layout = design.layout
    pieces = [
        *(_line_moves(line, machine) for line in layout.lines),
        *(_patch_moves(patch, settings, machine) for patch in layout.patches),
        *(
            assemble(
                [_stroke(tooth.from_mm, tooth.to_mm) for tooth in comb.teeth],
                machine=machine,
                power=comb.power_fraction,
                speed_mm_s=comb.speed_mm_s,
            )
            for comb in layout.combs
        ),
    ]
    run = clear(
        _centres(design.areas, settings),
        design.strokes,
        machine=machine,
        mark_mm=settings.mark_mm,
        spacing_mm={"x": settings.spacing_mm[0], "y": settings.spacing_mm[1]},
        power=settings.power_fraction,
        speed_mm_s=settings.speed_mm_s,
        passes=passes,
        line_direction="x",
    )
    return _joined([*pieces, run.moves])


def as_programmed(layout: CouponLayout, moves: Moves, *, power_w: float) -> CouponLayout:
    """The coupon with the powers, speeds and doses that its program really gives.

    Parameters
    ----------
    layout : CouponLayout
        As it was designed.
    moves : Moves
        The program as read back: its words have only so many decimals.
    power_w : float
        Full power [W].

    Raises
    ------
    CouponError
        If the program lacks one of the lines.
    """
    given = {ends: (power, speed) for ends, power, speed in _lit(moves)}
    lines = []
    for line in layout.lines:
        ends = _ends(*line.from_mm, *line.to_mm)
        if ends not in given:
            raise CouponError(f"the program does not run line {line.id}; lay the coupon out again")
        power, speed = given[ends]
        dose = power_w * power / speed * line.passes
        lines.append(
            replace(
                line,
                power_fraction=power,
                speed_mm_s=speed,
                line_dose_j_per_mm=float(f"{dose:.8g}"),
            )
        )
    return replace(layout, lines=tuple(lines))


def _centres(areas: MultiPolygon, settings: Settings) -> MultiPolygon:
    return erode_by_mark(areas, settings.mark_mm)


def _line_moves(line: DoseLine, machine: Machine) -> Moves:
    return assemble(
        [_stroke(line.from_mm, line.to_mm)],
        machine=machine,
        power=line.power_fraction,
        speed_mm_s=line.speed_mm_s,
        passes=line.passes,
    )


def _patch_moves(patch: SpacingPatch, settings: Settings, machine: Machine) -> Moves:
    """Parallel lines to and fro; no outline, so that nothing but the spacing clears the inside."""
    x0, y0, x1, y1 = patch.box_mm
    half_x, half_y = settings.mark_mm[0] / 2, settings.mark_mm[1] / 2
    near, far, low, high = x0 + half_x, x1 - half_x, y0 + half_y, y1 - half_y
    if patch.line_direction == "y":
        near, far, low, high = low, high, near, far
    n_rows = math.floor((high - low) / patch.spacing_mm + 1e-6) + 1
    strokes = []
    for k in range(n_rows):
        at = low + k * patch.spacing_mm
        ends = ((near, at), (far, at)) if k % 2 == 0 else ((far, at), (near, at))
        if patch.line_direction == "y":
            ends = (ends[0][::-1], ends[1][::-1])
        strokes.append(_stroke(*ends))
    return assemble(
        strokes, machine=machine, power=settings.power_fraction, speed_mm_s=settings.speed_mm_s
    )


def _stroke(first: Point, last: Point) -> BeamStroke:
    return BeamStroke(
        points_mm=np.array([first, last], dtype=float), is_on=np.array([True]), is_fill=True
    )


def _joined(pieces: Iterable[Moves]) -> Moves:
    kept = [piece for piece in pieces if len(piece)]
    return Moves(
        x_mm=np.concatenate([piece.x_mm for piece in kept]),
        y_mm=np.concatenate([piece.y_mm for piece in kept]),
        rapid=np.concatenate([piece.rapid for piece in kept]),
        speed_mm_s=np.concatenate([piece.speed_mm_s for piece in kept]),
        power=np.concatenate([piece.power for piece in kept]),
    )


def _lit(moves: Moves) -> Iterator[tuple[tuple[float, ...], float, float]]:
    """Ends, power and speed of every move with the beam on."""
    start, end = moves.start_mm, moves.end_mm
    for k in np.flatnonzero(moves.power > 0):
        yield _ends(*start[k], *end[k]), float(moves.power[k]), float(moves.speed_mm_s[k])


def _ends(x0: float, y0: float, x1: float, y1: float) -> tuple[float, ...]:
    return tuple(round(float(value), _DECIMALS) + 0.0 for value in (x0, y0, x1, y1))
