"""The pictures of the imports: they leave nothing out, and no box covers another."""

from __future__ import annotations

import ast
import sys
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "docs"))
graph = pytest.importorskip("import_graph", reason="the pages' dependencies are not installed")


@pytest.fixture(scope="module")
def arrows():
    return graph.rooms_of("seabed", "layers")


def test_imports_inside_functions_count(arrows):
    """Every room that a function of `layers.cli` imports from is in the picture."""
    rooms = {
        ".".join(node.module.split(".")[:2])
        for file in (ROOT / "layers" / "cli").rglob("*.py")
        for function in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(function, ast.FunctionDef)
        for node in ast.walk(function)
        if isinstance(node, ast.ImportFrom) and node.module.startswith(("seabed.", "layers."))
    } - {"layers.cli"}
    assert len(rooms) > 3
    assert rooms <= arrows["layers.cli"]
    assert not any(room.startswith("layers") for room in arrows["seabed.grid"])


def test_a_longer_way_replaces_a_shorter():
    arrows = {"a": {"b", "c", "d"}, "b": {"c"}, "c": set(), "d": {"c"}}
    assert graph.shortened(arrows) == {"a": {"b", "d"}, "b": {"c"}, "c": set(), "d": {"c"}}


@pytest.mark.parametrize("package", ["seabed", "layers"])
def test_every_box_has_its_own_place_and_every_arrow_leads_down(arrows, package):
    own = graph.within(arrows, package)
    short = graph.shortened(own)
    assert all(graph.reached(short, room) == graph.reached(own, room) for room in own)
    drawn = graph.drawing_of(short)
    at = graph.abscissae(drawn)
    row_of = {name: n for n, row in enumerate(drawn.rows) for name in row}
    assert all(row_of[a] == row_of[b] + 1 for a, b in drawn.pieces)
    assert {(path[0], path[-1]) for path in drawn.paths} == {
        (room, name) for room in short for name in short[room]
    }
    for row in drawn.rows:
        boxes = [at[name] for name in row if name in own]
        assert all(b - a > graph.BOX for a, b in pairwise(boxes))
        assert min(boxes) >= graph.BOX / 2
        assert max(boxes) <= graph.WIDTH - graph.BOX / 2
