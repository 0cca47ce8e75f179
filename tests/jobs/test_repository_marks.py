"""Every mark in the repository's jobs is one that its spot can make from one threshold."""

import re
from pathlib import Path

import pytest

from stopout.clearing import radius_mm
from stopout.clearing.beam.mark import hold_against_spot
from stopout.jobs.read import read_job

TOP = Path(__file__).parents[2]
# Has wrong values on purpose.
WRONG = {"many-mistakes.toml"}
FILES = sorted(
    path
    for path in (
        *TOP.glob("demo/**/*.toml"),
        *TOP.glob("src/**/*.toml"),
        *TOP.glob("tests/**/*.toml"),
    )
    if "[machine]" in path.read_text("utf-8") and path.name not in WRONG
)


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_mark_is_one_that_its_spot_makes(path):
    job = read_job(path)
    spot = job.laser
    radius = tuple(radius_mm(width, spot.spot_means) for width in spot.spot_mm)
    marks = [job.settings.mark_mm, *(coat.mark_mm for coat in job.coats)]
    for mark in (mark for mark in marks if mark is not None):
        check = hold_against_spot(mark, radius)
        assert not check.is_told, f"{mark} beside {check.expected_mm}"


def test_the_marks_of_all_starters_and_demos_are_looked_at():
    folders = {path.parent.name for path in FILES}
    assert {"plate", "sign", "winch-plate", "sluice-board", "visitors-sign"} <= folders


def test_every_job_in_the_documents_gives_such_a_mark():
    told = []
    for page in (TOP / "README.md", *TOP.glob("docs/**/*.md")):
        for block in re.findall(r"```toml\n(.*?)```", page.read_text("utf-8"), re.DOTALL):
            told += [(page.name, *pair) for pair in _marks(block)]
    assert len(told) >= 2
    for page, spot, mark in told:
        check = hold_against_spot(mark, (spot[0] / 2, spot[1] / 2))
        assert not check.is_told, f"{page}: {mark} beside {check.expected_mm}"


def _marks(block):
    """Pairs of 1/e2 spot (the demo's where the block gives none) and mark."""
    from stopout.values import Measured

    spot = re.search(r'^spot = \["([\d.]+) mm", "([\d.]+) mm"\]', block, re.MULTILINE)
    widths = (0.17, 0.12) if spot is None else (float(spot[1]), float(spot[2]))
    axis = r'\[?"([\d.]+) mm"(?:, "[\d.]+ mm"\])?'
    for found in re.finditer(rf"^mark = \[{axis}, {axis}\]", block, re.MULTILINE):
        yield widths, (Measured(value=float(found[1])), Measured(value=float(found[2])))
