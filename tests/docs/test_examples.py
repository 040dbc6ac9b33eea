"""The examples of docstrings, run in a copy of the demo area; the names that need one have one."""

from __future__ import annotations

import doctest
import importlib
import inspect
import os
import pkgutil
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

import layers
import seabed

DEMO = Path(__file__).parents[2] / "demo_area"
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
FLAT = {f"{package.__name__}.{name}": (package, name)
        for package in (seabed, layers) for name in package.__all__}  # fmt: skip
ROOMS = (
    "seabed.grid.arrays", "seabed.grid", "seabed.loaders", "seabed.grid.places", "seabed.soundings",
    "seabed.structure", "seabed.terrain", "seabed.units", "layers.area", "layers.catches",
    "layers.planning", "layers.present", "layers.logbook", "layers.maps", "layers.scoring",
    "layers.tracks", "layers.water", "layers.water.learned.learning",
    "layers.water.stations.importers", "layers.water.stations.station_file", "seabed.change",
)  # fmt: skip
"""Rooms each of whose public functions has an example."""


def modules() -> Iterator[str]:
    """Every module with an example in it."""
    for package in (seabed, layers):
        yield package.__name__
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            spec = found.module_finder.find_spec(found.name)
            if spec and ">>> " in Path(str(spec.origin)).read_text(encoding="utf-8"):
                yield found.name


@pytest.fixture(scope="module", autouse=True)
def _in_a_copy_of_the_demo_area(tmp_path_factory):
    folder = tmp_path_factory.mktemp("examples") / "area"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("making", "*.py"))
    before = Path.cwd()
    os.chdir(folder)
    yield
    os.chdir(before)


@pytest.mark.parametrize("name", list(modules()))
def test_the_examples_of_a_module_are_true(name: str):
    module = importlib.import_module(name)
    assert isinstance(module, ModuleType)
    failed, tried = doctest.testmod(module, optionflags=FLAGS, report=True)
    assert tried
    assert not failed, f"{failed} of {tried} examples fail; they are printed above"


@pytest.mark.parametrize("name", FLAT)
def test_a_flat_name_has_an_example(name: str):
    package, own = FLAT[name]
    shown = getattr(package, own)
    assert ">>> " in (shown.__doc__ or ""), name


@pytest.mark.parametrize("room", ROOMS)
def test_every_public_function_of_a_room_has_an_example(room: str):
    module = importlib.import_module(room)
    public = getattr(module, "__all__", [name for name in vars(module) if name[0] != "_"])
    functions = {name: getattr(module, name) for name in public}
    functions = {name: one for name, one in functions.items() if inspect.isfunction(one)}
    assert functions
    assert not {name for name, one in functions.items() if ">>> " not in (one.__doc__ or "")}


def test_there_are_some_fifty_flat_names_and_both_lists_agree():
    assert 45 <= len(FLAT) <= 60
    for package in (seabed, layers):
        assert set(package.__all__) <= set(dir(package))
        assert sorted(package.__all__) == sorted(set(package.__all__))
    with pytest.raises(AttributeError, match="module 'seabed' has no attribute 'chart'"):
        _ = seabed.chart


def test_importing_them_loads_nothing_and_rooms_come_when_asked():
    code = """
import sys
import layers, seabed
assert not {"numpy", "pandas", "xarray", "pyproj"} & sys.modules.keys()
import xarray as xr
assert "slope" in dir(xr.DataArray([1.0]).seabed)
import seabed.grid, seabed.structure, seabed.loaders
assert layers.tracks.cut is layers.cut
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_grids_have_methods_whichever_is_imported_first():
    """Where ours is first: the test above."""
    code = """
import xarray as xr
import seabed
assert "slope" in dir(xr.DataArray([1.0]).seabed)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_methods_of_a_grid_do_what_the_functions_do():
    grid = seabed.example_grid()
    assert grid.seabed.slope().equals(seabed.slope(grid))
    assert grid[::-1].seabed.humps(min_height_m=1).equals(seabed.humps(grid, min_height_m=1))
    assert "Steepness" in grid.seabed.slope.__doc__
    assert all(callable(getattr(grid.seabed, name)) for name in dir(grid.seabed))
    with pytest.raises(AttributeError, match="no method 'slop' of a grid; there are as_grid"):
        _ = grid.seabed.slop
