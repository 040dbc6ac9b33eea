"""S-57 cells, written record by record after the standard and read through the vector library.

Codes of classes and attributes: IHO S-57 edition 3.1, appendix A.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from making.s57_writer import Cell

from seabed.errors import GridError
from seabed.grid import Bounds
from seabed.loaders import open_grid, read_hazards
from seabed.loaders.charts import (
    describe_chart,
    is_chart,
    read_chart_contours,
    read_chart_soundings,
)

UWTROC, WRECKS, OBSTRN, DEPCNT, SOUNDG, RESARE, CBLSUB = 153, 159, 86, 43, 129, 112, 22
FAIRWY, TSSLPT, DEPARE, BOYLAT, LNDARE = 51, 148, 42, 17, 71
VALSOU, WATLEV, OBJNAM, VALDCO, RESTRN, INFORM, DRVAL1, DRVAL2 = (
    179,
    187,
    116,
    174,
    131,
    102,
    87,
    88,
)


def box(west, south, size=0.01):
    return [(west, south), (west + size, south), (west + size, south + size),
            (west, south + size), (west, south)]  # fmt: skip


@pytest.fixture
def cell(tmp_path):
    made = Cell()
    rock = {VALSOU: "1.2", WATLEV: "4", OBJNAM: "Old Tooth", INFORM: "breaks in swell"}
    made.feature(UWTROC, 1, [made.point(5.01, 50.01)], rock)
    made.feature(WRECKS, 1, [made.point(5.02, 50.01)])
    made.feature(OBSTRN, 1, [made.point(5.03, 50.01)], {VALSOU: "-0.5"})
    made.feature(DEPCNT, 2, [made.edge([(5, 50), (5.01, 50.005), (5.02, 50)])], {VALDCO: "10"})
    made.feature(DEPCNT, 2, [made.edge([(5, 50.001), (5.02, 50.001)])])
    made.feature(SOUNDG, 1, [made.soundings([(5.001, 50.001, 12.3), (5.002, 50.001, -0.4)])])
    made.feature(RESARE, 3, [made.edge(box(5, 50.03))], {RESTRN: "1,3"})
    made.feature(FAIRWY, 3, [made.edge(box(5.02, 50.03))])
    made.feature(TSSLPT, 3, [made.edge(box(5.04, 50.03))])
    made.feature(LNDARE, 3, [made.edge(box(5.06, 50.03))])
    made.feature(CBLSUB, 2, [made.edge([(5, 50.02), (5.01, 50.025), (5.02, 50.02)])])
    made.feature(DEPARE, 3, [made.edge(box(5, 50.05))], {DRVAL1: "-2", DRVAL2: "0"})
    made.feature(DEPARE, 3, [made.edge(box(5.02, 50.05))], {DRVAL1: "0", DRVAL2: "5"})
    made.feature(BOYLAT, 1, [made.point(5.03, 50.02)])
    made.feature(14_999, 1, [made.point(5.035, 50.02)])
    return made.write(tmp_path / "XX5TEST1.000")


def test_hazards_of_each_class(cell):
    hazards = read_hazards(cell)
    assert hazards.crs.to_epsg() == 4326
    assert sorted(hazards["kind"]) == sorted(
        ["rock", "wreck", "obstruction", "restricted area", "fairway", "traffic lane", "land",
         "submarine cable", "drying ground", "unknown"]
    )  # fmt: skip
    assert set(hazards.columns) == {
        "kind", "chart_class", "name", "description", "depth_m", "water_level", "restriction",
        "file", "geometry",
    }  # fmt: skip


def test_attributes_and_places(cell):
    hazards = read_hazards(cell).set_index("kind")
    rock = hazards.loc["rock"]
    assert (rock["name"], rock["description"]) == ("Old Tooth", "breaks in swell")
    assert (rock["depth_m"], rock["water_level"]) == (1.2, "covers and uncovers")
    assert rock.geometry.equals_exact(shapely.Point(5.01, 50.01), 1e-7)
    assert hazards.loc["obstruction", "depth_m"] == -0.5
    area = hazards.loc["restricted area"]
    assert area["restriction"] == "anchoring prohibited, fishing prohibited"
    assert area.geometry.equals(shapely.Polygon(box(5, 50.03)))
    cable = hazards.loc["submarine cable"].geometry
    np.testing.assert_allclose(cable.coords, [(5, 50.02), (5.01, 50.025), (5.02, 50.02)])


def test_a_damaged_code_of_a_restriction_is_shown_as_it_is(tmp_path):
    made = Cell()
    made.feature(RESARE, 3, [made.edge(box(5, 50.03))], {RESTRN: "1,§,3"})
    made.feature(RESARE, 3, [made.edge(box(5.02, 50.03))], {RESTRN: "99,x"})
    hazards = read_hazards(made.write(tmp_path / "XX5TEST2.000"))
    assert hazards["restriction"].tolist() == [
        "anchoring prohibited, code §, fishing prohibited", "code 99, code x"
    ]  # fmt: skip


def test_missing_attributes_are_tolerated(cell):
    wreck = read_hazards(cell).set_index("kind").loc["wreck"]
    assert np.isnan(wreck["depth_m"])
    assert (wreck["name"], wreck["water_level"], wreck["restriction"]) == ("", "", "")


def test_nothing_in_the_cell_goes_unsaid(cell):
    hazards = read_hazards(cell)
    assert hazards.attrs["other_classes"] == {"BOYLAT": 1, "object class 14999": 1}
    unknown = hazards[hazards["kind"] == "unknown"].iloc[0]
    assert unknown["chart_class"] == "object class 14999"
    assert unknown.geometry.equals_exact(shapely.Point(5.035, 50.02), 1e-7)


def test_contours_and_soundings(cell):
    contours = read_chart_contours(cell)
    assert contours["depth_m"].tolist()[0] == 10
    assert np.isnan(contours["depth_m"].tolist()[1])
    soundings = read_chart_soundings(cell)
    np.testing.assert_allclose(soundings["depth_m"], [12.3, -0.4])
    np.testing.assert_allclose(soundings.geometry.x, [5.001, 5.002], atol=1e-7)
    assert not soundings.geometry.has_z.any()


def test_box(cell):
    hazards = read_hazards(cell, box=Bounds(5.005, 50.005, 5.025, 50.015))
    assert sorted(hazards["kind"]) == ["rock", "wreck"]


def test_several_cells(cell, tmp_path):
    other = Cell()
    other.feature(WRECKS, 1, [other.point(6, 51)])
    second = other.write(tmp_path / "XX5TEST2.000")
    both = read_hazards([cell, second])
    assert len(both) == 11
    assert set(both["file"]) == {str(cell), str(second)}


def test_a_cell_without_hazards(tmp_path):
    made = Cell()
    made.feature(BOYLAT, 1, [made.point(6, 51)])
    path = made.write(tmp_path / "XX5TEST3.000")
    hazards = read_hazards(path)
    assert len(hazards) == 0
    assert "depth_m" in hazards
    assert len(read_chart_contours(path)) == 0
    assert describe_chart(path).bounds is None


def test_description(cell):
    report = describe_chart(cell)
    assert report.hazards["rock"] == 1
    assert (report.contours, report.soundings) == (2, 2)
    assert (report.depth_min_m, report.depth_max_m) == pytest.approx((-0.4, 12.3))
    assert report.bounds.west == pytest.approx(5)
    assert report.as_dict()["other_classes"]["BOYLAT"] == 1


def test_names_of_cells():
    assert is_chart("US5AA01M.000")
    assert not is_chart("a.tif")
    assert not is_chart("a.0001")


def test_no_chart(tmp_path):
    with pytest.raises(GridError, match="no such file"):
        read_hazards(tmp_path / "A.000")
    (tmp_path / "B.000").write_bytes(b"not a chart")
    with pytest.raises(GridError, match=r"not an S-57 chart cell.*\.000"):
        read_hazards(tmp_path / "B.000")


def test_a_table_or_track_is_no_chart(tmp_path):
    """The vector library opens these too, and every row would be a hazard of kind unknown."""
    table = tmp_path / "catches.csv"
    table.write_text("time,species\n2031-06-14 10:00,brindle flounder\n")
    track = tmp_path / "trip.gpx"
    track.write_text(
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        '<wpt lat="46.2" lon="-33.4"><name>A</name></wpt></gpx>'
    )
    for path in (table, track):
        with pytest.raises(GridError, match=r"not an S-57 chart cell.*\.000"):
            read_hazards([path])


def test_a_chart_is_no_grid(cell):
    with pytest.raises(GridError, match="vector chart"):
        open_grid(cell)


def test_a_chart_named_twice_is_read_once(cell):
    assert len(read_hazards([cell, cell])) == len(read_hazards(cell)) > 0
    assert len(read_chart_contours([cell, str(cell)])) == len(read_chart_contours(cell))
