"""The shipped grid."""

from __future__ import annotations

import pytest
import rasterio
from shipped import AREA


@pytest.fixture(scope="session")
def grid():
    with rasterio.open(AREA / "sound.tif") as file:
        depth, transform = file.read(1), file.transform
        assert file.crs.to_epsg() == 32625
        assert file.tags()["positive"] == "down"
    return depth, transform
