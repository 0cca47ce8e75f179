"""A series planned piece by piece, held against the same panel planned in one go.

The joined program is swept anew from its text; what a piece has in common with the others is the
same to the last bit; a run that is killed goes on where it stood.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context, parent_process
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

import stopout
from cli.shop_files import here
from series.tags import tag_job
from stopout.clearing import ALONE, as_run, measure_program
from stopout.copies import CannotCopyError, Copy
from stopout.errors import JobError
from stopout.job.setting import Setting
from stopout.library import pieces, recurring
from stopout.library.knowledge import knowledge_for
from stopout.library.series import _all_panels, plan_series
from stopout.outcome import sweep
from stopout.planning.panel.joining import LaidCoat, join_coats
from stopout.planning.panel.naming import name_pieces, told_together
from stopout.planning.road.whole import plan_job
from stopout.planning.verdict.record import Told
from stopout.program import read_program
from stopout.values import Finding, Level, Span

CODE = """[[code]]
content = "{number}"
kind = "data-matrix"
module = "0.55 mm"
at = ["19 mm", "6 mm"]
"""
MAIN = "from stopout.cli import main; main()"
AT = 'at = ["7.5 mm", "6 mm"]\n'


@pytest.fixture(scope="module", autouse=True)
def own_cache(tmp_path_factory):
    """Pieces are kept in a cache of the tests' own."""
    before = os.environ.get("XDG_CACHE_HOME")
    os.environ["XDG_CACHE_HOME"] = str(tmp_path_factory.mktemp("cache"))
    yield
    os.environ.pop("XDG_CACHE_HOME")
    if before is not None:
        os.environ["XDG_CACHE_HOME"] = before


@pytest.fixture(scope="module")
def tags(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tags")
    rows = "number,place\n01,W\n02,M\n03,T\n"
    return tag_job(folder, rows=rows, panel="count = [2, 2]", more=AT + CODE, words="{number}")


@pytest.fixture(scope="module")
def planned(tags):
    return stopout.plan_job(stopout.read_job(tags))


def grown_apart(one, other):
    """How far two regions lie apart: what one has beyond the other, grown by half a micrometre."""
    return max(one.difference(other.buffer(5e-4)).area, other.difference(one.buffer(5e-4)).area)


def farthest_mm(one, other):
    """How far a corner of what one region has beyond the other lies from it, either way."""
    pairs = [(one.difference(other), other), (other.difference(one), one)]
    return max(
        shapely.distance(shapely.points(shapely.get_coordinates(beyond)), region).max(initial=0.0)
        for beyond, region in pairs
    )


def test_the_joined_panel_is_the_panel_planned_in_one_go(planned, tags):
    read = stopout.read_job(tags)
    whole = replace(planned.job, findings=())
    apart = plan_job(whole, planned.drawing, knowledge_for(read.job))
    assert grown_apart(planned.coats[0].target, apart.coats[0].target) < 1e-6
    # Rows of lines begin elsewhere, so that ends of lines differ by less than a motor step.
    beyond = planned.coats[0].opening.symmetric_difference(apart.coats[0].opening)
    assert beyond.buffer(-0.013).is_empty
    assert planned.coats[0].outcome.lost == apart.coats[0].outcome.lost
    assert planned.coats[0].mask.openings == apart.coats[0].mask.openings
    # Pieces are measured only where they are narrower than the first: the narrowest is the same.
    one, other = planned.coats[0], apart.coats[0]
    assert one.stroke_mm == pytest.approx(other.stroke_mm, abs=1e-3)
    assert one.mask.narrowest_opening_mm == pytest.approx(other.mask.narrowest_opening_mm, abs=5e-3)
    assert one.finished_land_mm == pytest.approx(other.finished_land_mm, abs=5e-3)


@pytest.mark.parametrize("draft", [True, False])
def test_pieces_side_by_side_come_out_as_each_alone(tags, draft):
    read = stopout.read_job(tags)
    clearing = replace(read.job.settings, line_direction="x")
    read = replace(read, job=replace(read.job, clearing=clearing))
    shop = pieces.Workshop(read=read, knowledge=knowledge_for(read.job), outline=None, draft=draft)
    some = tuple(read.job.setting.filled({"number": n}) for n in ("07", "18"))
    together = shop.make(pieces.Order(settings=some))
    assert len(together.findings) == 2
    for k, one in enumerate(some):
        alone = shop.make(pieces.Order(settings=(one,)))
        corner = together.pieces.corner_mm(k)
        box = shapely.box(corner[0] - 1, -1, corner[0] + 27, 13)
        for name in ("target", "opening", "finished"):
            here = getattr(together.coat, name).intersection(box)
            here = shapely.transform(here, lambda xy: xy - corner)  # noqa: B023
            assert grown_apart(here, getattr(alone.coat, name)) < 1e-6
        assert together.coat.stroke_mm <= alone.coat.stroke_mm + 1e-6
        assert together.coat.finished_land_mm <= alone.coat.finished_land_mm + 1e-6


def test_what_a_copy_cannot_do_is_done_by_the_process_that_made_it(tags, monkeypatch):
    """What a copy keeps itself is not seen here."""
    read, kept = stopout.read_job(tags), []
    shop = pieces.Workshop(read=read, knowledge=knowledge_for(read.job), outline=None, draft=False)
    orders = [pieces.Order(settings=(read.job.setting.filled({"number": n}),)) for n in "12"]

    def keep(_, order):
        if parent_process() is None:
            kept.append(order)
        elif order == orders[0]:
            raise CannotCopyError

    copies = partial(ProcessPoolExecutor, mp_context=get_context("fork"))
    monkeypatch.setattr(pieces, "ProcessPoolExecutor", copies)
    monkeypatch.setattr(pieces, "keep", keep)
    told = []
    pieces.keep_all(shop, orders, told.append, 2)
    assert kept == orders[:1]
    assert sorted(told) == ["piece 1 of 2", "piece 2 of 2"]


@pytest.mark.parametrize("is_gone", [False, True])
def test_panels_that_are_over_come_first_whoever_joins_them(is_gone, monkeypatch):
    """A copy may be ended from outside: its panels are then joined here."""
    if is_gone:
        monkeypatch.setattr(Copy, "made", lambda copy: copy.end())
    here, shop = [], SimpleNamespace(draft=False)
    works = [lambda _, k=k: here.append(k) or (k, parent_process() is None) for k in range(3)]
    found = _all_panels(shop, works, [[], [], []], 0, str, 2)
    assert [k for k, _ in found] == [0, 1, 2]
    assert found[0][1] == is_gone


def test_where_groups_do_not_come_out_as_drawn_their_code_is_planned_whole(tags, monkeypatch):
    read, box = stopout.read_job(tags), (-1.0, -1.0, 99.0, 99.0)
    shop = pieces.Workshop(read=read, knowledge=knowledge_for(read.job), outline=None, draft=True)
    own = Setting(codes=read.job.setting.filled({"number": "12"}).codes)
    order = pieces.Order(settings=(own,), boxes=((box,),))
    whole = shop.make(order)
    group = min(whole.coat.target.geoms, key=lambda part: part.area)
    order = replace(order, without=((group.buffer(0.01).bounds,),))
    monkeypatch.setattr(recurring, "is_quiet", lambda _: False)
    made = shop.make(order)
    assert made.is_whole
    assert made.coat.target.equals(whole.coat.target)


def test_what_comes_again_is_planned_once_and_comes_out_as_in_a_piece_alone(tmp_path, monkeypatch):
    rows = "number,place\n" + "".join(f"{n},W\n" for n in (1211, 1122, 2121, 2112, 1222, 2212))
    word = '[[text]]\nwords = "{place}xi"\ncap_height = "1.6 mm"\nat = ["7.5 mm", "2.8 mm"]\n'
    more = AT + word + 'font = "Barlow Bold"\n' + CODE
    path = tag_job(tmp_path, rows=rows, panel="count = [2, 1]", more=more, words="{number}")
    read = stopout.read_job(path)
    clearing = replace(read.job.settings, line_direction="x")
    read = replace(read, job=replace(read.job, clearing=clearing))
    made, make = [], pieces.Workshop.make

    def counted(shop, order):
        made.append(order)
        return make(shop, order)

    monkeypatch.setattr(pieces.Workshop, "make", counted)
    one, two = (
        plan_series(read, knowledge_for(read.job), outline=None, draft=False, tell=print, workers=n)
        for n in (1, 2)
    )
    kinds = [order for order in made if order.boxes and not order.settings[0].codes]
    words = [
        [text.words for setting in order.settings for text in setting.texts] for order in kinds
    ]
    assert words == 2 * [["Wxi"], ["1122", "1122"]], "the word, and the figures 1 and 2"
    groups = [len(boxes) for order in made for boxes in order.without]
    assert min(groups) >= 2, "groups of modules that come again are left out of their codes"
    assert len(one.panels) == 2
    panels = [one, *one.panels]
    # No stroke's end is burnt by where the beam goes next.
    assert all(panel.coats[0].cleared.times.dose_ratio_max < 1.2 for panel in panels)
    # The same bytes, whoever makes a panel.
    for panel, other in zip(panels, [two, *two.panels], strict=True):
        assert panel.coats[0].program == other.coats[0].program
        assert panel.coats[0].finished.wkb == other.coats[0].finished.wkb
        assert panel.findings == other.findings

    shop = pieces.Workshop(read=read, knowledge=knowledge_for(read.job), outline=None, draft=False)
    # Each kind of figure beside the others; pieces alone take as long as all that comes before.
    for piece in (one.pieces[0], one.pieces[-1]):
        coat, (x, y) = panels[piece.panel - 1].coats[0], piece.at_mm
        alone = make(shop, pieces.Order(settings=(read.job.setting.filled(dict(piece.fields)),)))
        for name in ("target", "opening", "finished"):
            here = getattr(coat, name).intersection(shapely.box(x, y, x + 26, y + 12))
            here = shapely.transform(here, lambda xy: xy - (x, y))  # noqa: B023
            # A closed path may begin elsewhere: its chords fall otherwise, within their tolerance.
            assert farthest_mm(here, getattr(alone.coat, name)) < 1e-3
        assert coat.finished_land_mm <= alone.coat.finished_land_mm + 1e-6
        assert coat.stroke_mm <= alone.coat.stroke_mm + 1e-6
        assert coat.mask.narrowest_opening_mm <= alone.coat.mask.narrowest_opening_mm + 1e-6
    swept = sweep(
        as_run(read_program(one.coats[0].program, machine=one.job.laser), one.job.laser),
        tuple(axis.value for axis in one.coats[0].mark_mm),
    )
    assert grown_apart(swept, one.coats[0].opening) < 1e-4


def test_a_draft_makes_no_piece_again_where_only_a_word_of_the_job_changes(tags, monkeypatch):
    read = stopout.read_job(tags)
    first = stopout.plan_job(read, draft=True)

    class MadeError(Exception):
        """A piece is made."""

    def refused(shop, order):
        raise MadeError

    monkeypatch.setattr(pieces.Workshop, "make", refused)
    monkeypatch.setattr(pieces.os, "cpu_count", lambda: 1)
    named = replace(read.job, name="Another", revision="B", sha256="0" * 64)
    again = stopout.plan_job(replace(read, job=named), draft=True)
    assert [one.findings for one in again.panels] == [one.findings for one in first.panels]
    for one, other in zip([first, *first.panels], [again, *again.panels], strict=True):
        assert one.coats[0].finished.wkb == other.coats[0].finished.wkb
        assert one.coats[0].mask == other.coats[0].mask
    mark = tuple(replace(side, value=side.value * 1.01) for side in named.clearing.mark_mm)
    other = replace(named, clearing=replace(named.clearing, mark_mm=mark))
    with pytest.raises(MadeError):
        stopout.plan_job(replace(read, job=other), draft=True)


def test_a_panels_range_of_times_is_that_of_its_own_program(planned):
    """What is not known of the machine is tried at both ends on the joined moves, not added up."""
    coat, laser = planned.coats[0], planned.job.laser
    least, most = 0.5 * laser.acceleration_mm_s2, 2.0 * laser.acceleration_mm_s2
    span = Span(
        name="acceleration", value=laser.acceleration_mm_s2, low=least, high=most,
        unit="mm/s2", kind="memory", source="these tests",
    )  # fmt: skip
    job = replace(planned.job, machine=replace(laser, spans=(span,)))

    def joined(*places):
        laid = LaidCoat(
            coat=coat,
            pieces=ALONE,
            piece=np.zeros(len(places), dtype=np.intp),
            place_mm=np.array(places),
            rank=np.arange(len(places)),
            own=np.arange(len(places)),
        )
        return join_coats([laid], job, lambda moves: ("", moves))

    one, two = joined((0.0, 0.0)), joined((0.0, 0.0), (90.0, 0.0))
    for made in (one, two):
        times = [
            measure_program(
                made.moves,
                machine=replace(laser, acceleration_mm_s2=acceleration),
                power=made.cleared.power_fraction,
                speed_mm_s=made.cleared.speed_mm_s,
            ).time_s
            for acceleration in (most, least)
        ]
        assert made.cleared.time_range_s == pytest.approx(times)
        assert times[0] < made.cleared.times.time_s < times[1]
    ends = zip(one.cleared.time_range_s, two.cleared.time_range_s, strict=True)
    assert all(2 * alone < both < 2 * alone + 10 for alone, both in ends)


def test_the_written_program_opens_every_piece_as_predicted(planned):
    coat, machine = planned.coats[0], planned.job.laser
    moves = read_program(coat.program, machine=machine)
    mark = tuple(axis.value for axis in coat.mark_mm)
    swept = sweep(as_run(moves, machine), mark)
    assert grown_apart(swept, coat.opening) < 1e-4


def test_every_code_of_the_predicted_panel_says_its_row(planned):
    dmtx = pytest.importorskip("pylibdmtx.pylibdmtx", exc_type=ImportError)
    from stopout.planning.findings.codes import pictured

    finished = planned.coats[0].finished
    said = [
        dmtx.decode(pictured(finished, code.quiet_mm), max_count=1)[0].data.decode()
        for code in planned.drawing.codes
    ]
    assert said == [piece.number for piece in planned.pieces] == ["01", "02", "03"]
    assert not [f for f in planned.findings if f.code == "code-unreadable"]


def test_pieces_differ_in_their_fields_alone(planned):
    frames = []
    for piece in planned.pieces:
        x, y = piece.at_mm
        rim = shapely.box(x, y, x + 26, y + 12).difference(
            shapely.box(x + 1.4, y + 1.4, x + 24.6, y + 10.6)
        )
        own = [part for part in planned.coats[0].opening.geoms if part.intersects(rim)]
        frames.append(shapely.transform(own[0], lambda xy: xy - (x, y)))  # noqa: B023
    assert len({shapely.normalize(shapely.set_precision(f, 1e-6)).wkb for f in frames}) == 1


def test_one_process_and_two_plan_the_same(planned, tags):
    read = stopout.read_job(tags)
    alone = plan_series(
        read, knowledge_for(read.job), outline=None, draft=False, tell=print, workers=1
    )
    assert alone.coats[0].program == planned.coats[0].program


def test_the_folder_lists_the_pieces_and_one_is_made_again_by_its_number(tags, tmp_path):
    folder = tmp_path / "plan"
    made = here("plan", tags, "--out", folder, "--no-book", cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    pieces = json.loads((folder / "plan.json").read_text())["pieces"]
    assert [piece["number"] for piece in pieces] == ["01", "02", "03"]
    assert pieces[2]["at_mm"] == [5.0, 5.0]
    assert {piece["program"] for piece in pieces} == {"clear-1.nc"}
    sheet = (folder / "sheet.html").read_text()
    for words in ("quantity <b>3</b>", "3 pieces on 1 panel", "Panel, ", "a panel"):
        assert words in sheet
    again = here("rework", folder, "--piece", "02", cwd=tmp_path)
    assert again.returncode == 0, again.stderr
    from stopout.plan_file import read_plan

    machine = read_plan(folder).machine
    moves = read_program((folder / "rework-1-piece-02.nc").read_text(), machine=machine)
    lit = moves.end_mm[moves.power > 0]
    (x, y), (w, h) = pieces[1]["at_mm"], pieces[1]["size_mm"]
    assert (lit >= np.array([x, y]) - 0.1).all()
    assert (lit <= np.array([x + w, y + h]) + 0.1).all()
    missing = here("rework", folder, "--piece", "9", cwd=tmp_path)
    assert "it has 01 to 03" in missing.stderr


def test_a_text_too_wide_names_its_row(tmp_path):
    fit = AT + 'fit = { width = "12 mm", least = "2.9 mm" }\n'
    still = f'at = ["7.5 mm", "3 mm"]\n[[text]]\nwords = "{{place}}"\ncap_height = "3 mm"\n{fit}'
    rows = "number,place\n1,W\n2,MILL RACE\n"
    path = tag_job(tmp_path, rows=rows, words="MILL", more=still)
    # Counted as the job file has them: the first text has no field.
    with pytest.raises(JobError, match=r"row 2 \(2\), text\[2\].fit"):
        stopout.plan_job(stopout.read_job(path))


def living_of_group(group: int) -> list[str]:
    """The processes of a group that have not ended, by the system's own list (proc(5))."""
    fields = (
        stat.read_text().rpartition(")")[2].split() for stat in Path("/proc").glob("[0-9]*/stat")
    )
    return [state for state, _, of, *_ in fields if int(of) == group and state != "Z"]


def test_a_run_that_is_killed_loses_nothing_and_plans_nothing_twice(tmp_path, monkeypatch):
    rows = "number,place\n" + "".join(f"{n},W\n" for n in range(1, 10))
    path = tag_job(tmp_path, rows=rows, more=AT, words="{number}")
    cache = tmp_path / "cache"
    order = [sys.executable, "-c", MAIN, "plan", str(path), "--no-book"]
    surroundings = {**os.environ, "XDG_CACHE_HOME": str(cache)}
    run = subprocess.Popen(order, env=surroundings, start_new_session=True,
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
    hang = time.monotonic() + 300
    # What is common, and the first, are kept by themselves; the two lots after end nearly at once.
    while not list(cache.rglob("*.piece")) and run.poll() is None:
        assert time.monotonic() < hang
        time.sleep(0.01)
    # Only the command itself: what works for it ends with it, where the system has a way.
    (os.kill if sys.platform == "linux" else os.killpg)(run.pid, signal.SIGKILL)
    run.wait()
    while living_of_group(run.pid):
        assert time.monotonic() < hang
        time.sleep(0.01)
    kept = len(list(cache.rglob("*.piece")))
    assert kept >= 1
    assert not (tmp_path / "tags-plan" / "plan.json").exists()
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    planned_now = []
    make = pieces.keep
    monkeypatch.setattr(pieces, "keep", lambda *args: planned_now.append(args[1]) or make(*args))
    read = stopout.read_job(path)
    plan = plan_series(
        read, knowledge_for(read.job), outline=None, draft=False, tell=print, workers=1
    )
    assert len(plan.pieces) == 9
    # What all have in common, the first, and the others in two lots: what was kept is not planned
    # again.
    assert len(planned_now) == 4 - kept
    assert not list(cache.rglob("*.piece"))


def test_copies_of_one_piece_lie_on_one_film_with_marks_to_cut_by(tmp_path):
    path = tag_job(
        tmp_path, words="MILL", more=AT, no_series=True, film=True, head="quantity = 3",
        panel="count = [3, 1]\ncut_marks = true",
    )  # fmt: skip
    plan = stopout.plan_job(stopout.read_job(path))
    assert [piece.number for piece in plan.pieces] == ["1", "2", "3"]
    (coat,) = plan.coats
    assert coat.program is None
    assert coat.prints
    alone = [
        shapely.transform(coat.drawn.intersection(shapely.box(x, y, x + 26, y + 12)),
                          lambda xy: xy - (x, y))  # noqa: B023
        for x, y in (piece.at_mm for piece in plan.pieces)
    ]  # fmt: skip
    assert alone[0].symmetric_difference(alone[2]).area < 1e-6
    marks = coat.target.area - 3 * plan.drawing.dark.intersection(shapely.box(5, 5, 31, 17)).area
    assert marks == pytest.approx(16 * 0.4 * 3.4, rel=0.01)


def test_loose_pieces_share_a_program_and_keep_blanks_and_trays_of_their_own(tmp_path):
    path = tag_job(
        tmp_path, words="MILL", more=AT, no_series=True, head="quantity = 3",
        panel="count = [3, 1]\nloose = true",
    )  # fmt: skip
    plan = stopout.plan_job(stopout.read_job(path))
    assert plan.are_loose
    assert (plan.job.blank.width_mm, plan.job.quantity) == (26.0, 3)
    assert plan.etch.metal_removed_g == pytest.approx(3 * plan.etch.metal_per_piece_g)
    ((number, bed),) = plan.numbered_panels
    assert number == 1
    assert bed.job.blank.width_mm > 3 * 26
    one = plan.coats[0].opening
    for piece in plan.pieces:
        x, y = piece.at_mm
        there = shapely.transform(one, lambda xy: np.add(xy, (x, y)))  # noqa: B023
        here = bed.coats[0].opening.intersection(shapely.box(x, y, x + 26, y + 12))
        assert here.symmetric_difference(there).area < 1e-6
    files = stopout.plan_files(plan)
    assert {"clear-1.nc", "clear-1-panel-1.nc"} <= set(files)
    summary = json.loads(files["plan.json"])
    assert {piece["program"] for piece in summary["pieces"]} == {"clear-1-panel-1.nc"}


def test_signs_lie_side_by_side_as_worked_from_the_back_and_findings_name_them(tmp_path):
    path = tmp_path / "doors.toml"
    demo = (Path(__file__).parents[2] / "demo/visitors-sign/visitors-sign.toml").read_text()
    machine = demo[demo.index("[[coat]]") :].replace("recolour = true", "")
    blank = (
        '[blank]\nmaterial = "acrylic-cast"\nwidth = "30 mm"\nheight = "12 mm"\n'
        'thickness = "3 mm"\nworked_side = "back"\n'
    )
    text = (
        '[[text]]\nwords = "{n}"\ncap_height = "5 mm"\nat = ["{x} mm", "6 mm"]\nanchor = "left"\n'
    )
    series = "[series]\ncount = { number = 2, start = 7 }\n[panel]\ncount = [2, 1]\n"
    words = text.replace("{n}", "{number}").replace("{x}", "-1")
    path.write_text('[job]\nname = "Doors"\n' + words + series + blank + machine)
    plan = stopout.plan_job(stopout.read_job(path))
    assert [piece.at_mm for piece in plan.pieces] == [(5.0, 5.0), (38.0, 5.0)]
    # Worked from the back, the first piece is the rightmost as seen.
    assert [glyph.text for glyph in sorted(plan.drawing.glyphs, key=lambda g: -g.box_mm[0])] == [
        "7",
        "8",
    ]
    x0 = plan.job.blank.width_mm - 5.0 - 30.0
    assert plan.drawing.glyphs[0].box_mm[0] == pytest.approx(x0 - 1, abs=0.6)
    cut = [finding for finding in plan.findings if finding.code == "cut-off"]
    assert sorted(finding.message[:8] for finding in cut) == ["piece 7:", "piece 8:"]
    (told,) = [one for one in plan.verdict.told if one.code == "cut-off" and "and" in one.message]
    assert told.message.startswith("pieces 7 and 8: ")
    assert plan.is_stopped


def test_what_is_said_of_places_names_the_pieces_that_lie_there(planned):
    pieces = [replace(planned.pieces[k % 3], number=f"{k + 1:02d}") for k in range(3)]
    first, _, third = ((p.at_mm[0] + 13.0, p.at_mm[1] + 6.0) for p in pieces)
    finding = Finding(code="thin-opening", level=Level.CAUTION, message="thin", at_mm=third)
    told = [
        Told(code="thin-opening", level=Level.CAUTION, message="thin", places_mm=(first, third)),
        Told(code="coupon-needed", level=Level.NOTE, message="a coupon is wanted"),
        Told(code="tips-short", level=Level.NOTE, message="short",
             places_mm=tuple((p.at_mm[0] + 1.0, p.at_mm[1] + 1.0) for p in pieces)),
    ]  # fmt: skip
    verdict = replace(planned.verdict, told=tuple(told))
    bare = replace(planned, findings=(finding,), verdict=verdict)
    named = name_pieces(bare, pieces)
    assert named.findings[0].message == "piece 03: thin"
    assert [one.message for one in named.verdict.told] == [
        "pieces 01 and 03: thin",
        "a coupon is wanted",
        "pieces 01, 02 and 03: short",
    ]
    stop = replace(finding, code="part-lost", level=Level.STOP)
    ended = replace(named, findings=(stop,), verdict=replace(named.verdict, state="stopped"))
    whole, other = told_together([named, ended])
    assert [finding.code for finding in whole.findings] == ["thin-opening", "part-lost"]
    assert whole.verdict.state == "stopped"
    assert {coat.program for plan in (whole, other) for coat in plan.coats} == {None}


def test_what_is_said_in_brief_of_pieces_says_more_than_which():
    told = Told(code="cut-off", level=Level.STOP, message=f"piece 7: {'a word ' * 20}: more",
                remedy="Do that. " * 9)  # fmt: skip
    assert told.brief.startswith("Piece 7: a word a word")
