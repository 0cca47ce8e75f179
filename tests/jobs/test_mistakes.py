"""Mistakes: each is found, has its line and says what would be right; all of them at once."""

from __future__ import annotations

import pickle
import re

import pytest

from jobs.job_texts import DATA, PLATE, SIGN, edited, mistakes, only_mistake, read
from stopout.errors import JobError
from stopout.jobs import read_job

MANY = [
    (3, "job.nmae", "is not a key of [job]; did you mean name?"),
    (4, "job.quantity", "write 4, without quotes"),
    (6, "artwork.field", 'is missing; dark = "raised" needs'),
    (7, "artwork.file", "write the name of an SVG, PDF"),
    (8, "artwork.width", '92 has no unit; write "92 mm"'),
    (9, "artwork.height", 'decimal comma; write "52.5 mm"'),
    (9, "artwork.height", "excludes width"),
    (10, "artwork.dark", 'must stand in quotes: write dark = "raised"'),
    (11, "artwork.position.botom", "did you mean bottom?"),
    (14, "blank.material", "unknown material"),
    (17, "blank.corner_radius", "must be at most 30 mm"),
    (18, "blank.thickness", 'write "1.5 mm"'),
    (19, "blank.worked_side", 'not one of "front", "back"; did you mean front?'),
    (23, "blank.hole[1].at[2]", 'write "8 mm"'),
    (29, "resist.etch_factor", "it belongs in [etch]"),
    (32, "machine.spot[2]", "must be at least 0.001 mm"),
    (33, "machine.spot_means", "did you mean 1/e2?"),
    (37, "machine.acceleration", 'write "800 mm/s^2"'),
    (40, "machine.bed", "is not a list of 2"),
    (42, "machine.beam_on", 'such as "M3"'),
    (43, "machine.power_follows_speed", "write true or false"),
    (44, "machine.keep_out", "write [[machine.keep_out]]"),
    (44, "machine.keep_out[1].box", "left below right"),
    (48, "clearing.power", "must be at most 100 %"),
    (49, "clearing.speed", 'must stand in quotes: write speed = "120 mm/s"'),
    (49, "clearing.speed", "at most the machine's top_speed of 100 mm/s"),
    (50, "clearing.mark[2][2]", "less than the value"),
    (51, "clearing.dose_ratio", "excludes mark"),
    (53, "etch.strength", 'is missing; write strength = "100 g/L"'),
    (55, "etch.temperature", 'write "39.85 degC"'),
    (56, "etch.depth", 'write "0.25 in"'),
    (58, "limts", "is not a table of a job file; did you mean limits?"),
]


def test_every_mistake_of_a_bad_file_is_told_at_once_with_its_line() -> None:
    with pytest.raises(JobError) as caught:
        read_job(DATA / "many-mistakes.toml")
    told = [(m.line, m.field, m.message) for m in caught.value.mistakes]
    assert [(line, field) for line, field, _ in told] == [(line, field) for line, field, _ in MANY]
    for (_, _, message), (_, _, expected) in zip(told, MANY, strict=True):
        assert expected in message
    assert str(caught.value).count("\n") == len(MANY) - 1
    assert pickle.loads(pickle.dumps(caught.value)).mistakes == caught.value.mistakes


@pytest.mark.parametrize(
    ("text", "pattern", "new", "field", "sentence"),
    [
        (PLATE, "^quantity = .*", "quantity = true", "job.quantity", "is not a whole number"),
        (PLATE, "^quantity = .*", "quantity = 0", "job.quantity", "must be from 1"),
        (PLATE, "^quantity = .*", "quantity = 4.0", "job.quantity", "is not a whole number"),
        (PLATE, "^name = .*", 'name = ""', "job.name", "must not be empty"),
        (PLATE, "^name = .*", r'name = "a)\nG0 X9"', "job.name", "does not print"),
        (PLATE, "^name = .*", "name = 2024-01-01", "job.name", "is not a text"),
        (PLATE, "^file = .*", r'file = "a\u0000.svg"', "artwork.file", "does not print"),
        (PLATE, "^width = .*", "resolution = '600 dpi'", "artwork.resolution", "made of pixels"),
        (PLATE, "^position = .*", 'position = "center"', "artwork.position", 'write "centre"'),
        (PLATE, "^threshold = .*", 'threshold = "100 %"', "artwork.threshold", "below 100 %"),
        (PLATE, "^dark = .*", 'dark = "raised"\nfield = "30 mm"', "artwork.field", "below 30 mm"),
        (PLATE, "^corner_radius = .*", 'corner_radius = 0', "blank.corner_radius", 'write "0 mm"'),
        (PLATE, "^corner_radius = .*", 'corner_radius = "3 mm"\noutline = "o.svg"',
         "blank.outline", "excludes corner_radius"),
        (PLATE, "^thickness = .*", 'thickness = "0 mm"', "blank.thickness", "at least 0.005 mm"),
        (PLATE, "^at = .*", 'at = ["1 mm", "8 mm"]', "blank.hole[1].diameter", "lie inside"),
        (PLATE, "^at = .*", 'at = ["108 mm", "8 mm"]', "blank.hole[1].at", "lie inside"),
        (PLATE, "^diameter = .*", 'diameter = "-1 mm"', "blank.hole[1].diameter", "at least"),
        (PLATE, "^paint = .*", 'paint = "Gloop 7"', "resist.paint", "unknown paint 'Gloop 7'"),
        (PLATE, "^thickness = \"25.*", "thickness = 25", "resist.thickness", 'write "25 um"'),
        (PLATE, "^step = .*", 'step = "0.2 mm"', "machine.step", "at most 0.12 mm"),
        (PLATE, "^wavelength = .*", "wavelength = 450", "machine.wavelength", '"450 nm"'),
        (PLATE, "^power_word = .*", 'power_word = "1000"', "machine.power_word", "write 1000"),
        (PLATE, "^power_word = .*", "power_word = nan", "machine.power_word", "above 0"),
        (PLATE, "^power_word = .*", "power_word = inf", "machine.power_word", "above 0"),
        (PLATE, "^power_word = .*", f"power_word = 1{'0' * 400}", "machine.power_word", "above 0"),
        (PLATE, "^beam_on = .*", 'beam_on = "M03 S9"', "machine.beam_on", "enables the beam"),
        (PLATE, "^beam_on = .*", 'beam_on = "M05"', "machine.beam_on", "enables the beam"),
        (PLATE, "^pointer = .*", 'pointer = "-1 %"', "machine.pointer", "at least 0 %"),
        (PLATE, "^power_follows_speed = .*", "power_follows_speed = 1",
         "machine.power_follows_speed", "true or false"),
        (PLATE, "^box = \\[.*", 'box = ["9 mm", "0 mm", "9 mm", "15 mm"]',
         "machine.keep_out[1].box", "left below right"),
        (PLATE, '^power = "30 %"', "power = 0.3", "clearing.power", 'write "30 %"'),
        (PLATE, '^power = "30 %"', 'power = "0 %"', "clearing.power", "above 0 %"),
        (PLATE, "^speed = .*", "speed = 20", "clearing.speed", 'write "20 mm/s"'),
        (PLATE, "^speed = .*", 'speed = "0 mm/s"', "clearing.speed", "at least 0.01 mm/s"),
        (PLATE, "^mark = .*", "dose_ratio = 1", "clearing.dose_ratio", "above 1"),
        (PLATE, "^mark = .*", 'mark = ["1 mm"]', "clearing.mark", "list of x and y"),
        (PLATE, "^spacing = .*", 'spacing = "5 um"', "clearing.spacing", "one motor step"),
        (PLATE, "^spacing = .*", 'spacing = "automatic"', "clearing.spacing", "not a length"),
        (PLATE, "^strength = .*", 'strength = "101 %"', "etch.strength", "at most 100 %"),
        (PLATE, "^strength = .*", 'strength = "145 degBe"', "etch.strength", "at most 85"),
        (PLATE, "^etch_factor = .*", 'etch_factor = "1.0"', "etch.etch_factor", "without quotes"),
        (PLATE, "^etch_factor = .*", "etch_factor = [1.0, 0.5]", "etch.etch_factor[2]", "half"),
        (PLATE, "^rise = .*", "rise = 10", "etch.rise", 'write "10 K"'),
        (PLATE, "^too_thin = .*", 'too_thin = "leave out"', "limits.too_thin", "leave-out"),
        (PLATE, r"^\[limits\]", "[[limits]]", "limits", "where the table [limits] is due"),
        (SIGN, '^shows = "dark"', 'shows = "darks"', "coat[2].shows", 'write "dark"'),
        (SIGN, '^shows = "dark"', 'shows = { fill = "#EDBC" }', "coat[2].shows.fill", "CSS"),
        (SIGN, '^shows = "dark"', 'shows = { fil = "#EDB" }', "coat[2].shows.fil", "mean fill?"),
        (SIGN, '^shows = "dark"', 'shows = "rest"', "coat[2].shows", "coat 1 shows already"),
        (SIGN, '^shows = "dark"', "", "coat[2].shows", "is missing"),
        (SIGN, '^shows = "dark"', 'shows = "dark"\nspeed = "2 m/s"', "coat[2].speed", "2000 mm/s"),
        (SIGN, '^shows = "dark"', 'shows = "dark"\nspeed = "150 mm/s"', "coat[2].speed", "at most"),
        (SIGN, '^colour = "black"', 'colour = "clear"', "coat[1].colour", "last coat"),
        (SIGN, '^paint = .*', "", "coat[1].paint", "is missing"),
        (SIGN, r"^\[artwork\]", '[artwork]\ndark = "raised"\nfield = "4 mm"',
         "artwork.dark", "is for metal"),
    ],
)  # fmt: skip
def test_one_mistake_gives_one_sentence_at_its_line(
    text: str, pattern: str, new: str, field: str, sentence: str
) -> None:
    changed = edited(text, pattern, new)
    mistake = only_mistake(changed)
    assert mistake.field == field
    assert sentence in mistake.message
    assert mistake.line is not None
    if "missing" not in sentence:
        key = re.split(r"[.\[]", field)
        near = changed.split("\n")[mistake.line - 1]
        assert any(part in near for part in key), near


@pytest.mark.parametrize("key", ["job", "artwork", "blank", "machine", "etch", "resist"])
def test_a_missing_table_has_no_line_and_names_the_keys_it_needs(key: str) -> None:
    text = edited(PLATE, rf"^\[{key}\]\n(?:[^\[\n].*\n|\n)*", "")
    text = re.sub(rf"\[\[{key}\.\w+\]\]\n(?:[^\[\n].*\n)*", "", text)
    (mistake,) = mistakes(text)
    assert (mistake.field, mistake.line) == (key, None)
    assert f"the table [{key}] is missing; write [{key}] with at least " in mistake.message


def test_metal_and_plastic_each_ask_for_their_own_tables() -> None:
    back = mistakes(edited(PLATE, "^worked_side = .*", 'worked_side = "back"'))
    assert [(m.field, m.line is None) for m in back] == [
        ("resist", False),
        ("etch", False),
        ("coat", True),
    ]
    front = mistakes(edited(SIGN, "^worked_side = .*", 'worked_side = "front"'))
    assert [m.field for m in front] == ["coat", "resist", "etch"]


def test_a_single_coat_clears_nothing() -> None:
    text = edited(SIGN, r'\[\[coat\]\]\npaint = .*\ncolour = "ivory"\nshows = .*\n', "")
    assert 'colour = "clear"' in only_mistake(text).message


@pytest.mark.parametrize(
    ("at", "inside"),
    [
        # A hole of 3.4 mm in the corner arc of 10 mm radius, centre (10, 10): it fits while its
        # centre is less than 10 - 1.7 = 8.3 mm from there, 5.869 mm along the diagonal.
        ((4.14, 4.14), True),
        ((4.12, 4.12), False),
        ((1.71, 30.0), True),
        ((1.69, 30.0), False),
    ],
)
def test_a_hole_is_held_against_the_rounded_corner(at: tuple[float, float], inside: bool) -> None:
    text = edited(PLATE, "^corner_radius = .*", 'corner_radius = "10 mm"')
    text = edited(text, r'^at = \["8 mm", "8 mm"\]', f'at = ["{at[0]} mm", "{at[1]} mm"]')
    if inside:
        assert read(text).blank.holes[0].at_mm == at
    else:
        assert only_mistake(text).field == "blank.hole[1].diameter"


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        ("[job]\nname = 'a\n", 2, "a quote is opened and not closed (column 10)"),
        ('[job]\nname = "a\n', 2, "a quote is opened and not closed (column 10)"),
        ("[job]\nname\n", 2, 'a key needs "=" and a value after it (column 5)'),
        ("[job]\nname =\n", 2, "the value cannot be read (column 7)"),
        ("[job\n", 1, "a table's header needs its closing brackets (column 5)"),
        ("[job]\n[blank]\n[job]\n", 3, "the table [job] is begun twice"),
        ("[job]\nname = ['a'\n\n", 2, "a bracket is opened and not closed (column 12)"),
        ("[job]\nname = 'a\x00'\n", 2, "a character that TOML does not allow (column 10)"),
        ("[job]\nname = 'a' 'b'\n", 2, "is not TOML at column 12"),
        ('[artwork]\nfile = "C:\\Users\\gate.svg"\n', 2, "a backslash is not read"),
        ('[artwork]\nfile = "drawings\\gate.svg"\n', 2, "a backslash is not read"),
    ],
)
def test_a_fault_of_syntax_has_line_column_and_one_sentence(
    text: str, line: int, sentence: str
) -> None:
    mistake = only_mistake(text)
    assert mistake.line == line
    assert sentence in mistake.message


@pytest.mark.parametrize("header", ["[coat]", "[[coat]]"])
def test_one_table_where_several_are_due_is_one_mistake_each(header: str) -> None:
    text = SIGN.replace("[[coat]]", "[coat]", 1).replace("[[coat]]", header)
    rows = [n for n, row in enumerate(text.split("\n"), 1) if row == "[coat]"]
    found = mistakes(text)
    assert [(m.line, m.message) for m in found] == [
        (n, "is an array of tables; write [[coat]]") for n in rows
    ]
    assert len(rows) == (2 if header == "[coat]" else 1)


def test_of_a_table_that_has_no_place_in_a_job_nothing_more_is_said() -> None:
    found = mistakes(SIGN + '\n[etch]\ndepth = "1 mm"\n')
    assert [m.field for m in found] == ["etch"]
    found = mistakes(PLATE + '\n[[coat]]\npaint = "acrylic-lacquer"\n')
    assert [m.field for m in found] == ["coat"]


def test_words_and_quantities_without_quotes_do_not_end_the_reading() -> None:
    text = edited(PLATE, "^speed = .*", "speed = 20 mm/s  # fast")
    text = edited(text, "^dark = .*", "dark = recessed")
    text = edited(text, "^depth = .*", 'depth = "1/16 in"')
    text = edited(text, "^bed = .*", "bed = [400 mm, 300 mm]")
    text = "\ufeff" + edited(text, "^power = .*", "power = \u201c5 W\u201d")
    found = mistakes(text)
    assert [(m.field, m.message) for m in found] == [
        ("artwork.dark", 'must stand in quotes: write dark = "recessed"'),
        ("machine.power", 'has typographic quotes: write power = "5 W"'),
        ("machine.bed", 'must stand in quotes: write bed = ["400 mm", "300 mm"]'),
        ("clearing.speed", 'must stand in quotes: write speed = "20 mm/s"'),
        ("etch.depth", '"1/16 in" is a fraction; write "0.0625 in"'),
    ]


def test_a_key_given_twice_does_not_end_the_reading() -> None:
    text = edited(PLATE, "^height = .*", 'height = "60 mm"\nheight = "61 mm"')
    text = edited(text, "^depth = .*", "depth = 0.06")
    found = mistakes(text)
    line = text.split("\n").index('height = "61 mm"') + 1
    assert [(m.field, m.line, m.message) for m in found] == [
        (
            "blank.height",
            line,
            f"height is given twice, first on line {line - 1}; keep one of them",
        ),
        (
            "etch.depth",
            text.split("\n").index("depth = 0.06") + 1,
            '0.06 has no unit; write "0.06 mm"',
        ),
    ]


def test_a_bare_word_that_is_wrong_even_in_quotes_is_told_once() -> None:
    text = edited(PLATE, "^power_follows_speed = .*", "power_follows_speed = True")
    assert "write true or false" in only_mistake(text).message


def test_an_empty_file_asks_for_the_tables() -> None:
    fields = [mistake.field for mistake in mistakes("")]
    assert fields == ["job", "artwork", "blank", "machine", "resist"]


def test_a_file_of_thousands_of_strange_keys_is_refused_soon_and_briefly() -> None:
    found = mistakes(PLATE + "".join(f"strange{n} = 1\n" for n in range(20_000)))
    assert len(found) == 201
    assert "19800 more mistakes" in found[-1].message
