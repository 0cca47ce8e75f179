"""Hostile, damaged and mistaken artwork: read or refused in a clear sentence, never anything else.

The single cases at the end were found by coverage-guided fuzzing (tests/bench/fuzz_artwork.py).
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import zlib
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from stopout.artwork import read_artwork
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank
from stopout.values import Level

TRICKY = Path(__file__).parent / "tricky"
BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
RECT = '<rect width="10" height="10"/>'


def attempt(data, **request):
    """Read; returns the drawing, or the words of the refusal."""
    try:
        return read_artwork(
            data, ArtworkRequest(file="a", **{"width_mm": 40.0, **request}), BLANK, name="a"
        )
    except ArtworkError as fault:
        words = str(fault)
        assert words.strip()
        assert "Traceback" not in words
        return words


def picture(kind, mode="L", **save):
    image = Image.new("L", (24, 16), 255)
    ImageDraw.Draw(image).ellipse((4, 3, 18, 13), fill=0)
    buffer = BytesIO()
    image.convert(mode).save(buffer, kind, **save)
    return buffer.getvalue()


def paths_pdf():
    return pdf(b"1 0 0 RG 5 w 10 10 m 60 50 l S 0 g 70 10 30 40 re f")


def pdf(content, *, media="0 0 120 80", extra=b"", pages=b""):
    """Write a PDF of one page by hand (ISO 32000-1, 7.5)."""
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 %s >>" % pages,
        b"<< /Type /Page /Parent 2 0 R %s /Contents 4 0 R %s >>"
        % (b"/MediaBox [%s]" % media.encode() if media else b"", extra),
        b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content),
    ]
    out, places = bytearray(b"%PDF-1.7\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n0 5\n0000000000 65535 f \n"
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer << /Size 5 /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % start
    return bytes(out)


@cache
def good_ones():
    """Small sound files of every kind."""
    return tuple(_good_ones())


def _good_ones():
    names = ("css-classes", "text-on-path", "markers", "clip-nested", "mask-shape")
    yield from ((TRICKY / f"{name}.svg").read_bytes() for name in names)
    yield from (picture(kind) for kind in ("png", "jpeg", "bmp", "webp", "tiff"))
    yield picture("png", "P")
    yield picture("tiff", "1", compression="group4")
    yield picture("jpeg", "CMYK")
    yield paths_pdf()


def damaged(seed):
    """Cut a sound file short, or flip some of its bits."""
    rng = random.Random(seed)
    data = bytearray(rng.choice(good_ones()))
    if rng.random() < 0.4:
        return bytes(data[: rng.randrange(len(data))])
    for _ in range(rng.choice((1, 1, 2, 5, 20))):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(data)


ALL_DAMAGED = """
import json, resource, sys, time
sys.path.insert(0, sys.argv[1])
from test_hostile import attempt, damaged
slowest, refused = 0.0, 0
for seed in range(300):
    began = time.process_time()
    refused += isinstance(attempt(damaged(seed)), str)
    slowest = max(slowest, time.process_time() - began)
most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps({"slowest_s": slowest, "kilobytes": most, "refused": refused}))
"""


def test_300_damaged_files_are_read_or_refused_within_5_s_each_and_1_gib():
    # A process of its own, so that its memory is its own; processor time, so that a busy machine
    # does not count.
    done = subprocess.run(
        [sys.executable, "-c", ALL_DAMAGED, str(Path(__file__).parent)],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2] / "src")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout)
    assert found["slowest_s"] < 5.0
    assert found["kilobytes"] < 1 << 20
    assert 50 < found["refused"] < 290


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<linearGradient id="g"><stop stop-color="#000"/><stop offset="1" stop-color="#fff"/>'
         '</linearGradient><rect id="sky" fill="url(#g)" width="9" height="9"/>',
         ['<rect id="sky">', "gradient was cut"]),
        ("<script>alert(1)</script>", ["<script>", "not run"]),
        ("<style>@font-face{font-family:x;src:url(http://example.org/a.woff)}</style>",
         ["<style>", "left aside", "artwork.fonts"]),
        ('<rect id="r" width="9" height="9"><animate attributeName="x" to="9"/></rect>',
         ["<animate>", "at rest"]),
    ],
)  # fmt: skip
def test_what_cannot_be_honoured_is_a_finding_that_names_the_element(read, body, words):
    drawing = read(f'<rect x="50" width="10" height="10"/>{body}')
    (finding,) = drawing.findings
    assert finding.code in ("artwork-ignored", "tones-as-lines")
    assert finding.level is Level.CAUTION
    for word in words:
        assert word in finding.message


@pytest.mark.parametrize(
    ("body", "area"),
    [
        ('<path d="M0 0h40v40h-40z M0 0h40v40h-40z"/>', 1600.0),
        ('<path fill-rule="evenodd" d="M0 0L40 40V0L0 40z"/>', 800.0),
        (f'{RECT}<path d="M20 20h30v1e-9h-30z"/>', 100.0),
        (f'{RECT}<path d="M5 5L5 5L5 5z"/><polygon points="1,1 1,1"/>', 100.0),
        (f'{RECT}<g transform="scale(0)">{RECT}</g>', 100.0),
        (f'{RECT}<rect x="1e5" width="1e5" height="5"/>', 100.0),
    ],
)
def test_self_crossings_slivers_and_far_shapes(read, body, area):
    assert read(body).area_mm2 == pytest.approx(area, abs=1e-3)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<rect width="1e30" height="1e30" transform="scale(1e30)"/>', ["1 km"]),
        ("<text font-family='Barlow'>" + "A" * 20_001 + "</text>", ["20000 characters"]),
        ('<text font-family="Barlow"><textPath href="#gone">A</textPath></text>', ["'#gone'"]),
        ('<pattern id="p" width=".0001" height=".0001" patternUnits="userSpaceOnUse">'
         '<rect width="1" height="1"/></pattern><rect width="99" height="50" fill="url(#p)"/>',
         ["tiles"]),
        ('<linearGradient id="g" x2="1e-9" spreadMethod="repeat"><stop/><stop offset="1" '
         'stop-color="#fff"/></linearGradient><rect width="9" height="9" fill="url(#g)"/>',
         ["repeats"]),
        ('<text font-family="Barlow" writing-mode="tb">A</text>', ["vertical"]),
        ('<path d="M0 0H100" stroke="#000" stroke-dasharray=".0001"/>', ["50000 dashes"]),
    ],
)  # fmt: skip
def test_absurd_content_is_refused(read, body, words):
    with pytest.raises(ArtworkError) as caught:
        read(body)
    for word in words:
        assert word in str(caught.value)


def test_masks_and_patterns_that_hold_each_other_end(read):
    attempt(
        b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><mask id="a" '
        b'mask="url(#b)"><rect width="9" height="9" fill="#fff"/></mask><mask id="b" '
        b'mask="url(#a)"><rect width="9" height="9" fill="#fff"/></mask>'
        b'<rect width="5" height="5" mask="url(#a)"/></svg>'
    )


def test_a_decompression_bomb_is_refused_before_it_is_unpacked():
    # A PNG of 40000 x 40000 white pixels in 200 kB (PNG 1.2, chapters 3 and 4).
    def chunk(kind, body):
        crc = zlib.crc32(kind + body)
        return len(body).to_bytes(4, "big") + kind + body + crc.to_bytes(4, "big")

    side = 40_000
    head = side.to_bytes(4, "big") * 2 + bytes([1, 0, 0, 0, 0])
    body = zlib.compress(b"\xff" * 20_000_000)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    assert "260 million is the most" in attempt(bomb)


def test_noise_is_refused_or_cleaned_not_a_thousand_parts():
    rng = np.random.default_rng(5)
    page = np.full((300, 400), 235.0)
    page[60:240, 80:320] = 30
    page += rng.normal(0, 25, page.shape)
    page[rng.random(page.shape) < 0.004] = 0
    buffer = BytesIO()
    Image.fromarray(np.clip(page, 0, 255).astype(np.uint8)).save(buffer, "PNG")
    drawing = attempt(buffer.getvalue(), threshold=None)
    assert len(drawing.dark.geoms if drawing.dark.geom_type.startswith("Multi") else [1]) <= 10
    codes = [finding.code for finding in drawing.findings]
    assert codes == ["artwork-threshold", "artwork-cleaned"]
    assert drawing.area_mm2 == pytest.approx(180 * 240 * 0.01, rel=0.01)


def test_a_resolution_that_is_no_number_is_left_unread():
    # Found by fuzzing: a TIFF whose resolution (tag 283, TIFF 6.0) is of the type for raw bytes.
    data = picture("tiff", dpi=(300, 300))
    place = data.index(b"\x1b\x01\x05\x00")
    assert attempt(data[: place + 2] + b"\x07" + data[place + 3 :]).area_mm2 > 0


@pytest.mark.parametrize("colour", ["lab(1e300 0 0)", "oklch(50% 1e308 1e308)", "lch(1e200 9 9)"])
def test_a_colour_that_no_arithmetic_holds_is_refused_in_words(colour):
    from stopout.artwork.colours import UnreadPaintError, plain_colour

    with pytest.raises(UnreadPaintError, match="is no colour"):
        plain_colour(colour)
