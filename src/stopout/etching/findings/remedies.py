"""What a job could do instead where its resist would not last, with the numbers put in."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.etching.rates.rate import rate_um_per_min
from stopout.etching.records import Pair, Resist, ResistLimit
from stopout.values import Level

# A bath is set to whole degrees.
_STEP_K = 1.0
# A warmer bath is named only where it is done in this share of the time (our own rule).
_WORTH = 0.95
_VERDICTS = ("best", "good", "fair")


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """The etch that a resist would not stand, and the resists that there are besides.

    Attributes
    ----------
    pair : Pair
        The metal in its bath.
    strength_g_per_l, temperature_degc, rise_k : float
        The bath, and how much it may warm.
    agitation : str
        As in the job file.
    depth_mm, time_s : float
        Planned depth and time.
    others : tuple of Resist
        Every resist that may be used, the job's own among them.
    """

    pair: Pair
    strength_g_per_l: float
    temperature_degc: float
    rise_k: float
    agitation: str
    depth_mm: float
    time_s: float
    others: tuple[Resist, ...] = ()

    def depth_for(self, longest_s: float, time_s: float) -> float:
        """Depth that is reached in the time the resist lasts [mm], rounded down to a micrometre."""
        return math.floor(1000.0 * self.depth_mm * longest_s / time_s) / 1000.0

    def warmer(self, limit: ResistLimit, longest_s: float) -> list[str]:
        """The coolest whole degree at which the etch is done in time, if it is within all limits.

        Resist, rate and the usual bath under paint each set a limit; the rise is kept below them.
        """
        top = min(
            [
                self.pair.hot_paint_degc.value,
                self.pair.ceilings.warmest_degc.value - self.rise_k,
                *([] if limit.max_degc is None else [limit.max_degc.value - self.rise_k]),
            ]
        )
        here = self._rate(self.temperature_degc)
        degc = math.floor(self.temperature_degc / _STEP_K) * _STEP_K + _STEP_K
        while degc <= top:
            there = self._rate(degc)
            if here is None or there is None:
                return []
            time_s = self.time_s * here / there
            # A gain within the rate's own spread is none.
            if time_s <= min(longest_s, _WORTH * self.time_s) and there > here:
                return [f"warm the bath to {degc:g} degC, where it takes {time_s / 60.0:.0f} min"]
            degc += _STEP_K
        return []

    def another_resist(self, own: Resist, etchant_id: str) -> str:
        """The resists that are known to stand this bath for this long, named."""
        found = [
            text
            for resist in self.others
            if resist.ident != own.ident
            for text in self._instead(resist, etchant_id)
        ]
        if not found:
            return "use another resist, tried on a coupon: the table has none that is known to last"
        return f"use {' or '.join(found)} (tried on a coupon first)"

    def _instead(self, resist: Resist, etchant_id: str) -> list[str]:
        """This resist, as the bath is or in a warmer one; nothing where neither would last."""
        limit = next((entry for entry in resist.limits if entry.etchant == etchant_id), None)
        if limit is None or limit.verdict not in _VERDICTS:
            return []
        longest, warmest = limit.max_time_s, limit.max_degc
        lasts_s = math.inf if longest is None else (longest.low or longest.value)
        if warmest is not None and self.temperature_degc + self.rise_k > warmest.value:
            return []
        if self.time_s <= lasts_s:
            return [resist.name]
        return [f"{resist.name} and {way}" for way in self.warmer(limit, lasts_s)]

    def _rate(self, degc: float) -> float | None:
        """The table's rate there; None outside the stated range, and where a current etches."""
        if not self.pair.rates:
            return None
        estimate = rate_um_per_min(
            self.pair,
            strength_g_per_l=self.strength_g_per_l,
            temperature_degc=degc,
            agitation=self.agitation,
        )
        stops = any(finding.level is Level.STOP for finding in estimate.findings)
        return None if stops else estimate.um_per_min
