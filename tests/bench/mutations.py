"""Ways to change a job file or a drawing: mildly, so that it is read far, or wildly.

Mild: values that the model calls usual, valid and odd drawings, numbers a little off. Wild: extreme
numbers, values exchanged among documents and for hostile ones, lines dropped and doubled, bytes
flipped.
"""

from __future__ import annotations

import io
import math
import re

from jobs.model_values import ROADS, as_toml, ends, given, keys, plausible, road_of, with_value

NUMBERS = [b"0", b"-1", b"1e-9", b"1e9", b"-1e9", b"1e38", b"NaN", b"0.5", b"1e308", b"7", b"-0",
           b"65536", b"4294967296"]  # fmt: skip
VALUES = [b"none", b"inherit", b"url(#a)", b"url(#gone)", b"currentColor", b"var(--x)",
          b"calc(1px)",
          b"100%", b"", b"color-mix(in srgb, red, blue)", b"\xc3\xa9", b"&amp;", b"auto", b"bold",
          b"translate(1e9)", b"rotate(45)", b"matrix(0 0 0 0 0 0)", b"evenodd",
          b"objectBoundingBox", b"userSpaceOnUse", b"non-scaling-stroke", b"scale(0)",
          b"0 0 0 0"]  # fmt: skip
_NUMBER = rb"-?\d+\.?\d*(?:e-?\d+)?"
_KEYS = list(keys())


def odd_job(chance):
    """A job of one road with one to six values changed, nearly all as a shop might have them."""
    road = chance.choice(list(ROADS))
    job = ROADS[road]
    for _ in range(chance.randint(1, 6)):
        path, key = chance.choice(_KEYS)
        if path[0] not in job or path in (("tables", "file"), ("blank", "worked_side")):
            continue
        if road_of(path) != road and path[0] in ("etch", "coat", "light", "film", "stencil"):
            continue
        way = chance.random()
        if way < 0.8:
            job = given(job, path, plausible(key, chance))
        elif way < 0.9 and (bounds := ends(key)):
            job = given(job, path, chance.choice(bounds))
        elif not key.is_required:
            job = with_value(job, path, None)
    return as_toml(job).encode()


def odd_svg(chance):
    """A valid drawing of a few odd shapes under odd transforms."""
    shapes = "".join(_odd_shape(chance, depth=0) for _ in range(chance.randint(1, 6)))
    box = chance.choice(["0 0 40 24", "-20 -12 40 24", "0 0 400 240", "3 3 0.4 0.24"])
    rule = chance.choice(["", ' fill-rule="evenodd"', ' stroke-linejoin="round"'])
    extra = chance.choice(["", "<style>.a{fill:#555}.b{stroke:#000;fill:none}</style>"])
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="24mm" viewBox="{box}"{rule}>'
        f'{extra}<defs><clipPath id="c"><circle cx="20" cy="12" r="9"/></clipPath>'
        f'<g id="u"><rect width="6" height="3"/></g></defs>{shapes}</svg>'
    ).encode()


def _odd_shape(chance, *, depth):
    def number(most=40.0):
        return f"{chance.choice([chance.uniform(-most / 4, most), chance.randint(0, 12)]):.4g}"

    def points(count):
        return " ".join(number() for _ in range(2 * count))

    kinds = ["rect", "circle", "ellipse", "line", "polyline", "polygon", "path", "path", "text",
             "use", "group"]  # fmt: skip
    kind = chance.choice(kinds if depth < 3 else kinds[:7])
    look = _look(chance, number)
    if kind == "group":
        inner = "".join(_odd_shape(chance, depth=depth + 1) for _ in range(chance.randint(0, 3)))
        return f"<g{look}>{inner}</g>"
    if kind == "path":
        return f'<path{look} d="{_path(chance, number, points)}"/>'
    if kind in ("polyline", "polygon"):
        return f'<{kind}{look} points="{points(chance.randint(1, 30))}"/>'
    if kind == "text":
        size = chance.choice(["3", "0.5", "11", "1e-3"])
        return (
            f'<text{look} x="{number()}" y="{number()}" font-size="{size}">Sluice &#8470; 3</text>'
        )
    named = {
        "rect": ("x", "y", "width", "height", "rx"),
        "circle": ("cx", "cy", "r"),
        "ellipse": ("cx", "cy", "rx", "ry"),
        "line": ("x1", "y1", "x2", "y2"),
        "use": ("x", "y"),
    }[kind]
    told = " ".join(f'{name}="{number(20).lstrip("-")}"' for name in named)
    shown = ' href="#u"' if kind == "use" else ""
    return f"<{kind}{look} {told}{shown}/>"


def _path(chance, number, points):
    parts = [f"M{points(1)}"]
    for _ in range(chance.randint(1, 12)):
        letter = chance.choice("LlHhVvCcSsQqTtAaZzMm")
        count = {"L": 1, "C": 3, "S": 2, "Q": 2, "T": 1, "M": 1}.get(letter.upper())
        if letter in "Aa":
            flags = f"{chance.randint(0, 1)} {chance.randint(0, 1)}"
            parts.append(
                f"{letter}{number(9)} {number(9)} {chance.randint(0, 180)} {flags} {points(1)}"
            )
        elif letter in "HhVv":
            parts.append(f"{letter}{number()}")
        else:
            parts.append(letter + (points(count) if count else ""))
    return "".join(parts)


def _look(chance, number):
    ways = (
        f' transform="rotate({chance.randint(0, 360)} 20 12)"',
        f' transform="scale({chance.choice([-1, 0.1, 3, 1e-3])} 1) translate({number(9)} 2)"',
        f' transform="skewX({chance.randint(-80, 80)})"',
        f' stroke="#000" stroke-width="{abs(float(number(3))):.3g}"',
        ' fill="none" stroke="#111" stroke-dasharray="3 1 0 2"',
        ' fill="none" stroke="black" stroke-width="0.2" stroke-linecap="square"',
        ' fill="#fff"', ' fill="#777"', ' opacity="0.6"', ' fill-opacity="0.3"',
        ' clip-path="url(#c)"', ' class="a"', ' class="b"', ' display="none"',
        ' fill-rule="evenodd"',
    )  # fmt: skip
    return "".join(
        {way.split("=")[0]: way for way in chance.sample(ways, chance.randint(0, 3))}.values()
    )


def odd_picture(chance):
    """A small picture of some mode, size, depth and content, in some format."""
    import numpy as np
    from PIL import Image

    wide, high = (round(math.exp(chance.uniform(0, 5.3))) for _ in range(2))
    noise = np.random.default_rng(chance.randrange(2**32))
    y, x = np.indices((high, wide))
    grey = {
        "noise": noise.integers(0, 256, (high, wide)),
        "stripes": (x // chance.randint(1, 9)) % 2 * 255,
        "checks": ((x // 3 + y // 3) % 2) * 255,
        "disc": np.where((x - wide / 2) ** 2 + (y - high / 2) ** 2 < (wide / 3) ** 2, 0, 255),
        "slope": x * 255 // max(wide - 1, 1),
        "flat": np.full((high, wide), chance.choice([0, 128, 255])),
    }[chance.choice(["noise", "stripes", "checks", "disc", "slope", "flat"])]
    modes = {
        "PNG": ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"],
        "JPEG": ["L", "RGB", "CMYK"],
        "TIFF": ["1", "L", "RGB", "CMYK", "I;16", "F"],
        "BMP": ["1", "L", "P", "RGB"],
        "WEBP": ["RGB", "RGBA"],
    }
    form = chance.choice(list(modes))
    mode = chance.choice(modes[form])
    image = Image.fromarray(grey.astype("uint8"))
    if mode == "I;16":
        image = Image.fromarray((grey * 257).astype("uint16"))
    else:
        image = image.convert(mode)
    how = (
        {}
        if form == "WEBP" or chance.random() < 0.5
        else {"dpi": (chance.choice([1, 96, 600]),) * 2}
    )
    buffer = io.BytesIO()
    image.save(buffer, form, **how)
    return buffer.getvalue()


def a_little_off(data, chance):
    """Change one to five numbers of a text by a factor or a step; whole ones stay whole."""
    for _ in range(chance.randint(1, 5)):
        found = _spots(_NUMBER, data)
        if not found:
            break
        a, b = chance.choice(found)
        try:
            old = float(data[a:b])
        except ValueError:
            continue
        new = old * chance.choice([0.01, 0.5, 0.9, 1.1, 2, 30, -1]) + chance.choice([0, 0, 1, -1])
        is_whole = b"." not in data[a:b] and b"e" not in data[a:b]
        data = data[:a] + (b"%d" % round(new) if is_whole else b"%.6g" % new) + data[b:]
    return data


def mutated(data, others, chance):
    """Change a file wildly in one to five places."""
    for _ in range(chance.randint(1, 5)):
        way = chance.random()
        if way < 0.35 and (found := _spots(_NUMBER, data)):
            a, b = chance.choice(found)
            data = data[:a] + chance.choice(NUMBERS) + data[b:]
        elif way < 0.6 and (found := _spots(rb'(?<==")[^"]*(?=")', data)):
            a, b = chance.choice(found)
            other = chance.choice(others)
            theirs = _spots(rb'(?<==")[^"]*(?=")', other)
            value = chance.choice(VALUES)
            if theirs and chance.random() < 0.5:
                c, d = chance.choice(theirs)
                value = other[c:d]
            data = data[:a] + value + data[b:]
        elif way < 0.75:
            lines = data.split(b"\n")
            k = chance.randrange(len(lines))
            lines[k : k + 1] = [lines[k]] * chance.choice([0, 2, 3])
            data = b"\n".join(lines)
        elif way < 0.9:
            a = chance.randrange(len(data) + 1)
            other = chance.choice(others)
            c = chance.randrange(len(other) + 1)
            data = data[:a] + other[c : c + chance.randint(1, 200)] + data[a:]
        elif data:
            k = chance.randrange(len(data))
            data = data[:k] + bytes([chance.randrange(256)]) + data[k + 1 :]
    return data


def _spots(pattern, data):
    """Where a pattern occurs, in the first 200 kB."""
    return [match.span() for match in re.finditer(pattern, data[:200_000])]
