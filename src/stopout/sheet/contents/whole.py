"""The whole sheet of a plan: card, stages and records, annex, wall page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from stopout import __version__
from stopout.planning import Plan
from stopout.sheet.contents.annex import annex
from stopout.sheet.contents.bench import bench_numbers
from stopout.sheet.contents.both_units import with_measurable_numbers
from stopout.sheet.contents.card import job_card
from stopout.sheet.contents.records import records
from stopout.sheet.model import STAGE, Block, Header, Heading, Hold, Sheet, Step, Stop
from stopout.sheet.stages.hazards import emergency
from stopout.sheet.stages.light import light_stages
from stopout.sheet.stages.plate import plate_stages
from stopout.sheet.stages.rework import rework
from stopout.sheet.stages.sign import sign_stages
from stopout.sheet.words import DEFER, sentence
from stopout.values import Level

# Reasons that fit on the one page of a stopped plan; the others are counted.
_MOST_REASONS = 5


def sheet_contents(
    plan: Plan,
    *,
    pictures: dict[str, str],
    statements: Mapping[str, str] | None = None,
    date: str | None = None,
) -> Sheet:
    """Lay out the sheet of a plan; where the plan is stopped, the one page that says so.

    Parameters
    ----------
    plan : Plan
        A finished plan.
    pictures : dict of str to str
        SVG drawings by name: `as-seen`, `as-worked-K`, as `sheet_pictures` makes them.
    statements : mapping of str to str
        Texts of the hazard and precautionary statements by code, at least those of the plan's
        hazards.
    date : str, optional
        ISO 8601, from which the calendar is calculated; left out, it counts days.

    Raises
    ------
    KeyError
        If a statement of one of the plan's hazards is missing.
    """
    if plan.is_stopped:
        return stop_contents(plan)
    return with_measurable_numbers(_laid_out(plan, pictures, statements or {}, date))


def _laid_out(
    plan: Plan, pictures: dict[str, str], texts: Mapping[str, str], date: str | None
) -> Sheet:
    return Sheet(
        header=_header(plan),
        card=tuple(job_card(plan, pictures, date)),
        blocks=counted([*_stages(plan, texts), *rework(plan), *records(plan)]),
        annex=tuple(annex(plan, pictures, texts)),
        wall=tuple(emergency(plan)),
        has_program=plan.job.route.has_beam,
        bench=bench_numbers(plan),
        hazards=tuple(hazard.ident for hazard in plan.hazards),
    )


def _stages(plan: Plan, texts: Mapping[str, str]) -> list[Block]:
    if plan.job.route.is_lit:
        return light_stages(plan, texts)
    return sign_stages(plan, texts) if plan.etch is None else plate_stages(plan, texts)


def stop_contents(plan: Plan) -> Sheet:
    """The one page of a plan that must not be worked: reasons and remedies, nothing to set."""
    stops = [one for one in plan.verdict.told if one.level is Level.STOP]
    codes = list(dict.fromkeys(finding.code for finding in stops))
    # One of each kind first: ten thin strokes must not hide a refusal of the chemistry.
    firsts = [next(finding for finding in stops if finding.code == code) for code in codes]
    others = [finding for finding in stops if finding not in firsts]
    shown = (firsts + others)[:_MOST_REASONS]
    left = len(stops) - len(shown)
    more = f"Reasons not listed here: {left}; see plan.json and preview.png." if left else ""
    block = Stop(
        reasons=tuple((sentence(found.message), sentence(found.remedy)) for found in shown),
        more=more,
        after=f"Mend the job file or the artwork and plan again. {DEFER}",
    )
    return Sheet(header=_header(plan), blocks=(block,), is_stop=True)


def _header(plan: Plan) -> Header:
    job = plan.job
    return Header(
        job=job.name,
        revision=job.revision,
        quantity=len(plan.pieces) if plan.is_panel else job.quantity,
        artwork=plan.drawing.sha256[:12],
        tool=f"Stopout {__version__}",
    )


def counted(blocks: list[Block]) -> tuple[Block, ...]:
    """Number steps and holds, letter the stages."""
    counts = {"step": 0, "stage": 0}
    holds: dict[str, int] = {}
    done: list[Block] = []
    for block in blocks:
        if isinstance(block, Step):
            counts["step"] += 1
            block = replace(block, number=counts["step"])
        elif isinstance(block, Hold):
            # A second clearing stops before the same things as the first.
            number = holds.setdefault(block.before, len(holds) + 1)
            block = replace(block, number=number)
        elif isinstance(block, Heading) and block.letter == STAGE:
            block = replace(block, letter=chr(ord("A") + counts["stage"]))
            counts["stage"] += 1
        done.append(block)
    return tuple(done)
