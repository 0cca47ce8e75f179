"""PDF pages: path objects kept as vectors; a page that holds more is rendered fine and traced.

The page is rendered in any case, and the vectors are held against the rendering: what the
library cannot tell (mitre limits, the fill rule of clips, groups) shows there.
"""

from __future__ import annotations

import contextlib
import ctypes
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import box as rectangle
from shapely.geometry.base import BaseGeometry

from stopout.artwork.pdf.beside import DEEPEST, beside_the_drawing, within
from stopout.artwork.picture import PixelPicture
from stopout.artwork.regions.curves import Affine, ComplexArray, RunPen, Subpath, flatten
from stopout.artwork.regions.painter import Paint, Painted, paint_all
from stopout.artwork.regions.rings import FillRule, fill, only_areas
from stopout.artwork.regions.strokes import Stroke, stroke_rings
from stopout.artwork.scale import MM_PER_INCH, Page, page_scale
from stopout.artwork.tone import luma_of_pixels
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest
from stopout.values import Finding

_TOLERANCE_MM = 4e-4
_MOST_OBJECTS = 200_000
_MOST_POINTS = 5_000_000
_FINE_DPI = 1200.0
_MOST_PIXELS = 60_000_000
_CHECK_PIXELS = 1_500_000
_WRONG_MM2 = 0.03
_PT = 72.0
_MOST_UNPACKED = 50_000_000
_USER_UNIT = re.compile(rb"/UserUnit\s+(\d*\.?\d+)")
_OBJECT_STREAM = re.compile(rb"obj([^\0]{0,400}?)stream\r?\n(.*?)endstream", re.DOTALL)
_CAPS: tuple[Literal["butt", "round", "square"], ...] = ("butt", "round", "square")
_JOINS: tuple[Literal["miter", "round", "bevel"], ...] = ("miter", "round", "bevel")
# What a PDF leaves unsaid (ISO 32000-1, table 52).
_MITER_LIMIT = 10.0


class _NotPlainError(Exception):
    """The page holds something besides plain paths; the message names it."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A page: its library handle, its box in points, and the map to points from its upper left."""

    page: Any
    width: float
    height: float
    to_page: Affine


def read_pdf(data: bytes, request: ArtworkRequest, *, name: str) -> PixelPicture:
    """Read one page of a PDF.

    Returns
    -------
    PixelPicture
        In mm of the crop box (y down), at the scale that the request asks of the page.

    Raises
    ------
    ArtworkError
        If the document is damaged, locked, too large, or has no such page.
    """
    import pypdfium2 as pdfium

    try:
        document = pdfium.PdfDocument(data)
    except pdfium.PdfiumError as fault:
        reason = "it is locked by a password" if "password" in str(fault).lower() else "damaged"
        raise ArtworkError(f"{name}: the PDF cannot be read: {reason}") from None
    try:
        # Values typed into form fields are shown by the rendering from now on.
        document.init_forms()
        return _read(document, request, _user_unit(data, name=name), name=name)
    except pdfium.PdfiumError:
        raise ArtworkError(
            f"{name}: the PDF's page cannot be read: it is damaged; save the file again"
        ) from None
    finally:
        document.close()


def _user_unit(data: bytes, *, name: str) -> float:
    """Return how many points a unit of the page is (ISO 32000-1, table 30); pdfium leaves it out.

    It is looked for in the file as it lies and in its packed object streams.
    """
    found = {float(value) for value in _USER_UNIT.findall(data)}
    for head, packed in _OBJECT_STREAM.findall(data) if b"/ObjStm" in data else ():
        if b"/ObjStm" in head:
            with contextlib.suppress(zlib.error):
                plain = zlib.decompressobj().decompress(packed, _MOST_UNPACKED)
                found |= {float(value) for value in _USER_UNIT.findall(plain)}
    found = {value for value in found if value > 0.0}
    if len(found) > 1:
        raise ArtworkError(
            f"{name}: the PDF's pages state different sizes of their unit; save the page alone"
        )
    return found.pop() if found else 1.0


def _read(document: Any, request: ArtworkRequest, unit: float, *, name: str) -> PixelPicture:
    count = len(document)
    if request.page > count:
        raise ArtworkError(
            f"{name}: there is no page {request.page}; the PDF has {count}: mend artwork.page"
        )
    handle = document[request.page - 1]
    try:
        return _read_page(_sheet(handle, name=name), count, request, unit, name=name)
    finally:
        handle.close()


def _read_page(
    sheet: _Sheet, count: int, request: ArtworkRequest, unit: float, *, name: str
) -> PixelPicture:
    size = unit * MM_PER_INCH / _PT
    page = Page(width=sheet.width, height=sheet.height, mm_per_unit=size, kind="PDF")
    scale = page_scale(page, request, name=name)
    findings = []
    if count > 1 and request.page == 1:
        findings.append(Finding.note("artwork-pages", f"the PDF has {count} pages; page 1 is read",
                                     "Choose another by artwork.page."))  # fmt: skip
    findings += beside_the_drawing(sheet.page, _page_objects(sheet.page))
    threshold = 0.5 if request.threshold is None else request.threshold
    try:
        picture, without = _vectors(sheet, page, request, scale, threshold, name=name)
        findings += without
    except _NotPlainError as reason:
        grown = scale * _PT / MM_PER_INCH
        dpi = min(_FINE_DPI * grown, _finest(sheet))
        region, tones = _traced(sheet, dpi, threshold, scale, name=name)
        findings += tones
        findings.append(
            Finding.caution(
                "artwork-traced",
                f"the PDF page holds {reason}, so it was rendered at {dpi / grown:.0f} dpi and "
                "traced",
                "For true curves save lettering as outlines, and pictures apart.",
            )
        )
        picture = [Paint(region=region, colour=(0.0, 0.0, 0.0), alpha=1.0, source="")]
    painted = paint_all(picture, threshold=threshold)
    return PixelPicture(
        page=page,
        mm_per_unit=scale,
        dark=painted.dark,
        paints=painted.visible,
        origins={},
        findings=tuple(findings),
    )


def _sheet(page: Any, *, name: str) -> _Sheet:
    left, bottom, right, top = _box(page)
    wide, high = right - left, top - bottom
    if not (0.0 < wide < 1e6 and 0.0 < high < 1e6):
        raise ArtworkError(f"{name}: the PDF's page has no area")
    # ISO 32000-1, 7.7.3.3: the page is turned clockwise when shown.
    turn = page.get_rotation() % 360
    to_page = {
        0: Affine(1.0, 0.0, 0.0, -1.0, -left, top),
        90: Affine(0.0, 1.0, 1.0, 0.0, -bottom, -left),
        180: Affine(-1.0, 0.0, 0.0, 1.0, right, -bottom),
        270: Affine(0.0, -1.0, -1.0, 0.0, top, right),
    }[turn]
    if turn in (90, 270):
        wide, high = high, wide
    return _Sheet(page, wide, high, to_page)


def _box(page: Any) -> tuple[float, float, float, float]:
    """The crop box within the media box, beyond which nothing is shown (ISO 32000-1, 14.11.2).

    Either may be that of all pages (7.7.3.4), which the library's own boxes of a page leave out.
    """
    import pypdfium2.raw as raw

    shown = raw.FS_RECTF()
    if not raw.FPDF_GetPageBoundingBox(page.raw, shown):
        return (0.0, 0.0, 0.0, 0.0)
    return (
        min(shown.left, shown.right),
        min(shown.bottom, shown.top),
        max(shown.left, shown.right),
        max(shown.bottom, shown.top),
    )


# -- vectors ----------------------------------------------------------------------------------


def _vectors(
    sheet: _Sheet, page: Page, request: ArtworkRequest, scale: float, threshold: float, *, name: str
) -> tuple[list[Paint], list[Finding]]:
    def read(tolerance_mm: float) -> tuple[list[Paint], Painted, list[Finding]]:
        to_mm = Affine(scale, 0.0, 0.0, scale, 0.0, 0.0) @ sheet.to_page
        reader = _Reader(tolerance_mm, name)
        border = rectangle(0.0, 0.0, page.width * scale, page.height * scale)
        paints = [
            Paint(region=cut, colour=paint.colour, alpha=paint.alpha, source="")
            for paint in reader.objects(_page_objects(sheet.page), to_mm, 0)
            if not (cut := only_areas(shapely.intersection(paint.region, border))).is_empty
        ]
        return paints, paint_all(paints, threshold=threshold), reader.without_width()

    paints, painted, without = read(_TOLERANCE_MM)
    _verify(sheet, painted.dark, scale, threshold)
    if request.box == "ink" and not painted.dark.is_empty:
        x0, y0, x1, y1 = painted.dark.bounds
        sizes = ((request.width_mm, x1 - x0), (request.height_mm, y1 - y0))
        factor = max((wanted / size for wanted, size in sizes if wanted), default=1.0)
        if factor > 1.0:
            paints, _, without = read(_TOLERANCE_MM / factor)
    return paints, without


def _verify(sheet: _Sheet, dark: BaseGeometry, scale: float, threshold: float) -> None:
    """Hold the vectors against the library's rendering; what differs sends the page to tracing."""
    from stopout.artwork.check import render_regions

    per_pt = (_CHECK_PIXELS / (sheet.width * sheet.height)) ** 0.5
    asked = _rendered(sheet, per_pt).astype(np.float32) / 255
    per_mm = per_pt / scale
    size = (asked.shape[1], asked.shape[0])
    ours = render_regions([(dark, (0.0, 0.0, 0.0), 1.0)], size, px_per_mm=per_mm)
    import cv2

    # The renderer moves edges outwards by up to a pixel: only what is wider than that counts.
    wrong = ((asked < 1 - threshold) != (ours < 0.5)).astype(np.uint8)
    core = cv2.erode(wrong, np.ones((3, 3), np.uint8), borderValue=0)
    if core.sum() / per_mm**2 > _WRONG_MM2 or core.sum() > 40:
        raise _NotPlainError("shapes that its rendering shows otherwise")


def _page_objects(page: Any) -> Iterator[Any]:
    import pypdfium2.raw as raw

    for index in range(raw.FPDFPage_CountObjects(page.raw)):
        yield raw.FPDFPage_GetObject(page.raw, index)


class _Reader:
    """Walks page objects and forms; holds the limits."""

    def __init__(self, tolerance_mm: float, name: str) -> None:
        self.tolerance_mm = tolerance_mm
        self.name = name
        self.seen = self.points = 0
        self.hairlines: list[complex] = []

    def objects(self, items: Iterator[Any], to_mm: Affine, depth: int) -> Iterator[Paint]:
        import pypdfium2.raw as raw

        if depth > DEEPEST:
            raise ArtworkError(f"{self.name}: the PDF's forms are nested too deeply")
        names = {raw.FPDF_PAGEOBJ_TEXT: "text", raw.FPDF_PAGEOBJ_IMAGE: "a picture",
                 raw.FPDF_PAGEOBJ_SHADING: "a shading"}  # fmt: skip
        for item in items:
            self.seen += 1
            if self.seen > _MOST_OBJECTS:
                raise ArtworkError(f"{self.name}: the PDF page has too many objects; simplify it")
            kind = raw.FPDFPageObj_GetType(item)
            if kind == raw.FPDF_PAGEOBJ_PATH:
                yield from self.path(item, to_mm)
            elif kind == raw.FPDF_PAGEOBJ_FORM:
                inner = to_mm @ _matrix(item)
                if raw.FPDFPageObj_HasTransparency(item):
                    raise _NotPlainError("see-through groups")
                yield from self.objects(within(item), inner, depth + 1)
            else:
                raise _NotPlainError(names.get(kind, "objects of an unknown kind"))

    def path(self, item: Any, to_mm: Affine) -> Iterator[Paint]:
        import pypdfium2.raw as raw

        place = to_mm @ _matrix(item)
        runs = _runs(_segments(item))
        mode, stroked = ctypes.c_int(), ctypes.c_int()
        raw.FPDFPath_GetDrawMode(item, mode, stroked)
        clip = self.clip(item, to_mm)
        if mode.value != raw.FPDF_FILLMODE_NONE and runs:
            rule: FillRule = "evenodd" if mode.value == raw.FPDF_FILLMODE_ALTERNATE else "nonzero"
            region = fill([self.flat(run, place) for run in runs], rule)
            yield from self.paint(region, clip, _colour(item, raw.FPDFPageObj_GetFillColor))
        if stroked.value and runs and _width(item) <= 0.0:
            if mode.value == raw.FPDF_FILLMODE_NONE:
                self.hairlines.append(complex(place.apply(runs[0].nodes[:1])[0]))
        elif stroked.value and runs:
            rings = stroke_rings(runs, _stroke(item, place), place, tolerance_mm=self.tolerance_mm)
            region = fill(rings, "nonzero")
            yield from self.paint(region, clip, _colour(item, raw.FPDFPageObj_GetStrokeColor))

    def without_width(self) -> list[Finding]:
        """Tell of lines without a width, which every device draws as thin as it can."""
        if not self.hairlines:
            return []
        at, count = self.hairlines[0], len(self.hairlines)
        lines = "a line of the PDF has" if count == 1 else f"{count} lines of the PDF have"
        return [
            Finding.caution(
                "artwork-broken",
                f"{lines} no width, so that no two viewers draw the same; left out",
                "Give lines a width in the drawing, or draw them as areas.",
                at_mm=(at.real, at.imag),
            )
        ]

    def paint(
        self,
        region: BaseGeometry,
        clip: BaseGeometry | None,
        colour: tuple[tuple[float, float, float], float],
    ) -> Iterator[Paint]:
        if clip is not None:
            region = only_areas(shapely.intersection(region, clip))
        if not region.is_empty and colour[1] > 0.0:
            yield Paint(region=region, colour=colour[0], alpha=colour[1], source="")

    def clip(self, item: Any, to_mm: Affine) -> BaseGeometry | None:
        import pypdfium2.raw as raw

        handle = raw.FPDFPageObj_GetClipPath(item)
        count = raw.FPDFClipPath_CountPaths(handle) if handle else 0
        whole: BaseGeometry | None = None
        for index in range(max(0, count)):
            segments = (
                raw.FPDFClipPath_GetPathSegment(handle, index, k)
                for k in range(max(0, raw.FPDFClipPath_CountPathSegments(handle, index)))
            )
            region = fill([self.flat(run, to_mm) for run in _runs(segments)], "nonzero")
            whole = region if whole is None else only_areas(shapely.intersection(whole, region))
        return whole

    def flat(self, run: Subpath, place: Affine) -> ComplexArray:
        ring = flatten(run.through(place), tolerance=self.tolerance_mm)
        self.points += len(ring)
        if self.points > _MOST_POINTS:
            raise ArtworkError(
                f"{self.name}: the outlines have more than {_MOST_POINTS} points; simplify them"
            )
        return ring


def _matrix(item: Any) -> Affine:
    import pypdfium2.raw as raw

    matrix = raw.FS_MATRIX()
    if not raw.FPDFPageObj_GetMatrix(item, matrix):
        return Affine()
    return Affine(matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f)


def _segments(item: Any) -> Iterator[Any]:
    import pypdfium2.raw as raw

    return (raw.FPDFPath_GetPathSegment(item, k) for k in range(raw.FPDFPath_CountSegments(item)))


def _runs(segments: Iterator[Any]) -> list[Subpath]:
    """Read path segments: moves, lines, and cubics given as three points in a row."""
    import pypdfium2.raw as raw

    pen = RunPen()
    waiting: list[complex] = []
    for segment in segments:
        x, y = ctypes.c_float(), ctypes.c_float()
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        point = complex(x.value, y.value)
        if not np.isfinite(point):
            raise _NotPlainError("coordinates that are no numbers")
        kind = raw.FPDFPathSegment_GetType(segment)
        if kind == raw.FPDF_SEGMENT_MOVETO:
            pen.move(point)
        elif kind == raw.FPDF_SEGMENT_LINETO:
            pen.line(point)
        else:
            waiting.append(point)
            if len(waiting) == 3:
                pen.curve(*waiting)
                waiting.clear()
        if raw.FPDFPathSegment_GetClose(segment) and len(pen.nodes) > 1:
            pen.close()
    pen.end()
    return pen.runs


def _colour(item: Any, get: Any) -> tuple[tuple[float, float, float], float]:
    red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
    if not get(item, red, green, blue, alpha):
        raise _NotPlainError("a pattern or a shading")
    return (float(red.value), float(green.value), float(blue.value)), alpha.value / 255


def _width(item: Any) -> float:
    import pypdfium2.raw as raw

    width = ctypes.c_float()
    raw.FPDFPageObj_GetStrokeWidth(item, width)
    return float(width.value)


def _stroke(item: Any, place: Affine) -> Stroke:
    import pypdfium2.raw as raw

    count = max(0, raw.FPDFPageObj_GetDashCount(item))
    dashes: tuple[float, ...] = ()
    phase = ctypes.c_float()
    if count:
        array = (ctypes.c_float * count)()
        raw.FPDFPageObj_GetDashArray(item, array, count)
        raw.FPDFPageObj_GetDashPhase(item, phase)
        dashes = tuple(float(value) for value in array)
    cap, join = raw.FPDFPageObj_GetLineCap(item), raw.FPDFPageObj_GetLineJoin(item)
    return Stroke(
        width=_width(item),
        cap=_CAPS[cap] if 0 <= cap < 3 else "butt",
        join=_JOINS[join] if 0 <= join < 3 else "miter",
        miter_limit=_MITER_LIMIT,
        dashes=dashes,
        dash_offset=float(phase.value),
    )


# -- rendering --------------------------------------------------------------------------------


def _finest(sheet: _Sheet) -> float:
    return float(_PT * (_MOST_PIXELS / (sheet.width * sheet.height)) ** 0.5)


def _rendered(sheet: _Sheet, per_pt: float) -> NDArray[np.uint8]:
    """Render the page over white, in colour: the library's own greys follow another luma."""
    bitmap = sheet.page.render(scale=per_pt, rev_byteorder=True)
    pixels = bitmap.to_numpy()
    grey: NDArray[np.uint8] = np.rint(luma_of_pixels(pixels)).astype(np.uint8)
    bitmap.close()
    return grey


def _traced(
    sheet: _Sheet, dpi: float, threshold: float, scale: float, *, name: str
) -> tuple[BaseGeometry, list[Finding]]:
    from stopout.artwork.raster.lines import lines_of

    grey = _rendered(sheet, dpi / _PT)
    lines = lines_of(
        grey, threshold=threshold, mm_per_px=scale * _PT / dpi, is_page=True, name=name
    )
    return lines.traced.dark, list(lines.findings)
