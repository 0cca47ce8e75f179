"""Clearing: spot, dose, mark, spacing, fill and outline paths, their order, motion and time."""

from stopout.clearing.beam.spacing import default_spacing_mm
from stopout.clearing.beam.spot import FWHM_PER_RADIUS, dose_ratio_of, mark_width_mm, radius_mm
from stopout.clearing.dots import DwellBeam, DwellRun, with_dots
from stopout.clearing.motion import plan_speeds
from stopout.clearing.moving.as_run import as_run, heads_mm
from stopout.clearing.moving.program_times import ProgramTimes, measure_program
from stopout.clearing.plan import (
    ClearingRun,
    LineBand,
    clear,
    mark_in_bands,
)
from stopout.clearing.side_by_side import ALONE, SideBySide

__all__ = [
    "ALONE",
    "FWHM_PER_RADIUS",
    "ClearingRun",
    "DwellBeam",
    "DwellRun",
    "LineBand",
    "ProgramTimes",
    "SideBySide",
    "as_run",
    "clear",
    "default_spacing_mm",
    "dose_ratio_of",
    "heads_mm",
    "mark_in_bands",
    "mark_width_mm",
    "measure_program",
    "plan_speeds",
    "radius_mm",
    "with_dots",
]
