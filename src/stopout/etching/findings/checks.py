"""What must not be done, or not for so long or so warm: findings of the chemistry."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from stopout.etching.findings.bath import floor_findings
from stopout.etching.findings.remedies import Remedies
from stopout.etching.records import Etchant, Finish, Pair, Refusal, Resist, ResistLimit
from stopout.etching.result import EtchPlan
from stopout.values import Finding, Level

# The numbers of the hazard "laser-450nm" (exposure limit, optical density) hold in this band.
_BLUE_NM = (400.0, 500.0)
# Past this many times the longest that a resist is known to stand at least, it is not trusted at
# all (our own rule, no source).
_PAST_KNOWN = 3.0
# No remedy asks for a bath colder than a room.
_COOLEST_DEGC = 15.0


def refusals(
    rules: tuple[Refusal, ...],
    *,
    material_id: str,
    etchant_id: str | None,
    strength_g_per_l: float | None,
    resist_ids: tuple[str, ...] = (),
    base_id: str = "",
) -> tuple[Finding, ...]:
    """Findings of the rules that this combination breaks.

    Parameters
    ----------
    rules : tuple of Refusal
        From the table of refusals.
    material_id : str
        An id of the materials table.
    etchant_id : str or None
        The etchant, known to the tables or not; None where nothing is etched.
    strength_g_per_l : float or None
        Strength of the bath [g/L]; None where it is not known, which breaks no rule that has a
        strength.
    resist_ids : tuple of str
        The job's paints.
    base_id : str
        The metal of which this one is an alloy: what is refused for it is refused for this one.
    """
    met = (
        (material_id, *((base_id,) if base_id else ())),
        () if etchant_id is None else (etchant_id,),
        resist_ids,
    )
    return tuple(
        Finding(code=rule.code, level=rule.level, message=rule.message, remedy=rule.remedy)
        for rule in rules
        if _is_met(rule, met) and _is_above(rule, strength_g_per_l)
    )


def _is_met(rule: Refusal, met: tuple[tuple[str, ...], ...]) -> bool:
    """Tell whether each list that a rule has holds one of the ids met."""
    named = (rule.materials, rule.etchants, rule.resists)
    return all(not ids or set(ids) & set(own) for ids, own in zip(named, met, strict=True))


def _is_above(rule: Refusal, strength_g_per_l: float | None) -> bool:
    if rule.above_g_per_l is None:
        return True
    return strength_g_per_l is not None and strength_g_per_l > rule.above_g_per_l


def check_piece(
    etch: EtchPlan,
    pair: Pair,
    *,
    thickness_mm: float | None,
    is_filled: bool,
    resists: Iterable[Resist],
    others: tuple[Resist, ...] = (),
) -> list[Finding]:
    """Findings of a planned etch that hang on the piece: its thickness, its recesses, its resists.

    `others` are the resists that may be named as a remedy, the piece's own among them.
    """
    found = [] if thickness_mm is None else [*check_depth(etch.depth_mm, thickness_mm)]
    found += floor_findings(depth_mm=etch.depth_mm, thickness_mm=thickness_mm, is_filled=is_filled)
    remedies = Remedies(
        pair=pair,
        strength_g_per_l=etch.strength.g_per_l,
        temperature_degc=etch.temperature_degc,
        rise_k=etch.rise_k,
        agitation=etch.agitation,
        depth_mm=etch.depth_mm,
        time_s=etch.time_s,
        others=others,
    )
    for resist in resists:
        found += check_resist(
            resist,
            pair.etchant,
            temperature_degc=etch.temperature_degc + etch.rise_k,
            time_s=etch.time_s,
            time_high_s=etch.longest_s,
            remedies=remedies,
        )
    return found


def check_resist(
    resist: Resist,
    etchant: Etchant | str,
    *,
    temperature_degc: float,
    time_s: float,
    time_high_s: float | None = None,
    remedies: Remedies | None = None,
) -> tuple[Finding, ...]:
    """Findings where a resist is too warm or too long in an etchant.

    Parameters
    ----------
    resist : Resist
        The paint.
    etchant : Etchant or str
        The etchant, or its id.
    temperature_degc : float
        The warmest that the bath may get [degC], its planned rise included.
    time_s : float
        The planned time in it [s].
    time_high_s : float, optional
        The longest time that the rate's range leaves open [s].
    remedies : Remedies, optional
        What the job could do instead, with its numbers; left out, the remedies have none.

    Returns
    -------
    tuple of Finding
        Empty where the resist is known to stand it. Level as the table says; a caution where the
        table knows nothing of this resist in this etchant, and where only the longest time, or
        only the short end of what the resist is known to last, is in the way. A stop past three
        times a time that the resist is known to stand at least.
    """
    ident, name = _named(etchant)
    limit = next((entry for entry in resist.limits if entry.etchant == ident), None)
    if limit is None:
        message = f"the table does not say how {resist.name} stands {name}"
        remedy = "Etch a coated coupon for the whole time first, or use another resist."
        return (Finding.caution("resist-unknown", message, remedy),)
    within = f"{resist.name} in {name}"
    other = "use another resist" if remedies is None else remedies.another_resist(resist, ident)
    rise_k = 0.0 if remedies is None else remedies.rise_k
    if limit.verdict == "poor" and limit.max_degc is None and limit.max_time_s is None:
        return (_no_use(limit, within, other),)
    return (
        *_too_warm(limit, within, temperature_degc, rise_k, other),
        *_too_long(limit, within, (time_s, max(time_s, time_high_s or 0.0)), remedies, other),
    )


def _no_use(limit: ResistLimit, within: str, other: str) -> Finding:
    why = "" if limit.basis is None else f": {limit.basis.text} ({limit.basis.source})"
    return Finding(
        code="resist-unfit",
        level=limit.beyond,
        message=f"{within} does not hold{why}",
        remedy=f"{other[0].upper()}{other[1:]}.",
    )


def _named(etchant: Etchant | str) -> tuple[str, str]:
    """Id and name; an id alone is a name with hyphens for blanks."""
    if isinstance(etchant, str):
        return etchant, etchant.replace("-", " ")
    return etchant.ident, etchant.name


def _too_warm(
    limit: ResistLimit, within: str, temperature_degc: float, rise_k: float, other: str
) -> Iterator[Finding]:
    warmest = limit.max_degc
    if warmest is None or temperature_degc <= warmest.value:
        return
    yield Finding(
        code="resist-temperature",
        level=limit.beyond,
        message=(
            f"this bath may get as warm as {temperature_degc:g} degC, and {within} is good to "
            f"{warmest.value:g} degC"
        ),
        remedy=(
            f"Etch at {warmest.value - rise_k:g} degC or cooler, or {other}."
            if warmest.value - rise_k >= _COOLEST_DEGC
            else f"{other[0].upper()}{other[1:]}."
        ),
    )


def _too_long(
    limit: ResistLimit,
    within: str,
    times_s: tuple[float, float],
    remedies: Remedies | None,
    other: str,
) -> Iterator[Finding]:
    longest, (time_s, time_high_s) = limit.max_time_s, times_s
    if longest is None:
        return
    sure_s = longest.value if longest.low is None else longest.low
    is_over = time_s > longest.value
    if not is_over and time_high_s <= sure_s:
        return
    known = f"{longest.value / 60.0:.0f} min"
    if sure_s < longest.value:
        known = f"{sure_s / 60.0:.0f} to {known}"
    takes = f"takes {time_s / 60.0:.0f} min"
    if time_high_s > time_s:
        takes += f" and may take up to {time_high_s / 60.0:.0f} min"
    remedy = _time_remedy(limit, longest.value, time_s, remedies, other)
    level, far = limit.beyond, ""
    if not is_over:
        level = Level.CAUTION
        remedy = f"Etch a coupon, then give etch.rate as measured. {remedy}"
    elif longest.value * time_high_s > sure_s * time_s:
        # What is enough for the rate planned with is not for the slowest that it may be.
        remedy += " Measure the rate on a coupon, too: until then it may take longer."
    if is_over and level is Level.CAUTION and time_s > _PAST_KNOWN * longest.value:
        level = Level.STOP
        far = f", more than {_PAST_KNOWN:g} times as long (our own rule, no source)"
    yield Finding(
        code="resist-time",
        level=level,
        message=f"{within} is known to last {known}; this etch {takes}{far}",
        remedy=remedy,
    )


def _time_remedy(
    limit: ResistLimit, longest_s: float, time_s: float, remedies: Remedies | None, other: str
) -> str:
    """Shallower, warmer within the limits, or another resist; each only where it helps."""
    ways = []
    if time_s > longest_s:
        # Rounded down: a remedy that is followed to the letter must be enough. One number alone: a
        # depth and a share that are each rounded down do not agree.
        if remedies is not None:
            ways.append(f"etch at most {remedies.depth_for(longest_s, time_s):g} mm deep")
        else:
            share = math.floor(100.0 * longest_s / time_s)
            ways.append(f"etch to at most {share:.0f} % of the depth")
    if remedies is None:
        ways.append("warm the bath within the resist's limit")
    else:
        ways += remedies.warmer(limit, min(longest_s, time_s))
    text = ", or ".join([*ways, other])
    return f"{text[0].upper()}{text[1:]}."


def check_finish(finish: Finish | None) -> tuple[Finding, ...]:
    """What covers the blank as bought and has to come off first; nothing where it is bare."""
    if finish is None:
        return ()
    return (
        Finding(code="finish", level=finish.level, message=finish.message, remedy=finish.remedy),
    )


def check_depth(depth_mm: float, thickness_mm: float) -> tuple[Finding, ...]:
    """A stop where the etch would go through the blank."""
    if depth_mm < thickness_mm:
        return ()
    message = f"a depth of {depth_mm:g} mm goes through a blank of {thickness_mm:g} mm"
    remedy = f"Give a depth below {thickness_mm:g} mm, or a thicker blank."
    return (Finding.stop("etch-through", message, remedy),)


def check_pair_use(pair: Pair, *, temperature_degc: float, depth_mm: float) -> tuple[Finding, ...]:
    """Cautions where a bath is warmer, or an etch deeper, than is usual under paint."""
    findings = []
    hot, deep = pair.hot_paint_degc, pair.paint_depth_mm
    if temperature_degc > hot.value:
        findings.append(
            Finding.caution(
                "hot-bath",
                f"{temperature_degc:g} degC is warmer than the {hot.value:g} degC that is "
                f"usual under paint for {pair.material.name} in {pair.etchant.name}",
                remedy=f"Etch at {hot.value:g} degC or less: slower, but tamer.",
            )
        )
    if depth_mm > deep.value:
        findings.append(
            Finding.caution(
                "deep-etch",
                f"{depth_mm:g} mm is deeper than the {deep.value:g} mm that is usual under "
                f"paint for {pair.material.name} in {pair.etchant.name} ({deep.source})",
                remedy="Etch a coupon to the full depth first and look at the resist's edges.",
            )
        )
    return tuple(findings)


def hazard_ids(
    pair: Pair | None, resists: tuple[Resist, ...], *, wavelength_nm: float | None
) -> tuple[str, ...]:
    """Ids of the hazards that a job meets, in the order of its steps, each once.

    Parameters
    ----------
    pair : Pair or None
        None where nothing is etched; the coats then stay on, so no stripper is counted.
    resists : tuple of Resist
        The job's coats.
    wavelength_nm : float or None
        That of the laser [nm]; None where no laser is used.
    """
    ids = [ident for resist in resists for ident in resist.hazards]
    low, high = _BLUE_NM
    if wavelength_nm is not None:
        ids.append("laser-450nm" if low <= wavelength_nm <= high else "laser-other")
    if pair is not None:
        ids += [*pair.etchant.hazards, *pair.hazards, *pair.material.hazards]
        ids += [ident for resist in resists for ident in resist.strippers]
        ids += [ident for way in pair.neutralisers for ident in way.hazards]
    return tuple(dict.fromkeys(ids))
