"""`import stopout`: what it loads, what it gives, and the examples of its reference."""

from __future__ import annotations

import datetime
import os
import re
import shutil
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest

import stopout
from cli.shop_files import here, lay_out
from effort import HANGS_S
from stopout.library import cores, plan_files, plans

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "reference" / "python.md"
EXAMPLES = re.findall(r"^```python( no-run)?\n(.*?)^```$", PAGE.read_text(), re.M | re.S)


def carried_out(code, folder):
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        capture_output=True,
        text=True,
        timeout=HANGS_S,
        check=False,
    )


def test_importing_it_loads_nothing_else(tmp_path):
    code = (
        "import sys; before = set(sys.modules); import stopout;"
        "print(*sorted(name for name in set(sys.modules) - before))"
    )
    loaded = carried_out(code, tmp_path).stdout.split()
    assert [name for name in loaded if name.startswith("stopout")] == ["stopout"]
    heavy = {"numpy", "shapely", "pydantic", "typer", "cv2", "scipy", "typst"}
    assert not heavy & {name.split(".")[0] for name in loaded}


@pytest.mark.parametrize("name", stopout.__all__)
def test_every_name_is_there_and_described(name):
    assert getattr(stopout, name) is not None
    if name != "__version__":
        assert f"{name}" in PAGE.read_text()
    assert name in dir(stopout)


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'plan_jobs'"):
        stopout.plan_jobs  # noqa: B018


@pytest.fixture
def folder(tmp_path):
    """A folder with the starter's plate in it."""
    starter = ROOT / "src" / "stopout" / "cli" / "starters" / "plate"
    shutil.copytree(starter, tmp_path / "gate-plate")
    return tmp_path


@pytest.mark.parametrize("code", [code for no_run, code in EXAMPLES if not no_run])
def test_the_examples_of_the_reference_run(code, folder):
    out, err = StringIO(), StringIO()
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        exec(compile(code, "example", "exec"), {})
    assert out.getvalue().strip()
    assert err.getvalue() == ""


def test_the_plan_is_the_one_that_the_command_writes(folder):
    """Byte for byte: the command adds nothing to what the library makes."""
    read = stopout.read_job(folder / "gate-plate/job.toml")
    stopout.write_plan(stopout.plan_job(read), folder / "by-library")
    order = "plan gate-plate/job.toml --out by-command --no-book --quiet"
    assert here(*order.split(), cwd=folder).returncode == 0
    names = {path.name for path in (folder / "by-command").iterdir()}
    assert names == {path.name for path in (folder / "by-library").iterdir()}
    for name in names:
        made, expected = folder / "by-library" / name, folder / "by-command" / name
        assert made.read_bytes() == expected.read_bytes(), name


def test_the_scan_examples_name_arguments_that_there_are():
    import inspect

    for name in ("read_scan", "inspect_scan", "plan_job", "plan_files", "write_plan"):
        named = set(inspect.signature(getattr(stopout, name)).parameters)
        written = re.search(rf"`{name}\(([^)]*)\)`", PAGE.read_text())[1]
        assert {word.strip() for word in written.split(",")} - {"*"} == named


@pytest.mark.usefixtures("whole_pictures")
def test_a_folder_is_the_same_whether_one_process_makes_it_or_two(tmp_path, monkeypatch):
    job = lay_out(tmp_path)
    monkeypatch.setattr(plans, "_LARGE_BYTES", 0)
    monkeypatch.setattr(plan_files, "_LARGE", 0)
    made = []
    for count in (1, 2):
        monkeypatch.setattr(cores, "cores_here", lambda count=count: count)
        plan = plans.plan_job(stopout.read_job(job))
        made.append(plan_files.plan_files(plan, date=datetime.date(2026, 11, 30)))
    assert made[0] == made[1]


@pytest.mark.parametrize(
    ("job", "was", "now", "told"),
    [
        (
            "visitors-sign",
            'shows = "dark"',
            'shows = { fill = "#123456" }',
            "coat[2].shows: coat 2",
        ),
        ("visitors-sign", "[clearing]", '[panel]\nsize = ["9 mm", "9 mm"]\n[clearing]', "panel: "),
    ],
)
def test_what_cannot_be_planned_is_told_with_its_line(tmp_path, job, was, now, told):
    demo = Path(__file__).resolve().parents[1] / "demo" / job
    shutil.copy(demo / f"{job}.svg", tmp_path)
    text = (demo / f"{job}.toml").read_text().replace(was, now)
    (tmp_path / "job.toml").write_text(text)
    line = 1 + text[: text.index(now)].count("\n")
    with pytest.raises(stopout.StopoutError) as error:
        stopout.plan_job(stopout.read_job(tmp_path / "job.toml"), draft=True)
    assert str(error.value).startswith(f"{tmp_path / 'job.toml'}:{line}: {told}")
