"""What must not be done, or not for so long or so warm: findings of the chemistry."""

from __future__ import annotations

from stopout.etching.records import Pair, Refusal, Resist
from stopout.values import Finding, Level

__all__ = ["check_depth", "check_pair_use", "check_resist", "hazard_ids", "refusals"]


def refusals(
    rules: tuple[Refusal, ...], *, material_id: str, etchant_id: str, strength_g_per_l: float
) -> tuple[Finding, ...]:
    """Findings of the rules that this combination breaks.

    Parameters
    ----------
    rules : tuple of Refusal
        From the table of refusals.
    material_id, etchant_id : str
        Ids from the tables.
    strength_g_per_l : float
        Strength of the bath [g/L].
    """
    return tuple(
        Finding(code=rule.code, level=rule.level, message=rule.message, remedy=rule.remedy)
        for rule in rules
        if rule.material == material_id
        and rule.etchant == etchant_id
        and (rule.above_g_per_l is None or strength_g_per_l > rule.above_g_per_l)
    )


def check_resist(
    resist: Resist, etchant_id: str, *, temperature_degc: float, time_s: float
) -> tuple[Finding, ...]:
    """Findings where a resist is too warm or too long in an etchant.

    Parameters
    ----------
    resist : Resist
        The paint.
    etchant_id : str
        The etchant.
    temperature_degc, time_s : float
        The bath's temperature [degC], its planned rise included if wanted, and the time in it [s].

    Returns
    -------
    tuple of Finding
        Empty where the resist is known to stand it. Level as the table says; a caution where the
        table knows nothing of this resist in this etchant.
    """
    limit = next((entry for entry in resist.limits if entry.etchant == etchant_id), None)
    if limit is None:
        message = f"the table does not say how {resist.name} stands {etchant_id}"
        remedy = "Etch a coated coupon for the whole time first, or use another resist."
        return (
            Finding(code="resist-unknown", level=Level.CAUTION, message=message, remedy=remedy),
        )
    findings = []
    if limit.max_degc is not None and temperature_degc > limit.max_degc.value:
        findings.append(
            Finding(
                code="resist-temperature",
                level=limit.beyond,
                message=(
                    f"{resist.name} in {etchant_id} is good to {limit.max_degc.value:g} degC; "
                    f"this bath is at {temperature_degc:g} degC"
                ),
                remedy=f"Etch at {limit.max_degc.value:g} degC or less, or use another resist.",
            )
        )
    if limit.max_time_s is not None and time_s > limit.max_time_s.value:
        minutes, most = time_s / 60.0, limit.max_time_s.value / 60.0
        findings.append(
            Finding(
                code="resist-time",
                level=limit.beyond,
                message=(
                    f"{resist.name} in {etchant_id} is known to last {most:.0f} min; "
                    f"this etch takes {minutes:.0f} min"
                ),
                remedy=(
                    f"Etch to at most {100.0 * most / minutes:.0f} % of the depth, warm the bath "
                    "within the resist's limit, or use another resist."
                ),
            )
        )
    return tuple(findings)


def check_depth(depth_mm: float, thickness_mm: float) -> tuple[Finding, ...]:
    """A stop where the etch would go through the blank."""
    if depth_mm < thickness_mm:
        return ()
    message = f"a depth of {depth_mm:g} mm goes through a blank of {thickness_mm:g} mm"
    remedy = f"Give a depth below {thickness_mm:g} mm, or a thicker blank."
    return (Finding(code="etch-through", level=Level.STOP, message=message, remedy=remedy),)


def check_pair_use(pair: Pair, *, temperature_degc: float, depth_mm: float) -> tuple[Finding, ...]:
    """Cautions where a bath is warmer, or an etch deeper, than is usual under paint."""
    findings = []
    hot, deep = pair.hot_paint_degc, pair.paint_depth_mm
    if temperature_degc > hot.value:
        findings.append(
            Finding(
                code="hot-bath",
                level=Level.CAUTION,
                message=(
                    f"{temperature_degc:g} degC is warmer than the {hot.value:g} degC that is "
                    f"usual under paint for {pair.material.name} in {pair.etchant.name}"
                ),
                remedy=f"Etch at {hot.value:g} degC or less: slower, but tamer.",
            )
        )
    if depth_mm > deep.value:
        findings.append(
            Finding(
                code="deep-etch",
                level=Level.CAUTION,
                message=(
                    f"{depth_mm:g} mm is deeper than the {deep.value:g} mm that is usual under "
                    f"paint for {pair.material.name} in {pair.etchant.name} ({deep.source})"
                ),
                remedy="Etch a coupon to the full depth first and look at the resist's edges.",
            )
        )
    return tuple(findings)


def hazard_ids(pair: Pair | None, resists: tuple[Resist, ...]) -> tuple[str, ...]:
    """Ids of the hazards that a job meets, in the order of its steps, each once.

    Parameters
    ----------
    pair : Pair or None
        None where nothing is etched; the coats then stay on, so no stripper is counted.
    resists : tuple of Resist
        The job's coats.
    """
    ids = [ident for resist in resists for ident in resist.hazards]
    ids.append("laser-450nm")
    if pair is not None:
        ids += [*pair.etchant.hazards, *pair.hazards, *pair.material.hazards]
        ids += [ident for resist in resists for ident in resist.strippers]
    return tuple(dict.fromkeys(ids))
