"""Random signs against pictures that a browser draws; for benches, never for tests.

Run: python tests/bench/bench_signs.py [FIRST] [COUNT]
Needs the package playwright and a Chromium on the search path; without them the signs are held
against the painter of the tests' own (--plain). Many signs are drawn on one page.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.browser import browser
from signs.checking import check
from signs.random_signs import HEIGHT, WIDTH, Sign, plain_picture, random_sign

PX_PER_MM = 12.0
_COLUMNS, _ROWS = 5, 8


def browser_pictures(signs: list[Sign]) -> Iterator[np.ndarray]:
    """Draw signs in a browser, forty on a page, edges as sharp as it draws them."""
    wide, high = round(WIDTH * PX_PER_MM), round(HEIGHT * PX_PER_MM)
    with browser() as drawn:
        for first in range(0, len(signs), _COLUMNS * _ROWS):
            some = signs[first : first + _COLUMNS * _ROWS]
            body = "".join(
                f'<svg x="{k % _COLUMNS * wide}" y="{k // _COLUMNS * high}" width="{wide}" '
                f'height="{high}" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" '
                f'shape-rendering="crispEdges">{sign.svg.partition(">")[2]}'
                for k, sign in enumerate(some)
            )
            page = (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide * _COLUMNS}" '
                f'height="{high * _ROWS}">{body}</svg>'
            )
            picture = drawn.colours(page, wide * _COLUMNS, high * _ROWS)
            for k in range(len(some)):
                y, x = k // _COLUMNS * high, k % _COLUMNS * wide
                yield picture[y : y + high, x : x + wide]


def main() -> None:
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    first, count = numbers if len(numbers) == 2 else (0, *(numbers or [2000]))
    signs = [random_sign(seed) for seed in range(first, first + count)]
    pictures = (
        (plain_picture(sign, PX_PER_MM) for sign in signs)
        if "--plain" in sys.argv
        else browser_pictures(signs)
    )
    began, faults = time.monotonic(), []
    for sign, picture in zip(signs, pictures, strict=True):
        try:
            fault = check(sign, picture, PX_PER_MM)
        except Exception as failure:
            fault = f"sign {sign.seed}: {type(failure).__name__}: {failure}"
        if fault:
            faults.append(fault)
            print(fault, flush=True)
    print(f"{count} signs, {len(faults)} judged wrong, {time.monotonic() - began:.0f} s")
    raise SystemExit(bool(faults))


if __name__ == "__main__":
    main()
