"""Mutated job files and artwork in great numbers: each must be read or refused in words.

    python tests/bench/mutate_inputs.py all|job|svg|dxf|pdf|image COUNT [--seed 1] [--keep FOLDER]

Seeds are the job files and the tricky documents of the tests and files made here. Numbers become
extreme, values are exchanged among documents and for hostile ones, lines are dropped and doubled,
bytes flipped. The same seed gives the same inputs. `all` shares COUNT out: of 100,000 inputs 80,000
are job files. What ends in anything but a refusal is kept; the slowest input and the memory are
told. What was found is kept in tests/artwork/test_hostile.py.
"""

from __future__ import annotations

import argparse
import io
import random
import re
import resource
import sys
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from cli.shop_files import JOB
from jobs.job_texts import PLATE, SIGN
from stopout.artwork import read_artwork
from stopout.errors import StopoutError
from stopout.job.record import ArtworkRequest, Blank
from stopout.jobs import parse_job

TRICKY = Path(__file__).parents[1] / "artwork" / "tricky"
BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
NUMBERS = [b"0", b"-1", b"1e-9", b"1e9", b"-1e9", b"1e38", b"NaN", b"0.5", b"1e308", b"7", b"-0",
           b"65536", b"4294967296"]  # fmt: skip
VALUES = [b"none", b"inherit", b"url(#a)", b"url(#gone)", b"currentColor", b"var(--x)",
          b"calc(1px)",
          b"100%", b"", b"color-mix(in srgb, red, blue)", b"\xc3\xa9", b"&amp;", b"auto", b"bold",
          b"translate(1e9)", b"rotate(45)", b"matrix(0 0 0 0 0 0)", b"evenodd",
          b"objectBoundingBox", b"userSpaceOnUse", b"non-scaling-stroke", b"scale(0)",
          b"0 0 0 0"]  # fmt: skip


SHARES = {"job": 0.80, "svg": 0.06, "dxf": 0.06, "image": 0.05, "pdf": 0.03}


def seeds(kind):
    """Yield the files that are mutated."""
    if kind == "job":
        return [text.encode() for text in (JOB, PLATE, SIGN)]
    if kind == "svg":
        return [path.read_bytes() for path in sorted(TRICKY.glob("*.svg"))]
    if kind == "dxf":
        return dxf_seeds()
    if kind == "pdf":
        return pdf_seeds()
    return image_seeds()


def dxf_seeds():
    """Drawings with most kinds of entities, in three versions."""
    import ezdxf

    made = []
    for version in ("R12", "R2000", "R2018"):
        document = ezdxf.new(version)
        space = document.modelspace()
        block = document.blocks.new("B")
        block.add_circle((0, 0), 1)
        space.add_blockref("B", (3, 3), dxfattribs={"xscale": 2, "rotation": 30})
        space.add_circle((10, 5), 3)
        space.add_arc((10, 5), 4, 0, 180)
        space.add_line((6, 5), (14, 5))
        space.add_text("SLUICE", height=3)
        space.add_polyline2d([(0, 0, 1), (9, 0, 0), (9, 9, 0.5)], format="xyb", close=True)
        if version != "R12":
            space.add_spline([(0, 0), (5, 5), (9, 0), (0, 0)])
            space.add_ellipse((20, 0), (5, 1), 0.4)
            hatch = space.add_hatch(color=2)
            hatch.paths.add_polyline_path([(0, 0), (4, 0), (4, 4)], is_closed=True)
            space.add_mtext("Gate\\P3", dxfattribs={"char_height": 2})
        text = io.StringIO()
        document.write(text)
        made.append(text.getvalue().encode())
    return made


def pdf_seeds():
    """Pages of the typesetter with shapes, lettering and a gradient."""
    import typst

    made = []
    for name in ("basic-shapes", "gradient-across", "text-plain", "opacity", "clip-path"):
        svg = (TRICKY / f"{name}.svg").read_text(encoding="utf-8")
        source = b'#set page(width: 40mm, height: 24mm, margin: 0mm)\n'\
                 b'#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'  # fmt: skip
        made.append(bytes(typst.compile(source, format="pdf", sys_inputs={"svg": svg})))
    return made


def image_seeds():
    """A small picture in several formats."""
    import numpy as np
    from PIL import Image

    grey = (np.indices((40, 60)).sum(axis=0) * 3 % 256).astype("uint8")
    made = []
    for form in ("PNG", "JPEG", "TIFF", "BMP", "WEBP"):
        for mode in ("L", "RGB"):
            buffer = io.BytesIO()
            Image.fromarray(grey).convert(mode).save(buffer, form)
            made.append(buffer.getvalue())
    return made


def mutated(data, others, chance):
    """Change a file in one to five places."""
    for _ in range(chance.randint(1, 5)):
        way = chance.random()
        if way < 0.35 and (found := spots(rb"-?\d+\.?\d*(?:e-?\d+)?", data)):
            a, b = chance.choice(found)
            data = data[:a] + chance.choice(NUMBERS) + data[b:]
        elif way < 0.6 and (found := spots(rb'(?<==")[^"]*(?=")', data)):
            a, b = chance.choice(found)
            other = chance.choice(others)
            theirs = spots(rb'(?<==")[^"]*(?=")', other)
            value = chance.choice(VALUES)
            if theirs and chance.random() < 0.5:
                c, d = chance.choice(theirs)
                value = other[c:d]
            data = data[:a] + value + data[b:]
        elif way < 0.75:
            lines = data.split(b"\n")
            k = chance.randrange(len(lines))
            lines[k : k + 1] = [lines[k]] * chance.choice([0, 2, 3])
            data = b"\n".join(lines)
        elif way < 0.9:
            a = chance.randrange(len(data) + 1)
            other = chance.choice(others)
            c = chance.randrange(len(other) + 1)
            data = data[:a] + other[c : c + chance.randint(1, 200)] + data[a:]
        elif data:
            k = chance.randrange(len(data))
            data = data[:k] + bytes([chance.randrange(256)]) + data[k + 1 :]
    return data


def spots(pattern, data):
    """Where a pattern occurs, in the first 200 kB."""
    return [match.span() for match in re.finditer(pattern, data[:200_000])]


def read(kind, data):
    """Read one input, or refuse it."""
    if kind == "job":
        parse_job(data, file="job.toml")
    else:
        read_artwork(data, ArtworkRequest(file="a", width_mm=40.0), BLANK, name="a")


def tried(kind, count, given):
    """Run so many inputs of a kind, print what came of them, and return the kinds of faults."""
    chance, files = random.Random(given.seed), seeds(kind)
    faults, slowest, refused, done = {}, (0.0, b""), 0, 0
    began = time.monotonic()
    while done < count and time.monotonic() - began < given.seconds:
        data = mutated(chance.choice(files), files, chance)
        start = time.process_time()
        try:
            read(kind, data)
        except StopoutError as fault:
            refused += 1
            if not str(fault).strip():
                faults["a refusal without words"] = data
        except KeyboardInterrupt:
            raise
        except BaseException as fault:
            last = traceback.extract_tb(fault.__traceback__)[-1]
            faults.setdefault(f"{type(fault).__name__} {last.filename}:{last.lineno} {fault}"[:200],
                              data)  # fmt: skip
        slowest = max(slowest, (time.process_time() - start, data))
        done += 1
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{kind}: {done} inputs, {refused} refused, {len(faults)} kinds of faults, slowest "
          f"{slowest[0]:.1f} s, {memory:.0f} MB", flush=True)  # fmt: skip
    given.keep.mkdir(exist_ok=True)
    (given.keep / f"slowest-{kind}").write_bytes(slowest[1])
    for number, (words, data) in enumerate(faults.items()):
        print(words)
        (given.keep / f"{kind}-{number}").write_bytes(data)
    return len(faults)


def main():
    """Run so many inputs; the exit status is the number of kinds of faults."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("kind", choices=["all", *SHARES])
    options.add_argument("count", type=int)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--keep", type=Path, default=Path("faults"))
    options.add_argument("--seconds", type=float, default=1e9, help="the most for one kind")
    given = options.parse_args()
    counts = {given.kind: given.count}
    if given.kind == "all":
        counts = {kind: round(share * given.count) for kind, share in SHARES.items()}
    return min(99, sum(tried(kind, count, given) for kind, count in counts.items()))


if __name__ == "__main__":
    sys.exit(main())
