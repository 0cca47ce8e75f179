"""Coats of pieces planned apart, joined where they lie: what holds for each holds for all.

Nothing is calculated anew but times: pieces that lie apart do not meddle with each other's masks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from math import hypot, inf, isfinite
from typing import Any, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import DwellRun, SideBySide, measure_program
from stopout.job.record import Job
from stopout.mask import LocalWidths, count_holes, parts_of
from stopout.outcome import Change, Outcome
from stopout.planning.opening.by_beam import time_range_s
from stopout.planning.plan import ClearingNumbers, CoatPlan, MaskNumbers
from stopout.planning.shifting import PLACES, shifted
from stopout.values import Drawing, FloatArray, Moves

T = TypeVar("T")
Index = NDArray[np.intp]
Place = tuple[float, float]
_POLYGON = 3
# Widths within this are alike: each is measured to a micrometre.
_ALIKE_MM = 2e-3


def _side_by_side(regions: Iterable[BaseGeometry]) -> MultiPolygon:
    parts = [part for region in regions for part in shapely.get_parts(region) if not part.is_empty]
    return MultiPolygon([part for part in parts if part.geom_type == "Polygon"])


def joined_drawing(drawings: Sequence[tuple[Drawing, Place]], size_mm: Place) -> Drawing:
    """Lay the drawings of pieces side by side, as seen."""
    bare = [(replace(one, findings=(), picture=None), place) for one, place in drawings]
    moved = [shifted(drawing, place) for drawing, place in bare]
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidCoat:
    """A coat of pieces planned together, and where each of them lies on a panel.

    Each of its pieces lies there equally often.

    Attributes
    ----------
    coat : CoatPlan
        As planned, its pieces side by side.
    pieces : SideBySide
        How they lie there.
    piece : (n,) ndarray of int
        For each place on the panel which of them it is.
    place_mm : (n, 2) ndarray
        The lower left corners of the places.
    rank : (n,) ndarray of int
        When the beam comes to each place.
    own : (n,) ndarray of int
        Whose place it is: the number on the panel of the piece that lies there.
    """

    coat: CoatPlan
    pieces: SideBySide
    piece: Index
    place_mm: FloatArray
    rank: Index
    own: Index

    @property
    def times(self) -> int:
        """How often each of its pieces lies on the panel."""
        return int(np.count_nonzero(self.piece == self.piece[0]))

    def spread(self, x_mm: FloatArray) -> tuple[Index, Index]:
        """Return what of things at these x lies at the places: which thing, and at which place."""
        own = self.pieces.piece(x_mm)
        order = np.argsort(own, kind="stable")
        first = np.searchsorted(own[order], self.piece)
        count = np.searchsorted(own[order], self.piece, side="right") - first
        place = np.repeat(np.arange(len(self.piece)), count)
        begun = np.concatenate([[0], np.cumsum(count)[:-1]])
        within = np.arange(len(place)) - np.repeat(begun, count)
        return order[first[place] + within], place

    @property
    def shift_mm(self) -> FloatArray:
        """(n, 2) shifts from where a piece was planned to each place."""
        corners = np.array([self.pieces.corner_mm(int(piece)) for piece in self.piece])
        return np.asarray(self.place_mm - corners)

    def parts(self, region: BaseGeometry) -> tuple[NDArray[np.object_], Index, Index]:
        """Return the parts of a region at their places, which parts they are, and the places."""
        parts = shapely.get_parts(region)
        parts = parts[(shapely.get_type_id(parts) == _POLYGON) & ~shapely.is_empty(parts)]
        which, place = self.spread(shapely.bounds(parts).reshape(-1, 4)[:, 0])
        laid = np.asarray(parts[which], dtype=object)
        xy, part = shapely.get_coordinates(laid, return_index=True)
        return shapely.set_coordinates(laid, xy + self.shift_mm[place[part]]), which, place

    def records(self, some: Sequence[T]) -> Iterator[tuple[T, int]]:
        """Carry records that hold a place to where their piece lies, each with the place."""
        if some:
            which, place = self.spread(np.array([_x_of(one, "") for one in some]))
            for k, at in zip(which.tolist(), place.tolist(), strict=True):
                x, y = self.shift_mm[at].tolist()
                yield shifted(some[k], (x, y)), at

    def at(self, place_mm: Place | None) -> Place | None:
        """Carry a place to where its piece lies first."""
        if place_mm is None:
            return None
        _, place = self.spread(np.array([place_mm[0]]))
        if not len(place):
            return None
        x, y = self.shift_mm[place[0]].tolist()
        return (place_mm[0] + x, place_mm[1] + y)


def _x_of(value: Any, name: str) -> float:
    """Return where a record lies along x; infinite where it does not say so."""
    if isinstance(value, BaseGeometry):
        return float(value.bounds[0]) if not value.is_empty else inf
    if isinstance(value, tuple) and name.endswith(PLACES):
        return float(value[0])
    if is_dataclass(value) and not isinstance(value, type):
        found = [_x_of(getattr(value, part.name), part.name) for part in fields(value)]
        return next(filter(isfinite, found), inf)
    return inf


def join_coats(
    laid: Sequence[LaidCoat], job: Job, program: Callable[[Moves], tuple[str | None, Moves]]
) -> CoatPlan:
    """Join one coat of several pieces.

    Parameters
    ----------
    laid : sequence of LaidCoat
        All that lies on the panel; of what lies at one place the earlier comes first.
    job : Job
        The panel's, for its machine.
    program : callable
        Writes joined moves as a program and reads them back.
    """
    first = laid[0].coat
    clearing, text, moves = first.clearing, None, first.moves
    if first.clearing is not None:
        text, moves = program(_one_way(laid, job.laser.acceleration_mm_s2))
        clearing = _clearing(laid, moves, job)
    weakest = min(laid, key=lambda one: one.coat.stroke.width_mm).coat
    thinnest = min(laid, key=lambda one: one.coat.land.width_mm)
    target, number = _parts_in_order(laid, "target")
    opening, finished = (_parts_in_order(laid, name)[0] for name in ("opening", "finished"))
    return replace(
        first,
        target=target,
        opening=opening,
        finished=finished,
        thin_places=_all(laid, "thin_places"),
        narrow_lands=_all(laid, "narrow_lands"),
        bridges=_all(laid, "bridges"),
        counters=_all(laid, "counters"),
        widths=(_widths(laid, 0), _widths(laid, 1)),
        stroke=weakest.stroke,
        stroke_mm=min(one.coat.stroke_mm for one in laid),
        land=thinnest.coat.land,
        advice=weakest.advice,
        moves=moves,
        mask=_mask(laid, opening),
        clearing=clearing,
        outcome=_outcome(laid, finished),
        finished_land_mm=thinnest.coat.finished_land_mm,
        narrowest_land_at=_narrowest_at(
            (one, one.coat.finished_land_mm, one.coat.narrowest_land_at) for one in laid
        ),
        program=text,
        drawn=None if first.drawn is None else _parts_in_order(laid, "drawn")[0],
        bridge_ties=_all(laid, "bridge_ties"),
        changes=_changes(laid, number),
    )


def _parts_in_order(
    laid: Sequence[LaidCoat], name: str
) -> tuple[MultiPolygon, list[dict[tuple[int, int], int]]]:
    """Return the parts of a region of all, place by place in the order of the beam.

    Also, for each laid coat, the number that each of its parts has there at each place.
    """
    found = [one.parts(getattr(one.coat, name)) for one in laid]
    rank = np.concatenate([one.rank[at] for one, (_, _, at) in zip(laid, found, strict=True)])
    order = np.argsort(rank, kind="stable")
    number = np.empty(len(order), dtype=np.intp)
    number[order] = np.arange(len(order))
    parts = np.concatenate([parts for parts, _, _ in found])[order]
    numbers, before = [], 0
    for _, which, place in found:
        own = number[before : before + len(which)].tolist()
        numbers.append(
            dict(zip(zip(which.tolist(), place.tolist(), strict=True), own, strict=True))
        )
        before += len(which)
    return MultiPolygon(list(parts)), numbers


def _all(laid: Sequence[LaidCoat], name: str) -> tuple[Any, ...]:
    return tuple(found for one in laid for found, _ in one.records(getattr(one.coat, name)))


def _widths(laid: Sequence[LaidCoat], side: int) -> LocalWidths:
    """The local widths of the first piece of a panel."""
    at_mm, width_mm, length_mm = [], [], []
    for one in laid:
        own = one.coat.widths[side]
        which, place = one.spread(own.at_mm[:, 0])
        is_first = one.own[place] == 0
        which, place = which[is_first], place[is_first]
        at_mm.append(own.at_mm[which] + one.shift_mm[place])
        width_mm.append(own.width_mm[which])
        length_mm.append(own.length_mm[which])
    return LocalWidths(
        at_mm=np.concatenate(at_mm),
        width_mm=np.concatenate(width_mm),
        length_mm=np.concatenate(length_mm),
    )


def _changes(
    laid: Sequence[LaidCoat], numbers: Sequence[dict[tuple[int, int], int]]
) -> tuple[Change, ...]:
    """The changes of all, their parts numbered as those of the joined target."""
    found = [
        replace(
            change,
            part=number[change.part, place],
            others=tuple(number[other, place] for other in change.others),
        )
        for one, number in zip(laid, numbers, strict=True)
        for change, place in one.records(one.coat.changes)
    ]
    return tuple(sorted(found, key=lambda change: change.part))


def _mask(laid: Sequence[LaidCoat], opening: MultiPolygon) -> MaskNumbers:
    parts = parts_of(opening)
    masks = [(one, one.coat.mask) for one in laid]
    return MaskNumbers(
        openings=len(parts),
        holes=count_holes(parts),
        area_mm2=float(opening.area),
        edge_mm=float(opening.length),
        narrowest_opening_mm=min(one.coat.mask.narrowest_opening_mm for one in laid),
        narrowest_land_mm=min(mask.narrowest_land_mm for _, mask in masks),
        narrowest_land_at=_narrowest_at(
            (one, mask.narrowest_land_mm, mask.narrowest_land_at) for one, mask in masks
        ),
    )


def _narrowest_at(found: Iterable[tuple[LaidCoat, float, Place | None]]) -> Place | None:
    """Return where it is narrowest, of widths of all: the first place known of those alike.

    Some only know to be no narrower than another.
    """
    known = sorted(found, key=lambda one: one[1])
    alike = [one for one in known if one[1] <= known[0][1] + _ALIKE_MM and one[2] is not None]
    return next((laid.at(at) for laid, _, at in alike), None)


_OUTCOME_REGIONS = (
    "too_much", "too_little", "lost_parts", "widened_parts", "merged_parts", "filled_holes",
)  # fmt: skip


def _outcome(laid: Sequence[LaidCoat], finished: MultiPolygon) -> Outcome:
    out = max(laid, key=lambda one: one.coat.outcome.worst_outside_mm)
    inside = max(laid, key=lambda one: one.coat.outcome.worst_inside_mm)
    plain = max(laid, key=lambda one: one.coat.outcome.worst_outside_unwidened_mm)
    regions: dict[str, Any] = {
        name: MultiPolygon(
            [part for one in laid for part in one.parts(getattr(one.coat.outcome, name))[0]]
        )
        for name in _OUTCOME_REGIONS
    }
    many = [(one.coat.outcome, one.times) for one in laid]
    return replace(
        out.coat.outcome,
        worst_outside_at=out.at(out.coat.outcome.worst_outside_at),
        area_mm2=float(finished.area),
        worst_inside_mm=inside.coat.outcome.worst_inside_mm,
        worst_inside_at=inside.at(inside.coat.outcome.worst_inside_at),
        worst_outside_unwidened_mm=plain.coat.outcome.worst_outside_unwidened_mm,
        worst_outside_unwidened_at=plain.at(plain.coat.outcome.worst_outside_unwidened_at),
        lost=sum(n * one.lost for one, n in many),
        merged=sum(n * one.merged for one, n in many),
        widened=sum(n * one.widened for one, n in many),
        **regions,
    )


def _one_way(laid: Sequence[LaidCoat], acceleration_mm_s2: float) -> Moves:
    """One run through the moves of all, without the ways home between them."""
    runs, ranks = [], []
    for one in laid:
        own = _run_out(_without_way_home(one.coat.moves), one.pieces, acceleration_mm_s2)
        which, place = one.spread(own.x_mm)
        shift, own = one.shift_mm[place], own.taken(which)
        runs.append(replace(own, x_mm=own.x_mm + shift[:, 0], y_mm=own.y_mm + shift[:, 1]))
        ranks.append(one.rank[place])
    names = [part.name for part in fields(Moves)]
    whole = Moves(**{name: np.concatenate([getattr(one, name) for one in runs]) for name in names})
    order = np.argsort(np.concatenate(ranks), kind="stable")
    # Of travels one after another the last is enough: it goes straight there.
    rapid = whole.rapid[order]
    return whole.taken(order[~(rapid & np.append(rapid[1:], False))])


def _without_way_home(moves: Moves) -> Moves:
    lit = np.flatnonzero(moves.power > 0)
    end = int(lit[-1]) + 1 if len(lit) else 0
    start = 0
    # The first move comes from elsewhere now: it has to be a travel, as it is in every program.
    while start < end and moves.power[start] == 0 and not moves.rapid[start]:
        start += 1
    return moves.taken(slice(start, end))


def _run_out(moves: Moves, pieces: SideBySide, acceleration_mm_s2: float) -> Moves:
    """Let the beam come to rest, dark, after the last stroke of each piece.

    Its speed there was planned for another way onwards; a sharper turn would burn the stroke's end.
    """
    xy = np.column_stack([moves.x_mm, moves.y_mm])
    lit = np.flatnonzero(moves.power > 0)
    _, at = np.unique(pieces.piece(moves.x_mm[lit])[::-1], return_index=True)
    last = lit[::-1][at]
    way = xy[last] - np.vstack([np.zeros((1, 2)), xy])[last]
    far = np.linalg.norm(way, axis=1)
    last, way, far = (column[far > 0] for column in (last, way, far))
    end = xy[last] + (way.T * moves.speed_mm_s[last] ** 2 / (2 * acceleration_mm_s2 * far)).T
    return Moves(
        x_mm=np.insert(moves.x_mm, last + 1, end[:, 0]),
        y_mm=np.insert(moves.y_mm, last + 1, end[:, 1]),
        rapid=np.insert(moves.rapid, last + 1, False),
        speed_mm_s=np.insert(moves.speed_mm_s, last + 1, moves.speed_mm_s[last]),
        power=np.insert(moves.power, last + 1, 0.0),
    )


def _clearing(laid: Sequence[LaidCoat], moves: Moves, job: Job) -> ClearingNumbers:
    first = laid[0].coat.cleared
    times = measure_program(
        moves, machine=job.laser, power=first.power_fraction, speed_mm_s=first.speed_mm_s
    )
    many = [(one.coat.cleared, one.times) for one in laid]
    between = times.time_s - sum(n * one.times.time_s for one, n in many)
    others = [one.time_other_direction_s for one, _ in many]
    return replace(
        first,
        times=times,
        time_one_direction_s=between + sum(n * one.time_one_direction_s for one, n in many),
        time_other_direction_s=None
        if None in others
        else between
        + sum(n * time for time, (_, n) in zip(others, many, strict=True) if time is not None),
        area_floor_s=sum(n * one.area_floor_s for one, n in many),
        time_range_s=time_range_s(moves, first.power_fraction, first.speed_mm_s, job),
        dots=_dots([(one.dots, n) for one, n in many if one.dots is not None], between),
    )


def _dots(many: Sequence[tuple[DwellRun, int]], between_s: float) -> DwellRun | None:
    if not many:
        return None
    return DwellRun(
        count=sum(n * one.count for one, n in many),
        dwell_s=_span([one.dwell_s for one, _ in many]),
        power=_span([one.power for one, _ in many]),
        time_strokes_s=between_s + sum(n * one.time_strokes_s for one, n in many),
    )


def _span(many: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return min(low for low, _ in many), max(high for _, high in many)


def reach_apart_mm(coat: CoatPlan, needed_land_mm: float) -> float:
    """How far apart parts must lie not to meddle with each other's masks and widths.

    Our own rule: a mask looks no further than two reaches beyond its part, so four between two, and
    the land that the shop wants there; a mark more, on the safe side.
    """
    return 4.0 * coat.reach_mm + needed_land_mm + hypot(*(axis.value for axis in coat.mark_mm))
