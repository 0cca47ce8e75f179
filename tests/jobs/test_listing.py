"""The keys of the job file as a program sees them: enough to make a control for each."""

from __future__ import annotations

import dataclasses

import pytest

from stopout import job_keys
from stopout.jobs.keys.model import JOB_FILE
from stopout.units import QUANTITIES, parse_quantity


def by_name():
    return {f"{key.table}.{key.name}": key for key in job_keys()}


@pytest.fixture(scope="module")
def keys():
    return by_name()


def test_every_key_of_the_definition_is_listed_with_meaning_and_example(keys):
    assert set(keys) == {f"{name}.{k.name}" for name, table in JOB_FILE.walk() for k in table.keys}
    assert all(key.meaning and key.takes and key.example is not None for key in keys.values())


@pytest.mark.parametrize("name", [n for n, key in by_name().items() if key.kind == "quantity"])
def test_a_quantity_has_its_units_and_the_usual_lies_within_the_possible(name, keys):
    key = keys[name]
    assert key.units
    if key.usual is None:
        return
    ends = [end for end in (key.least, *key.usual, key.most) if end]
    numbers = [value_of(end, key.units[0]) for end in ends]
    assert numbers == sorted(numbers), ends


def value_of(text, unit):
    quantity = next(q for q in QUANTITIES.values() if q.unit == unit)
    return parse_quantity(text, quantity.name)[0]


def test_what_a_control_needs_is_there(keys):
    speed, side, way = keys["clearing.speed"], keys["blank.worked_side"], keys["machine.power_word"]
    assert (speed.units[0], speed.least, speed.usual) == (
        "mm/s",
        "0.01 mm/s",
        ("0.5 mm/s", "1000 mm/s"),
    )
    assert (side.kind, side.choices, side.is_required) == ("choice", ("front", "back"), True)
    assert "control's settings" in way.find
    assert keys["blank.hole.diameter"].is_listed
    assert not side.is_listed
    assert (keys["machine.spot"].places, keys["machine.bed"].places, side.places) == (2, 2, 1)
    passes, ratio = keys["clearing.passes"], keys["clearing.dose_ratio"]
    assert (passes.kind, passes.least, passes.most, passes.usual) == (
        "count",
        "1",
        "100",
        ("1", "20"),
    )
    assert passes.units == ()
    assert (ratio.kind, ratio.least, ratio.most, ratio.usual) == (
        "number", "1.01", "200", ("1.15", "20")
    )  # fmt: skip
    strength, temperature = keys["etch.strength"], keys["etch.temperature"]
    assert (strength.kind, temperature.kind) == ("quantity", "quantity")
    assert {"g/L", "degBe"} <= set(strength.units)
    assert temperature.units[0] == "degC"
    assert len(set(speed.units)) == len(speed.units) > 2
    assert (keys["blank.material"].kind, keys["blank.material"].choices) == (
        "entry",
        ("materials",),
    )
    assert (keys["artwork.fonts"].kind, keys["artwork.position"].kind) == ("other", "other")
    assert (keys["job.name"].is_required, keys["job.name"].default) == (True, None)
    assert (keys["job.quantity"].is_required, keys["job.quantity"].default) == (False, 1)
    assert keys["artwork.may_be_cut"].kind == "yes-or-no"


def test_a_record_that_is_made_without_a_file_has_the_job_files_defaults():
    different = []
    for name, table in JOB_FILE.walk():
        if not dataclasses.is_dataclass(table.record):
            continue
        held = {f.name: f.default for f in dataclasses.fields(table.record)}
        for key in table.keys:
            if key.is_required or key.default is None or held[key.field] is dataclasses.MISSING:
                continue
            read = key.form.read(key.default)
            if (key.turn(read) if key.turn else read) != held[key.field]:
                different.append(f"{name}.{key.name}")
    assert different == []


def test_what_has_a_number_an_axis_has_two_places(keys):
    both = {name for name, key in keys.items() if key.places == 2}
    assert {"clearing.mark", "coat.mark", "machine.beam_lag", "machine.play"} <= both
    assert {"machine.spot", "machine.bed", "bath.tray"} <= both
    assert {key.places for key in keys.values()} == {1, 2, 4}
    assert keys["clearing.speed"].places == 1
