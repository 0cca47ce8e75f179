"""`stopout bath`: rate, time, amounts, bath, gas, checks and waste of an etch, without artwork."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from stopout.cli.bath_options import (
    count,
    maybe,
    measured,
    nought_or,
    parsed,
    positive,
    strength_of,
    two_lengths,
)
from stopout.errors import StopoutError, UnitError
from stopout.units import (
    parse_area_mm2,
    parse_current_a,
    parse_current_density_a_per_cm2,
    parse_difference_k,
    parse_length_mm,
    parse_mass_g,
    parse_rate_um_per_min,
    parse_temperature_degc,
    parse_time_s,
    parse_voltage_v,
    parse_volume_l,
)

if TYPE_CHECKING:
    from stopout.etching import BathStrength, BathUse, Cell, Etchant, EtchPlan, Hazard, Pair
    from stopout.values import Finding

__all__ = ["register"]

_ROOM_DEGC = 25.0
_AGITATIONS = ("tray", "rocked", "bubbled", "spray")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opening:
    """What is open to the bath on one piece."""

    area_mm2: float
    edge_mm: float
    parts: int
    islands: int


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def bath(
        material: Annotated[str, typer.Option(metavar="ID", help="The metal.")],
        etchant: Annotated[
            str, typer.Option(metavar="ID", help="The etchant, or electrolytic: by a current.")
        ],
        area: Annotated[
            str, typer.Option(metavar="AREA", help="Open area of one piece, such as 24cm^2.")
        ],
        depth: Annotated[str, typer.Option(metavar="LENGTH", help="Depth of the etch.")],
        edge: Annotated[
            str | None,
            typer.Option(metavar="LENGTH", help="Whole boundary of the openings of one piece."),
        ] = None,
        parts: Annotated[int, typer.Option(help="Parts that the openings have.")] = 1,
        islands: Annotated[int, typer.Option(help="Islands of resist within them.")] = 0,
        strength: Annotated[
            str | None, typer.Option(metavar="STRENGTH", help="100g/L, 10% or 40degBe.")
        ] = None,
        temperature: Annotated[
            str | None, typer.Option(metavar="TEMPERATURE", help="Left out: 25degC.")
        ] = None,
        rate: Annotated[
            str | None, typer.Option(metavar="RATE", help="Measured; left out: the table's.")
        ] = None,
        etch_factor: Annotated[
            float | None, typer.Option(help="Depth / undercut, measured; left out: the table's.")
        ] = None,
        rise: Annotated[
            str, typer.Option(metavar="DIFFERENCE", help="How much the bath may warm.")
        ] = "10K",
        agitation: Annotated[
            str, typer.Option(metavar="KIND", help="tray, rocked, bubbled or spray.")
        ] = "tray",
        quantity: Annotated[int, typer.Option(help="Pieces.")] = 1,
        spares: Annotated[int, typer.Option(help="Pieces etched besides.")] = 0,
        coupon_area: Annotated[
            str | None, typer.Option(metavar="AREA", help="Open area of a coupon in the bath.")
        ] = None,
        size: Annotated[
            str | None,
            typer.Option(metavar="W,H", help="Width and height of a piece: 100mm,60mm."),
        ] = None,
        thickness: Annotated[
            str | None, typer.Option(metavar="LENGTH", help="Thickness of the blank.")
        ] = None,
        filled: Annotated[
            bool, typer.Option("--filled", help="The recesses are filled with paint.")
        ] = False,
        resist: Annotated[
            str | None, typer.Option(metavar="ID", help="The paint, to see if it lasts.")
        ] = None,
        tray: Annotated[
            str | None, typer.Option(metavar="W,H", help="Floor of the tray: 200mm,150mm.")
        ] = None,
        plates_at_once: Annotated[
            int | None, typer.Option(help="Pieces in the tray together.")
        ] = None,
        dissolved: Annotated[
            str | None, typer.Option(metavar="G/L", help="Metal in the used bath, such as 6g/L.")
        ] = None,
        volume: Annotated[
            str | None, typer.Option(metavar="VOLUME", help="How much bath there is.")
        ] = None,
        stock: Annotated[
            str | None, typer.Option(metavar="STRENGTH", help="Solution that is diluted.")
        ] = None,
        electrolyte: Annotated[
            str | None, typer.Option(metavar="ID", help="By a current: the salt of the bath.")
        ] = None,
        current: Annotated[
            str | None, typer.Option(metavar="CURRENT", help="Of all pieces together: 2A.")
        ] = None,
        current_density: Annotated[
            str | None, typer.Option(metavar="DENSITY", help="Per open area: 0.1A/cm^2.")
        ] = None,
        voltage: Annotated[
            str | None, typer.Option(metavar="VOLTAGE", help="What the supply shows.")
        ] = None,
        efficiency: Annotated[
            float | None, typer.Option(help="Share of the current that dissolves metal.")
        ] = None,
        chromate_acknowledged: Annotated[
            bool,
            typer.Option(
                "--chromate-acknowledged",
                help="A licensed carrier takes the chromate of stainless steel.",
            ),
        ] = False,
        measured_depth: Annotated[
            str | None, typer.Option(metavar="LENGTH", help="Depth measured on the way.")
        ] = None,
        after: Annotated[
            str | None, typer.Option(metavar="TIME", help="When it was measured.")
        ] = None,
        error: Annotated[
            str | None, typer.Option(metavar="LENGTH", help="How far that depth may be off.")
        ] = None,
        loss: Annotated[
            str | None, typer.Option(metavar="MASS", help="Weight that one piece has lost.")
        ] = None,
        explain: Annotated[
            bool, typer.Option("--explain", help="Print each formula with its numbers.")
        ] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print as JSON on standard output.")
        ] = False,
    ) -> None:
        """Plan an etch and its bath without artwork.

        Example: stopout bath --material aluminium --etchant sodium-hydroxide --area 24cm^2
        --edge 900mm --depth 0.06mm --strength 100g/L --temperature 40degC --size 100mm,60mm
        """
        opening = _Opening(
            area_mm2=positive("--area", area, parse_area_mm2),
            edge_mm=nought_or("--edge", edge, parse_length_mm),
            parts=count("--parts", parts, 1),
            islands=count("--islands", islands, 0),
        )
        depth_mm = positive("--depth", depth, parse_length_mm)
        left = _remaining(depth_mm, measured_depth, after, error)
        if agitation not in _AGITATIONS:
            raise StopoutError(f"--agitation: {agitation!r} is none of {', '.join(_AGITATIONS)}")
        strength_given = None if strength is None else strength_of("--strength", strength)
        refused = _refused(material, etchant, resist, strength_given)
        if refused:
            _print_refused(material, etchant, refused, as_json=as_json)
            raise typer.Exit(1)
        pair, cell = _pair(material, etchant, electrolyte)
        bath_strength_ = _of(pair.etchant, strength_given or _usual_strength(pair))
        degc = _ROOM_DEGC
        if temperature is not None:
            degc = parsed("--temperature", temperature, parse_temperature_degc)
        use = _use(
            pair.etchant,
            dissolved=dissolved,
            volume=volume,
            tray=tray,
            plates_at_once=plates_at_once,
            stock=stock,
            coupon_area=coupon_area,
            spares=count("--spares", spares, 0),
        )
        from stopout.etching import Current, plan_etch
        from stopout.tables import load_sludge

        job_current = Current(
            current_a=maybe("--current", current, parse_current_a),
            density_a_per_cm2=maybe(
                "--current-density", current_density, parse_current_density_a_per_cm2
            ),
            voltage_v=maybe("--voltage", voltage, parse_voltage_v),
            efficiency=measured("--efficiency", efficiency, 1.5),
            is_chromate_acknowledged=chromate_acknowledged,
        )
        _check_current(cell, job_current, rate)
        um_per_min = maybe("--rate", rate, parse_rate_um_per_min)
        plan = plan_etch(
            pair,
            strength=bath_strength_,
            temperature_degc=degc,
            depth_mm=depth_mm,
            etch_factor=measured("--etch-factor", etch_factor, 100.0),
            rate_um_per_min=measured("--rate", um_per_min, 1e4),
            rise_k=positive("--rise", rise, parse_difference_k),
            opening_area_mm2=opening.area_mm2,
            opening_edge_mm=opening.edge_mm,
            opening_parts=opening.parts,
            opening_holes=opening.islands,
            quantity=count("--quantity", quantity, 1),
            blank_size_mm=None if size is None else two_lengths("--size", size),
            agitation=agitation,
            use=use,
            sludge=None if cell is not None else load_sludge(material, etchant),
            cell=cell,
            current=job_current,
        )
        findings = [
            *_more_findings(
                plan,
                pair,
                thickness_mm=maybe("--thickness", thickness, parse_length_mm),
                is_filled=filled,
                resist=resist,
                defaults=(strength is None, temperature is None, edge is None, size is None),
            ),
            *_refused_now(material, etchant, resist, bath_strength_.g_per_l),
        ]
        stated = _sorted([*plan.findings, *findings])
        lost_mm = _mean_depth(loss, pair, plan, opening)
        if as_json:
            _print_json(pair, plan, stated, left, lost_mm, opening, explain=explain)
        else:
            _print_text(pair, plan, stated, left, (loss, lost_mm), opening, explain=explain)
        if any(finding.level == "stop" for finding in stated):
            raise typer.Exit(1)


def _remaining(depth_mm: float, measured: str | None, after: str | None, error: str | None) -> Any:
    """The time that is left, where a depth was measured on the way."""
    if measured is None and after is None:
        if error is not None:
            raise StopoutError("--error belongs to --measured-depth; give that, and --after")
        return None
    if measured is None or after is None:
        raise StopoutError("--measured-depth and --after go together: a depth, and the time so far")
    from stopout.etching import remaining_time

    return remaining_time(
        depth_mm=depth_mm,
        measured_depth_mm=positive("--measured-depth", measured, parse_length_mm),
        after_s=positive("--after", after, parse_time_s),
        error_mm=nought_or("--error", error, parse_length_mm),
    )


def _refused(
    material: str, etchant: str, resist: str | None, strength: tuple[float, str] | None
) -> list[Finding]:
    """The stops of the chemistry that hold at any strength: no table need know the bath then."""
    found = _refused_now(material, etchant, resist, None)
    return [finding for finding in found if finding.level == "stop"]


def _refused_now(
    material: str, etchant: str, resist: str | None, g_per_l: float | None
) -> list[Finding]:
    from stopout.etching import refusals
    from stopout.tables import load_refusals

    return list(
        refusals(
            load_refusals(),
            material_id=material,
            etchant_id=etchant,
            strength_g_per_l=g_per_l,
            resist_ids=() if resist is None else (resist,),
        )
    )


def _pair(material: str, etchant: str, electrolyte: str | None) -> tuple[Pair, Cell | None]:
    from stopout.tables import ELECTROLYTIC, electrolytes_for, load_cell, load_pair

    if etchant != ELECTROLYTIC:
        if electrolyte is not None:
            raise StopoutError("--electrolyte is for --etchant electrolytic; leave it out")
        return load_pair(material, etchant), None
    if electrolyte is None:
        known = ", ".join(electrolytes_for(material)) or "none is known"
        raise StopoutError(f"--electrolyte is missing; for {material}: {known}")
    return load_cell(material, electrolyte)


def _usual_strength(pair: Pair) -> tuple[float, str]:
    """The strength of the table's reference; a tenth by weight for an electrolyte."""
    for reference in pair.rates:
        if "tray" in reference.agitation:
            return reference.strength_g_per_l, "g/L"
    return 10.0, "%"


def _of(etchant: Etchant, given: tuple[float, str]) -> BathStrength:
    from stopout.etching import bath_strength

    return bath_strength(etchant, value=given[0], unit=given[1])  # type: ignore[arg-type]


def _use(
    etchant: Etchant,
    *,
    dissolved: str | None,
    volume: str | None,
    tray: str | None,
    plates_at_once: int | None,
    stock: str | None,
    coupon_area: str | None,
    spares: int,
) -> BathUse:
    from stopout.etching import BathUse

    metal = 0.0
    if dissolved is not None:
        metal, unit = strength_of("--dissolved", dissolved)
        if unit != "g/L":
            raise UnitError(f"--dissolved: {dissolved} is no metal per litre; give it as 6g/L")
    return BathUse(
        dissolved_g_per_l=metal,
        volume_l=maybe("--volume", volume, parse_volume_l),
        tray_mm=None if tray is None else two_lengths("--tray", tray),
        plates_at_once=None
        if plates_at_once is None
        else count("--plates-at-once", plates_at_once, 1),
        stock=None if stock is None else _of(etchant, strength_of("--stock", stock)),
        coupon_area_mm2=nought_or("--coupon-area", coupon_area, parse_area_mm2),
        spares=spares,
    )


def _check_current(cell: Cell | None, current: Any, rate: str | None) -> None:
    if cell is None:
        if (current.current_a, current.density_a_per_cm2, current.voltage_v) != (None, None, None):
            raise StopoutError("a current is for --etchant electrolytic; leave it out")
        return
    if current.current_a is not None and current.density_a_per_cm2 is not None:
        raise StopoutError("give --current or --current-density, not both")
    if rate is not None:
        raise StopoutError("--rate follows from the current; give --efficiency as measured")


def _more_findings(
    plan: EtchPlan,
    pair: Pair,
    *,
    thickness_mm: float | None,
    is_filled: bool,
    resist: str | None,
    defaults: tuple[bool, bool, bool, bool],
) -> list[Finding]:
    """Findings that need more than the etch: thickness, resist, what was left out."""
    from stopout.cli.knowledge import usable_resists
    from stopout.etching import Remedies, check_depth, check_resist, floor_findings
    from stopout.tables import load_refusals, load_resist
    from stopout.values import Finding, Level

    found: list[Finding] = []
    no_strength, no_temperature, no_edge, no_size = defaults
    for is_out, option, taken in (
        (no_strength, "--strength", f"{plan.strength.as_given}, a usual bath"),
        (no_temperature, "--temperature", f"{_ROOM_DEGC:g} degC"),
        (no_edge, "--edge", "0 mm: the side walls' metal, heat and gas are not reckoned"),
        (no_size and plan.use.tray_mm is None, "--size", "none: covering is not reckoned"),
    ):
        if is_out:
            message = f"{option} is left out and taken as {taken}"
            found.append(Finding(code="bath-default", level=Level.NOTE, message=message))
    if thickness_mm is not None:
        found += check_depth(plan.depth_mm, thickness_mm)
    found += floor_findings(depth_mm=plan.depth_mm, thickness_mm=thickness_mm, is_filled=is_filled)
    if resist is not None:
        found += check_resist(
            load_resist(resist),
            pair.etchant,
            temperature_degc=plan.temperature_degc + plan.rise_k,
            time_s=plan.time_s,
            time_high_s=plan.longest_s,
            remedies=Remedies(
                pair=pair,
                strength_g_per_l=plan.strength.g_per_l,
                temperature_degc=plan.temperature_degc,
                rise_k=plan.rise_k,
                agitation=plan.agitation,
                depth_mm=plan.depth_mm,
                time_s=plan.time_s,
                others=usable_resists(load_refusals()),
            ),
        )
    return found


def _mean_depth(loss: str | None, pair: Pair, plan: EtchPlan, opening: _Opening) -> float | None:
    if loss is None:
        return None
    from stopout.etching import mean_depth_mm

    return mean_depth_mm(
        loss_g=positive("--loss", loss, parse_mass_g),
        density_g_per_cm3=pair.material.density_g_per_cm3.value,
        opening_area_mm2=opening.area_mm2,
        opening_edge_mm=opening.edge_mm,
        parts=opening.parts,
        holes=opening.islands,
        etch_factor=plan.etch_factor.value,
    )


def _explained(pair: Pair, plan: EtchPlan, opening: _Opening) -> Any:
    from stopout.etching.electrolytic import cell_pair
    from stopout.etching.explain import explain

    if plan.electro is not None:
        pair = cell_pair(pair, plan.electro, plates_out=not pair.gas)
    return explain(
        pair,
        plan,
        opening_area_mm2=opening.area_mm2,
        opening_edge_mm=opening.edge_mm,
        parts=opening.parts,
        holes=opening.islands,
    )


def _is_refused(findings: list[Finding]) -> bool:
    """Tell whether nothing may read as a recipe."""
    codes = {"chromate", "voltage-high"}
    rules = {finding.code for finding in findings if finding.code.startswith("rate-")}
    from stopout.tables import load_refusals

    codes |= rules | {rule.code for rule in load_refusals()}
    return any(finding.level == "stop" and finding.code in codes for finding in findings)


def _print_json(
    pair: Pair,
    plan: EtchPlan,
    findings: list[Finding],
    left: Any,
    lost_mm: float | None,
    opening: _Opening,
    *,
    explain: bool,
) -> None:
    import json
    from dataclasses import asdict

    from stopout.planning.etch_summary import etch_summary

    content: dict[str, Any] = {"material": pair.material.ident, "etchant": plan.etchant}
    if not _is_refused(findings):
        content |= etch_summary(plan)
    if _is_refused(findings):
        findings = [finding for finding in findings if finding.level == "stop"]
    content["hazards"] = [hazard.ident for hazard in _hazards(pair)]
    content["findings"] = [_plain(finding) for finding in findings]
    content["values"] = [asdict(value) for value in plan.values]
    content["remaining"] = None if left is None else asdict(left)
    content["mean_depth_mm"] = lost_mm
    if explain and not _is_refused(findings):
        content["formulas"] = [asdict(item) for item in _explained(pair, plan, opening)]
    typer.echo(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))


def _hazards(pair: Pair) -> tuple[Hazard, ...]:
    """What the bath, its gas, the metal and what makes the bath neutral can do."""
    from stopout.tables import load_hazards

    neutral = [ident for way in pair.neutralisers for ident in way.hazards]
    return load_hazards((*pair.etchant.hazards, *pair.hazards, *pair.material.hazards, *neutral))


def _plain(finding: Finding) -> dict[str, str]:
    return {
        "code": finding.code,
        "level": str(finding.level),
        "message": finding.message,
        "remedy": finding.remedy,
    }


def _print_text(
    pair: Pair,
    plan: EtchPlan,
    findings: list[Finding],
    left: Any,
    lost: tuple[str | None, float | None],
    opening: _Opening,
    *,
    explain: bool,
) -> None:
    from stopout.cli.bath_text import (
        bath_lines,
        explained_lines,
        hazard_lines,
        loss_lines,
        remaining_lines,
    )

    lines: list[str] = []
    if _is_refused(findings):
        # Of a bath that is refused, nothing may read as advice how to run it.
        findings = [finding for finding in findings if finding.level == "stop"]
    else:
        if any(finding.level == "stop" for finding in findings):
            lines += ["STOP: do not work by these numbers; the reasons stand below.", ""]
        lines += bath_lines(pair, plan)
        lines += ["", *hazard_lines(pair, _hazards(pair))]
        if explain:
            lines += ["", *explained_lines(_explained(pair, plan, opening))]
        if left is not None:
            lines += ["", *remaining_lines(left, plan.depth_mm)]
        if lost[0] is not None and lost[1] is not None:
            grams = positive("--loss", lost[0], parse_mass_g)
            lines += ["", *loss_lines(grams, lost[1], plan.depth_mm)]
        typer.echo("\n".join(lines))
    _tell(findings)


def _print_refused(material: str, etchant: str, findings: list[Finding], *, as_json: bool) -> None:
    if as_json:
        import json

        content = {
            "material": material,
            "etchant": etchant,
            "findings": [_plain(finding) for finding in findings],
        }
        typer.echo(json.dumps(content, indent=2, ensure_ascii=False))
    _tell(findings)


def _tell(findings: list[Finding]) -> None:
    for finding in findings:
        remedy = f" {finding.remedy}" if finding.remedy else ""
        typer.echo(f"{finding.level}: {finding.message}.{remedy}", err=True)


def _sorted(findings: list[Finding]) -> list[Finding]:
    rank = {"stop": 0, "caution": 1, "note": 2}
    return sorted(dict.fromkeys(findings), key=lambda finding: rank[finding.level])
