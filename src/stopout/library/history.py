"""What the shop book says of one entry's kind over time, made ready for the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stopout.etching import Pair, fading_mean
from stopout.job.shop_numbers import (
    Bath,
    ClearingCalibration,
    Equipment,
    EtchCalibration,
    JobRecord,
    RunTime,
    ShopNumbers,
    Timing,
)
from stopout.pictures.history import HistoryPanel, HistoryPoint
from stopout.planning.book.matching import (
    ClearingCase,
    EtchCase,
    clearing_differs,
    etch_differs,
    newest,
)
from stopout.planning.book.numbers import factor_observation, rate_observation
from stopout.records import ledger_dissolved_g_per_l

if TYPE_CHECKING:
    from stopout.etching import Observation
    from stopout.records import Entry

_AXES = ("across x", "across y")


def history_of(entry: Entry, numbers: ShopNumbers) -> tuple[str, str, tuple[HistoryPanel, ...]]:
    """Return title, note and panels of the history that an entry belongs to.

    Raises
    ------
    TableError
        If the tables no longer know the entry's metal in its etchant.
    """
    record = entry.record
    if isinstance(record, ClearingCalibration):
        return _clearing(record, numbers)
    if isinstance(record, Bath):
        return _bath(entry, record)
    if isinstance(record, Timing | RunTime | Equipment):
        return "", "", ()
    from stopout.tables import load_pair

    return _etch(record, numbers, load_pair(record.material, record.etchant))


def _clearing(
    record: ClearingCalibration, numbers: ShopNumbers
) -> tuple[str, str, tuple[HistoryPanel, ...]]:
    case = ClearingCase(
        machine=record.machine,
        material=record.material,
        paint=record.paint,
        colour=record.colour,
        thickness_um=record.thickness_um,
        speed_mm_s=record.speed_mm_s or 1.0,
        passes=1,
        finish=record.finish,
    )
    alike = [e for e in numbers.clearing if not clearing_differs(e, case)]
    panels = []
    for title, values in (
        ("Threshold line dose, J/mm", [e.threshold_j_per_mm for e in alike]),
        ("Spot, 1/e2 full width, mm", [e.spot_mm for e in alike]),
    ):
        points = tuple(
            HistoryPoint(
                date=e.date,
                value=value[axis].value,
                sd=value[axis].sd,
                series=axis,
                is_chosen=e.ident == record.ident,
            )
            for e, value in zip(alike, values, strict=True)
            for axis in range(2)
        )
        panels.append(HistoryPanel(title=title, points=points, names=_AXES, is_paired=True))
    note = (
        f"Coupons on {record.paint}, {record.colour}, "
        f"{record.thickness_um:g} um, on {record.material}. Bars: one standard deviation. "
        f"Ringed: entry {record.ident}. Plans use the newest."
    )
    return "Clearing coupons", note, tuple(panels)


def _etch(
    record: EtchCalibration | JobRecord, numbers: ShopNumbers, pair: Pair
) -> tuple[str, str, tuple[HistoryPanel, ...]]:
    case = EtchCase(
        material=record.material,
        etchant=record.etchant,
        strength_g_per_l=record.strength_g_per_l,
        temperature_degc=record.temperature_degc,
        agitation=record.agitation,
        depth_mm=record.depth_mm.value,
        finish=record.finish,
    )
    coupons = [e for e in numbers.etch if not etch_differs(e, case)]
    jobs = [e for e in numbers.jobs if not etch_differs(e, case)]
    used = newest(coupons)
    alike: list[EtchCalibration | JobRecord] = [*coupons, *jobs]
    panels = []
    for title, seen in (
        (
            f"Etch rate at {case.temperature_degc:.4g} degC and {case.strength_g_per_l:.4g} g/L, "
            "um/min",
            [rate_observation(e, pair, case) for e in alike],
        ),
        ("Etch factor, depth / undercut", [factor_observation(e) for e in alike]),
    ):
        panels += _panel(title, alike, seen, record, used)
    note = (
        f"{pair.material.name.capitalize()} in {pair.etchant.name}, {record.agitation}. Bars: one "
        f"standard deviation. Ringed: entry {record.ident}. Plans use the newest coupon and the "
        "job records together, old ones fading; the band is the spread to expect of the next job."
    )
    return "Etch coupons and jobs", note, tuple(panels)


def _panel(
    title: str,
    alike: list[EtchCalibration | JobRecord],
    seen: list[Observation | None],
    record: EtchCalibration | JobRecord,
    used: EtchCalibration | None,
) -> list[HistoryPanel]:
    """One panel, or none where no entry has this value."""
    known = [(e, o) for e, o in zip(alike, seen, strict=True) if o is not None]
    if not known:
        return []
    points = tuple(
        HistoryPoint(
            date=o.date,
            value=o.value,
            sd=o.sd,
            series=int(isinstance(e, JobRecord)),
            is_chosen=e.ident == record.ident,
        )
        for e, o in known
    )
    behind = [o for e, o in known if isinstance(e, JobRecord) or e is used]
    mean = fading_mean(behind).mean
    return [HistoryPanel(title=title, points=points, names=("coupon", "job"), mean=mean)]


def _bath(entry: Entry, record: Bath) -> tuple[str, str, tuple[HistoryPanel, ...]]:
    points = tuple(
        HistoryPoint(date=event.at, value=ledger_dissolved_g_per_l(entry.events[: k + 1]))
        for k, event in enumerate(entry.events)
    )
    note = (
        f"{record.etchant}: metal dissolved by the ledger; evaporation and drag-out are not in it."
    )
    panel = HistoryPanel(title="Dissolved metal, g/L", points=points, is_stepped=True)
    return f"Bath {record.name}", note, (panel,) if points else ()
