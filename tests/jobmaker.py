"""Makes jobs and drawings in code: small plates and tags of the sluice gear, planned in memory.

Defaults suit exact theory: a round mark of 0.10 mm, an undercut of 0.06 mm (0.06 mm deep at an
etch factor of 1), so a reach of 0.11 mm; no edge tolerance; what is too thin is left out.
"""

from __future__ import annotations

from dataclasses import replace

from remembered import afresh
from stopout.job.record import ArtworkRequest, Blank, Clearing, Coat, Etch, Job, Limits, Strength
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.values import Drawing, Machine, Measured

UNDERCUT = 0.06
MARK = 0.10
REACH = UNDERCUT + MARK / 2

MACHINE = Machine(
    spot_mm=(0.17, 0.17),
    spot_means="1/e2",
    wavelength_nm=450.0,
    power_w=5.5,
    top_speed_mm_s=100.0,
    acceleration_mm_s2=800.0,
    step_mm=0.0125,
    bed_mm=(400.0, 400.0),
    blank_at_mm=(30.0, 30.0),
    cornering_mm=0.01,
    power_word=1000.0,
    beam_on="M3",
    power_follows_speed=True,
)
LYE = Etch(
    etchant="sodium-hydroxide",
    strength=Strength(value=100.0, unit="g/L"),
    temperature_degc=40.0,
    depth_mm=0.06,
    etch_factor=Measured(value=1.0),
)
CLEARING = Clearing(power=0.3, speed_mm_s=20.0, mark_mm=(Measured(value=0.1), Measured(value=0.1)))


def mark(x_mm, y_mm=None):
    """A measured mark, round unless two axes are given."""
    return (Measured(value=x_mm), Measured(value=x_mm if y_mm is None else y_mm))


def plate(size=(12.0, 10.0), **changes):
    """An aluminium blank worked on its front, square corners, no holes."""
    fields = {
        "material": "aluminium",
        "width_mm": size[0],
        "height_mm": size[1],
        "thickness_mm": 1.5,
        "worked_side": "front",
    }
    return Blank(**{**fields, **changes})


def make_job(*, machine=None, clearing=None, limits=None, artwork=None, **changes):
    """A valve tag's job; `machine`, `clearing`, `limits`, `artwork` change single fields."""
    fields = {
        "name": "Valve tag",
        "blank": plate(),
        "coats": (Coat(paint="epoxy-two-part"),),
        "sha256": "0" * 64,
        "etch": LYE,
        "machine": replace(MACHINE, **(machine or {})),
        "clearing": replace(CLEARING, **(clearing or {})),
        "limits": Limits(
            **{"edge_tolerance_mm": 0.0, "too_thin": "leave-out", "narrowest_land_mm": 0.15}
            | (limits or {})
        ),
        "artwork": ArtworkRequest(**{"file": "tag.svg"} | (artwork or {})),
    }
    return Job(**{**fields, **changes})


def drawing(dark, **changes):
    """Artwork that is already laid on the blank, as seen."""
    x0, y0, x1, y1 = (0, 0, 0, 0) if dark.is_empty else dark.bounds
    fields = {
        "file": "tag.svg",
        "sha256": "1" * 64,
        "width_mm": x1 - x0,
        "height_mm": y1 - y0,
        "dark": dark,
    }
    return Drawing(**{**fields, **changes})


def plan(dark, job=None, **changes):
    """Plan artwork: by a job, or by the default one with changes; the same is planned but once."""
    job = make_job(**changes) if job is None else job
    return plan_job(job, drawing(dark), knowledge_for(job))


def plan_afresh(dark, job=None, **changes):
    """Plan artwork, whatever was planned before."""
    with afresh():
        return plan(dark, job, **changes)


def codes(made, level=None):
    """The codes of a plan's findings, of one level if asked."""
    return [f.code for f in made.findings if level is None or f.level == level]
