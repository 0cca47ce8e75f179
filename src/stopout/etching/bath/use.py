"""What the shop says of its bath: the tray, the metal already in it, its volume, its stock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from stopout.etching.bath.amounts import COVER_MM, tray_cover_l
from stopout.etching.bath.strength import BathStrength

# Room around and between pieces that lie in a tray: common practice, no source.
GAP_MM = 20.0
# Floors of trays as sold for photographs (common practice, no source), the smallest first.
USUAL_TRAYS_MM = ((180.0, 130.0), (240.0, 180.0), (300.0, 240.0), (400.0, 300.0), (500.0, 400.0))
# With less bath than this over the floor of its tray a piece on its support is not covered once the
# bath moves. Our own rule.
BARE_MM = 8.0
# Across a vessel in which a piece hangs: 20 mm behind it, the cathode 60 mm before it (published,
# see the electrolytes' advice) with 20 mm behind; in a bubbled bath 20 mm before and behind it.
ACROSS_CELL_MM, ACROSS_BUBBLED_MM = 100.0, 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BathUse:
    """How the bath is used. What is left out is None or nought.

    Attributes
    ----------
    ident : str
        The shop's name for the bath.
    dissolved_g_per_l : float
        Metal that earlier work has left in it [g/L].
    volume_l : float or None
        How much of it there is [L]; None: as much as the plan asks for.
    tray_mm : (float, float) or None
        The tray's floor [mm]; None: one that suits the pieces.
    plates_at_once : int or None
        Pieces that lie in the tray together; None: as many as fit.
    stock : BathStrength or None
        The solution from which the bath is diluted; None: dry reagent, or the bath as bought.
    coupon_area_mm2 : float
        Cleared area of the coupon that is etched in the same bath [mm^2].
    spares : int
        Pieces etched besides the quantity.
    is_cooled : bool
        True where the vessel is cooled while the etch goes on.
    """

    ident: str = ""
    dissolved_g_per_l: float = 0.0
    volume_l: float | None = None
    tray_mm: tuple[float, float] | None = None
    plates_at_once: int | None = None
    stock: BathStrength | None = None
    coupon_area_mm2: float = 0.0
    spares: int = 0
    is_cooled: bool = False


FRESH = BathUse()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayFit:
    """How pieces lie or hang in a vessel, and how deep the bath must stand in it.

    Attributes
    ----------
    tray_mm : (float, float)
        Its floor.
    at_once, fits, most : int
        Pieces in it together; `fits` with 20 mm of room all round, `most` touching each other.
    hangs : bool
        True where the piece hangs upright: under a current, and in a bubbled bath.
    is_proposed : bool
        True where nobody named a tray and a usual one was chosen for several pieces.
    cover_mm, bare_mm : float
        Depth of bath that is planned, and the depth below which the piece is not covered.
    """

    tray_mm: tuple[float, float]
    at_once: int
    fits: int
    most: int
    hangs: bool = False
    is_proposed: bool = False
    cover_mm: float = COVER_MM
    bare_mm: float = BARE_MM


def fit_tray(
    blank_size_mm: tuple[float, float] | None, use: BathUse, pieces: int, *, across_mm: float = 0.0
) -> TrayFit:
    """Lay pieces into the tray in rows, all one way round, or hang them in one row.

    Parameters
    ----------
    blank_size_mm : (float, float) or None
        Width and height of a piece [mm]; None where they are not known: nothing is then said of
        how the pieces lie.
    use : BathUse
        With the tray, if one is named.
    pieces : int
        How many pieces there are.
    across_mm : float
        Room that a hanging row takes across the vessel [mm], cathode or bubbler included; nought
        where the pieces lie.

    Returns
    -------
    TrayFit
        `at_once` is never more than `pieces`, and at least 1.

    Notes
    -----
    Without a named tray several pieces lie in the smallest usual tray that takes them all, or else
    in the one that takes most of them, of those that a given volume covers; one piece, or
    `plates_at_once` in a row, in a tray that leaves 20 mm all round: for one piece, 40 mm longer
    and wider than it. A piece that hangs has its shorter side upright, 20 mm of bath below it for
    the sludge, and is covered as a lying one is.
    """
    if blank_size_mm is None:
        at_once = min(use.plates_at_once or 1, pieces)
        return TrayFit(
            tray_mm=use.tray_mm or (0.0, 0.0), at_once=at_once, fits=at_once, most=at_once
        )
    if across_mm:
        return _hung(blank_size_mm, use, pieces, across_mm)
    if use.tray_mm is None and use.plates_at_once is None and pieces > 1:
        proposed = _proposed(blank_size_mm, pieces, use.volume_l)
        if proposed is not None:
            return proposed
    if use.tray_mm is None:
        at_once = min(use.plates_at_once or 1, pieces)
        width, height = blank_size_mm
        # The shorter sides lie in a row, so that the tray is as square as may be.
        if width > height:
            tray = (width + 2 * GAP_MM, at_once * height + (at_once + 1) * GAP_MM)
        else:
            tray = (at_once * width + (at_once + 1) * GAP_MM, height + 2 * GAP_MM)
        return TrayFit(tray_mm=tray, at_once=at_once, fits=at_once, most=at_once)
    fits = _rows(use.tray_mm, blank_size_mm, GAP_MM)
    at_once = min(use.plates_at_once or max(fits, 1), pieces)
    most = _rows(use.tray_mm, blank_size_mm, 0.0)
    return TrayFit(tray_mm=use.tray_mm, at_once=at_once, fits=fits, most=most)


def tray_for(
    blank_size_mm: tuple[float, float],
    pieces: int,
    volume_l: float | None,
    trays_mm: Sequence[tuple[float, float]] = USUAL_TRAYS_MM,
) -> tuple[tuple[float, float], int] | None:
    """Choose the smallest tray in which all pieces lie at once, else the one that takes most.

    Parameters
    ----------
    blank_size_mm : (float, float)
        Of one piece.
    pieces : int
        How many there are.
    volume_l : float or None
        How much bath there is to cover them with; None: as much as it takes.
    trays_mm : sequence of (float, float)
        The floors to choose from.

    Returns
    -------
    ((float, float), int) or None
        Its floor, and how many pieces it takes with 20 mm of room; None where none takes any.
    """
    fits = [
        (_rows(tray, blank_size_mm, GAP_MM), tray)
        for tray in sorted(trays_mm, key=lambda tray: tray[0] * tray[1])
        if volume_l is None or tray_cover_l(tray) <= volume_l
    ]
    at_once = min(max((many for many, _ in fits), default=0), pieces)
    if at_once < 1:
        return None
    many, tray = next(one for one in fits if one[0] >= at_once)
    return tray, many


def _proposed(
    blank_size_mm: tuple[float, float], pieces: int, volume_l: float | None
) -> TrayFit | None:
    """Lay pieces in the smallest usual tray for all of them; None where none takes even two."""
    tray, many = tray_for(blank_size_mm, pieces, volume_l) or (None, 0)
    at_once = min(many, pieces)
    if tray is None or at_once < 2:
        return None
    most = _rows(tray, blank_size_mm, 0.0)
    return TrayFit(tray_mm=tray, at_once=at_once, fits=many, most=most, is_proposed=True)


def _hung(
    blank_size_mm: tuple[float, float], use: BathUse, pieces: int, across_mm: float
) -> TrayFit:
    """Pieces in one row, the longer side level, facing the cathode or the bubbles."""
    upright, level = sorted(blank_size_mm)
    tray = use.tray_mm
    if tray is None:
        fits = most = at_once = min(use.plates_at_once or 1, pieces)
        tray = (at_once * level + (at_once + 1) * GAP_MM, across_mm)
    else:
        # The row may run along either side of the floor, where the other leaves room across.
        long = max((a for a, b in (tray, tray[::-1]) if b >= across_mm - 1e-9), default=0.0)
        fits, most = (
            max(0, math.floor((long - gap) / (level + gap) + 1e-9)) for gap in (GAP_MM, 0.0)
        )
        at_once = min(use.plates_at_once or max(fits, 1), pieces)
    return TrayFit(
        tray_mm=tray,
        at_once=at_once,
        fits=fits,
        most=most,
        hangs=True,
        cover_mm=GAP_MM + upright + COVER_MM,
        bare_mm=GAP_MM + upright,
    )


def _rows(tray_mm: tuple[float, float], piece_mm: tuple[float, float], gap_mm: float) -> int:
    """How many pieces lie in a tray in rows and columns, the better way round."""

    def count(length: float, side: float) -> int:
        return max(0, math.floor((length - gap_mm) / (side + gap_mm) + 1e-9))

    (a, b), (w, h) = tray_mm, piece_mm
    return max(count(a, w) * count(b, h), count(a, h) * count(b, w))
