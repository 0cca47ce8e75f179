"""Coats of pieces planned apart, joined where they lie: what holds for each holds for all.

Nothing is calculated anew but times: pieces that lie apart do not meddle with each other's masks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, is_dataclass, replace
from math import hypot
from typing import Any, TypeVar, cast

import numpy as np
import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import DwellRun, measure_program
from stopout.job.record import Job
from stopout.mask import LocalWidths
from stopout.outcome import Outcome
from stopout.planning.plan import ClearingNumbers, CoatPlan, MaskNumbers
from stopout.values import Drawing, Moves

T = TypeVar("T")
Place = tuple[float, float]
# How fields of records that hold a place as two numbers are named.
_PLACES = ("at_mm", "_at", "busiest_mm")
_BOXES = frozenset({"box_mm", "quiet_mm"})


def shifted(value: T, by: Place) -> T:
    """Carry a record to its place: its regions, places, boxes and moves, however deep they lie."""
    return cast(T, _shifted(value, by, ""))


def _shifted(value: Any, by: Place, name: str) -> Any:
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    if isinstance(value, BaseGeometry):
        return shapely.transform(value, lambda xy: xy + by)
    if isinstance(value, Moves):
        return replace(value, x_mm=value.x_mm + by[0], y_mm=value.y_mm + by[1])
    if isinstance(value, np.ndarray):
        return value + by if name.endswith(_PLACES) else value
    if isinstance(value, tuple):
        if name.endswith(_PLACES):
            return (value[0] + by[0], value[1] + by[1])
        if name in _BOXES:
            return (value[0] + by[0], value[1] + by[1], value[2] + by[0], value[3] + by[1])
        return tuple(_shifted(one, by, "") for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        changes = {
            part.name: _shifted(getattr(value, part.name), by, part.name) for part in fields(value)
        }
        return type(value)(**changes)
    return value


def joined_drawing(drawings: Sequence[tuple[Drawing, Place]], size_mm: Place) -> Drawing:
    """Lay the drawings of pieces side by side, as seen."""
    moved = [shifted(_bare(drawing), place) for drawing, place in drawings]
    first = drawings[0][0]
    return Drawing(
        file=first.file,
        sha256=first.sha256,
        width_mm=size_mm[0],
        height_mm=size_mm[1],
        dark=_side_by_side(one.dark for one in moved),
        shapes=tuple(shape for one in moved for shape in one.shapes),
        findings=first.findings,
        beyond_page=_side_by_side(one.beyond_page for one in moved),
        glyphs=tuple(glyph for one in moved for glyph in one.glyphs),
        codes=tuple(code for one in moved for code in one.codes),
        texts=tuple(text for one in moved for text in one.texts),
    )


def _bare(drawing: Drawing) -> Drawing:
    return replace(drawing, findings=(), picture=None)


def join_coats(
    coats: Sequence[tuple[CoatPlan, Place]],
    job: Job,
    program: Callable[[Moves], tuple[str, Moves]],
) -> CoatPlan:
    """Join one coat of several pieces.

    Parameters
    ----------
    coats : sequence of (CoatPlan, (x, y))
        Each with its piece's lower left corner on the panel, in the order that the beam takes.
    job : Job
        The panel's, for its machine.
    program : callable
        Writes joined moves as a program and reads them back.
    """
    moved = [shifted(coat, place) for coat, place in coats]
    first = moved[0]
    clearing, text, moves = first.clearing, None, first.moves
    if first.clearing is not None:
        text, moves = program(_one_way([coat.moves for coat in moved]))
        clearing = _clearing([coat.cleared for coat in moved], moves, job)
    weakest = min(moved, key=lambda coat: coat.stroke.width_mm)
    # Of those alike the first whose place is known: some only know to be no narrower.
    thinnest = min(moved, key=lambda coat: (coat.land.width_mm, coat.narrowest_land_at is None))
    return replace(
        first,
        target=_side_by_side(coat.target for coat in moved),
        opening=_side_by_side(coat.opening for coat in moved),
        finished=_side_by_side(coat.finished for coat in moved),
        thin_places=_all(coat.thin_places for coat in moved),
        narrow_lands=_all(coat.narrow_lands for coat in moved),
        bridges=_all(coat.bridges for coat in moved),
        counters=_all(coat.counters for coat in moved),
        widths=(
            _widths([coat.widths[0] for coat in moved]),
            _widths([coat.widths[1] for coat in moved]),
        ),
        stroke=weakest.stroke,
        stroke_mm=min(coat.stroke_mm for coat in moved),
        land=thinnest.land,
        advice=weakest.advice,
        moves=moves,
        mask=_mask([coat.mask for coat in moved]),
        clearing=clearing,
        outcome=_outcome([coat.outcome for coat in moved]),
        finished_land_mm=thinnest.finished_land_mm,
        narrowest_land_at=thinnest.narrowest_land_at,
        program=text,
        drawn=None
        if first.drawn is None
        else _side_by_side(coat.drawn for coat in moved if coat.drawn is not None),
        bridge_ties=_all(coat.bridge_ties for coat in moved),
        changes=_changes(moved),
    )


def _side_by_side(regions: Iterable[BaseGeometry]) -> MultiPolygon:
    parts = [part for region in regions for part in shapely.get_parts(region) if not part.is_empty]
    return MultiPolygon([part for part in parts if part.geom_type == "Polygon"])


def _all(many: Iterable[tuple[T, ...]]) -> tuple[T, ...]:
    return tuple(one for some in many for one in some)


def _widths(many: Sequence[LocalWidths]) -> LocalWidths:
    return LocalWidths(
        at_mm=np.concatenate([one.at_mm for one in many]),
        width_mm=np.concatenate([one.width_mm for one in many]),
        length_mm=np.concatenate([one.length_mm for one in many]),
    )


def _changes(coats: Sequence[CoatPlan]) -> tuple[Any, ...]:
    """The changes of all, their parts counted on through the pieces."""
    found, before = [], 0
    for coat in coats:
        found += [
            replace(
                change,
                part=change.part + before,
                others=tuple(other + before for other in change.others),
            )
            for change in coat.changes
        ]
        before += len(coat.target.geoms)
    return tuple(found)


def _mask(many: Sequence[MaskNumbers]) -> MaskNumbers:
    narrowest = min(many, key=lambda one: (one.narrowest_land_mm, one.narrowest_land_at is None))
    return MaskNumbers(
        openings=sum(one.openings for one in many),
        holes=sum(one.holes for one in many),
        area_mm2=sum(one.area_mm2 for one in many),
        edge_mm=sum(one.edge_mm for one in many),
        narrowest_opening_mm=min(one.narrowest_opening_mm for one in many),
        narrowest_land_mm=narrowest.narrowest_land_mm,
        narrowest_land_at=narrowest.narrowest_land_at,
    )


def _outcome(many: Sequence[Outcome]) -> Outcome:
    out = max(many, key=lambda one: one.worst_outside_mm)
    inside = max(many, key=lambda one: one.worst_inside_mm)
    plain = max(many, key=lambda one: one.worst_outside_unwidened_mm)
    regions = {
        name: _side_by_side(getattr(one, name) for one in many)
        for name in ("too_much", "too_little", "lost_parts", "widened_parts", "merged_parts",
                     "filled_holes", "off_blank")
    }  # fmt: skip
    return replace(
        out,
        area_mm2=sum(one.area_mm2 for one in many),
        worst_inside_mm=inside.worst_inside_mm,
        worst_inside_at=inside.worst_inside_at,
        worst_outside_unwidened_mm=plain.worst_outside_unwidened_mm,
        worst_outside_unwidened_at=plain.worst_outside_unwidened_at,
        lost=sum(one.lost for one in many),
        merged=sum(one.merged for one in many),
        widened=sum(one.widened for one in many),
        **regions,
    )


def _one_way(many: Sequence[Moves]) -> Moves:
    """One run through the moves of all, without the ways home between them."""
    kept = [_without_way_home(moves) for moves in many]
    return Moves(
        x_mm=np.concatenate([moves.x_mm for moves in kept]),
        y_mm=np.concatenate([moves.y_mm for moves in kept]),
        rapid=np.concatenate([moves.rapid for moves in kept]),
        speed_mm_s=np.concatenate([moves.speed_mm_s for moves in kept]),
        power=np.concatenate([moves.power for moves in kept]),
    )


def _without_way_home(moves: Moves) -> Moves:
    lit = np.flatnonzero(moves.power > 0)
    end = int(lit[-1]) + 1 if len(lit) else 0
    start = 0
    # The first move comes from elsewhere now: it has to be a travel, as it is in every program.
    while start < end and moves.power[start] == 0 and not moves.rapid[start]:
        start += 1
    cut = slice(start, end)
    return Moves(
        x_mm=moves.x_mm[cut],
        y_mm=moves.y_mm[cut],
        rapid=moves.rapid[cut],
        speed_mm_s=moves.speed_mm_s[cut],
        power=moves.power[cut],
    )


def _clearing(many: Sequence[ClearingNumbers], moves: Moves, job: Job) -> ClearingNumbers:
    first = many[0]
    times = measure_program(
        moves, machine=job.laser, power=first.power_fraction, speed_mm_s=first.speed_mm_s
    )
    alone = sum(one.times.time_s for one in many)
    between = times.time_s - alone
    others = [one.time_other_direction_s for one in many]
    return replace(
        first,
        times=times,
        time_one_direction_s=between + sum(one.time_one_direction_s for one in many),
        time_other_direction_s=None
        if None in others
        else between + sum(time for time in others if time is not None),
        area_floor_s=sum(one.area_floor_s for one in many),
        dots=_dots([one.dots for one in many if one.dots is not None], between),
    )


def _dots(many: Sequence[DwellRun], between_s: float) -> DwellRun | None:
    if not many:
        return None
    return DwellRun(
        count=sum(one.count for one in many),
        dwell_s=_span([one.dwell_s for one in many]),
        power=_span([one.power for one in many]),
        time_strokes_s=between_s + sum(one.time_strokes_s for one in many),
    )


def _span(many: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return min(low for low, _ in many), max(high for _, high in many)


def reach_apart_mm(coat: CoatPlan, needed_land_mm: float) -> float:
    """How far apart parts must lie not to meddle with each other's masks and widths.

    Our own rule: a mask looks no further than two reaches beyond its part, so four between two, and
    the land that the shop wants there; a mark more, on the safe side.
    """
    return 4.0 * coat.reach_mm + needed_land_mm + hypot(*(axis.value for axis in coat.mark_mm))
