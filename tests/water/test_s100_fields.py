"""S-104 and S-111: files made here as the product specifications (IHO, editions 1.x-2.0) lay them
out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pandas as pd
import pytest

from layers.water import read_currents, read_heights
from layers.water.currents.s100 import FieldCurrents, read_s104, read_s111
from seabed.errors import WaterError

KNOT = 1852 / 3600
CURRENT = np.dtype([("surfaceCurrentSpeed", "f4"), ("surfaceCurrentDirection", "f4")])
LEVEL = np.dtype([("waterLevelHeight", "f4"), ("waterLevelTrend", "i1")])
POINT = np.dtype([("longitude", "f8"), ("latitude", "f8")])


def utc(*words: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(words).tz_localize("UTC")


def gridded(path: Path, product: str, frames: list[np.ndarray], stamps: list[str]) -> Path:
    rows, columns = frames[0].shape
    with h5py.File(path, "w") as file:
        feature = file.create_group(product)
        feature.attrs["dataCodingFormat"] = np.uint8(2)
        instance = feature.create_group(f"{product}.01")
        instance.attrs["gridOriginLongitude"] = -33.42
        instance.attrs["gridOriginLatitude"] = 46.18
        instance.attrs["gridSpacingLongitudinal"] = 0.01
        instance.attrs["gridSpacingLatitudinal"] = 0.02
        instance.attrs["numPointsLongitudinal"] = columns
        instance.attrs["numPointsLatitudinal"] = rows
        instance.attrs["numberOfTimes"] = len(frames)
        for i, (frame, stamp) in enumerate(zip(frames, stamps, strict=True), start=1):
            group = instance.create_group(f"Group_{i:03d}")
            group.attrs["timePoint"] = stamp
            group.create_dataset("values", data=frame)
    return path


def current_frame(speed: Any, toward: Any) -> np.ndarray:
    frame = np.zeros(np.shape(speed), CURRENT)
    frame["surfaceCurrentSpeed"], frame["surfaceCurrentDirection"] = speed, toward
    return frame


@pytest.fixture
def s111(tmp_path: Path) -> Path:
    """Two by three points, two hours: 1 kn east in the south, 2 kn in the north; then twice that.

    The north-eastern point has no water.
    """
    speed = np.array([[1.0, 1.0, 1.0], [2.0, 2.0, -9999.0]])
    frames = [
        current_frame(speed, 90.0),
        current_frame(np.where(speed > 0, 2 * speed, speed), 90.0),
    ]
    return gridded(
        tmp_path / "flow.h5", "SurfaceCurrent", frames, ["20310614T000000Z", "20310614T010000Z"]
    )


def test_currents_in_space_and_time(s111: Path) -> None:
    currents = read_currents(s111)
    assert isinstance(currents, FieldCurrents)
    times = utc("2031-06-14 00:00", "2031-06-14 00:30", "2031-06-14 01:00", "2031-06-14 00:00")
    east, north = currents.velocity(
        times, np.array([-33.42, -33.415, -33.41, -33.41]), np.array([46.18, 46.18, 46.19, 46.2])
    )
    # knots by hand: 1; 1 -> 2 half way; 1.5 between the rows, doubled; 2 at the northern row
    np.testing.assert_allclose(east / KNOT, [1.0, 1.5, 3.0, 2.0], atol=1e-6)
    np.testing.assert_allclose(north, 0.0, atol=1e-6)


def test_currents_are_unknown_outside_and_beside_land(s111: Path) -> None:
    currents = read_s111(s111)
    times = utc("2031-06-13 23:59", "2031-06-14 01:01", *["2031-06-14 00:00"] * 4)
    longitude = np.array([-33.42, -33.42, -33.43, -33.42, -33.405, -33.4])
    latitude = np.array([46.18, 46.18, 46.18, 46.21, 46.19, 46.18])
    east, _ = currents.velocity(times, longitude, latitude)
    np.testing.assert_array_equal(np.isnan(east), [True, True, True, True, True, False])


def test_direction_turns_through_north(tmp_path: Path) -> None:
    frames = [current_frame(np.full((2, 2), 1.0), 350.0), current_frame(np.full((2, 2), 1.0), 10.0)]
    path = gridded(
        tmp_path / "n.h5", "SurfaceCurrent", frames, ["20310614T000000Z", "20310614T010000Z"]
    )
    east, north = read_s111(path).velocity(utc("2031-06-14 00:30"))
    np.testing.assert_allclose(east, 0.0, atol=1e-6)
    np.testing.assert_allclose(north / KNOT, np.cos(np.radians(10.0)), atol=1e-6)


def test_heights_at_the_nearest_station(tmp_path: Path) -> None:
    """Coding format 8: a time series a station, every six minutes."""
    path = tmp_path / "level.h5"
    with h5py.File(path, "w") as file:
        feature = file.create_group("WaterLevel")
        feature.attrs["dataCodingFormat"] = np.uint8(8)
        instance = feature.create_group("WaterLevel.01")
        places = np.array([(-33.42, 46.18), (-33.40, 46.20)], POINT)
        instance.create_group("Positioning").create_dataset("geometryValues", data=places)
        for i, base in enumerate((1.0, 2.0), start=1):
            values = np.zeros(3, LEVEL)
            values["waterLevelHeight"] = [base, base + 0.6, -9999.0]
            group = instance.create_group(f"Group_{i:03d}")
            group.attrs["startDateTime"] = "20310614T000000Z"
            group.attrs["timeRecordInterval"] = np.uint16(360)
            group.create_dataset("values", data=values)
    times = utc("2031-06-14 00:00", "2031-06-14 00:03", "2031-06-14 00:07")
    west = read_heights(path, longitude=-33.419, latitude=46.181).height_m(times)
    np.testing.assert_allclose(west, [1.0, 1.3, np.nan], atol=1e-6)
    east = read_s104(path, longitude=-33.401, latitude=46.199).height_m(times)
    np.testing.assert_allclose(east[:2], [2.0, 2.3], atol=1e-6)


def test_gridded_heights_at_a_place(tmp_path: Path) -> None:
    low, high = np.zeros((2, 2), LEVEL), np.zeros((2, 2), LEVEL)
    low["waterLevelHeight"] = [[0.0, 1.0], [2.0, 3.0]]
    high["waterLevelHeight"] = low["waterLevelHeight"] + 1
    stamps = ["20310614T000000Z", "20310614T001000Z"]
    path = gridded(tmp_path / "g.h5", "WaterLevel", [low, high], stamps)
    heights = read_s104(path, longitude=-33.415, latitude=46.19)
    found = heights.height_m(utc("2031-06-14 00:00", "2031-06-14 00:05"))
    np.testing.assert_allclose(found, [1.5, 2.0], atol=1e-6)


def test_a_single_row_of_points_has_currents_along_it(tmp_path: Path) -> None:
    frame = current_frame(np.array([[1.0, 2.0, 3.0]]), 90.0)
    stamps = ["20310614T000000Z", "20310614T010000Z"]
    path = gridded(tmp_path / "row.h5", "SurfaceCurrent", [frame, frame], stamps)
    east, _ = read_s111(path).velocity(
        utc("2031-06-14 00:10", "2031-06-14 00:10"), np.array([-33.415, -33.40]), np.full(2, 46.18)
    )
    np.testing.assert_allclose(east / KNOT, [1.5, 3.0], atol=1e-6)


def test_the_guarded_reader_knows_how_many_cells_it_reads(s111: Path, monkeypatch) -> None:
    """Two hours of two by three points: its limits of time and memory follow them."""
    from layers.water.currents import s100

    told, ask = [], s100.ask

    def noting(*words: Any, **options: Any) -> Any:
        told.append(options.get("cells"))
        return ask(*words, **options)

    monkeypatch.setattr(s100, "ask", noting)
    read_s111(s111)
    assert 2 * 2 * 3 in told


def test_a_file_with_more_places_than_series_is_damaged(tmp_path: Path) -> None:
    path = tmp_path / "level.h5"
    with h5py.File(path, "w") as file:
        feature = file.create_group("WaterLevel")
        feature.attrs["dataCodingFormat"] = np.uint8(8)
        instance = feature.create_group("WaterLevel.01")
        places = np.array([(-33.42, 46.18), (-33.40, 46.20)], POINT)
        instance.create_group("Positioning").create_dataset("geometryValues", data=places)
        group = instance.create_group("Group_001")
        group.attrs["startDateTime"] = "20310614T000000Z"
        group.attrs["timeRecordInterval"] = np.uint16(360)
        group.create_dataset("values", data=np.zeros(3, LEVEL))
    with pytest.raises(WaterError, match="cut short or damaged"):
        read_s104(path)


def test_refused(tmp_path: Path, s111: Path) -> None:
    with pytest.raises(WaterError, match="has no WaterLevel"):
        read_s104(s111)
    with pytest.raises(WaterError, match="no such file"):
        read_s111(tmp_path / "none.h5")
    broken = tmp_path / "broken.h5"
    broken.write_bytes(s111.read_bytes()[:600])
    with pytest.raises(WaterError, match="cut short or damaged"):
        read_s111(broken)
    with h5py.File(s111, "a") as file:
        file["SurfaceCurrent"].attrs["dataCodingFormat"] = np.uint8(3)
    with pytest.raises(WaterError, match="data coding format 3 is not read"):
        read_s111(s111)
