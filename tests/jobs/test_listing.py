"""The keys of the job file as a program sees them: enough to make a control for each."""

from __future__ import annotations

import dataclasses

import pytest

from stopout import job_keys
from stopout.jobs.model import JOB_FILE
from stopout.units import QUANTITIES, parse_quantity

KEYS = {f"{key.table}.{key.name}": key for key in job_keys()}


def test_every_key_of_the_definition_is_listed_with_meaning_and_example():
    assert set(KEYS) == {f"{name}.{k.name}" for name, table in JOB_FILE.walk() for k in table.keys}
    assert all(key.meaning and key.takes and key.example is not None for key in KEYS.values())


@pytest.mark.parametrize("name", [n for n, key in KEYS.items() if key.kind == "quantity"])
def test_a_quantity_has_its_units_and_the_usual_lies_within_the_possible(name):
    key = KEYS[name]
    assert key.units
    if key.usual is None:
        return
    ends = [end for end in (key.least, *key.usual, key.most) if end]
    numbers = [value_of(end, key.units[0]) for end in ends]
    assert numbers == sorted(numbers), ends


def value_of(text, unit):
    quantity = next(q for q in QUANTITIES.values() if q.unit == unit)
    return parse_quantity(text, quantity.name)[0]


def test_what_a_control_needs_is_there():
    speed, side, way = KEYS["clearing.speed"], KEYS["blank.worked_side"], KEYS["machine.power_word"]
    assert (speed.units[0], speed.least, speed.usual) == (
        "mm/s",
        "0.01 mm/s",
        ("0.5 mm/s", "1000 mm/s"),
    )
    assert (side.kind, side.choices, side.is_required) == ("choice", ("front", "back"), True)
    assert "control's settings" in way.find
    assert KEYS["blank.hole.diameter"].is_listed
    assert KEYS["machine.spot"].places == 2


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
