"""Drifts in water that is the same everywhere are those that any water gives, only quicker."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from affine import Affine
from pyproj import Transformer

from layers.planning import DayWater, SafeWater, Setting
from layers.planning.drift._cells import NEAR_CELLS, CellPolynomials, cell_at, cell_index, flat_cell
from layers.water import FixedWind, HighLowTable, leeway_of
from layers.water.times import as_utc
from seabed.grid import make_grid
from seabed.grid.places import row_column

BAND = (5.0, 8.0)
START = np.datetime64("2031-06-14T08:00", "ns")
HOUR = np.timedelta64(3600, "s")


@dataclass(frozen=True)
class Turning:
    """A current that turns right through a tide."""

    everywhere: bool = True

    def velocity(self, times, longitude=None, latitude=None):
        phase = (as_utc(times) - START) / HOUR * 2 * np.pi / 12.4
        return 0.6 * np.cos(phase), 0.4 * np.sin(phase)


def shoal_grid(crs, transform, rows=150, columns=120):
    """Give a bottom that shoals to land in places."""
    x, y = np.meshgrid(np.linspace(0, 9, columns), np.linspace(0, 11, rows))
    depth = 5.0 + 5.5 * np.sin(x) * np.cos(y)
    return make_grid(
        np.where(depth > 0, depth, np.nan).astype(np.float32), transform=transform, crs=crs
    )


GRIDS = {
    "UTM": shoal_grid("EPSG:32625", Affine(10.0, 0, 500_000.0, 0, -10.0, 5_116_000.0)),
    "degrees": shoal_grid("EPSG:4326", Affine(1e-4, 0, 179.995, 0, -1e-4, 60.0)),
    "polar": shoal_grid("EPSG:3413", Affine(10.0, 0, 100_000.0, 0, -10.0, -2_000_000.0)),
}


def starts_on(grid, count=300):
    random = np.random.default_rng(4)
    x = random.choice(grid["x"].values, count) + random.uniform(-4e-5, 4e-5, count)
    y = random.choice(grid["y"].values, count)
    back = Transformer.from_crs(grid.rio.crs, "EPSG:4326", always_xy=True)
    return (np.asarray(part) for part in back.transform(x, y))


@pytest.mark.parametrize("name", GRIDS)
def test_cells_are_where_the_projection_has_them(name):
    grid = GRIDS[name]
    polynomials = CellPolynomials.of(grid)
    longitude, latitude = starts_on(grid)
    ours = np.array(
        [polynomials.row_column(*place) for place in zip(longitude, latitude, strict=True)]
    )
    theirs = np.stack(row_column(grid, longitude, latitude), axis=1)
    assert np.abs(ours - theirs).max() < NEAR_CELLS
    assert np.isnan(polynomials.row_column(longitude[0], -latitude[0])).all()


@pytest.mark.parametrize("name", GRIDS)
@pytest.mark.parametrize("held", [None, (0.2, 0.45)])
def test_boats_go_and_stop_as_they_do_step_by_step(name, held):
    """The step-by-step path has the projection itself, and Runge-Kutta at each boat's place."""
    grid = GRIDS[name]
    times = np.array([START - HOUR, START + 5 * HOUR])
    tide = HighLowTable(times, np.array([1.2, -0.4]), np.array([True, False]))
    water = DayWater(
        Turning(), leeway_of("skiff, V-hull"), FixedWind(4.0, 230.0), held_mps=held
    )  # fmt: skip
    setting = Setting(SafeWater.of(grid, tide), water, BAND)
    longitude, latitude = starts_on(grid)
    begins = START + np.arange(len(longitude)) % 4 * np.timedelta64(900, "s")
    quick = setting.drifts(longitude, latitude, begins, 600.0)
    slow = replace(setting, water=replace(water, currents=Turning(everywhere=False))).drifts(
        longitude, latitude, begins, 600.0
    )
    # a boat that stops within a thousandth of a cell of a border may stop a step apart
    same = quick.ended == slow.ended
    assert same.mean() > 0.99
    assert {0, 1} <= set(quick.ended[same].tolist())
    both = same & (np.isfinite(quick.longitude).sum(axis=1) == np.isfinite(slow.longitude).sum(1))
    assert both.mean() > 0.98
    metres = 111_000.0 * np.cos(np.radians(slow.latitude[both]))
    away = np.hypot(
        (quick.longitude - slow.longitude)[both] * metres,
        111_000.0 * (quick.latitude - slow.latitude)[both],
    )
    assert np.nanmax(away) < 1e-3
    assert np.nanmax(np.abs(quick.depth_m - slow.depth_m)[both]) < 1e-3
    # the slow path's cells are those of its places by the same polynomials; these are by projection
    there = np.isfinite(quick.longitude)
    row, column = row_column(grid, quick.longitude[there], quick.latitude[there])
    known = quick.cells[there] >= 0
    off = [part - np.floor(part) for part in (row, column)]
    clear = np.min([off, np.subtract(1, off)], axis=(0, 1)) > NEAR_CELLS
    flat = np.floor(row).astype(int) * grid.shape[1] + np.floor(column).astype(int)
    assert (quick.cells[there] == flat)[known & clear].all()
    assert known.mean() > 0.99
    assert (quick.cells[~there] == -1).all()


def test_places_are_in_the_cells_that_their_whole_numbers_name():
    """By a loop, on a grid of 4 rows and 7 columns, with places off it and unknown ones."""
    rng = np.random.default_rng(2)
    row, column = rng.uniform(-2, 9, (2, 300))
    row[:5] = column[5:9] = np.nan
    row[9:12], column[9:12] = (0.0, 4.0, 3.999), (7.0, 0.0, 6.999)
    expected = [
        int(r) * 7 + int(c) if 0 <= r < 4 and 0 <= c < 7 else -1
        for r, c in zip(row, column, strict=True)
    ]
    assert cell_index((4, 7), row, column).tolist() == expected
    assert [flat_cell(4, 7, place) for place in zip(row, column, strict=True)] == expected
    assert 20 < sum(one >= 0 for one in expected) < 280


def test_polynomials_of_places_are_those_of_another_library():
    rng = np.random.default_rng(4)
    row, column = np.moveaxis(rng.normal(0.0, 1.0, (6, 6, 2)), 2, 0)
    polynomials = CellPolynomials(np.array([-33.0, 46.0]), np.array([0.5, 0.2]), row, column)
    for x, y in rng.uniform(-1.0, 1.0, (5, 2)):
        place = cell_at(-33.0 + 0.5 * x, 46.0 + 0.2 * y, polynomials)
        assert place == pytest.approx(
            [np.polynomial.polynomial.polyval2d(x, y, part) for part in (row, column)]
        )
