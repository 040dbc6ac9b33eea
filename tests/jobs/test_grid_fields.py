"""What is given of a grid, on the command line or in the area file, holds in every command."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from layers.jobs.check._checking import check_file
from layers.jobs.parts.settings import area_of
from layers.jobs.parts.structure import open_area_grid
from layers.jobs.requests import CheckRequest, ScoutRequest
from seabed.errors import AreaError, SeabedError
from seabed.grid import degree_bounds


@pytest.fixture
def two(tmp_path):
    """Two variables of 40 by 60 cells of 0.001 degrees, 3 and 7 fathoms down everywhere."""
    path = tmp_path / "two.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=60, height=40, count=2, dtype="float32", crs="EPSG:4326",
        transform=from_origin(-33.4, 46.2, 0.001, 0.001),
    ) as file:  # fmt: skip
        for band, fathoms in ((1, 3.0), (2, 7.0)):
            file.write(np.full((40, 60), fathoms, "float32"), band)
    return path


SAID = {"sign": "depth", "unit": "fm", "offset": "-0.8 m", "variable": "2",
        "box": "-33.38,46.17,-33.36,46.19"}  # fmt: skip


@pytest.mark.parametrize("where", ["options", "area file"])
def test_all_that_can_be_said_of_a_grid_is_heard(two, tmp_path, where):
    if where == "options":
        words = {("grid_unit" if key == "unit" else key): word for key, word in SAID.items()}
        area = area_of(ScoutRequest(**words))
    else:
        file = tmp_path / "area.toml"
        keys = "".join(f'{key} = "{word}"\n' for key, word in SAID.items())
        file.write_text(f"[grid]\n{keys}", encoding="utf-8")
        area = area_of(ScoutRequest(area=file))
    grid = open_area_grid(area, [two])
    assert grid.to_numpy() == pytest.approx(7 * 1.8288 - 0.8)
    box = degree_bounds(grid)
    # cells of 0.001 degrees that the box touches
    assert (box.west, box.south, box.east, box.north) == pytest.approx(
        (-33.38, 46.17, -33.36, 46.19), abs=0.0011
    )


def test_a_check_hears_which_variable_is_meant(two):
    area = area_of(CheckRequest(files=(), sign="depth", variable="2"))
    assert check_file(str(two), area).detail["variable"] == "band 2"


@pytest.mark.parametrize(
    "box", ["1,2,3", "east", "5,2,3,4", "1,9,3,4", "-190,2,3,4", "1,2,3,91", "nan,2,3,4"]
)
def test_a_bad_box_is_reported_with_the_key_or_the_option(tmp_path, box):
    with pytest.raises(SeabedError, match=r"box: .* can't be right.*Write west,south,east,north"):
        area_of(ScoutRequest(box=box))
    file = tmp_path / "area.toml"
    file.write_text(f'[grid]\nbox = "{box}"\n', encoding="utf-8")
    with pytest.raises(AreaError, match=r"area\.toml, \[grid\] box: .*west,south,east,north"):
        area_of(ScoutRequest(area=file))
