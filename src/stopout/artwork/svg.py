"""Read an SVG file into a picture: made safe, normalised, read, and checked by a rendering."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry import box as rectangle
from shapely.geometry.base import BaseGeometry

from stopout.artwork.fonts import FontBook
from stopout.artwork.normalise import normalise
from stopout.artwork.painter import Paint, Painted, paint_all
from stopout.artwork.picture import Picture
from stopout.artwork.rings import only_areas
from stopout.artwork.scale import page_scale
from stopout.artwork.source import SvgSource, read_source
from stopout.artwork.vector import read_paints
from stopout.errors import ArtworkError
from stopout.planning.job import ArtworkRequest
from stopout.values import Finding, Level

__all__ = ["read_svg"]

_TOLERANCE_MM = 4e-4
# A disagreement with the check rendering: above this it is refused, below it is told.
_WRONG_MM2 = 0.03


def read_svg(
    data: bytes, request: ArtworkRequest, *, name: str, fonts: FontBook | None = None
) -> Picture:
    """Read an SVG document.

    Returns
    -------
    Picture
        In mm of the page (y down), at the scale that the request asks of the page.

    Raises
    ------
    ArtworkError
        If the document is unsafe, holds what cannot be read faithfully, has no size, or is
        contradicted by an independent rendering.
    """
    threshold = 0.5 if request.threshold is None else request.threshold
    book = FontBook() if fonts is None else fonts
    source = read_source(data, fonts=book, name=name)
    normal = normalise(source.svg, name=name)
    findings = [*_notes(source), *_heed(normal.warnings)]
    scale = page_scale(source.page, request, name=name)
    sheet = rectangle(0.0, 0.0, source.page.width * scale, source.page.height * scale)

    notes: list[str] = []

    def read(svg: bytes, tolerance_mm: float) -> tuple[list[Paint], list[Finding], Painted]:
        paints = read_paints(
            svg,
            mm_per_px=scale,
            tolerance_mm=tolerance_mm,
            origins=source.origins,
            has_round=source.has_round,
            threshold=threshold,
            notes=notes,
            name=name,
        )
        kept, overhang = _cut_at_page(paints, sheet)
        return kept, overhang, paint_all(kept, threshold=threshold)

    paints, overhang, painted = read(normal.svg, _TOLERANCE_MM)
    if request.box == "ink" and (final := _ink_factor(painted.dark, request)) > 1.0:
        # How far the ink is enlarged later decides how fine its curves must be.
        paints, overhang, painted = read(normal.svg, _TOLERANCE_MM / final)
    shown, checked, dark = source.shown, paints, painted.dark
    if b"stroke-dasharray" in normal.svg:
        # The renderer's dashes drift by a pixel along a long curve (ours are held to closed forms
        # in the tests), so both sides are compared with their dashes closed.
        shown = _without_dashes(source.shown)
        checked, _, closed = read(_without_dashes(normal.svg), _TOLERANCE_MM)
        dark = closed.dark
    findings += [_ignored(note) for note in dict.fromkeys(notes)]
    findings += overhang
    findings += _verify(shown, source, threshold, checked, dark, scale, book, name=name)
    return Picture(
        page=source.page,
        mm_per_unit=scale,
        dark=painted.dark,
        paints=painted.visible,
        origins=source.origins,
        findings=tuple(findings),
        shown=source.shown,
    )


def _without_dashes(svg: bytes) -> bytes:
    return svg.replace(b"stroke-dasharray", b"data-dasharray")


def _ink_factor(dark: BaseGeometry, request: ArtworkRequest) -> float:
    if dark.is_empty:
        return 1.0
    x0, y0, x1, y1 = dark.bounds
    if request.width_mm is not None:
        return float(request.width_mm / (x1 - x0))
    return 1.0 if request.height_mm is None else float(request.height_mm / (y1 - y0))


def _cut_at_page(paints: Sequence[Paint], sheet: BaseGeometry) -> tuple[list[Paint], list[Finding]]:
    """Cut what lies beyond the page, which no reader of the file shows, and say so."""
    kept: list[Paint] = []
    beyond: list[BaseGeometry] = []
    x0, y0, x1, y1 = sheet.bounds
    for paint in paints:
        a, b, c, d = paint.region.bounds
        if a >= x0 and b >= y0 and c <= x1 and d <= y1:
            kept.append(paint)
            continue
        inside = only_areas(shapely.intersection(paint.region, sheet))
        if min(paint.colour) < 255.0:
            beyond.append(shapely.difference(paint.region, sheet))
        if not inside.is_empty:
            kept.append(replace(paint, region=inside))
    lost = [region for region in beyond if region.area > 1e-3]
    if not lost:
        return kept, []
    largest = max(lost, key=lambda region: float(region.area))
    spot = largest.representative_point()
    return kept, [
        Finding(
            code="artwork-beyond-page",
            level=Level.CAUTION,
            message="the artwork reaches beyond its page and was cut at the page's edge "
            f"({sum(region.area for region in lost):.2f} mm2 lost)",
            remedy="Enlarge the page (width, height and viewBox) or move the shapes into it.",
            at_mm=(float(spot.x), float(spot.y)),
        )
    ]


def _verify(
    shown: bytes,
    source: SvgSource,
    threshold: float,
    paints: Sequence[Paint],
    dark: BaseGeometry,
    scale: float,
    book: FontBook,
    *,
    name: str,
) -> list[Finding]:
    """Refuse an import that an independent rendering contradicts; tell small doubts."""
    from stopout.artwork.check import differences

    found = differences(
        shown,
        source.page,
        paints,
        dark,
        mm_per_px=scale,
        threshold=threshold,
        fonts=book.given if source.has_text else None,
    )
    if not found:
        return []
    worst = found[0]
    x, y = worst.at_mm
    up = source.page.height * scale - y
    what = "lacks something that" if worst.is_missing else "holds something that"
    also = "shows" if worst.is_missing else "does not show"
    place_words = (
        f"near ({x:.1f}, {up:.1f}) mm from the page's lower left corner "
        f"({worst.area_mm2:.2f} mm2, {len(found)} places in all)"
    )
    # The check draws the tiles of a pattern coarsely: there it can only raise a doubt.
    if worst.area_mm2 > _WRONG_MM2 and b"<pattern" not in shown:
        raise ArtworkError(
            f"{name}: what was read {what} a second, independent rendering {also}, {place_words}; "
            "simplify the shapes there: expand styles, strokes and clips to plain outlines"
        )
    return [
        Finding(
            code="artwork-doubtful",
            level=Level.CAUTION,
            message=f"what was read {what} a second rendering {also}, {place_words}",
            remedy="Compare the preview with the artwork there.",
            at_mm=worst.at_mm,
        )
    ]


def _notes(source: SvgSource) -> list[Finding]:
    return [_ignored(note) for note in source.notes]


def _ignored(note: str) -> Finding:
    return Finding(
        code="artwork-ignored",
        level=Level.CAUTION,
        message=note,
        remedy="Compare the preview with the artwork.",
    )


def _heed(warnings: Sequence[str]) -> list[Finding]:
    """Pass on what the normaliser said."""
    return [
        Finding(
            code="artwork-reader-note",
            level=Level.CAUTION,
            message=f"the SVG reader says: {line}",
            remedy="Compare the preview with the artwork.",
        )
        for line in dict.fromkeys(warnings)
    ]
