"""Job and Plan records, and the one road from the first to the second.

The names are looked up on first use: whoever only reads a job file need not load the planner.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.planning.knowledge import Knowledge
    from stopout.planning.plan import ClearingNumbers, CoatPlan, MaskNumbers, Plan, file_names
    from stopout.planning.road.whole import plan_job

__all__ = [
    "ClearingNumbers",
    "CoatPlan",
    "Knowledge",
    "MaskNumbers",
    "Plan",
    "file_names",
    "plan_job",
]

_HOMES = {
    "ClearingNumbers": "plan",
    "CoatPlan": "plan",
    "Knowledge": "knowledge",
    "MaskNumbers": "plan",
    "Plan": "plan",
    "file_names": "plan",
    "plan_job": "road.whole",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
