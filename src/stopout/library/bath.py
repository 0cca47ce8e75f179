"""An etch and its bath without artwork: from what is asked to the planned etch and its findings."""

from __future__ import annotations

from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import PlanError

if TYPE_CHECKING:
    from stopout.etching import BathStrength, BathUse, Cell, Current, Etchant, EtchPlan, Pair
    from stopout.etching.records import RateReference
    from stopout.values import Finding, Measured

AGITATIONS = ("tray", "rocked", "bubbled", "spray")
_ROOM_DEGC = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BathQuestion:
    """What a bath is to do.

    `material`, `etchant`, `electrolyte` and `resist` are names of the tables. Strengths are a
    number and its unit, such as (100.0, "g/L"). None leaves a value to the tables. Openings are
    those of one piece: `opening_parts` of them, `opening_islands` islands of resist within them,
    `opening_edge_mm` their whole boundary.
    """

    material: str
    etchant: str
    depth_mm: float
    opening_area_mm2: float
    opening_edge_mm: float = 0.0
    opening_parts: int = 1
    opening_islands: int = 0
    strength: tuple[float, str] | None = None
    temperature_degc: float | None = None
    agitation: str = "tray"
    rate_um_per_min: float | None = None
    etch_factor: float | None = None
    rise_k: float | None = None
    is_cooled: bool = False
    quantity: int = 1
    spares: int = 0
    coupon_area_mm2: float = 0.0
    blank_size_mm: tuple[float, float] | None = None
    thickness_mm: float | None = None
    is_filled: bool = False
    resist: str | None = None
    tray_mm: tuple[float, float] | None = None
    plates_at_once: int | None = None
    dissolved_g_per_l: float = 0.0
    volume_l: float | None = None
    stock: tuple[float, str] | None = None
    electrolyte: str | None = None
    current_a: float | None = None
    current_density_a_per_cm2: float | None = None
    voltage_v: float | None = None
    efficiency: float | None = None
    is_chromate_acknowledged: bool = False

    def __post_init__(self) -> None:
        if self.agitation not in AGITATIONS:
            raise PlanError(f"agitation {self.agitation!r} is none of {', '.join(AGITATIONS)}")
        for name in ("depth_mm", "opening_area_mm2"):
            if not 0.0 < getattr(self, name) < float("inf"):
                raise PlanError(f"{name} is {getattr(self, name):g}; give more than nothing")
        if self.quantity < 1 or self.opening_parts < 1:
            raise PlanError("quantity and opening_parts count from 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class BathAnswer:
    """The planned etch; without `pair` and `plan` the bath is refused before it is planned.

    `findings` begin with the stops.
    """

    question: BathQuestion
    findings: tuple[Finding, ...]
    pair: Pair | None = None
    plan: EtchPlan | None = None

    @property
    def is_stopped(self) -> bool:
        """Tell whether anything says stop."""
        return any(finding.level == "stop" for finding in self.findings)


def plan_bath(
    question: BathQuestion, *, own_tables: str | PathLike[str] | None = None
) -> BathAnswer:
    """Plan an etch and its bath: time, amounts, gas, heat, waste, and what is to be said of them.

    Parameters
    ----------
    question : BathQuestion
        What is asked.
    own_tables : str or path, optional
        The shop's own tables, laid over these.

    Returns
    -------
    BathAnswer

    Raises
    ------
    TableError
        If no table has what is named.
    PlanError
        If what is asked contradicts itself.
    """
    from stopout.tables import open_shop_tables, overlaid

    if own_tables is None:
        return _answered(question, ())
    from stopout.library.knowledge import whose_numbers

    shop = open_shop_tables(Path(own_tables))
    with overlaid(shop.overlay):
        return _answered(question, (whose_numbers(shop),))


def _answered(asked: BathQuestion, findings: tuple[Finding, ...]) -> BathAnswer:
    from stopout.tables import canonical

    material, etchant = canonical("materials", asked.material), canonical("etchants", asked.etchant)
    resist = None if asked.resist is None else canonical("resists", asked.resist)
    # The stops that hold at any strength: no table need know the bath then.
    refused = _refusals(material, etchant, resist, None)
    refused = [finding for finding in refused if finding.level == "stop"]
    if refused:
        return BathAnswer(question=asked, findings=tuple(refused))
    pair, cell = _pair(material, etchant, asked.electrolyte)
    bath = _of(pair.etchant, asked.strength or _usual_strength(pair, asked.agitation))
    plan = _planned(asked, pair, cell, bath)
    found = [
        *plan.findings,
        *findings,
        *_piece_findings(plan, pair, asked, resist),
        *_refusals(material, etchant, resist, bath.g_per_l),
    ]
    return BathAnswer(question=asked, findings=_sorted(found), pair=pair, plan=plan)


def _planned(
    asked: BathQuestion, pair: Pair, cell: Cell | None, strength: BathStrength
) -> EtchPlan:
    from stopout.etching import EtchAsked, plan_etch
    from stopout.tables import canonical, load_resist, load_sludge

    size, area_mm2 = asked.blank_size_mm, asked.opening_area_mm2
    if size is not None and area_mm2 > size[0] * size[1]:
        raise PlanError(
            f"an open area of {area_mm2 / 100:g} cm^2 is more than the piece of "
            f"{size[0]:g} x {size[1]:g} mm has; give the open area of one piece"
        )
    resist = None if asked.resist is None else load_resist(canonical("resists", asked.resist))
    etch = EtchAsked(
        pair=pair,
        strength=strength,
        temperature_degc=_temperature_degc(asked, pair),
        depth_mm=asked.depth_mm,
        etch_factor=_measured(asked.etch_factor),
        rate_um_per_min=_measured(asked.rate_um_per_min),
        rise_k=asked.rise_k,
        stands_degc=None if resist is None else resist.stands_degc(pair.etchant.ident),
        opening_area_mm2=area_mm2,
        opening_edge_mm=asked.opening_edge_mm,
        opening_parts=asked.opening_parts,
        opening_holes=asked.opening_islands,
        quantity=asked.quantity,
        blank_size_mm=size,
        agitation=asked.agitation,
        use=_use(pair.etchant, asked),
        sludge=None if cell is not None else load_sludge(pair.material.ident, pair.etchant.ident),
        cell=cell,
        current=_current(cell, asked),
    )
    return plan_etch(etch)


def _measured(value: float | None) -> Measured | None:
    from stopout.values import Measured

    return None if value is None else Measured(value=value)


def _reference(pair: Pair, agitation: str) -> RateReference | None:
    """The table's reference for this way of moving the bath; else the first that it has."""
    found = [reference for reference in pair.rates if agitation in reference.agitation]
    return next(iter((*found, *pair.rates)), None)


def _usual_strength(pair: Pair, agitation: str) -> tuple[float, str]:
    """The strength of the table's reference; a tenth by weight for an electrolyte."""
    reference = _reference(pair, agitation)
    return (10.0, "%") if reference is None else (reference.strength_g_per_l, "g/L")


def _temperature_degc(asked: BathQuestion, pair: Pair) -> float:
    """As given; else that of the room, where the table's reference reaches it."""
    if asked.temperature_degc is not None:
        return asked.temperature_degc
    reference = _reference(pair, asked.agitation)
    if reference is None:
        return _ROOM_DEGC
    low, high = reference.temperature_range_degc
    return _ROOM_DEGC if low <= _ROOM_DEGC <= high else reference.temperature_degc


def _pair(material: str, etchant: str, electrolyte: str | None) -> tuple[Pair, Cell | None]:
    from stopout.tables import ELECTROLYTIC, canonical, electrolytes_for, load_cell, load_pair

    if etchant != ELECTROLYTIC:
        if electrolyte is not None:
            raise PlanError("an electrolyte is for the etchant electrolytic; leave it out")
        return load_pair(material, etchant), None
    if electrolyte is None:
        known = ", ".join(electrolytes_for(material)) or "none is known"
        raise PlanError(f"the electrolyte is missing; for {material}: {known}")
    return load_cell(material, canonical("electrolytes", electrolyte))


def _of(etchant: Etchant, given: tuple[float, str]) -> BathStrength:
    from stopout.etching import bath_strength

    return bath_strength(etchant, value=given[0], unit=given[1])  # type: ignore[arg-type]


def _use(etchant: Etchant, asked: BathQuestion) -> BathUse:
    from stopout.etching import BathUse

    return BathUse(
        dissolved_g_per_l=asked.dissolved_g_per_l,
        volume_l=asked.volume_l,
        tray_mm=asked.tray_mm,
        plates_at_once=asked.plates_at_once,
        stock=None if asked.stock is None else _of(etchant, asked.stock),
        coupon_area_mm2=asked.coupon_area_mm2,
        spares=asked.spares,
        is_cooled=asked.is_cooled,
    )


def _current(cell: Cell | None, asked: BathQuestion) -> Current:
    """What is asked of the current; refused where no current etches."""
    from stopout.etching import Current

    current = Current(
        current_a=asked.current_a,
        density_a_per_cm2=asked.current_density_a_per_cm2,
        voltage_v=asked.voltage_v,
        efficiency=_measured(asked.efficiency),
        is_chromate_acknowledged=asked.is_chromate_acknowledged,
    )
    if cell is None:
        if (current.current_a, current.density_a_per_cm2, current.voltage_v) != (None, None, None):
            raise PlanError("a current is for the etchant electrolytic; leave it out")
        return current
    if current.current_a is not None and current.density_a_per_cm2 is not None:
        raise PlanError("give the current or its density, not both")
    if asked.rate_um_per_min is not None:
        raise PlanError("the rate follows from the current; give the efficiency as measured")
    return current


# --- what is to be said besides -----------------------------------------------------------------


def _refusals(
    material: str, etchant: str, resist: str | None, g_per_l: float | None
) -> list[Finding]:
    """The table of refusals, held against the bath; without a strength those that hold at any."""
    from stopout.etching import refusals
    from stopout.tables import base_of, load_refusals

    return list(
        refusals(
            load_refusals(),
            material_id=material,
            etchant_id=etchant,
            strength_g_per_l=g_per_l,
            resist_ids=() if resist is None else (resist,),
            base_id=base_of(material),
        )
    )


def _piece_findings(
    plan: EtchPlan, pair: Pair, asked: BathQuestion, resist: str | None
) -> list[Finding]:
    """Findings that need more than the etch: thickness and resist."""
    from stopout.etching import check_piece
    from stopout.library.knowledge import usable_resists
    from stopout.tables import load_refusals, load_resist

    return check_piece(
        plan,
        pair,
        thickness_mm=asked.thickness_mm,
        is_filled=asked.is_filled,
        resists=[] if resist is None else [load_resist(resist)],
        others=() if resist is None else usable_resists(load_refusals()),
    )


def _sorted(findings: list[Finding]) -> tuple[Finding, ...]:
    rank = {"stop": 0, "caution": 1, "note": 2}
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: rank[finding.level]))
