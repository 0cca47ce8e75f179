"""What is wrong with the piece as a whole, before any single place: mirrored, or all edges off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stopout.values import Measured

if TYPE_CHECKING:
    from stopout.scans.inspecting.piece import Inspection

_IF_ASSUMED = "; whether it is cleared or etched is assumed: give --stage"


def all_edges_off(found: Inspection) -> Measured | None:
    """How far all edges lie outside their places together, where that passes the tolerance.

    Returns
    -------
    Measured or None
        In mm, outwards positive; None within the tolerance, or where the scan cannot tell.
    """
    off = found.all_edges_mm
    if abs(off.value) <= found.tolerance_mm or abs(off.value) <= 2 * off.sd:
        return None
    return off


def is_mirror_wrong(found: Inspection) -> bool:
    """True where the scan shows the piece turned over and that was not told, or the reverse."""
    return found.lie.mirror_told and found.lie.is_mirrored != found.is_seen_through


def whole_heads(found: Inspection) -> list[str]:
    """The same as a few words each, for a picture."""
    heads = []
    if is_mirror_wrong(found):
        heads.append("MIRRORED" if found.lie.is_mirrored else "NOT TURNED OVER")
    off = all_edges_off(found)
    if off is not None:
        how = "WIDE" if off.value > 0 else "NARROW"
        heads.append(f"ALL EDGES {1000 * abs(off.value):.0f} um TOO {how}")
    return heads


def whole_words(found: Inspection) -> list[str]:
    """What to say first, one sentence each; empty where nothing is wrong with the whole."""
    said = []
    if is_mirror_wrong(found):
        if found.lie.is_mirrored:
            said.append(
                "the piece is MIRRORED or turned over in the scan: if it lay with its worked side "
                "down, it was made the wrong way round; if it is a clear piece scanned through its "
                "front, say --through-front"
            )
        else:
            said.append(
                "the piece is not turned over in the scan, though it was scanned through its "
                "front: it was made the wrong way round, or lay with its worked side down"
            )
    off = all_edges_off(found)
    if off is not None:
        um, how = 1000 * abs(off.value), "wide" if off.value > 0 else "narrow"
        cause = {
            ("cleared", "wide"): "the dose is too high or the mark is wider than planned",
            ("cleared", "narrow"): "the dose is too low or the mark is narrower than planned",
            ("etched", "wide"): "it was etched too long, or the undercut is more than planned",
            ("etched", "narrow"): "it was etched too short, or the undercut is less than planned",
        }[found.stage, how]
        said.append(
            f"all edges {um:.0f} um too {how} (standard deviation {1000 * off.sd:.0f}), every "
            f"stroke {2 * um:.0f} um: {cause}{_IF_ASSUMED if found.stage_by == 'assumed' else ''}"
        )
    return said
