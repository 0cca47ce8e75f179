"""Cut lines for a knife as an SVG drawing in mm: outlines with overrun, peel lines, the border."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.mask import peel_lines, register_marks
from stopout.pictures.means.drawing import escaped

# A knife must be lifted or swivelled where an outline turns by more than this.
_CORNER_RAD = math.radians(30)
# Waste longer than this tears or sticks back in peeling: common practice, no source.
_LONGEST_WASTE_MM = 60.0


def cut_svg(
    drawn: BaseGeometry,
    *,
    width_mm: float,
    height_mm: float,
    overrun_mm: float,
    margin_mm: float,
    title: str,
    face: BaseGeometry | None = None,
    keeps_drawn: bool = False,
) -> bytes:
    """Write the cut lines as an SVG 1.1 drawing at true size, as worked.

    Parameters
    ----------
    drawn : BaseGeometry
        What is weeded out, in mm, y up.
    width_mm, height_mm : float
        Size of the blank.
    overrun_mm : float
        How far each cut runs past a corner.
    margin_mm : float
        How far the film goes past the blank.
    title : str
        Shown by viewers as the drawing's title.
    face : BaseGeometry, optional
        The blank's face, for the lines that the film is laid by.
    keeps_drawn : bool
        True where the film stays on what is drawn and the ground is weeded: no lines then divide
        the waste.

    Returns
    -------
    bytes
        UTF-8; groups of stroked paths: `cut`, `peel`, `border`, and `register`, which is drawn
        with a pen or looked at, never cut.
    """
    left, top = -margin_mm, -margin_mm
    wide, high = width_mm + 2 * margin_mm, height_mm + 2 * margin_mm
    size = f'width="{wide:.10g}mm" height="{high:.10g}mm"'
    view = f'viewBox="{left:.10g} {top:.10g} {wide:.10g} {high:.10g}"'
    waste = shapely.MultiPolygon() if keeps_drawn else drawn
    peel = [np.array(line.coords) for line in peel_lines(waste, longest_mm=_LONGEST_WASTE_MM)]
    cut = [
        path
        for ring in shapely.get_rings(shapely.get_parts(drawn))
        for path in corner_paths(shapely.get_coordinates(ring), overrun_mm=overrun_mm)
    ]
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {size} {view}>',
        f"<title>{escaped(title)}</title>",
        "<desc>Cut with a knife, never with a laser. One unit is 1 mm.</desc>",
        '<g fill="none" stroke="#000" stroke-width="0.1">',
        *_group("cut", cut, height_mm),
        *_group("peel", peel, height_mm),
        '<g id="border">',
        f'<path d="M{left:g},{top:g}h{wide:g}v{high:g}h{-wide:g}z"/>',
        "</g>",
        *_register(face, height_mm),
        "</g>",
    ]
    return ("\n".join([*lines, "</svg>"]) + "\n").encode()


def _register(face: BaseGeometry | None, height_mm: float) -> list[str]:
    """The blank's outline, its holes, and brackets at its corners, in a colour of their own."""
    if face is None:
        return []
    paths = [
        "".join(
            f"{'M' if k == 0 else 'L'}{x:.4f},{height_mm - y:.4f}"
            for k, (x, y) in enumerate(shapely.get_coordinates(ring)[:-1])
        )
        + "z"
        for ring in shapely.get_rings(shapely.get_parts(register_marks(face)))
    ]
    return ['<g id="register" stroke="#00f">', *(f'<path d="{path}"/>' for path in paths), "</g>"]


def _group(name: str, paths: list[NDArray[np.float64]], height_mm: float) -> list[str]:
    return [f'<g id="{name}">', *(f'<path d="{_data(p, height_mm)}"/>' for p in paths), "</g>"]


def _data(path: NDArray[np.float64], height_mm: float) -> str:
    return "M" + "L".join(f"{x:.4f},{height_mm - y:.4f}" for x, y in path)


def corner_paths(ring: NDArray[np.float64], *, overrun_mm: float) -> list[NDArray[np.float64]]:
    """Part a closed ring at its corners; each path runs past both of its ends.

    Parameters
    ----------
    ring : (n, 2) ndarray
        The outline, its last point the first again.
    overrun_mm : float
        How far each path runs on, along its end's direction.

    Returns
    -------
    list of (k, 2) ndarray
        One path from corner to corner; a ring without a corner is one path that overlaps itself.
    """
    points = ring[:-1]
    back, ahead = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turn = np.arctan2(
        back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0], (back * ahead).sum(axis=1)
    )
    corners = np.flatnonzero(np.abs(turn) > _CORNER_RAD)
    starts = corners if len(corners) else np.array([0])
    ends = np.append(starts[1:], starts[0] + len(points))
    return [
        _run_on(points[np.arange(a, b + 1) % len(points)], overrun_mm)
        for a, b in zip(starts, ends, strict=True)
    ]


def _run_on(path: NDArray[np.float64], overrun_mm: float) -> NDArray[np.float64]:
    if overrun_mm == 0:
        return path
    first, last = path[0] - path[1], path[-1] - path[-2]
    return np.vstack(
        [
            path[0] + overrun_mm * first / np.hypot(*first),
            path,
            path[-1] + overrun_mm * last / np.hypot(*last),
        ]
    )
