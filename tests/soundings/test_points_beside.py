"""The file of all soundings, written while other work goes on."""

import numpy as np
import pyogrio
import pytest
from geopandas.testing import assert_geodataframe_equal

from layers.exports import soundings_file
from seabed.soundings import sounding_table


@pytest.fixture
def soundings():
    """Enough for several batches; one without a position, one without a time or depth."""
    count = 12_000
    time = np.datetime64("2031-06-14T09:00", "ns") + np.arange(count) * np.timedelta64(1, "s")
    longitude = -33.0 + np.arange(count) * 1e-5
    longitude[7_000] = np.nan
    depth = 8.0 + np.sin(np.arange(count) / 50)
    time[3], depth[3] = np.datetime64("NaT"), np.nan
    return sounding_table(
        time=time, longitude=longitude, latitude=np.full(count, 46.0), depth_m=depth,
        line=np.arange(count) // 500, row=np.arange(count),
    )  # fmt: skip


def test_both_ways_of_writing_give_one_file(soundings, tmp_path, monkeypatch):
    pytest.importorskip("pyarrow")
    soundings_file.write_soundings(tmp_path / "quick.gpkg", soundings)
    monkeypatch.setattr(soundings_file, "pa", None)
    soundings_file.write_soundings(tmp_path / "slow.gpkg", soundings)
    quick, slow = (pyogrio.read_dataframe(tmp_path / f"{name}.gpkg") for name in ("quick", "slow"))
    assert_geodataframe_equal(quick, slow)
    assert quick.geometry.isna().to_numpy().nonzero()[0].tolist() == [7_000]
    np.testing.assert_allclose(quick["depth_m"], soundings["depth_m"])


def test_nothing_is_left_if_the_other_work_fails(soundings, tmp_path):
    def fails():
        with soundings_file.soundings_beside(tmp_path / "all.gpkg") as begin:
            begin(soundings)
            raise ValueError("the grid")

    with pytest.raises(ValueError, match="the grid"):
        fails()
    assert list(tmp_path.iterdir()) == []
