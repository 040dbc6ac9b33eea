"""Damaged and strange input: a clear error or a reported skip, never another exception."""

import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from byte_damage import damaged
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nmea_sentences import sentence
from thoroughness import examples

from layers.tracks import clean, cut, drifts_of, read_fixes
from layers.tracks.corrections import read_corrections
from layers.tracks.reading import read_waypoints
from seabed.errors import TrackError

GPX = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" xmlns:x="urn:x">\n'
    '<wpt lat="-31.5" lon="-24.5"><time>2031-06-14T08:00:00Z</time><name>mark</name></wpt>\n'
    "<trk><trkseg>\n"
    + "".join(
        f'<trkpt lat="{-31.5 + i * 1e-4:.5f}" lon="-24.5"><time>2031-06-14T08:{i:02d}:00Z</time>'
        f"<extensions><x:depth>{i}</x:depth></extensions></trkpt>\n"
        for i in range(30)
    )
    + "</trkseg></trk></gpx>\n"
).encode()

NMEA = "".join(
    sentence(f"GPRMC,0930{i:02d},A,3130.{i:04d},S,02430.5000,W,1.2,045.0,140631,,,A")
    + sentence(f"IIDBT,036.41,f,{i}.10,M,005.99,F")
    + sentence("IIMTW,12.5,C")
    for i in range(12)
).encode()
TIMES_ONLY = (
    sentence("GPZDA,235955,14,06,2031,00,00")
    + "".join(
        sentence(
            f"GPGGA,{(235955 + i) if i < 5 else i:06d},3130.{i:04d},S,02430.0,W,1,08,1.0,0.0,M,,M,,"
        )
        + sentence(f"SDDPT,{i}.1,0.4")
        for i in range(12)
    )
).encode()
UNSUMMED = b"\r\n".join(line.partition(b"*")[0] for line in NMEA.split(b"\r\n"))
CSV = (
    "time,lat,lon,depth ft,temp\n"
    + "".join(f"2031-06-14T08:{i:02d}:00,{-31.5 + i * 1e-4:.5f},-24.5,{i},12\n" for i in range(20))
).encode()
CORRECTIONS = b"2031-06-14 10:05-10:20  drift\n10:41-10:52 lines up # not fishing\n11:07 cut\n"

SEEDS = {"gpx": GPX, "log": NMEA, "nmea": UNSUMMED, "txt": TIMES_ONLY, "csv": CSV}


def goes_through(path: Path, **options) -> None:
    """Read, clean and cut; only a `TrackError` that names the file may come of it."""
    try:
        fixes = read_fixes(path, **options)
        cleaned, report = clean(fixes)
    except TrackError as error:
        assert str(error)
        assert "\n" not in str(error)
        return
    assert report.read == len(fixes)
    assert report.kept == len(cleaned)
    assert report.kept + report.dropped == len(fixes)
    pieces = cut(cleaned)
    drifts_of(pieces, cleaned, band_m=(5.0, 8.0))
    spans = cleaned["time"].diff().dt.total_seconds().iloc[1:]
    assert pieces["duration_s"].sum() == pytest.approx(spans[spans <= 4 * 3600].sum(), abs=1e-6)


@pytest.mark.parametrize("kind", SEEDS)
def test_the_undamaged_ones_go_through(tmp_path, kind):
    path = tmp_path / f"boat.{kind}"
    path.write_bytes(SEEDS[kind])
    _, report = clean(read_fixes(path))
    assert report.kept == report.read >= 12


@pytest.mark.parametrize("kind", SEEDS)
@settings(
    max_examples=examples(80),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_damaged_tracks(tmp_path, kind, data):
    path = tmp_path / f"boat.{kind}"
    path.write_bytes(data.draw(damaged(SEEDS[kind])))
    salvage = data.draw(st.booleans())
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        goes_through(
            path, salvage=salvage, timezone=data.draw(st.sampled_from(["UTC", "Etc/GMT+2"]))
        )


@settings(
    max_examples=examples(80),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_damaged_waypoints_and_corrections(tmp_path, data):
    path = tmp_path / "marks.gpx"
    path.write_bytes(data.draw(damaged(GPX)))
    try:
        read_waypoints(path)
    except TrackError as error:
        assert "marks.gpx" in str(error)
    path = tmp_path / "boat.corrections.txt"
    path.write_bytes(data.draw(damaged(CORRECTIONS)))
    try:
        read_corrections(path, timezone="Europe/Lisbon")
    except TrackError as error:
        assert "boat.corrections.txt" in str(error)


@settings(
    max_examples=examples(60),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(content=st.one_of(st.binary(max_size=400), st.text(max_size=300).map(str.encode)))
def test_anything_at_all(tmp_path, content):
    for name in ("a.gpx", "a.csv", "a"):
        (tmp_path / name).write_bytes(content)
        goes_through(tmp_path / name)


@settings(max_examples=examples(80), deadline=None)
@given(data=st.data())
def test_any_fixes_are_counted_and_every_second_kept(data):
    count = data.draw(st.integers(1, 40))
    steps = st.sampled_from([0.0, 0.001, 1.0, 5.0, 30.0, 119.0, 121.0, 5000.0, 20_000.0, -3.0])
    seconds = np.cumsum(data.draw(st.lists(steps, min_size=count, max_size=count)))
    angle = st.one_of(
        st.sampled_from([0.0, 90.0, -90.0, 180.0, -180.0, np.nan, 1e9]), st.floats(-0.01, 0.01)
    )
    x, y = (np.array(data.draw(st.lists(angle, min_size=count, max_size=count))) for _ in range(2))
    time = pd.Series(pd.Timestamp("2031-06-14T08:00:00Z") + pd.to_timedelta(seconds, unit="s"))
    lost = np.array(data.draw(st.lists(st.booleans(), min_size=count, max_size=count)))
    fixes = pd.DataFrame(
        {
            "time": time.mask(lost & (np.arange(count) % 5 == 0)).dt.as_unit("ns"),
            "longitude": x,
            "latitude": y,
            "depth_m": np.nan,
            "temperature_c": np.nan,
            "file": data.draw(st.sampled_from(["a", "b"])),
            "track": np.sort(
                data.draw(st.lists(st.integers(0, 2), min_size=count, max_size=count))
            ),
            "segment": 0,
        }
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            cleaned, report = clean(fixes)
        except TrackError:
            return
        assert report.kept == len(cleaned)
        counted = sum(
            v for k, v in report.as_dict().items() if k not in ("read", "out_of_order", "gaps")
        )
        assert counted == report.read == count
        pieces = cut(cleaned)
    spans = cleaned["time"].diff().dt.total_seconds().iloc[1:]
    assert pieces["duration_s"].sum() == pytest.approx(spans[spans <= 4 * 3600].sum(), abs=1e-6)
