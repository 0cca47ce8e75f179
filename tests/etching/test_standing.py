"""What plans of known etches hold, number by number, and what they say: as it stands."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace

import pytest

from etching.test_amounts import ALUMINIUM, COPPER, planned
from etching.test_explain import PLANS
from standing import stands
from stopout.etching import BathUse, bath_strength
from stopout.values import Measured

USED = BathUse(
    tray_mm=(260.0, 180.0), plates_at_once=2, spares=2, coupon_area_mm2=300.0, dissolved_g_per_l=2.0
)
MORE = {
    "brass, a day's work": planned("brass", quantity=9, use=USED, depth_mm=0.2),
    "warm lye": planned(temperature_degc=52.0, rise_k=None, quantity=30, agitation="bubbled"),
    "cold acid": planned("copper", temperature_degc=22.0, rise_k=4.0, etch_factor=None),
    "weak lye": planned(strength=bath_strength(ALUMINIUM.etchant, 60.0, "g/L"), depth_mm=0.3),
    "weak acid": planned("copper", strength=bath_strength(COPPER.etchant, 32.0, "degBe")),
    "given": planned(rate_um_per_min=Measured(value=40.0, sd=9.0), use=BathUse(volume_l=0.2)),
}


def numbers(one, name=""):
    """Yield every number within a record, by its way there, and how often each thing is said."""
    if is_dataclass(one):
        for field in fields(one):
            yield from numbers(getattr(one, field.name), f"{name}.{field.name}")
    elif isinstance(one, (tuple, list)):
        for k, part in enumerate(one):
            key = getattr(part, "code", None) or getattr(part, "name", None) or k
            yield from numbers(part, f"{name}[{key}]")
    elif isinstance(one, (bool, int, float)):
        yield name, one
    elif isinstance(one, str):
        yield f"{name} letters", len(one)


@pytest.mark.parametrize("name", [*PLANS, *MORE])
def test_an_etch_is_planned_as_it_was(name):
    plan = MORE[name] if name in MORE else PLANS[name][1]
    # Where a number comes from is told in words that change with the tables.
    stands(f"etch {name}", dict(numbers(replace(plan, values=()))))
