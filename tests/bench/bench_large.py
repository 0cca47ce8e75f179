"""Large work from rasters beside a plain reference: a picture, and a bed full of drawing.

    python tests/bench/bench_large.py [picture] [bed] [--share 0.25]

`picture`: 280 x 390 mm in cells of 0.25 mm, 740,000 of them marked: a screen of round dots, 4 mm
apart, whose size follows a grey that goes round in rings. `bed`: 400 x 400 mm, rings, bars and
lettering-like strokes in a raster of 40 pixels a millimetre, 256 million in all. Each is decoded,
traced, planned to the written and proven program, and predicted; pictures and the sheet are left
out. `--share` takes only that share of the area, to see how time grows.

The plain reference is what a script would do with libraries for general use: outlines of the
thresholded picture, offset twice by a geometry library, rows cut one spacing apart (`plain_s`).
Processor seconds of all threads; the peak is that of the whole process.
"""

from __future__ import annotations

import argparse
import io
import resource
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import cv2
import numpy as np
import shapely
from bench_plan import Clock, plain_s
from PIL import Image

from jobmaker import LYE, make_job, mark, plate

CELLS, PITCH_MM, MARKED = (1120, 1560), 0.25, 740_000
BED_PX, BED_MM = 16_000, 400.0
UNDERCUT_MM = 0.06


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


def measured(case: str, share: float) -> None:
    """Plan one case in this process and print what it took."""
    from stopout.artwork.reading import read_artwork
    from stopout.library.knowledge import knowledge_for
    from stopout.planning import plan_job

    dark, mm_per_px = CASES[case](share)
    rows, columns = dark.shape
    job = job_for(case, columns * mm_per_px, rows * mm_per_px)
    file = io.BytesIO()
    Image.fromarray(np.where(dark, 0, 255).astype(np.uint8)).save(file, "PNG", compress_level=1)
    print(f"{case}: {columns} x {rows} pixels, {int(dark.sum())} dark, "
          f"{columns * mm_per_px:.0f} x {rows * mm_per_px:.0f} mm", flush=True)  # fmt: skip
    plain = plain_from(dark, mm_per_px, job)
    del dark
    clock = Clock()
    clock.watch()
    wall, before = time.perf_counter(), time.process_time()
    artwork = read_artwork(file.getvalue(), job.artwork, job.blank, name="large.png")
    traced = time.process_time() - before
    made = plan_job(job, artwork, knowledge_for(job))
    whole, wall = time.process_time() - before, time.perf_counter() - wall
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    points = shapely.get_num_coordinates(artwork.dark)
    lines = (made.coats[0].program or "").count("\n")
    print(f"  {whole:.1f} s, {wall:.1f} s by the clock, peak {peak:.2f} GiB; "
          f"{whole / plain:.0f} times the plain reference ({plain:.1f} s); "
          f"{points} points, {lines} lines of program"
          + (", STOPPED" if made.is_stopped else ""))  # fmt: skip
    spent = {"decoding and tracing": traced, **clock.spent}
    spent["the rest"] = whole - sum(spent.values())
    for label, seconds in sorted(spent.items(), key=lambda e: -e[1]):
        print(f"  {label:<26}{seconds:7.2f} s {100 * seconds / whole:4.0f} %")


def plain_from(dark, mm_per_px: float, job) -> float:
    """What the plain way takes, from the picture on."""
    before = time.process_time()
    found, _ = cv2.findContours(dark.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    rings = [ring[:, 0] * mm_per_px for ring in found if len(ring) >= 3]
    areas = shapely.polygons([shapely.linearrings(ring) for ring in rings])
    # Outlines within outlines are holes: symmetric differences undo them.
    outer = shapely.make_valid(areas)
    target = shapely.union_all(outer)
    traced = time.process_time() - before
    across = (job.clearing.mark_mm[0].value, job.clearing.mark_mm[1].value)
    return traced + plain_s(target, undercut_mm=UNDERCUT_MM, mark_mm=across)


def main() -> None:
    """Measure each case in a process of its own."""
    words = argparse.ArgumentParser(description="Large work beside a plain reference.")
    words.add_argument("cases", nargs="*", default=list(CASES))
    words.add_argument("--share", type=float, default=1.0)
    words.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    asked = words.parse_args()
    for case in asked.cases:
        if asked.here:
            measured(case, asked.share)
        else:
            again = [sys.executable, __file__, case, "--share", str(asked.share), "--here"]
            subprocess.run(again, check=False)


if __name__ == "__main__":
    main()
