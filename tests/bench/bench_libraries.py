"""What the geometry libraries give that another one at hand does not, in figures.

    python tests/bench/bench_libraries.py

Prints what stands in docs/explanation/libraries.md: contours of a soft disc, a sharp stroke's end,
a ring that crosses itself and many bars united, each by two libraries, with the processor time.
"""

from __future__ import annotations

import math
import time

import cv2
import numpy as np
import pathops
import pyclipper
import shapely

from stopout.artwork.raster.outlines import crossings_of, outlined

GRID = 1e6


def timed(work, rounds=3):
    """The least processor time of a few rounds, in ms, and what the work returns."""
    took = []
    for _ in range(rounds):
        begin = time.process_time()
        found = work()
        took.append(1000 * (time.process_time() - begin))
    return min(took), found


def contours():
    """Radial error of a disc of 420.3 px whose edge is smoothed over one pixel."""
    size, middle, radius = 1200, (600.2, 599.7), 420.3
    y, x = np.mgrid[0:size, 0:size] + 0.5
    soft = np.clip(np.hypot(x - middle[0], y - middle[1]) - radius + 0.5, 0, 1)
    grey = (255 * soft).astype(np.uint8)

    def by_our_own():
        return shapely.get_coordinates(outlined(grey, 127.5, crossings_of(grey, 127.5, most=9999)))

    def by_opencv():
        dark = (grey < 128).astype(np.uint8)
        return cv2.findContours(dark, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)[0][0][:, 0]

    for name, work, shift in (("our own", by_our_own, 0.0), ("opencv", by_opencv, 0.5)):
        ms, found = timed(work)
        off = np.hypot(*(found + shift - middle).T) - radius
        rms = math.sqrt((off**2).mean())
        print(f"contour  {name:10} rms {rms:.2f} px, most {abs(off).max():.2f} px, {ms:.1f} ms")


def strokes():
    """How far a stroke 10 wide reaches past a corner of 12 degrees, under the mitre limit 4."""
    points = [(0, 0), (100, 0), (5, 20)]
    path = pathops.Path()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    path.stroke(10, pathops.LineCap.BUTT_CAP, pathops.LineJoin.MITER_JOIN, 4)
    line = shapely.LineString(points)
    plain = line.buffer(5, cap_style="flat", join_style="mitre", mitre_limit=4)
    bevel = line.buffer(5, cap_style="flat", join_style="bevel")
    print(
        f"stroke   skia {path.bounds[2] - 100:.2f}, shapely {plain.bounds[2] - 100:.2f}; ", end=""
    )
    print(f"SVG asks for the bevel's {bevel.bounds[2] - 100:.2f}")


def united(paths):
    """Area and processor time of the union by winding number."""

    def work():
        clipper = pyclipper.Pyclipper()
        clipper.AddPaths(paths, pyclipper.PT_SUBJECT, True)
        rule = pyclipper.PFT_NONZERO
        return sum(map(pyclipper.Area, clipper.Execute(pyclipper.CT_UNION, rule, rule))) / GRID**2

    return timed(work)


def fills():
    """A ring of 4000 points that crosses itself, and 3000 bars across one another."""
    turn = np.linspace(0, 100 * math.pi, 4000)
    far = 50 + 20 * np.cos(1.618 * turn)
    ring = np.column_stack([far * np.cos(turn), far * np.sin(turn)])
    random = np.random.default_rng(1)
    middle, way = random.uniform(0, 100, (3000, 1, 2)), random.uniform(0, math.pi, 3000)
    along = np.column_stack([np.cos(way), np.sin(way)])[:, None]
    across = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    bars = middle + 1.5 * along * [[-1], [1], [1], [-1]] + 0.05 * across * [[-1], [-1], [1], [1]]
    for name, paths, other in (
        ("ring", [ring], lambda: shapely.make_valid(shapely.Polygon(ring)).area),
        ("bars", bars, lambda: shapely.union_all(shapely.polygons(bars)).area),
    ):
        ms, area = united([(GRID * path).round().astype(np.int64).tolist() for path in paths])
        other_ms, other_area = timed(other, rounds=1)
        print(f"{name:8} pyclipper {area:.2f} in {ms:.0f} ms, ", end="")
        print(f"shapely {other_area:.2f} in {other_ms:.0f} ms")


if __name__ == "__main__":
    contours()
    strokes()
    fills()
