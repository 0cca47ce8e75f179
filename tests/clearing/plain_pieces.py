"""The plain way to even out speeds: each move capped by its own ends, round after round."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stopout.clearing.moving.pieces import planned


def capped(moves, may_cap, machine, *, step=1.3):
    """As `stopout.clearing.moving.pieces._capped`."""
    while True:
        profile = planned(moves, machine)
        slow = np.minimum(profile.vertex_mm_s[:-1], profile.vertex_mm_s[1:])
        uneven = may_cap & (profile.peak_mm_s > step * slow * (1 + 1e-6))
        speed = np.where(uneven, np.minimum(moves.speed_mm_s, step * slow + 1e-3), moves.speed_mm_s)
        if np.array_equal(speed, moves.speed_mm_s):
            return moves
        moves = replace(moves, speed_mm_s=speed)
