"""The clearing of one coat: from beam centres to the moves of its program, in the least time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from shapely.geometry import MultiLineString, MultiPolygon, Polygon

from stopout.clearing.fill import FillRow, area_to_fill, needs_fill, rows_at, rows_on
from stopout.clearing.line_rate import busiest_second
from stopout.clearing.linking import run_on, spirals
from stopout.clearing.motion import plan_speeds
from stopout.clearing.order import chain_rows, order_cells
from stopout.clearing.paths import assemble, dose_ratio_max, outline_speed_mm_s
from stopout.clearing.rings import ring_fill
from stopout.clearing.strokes import (
    BeamStroke,
    line_strokes,
    order_outlines,
    outline_strokes,
    overlapped,
    path_strokes,
    row_stroke,
)
from stopout.values import Machine, Moves

# Rings are laid where they take no more than this share of what lines and an outline take.
_WORTH = 0.95
# Of more filled parts than this only so many are tried both ways.
_MOST_TRIED = 400

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


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramTimes:
    """What a program takes, for one piece from rest at (0, 0) to the last beam-on point."""

    time_s: float
    time_floor_s: float
    cleared_length_mm: float
    travel_length_mm: float
    dose_ratio_max: float
    lines_per_s_max: int = 0
    busiest_mm: tuple[float, float] = (0.0, 0.0)


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
    """
    work = _Work(
        machine=machine,
        mark_mm=mark_mm,
        spacing_mm=spacing_mm,
        power=power,
        speed_mm_s=speed_mm_s,
        passes=passes,
    )
    tries: tuple[Direction, ...] = ("x", "y") if line_direction == "auto" else (line_direction,)
    directions = ("x", "y") if line_direction in ("auto", "crossed") else tries
    parts = [_Part.of(part, work, directions) for part in centres.geoms]
    ringed: dict[str, list[bool]] = {}
    if line_direction == "auto":
        parts, ringed = _with_rings(parts, work)
    singles = line_strokes(lines, machine)
    drafts: list[tuple[float, int, Direction, tuple[bool, ...]]] = []
    for direction in tries:
        choices = [[False] * len(parts)]
        if ringed:
            choices.append(ringed[direction])
        for in_rings in {tuple(choice): None for choice in choices}:
            strokes = work.sequence(parts, in_rings, singles, direction, is_draft=True)
            time_s = work.time_s(strokes, is_draft=True)
            drafts.append((time_s, len(drafts), direction, in_rings))
        if not any(part.fills for part in parts):
            # Nothing but outlines: the direction of fill lines makes no difference.
            break
    best = {way: min(draft[:2] for draft in drafts if draft[2] == way) for _, _, way, _ in drafts}
    _, _, chosen, in_rings = min(drafts)
    strokes = work.sequence(parts, in_rings, singles, chosen)
    others = [time for way, (time, _) in best.items() if way != chosen]
    moves = work.moves(strokes)
    slowed = work.time_of(moves) / best[chosen][0] if others else 1.0
    outlines = [stroke for part in parts for stroke in part.outlines] + singles
    one_way: list[BeamStroke] = []
    for along in ("x", "y") if chosen == "crossed" else (chosen,):
        one_way += _one_direction(work.rows(parts, along), along)
    plain = work.finished(one_way + order_outlines(outlines, start_mm=_end(one_way)))
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
    work = _Work(
        machine=machine,
        mark_mm=mark_mm,
        spacing_mm={along: finest},
        power=power,
        speed_mm_s=speed_mm_s,
        passes=passes,
    )
    parts = [_Part.of(part, work, (along,)) for part in centres.geoms]
    rows = _banded(parts, work, bands, along)
    outlines = [stroke for part in parts for stroke in part.outlines]
    outlines += line_strokes(lines, machine)

    def laid(filled: list[BeamStroke]) -> list[BeamStroke]:
        return work.finished(filled + order_outlines(outlines, start_mm=_end(filled)))

    moves = work.moves(laid(_filled(rows, along, (0.0, 0.0))))
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
    parts: Sequence[_Part], work: _Work, bands: Sequence[LineBand], along: str
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


def _filled(
    rows: list[FillRow], along: str, start_mm: tuple[float, float], *, is_draft: bool = False
) -> list[BeamStroke]:
    """Return fill lines as strokes, cell by cell, back and forth."""
    ordered, _ = order_cells(chain_rows(rows), start_mm=start_mm, along=along, is_draft=is_draft)
    return [
        row_stroke(row, is_forward=forward, along=along)
        for cell in ordered
        for row, forward in cell
    ]


def _end(strokes: list[BeamStroke]) -> tuple[float, float]:
    if not strokes:
        return (0.0, 0.0)
    x, y = strokes[-1].points_mm[-1]
    return (float(x), float(y))


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """One connected area of beam centres, with what could clear it."""

    area: Polygon
    to_fill: dict[str, list[Polygon]]
    outlines: list[BeamStroke]
    fills: bool
    spirals: list[BeamStroke]
    rings_s: float

    @staticmethod
    def of(area: Polygon, work: _Work, directions: Sequence[str]) -> _Part:
        """Prepare one area: where lines run for each direction, and its outline."""
        whole = MultiPolygon([area])
        fills = needs_fill(whole, mark_mm=work.mark_mm)
        return _Part(
            area=area,
            to_fill={along: work.to_fill(whole, along) if fills else [] for along in directions},
            outlines=outline_strokes(whole, work.machine),
            fills=fills,
            spirals=[],
            rings_s=float("inf"),
        )

    @property
    def width_mm(self) -> float:
        """Return the width of a strip with this area and edge."""
        return float(2 * self.area.area / max(self.area.length, 1e-9))

    def with_rings(self, work: _Work) -> _Part:
        """Return the part with rings laid, if they can be, and what they take."""
        rings = ring_fill(self.area, mark_mm=work.mark_mm, spacing_mm=work.spacing_mm)
        if not rings:
            return self
        paths = spirals(
            rings,
            self.area,
            apart_mm=max(work.spacing_mm.values()),
            machine=work.machine,
            speed_mm_s=work.speed_mm_s,
        )
        strokes = path_strokes([run_on(path, max(work.mark_mm)) for path in paths], work.machine)
        ordered = work.finished(order_outlines(strokes, start_mm=(0.0, 0.0), is_draft=True))
        return replace(self, spirals=strokes, rings_s=work.time_s(ordered, is_draft=True))


def _with_rings(parts: list[_Part], work: _Work) -> tuple[list[_Part], dict[str, list[bool]]]:
    """Return parts with rings where they may pay, and by direction where they are quicker.

    Of very many parts some of every width are tried; the others do as those next in width.
    """
    parts = list(parts)
    ringed = {along: [False] * len(parts) for along in ("x", "y")}
    filled = sorted(
        (k for k, part in enumerate(parts) if part.fills), key=lambda k: parts[k].width_mm
    )
    if not filled:
        return parts, {}
    places = np.unique(np.linspace(0, len(filled) - 1, _MOST_TRIED).astype(np.int64))
    for place in places:
        k = filled[place]
        parts[k] = parts[k].with_rings(work)
        for along, choice in ringed.items():
            choice[k] = work.is_quicker_in_rings(parts[k], along)
    for place in np.setdiff1d(np.arange(len(filled)), places):
        k, model = filled[place], filled[places[np.argmin(np.abs(places - place))]]
        if any(choice[model] for choice in ringed.values()):
            parts[k] = parts[k].with_rings(work)
        for choice in ringed.values():
            choice[k] = choice[model] and bool(parts[k].spirals)
    return parts, ringed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Work:
    """The settings of a clearing, and what is made with them."""

    machine: Machine
    mark_mm: tuple[float, float]
    spacing_mm: dict[str, float]
    power: float
    speed_mm_s: float
    passes: int

    def to_fill(self, area: MultiPolygon, along: str) -> list[Polygon]:
        """Return where fill lines of one direction run on an area."""
        spacing = self.spacing_mm[along]
        found = area_to_fill(area, mark_mm=self.mark_mm, spacing_mm=spacing, along=along)
        return list(found.geoms)

    def rows(self, parts: list[_Part], along: str) -> list[FillRow]:
        """Return the fill lines of some parts."""
        filled = [part for part in parts if part.fills]
        return rows_on(
            MultiPolygon([piece for part in filled for piece in part.to_fill[along]]),
            MultiPolygon([part.area for part in filled]),
            mark_mm=self.mark_mm,
            spacing_mm=self.spacing_mm[along],
            along=along,
            bridge_mm=2 * self.speed_mm_s**2 / self.machine.acceleration_mm_s2,
        )

    def is_quicker_in_rings(self, part: _Part, direction: str) -> bool:
        """Tell whether rings clear a part sooner than lines and an outline."""
        if not part.spirals:
            return False
        in_rows = self.sequence([part], [False], [], direction, is_draft=True)
        if part.rings_s < _WORTH * self.least_s(in_rows):
            return True
        return part.rings_s < _WORTH * self.time_s(in_rows, is_draft=True)

    def sequence(
        self,
        parts: list[_Part],
        in_rings: Sequence[bool],
        singles: list[BeamStroke],
        direction: str,
        *,
        is_draft: bool = False,
    ) -> list[BeamStroke]:
        """Return the strokes of all parts in order: lines first, then what follows edges."""
        pairs = list(zip(parts, in_rings, strict=True))
        in_rows = [part for part, is_ringed in pairs if not is_ringed]
        strokes: list[BeamStroke] = []
        for along in ("x", "y") if direction == "crossed" else (direction,):
            strokes += _filled(self.rows(in_rows, along), along, _end(strokes), is_draft=is_draft)
        rest = [
            stroke
            for part, is_ringed in pairs
            for stroke in (part.spirals if is_ringed else part.outlines)
        ]
        strokes += order_outlines(rest + singles, start_mm=_end(strokes), is_draft=is_draft)
        return self.finished(strokes)

    def finished(self, strokes: list[BeamStroke]) -> list[BeamStroke]:
        """Return strokes with closed ones run on over their beginning."""
        return [overlapped(stroke, max(self.mark_mm)) for stroke in strokes]

    def moves(self, strokes: list[BeamStroke], *, is_draft: bool = False) -> Moves:
        """Lay strokes into moves."""
        return assemble(
            strokes,
            machine=self.machine,
            power=self.power,
            speed_mm_s=self.speed_mm_s,
            # How often it is run makes no difference to how it is best done.
            passes=1 if is_draft else self.passes,
            is_draft=is_draft,
        )

    def least_s(self, strokes: list[BeamStroke]) -> float:
        """Return what strokes take at the very least: their length at the clearing speed."""
        points = np.concatenate([stroke.points_mm for stroke in strokes])
        last = np.cumsum([len(stroke.points_mm) for stroke in strokes])[:-1] - 1
        step = np.diff(points, axis=0)
        step[last] = 0.0
        return float(np.hypot(*step.T).sum()) / self.speed_mm_s

    def time_s(self, strokes: list[BeamStroke], *, is_draft: bool = False) -> float:
        """Return what strokes take."""
        return self.time_of(self.moves(strokes, is_draft=is_draft))

    def time_of(self, moves: Moves) -> float:
        """Return what moves take."""
        return measure_program(
            moves,
            machine=self.machine,
            power=self.power,
            speed_mm_s=self.speed_mm_s,
        ).time_s


def measure_program(
    moves: Moves, *, machine: Machine, power: float, speed_mm_s: float
) -> ProgramTimes:
    """Measure a program by the motion model.

    Cleared length counts all motion with the beam on; the floor is that length at the clearing
    speed.
    """
    profile = plan_speeds(
        moves,
        acceleration_mm_s2=machine.acceleration_mm_s2,
        cornering_mm=machine.cornering_mm,
    )
    busiest, first = busiest_second(profile)
    on = moves.power > 0
    length = moves.length_mm
    # A dwell's dose is a dot's, not a line's.
    dwells = moves.is_dwell(step_mm=machine.step_mm, line_dose=power / speed_mm_s)
    last = int(np.flatnonzero(on)[-1]) if on.any() else -1
    cleared = float(length[on].sum())
    return ProgramTimes(
        time_s=float(profile.time_s[: last + 1].sum()),
        time_floor_s=cleared / speed_mm_s,
        cleared_length_mm=cleared,
        travel_length_mm=float(length[~on].sum()),
        dose_ratio_max=dose_ratio_max(
            replace(moves, power=np.where(dwells, 0.0, moves.power)),
            profile,
            power=power,
            speed_mm_s=speed_mm_s,
            scales=machine.power_follows_speed == "control",
        ),
        lines_per_s_max=busiest,
        busiest_mm=(float(moves.x_mm[first]), float(moves.y_mm[first])) if busiest else (0.0, 0.0),
    )
