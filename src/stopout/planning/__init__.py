"""Job and Plan records, and the one road from the first to the second."""

from stopout.planning.plan import ClearingNumbers, CoatPlan, MaskNumbers, Plan
from stopout.planning.road import Knowledge, plan_job
from stopout.planning.shows import front_view
from stopout.planning.summary import file_names, summarise

__all__ = [
    "ClearingNumbers",
    "CoatPlan",
    "Knowledge",
    "MaskNumbers",
    "Plan",
    "file_names",
    "front_view",
    "plan_job",
    "summarise",
]
