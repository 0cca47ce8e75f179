"""What the geometry libraries give that another one at hand does not, in figures.

    python tests/bench/bench_libraries.py

Prints what stands in docs/explanation/libraries.md: contours of a soft disc, a sharp stroke's end,
a ring that crosses itself and many bars united, each by two libraries, with the processor time.
Where scikit-image is installed, what it would do in place of contourpy and of our own widths.
"""

from __future__ import annotations

import math
import time

import contourpy
import cv2
import numpy as np
import pathops
import pyclipper
import shapely

from stopout.artwork.raster.outlines import crossings_of, outlined
from stopout.mask.widthmap import local_widths

try:
    from skimage import measure, morphology
except ImportError:
    measure = morphology = None

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
        return cv2.findContours(dark, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)[0][0][:, 0] + 0.5

    def by_contourpy():
        return contourpy.contour_generator(z=grey.astype(float)).lines(127.5)[0] + 0.5

    def by_scikit_image():
        return measure.find_contours(grey.astype(float), 127.5)[0][:, ::-1] + 0.5

    ways = [("our own", by_our_own), ("contourpy", by_contourpy), ("opencv", by_opencv)]
    if measure is not None:
        ways.append(("scikit-image", by_scikit_image))
    for name, work in ways:
        ms, found = timed(work)
        off = np.hypot(*(found - middle).T) - radius
        rms = math.sqrt((off**2).mean())
        print(f"contour  {name:12} rms {rms:.2f} px, most {abs(off).max():.2f} px, {ms:.1f} ms")


def many_contours():
    """Some thousand outlines of smoothed noise, 450,000 points of them."""
    grey = cv2.GaussianBlur(np.random.default_rng(1).random((2000, 2000)), (0, 0), 4)
    half = float(np.median(grey))
    ms, found = timed(lambda: contourpy.contour_generator(z=grey).lines(half))
    print(f"outlines contourpy    {len(found)} in {ms:.0f} ms")
    if measure is not None:
        ms, found = timed(lambda: measure.find_contours(grey, half))
        print(f"outlines scikit-image {len(found)} in {ms:.0f} ms")
    fine = np.rint(np.clip(grey, 0, 1) * 65535).astype(np.uint16)
    level = half * 65535
    ms, found = timed(lambda: outlined(fine, level, crossings_of(fine, level, most=10**7)))
    print(f"outlines our own      {len(found)} parts in {ms:.0f} ms")


def widths():
    """Widths along a wedge of 30 mm, from 0.2 to 0.5 mm wide."""
    long, ends = 30.0, (0.2, 0.5)
    slope = (ends[1] - ends[0]) / long
    leans = math.cos(math.atan(slope / 2))
    corners = [(0, -ends[0] / 2), (long, -ends[1] / 2), (long, ends[1] / 2), (0, ends[0] / 2)]
    wedge = shapely.Polygon(corners)
    face = shapely.box(-5, -5, long + 5, 5)

    def told(name, ms, at_mm, width_mm):
        inner = (at_mm > 2) & (at_mm < long - 2)
        off = 1000 * (width_mm - (ends[0] + slope * at_mm) * leans)[inner]
        rms, most = math.sqrt((off**2).mean()), abs(off).max()
        print(f"widths   {name:12} rms {rms:.1f} um, most {most:.1f} um, {ms:.0f} ms")

    for spacing in (0.1, 0.05):
        ms, (found, _) = timed(lambda apart=spacing: local_widths(wedge, face, spacing_mm=apart))
        told(f"ours, {spacing}", ms, found.at_mm[:, 0], found.width_mm)
    if morphology is None:
        return
    pixel = 0.01
    y, x = (np.mgrid[0:100, 0:3000] + 0.5) * pixel
    inside = np.abs(y - 0.503) < (ends[0] + slope * x) / 2
    ms, (line, far) = timed(lambda: morphology.medial_axis(inside, return_distance=True))
    told("scikit-image", ms, x[line], 2 * pixel * far[line])


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
    many_contours()
    widths()
    strokes()
    fills()
