"""The page of commands against the commands."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

from layers.cli.app import COMMANDS
from layers.scoring.lines import gather_lines

PAGE = Path(__file__).parents[2] / "docs" / "commands.md"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_its_part_of_the_page(name):
    assert f"\n## seabed {name}\n" in PAGE.read_text(encoding="utf-8")


def test_the_options_named_for_the_plan_are_its_own(capsys):
    from layers.cli.main import main

    part = PAGE.read_text(encoding="utf-8").split("## seabed plan")[1].split("\n## ")[0]
    with pytest.raises(SystemExit):
        main(["plan", "--help"])
    helped = capsys.readouterr().out
    for option in re.findall(r"--[a-z][a-z-]+", part):
        assert option in helped


def test_the_line_in_the_examples_is_named_as_lines_are():
    """By the way it runs and a number, as `gather_lines` says."""
    assert '"SE1"' in (gather_lines.__doc__ or "")
    said = importlib.import_module("layers.cli.commands.marks").EXAMPLES
    assert re.findall(r"--line (\S+)", said) == ["SE1"]
