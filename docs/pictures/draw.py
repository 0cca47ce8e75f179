"""Draws the pictures of the README and of docs/: `python docs/pictures/draw.py [name ...]`.

Every curve in them comes from Stopout's own planner and prediction; nothing is drawn by hand, so
that a picture cannot say otherwise than the tool. Deterministic: the same code gives the same
bytes (with the same renderer). Look at each picture after drawing it, in colour and in grey.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))

import beam
import history
import page
import pieces
from canvas import Canvas

import shapes

if TYPE_CHECKING:
    from stopout.planning import Plan

HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "demo"
STARTERS = HERE.parents[1] / "src" / "stopout" / "cli" / "starters"
# Shades kept in a picture: flat tints need few, and few make a small file.
SHADES = 96


def main(names: list[str]) -> None:
    """Draw the named pictures, or all of them."""
    for name in names or PICTURES:
        made = PICTURES[name]()
        file = HERE / f"{name}.png"
        file.write_bytes(_compact(made.png() if isinstance(made, Canvas) else made))
        print(f"{file.name}: {file.stat().st_size / 1000:.0f} kB")


def plan() -> bytes:
    """The whole preview of the winch plate."""
    return _preview(DEMO / "winch-plate" / "winch-plate.toml")


def bench_page() -> bytes:
    """The bench page with the winch plate."""
    return page.shot("winch-plate", width=1280, height=860)


def bench_page_near() -> bytes:
    """The bench page on a phone's width, near a finding, the drawing left of the line."""
    return page.shot("winch-plate", width=390, height=844, share=40, finding=0)


def first_plate() -> bytes:
    """The whole preview of the starter plate."""
    return _preview(STARTERS / "plate" / "job.toml")


def first_sign() -> bytes:
    """The whole preview of the visitors' sign."""
    return _preview(DEMO / "visitors-sign" / "visitors-sign.toml")


def coupon_clearing() -> bytes:
    """The upper part of the starter plate's clearing coupon: as worked."""
    from stopout.jobs import read_job
    from stopout.library.knowledge import knowledge_for
    from stopout.pictures.coupon import coupon_png
    from stopout.planning.coupon.road import coupon_job, plan_coupon

    job = coupon_job(read_job(STARTERS / "plate" / "job.toml"), "clearing")
    image = Image.open(io.BytesIO(coupon_png(plan_coupon("clearing", job, knowledge_for(job)))))
    # The lines are thin: the picture stays large.
    image = image.crop((60, 330, 2340, 1490)).resize((1710, 870), Image.Resampling.LANCZOS)
    file = io.BytesIO()
    image.save(file, "PNG")
    return file.getvalue()


def sheet_plate() -> bytes:
    """Two pages of the winch plate's sheet: its first, and the making of the bath."""
    return _pages(DEMO / "winch-plate" / "winch-plate.toml", ("Have ready", "Make up the bath"))


def sheet_sign() -> bytes:
    """Two pages of the visitors' sign's sheet: its first, and the clearing of the windows."""
    return _pages(
        DEMO / "visitors-sign" / "visitors-sign.toml", ("Have ready", "Clear the windows")
    )


def _pages(job: Path, words: tuple[str, ...], *, width: int = 600) -> bytes:
    """Print a job's sheet and return the first page that holds each of the words, side by side."""
    import pypdfium2

    from stopout.library.plan_files import sheet_files

    document = pypdfium2.PdfDocument(sheet_files(_planned(job), date="2025-03-14")["sheet.pdf"])
    wanted = [
        next(page for page in document if said in page.get_textpage().get_text_range())
        for said in words
    ]
    images = [page.render(scale=2).to_pil().convert("RGB") for page in wanted]
    height = round(width * images[0].height / images[0].width)
    whole = Image.new("RGB", (width * len(images) + 12, height), "#b8bcbf")
    for k, image in enumerate(images):
        small = image.resize((width, height), Image.Resampling.LANCZOS)
        whole.paste(small, (k * (width + 12), 0))
    file = io.BytesIO()
    whole.save(file, "PNG")
    return file.getvalue()


def _planned(job: Path) -> Plan:
    """Plan a job as `stopout plan` does."""
    from stopout.artwork import open_artwork
    from stopout.jobs import read_job
    from stopout.library.knowledge import knowledge_for
    from stopout.planning import plan_job

    read = read_job(job)
    drawing = open_artwork(job.parent / read.artwork.file, read.artwork, read.blank)
    return plan_job(read, drawing, knowledge_for(read))


def _preview(job: Path, *, height: int | None = None) -> bytes:
    """Plan a job as `stopout plan` does and return its preview, cut at `height`."""
    from stopout.pictures import preview_png
    from stopout.pictures.piece.of_plan import preview_scene

    png = preview_png(preview_scene(_planned(job)))
    if height is None:
        return png
    image = Image.open(io.BytesIO(png))
    file = io.BytesIO()
    image.crop((0, 0, image.width, height)).save(file, "PNG")
    return file.getvalue()


def _compact(png: bytes) -> bytes:
    """Keep few shades: the pictures are flat, and each stays well under 200 kB."""
    image = Image.open(io.BytesIO(png)).convert("RGB")
    image = image.quantize(
        SHADES, method=Image.Quantize.MAXCOVERAGE, kmeans=3, dither=Image.Dither.NONE
    )
    file = io.BytesIO()
    image.save(file, "PNG", optimize=True)
    return file.getvalue()


PICTURES: dict[str, Callable[[], bytes | Canvas]] = {
    "plan": plan,
    "bench-page": bench_page,
    "bench-page-near": bench_page_near,
    "first-plate": first_plate,
    "first-sign": first_sign,
    "coupon-clearing": coupon_clearing,
    "sheet-plate": sheet_plate,
    "sheet-sign": sheet_sign,
    "sweep": shapes.sweep_picture,
    "corners": shapes.corners_picture,
    "thin-strokes": shapes.thin_strokes_picture,
    "fill-and-outline": beam.fill_picture,
    "dose-across": beam.dose_picture,
    "speed-at-corner": beam.speed_picture,
    "walls": pieces.walls_picture,
    "mirror": pieces.mirror_picture,
    "raised": pieces.raised_picture,
    "coats": pieces.coats_picture,
    "bounds": pieces.bounds_picture,
    "shop-history": history.history_picture,
}

if __name__ == "__main__":
    main(sys.argv[1:])
