"""Goes forwards: sweeps a written program, lets the etch advance, holds the result to the artwork.

Nothing here uses what the planner uses to go backwards: no offsets of shapely's, nothing from
`mask` or `clearing`. A fault in one of the two is not repeated in the other.
"""

from stopout.outcome.advance import advance
from stopout.outcome.dwell import dwelt
from stopout.outcome.gaps import closed_gaps
from stopout.outcome.judge import Outcome, judge, together
from stopout.outcome.parts import Change, changed_parts
from stopout.outcome.sweep import sweep

__all__ = [
    "Change",
    "Outcome",
    "advance",
    "changed_parts",
    "closed_gaps",
    "dwelt",
    "judge",
    "sweep",
    "together",
]
