"""The verdict: will the piece be what was drawn, and what must a person act on first?"""

from stopout.planning.verdict.reached import reach_verdict
from stopout.planning.verdict.record import Told, Verdict

__all__ = ["Told", "Verdict", "reach_verdict"]
