"""What the page has beyond the paper: a clock a batch, rows a piece, sums, and the record."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from html import escape

from stopout.sheet.contents.bench import COUPON
from stopout.sheet.model import BenchSums, Lane, Result, Step, Table

Field = Callable[..., str]

# Which column of the paper's record is which of a piece's values.
PIECE_COLUMNS = ("before", "after", "loss", "depth", "time", "in", "out", "ok", "good")
_SUMS = {
    "coupon-depth": ("rate",),
    "coupon-stroke": ("undercut", "factor"),
    "coupon-rate": ("rate", "times"),
    "weigh-after": ("bath",),
}


def bench_data(bench: BenchSums | None) -> str:
    """The numbers of the sums as JSON, ready to stand in an attribute."""
    return escape(json.dumps(None if bench is None else asdict(bench), sort_keys=True))


def board(bench: BenchSums, *, coupon: bool, field: Field) -> str:
    """The clocks: of the coupon, or of every batch side by side."""
    lanes = [
        _lane(k, lane, bench, field)
        for k, lane in enumerate(bench.lanes)
        if (lane.name == COUPON) is coupon
    ]
    return f'<div class="board">{"".join(lanes)}</div>\n' if lanes else ""


def _lane(number: int, lane: Lane, bench: BenchSums, field: Field) -> str:
    name = lane.name.capitalize()
    if len(lane.pieces) > 1:
        name += f": pieces {lane.pieces[0]} to {lane.pieces[-1]}"
    fields = [
        field(f"depth at {100 * share:.0f}\u00a0%", "µm", keep=f"lane.{number}.depth.{k}",
              of=f"{lane.name}: depth at {100 * share:.0f} %, µm")
        for k, (what, share) in enumerate(lane.checks)
        if what != "lift"
    ]  # fmt: skip
    if fields:
        fields.append(field("bath", "°C", keep=f"lane.{number}.bath", of=f"{lane.name}: bath, °C"))
    typed = f'<div class="measured">{"".join(fields)}</div>' if fields else ""
    return (
        f'<div class="lane" data-lane="{number}" role="group" aria-labelledby="lane-{number}">'
        f'<h3 id="lane-{number}">{escape(name)}</h3>'
        '<p class="clock" aria-hidden="true">0:00</p><p class="word" role="status"></p>'
        '<p class="due"></p><p class="row"><button type="button" class="main act"></button>'
        '<button type="button" class="lift"></button>'
        '<button type="button" class="undo">Undo</button></p>'
        f'<p class="sum" data-sum="left"></p>{typed}<p class="log"></p></div>'
    )


def sums(step: Step) -> str:
    """Places where the sums of a step are shown."""
    return "".join(
        f'<p class="sum" data-sum="{name}" role="status"></p>' for name in _SUMS.get(step.act, ())
    )


def piece_fields(step: Step, bench: BenchSums, field: Field) -> str:
    """The places to write of a step that is done on every piece, a piece at a time."""
    pieces = _pieces(bench)
    if step.act in ("weigh-before", "weigh-after"):
        which = step.act.removeprefix("weigh-")
        rows = "".join(
            field(f"piece {piece}, {which}", "g", keep=f"piece.{piece}.{which}",
                  of=f"piece {piece}: {which}, g")
            + (f'<p class="sum" data-sum="loss" data-piece="{piece}" role="status"></p>'
               if which == "after" else "")
            for piece in pieces
        )  # fmt: skip
        return f'<div class="measured rows">{rows}</div>'
    groups = []
    for piece in pieces:
        readings = "".join(
            field(f"depth {k}", "µm", keep=f"piece.{piece}.d{k}",
                  of=f"piece {piece}: depth {k}, µm")
            for k in (1, 2, 3)
        )  # fmt: skip
        groups.append(
            f'<details class="piece"{" open" if piece == pieces[0] else ""}>'
            f'<summary>Piece {piece} <output data-out="{piece}.depth"></output></summary>'
            f'<div class="measured">{readings}</div></details>'
        )
    return "".join(groups)


def _pieces(bench: BenchSums) -> list[str]:
    return [piece for lane in bench.lanes if lane.name != COUPON for piece in lane.pieces]


def piece_table(block: Table, bench: BenchSums, tick: Callable[..., str], field: Field) -> str:
    """The paper's record, a row a piece, filled in by what was typed and timed."""
    head = "".join(f'<th scope="col">{escape(words)}</th>' for words in block.columns)
    known = {*_pieces(bench), COUPON}
    rows = []
    named = [row[0] for row in block.rows]
    # Paper ends after so many; a page has room for every piece.
    blank = ("",) * (len(block.columns) - 1)
    more = tuple((piece, *blank) for piece in _pieces(bench) if piece not in named)
    for row in (*block.rows, *more):
        piece = row[0]
        cells = [f'<th scope="row" data-label="{escape(block.columns[0])}">{escape(piece)}</th>']
        for k, label in enumerate(block.columns[1:], start=1):
            mark = f'<td data-label="{escape(label)}">'
            kind = next((name for name in PIECE_COLUMNS if label.casefold().startswith(name)), "")
            if row[k]:
                cells.append(f"{mark}{escape(row[k])}</td>")
            elif kind in ("ok", "good"):
                inner = tick(f"{piece} is good", keep=f"piece.{piece}.good")
                cells.append(f"{mark}{inner}</td>")
            elif kind and piece in known:
                cells.append(f'{mark}<output data-out="{escape(piece)}.{kind}"></output></td>')
            else:
                inner = field(f"{piece}: {label}", hidden=True, of=f"{piece}: {label}")
                cells.append(f"{mark}{inner}</td>")
        rows.append(f"<tr>{''.join(cells)}</tr>")
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>\n"


# What is typed of the result; the rest of it is calculated from the pieces.
_TYPED = ("temperature_degc", "undercut_um", "bath")


def record_panel(block: Result, field: Field) -> str:
    """What the pieces come to, what is left to type, and the button that saves it all."""
    cells = []
    for blank in block.asked:
        if blank.key in _TYPED:
            cells.append(
                field(blank.label, blank.unit, keep=f"result.{blank.key}",
                      of=f"result: {blank.label}")
            )  # fmt: skip
        else:
            unit = f" <small>{escape(blank.unit)}</small>" if blank.unit else ""
            cells.append(
                f'<p class="out"><b>{escape(blank.label)}</b>{unit} '
                f'<output data-out="all.{blank.key}"></output></p>'
            )
    cells.append(field("note", keep="result.note", of="result: note"))
    return (
        f'<div class="result"><div class="measured">{"".join(cells)}</div>'
        '<p class="sum" data-sum="factor-done" role="status"></p>'
        '<p class="row"><button type="button" class="main save">Save the record</button></p>'
        f"<p>{escape(block.words)}</p></div>\n"
    )
