"""The bench of the pictures: one machine, and the road from a drawn shape to what is finished."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import clear, default_spacing_mm
from stopout.mask import Mask, make_mask
from stopout.outcome import advance, sweep
from stopout.values import Machine, Moves

__all__ = ["MACHINE", "SPEED_MM_S", "Made", "glyph", "make"]

SPEED_MM_S = 20.0
MACHINE = Machine(
    spot_mm=(0.17, 0.12),
    spot_means="1/e2",
    wavelength_nm=450,
    power_w=5.5,
    top_speed_mm_s=100,
    acceleration_mm_s2=800,
    step_mm=0.0125,
    bed_mm=(400, 400),
    cornering_mm=0.01,
    power_word=1000,
    beam_on="M3",
    power_follows_speed=True,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A target, the mask planned for it, its moves, and what these would make."""

    target: BaseGeometry
    mask: Mask
    moves: Moves
    opening: MultiPolygon
    finished: MultiPolygon


def make(
    target: BaseGeometry,
    *,
    undercut_mm: float,
    mark_mm: float,
    too_thin: str = "widen",
    edge_tolerance_mm: float = 0.0,
    direction: str = "x",
) -> Made:
    """Plan and predict a shape with the same functions as `stopout plan`."""
    mark = (mark_mm, mark_mm)
    mask = make_mask(
        target,
        undercut_mm=undercut_mm,
        mark_mm=mark,
        too_thin=too_thin,  # type: ignore[arg-type]
        edge_tolerance_mm=edge_tolerance_mm,
    )
    spacing = default_spacing_mm(
        mark_across_mm=mark_mm, radius_across_mm=mark_mm / 1.17741, step_mm=MACHINE.step_mm
    )
    run = clear(
        mask.centres,
        mask.lines,
        machine=MACHINE,
        mark_mm=mark,
        spacing_mm={"x": spacing, "y": spacing},
        power=0.3,
        speed_mm_s=SPEED_MM_S,
        line_direction=direction,  # type: ignore[arg-type]
    )
    opening = sweep(run.moves, mark)
    return Made(
        target=target,
        mask=mask,
        moves=run.moves,
        opening=opening,
        finished=advance(opening, undercut_mm),
    )


def glyph() -> Polygon:
    """A hooked stroke with an acute end, a little like a J: 2.4 x 2.6 mm."""
    hook = LineString([(0.75, 0.55), (1.55, 0.55), (1.55, 2.6)]).buffer(0.27, cap_style="flat")
    foot = Polygon([(0.0, 1.35), (0.45, 0.28), (0.95, 0.28), (0.95, 0.82), (0.75, 0.82)])
    arm = shapely.box(0.95, 2.16, 2.4, 2.6)
    return Polygon(shapely.union_all([hook, foot, arm]).exterior)
