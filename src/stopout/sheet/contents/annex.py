"""What is looked up: true-size drawings, findings, numbers, values, hazards in full."""

from __future__ import annotations

from collections.abc import Mapping

from stopout.etching import Advice
from stopout.planning import Plan
from stopout.sheet.contents.card import side_by_side
from stopout.sheet.contents.numbers import findings, plan_numbers
from stopout.sheet.contents.pieces import pieces
from stopout.sheet.contents.times import clearing_times
from stopout.sheet.drawings.maps import deviation_map, enlarged
from stopout.sheet.drawings.sketches import bath_sketch, coat_sketch
from stopout.sheet.model import Block, Heading, Pictures, Sketches, Table
from stopout.sheet.stages.clearing import clearing_settings
from stopout.sheet.stages.hazards import hazard_reference
from stopout.sheet.stages.mix import tray_mm
from stopout.sheet.stages.paint import paint_amounts
from stopout.sheet.stages.waste import neutral_ways
from stopout.sheet.steps import held, note
from stopout.sheet.words import advised, capital, typeset

# Room for a map on the paper.
_WIDEST_MAP_MM = 86.0
# What no paper that the sheet is set on, A4 or Letter, has room for: across, and along.
_PAPER_MM = (183.9, 190.0)


def annex(plan: Plan, pictures: dict[str, str], statements: Mapping[str, str]) -> list[Block]:
    """Return the blocks of the annex, the true-size drawing first.

    Parameters
    ----------
    plan : Plan
        A plan that is not stopped.
    pictures : dict of str to str
        SVG drawings by name.
    statements : mapping of str to str
        Texts of the hazard and precautionary statements by code.
    """
    return [
        *_true_size(plan, pictures),
        *pieces(plan),
        *findings(plan),
        *plan_numbers(plan),
        *paint_amounts(plan),
        *_settings(plan),
        *(clearing_times(plan) if plan.job.route.clears_paint else []),
        *_predicted(plan),
        *_bath(plan),
        *advice_in_full(plan),
        *hazard_reference(plan, statements),
    ]


def advice_in_full(plan: Plan) -> list[Block]:
    """What the tables say of metal, coats and bath, beyond what stands in the steps."""
    told: list[tuple[str, tuple[Advice, ...]]] = [(plan.material.name, plan.material.advice)]
    told += [(resist.name, resist.advice) for resist in plan.resists]
    if plan.etch is not None and plan.pair is not None:
        etchant = plan.pair.etchant
        told += [
            (f"mixing {etchant.name}", etchant.mixing),
            (f"{plan.material.name} in {etchant.name}", plan.pair.advice),
            (f"{etchant.name}, waste", (*plan.pair.waste, *etchant.waste)),
        ]
    rows = dict.fromkeys(
        (capital(typeset(name)), " ".join(advised(line) for line in held(plan, lines)))
        for name, lines in told
    )
    shown = tuple((name, words) for name, words in rows if words)
    if not shown:
        return []
    return [
        Heading(text="Advice"),
        Table(columns=("Of", "What the tables say"), shares=(1.0, 4.2), rows=shown),
    ]


def _settings(plan: Plan) -> list[Block]:
    """All settings of the beam, for comparing with the machine."""
    if not plan.job.route.has_beam:
        return []
    blocks: list[Block] = []
    for coat in plan.coats:
        which = "" if len(plan.coats) == 1 else f", coat {coat.number}"
        blocks += [Heading(text=f"Settings of the beam{which}"), clearing_settings(plan, coat)]
    return blocks


def _bath(plan: Plan) -> list[Block]:
    etch, pair = plan.etch, plan.pair
    if etch is None or pair is None:
        return []
    width, height = tray_mm(plan)
    depth = 1e6 * etch.bath_fill_l / (width * height)
    return [
        Heading(text="The bath, standing and spent"),
        Sketches(sketches=(bath_sketch(plan, tray_mm=(width, height), bath_mm=depth),)),
        *neutral_ways(plan, etch, pair),
    ]


def _true_size(plan: Plan, pictures: dict[str, str]) -> list[Block]:
    worked = side_by_side(plan, pictures)[1:]
    least, most = sorted((plan.job.blank.width_mm, plan.job.blank.height_mm))
    if least > _PAPER_MM[0] or most > _PAPER_MM[1]:
        return [
            Heading(text="As worked, smaller than true size"),
            note("The blank is larger than the paper: measure nothing on these drawings."),
            *(Pictures(pictures=(picture,), full_size=True) for picture in worked),
        ]
    return [
        Heading(text="True size: lay the blank on it"),
        note(
            "Print at 100\u00a0%. The bar must measure 100\u00a0mm on paper; where it does "
            "not, the drawings are not true either."
        ),
        *(Pictures(pictures=(picture,), full_size=True) for picture in worked),
    ]


def _predicted(plan: Plan) -> list[Block]:
    """Where the finished edge is predicted to stray, and the worst places enlarged."""
    blocks: list[Block] = [
        Heading(text="What the finished edge is predicted to be"),
        note(
            "In the windows: grey the finished piece, full line the artwork"
            + (
                "; gaps between the lines are taken as marked."
                if plan.light
                else ", dashed line the opening in the resist."
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
