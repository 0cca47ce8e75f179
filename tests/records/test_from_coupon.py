"""What a coupon told is filed under what the coupon was made of."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from jobmaker import make_job
from records.maker import etch, job_record, m
from stopout.coupons.layout import Identity
from stopout.errors import BookError
from stopout.job.shop_numbers import identity_of
from stopout.library.keeping import doubt_of
from stopout.records import clearing_record, etch_record, open_book
from stopout.values import Measured

IDENTITY = Identity(
    job="Valve tag",
    material="aluminium",
    resist="epoxy-two-part",
    colour="black",
    thickness_um=25.0,
    power_w=5.5,
    spot_x_mm=0.17,
    spot_y_mm=0.12,
    wavelength_nm=450.0,
    substrate="metal",
    etchant="sodium-hydroxide",
    strength_g_per_l=100.0,
    temperature_degc=40.0,
    agitation="tray",
    depth_mm=0.06,
    coupon_sha256="c" * 64,
)


SPOT, THRESHOLD = m(0.165, 0.003), m(0.030, 0.001)


@dataclass(frozen=True)
class Fit:
    spot_mm: Measured = SPOT
    threshold_j_per_mm: Measured = THRESHOLD
    correlation: float = 0.5
    speed_mm_s: float = 20.0
    conduction_w: Measured | None = None
    incubation: Measured | None = None
    passes_tested: int = 1
    line_dose_range_j_per_mm: tuple[float, float] = (0.03, 0.20)


def test_a_clearing_coupon_is_filed_under_machine_paint_and_material(tmp_path):
    across_y = Fit(spot_mm=m(0.118, 0.002), correlation=0.4, line_dose_range_j_per_mm=(0.04, 0.25))
    record = clearing_record(IDENTITY, Fit(), across_y, date="2026-11-26", scan_sha256="d" * 64)
    assert record.machine == identity_of(make_job(machine={"spot_mm": (0.17, 0.12)}).machine)
    assert (record.paint, record.colour, record.substrate) == ("epoxy-two-part", "black", "metal")
    assert record.spot_mm == (m(0.165, 0.003), m(0.118, 0.002))
    assert record.correlation == (0.5, 0.4)
    assert record.line_dose_range_j_per_mm == (0.04, 0.20)
    assert (record.scan_sha256, record.coupon_sha256) == ("d" * 64, "c" * 64)
    with open_book(tmp_path / "book.sqlite") as book:
        assert book.get(book.keep(record).ident).record == replace(record, ident=1)


def test_values_of_both_axes_are_averaged_by_their_errors():
    """Closed form: weights 1/0.01^2 and 1/0.02^2, mean (4 x 0.1 + 0.2) / 5, sd 0.01 sqrt(4/5)."""
    both = Fit(conduction_w=m(0.1, 0.01)), Fit(conduction_w=m(0.2, 0.02))
    record = clearing_record(IDENTITY, *both, date="2026-11-26")
    assert record.conduction_w.value == pytest.approx(0.12)
    assert record.conduction_w.sd == pytest.approx(0.01 * 0.8**0.5)
    one = clearing_record(IDENTITY, Fit(conduction_w=m(0.1, 0.01)), Fit(), date="2026-11-26")
    assert one.conduction_w == m(0.1, 0.01)


def test_passes_that_one_axis_has_burnt_are_known_for_both():
    """A coupon burns its lines of several passes along x alone; S is the paint's."""
    burnt = Fit(incubation=m(0.3, 0.02), passes_tested=4)
    for both in ((burnt, Fit()), (Fit(), burnt)):
        record = clearing_record(IDENTITY, *both, date="2026-11-26")
        assert (record.passes_tested, record.incubation) == (4, m(0.3, 0.02))


@pytest.mark.parametrize(("slip", "words"), [(1.0, ""), (1000.0, "forget 7"), (0.001, "forget 7")])
def test_a_slip_of_the_unit_is_said_of_whatever_tells_a_rate_or_a_factor(slip, words):
    """Aluminium in warm lye loses some micrometres a minute; the rate here is from memory."""
    coupon = etch(depth_mm=m(0.06 * slip), etch_factor=m(1.1 * slip), rate_um_per_min=m(2.3 * slip))
    made = job_record(depth_mm=m(0.06 * slip), time_s=1560.0, undercut_mm=m(0.055))
    for record in (coupon, made, replace(coupon, rate_um_per_min=None)):
        said = doubt_of(record, 7)
        assert words in said
        assert bool(said) is bool(words)


def test_an_etch_coupon_is_filed_under_metal_and_bath(tmp_path):
    record = etch_record(
        IDENTITY,
        depth_mm=m(0.06, 0.002),
        undercut_mm=m(0.05, 0.002),
        etch_factor=m(1.2, 0.06),
        date="2026-11-26",
        temperature_degc=41.0,
    )
    assert (record.material, record.etchant, record.agitation) == (
        "aluminium",
        "sodium-hydroxide",
        "tray",
    )
    assert record.temperature_degc == 41.0
    with open_book(tmp_path / "book.sqlite") as book:
        assert book.keep(record).is_new


@pytest.mark.parametrize("lacking", ["colour", "spot_x_mm", "thickness_um", "power_w"])
def test_a_coupon_that_does_not_say_what_it_is_of_is_not_filed(lacking):
    blank = {"colour": ""}.get(lacking)
    with pytest.raises(BookError, match=lacking):
        clearing_record(replace(IDENTITY, **{lacking: blank}), Fit(), Fit(), date="2026-11-26")


def test_two_speeds_are_refused():
    with pytest.raises(BookError, match="20 mm/s one way and at 40 mm/s the other"):
        clearing_record(IDENTITY, Fit(), Fit(speed_mm_s=40.0), date="2026-11-26")
