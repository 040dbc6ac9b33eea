"""Damaged and strange logs: a clear error or a counted skip, never another exception."""

import warnings
from pathlib import Path

import numpy as np
import pytest
from byte_damage import damaged
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nmea_sentences import sentence
from thoroughness import examples

from seabed.errors import SeabedError
from seabed.soundings import flagged, read_soundings, reduced
from seabed.soundings.checks.crossovers import crossovers
from seabed.soundings.checks.lag import estimate_lag

NMEA = "".join(
    sentence(f"GPRMC,0930{i:02d},A,3130.{i:04d},S,02430.5000,W,1.2,045.0,140631,,,A")
    + sentence(f"IIDBT,036.41,f,{i}.10,M,005.99,F")
    + sentence("IIMTW,12.5,C")
    for i in range(14)
).encode()
TIMES_ONLY = (
    sentence("GPZDA,235955,,,,00,00")
    + "".join(
        sentence(f"GPGLL,3130.{i:04d},S,02430.0,W,{235955 + i if i < 5 else i:06d},A")
        + sentence("IIVTG,224.44,T,,M,5.81,N,,K,D")
        + sentence(f"SDDPT,{i}.1,-0.4")
        for i in range(14)
    )
).encode()
UNSUMMED = b"\r\n".join(line.partition(b"*")[0] for line in NMEA.split(b"\r\n"))
CSV = (
    "time,lat,lon,depth ft,temp\n"
    + "".join(f"2031-06-14T08:{i:02d}:00,{-31.5 + i * 1e-4:.5f},-24.5,{i},12\n" for i in range(20))
).encode()
SEEDS = {"log": NMEA, "nmea": UNSUMMED, "txt": TIMES_ONLY, "csv": CSV}
QUIET = settings(
    max_examples=examples(60),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def goes_through(path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            log = read_soundings(path)
        except SeabedError as error:
            assert "\n" not in str(error)
            return
        table, report = flagged(log.soundings)
        assert len(table) == len(log.soundings)
        assert sum(report.counts.values()) == len(table)
        good = (table["flag"] == "").to_numpy()
        assert np.isfinite(table["sigma_m"].to_numpy()[good]).all()
        assert (table["measured_m"].to_numpy()[good] > 0).all()
        crossovers(reduced(table, 0.5))
        estimate_lag(table)


@pytest.mark.parametrize("kind", SEEDS)
def test_the_undamaged_ones_go_through(tmp_path, kind):
    path = tmp_path / f"boat.{kind}"
    path.write_bytes(SEEDS[kind])
    assert len(read_soundings(path).soundings) >= 14
    goes_through(path)


@pytest.mark.parametrize("kind", SEEDS)
@QUIET
@given(data=st.data())
def test_damaged_logs(tmp_path, kind, data):
    path = tmp_path / f"boat.{kind}"
    path.write_bytes(data.draw(damaged(SEEDS[kind])))
    goes_through(path)


@pytest.mark.parametrize("seed", range(30))
def test_random_bytes_in_a_log(tmp_path, seed):
    rng = np.random.default_rng(seed)
    data = np.frombuffer(NMEA, np.uint8).copy()
    at = rng.integers(0, len(data), rng.integers(1, 60))
    data[at] = rng.integers(0, 256, len(at))
    path = tmp_path / "boat.log"
    path.write_bytes(data.tobytes())
    goes_through(path)


@QUIET
@given(content=st.one_of(st.binary(max_size=300), st.text(max_size=200).map(str.encode)))
def test_anything_at_all(tmp_path, content):
    for name in ("a.gpx", "a.csv", "a"):
        (tmp_path / name).write_bytes(content)
        goes_through(tmp_path / name)
