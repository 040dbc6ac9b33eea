"""Files as skippers keep them, in ten languages: what each is taken for, and how it is read.

Each was refused, or read wrongly without a word, when it was first tried.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import openpyxl
import pytest

from layers.area import default_area
from layers.catches import read_catches
from layers.jobs.check import check_file
from layers.water import read_currents, read_heights
from seabed.errors import CatchError
from seabed.logs.delimited import read_delimited_fixes

AREA = replace(default_area(), timezone="Europe/Berlin")


def written(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def book(folder, name, rows):
    made = openpyxl.Workbook()
    for row in rows:
        made.active.append(row)
    made.save(folder / name)
    return folder / name


@pytest.mark.parametrize(
    ("word", "clock"),
    [("06.21", "06:21"), ("6.21", "06:21"), ("18.05", "18:05"), ("kl. 06.21", "06:21")],
)
def test_minutes_behind_a_point_are_minutes(tmp_path, word, clock):
    """Python takes 2025-06-14 06.21 for six o'clock."""
    for day in ("2025-06-14", "14.06.2025", "14/06/2025"):
        path = written(tmp_path, "log.csv", f"date;time;species\n{day};{word};plaice\n")
        assert f"{read_catches(path)['time'][0]:%Y-%m-%d %H:%M}" == f"2025-06-14 {clock}"


def test_a_row_may_count_several_fish(tmp_path):
    text = "date,time,fish,{},kept\n2025-06-14,06:21,whiting,3,yes\n2025-06-14,07:05,dab,,no\n"
    for heading in ("count", "Anzahl", "nombre", "aantal", "antall", "cantidad", "quantità"):
        fish = read_catches(written(tmp_path, "log.csv", text.format(heading)))
        assert fish["species"].tolist() == ["whiting"] * 3 + ["dab"]
        assert fish.attrs["notes"] == [f"{tmp_path / 'log.csv'}: 2 rows count 4 fish"]
    assert not len(read_catches(written(tmp_path, "log.csv", "time,count\n2025-06-14 06:21,0\n")))
    for count in ("many", "2.5", "-1", "201"):
        bad = written(tmp_path, "log.csv", f"time,count\n2025-06-14 06:21,{count}\n")
        with pytest.raises(CatchError, match=f"line 2, column 'count': '{count}' is not a count"):
            read_catches(bad)


def test_lengths_without_a_unit_are_asked_for(tmp_path):
    path = written(tmp_path, "log.csv", "time;Länge\n2025-06-14 06:21;41\n")
    with pytest.raises(CatchError, match=r"'41' has no unit.*length_cm.*length_unit") as error:
        read_catches(path, table_unit="")
    assert error.value.question.setting == "length_unit"
    checked = check_file(str(path), AREA)
    assert checked.usable
    assert [cure for _, cure in checked.wrong] == ["Set {length_unit} to cm or in."]
    known = replace(AREA, catches=replace(AREA.catches, length_unit="cm"))
    assert "read as centimetres" in check_file(str(path), known).wrong[0][0]
    assert read_catches(path, default_unit="cm")["length_m"].tolist() == pytest.approx([0.41])
    named = written(tmp_path, "named.csv", "time;Länge\n2025-06-14 06:21;41 cm\n")
    assert read_catches(named, table_unit="")["length_m"].tolist() == pytest.approx([0.41])


def test_a_log_under_a_title_in_a_spreadsheet_is_no_table_of_tides(tmp_path):
    path = book(tmp_path, "high.xlsx", [
        ["My low and high days"], [], ["Date / Time", "Species", "Length cm", "Kept"],
        [dt.datetime(2025, 6, 14, 6, 21), "sole", 32.5, True],
        [dt.datetime(2025, 6, 14, 7, 5), "dab", 20, False],
    ])  # fmt: skip
    checked = check_file(str(path), AREA)
    assert (checked.kind, checked.facts["fish"]) == ("catch log", "2, 1 kept")


TIDES = {
    "each line dated": "2025/06/14 Sat 03:12 AM 6.2 H\n2025/06/14 Sat 09:20 AM 0.4 L\n",
    "a month above": "June 2025\n14 Sa  0312 6.2   0920 0.4\n",
    "days first": "Tides for June 2025\nSat 14  03:12 6.2   09:20 0.4\n",
    "centimetres": "14.06.2025\n03:12  185 cm  flo\n09:20  35 cm  fjære\n",
    "a title in cm": "Heights in cm\n14.06.2025 03:12 85  09:20 35\n",
}


@pytest.mark.parametrize("how", TIDES)
def test_tides_line_by_line(tmp_path, how):
    path = written(tmp_path, "page.txt", TIDES[how])
    first = {"centimetres": 1.85, "a title in cm": 0.85}.get(how, 6.2)
    table = read_heights(path, timezone="UTC", unit="m")
    assert table.heights_m[0] == pytest.approx(first)
    assert str(table.times[0])[:16] == "2025-06-14T03:12"
    assert str(table.times[1])[:16] == "2025-06-14T09:20"
    if how != "a title in cm":
        assert check_file(str(path.rename(tmp_path / "tide_page.txt")), AREA).kind == (
            "table of tide heights"
        )


def test_a_current_whose_events_stand_under_its_own_name(tmp_path):
    rows = "14/06/2025;00h40;étale;0\n14/06/2025;03h50;flot;1,2\n14/06/2025;06h45;étale;0\n"
    path = written(tmp_path, "c.csv", "Date;Heure;Courant;Vitesse (nd)\n" + rows)
    assert check_file(str(path), AREA).kind == "table of currents"
    along = read_currents(path, flood_toward=40).along_mps
    np.testing.assert_allclose(along, [0, 1.2 * 1852 / 3600, 0])


@pytest.mark.parametrize(
    "headings",
    ["time,speed_ms,dir", "Fecha,Viento (nudos),Dirección", "time,wind (kn),gust", "time,wind"],
)
def test_wind_is_not_taken_for_a_catch_log(tmp_path, headings):
    cells = ["2025-06-14 06:00", "SW 12", "SW" if "ir" in headings else "18"]
    row = ",".join(cells[: headings.count(",") + 1])
    path = written(tmp_path, "w.csv", f"{headings}\n{row}\n")
    assert check_file(str(path), AREA).kind.startswith("table of wind")


def test_an_o_in_a_track_is_of_the_language_of_its_headings(tmp_path):
    row = "2025-06-14 06:21:00;46°11,472'N;33°23,160'O;8,4\n"
    west = written(tmp_path, "w.csv", "heure;latitude;longitude;profondeur (m)\n" + row)
    assert read_delimited_fixes(west).longitude.tolist() == pytest.approx([-33.386])
    east = written(tmp_path, "e.csv", "Zeit;Breite;Länge;Tiefe (m)\n" + row)
    assert read_delimited_fixes(east).longitude.tolist() == pytest.approx([33.386])
    either = written(tmp_path, "x.csv", "time;latitude;longitude;depth_m\n" + row)
    assert "may be east or west: write E or W" in " ".join(read_delimited_fixes(either).notes)


def test_a_zone_in_the_heading_of_times_holds(tmp_path):
    rows = "2025-06-14 03:12,3.4\n2025-06-14 09:20,0.6\n2025-06-14 15:40,3.3\n"
    for heading, hour in (("Time (BST)", "02"), ("Zeit (MEZ)", "02"), ("Time (GMT)", "03")):
        path = written(tmp_path, "t.csv", f"{heading},height_m\n{rows}")
        assert str(read_heights(path, timezone="America/New_York").times[0])[11:13] == hour


def test_depths_with_their_unit_in_the_cell_are_read(tmp_path):
    rows = "2025-06-14 06:21;46,1912;-33,386;8,4 m\n2025-06-14 06:22;46,1912;-33,386;10 ft\n"
    path = written(tmp_path, "s.csv", "Uhrzeit;Breite;Länge;Tiefe\n" + rows)
    np.testing.assert_allclose(read_delimited_fixes(path).depth_m, [8.4, 3.048])


def test_a_table_of_which_only_the_times_are_known_is_no_catch_log(tmp_path):
    path = written(tmp_path, "x.csv", "Tijdstip;Waterstuwing\n14-06-2025 03:10;185\n")
    checked = check_file(str(path), AREA)
    assert not checked.usable
    assert "only its times are understood" in checked.wrong[0][0]
    bare = written(tmp_path, "y.csv", "time\n2025-06-14 03:10\n")
    assert check_file(str(bare), AREA).usable
