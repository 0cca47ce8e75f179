"""Frozen records of the chemistry: what the data tables hold once read and validated.

The records live in the core so that the calculation needs no files; `stopout.tables` fills them.
Every number is a `Sourced` and every sentence of advice an `Advice`: both carry where they come
from, and the source travels with the value to the plan and to the sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from stopout.values import Grade, Kind, Level


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """A number with its unit and where it comes from.

    Attributes
    ----------
    value : float
        The number to plan with, in `unit`.
    kind : Kind
        `published`, `computed` from published values, `practice` (common practice, no source) or
        `memory` (recalled, to be verified).
    source : str
        The source in words, with the place in it; for `practice` and `memory` it says so.
    source_id : str
        The entry of sources.toml, empty for `practice` and `memory`.
    grade : Grade or None
        A measured and published, B published practice, C anecdote or derived, D guess.
    low, high : float or None
        The range that the sources leave open, in `unit`.
    """

    value: float
    unit: str
    kind: Kind
    source: str
    source_id: str = ""
    grade: Grade | None = None
    low: float | None = None
    high: float | None = None
    note: str = ""

    @property
    def source_and_note(self) -> str:
        """The source and what is to be known of the value or its range besides."""
        if self.note and self.note not in self.source:
            return f"{self.source}; {self.note}"
        return self.source


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """A sentence for the bench, with where it comes from.

    `wavelength_nm` is the band of laser wavelengths for which it holds, the low end included and
    the high end not; None where the wavelength does not matter. `work` names the only kind of
    work that it holds for, an etched plate or a sign; empty where it holds for both.
    """

    text: str
    kind: Kind
    source: str
    source_id: str = ""
    wavelength_nm: tuple[float, float] | None = None
    work: str = ""

    def holds_for(self, work: str) -> bool:
        """Tell whether the sentence is meant for this kind of work: `plate` or `sign`."""
        return not self.work or self.work == work

    def holds_at(self, wavelength_nm: float | None) -> bool:
        """Tell whether the sentence is meant for a laser of this wavelength [nm], or for none."""
        if self.wavelength_nm is None:
            return True
        if wavelength_nm is None:
            return False
        low, high = self.wavelength_nm
        return low <= wavelength_nm < high


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """Molar mass and standard formation enthalpy (298.15 K) of one chemical species."""

    ident: str
    formula: str
    molar_mass_g_per_mol: Sourced
    formation_kj_per_mol: Sourced


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A blank's material. Molar mass is that of one mole of metal atoms; None for a plastic.

    `base` is the metal of which this one is an alloy: the base's refusals and ceilings are this
    one's too; empty for a metal of its own. `advice` is for the blank before work, `after_etch`
    for what an etch leaves on it.
    `frosts` names the bands that leave it evenly white, so that it can be marked for light;
    `passes`, `marks` and `harms` name the bands of wavelengths that go through a clear sheet, that
    mark it where the paint is gone, or that must not be used on it; outside them nothing is known.
    """

    ident: str
    name: str
    sort: Literal["metal", "plastic", "glass"]
    density_g_per_cm3: Sourced
    base: str = ""
    molar_mass_g_per_mol: Sourced | None = None
    refractive_index: Sourced | None = None
    softening_degc: Sourced | None = None
    composition: tuple[tuple[str, Sourced], ...] = ()
    advice: tuple[Advice, ...] = ()
    after_etch: tuple[Advice, ...] = ()
    passes: tuple[Advice, ...] = ()
    marks: tuple[Advice, ...] = ()
    frosts: tuple[Advice, ...] = ()
    harms: tuple[Advice, ...] = ()
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Neutraliser:
    """What makes a spent bath neutral: grams per gram of the reagent that was charged.

    Heat given off (below nought: taken up) and carbon dioxide are per mole of that reagent, at
    most; `metal_heat_kj_per_mol` is the heat that a mole of dissolved metal adds.
    `stock_fraction` and `stock_g_per_ml` are those of the solution in which it is sold; None where
    it is sold dry.
    """

    ident: str
    name: str
    g_per_g: Sourced
    end_ph: str
    heat_kj_per_mol: Sourced
    gas_mol_per_mol: Sourced
    metal_heat_kj_per_mol: Sourced | None = None
    stock_fraction: Sourced | None = None
    stock_g_per_ml: Sourced | None = None
    advice: tuple[Advice, ...] = ()
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Companion:
    """What goes into a bath besides its reagent: salt to a sulfate, acid to a chloride.

    Exactly one of `g_per_g` (grams per gram of reagent) and `g_per_l` (grams per litre of bath) is
    given. `stock_fraction` is the fraction by weight of the solution in which it is bought; None
    where it is bought dry. `density_c` as in `Etchant`.
    """

    ident: str
    name: str
    density_c: tuple[float, float, float, float, float]
    density_source: Advice
    g_per_g: Sourced | None = None
    g_per_l: Sourced | None = None
    stock_fraction: Sourced | None = None
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BathControl:
    """How a bath is kept: tests, corrections, regeneration and its end, sentences for the bench."""

    test: tuple[Advice, ...]
    correct: tuple[Advice, ...]
    regenerate: tuple[Advice, ...]
    discard: tuple[Advice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Etchant:
    """A bath's reagent in water.

    `reagent` is what is weighed, hydrate and all, where `name` is what the bath is called.
    `density_c` are the coefficients c0 to c4 of the density correlation (see `strength`);
    `anhydrous_fraction` is the share of the reagent's mass that they speak of, less than one where
    the reagent is a hydrate. `companions` is what else goes into the bath.
    `cp_j_per_g_k` holds heat capacities of the solution at fractions by weight `cp_at`, in J/(g K).
    `solution_kj_per_g` is the heat given off when the reagent dissolves; None where the reagent
    is bought as a solution. `ready_made` says so. Above `decomposes_degc` the bath goes to pieces
    by itself, which heats it further; None where none is known to. `waste` is for every spent
    bath, `neutralising` only for one that is neutralised; `control` says how a bath
    is kept.
    """

    ident: str
    name: str
    formula: str
    reagent: str
    molar_mass_g_per_mol: Sourced
    density_c: tuple[float, float, float, float, float]
    density_source: Advice
    max_fraction: Sourced
    ready_made: bool
    anhydrous_fraction: Sourced | None = None
    companions: tuple[Companion, ...] = ()
    solution_kj_per_g: Sourced | None = None
    decomposes_degc: Sourced | None = None
    cp_at: tuple[float, ...] = ()
    cp_j_per_g_k: tuple[Sourced, ...] = ()
    neutralisers: tuple[Neutraliser, ...] = ()
    mixing: tuple[Advice, ...] = ()
    waste: tuple[Advice, ...] = ()
    neutralising: tuple[Advice, ...] = ()
    hazards: tuple[str, ...] = ()
    control: BathControl | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchCeilings:
    """What a bench may do at once, whatever the bath: past it the work is an industrial line's.

    `boiling_room_k` is how far below the boiling point of water the warmest bath stays.
    """

    volume_l: Sourced
    flammable_gas_l_per_min: Sourced
    heat_kj_per_min: Sourced
    current_a: Sourced
    boiling_room_k: Sourced


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceilings:
    """What no measured rate, no table of a shop's own and no option lifts.

    `temperature_degc` is that of the bath when the piece goes in, `warmest_degc` that after the
    allowed rise, `rise_k` what a bath that is not cooled may take. `strength_g_per_l` None means
    that the density data alone bound the strength.
    """

    temperature_degc: Sourced
    warmest_degc: Sourced
    rise_k: Sourced
    bench: BenchCeilings
    strength_g_per_l: Sourced | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RateReference:
    """A stated etch rate and the range in which it may be scaled.

    Attributes
    ----------
    agitation : tuple of str
        The kinds of agitation that it stands for (`tray`, `rocked`, `bubbled`, `spray`,
        `stirred`).
    um_per_min : Sourced
        The rate at `temperature_degc` and `strength_g_per_l`; its grade is that of the reference
        point itself.
    points : tuple of (float, float)
        Further measured points (degC, um/min); where there are any, the rate runs by Arrhenius
        from each to the next instead of by `activation_kj_per_mol`.
    activation_kj_per_mol : Sourced or None
        Activation energy; None with no points means that no dependence on temperature is known.
    strength_order : Sourced or None
        Exponent of the dependence on strength; None means that none is known in the range.
    scaled_grade : Grade
        The grade away from the reference point.
    """

    agitation: tuple[str, ...]
    um_per_min: Sourced
    temperature_degc: float
    strength_g_per_l: float
    temperature_range_degc: tuple[float, float]
    strength_range_g_per_l: tuple[float, float]
    scaled_grade: Grade
    points: tuple[tuple[float, float], ...] = ()
    activation_kj_per_mol: Sourced | None = None
    strength_order: Sourced | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A metal in an etchant.

    Per mole of metal atoms: `reagent_mol` of reagent used, `gas_mol` of gas given off (at most),
    `heat_kj` released. `capacity_g_per_l` is the dissolved metal to plan with, `capacity_end`
    where the bath is finished; `capacity_share` is the share of its reagent that a bath may lose
    before it works badly, where that is known. `heat_capacity_kj_per_l_k` is that of the bath.
    `is_neutralised_in_shop` is False where the spent bath is left to the licensed carrier.
    """

    material: Material
    etchant: Etchant
    reaction: str
    rates: tuple[RateReference, ...]
    etch_factor: Sourced
    reagent_mol_per_mol: Sourced
    gas_mol_per_mol: Sourced
    heat_kj_per_mol: Sourced
    capacity_g_per_l: Sourced
    capacity_end_g_per_l: Sourced
    heat_capacity_kj_per_l_k: Sourced
    hot_paint_degc: Sourced
    paint_depth_mm: Sourced
    ceilings: Ceilings
    capacity_share: Sourced | None = None
    gas: str = ""
    gas_lower_flammable_fraction: Sourced | None = None
    is_neutralised_in_shop: bool = True
    advice: tuple[Advice, ...] = ()
    waste: tuple[Advice, ...] = ()
    hazards: tuple[str, ...] = ()

    @property
    def neutralisers(self) -> tuple[Neutraliser, ...]:
        """What the shop may make the spent bath neutral with; none where it must not."""
        return self.etchant.neutralisers if self.is_neutralised_in_shop else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistLimit:
    """How long and how warm a resist stands an etchant.

    `beyond` is what a longer time or a warmer bath amounts to: a stop where the resist is known
    to give way, a caution where only the lower bound is known (`check_resist` stops far past it).
    A limit of None is not known; a poor resist without limits is not to be used at all. `basis` is
    where the verdict comes from.
    """

    etchant: str
    verdict: Literal["best", "good", "fair", "poor"]
    beyond: Level
    max_degc: Sourced | None = None
    max_time_s: Sourced | None = None
    basis: Advice | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Resist:
    """A paint that stops the etch or forms a coat of a sign.

    `cure_h` is the time to full resistance, `beam_h` that until no solvent is left for the beam;
    `solids` the share of the paint's volume that stays in the dry coat. A diffuser lets light
    through and spreads it: it is put on in `thin_coats`, and keeps nothing dark. One that is
    temporary is made to come off again, and is no coat of a sign.
    """

    ident: str
    name: str
    thickness_um: Sourced
    cure_h: Sourced
    beam_h: Sourced
    solids: Sourced
    is_diffuser: bool = False
    is_temporary: bool = False
    thin_coats: Sourced | None = None
    limits: tuple[ResistLimit, ...] = ()
    strippers: tuple[str, ...] = ()
    advice: tuple[Advice, ...] = ()
    hazards: tuple[str, ...] = ()

    def stands_degc(self, etchant_id: str) -> float | None:
        """Return the warmest bath that it stands [degC], where that is known."""
        limits = [one.max_degc for one in self.limits if one.etchant == etchant_id]
        return min((limit.value for limit in limits if limit is not None), default=None)

    def film_um(self, asked_um: float | None) -> float:
        """Return the thickness of a dry coat [um]: what its job asks for, else the table's."""
        return asked_um or self.thickness_um.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """What covers a blank as bought, and what has to come off before the resist goes on.

    `sort` is that of the material; `steps` are sentences for the bench, in order.
    """

    ident: str
    sort: Literal["metal", "plastic", "glass"]
    level: Level
    message: str
    remedy: str
    steps: tuple[Advice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A combination that must not be used, or not above a strength.

    `materials`, `etchants` and `resists` hold ids, known to the tables or not; empty means any.
    `above_g_per_l` None means at any strength.
    """

    code: str
    materials: tuple[str, ...]
    etchants: tuple[str, ...]
    resists: tuple[str, ...]
    level: Level
    message: str
    remedy: str
    kind: Kind
    source: str
    above_g_per_l: float | None = None
