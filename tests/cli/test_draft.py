"""`stopout plan --draft` and `stopout watch`: a look at the piece, and nothing to work from."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest
import shapely

from cli.shop_files import JOB, lay_out, left, run, stopped
from jobmaker import drawing, make_job, plan
from shapes import glyph_f
from stopout.cli.watch import changes, follow
from stopout.errors import PlanError
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.planning.verdict import Told
from stopout.values import Level

# What only a program can tell.
OF_PROGRAMS = {"tips-short", "dose-uneven", "lines-fast", "spacing-wide", "bounds-left-out"}


@pytest.fixture
def stopout(capsys, monkeypatch):
    return lambda *argv: run(capsys, monkeypatch, *argv)


class TestDraft:
    def test_it_writes_the_verdict_and_a_picture_and_says_that_it_is_one(self, tmp_path, stopout):
        status, out, _ = stopout("plan", lay_out(tmp_path), "--draft")
        assert status == 0
        assert out.startswith("DRAFT: READY")
        assert left(tmp_path / "tag-draft") == ["plan.json", "preview.png"]
        data = json.loads((tmp_path / "tag-draft" / "plan.json").read_text(encoding="utf-8"))
        assert data["draft"] is True
        assert {value for key, value in data["files"].items() if key != "preview"} == {None}
        for coat in data["coats"]:
            assert set(coat["files"].values()) == {None}
            assert [coat[key] for key in ("clearing", "times", "program_bytes")] == [None] * 3
        assert data["verdict"]["state"] in ("ready", "look")

    def test_rows_fit_the_terminal_and_there_are_no_more_than_fifteen(
        self, tmp_path, stopout, monkeypatch
    ):
        job = lay_out(tmp_path)
        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr("stopout.cli.speech.verdict_lines.page_width", lambda: 60)
        plain = stopout("plan", job, "--draft")
        monkeypatch.setattr("stopout.cli.speech.verdict_lines._is_shown", lambda: True)
        _, out, err = stopout("plan", job, "--draft", "--out", "d")
        rows = [*out.splitlines(), *err.splitlines()]
        assert max(map(len, rows)) <= 60
        assert len(rows) <= 15
        # The folder differs, and how much room there is for findings.
        assert plain[1].split()[:6] == out.split()[:6]

    def test_a_stop_is_one_in_a_draft_too(self, tmp_path, stopout):
        status, out, _ = stopout("plan", stopped(tmp_path), "--draft")
        assert (status, out[:15]) == (1, "DRAFT: STOPPED ")

    @pytest.mark.parametrize("more", [[], ["--force"]])
    def test_it_never_takes_the_place_of_a_plan(self, tmp_path, stopout, more):
        job = lay_out(tmp_path)
        stopout("plan", job)
        before = {p: p.read_bytes() for p in (tmp_path / "tag-plan").iterdir()}
        status, _, err = stopout("plan", job, "--draft", "--out", tmp_path / "tag-plan", *more)
        assert (status, "holds a plan, and a draft does not take its place" in err) == (2, True)
        assert {p: p.read_bytes() for p in (tmp_path / "tag-plan").iterdir()} == before

    def test_it_gives_way_to_the_next_draft_and_to_a_plan_but_notes_stay(self, tmp_path, stopout):
        job, folder = lay_out(tmp_path), tmp_path / "tag-draft"
        stopout("plan", job, "--draft")
        (folder / "notes.txt").write_text("ask about the rivet")
        assert stopout("plan", job, "--draft")[0] == 0
        assert stopout("plan", job, "--out", folder)[0] == 0
        assert json.loads((folder / "plan.json").read_text())["draft"] is False
        assert (folder / "clear-1.nc").is_file()
        assert (folder / "notes.txt").is_file()

    @pytest.mark.parametrize(
        "words", [["rework", "--from-line", "1"], ["inspect"], ["shop", "timed", "--took", "4:00"]]
    )
    def test_nothing_is_done_at_the_bench_with_one(self, tmp_path, stopout, words):
        stopout("plan", lay_out(tmp_path), "--draft")
        at = 2 if words[0] == "shop" else 1
        folder = tmp_path / "tag-draft"
        scan = [folder / "preview.png", "--plan"] if words[0] == "inspect" else []
        status, _, err = stopout(*words[:at], *scan, folder, *words[at:])
        assert (status, "holds a draft" in err) == (2, True), err

    def test_it_shows_what_the_program_makes_to_within_two_micrometres_and_says_the_same(self):
        job = make_job(limits={"edge_tolerance_mm": 0.03, "too_thin": "widen"})
        dark = shapely.union_all([glyph_f(), shapely.box(8, 1, 11, 1.1), shapely.box(8, 3, 9, 6)])
        full = plan(dark, job)
        draft = plan_job(job, drawing(dark), knowledge_for(job), draft=True)
        made, said = draft.coats[0].finished, full.coats[0].finished
        assert made.difference(said.buffer(0.002)).area < 1e-6
        assert said.difference(made.buffer(0.002)).area < 1e-6
        codes = [
            {(one.code, one.level) for one in each.findings if one.code not in OF_PROGRAMS}
            for each in (draft, full)
        ]
        assert codes[0] == codes[1]
        assert draft.verdict.state == full.verdict.state


def told(code, message, level=Level.CAUTION, thing=""):
    return Told(code=code, level=level, message=message, thing=thing)


def test_a_change_is_what_is_new_what_reads_otherwise_and_what_is_gone():
    before = [told("a", "two gaps"), told("b", "a stroke"), told("n", "a note", Level.NOTE)]
    after = [told("a", "one gap"), told("c", "a stop", Level.STOP)]
    assert changes(before, after) == ["now: One gap.", "new: A stop.", "gone: a stroke"]
    assert changes(after, after) == []


class TestWatch:
    """The files are saved by what passes the time between two looks."""

    @pytest.fixture
    def watch(self, tmp_path):
        job, said, drafted = lay_out(tmp_path), [], []

        def draft(read):
            drafted.append((read.job.name, (tmp_path / "tag.svg").read_text()))
            if "<svg" not in drafted[-1][1]:
                raise PlanError("the drawing is empty")
            verdict = SimpleNamespace(told=(), state="ready", unmeasured=False, lines=())
            return SimpleNamespace(verdict=verdict, full_headline="DRAFT: READY", coats=())

        def watched(*saves):
            saves = iter(saves)

            def wait():
                what = next(saves, "end")
                if what == "end":
                    raise KeyboardInterrupt
                for name, text in (what or {}).items():
                    (tmp_path / name).write_text(text)

            with pytest.raises(KeyboardInterrupt):
                follow(job, draft, wait=wait, say=said.append)
            return said, drafted

        return watched

    def test_nothing_is_drafted_again_while_nothing_is_saved(self, watch):
        assert len(watch(None, None, None)[1]) == 1

    def test_each_save_of_job_or_artwork_is_drafted_once_it_is_whole(self, watch):
        renamed = JOB.replace("Valve tag", "Sluice tag")
        _, drafted = watch(
            {"tag.toml": renamed[:40]}, {"tag.toml": renamed}, None, {"tag.svg": "<svg/>"}, None
        )
        assert [name for name, _ in drafted] == ["Valve tag", "Sluice tag", "Sluice tag"]
        assert drafted[-1][1] == "<svg/>"

    def test_a_mistake_is_told_in_its_sentence_and_the_next_save_waited_for(self, watch):
        said, drafted = watch(
            {"tag.toml": JOB[:300]}, None, {"tag.svg": ""}, None, {"tag.toml": JOB}, None,
            {"tag.svg": "<svg> </svg>"}, None,
        )  # fmt: skip
        assert len(drafted) == 3
        waiting = [line for line in said if line.endswith("waiting for the next save")]
        assert "tag.toml" in waiting[0]
        assert waiting[-1].startswith("the drawing is empty\n")
        assert said[-2:] == ["DRAFT: READY", "nothing changed in it"]

    def test_a_save_while_a_draft_is_made_is_not_missed(self, tmp_path):
        job, names, waits = lay_out(tmp_path), [], iter(range(4))

        def draft(read):
            names.append(read.job.name)
            if len(names) == 1:
                job.write_text(JOB.replace("Valve tag", "Later tag"))
            raise PlanError("not yet")

        with pytest.raises(StopIteration):
            follow(job, draft, wait=lambda: next(waits), say=lambda line: None)
        assert names == ["Valve tag", "Later tag"]

    def test_ctrl_c_ends_it_in_words_and_the_draft_stays(self, tmp_path, stopout, monkeypatch):
        def interrupt(seconds):
            raise KeyboardInterrupt

        monkeypatch.setattr("stopout.cli.watch.time.sleep", interrupt)
        status, out, err = stopout("watch", lay_out(tmp_path))
        assert (status, err) == (0, "")
        assert "DRAFT: READY" in out
        assert out.rstrip().endswith(f"the last draft stays in {tmp_path / 'tag-draft'}")
        assert left(tmp_path / "tag-draft") == ["plan.json", "preview.png"]
