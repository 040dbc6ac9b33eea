"""Lines to sound next."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from made_soundings import CRS, cells
from pyproj import Geod
from thoroughness import THOROUGH

from layers.present import write_marks
from seabed.errors import GridError
from seabed.soundings.proposals.proposing import PROPOSALS, lines_to_sound
from seabed.soundings.surface._roughness import matern


def water(values=None, sigma=0.5, side=100, **options):
    depth = cells(values=np.full((side, side), 8.0) if values is None else values, **options)
    return depth, depth.copy(data=np.full(depth.shape, sigma, np.float32))


def cut_by(lines, depth, sigma, *, correlation_m, noise_m, counts):
    """Share of the variance that lines cut, cell by cell, one line after the other."""
    x, y = np.meshgrid(depth.x, depth.y)
    points = shapely.points(x[counts], y[counts])
    left = sigma[counts] ** 2
    before = left.sum()
    for line in lines.to_crs(depth.rio.crs).geometry:
        away = shapely.distance(points, line)
        left = left * (1 - matern(away / correlation_m) ** 2 * left / (left + noise_m**2))
    return 1 - left.sum() / before


def test_the_stated_gain_is_the_gain_there_is():
    """Reckoned again from the lines alone; a tenth of it for ends and coarse cells."""
    depth, sigma = water()
    lines = lines_to_sound(depth, sigma, length_m=2000, correlation_m=40)
    true = cut_by(
        lines, depth, sigma.values, correlation_m=40, noise_m=0.2, counts=depth.values > 0
    )
    assert lines["gain"].sum() == pytest.approx(true, rel=0.1)
    assert true > 0.4


def test_it_does_better_than_chance_lines_of_the_same_length():
    """A vague corner of a well-known ground: against 40 draws, or 15, of lines over the whole."""
    depth, sigma = water()
    sigma.values[:] = 0.1
    sigma.values[10:50, 50:90] = 0.8
    lines = lines_to_sound(depth, sigma, length_m=600, correlation_m=40)
    counts = depth.values > 0
    options = {"correlation_m": 40, "noise_m": 0.2, "counts": counts}
    ours = cut_by(lines, depth, sigma.values, **options)
    rng = np.random.default_rng(0)
    west, east = float(depth.x[0]), float(depth.x[-1])
    south, north = float(depth.y[-1]), float(depth.y[0])
    best = 0.0
    for _ in range(40 if THOROUGH else 15):
        at = rng.uniform(0, 1, 2)
        ways = [
            shapely.LineString(
                [(west + a * (east - west), south), (west + a * (east - west), north)]
            )
            for a in at[:1]
        ]
        table = lines.iloc[:1].to_crs(CRS).set_geometry(ways).assign(gain=0)
        best = max(best, cut_by(table, depth, sigma.values, **options))
    assert ours > best


def test_lines_stay_in_deep_water_and_in_the_length():
    values = np.full((100, 100), 8.0)
    values[40:60, 40:60] = np.nan  # an island
    values[:, :8] = 0.5  # a flat
    depth, sigma = water(values)
    lines = lines_to_sound(depth, sigma, length_m=3000, shallowest_m=1.0, correlation_m=40)
    assert len(lines) > 3
    assert lines["length_m"].sum() <= 3000
    x, y = np.meshgrid(depth.x, depth.y)
    bad = ~(values >= 1.0)
    blocked = shapely.unary_union(
        shapely.box(x[bad] - 1.9, y[bad] - 1.9, x[bad] + 1.9, y[bad] + 1.9)
    )
    assert not lines.to_crs(CRS).intersects(blocked).any()


def test_lines_run_side_by_side_and_back_and_forth():
    depth, sigma = water()
    lines = lines_to_sound(depth, sigma, length_m=2500, correlation_m=40, spacing_m=50)
    main = lines[lines["kind"] == "main"].to_crs(CRS)
    assert len(main) > 3
    for one, other in itertools.combinations(main.geometry, 2):
        assert one.distance(other) > 45
    turn = np.diff(main["bearing_deg"]) % 360
    np.testing.assert_allclose(turn, 180, atol=0.1)
    assert lines["line"].tolist() == [f"S{i}" for i in range(1, len(lines) + 1)]


def test_crossing_lines_cross_two_others():
    depth, sigma = water()
    lines = lines_to_sound(depth, sigma, length_m=4000, correlation_m=40)
    main, cross = (lines[lines["kind"] == kind] for kind in ("main", "cross"))
    assert len(cross)
    for line in cross.geometry:
        assert main.intersects(line).sum() >= 2
    assert cross["length_m"].sum() <= 400


def test_only_the_band_counts():
    values = np.tile(np.linspace(2, 20, 100), (100, 1))
    depth, sigma = water(values)
    lines = lines_to_sound(depth, sigma, length_m=1000, band=(6.0, 9.0), correlation_m=20)
    middle = lines[lines["kind"] == "main"].to_crs(CRS).geometry.centroid
    column = (middle.x - float(depth.x[0])) / 4.0
    assert (values[0, column.astype(int)] > 5.5).all()
    assert (values[0, column.astype(int)] < 9.5).all()
    with pytest.raises(GridError, match="is between 30 and 40 m"):
        lines_to_sound(depth, sigma, length_m=1000, band=(30.0, 40.0))


def test_on_a_geographic_grid_lengths_are_metres():
    depth, sigma = water(crs="EPSG:4326", cell=5e-5, west=-33.4, north=60.2)
    lines = lines_to_sound(depth, sigma, length_m=1000, correlation_m=30)
    assert len(lines)
    earth = Geod(ellps="WGS84")
    true = [earth.geometry_length(line) for line in lines.geometry]
    np.testing.assert_allclose(lines["length_m"], true, rtol=1e-6)
    assert 0.5 * 1000 < lines["length_m"].sum() < 1.01 * 1000


def test_nothing_to_gain_gives_no_lines():
    depth, sigma = water(sigma=0.0)
    lines = lines_to_sound(depth, sigma, length_m=1000)
    assert len(lines) == 0
    assert tuple(lines.columns) == PROPOSALS.names


def test_the_plotter_takes_them(tmp_path):
    depth, sigma = water()
    lines = lines_to_sound(depth, sigma, length_m=1000)
    marks = write_marks(tmp_path / "sound_next.gpx", lines)
    assert [way.name for way in marks.routes] == lines["line"].tolist()
