"""Names in other scripts are right on sheet and preview; letters without a shape are told."""

from __future__ import annotations

import numpy as np
import pypdfium2
import pytest

from stopout.pictures.means import drawing, fonts
from stopout.sheet.model import Header, Sheet
from stopout.sheet.paper.pdf import sheet_pdf
from stopout.typefaces import missing_letters, wide_files

NAMES = ["\u039c\u03cd\u03bb\u03bf\u03c2", "\u041c\u0435\u043b\u044c\u043d\u0438\u0446\u0430",
         "\u6f6e\u306e\u6c34\u8eca", "\u0637\u0627\u062d\u0648\u0646\u0629"]  # fmt: skip


def test_the_wide_typefaces_are_installed_and_have_the_letters():
    assert len(wide_files()) == 3
    assert missing_letters(" ".join(NAMES)) == ""
    assert missing_letters("Gate \u0e44\u0e17\u0e44\n\u0000") == "\u0e44\u0e17"


@pytest.mark.parametrize("name", NAMES)
def test_the_sheet_holds_the_name_and_can_be_searched_for_it(name):
    header = Header(job=name, revision="A", quantity=1, artwork="", tool="")
    sheet = Sheet(header=header, blocks=())
    document = pypdfium2.PdfDocument(sheet_pdf(sheet, date="2025-03-14"))
    text = document[0].get_textpage().get_text_range()
    assert set(name) <= set(text)
    assert "?" not in text


@pytest.mark.parametrize("name", NAMES)
def test_pictures_draw_the_letters_and_no_boxes(name):
    def inked(content):
        import io

        import resvg_py
        from PIL import Image

        svg = (
            '<svg xmlns="http://www.w3.org/2000/svg" width="400" height="60">'
            + drawing.text(content, 10, 40)
            + "</svg>"
        )
        png = resvg_py.svg_to_bytes(
            svg_string=svg, background="white", skip_system_fonts=True,
            font_files=list(fonts.font_files()), dpi=96,
        )  # fmt: skip
        return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"))

    shown, boxes = inked(name), inked("\u0e44" * len(name))
    assert (shown < 128).sum() > 50
    assert np.abs(shown.astype(int) - boxes).sum() > 10_000
    wide = fonts.text_width(name, size=26)
    columns = np.flatnonzero((shown < 200).any(axis=0))
    # Joined Arabic letters are narrower than the same ones apart.
    assert 0.4 * wide < columns[-1] - columns[0] <= 1.02 * wide
