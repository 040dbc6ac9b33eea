"""Datums: their names as the IHO's dictionary (S-32) spells them, and when two go together."""

from __future__ import annotations

import doctest
from types import SimpleNamespace

import pytest

from layers.water.heights import datums
from layers.water.heights.datums import datum_fault, datum_of


@pytest.mark.parametrize(
    ("name", "letters"),
    [
        ("MLLW", "MLLW"),
        ("MLLW depth", "MLLW"),
        ("mean lower low water (invented)", "MLLW"),
        ("Mean Low Water", "MLW"),
        ("mean low water springs", "MLWS"),
        ("approximate MLLW", "MLLW"),
        ("Lowest_Astronomical_Tide", "LAT"),
        ("NAVD88 height", "NAVD88"),
        ("chart datum of the harbour board", ""),
        ("LATER", ""),
        ("unknown", ""),
        ("", ""),
    ],
)
def test_the_datum_that_a_name_tells_of(name: str, letters: str) -> None:
    assert datum_of(name) == letters


def heights(datum: str) -> SimpleNamespace:
    return SimpleNamespace(datum=datum)


@pytest.mark.parametrize("name", ["", "unknown", "MLLW; unknown"])
def test_depths_from_nobody_knows_where_are_a_fault(name: str) -> None:
    for tide in (None, heights("MLLW")):
        what, cure = datum_fault(name, tide) or ("", "")
        assert "names no vertical datum" in what and "{grid.vertical_datum}" in cure


def test_several_datums_are_a_fault() -> None:
    what, cure = datum_fault("MLLW; LAT", None) or ("", "")
    assert "different vertical datums (MLLW, LAT)" in what and cure


def test_the_tide_may_be_above_another_datum() -> None:
    assert datum_fault("mean lower low water", heights("MLLW")) is None
    assert datum_fault("LAT", None) is None
    assert datum_fault("the harbour's own", heights("MLLW")) is None  # nobody knows
    what, cure = datum_fault("NAVD88 height", heights("MLLW")) or ("", "")
    assert "from NAVD88 and tide heights from MLLW" in what and "{grid.offset}" in cure
    assert datum_fault("NAVD88", heights("MLLW"), offset_m=0.4) is None  # brought to the tide's
    subordinate = SimpleNamespace(reference=heights("MSL"))
    what, _ = datum_fault("LAT", subordinate) or ("", "")
    assert "from LAT and tide heights from MSL" in what


def test_the_example_runs() -> None:
    assert doctest.testmod(datums).failed == 0
