"""The coats of a sign on the preview: each as worked, the front at the worst miss, the colours."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from stopout.pictures.colours import look_alike, material_tint, paint_tint
from stopout.pictures.drawing import INK, Frame, region, text
from stopout.pictures.fonts import text_width
from stopout.pictures.scene import CoatScene, PreviewScene

__all__ = ["coat_as_worked", "colour_key", "front"]


def front(scene: PreviewScene, view: tuple[tuple[str, BaseGeometry], ...], frame: Frame) -> str:
    """What the reader sees: the coats in their colours, parted by a line where they look alike.

    Parameters
    ----------
    scene : PreviewScene
        For the plastic.
    view : tuple of (str, BaseGeometry)
        Colour and region, as seen, of each coat that shows.
    frame : Frame
        Where to draw; not mirrored.
    """
    pieces = [region(scene.blank, _turned(scene, frame), fill=material_tint(scene.material))]
    pieces += [region(shape, frame, fill=paint_tint(colour)) for colour, shape in view]
    tints = [paint_tint(colour) for colour, _ in view]
    alike = [
        shape
        for k, (_, shape) in enumerate(view)
        if any(look_alike(tints[k], before) for before in tints[:k])
    ]
    # White under ink shows on dark paint as on light.
    for stroke, width in (("#fff", 3.5), (INK, 1.2)):
        pieces += [
            region(shape, frame, fill="none", stroke=stroke, stroke_width=width) for shape in alike
        ]
    return "".join(pieces)


def coat_as_worked(scene: PreviewScene, coat: CoatScene, frame: Frame) -> str:
    """One coat under the laser: its paint all over, and where it is cleared."""
    bare = material_tint(scene.material)
    tint = paint_tint(coat.colour)
    edge: dict[str, str | float] = {"stroke": INK, "stroke_width": 1}
    return "".join(
        [
            region(scene.blank, frame, fill=tint),
            region(coat.opening, frame, fill=bare, **(edge if look_alike(bare, tint) else {})),
            region(scene.blank, frame, fill="none", stroke=INK, stroke_width=2),
        ]
    )


def colour_key(scene: PreviewScene, left: float, y: float) -> str:
    """Which tint is which coat, in the order in which they go on."""
    pieces, x = [], left
    for number, (colour, _) in enumerate(scene.front_view, start=1):
        name = f"{number} {_named(colour)}"
        pieces.append(
            f'<rect x="{x:.0f}" y="{y - 22:.0f}" width="46" height="28" '
            f'fill="{paint_tint(colour)}" stroke="{INK}" stroke-width="2"/>'
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
