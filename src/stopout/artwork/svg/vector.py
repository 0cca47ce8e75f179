"""Read a normalised SVG document into paints in mm of the page (y down).

The normaliser leaves groups, paths, clips, transforms, opacity, visibility, fills and strokes.
Anything else that would change the picture is refused by the name of what the file calls it.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any, cast

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import Affine, ComplexArray, Subpath
from stopout.artwork.regions.painter import Paint, compose, fade
from stopout.artwork.regions.rings import EMPTY, FillRule, fill, only_areas
from stopout.artwork.regions.strokes import Stroke, stroke_rings
from stopout.artwork.svg.attributes import both, colour, fraction, reference, stroke, viewport
from stopout.artwork.svg.elements import tag_of
from stopout.artwork.svg.gradients import bands
from stopout.artwork.svg.outlines import chords, filled, outline
from stopout.artwork.svg.source import SourceElement
from stopout.artwork.svg.tiles import MOST_TILES, repeated, shifts_of, tile_of
from stopout.artwork.tone import luma
from stopout.errors import ArtworkError
from stopout.values import DrawnGlyph

_MOST_POINTS = 5_000_000
_MOST_DASHES = 50_000
_LONGEST_S = 120.0
_ROUND = frozenset({"circle", "ellipse", "rect"})
# So deep may masks and patterns lie in each other (ours): beyond it they go round in a circle.
_DEEPEST = 20


@dataclass(frozen=True, slots=True)
class _Here:
    """Where the reader stands: the map to page mm, and the nearest known id."""

    to_page: Affine
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Terms:
    """What a file is read by, and what is gathered on the way.

    Attributes
    ----------
    mm_per_px : float
        The size of one px of the page.
    threshold : float
        Where the tone of a gradient counts as dark.
    name : str
        What messages call the file.
    origins : dict
        What the ids stood for in the file.
    has_round : bool
        Whether the file holds circles, ellipses or rectangles, whose cubics are made true.
    notes : list of str
        Takes a sentence for whatever was read otherwise than drawn.
    glyphs : list of DrawnGlyph
        Takes the letters of live text with their boxes in mm of the page.
    """

    mm_per_px: float
    threshold: float
    name: str
    origins: dict[str, SourceElement]
    has_round: bool
    notes: list[str] = field(default_factory=list)
    glyphs: list[DrawnGlyph] = field(default_factory=list)


def read_paints(svg: bytes, terms: Terms, *, tolerance_mm: float) -> list[Paint]:
    """Read the paints of a normalised document in painting order.

    Parameters
    ----------
    svg : bytes
        What `normalise` returned.
    terms : Terms
        Of the file.
    tolerance_mm : float
        Largest distance between a curve and its chords.

    Returns
    -------
    list of Paint
        Regions in mm of the page; what lies beyond it is not cut off.

    Raises
    ------
    ArtworkError
        If something cannot be read faithfully, naming the element.
    """
    from lxml import etree

    root = etree.fromstring(svg, etree.XMLParser(resolve_entities=False, huge_tree=True))
    scale = Affine(a=terms.mm_per_px, d=terms.mm_per_px)
    reader = _Reader(root, terms, tolerance_mm)
    return reader.children(root, _Here(scale @ viewport(root), ""))


class _Reader:
    """Walks the document; holds what every step needs."""

    def __init__(self, root: Any, terms: Terms, tolerance_mm: float) -> None:
        self.named = {item.get("id"): item for item in root.iter() if item.get("id")}
        self.terms, self.tolerance_mm = terms, tolerance_mm
        self.name, self.origins = terms.name, terms.origins
        self.depth = self.points = self.dashes = 0
        self.until = time.monotonic() + _LONGEST_S

    def children(self, element: Any, here: _Here) -> list[Paint]:
        paints: list[Paint] = []
        for child in element:
            tag = tag_of(child)
            if tag == "g":
                paints += self.group(child, here)
            elif tag == "path":
                paints += self.path(child, here)
            elif tag not in ("defs", "title", "desc"):
                raise self.refusal(tag, self.source_of(child, here))
        return paints

    def group(self, element: Any, here: _Here) -> list[Paint]:
        inside = _Here(here.to_page @ self.transform(element, here), self.source_of(element, here))
        paints = self.children(element, inside)
        if paints and (clip := self.clip(element, inside)) is not None:
            cut = (replace(p, region=both(p.region, clip)) for p in paints)
            paints = [paint for paint in cut if not paint.region.is_empty]
        if paints and element.get("mask", "none") != "none":
            paints = self.masked(paints, element, inside)
        return fade(paints, fraction(element.get("opacity")))

    def masked(self, paints: list[Paint], element: Any, here: _Here) -> list[Paint]:
        """Cut paints by a mask, and fade them where it is see-through (CSS Masking 1)."""
        target = self.named.get(reference(element.get("mask", "")))
        if target is None:
            return []
        frame = self.frame(target, "maskUnits", element, here)
        content = here.to_page
        if target.get("maskContentUnits") == "objectBoundingBox":
            content = self.frame(target, "maskContentUnits", element, here)
        sheet = tile_of(target, frame)
        with self.deeper():
            inner = self.children(target, _Here(content, here.source))
            if target.get("mask", "none") != "none":
                inner = self.masked(inner, target, here)
        origin = self.origins.get(target.get("id") or "")
        found: list[Paint] = []
        for face in compose(inner):
            by_alpha = origin is not None and origin.mask_type == "alpha"
            value = face.alpha * (1.0 if by_alpha else luma(face.colour))
            hole = both(face.region, sheet)
            cut = [replace(paint, region=both(paint.region, hole)) for paint in paints]
            found += fade([paint for paint in cut if not paint.region.is_empty], value)
        return found

    @contextmanager
    def deeper(self) -> Iterator[None]:
        """Refuse masks and patterns that refer to each other without an end."""
        if self.depth >= _DEEPEST:
            raise ArtworkError(
                f"{self.name}: masks or patterns refer to each other too deeply; draw plain shapes"
            )
        self.depth += 1
        yield
        self.depth -= 1

    def frame(self, target: Any, units: str, owner: Any, here: _Here) -> Affine:
        """The space that a mask, pattern or gradient counts in, in page mm."""
        if target.get(units, "objectBoundingBox") == "userSpaceOnUse":
            return here.to_page
        bounds = self.bounds(owner)
        if bounds is None:
            return here.to_page @ Affine(a=0.0, d=0.0)
        x0, y0, x1, y1 = bounds
        return here.to_page @ Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0)

    def path(self, element: Any, here: _Here) -> list[Paint]:
        here = _Here(here.to_page @ self.transform(element, here), self.source_of(element, here))
        if element.get("visibility", "visible") != "visible":
            return []
        paints = self.plain_path(element, here)
        if (clip := self.clip(element, here)) is not None:
            paints = [replace(p, region=both(p.region, clip)) for p in paints]
        return fade(paints, fraction(element.get("opacity")))

    def spell(self, here: _Here) -> None:
        """Keep the letters of a path that was text, with their boxes in mm of the page."""
        origin = self.origins.get(here.source)
        for text, x0, y0, x1, y1 in () if origin is None else origin.letters:
            corners = np.array([complex(x, y) for x in (x0, x1) for y in (y0, y1)])
            at = here.to_page.apply(corners)
            x, y = at.real, at.imag
            box = (float(x.min()), float(y.min()), float(x.max()), float(y.max()))
            self.terms.glyphs.append(DrawnGlyph(text=text, line=here.source, box_mm=box))

    def plain_path(self, element: Any, here: _Here) -> list[Paint]:
        self.spell(here)
        paints: list[Paint] = []
        if element.get("fill", "#000000") != "none":
            region = self.filled(element, element.get("fill-rule", "nonzero"), here)
            paints += self.paint(element, "fill", region, here)
        if element.get("stroke", "none") != "none" and (subpaths := self.subpaths(element)):
            runs, to_page = self.drawn_along(element, subpaths, here.to_page)
            rings = stroke_rings(
                runs, self.stroke(element, runs), to_page, tolerance_mm=self.tolerance_mm
            )
            self.count(sum(map(len, rings)))
            paints += self.paint(element, "stroke", fill(rings, "nonzero"), here)
        order = element.get("paint-order", "normal")
        if "stroke" in order and order.find("stroke") < (order + " fill").find("fill"):
            paints.reverse()
        return paints

    def drawn_along(
        self, element: Any, subpaths: list[Subpath], to_page: Affine
    ) -> tuple[list[Subpath], Affine]:
        """What a line follows, and the map to page mm of the space that its width counts in."""
        origin = self.origins.get(element.get("id") or "")
        if origin is None or not origin.keeps_width:
            return subpaths, to_page
        # The line is drawn in px of the page, whatever the shape was put through (SVG 2,
        # section 8.13).
        mm = self.terms.mm_per_px
        to_px = Affine(a=1 / mm, d=1 / mm) @ to_page
        return [run.through(to_px) for run in subpaths], Affine(a=mm, d=mm)

    def stroke(self, element: Any, subpaths: list[Subpath]) -> Stroke:
        """The stroke of a path; dashes of a file that says how long its outline is are scaled."""
        plain = stroke(element)
        self.count_dashes(plain, subpaths)
        origin = self.origins.get(element.get("id") or "")
        if origin is None or origin.path_length is None or not plain.dashes:
            return plain
        length = sum(float(np.abs(np.diff(line)).sum()) for line in chords(subpaths))
        by = length / origin.path_length
        return replace(
            plain,
            dashes=tuple(dash * by for dash in plain.dashes),
            dash_offset=plain.dash_offset * by,
        )

    def count_dashes(self, stroke: Stroke, subpaths: list[Subpath]) -> None:
        period = sum(stroke.dashes)
        if period <= 0.0:
            return
        length = sum(float(np.abs(np.diff(sub.nodes)).sum()) for sub in subpaths)
        self.dashes += int(min(length / period, 1e9)) * len(stroke.dashes) // 2
        if self.dashes > _MOST_DASHES:
            raise ArtworkError(
                f"{self.name}: the strokes have more than {_MOST_DASHES} dashes; "
                "make the dashes longer, or draw plain lines"
            )

    def paint(self, element: Any, kind: str, region: BaseGeometry, here: _Here) -> list[Paint]:
        value = element.get(kind, "#000000")
        alpha = fraction(element.get(f"{kind}-opacity"))
        if region.is_empty or alpha == 0.0:
            return []
        if not value.startswith("url("):
            return [Paint(region=region, colour=colour(value), alpha=alpha, source=here.source)]
        target = self.named.get(reference(value))
        if target is None:
            return []
        if tag_of(target) == "pattern":
            return fade(self.tiled(target, element, region, here), alpha)
        return self.graded(target, element, region, alpha, here)

    def graded(
        self, target: Any, element: Any, region: BaseGeometry, alpha: float, here: _Here
    ) -> list[Paint]:
        frame = self.frame(target, "gradientUnits", element, here)
        frame = frame @ self.transform(target, here, key="gradientTransform")
        parts = bands(target, frame, region, threshold=self.terms.threshold)
        tones = {
            1.0 - alpha * part_alpha * (1.0 - luma(colour)) < 1.0 - self.terms.threshold
            for _, colour, part_alpha in parts
        }
        done = "cut where its tone passes the threshold"
        if len(tones) < 2:
            done = "read as plain " + ("dark" if True in tones else "light")
        self.terms.notes.append(f"{self.called(here.source)}: its gradient was {done}")
        return [
            Paint(
                region=part,
                colour=colour,
                alpha=alpha * own,
                source=here.source,
                # A gradient whose stops are all alike is a plain colour.
                is_toned=len({colour for _, colour, _ in parts}) > 1 or own < 1.0,
            )
            for part, colour, own in parts
            if own > 0.0
        ]

    def tiled(self, target: Any, element: Any, region: BaseGeometry, here: _Here) -> list[Paint]:
        """Lay the tiles of a pattern over a region (SVG 2, section 14.3)."""
        turned = here.to_page @ self.transform(target, here, key="patternTransform")
        inside = _Here(turned, here.source)
        base = self.frame(target, "patternUnits", element, inside)
        x, y, wide, high = (float(target.get(key, "0")) for key in ("x", "y", "width", "height"))
        if wide <= 0.0 or high <= 0.0:
            return []
        bounds = self.bounds(element)
        across, down, corner = 1.0, 1.0, complex(x, y)
        if bounds is not None and base is not turned:
            across, down = bounds[2] - bounds[0], bounds[3] - bounds[1]
            corner = complex(bounds[0] + x * across, bounds[1] + y * down)
        # The content's origin is the tile's corner, as every browser and renderer has it.
        content = turned @ Affine(e=corner.real, f=corner.imag)
        if target.get("viewBox"):
            content = content @ viewport(target, (wide * across, high * down))
        elif target.get("patternContentUnits") == "objectBoundingBox" and bounds is not None:
            content = content @ Affine(a=bounds[2] - bounds[0], d=bounds[3] - bounds[1])
        tile = tile_of(target, base)
        if tile.is_empty:
            return []
        with self.deeper():
            whole = self.children(target, _Here(content, here.source))
        parts = (replace(paint, region=both(paint.region, tile)) for paint in whole)
        paints = [part for part in parts if not part.region.is_empty]
        shifts = shifts_of(base, region, (x, y, wide, high))
        if len(shifts) > MOST_TILES:
            raise ArtworkError(
                f"{self.name}: {self.called(here.source)}: its pattern has {len(shifts)} tiles; "
                f"{MOST_TILES} is the most; draw it coarser"
            )
        tiled = region, max(tile.bounds[2] - tile.bounds[0], tile.bounds[3] - tile.bounds[1])
        self.count(len(shifts) * sum(shapely.get_num_coordinates(p.region) for p in paints))
        return [
            replace(paint, region=both(repeated(paint.region, shifts), region), tiled=tiled)
            for paint in paints
        ]

    def filled(self, element: Any, rule: str, here: _Here) -> BaseGeometry:
        region, points = filled(
            element.get("d", ""),
            here.to_page,
            self.tolerance_mm,
            cast(FillRule, rule),
            is_round=self.may_be_round(element),
        )
        self.count(points)
        return region

    def subpaths(self, element: Any) -> list[Subpath]:
        return outline(element.get("d", ""), is_round=self.may_be_round(element))

    def may_be_round(self, element: Any) -> bool:
        # Within `use` the normaliser drops ids; there any outline may be a circle.
        origin = self.origins.get(element.get("id") or "")
        return origin.tag in _ROUND if origin else self.terms.has_round

    def clip(self, element: Any, here: _Here, owner: Any = None) -> BaseGeometry | None:
        """Return the region an element is clipped to, in page mm; None where it is not.

        A clip path's own clip path is relative to the box of the same `owner`.
        """
        owner = element if owner is None else owner
        value = element.get("clip-path", "none")
        if value == "none":
            return None
        target = self.named.get(reference(value))
        if target is None:
            return EMPTY
        to_page = here.to_page
        if target.get("clipPathUnits") == "objectBoundingBox":
            bounds = self.bounds(owner)
            if bounds is None:
                return EMPTY
            x0, y0, x1, y1 = bounds
            to_page = to_page @ Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0)
        inside = _Here(to_page @ self.transform(target, here), here.source)
        region = self.clip_children(target, inside)
        outer = self.clip(target, here, owner)
        return region if outer is None else both(region, outer)

    def clip_children(self, element: Any, here: _Here) -> BaseGeometry:
        regions = []
        for child in element:
            inside = _Here(here.to_page @ self.transform(child, here), here.source)
            if child.get("visibility", "visible") != "visible":
                continue
            if tag_of(child) == "g":
                region = self.clip_children(child, inside)
            elif tag_of(child) == "path":
                rule = child.get("clip-rule") or child.get("fill-rule", "nonzero")
                region = self.filled(child, rule, inside)
            else:
                raise self.refusal(tag_of(child), here.source)
            own = self.clip(child, inside)
            regions.append(region if own is None else both(region, own))
        return only_areas(shapely.union_all(regions)) if regions else EMPTY

    def bounds(self, element: Any) -> tuple[float, float, float, float] | None:
        """The object bounding box: of the geometry alone, in the element's own user space."""
        found = [ring for ring in self._outlines(element, Affine(), top=True) if len(ring)]
        if not found:
            return None
        points = np.concatenate(found)
        return (
            float(points.real.min()),
            float(points.imag.min()),
            float(points.real.max()),
            float(points.imag.max()),
        )

    def _outlines(self, element: Any, to_user: Affine, *, top: bool = False) -> list[ComplexArray]:
        here = _Here(to_user, "")
        inner = to_user if top else to_user @ self.transform(element, here)
        if tag_of(element) == "path":
            return chords([sub.through(inner) for sub in self.subpaths(element)])
        return [ring for child in element for ring in self._outlines(child, inner)]

    def transform(self, element: Any, here: _Here, *, key: str = "transform") -> Affine:
        value = element.get(key)
        if value is None:
            return Affine()
        numbers = [float(part) for part in re.findall(r"[-+.\deE]+", value.partition("(")[2])]
        affine = Affine(*numbers) if len(numbers) == 6 else Affine(a=float("nan"))
        if not affine.is_finite:
            raise ArtworkError(
                f"{self.name}: {self.called(self.source_of(element, here))}: its {key} "
                f"'{value[:60]}' cannot be read; "
                "write it as six finite numbers, matrix(a b c d e f)"
            )
        return affine

    def source_of(self, element: Any, here: _Here) -> str:
        ident = element.get("id") or ""
        return ident if ident in self.origins else here.source

    def called(self, source: str) -> str:
        origin = self.origins.get(source)
        if origin is None:
            return "the artwork"
        return f'<{origin.tag} id="{origin.ident}">' if origin.ident else f"<{origin.tag}>"

    def refusal(self, kind: str, source: str) -> ArtworkError:
        return ArtworkError(
            f"{self.name}: {self.called(source)}: {kind}: it is not read; draw it with plain shapes"
        )

    def count(self, points: int) -> None:
        self.points += points
        if time.monotonic() > self.until:
            raise ArtworkError(
                f"{self.name}: reading its shapes takes longer than {_LONGEST_S:.0f} s; simplify it"
            )
        if self.points > _MOST_POINTS:
            raise ArtworkError(
                f"{self.name}: the outlines have more than {_MOST_POINTS} points; simplify them"
            )
