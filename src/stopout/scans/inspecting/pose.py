"""Where a piece lies in a scan: its openings laid over the scan in every way it may lie."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.errors import CouponError
from stopout.scans.inspecting.raster import Grid, coverage
from stopout.scans.registering.pose import apply
from stopout.values import FloatArray, Grey

# Sizes of the longer side of what is compared, in px: to find, and to settle.
_COARSE_PX = 110
_FINE_PX = 420
_BLUR_PX = 1.3
_STEP_DEG = 4.0
_FINER_DEG = (1.5, 0.75)
_MOST_TRIED = 10
# How far below the best another way may come in the coarse picture and still be compared closely.
_WORTH_SETTLING = 0.15
# Closer than this share of a coarse pixel two lies are one.
_SAME_PX = 0.05
# How much of the ground beside the openings is compared with them.
_BESIDE_MM = 1.0
_LEAST_SCORE = 0.45
# Of the piece in the scan over that by the resolution told: 8 % either way in length.
_AREAS = (0.85, 1.18)
# Below this difference a piece and its mirror image show the same.
_SAME_SCORE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lie:
    """A way in which the piece lies.

    Attributes
    ----------
    matrix : (3, 3) ndarray
        From the piece's mm, as worked and y up, to the scan's px.
    is_mirrored : bool
        True where the scan shows the piece turned over from side to side.
    is_bright : bool
        True where openings are brighter than what is beside them.
    score : float
        Correlation of scan and openings, 0 to 1.
    rival : float
        The best score of any other way to lie, 0 where none came near.
    mirror_told : bool
        False where the mirror image fits as well.
    """

    matrix: FloatArray
    is_mirrored: bool
    is_bright: bool
    score: float
    rival: float
    mirror_told: bool


class _Small(NamedTuple):
    """The scan made smaller, and the transform from its px to the small one's."""

    level: Grey
    shrink: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Model:
    """The openings as pixels: 1 inside, and where it counts."""

    grid: Grid
    level: Grey
    weight: Grey


def find_lie(grey: Grey, opening: BaseGeometry, *, px_per_mm: float) -> Lie:
    """Find a piece in a scan by its openings.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        The scan, 0 black to 255 white, row 0 on top.
    opening : BaseGeometry
        What should be open, in mm, as worked.
    px_per_mm : float
        The scan's resolution, to 3 % or so.

    Returns
    -------
    Lie
        To a few tenths of a pixel of a coarse picture; to be refined by the edges.

    Raises
    ------
    CouponError
        Where nothing in the scan looks like these openings.
    """
    coarse = _model(opening, _COARSE_PX)
    fine = _model(opening, _FINE_PX)
    fine = fine if fine.grid.pitch_mm * px_per_mm > 1 else _model(opening, _COARSE_PX)
    small = _shrunk(grey, max(coarse.grid.pitch_mm * px_per_mm, 1.0))
    starts = _starts(small, coarse)
    small = small._replace(level=_blurred(small.level))
    rough = [_settled(small, coarse, one, px_per_mm, is_projective=False) for one in starts]
    ranked = sorted(rough, key=lambda one: -one.score)
    small = _shrunk(grey, max(fine.grid.pitch_mm * px_per_mm, 1.0))
    small = small._replace(level=_blurred(small.level))
    told = [one for one in ranked if one.score > ranked[0].score - _WORTH_SETTLING]
    rest = ranked[len(told) :]
    told = _each_once(told, coarse.grid)
    better = [_settled(small, fine, one, px_per_mm, is_projective=True) for one in told]
    return _chosen(better + rest)


def _each_once(lies: list[Lie], grid: Grid) -> list[Lie]:
    """Lies without those that have settled where a better one did."""
    kept: list[tuple[Lie, FloatArray]] = []
    for one in lies:
        seen = apply(one.matrix, _corners(grid))
        pixel = np.abs(seen[1] - seen[0]).max() / grid.columns
        if all(np.abs(seen - other).max() > _SAME_PX * pixel for _, other in kept):
            kept.append((one, seen))
    return [one for one, _ in kept]


def _chosen(settled: list[Lie]) -> Lie:
    best = max(settled, key=lambda one: one.score)
    if best.score < _LEAST_SCORE:
        raise CouponError(_words_without_piece(best.score))
    close = [one for one in settled if one.score > best.score - _SAME_SCORE]
    chosen = min(close, key=lambda one: (one.is_mirrored, -one.score))
    rivals = [one.score for one in settled if _differ(one, chosen)]
    mirrors = [one.score for one in settled if one.is_mirrored != chosen.is_mirrored]
    return replace(
        chosen,
        rival=max(rivals, default=0.0),
        mirror_told=chosen.score - max(mirrors, default=0.0) > _SAME_SCORE,
    )


def _differ(one: Lie, other: Lie) -> bool:
    """True where the two turn the piece differently, not only a little this way or that."""
    a, b = one.matrix[:2, :2], other.matrix[:2, :2]
    return bool(np.linalg.norm(a - b) > 0.1 * np.linalg.norm(a))


def _words_without_piece(score: float) -> str:
    return (
        f"the plan's openings are not found in the scan (likeness {score:.2f} of 1, "
        f"{_LEAST_SCORE:g} is the least); check that it is this plan's piece and coat, that all of "
        "it is in the scan, sharp and evenly lit, and that the resolution is right"
    )


# --- the openings as a picture ----------------------------------------------------------------


def _model(opening: BaseGeometry, longest_px: int) -> _Model:
    x0, y0, x1, y1 = opening.bounds
    pitch = max(x1 - x0, y1 - y0) / longest_px
    room = _BESIDE_MM + 4 * pitch
    grid = Grid(
        left_mm=x0 - room,
        top_mm=y1 + room,
        pitch_mm=pitch,
        rows=int(np.ceil((y1 - y0 + 2 * room) / pitch)),
        columns=int(np.ceil((x1 - x0 + 2 * room) / pitch)),
    )
    # Part by part: taken together, each would be held against all others.
    lean = shapely.multipolygons(shapely.simplify(shapely.get_parts(opening), 0.1 * pitch))
    near = lean.buffer(max(_BESIDE_MM, 2 * pitch), quad_segs=4)
    return _Model(grid, _blurred(coverage(lean, grid)), coverage(near, grid))


def _blurred(picture: Grey) -> Grey:
    import cv2

    return np.asarray(cv2.GaussianBlur(picture, (0, 0), _BLUR_PX), np.float32)


def _shrunk(grey: Grey, factor: float) -> _Small:
    import cv2

    size = (max(round(grey.shape[1] / factor), 8), max(round(grey.shape[0] / factor), 8))
    small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.float32)
    fx, fy = size[0] / grey.shape[1], size[1] / grey.shape[0]
    matrix = np.array([[fx, 0, 0.5 * fx - 0.5], [0, fy, 0.5 * fy - 0.5], [0, 0, 1.0]])
    return _Small(small, matrix)


# --- every way to lie -------------------------------------------------------------------------


def _starts(small: _Small, model: _Model) -> list[Lie]:
    """The ways that come nearest, no two alike, best first."""
    back = np.asarray(np.linalg.inv(small.shrink), float)
    waves = _waves(small, model)
    found = []
    for turn in np.radians(np.arange(0, 180, _STEP_DEG)):
        turned = _turned(waves, model, turn)
        for way in _WAYS:
            found.append(_best_shift(waves, model, turned, way, back))
    found.sort(key=lambda one: -one[0].score)
    apart: list[tuple[Lie, float]] = []
    for one in found:
        if len(apart) < _MOST_TRIED and all(_differ(one[0], other) for other, _ in apart):
            apart.append(one)
    starts = []
    for lie, turn in apart:
        way = _Way(is_over=lie.is_mirrored, is_half=False)
        for step in _FINER_DEG:
            for side in (-step, step):
                other = turn + np.radians(side)
                turned = _turned(waves, model, -other if way.is_over else other)
                tried, _ = _best_shift(waves, model, turned, way, back)
                if tried.score > lie.score:
                    lie, turn = tried, other
                    break
        starts.append(lie)
    return starts


class _Way(NamedTuple):
    """What is done to the turned openings: over from side to side, half a turn."""

    is_over: bool
    is_half: bool


_WAYS = tuple(_Way(is_over, is_half) for is_over in (False, True) for is_half in (False, True))


def _best_shift(
    waves: _Waves, model: _Model, turned: _Turned, way: _Way, back: FloatArray
) -> tuple[Lie, float]:
    """The best of all shifts, and by how much the openings are turned, after turning them over."""
    scores = _scores(waves, turned, way)
    row, column = np.unravel_index(int(np.abs(scores).argmax()), scores.shape)
    score = float(scores[row, column])
    turn = (-turned.turn if way.is_over else turned.turn) + np.pi * way.is_half
    shift = np.array([[1, 0, column - waves.pad], [0, 1, row - waves.pad], [0, 0, 1.0]])
    place = _place(model, turn, way.is_over, waves.side)
    lie = Lie(
        matrix=back @ shift @ place @ np.linalg.inv(model.grid.matrix()),
        is_mirrored=way.is_over,
        is_bright=score > 0,
        score=abs(score),
        rival=0.0,
        mirror_told=True,
    )
    return lie, turn


class _Waves(NamedTuple):
    """The scan's Fourier transform and its square's, padded by `pad` px on each side."""

    seen: Any
    squared: Any
    shape: tuple[int, int]
    keep: tuple[int, int]
    side: int
    pad: int
    floor: float


def _waves(small: _Small, model: _Model) -> _Waves:
    from scipy.fft import next_fast_len, rfft2

    side = int(np.ceil(np.hypot(*model.level.shape)))
    # Half the piece may lie beyond the scan; that is told later, in words.
    pad = side // 3
    level = _blurred(small.level)
    level = level - np.float32(np.median(level))
    wide = np.pad(level, ((pad, pad), (pad, pad)))
    # What wraps round falls on shifts at which the openings would leave the scan: none is kept.
    high, broad = (next_fast_len(max(one, side), real=True) for one in wide.shape)
    shape = (high, broad)
    return _Waves(
        seen=rfft2(wide, shape),
        squared=rfft2(wide**2, shape),
        shape=shape,
        keep=(max(wide.shape[0] - side + 1, 1), max(wide.shape[1] - side + 1, 1)),
        side=side,
        pad=pad,
        floor=0.02 * float(level.var()) + 1e-6,
    )


class _Turned(NamedTuple):
    """The openings turned in a square: Fourier transforms of level and weight, and their sums."""

    turn: float
    level: Any
    weight: Any
    total: float
    mean: float
    spread: float


def _turned(waves: _Waves, model: _Model, turn: float) -> _Turned:
    import cv2
    from scipy.fft import fft, rfft

    place, side = _place(model, turn, False, waves.side), waves.side
    level, weight = (
        np.asarray(cv2.warpAffine(one, place[:2], (side, side)), np.float32)
        for one in (model.level * model.weight, model.weight)
    )
    # Row by row first: those that only pad the picture are nothing.
    of_level, of_weight = (
        fft(rfft(one, waves.shape[1]), waves.shape[0], axis=0) for one in (level, weight)
    )
    total, mean = float(weight.sum()), float(level.sum() / weight.sum())
    spread = float((level**2 / np.maximum(weight, 1e-6)).sum()) / total - mean**2
    return _Turned(turn, of_level, of_weight, total, mean, spread)


def _place(model: _Model, turn: float, is_mirrored: bool, side: int) -> FloatArray:
    """From px of the openings to those of the square in which they are turned about its middle."""
    rows, columns = model.level.shape
    c, s = np.cos(turn), np.sin(turn)
    flip = -1.0 if is_mirrored else 1.0
    linear = np.array([[c * flip, -s], [s * flip, c]])
    about = (side - 1) / 2 - linear @ np.array([(columns - 1) / 2, (rows - 1) / 2])
    return np.vstack([np.column_stack([linear, about]), [0, 0, 1]])


def _scores(waves: _Waves, turned: _Turned, way: _Way) -> FloatArray:
    """Weighted correlation of the turned openings with the scan, for every shift.

    Notes
    -----
    Half a turn of a picture conjugates its transform, and turning it over from side to side does
    so and swaps the signs of the waves down it: one transform serves four ways. All this is about
    the first pixel and not about the square's middle, which shifts what comes back.
    """
    from scipy.fft import ifft, irfft

    level, weight = (
        np.roll(one[::-1], 1, axis=0) if way.is_over else one
        for one in (turned.level, turned.weight)
    )
    is_flipped_across, is_flipped_down = way.is_over != way.is_half, way.is_half
    if not is_flipped_across:
        level, weight = np.conj(level), np.conj(weight)
    (high, wide), back = waves.keep, waves.side - 1
    rows = (np.arange(high) + back * is_flipped_down) % waves.shape[0]
    columns = (np.arange(wide) + back * is_flipped_across) % waves.shape[1]
    cross, mass, power = (
        irfft(ifft(one, axis=0)[rows], waves.shape[1])[:, columns]
        for one in (waves.seen * level, waves.seen * weight, waves.squared * weight)
    )
    total, mean = turned.total, turned.mean
    varied = np.maximum(power / total - (mass / total) ** 2, waves.floor)
    scores = (cross / total - mean * mass / total) / np.sqrt(turned.spread * varied)
    return np.asarray(scores, float)


# --- settling ---------------------------------------------------------------------------------


def _settled(
    small: _Small, model: _Model, start: Lie, px_per_mm: float, *, is_projective: bool
) -> Lie:
    """The lie moved to where scan and openings correlate best, or left where that leads astray.

    A good part of the openings may be missing, and what is left then fits better when stretched.
    """
    before = replace(start, score=_likeness(small, start.matrix, model, start.is_bright))
    matrix = _moved(small, model, start, is_projective=is_projective)
    if matrix is None or not _is_plausible(matrix, model.grid, px_per_mm, start.is_mirrored):
        return before
    score = _likeness(small, matrix, model, start.is_bright)
    return replace(start, matrix=matrix, score=score) if score > before.score else before


def _moved(small: _Small, model: _Model, start: Lie, *, is_projective: bool) -> FloatArray | None:
    import cv2

    to_small = small.shrink @ start.matrix @ model.grid.matrix()
    sign = 1.0 if start.is_bright else -1.0
    inverse = np.linalg.inv(to_small)
    inverse = np.asarray(inverse / inverse[2, 2], np.float32)
    kind = cv2.MOTION_HOMOGRAPHY if is_projective else cv2.MOTION_AFFINE
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-5)
    mask = np.asarray(model.weight > 0.5, np.uint8) * np.uint8(255)
    try:
        # From the scan to the openings, so that the mask may lie on these.
        _, found = cv2.findTransformECC(
            np.asarray(sign * small.level, np.float32),
            model.level,
            inverse if is_projective else inverse[:2].copy(),
            kind,
            criteria,
            mask,
            1,
        )
    except cv2.error:
        return None
    whole = found if is_projective else np.vstack([found, [0, 0, 1]])
    to_small = np.linalg.inv(np.asarray(whole, float))
    matrix = np.linalg.inv(small.shrink) @ to_small @ np.linalg.inv(model.grid.matrix())
    result: FloatArray = matrix / matrix[2, 2]
    return result


def _is_plausible(matrix: FloatArray, grid: Grid, px_per_mm: float, is_mirrored: bool) -> bool:
    """A view that a scanner or a camera can have, at the resolution that was told."""
    seen = apply(matrix, _corners(grid))
    area = 0.5 * float(
        np.sum(seen[:, 0] * np.roll(seen[:, 1], -1) - seen[:, 1] * np.roll(seen[:, 0], -1))
    )
    wanted = grid.columns * grid.rows * (grid.pitch_mm * px_per_mm) ** 2
    sign = 1.0 if is_mirrored else -1.0
    if not _AREAS[0] < sign * area / wanted < _AREAS[1]:
        return False
    sides = np.hypot(*(np.roll(seen, -1, axis=0) - seen).T)
    return bool(max(sides[0], sides[2]) < 1.5 * min(sides[0], sides[2]))


def _corners(grid: Grid) -> FloatArray:
    x0, y1 = grid.left_mm, grid.top_mm
    x1, y0 = x0 + grid.columns * grid.pitch_mm, y1 - grid.rows * grid.pitch_mm
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _likeness(small: _Small, matrix: FloatArray, model: _Model, is_bright: bool) -> float:
    """Weighted correlation of the openings with what the scan shows there."""
    import cv2

    to_small = small.shrink @ matrix @ model.grid.matrix()
    sign = 1.0 if is_bright else -1.0
    rows, columns = model.level.shape
    seen = cv2.warpPerspective(
        small.level,
        to_small,
        (columns, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    px = apply(to_small, np.argwhere(np.ones((rows, columns)))[:, ::-1].astype(float))
    inside = (
        ((px > -1) & (px < np.array(small.level.shape[::-1]))).all(axis=1).reshape(rows, columns)
    )
    w = model.weight * inside
    share = float(w.sum() / model.weight.sum())
    w = w / max(float(w.sum()), 1e-6)
    a, b = (one - float((w * one).sum()) for one in (seen.astype(float), model.level))
    spread = float((w * a * a).sum() * (w * b * b).sum())
    # The less of it lies in the scan, the less a likeness says.
    return sign * float(np.sqrt(share / max(spread, 1e-12)) * (w * a * b).sum())
