"""What a program clears: the mark, swept along every move with the beam on."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from stopout.outcome.bands import bands
from stopout.outcome.fill import APART_MM, as_region, clusters, positive_fill, united
from stopout.outcome.walks import Walks, rim_curves, walks_from_rings
from stopout.values import FloatArray, Moves

# A beam that stands still clears one mark: a line of 1 nm.
_DOT_MM = 1e-6
# A line's round end is drawn unless what is cleared anyway covers all of it but this.
_END_SLACK_MM = 2e-4
# Two workers end together when there are a few strips to share.
_STRIPS = 4


def sweep(moves: Moves, mark_mm: tuple[float, float]) -> MultiPolygon:
    """Return the region that a program clears.

    Parameters
    ----------
    moves : Moves
        The program as read back; only moves with power above zero clear.
    mark_mm : (x, y)
        Full axes of the elliptical mark.

    Returns
    -------
    MultiPolygon
        The opening, the union of the mark at every point of every beam-on move. Straight edges
        are exact to the nm; round ones lie at most 0.1 um outside the true ones; the last 0.2 um
        of a line's round end may be missing where other lines cover the rest of it.

    Raises
    ------
    ValueError
        If an axis of the mark is not above zero.

    Notes
    -----
    The plane is stretched along the mark's smaller axis until the mark is a disc. Moves that
    follow each other with the beam on become walks, swept by `rim_curves`; single lines, which
    are far more, become `bands`, and get their round ends only where those show.
    """
    if not min(mark_mm) > 0:
        raise ValueError(f"mark is {mark_mm[0]} x {mark_mm[1]} mm; both axes must be above zero")
    radius = max(mark_mm) / 2
    stretch = max(mark_mm) / np.asarray(mark_mm, dtype=float)
    chains = _chains(moves, stretch)
    lines = np.unique(chains.lines, axis=0)
    # GEOS lets go of the interpreter while it works, so the walks are swept meanwhile.
    with ThreadPoolExecutor(2) as pool:
        strips = pool.map(shapely.union_all, _strips(lines, radius, stretch))
        walks, home = _walks(chains, radius)
        drawn = [curve / stretch for curve in rim_curves(walks, radius)]
        swept = positive_fill(drawn, home)
        core = united(shapely.get_parts([swept, *strips]))
    return as_region(_with_ends(core, lines, radius, stretch))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chains:
    """Unbroken beam-on paths in the stretched plane: single lines, and paths with corners.

    `lines` is (n, 4): x0, y0, x1, y1 with the lesser end first. `corners` holds the paths' points
    one after another, `first` the index of each path's first.
    """

    lines: FloatArray
    corners: FloatArray
    first: NDArray[np.intp]


def _chains(moves: Moves, stretch: FloatArray) -> _Chains:
    lit = moves.power > 0
    begins = lit & np.diff(lit, prepend=False)
    chain = np.cumsum(begins, dtype=np.intp)[lit]
    a, b = moves.start_mm[lit] * stretch, moves.end_mm[lit] * stretch
    a, b, chain = _dots_drawn_out(a, b, chain)
    goes_on = _straight_on(a, b, chain)
    heads = np.flatnonzero(~goes_on)
    a, chain = a[heads], chain[heads]
    b = b[np.append(heads[1:], len(b)) - 1] if len(heads) else b
    start = np.flatnonzero(np.diff(chain, prepend=-1))
    size = np.diff(np.append(start, len(chain)))
    single = np.repeat(size == 1, size)
    corners, first = _paths(a[~single], b[~single], chain[~single])
    return _Chains(lines=_lesser_end_first(a[single], b[single]), corners=corners, first=first)


def _dots_drawn_out(
    a: FloatArray, b: FloatArray, chain: NDArray[np.intp]
) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Leave out moves without length, but draw a chain that has no other out to a dot."""
    moved = (a != b).any(axis=1)
    alone = ~np.isin(chain, chain[moved])
    first_of_its_chain = np.diff(chain, prepend=-1) != 0
    dot = alone & first_of_its_chain
    b = np.where(dot[:, None], b + np.array([_DOT_MM, 0.0]), b)
    keep = moved | dot
    return a[keep], b[keep], chain[keep]


def _straight_on(a: FloatArray, b: FloatArray, chain: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Moves that go on exactly in the direction of the move before, in the same chain."""
    step = b - a
    step = step / np.hypot(step[:, 0], step[:, 1])[:, None]
    on = np.zeros(len(a), dtype=bool)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    ahead = (step[:-1] * step[1:]).sum(axis=1) > 0
    on[1:] = (np.abs(cross) <= 1e-12) & ahead & (chain[1:] == chain[:-1])
    return on


def _lesser_end_first(a: FloatArray, b: FloatArray) -> FloatArray:
    swap = (a[:, 0] > b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] > b[:, 1]))
    return np.hstack([np.where(swap[:, None], b, a), np.where(swap[:, None], a, b)])


def _paths(
    a: FloatArray, b: FloatArray, chain: NDArray[np.intp]
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Corners and firsts of chains with several steps; each once, however often it is run."""
    start = np.flatnonzero(np.diff(chain, prepend=-1))
    paths: dict[bytes, FloatArray] = {}
    for i, j in zip(start, [*start[1:], len(chain)], strict=False):
        path = np.vstack([a[i:j], b[j - 1]])
        paths.setdefault(path.tobytes(), path)
    sizes = [len(path) for path in paths.values()]
    corners = np.vstack([np.zeros((0, 2)), *paths.values()])
    return corners, np.cumsum([0, *sizes], dtype=np.intp)[:-1]


def _walks(chains: _Chains, radius: float) -> tuple[Walks, NDArray[np.intp]]:
    """Closed walks whose right-hand rims wind round what the paths sweep, and their clusters.

    A ring is walked both ways. An open path is walked there and back, and so is a ring so small
    that a disc could hold it: the rims of its two sides would cancel out within it.
    """
    rings: list[FloatArray] = []
    owner: list[int] = []
    paths = [path for path in np.split(chains.corners, chains.first[1:]) if len(path) > 1]
    for number, path in enumerate(paths):
        if (path[0] == path[-1]).all() and np.ptp(path, axis=0).min() > 2 * radius:
            rings += [path[:-1], path[:0:-1]]
            owner += [number, number]
        else:
            rings.append(np.vstack([path, path[-2:0:-1]]))
            owner.append(number)
    which = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    walks = walks_from_rings(np.vstack([np.zeros((0, 2)), *rings]), which)
    lines = np.array([shapely.LineString(path) for path in paths], dtype=object)
    return walks, clusters(lines, 2 * radius + APART_MM)[np.asarray(owner, dtype=np.intp)]


def _strips(lines: FloatArray, radius: float, stretch: FloatArray) -> list[NDArray[np.object_]]:
    """The lines' bands, shared out from left to right so that few lie across the borders."""
    lasting = np.hypot(*(lines[:, 2:] - lines[:, :2]).T) > 10 * _DOT_MM
    corners = bands(lines[lasting], radius)
    which = np.repeat(np.arange(len(corners)), [len(ring) for ring in corners])
    points = np.vstack([np.zeros((0, 2)), *corners]) / stretch
    polygons = shapely.polygons(shapely.linearrings(points, indices=which))
    bounds = shapely.bounds(polygons)
    order = np.argsort(bounds[:, 0] + bounds[:, 2], kind="stable")
    return np.array_split(polygons[order], _STRIPS)


def _with_ends(
    core: NDArray[np.object_], lines: FloatArray, radius: float, stretch: FloatArray
) -> NDArray[np.object_]:
    """Add the round ends that the core does not cover."""
    shown = np.flatnonzero(_ends_show(core, lines, radius, stretch))
    if not len(shown):
        return core
    there_and_back = lines[shown].reshape(-1, 2)
    walks = Walks(points_mm=there_and_back, start=np.arange(0, len(there_and_back), 2))
    capsules = [curve / stretch for curve in rim_curves(walks, radius)]
    return united(np.array([*core, *map(shapely.Polygon, capsules)], dtype=object))


def _ends_show(
    core: NDArray[np.object_], lines: FloatArray, radius: float, stretch: FloatArray
) -> NDArray[np.bool_]:
    """Lines one of whose ends has the core's edge within the radius, in the stretched plane."""
    show = np.zeros(len(lines), dtype=bool)
    long = np.hypot(*(lines[:, 2:] - lines[:, :2]).T) > 10 * _DOT_MM
    show[~long] = True
    edge = shapely.boundary(shapely.multipolygons(core))
    edge = shapely.transform(edge, lambda xy: xy * stretch)
    shapely.prepare(edge)
    ends = shapely.points(lines.reshape(-1, 2))
    near = shapely.dwithin(edge, ends, radius - _END_SLACK_MM).reshape(-1, 2)
    return np.asarray(show | near.any(axis=1))
