"""From complete, checked tables to the frozen records of a `Job`."""

from __future__ import annotations

from typing import Any

from stopout.job.record import ArtworkRequest, Coat, Job, Stencil
from stopout.job.setting import Setting
from stopout.jobs.keys.definition import GivenTable
from stopout.jobs.keys.model import JOB_FILE, clearing_of
from stopout.typefaces import missing_letters
from stopout.values import Finding


def job_of(tables: GivenTable, *, sha256: str) -> Job:
    """Make the job.

    Parameters
    ----------
    tables : GivenTable
        Tables without a mistake.
    sha256 : str
        Of the job file's bytes, in hexadecimal.

    Returns
    -------
    Job
        With a note for each key that has no effect.
    """
    fields = JOB_FILE.fields(tables)
    fields.setdefault("artwork", ArtworkRequest())
    drawn = ("texts", "lines", "frames", "codes")
    fields["setting"] = Setting(**{name: fields.pop(name) for name in drawn})
    _route(fields)
    return Job(**fields, sha256=sha256, findings=_findings(tables))


def _route(fields: dict[str, Any]) -> None:
    """How openings are made, and in which coats: [resist] is the one coat on metal."""
    resist = fields.pop("resist", None)
    if resist is not None:
        fields["method"] = resist.pop("method")
    elif fields["coats"] and "stencil" in fields:
        # The masks of a sign are cut where a stencil is given.
        fields["method"] = "cut-film"
    if fields.get("method") == "cut-film":
        fields.setdefault("stencil", Stencil())
    if "machine" in fields and fields.get("method", "laser") == "laser":
        fields.setdefault("clearing", clearing_of())
    # Where the beam marks the sheet itself, a stand-in carries what a coat else would.
    bare = [{"paint": "", "colour": "frosted"}] if "light" in fields else []
    coats: list[Coat] = []
    for coat in [resist] if resist is not None else bare or fields["coats"]:
        # Nothing is sprayed for a window to light; its paint only has to be one that is known.
        coats.append(Coat(**{"paint": coats[-1].paint if coats else "", **coat}))
    fields["coats"] = tuple(coats)


def _findings(tables: GivenTable) -> tuple[Finding, ...]:
    findings: list[Finding] = []
    artwork = tables.artwork
    if artwork is not None and artwork.field is not None and artwork.dark != "raised":
        findings.append(
            Finding.note(
                "no-effect",
                '[artwork] field has no effect: it is for dark = "raised"',
                remedy='Leave field out, or write dark = "raised".',
            )
        )
    lost = missing_letters(tables.job.name + tables.job.revision)
    if lost:
        findings.append(
            Finding.caution(
                "letters-missing",
                f"no typeface here has these letters of the job's name: {' '.join(lost)}; "
                "sheet and preview show boxes in their place",
                remedy="Write the name in letters of another script as well.",
            )
        )
    return tuple(findings)
