"""What the shop says of its bath: the tray, the metal already in it, its volume, its stock."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.etching.strength import BathStrength

__all__ = ["FRESH", "BathUse", "TrayFit", "fit_tray"]

# Room around and between pieces that lie in a tray: common practice, no source.
GAP_MM = 20.0


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
        Pieces that lie in the tray together; None: as many as fit, one without a named tray.
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
    """How pieces lie in a tray: `fits` with 20 mm of room all round, `most` touching each other."""

    tray_mm: tuple[float, float]
    at_once: int
    fits: int
    most: int


def fit_tray(blank_size_mm: tuple[float, float] | None, use: BathUse, pieces: int) -> TrayFit:
    """Lay pieces into the tray, in rows, all one way round.

    Parameters
    ----------
    blank_size_mm : (float, float) or None
        Width and height of a piece [mm]; None where they are not known: nothing is then said of
        how the pieces lie.
    use : BathUse
        With the tray, if one is named.
    pieces : int
        How many pieces there are.

    Returns
    -------
    TrayFit
        `at_once` is never more than `pieces`, and at least 1.

    Notes
    -----
    Without a named tray it is the one that holds `plates_at_once` pieces in a row with 20 mm all
    round: for one piece, 40 mm longer and wider than it.
    """
    if blank_size_mm is None:
        at_once = min(use.plates_at_once or 1, pieces)
        return TrayFit(
            tray_mm=use.tray_mm or (0.0, 0.0), at_once=at_once, fits=at_once, most=at_once
        )
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


def _rows(tray_mm: tuple[float, float], piece_mm: tuple[float, float], gap_mm: float) -> int:
    """How many pieces lie in a tray in rows and columns, the better way round."""

    def count(length: float, side: float) -> int:
        return max(0, math.floor((length - gap_mm) / (side + gap_mm) + 1e-9))

    (a, b), (w, h) = tray_mm, piece_mm
    return max(count(a, w) * count(b, h), count(a, h) * count(b, w))
