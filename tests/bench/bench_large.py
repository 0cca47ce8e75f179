"""Large work from rasters beside a plain reference: a picture, and a bed full of drawing.

    python tests/bench/bench_large.py [picture] [bed] [--share 0.25] [--cores 1] [--growth]

`picture`: 280 x 390 mm in cells of 0.25 mm, 740,000 of them marked: a screen of round dots, 4 mm
apart, whose size follows a grey that goes round in rings. `bed`: 400 x 400 mm, rings, bars and
lettering-like strokes in a raster of 40 pixels a millimetre, 256 million in all. Each is decoded,
traced, planned to the written and proven program, and predicted; pictures and the sheet are left
out. `--share` takes only that share of the area; `--growth` takes 1, 10 and 100 hundredths of it
and tells the exponents.

The plain reference is what a script would do with libraries for general use: outlines of the
thresholded picture, offset twice by a geometry library, rows cut one spacing apart. The picture's
rows are cut over all of it, as of a small job, and once more band by band; the bed's band by band
only, for over all of it they take many minutes. It runs in a process of its own, which draws the
picture too. Each case is planned by one process,
whose stages are told, and by one a core: programs and predictions must be the same. Seconds are of
processors, children's with them; the peak is that of the largest process.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import cv2
import numpy as np
import shapely
from bench_plan import Clock, plain_centres, plain_rows
from PIL import Image

from jobmaker import LYE, make_job, mark, plate

CELLS, PITCH_MM, MARKED = (1120, 1560), 0.25, 740_000
BED_PX, BED_MM = 16_000, 400.0
UNDERCUT_MM = 0.06
# Rows that are cut together.
BAND = 64
WHO = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)


def picture(share: float):
    """The cells as a picture (True is dark), and mm a pixel."""
    columns, rows = (round(n * share**0.5) for n in CELLS)
    x, y = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
    grey = 0.5 + 0.5 * np.cos(np.hypot(x - columns / 2, y - rows / 2) / 60)
    dot = 0.25 * (2 + np.cos(2 * np.pi * x / 16) + np.cos(2 * np.pi * y / 16))
    value = dot + 0.5 * grey
    least = np.sort(value.ravel())[-round(MARKED * columns * rows / np.prod(CELLS))]
    return value >= least, PITCH_MM


def bed(share: float):
    """The drawing as a picture (True is dark), and mm a pixel."""
    side = round(BED_PX * share**0.5)
    paper = np.zeros((side, side), np.uint8)
    for top in range(300, side - 300, 600):
        for left in range(300, side - 300, 600):
            k = (7 * (top // 600) + 3 * (left // 600)) % 5
            if k == 0:
                cv2.circle(paper, (left, top), 120, 1, 40)
            elif k == 1:
                cv2.rectangle(paper, (left - 130, top - 30), (left + 130, top + 30), 1, -1)
            elif k == 2:
                cv2.putText(paper, "R8", (left - 150, top + 70), 1, 12, 1, 24, cv2.LINE_AA)
            elif k == 3:
                cv2.ellipse(paper, (left, top), (140, 80), 30 * (top // 600), 0, 360, 1, -1)
            else:
                cv2.line(paper, (left - 130, top - 110), (left + 130, top + 110), 1, 30)
    return paper > 0, BED_MM / BED_PX


CASES = {"picture": picture, "bed": bed}


def job_for(case: str, width_mm: float, height_mm: float):
    """A plate a little larger than the work."""
    is_picture = case == "picture"
    across = 0.30 if is_picture else 0.10
    return make_job(
        blank=plate(size=(width_mm + 2, height_mm + 2)),
        machine={
            "bed_mm": (500.0, 500.0),
            "blank_at_mm": (20.0, 20.0),
            "spot_mm": (1.7 * across, 1.7 * across),
            "power_w": 5.5 * (across / 0.1) ** 2,
        },
        clearing={"mark_mm": mark(across)},
        etch=LYE,
        limits={"edge_tolerance_mm": 0.05, "too_thin": "widen"},
        artwork={"file": "large.png", "width_mm": width_mm},
    )


def drawn(case: str, share: float, folder: Path) -> None:
    """Draw one case into the folder, and take the time of the plain way."""
    dark, mm_per_px = CASES[case](share)
    rows, columns = dark.shape
    grey = np.where(dark, 0, 255).astype(np.uint8)
    Image.fromarray(grey).save(folder / "large.png", compress_level=1)
    job = job_for(case, columns * mm_per_px, rows * mm_per_px)
    print(f"{case}: {columns} x {rows} pixels, {int(dark.sum())} dark, "
          f"{columns * mm_per_px:.0f} x {rows * mm_per_px:.0f} mm", flush=True)  # fmt: skip
    banded, plain = plain_from(dark, mm_per_px, job, over_all=case == "picture")
    tell(folder, plain=plain, banded=banded, columns=columns, rows=rows)


def measured(case: str, cores: int, folder: Path) -> None:
    """Plan one case in this process and print what it took."""
    from stopout.artwork.reading import read_artwork
    from stopout.library.knowledge import knowledge_for
    from stopout.planning import plan_job
    from stopout.planning.opening import apart

    told = json.loads((folder / "told.json").read_text())
    pitch = PITCH_MM if case == "picture" else BED_MM / BED_PX
    job = job_for(case, told["columns"] * pitch, told["rows"] * pitch)
    clock = Clock()
    clock.watch()
    # As the command line has it.
    gc.set_threshold(200_000)
    if cores == 1:
        apart.cores = lambda: 1
    file = (folder / "large.png").read_bytes()
    wall, before = time.perf_counter(), processor_s()
    artwork = read_artwork(file, job.artwork, job.blank, name="large.png")
    traced = processor_s() - before
    made = plan_job(job, artwork, knowledge_for(job))
    whole, wall = processor_s() - before, time.perf_counter() - wall
    coat = made.coats[0]
    kept = hashlib.sha256((coat.program or "").encode() + coat.finished.wkb).hexdigest()[:12]
    who = "one process" if cores == 1 else "all cores"
    times = [f"{whole / s:.1f} times the plain reference {how} ({s:.1f} s)"
             for s, how in ((told["plain"], "over all of it"), (told["banded"], "band by band"))
             if s is not None]  # fmt: skip
    print(f"  {who}: {whole:.1f} s, {wall:.1f} s by the clock, peak {peak_gib():.2f} GiB; "
          f"{', '.join(times)}; "
          f"{shapely.get_num_coordinates(artwork.dark)} points, "
          f"{(coat.program or '').count(chr(10))} lines of program, made {kept}"
          + (", STOPPED" if made.is_stopped else ""), flush=True)  # fmt: skip
    if cores != 1:
        return
    spent = {"decoding and tracing": traced, **clock.spent}
    spent["the rest"] = whole - sum(spent.values())
    for label, seconds in sorted(spent.items(), key=lambda e: -e[1]):
        print(f"  {label:<26}{seconds:7.2f} s {100 * seconds / whole:4.0f} %", flush=True)
    tell(folder, **told, spent={"together": whole, **spent})


def tell(folder: Path, **what) -> None:
    """Leave what was found for the process that asked."""
    (folder / "told.json").write_text(json.dumps(what))


def processor_s() -> float:
    """Processor seconds of this process and of those that it has ended."""
    own, others = (resource.getrusage(who) for who in WHO)
    return own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime


def peak_gib() -> float:
    """The most memory that one of them had."""
    return max(resource.getrusage(who).ru_maxrss for who in WHO) / 2**20


def plain_from(dark, mm_per_px: float, job, *, over_all: bool) -> tuple[float, float | None]:
    """What the plain way takes from the picture on: rows cut band by band, and over all of it."""
    before = time.process_time()
    found, _ = cv2.findContours(dark.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    rings = [ring[:, 0] * mm_per_px for ring in found if len(ring) >= 3]
    areas = shapely.polygons([shapely.linearrings(ring) for ring in rings])
    target = shapely.union_all(shapely.make_valid(areas))
    mark_mm = (job.clearing.mark_mm[0].value, job.clearing.mark_mm[1].value)
    centres = plain_centres(target, UNDERCUT_MM, mark_mm)
    rows = plain_rows(target, mark_mm)
    offset = time.process_time()
    for first in range(0, len(rows), BAND):
        some = rows[first : first + BAND]
        x0, y0, x1, y1 = shapely.total_bounds(some)
        shapely.intersection(some, shapely.clip_by_rect(centres, x0, y0 - 1e-3, x1, y1 + 1e-3))
    banded = time.process_time()
    if over_all:
        shapely.intersection(rows, centres)
    whole = time.process_time() - banded + offset - before if over_all else None
    return banded - before, whole


def taken(case: str, share: float, cores: list[int]) -> dict:
    """Draw and plan one case in processes of their own; return what they told."""
    with tempfile.TemporaryDirectory() as folder:
        for step in ("drawn", *cores):
            again = [sys.executable, __file__, case, "--share", str(share), "--here", str(step)]
            subprocess.run([*again, "--folder", folder], check=False)
        return json.loads((Path(folder) / "told.json").read_text())


def grown(case: str) -> None:
    """Take a hundredth, a tenth and the whole, and print how each stage grows."""
    spent = [taken(case, share, [1])["spent"] for share in (0.01, 0.1, 1.0)]
    print(f"{case}, exponents from 1 to 10 and from 10 to 100 times the work")
    for stage in spent[0]:
        times = [max(one.get(stage, 0.0), 1e-3) for one in spent]
        steps = [math.log10(b / a) for a, b in pairwise(times)]
        print(f"  {stage:<26}{steps[0]:6.2f}{steps[1]:6.2f}")


def main() -> None:
    """Measure each case in processes of its own."""
    words = argparse.ArgumentParser(description="Large work beside a plain reference.")
    words.add_argument("cases", nargs="*", default=list(CASES))
    words.add_argument("--share", type=float, default=1.0)
    words.add_argument("--cores", type=int, nargs="*", default=[1, 2])
    words.add_argument("--growth", action="store_true")
    words.add_argument("--here", help=argparse.SUPPRESS)
    words.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    asked = words.parse_args()
    for case in asked.cases:
        if asked.here == "drawn":
            drawn(case, asked.share, asked.folder)
        elif asked.here:
            measured(case, int(asked.here), asked.folder)
        elif asked.growth:
            grown(case)
        else:
            taken(case, asked.share, asked.cores)


if __name__ == "__main__":
    main()
