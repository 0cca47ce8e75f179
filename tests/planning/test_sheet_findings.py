"""What each clear sheet does under each beam, and how it shows its back."""

from __future__ import annotations

import dataclasses

import pytest

from jobmaker import make_job
from stopout.etching import refusals
from stopout.job.record import Blank, Coat, Shows
from stopout.planning.findings.clear_sheet import sheet_findings
from stopout.tables import load_material, load_refusals
from stopout.values import Level


def found(material, wavelength_nm, *, side="back"):
    """The findings of a 3 mm sheet under a beam, by code."""
    job = make_job(
        blank=Blank(
            material=material,
            width_mm=16.0,
            height_mm=10.0,
            thickness_mm=3.0,
            worked_side=side,
        ),
        coats=(
            Coat(paint="acrylic-lacquer", shows=Shows(kind="rest")),
            Coat(paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="dark")),
        ),
        etch=None,
    )
    machine = dataclasses.replace(job.machine, wavelength_nm=wavelength_nm)
    job = dataclasses.replace(job, machine=machine)
    return {item.code: item for item in sheet_findings(job, load_material(material))}


# Acrylic: a sheet maker's note (visible), an encyclopaedia (2.8 to 25 um); polycarbonate at
# 10.6 um: a university's list for laser cutters; glass: a photonics dictionary; the
# rest from memory.
@pytest.mark.parametrize(
    ("material", "wavelength_nm", "code", "level"),
    [
        ("acrylic-cast", 450.0, "beam-passes", Level.CAUTION),
        ("acrylic-cast", 1064.0, "beam-passes", Level.CAUTION),
        ("acrylic-cast", 10600.0, "beam-marks", Level.CAUTION),
        ("acrylic-extruded", 10600.0, "beam-marks", Level.CAUTION),
        ("polycarbonate", 450.0, "beam-passes", Level.CAUTION),
        ("polycarbonate", 10600.0, "beam-harms", Level.STOP),
        ("petg", 10600.0, "beam-marks", Level.CAUTION),
        ("polystyrene", 10600.0, "beam-harms", Level.STOP),
        ("glass", 450.0, "beam-passes", Level.CAUTION),
        ("glass", 10600.0, "beam-marks", Level.CAUTION),
        ("acrylic-cast", 355.0, "beam-untried", Level.CAUTION),
        ("acrylic-cast", 2000.0, "beam-untried", Level.CAUTION),
    ],
)
def test_each_sheet_says_what_this_beam_does_to_it(material, wavelength_nm, code, level):
    findings = found(material, wavelength_nm)
    assert {name for name in findings if name.startswith("beam-")} == {code}
    assert findings[code].level == level


def test_the_look_through_3_mm_of_acrylic_is_told():
    # Snell's law worked apart: 3 / 1.49 = 2.01; 3 tan(asin(sin 45 / 1.49)) = 1.62.
    message = found("acrylic-cast", 450.0)["seen-through"].message
    assert "2.01 mm deep" in message
    assert "1.62 mm" in message


def test_a_piece_worked_on_its_front_is_not_looked_through():
    assert found("acrylic-cast", 450.0, side="front") == {}


@pytest.mark.parametrize("material", ["polycarbonate", "petg", "polystyrene"])
def test_solvent_paint_on_a_plastic_that_it_attacks_has_a_rule(material):
    rules = [rule for rule in load_refusals() if material in rule.materials]
    for paint in ("acrylic-lacquer", "alkyd-enamel", "epoxy-two-part"):
        assert any(paint in rule.resists for rule in rules)


@pytest.mark.parametrize("paint", ["acrylic-lacquer", "epoxy-two-part"])
def test_paint_not_meant_for_polycarbonate_is_a_caution(paint):
    """A sheet maker's table of resistance: amines, ketones and aromatics attack polycarbonate."""
    found = refusals(
        load_refusals(),
        material_id="polycarbonate",
        etchant_id=None,
        strength_g_per_l=None,
        resist_ids=(paint, paint),
    )
    assert [(f.code, f.level) for f in found] == [("solvent-paint-on-polycarbonate", Level.CAUTION)]
    assert "sold for polycarbonate" in found[0].remedy
