"""Stopout: plans for clearing paint resists, etching plates and painting signs.

The names below are the library: what the command line does, as functions. Each is loaded on first
use, so that importing the package costs next to nothing. See docs/reference/python.md.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout import tables
    from stopout.errors import StopoutError
    from stopout.jobs import JobKey, job_keys
    from stopout.library.bath import BathAnswer, BathQuestion, plan_bath
    from stopout.library.book import usual_book
    from stopout.library.equipment import keep_equipment, shop_equipment
    from stopout.library.job_file import JobFile, read_job
    from stopout.library.plan_files import plan_files, write_plan
    from stopout.library.plans import plan_job
    from stopout.library.scans import inspect_scan, read_scan
    from stopout.plan_file import PlanRecord, read_plan
    from stopout.planning.plan import Plan
    from stopout.scans.inspecting.piece import Inspection
    from stopout.scans.reading.whole import Depths, Reading
    from stopout.values import Finding, Level, Measured

_HOMES = {
    "BathAnswer": "library.bath",
    "BathQuestion": "library.bath",
    "Depths": "scans.reading.whole",
    "Finding": "values",
    "Inspection": "scans.inspecting.piece",
    "JobFile": "library.job_file",
    "JobKey": "jobs",
    "Level": "values",
    "Measured": "values",
    "Plan": "planning.plan",
    "PlanRecord": "plan_file",
    "Reading": "scans.reading.whole",
    "StopoutError": "errors",
    "inspect_scan": "library.scans",
    "job_keys": "jobs",
    "keep_equipment": "library.equipment",
    "plan_bath": "library.bath",
    "plan_files": "library.plan_files",
    "plan_job": "library.plans",
    "read_plan": "plan_file",
    "read_job": "library.job_file",
    "read_scan": "library.scans",
    "shop_equipment": "library.equipment",
    "usual_book": "library.book",
    "write_plan": "library.plan_files",
}
__all__ = [
    "BathAnswer",
    "BathQuestion",
    "Depths",
    "Finding",
    "Inspection",
    "JobFile",
    "JobKey",
    "Level",
    "Measured",
    "Plan",
    "PlanRecord",
    "Reading",
    "StopoutError",
    "__version__",
    "inspect_scan",
    "job_keys",
    "keep_equipment",
    "plan_bath",
    "plan_files",
    "plan_job",
    "read_job",
    "read_plan",
    "read_scan",
    "shop_equipment",
    "tables",
    "usual_book",
    "write_plan",
]

__version__ = "0.2.0"


def __getattr__(name: str) -> Any:
    if name == "tables":
        return import_module("stopout.tables")
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
