"""Tables described once: read, checked, made, and written for people."""

from __future__ import annotations

import inspect

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from seabed.errors import TableError
from seabed.schema import Table, documented

DRIFTS = Table.of(
    "drifts",
    "drifts_of",
    """
    drift_id [text] its name
    start, end [time] UTC
    drop_m [depth .2] how far
        down it goes
    sog_mps over the ground
    kept [maybe empty] whether it was
    fish [int "Fish caught"] how many
    motor [bool] on
    geometry [LineString]
    """,
)
START = pd.Timestamp("2031-06-14T08:00Z")


def rows(**changed):
    row = {
        "drift_id": "a #1", "start": START, "end": START, "drop_m": 1.5, "sog_mps": 0.5,
        "kept": True, "fish": 2, "motor": False, "geometry": Point(0, 0),
    }  # fmt: skip
    return DRIFTS.frame([row]).assign(**changed)


def test_a_description_gives_types_units_labels_and_meaning():
    assert DRIFTS.names == (
        "drift_id", "start", "end", "drop_m", "sog_mps", "kept", "fish", "motor", "geometry",
    )  # fmt: skip
    drop = DRIFTS["drop_m"]
    assert (drop.doc, drop.dtype, drop.unit, drop.quantity) == (
        "how far down it goes", "float64", "m", "depth",
    )  # fmt: skip
    assert DRIFTS["sog_mps"].quantity == "speed"
    assert DRIFTS["sog_mps"].unit == "m/s"
    assert DRIFTS["fish"].label == "Fish caught"
    assert DRIFTS["drift_id"].label == "Drift id"
    assert [column.name for column in DRIFTS if column.empty] == ["kept"]


@pytest.mark.parametrize("text", ["depth_m [feet] how deep", "depth-m how deep", "[int] nameless"])
def test_a_description_that_says_nothing_known_is_refused(text):
    with pytest.raises(ValueError, match="description"):
        Table.of("a", "b", text)


def test_without_rows_it_has_the_same_types_as_with_one():
    empty, full = DRIFTS.empty(), rows()
    assert list(empty.columns) == list(full.columns) == list(DRIFTS.names)
    assert isinstance(empty, gpd.GeoDataFrame)
    assert empty.crs == full.crs == "EPSG:4326"
    for name in DRIFTS.names[1:-1]:
        assert empty[name].dtype == full[name].dtype == DRIFTS[name].dtype
    DRIFTS.check(empty)
    DRIFTS.check(full)


def test_it_is_made_in_order_and_of_its_types_whatever_is_given():
    given = pd.DataFrame({"fish": [1], "more": ["x"], "start": ["2031-06-14T10:00+02:00"]})
    made = Table.of("few", "me", "start [time]\nfish [float]").frame(given)
    assert list(made.columns) == ["start", "fish"]
    assert made["start"].iloc[0] == START
    assert made["fish"].dtype == np.float64


@pytest.mark.parametrize(
    ("changed", "fault"),
    [
        ({"fish": "two"}, r"drifts has .* \('two', \.\.\.\) in column fish, which needs numbers"),
        ({"fish": True}, r"has bool \(.*\) in column fish, which needs numbers"),
        ({"motor": "yes"}, "column motor, which needs True and False"),
        ({"motor": 1.0}, "has float64 .* in column motor"),
        ({"drift_id": 7}, "has int64 .* in column drift_id, which needs text"),
        ({"start": START.tz_localize(None)}, "column start, which needs times with their zone"),
        ({"start": "2031-06-14"}, "column start, which needs times"),
    ],
)
def test_what_a_column_holds_is_checked(changed, fault):
    with pytest.raises(TableError, match=fault):
        DRIFTS.check(rows(**changed))


def test_a_column_that_is_missing_is_named_with_those_that_are_there():
    fault = "drifts has no column fish; it has drift_id, start, end, .* Take the table from `drifts"
    with pytest.raises(TableError, match=fault):
        DRIFTS.check(rows().drop(columns="fish"))
    DRIFTS.check(rows().drop(columns="fish"), "start", "geometry")


def test_a_table_and_its_geometry_are_needed():
    with pytest.raises(TableError, match="drifts must be a table, not list"):
        DRIFTS.check([1, 2])
    with pytest.raises(TableError, match="has no geometry: a GeoDataFrame is needed"):
        DRIFTS.check(pd.DataFrame(rows()).drop(columns="geometry"))
    with pytest.raises(TableError, match="has a geometry without a CRS"):
        DRIFTS.check(rows().set_crs(None, allow_override=True))


def test_other_types_that_hold_the_same_are_taken():
    same = rows(fish=np.float32(2), motor=np.array([True], object))
    same["drift_id"] = same["drift_id"].astype("category")
    DRIFTS.check(same)


def test_people_read_their_own_units():
    """1.5 m is 4.92 ft, 0.5 m/s 0.97 kn (by the definitions of foot and knot)."""
    units = {"depth": "ft", "speed": "kn"}
    names = ["drift_id", "drop_m", "sog_mps", "fish"]
    headings, cells = DRIFTS.for_people(rows(), names, units)
    assert headings == ["Drift id", "Drop ft", "Sog kn", "Fish caught"]
    assert cells == [["a #1", "4.9", "0.97", "2"]]
    assert DRIFTS.for_people(rows(drop_m=np.nan), ["drop_m"], {}) == (["Drop m"], [[""]])
    assert DRIFTS.for_people(rows(), ["drop_m"], {})[1] == [["1.50"]]  # a foot needs one less


def test_docstrings_take_their_columns_from_it():
    @documented(DRIFTS)
    def drifts():
        """Give them.

        {drifts}
        """

    words = inspect.getdoc(drifts)  # from 3.13 the compiler takes the margin away
    assert "\n- ``start``, ``end``: UTC\n- ``drop_m``: how far down" in words
    assert "\n- ``geometry``: LineString" in words


def test_tables_are_joined_and_keep_their_geometry_last():
    more = DRIFTS + Table.of("met", "with_conditions", "wind_mps over it")
    assert more.names[-2:] == ("wind_mps", "geometry")
    assert more.name == "drifts"
