"""Fill lines that follow the edge: rings one spacing within another, and what is left between them.

Ring k runs on the edge of the beam centres eroded k times by an ellipse of half the axes of the
spacings, so that rings lie one spacing apart in every direction: that for lines along x where they
run along x, that for lines along y where they run along y. The outline is ring 0.

Each ring clears half a mark on either side. Where an erosion leaves nothing, or a corner so sharp
that the next ring stays too far back (at a corner of angle 2a the middle of the gap lies p/(1 + sin
a) from both), slivers are left over; they are narrower than a mark and get a line along their
middle, or round their edge where they fork.

All parts go inwards together, level by level: what lies within one outline of a level has nothing
to do with what lies within another, so each call of the geometry library does one step for all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from stopout.clearing.plane import Plane, Polygons, areas_in, grouped, thinned, thinned_lines
from stopout.clearing.ringed.least_time import LeastTime
from stopout.clearing.ringed.ring_dose import Index, Tracks
from stopout.clearing.ringed.slivers import SLIVER_MM, Slivers
from stopout.mask.offset import offset_areas
from stopout.values import FloatArray

__all__ = ["Ring", "ring_fills"]

# The marks' own coverage is counted on less this, so that chords leave no threads.
_SLACK_MM = 0.001
# How far chords of a ring may stand off its curve.
_CHORD_MM = 0.0003
# Inner rings may stand off more, and lose needles thinner than twice this.
_INNER_CHORD_MM = 0.002
_NEEDLE_MM = 0.003
# Rings this share of a mark apart leave nothing at a square corner: (1 + sin 45) / 2.
_SQUARE = (1 + np.sqrt(0.5)) / 2
# Within this much of the mark's edge, in marks, the dose is calculated before a place is believed
# cleared.
_DOUBT = 0.03
# More rings than this are no narrow part: parallel lines are as good there.
_MOST_RINGS = 80


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ring:
    """One path of a ring fill.

    `points_mm` is (n + 1, 2), closed where the first and last agree. `depth` counts from the
    outline, 0; a sliver's line has the depth of the ring about it and a half. `area` numbers the
    area whose edge it is, -1 for a sliver's line, and `within` that of the level about it in which
    it lies, -1 for none.
    """

    points_mm: FloatArray
    depth: float
    area: int
    within: int


def ring_fills(
    parts: Sequence[Polygon],
    *,
    mark_mm: tuple[float, float],
    spacing_mm: dict[str, float],
    least: LeastTime | None = None,
) -> list[list[Ring] | None]:
    """Return rings and slivers' lines that clear areas of beam centres, their outlines among them.

    Parameters
    ----------
    parts : sequence of Polygon
        Connected areas of beam centres.
    mark_mm : (float, float)
        Full axes of the mark along x and y.
    spacing_mm : dict
        Spacing of lines along "x" and "y".
    least : LeastTime, optional
        Of the same areas: those whose rings would take too long are left.

    Returns
    -------
    list of (list of Ring or None)
        None where an area is no narrow part, or a sliver could not be cleared by one line, or the
        rings were left.
    """
    fill = _Fill(np.array(parts, dtype=object), mark_mm, spacing_mm, least)
    outer = np.flatnonzero(~fill.is_lost)
    number = fill.add_edges(fill.parts[outer], outer, np.full(len(outer), -1), 0)
    level = _Level(areas=thinned(fill.parts[outer], _CHORD_MM), part=outer, number=number)
    for depth in range(_MOST_RINGS + 1):
        if not len(level.areas):
            break
        level = fill.go_inwards(level, depth)
        if least is not None:
            level = fill.without_slow(level, least)
    fill.is_lost[level.part] = True
    return [
        None if is_lost else rings for rings, is_lost in zip(fill.found, fill.is_lost, strict=True)
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Level:
    """What lies within the outlines of one depth: the areas, whose each is, and its number."""

    areas: Polygons
    part: Index
    number: Index


class _Fill:
    """What has been found of each part, level by level."""

    def __init__(
        self,
        parts: Polygons,
        mark_mm: tuple[float, float],
        spacing_mm: dict[str, float],
        least: LeastTime | None,
    ) -> None:
        apart = zip((spacing_mm["y"], spacing_mm["x"]), mark_mm, strict=True)
        self.mark = Plane(mark_mm)
        self.offset = Plane(
            [min(p, _SQUARE * (axis - 2 * (_SLACK_MM + _NEEDLE_MM / 2))) for p, axis in apart]
        )
        self.cleared = 0.5 - _SLACK_MM / min(mark_mm)
        self.parts = parts
        self.is_lost = _widths(parts, self.offset) > 2 * _MOST_RINGS
        self.found: list[list[Ring]] = [[] for _ in parts]
        self.n_areas = 0
        self._least = least

    def without_slow(self, level: _Level, least: LeastTime) -> _Level:
        """Return a level without those parts whose rings take too long; these are lost."""
        self.is_lost |= least.is_over(level.areas, level.part)
        kept = ~self.is_lost[level.part]
        return _Level(areas=level.areas[kept], part=level.part[kept], number=level.number[kept])

    def _add(self, part: int, ring: Ring) -> None:
        self.found[part].append(ring)
        if self._least is not None:
            self._least.add(part, ring.points_mm)

    def go_inwards(self, level: _Level, depth: int) -> _Level:
        """Take up the outlines of a level and the slivers within; return the level within."""
        # Half a mark within its outline all is cleared, unless it is wider than that.
        inner = self.mark.grown(level.areas, -self.cleared)
        deep = ~shapely.is_empty(inner)
        inner = inner[deep]
        level = _Level(areas=level.areas[deep], part=level.part[deep], number=level.number[deep])
        following, home = self._following(level.areas)
        self._add_slivers(level, inner, (following, home), depth)
        stays = ~self.is_lost[level.part[home]]
        following, home = following[stays], home[stays]
        part = level.part[home]
        number = self.add_edges(following, part, level.number[home], depth + 1)
        return _Level(areas=following, part=part, number=number)

    def _following(self, levels: Polygons) -> tuple[Polygons, Index]:
        """Return the outlines one spacing within, and whose each is.

        They are without needles, their corners a little rounded and their chords few. What is lost
        of a level counts as not cleared by it.
        """
        needle = _NEEDLE_MM / self.offset.axes.min()
        shrunk = thinned(self.offset.grown(levels, -1.0 - needle), _CHORD_MM / 2)
        opened = offset_areas(shrunk, _NEEDLE_MM, chords=2)
        return areas_in(thinned(opened, _INNER_CHORD_MM))

    def add_edges(self, areas: Polygons, part: Index, within: Index, depth: int) -> Index:
        """Take up the outlines of areas as rings; return the numbers of these areas."""
        number = self.n_areas + np.arange(len(areas))
        self.n_areas += len(areas)
        rings, home = shapely.get_rings(areas, return_index=True)
        for line, k in zip(thinned_lines(rings, _CHORD_MM), home.tolist(), strict=True):
            ring = Ring(
                points_mm=shapely.get_coordinates(line),
                depth=float(depth),
                area=int(number[k]),
                within=int(within[k]),
            )
            self._add(int(part[k]), ring)
        return number

    def _add_slivers(
        self, level: _Level, inner: Polygons, following: tuple[Polygons, Index], depth: int
    ) -> None:
        """Add lines for what is left within each outline; a part is lost where one cannot be."""
        within = grouped(*following, len(level.areas))
        # Outside its corners a ring clears less than half a mark: bevelled, a little less still.
        doubted = self.mark.grown(within, self.cleared - _DOUBT, join_style="bevel")
        places, home = _thicker(*areas_in(shapely.difference(inner, doubted)))
        if not len(places):
            return
        slivers = Slivers(
            places=places,
            level=home,
            part=level.part[home],
            levels=level.areas,
            parts=self.parts,
            mark=self.mark,
            cleared=self.cleared,
        )
        asked = np.unique(home)
        left = shapely.difference(inner[asked], self.mark.grown(within[asked], self.cleared))
        tracks = self._tracks(
            np.concatenate([level.areas, following[0]]),
            np.concatenate([level.part, level.part[following[1]]]),
        )
        for k, line in slivers.lines(tracks, _shares(places, left)).items():
            whose, about = slivers.part[k], int(level.number[home[k]])
            if line is None:
                self.is_lost[whose] = True
            else:
                self._add(
                    int(whose), Ring(points_mm=line, depth=depth + 0.5, area=-1, within=about)
                )

    def _tracks(self, areas: Polygons, part: Index) -> Tracks:
        """Return the edges of some areas in the mark's plane."""
        rings, home = shapely.get_rings(self.mark.into(areas), return_index=True)
        return Tracks([shapely.get_coordinates(ring) for ring in rings], part[home])


def _widths(parts: Polygons, plane: Plane) -> FloatArray:
    """Return the lesser side of the least rectangle about each part, in units of the plane."""
    flat = plane.into(parts)
    corners = [shapely.get_coordinates(r)[:3] for r in shapely.minimum_rotated_rectangle(flat)]
    side = [np.hypot(*np.diff(xy, axis=0).T).min() if len(xy) == 3 else 0.0 for xy in corners]
    # A bent or ringed part is no wider than twice its area over its edge, twice over.
    bent = 8 * shapely.area(flat) / np.maximum(shapely.length(flat), 1e-9)
    return np.asarray(np.minimum(side, bent))


def _thicker(places: Polygons, home: Index) -> tuple[Polygons, Index]:
    """Return places that are thicker than what comes of the slack."""
    real = ~shapely.is_empty(shapely.buffer(places, -SLIVER_MM / 2))
    return places[real], home[real]


def _shares(places: Polygons, left: Polygons) -> np.ndarray:
    """Tell which places have more than a thread in common with what the mark's shape leaves."""
    pieces = shapely.get_parts(left)
    place, piece = shapely.STRtree(pieces).query(places, predicate="intersects")
    shared = shapely.buffer(shapely.intersection(places[place], pieces[piece]), -SLIVER_MM / 2)
    found = np.zeros(len(places), dtype=bool)
    found[place[~shapely.is_empty(shared)]] = True
    return found
