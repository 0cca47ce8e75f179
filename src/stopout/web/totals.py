"""What jobs take together: minutes, paints, etchants; money where the shop has given prices."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

# What one of each measure is, in the one that is counted.
_IN = {"min": 1.0, "h": 60.0, "mL": 1.0, "L": 1000.0, "g": 1.0, "kg": 1000.0}
_TIMES = (("clearing_s", "clearing"), ("bath_s", "bath"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What the shop counts for one `per` of something: `amount` of a currency."""

    amount: float
    currency: str
    per: str


def totals_of(amounts: Iterable[Mapping[str, Any]], prices: Mapping[str, Price]) -> dict[str, Any]:
    """Add up what jobs take.

    Parameters
    ----------
    amounts : iterable of mapping
        Each job's `amounts` of plan.json.
    prices : mapping of str to Price
        By what they are of: `clearing`, `bath`, or the id of a paint or an etchant.

    Returns
    -------
    dict
        `rows`, each with `name`, `amount` and `unit` (min, mL, g), and `cost` and `currency`, None
        where no price is given; `sums`, the costs by currency; `unpriced`, the names of
        rows without a price, empty where the shop has given none at all.
    """
    added: dict[tuple[str, str], float] = {}
    for job in amounts:
        for name, unit, amount in _counted(job):
            added[name, unit] = added.get((name, unit), 0.0) + amount
    rows = [_row(name, unit, amount, prices.get(name)) for (name, unit), amount in added.items()]
    sums: dict[str, float] = {}
    for row in rows:
        if row["cost"] is not None:
            sums[row["currency"]] = sums.get(row["currency"], 0.0) + row["cost"]
    unpriced = [row["name"] for row in rows if row["cost"] is None] if sums else []
    return {"rows": rows, "sums": sums, "unpriced": unpriced}


def _counted(job: Mapping[str, Any]) -> Iterable[tuple[str, str, float]]:
    for key, name in _TIMES:
        if job.get(key):
            yield name, "min", job[key] / 60.0
    for paint in job.get("paints", ()):
        yield paint["paint"], "mL", paint["wet_ml"]
    for reagent in job.get("reagents", ()):
        yield reagent["etchant"], "g", reagent["reagent_g"]


def _row(name: str, unit: str, amount: float, price: Price | None) -> dict[str, Any]:
    cost = currency = None
    # A price by another measure than what is counted says nothing.
    if price is not None and (price.per, unit) in _FITS:
        cost, currency = amount / _IN[price.per] * price.amount, price.currency
    return {"name": name, "unit": unit, "amount": amount, "cost": cost, "currency": currency}


_FITS = {("min", "min"), ("h", "min"), ("mL", "mL"), ("L", "mL"), ("g", "g"), ("kg", "g")}
