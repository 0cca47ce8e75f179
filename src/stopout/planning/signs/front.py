"""The record of what the reader will see of a sign."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from stopout.planning.signs.compare import Comparison
from stopout.planning.signs.order import CoatOrder
from stopout.planning.signs.register import Agreement, Slip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrontGlimpse:
    """A first look at a sign, before a coat is opened: the face, and what each coat is to show.

    As seen. A glimpse decides nothing.
    """

    face: BaseGeometry
    shown: tuple[BaseGeometry, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Front:
    """What the reader will see, as predicted from the programs. Regions as worked.

    Attributes
    ----------
    method, reason : str
        How the coats are cleared and why.
    views : tuple of BaseGeometry
        Where each coat is seen where the clearings meet exactly.
    moved_views : tuple of BaseGeometry or None
        The same at the worst miss; None where clearings cannot miss each other.
    agreement : Agreement
        By area, against the artwork.
    slip : Slip or None
        The widest sliver of a wrong colour at the given error; None where there is no error given
        or only one clearing.
    n_clearings : int
        How many clearings there are.
    compared : Comparison or None
        The front against the artwork's own colours; None where there is no picture of them.
    bleed_mm : float
        How far what reaches the sheet's edge is cleared past it, where clamps and bed allow it.
    edge_sliver : (width_mm, at_mm)
        The widest line of paint along the sheet's edge when the sheet lies off, and where.
    order : CoatOrder or None
        An order of the coats that shows the same front in less time.
    """

    method: str
    reason: str
    views: tuple[BaseGeometry, ...]
    moved_views: tuple[BaseGeometry, ...] | None
    agreement: Agreement
    slip: Slip | None
    n_clearings: int
    compared: Comparison | None = None
    bleed_mm: float = 0.0
    edge_sliver: tuple[float, tuple[float, float] | None] = (0.0, None)
    order: CoatOrder | None = None
