"""Checks a random sign: from its SVG to the front that its masks make, held against a picture.

Programs are not written here: what a coat is cleared of is taken as planned, which is what a sign's
colours hang on. The picture is drawn by whoever calls: a browser in the bench, `plain_picture` in
the suite.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import box

from signs.random_signs import HEIGHT, WIDTH, Sign
from stopout.artwork.reading import read_artwork
from stopout.errors import PlanError
from stopout.job.record import ArtworkRequest, Blank
from stopout.planning.signs.claims import claims_of
from stopout.planning.signs.compare import compare_front
from stopout.planning.signs.layers import clearings
from stopout.planning.signs.shows import front_view
from stopout.planning.signs.verdicts import colour_findings, unseen_findings
from stopout.values import Level

FACE = box(0, 0, WIDTH, HEIGHT)
# What a picture holds less of [mm^2] may or may not be told.
LEAST_MM2, SURELY_MM2 = 0.02, 0.3
BLANK = Blank(
    material="acrylic-cast",
    width_mm=WIDTH,
    height_mm=HEIGHT,
    thickness_mm=3.0,
    worked_side="back",
)


def outcome(sign: Sign):
    """Return the codes of a sign's stops, and its front as seen unless a coat is refused."""
    request = ArtworkRequest(file="sign.svg")
    drawing = read_artwork(sign.svg.encode(), request, BLANK, name="sign.svg")
    try:
        claims = claims_of(sign.coats, drawing, FACE)
    except PlanError as refusal:
        return {"not-in-artwork" if "no visible shape" in str(refusal) else str(refusal)}, None
    views = front_view(FACE, clearings(claims.shown, method="one-by-one", error_mm=0.1, edge_mm=0))
    assert abs(sum(view.area for view in views) - FACE.area) < 0.01
    compared = compare_front(drawing.picture, views, sign.coats, FACE)
    found = [*unseen_findings(sign.coats, views), *colour_findings(sign.coats, compared)]
    return {finding.code for finding in found if finding.level is Level.STOP}, views


def truth(sign: Sign, rgb: np.ndarray, px_per_mm: float) -> tuple[set[str], set[str]]:
    """Return, from a picture, what a sign must be stopped for and what it may be stopped for."""
    areas = _areas(rgb, px_per_mm)
    named = {coat.shows.value for coat in sign.coats if coat.shows.kind == "fill"} | {"#ffffff"}
    must, may = set(), set()

    def add(code: str, area: float) -> None:
        may.add(code)
        if area > SURELY_MM2:
            must.add(code)

    for coat in sign.coats:
        shown = coat.shows.value or "#ffffff"
        if areas.get(shown, 0.0) < 0.06:
            # Covered by what is drawn over it.
            may.add("not-in-artwork" if coat.shows.kind == "fill" else "coat-unseen")
            may.add("coat-unseen")
    for colour, area in _areas(rgb, px_per_mm, only_flat=False).items():
        # A strip of another colour no wider than the band may be told, and need not be.
        if area > 0.05 and not any(_is_one(colour, other) for other in named):
            may |= {"colour-lost", "colour-differs"}
    for colour, area in areas.items():
        if not any(_is_one(colour, other) for other in named):
            add("colour-lost", area)
            # A tint mixed of two may come near to another coat's.
            may.add("colour-differs")
    if sign.mistake == "two coats are swapped":
        swapped = [c.shows.value for c in sign.coats if c.shows.value not in ("", c.colour)]
        add("colour-differs", min(areas.get(colour, 0.0) for colour in swapped))
        may.add("colour-lost")
    return must, may


def _is_one(colour: str, other: str) -> bool:
    """Tell whether two colours differ by rounding of opacity only."""
    return all(abs(int(colour[k : k + 2], 16) - int(other[k : k + 2], 16)) <= 3 for k in (1, 3, 5))


def _areas(rgb: np.ndarray, px_per_mm: float, *, only_flat: bool = True) -> dict[str, float]:
    flat, colours, number = _flat(rgb, px_per_mm)
    counts = np.bincount(number[flat | (not only_flat)], minlength=len(colours)) / px_per_mm**2
    return {
        "#{:02x}{:02x}{:02x}".format(*colour): float(area)
        for colour, area in zip(colours, counts, strict=True)
        if area > LEAST_MM2
    }


def _flat(rgb: np.ndarray, px_per_mm: float):
    """Find the pixels farther than 0.1 mm from any other colour; the colours and their numbers."""
    import cv2

    packed = rgb.astype(np.int64) @ np.array([65536, 256, 1])
    values, number = np.unique(packed, return_inverse=True)
    number = number.reshape(packed.shape)
    low = number.astype(np.float32)
    size = 2 * int(np.ceil(0.1 * px_per_mm)) + 1
    kernel = np.ones((size, size), np.uint8)
    flat = cv2.erode(low, kernel) == cv2.dilate(low, kernel)
    colours = np.stack([values >> 16, values >> 8 & 255, values & 255], axis=1)
    return flat, colours, number


def wrong_share(sign: Sign, views, rgb: np.ndarray, px_per_mm: float) -> float:
    """Return the worst share, over a picture's colours, of places seen otherwise."""
    flat, colours, number = _flat(rgb, px_per_mm)
    y, x = np.nonzero(flat)
    step = max(1, len(x) // 20000)
    y, x = y[::step], x[::step]
    at_x, at_y = (x + 0.5) / px_per_mm, HEIGHT - (y + 0.5) / px_per_mm
    seen = np.full((len(x), 3), -1)
    for coat, view in zip(sign.coats, views, strict=True):
        shapely.prepare(view)
        tint = "#ffffff" if coat.colour == "white" else coat.colour
        seen[shapely.contains_xy(view, at_x, at_y)] = [int(tint[k : k + 2], 16) for k in (1, 3, 5)]
    wrong = np.abs(colours[number[y, x]] - seen).max(axis=1) > 3
    of = number[y, x]
    counts = np.bincount(of, minlength=len(colours))
    bad = np.bincount(of, wrong, minlength=len(colours))
    # Of fewer places no share can be told to a thousandth; their area is told by `truth`.
    shares = bad[counts >= 1000] / counts[counts >= 1000]
    return float(shares.max(initial=0.0))


def check(sign: Sign, rgb: np.ndarray, px_per_mm: float) -> str:
    """Return what is wrong with how a sign was judged; nothing where it was judged right."""
    stops, views = outcome(sign)
    must, may = truth(sign, rgb, px_per_mm)
    if not stops <= may:
        return f"sign {sign.seed}: stopped for {stops - may}, which the picture does not show"
    if must and not stops:
        return f"sign {sign.seed}: not stopped for {must}"
    if views is not None and not stops:
        share = wrong_share(sign, views, rgb, px_per_mm)
        if share > 0.001:
            return f"sign {sign.seed}: {100 * share:.2f} % of a colour is seen otherwise"
    return ""
