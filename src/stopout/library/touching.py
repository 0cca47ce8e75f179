"""Groups of a code's modules: whether each may be planned without those that touch it.

Modules lie on a grid, so that two groups are a module apart unless they touch in a point. What that
does is tried with modules that touch either way beside one that does not: where all are made alike,
a group has nothing to do with the others, and the land between these two is that between any.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from stopout.job.setting import SetFrame, Setting

if TYPE_CHECKING:
    from stopout.planning.panel.whole import Together

# Each a module's column and row: one alone, and two that touch in a point, either way.
_TRIED = (((0, 0),), ((0, 0), (1, 1)), ((1, 0), (0, 1)))
# Corners of modules lie on a grid of so many decimals of a millimetre.
_DECIMALS = 6
# What is made of modules alike differs by less: 5 nm of their edge.
_ALIKE_MM2 = 1e-5


def touching(side_mm: float, corner_mm: tuple[float, float]) -> tuple[Setting, ...]:
    """Return a module alone, and two that touch in a point, either way, from a corner."""
    return tuple(
        Setting(
            frames=tuple(
                SetFrame(
                    at_mm=(
                        round(corner_mm[0] + column * side_mm, _DECIMALS),
                        round(corner_mm[1] + row * side_mm, _DECIMALS),
                    ),
                    size_mm=(side_mm, side_mm),
                )
                for column, row in modules
            )
        )
        for modules in _TRIED
    )


def are_made_alike(made: Together, side_mm: float, corner_mm: tuple[float, float]) -> bool:
    """Tell whether modules that touch are made as one that does not.

    Parameters
    ----------
    made : Together
        What `touching` asks for, planned side by side.
    side_mm, corner_mm
        As given there, but as worked.
    """
    coat = made.coat
    assert coat is not None
    for region in (coat.opening, coat.finished):
        parts = shapely.get_parts(region)
        low = shapely.bounds(parts)[:, :2]
        piece = made.pieces.piece(low[:, 0])
        corner = np.array(corner_mm) + [made.pieces.corner_mm(int(k)) for k in piece]
        # Each lies where its module does, give or take what is made of it.
        at = corner + np.round((low - corner) / side_mm) * side_mm
        if sorted(piece.tolist()) != [0, 1, 1, 2, 2]:
            return False
        xy, part = shapely.get_coordinates(parts, return_index=True)
        parts = shapely.set_coordinates(parts, xy - at[part])
        differs = shapely.symmetric_difference(parts, parts[int(np.argmin(piece))])
        if (shapely.area(differs) > _ALIKE_MM2).any():
            return False
    return True
