"""A plain raster of sweeping and etching at 2 um, to judge masks by: no planner code in it.

A pixel is finished where its centre lies within the reach of the beam's path (round marks), or,
for any mark, within the undercut of a pixel that the mark's ellipse passes over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage
from scipy.spatial import cKDTree

PITCH = 0.002


@dataclass(frozen=True)
class Raster:
    """Pixel centres of a window: `xy` (rows, columns, 2), row 0 lowest."""

    xy: np.ndarray

    @property
    def shape(self):
        return self.xy.shape[:2]

    def inside(self, region):
        x, y = self.xy[..., 0].ravel(), self.xy[..., 1].ravel()
        shapely.prepare(region)
        return shapely.contains_xy(region, x, y).reshape(self.shape)

    def within(self, lines, distance, *, stretch_y=1.0):
        """Pixels within a distance of lines, in a plane stretched along y."""
        points = dense(lines, stretch_y)
        if not len(points):
            return np.zeros(self.shape, dtype=bool)
        flat = self.xy.reshape(-1, 2) * (1.0, stretch_y)
        near = cKDTree(points).query(flat, distance_upper_bound=distance)[0]
        return (near <= distance).reshape(self.shape)


def window(region, margin):
    x0, y0, x1, y1 = region.bounds
    xs = np.arange(x0 - margin, x1 + margin, PITCH)
    ys = np.arange(y0 - margin, y1 + margin, PITCH)
    return Raster(np.stack(np.meshgrid(xs, ys), axis=-1))


def dense(lines, stretch_y=1.0):
    """Points along lines, half a pixel apart."""
    lines = shapely.transform(lines, lambda xy: xy * (1.0, stretch_y))
    return shapely.get_coordinates(shapely.segmentize(lines, PITCH / 2))


def path_of(mask):
    """All that the beam's centre runs along: outlines of the filled area, and the single lines."""
    return shapely.union_all([*(area.boundary for area in mask.centres.geoms), *mask.lines.geoms])


def finished(mask, raster, *, undercut, mark):
    """Which pixels are finished: swept by the mark, then reached by the etch."""
    path = path_of(mask)
    filled = raster.inside(mask.centres) if not mask.centres.is_empty else False
    if mark[0] == mark[1]:
        return filled | raster.within(path, undercut + mark[0] / 2)
    opened = filled | raster.within(path, mark[0] / 2, stretch_y=mark[0] / mark[1])
    if not opened.any():
        return opened
    return ndimage.distance_transform_edt(~opened, sampling=PITCH) <= undercut


def outside(pixels, raster, region):
    """How far the finished pixels go beyond a region, at most."""
    beyond = raster.xy[pixels & ~raster.inside(region)]
    if not len(beyond):
        return 0.0
    return float(cKDTree(dense(region.boundary)).query(beyond)[0].max())


def parts_and_holes(pixels):
    """How many parts and holes a raster has: parts meet along edges, holes also at corners."""
    parts = ndimage.label(pixels)[1]
    ground = ndimage.label(np.pad(~pixels, 1, constant_values=True), np.ones((3, 3)))[1]
    return parts, ground - 1
