"""Outlines made of straight lines and cubic curves, and their flattening to polylines.

Points are complex numbers (x + iy): an affine map of a whole outline is then one array
expression.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import pi, tan

import numpy as np
from numpy.typing import NDArray

ComplexArray = NDArray[np.complex128]

# Handle length of a cubic that stands for a quarter of a circle of radius 1: 4/3 tan(pi/8).
_QUARTER = 4.0 / 3.0 * tan(pi / 8.0)
_MOST_CHORDS = 20_000
# The handles of a straight segment.
GAP = complex(np.nan, np.nan)


@dataclass(frozen=True, slots=True)
class Affine:
    """The map (x, y) -> (a x + c y + e, b x + d y + f), named as SVG names its matrix."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, inner: Affine) -> Affine:
        """Return the map that does `inner` first and this one after it."""
        return Affine(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    def apply(self, points: ComplexArray) -> ComplexArray:
        """Map an array of points of any shape."""
        x, y = points.real, points.imag
        mapped = np.empty(points.shape, dtype=np.complex128)
        mapped.real = self.a * x + self.c * y + self.e
        mapped.imag = self.b * x + self.d * y + self.f
        return mapped

    @property
    def stretch(self) -> float:
        """The largest factor by which the map lengthens anything (its larger singular value)."""
        return float(np.linalg.norm([[self.a, self.c], [self.b, self.d]], 2))

    @property
    def is_finite(self) -> bool:
        """True where every entry is a finite number."""
        return bool(np.isfinite([self.a, self.b, self.c, self.d, self.e, self.f]).all())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subpath:
    """One run of connected segments.

    Attributes
    ----------
    nodes : (n + 1,) ndarray of complex
        End points of the n segments.
    handles : (n, 2) ndarray of complex
        The two control points of each segment; NaN where the segment is straight.
    is_closed : bool
        True where the outline was closed by command (it matters to strokes only).
    """

    nodes: ComplexArray
    handles: ComplexArray
    is_closed: bool

    def through(self, affine: Affine) -> Subpath:
        """Return the subpath mapped by an affine map."""
        return Subpath(
            nodes=affine.apply(self.nodes),
            handles=affine.apply(self.handles),
            is_closed=self.is_closed,
        )


@dataclass(slots=True)
class RunPen:
    """Draws runs segment by segment; what is begun anew before it has a segment is nothing."""

    runs: list[Subpath] = field(default_factory=list)
    nodes: list[complex] = field(default_factory=list)
    handles: list[tuple[complex, complex]] = field(default_factory=list)

    def move(self, to: complex) -> None:
        """Begin a run."""
        self.end()
        self.nodes = [to]

    def line(self, to: complex) -> None:
        """Go straight on."""
        self.curve(GAP, GAP, to)

    def quad(self, bend: complex, to: complex) -> None:
        """Draw the cubic that is the same curve as a quadratic."""
        here = self.nodes[-1]
        self.curve(here + (bend - here) * 2 / 3, to + (bend - to) * 2 / 3, to)

    def curve(self, first: complex, second: complex, to: complex) -> None:
        """Draw a cubic."""
        self.handles.append((first, second))
        self.nodes.append(to)

    def close(self) -> None:
        """Go straight to where the run began, and begin there again.

        A closed point is kept: its caps are seen.
        """
        start = self.nodes[0]
        if self.nodes[-1] != start:
            self.line(start)
        self._keep(is_closed=True)

    def end(self) -> None:
        """Keep what is drawn as an open run."""
        if len(self.nodes) > 1:
            self._keep(is_closed=False)

    def _keep(self, *, is_closed: bool) -> None:
        handles = np.array(self.handles, dtype=np.complex128).reshape(-1, 2)
        self.runs.append(Subpath(nodes=np.array(self.nodes), handles=handles, is_closed=is_closed))
        self.nodes, self.handles = self.nodes[-1:], []


def flatten(subpath: Subpath, *, tolerance: float) -> ComplexArray:
    """Replace curves by chords whose vertices lie on the curve.

    Parameters
    ----------
    tolerance : float
        Largest distance between curve and chord, in the unit of the points.

    Returns
    -------
    (m,) ndarray of complex
        The vertices, first and last included.

    Notes
    -----
    A cubic cut into n equal parameter steps stays within ``M 6/8 / n**2`` of its chords, with M
    the larger of the second differences of its control points: the remainder of linear
    interpolation, h^2/8 max|f''|, with |f''| <= 6 M on 0..1.
    """
    curved = ~np.isnan(subpath.handles[:, 0].real)
    if not curved.any():
        return subpath.nodes
    start, end = subpath.nodes[:-1], subpath.nodes[1:]
    first = np.where(curved, subpath.handles[:, 0], start)
    second = np.where(curved, subpath.handles[:, 1], end)
    bend = np.maximum(np.abs(start - 2 * first + second), np.abs(first - 2 * second + end))
    steps = np.where(curved, np.ceil(np.sqrt(0.75 * bend / tolerance)), 1.0)
    count = np.clip(steps, 1, _MOST_CHORDS).astype(np.int64)
    which = np.repeat(np.arange(len(count)), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + 1
    t = step / count[which]
    s = 1.0 - t
    points = (
        s**3 * start[which]
        + 3 * s**2 * t * first[which]
        + 3 * s * t**2 * second[which]
        + t**3 * end[which]
    )
    # The formula at t = 1 is exact only to rounding; rings must close on the very same number.
    points[np.cumsum(count) - 1] = end
    return np.concatenate([subpath.nodes[:1], points])


def arc_handles(
    centre: complex, major: complex, minor: complex, angles: Sequence[float] | NDArray[np.float64]
) -> tuple[ComplexArray, ComplexArray]:
    """Cubics for an elliptical arc ``centre + major cos(t) + minor sin(t)``.

    Parameters
    ----------
    major, minor : complex
        Conjugate half axes.
    angles : (n + 1,) sequence of float
        Parameter values t between which the n cubics run.

    Returns
    -------
    nodes : (n + 1,) ndarray of complex
    handles : (n, 2) ndarray of complex

    Notes
    -----
    Handles of 4/3 tan(step/4) touch the arc at both ends and in the middle. The radial error is
    2.7e-4 of the radius for a quarter and falls with the sixth power of the step: 6.7e-8 for a
    sixteenth of a turn.
    """
    t = np.asarray(angles, dtype=np.float64)
    nodes = centre + major * np.cos(t) + minor * np.sin(t)
    speed = -major * np.sin(t) + minor * np.cos(t)
    reach = 4.0 / 3.0 * np.tan(np.diff(t) / 4.0)
    handles = np.stack([nodes[:-1] + reach * speed[:-1], nodes[1:] - reach * speed[1:]], axis=1)
    return nodes, handles


def split_quarters(subpath: Subpath) -> Subpath:
    """Recover the true ellipse of every cubic that stands for a quarter of one.

    The normalising step writes a circle as four cubics that bulge by 2.7 um at a radius of 10 mm.
    Only call this for outlines that are known to come from a circle, an ellipse or a rectangle
    with rounded corners; a cubic that an artist drew is left to mean what it says.
    """
    if np.isnan(subpath.handles[:, 0].real).all():
        return subpath
    nodes, handles = [subpath.nodes[:1]], []
    for start, end, (first, second) in zip(
        subpath.nodes[:-1], subpath.nodes[1:], subpath.handles, strict=True
    ):
        corner = start + (first - start) / _QUARTER
        other = end + (second - end) / _QUARTER
        if np.isnan(first.real) or abs(corner - other) > 1e-5 * abs(end - start):
            nodes.append(np.array([end]))
            handles.append(np.array([[first, second]]))
            continue
        centre = start + end - corner
        some, curves = arc_handles(
            complex(centre),
            complex(start - centre),
            complex(end - centre),
            np.linspace(0.0, pi / 2.0, 5),
        )
        some[-1] = end
        nodes.append(some[1:])
        handles.append(curves)
    return Subpath(
        nodes=np.concatenate(nodes), handles=np.concatenate(handles), is_closed=subpath.is_closed
    )
