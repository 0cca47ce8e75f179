"""The machine of the scenario and moves for it."""

from __future__ import annotations

import numpy as np

from stopout.values import Machine, Moves


def machine(**changes):
    fields = {
        "spot_mm": (0.17, 0.12),
        "spot_means": "1/e2",
        "wavelength_nm": 450.0,
        "power_w": 5.5,
        "top_speed_mm_s": 100.0,
        "acceleration_mm_s2": 800.0,
        "step_mm": 0.0125,
        "bed_mm": (400.0, 400.0),
        "cornering_mm": 0.01,
        "power_word": 1000.0,
        "beam_on": "M3",
        "power_follows_speed": True,
    }
    return Machine(**{**fields, **changes})


def moves(*rows):
    """Moves from rows of (x, y, rapid, speed, power)."""
    columns = list(zip(*rows, strict=True)) or [[]] * 5
    x, y, rapid, speed, power = (np.array(column) for column in columns)
    return Moves(
        x_mm=x.astype(float),
        y_mm=y.astype(float),
        rapid=rapid.astype(bool),
        speed_mm_s=speed.astype(float),
        power=power.astype(float),
    )


ROW = (
    (9.7, 5.0, True, 100.0, 0.0),
    (10.0, 5.0, False, 20.0, 0.0),
    (40.0, 5.0, False, 20.0, 0.3),
    (40.3, 5.0, False, 20.0, 0.0),
)
