"""Doubts about a measured rate or etch factor that the tables know quite otherwise."""

from __future__ import annotations

from stopout.etching.rates.rate import rate_um_per_min
from stopout.etching.records import Pair
from stopout.units import format_number
from stopout.values import Finding, Level, Measured

# Past the table's range by more than this a depth, a time or a unit was written down wrong, or the
# metal is another (ours): alloys and stirring change a rate by less, and the ranges hold them.
_FAR_RATE = 3.0
# How an etch widens differs less from shop to shop than how fast it is (ours).
_FAR_FACTOR = 2.0


def doubtful_rate(
    pair: Pair,
    um_per_min: float,
    *,
    strength_g_per_l: float,
    temperature_degc: float,
    agitation: str,
    is_fresh: bool,
) -> str:
    """Say how far a measured etch rate lies from what the tables have for such a bath.

    Parameters
    ----------
    pair : Pair
        The metal and the etchant.
    um_per_min : float
        The rate as measured [um/min].
    strength_g_per_l, temperature_degc, agitation : float, float, str
        Of the bath it was measured in.
    is_fresh : bool
        Whether nothing is dissolved in it: a used bath may be as slow as it likes.

    Returns
    -------
    str
        "" within three times the table's range, and where the tables know no such bath.
    """
    table = rate_um_per_min(
        pair,
        strength_g_per_l=strength_g_per_l,
        temperature_degc=temperature_degc,
        agitation=agitation,
    )
    if any(finding.level is Level.STOP for finding in table.findings):
        return ""
    low, high = table.low_um_per_min, table.high_um_per_min
    off = _off(um_per_min, low, high)
    if off <= _FAR_RATE or (um_per_min < low and not is_fresh):
        return ""
    return (
        f"an etch rate of {_short(um_per_min)} um/min is {_times(off, um_per_min > high)} the "
        f"{_short(low)} to {_short(high)} um/min of the tables for {pair.material.name} in such a "
        "bath"
    )


def rate_findings(
    pair: Pair,
    rate: Measured,
    *,
    strength_g_per_l: float,
    temperature_degc: float,
    agitation: str,
    is_fresh: bool,
    where: str,
) -> tuple[Finding, ...]:
    """A caution where a rate handed in is doubtful; `where` it is from: job file or shop book."""
    said = doubtful_rate(
        pair,
        rate.value,
        strength_g_per_l=strength_g_per_l,
        temperature_degc=temperature_degc,
        agitation=agitation,
        is_fresh=is_fresh,
    )
    if not said:
        return ()
    remedy = f"Check depth, minutes and their units ({where}){_way_out(where)}."
    return (Finding.caution("rate-doubtful", said, remedy),)


def factor_findings(pair: Pair, factor: Measured, *, where: str) -> tuple[Finding, ...]:
    """A caution where an etch factor handed in is more than twice beyond the table's range."""
    message = doubtful_factor(pair, factor)
    if not message:
        return ()
    remedy = (
        f"Check depth and undercut ({where}): the factor is the depth over the undercut of one "
        f"edge{_way_out(where)}."
    )
    return (Finding.caution("factor-doubtful", message, remedy),)


def doubtful_factor(pair: Pair, factor: Measured) -> str:
    """Say how far a measured etch factor lies from the tables'; "" within twice their range."""
    table = pair.etch_factor
    low, high = table.low or table.value, table.high or table.value
    off = _off(factor.value, low, high)
    if off <= _FAR_FACTOR:
        return ""
    return (
        f"an etch factor of {_short(factor.value)} is {_times(off, factor.value > high)} the "
        f"{_short(low)} to {_short(high)} of the tables for {pair.material.name} in "
        f"{pair.etchant.name}"
    )


def _way_out(where: str) -> str:
    if where.startswith("shop book"):
        return "; stopout shop forget takes a wrong entry out"
    return "; left out, it is the shop book's or the table's"


def _off(value: float, low: float, high: float) -> float:
    """By what factor a value lies outside a range; at most one within it."""
    return max(value / high, low / value)


def _times(off: float, is_above: bool) -> str:
    times = format_number(off, digits=2)
    return f"{times} times above" if is_above else f"{times} times below"


def _short(value: float) -> str:
    return format_number(value, digits=2)
