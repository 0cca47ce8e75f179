"""Draws the artwork of the demo and of the starter jobs: `python demo/draw.py`.

Deterministic: the committed files are exactly what this writes. The sheets are drawn in mm on the
page that their job files name, y down; lettering is written as outlines, so no font is needed to
read them.
"""

from __future__ import annotations

import io
import math
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from emblem import emblem
from lettering import line

HERE = Path(__file__).parent
STARTERS = HERE.parent / "src" / "stopout" / "cli" / "starters"

CREDIT = "Lettering: outlines of the Barlow typeface (SIL Open Font License 1.1)."


def main() -> None:
    """Write every sheet to its place."""
    for path, draw in SHEETS.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(draw())


def winch_plate() -> bytes:
    """The sluice winch's plate: 92 x 52 mm on a 100 x 60 mm blank, holes at its two ends."""
    left, right = 33.2, 82.6
    tile = 13.0
    title = right - left - tile - 3.0
    return _sheet(
        92,
        52,
        "Sluice winch plate",
        [
            f'<path fill-rule="evenodd" d="{_plate_border(0.6)}{_plate_border(1.5)}"/>',
            f'<path fill-rule="evenodd" d="{_plate_border(2.1)}{_plate_border(2.4)}"/>',
            _placed(emblem(), x=19.5, y=25.2, scale=1.08),
            _text("SLUICE", x=left, y=15.6, capital=7.2, weight="Bold", fit=title),
            _text("WINCH", x=left, y=25.8, capital=7.2, weight="Bold", fit=title),
            _tile("2", x=right - tile, y=8.4, width=tile, height=17.4),
            f'<path d="{_swelled_rule(left, right, 29.8, 0.6)}"/>',
            _text("LOWER GATE", x=left, y=36.0, capital=2.9, tracking=0.05),
            _text("25 TURNS", x=right, y=36.0, capital=2.9, anchor="end", tracking=0.05),
            _text(
                "Set the pawl before you let go of the crank.",
                x=left, y=40.9, capital=1.85, weight="Medium", fit=right - left,
            ),
            _text(
                "Grease rack and pawl every spring tide.",
                x=left, y=44.6, capital=2.0, weight="Regular", fit=right - left,
            ),
        ],
    )  # fmt: skip


def visitors_sign() -> bytes:
    """The sign of the visitors' hut, 180 x 80 mm, ivory on black behind clear plastic."""
    left, right = 70.0, 170.0
    return _sheet(
        180,
        80,
        "Visitors' hut sign",
        [
            _frame(4, 4, 172, 72, radius=5, thickness=1.2),
            _placed(emblem(), x=38, y=38.8, scale=2.2),
            _text("Visitors\u2019 hut", x=left, y=35.8, capital=14.0, fit=right - left),
            f'<path d="{_swelled_rule(left, right, 44.2, 1.1)}"/>',
            _text("TIDE MILL & SLUICE GEAR", x=left, y=53.6, capital=5.0, weight="Medium",
                  fit=right - left),
            _text("Wheel turns on the ebb", x=left, y=63.2, capital=4.2, weight="Medium"),
            _text("Please ring", x=right, y=63.2, capital=4.2, weight="Medium", anchor="end"),
        ],
    )  # fmt: skip


def sluice_board() -> bytes:
    """The board at the sluice, 160 x 100 mm, three colours: ground, a red bar, ivory lettering."""
    ivory, red = "#f1e7c8", "#a8322a"
    return _sheet(
        160,
        100,
        "Sluice board",
        [
            _frame(6, 6, 148, 88, radius=6, thickness=1.4, fill=ivory),
            f'<path fill="{red}" d="{_box(12, 12, 136, 34, 3)}"/>',
            _text("DANGER", x=80, y=37.2, capital=16, weight="Bold", anchor="middle",
                  tracking=0.06, fill=ivory),
            _text("The sluice opens by itself", x=80, y=59.6, capital=7.4, weight="Medium",
                  fit=128, anchor="middle", fill=ivory),
            _text("on the turn of the tide.", x=80, y=71.2, capital=7.4, weight="Medium",
                  anchor="middle", fill=ivory),
            f'<path fill="{red}" d="{_disc(80, 83.4, 5.4)}"/>',
            f'<path fill="{ivory}" d="{_arrow(75.8, 84.2, 83.4)}"/>',
        ],
    )  # fmt: skip


def wheel_board() -> bytes:
    """The board at the wheel, 70 x 84 mm: a red ring and bar over the black wheel, on white."""
    red = "#c8102e"
    return _sheet(
        70,
        84,
        "Wheel board",
        [
            '<rect width="70" height="84" fill="#fff"/>',
            _placed(_paddle_wheel(), x=35, y=33, scale=1.9),
            f'<g fill="none" stroke="{red}" stroke-width="6">',
            '<circle cx="35" cy="33" r="26"/>',
            '<path d="M16.6 14.6L53.4 51.4"/>',
            "</g>",
            _text("KEEP OFF", x=35, y=71.0, capital=5.4, weight="Bold", anchor="middle",
                  tracking=0.06),
            _text("THE WHEEL", x=35, y=79.4, capital=5.4, weight="Bold", anchor="middle",
                  tracking=0.06),
        ],
    )  # fmt: skip


def _paddle_wheel() -> list[str]:
    """A wheel of eight broad floats, coarse enough to be read from across the yard."""
    floats = [
        f'<path transform="rotate({45 * k})" d="M-.9-4.2H.9V-10H2.6V-11.4H-2.6V-10H-.9Z"/>'
        for k in range(8)
    ]
    rim = f"{_disc(0, 0, 7.6)}{_disc(0, 0, 6.2)}"
    return [*floats, f'<path fill-rule="evenodd" d="{rim}"/>', f'<path d="{_disc(0, 0, 4.4)}"/>',
            f'<path fill="#fff" d="{_disc(0, 0, 1.8)}"/>']  # fmt: skip


def valve_tag() -> bytes:
    """A brass valve tag, 50 x 30 mm with round ends: what is dark stands proud."""
    return _sheet(
        50,
        30,
        "Valve tag",
        [
            f'<path d="{_disc(8, 15, 3.6)}"/>',
            _frame(2, 2, 46, 26, radius=13, thickness=0.8),
            _text("V7", x=29, y=15.8, capital=9.4, weight="Bold", anchor="middle", tracking=0.02),
            _text("BYPASS", x=29, y=20.9, capital=3.3, weight="Bold", anchor="middle",
                  tracking=0.1),
            f'<path d="{_arrow(20.4, 37.6, 24.0)}"/>',
        ],
    )  # fmt: skip


def emblem_png() -> bytes:
    """The emblem alone, 24 x 24 mm, as a grey antialiased PNG at 600 dpi."""
    import resvg_py
    from PIL import Image

    side = 567  # 24 mm at 600 dpi
    unit = 600 / 25.4
    body = _placed(emblem(), x=12, y=11.4, scale=1.06)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}" height="{side}" '
        f'viewBox="0 0 {side / unit:.6f} {side / unit:.6f}">'
        f'<rect width="25" height="25" fill="#fff"/>{body}</svg>'
    )
    image = Image.open(io.BytesIO(resvg_py.svg_to_bytes(svg_string=svg, dpi=96))).convert("L")
    out = io.BytesIO()
    image.save(out, "PNG", dpi=(600, 600))
    return out.getvalue()


def starter_plate() -> bytes:
    """The starter's plate: 72 x 32 mm, a border and two lines to be replaced."""
    return _sheet(
        72,
        32,
        "Starter plate",
        [
            _frame(0.5, 0.5, 71, 31, radius=3, thickness=0.9),
            _text("GATE 1", x=36, y=15.6, capital=8, weight="Bold", anchor="middle", tracking=0.02),
            f'<path d="{_box(20, 19.2, 32, 0.5, 0.2)}"/>',
            _text("OPEN ON THE EBB", x=36, y=25.4, capital=3.2, anchor="middle", tracking=0.06),
        ],
    )  # fmt: skip


def starter_sign() -> bytes:
    """The starter's sign: 120 x 50 mm, one word and a line under it."""
    return _sheet(
        120,
        50,
        "Starter sign",
        [
            _frame(3, 3, 114, 44, radius=4, thickness=1),
            _text("OFFICE", x=60, y=27.5, capital=13, weight="Bold", anchor="middle",
                  tracking=0.04),
            _text("Please knock", x=60, y=39, capital=5, weight="Medium", anchor="middle"),
        ],
    )  # fmt: skip


SHEETS: dict[Path, Callable[[], bytes]] = {
    HERE / "winch-plate" / "winch-plate.svg": winch_plate,
    HERE / "emblem-tag" / "emblem.png": emblem_png,
    HERE / "visitors-sign" / "visitors-sign.svg": visitors_sign,
    HERE / "sluice-board" / "sluice-board.svg": sluice_board,
    HERE / "wheel-board" / "wheel-board.svg": wheel_board,
    HERE / "valve-tag" / "valve-tag.svg": valve_tag,
    STARTERS / "plate" / "artwork.svg": starter_plate,
    STARTERS / "sign" / "artwork.svg": starter_sign,
}


def _sheet(width: float, height: float, title: str, elements: list[str]) -> bytes:
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">',
        f"<title>{title}</title>",
        f"<desc>{CREDIT}</desc>",
        *elements,
        "</svg>",
    ]
    return ("\n".join(lines) + "\n").encode()


def _text(text: str, *, fill: str = "", **setting: float | str) -> str:
    paint = f' fill="{fill}"' if fill else ""
    return f'<path{paint} d="{line(text, **setting).path}"/>'  # type: ignore[arg-type]


def _placed(elements: list[str], *, x: float, y: float, scale: float) -> str:
    inside = "\n".join(elements)
    return f'<g transform="translate({x:g} {y:g}) scale({scale:g})">\n{inside}\n</g>'


def _plate_border(inset: float) -> str:
    """The plate's outline, drawn in by `inset`, with a bay round the screw hole at each end."""
    x0, y0, x1, y1 = inset, inset, 92 - inset, 52 - inset
    hole = (2.5, 26.0)
    bay = 3.3 + inset
    reach = math.sqrt(bay**2 - (x0 - hole[0]) ** 2)
    up, down, corner = hole[1] - reach, hole[1] + reach, 3.4 - inset
    arc = f"A{corner:g} {corner:g} 0 0 1"
    bay_arc = f"A{bay:g} {bay:g} 0 {int(x0 < hole[0])} 0"
    return (
        f"M{x0 + corner:g} {y0:g}H{x1 - corner:g}{arc} {x1:g} {y0 + corner:g}V{up:.4f}"
        f"{bay_arc} {x1:g} {down:.4f}V{y1 - corner:g}{arc} {x1 - corner:g} {y1:g}"
        f"H{x0 + corner:g}{arc} {x0:g} {y1 - corner:g}V{down:.4f}"
        f"{bay_arc} {x0:g} {up:.4f}V{y0 + corner:g}{arc} {x0 + corner:g} {y0:g}Z"
    )


def _frame(
    x: float,
    y: float,
    width: float,
    height: float,
    *,
    radius: float,
    thickness: float,
    fill: str = "",
) -> str:
    """A border line with round corners, `radius` and size taken over its outside."""
    outer = _box(x, y, width, height, radius)
    t = thickness
    inner = _box(x + t, y + t, width - 2 * t, height - 2 * t, radius - t)
    paint = f' fill="{fill}"' if fill else ""
    return f'<path{paint} fill-rule="evenodd" d="{outer}{inner}"/>'


def _box(x: float, y: float, width: float, height: float, radius: float) -> str:
    arc = f"a{radius:g} {radius:g} 0 0 1"
    across, along, r = width - 2 * radius, height - 2 * radius, radius
    return (
        f"M{x + r:g} {y:g}h{across:g}{arc} {r:g} {r:g}v{along:g}{arc} {-r:g} {r:g}"
        f"h{-across:g}{arc} {-r:g} {-r:g}v{-along:g}{arc} {r:g} {-r:g}Z"
    )


def _disc(x: float, y: float, r: float) -> str:
    return f"M{x - r:g} {y:g}a{r:g} {r:g} 0 1 1 {2 * r:g} 0a{r:g} {r:g} 0 1 1 {-2 * r:g} 0Z"


def _swelled_rule(x0: float, x1: float, y: float, thickness: float) -> str:
    """A printer's rule that swells towards its middle and runs out to a point at each end."""
    middle, half, tip = (x0 + x1) / 2, thickness / 2, 0.1 * (x1 - x0)
    top, bottom = y - half, y + half
    return (
        f"M{x0:g} {y:g}C{x0 + tip:g} {top:g} {middle - tip:g} {top:g} {middle:g} {top:g}"
        f"S{x1 - tip:g} {top:g} {x1:g} {y:g}C{x1 - tip:g} {bottom:g} {middle + tip:g} {bottom:g} "
        f"{middle:g} {bottom:g}S{x0 + tip:g} {bottom:g} {x0:g} {y:g}Z"
    )


def _tile(figure_text: str, *, x: float, y: float, width: float, height: float) -> str:
    """A solid tile with the number left standing in it, white over dark."""
    capital = 0.66 * height
    figure = line(
        figure_text, x=x + width / 2, y=y + (height + capital) / 2, capital=capital,
        weight="Bold", anchor="middle",
    )  # fmt: skip
    return f'<path d="{_box(x, y, width, height, 1.4)}"/>\n<path fill="#fff" d="{figure.path}"/>'


def _arrow(x0: float, x1: float, y: float) -> str:
    """An arrow to the right with a stem 1 mm wide."""
    neck = x1 - 2.6
    return (
        f"M{x0:g} {y - 0.5:g}H{neck:g}V{y - 1.5:g}L{x1:g} {y:g}"
        f"L{neck:g} {y + 1.5:g}V{y + 0.5:g}H{x0:g}Z"
    )


if __name__ == "__main__":
    main()
