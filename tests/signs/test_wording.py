"""What a sign's plan and sheet say: nothing of metal, no coat that is not sprayed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from sheet.sheet_jobs import made, sign_job
from stopout.job.record import Shows
from stopout.jobs import read_job
from stopout.planning.signs.light import light_findings
from stopout.sheet.model import Step
from stopout.sheet.stages.rework import rework
from stopout.sheet.stages.sign import sign_stages
from stopout.tables import load_resist


def test_rework_of_a_sign_says_nothing_of_metal():
    assert "metal" not in repr(rework(made("sign")))
    assert "goes on through the sheet" in repr(rework(made("sign")))
    assert "bare metal throws the beam back" in repr(rework(made("tag")))


def test_a_last_look_names_only_the_coat_that_goes_on_next():
    plan = made("window")
    stages = sign_stages(plan, defaultdict(str))
    looks = [b.note for b in stages if isinstance(b, Step) and b.text.startswith("Read the sign")]
    assert "gold goes on: a window cannot be cleared cleanly after that" in looks[0]
    assert "the sheet is finished: the windows stay open to light" in looks[1]
    assert not any("clear goes on" in words for words in looks)


@pytest.mark.parametrize("ident", ["hard-ground", "vinyl-film", "dry-film-photoresist"])
def test_what_comes_off_again_is_no_coat_of_a_sign(ident):
    job = sign_job()
    front, back = load_resist(ident), load_resist("acrylic-lacquer")
    (finding,) = light_findings(job, [front, back])
    assert (finding.code, finding.level) == ("coat-temporary", "stop")
    assert light_findings(job, [back, back]) == []
    plate = replace(job, coats=(replace(job.coats[0], shows=None),))
    assert light_findings(plate, [front]) == []


@pytest.mark.parametrize(("fill", "read"), [("#F00", "#ff0000"), ("red", "#ff0000")])
def test_fills_are_written_as_the_artwork_may_write_them(tmp_path, fill, read):
    from importlib import resources

    starter = resources.files("stopout.cli") / "starters" / "sign" / "job.toml"
    text = starter.read_text(encoding="utf-8").replace(
        'shows = "dark"', f'shows = {{ fill = "{fill}" }}'
    )
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    assert read_job(path).coats[1].shows == Shows(kind="fill", value=read)
