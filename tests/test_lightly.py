"""Compiled modules without their packages are those that the packages have."""

import subprocess
import sys
import threading

from effort import HANGS_S
from stopout.library.lightly import load_numerics

_LOADED = """
import sys
from stopout.library.lightly import load_numerics
load_numerics()
print(len({"scipy.spatial", "scipy.sparse", "scipy.linalg", "numpy.f2py"} & {*sys.modules}))
from stopout import numerics as ours
flat = [[0, 0], [1, 1], [2, 2], [3, 3]]
try:
    ours.Delaunay(flat)
except ours.QhullError:
    print("flat")
from scipy import linalg, sparse, spatial, special
print(ours.Delaunay is spatial.Delaunay, ours.QhullError is spatial.QhullError)
print(ours.cKDTree is spatial.cKDTree, ours.erf(0.5) == special.erf(0.5))
tree = spatial.KDTree(flat)
print(type(tree.sparse_distance_matrix(tree, 2, output_type="coo_matrix")).__name__)
"""


def test_packages_that_are_asked_for_later_are_whole():
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", _LOADED],
        capture_output=True,
        text=True,
        timeout=HANGS_S,
        check=False,
    )
    told = ["0", "flat", *["True"] * 4, "coo_matrix"]
    assert (done.stdout.split(), done.stderr) == (told, "")


def test_where_another_thread_could_meet_them_there_are_no_empty_modules(monkeypatch):
    for name in [name for name in sys.modules if name.startswith(("scipy.", "stopout.numerics"))]:
        monkeypatch.delitem(sys.modules, name)
    may_end = threading.Event()
    other = threading.Thread(target=may_end.wait)
    other.start()
    load_numerics()
    may_end.set()
    other.join()
    assert "stopout.numerics" not in sys.modules
