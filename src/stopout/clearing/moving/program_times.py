"""What a program takes by the motion model, and how evenly it clears."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stopout.clearing.motion import plan_speeds
from stopout.clearing.moving.line_rate import busiest_second
from stopout.clearing.moving.paths import dose_ratio_max
from stopout.values import Machine, Moves

__all__ = ["ProgramTimes", "measure_program"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramTimes:
    """What a program takes, for one piece from rest at (0, 0) to the last beam-on point."""

    time_s: float
    time_floor_s: float
    cleared_length_mm: float
    travel_length_mm: float
    dose_ratio_max: float
    lines_per_s_max: int
    busiest_mm: tuple[float, float]


def measure_program(
    moves: Moves, *, machine: Machine, power: float, speed_mm_s: float
) -> ProgramTimes:
    """Measure a program by the motion model.

    Cleared length counts all motion with the beam on; the floor is that length at the clearing
    speed.
    """
    profile = plan_speeds(
        moves,
        acceleration_mm_s2=machine.acceleration_mm_s2,
        cornering_mm=machine.cornering_mm,
    )
    busiest, first = busiest_second(profile)
    on = moves.power > 0
    length = moves.length_mm
    # A dwell's dose is a dot's, not a line's.
    dwells = moves.is_dwell(step_mm=machine.step_mm, line_dose=power / speed_mm_s)
    last = int(np.flatnonzero(on)[-1]) if on.any() else -1
    cleared = float(length[on].sum())
    return ProgramTimes(
        time_s=float(profile.time_s[: last + 1].sum()),
        time_floor_s=cleared / speed_mm_s,
        cleared_length_mm=cleared,
        travel_length_mm=float(length[~on].sum()),
        dose_ratio_max=dose_ratio_max(
            replace(moves, power=np.where(dwells, 0.0, moves.power)),
            profile,
            power=power,
            speed_mm_s=speed_mm_s,
            scales=machine.power_follows_speed == "control",
        ),
        lines_per_s_max=busiest,
        busiest_mm=(float(moves.x_mm[first]), float(moves.y_mm[first])) if busiest else (0.0, 0.0),
    )
