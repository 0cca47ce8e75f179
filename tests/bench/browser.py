"""A headless browser as a renderer that the import does not use; for benches, never for tests.

Needs the package playwright and a Chromium on the search path (or named by STOPOUT_BROWSER).
"""

from __future__ import annotations

import base64
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image

_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-color-profile=srgb",
    "--disable-lcd-text",
    "--font-render-hinting=none",
]
_FONTS = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig>{fonts}<cachedir>{cache}</cachedir></fontconfig>"""


class Browser:
    """Draws SVG documents over white."""

    def __init__(self, page):
        self._page = page

    def grey(self, svg, width_px, height_px):
        """Return the (height, width) luma 0..1 of a document stretched over so many pixels."""
        rgb = self.colours(svg, width_px, height_px).astype(np.float32)
        return rgb @ np.array([0.2126, 0.7152, 0.0722], dtype=np.float32) / 255

    def grey_part(self, svg, size_px, part_px, finer):
        """Return the luma of one part of a document, drawn so many times finer.

        `size_px` is the document's (width, height) and `part_px` the part's (left, top, width,
        height) in it, all in the pixels of `grey`.
        """
        data = svg if isinstance(svg, bytes) else svg.encode()
        text = base64.b64encode(data).decode()
        left, top, width, height = (finer * value for value in part_px)
        self._page.set_viewport_size({"width": width, "height": height})
        self._page.set_content(
            "<style>*{margin:0;background:#fff}body{overflow:hidden}img{position:absolute;"
            f"left:-{left}px;top:-{top}px;width:{finer * size_px[0]}px;"
            f"height:{finer * size_px[1]}px}}</style>"
            f'<img src="data:image/svg+xml;base64,{text}">'
        )
        self._page.wait_for_function("document.images[0].complete")
        with Image.open(BytesIO(self._page.screenshot())) as image:
            rgb = np.array(image.convert("RGB")).astype(np.float32)
        return rgb @ np.array([0.2126, 0.7152, 0.0722], dtype=np.float32) / 255

    def colours(self, svg, width_px, height_px):
        """Return the (height, width, 3) sRGB values 0..255 of a document, likewise."""
        data = svg if isinstance(svg, bytes) else svg.encode()
        text = base64.b64encode(data).decode()
        self._page.set_viewport_size({"width": width_px, "height": height_px})
        self._page.set_content(
            "<style>*{margin:0;background:#fff}img{display:block;width:100vw;height:100vh}</style>"
            f'<img src="data:image/svg+xml;base64,{text}">'
        )
        self._page.wait_for_function("document.images[0].complete")
        png = self._page.screenshot()
        with Image.open(BytesIO(png)) as image:
            return np.array(image.convert("RGB"))


@contextmanager
def browser(fonts: Path | None = None) -> Iterator[Browser]:
    """Start a browser that sees no fonts but those of a folder (default: the fonts shipped)."""
    from playwright.sync_api import sync_playwright

    folders = [fonts]
    if fonts is None:
        from stopout.artwork.fonts.book import font_folder
        from stopout.typefaces import wide_files

        folders = [font_folder(), *(path.parent for path in wide_files())]
    listed = "".join(f"<dir>{folder}</dir>" for folder in folders)
    program = os.environ.get("STOPOUT_BROWSER") or shutil.which("chromium")
    if program is None:
        raise SystemExit("no chromium on the search path; name one by STOPOUT_BROWSER")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        setting = Path(folder) / "fonts.conf"
        setting.write_text(_FONTS.format(fonts=listed, cache=f"{folder}/cache"))
        context = play.chromium.launch_persistent_context(
            f"{folder}/profile",
            executable_path=program,
            headless=True,
            args=_FLAGS,
            env={**os.environ, "FONTCONFIG_FILE": str(setting)},
        )
        try:
            yield Browser(context.pages[0] if context.pages else context.new_page())
        finally:
            context.close()
