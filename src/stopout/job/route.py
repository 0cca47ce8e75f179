"""The route of a job: what is made, and what opens its resist or its coats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One of the ways from a drawing to a piece; the words for it are asked here too.

    A `plate` is etched through its one resist, a `sign` is painted coat by coat behind clear
    plastic, and a `lit sheet` is marked itself and bears no paint. What opens a resist is a `beam`,
    a printed `film` and light, or a `knife`; a sign's coats are opened by beam or knife, a lit
    sheet is marked by the beam.
    """

    makes: Literal["plate", "sign", "lit sheet"]
    opens: Literal["beam", "film", "knife"]

    @property
    def has_beam(self) -> bool:
        """True where a laser works, by programs."""
        return self.opens == "beam"

    @property
    def clears_paint(self) -> bool:
        """True where a laser clears paint, so that dose, mark and spacing are the paint's."""
        return self.has_beam and not self.is_lit

    @property
    def sprays(self) -> bool:
        """True where paint is sprayed: a resist that a beam clears, or a sign's coats."""
        return self.is_sign or self.clears_paint

    @property
    def is_sign(self) -> bool:
        """True where coats of paint show one through another."""
        return self.makes == "sign"

    @property
    def is_lit(self) -> bool:
        """True where the sheet itself is marked and lit through its edge."""
        return self.makes == "lit sheet"

    @property
    def doing(self) -> Literal["clearing", "marking"]:
        """What the beam is about."""
        return "marking" if self.is_lit else "clearing"
