"""Read a DXF drawing into a picture: closed outlines, hatches and lettering are ink.

Colours in such drawings are pens, chosen for a dark screen, and say nothing about darkness: all ink
counts, except true white, which cuts out. Layers stand as classes.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.dxf.library import heard, load_library, set_letters
from stopout.artwork.dxf.outlines import joined, nested
from stopout.artwork.dxf.words import (
    colours_told,
    covered_told,
    lettering_told,
    notes_told,
    open_told,
)
from stopout.artwork.picture import PixelPicture
from stopout.artwork.regions.curves import Affine, ComplexArray, flatten
from stopout.artwork.regions.painter import Paint, paint_all
from stopout.artwork.regions.rings import fill
from stopout.artwork.regions.strokes import Stroke, stroke_rings
from stopout.artwork.scale import Page, page_scale
from stopout.artwork.svg.source import SourceElement
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest

_TOLERANCE_MM = 4e-4
_MOST_POINTS = 5_000_000
_MOST_ENTITIES = 200_000
# Ends so near to each other meet: a tenth of the narrowest thing that can be made here.
_GAP_MM = 0.01
# $INSUNITS of the DXF reference, header section: the unit of the drawing in mm.
_UNIT_MM = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 8: 25.4e-6, 9: 0.0254, 10: 914.4,
            12: 1e-6 * 100, 13: 1e-3, 14: 100.0}  # fmt: skip
_WHITE = "#ffffff"


def read_dxf(
    data: bytes, request: ArtworkRequest, *, name: str, fonts: Sequence[Path] = ()
) -> PixelPicture:
    """Read the model space of a DXF drawing, R12 and later, as text or binary.

    Returns
    -------
    PixelPicture
        In mm of the drawing's extent (y down), at the scale that the request asks of it.

    Raises
    ------
    ArtworkError
        If the drawing is damaged, empty, states no unit where the job gives no size, or holds what
        cannot be read, with the layers that `artwork.leave_out` may name.
    """
    document = _document(data, fonts, name=name)
    found = _collected(document, frozenset(request.leave_out), name=name)
    family = set_letters(found.words)
    if family is not None:
        found = _collected(document, frozenset(request.leave_out), name=name)
    if not found.items:
        raise ArtworkError(
            f"{name}: the drawing's model space shows no outline, hatch or lettering; "
            "draw there, on layers that are on and not frozen"
        )
    faults, findings = lettering_told(found, fonts, family or "Barlow")
    unit_mm = _UNIT_MM.get(int(document.header.get("$INSUNITS", 0) or 0))
    extent = _extent(found.items, found.aside, unit_mm or 1.0)
    page = Page(width=extent[2] - extent[0], height=extent[3] - extent[1], mm_per_unit=unit_mm,
                kind="DXF")  # fmt: skip
    if page.width <= 0.0 or page.height <= 0.0:
        raise ArtworkError(f"{name}: everything in the drawing lies on one line; it has no area")
    scale = page_scale(page, request, name=name)
    # Numbers so large are far apart, and what is drawn with them is no longer what was meant.
    if (step_mm := float(np.spacing(np.abs(extent).max())) * scale) > _TOLERANCE_MM:
        raise ArtworkError(
            f"{name}: the drawing lies so far from its origin that its numbers are no finer than "
            f"{step_mm:.2g} mm; move it to the origin and save it again"
        )
    to_mm = Affine(scale, 0.0, 0.0, -scale, -extent[0] * scale, extent[3] * scale)
    reader = _Reader(to_mm, scale / unit_mm if unit_mm else 1.0, name)
    paints = reader.paints(found.items)
    faults += open_told(reader.loose, to_mm=to_mm)
    if faults:
        raise ArtworkError("\n".join(f"{name}: {fault}" for fault in faults))
    findings += notes_told(found, document, reader.twice, reader.weighed)
    findings += colours_told(paints, request.threshold)
    findings += covered_told(paints)
    inked = [p if _is_white(p) else replace(p, colour=(0.0, 0.0, 0.0)) for p in paints]
    layers = {item.layer for item in found.items}
    return PixelPicture(
        page=page,
        mm_per_unit=scale,
        dark=paint_all(inked, threshold=0.5).dark,
        paints=paint_all(paints, threshold=0.5).visible,
        origins={layer: _origin(layer) for layer in layers},
        findings=tuple(findings),
    )


def _origin(layer: str) -> SourceElement:
    plain = "-".join(layer.split())
    return SourceElement(tag="layer", ident=plain, classes=(plain, f"#{plain}"))


def _is_white(paint: Paint) -> bool:
    return paint.colour == (255.0, 255.0, 255.0)


def _document(data: bytes, fonts: Sequence[Path], *, name: str) -> Any:
    load_library(fonts)
    from ezdxf import recover
    from ezdxf.document import Drawing
    from ezdxf.lldxf.const import DXFVersionError
    from ezdxf.lldxf.tagger import binary_tags_loader

    if not data.rstrip(b" \t\r\n\x1a\0").endswith(b"EOF"):
        raise ArtworkError(f"{name}: the DXF breaks off before its end; save or send it again")
    damaged = 0
    try:
        with heard() as said:
            if b"\x1a\0" in data[:24]:
                document = Drawing.load(binary_tags_loader(data))
            else:
                document, audit = recover.read(io.BytesIO(data))
                # A number that is none is mended by a guess: such a file is not relied on.
                damaged = len(audit.errors) + sum("invalid" in line for line in said)
    except DXFVersionError:
        raise ArtworkError(f"{name}: the DXF is older than R12; save it as R12 or later") from None
    except MemoryError:
        raise ArtworkError(f"{name}: the DXF does not fit into memory; simplify it") from None
    except Exception:
        # The library meets damage with many kinds of exceptions.
        raise ArtworkError(
            f"{name}: the DXF cannot be read: it is damaged; save it again"
        ) from None
    if damaged:
        raise ArtworkError(
            f"{name}: the DXF holds damaged values; save it again from the program that drew it"
        )
    return document


def _collected(document: Any, without: frozenset[str], *, name: str) -> Any:
    from ezdxf.addons.drawing.config import Configuration, ImagePolicy, LinePolicy
    from ezdxf.addons.drawing.properties import LayoutProperties

    from stopout.artwork.dxf.collect import Collecting, Collector, Context

    config = Configuration(line_policy=LinePolicy.SOLID, image_policy=ImagePolicy.IGNORE,
                           circle_approximation_count=1440, pdmode=0, pdsize=1)  # fmt: skip
    into = Collector(without=without)
    paper = LayoutProperties.modelspace()
    paper.set_colors(_WHITE, "#000000")
    try:
        with heard(), np.errstate(all="ignore"):
            _define_layers(document)
            space = document.modelspace()
            _check_many(document, space, name=name)
            Collecting(Context(document), into, config).draw_layout(space, layout_properties=paper)
    except ArtworkError:
        raise
    except MemoryError:
        raise ArtworkError(f"{name}: the DXF does not fit into memory; simplify it") from None
    except RecursionError:
        raise ArtworkError(f"{name}: the DXF's blocks hold each other; explode them") from None
    except Exception:
        raise ArtworkError(
            f"{name}: the DXF holds something damaged; save it again, or explode its blocks"
        ) from None
    return into.collected


def _check_many(document: Any, space: Any, *, name: str) -> None:
    """Refuse blocks of blocks that come to more than can be drawn, before they are laid out."""
    shown: dict[str, int] = {}

    def held(entities: Any, within: tuple[str, ...]) -> int:
        count = 0
        for entity in entities:
            block = entity.dxf.name if entity.dxftype() == "INSERT" else ""
            if block in within:
                raise ArtworkError(f"{name}: the block {block!r} holds itself; explode it")
            if block and block not in shown and block in document.blocks:
                shown[block] = held(document.blocks.get(block), (*within, block))
            count += max(1, entity.mcount) * shown.get(block, 1) if block else 1
        return count

    count = held(space, ())
    if count > _MOST_ENTITIES:
        raise ArtworkError(
            f"{name}: with its blocks laid out the drawing holds {count} entities, more than "
            f"{_MOST_ENTITIES}; leave out what is not cleared, or draw a pattern as a few outlines"
        )


def _define_layers(document: Any) -> None:
    """Define the layers that are only named: the library draws those white and thick."""
    named = {
        entity.dxf.layer
        for entity in document.entitydb.values()
        if hasattr(entity, "dxf") and entity.dxf.hasattr("layer")
    }
    for layer in sorted(named):
        if layer not in document.layers:
            document.layers.add(layer)


def _extent(
    items: Iterable[Any], aside: Iterable[Any], unit_mm: float
) -> tuple[float, float, float, float]:
    """The box of everything that is drawn, in drawing units, with the widths of open lines."""
    corners: list[complex] = []
    for item in items:
        for run in item.runs if hasattr(item, "runs") else [item.run]:
            span = float(np.ptp(run.nodes.real) + np.ptp(run.nodes.imag))
            points = flatten(run, tolerance=max(span * 1e-6, 1e-12))
            half = 0.0
            if not run.is_closed and getattr(item, "width_mm", None):
                half = item.width_mm / unit_mm / 2
            corners += [complex(points.real.min() - half, points.imag.min() - half),
                        complex(points.real.max() + half, points.imag.max() + half)]  # fmt: skip
    for run in aside:
        corners += [complex(run.nodes.real.min(), run.nodes.imag.min()),
                    complex(run.nodes.real.max(), run.nodes.imag.max())]  # fmt: skip
    whole = np.array(corners)
    if not np.isfinite(whole).all():
        raise ArtworkError("the drawing holds coordinates that are no numbers")
    return (float(whole.real.min()), float(whole.imag.min()),
            float(whole.real.max()), float(whole.imag.max()))  # fmt: skip


class _Reader:
    """Turns pieces into paints; holds what was met on the way."""

    def __init__(self, to_mm: Affine, enlarged: float, name: str) -> None:
        self.to_mm, self.enlarged, self.name = to_mm, enlarged, name
        self.points = self.twice = 0
        self.loose: dict[tuple[str, str], list[ComplexArray]] = {}
        self.weighed: Counter[str] = Counter()

    def paints(self, items: Sequence[Any]) -> list[Paint]:
        """Closed outlines first, then hatches, lettering and lines in the order of drawing."""
        groups: dict[tuple[Any, ...], list[Any]] = {}
        fills = []
        for item in items:
            if hasattr(item, "runs"):
                fills.append(item)
                continue
            is_hatch = item.kind == "HATCH"
            key = (item.layer, item.colour, item.width_mm, item.dashes, is_hatch)
            groups.setdefault(key, []).append(item)
        areas, lines = [], []
        for (layer, colour, width, dashes, is_hatch), group in groups.items():
            pieces = [self.flat(item.run) for item in group]
            done = joined(pieces, gap=0.0 if is_hatch else _GAP_MM)
            areas += self.enclosed(done.closed, layer, colour, width)
            if done.open and width is None:
                kind = "hatch" if is_hatch else "line"
                self.loose.setdefault((layer, kind), []).extend(done.open)
            elif done.open:
                lines.append(self.stroked(done.open, layer, colour, width, dashes))
        return [p for p in (*areas, *map(self.filled, fills), *lines) if not p.region.is_empty]

    def enclosed(
        self, rings: list[ComplexArray], layer: str, colour: str, width: float | None
    ) -> list[Paint]:
        region, twice = nested(rings)
        self.twice += twice
        if rings and width is not None:
            self.weighed[layer] += len(rings)
        return [self.paint(region, colour, layer)]

    def filled(self, item: Any) -> Paint:
        rings = [self.flat(run) for run in item.runs]
        rule: Any = "nonzero" if item.is_lettering else "evenodd"
        return self.paint(fill([ring for ring in rings if len(ring) > 2], rule), item.colour,
                          item.layer)  # fmt: skip

    def stroked(
        self, chains: list[ComplexArray], layer: str, colour: str, width: float,
        dashes: tuple[float, ...],
    ) -> Paint:  # fmt: skip
        from stopout.artwork.regions.curves import GAP, Subpath

        runs = [
            Subpath(nodes=chain, handles=np.full((len(chain) - 1, 2), GAP), is_closed=False)
            for chain in chains
        ]
        scale = float(np.hypot(self.to_mm.a, self.to_mm.b))
        shown = tuple(max(part * scale, 1e-3) for part in dashes)
        stroke = Stroke(
            width=width * self.enlarged, cap="round", join="round",
            dashes=shown if len(shown) % 2 == 0 else (*shown, *shown),
        )  # fmt: skip
        rings = stroke_rings(runs, stroke, Affine(), tolerance_mm=_TOLERANCE_MM)
        return self.paint(fill(rings, "nonzero"), colour, layer)

    def flat(self, run: Any) -> ComplexArray:
        points = flatten(run.through(self.to_mm), tolerance=_TOLERANCE_MM)
        self.points += len(points)
        if self.points > _MOST_POINTS:
            raise ArtworkError(
                f"{self.name}: the outlines have more than {_MOST_POINTS} points; simplify them"
            )
        return points

    def paint(self, region: BaseGeometry, colour: str, layer: str) -> Paint:
        red, green, blue = (float(int(colour[k : k + 2], 16)) for k in (1, 3, 5))
        return Paint(
            region=region if region.is_valid else shapely.make_valid(region),
            colour=(red, green, blue),
            alpha=1.0,
            source=layer,
        )
