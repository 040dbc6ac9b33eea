"""Imports run one way, those inside functions too: the contracts of pyproject.toml are kept."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("importlinter", reason="a tool of the dev group, which the test group lacks")

ROOT = Path(__file__).parents[2]

# A file, what is added to it, and what the linter then says.
WRONG = {
    "seabed/grid/contract.py": ("import layers.area", "seabed.grid.contract -> layers.area"),
    "seabed/units.py": (
        "def f():\n    from layers.area import Area",
        "seabed.units -> layers.area",
    ),
    "seabed/terrain/slope.py": (
        "from seabed.structure import edges",
        "seabed.terrain.slope -> seabed.structure.edges",
    ),
    "layers/water/wind/_wind.py": (
        "from layers import tracks",
        "layers.water.wind._wind -> layers.tracks",
    ),
    "layers/water/heights/stage.py": (
        "from ...tracks import cut",
        "layers.water.heights.stage -> layers.tracks",
    ),
    "layers/present/gpx.py": ("import layers.maps.page", "layers.present.gpx -> layers.maps.page"),
    "layers/tracks/reading.py": (
        "if True:\n    from layers.cli.deriving import Names",
        "layers.tracks.reading -> layers.cli.deriving",
    ),
    "layers/area/keys.py": ("import layers.area.model", "No cycles are allowed in layers.area."),
    "layers/elsewhere.py": ("", "not listed as layers:\n\n- layers.elsewhere"),
}


def contracts(folder: Path) -> subprocess.CompletedProcess[str]:
    code = "from importlinter.cli import lint_imports_command as lint; lint()"
    return subprocess.run(
        [sys.executable, "-c", code, "--no-cache"],
        cwd=folder, capture_output=True, text=True, check=False, timeout=300,
        env={**os.environ, "COLUMNS": "200"},
    )  # fmt: skip


def test_the_contracts_are_kept():
    done = contracts(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "4 kept, 0 broken" in done.stdout


def test_they_see_what_is_wrong(tmp_path):
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for package in ("seabed", "layers"):
        shutil.copytree(ROOT / package, tmp_path / package,
                        ignore=shutil.ignore_patterns("__pycache__", "browser"))  # fmt: skip
    for name, (source, _) in WRONG.items():
        with (tmp_path / name).open("a", encoding="utf-8") as file:
            file.write(f"\n{source}\n")
    done = contracts(tmp_path)
    assert done.returncode == 1, done.stderr
    for name, (_, said) in WRONG.items():
        assert said in done.stdout, name
