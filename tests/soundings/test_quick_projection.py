"""The polynomial for a projection against PROJ itself."""

import numpy as np
import pytest
from pyproj import CRS, Transformer

from seabed.soundings.surface import lattice
from seabed.soundings.surface._polynomial import quick_transform
from seabed.soundings.surface.lattice import projected


@pytest.mark.parametrize("epsg", [32625, 3857, 3035, 5041])
def test_it_is_right_to_a_millimetre_over_a_degree(epsg):
    random = np.random.default_rng(3)
    longitude, latitude = random.uniform(-33.9, -32.9, 5000), random.uniform(61.0, 62.0, 5000)
    turn = Transformer.from_crs("EPSG:4326", f"EPSG:{epsg}", always_xy=True)
    found = quick_transform(turn.transform, longitude, latitude)
    assert found is not None
    for quick, true in zip(found, turn.transform(longitude, latitude), strict=True):
        np.testing.assert_allclose(quick, true, rtol=0, atol=1e-3)


def test_it_is_left_where_it_would_be_wrong():
    longitude, latitude = np.array([-33.0, -32.5]), np.array([46.0, 46.5])

    def folded(x, y):
        return 1e5 * np.abs(x + 32.7), 1e5 * y

    assert quick_transform(folded, longitude, latitude) is None
    turn = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)
    assert quick_transform(turn.transform, longitude * 2, latitude) is not None
    assert quick_transform(turn.transform, np.array([-34.0, -32.5]), latitude) is None


def test_many_points_lie_where_few_do(monkeypatch):
    random = np.random.default_rng(4)
    places = random.uniform(-33.5, -33.3, 500), random.uniform(46.1, 46.3, 500)
    few = projected(CRS.from_epsg(32625), *places)
    monkeypatch.setattr(lattice, "MANY", 100)
    many = projected(CRS.from_epsg(32625), *places)
    assert not np.array_equal(few, many)
    np.testing.assert_allclose(many, few, rtol=0, atol=1e-3)
