"""The clearing of one coat: from beam centres to the moves of its program, in the least time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np
from shapely.geometry import MultiLineString, MultiPolygon

from stopout.clearing.choice import ALONG, Along, with_rings
from stopout.clearing.filling.edges import order_outlines
from stopout.clearing.filling.fill import FillRow, rows_at
from stopout.clearing.filling.order import HOME_MM
from stopout.clearing.filling.strokes import BeamStroke, line_strokes
from stopout.clearing.moving.paths import outline_speed_mm_s
from stopout.clearing.one_way import one_way_s
from stopout.clearing.side_by_side import ALONE, SideBySide
from stopout.clearing.work import Part, Work, end_of, filled_strokes
from stopout.values import Machine, Moves

__all__ = ["ClearingRun", "LineBand", "clear", "mark_in_bands"]

Direction = Literal["x", "y", "crossed"]
_Own = TypeVar("_Own")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearingRun:
    """A planned clearing.

    `other_time_s` is the time of the fill direction that lost, None where only one was tried: both
    are drafted without slowing down for the dose on outlines, and the draft that lost is taken to
    lose as much by that as the one that won. `time_one_direction_s` is calculated, not laid.
    """

    moves: Moves
    line_direction: Direction
    outline_speed_mm_s: float
    time_one_direction_s: float
    other_time_s: float | None


def clear(
    centres: MultiPolygon,
    lines: MultiLineString,
    *,
    machine: Machine,
    mark_mm: tuple[float, float],
    spacing_mm: dict[str, float],
    power: float,
    speed_mm_s: float,
    passes: int = 1,
    line_direction: Literal["auto", "x", "y", "crossed"] = "auto",
    pieces: SideBySide = ALONE,
) -> ClearingRun:
    """Plan the moves that clear an area of beam centres and single lines.

    Parameters
    ----------
    centres, lines : shapely geometries
        Where the beam's centre goes, in mm (see `stopout.mask.Mask`).
    machine : Machine
        Limits of the machine.
    mark_mm : (float, float)
        Full axes of the mark along x and y.
    spacing_mm : dict
        Spacing of the lines for each direction, "x" and "y".
    power, speed_mm_s, passes
        Clearing settings; power is a fraction.
    line_direction : {"auto", "x", "y", "crossed"}
        "auto" plans both ways and keeps the quicker.
    pieces : SideBySide
        Pieces that are cleared one after another, each as if it were alone.
    """
    work = Work(
        machine=machine,
        mark_mm=mark_mm,
        spacing_mm=spacing_mm,
        power=power,
        speed_mm_s=speed_mm_s,
        passes=passes,
    )
    directions = ("x", "y") if line_direction in ("auto", "crossed") else (line_direction,)
    parts = work.parts(list(centres.geoms), directions)
    chosen: Direction = "x" if line_direction == "auto" else line_direction
    in_rings: Sequence[bool] = (False,) * len(parts)
    drafted_s: dict[str, float] = {}
    if line_direction == "auto" and any(part.fills for part in parts):
        # Nothing but outlines: the direction of fill lines makes no difference.
        parts, ringed = with_rings(parts, work)
        split = _split(parts, [], pieces)
        drafted_s = {
            along: sum(
                _drafted_s(one.parts_of(parts), one.parts_of(ringed[along]), work, along)
                for one in split
            )
            for along in ALONG
        }
        chosen = min(ALONG, key=lambda along: drafted_s[along])
        in_rings = ringed[chosen]
    singles = line_strokes(lines, machine)
    split = _split(parts, singles, pieces)
    strokes, filled = _laid(split, parts, in_rings, chosen, work)
    moves = work.moves(strokes)
    time_s = work.time_of(moves)
    others_s = [other_s for along, other_s in drafted_s.items() if along != chosen]
    singles_s = work.strokes_s(singles)
    # What edges take more than drafted, for their dose and on the way, outlines alone would too.
    edges_s = time_s / passes - sum(map(sum, work.stroke_times_s(filled)))
    more = edges_s / max(_edges_s(parts, in_rings) + singles_s, 1e-9)
    outlines_s = more * (_edges_s(parts, (False,) * len(parts)) + singles_s)
    return ClearingRun(
        moves=moves,
        line_direction=chosen,
        outline_speed_mm_s=_slowest_outline(strokes, work),
        time_one_direction_s=passes * (outlines_s + _one_way_s(split, parts, chosen, work)),
        other_time_s=time_s * others_s[0] / drafted_s[chosen] if others_s else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Piece:
    """Which parts and single lines are one piece's, and where its corner lies."""

    part: list[int]
    singles: list[BeamStroke]
    corner_mm: tuple[float, float]

    def parts_of(self, all_of_them: Sequence[_Own]) -> list[_Own]:
        """Return those that are its own of something for each part."""
        return [all_of_them[k] for k in self.part]


def _split(parts: list[Part], singles: list[BeamStroke], pieces: SideBySide) -> list[_Piece]:
    """Share out parts and single lines among pieces."""
    of_part = pieces.piece([part.area.bounds[0] for part in parts])
    of_single = pieces.piece([stroke.points_mm[0, 0] for stroke in singles])
    return [
        _Piece(
            part=np.flatnonzero(of_part == k).tolist(),
            singles=[singles[j] for j in np.flatnonzero(of_single == k)],
            corner_mm=pieces.corner_mm(k),
        )
        for k in np.union1d(of_part, of_single).tolist()
    ]


def _laid(
    split: Sequence[_Piece],
    parts: list[Part],
    in_rings: Sequence[bool],
    chosen: Direction,
    work: Work,
) -> tuple[list[BeamStroke], list[BeamStroke]]:
    """Return the strokes of all pieces, one piece after another, and those of them that fill."""
    strokes: list[BeamStroke] = []
    filled: list[BeamStroke] = []
    for one in split:
        own = one.parts_of(parts), one.parts_of(in_rings)
        laid, n_lines = work.sequence(*own, one.singles, chosen, start_mm=one.corner_mm)
        strokes += laid
        filled += laid[:n_lines]
    return strokes, filled


def _one_way_s(split: Sequence[_Piece], parts: list[Part], chosen: Direction, work: Work) -> float:
    """Return what the lines of all pieces take one way."""
    return sum(
        one_way_s(work.rows(one.parts_of(parts), along), work, one.corner_mm[along == "y"])
        for along in (ALONG if chosen == "crossed" else (chosen,))
        for one in split
    )


def _drafted_s(parts: list[Part], in_rings: Sequence[bool], work: Work, along: Along) -> float:
    """Return what lines along a direction and the edges of all parts take, without slowing down.

    The lines are laid in order. Rings and outlines are hardly others for one direction than for the
    other: each part's are taken by themselves.
    """
    lines = work.lines(parts, in_rings, along, start_mm=HOME_MM, is_draft=True)
    return float(sum(map(sum, work.stroke_times_s(lines)))) + _edges_s(parts, in_rings)


def _edges_s(parts: Sequence[Part], in_rings: Sequence[bool]) -> float:
    """Return what follows edges takes, part by part."""
    pairs = zip(parts, in_rings, strict=True)
    return sum(part.spirals_s if ringed else part.outlines_s for part, ringed in pairs)


def _slowest_outline(strokes: Sequence[BeamStroke], work: Work) -> float:
    """Return the least of the commanded speeds of outlines."""
    if work.machine.power_follows_speed:
        return work.speed_mm_s
    paces = [
        outline_speed_mm_s(stroke, work.machine, work.speed_mm_s)
        for stroke in strokes
        if not stroke.is_fill
    ]
    return min(paces, default=work.speed_mm_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineBand:
    """A band across the lines in which they lie equally far apart: from where to where, in mm."""

    low_mm: float
    high_mm: float
    spacing_mm: float


def mark_in_bands(
    centres: MultiPolygon,
    lines: MultiLineString,
    *,
    machine: Machine,
    mark_mm: tuple[float, float],
    bands: Sequence[LineBand],
    along: Literal["x", "y"],
    power: float,
    speed_mm_s: float,
    passes: int = 1,
) -> ClearingRun:
    """Plan moves that mark an area by parallel lines whose spacing goes by bands.

    The lines lie at the same heights all over the area, so that parts beside each other match;
    its outline is run once, as in a clearing.

    Parameters
    ----------
    centres, lines, machine, mark_mm, power, speed_mm_s, passes
        As for `clear`.
    bands : sequence of LineBand
        In rising order, one after another: y for lines along x, x for lines along y.
    along : {"x", "y"}
        Direction of the lines.
    """
    finest = min(band.spacing_mm for band in bands)
    work = Work(
        machine=machine,
        mark_mm=mark_mm,
        spacing_mm={along: finest},
        power=power,
        speed_mm_s=speed_mm_s,
        passes=passes,
    )
    parts = work.parts(list(centres.geoms), (along,))
    rows = _banded(parts, work, bands, along)
    outlines = [stroke for part in parts for stroke in part.outlines]
    outlines += line_strokes(lines, machine)
    filled = filled_strokes(rows, along, HOME_MM)
    edges = order_outlines(outlines, start_mm=end_of(filled, HOME_MM))
    moves = work.moves(filled + work.finished(edges))
    # Bands or not, edges take the same.
    edges_s = work.time_of(moves) / passes - sum(map(sum, work.stroke_times_s(filled)))
    return ClearingRun(
        moves=moves,
        line_direction=along,
        outline_speed_mm_s=_slowest_outline(outlines, work),
        time_one_direction_s=passes * (one_way_s(rows, work, HOME_MM[along == "y"]) + edges_s),
        other_time_s=None,
    )


def _banded(
    parts: Sequence[Part], work: Work, bands: Sequence[LineBand], along: str
) -> list[FillRow]:
    """Return the fill lines, each band's going on where those of the band before end."""
    filled = [part for part in parts if part.fills]
    area = MultiPolygon([piece for part in filled for piece in part.to_fill[along]])
    beam = MultiPolygon([part.area for part in filled])
    rows: list[FillRow] = []
    height, count = bands[0].low_mm + bands[0].spacing_mm / 2, 0
    for band in bands:
        n_lines = max(0, int(np.ceil((band.high_mm - height) / band.spacing_mm - 1e-9)))
        rows += [
            replace(row, index=row.index + count)
            for row in rows_at(
                area,
                beam,
                lines=(height, band.spacing_mm, n_lines),
                mark_mm=work.mark_mm,
                along=along,
                bridge_mm=work.bridge_mm,
            )
        ]
        height += n_lines * band.spacing_mm
        count += n_lines
    return rows
