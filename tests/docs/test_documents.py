"""The documents say what is so: links, commands, job files, quoted outputs, keys and codes."""

from __future__ import annotations

import ast
import json
import re
import shlex
import tomllib
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from docs.bench_jobs import FOLDERS, OUR_TABLES, carried_out, lay_out, output_of
from docs.markdown import PAGES, ROOT, all_blocks, anchors, links
from stopout.cli.app import app
from stopout.values import Machine

REFERENCE = ROOT / "docs" / "reference"
BLOCKS = all_blocks()
NUMBER = re.compile(r"\d+(?:\.\d+)?")
COMMANDS = sorted(
    {
        line.split(" #")[0].strip()
        for block in BLOCKS
        if block.kind == "bash"
        for line in block.body.splitlines()
        if line.startswith("stopout ")
    }
)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_relative_link_leads_somewhere(page):
    for target in links(page):
        if re.match(r"[a-z]+:", target):
            continue
        path, _, fragment = target.partition("#")
        there = (page.parent / path).resolve() if path else page
        assert there.exists(), f"{page.name}: {target} is not there"
        assert not fragment or fragment in anchors(there), f"{page.name}: {target}: no such heading"


def test_every_page_of_docs_is_listed_in_its_index():
    index = ROOT / "docs" / "README.md"
    listed = {(index.parent / target).resolve() for target in links(index)}
    pages = {page for page in PAGES if page.parent not in (ROOT, index.parent)}
    assert {page for page in pages if page.parent.name != "changelog"} <= listed


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    """The folders that the documents speak of."""
    place = tmp_path_factory.mktemp("documents")
    lay_out(place)
    return place


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_line_of_the_documents_parses(command, laid):
    words = shlex.split(command.split(" > ")[0])[1:]
    job = next((word for word in words if word.endswith(".toml")), None)
    assert job is None or (laid / job).is_file()
    # `--help` at the end does nothing, but strange options are still refused.
    done = CliRunner().invoke(app, [*words, "--help"])
    assert done.exit_code == 0, done.output


@pytest.mark.parametrize("folder", sorted(FOLDERS))
def test_every_folder_of_a_job_that_the_documents_name_holds_one(folder):
    assert list(FOLDERS[folder].glob("*.toml"))


def test_each_command_is_described_with_each_of_its_options():
    text = (REFERENCE / "command-line.md").read_text(encoding="utf-8")
    group = typer.main.get_command(app)
    for name, command in group.commands.items():
        if command.hidden:
            continue
        assert f"## `stopout {name}`" in text, name
        part = text.split(f"## `stopout {name}`")[1].split("\n## ")[0]
        for path, inner in inner_commands(command, name):
            assert path.count(" ") != 1 or f"stopout {path}" in part, path
            for option in inner.params:
                for written in option.opts:
                    if written.startswith("--") and written != "--help":
                        assert re.search(rf"{written}(?![a-z-])", part), f"{path} {written}"


def inner_commands(command, path):
    """A command and those within it, each with how it is called."""
    yield path, command
    for name, inner in getattr(command, "commands", {}).items():
        yield from inner_commands(inner, f"{path} {name}")


QUOTES = [block for block in BLOCKS if block.order is not None]


@pytest.mark.parametrize("block", QUOTES, ids=str)
def test_quoted_outputs_are_what_the_tool_says_today(block):
    said = output_of(block.order)
    for quote in block.body.split("\n...\n"):
        assert is_said(quote, said), f"{block}: not said today:\n{quote}\n{said}"


def is_said(quote: str, said: str) -> bool:
    """Tell whether the words are there, with numbers within 2 % or two of the last digit."""
    quote, said = in_one_line(quote), in_one_line(said)
    pattern = NUMBER.sub(r"(\\d+(?:\\.\\d+)?)", all_but_numbers_escaped(quote))
    wanted = NUMBER.findall(quote)
    return any(
        all(is_close(w, g) for w, g in zip(wanted, match.groups(), strict=True))
        for match in re.finditer(pattern, said)
    )


def in_one_line(text: str) -> str:
    """Undo line breaks, and write `6 min 58 s` and `1 h 09 min` in seconds, as one number."""
    text = " ".join(text.split())
    text = re.sub(r"(\d+) h (\d+) min", lambda m: f"{3600 * int(m[1]) + 60 * int(m[2])} s", text)
    return re.sub(r"(\d+) min (\d+) s", lambda m: f"{60 * int(m[1]) + int(m[2])} s", text)


def all_but_numbers_escaped(quote: str) -> str:
    """Escape all but the numbers."""
    pieces = re.split(r"(\d+(?:\.\d+)?)", quote)
    return "".join(piece if k % 2 else re.escape(piece) for k, piece in enumerate(pieces))


def is_close(wanted: str, given: str) -> bool:
    digits = len(wanted.partition(".")[2])
    slack = max(0.02 * float(wanted), 2.01 * 10.0**-digits)
    return abs(float(wanted) - float(given)) <= slack


def test_a_quote_with_another_word_or_a_number_far_off_is_noticed():
    said = "coat 1: 19 openings, 310.0 mm^2; narrowest opening 0.310 mm"
    assert is_said("19 openings, 310.1 mm^2", said)
    assert not is_said("19 openings, 330.0 mm^2", said)
    assert not is_said("19 opening, 310.0 mm^2", said)


# Pieces of the tables are no pieces of a job file.
TABLES = ("[some-entry", "[[pairs.")
TOML = [b for b in BLOCKS if b.kind == "toml" and not any(t in b.body for t in TABLES)]


def test_the_tables_of_a_shop_in_the_documents_are_those_of_the_demo_and_load():
    from stopout.tables import open_shop_tables

    (block,) = (b for b in BLOCKS if b.kind == "toml" and "[[pairs." in b.body)
    assert tomllib.loads(block.body) == tomllib.loads(OUR_TABLES.read_text(encoding="utf-8"))
    assert open_shop_tables(OUR_TABLES).replaced == ("pairs.copper.ferric-chloride.rate",)


@pytest.mark.parametrize("block", TOML, ids=str)
def test_pieces_of_job_files_hold_keys_and_units_of_the_contract(block, tmp_path):
    from stopout.job.shop_numbers import Equipment
    from stopout.jobs import read_job

    written = tomllib.loads(block.body)
    starter = "sign" if "coat" in written or "light" in written else "plate"
    base = tomllib.loads((FOLDERS[f"my-{starter}"] / "job.toml").read_text(encoding="utf-8"))
    if "light" in written:
        # The sheet is marked bare: what is said of paint goes.
        del base["coat"], base["registration"]
    if "series" in written:
        # Its rows say how many pieces there are.
        base["job"].pop("quantity", None)
    machine = base["machine"]
    if "name" in written.get("machine", ()):
        base["machine"] = {}
    for key, value in written.items():
        if isinstance(value, dict):
            base.setdefault(key, {}).update(value)
        elif isinstance(value, list | str) and key in (
            *base,
            "coat",
            "text",
            "line",
            "frame",
            "code",
        ):
            base[key] = value
        else:
            home = {"pointer": "machine", "mark": "clearing"}.get(key, "etch")
            base[home][key] = value
    file = tmp_path / "job.toml"
    file.write_text(toml_of(base), encoding="utf-8")
    # What the documents name of a shop.
    kept = (
        ("machine", "bench-laser", machine),
        ("paint", "shed-black", {"paint": "epoxy-two-part"}),
        ("tray", "large", {"size": ["240 mm", "180 mm"]}),
        ("limits", "ours", {"edge_tolerance": "0.04 mm"}),
    )
    shop = [Equipment(date="2026-11-20", kind=k, name=n, keys=keys) for k, n, keys in kept]
    assert read_job(file, shop=lambda: tuple(shop)).name


def toml_of(job: dict) -> str:
    """Write a job back as TOML; its values are texts, numbers, lists and tables of such."""
    return "\n".join(f"{key} = {value_of(value)}" for key, value in job.items()) + "\n"


def value_of(value) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {value_of(v)}" for key, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(value_of, value)) + "]"
    return json.dumps(value)


MACHINE = Machine(
    spot_mm=(0.17, 0.12),
    spot_means="1/e2",
    wavelength_nm=450,
    power_w=5.5,
    top_speed_mm_s=100,
    acceleration_mm_s2=800,
    step_mm=0.0125,
    bed_mm=(400, 400),
    cornering_mm=0.01,
    power_word=1000.0,
    beam_on="M3",
    power_follows_speed=True,
)
PROGRAMS = [block for block in BLOCKS if block.kind == "gcode"]


@pytest.mark.parametrize("block", PROGRAMS, ids=str)
def test_programs_in_the_documents_are_read_and_proven(block):
    from stopout.program import prove_text

    assert prove_text(block.body, machine=MACHINE, blank_at_mm=(30, 30)) == ()


def test_every_key_of_a_real_plan_is_described():
    done = carried_out("stopout plan gate-plate/job.toml")
    assert done.status == 0, done.text
    assert done.plan is not None
    plan = json.loads(done.plan)
    text = (REFERENCE / "plan-json.md").read_text(encoding="utf-8")
    missing = sorted(key for key in keys_of(plan) if f"`{key}`" not in text)
    assert not missing


def keys_of(node) -> set[str]:
    if isinstance(node, list):
        return set().union(*map(keys_of, node)) if node else set()
    if not isinstance(node, dict):
        return set()
    # `written` is keyed by the names of files.
    inner = [keys_of(value) for key, value in node.items() if key != "written"]
    return set(node).union(*inner)


def test_every_code_of_a_finding_is_described():
    text = (REFERENCE / "plan-json.md").read_text(encoding="utf-8")
    source = ROOT / "src" / "stopout"
    codes = set()
    for file in source.rglob("*.py"):
        if "Finding" in file.read_text(encoding="utf-8"):
            codes |= set(codes_in(file))
    rules = tomllib.loads((source / "tables" / "data" / "refusals.toml").read_text())
    assert len(codes) > 25
    assert not sorted(code for code in codes | set(rules) if f"`{code}`" not in text)


def codes_in(file: Path) -> list[str]:
    """The texts given as `code=...`, or first to `Finding.stop` and the like, or looped over."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    calls = [call for call in ast.walk(tree) if isinstance(call, ast.Call)]
    given = [word.value for call in calls for word in call.keywords if word.arg == "code"]
    levels = {f"Finding.{level}" for level in ("stop", "caution", "note")}
    given += [call.args[0] for call in calls if call.args and ast.unparse(call.func) in levels]
    looped = [
        row.elts[0]
        for loop in ast.walk(tree)
        if isinstance(loop, ast.For) and isinstance(loop.iter, ast.Tuple)
        if isinstance(loop.target, ast.Tuple) and ast.unparse(loop.target.elts[0]) == "code"
        for row in loop.iter.elts
        if isinstance(row, ast.Tuple)
    ]
    return [node.value for node in given + looped if isinstance(node, ast.Constant)]


def test_pictures_are_small_and_each_is_shown_somewhere():
    shown = {(page.parent / t).resolve() for page in PAGES for t in links(page) if ".png" in t}
    pictures = set((ROOT / "docs" / "pictures").glob("*.png"))
    assert pictures == shown
    assert all(picture.stat().st_size < 200_000 for picture in pictures)


def test_changelog_fragments_have_one_of_the_five_kinds():
    for file in (ROOT / "docs" / "changelog").glob("*.md"):
        if file.name != "README.md":
            assert re.fullmatch(r"(added|changed|fixed|removed|numbers)-[a-z0-9-]+\.md", file.name)


def test_no_page_names_a_private_place():
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        private = "|".join(f"/{name}/" for name in ("work", "home", "tmp", "root"))
        assert not re.search(rf"{private}|file://|localhost", text), page.name
