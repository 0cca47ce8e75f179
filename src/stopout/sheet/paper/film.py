"""The printed film as a PDF at true size: vectors, a scale bar, a letter R and which side is up."""

from __future__ import annotations

import json

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.mask import as_multipolygon, mirror_left_right, register_marks
from stopout.planning import CoatPlan, Plan
from stopout.planning.opening.by_film import (
    PAGE_MARGIN_MM,
    film_image,
    film_is_mirrored,
    film_reading,
)

_TEMPLATE = r"""
#let d = json(bytes(sys.inputs.data))
#set document(title: d.title, date: none)
#set page(width: d.page.at(0) * 1mm, height: d.page.at(1) * 1mm, margin: 0mm)
#set text(font: ("Barlow", "Noto Sans", "Noto Sans Arabic", "Noto Sans CJK TC"),
  size: 9pt, lang: "en")
#place(dx: d.at.at(0) * 1mm, dy: d.at.at(1) * 1mm,
  image(bytes(d.svg), format: "svg", width: d.size.at(0) * 1mm, height: d.size.at(1) * 1mm))
#place(dx: 10mm, dy: d.foot * 1mm)[
  #rect(width: 100mm, height: 2mm, fill: black)
  #v(-2mm) #text(8pt)[The bar is 100 mm long: measure it on the film, not on the screen.]
  #block(width: d.wide * 1mm, inset: (top: 1mm))[
    #text(11pt, weight: "bold", d.lay) \
    #for line in d.lines [#line \ ]
  ]
]
"""
# Room round the plate for the letter R and for what is dark past the plate's edge.
_ROOM_MM = 6.0
_R_MM = 8.0


def film_pdf(plan: Plan, coat: CoatPlan) -> bytes:
    """Typeset the film of a coat.

    Parameters
    ----------
    plan : Plan
        A plan with a film.
    coat : CoatPlan
        Its coat.

    Returns
    -------
    bytes
        One page of the film's size; the same bytes for the same input.
    """
    import typst

    from stopout.sheet.paper.pdf import typeface

    text = json.dumps(_content(plan, coat), ensure_ascii=False)
    made = typst.compile(
        _TEMPLATE.encode(),
        font_paths=typeface(),
        sys_inputs={"data": text},
        format="pdf",
        timestamp=0,
    )
    return bytes(made)


def _content(plan: Plan, coat: CoatPlan) -> dict[str, object]:
    job, film = plan.job, plan.job.film
    assert film is not None
    assert coat.drawn is not None
    blank = job.blank
    side = film.printed_side
    reading = film_reading(is_back_worked=blank.is_back_worked, printed_side=side)
    dark = film_image(coat.drawn, plan.face, film, width_mm=blank.width_mm)
    mirrored = film_is_mirrored(is_back_worked=blank.is_back_worked, printed_side=side)
    marks = register_marks(plan.face)
    if side == "down":
        marks = as_multipolygon(mirror_left_right(marks, width_mm=blank.width_mm))
    # Dark on clear ground, clear on dark: they show on either film.
    dark = dark.symmetric_difference(marks)
    letter = _letter_r()
    if mirrored:
        letter = mirror_left_right(letter, width_mm=_R_MM)
    room, height = _ROOM_MM, blank.height_mm + 2 * _ROOM_MM + _R_MM
    return {
        "title": f"{job.name}, revision {job.revision}: film of coat {coat.number}",
        "page": list(film.page_mm),
        "at": [PAGE_MARGIN_MM[0] - room, 10.0 - room + 2],
        "size": [blank.width_mm + 2 * room, height],
        "svg": _svg(dark, letter, blank.width_mm, blank.height_mm),
        "foot": 10.0 - room + 2 + height + 2,
        "wide": film.page_mm[0] - 20.0,
        "lay": f"Lay the printed side {side.upper()}. Text must read {reading.on_work} as you look "
        "at the film on the work.",
        "lines": [
            f"{job.name}, revision {job.revision}. This is the printed side; on it the artwork "
            f"and the letter R read {reading.page}.",
            f"For a {film.resist_acts} resist: "
            + (
                "dark is what is opened."
                if film.resist_acts == "negative"
                else "clear is what is opened."
            ),
            f"Drawn for a growth of {1000 * film.growth_mm:g} um and an undercut of "
            f"{1000 * (plan.etch.undercut_mm if plan.etch else 0.0):.0f} um per edge. "
            "Print at 100 %. Lay it by the outline, the corners and the holes.",
        ],
    }


def _letter_r() -> BaseGeometry:
    """An R 6 mm high in a box 8 mm wide, in plain strokes; y up."""
    stem = shapely.box(1.5, 0, 2.5, 6)
    bowl = shapely.Point(3.6, 4.3).buffer(1.7).difference(shapely.Point(3.6, 4.3).buffer(0.7))
    bowl = bowl.union(shapely.box(2.0, 5.0, 3.6, 6.0)).union(shapely.box(2.0, 2.6, 3.6, 3.6))
    bowl = bowl.difference(shapely.box(2.5, 3.6, 3.6, 5.0))
    leg = shapely.LineString([(3.4, 3.0), (5.2, 0.1)]).buffer(0.5, cap_style="flat")
    return shapely.union_all([stem, bowl, leg])


def _svg(dark: BaseGeometry, letter: BaseGeometry, width_mm: float, height_mm: float) -> str:
    """The plate's field with the letter under its left corner; y counts downwards."""
    room = _ROOM_MM
    wide, high = width_mm + 2 * room, height_mm + 2 * room + _R_MM
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}"><g fill="#000" fill-rule="evenodd">'
        + "".join(
            f'<path d="{_data(part, dx, dy)}"/>'
            for region, dx, dy in (
                (dark, room, room + height_mm),
                (letter, room, height_mm + 2 * room + _R_MM - 1),
            )
            for part in shapely.get_parts(region)
        )
        + "</g></svg>"
    )


def _data(part: BaseGeometry, dx: float, dy: float) -> str:
    return "".join(
        "M"
        + "L".join(f"{dx + x:.4f},{dy - y:.4f}" for x, y in shapely.get_coordinates(ring)[:-1])
        + "Z"
        for ring in shapely.get_rings(part)
    )
