"""Artwork held against the blank: what its edge cuts off, what a hole is drilled through.

Regions are as worked. What a person means is told from a slip by plain rules of our own: a field
or frame that runs past the edge on purpose spans most of the blank and is not cut open; a rosette
has the hole in its middle; lettering is never meant to be cut.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import as_multipolygon, erode, parts_of
from stopout.planning.measures.lettering import lettering_lines
from stopout.planning.measures.placing import as_worked_on
from stopout.planning.verdict.things import Thing, Things, things_in
from stopout.values import Box, Drawing, Finding, Level

# Artwork that sticks out by less than this is rounding.
_ROUNDING_MM = 0.01
_SPECK_MM2 = 0.005
# What runs past the edge on purpose spans a side but for this share (our own choice) ...
_SPAN = 0.95
# ... or is a ground that covers this share of the face.
_GROUND = 0.5
# Printers let grounds run 3 mm past the edge (common practice, no source); twice that is a slip.
_BLEED_MM = 6.0
# A ring or disc about a hole has its middle there within this.
_CONCENTRIC_MM = 0.3
# Nearer to an edge than this paint chips and edges are handled (our own choice).
_RIM_MM = 0.5
_HALF = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """The whole drawing laid on the blank, as worked: `dark` and what lies beyond its page.

    `face` is the blank with its holes cut out.
    """

    dark: BaseGeometry
    beyond_page: BaseGeometry
    face: Polygon
    things: Things

    @property
    def whole(self) -> BaseGeometry:
        """All that was drawn."""
        if self.beyond_page.is_empty:
            return self.dark
        # Grown by a hair, so that what the page parted is one part again.
        return shapely.union_all([self.dark, self.beyond_page], grid_size=1e-4)

    @property
    def outline(self) -> Polygon:
        """The blank without its holes."""
        return Polygon(self.face.exterior)


def lay(job: Job, drawing: Drawing, face: BaseGeometry) -> Laid:
    """Lay the whole drawing on the blank, as worked, and see what things are in it."""
    dark, beyond = as_worked_on(drawing.dark, job), as_worked_on(drawing.beyond_page, job)
    largest = max(parts_of(face), key=lambda part: float(part.area))
    width = job.blank.width_mm
    glyphs = [
        replace(glyph, box_mm=_turned(glyph.box_mm, width)) if job.blank.is_back_worked else glyph
        for glyph in drawing.glyphs
    ]
    whole = dark if beyond.is_empty else shapely.union_all([dark, beyond], grid_size=1e-4)
    # The squares of a code are no letters.
    codes = [as_worked_on(shapely.box(*code.box_mm), job) for code in drawing.codes]
    read = as_multipolygon(shapely.difference(whole, shapely.union_all(codes))) if codes else whole
    return Laid(dark=dark, beyond_page=beyond, face=largest, things=things_in(read, glyphs))


def _turned(box: Box, width_mm: float) -> Box:
    return (width_mm - box[2], box[1], width_mm - box[0], box[3])


def cut_findings(job: Job, laid: Laid, *, reach_mm: float) -> list[Finding]:
    """Say what of the drawing the blank's edge, its page, its holes or the margin take.

    Parameters
    ----------
    job : Job
        For `artwork.may_be_cut`, polarity and holes.
    laid : Laid
        The drawing on the blank.
    reach_mm : float
        Undercut and half a mark: artwork nearer to the rim than twice that meets it.
    """
    margin = _margin_mm(job, reach_mm)
    found = [*_cut_off(job, laid, margin), *_drilled(job, laid), *_at_rim(job, laid, margin)]
    found += _inverted(job, laid)
    return found


def _margin_mm(job: Job, reach_mm: float) -> float:
    """How near to an edge of the blank artwork may come."""
    if job.artwork.dark == "raised":
        return job.artwork.field_mm or 0.0
    return max(_RIM_MM, 2 * reach_mm)


def _told(job: Job, code: str, message: str, remedy: str, **place: Any) -> Finding:
    """Say what is lost: a stop with its remedy, or a note where the job allows it."""
    if job.artwork.may_be_cut:
        return Finding.note(code, f"{message}, as artwork.may_be_cut allows", **place)
    return Finding.stop(code, message, remedy, **place)


def _cut_off(job: Job, laid: Laid, margin_mm: float) -> Iterator[Finding]:
    outline = laid.outline
    shapely.prepare(outline)
    parts = parts_of(laid.whole)
    kept = shapely.intersection(laid.dark, outline)
    grown = outline.buffer(_ROUNDING_MM)
    suspects = parts[~shapely.covers(grown, parts)]
    if not laid.beyond_page.is_empty:
        by_page = parts[shapely.intersects(parts, laid.beyond_page.buffer(_ROUNDING_MM))]
        suspects = np.array(list({id(part): part for part in [*suspects, *by_page]}.values()))
    things: dict[str, list[tuple[Polygon, BaseGeometry]]] = {}
    named: dict[str, Thing | None] = {}
    for part in suspects:
        missing = part.difference(kept)
        if missing.area < _SPECK_MM2:
            continue
        thing = laid.things.at(part.representative_point(), within_mm=0.1)
        if _is_bleed(part, missing, laid, thing):
            continue
        name = "the artwork" if thing is None else thing.name
        if thing is None or not thing.is_lettering:
            name = "the artwork"
        named[name] = thing
        things.setdefault(name, []).append((part, missing))
    fit = _fit(laid, margin_mm)
    for name, cut in things.items():
        yield _cut_finding(job, laid, name, named[name], cut, fit)


def _is_bleed(part: Polygon, missing: BaseGeometry, laid: Laid, thing: Thing | None) -> bool:
    """Tell a ground or frame that runs past the edge on purpose from a slip."""
    if thing is not None and thing.is_lettering:
        return False
    outline = laid.outline
    x0, y0, x1, y1 = outline.bounds
    a, b, c, d = part.intersection(outline).bounds if part.intersects(outline) else (0.0,) * 4
    kept = parts_of(part.intersection(outline))
    # Cut open, a ring is no ring, and light lettering in a ground is other lettering.
    if sum(len(one.interiors) for one in kept) != len(part.interiors):
        return False
    if shapely.area(kept).sum() > _GROUND * outline.area:
        return True
    far = outline.hausdorff_distance(shapely.union_all([outline, missing]))
    spans = max((c - a) / (x1 - x0), (d - b) / (y1 - y0)) > _SPAN
    return bool(spans and far < _BLEED_MM and len(kept) == 1)


def _cut_finding(
    job: Job,
    laid: Laid,
    name: str,
    thing: Thing | None,
    cut: list[tuple[Polygon, BaseGeometry]],
    fit: str,
) -> Finding:
    missing = shapely.union_all([piece for _, piece in cut])
    outside = shapely.difference(missing, laid.outline)
    # What is beyond the page is not on the piece wherever the page lies: that is mended first.
    of_page = shapely.area(shapely.intersection(missing, laid.beyond_page))
    is_by_blank = max(of_page, missing.area - outside.area) < 0.5 * missing.area
    by = "the blank's edge" if is_by_blank else "the edge of its own page"
    whole = sum(piece.area > 0.99 * part.area for part, piece in cut)
    parts = len(cut)
    what = "letter" if thing is not None and thing.is_lettering else "part"
    gone = f", {whole} of them altogether" if 0 < whole < parts else ""
    far = max(
        (laid.outline.distance(shapely.points(xy)) for xy in shapely.get_coordinates(outside)),
        default=0.0,
    )
    how_far = f"; it reaches {far:.1f} mm past the blank" if far > 0.05 else ""
    at = missing.representative_point()
    number = f"{parts} {what}{'' if parts == 1 else 's'}{_spelt(laid, thing, cut)}"
    what_of_it = f"{'is' if parts == 1 else 'are'} cut off by {by}{gone}"
    if whole == parts:
        what_of_it = f"{'lies' if parts == 1 else 'lie'} altogether beyond {by}"
    return _told(
        job,
        "cut-off",
        f"{name}: {number} {what_of_it}{how_far}",
        f"{fit if is_by_blank else _PAGE} If it is meant, set artwork.may_be_cut = true.",
        at_mm=(float(at.x), float(at.y)),
        thing=name,
    )


def _spelt(laid: Laid, thing: Thing | None, cut: list[tuple[Polygon, BaseGeometry]]) -> str:
    """Name the letters that are cut, where the live text tells."""
    if thing is None:
        return ""
    middles = sorted(
        (shapely.box(*part.bounds).centroid for part, _ in cut), key=lambda point: float(point.x)
    )
    letters = [laid.things.letter_at((point.x, point.y), thing) for point in middles]
    named = [letter for letter in letters if letter]
    return f' ("{" ".join(named)}")' if named and len(named) == len(cut) else ""


_PAGE = "Enlarge the artwork's page, or draw within it."


def _fit(laid: Laid, margin_mm: float) -> str:
    """Say how the drawing would lie on the blank: moved, or made smaller; tried here.

    It keeps the margin where it can.
    """
    for face in (erode(laid.face, margin_mm), laid.face.buffer(_ROUNDING_MM)):
        if not face.is_empty and _is_moved_onto(face, laid.whole):
            return "Move the artwork onto the blank (artwork.position); it fits."
    for face in (erode(laid.face, margin_mm), laid.face):
        size = 0.0 if face.is_empty else _fitting_share(face, laid)
        if size:
            return (
                f"Make the artwork {100 * size:.0f} % of this size and centre it, "
                "or take a larger blank."
            )
    return "Make the artwork smaller, or take a larger blank."


def _is_moved_onto(face: BaseGeometry, whole: BaseGeometry) -> bool:
    """Tell whether a drawing lies on a face once it is moved by as much as it sticks out."""
    x0, y0, x1, y1 = face.bounds
    a, b, c, d = whole.bounds
    way = np.array([max(0.0, x0 - a) - max(0.0, c - x1), max(0.0, y0 - b) - max(0.0, d - y1)])
    return bool(face.covers(shapely.transform(whole, lambda xy: xy + way)))


def _fitting_share(face: BaseGeometry, laid: Laid) -> float:
    """Return the share of its size at which a drawing in the blank's middle has room, or 0."""
    whole, (x0, y0, x1, y1) = laid.whole, face.bounds
    a, b, c, d = whole.bounds
    box = np.reshape(laid.outline.bounds, (2, 2))
    middle, own = box.mean(axis=0), np.array([(a + c) / 2, (b + d) / 2])
    share = min((x1 - x0) / (c - a), (y1 - y0) / (d - b), 1.0)
    for k in range(12):
        size = float(np.floor(100 * share * 0.97**k) / 100)
        if size < 1 / 3:
            break
        if face.covers(shapely.transform(whole, lambda xy: (xy - own) * size + middle)):  # noqa: B023
            return size
    return 0.0


def _drilled(job: Job, laid: Laid) -> Iterator[Finding]:
    parts = parts_of(laid.dark)
    tree = shapely.STRtree(parts)
    for hole in job.blank.holes:
        x, y = hole.at_mm
        x = job.blank.width_mm - x if job.blank.is_back_worked else x
        disc = shapely.Point(x, y).buffer(hole.diameter_mm / 2)
        hit = [
            part
            for part in parts[tree.query(disc, predicate="intersects")]
            if part.intersection(disc).area > _SPECK_MM2 and not _is_round(part, laid, (x, y))
        ]
        if not hit:
            continue
        thing = laid.things.at(hit[0].representative_point(), within_mm=0.1)
        name = thing.name if thing is not None and thing.is_lettering else "the artwork"
        yield _told(
            job,
            "hole-through-artwork",
            f"the {hole.diameter_mm:g} mm hole at ({x:.1f}, {y:.1f}) mm goes through {name}",
            "Move the artwork or the hole. If it is meant, set artwork.may_be_cut = true.",
            at_mm=(x, y),
            thing=name,
        )


def _is_round(part: Polygon, laid: Laid, at_mm: tuple[float, float]) -> bool:
    """Tell a rosette about the hole, or a ground, from artwork that the hole spoils."""
    if part.area > 0.4 * laid.outline.area:
        return True
    middle = Polygon(part.exterior).centroid
    return bool(middle.distance(shapely.Point(at_mm)) < _CONCENTRIC_MM)


def _at_rim(job: Job, laid: Laid, margin_mm: float) -> Iterator[Finding]:
    """Lettering in a raised job's margin, or so near to the edge that it meets it."""
    is_raised = job.artwork.dark == "raised"
    inner = erode(laid.face, margin_mm)
    parts = parts_of(laid.dark)
    inside = shapely.covers(laid.face, parts)
    near = parts[inside & ~shapely.covers(inner, parts)]
    seen = set()
    for part in near:
        thing = laid.things.at(part.representative_point(), within_mm=0.1)
        if thing is None or not thing.is_lettering or thing.name in seen:
            continue
        seen.add(thing.name)
        at = part.difference(inner).representative_point()
        yield Finding.caution(
            "artwork-at-rim",
            f"{thing.name}: it stands in the margin, which stays as it is, and joins the rim"
            if is_raised
            else f"{thing.name}: it comes nearer than {margin_mm:.2g} mm to an edge of the blank, "
            "where paint chips",
            "Move it inwards, or make the margin (artwork.field) narrower."
            if is_raised
            else "Move it inwards.",
            at_mm=(float(at.x), float(at.y)),
            thing=thing.name,
        )


def _inverted(job: Job, laid: Laid) -> Iterator[Finding]:
    """Dark artwork over more than half of the face, out to its rim, with light lettering in it."""
    if job.artwork.dark == "raised" or job.route.is_sign:
        return
    dark = laid.dark.intersection(laid.face)
    share = dark.area / laid.face.area
    if share < _HALF:
        return
    at_rim = dark.boundary.intersection(laid.face.exterior.buffer(_RIM_MM)).length
    to_rim = at_rim > _HALF * laid.face.exterior.length
    light = laid.face.difference(dark)
    if not to_rim and not lettering_lines(light):
        return
    allowed = job.artwork.may_be_cut
    done = "etched" if job.etch is not None else "cleared"
    yield Finding(
        code="inverted-artwork",
        level=Level.NOTE if allowed else Level.STOP if to_rim else Level.CAUTION,
        message=(
            f"the artwork looks inverted: {100 * share:.0f} % of the face is dark and would be "
            f"{done}" + (", out to the rim" if to_rim else "")
        ),
        remedy='Draw letters that are to stand dark, with artwork.dark = "raised" and a margin '
        "(artwork.field), or invert the picture. If it is meant, set artwork.may_be_cut = true.",
        at_mm=None,
    )
