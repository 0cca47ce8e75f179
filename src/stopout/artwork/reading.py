"""Open artwork: from a file to a drawing on the blank, as seen, in mm."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from difflib import get_close_matches
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING
from unicodedata import normalize

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.fonts.book import FontBook
from stopout.artwork.picture import PixelPicture
from stopout.artwork.regions.painter import Paint
from stopout.artwork.scale import MM_PER_INCH, Placement, page_scale, place, placement
from stopout.artwork.svg.reading import read_svg
from stopout.artwork.svg.source import SourceElement
from stopout.artwork.tone import luma
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank
from stopout.typefaces import wide_files
from stopout.values import ColourPicture, Drawing, DrawnGlyph, DrawnShape, Finding

if TYPE_CHECKING:
    from stopout.artwork.raster.reading import RasterImage, Traced

_MOST_BYTES = 200_000_000
# Bytes of UTF-8 with which no letter of another script begins.
_NOT_WIDE = bytes(range(0xCA))
# A first group code 0 or a comment (999), and a section (DXF reference, file structure).
_DXF_START = re.compile(rb"\xef?\xbb?\xbf?(?:\s*999\s*?\n[^\n]*\n)*\s*0\s*\n\s*SECTION\s*\n")
_TOLD = {
    b"%!PS": "EPS and PostScript files are programs, which are not run; export the drawing as PDF "
    "or SVG",
    b"\xc5\xd0\xd3\xc6": "EPS files are programs, which are not run; export the drawing as PDF or "
    "SVG",
    b"AC10": "a drawing of this kind is not read; save it as DXF",
    b"GIF8": "GIF is not read; save it as PNG",
}
# Wider than this is no dirt, but may be a dot of the drawing. Our own rule.
_DIRT_MM = 0.3
# No threshold tells this from paper.
_NEARLY_WHITE = 0.04
# Findings of something left out, which may be why nothing is dark.
_LEAVES_OUT = ("artwork-broken", "artwork-ignored")
# Of a crowded folder only so many names are compared with one that is not there (ours).
_MOST_NAMES = 2000
_IMAGE_STARTS = (b"\x89PNG", b"\xff\xd8\xff", b"II*\0", b"MM\0*", b"BM")


def open_artwork(
    path: Path, request: ArtworkRequest, blank: Blank, *, fonts: Sequence[Path] = ()
) -> Drawing:
    """Read an artwork file and lay it on the blank.

    Parameters
    ----------
    path : Path
        An SVG, PDF, DXF, PNG, JPEG, TIFF, BMP or WebP file; its content decides, not its name.
    request : ArtworkRequest
        Size, box, position and threshold.
    blank : Blank
        The piece on which the artwork is placed or centred.
    fonts : sequence of Path
        Font files for the artwork's lettering, besides the font that is shipped.

    Returns
    -------
    Drawing
        As seen, in mm, origin at the blank's lower left, y up; never mirrored. The places of its
        findings are in the same frame.

    Raises
    ------
    ArtworkError
        If the file cannot be opened, is unsafe, holds something that cannot be read faithfully,
        does not say how large it is, or has nothing dark.
    """
    return read_artwork(_bytes_of(path), request, blank, name=path.name, fonts=fonts)


def open_outline(path: Path, blank: Blank) -> Polygon:
    """Read the outline of a blank from an SVG file.

    Parameters
    ----------
    path : Path
        An SVG file with one dark shape, whose box becomes `blank.width_mm` x `blank.height_mm`.
    blank : Blank
        The blank whose size the outline takes.

    Returns
    -------
    Polygon
        As seen, in mm, origin at the blank's lower left, y up, without holes.

    Raises
    ------
    ArtworkError
        As `open_artwork`, and if the file holds no or several dark shapes, or one whose
        proportions are not those of the blank.
    """
    return read_outline(_bytes_of(path), blank, name=path.name)


def read_artwork(
    data: bytes, request: ArtworkRequest, blank: Blank, *, name: str, fonts: Sequence[Path] = ()
) -> Drawing:
    """Do what `open_artwork` does, from bytes; `name` is what messages call the file."""
    kind = _kind(data, name=name)
    try:
        picture = _picture(kind, data, request, fonts, name=name)
    except ArtworkError as fault:
        words = str(fault)
        raise ArtworkError(words if words.startswith(name) else f"{name}: {words}") from None
    if picture.dark.is_empty and not _names_its_shapes(picture, request, blank):
        used = "auto" if request.threshold is None else f"{request.threshold * 100:g} %"
        aside = [f"{name}: {f.message}" for f in picture.findings if f.code in _LEAVES_OUT]
        words = f'{name}: nothing in the artwork is dark at threshold = "{used}"; '
        raise ArtworkError("\n".join([words + _darkened(picture), *aside]))
    where = _where(picture, request, blank, name=name)
    is_sign = blank.is_back_worked
    pixel_mm = picture.mm_per_unit * where.scale if kind == "image" else 0.0
    regions = [picture.dark, picture.beyond, *(paint.region for paint in picture.paints)]
    dark, beyond, *visible = (shapely.normalize(region) for region in place(regions, where))
    shapes = tuple(
        _drawn(paint, picture.origins, region)
        for paint, region in zip(picture.paints, visible, strict=True)
    )
    return Drawing(
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        width_mm=where.width_mm,
        height_mm=where.height_mm,
        dark=dark,
        shapes=shapes,
        findings=tuple(
            _placed(finding, where)
            for finding in picture.findings
            # A sign's layers may well lie on each other, in colours of their own.
            if not (is_sign and finding.code == "layer-covered")
        ),
        beyond_page=beyond,
        glyphs=tuple(_spelt(glyph, where) for glyph in picture.glyphs),
        picture=_colours(kind, data, picture, request, fonts, where) if is_sign else None,
        pixel_mm=pixel_mm,
        edge_known_mm=picture.edge_px * pixel_mm,
    )


def _darkened(picture: PixelPicture) -> str:
    """Say what would make a picture dark: a threshold halfway to its darkest paint, or ink."""
    paints = (1.0 - luma(paint.colour) for paint in picture.paints)
    darkest = max([picture.darkest, *paints])
    if darkest < _NEARLY_WHITE:
        return "it is empty, or white on white or nothing: draw in black what is to be made"
    return f'draw it darker, or set artwork.threshold = "{max(1, round(50 * darkest))} %"'


def _names_its_shapes(picture: PixelPicture, request: ArtworkRequest, blank: Blank) -> bool:
    """Tell whether light artwork will do: a sign's coats may name fills, its box is the page."""
    return blank.is_back_worked and bool(picture.paints) and request.box == "page"


def _colours(
    kind: str,
    data: bytes,
    picture: PixelPicture,
    request: ArtworkRequest,
    fonts: Sequence[Path],
    where: Placement,
) -> ColourPicture | None:
    """Render what the file shows, by another road than its shapes came by, laid on the blank."""
    from stopout.artwork import rendering

    if kind == "dxf":
        # Pens say nothing about colours seen, and there is no other renderer to ask.
        return None
    page = picture.page
    wide, high = page.width * picture.mm_per_unit, page.height * picture.mm_per_unit
    fine = rendering.pixels_per_mm(wide * where.scale, high * where.scale) * where.scale
    if kind == "svg":
        if not picture.shown:
            return None
        per_unit = fine * picture.mm_per_unit
        other = wide_files() if picture.shown.translate(None, _NOT_WIDE) else ()
        seen = rendering.svg_colours(
            picture.shown, page, px_per_unit=per_unit, fonts=(*fonts, *other)
        )
    elif kind == "pdf":
        per_unit = fine * picture.mm_per_unit
        seen = rendering.pdf_colours(data, number=request.page, px_per_point=per_unit)
    else:
        seen = rendering.image_colours(data, number=request.page, threshold=request.threshold)
        fine = 1.0 / picture.mm_per_unit
    return seen.placed(fine, where)


def _picture(
    kind: str, data: bytes, request: ArtworkRequest, fonts: Sequence[Path], *, name: str
) -> PixelPicture:
    if kind == "svg":
        return read_svg(data, request, name=name, fonts=FontBook(fonts))
    if kind == "pdf":
        from stopout.artwork.pdf.reading import read_pdf

        return read_pdf(data, request, name=name)
    if kind == "dxf":
        from stopout.artwork.dxf import read_dxf

        return read_dxf(data, request, name=name, fonts=fonts)
    return _read_raster(data, request, name=name)


def read_outline(data: bytes, blank: Blank, *, name: str) -> Polygon:
    """Do what `open_outline` does, from bytes."""
    if _kind(data, name=name) != "svg":
        raise ArtworkError(f"{name}: a blank's outline must be an SVG file")
    request = ArtworkRequest(file=name, width_mm=blank.width_mm, box="ink")
    picture = read_svg(data, request, name=name)
    parts = list(shapely.get_parts(picture.dark))
    if len(parts) != 1:
        raise ArtworkError(
            f"{name}: a blank's outline is one dark shape; this file holds {len(parts) or 'none'}"
        )
    where = _where(picture, request, blank, name=name)
    if abs(where.height_mm - blank.height_mm) > max(0.01, 0.001 * blank.height_mm):
        raise ArtworkError(
            f"{name}: the outline is {where.width_mm:.2f} x {where.height_mm:.2f} mm when "
            f"{blank.width_mm:g} mm wide, but the blank is {blank.height_mm:g} mm high; "
            "correct blank.width or blank.height"
        )
    (placed,) = place([Polygon(parts[0].exterior)], where)
    # The last hundredths of a per cent go into the height, so that both sizes hold exactly.
    x0, y0, x1, y1 = placed.bounds
    fitted = shapely.transform(
        placed,
        lambda xy: (xy - (x0, y0)) * (blank.width_mm / (x1 - x0), blank.height_mm / (y1 - y0)),
    )
    return shapely.normalize(fitted)


def _bytes_of(path: Path) -> bytes:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ArtworkError(
                f"{path.name}: the file is larger than {_MOST_BYTES / 1e6:.0f} MB; simplify it"
            )
        # A pipe or a device would be waited for without end.
        if path.exists() and not path.is_file() and not path.is_dir():
            raise ArtworkError(f"{path.name}: is not an ordinary file")
        return path.read_bytes()
    except OSError as fault:
        reason = (fault.strerror or "it cannot be opened").lower()
        words = f"{path}: the artwork cannot be opened: {reason}{_meant(path)}"
        raise ArtworkError(words) from None


def _meant(path: Path) -> str:
    """The name in the same folder that is most like one that is not there, as a question."""
    try:
        names = [one.name for one in islice(path.parent.iterdir(), _MOST_NAMES)]
    except OSError:
        return ""
    alike = {normalize("NFC", name).casefold(): name for name in names}
    wanted = normalize("NFC", path.name).casefold()
    if normalize("NFC", alike.get(wanted, "")) == normalize("NFC", path.name):
        return "; a name that looks the same is there, spelt with other characters: rename the file"
    near = get_close_matches(wanted, alike, n=1, cutoff=0.8)
    return f"; did you mean {alike[near[0]]}?" if near else ""


def _kind(data: bytes, *, name: str) -> str:
    if not data:
        raise ArtworkError(f"{name}: the file is empty")
    if data.startswith(b"%PDF") or b"%PDF-" in data[:1024]:
        return "pdf"
    if data.startswith(b"\x1f\x8b"):
        raise ArtworkError(f"{name}: compressed SVG is not read; save it as plain SVG")
    if data.startswith(_IMAGE_STARTS) or (data[:4] == b"RIFF" and data[8:12] == b"WEBP"):
        return "image"
    if b" Binary DXF\r\n\x1a\0" in data[:24]:
        return "dxf"
    if _DXF_START.match(data[:4096]):
        return "dxf"
    for sign, words in _TOLD.items():
        if data.startswith(sign):
            raise ArtworkError(f"{name}: {words}")
    start = data[:4].replace(b"\0", b"").removeprefix(b"\xef\xbb\xbf")
    start = start.removeprefix(b"\xff\xfe").removeprefix(b"\xfe\xff").lstrip()
    if start.startswith(b"<") or data[:64].lstrip().startswith(b"<"):
        return "svg"
    raise ArtworkError(
        f"{name}: this is no artwork file that can be read; give SVG, PDF, DXF, PNG, JPEG, TIFF, "
        "BMP or WebP"
    )


def _read_raster(data: bytes, request: ArtworkRequest, *, name: str) -> PixelPicture:
    from stopout.artwork.raster.lines import lines_of
    from stopout.artwork.raster.reading import SPECK_PX, read_image

    image = read_image(data, name=name, number=request.page)
    scale = page_scale(image.page, request, name=name)
    specks_mm = SPECK_PX * scale if request.specks_mm is None else request.specks_mm
    lines = lines_of(
        image.luma,
        threshold=request.threshold,
        mm_per_px=scale,
        specks_px=specks_mm / scale,
        name=name,
    )
    dark = lines.traced.dark
    paints = (Paint(region=dark, colour=(0.0, 0.0, 0.0), alpha=1.0, source=""),)
    return PixelPicture(
        page=image.page,
        mm_per_unit=scale,
        dark=dark,
        paints=() if dark.is_empty else paints,
        origins={},
        edge_px=lines.edge_px,
        darkest=1.0 - float(image.luma[::2, ::2].min()) / np.iinfo(image.luma.dtype).max,
        findings=(
            *lines.findings,
            *_raster_findings(image, lines.traced, request, scale, specks_mm, name=name),
        ),
    )


def _raster_findings(
    image: RasterImage,
    traced: Traced,
    request: ArtworkRequest,
    scale: float,
    specks_mm: float,
    *,
    name: str,
) -> Iterator[Finding]:
    if image.is_untold and not any((request.width_mm, request.height_mm, request.resolution_dpi)):
        dpi = MM_PER_INCH / (image.page.mm_per_unit or 1.0)
        yield Finding.caution(
            "artwork-size-unsure",
            f"{name} states {dpi:.0f} dpi, which programs write when nobody chose a "
            f"size; by it the artwork is {image.page.width * scale:.2f} mm wide",
            remedy="Give artwork.width or artwork.resolution in the job file.",
        )
    if image.frames > 1 and request.page == 1:
        yield Finding.note(
            "artwork-pages",
            f"{name} holds {image.frames} pictures; the first is read",
            remedy="Choose another by artwork.page.",
        )
    if traced.specks or traced.pinholes:
        level = Finding.caution if specks_mm > _DIRT_MM else Finding.note
        yield level(
            "artwork-cleaned",
            f"{traced.specks} specks and {traced.pinholes} pinholes smaller than a disc of "
            f"{specks_mm:.3f} mm across were cleaned away",
            remedy='Another limit is set by artwork.specks; "0 mm" keeps them all.',
        )


def _where(picture: PixelPicture, request: ArtworkRequest, blank: Blank, *, name: str) -> Placement:
    x0, y0, x1, y1 = picture.dark.bounds if not picture.dark.is_empty else (0.0, 0.0, 1.0, 1.0)
    page = picture.page
    return placement(
        page_mm=(page.width * picture.mm_per_unit, page.height * picture.mm_per_unit),
        ink_mm=(x0, y0, x1, y1),
        request=request,
        blank=blank,
        name=name,
    )


def _drawn(paint: Paint, origins: dict[str, SourceElement], region: BaseGeometry) -> DrawnShape:
    origin = origins.get(paint.source, SourceElement(tag="", ident="", classes=()))
    red, green, blue = (round(value) for value in paint.colour)
    return DrawnShape(
        fill=f"#{red:02x}{green:02x}{blue:02x}",
        ident=origin.ident,
        classes=origin.classes,
        region=region,
        is_toned=paint.is_toned,
    )


def _spelt(glyph: DrawnGlyph, where: Placement) -> DrawnGlyph:
    x0, y0, x1, y1 = glyph.box_mm
    (a, b), (c, d) = where.point(x0, y1), where.point(x1, y0)
    return replace(glyph, box_mm=(a, b, c, d))


def _placed(finding: Finding, where: Placement) -> Finding:
    if finding.at_mm is None:
        return finding
    return replace(finding, at_mm=where.point(*finding.at_mm))
