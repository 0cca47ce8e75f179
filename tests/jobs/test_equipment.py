"""What the shop keeps by name, put into jobs: the same job as one that gives all of it itself."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from jobs.job_texts import PLATE, SIGN, edited
from stopout.errors import JobError
from stopout.job.shop_numbers import Equipment
from stopout.jobs import parse_job
from stopout.jobs.equipment import equipment_mistakes

BASE = tomllib.loads(PLATE)
DOSE = {"power": "30 %", "speed": "20 mm/s", "mark": ["0.10 mm", "0.087 mm"]}
SHED = {"paint": "epoxy-two-part", "thickness": "28 um", "machine": "bench-laser", **DOSE}


def kept(kind, name, keys, ident=1):
    return Equipment(date="2026-11-20", kind=kind, name=name, keys=keys, ident=ident)


SHOP = (
    kept("machine", "bench-laser", BASE["machine"], 1),
    kept("paint", "shed-black", SHED, 2),
    kept("tray", "large", {"size": ["240 mm", "180 mm"]}, 3),
    kept("limits", "ours", {"edge_tolerance": "0.04 mm"}, 4),
)


def without(text, *tables):
    """The job without some of its tables and what lies in them."""
    parts = text.split("\n[")
    return "\n[".join(p for p in parts if not p.lstrip("[").startswith(tables))


def parsed(text, shop=SHOP):
    return parse_job(text.encode(), file="job.toml", shop=lambda: shop)


def told(text, shop=SHOP):
    with pytest.raises(JobError) as caught:
        parsed(text, shop)
    return {(m.field, m.line): m.message for m in caught.value.mistakes}


def bare(job):
    return replace(job, sha256="", whose=())


@pytest.mark.parametrize("by", ['machine = "bench-laser"\n', '[machine]\nname = "bench-laser"\n'])
def test_a_machine_by_its_name_is_the_machine_given_in_full(by):
    rest = without(PLATE, "machine")
    text = rest + "\n" + by if by.startswith("[") else by + rest
    job = parsed(text)
    assert job.laser.name == "bench-laser"
    nameless = replace(job, machine=replace(job.laser, name=""))
    assert bare(nameless) == bare(parsed(PLATE))
    assert job.source_of("machine.spot") == "the shop's machine bench-laser (shop book, entry 1)"
    assert job.source_of("clearing.power") == "job file"


def test_what_the_job_gives_itself_wins_and_says_so():
    more = '\n[machine]\nname = "bench-laser"\ntop_speed = "90 mm/s"\n'
    job = parsed(without(PLATE, "machine") + more)
    assert job.laser.top_speed_mm_s == 90.0
    assert job.source_of("machine.top_speed") == "job file"
    assert job.source_of("machine.acceleration").startswith("the shop's machine")


def test_a_spot_of_the_jobs_own_does_not_take_the_shops_sense_of_it():
    text = without(PLATE, "machine") + '\n[machine]\nname = "bench-laser"\nspot = "0.1 mm"\n'
    assert [field for field, _ in told(text)] == ["machine.spot_means"]


def test_a_paint_brings_its_film_and_on_its_machine_how_it_is_cleared():
    text = 'machine = "bench-laser"\nresist = "shed-black"\n' + without(
        PLATE, "machine", "resist", "clearing"
    )
    job = parsed(text)
    assert (job.coats[0].paint, job.coats[0].thickness_um) == ("epoxy-two-part", 28.0)
    assert (job.settings.power, job.settings.speed_mm_s) == (0.3, 20.0)
    assert job.source_of("clearing.mark") == "the shop's paint shed-black (shop book, entry 2)"
    # The same paint before another machine says nothing of the dose.
    other = (kept("machine", "big", BASE["machine"]), *SHOP)
    unlike = parsed(text.replace("bench-laser", "big"), other)
    assert unlike.coats[0].thickness_um == 28.0
    assert "clearing.power" not in dict(unlike.whose)
    assert unlike.clearing is None or unlike.clearing.is_chosen


def test_a_job_that_only_says_how_its_lines_run_gets_the_shops_dose():
    rest = without(PLATE, "machine", "resist", "clearing")
    text = f'machine = "bench-laser"\nresist = "shed-black"\n{rest}\n[clearing]\n'
    job = parsed(text + 'spacing = "0.05 mm"\n')
    assert (job.settings.power, job.settings.spacing_mm) == (0.3, 0.05)
    assert parsed(text + "dose_ratio = 3.0\n").settings.mark_mm is None


def test_a_job_that_gives_a_dose_gets_no_part_of_the_shops():
    text = 'machine = "bench-laser"\nresist = "shed-black"\n' + edited(
        without(PLATE, "machine", "resist"), "^mark = .*\n", ""
    )
    job = parsed(text)
    assert job.settings.mark_mm is None
    assert job.source_of("clearing.power") == "job file"


def test_a_signs_coats_take_paints_by_name_too():
    paints = (
        kept("paint", "first", {"paint": "acrylic-lacquer", "machine": "bench-laser", **DOSE}),
        kept("machine", "bench-laser", BASE["machine"]),
    )
    text = 'machine = "bench-laser"\n' + without(SIGN, "machine", "clearing")
    text = text.replace('paint = "acrylic-lacquer"', 'paint = "first"')
    job = parsed(text, paints)
    assert {coat.paint for coat in job.coats} == {"acrylic-lacquer"}
    assert (job.coats[0].power, job.settings.speed_mm_s) == (0.3, 20.0)


def test_a_tray_and_limits_by_name():
    job = parsed('limits = "ours"\n' + without(PLATE, "limits") + '\n[bath]\ntray = "large"\n')
    assert job.bath.tray_mm == (240.0, 180.0)
    assert job.limits.edge_tolerance_mm == 0.04


def test_a_name_that_the_shop_does_not_know_is_told_once_with_what_it_has():
    text = 'machine = "bench-lasr"\n' + without(PLATE, "machine")
    (mistake,) = told(text).items()
    assert mistake[0] == ("machine.name", 1)
    assert "did you mean bench-laser?" in mistake[1]
    assert (
        "it has none, or was left alone; keep it with: stopout shop machine add"
        in told(text, ())[mistake[0]]
    )


def test_what_is_kept_is_held_against_the_job_files_definition():
    assert equipment_mistakes("machine", BASE["machine"]) == []
    assert equipment_mistakes("paint", SHED) == []
    found = {m.field: m.message for m in equipment_mistakes("machine", {"spot": "0.17"})}
    assert 'write "0.17 mm"' in found["spot"]
    assert "control's settings" in found["power_word"]
    assert "machine" in {m.field for m in equipment_mistakes("paint", {"paint": "x", **DOSE})}
    assert "speed" in str(equipment_mistakes("paint", {**SHED, "speed": "20"}))
    assert "edge" in str(equipment_mistakes("limits", {"edge": "1 mm"}))


def test_an_entry_that_cannot_be_is_told_with_its_number_and_no_more():
    spoilt = (
        kept("machine", "bench-laser", {**BASE["machine"], "power": "5.5"}, 7),
        kept("tray", "large", {"sizes": 3}, 8),
        kept("paint", "shed-black", {"paint": 3}, 9),
    )
    text = 'machine = "bench-laser"\nresist = "shed-black"\nbath.tray = "large"\n'
    found = told(text + without(PLATE, "machine", "resist"), spoilt)
    assert {(field, line) for field, line in found} == {
        ("machine.name", 1),
        ("resist.paint", 2),
        ("bath.tray", 3),
    }
    assert 'entry 7) cannot be used: power: "5.5" has no unit' in found["machine.name", 1]
