"""A path as lettering runs along it: points and slopes by arc length."""

from __future__ import annotations

from itertools import pairwise
from math import degrees

import numpy as np

from stopout.artwork.regions.curves import Affine, flatten
from stopout.artwork.svg.pathdata import outline_of, segments, write_out_arcs


class Along:
    """The path under a `textPath` (SVG 2, section 11.8).

    Parameters
    ----------
    data : str
        The path's `d`.
    transform : str or None
        The path's own transform, as `matrix(...)` or other functions without units.

    Attributes
    ----------
    length : float
        Of all its subpaths together, in user units.
    start : float
        Where the lettering starts along it.
    """

    def __init__(self, data: str, transform: str | None) -> None:
        runs = outline_of(segments(write_out_arcs(data)))
        affine = _affine(transform or "")
        runs = [run.through(affine) for run in runs]
        span = max((float(np.ptp(r.nodes.real) + np.ptp(r.nodes.imag)) for r in runs), default=0.0)
        if not np.isfinite(span) or span <= 0.0:
            raise ValueError("it has no length")
        fine = span * 1e-6
        chords: list[tuple[complex, complex]] = []
        for run in runs:
            chords += pairwise(flatten(run, tolerance=fine).tolist())
        pairs = np.array(chords, dtype=np.complex128)
        pairs = pairs[pairs[:, 0] != pairs[:, 1]]
        if not len(pairs):
            raise ValueError("it has no length")
        self._from, self._to = pairs[:, 0], pairs[:, 1]
        self._ends = np.cumsum(np.abs(self._to - self._from))
        self.length = float(self._ends[-1])
        self.start = 0.0

    def at(self, distance: float) -> tuple[complex, float] | None:
        """Return the point and the slope in degrees, None beyond either end."""
        along = self.start + distance
        if not 0.0 <= along <= self.length:
            return None
        place = min(int(np.searchsorted(self._ends, along)), len(self._ends) - 1)
        step = self._to[place] - self._from[place]
        rest = (self._ends[place] - along) / abs(step)
        return complex(self._to[place] - rest * step), degrees(float(np.angle(step)))


def _affine(text: str) -> Affine:
    """Compose transform functions; angles in degrees."""
    import re
    from math import cos, radians, sin, tan

    whole = Affine()
    for name, inner in re.findall(r"(\w+)\s*\(([^()]*)\)", text):
        n = [float(part) for part in inner.replace(",", " ").split()]
        n = n or [0.0]
        if name == "matrix" and len(n) == 6:
            step = Affine(*n)
        elif name == "translate":
            step = Affine(e=n[0], f=n[1] if len(n) > 1 else 0.0)
        elif name == "scale":
            step = Affine(a=n[0], d=n[1] if len(n) > 1 else n[0])
        elif name == "rotate":
            c, s = cos(radians(n[0])), sin(radians(n[0]))
            x, y = n[1:3] if len(n) > 2 else (0.0, 0.0)
            step = Affine(c, s, -s, c, x - c * x + s * y, y - s * x - c * y)
        elif name in ("skewX", "skewY"):
            by = tan(radians(n[0]))
            step = Affine(c=by) if name == "skewX" else Affine(b=by)
        else:
            raise ValueError(f"its transform '{name}' is not read")
        whole = whole @ step
    return whole
