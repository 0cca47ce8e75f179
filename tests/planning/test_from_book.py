"""Plans with the shop's own numbers: what is taken, what is passed over, and that both are said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

import jobmaker
from jobmaker import LYE, mark
from jobmaker import plan as planned
from records.maker import MACHINE, clearing, etch, job_record, m
from stopout.job.book_mark import dose_ratios_from_book, mark_from_book
from stopout.job.record import Coat
from stopout.job.shop_numbers import MachineIdentity, ShopNumbers, identity_of
from stopout.library.knowledge import knowledge_for
from stopout.planning.book.numbers import with_shop_book
from stopout.values import Level, Measured

BAR = box(3, 3, 8, 6)
OPEN = {"clearing": {"mark_mm": None}}
BARE_LYE = replace(LYE, etch_factor=None)


def with_book(job, **entries):
    return with_shop_book(job, ShopNumbers(**entries), knowledge_for(job))


def findings(job, code):
    return [f for f in job.findings if f.code == code]


def make_job(**changes):
    """The demo's machine, whose coupons the book holds."""
    return jobmaker.make_job(**{**changes, "machine": {"spot_mm": (0.17, 0.12)}})


def no_mark(**changes):
    return make_job(**OPEN, **changes)


class TestTheMarkOfACalibration:
    """Facts' worked data for D^2 = 2 w^2 ln(q / q_th): w 0.060 mm, q_th 0.020 J/mm (derived)."""

    WORKED = (
        (0.022, 0.026196),
        (0.026, 0.043463),
        (0.032, 0.058172),
        (0.040, 0.070645),
        (0.050, 0.081224),
        (0.064, 0.091513),
        (0.080, 0.099907),
        (0.100, 0.107647),
    )
    ENTRY = clearing(spot_mm=(m(0.12), m(0.12)), threshold_j_per_mm=(m(0.020), m(0.020)))

    @pytest.mark.parametrize(("dose", "width"), WORKED)
    def test_is_the_worked_width(self, dose, width):
        x, y = mark_from_book(self.ENTRY, power_w=20 * dose, speed_mm_s=20, passes=1)
        assert (x.value, y.value) == pytest.approx((width, width), abs=6e-7)
        assert x.sd == 0

    def test_passes_add_by_the_measured_exponent(self):
        """q_th(1) 0.0200, q_th(4) 0.0165 give S = 0.8612 (derived), so r = 1.2121 at q = q_th."""
        entry = replace(self.ENTRY, incubation=m(0.8612), passes_tested=4)
        ratios = dose_ratios_from_book(entry, power_w=0.4, speed_mm_s=20, passes=4)
        assert ratios == pytest.approx((0.0200 / 0.0165,) * 2, rel=1e-4)

    def test_a_slower_line_loses_more_to_the_metal(self):
        """P_th = a v + b: at v the threshold line dose is a + b / v."""
        a, b = 0.018, 0.04
        entry = replace(
            self.ENTRY,
            threshold_j_per_mm=(m(a + b / 20), m(a + b / 20)),
            conduction_w=m(b),
            speed_mm_s=20,
        )
        for speed in (10, 20, 50):
            ratio, _ = dose_ratios_from_book(entry, power_w=2, speed_mm_s=speed, passes=1)
            assert ratio == pytest.approx(2 / speed / (a + b / speed))

    @pytest.mark.parametrize("correlation", [-0.6, 0.0, 0.7])
    def test_its_error_is_that_of_drawn_errors(self, correlation):
        w, w_sd, log_sd = 0.06, 0.001, 0.025
        entry = replace(
            self.ENTRY,
            spot_mm=(m(2 * w, 2 * w_sd), m(0.12)),
            threshold_j_per_mm=(m(0.020, 0.020 * log_sd), m(0.020)),
            correlation=(correlation, 0.0),
        )
        got, _ = mark_from_book(entry, power_w=1, speed_mm_s=20, passes=1)
        covariance = [
            [w_sd**2, correlation * w_sd * log_sd],
            [correlation * w_sd * log_sd, log_sd**2],
        ]
        rng = np.random.default_rng(7)
        dw, dlog = rng.multivariate_normal([0, 0], covariance, 200_000).T
        drawn = (w + dw) * np.sqrt(2 * (np.log(0.05 / 0.020) - dlog))
        assert got.sd == pytest.approx(drawn.std(), rel=0.01)

    def test_at_the_threshold_there_is_none(self):
        with pytest.raises(ValueError, match="threshold"):
            mark_from_book(self.ENTRY, power_w=0.4, speed_mm_s=20, passes=1)


class TestTheMark:
    def test_is_the_newest_fitting_coupons_and_the_plan_says_so_with_its_date(self):
        old = clearing(date="2026-05-01", spot_mm=(m(0.20), m(0.20)), ident=1)
        job = with_book(no_mark(), clearing=(clearing(ident=2), old))
        made = planned(BAR, job)
        # Closed form: 1.65 W at 20 mm/s is 0.0825 J/mm; D = w sqrt(2 ln(0.0825 / 0.030)).
        root = np.sqrt(2 * np.log(0.0825 / 0.030))
        got = made.coats[0].clearing.mark_mm
        assert [axis.value for axis in got] == pytest.approx([0.08 * root, 0.055 * root])
        assert got[0].sd > 0
        value = next(v for v in made.values if v.name == "mark")
        assert (value.kind, value.source) == (
            "measured",
            "shop book: clearing coupon 2 of 2026-11-20",
        )
        (note,) = [f for f in made.findings if f.code == "shop-book-used"]
        assert note.level is Level.NOTE
        assert "clearing coupon 2 of 2026-11-20" in note.message
        assert "coupon-needed" not in [f.code for f in made.findings]

    def test_of_two_coupons_of_one_day_the_one_kept_last_counts(self):
        job = with_book(no_mark(), clearing=(clearing(ident=5), clearing(ident=4)))
        assert "coupon 5" in job.coats[0].book_mark.source

    @pytest.mark.parametrize(
        "given",
        [
            {"clearing": {"mark_mm": mark(0.1)}},
            {"clearing": {"mark_mm": None, "dose_ratio": 2.0}},
            OPEN | {"coats": (Coat(paint="epoxy-two-part", mark_mm=mark(0.1)),)},
        ],
    )
    def test_given_values_come_first(self, given):
        job = make_job(**given)
        assert replace(with_book(job, clearing=(clearing(),)), findings=()) == job

    def test_a_given_mark_that_is_not_what_the_dose_makes_is_doubted(self):
        # As above, D = w sqrt(2 ln(0.0825 / 0.030)): 0.1138 x 0.0782 mm.
        kept = with_book(make_job(clearing={"mark_mm": mark(0.115, 0.077)}), clearing=(clearing(),))
        assert findings(kept, "mark-unlike-dose") == []
        kept = with_book(make_job(clearing={"mark_mm": mark(0.1)}), clearing=(clearing(),))
        (found,) = findings(kept, "mark-unlike-dose")
        assert found.level is Level.CAUTION
        assert "0.114 x 0.078 mm" in found.message
        # A tenth of the power clears nothing: the given mark stands, and is doubted.
        weak = make_job(clearing={"mark_mm": mark(0.1), "power": 0.03})
        (found,) = findings(with_book(weak, clearing=(clearing(),)), "mark-unlike-dose")
        assert "clears nothing" in found.message

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"colour": "white"}, "colour white, the job's is black"),
            ({"paint": "acrylic-lacquer"}, "paint acrylic-lacquer"),
            ({"material": "brass"}, "material brass, the job's is aluminium"),
            ({"finish": "anodised"}, "finish anodised, the job's is bare"),
            ({"thickness_um": 40.0}, "coat 40 um, the job's is"),
            ({"machine": replace(MACHINE, wavelength_nm=1064.0)}, "wavelength 1064 nm"),
            ({"machine": replace(MACHINE, power_w=10.0)}, "full power 10 W, the job's is 5.5 W"),
            ({"machine": replace(MACHINE, spot_mm=(0.08, 0.08))}, "spot 0.08 x 0.08 mm"),
            ({"speed_mm_s": 60.0}, "burnt at 60 mm/s, the job's is 20 mm/s"),
        ],
    )
    def test_a_coupon_of_something_else_is_not_used_and_a_note_names_the_difference(
        self, changes, words
    ):
        job = with_book(no_mark(), clearing=(clearing(**changes, ident=3),))
        assert job.coats[0].book_mark is None
        (note,) = findings(job, "shop-book-differs")
        assert note.level is Level.NOTE
        assert words in note.message
        assert "clearing coupon 3 of 2026-11-20" in note.message

    def test_several_passes_need_their_exponent(self):
        two = {"clearing": {"mark_mm": None, "passes": 2}}
        job = with_book(make_job(**two), clearing=(clearing(),))
        assert "how they add up was not measured" in findings(job, "shop-book-differs")[0].message
        entry = clearing(incubation=m(0.85), passes_tested=4)
        assert with_book(make_job(**two), clearing=(entry,)).coats[0].book_mark is not None

    def test_what_does_not_change_the_beam_does_not_change_the_machine(self):
        other = {
            "bed_mm": (600.0, 400.0),
            "step_mm": 0.01,
            "top_speed_mm_s": 200.0,
            "spot_mm": (0.165, 0.118),
        }
        job = with_book(no_mark(machine=other), clearing=(clearing(),))
        assert job.coats[0].book_mark is not None

    def test_a_spot_means_the_same_however_it_is_stated(self):
        machine = make_job().machine
        fwhm = tuple(w / 2 * np.sqrt(2 * np.log(2)) for w in machine.spot_mm)
        other = replace(machine, spot_mm=fwhm, spot_means="fwhm")
        assert identity_of(other).spot_mm == pytest.approx(identity_of(machine).spot_mm)
        assert isinstance(identity_of(other), MachineIdentity)

    def test_a_dose_under_the_measured_threshold_stops_the_plan(self):
        weak = make_job(clearing={"mark_mm": None, "power": 0.1})
        made = planned(BAR, with_book(weak, clearing=(clearing(),)))
        (stop,) = [f for f in made.findings if f.code == "dose-under-threshold"]
        # 0.55 W at 20 mm/s is 0.0275 J/mm, 0.92 of the threshold; 2.2 times that is twice it.
        assert "0.92 of what clears" in stop.message
        assert "2.2 times the dose" in stop.remedy
        assert made.is_stopped
        assert made.coats[0].program is None

    def test_a_dose_beyond_the_coupons_is_a_caution(self):
        near = with_book(no_mark(), clearing=(clearing(line_dose_range_j_per_mm=(0.03, 0.09)),))
        far = with_book(no_mark(), clearing=(clearing(line_dose_range_j_per_mm=(0.03, 0.08)),))
        assert findings(near, "mark-extrapolated") == []
        assert findings(far, "mark-extrapolated")[0].level is Level.CAUTION

    def test_without_entries_nothing_changes_and_nothing_is_said(self):
        job = no_mark(etch=BARE_LYE)
        assert with_book(job) == job


class TestTheEtch:
    def test_factor_and_rate_are_the_coupons_with_their_spread(self):
        job = with_book(make_job(etch=BARE_LYE), etch=(etch(ident=4),))
        made = planned(BAR, job)
        assert made.etch.etch_factor.value == pytest.approx(1.2)
        assert made.etch.etch_factor.sd == pytest.approx(0.06)
        assert made.etch.rate_um_per_min == pytest.approx(2.0)
        assert made.etch.time_s == pytest.approx(60 * 60 / 2.0)
        stated = {v.name: v for v in made.values}
        for name in ("etch factor", "etch rate"):
            assert stated[name].kind == "measured"
            assert stated[name].source == "shop book: etch coupon 4 of 2026-11-21"
        notes = [f.message for f in made.findings if f.code == "shop-book-used"]
        assert len(notes) == 2
        assert all("2026-11-21" in note for note in notes)

    def test_given_values_come_first(self):
        full = replace(LYE, rate_um_per_min=Measured(value=2.3))
        job = make_job(etch=full)
        assert with_book(job, etch=(etch(),)) == job
        half = with_book(make_job(etch=LYE), etch=(etch(),)).etch
        assert half.etch_factor == LYE.etch_factor
        assert half.rate_um_per_min.value == pytest.approx(2.0)
        assert half.etch_factor_source is None

    def test_job_records_teach_the_rate(self):
        """One coupon of 2.0 and three jobs of 2.4 um/min, equal errors: ln-mean (closed form)."""
        jobs = tuple(
            job_record(depth_mm=m(0.06, 0.003), time_s=1500.0, date="2026-11-21", ident=k)
            for k in (5, 6, 7)
        )
        job = with_book(make_job(etch=BARE_LYE), etch=(etch(),), jobs=jobs)
        assert job.etch.rate_um_per_min.value == pytest.approx((2.0 * 2.4**3) ** 0.25)
        assert "3 job records, the last of 2026-11-21; half-life 90 days" in job.etch.rate_source
        # None of the jobs has an undercut: the factor is the coupon's.
        assert job.etch.etch_factor.value == pytest.approx(1.2)

    def test_an_older_coupon_is_superseded_and_an_old_job_fades(self):
        entries = (etch(date="2026-01-01", etch_factor=m(3.0, 0.1)), etch(etch_factor=m(1.2, 0.06)))
        assert with_book(make_job(etch=BARE_LYE), etch=entries).etch.etch_factor.value == (
            pytest.approx(1.2)
        )
        rates = []
        for date in ("2026-11-20", "2026-03-01"):
            jobs = (job_record(time_s=900.0, date=date),)
            job = with_book(make_job(etch=BARE_LYE), etch=(etch(),), jobs=jobs)
            rates.append(job.etch.rate_um_per_min.value)
        assert 2.0 < rates[1] < rates[0] < 4.0

    def test_a_rate_is_carried_to_the_jobs_temperature(self):
        """46 kJ/mol between 35 and 40 degC: exp(46000/8.314462618 (1/308.15 - 1/313.15))."""
        cooler = etch(temperature_degc=35.0)
        job = with_book(make_job(etch=BARE_LYE), etch=(cooler,))
        factor = np.exp(46000 / 8.314462618 * (1 / 308.15 - 1 / 313.15))
        assert job.etch.rate_um_per_min.value == pytest.approx(2.0 * factor, rel=1e-4)

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"material": "brass"}, "material brass"),
            ({"etchant": "ferric-chloride"}, "etchant ferric-chloride"),
            ({"finish": "anodised"}, "finish anodised"),
            ({"agitation": "spray"}, "agitation spray, the job's is tray"),
            ({"strength_g_per_l": 50.0}, "50 g/L, the job's is 100 g/L"),
            ({"temperature_degc": 51.0}, "51 degC, the job's is 40 degC"),
            ({"depth_mm": m(0.2, 0.01)}, "depth 0.2 mm, the job's is 0.06 mm"),
        ],
    )
    def test_what_was_etched_otherwise_is_not_used_and_a_note_names_the_difference(
        self, changes, words
    ):
        for entries in (
            {"etch": (etch(**changes, ident=9),)},
            {"jobs": (job_record(**changes, ident=9),)},
        ):
            job = with_book(make_job(etch=BARE_LYE), **entries)
            assert job.etch == BARE_LYE
            (note,) = findings(job, "shop-book-differs")
            assert words in note.message
            assert " 9 of 2026-11-2" in note.message
