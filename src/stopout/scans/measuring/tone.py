"""Whether a file's grey levels are plain light or sRGB-encoded, and what it would change.

Blur mixes light. Where the file holds sRGB-encoded levels a narrow line reads too wide unless the
levels are turned back into light first; where it holds plain levels, doing so would read it too
narrow. In the right tone alone the edges of the discs are even to both sides, whatever shape the
optics' blur has. Scanners and cameras write sRGB unless told otherwise (IEC
61966-2-1 is what an untagged file is taken for), so that this is what holds where a scan does not
tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from stopout.coupons.layout import CouponLayout
from stopout.errors import CouponError
from stopout.scans.measuring.features import Measurement, measure
from stopout.scans.registering.coupon import CouponPose, seen_again
from stopout.scans.registering.discs import edge_pixels
from stopout.values import Grey

Tone = Literal["plain", "light"]
ToneBy = Literal["told", "seen", "assumed"]

# Unevenness in light over that plain, below which the scan shows sRGB: rendered scans of plain
# levels stay above 1.1. The other way round nothing is concluded: scans of sRGB pass 2.2.
_LIGHT_SEEN = 0.70
_BIN_PX = 0.25
_LEAST_PIXELS = 9
# Widths that differ by less than this between the two tones leave nothing open.
_MATTERS = 0.01
# Shares of the discs' darker and brighter side that lie at the end of the levels. A scan as the
# sensor has it keeps clear of black, and glints of bare metal alone reach white; an automatic
# contrast cuts off a thousandth to a hundredth of all (ours, by rendered scans).
_BLACK_CUT, _WHITE_CUT = 3e-4, 0.02
# Paint brighter than this reaches black by noise alone: a black point would have drawn it down.
_DRAWN_DOWN = 25.0
_WHITE_OUT = 0.3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Toned:
    """A scan measured in its tone.

    Attributes
    ----------
    place : CouponPose
    measured : Measurement
    other : Measurement or None
        The same read in the other tone; None where that does not read at all.
    tone : str
    by : str
        `told`; `seen` where the profiles bear it out; `assumed` where they do not tell.
    change : float
        By how much widths would be larger (below zero: smaller) in the other tone, as a share.
    is_cut : bool
        Levels are cut off at black or white, as by an automatic contrast: no curve is trusted.
    """

    place: CouponPose
    measured: Measurement
    other: Measurement | None
    tone: Tone
    by: ToneBy
    change: float
    is_cut: bool = False

    @property
    def is_open(self) -> bool:
        """True where nothing tells the tone and the widths hang on it."""
        return self.by == "assumed" and abs(self.change) > _MATTERS


def measured_in_tone(
    grey: Grey, layout: CouponLayout, place: CouponPose, tone: Literal["auto", "plain", "light"]
) -> Toned:
    """Measure in the tone that is told or that the scan bears out, else as sRGB; and in the other.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        Grey levels 0 to 255 as the file holds them.
    layout : CouponLayout
    place : CouponPose
        Found in these levels.
    tone : str
        `plain`, `light` or `auto`.

    Raises
    ------
    CouponError
        Where the scan cannot be measured in the tone that counts.
    """
    both: dict[Tone, tuple[CouponPose, Measurement]] = {}
    uneven: dict[Tone, float] = {}
    faults: dict[Tone, CouponError] = {}
    tones: tuple[Tone, Tone] = ("light", "plain")
    for one in tones:
        try:
            levels, there = _in_tone(grey, place, one)
            both[one] = there, measure(levels, layout, there)
            uneven[one] = unevenness(levels, there)
        except CouponError as error:
            faults[one] = error
    cut = cut_off(grey, place)
    if cut[1] > _WHITE_OUT:
        raise CouponError(
            f"the brightest parts are white out ({100 * cut[1]:.0f} % of them), which moves edges; "
            "scan darker, with automatic levels off"
        )
    is_cut = cut[0] > _BLACK_CUT or cut[1] > _WHITE_CUT
    # An automatic contrast bends the curve so that its edges may look like any tone's.
    chosen, by = _chosen({} if is_cut else uneven, tone)
    if chosen not in both:
        raise faults[chosen]
    there, measured = both[chosen]
    other = both.get("plain" if chosen == "light" else "light", (None, None))[1]
    change = 0.0
    if other is None and by == "assumed":
        raise CouponError(
            "the scan can be read as sRGB only, and nothing shows that it is; say --tone light "
            "where the scanner writes sRGB, or scan at a higher resolution"
        )
    if other is not None:
        change = widened_mm(other) / max(widened_mm(measured), 1e-9) - 1
    return Toned(
        place=there,
        measured=measured,
        other=other,
        tone=chosen,
        by=by,
        change=change,
        is_cut=is_cut,
    )


def _chosen(
    uneven: dict[Tone, float], told: Literal["auto", "plain", "light"]
) -> tuple[Tone, ToneBy]:
    if told != "auto":
        return told, "told"
    is_seen = len(uneven) == 2 and uneven["light"] < _LIGHT_SEEN * max(uneven["plain"], 1e-9)
    return "light", "seen" if is_seen else "assumed"


def unevenness(grey: Grey, place: CouponPose) -> float:
    """How far the discs' mean edge is from being even to both sides, as a share of the contrast.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
    place : CouponPose
        Found, or seen again, in these levels.

    Returns
    -------
    float
        Root mean square of E(c + d) + E(c - d) - 1 about the best middle c.
    """
    parts = [edge_pixels(grey, disc) for _, disc in place.discs]
    off = np.concatenate([part[0] for part in parts])
    share = np.concatenate([part[2] for part in parts])
    which = np.round(off / _BIN_PX).astype(int)
    first = int(which.min())
    count = np.bincount(which - first)
    used = count >= _LEAST_PIXELS
    x = (np.arange(len(count)) + first)[used] * _BIN_PX
    mean = np.bincount(which - first, share)[used] / count[used]
    reach = min(3 * float(np.sqrt(place.blur.mean_px2)) + 0.5, float(x[-1]) - 0.6)
    beside = np.arange(_BIN_PX / 2, max(reach, 1.0), _BIN_PX)
    found = [
        float(np.mean((np.interp(c + beside, x, mean) + np.interp(c - beside, x, mean) - 1) ** 2))
        for c in np.arange(-0.6, 0.601, 0.02)
    ]
    return float(np.sqrt(min(found)))


def cut_off(grey: Grey, place: CouponPose) -> tuple[float, float]:
    """Which share of the discs' darker side is black out, and of their brighter side white out.

    Parameters
    ----------
    grey : (M, N) ndarray of float32
        Grey levels 0 to 255 as the file holds them.
    place : CouponPose
    """
    cut = {"dark": [0, 0], "bright": [0, 0]}
    for _, disc in place.discs:
        reach = int(1.3 * disc.radii_px[0])
        x, y = round(disc.x_px), round(disc.y_px)
        left, top = max(x - reach, 0), max(y - reach, 0)
        part = grey[top : y + reach + 1, left : x + reach + 1]
        down, across = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
        far = np.hypot(across - disc.x_px, down - disc.y_px) / disc.radii_px[0]
        sides = {disc.inside: part[far < 0.8], disc.outside: part[(far > 1.15) & (far < 1.3)]}
        dark, bright = sides[min(sides)], sides[max(sides)]
        is_down = min(sides) < _DRAWN_DOWN
        for key, hit in (("dark", (dark <= 0.5) & is_down), ("bright", bright >= 254.5)):
            cut[key][0] += int(hit.sum())
            cut[key][1] += hit.size
    black, white = (hits / max(of, 1) for hits, of in cut.values())
    return black, white


def _in_tone(grey: Grey, place: CouponPose, tone: Tone) -> tuple[Grey, CouponPose]:
    if tone == "plain":
        return grey, place
    light = to_light(grey)
    return light, seen_again(light, place)


def widened_mm(measured: Measurement) -> float:
    """Sum of the widths of what was cleared, and of what slots have widened."""
    lines = sum(line.width_mm for line in measured.lines if line.is_cleared)
    return lines + sum(slot.width_mm - slot.opening_mm for slot in measured.slots)


def to_light(grey: Grey) -> Grey:
    """Grey levels 0 to 255 of sRGB as light, 0 to 255.

    Notes
    -----
    IEC 61966-2-1: linear below 0.04045, then ((x + 0.055) / 1.055)^2.4.
    """
    share = np.clip(grey / np.float32(255), 0, 1)
    low = share / np.float32(12.92)
    high = ((share + np.float32(0.055)) / np.float32(1.055)) ** np.float32(2.4)
    return np.asarray(255 * np.where(share <= 0.04045, low, high), np.float32)
