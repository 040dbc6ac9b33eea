"""Marks out of files that hold no ranked lines, and of no lines."""

from __future__ import annotations

import geopandas as gpd
import pytest

from layers.jobs.parts.earlier import choose_lines, read_results
from layers.logbook import Logbook
from seabed.errors import SeabedError


def test_a_logbook_is_refused(tmp_path):
    path = tmp_path / "log.gpkg"
    Logbook(path).add([])
    with pytest.raises(SeabedError, match=r"is a logbook, whose lines are not ranked"):
        read_results([path])


@pytest.mark.parametrize("best", [0, -1])
def test_no_lines_are_refused(best):
    lines = gpd.GeoDataFrame({"line": ["A", "B"], "rank": [2, 1]}, geometry=[None, None])
    assert choose_lines(lines, names=[], best=1)["line"].tolist() == ["B"]
    for table in (lines, None):
        with pytest.raises(SeabedError, match=rf"best: {best} lines are none\. Give 1 or more"):
            choose_lines(table, names=[], best=best)
