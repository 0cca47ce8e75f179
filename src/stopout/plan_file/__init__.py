"""plan.json: written from a plan, and read again, in one room and by one format.

The names are looked up on first use: whoever only asks for a file's name loads nothing heavy.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.plan_file.reading import read_plan
    from stopout.plan_file.record import PlanRecord
    from stopout.plan_file.writing import summarise

__all__ = ["FORMAT", "PLAN_FILE", "PlanRecord", "read_plan", "summarise"]

FORMAT = "stopout-plan-1"
PLAN_FILE = "plan.json"
_HOMES = {"PlanRecord": "record", "read_plan": "reading", "summarise": "writing"}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
