"""How far the etch goes sideways."""

from __future__ import annotations

from dataclasses import dataclass

from stopout.etching import undercut_mm, undercut_spread_mm
from stopout.values import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Bite:
    """How the etch goes sideways: nothing, where nothing is etched."""

    depth_mm: float = 0.0
    factor: Measured | None = None

    @property
    def undercut(self) -> Measured:
        """Undercut per edge with its spread, depth x sd / F^2."""
        if self.factor is None:
            return Measured(value=0.0)
        return Measured(
            value=undercut_mm(self.depth_mm, self.factor.value),
            sd=undercut_spread_mm(self.depth_mm, self.factor.value, self.factor.sd),
        )
