"""Ways that two files hold at different hours: one boat, two devices, one wrong clock."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from layers.area import Area
from layers.jobs.parts.cutting import cut_tracks
from layers.tracks.repeats import repeated_ways

START = np.datetime64("2031-06-14T08:00", "ns")
M = 1.0 / 111_000.0  # degrees of latitude


def way(seed=3, hours=1.5, step_s=5.0, length=1.0):
    """A random walk that turns: seconds, metres east and north."""
    random = np.random.default_rng(seed)
    t = np.arange(0.0, hours * 3600, 5.0)
    course = np.cumsum(random.normal(0.0, 0.1, len(t)))
    x, y = (np.cumsum(5.0 * length * part(course)) for part in (np.sin, np.cos))
    at = np.arange(0.0, t[-1], step_s)
    return at, np.interp(at, t, x), np.interp(at, t, y)


def fixes(*files):
    """Make fixes of (name, way, hours later, scatter in metres)."""
    tables = []
    for name, (t, *place), later_h, scatter in files:
        random = np.random.default_rng(len(name))
        x, y = (part + random.normal(0.0, scatter, len(t)) for part in place)
        time = START + ((t + later_h * 3600) * 1e9).astype("timedelta64[ns]")
        tables.append(pd.DataFrame({
            "time": pd.DatetimeIndex(time).tz_localize("UTC"), "longitude": -30.0 + x * M / 0.7,
            "latitude": 45.6 + y * M, "depth_m": np.nan, "temperature_c": np.nan, "file": name,
            "track": 0, "segment": 0,
        }))  # fmt: skip
    table = pd.concat(tables, ignore_index=True)
    return table.assign(file=pd.Categorical(table["file"], categories=[one[0] for one in files]))


@pytest.mark.parametrize(("later_h", "words"), [
    (-7.0, "plotter.gpx goes the way of phone.gpx again, 7 h later"),
    (1.0, "phone.gpx goes the way of plotter.gpx again, 1 h later"),
    (5.75, "phone.gpx goes the way of plotter.gpx again, 5.75 h later"),
])  # fmt: skip
def test_a_way_at_another_hour_is_named(later_h, words):
    table = fixes(
        ("plotter.gpx", way(), 0.0, 3.0), ("phone.gpx", way(step_s=20.0), later_h + 4 / 3600, 3.0)
    )
    (note,) = repeated_ways(table)
    assert note.startswith(words)


@pytest.mark.parametrize("other", [
    ("phone.gpx", way(step_s=20.0), 0.0, 3.0),  # the same clock
    ("day.gpx", way(seed=5), 7.0, 3.0),  # another way
    ("next.gpx", way(), 24.0, 3.0),  # the next day
    ("phone.gpx", way(hours=0.3), 7.0, 3.0),  # a short stretch in common
])  # fmt: skip
def test_two_ways_of_their_own_are_not(other):
    assert repeated_ways(fixes(("plotter.gpx", way(), 0.0, 3.0), other)) == []


def test_a_boat_that_stays_in_one_place_repeats_nothing():
    still = way(length=0.0)
    assert repeated_ways(fixes(("a.gpx", still, 0.0, 3.0), ("b.gpx", still, 5.0, 3.0))) == []


def test_a_job_says_so(tmp_path):
    names = []
    for name, later_h in (("plotter", 0.0), ("phone", -3.0)):
        table = fixes((name, way(), later_h, 3.0))
        names.append(tmp_path / f"{name}.csv")
        columns = table[["time", "latitude", "longitude"]]
        columns.assign(time=table["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")).to_csv(
            names[-1], index=False
        )
    notes = cut_tracks(Area(), names)[3]
    assert any("plotter.csv goes the way of phone.csv again, 3 h later" in one for one in notes)
