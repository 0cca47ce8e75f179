"""The picture of a shop book's history: an etch coupon and six jobs over half a year (invented)."""

from __future__ import annotations

from stopout.job.shop_numbers import EtchCalibration, JobRecord, ShopNumbers
from stopout.library.history import history_of
from stopout.pictures.history import history_png
from stopout.records import Entry
from stopout.values import Measured

__all__ = ["history_picture"]

# Date, depth in mm, time in s, temperature in degC, undercut in mm.
_JOBS = (
    ("2026-07-01", 0.0607, 1764, 39.8, 0.0510),
    ("2026-08-02", 0.0619, 1470, 40.1, 0.0533),
    ("2026-09-09", 0.0608, 1668, 42.0, 0.0497),
    ("2026-09-30", 0.0625, 1740, 41.2, 0.0465),
    ("2026-10-20", 0.0619, 1860, 40.6, 0.0524),
    ("2026-11-24", 0.0620, 1619, 41.8, 0.0509),
)
_BATH = {
    "material": "aluminium",
    "etchant": "sodium-hydroxide",
    "strength_g_per_l": 100.0,
    "agitation": "tray",
}


def history_picture() -> bytes:
    """Rate and etch factor as `stopout shop show` draws them."""
    coupon = EtchCalibration(
        date="2026-06-01",
        temperature_degc=40.0,
        depth_mm=Measured(value=0.06, sd=0.002),
        undercut_mm=Measured(value=0.05, sd=0.002),
        etch_factor=Measured(value=1.2, sd=0.06),
        rate_um_per_min=Measured(value=2.1, sd=0.08),
        ident=1,
        **_BATH,
    )
    jobs = tuple(
        JobRecord(
            date=date,
            name="Sluice winch plate",
            temperature_degc=temperature,
            depth_mm=Measured(value=depth, sd=0.002),
            time_s=float(time),
            undercut_mm=Measured(value=undercut, sd=0.003),
            ident=2 + k,
            **_BATH,
        )
        for k, (date, depth, time, temperature, undercut) in enumerate(_JOBS)
    )
    entry = Entry(ident=7, kind="job", date=jobs[-1].date, record=jobs[-1])
    return history_png(*history_of(entry, ShopNumbers(etch=(coupon,), jobs=jobs)))
