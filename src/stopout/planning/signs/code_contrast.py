"""Codes on a sign: whether their modules stand out from what lies about them, the dark way round.

A verifier's symbol contrast is the light reflectance less the dark one; below 40 % a symbol has
grade D or F (ISO/IEC 15415 and 15416, from memory). The tints' relative luminance stands for both.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.planning.signs.contrast import contrast_ratio
from stopout.planning.signs.tints import luminance
from stopout.values import DrawnCode, Finding

_NEEDED = 0.40
# ISO/IEC 18004 and 16022 allow a symbol in light on dark, 15417 does not (from memory).
_LIGHT_ON_DARK = {
    "qr": "the standard allows it, and many readers do not read it",
    "data-matrix": "the standard allows it, and many readers do not read it",
    "code-128": "a bar code is read by dark bars on light ground only",
}


def code_contrast_findings(
    codes: Sequence[DrawnCode],
    names: Sequence[str],
    tints: Sequence[str | None],
    views: Sequence[BaseGeometry],
) -> list[Finding]:
    """Say which codes of a sign stand out too little, or are light on dark.

    Parameters
    ----------
    codes : sequence of DrawnCode
        As seen.
    names : sequence of str
        What each coat's colour is called.
    tints : sequence of str or None
        `#rrggbb` of each coat; None where nobody knows, or for a window to light: not judged.
    views : sequence of BaseGeometry
        Where each coat is seen, as seen.

    Returns
    -------
    list of Finding
        Places as seen.
    """
    parts = [shapely.get_parts(view) for view in views] if codes else []
    trees = [shapely.STRtree(own) for own in parts]
    found: list[Finding] = []
    for code in codes:
        zone = shapely.box(*code.quiet_mm)
        seen = [own[tree.query(zone)] for own, tree in zip(parts, trees, strict=True)]
        k, ground = (_most(seen, place) for place in (code.dark, zone.difference(code.dark)))
        modules, about = tints[k], tints[ground]
        if k == ground or modules is None or about is None:
            continue
        found += _too_faint(code, (k, modules), (ground, about), names)
        found += _light_on_dark(code, (k, modules), (ground, about), names)
    return found


def _most(seen: Sequence[Sequence[BaseGeometry]], place: BaseGeometry) -> int:
    """Return the coat that shows most of a place."""
    return int(np.argmax([shapely.area(shapely.intersection(own, place)).sum() for own in seen]))


def _too_faint(
    code: DrawnCode, modules: tuple[int, str], about: tuple[int, str], names: Sequence[str]
) -> Iterator[Finding]:
    dark, light = sorted((modules, about), key=lambda one: luminance(one[1]))
    share = luminance(light[1]) - luminance(dark[1])
    if share >= _NEEDED:
        return
    # One that is lighter than 40 % has room for a darker beside it, any other for a lighter.
    if luminance(light[1]) >= _NEEDED:
        remedy = f"Take a darker paint for coat {dark[0] + 1}: black would do."
    else:
        remedy = f"Take a lighter paint for coat {light[0] + 1}: white would do."
    yield Finding.caution(
        "code-contrast",
        f"{_called(code, modules[0], about[0], names)} stands out {100 * share:.0f} % only "
        f"({contrast_ratio(dark[1], light[1]):.1f} to 1): below 40 % a symbol is graded D or F "
        "(ISO/IEC 15415, 15416), and many readers will not read it",
        remedy,
        at_mm=_middle(code),
    )


def _light_on_dark(
    code: DrawnCode, modules: tuple[int, str], about: tuple[int, str], names: Sequence[str]
) -> Iterator[Finding]:
    (k, tint), (ground, other) = modules, about
    if luminance(tint) <= luminance(other):
        return
    yield Finding.caution(
        "code-inverted",
        f"{_called(code, k, ground, names)} is light on dark: {_LIGHT_ON_DARK[code.kind]}",
        f"Swap the shows of coats {min(k, ground) + 1} and {max(k, ground) + 1} and write "
        f'as = "{names[ground]}" in the [[code]], or mark it on a label.',
        kind="bars" if code.kind == "code-128" else "squares",
        at_mm=_middle(code),
    )


def _called(code: DrawnCode, k: int, ground: int, names: Sequence[str]) -> str:
    return f'the code "{code.content[:40]}", {names[k]} on {names[ground]},'


def _middle(code: DrawnCode) -> tuple[float, float]:
    x0, y0, x1, y1 = code.box_mm
    return ((x0 + x1) / 2, (y0 + y1) / 2)
