"""A white sheet for the pictures of docs/: regions in mm, lines and words in px, out as PNG."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.drawing import GREY, INK, PALE, Frame, line, region, scale_bar, text
from stopout.pictures.means.fonts import font_files
from stopout.pictures.piece.panels import DEFINITIONS

__all__ = [
    "ART",
    "FINISHED",
    "GREY",
    "INK",
    "METAL",
    "OPENING",
    "OVER",
    "PALE",
    "RESIST",
    "TOO_LITTLE",
    "TOO_MUCH",
    "UNDER",
    "Canvas",
    "Frame",
    "capsules",
]

# Chosen to stay apart in grey too: light finished region, middle opening, dark resist.
FINISHED, OPENING, METAL, RESIST = "#cfd6da", "#8fb7cf", "#d5d8da", "#26282b"
ART, OVER, UNDER = INK, "#9c2318", "#2f78ad"
# Stripes and dots, the same as in the preview.
TOO_MUCH, TOO_LITTLE = "url(#outside)", "url(#inside)"


@dataclass(slots=True)
class Canvas:
    """Pieces of SVG in the order in which they are laid down."""

    width: float
    height: float
    pieces: list[str] = field(default_factory=list)

    def frame(
        self, left: float, top: float, px_per_mm: float, box: tuple[float, float, float, float]
    ) -> Frame:
        """Lay a window of the piece (x0, y0, x1, y1 in mm) with its upper left corner at px."""
        x0, y0, x1, y1 = box
        return Frame(
            left_px=left,
            top_px=top,
            px_per_mm=px_per_mm,
            width_mm=x1 - x0,
            height_mm=y1 - y0,
            x_mm=x0,
            y_mm=y0,
        )

    def shape(self, shape: BaseGeometry, frame: Frame, **style: str | float) -> None:
        """A region in mm, cut to the frame's window so that nothing runs into the next panel."""
        self.pieces.append(region(shapely.intersection(shape, _window(frame)), frame, **style))

    def edge(self, shape: BaseGeometry, frame: Frame, **style: str | float) -> None:
        """The edge of a region, or a line, in mm, cut to the window likewise."""
        lines = shape.boundary if shape.geom_type.endswith("Polygon") else shape
        # Pieces that the cut has parted are joined again, so that dashes run on.
        cut = shapely.line_merge(shapely.intersection(lines, _window(frame)))
        for part in shapely.get_parts(cut):
            self.path(shapely.get_coordinates(part), frame, **style)

    def path(self, points_mm: np.ndarray, frame: Frame, **style: str | float) -> None:
        """A polyline in mm."""
        points = frame.to_px(np.asarray(points_mm, dtype=float))
        self.line(*[(float(x), float(y)) for x, y in points], **style)

    def line(self, *points: tuple[float, float], **style: str | float) -> None:
        """A polyline in px."""
        self.pieces.append(line(*points, **style))

    def words(self, content: str, x: float, y: float, **style: str | float | bool) -> None:
        """A line of text with its baseline at y."""
        self.pieces.append(text(content, x, y, **style))  # type: ignore[arg-type]

    def lines_of_words(
        self, lines: list[str], x: float, y: float, *, size: float = 22, **style: str | float | bool
    ) -> None:
        """Lines of text one below the other."""
        for number, content in enumerate(lines):
            self.words(content, x, y + number * 1.3 * size, size=size, **style)

    def bar(self, right: float, y: float, px_per_mm: float, room: float = 160) -> None:
        """A scale bar that ends at `right`."""
        self.pieces.append(scale_bar(right, y, px_per_mm, room))

    def arrow(self, start: tuple[float, float], end: tuple[float, float], **style: object) -> None:
        """A line with a head at its end, in px."""
        colour = str(style.get("stroke", INK))
        (x0, y0), (x1, y1) = start, end
        length = float(np.hypot(x1 - x0, y1 - y0))
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        self.line(start, (x1 - 8 * ux, y1 - 8 * uy), stroke=colour, stroke_width=2)
        tip = (
            f"M{x1:.1f},{y1:.1f}L{x1 - 13 * ux - 5 * uy:.1f},{y1 - 13 * uy + 5 * ux:.1f}"
            f"L{x1 - 13 * ux + 5 * uy:.1f},{y1 - 13 * uy - 5 * ux:.1f}Z"
        )
        self.pieces.append(f'<path d="{tip}" fill="{colour}"/>')

    def measure(
        self, start: tuple[float, float], end: tuple[float, float], label: str, **style: object
    ) -> None:
        """A dimension from px to px with arrow heads at both ends and its label above."""
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        self.arrow(middle, start)
        self.arrow(middle, end)
        x = float(style.get("x", middle[0]))  # type: ignore[arg-type]
        y = float(style.get("y", middle[1] - 10))  # type: ignore[arg-type]
        self.words(label, x, y, size=22, anchor=str(style.get("anchor", "middle")), halo=True)

    def svg(self) -> str:
        """The sheet as SVG text."""
        size = f'width="{self.width:g}" height="{self.height:g}"'
        content = DEFINITIONS + "".join(self.pieces)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} '
            f'viewBox="0 0 {self.width:g} {self.height:g}">{content}</svg>'
        )

    def png(self) -> bytes:
        """The sheet as PNG."""
        import resvg_py

        return bytes(
            resvg_py.svg_to_bytes(
                svg_string=self.svg(),
                dpi=96,
                skip_system_fonts=True,
                font_files=list(font_files()),
                background="#ffffff",
            )
        )


def _window(frame: Frame) -> BaseGeometry:
    return shapely.box(
        frame.x_mm, frame.y_mm, frame.x_mm + frame.width_mm, frame.y_mm + frame.height_mm
    )


def capsules(ends_mm: np.ndarray, width_mm: float) -> BaseGeometry:
    """What a round mark of this width clears along straight lines ((n, 2, 2) ends)."""
    return shapely.union_all(shapely.buffer(shapely.linestrings(ends_mm), width_mm / 2))
