"""No number outside what can be measured is ever printed, also at the bounds of what is taken.

`tests/bench/bench_extremes.py` goes through every bound of every key; these are the worst of them.
"""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import pytest

from cli.extremes import NOT_MEASURED, faults, texts_of
from cli.shop_files import JOB, here, lay_out
from jobs.model_values import ROADS, as_toml, ends, given, keys, road_of
from stopout.errors import JobError, Mistake, PlanError
from stopout.jobs.forms import Amount, Count, Figure
from stopout.values import Finding, Level
from stopout.wording import measurable

WORST = [
    ("etch", "depth", "1 um"),
    ("etch", "rate", "0.001 um/min"),
    ("bath", "volume", "10000 L"),
    ("machine", "power", "1 mW"),
    ("clearing", "speed", "0.01 mm/s"),
    ("coat", 0, "thickness", "1000 um"),
    ("light", "far", 4),
    ("film", "growth", "1 mm"),
    ("etch", "current_density", "10 A/cm^2"),
]


@pytest.mark.parametrize("worst", WORST, ids=str)
def test_what_a_plan_says_can_be_measured(worst):
    *path, value = worst
    path = tuple(path)
    texts = texts_of(as_toml(given(ROADS[road_of(path)], path, value)))
    assert list(faults(texts)) == []


def test_every_number_of_the_job_model_has_ends_to_be_tried_at():
    numbers = [path for path, key in keys() if isinstance(key.form, Amount | Count | Figure)]
    assert len(numbers) > 40
    assert [path for path in numbers if not ends(dict(keys())[path])] == []


@pytest.mark.parametrize("road", ROADS)
def test_the_jobs_that_values_are_tried_in_are_planned(road):
    assert "refusal" not in texts_of(as_toml(ROADS[road]))


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("4.028e-05 L", "0.00004028 L"),
        ("1.23e+03 mm", "1230 mm"),
        ("-2e-04 mm", "-0.0002 mm"),
        ("8e+29 mm", "more than a million million mm"),
        ("1e-12 g", "less than a millionth g"),
        ("nan um", "an unknown number of um"),
        ("12345678901234.5 s", "more than a million million s"),
        ("of inf mm", "of more than a million million mm"),
        # What is no number, or stands as somebody wrote it, stays.
        ('"nan mm" is not a length', '"nan mm" is not a length'),
        ("inf.svg, nan-plan and info", "inf.svg, nan-plan and info"),
        ("M30, 1/e2 and 0.12 mm", "M30, 1/e2 and 0.12 mm"),
        ("sha256 12e34567890123ab", "sha256 12e34567890123ab"),
    ],
)
def test_a_number_for_a_person_is_one_that_can_be_measured(written, told):
    assert measurable(written) == told


def test_whatever_reaches_a_person_goes_through_it():
    finding = Finding(code="x", level=Level.NOTE, message="is 1e-05 mm", remedy="give 2e+20 mm")
    assert finding.message == "is 0.00001 mm"
    assert finding.remedy == "give more than a million million mm"
    assert str(PlanError("is 1e-05 mm")) == "is 0.00001 mm"
    error = JobError("nan.toml", (Mistake(field="etch.depth", message="is 1e-05 mm", line=3),))
    assert str(error) == "nan.toml:3: etch.depth: is 0.00001 mm"


def test_the_command_speaks_in_one_place_alone():
    """What is printed elsewhere would not go through it."""
    cli = Path(__file__).parents[2] / "src" / "stopout" / "cli"
    others = [path for path in sorted(cli.rglob("*.py")) if path.name != "telling.py"]
    speaks = re.compile(r"(?<![.\w])print\(|\becho\(|\bsecho\(|std(?:out|err)\.write\(")
    assert [path.name for path in others if speaks.search(path.read_text("utf-8"))] == []


FINE = (
    JOB.replace('"0.06 mm"', '"0.001 mm"').replace('"20 mm/s"', '"0.01 mm/s"')
    + """
[bath]
volume = "10000 L"
"""
)
# Each is possible by its key, and together they come to numbers that no shop has.
COMMANDS = (
    "plan tag.toml --out plan --all",
    "plan usual.toml --out usual --quiet",
    "rework usual --box 0,0,24,14 --points 1,1=1.0000001,1;2.1,1=2.1000001,1",
    "rework usual --from-line 9 --json --out again.nc",
    "sheet plan --out sheet.pdf",
    "coupon etch tag.toml --size 32x30 --out coupon",
    "coupon timing tag.toml --out timing",
    "shop timed usual --took 0.001s",
    "shop timed usual --took 1000000000h",
    "shop bath lye mixed --litres 10000L --etchant sodium-hydroxide",
    "shop bath lye etched --metal 0.001g",
    "shop record record.json",
    "shop list",
    "shop show 1",
    "shop show 2",
    "spacing --spot 0.001mm --spot-means 1/e2 --step 0.0001mm --speed 0.01mm/s --wavelength 450nm",
    "spacing --spot 10mm --spot-means fwhm --speed 10000mm/s --wavelength 10um --m2 10000",
    "bath --material aluminium --etchant sodium-hydroxide --area 1e8mm^2 --edge 1e8mm "
    "--depth 0.001mm --strength 0.001g/L --temperature 15degC --size 100000x100000",
)


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """What each command says, on standard output and on standard error."""
    folder = tmp_path_factory.mktemp("fine")
    lay_out(folder, FINE)
    (folder / "usual.toml").write_text(JOB, encoding="utf-8")
    record = {
        "format": "stopout-record-1",
        "date": "2026-11-29",
        "name": "Valve tag",
        "material": "aluminium",
        "etchant": "sodium-hydroxide",
        "strength_g_per_l": 1e-9,
        "temperature_degc": 40,
        "agitation": "tray",
        "depth_mm": 1e-8,
        "time_s": 1e14,
    }
    (folder / "record.json").write_text(json.dumps(record), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STOPOUT_BOOK", str(folder / "book.sqlite"))
        return {line: here(*line.split(), cwd=folder) for line in COMMANDS}, folder


@pytest.mark.parametrize("line", COMMANDS)
def test_what_a_command_says_can_be_measured(told, line):
    ran, _ = told
    done = ran[line]
    assert done.returncode in (0, 1, 2), done.stderr
    assert "internal fault" not in done.stderr
    is_json = "--json" in line
    texts = {"x.json" if is_json else "out": done.stdout, "err": done.stderr}
    assert list(faults(texts)) == []


def test_the_sheet_on_paper_and_the_files_of_a_plan_hold_only_what_can_be_measured(told):
    _, folder = told
    pages = subprocess.run(
        ["pdftotext", folder / "sheet.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    files = {path.name: path.read_text() for path in folder.rglob("*.json")}
    del files["record.json"]
    assert {"plan.json", "coupon.json"} <= files.keys()
    assert list(faults({"pages": pages, **files})) == []


def test_a_name_that_looks_like_a_number_stays_a_name():
    assert measurable("20261130024346: ready") == "20261130024346: ready"
    assert measurable("nan: ready") == "nan: ready"


@pytest.mark.parametrize(
    "text", ["nan mm", "is inf", "-Infinity", "8e29 mm", "4.028e-05 L", "1234567890123 mm"]
)
def test_what_cannot_be_measured_is_found(text):
    assert NOT_MEASURED.search(text)


@pytest.mark.parametrize("text", ["info", "0.12 mm", "20 mm/s", "finance", "1e", "M30", "1/e2"])
def test_words_and_plain_numbers_pass(text):
    assert not NOT_MEASURED.search(text)
