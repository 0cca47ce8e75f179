"""`stopout rework`: part of a plan once more, as a program of its own."""

from __future__ import annotations

import json
import math
import shutil

import numpy as np
import pytest
import shapely

from cli.shop_files import JOB, here, lay_out, left, run, stopped
from program.winch_machine import machine
from stopout.program import prove_text, read_program

CENTRED = (188.0, 193.0)  # a blank of 24 x 14 mm on a bed of 400 x 400 mm


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """The plan of a valve tag, made once."""
    folder = tmp_path_factory.mktemp("shop")
    lay_out(folder)
    done = here("plan", "tag.toml", "--quiet", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder / "tag-plan"


@pytest.fixture
def plan(planned, tmp_path):
    """A copy of the plan, to be changed at will."""
    shutil.copytree(planned, tmp_path / "tag-plan")
    return tmp_path / "tag-plan"


def changed(plan, change):
    """Change plan.json in place."""
    data = json.loads((plan / "plan.json").read_text())
    change(data)
    (plan / "plan.json").write_text(json.dumps(data))


def read(path):
    return read_program(path.read_text(), machine=machine())


def lit(program):
    return float(program.length_mm[program.power > 0].sum())


def lit_in(program, box):
    """Beam-on length in a box, by the reference library."""
    on = program.power > 0
    lines = shapely.linestrings(np.stack([program.start_mm, program.end_mm], axis=1)[on])
    return float(shapely.length(shapely.intersection(lines, shapely.box(*box))).sum())


# --- what it writes -----------------------------------------------------------------------------


def test_a_box_is_cleared_again_by_a_program_that_is_proven(plan):
    done = here("rework", plan, "--box", "2,2,8,6", cwd=plan.parent)
    assert (done.returncode, done.stderr) == (0, "")
    text = (plan / "rework-1.nc").read_text()
    assert prove_text(text, machine=machine(), blank_at_mm=CENTRED) == ()
    again, whole = read(plan / "rework-1.nc"), read(plan / "clear-1.nc")
    assert lit(again) == pytest.approx(lit_in(whole, (2, 2, 8, 6)), abs=0.01)
    assert f"{plan / 'rework-1.nc'}\n" in done.stdout
    assert "what lies from (2, 2) to (8, 6) mm" in done.stdout
    assert "(clears coat 1 once more - what lies from 2 2 to 8 6 mm)" in text


def test_the_rest_of_a_program_follows_from_a_line(plan):
    done = here("rework", plan, "--from-line", 200, "--out", "rest.nc", "--json", cwd=plan.parent)
    assert (done.returncode, done.stderr) == (0, "")
    summary = json.loads(done.stdout)
    assert summary["from_line"] == 200
    assert summary["box_mm"] is None
    assert summary["placement"] is None
    again, whole = read(plan.parent / "rest.nc"), read(plan / "clear-1.nc")
    assert (again.end_mm[-500:] == whole.end_mm[-500:]).all()
    assert summary["cleared_length_mm"] == pytest.approx(lit(again), abs=1e-3)
    assert summary["moves"] == len(again)
    assert not (plan / "rework-1.nc").exists()


def test_the_first_line_repeats_the_whole_program_move_by_move(plan, capsys, monkeypatch):
    status, out, _ = run(capsys, monkeypatch, "rework", plan, "--from-line", 1, "--quiet")
    assert (status, out) == (0, "")
    again, whole = read(plan / "rework-1.nc"), read(plan / "clear-1.nc")
    for name in ("x_mm", "y_mm", "rapid", "speed_mm_s", "power"):
        assert (getattr(again, name) == getattr(whole, name)).all()


def test_the_times_are_those_of_the_plan_where_the_whole_is_repeated(plan, capsys, monkeypatch):
    _, out, _ = run(capsys, monkeypatch, "rework", plan, "--from-line", 1, "--json")
    clearing = json.loads((plan / "plan.json").read_text())["coats"][0]["clearing"]
    summary = json.loads(out)
    assert summary["time_s"] == pytest.approx(clearing["time_s"], abs=0.001)
    assert summary["dose_ratio_max"] == pytest.approx(clearing["dose_ratio_max"], abs=1e-4)


def test_a_box_takes_units_and_spaces(plan, capsys, monkeypatch):
    run(capsys, monkeypatch, "rework", plan, "--box", "2,2,8,6", "--out", plan.parent / "a.nc")
    status, *_ = run(
        capsys,
        monkeypatch,
        "rework",
        plan,
        "--box",
        "2 mm, 0.2cm, 8, 6000um",
        "--out",
        plan.parent / "b.nc",
    )
    assert status == 0
    assert (plan.parent / "a.nc").read_bytes() == (plan.parent / "b.nc").read_bytes()


# --- a piece that was lifted --------------------------------------------------------------------


def test_a_lifted_piece_is_cleared_where_it_lies_now(plan, capsys, monkeypatch):
    t, shift = math.radians(2.0), (1.5, -0.5)

    def now(x, y):
        c, s = math.cos(t), math.sin(t)
        return (c * x - s * y + shift[0], s * x + c * y + shift[1])

    pairs = ";".join(
        "{},{}={:.4f},{:.4f}".format(*at, *now(*at)) for at in [(2, 2), (22, 2), (12, 12)]
    )
    status, out, err = run(
        capsys, monkeypatch, "rework", plan, "--box", "2,2,8,6", "--points", pairs, "--json"
    )
    assert status == 0
    # A box may cut a piece short; that is told, and nothing else.
    assert all(said.startswith("caution: where pieces are short") for said in err.splitlines())
    placement = json.loads(out)["placement"]
    assert placement["angle_deg"] == pytest.approx(2.0, abs=1e-3)
    assert placement["shift_mm"] == pytest.approx(shift, abs=1e-3)
    assert max(placement["residual_um"]) < 0.2
    run(capsys, monkeypatch, "rework", plan, "--box", "2,2,8,6", "--out", plan.parent / "flat.nc")
    flat, there = read(plan.parent / "flat.nc"), read(plan / "rework-1.nc")
    expected = np.array([now(x, y) for x, y in flat.end_mm[:-1]])
    np.testing.assert_allclose(there.end_mm[:-1], expected, atol=3e-4)
    assert there.end_mm[-1].tolist() == [0, 0]
    assert (
        prove_text((plan / "rework-1.nc").read_text(), machine=machine(), blank_at_mm=CENTRED) == ()
    )


def test_points_may_stand_in_a_file_and_two_are_enough_with_a_word(plan, capsys, monkeypatch):
    file = plan.parent / "points.txt"
    file.write_text("# crosses, planned = found\n2,2 = 2.5,2 # lower left\n\n22,2 = 22.5,2.02\n")
    status, out, _ = run(capsys, monkeypatch, "rework", plan, "--from-line", 1, "--points", file)
    assert status == 0
    assert "turned by 0.057 deg, then shifted by 0.502, -0.002 mm" in out
    assert "the points miss by 0 um at most" in out
    assert "a third would" in out


def test_points_that_do_not_fit_are_refused_unless_more_is_allowed(plan, capsys, monkeypatch):
    order = ["rework", plan, "--box", "2,2,8,6", "--points", "2,2=2,2;22,2=22.3,2"]
    status, _, err = run(capsys, monkeypatch, *order)
    assert status == 2
    assert "misses by 150 um and 100 um is the limit" in err
    assert err.count("\n") == 1
    assert not (plan / "rework-1.nc").exists()
    assert run(capsys, monkeypatch, *order, "--most", "0.2 mm")[0] == 0


def test_a_large_turn_and_points_close_together_are_cautioned(plan, capsys, monkeypatch):
    status, _, err = run(
        capsys, monkeypatch, "rework", plan, "--from-line", 1, "--points", "2,2=12,2;4,2=12,4"
    )
    assert status == 0
    assert "caution: at a turn of 90.0 deg the mark across a line is up to 15 % wider" in err
    assert "caution: an error in finding the points grows" in err


def test_a_piece_that_lies_off_the_bed_is_refused_and_nothing_written(plan, capsys, monkeypatch):
    before = left(plan.parent)
    status, _, err = run(
        capsys, monkeypatch, "rework", plan, "--from-line", 1, "--points", "2,2=300,2;22,2=320,2"
    )
    assert status == 2
    assert "no program is written, for it would not be safe" in err
    assert "leaves the bed" in err
    assert left(plan.parent) == before


# --- the machine of the plan --------------------------------------------------------------------


def test_power_word_and_beam_code_are_those_of_the_plan(tmp_path):
    job = JOB.replace("power_word = 1000", "power_word = 255").replace('"M3"', '"M4"')
    lay_out(tmp_path, job)
    assert here("plan", "tag.toml", "--quiet", cwd=tmp_path).returncode == 0
    assert here("rework", "tag-plan", "--box", "2,2,8,6", cwd=tmp_path).returncode == 0
    text = (tmp_path / "tag-plan" / "rework-1.nc").read_text()
    assert "M4 S0" in text
    assert "S76.5" in text
    device = machine(power_word=255.0, beam_on="M4")
    assert prove_text(text, machine=device, blank_at_mm=CENTRED) == ()


def test_new_travels_go_round_a_clamp(plan, capsys, monkeypatch):
    # A clamp between the corner and the box, which the way from and to (0, 0) must avoid.
    clamp = [CENTRED[0] + 1, CENTRED[1] + 0.5, CENTRED[0] + 1.2, CENTRED[1] + 13]
    changed(plan, lambda data: data["machine"].update(keep_outs_mm=[clamp]))
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--box", "14,3,20,9")
    assert (status, err) == (0, "")
    device = machine(keep_outs_mm=(tuple(clamp),))
    text = (plan / "rework-1.nc").read_text()
    assert prove_text(text, machine=device, blank_at_mm=CENTRED) == ()


def test_a_clamp_on_the_piece_itself_is_refused(plan, capsys, monkeypatch):
    clamp = [CENTRED[0] + 16, CENTRED[1] + 3, CENTRED[0] + 18, CENTRED[1] + 13]
    changed(plan, lambda data: data["machine"].update(keep_outs_mm=[clamp]))
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--box", "14,3,20,9")
    assert status == 2
    assert "enters keep-out box 1" in err
    assert not (plan / "rework-1.nc").exists()


# --- what is refused ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("order", "says"),
    [
        (["--box", "50,50,60,60"], "clear-1.nc: the box from (50, 50) to (60, 60) mm lies beside"),
        (["--box", "8,3,12,7"], "holds no beam-on move: the resist stays there"),
        (["--box", "8,6,2,2"], "two corners, not a corner and a size"),
        (["--box", "2,2,8"], "has 3 numbers; it takes four"),
        (["--box", "2,2,8,six"], "--box '2,2,8,six'"),
        (["--box", "2,2,8,0.6 m"], "--box '2,2,8,0.6 m'"),
        (["--from-line", "0"], "line 0 is not there; the program has lines 1 to"),
        (["--from-line", "999999"], "line 999999 is not there"),
        ([], "Give --box x0,y0,x1,y1 or --from-line N"),
        (["--box", "2,2,8,6", "--from-line", "9"], "both given"),
        (["--box", "2,2,8,6", "--coat", "2"], "has no program for coat 2; it clears coat 1"),
        (["--box", "2,2,8,6", "--points", "2,2=3"], "is no pair of places"),
        (["--box", "2,2,8,6", "--points", "2,2=3,3"], "two points or more"),
        (["--box", "2,2,8,6", "--points", "nowhere.txt"], "neither a file nor pairs"),
        (["--box", "2,2,8,6", "--points", "1,1=1,1;9,9=9,9", "--most", "0"], "--most '0'"),
        (["--box", "2,2,8,6", "--out", "no/where.nc"], "is not a folder; make it first"),
    ],
)
def test_what_cannot_be_done_is_refused_in_one_sentence(plan, capsys, monkeypatch, order, says):
    before = left(plan.parent)
    monkeypatch.chdir(plan.parent)
    status, out, err = run(capsys, monkeypatch, "rework", plan, *order)
    assert (status, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1
    assert left(plan.parent) == before


def test_the_last_line_leaves_nothing_to_clear(plan, capsys, monkeypatch):
    last = len((plan / "clear-1.nc").read_text().splitlines())
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--from-line", last)
    assert status == 2
    assert f"nothing is left to clear from line {last} on" in err


def test_a_stopped_plan_has_no_program_to_repeat(tmp_path):
    stopped(tmp_path)
    assert here("plan", "tag.toml", "--quiet", cwd=tmp_path).returncode == 1
    before = left(tmp_path)
    done = here("rework", "tag-plan", "--from-line", 1, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "tag-plan holds no program, for its plan says stop: " in done.stderr
    assert done.stderr.count("\n") == 1
    assert left(tmp_path) == before


def test_where_two_coats_are_cleared_one_must_be_named(plan, capsys, monkeypatch):
    def second(data):
        files = {**data["coats"][0]["files"], "program": "clear-2.nc"}
        data["coats"].append({**data["coats"][0], "coat": 2, "files": files})

    changed(plan, second)
    shutil.copy(plan / "clear-1.nc", plan / "clear-2.nc")
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--from-line", 1)
    assert status == 2
    assert "clears coats 1, 2; say which one with --coat" in err
    status, *_ = run(capsys, monkeypatch, "rework", plan, "--from-line", 1, "--coat", 2)
    assert status == 0
    assert "clears coat 2 once more" in (plan / "rework-2.nc").read_text()


def test_a_place_that_is_no_plan_is_refused(plan, capsys, monkeypatch):
    for folder, says in ((plan / "x", "is not a folder"), (plan.parent, "holds no plan.json")):
        status, _, err = run(capsys, monkeypatch, "rework", folder, "--from-line", 1)
        assert status == 2
        assert says in err


def test_a_plan_that_does_not_say_its_machine_is_to_be_made_again(plan, capsys, monkeypatch):
    changed(plan, lambda data: data.pop("machine"))
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--from-line", 1)
    assert status == 2
    assert "does not say which machine" in err
    assert "plan the job again" in err


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data["machine"].update(acceleration_mm_s2=0),
        lambda data: data["machine"].pop("bed_mm"),
        lambda data: data.pop("coats"),
        lambda data: data["coats"][0]["clearing"].pop("mark_mm"),
        lambda data: data["coats"][0]["files"].update(program="../clear-1.nc"),
        lambda data: data.update(blank_at_mm=None),
    ],
)
def test_a_damaged_plan_is_refused(plan, capsys, monkeypatch, change):
    changed(plan, change)
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--from-line", 1)
    assert status == 2
    assert "plan.json is damaged" in err


def test_a_program_that_was_changed_by_hand_is_read_as_strictly_as_any(plan, capsys, monkeypatch):
    text = (plan / "clear-1.nc").read_text()
    (plan / "clear-1.nc").write_text(text.replace("G1 X", "G2 X", 1))
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--from-line", 1)
    assert status == 2
    assert "clear-1.nc: line 9: G2 is an arc" in err
    (plan / "clear-1.nc").unlink()
    assert "is missing" in run(capsys, monkeypatch, "rework", plan, "--from-line", 1)[2]


def test_an_earlier_program_stays_without_force(plan, capsys, monkeypatch):
    order = ["rework", plan, "--box", "2,2,8,6"]
    assert run(capsys, monkeypatch, *order)[0] == 0
    first = (plan / "rework-1.nc").read_bytes()
    status, _, err = run(capsys, monkeypatch, "rework", plan, "--from-line", 1)
    assert status == 2
    assert "give --force to replace it" in err
    assert (plan / "rework-1.nc").read_bytes() == first
    assert run(capsys, monkeypatch, "rework", plan, "--from-line", 1, "--force")[0] == 0
    assert (plan / "rework-1.nc").read_bytes() != first


def test_neither_the_plans_own_programs_nor_other_files_are_written_over(plan, capsys, monkeypatch):
    letter = plan.parent / "letter-to-the-millers.txt"
    letter.write_text("Dear millers")
    for target, says in (
        (plan / "clear-1.nc", "is the plan's own program and stays"),
        (plan / "plan.json", "is no program"),
        (letter, "is no program"),
    ):
        before = target.read_bytes()
        status, _, err = run(
            capsys, monkeypatch, "rework", plan, "--from-line", 1, "--out", target, "--force"
        )
        assert status == 2
        assert says in err
        assert target.read_bytes() == before


def test_the_same_order_gives_the_same_bytes(plan, capsys, monkeypatch):
    for name in ("a.nc", "b.nc"):
        run(capsys, monkeypatch, "rework", plan, "--box", "2,2,8,6", "--out", plan.parent / name)
    assert (plan.parent / "a.nc").read_bytes() == (plan.parent / "b.nc").read_bytes()


class TestResume:
    """After a stop: the place is asked for, found in the program and drawn."""

    @staticmethod
    def where(plan, share=0.5):
        """A place in the middle of a beam-on move, its line, and when the move begins."""
        from stopout.clearing import plan_speeds

        laser = machine(spot_mm=(0.17, 0.12))
        text = (plan / "clear-1.nc").read_text()
        moves = read_program(text, machine=laser)
        lit = np.flatnonzero(moves.power > 0)
        k = int(lit[int(share * len(lit))])
        middle = (moves.start_mm[k] + moves.end_mm[k]) / 2
        lines = [n for n, row in enumerate(text.splitlines(), 1) if row.startswith(("G0", "G1"))]
        profile = plan_speeds(moves, acceleration_mm_s2=800.0, cornering_mm=0.01)
        return middle, lines[k], float(profile.time_s[:k].sum())

    @pytest.mark.parametrize("share", [0.05, 0.4, 0.9])
    def test_the_program_goes_on_with_the_stroke_that_was_interrupted(
        self, plan, share, capsys, monkeypatch
    ):
        place, line, at_s = self.where(plan, share)
        spot = f"{place[0]:.3f},{place[1]:.3f}"
        order = ["rework", plan, "--stopped-at", spot, "--after", f"{at_s:.1f} s", "--force"]
        status, _, err = run(capsys, monkeypatch, *order)
        assert status == 0, err
        resumed = (plan / "rework-1.nc").read_text()
        assert run(capsys, monkeypatch, "rework", plan, "--from-line", line, "--force")[0] == 0
        by_line = (plan / "rework-1.nc").read_text()
        moves_of = [
            [row for row in text.splitlines() if row.startswith("G")] for text in (resumed, by_line)
        ]
        assert moves_of[0] == moves_of[1]
        assert (plan / "rework-1.png").read_bytes().startswith(b"\x89PNG")

    def test_on_a_terminal_it_asks_for_the_place(self, plan, capsys, monkeypatch):
        place, _, _ = self.where(plan)
        answers = iter([f"{place[0]:.3f}, {place[1]:.3f}", 1])
        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("typer.prompt", lambda *asked, **how: next(answers))
        assert run(capsys, monkeypatch, "rework", plan, "--resume", "--force")[0] == 0
        assert (plan / "rework-1.nc").exists()

    @pytest.mark.parametrize(
        ("more", "said"),
        [
            (("--resume",), "give --stopped-at x,y"),
            (("--stopped-at", "here"), "is no place"),
            (("--stopped-at", "200,200"), "clears nothing nearer than"),
            (("--stopped-at", "5,5", "--from-line", "20"), "leave --box and --from-line out"),
            (("--stopped-at", "5,5", "--after", "soon"), "are written 14:30"),
        ],
    )
    def test_what_cannot_be_found_is_refused_and_nothing_written(
        self, plan, more, said, capsys, monkeypatch
    ):
        monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
        before = left(plan)
        status, _, err = run(capsys, monkeypatch, "rework", plan, *more)
        assert status == 2
        assert said in err
        assert left(plan) == before


def test_the_former_name_says_the_new_one_and_works(plan, capsys, monkeypatch):
    order = (plan, "--from-line", 1, "--out")
    status, _, err = run(capsys, monkeypatch, "again", *order, plan.parent / "f.nc")
    assert status == 0
    assert err.splitlines()[0] == "note: stopout again is now stopout rework; use that name."
    status, _, err = run(capsys, monkeypatch, "rework", *order, plan.parent / "g.nc")
    assert (status, err) == (0, "")
