"""Worlds of another make: boats that are steered and pushed, and fish that live where they live.

Here a boat has mass, a helm and an engine and goes where forces take it, in water that is sheared
and eddies; its receiver smooths, rounds and skips.  Fish are animals in places: schools wander from
pass to pass, a fish caught is gone, and what is logged is logged late and to the minute.
"""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from benchmarks.worlds import along, boats

KN = boats.KN
STYLES = {  # drift in the water's way, then back: speed of the water, of the way back, seconds
    "steered, motored back": ((0.5, 1.2), (1.6, 2.6), (240, 700)),
    "steered, narrows": ((3.0, 3.9), (9.0, 18.0), (150, 450)),
    "steered, drifts of 1-3 min": ((0.5, 1.4), (5.0, 12.0), (80, 145)),
    "steered, long drifts": ((0.3, 1.6), (7.0, 18.0), (300, 1200)),
}
FISH = ("schools for a day", "lone fish", "lone fish, 10 min", "reef")


def _toward(bearing: float) -> np.ndarray:
    return np.array([np.sin(bearing), np.cos(bearing)])


def voyage(seed: int, style: str) -> tuple[pd.DataFrame, np.ndarray, list[tuple[int, int]]]:
    """Fixes, the kind of each second and the true drifts of one trip."""
    random = np.random.default_rng([seed, 500 + list(STYLES).index(style)])
    water_kn, back_kn, long_s = (random.uniform(*pair) for pair in STYLES[style])
    set_rad, shear = random.uniform(0, 2 * np.pi), random.normal(0, 1e-3)
    eddy, period = 0.12 * water_kn * KN, random.uniform(200, 600)
    place, velocity, heading = np.zeros(2), np.zeros(2), set_rad + np.pi
    gust, helm = np.zeros(2), 0.0
    places, kinds = [place], []

    def water() -> np.ndarray:
        off = place @ _toward(set_rad + np.pi / 2)
        phase = 2 * np.pi * len(kinds) / period + place[0] / 150
        swirl = eddy * np.array([np.sin(phase), np.cos(1.3 * phase)])
        return water_kn * KN * (1 + 0.1 * np.tanh(shear * off)) * _toward(set_rad) + swirl

    def second(kind: str, thrust_mps: float = 0.0, toward: float = 0.0) -> None:
        nonlocal place, velocity, heading, gust, helm
        gust = 0.97 * gust + random.normal(0, 0.012, 2)
        if thrust_mps:
            off = (toward - heading + np.pi) % (2 * np.pi) - np.pi
            helm += 0.3 * (np.clip(0.5 * off, -0.35, 0.35) - helm)
            heading += helm + random.normal(0, 0.02)
        wanted = water() + gust + thrust_mps * _toward(heading)
        velocity = velocity + (wanted - velocity) * (0.25 if thrust_mps else 0.12)
        place = place + velocity
        places.append(place)
        kinds.append(kind)

    def run_to(goal: np.ndarray, ground_mps: float) -> None:
        for _ in range(3600):
            left = goal - place
            if np.hypot(*left) < max(8.0, 1.5 * ground_mps):
                return
            need = left / np.hypot(*left) * ground_mps - water()
            second("run", float(np.hypot(*need)), float(np.arctan2(*need)))

    drifts = []
    run_to(-2500.0 * _toward(set_rad + random.normal(0, 0.5)), 14 * KN)
    start = place
    for number in range(int(random.integers(4, 8))):
        if number:
            above = random.uniform(0, 100) * _toward(set_rad)
            run_to(start + random.normal(0, 12, 2) - above, back_kn * KN)
        begun = len(kinds)
        for _ in range(int(long_s * random.uniform(0.75, 1.25))):
            second("drift")
        if number and kinds[begun - 1] == "drift":  # there already: one drift goes on
            begun = drifts.pop()[0]
        drifts.append((begun, len(kinds)))
    run_to(start + 2500.0 * _toward(random.uniform(0, 6.28)), 14 * KN)
    return _received(np.array(places), random), np.array(kinds), drifts


def _received(places: np.ndarray, random: np.random.Generator) -> pd.DataFrame:
    """What a receiver makes of a track: smoothed, rounded to 1e-5 degrees, at uneven times."""
    seen = places + np.cumsum(random.normal(0, 0.08, places.shape), axis=0) * 0.98
    for i in range(1, len(seen)):
        seen[i] = 0.6 * seen[i - 1] + 0.4 * (seen[i] + random.normal(0, 1.5, 2))
    at = np.unique(np.r_[0, np.cumsum(random.integers(1, 6, len(seen))), len(seen) - 1])
    at = at[at < len(seen)]
    table = pd.DataFrame(
        {
            "time": (boats.START + pd.to_timedelta(at, unit="s")).as_unit("ns"),
            "longitude": 7.0 + np.round(seen[at, 0] / (111_320 * np.cos(np.radians(52.0))), 5),
            "latitude": 52.0 + np.round(seen[at, 1] / 111_250, 5),
        }
    )
    return table.assign(depth_m=np.nan, temperature_c=np.nan, file="helm", track=0, segment=0)


def fished_ground(seed: int, kind: str) -> tuple[gpd.GeoDataFrame, pd.DataFrame, pd.Series, list]:
    """A season as `along.season` gives it: five lines that wind, and the fish that live on them."""
    random = np.random.default_rng([seed, 600 + FISH.index(kind)])
    drifts, samples, logged, begins = [], [], [], []
    for line in range(5):
        begin = random.uniform(40, along.LENGTH_M - along.STRETCH_M - 40)
        begins.append(begin)
        share = random.uniform(0.06, 0.2)
        for day in range(int(random.integers(6, 10))):
            alive = _animals(random, kind, begin)
            for number in range(int(random.integers(1, 4))):
                name = f"{line}-{day}-{number}"
                at = along.DAY + pd.Timedelta(
                    days=day, seconds=2700 * number + random.uniform(0, 600)
                )
                table, alive, moments = _pass(random, kind, alive, share, at)
                north = table["latitude"].to_numpy()
                east = 0.03 * line + 3e-5 * np.sin(north / along.METRE / 90)
                own = {"drift_id": name, "trip": f"day {day}", "line": f"N{line}"}
                samples.append(table.assign(longitude=east, **own))
                logged += moments
                path = LineString(np.column_stack([east, north]))
                end = at + pd.Timedelta(seconds=along.STEP_S * len(table))
                drifts.append(
                    own | {"start": at, "end": end, "geometry": path,
                           "duration_s": along.STEP_S * len(table)}
                )  # fmt: skip
    drawn = gpd.GeoDataFrame(drifts, geometry="geometry", crs="EPSG:4326")
    return drawn, pd.concat(samples, ignore_index=True), pd.Series(logged), begins


def _animals(random: np.random.Generator, kind: str, begin: float) -> np.ndarray:
    """Places along a line of the fish of a day."""
    many = random.poisson(60)
    if kind == "schools for a day":
        schools = random.uniform(-50, along.LENGTH_M + 50, 4)
        return schools[random.integers(0, 4, many)] + random.normal(0, 25, many)
    where = random.uniform(0, along.LENGTH_M, many)
    if kind == "reef":  # the same density, three times that on the stretch
        reef = random.poisson(2 * 60 * along.STRETCH_M / along.LENGTH_M)
        where = np.r_[where, random.uniform(begin, begin + along.STRETCH_M, reef)]
    return where


def _pass(
    random: np.random.Generator, kind: str, alive: np.ndarray, share: float, at: pd.Timestamp
) -> tuple[pd.DataFrame, np.ndarray, list[pd.Timestamp]]:
    """One drift over the fish that are left: its samples, who is left, and what is logged."""
    steps = int(along.LENGTH_M * random.uniform(0.75, 0.9) / along.SPEED / along.STEP_S)
    pace = along.SPEED * np.exp(random.normal(0, 0.15, steps))
    where = random.uniform(0, 60) + np.cumsum(pace * along.STEP_S) - pace * along.STEP_S / 2
    passed_by = (alive > where[0]) & (alive < where[-1])
    bitten = random.random(len(alive)) < share * passed_by
    second = np.interp(alive[bitten], where, (np.arange(steps) + 0.5) * along.STEP_S)
    moments = [
        (at + pd.Timedelta(seconds=float(one))).round("10min" if "10" in kind else "1min")
        for one in second + random.exponential(15.0, len(second))
    ]
    counts = np.zeros(steps, int)
    for moment in moments:
        passed = (moment - at).total_seconds() / along.STEP_S
        counts[int(np.clip(passed, 0, steps - 1))] += 1
    table = pd.DataFrame(
        {
            "time": at + pd.to_timedelta((np.arange(steps) + 0.5) * along.STEP_S, unit="s"),
            "latitude": where * along.METRE, "depth_m": np.nan, "sog_mps": pace,
            "course_deg": 0.0, "rod_hours": 2 * along.STEP_S / 3600,
            "fish": counts, "kept": counts,
        }
    )  # fmt: skip
    return table, alive[~bitten] + random.normal(0, 15.0), moments


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for style in STYLES:
        trips = pd.DataFrame([boats.graded(*voyage(seed, style)) for seed in seeds])
        yield "cutting", style, boats.summary(trips), "85 %" if "1-3 min" in style else "95 %"
    for kind in FISH:
        tables = [along.claimed(fished_ground(seed, kind), seed) for seed in seeds]
        table = pd.concat(tables, ignore_index=True)
        yield "stretches", kind, along.summary(table, even=kind != "reef"), "3 %"
