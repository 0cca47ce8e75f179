"""Pieces laid side by side along x, so that one call of a library serves them all."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["ALONE", "SideBySide"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """Where pieces lie that are looked at together: the k-th has its corner at x = k pitches.

    Attributes
    ----------
    pitch_mm : float
        From the corner of one piece to that of the next; infinite for a piece alone.
    lead_mm : float
        What lies no farther than this before a piece's corner is still that piece's.
    """

    pitch_mm: float = math.inf
    lead_mm: float = 0.0

    @property
    def is_one(self) -> bool:
        """Tell whether there is one piece only."""
        return math.isinf(self.pitch_mm)

    def piece(self, x_mm: ArrayLike) -> NDArray[np.intp]:
        """Return the number of the piece, from 0, that lies at each x."""
        return np.floor((np.asarray(x_mm) + self.lead_mm) / self.pitch_mm).astype(np.intp)

    def corner_mm(self, piece: int) -> tuple[float, float]:
        """Return the lower left corner of a piece."""
        return (piece * self.pitch_mm if piece else 0.0, 0.0)


ALONE = SideBySide()
