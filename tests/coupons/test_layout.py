"""coupon.json to and fro."""

from __future__ import annotations

import json

import pytest

from coupons.coupon_jobs import small
from stopout.coupons import layout_from_dict, layout_to_dict
from stopout.errors import CouponError

# The keys that other readers of the file count on.
CONTRACT = {
    "marks": {"centre_mm", "diameter_mm"},
    "lines": {
        "id",
        "from_mm",
        "to_mm",
        "line_dose_j_per_mm",
        "power_fraction",
        "speed_mm_s",
        "passes",
    },
    "slots": {"id", "from_mm", "to_mm", "opening_mm"},
    "patches": {"id", "box_mm", "spacing_mm"},
    "other": {"box_mm"},
}


@pytest.mark.parametrize("kind", ["clearing", "etch"])
def test_a_coupon_survives_its_file(kind):
    layout = small(kind).layout
    assert layout_from_dict(json.loads(json.dumps(layout_to_dict(layout)))) == layout


@pytest.mark.parametrize("kind", ["clearing", "etch"])
def test_the_file_has_the_keys_of_its_contract(kind):
    data = layout_to_dict(small(kind).layout)
    assert (data["format"], data["kind"]) == ("stopout-coupon-1", kind)
    assert {"width_mm", "height_mm", *CONTRACT} <= set(data)
    for name, keys in CONTRACT.items():
        assert all(keys <= set(item) for item in data[name])
    assert data["lines"] if kind == "clearing" else data["slots"]


def _without_dose(data):
    del data["lines"][0]["line_dose_j_per_mm"]


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda data: data.update(format="stopout-plan-1"), "stopout-plan-1"),
        (lambda data: data.update(kind="drilling"), "drilling"),
        (lambda data: data.update(width_mm="wide"), "width_mm"),
        (lambda data: data.update(marks={}), "marks"),
        (lambda data: data["marks"][0].update(centre_mm=[1]), r"marks\[1\].centre_mm"),
        (lambda data: data["lines"][2].update(passes=0.5), r"lines\[3\].passes"),
        (lambda data: data["lines"][0].update(speed_mm_s=float("nan")), "speed_mm_s"),
        (_without_dose, r"lines\[1\] lacks"),
    ],
)
def test_a_spoiled_file_is_refused_by_one_sentence_that_names_the_place(spoil, says):
    data = json.loads(json.dumps(layout_to_dict(small("clearing").layout)))
    spoil(data)
    with pytest.raises(CouponError, match=says):
        layout_from_dict(data)


def test_keys_of_a_later_version_are_left_alone():
    data = layout_to_dict(small("etch").layout)
    data["later"] = 1
    data["slots"][0]["later"] = 1
    assert layout_from_dict(data) == small("etch").layout
