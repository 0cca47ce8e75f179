"""How often outlines cross: estimated from a few of their edges, before they are filled."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

_SAMPLE = 300
_SEED = 15


def crossings(rings: Sequence[np.ndarray[tuple[int, int], np.dtype[np.int64]]]) -> int:
    """Estimate in how many places rings cross themselves and each other.

    Parameters
    ----------
    rings : sequence of (n, 2) ndarray
        Vertices; each ring closes by itself.

    Returns
    -------
    int
        From 300 edges drawn at random, always the same ones: good to about a tenth where there
        are many.
    """
    edges = shapely.linestrings(
        np.vstack([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])
    )
    chosen = np.random.default_rng(_SEED).permutation(len(edges))[:_SAMPLE]
    met: int = shapely.STRtree(edges).query(edges[chosen], predicate="intersects").shape[1]
    # Each edge meets itself and its two neighbours, and each crossing is seen from both edges.
    return max(int((met / len(chosen) - 3) * len(edges) / 2), 0)
