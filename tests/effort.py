"""How often the laws are tried, and how long a test waits before it calls that a hang.

A part of the laws' examples is tried in every run, all of them by `bash tests/bench/laws`.
"""

from __future__ import annotations

import os

__all__ = ["ALL", "BOUNDED_S", "CLICK_S", "HANGS_S", "tries"]

# Against hangs only: a machine with other work may take a hundred times as long as one without.
HANGS_S = 1800
# Processor seconds that nothing bounded takes, also where others slow each of them down; what they
# catch is work that grows out of all bounds, not a slower way.
BOUNDED_S = 60
# What is not on a page after this long will not come.
CLICK_S = 300

# The bench sets this; the same seeds come first in both, so that a run is a part of the bench.
ALL = os.environ.get("STOPOUT_LAWS") == "all"
_SHARE = 4
_LEAST = 3


def tries(wanted: int, *, share: int = _SHARE) -> int:
    """Return how many examples of a law are tried, of so many that it deserves.

    Where an example is dear, as two whole plans are, a smaller share of them may be tried.
    """
    return wanted if ALL else min(wanted, max(_LEAST, wanted // share))
