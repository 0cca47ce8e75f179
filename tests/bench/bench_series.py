"""A series of plates: how long each takes, and whether every code says its row.

`python tests/bench/bench_series.py 1000` plans a thousand tags from a CSV in one command, reads
every code of the predicted panels by a library that did not write it, and compares what all have in
common. `--kills 30` ends a smaller series at thirty moments instead and goes on each time;
`--alone 8` holds the pieces of eight series of codes drawn by lot to each piece planned alone.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from series.tags import tag_job

CODE = """at = ["7.5 mm", "6 mm"]
[[code]]
content = "TM-{number}"
kind = "data-matrix"
module = "0.55 mm"
at = ["19 mm", "6 mm"]
"""
MAIN = [sys.executable, "-c", "from stopout.cli import main; main()"]


def job_of(folder: Path, count: int) -> Path:
    rows = "number,place\n" + "".join(f"{n:04d},W\n" for n in range(1, count + 1))
    return tag_job(folder, rows=rows, words="{number}", more=CODE)


def plan(count: int) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = job_of(folder, count)
        began = time.monotonic()
        run = subprocess.run([*MAIN, "plan", str(path), "--no-book"], check=False)
        wall = time.monotonic() - began
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        made = json.loads((folder / "tags-plan" / "plan.json").read_text())
        print(
            f"{count} plates: status {run.returncode}, {wall:.0f} s wall, "
            f"{used.ru_utime + used.ru_stime:.0f} s of processors, "
            f"{(used.ru_utime + used.ru_stime) / count:.2f} s a plate, "
            f"{used.ru_maxrss / 2**20:.2f} GiB at most in one process; "
            f"{len(made['pieces'])} pieces on {made['pieces'][-1]['panel']} panels, "
            f"verdict {made['verdict']['state']}"
        )
        read_back(folder / "tags-plan", made)
        letters(count)


def read_back(folder: Path, made: dict) -> None:
    """Hold every piece's mask, grown by the undercut, to its row and to the others.

    Codes are read by another library than the one that wrote them; frames are compared by hash.
    """
    from pylibdmtx import pylibdmtx

    from stopout.library.planned_piece import _opening
    from stopout.outcome import advance
    from stopout.planning.findings.codes import pictured

    right = wrong = 0
    rims = set()
    for panel in sorted({piece["panel"] for piece in made["pieces"]}):
        name = "mask-1.svg" if panel == 1 else f"mask-1-panel-{panel}.svg"
        size = made["blank"] if panel == 1 else _size_of(folder / name)
        parts = Near(_opening(folder, name, size["height_mm"]))
        for piece in made["pieces"]:
            if piece["panel"] != panel:
                continue
            x, y = piece["at_mm"]
            own = parts.within((x, y, x + 26.0, y + 12.0))
            finished = advance(own, made["undercut_mm"])
            box = (x + 14.0, y + 1.6, x + 24.4, y + 10.4)
            said = pylibdmtx.decode(pictured(finished, box), max_count=1)
            is_right = [one.data.decode() for one in said] == [f"TM-{piece['number']}"]
            right, wrong = right + is_right, wrong + (not is_right)
            rims.add(_rim(own, x, y))
    print(f"codes read by another library: {right} right, {wrong} wrong; {len(rims)} kind of frame")


def letters(count: int) -> None:
    """Hold the figures of every row to the font's own outlines, and on an arc to the closed form.

    The outlines are read by fontTools; a figure on an arc stands where its middle's share of the
    way, over the radius, puts it.
    """
    from math import degrees

    from fontTools.pens.boundsPen import BoundsPen
    from fontTools.ttLib import TTFont

    from stopout.artwork.fonts.book import FontBook
    from stopout.artwork.setting.text import lay_out
    from stopout.job.setting import Arc, SetText

    book, radius, off_um, off_deg = FontBook(), 12.0, 0.0, 0.0
    plain = SetText(
        words="", cap_height_mm=3.0, font="Barlow Bold", at_mm=(0, 0), anchor="bottom left"
    )
    font = TTFont(lay_out(replace(plain, words="0"), book, (0.0, 0.0)).glyphs[0].face.path)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()

    def bounds(letter: str) -> tuple[float, float, float, float]:
        pen = BoundsPen(glyphs)
        glyphs[names[ord(letter)]].draw(pen)
        return pen.bounds

    per_mm = (bounds("H")[3] - bounds("H")[1]) / 3.0
    for n in range(1, count + 1):
        text = replace(plain, words=f"{n:04d}")
        laid = lay_out(text, book, (0.0, 0.0))
        for letter, region in zip(text.words, laid.regions(), strict=True):
            ours, theirs = region.bounds, bounds(letter)
            off_um = max(off_um, *(1000 * abs(ours[k] - theirs[k] / per_mm) for k in (1, 3)))
        feet = [glyph.at_mm.real for glyph in laid.glyphs]
        ends = [*feet[1:], feet[-1] + font["hmtx"][names[ord(text.words[-1])]][0] / per_mm]
        bent = lay_out(replace(text, arc=Arc(radius_mm=radius)), book, (0.0, 0.0))
        for glyph, first, end in zip(bent.glyphs, feet, ends, strict=True):
            angle = ((first + end) / 2 - ends[-1] / 2) / radius
            off_deg = max(off_deg, abs(glyph.turn_deg + degrees(angle)))
    print(
        f"figures of {count} rows: edges within {off_um:.3f} um of the font's outlines, on an arc "
        f"within {off_deg:.4f} deg of the closed form"
    )


def _size_of(path: Path) -> dict[str, float]:
    import re

    head = path.read_text(encoding="utf-8")[:2000]
    return {"height_mm": float(re.search(r'height="([0-9.]+)mm"', head)[1])}


class Near:
    """A panel's parts, asked for those that lie in a box: it has thousands."""

    def __init__(self, region) -> None:
        import shapely

        self.parts = shapely.get_parts(region)
        self.tree = shapely.STRtree(self.parts)

    def within(self, box):
        import shapely

        return shapely.MultiPolygon(
            list(self.parts[self.tree.query(box_of(*box), predicate="intersects")])
        )


def box_of(*box):
    import shapely

    return shapely.box(*box)


def _rim(opening, x: float, y: float) -> bytes:
    import shapely

    outer, inner = (
        shapely.box(x, y, x + 26, y + 12),
        shapely.box(x + 1.4, y + 1.4, x + 24.6, y + 10.6),
    )
    rim = opening.intersection(outer.difference(inner))
    moved = shapely.transform(rim, lambda xy: xy - (x, y))
    return shapely.normalize(shapely.set_precision(moved, 1e-4)).wkb


def alone(count: int, seed: int) -> None:
    """Hold every piece of some series of codes to the same piece planned alone.

    A closed path may begin elsewhere, so that its chords fall otherwise, within their tolerance.
    """
    import shapely

    import stopout
    from series.test_series import farthest_mm
    from stopout.library.knowledge import knowledge_for
    from stopout.library.pieces import Order, Workshop
    from stopout.library.series import plan_series

    draw, worst, off_mm, n_groups = random.Random(seed), 0.0, 0.0, 0
    make = Workshop.make
    for _ in range(count):
        with tempfile.TemporaryDirectory() as place:
            os.environ["XDG_CACHE_HOME"] = place
            head = draw.choice(["", "T", "TM-"])
            module = draw.choice([0.4, 0.45, 0.55, 0.6])
            rows = "number,place\n" + "".join(
                f"{draw.randrange(10**4):04d},{draw.choice(['Wxi', '8%B', 'am@'])}\n"
                for _ in range(9)
            )
            code = (
                'at = ["7 mm", "7.5 mm"]\n[[text]]\nwords = "{place}"\ncap_height = "1.6 mm"\n'
                'at = ["7 mm", "3 mm"]\nfont = "Barlow Bold"\n'
                f'[[code]]\ncontent = "{head}{{number}}"\n'
                f'kind = "data-matrix"\nmodule = "{module} mm"\nat = ["19 mm", "6 mm"]\n'
            )
            path = tag_job(Path(place), rows=rows, words="{number}", more=code)
            read = stopout.read_job(path)
            depth = draw.choice([0.02, 0.05, 0.08])
            etch = replace(read.job.etch, depth_mm=depth)
            settings = replace(read.job.settings, line_direction="x")
            read = replace(read, job=replace(read.job, clearing=settings, etch=etch))
            left_out = []

            def counted(shop, order, left_out=left_out):
                left_out += order.without
                return make(shop, order)

            Workshop.make = counted
            knowledge = knowledge_for(read.job)
            made = plan_series(read, knowledge, outline=None, draft=False, tell=str, workers=1)
            n_groups += sum(map(len, left_out))
            shop = Workshop(read=read, knowledge=knowledge, outline=None, draft=False)
            coat = made.coats[0]
            for piece in made.pieces:
                x, y = piece.at_mm
                order = Order(settings=(read.job.setting.filled(dict(piece.fields)),))
                own = make(shop, order).coat
                for name in ("target", "opening", "finished"):
                    here = getattr(coat, name).intersection(shapely.box(x, y, x + 26, y + 12))
                    here = shapely.transform(here, lambda xy, x=x, y=y: xy - (x, y))
                    worst = max(worst, farthest_mm(here, getattr(own, name)))
                for mine, its in (
                    (coat.finished_land_mm, own.finished_land_mm),
                    (coat.stroke_mm, own.stroke_mm),
                    (coat.mask.narrowest_land_mm, own.mask.narrowest_land_mm),
                    (coat.mask.narrowest_opening_mm, own.mask.narrowest_opening_mm),
                ):
                    off_mm = max(off_mm, mine - its)
    print(
        f"{count} series of codes: {n_groups} groups of modules planned apart; pieces within "
        f"{1000 * worst:.2f} um of each alone, widths at most {1000 * off_mm:.2f} um more"
    )


def kills(count: int, seed: int, within_s: float) -> None:
    """End a run at random moments and go on, until it is done; every piece must then be there."""
    draw = random.Random(seed)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = job_of(folder, 60)
        surroundings = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache")}
        ended, most, whole = 0, 0, 0
        while ended < count:
            run = subprocess.Popen(
                [*MAIN, "plan", str(path), "--no-book", "--force"],
                env=surroundings,
                start_new_session=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            try:
                run.wait(draw.uniform(0.2, within_s))
            except subprocess.TimeoutExpired:
                before = len(list((folder / "cache").rglob("*.piece")))
                os.killpg(run.pid, signal.SIGKILL)
                run.wait()
                after = len(list((folder / "cache").rglob("*.piece")))
                assert after >= before, "a piece that was kept is gone"
                ended, most = ended + 1, max(most, after)
            else:
                whole += 1
        subprocess.run(
            [*MAIN, "plan", str(path), "--no-book", "--force"], env=surroundings, check=True
        )
        made = json.loads((folder / "tags-plan" / "plan.json").read_text())
        print(
            f"{count} kills, {whole} runs to the end between them, up to {most} pieces kept: "
            f"{len(made['pieces'])} of 60 pieces in the plan, nothing lost"
        )


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("count", type=int, nargs="?", default=100)
    asked.add_argument("--kills", type=int, default=0)
    asked.add_argument("--alone", type=int, default=0)
    asked.add_argument("--within", type=float, default=6.0, help="seconds of a run, for --kills")
    asked.add_argument("--seed", type=int, default=23)
    given = asked.parse_args()
    if given.kills:
        kills(given.kills, given.seed, given.within)
    elif given.alone:
        alone(given.alone, given.seed)
    else:
        plan(given.count)
