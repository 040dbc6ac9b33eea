"""Depth under a track, and the drifts' table."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine

from layers.tracks import DRIFTS, depth_under, drifts_of
from layers.tracks.depth import check_on_grid
from seabed.errors import TrackError
from seabed.grid import make_grid

START = pd.Timestamp("2031-06-14T23:00:00Z")


def sloping_grid(crs: str = "EPSG:4326"):
    """Depth 10 m at the west edge, a metre deeper each hundredth of a degree."""
    x = np.arange(20) * 0.01 + 0.005
    depth = np.tile(10 + x * 100, (10, 1)).astype(np.float32)
    depth[:, -1] = np.nan
    return make_grid(depth, transform=Affine(0.01, 0, -24.6, 0, -0.01, -31.4), crs=crs)


def fixes_at(longitude, latitude=-31.45, step_s=60.0) -> pd.DataFrame:
    longitude = np.asarray(longitude, float)
    return pd.DataFrame(
        {
            "time": START + pd.to_timedelta(np.arange(len(longitude)) * step_s, unit="s"),
            "longitude": longitude,
            "latitude": latitude,
            "depth_m": np.arange(len(longitude), dtype=float),
            "file": "boat.gpx",
        }
    )


def pieces_of(rows: list[tuple[str, int, int, int]], fixes: pd.DataFrame) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        [
            {
                "piece_id": i,
                "kind": kind,
                "start": fixes["time"][a],
                "end": fixes["time"][b],
                "duration_s": (fixes["time"][b] - fixes["time"][a]).total_seconds(),
                "distance_m": 100.0,
                "sog_mps": 0.4,
                "course_deg": 90.0,
                "first_fix": a,
                "last_fix": b,
                "outing": outing,
                "lines_up_s": 0.0,
            }
            for i, (kind, a, b, outing) in enumerate(rows)
        ],
        geometry=[shapely.LineString([(0, 0), (1, 1)])] * len(rows),
        crs="EPSG:4326",
    )


class Tide:
    def height_m(self, times):
        return np.arange(len(times)) * 0.5


def test_depth_under_and_tide():
    fixes = fixes_at([-24.6 + 0.025, -24.6 + 0.05, -24.4 - 0.005, -20.0])
    np.testing.assert_allclose(
        depth_under(fixes, sloping_grid()), [12.5, 15, np.nan, np.nan], atol=1e-5
    )
    np.testing.assert_allclose(
        depth_under(fixes, sloping_grid(), heights=Tide()), [12.5, 15.5, np.nan, np.nan], atol=1e-5
    )


def test_a_track_partly_and_wholly_off_the_grid():
    grid = sloping_grid()
    assert check_on_grid(fixes_at([-24.5, -24.401, -20.0, -20.0]), grid) == 0.5
    with pytest.raises(
        TrackError,
        match=r"boat\.gpx: the track is outside the depth grid: it covers 31\.4500° S to "
        r"31\.4500° S, 20\.0000° W to 20\.0000° W, the grid 31\.5000° S to 31\.4000° S, "
        r"24\.6000° W to 24\.4",
    ):
        check_on_grid(fixes_at([-20.0, -20.0]), grid)


def test_a_track_across_the_180th_meridian():
    """The same water by two names: 181 and -179 degrees east."""
    grid = sloping_grid().assign_coords(x=sloping_grid()["x"] + 204.5)  # 179.9 to 180.1
    track = fixes_at([179.95, 179.999, -179.999, -179.95, -179.85])
    assert check_on_grid(track, grid) == 4 / 5
    west = grid.assign_coords(x=grid["x"] - 360)
    assert check_on_grid(track, west) == 4 / 5
    np.testing.assert_allclose(depth_under(track, west)[:3], [15, 19.9, 20.1], atol=1e-3)


def test_a_projected_grid():
    grid = make_grid(
        np.full((10, 10), 7, np.float32),
        transform=Affine(100, 0, 499_500, 0, -100, 6_500_500),
        crs="EPSG:32727",
    )
    on = fixes_at([-21.0], latitude=-31.635)  # central meridian of zone 27 is 500 km east
    assert check_on_grid(on, grid) == 1.0
    with pytest.raises(TrackError, match="outside the depth grid"):
        check_on_grid(fixes_at([500_000.0], latitude=6_500_000.0), grid)


def test_drifts_by_hand():
    fixes = fixes_at(np.zeros(21))
    pieces = pieces_of(
        [("run", 0, 4, 0), ("drift", 4, 8, 0), ("hold", 8, 9, 0), ("drift", 9, 20, 0)], fixes
    )
    depth = np.arange(21.0)
    depth[6], depth[8] = np.nan, 10.0
    drifts = drifts_of(pieces, fixes, grid_depth=depth, rods=2, band_m=(4.0, 7.5))
    assert tuple(drifts.columns) == DRIFTS.names
    assert drifts["drift_id"].tolist() == ["2031-06-14 #1", "2031-06-14 #2"]
    first = drifts.iloc[0]
    # Depths 4 5 nan 7 10 with weights 30 60 - 60 30 seconds.
    assert first["depth_start_m"] == 4
    assert (first["depth_min_m"], first["depth_max_m"]) == (4, 10)
    assert first["depth_mean_m"] == pytest.approx((4 * 30 + 5 * 60 + 7 * 60 + 10 * 30) / 180)
    assert first["in_band_s"] == 150
    assert first["rod_hours"] == pytest.approx(2 * 240 / 3600)
    assert drifts["in_band_s"].iloc[1] == 0
    # with 3 m of tide, the band is still that of the chart
    tide = drifts_of(
        pieces, fixes, grid_depth=depth + 3, charted_depth=depth, rods=2, band_m=(4.0, 7.5)
    )
    assert tide["in_band_s"].tolist() == drifts["in_band_s"].tolist()
    assert tide["depth_max_m"].iloc[0] == 13
    unknown = drifts_of(
        pieces, fixes, grid_depth=np.full(21, np.nan), charted_depth=depth, band_m=(4.0, 7.5)
    )
    assert unknown["in_band_s"].tolist() == [150, 0]
    assert unknown["depth_mean_m"].isna().all()


def test_trips_are_named_by_the_local_date_of_the_outing():
    fixes = fixes_at(np.zeros(400))
    rows = [("drift", 0, 30, 0), ("drift", 100, 130, 0), ("drift", 300, 330, 1)]
    drifts = drifts_of(pieces_of(rows, fixes), fixes)
    assert drifts["drift_id"].tolist() == ["2031-06-14 #1", "2031-06-14 #2", "2031-06-15 #1"]
    local = drifts_of(pieces_of(rows, fixes), fixes, timezone="Etc/GMT-2")
    assert local["drift_id"].tolist() == ["2031-06-15 #1", "2031-06-15 #2", "2031-06-15 #3"]


def test_without_grid_the_sounder_counts_and_without_any_depth_nan():
    fixes = fixes_at(np.zeros(21))
    pieces = pieces_of([("drift", 4, 8, 0)], fixes)
    assert drifts_of(pieces, fixes)["depth_max_m"].tolist() == [8]
    assert drifts_of(pieces, fixes)["in_band_s"].isna().all()
    blind = drifts_of(pieces, fixes.assign(depth_m=np.nan), band_m=(1.0, 2.0))
    assert blind[["depth_start_m", "depth_mean_m", "in_band_s"]].isna().all(axis=None)


def test_no_drifts():
    fixes = fixes_at(np.zeros(5))
    drifts = drifts_of(pieces_of([("run", 0, 4, 0)], fixes), fixes, band_m=(1.0, 2.0))
    assert tuple(drifts.columns) == DRIFTS.names
    assert len(drifts) == 0
