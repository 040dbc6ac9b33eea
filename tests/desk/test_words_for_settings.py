"""Each door has a word for every setting that messages name, or leaves its sentence out."""

import ast
import re
from functools import cache
from itertools import chain
from pathlib import Path

import pytest

import layers
from layers.area.loading import key_named, load_area, sections
from layers.cli.app import COMMANDS
from layers.cli.deriving import Names
from layers.desk.texts import plain_words
from layers.jobs.requests import request_of
from seabed.errors import AreaError

ROOT = Path(layers.__file__).parents[1]
DOORS = ("layers/cli", "layers/desk", "layers/area/_template.py", "layers/area/loading.py")
SETTING = re.compile(r"\{{1,2}((?:seabed )?[a-z_]{3,}(?:\.[a-z_]+)?)\}{1,2}")
OF_COMMANDS = {
    "area", "beyond_limits", "chunk", "jobs", "merge", "port", "prefer_other", "scheduler",
    "seabed area", "seabed check", "share", "structure", "unmatched", "zoom",
}  # fmt: skip
"""What no page sets: its sentence is left out there."""


@cache  # not while tests are collected: each worker would read all of the code
def texts():
    """Every text of the code but docstrings and doors, with its place; f-strings as written."""
    found = []
    for path in chain(ROOT.glob("seabed/**/*.py"), ROOT.glob("layers/**/*.py")):
        place = path.relative_to(ROOT).as_posix()
        if place.startswith(DOORS):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            value = node.value if isinstance(node, ast.Constant) else None
            if isinstance(value, str) and id(node) not in docs:
                found.append((f"{place}:{node.lineno}", value))
    return found


def settings():
    named = sorted({key for _, text in texts() for key in SETTING.findall(text)})
    assert len(named) > 50
    return named


def test_a_page_has_a_word_for_a_setting_or_leaves_it_out():
    for key in settings():
        words = plain_words(f"Do this. Set {{{key}}}.")
        assert (words == "Do this.") == (key in OF_COMMANDS), (key, words)
        assert "{" not in words, key
        assert "_" not in words, key


def test_every_command_names_a_setting_as_it_is_typed():
    requests = {name: request_of(name) for name in COMMANDS}
    for key in settings():
        for name in COMMANDS:
            words = Names(requests, name)(key)
            assert "--" in words or "[" in words or " " in words or words.isupper(), (key, words)
        section, _, own = key.rpartition(".")
        assert not section or key_named(section, own), key


def test_a_command_names_an_option_of_another_before_a_section():
    names = Names({name: request_of(name) for name in COMMANDS}, "check")
    assert [names("wind"), names("boat")] == ["--wind", "[boat] of the area file"]
    assert names("water.heights") == "[water] heights of the area file"


def test_no_message_names_what_only_one_door_has():
    """An option, a section or a key of the area file in a job's own words would reach a page."""
    keys = "|".join(("area", *sections()))
    own = re.compile(rf"(?<![\w-])--[a-z]|\[({keys})\] [a-z]|under \[|(in|of) the area file")
    place_of_key = re.compile(rf"\[({keys})\] \w+")
    wrong = [
        one
        for one in texts()
        if own.search(one[1]) and not place_of_key.fullmatch(one[1]) and "\n" not in one[1]
        if not one[0].startswith("layers/jobs/options.py")  # the help of options
    ]
    assert not wrong


def test_a_page_gives_what_to_write_and_the_file_its_quotes_too(tmp_path):
    area = tmp_path / "area.toml"
    area.write_text('[tackle]\nleads = "1 oz"\n[boat]\nrods = 2\n')
    with pytest.raises(AreaError) as refused:
        load_area(area)
    assert refused.value.do == "Write leads with their units, like 1 oz, 60 g."
    assert 'g. Use quotes and brackets, like ["1 oz", "1.5 oz", ' in str(refused.value)
