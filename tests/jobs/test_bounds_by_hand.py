"""What each number and text of the job file may be, written by hand beside the forms.

The forms are held to this table and not the table to the forms: a bound that is moved or dropped in
the one is noticed by the other. A square bracket takes its end, a round one does not. Nearly all of
these bounds are our own, and no instrument beside ours: an order of magnitude and more beyond what
such shops have, to catch a slip of the unit. The few that rest on a publication name it.
"""

from __future__ import annotations

import pytest

from jobs.test_every_range import KEYS, refusal
from stopout.jobs.forms import (
    Amount,
    Count,
    Dissolved,
    Figure,
    Listed,
    StrengthForm,
    TextForm,
    WithSpread,
    leaf_of,
)
from stopout.jobs.keys.definition import REQUIRED
from stopout.values import Measured

SIDE = "[1 mm, 10000 mm] | 5 mm .. 1500 mm"
ABOVE_0 = "(0 mm, 10000 mm] | any"
FROM_0 = "[0 mm, 10000 mm] | any"
ANYWHERE = "[-10000 mm, 10000 mm] | any"
BEAM = "[0.001 mm, 10 mm] | 0.01 mm .. 1 mm"
LETTER = "[0.2 mm, 1000 mm] | 1 mm .. 300 mm"
LINE = "[0.01 mm, 1000 mm] | 0.1 mm .. 50 mm"
DRY = "[1 um, 1000 um] | 3 um .. 300 um"
GAP = "[0 mm, 10000 mm] | 0 mm .. 50 mm"

# key | bounds | usual | default; then why.
NUMBERS = {
    # A run of a shop, not of a factory; a job without a piece is none.
    "job.quantity": "[1, 100000] | any | 1",
    "job.spares": "[0, 100000] | any | 0",
    # 10 m is beyond every bed; a face below 1 mm cannot be held.
    "artwork.width": f"{SIDE} | none",
    "artwork.height": f"{SIDE} | none",
    # A thousandth to a thousand times: drawings in um read as mm, or in m.
    "artwork.scale": "[0.1 %, 100000 %] | 5 % .. 2000 % | none",
    # 72 dpi: the old pixel of a screen. 100000 dpi is a quarter of a micrometre.
    "artwork.resolution": "[1 dpi, 100000 dpi] | 72 dpi .. 5000 dpi | none",
    "artwork.field": f"{ABOVE_0} | none",
    "artwork.position": f"{ANYWHERE} | centre",
    # At 0 and 100 % nothing or everything would be dark.
    "artwork.threshold": "(0 %, 100 %) | any | 50 %",
    "artwork.specks": f"{FROM_0} | auto",
    "artwork.page": "[1, 10000] | any | 1",
    # Below 0.2 mm of capital height no beam of this kind draws a stroke.
    "text.cap_height": f"{LETTER} | needed",
    "text.at": f"{ANYWHERE} | none",
    # Closer than a letter's width letters lie on each other.
    "text.letter_space": "[-10 mm, 100 mm] | -1 mm .. 20 mm | 0 mm",
    "text.line_space": f"{ABOVE_0} | none",
    "text.rotate": "[-360 deg, 360 deg] | any | 0 deg",
    "text.arc.radius": f"{ABOVE_0} | needed",
    "text.fit.width": f"{ABOVE_0} | needed",
    "text.fit.least": f"{LETTER} | none",
    "line.from": f"{ANYWHERE} | needed",
    "line.to": f"{ANYWHERE} | needed",
    "line.width": f"{LINE} | needed",
    "frame.width": f"{LINE} | none",
    "frame.margin": f"{FROM_0} | none",
    "frame.at": f"{ANYWHERE} | none",
    "frame.size": f"{ABOVE_0} | none",
    "frame.corner_size": f"{FROM_0} | 0 mm",
    "code.module": "[0.02 mm, 100 mm] | 0.1 mm .. 10 mm | needed",
    "code.height": f"{ABOVE_0} | none",
    "code.at": f"{ANYWHERE} | none",
    "series.count.number": "[1, 100000] | any | needed",
    "series.count.start": "[0, 1000000000] | any | 1",
    "series.count.step": "[1, 1000000] | any | 1",
    "series.count.digits": "[1, 12] | any | 1",
    "panel.size": "[5 mm, 10000 mm] | 20 mm .. 1500 mm | none",
    "panel.gap": f"{GAP} | 3 mm",
    "panel.margin": f"{GAP} | 5 mm",
    "panel.count": "[1, 1000] | any | none",
    "blank.width": f"{SIDE} | needed",
    "blank.height": f"{SIDE} | needed",
    "blank.corner_radius": f"{FROM_0} | 0 mm",
    # From foil to slab; a sheet is 0.05 to 50 mm.
    "blank.thickness": "[0.005 mm, 500 mm] | 0.05 mm .. 50 mm | needed",
    "blank.hole.at": f"{ANYWHERE} | needed",
    "blank.hole.diameter": "[0.01 mm, 10000 mm] | 0.3 mm .. 300 mm | needed",
    # Below a micrometre no stop to anything, above a millimetre no paint.
    "resist.thickness": f"{DRY} | none",
    "film.growth": "[0 mm, 1 mm] | 0 mm .. 0.1 mm | 0 mm",
    "film.smallest_opening": "[0.001 mm, 10 mm] | 0.02 mm .. 1 mm | 0.1 mm",
    # A4: 210 mm by 297 mm (ISO 216).
    "film.page": f"{SIDE} | 210 mm, 297 mm",
    "stencil.overrun": "[0 mm, 50 mm] | 0 mm .. 3 mm | 0.2 mm",
    "stencil.bridge": "[0.05 mm, 100 mm] | 0.3 mm .. 10 mm | 1 mm",
    "stencil.margin": f"{FROM_0} | 5 mm",
    "coat.thickness": f"{DRY} | none",
    "coat.power": "(0 %, 100 %] | 1 % .. 100 % | none",
    "coat.speed": "[0.01 mm/s, 10000 mm/s] | 0.5 mm/s .. 1000 mm/s | none",
    "coat.passes": "[1, 100] | 1 .. 20 | none",
    "coat.mark": f"{BEAM} | none",
    "registration.error": "[0 mm, 20 mm] | 0 mm .. 1 mm | needed",
    "registration.placing": f"{FROM_0} | 0.5 mm",
    "registration.mark.at": f"{ANYWHERE} | needed",
    # Denser by more than four times shows as a step of its own.
    "light.far": "(0, 4] | any | 2",
    # No optics of such a machine focus below a micrometre: of the order of the wavelength.
    "machine.spot": f"{BEAM} | none",
    # Ultraviolet C to far infrared (ISO 20473: 100 nm to 50 um); usual 190 nm to 11 um, between
    # excimer and carbon dioxide lasers (from memory).
    "machine.wavelength": "[100 nm, 20000 nm] | 190 nm .. 11000 nm | none",
    "machine.power": "[1 mW, 2000 W] | 0.1 W .. 200 W | needed",
    "machine.top_speed": "[0.1 mm/s, 20000 mm/s] | 5 mm/s .. 2000 mm/s | needed",
    # 1000000 mm/s2 is a hundred times standard gravity.
    "machine.acceleration": "[1 mm/s^2, 1000000 mm/s^2] | 20 mm/s^2 .. 50000 mm/s^2 | none",
    "machine.cornering": "(0 mm, 10 mm] | 0.0005 mm .. 1 mm | none",
    "machine.step": "[0.0001 mm, 1 mm] | 0.0005 mm .. 0.2 mm | none",
    "machine.bed": "[1 mm, 10000 mm] | 20 mm .. 3000 mm | needed",
    "machine.blank_at": f"{ANYWHERE} | none",
    "machine.power_word": "(0, 1000000] | any | needed",
    "machine.beam_lag": "[0 ms, 100 ms] | any | none",
    "machine.play": "[0 mm, 1 mm] | any | none",
    "machine.longest_line": "[50, 1000] | any | none",
    # 2 decimals are the coarsest that keep an edge to 0.01 mm, 6 are a nanometre.
    "machine.decimals": "[2, 6] | any | none",
    "machine.most_lines_per_second": "(0, 100000] | any | none",
    "machine.pointer": "[0 %, 100 %] | any | 0 %",
    "machine.keep_out.box": f"{ANYWHERE} | needed",
    "clearing.power": "(0 %, 100 %] | 1 % .. 100 % | none",
    "clearing.speed": "[0.01 mm/s, 10000 mm/s] | 0.5 mm/s .. 1000 mm/s | none",
    "clearing.passes": "[1, 100] | 1 .. 20 | 1",
    "clearing.mark": f"{BEAM} | none",
    # At the threshold itself, 1, the mark has no width: w = d sqrt(ln(ratio) / 2).
    "clearing.dose_ratio": "(1.01, 200] | 1.15 .. 20 | none",
    "clearing.spacing": "(0 mm, 10 mm] | 0.002 mm .. 0.5 mm | auto",
    "clearing.focus_step": "(0 mm, 2 mm] | 0.02 mm .. 1 mm | none",
    # Of water at one atmosphere: it freezes at 0 degC and boils at 100 degC.
    "etch.temperature": "(0 degC, 100 degC) | 5 degC .. 95 degC | needed",
    "etch.depth": "[1 um, 20 mm] | 0.005 mm .. 1 mm | needed",
    "etch.etch_factor": "(0.05, 100] | 0.3 .. 10 | none",
    "etch.rate": "[0.001 um/min, 2000 um/min] | 0.05 um/min .. 200 um/min | none",
    # No more than between water's freezing and boiling.
    "etch.rise": "(0 K, 100 K] | 1 K .. 40 K | none",
    "etch.current": "[1 mA, 1000 A] | 0.05 A .. 100 A | none",
    "etch.current_density": "[0.1 mA/cm^2, 10 A/cm^2] | 5 mA/cm^2 .. 1 A/cm^2 | none",
    "etch.voltage": "(0 V, 1000 V] | any | none",
    # Above 1 where metal also dissolves by itself or by grains.
    "etch.efficiency": "(0, 1.5] | any | none",
    "bath.dissolved": "[0 g/L, 500 g/L] | any | 0 g/L",
    "bath.volume": "[1 mL, 10000 L] | 50 mL .. 500 L | none",
    "bath.tray": f"{SIDE} | none",
    "bath.plates_at_once": "[1, 1000] | any | none",
    # One square metre.
    "bath.coupon_area": "[0 mm^2, 1000000 mm^2] | any | 0 mm^2",
    "limits.edge_tolerance": "[0 mm, 10 mm] | 0 mm .. 0.3 mm | 0.05 mm",
    "limits.narrowest_land": "[0 mm, 50 mm] | 0 mm .. 2 mm | 0.15 mm",
    # From 0.1 m, the near point of a young eye (from memory), to 50 m.
    "limits.viewing_distance": "(0 cm, 100000 cm] | 10 cm .. 5000 cm | none",
    "budget.time": "[1 s, 24 h] | any | 120 s",
    "budget.memory": "[256 MiB, 1024 GiB] | any | 4 GiB",
}
# Strengths: a bath may not be stronger than pure, nor denser than 85 degBe makes it (2.4 g/mL).
STRENGTHS = {
    "etch.strength": ("(0 g/L, 2000 g/L]", "(0 %, 100 %]", "(0 degBe, 85 degBe]"),
    "bath.stock": ("(0 g/L, 2000 g/L]", "(0 %, 100 %]", "(0 degBe, 85 degBe]"),
}
# A deviation as large as the value, of an etch factor half as large, says that nothing is known.
LARGEST_DEVIATION = {
    "coat.mark": 1.0,
    "clearing.mark": 1.0,
    "machine.beam_lag": 1.0,
    "machine.play": 1.0,
    "etch.etch_factor": 0.5,
    "etch.rate": 1.0,
    "etch.efficiency": 1.0,
}
# Characters of a text, texts of a list: what a sheet's title, a comment or a file's name holds.
LONGEST = {
    "job.name": 120, "job.revision": 20, "artwork.file": 1000, "artwork.fonts": 50,
    "artwork.leave_out": 50, "text.as": 60, "text.words": 2000, "text.font": 255, "line.as": 60,
    "frame.as": 60, "code.as": 60, "code.content": 2000, "series.rows": 1000, "series.key": 60,
    "blank.outline": 1000, "resist.colour": 120, "coat.colour": 120, "machine.name": 60,
    "machine.beam_on": 40, "machine.air_on": 40, "machine.air_off": 40, "machine.beam_off": 40,
    "bath.id": 120, "limits.name": 60, "tables.file": 1000,
}  # fmt: skip
# One of each unit in that of the record, which is mm, s, W, A, L, and ms of a lag, nm of a
# wavelength, GiB of memory: SI Brochure (2019), tables 2, 4, 7; 1 GiB = 1024 MiB (IEC 80000-13).
SIZES = {
    "": 1, "mm": 1, "um": 1e-3, "cm": 10, "nm": 1, "%": 0.01, "dpi": 1, "deg": 1, "mm/s": 1,
    "mm/s^2": 1, "W": 1, "mW": 1e-3, "ms": 1, "degC": 1, "um/min": 1, "K": 1, "A": 1, "mA": 1e-3,
    "A/cm^2": 1, "mA/cm^2": 1e-3, "V": 1, "L": 1, "mL": 1e-3, "mm^2": 1, "s": 1, "h": 3600,
    "MiB": 1 / 1024, "GiB": 1, "g/L": 1, "degBe": 1,
}  # fmt: skip


def ends(bounds):
    """Each end of an interval: number, unit, whether it is taken, which way lies outside."""
    low, high = bounds[1:-1].split(", ")
    for text, is_taken, way in ((low, bounds[0] == "[", -1), (high, bounds[-1] == "]", 1)):
        number, _, unit = text.partition(" ")
        yield float(number), unit, is_taken, way


def written(number, unit):
    """As a job file writes it."""
    if unit:
        return f"{number:.9f} {unit}"
    return int(number) if float(number).is_integer() else number


def held_to(read, bounds, *, whole=False):
    """Assert that what is read is what lies within the bounds, ends and a thousandth beyond."""
    for number, unit, is_taken, way in ends(bounds):
        step = 1 if whole else max(abs(number) * 1e-3, 1e-6)
        assert (read(written(number, unit)) == "") == is_taken, (number, unit)
        assert read(written(number + way * step, unit)), (number, unit)
        assert not read(written(number - way * step, unit)), (number, unit)


def shown_default(key):
    if key.default is REQUIRED:
        return "needed"
    if isinstance(key.default, list):
        return ", ".join(key.default)
    return "none" if key.default is None else str(key.default)


def of_table(table):
    return [name for name in NUMBERS if name.rpartition(".")[0] == table]


def test_every_number_and_text_of_the_job_file_has_its_row():
    kinds = (Amount, Count, Figure, Dissolved)
    assert set(NUMBERS) == {name for name, key in KEYS.items() if type(leaf_of(key.form)) in kinds}
    strengths = {name for name, key in KEYS.items() if isinstance(key.form, StrengthForm)}
    assert set(STRENGTHS) == strengths
    texts = {name for name, key in KEYS.items() if isinstance(key.form, TextForm | Listed)}
    assert set(LONGEST) == texts
    spread = {name for name, key in KEYS.items() if spread_of(key.form) is not None}
    assert set(LARGEST_DEVIATION) == spread


def spread_of(form):
    """The form of a value with its spread, maybe one per axis."""
    while form is not None and not isinstance(form, WithSpread):
        form = getattr(form, "each", None)
    return form


@pytest.mark.parametrize("table", sorted({name.rpartition(".")[0] for name in NUMBERS}))
def test_a_number_is_taken_within_its_bounds_and_told_beyond_its_usual_range(table):
    for name in of_table(table):
        bounds, usual, default = NUMBERS[name].split(" | ")
        form = leaf_of(KEYS[name].form)
        held_to(lambda value, form=form: refusal(form, value), bounds, whole=type(form) is Count)
        number, unit, _, _ = list(ends(bounds))[1]
        assert form.read(written(number / 2, unit)) == pytest.approx(number / 2 * SIZES[unit]), name
        assert shown_default(KEYS[name]) == default, name
        if usual == "any":
            assert getattr(form, "usual", None) is None, name
            continue
        for end, outwards in zip(usual.split(" .. "), (0.99, 1.01), strict=True):
            number, _, unit = end.partition(" ")
            value = form.read(written(float(number), unit))
            beyond = value * (outwards if value > 0 else 2.0 - outwards)
            assert form.is_usual(value), (name, end)
            assert value == 0 or not form.is_usual(beyond), (name, end)


@pytest.mark.parametrize("name", STRENGTHS)
def test_a_strength_is_taken_up_to_what_a_bath_can_be(name):
    for bounds in STRENGTHS[name]:
        held_to(lambda value: refusal(KEYS[name].form, value), bounds)


@pytest.mark.parametrize("name", LARGEST_DEVIATION)
def test_a_deviation_stays_below_its_share_of_the_value(name):
    form = spread_of(KEYS[name].form)
    unit = {"machine.beam_lag": "ms", "etch.rate": "um/min"}.get(name, "mm")
    is_figure = isinstance(form.each, Figure)

    def pair(share):
        return [1.0, share] if is_figure else ["1 " + unit, f"{share:.6f} {unit}"]

    share = LARGEST_DEVIATION[name]
    assert refusal(form, pair(share))
    for inside in (0.999 * share, 0.0):
        read = form.read([0.0 if one == 0 else one for one in pair(inside)])
        assert isinstance(read, Measured)
        assert read.sd == pytest.approx(inside * read.value, abs=1e-12)


def test_a_text_or_a_list_is_taken_up_to_its_length():
    for name, most in LONGEST.items():
        form = KEYS[name].form
        whole = ["a.ttf"] if isinstance(form, Listed) else "x"
        assert f"at most {most} " in refusal(form, whole * (most + 1)), name
        assert "at most" not in refusal(form, whole * most), name
