"""Errors that all widths of one scan have in common, which no scatter of its lines can show.

Each is a shift of every width at once, one standard deviation large. A fit carries each through to
its numbers and adds the squares. Their sizes are our own, set so that 95 % intervals hold the truth
of 200 rendered scans in 92 to 97 % of cases (docs/explanation/scan-errors.md).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stopout.scans.measuring.features import Measurement
from stopout.scans.measuring.tone import Toned
from stopout.values import FloatArray

# How far a device's own curve may lie from the tone that was taken, as a share of the way to the
# other: a standard deviation. Open: anywhere between the two, (1 - 0) / sqrt(3).
_TONE_SHARE = {"told": 0.06, "seen": 0.06, "assumed": float(1 / np.sqrt(3))}
_TONE_OF_A_CAMERA = 0.20
# Single edges hang on the curve less than lines that are all edge.
_TONE_OF_SLOTS = 0.65
# Of the scale, from the discs' own places.
_SCALE_SHARE = 3e-4
# Both edges of all lines, by the shape of the blur: a share of its standard deviation.
_EDGE_OF_BLUR = 0.006
_EDGE_MM = 4e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonError:
    """One error of all widths, by the name of the line or slot, in mm and of one sign."""

    name: str
    shift_mm: Mapping[str, float]


def common_errors(
    toned: Toned, *, scale_share: float = 0.0, is_camera: bool = False
) -> tuple[CommonError, ...]:
    """The common errors of a scan: tone, contrast, scale, edge.

    Parameters
    ----------
    toned : Toned
    scale_share : float
        Standard deviation of the scale beyond that of a flatbed scan, as a share.
    is_camera : bool
        True for a photograph, whose curve is the camera's own.
    """
    measured = toned.measured
    widths = _widths(measured)
    edge = float(np.hypot(_EDGE_MM, _EDGE_OF_BLUR * measured.blur_mm))
    scale = float(np.hypot(_SCALE_SHARE, scale_share))
    return (
        CommonError(name="tone", shift_mm=_tone_shift(toned, widths, is_camera=is_camera)),
        CommonError(
            name="contrast",
            shift_mm={name: measured.contrast_error * _faint(w, measured) for name, w in
                      widths.items()},
        ),
        CommonError(name="scale", shift_mm={name: scale * w for name, w in widths.items()}),
        CommonError(name="edge", shift_mm=dict.fromkeys(widths, edge)),
    )  # fmt: skip


def shifts_of(error: CommonError, names: list[str]) -> FloatArray:
    """The shifts of the named features, 0 where a name is not known.

    Returns
    -------
    (n,) ndarray
        In mm.
    """
    return np.array([error.shift_mm.get(name, 0.0) for name in names])


def effective_dof(own: float, whole: float, dof: int) -> int:
    """Degrees of freedom of a variance of which only a part was estimated from scatter.

    Parameters
    ----------
    own, whole : float
        The part from scatter, and the whole variance.
    dof : int
        Of the part.

    Notes
    -----
    Welch and Satterthwaite: the whole squared over the sum of the parts squared over their own
    degrees of freedom (JCGM 100:2008, Guide to the expression of uncertainty in measurement,
    annex G.4), with the common errors taken as known.
    """
    if own <= 0:
        return 10_000
    return int(min(dof * (whole / own) ** 2, 10_000))


def _widths(measured: Measurement) -> dict[str, float]:
    lines = {line.id: line.width_mm for line in measured.lines if line.is_cleared}
    return lines | {slot.id: slot.width_mm for slot in measured.slots}


def _faint(width_mm: float, measured: Measurement) -> float:
    """The width that an error of the contrast acts on.

    A feature five blurs wide shows its own contrast and hangs on nobody else's; it fades out there.
    """
    return width_mm * float(np.clip(2 - width_mm / (5 * measured.blur_mm), 0, 1))


def _tone_shift(toned: Toned, widths: dict[str, float], *, is_camera: bool) -> dict[str, float]:
    share = _TONE_SHARE[toned.by]
    if is_camera:
        share = max(share, _TONE_OF_A_CAMERA)
    if toned.measured.slots and toned.by != "assumed":
        share *= _TONE_OF_SLOTS
    if toned.is_cut:
        share = max(share, _TONE_SHARE["assumed"])
    if toned.other is None:
        return dict.fromkeys(widths, 0.0)
    other = _widths(toned.other)
    return {name: share * (other.get(name, w) - w) for name, w in widths.items()}
