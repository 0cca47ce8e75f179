"""Icons, flags and PDF files made of them, as imported and as a browser draws them.

    python tests/bench/bench_agreement.py [--icons 150] [--flags 60] [--pdfs 12] [--table FILE]

Needs, besides what browser.py needs, the packages justmyresource-heroicons (MIT), octicons-pack
(MIT) and open-flags (GPL), none of which is kept here. Both are drawn by the browser with 20 um
pixels at 40 mm width. What is dark in one and light in the other must lie within two pixels of an
edge of both: `worst` is the largest distance of such a pixel from the other's nearest like one. A
pixel that a hairline crosses, or that an edge between two colours halves, does not say on which
side of it the line lies: where the pixels seem to differ by more, the browser draws both once more
there, 16 times finer, and the distance is taken in that, in pixels of 20 um as before. Only what is
narrower than 4 um there is left out, since paints that abut leave a seam of one pixel. The PDF
files are written by the typesetter and by the browser's printing, and read again.
"""

from __future__ import annotations

import argparse
import re
import sys
import zipfile
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
import shapely
from browser import browser
from lxml import etree

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank

WIDTH_MM, PX_PER_MM, MOST_PX = 40.0, 50, 2.0
# Places in dispute are drawn so much finer, with so many pixels around them.
FINER, AROUND_PX, MOST_PLACES = 16, 12, 60
BLANK = Blank(
    material="aluminium", width_mm=WIDTH_MM, height_mm=WIDTH_MM, thickness_mm=1.0,
    worked_side="front",
)  # fmt: skip
BRANDS = re.compile(r"logo|copilot|github|vscode|mark_g|dependabot|hubot|markdown|gist|ruby", re.I)


@dataclass(frozen=True)
class Result:
    """How far one file is from the browser, in pixels, and how much differs."""

    group: str
    name: str
    worst_px: float
    apart_mm2: float
    area_mm2: float


def spread(items, count):
    """Yield so many of a list, evenly."""
    return items[:: max(1, len(items) // count)][:count]


def heroicons(count):
    """Yield icons that lie in a zip file."""
    folder = Path(find_spec("justmyresource_heroicons").submodule_search_locations[0])
    with zipfile.ZipFile(folder / "icons.zip") as held:
        names = sorted(name for name in held.namelist() if name.endswith(".svg"))
        for name in spread(names, count):
            yield name.removesuffix(".svg"), held.read(name)


def octicons(count):
    """Yield icons that are attributes of a module."""
    import octicons_pack

    names = sorted(name for name in dir(octicons_pack) if re.search(r"_\d+$", name))
    for name in spread([name for name in names if not BRANDS.search(name)], count):
        yield name.lower(), str(getattr(octicons_pack, name).svg).encode()


def flags(count):
    """Yield flags of moderate size."""
    folder = Path(find_spec("open_flags").submodule_search_locations[0]) / "flags"
    files = [path for path in sorted(folder.rglob("*.svg")) if path.stat().st_size < 60_000]
    for path in spread(files, count):
        yield f"{path.parent.name}/{path.stem}", path.read_bytes()


def sized(data):
    """Give a document a viewBox and a plain size; return it with its height over its width."""
    root = etree.fromstring(data, etree.XMLParser(huge_tree=True))
    numbers = [re.match(r"[\d.]+", root.get(key, "")) for key in ("width", "height")]
    if root.get("viewBox") is None and all(numbers):
        root.set("viewBox", f"0 0 {numbers[0][0]} {numbers[1][0]}")
    box = [float(part) for part in root.get("viewBox").replace(",", " ").split()]
    high = box[3] / box[2]
    root.set("width", f"{WIDTH_MM}mm")
    root.set("height", f"{WIDTH_MM * high}mm")
    root.attrib.pop("preserveAspectRatio", None)
    return etree.tostring(root), high


def mask_svg(drawing, high):
    """The imported regions as one path, from the page's top on."""
    tall = WIDTH_MM * high
    down = shapely.transform(drawing.dark, lambda xy: (0, drawing.height_mm) + xy * (1, -1))
    data = "".join(
        "M" + " ".join(f"{x:.6f} {y:.6f}" for x, y in ring.tolist()) + "Z"
        for ring in map(shapely.get_coordinates, shapely.get_rings(shapely.get_parts(down)))
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM}mm" height="{tall}mm" '
        f'viewBox="0 0 {WIDTH_MM} {tall}"><path fill-rule="evenodd" d="{data}"/></svg>'
    )


def size(high):
    """Pixels across and down."""
    return round(WIDTH_MM * PX_PER_MM), round(WIDTH_MM * high * PX_PER_MM)


def beyond(one, other, counted):
    """The distance in px of each pixel of one from the other, where they differ; else 0.

    The page's edge is an edge of both.
    """
    wrong = one & ~other & counted
    if not wrong.any():
        return np.zeros(one.shape)
    far = np.pad(~other, 1).astype(np.uint8)
    away = cv2.distanceTransform(far, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[1:-1, 1:-1]
    return away * wrong


def apart_px(ours, asked, counted):
    """How far in px each pixel of either is from the other."""
    pairs = ((ours, asked), (asked, ours), (~ours, ~asked), (~asked, ~ours))
    return np.max([beyond(one, other, counted) for one, other in pairs], axis=0)


def looked_at_finely(draw, own, data, high, away):
    """The largest distance in px, the places that differ by too much drawn finer."""
    settled = float(away[away <= MOST_PX].max(initial=0.0))
    near = cv2.dilate((away > MOST_PX).astype(np.uint8), np.ones((9, 9), np.uint8))
    _, _, places, _ = cv2.connectedComponentsWithStats(near)
    if len(places) - 1 > MOST_PLACES:
        return float(away.max())
    across, down = size(high)
    for left, top, width, height in places[1:, :4].tolist():
        x, y = max(0, left - AROUND_PX), max(0, top - AROUND_PX)
        part = (x, y, min(across, left + width + AROUND_PX) - x,
                min(down, top + height + AROUND_PX) - y)  # fmt: skip
        ours, asked = (
            draw.grey_part(svg, (across, down), part, FINER) < 0.5 for svg in (own, data)
        )
        # What abuts leaves a seam of one pixel in what a browser draws, however fine.
        seams = np.ones((3, 3), np.uint8)
        counted = cv2.morphologyEx((ours != asked).astype(np.uint8), cv2.MORPH_OPEN, seams) > 0
        # The part's rim is no edge of the page: what may end beyond it is not counted.
        finely = apart_px(ours, asked, counted)
        settled = max(settled, float(finely.max()) / FINER)
    return settled


def told_apart(grey):
    """Pixels that say whether they are dark: none that an edge of overlapping paints halves."""
    kernel = np.ones((3, 3), np.uint8)
    flat = cv2.dilate(grey, kernel) - cv2.erode(grey, kernel) < 0.1
    return flat | (np.abs(grey - 0.5) > 0.12)


def compare(draw, group, name, data, high, grey, shown=None):
    """Import a file and hold it against what the browser draws, of it or of what it was made of."""
    # A PDF carries its size; the browser's printing rounds its page up to whole points.
    width = None if group.startswith("PDF") else WIDTH_MM
    request = ArtworkRequest(file=name, width_mm=width, position_mm=(0.0, 0.0))
    drawing = read_artwork(data, request, BLANK, name=name)
    own = mask_svg(drawing, high)
    ours, asked, counted = draw.grey(own, *size(high)) < 0.5, grey < 0.5, told_apart(grey)
    away = apart_px(ours, asked, counted)
    worst = looked_at_finely(draw, own, shown or data, high, away)
    apart = float((ours != asked).sum()) / PX_PER_MM**2
    return Result(group, name, worst, apart, drawing.area_mm2)


def typeset(data, high):
    """Write a PDF of a document by the typesetter."""
    import typst

    page = (
        f"#set page(width: {WIDTH_MM}mm, height: {WIDTH_MM * high}mm, margin: 0mm)\n"
        '#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    )
    return bytes(
        typst.compile(page.encode(), format="pdf", sys_inputs={"svg": data.decode("utf-8")})
    )


def printed(draw, data, high):
    """Write a PDF of a document by the browser."""
    page = draw._page
    page.set_content(
        f"<style>*{{margin:0}}svg{{display:block;width:{WIDTH_MM}mm;"
        f"height:{WIDTH_MM * high}mm}}</style>" + data.decode("utf-8")
    )
    return page.pdf(width=f"{WIDTH_MM}mm", height=f"{WIDTH_MM * high}mm", print_background=True,
                    page_ranges="1")  # fmt: skip


def main():
    """Compare all, print a table of the groups and the worst of each."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--icons", type=int, default=150)
    options.add_argument("--flags", type=int, default=60)
    options.add_argument("--pdfs", type=int, default=12)
    options.add_argument("--table", type=Path)
    given = options.parse_args()
    groups = {
        "heroicons": list(heroicons(given.icons)),
        "octicons": list(octicons(given.icons)),
        "flags": list(flags(given.flags)),
    }
    results, refused = [], []
    with browser() as draw:

        def hold(group, name, data, high, asked, shown=None):
            try:
                results.append(compare(draw, group, name, data, high, asked, shown))
            except ArtworkError as fault:
                refused.append((group, name, str(fault)))

        for group, items in groups.items():
            for number, (name, data) in enumerate(items):
                whole, high = sized(data)
                asked = draw.grey(whole, *size(high))
                if not (asked < 0.5).any():
                    continue
                hold(group, name, whole, high, asked)
                if number % max(1, 3 * len(items) // given.pdfs) == 0:
                    hold("PDF, typeset", name, typeset(whole, high), high, asked, whole)
                    hold("PDF, printed", name, printed(draw, whole, high), high, asked, whole)
    lines = table(results, refused)
    print("\n".join(lines))
    for group, name, words in refused:
        print(f"refused {group}: {name}: {words[:200]}")
    for r in sorted(results, key=lambda r: -r.worst_px)[:12]:
        print(f"{r.worst_px:6.1f} px {r.apart_mm2:8.3f} mm2 {r.group}: {r.name}")
    if given.table:
        text = given.table.read_text(encoding="utf-8")
        start = text.index("| group |")
        end = text.find("\n\n", start)
        tail = text[end:] if end >= 0 else "\n"
        given.table.write_text(text[:start] + "\n".join(lines) + tail, encoding="utf-8")
    return 0 if all(r.worst_px <= MOST_PX for r in results) else 1


def table(results, refused):
    """One row a group."""
    lines = [
        "| group | read | within 2 px | worst, px | refused |",
        "|---|---|---|---|---|",
    ]
    for group in dict.fromkeys([r.group for r in results]):
        own = [r for r in results if r.group == group]
        worst = max(own, key=lambda r: r.worst_px)
        within = sum(r.worst_px <= MOST_PX for r in own)
        lost = sum(item[0] == group for item in refused)
        lines.append(f"| {group} | {len(own)} | {within} | {worst.worst_px:.1f} | {lost} |")
    return lines


if __name__ == "__main__":
    sys.exit(main())
