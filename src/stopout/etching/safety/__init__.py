"""What can hurt at the bench, what guards against it, and what is done when it has happened."""

from stopout.etching.safety.merged import (
    AidLine,
    aid_lines,
    aid_strictest,
    incidents_of,
    never_mixed,
    spill_lines,
    wear_strictest,
)
from stopout.etching.safety.records import (
    DOES_NOT_ARISE,
    ROUTES,
    Aid,
    FirstAid,
    Hazard,
    Incident,
    Limit,
    Route,
    Statement,
    Wear,
)

__all__ = [
    "DOES_NOT_ARISE",
    "ROUTES",
    "Aid",
    "AidLine",
    "FirstAid",
    "Hazard",
    "Incident",
    "Limit",
    "Route",
    "Statement",
    "Wear",
    "aid_lines",
    "aid_strictest",
    "incidents_of",
    "never_mixed",
    "spill_lines",
    "wear_strictest",
]
