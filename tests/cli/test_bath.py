"""`stopout bath`: the table, the JSON, the formulas, and mistakes in one sentence."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from stopout.cli.app import app

PANEL = (
    "bath --material aluminium --etchant sodium-hydroxide --area 24cm^2 --edge 0mm --depth 0.15mm "
    "--strength 100g/L --temperature 40degC --rate 4um/min --etch-factor 100 --size 100mm,60mm"
)


def run(words, *more):
    return CliRunner().invoke(app, [*words.split(), *more])


def data(words, *more):
    done = run(words, "--json", *more)
    assert done.exit_code in (0, 1), done.output
    return json.loads(done.stdout)


def test_the_worked_panel_as_json():
    # The worked aluminium panel: see tests/reference/test_etch_worked_panel.py for its sources.
    found = data(PANEL)
    assert found["metal_removed_g"] == pytest.approx(0.9720, rel=1e-3)
    assert found["gas_l"] == pytest.approx(1.3220, rel=1e-3)
    assert found["heat_kj"] == pytest.approx(14.954, rel=1e-3)
    assert found["bath_l"] == pytest.approx(0.3576, rel=1e-3)
    assert found["reagent_g"] == pytest.approx(1.4409, rel=2e-3)
    assert found["time_s"] == pytest.approx(2250.0)
    assert found["air_l_per_min"] == pytest.approx(3.490, rel=1e-2)
    assert found["ventilation_l_per_min"] == pytest.approx(34.9, rel=1e-2)
    assert found["bath"]["decided_by"] == "heat"
    assert [check["what"] for check in found["checks"]] == ["look", "measure", "lift"]
    assert found["neutralisers"][0]["amount_g"] == pytest.approx(32.60, rel=3e-3)


def test_the_table_says_what_to_pour_when_to_look_and_where_it_goes():
    text = run(PANEL).stdout
    for words in (
        "37 min 30 s",
        "0.972 g: weigh before and after",
        "0.358 L, decided by the heat",
        "INTO",
        "never water onto it",
        "look at 50 %",
        "measure at 80 %",
        "safety factor 10",
        "licensed waste carrier",
    ):
        assert words in " ".join(text.split()), words


def test_every_formula_is_printed_with_its_numbers():
    text = " ".join(run(PANEL, "--explain").stdout.split())
    for words in (
        "time = depth / rate = 150 um / 4 um/min = 37.5 min",
        "x 415.1 kJ/mol = 14.95 kJ",
        "(4.182 kJ/(L K) x 10 K)",
        "time x -ln(1 - x)/x",
        "x 0.15",
    ):
        assert words in text, words
    formulas = data(PANEL, "--explain")["formulas"]
    assert {"what", "formula", "numbers", "result"} == set(formulas[0])


def test_the_time_left_is_corrected_by_a_measured_depth():
    done = run(PANEL, "--measured-depth", "0.04mm", "--after", "15min")
    # 15 min x (150 - 40) / 40 = 41.25 min.
    assert "41 min 15 s" in " ".join(done.stdout.split())
    found = data(PANEL, "--measured-depth", "0.04mm", "--after", "15min")
    assert found["remaining"]["remaining_s"] == pytest.approx(2475.0)


def test_a_loss_of_weight_is_a_mean_depth():
    assert data(PANEL, "--loss", "0.648g")["mean_depth_mm"] == pytest.approx(0.1, rel=5e-3)


def test_batches_spares_and_a_used_bath_go_in():
    found = data(
        f"{PANEL} --quantity 5 --spares 1 --tray 280mm,180mm --dissolved 4g/L "
        "--resist epoxy-two-part"
    )
    assert [batch["pieces"] for batch in found["batches"]] == [4, 2]
    assert found["bath"]["start_g_per_l"] == 4.0
    assert found["bath"]["pieces"] == 6


def test_a_current_needs_no_reagent_and_tells_the_supply():
    text = run(
        "bath --material mild-steel --etchant electrolytic --electrolyte sodium-chloride "
        "--area 24cm^2 --depth 0.15mm --current 4.8A --efficiency 0.9 --etch-factor 100"
    ).stdout
    assert "37 min 46 s" in text
    assert "6 A at up to" in " ".join(text.split())


def test_a_refused_bath_gives_no_recipe_and_status_1():
    words = "bath --material aluminium --etchant ferric-chloride --area 24cm^2 --depth 0.1mm"
    done = run(f"{words} --strength 42degBe")
    assert done.exit_code == 1
    assert "runs away" in done.stderr
    assert done.stdout == ""
    assert "bath_l" not in data(f"{words} --strength 42degBe")


def test_stainless_in_brine_stops_until_chromate_is_acknowledged():
    words = (
        "bath --material stainless-304 --etchant electrolytic --electrolyte sodium-chloride "
        "--area 24cm^2 --depth 0.05mm"
    )
    done = run(words)
    assert (done.exit_code, done.stdout) == (1, "")
    assert "chromate" in done.stderr
    assert run(words, "--chromate-acknowledged").exit_code == 0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (("--area", "24"), "--area"),
        (("--area", "0mm^2"), "more than nothing"),
        (("--depth", "-1mm"), "more than nothing"),
        (("--strength", "nonsense"), "--strength"),
        (("--tray", "200mm"), "60mm,40mm"),
        (("--quantity", "0"), "whole number"),
        (("--agitation", "stirred"), "none of tray"),
        (("--after", "15min"), "go together"),
        (("--measured-depth", "0mm", "--after", "5min"), "more than nothing"),
        (("--dissolved", "5%"), "6g/L"),
        (("--electrolyte", "sodium-chloride"), "--etchant electrolytic"),
        (("--current", "2A"), "--etchant electrolytic"),
        (("--material", "unobtainium"), "unobtainium"),
        (("--etchant", "electrolytic"), "--electrolyte is missing"),
    ],
)
def test_a_mistake_is_one_sentence_with_what_would_be_right(changes, words):
    from stopout.errors import StopoutError

    done = run(PANEL, *changes)
    assert isinstance(done.exception, StopoutError), done.exception
    assert words in str(done.exception)


def test_a_resist_that_would_not_last_is_told_with_what_to_do_instead():
    words = (
        "bath --material aluminium --etchant sodium-hydroxide --area 24cm^2 --depth 0.05mm "
        "--temperature 25degC --resist acrylic-lacquer"
    )
    found = {f["code"]: f for f in data(words)["findings"]}
    assert found["resist-time"]["level"] == "stop"
    assert "two-part epoxy" in found["resist-time"]["remedy"]


def test_what_can_hurt_stands_with_the_numbers():
    text = " ".join(run(PANEL).stdout.split())
    for words in ("can blind", "never: Acids", "safety data sheet, local codes and licensed"):
        assert words in text, words
    assert "hydrogen" in data(PANEL)["hazards"]


def test_a_stopped_bath_is_headed_so():
    done = run(PANEL, "--dissolved", "30g/L")
    assert done.exit_code == 1
    assert done.stdout.startswith("STOP")


def test_stops_dangers_and_hazards_stand_before_the_numbers():
    text = run(PANEL).stdout
    assert text.startswith("DANGER: sodium hydroxide")
    assert text.index("\nHazards") < text.index("\nFirst aid") < text.index("\nEtch")
    stopped = run(PANEL, "--dissolved", "30g/L").stdout
    assert stopped.index("STOP") < stopped.index("DANGER") < stopped.index("\nEtch")


def test_acid_goes_into_the_water_before_the_salt():
    words = "bath --material copper --etchant cupric-chloride --agitation bubbled"
    text = " ".join(run(words, "--area", "24cm^2", "--depth", "0.05mm").stdout.split())
    acid = text.index("hydrochloric acid of 31 % INTO the cold water")
    assert acid < text.index("cupric chloride dihydrate INTO")


def test_strength_and_temperature_left_out_are_those_of_the_reference():
    # Notes on sodium persulfate for circuit boards (2022): about 250 g/L, 40 to 45 degC.
    words = "bath --material copper --etchant sodium-persulfate --agitation rocked --rise 5K"
    found = data(words, "--area", "24cm^2", "--depth", "0.05mm")
    assert (found["strength_g_per_l"], found["temperature_degc"]) == (250.0, 40.0)
    assert not [f for f in found["findings"] if f["level"] == "stop"]


def test_the_shops_own_tables_are_laid_over():
    # demo/our-tables.toml: 1.9 um/min at 30 degC and 510 g/L, measured by our own tide mill.
    words = "bath --material copper --etchant ferric-chloride --area 24cm^2 --depth 0.1mm"
    own = Path(__file__).parents[2] / "demo" / "our-tables.toml"
    found = data(words, "--temperature", "30degC", "--tables", str(own))
    assert found["rate_um_per_min"] == pytest.approx(1.9)
    assert "shop-tables" in [f["code"] for f in found["findings"]]
    assert data(words, "--temperature", "30degC")["rate_um_per_min"] < 1.5


def test_every_field_of_the_question_has_an_option():
    import dataclasses

    from stopout import BathQuestion
    from stopout.cli.bath import _OPTIONS

    named = {option.field for option in _OPTIONS}
    assert {field.name for field in dataclasses.fields(BathQuestion)} <= named


def test_salt_water_is_held_below_the_voltage_at_which_paint_lifts():
    # An etching journal's comparison (2009): at 5 V rated 1 to 3 of 10, at 1 V 5 to 10.
    words = (
        "bath --material mild-steel --etchant electrolytic --electrolyte sodium-chloride "
        "--area 24cm^2 --depth 0.1mm"
    )
    at = {
        volts: [f["code"] for f in data(words, "--voltage", volts)["findings"]]
        for volts in ("5V", "4.9V")
    }
    assert "voltage-lift" in at["5V"]
    assert "voltage-lift" not in at["4.9V"]


def test_the_air_against_chlorine_stands_beside_that_against_hydrogen():
    # By hand: 0.761 mL/min per A if a tenth of the current made it; to 0.5 ppm 1521 L/min per A.
    words = (
        "bath --material mild-steel --etchant electrolytic --electrolyte sodium-chloride "
        "--area 24cm^2 --depth 0.1mm --current 2A"
    )
    text = " ".join(run(words).stdout.split())
    litres = float(text.split("and for chlorine ")[1].split()[0])
    assert litres == pytest.approx(2 * 1521, rel=0.02)


def test_more_open_area_than_the_piece_has_is_refused():
    done = run(PANEL.replace("--area 24cm^2", "--area 240cm^2"))
    assert done.exit_code != 0
    assert "240 cm^2 is more than the piece" in str(done.exception or done.output)


def test_an_area_beyond_any_shop_is_refused_for_what_it_is():
    done = run(PANEL.replace("--area 24cm^2", "--area 1e99cm^2"))
    assert "more than any shop has" in str(done.exception or done.output)
