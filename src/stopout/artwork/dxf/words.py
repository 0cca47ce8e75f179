"""What there is to say about a drawing: what is asked, and what was done."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.fonts.book import FONT_ENDINGS
from stopout.artwork.regions.curves import Affine, ComplexArray
from stopout.artwork.regions.painter import WHITE, Paint
from stopout.artwork.tone import is_dark
from stopout.values import Finding

# Deeper within an area than any two layers that draw the same edge lie apart.
_DEEP_MM = 0.02


def lettering_told(
    found: Any, fonts: Sequence[Path], family: str
) -> tuple[list[str], list[Finding]]:
    """What its lettering and what it holds besides lines need: faults, and findings."""
    faults = [
        f"layer '{layer}' holds {kind}{_times(count)}, which is not read; draw its outlines, or "
        f'leave the layer out by artwork.leave_out = ["{layer}"]'
        for (kind, layer), count in sorted(found.left.items())
    ]
    at_hand = {path.name.lower() for path in fonts}
    findings = []
    asked: Counter[str] = Counter()
    for (style, font), count in sorted(found.styles.items()):
        if font.lower().endswith(FONT_ENDINGS) and font.lower() not in at_hand:
            if "barlow" not in font.lower():
                faults.append(
                    f"the lettering of style '{style}' is set in {font}, which is not at hand; "
                    "name its file in artwork.fonts, or turn the lettering into outlines"
                )
        elif font.lower() not in at_hand:
            asked[font or "a font that the drawing does not name"] += count
    if asked:
        findings.append(
            Finding.caution(
                "artwork-ignored",
                f"the lettering in {', '.join(asked)} is set in '{family}', whose letters look "
                "different and may be wider",
                "Compare the preview with the artwork, or turn the lettering into outlines.",
            )
        )
    missing = "" if family != "Barlow" else _missing(found.words, fonts)
    turned = sorted(s for s in found.words if unicodedata.bidirectional(s) in ("R", "AL"))
    if turned:
        faults.append(
            f"lettering from right to left ({''.join(turned[:20])}) is not laid out; turn it into "
            "outlines"
        )
    if missing:
        faults.append(
            f"no font at hand has the characters {missing}; name a font's file in artwork.fonts, "
            "or turn the lettering into outlines"
        )
    return faults, findings


def _missing(words: set[str], fonts: Sequence[Path]) -> str:
    import uharfbuzz as hb

    from stopout.artwork.fonts.book import font_folder

    files = [font_folder() / "Barlow-Regular.ttf", *fonts]
    faces = [hb.Font(hb.Face(hb.Blob(path.read_bytes()))) for path in files]
    lost = sorted(
        sign
        for sign in words
        if sign.isprintable()
        and not sign.isspace()
        and not any(face.get_nominal_glyph(ord(sign)) for face in faces)
    )
    return "".join(lost[:20])


def open_told(loose: dict[tuple[str, str], list[ComplexArray]], *, to_mm: Affine) -> list[str]:
    """Lines that neither close nor have a width, by layer, with the first of them."""
    faults = []
    for (layer, kind), chains in sorted(loose.items()):
        how = f'leave the layer out by artwork.leave_out = ["{layer}"]'
        if kind == "hatch":
            faults.append(
                f"layer '{layer}' holds a hatch of lines without a width; fill it solid, or {how}"
            )
            continue
        first = min(chains, key=lambda chain: abs(chain[0] - chain[-1]))
        ends = [_in_drawing(point, to_mm) for point in (first[0], first[-1])]
        faults.append(
            f"layer '{layer}': {len(chains)} line{'' if len(chains) == 1 else 's'} without a width "
            f"{'does' if len(chains) == 1 else 'do'} not close; the nearest ends, "
            f"{abs(first[0] - first[-1]):.3g} mm apart, are at {ends[0]} and {ends[1]} of the "
            f"drawing: close the outline, give the lines a line weight, or {how}"
        )
    return faults


def _in_drawing(point: complex, to_mm: Affine) -> str:
    matrix = np.array([[to_mm.a, to_mm.c], [to_mm.b, to_mm.d]])
    x, y = np.linalg.solve(matrix, [point.real - to_mm.e, point.imag - to_mm.f])
    return f"({x:.4g}, {y:.4g})"


def notes_told(found: Any, document: Any, twice: int, weighed: Counter[str]) -> list[Finding]:
    """What was read how: layers, outlines drawn twice, lines with a weight, what is hidden."""
    layers = Counter(item.layer for item in found.items)
    told = ", ".join(f"{layer} ({count})" for layer, count in layers.most_common(8))
    more = f" and {len(layers) - 8} more" if len(layers) > 8 else ""
    findings = [
        Finding.note(
            "artwork-layers",
            f"closed outlines, hatches and lettering were read as areas; pieces by layer: "
            f"{told}{more}",
            remedy="A layer that is not meant is left out by artwork.leave_out.",
        )
    ]
    if twice:
        findings.append(
            Finding.note(
                "artwork-cleaned",
                f"{twice} outline{'' if twice == 1 else 's'} drawn twice count once",
                remedy="Nothing needs to be done.",
            )
        )
    for layer, count in sorted(weighed.items()):
        findings.append(
            Finding.caution(
                "artwork-ignored",
                f"layer '{layer}': {count} closed outline{'' if count == 1 else 's'} with a line "
                "weight were read as areas, not as lines",
                "Where lines are meant, give the polylines a width.",
            )
        )
    if found.points:
        findings.append(
            Finding.note(
                "artwork-ignored",
                f"{found.points} points have no size and were left out",
                remedy="Draw circles where dots are meant.",
            )
        )
    hidden = _hidden(document)
    if hidden:
        findings.append(
            Finding.note(
                "artwork-ignored",
                "layers that are off or frozen were left out: " + ", ".join(hidden[:8]),
                remedy="Turn on the ones that are meant.",
            )
        )
    return findings


def _hidden(document: Any) -> list[str]:
    off = {layer.dxf.name for layer in document.layers if layer.is_off() or layer.is_frozen()}
    # What is no entity at all has no layer to be asked for.
    entities = [e for e in document.modelspace() if e.dxf.is_supported("layer")]
    used = {entity.dxf.get("layer", "0") for entity in entities}
    return sorted(off & used)


def colours_told(paints: Sequence[Paint], threshold: float | None) -> list[Finding]:
    """Colours that would be light in any other file."""
    used = 0.5 if threshold is None else threshold
    pale = sorted(
        {
            (paint.source, "#{:02x}{:02x}{:02x}".format(*map(round, paint.colour)))
            for paint in paints
            if not is_dark(paint.colour, threshold=used) and paint.colour != (255.0, 255.0, 255.0)
        }
    )
    if not pale:
        return []
    named = ", ".join(f"{colour} on layer '{layer}'" for layer, colour in pale[:6])
    return [
        Finding.note(
            "artwork-layers",
            f"colours of a DXF are pens: {named} count as dark too; only white cuts out",
            remedy="Leave out a layer that is not meant by artwork.leave_out.",
        )
    ]


def covered_told(paints: Sequence[Paint]) -> list[Finding]:
    """Layers that lie within the area of another, such as artwork within the plate's outline."""
    if len({paint.source for paint in paints}) < 2:
        return []
    inks: dict[str, list[BaseGeometry]] = {}
    for paint in paints:
        if paint.colour != WHITE:
            inks.setdefault(paint.source, []).append(paint.region)
    whole = {layer: shapely.union_all(parts) for layer, parts in inks.items()}
    findings = []
    for layer, area in whole.items():
        deep = area.buffer(-_DEEP_MM)
        hidden = sorted(
            other
            for other, ink in whole.items()
            if other != layer and ink.area < area.area and deep.contains(ink)
        )
        if hidden:
            named = ", ".join(f"'{other}'" for other in hidden[:8])
            findings.append(
                Finding.caution(
                    "layer-covered",
                    f"the closed outlines of layer '{layer}' are read as areas, and nothing is "
                    f"seen of what lies within them on layer{'' if len(hidden) == 1 else 's'} "
                    f"{named}",
                    f'Where it is not meant, leave it out: artwork.leave_out = ["{layer}"].',
                )
            )
    return findings


def _times(count: int) -> str:
    return "" if count == 1 else f" ({count} times)"
