"""The record that a planned etch is: rate, time, amounts, and what is to be said of them."""

from __future__ import annotations

from dataclasses import dataclass

from stopout.etching.after.neutralise import Declined, Neutralising
from stopout.etching.after.rinses import Rinses
from stopout.etching.bath import amounts
from stopout.etching.bath.ageing import Batch
from stopout.etching.bath.electrolytic import Electro
from stopout.etching.bath.gas import GasFlow
from stopout.etching.bath.strength import BathStrength
from stopout.etching.bath.use import FRESH, BathUse
from stopout.etching.schedule import Check
from stopout.values import Finding, Grade, Measured, Stated


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """The bath as it is poured, for all the pieces, spares and coupon included.

    Attributes
    ----------
    pieces : int
        Quantity and spares.
    metal_g : float
        Metal that all of them and the coupon lose.
    heat_l, capacity_l, cover_l : float
        What heat, capacity and the tray each ask for; the bath is the largest of them.
    decided_by : str
        `heat`, `capacity`, `cover`, or `volume` where the job says how much there is.
    start_g_per_l, end_g_per_l, limit_g_per_l : float
        Dissolved metal before and after, and where the bath is finished.
    rise_k : float
        By how much one batch warms the bath, no heat lost.
    tray_mm, at_once : (float, float), int
        The tray's floor and how many pieces lie in it together.
    hangs : bool
        True where the piece hangs upright instead of lying.
    is_proposed : bool
        True where the tray is a usual one that nobody named.
    cover_mm, bare_mm : float
        Depth of bath that is planned, and the depth below which the piece is not covered.
    """

    pieces: int
    metal_g: float
    heat_l: float
    capacity_l: float
    cover_l: float
    decided_by: str
    start_g_per_l: float
    end_g_per_l: float
    limit_g_per_l: float
    rise_k: float
    tray_mm: tuple[float, float]
    at_once: int
    hangs: bool
    is_proposed: bool
    cover_mm: float
    bare_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixing:
    """How the poured bath is mixed: portions of dry reagent, or stock solution and water.

    `portions` is the number of portions of which none warms the bath by more than 10 K;
    `hottest_degc` is what all of it at once would come to in water of 20 degC.
    """

    portions: int | None = None
    hottest_degc: float | None = None
    stock_l: float | None = None
    stock_water_l: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EtchPlan:
    """What the plan and the sheet say of the etch; amounts for the whole quantity in one bath.

    Attributes
    ----------
    etchant, depth_mm, rate_um_per_min, etched_area_mm2, metal_removed_g, gas_l, heat_kj, bath_l,
    bath_cover_l, reagent_g
        As plan.json's `etch` names them. `gas_l` is dry at 25 degC and 101.325 kPa; `reagent_g`
        is stoichiometric.
    rate_low_um_per_min, rate_high_um_per_min, rate_grade
        The range in which the rate may lie (one standard deviation for a rate handed in).
    etch_factor
        Depth / undercut per edge.
    bath_fill_l, water_fill_l
        The bath to pour, the larger of `bath_l` and `bath_cover_l`, and its water, all of it
        where the reagent is bought dry.
    is_rise_said
        True where the job says how much the bath may warm.
    heat_kj_per_min
        Heat of the pieces in the bath together, at the peak of the etch.
    metal_per_piece_g
        The loss of weight of one piece: weighing is the shop's best gauge of mean depth.
    mixing_rise_k
        How much the poured bath warms when the dry reagent goes into its water, all at once.
    time_ageing_s
        The time with the ageing of the bath counted in: time x -ln(1 - x)/x, x the share of the
        reagent that the whole load uses up; None where the reagent would run out.
    pour, mixing, batches, flow, schedule, neutralising, sludge_g, electro
        See their records; `declined` holds the ways to neutralise that a bath is too large for,
        `rinses` is None where the blank's size is not known;
        `sludge_g` is dry, None where the bath is not neutralised in the shop.
    use
        What the job says of its bath.
    """

    etchant: str
    depth_mm: float
    rate_um_per_min: float
    etched_area_mm2: float
    metal_removed_g: float
    gas_l: float
    heat_kj: float
    bath_l: float
    bath_cover_l: float
    reagent_g: float
    material: str
    etchant_name: str
    gas: str
    strength: BathStrength
    temperature_degc: float
    rise_k: float
    is_rise_said: bool
    heat_kj_per_min: float
    agitation: str
    quantity: int
    rate_low_um_per_min: float
    rate_high_um_per_min: float
    rate_grade: Grade | None
    etch_factor: Measured
    bath_fill_l: float
    water_fill_l: float
    metal_per_piece_g: float
    mixing_rise_k: float | None
    time_ageing_s: float | None
    pour: Pour
    mixing: Mixing
    batches: tuple[Batch, ...]
    flow: GasFlow
    schedule: tuple[Check, ...]
    neutralising: tuple[Neutralising, ...] = ()
    values: tuple[Stated, ...] = ()
    findings: tuple[Finding, ...] = ()
    sludge_g: float | None = None
    electro: Electro | None = None
    declined: tuple[Declined, ...] = ()
    rinses: Rinses | None = None
    use: BathUse = FRESH

    @property
    def time_s(self) -> float:
        """The time at the planned rate."""
        return 60_000.0 * self.depth_mm / self.rate_um_per_min

    @property
    def time_low_s(self) -> float:
        """The time at the high end of the rate."""
        return 60_000.0 * self.depth_mm / self.rate_high_um_per_min

    @property
    def time_high_s(self) -> float:
        """The time at the low end of the rate."""
        return 60_000.0 * self.depth_mm / self.rate_low_um_per_min

    @property
    def undercut_mm(self) -> float:
        """Undercut per edge: depth / etch factor."""
        return amounts.undercut_mm(self.depth_mm, self.etch_factor.value)

    @property
    def undercut_spread_mm(self) -> float:
        """Its standard deviation: depth x sd / F^2."""
        return amounts.undercut_spread_mm(
            self.depth_mm, self.etch_factor.value, self.etch_factor.sd
        )

    @property
    def reagent_charge_g(self) -> float:
        """The reagent in `bath_l`, without its water."""
        return self.strength.g_per_l * self.bath_l

    @property
    def reagent_fill_g(self) -> float:
        """The reagent in the bath that is poured, without its water."""
        return self.strength.g_per_l * self.bath_fill_l

    @property
    def metal_g_per_l(self) -> float:
        """Dissolved metal in the poured bath when all is etched."""
        return self.pour.end_g_per_l

    @property
    def air_l_per_min(self) -> float | None:
        """Air that keeps the gas at a quarter of its lower flammable limit (no safety factor)."""
        return self.flow.air_l_per_min

    @property
    def wet_ratio(self) -> float:
        """Volume of the gas as it leaves the bath over that of the dry gas at 25 degC."""
        return amounts.wet_gas_ratio(self.temperature_degc)

    @property
    def gas_wet_l(self) -> float:
        """The gas as it leaves the bath: at the bath's temperature, and wet."""
        return self.gas_l * self.wet_ratio

    @property
    def longest_s(self) -> float:
        """The longest time that a piece may lie in the bath: slow end of the rate, last batch."""
        times = [batch.time_s for batch in self.batches if batch.time_s is not None]
        aged = max([*times, self.time_ageing_s or 0.0, self.time_s])
        return self.time_high_s * aged / self.time_s
