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
    """One area of runs: no edge stands between two dark modules."""
    boxes = []
    for row, line in enumerate(dark[::-1]):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(np.int8), [0]])))
        for first, last in edges.reshape(-1, 2).tolist():
            boxes.append(
                shapely.box(
                    left + first * wide, foot + row * high, left + last * wide,
                    foot + (row + 1) * high,
                )
            )  # fmt: skip
    if not boxes:
        return EMPTY
    joined: BaseGeometry = shapely.union_all(boxes, grid_size=1e-6)
    return shapely.set_precision(joined, 0.0)
