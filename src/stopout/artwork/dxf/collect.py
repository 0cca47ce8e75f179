"""Collect what a drawing shows: filled areas, lines with a width, and lines without.

The general library works out blocks, layers, colours, hatches, dimensions and lettering and hands
their pieces over; here they are kept in drawing units, with the layer and colour of each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from ezdxf.addons.drawing.backend import Backend
from ezdxf.addons.drawing.frontend import UniversalFrontend
from ezdxf.addons.drawing.pipeline import RenderPipeline2d
from ezdxf.addons.drawing.properties import RenderContext
from ezdxf.path import make_path

from stopout.artwork.regions.curves import GAP, ComplexArray, RunPen, Subpath
from stopout.errors import ArtworkError

_MOST_PIECES = 300_000
# The library's word for a line of no stated width, hundredths of a millimetre.
_NO_WIDTH_MM = 0.02
# Curves of a true arc for each cubic: the error falls with the sixth power.
_ARC_PARTS = 16
_ARCS = frozenset({"CIRCLE", "ARC", "ELLIPSE"})
_LETTERS = frozenset({"TEXT", "MTEXT", "ATTRIB", "ATTDEF"})
# Drawn by the library as frames or as lines of a solid, or not at all.
NOT_DRAWN = {
    "IMAGE": "a picture",
    "OLE2FRAME": "an embedded document",
    "PDFUNDERLAY": "a page laid under the drawing",
    "DWFUNDERLAY": "a page laid under the drawing",
    "DGNUNDERLAY": "a page laid under the drawing",
    "3DSOLID": "a solid",
    "BODY": "a solid",
    "REGION": "a region of the solid modeller",
    "SURFACE": "a surface",
    "MESH": "a mesh",
    "3DFACE": "a face in space",
    "VERTEX": "a loose piece of a polyline",
    "SEQEND": "a loose piece of a polyline",
}


class TooMuchError(ArtworkError):
    """The drawing holds more than is read."""


@dataclass(frozen=True, slots=True, eq=False)
class Fill:
    """An area: outlines in drawing units, `is_lettering` where overlaps stay filled."""

    runs: list[Subpath]
    colour: str
    layer: str
    is_lettering: bool


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line: `width_mm` is None where none is stated; dashes in drawing units."""

    run: Subpath
    colour: str
    layer: str
    kind: str
    width_mm: float | None
    dashes: tuple[float, ...] = ()


@dataclass
class _Here:
    kind: str = ""
    layer: str = "0"
    width_mm: float | None = None
    dashes: tuple[float, ...] = ()


@dataclass
class Collected:
    """Everything in drawing order, and what was met besides."""

    items: list[Fill | Line] = field(default_factory=list)
    left: Counter[tuple[str, str]] = field(default_factory=Counter)
    styles: Counter[tuple[str, str]] = field(default_factory=Counter)
    words: set[str] = field(default_factory=set)
    points: int = 0
    # What layers that are left out hold: it counts for the drawing's extent, so that leaving out
    # the plate's own outline moves nothing.
    aside: list[Subpath] = field(default_factory=list)


class Context(RenderContext):
    """Resolves properties; never opens the plot styles that a drawing names."""

    @staticmethod
    def _load_plot_style_table(filename: Any) -> Any:
        return RenderContext._load_plot_style_table("")

    def default_lineweight(self) -> float:
        """No width, where the drawing leaves it to whoever plots it."""
        return 0.0


class Collecting(UniversalFrontend):
    """Draws a layout into a collector, arcs as fine cubics."""

    def __init__(self, context: Context, into: Collector, config: Any) -> None:
        super().__init__(context, RenderPipeline2d(into), config=config)
        self.into = into

    def draw_curve_entity(self, entity: Any, properties: Any) -> None:
        """Draw a circle, an arc, an ellipse or a spline."""
        parts = _ARC_PARTS if entity.dxftype() in _ARCS else 1
        self.pipeline.draw_path(make_path(entity, segments=parts), properties)

    def draw_polyline_entity(self, entity: Any, properties: Any) -> None:
        """Draw a polyline; bulges are arcs too."""
        is_mesh = getattr(entity, "is_polygon_mesh", False) or getattr(
            entity, "is_poly_face_mesh", False
        )
        if is_mesh or entity.has_width:
            super().draw_polyline_entity(entity, properties)
            return
        path = make_path(entity, segments=_ARC_PARTS)
        if len(path):
            self.pipeline.draw_path(path, properties)

    def skip_entity(self, entity: Any, msg: str) -> None:
        """Count what the library does not draw, but for what is not to be seen."""
        if msg == "invisible":
            return
        kind = entity.dxftype()
        self.into.miss(NOT_DRAWN.get(kind, kind.lower()), _layer_of(entity), entity)

    def log_message(self, message: str) -> None:
        """Keep the library's own words to itself."""


class Collector(Backend):
    """Takes the pieces that the library hands over."""

    def __init__(self, *, without: frozenset[str]) -> None:
        super().__init__()
        self.collected = Collected()
        self.without = without
        self.stack: list[_Here] = [_Here()]

    def enter_entity(self, entity: Any, properties: Any) -> None:
        """Note kind, layer and line of what comes next."""
        kind = entity.dxftype()
        width = float(properties.lineweight)
        pattern = tuple(float(part) * properties.linetype_scale for part in
                        properties.linetype_pattern)  # fmt: skip
        self.stack.append(
            _Here(kind, properties.layer, None if width <= _NO_WIDTH_MM else width, pattern)
        )
        if kind in NOT_DRAWN:
            self.miss(NOT_DRAWN[kind], properties.layer, entity)
        if kind == "INSERT" and _is_elsewhere(entity):
            self.miss("a drawing that lies in another file", properties.layer, entity)
        if kind in _LETTERS and properties.layer not in self.without:
            self._heed_lettering(entity)

    def miss(self, what: str, layer: str, entity: Any) -> None:
        """Count what is not drawn and should be: what is on no layer that is left out or hidden."""
        named = entity.doc.layers.get(layer) if entity.doc and layer in entity.doc.layers else None
        is_hidden = named is not None and (named.is_off() or named.is_frozen())
        if layer not in self.without and not is_hidden:
            self.collected.left[what, layer] += 1

    def exit_entity(self, entity: Any) -> None:
        """Return to what is around it."""
        self.stack.pop()

    def _heed_lettering(self, entity: Any) -> None:
        style = entity.dxf.get("style", "Standard")
        found = entity.doc.styles.get(style) if entity.doc and style in entity.doc.styles else None
        self.collected.styles[style, found.dxf.font if found else ""] += 1
        self.collected.words |= set(entity.plain_text())

    def set_background(self, color: str) -> None:
        """Paper has no colour here."""

    def clear(self) -> None:
        """Begin anew."""
        self.collected = Collected()

    def finalize(self) -> None:
        """Nothing is left to do."""

    def draw_point(self, pos: Any, properties: Any) -> None:
        """Points have no size."""
        self.collected.points += 1

    def draw_line(self, start: Any, end: Any, properties: Any) -> None:
        """Take a straight line."""
        run = Subpath(nodes=np.array([complex(start.x, start.y), complex(end.x, end.y)]),
                      handles=np.array([[GAP, GAP]]), is_closed=False)  # fmt: skip
        self._line(run, properties)

    def draw_solid_lines(self, lines: Iterable[tuple[Any, Any]], properties: Any) -> None:
        """Take the lines of a hatch pattern."""
        for start, end in lines:
            self.draw_line(start, end, properties)

    def draw_path(self, path: Any, properties: Any) -> None:
        """Take a curve."""
        for run in _runs(path):
            self._line(run, properties)

    def draw_filled_paths(self, paths: Iterable[Any], properties: Any) -> None:
        """Take an area of several outlines: a hatch, or lettering."""
        self._fill([run for path in paths for run in _runs(path)], properties)

    def draw_filled_polygon(self, points: Any, properties: Any) -> None:
        """Take a straight-edged area."""
        corners = np.array([complex(v.x, v.y) for v in points.vertices()])
        if len(corners) > 2:
            corners = np.append(corners, corners[0])
            gaps = np.full((len(corners) - 1, 2), GAP)
            self._fill([Subpath(nodes=corners, handles=gaps, is_closed=True)], properties)

    def draw_image(self, image_data: Any, properties: Any) -> None:
        """Pictures are told when they are entered."""

    def _line(self, run: Subpath, properties: Any) -> None:
        here = self.stack[-1]
        if here.kind in NOT_DRAWN:
            return
        if properties.layer in self.without:
            self.collected.aside.append(run)
            return
        # A stated width is the plotted one, whatever the drawing's unit is.
        self._put(Line(run, properties.color, properties.layer, here.kind, here.width_mm,
                       here.dashes))  # fmt: skip

    def _fill(self, runs: list[Subpath], properties: Any) -> None:
        if properties.layer in self.without:
            self.collected.aside += runs
        elif runs:
            lettering = self.stack[-1].kind in _LETTERS
            self._put(Fill(runs, properties.color, properties.layer, lettering))

    def _put(self, item: Fill | Line) -> None:
        if len(self.collected.items) >= _MOST_PIECES:
            raise TooMuchError(
                f"the drawing holds more than {_MOST_PIECES} pieces; simplify it, or leave out "
                "layers by artwork.leave_out"
            )
        self.collected.items.append(item)


def _is_elsewhere(insert: Any) -> bool:
    block = insert.block()
    return block is None or block.block.is_xref or block.block.is_xref_overlay


def _layer_of(entity: Any) -> str:
    return str(entity.dxf.get("layer", "0"))


def _runs(path: Any) -> list[Subpath]:
    """The runs of a path of the library, quadratic curves raised to cubics."""
    if not len(path):
        return []
    pen = RunPen()
    pen.move(complex(path.start.x, path.start.y))
    for step in path.commands():
        end = complex(step.end.x, step.end.y)
        kind = step.type.name
        if kind == "MOVE_TO":
            pen.move(end)
        elif kind == "LINE_TO":
            pen.line(end)
        elif kind == "CURVE3_TO":
            pen.quad(complex(step.ctrl.x, step.ctrl.y), end)
        else:
            first, second = (complex(at.x, at.y) for at in (step.ctrl1, step.ctrl2))
            pen.curve(first, second, end)
    pen.end()
    return [replace(run, is_closed=_meets(run.nodes)) for run in pen.runs]


def _meets(nodes: ComplexArray) -> bool:
    return bool(abs(nodes[0] - nodes[-1]) < 1e-9 * (1 + abs(nodes[0])))
