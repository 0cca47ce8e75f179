"""Read an SVG file into a picture: made safe, normalised, read, and checked by a rendering."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import box as rectangle
from shapely.geometry.base import BaseGeometry

from stopout.artwork.check import Disagreement, differences
from stopout.artwork.fonts.book import FontBook
from stopout.artwork.picture import PixelPicture
from stopout.artwork.regions.painter import Paint, Painted, paint_all
from stopout.artwork.regions.rings import EMPTY, only_areas
from stopout.artwork.scale import Page, page_scale
from stopout.artwork.svg.clips import normalised
from stopout.artwork.svg.source import SvgSource, read_source
from stopout.artwork.svg.vector import Terms, read_paints
from stopout.artwork.svg.verify import verified
from stopout.job.record import ArtworkRequest
from stopout.typefaces import wide_files
from stopout.values import Finding

_TOLERANCE_MM = 4e-4
# What the normaliser need not know, since it decides no edge.
_NO_PICTURE = frozenset(
    {"shape-rendering", "text-rendering", "image-rendering", "color-rendering",
     "color-interpolation", "color-interpolation-filters", "enable-background", "cursor",
     "pointer-events"}
)  # fmt: skip
_NO_VALUE = frozenset({"none", "auto", "inherit", "initial", "unset", "normal", ""})
_COMPARE = "Compare the preview with the artwork."
_MEND = "Compare the preview with the artwork; draw anew there what is missing."
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
    book = FontBook() if fonts is None else fonts
    source = read_source(data, fonts=book, name=name, leave_out=request.leave_out)
    normal = normalised(source.svg, name=name)
    scale = page_scale(source.page, request, name=name)
    terms = Terms(
        mm_per_px=scale,
        threshold=0.5 if request.threshold is None else request.threshold,
        name=name,
        origins=source.origins,
        has_round=source.has_round,
    )
    file = _File(
        source=source,
        terms=terms,
        sheet=rectangle(0.0, 0.0, source.page.width * scale, source.page.height * scale),
        fonts=book,
    )
    tolerance = _TOLERANCE_MM
    made = file.read(normal.svg, tolerance)
    if request.box == "ink" and (final := _ink_factor(made.painted.dark, request)) > 1.0:
        # How far the ink is enlarged later decides how fine its curves must be.
        made = file.read(normal.svg, tolerance / final)
    doubts = file.held_against_rendering(normal.svg, made)
    findings = [
        *_gathered(source.broken, "artwork-broken", _MEND),
        *_gathered(source.notes, "artwork-ignored", _COMPARE),
        *_heed(normal.warnings),
        *(_toned(note) for note in dict.fromkeys(terms.notes)),
        *made.overhang,
        *_size_unsure(source.page, request, scale),
        *doubts,
    ]
    return PixelPicture(
        page=source.page,
        mm_per_unit=scale,
        dark=made.painted.dark,
        paints=made.painted.visible,
        origins=source.origins,
        findings=tuple(findings),
        beyond=paint_all(made.beyond, threshold=terms.threshold).dark if made.overhang else EMPTY,
        glyphs=tuple(dict.fromkeys(terms.glyphs)),
        # The renderer lets every line grow with its shape: where some must not, it shows nothing.
        shown=b"" if file.keeps_width else source.shown,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Made:
    """One reading: the paints within the page and beyond it, what is lost so, and what is dark."""

    paints: list[Paint]
    beyond: list[Paint]
    overhang: list[Finding]
    painted: Painted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _File:
    """What every reading of a file shares."""

    source: SvgSource
    terms: Terms
    sheet: BaseGeometry
    fonts: FontBook

    @property
    def keeps_width(self) -> bool:
        return any(origin.keeps_width for origin in self.source.origins.values())

    def read(self, svg: bytes, tolerance_mm: float) -> _Made:
        found = read_paints(svg, self.terms, tolerance_mm=tolerance_mm)
        paints, beyond = _cut_at_page(found, self.sheet)
        painted = paint_all(paints, threshold=self.terms.threshold)
        return _Made(paints=paints, beyond=beyond, overhang=_lost(beyond), painted=painted)

    def held_against_rendering(self, svg: bytes, made: _Made) -> list[Finding]:
        """Compare a reading with an independent rendering of the file."""
        if b"stroke-dasharray" in svg or self.keeps_width:
            # The renderer's dashes drift by a pixel along a long curve (ours are held to closed
            # forms in the tests), and it lets every line grow with its shape: so both sides are
            # compared with dashes closed and lines grown.
            source = _plain(self.source)
            plain = replace(self, source=source, terms=replace(self.terms, origins=source.origins))
            closed = plain.read(_without_dashes(svg), _TOLERANCE_MM)
            return plain._verified(closed)
        return self._verified(made)

    def _verified(self, made: _Made) -> list[Finding]:
        source = self.source
        fonts = (*self.fonts.given, *(wide_files() if source.is_wide else ()))

        def differing(document: bytes) -> list[Disagreement]:
            return differences(
                document,
                source.page,
                made.paints,
                made.painted.dark,
                mm_per_px=self.terms.mm_per_px,
                threshold=self.terms.threshold,
                fonts=fonts if source.has_text else None,
                tiled=[paint.tiled for paint in made.paints if paint.tiled],
            )

        return verified(
            source, differing, source.page.height * self.terms.mm_per_px, name=self.terms.name
        )


def _plain(source: SvgSource) -> SvgSource:
    """A source with its dashes closed, whose lines all grow with their shapes."""
    return replace(
        source,
        given=None if source.given is None else _without_dashes(source.given),
        shown=_without_dashes(source.shown),
        origins={key: replace(one, keeps_width=False) for key, one in source.origins.items()},
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


def _cut_at_page(paints: Sequence[Paint], sheet: BaseGeometry) -> tuple[list[Paint], list[Paint]]:
    """Part what lies within the page from what lies beyond it, which no reader shows."""
    kept: list[Paint] = []
    beyond: list[Paint] = []
    x0, y0, x1, y1 = sheet.bounds
    for paint in paints:
        a, b, c, d = paint.region.bounds
        if a >= x0 and b >= y0 and c <= x1 and d <= y1:
            kept.append(paint)
            continue
        inside, outside = (
            only_areas(part(paint.region, sheet))
            for part in (shapely.intersection, shapely.difference)
        )
        beyond += [] if outside.is_empty else [replace(paint, region=outside)]
        kept += [] if inside.is_empty else [replace(paint, region=inside)]
    return kept, beyond


def _lost(beyond: Sequence[Paint]) -> list[Finding]:
    """Say that paint beyond the page was cut off."""
    # Less than what is printed as 0.01 mm2 is the rounding of a drawing that ends at its page.
    lost = [
        paint.region for paint in beyond if min(paint.colour) < 255.0 and paint.region.area > 1e-3
    ]
    area = sum(float(region.area) for region in lost)
    if area < _LEAST_LOST_MM2:
        return []
    largest = max(lost, key=lambda region: float(region.area))
    spot = largest.representative_point()
    return [
        Finding.caution(
            "artwork-beyond-page",
            "the artwork reaches beyond its page and was cut at the page's edge "
            f"({area:.{0 if area >= 100.0 else 2}f} mm2 lost)",
            remedy="Enlarge the page (width, height and viewBox) or move the shapes into it.",
            at_mm=(float(spot.x), float(spot.y)),
        )
    ]


def _size_unsure(page: Page, request: ArtworkRequest, scale: float) -> list[Finding]:
    """Tell that a size in px is no size of a thing."""
    if not page.is_untold or request.width_mm or request.height_mm:
        return []
    return [
        Finding.caution(
            "artwork-size-unsure",
            "the SVG gives its size in px, which is a screen's unit; at 96 to the inch it "
            f"comes out {page.width * scale:.2f} x {page.height * scale:.2f} mm",
            remedy="Give artwork.width in the job file.",
        )
    ]


def _gathered(notes: Sequence[str], code: str, remedy: str) -> list[Finding]:
    """One finding for each thing that was done, however many elements it was done to."""
    where: dict[str, list[str]] = {}
    for note in notes:
        called, _, words = note.partition(": ")
        where.setdefault(words, []).append(called)
    return [
        Finding.caution(
            code,
            f"{called[0]}{f' and {len(called) - 1} more' if len(called) > 1 else ''}: " + words,
            remedy=remedy,
        )
        for words, called in where.items()
    ]


def _toned(note: str) -> Finding:
    """A gradient: a caution where an edge was made of it, a note where it has no edge."""
    if "was cut" not in note:
        return Finding.note("artwork-ignored", note, remedy="Nothing needs to be done.")
    return Finding.caution(
        "tones-as-lines",
        note,
        remedy="Draw the edge that is meant; or compare the preview with the artwork.",
    )


def _ignored(note: str) -> Finding:
    return Finding.caution("artwork-ignored", note, remedy=_COMPARE)


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
