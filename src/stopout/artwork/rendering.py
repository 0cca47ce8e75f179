"""The artwork's own colours, rendered by a road that shares nothing with the reading of shapes.

SVG files are drawn by resvg from the safe document itself, PDF pages by PDFium, images are taken
as they are: none of it goes through the normaliser, the painter or the placing of regions. A
sign's predicted front is held against this picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stopout.artwork.check import framed, last_shares
from stopout.artwork.raster.reading import auto_threshold, is_deep, read_image
from stopout.artwork.raster.tones import toned
from stopout.artwork.renderer import rendered, typefaces_of
from stopout.artwork.scale import Page, Placement
from stopout.artwork.tone import luma_of_pixels
from stopout.values import ColourPicture

if TYPE_CHECKING:
    from PIL import Image

# A pixel lies in an edge band of 0.1 mm, as far as memory allows; rendered twice as fine the band
# would be no narrower: it ends 1.5 pixels from an edge here, and 2.5 or 3 there.
_FINEST_PX_PER_MM = 12.0
# A channel so far from both black and white is a tone, in so much of an image's dark.
_PLAIN, _TONED_SHARE = 70, 0.02
_MOST_PIXELS = 6_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rendering:
    """A page as colours: (M, N, 3) sRGB over white, and where anything is painted at all."""

    rgb: NDArray[np.uint8]
    is_painted: NDArray[np.bool_]

    def placed(self, px_per_mm: float, where: Placement) -> ColourPicture:
        """Lay the page on the blank, as seen.

        Parameters
        ----------
        px_per_mm : float
            How finely it was rendered, in mm of the page.
        where : Placement
            From the page to the blank.
        """
        return ColourPicture(
            rgb=self.rgb,
            is_painted=self.is_painted,
            left_mm=where.left_mm,
            top_mm=where.top_mm,
            px_mm=where.scale / px_per_mm,
        )


def pixels_per_mm(width_mm: float, height_mm: float) -> float:
    """Return how finely a page of this size is rendered."""
    return float(min(_FINEST_PX_PER_MM, (_MOST_PIXELS / (width_mm * height_mm)) ** 0.5))


def svg_colours(svg: bytes, page: Page, *, px_per_unit: float, fonts: Sequence[Path]) -> Rendering:
    """Render a safe SVG document without smoothing, so that each pixel has one plain colour.

    Parameters
    ----------
    svg : bytes
        The document before it was normalised.
    page : Page
        Its page, in the document's own px.
    px_per_unit : float
        Pixels for one px of the page.
    fonts : sequence of Path
        Font files besides the one shipped.

    Raises
    ------
    ArtworkError
        If the renderer refuses the document.
    """
    from PIL import Image

    png = rendered(
        "its colours cannot be rendered; save it again, or simplify it",
        svg_string=framed(svg, page, px_per_unit=px_per_unit),
        dpi=96,
        shape_rendering="crisp_edges",
        text_rendering="optimize_speed",
        **typefaces_of(fonts),
    )
    with Image.open(BytesIO(png)) as image:
        seen = _over_white(image.convert("RGBA"))
    # Pixels whose centres lie beyond the page show nothing.
    right, below = last_shares(svg, page, px_per_unit=px_per_unit)
    for share, last in ((right, np.s_[:, -1]), (below, np.s_[-1])):
        if share < 0.5:
            seen.rgb[last], seen.is_painted[last] = 255, False
    return seen


def pdf_colours(data: bytes, *, number: int, px_per_point: float) -> Rendering:
    """Render a page of a PDF file without smoothing."""
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    try:
        bitmap = document[number - 1].render(
            scale=px_per_point,
            fill_color=(255, 255, 255, 0),
            rev_byteorder=True,
            no_smoothtext=True,
            no_smoothimage=True,
            no_smoothpath=True,
        )
        return _over_white(bitmap.to_pil().convert("RGBA"))
    finally:
        document.close()


def image_colours(data: bytes, *, number: int, threshold: float | None) -> Rendering:
    """Take an image file's own pixels; a black and white one is cut at the threshold.

    Parameters
    ----------
    data : bytes
        The file.
    number : int
        Which picture of several, from 1.
    threshold : float or None
        A pixel is dark where its luma over white is below ``1 - threshold``. None: a page of lines
        under uneven light is taken as under even light, as its lines were.

    Notes
    -----
    White and bare page are one in an image. One with colours or greys beside black and white
    keeps them all: nothing of it can be told for sure.
    """
    from PIL import Image, ImageOps

    with Image.open(BytesIO(data)) as image:
        image.seek(number - 1)
        if is_deep(image.mode):
            # The library cuts deep greys off at 255: all but black would be white.
            deep = read_image(data, name="the image", number=number).luma
            turned = Image.fromarray((deep >> 8).astype(np.uint8))
        else:
            turned = ImageOps.exif_transpose(image)
        found = _over_white(turned.convert("RGBA"))
    if threshold is None and (even := _under_even_light(found)) is not None:
        return even
    return _as_line_art(found, 0.5 if threshold is None else threshold)


def _under_even_light(found: Rendering) -> Rendering | None:
    """Part ink and paper of a photographed page; None where it has colours, or is none."""
    if ((found.rgb.max(axis=2) - found.rgb.min(axis=2)) > _PLAIN).mean() > _TONED_SHARE:
        return None
    even = toned(np.rint(luma_of_pixels(found.rgb)).astype(np.uint8)).even
    if even is None:
        return None
    white = float(np.iinfo(even.luma.dtype).max)
    return _flat(even.luma / white < 1.0 - auto_threshold(even.luma))


def _as_line_art(found: Rendering, threshold: float) -> Rendering:
    import cv2

    rgb = found.rgb
    middle = (np.minimum(rgb.max(axis=2), 255 - rgb.min(axis=2)) > _PLAIN).astype(np.uint8)
    # What edges mix is thin.
    middle = cv2.erode(middle, np.ones((5, 5), np.uint8))
    luma = luma_of_pixels(rgb) / 255.0
    is_dark = luma < 1.0 - threshold
    if middle.sum() > _TONED_SHARE * max(1, int(is_dark.sum())):
        return found
    return _flat(is_dark)


def _flat(is_dark: NDArray[np.bool_]) -> Rendering:
    flat = np.where(is_dark[..., None], np.uint8(0), np.uint8(255))
    return Rendering(rgb=np.repeat(flat, 3, axis=2), is_painted=is_dark)


def _over_white(image: Image.Image) -> Rendering:
    from PIL import Image

    page = Image.new("RGB", image.size, "white")
    alpha = image.getchannel("A")
    page.paste(image, mask=alpha)
    return Rendering(rgb=np.array(page), is_painted=np.asarray(alpha) > 0)
