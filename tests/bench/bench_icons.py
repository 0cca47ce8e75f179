"""Free icons at 40 mm width, as imported and as a browser draws them: who differs, by how much.

Run as a script, with the packages py-phosphor-icons and pytablericons (both MIT) and what
browser.py needs:

    python tests/bench/bench_icons.py [--of-each 150] [--table docs/reference/icons.md]

Both pictures of an icon (the file itself, and the imported regions as one path) are drawn by the
browser with 20 um pixels, so that its anti-aliasing cancels; their difference, summed, is the area
of the symmetric difference. The budget is 0.1 % of the area plus 2 um along the edge.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import shapely
from browser import browser
from lxml import etree

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank

WIDTH_MM = 40.0
PX_PER_MM = 50
SHARE, ALONG_MM = 0.001, 0.002
PACKAGES = {"py_phosphor_icons": "phosphor", "pytablericons": "tabler"}
BLANK = Blank(
    material="aluminium", width_mm=WIDTH_MM, height_mm=WIDTH_MM, thickness_mm=1.0,
    worked_side="front",
)  # fmt: skip


@dataclass(frozen=True)
class Result:
    """One icon: how far apart the two pictures are, and how far they may be."""

    name: str
    apart_mm2: float
    allowed_mm2: float
    area_mm2: float
    edge_mm: float

    @property
    def share(self):
        """What of the budget is used."""
        return self.apart_mm2 / self.allowed_mm2


def icons(of_each):
    """Yield (name, bytes) of every n-th icon of each package."""
    for package, short in PACKAGES.items():
        spec = find_spec(package)
        if spec is None or not spec.submodule_search_locations:
            continue
        files = [
            path
            for path in sorted(Path(spec.submodule_search_locations[0]).rglob("*.svg"))
            if _is_wanted(path)
        ]
        for path in files[:: max(1, len(files) // of_each)][:of_each]:
            yield f"{short}: {path.parent.name}/{path.stem}", path.read_bytes()


def _is_wanted(path):
    """No trade marks; and no see-through paint, of which a picture in greys shows no edge."""
    marked = "logo" in path.stem or path.stem.startswith("brand-")
    return not marked and b"opacity" not in path.read_bytes()


def whole(data):
    """Give a document's root a plain size, which an image element needs."""
    root = etree.fromstring(data)
    if root.get("viewBox") is None:
        root.set("viewBox", f"0 0 {root.get('width')} {root.get('height')}")
    root.set("width", "100%")
    root.set("height", "100%")
    return etree.tostring(root)


def compare(draw, name, data):
    """Import an icon and hold it against the browser's drawing."""
    drawing = read_artwork(data, ArtworkRequest(file=name, width_mm=WIDTH_MM), BLANK, name=name)
    side = round(WIDTH_MM * PX_PER_MM)
    asked = draw.grey(whole(data), side, side)
    ours = draw.grey(as_svg(drawing), side, side)
    apart = float(np.abs(asked - ours).sum()) / PX_PER_MM**2
    allowed = SHARE * drawing.area_mm2 + ALONG_MM * drawing.dark.length
    return Result(name, apart, allowed, drawing.area_mm2, drawing.dark.length)


def as_svg(drawing):
    """The imported regions as one path, y down."""
    down = shapely.transform(drawing.dark, lambda xy: (0, WIDTH_MM) + xy * (1, -1))
    data = "".join(
        "M" + " ".join(f"{x:.6f} {y:.6f}" for x, y in ring.tolist()) + "Z"
        for ring in map(shapely.get_coordinates, shapely.get_rings(shapely.get_parts(down)))
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100%" height="100%" '
        f'viewBox="0 0 {WIDTH_MM} {WIDTH_MM}"><path fill-rule="evenodd" d="{data}"/></svg>'
    )


def main():
    """Compare, print the worst, and write the table if asked."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--of-each", type=int, default=150)
    options.add_argument("--table", type=Path)
    given = options.parse_args()
    results, refused = [], []
    with browser() as draw:
        for name, data in icons(given.of_each):
            try:
                results.append(compare(draw, name, data))
            except ArtworkError as fault:
                refused.append(str(fault))
    results.sort(key=lambda result: -result.share)
    lines = table(results)
    print("\n".join(lines), *refused, sep="\n")
    within = sum(result.share <= 1 for result in results)
    print(f"{within} of {len(results)} within the budget, {len(refused)} refused")
    if given.table:
        head, _, _ = given.table.read_text(encoding="utf-8").partition("| icon |")
        given.table.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")
    return 0 if within == len(results) and not refused else 1


def table(results):
    """The worst ten as a table."""
    lines = [
        "| icon | area, mm2 | edge, mm | apart, mm2 | allowed, mm2 | used |",
        "|---|---|---|---|---|---|",
    ]
    for r in results[:10]:
        lines.append(
            f"| {r.name} | {r.area_mm2:.1f} | {r.edge_mm:.0f} | {r.apart_mm2:.3f} | "
            f"{r.allowed_mm2:.3f} | {100 * r.share:.0f} % |"
        )
    return lines


if __name__ == "__main__":
    sys.exit(main())
