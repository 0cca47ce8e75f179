"""The coats of a sign on the preview: as drawn, as seen, each as worked, at the worst miss."""

from __future__ import annotations

import base64
from dataclasses import replace
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.colours import look_alike, material_tint, paint_tint
from stopout.pictures.means.drawing import INK, Frame, region, text
from stopout.pictures.means.fonts import text_width
from stopout.pictures.piece.scene import CoatScene, PreviewScene

# The artwork is shown no finer than this.
_MOST_COLUMNS = 1100


def front(scene: PreviewScene, view: tuple[tuple[str, BaseGeometry], ...], frame: Frame) -> str:
    """What the reader sees: the coats in their tints, and no line that the piece will not have.

    Parameters
    ----------
    scene : PreviewScene
        For the plastic and the tints.
    view : tuple of (str, BaseGeometry)
        Colour and region, as seen, of each coat that shows.
    frame : Frame
        Where to draw; not mirrored.
    """
    pieces = [region(scene.blank, _turned(scene, frame), fill=material_tint(scene.material))]
    pieces += [
        region(shape, frame, fill=tint)
        for (_, shape), tint in zip(view, _tints(scene, view), strict=True)
    ]
    return "".join(pieces)


def parted_front(
    scene: PreviewScene, view: tuple[tuple[str, BaseGeometry], ...], frame: Frame
) -> str:
    """The same with a line where coats print alike in grey: a technical view."""
    tints = _tints(scene, view)
    alike = [
        shape
        for k, (_, shape) in enumerate(view)
        if any(look_alike(tints[k], before) for before in tints[:k])
    ]
    # White under ink shows on dark paint as on light.
    lines = [
        region(shape, frame, fill="none", stroke=stroke, stroke_width=width)
        for stroke, width in (("#fff", 3.5), (INK, 1.2))
        for shape in alike
    ]
    outline = region(scene.blank, _turned(scene, frame), fill="none", stroke=INK, stroke_width=2)
    return front(scene, view, frame) + "".join(lines) + outline


def drawn(scene: PreviewScene, frame: Frame) -> str:
    """The artwork as it is drawn, from a rendering of its file, inside the piece's outline."""
    picture = scene.drawn
    if picture is None:
        return ""
    rows, columns = picture.rgb.shape[:2]
    step = max(1, columns // _MOST_COLUMNS)
    scale = frame.px_per_mm * picture.px_mm
    x = frame.left_px + (picture.left_mm - frame.x_mm) * frame.px_per_mm
    y = frame.top_px + (frame.y_mm + frame.height_mm - picture.top_mm) * frame.px_per_mm
    data = base64.b64encode(_png(picture.rgb[::step, ::step])).decode()
    turned = _turned(scene, frame)
    outline = region(scene.blank, turned, fill="#fff")
    return (
        f'<clipPath id="drawn">{outline}</clipPath>{outline}'
        f'<g clip-path="url(#drawn)"><image x="{x:.2f}" y="{y:.2f}" width="{columns * scale:.2f}" '
        f'height="{rows * scale:.2f}" preserveAspectRatio="none" image-rendering="optimizeQuality" '
        f'href="data:image/png;base64,{data}"/></g>'
        + region(scene.blank, turned, fill="none", stroke=INK, stroke_width=2)
    )


def _png(rgb: NDArray[np.uint8]) -> bytes:
    from PIL import Image

    out = BytesIO()
    Image.fromarray(np.ascontiguousarray(rgb)).save(out, "PNG", compress_level=3)
    return out.getvalue()


def _tints(scene: PreviewScene, view: tuple[tuple[str, BaseGeometry], ...]) -> tuple[str, ...]:
    return tuple(
        paint_tint(scene.tints[k] if k < len(scene.tints) else colour)
        for k, (colour, _) in enumerate(view)
    )


def coat_as_worked(scene: PreviewScene, coat: CoatScene, frame: Frame) -> str:
    """One coat under the laser: its paint all over, and where it is cleared."""
    outline = region(scene.blank, frame, fill="none", stroke=INK, stroke_width=2)
    return "".join([*cleared(scene, coat.opening, _paint(scene, coat), frame), outline])


def is_first_pale(scene: PreviewScene) -> bool:
    """Tell whether the first coat prints like the sheet, so that lines alone part them."""
    paint = _paint(scene, scene.coats[0]) if scene.coats else paint_tint(scene.resist_colour)
    return look_alike(material_tint(scene.material), paint)


def _paint(scene: PreviewScene, coat: CoatScene) -> str:
    k = coat.number - 1
    return paint_tint(scene.tints[k] if k < len(scene.tints) else coat.colour)


def cleared(scene: PreviewScene, opening: BaseGeometry, tint: str, frame: Frame) -> list[str]:
    """Paint and its opening, which gets a line where its ground prints like the paint."""
    bare = material_tint(scene.material)
    edge: dict[str, str | float] = {"stroke": INK, "stroke_width": 1}
    return [
        region(scene.blank, frame, fill=tint),
        region(opening, frame, fill=bare, **(edge if look_alike(bare, tint) else {})),
    ]


def colour_key(scene: PreviewScene, left: float, y: float) -> str:
    """Which tint is which coat, in the order in which they go on."""
    pieces, x = [], left
    tints = _tints(scene, scene.front_view)
    for number, (colour, _) in enumerate(scene.front_view, start=1):
        name = f"{number} {_named(colour)}"
        pieces.append(
            f'<rect x="{x:.0f}" y="{y - 22:.0f}" width="46" height="28" '
            f'fill="{tints[number - 1]}" stroke="{INK}" stroke-width="2"/>'
        )
        pieces.append(text(name, x + 58, y, size=24))
        x += 58 + text_width(name, size=24) + 44
    return "".join(pieces)


def _named(colour: str) -> str:
    """A coat's name in the key; a window says that nothing is painted there."""
    if colour == "clear":
        return "clear: open to light"
    return f"{colour}, lit from behind" if colour.endswith(" diffuser") else colour


def _turned(scene: PreviewScene, frame: Frame) -> Frame:
    return replace(frame, is_mirrored=scene.is_back_worked)
