"""The scale bar that is printed and laid beside a coupon for a photograph."""

from __future__ import annotations

# From the middle of one end's disc to that of the other.
BAR_MM = 40.0
_DISC_MM = 3.0
_WIDE_MM, _HIGH_MM = 56.0, 14.0


def bar_svg() -> bytes:
    """Return the bar as an SVG at full size: two discs, a line between, how to use it."""
    y, left = 4.5, (_WIDE_MM - BAR_MM) / 2
    right = left + BAR_MM
    words = (
        (9.6, f"{BAR_MM:g} mm from disc to disc, printed at full size. Measure it with a rule,"),
        (12.0, "lay it beside the coupon at the height of its face: --bar LENGTH"),
    )
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE_MM:g}mm" height="{_HIGH_MM:g}mm" '
        f'viewBox="0 0 {_WIDE_MM:g} {_HIGH_MM:g}">',
        f'<rect width="{_WIDE_MM:g}" height="{_HIGH_MM:g}" fill="#ffffff"/>',
        *(
            f'<circle cx="{x:g}" cy="{y:g}" r="{_DISC_MM / 2:g}" fill="#000000"/>'
            for x in (left, right)
        ),
        f'<path d="M{left + 2.5:g},{y:g}H{right - 2.5:g}" stroke="#000000" stroke-width="0.3"/>',
        *(
            f'<text x="{_WIDE_MM / 2:g}" y="{at:g}" font-family="sans-serif" font-size="1.7" '
            f'text-anchor="middle" fill="#000000">{line}</text>'
            for at, line in words
        ),
        "</svg>",
    ]
    return ("\n".join(rows) + "\n").encode()
