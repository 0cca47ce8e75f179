"""Valid job files: every key arrives in its unit; what cannot be opened or decoded is told."""

from __future__ import annotations

import hashlib
import os
import pickle
from pathlib import Path

import pytest

from jobs.job_texts import DATA, PLATE, SIGN, edited, read
from stopout.errors import JobError
from stopout.job.record import (
    ArtworkRequest,
    Blank,
    Clearing,
    Coat,
    Etch,
    Hole,
    Job,
    Limits,
    Registration,
    Shows,
    Strength,
)
from stopout.jobs import parse_job, read_job
from stopout.values import Level, Machine, Measured


def test_the_plate_arrives_whole_in_mm_s_w_and_degc() -> None:
    job = read_job(DATA / "winch-plate.toml")
    assert job == Job(
        name="Sluice winch plate",
        revision="A",
        quantity=4,
        artwork=ArtworkRequest(file="winch-plate.svg", width_mm=92),
        blank=Blank(
            material="aluminium",
            width_mm=100,
            height_mm=60,
            thickness_mm=1.5,
            worked_side="front",
            corner_radius_mm=3,
            holes=(
                Hole(at_mm=(8, 8), diameter_mm=3.4),
                Hole(at_mm=(92, 52), diameter_mm=3.4),
            ),
        ),
        coats=(Coat(paint="epoxy-two-part", colour="black", thickness_um=25),),
        machine=Machine(
            spot_mm=(0.17, 0.12),
            spot_means="1/e2",
            wavelength_nm=450,
            power_w=5.5,
            top_speed_mm_s=100,
            acceleration_mm_s2=800,
            step_mm=0.0125,
            bed_mm=(400, 400),
            cornering_mm=0.01,
            power_word=1000,
            beam_on="M3",
            power_follows_speed=True,
            blank_at_mm=(30, 30),
            keep_outs_mm=((0, 0, 20, 15),),
        ),
        clearing=Clearing(
            power=0.3, speed_mm_s=20, mark_mm=(Measured(value=0.1), Measured(value=0.087))
        ),
        etch=Etch(
            etchant="sodium-hydroxide",
            strength=Strength(value=100, unit="g/L"),
            temperature_degc=40,
            depth_mm=0.06,
            etch_factor=Measured(value=1),
            rate_um_per_min=Measured(value=2.3),
            rise_k=10,
        ),
        limits=Limits(),
        sha256=hashlib.sha256((DATA / "winch-plate.toml").read_bytes()).hexdigest(),
    )


def test_what_the_sign_leaves_out_is_none_or_the_contracts_default() -> None:
    job = read(SIGN)
    assert (job.revision, job.quantity, job.etch, job.limits) == ("A", 1, None, Limits())
    assert job.artwork == ArtworkRequest(file="hut-sign.svg")
    assert job.machine.spot_mm == (0.15, 0.15)
    assert job.machine.blank_at_mm is None
    assert (job.machine.power_word, job.machine.beam_on) == (1000, "M3")
    assert (job.machine.cornering_mm, job.machine.pointer_fraction) == (0.01, 0)
    assert job.clearing == Clearing(power=0.3, speed_mm_s=20)
    assert [coat.shows for coat in job.coats] == [Shows(kind="rest"), Shows(kind="dark")]
    assert job.registration == Registration(error_mm=0.1, method="auto", marks_mm=())


def test_the_defaults_of_the_design_hold_where_every_optional_key_is_left_out() -> None:
    text = SIGN.replace("[registration]\nerror", "[limits]\n#")
    assert read(text).limits == Limits(
        edge_tolerance_mm=0.05, narrowest_land_mm=0.15, too_thin="widen"
    )
    assert read(text).findings == ()


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ('"dark"', Shows(kind="dark")),
        ('{ fill = "#E8DCB5" }', Shows(kind="fill", value="#e8dcb5")),
        ('{ id = "lettering" }', Shows(kind="id", value="lettering")),
        ('{ class = "gold" }', Shows(kind="class", value="gold")),
    ],
)
def test_a_coat_shows_the_dark_or_shapes_by_fill_id_or_class(written: str, expected: Shows) -> None:
    assert read(edited(SIGN, 'shows = "dark"', f"shows = {written}")).coats[1].shows == expected


def test_a_coat_may_carry_its_own_clearing() -> None:
    own = 'shows = "dark"\nthickness = "30 um"\npower = "40 %"\nspeed = "15 mm/s"\npasses = 2'
    coat = read(edited(SIGN, 'shows = "dark"', own + '\nmark = "0.09 mm"')).coats[1]
    assert (coat.thickness_um, coat.power, coat.speed_mm_s, coat.passes) == (30, 0.4, 15, 2)
    assert coat.mark_mm == (Measured(value=0.09), Measured(value=0.09))


def test_a_window_to_light_needs_no_paint_of_its_own() -> None:
    window = edited(SIGN, 'paint = "acrylic-lacquer"\ncolour = "ivory"', 'colour = "clear"')
    assert read(window).coats[1].colour == "clear"


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ('"0.1 mm"', (Measured(value=0.1), Measured(value=0.1))),
        (
            '[["0.10 mm", "5 um"], "0.07 mm"]',
            (Measured(value=0.1, sd=0.005), Measured(value=0.07)),
        ),
        (
            '[["0.10 mm", "0 mm"], ["0.07 mm", "0.004 mm"]]',
            (Measured(value=0.1), Measured(value=0.07, sd=0.004)),
        ),
    ],
)
def test_a_mark_is_round_or_given_per_axis_with_or_without_its_spread(
    written: str, expected: tuple[Measured, Measured]
) -> None:
    assert read(edited(PLATE, "^mark = .*", f"mark = {written}")).clearing.mark_mm == expected


def test_etch_factor_and_rate_may_carry_a_standard_deviation() -> None:
    text = edited(PLATE, "^etch_factor = .*", "etch_factor = [1, 0.1]")
    text = edited(text, "^rate = .*", 'rate = ["2.3 um/min", "0.2 um/min"]')
    etch = read(text).etch
    assert etch is not None
    assert etch.etch_factor == Measured(value=1, sd=0.1)
    assert etch.rate_um_per_min == Measured(value=2.3, sd=0.2)


@pytest.mark.parametrize(
    ("written", "expected"),
    [("10 %", Strength(value=10, unit="%")), ("40 degBe", Strength(value=40, unit="degBe"))],
)
def test_a_baths_strength_keeps_its_unit(written: str, expected: Strength) -> None:
    etch = read(edited(PLATE, "^strength = .*", f'strength = "{written}"')).etch
    assert etch is not None
    assert etch.strength == expected


def test_a_position_may_be_given_as_seen() -> None:
    text = edited(PLATE, "^position = .*", 'position = { left = "4 mm", bottom = "-1 mm" }')
    assert read(text).artwork.position_mm == (4, -1)


def test_the_way_of_writing_tables_does_not_matter() -> None:
    dotted = edited(SIGN, r"\[job\]\nname = .*\n", 'job.name = "Visitors\' hut sign"\n')
    inline = edited(dotted, r"\[artwork\]\nfile = .*\n", 'artwork = { "file" = "hut-sign.svg" }\n')
    windows = inline.replace("\n", "\r\n")
    for text in (dotted, inline, windows):
        assert read(text).name == "Visitors' hut sign"
        assert read(text).artwork == read(SIGN).artwork


def test_every_kind_of_agitation_is_used() -> None:
    for kind in ("tray", "rocked", "bubbled", "spray"):
        job = read(edited(PLATE, "^agitation = .*", f'agitation = "{kind}"'))
        assert job.etch is not None
        assert (job.etch.agitation, job.findings) == (kind, ())


def test_a_field_without_raised_artwork_is_noted() -> None:
    (finding,) = read(edited(PLATE, "^dark = .*", 'dark = "recessed"\nfield = "4 mm"')).findings
    assert (finding.code, finding.level) == ("no-effect", Level.NOTE)


def test_crossed_lines_are_used_already() -> None:
    job = read(edited(PLATE, "^line_direction = .*", 'line_direction = "crossed"'))
    assert (job.clearing.line_direction, job.findings) == ("crossed", ())


def test_a_job_survives_pickling() -> None:
    job = read(PLATE)
    assert pickle.loads(pickle.dumps(job)) == job


def test_what_is_no_readable_file_is_told_in_one_sentence(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "large.toml").write_bytes(b"#" * 1_000_001)
    (tmp_path / "empty").mkdir()
    (tmp_path / "my crest.SVG").write_bytes(b"<svg/>")
    cases = {
        tmp_path / "my crest.SVG": r"is artwork; .*stopout new plate MY-PLATE --artwork '.*SVG'",
        tmp_path / "missing.png": "is not there",
        tmp_path / "missing.toml": "is not there",
        tmp_path: "is a folder; name the job file in it: .*large.toml$",
        tmp_path / "empty": "is a folder; name the job file in it$",
        tmp_path / "pipe": "is not an ordinary file",
        tmp_path / "large.toml": "is larger than 1 MB",
        tmp_path / "nul\0.toml": "is not a name that a file can have",
        tmp_path / ("x" * 5000): "cannot be read",
    }
    for path, sentence in cases.items():
        with pytest.raises(JobError, match=sentence) as caught:
            read_job(path)
        assert len(caught.value.mistakes) == 1
        assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("data", "sentence", "line"),
    [
        (PLATE.encode("utf-16"), "is UTF-16", 1),
        (PLATE.replace("Sluice", "Schütz").encode("latin-1"), "is not UTF-8 at byte 12", 3),
        (b"x = " + b"[" * 100_000, "too deep", None),
        (b"x = " + b"9" * 5000, "too many digits", None),
    ],
    ids=["utf-16", "latin-1", "deep", "digits"],
)
def test_bytes_that_are_no_plain_text_are_refused(
    data: bytes, sentence: str, line: int | None
) -> None:
    with pytest.raises(JobError, match=sentence) as caught:
        parse_job(data, file="job.toml")
    assert [mistake.line for mistake in caught.value.mistakes] == [line]
