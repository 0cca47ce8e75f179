"""The brass valve tag of the demo, planned from its files and printed."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from sheet.sheet_jobs import Printed, page_texts, squeezed
from stopout.artwork import open_artwork
from stopout.jobs import read_job
from stopout.library.knowledge import knowledge_for
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.sheet import read_sheet
from stopout.sheet.words import significant

DEMO = Path(__file__).parents[2] / "demo" / "valve-tag"


@cache
def printed():
    """plan.json's content, and the sheet's files."""
    job = read_job(DEMO / "valve-tag.toml")
    drawing = open_artwork(DEMO / job.artwork.file, job.artwork, job.blank)
    made = plan_job(job, drawing, knowledge_for(job))
    return summarise(made), Printed(made)


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("bath_l", "L"),
        ("bath_cover_l", "L"),
        ("metal_removed_g", "g"),
        ("metal_per_piece_g", "g"),
        ("reagent_g", "g"),
        ("reagent_charge_g", "g"),
        ("heat_kj", "kJ"),
    ],
)
def test_the_amounts_of_plan_json_are_on_the_sheet(key, unit):
    summary, made = printed()
    printed_text = page_texts(made["sheet.pdf"]) + page_texts(made["sheet-annex.pdf"])
    text = squeezed(" ".join(printed_text))
    assert f"{significant(summary['etch'][key])}{unit}" in text


def test_the_pictures_kept_with_the_sheet_are_small():
    _, made = printed()
    assert len(made["sheet.json"]) < 250_000
    sheet, _ = read_sheet(made["sheet.json"])
    assert 30 < len(sheet.steps) < 60
