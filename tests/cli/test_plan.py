"""`stopout plan`: exit status, messages, and that a plan folder is whole or not there."""

from __future__ import annotations

import errno
import hashlib
import json
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from cli.shop_files import (
    ARTWORK,
    JOB,
    PLAN_FILES,
    STOPPED,
    THIN,
    here,
    lay_out,
    left,
    process,
    python,
    run,
    stopped,
)
from planning.plain_reading import read_steps
from stopout import __version__
from stopout.cli.app import app
from stopout.folders import write as output
from stopout.jobs import read_job


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


class TestDone:
    def test_a_plan_folder_is_written_beside_the_job_and_the_status_is_0(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        status, out, _ = stopout("plan", job)
        assert status == 0
        folder = tmp_path / "tag-plan"
        assert {path.name for path in folder.iterdir()} >= PLAN_FILES
        assert str(folder) in out
        assert "ready" in out
        assert left(tmp_path) == sorted(
            ["tag.svg", "tag.toml", "tag-plan", *(f"tag-plan/{p.name}" for p in folder.iterdir())]
        )

    def test_every_file_that_the_plan_names_is_there_and_no_other(self, tmp_path, stopout):
        stopout("plan", lay_out(tmp_path))
        folder = tmp_path / "tag-plan"
        data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        named = [*data["files"].values(), *data["coats"][0]["files"].values()]
        # sheet.json is what the process sheet is printed from again.
        others = {"plan.json", "sheet.json"}
        assert {name for name in named if name} <= {path.name for path in folder.iterdir()}
        assert {path.name for path in folder.iterdir()} <= {*named, *others}

    @pytest.mark.usefixtures("whole_pictures")
    def test_the_files_agree_with_each_other(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        stopout("plan", job)
        folder = tmp_path / "tag-plan"
        data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        steps = read_steps((folder / "clear-1.nc").read_text("ascii"), read_job(job).machine)
        on = sum(step.length for step in steps if step.is_on)
        clearing = data["coats"][0]["clearing"]
        assert clearing["cleared_length_mm"] == pytest.approx(on, rel=1e-5)
        with Image.open(folder / "mask-1.png") as picture:
            cleared = np.asarray(picture.convert("L")) > 127
            assert picture.size == (2400, 1400)
            assert picture.mode == "1"
        assert data["coats"][0]["mask"]["area_mm2"] == pytest.approx(cleared.sum() * 1e-4, rel=5e-3)
        svg = (folder / "mask-1.svg").read_text("utf-8")
        assert 'width="24mm"' in svg
        assert 'viewBox="0 0 24 14"' in svg
        with Image.open(folder / "preview.png") as picture:
            assert picture.width >= 800

    def test_the_job_s_hash_is_that_of_its_bytes(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        stopout("plan", job)
        data = json.loads((tmp_path / "tag-plan" / "plan.json").read_text("utf-8"))
        assert data["job"]["job_sha256"] == hashlib.sha256(job.read_bytes()).hexdigest()
        artwork = (tmp_path / "tag.svg").read_bytes()
        assert data["artwork"]["sha256"] == hashlib.sha256(artwork).hexdigest()
        assert data["artwork"]["area_mm2"] == pytest.approx(28 + np.pi * 4, abs=0.01)

    def test_another_folder_can_be_named(self, tmp_path, stopout):
        status, _, _ = stopout("plan", lay_out(tmp_path), "--out", tmp_path / "elsewhere")
        assert status == 0
        assert (tmp_path / "elsewhere" / "plan.json").is_file()
        assert not (tmp_path / "tag-plan").exists()

    def test_json_on_standard_output_is_plan_json_and_nothing_else(self, tmp_path, stopout):
        status, out, _ = stopout("plan", lay_out(tmp_path), "--json")
        assert status == 0
        assert json.loads(out) == json.loads(
            (tmp_path / "tag-plan" / "plan.json").read_text("utf-8")
        )

    def test_quiet_prints_nothing_when_all_is_well(self, tmp_path, stopout):
        assert stopout("plan", lay_out(tmp_path), "--quiet") == (0, "", "")

    def test_quiet_and_json_print_just_the_json(self, tmp_path, stopout):
        status, out, err = stopout("plan", lay_out(tmp_path), "--quiet", "--json")
        assert status == 0
        assert json.loads(out)["format"] == "stopout-plan-1"
        assert err == ""

    def test_messages_go_to_standard_error_and_name_their_weight(self, tmp_path, stopout):
        _, out, err = stopout("plan", lay_out(tmp_path))
        assert "caution: " in err
        assert "caution: " not in out


class TestStopped:
    def test_a_stop_ends_with_status_1_and_writes_no_program(self, tmp_path, stopout):
        status, out, err = stopout("plan", stopped(tmp_path))
        assert status == 1
        folder = tmp_path / "tag-plan"
        data = json.loads((folder / "plan.json").read_text("utf-8"))
        assert data["coats"][0]["files"]["program"] is None
        assert data["files"]["bounds"] is None
        assert not list(folder.glob("*.nc"))
        assert {"plan.json", "mask-1.svg", "mask-1.png", "preview.png"} <= {
            path.name for path in folder.iterdir()
        }
        assert err.startswith("stop: ")
        assert "STOP" in out

    def test_quiet_still_prints_stops(self, tmp_path, stopout):
        status, out, err = stopout("plan", stopped(tmp_path), "--quiet")
        assert status == 1
        assert out == ""
        assert [line.split(":")[0] for line in err.splitlines()] == ["stop"]

    def test_json_of_a_stopped_plan_is_still_whole(self, tmp_path, stopout):
        status, out, _ = stopout("plan", stopped(tmp_path), "--json")
        assert status == 1
        assert [f["level"] for f in json.loads(out)["findings"]].count("stop") == 1

    def test_a_plan_that_stops_takes_the_place_of_an_earlier_program(self, tmp_path, stopout):
        """No program of an earlier plan may be left beside a plan that says stop."""
        stopout("plan", lay_out(tmp_path))
        assert (tmp_path / "tag-plan" / "clear-1.nc").is_file()
        status, _, _ = stopout("plan", stopped(tmp_path), "--force")
        assert status == 1
        assert not list((tmp_path / "tag-plan").glob("*.nc"))

    def test_a_chemistry_that_is_refused_stops_the_plan(self, tmp_path, stopout):
        etch = 'etchant = "ferric-chloride"\nstrength = "40 degBe"'
        job = JOB.replace('etchant = "sodium-hydroxide"\nstrength = "100 g/L"', etch)
        status, _, err = stopout("plan", lay_out(tmp_path, job), "--quiet")
        assert status == 1, err
        assert "stop: " in err
        assert not list((tmp_path / "tag-plan").glob("*.nc"))


class TestRefused:
    def test_a_bad_job_file_writes_nothing_and_names_every_mistake_with_its_line(
        self, tmp_path, stopout
    ):
        bad = (
            JOB.replace('"24 mm"', "24")
            .replace('"20 mm/s"', '"20 parsecs"')
            .replace('power = "30 %"', 'power = "30 %"\ncolour = "red"')
            .replace('thickness = "1.5 mm"\n', "")
        )
        job = lay_out(tmp_path, bad)
        before = left(tmp_path)
        status, out, err = stopout("plan", job)
        assert status == 2
        assert out == ""
        assert left(tmp_path) == before
        lines = bad.splitlines()
        for words in ("= 24", "parsecs", "colour"):
            number = next(k for k, line in enumerate(lines, 1) if words in line)
            assert f"tag.toml:{number}: " in err
        assert "thickness" in err
        assert "Traceback" not in err
        assert len(err.splitlines()) == 4

    def test_ids_that_no_table_has_are_named_all_at_once_with_their_lines(self, tmp_path, stopout):
        bad = (
            JOB.replace('"aluminium"', '"aluminiun-plate"')
            .replace('"epoxy-two-part"', '"moon-paint"')
            .replace('"sodium-hydroxide"', '"sea-water"')
        )
        status, _, err = stopout("plan", lay_out(tmp_path, bad))
        assert status == 2
        for words in ("aluminiun-plate", "moon-paint", "sea-water"):
            number = next(k for k, line in enumerate(bad.splitlines(), 1) if words in line)
            assert f"tag.toml:{number}: " in err
        assert "aluminium" in err

    def test_a_job_file_that_is_no_toml_is_refused_with_its_line(self, tmp_path, stopout):
        status, _, err = stopout("plan", lay_out(tmp_path, JOB + "\n[etch\n"))
        assert status == 2
        assert f"tag.toml:{len(JOB.splitlines()) + 2}" in err

    @pytest.mark.parametrize("name", ["missing.toml", "folder"])
    def test_a_job_file_that_is_not_there_is_refused(self, tmp_path, stopout, name):
        (tmp_path / "folder").mkdir()
        status, _, err = stopout("plan", tmp_path / name)
        assert status == 2
        assert name in err
        assert left(tmp_path) == ["folder"]

    @pytest.mark.parametrize(
        ("artwork", "word"),
        [(None, "tag.svg"), ("<svg", "tag.svg"), ("", "tag.svg")],
        ids=["missing", "broken", "empty"],
    )
    def test_artwork_that_cannot_be_read_is_refused(self, tmp_path, stopout, artwork, word):
        job = lay_out(tmp_path, artwork=artwork or "")
        if artwork is None:
            (tmp_path / "tag.svg").unlink()
        before = left(tmp_path)
        status, _, err = stopout("plan", job)
        assert status == 2, err
        assert word in err
        assert "Traceback" not in err
        assert left(tmp_path) == before

    def test_an_existing_plan_is_refused_without_force_and_left_as_it_is(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        stopout("plan", job)
        before = {p.name: p.read_bytes() for p in (tmp_path / "tag-plan").iterdir()}
        status, _, err = stopout("plan", job)
        assert status == 2
        assert "--force" in err
        assert {p.name: p.read_bytes() for p in (tmp_path / "tag-plan").iterdir()} == before

    def test_force_replaces_a_plan_and_leaves_notes_where_they_are(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        stopout("plan", job)
        (tmp_path / "tag-plan" / "old-note.txt").write_text("old", encoding="utf-8")
        lay_out(tmp_path, JOB.replace("Valve tag", "Sluice tag"))
        status, _, _ = stopout("plan", job, "--force", "--quiet")
        assert status == 0
        data = json.loads((tmp_path / "tag-plan" / "plan.json").read_text("utf-8"))
        assert data["job"]["name"] == "Sluice tag"
        assert (tmp_path / "tag-plan" / "old-note.txt").read_text("utf-8") == "old"
        assert not [name for name in left(tmp_path) if name.startswith(".")]

    def test_force_leaves_a_folder_alone_that_is_no_plan(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        other = tmp_path / "photographs"
        other.mkdir()
        (other / "sluice.jpg").write_bytes(b"...")
        for extra in ((), ("--force",)):
            status, _, err = stopout("plan", job, "--out", other, *extra)
            assert status == 2
            assert "photographs" in err
            assert left(other) == ["sluice.jpg"]

    def test_a_file_in_the_place_of_the_folder_is_never_replaced(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        (tmp_path / "notes").write_text("mine", encoding="utf-8")
        status, _, _ = stopout("plan", job, "--out", tmp_path / "notes", "--force")
        assert status == 2
        assert (tmp_path / "notes").read_text("utf-8") == "mine"

    def test_a_link_in_the_place_of_the_folder_is_never_followed(self, tmp_path, stopout):
        job = lay_out(tmp_path)
        stopout("plan", job, "--out", tmp_path / "real")
        (tmp_path / "link").symlink_to(tmp_path / "real")
        status, _, _ = stopout("plan", job, "--out", tmp_path / "link", "--force")
        assert status == 2
        assert (tmp_path / "link").is_symlink()

    def test_a_folder_without_a_place_to_stand_is_refused(self, tmp_path, stopout):
        status, _, err = stopout("plan", lay_out(tmp_path), "--out", tmp_path / "no" / "where")
        assert status == 2
        assert "make it first" in err

    @pytest.mark.parametrize("argv", [("plan",), ("plan", "a", "b"), ("plan", "--wat"), ("wat",)])
    def test_a_wrong_use_of_the_command_is_refused_with_status_2(self, stopout, argv):
        status, out, err = stopout(*argv)
        assert status == 2
        assert out == ""
        assert err.strip()
        assert "Traceback" not in err


def full(*args, **kwargs):
    raise OSError(errno.ENOSPC, "No space left on device", "plan.json")


class TestNotFinished:
    @pytest.mark.parametrize("after", [0, 1, 4])
    def test_a_full_disk_ends_with_status_3_and_leaves_nothing_behind(
        self, tmp_path, stopout, monkeypatch, after
    ):
        job = lay_out(tmp_path)
        before = left(tmp_path)
        self.fail_after(monkeypatch, after, full)
        status, _, err = stopout("plan", job)
        assert status == 3
        assert "No space left" in err
        assert "Traceback" not in err
        assert left(tmp_path) == before

    @staticmethod
    def fail_after(monkeypatch, count, fail):
        write, done = output._write, []

        def failing(path, data):
            if len(done) == count:
                # What a disk does that fills up half way: part of the file is there.
                path.write_bytes(data[: len(data) // 2])
                fail()
            done.append(path)
            write(path, data)

        monkeypatch.setattr(output, "_write", failing)

    def test_a_full_disk_leaves_an_earlier_plan_as_it_was(self, tmp_path, stopout, monkeypatch):
        job = lay_out(tmp_path)
        stopout("plan", job)
        before = {p.name: p.read_bytes() for p in (tmp_path / "tag-plan").iterdir()}
        self.fail_after(monkeypatch, 2, full)
        status, _, _ = stopout("plan", job, "--force")
        assert status == 3
        assert {p.name: p.read_bytes() for p in (tmp_path / "tag-plan").iterdir()} == before
        assert not [name for name in left(tmp_path) if name.startswith(".")]

    def test_an_interruption_ends_with_status_130_and_leaves_nothing_behind(
        self, tmp_path, stopout, monkeypatch
    ):
        job = lay_out(tmp_path)
        before = left(tmp_path)

        def interrupted():
            raise KeyboardInterrupt

        self.fail_after(monkeypatch, 3, interrupted)
        status, _, err = stopout("plan", job)
        assert status == 130
        assert "interrupted" in err
        assert left(tmp_path) == before

    def test_a_fault_of_our_own_ends_with_status_3_and_no_traceback(
        self, tmp_path, stopout, monkeypatch
    ):
        job = lay_out(tmp_path)
        before = left(tmp_path)

        def fault():
            raise ZeroDivisionError("division by zero")

        self.fail_after(monkeypatch, 1, fault)
        status, _, err = stopout("plan", job)
        assert status == 3
        assert "ZeroDivisionError" in err
        assert "Traceback" not in err
        assert left(tmp_path) == before

    def test_the_exchange_has_another_way_where_the_system_lacks_one(
        self, tmp_path, stopout, monkeypatch
    ):
        job = lay_out(tmp_path)
        stopout("plan", job)
        lay_out(tmp_path, JOB.replace("Valve tag", "Sluice tag"))
        monkeypatch.setattr(output, "sys", SimpleNamespace(platform="other"))
        status, _, _ = stopout("plan", job, "--force", "--quiet")
        assert status == 0
        data = json.loads((tmp_path / "tag-plan" / "plan.json").read_text("utf-8"))
        assert data["job"]["name"] == "Sluice tag"
        assert not [name for name in left(tmp_path) if name.startswith(".")]

    def test_a_full_standard_output_ends_with_status_3(self, tmp_path):
        with Path("/dev/full").open("w", encoding="utf-8") as sink:
            done = process("schema", cwd=tmp_path, stdout=sink)
        assert done.returncode == 3
        assert "Traceback" not in done.stderr


class TestAsAProcess:
    """The exit status that a shell sees."""

    @pytest.mark.usefixtures("whole_pictures", "whole_sheets")
    def test_0_when_done_2_the_second_time_and_the_same_bytes_under_another_hash_seed(
        self, tmp_path
    ):
        lay_out(tmp_path)
        order = ("plan", "tag.toml", "--quiet", "--out")
        done = process(*order, "one", cwd=tmp_path, PYTHONHASHSEED="1")
        assert done.returncode == 0, done.stderr
        # This process has a seed of its own.
        assert here(*order, "other", cwd=tmp_path).returncode == 0
        assert len(list((tmp_path / "other").iterdir())) == len(PLAN_FILES) + 4
        for path in (tmp_path / "one").iterdir():
            assert path.read_bytes() == (tmp_path / "other" / path.name).read_bytes(), path.name
        again = process(*order, "one", cwd=tmp_path)
        assert again.returncode == 2
        assert "--force" in again.stderr

    def test_1_when_the_plan_says_stop(self, tmp_path):
        stopped(tmp_path)
        done = process("plan", "tag.toml", "--draft", cwd=tmp_path)
        assert done.returncode == 1
        assert done.stderr.startswith("stop: ")

    def test_2_when_the_job_file_is_bad(self, tmp_path):
        lay_out(tmp_path, JOB.replace('"24 mm"', "24"))
        done = process("plan", "tag.toml", cwd=tmp_path)
        assert done.returncode == 2
        assert re.match(r"tag\.toml:9: ", done.stderr)

    def test_3_when_the_folder_cannot_be_written(self, tmp_path):
        """A name longer than any file system takes: the failure comes at the writing."""
        lay_out(tmp_path)
        done = process("plan", "tag.toml", "--out", "x" * 300, cwd=tmp_path)
        assert done.returncode in (2, 3)
        assert "Traceback" not in done.stderr
        assert left(tmp_path) == ["tag.svg", "tag.toml"]

    def test_3_when_a_file_would_grow_too_large(self, tmp_path):
        """A limit on file size stands for a full disk: half of plan.json does not stay."""
        job = JOB.replace('"tag.svg"', '"tag.png"\nwidth = "20 mm"')
        before = left(lay_out(tmp_path, job).parent)
        picture = Image.new("L", (400, 200), 255)
        picture.paste(0, (40, 40, 240, 160))
        picture.save(tmp_path / "tag.png")
        code = (
            "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
            "resource.setrlimit(resource.RLIMIT_FSIZE, (4000, 4000));"
            "from stopout.cli import main; main()"
        )
        done = python(
            code, "plan", "tag.toml", "--draft", cwd=tmp_path, PYTHONDONTWRITEBYTECODE="1"
        )
        assert done.returncode == 3, done.stderr
        assert "could not finish" in done.stderr
        assert left(tmp_path) == sorted([*before, "tag.png"])


class TestHelp:
    @pytest.mark.parametrize("command", ["plan", "schema", "new plate", "new sign"])
    def test_help_explains_each_command_with_an_example(self, command):
        result = CliRunner().invoke(app, [*command.split(), "--help"])
        assert result.exit_code == 0
        assert "Example: stopout " + command in " ".join(result.output.split())

    def test_the_version_is_printed(self):
        result = CliRunner().invoke(app, ["--version"])
        assert result.exit_code == 0
        assert __version__ in result.output

    def test_a_plan_by_the_runner_ends_with_0_and_a_stop_with_1(self, tmp_path):
        assert CliRunner().invoke(app, ["plan", str(lay_out(tmp_path)), "--quiet"]).exit_code == 0
        job = lay_out(tmp_path, STOPPED, THIN)
        assert CliRunner().invoke(app, ["plan", str(job), "--force", "--quiet"]).exit_code == 1

    def test_nothing_of_the_artwork_is_fetched_or_opened(self, tmp_path, stopout):
        """An image by reference is refused or left out with a word, never opened."""
        trap = ARTWORK.replace("<path", '<image href="secret.png" width="5" height="5"/><path')
        status, _, err = stopout("plan", lay_out(tmp_path, artwork=trap))
        assert status in (0, 2)
        assert "image" in err


def test_mistakes_of_the_job_file_come_before_the_folder_and_a_misspelt_metal_with_them(
    tmp_path, stopout
):
    job = lay_out(tmp_path, JOB.replace('"aluminium"', '"aluminimum"').replace('"20 mm/s"', '"20"'))
    for place, kept in (("tag-plan", "plan.json"), ("tag-coupon-etch", "coupon.json")):
        (tmp_path / place).mkdir()
        (tmp_path / place / kept).write_text("{}")
    for words in (("plan",), ("coupon", "etch")):
        status, _, err = stopout(*words, job)
        assert status == 2
        assert "already" not in err
        assert "blank.material" in err
        assert "clearing.speed" in err
