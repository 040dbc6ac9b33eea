"""Fixes from delimited text."""

import numpy as np
import pandas as pd
import pytest

from layers.tracks import read_fixes
from seabed.errors import TrackError
from seabed.soundings import read_soundings


def read(folder, text: str | bytes, **options) -> pd.DataFrame:
    path = folder / "boat.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_fixes(path, **options)


@pytest.mark.parametrize(
    "text",
    [
        "time,latitude,longitude,depth_m\n2031-06-14T08:00:00Z,-31.5,-24.25,7.5\n",
        "Lat;Lon;Date;Time;Depth (m)\n-31,5;-24,25;2031-06-14;08:00:00;7,5\n",
        "LONGITUDE\tLATITUDE\ttimestamp\tdepth\n-24.25\t-31.5\t2031-06-14 10:00:00+02:00\t7.5\n",
        "lng,lat,utc,Depth ft\n-24.25,-31.5,1939190400,24.6062992\n".replace(
            "1939190400", str(int(pd.Timestamp("2031-06-14T08:00Z").timestamp()))
        ),
        "lon,lat,time,sounding fm\n24°15.0' W,31 30.0S,2031-06-14T08:00:00Z,4.1010499\n",
        'id,"lat","lon",time,water depth\n1,"S 31 30 0","W 24 15 0",2031-06-14T08:00:00,7.5\n',
        "\ufefftime,lat,lon,depth\r\n2031-06-14T08:00:00Z,-31.5,-24.25,7.5\r\n\r\n",
    ],
)
def test_ways_to_write_one_fix(tmp_path, text):
    fixes = read(tmp_path, text)
    assert len(fixes) == 1
    fix = fixes.iloc[0]
    assert fix["time"] == pd.Timestamp("2031-06-14T08:00:00Z")
    np.testing.assert_allclose(
        [fix["latitude"], fix["longitude"], fix["depth_m"]], [-31.5, -24.25, 7.5]
    )


def test_the_zone_of_times_without_one(tmp_path):
    text = "time,lat,lon\n2031-06-14T08:00:00,1,2\n2031-06-14T08:00:00Z,1,2\n"
    assert read(tmp_path, text)["time"].dt.hour.tolist() == [8, 8]
    assert read(tmp_path, text, timezone="Etc/GMT+2")["time"].dt.hour.tolist() == [10, 8]


def test_temperature_in_fahrenheit_and_milliseconds(tmp_path):
    fixes = read(tmp_path, "time,lat,lon,Water temp (F)\n1939190400500,1,2,50\n")
    assert fixes["temperature_c"].iloc[0] == pytest.approx(10)
    assert fixes["time"].iloc[0].microsecond == 500_000


def test_what_cant_be_read_is_counted(tmp_path):
    fixes = read(
        tmp_path,
        "time,lat,lon,depth\n2031-06-14T08:00:00Z,here,2,7\nnoon,1,2,deep\n,1,2,3,4,5\n"
        "2031-06-14T08:00:03Z,nan,\n",
    )
    assert fixes["latitude"].isna().tolist() == [True, False, False, True]
    assert fixes["time"].isna().tolist() == [False, True, True, False]
    assert [note.split(": ")[1] for note in fixes.attrs["notes"]] == [
        "2 rows have more or fewer fields than the header",
        "1 rows have a latitude that can't be read",
        "1 rows have a time that can't be read",
    ]


def test_without_times(tmp_path):
    assert read(tmp_path, "lat,lon\n1,2\n")["time"].isna().all()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a,b\n1,2\n", r"boat\.csv, line 1: no column for latitude and longitude .* \(a, b\)"),
        ("lat,b\n1,2\n", r"no column for longitude"),
        ("lat,lon\n", r"no rows under its header"),
        (" \n", "the file is empty"),
        (b"lat,lon\n\x01\x02\n", r"boat\.csv: this is not text"),
        ('lat,lon\n"1,2\n' + "x" * 200_000, "line 2: this row is not CSV"),
    ],
)  # fmt: skip
def test_bad_files(tmp_path, text, message):
    with pytest.raises(TrackError, match=message):
        read(tmp_path, text)


TWO_WAYS = "time,lat,lon\n3/4/2031 08:00,1,2\n4/4/2031 08:01,1,2\n"


def test_dates_that_can_be_read_two_ways_ask_for_their_order(tmp_path):
    with pytest.raises(TrackError, match=r"boat.csv: can't read the time '3/4/2031.*date_order"):
        read(tmp_path, TWO_WAYS)
    for order, months in (("dmy", [4, 4]), ("mdy", [3, 4])):
        assert read(tmp_path, TWO_WAYS, date_order=order)["time"].dt.month.tolist() == months


def test_a_day_above_twelve_decides_whatever_the_order_given(tmp_path):
    text = TWO_WAYS + "25/4/2031 08:02,1,2\n"
    fixes = read(tmp_path, text, date_order="mdy")
    assert fixes["time"].dt.day.tolist() == [3, 4, 25]


def test_soundings_take_the_order_too(tmp_path):
    path = tmp_path / "deep.csv"
    path.write_text(TWO_WAYS.replace("lon\n", "lon,depth_m\n").replace(",2\n", ",2,5\n"))
    assert read_soundings(path, date_order="mdy").soundings["time"].dt.month.tolist() == [3, 4]
