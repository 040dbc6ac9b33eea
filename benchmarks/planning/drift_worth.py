"""What plans of the demo area are worth, followed through its hidden truth.

``python -m benchmarks.planning.drift_worth`` prints the table of docs/how_well.md.

From a plan the boat of `drift_truth` takes the marks, the times, and the motor trim of each pass,
which a hand corrects every five minutes.  The planner knows the tables of ``area.toml`` and, where
a row says so, the logbook of the four trips.  How plans are made was chosen on `TRIED_ON` alone;
the figures are how they do on `TOLD_OF`.
"""

import contextlib
import io
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from pyproj import Transformer

from benchmarks.planning.covered import HELD_MPS
from benchmarks.planning.drift_truth import (
    DEMO,
    DEMO_TRUTH,
    TOLD_OF,
    Ways,
    new_days,
    own_trips,
    rates_of,
)
from layers.area import load_area
from layers.area._fishing import LogbookFile
from layers.cli.main import main as command
from layers.jobs.parts.area_water import currents_of, heights_of
from layers.jobs.plan._day_plan import proven_by, worth_for
from layers.jobs.plan._inputs import setting_of
from layers.jobs.plan._known_ground import ground_of
from layers.planning import DayWater, plan_day
from layers.planning.day.choice import LEFT_AFTER_A_DRIFT
from layers.planning.day.plan_day import STRUCTURE_SCORE
from layers.planning.ground.fished import LEAST_ROD_HOURS, LEFT_WHERE_FISH_WERE
from layers.water import FixedCurrent, leeway_of
from layers.water.times import as_utc

POINTS = 65  # of a way, even in time


def ways_of(passes, hours, *, corrected=True):
    """Give every pass of a plan as the skipper makes it: its mark, its hour and its trim."""
    start = np.array([path.coords[0] for path in passes.geometry])
    pushes = []
    for name in ("push", "push_end"):
        toward = np.radians(np.nan_to_num(passes[f"{name}_deg"].to_numpy(float)))
        size = passes[f"{name}_mps"].to_numpy(float)
        pushes += [size * np.sin(toward), size * np.cos(toward)]
    even = np.linspace(0, 1, POINTS)
    paths = np.array([
        [np.interp(even, np.linspace(0, 1, len(line.coords)), part)
         for part in np.array(line.coords).T[:2]]
        for line in passes.geometry
    ]).transpose(0, 2, 1)  # fmt: skip
    return Ways(
        start[:, 0], start[:, 1], as_utc(passes["start"]), passes["drift_s"].to_numpy(),
        *pushes[:2], hours, *pushes[2:], paths if corrected else None,
    )  # fmt: skip


class Planner:
    """The toolkit with what ``area.toml`` tells it."""

    def __init__(self, log=None, *, spacing_m=80.0, ground=None, truth=DEMO_TRUTH):
        self.area = load_area(DEMO / "area.toml")
        self.ground = ground or ground_of(self.area)
        self.grid, self.hazards = self.ground.grid, self.ground.hazards
        self.bottom = self.grid.values.astype(float)
        self.spacing_m = spacing_m
        self.truth = truth
        self.worths = {}  # neither wind nor day changes them
        book = replace(self.area, logbook=LogbookFile(log))
        self.scores = None if log is None else self.ground.scores(book)

    def rates(self, ways, wind):
        """Follow ways through the truth."""
        return rates_of(ways, self.bottom, wind, truth=self.truth)

    def setting(self, trip, *, held=True, current=True):
        water = DayWater(
            currents_of(self.area) if current else FixedCurrent(0.0, 0.0),
            leeway_of(self.area.boat.craft), trip.wind, held_mps=HELD_MPS if held else None,
            motor_limit_mps=self.area.boat.motor_limit_mps,
        )  # fmt: skip
        return setting_of(self.area, water, self.grid, self.hazards, heights_of(self.area))

    def worth(self, trip, *, log=True):
        """Give the worth as ``seabed plan`` takes it, with the logbook or without."""
        if log not in self.worths:
            scores = self.scores if log else None
            self.worths[log] = worth_for(self.area, self.ground, self.setting(trip), scores)
        return self.worths[log]

    def follow(self, trip, *, log=True, held=True, current=True):
        """Plan the hours of a trip and follow the plan through the truth."""
        setting = self.setting(trip, held=held, current=current)
        worth, kind = self.worth(trip, log=log)
        if not current and callable(worth):  # lines that paid, whichever way the water ran
            ways = [worth(trip.start + np.timedelta64(6 * hours, "h")) for hours in range(4)]
            worth = ways[0].copy(data=np.max([way.values for way in ways], axis=0))
        left = LEFT_WHERE_FISH_WERE if log else LEFT_AFTER_A_DRIFT
        passes = plan_day(
            setting, worth, trip.start, trip.end, spacing_m=self.spacing_m, left=left,
            worth_kind=kind if current else STRUCTURE_SCORE,
            proven=proven_by(self.scores, setting) if log and current else (), cover=not log,
        ).passes  # fmt: skip
        hours = float((trip.end - trip.start) / np.timedelta64(3600, "s"))
        return self.rates(ways_of(passes, hours, corrected=held), trip.wind), passes

    def by_rates_alone(self, trip):
        """Drift the logbook's lines by their rates, knowing nothing of the water.

        Such a skipper goes to the mark at which the middlemost drift of a line began, drifts free
        for as long as its drifts took, runs back, and after each three quarters of an hour takes
        the line whose cautious rate, less a tenth for each time it was taken, is the greatest.
        """
        lines = self.scores.lines
        lines = lines[lines["rod_hours"] >= LEAST_ROD_HOURS].set_index("line")
        minutes = self.scores.drifts.groupby("line")["duration_s"].mean()
        limits = self.setting(trip).limits
        rates, passes = lines["rate_all_low"].copy(), []
        for slot in np.arange(trip.start, trip.end, np.timedelta64(45, "m")):
            name = rates.idxmax()
            rates[name] *= LEFT_WHERE_FISH_WERE
            lasts = float(minutes[name])
            each = lasts + limits.set_up_s + lines["length_m"][name] / limits.running_mps
            until = min(slot + np.timedelta64(45, "m"), trip.end)
            room = float((until - slot) / np.timedelta64(1, "s"))
            for number in range(max(1, 1 + int((room - lasts) // each))):
                begin = slot + np.timedelta64(round(number * each), "s")
                passes.append((*lines.geometry[name].coords[0][:2], begin, lasts))
        x, y, begin, lasts = (np.array(part) for part in zip(*passes, strict=True))
        hours = float((trip.end - trip.start) / np.timedelta64(3600, "s"))
        still = np.zeros(len(x))
        ways = Ways(x, y, as_utc(begin), lasts, still, still, hours)
        return self.rates(ways, trip.wind)

    def random_lines(self, trip, passes, *, seed=0, times=20):
        """Make the passes of a plan from marks drawn anywhere in the band, each with its trim."""
        setting = self.setting(trip)
        hours = float((trip.end - trip.start) / np.timedelta64(3600, "s"))
        ways = ways_of(passes, hours * times, corrected=False)
        shallow, deep = self.area.depths.band_m
        row, column = np.nonzero((self.bottom >= shallow) & (self.bottom <= deep))
        back = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
        drawn = np.random.default_rng(seed).integers(0, len(row), len(ways.longitude) * times)
        longitude, latitude = back.transform(
            self.grid["x"].values[column[drawn]], self.grid["y"].values[row[drawn]]
        )
        begin = np.tile(ways.begin, times)
        push = [
            setting.water.push_at(moment, x, y)
            for moment, x, y in zip(begin, longitude, latitude, strict=True)
        ]
        size = np.nan_to_num([one.push_mps[0] for one in push])
        toward = np.radians([np.nan_to_num(one.heading_deg[0]) for one in push])
        drawn_ways = replace(
            ways, longitude=np.asarray(longitude), latitude=np.asarray(latitude), begin=begin,
            drift_s=np.tile(ways.drift_s, times), push_east=size * np.sin(toward),
            push_north=size * np.cos(toward), end_east=None, end_north=None,
        )  # fmt: skip
        return self.rates(drawn_ways, trip.wind)


def compare(days, planner):
    """Rates a day by way of fishing."""
    found = {}
    for day in days:
        rates, passes = planner.follow(day)
        told = {
            "plan, logbook of one season": rates,
            "plan without a logbook": planner.follow(day, log=False)[0],
            "the same, drifting free": planner.follow(day, held=False)[0],
            "lines by their rates, one season": planner.by_rates_alone(day),
            "plan, made as if the water stood still": planner.follow(
                day, held=False, current=False
            )[0],
            "random lines in the band": planner.random_lines(day, passes),
        }
        for name, one in told.items():
            found.setdefault(name, []).append(one)
    found["the skipper"] = [trip.rates for trip in own_trips()]
    return found


def logbook_of_the_trips(folder):
    """Read the demo's own trips as its skipper would, into a logbook."""
    tracks = sorted(str(path) for path in DEMO.glob("trip_*.gpx"))
    words = ["trip", *tracks, "--area", str(DEMO / "area.toml"), "--catches",
             str(DEMO / "catches.csv"), "--log", str(folder / "log.gpkg"), "--out", str(folder),
             "--json"]  # fmt: skip
    try:
        command(words)
    except SystemExit as ended:
        assert ended.code in (0, None)
    return folder / "log.gpkg"


def main():
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        log = logbook_of_the_trips(Path(folder))
        planner = Planner(log, spacing_m=120.0)
    print(
        "| way of fishing | fish a rod-hour with lines down | ebbs | floods | mean | "
        "fish for a rod in an hour |\n|---|---|---|---|---|---|"
    )
    for name, rates in compare(new_days(TOLD_OF), planner).items():
        each = np.array([one.rod_hour for one in rates])
        means = each[::2].mean(), each[1::2].mean(), each.mean()
        told = " | ".join(f"{mean:.2f}" for mean in (*means, np.mean([one.hour for one in rates])))
        print(f"| {name} | {', '.join(f'{one:.2f}' for one in each)} | {told} |")


if __name__ == "__main__":
    main()
