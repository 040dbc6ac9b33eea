"""Cutting 200 simulated trips: ours against a general trajectory library's splitters.

The library's splitters know nothing of drifts, so each is asked what it can say: the speed
splitter, which seconds were slow (drift or hold); the stop detector, which were a stay (hold).
Ours is scored on the same two questions, and on its own four kinds.  The library goes by the speed
between neighbouring fixes, so it is also given fixes averaged over 30 s, which helps it.

Run: ``python -m benchmarks tracks_cutting`` (time); ``python -m benchmarks.tracks_cutting [TRIPS]``
(errors as well).
"""

from __future__ import annotations

import sys
import time
import warnings
from datetime import timedelta
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from benchmarks.rows import Row, seconds

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "tracks"))
from simulated import Sea, Trip, kind_by_second, random_trip, stretches

from layers.tracks import clean, cut

TRIPS = 200
KNOTS = 1852 / 3600


def trips(count: int = TRIPS) -> list[tuple[Trip, pd.DataFrame]]:
    """Other boats and seas; 1 to 30 s between fixes, 2 to 10 m of noise, gaps, driven drifts."""
    made = [random_trip(seed) for seed in range(10_000, 10_000 + count)]
    return [(trip, clean(trip.fixes)[0]) for trip in made]


def trajectory(fixes: pd.DataFrame):
    import movingpandas as mpd

    points = gpd.GeoDataFrame(
        {"t": fixes["time"].dt.tz_localize(None)},
        geometry=gpd.points_from_xy(fixes["longitude"], fixes["latitude"]),
        crs="EPSG:4326",
    ).set_index("t")
    return mpd.Trajectory(points, 1)


def averaged(fixes: pd.DataFrame) -> pd.DataFrame:
    """Means over 30 s."""
    bins = fixes["time"].dt.floor("30s")
    return fixes.groupby(bins)[["longitude", "latitude"]].mean().reset_index()


def covered(parts, trip: Trip) -> np.ndarray:
    """Seconds that the library's parts cover."""
    start = trip.fixes["time"].iloc[0].tz_localize(None)
    said = np.zeros(len(trip.kinds), bool)
    for part in parts:
        a, b = (
            round((moment - start).total_seconds())
            for moment in (part.get_start_time(), part.get_end_time())
        )
        said[a:b] = True
    return said


def runs_by_speed(track) -> list:
    """Parts faster than 3 kn, slow for less than 90 s counted in: what is left is slow."""
    import movingpandas as mpd

    splitter = mpd.SpeedSplitter(track)
    return list(splitter.split(speed=3 * KNOTS, duration=timedelta(seconds=90)))


def stays(track) -> list:
    import movingpandas as mpd

    detector = mpd.TrajectoryStopDetector(track)
    return list(detector.get_stop_segments(max_diameter=40, min_duration=timedelta(seconds=120)))


def long_track(points: int = 500_000) -> pd.DataFrame:
    """A season of mornings at one fix a second."""
    parts, have, day = [], 0, 0
    while have < points:
        fixes = random_trip(day, Sea(sampling_s=1, noise_m=4)).fixes
        parts.append(fixes.assign(time=fixes["time"] + pd.Timedelta(days=day)))
        have, day = have + len(fixes), day + 1
    return pd.concat(parts, ignore_index=True).iloc[:points]


def run() -> list[Row]:
    import movingpandas as mpd

    fixes = clean(long_track())[0]
    track = trajectory(fixes)
    hour = timedelta(hours=1)
    return [
        Row.of(
            f"cut {len(fixes):,} fixes",
            "movingpandas, gap splitter",
            seconds(lambda: cut(fixes), times=3),
            seconds(lambda: mpd.ObservationGapSplitter(track).split(gap=hour), times=2),
        )
    ]


def drift_errors(said: np.ndarray, trip: Trip) -> tuple[int, list[int]]:
    """True drifts not found, and how far off the ends of the others are, seconds."""
    own = stretches(said, "drift")
    lost, errors = 0, []
    for a, b in trip.drifts():
        best = max(own, key=lambda s: min(b, s[1]) - max(a, s[0]), default=(0, 0))
        if min(b, best[1]) - max(a, best[0]) <= 0.5 * (b - a):
            lost += 1
        else:
            errors += [abs(best[0] - a), abs(best[1] - b)]
    return lost, errors


def main(count: int) -> None:
    made = trips(count)
    total = sum(len(trip.kinds) for trip, _ in made)
    print(f"{count} trips, {total / 3600:.0f} h, {sum(len(f) for _, f in made):,} fixes")

    cut(made[0][1])
    began = time.perf_counter()
    ours = [kind_by_second(cut(fixes), trip) for trip, fixes in made]
    ours_s = time.perf_counter() - began
    wrong = sum(int((said != trip.kinds).sum()) for said, (trip, _) in zip(ours, made, strict=True))
    lost, errors, drifts = 0, [], 0
    for said, (trip, _) in zip(ours, made, strict=True):
        missed, ends = drift_errors(said, trip)
        lost, errors, drifts = lost + missed, errors + ends, drifts + len(trip.drifts())
    print(
        f"ours: {1 - wrong / total:.2%} of seconds in the right kind; "
        f"{lost} of {drifts} drifts lost; ends off by {np.median(errors):.0f} s median, "
        f"{np.mean(np.array(errors) <= 20):.1%} within 20 s; {ours_s:.2f} s"
    )
    for name, split, kinds, prepare in (
        ("speed splitter, slow or not", runs_by_speed, ("drift", "hold"), None),
        ("speed splitter on 30 s means", runs_by_speed, ("drift", "hold"), averaged),
        ("stop detector, stay or not", stays, ("hold",), None),
        ("stop detector on 30 s means", stays, ("hold",), averaged),
    ):
        began = time.perf_counter()
        parts = [split(trajectory(prepare(f) if prepare else f)) for _, f in made]
        took = time.perf_counter() - began
        theirs_wrong = ours_wrong = asked = 0
        for found, said, (trip, _) in zip(parts, ours, made, strict=True):
            asks = trip.kinds != "gap"
            truth = np.isin(trip.kinds, kinds)
            answer = covered(found, trip)
            if split is runs_by_speed:
                answer = ~answer
            theirs_wrong += int((answer != truth)[asks].sum())
            ours_wrong += int((np.isin(said, kinds) != truth)[asks].sum())
            asked += int(asks.sum())
        print(
            f"{name}: theirs {theirs_wrong / asked:.2%} wrong, {took:.1f} s; "
            f"ours {ours_wrong / asked:.2%} wrong, {ours_s:.2f} s; "
            f"errors x{theirs_wrong / ours_wrong:.1f}, time x{took / ours_s:.0f}"
        )


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    main(int(sys.argv[1]) if len(sys.argv) > 1 else TRIPS)
