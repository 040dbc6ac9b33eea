"""Yearly nodal corrections change at 1 January: no turn of the tide may come of it.

Stations are the U.S. agency's own, Seattle and cb0102, as it publishes their constituents.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pyTMD.constituents import arguments, frequency
from thoroughness import THOROUGH

from layers.water.currents.events import current_events
from layers.water.heights.stage import turns
from layers.water.stations.harmonics import Harmonics, canonical_name
from layers.water.stations.importers import import_station

YEARS = range(2000, 2060)
SOME = YEARS if THOROUGH else YEARS[::4]
MODIFIED = np.datetime64("1858-11-17", "ns")  # where the Modified Julian Date begins


def new_year(year: int) -> np.datetime64:
    return np.datetime64(f"{year + 1}-01-01", "ns")


def hours(count: float) -> np.timedelta64:
    return np.timedelta64(round(count * 60), "m")


def closest(times: Any) -> float:
    """Least minutes between two that follow each other."""
    return float(np.diff(times.to_numpy()).min() / np.timedelta64(1, "m"))


@pytest.fixture(scope="module")
def seattle(agency_answers: dict[str, Any]) -> Any:
    heights = import_station(agency_answers["heights"]).heights
    assert heights.harmonics.nodal == "yearly"
    return heights


def test_no_turn_is_made_by_the_new_year(seattle: Any) -> None:
    """Of 60 year ends 15 had a pair within an hour, up to 10 minutes apart, where heights step."""
    least = {
        year: closest(
            turns(seattle, new_year(year) - hours(36), new_year(year) + hours(36))["time"]
        )
        for year in YEARS
    }
    assert min(least.values()) > 60, least


def test_no_event_of_a_current_is_made_by_the_new_year(agency_answers: dict[str, Any]) -> None:
    """Of 60 year ends five had two greatest floods or ebbs within an hour."""
    currents = import_station(agency_answers["currents"], depth_bin=4).currents
    for year in YEARS:
        found = current_events(currents, new_year(year) - hours(20), new_year(year) + hours(20))
        slack = found["event"] == "slack"
        assert closest(found["time"][slack]) > 60, year
        assert closest(found["time"][~slack]) > 60, year


def test_heights_pass_over_without_a_step(seattle: Any) -> None:
    """In five minutes no faster than the fastest tide of the days about it."""
    for year in SOME:
        minutes = new_year(year) + np.arange(-2160, 2160, 5).astype("timedelta64[m]")
        change = np.abs(np.diff(seattle.height_m(minutes)))
        near = np.abs((minutes[1:] - new_year(year)) / hours(1)) < 7
        assert change[near].max() < 1.1 * change[~near].max(), year


def test_heights_a_day_from_the_new_year_are_those_of_their_own_year(seattle: Any) -> None:
    """Within 1 mm of a sum written out here, f and u by the astronomical library for 2 July.

    M1 is left out, which the library treats otherwise.
    """
    whole = seattle.harmonics
    kept = np.array([name != "M1" for name in whole.names])
    names = tuple(np.array(whole.names)[kept])
    ours = Harmonics(names, whole.amplitude[kept], whole.phase_deg[kept], nodal="yearly")
    plain = [canonical_name(name) for name in names]
    about: dict[str, Any] = {"corrections": "FES", "climate_solar_perigee": True}
    speed = frequency(plain, **about) * 86400.0
    for year in SOME:
        for middle, first in ((year, -96), (year + 1, 24)):
            times = new_year(year) + np.arange(first * 60, (first + 72) * 60, 30).astype(
                "timedelta64[m]"
            )
            july = (np.datetime64(f"{middle}-01-01", "ns") - MODIFIED) / hours(24) + 182.5
            u, f, _ = arguments(np.array([july]), plain, **about)
            begin = np.floor((times[0] - MODIFIED) / hours(24))
            _, _, v = arguments(np.array([begin]), plain, **about)
            passed = (times - MODIFIED) / hours(24) - begin
            angle = np.outer(passed, speed) + np.radians(v) + u - np.radians(ours.phase_deg)
            expected = (f * ours.amplitude * np.cos(angle)).sum(axis=1)
            np.testing.assert_allclose(ours.value(times), expected, rtol=0, atol=0.001)
