"""Catch logs as skippers keep them, good and bad."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pandas as pd
import pytest

from layers.catches import as_catches, read_catches
from layers.catches.marked_fish import fish_in_words
from seabed.errors import CatchError
from seabed.tables.headings import CATCH_MEANINGS, ENGLISH


def written(folder, text, name="log.csv", encoding="utf-8"):
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize(
    ("time", "utc"),
    [
        ("2031-06-14 08:30", "2031-06-14T10:30Z"),  # local, two hours behind
        ("2031-06-14T08:30:15-02:00", "2031-06-14T10:30:15Z"),
        ("2031-06-14T10:30Z", "2031-06-14T10:30Z"),
        ("2031/6/14 8:30 am", "2031-06-14T10:30Z"),
        ("2031-06-14 12:05 AM", "2031-06-14T02:05Z"),
        ("2031-06-14 12:05pm", "2031-06-14T14:05Z"),
    ],
)
def test_times_with_and_without_zone(tmp_path, time, utc):
    path = written(tmp_path, f"time,species\n{time},dab\n")
    assert read_catches(path, timezone="Etc/GMT+2")["time"].iloc[0] == pd.Timestamp(utc)


def test_times_without_zone_are_counted(tmp_path):
    rows = ["2031-06-14 08:30", "2031-06-14T08:30Z", "2031-06-14 08:30 -02:00", "2031/6/14 8:30"]
    path = written(tmp_path, "time\n" + "\n".join(rows) + "\n")
    assert read_catches([path, path]).attrs["without_zone"] == 4
    assert read_catches([]).attrs["without_zone"] == 0


def test_a_time_that_came_twice_is_not_guessed(tmp_path):
    path = written(tmp_path, "time\n2031-10-26 00:30\n")
    with pytest.raises(CatchError, match="comes twice in Atlantic/Azores"):
        read_catches(path, timezone="Atlantic/Azores")


@pytest.mark.parametrize(
    ("head", "cell", "metres"),
    [
        ("length_in", "14", 0.3556),
        ("Length (cm)", "36,5", 0.365),
        ("len [mm]", "365", 0.365),
        ("size", "14 in", 0.3556),
        ("length_in", "36 cm", 0.36),  # the cell knows better than its header
        ("length", "14", 0.3556),  # the default unit
        ("length", "", math.nan),
        ("length_in", "14 1/2", 0.3683),  # 14.5 x 25.4 mm
        ("length_in", "11-1/4 in", 0.28575),
    ],
)
def test_lengths(tmp_path, head, cell, metres):
    found = read_catches(written(tmp_path, f"time;{head}\n2031-06-14 08:30;{cell}\n"))
    assert found["length_m"].iloc[0] == pytest.approx(metres, nan_ok=True)


@pytest.mark.parametrize(
    ("head", "word", "kept"),
    [
        ("kept", "YES", True), ("Kept", "short", False), ("kept", "0", False), ("kept", "x", True),
        ("keeper", "n", False), ("released", "yes", False), ("released", "no", True),
        ("short", "y", False), ("fate", "released", False), ("kept", "", None), ("kept", "?", None),
        # words say what became of the fish under any header; only yes and no answer it
        ("released", "kept", True), ("released", "released", False), ("released", "R", False),
        ("Released", "back", False), ("short", "short", False), ("short", "keeper", True),
        ("released", "x", False), ("short", "0", True), ("released", "", None),
    ],
)  # fmt: skip
def test_kept_in_many_spellings(tmp_path, head, word, kept):
    found = read_catches(written(tmp_path, f"time,{head}\n2031-06-14 08:30,{word}\n"))
    value = found["kept"].iloc[0]
    assert value is pd.NA if kept is None else bool(value) is kept


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("comma", [",", ";", "\t", "|"])
def test_any_common_make_of_file(tmp_path, encoding, comma):
    text = comma.join(["Date", "Time", "Fish", "Comment"]) + "\r\n"
    text += (
        comma.join(["2031-06-14", "08:30", "Flétan", f'"off the edge{comma} slow"']) + "\r\n\r\n"
    )
    found = read_catches(written(tmp_path, text, encoding=encoding))
    assert found[["species", "note", "row"]].to_numpy().tolist() == [
        ["flétan", f"off the edge{comma} slow", 2]
    ]


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
@pytest.mark.parametrize("before", ["", "{end}", " {end}{end},,{end}"])
def test_any_line_ends_and_blank_lines_before_the_header(tmp_path, end, before):
    lines = ["time;species;note", "2031-06-14 08:30;dab;a", "", "2031-06-14 08:31;dab;b"]
    text = before.format(end=end) + end.join(lines) + end
    found = read_catches(written(tmp_path, text))
    first = 2 + before.count("{end}")
    assert found[["note", "row"]].to_numpy().tolist() == [["a", first], ["b", first + 2]]


@pytest.mark.parametrize("first", ["sep=;", '"sep=;"', "SEP=;;;"])
def test_a_line_that_names_the_delimiter_is_no_header(tmp_path, first):
    text = f"{first}\r\ntime;species\r\n2031-06-14 08:30;dab\r\n"
    found = read_catches(written(tmp_path, text))
    assert found[["species", "row"]].to_numpy().tolist() == [["dab", 3]]


@pytest.mark.parametrize("text", ["=1+1", "+3 m deep", "-slow", "@dawn"])
def test_a_guard_against_formulas_is_taken_off_again(tmp_path, text):
    path = written(tmp_path, f"time,species,rod,note\n2031-06-14 08:30,'{text},'{text},'{text}\n")
    found = read_catches(path)
    assert found[["species", "rod", "note"]].to_numpy().tolist() == [[text] * 3]
    own = written(tmp_path, "time,note\n2031-06-14 08:30,'twas slow\n")
    assert read_catches(own)["note"].tolist() == ["'twas slow"]


def test_rows_come_in_order_of_time_and_say_where_they_stood(tmp_path):
    path = written(tmp_path, "time,lat,lon\n2031-06-14 09:00,,\n2031-06-14 08:00,46.2,-33.4\n")
    found = read_catches([path])
    assert found["row"].tolist() == [3, 2]
    assert found.geometry.iloc[0].coords[0] == (-33.4, 46.2)
    assert found.geometry.iloc[1] is None
    assert not len(read_catches([])) and str(read_catches([]).crs) == "EPSG:4326"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        ("species\ndab\n", "no column says when"),
        ("time,kept,released\n", "two columns have the same meaning: 'kept' and 'released'"),
        (
            "time\n13/14/2031 08:30\n",
            "line 2, column 'time': can't read the time '13/14",
        ),
        ("time\n2031-06-31 08:30\n", r"line 2, column 'time': can't read the time"),
        ("time\n2031-06-14 13:30 pm\n", r"line 2, column 'time': can't read the time"),
        ("time,species\n,dab\n", "line 2, column 'time': there is no time"),
        (
            "time\n2031-06-14\n",
            "column 'time': there is no time: '2031-06-14' is only a day",
        ),
        ("date,time,species\n2031-06-14,,dab\n", "line 2, column 'time': there is no time"),
        ("date,time\n2031/6/4,\n", "line 2, column 'time': there is no time"),
        ("time\n0031-06-14 08:30\n", "line 2, .*'0031-06-14 08:30': the year can't be right"),
        ("time\n0001-01-01T00:00+14:00\n", "line 2, .*the year can't be right"),
        ("time\n9999-12-31T23:59-14:00\n", "line 2, .*the year can't be right"),
        (
            'time,note\n2031-06-14 08:30,slow\n2031-06-14 08:31,"open\n2031-06-14 08:32,x\n',
            "line 3: this row is not CSV",
        ),
        (
            'time,note\n2031-06-14 08:30,"open\n' + "2031-06-14 08:32,x\n" * 9000,
            "line 2: this row is not CSV",
        ),
        ("\n\nspecies,kepd\n", "line 3: no column says when"),
        (",,\n;;\n", "the file is empty"),
        (
            "time,length_in\n2031-06-14 08:30,-14\n",
            "column 'length_in': a fish of length '-14'",
        ),
        ("time,length_m\n2031-06-14 08:30,14\n", "a fish of length '14'"),
        ("time,length\n2031-06-14 08:30,big\n", "can't read the length 'big'"),
        ("time,kept\n2031-06-14 08:30,perhaps\n", "can't tell whether 'perhaps' is kept"),
        ("time,lat,lon\n2031-06-14 08:30,146.2,-33.4\n", "can't read the position"),
        ("time,lat,lon\n2031-06-14 08:30,46.2,\n", "can't read the position"),
        ("time,note\n2031-06-14 08:30,slow, near the edge\n", "3 cells under 2 headings"),
    ],
)
def test_bad_logs_say_where_and_what_to_do(tmp_path, text, says):
    path = written(tmp_path, text)
    with pytest.raises(CatchError, match=says) as caught:
        read_catches(path)
    assert str(path) in str(caught.value)
    assert caught.value.do


def test_missing_and_binary_files(tmp_path):
    with pytest.raises(CatchError, match="no such file"):
        read_catches(tmp_path / "none.csv")
    (tmp_path / "sheet.csv").write_bytes(b"PK\x03\x04\0\0\0")
    with pytest.raises(CatchError, match="this is a zip archive"):
        read_catches(tmp_path / "sheet.csv")


@pytest.mark.parametrize(
    ("words", "fish"),
    [
        ("keeper 21", ("", 0.5334, True)),
        ("short 12 in", ("", 0.3048, False)),
        ("SHORT brindle flounder 30cm", ("brindle flounder", 0.30, False)),
        ("released 290 mm", ("", 0.29, False)),
        ("keeper 2", ("", math.nan, True)),  # the second one
        ("fish", ("", math.nan, None)),
    ],
)
def test_words_of_waypoints(words, fish):
    found = fish_in_words(words)
    assert found is not None
    assert (found["species"], found["kept"]) == (fish[0], fish[2])
    assert found["length_m"] == pytest.approx(fish[1], nan_ok=True)


@pytest.mark.parametrize("words", ["anchor 3", "", "ramp", "kingfisher rock"])
def test_words_that_name_no_fish(words):
    assert fish_in_words(words) is None


def test_fish_among_the_waypoints_of_a_track(tmp_path):
    points = [
        ("keeper 21", "<time>2031-06-14T10:30:00Z</time>"),
        ("fish bank", ""),  # an old mark, not a catch
        ("short 12", ""),
        ("back to the roots", ""),  # a mark in a real recording
        ("keeper", ""),
        ("ramp", "<time>2031-06-14T09:00:00Z</time>"),
    ]
    body = "".join(
        f'<wpt lat="46.2" lon="-33.4">{time}<name>{name}</name></wpt>' for name, time in points
    )
    gpx = (
        f'<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'
    )
    found = read_catches(written(tmp_path, gpx, "trip.gpx"))
    assert found["length_m"].tolist() == pytest.approx([21 * 0.0254, 12 * 0.0254])
    assert found["time"].isna().tolist() == [False, True]
    assert found["row"].tolist() == [1, 3]


def test_a_table_made_of_no_rows_has_its_columns():
    assert as_catches([]).dtypes["kept"] == "boolean"


def test_the_documented_headers_are_those_that_are_read():
    page = Path(__file__).parents[2] / "docs" / "catches.md"
    rows = re.findall(r"^\| (\w+) \| ([^|]+) \|", page.read_text(encoding="utf-8"), re.MULTILINE)
    told = {name: tuple(names.split(", ")) for name, names in rows if name != "meaning"}
    assert told == {name: ENGLISH[name] for name in CATCH_MEANINGS}


def test_what_the_line_did_is_read(tmp_path):
    text = "time,lead,Line angle,on bottom\n2031-06-14 08:30,1.5 oz,25,yes\n2031-06-14 09:30,,,\n"
    fish = read_catches(written(tmp_path, text))
    assert fish["angle"].tolist() == ["25", ""]
    assert fish["contact"].tolist() == ["yes", ""]
    assert fish["lead"].tolist() == ["1.5 oz", ""]


def test_unknown_columns_are_kept_as_notes_and_said(tmp_path):
    text = (
        "time,kepd,Bait,note,remarks\n2031-06-14 08:30,yes,squid,big,calm\n2031-06-14 09:30,,,,\n"
    )
    fish = read_catches(written(tmp_path, text))
    assert fish["note"].tolist() == ["big; calm; kepd: yes", ""]
    assert fish["bait"].tolist() == ["squid", ""] and (fish["lead"] == "").all()
    assert fish["kept"].isna().all()
    (note,) = fish.attrs["notes"]
    assert "the column 'kepd' is kept as a note. Did you mean 'kept'?" in note
    named = read_catches(written(tmp_path, text), columns={"kepd": "kept"})
    assert named["kept"].tolist()[0] is True
    assert named.attrs["notes"] == []


def test_dates_of_two_ways_are_asked(tmp_path):
    log = written(tmp_path, "time,species\n3/4/2031 8:30 AM,dab\n")
    with pytest.raises(CatchError, match=r"day 3 of month 4.*Set with date_order which"):
        read_catches(log)
    assert read_catches(log, date_order="dmy")["time"][0] == pd.Timestamp("2031-04-03T08:30Z")
    assert read_catches(log, date_order="mdy")["time"][0] == pd.Timestamp("2031-03-04T08:30Z")


@pytest.mark.parametrize(
    ("headings", "cells"),
    [
        ("lat,lon", "46 11.400 N,33 24.600 W"),
        ("Breite;Länge", "46°11,400' N;33°24,600' W"),
        ("position", "\"46°11.400'N, 033°24.600'W\""),
        ("latitud;longitud", '46° 11\' 24"" N;33° 24\' 36"" O'),
    ],
)
def test_positions_as_skippers_write_them(tmp_path, headings, cells):
    mark = ";" if ";" in headings else ","
    log = written(tmp_path, f"time{mark}{headings}\n2031-06-14 08:30{mark}{cells}\n")
    fish = read_catches(log)
    assert fish.geometry[0].x == pytest.approx(-33.41)
    assert fish.geometry[0].y == pytest.approx(46.19)
