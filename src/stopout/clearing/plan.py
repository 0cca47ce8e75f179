"""The clearing of one coat: from beam centres to the moves of its program, in the least time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import MultiLineString, MultiPolygon

from stopout.clearing.fill import Row, fill_rows
from stopout.clearing.motion import plan_speeds
from stopout.clearing.order import chain_rows, order_cells
from stopout.clearing.paths import assemble, dose_ratio_max, outline_speed_mm_s
from stopout.clearing.strokes import (
    Stroke,
    line_strokes,
    order_outlines,
    outline_strokes,
    row_stroke,
)
from stopout.values import Machine, Moves

__all__ = ["ClearingRun", "ProgramTimes", "clear", "measure_program", "one_direction_time_s"]

Direction = Literal["x", "y", "crossed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearingRun:
    """A planned clearing.

    `other_time_s` is the time of the fill direction that lost, reckoned without slowing down for
    the dose on outlines; None where only one was tried.
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
    outlines = outline_strokes(centres, machine) + line_strokes(lines, machine)
    tries: tuple[Direction, ...] = ("x", "y") if line_direction == "auto" else (line_direction,)
    drafts: list[tuple[float, Direction, list[Stroke]]] = []
    rows: dict[str, list[Row]] = {}
    for direction in tries:
        strokes: list[Stroke] = []
        for along in ("x", "y") if direction == "crossed" else (direction,):
            rows[along] = fill_rows(
                centres,
                mark_mm=mark_mm,
                spacing_mm=spacing_mm[along],
                along=along,
                bridge_mm=2 * speed_mm_s**2 / machine.acceleration_mm_s2,
            )
            strokes += _filled(rows[along], along, _end(strokes))
        strokes += order_outlines(outlines, start_mm=_end(strokes))
        draft = assemble(
            strokes,
            machine=machine,
            power=power,
            speed_mm_s=speed_mm_s,
            passes=passes,
            is_draft=True,
        )
        times = measure_program(draft, machine=machine, power=power, speed_mm_s=speed_mm_s)
        drafts.append((times.time_s, direction, strokes))
        if not any(rows.values()):
            # Nothing but outlines: the direction of fill lines makes no difference.
            break
    drafts.sort(key=lambda entry: entry[0])
    _, chosen, strokes = drafts[0]
    moves = assemble(strokes, machine=machine, power=power, speed_mm_s=speed_mm_s, passes=passes)
    one_way: list[Stroke] = []
    for along in ("x", "y") if chosen == "crossed" else (chosen,):
        one_way += _one_direction(rows[along], along, machine)
    ordered = order_outlines(outlines, start_mm=_end(one_way))
    return ClearingRun(
        moves=moves,
        line_direction=chosen,
        outline_speed_mm_s=min(
            (outline_speed_mm_s(stroke, machine, speed_mm_s) for stroke in outlines),
            default=speed_mm_s,
        ),
        time_one_direction_s=one_direction_time_s(
            one_way + ordered, machine=machine, power=power, speed_mm_s=speed_mm_s, passes=passes
        ),
        other_time_s=drafts[1][0] if len(drafts) > 1 else None,
    )


def _filled(rows: list[Row], along: str, start_mm: tuple[float, float]) -> list[Stroke]:
    """Return fill lines as strokes, cell by cell, back and forth."""
    ordered, _ = order_cells(chain_rows(rows), start_mm=start_mm, along=along)
    return [
        row_stroke(row, is_forward=forward, along=along)
        for cell in ordered
        for row, forward in cell
    ]


def _end(strokes: list[Stroke]) -> tuple[float, float]:
    if not strokes:
        return (0.0, 0.0)
    x, y = strokes[-1].points_mm[-1]
    return (float(x), float(y))


def _one_direction(rows: list[Row], along: str, machine: Machine) -> list[Stroke]:
    """Return the plain way: each line once from its first to its last mark, all the same way."""
    by_line: dict[int, list[Row]] = {}
    for row in rows:
        by_line.setdefault(row.index, []).append(row)
    strokes = []
    for index in sorted(by_line):
        spans = np.vstack([row.spans_mm for row in by_line[index]])
        joined = Row(index=index, height_mm=by_line[index][0].height_mm, spans_mm=spans)
        strokes.append(row_stroke(joined, is_forward=True, along=along))
    return strokes


def one_direction_time_s(
    strokes: list[Stroke], *, machine: Machine, power: float, speed_mm_s: float, passes: int
) -> float:
    """Return the time of the plain way, for comparison."""
    moves = assemble(strokes, machine=machine, power=power, speed_mm_s=speed_mm_s, passes=passes)
    return measure_program(moves, machine=machine, power=power, speed_mm_s=speed_mm_s).time_s


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
    on = moves.power > 0
    length = moves.length_mm
    last = int(np.flatnonzero(on)[-1]) if on.any() else -1
    cleared = float(length[on].sum())
    return ProgramTimes(
        time_s=float(profile.time_s[: last + 1].sum()),
        time_floor_s=cleared / speed_mm_s,
        cleared_length_mm=cleared,
        travel_length_mm=float(length[~on].sum()),
        dose_ratio_max=dose_ratio_max(moves, profile, power=power, speed_mm_s=speed_mm_s),
    )
