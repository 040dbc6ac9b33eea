"""Imports run one way: held on the syntax tree, so that imports inside functions count too."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# In order: a room may import itself and rooms above it.
SEABED = ["compiled", "robust", "errors", "units", "files", "markup", "logs", "grid", "places",
          "planes", "loaders", "soundings", "terrain", "structure", "coasts"]  # fmt: skip
LAYERS = ["cautions", "area", "water", "tracks", "catches", "scoring", "planning", "logbook",
          "exports", "maps", "cli"]  # fmt: skip
ORDER = [f"seabed.{name}" for name in SEABED] + [f"layers.{name}" for name in LAYERS]


def modules() -> list[Path]:
    return sorted(
        path
        for package in ("seabed", "layers")
        for path in (ROOT / package).rglob("*.py")
        if "demo_area" not in path.parts
    )


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    return ".".join(module.split(".")[:2])


def imported(tree: ast.AST, module: str) -> list[tuple[int, str]]:
    """Every module of ours that `tree` imports, with its line; relative imports resolved."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*module.split(".")[: -node.level], base]).rstrip(".")
            deeper = base in ("seabed", "layers", "layers.cli")
            names = [f"{base}.{alias.name}" for alias in node.names] if deeper else [base]
            found += [(node.lineno, name) for name in names]
    return [(line, name) for line, name in found if name.split(".")[0] in ("seabed", "layers")]


def wrong_imports(source: str, module: str) -> list[str]:
    room = room_of(module)
    wrong = []
    for line, name in imported(ast.parse(source), module):
        other = room_of(name)
        if other in ("seabed", "layers", "seabed.__version__"):
            continue
        if other not in ORDER:
            wrong.append(f"{module}:{line} imports {other}, a room without a place in the order")
        elif room not in ORDER or ORDER.index(other) > ORDER.index(room):
            wrong.append(f"{module}:{line} imports {name}, a later room")
    return wrong


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_no_room_imports_a_later_one(path):
    module = name_of(path)
    if module in ("seabed", "layers"):
        assert not wrong_imports(path.read_text(encoding="utf-8"), f"{module}.errors")
        return
    assert not wrong_imports(path.read_text(encoding="utf-8"), module)


def test_every_room_has_a_place():
    rooms = {room_of(name_of(path)) for path in modules()} - {"seabed", "layers"}
    assert rooms <= set(ORDER)


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("seabed.grid", "import layers"),
        ("seabed.grid", "def f():\n    from layers.area import Area"),
        ("seabed.terrain.slope", "from seabed.structure import edges"),
        ("layers.water.wind", "from layers import tracks"),
        ("layers.water.wind", "from ..tracks import cut"),
        ("layers.exports.gpx", "import layers.maps.page"),
        ("layers.tracks.reading", "if True:\n    from layers.cli.options import Json"),
        ("layers.tracks.reading", "from layers.elsewhere import x"),
    ],
)
def test_the_test_sees_what_is_wrong(module, source):
    if source == "import layers":
        source = "import layers.area"
    assert wrong_imports(source, module)


def test_commands_import_nothing_heavy_at_the_top():
    """Held for what ``main`` imports: each command's own module and what it names at the top."""
    from layers.cli.main import COMMANDS

    for name in (*COMMANDS, "main", "options"):
        path = ROOT / "layers" / "cli" / f"{name}.py"
        if not path.exists():
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        top = ast.Module([node for node in tree.body if not isinstance(node, ast.If)], [])
        outside = {
            alias
            for node in top.body
            if isinstance(node, ast.Import | ast.ImportFrom)
            for alias in (
                [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else [item.name for item in node.names]
            )
        }
        allowed = {"typer", "layers.cli", "layers.cli.options", "layers.cautions", "seabed",
                   "seabed.errors"}  # fmt: skip
        standard = set(sys.stdlib_module_names)
        assert {n for n in outside if n.split(".")[0] not in standard} <= allowed, name
