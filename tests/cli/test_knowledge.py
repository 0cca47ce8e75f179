"""What the tables make of a job: blanks that cannot be worked as asked."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from jobmaker import LYE, codes, make_job, plan, plate
from jobs.job_texts import PLATE, SIGN, edited
from sheet.sheet_jobs import COATS as SIGN_COATS
from stopout.errors import JobError, TableError
from stopout.job.record import Strength
from stopout.jobs import read_job
from stopout.library.knowledge import knowledge_for
from stopout.values import Level


def refused(folder, text):
    """The mistakes told of a job file."""
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError) as caught:
        knowledge_for(read_job(path), path)
    return [(mistake.field, mistake.line, mistake.message) for mistake in caught.value.mistakes]


def test_metal_worked_on_its_back_is_refused_with_its_line(tmp_path):
    text = edited(SIGN, "^material = .*", 'material = "aluminium"')
    (field, line, message) = refused(tmp_path, text)[0]
    assert field == "blank.worked_side"
    assert text.splitlines()[line - 1].startswith("worked_side")
    assert message == "aluminium is not clear; work it on the front, or name a clear sheet"


def test_plastic_is_not_etched_on_its_front(tmp_path):
    text = edited(PLATE, "^material = .*", 'material = "acrylic-cast"')
    (mistake,) = refused(tmp_path, text)
    assert mistake[0] == "etch.etchant"
    assert "cast acrylic, clear is not a metal and is not etched" in mistake[2]
    assert 'worked_side = "back"' in mistake[2]


def test_without_a_file_the_first_fault_is_raised():
    with pytest.raises(TableError, match=r"brass .* is not clear"):
        knowledge_for(make_job(blank=plate(material="brass", worked_side="back"), etch=None))


@pytest.mark.parametrize(
    ("wavelength_nm", "beam"), [(450.0, "laser-450nm"), (1064.0, "laser-other")]
)
def test_the_hazard_of_the_beam_is_that_of_the_jobs_laser(wavelength_nm, beam):
    job = make_job(machine={"wavelength_nm": wavelength_nm}, etch=LYE)
    hazards = [hazard.ident for hazard in knowledge_for(job).hazards]
    assert [ident for ident in hazards if ident.startswith("laser")] == [beam]


def test_a_bath_that_is_refused_is_a_stop_and_needs_no_table_entry():
    etch = replace(LYE, etchant="nitric-acid", strength=Strength(value=10.0, unit="%"))
    made = plan(box(3, 3, 8, 7), blank=plate(material="zinc"), etch=etch)
    assert codes(made, Level.STOP) == ["nitric-acid"]
    assert made.is_bath_refused
    assert "etch-left-out" in codes(made, Level.NOTE)
    assert made.etch is None
    assert all(coat.program is None for coat in made.coats)


def test_a_paint_of_pvc_is_a_stop_without_an_etch_too():
    coats = tuple(replace(coat, paint="vinyl-film") for coat in SIGN_COATS)
    blank = plate(material="acrylic-cast", worked_side="back", thickness_mm=3.0)
    made = plan(box(3, 3, 8, 7), blank=blank, coats=coats, etch=None)
    assert "vinyl-under-the-beam" in codes(made, Level.STOP)


@pytest.mark.parametrize("finish", ["anodised", "lacquered", "filmed"])
def test_what_covers_the_blank_is_a_finding_and_comes_from_the_table(finish):
    known = knowledge_for(make_job(blank=plate(finish=finish)))
    assert known.finish is not None
    assert (known.finish.ident, known.finish.sort) == (finish, "metal")
    made = plan(box(3, 3, 8, 7), blank=plate(finish=finish))
    assert codes(made).count("finish") == 1


OURS = """
[[pairs.aluminium.sodium-hydroxide.rate]]
agitation = ["tray"]
temperature_degc = 40.0
strength_g_per_l = 100.0
temperature_range_degc = [35.0, 45.0]
strength_range_g_per_l = [90.0, 110.0]
scaled_grade = "B"
rate = { value = 2.6, unit = "um/min", kind = "measured", where = "coupon of 3 May" }
"""


def with_tables(folder, text):
    (folder / "our-tables.toml").write_text(text, encoding="utf-8")
    (folder / "job.toml").write_text(
        PLATE + '\n[tables]\nfile = "our-tables.toml"\n', encoding="utf-8"
    )
    return folder / "job.toml"


def test_a_jobs_own_tables_are_used_and_the_plan_says_whose_they_are(tmp_path):
    path = with_tables(tmp_path, OURS)
    known = knowledge_for(read_job(path), path)
    assert known.pair.rates[0].um_per_min.value == 2.6
    assert known.pair.rates[0].um_per_min.source == "our-tables.toml: coupon of 3 May"
    (finding,) = known.findings
    assert finding.code == "shop-tables"
    assert "replaces pairs.aluminium.sodium-hydroxide.rate" in finding.message
    job = make_job()
    assert knowledge_for(job).pair.rates[0].um_per_min.value != 2.6


@pytest.mark.parametrize("text", ["[pairs", "[hazards.hydrogen]\nname = 'none'\n", None])
def test_what_is_wrong_with_the_shops_tables_is_told_with_the_jobs_line(tmp_path, text):
    path = with_tables(tmp_path, text or "")
    if text is None:
        (tmp_path / "our-tables.toml").unlink()
    with pytest.raises(JobError) as caught:
        knowledge_for(read_job(path), path)
    (mistake,) = caught.value.mistakes
    assert mistake.field == "tables.file"
    assert path.read_text().splitlines()[mistake.line - 1].startswith("file = ")
    assert "our-tables.toml" in mistake.message


def test_a_strength_that_no_bath_can_have_is_refused_with_its_line(tmp_path):
    text = edited(PLATE, "^strength = .*", 'strength = "70 %"')
    (field, line, message) = refused(tmp_path, text)[0]
    assert field == "etch.strength"
    assert text.splitlines()[line - 1].startswith("strength")
    assert "at most 50 % by weight" in message


def test_a_stock_that_no_bath_can_have_is_refused_with_its_line(tmp_path):
    text = edited(PLATE, "^strength = .*", 'strength = "40 %"') + '\n[bath]\nstock = "70 %"\n'
    (field, line, message) = refused(tmp_path, text)[0]
    assert field == "bath.stock"
    assert text.splitlines()[line - 1].startswith("stock")
    assert "at most 50 % by weight" in message
