"""Codes for machines to read: whether the predicted piece still says what they say.

The predicted piece is drawn as a phone sees it from 20 cm, at both ends of the spread, and read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import as_multipolygon, make_mask
from stopout.mask.offset import dilate_by_mark, swept
from stopout.outcome import Change, advance
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.placing import as_worked_on
from stopout.planning.plan import CoatPlan
from stopout.units import format_number
from stopout.values import Drawing, DrawnCode, Finding

# A phone's picture 3000 pixels across a field of 180 mm at 20 cm: our own estimate, no source.
PIXEL_MM = 0.06
_SDS = 2.0
# By how much of a module an edge may grow or shrink: the dark share of the clock track stays within
# 0.35 and 0.65 (ISO/IEC 16022, from memory; verifiers grade a symbol beyond them as failed). Our
# own reader goes on farther than others do.
_MATRIX, _MOST_GROWN = frozenset({"qr", "data-matrix"}), 0.15
# Each pixel is the mean of so many squared.
_FINER = 4
_SPECK_MM2 = 0.005
_OF_SHAPES = frozenset(
    ("part-lost", "parts-merged", "counter-closed", "thin-opening", "narrow-land", "small-opening",
     "small-island", "resist-lifts", "corner-short", "edge-outside")
)  # fmt: skip
_SIZES = (1.1, 1.25, 1.4, 1.6, 1.8, 2.0, 2.5, 3.0, 4.0)


def code_findings(
    job: Job,
    drawing: Drawing,
    coats: Sequence[CoatPlan],
    views: Sequence[BaseGeometry] | None,
    face: BaseGeometry,
    bite: Bite,
) -> list[Finding]:
    """Read every code of a job from its predicted piece.

    Parameters
    ----------
    job : Job
        The job.
    drawing : Drawing
        With the codes as drawn, as seen.
    coats : sequence of CoatPlan
        With the predicted piece, as worked.
    views : sequence of BaseGeometry or None
        Where a sign's reader sees each coat, as worked; None for a plate.
    face : BaseGeometry
        The blank's face, as worked.
    bite : Bite
        The undercut with its spread.

    Returns
    -------
    list of Finding
        A stop for each that cannot be read, with the size at which it can, which was tried; a
        caution where something stands in its clear zone, or where nothing makes it dark.
    """
    if not drawing.codes or not coats:
        return []
    found: list[Finding] = []
    sunk = _Parts(as_worked_on(coats[0].finished, job))
    seen = None if views is None else [_Parts(as_worked_on(view, job)) for view in views]
    ink, seen_face = _Parts(_ink(job, drawing, face)), as_worked_on(face, job)
    shapely.prepare(seen_face)
    for code in drawing.codes:
        made = _made(code, sunk, seen)
        found += _unread(job, code, made, coats, bite)
        found += _crowded(job, code, ink, seen_face)
        if views is None and not (job.etch is not None and job.etch.is_filled):
            found.append(_bare(job, code))
    return found


_Said = TypeVar("_Said", Finding, Change)


def outside_codes(said: Sequence[_Said], job: Job, drawing: Drawing) -> list[_Said]:
    """Leave out what is said of shapes inside a code: whether it is read says all of it."""
    boxes = [as_worked_on(shapely.box(*code.quiet_mm), job) for code in drawing.codes]
    if not boxes:
        return list(said)
    tree = shapely.STRtree(boxes)

    def is_inside(one: _Said) -> bool:
        if isinstance(one, Finding) and one.code not in _OF_SHAPES:
            return False
        at = one.at_mm
        return at is not None and len(tree.query(shapely.Point(at), predicate="intersects")) > 0

    return [one for one in said if not is_inside(one)]


def read_code(region: BaseGeometry, code: DrawnCode) -> bool:
    """Tell whether a region, as seen, reads as a code's content where the code lies."""
    import zxingcpp

    formats = {
        "qr": zxingcpp.BarcodeFormat.QRCode,
        "data-matrix": zxingcpp.BarcodeFormat.DataMatrix,
        "code-128": zxingcpp.BarcodeFormat.Code128,
    }
    picture = pictured(region, code.quiet_mm)
    read = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(formats[code.kind]))
    return any(found.text == code.content for found in read)


def pictured(
    region: BaseGeometry, box_mm: tuple[float, float, float, float], *, pixel_mm: float = PIXEL_MM
) -> NDArray[np.uint8]:
    """Draw a region dark on white as a camera sees it: every pixel the mean over its area.

    Returns
    -------
    (M, N) ndarray of uint8
        Row 0 is the topmost; eight white pixels stand round the box.
    """
    import cv2

    x0, y0, x1, y1 = box_mm
    fine = pixel_mm / _FINER
    rows, columns = (round((high - low) / pixel_mm) * _FINER for low, high in ((y0, y1), (x0, x1)))
    canvas = np.full((rows, columns), 255, dtype=np.uint8)
    rings = []
    # The filler also paints the pixels that an edge runs through.
    inner = shapely.intersection(region, shapely.box(*box_mm))
    for part in shapely.get_parts(inner.buffer(-fine / 2, join_style="mitre")):
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                xy = shapely.get_coordinates(ring)
                at = np.column_stack([(xy[:, 0] - x0) / fine, (y1 - xy[:, 1]) / fine]) - 0.5
                rings.append(np.rint(at * 256).astype(np.int32))
    if rings:
        cv2.fillPoly(canvas, rings, 0, shift=8)
    summed = canvas.reshape(rows // _FINER, _FINER, columns).sum(axis=1, dtype=np.uint32)
    whole = sum((summed[:, k::_FINER] for k in range(1, _FINER)), start=summed[:, ::_FINER])
    return np.pad((whole // _FINER**2).astype(np.uint8), 8, constant_values=255)


class _Parts:
    """A region asked for what of it lies in a window: a panel has hundreds of codes."""

    def __init__(self, region: BaseGeometry) -> None:
        self.parts = shapely.get_parts(region)
        self.tree = shapely.STRtree(self.parts)

    def within(self, window: BaseGeometry) -> BaseGeometry:
        """What lies in a window."""
        near = self.parts[self.tree.query(window, predicate="intersects")]
        return shapely.union_all(shapely.intersection(near, window))


def _made(code: DrawnCode, sunk: _Parts, views: Sequence[_Parts] | None) -> BaseGeometry:
    """What comes out dark of a code, as seen."""
    window = shapely.box(*code.quiet_mm)
    if views is None:
        own = sunk.within(window)
        return own if code.is_recessed else window.difference(own)
    seen = [view.within(window) for view in views]
    dark = [view for view in seen if view.intersection(code.dark).area > 0.5 * code.dark.area]
    return shapely.union_all(dark or [shapely.Point()])


def _spread_mm(coats: Sequence[CoatPlan], bite: Bite) -> float:
    """How far an edge may lie off, at two standard deviations."""
    mark_sd = max(axis.sd for coat in coats for axis in coat.mark_mm)
    return _SDS * hypot(bite.undercut.sd, mark_sd / 2)


def _reads(made: BaseGeometry, code: DrawnCode, spread_mm: float) -> bool:
    """Tell whether it is read as planned and at both ends of the spread, and by more than one."""
    grown = spread_mm / code.module_mm
    if not read_code(made, code) or (code.kind in _MATRIX and grown > _MOST_GROWN):
        return False
    return spread_mm <= 0 or all(
        read_code(made.buffer(by, join_style="mitre"), code) for by in (spread_mm, -spread_mm)
    )


def _unread(
    job: Job, code: DrawnCode, made: BaseGeometry, coats: Sequence[CoatPlan], bite: Bite
) -> Iterator[Finding]:
    spread = _spread_mm(coats, bite)
    if _reads(made, code, spread):
        return
    size = _readable_mm(job, code, coats[0], bite, spread)
    if size is None:
        remedy = "Say less in it, or mark it on a label."
    else:
        remedy = f'Write module = "{format_number(size, digits=2)} mm" or more, which was tried.'
    yield Finding.stop(
        "code-unreadable",
        f'the code "{code.content[:40]}" would not be read from the finished piece: its '
        f"modules of {format_number(code.module_mm)} mm run together or vanish",
        remedy,
        at_mm=_worked_place(job, code),
    )


def _readable_mm(
    job: Job, code: DrawnCode, coat: CoatPlan, bite: Bite, spread_mm: float
) -> float | None:
    """The smallest module of those tried at which the code alone is read."""
    for size in _SIZES:
        scaled = affinity.scale(code.dark, size, size, origin=(0, 0))
        quiet = tuple(side * size for side in code.quiet_mm)
        larger = DrawnCode(
            content=code.content,
            kind=code.kind,
            module_mm=code.module_mm * size,
            dark=scaled,
            box_mm=code.box_mm,
            quiet_mm=(quiet[0], quiet[1], quiet[2], quiet[3]),
            is_recessed=True,
        )
        mark = (coat.mark_mm[0].value, coat.mark_mm[1].value)
        limits = job.limits
        mask = make_mask(
            as_multipolygon(scaled),
            undercut_mm=bite.undercut.value,
            mark_mm=mark,
            too_thin=limits.too_thin,
            edge_tolerance_mm=limits.edge_tolerance_mm,
            narrowest_land_mm=limits.narrowest_land_mm,
        )
        lines = shapely.get_parts(swept(mask.lines, mark, 0.0))
        opening = shapely.union_all([dilate_by_mark(mask.centres, mark), *lines])
        if _reads(advance(opening, bite.undercut.value), larger, spread_mm):
            return float(np.ceil(100 * larger.module_mm) / 100)
    return None


def _ink(job: Job, drawing: Drawing, face: BaseGeometry) -> BaseGeometry:
    """What of the face is recessed or painted dark, as seen."""
    is_sunk = job.artwork.dark == "recessed" or job.route.is_sign
    return drawing.dark if is_sunk else as_worked_on(face, job).difference(drawing.dark)


def _crowded(job: Job, code: DrawnCode, ink: _Parts, seen_face: BaseGeometry) -> Iterator[Finding]:
    zone = shapely.box(*code.quiet_mm)
    inside = shapely.box(*code.box_mm)
    beside = ink.within(zone).difference(inside.buffer(1e-6))
    beyond = zone.difference(seen_face) if not seen_face.contains(zone) else Polygon()
    if max(beside.area, beyond.area) <= _SPECK_MM2:
        return
    what = "the blank's edge cuts" if beyond.area > beside.area else "something stands in"
    wide = inside.bounds[0] - zone.bounds[0]
    yield Finding.caution(
        "code-crowded",
        f'{what} the clear zone of {format_number(wide)} mm that the code "'
        f'{code.content[:40]}" needs about it',
        "Move the code or what stands beside it.",
        at_mm=_worked_place(job, code),
    )


def _bare(job: Job, code: DrawnCode) -> Finding:
    return Finding.note(
        "code-contrast",
        f'nothing darkens the code "{code.content[:40]}": bare recesses read badly',
        "Fill the recesses with dark paint (etch.filled = true), or try a reader on a coupon.",
        at_mm=_worked_place(job, code),
    )


def _worked_place(job: Job, code: DrawnCode) -> tuple[float, float]:
    x0, y0, x1, y1 = code.box_mm
    x = (x0 + x1) / 2
    return (job.blank.width_mm - x if job.blank.is_back_worked else x, (y0 + y1) / 2)
