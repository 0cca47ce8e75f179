"""Where each piece of a series lies on its panel, and a row for each."""

from __future__ import annotations

from html import escape

from stopout.planning import Plan
from stopout.planning.plan import PlacedPiece
from stopout.sheet.drawings.sketches import sketch
from stopout.sheet.model import Block, Heading, Sketch, Sketches, Table
from stopout.sheet.steps import note

_ROOM_MM = (180.0, 120.0)
# Fields beside the number that a row has room for, and characters of each.
_MOST_FIELDS, _MOST_SIGNS = 3, 24


def pieces(plan: Plan) -> list[Block]:
    """Return a map of every panel and a row for each of its pieces, to be ticked by hand.

    Parameters
    ----------
    plan : Plan
        Nothing is returned for a plan of one piece.
    """
    blocks: list[Block] = []
    last = max((piece.panel for piece in plan.pieces), default=0)
    for number in range(1, last + 1):
        here = [piece for piece in plan.pieces if piece.panel == number]
        if not here:
            continue
        of = f" of panel {number}" if last > 1 else ""
        blocks += [
            Heading(text=f"The pieces{of}"),
            Sketches(sketches=(_map(plan, here, number),)),
            _rows(here, is_etched=plan.etch is not None),
        ]
    if blocks:
        again = "A spoiled piece is cleared again by its number: stopout rework PLAN_DIR --piece N."
        blocks.append(note(again))
    return blocks


def _map(plan: Plan, here: list[PlacedPiece], number: int) -> Sketch:
    panels = dict(plan.numbered_panels)
    blank = panels.get(number, plan).job.blank
    scale = min(1.0, _ROOM_MM[0] / blank.width_mm, _ROOM_MM[1] / blank.height_mm)
    wide, high = scale * blank.width_mm, scale * blank.height_mm
    body = [
        f'<rect x="0.15" y="0.15" width="{wide - 0.3:.2f}" height="{high - 0.3:.2f}" '
        'fill="#fff" stroke="#000" stroke-width="0.3"/>'
    ]
    for piece in here:
        x, y = scale * piece.at_mm[0], high - scale * (piece.at_mm[1] + piece.size_mm[1])
        w, h = scale * piece.size_mm[0], scale * piece.size_mm[1]
        size = min(0.5 * h, 1.6 * w / max(1, len(piece.number)), 5.0)
        body.append(
            f'<rect x="{x:.2f}" y="{y:.2f}" width="{w:.2f}" height="{h:.2f}" fill="#e8eaeb" '
            'stroke="#000" stroke-width="0.2"/>'
            f'<text x="{x + w / 2:.2f}" y="{y + h / 2 + 0.35 * size:.2f}" font-size="{size:.2f}" '
            f'font-family="Barlow" text-anchor="middle">{escape(piece.number)}</text>'
        )
    return sketch(
        f"{len(here)} pieces on {blank.width_mm:.1f} × {blank.height_mm:.1f}\u00a0mm, as worked",
        "The panel's lower left corner is the program's origin.",
        f"Map of panel {number}: pieces {here[0].number} to {here[-1].number}, row by row "
        "from the top left.",
        size_mm=(wide, high),
        body="".join(body),
    )


def _rows(here: list[PlacedPiece], *, is_etched: bool) -> Table:
    depth = ("depth, µm",) if is_etched else ()
    names = [name for name, _ in here[0].fields if name != "number"][:_MOST_FIELDS]
    rows = []
    for piece in here:
        fields = dict(piece.fields)
        shown = [_short(fields[name]) for name in names]
        at = f"{piece.at_mm[0]:.2f}, {piece.at_mm[1]:.2f}"
        rows.append((piece.number, *shown, at, *[""] * len(depth), ""))
    return Table(
        columns=("Number", *(_short(name) for name in names), "at, mm", *depth, "good"),
        shares=(0.9, *[1.6] * len(names), 1.1, *[0.8] * len(depth), 0.6),
        rows=tuple(rows),
    )


def _short(text: str) -> str:
    return text if len(text) <= _MOST_SIGNS else f"{text[: _MOST_SIGNS - 1]}…"
