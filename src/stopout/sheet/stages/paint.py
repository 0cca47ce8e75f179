"""How much paint the pieces take."""

from __future__ import annotations

from stopout.etching import Resist
from stopout.job.record import Coat
from stopout.planning import Plan
from stopout.sheet.model import Block, Heading, Table
from stopout.sheet.steps import note
from stopout.sheet.words import capital, significant

# A spray gun lays about half past pieces on a rack: common practice, no source.
OVERSPRAY = 2.0


def painted_cm2(plan: Plan) -> float:
    """Area to be painted on all pieces [cm²].

    A plate is coated on both faces, on its edges and on the walls of its holes; a sign on its
    back alone.
    """
    face = plan.face
    one_mm2 = face.area
    if plan.etch is not None:
        one_mm2 = 2 * face.area + face.length * plan.job.blank.thickness_mm
    return float((plan.job.quantity + plan.job.spares) * one_mm2 / 100.0)


def wet_paint_ml(area_cm2: float, film: float, solids: float) -> float:
    """Wet paint that leaves so thick a dry coat on so large an area [mL].

    Parameters
    ----------
    area_cm2 : float
        Painted area [cm²].
    film : float
        Dry coat [µm].
    solids : float
        Solids by volume, a fraction.

    Notes
    -----
    Volume of the dry coat over the solids by volume: 1 cm² x 1 µm is 1e-4 mL. Nothing is added
    for what is sprayed past the piece.
    """
    return area_cm2 * film * 1e-4 / solids


def paint_amounts(plan: Plan) -> list[Block]:
    """The paint of each coat with its range; nothing where no paint is sprayed."""
    if not plan.job.route.sprays:
        return []
    return [
        Heading(text="Paint"),
        _amounts(plan),
        note(
            "Wet paint on the pieces: film × area / solids by volume; solids are recalled, "
            "not looked up, so read them off the paint's own data sheet. A spray loses about "
            "as much again past small pieces (common practice, no source): have twice that."
        ),
    ]


def sprayed(plan: Plan) -> list[tuple[int, Coat, Resist]]:
    """Coats that are paint, with their numbers from the viewer backwards."""
    numbered = enumerate(zip(plan.job.coats, plan.resists, strict=False), start=1)
    return [(number, c, r) for number, (c, r) in numbered if not c.is_window]


def _amounts(plan: Plan) -> Table:
    area = painted_cm2(plan)
    where = (
        "both faces, edges and hole walls"
        if plan.etch is not None
        else f"the {plan.job.blank.worked_side}"
    )
    rows = []
    for number, coat, resist in sprayed(plan):
        film, solids = resist.film_um(coat.thickness_um), resist.solids
        low, high = solids.low or solids.value, solids.high or solids.value
        wet = wet_paint_ml(area, film, solids.value)
        least, most = wet_paint_ml(area, film, high), wet_paint_ml(area, film, low)
        rows.append(
            (
                f"{number}. {capital(resist.name)}, {coat.colour}",
                f"{significant(area)}\u00a0cm²: {where}",
                f"{film:g}\u00a0µm",
                f"{significant(wet, 2)}\u00a0mL ({significant(least, 2)} to "
                f"{significant(most, 2)}\u00a0mL)",
            )
        )
    return Table(
        columns=("Coat", "Area, all pieces", "Coat thickness", "Wet paint on the pieces"),
        shares=(1.5, 1.9, 0.6, 1.3),
        rows=tuple(rows),
    )
