"""Which lines may enter the fit of spot and threshold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stopout.scans.measuring.features import LineReading
from stopout.scans.regress import Weighting, weighted_fit
from stopout.values import FloatArray

_FIRST = 4
# Of groups nearly as large as the largest, the fastest counts as the main one (ours).
LARGE_SHARE = 0.7
# Groups whose narrowest lines differ by less than this began at about the same dose ratio (ours).
_ALIKE = 2.0
# D = 2 w is reached at a dose ratio of e^2 = 7.39: beyond it, wings and heat decide.
_WIDEST_IN_W = 2.03
# What a scan can defend: a level is not thrown out for less.
_LEAST_SCATTER_MM = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseLevel:
    """The repeats of one dose at one speed and one number of passes, all cleared."""

    log_dose: float
    speed_mm_s: float
    passes: int
    lines: tuple[LineReading, ...]

    @property
    def width_mm(self) -> float:
        """Mean width of the repeats."""
        return float(np.mean([line.width_mm for line in self.lines]))


def gather_levels(readings: Sequence[LineReading]) -> tuple[list[DoseLevel], list[tuple[str, str]]]:
    """Sort lines into levels; those not wholly cleared are left out, as bounds.

    Parameters
    ----------
    readings : sequence of LineReading
        Of one axis.

    Returns
    -------
    (list of DoseLevel, list of (str, str))
        Levels by speed, passes and dose; and the lines left out with the reason.
    """
    groups: dict[tuple[float, int, float], list[LineReading]] = {}
    for line in readings:
        step = round(float(np.log(line.line_dose_j_per_mm)), 4)
        groups.setdefault((line.speed_mm_s, line.passes, step), []).append(line)
    levels, left_out = [], []
    for (speed, passes, _), lines in sorted(groups.items()):
        if all(line.is_cleared for line in lines):
            dose = float(np.mean([np.log(line.line_dose_j_per_mm) for line in lines]))
            levels.append(
                DoseLevel(log_dose=dose, speed_mm_s=speed, passes=passes, lines=tuple(lines))
            )
            continue
        # Had the repeats that were seen entered alone, the widths would be too large.
        some = any(line.is_cleared for line in lines)
        left_out += [
            (line.id, "not cleared" if not line.is_cleared else "not all its repeats were cleared")
            for line in lines
            if some or not line.is_cleared
        ]
    return levels, left_out


def chosen_levels(
    levels: list[DoseLevel], weighting: Weighting
) -> tuple[list[DoseLevel], list[tuple[str, str]]]:
    """The lowest four levels, and upwards while the next lies on their line.

    Parameters
    ----------
    levels : list of DoseLevel
    weighting : str
        As in `fit_axis`.

    Returns
    -------
    (list of DoseLevel, list of (str, str))
        The levels that enter, and the lines left out with the reason.
    """
    groups: dict[tuple[float, int], list[DoseLevel]] = {}
    for level in levels:
        groups.setdefault((level.speed_mm_s, level.passes), []).append(level)
    if not groups:
        return [], []
    # A large group of the fewest passes sets the measure for the others, the fastest of them, whose
    # lines lose least to the metal; of groups at doses that lie far apart the one nearest the
    # threshold does, where a line is no wider than the spot.
    near = _nearest(groups)
    counts = {key: sum(len(level.lines) for level in groups[key]) for key in near}
    large = [key for key in near if counts[key] >= LARGE_SHARE * max(counts.values())]
    main = max(large, key=lambda key: (-key[1], key[0]))
    kept, left_out = _upwards(groups[main], weighting)
    widest = max((level.width_mm for level in kept), default=0.0)
    for key, group in groups.items():
        if key == main:
            continue
        for level in group:
            if level.width_mm <= 1.05 * widest:
                kept.append(level)
            else:
                left_out += _names(level, "wider than the widest that fits the line")
    return kept, left_out


def _nearest(groups: dict[tuple[float, int], list[DoseLevel]]) -> list[tuple[float, int]]:
    """Groups of enough levels whose narrowest is about as narrow as that of any such group."""
    narrowest = {
        key: min(level.width_mm for level in group)
        for key, group in groups.items()
        if len(group) >= _FIRST
    }
    if not narrowest:
        return list(groups)
    limit = _ALIKE * min(narrowest.values())
    return [key for key, width in narrowest.items() if width <= limit]


def _upwards(
    levels: list[DoseLevel], weighting: Weighting
) -> tuple[list[DoseLevel], list[tuple[str, str]]]:
    levels = sorted(levels, key=lambda level: level.log_dose)
    for count in range(_FIRST, len(levels)):
        why = _bars(levels[:count], levels[count], weighting)
        if why:
            left_out = [name for level in levels[count:] for name in _names(level, why)]
            return levels[:count], left_out
    return levels, []


def _names(level: DoseLevel, why: str) -> list[tuple[str, str]]:
    return [(line.id, why) for line in level.lines]


def _bars(below: list[DoseLevel], level: DoseLevel, weighting: Weighting) -> str:
    """Why a level may not join those below it; empty where it may."""
    from scipy.special import stdtrit

    lines = [line for one in below for line in one.lines]
    log_dose = [one.log_dose for one in below for _ in one.lines]
    columns: FloatArray = np.column_stack([log_dose, np.ones(len(lines))])
    fit, scatter = weighted_fit(columns, np.array([line.width_mm for line in lines]), weighting)
    if fit.value[0] <= 0:
        return ""
    w = float(np.sqrt(fit.value[0] / 2))
    row = np.array([level.log_dose, 1.0])
    foretold = float(np.sqrt(max(float(row @ fit.value), 0.0)))
    if foretold > _WIDEST_IN_W * w:
        return "wider than 2 w, where the wings of the spot and heat decide"
    if foretold <= 0:
        return ""
    spread = max(scatter, _LEAST_SCATTER_MM)
    # The error of the foretold width, no smaller than that of the readings allows.
    line_sd = float(np.sqrt(row @ fit.covariance @ row)) / (2 * foretold)
    line_sd *= spread / max(scatter, 1e-12) if scatter < spread else 1.0
    line_sd = min(line_sd, 0.1 * foretold)
    # Three sigma; with few lines below, Student's equal of them.
    limit = float(stdtrit(max(fit.dof, 1), 0.99865))
    allowed = limit * float(np.hypot(line_sd, spread / np.sqrt(len(level.lines))))
    if abs(level.width_mm - foretold) > allowed:
        off = 1000 * (level.width_mm - foretold)
        return f"off the line of the lower doses by {off:+.0f} um"
    return ""
