"""Etching: rate, time, amounts, bath and cautions of a metal in an etchant; numbers only."""

from stopout.etching.after import Rinses
from stopout.etching.after.neutralise import Neutralising
from stopout.etching.asked import EtchAsked, Origin, table_etch_factor
from stopout.etching.bath.amounts import Sludge, mean_depth_mm, undercut_mm, undercut_spread_mm
from stopout.etching.bath.electrolytic import Cell, Current, Electro
from stopout.etching.bath.strength import BathStrength, bath_strength, companion_stock_g_per_l
from stopout.etching.bath.use import BathUse
from stopout.etching.findings.bath import floor_findings
from stopout.etching.findings.ceilings import CEILING
from stopout.etching.findings.checks import (
    check_depth,
    check_finish,
    check_piece,
    check_resist,
    hazard_ids,
    refusals,
)
from stopout.etching.findings.remedies import Remedies
from stopout.etching.plan import plan_etch
from stopout.etching.rates.fading import HALF_LIFE_DAYS, Faded, Observation, fading_mean
from stopout.etching.rates.rate import rate_um_per_min
from stopout.etching.records import (
    Advice,
    BathControl,
    Etchant,
    Finish,
    Material,
    Pair,
    Refusal,
    Resist,
)
from stopout.etching.result import EtchPlan
from stopout.etching.safety import (
    DOES_NOT_ARISE,
    ROUTES,
    Hazard,
    aid_lines,
    incidents_of,
    spill_lines,
    wear_strictest,
)
from stopout.etching.schedule import Remaining, remaining_time
from stopout.etching.words import resist_values

__all__ = [
    "CEILING",
    "DOES_NOT_ARISE",
    "HALF_LIFE_DAYS",
    "ROUTES",
    "Advice",
    "BathControl",
    "BathStrength",
    "BathUse",
    "Cell",
    "Current",
    "Electro",
    "EtchAsked",
    "EtchPlan",
    "Etchant",
    "Faded",
    "Finish",
    "Hazard",
    "Material",
    "Neutralising",
    "Observation",
    "Origin",
    "Pair",
    "Refusal",
    "Remaining",
    "Remedies",
    "Resist",
    "Rinses",
    "Sludge",
    "aid_lines",
    "bath_strength",
    "check_depth",
    "check_finish",
    "check_piece",
    "check_resist",
    "companion_stock_g_per_l",
    "fading_mean",
    "floor_findings",
    "hazard_ids",
    "incidents_of",
    "mean_depth_mm",
    "plan_etch",
    "rate_um_per_min",
    "refusals",
    "remaining_time",
    "resist_values",
    "spill_lines",
    "table_etch_factor",
    "undercut_mm",
    "undercut_spread_mm",
    "wear_strictest",
]
