"""A small invented trip, a day of water and a photo to try things on."""

from __future__ import annotations

from datetime import date
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from PIL import Image

from layers.catches import as_catches
from layers.tracks.table import FIXES
from layers.water import day_of_water, read_heights
from layers.water.sources import parse_current

__all__ = ["example_day", "example_photo", "example_trip"]

METRE_DEG: Final = 1 / 111_195
LONGITUDE: Final = 3.00129
LATITUDE: Final = 46.0509
"""On `seabed.example_grid`, 100 m from its western edge."""
START: Final = pd.Timestamp("2031-06-14T08:00Z")
EVERY_S: Final = 5
DRIFT_S: Final = 600
RUN_S: Final = 120


def example_trip() -> tuple[pd.DataFrame, gpd.GeoDataFrame]:
    """Make a trip of four drifts over `seabed.example_grid`, two northward on each of two lines.

    Returns
    -------
    fixes : DataFrame
        As `read_tracks` gives them; one every 5 s, 0.5 m/s on a drift, 2.5 m/s back south.
    catches : GeoDataFrame
        As `read_catches` gives them: three fish kept and one short on the western line, one short
        on the other.

    Examples
    --------
    >>> fixes, catches = example_trip()
    >>> len(fixes), catches["kept"].tolist()
    (577, [True, True, True, False, False])
    """
    starts = np.array([0.0, 4.0, 200.0, 204.0, 204.0])  # metres east, the last after the last run
    passed = np.arange(4 * (DRIFT_S + RUN_S) // EVERY_S + 1) * EVERY_S
    number, since = np.divmod(passed, DRIFT_S + RUN_S)
    back = np.clip((since - DRIFT_S) / RUN_S, 0.0, 1.0)  # share of the run that is done
    north = np.minimum(since, DRIFT_S) * 0.5 * (1.0 - back)
    number = np.minimum(number, 3)
    east = starts[number] + back * (starts[number + 1] - starts[number])
    fixes = FIXES.frame(
        {
            "time": START + pd.to_timedelta(passed, unit="s"),
            "longitude": LONGITUDE + east * METRE_DEG / np.cos(np.radians(LATITUDE)),
            "latitude": LATITUDE + north * METRE_DEG,
            "depth_m": np.where(number < 2, 6.0, 14.0),
            "temperature_c": np.nan,
            "file": "trip.gpx",
            "track": 0,
            "segment": 0,
        }
    )
    minutes = {2: True, 5: True, 14: True, 16: False, 29: False}
    rows = [
        {
            "time": START + pd.Timedelta(minutes=minute), "species": "flatfish", "length_m": 0.4,
            "kept": kept, "rod": "1", "note": "", "longitude": np.nan, "latitude": np.nan,
            "file": "catches.csv", "row": row,
        }
        for row, (minute, kept) in enumerate(minutes.items(), 2)
    ]  # fmt: skip
    return fixes, as_catches(rows)


def example_day() -> tuple[pd.DataFrame, str]:
    """Work out a day of the demo's tide over a steady current, in a copy of the demo area.

    Returned: the table of `tide`, and the name of its time zone.
    """
    zone = "Etc/GMT+2"
    heights = read_heights("tide_table.csv", timezone=zone)
    currents = parse_current("0.8 kn toward 40")
    return day_of_water(date(2031, 6, 14), zone, heights=heights, currents=currents), zone


def example_photo(path: str) -> None:
    """Write a photo that a camera without a position took at 8:02."""
    picture = Image.new("RGB", (8, 8))
    about = picture.getexif()
    about[0x8769] = {0x9003: "2031:06:14 08:02:00"}
    picture.save(path, exif=about)
