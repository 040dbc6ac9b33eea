"""Follow plans of the demo area through its hidden truth: true water, true wind, true fish.

``python -m benchmarks.drift_worth`` prints the table of docs/planning.md.

The boat of the simulator goes with the true current, which differs from place to place, and with
the true wind and its gusts; from the plan it takes the marks, the times, and one motor trim a line,
held from end to end as the sheet says it.  The planner knows the tables of ``area.toml`` and, where
a row says so, the logbook of the four trips.  How plans are made was chosen on `TRIED_ON` alone;
what is told is how they do on `TOLD_OF`.
"""

import contextlib
import importlib.util
import io
import json
import sys
import tempfile
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path

import numpy as np
from pyproj import Transformer
from scipy.ndimage import map_coordinates

from layers.area import load_area
from layers.cli.bottom import find_structure, hazards_of, open_area_grid
from layers.cli.day_plan import paid_by, worth_for
from layers.cli.main import main as command
from layers.cli.plan_inputs import scores_of, setting_of
from layers.cli.settings import currents_of
from layers.planning import DayWater, plan_day
from layers.planning.choice import LEFT_AFTER_A_DRIFT
from layers.planning.fished import LEAST_ROD_HOURS, LEFT_WHERE_FISH_WERE
from layers.water import FixedCurrent, FixedWind, as_utc, leeway_of

DEMO = Path(__file__).parents[1] / "demo_area"
STEP_S = 5.0
BOATS = 24  # of each pass, each with its own gusts and its own miss of the mark
MISS_M = 6.0  # as the demo's own skipper misses a mark
HELD_MPS = (0.5 * 0.44704, 1.0 * 0.44704)  # 0.5-1.0 mph
GRID_M = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)


@lru_cache(maxsize=1)
def truth():
    """Give the script that makes the demo area, as a module."""
    sys.path.insert(0, str(DEMO))  # it has a neighbour
    spec = importlib.util.spec_from_file_location("make_demo_area", DEMO / "make_demo_area.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@dataclass(frozen=True)
class Ways:
    """What a boat does: a pass a row."""

    longitude: np.ndarray
    latitude: np.ndarray
    begin: np.ndarray
    drift_s: np.ndarray
    push_east: np.ndarray
    push_north: np.ndarray
    hours: float
    """Of the day, running and setting up counted."""


def ways_of(plan, hours, limits):
    """Give every pass of a plan as the skipper makes it: the line's mark and its trim."""
    rows = plan.loc[plan.index.repeat(plan["passes"])]
    number = rows.groupby("plan_id").cumcount().to_numpy()
    start = np.array([path.coords[0] for path in rows.geometry])
    back_s = rows["distance_m"].to_numpy() / limits.running_mps
    later = number * (rows["drift_s"].to_numpy() + limits.set_up_s + back_s)
    toward = np.radians(np.nan_to_num(rows["push_deg"].to_numpy(float)))
    return Ways(
        start[:, 0], start[:, 1],
        as_utc(rows["slot_start"]) + (later * 1e9).astype("timedelta64[ns]"),
        rows["drift_s"].to_numpy(), rows["push_mps"].to_numpy() * np.sin(toward),
        rows["push_mps"].to_numpy() * np.cos(toward), hours,
    )  # fmt: skip


def fish_of(ways, bottom, wind, *, seed=0):
    """Expected fish for one rod over all passes, and the rod-hours; by the truth alone."""
    true = truth()
    random = np.random.default_rng(seed)
    many = len(ways.longitude) * BOATS
    x, y = GRID_M.transform(np.repeat(ways.longitude, BOATS), np.repeat(ways.latitude, BOATS))
    east, north = x - true.WEST, y - (true.NORTH - true.HEIGHT)
    east, north = east + random.normal(0, MISS_M, many), north + random.normal(0, MISS_M, many)
    epoch = np.datetime64(true.EPOCH.replace(tzinfo=None), "ns")
    hour = np.repeat((ways.begin - epoch) / np.timedelta64(3600, "s"), BOATS)
    lasts = np.repeat(ways.drift_s, BOATS)
    push = np.repeat(ways.push_east, BOATS), np.repeat(ways.push_north, BOATS)
    toward = np.radians(wind.from_deg + 180.0)
    mean = true.LEEWAY_SHARE * wind.speed_mps * np.array([np.sin(toward), np.cos(toward)])
    keep = 0.985**STEP_S  # gusts as the demo draws them a second at a time
    gust = np.zeros((2, many))
    spread = 0.05 * np.sqrt((1 - keep**2) / (1 - 0.985**2))
    fish = 0.0
    for second in np.arange(0.0, lasts.max(), STEP_S):
        afloat = second < lasts
        depth = map_coordinates(
            bottom, [(true.HEIGHT - north) / true.CELL - 0.5, east / true.CELL - 0.5],
            order=1, mode="nearest",
        )  # fmt: skip
        at = hour + second / 3600.0
        fish += float((true.rate_at(at, east, north) * afloat).sum()) * STEP_S / 3600.0
        u, v = true.current_at(at, east, north, depth)
        gust = keep * gust + random.normal(0, spread, gust.shape)
        wind_u, wind_v = mean[:, None] * (1 + gust[0]) + 0.02 * gust[1]
        east = east + afloat * STEP_S * (u + wind_u + push[0])
        north = north + afloat * STEP_S * (v + wind_v + push[1])
    return fish / BOATS, float(ways.drift_s.sum() / 3600.0)


@dataclass(frozen=True)
class Rates:
    """Fish a rod-hour with lines down, and for a rod in an hour of the day."""

    rod_hour: float
    hour: float


def rates_of(ways, bottom, wind):
    fish, rod_hours = fish_of(ways, bottom, wind)
    return Rates(fish / rod_hours, fish / ways.hours)


@dataclass(frozen=True)
class Trip:
    """One of the demo's own trips, by its truth."""

    start: np.datetime64
    end: np.datetime64
    wind: FixedWind
    rates: Rates


def own_trips():
    """Give the four trips; lunch and holds are not counted against them."""
    told = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["trips"]
    found = []
    for trip, plan in zip(told, truth().PLANS, strict=True):
        drifts = [piece for piece in trip["pieces"] if piece["kind"] == "drift"]
        start, end = _moment(drifts[0]["start"]), _moment(drifts[-1]["end"])
        down = sum(_seconds(piece) for piece in drifts)
        running = sum(
            _seconds(piece) for piece in trip["pieces"]
            if piece["kind"] == "run" and start <= _moment(piece["start"]) < end
        )  # fmt: skip
        fish = sum(piece["expected_fish"] / piece["rods"] for piece in drifts)
        found.append(
            Trip(
                start, end, FixedWind(plan["wind_kn"] * 0.514444, plan["wind_from"]),
                Rates(fish / down * 3600.0, fish / (down + running) * 3600.0),
            )
        )  # fmt: skip
    return found


def _moment(word):
    return np.datetime64(datetime.fromisoformat(word).replace(tzinfo=None), "ns")


def _seconds(piece):
    return float((_moment(piece["end"]) - _moment(piece["start"])) / np.timedelta64(1, "s"))


class Planner:
    """The toolkit with what ``area.toml`` tells it."""

    def __init__(self, log=None, *, spacing_m=80.0):
        self.area = load_area(DEMO / "area.toml")
        self.grid = open_area_grid(self.area)
        self.hazards = hazards_of(self.area, self.grid)
        self.structure = find_structure(self.grid, self.area)
        self.bottom = self.grid.values.astype(float)
        self.spacing_m = spacing_m
        self.worths = {}  # neither wind nor day changes them
        self.scores = None if log is None else scores_of(self.area, log, self.structure)

    def setting(self, trip, *, held=True, current=True):
        water = DayWater(
            currents_of(self.area) if current else FixedCurrent(0.0, 0.0),
            leeway_of(self.area.boat.craft), trip.wind, held_mps=HELD_MPS if held else None,
            motor_limit_mps=self.area.boat.motor_limit_mps,
        )  # fmt: skip
        return setting_of(self.area, water, self.grid, self.hazards)

    def worth(self, trip, *, log=True):
        """Give the worth as ``seabed plan`` takes it, with the logbook or without."""
        if log not in self.worths:
            scores = self.scores if log else None
            self.worths[log] = worth_for(self.area, self.structure, self.setting(trip), scores)[0]
        return self.worths[log]

    def follow(self, trip, *, log=True, held=True, current=True):
        """Plan the hours of a trip and follow the plan through the truth."""
        setting = self.setting(trip, held=held, current=current)
        worth = self.worth(trip, log=log)
        if not current and callable(worth):  # lines that paid, whichever way the water ran
            ways = [worth(trip.start + np.timedelta64(6 * hours, "h")) for hours in range(4)]
            worth = ways[0].copy(data=np.max([way.values for way in ways], axis=0))
        left = LEFT_WHERE_FISH_WERE if log else LEFT_AFTER_A_DRIFT
        plan = plan_day(
            setting, worth, trip.start, trip.end, spacing_m=self.spacing_m, left=left,
            paid=paid_by(self.scores, setting) if log and current else (),
        )  # fmt: skip
        hours = float((trip.end - trip.start) / np.timedelta64(3600, "s"))
        return rates_of(ways_of(plan, hours, setting.limits), self.bottom, trip.wind), plan

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
        return rates_of(ways, self.bottom, trip.wind)

    def random_lines(self, trip, plan, *, seed=0, times=20):
        """Make the passes of a plan from marks drawn anywhere in the band, each with its trim."""
        setting = self.setting(trip)
        hours = float((trip.end - trip.start) / np.timedelta64(3600, "s"))
        ways = ways_of(plan, hours * times, setting.limits)
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
        size = np.array([one.push_mps[0] for one in push])
        toward = np.radians([np.nan_to_num(one.heading_deg[0]) for one in push])
        drawn_ways = replace(
            ways, longitude=np.asarray(longitude), latitude=np.asarray(latitude), begin=begin,
            drift_s=np.tile(ways.drift_s, times), push_east=size * np.sin(toward),
            push_north=size * np.cos(toward),
        )  # fmt: skip
        return rates_of(drawn_ways, self.bottom, trip.wind)


TRIED_ON = (
    ("2031-06-09", -1, 7.0, 235.0), ("2031-06-17", +1, 10.0, 160.0),
    ("2031-06-23", -1, 5.0, 300.0), ("2031-06-26", +1, 12.0, 210.0),
)  # fmt: skip
"""Days on which the planner's constants were chosen: date, ebb or flood, wind in knots and from."""

TOLD_OF = (
    ("2031-06-05", -1, 6.0, 200.0), ("2031-06-03", +1, 9.0, 250.0),
    ("2031-06-10", -1, 8.0, 180.0), ("2031-06-12", +1, 11.0, 280.0),
    ("2031-06-20", -1, 5.0, 90.0), ("2031-06-16", +1, 10.0, 320.0),
    ("2031-06-25", -1, 7.0, 30.0), ("2031-06-28", +1, 9.0, 140.0),
)  # fmt: skip
"""Days of which the table tells; drawn up before the planner was first tried on them."""


def new_days(days=TRIED_ON):
    """Days that the demo's skipper stayed at home: three hours from a slack on, as on the trips."""
    true, found = truth(), []
    for date, stage, wind_kn, wind_from in days:
        hour = true.start_of({"date": date, "stage": stage})
        epoch = np.datetime64(true.EPOCH.replace(tzinfo=None), "ns")
        start = epoch + np.timedelta64(round(hour * 3600), "s")
        wind = FixedWind(wind_kn * 0.514444, wind_from)
        found.append(Trip(start, start + np.timedelta64(3, "h"), wind, Rates(np.nan, np.nan)))
    return found


def compare(days, planner):
    """Rates a day by way of fishing."""
    found = {}
    for day in days:
        rates, plan = planner.follow(day)
        told = {
            "plan with the logbook": rates,
            "plan without it": planner.follow(day, log=False)[0],
            "plan with it, drifting free": planner.follow(day, held=False)[0],
            "lines of the logbook by their rates, current unknown": planner.by_rates_alone(day),
            "plan with it, made as if the water stood": planner.follow(
                day, held=False, current=False
            )[0],
            "random lines in the band": planner.random_lines(day, plan),
        }
        for name, one in told.items():
            found.setdefault(name, []).append(one)
    found["the skipper's own four trips"] = [trip.rates for trip in own_trips()]
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
