"""What a job needs before work begins, with amounts."""

from __future__ import annotations

from stopout.etching import EtchPlan, Pair, companion_stock_g_per_l
from stopout.planning import Plan
from stopout.sheet.model import Block, Heading, Need, Needs
from stopout.sheet.stages.bath import is_guess
from stopout.sheet.stages.clearing import program_name
from stopout.sheet.stages.hazards import mildest_stripper
from stopout.sheet.stages.mix import tray_mm, vessel_depth_mm, vessel_name
from stopout.sheet.stages.paint import OVERSPRAY, painted_cm2, wet_paint_ml
from stopout.sheet.words import capital, duration, grams, litres, significant
from stopout.units import format_least


def needs(plan: Plan, *, is_coupon: bool = False) -> list[Block]:
    """What to have at hand, with amounts.

    Parameters
    ----------
    plan : Plan
        A finished plan.
    is_coupon : bool
        True where the piece is itself the coupon, so that none comes before it.
    """
    job = plan.job
    guess = plan.etch is not None and is_guess(plan.etch) and not is_coupon
    rows = [
        Need(
            f"{'Panel' if plan.is_panel else 'Blank'}, {plan.material.name}",
            f"{job.quantity}"
            + (f" + {job.spares} spare" if job.spares else "")
            + (" + 1 coupon" if guess else ""),
            blank_size(plan),
        ),
        *_paint_needs(plan),
        _maker_need(plan),
    ]
    rows += _bath_needs(plan)
    rows += [
        Need(
            "Wall page, data sheets",
            "read",
            "first aid, spill and fire; telephone numbers written in",
        ),
        Need("Loupe, rule, scale, raking lamp", "1 each"),
        Need("Detergent, soft brush, clean cloths", "as needed"),
    ]
    return [Heading(text="Have ready"), Needs(rows=tuple(rows))]


def _maker_need(plan: Plan) -> Need:
    """What makes the opening: the program, the film or the cut file."""
    method = plan.job.method
    if method == "printed-film":
        return Need("Film", "1", "film-1.pdf, printed at 100\u00a0%")
    if method == "cut-film":
        files = [f"cut-{coat.number}.svg" for coat in plan.coats]
        many = "1 each" if len(files) == 1 else f"{len(files)} files"
        return Need("Cut file, knife, tape", many, ", ".join(files))
    time = duration(sum(c.cleared.times.time_s for c in plan.coats))
    return Need(
        "Program",
        ", ".join([*(program_name(coat) for coat in plan.coats), "bounds.nc"])
        + ("; each panel has its own" if plan.panels and not plan.are_loose else ""),
        f"{plan.job.route.doing} {time} a {plan.blank_called}",
    )


def blank_size(plan: Plan) -> str:
    """Width, height and thickness of the blank."""
    blank = plan.job.blank
    return f"{blank.width_mm:g} × {blank.height_mm:g} × {blank.thickness_mm:g}\u00a0mm"


def _paint_needs(plan: Plan) -> list[Need]:
    """Paints with the volume that must land on the pieces; the range stands in the annex."""
    area = painted_cm2(plan)
    if not plan.job.route.sprays and not plan.job.route.is_lit:
        name = capital(plan.resists[0].name)
        return [Need(name, f"{significant(area, 2)}\u00a0cm²", "all faces")]
    rows = []
    for coat, resist in zip(plan.job.coats, plan.resists, strict=False):
        if coat.is_window:
            continue
        film = resist.film_um(coat.thickness_um)
        wet = OVERSPRAY * wet_paint_ml(area, film, resist.solids.value)
        rows.append(
            Need(
                f"{capital(resist.name)}, {coat.colour}",
                f"about {significant(wet, 2)}\u00a0mL",
                f"half of it past the pieces; {film:g}\u00a0µm dry",
            )
        )
    return rows


def _bath_needs(plan: Plan) -> list[Need]:
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    width, height = tray_mm(plan)
    bath = _bath_itself(etch, pair)
    return [
        *bath,
        *_supply(etch),
        Need(
            f"{capital(vessel_name(etch))}, plastic",
            "1",
            f"floor {width:.0f} × {height:.0f}\u00a0mm at least, "
            + (f"{vessel_depth_mm(etch):.0f}\u00a0mm deep, " if etch.pour.hangs else "")
            + "in a larger tray",
        ),
        Need("Mixing vessel, plastic; jug, funnel, catch tray", "1 each"),
        *_rinse_trays(etch),
        Need("Thermometer, pH paper, timer, tongs", "1 each"),
        Need(
            capital(mildest_stripper(plan)) or "What the resist's own sheet strips it with",
            "to cover",
            "strips the resist",
        ),
        Need(
            "Waste container, labelled, vented cap",
            f"over {format_least(1.25 * etch.bath_fill_l)}\u00a0L",
            "for the bath; its own for the still rinses",
        ),
    ]


def _rinse_trays(etch: EtchPlan) -> list[Need]:
    rinses = etch.rinses
    if rinses is None:
        return []
    note = f"for {significant(rinses.volume_l, 2)}\u00a0L of still rinse each"
    needs = [Need("Rinse trays, plastic", f"{rinses.count}", note)]
    if rinses.all_kept:
        strips = Need("Chromate test strips", "a few", "for rinses and liquor")
        needs.append(strips)
    return needs


def _bath_itself(etch: EtchPlan, pair: Pair) -> list[Need]:
    """The used bath, stock and water, the solution as bought, or reagent and water."""
    mixing = etch.mixing
    if etch.pour.start_g_per_l > 0.0:
        named = f"Bath {etch.use.ident}" if etch.use.ident else "Used bath"
        held = f"{significant(etch.pour.start_g_per_l)}\u00a0g/L of metal in it"
        return [Need(named, litres(etch.bath_fill_l), held)]
    if mixing.stock_l is not None and mixing.stock_water_l is not None and etch.use.stock:
        strength = f"{etch.use.stock.deg_baume:.1f}\u00a0°Bé, {etch.use.stock.g_per_l:.0f}\u00a0g/L"
        return [
            Need("Cold water", litres(mixing.stock_water_l), "for the bath"),
            Need(f"{capital(pair.etchant.name)} stock solution", litres(mixing.stock_l), strength),
        ]
    if pair.etchant.ready_made:
        strength = f"{etch.strength.deg_baume:.1f}\u00a0°Bé, {etch.strength.g_per_l:.0f}\u00a0g/L"
        return [Need(f"{capital(pair.etchant.name)} solution", litres(etch.bath_fill_l), strength)]
    return [
        Need("Cold water", litres(etch.water_fill_l), "for the bath"),
        Need(
            capital(pair.etchant.reagent),
            grams(etch.reagent_fill_g),
            f"dry; for a bath of {etch.strength.g_per_l:.0f}\u00a0g/L",
        ),
        *(
            Need(
                capital(companion.name),
                grams(etch.bath_fill_l * companion_stock_g_per_l(companion, etch.strength.g_per_l)),
                "for the bath",
            )
            for companion in pair.etchant.companions
        ),
    ]


def _supply(etch: EtchPlan) -> list[Need]:
    """What a current needs besides the bath."""
    electro = etch.electro
    if electro is None:
        return []
    return [
        Need(
            "Isolated supply of constant current",
            "1",
            f"{format_least(electro.supply_a)}\u00a0A or more, up to "
            f"{format_least(electro.supply_v)}\u00a0V",
        ),
        Need("Cathode, two leads with clamps", "1", "as large as the piece"),
    ]
