"""Paint over paint: which parts of the page end up dark, and what stays visible of each shape.

The page is white. Paint is laid in document order by source-over compositing of sRGB values
(Compositing and Blending Level 1, section 5.1); a place is dark where the Rec. 709 luma of what
results lies below 1 - threshold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.rings import EMPTY, only_areas
from stopout.artwork.tone import Colour, is_dark
from stopout.errors import ArtworkError

WHITE: Colour = (255.0, 255.0, 255.0)
_MOST_FACES = 20_000
_MOST_PAIRS = 2_000_000
# So many shapes on a face are cut from it at the latest, for the memory's sake.
_MOST_COVERS = 64
# Slivers between edges that should coincide: thinner than 0.02 um, far below any mark.
_SLIVER_MM = 2e-5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paint:
    """A region under one plain colour. `source` is the id of what it was drawn as.

    `is_toned` tells that it is a step of a gradient; `tiled` is what a pattern fills and the longer
    side of its tile, None for plain paint.
    """

    region: BaseGeometry
    colour: Colour
    alpha: float
    source: str
    is_toned: bool = False
    tiled: tuple[BaseGeometry, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Painted:
    """The finished picture: what is dark, and of each paint what later paint leaves visible.

    A visible paint is opaque and has the colour that is seen, over what lies below it.
    """

    dark: BaseGeometry
    visible: tuple[Paint, ...]


def paint_all(paints: Sequence[Paint], *, threshold: float) -> Painted:
    """Lay paints over each other in order.

    Parameters
    ----------
    paints : sequence of Paint
        In document order, the first at the bottom.
    threshold : float
        A place is dark where its luma over white is below ``1 - threshold``.

    Notes
    -----
    What is visible of a paint is its region less the opaque paints after it; a place under
    see-through paint belongs to the topmost one, in the colour that both make.
    """
    if all(paint.alpha == 1.0 for paint in paints):
        seen = _visible(paints)
    else:
        seen = _over_white(paints)
    dark = [paint.region for paint in seen if is_dark(paint.colour, threshold=threshold)]
    return Painted(dark=_tidy(_union(np.array(dark, dtype=object))), visible=seen)


def _union(regions: NDArray[np.object_]) -> BaseGeometry:
    """Join regions; what touches no other stays as it is."""
    if not len(regions):
        return EMPTY
    one, other = _touching(regions)
    meets = np.zeros(len(regions), dtype=bool)
    meets[one[one != other]] = True
    joined = only_areas(shapely.union_all(regions[meets]))
    parts = shapely.get_parts([*regions[~meets], joined])
    whole: BaseGeometry = parts[0] if len(parts) == 1 else shapely.multipolygons(parts)
    return whole


def fade(paints: Sequence[Paint], alpha: float) -> list[Paint]:
    """Apply the opacity of a group to its paints as one picture.

    Where the paints of the group overlap they are composed first and then faded together, which
    is what sets group opacity apart from the opacity of its members.
    """
    if alpha == 1.0 or not paints:
        return list(paints)
    if alpha == 0.0:
        return []
    faces = paints if len(paints) == 1 else compose(paints)
    return [replace(face, alpha=face.alpha * alpha) for face in faces]


def _visible(paints: Sequence[Paint]) -> tuple[Paint, ...]:
    """Cut from each paint the opaque paints after it that touch it."""
    regions = np.array([paint.region for paint in paints], dtype=object)
    if len(regions) < 2:
        return tuple(paints)
    below, above = _touching(regions)
    opaque = np.array([paint.alpha == 1.0 for paint in paints])
    later = (above > below) & opaque[above]
    below, above = below[later], above[later]
    order = np.argsort(below, kind="stable")
    below, above = below[order], above[order]
    cut = regions.copy()
    for index in np.unique(below):
        first, last = np.searchsorted(below, [index, index + 1])
        cover = shapely.union_all(regions[above[first:last]])
        cut[index] = _tidy(shapely.difference(regions[index], cover))
    return tuple(
        replace(paint, region=region)
        for paint, region in zip(paints, cut, strict=True)
        if not region.is_empty
    )


def _touching(regions: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of regions that touch, found a few rows at a time so that a heap of shapes ends."""
    tree = shapely.STRtree(regions)
    rows = max(1, _MOST_PAIRS // len(regions))
    found: list[NDArray[np.int64]] = []
    count = 0
    for first in range(0, len(regions), rows):
        pairs = tree.query(regions[first : first + rows], predicate="intersects")
        pairs[0] += first
        found.append(pairs)
        count += pairs.shape[1]
        if count > _MOST_PAIRS:
            raise ArtworkError(
                f"shapes overlap each other in more than {_MOST_PAIRS / 1e6:.0f} million ways; "
                "join those that lie on top of each other"
            )
    below, above = np.concatenate(found, axis=1)
    return below, above


def _over_white(paints: Sequence[Paint]) -> tuple[Paint, ...]:
    """Cut a picture with see-through paints into opaque ones, each still of its own source."""
    # Faces of one look are joined whatever they were drawn as, so the sources stay apart by
    # composing runs of opaque paints as they are and only what is under see-through paint anew.
    page = _Page()
    for paint in paints:
        if paint.alpha > 0.0 and not paint.region.is_empty:
            page.lay(paint)
            if len(page.faces) > _MOST_FACES and len(page.settled()) > _MOST_FACES:
                raise ArtworkError(
                    "see-through shapes overlap in too many ways; make the shapes opaque"
                )
    return page.settled()


class _Page:
    """Opaque faces on a white page, the oldest first.

    What lies on a face is cut from it all at once when its own shape is asked for: a ground under
    thousands of shapes would else be cut thousands of times.
    """

    def __init__(self) -> None:
        self.faces: dict[int, Paint] = {}
        self._covers: dict[int, list[BaseGeometry]] = {}
        # Of every face that ever was, its bounds; not a number once it is gone.
        self._boxes = np.empty((0, 4))
        self._count = 0

    def lay(self, paint: Paint) -> None:
        """Lay one paint over the faces."""
        mixed: dict[Colour, list[BaseGeometry]] = {}
        under: list[BaseGeometry] = []
        for number in self._touched(paint.region):
            if paint.alpha < 1.0:
                face = self._settled(number)
                both = only_areas(shapely.intersection(face.region, paint.region))
                if not both.is_empty:
                    colour, _ = _mix(paint.colour, paint.alpha, face.colour, 1.0)
                    mixed.setdefault(colour, []).append(both)
                    under.append(face.region)
            self._cover(number, paint.region)
        colour, _ = _mix(paint.colour, paint.alpha, WHITE, 1.0)
        fresh = _less(paint.region, under)
        mixed.setdefault(colour, []).append(fresh)
        for colour, parts in mixed.items():
            whole = _tidy(shapely.union_all(parts))
            self._add(replace(paint, region=whole, colour=colour, alpha=1.0))

    def settled(self) -> tuple[Paint, ...]:
        """Cut from all faces what was laid on them, and return what is left of them."""
        for number in list(self.faces):
            if self._settled(number).region.is_empty:
                self._drop(number)
        return tuple(self.faces.values())

    def _touched(self, region: BaseGeometry) -> list[int]:
        """The faces that a region touches, those cut away meanwhile among them."""
        shapely.prepare(region)
        x0, y0, x1, y1 = region.bounds
        boxes = self._boxes[: self._count]
        near = np.flatnonzero(
            (boxes[:, 0] <= x1) & (boxes[:, 1] <= y1) & (boxes[:, 2] >= x0) & (boxes[:, 3] >= y0)
        )
        shapes = np.array([self.faces[number].region for number in near.tolist()], dtype=object)
        touched: list[int] = near[shapely.intersects(region, shapes)].tolist()
        return touched

    def _cover(self, number: int, region: BaseGeometry) -> None:
        self._covers[number].append(region)
        if len(self._covers[number]) >= _MOST_COVERS and self._settled(number).region.is_empty:
            self._drop(number)

    def _settled(self, number: int) -> Paint:
        face = self.faces[number]
        if self._covers[number]:
            face = replace(face, region=_less(face.region, self._covers[number]))
            self.faces[number], self._covers[number] = face, []
        return face

    def _add(self, face: Paint) -> None:
        if face.region.is_empty:
            return
        if self._count == len(self._boxes):
            more = np.empty((max(64, self._count), 4))
            self._boxes = np.concatenate([self._boxes, more])
        self._boxes[self._count] = face.region.bounds
        self.faces[self._count], self._covers[self._count] = face, []
        self._count += 1

    def _drop(self, number: int) -> None:
        del self.faces[number], self._covers[number]
        self._boxes[number] = np.nan


def _less(region: BaseGeometry, covers: list[BaseGeometry]) -> BaseGeometry:
    """Cut from a region what covers it, by the cheaper of two roads."""
    if len(covers) * shapely.get_num_coordinates(region) > _points(covers):
        covers = [shapely.union_all(covers)]
    for cover in covers:
        region = _tidy(shapely.difference(region, cover))
        if region.is_empty:
            break
    return region


def _points(regions: list[BaseGeometry]) -> int:
    return int(shapely.get_num_coordinates(np.array(regions, dtype=object)).sum())


def compose(paints: Sequence[Paint]) -> list[Paint]:
    """Cut the picture into faces of one colour and opacity each, on a clear ground."""
    faces: list[Paint] = []
    for paint in paints:
        if paint.alpha == 0.0 or paint.region.is_empty:
            continue
        fresh, after = paint.region, []
        for face in faces:
            if not shapely.intersects(face.region, paint.region):
                after.append(face)
                continue
            rest = only_areas(shapely.difference(face.region, paint.region))
            if not rest.is_empty:
                after.append(replace(face, region=rest))
            both = only_areas(shapely.intersection(face.region, paint.region))
            if both.is_empty or paint.alpha == 1.0:
                continue
            colour, alpha = _mix(paint.colour, paint.alpha, face.colour, face.alpha)
            after.append(replace(paint, region=both, colour=colour, alpha=alpha))
            fresh = only_areas(shapely.difference(fresh, face.region))
        if not fresh.is_empty:
            after.append(replace(paint, region=fresh))
        faces = _join(after)
    return faces


def _join(faces: list[Paint]) -> list[Paint]:
    """Join faces of the same look, so that their number stays that of the looks."""
    looks: dict[tuple[Colour, float], list[Paint]] = {}
    for face in faces:
        looks.setdefault((face.colour, face.alpha), []).append(face)
    if len(looks) > _MOST_FACES:
        raise ArtworkError("see-through shapes overlap in too many ways; make the shapes opaque")
    return [
        group[0]
        if len(group) == 1
        else replace(
            group[-1], region=only_areas(shapely.union_all([face.region for face in group]))
        )
        for group in looks.values()
    ]


def _mix(top: Colour, over: float, bottom: Colour, under: float) -> tuple[Colour, float]:
    """Source-over of two colours with their opacities."""
    alpha = over + under * (1.0 - over)
    if alpha == 0.0:
        return WHITE, 0.0
    mixed = [
        (a * over + b * under * (1.0 - over)) / alpha for a, b in zip(top, bottom, strict=True)
    ]
    return (mixed[0], mixed[1], mixed[2]), alpha


def _tidy(region: BaseGeometry) -> BaseGeometry:
    """Drop slivers and mend what rounding has left invalid."""
    region = only_areas(region if region.is_valid else shapely.make_valid(region))
    parts = shapely.get_parts(region)
    thin = shapely.area(parts) < _SLIVER_MM * shapely.length(parts) / 2
    if not thin.any():
        return region
    kept = parts[~thin]
    if len(kept) == 0:
        return EMPTY
    joined: BaseGeometry = kept[0] if len(kept) == 1 else shapely.multipolygons(kept)
    return joined
