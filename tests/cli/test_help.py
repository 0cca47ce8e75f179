"""The help of every command: plain names, and what is taken where nothing is said."""

from __future__ import annotations

import subprocess
import sys

import pytest
import typer
from typer.testing import CliRunner

from stopout.cli.app import app


def orders(command, words=()):
    groups = getattr(command, "commands", None)
    if groups is None:
        yield words
        return
    for name, one in groups.items():
        yield from orders(one, (*words, name))


ORDERS = sorted(orders(typer.main.get_command(app)))


@pytest.mark.parametrize("order", [(), ("coupon",), ("shop",), *ORDERS], ids=" ".join)
def test_no_help_shows_braces_doubled_brackets_or_the_type_of_a_switch(order):
    text = CliRunner().invoke(app, [*order, "--help"], env={"COLUMNS": "200"}).output
    assert "Usage:" in text
    for odd in ("{", "[[", "<", "\\["):
        assert odd not in text, odd


@pytest.mark.parametrize("order", [(), ("coupon",), ("shop",), *ORDERS], ids=" ".join)
def test_help_has_the_letters_of_the_parsers_own_layout(order, monkeypatch):
    # The reference: typer.rich_utils, by the library that we do without.
    widths = [{"COLUMNS": str(width)} for width in (60, 80, 120)]
    ours = "".join(CliRunner().invoke(app, [*order, "--help"], env=env).output for env in widths)
    monkeypatch.setattr("stopout.cli.speech.plain_help.help_page", lambda *_, **__: "")
    theirs = "".join(CliRunner().invoke(app, [*order, "--help"], env=env).output for env in widths)
    assert [line.rstrip() for line in ours.splitlines() if line.strip()] == [
        line.rstrip() for line in theirs.splitlines() if line.strip()
    ]


@pytest.mark.parametrize("order", ORDERS, ids=" ".join)
def test_every_command_that_ends_by_itself_takes_json_and_has_an_example(order):
    text = CliRunner().invoke(app, [*order, "--help"], env={"COLUMNS": "200"}).output
    assert "Example" in text
    assert f": stopout {order[0]}".replace("again", "rework") in text
    assert ("--json" in text) == (order not in {("watch",), ("bench",)})


def test_a_narrow_terminal_gets_help_too():
    text = CliRunner().invoke(app, ["rework", "--help"], env={"COLUMNS": "44"}).output
    assert "--box" in text
    assert max(len(line) for line in text.splitlines()) <= 44


def test_the_lines_of_the_commands_are_those_that_they_say_themselves():
    group = typer.main.get_command(app)
    said = {name: one for name, one in group.commands.items() if not one.hidden}
    assert dict(group.listed(None)) == {
        name: (one.short_help or one.help).split("\n\n")[0].replace("\n", " ")
        for name, one in said.items()
    }


def test_help_loads_no_module_of_a_command_and_no_library_of_numbers_or_layout():
    words = (
        "import atexit, sys; sys.argv = ['stopout', '--help']\n"
        "heavy = {'numpy', 'shapely', 'rich', 'pydantic', 'stopout.cli.plan'}\n"
        "atexit.register(lambda: print(sorted(heavy & {*sys.modules})))\n"
        "from stopout.cli.app import main\n"
        "main()"
    )
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("[]")


def test_what_is_typed_is_read_without_the_library_of_forms():
    words = (
        "import sys; from stopout.cli import app; app.can_bound = lambda: False\n"
        "sys.argv = ['stopout', 'plan', 'none.toml', '--out', 'none', '--quiet']\n"
        "try: app.main()\n"
        "except SystemExit: print('pydantic' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    assert "none.toml: job file: is not there" in done.stderr
    assert done.stdout.split() == ["False"]


def test_the_former_name_of_rework_is_hidden():
    assert ("again",) in ORDERS
    shown = CliRunner().invoke(app, ["--help"]).output
    assert "rework" in shown
    assert "again  " not in shown


def test_what_is_taken_where_nothing_is_said_is_shown():
    text = CliRunner().invoke(app, ["rework", "--help"], env={"COLUMNS": "200"}).output
    assert "[the only one that is cleared]" in text


@pytest.mark.parametrize("written", ["60x40", "60mm,40mm", "60 x 4 cm", "6cm×40", "60,40"])
def test_every_size_takes_the_same_forms(written):
    from stopout.cli.asked.sizes import parse_size_mm

    assert parse_size_mm("--size", written) == (60.0, 40.0)


@pytest.mark.parametrize("written", ["60", "60x", "0x40", "60x40x3", "-60x40", "widexhigh"])
def test_no_size_is_refused_with_the_options_name(written):
    from stopout.cli.asked.sizes import parse_size_mm
    from stopout.errors import UnitError

    with pytest.raises(UnitError, match="--size"):
        parse_size_mm("--size", written)
