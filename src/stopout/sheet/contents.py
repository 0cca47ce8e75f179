"""What stands on the process sheet of a plan, in the order of the work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from stopout import __version__
from stopout.planning import Plan
from stopout.sheet.clearing_steps import program_name
from stopout.sheet.hazards import emergency, hazard_reference
from stopout.sheet.model import (
    STAGE,
    Block,
    Facts,
    Header,
    Heading,
    Hold,
    Need,
    Needs,
    Note,
    Picture,
    Pictures,
    Sheet,
    Signatures,
    Step,
    Stop,
    Table,
)
from stopout.sheet.plate_steps import is_guess, plate_stages, tray_mm
from stopout.sheet.sign_steps import coat_table, sign_stages
from stopout.sheet.words import DEFER, duration, grams, length, litres, sentence, significant, typeset
from stopout.values import Level

__all__ = ["sheet_contents", "stop_contents"]

# Lines in the record of the pieces: more would not be filled in by hand.
_MOST_PIECES = 16
# Reasons that fit on the one page of a stopped plan; the others are counted.
_MOST_REASONS = 5
_KINDS = {"memory": "from memory", "practice": "common practice"}


def sheet_contents(
    plan: Plan, *, pictures: dict[str, str], statements: Mapping[str, str] | None = None
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
    stages = sign_stages(plan, texts) if plan.job.coats[0].shows else plate_stages(plan, texts)
    blocks = [
        *_what_it_is(plan, pictures),
        *_needs(plan),
        *emergency(plan),
        Hold(
            number=0,
            before="work begins",
            checks=("findings read and accepted", "safety data sheets at hand", "this revision"),
        ),
        *stages,
        *_records(plan),
        *_true_size(plan, pictures),
        *_numbers(plan),
        *_findings(plan),
        *hazard_reference(plan, texts),
    ]
    return Sheet(header=_header(plan), blocks=_counted(blocks))


def stop_contents(plan: Plan) -> Sheet:
    """The one page of a plan that must not be worked: reasons and remedies, nothing to set."""
    stops = [finding for finding in plan.findings if finding.level is Level.STOP]
    codes = list(dict.fromkeys(finding.code for finding in stops))
    # One of each kind first: ten thin strokes must not hide a refusal of the chemistry.
    firsts = [next(finding for finding in stops if finding.code == code) for code in codes]
    others = [finding for finding in stops if finding not in firsts]
    shown = (firsts + others)[:_MOST_REASONS]
    left = len(stops) - len(shown)
    more = f"{left} more of this kind: see plan.json and preview.png." if left else ""
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


def _counted(blocks: list[Block]) -> tuple[Block, ...]:
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


def _what_it_is(plan: Plan, pictures: dict[str, str]) -> list[Block]:
    job, blank = plan.job, plan.job.blank
    cautions = sum(finding.level is Level.CAUTION for finding in plan.findings)
    rows = [
        ("Piece", f"{job.name}, revision {job.revision}"),
        ("Quantity", f"{job.quantity} ordered"),
        (
            "Blank",
            f"{plan.material.name}, {length(blank.width_mm)} × {length(blank.height_mm)} × "
            f"{length(blank.thickness_mm)}, {blank.finish}",
        ),
        (
            "Artwork",
            f"{plan.drawing.file}, {plan.drawing.width_mm:.2f} × {plan.drawing.height_mm:.2f}\u00a0mm",
        ),
        ("Findings", f"{cautions} caution(s), listed near the end: read them before work begins"),
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
    if plan.shown:
        blocks += [Heading(text="Coats in order, from the viewer backwards"), coat_table(plan)]
    return blocks


def _side_by_side(plan: Plan, pictures: dict[str, str]) -> tuple[Picture, ...]:
    blank = plan.job.blank
    back = blank.is_back_worked
    size = {"width_mm": blank.width_mm, "height_mm": blank.height_mm}
    seen = Picture(
        title="As seen",
        words="Through the front, in its coats' colours." if plan.shown else "Dark: recessed.",
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
                words=("Mirrored. " if back else "Not mirrored. ")
                + f"{_capital(coat.coat.colour)}: paint stays. Light: cleared.",
                svg=pictures[f"as-worked-{coat.number}"],
                mirrored=back,
                alt=f"The face under the laser{of}, {'mirrored' if back else 'not mirrored'}",
                **size,
            )
        )
    return (seen, *worked)


def _orientation(plan: Plan) -> tuple[tuple[str, str], ...]:
    blank, artwork = plan.job.blank, plan.job.artwork
    if plan.shown:
        polarity = "Coat by coat: each is cleared wherever a later coat is to show."
    elif artwork.dark == "raised":
        margin = f", up to {length(artwork.field_mm)} from the edge" if artwork.field_mm else ""
        polarity = f"Dark artwork stays RAISED; the field around it{margin} is cleared and etched."
    else:
        polarity = "Dark artwork is cleared and etched: it ends up RECESSED."
    if blank.is_back_worked:
        mirror = (
            "MIRRORED: under the laser everything reads BACKWARDS; through the front it reads right."
        )
    else:
        mirror = "NOT MIRRORED: under the laser everything reads RIGHT, as the reader will see it."
    return (
        ("Worked side", f"The {blank.worked_side.upper()} lies under the laser."),
        ("Polarity", polarity),
        ("Mirror", mirror),
        (
            "Letter",
            f"R beside a picture stands as the piece does: "
            f"{'backwards' if blank.is_back_worked else 'right'} as worked.",
        ),
    )


def _needs(plan: Plan) -> list[Block]:
    job, blank = plan.job, plan.job.blank
    guess = plan.etch is not None and is_guess(plan.etch)
    rows = [
        Need(
            name=f"Blank, {plan.material.name}",
            amount=f"{job.quantity}" + (" + 1 coupon" if guess else ""),
            note=f"{length(blank.width_mm)} × {length(blank.height_mm)} × "
            f"{length(blank.thickness_mm)}",
        ),
        *_paint_needs(plan),
        Need(
            name="Program",
            amount=", ".join([*(program_name(coat) for coat in plan.coats), "bounds.nc"]),
            note=f"clearing {duration(sum(c.clearing.times.time_s for c in plan.coats))} a piece",
        ),
    ]
    rows += _bath_needs(plan)
    rows += [
        Need(name="Loupe, rule, scale, raking lamp", amount="1 each"),
        Need(name="Detergent, soft brush, clean cloths", amount="as needed"),
    ]
    worn = dict.fromkeys(line.text for hazard in plan.hazards for line in hazard.ppe)
    return [
        Heading(text="What you need", new_page=True),
        Needs(rows=tuple(rows)),
        Heading(text="What you wear"),
        Note(lines=tuple(_worn(plan, text) for text in worn)),
    ]


def _worn(plan: Plan, text: str) -> str:
    whom = [h.name for h in plan.hazards if any(line.text == text for line in h.ppe)]
    return typeset(f"{_capital(' and '.join(whom))}: {text[:1].lower()}{text[1:]}")


def _paint_needs(plan: Plan) -> list[Need]:
    """Paints with the area they must cover: plates on both faces, signs on the back."""
    faces = 1 if plan.shown else 2
    area_cm2 = faces * plan.job.quantity * plan.face.area / 100.0
    where = "back" if plan.shown else "both faces, and the edges"
    rows = []
    for coat, resist in zip(plan.job.coats, plan.resists, strict=True):
        if coat.colour == "clear":
            continue
        thickness = coat.thickness_um or resist.thickness_um.value
        rows.append(
            Need(
                name=f"{_capital(resist.name)}, {coat.colour}",
                amount=f"for {significant(area_cm2)}\u00a0cm²",
                note=f"{where}; {thickness:g}\u00a0µm dry",
            )
        )
    return rows


def _bath_needs(plan: Plan) -> list[Need]:
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    width, height = tray_mm(plan)
    if pair.etchant.ready_made:
        bath = [
            Need(
                name=f"{_capital(pair.etchant.name)} solution",
                amount=litres(etch.bath_fill_l),
                note=f"{etch.strength.deg_baume:.1f}\u00a0°Bé, {etch.strength.g_per_l:.0f}\u00a0g/L",
            )
        ]
    else:
        bath = [
            Need(name="Cold water", amount=litres(etch.water_fill_l), note="for the bath"),
            Need(
                name=_capital(pair.etchant.name),
                amount=grams(etch.reagent_fill_g),
                note=f"dry; makes {litres(etch.bath_fill_l)} of {etch.strength.g_per_l:.0f}\u00a0g/L",
            ),
        ]
    names = {hazard.ident: hazard.name for hazard in plan.hazards}
    strippers = [names.get(ident, ident) for ident in plan.resists[0].strippers]
    return [
        *bath,
        Need(
            name="Etching tray, plastic",
            amount="1",
            note=f"floor {width:.0f} × {height:.0f}\u00a0mm at least, in a larger tray",
        ),
        Need(name="Mixing vessel, plastic; rinse tray", amount="1 each"),
        Need(name="Thermometer, pH paper, timer, plastic tongs", amount="1 each"),
        Need(name=_capital(" or ".join(strippers)), amount="to cover", note="strips the resist"),
        Need(
            name="Waste container, labelled, vented cap",
            amount=f"over {significant(2 * etch.bath_fill_l, 2)}\u00a0L",
            note="bath and first rinse",
        ),
    ]


def _records(plan: Plan) -> list[Block]:
    blocks: list[Block] = []
    n = plan.job.quantity
    if plan.etch is not None:
        guess = is_guess(plan.etch)
        names = (["coupon"] if guess else []) + [f"{i}" for i in range(1, n + 1)]
        shown = names[:_MOST_PIECES]
        note = [f"Set: depth {1000 * plan.etch.depth_mm:.0f}\u00a0µm, loss "
                f"{grams(plan.etch.metal_per_piece_g)} a piece."]
        if len(names) > len(shown):
            note.append(f"{len(names) - len(shown)} more on a second copy of this page.")
        blocks += [
            Heading(text="Record of the pieces"),
            Note(lines=(" ".join(note),)),
            Table(
                columns=("Piece", "before, g", "after, g", "loss, g", "depth, 3 places, µm", "OK by"),
                shares=(0.7, 1.0, 1.0, 1.0, 1.7, 1.0),
                rows=tuple((name, "", "", "", "", "") for name in shown),
                hand=True,
            ),
        ]
    return [
        *blocks,
        Heading(text="Deviations, and who signs"),
        Table(columns=("What was done otherwise, photographs",), shares=(1.0,), rows=(),
              blank_rows=3, hand=True),
        Facts(rows=(("Started", ""), ("Good", ""), ("Scrap", ""))),
        Signatures(
            rows=("Released for work", "Work done as written", "Accepted", "Filed under")
        ),
    ]


def _true_size(plan: Plan, pictures: dict[str, str]) -> list[Block]:
    worked = _side_by_side(plan, pictures)[1:]
    return [
        Heading(text="True size: lay the blank on it", new_page=True),
        Note(
            lines=(
                "Print at 100\u00a0%. The bar must measure 100\u00a0mm on paper; where it does "
                "not, the drawings are not true either.",
            )
        ),
        *(Pictures(pictures=(picture,), full_size=True) for picture in worked),
    ]


def _numbers(plan: Plan) -> list[Block]:
    blocks: list[Block] = []
    if plan.etch is not None:
        blocks += _etch_numbers(plan)
    rows = tuple(
        (
            typeset(value.name),
            typeset(value.value),
            _KINDS.get(value.kind, value.kind),
            value.grade or "",
            typeset(value.source),
        )
        for value in plan.values
    )
    return [
        *blocks,
        Heading(text="Every value, and where it comes from", new_page=not blocks),
        Note(
            lines=(
                "Grades: A measured and published, B published practice, C anecdote or derived, "
                "D guess. Values without a grade are given, computed or measured in the shop.",
            )
        ),
        Table(
            columns=("Value", "", "Kind", "Grade", "Source"),
            shares=(1.35, 1.5, 0.75, 0.5, 2.4),
            rows=rows,
        ),
    ]


def _etch_numbers(plan: Plan) -> list[Block]:
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    pieces = "1 piece" if etch.quantity == 1 else f"{etch.quantity} pieces in one bath"
    rows = [
        ("rate", f"{significant(etch.rate_um_per_min)}\u00a0µm/min"),
        ("time", f"{duration(etch.time_s)} ({duration(etch.time_low_s)} to "
                 f"{duration(etch.time_high_s)})"),
        ("undercut per edge", f"{1000 * etch.undercut_mm:.0f}\u00a0µm ± "
                              f"{1000 * etch.undercut_spread_mm:.0f}\u00a0µm"),
        ("etched area", f"{significant(etch.etched_area_mm2, 4)}\u00a0mm²"),
        ("metal removed", grams(etch.metal_removed_g)),
        ("gas given off", f"{significant(etch.gas_l)}\u00a0L of {etch.gas}" if etch.gas else "none"),
        ("heat given off", f"{significant(etch.heat_kj)}\u00a0kJ"),
        ("bath, least for heat and metal", litres(etch.bath_l)),
        ("bath, least to cover the piece", litres(etch.bath_cover_l)),
        ("bath poured", litres(etch.bath_fill_l)),
        (f"{pair.etchant.name} used up", grams(etch.reagent_g)),
        (f"{pair.etchant.name} in the least bath", grams(etch.reagent_charge_g)),
        (f"{pair.etchant.name} in the bath poured", grams(etch.reagent_fill_g)),
    ]
    return [
        Heading(text="The etch in numbers", new_page=True),
        Note(lines=(f"For {pieces}.",)),
        Facts(rows=tuple((_capital(name), value) for name, value in rows)),
    ]


def _findings(plan: Plan) -> list[Block]:
    blocks: list[Block] = [Heading(text="Findings, and what is done about them")]
    if not plan.findings:
        return [*blocks, Note(lines=("None.",))]
    rows = tuple(
        (
            str(finding.level),
            "" if finding.at_mm is None else f"{finding.at_mm[0]:.1f}, {finding.at_mm[1]:.1f}",
            sentence(finding.message),
            sentence(finding.remedy) or "Nothing: the plan has dealt with it.",
            "",
        )
        for finding in plan.findings
    )
    return [
        *blocks,
        Note(lines=("Places in mm as worked, from the blank's lower left corner. " + DEFER,)),
        Table(
            columns=("Level", "At, mm", "What", "What would help", "Accepted by"),
            shares=(0.7, 0.75, 2.9, 1.9, 0.85),
            rows=rows,
        ),
    ]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
