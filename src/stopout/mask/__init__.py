"""The mask: target, polarity, mirror, undercut, reach, openings and lands, widths."""

from stopout.mask.bridges import Bridge, land_across, lost_bridges, lost_counters
from stopout.mask.drawn import draw_opening
from stopout.mask.lands import NarrowLand, widen_lands
from stopout.mask.offset import (
    dilate,
    dilate_by_mark,
    dilate_each_by_mark,
    erode,
    erode_by_mark,
    erode_each_by_mark,
    open_by_disc,
)
from stopout.mask.openings import Mask, ThinPlace, cleared_by, make_mask, reach_mm
from stopout.mask.regions import (
    as_multipolygon,
    count_holes,
    gathered,
    meeting,
    mirror_left_right,
    parts_of,
)
from stopout.mask.register_marks import register_marks
from stopout.mask.stencil import Tie, bridge_islands, islands_of, peel_lines, sharp_corners
from stopout.mask.target import as_worked, blank_region, make_target
from stopout.mask.widthmap import NO_WIDTHS, LocalWidths, local_widths
from stopout.mask.widths import Narrowest, narrowest, narrowest_of

__all__ = [
    "NO_WIDTHS",
    "Bridge",
    "LocalWidths",
    "Mask",
    "NarrowLand",
    "Narrowest",
    "ThinPlace",
    "Tie",
    "as_multipolygon",
    "as_worked",
    "blank_region",
    "bridge_islands",
    "cleared_by",
    "count_holes",
    "dilate",
    "dilate_by_mark",
    "dilate_each_by_mark",
    "draw_opening",
    "erode",
    "erode_by_mark",
    "erode_each_by_mark",
    "gathered",
    "islands_of",
    "land_across",
    "local_widths",
    "lost_bridges",
    "lost_counters",
    "make_mask",
    "make_target",
    "meeting",
    "mirror_left_right",
    "narrowest",
    "narrowest_of",
    "open_by_disc",
    "parts_of",
    "peel_lines",
    "reach_mm",
    "register_marks",
    "sharp_corners",
    "widen_lands",
]
