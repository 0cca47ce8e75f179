"""Changed job files and drawings in great numbers: each must be read or refused in words.

    python tests/bench/mutate_inputs.py all|job|plan|svg|dxf|pdf|image COUNT [--seed 1]
        [--workers 1] [--keep FOLDER] [--only INDEX]

Half are mild, so that they are read far: values that the job model calls usual, valid and odd
drawings, numbers a little off; half are wild (`mutations.py`). `job` is a job file read, checked
and looked up in the tables; `plan` a mild one planned to its sheet, whose texts may hold no number
that cannot be measured. The same seed gives the same inputs, each by its index. `all` shares COUNT
out. An input over the usual budget of a run (120 s of computing, 4 GiB) is a fault as well as one
that ends in anything but a refusal; each kind of fault is kept. What was found is kept in
tests/artwork/test_hostile.py and tests/jobs.
"""

from __future__ import annotations

import argparse
import io
import random
import sys
import traceback
from pathlib import Path
from tempfile import gettempdir

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from mutations import a_little_off, mutated, odd_job, odd_picture, odd_svg
from workers import trials

from cli.extremes import faults, texts_of
from cli.shop_files import JOB
from jobs.job_texts import PLATE, SIGN
from stopout.artwork import read_artwork
from stopout.errors import StopoutError
from stopout.job.record import ArtworkRequest, Blank
from stopout.jobs import parse_job
from stopout.library.knowledge import knowledge_for

TRICKY = Path(__file__).parents[1] / "artwork" / "tricky"
BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
SHARES = {"job": 0.79, "plan": 0.01, "svg": 0.06, "dxf": 0.06, "image": 0.05, "pdf": 0.03}
# What a run may take: the budget of the command line.
TIME_S, MEMORY_GIB = 120.0, 4.0


def seeds(kind):
    """The files that are changed."""
    if kind in ("job", "plan"):
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
    return [*made, plain_pdf(), plain_pdf()]


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


def plain_pdf():
    """A page written by hand and not packed, so that a changed number reaches its drawing."""
    content = (
        b"0.2 g 10 10 40 20 re f q 1 0 0 1 60 30 cm 0 0 m 20 0 25 5 30 20 c h f* Q\n"
        b"2 w 1 J 1 j [4 2] 0 d 0 0 1 RG 5 60 m 90 55 l 50 20 l s\n"
        b"q 20 5 30 30 re W n 0.5 g 15 15 60 60 re f Q BT /F 12 Tf 10 45 Td (Gate 3) Tj ET\n"
    )
    parts = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 113 68]/Contents 4 0 R/Resources<</Font<</F "
        b"<</Type/Font/Subtype/Type1/BaseFont/Helvetica>> >> >> >>",
        b"<</Length %d>>stream\n%sendstream" % (len(content), content),
    ]
    body, places = b"%PDF-1.4\n", []
    for number, part in enumerate(parts, 1):
        places.append(len(body))
        body += b"%d 0 obj%s endobj\n" % (number, part)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    return (
        body + b"xref\n0 5\n0000000000 65535 f \n%strailer<</Size 5/Root 1 0 R>>\n"
        b"startxref\n%d\n%%%%EOF\n" % (table, len(body))
    )


def made(kind, files, chance):
    """One input of a kind."""
    mild = kind == "plan" or chance.random() < 0.5
    if kind in ("job", "plan") and mild:
        return odd_job(chance)
    if kind == "svg" and mild:
        return (
            odd_svg(chance) if chance.random() < 0.7 else a_little_off(chance.choice(files), chance)
        )
    if kind == "image" and mild:
        return odd_picture(chance)
    if mild:
        return a_little_off(chance.choice(files), chance)
    return mutated(chance.choice(files), files, chance)


def read(kind, data):
    """Read one input, or refuse it; returns what a text says that it should not."""
    if kind == "job":
        job = parse_job(data, file="job.toml")
        if job.tables_file is None:
            knowledge_for(job)
    elif kind == "plan":
        texts = texts_of(data.decode())
        if told := next(faults(texts), None):
            return f"fault: {told[0]} says {told[1]}"
        return "refused" if "refusal" in texts else ""
    else:
        read_artwork(data, ArtworkRequest(file="a", width_mm=40.0), BLANK, name="a")
    return ""


def tried(kind, data):
    """What comes of an input: nothing, "refused" or "fault: ..."."""
    try:
        return read(kind, data)
    except StopoutError as fault:
        return "refused" if str(fault).strip() else "fault: a refusal without words"
    except BaseException as fault:
        last = traceback.extract_tb(fault.__traceback__)[-1]
        return f"fault: {type(fault).__name__} {last.filename}:{last.lineno} {fault}"[:300]


def run(kind, count, given):
    """Try so many inputs of a kind, print what came of them, return the number of faults' kinds."""
    files, kinds, done, refused = seeds(kind), {}, 0, 0
    slowest, most_mb, taken = (0.0, 0), 0.0, 0.0

    def input_at(index):
        return made(kind, files, random.Random(f"{given.seed} {kind} {index}"))

    indices = range(count) if given.only is None else [given.only]
    told = trials(
        lambda index: tried(kind, input_at(index)),
        indices,
        workers=given.workers,
        time_s=TIME_S,
        memory_gib=MEMORY_GIB,
    )
    for index, said, seconds, held_mb in told:
        most_mb = max(most_mb, held_mb)
        if index is None:
            continue
        done, refused, taken = done + 1, refused + (said == "refused"), taken + seconds
        slowest = max(slowest, (seconds, index))
        if said.startswith("fault") and said not in kinds:
            kinds[said] = index
            print(f"{kind} {index}: {said}", flush=True)
            given.keep.mkdir(exist_ok=True)
            (given.keep / f"{kind}-{index}").write_bytes(input_at(index))
        if done % 5000 == 0:
            print(f"{kind}: {done} so far, {refused} refused", flush=True)
    if most_mb > MEMORY_GIB * 1024:
        kinds["memory"] = 0
    print(f"{kind}: {done} inputs, {refused} refused, {len(kinds)} kinds of faults, slowest "
          f"{slowest[0]:.1f} s (index {slowest[1]}), {most_mb:.0f} MB, {taken:.0f} s of computing",
          flush=True)  # fmt: skip
    return len(kinds)


def main():
    """Try so many inputs; the exit status is the number of kinds of faults."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("kind", choices=["all", *SHARES])
    options.add_argument("count", type=int)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--workers", type=int, default=1)
    options.add_argument("--keep", type=Path, default=Path(gettempdir()) / "stopout-faults")
    options.add_argument("--only", type=int, help="try the one input of this index")
    given = options.parse_args()
    counts = {given.kind: given.count}
    if given.kind == "all":
        counts = {kind: round(share * given.count) for kind, share in SHARES.items()}
    return min(99, sum(run(kind, count, given) for kind, count in counts.items()))


if __name__ == "__main__":
    sys.exit(main())
