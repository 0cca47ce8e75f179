"""A first look at a coat, in a fraction of the time that its mask takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat
from stopout.mask import as_multipolygon, parts_of
from stopout.mask.offset import dilate, dilate_by_mark, erode_by_both
from stopout.planning.memory import Memory
from stopout.planning.opening.apart import each
from stopout.planning.opening.masks import Making, laid_out
from stopout.planning.opening.patches import Patch


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Glimpse:
    """A first look at a coat, in a fraction of the time: what a mark fits into, opened and etched.

    `unsure` are strokes that no mark fits into, as drawn: how they are opened is not known yet.
    `short` is what the rest leaves of the drawing. A glimpse decides nothing.
    """

    coat: Coat
    face: BaseGeometry
    target: MultiPolygon
    opening: MultiPolygon
    finished: MultiPolygon
    unsure: MultiPolygon
    short: MultiPolygon


def glimpse_of(
    coat: Coat,
    target: MultiPolygon,
    face: BaseGeometry,
    patches: Sequence[Patch],
    how: Making,
    memory: Memory,
) -> Glimpse:
    """Take a first look: the drawing eroded by reach and dilated again, as its mask would be.

    Patches that were looked at before are known.
    """

    def make(missing: list[int]) -> list[_First]:
        return each(lambda k: _first_of(patches[k].target, how), missing)

    found = memory.recall_all([("first look", patch.key, how) for patch in patches], make)
    looks = laid_out(found, patches)
    return Glimpse(
        coat=coat,
        face=face,
        target=target,
        opening=as_multipolygon([one.opening for one in looks]),
        finished=as_multipolygon([one.finished for one in looks]),
        unsure=as_multipolygon([one.unsure for one in looks]),
        short=as_multipolygon([one.short for one in looks]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _First:
    """A first look at one patch, in its own frame."""

    opening: MultiPolygon
    finished: MultiPolygon
    unsure: MultiPolygon
    short: MultiPolygon


def _first_of(target: MultiPolygon, how: Making) -> _First:
    centres = erode_by_both(target, max(how.undercut_mm + how.growth_mm, 0.0), how.mark_mm)
    opening = dilate(dilate_by_mark(centres, how.mark_mm), how.growth_mm)
    finished = dilate(opening, how.undercut_mm)
    left = _left_of(target, finished)
    # A corner leaves a fraction of this.
    is_stroke = shapely.area(left) > 3 * how.reach_mm**2
    return _First(
        opening=opening,
        finished=finished,
        unsure=as_multipolygon(left[is_stroke]),
        short=as_multipolygon(left[~is_stroke]),
    )


def _left_of(target: MultiPolygon, made: MultiPolygon) -> NDArray[np.object_]:
    """Return what is left of a drawing, its parts one by one: all at once takes twice as long."""
    parts, others = parts_of(target), parts_of(made)
    part, at = shapely.STRtree(others).query(parts, predicate="intersects")
    met, home = np.unique(part, return_inverse=True)
    against = shapely.multipolygons(others[at], indices=home)
    return parts_of([*np.delete(parts, met), *shapely.difference(parts[met], against)])
