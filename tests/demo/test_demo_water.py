"""The shipped tables of tide and current, against the hidden tide and current."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from shipped import KNOT, TRUTH, moment, rows_of, stream


def test_highs_and_lows_take_turns():
    rows = rows_of("tide_table.csv")
    for one, two in pairwise(rows):
        assert one["kind"] != two["kind"]
        rise = float(two["height_m"]) - float(one["height_m"])
        assert (rise > 0) == (two["kind"] == "high")
        # half a semidiurnal tide, give or take what springs and the daily tide do
        assert 5 < (moment(two["time"]) - moment(one["time"])).total_seconds() / 3600 < 7.5
    ranges = [abs(float(a["height_m"]) - float(b["height_m"])) for a, b in pairwise(rows)]
    assert max(ranges) > 1.6 * min(ranges)  # springs and neaps


def test_highs_and_lows_are_the_turns_of_the_hidden_tide():
    tides = TRUTH["tides"]
    for row in rows_of("tide_table.csv"):
        hour = (moment(row["time"]) - moment(tides["hours_from"])).total_seconds() / 3600
        near = hour + np.arange(-120, 121) / 60
        level = tides["mean_level_m"] + sum(
            one["height_m"] * np.cos(2 * np.pi * (near - one["phase_h"]) / one["period_h"])
            for one in tides["constituents"].values()
        )
        turn = level.argmax() if row["kind"] == "high" else level.argmin()
        assert abs(near[turn] - hour) * 60 <= 2
        assert level[turn] == pytest.approx(float(row["height_m"]), abs=0.006)


def test_the_current_table_and_the_hidden_current_turn_together():
    rows = rows_of("current_table.csv")
    for one, two in pairwise(rows):
        assert (one["event"] == "slack") != (two["event"] == "slack")
    table = TRUTH["current"]["places"]["channel"]
    first = moment(TRUTH["current"]["hours_from"])
    north = np.array(table["north_mps"])
    hours = np.arange(north.size)
    # the truth is written hourly; a straight line through a turn of the tide is within minutes
    turns = np.flatnonzero(np.sign(north[1:]) != np.sign(north[:-1]))
    true = [hours[i] - north[i] / (north[i + 1] - north[i]) for i in turns]
    said = [
        (moment(row["time"]) - first).total_seconds() / 3600
        for row in rows if row["event"] == "slack"
    ]  # fmt: skip
    off = [min(abs(at - slack) for slack in said) * 60 for at in true]
    assert len(true) > 85
    assert np.median(off) < 5
    assert max(off) < 15
    for row in rows:
        speed = stream(moment(row["time"]).timestamp()) / KNOT
        sign = {"flood": 1, "ebb": -1, "slack": 0}[row["event"]]
        # times to the minute: at slack the water turns by 0.014 kn in one
        assert speed == pytest.approx(sign * float(row["speed_kn"] or 0), abs=0.02)


def test_water_runs_slower_over_the_scarp_than_in_the_channel():
    speed = {
        name: np.hypot(place["east_mps"], place["north_mps"]).max()
        for name, place in TRUTH["current"]["places"].items()
    }
    assert 0.5 * speed["channel"] < speed["scarp"] < 0.85 * speed["channel"]
