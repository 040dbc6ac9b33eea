"""The demo area's trips against what its simulated boat really did."""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from layers.tracks import clean, cut, read_fixes

DEMO = Path(__file__).parents[2] / "demo_area"
TRIPS = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["trips"]


def seconds(moment, start: pd.Timestamp) -> int:
    return round((pd.Timestamp(moment) - start).total_seconds())


@pytest.mark.parametrize("trip", TRIPS, ids=lambda trip: trip["files"][0])
def test_every_second_and_every_drift(trip):
    fixes, report = clean(read_fixes([DEMO / name for name in trip["files"]]))
    assert report.dropped == 0
    pieces = cut(fixes)
    start, end = fixes["time"].iloc[0], fixes["time"].iloc[-1]
    true, said = (np.full(seconds(end, start), "", dtype=object) for _ in range(2))
    for piece in trip["pieces"]:
        true[max(0, seconds(piece["start"], start)) : seconds(piece["end"], start)] = piece["kind"]
    for piece in pieces.itertuples():
        span = slice(seconds(piece.start, start), seconds(piece.end, start))
        assert (said[span] == "").all()
        said[span] = piece.kind
    assert (said != "").all()
    assert all(one == two for one, two in pairwise(pieces["outing"]))
    assert (said == true).mean() >= 0.97

    drifts = pieces[pieces["kind"] == "drift"]
    real = [piece for piece in trip["pieces"] if piece["kind"] == "drift"]
    assert len(drifts) == len(real)
    for found, piece in zip(drifts.itertuples(), real, strict=True):
        assert abs((found.start - pd.Timestamp(piece["start"])).total_seconds()) <= 20
        assert abs((found.end - pd.Timestamp(piece["end"])).total_seconds()) <= 20
