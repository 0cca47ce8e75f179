"""The parts of an area that is cleared, and what is made of them with the settings of the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from stopout.clearing.fill import FillRow, areas_to_fill, left_by_outlines, rows_on
from stopout.clearing.kinds import kinds_of
from stopout.clearing.linking import run_on, spirals
from stopout.clearing.order import chain_rows, order_cells
from stopout.clearing.paths import assemble
from stopout.clearing.program_times import measure_program
from stopout.clearing.rings import Ring, ring_fills
from stopout.clearing.strokes import (
    BeamStroke,
    order_outlines,
    outline_strokes,
    overlapped,
    path_strokes,
    row_stroke,
)
from stopout.values import FloatArray, Machine, Moves

__all__ = ["Part", "Work", "end_of", "filled_strokes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One connected area of beam centres, with what could clear it."""

    area: Polygon
    to_fill: dict[str, list[Polygon]]
    outlines: list[BeamStroke]
    fills: bool
    spirals: list[BeamStroke]

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
            fills=self.fills,
            spirals=[],
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
        return [
            Part(
                area=area,
                to_fill={along: list(found[k].geoms) for along, found in to_fill.items()},
                outlines=outline_strokes(MultiPolygon([area]), self.machine),
                fills=bool(fills[k]),
                spirals=[],
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

    def ringed(self, parts: Sequence[Part]) -> list[Part]:
        """Return parts with rings laid, those of them that can have them: one of each kind."""
        first, at_mm = kinds_of([part.area for part in parts])
        kinds = sorted(set(first))
        paths = dict(zip(kinds, self._spirals([parts[k].area for k in kinds]), strict=True))
        return [
            replace(part, spirals=[path.moved(at_mm[k] - at_mm[kind]) for path in paths[kind]])
            for k, (part, kind) in enumerate(zip(parts, first, strict=True))
        ]

    def _spirals(self, areas: Sequence[Polygon]) -> list[list[BeamStroke]]:
        fills = ring_fills(areas, mark_mm=self.mark_mm, spacing_mm=self.spacing_mm)
        return [
            self._wound(area, rings) if rings else []
            for area, rings in zip(areas, fills, strict=True)
        ]

    def _wound(self, area: Polygon, rings: list[Ring]) -> list[BeamStroke]:
        """Return the rings of an area joined into spirals."""
        paths = spirals(
            rings,
            area,
            apart_mm=max(self.spacing_mm.values()),
            machine=self.machine,
            speed_mm_s=self.speed_mm_s,
        )
        return path_strokes([run_on(path, max(self.mark_mm)) for path in paths], self.machine)

    def sequence(
        self,
        parts: list[Part],
        in_rings: Sequence[bool],
        singles: list[BeamStroke],
        direction: str,
        *,
        start_mm: tuple[float, float] = (0.0, 0.0),
        is_draft: bool = False,
    ) -> list[BeamStroke]:
        """Return the strokes of all parts in order: lines first, then what follows edges."""
        pairs = list(zip(parts, in_rings, strict=True))
        in_rows = [part for part, is_ringed in pairs if not is_ringed]
        strokes: list[BeamStroke] = []
        for along in ("x", "y") if direction == "crossed" else (direction,):
            strokes += filled_strokes(
                self.rows(in_rows, along), along, end_of(strokes, start_mm), is_draft=is_draft
            )
        rest = [
            stroke
            for part, is_ringed in pairs
            for stroke in (part.spirals if is_ringed else part.outlines)
        ]
        strokes += order_outlines(
            rest + singles, start_mm=end_of(strokes, start_mm), is_draft=is_draft
        )
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


def end_of(
    strokes: list[BeamStroke], start_mm: tuple[float, float] = (0.0, 0.0)
) -> tuple[float, float]:
    """Return where strokes end; where they start if there are none."""
    if not strokes:
        return start_mm
    x, y = strokes[-1].points_mm[-1]
    return (float(x), float(y))
