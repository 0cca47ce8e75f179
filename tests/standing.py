"""What whole stages made of known shapes when somebody last looked: more or less of it is noticed.

No law says how long a plan takes or how many of its strokes are followed: these numbers only stand.
A plan that takes longer costs the shop's time, and one that is quicker may have left something
out. Where they are to change, look at what is made, then write them anew:

    STOPOUT_STANDING=write pytest tests/clearing/test_standing.py
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

PLACE = Path(__file__).with_name("standing.json")


def stands(name, numbers, *, rel=2e-3, least=2e-3):
    """Hold numbers by name against those that stand, or write them where that is asked."""
    known = json.loads(PLACE.read_text(encoding="utf-8")) if PLACE.exists() else {}
    numbers = {key: float(f"{value:.6g}") for key, value in numbers.items()}
    if os.environ.get("STOPOUT_STANDING") == "write":
        text = json.dumps(known | {name: numbers}, indent=1, sort_keys=True)
        PLACE.write_text(text + "\n", encoding="utf-8")
        return
    assert numbers == pytest.approx(known[name], rel=rel, abs=least), f"{name}: see {__file__}"
