"""Random signs as SVG with their coats, some of them wrong on purpose.

Two to five colours, overlaps, rings and bars, counters, opacity, groups, white on the page and in
letters.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np

from stopout.job.record import Coat, Shows

WIDTH, HEIGHT = 32.0, 20.0
TINTS = ("#c8102e", "#1f4e8c", "#f2c200", "#2e6b3f", "#000000", "#e87722")
WHITE = "#ffffff"


@dataclass(frozen=True)
class Sign:
    """A drawing, its coats, and the mistake that was made in them ("" for none)."""

    seed: int
    svg: str
    parts: tuple[tuple, ...]
    coats: tuple[Coat, ...]
    mistake: str


def random_sign(seed: int) -> Sign:
    """Draw a sign; the same seed gives the same one."""
    rng = random.Random(seed)
    tints = rng.sample(TINTS, rng.randint(1, 3))
    ground = rng.choice(("", WHITE, rng.choice(tints)))
    body, parts = [], []
    if ground:
        _add(body, parts, ("rect", 0, 0, WIDTH, HEIGHT, ground, 1.0))
    for k in range(rng.randint(2, 6)):
        _thing(rng, rng.choice([*tints, WHITE]), k, body, parts)
    if rng.random() < 0.15:
        _add(body, parts, ("rect", 3, 3, 9, 6, rng.choice(tints), 0.2))
    used = sorted({part[-2] for part in parts if part[-1] == 1.0} - {WHITE})
    coats = [_coat(tint, "fill", tint) for tint in used]
    rng.shuffle(coats)
    # White of the page, and what is drawn white, go to the rest, wherever it stands in the order.
    coats.insert(rng.randint(0, len(coats)), _coat("white", "rest"))
    mistake = _mistake(rng, coats)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}">{"".join(body)}</svg>'
    )
    return Sign(seed=seed, svg=svg, parts=tuple(parts), coats=tuple(coats), mistake=mistake)


def _mistake(rng: random.Random, coats: list[Coat]) -> str:
    """Make a mistake in some signs' coats that must be found out."""
    named = [k for k, coat in enumerate(coats) if coat.shows.kind == "fill"]
    kind = rng.random()
    if kind < 0.12 and named and len(coats) > 2:
        coats.pop(rng.choice(named))
        return "a coat is missing"
    if kind < 0.24 and len(named) > 1:
        a, b = rng.sample(named, 2)
        one, other = coats[a], coats[b]
        coats[a] = _coat(other.colour, "fill", one.shows.value)
        coats[b] = _coat(one.colour, "fill", other.shows.value)
        return "two coats are swapped"
    return ""


def _coat(colour: str, kind: str, value: str = "") -> Coat:
    return Coat(paint="acrylic-lacquer", colour=colour, shows=Shows(kind=kind, value=value))


def _thing(rng: random.Random, fill: str, k: int, body: list, parts: list) -> None:
    """Add a ring and bar, a letter with a counter, a row in a group, a frame, a disc or a bar."""
    x, y, r = rng.uniform(5, WIDTH - 5), rng.uniform(5, HEIGHT - 5), rng.uniform(2, 6)
    wide = rng.uniform(1, 2.5)
    kind = rng.randrange(6)
    if kind == 0:
        _add(body, parts, ("ring", x, y, r, wide, rng.uniform(0, 180), fill, 1.0))
    elif kind == 1:
        body.append(f'<g id="k{k}">')
        _add(body, parts, ("rect", x - r, y - r, 2 * r, 2 * r, fill, 1.0))
        _add(body, parts, ("rect", x - r / 3, y - r / 3, r / 1.5, r / 1.5, WHITE, 1.0))
        body.append("</g>")
    elif kind == 2:
        body.append(f'<g class="row k{k}">')
        for dx in (0, 3, 6):
            _add(body, parts, ("rect", x - 4 + dx, y, 1.6, 5, fill, 1.0))
        body.append("</g>")
    elif kind == 3:
        _add(body, parts, ("frame", 2, 2, WIDTH - 4, HEIGHT - 4, wide, fill, 1.0))
    elif kind == 4:
        _add(body, parts, ("ellipse", x, y, r, r / 2, fill, 1.0))
    else:
        _add(body, parts, ("rect", x - r, y - 1.5, 2 * r, 3, fill, 1.0))


def _add(body: list, parts: list, part: tuple) -> None:
    kind, *v, fill, alpha = part
    faded = "" if alpha == 1.0 else f' opacity="{alpha:g}"'
    if kind == "rect":
        x, y, w, h = v
        text = f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="{fill}"{faded}/>'
    elif kind == "frame":
        x, y, w, h, wide = v
        text = (
            f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="none" stroke="{fill}" '
            f'stroke-width="{wide}"/>'
        )
    elif kind == "ellipse":
        x, y, rx, ry = v
        text = f'<ellipse cx="{x}" cy="{y}" rx="{rx}" ry="{ry}" fill="{fill}"/>'
    else:
        x, y, r, wide, turn = v
        text = (
            f'<g transform="rotate({turn} {x} {y})" fill="none" stroke="{fill}" '
            f'stroke-width="{wide}"><circle cx="{x}" cy="{y}" r="{r}"/>'
            f'<path d="M{x - r} {y}H{x + r}"/></g>'
        )
    body.append(text)
    parts.append(part)


def plain_picture(sign: Sign, px_per_mm: float) -> np.ndarray:
    """Paint a sign by the inequalities of its shapes: a renderer that shares nothing with others.

    Returns
    -------
    (M, N, 3) ndarray of uint8
        Row 0 on top, over white.
    """
    x, y = np.meshgrid(
        (np.arange(round(WIDTH * px_per_mm)) + 0.5) / px_per_mm,
        (np.arange(round(HEIGHT * px_per_mm)) + 0.5) / px_per_mm,
    )
    rgb = np.full((*x.shape, 3), 255.0)
    for kind, *v, fill, alpha in sign.parts:
        where = _holds(kind, v, x, y)
        tint = np.array([int(fill[k : k + 2], 16) for k in (1, 3, 5)])
        rgb[where] = alpha * tint + (1 - alpha) * rgb[where]
    return np.rint(rgb).astype(np.uint8)


def _holds(kind: str, v: list, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    if kind == "rect":
        return (x >= v[0]) & (x < v[0] + v[2]) & (y >= v[1]) & (y < v[1] + v[3])
    if kind == "ellipse":
        return ((x - v[0]) / v[2]) ** 2 + ((y - v[1]) / v[3]) ** 2 < 1
    if kind == "frame":
        half = v[4] / 2
        outer = [v[0] - half, v[1] - half, v[2] + v[4], v[3] + v[4]]
        inner = [v[0] + half, v[1] + half, v[2] - v[4], v[3] - v[4]]
        return _holds("rect", outer, x, y) & ~_holds("rect", inner, x, y)
    cx, cy, r, wide, turn = v
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    along, across = c * (x - cx) + s * (y - cy), -s * (x - cx) + c * (y - cy)
    ring = np.abs(np.hypot(x - cx, y - cy) - r) < wide / 2
    return ring | ((np.abs(along) < r) & (np.abs(across) < wide / 2))
