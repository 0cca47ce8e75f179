"""What single attributes of a normalised SVG document say."""

from __future__ import annotations

from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import Affine, Subpath
from stopout.artwork.regions.rings import only_areas
from stopout.artwork.regions.strokes import Stroke
from stopout.artwork.svg.pathdata import PathDataError, outline_of, segments
from stopout.artwork.tone import Colour
from stopout.errors import ArtworkError

_FARTHEST = 1e12


def reference(value: str) -> str:
    """The id that a `url(#id)` names."""
    return value[value.find("#") + 1 : value.rfind(")")]


def viewport(root: Any, size: tuple[float, float] | None = None) -> Affine:
    """The map of a viewBox to the px of its viewport (SVG 2, section 8.2)."""
    width, height = size or (float(root.get("width")), float(root.get("height")))
    view = root.get("viewBox")
    if view is None:
        return Affine()
    x, y, wide, high = (float(part) for part in view.replace(",", " ").split())
    words = (root.get("preserveAspectRatio") or "xMidYMid meet").split()
    across, down = width / wide, height / high
    if words[0] != "none":
        across = down = max(across, down) if "slice" in words else min(across, down)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    left = 0.0 if words[0] == "none" else (width - wide * across) * share[words[0][1:4]]
    top = 0.0 if words[0] == "none" else (height - high * down) * share[words[0][5:8]]
    return Affine(across, 0.0, 0.0, down, left - x * across, top - y * down)


def fraction(value: str | None) -> float:
    """An opacity, 1 where none is said."""
    return 1.0 if value is None else min(1.0, max(0.0, float(value)))


def colour(value: str) -> Colour:
    """A `#rrggbb` as tones from 0 to 255."""
    return (float(int(value[1:3], 16)), float(int(value[3:5], 16)), float(int(value[5:7], 16)))


def both(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What lies in both regions."""
    return only_areas(shapely.intersection(one, other))


def stroke(element: Any) -> Stroke:
    """The stroke that a path's attributes ask for."""
    join = element.get("stroke-linejoin", "miter")
    dashes = element.get("stroke-dasharray", "none")
    return Stroke(
        width=float(element.get("stroke-width", "1")),
        cap=element.get("stroke-linecap", "butt"),
        join="miter" if join.startswith("miter") or join == "arcs" else join,
        miter_limit=float(element.get("stroke-miterlimit", "4")),
        dashes=()
        if dashes == "none"
        else tuple(float(part) for part in dashes.replace(",", " ").split()),
        dash_offset=float(element.get("stroke-dashoffset", "0")),
    )


def path_data(data: str) -> list[Subpath]:
    """Read normalised path data."""
    try:
        commands = segments(data)
        if all(abs(number) < _FARTHEST for _, numbers in commands for number in numbers):
            return outline_of(commands)
    except PathDataError:
        # The normaliser writes what is beyond all numbers as `inf`.
        pass
    raise ArtworkError("a shape reaches farther than can be counted; draw it nearer to 0")
