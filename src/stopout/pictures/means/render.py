"""From the text of a picture to its pixels."""

from __future__ import annotations

from stopout.pictures.means.fonts import font_files


def drawn_png(svg: str, *, width_px: int | None = None) -> bytes:
    """Draw a picture on white, in the typefaces that are shipped; the same text, the same bytes.

    Parameters
    ----------
    svg : str
        The picture.
    width_px : int, optional
        How wide it is drawn, where not as wide as it says.
    """
    import resvg_py

    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg,
            dpi=96,
            skip_system_fonts=True,
            font_files=list(font_files()),
            background="#ffffff",
            width=width_px,
        )
    )
