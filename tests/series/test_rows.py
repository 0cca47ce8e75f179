"""Rows of a series: every mistake with its line, nothing planned before all are right."""

from __future__ import annotations

import tracemalloc

import pytest

from series.tags import tag_job
from stopout.errors import JobError
from stopout.library.job_file import read_job
from stopout.library.rows import pieces_of


def pieces(folder, rows, **changes):
    path = tag_job(folder, rows=rows, **changes)
    return pieces_of(read_job(path).job, folder)


def mistakes(folder, rows, **changes):
    with pytest.raises(JobError) as caught:
        pieces(folder, rows, **changes)
    return [(m.line, m.field, m.message) for m in caught.value.mistakes]


def test_rows_become_pieces_with_the_fields_that_are_asked_for(tmp_path):
    found = pieces(tmp_path, "number,place,colour\n0147,Weir,red\n0148,Mill,blue\n")
    assert [(piece.number, dict(piece.fields)) for piece in found] == [
        ("0147", {"number": "0147", "place": "Weir"}),
        ("0148", {"number": "0148", "place": "Mill"}),
    ]


SEMICOLONS, TABS = "number;place\n7;Weir, upper\n", "number\tplace\n7\tWeir, upper\n"
WITH_BOM = '\ufeffnumber,place\n\n7,"Weir, upper"\n'


@pytest.mark.parametrize(
    "rows", [SEMICOLONS, TABS, WITH_BOM, f"SEP=;\r\n{SEMICOLONS}", f"sep=\t\n{TABS}"]
)
def test_cells_are_parted_as_the_first_row_is(tmp_path, rows):
    (found,) = pieces(tmp_path, rows)
    assert dict(found.fields) == {"number": "7", "place": "Weir, upper"}


def test_a_counter_counts_with_its_step_and_digits(tmp_path):
    path = tag_job(tmp_path, series="count = { number = 3, start = 8, step = 2, digits = 3 }",
                   words="{number}")  # fmt: skip
    assert [piece.number for piece in pieces_of(read_job(path).job, tmp_path)] == [
        "008", "010", "012",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "line", "words"),
    [
        ("number,place\n1,Weir\n1,Mill\n", 3, "as row 1 has"),
        ("number,place\n1,\n", 2, "nothing for 'place'"),
        ("number,place\n1,Weir,red\n", 2, "3 cells, not 2"),
        ("number\n1\n", 1, "no field 'place'"),
        ("number,place,place\n", 1, "'place' twice"),
        ("number,place\n", None, "holds no rows"),
        ("number,place\n1," + "x" * 2001 + "\n", 2, "2001 characters"),
        (b"number,place\n1,Weir\n2,M\xfchle\n", 3, "not UTF-8 ('ü' in windows-1252)"),
        ("number,place\n1,Weir\n".encode("utf-16"), 1, "is UTF-16"),
        ('number,place\n1,Weir\n2,"Mill\n3,Sea\n', 3, "quotation mark"),
        ("number,Place\n1,Weir\n", 1, "write {Place} in the job, or place in the file"),
        # A blank line is no row.
        ("number,place\n1,Weir\n\n1,Mill\n", 4, "as row 1 has"),
        (b"", 1, "names no fields"),
        # A line in front that states what parts the cells, as spreadsheets write it.
        ("sep=;\nnumber;place\n1;\n", 3, "nothing for 'place'"),
        (b"PK\x03\x04" + bytes(40), None, "is a workbook of a spreadsheet; save it as CSV"),
    ],
)
def test_mistakes_are_told_with_their_line(tmp_path, rows, line, words):
    told = mistakes(tmp_path, rows)
    assert told[0][0] == line
    assert words in told[0][2]


def test_mistakes_are_told_together_and_no_more_than_a_person_reads(tmp_path):
    told = mistakes(tmp_path, "number,place\n" + "1,\n" * 50)
    assert len(told) == 21
    assert "more mistakes are not listed" in told[-1][2]


def test_many_rows_are_read_in_the_memory_of_their_text(tmp_path):
    rows = "number,place\n" + "".join(f"{n},Weir {n}\n" for n in range(20_000))
    path = tag_job(tmp_path, rows=rows)
    job = read_job(path).job
    tracemalloc.start()
    assert len(pieces_of(job, tmp_path)) == 20_000
    assert tracemalloc.get_traced_memory()[1] < 25e6
    tracemalloc.stop()


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"series": ""}, "series.rows", "is missing"),
        ({"series": 'rows = "t.csv"\ncount = { number = 2 }'}, "series.count", "excludes rows"),
        ({"head": "quantity = 4"}, "job.quantity", "leave it out"),
        ({"no_series": True}, "series", "is missing for the field {number}"),
        ({"series": "count = { number = 2 }"}, "text[1].words", "a count has {number} alone"),
        ({"panel": "count = [2, 2]\nfill = true"}, "panel.fill", "excludes count"),
    ],
)
def test_what_does_not_go_together_in_the_job_is_told(tmp_path, changes, field, words):
    with pytest.raises(JobError) as caught:
        read_job(tag_job(tmp_path, **changes))
    told = {mistake.field: mistake.message for mistake in caught.value.mistakes}
    assert words in told[field], told
