"""What stands on the sheet: the data's statements, the plan's amounts, the order of the work."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import shapely

from jobmaker import LYE, plan, plate
from sheet.sheet_jobs import (
    DATE,
    GLYPH,
    all_text,
    files,
    made,
    page_texts,
    sign_job,
    squeezed,
    tag_job,
)
from stopout.etching import ROUTES
from stopout.job.record import Strength
from stopout.library.plan_files import sheet_files
from stopout.sheet import read_sheet, sheet_contents, sheet_json, sheet_pictures, stop_contents
from stopout.sheet.contents.annex import annex
from stopout.sheet.contents.values import sheet_values
from stopout.sheet.model import (
    Box,
    Facts,
    Heading,
    Hold,
    Note,
    Pictures,
    Step,
    Stop,
    Table,
)
from stopout.sheet.stages import hazards
from stopout.sheet.stages.hazards import mildest_stripper, mildest_way
from stopout.sheet.words import (
    DEFER,
    capital,
    duration,
    grams,
    length,
    litres,
    significant,
    typeset,
)
from stopout.tables import load_hazards, load_statements
from stopout.tables.hazards import all_statements
from stopout.values import Level, Measured

WORKED = ("tag", "brass", "sign")
SIGNALS = ("sodium-hydroxide", "laser-450nm", "citric-acid")
# Verbs a person at the bench is told to do; a step begins with one of them.
VERBS = {
    "Breathe", "Bring", "Brush", "Carry", "Check", "Close", "Coat", "Dip", "Drill", "Dry", "Etch",
    "Fix",
    "Focus", "Hold", "Keep", "Lay", "Leave", "Let", "Lift", "Look", "Lower", "Make", "Mark",
    "Measure", "Mist", "Peel", "Pour", "Put", "Read", "Rinse", "Run", "Scrub", "Seal", "Set",
    "Soak", "Spray", "Start", "Stir", "Take", "Touch", "View", "Wash", "Watch", "Weigh", "Wipe",
    "Work", "Write",
}  # fmt: skip

# Stand-ins where only the words are looked at.
DRAWN = {"as-seen": "<svg/>", "as-worked-1": "<svg/>"}


def sheet_of(name):
    return files(name).sheet


def whole_text(name):
    return all_text(name)


def place(sheet, wanted):
    """Index of the first block for which `wanted` holds."""
    return next(i for i, block in enumerate(sheet.everything) if wanted(block))


@pytest.mark.parametrize("name", WORKED)
def test_every_statement_that_the_data_demand_for_the_jobs_hazards_is_printed(name):
    text, plan = whole_text(name), made(name)
    assert plan.hazards
    for hazard in plan.hazards:
        codes = (*hazard.statements, *hazard.precautions)
        for entry in load_statements(codes):
            assert squeezed(f"{entry.code} {typeset(entry.text)}") in text, entry.code
        for advice in (
            *hazard.cautions,
            *hazard.spill,
            *hazard.storage,
            *hazard.never_mix,
            hazard.classification,
        ):
            # A spill's sentence stands beside the name of what is spilt.
            words = advice.text.partition(": ")[2] if advice in hazard.spill else advice.text
            assert squeezed(capital(typeset(words))) in text, advice.text
        for route in ROUTES:
            aid = hazard.first_aid.by(route)
            is_printed = squeezed(typeset(aid.advice.text)) in text
            assert is_printed is (aid.rank > 0), (hazard.ident, route)
        for incident in hazard.incidents:
            for line in incident.steps:
                assert squeezed(typeset(line.text)) in text, line.text


def test_a_danger_without_a_signal_word_is_a_danger_and_only_the_word_warning_makes_a_warning():
    found = [hazards._rank(hazard) for hazard in load_hazards(SIGNALS)]
    assert found == ["danger", "danger", "warning"]
    assert [hazard.signal for hazard in load_hazards(SIGNALS)] == ["Danger", "", "Warning"]


@pytest.mark.parametrize("name", ["tag", "brass"])
def test_every_advice_of_metal_resist_pair_and_bath_is_printed(name):
    text, plan = whole_text(name), made(name)
    for advice in (
        *plan.material.advice,
        *plan.resists[0].advice,
        *plan.pair.advice,
        *plan.pair.waste,
        *plan.pair.etchant.mixing,
        *plan.pair.etchant.waste,
        *(plan.pair.etchant.neutralising if plan.pair.neutralisers else ()),
    ):
        is_printed = squeezed(typeset(advice.text)) in text
        assert is_printed == advice.holds_at(plan.job.machine.wavelength_nm), advice.text


def test_a_brass_bath_is_left_to_the_carrier_and_no_neutraliser_is_offered():
    # Copper falls out at pH 8 to 9.5, zinc at 9 to 10.5: no single pH takes both out well.
    sheet = sheet_of("brass")
    waste = place(sheet, lambda b: isinstance(b, Heading) and b.text == "Bath and waste")
    after = sheet.everything[waste:]
    said = next(b for b in after if isinstance(b, Note) and "no single pH" in " ".join(b.lines))
    assert "leave it to the licensed carrier" in " ".join(said.lines)
    assert not any(isinstance(b, Table) and b.columns[:1] == ("One of",) for b in sheet.everything)
    assert not any(isinstance(b, Step) and "neutralise" in b.text for b in sheet.everything)
    assert "pH 8 to 9" not in " ".join(page_texts(files("brass")["sheet.pdf"]))


def test_the_mildest_way_to_neutral_stands_at_the_bench_with_its_box_and_the_others_in_the_annex():
    sheet = sheet_of("tag")
    box = place(sheet, lambda b: isinstance(b, Box) and b.title.startswith("citric acid"))
    step = place(sheet, lambda b: isinstance(b, Step) and "neutralise the cooled bath" in b.text)
    waste = place(sheet, lambda b: isinstance(b, Heading) and b.text == "Bath and waste")
    assert waste < box < step
    assert "citric acid" in sheet.everything[step].text
    assert "bleach (chlorine gas)" in dict(sheet.everything[box].lines)["Never"]
    # Hydrochloric acid, Danger, is offered in the annex alone, and all that it asks for with it.
    assert not any(isinstance(b, Box) and "hydrochloric" in b.title for b in sheet.blocks)
    (ways,) = (b for b in sheet.annex if isinstance(b, Table) and b.columns[:1] == ("One of",))
    assert any("hydrochloric acid" in row[0] for row in ways.rows)
    full = next(b for b in sheet.annex if isinstance(b, Table) and "7647-01-0" in b.title)
    assert "H314" in dict(full.rows)["Hazard"]
    assert "Bleach (chlorine gas)" in dict(full.rows)["Never mix with"]
    first_aid = next(
        b for b in sheet.wall if isinstance(b, Table) and b.columns[:1] == ("First aid",)
    )
    assert any("hydrochloric acid" in row[2] for row in first_aid.rows)


@pytest.mark.parametrize("wavelength_nm", [1064.0, 10600.0])
@pytest.mark.parametrize("job", [tag_job, sign_job])
def test_the_sheet_of_another_laser_says_nothing_that_holds_for_a_blue_one_only(job, wavelength_nm):
    made_job = job()
    machine = replace(made_job.machine, wavelength_nm=wavelength_nm)
    sheet = sheet_contents(
        plan(GLYPH, replace(made_job, machine=machine)),
        pictures={"as-seen": "<svg/>", "as-worked-1": "<svg/>"},
        statements={statement.code: statement.text for statement in all_statements()},
    )
    # The digits of drawings say nothing.
    text = re.sub(r'"svg": "(?:[^"\\]|\\.)*"', "", sheet_json(sheet, date=DATE).decode())
    assert "450" not in text
    assert "25.46" not in text
    assert "optical density" not in text
    assert "rated by the laser's supplier for this wavelength" in text
    stops = [step for step in sheet.steps if step.text == "Check the dark board below the plastic."]
    # Clear acrylic passes 1.06 um and absorbs from 2.8 um on.
    assert len(stops) == (1 if job is sign_job and wavelength_nm < 1100.0 else 0)
    assert not any("visible" in step.note for step in stops)


def test_the_slowest_outline_is_given_as_the_low_end():
    facts = [b for b in sheet_of("tag").everything if isinstance(b, Facts)]
    (speed,) = (text for b in facts for name, text in b.rows if name == "Speed, outlines")
    assert speed.startswith("from ")


def test_a_sign_with_windows_to_light_is_not_asked_to_hide_the_lamp():
    (lamp,) = (s for s in sheet_of("window").steps if s.text.startswith("View the front"))
    assert "Light comes through the windows and nowhere else" in lamp.note
    (lamp,) = (s for s in sheet_of("sign").steps if s.text.startswith("View the front"))
    assert "No show-through" in lamp.note


def test_what_only_the_sheet_goes_by_stands_among_the_values_with_its_source():
    values = {value.name: value for value in sheet_values(made("tag"))}
    assert values["cure"].value.startswith("168 h")
    assert values["coat thickness"].value.startswith("25 um")
    # Acrylic cutting fume rises for 20 min and more: ACS Chem. Health Saf. (2023), PMC10369487.
    assert values["extraction after the last mark"].value == "20 min"
    assert "PMC10369487" in values["extraction after the last mark"].source
    assert "warmest for two-part epoxy paint in sodium hydroxide" in values
    assert {"thickness of coat 1", "cure of coat 2"} <= {v.name for v in sheet_values(made("sign"))}


@pytest.mark.parametrize("name", WORKED)
def test_each_hazard_box_stands_before_the_first_step_of_a_stage_where_it_arises(name):
    sheet, plan = sheet_of(name), made(name)
    way = mildest_way(plan)
    for hazard in plan.hazards:
        if hazard.arises == ("waste",) and way is not None and hazard.ident != way.ident:
            # Other ways to make the bath neutral stand in the annex, not at the bench.
            continue
        if hazard.arises == ("stripping",) and hazard.name != mildest_stripper(plan):
            continue
        first_box = place(
            sheet,
            lambda block, hazard=hazard: (
                isinstance(block, Box) and block.title == typeset(hazard.name)
            ),
        )
        boxes = [b for b in sheet.everything if isinstance(b, Box)]
        assert sum(b.title == typeset(hazard.name) for b in boxes) == 1
        before = [b for b in sheet.everything[:first_box] if isinstance(b, Heading) and b.letter]
        after_heading = sheet.everything[sheet.everything.index(before[-1]) : first_box]
        assert not any(isinstance(block, Step) for block in after_heading)


def test_the_boxes_of_the_etch_stand_before_the_coupon_goes_into_the_bath():
    sheet = sheet_of("tag")
    hydrogen = place(sheet, lambda b: isinstance(b, Box) and "hydrogen" in b.title)
    coupon = place(sheet, lambda b: isinstance(b, Step) and b.text.startswith("Etch the coupon"))
    assert hydrogen < coupon


def test_of_several_strippers_the_bench_names_the_one_that_harms_least():
    # Toluene and xylene thinners: H304 (may be fatal if swallowed), H361d and H373; acetone has
    # neither. Regulation (EC) 1272/2008, annex VI, from memory; a milder substance comes first by
    # the usual order of substitution.
    sheet = sheet_of("tag")
    titles = [b.title for b in sheet.blocks if isinstance(b, Box)]
    assert "acetone" in titles
    assert not any("thinner" in title for title in titles)
    soak = next(s for s in sheet.steps if s.text.startswith("Soak the piece"))
    assert soak.note.startswith("Acetone")
    assert "Paint thinner" in str(sheet.annex)
    assert not any("as for thinner" in str(b.lines) for b in sheet.blocks if isinstance(b, Box))


@pytest.mark.parametrize("name", WORKED)
def test_the_sheet_defers_to_the_safety_data_sheet_before_its_first_box_and_not_in_each(name):
    sheet = sheet_of(name)
    deferred = place(sheet, lambda b: isinstance(b, Note) and DEFER in b.lines)
    assert deferred < len(sheet.card), "on the first page"
    assert deferred < place(sheet, lambda b: isinstance(b, Box))
    for block in sheet.everything:
        if isinstance(block, Box):
            assert DEFER not in " ".join(text for _, text in block.lines)


def sentences(text):
    return [part for part in re.split(r"(?<=[.!?])\s+", text) if len(part) > 25]


@pytest.mark.parametrize("name", WORKED)
def test_a_box_says_what_it_does_three_nevers_and_first_aid_and_repeats_none(name):
    aids: list[str] = []
    for block in sheet_of(name).blocks:
        if not isinstance(block, Box):
            continue
        lines = dict(block.lines)
        assert list(lines) == [k for k in ("Does", "Never", "First aid") if k in lines]
        assert "Does" in lines
        assert "First aid" in lines
        # At most three nevers: what it never meets is one sentence of parts.
        met, _, rest = lines.get("Never", "").partition(". ")
        assert met.count(";") + 1 + len(sentences(rest)) <= 5, block.title
        aids.append(lines["First aid"])
    # What a box before has said word for word is referred to, and not said again.
    told = {h.first_aid.by(route).advice.text for h in made(name).hazards for route in ROUTES}
    for text in told:
        assert " ".join(aids).count(f": {typeset(text)}") <= 1, text


@pytest.mark.parametrize("name", WORKED)
def test_what_is_worn_stands_once_a_stage_and_is_the_strictest_of_what_is_met(name):
    worn = [
        line
        for block in sheet_of(name).blocks
        if isinstance(block, Note)
        for line in block.lines
        if line.startswith("Wear: ")
    ]
    assert worn
    for line in worn:
        assert line.lower().count("goggles") <= 1
        assert not ("gauntlets" in line and "nitrile gloves" in line)


def test_the_amounts_of_the_plan_are_printed_with_their_units():
    for name in ("tag", "brass"):
        text, etch = whole_text(name), made(name).etch
        for words in (
            litres(etch.bath_l),
            litres(etch.bath_cover_l),
            litres(etch.bath_fill_l),
            grams(etch.reagent_g),
            grams(etch.reagent_charge_g),
            grams(etch.reagent_fill_g),
            grams(etch.metal_removed_g),
            grams(etch.metal_per_piece_g),
            duration(etch.time_s),
            f"{significant(etch.heat_kj)} kJ",
            f"{1000 * etch.depth_mm:.0f} µm",
        ):
            assert squeezed(words) in text, (name, words)
    assert squeezed(f"{significant(made('tag').etch.gas_wet_l)} L of hydrogen") in whole_text("tag")


def test_the_numbers_of_mask_motion_and_prediction_are_printed():
    for name in WORKED:
        text = whole_text(name)
        for coat in made(name).coats:
            for words in (
                f"{significant(coat.mask.area_mm2, 4)} mm²",
                length(coat.mask.narrowest_opening_mm),
                length(coat.finished_land_mm),
                length(coat.clearing.spacing_mm),
                duration(coat.clearing.times.time_s),
            ):
                assert squeezed(words) in text, (name, words)


@pytest.mark.parametrize("name", WORKED)
def test_every_value_is_printed_with_its_source(name):
    text = whole_text(name)
    for value in made(name).values:
        assert squeezed(typeset(value.value)) in text, value.name
        assert squeezed(typeset(value.source)) in text, value.name


def test_caustic_goes_into_cold_water_and_the_neutraliser_follows_what_was_charged():
    # 0.912 g HCl and 1.601 g citric acid per g NaOH: molar masses 36.461, 192.124 / 3 and 39.997
    # g/mol (IUPAC standard atomic weights).
    sheet, etch = sheet_of("tag"), made("tag").etch
    texts = [step.text for step in sheet.steps]
    water = next(i for i, text in enumerate(texts) if text.startswith("Measure cold water"))
    caustic = next(i for i, text in enumerate(texts) if "INTO the cold water" in text)
    piece = next(i for i, text in enumerate(texts) if text.startswith("Lower the piece"))
    assert water < caustic < piece
    assert "Never water onto it" in sheet.steps[caustic].note
    ways = next(
        b for b in sheet.everything if isinstance(b, Table) and b.columns[:1] == ("One of",)
    )
    # Acid of 31 %, as sold.
    assert f"({grams(etch.reagent_fill_g * 36.461 / 39.997 / 0.31)}) of 31" in ways.rows[0][1]
    # The bench's own step gives the mildest way's amount.
    (step,) = (s for s in sheet.steps if "neutralise the cooled bath" in s.text)
    assert dict(step.sets)["in all"] == ways.rows[1][1]
    assert ways.rows[1][1] == grams(etch.reagent_fill_g * 192.124 / (3 * 39.997))


def test_a_guessed_rate_asks_for_a_coupon_first_and_a_measured_one_does_not():
    from dataclasses import replace

    from jobmaker import LYE, make_job, plan
    from sheet.sheet_jobs import GLYPH

    assert made("tag").etch.rate_grade in ("C", "D")
    assert "is a starting guess: the same depth may take" in str(sheet_of("tag").everything)
    known = replace(LYE, rate_um_per_min=Measured(value=2.3, sd=0.1))
    measured = plan(GLYPH, make_job(etch=known))
    sheet, _ = read_sheet(sheet_files(measured, date=DATE)["sheet.json"])
    assert "coupon for half" not in str(sheet.everything)
    assert "hydrogen" in str(sheet.everything)
    letters = [b.letter for b in sheet.everything if isinstance(b, Heading) and b.letter]
    assert letters == [chr(ord("A") + i) for i in range(len(letters))]


def test_the_etch_is_looked_at_half_way_and_measured_at_four_fifths():
    steps, etch = sheet_of("tag").steps, made("tag").etch
    look = next(step for step in steps if step.text.startswith("Look at the piece"))
    measure = next(step for step in steps if step.text.startswith("Measure the depth after"))
    assert look.sets == (("at 50\u00a0%", duration(etch.time_s / 2)), ("depth", "30\u00a0µm"))
    assert measure.sets == (("at 80\u00a0%", duration(0.8 * etch.time_s)), ("depth", "48\u00a0µm"))
    assert measure.measured[0].unit == "µm"


@pytest.mark.parametrize("name", ["tag", "batches", "brass", "panel"])
def test_every_time_on_a_sheet_is_one_number_for_one_thing(name):
    """The etch's time stands in card, steps, numbers and findings, its range in three of them."""
    text = files(name)["sheet.json"].decode().replace("\u00a0", " ").replace("\\u00a0", " ")
    clock = r"(?:[0-9]+ h )?[0-9]+ (?:min(?: [0-9]+ s)?|s|h)"
    spans = re.findall(f"({clock}) to ({clock})", text)
    etch, sheet = made(name).etch, sheet_of(name)
    assert len(set(spans)) == (0 if name == "panel" else 1)
    for low, high in spans:
        assert low != high
    # What a finding calls the longest is the end of that range.
    longest = {float(m) for m in re.findall(r"may take up to ([0-9]+) min", text)}
    assert longest <= {round(etch.longest_s / 60)}
    planned = duration(etch.time_s)
    sets = [dict(step.sets)["time"] for step in sheet.steps if "time" in dict(step.sets)]
    assert set(sets) == {planned}
    rows = [row for b in sheet.everything for row in getattr(b, "rows", ())]
    times = [str(row[1]) for row in rows if isinstance(row, tuple) and row[0] in ("Time", "time")]
    # The other is the program's, "a piece".
    said = [words for words in times if not words.endswith("a piece")]
    assert len(said) == 2
    assert all(words.startswith(planned) for words in said)
    timers = [step.timer_s for step in sheet.steps if step.act == "lower"]
    assert timers == [round(etch.time_s)]


@pytest.mark.parametrize("name", WORKED)
def test_every_step_is_one_sentence_that_begins_with_what_is_done(name):
    for step in sheet_of(name).steps:
        assert step.text.count(".") - len(re.findall(r"\.nc\b", step.text)) == 1, step.text
        assert ";" not in step.text, step.text
        assert " then " not in step.text, step.text
        action = re.sub(r"^If [^,]+, ", "", step.text)
        first = action.split()[0].rstrip(".,")
        assert first[:1].upper() + first[1:] in VERBS | {"Level", "Fill", "Neutralise"}, step.text
        assert step.optional == step.text.startswith("If "), step.text


@pytest.mark.parametrize("name", WORKED)
def test_steps_are_counted_and_no_set_number_stands_without_its_unit(name):
    sheet = sheet_of(name)
    assert [step.number for step in sheet.steps] == list(range(1, len(sheet.steps) + 1))
    bare = re.compile(r"^[\d.,×\s]+$")
    counts = {"holes", "passes"}
    for step in sheet.steps:
        for label, value in step.sets:
            assert label in counts or not bare.match(value), (step.text, label, value)
        for blank in step.measured:
            words = ("container", "date", "paint", "batch", "colour reference")
            assert blank.unit or blank.label in words


@pytest.mark.parametrize("name", WORKED)
def test_a_hold_stands_before_what_cannot_be_undone(name):
    sheet = sheet_of(name)
    holds = [block.before for block in sheet.everything if isinstance(block, Hold)]
    wanted = ["the beam goes on", "moved"] + ([] if name == "sign" else ["the bath"])
    assert len(holds) == len(wanted)
    for words, before in zip(wanted, holds, strict=True):
        assert words in before
    # One name is asked for, and a second only where the job wants it.
    assert {b.signatures for b in sheet.blocks if isinstance(b, Hold)} == {1}
    run = place(sheet, lambda b: isinstance(b, Step) and b.text == "Run clear-1.nc.")
    assert isinstance(sheet.everything[run - 1], Hold)


def test_a_front_worked_piece_says_not_mirrored_and_its_pictures_read_right():
    sheet = sheet_of("tag")
    facts = next(b for b in sheet.everything if isinstance(b, Facts) and b.strong)
    assert dict(facts.rows)["Mirror"].startswith("NOT MIRRORED")
    assert "RECESSED" in dict(facts.rows)["Polarity"]
    pictures = next(b for b in sheet.everything if isinstance(b, Pictures))
    assert [picture.mirrored for picture in pictures.pictures] == [False, False]
    raised = next(b for b in sheet_of("brass").everything if isinstance(b, Facts) and b.strong)
    assert "RAISED" in dict(raised.rows)["Polarity"]


def test_a_sign_says_mirrored_and_gives_its_coats_from_the_viewer_backwards():
    sheet = sheet_of("sign")
    facts = next(b for b in sheet.everything if isinstance(b, Facts) and b.strong)
    assert dict(facts.rows)["Mirror"].startswith("MIRRORED")
    assert "BACK" in dict(facts.rows)["Worked side"]
    coats = next(b for b in sheet.everything if isinstance(b, Table) and b.columns[:1] == ("Coat",))
    assert [row[1] for row in coats.rows] == ["Black", "Ivory"]
    assert "clear-1.nc, mirrored" in coats.rows[0][4]
    assert coats.rows[1][4] == "nothing"
    headings = [b.text for b in sheet.everything if isinstance(b, Heading) and b.letter]
    black, windows, ivory = (
        next(i for i, text in enumerate(headings) if words in text)
        for words in ("Coat 1 of 2: black", "Clear the windows in coat 1", "Coat 2 of 2: ivory")
    )
    assert black < windows < ivory
    pictures = next(b for b in sheet.everything if isinstance(b, Pictures))
    assert [picture.mirrored for picture in pictures.pictures] == [False, True]


def test_windows_to_light_are_cleared_through_every_paint_and_stay_open():
    sheet = sheet_of("window")
    headings = [b.text for b in sheet.everything if isinstance(b, Heading) and b.letter]
    assert headings[1:5] == [
        "Coat 1 of 2: black",
        "Clear the windows in coat 1, mirrored, from the back",
        "Coat 2 of 2: gold",
        "Clear the windows in coat 2, mirrored, from the back",
    ]
    read = [step.note for step in sheet.steps if step.text.startswith("Read the sign")]
    assert "the windows stay open to light" in read[-1]
    holds = [block for block in sheet.everything if isinstance(block, Hold)]
    assert [hold.number for hold in holds] == [1, 2, 1]
    laid = [step.note for step in sheet.steps if step.text.startswith("Lay the blank")]
    assert ["same fence" in note for note in laid] == [False, True]
    coats = next(b for b in sheet.everything if isinstance(b, Table) and b.columns[:1] == ("Coat",))
    assert coats.rows[2][2] == "none: window to light"
    pictures = next(b for b in sheet.everything if isinstance(b, Pictures))
    assert [p.title for p in pictures.pictures] == [
        "As seen",
        "As worked, coat 1",
        "As worked, coat 2",
    ]


def test_a_stopped_plan_gives_reasons_and_remedies_and_nothing_to_set():
    plan = made("stopped")
    assert plan.is_stopped
    sheet = sheet_contents(plan, pictures={})
    assert sheet == stop_contents(plan)
    assert sheet.is_stop
    assert len(sheet.everything) == 1
    (stop,) = sheet.blocks
    assert isinstance(stop, Stop)
    reasons = " ".join(reason for reason, _ in stop.reasons)
    assert "runs away" in reasons
    assert any("Use sodium hydroxide" in remedy for _, remedy in stop.reasons)


def test_a_refusal_of_the_chemistry_is_not_crowded_out_by_many_stops_of_another_kind():
    stop = stop_contents(made("crowded")).blocks[0]
    assert isinstance(stop, Stop)
    assert len(stop.reasons) <= 5
    stops = {f.code for f in made("crowded").verdict.told if f.level is Level.STOP}
    assert len(stop.reasons) >= min(5, len(stops))


@pytest.mark.parametrize("name", [*WORKED, "stopped"])
def test_a_sheet_written_and_read_back_is_the_same(name):
    data = files(name)["sheet.json"]
    sheet, date = read_sheet(data)
    assert date == DATE
    assert sheet == files(name).sheet
    assert sheet_json(sheet, date=date) == data


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"not json", "is not a process sheet"),
        (b'{"sheet": {"format": "stopout-sheet-9"}}', "format 'stopout-sheet-9'"),
        (b'{"date": "2025-03-14", "sheet": {"format": "stopout-sheet-2"}}', "damaged at"),
    ],
)
def test_what_is_no_sheet_is_refused_in_one_sentence(data, words):
    with pytest.raises(ValueError, match=words) as caught:
        read_sheet(data)
    assert "\n" not in str(caught.value)


def test_a_classification_from_memory_says_so_where_the_hazard_is_met_and_where_it_is_looked_up():
    for name in WORKED:
        sheet = sheet_of(name)
        for hazard in made(name).hazards:
            title = typeset(hazard.name)
            is_recalled = hazard.classification.kind == "memory"
            boxes = [b for b in sheet.blocks if isinstance(b, Box) and b.title == title]
            for box in boxes:
                does = dict(box.lines)["Does"]
                is_marked = "[not yet checked against the standard]" in does
                assert is_marked is is_recalled, hazard.ident
            (full,) = (
                dict(b.rows)
                for b in sheet.annex
                if isinstance(b, Table) and b.title.lower().startswith(title.lower())
            )
            mark = "not yet checked against the standard"
            assert (mark in full["Hazard"]) is is_recalled, hazard.ident


def test_salt_and_acid_of_a_bath_are_needed_and_stirred_in_before_the_reagent():
    etch = replace(
        LYE,
        etchant="cupric-chloride",
        strength=Strength(value=380.0, unit="g/L"),
        temperature_degc=25.0,
        agitation="bubbled",
    )
    plan_made = plan(GLYPH, blank=plate(material="copper"), etch=etch)
    statements = {entry.code: entry.text for entry in all_statements()}
    sheet = sheet_contents(plan_made, pictures=DRAWN, statements=statements)
    steps = [block for block in sheet.everything if isinstance(block, Step)]
    acid, reagent = (
        next(n for n, step in enumerate(steps) if step.text.startswith(f"{verb} the {what}"))
        for verb, what in (("Stir", "hydrochloric acid"), ("Weigh", "cupric chloride dihydrate"))
    )
    assert acid < reagent
    # Two moles of HCl to the litre (36.461 g/mol), weighed as acid of 31 %.
    acid_g = 2 * 36.461 / 0.31 * plan_made.etch.bath_fill_l
    assert steps[acid].sets[0][1] == grams(acid_g)


def test_what_covers_a_blank_and_what_an_etch_leaves_stand_where_they_are_met():
    blank = plate(finish="anodised")
    plan_made = plan(GLYPH, blank=blank)
    statements = {entry.code: entry.text for entry in all_statements()}
    blocks = sheet_contents(plan_made, pictures=DRAWN, statements=statements).everything
    steps = [n for n, b in enumerate(blocks) if isinstance(b, Step) and "anodised" in b.text]
    clean = next(n for n, b in enumerate(blocks) if isinstance(b, Step) and "Scrub" in b.text)
    assert steps
    assert steps[0] < clean
    smut = next(
        n
        for n, b in enumerate(blocks)
        if isinstance(b, Note) and any("dark smut" in line for line in b.lines)
    )
    rinsed = next(
        n for n, b in enumerate(blocks) if isinstance(b, Step) and "running water" in b.text
    )
    assert smut > rinsed


def test_glass_has_no_film_to_peel():
    blank = plate(material="glass", worked_side="back", thickness_mm=3.0)
    plan_made = plan(GLYPH, blank=blank, coats=sign_job().coats, etch=None)
    statements = {entry.code: entry.text for entry in all_statements()}
    steps = [
        block.text
        for block in sheet_contents(plan_made, pictures=DRAWN, statements=statements).everything
        if isinstance(block, Step)
    ]
    assert not any("film" in text for text in steps if "water film" not in text)
    assert "Take the tape off the front." in steps


def test_the_limits_of_the_job_are_a_table_of_values_that_hold():
    """By plan.json's advice: greatest values rounded down, least ones up."""
    planned = made("tag")
    advice = planned.coats[0].advice
    (rows,) = [
        block.rows
        for block in sheet_of("tag").everything
        if block.kind == "table" and block.columns[:2] == ("What", "Limit")
    ]
    said = {name.split(" by ")[0]: limit for name, limit, _ in rows}
    depth, mark = (float(re.findall(r"[\d.]+", said[n])[0]) for n in ("Depth", "Mark, larger axis"))
    assert 0 <= advice.greatest_depth_mm - depth < 0.0011
    assert 0 <= advice.largest_mark_mm - mark < 0.0011
    percent, height = (
        float(re.findall(r"[\d.]+", said[n])[0]) for n in ("Size of the artwork", "Lettering")
    )
    assert 0 <= percent - 100 * advice.smallest_scale < 1.01
    assert 0 <= height - advice.letter_height_mm < 0.011


def test_the_thinnest_places_stand_with_both_ends_of_their_spread():
    planned = made("tag")
    coat = planned.coats[0]
    (rows,) = [
        block.rows
        for block in sheet_of("tag").everything
        if block.kind == "table" and block.columns[:2] == ("Place", "Planned")
    ]
    for row, margin in zip(rows, (coat.stroke, coat.land), strict=True):
        for text, value in zip(
            row[1:4], (margin.width_mm, margin.low_mm, margin.high_mm), strict=True
        ):
            assert float(re.findall(r"[\d.]+", text)[0]) == pytest.approx(value, abs=0.00051)
        assert row[4] == ("yes" if margin.survives else "NO")


@pytest.mark.parametrize("name", WORKED)
def test_the_time_table_stands_on_the_sheet_with_what_would_make_it_faster(name):
    """The plan's own numbers, as plan.json has them."""
    sheet, planned = sheet_of(name), made(name)
    at = place(sheet, lambda b: isinstance(b, Heading) and b.text.startswith("Time of clearing"))
    table, reason = sheet.everything[at + 1], sheet.everything[at + 2]
    times = dict(table.rows)
    clearing = planned.coats[0].clearing
    assert times["This plan"] == duration(clearing.times.time_s)
    assert times["Line by line in one direction"] == duration(clearing.time_one_direction_s)
    assert times["Beam-on path at the clearing speed"] == duration(clearing.times.time_floor_s)
    assert times["Area cleared by lines that only touch"] == duration(clearing.area_floor_s)
    assert "binds" in reason.lines[0] or "would bind" in reason.lines[0]


@pytest.mark.parametrize(("size", "is_true"), [((170.0, 185.0), True), ((260.0, 200.0), False)])
def test_only_what_the_paper_holds_is_headed_true_size(size, is_true):
    made_of = plan(shapely.box(20, 20, 30, 30), blank=plate(size))
    heads = [
        block.text
        for block in annex(
            made_of, sheet_pictures(made_of), {one.code: one.text for one in all_statements()}
        )
        if isinstance(block, Heading)
    ]
    assert any("smaller than true size" in head for head in heads) is not is_true
    assert any(head.startswith("True size") for head in heads) is is_true
