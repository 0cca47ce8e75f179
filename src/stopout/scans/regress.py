"""Weighted straight lines with their standard errors, and Student's t and F."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from stopout.values import FloatArray

Weighting = Literal["reading", "none"]
# A scan cannot defend a reading to better than this.
READING_FLOOR_MM = 2e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Regression:
    """Least squares: y = columns @ value, each y with the variance s^2 / weight.

    Attributes
    ----------
    value : (p,) ndarray
    covariance : (p, p) ndarray
        Of the values, with s^2 taken from the residuals.
    s2 : float
        Weighted sum of squared residuals over the degrees of freedom.
    dof : int
        Observations less values.
    """

    value: FloatArray
    covariance: FloatArray
    s2: float
    dof: int

    @property
    def sd(self) -> FloatArray:
        """Standard errors of the values."""
        result: FloatArray = np.sqrt(np.diag(self.covariance))
        return result


def regress(columns: FloatArray, y: FloatArray, weight: FloatArray | None = None) -> Regression:
    """Fit y by the columns.

    Parameters
    ----------
    columns : (n, p) ndarray
        n above p, columns independent.
    y : (n,) ndarray
    weight : (n,) ndarray, optional
        Inverse variances up to a common factor; left out: all alike.

    Returns
    -------
    Regression
        s^2 is estimated from the residuals, so a common factor in the weights has no effect.
    """
    root = np.ones(len(y)) if weight is None else np.sqrt(weight)
    value, r = _solved(columns, y, root)
    dof = len(y) - columns.shape[1]
    off = (y - columns @ value) * root
    s2 = float(off @ off) / dof if dof > 0 else 0.0
    inverse = np.linalg.inv(r)
    return Regression(value=value, covariance=s2 * inverse @ inverse.T, s2=s2, dof=dof)


def _solved(columns: FloatArray, y: FloatArray, root: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The values, and the triangle that holds their covariance."""
    q, r = np.linalg.qr(columns * root[:, None])
    return np.linalg.solve(r, q.T @ (y * root)), r


def weighted_fit(
    columns: FloatArray, width: FloatArray, weighting: Weighting
) -> tuple[Regression, float]:
    """Fit squares of widths that all have the same error.

    Parameters
    ----------
    columns : (n, p) ndarray
    width : (n,) ndarray
        D in mm.
    weighting : str
        "reading": all widths have the same error; "none": all squares alike.

    Returns
    -------
    (Regression, float)
        The fit of D^2, and the scatter of a single D in mm.

    Notes
    -----
    Var(D^2) = 4 D^2 s^2 + 2 s^4 and E(D^2) = D^2 + s^2 for a normal reading error s; D on the right
    is the fitted one, since a weight by the reading itself would favour readings too small.
    """
    fit = regress(columns, width**2)
    scatter = READING_FLOOR_MM
    if weighting == "none":
        fitted = np.sqrt(np.maximum(columns @ fit.value, 0))
        return fit, float(np.sqrt(np.mean((width - fitted) ** 2) * len(width) / max(fit.dof, 1)))
    value = fit.value
    for _ in range(8):
        fitted2 = np.maximum(columns @ value, 0.0)
        off = width - np.sqrt(fitted2)
        scatter = float(np.sqrt(off @ off / max(fit.dof, 1)))
        used = max(scatter, READING_FLOOR_MM)
        weight = 1 / (4 * fitted2 * used**2 + 2 * used**4)
        squares = width**2 - min(scatter, 0.05) ** 2
        value, _ = _solved(columns, squares, np.sqrt(weight))
    return regress(columns, squares, weight), scatter


def t_width(dof: int, *, share: float = 0.95) -> float:
    """How many standard errors to either side hold the share of truths, by Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(max(dof, 1), 0.5 + share / 2))


def t_tail(t: float, dof: int) -> float:
    """Two-sided probability of a |t| as large by chance."""
    from scipy.special import stdtr

    return float(2 * stdtr(max(dof, 1), -abs(t)))


def f_tail(f: float, dof1: int, dof2: int) -> float:
    """Probability of an F as large by chance."""
    from scipy.special import fdtrc

    return float(fdtrc(dof1, dof2, max(f, 0.0)))
