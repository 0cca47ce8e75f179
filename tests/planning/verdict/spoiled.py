"""Twelve jobs that something spoils, drawn for the tests: small tags of the tide mill."""

from __future__ import annotations

from jobmaker import make_job, plate
from stopout.artwork.reading import read_artwork
from stopout.job.record import Hole
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job

__all__ = ["JOBS", "planned", "svg"]


def svg(body: str, *, width: float, height: float) -> bytes:
    """An SVG page in mm."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{body}</svg>'
    ).encode()


def words(text: str, x: float, y: float, size: float, anchor: str = "middle") -> str:
    """Live text whose baseline lies `y` mm under the page's top."""
    return (
        f'<text x="{x}" y="{y}" font-size="{size}" font-family="Barlow" '
        f'text-anchor="{anchor}">{text}</text>'
    )


def planned(data: bytes, *, name: str = "tag.svg", size=(40.0, 20.0), **changes):
    """Plan artwork that a file holds."""
    blank = changes.pop("blank", plate(size=size))
    limits = {"edge_tolerance_mm": 0.05, "too_thin": "widen"} | changes.pop("limits", {})
    artwork = {"file": name} | changes.pop("artwork", {})
    job = make_job(blank=blank, limits=limits, artwork=artwork, **changes)
    drawing = read_artwork(data, job.artwork, job.blank, name=name)
    return plan_job(job, drawing, knowledge_for(job))


def ear():
    """An r whose ear would take the land beside it: it comes out as another letter."""
    body = (
        '<path d="M10 8h.26v.3h.36v.1h-.36v.66h-.26z M10.62 8.47h2v.63h-2z"/>'
        '<path d="M20 4h3v12h-3z"/>'
    )
    return planned(svg(body, width=40, height=20))


def page_too_small():
    """A title 42 mm wide on a page of 40 mm, on a blank of 60 mm."""
    return planned(svg(words("HIGH WATER", 20, 13, 8), width=40, height=20), size=(60.0, 20.0))


def blank_too_small():
    """A drawing of 50 mm on a blank of 40 mm loses its first and last numeral."""
    return planned(svg(words("1 2 3 4 5 6 7 8", 27, 13, 8), width=54, height=20))


def drilled():
    """A mounting hole through the emblem."""
    body = '<path d="M10 10l6-6 6 6-6 6z M30 5h5v10h-5z"/>'
    blank = plate(size=(40.0, 20.0), holes=(Hole(at_mm=(18.0, 11.0), diameter_mm=3.0),))
    return planned(svg(body, width=40, height=20), blank=blank)


def drilled_letter():
    """A hole through a letter of a word."""
    blank = plate(size=(40.0, 20.0), holes=(Hole(at_mm=(8.0, 10.0), diameter_mm=2.0),))
    return planned(svg(words("MILL", 20, 14, 12), width=40, height=20), blank=blank)


def inverted():
    """White lettering on black out to the rim."""
    body = f'<rect width="40" height="20"/><g fill="#fff">{words("TIDE", 20, 13, 8)}</g>'
    return planned(svg(body, width=40, height=20))


def too_small():
    """A line of lettering too small for this mark and etch."""
    body = words("MILL", 20, 9, 6) + words("turn off the sluice", 20, 14, 1.0)
    return planned(svg(body, width=40, height=20))


def merging():
    """Two hairlines that are widened into each other."""
    body = '<path d="M5 4h.06v2h-.06z M5.13 4h.06v2h-.06z M20 4h9v12h-9z"/>'
    return planned(svg(body, width=40, height=20))


def filling():
    """A ring whose counter is too narrow to stay."""
    body = '<path fill-rule="evenodd" d="M5 4h.3v.3h-.3z M5.08 4.08v.14h.14v-.14z M22 4h8v12h-8z"/>'
    return planned(svg(body, width=40, height=20))


def raised_filling():
    """The counters of raised lettering are too small to be etched."""
    body = (
        '<path fill-rule="evenodd" d="M8 6h1v1h-1z M8.47 6.4v.2h.06v-.2z M12 6h1v1h-1z '
        'M12.47 6.4v.2h.06v-.2z M16 6h6v8h-6z"/>'
    )
    return planned(
        svg(body, width=40, height=20),
        artwork={"dark": "raised", "field_mm": 2.0},
        limits={"too_thin": "leave-out"},
    )


def raised_in_margin():
    """Raised lettering that runs into the margin."""
    return planned(
        svg(words("MILL", 10.5, 14, 9), width=40, height=20),
        artwork={"dark": "raised", "field_mm": 3.0},
    )


def refused_thin():
    """A hairline where the job says that what is too thin stops it."""
    body = '<path d="M5 4h10v12h-10z M20 4h.02v12h-.02z"/>'
    return planned(svg(body, width=40, height=20), limits={"too_thin": "stop"})


# What the verdict on each must be: state, first code, a word of its first line.
JOBS = {
    ear: ("look", "part-lost", "loses a part"),
    page_too_small: ("stopped", "cut-off", '2 letters ("H R") are cut off by the edge of its own'),
    blank_too_small: ("stopped", "cut-off", "cut off by the blank's edge"),
    drilled: ("stopped", "hole-through-artwork", "3 mm hole"),
    drilled_letter: ("stopped", "hole-through-artwork", "MILL"),
    inverted: ("stopped", "inverted-artwork", "looks inverted"),
    too_small: ("look", "parts-merged", '"turn off the sluice", 0.7 mm high: too small'),
    merging: ("look", "parts-merged", "goes"),
    filling: ("look", "counter-closed", "counter filled"),
    raised_filling: ("look", "counter-closed", "filled"),
    raised_in_margin: ("look", "artwork-at-rim", "stands in the margin"),
    refused_thin: ("stopped", "thin-opening", "0.020 mm"),
}
