"""Re-locating a piece that was lifted: where it lies now, from points found again on it.

With planned points p_k and the places q_k where they are found now, the rotation by t and the
shift d that make sum |R(t) p_k + d - q_k|^2 least are, with p and q taken from their means,

    tan t = sum (p_x q_y - p_y q_x) / sum (p_x q_x + p_y q_y),   d = mean q - R(t) mean p,

the plane case of the orthogonal Procrustes problem without scale (P. H. Schoenemann, "A
generalized solution of the orthogonal Procrustes problem", Psychometrika 31, 1966, 1-10).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stopout.errors import ProgramError
from stopout.values import COORDINATE_DECIMALS, FloatArray, Moves

Point = tuple[float, float]
Pair = tuple[Point, Point]

# Points nearer to each other than this say nothing about how the piece is turned.
_LEAST_BASE_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Relocation:
    """How a piece lies now, relative to where it lay: turned about the origin, then shifted.

    Attributes
    ----------
    angle_rad : float
        Turn about (0, 0), counter-clockwise.
    shift_mm : (x, y)
        Shift after the turn.
    residual_mm : tuple of float
        How far each point is then from where it was found.
    centre_mm : (x, y)
        Mean of the points as planned.
    base_mm : float
        Square root of the sum of the points' squared distances from their mean.
    """

    angle_rad: float
    shift_mm: Point
    residual_mm: tuple[float, ...] = ()
    centre_mm: Point = (0.0, 0.0)
    base_mm: float = math.inf

    @property
    def worst_residual_mm(self) -> float:
        """The largest residual."""
        return max(self.residual_mm, default=0.0)

    def apply(self, points_mm: FloatArray) -> FloatArray:
        """Return (n, 2) points of the piece where they lie now."""
        c, s = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return np.asarray(points_mm @ np.array([[c, s], [-s, c]]) + np.asarray(self.shift_mm))

    def inverse(self) -> Relocation:
        """Return the placement that undoes this one."""
        back = Relocation(angle_rad=-self.angle_rad, shift_mm=(0.0, 0.0))
        x, y = back.apply(np.array([self.shift_mm]))[0]
        return replace(back, shift_mm=(float(-x), float(-y)))

    def error_growth(self, at_mm: FloatArray) -> float:
        """Return how much larger than at a point the error of reading is at the worst of places.

        Parameters
        ----------
        at_mm : (n, 2) ndarray
            Places on the piece as planned.

        Returns
        -------
        float
            sqrt(1/n + (d / base)^2), d the largest distance from the points' mean: with
            independent errors of one standard deviation in x and in y of each of n points, the
            standard deviation at the farthest place, across the line to it.
        """
        n = max(len(self.residual_mm), 1)
        far = np.hypot(*(np.asarray(at_mm) - np.asarray(self.centre_mm)).T).max(initial=0.0)
        return math.sqrt(1 / n + (float(far) / self.base_mm) ** 2)


def locate(pairs: Sequence[Pair], *, most_mm: float) -> Relocation:
    """Find how a piece lies from two points or more, by least squares and without scale.

    Parameters
    ----------
    pairs : sequence of ((x, y), (x, y))
        Each a point as planned, and where it is found now, both as worked in mm from the
        program's origin.
    most_mm : float
        The largest residual that is accepted, above zero.

    Returns
    -------
    Relocation
        Turn, shift and residuals.

    Raises
    ------
    ProgramError
        For fewer than two points, points within 1 mm of each other, or a residual above
        `most_mm`, with the point that fits worst.

    Notes
    -----
    Two points tell only by their distance from each other whether they fit: each then has half
    the difference for its residual. A third point away from their line checks the turn as well.
    """
    _refuse_few(pairs)
    planned = np.array([pair[0] for pair in pairs], dtype=float)
    found = np.array([pair[1] for pair in pairs], dtype=float)
    if not (np.isfinite(planned).all() and np.isfinite(found).all()):
        raise ProgramError("a point has a place that is no number; give mm")
    centre, now = planned.mean(axis=0), found.mean(axis=0)
    p, q = planned - centre, found - now
    base = float(np.sqrt((p**2).sum()))
    _refuse_close("as planned", planned)
    _refuse_close("as found", found)
    along, across = float((p * q).sum()), float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum())
    angle = math.atan2(across, along)
    turned = Relocation(angle_rad=angle, shift_mm=(0.0, 0.0))
    shift = now - turned.apply(centre[None])[0]
    placement = replace(turned, shift_mm=(float(shift[0]), float(shift[1])))
    residual = np.hypot(*(placement.apply(planned) - found).T)
    placement = replace(
        placement,
        residual_mm=tuple(float(value) for value in residual),
        centre_mm=(float(centre[0]), float(centre[1])),
        base_mm=base,
    )
    _refuse_misfit(placement, pairs, most_mm)
    return placement


def relocate(moves: Moves, placement: Relocation) -> Moves:
    """Return moves turned and shifted to where the piece lies now, rounded as programs are.

    Parameters
    ----------
    moves : Moves
        A program's moves; the first is a travel, since it starts from the origin that stays.
    placement : Relocation
        How the piece lies now.

    Returns
    -------
    Moves
        The same speeds and powers. Prove them again: they go elsewhere on the bed.
    """
    points = np.round(placement.apply(moves.end_mm), COORDINATE_DECIMALS)
    return replace(moves, x_mm=points[:, 0], y_mm=points[:, 1])


def _refuse_few(pairs: Sequence[Pair]) -> None:
    if len(pairs) < 2:
        raise ProgramError(
            f"it takes two points or more to know how a piece is turned; {len(pairs)} given"
        )


def _refuse_close(which: str, points: FloatArray) -> None:
    far = float(np.hypot(*(points - points[0]).T).max())
    if far < _LEAST_BASE_MM:
        raise ProgramError(
            f"the points lie within {far:.3g} mm of each other {which}, which does not tell how "
            f"the piece is turned; take points far apart, {_LEAST_BASE_MM:g} mm at the very least"
        )


def _refuse_misfit(placement: Relocation, pairs: Sequence[Pair], most_mm: float) -> None:
    worst = placement.worst_residual_mm
    if worst <= most_mm:
        return
    at = placement.residual_mm.index(worst)
    (px, py), (qx, qy) = pairs[at]
    apart = ""
    if len(pairs) == 2:
        (a, b), (c, d) = pairs
        planned, found = math.dist(a, c), math.dist(b, d)
        apart = (
            f", for the points are {planned:.3f} mm apart as planned and {found:.3f} mm as found"
        )
    raise ProgramError(
        f"the points do not fit a piece that was only turned and shifted: point {at + 1} "
        f"({px:g}, {py:g} = {qx:g}, {qy:g}) misses by {1000 * worst:.0f} um and "
        f"{1000 * most_mm:.0f} um is the limit{apart}; find the points again"
    )
