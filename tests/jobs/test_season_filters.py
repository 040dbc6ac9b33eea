"""Part of a logbook: what each filter keeps, counted by hand."""

import pandas as pd
import pytest

from layers.area import default_area
from layers.jobs.requests import SeasonRequest
from layers.jobs.season._filters import filtered
from layers.scoring.factors import by_year
from seabed.errors import SeabedError

DRIFTS = pd.DataFrame(
    {
        "trip": ["a", "a", "b", "c"],
        "drift_id": ["1", "2", "1", "1"],
        "start": pd.to_datetime(
            ["2030-06-01T08:00Z", "2030-06-01T09:00Z", "2030-12-31T23:00Z", "2031-02-03T08:00Z"]
        ),
        "stage": ["flood", "ebb", "flood", ""],
        "wind_mps": [0.0, 4.0, 9.0, float("nan")],
    }
)
CATCHES = pd.DataFrame(
    {
        "trip": ["a", "a", "b", "c", "c"],
        "drift_id": ["1", "2", "1", "1", ""],
        "species": ["Plaice", "plaice", "cod", "cod", "cod"],
    }
)


def kept(**given):
    request = SeasonRequest(rank=True, **given)
    drifts, catches, notes = filtered(DRIFTS, CATCHES, request, default_area())
    return [f"{row.trip}{row.drift_id}" for row in drifts.itertuples()], len(catches), notes


def test_without_filters_everything_stays():
    assert kept() == (["a1", "a2", "b1", "c1"], 5, [])


@pytest.mark.parametrize(
    ("given", "drifts", "fish"),
    [
        ({"months": "6"}, ["a1", "a2"], 3),  # the fish of no drift stays
        ({"months": "11-2"}, ["b1", "c1"], 3),  # over the turn of the year
        ({"stage": "flood"}, ["a1", "b1"], 3),
        ({"wind_between": "0-10 kn"}, ["a1", "a2"], 3),  # 4 m/s is 7.8 kn, 9 m/s 17.5 kn
        ({"species": ("PLAICE",)}, ["a1", "a2", "b1", "c1"], 2),
        ({"stage": "flood", "species": ("cod",)}, ["a1", "b1"], 2),
    ],
)
def test_a_filter_keeps_what_it_names(given, drifts, fish):
    assert kept(**given)[:2] == (drifts, fish)
    assert kept(**given)[2][0].endswith(f"{len(drifts)} of 4 drifts.")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"months": "0-13"}, "not months"),
        ({"months": "June"}, "not months"),
        ({"wind_between": "strong"}, "can't be right"),
        ({"stage": "stand"}, "no drift of the logbook is left"),
    ],
)
def test_a_filter_that_is_none_or_leaves_nothing_says_so(given, words):
    with pytest.raises(SeabedError, match=words):
        kept(**given)


def test_years_are_those_of_the_local_clock_and_add_up():
    samples = pd.DataFrame(
        {
            "time": DRIFTS["start"],
            "line": ["N1", "N1", "S1", ""],
            "rod_hours": [1.0, 2.0, 4.0, 8.0],
            "fish": [1, 1, 1, 2],
            "kept": [1, 0, 1, 2],
            "drift_id": "1",
            "trip": "t",
            "longitude": 0.0,
            "latitude": 0.0,
            "depth_m": 5.0,
            "sog_mps": 0.4,
            "course_deg": 0.0,
        }
    )
    rows = by_year(samples, timezone="Etc/GMT-2")  # two hours ahead: b is of 2031 there
    shown = {(row.value, row.line): (row.rod_hours, row.fish) for row in rows.itertuples()}
    assert shown == {
        ("2030", ""): (3.0, 2), ("2031", ""): (12.0, 3),
        ("2030", "N1"): (3.0, 2), ("2031", "S1"): (4.0, 1),
    }  # fmt: skip
