"""What a bath's ledger adds up to."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.job.shop_numbers import BathEvent


def ledger_litres(events: Sequence[BathEvent]) -> float:
    """Return the litres in a bath: mixed and topped up since it was last mixed; 0 when discarded.

    What evaporates or is carried out is not in the ledger.
    """
    return sum(event.litres for event in _since_mixed(events))


def ledger_dissolved_g_per_l(events: Sequence[BathEvent]) -> float:
    """Return the metal dissolved in a bath, in g/L, from its ledger.

    Parameters
    ----------
    events : sequence of BathEvent
        As `ShopBook.events` gives them, in the order of their time.

    Returns
    -------
    float
        Metal etched since the bath was last mixed over the litres it holds; 0 for a bath that is
        discarded or not mixed yet.
    """
    since = _since_mixed(events)
    litres = sum(event.litres for event in since)
    return sum(event.metal_g for event in since) / litres if litres > 0 else 0.0


def is_discarded(events: Sequence[BathEvent]) -> bool:
    """Tell whether a bath is gone."""
    return bool(events) and not _since_mixed(events)


def _since_mixed(events: Sequence[BathEvent]) -> list[BathEvent]:
    """Events from the last mixing on; none after a discard."""
    since: list[BathEvent] = []
    for event in events:
        if event.kind in ("mixed", "discarded"):
            since = []
        if event.kind != "discarded":
            since.append(event)
    return since
