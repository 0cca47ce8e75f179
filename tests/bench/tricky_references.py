"""Draw the tricky documents of tests/artwork/tricky with a browser, and keep what it draws.

    python tests/bench/tricky_references.py [--check]

Each reference is a grey PNG of 400 x 240 pixels (10 px per mm, each the mean of 25 finer ones) in
17 steps, beside its document.
With --check nothing is written: the import is held against the browser at 50 px per mm.
"""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path

import numpy as np
import shapely
from browser import browser
from PIL import Image

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank

FOLDER = Path(__file__).parents[1] / "artwork" / "tricky"
WIDE_MM, HIGH_MM = 40, 24
BLANK = Blank(
    material="aluminium", width_mm=WIDE_MM, height_mm=HIGH_MM, thickness_mm=1.0,
    worked_side="front",
)  # fmt: skip


def keep(draw, path):
    """Write the browser's drawing of one document as a small PNG."""
    fine = draw.grey(path.read_bytes(), WIDE_MM * 50, HIGH_MM * 50)
    grey = fine.reshape(HIGH_MM * 10, 5, WIDE_MM * 10, 5).mean(axis=(1, 3))
    steps = np.rint(grey * 16).astype(np.uint8)
    image = Image.fromarray(steps, "P")
    image.putpalette([min(255, 16 * k) for k in range(17) for _ in range(3)])
    buffer = BytesIO()
    image.save(buffer, "PNG", optimize=True)
    path.with_suffix(".png").write_bytes(buffer.getvalue())


def check(draw, path):
    """Say how far the import differs from the browser, as a share of the budget."""
    try:
        request = ArtworkRequest(file=path.name)
        drawing = read_artwork(path.read_bytes(), request, BLANK, name=path.name)
    except ArtworkError as fault:
        return f"{path.stem}: refused: {fault}"
    down = shapely.transform(drawing.dark, lambda xy: (0, HIGH_MM) + xy * (1, -1))
    data = "".join(
        "M" + " ".join(f"{x} {y}" for x, y in r.tolist()) + "Z"
        for r in map(shapely.get_coordinates, shapely.get_rings(shapely.get_parts(down)))
    )
    ours = draw.grey(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="24mm" '
        f'viewBox="0 0 40 24"><path fill-rule="evenodd" d="{data}"/></svg>',
        WIDE_MM * 50, HIGH_MM * 50,
    )  # fmt: skip
    asked = draw.grey(path.read_bytes(), WIDE_MM * 50, HIGH_MM * 50)
    plain = np.abs(asked - ours).sum()
    apart = min(plain, np.abs((asked >= 0.5) * 1.0 - (ours >= 0.5)).sum()) / 2500
    allowed = 0.001 * drawing.area_mm2 + 0.002 * drawing.dark.length
    told = "; ".join(finding.message for finding in drawing.findings)
    mark = "  " if apart <= allowed else "!!"
    return f"{mark} {path.stem}: {apart:.3f} of {allowed:.3f} mm2 {told}"


def main():
    """Draw, or check."""
    with browser() as draw:
        for path in sorted(FOLDER.glob("*.svg")):
            if "--check" in sys.argv:
                print(check(draw, path))
            else:
                keep(draw, path)


if __name__ == "__main__":
    main()
