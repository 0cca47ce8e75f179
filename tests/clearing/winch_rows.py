"""Fill rows and the machine for the tests of order and paths."""

from __future__ import annotations

import shapely

from stopout.clearing.filling.fill import areas_to_fill, left_by_outlines, rows_on
from stopout.clearing.filling.strokes import outlines_of
from stopout.values import Machine

MACHINE = Machine(
    spot_mm=(0.17, 0.12),
    spot_means="1/e2",
    wavelength_nm=450.0,
    power_w=5.5,
    top_speed_mm_s=100.0,
    acceleration_mm_s2=800.0,
    step_mm=0.0125,
    bed_mm=(400.0, 400.0),
    cornering_mm=0.01,
    power_word=1000.0,
    beam_on="M3",
    power_follows_speed=True,
)


def fill_rows(centres, *, mark_mm, spacing_mm, along, bridge_mm):
    """The fill lines of an area of beam centres."""
    laid = {"mark_mm": mark_mm, "spacing_mm": spacing_mm, "along": along}
    left = left_by_outlines(shapely.get_parts(centres), mark_mm=laid["mark_mm"])
    area = shapely.union_all(areas_to_fill(left, **laid))
    return rows_on(area, centres, **laid, bridge_mm=bridge_mm)


def rows_of(region, along="x", *, bridge_mm=1.0, spacing_mm=0.0875):
    """Rows for a round mark of 0.1 mm."""
    return fill_rows(
        region, mark_mm=(0.1, 0.1), spacing_mm=spacing_mm, along=along, bridge_mm=bridge_mm
    )


def outline_strokes(centres, machine):
    """A stroke along each ring of some beam centres."""
    return [
        stroke for found in outlines_of(shapely.get_parts(centres), machine) for stroke in found
    ]
