"""The clearing of one coat: from beam centres to the moves of its program, in the least time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from shapely.geometry import MultiLineString, MultiPolygon

from stopout.clearing.choice import with_rings
from stopout.clearing.fill import FillRow, rows_at
from stopout.clearing.paths import outline_speed_mm_s
from stopout.clearing.side_by_side import ALONE, SideBySide
from stopout.clearing.strokes import BeamStroke, line_strokes, order_outlines, row_stroke
from stopout.clearing.work import Part, Work, end_of, filled_strokes
from stopout.values import Machine, Moves

__all__ = ["ClearingRun", "LineBand", "clear", "mark_in_bands"]

Direction = Literal["x", "y", "crossed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearingRun:
    """A planned clearing.

    `other_time_s` is the time of the fill direction that lost, None where only one was tried: both
    are drafted without slowing down for the dose on outlines, and the draft that lost is taken to
    lose as much by that as the one that won.
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
    tries: tuple[Direction, ...] = ("x", "y") if line_direction == "auto" else (line_direction,)
    directions = ("x", "y") if line_direction in ("auto", "crossed") else tries
    parts = work.parts(list(centres.geoms), directions)
    ringed: dict[str, list[bool]] = {}
    if line_direction == "auto":
        parts, ringed = with_rings(parts, work)
    split = _split(parts, line_strokes(lines, machine), pieces)

    def laid(direction: Direction, in_rings: tuple[bool, ...], *, draft: bool) -> list[BeamStroke]:
        return [
            stroke
            for one in split
            for stroke in work.sequence(
                [parts[k] for k in one.parts],
                [in_rings[k] for k in one.parts],
                one.singles,
                direction,
                start_mm=one.corner_mm,
                is_draft=draft,
            )
        ]

    drafts: list[tuple[float, int, Direction, tuple[bool, ...]]] = []
    for direction in tries:
        in_rings = tuple(ringed[direction]) if ringed else (False,) * len(parts)
        strokes = laid(direction, in_rings, draft=True)
        drafts.append((work.time_s(strokes, is_draft=True), len(drafts), direction, in_rings))
        if not any(part.fills for part in parts):
            # Nothing but outlines: the direction of fill lines makes no difference.
            break
    drafted_s, _, chosen, in_rings = min(drafts)
    strokes = laid(chosen, in_rings, draft=False)
    others = [time_s for time_s, _, way, _ in drafts if way != chosen]
    moves = work.moves(strokes)
    slowed = work.time_of(moves) / drafted_s if others else 1.0
    plain = [stroke for one in split for stroke in _plain(parts, one, chosen, work)]
    return ClearingRun(
        moves=moves,
        line_direction=chosen,
        outline_speed_mm_s=min(
            (
                outline_speed_mm_s(stroke, machine, speed_mm_s)
                for stroke in strokes
                if not stroke.is_fill
            ),
            default=speed_mm_s,
        ),
        time_one_direction_s=work.time_s(plain),
        other_time_s=slowed * others[0] if others else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Piece:
    """Which parts and single lines are one piece's, and where its corner lies."""

    parts: list[int]
    singles: list[BeamStroke]
    corner_mm: tuple[float, float]


def _split(parts: list[Part], singles: list[BeamStroke], pieces: SideBySide) -> list[_Piece]:
    """Share out parts and single lines among pieces."""
    of_part = pieces.piece([part.area.bounds[0] for part in parts])
    of_single = pieces.piece([stroke.points_mm[0, 0] for stroke in singles])
    return [
        _Piece(
            parts=np.flatnonzero(of_part == k).tolist(),
            singles=[singles[j] for j in np.flatnonzero(of_single == k)],
            corner_mm=pieces.corner_mm(k),
        )
        for k in np.union1d(of_part, of_single).tolist()
    ]


def _plain(parts: list[Part], one: _Piece, chosen: Direction, work: Work) -> list[BeamStroke]:
    """Return the plain way through a piece: lines all one way, and outlines."""
    own = [parts[k] for k in one.parts]
    filled: list[BeamStroke] = []
    for along in ("x", "y") if chosen == "crossed" else (chosen,):
        filled += _one_direction(work.rows(own, along), along)
    outlines = [stroke for part in own for stroke in part.outlines] + one.singles
    start_mm = end_of(filled, one.corner_mm)
    return work.finished(filled + order_outlines(outlines, start_mm=start_mm))


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

    def laid(filled: list[BeamStroke]) -> list[BeamStroke]:
        return work.finished(filled + order_outlines(outlines, start_mm=end_of(filled)))

    moves = work.moves(laid(filled_strokes(rows, along, (0.0, 0.0))))
    return ClearingRun(
        moves=moves,
        line_direction=along,
        outline_speed_mm_s=min(
            (outline_speed_mm_s(stroke, machine, speed_mm_s) for stroke in outlines),
            default=speed_mm_s,
        ),
        time_one_direction_s=work.time_s(laid(_one_direction(rows, along))),
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
                bridge_mm=2 * work.speed_mm_s**2 / work.machine.acceleration_mm_s2,
            )
        ]
        height += n_lines * band.spacing_mm
        count += n_lines
    return rows


def _one_direction(rows: list[FillRow], along: str) -> list[BeamStroke]:
    """Return the plain way: each line once from its first to its last mark, all the same way."""
    by_line: dict[int, list[FillRow]] = {}
    for row in rows:
        by_line.setdefault(row.index, []).append(row)
    strokes = []
    for index in sorted(by_line):
        spans = np.vstack([row.spans_mm for row in by_line[index]])
        joined = FillRow(index=index, height_mm=by_line[index][0].height_mm, spans_mm=spans)
        strokes.append(row_stroke(joined, is_forward=True, along=along))
    return strokes
