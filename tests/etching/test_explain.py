"""Each formula that `bath --explain` shows, worked out with the numbers that it shows."""

from __future__ import annotations

import math
import re

import pytest

from etching.test_amounts import ALUMINIUM, COPPER, planned
from etching.test_vessel import cell_plan
from stopout.etching import BathUse, bath_strength
from stopout.etching.bath.amounts import ceiling_g_per_l
from stopout.etching.bath.electrolytic import cell_pair
from stopout.etching.explain import explain
from stopout.tables import load_cell
from stopout.values import Measured

SHAPE = {"opening_area_mm2": 1200.0, "opening_edge_mm": 800.0, "parts": 12, "holes": 5}
CELL = cell_plan(quantity=3, use=BathUse(plates_at_once=3))
MILD_STEEL = cell_pair(
    load_cell("mild-steel", "sodium-chloride")[0], CELL.electro, plates_out=False
)
STOCK = bath_strength(COPPER.etchant, 42.0, "degBe")
PLANS = {
    "lye": (ALUMINIUM, planned(quantity=3)),
    "copper of stock": (COPPER, planned("copper", use=BathUse(stock=STOCK))),
    "used": (ALUMINIUM, planned(quantity=2, use=BathUse(dissolved_g_per_l=5.0, volume_l=2.0))),
    "current": (MILD_STEEL, CELL),
    "known rate": (COPPER, planned("copper", rate_um_per_min=Measured(value=2.0, sd=0.3))),
}
# What is worked out for every bath, in the order of the work.
ALWAYS = [
    "undercut per edge", "metal removed, one piece", "weight lost, one piece",
    "metal, all pieces ordered", "heat", "time", "bath for the heat", "bath for the metal",
    "bath that covers", "bath to pour", "how much one batch warms it",
]  # fmt: skip
# The units that the numbers carry, longest first.
UNITS = re.compile(
    r"(?<=[\d)]) ?(kJ/\(L K\)|um/min|mL/min|L/min|g/cm3|kJ/mol|g/mol|C/mol|g/L"
    r"|mm3|mol|min|mm|um|mL|kJ|Ah|K|g|L|C|A|s)(?![\w])"
)


def reckoned(numbers):
    """The value of a line of numbers: x is times, ^ a power."""
    plain = UNITS.sub("", numbers).replace(" x ", " * ").replace("^", "**")
    assert re.fullmatch(r"[-+*/().\de ]+", plain), numbers
    return eval(plain)


def shown(result):
    return float(re.match(r"[-+.\de]+", result).group())


@pytest.mark.parametrize("name", PLANS)
def test_the_bath_that_covers_is_stated_with_the_lengths_that_give_it(name):
    plan = PLANS[name][1]
    (stated,) = [value for value in plan.values if value.name == "bath that covers"]
    sides = [float(side) for side in re.findall(r"([\d.]+) mm", stated.source)]
    if plan.pour.is_proposed:
        width, height = 100.0, 60.0  # the blank
        sides = [width + sides[0], height + sides[1], sides[2]]
    assert shown(stated.value) == pytest.approx(math.prod(sides) * 1e-6, rel=1e-3)


@pytest.mark.parametrize("name", PLANS)
def test_the_numbers_give_the_result_that_stands_beside_them(name):
    pair, plan = PLANS[name]
    rows = explain(pair, plan, **SHAPE)
    found = {}
    for row in rows:
        numbers = row.numbers.split(";")[0]
        if row.what == "bath to pour":
            continue
        # Cubic millimetres into litres; the rest is as it stands.
        factor = 1e-6 if row.what == "bath that covers" else 1.0
        found[row.what] = shown(row.result)
        # Four digits each.
        assert reckoned(numbers) * factor == pytest.approx(shown(row.result), rel=3e-3), row
    assert found["weight lost, one piece"] == pytest.approx(plan.metal_per_piece_g, rel=1e-3)
    assert found["heat"] == pytest.approx(plan.heat_kj, rel=1e-3)
    assert found["bath that covers"] == pytest.approx(plan.pour.cover_l, rel=1e-3)
    asked = [row.what for row in rows]
    assert [what for what in asked if what in ALWAYS] == ALWAYS
    assert found["time"] == pytest.approx(plan.time_s / (1 if plan.electro else 60), rel=1e-3)
    for what in ("share of the reagent used up (x)", "time with the bath ageing"):
        assert (what in asked) == (plan.electro is None)
    start, end = plan.pour.start_g_per_l, plan.pour.end_g_per_l
    if plan.electro is None:
        left = ceiling_g_per_l(pair, plan.strength.g_per_l) - start
        assert found["share of the reagent used up (x)"] == pytest.approx(
            (end - start) / left, rel=1e-3
        )
    # A number that is not known is not told.
    assert not any(re.search(r"\bnan\b", one.message) for one in plan.findings)
    poured = next(row for row in rows if row.what == "bath to pour")
    assert shown(poured.result) == pytest.approx(plan.bath_fill_l, rel=1e-3)
    assert found["how much one batch warms it"] == pytest.approx(plan.pour.rise_k, rel=1e-3)
    assert found["bath for the heat"] == pytest.approx(plan.pour.heat_l, rel=1e-3)
    assert ("peak flow of gas" in asked) == (plan.gas_l > 0)
    assert (f"{pair.etchant.reagent} used up" in asked) == (plan.reagent_g > 0)
    assert ("stock solution" in asked) == (plan.use.stock is not None)
    assert ("charge, pieces in the bath together" in asked) == (plan.electro is not None)
    assert sum(what.startswith("neutralised by") for what in asked) == len(plan.neutralising)
