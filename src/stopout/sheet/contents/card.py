"""The first page: enough for a person who has made the job before to work from it alone."""

from __future__ import annotations

from stopout.etching import EtchPlan
from stopout.etching.schedule import LOOK, MEASURE
from stopout.planning import CoatPlan, Plan
from stopout.sheet import words
from stopout.sheet.contents.hours import hours_and_calendar
from stopout.sheet.contents.needs import blank_size, needs
from stopout.sheet.contents.trays import tray_rows
from stopout.sheet.model import Block, Facts, Heading, Picture, Pictures
from stopout.sheet.stages.bath import is_guess
from stopout.sheet.stages.clearing import other_programs, program_name
from stopout.sheet.stages.light import band_table
from stopout.sheet.stages.sign import coat_table
from stopout.sheet.steps import note


def job_card(plan: Plan, pictures: dict[str, str], date: str | None) -> list[Block]:
    """Return the blocks of the job card.

    Parameters
    ----------
    plan : Plan
        A plan that is not stopped.
    pictures : dict of str to str
        SVG drawings by name, as `sheet_pictures` makes them.
    date : str or None
        ISO 8601, from which the calendar is calculated.
    """
    return [
        Pictures(pictures=side_by_side(plan, pictures)),
        Facts(rows=orientation(plan), strong=True),
        *_verdict(plan),
        *work_settings(plan),
        *hours_and_calendar(plan, date),
        *needs(plan),
        note(words.DEFER),
    ]


def work_settings(plan: Plan, *, is_coupon: bool = False) -> list[Block]:
    """What is set: the piece, the beam or the film, the bath and its trays.

    Parameters
    ----------
    plan : Plan
        Whose settings are meant.
    is_coupon : bool
        True where the piece is itself the coupon, which says elsewhere what it is.
    """
    blocks: list[Block] = []
    if not is_coupon:
        blocks += [Heading(text="The piece"), Facts(rows=_piece(plan))]
    if plan.job.route.has_beam:
        blocks += _beam(plan)
    if plan.light is not None:
        blocks += band_table(plan.light)
    if plan.etch is not None:
        blocks += _bath(plan, plan.etch)
        if is_guess(plan.etch) and not is_coupon:
            said = "The rate is a starting guess: the coupon comes first, and its time wins."
            blocks.append(note(said))
    return blocks


def _verdict(plan: Plan) -> list[Block]:
    """What the plan comes to, and what to act on first."""
    verdict = plan.verdict
    rest = len(verdict.rest)
    lines = [words.sentence(one.brief) for one in verdict.lines]
    if verdict.unmeasured:
        what = words.capital(plan.not_measured)
        lines.append(f"{what} is not measured in this shop yet: do a test piece first.")
    if rest:
        lines.append(f"{rest} more finding{'' if rest == 1 else 's'} in the annex.")
    return [Heading(text=f"Verdict: {verdict.headline}"), *([note(*lines)] if lines else [])]


def _piece(plan: Plan) -> tuple[tuple[str, str], ...]:
    job, blank = plan.job, plan.job.blank
    spare = f" and {job.spares} spare" if job.spares else ""
    rows = [
        ("Make", f"{plan.told_count}{spare}, revision {job.revision}"),
        ("Blank", f"{plan.material.name}, {blank_size(plan)}, {blank.finish}"),
        (
            "Artwork",
            f"{plan.drawing.file or 'set by the job itself'}, {plan.drawing.width_mm:.2f} × "
            f"{plan.drawing.height_mm:.2f}\u00a0mm",
        ),
    ]
    if not plan.job.route.is_lit and not plan.shown:
        rows.append(("Resist", f"{plan.resists[0].name}, {plan.job.coats[0].colour}"))
    return tuple(rows)


def _beam(plan: Plan) -> list[Block]:
    """Program, place, power, speed and time of each clearing; a sign's coats in their order."""
    x, y = plan.blank_at_mm
    origin = f"blank's corner at X {words.length(x)}, Y {words.length(y)} on the bed"
    if plan.job.laser.blank_at_mm is None:
        origin = "the blank's lower left corner as worked is the machine's origin"
    rows = [("Origin", origin)]
    for number, panel in plan.numbered_panels:
        if plan.are_loose and panel.coats and panel.coats[0].clearing is not None:
            name = plan.panel_file(program_name(panel.coats[0]), number)
            n = sum(piece.panel == number for piece in plan.pieces)
            time = words.duration(panel.coats[0].clearing.times.time_s)
            rows.append((f"{n} at once", f"{name}, {time}; places in the annex"))
    rows += [
        ("Further panels", f"{others}, each on its own")
        for coat in plan.coats
        if (others := other_programs(plan, coat))
    ]
    if len(plan.coats) == 1:
        rows = [*_run(plan, plan.coats[0]), *rows]
    else:
        for coat in plan.coats:
            run = dict(_run(plan, coat))
            said = ", ".join(text for name, text in run.items() if name != "Program")
            rows.append((run["Program"], said))
    named = f": {plan.job.laser.name}" if plan.job.laser.name else ""
    heading = ("Marking" if plan.job.route.is_lit else "Beam") + named
    blocks: list[Block] = [Heading(text=heading), Facts(rows=tuple(rows))]
    if plan.shown:
        blocks += [Heading(text="Coats, from the viewer backwards"), coat_table(plan)]
    return blocks


def _run(plan: Plan, coat: CoatPlan) -> tuple[tuple[str, str], ...]:
    clearing, laser = coat.cleared, plan.job.laser
    passes = "" if clearing.passes == 1 else f", {clearing.passes} passes"
    # A power that nobody knows is not printed as if it were the machine's.
    full = f"{laser.power_w:g}\u00a0W" if laser.span("power") is None else "full power"
    return (
        ("Program", program_name(coat)),
        ("Power", f"{100 * clearing.power_fraction:g}\u00a0% of {full}"),
        ("Speed", f"{clearing.speed_mm_s:g}\u00a0mm/s{passes}"),
        ("Time", f"{words.duration(clearing.times.time_s)} a {plan.blank_called}"),
    )


def _bath(plan: Plan, etch: EtchPlan) -> list[Block]:
    """What is mixed, how warm, how long, when to look and to gauge, and how pieces lie in it."""
    strength = f"{etch.strength.g_per_l:.0f}\u00a0g/L"
    mixed = f"{words.litres(etch.bath_fill_l)} of {strength}"
    if etch.pour.start_g_per_l <= 0.0 and etch.mixing.stock_l is None and not _is_bought(plan):
        water = words.litres(etch.water_fill_l)
        mixed = f"{words.grams(etch.reagent_fill_g)} into {water} of cold water"
    um = f"{1000 * etch.depth_mm:.0f}\u00a0µm"
    span = words.span(etch.time_low_s, etch.longest_s)
    first, bath = etch.schedule[0], words.litres(etch.bath_fill_l)
    gauge_um = 1000 * MEASURE * etch.depth_mm
    rows = [
        ("Bath", f"{words.capital(etch.etchant_name)}: {bath} at {strength}"),
        ("Mix", mixed),
        (
            "Temperature",
            f"{etch.temperature_degc:g}\u00a0°C, out above "
            f"{etch.temperature_degc + etch.rise_k:g}\u00a0°C",
        ),
        ("Time", f"{words.duration(etch.time_s)} for {um}" + (f", {span}" if span else "")),
        ("Look", f"at {words.duration(min(first.time_s, LOOK * etch.time_s))}"),
        ("Gauge", f"at {words.duration(MEASURE * etch.time_s)}: {gauge_um:.0f}\u00a0µm then"),
        ("Loss", f"{words.grams(etch.metal_per_piece_g)} a {plan.blank_called}"),
        *tray_rows(plan, etch),
    ]  # fmt: skip
    if etch.electro is not None:
        current = f"{words.significant(etch.electro.current_a)}\u00a0A"
        rows.insert(3, ("Current", f"{current}, below {etch.electro.voltage_high_v:g}\u00a0V"))
    return [Heading(text="Bath"), Facts(rows=tuple(rows))]


def _is_bought(plan: Plan) -> bool:
    return plan.pair is not None and plan.pair.etchant.ready_made


def side_by_side(plan: Plan, pictures: dict[str, str]) -> tuple[Picture, ...]:
    """The piece as seen, then as worked, coat by coat."""
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
        edge = plan.light.edge
        return f"Through the front, unlit. Dark: marked; it glows when the {edge} is lit."
    return "Through the front, in its coats' colours." if plan.shown else "Dark: recessed."


def _worked_words(plan: Plan, coat: CoatPlan) -> str:
    if plan.job.route.is_lit:
        return "Dark: marked."
    return f"{words.capital(coat.coat.colour)}: paint stays. Light: cleared."


def orientation(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Side, polarity, mirror and the letter R."""
    blank, artwork = plan.job.blank, plan.job.artwork
    if plan.job.route.is_lit:
        polarity = "Dark artwork is marked into the plastic: it glows when lit."
    elif plan.shown:
        polarity = "Coat by coat: each is cleared wherever a later coat is to show."
    elif artwork.dark == "raised":
        margin = (
            f", up to {words.length(artwork.field_mm)} from the edge" if artwork.field_mm else ""
        )
        polarity = f"Dark artwork stays RAISED; the field around it{margin} is cleared and etched."
    else:
        polarity = "Dark artwork is cleared and etched: it ends up RECESSED."
    if blank.is_back_worked:
        at = "under the laser" if plan.job.route.has_beam else "on the back"
        mirror = f"MIRRORED: reads BACKWARDS {at}, right through the front."
    else:
        at = "under the laser" if plan.job.route.has_beam else "on the work"
        mirror = f"NOT MIRRORED: {at} everything reads RIGHT, as for the reader."
    how = "lies under the laser" if plan.job.route.has_beam else "is opened"
    stands = "backwards" if blank.is_back_worked else "right"
    return (
        ("Worked side", f"The {blank.worked_side.upper()} {how}."),
        ("Polarity", polarity),
        ("Mirror", mirror),
        ("Letter", f"R beside a picture stands as the piece does: {stands} as worked."),
    )
