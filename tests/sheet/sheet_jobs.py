"""Plans for the tests of the sheet, and ways to read what was printed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial
from pathlib import Path

import numpy as np
import pypdfium2
import shapely
from shapely.affinity import scale
from shapely.geometry import box

from jobmaker import LYE, drawing, make_job, plan, plate
from shapes import glyph_f
from stopout.job.record import Coat, Hole, JobBath, Shows, Strength
from stopout.jobs import read_job
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.sheet import sheet_contents, sheet_json, sheet_page, sheet_pdf, sheet_pictures
from stopout.tables.hazards import all_statements
from stopout.values import DrawnShape, Measured

DATE = "2025-03-14"
GLYPH = glyph_f(2.0, 2.0, height=6.0, stroke=0.9)
COATS = (
    Coat(paint="acrylic-lacquer", colour="black", shows=Shows(kind="rest")),
    Coat(paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="dark")),
)
MM_PER_POINT = 25.4 / 72.0
DEMO = Path(__file__).parents[2] / "demo"
DEMO_PLATES = ("winch-plate", "emblem-tag", "valve-tag", "gauge-number")
DEMO_SIGNS = ("visitors-sign", "wheel-board", "sluice-board")


def tag_job():
    """Four aluminium tags in caustic, with a hole; the rate is the table's guess."""
    return make_job(blank=plate(holes=(Hole(at_mm=(10.0, 8.0), diameter_mm=1.5),)), quantity=4)


def batches_job():
    """Four tags in a tray that takes two."""
    return replace(tag_job(), bath=JobBath(tray_mm=(90.0, 55.0)))


def brass_job():
    """Brass tags in ferric chloride with raised lettering."""
    etch = replace(
        LYE,
        etchant="ferric-chloride",
        strength=Strength(value=40.0, unit="degBe"),
        temperature_degc=25.0,
        etch_factor=None,
    )
    artwork = {"dark": "raised", "field_mm": 1.0}
    return make_job(blank=plate(material="brass"), etch=etch, artwork=artwork, quantity=2)


def sign_job():
    """A clear sheet worked on its back: black first, ivory over the windows."""
    blank = plate(material="acrylic-cast", worked_side="back", thickness_mm=3.0)
    return make_job(blank=blank, coats=COATS, etch=None)


def panel_job():
    """The worked panel: 100 x 60 mm of aluminium, 0.15 mm deep at a measured 4.0 um/min.

    Its walls are straight, which an etch factor of 1000 is.
    """
    etch = replace(
        LYE,
        depth_mm=0.15,
        rate_um_per_min=Measured(value=4.0),
        etch_factor=Measured(value=1000.0),
    )
    return make_job(blank=plate(size=(100.0, 60.0)), etch=etch, quantity=1)


def noisy_job():
    """A scan full of specks: dozens of findings of a kind."""
    return make_job(blank=plate(size=(60.0, 40.0)), limits={"too_thin": "widen"})


def window_job():
    """Two paints behind clear plastic, and windows that stay open to light."""
    spray = "acrylic-lacquer"
    coats = (
        Coat(paint=spray, colour="black", shows=Shows(kind="rest")),
        Coat(paint=spray, colour="gold", shows=Shows(kind="fill", value="#c0a020")),
        Coat(paint=spray, colour="clear", shows=Shows(kind="dark")),
    )
    blank = plate(material="acrylic-cast", worked_side="back", thickness_mm=3.0)
    return make_job(blank=blank, coats=coats, etch=None)


def window():
    """The plan of the sign with windows: gold for a square, light through the letter."""
    job = window_job()
    square = DrawnShape(fill="#c0a020", ident="", classes=(), region=box(8, 2, 11, 5))
    artwork = drawing(GLYPH, shapes=(square,))
    return plan_job(job, artwork, knowledge_for(job))


def demo(name):
    """A job of the demo with a plain letter, and a square of each fill, for its artwork."""
    job = read_job(DEMO / name / f"{name}.toml")
    width, height = job.blank.width_mm, job.blank.height_mm
    size = min(width, height) / 20
    letter = scale(GLYPH, size, size, origin=(0, 0))
    letter = shapely.affinity.translate(letter, width / 2 - 4 * size, height / 2 - 5 * size)
    fills = [coat.shows.value for coat in job.coats if coat.shows and coat.shows.kind == "fill"]
    shapes = tuple(
        DrawnShape(fill=fill, ident="", classes=(), region=box(x, 8, x + 3, 11))
        for x, fill in zip((8, 14, 20), fills, strict=False)
    )
    return plan_job(job, drawing(letter, shapes=shapes), knowledge_for(job))


def stopped_job():
    """Strong ferric chloride on aluminium: refused by the chemistry."""
    strong = Strength(value=500.0, unit="g/L")
    return make_job(etch=replace(LYE, etchant="ferric-chloride", strength=strong))


def crowded_job():
    """Strokes too thin, each one a reason to stop."""
    return make_job(limits={"too_thin": "stop"})


@cache
def made(name):
    """The plan of one of the jobs above, by name."""
    if name == "window":
        return window()
    if name in (*DEMO_PLATES, *DEMO_SIGNS):
        return demo(name)
    if name == "panel":
        # 40 % of the plate is opened: 60 x 40 mm.
        return plan(box(20.0, 10.0, 80.0, 50.0), panel_job())
    if name == "noisy":
        specks = [box(2.0 + 5 * i, 2.0 + 4 * j, 3.5 + 5 * i, 2.06 + 4 * j)
                  for i in range(7) for j in range(5)]  # fmt: skip
        return plan(shapely.union_all(specks), noisy_job())
    if name == "crowded":
        strokes = [box(1.0, 0.5 + 0.6 * k, 10.0, 0.55 + 0.6 * k) for k in range(14)]
        return plan(shapely.union_all(strokes), crowded_job())
    return plan(GLYPH, globals()[f"{name}_job"]())


PRINTERS = {
    "sheet.pdf": sheet_pdf,
    "sheet-annex.pdf": partial(sheet_pdf, part="annex"),
    "wall.pdf": partial(sheet_pdf, part="wall"),
    "sheet.html": sheet_page,
    "sheet.json": sheet_json,
}


class Printed:
    """The files of a plan's sheet, each printed when a test asks for it, and what is on them."""

    def __init__(self, plan):
        pictures = {} if plan.is_stopped else sheet_pictures(plan)
        statements = {entry.code: entry.text for entry in all_statements()}
        self.sheet = sheet_contents(plan, pictures=pictures, statements=statements, date=DATE)

        self._made = {}

    def __getitem__(self, name):
        if name not in self._made:
            self._made[name] = PRINTERS[name](self.sheet, date=DATE)
        return self._made[name]


@cache
def files(name):
    """The sheet's files for a plan."""
    return Printed(made(name))


@cache
def all_text(name):
    """The text of bench sheet, annex and wall page, without blanks: whatever has been printed."""
    printed = [files(name)[f"{part}.pdf"] for part in ("sheet", "sheet-annex", "wall")]
    return squeezed(" ".join(text for pdf in printed for text in page_texts(pdf)))


def pages(pdf):
    """The pages of a PDF, kept open by their document."""
    document = pypdfium2.PdfDocument(pdf)
    return document, [document[i] for i in range(len(document))]


@cache
def page_texts(pdf):
    """The text of each page, blanks and line ends as single blanks."""
    document, found = pages(pdf)
    texts = [plain(page.get_textpage().get_text_range()) for page in found]
    document.close()
    return texts


def fullness(pdf):
    """How far down ink reaches on each page, as a share of the room: the mean of its columns."""
    document, found = pages(pdf)
    shares = []
    for page in found:
        picture = page.render(scale=1, grayscale=True).to_numpy()
        ink = picture.reshape(picture.shape[0], -1) < 200
        top, left, right = (round(mm / MM_PER_POINT) for mm in (23.4, 20, 12))
        body = ink[top:-right, left:-right]
        middle = body.shape[1] // 2
        halves = (body[:, : middle - 6], body[:, middle + 6 :])
        lowest = [np.flatnonzero(half.any(axis=1)) for half in halves]
        shares.append(sum(rows[-1] + 1 if len(rows) else 0 for rows in lowest) / (2 * len(body)))
    document.close()
    return shares


def plain(text):
    """A text with every run of white space as one blank, soft line ends of the reader removed."""
    return " ".join(text.replace("\ufffe", "").replace("\u00ad", "").split())


def squeezed(text):
    """A text without white space: lines may break anywhere a typesetter may break them."""
    return "".join(text.split())


__all__ = [
    "COATS",
    "DATE",
    "DEMO_PLATES",
    "DEMO_SIGNS",
    "GLYPH",
    "MM_PER_POINT",
    "Printed",
    "files",
    "fullness",
    "made",
    "page_texts",
    "pages",
    "plain",
    "squeezed",
]
