"""A scan of a piece, after clearing or after etching, held against its plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.errors import CouponError
from stopout.scans.inspecting.edges import Edges, lay_over
from stopout.scans.inspecting.faults import Fault, find_faults, smallest_spot_mm
from stopout.scans.inspecting.pose import Lie, find_lie
from stopout.scans.inspecting.profile import fit_edge, mean_edge
from stopout.scans.inspecting.seen import Seen, see
from stopout.scans.measuring.tone import to_light
from stopout.scans.registering.pose import apply, lying
from stopout.values import FloatArray, Grey, Measured

Stage = Literal["cleared", "etched"]
Tone = Literal["auto", "plain", "light"]

_SURE_LIKENESS = 0.8
_LEAST_CONTRAST = 20.0
_LONGEST_PX = 32_000
_DARK = 70.0
_WHITE = 252.0
_MOST_GLARE = 0.015
_MOST_OUT = 0.15
_MOST_BARE = 0.5
_MOST_BLUR_MM = 0.1
_MOST_BLUR_PX = 4.5
_TONE_GAINS = (0.5, 1.6)
# An edge's tolerance where none is told: 10 um, or a quarter of a pixel (our own choice).
_TOLERANCE_MM = 0.01
_TOLERANCE_PX = 0.25
# What a mark may differ from its plan, as a share of it, before edges tell of an etch instead.
_MARK_ERROR = 0.15
# Edges are found to a twentieth of a pixel at best, and openings that nobody has measured lie
# within 4 um of the plan (our own choices, without a source).
_EDGE_ERROR_PX = 0.05
_OPENING_ERROR_MM = 0.004
# At this much perspective the scale is that of a photograph and tells nothing.
_MOST_SLANT = 0.002
_SCALE_NOTED = 0.001


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Intended:
    """What of a plan an inspection needs, for one coat, in mm as worked.

    `undercut_mm` is 0 where nothing is etched; `mark_mm` the smaller axis of the mark.
    """

    opening: BaseGeometry
    face: BaseGeometry
    undercut_mm: float
    undercut_sd_mm: float
    mark_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inspection:
    """What a scan tells of a piece.

    Attributes
    ----------
    stage : str
        `cleared` or `etched`.
    stage_by : str
        `told`, `seen` (by where the edges lie) or `assumed`.
    lie : Lie
        How the piece was found.
    edges : Edges
    seen : Seen
    faults : tuple of Fault
    rims : tuple of Fault
        Bare along the piece's own outline, clear of all openings: no faults.
    dust : tuple of Fault
        Spots that one of two scans shows, but not the other.
    all_edges_mm : Measured
        How far all edges together lie outside where the plan has them at this stage.
    is_seen_through : bool
        True where it was told that a clear piece is seen through its front.
    stated_dpi, dpi : float
        As the file or the person says, and as the plan's size has it.
    rotation_deg : float
        How far the piece's y axis is turned from the scan's upward direction, anticlockwise.
    scale_error : Measured or None
        How much larger the piece is than planned, as a share, by the stated resolution; sd is
        that of the fit alone. None where the view is slanted.
    stretch : float
        How much longer 1 mm is one way than across it, as a share.
    tone : str
        `plain` or `light`: how the grey levels were read.
    tone_shift_mm : float
        How far the edges would move were they read the other way, 0 where that is decided.
    tolerance_mm : float
        Beyond which an edge's offset counted.
    smallest_mm : float
        Diameter of the smallest bare spot that would have been seen.
    undercut_mm : Measured or None
        After etching: by the openings as planned.
    cautions : tuple of str
    """

    stage: Stage
    stage_by: Literal["told", "seen", "assumed"]
    lie: Lie
    edges: Edges
    seen: Seen
    faults: tuple[Fault, ...]
    rims: tuple[Fault, ...]
    dust: tuple[Fault, ...]
    all_edges_mm: Measured
    is_seen_through: bool
    stated_dpi: float
    dpi: float
    rotation_deg: float
    scale_error: Measured | None
    stretch: float
    tone: Literal["plain", "light"]
    tone_shift_mm: float
    tolerance_mm: float
    smallest_mm: float
    undercut_mm: Measured | None
    cautions: tuple[str, ...]


def inspect_piece(
    views: Iterator[tuple[str, Grey]],
    intended: Intended,
    *,
    stated_dpi: float,
    stage: Stage | None = None,
    tone: Tone = "auto",
    tolerance_mm: float | None = None,
    is_seen_through: bool = False,
) -> Inspection:
    """Hold a scan of a piece against its plan.

    Parameters
    ----------
    views : iterator of (str, ndarray)
        Grey levels 0 to 255 to try in turn, row 0 on top.
    intended : Intended
        The plan.
    stated_dpi : float
        Resolution of the scan, to 3 % or so.
    stage : str or None
        `cleared` or `etched`; None: by where the edges lie.
    tone : str
        What the grey levels are: `plain`, `light` (encoded as sRGB), or `auto`.
    tolerance_mm : float or None
        How far an edge may stand off from where all of them do, and all of them from the plan.
    is_seen_through : bool
        True for a clear piece scanned through its front.

    Raises
    ------
    CouponError
        Where the scan is not fit for it, and what to do.
    """
    start = _start_mm(stage, intended.undercut_mm)
    grey, lie = _best_view(views, intended.opening, stated_dpi / 25.4)
    _refuse_cropped(grey, lie.matrix, intended)
    edges = lay_over(grey, intended.opening, intended.face, matrix=lie.matrix, growth_mm=start)
    tone_found, shift, grey, edges = _toned(grey, intended, edges, tone)
    _refuse_cropped(grey, edges.matrix, intended)
    placed = lying(edges.matrix, intended.face.bounds)
    _refuse_blurred(edges.blur_mm, placed.px_per_mm)
    seen = see(
        grey,
        intended.opening,
        intended.face,
        matrix=edges.matrix,
        growth_mm=edges.growth_mm,
        blur_mm=edges.blur_mm,
    )
    _refuse_glare(seen)
    found, by = _stage(stage, edges.growth_mm, intended)
    allowed = tolerance_mm or max(_TOLERANCE_MM, _TOLERANCE_PX / placed.px_per_mm)
    spots = find_faults(seen, edges, intended.opening, intended.face, tolerance_mm=allowed)
    faults = tuple(one for one in spots if one.kind != "rim")
    _refuse_another(faults, intended)
    edge_sd = _edge_sd_mm(edges, shift, placed.px_per_mm)
    aim = intended.undercut_mm if found == "etched" else 0.0
    undercut = Measured(value=edges.growth_mm, sd=float(np.hypot(edge_sd, _OPENING_ERROR_MM)))
    scale = Measured(value=placed.px_per_mm * 25.4 / stated_dpi - 1, sd=edges.scale_sd)
    inspection = Inspection(
        stage=found,
        stage_by=by,
        lie=lie,
        edges=edges,
        seen=seen,
        faults=faults,
        rims=tuple(one for one in spots if one.kind == "rim"),
        dust=(),
        all_edges_mm=Measured(value=edges.growth_mm - aim, sd=edge_sd),
        is_seen_through=is_seen_through,
        stated_dpi=stated_dpi,
        dpi=placed.px_per_mm * 25.4,
        rotation_deg=placed.rotation_deg,
        scale_error=None if placed.slant > max(_MOST_SLANT, 3 * edges.slant_sd) else scale,
        stretch=placed.stretch,
        tone=tone_found,
        tone_shift_mm=shift,
        tolerance_mm=allowed,
        smallest_mm=smallest_spot_mm(edges.blur_mm),
        undercut_mm=None if found == "cleared" else undercut,
        cautions=(),
    )
    return replace(inspection, cautions=tuple(_cautions(inspection, intended)))


def undercut_between(cleared: Inspection, etched: Inspection) -> Measured:
    """The undercut by a scan of the same piece before etching and one after it.

    Returns
    -------
    Measured
        The openings' own errors fall out; each scan's own remain.
    """
    errors = [
        _edge_sd_mm(one.edges, one.tone_shift_mm, one.dpi / 25.4) for one in (cleared, etched)
    ]
    return Measured(
        value=etched.edges.growth_mm - cleared.edges.growth_mm,
        sd=float(np.hypot(errors[0], errors[1])),
    )


def _edge_sd_mm(edges: Edges, tone_shift_mm: float, px_per_mm: float) -> float:
    """Standard deviation of where the edges lie: scatter, pixels, and an undecided tone."""
    # Undecided, the edges lie anywhere between the two readings.
    parts = (edges.growth_sd_mm, _EDGE_ERROR_PX / px_per_mm, tone_shift_mm / np.sqrt(3))
    return float(np.sqrt(np.square(parts).sum()))


# --- what the scan is -------------------------------------------------------------------------


def _start_mm(stage: Stage | None, undercut_mm: float) -> float:
    if stage == "etched" and undercut_mm == 0:
        raise CouponError("this plan etches nothing; leave the stage out, or say cleared")
    return {"cleared": 0.0, "etched": undercut_mm, None: undercut_mm / 2}[stage]


def _best_view(
    views: Iterator[tuple[str, Grey]], opening: BaseGeometry, px_per_mm: float
) -> tuple[Grey, Lie]:
    """The grey levels that show the piece, and how it lies in them."""
    best: tuple[Grey, Lie] | None = None
    first: CouponError | None = None
    for _, grey in views:
        try:
            _refuse_flat(grey)
            lie = find_lie(grey, opening, px_per_mm=px_per_mm)
        except CouponError as error:
            first = first or error
            continue
        if best is None or lie.score > best[1].score + 0.1:
            best = grey, lie
        if lie.score > _SURE_LIKENESS:
            break
    if best is None:
        raise first or CouponError("the scan holds no picture")
    return best


def _toned(
    grey: Grey, intended: Intended, edges: Edges, tone: Tone
) -> tuple[Literal["plain", "light"], float, Grey, Edges]:
    """Read the levels as told, or as the mean edge bears out: even to both sides in light.

    Returns
    -------
    (str, float, ndarray, Edges)
        The tone; how far the edges would move in the other, 0 where that is decided; levels and
        edges in it.
    """
    px_mm = 1 / lying(edges.matrix, intended.face.bounds).px_per_mm
    shift, gain = 0.0, 1.0
    if len(edges.profile):
        plain = fit_edge(edges.profile_mm, edges.profile, px_mm)
        in_light = mean_edge(to_light(grey), edges.matrix, edges.sites_mm)
        light = fit_edge(edges.profile_mm, in_light, px_mm)
        shift = abs(light[0] - plain[0])
        gain = light[2] / max(plain[2], 1e-9)
    # Where the edges do not tell it is sRGB, as most scanners write.
    is_light = tone == "light" or (tone == "auto" and gain <= _TONE_GAINS[1])
    is_decided = tone != "auto" or not _TONE_GAINS[0] <= gain <= _TONE_GAINS[1]
    left = 0.0 if is_decided else shift
    if not is_light:
        return "plain", left, grey, edges
    grey = to_light(grey)
    again = lay_over(
        grey,
        intended.opening,
        intended.face,
        matrix=edges.matrix,
        growth_mm=edges.growth_mm,
        blur_mm=edges.blur_mm,
    )
    return "light", left, grey, again


def _stage(
    told: Stage | None, growth_mm: float, intended: Intended
) -> tuple[Stage, Literal["told", "seen", "assumed"]]:
    """Which stage it is: by where the edges lie, if only one of the two explains that."""
    undercut = intended.undercut_mm
    if told is not None:
        return told, "told"
    if undercut == 0:
        return "cleared", "seen"
    is_cleared = abs(growth_mm) < _MARK_ERROR * intended.mark_mm
    spread = min(max(3 * intended.undercut_sd_mm, 0.25 * undercut), 0.4 * undercut)
    is_etched = abs(growth_mm - undercut) < spread
    if is_cleared != is_etched:
        return ("cleared" if is_cleared else "etched"), "seen"
    return ("cleared" if growth_mm < undercut / 2 else "etched"), "assumed"


# --- refusals and cautions --------------------------------------------------------------------


def _refuse_flat(grey: Grey) -> None:
    if min(grey.shape) < 100:
        raise CouponError(
            f"the scan has {grey.shape[1]} x {grey.shape[0]} pixels; scan at 1200 dpi, "
            "600 dpi at least"
        )
    if max(grey.shape) > _LONGEST_PX:
        raise CouponError(
            f"the scan is {max(grey.shape)} pixels long, {_LONGEST_PX} is the most; scan the "
            "piece's part of the glass only, or at a lower resolution"
        )
    low, high = np.percentile(grey[::3, ::3], [0.2, 99.8])
    if high < _DARK:
        raise CouponError(
            f"the scan is too dark: its brightest parts reach {high:.0f} of 255; scan again with "
            "more exposure"
        )
    if high - low < _LEAST_CONTRAST:
        raise CouponError(
            f"the scan shows almost one tone, from {low:.0f} to {high:.0f} of 255; check that the "
            "piece lies face down, and scan without automatic levels"
        )


def _refuse_cropped(grey: Grey, matrix: FloatArray, intended: Intended) -> None:
    """Refuse where an opening, or a good part of the piece, lies beyond the scan."""
    x0, y0, x1, y1 = intended.opening.bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    for (x_mm, y_mm), is_out in zip(corners, _is_out(grey, matrix, corners), strict=True):
        if is_out:
            raise CouponError(
                f"the scan is cropped: ({x_mm:.1f}, {y_mm:.1f}) mm of the piece lies beyond its "
                "edge; scan the whole piece with a few mm around it, and check that the "
                "resolution is right"
            )
    outline = shapely.get_coordinates(shapely.segmentize(intended.face, 1.0))
    out = float(_is_out(grey, matrix, outline).mean())
    if out > _MOST_OUT:
        raise CouponError(
            f"{100 * out:.0f} % of the piece's outline would lie beyond the scan: it is cropped or "
            "the resolution is not right; scan the whole piece with a few mm around it"
        )


def _is_out(grey: Grey, matrix: FloatArray, points_mm: FloatArray) -> NDArray[np.bool_]:
    x, y = apply(matrix, points_mm).T
    beyond: NDArray[np.bool_] = (
        (x < -2) | (y < -2) | (x > grey.shape[1] + 1) | (y > grey.shape[0] + 1)
    )
    return beyond


def _refuse_another(faults: tuple[Fault, ...], intended: Intended) -> None:
    """Refuse where so much is bare that should not be that it is no fault of this piece."""
    bare = sum(one.area_mm2 for one in faults if one.kind in ("pinhole", "wide"))
    if bare > _MOST_BARE * intended.opening.area:
        raise CouponError(
            f"{bare:.1f} mm^2 beside the openings are bare, which themselves have "
            f"{intended.opening.area:.1f} mm^2; check that it is this plan's piece and coat, and "
            "that the resolution is right"
        )


def _refuse_blurred(blur_mm: float, px_per_mm: float) -> None:
    if blur_mm > max(_MOST_BLUR_MM, 1.2 / px_per_mm) or blur_mm * px_per_mm > _MOST_BLUR_PX:
        raise CouponError(
            f"the scan is blurred: edges are spread over {1000 * blur_mm:.0f} um (standard "
            f"deviation), {1000 * _MOST_BLUR_MM:.0f} um is the most; press the piece flat on the "
            "glass, or focus, and scan at 600 dpi or more"
        )


def _refuse_glare(seen: Seen) -> None:
    """Refuse where a good part of what should be dark is white out."""
    where = seen.wanted < 0.02 if seen.contrast > 0 else seen.wanted > 0.98
    if not where.any() or float(np.median(seen.raw[where])) > 200:
        return
    white = float((seen.raw[where] > _WHITE).mean())
    if white > _MOST_GLARE:
        raise CouponError(
            f"{100 * white:.0f} % of what should be dark is white out; if that is glare, turn the "
            "piece or light it from the side and scan again"
        )


def _cautions(found: Inspection, intended: Intended) -> Iterator[str]:
    if not found.lie.mirror_told:
        yield "the piece and its mirror image look alike here; it is taken as not mirrored"
    if found.lie.rival > found.lie.score - 0.05:
        yield (
            "the piece fits almost as well turned another way; check the first fault's place by eye"
        )
    if found.scale_error is None:
        yield (
            "the scan is slanted, as a photograph is: no scale error is told; lay the piece on a "
            "flatbed scanner for it"
        )
    if found.tone_shift_mm > 0.002:
        yield (
            "the edges do not tell whether the file's grey levels are sRGB, as most scanners "
            f"write, or plain; read as plain they lie {1000 * found.tone_shift_mm:.0f} um "
            "elsewhere: say --tone light (sRGB) or --tone plain where the scanner is known"
        )
    if found.stage == "etched" and found.edges.growth_mm < 0.3 * intended.undercut_mm:
        yield (
            "the edges lie where the resist's openings are, not where an etch would take them; if "
            "the resist is still on, strip it before the scan"
        )
