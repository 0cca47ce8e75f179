"""Circles, ellipses and arcs are held to 1 um; the closed form of a circle is the measure."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Point

UM = 1e-3


def radial_errors_um(ring, centre, radius_x, radius_y=None):
    """Radial error of vertices and chord middles; exact for circles, first order for ellipses."""
    xy = shapely.get_coordinates(ring) - centre
    xy = np.vstack([xy, (xy[1:] + xy[:-1]) / 2])
    radius_y = radius_y or radius_x
    unit = np.hypot(xy[:, 0] / radius_x, xy[:, 1] / radius_y)
    return (unit - 1.0) * min(radius_x, radius_y) / UM


@pytest.mark.parametrize("radius", [10.0, 25.0])
def test_a_circle_is_true_to_half_a_micrometre(read, radius):
    drawing = read(f'<circle cx="50" cy="30" r="{radius}"/>')
    errors = radial_errors_um(drawing.dark.exterior, (50, 30), radius)
    assert np.abs(errors).max() < 0.5


def test_a_circle_of_40_mm_radius_is_true_to_half_a_micrometre(read):
    drawing = read(
        '<circle cx="50" cy="50" r="40"/>',
        root='width="100mm" height="100mm" viewBox="0 0 100 100"',
    )
    errors = radial_errors_um(drawing.dark.exterior, (50, 30), 40)
    assert np.abs(errors).max() < 0.5


def test_an_ellipse_turned_by_a_transform_is_true(read):
    drawing = read('<g transform="translate(50 30) rotate(90)"><ellipse rx="10" ry="20"/></g>')
    errors = radial_errors_um(drawing.dark.exterior, (50, 30), 20, 10)
    assert np.abs(errors).max() < 1.0


@pytest.mark.parametrize(
    "body",
    [
        '<path d="M40 30A10 10 0 0 0 60 30A10 10 0 0 0 40 30Z"/>',
        '<path d="M40 30a10,10 0 1 0 20,0a10,10 0 1 0-20,0z"/>',
        '<path d="m50 20a10 10 0 01.0 20a10 10 0 01.0-20z"/>',
        '<path d="M50 20A10 10 30 1 1 49.9999 20Z"/>',
        '<defs><circle id="c" r="10"/></defs><use href="#c" x="50" y="30"/>',
        '<g font-size="5"><circle cx="50" cy="30" r="2em"/></g>',
        '<circle cx="50%" cy="50%" r="10"/>',
        '<style>circle{fill:#000}</style><circle cx="50" cy="30" r="10"/>',
        '<rect x="40" y="20" width="20" height="20" rx="10"/>',
        '<clipPath id="k"><circle cx="50" cy="30" r="10"/></clipPath>'
        '<rect width="100" height="60" clip-path="url(#k)"/>',
    ],
)
def test_every_way_to_write_a_circle_of_10_mm_is_true_to_1_um(read, body):
    drawing = read(body)
    errors = radial_errors_um(drawing.dark.exterior, (50, 30), 10)
    assert np.abs(errors).max() < 1.0


def test_a_drawn_cubic_means_what_it_says(read):
    # Four cubics with handles of 0.5522847 bulge by 2.7e-4 of the radius (closed form: at t = 0.5
    # the middle lies at sqrt(2)/2 * (1 + 3 k + 0 ...)/...); the bulge must be kept.
    k = 5.522847498
    body = (
        f'<path d="M60 30C60 {30 + k} {50 + k} 40 50 40C{50 - k} 40 40 {30 + k} 40 30'
        f'C40 {30 - k} {50 - k} 20 50 20C{50 + k} 20 60 {30 - k} 60 30Z"/>'
    )
    errors = radial_errors_um(read(body).dark.exterior, (50, 30), 10)
    assert errors.max() == pytest.approx(2.73, abs=0.05)


@pytest.mark.parametrize("width_mm", [10.0, 400.0])
def test_curves_are_flattened_for_the_final_size(read, width_mm):
    drawing = read('<circle cx="50" cy="30" r="10"/>', width_mm=width_mm)
    radius = width_mm / 10
    errors = radial_errors_um(drawing.dark.exterior, (50, 30), radius)
    assert np.abs(errors).max() < 0.5


def test_ink_that_is_enlarged_is_flattened_for_its_final_size(read):
    drawing = read('<circle cx="50" cy="30" r="1"/>', width_mm=90.0, box="ink")
    errors = radial_errors_um(drawing.dark.exterior, (50, 30), 45)
    assert np.abs(errors).max() < 0.5


@pytest.mark.parametrize(("radius", "width"), [(10.0, 2.0), (10.0, 0.2), (25.0, 1.0)])
def test_a_stroked_circle_is_a_true_ring(read, radius, width):
    drawing = read(
        f'<circle cx="50" cy="30" r="{radius}" fill="none" stroke="#000" stroke-width="{width}"/>'
    )
    inner, outer = radius - width / 2, radius + width / 2
    ring = drawing.dark
    assert len(ring.interiors) == 1
    assert np.abs(radial_errors_um(ring.exterior, (50, 30), outer)).max() < 1.0
    assert np.abs(radial_errors_um(ring.interiors[0], (50, 30), inner)).max() < 1.0
    assert ring.centroid.distance(Point(50, 30)) < 1e-3
