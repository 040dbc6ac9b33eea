"""What plans are worth on other grounds, with other fish, and in a skipper's second season.

``python -m benchmarks.planning.worth_elsewhere GROUND [DRAW [ROD_HOURS]]`` prints a table for one
of ``demo``, ``wandering`` and ``patches``; plans count lines from ROD_HOURS on.  The fish, where
they feed on which tide, and how the water really runs are drawn anew; a skipper then fishes four
trips of a first season by marks on the edges, four of a second by what the first paid, and the
planner gets the logbook of the first, or of both, or none.  ``second GROUND FIRST-LAST`` compares
plans after one season and after two over draws.  The figures are how all do on the days
of `drift_truth.TOLD_OF`, by the truth alone.
"""

import sys
from copy import deepcopy
from types import SimpleNamespace

import numpy as np
import pandas as pd
import shapely

from benchmarks.planning.covered import BAND_M, grounds
from benchmarks.planning.drift_truth import (
    BEGIN,
    GRID_M,
    TOLD_OF,
    TRIED_ON,
    Truth,
    Ways,
    new_days,
    stream_at,
)
from benchmarks.planning.drift_worth import Planner, ways_of
from layers import clean, cut, drifts, score, tie
from layers.catches import as_catches
from layers.jobs.parts.area_water import currents_of, heights_of
from layers.planning.ground import fished, proven_lines
from layers.scoring import Ground
from layers.tracks.table import FIXES
from seabed.grid.places import sample
from seabed.structure import edges as find_edges

EVERY_S = 5
RODS = 2
PASSES = 8
PASS_S = 780.0
RUN_MPS = 10.8
SECOND_SEASON = (
    ("2031-06-08", -1, 8.0, 250.0), ("2031-06-13", +1, 6.0, 190.0),
    ("2031-06-22", -1, 9.0, 20.0), ("2031-06-27", +1, 7.0, 300.0),
)  # fmt: skip


def haunts_on(edges, truth_at, random):
    """Draw seven places on the edges: middle, bearing, fish a rod-hour, and the tide of feeding."""
    lines = edges.to_crs("EPSG:32625").geometry.to_numpy()
    drawn = []
    for _ in range(7):
        line = lines[
            random.choice(len(lines), p=shapely.length(lines) / shapely.length(lines).sum())
        ]
        at = random.uniform(0.1, 0.9) * line.length
        here, there = (line.interpolate(metres) for metres in (at, at + 10.0))
        drawn.append((
            (here.x - truth_at[0], here.y - truth_at[1]),
            np.arctan2(there.x - here.x, there.y - here.y),
            random.uniform(2.0, 7.0), int(random.choice([-1, 0, 1])),
        ))  # fmt: skip
    return drawn


def truth_of(grid, edges, *, seed):
    """Draw what is hidden of a ground: the water runs by some degrees and a share off the table."""
    x, y = grid["x"].values, grid["y"].values
    cell = float(x[1] - x[0])
    west, north = float(x[0]) - cell / 2, float(y[0]) + cell / 2
    south = float(y[-1]) - cell / 2
    random = np.random.default_rng(seed)
    haunts = haunts_on(edges, (west, south), random)
    off, early, share = random.uniform(-12, 12), random.uniform(-0.4, 0.4), random.uniform(0.7, 1.1)

    def rate(hour, east, north_m):
        speed = stream_at(hour)
        total = np.full(np.broadcast(hour, east, north_m).shape, 0.25)
        for (x0, y0), bearing, strength, stage in haunts:
            feeding = 1.0 if stage == 0 else np.clip(stage * speed / 0.35, 0.1, 1.0)
            along = (east - x0) * np.sin(bearing) + (north_m - y0) * np.cos(bearing)
            across = (east - x0) * np.cos(bearing) - (north_m - y0) * np.sin(bearing)
            total = total + strength * feeding * np.exp(
                -0.5 * ((along / 150.0) ** 2 + (across / 40.0) ** 2)
            )
        return total

    def current(hour, east, north_m, depth):
        slower = share * np.clip((np.maximum(depth, 0.3) / 8.0) ** 0.5, 0.3, 1.2)
        toward = np.radians(352.0 + off)
        speed = slower * stream_at(np.asarray(hour) + early)
        return speed * np.sin(toward), speed * np.cos(toward)

    return Truth(west, south, north, cell, rate, current)


class Skipper:
    """Fishes trips by marks, free, and logs every fix and fish."""

    def __init__(self, planner, edges, *, seed):
        self.planner, self.random = planner, np.random.default_rng(seed)
        lines = edges[edges["in_band"]] if "in_band" in edges else edges
        lines = lines.to_crs("EPSG:32625").geometry.to_numpy()
        self.marks = np.array([
            line.interpolate(self.random.uniform(0, 1), normalized=True).coords[0]
            for line in self.random.choice(lines, 8)
        ])  # fmt: skip
        self.paid = {}  # fish and passes by mark and tide

    def choose(self, stage, *, known):
        """Take marks in turn; or, once known, the three that paid best on this tide, in turn."""
        if not known:
            return self.random.permutation(len(self.marks))[:PASSES]
        best = sorted(
            range(len(self.marks)),
            key=lambda mark: -np.divide(*self.paid.get((mark, stage), (0.0, 1.0))),
        )
        return np.resize(best[:3], PASSES)

    def trip(self, day, stage, *, known):
        """Give fixes and catches of a trip, and the true rate a rod-hour of its drifts."""
        truth, bottom = self.planner.truth, self.planner.bottom
        toward = np.radians(day.wind.from_deg + 180.0)
        air = 0.029 * day.wind.speed_mps * np.array([np.sin(toward), np.cos(toward)])
        hour = float((day.start - BEGIN) / np.timedelta64(3600, "s"))
        here = np.array(self.marks[0]) - [truth.west, truth.south] + 400.0
        rows, fish, expected = [], [], 0.0

        def logged(place):
            rows.append((hour, *(place + self.random.normal(0, 2.0, 2))))

        for mark in self.choose(stage, known=known):
            goal = self.marks[mark] - [truth.west, truth.south] + self.random.normal(0, 6.0, 2)
            while (away := np.hypot(*(goal - here))) > 5.0:
                here = here + (goal - here) / away * min(away, RUN_MPS * EVERY_S)
                hour += EVERY_S / 3600.0
                logged(here)
            caught = 0
            for _ in range(int(PASS_S / EVERY_S)):
                depth = float(truth.depth(bottom, *np.array([[here[0]], [here[1]]]))[0])
                water = np.array([float(part) for part in truth.current(hour, *here, depth)])
                here = here + EVERY_S * (water + air + self.random.normal(0, 0.03, 2))
                hour += EVERY_S / 3600.0
                logged(here)
                each = float(truth.rate(hour, *here)) * EVERY_S / 3600.0
                expected += each
                for _ in range(self.random.poisson(each * RODS)):
                    fish.append(hour)
                    caught += 1
            sums = self.paid.setdefault((int(mark), stage), [0.0, 0.0])
            sums[0] += caught
            sums[1] += 1.0
        hours, east, north = np.array(rows).T
        longitude, latitude = GRID_M.transform(
            east + truth.west, north + truth.south, direction="INVERSE"
        )
        times = pd.to_datetime(BEGIN) + pd.to_timedelta(np.round(hours * 3600), unit="s")
        fixes = FIXES.frame({
            "time": times.tz_localize("UTC"), "longitude": longitude, "latitude": latitude,
            "depth_m": sample(self.planner.grid, longitude, latitude), "temperature_c": np.nan,
            "file": f"{day.start}.gpx", "track": 0, "segment": 0,
        })  # fmt: skip
        logged_fish = [
            {"time": (pd.to_datetime(BEGIN) + pd.to_timedelta(round(at * 3600), unit="s"))
             .tz_localize("UTC"), "species": "flatfish", "length_m": 0.4, "kept": True, "rod": "",
             "note": "", "longitude": np.nan, "latitude": np.nan, "file": "catches.csv", "row": row}
            for row, at in enumerate(fish, 2)
        ]  # fmt: skip
        return fixes, logged_fish, expected / (PASSES * PASS_S / 3600.0)

    def season(self, days, *, known=False):
        """Give drifts and tied catches of a season, and the mean rate of its trips."""
        own, ties, rates = [], [], []
        for (_, stage, *_), day in zip(days, new_days(days), strict=True):
            fixes, rows, rate = self.trip(day, stage, known=known)
            fixes, _ = clean(fixes)
            own.append(drifts(cut(fixes), fixes, rods=RODS))
            ties.append(tie(as_catches(rows), own[-1], fixes))
            rates.append(rate)
        return pd.concat(own, ignore_index=True), pd.concat(ties, ignore_index=True), rates


def best_mark(planner, skipper, day, stage):
    """Drift free from the mark that paid best on this tide, again and again."""
    mark = skipper.marks[skipper.choose(stage, known=True)[0]]
    longitude, latitude = GRID_M.transform(*mark, direction="INVERSE")
    lasts, each = PASS_S, PASS_S + 180.0
    begin = day.start + (np.arange(0, 3 * 3600 - lasts, each) * 1e9).astype("timedelta64[ns]")
    many = np.ones(len(begin))
    ways = Ways(
        longitude * many, latitude * many, begin, lasts * many, 0 * many, 0 * many, 3.0
    )  # fmt: skip
    return planner.rates(ways, day.wind)


class TwoSeasons:
    """A skipper's two seasons on a ground, and the planner that gets the logbook of either."""

    def __init__(self, name, seed):
        (_, self.grid, edges, worth, _, hazards), *_ = grounds([name])
        self.edges = edges if name == "demo" else find_edges(self.grid, band=BAND_M)
        self.ground = SimpleNamespace(
            grid=self.grid, hazards=hazards, structure_score=worth, fished_worth={},
            structure=SimpleNamespace(edges=self.edges),
        )  # fmt: skip
        truth = truth_of(self.grid, self.edges[self.edges["in_band"]], seed=seed)
        self.planner = Planner(ground=self.ground, truth=truth, spacing_m=120.0)
        self.skipper = Skipper(self.planner, self.edges, seed=seed)
        self.seasons = [self.skipper.season(TRIED_ON)]
        paid = deepcopy(self.skipper.paid)
        self.seasons.append(self.skipper.season(SECOND_SEASON, known=True))
        self.paid = [paid, self.skipper.paid]

    def books(self):
        """Give the planner and the skipper what one season tells, then both; name them."""
        area = self.planner.area
        about = Ground(self.grid, self.edges, None, heights_of(area), currents_of(area))
        for number, title in enumerate(("one season", "two seasons")):
            book = self.seasons[: number + 1]
            own, ties = (pd.concat([one[at] for one in book], ignore_index=True) for at in (0, 1))
            self.planner.scores = score(own, ties, ground=about, regroup=True)
            self.planner.worths, self.ground.fished_worth = {}, {}
            self.skipper.paid = self.paid[number]
            yield title


def second_season(name, draws):
    """Plans by the logbook of one season and of two, draw by draw."""
    means = []
    for seed in draws:
        two = TwoSeasons(name, seed)
        days = new_days(TOLD_OF)
        means.append(
            [np.mean([two.planner.follow(day)[0].rod_hour for day in days]) for _ in two.books()]
        )
        print(f"{name}, draw {seed}: {means[-1][0]:.2f}, {means[-1][1]:.2f}", flush=True)
    one, both = np.mean(means, axis=0)
    print(f"{name}, all: {one:.2f}, {both:.2f}")


def main(name, seed=1, rod_hours=fished.LEAST_ROD_HOURS):
    fished.LEAST_ROD_HOURS = proven_lines.LEAST_ROD_HOURS = rod_hours
    two = TwoSeasons(name, seed)
    planner, skipper, seasons = two.planner, two.skipper, two.seasons
    table = {}
    for title in two.books():
        for (_, stage, *_), day in zip(TOLD_OF, new_days(TOLD_OF), strict=True):
            rates, passes = planner.follow(day)
            table.setdefault(f"plan, logbook of {title}", []).append(rates)
            table.setdefault(f"the same, drifting free, {title}", []).append(
                planner.follow(day, held=False)[0]
            )
            table.setdefault(f"lines by their rates, {title}", []).append(
                planner.by_rates_alone(day)
            )
            table.setdefault(f"the mark that paid best on this tide, again, {title}", []).append(
                best_mark(planner, skipper, day, stage)
            )
            if title == "one season":
                alone, unknown = planner.follow(day, log=False)
                table.setdefault("plan without a logbook", []).append(alone)
                held = ways_of(unknown, 3.0, corrected=False)
                table.setdefault("plan without a logbook, trim never corrected", []).append(
                    planner.rates(held, day.wind)
                )
                table.setdefault("random lines in the band", []).append(
                    planner.random_lines(day, passes)
                )
    print(f"ground {name}, draw {seed}, lines from {rod_hours:g} rod-hours; skipper's seasons:",
          *(f"{np.mean(one[2]):.2f}" for one in seasons))  # fmt: skip
    print("| way of fishing | fish a rod-hour | ebbs | floods | mean | in an hour |")
    print("|---|---|---|---|---|---|")
    for title, rates in table.items():
        each = np.array([one.rod_hour for one in rates])
        means = each[::2].mean(), each[1::2].mean(), each.mean()
        told = " | ".join(f"{mean:.2f}" for mean in (*means, np.mean([one.hour for one in rates])))
        print(f"| {title} | {', '.join(f'{one:.2f}' for one in each)} | {told} |", flush=True)


if __name__ == "__main__":
    if sys.argv[1] == "second":
        first, last = (int(word) for word in sys.argv[3].split("-"))
        second_season(sys.argv[2], range(first, last + 1))
        sys.exit()
    numbers = (kind(word) for kind, word in zip((int, float), sys.argv[2:], strict=False))
    main(sys.argv[1], *numbers)
