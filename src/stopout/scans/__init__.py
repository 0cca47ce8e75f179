"""What a scan shows: where a coupon or piece lies in it, and what is measured of it.

The names are looked up on first use: whoever only lists commands need not load the readers.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.scans.inspecting.piece import (
        Inspection,
        Intended,
        inspect_piece,
        undercut_between,
    )
    from stopout.scans.reading.whole import (
        Depths,
        Reading,
        read_coupon,
        spacing_that_clears_mm,
    )

__all__ = [
    "Depths",
    "Inspection",
    "Intended",
    "Reading",
    "inspect_piece",
    "read_coupon",
    "spacing_that_clears_mm",
    "undercut_between",
]

_INSPECTING = {"Inspection", "Intended", "inspect_piece", "undercut_between"}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    home = "inspecting.piece" if name in _INSPECTING else "reading.whole"
    return getattr(import_module(f"{__name__}.{home}"), name)
