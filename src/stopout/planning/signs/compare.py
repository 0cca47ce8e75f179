"""The predicted front against the artwork's own colours, colour by colour.

What the coats claim has no part in the count: it starts from a rendering of the file and from the
front that the programs make. Only which coat is right for a colour is settled by the coats' tints,
or, where the job says that a colour is changed on purpose, by what it is seen as.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat
from stopout.planning.signs.pixels import beyond_edges, first_holding, inside, palette_of
from stopout.planning.signs.tints import difference, tint_of
from stopout.values import ColourPicture

# Nearer than this to an edge of the drawing nothing is counted as wrong.
BAND_MM = 0.1
# Of a colour's area beyond the band at least this share must be seen in it.
LEAST_SHARE = 0.999
# CIEDE2000: farther apart a tint is another colour; colours nearer than the second are one.
# Our own limits: names of colours reach about as far as the first.
_OTHER, _ONE = 25.0, 5.0
# A coat this much farther from a colour than the nearest one is not meant for it.
_SLACK = 6.0
_PAGE = "page"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenColour:
    """One colour of the artwork and what becomes of it; areas in mm^2.

    Attributes
    ----------
    colour : str
        `#rrggbb`, or "page" for the bare page where no coat is white.
    drawn_mm2, seen_mm2, wrong_mm2 : float
        Drawn; of it seen in a coat of its colour; showing another colour beyond the edge band.
    judged_mm2 : float
        Drawn beyond the edge band.
    coats : tuple of int
        The coats that are right for it, from 1; none where no coat has its colour.
    instead : int or None
        The coat that shows most of what is wrong.
    at_mm : (x, y) or None
        A place, as seen, in the largest wrong patch.
    most : int or None
        The coat that shows two thirds or more of it.
    """

    colour: str
    drawn_mm2: float
    seen_mm2: float
    wrong_mm2: float
    judged_mm2: float
    coats: tuple[int, ...]
    instead: int | None
    at_mm: tuple[float, float] | None
    most: int | None = None

    @property
    def is_wrong(self) -> bool:
        """True where less than 99.9 % of it beyond the band is seen as drawn."""
        return self.wrong_mm2 > (1 - LEAST_SHARE) * self.judged_mm2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """All colours of the artwork, the largest first.

    `toned_share` is the share of the painted area in tones that no plain colour has; `tints` are
    those of the coats as they were taken, None for a window to light.
    """

    colours: tuple[SeenColour, ...]
    toned_share: float
    tints: tuple[str | None, ...]


def compare_front(
    picture: ColourPicture, views: Sequence[BaseGeometry], coats: Sequence[Coat], face: BaseGeometry
) -> Comparison:
    """Hold the predicted front against the artwork.

    Parameters
    ----------
    picture : ColourPicture
        The artwork's own colours, as seen.
    views : sequence of BaseGeometry
        Where each coat is seen, as seen.
    coats : sequence of Coat
        From the viewer backwards.
    face : BaseGeometry
        The part of the face that is judged, as seen.
    """
    on_face = inside(face, picture)
    palette = palette_of(picture, on_face & picture.is_painted)
    labels = palette.labels
    colours = [*palette.colours, _PAGE]
    labels[on_face & ~picture.is_painted] = len(palette.colours)
    front = first_holding(views, picture)
    front[~on_face] = -1
    shape = len(colours), len(coats)
    counts = _counts(labels, front, shape)
    tints = _tints(coats, colours, counts[:, 1:])
    right = _right(coats, tints, colours, counts[:, 1:])
    if (white := _white_with_page(colours, right)) is not None:
        # The bare page is counted as white where both are shown by the same coat.
        labels[labels == len(colours) - 1] = white
        counts[white] += counts[-1]
        counts[-1] = 0
    beyond = beyond_edges(labels, BAND_MM / picture.px_mm)
    beside = ~beyond & (labels >= 0)
    judged = counts - _counts(labels[beside], front[beside], shape)
    tally = _Tally(counts=counts, judged=judged, labels=labels, front=front, beyond=beyond)
    rows = [
        tally.row(number, colour, right[number], picture)
        for number, colour in enumerate(colours)
        if counts[number].any()
    ]
    return Comparison(colours=tuple(rows), toned_share=palette.toned_share, tints=tuple(tints))


def _counts(
    labels: NDArray[np.int16], front: NDArray[np.int16], shape: tuple[int, int]
) -> NDArray[np.int64]:
    """Count pixels by colour and coat, none first: (n_colours, 1 + n_coats)."""
    n_colours, n_coats = shape
    # Those of no colour come first, and are left out.
    code = (labels + 1) * np.int16(n_coats + 1) + (front + 1)
    found = np.bincount(code.ravel(), minlength=(n_colours + 1) * (n_coats + 1))
    return np.asarray(found.reshape(n_colours + 1, n_coats + 1)[1:], dtype=np.int64)


def _tints(
    coats: Sequence[Coat], colours: Sequence[str], counts: NDArray[np.int64]
) -> list[str | None]:
    """Return each coat's tint; where its name says none, the colour that it shows most of."""
    tints: list[str | None] = []
    for k, coat in enumerate(coats):
        tint = None if coat.is_window else tint_of(coat.colour)
        if tint is None and not coat.is_window:
            named = coat.shows is not None and coat.shows.kind == "fill"
            most = int(counts[:-1, k].argmax()) if len(colours) > 1 else -1
            is_seen = most >= 0 and counts[most, k] > 0
            tint = coat.shows.value if named and coat.shows else None
            tint = tint or (colours[most] if is_seen else None)
        tints.append(tint)
    return tints


def _right(
    coats: Sequence[Coat],
    tints: Sequence[str | None],
    colours: Sequence[str],
    counts: NDArray[np.int64],
) -> list[tuple[int, ...]]:
    """Return which coats are right for each colour, from 0."""
    # A bare page is white to whoever looks at the drawing.
    looks = ["#ffffff" if colour == _PAGE else colour for colour in colours]
    is_there = [bool(row.any()) for row in counts]
    right = [_alike(look, tints) if is_there[n] else () for n, look in enumerate(looks)]
    # It asks for no tint, so it is a coat's own colour only where that coat shows it.
    right[-1] = tuple(k for k in right[-1] if k == int(counts[-1].argmax()))
    for k in range(len(coats)):
        _keep_one_colour(k, right, looks, tints)
    for number, row in enumerate(counts):
        if not row.any():
            continue
        most = int(row.argmax())
        # A window has no tint, and the bare page asks for none.
        is_free = _is_free(coats, most)
        if number == len(colours) - 1:
            whites = _alike("#ffffff", tints)
            right[number] = whites if whites and most in whites else (most,)
        elif is_free and most not in right[number]:
            right[number] = (most,)
    return right


def _is_free(coats: Sequence[Coat], k: int) -> bool:
    """Tell whether a coat shows on purpose what is drawn in another colour.

    So does a window to light, and the rest around dark artwork that is recoloured: line art.
    """
    coat = coats[k]
    if coat.recolour or coat.is_window:
        return True
    is_line_art = any(
        (other.recolour or other.is_window) and other.shows and other.shows.kind == "dark"
        for other in coats
    )
    return is_line_art and coat.shows is not None and coat.shows.kind == "rest"


def _alike(colour: str, tints: Sequence[str | None]) -> tuple[int, ...]:
    apart = [np.inf if tint is None else difference(colour, tint) for tint in tints]
    least = min(apart)
    return tuple(k for k, d in enumerate(apart) if d <= _OTHER and d <= least + _SLACK)


def _keep_one_colour(
    k: int, right: list[tuple[int, ...]], colours: Sequence[str], tints: Sequence[str | None]
) -> None:
    """Let one coat stand for one colour: of several unlike ones, for the nearest to its tint."""
    tint = tints[k]
    mine = [number for number, coats in enumerate(right) if k in coats]
    if tint is None or len(mine) < 2:
        return
    home = min(mine, key=lambda number: difference(colours[number], tint))
    for number in mine:
        if difference(colours[number], colours[home]) > _ONE:
            right[number] = tuple(other for other in right[number] if other != k)


def _white_with_page(colours: Sequence[str], right: Sequence[tuple[int, ...]]) -> int | None:
    """Return which colour is white, where the same coat is right for it and for the bare page."""
    whites = [n for n, colour in enumerate(colours[:-1]) if colour == "#ffffff"]
    return whites[0] if whites and right[whites[0]] == right[-1] else None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tally:
    """Pixels by colour and coat, none first: all, and those beyond the edge band; and where."""

    counts: NDArray[np.int64]
    judged: NDArray[np.int64]
    labels: NDArray[np.int16]
    front: NDArray[np.int16]
    beyond: NDArray[np.bool_]

    def row(
        self, number: int, colour: str, right: tuple[int, ...], picture: ColourPicture
    ) -> SeenColour:
        """Return what becomes of a colour for which these coats, from 0, are right."""
        px2 = picture.px_mm**2
        wrong = self.judged[number, 1:].copy()
        judged = wrong.sum()
        wrong[list(right)] = 0
        at_mm = None
        if wrong.any():
            here = (self.labels == number) & self.beyond
            at_mm = _place(here & (wrong > 0)[self.front] & (self.front >= 0), picture)
        return SeenColour(
            colour=colour,
            drawn_mm2=float(self.counts[number].sum() * px2),
            seen_mm2=float(self.counts[number, 1:][list(right)].sum() * px2),
            wrong_mm2=float(wrong.sum() * px2),
            judged_mm2=float(judged * px2),
            coats=tuple(k + 1 for k in right),
            instead=int(wrong.argmax()) + 1 if wrong.any() else None,
            at_mm=at_mm,
            most=_most(self.counts[number]),
        )


def _most(counts: NDArray[np.int64]) -> int | None:
    """Return the coat, from 1, that shows two thirds or more of a colour."""
    k = int(counts.argmax())
    return k if k > 0 and 3 * counts[k] >= 2 * counts.sum() else None


def _place(wrong: NDArray[np.bool_], picture: ColourPicture) -> tuple[float, float]:
    """Return the middle of the widest wrong patch, as seen."""
    import cv2

    # What is wrong lies in few rows and columns; one more on each side ends it.
    (top, bottom), (left, right) = (
        (max(int(has[0]) - 1, 0), int(has[-1]) + 2)
        for has in (np.flatnonzero(wrong.any(axis=axis)) for axis in (1, 0))
    )
    some = wrong[top:bottom, left:right].astype(np.uint8)
    room = cv2.distanceTransform(some, cv2.DIST_L2, cv2.DIST_MASK_5)
    row, column = np.unravel_index(int(room.argmax()), room.shape)
    row, column = row + top, column + left
    return (
        picture.left_mm + (float(column) + 0.5) * picture.px_mm,
        picture.top_mm - (float(row) + 0.5) * picture.px_mm,
    )
