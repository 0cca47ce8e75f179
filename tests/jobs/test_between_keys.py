"""What of the job file's keys bounds, needs or excludes what, written by hand beside the checks."""

from __future__ import annotations

import json

import pytest

from jobs.test_every_key import BASES, parsed
from stopout.errors import JobError

COATS = BASES["sign"]["coat"]
TEXT = {"words": "A", "cap_height": "5 mm"}
FIELD = {"words": "A {tag}", "cap_height": "5 mm"}
GONE = object()


def changed(base, changes):
    """A base with keys set, or taken out, by their dotted names."""
    data = json.loads(json.dumps(BASES[base]))
    for name, value in changes.items():
        *tables, key = name.split(".")
        inner = data
        for table in tables:
            inner = inner[int(table)] if isinstance(inner, list) else inner.setdefault(table, {})
        if value is GONE:
            del inner[key]
        else:
            inner[key] = value
    return data


def told(base, changes):
    """The keys at which a job is wrong, or seems so."""
    try:
        job = parsed(changed(base, changes))
    except JobError as error:
        return {mistake.field for mistake in error.mistakes}
    return {one.message.split()[0] for one in job.findings if one.code == "value-unusual"}


# Base, what is changed, the keys that are told: no more and no fewer.
TOLD = [
    # What excludes what.
    ("plate", {"artwork.height": "50 mm"}, {"artwork.height"}),
    ("plate", {"artwork.width": GONE, "artwork.scale": "90 %", "artwork.height": "50 mm"},
     {"artwork.height"}),
    ("plate", {"artwork.width": GONE, "artwork.resolution": "600 dpi"}, {"artwork.resolution"}),
    ("plate", {"artwork.width": GONE, "artwork.resolution": "600 dpi", "artwork.file": "a.PDF"},
     {"artwork.resolution"}),
    ("plate", {"artwork.width": GONE, "artwork.resolution": "600 dpi", "artwork.file": "a.dxf"},
     {"artwork.resolution"}),
    ("plate", {"artwork.width": GONE, "artwork.resolution": "600 dpi", "artwork.file": "a.png"},
     set()),
    ("plate", {"blank.outline": "edge.svg"}, {"blank.outline"}),
    ("plate", {"machine.emitter": "blue-diode"}, {"machine.emitter"}),
    ("plate", {"clearing.dose_ratio": 2.0}, {"clearing.dose_ratio"}),
    ("current", {"etch.current": "2 A", "etch.current_density": "0.1 A/cm^2"},
     {"etch.current_density"}),
    ("set", {"frame.0.at": ["1 mm", "1 mm"]}, {"frame[1].margin"}),
    ("set", {"frame.0.size": ["9 mm", "9 mm"]}, {"frame[1].margin"}),
    ("series", {"series.rows": "tags.csv"}, {"series.count"}),
    ("series", {"panel.count": [2, 2], "panel.fill": True}, {"panel.fill"}),
    ("series", {"panel.count": [2, 2], "panel.fill": False}, set()),
    ("plate", {"resist.method": "printed-film"}, {"film"}),
    # What needs what.
    ("plate", {"artwork.dark": "raised"}, {"artwork.field"}),
    ("plate", {"machine.wavelength": GONE}, {"machine.wavelength"}),
    ("plate", {"machine.spot": GONE}, {"machine.spot"}),
    ("plate", {"machine.spot_means": GONE}, {"machine.spot_means"}),
    ("plate", {"machine.air_on": "M8"}, {"machine.air_off"}),
    ("plate", {"machine.air_off": "M9"}, {"machine.air_on"}),
    ("plate", {"machine.air_on": "M8", "machine.air_off": "M08"}, {"machine"}),
    ("plate", {"machine.beam_on": "M105", "machine.beam_off": "M105"}, {"machine"}),
    ("plate", {"clearing.power": GONE}, {"clearing.power"}),
    ("plate", {"clearing.speed": GONE}, {"clearing.speed"}),
    ("plate", {"clearing.speed": GONE, "clearing.power": GONE, "clearing.mark": GONE}, set()),
    ("light", {"clearing.speed": GONE}, {"clearing.speed"}),
    ("plate", {"clearing.focus_step": "0.2 mm"}, {"clearing.focus_step"}),
    ("sign", {"clearing.focus_step": "0.2 mm", "coat.1.passes": 2}, set()),
    ("current", {"etch.electrolyte": GONE}, {"etch.electrolyte"}),
    ("current", {"etch.rate": "2 um/min"}, {"etch.rate"}),
    ("set", {"frame.0.margin": GONE}, {"frame[1].margin"}),
    ("set", {"frame.0.margin": GONE, "frame.0.at": ["1 mm", "1 mm"]}, {"frame[1].size"}),
    ("set", {"frame.0.margin": GONE, "frame.0.size": ["9 mm", "9 mm"]}, {"frame[1].at"}),
    ("set", {"frame.0.corner": "round"}, {"frame[1].corner_size"}),
    ("set", {"code.0.height": "7 mm"}, {"code[1].height"}),
    ("series", {"series": {}}, {"series.rows"}),
    ("plate", {"text": [FIELD]}, {"series"}),
    ("plate", {"code": [{"content": "{tag}", "module": "0.4 mm"}]}, {"series"}),
    ("plate", {"text": [TEXT | {"words": "A {{tag}}"}]}, set()),
    # What has no place in a job of another kind.
    ("plate", {"etch.current": "2 A"}, {"etch.current"}),
    ("plate", {"etch.chromate_acknowledged": True}, {"etch.chromate_acknowledged"}),
    ("plate", {"film": {"resist_acts": "negative"}}, {"film"}),
    ("plate", {"stencil": {}}, {"stencil"}),
    ("plate", {"light": {"edge": "left"}, "clearing.spacing": "auto"}, {"light"}),
    ("plate", {"text": [TEXT | {"as": "gold"}]}, {"text[1].as"}),
    ("plate", {"text": [TEXT | {"as": "raised"}]}, set()),
    ("sign", {"text": [TEXT | {"as": "raised"}]}, {"text[1].as"}),
    ("sign", {"text": [TEXT | {"as": "Ivory"}]}, set()),
    ("sign", {"artwork.dark": "raised", "artwork.field": "4 mm"}, {"artwork.dark"}),
    ("sign", {"resist": "epoxy-two-part"}, {"resist"}),
    ("sign", {"bath": {"volume": "2 L"}}, {"bath"}),
    ("sign", {"coat": COATS[:1]}, {"coat[1]"}),
    ("sign", {"coat": [COATS[1], COATS[1] | {"colour": "red"}]}, {"coat[2].shows"}),
    ("sign", {"coat": [COATS[0] | {"colour": "clear"}, COATS[1]]}, {"coat[1].colour"}),
    ("sign", {"coat.1.paint": GONE}, {"coat[2].paint"}),
    ("sign", {"coat.1.paint": GONE, "coat.1.colour": "clear"}, set()),
    ("sign", {"stencil": {}}, {"machine", "clearing"}),
    ("light", {"clearing.spacing": "0.05 mm"}, {"clearing.spacing"}),
    ("light", {"clearing.line_direction": "x"}, {"clearing.line_direction"}),
    ("light", {"coat": COATS}, {"coat"}),
    ("light", {"coat": COATS[:1]}, {"coat"}),
    ("light", {"registration": {"error": "0.1 mm"}}, {"registration"}),
    ("light", {"series": {"count": {"number": 3}}}, {"series"}),
    ("light", {"panel": {}}, {"panel"}),
    ("series", {"job.quantity": 3}, {"job.quantity"}),
    ("sign", {"panel": {"cut_marks": True}}, {"panel.cut_marks"}),
    ("series", {"panel.cut_marks": True}, set()),
    # What no table knows, or not together.
    ("plate", {"blank.material": "cheese"}, {"blank.material"}),
    ("plate", {"blank.material": "cheese", "tables": {"file": "ours.toml"}}, set()),
    ("plate", {"resist.paint": "unheard-of"}, {"resist.paint"}),
    ("plate", {"etch.etchant": "unheard-of"}, {"etch.etchant"}),
    ("sign", {"coat.1.paint": "unheard-of"}, {"coat[2].paint"}),
]  # fmt: skip

# A line at dose ratio r clears w sqrt(ln(r) / 2) of a spot of full 1/e2 width w (Liu, Opt. Lett. 7
# (1982) 196, from memory): at 1.01, 1.15, 20 and 3000 times the threshold 0.0705, 0.2643, 1.2239
# and 2.0008 w.
# The spot is 0.12 mm wide along y. One of 0.1 mm full width at half maximum is 0.1699 mm wide at
# 1/e2: the ratio is sqrt(2 / ln 2) = 1.699 for a Gaussian beam.
MARK = "clearing.mark"
HALF = {"machine.spot": "0.1 mm", "machine.spot_means": "fwhm"}
# Base, key, the value at the bound or just within, just beyond; what else is changed.
BOUNDS = [
    ("plate", "artwork.field", "29.9 mm", "30 mm", {"artwork.dark": "raised"}),
    ("plate", "blank.corner_radius", "30 mm", "30.1 mm", {"blank.hole": []}),
    # Along the diagonal a hole may come within (30 - 1.7) / sqrt(2) = 20.01 mm of the arc's middle.
    ("plate", "blank.hole.0.at", ["10.1 mm", "10.1 mm"], ["9.9 mm", "9.9 mm"],
     {"blank.corner_radius": "30 mm", "blank.hole": [{"at": 0, "diameter": "3.4 mm"}]}),
    ("plate", "blank.hole.0.at", ["98.2 mm", "30 mm"], ["98.31 mm", "30 mm"], {}),
    ("plate", "blank.hole.0.at", ["50 mm", "58.2 mm"], ["50 mm", "58.31 mm"], {}),
    ("plate", "machine.step", "0.1 mm", "0.121 mm", {"clearing.spacing": "auto"}),
    ("plate", "clearing.speed", "100 mm/s", "100.1 mm/s", {}),
    ("sign", "coat.1.speed", "100 mm/s", "100.1 mm/s", {}),
    ("plate", "clearing.spacing", "0.0125 mm", "0.0124 mm", {}),
    ("printed", "film.smallest_opening", "0.041 mm", "0.04 mm", {"film.growth": "0.02 mm"}),
    ("light", "light.far", 1.0, 0.99, {}),
    # The first that touches, and the first that does not, of four sides.
    ("plate", "machine.keep_out.0.box", ["0 mm", "0 mm", "1 mm", "1 mm"],
     ["1 mm", "0 mm", "1 mm", "1 mm"], {}),
    ("plate", "machine.keep_out.0.box", ["0 mm", "0 mm", "1 mm", "1 mm"],
     ["0 mm", "1 mm", "1 mm", "1 mm"], {}),
    # Twice and 20 times the blank; a twentieth of its smaller side; half its thickness.
    ("plate", "artwork.width", "200 mm", "201 mm", {}),
    ("sign", "artwork.height", "240 mm", "241 mm", {}),
    ("plate", "etch.depth", "0.75 mm", "0.76 mm", {}),
    ("plate", MARK, ["0.1 mm", "0.0318 mm"], ["0.1 mm", "0.0316 mm"], {}),
    ("plate", MARK, ["0.1 mm", "0.1468 mm"], ["0.1 mm", "0.1470 mm"], {}),
    ("plate", MARK, "0.2078 mm", "0.2080 mm", HALF),
    ("plate", MARK, "0.0451 mm", "0.0447 mm", HALF),
]  # fmt: skip
REFUSED = [
    ("plate", "limits.edge_tolerance", "3 mm", "3.01 mm"),
    ("plate", "artwork.width", "2000 mm", "2001 mm"),
    ("plate", MARK, ["0.1 mm", "0.0085 mm"], ["0.1 mm", "0.0084 mm"]),
    ("plate", MARK, ["0.1 mm", "0.2400 mm"], ["0.1 mm", "0.2402 mm"]),
    ("sign", "coat.1.mark", "0.3001 mm", "0.3002 mm"),
]


@pytest.mark.parametrize(("base", "changes", "fields"), TOLD)
def test_what_goes_with_what_is_told_at_the_key_that_is_wrong(base, changes, fields):
    assert told(base, changes) == fields


@pytest.mark.parametrize(("base", "key", "within", "beyond", "also"), BOUNDS)
def test_a_key_is_bounded_by_others(base, key, within, beyond, also):
    assert told(base, also | {key: within}) == set()
    assert told(base, also | {key: beyond}) != set()


@pytest.mark.parametrize(("base", "key", "within", "beyond"), REFUSED)
def test_what_cannot_be_together_is_refused(base, key, within, beyond):
    parsed(changed(base, {key: within}))
    with pytest.raises(JobError):
        parsed(changed(base, {key: beyond}))
