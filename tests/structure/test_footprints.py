"""Axes and bearings of footprints against triangles, rectangles and geodesics."""

import itertools

import numpy as np
import pytest
import shapely
from affine import Affine
from pyproj import Geod, Transformer

from seabed.grid import make_grid
from seabed.structure import humps
from seabed.structure.tree.outline import _axes, _moments

GEOD = Geod(ellps="WGS84")


def test_moments_are_those_of_its_triangles():
    """Over a triangle a quadratic is a third of the area times its sum at the sides' middles."""
    ring = np.array([[1, 1], [6, 2], [8, 5], [4, 9], [2, 6], [1, 1]], float)
    inner = np.array([4.0, 5.0])
    area, totals = 0.0, np.zeros(5)
    for a, b in itertools.pairwise(ring):
        part = ((a - inner)[0] * (b - inner)[1] - (a - inner)[1] * (b - inner)[0]) / 2
        x, y = np.array([(a + b) / 2, (b + inner) / 2, (inner + a) / 2]).T
        area += part
        totals += part / 3 * np.array([one.sum() for one in (x, y, x * x, x * y, y * y)])
    ours = _moments(ring)
    assert ours[0] == pytest.approx(area)
    assert ours[1] == pytest.approx(totals)


@pytest.mark.parametrize("bearing", [0.0, 30.0, 75.0, 120.0])
def test_axes_are_those_of_an_ellipse_of_the_same_spread(bearing):
    """A rectangle has the variance of its sides, a twelfth of their squares; axes are four of its
    deviations.  Its cells are half as wide and a third as high as a unit of the CRS."""
    long, short = 9.0, 2.0
    box = shapely.affinity.rotate(shapely.box(0, 0, short, long), -bearing, origin=(1, 1))
    drawn = shapely.affinity.scale(box, 2.0, 3.0, origin=(0, 0))
    ours = _axes(drawn, np.array([1 / 2, 1 / 3]))
    assert ours[:2] == pytest.approx((4 * long / np.sqrt(12), 4 * short / np.sqrt(12)))
    assert (ours[2] - bearing + 90) % 180 - 90 == pytest.approx(0.0, abs=1e-6)


def test_the_bearing_is_from_true_north_far_from_the_central_meridian():
    """A ridge along grid north at 60 N, 5 degrees of longitude east: north is 4.3 degrees off."""
    rows, columns = np.mgrid[:40, :30]
    depth = 20 - 5 * np.exp(-(((rows - 19.5) / 9) ** 2) - ((columns - 14.5) / 3) ** 2)
    west, north = 780_000.0, 6_660_000.0
    grid = make_grid(depth, transform=Affine(4, 0, west, 0, -4, north), crs=32631)
    (hump,) = humps(grid).itertuples()
    x, y = west + 60.0, north - 80.0
    (lon, top), (lat, other) = Transformer.from_crs(32631, 4326, always_xy=True).transform(
        [x, x], [y - 500, y + 500]
    )
    azimuth = GEOD.inv(lon, lat, top, other)[0]
    assert abs(azimuth) > 4.0
    assert (hump.bearing_deg - azimuth + 90) % 180 - 90 == pytest.approx(0.0, abs=0.1)
