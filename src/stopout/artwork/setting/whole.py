"""What a job sets, as a drawing: laid over its artwork, or alone."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.fonts.book import FontBook
from stopout.artwork.regions.rings import EMPTY, noded, only_areas
from stopout.artwork.rendering import pixels_per_mm, svg_colours
from stopout.artwork.scale import Page
from stopout.artwork.setting.codes import LaidCode, lay_code
from stopout.artwork.setting.fault import SettingError
from stopout.artwork.setting.shapes import frame_region, line_region
from stopout.artwork.setting.text import TextBlock, lay_out
from stopout.job.record import ArtworkRequest, Blank, Coat
from stopout.job.setting import Element, SetCode, SetFrame, SetLine, SetText, Setting
from stopout.planning.signs.tints import tint_of
from stopout.values import ColourPicture, Drawing, DrawnCode, DrawnGlyph, DrawnShape, DrawnText

_BLACK, _WHITE = "#000000", "#ffffff"
_PX_PER_MM = 96 / 25.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidElement:
    """An element on the blank as seen: its area, its colour, and the letters or code that it is."""

    table: str
    number: int
    element: Element
    region: BaseGeometry
    shape: DrawnShape
    block: TextBlock | None = None
    code: LaidCode | None = None
    glyphs: tuple[DrawnGlyph, ...] = ()

    @property
    def covers(self) -> BaseGeometry:
        """What it hides of what lies below: a code's clear zone as well."""
        return self.region if self.code is None else shapely.box(*self.code.quiet_mm)


def lay_setting(
    setting: Setting, blank: Blank, request: ArtworkRequest, coats: Sequence[Coat], fonts: FontBook
) -> tuple[LaidElement, ...]:
    """Lay every element of a job on its blank.

    Parameters
    ----------
    setting : Setting
        Without fields left in it.
    blank, request, coats
        The job's own: what the dark becomes, and which coat shows what.
    fonts : FontBook
        The fonts shipped and those of the job.

    Returns
    -------
    tuple of LaidElement
        Undermost first.

    Raises
    ------
    SettingError
        With the table, the place in it and the key that is wrong.
    """
    middle = (blank.width_mm / 2, blank.height_mm / 2)
    found = []
    for table, number, element in setting.placed():
        try:
            found.append(_laid(table, number, element, blank, request, coats, fonts, middle))
        except SettingError as fault:
            raise fault.located(table, number) from None
    return tuple(found)


def with_setting(
    drawing: Drawing | None, laid: Sequence[LaidElement], blank: Blank, request: ArtworkRequest
) -> Drawing:
    """Lay elements over a drawing: each covers what lies below it.

    Parameters
    ----------
    drawing : Drawing or None
        The job's artwork; None where it has none.
    laid : sequence of LaidElement
        Undermost first.
    blank : Blank
        The piece.
    request : ArtworkRequest
        What the artwork's dark becomes.
    """
    below = drawing or Drawing(
        file="", sha256="", width_mm=blank.width_mm, height_mm=blank.height_mm, dark=EMPTY
    )
    shapes, dark = list(below.shapes), below.dark
    for item in laid:
        shapes = _covered(shapes, item)
        dark = only_areas(shapely.difference(dark, item.covers))
        if _is_dark(item.shape.fill):
            dark = only_areas(shapely.union(dark, item.region))
    return replace(
        below,
        dark=shapely.normalize(noded(dark)),
        shapes=tuple(shapes),
        texts=tuple(
            _drawn_text(item.block, item.element, request)
            for item in laid
            if item.block is not None and isinstance(item.element, SetText)
        ),
        codes=tuple(_drawn_code(item) for item in laid if item.code is not None),
        glyphs=(*below.glyphs, *(glyph for item in laid for glyph in item.glyphs)),
        sha256=below.sha256 or _digest(laid),
        picture=_picture(below.picture, laid, blank) if blank.is_back_worked else None,
    )


def _digest(laid: Iterable[LaidElement]) -> str:
    return hashlib.sha256("\n".join(repr(item.element) for item in laid).encode()).hexdigest()


def _laid(
    table: str,
    number: int,
    element: Element,
    blank: Blank,
    request: ArtworkRequest,
    coats: Sequence[Coat],
    fonts: FontBook,
    middle: tuple[float, float],
) -> LaidElement:
    paint = _paint(element.becomes, request, coats)
    block: TextBlock | None = None
    code: LaidCode | None = None
    glyphs: tuple[DrawnGlyph, ...] = ()
    if isinstance(element, SetText):
        block = lay_out(element, fonts, middle)
        regions = block.regions()
        glyphs = tuple(_drawn_glyphs(block, regions))
        region = only_areas(shapely.union_all(regions)) if regions else EMPTY
    elif isinstance(element, SetLine):
        region = line_region(element)
    elif isinstance(element, SetFrame):
        region = frame_region(element, (blank.width_mm, blank.height_mm))
    else:
        code = lay_code(element, middle)
        region = code.dark
        if element.becomes is None and request.dark == "raised":
            # Readers want dark squares on light ground: on raised ground they are sunk in.
            region = only_areas(shapely.difference(shapely.box(*code.quiet_mm), region))
    region = shapely.normalize(noded(region))
    return LaidElement(
        table=table,
        number=number,
        element=element,
        region=region,
        shape=replace(paint, region=region),
        block=block,
        code=code,
        glyphs=glyphs,
    )


def _paint(becomes: str | None, request: ArtworkRequest, coats: Sequence[Coat]) -> DrawnShape:
    """What an element is painted as, in the terms in which artwork is read."""
    if becomes is None or becomes == request.dark:
        return DrawnShape(fill=_BLACK, ident="", classes=(), region=EMPTY)
    if becomes in ("recessed", "raised"):
        return DrawnShape(fill=_WHITE, ident="", classes=(), region=EMPTY)
    for coat in coats:
        shows = coat.shows
        if shows is None or coat.colour.casefold() != becomes.casefold():
            continue
        fill = {"dark": _BLACK, "rest": _WHITE, "fill": shows.value.lower()}.get(shows.kind)
        fill = fill or tint_of(coat.colour) or "#808080"
        ident = shows.value if shows.kind == "id" else ""
        classes = (shows.value,) if shows.kind == "class" else ()
        return DrawnShape(fill=fill, ident=ident, classes=classes, region=EMPTY)
    colours = ", ".join(f"'{coat.colour}'" for coat in coats if coat.shows is not None)
    known = f"the coats' colours are {colours}" if colours else "a plate knows recessed and raised"
    raise SettingError("as", f"'{becomes}' is not what any coat of this job shows; {known}")


def _covered(shapes: list[DrawnShape], item: LaidElement) -> list[DrawnShape]:
    kept = []
    for shape in shapes:
        if shapely.intersects(shape.region, item.covers):
            rest = only_areas(shapely.difference(shape.region, item.covers))
            if rest.is_empty:
                continue
            shape = replace(shape, region=shapely.normalize(noded(rest)))
        kept.append(shape)
    return [*kept, item.shape]


def _drawn_text(block: TextBlock, text: SetText, request: ArtworkRequest) -> DrawnText:
    regions = block.regions()
    gaps = [
        float(shapely.distance(one, other))
        for (a, one), (b, other) in pairwise(zip(block.glyphs, regions, strict=True))
        if a.line == b.line and not one.is_empty and not other.is_empty
    ]
    tall, round_ = block.letter("I"), block.letter("O")
    box = shapely.union_all(regions).bounds
    return DrawnText(
        words=text.words,
        cap_mm=block.cap_height_mm,
        stroke_mm=float(tall.area) / block.cap_height_mm,
        round_mm=0.0 if round_.is_empty else float(round_.bounds[2] - round_.bounds[0]),
        gaps_mm=(min(gaps), max(gaps)) if gaps else None,
        line_mm=block.line_mm,
        box_mm=(box[0], box[1], box[2], box[3]),
        is_raised=(text.becomes or request.dark) == "raised",
    )


def _drawn_code(item: LaidElement) -> DrawnCode:
    laid, element = item.code, item.element
    assert laid is not None
    assert isinstance(element, SetCode)
    return DrawnCode(
        content=element.content,
        kind=element.kind,
        module_mm=element.module_mm,
        dark=laid.dark,
        box_mm=laid.box_mm,
        quiet_mm=laid.quiet_mm,
        is_recessed=element.becomes != "raised",
    )


def _drawn_glyphs(block: TextBlock, regions: Sequence[BaseGeometry]) -> Iterable[DrawnGlyph]:
    found: list[DrawnGlyph] = []
    for glyph, region in zip(block.glyphs, regions, strict=True):
        line = block.lines[glyph.line]
        if region.is_empty:
            if found and glyph.text.isspace():
                found[-1] = replace(found[-1], text=f"{found[-1].text} ")
            continue
        x0, y0, x1, y1 = region.bounds
        found.append(
            DrawnGlyph(
                text=glyph.text, line=line, box_mm=(x0, y0, x1, y1), cap_mm=block.cap_height_mm
            )
        )
    return found


def _is_dark(fill: str) -> bool:
    from stopout.artwork.tone import is_dark

    red, green, blue = (int(fill[k : k + 2], 16) for k in (1, 3, 5))
    return is_dark((float(red), float(green), float(blue)), threshold=0.5)


def _picture(
    below: ColourPicture | None, laid: Sequence[LaidElement], blank: Blank
) -> ColourPicture:
    """Render the elements' own curves by another hand, over what the artwork's picture shows."""
    fine = pixels_per_mm(blank.width_mm, blank.height_mm)
    page = Page(width=blank.width_mm * _PX_PER_MM, height=blank.height_mm * _PX_PER_MM,
                mm_per_unit=1 / _PX_PER_MM, kind="SVG")  # fmt: skip
    seen = svg_colours(_document(laid, blank), page, px_per_unit=fine / _PX_PER_MM, fonts=())
    rgb, painted = seen.rgb.copy(), seen.is_painted.copy()
    if below is not None:
        # Where nothing is set, the artwork shows: the nearest of its own pixels.
        rows, columns = rgb.shape[:2]
        x = (np.arange(columns) + 0.5) / fine
        y = blank.height_mm - (np.arange(rows) + 0.5) / fine
        i = np.floor((below.top_mm - y) / below.px_mm).astype(int)
        j = np.floor((x - below.left_mm) / below.px_mm).astype(int)
        here = ((i >= 0) & (i < below.rgb.shape[0]))[:, None] & (
            (j >= 0) & (j < below.rgb.shape[1])
        )
        i, j = i.clip(0, below.rgb.shape[0] - 1), j.clip(0, below.rgb.shape[1] - 1)
        from_file = here & ~painted
        rgb[from_file] = below.rgb[i][:, j][from_file]
        painted |= here & below.is_painted[i][:, j]
    return ColourPicture(
        rgb=rgb, is_painted=painted, left_mm=0.0, top_mm=blank.height_mm, px_mm=1 / fine
    )


def _document(laid: Sequence[LaidElement], blank: Blank) -> bytes:
    paths = "".join(
        f'<path fill="{item.shape.fill}" d="{_curves(item, blank.height_mm)}"/>' for item in laid
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{blank.width_mm}mm" '
        f'height="{blank.height_mm}mm" viewBox="0 0 {blank.width_mm} {blank.height_mm}">'
        f"{paths}</svg>"
    ).encode()


def _curves(item: LaidElement, height_mm: float) -> str:
    if item.block is not None:
        return item.block.path_data(height_mm)
    parts = []
    for part in shapely.get_parts(item.region):
        for ring in (part.exterior, *part.interiors):
            points = " ".join(f"{x!r} {height_mm - y!r}" for x, y in ring.coords[:-1])
            parts.append(f"M{points}Z")
    return "".join(parts)
