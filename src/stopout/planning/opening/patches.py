"""A drawing in patches: groups of its parts that lie too far from all others to matter to them.

What the mask does at a place, and what the etch makes of it, depends on what lies within a few
reaches. So a drawing is planned patch by patch: the time goes with its size, two cores share it,
and a patch that is drawn as before need not be looked at again.

Each is planned in a frame of its own, from its lower left corner: so one that only lies elsewhere,
as a shape that was dragged or a letter that comes again, is the same patch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import SideBySide
from stopout.links import linked
from stopout.mask import as_multipolygon, meeting, parts_of
from stopout.planning.memory import digest_of
from stopout.planning.shifting import shifted_each
from stopout.values import FloatArray

# Groups of fewer vertices are small; where there are many, they are taken together by cells of
# this size.
_SMALL = 300
_MANY = 150
_CELL_MM = 10.0
# A patch's own coordinates have so many decimals of a millimetre: drawings come with six, so that
# what sums of coordinates lose in their last places is never seen.
_DECIMALS = 9

_Asked = TypeVar("_Asked")
_Made = TypeVar("_Made")


@dataclass(frozen=True, kw_only=True, eq=False)
class Patch:
    """A patch of a drawing, in a frame of its own.

    Attributes
    ----------
    target : MultiPolygon
        Its parts, as worked, from its corner.
    face : BaseGeometry
        The face round it, from its corner.
    part : (n,) ndarray of int
        The index of each part among those of the drawing.
    whole_mm : float
        Lands of the finished piece narrower than this lie within one patch.
    corner_mm : (float, float)
        Where its frame lies in the drawing's.
    """

    target: MultiPolygon
    face: BaseGeometry
    part: NDArray[np.intp]
    whole_mm: float = np.inf
    corner_mm: tuple[float, float] = (0.0, 0.0)

    @cached_property
    def key(self) -> bytes:
        """What tells it from every other patch, wherever they lie."""
        return digest_of(self.target, self.face)

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
    homes = [np.flatnonzero(group == k) for k in range(group.max() + 1)]
    boxes = np.array([shapely.total_bounds(parts[own]) for own in homes])
    frames = shapely.box(*(boxes + apart_mm * np.array([-1, -1, 1, 1])).T)
    own_face = shapely.from_wkb(shapely.to_wkb(face))
    shapely.prepare(own_face)
    is_inside = shapely.covers(own_face, frames)
    found = []
    for own, box, frame, inside in zip(homes, boxes, frames, is_inside, strict=True):
        round_it = None if inside else shapely.intersection(own_face, frame)
        found.append(_framed(parts, own, box[:2], round_it, apart_mm, whole_mm))
    return found


def _framed(
    parts: NDArray[np.object_],
    own: NDArray[np.intp],
    low: FloatArray,
    face: BaseGeometry | None,
    apart_mm: float,
    whole_mm: float,
) -> Patch:
    """Return some parts as a patch; `face` is what of the face is round them, None for all of it.

    Parts and their points are put into an order that hangs on nothing but their shapes.
    """
    corner = low
    own_parts = shapely.normalize(_from(corner, parts[own]))
    bounds = shapely.bounds(own_parts)
    order = np.lexsort(bounds.T)
    high = bounds.max(axis=0)[2:] + apart_mm
    round_it = shapely.box(-apart_mm, -apart_mm, *high) if face is None else _from(corner, face)
    target = as_multipolygon(own_parts[order])
    is_sound = shapely.is_valid(target) and shapely.is_valid(round_it)
    if not is_sound or len(target.geoms) != len(own):
        # Points a picometre apart: rare enough to be planned where it lies.
        corner, order, target = np.zeros(2), np.arange(len(own)), as_multipolygon(parts[own])
        x0, y0, x1, y1 = target.bounds
        a = apart_mm
        round_it = shapely.box(x0 - a, y0 - a, x1 + a, y1 + a) if face is None else face
    return Patch(
        target=target,
        face=round_it,
        part=own[order],
        whole_mm=whole_mm,
        corner_mm=(float(corner[0]), float(corner[1])),
    )


def _from(corner: FloatArray, regions: Any) -> Any:
    """Return regions from a corner, with a patch's decimals."""
    return shapely.transform(regions, lambda xy: np.round(xy - corner, _DECIMALS))


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
    parts = shapely.normalize(parts_of(target))
    own_face = shapely.from_wkb(shapely.to_wkb(face))
    return Patch(target=as_multipolygon(parts), face=own_face, part=np.arange(len(parts)))


def _groups(parts: NDArray[np.object_], apart_mm: float) -> NDArray[np.intp]:
    """Number parts so that those of two groups lie farther apart; groups by their first part.

    Many small groups are taken together by the cell of a fixed grid that their middle lies in: a
    call costs as much for a dot as for a letter, and what lies elsewhere moves no cell.
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
    if np.count_nonzero(~large) <= _MANY:
        return _in_order(label)
    cell[large] = np.inf
    names = np.column_stack([cell, np.where(large, np.arange(count), -1)])[label]
    return _in_order(names)


def _in_order(names: NDArray[Any]) -> NDArray[np.intp]:
    """Number what is named, each name by where it comes first."""
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

    Returns
    -------
    list of MultiPolygon
        Each in its patch's own frame.
    """
    pieces = parts_of(opening)
    homes = np.concatenate([np.full(len(p.target.geoms), k) for k, p in enumerate(patches)])
    corners = np.array([patch.corner_mm for patch in patches])
    targets = shifted_each([patch.target for patch in patches], corners)
    drawn = shapely.STRtree(np.concatenate([parts_of(target) for target in targets]))
    piece, part = drawn.query(pieces, predicate="intersects")
    low, high = np.full(len(pieces), len(patches)), np.full(len(pieces), -1)
    np.minimum.at(low, piece, homes[part])
    np.maximum.at(high, piece, homes[part])
    if (low != high).any():
        return None
    found = [as_multipolygon(pieces[low == k]) for k in range(len(patches))]
    return shifted_each(found, -corners)
