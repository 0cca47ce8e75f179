"""What stands on the process sheet of a plan, in the order of the work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from stopout import __version__
from stopout.etching import EtchPlan
from stopout.planning import CoatPlan, Plan
from stopout.sheet.contents.bench import bench_numbers
from stopout.sheet.contents.model import (
    STAGE,
    Blank,
    Block,
    Facts,
    Header,
    Heading,
    Hold,
    Note,
    Picture,
    Pictures,
    Result,
    Sheet,
    Signatures,
    Sketches,
    Step,
    Stop,
    Table,
)
from stopout.sheet.contents.needs import blank_size, needs
from stopout.sheet.contents.numbers import findings, plan_numbers
from stopout.sheet.contents.times import clearing_times
from stopout.sheet.contents.words import DEFER, capital, grams, length, sentence
from stopout.sheet.drawings.maps import deviation_map, enlarged
from stopout.sheet.drawings.sketches import coat_sketch
from stopout.sheet.stages.bath import is_guess
from stopout.sheet.stages.hazards import emergency, hazard_reference
from stopout.sheet.stages.light import band_table, light_stages
from stopout.sheet.stages.paint import paint_and_calendar
from stopout.sheet.stages.plate import plate_stages
from stopout.sheet.stages.rework import rework
from stopout.sheet.stages.sign import coat_table, sign_stages
from stopout.values import Level

__all__ = ["counted", "sheet_contents", "stop_contents"]

# Lines in the record of the pieces: more would not be filled in by hand.
_MOST_PIECES = 16
# Room for a map on the paper.
_WIDEST_MAP_MM = 86.0
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
        ISO 8601, from which the calendar is reckoned; left out, it counts days.

    Returns
    -------
    Sheet

    Raises
    ------
    KeyError
        If a statement of one of the plan's hazards is missing.
    """
    if plan.is_stopped:
        return stop_contents(plan)
    texts = statements or {}
    stages = _stages(plan, texts)
    blocks = [
        *_verdict(plan),
        *_what_it_is(plan, pictures),
        *needs(plan),
        *emergency(plan),
        *([] if plan.light else paint_and_calendar(plan, date)),
        Hold(
            number=0,
            before="work begins",
            checks=(
                "findings read and accepted",
                "first aid and spills read, telephone numbers written in",
                "safety data sheets at hand",
                "this revision is the current one",
            ),
        ),
        *stages,
        *rework(plan),
        *_records(plan),
        *_true_size(plan, pictures),
        *findings(plan),
        *plan_numbers(plan),
        *(clearing_times(plan) if _clears_paint(plan) else []),
        *_predicted(plan),
        *hazard_reference(plan, texts),
    ]
    return Sheet(header=_header(plan), blocks=counted(blocks), bench=bench_numbers(plan))


def _clears_paint(plan: Plan) -> bool:
    """Tell whether a beam clears paint: films clear none, and a lit sheet has none."""
    return plan.job.has_beam and plan.light is None


def _stages(plan: Plan, texts: Mapping[str, str]) -> list[Block]:
    if plan.light is not None:
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
        quantity=job.quantity,
        artwork=plan.drawing.sha256[:12],
        tool=f"Stopout {__version__}",
    )


def counted(blocks: list[Block]) -> tuple[Block, ...]:
    """Number steps and holds, letter the stages."""
    counts = {"step": 0, "hold": 0, "stage": 0}
    done: list[Block] = []
    for block in blocks:
        if isinstance(block, Step):
            counts["step"] += 1
            block = replace(block, number=counts["step"])
        elif isinstance(block, Hold):
            counts["hold"] += 1
            block = replace(block, number=counts["hold"])
        elif isinstance(block, Heading) and block.letter == STAGE:
            block = replace(block, letter=chr(ord("A") + counts["stage"]))
            counts["stage"] += 1
        done.append(block)
    return tuple(done)


def _verdict(plan: Plan) -> list[Block]:
    """What the plan comes to, and what to act on first."""
    verdict = plan.verdict
    rest = len(verdict.rest)
    more = f"{rest} more finding{'' if rest == 1 else 's'} near the end." if rest else ""
    lines = [sentence(one.brief) for one in verdict.lines]
    if verdict.unmeasured:
        what = "The mark" if plan.etch is None else "Mark or etch"
        lines.append(f"{what} is not measured in this shop yet: do a test piece first.")
    if more:
        lines.append(more)
    return [Heading(text=verdict.headline), *([Note(lines=tuple(lines))] if lines else [])]


def _what_it_is(plan: Plan, pictures: dict[str, str]) -> list[Block]:
    job, blank = plan.job, plan.job.blank
    rows = [
        ("Piece", f"{job.name}, revision {job.revision}"),
        (
            "Quantity",
            f"{job.quantity} ordered" + (f", {job.spares} spare besides" if job.spares else ""),
        ),
        (
            "Blank",
            f"{plan.material.name}, {blank_size(plan)}, {blank.finish}",
        ),
        (
            "Artwork",
            f"{plan.drawing.file}, {plan.drawing.width_mm:.2f} × "
            f"{plan.drawing.height_mm:.2f}\u00a0mm",
        ),
    ]
    if plan.etch is not None:
        rows.append(
            (
                "Etch",
                f"{length(plan.etch.depth_mm)} deep in {plan.etch.etchant_name}, "
                f"{plan.etch.temperature_degc:g}\u00a0°C",
            )
        )
    blocks: list[Block] = [
        Heading(text="What it is"),
        Facts(rows=tuple(rows)),
        Pictures(pictures=_side_by_side(plan, pictures)),
        Facts(rows=_orientation(plan), strong=True),
    ]
    if plan.light is not None:
        blocks += band_table(plan.light)
    if plan.shown:
        blocks += [Heading(text="Coats in order, from the viewer backwards"), coat_table(plan)]
        blocks.append(Sketches(sketches=(coat_sketch(plan),)))
    return blocks


def _side_by_side(plan: Plan, pictures: dict[str, str]) -> tuple[Picture, ...]:
    blank = plan.job.blank
    back = blank.is_back_worked
    size = {"width_mm": blank.width_mm, "height_mm": blank.height_mm}
    seen = Picture(
        title="As seen",
        words=_seen_words(plan),
        svg=pictures["as-seen"],
        mirrored=False,
        alt=f"The finished piece as its reader sees it: {plan.job.name}",
        **size,
    )
    worked = []
    for coat in plan.coats:
        of = f", coat {coat.number}" if plan.shown else ""
        worked.append(
            Picture(
                title=f"As worked{of}",
                words=("Mirrored. " if back else "Not mirrored. ") + _worked_words(plan, coat),
                svg=pictures[f"as-worked-{coat.number}"],
                mirrored=back,
                alt=f"The face under the laser{of}, {'mirrored' if back else 'not mirrored'}",
                **size,
            )
        )
    return (seen, *worked)


def _seen_words(plan: Plan) -> str:
    if plan.light is not None:
        return (
            f"Through the front, unlit. Dark: marked; it glows when the {plan.light.edge} is lit."
        )
    return "Through the front, in its coats' colours." if plan.shown else "Dark: recessed."


def _worked_words(plan: Plan, coat: CoatPlan) -> str:
    if plan.light is not None:
        return "Dark: marked."
    return f"{capital(coat.coat.colour)}: paint stays. Light: cleared."


def _orientation(plan: Plan) -> tuple[tuple[str, str], ...]:
    blank, artwork = plan.job.blank, plan.job.artwork
    if plan.light is not None:
        polarity = "Dark artwork is marked into the plastic: it glows when lit."
    elif plan.shown:
        polarity = "Coat by coat: each is cleared wherever a later coat is to show."
    elif artwork.dark == "raised":
        margin = f", up to {length(artwork.field_mm)} from the edge" if artwork.field_mm else ""
        polarity = f"Dark artwork stays RAISED; the field around it{margin} is cleared and etched."
    else:
        polarity = "Dark artwork is cleared and etched: it ends up RECESSED."
    if blank.is_back_worked:
        at = "under the laser" if plan.job.has_beam else "on the back"
        mirror = f"MIRRORED: reads BACKWARDS {at}, right through the front."
    else:
        mirror = "NOT MIRRORED: under the laser everything reads RIGHT, as for the reader."
        if not plan.job.has_beam:
            mirror = "NOT MIRRORED: on the work everything reads RIGHT, as for the reader."
    return (
        (
            "Worked side",
            f"The {blank.worked_side.upper()} lies under the laser."
            if plan.job.has_beam
            else f"The {blank.worked_side.upper()} is opened.",
        ),
        ("Polarity", polarity),
        ("Mirror", mirror),
        (
            "Letter",
            f"R beside a picture stands as the piece does: "
            f"{'backwards' if blank.is_back_worked else 'right'} as worked.",
        ),
    )


def _records(plan: Plan) -> list[Block]:
    blocks: list[Block] = []
    n = plan.job.quantity + plan.job.spares
    if plan.etch is not None:
        guess = is_guess(plan.etch)
        names = (["coupon"] if guess else []) + [f"{i}" for i in range(1, n + 1)]
        shown = names[:_MOST_PIECES]
        note = [
            f"Set: depth {1000 * plan.etch.depth_mm:.0f}\u00a0µm, loss "
            f"{grams(plan.etch.metal_per_piece_g)} a piece."
        ]
        if len(names) > len(shown):
            note.append(f"{len(names) - len(shown)} more on a second copy of this page.")
        blocks += [
            Heading(text="Record of the pieces"),
            Note(lines=(" ".join(note),)),
            Table(
                columns=(
                    "Piece",
                    "before, g",
                    "after, g",
                    "loss, g",
                    "depth, 3 places, µm",
                    "OK by",
                ),
                shares=(0.7, 1.0, 1.0, 1.0, 1.7, 1.0),
                rows=tuple((name, "", "", "", "", "") for name in shown),
                hand=True,
            ),
            Heading(text="Result, for the shop book"),
            _result(plan, plan.etch),
        ]
    return [
        *blocks,
        Heading(text="Deviations, and who signs"),
        Table(
            columns=("What was done otherwise, photographs",),
            shares=(1.0,),
            rows=(),
            blank_rows=2,
            hand=True,
        ),
        Facts(rows=(("Started", ""), ("Good", ""), ("Scrap", ""))),
        Signatures(rows=("Released for work", "Work done as written", "Accepted", "Filed under")),
    ]


def _result(plan: Plan, etch: EtchPlan) -> Result:
    """What a record of the finished pieces asks for; the rest of it the plan knows."""
    job = plan.job
    return Result(
        known=(
            ("name", job.name),
            ("revision", job.revision),
            ("material", job.blank.material),
            ("etchant", etch.etchant),
            ("strength_g_per_l", float(f"{etch.strength.g_per_l:.6g}")),
            ("temperature_degc", etch.temperature_degc),
            ("agitation", job.etch.agitation if job.etch else "tray"),
            ("pieces", job.quantity),
            ("job_sha256", job.sha256),
        ),
        asked=(
            Blank(key="depth_um", label="mean depth", unit="µm"),
            Blank(key="depth_sd_um", label="its spread", unit="µm"),
            Blank(key="time_min", label="in the bath", unit="min"),
            Blank(key="temperature_degc", label="bath, mean", unit="°C"),
            Blank(key="undercut_um", label="undercut", unit="µm"),
            Blank(key="pieces", label="good pieces", unit="pcs"),
            Blank(key="metal_g", label="metal lost, all", unit="g"),
            Blank(key="bath", label="bath's name", unit=""),
        ),
        words="Kept in the shop book, these numbers make the next plan's rate and etch factor "
        "better: stopout shop record FILE takes what the page for the phone saves.",
    )


def _true_size(plan: Plan, pictures: dict[str, str]) -> list[Block]:
    worked = _side_by_side(plan, pictures)[1:]
    return [
        Heading(text="True size: lay the blank on it"),
        Note(
            lines=(
                "Print at 100\u00a0%. The bar must measure 100\u00a0mm on paper; where it does "
                "not, the drawings are not true either.",
            )
        ),
        *(Pictures(pictures=(picture,), full_size=True) for picture in worked),
    ]


def _predicted(plan: Plan) -> list[Block]:
    """Where the finished edge is predicted to stray, and the worst places enlarged."""
    blocks: list[Block] = [
        Heading(text="What the finished edge is predicted to be"),
        Note(
            lines=(
                "In the windows: grey the finished piece, full line the artwork"
                + (
                    "; gaps between the lines are taken as marked."
                    if plan.light
                    else ", dashed line the opening in the resist."
                ),
            )
        ),
    ]
    for coat in plan.coats:
        maps = [deviation_map(plan, coat, widest_mm=_WIDEST_MAP_MM)]
        # A plate's section stands beside its map; a sign's stands with its coats.
        maps += [] if plan.shown or plan.light else [coat_sketch(plan)]
        blocks.append(Sketches(sketches=tuple(maps)))
        windows = enlarged(plan, coat)
        if windows:
            blocks.append(Sketches(sketches=windows))
    return blocks
