"""A drawing in patches: groups of its parts that lie too far from all others to matter to them.

What the mask does at a place, and what the etch makes of it, depends on what lies within a few
reaches. So a drawing is planned patch by patch: the time goes with its size, two cores share it,
and a patch that is drawn as before need not be looked at again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import SideBySide
from stopout.links import linked
from stopout.mask import as_multipolygon, meeting, parts_of

# Groups of fewer vertices are small; they are taken together by cells of this size.
_SMALL = 300
_CELL_MM = 10.0

_Asked = TypeVar("_Asked")
_Made = TypeVar("_Made")


@dataclass(frozen=True, kw_only=True, eq=False)
class Patch:
    """A patch of a drawing.

    Attributes
    ----------
    target : MultiPolygon
        Its parts, as worked.
    face : BaseGeometry
        The face round it.
    part : (n,) ndarray of int
        The index of each part among those of the drawing.
    whole_mm : float
        Lands of the finished piece narrower than this lie within one patch.
    """

    target: MultiPolygon
    face: BaseGeometry
    part: NDArray[np.intp]
    whole_mm: float = np.inf

    @cached_property
    def key(self) -> bytes:
        """What tells it from every other patch."""
        return bytes(shapely.to_wkb(self.target)) + bytes(shapely.to_wkb(self.face))

    @property
    def size(self) -> int:
        """How many vertices it has."""
        return int(shapely.get_num_coordinates(self.target))


def patches_of(
    target: MultiPolygon, face: BaseGeometry, *, apart_mm: float, whole_mm: float
) -> list[Patch]:
    """Part a drawing into patches, in the order of their first parts.

    Parameters
    ----------
    target, face : BaseGeometry
        The drawing and the blank's face, as worked, in mm.
    apart_mm : float
        Parts that lie farther from each other than this have nothing to do with each other.
    whole_mm : float
        See `Patch`.
    """
    parts = parts_of(target)
    group = _groups(parts, apart_mm)
    if not len(parts) or group.max() == 0:
        return [whole_patch(target, face)]
    found = []
    for k in range(group.max() + 1):
        own = np.flatnonzero(group == k)
        x0, y0, x1, y1 = shapely.total_bounds(parts[own])
        frame = shapely.box(x0 - apart_mm, y0 - apart_mm, x1 + apart_mm, y1 + apart_mm)
        found.append(
            Patch(
                target=as_multipolygon(parts[own]),
                face=shapely.intersection(face, frame),
                part=own,
                whole_mm=whole_mm,
            )
        )
    return found


def in_a_row(regions: Sequence[BaseGeometry], pieces: SideBySide) -> MultiPolygon:
    """Lay a region of each piece side by side.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        The k-th is the k-th piece's, from its corner.
    pieces : SideBySide
        How they lie.
    """
    parts = [parts_of(region) for region in regions]
    moved = np.repeat(np.arange(len(parts)) * pieces.pitch_mm, [len(own) for own in parts])
    laid = np.concatenate(parts)
    xy, part = shapely.get_coordinates(laid, return_index=True)
    xy[:, 0] += moved[part]
    return MultiPolygon(list(shapely.set_coordinates(laid, xy)))


def whole_patch(target: MultiPolygon, face: BaseGeometry) -> Patch:
    """Return a drawing as one patch."""
    # Copies, for patches are looked at by other threads: one that is being prepared is not shared.
    own_target, own_face = shapely.from_wkb(shapely.to_wkb([target, face]))
    return Patch(target=own_target, face=own_face, part=np.arange(len(parts_of(target))))


def _groups(parts: NDArray[np.object_], apart_mm: float) -> NDArray[np.intp]:
    """Number parts so that those of two groups lie farther apart; groups by their first part.

    Small groups are taken together by the cell of a fixed grid that their middle lies in: a call
    costs as much for a dot as for a letter, and what lies elsewhere moves no cell.
    """
    label = linked(len(parts), *meeting(parts, apart_mm))
    count = int(label.max(initial=-1)) + 1
    vertices = np.bincount(label, weights=shapely.get_num_coordinates(parts))
    bounds = shapely.bounds(parts)
    low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    np.minimum.at(low, label, bounds[:, :2])
    np.maximum.at(high, label, bounds[:, 2:])
    cell = np.floor((low + high) / 2 / _CELL_MM)
    large = vertices >= _SMALL
    cell[large] = np.inf
    names = np.column_stack([cell, np.where(large, np.arange(count), -1)])[label]
    _, first, group = np.unique(names, axis=0, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.intp)
    rank[np.argsort(first)] = np.arange(len(first))
    return np.asarray(rank[group.reshape(-1)], dtype=np.intp)


def shared_out(opening: MultiPolygon, patches: Sequence[Patch]) -> list[MultiPolygon] | None:
    """Return what of an opening is each patch's; None where a part of it is not one patch's alone.

    Parameters
    ----------
    opening : MultiPolygon
        What is cleared, in mm.
    patches : sequence of Patch
        The drawing's.
    """
    pieces = parts_of(opening)
    homes = np.concatenate([np.full(len(p.target.geoms), k) for k, p in enumerate(patches)])
    drawn = shapely.STRtree(np.concatenate([parts_of(patch.target) for patch in patches]))
    piece, part = drawn.query(pieces, predicate="intersects")
    low, high = np.full(len(pieces), len(patches)), np.full(len(pieces), -1)
    np.minimum.at(low, piece, homes[part])
    np.maximum.at(high, piece, homes[part])
    if (low != high).any():
        return None
    return [as_multipolygon(pieces[low == k]) for k in range(len(patches))]
