"""Drifts that scatter about true lines: how many lines are they gathered into?"""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

CRS, X0, Y0 = "EPSG:32625", 470_000.0, 5_116_000.0
DAY = pd.Timestamp("2031-04-01T08:00Z")

# true lines (east, north, course), drifts a line, scatter of the start in metres and of the heading
WORLDS: dict[str, tuple[str, int, float, float, str]] = {
    "one line, 4 deg": ("one", 15, 8.0, 4.0, "1.3 lines"),
    "six lines, 8 m, 4 deg": ("six", 12, 8.0, 4.0, "7 lines"),
    "six lines, 15 m, 8 deg": ("six", 12, 15.0, 8.0, "11 lines"),
    "two lines 60 m apart": ("beside", 12, 8.0, 4.0, "2 lines"),
    "crossing at 30 deg": ("crossing", 12, 8.0, 4.0, "2 lines"),
    "opposite tides": ("opposite", 12, 8.0, 4.0, "2 lines"),
}


def true_lines(random: np.random.Generator, kind: str) -> list[tuple[float, float, float]]:
    course = random.uniform(0, 360)
    across = np.radians(course + 90)
    one = (0.0, 0.0, course)
    if kind == "beside":
        return [one, (60 * np.sin(across), 60 * np.cos(across), course)]
    if kind == "crossing":
        way, other = np.radians(course), np.radians(course + 30)
        middle = 200 * np.array([np.sin(way) - np.sin(other), np.cos(way) - np.cos(other)])
        return [one, (*middle, course + 30)]
    if kind == "opposite":
        return [
            one,
            (400 * np.sin(np.radians(course)), 400 * np.cos(np.radians(course)), course + 180),
        ]
    count = 6 if kind == "six" else 1
    return [(900.0 * (i % 3), 900.0 * (i // 3), random.uniform(0, 360)) for i in range(count)]


def season(seed: int, world: str) -> gpd.GeoDataFrame:
    kind, each, start_m, heading_deg, _ = WORLDS[world]
    random = np.random.default_rng([seed, list(WORLDS).index(world)])
    rows = []
    for line, (east, north, course) in enumerate(true_lines(random, kind)):
        for _ in range(each):
            toward = np.radians(course + random.normal(0, heading_deg))
            way = np.array([np.sin(toward), np.cos(toward)])
            begin = (
                np.array([east, north]) + random.normal(0, start_m, 2) + way * random.uniform(0, 60)
            )
            steps = np.linspace(0, random.uniform(300, 450), 40)
            wander = np.cumsum(random.normal(0, 0.8, 40))
            xy = begin + steps[:, None] * way + wander[:, None] * way[::-1] * [1, -1]
            rows.append(
                {
                    "line_true": line, "course_deg": float(np.degrees(toward) % 360),
                    "start": DAY + pd.Timedelta(minutes=float(random.uniform(0, 200_000))),
                    "geometry": LineString(xy + np.array([X0, Y0])),
                }
            )  # fmt: skip
    table = gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS).to_crs("EPSG:4326")
    return table.assign(drift_id=[f"#{i}" for i in range(len(table))])


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    from layers.scoring import gather_lines

    for world, (*_, wanted) in WORLDS.items():
        found, mixed, same = [], [], []
        for seed in seeds:
            drifts = season(seed, world)
            named = gather_lines(drifts)
            found.append(named["line"].nunique())
            owner = named.groupby("line")["line_true"].agg(lambda own: own.mode()[0])
            mixed.append((named["line"].map(owner) != named["line_true"]).mean())
            other = gather_lines(drifts.sample(frac=1.0, random_state=seed))
            pairs = pd.crosstab(named["line"], other.loc[named.index, "line"])
            same.append(((pairs > 0).sum(axis=1) == 1).all())
        figure = (
            f"{np.mean(found):.1f} lines ({len(found)} seasons); {np.mean(mixed):.1%} of drifts on "
            f"the wrong one; alike in another order in {np.mean(same):.0%}"
        )
        yield "lines", world, figure, wanted
