"""Imports run downwards only: the import lines of the package against the picture of the house.

    cli   web                                          argv, terminal, HTTP, exit codes
    library                                            the roads from file to file; `import stopout`
    jobs   artwork   tables   records   folders   pictures   sheet   plan_file   files
    typefaces                                          which fonts are shipped
    planning                                           joins; still pure
    outcome   job   scans                              goes forwards; what was asked; what is seen
    mask   clearing   program   etching   coupons      calculation; pure
    values   units   errors   wording   copies   links

Within a row only the imports named below are allowed. Inside a part, rooms stand in rows of their
own (`ROOMS`). Whoever moves a part or a room moves it here too.
"""

from __future__ import annotations

import pytest

from effort import HANGS_S
from house_code import FILES, ROOT, looked_at

ROWS = [
    {"values", "units", "errors", "wording", "copies", "links"},
    {"mask", "clearing", "program", "etching", "coupons"},
    {"outcome", "job", "scans"},
    {"planning"},
    {"typefaces"},
    {"jobs", "artwork", "tables", "records", "folders", "pictures", "sheet", "plan_file"},
    {"library"},
    {"cli", "web"},
]
HEIGHT = {name: k for k, row in enumerate(ROWS) for name in row}
# Within one row: who may use whom.
SIDEWAYS = {
    ("values", "errors"),
    ("values", "wording"),
    ("errors", "wording"),
    ("units", "errors"),
    ("clearing", "mask"),
    ("coupons", "mask"),
    ("coupons", "clearing"),
    ("coupons", "etching"),
    ("sheet", "pictures"),
    # Names that people type are looked up in one place.
    ("jobs", "tables"),
    # The command that serves the page.
    ("cli", "web"),
}
# The rooms of a part, row by row from the ground: a room uses those of lower rows only. Files that
# stand in the part itself are its faces and records; every room may use them.
ROOMS = {
    "planning": [
        {"measures"},
        {"findings", "signs", "verdict", "book"},
        {"etch", "opening"},
        {"road"},
        {"coupon", "panel"},
    ],
    "clearing": [{"beam"}, {"filling"}, {"ringed", "moving"}],
    "scans": [{"registering"}, {"measuring"}, {"fitting"}, {"reading"}, {"inspecting"}],
    "artwork": [{"regions"}, {"fonts", "raster"}, {"svg", "pdf"}, {"dxf", "setting"}],
    "etching": [{"safety", "rates"}, {"bath"}, {"after", "findings"}],
    "pictures": [{"means"}, {"piece"}],
    "sheet": [{"drawings"}, {"stages"}, {"contents"}, {"paper", "phone"}],
    "jobs": [{"forms"}, {"keys"}, {"checking", "described"}],
    "cli": [{"speech"}, {"limits"}, {"asked"}, {"bathing", "scanning", "keeping"}],
}
# Downwards, and forbidden all the same: the judge shares nothing with whom it judges.
NEVER = {("outcome", "mask"), ("outcome", "clearing")}
CORE = {name for row in ROWS[:4] for name in row}
# What the core leaves to the rooms with doors: files, terminals, clocks, chance, validation.
OUTDOORS = {
    "argparse",
    "datetime",
    "io",
    "logging",
    "os",
    "pathlib",
    "pydantic",
    "random",
    "rich",
    "secrets",
    "shutil",
    "socket",
    "sqlite3",
    "subprocess",
    "sys",
    "tempfile",
    "time",
    "tomllib",
    "typer",
    "urllib",
}
OUTDOOR_CALLS = {"open", "print", "input", "exec", "eval", "exit", "breakpoint"}


def part_of(file):
    """The part of the house that a file belongs to."""
    return file.parts[0] if len(file.parts) > 1 else file.stem


def imports_of(file):
    """Every module that a file imports: (module, line); parts of the package by their name."""
    found = []
    for line, module, names in looked_at(file).imports:
        if module == "stopout" and names:
            found += [(f"stopout.{name}", line) for name in names]
        else:
            found.append((module, line))
    return found


def modules_used(file):
    """The modules that a file imports names of, and those names as modules."""
    used = set()
    for _, module, names in looked_at(file).imports:
        if names:
            used |= {module, *(f"{module}.{name}" for name in names)}
    return used


def parts_used(file):
    """(part, line) of the package that a file imports."""
    used = []
    for module, line in imports_of(file):
        names = module.split(".")
        if names[0] == "stopout" and len(names) > 1:
            used.append((names[1], line))
    return used


def test_the_picture_names_every_part_of_the_package():
    parts = {part_of(file) for file in FILES} - {"__init__", "__main__"}
    assert parts <= set(HEIGHT), "a new part: draw it into the picture"


@pytest.mark.parametrize("file", FILES, ids=str)
def test_imports_run_downwards_only(file):
    own = part_of(file)
    if own in ("__init__", "__main__"):
        return
    wrong = []
    for used, line in parts_used(file):
        if used in (own, "__version__"):
            continue
        is_below = HEIGHT[used] < HEIGHT[own]
        is_beside = HEIGHT[used] == HEIGHT[own] and (own, used) in SIDEWAYS
        if (own, used) in NEVER or not (is_below or is_beside):
            wrong.append(f"{file}:{line}: {own} imports {used}")
    assert wrong == []


def room_of(module):
    """(part, room) of a module's path below the package, or None where it stands in no room."""
    if len(module) > 1 and (ROOT / module[0] / module[1]).is_dir():
        return module[0], module[1]
    return None


def test_the_rows_name_every_room():
    rooms = {room_of(file.parts) for file in FILES if len(file.parts) > 2}
    named = {(part, room) for part, rows in ROOMS.items() for row in rows for room in row}
    assert {room for room in rooms if room} == named


@pytest.mark.parametrize("part", ROOMS)
def test_rooms_of_one_part_use_those_below_them_only(part):
    height = {room: k for k, row in enumerate(ROOMS[part]) for room in row}
    wrong = []
    for file in FILES:
        own = room_of(file.parts)
        if own is None or own[0] != part:
            continue
        for module, line in imports_of(file):
            used = room_of(module.split(".")[1:])
            if used and used[0] == part and used != own and height[used[1]] >= height[own[1]]:
                wrong.append(f"{file}:{line}: {own[1]} imports {used[1]}")
    assert wrong == []


@pytest.mark.parametrize("file", [f for f in FILES if part_of(f) in CORE], ids=str)
def test_the_core_opens_prints_and_asks_nothing(file):
    wrong = [
        f"{file}:{line}: {module}"
        for module, line in imports_of(file)
        if module.split(".")[0] in OUTDOORS
    ]
    seen = looked_at(file)
    wrong += [f"{file}:{line}: calls {name}" for line, name in seen.calls if name in OUTDOOR_CALLS]
    # Chance that takes no seed.
    wrong += [
        f"{file}:{line}: {name}" for line, name in seen.attributes if name.startswith("np.random.")
    ]
    assert wrong == []


def test_outcome_shares_no_offsetting_with_the_planner():
    """Neither by import nor by calling the same engine: it never buffers a geometry."""
    wrong = [
        f"{file}:{line}: {name}"
        for file in FILES
        if part_of(file) == "outcome"
        for line, name in looked_at(file).attributes
        if name.rpartition(".")[2] in ("buffer", "offset_curve")
    ]
    assert wrong == []


def test_only_the_command_line_and_the_web_page_know_of_typer_and_exit_statuses():
    wrong = [
        f"{file}:{line}: {module}"
        for file in FILES
        if part_of(file) not in ("cli", "web")
        for module, line in imports_of(file)
        if module.split(".")[0] in ("typer", "click")
    ]
    assert wrong == []


def test_the_core_is_loaded_without_the_rooms_above_it():
    """As Python runs it: importing the planner loads no reader, no picture, no terminal."""
    import subprocess
    import sys

    code = (
        "import sys; import stopout.planning.road.whole;"
        "print(' '.join(sorted(m for m in sys.modules if m.startswith('stopout.'))));"
        "print(' '.join(m for m in ('pydantic', 'typer', 'cv2', 'typst') if m in sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={"PYTHONPATH": str(ROOT.parent), "PATH": ""},
        capture_output=True,
        text=True,
        check=True,
        timeout=HANGS_S,
    )
    ours, heavy = done.stdout.split("\n")[:2]
    assert {name.split(".")[1] for name in ours.split()} <= CORE
    assert heavy == ""


def test_no_file_uses_itself_by_way_of_others():
    """What stands in a part itself may be used by every room: that hides no circle.

    Imports at use and those for types alone count too.
    """
    modules = {
        ".".join(("stopout", *file.with_suffix("").parts))
        for file in FILES
        # A package's face only gathers what its files hold.
        if file.name != "__init__.py"
    }
    uses = {}
    for file in FILES:
        name = ".".join(("stopout", *file.with_suffix("").parts))
        if name in modules:
            uses[name] = modules_used(file) & modules
    while free := {name for name, used in uses.items() if not used & uses.keys()}:
        for name in free:
            del uses[name]
    assert sorted(uses) == []
