"""The parts of an area that is cleared, and what is made of them with the settings of the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely.geometry import MultiPolygon, Polygon

from stopout.clearing.fill import FillRow, area_to_fill, needs_fill, rows_on
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
from stopout.values import Machine, Moves

__all__ = ["Part", "Work", "end_of", "filled_strokes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One connected area of beam centres, with what could clear it."""

    area: Polygon
    to_fill: dict[str, list[Polygon]]
    outlines: list[BeamStroke]
    fills: bool
    spirals: list[BeamStroke]

    @staticmethod
    def of(area: Polygon, work: Work, directions: Sequence[str]) -> Part:
        """Prepare one area: where lines run for each direction, and its outline."""
        whole = MultiPolygon([area])
        fills = needs_fill(whole, mark_mm=work.mark_mm)
        return Part(
            area=area,
            to_fill={along: work.to_fill(whole, along) if fills else [] for along in directions},
            outlines=outline_strokes(whole, work.machine),
            fills=fills,
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

    def to_fill(self, area: MultiPolygon, along: str) -> list[Polygon]:
        """Return where fill lines of one direction run on an area."""
        spacing = self.spacing_mm[along]
        found = area_to_fill(area, mark_mm=self.mark_mm, spacing_mm=spacing, along=along)
        return list(found.geoms)

    def rows(self, parts: list[Part], along: str) -> list[FillRow]:
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

    def ringed(self, parts: Sequence[Part]) -> list[Part]:
        """Return parts with rings laid, those of them that can have them."""
        fills = ring_fills(
            [part.area for part in parts], mark_mm=self.mark_mm, spacing_mm=self.spacing_mm
        )
        return [
            self._wound(part, rings) if rings else part
            for part, rings in zip(parts, fills, strict=True)
        ]

    def _wound(self, part: Part, rings: list[Ring]) -> Part:
        """Return a part with its rings joined into spirals."""
        paths = spirals(
            rings,
            part.area,
            apart_mm=max(self.spacing_mm.values()),
            machine=self.machine,
            speed_mm_s=self.speed_mm_s,
        )
        strokes = path_strokes([run_on(path, max(self.mark_mm)) for path in paths], self.machine)
        return replace(part, spirals=strokes)

    def sequence(
        self,
        parts: list[Part],
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
            strokes += filled_strokes(
                self.rows(in_rows, along), along, end_of(strokes), is_draft=is_draft
            )
        rest = [
            stroke
            for part, is_ringed in pairs
            for stroke in (part.spirals if is_ringed else part.outlines)
        ]
        strokes += order_outlines(rest + singles, start_mm=end_of(strokes), is_draft=is_draft)
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


def end_of(strokes: list[BeamStroke]) -> tuple[float, float]:
    if not strokes:
        return (0.0, 0.0)
    x, y = strokes[-1].points_mm[-1]
    return (float(x), float(y))
