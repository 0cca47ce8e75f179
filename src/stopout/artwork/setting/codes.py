"""Codes for machines to read, as areas: modules joined wherever they are alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.rings import EMPTY
from stopout.artwork.setting.fault import SettingError
from stopout.job.setting import CodeKind, SetCode

# Clear modules round a code: ISO/IEC 18004 (QR, 4), ISO/IEC 16022 (Data Matrix, 1) and
# ISO/IEC 15417 (Code 128, 10 at either end); the standards were not at hand, figures from memory.
QUIET_MODULES: dict[CodeKind, int] = {"qr": 4, "data-matrix": 1, "code-128": 10}
# Bars at least as high as 15 % of their length: common advice for hand-held readers, no source.
_BAR_SHARE, _LEAST_BAR_MM = 0.15, 5.0
# Corners of modules lie on a grid of so many decimals of a millimetre.
_DECIMALS = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidCode:
    """A code on the blank: its dark modules, and the box with its quiet zone, as seen."""

    dark: BaseGeometry
    box_mm: tuple[float, float, float, float]
    quiet_mm: tuple[float, float, float, float]
    modules: tuple[int, int]


def code_modules(content: str, kind: CodeKind) -> NDArray[np.bool_]:
    """Write a code.

    Returns
    -------
    (rows, columns) ndarray of bool
        True where a module is dark; one row for a code of bars.

    Raises
    ------
    SettingError
        If the kind cannot carry the content.
    """
    import zxingcpp

    formats = {
        "qr": zxingcpp.BarcodeFormat.QRCode,
        "data-matrix": zxingcpp.BarcodeFormat.DataMatrix,
        "code-128": zxingcpp.BarcodeFormat.Code128,
    }
    if not content:
        raise SettingError("content", "is empty; write what the code is to say")
    try:
        square = {"force_square": True} if kind == "data-matrix" else {}
        code = zxingcpp.create_barcode(content, formats[kind], **square)
        pixels = np.asarray(code.to_image(scale=1, add_quiet_zones=False))
    except (ValueError, RuntimeError):
        raise SettingError(
            "content",
            f"'{content[:40]}' cannot be written as {kind}; shorten it, keep to plain letters and "
            "digits, or take another kind",
        ) from None
    dark = pixels < 128
    return np.asarray(dark[:1] if kind == "code-128" else dark)


def lay_code(code: SetCode, middle_mm: tuple[float, float]) -> LaidCode:
    """Lay a code on the blank.

    Raises
    ------
    SettingError
        As `code_modules`.
    """
    dark = code_modules(code.content, code.kind)
    rows, columns = dark.shape
    side = code.module_mm
    wide = columns * side
    if code.kind == "code-128":
        high = code.height_mm or max(_LEAST_BAR_MM, _BAR_SHARE * wide)
    else:
        high = rows * side
    x, y = middle_mm if code.at_mm is None else code.at_mm
    left = x - {"left": 0.0, "right": 1.0}.get(_word(code.anchor, "left", "right"), 0.5) * wide
    foot = y - {"bottom": 0.0, "top": 1.0}.get(_word(code.anchor, "bottom", "top"), 0.5) * high
    region = _joined(dark, left, foot, side, high / rows)
    quiet = QUIET_MODULES[code.kind] * side
    beside = quiet if code.kind != "code-128" else 0.0
    return LaidCode(
        dark=region,
        box_mm=(left, foot, left + wide, foot + high),
        quiet_mm=(left - quiet, foot - beside, left + wide + quiet, foot + high + beside),
        modules=(rows, columns),
    )


def _word(anchor: str, one: str, other: str) -> str:
    return one if one in anchor else (other if other in anchor else "")


def _joined(
    dark: NDArray[np.bool_], left: float, foot: float, wide: float, high: float
) -> BaseGeometry:
    """One area of modules: no edge stands between two dark ones."""
    row, column = np.nonzero(dark[::-1])
    if not len(row):
        return EMPTY
    # Neighbours share their corners to the last bit, which is all that this union needs.
    x = np.round(left + np.arange(dark.shape[1] + 1) * wide, _DECIMALS)
    y = np.round(foot + np.arange(dark.shape[0] + 1) * high, _DECIMALS)
    modules = shapely.box(x[column], y[row], x[column + 1], y[row + 1])
    joined: BaseGeometry = shapely.simplify(shapely.coverage_union_all(modules), 0.0)
    return joined
