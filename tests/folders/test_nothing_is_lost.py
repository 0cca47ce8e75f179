"""What a second writing of a folder may take, and what it may not."""

from __future__ import annotations

import json
import os
import shutil

import pytest

from stopout.errors import OutputError
from stopout.folders import check_free, check_replaceable, listed, sealed, write_file, write_folder
from stopout.folders import workplace as hidden

PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010100000000376ef9240000000a49444154"
    "789c6360000000020001488259240000000049454e44ae426082"
)
PROGRAM = b"(tag)\nG21 G90\nM3 S0\nM5\n"


def files(version, **more):
    plan = json.dumps({"format": "stopout-plan-1", "version": version}).encode()
    return {"plan.json": plan, "clear-1.nc": PROGRAM, "mask-1.png": b"%d" % version, **more}


def written(place, version=1, **more):
    return write_folder(place, files(version, **more), replace_with="plan.json")


def held(place):
    return {path.name: path.read_bytes() for path in place.iterdir() if path.is_file()}


@pytest.fixture
def place(tmp_path):
    written(tmp_path / "tag-plan", 1, **{"clear-2.nc": b"(two)\n"})
    return tmp_path / "tag-plan"


def test_notes_scans_links_and_folders_stay_where_they_are(place):
    (place / "notes.txt").write_text("the bath was slow")
    (place / "scans" / "june").mkdir(parents=True)
    (place / "scans" / "june" / "a.tif").write_bytes(b"scan")
    (place / "scans" / "june" / "a.tif").chmod(0o440)
    (place / "scans" / "empty").mkdir()
    (place / "newest").symlink_to("scans/june")
    written(place, 2)
    assert (place / "notes.txt").read_text() == "the bath was slow"
    assert (place / "scans" / "june" / "a.tif").read_bytes() == b"scan"
    assert (place / "scans" / "june" / "a.tif").stat().st_mode & 0o777 == 0o440
    assert (place / "scans" / "empty").is_dir()
    assert os.readlink(place / "newest") == "scans/june"
    assert held(place)["mask-1.png"] == b"2"
    assert not (place / "clear-2.nc").exists(), "ours, unchanged, and not of the new plan"
    assert os.listdir(place.parent) == ["tag-plan"]


@pytest.mark.parametrize("name", ["clear-1.nc", "clear-2.nc", "plan.json"])
def test_a_file_of_ours_that_was_edited_is_kept_beside_and_told(place, name):
    edited = (place / name).read_bytes().replace(b"}\n", b',"mine": 1}\n') + b"\n"
    (place / name).write_bytes(edited)
    stem, _, suffix = name.partition(".")
    said = written(place, 2)
    assert (place / f"{stem}-kept.{suffix}").read_bytes() == edited
    assert len(said) == 1
    assert f"{name} was changed" in said[0]
    assert (place / name).exists() == (name != "clear-2.nc")
    # A further plan leaves what was kept alone, and takes no name twice.
    if (place / name).exists():
        (place / name).write_bytes(edited + b"\n")
        written(place, 3)
        assert (place / f"{stem}-kept.{suffix}").read_bytes() == edited
        assert (place / f"{stem}-kept-2.{suffix}").read_bytes() == edited + b"\n"


def test_anothers_file_whose_name_the_plan_wants_is_kept_beside(place):
    (place / "preview.png").write_bytes(b"my own")
    said = written(place, 2, **{"preview.png": b"ours"})
    assert (place / "preview-kept.png").read_bytes() == b"my own"
    assert (place / "preview.png").read_bytes() == b"ours"
    assert said == ("preview.png is not ours; it is kept as preview-kept.png",)


def test_rework_for_the_earlier_plan_stays_and_is_told_not_to_fit(place):
    write_file(place / "rework-1.nc", PROGRAM)
    assert written(place, 2) == (
        "rework-1.nc was made for the earlier plan and does not fit this one",
    )
    assert (place / "rework-1.nc").exists()


@pytest.mark.parametrize(
    ("plan", "says"),
    [
        ("a shopping list", "is no plan of ours"),
        ('{"format": "another-plan-1"}', "is no plan of ours"),
        ("[" * 100_000, "is no plan of ours"),
        ('{"format": "stopout-plan-1"}', "nothing there was touched; rename that folder"),
        ('{"format": "stopout-plan-1", "written": ["x"]}', "damaged"),
        ('{"format": "stopout-plan-1", "written": {"../notes.txt": "0"}}', "damaged"),
    ],
)
def test_a_plan_json_that_is_not_ours_is_refused_and_nothing_touched(tmp_path, plan, says):
    place = tmp_path / "tag-plan"
    place.mkdir()
    (place / "plan.json").write_text(plan)
    (place / "clear-1.nc").write_bytes(b"mine")
    before = held(place)
    for act in (written, lambda at: check_free(at, replace_with="plan.json")):
        with pytest.raises(OutputError, match=says):
            act(place)
    assert held(place) == before
    assert os.listdir(tmp_path) == ["tag-plan"]


def test_the_same_bytes_are_written_whatever_stood_there_before(place, tmp_path):
    written(place, 2)
    written(tmp_path / "other", 2)
    assert held(place) == held(tmp_path / "other")


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("PNG", PNG),
        ("PDF", b"%PDF-1.7\n%%EOF\n"),
        ("HTML", b"<!doctype html>\n<p>\n"),
        ("program", PROGRAM),
    ],
)
def test_a_file_that_is_ours_may_be_replaced_until_somebody_edits_it(tmp_path, kind, data):
    target = tmp_path / "out.bin"
    write_file(target, data)
    check_replaceable(target, kind=kind)
    whole = target.read_bytes()
    assert whole == sealed(data)
    for k in range(0, len(whole), max(1, len(whole) // 60)):
        target.write_bytes(whole[:k] + bytes([whole[k] ^ 1]) + whole[k + 1 :])
        with pytest.raises(OutputError):
            check_replaceable(target, kind=kind)
    # Anyone else's file of the same kind is not taken for ours either.
    target.write_bytes(data)
    with pytest.raises(OutputError, match="someone else's"):
        check_replaceable(target, kind=kind)


def test_a_sealed_picture_still_is_a_picture():
    import io

    from PIL import Image

    with Image.open(io.BytesIO(sealed(PNG))) as picture:
        picture.load()
        assert picture.size == (1, 1)


def test_pages_printed_again_are_replaced_by_the_next_plan(place):
    written(place, 2, **{"sheet.pdf": b"%PDF-1.7 metric\n%%EOF\n"})
    check_replaceable(place / "sheet.pdf", kind="PDF")
    write_file(place / "sheet.pdf", b"%PDF-1.7 inches\n%%EOF\n")
    assert written(place, 3, **{"sheet.pdf": b"%PDF-1.7 metric\n%%EOF\n"}) == ()
    assert not (place / "sheet-kept.pdf").exists()


# --- killed runs ------------------------------------------------------------------------------


def dead(place, *, exchanged):
    """Lay out what a killed run leaves: a hidden folder, before or after the exchange."""
    path = place.parent / ".stopout-work-abc"
    path.mkdir()
    work = hidden.WorkPlace(path)
    work.begin(place.name)
    for name, data in listed("plan.json", files(9)).items():
        (work.new / name).write_bytes(data)
    if exchanged:
        work.new.rename(place.parent / "swap")
        place.rename(work.new)
        (place.parent / "swap").rename(place)
    return work


def test_what_a_killed_run_left_is_removed_by_the_next(place):
    dead(place, exchanged=False)
    assert check_free(place, replace_with="plan.json") == ()
    assert os.listdir(place.parent) == ["tag-plan"]
    assert held(place)["mask-1.png"] == b"1"


def test_what_is_only_in_the_folder_of_a_killed_run_goes_back_to_its_place(place):
    (place / "notes.txt").write_text("mine")
    (place / "scans").mkdir()
    (place / "scans" / "a.tif").write_bytes(b"scan")
    dead(place, exchanged=True)
    (place / "notes.txt").write_text("newer")
    check_free(place, replace_with="plan.json")
    assert os.listdir(place.parent) == ["tag-plan"]
    assert (place / "notes.txt").read_text() == "newer"
    assert (place / "notes-kept.txt").read_text() == "mine"
    assert (place / "scans" / "a.tif").read_bytes() == b"scan"


def test_a_folder_that_waited_for_its_exchange_goes_back_whole(place):
    work = dead(place, exchanged=False)
    (place / "notes.txt").write_text("mine")
    before = held(place)
    place.rename(work.old)
    check_free(place, replace_with="plan.json")
    assert held(place) == before
    assert os.listdir(place.parent) == ["tag-plan"]


def test_the_folder_of_a_living_run_and_of_anyone_else_stays(place):
    with hidden.work_place(place.parent) as work:
        work.begin("other-plan")
        (work.new / "plan.json").write_bytes(b"half")
        check_free(place, replace_with="plan.json")
        written(place, 2)
        assert (work.new / "plan.json").exists()
    theirs = place.parent / ".stopout-work-theirs"
    (theirs / "photos").mkdir(parents=True)
    (theirs / "photos" / "a.jpg").write_bytes(b"x")
    written(place, 3)
    assert (theirs / "photos" / "a.jpg").exists()
    shutil.rmtree(theirs)
    assert os.listdir(place.parent) == ["tag-plan"]


@pytest.mark.parametrize("fault", [PermissionError, NotImplementedError])
def test_where_nothing_can_be_linked_everything_is_moved_and_told_once(place, monkeypatch, fault):
    """A disk without links, or a system that cannot link a link itself."""

    def refuse(*_, **__):
        raise fault

    monkeypatch.setattr(os, "link", refuse)
    (place / "notes.txt").write_text("mine")
    (place / "scans" / "june").mkdir(parents=True)
    (place / "scans" / "june" / "a.tif").write_bytes(b"scan")
    for name in ("clear-1.nc", "clear-2.nc"):
        (place / name).write_bytes(b"(edited)\n")
    write_file(place / "rework-1.nc", PROGRAM)
    assert written(place, 2) == (
        "clear-1.nc was changed since it was written; it is kept as clear-1-kept.nc",
        "clear-2.nc was changed since it was written; it is kept as clear-2-kept.nc",
        "rework-1.nc was made for the earlier plan and does not fit this one",
    )
    assert (place / "notes.txt").read_text() == "mine"
    assert (place / "scans" / "june" / "a.tif").read_bytes() == b"scan"
    assert (place / "clear-1-kept.nc").read_bytes() == b"(edited)\n"
    assert (place / "clear-2-kept.nc").read_bytes() == b"(edited)\n"
    assert (place / "clear-1.nc").read_bytes() == PROGRAM
    assert not (place / "clear-2.nc").exists(), "it is no program of this plan"


def test_where_two_folders_cannot_be_exchanged_they_are_renamed(place, monkeypatch):
    monkeypatch.setattr("stopout.folders.write.sys.platform", "another")
    (place / "notes.txt").write_text("mine")
    written(place, 2)
    assert (place / "notes.txt").read_text() == "mine"
    assert held(place)["mask-1.png"] == b"2"
    assert os.listdir(place.parent) == ["tag-plan"]
