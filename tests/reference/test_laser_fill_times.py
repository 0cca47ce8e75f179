"""A whole picture's lines and dose.

Our own case: 300 x 400 mm at 0.2 mm with 1,200,000 cells marked.
"""

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box

from clearing.winch_rows import fill_rows
from stopout.clearing.timetable import (
    dose_floor_s,
)


def test_the_cells_and_the_marked_path_of_the_picture():
    """300 x 400 mm at 0.2 mm: 3,000,000 cells; of them 1,200,000 make 240 m and 48,000 mm^2."""
    bars = MultiPolygon([box(50 * k, 0, 50 * k + 20, 300) for k in range(8)])
    whole = MultiPolygon([box(0, 0, 400, 300)])
    path = {}
    for name, area in (("whole", whole), ("bars", bars)):
        rows = fill_rows(area, mark_mm=(0.24, 0.24), spacing_mm=0.2, along="x", bridge_mm=0)
        path[name] = sum(float(np.diff(row.spans_mm).sum()) for row in rows)
    assert bars.area == 48_000
    assert path["whole"] / 0.2 == pytest.approx(3_000_000, rel=2e-3)
    # Each bar's lines may end a tenth of a millimetre short of its edge, where the outline runs.
    assert path["bars"] == pytest.approx(240_000, rel=1e-2)
    assert path["bars"] * 0.2 == pytest.approx(bars.area, rel=1e-2)


def test_the_dose_floor_of_the_picture():
    assert pytest.approx(48_000) == 1_200_000 * 0.2**2
    got = dose_floor_s(48_000, area_dose_j_per_mm2=0.5, power_w=5.5)
    assert got == pytest.approx(4363.6, abs=0.1)
