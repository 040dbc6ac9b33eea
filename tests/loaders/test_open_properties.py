"""What must hold for any grid: written by another library and opened, it is the same."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from rasterio.transform import from_origin
from thoroughness import examples

from seabed.grid import Bounds, check_grid
from seabed.loaders import open_grid

SHAPES = arrays.array_shapes(min_dims=2, max_dims=2, min_side=2, max_side=12)
DEPTHS = arrays.arrays(np.float32, SHAPES, elements=st.floats(0.125, 8000, width=32))
ORDINARY = {"deadline": None, "max_examples": examples(40)}


def write(path, array, *, nodata=-9999.0, unit="m", **tags):
    with rasterio.open(
        path, "w", driver="GTiff", height=array.shape[0], width=array.shape[1], count=1,
        dtype=array.dtype.name, crs="EPSG:32631", nodata=nodata,
        transform=from_origin(500_000, 4_200_000, 4, 4),
    ) as data:  # fmt: skip
        data.write(array, 1)
        data.units = (unit,)
        data.update_tags(1, **tags)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("grids")


@given(depth=DEPTHS, holes=st.randoms(use_true_random=False))
@settings(**ORDINARY)
def test_depths_and_voids_come_back(folder, depth, holes):
    stored = depth.copy()
    hit = np.array([holes.random() < 0.2 for _ in range(depth.size)]).reshape(depth.shape)
    assume(not hit.all())
    stored[hit] = -9999
    grid = open_grid(write(folder / "a.tif", stored, positive="down"))
    check_grid(grid)
    np.testing.assert_array_equal(grid.values, np.where(hit, np.nan, depth))


@given(depth=DEPTHS)
@settings(**ORDINARY)
def test_sign_changes_nothing_but_the_sign(folder, depth):
    down = open_grid(write(folder / "d.tif", depth, positive="down"))
    up = open_grid(write(folder / "u.tif", -depth, positive="up"))
    guessed = open_grid(write(folder / "g.tif", -depth))
    np.testing.assert_array_equal(down.values, up.values)
    np.testing.assert_array_equal(down.values, guessed.values)


@given(depth=DEPTHS, offset=st.floats(0, 30, width=32))
@settings(**ORDINARY)
def test_an_offset_is_added_to_every_depth(folder, depth, offset):
    file = write(folder / "o.tif", depth, positive="down")
    plain, moved = open_grid(file), open_grid(file, offset_m=offset)
    np.testing.assert_allclose(moved.values, plain.values + np.float32(offset), rtol=1e-6)


@given(depth=DEPTHS, unit=st.sampled_from([("ft", 0.3048), ("fm", 1.8288), ("m", 1.0)]))
@settings(**ORDINARY)
def test_units_scale(folder, depth, unit):
    grid = open_grid(write(folder / "t.tif", depth, unit=unit[0], positive="down"))
    np.testing.assert_allclose(grid.values, depth * np.float32(unit[1]), rtol=1e-6)


@given(data=st.data(), depth=DEPTHS)
@settings(**ORDINARY)
def test_a_box_is_a_part_of_the_whole(folder, data, depth):
    file = folder / "b.tif"
    rows, columns = depth.shape
    with rasterio.open(
        file, "w", driver="GTiff", height=rows, width=columns, count=1, dtype="float32",
        crs="EPSG:4326", transform=from_origin(5, 50, 0.25, 0.25),
    ) as out:  # fmt: skip
        out.write(-depth, 1)
    first = data.draw(st.integers(0, columns - 1))
    last = data.draw(st.integers(first + 1, columns))
    top = data.draw(st.integers(0, rows - 1))
    bottom = data.draw(st.integers(top + 1, rows))
    box = Bounds(5 + 0.25 * first, 50 - 0.25 * bottom, 5 + 0.25 * last, 50 - 0.25 * top)
    part = open_grid(file, box=box)
    np.testing.assert_array_equal(part.values, depth[top:bottom, first:last])


@given(noise=st.binary(max_size=600))
@settings(**ORDINARY)
def test_noise_is_refused_with_one_of_our_errors(folder, noise):
    from seabed.errors import GridError

    for name in ("n.tif", "n.nc", "n.xyz", "n.asc", "n.bag"):
        for head in (b"", b"\x89HDF\r\n\x1a\n", b"CDF\x01", b"II*\x00", b"ncols 3\nnrows 2\n"):
            (folder / name).write_bytes(head + noise)
            try:
                open_grid(folder / name)
            except GridError as error:
                assert str(folder / name) in str(error)
