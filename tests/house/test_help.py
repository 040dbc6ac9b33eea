"""What the help of each command says, held against the options themselves.  Our own contract."""

from __future__ import annotations

import importlib
import re
import shlex
from dataclasses import dataclass

import pytest
import typer
from typer.main import get_command
from typer.testing import CliRunner

from layers.area.loading import keys_of, sections
from layers.area.model import Area
from layers.cli.app import COMMANDS, app
from layers.cli.deriving import Command, Names, callback_of
from layers.jobs import options
from layers.jobs.requests import request_of

WHOLE = get_command(app)


def helped(*words: str, columns: int = 80) -> str:
    done = CliRunner().invoke(
        app, [*words, "--help"], prog_name="seabed", env={"COLUMNS": str(columns)}
    )
    assert done.exit_code == 0, done.output
    return done.output


def options_of(name: str) -> list:
    return [one for one in WHOLE.commands[name].params if one.param_type_name == "option"]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_is(name):
    for option in options_of(name):
        assert option.help and len(option.help) > 10, option.opts
        assert option.is_flag or option.metavar, f"{option.opts} shows a type of ours"
    for argument in WHOLE.commands[name].params:
        assert argument.help, argument.name


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("columns", [80, 120])
def test_help_fits_the_window_and_shows_no_type_of_ours(name, columns):
    shown = helped(name, columns=columns)
    assert "\x1b" not in shown
    assert not re.search(r"list\[|<\w+>|…", shown)
    lines = [line for line in shown.splitlines() if not line.startswith("    seabed ")]
    assert max(map(len, lines)) <= columns


def test_no_command_is_described_with_half_a_sentence():
    part = helped().split("Commands:")[1].split("Start with")[0]
    assert re.findall(r"^  (\w+)  +\S", part, re.MULTILINE) == [*COMMANDS, "desk"]
    assert "..." not in part


@pytest.mark.parametrize("name", COMMANDS)
def test_every_example_is_taken_as_it_stands(name):
    said = importlib.import_module(f"layers.cli.commands.{name}").EXAMPLES
    examples = re.findall(r"^  seabed (.*)$", said, re.MULTILINE)
    assert examples
    for example in examples:
        words = shlex.split(example)
        assert words[0] == name
        WHOLE.commands[name].make_context(name, words[1:])  # a wrong option or word raises


def test_a_default_that_help_names_is_that_of_the_area_file():
    keys = {key.name: key.default for kind in (Area, *sections().values()) for key in
            keys_of(kind).values()}  # fmt: skip
    keys["units"] = keys["depth"]
    found = set()
    for name in COMMANDS:
        for option in options_of(name):
            said = re.search(r"\[area file, else (.+)\]", option.help)
            key = option.opts[0].lstrip("-").replace("-", "_")
            if said and keys.get(key) is not None:
                assert said[1] == str(keys[key]), (name, key)
                found.add(key)
    assert found >= {"contours", "units", "rods", "name_length", "timezone", "offset"}


def test_one_option_means_one_thing():
    """An option of one name has one help and one metavar, in every command."""
    own = {"--out", "--replace", "--date", "--salvage", "--line"}  # the lead's line, a drift's
    said: dict[str, tuple[str, str]] = {}
    for name in COMMANDS:
        for option in options_of(name):
            if option.opts[0] not in own:
                told = option.metavar, option.help.split("  [")[0]
                assert said.setdefault(option.opts[0], told) == told, (name, option.opts)
    close = [(one, other) for one in said for other in said if other == f"{one}s"]
    assert close == [], "two options that differ in a letter"


@pytest.mark.parametrize(
    ("words", "completed"),
    [
        ("scout --units f", ["ft", "fm"]),
        ("scout --sign e", ["elevation"]),
        ("scout --grid-unit ", ["auto", "m", "ft", "fm"]),
        ("season --export g", ["geojson", "geoparquet"]),
        ("soundings --depths-from k", ["keel"]),
        ("scout --grid-", ["--grid-unit"]),
        ("sou", ["soundings"]),
        ("scout sou", []),  # the shell itself names files then
    ],
)
def test_the_shell_completes_words_to_choose_from(words, completed):
    env = {
        "_SEABED_COMPLETE": "complete_bash",
        "COMP_WORDS": f"seabed {words}",
        "COMP_CWORD": str(len(f"seabed {words}x".split()) - 1),
    }
    done = CliRunner().invoke(app, [], prog_name="seabed", env=env)
    assert done.output.split() == completed


def test_the_shell_names_files_where_nothing_is_to_choose():
    env = {"_SEABED_COMPLETE": "source_bash"}
    script = CliRunner().invoke(app, [], prog_name="seabed", env=env).output
    assert "complete -o default -F" in script  # bash(1): -o default falls back to file names


@dataclass(frozen=True, kw_only=True)
class PairRequest(options.Request):
    first: tuple[str, ...] = options.argument("WORD", "Words.")
    one: str | None = options.option(None, metavar="WORD", help="One; or {two}.")
    two: int = options.option(2, metavar="N", help="Two.", section="More")
    last: bool = options.option(False, help="Last.")
    contours: str | None = None


def test_options_come_from_the_fields_of_a_request():
    given = []
    names = Names({"pair": PairRequest}, "pair")
    own = typer.Typer(rich_markup_mode=None)
    own.command(cls=Command)(callback_of(PairRequest, names, lambda *words: given.append(words)))
    run = CliRunner()
    assert run.invoke(own, ["a", "--two", "5", "b"]).exit_code == 0
    assert run.invoke(own, ["a", "--last", "--one", "x", "--json"]).exit_code == 0
    assert given == [
        (PairRequest(first=("a", "b"), two=5), False),
        (PairRequest(first=("a",), one="x", last=True), True),
    ]
    shown = run.invoke(own, ["--help"], env={"COLUMNS": "80"}).output
    assert re.search(r"Usage: .*\[OPTIONS\] WORD\.\.\.", shown)
    assert shown.index("WORD...  Words.") < shown.index("--last") < shown.index("More:")
    assert "One; or --two." in shown
    assert "[default: auto]" in " ".join(shown.split())  # its default: no area file here


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_can_be_asked_for_without_a_command_line(name):
    """Requests are plain values, and their job is found by their name."""
    request = request_of(name)
    assert request.__name__ == f"{name.capitalize()}Request"
    assert callable(importlib.import_module(f"layers.jobs.{name}").run)
