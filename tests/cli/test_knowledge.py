"""What the tables make of a job: blanks that cannot be worked as asked."""

from __future__ import annotations

import pytest

from jobmaker import LYE, make_job, plate
from jobs.job_texts import PLATE, SIGN, edited
from stopout.cli.knowledge import knowledge_for
from stopout.errors import JobError, TableError
from stopout.jobs import read_job


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
