"""How bright what is cleared would be at a place, from what is wide enough to show it.

A line narrower than the blur tells contrast x width only. Its contrast is taken from the discs and
the wide lines: as one value, as going with the brightness of the paint nearby (uneven light acts on
both alike), or as changing with the place; whichever foretells best what is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stopout.values import FloatArray

# Discs and lines may differ a little in brightness though both are cleared.
_OWN_SD = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """One place where the contrast shows: its grey levels, signed, and its standard error."""

    at_mm: tuple[float, float]
    ground: float
    contrast: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """A fitted rule for the contrast. `error` is what it misses by, as a share."""

    kind: str
    coefficients: FloatArray
    centre_mm: tuple[float, float]
    size_mm: float
    error: float

    def contrast(self, at_mm: tuple[float, float], ground: float) -> float:
        """The contrast at a place whose paint has the given level."""
        columns = _columns(
            self.kind, np.array([at_mm], float), np.array([ground]), self.centre_mm, self.size_mm
        )
        return float((columns @ self.coefficients)[0])


def fit_levels(references: list[Reference]) -> Levels:
    """Choose and fit the rule for the contrast.

    Parameters
    ----------
    references : list of Reference
        At least one.
    """
    at = np.array([one.at_mm for one in references], float)
    ground = np.array([one.ground for one in references], float)
    contrast = np.array([one.contrast for one in references], float)
    typical = float(np.median(contrast))
    sd = np.hypot([one.sd for one in references], _OWN_SD * abs(typical))
    centre = (float(at[:, 0].mean()), float(at[:, 1].mean()))
    size = max(float(np.ptp(at, axis=0).max()) / 2, 1e-6)
    best: Levels | None = None
    for kind in ("one", "light", "place", "bowl"):
        columns = _columns(kind, at, ground, centre, size)
        if kind != "one" and len(at) < columns.shape[1] + 2:
            continue
        solved, error = _fitted(columns, contrast, sd, typical)
        # A richer rule has to earn its freedom.
        if best is None or error < 0.85 * best.error:
            best = Levels(
                kind=kind, coefficients=solved, centre_mm=centre, size_mm=size, error=error
            )
    assert best is not None
    return best


def _columns(
    kind: str, at: FloatArray, ground: FloatArray, centre: tuple[float, float], size: float
) -> FloatArray:
    x, y = ((at - centre) / size).T
    ones = np.ones(len(at))
    columns = {
        "one": [ones],
        "light": [ones, ground / 100.0],
        "place": [ones, x, y],
        "bowl": [ones, x, y, x * x, x * y, y * y],
    }[kind]
    return np.column_stack(columns)


def _fitted(
    columns: FloatArray, contrast: FloatArray, sd: FloatArray, typical: float
) -> tuple[FloatArray, float]:
    """Coefficients, and the root mean square of leave-one-out errors as a share of the contrast."""
    weight = 1 / sd**2
    solved: FloatArray = np.zeros(columns.shape[1])
    for _ in range(5):
        normal = columns.T @ (columns * weight[:, None])
        normal += 1e-9 * np.trace(normal) * np.eye(len(normal))
        solved = np.asarray(np.linalg.solve(normal, columns.T @ (weight * contrast)), float)
        off = np.abs(contrast - columns @ solved) / sd
        limit = 3 * max(float(np.median(off)) / 0.6745, 1.0)
        weight = np.minimum(1.0, limit / np.maximum(off, 1e-9)) / sd**2
    hat = np.einsum("ij,ji->i", columns, np.linalg.solve(normal, (columns * weight[:, None]).T))
    left_out = (contrast - columns @ solved) / np.maximum(1 - hat, 0.05)
    error = float(np.sqrt(np.average(left_out**2, weights=weight))) / abs(typical)
    return solved, max(error, 1e-4)
