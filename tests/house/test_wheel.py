"""The wheel holds all that the command needs: built, unpacked elsewhere, and run from there."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest
from thoroughness import THOROUGH

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir"]
    done = subprocess.run(
        [*command, str(folder), str(ROOT)], capture_output=True, text=True, timeout=300, check=False
    )
    if done.returncode and not os.environ.get("CI"):
        pytest.skip(f"WHEEL NOT BUILT, the build backend could not be had: {done.stderr[-500:]}")
    assert done.returncode == 0, done.stderr
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def unpacked(wheel):
    folder = wheel.parent / "installed"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


@pytest.fixture(scope="module")
def compiled(unpacked):
    """What is compiled of our own modules serves those of the wheel too, which are the same.

    Loops and byte code.
    """
    for module in unpacked.rglob("*.py"):
        own = ROOT / module.relative_to(unpacked)
        if own.is_file() and own.read_bytes() == module.read_bytes():
            shutil.copystat(own, module)  # the cache goes by the time of a module
            for kept in own.parent.glob(f"__pycache__/{own.stem}.*"):
                (module.parent / "__pycache__").mkdir(exist_ok=True)
                shutil.copy(kept, module.parent / "__pycache__")
    return unpacked


def test_it_holds_the_command_the_types_the_licence_and_the_demo(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        entry = next(name for name in names if name.endswith("entry_points.txt"))
        assert "seabed = layers.cli.main:main" in archive.read(entry).decode()
    for name in ("layers/py.typed", "seabed/py.typed", "layers/demo_area/area.toml",
                 "layers/demo_area/sound.tif", "layers/demo_area/catches.csv",
                 "layers/demo_area/making/bottom.py"):  # fmt: skip
        assert name in names
    assert any(name.endswith("licenses/LICENSE") for name in names)
    for package in ("seabed", "layers"):
        modules = [path.relative_to(ROOT).as_posix() for path in (ROOT / package).rglob("*.py")]
        assert set(modules) <= set(names)
    browser = [p.relative_to(ROOT).as_posix() for p in (ROOT / "layers/maps/browser").glob("*.*s")]
    assert browser
    assert set(browser) <= set(names)
    assert not [name for name in names if name.startswith(("tests/", "docs/", "benchmarks/"))]
    assert not [name for name in names if "__pycache__" in name or name.endswith(".pyc")]


def test_its_metadata_names_every_import(unpacked):
    """Each third-party package imported by our code is a declared dependency, or an extra."""
    from importlib.metadata import packages_distributions

    (metadata,) = unpacked.glob("*.dist-info/METADATA")
    headers = Parser().parsestr(metadata.read_text(encoding="utf-8"))
    declared = {
        requirement.split(";")[0].split("[")[0].split(">")[0].strip().lower().replace("_", "-")
        for requirement in headers.get_all("Requires-Dist", [])
    }
    imported = set()
    for path in [*(unpacked / "seabed").rglob("*.py"), *(unpacked / "layers").rglob("*.py")]:
        if "demo_area" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
                imported.add(node.module.split(".")[0])
    assert {"numpy", "numba", "typer", "fpdf", "openpyxl"} <= imported
    outside = imported - set(sys.stdlib_module_names) - {"seabed", "layers"}
    owners = packages_distributions()
    missing = {
        name
        for name in outside
        if not declared & {owner.lower().replace("_", "-") for owner in owners.get(name, [name])}
    }
    # affine comes with rasterio, branca with folium: part of their own interfaces
    assert missing <= {"affine", "branca", "packaging"}


def test_the_demo_runs_from_the_wheel_alone(compiled, tmp_path):
    """In the thorough set all of it, else a day of its water."""
    demo = compiled / "layers" / "demo_area"
    tide = ["tide", "--area", demo / "area.toml", "--date", "2031-06-14", "--out", "out"]
    code = "import layers; print(layers.__file__); from layers.cli.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *(["demo", "--out", "out"] if THOROUGH else tide)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(compiled)},
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    first = done.stdout.splitlines()[0]
    assert Path(first).is_relative_to(compiled)
    made = "trip/map.html" if THOROUGH else "tide_2031-06-14.csv"
    assert (tmp_path / "out" / made).stat().st_size > 1000
