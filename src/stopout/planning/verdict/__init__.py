"""The verdict: will the piece be what was drawn, and what must a person act on first?

`reached.reach_verdict` makes it; here are the records alone, which the plan holds.
"""

from stopout.planning.verdict.record import Told, Verdict

__all__ = ["Told", "Verdict"]
