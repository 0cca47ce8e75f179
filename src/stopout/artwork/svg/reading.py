"""Read an SVG file into a picture: made safe, normalised, read, and checked by a rendering."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry import box as rectangle
from shapely.geometry.base import BaseGeometry

from stopout.artwork.check import Disagreement, differences
from stopout.artwork.fonts.book import FontBook
from stopout.artwork.picture import PixelPicture
from stopout.artwork.regions.painter import Paint, Painted, paint_all
from stopout.artwork.regions.rings import EMPTY, only_areas
from stopout.artwork.scale import Page, page_scale
from stopout.artwork.svg.normalise import normalise
from stopout.artwork.svg.source import SourceElement, SvgSource, read_source
from stopout.artwork.svg.vector import read_paints
from stopout.artwork.svg.verify import verified
from stopout.job.record import ArtworkRequest
from stopout.typefaces import wide_files
from stopout.values import DrawnGlyph, Finding, Level

_TOLERANCE_MM = 4e-4
# What the normaliser need not know, since it decides no edge.
_NO_PICTURE = frozenset(
    {"shape-rendering", "text-rendering", "image-rendering", "color-rendering",
     "color-interpolation", "color-interpolation-filters", "enable-background", "cursor",
     "pointer-events"}
)  # fmt: skip
_NO_VALUE = frozenset({"none", "auto", "inherit", "initial", "unset", "normal", ""})
_LEAST_LOST_MM2 = 0.005


def read_svg(
    data: bytes, request: ArtworkRequest, *, name: str, fonts: FontBook | None = None
) -> PixelPicture:
    """Read an SVG document.

    Returns
    -------
    PixelPicture
        In mm of the page (y down), at the scale that the request asks of the page.

    Raises
    ------
    ArtworkError
        If the document is unsafe, holds what cannot be read faithfully, has no size, or is
        contradicted by an independent rendering.
    """
    threshold = 0.5 if request.threshold is None else request.threshold
    book = FontBook() if fonts is None else fonts
    source = read_source(data, fonts=book, name=name, leave_out=request.leave_out)
    normal = normalise(source.svg, name=name)
    findings = [*_notes(source), *_heed(normal.warnings)]
    scale = page_scale(source.page, request, name=name)
    sheet = rectangle(0.0, 0.0, source.page.width * scale, source.page.height * scale)

    notes: list[str] = []
    glyphs: list[DrawnGlyph] = []

    def read(
        svg: bytes, tolerance_mm: float, origins: dict[str, SourceElement] = source.origins
    ) -> tuple[list[Paint], list[Finding], Painted]:
        paints = read_paints(
            svg,
            mm_per_px=scale,
            tolerance_mm=tolerance_mm,
            origins=origins,
            has_round=source.has_round,
            threshold=threshold,
            notes=notes,
            name=name,
            glyphs=glyphs,
        )
        kept, overhang = _cut_at_page(paints, sheet)
        return kept, overhang, paint_all(kept, threshold=threshold)

    paints, overhang, painted = read(normal.svg, _TOLERANCE_MM)
    if request.box == "ink" and (final := _ink_factor(painted.dark, request)) > 1.0:
        # How far the ink is enlarged later decides how fine its curves must be.
        paints, overhang, painted = read(normal.svg, _TOLERANCE_MM / final)
    checked, dark = paints, painted.dark
    # The renderer lets every line grow with its shape: where some must not, it shows nothing.
    keeps_width = any(origin.keeps_width for origin in source.origins.values())
    shown = b"" if keeps_width else source.shown
    if b"stroke-dasharray" in normal.svg or keeps_width:
        # The renderer's dashes drift by a pixel along a long curve (ours are held to closed forms
        # in the tests), and it lets every line grow with its shape: so both sides are compared with
        # dashes closed and lines grown.
        source = replace(
            source,
            given=None if source.given is None else _without_dashes(source.given),
            shown=_without_dashes(source.shown),
        )
        grown = {key: replace(origin, keeps_width=False) for key, origin in source.origins.items()}
        checked, _, closed = read(_without_dashes(normal.svg), _TOLERANCE_MM, grown)
        dark = closed.dark
    findings += [_toned(note) for note in dict.fromkeys(notes)]
    findings += overhang
    findings += _size_unsure(source.page, request, scale)

    wide = wide_files() if source.is_wide else ()

    def differing(document: bytes) -> list[Disagreement]:
        return differences(
            document,
            source.page,
            checked,
            dark,
            mm_per_px=scale,
            threshold=threshold,
            fonts=(*book.given, *wide) if source.has_text else None,
            tiled=[(paint.region, paint.tile_mm) for paint in checked if paint.tile_mm],
        )

    findings += verified(source, differing, source.page.height * scale, name=name)
    return PixelPicture(
        page=source.page,
        mm_per_unit=scale,
        dark=painted.dark,
        paints=painted.visible,
        origins=source.origins,
        findings=tuple(findings),
        beyond=_dark_beyond(normal.svg, source, scale, sheet, threshold, name)
        if overhang
        else EMPTY,
        glyphs=tuple(dict.fromkeys(glyphs)),
        shown=shown,
    )


def _dark_beyond(
    svg: bytes,
    source: SvgSource,
    scale: float,
    sheet: BaseGeometry,
    threshold: float,
    name: str,
) -> BaseGeometry:
    """Return what is dark beyond the page."""
    paints = read_paints(
        svg,
        mm_per_px=scale,
        tolerance_mm=_TOLERANCE_MM,
        origins=source.origins,
        has_round=source.has_round,
        threshold=threshold,
        notes=[],
        name=name,
    )
    return only_areas(shapely.difference(paint_all(paints, threshold=threshold).dark, sheet))


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
    # Less than what is printed as 0.01 mm2 is the rounding of a drawing that ends at its page.
    lost = [region for region in beyond if region.area > 1e-3]
    if sum(region.area for region in lost) < _LEAST_LOST_MM2:
        lost = []
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


def _size_unsure(page: Page, request: ArtworkRequest, scale: float) -> list[Finding]:
    """Tell that a size in px is no size of a thing."""
    if not page.is_untold or request.width_mm or request.height_mm:
        return []
    return [
        Finding(
            code="artwork-size-unsure",
            level=Level.CAUTION,
            message="the SVG gives its size in px, which is a screen's unit; at 96 to the inch it "
            f"comes out {page.width * scale:.2f} x {page.height * scale:.2f} mm",
            remedy="Give artwork.width in the job file.",
        )
    ]


def _notes(source: SvgSource) -> list[Finding]:
    """One finding for each thing that was done, however many elements it was done to."""
    where: dict[str, list[str]] = {}
    for note in source.notes:
        called, _, words = note.partition(": ")
        where.setdefault(words, []).append(called)
    return [
        _ignored(f"{called[0]}{f' and {len(called) - 1} more' if len(called) > 1 else ''}: {words}")
        for words, called in where.items()
    ]


def _toned(note: str) -> Finding:
    """A gradient: a caution where an edge was made of it, a note where it has no edge."""
    if "was cut" not in note:
        return Finding(code="artwork-ignored", level=Level.NOTE, message=note,
                       remedy="Nothing needs to be done.")  # fmt: skip
    return Finding(
        code="tones-as-lines",
        level=Level.CAUTION,
        message=note,
        remedy="Draw the edge that is meant; or compare the preview with the artwork.",
    )


def _ignored(note: str) -> Finding:
    return Finding(
        code="artwork-ignored",
        level=Level.CAUTION,
        message=note,
        remedy="Compare the preview with the artwork.",
    )


def _heed(warnings: Sequence[str]) -> list[Finding]:
    """Pass on what the normaliser left aside, in our words, where it may change the picture."""
    return [_ignored(words) for words in dict.fromkeys(filter(None, map(_in_words, warnings)))]


def _in_words(warning: str) -> str:
    match = re.match(r"Failed to parse ([\w:-]+)(?: value)?: '(.*?)'", warning)
    if match is None:
        return f"a detail was left aside: {warning[:80].rstrip('.').lower()}" if warning else ""
    key, value = match[1], match[2]
    if key in _NO_PICTURE or value.strip().lower() in _NO_VALUE:
        return ""
    return f"{key}: '{value[:40]}' is no value of it that is read; it was left aside"
