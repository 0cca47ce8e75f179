"""The parts of an area that is cleared, and what is made of them with the settings of the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from stopout.clearing.filling.edges import order_outlines, overlapped
from stopout.clearing.filling.fill import FillRow, areas_to_fill, left_by_outlines, rows_on
from stopout.clearing.filling.order import chain_rows, order_cells
from stopout.clearing.filling.strokes import (
    BeamStroke,
    outlines_of,
    path_strokes,
    row_stroke,
)
from stopout.clearing.kinds import kinds_of
from stopout.clearing.motion import travel_s
from stopout.clearing.moving.paths import assemble, stroke_times_s
from stopout.clearing.moving.program_times import measure_program
from stopout.clearing.ringed.least_time import LeastTime
from stopout.clearing.ringed.linking import run_on, spirals
from stopout.clearing.ringed.rings import ring_fills
from stopout.values import FloatArray, Machine, Moves

__all__ = ["Part", "Work", "end_of", "filled_strokes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One connected area of beam centres, with what could clear it.

    `outlines_s` and `spirals_s` are what these take as a draft, with short travels between them.
    """

    area: Polygon
    to_fill: dict[str, list[Polygon]]
    outlines: list[BeamStroke]
    outlines_s: float
    fills: bool
    spirals: list[BeamStroke]
    spirals_s: float

    def moved(self, area: Polygon, by_mm: FloatArray) -> Part:
        """Return a part of the same kind elsewhere, by whole steps of a program's decimals."""
        return Part(
            area=area,
            to_fill={
                along: list(
                    shapely.transform(np.array(pieces, dtype=object), lambda xy: xy + by_mm)
                )
                for along, pieces in self.to_fill.items()
            },
            outlines=[stroke.moved(by_mm) for stroke in self.outlines],
            outlines_s=self.outlines_s,
            fills=self.fills,
            spirals=[],
            spirals_s=0.0,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """The settings of a clearing, and what is made with them."""

    machine: Machine
    mark_mm: tuple[float, float]
    spacing_mm: dict[str, float]
    power: float
    speed_mm_s: float
    passes: int

    @property
    def bridge_mm(self) -> float:
        """Gaps in a line up to this long are passed at speed with the beam off."""
        return 2 * self.speed_mm_s**2 / self.machine.acceleration_mm_s2

    def parts(self, areas: Sequence[Polygon], directions: Sequence[str]) -> list[Part]:
        """Return areas with where lines run for each direction, and their outlines.

        Of areas that are the same but for their place one is looked at.
        """
        first, at_mm = kinds_of(areas)
        kinds = sorted(set(first))
        made = dict(zip(kinds, self._parts([areas[k] for k in kinds], directions), strict=True))
        return [
            made[kind] if kind == k else made[kind].moved(area, at_mm[k] - at_mm[kind])
            for k, (area, kind) in enumerate(zip(areas, first, strict=True))
        ]

    def _parts(self, areas: Sequence[Polygon], directions: Sequence[str]) -> list[Part]:
        shapes = np.array(areas, dtype=object)
        left = left_by_outlines(shapes, mark_mm=self.mark_mm)
        fills = ~shapely.is_empty(left)
        to_fill = {
            along: areas_to_fill(
                left, mark_mm=self.mark_mm, spacing_mm=self.spacing_mm[along], along=along
            )
            for along in directions
        }
        outlines = outlines_of(shapes, self.machine)
        outlines_s = self._groups_s(outlines)
        return [
            Part(
                area=area,
                to_fill={along: list(found[k].geoms) for along, found in to_fill.items()},
                outlines=outlines[k],
                outlines_s=float(outlines_s[k]),
                fills=bool(fills[k]),
                spirals=[],
                spirals_s=0.0,
            )
            for k, area in enumerate(areas)
        ]

    def rows(self, parts: list[Part], along: str) -> list[FillRow]:
        """Return the fill lines of some parts."""
        filled = [part for part in parts if part.fills]
        return rows_on(
            MultiPolygon([piece for part in filled for piece in part.to_fill[along]]),
            MultiPolygon([part.area for part in filled]),
            mark_mm=self.mark_mm,
            spacing_mm=self.spacing_mm[along],
            along=along,
            bridge_mm=self.bridge_mm,
        )

    def ringed(self, parts: Sequence[Part], most_s: FloatArray | None = None) -> list[Part]:
        """Return parts with rings laid, those of them that can have them: one of each kind.

        Some of those have none whose rings would take longer than is told for each.
        """
        first, at_mm = kinds_of([part.area for part in parts])
        kinds = sorted(set(first))
        kind_s = np.zeros(len(parts))
        np.maximum.at(kind_s, first, np.inf if most_s is None else most_s)
        paths = self._spirals([parts[k].area for k in kinds], kind_s[kinds])
        made = dict(zip(kinds, zip(paths, self._groups_s(paths), strict=True), strict=True))
        return [
            replace(
                part,
                spirals=[path.moved(at_mm[k] - at_mm[kind]) for path in made[kind][0]],
                spirals_s=float(made[kind][1]),
            )
            for k, (part, kind) in enumerate(zip(parts, first, strict=True))
        ]

    def _groups_s(self, groups: Sequence[list[BeamStroke]]) -> FloatArray:
        """Return what groups of strokes take, each with short travels within."""
        time_s, _ = self.stroke_times_s(
            self.finished([stroke for group in groups for stroke in group])
        )
        owner = np.repeat(np.arange(len(groups)), [len(group) for group in groups])
        whole_s = np.bincount(owner, time_s, minlength=len(groups))
        return np.asarray(whole_s + [self._travels_s(group) for group in groups])

    def _travels_s(self, strokes: list[BeamStroke]) -> float:
        """Return what travels between strokes take that lie as evenly as they can in their box."""
        if len(strokes) < 2:
            return 0.0
        ends = np.vstack([stroke.points_mm[[0, -1]] for stroke in strokes])
        apart_mm = np.sqrt(np.prod(np.ptp(ends, axis=0)) / len(strokes))
        return (len(strokes) - 1) * float(travel_s(apart_mm, self.machine))

    def strokes_s(self, strokes: list[BeamStroke]) -> float:
        """Return what strokes take, with short travels between them, as a draft."""
        return float(self._groups_s([strokes])[0])

    def stroke_times_s(self, strokes: list[BeamStroke]) -> tuple[FloatArray, FloatArray]:
        """Return what each of some strokes takes as a draft, and what the travel to each takes."""
        return stroke_times_s(strokes, machine=self.machine, speed_mm_s=self.speed_mm_s)

    def _spirals(self, areas: Sequence[Polygon], most_s: FloatArray) -> list[list[BeamStroke]]:
        """Return the rings of areas joined into spirals, none where an area can have none."""
        least = LeastTime(
            most_s,
            apart_mm=max(self.spacing_mm.values()),
            mark_mm=max(self.mark_mm),
            machine=self.machine,
            speed_mm_s=self.speed_mm_s,
        )
        fills = ring_fills(areas, mark_mm=self.mark_mm, spacing_mm=self.spacing_mm, least=least)
        paths = spirals(
            [rings or [] for rings in fills],
            np.array(areas, dtype=object),
            apart_mm=max(self.spacing_mm.values()),
            machine=self.machine,
            speed_mm_s=self.speed_mm_s,
        )
        return path_strokes(
            [[run_on(path, max(self.mark_mm)) for path in found] for found in paths], self.machine
        )

    def lines(
        self,
        parts: list[Part],
        in_rings: Sequence[bool],
        direction: str,
        *,
        start_mm: tuple[float, float],
        is_draft: bool = False,
    ) -> list[BeamStroke]:
        """Return the fill lines of those parts that are not cleared in rings, in order."""
        in_rows = [part for part, ringed in zip(parts, in_rings, strict=True) if not ringed]
        strokes: list[BeamStroke] = []
        for along in ("x", "y") if direction == "crossed" else (direction,):
            rows = self.rows(in_rows, along)
            start = end_of(strokes, start_mm)
            strokes += filled_strokes(rows, along, start, is_draft=is_draft)
        return strokes

    def sequence(
        self,
        parts: list[Part],
        in_rings: Sequence[bool],
        singles: list[BeamStroke],
        direction: str,
        *,
        start_mm: tuple[float, float],
    ) -> tuple[list[BeamStroke], int]:
        """Return the strokes of all parts in order, and how many of them are lines.

        Lines come first, then what follows edges.
        """
        lines = self.lines(parts, in_rings, direction, start_mm=start_mm)
        rest = [
            stroke
            for part, ringed in zip(parts, in_rings, strict=True)
            for stroke in (part.spirals if ringed else part.outlines)
        ]
        edges = order_outlines(rest + singles, start_mm=end_of(lines, start_mm))
        return lines + self.finished(edges), len(lines)

    def finished(self, strokes: list[BeamStroke]) -> list[BeamStroke]:
        """Return strokes with closed ones run on over their beginning."""
        return overlapped(strokes, max(self.mark_mm))

    def moves(self, strokes: list[BeamStroke]) -> Moves:
        """Lay strokes into moves."""
        return assemble(
            strokes,
            machine=self.machine,
            power=self.power,
            speed_mm_s=self.speed_mm_s,
            passes=self.passes,
        )

    def time_of(self, moves: Moves) -> float:
        """Return what moves take."""
        return measure_program(
            moves,
            machine=self.machine,
            power=self.power,
            speed_mm_s=self.speed_mm_s,
        ).time_s


def filled_strokes(
    rows: list[FillRow], along: str, start_mm: tuple[float, float], *, is_draft: bool = False
) -> list[BeamStroke]:
    """Return fill lines as strokes, cell by cell, back and forth."""
    ordered, _ = order_cells(chain_rows(rows), start_mm=start_mm, along=along, is_draft=is_draft)
    return [
        row_stroke(row, is_forward=forward, along=along)
        for cell in ordered
        for row, forward in cell
    ]


def end_of(strokes: list[BeamStroke], start_mm: tuple[float, float]) -> tuple[float, float]:
    """Return where strokes end; where they start if there are none."""
    if not strokes:
        return start_mm
    x, y = strokes[-1].points_mm[-1]
    return (float(x), float(y))
