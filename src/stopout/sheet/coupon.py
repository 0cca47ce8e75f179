"""The process sheet of a test coupon: make it, scan it, write down what was measured."""

from __future__ import annotations

from collections.abc import Mapping

from stopout import __version__
from stopout.coupons.design_clearing import expected_words, told_lines
from stopout.planning import Plan
from stopout.planning.coupon.road import CouponPlan
from stopout.sheet.contents.annex import advice_in_full
from stopout.sheet.contents.card import work_settings
from stopout.sheet.contents.needs import blank_size, needs
from stopout.sheet.contents.numbers import findings, value_table
from stopout.sheet.contents.whole import counted, stop_contents
from stopout.sheet.drawings.pieces import sheet_pictures
from stopout.sheet.model import (
    STAGE,
    Block,
    Facts,
    Header,
    Heading,
    Hold,
    Picture,
    Pictures,
    Sheet,
    Table,
)
from stopout.sheet.stages.bath import etch_stage, rinse_stage
from stopout.sheet.stages.clearing import (
    aligning_steps,
    clearing_settings,
    laying_steps,
    program_name,
    run_on_step,
)
from stopout.sheet.stages.hazards import emergency, hazard_boxes, hazard_reference, mishaps
from stopout.sheet.stages.mix import mix_stage
from stopout.sheet.stages.plate import strip_stage
from stopout.sheet.stages.waste import put_by_stage, waste_stage
from stopout.sheet.steps import hole_places, note, signed, sizes, step
from stopout.sheet.store import printed_files
from stopout.sheet.words import DEFER, capital, duration, length, significant

# 1200 dpi is 21 um a pixel: a line of 0.1 mm is then five pixels wide.
_DPI, _LEAST_DPI = 1200, 600


def coupon_sheet_files(
    coupon: CouponPlan, *, date: str, statements: Mapping[str, str]
) -> dict[str, bytes]:
    """Make the sheet's files for a coupon's folder.

    Parameters
    ----------
    coupon : CouponPlan
        The coupon, stopped or not.
    date : str
        ISO 8601, printed on every page.
    statements : mapping of str to str
        Texts of the hazard and precautionary statements by code.

    Returns
    -------
    dict of str to bytes
        `sheet.pdf` and `sheet-annex.pdf` (A4), `sheet.html` and `sheet.json`.
    """
    sheet = coupon_contents(coupon, statements=statements)
    return printed_files(sheet, date=date)


def coupon_contents(coupon: CouponPlan, *, statements: Mapping[str, str]) -> Sheet:
    """Lay out a coupon's sheet; where its plan is stopped, the one page that says so.

    Parameters
    ----------
    coupon : CouponPlan
        The coupon.
    statements : mapping of str to str
        Texts of the hazard and precautionary statements by code.
    """
    plan = coupon.plan
    if plan.is_stopped:
        return stop_contents(plan)
    is_etch = coupon.layout.kind == "etch"
    blocks = [
        *_prepare(plan),
        *_coat(plan, statements),
        *_clear(coupon, statements),
        *(_bath(plan, statements) if is_etch else []),
        *_scan(coupon),
        *_read(coupon),
        Heading(text="If something goes wrong"),
        Table(columns=("What", "What to do"), shares=(1.0, 2.6), rows=mishaps(plan)),
    ]
    return Sheet(
        header=_header(coupon),
        card=(
            *_what_it_is(coupon),
            *work_settings(plan, is_coupon=True),
            *needs(plan, is_coupon=True),
            note(DEFER),
        ),
        blocks=counted(blocks),
        annex=(
            *_parts(coupon),
            *(_record_etch(coupon) if is_etch else _record_clearing(coupon)),
            *findings(plan),
            *_settings(plan),
            *value_table(plan),
            *advice_in_full(plan),
            *hazard_reference(plan, statements),
        ),
        wall=tuple(emergency(plan)),
        hazards=tuple(hazard.ident for hazard in plan.hazards),
    )


def _settings(plan: Plan) -> list[Block]:
    """The job's own settings, at which what is not stepped runs."""
    coat = plan.coats[0]
    settings = dict(clearing_settings(plan, coat).rows) | {"Program": program_name(coat)}
    return [Heading(text="Settings of the beam"), Facts(rows=tuple(settings.items()))]


def _parts(coupon: CouponPlan) -> list[Block]:
    return [
        Heading(text="What is on the coupon"),
        Table(columns=("Name", "What it is"), shares=(0.5, 3.0), rows=_named(coupon)),
    ]


def _kind(coupon: CouponPlan) -> str:
    return "Clearing coupon" if coupon.layout.kind == "clearing" else "Etch coupon"


def _header(coupon: CouponPlan) -> Header:
    job = coupon.plan.job
    return Header(
        job=f"{_kind(coupon)}: {job.name}",
        revision=job.revision,
        quantity=1,
        artwork=coupon.layout.identity.coupon_sha256[:12],
        tool=f"Stopout {__version__}",
    )


def _what_it_is(coupon: CouponPlan) -> list[Block]:
    plan, layout = coupon.plan, coupon.layout
    back = plan.job.blank.is_back_worked
    if layout.kind == "clearing":
        for_what = "the beam's spot, the paint's threshold dose, the spacing, the beam's delay"
    else:
        for_what = "undercut, etch factor, rate, and how small lines, lands and letters may be"
    drawn = sheet_pictures(plan)["as-worked-1"]
    picture = Picture(
        title="As worked",
        words=f"{capital(plan.job.coats[0].colour)}: paint stays. Light: cleared.",
        svg=drawn,
        width_mm=layout.width_mm,
        height_mm=layout.height_mm,
        mirrored=False,
        alt="The painted face of the coupon as the laser and the scanner see it",
    )
    reads = (
        "Lettering reads RIGHT on the painted back, under laser and scanner; through the front it "
        "is MIRRORED."
        if back
        else "Lettering reads RIGHT under the laser and under the scanner."
    )
    return [
        Heading(text="What it is"),
        Facts(
            rows=(
                ("Coupon", f"{_kind(coupon)} for {plan.job.name}"),
                ("It measures", for_what),
                ("Blank", f"{plan.material.name}, {blank_size(plan)}, {plan.job.blank.finish}"),
                ("Resist", f"{plan.resists[0].name}, {plan.job.coats[0].colour}, one coat"),
                ("Coupon's number", layout.identity.coupon_sha256[:12]),
            )
        ),
        Pictures(pictures=(picture,)),
        Facts(
            rows=(
                ("Worked side", f"The {plan.job.blank.worked_side.upper()} lies under the laser."),
                ("Lettering", reads),
                ("Large disc", "It marks the lower left corner as worked."),
            ),
            strong=True,
        ),
    ]


def _named(coupon: CouponPlan) -> tuple[tuple[str, str], ...]:
    """What the names on the coupon stand for, alike ones together."""
    alike: dict[str, list[str]] = {}
    for name, _ in coupon.parts:
        alike.setdefault(coupon.named(name), []).append(name)
    return tuple((", ".join(names), capital(words)) for words, names in alike.items())


def _prepare(plan: Plan) -> list[Block]:
    blank = plan.job.blank
    wash = [
        step("Scrub the blank with detergent.", "Soft brush or fine pad, both faces and edges."),
        step("Rinse the blank with clean water.", "The film of water must stay unbroken."),
    ]
    if plan.material.sort == "plastic":
        wash = [
            step("Wash the face to be painted with detergent.", "No solvent: it crazes acrylic.")
        ]
    blocks: list[Block] = [
        Heading(text="Prepare the coupon", letter=STAGE),
        step(
            "Measure the blank.",
            "From the same sheet as the pieces.",
            sets=sizes(plan)[:2],
            measured=(("width", "mm"), ("height", "mm"), ("thickness", "mm")),
        ),
    ]
    if blank.holes:
        blocks.append(
            step(
                "If this blank is to have the holes, drill them.",
                "The coupon keeps clear of them: " + hole_places(plan) + ".",
                optional=True,
            )
        )
    return [*blocks, *wash, step("Dry the blank.", "From now on touch the edges only.")]


def _coat(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    resist, coat = plan.resists[0], plan.job.coats[0]
    thickness = resist.film_um(coat.thickness_um)
    blocks: list[Block] = [
        Heading(text="Coat the coupon like the pieces", letter=STAGE),
        *hazard_boxes(plan, "coating", statements),
        step("Make the paint ready as its cans say.", f"{capital(resist.name)}, {coat.colour}."),
        step(
            "Spray the worked face in thin crossed coats.",
            "As on the pieces: what is measured holds for this coat only.",
            sets=(("coat thickness", f"{thickness:g}\u00a0µm"),),
        ),
    ]
    if plan.etch is not None:
        blocks.append(
            step("Coat the back, the edges and the hole walls.", "Bare metal is etched too.")
        )
    return [
        *blocks,
        step(
            "Let the paint cure.",
            "As long as on the pieces.",
            sets=(("cure", duration(3600 * resist.cure_h.value)),),
            measured=(("begun", "date, time"), ("ended", "date, time")),
        ),
        step(
            "Measure the thickness of the coat.",
            "By gauge, or from the gain in weight and the area.",
            sets=(("coat thickness", f"{thickness:g}\u00a0µm"),),
            measured=(("coat thickness", "µm"),),
        ),
    ]


def _clear(coupon: CouponPlan, statements: Mapping[str, str]) -> list[Block]:
    plan = coupon.plan
    coat = plan.coats[0]
    program = program_name(coat)
    side = plan.job.blank.worked_side
    stepped = "All of it runs at the job's own power and speed."
    if coupon.layout.kind == "clearing":
        of_them = (
            "Of each set of lines the first two are expected not to clear."
            if coupon.settings.search_j_per_mm is None
            else "Nobody knows yet which lines clear; the strongest scorch: stay with it."
        )
        stepped = (
            "The power is stepped by the program: leave the machine's own override at 100\u00a0%. "
            + of_them
        )
    return [
        Heading(text="Clear with the laser", letter=STAGE),
        *hazard_boxes(plan, "clearing", statements),
        *laying_steps(plan, coat),
        *aligning_steps(plan, coat),
        Hold(
            number=0,
            before="the beam goes on",
            checks=(
                f"{program} is loaded, from this coupon's folder",
                f"the {side} is up, painted; the coupon's lettering will read RIGHT",
                "the coupon is of the same sheet, paint and cure as the pieces",
            ),
            signatures=signed(plan),
        ),
        step(
            f"Run {program}.",
            f"{stepped} Stay with it to the end, extinguisher at hand.",
            timer_s=coat.cleared.times.time_s,
        ),
        run_on_step("blank"),
        step("Lift the coupon by its edges.", "Run nothing twice: a second pass is another dose."),
        step("Brush loose residue off.", "Dry and soft; do not wipe."),
    ]


def _bath(plan: Plan, statements: Mapping[str, str]) -> list[Block]:
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    return [
        note(
            "In what follows the piece is this coupon. Its depth need not be met exactly: what "
            "counts is that time and depth are written down."
        ),
        *mix_stage(plan, etch, pair, statements),
        *etch_stage(plan, etch, pair, statements, is_coupon=True),
        *rinse_stage(plan, etch, statements),
        *put_by_stage(plan, etch, statements),
        *strip_stage(plan, statements),
        *waste_stage(plan, etch, pair, statements),
    ]


def _scan(coupon: CouponPlan) -> list[Block]:
    is_etch = coupon.layout.kind == "etch"
    when = (
        "The resist must be off: it overhangs the edges that are measured. Where the recesses "
        "hardly show, rub dark wax into them and wipe the face."
        if is_etch
        else "Unwashed and uncut."
    )
    return [
        Heading(text="Scan the coupon", letter=STAGE),
        step(
            "Lay the coupon on the scanner's glass, the worked face down.",
            f"{when} Roughly straight is enough; paper under an edge keeps it from rocking.",
        ),
        step(
            "Scan the whole coupon and a margin of 5 mm.",
            "Grey or colour. Sharpening, dust removal and automatic contrast off.",
            sets=(
                ("resolution", f"{_DPI} dpi"),
                ("at least", f"{_LEAST_DPI} dpi"),
                ("file", "PNG or TIFF"),
            ),
            measured=(("resolution", "dpi"), ("file", "name")),
        ),
        step(
            "Look at the scan.",
            "All five discs whole, edges sharp, no glare on bare metal; else scan again.",
        ),
    ]


def _read(coupon: CouponPlan) -> list[Block]:
    depth = " and the mean depth of the pits" if coupon.layout.kind == "etch" else ""
    return [
        Heading(text="Read it", letter=STAGE),
        step(
            "Run stopout read on the scan.",
            f"With the coupon's folder{depth}. Compare what it says with a few lines under the "
            "measuring loupe before it is kept in the shop book.",
        ),
    ]


def _record_clearing(coupon: CouponPlan) -> list[Block]:
    rows = tuple(
        (
            line.id + (f", {line.passes} passes" if line.passes > 1 else ""),
            f"{100 * line.power_fraction:.1f}\u00a0%",
            f"{line.speed_mm_s:g}",
            f"{line.line_dose_j_per_mm:.4g}",
            expected_words(line, coupon.settings).replace(" um", "\u00a0µm"),
            "",
        )
        for line in told_lines(coupon.layout.lines, coupon.settings)
    )
    patches = tuple(
        (patch.id, f"{1000 * patch.spacing_mm:.4g}\u00a0µm", "") for patch in coupon.layout.patches
    )
    blocks: list[Block] = [
        Heading(text="Record by hand", new_page=True),
        note(
            "Widths under the measuring loupe, at mid-line; the first set of each kind is "
            "enough. A line that does not clear through is written as 0."
        ),
        Table(
            columns=("Line", "Power", "mm/s", "J/mm", "Expected", "Width, mm"),
            shares=(1.1, 0.8, 0.6, 0.8, 0.9, 1.2),
            rows=rows,
            hand=True,
        ),
    ]
    if patches:
        blocks.append(
            Table(
                columns=("Patch", "Spacing", "Threads left, charred, clean"),
                shares=(0.6, 0.8, 2.6),
                rows=patches,
                hand=True,
            )
        )
    return blocks


def _record_etch(coupon: CouponPlan) -> list[Block]:
    layout = coupon.layout
    undercut = coupon.settings.undercut_mm
    slots = [
        (one.id, length(one.opening_mm), length(one.opening_mm + 2 * undercut), "")
        for one in layout.slots
    ]
    lands = [
        (one.id, length(one.land_mm), _left(one.land_mm - 2 * undercut), "") for one in layout.lands
    ]
    pits = tuple(
        (one.id, f"{one.box_mm[2] - one.box_mm[0]:g}\u00a0mm", "", "", "") for one in layout.pits
    )
    return [
        Heading(text="Record by hand", new_page=True),
        note(
            "Undercut per edge = (width in the metal − opening in the resist) / 2; etch factor "
            "= depth / undercut per edge. Depth by needle gauge or by the focus of a "
            f"microscope, in each pit at three places. Expected undercut: "
            f"{significant(1000 * undercut)}\u00a0µm."
        ),
        Table(
            columns=("Pit", "Width", "Depth 1, µm", "Depth 2, µm", "Depth 3, µm"),
            shares=(0.6, 0.8, 1.0, 1.0, 1.0),
            rows=pits,
            hand=True,
        ),
        Table(
            columns=("Slot or land", "In the resist", "Expected in the metal", "Measured, mm"),
            shares=(0.8, 1.0, 1.2, 1.2),
            rows=tuple(slots + lands),
            hand=True,
        ),
        Table(
            columns=("Letters", "Height", "Read with the naked eye? With a loupe?"),
            shares=(0.6, 0.8, 2.4),
            rows=tuple((one.id, length(one.height_mm), "") for one in layout.lettering),
            hand=True,
        ),
    ]


def _left(width_mm: float) -> str:
    return length(width_mm) if width_mm > 0 else "etched away"
