"""Answers for machines.  RFC 8259 has no NaN; our own contract for the rest."""

from __future__ import annotations

import json
import math
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from layers.jobs.result import json_text, records


def test_json_has_no_nan_and_the_cautions():
    answer = {"scale": math.nan, "by_hour": [{"east_mps": math.inf, "west_mps": np.float64("nan")}]}
    read = json.loads(json_text(answer), parse_constant=pytest.fail)
    assert read["scale"] is None
    assert read["by_hour"] == [{"east_mps": None, "west_mps": None}]
    assert read["cautions"].startswith("Not for navigation")


def test_json_is_plain_ascii_and_holds_dates_and_paths():
    text = json_text({"day": date(2031, 6, 14), "file": Path("ö.gpx"), "never": pd.NaT, 3: True})
    read = json.loads(text)
    assert text.isascii()
    assert (read["day"], read["file"], read["never"]) == ("2031-06-14", "ö.gpx", None)
    assert read["3"] is True


def test_records_leave_the_geometry_out():
    table = pd.DataFrame({"line": ["A"], "geometry": [None], "rank": [1]})
    assert records(table) == [{"line": "A", "rank": 1}]
    assert records(table, ["rank", "geometry"]) == [{"rank": 1}]
