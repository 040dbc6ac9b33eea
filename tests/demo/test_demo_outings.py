"""The shipped tracks of the outings, against the kinds that the hidden truth tells."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from shipped import AREA, GPX, KNOT, TRUTH, fixes_of, moment


@pytest.mark.parametrize("trip", TRUTH["trips"], ids=lambda trip: trip["files"][0])
def test_every_second_of_a_trip_has_one_kind(trip):
    pieces = trip["pieces"]
    assert all(one["end"] == two["start"] for one, two in pairwise(pieces))
    assert all(moment(piece["end"]) > moment(piece["start"]) for piece in pieces)
    assert {piece["kind"] for piece in pieces} <= {"run", "drift", "hold", "gap"}
    time, *_ = fixes_of(trip["files"])
    assert (np.diff(time) > 0).all()
    every = np.median(np.diff(time))
    assert abs(moment(pieces[0]["start"]).timestamp() - time[0]) < 1
    assert 0 <= moment(pieces[-1]["end"]).timestamp() - time[-1] < every
    lacking = [(a, b) for a, b in pairwise(time) if b - a > every]
    gaps = [piece for piece in pieces if piece["kind"] == "gap"]
    assert len(lacking) == len(gaps)
    for (a, b), piece in zip(lacking, gaps, strict=True):
        assert abs(moment(piece["start"]).timestamp() - a) <= every
        assert abs(moment(piece["end"]).timestamp() - b) <= every


@pytest.mark.parametrize("trip", TRUTH["trips"], ids=lambda trip: trip["files"][0])
def test_the_boat_went_as_its_kind_says(trip):
    time, x, y = fixes_of(trip["files"])
    for piece in trip["pieces"]:
        start, end = (moment(piece[key]).timestamp() for key in ("start", "end"))
        inside = (time >= start) & (time <= end)
        if piece["kind"] == "gap":
            continue
        px, py = x[inside], y[inside]
        knots = np.hypot(px[-1] - px[0], py[-1] - py[0]) / (end - start) / KNOT
        if piece["kind"] == "hold":
            assert np.hypot(px - px.mean(), py - py.mean()).max() < 25
        elif piece["kind"] == "drift":
            assert 0.2 < knots < 2.5
        else:
            assert knots > 2.5
    speeds = np.hypot(np.diff(x), np.diff(y)) / np.diff(time) / KNOT
    assert 18 < np.percentile(speeds, 99.5) < 27


def test_trips_differ_and_one_carries_the_sounder():
    every = {
        trip["files"][0]: float(np.median(np.diff(fixes_of(trip["files"])[0])))
        for trip in TRUTH["trips"]
    }
    assert sorted(every.values()) == [1.0, 2.0, 3.0, 5.0]
    assert len({(trip["wind_kn"], trip["wind_from"]) for trip in TRUTH["trips"]}) == 4
    root = ElementTree.parse(AREA / "trip_3.gpx").getroot()
    assert len(list(root.iter("{https://example.invalid/sounder}depth"))) == len(
        list(root.iter(f"{GPX}trkpt"))
    )
    assert sum(len(trip["files"]) == 2 for trip in TRUTH["trips"]) == 1
