"""What is asked of an etch, before anything is worked out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.errors import PlanError
from stopout.etching.bath import amounts
from stopout.etching.bath.electrolytic import Cell, Current
from stopout.etching.bath.strength import BathStrength
from stopout.etching.bath.use import ACROSS_BUBBLED_MM, ACROSS_CELL_MM, FRESH, BathUse
from stopout.etching.records import Pair
from stopout.values import Kind, Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a rate or an etch factor that is handed in comes from."""

    kind: Kind = "given"
    source: str = "job file"


_NO_CURRENT = Current()
_FROM_JOB = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class EtchAsked:
    """An etch as it is asked for.

    Attributes
    ----------
    pair : Pair
        The metal in its etchant, from the tables.
    strength : BathStrength
        The bath's strength, from `bath_strength`.
    temperature_degc, depth_mm : float
        Bath temperature, and depth at the open floor.
    opening_area_mm2, opening_edge_mm, opening_parts, opening_holes : float, float, int, int
        Area, whole boundary, parts and holes of one piece's resist opening.
    quantity : int
        Pieces etched in one bath.
    blank_size_mm : (float, float) or None
        Width and height of the blank; None where they are not known: the bath that covers it is
        then nought, unless a tray is named.
    rise_k : float or None
        How much the bath may warm; None: 10 K, or what the pair's ceiling and the resist leave.
    stands_degc : float or None
        The warmest bath that the resist stands, where that is known.
    etch_factor, rate_um_per_min : Measured or None
        As the job file or the shop book has them; None takes the table's.
    etch_factor_origin, rate_origin : Origin
        Where the values handed in come from.
    agitation : str
        `tray`, `rocked`, `bubbled` or `spray`.
    use : BathUse
        Tray, spares, coupon, stock solution, and what earlier work has left in the bath.
    sludge : Sludge or None
        What falls out when the spent bath is neutralised; None where that is not known.
    cell, current : Cell or None, Current
        For an etch by a current: what the table knows of it, and what the job says.

    Raises
    ------
    PlanError
        If a number cannot be right at all (a depth of zero, a negative area).
    """

    pair: Pair
    strength: BathStrength
    temperature_degc: float
    depth_mm: float
    opening_area_mm2: float
    opening_edge_mm: float
    opening_parts: int
    opening_holes: int
    quantity: int
    blank_size_mm: tuple[float, float] | None
    rise_k: float | None = None
    stands_degc: float | None = None
    etch_factor: Measured | None = None
    rate_um_per_min: Measured | None = None
    etch_factor_origin: Origin = _FROM_JOB
    rate_origin: Origin = _FROM_JOB
    agitation: str = "tray"
    use: BathUse = FRESH
    sludge: amounts.Sludge | None = None
    cell: Cell | None = None
    current: Current = _NO_CURRENT

    def __post_init__(self) -> None:
        rise_k = 1.0 if self.rise_k is None else self.rise_k
        named = (("depth", self.depth_mm), ("rise", rise_k), ("quantity", float(self.quantity)))
        for name, value in named:
            if not (math.isfinite(value) and value > 0.0):
                raise PlanError(
                    f"etch: a {name} of {value:g} is not possible; it must be above zero"
                )
        if not (math.isfinite(self.opening_area_mm2) and self.opening_area_mm2 >= 0.0):
            raise PlanError(f"etch: an opening of {self.opening_area_mm2:g} mm2 is not possible")
        if not 0.0 < self.temperature_degc < 100.0:
            raise PlanError(
                f"a bath at {self.temperature_degc:g} degC is no water bath; use 0 to 100 degC"
            )
        if self.use.coupon_area_mm2 and not self.opening_area_mm2 > 0.0:
            raise PlanError(
                "etch: nothing is open to the bath; check the artwork and `dark`",
                at=("artwork", "file"),
            )

    @property
    def across_mm(self) -> float:
        """Room across the vessel where the piece hangs [mm]; nought where it lies."""
        if self.cell is not None:
            return ACROSS_CELL_MM
        return ACROSS_BUBBLED_MM if self.agitation == "bubbled" else 0.0

    @property
    def factor(self) -> Measured:
        """The etch factor as given, or else the table's."""
        return self.etch_factor or table_etch_factor(self.pair)

    @property
    def undercut_mm(self) -> float:
        """Undercut per edge [mm]."""
        return amounts.undercut_mm(self.depth_mm, self.factor.value)


def table_etch_factor(pair: Pair) -> Measured:
    """The table's etch factor, its standard deviation half the distance to the low end.

    So that the value less two standard deviations is the table's low end.
    """
    factor = pair.etch_factor
    low = factor.value if factor.low is None else factor.low
    return Measured(value=factor.value, sd=0.5 * (factor.value - low))
