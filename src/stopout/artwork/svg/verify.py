"""What the check rendering of a document has to say about what was read.

The rendering is given the document as it came, so that it knows nothing of the rewriting. Where it
differs, the reason may be the rendering itself, which does not know all of SVG; then the rewritten
document is rendered as well, and the findings name what only one reader has seen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from stopout.artwork.check import Disagreement
from stopout.artwork.svg.source import SvgSource
from stopout.errors import ArtworkError
from stopout.values import Finding

# A disagreement above this is refused, below it is told.
_WRONG_MM2 = 0.03
_MOST_NAMED = 4
# Of this the rendering shows nothing at all, also where it agrees.
_UNSEEN = "vector-effect"


def verified(
    source: SvgSource,
    differing: Callable[[bytes], list[Disagreement]],
    height_mm: float,
    *,
    name: str,
) -> list[Finding]:
    """Hold what was read against the check rendering.

    Parameters
    ----------
    source : SvgSource
        The document as it came and as it was rewritten, and what each reader does not know.
    differing : callable
        Renders a document and returns where what was read differs from it, the largest first.
    height_mm : float
        Height of the page, from which places are counted upwards.

    Raises
    ------
    ArtworkError
        If the rendering contradicts what was read, or shows that something left out matters.
    """
    notes = [_note(words) for _, words in source.effects]
    if source.given is not None:
        found = _tried(differing, source.given)
        if found == []:
            return notes + _unconfirmed([what for what in source.alone if what.startswith(_UNSEEN)])
        if found is not None and not (source.alone or source.effects):
            return _doubted(found, height_mm, name=name)
    rewritten = differing(source.shown)
    if rewritten and rewritten[0].area_mm2 > _WRONG_MM2:
        return _doubted(rewritten, height_mm, name=name)
    if source.given is not None and found and source.effects and found[0].area_mm2 > _WRONG_MM2:
        raise ArtworkError(_asked(source, found[0], height_mm, name=name))
    told = _doubted(rewritten, height_mm, name=name) if rewritten else []
    if source.given is not None:
        told += _unconfirmed(source.alone)
    return notes + told


def _tried(
    differing: Callable[[bytes], list[Disagreement]], document: bytes
) -> list[Disagreement] | None:
    """What differs; None where the renderer cannot draw the document as it came."""
    try:
        return differing(document)
    except ArtworkError:
        return None


def _doubted(found: Sequence[Disagreement], height_mm: float, *, name: str) -> list[Finding]:
    worst = found[0]
    what = "lacks something that" if worst.is_missing else "holds something that"
    also = "shows" if worst.is_missing else "does not show"
    place = _place(worst, height_mm, len(found))
    if worst.area_mm2 > _WRONG_MM2:
        raise ArtworkError(
            f"{name}: what was read {what} a second, independent rendering {also}, {place}; "
            "simplify the shapes there: expand styles, strokes and clips to plain outlines"
        )
    return [
        Finding.caution(
            "artwork-doubtful",
            f"what was read {what} a second rendering {also}, {place}",
            remedy="Compare the preview with the artwork there.",
            at_mm=worst.at_mm,
        )
    ]


def _place(worst: Disagreement, height_mm: float, count: int) -> str:
    x, y = worst.at_mm
    return (
        f"near ({x:.1f}, {height_mm - y:.1f}) mm from the page's lower left corner "
        f"({worst.area_mm2:.2f} mm2, {count} places in all)"
    )


def _asked(source: SvgSource, worst: Disagreement, height_mm: float, *, name: str) -> str:
    named = ", ".join(f'"{what}"' for what in dict.fromkeys(what for what, _ in source.effects))
    lines = [f"{name}: {words}" for _, words in source.effects[:_MOST_NAMED]]
    lines.append(
        f"{name}: without it the artwork is not the same {_place(worst, height_mm, 1)}: draw it as "
        f"plain shapes, or have the piece made without by artwork.leave_out = [{named}]"
    )
    return "\n".join(lines)


def _unconfirmed(alone: Sequence[str]) -> list[Finding]:
    if not alone:
        return []
    named = "; ".join(alone[:_MOST_NAMED])
    more = f"; and {len(alone) - _MOST_NAMED} more" if len(alone) > _MOST_NAMED else ""
    return [
        Finding.caution(
            "artwork-unconfirmed",
            f"the check rendering does not know all that was read: {named}{more}",
            remedy="Compare the preview with the artwork there.",
        )
    ]


def _note(words: str) -> Finding:
    return Finding.note(
        "artwork-ignored",
        f"{words}; what is dark stays the same",
        remedy="Nothing needs to be done.",
    )
