"""Errors name settings by their key; each door puts its own word.  Our own contract."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest

from seabed.errors import GridError, SeabedError, with_settings

ROOT = Path(__file__).parents[2]


def option(key: str) -> str:
    return f"--{key}"


def test_a_message_says_place_fault_and_cure():
    error = GridError("no CRS", file="a.tif", where="band 1", do="Name it with {crs}.")
    assert str(error) == "a.tif, band 1: no CRS. Name it with crs."
    assert error.text(option) == "a.tif, band 1: no CRS. Name it with --crs."
    assert error.keys == ("crs",)


def test_the_setting_at_fault_comes_first_and_once():
    error = SeabedError("not so", key="band", do="Give {contours} or another {band}.")
    assert error.keys == ("band", "contours")
    assert error.text(option) == "--band: not so. Give --contours or another --band."


def test_without_key_or_cure_nothing_is_added():
    error = SeabedError("wrong.")
    assert (str(error), error.keys, error.text(option)) == ("wrong.", (), "wrong.")


@pytest.mark.parametrize(
    "text", ["Write {z}/{x}/{y}.", "Name {Sound}.", "{}", "{not a key}", "{a.tif}"]
)
def test_other_braces_stay(text):
    assert with_settings(text, option) == text


def test_commands_are_named_too():
    assert (
        with_settings("Write one with {seabed area}.", str.upper) == "Write one with SEABED AREA."
    )


def test_an_error_of_another_process_keeps_its_parts():
    error = pickle.loads(pickle.dumps(GridError("no CRS", file="a.tif", do="Give {crs}.")))
    assert error.text(option) == "a.tif: no CRS. Give --crs."


def test_libraries_speak_no_command_line():
    """Only the command line names its options, and style sheets their variables."""
    options = re.compile(r"(?:[\"'\s]|(?<!\bvar)\()--[a-z]")
    assert all(options.search(words) for words in ("give --band", "(--band)", "'--band'"))
    assert not options.search("color: var(--black)")
    for path in sorted([*ROOT.glob("seabed/**/*.py"), *ROOT.glob("layers/**/*.py")]):
        if "cli" not in path.parts and path.name != "errors.py":  # whose examples show both
            assert not options.search(path.read_text(encoding="utf-8")), path
