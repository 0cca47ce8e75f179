"""What the clear sheet itself has to say: to the beam, and to the eye that looks through it."""

from __future__ import annotations

from stopout.etching import Advice, Material
from stopout.job.record import Job
from stopout.planning.measures.optics import apparent_depth_mm, oblique_offset_mm
from stopout.values import Finding

# A reader half turned away: the usual worst view of a sign (our own choice).
_VIEW_DEG = 45.0


def sheet_findings(job: Job, material: Material) -> list[Finding]:
    """Findings about a sheet worked on its back; none for a piece worked on its front.

    Parameters
    ----------
    job : Job
        For the side, the thickness and the laser's wavelength.
    material : Material
        The sheet: which beams pass, mark or harm it, and its refractive index.
    """
    if not job.blank.is_back_worked:
        return []
    # A sheet without paint is meant to be marked: planning.edge_light says whether it may.
    bare = not job.route.clears_paint
    beam = [] if bare else _beam(job, material)
    return [*beam, *_look(job, material)]


def _beam(job: Job, material: Material) -> list[Finding]:
    """Say what this beam does to the sheet once the paint is gone."""
    wavelength_nm = job.laser.wavelength_nm
    harms = _holding(material.harms, wavelength_nm)
    marks = _holding(material.marks, wavelength_nm)
    passes = _holding(material.passes, wavelength_nm)
    if harms is not None:
        return [
            Finding.stop(
                "beam-harms",
                f"{harms.text} ({wavelength_nm:g} nm)",
                "Take another sheet, or a laser whose beam passes this one.",
            )
        ]
    if marks is not None:
        return [
            Finding.caution(
                "beam-marks",
                f"{marks.text} ({wavelength_nm:g} nm)",
                "Find on an offcut the dose that clears the paint and leaves the sheet as "
                "it is; if there is none, use a laser whose beam passes the sheet.",
            )
        ]
    if passes is not None:
        return [
            Finding.caution(
                "beam-passes",
                f"{passes.text}: where the paint is gone it goes on to whatever lies under "
                "the sheet, and comes back from a shiny bed",
                "Lay a matt, dark, non-flammable board well below the plastic.",
            )
        ]
    return [
        Finding.caution(
            "beam-untried",
            f"what a beam of {wavelength_nm:g} nm does to {_plain(material)} is not in the "
            "table: it may pass, mark or burn it",
            "Ask the sheet's supplier, and try an offcut over a matt, dark, "
            "non-flammable board, attended and with extraction.",
        )
    ]


def _holding(advice: tuple[Advice, ...], wavelength_nm: float) -> Advice | None:
    """Return the first sentence whose band holds the wavelength."""
    return next((item for item in advice if item.holds_at(wavelength_nm)), None)


def _plain(material: Material) -> str:
    """Return the material's name without what follows a comma, to stand in a sentence."""
    return material.name.split(",")[0]


def _look(job: Job, material: Material) -> list[Finding]:
    """Say where the back seems to lie, for what stands before it: a frame, a standoff."""
    if material.refractive_index is None:
        return []
    thickness_mm, index = job.blank.thickness_mm, material.refractive_index.value
    depth_mm = apparent_depth_mm(thickness_mm, index)
    offset_mm = oblique_offset_mm(thickness_mm, index, view_deg=_VIEW_DEG)
    return [
        Finding.note(
            "seen-through",
            f"through {thickness_mm:g} mm of {_plain(material)} the back seems "
            f"{depth_mm:.2f} mm deep, and from {_VIEW_DEG:g} deg aside it shifts "
            f"{offset_mm:.2f} mm against what lies on the front",
            "Keep what a frame or a standoff must hide that much farther under it.",
        )
    ]
