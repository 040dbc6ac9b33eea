"""Make the demo area: an invented sound, four invented trips, and the hidden truth behind them.

Everything is drawn from one seed, with nothing of the toolkit in it, so that tests may ask whether
the toolkit finds what was put here.  Run it from anywhere::

    python demo_area/make_demo_area.py [FOLDER]
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import rasterio
from rasterio.features import shapes
from rasterio.transform import Affine
from rasterio.warp import transform as warp
from s57_writer import Cell
from scipy.ndimage import gaussian_filter, map_coordinates, uniform_filter1d

SEED = 20310614
CELL = 4.0
ROWS, COLUMNS = 1200, 1500
WEST, NORTH = 466_000.0, 5_118_400.0
CRS = "EPSG:32625"
WIDTH, HEIGHT = COLUMNS * CELL, ROWS * CELL
DATUM = "mean lower low water (invented)"
ZONE = timedelta(hours=-2)
RAMP = (840.0, 2350.0)
FEATURES = {
    "humps": [
        {"name": "north hump", "at": (2150.0, 3560.0), "height_m": 2.6, "radius_m": 75.0},
        {"name": "twin hump, west", "at": (2380.0, 2060.0), "height_m": 2.2, "radius_m": 55.0},
        {"name": "twin hump, east", "at": (2600.0, 1990.0), "height_m": 1.8, "radius_m": 50.0},
        {"name": "outer hump", "at": (4880.0, 2620.0), "height_m": 3.0, "radius_m": 90.0},
        {"name": "south hump", "at": (4460.0, 900.0), "height_m": 2.0, "radius_m": 70.0},
    ],
    "hole": {"name": "the kettle", "at": (1960.0, 1150.0), "depth_m": 4.5, "radius_m": 85.0},
}
# S-57 edition 3.1, appendix A: codes of object classes and attributes
CHART = {
    "name": "XX5MARRO.000",
    "classes": {"DEPCNT": 43, "WRECKS": 159, "UWTROC": 153, "CBLSUB": 22, "RESARE": 112, "BOYLAT": 17, "SOUNDG": 129},
    "attributes": {"VALDCO": 174, "VALSOU": 179, "OBJNAM": 116, "INFORM": 102, "RESTRN": 131, "WATLEV": 187},
    "contours_m": (5.0, 10.0),
    "wreck": {"at": (4700.0, 3130.0), "stands_m": 2.4, "name": "Tin Ann", "note": "invented wreck"},
    "rock": {"at": (5060.0, 3960.0), "dries_m": 0.4, "name": "Cobbler Rock", "note": "invented rock"},
    "cable": [(600.0, 4560.0), (2400.0, 4620.0), (4200.0, 4590.0), (5900.0, 4640.0)],
    "closed": {"corners": (5350.0, 250.0, 5850.0, 700.0), "name": "Marrow nursery", "restriction": "1,3"},
    "buoy": (3250.0, 4300.0),
}  # fmt: skip
BACKGROUND_RATE = 0.25
EPOCH = datetime(2031, 6, 1, tzinfo=UTC)
# name: (period in hours, height amplitude m, current amplitude m/s, phase in hours)
TIDES = {
    "M2": (12.4206012, 0.95, 0.56, 3.1),
    "S2": (12.0, 0.27, 0.15, 4.0),
    "N2": (12.6583482, 0.19, 0.10, 2.2),
    "K1": (23.9344696, 0.09, 0.03, 8.0),
    "M4": (6.2103006, 0.06, 0.05, 1.0),
}
MEAN_LEVEL_M = 1.35
CURRENT_LEADS_HOURS = 2.1  # greatest flood comes this long before high water
LEEWAY_SHARE = 0.029
SHORE_LEAD_HOURS = 0.5  # water near the shore turns earlier by this


# ---------------------------------------------------------------- the bottom


def channel_centre(north):
    """Easting of the channel's middle, metres from the west edge."""
    return 3150.0 + 420.0 * np.sin(2 * np.pi * (north - 300.0) / 6800.0)


def channel_bearing(north):
    """Direction the channel runs toward in the north, degrees true."""
    slope = 420.0 * 2 * np.pi / 6800.0 * np.cos(2 * np.pi * (north - 300.0) / 6800.0)
    return np.degrees(np.arctan2(slope, 1.0))


def shoreline(north):
    return (
        560.0 + 210.0 * np.sin(north / 760.0) + 90.0 * np.sin(north / 271.0 + 1.0)
        - 260.0 * np.exp(-(((north - RAMP[1]) / 260.0) ** 2))
    )  # fmt: skip


def scarp(north):
    """Easting of the scarp's middle."""
    return channel_centre(north) - 430.0 + 35.0 * np.sin(north / 310.0)


def step(across, middle, width):
    """From 0 to 1 over `width` metres (the steepest slope's width)."""
    return 0.5 * (1 + np.tanh(2 * (across - middle) / width))


def bump(east, north, at, along, across, bearing):
    angle = np.radians(bearing)
    de, dn = east - at[0], north - at[1]
    a = de * np.sin(angle) + dn * np.cos(angle)
    b = de * np.cos(angle) - dn * np.sin(angle)
    return np.exp(-0.5 * ((a / along) ** 2 + (b / across) ** 2))


def roughness(random):
    """Fractal roughness of unit standard deviation, rougher at long wavelengths."""
    ky = np.fft.fftfreq(ROWS, CELL)[:, None]
    kx = np.fft.rfftfreq(COLUMNS, CELL)[None, :]
    k = np.hypot(kx, ky)
    power = np.where(k > 1 / 900.0, np.maximum(k, 1 / 900.0) ** -1.9, 0.0) * np.exp(
        -((k * 26) ** 2)
    )
    field = np.fft.irfft2(
        power * np.fft.rfft2(random.standard_normal((ROWS, COLUMNS))), (ROWS, COLUMNS)
    )
    return field / field.std()


def smooth_bottom(east, north):
    """Depth in metres without roughness and sand waves, at metres from the south-west corner."""
    off_shore = east - shoreline(north)
    flat = 5.5 * (1 - np.exp(-np.maximum(off_shore, -400) / 420.0)) + 0.00005 * off_shore
    centre = channel_centre(north)
    depth = flat + 2.9 * step(east, scarp(north), 46.0)
    trough = np.exp(-(np.abs((east - centre) / 330.0) ** 3.2))
    depth = depth + trough * (6.2 + 1.2 * np.sin(north / 900.0))
    depth = depth - 1.6 * step(east, centre + 560.0, 150.0) - 1.4 * step(east, centre + 990.0, 50.0)
    depth = depth + 2.3 * step(east, 5450.0 - 0.12 * north, 500.0)
    depth = depth - 2.6 * bump(east, north, (5050.0, 1750.0), 420.0, 80.0, 24.0)
    depth = depth - 2.0 * bump(east, north, (1700.0, 2750.0), 300.0, 60.0, 340.0)
    depth = depth - 11.5 * bump(east, north, (5420.0, 4080.0), 300.0, 190.0, 40.0)
    for hump in FEATURES["humps"]:
        r = hump["radius_m"]
        depth = depth - hump["height_m"] * bump(east, north, hump["at"], r, 0.75 * r, 30.0)
    hole = FEATURES["hole"]
    return depth + hole["depth_m"] * bump(east, north, hole["at"], hole["radius_m"], 70.0, 0.0)


def sand_waves(east, north):
    """Crests across the channel's southern reach: wavelength 64 m, height 1.1 m."""
    along = north + 0.12 * (east - channel_centre(north))
    phase = 2 * np.pi * along / 64.0
    where = np.exp(-(np.abs((east - channel_centre(north)) / 240.0) ** 4))
    where = where * step(north, 350.0, 300.0) * (1 - step(north, 1950.0, 400.0))
    return where * (0.5 * np.sin(phase) + 0.05 * np.sin(2 * phase + 0.7))


def make_bottom(random):
    north = HEIGHT - (np.arange(ROWS)[:, None] + 0.5) * CELL
    east = (np.arange(COLUMNS)[None, :] + 0.5) * CELL
    east, north = np.broadcast_arrays(east, north)
    rough = roughness(random)
    depth = smooth_bottom(east, north) + sand_waves(east, north) + 0.26 * rough
    return np.round(depth, 2).astype(np.float32)


# ---------------------------------------------------------------- the chart


def write_chart(folder, bottom):
    """A chart cell of the sound: two contours, drawn coarsely as charts are, and a few dangers."""
    cell, code, attribute = Cell(), CHART["classes"], CHART["attributes"]

    def mark(kind, place, told):
        (x,), (y,) = degrees([place])
        cell.feature(code[kind], 1, [cell.point(x, y)], {attribute[k]: v for k, v in told.items()})

    for level in CHART["contours_m"]:
        for line in chart_lines(bottom, level):
            edge = cell.edge(list(zip(*degrees(line), strict=True)))
            cell.feature(code["DEPCNT"], 2, [edge], {attribute["VALDCO"]: f"{level:g}"})
    wreck, rock = CHART["wreck"], CHART["rock"]
    depth = depth_under(bottom, wreck["at"]) - wreck["stands_m"]
    mark(
        "WRECKS",
        wreck["at"],
        {"VALSOU": f"{depth:.1f}", "OBJNAM": wreck["name"], "INFORM": wreck["note"], "WATLEV": "3"},
    )
    mark(
        "UWTROC",
        rock["at"],
        {
            "VALSOU": f"{-rock['dries_m']:.1f}",
            "OBJNAM": rock["name"],
            "INFORM": rock["note"],
            "WATLEV": "4",
        },
    )
    mark("BOYLAT", CHART["buoy"], {})
    cell.feature(code["CBLSUB"], 2, [cell.edge(list(zip(*degrees(CHART["cable"]), strict=True)))])
    west, south, east, north = CHART["closed"]["corners"]
    ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    told = {
        attribute["OBJNAM"]: CHART["closed"]["name"],
        attribute["RESTRN"]: CHART["closed"]["restriction"],
    }
    cell.feature(code["RESARE"], 3, [cell.edge(list(zip(*degrees(ring), strict=True)))], told)
    grid = [(e, n) for e in range(900, 6000, 900) for n in range(500, 4800, 850)]
    known = [(place, depth_under(bottom, place)) for place in grid]
    deep = [(place, depth) for place, depth in known if depth > 0]
    x, y = degrees([place for place, _ in deep])
    soundings = [(a, b, depth) for a, b, (_, depth) in zip(x, y, deep, strict=True)]
    cell.feature(code["SOUNDG"], 1, [cell.soundings(soundings)])
    cell.write(folder / CHART["name"])


def depth_under(bottom, place):
    depth = float(bottom[int((HEIGHT - place[1]) / CELL), int(place[0] / CELL)])
    return depth if np.isfinite(depth) else -1.0


def chart_lines(bottom, level):
    """Lines of a depth on cells of 20 m, smoothed, a little to the safe side; metres from the corner."""
    coarse = gaussian_filter(np.nan_to_num(bottom, nan=-1.0), 5)[::5, ::5]
    inside = (coarse - 0.1 > level).astype(np.uint8)
    place = Affine(5 * CELL, 0, 0, 0, -5 * CELL, HEIGHT)
    for shape, deep in shapes(inside, transform=place):
        ring = np.array(shape["coordinates"][0])
        if not deep or len(ring) < 30:
            continue
        step = np.hypot(*np.diff(ring, axis=0).T)
        along = np.concatenate([[0], np.cumsum(step)])
        every = np.arange(0, along[-1], 20.0)
        east, north = (np.interp(every, along, ring[:, k]) for k in (0, 1))
        rim = (east < 60) | (east > WIDTH - 60) | (north < 60) | (north > HEIGHT - 60)
        east, north = (uniform_filter1d(part, 5, mode="wrap") for part in (east, north))
        start = np.argmax(rim)  # a ring that leaves the chart is cut there
        order = np.roll(np.arange(len(rim)), -start)
        for part in np.split(order, np.flatnonzero(np.diff(rim[order].astype(int))) + 1):
            if len(part) > 12 and not rim[part[0]]:
                thin = list(part[::3])
                thin += [part[0]] if len(part) == len(rim) else []
                yield np.column_stack([east[thin], north[thin]]).round(1).tolist()


# ---------------------------------------------------------------- the water


def hours(moment):
    return (moment - EPOCH).total_seconds() / 3600.0


def height_at(h):
    """Height of tide over datum, metres, at hours from EPOCH."""
    return MEAN_LEVEL_M + sum(
        a * np.cos(2 * np.pi * (h - g) / period) for period, a, _, g in TIDES.values()
    )


def stream_at(h):
    """Speed along the flood's direction in mid-channel, m/s, at hours from EPOCH."""
    h = np.asarray(h) + CURRENT_LEADS_HOURS
    return sum(u * np.cos(2 * np.pi * (h - g) / period) for period, _, u, g in TIDES.values())


def current_at(h, east, north, depth):
    """East and north, m/s: along the channel, slower and earlier over the flats."""
    h, east, north, depth = np.broadcast_arrays(h, east, north, depth)
    near = np.exp(-np.maximum(east - shoreline(north), 0) / 700.0)
    share = np.clip((np.maximum(depth, 0.3) / 11.0) ** 0.55, 0.2, 1.15)
    speed = share * stream_at(h + SHORE_LEAD_HOURS * near)
    bearing = np.radians(channel_bearing(north))
    return speed * np.sin(bearing), speed * np.cos(bearing)


def turning_points(series, step_hours):
    """Indexes of the extremes of an evenly sampled series."""
    rise = np.sign(np.diff(series))
    return np.flatnonzero(np.diff(rise) != 0) + 1


def write_tide_tables(folder):
    start, end, fine = 0.0, 31 * 24.0, 1 / 60.0
    h = np.arange(start, end, fine)
    level = height_at(h)
    lines = ["time,height_m,kind"]
    for i in turning_points(level, fine):
        kind = "high" if level[i] > level[i - 30] else "low"
        lines.append(f"{iso(h[i])},{level[i]:.2f},{kind}")
    (folder / "tide_table.csv").write_text("\n".join(lines) + "\n", newline="\n")
    speed = stream_at(h)
    events = [
        (i, "flood" if speed[i] > 0 else "ebb", abs(speed[i])) for i in turning_points(speed, fine)
    ]
    slacks = np.flatnonzero(np.diff(np.sign(speed)) != 0)
    events += [(i, "slack", 0.0) for i in slacks]
    lines = ["time,event,speed_kn"]
    last = None
    for i, event, mps in sorted(events):
        if event == last:  # a double peak: the table gives the greater only
            continue
        lines.append(
            f"{iso(h[i])},{event},{mps / 0.514444:.2f}" if mps else f"{iso(h[i])},{event},"
        )
        last = event
    (folder / "current_table.csv").write_text("\n".join(lines) + "\n", newline="\n")


def iso(h):
    return local(EPOCH + timedelta(hours=float(h))).strftime("%Y-%m-%dT%H:%M-02:00")


def local(moment):
    return (moment + timedelta(seconds=30)).astimezone(UTC) + ZONE


# ---------------------------------------------------------------- the boat


@dataclass
class Line:
    """Where drifts of one name start, and on which stage (+1 flood, -1 ebb)."""

    start: tuple[float, float]
    stage: int


def on_scarp(north, offset=0.0):
    return (float(scarp(north)) + offset, north)


LINES = {
    "A": Line(on_scarp(3500.0, -2.0), -1),
    "B": Line(on_scarp(2800.0, -4.0), -1),
    "C": Line(on_scarp(1130.0, -4.0), +1),
    "D": Line((4850.0, 2390.0), +1),
    "E": Line((float(channel_centre(3560.0)) + 985.0, 3560.0), -1),
    "G": Line((2180.0, 3380.0), +1),
    "H": Line((1900.0, 2350.0), -1),
}
PLANS = [
    {"date": "2031-06-07", "stage": -1, "wind_kn": 7.0, "wind_from": 235.0, "rods": 2, "every_s": 2,
     "name": "trip_1", "stops": ["A15", "A14", "A12", "hold10", "B14", "B13", "E16", "lunch22", "E14", "A13"]},
    {"date": "2031-06-14", "stage": +1, "wind_kn": 10.0, "wind_from": 160.0, "rods": 2, "every_s": 5,
     "name": "trip_2", "stops": ["C14", "C15", "hold8", "D13", "D12", "G6", "C12", "C13"]},
    {"date": "2031-06-21", "stage": -1, "wind_kn": 5.0, "wind_from": 300.0, "rods": 2, "every_s": 1,
     "name": "trip_3", "stops": ["B15", "B13", "A14", "A15", "hold15", "E13", "H12", "A12"]},
    {"date": "2031-06-29", "stage": +1, "wind_kn": 12.0, "wind_from": 210.0, "rods": 2, "every_s": 3,
     "name": "trip_4", "stops": ["C13", "C14", "C12", "hold9", "D15", "D14", "lunch18", "C11"]},
]  # fmt: skip
RUN_MPS = 10.8


class Boat:
    """A boat second by second, and what it was doing."""

    def __init__(self, random, bottom, plan, start):
        self.random, self.bottom, self.plan = random, bottom, plan
        self.time = start
        self.where = np.array(RAMP)
        self.seconds, self.places, self.pieces = [], [], []
        self.gust = np.zeros(2)
        self.record()

    def record(self):
        self.seconds.append(self.time)
        self.places.append(self.where.copy())

    def piece(self, kind, begin, **more):
        end = self.time
        self.pieces.append({"kind": kind, "start": begin, "end": end, **more})

    def depth(self):
        row = (HEIGHT - self.where[1]) / CELL - 0.5
        column = self.where[0] / CELL - 0.5
        return float(map_coordinates(self.bottom, [[row], [column]], order=1, mode="nearest")[0])

    def water(self):
        u, v = current_at(hours(self.time), *self.where, self.depth())
        return np.array([float(u), float(v)])

    def wind(self):
        self.gust = 0.985 * self.gust + self.random.normal(0, 0.05, 2)
        toward = np.radians(self.plan["wind_from"] + 180.0)
        mean = self.plan["wind_kn"] * 0.514444 * np.array([np.sin(toward), np.cos(toward)])
        return LEEWAY_SHARE * mean * (1 + self.gust[0]) + 0.02 * self.gust[1]

    def tick(self, velocity):
        self.where = self.where + velocity
        self.time += timedelta(seconds=1)
        self.record()

    def run_to(self, goal):
        begin, speed = self.time, 1.5
        goal = np.array(goal) + self.random.normal(0, 6.0, 2)
        while (away := np.hypot(*(goal - self.where))) > 4.0:
            speed = min(speed + 0.5, RUN_MPS, 0.6 + away / 5.0)
            heading = (goal - self.where) / away
            side = np.array([-heading[1], heading[0]])
            sway = 0.4 * np.sin(len(self.seconds) / 9.0) * (speed > 5)
            self.tick(speed * heading + sway * side)
        self.piece("run", begin)

    def drift(self, name, minutes):
        begin, first = self.time, len(self.seconds)
        for _ in range(int(minutes * 60)):
            water = self.water()
            pace = np.hypot(*water)
            axis = np.radians(channel_bearing(self.where[1]))
            along = np.array([np.sin(axis), np.cos(axis)]) * LINES[name].stage
            leeway = self.wind()
            # the motor takes out most of the wind's push across the water, and drives near slack
            across = leeway - (leeway @ along) * along
            push = -0.85 * across + max(0.0, 0.30 - pace) * along
            self.tick(water + leeway + push)
        self.piece("drift", begin, line=name, first=first, last=len(self.seconds) - 1,
                   rods=self.plan["rods"])  # fmt: skip

    def hold(self, minutes, kind="hold"):
        begin, swing = self.time, np.zeros(2)
        for _ in range(int(minutes * 60)):
            pull = -0.004 * swing + self.random.normal(0, 0.05, 2)
            pull = np.clip(pull, -0.2, 0.2)
            swing = swing + pull
            self.tick(pull)
        self.piece(kind, begin)


def start_of(plan):
    """The hour, from EPOCH, of the slack before the wanted stage, in the morning near a date."""
    day = hours(datetime.fromisoformat(plan["date"] + "T02:00+00:00"))  # local midnight
    h = day + np.arange(4.0, 14.0, 1 / 60.0)
    speed = stream_at(h) * plan["stage"]
    turn = np.flatnonzero((speed[:-1] < 0) & (speed[1:] >= 0))
    return float(h[turn[0]]) + 0.75


def sail(random, bottom, plan):
    boat = Boat(random, bottom, plan, EPOCH + timedelta(seconds=round(start_of(plan) * 3600)))
    for stop in plan["stops"]:
        name = stop.rstrip("0123456789")
        minutes = float(stop.removeprefix(name))
        if name == "lunch":
            boat.run_to((1650.0 + random.normal(0, 10), 2500.0))
            boat.hold(minutes)
        elif name == "hold":
            boat.run_to(boat.where + random.normal(0, 1, 2) * 90.0 + np.array([130.0, 60.0]))
            boat.hold(minutes)
        else:
            boat.run_to(LINES[name].start)
            boat.drift(name, minutes)
    boat.run_to(RAMP)
    return boat


# ---------------------------------------------------------------- the fish


# Where fish lie: name, centre, half length along and half width across (m), bearing of the long
# axis, fish a rod-hour at the centre, and the stage they feed on (+1 flood, -1 ebb, 0 both).
HAUNTS = [
    ("scarp, north", on_scarp(3250.0, -4.0), 170.0, 40.0, float(channel_bearing(3250.0)), 7.0, -1),
    ("scarp, middle", on_scarp(2560.0, -4.0), 150.0, 40.0, float(channel_bearing(2560.0)), 3.0, 0),
    ("scarp, south", on_scarp(1380.0, -4.0), 170.0, 40.0, float(channel_bearing(1380.0)), 4.5, +1),
    ("outer hump", (4880.0, 2560.0), 130.0, 70.0, 0.0, 2.5, +1),
    ("east edge", (float(channel_centre(3300.0)) + 990.0, 3300.0), 170.0, 50.0,
     float(channel_bearing(3300.0)), 2.0, -1),
]  # fmt: skip


def rate_at(h, east, north):
    """Fish a rod-hour at hours from EPOCH, at a place."""
    speed = stream_at(h)
    rate = np.full(np.broadcast(h, east, north).shape, BACKGROUND_RATE)
    for _, at, along, across, bearing, strength, stage in HAUNTS:
        feeding = 1.0 if stage == 0 else np.clip(stage * speed / 0.35, 0.1, 1.0)
        rate = rate + strength * feeding * bump(east, north, at, along, across, bearing)
    return rate


SPECIES = {"brindle flounder": (0.72, 14.6, 2.1, 14.0), "lantern gurnard": (0.28, 11.0, 1.6, 10.0)}
NOTES = [
    "",
    "",
    "",
    "",
    "strip bait",
    "on the turn of the line",
    "two in a minute",
    "spat up a sand eel",
]


def catch(random, boat):
    rows = []
    for piece in boat.pieces:
        if piece["kind"] != "drift":
            continue
        span = slice(piece["first"], piece["last"] + 1)
        h = np.array([hours(t) for t in boat.seconds[span]])
        places = np.array(boat.places[span])
        per_second = rate_at(h, places[:, 0], places[:, 1]) * piece["rods"] / 3600.0
        piece["expected_fish"] = float(per_second.sum())
        bites = np.flatnonzero(random.random(len(h)) < per_second)
        rows += [fish(random, boat.seconds[span][second], piece["rods"]) for second in bites]
    return rows


def fish(random, time, rods):
    names = list(SPECIES)
    name = names[int(random.random() > SPECIES["brindle flounder"][0])]
    _, mean, spread, least = SPECIES[name]
    length = round(max(6.0, random.normal(mean, spread)) * 4) / 4
    return {"time": time, "species": name, "length_in": length, "kept": length >= least,
            "rod": int(random.integers(1, rods + 1)), "note": str(random.choice(NOTES))}  # fmt: skip


# ---------------------------------------------------------------- the files


def degrees(places):
    places = np.asarray(places)
    lon, lat = warp(CRS, "EPSG:4326", WEST + places[:, 0], NORTH - HEIGHT + places[:, 1])
    return np.array(lon), np.array(lat)


def gps_noise(random, count):
    """Slowly wandering error of about 2.5 m, metres."""
    white = random.normal(0, 1.0, (count, 2))
    noise = np.zeros((count, 2))
    keep = np.exp(-1 / 40.0)
    for i in range(1, count):
        noise[i] = keep * noise[i - 1] + np.sqrt(1 - keep**2) * white[i]
    return 2.2 * noise + random.normal(0, 0.25, (count, 2))


def gpx(segments, name, waypoints=(), *, sounder=False):
    """GPX 1.1 text; a segment is rows of (time, lon, lat, depth, temperature)."""
    out = ['<?xml version="1.0" encoding="UTF-8"?>']
    ours = ' xmlns:s="https://example.invalid/sounder"' if sounder else ""
    out.append(
        f'<gpx version="1.1" creator="make_demo_area" xmlns="http://www.topografix.com/GPX/1/1"{ours}>'
    )
    for time, lon, lat, label, *_ in waypoints:
        out.append(
            f'<wpt lat="{lat:.6f}" lon="{lon:.6f}"><time>{stamp(time)}</time><name>{label}</name></wpt>'
        )
    out.append(f"<trk><name>{name}</name>")
    for segment in segments:
        out.append("<trkseg>")
        for time, lon, lat, depth, warmth in segment:
            more = (
                f"<extensions><s:depth>{depth:.1f}</s:depth><s:temp>{warmth:.1f}</s:temp></extensions>"
                if sounder
                else ""
            )
            out.append(
                f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><time>{stamp(time)}</time>{more}</trkpt>'
            )
        out.append("</trkseg>")
    out.append("</trk></gpx>")
    return "\n".join(out) + "\n"


def stamp(time):
    return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def write_trip(folder, random, boat, waypoints):
    """Write the track as the plotter logged it; give the pieces that the log can tell."""
    plan, every = boat.plan, boat.plan["every_s"]
    noisy = np.array(boat.places) + gps_noise(random, len(boat.places))
    lon, lat = degrees(noisy)
    keep = np.arange(0, len(lon), every)
    gap = GAPS.get(plan["name"])
    rows = []
    for i in keep:
        depth = warmth = 0.0
        if plan["name"] == "trip_3":
            e, n = boat.places[i]
            charted = map_coordinates(
                boat.bottom,
                [[(HEIGHT - n) / CELL - 0.5], [e / CELL - 0.5]],
                order=1,
                mode="nearest",
            )[0]
            depth = float(charted) + height_at(hours(boat.seconds[i])) + random.normal(0, 0.08)
            warmth = 14.2 + 0.4 * np.sin(i / 4000.0)
        rows.append((boat.seconds[i], lon[i], lat[i], max(depth, 0.1), warmth))
    if gap:
        piece = [p for p in boat.pieces if p["kind"] == gap[0]][gap[1]]
        opening = piece["start"] + timedelta(minutes=gap[2])
        closing = opening + timedelta(minutes=gap[3])
        rows = [r for r in rows if not opening < r[0] < closing]
        cut_out(boat, opening, closing)
    sounder = plan["name"] == "trip_3"
    if plan["name"] == "trip_2":  # the plotter was switched off at the lunch stop: two files
        half = len(rows) // 2
        parts = {"trip_2a": [rows[:half]], "trip_2b": [rows[half:]]}
    else:
        third = len(rows) // 3
        parts = {plan["name"]: [rows[:third], rows[third:]] if plan["name"] == "trip_4" else [rows]}
    for part, segments in parts.items():
        marks = waypoints if part == list(parts)[-1] else ()
        text = gpx(segments, f"Marrow Sound {plan['date']}", marks, sounder=sounder)
        (folder / f"{part}.gpx").write_text(text, newline="\n")
    return list(parts)


GAPS = {"trip_4": ("hold", 1, 6.0, 5.0)}  # kind, which of them, minutes in, minutes long


def cut_out(boat, opening, closing):
    """Put a gap into the true pieces."""
    out = []
    for piece in boat.pieces:
        if piece["end"] <= opening or piece["start"] >= closing:
            out.append(piece)
            continue
        if piece["start"] < opening:
            out.append({**piece, "end": opening})
        if piece["end"] > closing:
            out.append({**piece, "start": closing})
    out.append({"kind": "gap", "start": opening, "end": closing})
    boat.pieces = sorted(out, key=lambda piece: piece["start"])


def lucky_fish(boat):
    """One short drift over nothing much gave two good fish: luck, not ground."""
    piece = next(p for p in boat.pieces if p.get("line") == "G")
    return [
        {"time": piece["start"] + timedelta(seconds=after), "species": "brindle flounder",
         "length_in": length, "kept": True, "rod": 1, "note": "out of nowhere"}
        for after, length in ((115, 17.25), (242, 15.5))
    ]  # fmt: skip


def write_catches(folder, trips):
    """The log as a skipper keeps it: local time, some with the zone, two rows that fit no drift."""
    lines = ["time,species,length_in,kept,rod,note"]
    for number, (boat, fishes) in enumerate(trips):
        for i, row in enumerate(sorted(fishes, key=lambda r: r["time"])):
            zone = "-02:00" if (i + number) % 3 == 0 else ""
            time = (row["time"] + ZONE).strftime("%Y-%m-%d %H:%M:%S") + zone
            kept = ("yes", "no") if number % 2 == 0 else ("kept", "short")
            lines.append(f"{time},{row['species']},{row['length_in']:g},"
                         f"{kept[0] if row['kept'] else kept[1]},{row['rod']},{row['note']}")  # fmt: skip
        if number in (0, 3):
            run = [p for p in boat.pieces if p["kind"] == "run"][-1]
            time = (run["start"] + (run["end"] - run["start"]) / 2 + ZONE).strftime(
                "%Y-%m-%d %H:%M:%S"
            )
            lines.append(f"{time},lantern gurnard,10.5,yes,1,trolled on the way home")
    (folder / "catches.csv").write_text("\n".join(lines) + "\n", newline="\n")


def write_grid(folder, bottom):
    profile = {
        "driver": "GTiff", "height": ROWS, "width": COLUMNS, "count": 1, "dtype": "float32",
        "crs": CRS, "transform": Affine(CELL, 0, WEST, 0, -CELL, NORTH), "nodata": -9999.0,
        "compress": "deflate", "predictor": 3, "zlevel": 9, "tiled": True, "blockxsize": 256,
        "blockysize": 256,
    }  # fmt: skip
    with rasterio.open(folder / "sound.tif", "w", **profile) as file:
        file.write(bottom, 1)
        file.set_band_description(1, "depth")
        file.units = ("m",)
        file.update_tags(
            AREA_OR_POINT="Area", vertical_datum=DATUM, positive="down",
            TITLE="Marrow Sound, an invented place in open ocean. Not for navigation.",
        )  # fmt: skip


def write_truth(folder, trips, bottom):
    lines = {}
    out = {"seed": SEED, "crs": CRS, "note": "hidden truth of an invented place", "trips": [],
           "haunts": [], "humps": [], "scarp": [], "channel": []}  # fmt: skip
    for boat, fishes, files in trips:
        pieces = []
        for piece in boat.pieces:
            row = {
                "kind": piece["kind"],
                "start": stamp(piece["start"]),
                "end": stamp(piece["end"]),
            }
            if piece["kind"] == "drift":
                row |= {"line": piece["line"], "rods": piece["rods"],
                        "expected_fish": round(piece["expected_fish"], 3)}  # fmt: skip
                total = lines.setdefault(piece["line"], [0.0, 0.0, 0])
                total[0] += piece["expected_fish"]
                total[1] += piece["rods"] * (piece["end"] - piece["start"]).total_seconds() / 3600
                total[2] += sum(piece["start"] <= f["time"] <= piece["end"] for f in fishes)
            pieces.append(row)
        out["trips"].append({"files": [f"{f}.gpx" for f in files], "pieces": pieces, "rods": boat.plan["rods"],
                             "wind_kn": boat.plan["wind_kn"], "wind_from": boat.plan["wind_from"],
                             "fish": len(fishes)})  # fmt: skip
    out["lines"] = {
        name: {"fish_per_rod_hour": round(e / h, 3), "rod_hours": round(h, 3), "fish": n,
               "start_lon_lat": lonlat(LINES[name].start), "stage": LINES[name].stage}
        for name, (e, h, n) in sorted(lines.items())
    }  # fmt: skip
    for hump in FEATURES["humps"]:
        out["humps"].append(
            {"name": hump["name"], "lon_lat": lonlat(hump["at"]), "height_m": hump["height_m"]}
        )
    hole = FEATURES["hole"]
    out["hole"] = {"name": hole["name"], "lon_lat": lonlat(hole["at"]), "depth_m": hole["depth_m"]}
    for north in range(300, 4600, 100):
        out["scarp"].append(lonlat(on_scarp(float(north))))
        out["channel"].append(lonlat((float(channel_centre(north)), float(north))))
    out["scarp_drop_m"], out["scarp_width_m"] = 2.9, 46.0
    out["sand_waves"] = {
        "wavelength_m": 64.0,
        "height_m": 1.0,
        "lon_lat": lonlat((float(channel_centre(1100.0)), 1100.0)),
    }
    for name, at, along, across, bearing, rate, stage in HAUNTS:
        out["haunts"].append({"name": name, "lon_lat": lonlat(at), "along_m": along, "across_m": across,
                              "bearing_deg": round(bearing, 2), "rate": rate, "stage": stage})  # fmt: skip
    out["current"] = current_truth(bottom)
    out["leeway_share"] = LEEWAY_SHARE
    out["background_rate"] = BACKGROUND_RATE
    out["tides"] = {
        "hours_from": stamp(EPOCH), "mean_level_m": MEAN_LEVEL_M,
        "current_leads_hours": CURRENT_LEADS_HOURS, "shore_lead_hours": SHORE_LEAD_HOURS,
        "constituents": {
            name: {"period_h": period, "height_m": height, "current_mps": current, "phase_h": phase}
            for name, (period, height, current, phase) in TIDES.items()
        },
    }  # fmt: skip
    (folder / "truth.json").write_text(json.dumps(out, indent=1) + "\n", newline="\n")


def lonlat(at):
    lon, lat = degrees([at])
    return [round(float(lon[0]), 6), round(float(lat[0]), 6)]


def current_truth(bottom):
    """The hidden current by hour at mid-channel and over the scarp, in a table."""
    places = {"channel": (float(channel_centre(2400.0)), 2400.0), "scarp": on_scarp(2560.0)}
    h = np.arange(6 * 24.0, 30 * 24.0)
    out = {"hours_from": stamp(EPOCH + timedelta(hours=144)), "places": {}}
    for name, at in places.items():
        depth = bottom[int((HEIGHT - at[1]) / CELL), int(at[0] / CELL)]
        u, v = current_at(h, *at, float(depth))
        out["places"][name] = {"lon_lat": lonlat(at), "east_mps": np.round(u, 3).tolist(),
                               "north_mps": np.round(v, 3).tolist()}  # fmt: skip
    return out


def main():
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(SEED)
    bottom = make_bottom(random)
    write_grid(folder, bottom)
    write_chart(folder, bottom)
    write_tide_tables(folder)
    trips = []
    for plan in PLANS:
        boat = sail(random, bottom, plan)
        fishes = catch(random, boat)
        marks = []
        if plan["name"] == "trip_2":
            fishes += lucky_fish(boat)
            marks = [waypoint(boat, fishes.pop(0)) for _ in range(2)]
        files = write_trip(folder, random, boat, marks)
        told = fishes + [m[4] for m in marks]
        trips.append((boat, fishes, told, files))
    write_catches(folder, [(boat, fishes) for boat, fishes, _, _ in trips])
    write_truth(folder, [(boat, told, files) for boat, _, told, files in trips], bottom)


def waypoint(boat, row):
    """A fish marked on the plotter instead of in the log."""
    place = boat.places[boat.seconds.index(row["time"])]
    lon, lat = degrees([place])
    word = "keeper" if row["kept"] else "short"
    return row["time"], lon[0], lat[0], f"{word} {row['species']} {row['length_in']:g} in", row


if __name__ == "__main__":
    main()
