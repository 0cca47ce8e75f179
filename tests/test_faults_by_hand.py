"""Faults once put in by hand still have their place in the code, and tests that ought to notice.

They are tried by `tests/bench/mutate_code.py by-hand`.
"""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
LISTED = TOP / "tests" / "bench" / "mutate_code_by_hand.toml"
FAULTS = tomllib.loads(LISTED.read_text(encoding="utf-8"))["fault"]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault["fault"])
def test_a_fault_can_be_put_in_at_one_place_and_still_parses(fault):
    text = (TOP / "src" / "stopout" / fault["file"]).read_text(encoding="utf-8")
    assert text.count(fault["was"]) == 1
    ast.parse(text.replace(fault["was"], fault["is"]))
    assert fault["tests"]
    assert all((TOP / name).exists() for name in fault["tests"])
