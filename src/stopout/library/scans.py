"""From the scan of a coupon or a piece to what it tells."""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from stopout.errors import CouponError

if TYPE_CHECKING:
    from stopout.artwork.raster.scan import Scan
    from stopout.coupons import CouponLayout
    from stopout.library.planned_piece import PieceToInspect
    from stopout.scans.inspecting.piece import Inspection
    from stopout.scans.reading.whole import Depths, Reading

_LARGEST_JSON_BYTES = 20_000_000
Stage = Literal["cleared", "etched"]
Tone = Literal["auto", "plain", "light"]


def read_scan(
    scan: str | PathLike[str],
    *,
    coupon: str | PathLike[str],
    resolution_dpi: float | None = None,
    depths: Depths | None = None,
    tone: Tone = "auto",
    bar_mm: float | None = None,
) -> Reading:
    """Measure a scanned coupon and fit the shop's numbers, each with its uncertainty.

    Parameters
    ----------
    scan : str or path
        PNG, JPEG or TIFF.
    coupon : str or path
        The coupon's folder, with its coupon.json.
    resolution_dpi : float, optional
        What it was scanned at; the file's own where it is left out.
    depths : Depths, optional
        Depths of an etch coupon, measured by hand.
    tone : str
        Whether the grey levels go with the light ("plain") or are sRGB-encoded ("light").
    bar_mm : float, optional
        Length of the scale bar of a photograph.

    Returns
    -------
    Reading

    Raises
    ------
    CouponError
        If folder or scan cannot be read, or no coupon is found in the scan.
    """
    file = Path(scan)
    return reading_of(
        scan_bytes(file),
        coupon_layout(Path(coupon)),
        name=file.name,
        resolution_dpi=resolution_dpi,
        depths=depths,
        tone=tone,
        bar_mm=bar_mm,
    )


def inspect_scan(
    scan: str | PathLike[str],
    *,
    plan: str | PathLike[str],
    coat: int | None = None,
    stage: Stage | None = None,
    resolution_dpi: float | None = None,
    tolerance_mm: float | None = None,
    tone: Tone = "auto",
    is_seen_through: bool = False,
) -> Inspection:
    """Hold a scan of a cleared or etched piece against its plan.

    Parameters
    ----------
    scan : str or path
        PNG, JPEG or TIFF.
    plan : str or path
        The plan's folder.
    coat : int, optional
        Which coat; the only one where it is left out.
    stage : str, optional
        "cleared" or "etched"; told by the edges where it is left out.
    resolution_dpi : float, optional
        What it was scanned at; the file's own where it is left out.
    tolerance_mm : float, optional
        How far an edge may stand off.
    tone : str
        As `read_scan` takes it.
    is_seen_through : bool
        Whether a clear piece was scanned through its front.

    Returns
    -------
    Inspection

    Raises
    ------
    StopoutError
        If folder or scan cannot be read, or the piece is not found in the scan.
    """
    from stopout.library.planned_piece import read_planned_piece

    file = Path(scan)
    return inspection_of(
        scan_bytes(file),
        read_planned_piece(Path(plan), coat),
        name=file.name,
        resolution_dpi=resolution_dpi,
        stage=stage,
        tone=tone,
        tolerance_mm=tolerance_mm,
        is_seen_through=is_seen_through,
    )


def coupon_layout(folder: Path) -> CouponLayout:
    """Read what is on a coupon, and where, from its folder.

    Parameters
    ----------
    folder : Path
        The coupon's folder, or its coupon.json itself.

    Raises
    ------
    CouponError
        If it holds no coupon.json, or one that cannot be read.
    """
    from stopout.coupons import layout_from_dict

    file = folder / "coupon.json" if folder.is_dir() else folder
    if not file.is_file() and (folder / "plan.json").is_file():
        raise CouponError(
            f"{folder} is a plan's folder, not a coupon's; hold a piece against its plan with "
            f"stopout inspect SCAN --plan {folder}"
        )
    if not file.is_file():
        raise CouponError(
            f"{folder} holds no coupon.json; give the folder that `stopout coupon` wrote"
        )
    if file.stat().st_size > _LARGEST_JSON_BYTES:
        raise CouponError(f"{file} is too large for a coupon.json")
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise CouponError(f"{file} is not JSON that can be read: {error}") from None
    return layout_from_dict(data)


def reading_of(
    data: bytes,
    layout: CouponLayout,
    *,
    name: str,
    resolution_dpi: float | None,
    depths: Depths | None,
    tone: Tone,
    bar_mm: float | None,
    tell: Callable[[str], None] = lambda stage: None,
) -> Reading:
    """Read a coupon from the bytes of a scan; `name` stands in the errors.

    Raises
    ------
    CouponError
        If the scan cannot be read, or no coupon is found in it.
    """
    from stopout.scans.reading.whole import read_coupon

    with _image(data, name, tell) as image:
        tell("measuring the scan")
        return read_coupon(
            image.views(),
            layout,
            stated_dpi=resolution_dpi or image.stated_dpi,
            depths=depths,
            tone=tone,
            bar_mm=bar_mm,
        )


def inspection_of(
    data: bytes,
    piece: PieceToInspect,
    *,
    name: str,
    resolution_dpi: float | None,
    stage: Stage | None,
    tone: Tone,
    tolerance_mm: float | None,
    is_seen_through: bool,
    tell: Callable[[str], None] = lambda stage: None,
) -> Inspection:
    """Hold the bytes of a scan against a plan; `name` stands in the errors.

    Raises
    ------
    CouponError
        If the scan cannot be read, or the piece is not found in it.
    """
    from stopout.scans.inspecting.piece import inspect_piece

    with _image(data, name, tell) as image:
        tell("holding the scan against the plan")
        stated = resolution_dpi or image.stated_dpi
        if stated is None:
            raise CouponError(
                "the file does not say its resolution; give what it was scanned at, such as "
                "--resolution 1200dpi"
            )
        return inspect_piece(
            image.views(),
            piece.intended,
            stated_dpi=stated,
            stage=stage,
            tone=tone,
            tolerance_mm=tolerance_mm,
            is_seen_through=is_seen_through,
        )


@contextmanager
def _image(data: bytes, name: str, tell: Callable[[str], None]) -> Iterator[Scan]:
    """Read a scan; errors on the way name it, and the libraries' warnings stay off the terminal.

    What matters of them is said in words.
    """
    import numpy as np

    from stopout.artwork.raster.scan import read_scan as read_image

    tell("reading the scan")
    image = read_image(data, name=name)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            yield image
    except CouponError as error:
        raise CouponError(f"{name}: {error}") from None


def scan_bytes(scan: Path) -> bytes:
    """Return a scan's bytes.

    Raises
    ------
    CouponError
        If it is not there, no ordinary file, or too large.
    """
    from stopout.artwork.raster.scan import MOST_BYTES

    if not scan.exists():
        raise CouponError(f"{scan} is not there; check the name and the folder")
    if not scan.is_file():
        raise CouponError(f"{scan} is not an ordinary file; give the scan itself")
    if scan.stat().st_size > MOST_BYTES:
        raise CouponError(
            f"{scan} has {scan.stat().st_size / 1e6:.0f} MB; {MOST_BYTES / 1e6:.0f} MB is the most"
        )
    return scan.read_bytes()
