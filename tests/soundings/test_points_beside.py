"""The file of all soundings, written while other work goes on."""

import geopandas as gpd
import nanoarrow as na
import numpy as np
import pyogrio
import pytest
from pandas.testing import assert_series_equal

from layers.present import soundings_file
from seabed.errors import OutputError
from seabed.soundings import sounding_table
from seabed.soundings.sounding_table import empty_soundings


def as_points(soundings):
    """Soundings as points; None without a position."""
    points = gpd.points_from_xy(soundings["longitude"], soundings["latitude"], crs=4326)
    known = soundings["longitude"].notna() & soundings["latitude"].notna()
    others = soundings.drop(columns=["longitude", "latitude"])
    return gpd.GeoDataFrame(others, geometry=np.where(known, points, None), crs=4326)


@pytest.fixture
def soundings():
    """Enough for several batches; one without a position, one without a time or depth."""
    count = 45_000
    time = np.datetime64("2031-06-14T09:00", "ns") + np.arange(count) * np.timedelta64(1, "s")
    longitude = -33.0 + np.arange(count) * 1e-5
    longitude[27_000] = np.nan
    depth = 8.0 + np.sin(np.arange(count) / 50)
    time[3], depth[3] = np.datetime64("NaT", "ns"), np.nan
    return sounding_table(
        time=time, longitude=longitude, latitude=np.full(count, 46.0), depth_m=depth,
        line=np.arange(count) // 500, row=np.arange(count),
    )  # fmt: skip


@pytest.fixture(params=["here", "in a process of its own"])
def where(request, monkeypatch):
    """Where the file is written: that many soundings are few, or many."""
    if request.param != "here":
        monkeypatch.setattr(soundings_file, "_FEW", 1000)


def write_soundings(path, soundings):
    with soundings_file.soundings_beside(path) as begin:
        begin(soundings)


@pytest.mark.usefixtures("where")
def test_every_column_comes_back(soundings, tmp_path):
    """Read by geopandas, in more than one batch; what is not known is missing."""
    write_soundings(tmp_path / "all.fgb", soundings)
    found = pyogrio.read_dataframe(tmp_path / "all.fgb")
    told = as_points(soundings)
    assert found.crs == told.crs
    assert set(found.columns) == set(told.columns)
    for name in told.columns.drop(["geometry", "time", "flag", "file"]):
        assert_series_equal(found[name], told[name], check_dtype=False)
    for name in ("flag", "file"):
        assert_series_equal(found[name], told[name].astype(str), check_dtype=False)
    assert_series_equal(found["time"], told["time"].dt.as_unit("ms"), check_freq=False)
    with pyogrio.open_arrow(tmp_path / "all.fgb", use_pyarrow=False) as (_, stream):
        columns = na.Array(stream)
    places = {columns.schema.field(number).name: number for number in range(columns.n_children)}
    unknown = {
        name: sum(chunk.child(places[name]).null_count for chunk in na.c_array_stream(columns))
        for name in ("time", "depth_m", "row", "flag")
    }
    assert unknown == {"time": 1, "depth_m": 1, "row": 0, "flag": 0}
    assert found.geometry.isna().to_numpy().nonzero()[0].tolist() == [27_000]
    assert found.geometry.dropna().geom_equals(told.geometry.dropna()).all()
    assert "Not for navigation" in str(pyogrio.read_info(tmp_path / "all.fgb")["layer_metadata"])


def test_no_sounding_makes_a_file_too(tmp_path):
    write_soundings(tmp_path / "none.fgb", empty_soundings())
    assert pyogrio.read_info(tmp_path / "none.fgb", force_feature_count=True)["features"] == 0


@pytest.mark.usefixtures("where")
def test_nothing_is_left_if_the_other_work_fails(soundings, tmp_path):
    def fails():
        with soundings_file.soundings_beside(tmp_path / "all.fgb") as begin:
            begin(soundings)
            raise ValueError("the grid")

    with pytest.raises(ValueError, match="the grid"):
        fails()
    assert list(tmp_path.iterdir()) == []


def test_the_other_process_s_words_are_passed_on(soundings, tmp_path, monkeypatch):
    monkeypatch.setattr(soundings_file, "_FEW", 1000)
    failing = tmp_path / "failing.py"
    failing.write_text("import sys; sys.exit('no room')", encoding="utf-8")
    monkeypatch.setattr(soundings_file.points_beside, "__file__", str(failing))
    with pytest.raises(OutputError, match="no room"):
        write_soundings(tmp_path / "out" / "all.fgb", soundings)
    assert list((tmp_path / "out").iterdir()) == []
