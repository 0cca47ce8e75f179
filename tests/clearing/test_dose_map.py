"""What the programs clear by dose, on random regions: a brute-force map against the mark's shape.

Every point of the opening must reach the threshold, and nothing beyond it, within what a dose of
Gaussian lines differs from a swept mark (dose ratio 2, w the 1/e^2 radius, D = 1.1774 w):

- 0.25 w within a mark of the path's corners and ends: at the outside of a right angle a path
  reaches x with exp(-x^2) erfc(x) = 1/2, 0.39 w, where the swept mark reaches 0.59 w; inside it
  clears as much more;
- 0.07 w along outlines, whose line dose stays within 14 % (d D/2 = w^2/(2 D) d ln q); where such
  a line and a fill's end share a place its dose may be 5 % under the threshold;
- at tips sharper than 60 degrees, and at the free end of a single line 0.59 w: switched off at
  speed it ends on its axis where it was switched (erfc falls to half there), and the swept mark
  half a mark beyond. Nothing but more dose can mend that, so the bound of 0.25 w cannot hold
  there; fills and other outlines have no such ends.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy import ndimage
from scipy.special import erfc
from shapely.geometry import LineString, MultiLineString, MultiPolygon, box

from clearing.dose_map import PITCH, dose_map, lit_runs
from clearing.test_paths import steps_of
from clearing.winch_rows import MACHINE
from planning.plain_reading import cleared_raster, lit
from shapes import glyph_f, random_polygon
from stopout.clearing import clear

MARKS = [(0.10, 0.10), (0.10, 0.07), (0.06, 0.12)]
FWHM = math.sqrt(2 * math.log(2))
# A pixel's own size.
PIXEL = PITCH * math.sqrt(2)
NEARLY = 0.95


def spacings(mark):
    """0.85 of the mark, the widest that the default rule allows."""
    return {"x": 0.85 * mark[1], "y": 0.85 * mark[0]}


def sharp_tips(region):
    """Corners of less than 60 degrees."""
    found = []
    for ring in shapely.get_rings(shapely.get_parts(region)):
        xy = shapely.get_coordinates(ring)[:-1]
        back, on = np.roll(xy, 1, axis=0) - xy, np.roll(xy, -1, axis=0) - xy
        angle = np.abs(
            np.arctan2(back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0], (back * on).sum(axis=1))
        )
        found += list(xy[angle < np.radians(60)])
    return shapely.MultiPoint(found)


class Maps:
    """Dose and swept mark of a clearing, on the same pixels."""

    def __init__(self, centres, mark, *, lines=(), speed=20.0, direction="auto"):
        run = clear(
            MultiPolygon([part for part in shapely.get_parts(centres) if part.area > 1e-4]),
            MultiLineString(list(lines)),
            machine=MACHINE,
            mark_mm=mark,
            spacing_mm=spacings(mark),
            power=0.3,
            speed_mm_s=speed,
            line_direction=direction,
        )
        steps = steps_of(run.moves)
        x0, y0, x1, y1 = shapely.union_all([centres, *lines]).bounds
        low, high = (x0 - 0.15, y0 - 0.15), (x1 + 0.15, y1 + 0.15)
        runs = lit_runs(steps, MACHINE, line_dose=0.3 / speed)
        radius = (mark[0] / FWHM, mark[1] / FWHM)
        self.w = max(radius)
        dose, self.at = dose_map(runs, radius=radius, low=low, high=high, ratio=2.0)
        swept, _ = cleared_raster(lit(steps), mark, low, high, pitch=PITCH)
        deep = ndimage.distance_transform_edt(swept, sampling=PITCH)
        beyond = ndimage.distance_transform_edt(~swept, sampling=PITCH)
        self.deepest_left = np.where(swept & (dose < NEARLY), deep, 0.0)
        tips = sharp_tips(centres)
        gap = shapely.distance(shapely.points(self.at), tips) if not tips.is_empty else 1.0
        self.away_from_tips = np.where(gap > max(mark), self.deepest_left, 0.0)
        self.farthest = float(beyond[dose >= 1].max(initial=0.0))


@pytest.mark.parametrize("direction", ["auto", "x", "y"])
@pytest.mark.parametrize("seed", range(5))
def test_all_of_a_random_opening_reaches_the_threshold_and_nothing_beyond(seed, direction):
    mark = MARKS[seed % 3]
    region = random_polygon(np.random.default_rng(seed), size=1.5)
    # As a mask gives them: eroded by the reach, so that no corner points inwards.
    maps = Maps(region.buffer(-0.08, quad_segs=16), mark, direction=direction)
    assert maps.deepest_left.max() <= 0.59 * maps.w + PIXEL
    assert maps.away_from_tips.max() <= 0.25 * maps.w + PIXEL
    assert maps.farthest <= 0.25 * maps.w + PIXEL


@pytest.mark.parametrize("speed", [20.0, 100.0])
def test_rings_about_strokes_of_many_widths_leave_no_threads(speed):
    """Wedges: from nothing to eight marks wide, so that every width between rings occurs."""
    wedge = shapely.Polygon([(0, 0), (4, 0.1), (4, 0.9), (0, 0.2)])
    maps = Maps(wedge, MARKS[0], speed=speed)
    assert maps.deepest_left.max() <= 0.59 * maps.w + PIXEL
    assert maps.away_from_tips.max() <= 0.25 * maps.w + PIXEL
    assert maps.farthest <= 0.25 * maps.w + PIXEL


def test_a_glyph_s_rings_leave_no_threads():
    maps = Maps(glyph_f(0, 0, height=2.4, stroke=0.37).buffer(-0.05), MARKS[1])
    assert maps.away_from_tips.max() <= 0.25 * maps.w + PIXEL


def test_a_free_end_falls_short_of_the_swept_mark_by_half_a_mark():
    """On the axis 0.59 w, by the closed form of a line switched off at speed."""
    maps = Maps(box(0, 0, 0.3, 0.3), MARKS[0], lines=[LineString([(1, 0.15), (3, 0.15)])])
    short = maps.deepest_left.max()
    assert short == pytest.approx(0.589 * maps.w, abs=2 * PIXEL)


def test_the_outside_of_a_right_angle_is_cleared_0_39_w_far():
    """exp(-x^2) erfc(x) = 1/2 by hand: two half lines seen from the bisector."""
    x = 0.3894
    assert math.exp(-(x**2)) * erfc(x) == pytest.approx(0.5, abs=5e-4)
    assert math.sqrt(2 * math.log(2)) / 2 - x == pytest.approx(0.200, abs=1e-3)
