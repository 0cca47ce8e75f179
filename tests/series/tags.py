"""A small sluice tag with a number, a place and nothing else, as a job file."""

from __future__ import annotations

from cli.shop_files import JOB

# The machine of the small jobs, and how it clears.
_MACHINE = JOB[JOB.index("[machine]") : JOB.index("[etch]")]

_JOB = """[job]
name = "Sluice tags"
{head}

[[frame]]
margin = "0.8 mm"
width = "0.4 mm"

[[text]]
words = "{words}"
cap_height = "3 mm"
font = "Barlow Bold"
{more}
{series}
{panel}
[blank]
material = "brass"
width = "26 mm"
height = "12 mm"
thickness = "1 mm"
worked_side = "front"

[resist]
paint = "epoxy-two-part"

{machine}[etch]
etchant = "ferric-chloride"
strength = "40 degBe"
temperature = "25 degC"
depth = "0.05 mm"
filled = true
"""


_FILM = """[film]
resist_acts = "negative"
"""


def tag_job(
    folder,
    *,
    rows="number,place\n1,W\n2,M\n",
    words="{number} {place}",
    series='rows = "tags.csv"',
    panel="",
    head="",
    more="",
    no_series=False,
    film=False,
):
    """Write the job and its rows; returns the job file."""
    data = rows if isinstance(rows, bytes) else rows.encode()
    (folder / "tags.csv").write_bytes(data)
    path = folder / "tags.toml"
    job = _JOB
    if film:
        before, after = job.split("{machine}")
        job = f'{before}method = "printed-film"\n\n{_FILM}\n[etch]{after.split("[etch]")[1]}'
    path.write_text(
        job.format(
            words=words,
            machine=_MACHINE,
            head=head,
            more=more,
            series="" if no_series else f"[series]\n{series}\n",
            panel=f"[panel]\n{panel}\n",
        ),
        encoding="utf-8",
    )
    return path
