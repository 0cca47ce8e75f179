"""plan.json: its keys and types, and its numbers recomputed from the written program.

The definitions are those of the project's plan.json contract; the motion rule is re-implemented in
plain_reading, one vertex at a time.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, box

from jobmaker import LYE, MACHINE, MARK, UNDERCUT, make_job, mark, plan
from planning.plain_reading import (
    Step,
    cleared_raster,
    dose_ratios,
    fill_lines,
    lit,
    read_steps,
    time_to_last_mark,
)
from shapes import glyph_f
from stopout.job.record import Blank, Coat, Shows
from stopout.plan_file import summarise
from stopout.values import Measured

NUMBER = (int, float)
TEXT = str
MAYBE_TEXT = (str, type(None))
FINDING = {
    "code": TEXT,
    "level": TEXT,
    "at_mm": (list, type(None)),
    "message": TEXT,
    "remedy": TEXT,
}
VALUE = {"name": TEXT, "value": TEXT, "kind": TEXT, "grade": MAYBE_TEXT, "source": TEXT}
MASK = dict.fromkeys(("area_mm2", "narrowest_opening_mm", "narrowest_land_mm"), NUMBER)
CLEARING = {
    "mark_mm": [NUMBER],
    "line_direction": TEXT,
    "passes": int,
    **dict.fromkeys(
        (
            "reach_mm",
            "spacing_mm",
            "power_fraction",
            "speed_mm_s",
            "outline_speed_mm_s",
            "dose_ratio_max",
            "cleared_length_mm",
            "travel_length_mm",
            "time_s",
            "time_one_direction_s",
            "time_floor_s",
            "area_floor_s",
        ),
        NUMBER,
    ),
}
OUTCOME = {
    **dict.fromkeys(("lost", "merged", "widened"), int),
    **dict.fromkeys(
        (
            "area_mm2",
            "worst_outside_mm",
            "worst_outside_unwidened_mm",
            "worst_inside_mm",
            "finished_land_mm",
        ),
        NUMBER,
    ),
}
ETCH = {
    "etchant": TEXT,
    **dict.fromkeys(
        (
            "depth_mm",
            "rate_um_per_min",
            "time_s",
            "etched_area_mm2",
            "metal_removed_g",
            "gas_l",
            "heat_kj",
            "bath_l",
            "bath_cover_l",
            "reagent_g",
            "reagent_charge_g",
        ),
        NUMBER,
    ),
}
CONTRACT = {
    "format": TEXT,
    "job": {"name": TEXT, "revision": TEXT, "quantity": int, "job_sha256": TEXT},
    "artwork": {
        "file": TEXT,
        "sha256": TEXT,
        "width_mm": NUMBER,
        "height_mm": NUMBER,
        "area_mm2": NUMBER,
    },
    "orientation": {"worked_side": TEXT, "mirrored": bool},
    "undercut_mm": NUMBER,
    "undercut_spread_mm": NUMBER,
    "etch_factor": NUMBER,
    "coats": [
        {
            "coat": int,
            "mask": {"openings": int, **MASK},
            "clearing": CLEARING,
            "outcome": OUTCOME,
            "files": {"mask_svg": TEXT, "mask_png": TEXT, "program": MAYBE_TEXT},
        }
    ],
    "etch": ETCH,
    "findings": [FINDING],
    "values": [VALUE],
    "files": {
        "preview": TEXT,
        "sheet_pdf": MAYBE_TEXT,
        "sheet_html": MAYBE_TEXT,
        "bounds": MAYBE_TEXT,
    },
}


def faults(value, contract, at="plan"):
    """What of the contract a value breaks: keys left out, and types."""
    if isinstance(contract, dict):
        if not isinstance(value, dict):
            return [f"{at} is no table"]
        found = [f"{at}.{key} is missing" for key in contract if key not in value]
        for key in contract.keys() & value.keys():
            found += faults(value[key], contract[key], f"{at}.{key}")
        return found
    if isinstance(contract, list):
        if not isinstance(value, list):
            return [f"{at} is no list"]
        return [f for k, item in enumerate(value) for f in faults(item, contract[0], f"{at}[{k}]")]
    wrong_bool = isinstance(value, bool) and contract is not bool
    return [] if isinstance(value, contract) and not wrong_bool else [f"{at} is {value!r}"]


SHAPE = glyph_f(2.0, 2.0, height=6.0, stroke=0.9).union(Point(9, 5).buffer(1.5, quad_segs=64))
OTHERS = {
    "round mark": {},
    "constant power": {"machine": {"power_follows_speed": False}},
    "two passes": {"clearing": {"passes": 2}},
    "along y": {"clearing": {"line_direction": "y", "mark_mm": mark(0.07, 0.11)}},
    "crossed": {"clearing": {"line_direction": "crossed"}},
    "quick": {"clearing": {"speed_mm_s": 60.0}},
    "words to 255": {"machine": {"power_word": 255.0, "beam_on": "M4"}},
}


@pytest.fixture(scope="module", params=sorted(OTHERS))
def written(request):
    """A plan, its plan.json as read back, and its program as read word by word."""
    made = plan(SHAPE, make_job(**OTHERS[request.param]))
    data = json.loads(json.dumps(summarise(made)))
    return made, data, read_steps(made.coats[0].program, made.job.machine)


def test_every_key_of_the_contract_is_there_with_its_type(written):
    _, data, _ = written
    assert faults(data, CONTRACT) == []
    assert data["format"] == "stopout-plan-1"
    assert {finding["level"] for finding in data["findings"]} <= {"note", "caution", "stop"}
    kinds = {"given", "measured", "published", "computed", "practice", "memory"}
    assert {value["kind"] for value in data["values"]} <= kinds
    assert {value["grade"] for value in data["values"]} <= {"A", "B", "C", "D", None}
    assert data["coats"][0]["files"] == {
        "mask_svg": "mask-1.svg",
        "mask_png": "mask-1.png",
        "program": "clear-1.nc",
    }


def test_all_numbers_are_finite(written):
    _, data, _ = written
    json.dumps(data, allow_nan=False)


def test_cleared_and_travel_lengths_are_those_of_the_written_program(written):
    _, data, steps = written
    clearing = data["coats"][0]["clearing"]
    on = sum(step.length for step in steps if step.is_on)
    off = sum(step.length for step in steps if not step.is_on)
    assert clearing["cleared_length_mm"] == pytest.approx(on, rel=1e-5)
    assert clearing["travel_length_mm"] == pytest.approx(off, rel=1e-5)


def test_the_time_is_that_of_the_motion_rule_applied_one_vertex_at_a_time(written):
    made, data, steps = written
    took = time_to_last_mark(steps, made.job.machine)
    assert data["coats"][0]["clearing"]["time_s"] == pytest.approx(took, rel=1e-4)


def test_the_floors_are_as_defined(written):
    made, data, steps = written
    clearing, job = data["coats"][0]["clearing"], made.job
    on = sum(step.length for step in steps if step.is_on)
    assert clearing["time_floor_s"] == pytest.approx(on / job.clearing.speed_mm_s, rel=1e-5)
    across = clearing["mark_mm"][0 if clearing["line_direction"] == "y" else 1]
    area = data["coats"][0]["mask"]["area_mm2"]
    floor = job.clearing.passes * area / (across * job.clearing.speed_mm_s)
    assert clearing["area_floor_s"] == pytest.approx(floor, rel=1e-4)
    assert clearing["time_s"] > clearing["time_floor_s"] * 0.999
    assert clearing["time_floor_s"] > clearing["area_floor_s"]


def test_the_largest_dose_is_that_of_the_written_program(written):
    made, data, steps = written
    job = made.job
    _, most = dose_ratios(
        steps, job.machine, power=job.clearing.power, speed=job.clearing.speed_mm_s
    )
    # S words have three figures and more.
    assert data["coats"][0]["clearing"]["dose_ratio_max"] == pytest.approx(most, rel=1e-3)


def test_the_mask_s_area_is_that_of_a_brute_force_sweep(written):
    _, data, steps = written
    coat = data["coats"][0]
    done, _ = cleared_raster(lit(steps), coat["clearing"]["mark_mm"], (0, 0), (12, 10))
    # The raster errs by less than a hundredth of a pixel along each edge, on the average.
    assert coat["mask"]["area_mm2"] == pytest.approx(done.sum() * 0.005**2, rel=1e-3)


def one_way(steps, job, along):
    """The plain way by its definition, from the fill lines that the program has."""
    axis = 0 if along == "x" else 1
    lines = fill_lines(steps, along)
    height = np.array([step.a[1 - axis] for step in lines])
    machine, speed = job.machine, job.clearing.speed_mm_s
    run_up = speed**2 / (2 * machine.acceleration_mm_s2)
    at, path = (0.0, 0.0), []

    def go(to, *, travel, power=0.0):
        nonlocal at
        if math.dist(at, to) > 1e-9:
            path.append(Step(at, to, travel, machine.top_speed_mm_s if travel else speed, power))
        at = to

    def place(along_line, across_line):
        return (along_line, across_line) if axis == 0 else (across_line, along_line)

    for h in np.unique(np.round(height, 3)):
        ends = [
            (s.a[axis], s.b[axis]) for s, k in zip(lines, height, strict=True) if abs(k - h) < 2e-3
        ]
        low, high = np.min(ends), np.max(ends)
        go(place(low - run_up, h), travel=True)
        go(place(low, h), travel=False)
        go(place(high, h), travel=False, power=0.3)
        go(place(high + run_up, h), travel=False)
    return path


@pytest.mark.parametrize("along", ["x", "y"])
def test_the_time_one_way_is_that_of_whole_rows_each_begun_anew(along):
    """Two squares side by side and one above: blanks within a row are not skipped."""
    shape = box(2, 2, 4, 4).union(box(7, 2, 9, 4)).union(box(2, 6, 4, 8))
    made = plan(shape, clearing={"line_direction": along})
    clearing = made.coats[0].clearing
    steps = read_steps(made.coats[0].program, MACHINE)
    rows = one_way(steps, made.job, along)
    # The outlines are worked as in the program, if in another order, once the rows are done.
    last_fill = max(k for k, step in enumerate(steps) if step in fill_lines(steps, along))
    rest = next(k for k in range(last_fill, len(steps)) if steps[k].is_travel)
    path = [*rows, replace(steps[rest], a=rows[-1].b), *steps[rest + 1 :]]
    took = time_to_last_mark(path, MACHINE)
    assert clearing.time_one_direction_s == pytest.approx(took, rel=0.02)
    assert clearing.time_one_direction_s > clearing.times.time_s


# Aluminium in lye, by hand. Rate: 16.667 um/min at 80 degC and 100 g/L with 46 kJ/mol (Arrhenius;
# R = 8.314462618 J/(mol K), CODATA 2018). Molar masses: IUPAC 2021 (Al 26.9815, Na 22.9898,
# O 15.999, H 1.008). Reaction: 2 Al + 2 NaOH + 6 H2O -> 2 Na[Al(OH)4] + 3 H2. Density 2.70 g/cm3
# (CRC Handbook). 414.9 kJ and 27.03 g/L follow from the worked panel that
# tests/reference/test_etch_worked_panel.py holds: 0.972 g give 14.95 kJ; 0.358 L at a rise of 10 K.
def test_the_etch_numbers_of_a_plain_rectangle_are_those_reckoned_by_hand():
    quantity = 4
    made = plan(box(2, 2, 8, 7), make_job(quantity=quantity))
    etch = summarise(made)["etch"]
    width, height, round_ = 6 - 2 * UNDERCUT, 5 - 2 * UNDERCUT, MARK / 2
    area = width * height - (4 - math.pi) * round_**2
    edge = 2 * (width + height) - (8 - 2 * math.pi) * round_
    depth = 0.06
    volume = area * depth + math.pi / 4 * UNDERCUT * depth * edge
    volume += 2 / 3 * math.pi * UNDERCUT**2 * depth
    metal = quantity * volume * 2.70e-3
    mol = metal / 26.9815
    rate = 16.667 * math.exp(-46_000 / 8.314462618 * (1 / 313.15 - 1 / 353.15))
    assert rate == pytest.approx(2.25, abs=0.01)
    assert etch["rate_um_per_min"] == pytest.approx(rate, rel=1e-3)
    assert etch["time_s"] == pytest.approx(60 * 60 / rate, rel=1e-3)
    assert etch["depth_mm"] == depth
    assert etch["etched_area_mm2"] == pytest.approx(quantity * area, rel=1e-4)
    assert etch["metal_removed_g"] == pytest.approx(metal, rel=2e-4)
    assert etch["gas_l"] == pytest.approx(1.5 * mol * 0.08205737 * 298.15, rel=5e-4)
    assert etch["reagent_g"] == pytest.approx(mol * (22.9898 + 15.999 + 1.008), rel=5e-4)
    assert etch["heat_kj"] == pytest.approx(metal * 14.95 / 0.972, rel=2e-3)
    assert etch["bath_l"] == pytest.approx(metal * 0.358 / 0.972, rel=3e-3)
    assert etch["reagent_charge_g"] == pytest.approx(100 * etch["bath_l"], rel=1e-4)
    assert etch["bath_cover_l"] == pytest.approx(52 * 50 * 15e-6, rel=1e-4)


def test_the_amounts_go_with_the_quantity_and_the_times_do_not():
    one = summarise(plan(box(2, 2, 8, 7), make_job(quantity=1)))
    five = summarise(plan(box(2, 2, 8, 7), make_job(quantity=5)))
    for key in ("etched_area_mm2", "metal_removed_g", "gas_l", "heat_kj", "reagent_g", "bath_l"):
        assert five["etch"][key] == pytest.approx(5 * one["etch"][key], rel=1e-5)
    assert five["etch"]["time_s"] == one["etch"]["time_s"]
    assert five["coats"] == one["coats"]


def test_a_measured_rate_is_taken_as_given():
    etch = replace(LYE, rate_um_per_min=Measured(value=2.4, sd=0.2))
    data = summarise(plan(box(2, 2, 8, 7), etch=etch))
    assert data["etch"]["rate_um_per_min"] == 2.4
    assert data["etch"]["time_s"] == pytest.approx(1500)
    (value,) = [value for value in data["values"] if value["name"] == "etch rate"]
    assert value["kind"] in ("given", "measured")


def sign_job():
    blank = Blank(
        material="acrylic-cast",
        width_mm=12.0,
        height_mm=10.0,
        thickness_mm=3.0,
        worked_side="back",
    )
    coats = (
        Coat(paint="acrylic-lacquer", colour="black", shows=Shows(kind="rest")),
        Coat(paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="dark")),
    )
    return make_job(blank=blank, coats=coats, etch=None)


def test_a_sign_has_no_etch_and_is_mirrored():
    data = summarise(plan(SHAPE, sign_job()))
    assert data["etch"] is None
    assert data["undercut_mm"] == 0
    assert data["orientation"] == {"worked_side": "back", "mirrored": True}
    # Nothing is etched, so there is no factor: null, as the etch itself.
    contract = CONTRACT | {"etch": type(None), "etch_factor": (int, float, type(None))}
    assert faults(data, contract) == []
    assert [coat["coat"] for coat in data["coats"]] == [1]


def test_a_stopped_plan_names_no_program_and_no_bounds():
    data = summarise(plan(box(2, 2, 8, 2.1), limits={"too_thin": "stop"}))
    assert data["coats"][0]["files"]["program"] is None
    assert data["files"]["bounds"] is None
    assert faults(data, CONTRACT) == []


def test_findings_come_stops_first_and_each_once():
    made = plan(box(2, 2, 8, 2.1).union(box(2, 4, 14, 8)), limits={"too_thin": "stop"})
    rank = [["stop", "caution", "note"].index(str(f.level)) for f in made.findings]
    assert rank == sorted(rank)
    assert len(set(made.findings)) == len(made.findings)
