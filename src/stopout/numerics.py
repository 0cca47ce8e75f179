"""What a plan needs of a numerical library: triangulation, searches for near points, `erf`.

These are compiled modules, named here by themselves: their packages bring hundreds of other modules
along, a quarter of a second for each process. `library.lightly` loads this one without them.
"""

from __future__ import annotations

__all__ = ["Delaunay", "QhullError", "cKDTree", "erf"]

try:
    from scipy.spatial._ckdtree import cKDTree
    from scipy.spatial._qhull import Delaunay, QhullError
    from scipy.special._ufuncs import erf
except ImportError:
    # Another version may keep them elsewhere.
    from scipy.spatial import Delaunay, QhullError, cKDTree
    from scipy.special import erf
