"""Surveys with a known answer: a boat with a sounder over the demo's true bottom.

Nothing of the toolkit's own reckoning is in it but the grid's sampling: tests ask whether the
toolkit finds what was put here.  The boat runs parallel lines there and back in several visits at
different stages of the tide, and lines across them; the sounder is late, noisy (more so at speed),
sees spikes and double echoes, and loses the bottom; the tide table is wrong by a little.
"""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr
from nmea_sentences import sentence
from pyproj import Transformer
from scipy.ndimage import gaussian_filter

from seabed.grid.places import sample
from seabed.loaders import open_grid
from seabed.soundings.sounding_table import sounding_table

DEMO = Path(__file__).parents[2] / "demo_area"
WEST, SOUTH = 466_000.0, 5_113_600.0  # of the demo's grid, EPSG:32625
TO_DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
START = np.datetime64("2031-06-10T08:00:00", "ns")

GOOD, SPIKE, DOUBLE, LOST = "good", "spike", "double echo", "lost"


@dataclass(frozen=True)
class Survey:
    """What was sailed, what was logged, and what is true; arrays of one value a sounding."""

    truth: xr.DataArray
    hours: np.ndarray  # from START, of the moment the sounding was logged
    east: np.ndarray  # as the receiver says, metres from the demo's south-west corner
    north: np.ndarray
    fast: np.ndarray  # whether under way at speed
    visit: np.ndarray
    measured_m: np.ndarray  # NaN or 0 where the sounder had nothing
    true_depth_m: np.ndarray  # below datum, where the receiver says the boat is
    tide_m: np.ndarray  # true height of the water
    tide_said_m: np.ndarray  # what the table says
    noise_m: np.ndarray  # standard deviation of the sounder's noise
    kind: np.ndarray  # of str
    lag_s: float
    transducer_m: float  # below the waterline

    @property
    def time(self) -> np.ndarray:
        return START + np.round(self.hours * 3600e9).astype("timedelta64[ns]")

    @property
    def degrees(self) -> tuple[np.ndarray, np.ndarray]:
        lon, lat = TO_DEGREES.transform(WEST + self.east, SOUTH + self.north)
        return np.asarray(lon), np.asarray(lat)

    def heights(self, times) -> np.ndarray:
        """Give heights by the (wrong) table, at any times: what a command would be given."""
        times = pd.DatetimeIndex(times)
        naive = times.tz_convert(None) if times.tz is not None else times
        at = (naive.to_numpy("datetime64[ns]") - START) / np.timedelta64(1, "h")
        return np.interp(at, self.hours, self.tide_said_m)

    def table(self, *, cleaned: bool = True, lag: bool = True) -> pd.DataFrame:
        """Soundings as a table, reduced with the table's tide; perfectly `cleaned` if asked.

        With `lag`, positions are left as late as the sounder makes them; without, they are right.
        """
        shift = 0.0 if lag else self.lag_s / 3600.0
        east = np.interp(self.hours - shift, self.hours, self.east)
        north = np.interp(self.hours - shift, self.hours, self.north)
        lon, lat = TO_DEGREES.transform(WEST + east, SOUTH + north)
        flag = np.where(self.kind == GOOD, "", self.kind) if cleaned else np.full(len(lon), "")
        speed, course = self.motion()
        return sounding_table(
            time=self.time,
            longitude=np.asarray(lon),
            latitude=np.asarray(lat),
            measured_m=self.measured_m,
            height_m=self.tide_said_m,
            depth_m=self.measured_m + self.transducer_m - self.tide_said_m,
            sigma_m=self.noise_m,
            sog_mps=speed,
            cog_deg=course,
            line=self.visit,
            flag=pd.Categorical(flag),
            file=pd.Categorical(np.full(len(lon), "survey.nmea")),
            row=np.arange(1, len(lon) + 1),
        )

    def motion(self) -> tuple[np.ndarray, np.ndarray]:
        """Speed, m/s, and course, degrees, as a receiver would say."""
        seconds = self.hours * 3600
        ve, vn = np.gradient(self.east, seconds), np.gradient(self.north, seconds)
        return np.hypot(ve, vn), np.degrees(np.arctan2(ve, vn)) % 360


def true_bottom() -> xr.DataArray:
    return open_grid(DEMO / "sound.tif").load()


def old_survey(truth: xr.DataArray) -> xr.DataArray:
    """The true bottom as an old survey has it: smoothed over 60 m, 0.3 m too deep, and wrong by
    0.3 m over some hundred metres."""
    wet = np.isfinite(truth.values)
    smooth = gaussian_filter(np.where(wet, truth.values, 0.0), 15)
    smooth /= np.maximum(gaussian_filter(wet.astype(float), 15), 1e-3)
    wrong = gaussian_filter(np.random.default_rng(3).normal(size=wet.shape), 40)
    values = np.where(wet, smooth + 0.3 + 0.3 * wrong / wrong.std(), np.nan)
    return truth.copy(data=values.astype(np.float32))


def tide_height(hours: np.ndarray) -> np.ndarray:
    """Give the demo's hidden tide, metres above datum, at hours from START."""
    tides = json.loads((DEMO / "truth.json").read_text())["tides"]
    since = (START - np.datetime64(tides["hours_from"].rstrip("Z"))) / np.timedelta64(1, "h")
    level = np.full(np.shape(hours), tides["mean_level_m"])
    for tide in tides["constituents"].values():
        angle = 2 * np.pi * (hours + since - tide["phase_h"]) / tide["period_h"]
        level = level + tide["height_m"] * np.cos(angle)
    return level


def parallel_lines(box, spacing, *, across=False, first=0.0):
    """Ends of lines through a box (west, south, east, north), there and back, metres."""
    west, south, east, north = box
    low, high = (south, north) if across else (west, east)
    lines = []
    for i, at in enumerate(np.arange(low + first, high + 1e-9, spacing)):
        ends = [(west, at), (east, at)] if across else [(at, south), (at, north)]
        lines += ends[:: 1 if i % 2 == 0 else -1]
    return lines


def survey(
    *,
    seed: int = 1,
    truth: xr.DataArray | None = None,
    box: tuple[float, float, float, float] = (2800.0, 1800.0, 3500.0, 2600.0),
    spacing_m: float = 50.0,
    cross_m: float = 150.0,
    visits: int = 3,
    hours_between: float = 33,
    every_s: float = 1.0,
    lag_s: float = 1.0,
    transducer_m: float = 0.4,
    tide_error_m: float = 0.2,
    tide_error: str = "wave",
    noise: tuple[float, float] = (0.1, 0.01),
    spikes: float = 0.02,
    doubles: float = 0.005,
    losses: float = 0.01,
    receiver_m: float = 1.0,
) -> Survey:
    """Sail a survey.

    Parameters
    ----------
    box, spacing_m, cross_m
        Where, in metres from the demo's south-west corner; distance between the lines, which run
        east and west across the scarp, and between the lines across them (0: none), sailed in the
        last visit.
    visits, hours_between
        The lines are shared out over visits at different stages of the tide.
    tide_error_m, tide_error
        "wave": of this amplitude with the tide's period, as a table for the wrong place has;
        "constant"; "scale": a share of the height above the mean, this great at its greatest.
    noise
        Metres, and share of the depth; added.  Threefold under way at speed.
    spikes, doubles, losses
        Shares of the soundings.  Double echoes and losses come in runs.
    """
    random = np.random.default_rng(seed)
    truth = true_bottom() if truth is None else truth
    parts = []
    for visit in range(visits):
        marks = parallel_lines(box, spacing_m * visits, across=True, first=spacing_m * visit)
        if cross_m and visit == visits - 1:
            marks += parallel_lines(box, cross_m, first=cross_m / 2)
        marks = [(box[0] - 700.0, box[1] - 500.0), *marks]
        parts.append(_sail(random, marks, visit * hours_between * 3600.0, every_s))
    seconds, east, north, fast = (np.concatenate([part[i] for part in parts]) for i in range(4))
    visit = np.repeat(np.arange(visits), [len(part[0]) for part in parts])
    hours = seconds / 3600.0

    echo_at = seconds - lag_s  # what is logged now was heard this long ago
    heard_east, heard_north = np.interp(echo_at, seconds, east), np.interp(echo_at, seconds, north)
    heard_tide = tide_height(echo_at / 3600.0)
    depth = _depth(truth, heard_east, heard_north)
    below = np.maximum(depth + heard_tide - transducer_m, 0.3)
    sigma = (noise[0] + noise[1] * below) * np.where(fast, 3.0, 1.0)
    measured = below + random.normal(0, 1, len(below)) * sigma
    kind = np.full(len(below), GOOD, "U12")
    _spoil(random, measured, below, kind, transducer_m, (spikes, doubles, losses))
    measured = np.round(measured, 2)

    tide = tide_height(hours)
    error = {
        "wave": tide_error_m * np.sin(2 * np.pi * hours / 12.42 + 0.8),
        "constant": np.full(len(hours), tide_error_m),
        "scale": tide_error_m * (tide - tide.mean()) / np.abs(tide - tide.mean()).max(),
    }[tide_error]
    true_here = _depth(truth, east, north)
    gps = np.column_stack([_wander(random, len(east), receiver_m) for _ in range(2)])
    return Survey(
        truth=truth, hours=hours, east=east + gps[:, 0], north=north + gps[:, 1], fast=fast,
        visit=visit, measured_m=measured, true_depth_m=true_here, tide_m=tide,
        tide_said_m=tide + error, noise_m=sigma, kind=kind, lag_s=lag_s, transducer_m=transducer_m,
    )  # fmt: skip


def _sail(random, marks, start_s, every_s):
    """From mark to mark at survey speed, the first leg at running speed."""
    seconds, east, north, fast = [], [], [], []
    now = start_s
    for leg, ends in enumerate(itertools.pairwise(marks)):
        a, b = (np.array(end) for end in ends)
        speed = 8.0 if leg == 0 else random.uniform(1.6, 3.0)
        length = float(np.hypot(*(b - a)))
        steps = max(2, int(length / speed / every_s))
        along = np.linspace(0, 1, steps, endpoint=False)
        side = np.array([b[1] - a[1], a[0] - b[0]]) / max(length, 1.0)
        weave = 3.0 * np.sin(along * length / 60.0 + random.uniform(0, 6))
        places = a + along[:, None] * (b - a) + weave[:, None] * side
        seconds.append(now + np.arange(steps) * every_s)
        east.append(places[:, 0])
        north.append(places[:, 1])
        fast.append(np.full(steps, speed > 4))
        now += steps * every_s
    return tuple(np.concatenate(part) for part in (seconds, east, north, fast))


def _depth(truth, east, north):
    lon, lat = TO_DEGREES.transform(WEST + east, SOUTH + north)
    return sample(truth, np.asarray(lon), np.asarray(lat))


def _spoil(random, measured, below, kind, transducer_m, shares):
    spikes, doubles, losses = shares
    count = len(measured)
    for start, length in _runs(random, count, losses, (3, 30)):
        run = slice(start, start + length)
        stuck = measured[max(start - 1, 0)]
        measured[run] = [0.0, np.nan, stuck][random.integers(3)]
        kind[run] = LOST
    for start, length in _runs(random, count, doubles, (1, 12)):
        run = np.arange(start, min(start + length, count))
        run = run[kind[run] == GOOD]
        # down, up to the surface, down and up again
        measured[run] = measured[run] * 2.0 + transducer_m
        kind[run] = DOUBLE
    hit = np.flatnonzero((random.random(count) < spikes) & (kind == GOOD))
    wrong = below[hit] * random.uniform(0.15, 3.0, len(hit))
    near = np.abs(wrong - below[hit]) < 1.5  # a spike that is within the noise is none
    wrong[near] = below[hit][near] + 1.5 + random.exponential(2.0, int(near.sum()))
    measured[hit] = wrong
    kind[hit] = SPIKE


def _runs(random, count, share, lengths):
    total = 0
    while total < share * count:
        length = int(random.integers(lengths[0], lengths[1] + 1))
        total += length
        yield int(random.integers(1, max(2, count - length))), length


def _wander(random, count, metres):
    """Slowly wandering error of a receiver, metres."""
    from scipy.signal import lfilter

    keep = np.exp(-1 / 60.0)
    steps = random.normal(0, np.sqrt(1 - keep**2), count)
    return metres * lfilter([1.0], [1.0, -keep], steps)


def write_nmea(sailed: Survey, path: Path, *, sounder: str = "DPT") -> Path:
    """Write a log as a plotter would: each second a position, and half a second later a depth."""
    lon, lat = sailed.degrees
    speed, course = sailed.motion()
    early = sailed.hours - 0.5 / 3600.0
    lon, lat = (np.interp(early, sailed.hours, values) for values in (lon, lat))
    stamps = pd.DatetimeIndex(sailed.time - np.timedelta64(500, "ms"))
    lines = []
    for i, time in enumerate(stamps):
        place = f"{_packed(lat[i], 2)},{'N' if lat[i] >= 0 else 'S'}"
        place += f",{_packed(lon[i], 3)},{'E' if lon[i] >= 0 else 'W'}"
        clock = f"{time:%H%M%S}.{time.microsecond // 10000:02d}"
        lines.append(
            sentence(
                f"GPRMC,{clock},A,{place},{speed[i] / 0.514444:.1f},{course[i]:.1f},"
                f"{time:%d%m%y},,,A"
            )
        )
        depth = sailed.measured_m[i]
        said = "" if np.isnan(depth) else f"{depth:.2f}"
        body = f"SDDPT,{said},0.0" if sounder == "DPT" else f"SDDBT,,f,{said},M,,F"
        lines.append(sentence(body))
    path.write_text("".join(lines), newline="")
    return path


def _packed(degrees: float, width: int) -> str:
    whole, minutes = divmod(round(abs(degrees) * 60, 6), 60)
    return f"{int(whole):0{width}d}{minutes:08.5f}"
