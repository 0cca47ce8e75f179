"""No key of the job file is dropped on its way to the record: each, changed, changes the job."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace

import pytest

from jobs.job_texts import PLATE
from stopout.errors import JobError
from stopout.jobs import job_schema, parse_job

TABLES = {
    # A table may stand as the name of what the shop keeps.
    name: next((one for one in part.get("anyOf", ()) if "properties" in one), part)
    for name, part in job_schema()["properties"].items()
}


def text_of(data):
    lines = []
    for name, table in data.items():
        if isinstance(table, dict):
            lines.append(f"[{name}]")
            lines += [f"{key} = {value_of(value)}" for key, value in table.items()]
    return "\n".join(lines) + "\n"


def value_of(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {value_of(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(value_of, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def parsed(data):
    return replace(parse_job(text_of(data).encode(), file="job.toml"), sha256="")


BASE = tomllib.loads(PLATE)
# Keys of another route than that of this plate: its own tests set them.
ELSEWHERE = {
    "machine.name",
    "limits.name",
    "blank.worked_side",
    "resist.method",
    "etch.electrolyte",
    "etch.current",
    "etch.current_density",
    "etch.voltage",
    "etch.efficiency",
    "etch.chromate_acknowledged",
}
# Where the example is what the base has, or needs company: another value, what else is then given,
# and what has to go.
OTHER = {
    "machine.emitter": "near-infrared",
    "job.name": "Weir plate",
    "job.revision": "B",
    "job.spares": 2,
    "artwork.file": "other.svg",
    "artwork.resolution": "600 dpi",
    "artwork.width": "80 mm",
    "artwork.box": "ink",
    "artwork.dark": "raised",
    "artwork.position": {"left": "4 mm", "bottom": "5 mm"},
    "artwork.threshold": "40 %",
    "artwork.page": 2,
    "artwork.may_be_cut": True,
    "blank.material": "copper",
    "blank.width": "101 mm",
    "blank.height": "61 mm",
    "blank.corner_radius": "2 mm",
    "blank.thickness": "1.6 mm",
    "blank.finish": "anodised",
    "resist.paint": "nitrocellulose",
    "resist.colour": "red",
    "resist.thickness": "20 um",
    "machine.spot": ["0.2 mm", "0.1 mm"],
    "machine.spot_means": "fwhm",
    "machine.wavelength": "455 nm",
    "machine.power": "6 W",
    "machine.top_speed": "90 mm/s",
    "machine.acceleration": "900 mm/s^2",
    "machine.step": "0.01 mm",
    "machine.bed": ["410 mm", "400 mm"],
    "machine.blank_at": ["31 mm", "30 mm"],
    "machine.beam_on": "M4",
    "machine.power_follows_speed": False,
    "machine.units_word": "G71",
    "machine.line_ending": "crlf",
    "machine.pointer": "1 %",
    "clearing.power": "31 %",
    "clearing.speed": "21 mm/s",
    "clearing.passes": 2,
    "clearing.mark": ["0.11 mm", "0.09 mm"],
    "clearing.spacing": "0.05 mm",
    "clearing.line_direction": "y",
    "clearing.dots": "strokes",
    "etch.etchant": "ferric-chloride",
    "etch.strength": "90 g/L",
    "etch.temperature": "41 degC",
    "etch.depth": "0.05 mm",
    "etch.rate": "2.4 um/min",
    "etch.rise": "9 K",
    "etch.agitation": "rocked",
    "etch.filled": True,
    "limits.edge_tolerance": "0.04 mm",
    "limits.narrowest_land": "0.16 mm",
    "limits.too_thin": "stop",
}
COMPANY = {
    "artwork.dark": {"field": "4 mm"},
    "artwork.resolution": {"file": "other.png"},
    "machine.air_on": {"air_off": "M9"},
    "machine.air_off": {"air_on": "M8"},
    "clearing.focus_step": {"passes": 2},
}
IN_THE_WAY = {
    "artwork.height": "width",
    "artwork.scale": "width",
    "artwork.resolution": "width",
    "blank.outline": "corner_radius",
    "clearing.dose_ratio": "mark",
    "machine.emitter": "wavelength",
}
KEYS = [
    f"{name}.{key}"
    for name, table in TABLES.items()
    for key in table.get("properties", {})
    if name in BASE and f"{name}.{key}" not in ELSEWHERE
]


@pytest.mark.parametrize("at", KEYS)
def test_a_key_that_changes_changes_the_job(at):
    name, key = at.split(".")
    info = TABLES[name]["properties"][key]
    data = json.loads(json.dumps(BASE))
    data[name].update(COMPANY.get(at, {}))
    before = json.loads(json.dumps(data))
    data[name].pop(IN_THE_WAY.get(at, ""), None)
    data[name][key] = OTHER[at] if at in OTHER else info.get("examples", [[]])[0]
    changed = parsed(data)
    try:
        plain = parsed(before)
    except JobError:
        # Its company is nothing without it.
        plain = parsed(BASE)
    assert changed != plain
    if at in IN_THE_WAY:
        # Another value of the same key: what it stands in place of is not all that it changes.
        data[name][key] = AGAIN[at]
        assert parsed(data) != changed


def test_the_table_of_other_values_names_keys_that_there_are():
    assert {*OTHER, *COMPANY, *IN_THE_WAY} <= {*KEYS}
    assert not ELSEWHERE & {*KEYS}


AGAIN = {
    "artwork.height": "33 mm",
    "artwork.scale": "90 %",
    "artwork.resolution": "601 dpi",
    "blank.outline": "third.svg",
    "clearing.dose_ratio": 3.3,
    "machine.emitter": "carbon-dioxide",
}
