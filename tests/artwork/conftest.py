"""Short ways to read artwork that a test writes out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from stopout.artwork import open_artwork
from stopout.job.record import ArtworkRequest, Blank
from stopout.values import Drawing

Read = Callable[..., Drawing]


@pytest.fixture
def blank() -> Blank:
    return Blank(
        material="aluminium", width_mm=100.0, height_mm=60.0, thickness_mm=1.5, worked_side="front"
    )


@pytest.fixture
def read(tmp_path: Path, blank: Blank) -> Read:
    """Read an SVG body on a page of 100 x 60 mm in user units of 1 mm, or a whole file's bytes."""

    def run(content: str | bytes, *, root: str | None = None, **request: Any) -> Drawing:
        if isinstance(content, str):
            head = root or 'width="100mm" height="60mm" viewBox="0 0 100 60"'
            content = (
                content
                if content.lstrip().startswith(("<?", "<!", "<svg"))
                else f'<svg xmlns="http://www.w3.org/2000/svg" '
                f'xmlns:xlink="http://www.w3.org/1999/xlink" {head}>{content}</svg>'
            ).encode()
        path = tmp_path / "winch-plate.svg"
        path.write_bytes(content)
        return open_artwork(path, ArtworkRequest(file=path.name, **request), blank)

    return run
