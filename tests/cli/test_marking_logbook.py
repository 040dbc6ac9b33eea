"""Marks out of files that hold no ranked lines."""

from __future__ import annotations

import pytest

from layers.cli.marking import read_results
from layers.logbook import Logbook
from seabed.errors import SeabedError


def test_a_logbook_is_refused(tmp_path):
    path = tmp_path / "log.gpkg"
    Logbook(path).add([])
    with pytest.raises(SeabedError, match=r"is a logbook, whose lines are not ranked"):
        read_results([path])
