"""Clocks of logs and tracks that are wrong, on a toy day whose truth is exact."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from layers.catches import as_catches
from layers.catches.clocks import LogClock, log_clock
from layers.cli.main import main
from layers.tracks import clean, cut, drifts_of

DAY = pd.Timestamp("2031-06-14T15:00Z")
LATITUDE, METRE = 46.2, 1 / 111_160


def track() -> pd.DataFrame:
    """Five drifts of ten minutes and 250 m northward, runs of a minute or more between."""
    pieces, at, north = [], 0.0, 0.0
    for pause in (60, 100, 80, 70, 90):
        for seconds, pace in ((600, 0.42), (pause, -252.0 / pause)):
            own = np.arange(0, seconds, 5.0)
            pieces.append(np.c_[at + own, north + pace * own])
            at, north = at + seconds, north + pace * seconds
    second, metres = np.concatenate(pieces).T
    return pd.DataFrame(
        {
            "time": (DAY + pd.to_timedelta(second, unit="s")).as_unit("ns"), "longitude": -24.5,
            "latitude": LATITUDE + metres * METRE, "depth_m": np.nan, "temperature_c": np.nan,
            "file": "a.gpx", "track": 0, "segment": 0,
        }
    )  # fmt: skip


def fish(ahead_s: float, *, placed: bool, seconds=(100, 400, 800, 1200, 1500, 2200, 2900)):
    fixes = track()
    passed = (fixes["time"] - DAY).dt.total_seconds()
    rows = pd.DataFrame({"time": DAY + pd.to_timedelta(np.array(seconds) + ahead_s, unit="s")})
    rows = rows.assign(
        species="dab", length_m=np.nan, kept=True, rod="", note="", file="log.csv", row=2,
        longitude=-24.5 if placed else np.nan,
        latitude=np.interp(seconds, passed, fixes["latitude"]) if placed else np.nan,
    )  # fmt: skip
    return as_catches(rows.to_dict("records"))


@pytest.fixture(scope="module")
def day():
    fixes, _ = clean(track())
    drifts = drifts_of(cut(fixes), fixes)
    assert len(drifts) == 5
    return drifts, fixes


@pytest.mark.parametrize("ahead_s", [3600.0, -3600.0, 1020.0, 7 * 3600.0])
def test_places_tell_the_offset(day, ahead_s):
    found = log_clock(fish(ahead_s, placed=True), *day)
    assert (found.how, found.fish, found.of) == ("place", 7, 7)
    assert found.offset_s == pytest.approx(ahead_s, abs=60)


@pytest.mark.parametrize("placed", [True, False])
def test_a_right_clock_is_left_alone(day, placed):
    assert log_clock(fish(0.0, placed=placed), *day) == LogClock()
    assert log_clock(fish(0.0, placed=placed)[:0], *day) == LogClock()


@pytest.mark.parametrize("hours", [7, -2])
def test_whole_hours_without_a_place(day, hours):
    found = log_clock(fish(hours * 3600.0, placed=False), *day)
    assert found == LogClock(hours * 3600.0, 7, 7, "drifts")
    assert found.words == f"{hours} h"


TWO_HOURS = [(0, 600), (720, 1320), (3600, 4200), (4400, 5000)]


@pytest.mark.parametrize(
    ("true_s", "answer"),
    [
        # logged as 4330 and 4360, two come between drifts; an hour earlier, all are on drifts
        ([*range(50, 550, 50), 730, 760], LogClock(3600.0, 12, 12, "drifts")),
        # and here all are on drifts either way
        (range(30, 590, 50), LogClock(0.0, 12, 12, or_s=3600.0)),
    ],
)
def test_an_hour_out_among_drifts_is_told_or_doubted(day, true_s, answer):
    start, end = np.array(TWO_HOURS, float).T
    drifts = (
        day[0]
        .iloc[:4]
        .assign(
            start=DAY + pd.to_timedelta(start, unit="s"), end=DAY + pd.to_timedelta(end, unit="s")
        )
    )
    found = log_clock(fish(3600.0, placed=False, seconds=tuple(true_s)), drifts, day[1])
    assert found == answer
    assert "1 h ahead of the track" in found.sentence(0.0, DAY)
    assert '{clock_offset} "1 h"' in found.sentence(0.0, DAY)


def test_few_fish_tell_nothing(day):
    assert log_clock(fish(7 * 3600.0, placed=False)[:4], *day) == LogClock()


def test_the_sentence_names_the_option():
    found = LogClock(7 * 3600.0, 7, 7, "drifts")
    said = found.sentence(0.0, DAY)
    assert said.startswith("All 7 fish are 7 h ahead of the track: is the zone wrong? Give ")
    assert '{clock_offset} "7 h"' in said
    both = found.sentence(-7 * 3600.0, DAY.tz_convert("Etc/GMT+7"))
    assert "began at 08:00 local time" in both
    assert '{track_clock} "-7 h"' in both and '{clock_offset} "7 h"' in both
    assert LogClock().sentence(0.0, DAY) == ""


def written(folder, *, ahead_s: float, track_ahead_s: float, zone: str = "Etc/GMT+7") -> list[str]:
    points = "".join(
        f'<trkpt lat="{row.latitude:.7f}" lon="{row.longitude:.7f}"><time>'
        f"{row.time + pd.Timedelta(seconds=track_ahead_s):%Y-%m-%dT%H:%M:%SZ}</time></trkpt>"
        for row in track().itertuples()
    )
    head = '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
    gpx = folder / "a.gpx"
    gpx.write_text(f"{head}<trk><trkseg>{points}</trkseg></trk></gpx>", encoding="utf-8")
    local = fish(ahead_s, placed=False)["time"].dt.tz_convert(zone)
    log = folder / "log.csv"
    rows = "".join(f"{time:%Y-%m-%d %H:%M:%S},dab\n" for time in local)
    log.write_text("time,species\n" + rows, encoding="utf-8")
    return [
        "trip", str(gpx), "--catches", str(log), "--timezone", zone,
        "--out", str(folder / "out"),
    ]  # fmt: skip


def run(capsys, words: list[str]) -> str:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert not ended.value.code
    return capsys.readouterr().out


def test_a_track_in_local_time_is_seen_and_shifted(tmp_path, capsys):
    words = written(tmp_path, ahead_s=0.0, track_ahead_s=-7 * 3600.0)
    said = run(capsys, words)
    assert "7 tied to no drift" in said and '--track-clock "-7 h"' in said
    put_right = run(capsys, [*words, "--track-clock", "-7 h"])
    assert "0 tied to no drift" in put_right and "7 h" not in put_right
    drifts = pd.read_csv(tmp_path / "out" / "drifts.csv")
    assert pd.to_datetime(drifts["start"], utc=True).min().hour == 15  # true UTC again


def test_auto_uses_what_was_found(tmp_path, capsys):
    words = written(tmp_path, ahead_s=3 * 3600.0, track_ahead_s=0.0)
    said = run(capsys, words)
    assert (
        'All 7 fish are 3 h ahead of the track: is the zone wrong? Give --clock-offset "3 h"'
        in said
    )
    found = run(capsys, [*words, "--clock-offset", "auto"])
    assert "0 tied to no drift" in found and "The log's clock: 3 h ahead, by 7 of 7 fish." in found


def test_each_log_has_its_own_clock(tmp_path, capsys):
    words = written(tmp_path, ahead_s=0.0, track_ahead_s=0.0)
    other = tmp_path / "other.csv"
    local = fish(3 * 3600.0, placed=False)["time"].dt.tz_convert("Etc/GMT+7")
    rows = "".join(f"{time:%Y-%m-%d %H:%M:%S},cod\n" for time in local)
    other.write_text("time,species\n" + rows, encoding="utf-8")
    words[3:4] = [words[3], "--catches", str(other)]
    said = run(capsys, words)
    assert "other.csv: All 7 fish are 3 h ahead" in said and "log.csv: " not in said
    found = run(capsys, [*words, "--clock-offset", "auto"])
    assert "0 tied to no drift" in found


@pytest.mark.parametrize(("zone", "changes"), [("Etc/GMT+7", False), ("Europe/Berlin", True)])
def test_a_trip_through_the_change_of_clocks_is_said(tmp_path, capsys, monkeypatch, zone, changes):
    """The last Sunday of March, 01:00 UTC: half an hour into the track."""
    monkeypatch.setattr(f"{__name__}.DAY", pd.Timestamp("2031-03-30T00:30Z"))
    said = run(capsys, written(tmp_path, ahead_s=0.0, track_ahead_s=0.0, zone=zone))
    assert ("Clocks change in Europe/Berlin during this track" in said) is changes
    assert "0 tied to no drift" in said
