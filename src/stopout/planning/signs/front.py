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

    `method` and `reason` say how the coats are cleared and why. `views` is where each coat is seen
    where the clearings meet exactly, `moved_views` the same at the worst miss and `slip` the widest
    sliver of a wrong colour then; None where clearings cannot miss each other, or no error is
    given. What reaches the sheet's edge is cleared `bleed_mm` past it where clamps and bed allow
    it; `edge_sliver` is the widest line of paint there when the sheet lies off, and its place.
    `order` shows the same front in less time.
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
