"""Scans and photographs: bytes to grey levels and the resolution that the file states."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stopout.artwork.tone import luma_of_pixels
from stopout.errors import CouponError

MOST_BYTES = 400_000_000
# A4 at 1200 dpi has 140 million pixels; coupons are smaller.
_MOST_PIXELS = 150_000_000
_KINDS = {"PNG", "JPEG", "TIFF", "MPO"}
_UNTOLD_DPI = (1.0, 72.0, 96.0)
_TOO_MANY = (
    f"more than {_MOST_PIXELS / 1e6:.0f} million pixels: scan the coupon's part of the glass only, "
    "at 1200 dpi"
)
_ROWS = 1024
# The rim of a cut-out picture is sheer and harms nothing; more veils the grey levels.
_MOST_SHEER = 0.02
_CHANNELS = ("luma", "red", "green", "blue")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """An image as a scanner or a camera gave it.

    Attributes
    ----------
    pixels : (M, N) or (M, N, 3) ndarray of uint8 or uint16
        Row 0 on top.
    stated_dpi : float or None
        What the file says, None where nothing or what nobody chose (72, 96).
    """

    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    stated_dpi: float | None

    def views(self) -> Iterator[tuple[str, NDArray[np.float32]]]:
        """Grey levels 0 to 255 to try in turn: the luma, then each colour alone.

        A red paint beside brass may show no contrast in the luma and plenty in blue.
        """
        top = np.float32(255.0 / np.iinfo(self.pixels.dtype).max)
        if self.pixels.ndim == 2:
            yield "luma", self.pixels.astype(np.float32) * top
            return
        for k, name in enumerate(_CHANNELS):
            grey = np.empty(self.pixels.shape[:2], np.float32)
            for start in range(0, len(grey), _ROWS):
                part = self.pixels[start : start + _ROWS].astype(np.float32)
                grey[start : start + _ROWS] = (
                    luma_of_pixels(part) if k == 0 else part[..., k - 1]
                ) * top
            yield name, grey


def read_scan(data: bytes, *, name: str) -> Scan:
    """Read a scan: PNG, JPEG or TIFF, grey or colour, 8 or 16 bit.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for errors.

    Raises
    ------
    CouponError
        If it is no such file, damaged, too large, or has pixels that are not square.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            # The limit below speaks for itself, before a single pixel is unpacked.
            warnings.simplefilter("ignore")
            image = Image.open(BytesIO(data))
            _check(image, name)
            stated = image.info.get("dpi")
            image.load()
            _check_levels(image, name)
            turned = ImageOps.exif_transpose(image)
    except CouponError:
        raise
    except Image.DecompressionBombError:
        # Twice the library's own limit, which it applies before ours can be.
        raise CouponError(f"{name}: the scan has {_TOO_MANY}") from None
    except Exception as fault:
        reason = str(fault).removesuffix(".")
        if "cannot identify" in reason:
            reason = "it is no PNG, JPEG or TIFF; give the scan itself"
        elif "truncated" in reason:
            reason = "it breaks off before its end; copy or scan it again"
        raise CouponError(f"{name}: the scan cannot be read: {reason}") from None
    return Scan(pixels=_pixels(turned), stated_dpi=_dpi(stated, name))


def _check(image: Any, name: str) -> None:
    if image.format not in _KINDS:
        raise CouponError(
            f"{name}: it is a {image.format} file; give the scan as PNG, TIFF, or JPEG of the "
            "best quality"
        )
    columns, rows = image.size
    if columns * rows > _MOST_PIXELS:
        raise CouponError(
            f"{name}: the scan has {columns * rows / 1e6:.0f} million pixels, {_TOO_MANY}"
        )
    if image.format == "TIFF" and getattr(image, "n_frames", 1) > 1:
        raise CouponError(f"{name}: the file holds several pictures; save the scan alone")


def _dpi(stated: object, name: str) -> float | None:
    if not isinstance(stated, tuple) or len(stated) != 2:
        return None
    across, down = float(stated[0]), float(stated[1])
    if not (np.isfinite(across) and np.isfinite(down)) or min(across, down) <= 0:
        return None
    if abs(across - down) > 0.005 * across:
        raise CouponError(
            f"{name}: its pixels are not square ({across:.4g} x {down:.4g} dpi); scan with the "
            "same resolution both ways"
        )
    dpi = (across + down) / 2
    return None if any(abs(dpi - untold) < 0.6 for untold in _UNTOLD_DPI) else dpi


def _pixels(image: Any) -> NDArray[np.uint8] | NDArray[np.uint16]:
    mode = str(image.mode)
    if mode.startswith("I;16") or mode == "I":
        return np.clip(np.asarray(image, dtype=np.int64), 0, 65535).astype(np.uint16)
    if mode in ("1", "L"):
        return np.asarray(image.convert("L"))
    if mode in ("LA", "RGBA", "PA", "P"):
        return _over_white(image.convert("RGBA"))
    return np.asarray(image.convert("RGB"))


def _check_levels(image: Any, name: str) -> None:
    """Refuse pixels that hold no light, or not all of it."""
    mode = str(image.mode)
    fault = ""
    if mode == "1":
        fault = "it has black and white without the greys between, in which edges lie; scan in grey"
    elif mode == "F" or (
        mode == "I" and not 0 <= min(image.getextrema()) <= max(image.getextrema()) <= 65535
    ):
        fault = "its levels have 32 bits; save it with 8 or 16"
    elif image.has_transparency_data:
        sheer = np.asarray(image.convert("RGBA"))[::4, ::4, 3]
        if np.mean((sheer > 0) & (sheer < 255)) > _MOST_SHEER:
            fault = "it is see-through in part, which moves edges; save it without transparency"
    if fault:
        raise CouponError(f"{name}: {fault}")


def _over_white(image: Any) -> NDArray[np.uint8]:
    from PIL import Image

    ground = Image.new("RGBA", image.size, "white")
    ground.alpha_composite(image)
    return np.asarray(ground.convert("RGB"))
