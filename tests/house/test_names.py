"""One meaning a word: no class name twice in the project, no module name three times."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCES = [file for package in ("seabed", "layers") for file in (ROOT / package).rglob("*.py")]


def repeated(names: list[tuple[str, Path]], most: int) -> dict[str, list[str]]:
    """Names, without the underscore of private ones, that stand in more than `most` files."""
    places = defaultdict(list)
    for name, file in names:
        places[name.lstrip("_")].append(file.relative_to(ROOT).as_posix())
    return {name: files for name, files in places.items() if len(files) > most}


def test_no_class_name_stands_twice():
    names = [
        (node.name, file)
        for file in SOURCES
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
    ]
    assert len(names) > 100
    assert not repeated(names, 1), "a class name in two files"


def test_no_module_name_stands_three_times():
    names = [(file.stem, file) for file in SOURCES if file.stem not in {"__init__", "__main__"}]
    assert not repeated(names, 2), "a module name in three folders"
