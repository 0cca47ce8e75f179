"""Every key of the job file, set to a value that is not its default, arrives in the job's record.

The keys are listed from the schema, so that a new key needs a row here.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from functools import reduce
from types import MappingProxyType
from typing import Any, NamedTuple

import pytest

from jobs.job_texts import PLATE, SIGN
from stopout.job.record import Film, Shows, Strength
from stopout.jobs import job_schema, parse_job
from stopout.values import Measured

BEAM = ("machine", "clearing")


def job_without(example, /, *tables, **more):
    """One of the example jobs as data, less some tables, with others changed."""
    data = {name: table for name, table in tomllib.loads(example).items() if name not in tables}
    for name, table in more.items():
        data[name] = data.get(name, {}) | table if isinstance(table, dict) else table
    return data


CURRENT = {
    "etchant": "electrolytic",
    "electrolyte": "sodium-chloride",
    "strength": "100 g/L",
    "temperature": "25 degC",
    "depth": "0.06 mm",
}
BASES = {
    "plate": job_without(PLATE),
    "current": job_without(PLATE, "etch", etch=CURRENT, blank={"material": "copper"}),
    "sign": job_without(SIGN),
    "light": job_without(SIGN, "coat", "registration", light={"edge": "left"}),
    "printed": job_without(
        PLATE, *BEAM, resist={"method": "printed-film"}, film={"resist_acts": "negative"}
    ),
    "set": job_without(
        PLATE,
        text=[{"words": "Sluice", "cap_height": "4 mm"}],
        line=[{"from": ["1 mm", "2 mm"], "to": ["9 mm", "2 mm"], "width": "0.4 mm"}],
        frame=[{"width": "0.6 mm", "margin": "3 mm"}],
        code=[{"content": "7", "module": "0.4 mm"}],
    ),
    "series": job_without(
        PLATE,
        "job",
        job={"name": "Winch plates"},
        text=[{"words": "Sluice {number}", "cap_height": "4 mm"}],
        series={"count": {"number": 3}},
        panel={"gap": "2 mm"},
    ),
    "cut": job_without(PLATE, *BEAM, resist={"method": "cut-film"}, stencil={"bridge": "1.5 mm"}),
}


def pair(*values):
    return tuple(Measured(value=value) for value in values)


class Row(NamedTuple):
    """What is written; where it is in the job, and as what; what it needs and excludes."""

    written: Any
    path: str
    held: Any
    base: str = "plate"
    also: Mapping[str, Any] = MappingProxyType({})
    gone: str = ""


ROWS = {
    "job.name": ("Weir plate", "name", "Weir plate"),
    "job.revision": ("B", "revision", "B"),
    "job.quantity": (7, "quantity", 7),
    "job.spares": (2, "spares", 2),
    "artwork.file": ("other.pdf", "artwork.file", "other.pdf"),
    "artwork.width": ("80 mm", "artwork.width_mm", 80.0),
    "artwork.height": ("33 mm", "artwork.height_mm", 33.0, "plate", {}, "width"),
    "artwork.scale": ("90 %", "artwork.scale", 0.9, "plate", {}, "width"),
    "artwork.resolution": (
        "601 dpi", "artwork.resolution_dpi", 601.0, "plate", {"file": "other.png"}, "width",
    ),
    "artwork.box": ("ink", "artwork.box", "ink"),
    "artwork.dark": ("raised", "artwork.dark", "raised", "plate", {"field": "4 mm"}),
    "artwork.field": ("4 mm", "artwork.field_mm", 4.0),
    "artwork.position": (
        {"left": "4 mm", "bottom": "5 mm"}, "artwork.position_mm", (4.0, 5.0),
    ),
    "artwork.threshold": ("40 %", "artwork.threshold", 0.4),
    "artwork.specks": ("0.1 mm", "artwork.specks_mm", 0.1),
    "artwork.page": (2, "artwork.page", 2),
    "artwork.fonts": (["tide-house.ttf"], "artwork.fonts", ("tide-house.ttf",)),
    "artwork.may_be_cut": (True, "artwork.may_be_cut", True),
    "artwork.leave_out": (["filter", "image"], "artwork.leave_out", ("filter", "image")),
    "blank.material": ("copper", "blank.material", "copper"),
    "blank.width": ("101 mm", "blank.width_mm", 101.0),
    "blank.height": ("61 mm", "blank.height_mm", 61.0),
    "blank.corner_radius": ("2 mm", "blank.corner_radius_mm", 2.0),
    "blank.outline": ("edge.svg", "blank.outline", "edge.svg", "plate", {}, "corner_radius"),
    "blank.thickness": ("1.6 mm", "blank.thickness_mm", 1.6),
    "blank.worked_side": ("back", "blank.is_back_worked", True, "sign"),
    "blank.finish": ("anodised", "blank.finish", "anodised"),
    "blank.hole.at": (["9 mm", "7 mm"], "blank.holes.0.at_mm", (9.0, 7.0)),
    "blank.hole.diameter": ("3.5 mm", "blank.holes.0.diameter_mm", 3.5),
    "resist.paint": ("acrylic-lacquer", "coats.0.paint", "acrylic-lacquer"),
    "resist.colour": ("red", "coats.0.colour", "red"),
    "resist.thickness": ("20 um", "coats.0.thickness_um", 20.0),
    "resist.method": ("cut-film", "method", "cut-film", "cut"),
    "film.resist_acts": (
        "positive", "film", Film(resist_acts="positive"), "printed", {"printed_side": "down"},
    ),
    "film.growth": ("0.01 mm", "film.growth_mm", 0.01, "printed"),
    "film.smallest_opening": ("0.2 mm", "film.smallest_opening_mm", 0.2, "printed"),
    "film.printed_side": ("up", "film.printed_side", "up", "printed"),
    "film.page": (["216 mm", "279 mm"], "film.page_mm", (216.0, 279.0), "printed"),
    "stencil.overrun": ("0.3 mm", "stencil.overrun_mm", 0.3, "cut"),
    "stencil.loose": (True, "stencil.is_loose", True, "cut"),
    "stencil.bridge": ("2 mm", "stencil.bridge_mm", 2.0, "cut"),
    "stencil.margin": ("6 mm", "stencil.margin_mm", 6.0, "cut"),
    "coat.paint": ("epoxy-two-part", "coats.0.paint", "epoxy-two-part", "sign"),
    "coat.colour": ("red", "coats.0.colour", "red", "sign"),
    "coat.shows": ({"id": "sea"}, "coats.0.shows", Shows(kind="id", value="sea"), "sign"),
    "coat.recolour": (True, "coats.0.recolour", True, "sign"),
    "coat.thickness": ("18 um", "coats.0.thickness_um", 18.0, "sign"),
    "coat.power": ("35 %", "coats.0.power", 0.35, "sign"),
    "coat.speed": ("25 mm/s", "coats.0.speed_mm_s", 25.0, "sign"),
    "coat.passes": (2, "coats.0.passes", 2, "sign"),
    "coat.mark": (["0.11 mm", "0.09 mm"], "coats.0.mark_mm", pair(0.11, 0.09), "sign"),
    "registration.error": ("0.2 mm", "registration.error_mm", 0.2, "sign"),
    "registration.placing": ("0.7 mm", "registration.placing_mm", 0.7, "sign"),
    "registration.method": ("through", "registration.method", "through", "sign"),
    "registration.mark.at": (
        ["6 mm", "7 mm"], "registration.marks_mm.0", (6.0, 7.0), "sign",
    ),
    "light.edge": ("top", "light.edge", "top", "light"),
    "light.far": (3, "light.far", 3.0, "light"),
    "machine.emitter": (
        "near-infrared", "machine.wavelength_nm", 1064.0, "plate", {}, "wavelength",
    ),
    "machine.spot": (["0.2 mm", "0.1 mm"], "machine.spot_mm", (0.2, 0.1)),
    "machine.spot_means": ("fwhm", "machine.spot_means", "fwhm"),
    "machine.wavelength": ("455 nm", "machine.wavelength_nm", 455.0),
    "machine.power": ("6 W", "machine.power_w", 6.0),
    "machine.top_speed": ("90 mm/s", "machine.top_speed_mm_s", 90.0),
    "machine.acceleration": ("900 mm/s^2", "machine.acceleration_mm_s2", 900.0),
    "machine.cornering": ("0.03 mm", "machine.cornering_mm", 0.03),
    "machine.step": ("0.01 mm", "machine.step_mm", 0.01),
    "machine.bed": (["410 mm", "420 mm"], "machine.bed_mm", (410.0, 420.0)),
    "machine.blank_at": (["31 mm", "32 mm"], "machine.blank_at_mm", (31.0, 32.0)),
    "machine.power_word": (255, "machine.power_word", 255.0),
    "machine.beam_on": ("M4", "machine.beam_on", "M4"),
    "machine.power_follows_speed": ("control", "machine.power_follows_speed", "control"),
    "machine.beam_at_rest": (True, "machine.beam_at_rest", True),
    "machine.beam_lag": (["0.4 ms", "0.5 ms"], "machine.beam_lag_s", (0.0004, 0.0005)),
    "machine.play": (["0.02 mm", "0.03 mm"], "machine.play_mm", (0.02, 0.03)),
    "machine.units_word": ("G20", "machine.units_word", "G20"),
    "machine.feed_word": ("G94", "machine.feed_word", "G94"),
    "machine.work_offset": ("G55", "machine.work_offset", "G55"),
    "machine.air_on": ("M8", "machine.air_on", "M8", "plate", {"air_off": "M9"}),
    "machine.air_off": ("M9", "machine.air_off", "M9", "plate", {"air_on": "M8"}),
    "machine.beam_off": ("M5", "machine.beam_off", "M5"),
    "machine.end_word": ("M30", "machine.end_word", "M30"),
    "machine.line_ending": ("crlf", "machine.line_ending", "crlf"),
    "machine.longest_line": (80, "machine.longest_line", 80),
    "machine.decimals": (3, "machine.decimals", 3),
    "machine.most_lines_per_second": (200, "machine.most_lines_per_s", 200.0),
    "machine.pointer": ("1 %", "machine.pointer_fraction", 0.01),
    "machine.keep_out.box": (
        ["1 mm", "2 mm", "21 mm", "16 mm"], "machine.keep_outs_mm.0", (1.0, 2.0, 21.0, 16.0),
    ),
    "clearing.power": ("31 %", "clearing.power", 0.31),
    "clearing.speed": ("21 mm/s", "clearing.speed_mm_s", 21.0),
    "clearing.passes": (2, "clearing.passes", 2),
    "clearing.mark": (["0.11 mm", "0.09 mm"], "clearing.mark_mm", pair(0.11, 0.09)),
    "clearing.dose_ratio": (3.3, "clearing.dose_ratio", 3.3, "plate", {}, "mark"),
    "clearing.spacing": ("0.05 mm", "clearing.spacing_mm", 0.05),
    "clearing.line_direction": ("y", "clearing.line_direction", "y"),
    "clearing.dots": ("strokes", "clearing.dots", "strokes"),
    "clearing.focus_step": ("0.2 mm", "clearing.focus_step_mm", 0.2, "plate", {"passes": 2}),
    "etch.etchant": ("ferric-chloride", "etch.etchant", "ferric-chloride"),
    "etch.strength": ("42 degBe", "etch.strength", Strength(value=42.0, unit="degBe")),
    "etch.temperature": ("41 degC", "etch.temperature_degc", 41.0),
    "etch.depth": ("0.05 mm", "etch.depth_mm", 0.05),
    "etch.etch_factor": ([1.2, 0.1], "etch.etch_factor", Measured(value=1.2, sd=0.1)),
    "etch.rate": ("2.4 um/min", "etch.rate_um_per_min", Measured(value=2.4)),
    "etch.rise": ("9 K", "etch.rise_k", 9.0),
    "etch.agitation": ("rocked", "etch.agitation", "rocked"),
    "etch.filled": (True, "etch.is_filled", True),
    "etch.electrolyte": ("copper-sulfate", "etch.electrolyte", "copper-sulfate", "current"),
    "etch.current": ("2 A", "etch.current_a", 2.0, "current"),
    "etch.current_density": ("0.1 A/cm^2", "etch.current_density_a_per_cm2", 0.1, "current"),
    "etch.voltage": ("3 V", "etch.voltage_v", 3.0, "current"),
    "etch.efficiency": ([0.9, 0.05], "etch.efficiency", Measured(value=0.9, sd=0.05), "current"),
    "etch.chromate_acknowledged": (True, "etch.is_chromate_acknowledged", True, "current"),
    "bath.id": ("lye-1", "bath.ident", "lye-1"),
    "bath.dissolved": ("6 g/L", "bath.dissolved_g_per_l", 6.0),
    "bath.volume": ("2 L", "bath.volume_l", 2.0),
    "bath.tray": (["200 mm", "150 mm"], "bath.tray_mm", (200.0, 150.0)),
    "bath.plates_at_once": (2, "bath.plates_at_once", 2),
    "bath.stock": ("50 %", "bath.stock", Strength(value=50.0, unit="%")),
    "bath.coupon_area": ("4 cm^2", "bath.coupon_area_mm2", 400.0),
    "bath.cooled": (True, "bath.is_cooled", True),
    "limits.edge_tolerance": ("0.04 mm", "limits.edge_tolerance_mm", 0.04),
    "limits.narrowest_land": ("0.16 mm", "limits.narrowest_land_mm", 0.16),
    "limits.too_thin": ("stop", "limits.too_thin", "stop"),
    "limits.raised_rule": ("ada-2010", "limits.raised_rule", "ada-2010"),
    "limits.viewing_distance": ("150 cm", "limits.viewing_distance_mm", 1500.0),
    "sheet.second_name": (True, "second_name", True),
    "tables.file": ("ours.toml", "tables_file", "ours.toml", "plate"),
    "budget.time": ("90 s", "budget.time_s", 90.0),
    "budget.memory": ("3 GiB", "budget.memory_gib", 3.0),
    "text.words": ("Weir", "setting.texts.0.words", "Weir", "set"),
    "text.cap_height": ("5 mm", "setting.texts.0.cap_height_mm", 5.0, "set"),
    "text.font": ("Cinzel Bold", "setting.texts.0.font", "Cinzel Bold", "set"),
    "text.at": (["30 mm", "20 mm"], "setting.texts.0.at_mm", (30.0, 20.0), "set"),
    "text.anchor": ("top left", "setting.texts.0.anchor", "top left", "set"),
    "text.align": ("right", "setting.texts.0.align", "right", "set"),
    "text.letter_space": ("0.2 mm", "setting.texts.0.letter_space_mm", 0.2, "set"),
    "text.line_space": ("9 mm", "setting.texts.0.line_space_mm", 9.0, "set"),
    "text.rotate": ("15 deg", "setting.texts.0.turn_deg", 15.0, "set"),
    "text.arc.radius": ("30 mm", "setting.texts.0.arc.radius_mm", 30.0, "set"),
    "text.arc.side": (
        "inside", "setting.texts.0.arc.side", "inside", "set", {"radius": "30 mm"},
    ),
    "text.arc.line": ("cap", "setting.texts.0.arc.line", "cap", "set", {"radius": "30 mm"}),
    "text.fit.width": ("40 mm", "setting.texts.0.fit.width_mm", 40.0, "set"),
    "text.fit.way": ("space", "setting.texts.0.fit.way", "space", "set", {"width": "40 mm"}),
    "text.fit.least": ("3 mm", "setting.texts.0.fit.least_mm", 3.0, "set", {"width": "40 mm"}),
    "text.as": ("raised", "setting.texts.0.becomes", "raised", "set"),
    "line.from": (["2 mm", "2 mm"], "setting.lines.0.from_mm", (2.0, 2.0), "set"),
    "line.to": (["8 mm", "2 mm"], "setting.lines.0.to_mm", (8.0, 2.0), "set"),
    "line.width": ("0.5 mm", "setting.lines.0.width_mm", 0.5, "set"),
    "line.as": ("raised", "setting.lines.0.becomes", "raised", "set"),
    "frame.width": ("0.7 mm", "setting.frames.0.width_mm", 0.7, "set"),
    "frame.margin": ("4 mm", "setting.frames.0.margin_mm", 4.0, "set"),
    "frame.at": (
        ["2 mm", "3 mm"], "setting.frames.0.at_mm", (2.0, 3.0), "set",
        {"size": ["50 mm", "20 mm"]}, "margin",
    ),
    "frame.size": (
        ["50 mm", "20 mm"], "setting.frames.0.size_mm", (50.0, 20.0), "set",
        {"at": ["2 mm", "3 mm"]}, "margin",
    ),
    "frame.corner": ("cut", "setting.frames.0.corner", "cut", "set", {"corner_size": "4 mm"}),
    "frame.corner_size": ("4 mm", "setting.frames.0.corner_mm", 4.0, "set", {"corner": "cut"}),
    "frame.as": ("raised", "setting.frames.0.becomes", "raised", "set"),
    "code.kind": (
        "code-128", "setting.codes.0.kind", "code-128", "set", {"height": "7 mm"},
    ),
    "code.content": ("8", "setting.codes.0.content", "8", "set"),
    "code.module": ("0.3 mm", "setting.codes.0.module_mm", 0.3, "set"),
    "code.height": (
        "7 mm", "setting.codes.0.height_mm", 7.0, "set", {"kind": "code-128"},
    ),
    "code.at": (["40 mm", "9 mm"], "setting.codes.0.at_mm", (40.0, 9.0), "set"),
    "code.anchor": ("bottom", "setting.codes.0.anchor", "bottom", "set"),
    "code.as": ("raised", "setting.codes.0.becomes", "raised", "set"),
    "series.rows": ("tags.csv", "series.rows_file", "tags.csv", "series", {}, "count"),
    "series.key": ("tag", "series.key", "tag", "series", {"rows": "tags.csv"}, "count"),
    "series.count.number": (48, "series.count.number", 48, "series"),
    "series.count.start": (7, "series.count.start", 7, "series"),
    "series.count.step": (2, "series.count.step", 2, "series"),
    "series.count.digits": (4, "series.count.digits", 4, "series"),
    "panel.size": (["300 mm", "200 mm"], "panel.size_mm", (300.0, 200.0), "series"),
    "panel.gap": ("4 mm", "panel.gap_mm", 4.0, "series"),
    "panel.margin": ("6 mm", "panel.margin_mm", 6.0, "series"),
    "panel.count": ([2, 3], "panel.count", (2, 3), "series"),
    "panel.fill": (False, "panel.fills", False, "series", {"count": [2, 3]}),
    "panel.loose": (True, "panel.is_loose", True, "series"),
    "panel.cut_marks": (True, "panel.has_marks", True, "series"),
    "panel.order": ("apart", "panel.order", "apart", "series"),
}  # fmt: skip
# Names of what the shop keeps, which its book fills in: tests/jobs/test_equipment.py.
KEPT = {"machine.name", "limits.name"}
# Keys without which their table, or their base, is nothing: nothing to compare with.
NEEDED = {"blank.worked_side", "resist.method", "tables.file"}


def keys(schema, at=()):
    """Every key that is no table, as its path in the schema."""
    for name, part in schema["properties"].items():
        # A table may stand as the name of what the shop keeps.
        kinds = () if at else part.get("anyOf", ())
        part = next((one for one in kinds if "properties" in one), part)
        inner = part.get("items", part)
        if isinstance(inner, dict) and "properties" in inner:
            yield from keys(inner, (*at, name))
        else:
            yield ".".join((*at, name))


def toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def parsed(data):
    text = "\n".join(f"{name} = {toml(table)}" for name, table in data.items())
    return parse_job(text.encode(), file="job.toml")


def with_key(base, at, row):
    """A copy of the base with one key set: in the first of a list of tables."""
    data = json.loads(json.dumps(base))
    *tables, key = at.split(".")
    table = data
    for name in tables:
        table = table.setdefault(name, [{}] if name == "mark" else {})
        table = table[0] if isinstance(table, list) else table
    table.update(row.also)
    table.pop(row.gone, None)
    table[key] = row.written
    return data


def found(job, path):
    def one(record, name):
        if record is None or (name.isdigit() and int(name) >= len(record)):
            return None
        return record[int(name)] if name.isdigit() else getattr(record, name)

    return reduce(one, path.split("."), job)


def test_every_key_has_its_row():
    assert set(keys(job_schema())) - KEPT == set(ROWS), "give each new key its row in ROWS above"


@pytest.mark.parametrize("at", ROWS)
def test_what_a_key_says_is_what_the_job_holds(at):
    row = Row(*ROWS[at])
    base = BASES[row.base]
    assert found(parsed(with_key(base, at, row)), row.path) == row.held
    if at not in NEEDED:
        assert found(parsed(base), row.path) != row.held
