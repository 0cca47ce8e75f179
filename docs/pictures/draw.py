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

from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))

import beam
import history
import pieces
from canvas import Canvas

import shapes

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
    """The upper part of the winch plate's preview: as seen, as worked, outcome."""
    return _preview(DEMO / "winch-plate" / "winch-plate.toml", width=1400, height=1342)


def first_plate() -> bytes:
    """The whole preview of the starter plate."""
    return _preview(STARTERS / "plate" / "job.toml", width=1400)


def first_sign() -> bytes:
    """The upper part of the preview of the visitors' sign: as seen and as worked."""
    return _preview(DEMO / "visitors-sign" / "visitors-sign.toml", width=1400, height=556)


def coupon_clearing() -> bytes:
    """The upper part of the starter plate's clearing coupon: as worked."""
    from stopout.cli.knowledge import knowledge_for
    from stopout.jobs import read_job
    from stopout.pictures.coupon import coupon_png
    from stopout.planning.coupon import coupon_job, plan_coupon

    job = coupon_job(read_job(STARTERS / "plate" / "job.toml"), "clearing")
    image = Image.open(io.BytesIO(coupon_png(plan_coupon("clearing", job, knowledge_for(job)))))
    # The lines are thin: the picture stays large.
    image = image.crop((60, 330, 2340, 1490)).resize((1710, 870), Image.Resampling.LANCZOS)
    file = io.BytesIO()
    image.save(file, "PNG")
    return file.getvalue()


def _preview(job: Path, *, width: int, height: int | None = None) -> bytes:
    """Plan a job as `stopout plan` does and return its preview, smaller and cut at `height`."""
    from stopout.artwork import open_artwork
    from stopout.cli.knowledge import knowledge_for
    from stopout.cli.scene import preview_scene
    from stopout.jobs import read_job
    from stopout.pictures import preview_png
    from stopout.planning import plan_job

    read = read_job(job)
    drawing = open_artwork(job.parent / read.artwork.file, read.artwork, read.blank)
    made = plan_job(read, drawing, knowledge_for(read))
    image = Image.open(io.BytesIO(preview_png(preview_scene(made))))
    size = (width, round(image.height * width / image.width))
    image = image.resize(size, Image.Resampling.LANCZOS)
    if height is not None:
        image = image.crop((0, 0, width, height))
    file = io.BytesIO()
    image.save(file, "PNG")
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
    "first-plate": first_plate,
    "first-sign": first_sign,
    "coupon-clearing": coupon_clearing,
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
