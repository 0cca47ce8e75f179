"""The size of an SVG page: width, height and viewBox of the root, in px of 1/96 inch."""

from __future__ import annotations

import re
from typing import Any

from stopout.artwork.scale import MM_PER_INCH, PX_PER_INCH, Page
from stopout.errors import ArtworkError

LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z%]*)\s*\Z")
PX_PER = {
    "": 1.0,
    "px": 1.0,
    "in": PX_PER_INCH,
    "cm": PX_PER_INCH / 2.54,
    "mm": PX_PER_INCH / MM_PER_INCH,
    "q": PX_PER_INCH / MM_PER_INCH / 4,
    "pt": PX_PER_INCH / 72,
    "pc": PX_PER_INCH / 6,
}


def measure(root: Any, *, name: str) -> Page:
    """Find the page's size in px and write it at the root, so that every reader agrees on it."""
    view = _view_box(root, name=name)
    width = _length(root, "width", name=name)
    height = _length(root, "height", name=name)
    mm_per_px: float | None = MM_PER_INCH / PX_PER_INCH
    if width is None and height is None:
        if view is None:
            raise ArtworkError(
                f"{name}: <svg> has neither width and height nor a viewBox, so its page is "
                "unknown; "
                'give it both, for example width="92mm" height="52mm" viewBox="0 0 92 52"'
            )
        mm_per_px = None
        width, height = view
    elif width is None or height is None:
        if view is None:
            raise ArtworkError(f"{name}: <svg> has only one of width and height; give it both")
        if width is None and height is not None:
            width = height * view[0] / view[1]
        elif width is not None:
            height = width * view[1] / view[0]
    assert width is not None
    assert height is not None
    is_px = all(_is_px(root.get(key)) for key in ("width", "height"))
    root.set("width", repr(width))
    root.set("height", repr(height))
    return Page(
        width=width,
        height=height,
        mm_per_unit=mm_per_px,
        kind="SVG",
        is_untold=mm_per_px is not None and is_px,
    )


def _is_px(text: str | None) -> bool:
    match = LENGTH.match(text or "")
    return match is None or match[2].lower() in ("", "px", "%")


def _view_box(root: Any, *, name: str) -> tuple[float, float] | None:
    text = root.get("viewBox")
    if text is None:
        return None
    parts = text.replace(",", " ").split()
    try:
        _, _, width, height = (float(part) for part in parts)
    except ValueError:
        raise ArtworkError(f'{name}: viewBox="{text[:40]}" is not four numbers') from None
    if not (0 < width < 1e9 and 0 < height < 1e9):
        raise ArtworkError(
            f'{name}: viewBox="{text[:40]}" has no area; its width and height must be above zero'
        )
    return width, height


def _length(root: Any, key: str, *, name: str) -> float | None:
    """Return a root length in px, None where it is left out or relative to a window."""
    text = root.get(key)
    if text is None or text.strip() in ("", "auto"):
        return None
    match = LENGTH.match(text)
    if match is None:
        raise ArtworkError(f'{name}: <svg {key}="{text[:40]}"> is no length; write it as "92mm"')
    if match[2] == "%":
        return None
    unit = PX_PER.get(match[2].lower())
    if unit is None:
        raise ArtworkError(
            f'{name}: <svg {key}="{text[:40]}"> has a unit that depends on the reader; '
            'write it in mm, for example "92mm"'
        )
    value = float(match[1]) * unit
    if not 0 < value < 1e9:
        raise ArtworkError(f'{name}: <svg {key}="{text[:40]}"> must be above zero')
    return value
